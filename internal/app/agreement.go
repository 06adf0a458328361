package app

import (
	"fmt"
	"strings"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/explain"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Agreement is the entry of job.yaml, or the record of a stored job, that keeps a route's bill as agreed by
// somebody on a day, with the value, rules, prices and steps that it rests on.
func (a *App) Agreement(c *Opened, r Assessment, route compare.Route, by string, on unit.Date) (string, error) {
	why := ""
	switch w := compare.WayOf(route); {
	case w.Bar != "":
		why = "it cannot be taken (" + w.Bar + ")"
	case !route.Bill.Complete || route.Plan.Finish.IsZero():
		why = "a price or a date is missing"
	}
	if why != "" {
		return "", &diag.Error{Kind: diag.Invalid, Op: "agree on a bill", Subject: "route " + route.ID, Msg: why + ", so there is nothing to agree on",
			Hint: "see what the plan says is missing"}
	}
	x := agreedOf(c, route)
	x.By, x.On, x.Reason = by, on, "First bill"
	if s, ok := compare.SupplementOf(r.Compare, route, c.Shop, c.Job); ok {
		x.Reason = fmt.Sprintf("Supplement %d", s.Number)
		if len(s.Findings) > 0 {
			x.Reason += " for " + explain.Joined(s.Findings)
		}
	}
	if c.Stored() {
		return string(job.EncodeRecord(x)), nil
	}
	return agreementText(x), nil
}

// agreedOf is a route's bill, and what it was reckoned with.
func agreedOf(c *Opened, route compare.Route) job.Agreed {
	money := func(m unit.Minor) unit.Money { return unit.Money{Minor: m, Currency: route.Bill.Currency} }
	x := job.Agreed{Number: len(c.Job.Agreed) + 1, Route: route.ID, Net: money(route.Bill.Net), Total: money(route.Bill.Total), Finish: route.Plan.Finish,
		Value: c.Job.Vehicle.Value, Salvage: c.Job.Vehicle.Salvage, Rules: c.Shop.TotalLoss}
	for _, l := range route.Bill.Lines {
		x.Lines = append(x.Lines, job.AgreedLine{ID: l.ID, Sum: money(l.Sum), Price: money(l.Price), Amount: l.Amount})
	}
	x.Work = cost.AgreedWork(route.Plan)
	for _, f := range c.Job.Findings {
		x.Findings = append(x.Findings, f.ID)
	}
	return x
}

// agreementText is the entry as it stands in job.yaml, a line for each of its lines, rules
// and steps.
func agreementText(x job.Agreed) string {
	var b strings.Builder
	if x.Number == 1 {
		b.WriteString("agreed:\n")
	}
	fmt.Fprintf(&b, "  - number: %d\n    route: %q\n    net: %s\n    total: %s\n    finish: %s\n    value: %s\n    salvage: %s\n", x.Number, x.Route, x.Net, x.Total, x.Finish, x.Value, x.Salvage)
	flowList(&b, "rules", x.Rules)
	flowList(&b, "lines", x.Lines)
	flowList(&b, "work", x.Work)
	if len(x.Findings) > 0 {
		fmt.Fprintf(&b, "    findings: [%s]\n", explain.Joined(x.Findings))
	}
	fmt.Fprintf(&b, "    by: %q\n    on: %s\n    reason: %q\n", x.By, x.On, x.Reason)
	return b.String()
}

func flowList[T any](b *strings.Builder, name string, items []T) {
	if len(items) == 0 {
		return
	}
	fmt.Fprintf(b, "    %s:\n", name)
	for _, x := range items {
		fmt.Fprintf(b, "      - %s\n", doc.FlowItem(x))
	}
}

// supplementText prints how a bill differs from the one that was agreed.
func supplementText(b *strings.Builder, col Column, s *cost.Supplement) {
	b.WriteString(col.Wrap(s.Because+".", "\nSince the agreed bill: ", "  "))
	for _, l := range s.Lines {
		fmt.Fprintf(b, "  %-20s %12s -> %12s  %12s  %s\n", l.ID, l.Was.Grouped(), l.Is.Grouped(), l.By().Grouped(), l.Text)
		if l.Why != "" {
			b.WriteString(col.Wrap(l.Why, "      ", "      "))
		}
	}
	for _, list := range []struct {
		word  string
		moved []cost.Moved
	}{{"falls away: ", s.Away}, {"is new: ", s.New}} {
		for _, m := range list.moved {
			b.WriteString(col.Wrap(explain.MovedWords(m), "  "+list.word, "      "))
		}
	}
}
