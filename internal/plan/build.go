package plan

import (
	"slices"

	"fettle/internal/diag"
	"fettle/internal/unit"
)

// Build turns a choice of treatments into a plan with dates. It always says
// what can be said: what stands in the way is in the notes.
func Build(in Input) (Plan, []diag.Note) { return builtToKeep(in, true) }

// Outline is Build without dates: what comes off, steps in a valid order and
// the takeoff, for comparing money alone.
func Outline(in Input) (Plan, []diag.Note) { return builtToKeep(in, false) }

func builtOnce(in Input, withDates bool, usedOn map[string]unit.Date) (Plan, []diag.Note) {
	in.Work.Step()
	in.Vehicle = in.Vehicle.While(in.Work)
	b := newBuilder(in)
	b.usedOn = usedOn
	p := Plan{Start: in.Job.Start}
	if len(b.items) == 0 && in.expose == nil {
		p.Finish, p.Proven, p.OpeningProven = in.Job.Start, true, true
		return p, nil
	}
	b.checkChoice()
	b.findOpening()
	if !b.open.found.ok {
		p.Gaps, p.Unplanned = b.noWay(), b.unplanned
		return p, b.notes
	}
	p.Gaps = append(b.gaps(), b.reachGaps()...)
	b.tellGaps(p.Gaps)
	p.Gaps = append(p.Gaps, b.apartGaps()...) // told where they are closed
	p.OpeningCost = minor(b.open.found.cost)
	known := !slices.ContainsFunc(p.Gaps, func(g Gap) bool { return len(g.To) > 0 }) // else more may come off
	p.OpeningProven, p.OpeningBound = b.open.found.proven && known, minor(b.open.found.bound)
	p.Removal, p.Refit, p.Reached = b.removals(), b.refittings(), b.reachedBy()
	p.OffChanges, p.RefitChanges = b.open.off, b.open.refit
	saved, ok := b.makeSteps()
	p.Lost, p.Saved = mergeLost(b.lost), saved
	if !ok {
		p.Unplanned, p.OpeningProven = b.unplanned, false
		return p, b.notes
	}
	if withDates {
		b.dates(&p)
		b.asDated(&p)
	}
	b.number()
	b.staged()
	for _, n := range b.nodes {
		p.Steps = append(p.Steps, n.step)
		p.WorkMin += n.step.Minutes
		if n.critical {
			p.Critical = append(p.Critical, n.step.ID)
		}
		if r := n.awaited(); r.Kind != "" {
			p.Steps[len(p.Steps)-1].Because += "; " + r.Words()
		}
	}
	p.Stills = b.stillsOf()
	p.Stands = placesOf(p.Steps, midnight(in.Job.Start, in.Shop.Location()))
	p.Takeoff = b.takeoff()
	if len(p.Steps) == 0 && withDates { // nothing but leaving things as they are
		p.Finish, p.Proven = in.Job.Start, true
	}
	return p, b.notes
}

// mergeLost joins lost parts of the same identity.
func mergeLost(lost []Lost) []Lost {
	var out []Lost
	at := map[string]int{}
	for _, l := range lost {
		k, ok := at[string(l.Part)]
		if !ok {
			at[string(l.Part)] = len(out)
			out = append(out, l)
			continue
		}
		out[k].Because += "; " + l.Because
		out[k].Quantity += l.Quantity
	}
	return out
}
