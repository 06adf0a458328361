package plan

import (
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// WorkSteps is the steps of a plan as records of work are held against them.
func (p Plan) WorkSteps() []job.WorkStep {
	out := make([]job.WorkStep, len(p.Steps))
	for i, s := range p.Steps {
		out[i] = job.WorkStep{Ref: s.Ref, Name: s.Name, For: s.For, Skill: s.Skill}
	}
	return out
}

// progress is how each step of a plan stands by the records of work that count on a
// day, and why others do not count.
func progress(p Plan, j *job.State, sh *shop.Shop, today unit.Date) (map[string]job.Actual, []job.WorkFault) {
	work := j.Work(p.WorkSteps(), sh, today)
	out := map[string]job.Actual{}
	for k, d := range work.Steps {
		if len(d) > 0 {
			out[p.Steps[k].ID] = d[len(d)-1].Last
		}
	}
	openedByRefit(p, out)
	moved(p, out)
	return out, work.Faults
}

// DoneSteps is the steps of a plan that are done by what counts: those on record as done, what
// opened the way to a part that is back on, and moves before what is on record.
func DoneSteps(p Plan, j *job.State, sh *shop.Shop, today unit.Date) map[string]bool {
	seen, _ := progress(p, j, sh, today)
	out := map[string]bool{}
	for id, a := range seen {
		out[id] = !a.Going
	}
	return out
}

// touched is the last record about each step up to a day, whether it counts or not: that
// somebody worked there is believed of anybody.
func touched(p Plan, j *job.State, today unit.Date) map[string]job.Actual {
	steps, out := p.WorkSteps(), map[string]job.Actual{}
	for _, a := range j.Actuals {
		if about := job.About(steps, a); len(about) == 1 && !today.Before(a.On) {
			out[p.Steps[about[0]].ID] = a
		}
	}
	return out
}

// mostUnsound is how many records that do not count a schedule names; it says how many
// others there are.
const mostUnsound = 5

// unsound tells of records of work that the schedule does not rest on.
func (w *week) unsound(in *InShop, faults []job.WorkFault) {
	for k, f := range faults {
		n := diag.Note{Severity: diag.Caution, Where: in.Job.ID, Hint: "enter it as it was; checking the job says all that is wrong with it", Remedy: diag.Do(job.ToCheck)}
		if left := len(faults) - k; k == mostUnsound && left > 1 {
			w.notes = append(w.notes, diag.Say("week.work-unsound", "{job}: {more} more faults of records of work", in.Job.ID, left).Note(n))
			return
		}
		w.notes = append(w.notes, diag.Say("week.work-unsound", "{job}: the record of {step:q} of {on} does not count, and the schedule does not rest on it: {why}", in.Job.ID, in.Job.Actuals[f.At].Step, in.Job.Actuals[f.At].On, f.Text).Note(n))
	}
}
