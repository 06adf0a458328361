package decide

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/doc"
)

// OptionName is a treatment in words, with the line it cuts along.
func OptionName(k body.TreatmentKind, l body.LineID) string {
	return KindText(Option{Kind: k, Line: l})
}

// InspectedBy is everything of a procedure that inspect looks at, as text: all of it
// but what names the revision, and what only the table and the release look at. Of
// the rows inspect looks at the distances that are held against a limit. What was
// found out about a job under one revision holds under every other with the same
// text, but for the names of the revision.
func InspectedBy(p body.Procedure) string {
	limits := clearanceLimits(p)
	none := body.Procedure{}
	p.Format, p.ID, p.Title, p.Revision, p.Source, p.Supersedes = "", "", "", "", "", ""
	p.Issued, p.Effective, p.Recheck = none.Issued, none.Effective, none.Recheck
	p.Rows, p.Tests, p.Levels, p.Acceptance = nil, nil, nil, nil
	return string(doc.EncodeYAML(p)) + strings.Join(limits, "\n")
}

// clearanceLimits is every condition on a distance, in the order of the rows:
// inspect looks more closely where a limit asks for it.
func clearanceLimits(p body.Procedure) []string {
	var out []string
	for _, r := range p.Rows {
		for _, d := range body.FactDefs() {
			if c, ok := r.When[d.Name]; ok && d.Distance {
				out = append(out, d.Name+" "+c)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func WhenText(when map[string]string) string {
	var parts []string
	for _, n := range doc.Keys(when) {
		parts = append(parts, body.Fact(n).BeforeValue()+" "+when[n])
	}
	if len(parts) == 0 {
		return "anything"
	}
	return strings.Join(parts, ", ")
}

func AfterText(after []body.After) string {
	if len(after) == 0 {
		return ""
	}
	return "; afterwards: " + strings.Join(afterTexts(after), "; ")
}

func afterTexts(after []body.After) []string {
	out := make([]string, len(after))
	for i, a := range after {
		out[i] = a.String()
	}
	return out
}

// MissingFrom is the items of a that b has not.
func MissingFrom[T comparable](a, b []T) []T {
	var out []T
	for _, x := range a {
		if !slices.Contains(b, x) {
			out = append(out, x)
		}
	}
	return out
}
