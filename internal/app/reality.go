package app

import (
	"fettle/internal/compare"
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
