package release

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
)

// faultMemories wants the fault memories read where a step of the plan reads them, and again after
// the repair where they were read before it. What stands in the last reading keeps the vehicle
// here, unless somebody who may says why it is harmless.
func (r *gate) faultMemories() {
	before, read := r.in.Job.LastFaults(body.FaultsBefore)
	after, again := r.in.Job.LastFaults(body.FaultsAfter)
	first, last := r.reads(body.FaultsBefore), r.reads(body.FaultsAfter)
	switch {
	case read:
		r.faultsBefore(before)
	case first != nil:
		r.wanting(Missing{Text: fmt.Sprintf("no reading of the fault memories before the repair is on record, and \"%s\" is one", first.Name), Hint: "enter what stood in them ('fault_readings' in the job)"}, faultsWanted(body.FaultsBefore))
	}
	switch {
	case again:
		r.faultsAfter(after, last)
	case last != nil:
		r.wanting(Missing{Text: fmt.Sprintf("no reading of the fault memories after the repair is on record, and \"%s\" is one", last.Name), Hint: "read them, and enter what stands in them ('fault_readings' in the job)"}, faultsWanted(body.FaultsAfter))
		return
	case read || first != nil:
		r.wanting(Missing{Text: "the fault memories were read before the repair, and not after it", Hint: "read them, and enter what stands in them ('fault_readings' in the job)"}, faultsWanted(body.FaultsAfter))
		return
	}
	for _, s := range before.Systems {
		if read && again && !slices.Contains(after.Systems, s) {
			r.wanting(Missing{Where: after.ID, Text: fmt.Sprintf("the fault memory of %s was read before the repair (%s), and not in the last reading (%s)", s, before.ID, after.ID), Hint: "read all of them again, and enter a reading with all systems"}, faultsWanted(body.FaultsAfter))
		}
	}
}

// reads is the step of the plan in which the fault memories are read; nil: there is none.
func (r *gate) reads(stage body.FaultStage) *PlannedStep {
	i := slices.IndexFunc(r.in.Steps, func(s PlannedStep) bool { return s.Faults == stage })
	if i < 0 {
		return nil
	}
	return &r.in.Steps[i]
}

// faultsBefore: the first reading says nothing of the vehicle as it came when it was repaired by then.
func (r *gate) faultsBefore(x job.FaultReading) {
	what := "the reading of the fault memories before the repair (" + x.ID + ")"
	r.stands(x.ID, what, job.Act{By: x.By, On: x.On, At: x.At}, "enter it as it was")
	for _, s := range r.in.Steps {
		if a, ok := r.done[s.ID]; ok && s.Treats && !s.Prepares && a.On.Before(x.On) {
			r.missing(x.ID, fmt.Sprintf("%s does not count: it is of %s, and \"%s\" was done on %s", what, x.On, s.Name, a.On), "say in an entry of the stage 'after' what stands in them now", "")
			return
		}
	}
}

// faultsAfter: the last reading comes after the work before it, and nothing stands in it.
func (r *gate) faultsAfter(x job.FaultReading, step *PlannedStep) {
	var after []job.Mark
	for _, s := range r.in.Steps {
		if step != nil && (s.ID == step.ID || !r.leadsTo(s, *step)) {
			continue
		}
		if a, ok := r.done[s.ID]; ok && !a.Going {
			after = append(after, job.Mark{On: a.On, At: a.Ended, What: "\"" + s.Name + "\" was done"})
		}
	}
	what := "the last reading of the fault memories (" + x.ID + ")"
	r.stands(x.ID, what, job.Act{By: x.By, On: x.On, At: x.At, After: lastOf(after)}, "read them again")
	for _, f := range r.in.Job.StandingFaults(x, r.in.Shop, r.in.Today) {
		text := what + " has " + f.Words()
		if f.Why != "" {
			text += "; that it is harmless does not count: " + f.Why
		}
		r.wanting(Missing{Where: x.ID, Text: text, Hint: "put right what it tells of and read again; or have somebody who may inspect say why the vehicle may go with it ('harmless')"}, Wanted{Entry: WantHarmless, About: x.ID, What: f.System + ": " + f.Code, Must: "why the vehicle may be handed over with it, by somebody who may inspect"})
	}
}

// leadsTo says that a step comes before another one of the plan.
func (r *gate) leadsTo(s, to PlannedStep) bool {
	seen := map[string]bool{}
	var walk func(ids []string) bool
	walk = func(ids []string) bool {
		for _, id := range ids {
			if id == s.ID {
				return true
			}
			i := slices.IndexFunc(r.in.Steps, func(o PlannedStep) bool { return o.ID == id })
			if i < 0 || seen[id] {
				continue
			}
			seen[id] = true
			if walk(r.in.Steps[i].After) {
				return true
			}
		}
		return false
	}
	return walk(to.After)
}

func faultsWanted(stage body.FaultStage) Wanted {
	return Wanted{Entry: WantFaults, About: string(stage), Must: "every system that was read, with its codes or 'none', as 'airbag: none; radar: C1A67 not aligned; radar: U0415'"}
}

// undone wants what was drained, evacuated, disconnected or disarmed to be put back, also where the
// plan of today does not have that any more: the work was done for another one.
func (r *gate) undone() {
	for _, t := range r.in.Body.Tasks {
		d, ok := r.onRecord(t)
		if !ok || slices.ContainsFunc(r.in.Steps, func(s PlannedStep) bool { return s.Ref == "task "+string(t.ID) }) {
			continue
		}
		for _, id := range t.UndoneBy {
			u, known := r.in.Body.Task(id)
			back, ok := r.onRecord(u)
			if known && ok && !back.Going && !back.On.Before(d.On) && !laterOnDay(d, back) {
				continue
			}
			r.missing("", fmt.Sprintf("\"%s\" was done on %s, the plan does not have it, and that \"%s\" was done after it is not on record", t.Step.Name, d.On, u.Step.Name),
				"do it, and enter it as work that no step of the plan has ('unplanned')", t.Cite)
		}
	}
}

// laterOnDay says that both are of one day, and the first is known to be the later.
func laterOnDay(a, b job.Actual) bool {
	return a.On == b.On && a.Ended != "" && b.Ended != "" && b.Ended < a.Ended
}

// onRecord is the last entry about a task, whether the plan has it or not.
func (r *gate) onRecord(t body.Task) (job.Actual, bool) {
	var out job.Actual
	found := false
	for _, a := range r.in.Job.Actuals {
		if (a.Step == "task "+string(t.ID) || strings.EqualFold(a.Step, t.Step.Name)) && (!found || !a.On.Before(out.On)) {
			out, found = a, true
		}
	}
	return out, found
}
