package app

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fettle/internal/assess"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// unsoundWork names the records of work that do not count, and the figures and proofs that
// belong to it and do not stand, with their places.
func (a *App) unsoundWork(w *halt.Work, c *Opened, on unit.Date) diag.Problems {
	if len(c.Job.Actuals)+len(c.Job.Figures)+len(c.Job.Records) == 0 {
		return nil
	}
	r := a.assessOpened(w, c, time.Date(on.Year, on.Month, on.Day, 0, 0, 0, 0, time.UTC))
	var problems diag.Problems
	tell := func(list string, at int, f job.WorkFault, what string) {
		problems = append(problems, c.Job.Problem(fmt.Sprintf("%s[%d].%s", list, at, f.Field), what+f.Text, f.Hint))
	}
	for _, f := range assess.WorkFaults(c.of(r), r.Result) {
		tell("actuals", f.At, f, "the record does not count: ")
	}
	for i, x := range c.Job.Figures {
		for _, f := range c.Job.ActFaults(job.Act{By: x.By, On: x.On}, c.Shop, on) {
			tell("figures", i, f, "the figure does not count: ")
		}
		a.unplacedStep(c, r, x.Step, x.Finding, func(f job.WorkFault) { tell("figures", i, f, "the figure does not count: ") })
	}
	for i, x := range c.Job.Records {
		for _, f := range c.Job.ActFaults(job.Act{By: x.By, On: x.On}, c.Shop, on) {
			tell("records", i, f, "the record does not count: ")
		}
		if x.Step != "" {
			a.unplacedStep(c, r, x.Step, x.Finding, func(f job.WorkFault) { tell("records", i, f, "the record does not count: ") })
		}
	}
	return located(problems, c.From)
}

// unplacedStep tells that no step of any route is the one that a figure or hold point is of.
func (a *App) unplacedStep(c *Opened, r Assessment, step string, finding job.FindingID, tell func(job.WorkFault)) {
	var all []string
	for _, route := range r.Compare.Routes {
		steps := route.Plan.WorkSteps()
		if len(job.About(steps, job.Actual{Step: step, Finding: finding})) > 0 {
			return
		}
		for _, s := range steps {
			all = append(all, s.Name)
		}
	}
	if slices.ContainsFunc(c.Job.Actuals, func(x job.Actual) bool { return x.Unplanned != "" && strings.EqualFold(x.Step, step) }) {
		return // of work that no plan has
	}
	tell(job.WorkFault{Field: "step", Text: fmt.Sprintf("no step of any route is called %q%s", step, ofFinding(finding)), Hint: doc.DidYouMean(step, all)})
}

func ofFinding(id job.FindingID) string {
	if id == "" {
		return ""
	}
	return " and is for " + string(id)
}
