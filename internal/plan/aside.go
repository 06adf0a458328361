package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Vehicles may stand in one another's way: each in the bay that the other needs next. No order
// of work resolves that; somebody has to move one of them to the yard and, later, in again, by
// steps with minutes and a price. Where none can be moved, those that stand in the way have no
// dates, their bays are taken, and the others are planned all the same.

// Still is a time in which a vehicle does not roll, by the steps of its plan.
type Still struct {
	Name     string
	From, To []string // from the beginning of one of the first to the end of all of the last
}

// stillsOf names the steps of the times in which the vehicle does not roll.
func (b *builder) stillsOf() []Still {
	var out []Still
	for _, s := range b.stills() {
		x := Still{Name: s.name}
		for _, n := range s.from {
			x.From = append(x.From, n.step.ID)
		}
		for _, n := range s.to {
			x.To = append(x.To, n.step.ID)
		}
		out = append(out, x)
	}
	return out
}

// notRolling says what keeps a vehicle from rolling by what is recorded; empty when it rolls.
func notRolling(p Plan, seen map[string]job.Actual) string {
	var out []string
	for _, s := range p.Stills {
		begun := slices.ContainsFunc(s.From, func(id string) bool { _, ok := seen[id]; return ok })
		over := len(s.To) > 0 && !slices.ContainsFunc(s.To, func(id string) bool { a, ok := seen[id]; return !ok || a.Going })
		if begun && !over {
			out = append(out, s.Name)
		}
	}
	return strings.Join(out, ", ")
}

// ways is what is done about jobs whose vehicles are in the way, by their place in the list.
type ways struct {
	loose []int // keep no bays
	aside []int // are moved to the yard first, and in again
	out   []int // have no dates, and keep the bay that they stand in
	twins []int // have none and keep it too: another job is about the same vehicle
	used  used  // the days on which steps use what does not keep till then
	work  *halt.Work
}

// undated says that a job has no dates.
func (x ways) undated(k int) bool { return slices.Contains(x.out, k) || slices.Contains(x.twins, k) }

// mostWays is up to how many vehicles in bays every choice of them is tried; beyond that one at
// a time, and all.
const mostWays = 6

// unblocked is a week in which some vehicles are moved aside, or have no dates; the given one
// where not even that gives a schedule.
func unblocked(sh *shop.Shop, jobs []InShop, from unit.Date, stuck *week, loose []int) (*week, bool) {
	var in, may []int
	why := map[int]string{}
	for h, k := range stuck.holds {
		if stuck.prob.Holds[h].Open && !slices.Contains(in, k) {
			in = append(in, k)
		}
	}
	for _, k := range in {
		if why[k] = stuck.stays(&jobs[k]); why[k] == "" {
			may = append(may, k)
		}
	}
	some := ways{twins: stuck.ways.twins, used: stuck.ways.used, loose: loose}
	if w := bestAside(sh, jobs, from, some, may); w != nil {
		return w, true
	}
	for _, out := range choices(in) {
		// those that can be moved may still have to be, to make way for one another
		rest := slices.DeleteFunc(slices.Clone(may), func(k int) bool { return slices.Contains(out, k) })
		some.out = out
		w, err := newWeek(sh, jobs, from, some)
		if err != nil {
			if w = bestAside(sh, jobs, from, some, rest); w == nil {
				continue
			}
		}
		var reasons []string
		for _, k := range out {
			reasons = append(reasons, jobs[k].Job.ID+": "+cmp.Or(why[k], "it waits for the bay of one that cannot be moved"))
		}
		w.leftOut(jobs, out, reasons)
		return w, true
	}
	return stuck, false
}

// bestAside is the best week in which as few vehicles as it takes are moved aside, while others
// are left out; nil: none of those that may be moved helps.
func bestAside(sh *shop.Shop, jobs []InShop, from unit.Date, some ways, may []int) *week {
	var best *week
	var moved []int
	for _, aside := range choices(may) {
		if best != nil && len(aside) > len(moved) {
			break
		}
		some.aside = aside
		w, err := newWeek(sh, jobs, from, some)
		if err == nil && (best == nil || w.betterThan(best)) {
			best, moved = w, aside
		}
	}
	return best
}

// unplaced is a week in which as few jobs as it takes keep no bays, of those with work on record:
// where their vehicles stand is not known. The given one where not even that gives a schedule.
func unplaced(sh *shop.Shop, jobs []InShop, from unit.Date, stuck *week, behind []int) (*week, bool) {
	var begun []int
	for k := range jobs {
		if len(jobs[k].Job.Actuals) > 0 && !slices.Contains(behind, k) {
			begun = append(begun, k)
		}
	}
	for _, some := range choices(begun) {
		loose := slices.Concat(behind, some)
		if w, err := newWeek(sh, jobs, from, ways{twins: stuck.ways.twins, used: stuck.ways.used, loose: loose}); err == nil {
			return w, true
		}
	}
	return stuck, false
}

// choices are sets of some of a list, the smaller ones first.
func choices(all []int) [][]int {
	var out [][]int
	if len(all) > mostWays {
		for _, k := range all {
			out = append(out, []int{k})
		}
		return append(out, all)
	}
	for n := 1; n <= len(all); n++ {
		for bits := 1; bits < 1<<len(all); bits++ {
			var some []int
			for i, k := range all {
				if bits>>i&1 == 1 {
					some = append(some, k)
				}
			}
			if len(some) == n {
				out = append(out, some)
			}
		}
	}
	return out
}

// betterThan says that a week is less late, or as late with cheaper moves.
func (w *week) betterThan(o *week) bool {
	late := func(x *week) int {
		n := 0
		for _, j := range x.out.Jobs {
			n += j.Late
		}
		return n
	}
	if late(w) != late(o) {
		return late(w) < late(o)
	}
	return w.asideMin < o.asideMin
}

// stays says why the vehicle of a job cannot be moved aside; empty when it can.
func (w *week) stays(in *InShop) string {
	m := w.sh.Moving
	if m == nil {
		return "the shop file does not say who moves vehicles ('moving', and 'in' and 'out' of each bay)"
	}
	if !does(w.sh, m.Skill, w.from) {
		return fmt.Sprintf("nobody is there who moves vehicles (%s)", m.Skill)
	}
	seen, _ := progress(in.Plan, in.Job, w.sh, w.from)
	if off := notRolling(in.Plan, seen); off != "" && m.Carry == nil {
		return "it does not roll (" + off + "), and the shop has nothing to carry it with ('carry' of 'moving')"
	}
	return ""
}

// leftOut tells of jobs that have no dates since their vehicles are in the way.
func (w *week) leftOut(jobs []InShop, some []int, reasons []string) {
	var ids []string
	for _, k := range some {
		ids = append(ids, jobs[k].Job.ID)
	}
	w.block(strings.Join(ids, ", "), diag.Say("week.in-the-way", "{jobs}: the vehicles stand in one another's way, each in a bay that another one needs, and none can be moved aside: {reasons}; they have no dates, their bays are taken, and the others are planned", list(ids), strings.Join(reasons, "; ")), "move one of them by hand and record it, or say in the shop file how vehicles are moved")
}

// moveAside moves the vehicle of a job out of the bay of an open hold to the yard, before
// anything else, once what was done there has cured; and in again before what is left there.
func (w *week) moveAside(k int, in *InShop, hold, until int, seen map[string]job.Actual) {
	h, m := &w.prob.Holds[hold], w.sh.Moving
	off := notRolling(in.Plan, seen)
	bay := w.bayOf(hold)
	move := func(kind, name string, minutes float64, place string, x Move, after []sched.Lag, release int) int {
		var draws []sched.Draw
		if x.Rolls = off == ""; !x.Rolls {
			minutes += float64(m.Carry.More)
			x.Off = off
			for i, e := range m.Carry.Equipment {
				if p, ok := w.pools[e]; ok && !slices.Contains(m.Carry.Equipment[:i], e) {
					draws = append(draws, sched.Draw{Pool: p, Amount: 1})
				}
			}
		}
		a := sched.Activity{ID: in.Job.ID + " " + name, Minutes: whole(minutes), Skill: string(m.Skill), Place: place, Draws: draws, After: after, Release: release}
		if s := slices.Index(w.prob.States, in.Job.ID+" at rest"); s >= 0 {
			a.Sets = append(a.Sets, sched.Setting{State: s, Value: "moved"})
		}
		at := len(w.prob.Activities)
		w.prob.Activities = append(w.prob.Activities, a)
		w.share.Of = append(w.share.Of, k)
		w.refs = append(w.refs, weekRef{k, Step{ID: kind, Name: name, Skill: m.Skill, Minutes: minutes, Move: &x}, false})
		w.asideMin += a.Minutes
		return at
	}
	out := move("OUT", fmt.Sprintf("Move from %s to the yard, out of the way", bay.Name), float64(bay.Out), "", Move{From: h.Kind, To: Yard}, nil, max(until, w.minute(in.Job.Start), 0))
	members, ends := h.Members, h.Until
	h.Members, h.Until = nil, []int{out}
	text, minutes := "to the yard", w.prob.Activities[out].Minutes
	if len(members) > 0 {
		back := move("IN", fmt.Sprintf("Move from the yard to %s again", bay.Name), float64(bay.In), h.Kind, Move{From: Yard, To: h.Kind}, []sched.Lag{{Pred: out}}, 0)
		for _, i := range members {
			w.prob.Activities[i].After = append(w.prob.Activities[i].After, sched.Lag{Pred: back})
		}
		w.prob.Holds = append(w.prob.Holds, sched.Hold{ID: h.ID + " again", Owner: h.Owner, Kind: h.Kind, Members: append([]int{back}, members...), Until: ends})
		w.holds = append(w.holds, k)
		text, minutes = "to the yard and in again", minutes+w.prob.Activities[back].Minutes
	} else {
		for _, i := range ends {
			w.prob.Activities[i].After = append(w.prob.Activities[i].After, sched.Lag{Pred: out})
		}
	}
	price := ""
	if rate, ok := w.sh.Rate(m.Skill); ok {
		price = fmt.Sprintf(", %s %s at the shop's rate, tax not included", rate.Hour.Minor.Times(int64(minutes), 60).Decimal(), rate.Hour.Currency)
	}
	if off != "" {
		text += ", carried, as it does not roll (" + off + ")"
	}
	w.notes = append(w.notes, diag.Say("week.move-aside", "{job} stands in {bay}, which another vehicle needs, and needs the bay of that one: move {job} {where}: {minutes} min{price}", in.Job.ID, bay.Name, text, minutes, price).Note(diag.Note{Severity: diag.Caution, Where: in.Job.ID, Hint: "it is in the schedule; or record what has been moved already"}))
}

// bayOf is the bay in which the vehicle of an open hold stands: they take those of their kind
// one after the other.
func (w *week) bayOf(hold int) shop.Bay {
	before := 0
	for _, x := range w.prob.Holds[:hold] {
		if x.Open && x.Kind == w.prob.Holds[hold].Kind {
			before++
		}
	}
	for _, y := range w.sh.Bays {
		if string(y.Kind) == w.prob.Holds[hold].Kind {
			if before == 0 {
				return y
			}
			before--
		}
	}
	return shop.Bay{}
}

// takesBay takes a bay of the kind of a hold, the last that is free, for the vehicle of a job
// without dates.
func (w *week) takesBay(hold int) {
	for p := len(w.prob.Places) - 1; p >= 0; p-- {
		if x := &w.prob.Places[p]; x.Kind == w.prob.Holds[hold].Kind && len(x.Away) == 0 {
			x.Away = []sched.Away{{}}
			w.keptBy(p, w.holds[hold])
			return
		}
	}
}
