package compare

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// Uncured is what no route can treat: nothing that may be used, and that the body has, puts it
// right. It is asked, unless the manufacturer forbade everything.
type Uncured struct {
	Findings []job.FindingID    `json:"findings"`
	Part     body.PartID        `json:"part"`
	Kinds    []body.FindingKind `json:"kinds"`
	Because  string             `json:"because"`
	Ask      bool               `json:"ask"`
}

// uncured is what every candidate refuses; each of those then waits for an answer on it.
func (f *finder) uncured(cands []candidate) []Uncured {
	var out []Uncured
	for k := range f.wards {
		w := &f.wards[k]
		if slices.ContainsFunc(cands, func(c candidate) bool { return !slices.Contains(c.refused, w.findings[0]) }) {
			continue
		}
		_, why := f.own(w, nil)
		u := Uncured{Findings: w.findings, Part: w.part, Kinds: w.kinds, Because: why}
		u.Ask = slices.ContainsFunc(w.findings, func(id job.FindingID) bool { return decided(f.in, id).Verdict != decide.Forbidden })
		for i := range cands {
			if u.Ask {
				cands[i].ask = append(cands[i].ask, without(names(w.findings), cands[i].ask)...)
			}
		}
		out = append(out, u)
	}
	return out
}

// note tells of what no route can treat.
func (u Uncured) note() diag.Note {
	n := u.said().Note(diag.Note{Severity: diag.Blocking, Where: string(u.Findings[0])})
	if u.Ask {
		n.Hint, n.Remedy = "ask the manufacturer which treatment does, and write it under 'treatments' of the body", diag.Do(job.ToAsk, "about", string(u.Findings[0]))
	}
	return n
}

func (u Uncured) said() diag.Said {
	return diag.Say("compare.no-cure", "no route treats {findings} ({kinds}, {part}): {because}", list(names(u.Findings)), list(u.Kinds), u.Part, u.Because)
}

// AskLines is what a question about a finding has to name beside what the rows say: data without
// which nobody knows how parts come off, and that no treatment at hand puts it right.
func AskLines(r Result, id job.FindingID) []string {
	var out []string
	add := func(line string) {
		if !slices.Contains(out, line) {
			out = append(out, line)
		}
	}
	for _, u := range r.Uncured {
		if u.Ask && slices.Contains(u.Findings, id) {
			add("The treatments that we hold do not put it right: " + u.Because + ".")
		}
	}
	for _, x := range r.Routes {
		for _, g := range x.Plan.Gaps {
			switch {
			case !slices.Contains(g.For, id):
			case len(g.To) > 0:
				add(fmt.Sprintf("To repair it we have to reach %s on %s (%s). We do not know, and ask for: what has to come off before.", list(g.To), g.Name, g.Part))
			default:
				add(fmt.Sprintf("To repair it %s (%s) comes off. We do not know, and ask for: %s.", g.Name, g.Part, list(g.Lacks)))
			}
		}
	}
	return out
}
