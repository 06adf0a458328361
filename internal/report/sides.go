package report

import (
	"fmt"

	"fettle/internal/measure"
	"fettle/internal/unit"
)

// SidesText is the comparison of the two sides of a vehicle without published places, for a
// terminal of the given width.
func SidesText(s measure.Sides, width int) string {
	t := &textPage{width: width}
	t.para("Left against right only: there are no published places. Nothing here says that a point has not moved: damage that is alike on both sides looks like none, and a body built unlike on its sides like damage.")
	if len(s.Pairs) > 0 {
		const layout = "%-22s %9s  %-15s %9s %14s %9s  %s\n"
		fmt.Fprintf(&t.b, "\n"+layout, "one side", "mm", "the other", "mm", "diff. ± k=2", "shows", "")
		fmt.Fprintf(&t.b, layout, "", "", "", "", "mm", "from mm", "")
		open, differ := map[string][]string{}, []string(nil)
		var reasons []string
		for _, p := range s.Pairs {
			what := fmt.Sprintf("%s %s-%s", p.One.Kind, p.One.From, p.One.To)
			diff, shows := unit.Signed(p.DiffMM), "-"
			if p.StdMM > 0 {
				diff, shows = diff+" ± "+unit.Fixed(expanded(p.StdMM), 1), unit.Fixed(p.Detectable, 1)
			}
			fmt.Fprintf(&t.b, layout, what, unit.Fixed(p.One.MeasuredMM, 1), fmt.Sprintf("%s-%s", p.Other.From, p.Other.To), unit.Fixed(p.Other.MeasuredMM, 1), diff, shows, p.Verdict)
			switch p.Verdict {
			case measure.SidesOpen:
				if open[p.Because] == nil {
					reasons = append(reasons, p.Because)
				}
				open[p.Because] = append(open[p.Because], what)
			case measure.SidesDiffer:
				differ = append(differ, what)
			}
		}
		if len(differ) > 0 {
			t.para("Differ: one side has moved, or was built unlike the other: " + list(differ, 12) + ".")
		}
		for _, why := range reasons {
			t.para("Cannot be said, " + why + ": " + list(open[why], 12) + ".")
		}
	}
	var alone []string
	for _, l := range s.Alone {
		alone = append(alone, fmt.Sprintf("%s %s-%s (%s mm)", l.Kind, l.From, l.To, unit.Fixed(l.MeasuredMM, 1)))
	}
	if len(alone) > 0 {
		t.list("Without a mirror image to compare", []string{list(alone, 24) + "."})
	}
	t.list("Lengths that do not agree", disagreeing(measure.Result{Disagree: s.Disagree}))
	var notes []string
	for _, n := range s.Notes {
		notes = append(notes, fmt.Sprintf("%s: %s: %s", n.Severity, n.Where, n.Text))
	}
	t.list("Notes", notes)
	return t.b.String()
}
