package plan

import (
	"slices"
	"time"

	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// PlanOf is what is left of a job's plan, with the times, people, bays and moves that the
// week gives it. A step that the week gives no time, and that is not on record as done,
// keeps its place at the end and has none.
func (w Week) PlanOf(of Plan, j *job.State, sh *shop.Shop) Plan {
	out := of
	out.Steps, out.Start, out.Finish, out.WorkMin = nil, unit.Date{}, unit.Date{}, 0
	dated := map[string]bool{}
	done, _ := progress(of, j, sh, w.From)
	for _, s := range w.Steps {
		if s.Job != j.ID {
			continue
		}
		step := Step{ID: s.Step, Name: s.Name, Move: s.Move, Minutes: s.To.Sub(s.From).Minutes()}
		if i := slices.IndexFunc(of.Steps, func(o Step) bool { return o.ID == s.Step }); i >= 0 {
			step = of.Steps[i]
		}
		dated[s.Step] = true
		step.Person, step.BayID, step.At, step.From, step.To = s.Person, s.Bay, s.At, s.From, s.To
		out.Steps = append(out.Steps, step)
	}
	for _, s := range of.Steps {
		a, begun := done[s.ID]
		if s.Move == nil && !dated[s.ID] && (!begun || a.Going) {
			s.Person, s.BayID, s.At, s.From, s.To = "", "", "", time.Time{}, time.Time{}
			out.Steps = append(out.Steps, s)
		}
	}
	for _, s := range out.Steps {
		out.WorkMin += s.Minutes
		if s.From.IsZero() {
			continue
		}
		if from := unit.DateOf(s.From); out.Start.IsZero() || from.Before(out.Start) {
			out.Start = from
		}
		if to := unit.DateOf(s.To); out.Finish.Before(to) {
			out.Finish = to
		}
	}
	return out
}
