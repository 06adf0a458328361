package plan

import (
	"fmt"
	"slices"
	"time"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/sched"
)

// stand adds what the vehicle of a job needs one of at a time, and where it stands
// already: in the bay of the steps that are recorded, when others there are left.
func (w *week) stand(k int, in *InShop, seen map[string]job.Actual, at map[string]int) {
	steps, index := stoodSteps(in.Plan.Steps), make([]int, len(in.Plan.Steps))
	for i, s := range in.Plan.Steps {
		index[i] = -1
		if n, ok := at[s.ID]; ok {
			index[i] = n
		}
	}
	var runs []kept
	if !slices.Contains(w.ways.loose, k) {
		runs = keptBays(steps, w.sh.Bays)
	}
	first := len(w.prob.Holds)
	stands(&w.prob, in.Job.ID, steps, index, runs)
	for len(w.holds) < len(w.prob.Holds) {
		w.holds = append(w.holds, k)
	}
	for n, r := range runs {
		begun, until := false, 0
		for _, i := range r.members {
			a, ok := seen[in.Plan.Steps[i].ID]
			begun = begun || ok
			if ok && !a.Going {
				until = max(until, w.endOfDay(a.On)+steps[i].wait+r.extra)
			}
		}
		h := &w.prob.Holds[first+n]
		left := slices.ContainsFunc(r.until, func(i int) bool { _, ok := seen[in.Plan.Steps[i].ID]; return ok })
		if w.ways.undated(k) {
			rest := slices.ContainsFunc(r.members, func(i int) bool { a, ok := seen[in.Plan.Steps[i].ID]; return !ok || a.Going })
			if begun && !left && (rest || len(r.until) > 0) {
				w.takesBay(first + n)
			}
			continue
		}
		switch {
		case begun && (len(h.Members) > 0 || len(h.Until) > 0 && !left):
			w.standsIn(in.Job.ID, first+n)
			if w.prob.Holds[first+n].Open && slices.Contains(w.ways.aside, k) {
				w.moveAside(k, in, first+n, until, seen)
			}
		case begun && until > w.first:
			w.curesIn(k, in, r.kind, until, index)
		}
	}
}

// standsIn opens a hold: the vehicle is in the bay already.
func (w *week) standsIn(id string, hold int) {
	x := &w.prob.Holds[hold]
	open, have := 0, 0
	for _, y := range w.prob.Holds[:hold] {
		if y.Open && y.Kind == x.Kind {
			open++
		}
	}
	for _, p := range w.prob.Places {
		if p.Kind == x.Kind && p.Free <= w.first {
			have++
		}
	}
	if x.Open = open < have; !x.Open {
		w.full(id, x.Kind)
	}
}

// curesIn keeps a bay, and the vehicle in it, until what was done there last has
// cured. It takes the last free bay of the kind, since those that go on have the first.
func (w *week) curesIn(k int, in *InShop, kind string, until int, index []int) {
	taken := false
	for p := len(w.prob.Places) - 1; p >= 0 && !taken; p-- {
		if x := &w.prob.Places[p]; x.Kind == kind && x.Free <= w.first {
			x.Free, taken = until, true
			w.keptBy(p, k)
		}
	}
	if !taken {
		w.full(in.Job.ID, kind)
	}
	for i, n := range index {
		if n >= 0 && in.Plan.Steps[i].Bay != "" && string(in.Plan.Steps[i].Bay) != kind {
			w.prob.Activities[n].Release = max(w.prob.Activities[n].Release, until)
		}
	}
}

// keptBy notes that a place is kept by a job, and not by the shop.
func (w *week) keptBy(place, job int) {
	for len(w.share.Keeps) < len(w.prob.Places) {
		w.share.Keeps = append(w.share.Keeps, 0)
	}
	w.share.Keeps[place] = job + 1
}

func (w *week) full(id, kind string) {
	w.notes = append(w.notes, diag.Say("week.bays-full", "{jobs}: by what is recorded more vehicles stand in bays of the kind {kind:q} than the shop has", id, kind).Note(diag.Note{Severity: diag.Caution, Where: id, Hint: "record what is done, or give roll_out to the bay if vehicles are rolled out of it"}))
}

// keeps are the bays that a job keeps.
func (w *week) keeps(j *WeekJob, k int, sol sched.Solution) {
	for h, owner := range w.holds {
		if owner != k {
			continue
		}
		if place, from, to, ok := w.kept(h, sol); ok {
			at := func(m int) time.Time { return w.day0.Add(time.Duration(m) * time.Minute) }
			j.Bays = append(j.Bays, WeekBay{w.sh.Bays[place].ID, at(from), at(to)})
		}
	}
	slices.SortStableFunc(j.Bays, func(a, b WeekBay) int { return a.From.Compare(b.From) })
}

// stoodIn says where the vehicle of a job stands, and puts the place into its steps.
func (w *week) stoodIn(k int, in *InShop) {
	if !slices.ContainsFunc(in.Plan.Steps, func(s Step) bool { return s.Move != nil }) {
		return
	}
	seen, _ := progress(in.Plan, in.Job, w.sh, w.from)
	place := Yard
	for i := range in.Plan.Steps {
		s := &in.Plan.Steps[i]
		if _, ok := seen[s.ID]; ok && s.Move != nil {
			if place = s.BayID; s.Move.To == Yard {
				place = Yard
			}
		}
	}
	j := &w.out.Jobs[k]
	for i := range w.out.Steps { // of several bays of a kind it stands in the one in which it goes on
		if s := &w.out.Steps[i]; s.Job == j.ID && (s.Move != nil || s.Bay != "") {
			if s.Move == nil {
				place = s.Bay
			}
			break
		}
	}
	j.Stands = []Stand{{Place: place, From: w.day0}}
	for i := range w.out.Steps {
		s := &w.out.Steps[i]
		if s.Job != j.ID {
			continue
		}
		if s.Move != nil {
			to := s.Bay
			if s.Move.To == Yard {
				to = Yard
			}
			j.Stands[len(j.Stands)-1].To = s.From
			j.Stands = append(j.Stands, Stand{Place: to, From: s.From})
		}
		s.At = j.Stands[len(j.Stands)-1].Place
	}
}

// kept is the place of a hold and the time it is taken.
func (w *week) kept(h int, sol sched.Solution) (place, from, to int, ok bool) {
	from = 1 << 60
	for _, m := range w.prob.Holds[h].Members {
		if x := sol.Slots[m]; w.prob.Activities[m].Minutes > 0 {
			place, ok = x.Place, true
			from, to = min(from, x.From), max(to, x.To+w.prob.Activities[m].Stay)
		}
	}
	if x := w.prob.Holds[h]; ok && len(x.Until) > 0 {
		first := 1 << 60
		for _, u := range x.Until {
			first = min(first, sol.Slots[u].From)
		}
		to = max(to, first)
	}
	if w.prob.Holds[h].Open {
		from = min(from, w.first)
	}
	return place, from, to, ok
}

// waitsForBay says that a step begins as soon as another job has left its bay.
func (w *week) waitsForBay(k, i int, sol sched.Solution) string {
	x := sol.Slots[i]
	if x.Place < 0 {
		return ""
	}
	for h, owner := range w.holds {
		place, _, to, ok := w.kept(h, sol)
		if ok && owner != k && place == x.Place && to <= x.From && !w.workBetween(to, x.From) {
			return fmt.Sprintf("%s begins when %s has left %s", w.refs[i].step.Name, w.out.Jobs[owner].ID, w.sh.Bays[place].ID)
		}
	}
	return ""
}

// workBetween says that somebody could work between two minutes.
func (w *week) workBetween(from, to int) bool { return w.cal.Worked(to) > w.cal.Worked(from) }
