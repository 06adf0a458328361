package app

import (
	"fmt"
	"slices"
	"time"

	"fettle/internal/compare"
	"fettle/internal/diag"
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

// unsoundWork names the records of work that do not count, with their places.
func (a *App) unsoundWork(c *Case, on unit.Date) diag.Problems {
	if len(c.Job.Actuals) == 0 {
		return nil
	}
	r := a.AssessOpened(c, time.Date(on.Year, on.Month, on.Day, 0, 0, 0, 0, time.UTC), nil)
	var problems diag.Problems
	for _, f := range a.workFaults(c, r) {
		problems = append(problems, c.Job.Problem(fmt.Sprintf("actuals[%d].%s", f.At, f.Field), "the record does not count: "+f.Text, f.Hint))
	}
	return located(problems, c.Dir)
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
