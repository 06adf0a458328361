package plan

import (
	"slices"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// What came keeps until its last day of use. A step that is dated later has nothing to use: it
// waits for what is promised beside that, else it has no date. When a step is done follows
// from the dates, so that they are made, held against the last days, and made again with what
// does not keep left out, until all of it keeps.

// builtToKeep is the plan with every step dated so that what it uses may be used on that day.
func builtToKeep(in Input, withDates bool) (Plan, []diag.Note) {
	usedOn := map[string]unit.Date{}
	for {
		p, notes := builtOnce(in, withDates, usedOn)
		if !withDates || !p.laterUse(in.Job, usedOn) {
			return p, notes
		}
	}
}

func useKey(item, ref string) string { return item + "\x00" + ref }

// laterUse puts in on which day steps use something that does not keep till then; false when
// everything keeps, or is known not to. A day is only ever moved on beyond the last day of
// one delivery more, so that there is an end.
func (p Plan) laterUse(j *job.State, usedOn map[string]unit.Date) bool {
	more := false
	for _, x := range p.spoiled(j, daysOfUse) {
		key := useKey(x.item, x.step.Ref)
		if spentOn(j, x.item, usedOn[key]) < spentOn(j, x.item, x.on) {
			usedOn[key], more = x.on, true
		}
	}
	return more
}

// span is the days from which and to which a step uses something; zero: it has none.
type span struct{ from, to unit.Date }

func daysOfUse(s Step) span {
	if s.To.IsZero() {
		return span{}
	}
	return span{unit.DateOf(s.From), unit.DateOf(s.To)}
}

// spentOn is how much came that does not keep until a day.
func spentOn(j *job.State, item string, on unit.Date) int { return j.SupplyOn(item, 0, on).Spent }

// spoil is a step that uses something that does not keep till then.
type spoil struct {
	step Step
	item string
	on   unit.Date
}

// spoiled is the steps for which not enough is left of what came that may be used on their
// day: more of it is spent, and was not used before, than is over anyway. What keeps least is
// used first.
func (p Plan) spoiled(j *job.State, days func(Step) span) []spoil {
	var out []spoil
	if !slices.ContainsFunc(j.Deliveries, func(a job.Arrival) bool { return !a.UseBefore.IsZero() }) {
		return nil
	}
	for _, d := range p.drawn() {
		for _, s := range p.Steps {
			from, on := days(s).from, days(s).to
			if on.IsZero() || d.of[s.ID] == 0 || spentOn(j, d.item, on) == 0 {
				continue
			}
			before, total := 0.0, 0.0
			for _, o := range p.Steps {
				total += d.of[o.ID]
				if to := days(o).to; !to.IsZero() && to.Before(on) {
					before += d.of[o.ID]
				}
			}
			came := 0
			for _, a := range j.Deliveries {
				if a.Item == d.item && a.On.Before(from) { // what comes that day is looked at again when it is known that the rest is spent
					came += a.Count
				}
			}
			lost := float64(float64(spentOn(j, d.item, on))*d.pack) - before
			over := max(0, float64(float64(came)*d.pack)-total)
			if lost > over+float64(1e-9*d.pack) {
				out = append(out, spoil{s, d.item, on})
			}
		}
	}
	return out
}

// usage is how much of something each step uses.
type usage struct {
	item string
	pack float64
	of   map[string]float64 // with waste, by the step's identity
}

// drawn is the new parts and the materials of a plan, with the steps that use them.
func (p Plan) drawn() []usage {
	var out []usage
	for _, l := range p.Lost {
		d := usage{string(l.Part), 1, map[string]float64{}}
		for _, s := range p.Steps {
			if slices.Contains(s.Takes, l.Part) {
				d.of[s.ID] = float64(l.Quantity)
				break
			}
		}
		out = append(out, d)
	}
	for _, t := range p.Takeoff {
		if t.Pack <= 0 || t.Net <= 0 {
			continue
		}
		d := usage{string(t.Material), t.Pack, map[string]float64{}}
		for _, l := range t.Lines {
			d.of[l.Step] += float64(l.Amount * t.Gross / t.Net)
		}
		out = append(out, d)
	}
	return out
}
