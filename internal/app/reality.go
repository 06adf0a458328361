package app

import (
	"fmt"
	"strings"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// supplementNotes tells how the route differs from the bill that was agreed
// last. One that has become a total loss blocks.
func (a *App) supplementNotes(c *Case, r Assessment) []diag.Note {
	route, err := a.Picked(c, r, "")
	if err != nil { // no route: nothing to hold against the bill, and that blocks already
		return nil
	}
	s, ok := cost.SupplementOf(route.ID, route.Bill, route.Plan.Finish, c.Shop, c.Job)
	if !ok {
		return nil
	}
	n := diag.Note{Code: "cost.supplement", Severity: diag.Caution, Where: "bill", Text: s.Because, Hint: "agree it before work goes on: fettle plan JOB"}
	if s.Is && !s.Was {
		n.Code, n.Severity = "cost.supplement-total-loss", diag.Blocking
	}
	return []diag.Note{n}
}

// Agreement is the entry of job.yaml that keeps a route's bill as agreed by
// somebody on a day.
func (a *App) Agreement(c *Case, route compare.Route, by string, on unit.Date) (string, error) {
	if !route.Bill.Complete || route.Plan.Finish.IsZero() {
		return "", &diag.Error{Kind: diag.Invalid, Op: "agree on a bill", Subject: "route " + route.ID, Msg: "a price or a date is missing, so there is nothing to agree on",
			Hint: "see what the plan says is missing"}
	}
	cur := route.Bill.Currency
	var b strings.Builder
	n := len(c.Job.Agreed) + 1
	if n == 1 {
		b.WriteString("agreed:\n")
	}
	fmt.Fprintf(&b, "  - number: %d\n    route: %q\n    net: %s %s\n    total: %s %s\n    finish: %s\n    lines:\n", n, route.ID,
		route.Bill.Net.Decimal(), cur, route.Bill.Total.Decimal(), cur, route.Plan.Finish)
	for _, l := range route.Bill.Lines {
		fmt.Fprintf(&b, "      - {id: %s, sum: %s %s}\n", l.ID, l.Sum.Decimal(), cur)
	}
	reason := "First bill"
	if s, ok := cost.SupplementOf(route.ID, route.Bill, route.Plan.Finish, c.Shop, c.Job); ok {
		reason = fmt.Sprintf("Supplement %d", s.Number)
		if len(s.Findings) > 0 {
			reason += " for " + joined(s.Findings)
		}
	}
	fmt.Fprintf(&b, "    by: %q\n    on: %s\n    reason: %q\n", by, on, reason)
	return b.String(), nil
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
