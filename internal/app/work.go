package app

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fettle/internal/compare"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// workFaults is why records of work do not count. What another route has a step for is
// judged by that one: it was done for it.
func (a *App) workFaults(c *Case, r Assessment) []job.WorkFault {
	if len(c.Job.Actuals) == 0 {
		return nil
	}
	today := unit.DateOf(r.Made)
	taken, err := a.Picked(c, r, "")
	if err != nil {
		taken = compare.Route{} // no route is taken: what fits none is told all the same
	}
	out := c.Job.Work(taken.Plan.WorkSteps(), c.Shop, today).Faults
	for _, o := range compare.Ways(r.Compare, c.Job, taken.ID) {
		there := c.Job.Work(o.Plan.WorkSteps(), c.Shop, today).Faults
		stray := func(at int) func(job.WorkFault) bool {
			return func(f job.WorkFault) bool { return f.At == at && f.Kind == job.WorkNoStep }
		}
		fits := func(f job.WorkFault) bool {
			return slices.ContainsFunc(out, stray(f.At)) && !slices.ContainsFunc(there, stray(f.At))
		}
		var judged []job.WorkFault
		for _, f := range there {
			if fits(f) {
				judged = append(judged, f)
			}
		}
		out = append(slices.DeleteFunc(slices.Clone(out), fits), judged...)
	}
	return out
}

// unsoundWork names the records of work that do not count, and the figures and proofs that
// belong to it and do not stand, with their places.
func (a *App) unsoundWork(c *Case, on unit.Date) diag.Problems {
	if len(c.Job.Actuals)+len(c.Job.Figures)+len(c.Job.Records) == 0 {
		return nil
	}
	r := a.AssessOpened(c, time.Date(on.Year, on.Month, on.Day, 0, 0, 0, 0, time.UTC), nil)
	var problems diag.Problems
	tell := func(list string, at int, f job.WorkFault, what string) {
		problems = append(problems, c.Job.Problem(fmt.Sprintf("%s[%d].%s", list, at, f.Field), what+f.Text, f.Hint))
	}
	for _, f := range a.workFaults(c, r) {
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
	return located(problems, c.Dir)
}

// unplacedStep tells that no step of any route is the one that a figure or hold point is of.
func (a *App) unplacedStep(c *Case, r Assessment, step string, finding job.FindingID, tell func(job.WorkFault)) {
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

// workNotes tells of records of work that nothing rests on.
func (a *App) workNotes(c *Case, r Assessment) []diag.Note {
	var out []diag.Note
	for _, f := range a.workFaults(c, r) {
		x := c.Job.Actuals[f.At]
		out = append(out, diag.Note{Code: "work.unsound", Severity: diag.Caution, Where: x.Step,
			Text: fmt.Sprintf("the record of %q of %s does not count, and nothing rests on it: %s", x.Step, x.On, f.Text), Hint: f.Hint})
	}
	return out
}

// begun says that any work on record counts.
func begun(c *Case, r Assessment) bool {
	today := unit.DateOf(r.Made)
	for _, route := range r.Compare.Routes {
		w := c.Job.Work(route.Plan.WorkSteps(), c.Shop, today)
		if len(w.Beyond) > 0 || slices.ContainsFunc(w.Steps, func(d job.Doings) bool { return len(d) > 0 }) {
			return true
		}
	}
	return false
}
