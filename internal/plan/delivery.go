package plan

import (
	"fmt"
	"slices"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// When a new part arrives is reckoned with its usual delivery, until something is on record:
// what arrived is there from then on, and a day that was promised takes the place of the usual
// time. Nothing that needs several of a part begins before all of them are there.

// byRecord puts what the job has on record about deliveries into the releases of the steps, and
// takes out what is there anyway. A part of which nobody says when it arrives has no date. A
// material is taken as there until something about it is on record; then it is as a part.
func (b *builder) byRecord(lost []Lost) {
	told := map[string]bool{}
	packs := b.packs()
	for _, n := range b.nodes {
		b.awaitMaterials(n, packs)
		var keep []Awaited
		for _, r := range n.step.Awaits {
			if r.Kind == Delivery {
				r = b.supplied(n, r, neededOf(r, lost, packs))
			}
			if r.Minutes > 0 || r.Unknown || !r.Promised.IsZero() { // what is promised is not there yet
				keep = append(keep, r)
			}
			if r.Kind == Delivery && r.Unknown {
				n.unbegun = true
				if !told[r.Item()] {
					told[r.Item()] = true
					b.undelivered(n, r)
				}
			}
		}
		n.step.Awaits = keep
	}
}

// packs is how many packs of each material are needed.
func (b *builder) packs() map[body.MaterialID]int {
	out, net := map[body.MaterialID]int{}, map[body.MaterialID]float64{}
	for _, u := range b.uses {
		net[u.mat] += u.amount
	}
	for id, amount := range net {
		if m := b.mats[id]; m.Pack.Value > 0 {
			out[id] = packsOf(amount*(1+float64(m.Waste)), m.Pack.Value)
		}
	}
	return out
}

// awaitMaterials keeps a step back until the materials are there that it uses and about which
// anything is on record.
func (b *builder) awaitMaterials(n *node, packs map[body.MaterialID]int) {
	for _, u := range b.uses {
		r := Awaited{Kind: Delivery, Name: "delivery of " + b.mats[u.mat].Name, Material: u.mat}
		if u.node == n && packs[u.mat] > 0 && b.in.Job.Tracks(string(u.mat)) && !slices.ContainsFunc(n.step.Awaits, r.Same) {
			n.step.Awaits = append(n.step.Awaits, r)
		}
	}
}

// neededOf is how many pieces or packs of something the plan needs.
func neededOf(r Awaited, lost []Lost, packs map[body.MaterialID]int) int {
	if r.Material != "" {
		return packs[r.Material]
	}
	need := 1
	for _, l := range lost {
		if l.Part == r.Part {
			need = max(need, l.Quantity)
		}
	}
	return need
}

// undelivered tells of what nobody says when it arrives.
func (b *builder) undelivered(n *node, r Awaited) {
	name, what := b.itemName(r), "pieces"
	if r.Material != "" {
		what = "packs"
	}
	switch {
	case r.Spent > 0:
		b.note(diag.Caution, r.Item(), diag.Say("plan.delivery-spent", "of {pieces} {of} of {item} that are needed {spent} came and may not be used any more on the day of {step:q}, and nobody has promised others for a day, so it and what follows it have no date", r.Pieces, what, name, r.Spent, n.step.Name),
			"order it anew, and record the promise ("+b.in.Job.Place("promises")+") or what came ('deliveries')")
	case r.Pieces > 0:
		b.note(diag.Caution, r.Item(), diag.Say("plan.delivery-unknown", "{came} of {pieces} of {item} have arrived, and nobody has promised the rest for a day, so {step:q} and what follows it have no date", r.Came, r.Pieces, name, n.step.Name),
			"record the promise for what is missing ("+b.in.Job.Place("promises")+")")
	default:
		b.note(diag.Caution, r.Item(), diag.Say("plan.delivery-unknown", "nobody says how long a new {item} takes to arrive, so {step:q} and what follows it have no date", name, n.step.Name), "give its 'delivery' in parts.csv, 0 d for one that is in stock")
	}
}

func (b *builder) itemName(r Awaited) string {
	if r.Material != "" {
		return b.mats[r.Material].Name
	}
	return b.part(r.Part).Name
}

// supplied is a delivery by what is on record about it.
func (b *builder) supplied(n *node, r Awaited, need int) Awaited {
	s := b.in.Job.SupplyOn(r.Item(), need, b.usedOn[useKey(r.Item(), n.step.Ref)])
	nobody := s.Promised && s.Unnamed > 0 || !s.Promised && (s.Spent > 0 || r.Material != "")
	switch {
	case !s.On.IsZero():
		r.Arrived, r.Ready = s.On, b.moment(s.On, s.At)
	case nobody:
		r.Unknown, r.Minutes, r.Low, r.High = true, 0, 0, 0
		r.Came, r.Pieces, r.Spent = s.Arrived, need, s.Spent
		return r
	case s.Promised:
		r.Promised, r.Ready = s.Expected, b.moment(s.Expected, "")
	default:
		if s.Arrived > 0 { // of the rest nothing is on record: it is reckoned with the usual time
			r.Came, r.Pieces = s.Arrived, need
		}
		return r
	}
	r.Record, r.Came, r.Pieces, r.Unknown, r.Low, r.High = s.By, s.Arrived, need, false, 0, 0
	r.Spent = s.Spent
	r.Minutes = b.fromStart(r.Ready)
	return r
}

// moment is a time of a day, or the end of work on it.
func (b *builder) moment(on unit.Date, at string) time.Time {
	_, m := b.in.Shop.Calendar.Hours()
	if c, ok := job.Clock(at); ok {
		m = c
	}
	t := time.Date(on.Year, on.Month, on.Day, 0, int(m), 0, 0, b.in.Shop.Location())
	return t
}

// fromStart is how many minutes of the clock on the wall a time lies after the first minute of
// work.
func (b *builder) fromStart(t time.Time) float64 {
	silent := len(b.notes)
	cal, day0, ok := b.calendar()
	b.notes = b.notes[:silent] // the dates of the plan say what is wrong with the calendar
	if !ok {
		return 0
	}
	return float64(cal.Wall(int(t.Sub(day0)/time.Minute)) - cal.Wall(startOfWork(cal)))
}

// overdue says that a delivery was to be there by the first day of a week, that it is not on
// record as there, and that it is not taken as there: where the job keeps deliveries or promises,
// what is not on record has not come. Where it keeps none, what was to come by now is taken as
// come, and that is told.
func (w *week) overdue(in *InShop, s Step, r Awaited, due int) bool {
	if r.Kind != Delivery || !r.Arrived.IsZero() && !w.from.Before(r.Arrived) || due > w.first {
		return false
	}
	keeps := len(in.Job.Deliveries)+len(in.Job.Promises) > 0
	if key := in.Job.ID + " " + r.Item(); !w.late[key] {
		w.late[key] = true
		by, then := "reckoned with its usual time", "it is taken as there, since nothing that came is on record in this job"
		if !r.Promised.IsZero() {
			by = fmt.Sprintf("promised for %s (%s)", r.Promised, r.Record)
		}
		if keeps {
			then = "it is planned for the next day of work"
		}
		w.notes = append(w.notes, diag.Say("week.not-arrived", "{job}: {what}, {by}, was to be there by now, and it is not on record that it came; {step:q} waits for it: {then}", in.Job.ID, r.Name, by, s.Name, then).Note(diag.Note{Severity: diag.Caution, Where: in.Job.ID, Hint: "record that it came (" + in.Job.Place("deliveries") + "), or the new promise ('promises')", Remedy: diag.Do(job.ToRecord)}))
	}
	return keeps
}
