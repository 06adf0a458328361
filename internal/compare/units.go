package compare

import (
	"slices"
	"sort"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/doc"
	"fettle/internal/inspect"
	"fettle/internal/job"
)

// job unit: findings that are treated together, either one alone or a group of
// cracks that the procedure counts as one.
type ward struct {
	findings []job.FindingID
	casting  body.CastingID
	part     body.PartID
	kinds    []body.FindingKind // of its findings, each once
	options  []option           // joined over the members, mildest first
}

// option is one kind of treatment for all of a ward: no better than for the
// worst of its members.
type option struct {
	kind    body.TreatmentKind
	line    body.LineID
	verdict decide.Verdict
	because string
}

// wards joins the findings that count as one, in the order of their identity.
func wards(in Input) []ward {
	seen := map[job.FindingID]bool{}
	var out []ward
	groups := slices.Clone(in.Inspect.Groups)
	sort.Slice(groups, func(i, j int) bool { return groups[i].ID < groups[j].ID })
	for _, g := range groups {
		if len(g.Findings) < 2 {
			continue
		}
		var ids []job.FindingID
		for _, f := range g.Findings {
			if !seen[f] {
				seen[f] = true
				ids = append(ids, f)
			}
		}
		if len(ids) > 0 {
			out = append(out, newWard(in, ids))
		}
	}
	for _, f := range in.Decide.Findings {
		if !seen[f.ID] {
			seen[f.ID] = true
			out = append(out, newWard(in, []job.FindingID{f.ID}))
		}
	}
	for _, f := range in.Job.Findings { // a finding nobody decided is still there, and permits nothing
		if !seen[f.ID] {
			out = append(out, newWard(in, []job.FindingID{f.ID}))
		}
	}
	sort.Slice(out, func(i, j int) bool { return doc.Natural(string(out[i].findings[0]), string(out[j].findings[0])) < 0 })
	return out
}

func newWard(in Input, ids []job.FindingID) ward {
	ids = slices.Clone(ids)
	slices.SortFunc(ids, func(a, b job.FindingID) int { return doc.Natural(string(a), string(b)) })
	w := ward{findings: ids}
	for _, f := range in.Job.Findings {
		if f.ID == ids[0] {
			w.part = f.Part
		}
		if slices.Contains(ids, f.ID) && !slices.Contains(w.kinds, f.Kind) {
			w.kinds = append(w.kinds, f.Kind)
		}
	}
	w.casting = inspected(in, ids[0]).Casting
	w.options = joined(in, ids)
	return w
}

// inspected is what was found out about a finding; nothing where it was not looked at.
func inspected(in Input, id job.FindingID) inspect.Finding {
	for _, f := range in.Inspect.Findings {
		if f.ID == id {
			return f
		}
	}
	return inspect.Finding{}
}

func decided(in Input, id job.FindingID) decide.Finding {
	for _, f := range in.Decide.Findings {
		if f.ID == id {
			return f
		}
	}
	return decide.Finding{ID: id}
}

// caution orders verdicts from the one that permits to the one that refuses.
func caution(v decide.Verdict) int {
	switch v {
	case decide.Allowed:
		return 0
	case decide.Undecided:
		return 1
	case decide.Ask:
		return 2
	}
	return 3
}

// joined is every option of the members; where a member does not speak of a
// kind, the manufacturer has to be asked for it.
func joined(in Input, ids []job.FindingID) []option {
	type name struct {
		kind body.TreatmentKind
		line body.LineID
	}
	var names []name
	members := make([]map[name]decide.Option, len(ids))
	for i, id := range ids {
		members[i] = map[name]decide.Option{}
		for _, o := range decided(in, id).Options {
			n := name{o.Kind, o.Line}
			if !slices.Contains(names, n) {
				names = append(names, n)
			}
			if old, ok := members[i][n]; !ok || caution(o.Verdict) > caution(old.Verdict) {
				members[i][n] = o
			}
		}
	}
	var out []option
	for _, n := range names {
		o := option{kind: n.kind, line: n.line, verdict: decide.Allowed}
		for i := range ids {
			m := members[i][n] // the zero verdict is ask
			if caution(m.Verdict) > caution(o.verdict) || o.because == "" {
				o.because = m.Because
			}
			if caution(m.Verdict) > caution(o.verdict) {
				o.verdict = m.Verdict
			}
		}
		if why, ok := refused(in, ids, o); ok {
			o.verdict, o.because = decide.Forbidden, why
		}
		out = append(out, o)
	}
	sort.SliceStable(out, func(i, j int) bool {
		if a, b := mildness(out[i].kind), mildness(out[j].kind); a != b {
			return a < b
		}
		return out[i].line < out[j].line
	})
	return out
}

func mildness(k body.TreatmentKind) int { return slices.Index(body.TreatmentKinds(), k) }

// verdict is what may be done with the ward by this kind; false when nothing
// speaks of it.
func (w *ward) verdict(k body.TreatmentKind, line body.LineID) (option, bool) {
	for _, o := range w.options {
		if o.kind == k && o.line == line {
			return o, true
		}
	}
	return option{}, false
}
