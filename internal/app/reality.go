package app

import (
	"fmt"
	"strings"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/diag"
)

// supplementNotes tells how the route differs from the bill that was agreed
// last. One that has become a total loss blocks, and one without a bill.
func (a *App) supplementNotes(c *Case, r Assessment) []diag.Note {
	route, err := a.Picked(c, r, "")
	if err != nil {
		route = compare.Route{} // no route can be taken, and so there is no bill
	}
	s, ok := compare.SupplementOf(r.Compare, route, c.Shop, c.Job)
	if !ok {
		return nil
	}
	n := diag.Note{Code: "cost.supplement", Severity: diag.Caution, Where: "bill", Text: s.Because, Hint: "agree it before work goes on: fettle plan JOB"}
	switch {
	case s.NoBill != "":
		n.Code, n.Severity, n.Hint = "cost.supplement-no-bill", diag.Blocking, "choose a route that is possible, and agree its bill: fettle plan JOB --route ID"
	case s.BecameLoss():
		n.Code, n.Severity = "cost.supplement-total-loss", diag.Blocking
	}
	return []diag.Note{n}
}

// History sums up what steps took over several jobs, by shop and by the name of
// the step.
func (a *App) History(jobs []string) ([]cost.History, error) {
	out, _, err := a.history(jobs)
	return out, err
}

// HistoryText prints it.
func HistoryText(h []cost.History) string {
	if len(h) == 0 {
		return "Nothing was recorded in these jobs.\n"
	}
	var b strings.Builder
	shop := ""
	for _, x := range h {
		if x.Shop != shop {
			shop = x.Shop
			fmt.Fprintf(&b, "%s\n%5s %8s %8s %16s  %s\n", shop, "times", "planned", "median", "middle half", "step")
		}
		fmt.Fprintf(&b, "%5d %8.0f %8.0f %7.0f to %5.0f  %s\n", x.Count, x.Planned, x.Median, x.Low, x.High, x.Step)
	}
	b.WriteString("Minutes. They are shown and never applied: change the data if you trust them.\n")
	return b.String()
}
