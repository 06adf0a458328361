package explain

import (
	"fmt"

	"fettle/internal/compare"
	"fettle/internal/diag"
	"fettle/internal/report"
)

// addDone takes what was done so far against the plan of the route that is shown, down to
// the records.
func (n *Names) addDone() {
	said := report.DoneSays(n.In, n.ShownRoute())
	if len(said) == 0 {
		return
	}
	n.add("work so far", func() Reason {
		t := because(diag.Say("explain.work-so-far", "{sentence}", said[0]), each("explain.work-says", "{sentence}", said[1:])...)
		for _, w := range n.all {
			if w.kind == kindRecord {
				t.Under = append(t.Under, w.reason())
			}
		}
		return t
	}, "work so far", "Done so far, against the plan")
}

// addSupplement takes how the bill differs from the one that was agreed, down to the entry
// that keeps it and to the lines.
func (n *Names) addSupplement() {
	s, ok := compare.SupplementOf(n.In.Compare, n.ShownRoute(), n.In.Shop, n.In.Job)
	if !ok {
		return
	}
	n.add("supplement", func() Reason {
		p := n.In.Job.Problem(fmt.Sprintf("agreed[%d]", s.Against-1), "", "")
		t := because(diag.Say("explain.supplement", "{because}.", s.Because), Reason{Said: diag.Say("explain.supplement-against", "Against bill {bill}, of route {route}: {agreed}", s.Against, s.Before, diag.Paid(s.Agreed, n.In.Shop.Currency)), At: fileLine(p.File, p.Line)})
		for _, l := range s.Lines {
			line := because(diag.Say("explain.supplement-line", "{line} {name}: {is} instead of {was}, a difference of {by}", l.ID, l.Text, diag.Paid(l.Is, n.In.Shop.Currency), diag.Paid(l.Was, n.In.Shop.Currency), diag.Paid(l.By(), n.In.Shop.Currency)))
			if l.Why != "" {
				line.Under = append(line.Under, because(diag.Say("explain.supplement-line-why", "{sentence}", l.Why)))
			}
			t.Under = append(t.Under, line)
		}
		for _, m := range s.Away {
			t.Under = append(t.Under, because(diag.Say("explain.supplement-away", "Falls away: {what}", MovedWords(m))))
		}
		for _, m := range s.New {
			t.Under = append(t.Under, because(diag.Say("explain.supplement-new", "Is new: {what}", MovedWords(m))))
		}
		for _, w := range n.all {
			for _, f := range w.fields {
				if w.kind == kindJob && (f.name == "vehicle.value" || f.name == "vehicle.salvage") {
					t.Under = append(t.Under, Reason{Said: diag.Say("explain.against", "Against {field}: {value}", f.name, f.text), At: f.at})
				}
			}
		}
		return t
	}, fmt.Sprintf("supplement %d", s.Number), "supplement", fmt.Sprintf("Supplement %d to bill %d", s.Number, s.Against))
}
