package assess

import (
	"slices"

	"fettle/internal/compare"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// WorkFaults is why records of work do not count. What another route has a step for is
// judged by that one: it was done for it.
func WorkFaults(in Input, r Result) []job.WorkFault {
	if len(in.Job.Actuals) == 0 {
		return nil
	}
	today := in.Today
	taken := goneBy(in, r)
	out := in.Job.Work(taken.Plan.WorkSteps(), in.Shop, today).Faults
	for _, o := range compare.Ways(r.Compare, in.Job, taken.ID) {
		there := in.Job.Work(o.Plan.WorkSteps(), in.Shop, today).Faults
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

// workNotes tells of records of work that nothing rests on.
func workNotes(in Input, r Result) []diag.Note {
	var out []diag.Note
	for _, f := range WorkFaults(in, r) {
		x := in.Job.Actuals[f.At]
		out = append(out, diag.Say("work.unsound", "the record of {step:q} of {on} does not count, and nothing rests on it: {why}", x.Step, x.On, f.Text).Note(diag.Note{Severity: diag.Caution, Where: x.Step, Hint: f.Hint}))
	}
	return out
}

// begun says that any work on record counts.
func begun(in Input, r Result) bool {
	today := in.Today
	for _, route := range r.Compare.Routes {
		w := in.Job.Work(route.Plan.WorkSteps(), in.Shop, today)
		if len(w.Beyond) > 0 || slices.ContainsFunc(w.Steps, func(d job.Doings) bool { return len(d) > 0 }) {
			return true
		}
	}
	return false
}

// pastStart tells when the work was to begin before today and none of it is on record: then
// the plan lies in the past.
func pastStart(j *job.State, today unit.Date, begun bool) []diag.Note {
	start := j.Start
	if start.IsZero() || !start.Before(today) || begun {
		return nil
	}
	hint := "record what is done"
	if j.Written() {
		hint = "give the day it starts (" + j.Place("start") + "), or " + hint
	}
	days := int(today.Time().Sub(start.Time()).Hours() / 24)
	return []diag.Note{diag.Say("plan.start-past", "the work was to start on {start}, {days} ago, and none of it is on record: the days of the plan lie in the past", start, diag.Counted(days, "day")).
		Note(diag.Note{Severity: diag.Caution, Where: "job", Hint: hint})}
}

// supplementNotes tells how the route differs from the bill that was agreed
// last. One that has become a total loss blocks, and one without a bill.
func supplementNotes(in Input, r Result) []diag.Note {
	s, ok := compare.SupplementOf(r.Compare, goneBy(in, r), in.Shop, in.Job)
	if !ok {
		return nil
	}
	said := diag.Say("cost.supplement", "{because}", s.Because)
	n := diag.Note{Severity: diag.Caution, Where: "bill", Hint: "agree it before work goes on", Remedy: diag.Do(job.ToPlan)}
	switch {
	case s.NoBill != "":
		said, n.Severity = diag.Say("cost.supplement-no-bill", "{because}", s.Because), diag.Blocking
		n.Hint, n.Remedy = "choose a route that is possible, and agree its bill", diag.Do(job.ToPlan, "route", "ID")
	case s.BecameLoss():
		said, n.Severity = diag.Say("cost.supplement-total-loss", "{because}", s.Because), diag.Blocking
	}
	return []diag.Note{said.Note(n)}
}
