package plan

import (
	"slices"
	"time"

	"fettle/internal/body"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Slip works out, many times over, when a plan would be done if its steps took
// longer or shorter and what it waits for came earlier or later. Everybody keeps
// to the plan: people, bays and equipment serve the steps in the planned order, and
// each step begins as soon as that and its waits allow. Nothing is planned anew, so
// the days are those of a shop that does not react.
type Slip struct {
	hours *hours
	steps []slipStep
	waits []Awaited
	start unit.Date
	first int
}

// slipStep is a step with what it comes after.
type slipStep struct {
	minutes  float64
	skill    body.SkillID
	after    []slipArc
	releases []int // indices of the waits
	wait     int   // elapsed minutes after it
	away     []slipAway
}

// slipAway is when who does a step, or where it is done, is away, in working minutes.
type slipAway struct{ from, to int }

type slipArc struct{ from, wait int }

// hours are the shop's working minutes as tables: how many come before an elapsed
// minute, and when each begins.
type hours struct {
	before []int32 // by elapsed minute from midnight of the first day
	begins []int32 // by working minute
	cal    sched.Calendar
}

// A day of the clock, and the days after which its hours are the same again.
const (
	dayMinutes = 24 * 60
	weekDays   = 7
)

// slipDays is how many days the tables reach.
const slipDays = 730

func newHours(cal sched.Calendar) *hours {
	h := &hours{before: make([]int32, slipDays*dayMinutes+1), cal: cal}
	off := map[int]bool{}
	for _, d := range cal.Off {
		off[d] = true
	}
	var open [weekDays][dayMinutes]bool // by day of the week and minute of the clock
	for k := range cal.Week {
		for _, w := range cal.Week[k] {
			for m := max(w.From, 0); m < min(w.To, dayMinutes); m++ {
				open[k][m] = true
			}
		}
	}
	put, next := 0, 0 // how far the clock is put forward by now, and its next change
	for e := 0; e < slipDays*dayMinutes; {
		for next < len(cal.Shifts) && cal.Shifts[next].At <= e {
			put, next = put+cal.Shifts[next].By, next+1
		}
		d, m := (e+put)/dayMinutes, (e+put)%dayMinutes
		if m < 0 { // shown is the day before the first one
			h.before[e] = int32(len(h.begins))
			e++
			continue
		}
		to := min(e+dayMinutes-m, slipDays*dayMinutes) // the end of the day, or of the hours as they are shown
		if next < len(cal.Shifts) {
			to = min(to, cal.Shifts[next].At)
		}
		works := !off[d] && len(cal.Week[d%weekDays]) > 0
		for ; e < to; e, m = e+1, m+1 {
			h.before[e] = int32(len(h.begins))
			if works && open[d%weekDays][m] {
				h.begins = append(h.begins, int32(e))
			}
		}
	}
	h.before[len(h.before)-1] = int32(len(h.begins))
	return h
}

// at is the working minute an elapsed minute comes before or in; past the tables
// the last one.
func (h *hours) at(e int) int { return int(h.before[min(max(e, 0), len(h.before)-1)]) }

// begin is when a working minute begins, end when so many have been worked.
func (h *hours) begin(w int) int { return int(h.begins[min(max(w, 0), len(h.begins)-1)]) }
func (h *hours) end(w int) int   { return h.begin(w-1) + 1 }

// Slips makes the calculation for plans of one job in one shop.
type Slips struct {
	in    Input
	hours *hours
	day0  time.Time
	first int
}

// NewSlips reads the shop's calendar once; false says that it or the job's start
// is missing.
func NewSlips(in Input) (*Slips, bool) {
	b := newBuilder(Input{Shop: in.Shop, Job: in.Job, Body: &body.Body{}})
	cal, day0, ok := b.calendar()
	if !ok {
		return nil, false
	}
	h := newHours(cal)
	return &Slips{in: in, hours: h, day0: day0, first: startOfWork(cal)}, len(h.begins) > 0
}

// Of is the calculation for one plan; false where a step has no date.
func (x *Slips) Of(p Plan) (*Slip, bool) {
	s := &Slip{hours: x.hours, start: p.Start, first: x.first}
	if p.Finish.IsZero() {
		return nil, false
	}
	at := map[string]int{}
	var earlier [][]bool
	for i, st := range p.Steps {
		if st.From.IsZero() {
			return nil, false
		}
		at[st.ID] = i
		n := slipStep{minutes: st.Minutes, skill: st.Skill, wait: whole(st.WaitMin)}
		for _, id := range st.After {
			k, ok := at[id]
			if !ok {
				return nil, false
			}
			n.after = append(n.after, slipArc{k, s.steps[k].wait})
		}
		n.after = append(n.after, served(p.Steps, i)...)
		n.after = append(n.after, s.otherwise(p.Steps, i, n.after)...)
		var ended []bool
		n.after, ended = leanest(n.after, earlier, i)
		earlier = append(earlier, ended)
		for _, r := range st.Awaits {
			n.releases = append(n.releases, s.waitFor(r))
		}
		n.away = x.away(st)
		s.steps = append(s.steps, n)
	}
	return s, true
}

// away is when who does a step or where it is done is away, but for good: then somebody has to
// plan anew.
func (x *Slips) away(st Step) []slipAway {
	var out []slipAway
	for _, a := range awayFrom(x.in.Shop, x.in.Job.Start, func(a shop.Absence) bool {
		return !a.To.IsZero() && (a.Person != "" && a.Person == st.Person || a.Bay != "" && a.Bay == st.BayID)
	}) {
		out = append(out, slipAway{x.hours.at(a.From), x.hours.at(a.To)})
	}
	slices.SortFunc(out, func(a, b slipAway) int { return a.from - b.from })
	return out
}

// leanest are the arcs to step i without those to steps that have ended anyway when
// another one of them, without a wait, has: no step takes less than no time. With them are
// all steps that have ended then, without a wait; earlier are those of the steps before.
func leanest(after []slipArc, earlier [][]bool, i int) ([]slipArc, []bool) {
	ended := make([]bool, i)
	for _, a := range after {
		if a.wait == 0 {
			for k, yes := range earlier[a.from] {
				ended[k] = ended[k] || yes
			}
		}
	}
	var out []slipArc
	for _, a := range after {
		if a.wait > 0 || !ended[a.from] {
			if !slices.Contains(out, a) {
				out = append(out, a)
			}
		}
	}
	for _, a := range out {
		ended[a.from] = ended[a.from] || a.wait == 0
	}
	return out, ended
}

// served are the last steps before this one of the same person, of the same bay
// and with the same equipment: all that end last, since one may take no time.
func served(steps []Step, i int) []slipArc {
	var out []slipArc
	last := func(same func(s *Step) bool) {
		var best []slipArc
		for k := range steps[:i] {
			if !same(&steps[k]) || steps[k].To.After(steps[i].From) {
				continue
			}
			if len(best) > 0 && steps[k].To.After(steps[best[0].from].To) {
				best = nil
			}
			if len(best) == 0 || steps[k].To.Equal(steps[best[0].from].To) {
				best = append(best, slipArc{k, 0})
			}
		}
		out = append(out, best...)
	}
	x := &steps[i]
	if x.Person != "" {
		last(func(s *Step) bool { return s.Person == x.Person })
	}
	if x.BayID != "" {
		last(func(s *Step) bool { return s.BayID == x.BayID })
	}
	for _, e := range x.Equipment {
		last(func(s *Step) bool { return slices.Contains(s.Equipment, e) })
	}
	return out
}

// otherwise are the earlier steps for which the vehicle stood in another bay, or at
// another height of the lift, as far as those in after do not come after them anyway.
// A vehicle leaves a bay when what was done there has cured.
func (s *Slip) otherwise(steps []Step, i int, after []slipArc) []slipArc {
	x := &steps[i]
	known := map[slipArc]bool{}
	var note func(a slipArc)
	note = func(a slipArc) {
		if !known[a] {
			known[a] = true
			for _, b := range s.steps[a.from].after {
				note(slipArc{b.from, 0})
			}
		}
	}
	for _, a := range after {
		note(slipArc{a.from, 0})
		known[a] = true
	}
	var out []slipArc
	for k := i - 1; k >= 0; k-- {
		y := &steps[k]
		if y.To.After(x.From) {
			continue
		}
		bay := x.Bay != "" && y.Bay != "" && x.Bay != y.Bay
		arc := slipArc{k, 0}
		if bay {
			arc.wait = s.steps[k].wait
		}
		if (bay || x.Lift != "" && y.Lift != "" && x.Lift != y.Lift) && !known[arc] {
			out = append(out, arc)
			note(slipArc{k, 0})
		}
	}
	return out
}

// waitFor is the index of a wait; the same delivery is waited for once.
func (s *Slip) waitFor(r Awaited) int {
	k := slices.IndexFunc(s.waits, func(w Awaited) bool { return w.Same(r) })
	if k < 0 {
		k = len(s.waits)
		s.waits = append(s.waits, r)
	}
	return k
}

// Waits are the deliveries and answers the plan waits for.
func (s *Slip) Waits() []Awaited { return s.waits }

// Skills are the skills of the steps.
func (s *Slip) Skills() []body.SkillID {
	out := make([]body.SkillID, len(s.steps))
	for i, x := range s.steps {
		out[i] = x.skill
	}
	return out
}

// slipLot is how many draws are worked out at once: their ends fit into the fastest memory.
const slipLot = 64

// Days is the calendar days from the job's start to its end, both included, for each of many
// draws: in draw n step i takes factor[i][n] times its minutes, as planned where factor[i] is nil,
// and wait k arrives after waits[k][n] minutes. There are as many draws as there is room in days.
func (s *Slip) Days(factor, waits [][]float64, days []int) {
	ends := make([]int, len(s.steps)*slipLot)
	for from := 0; from < len(days); from += slipLot {
		s.lot(factor, waits, from, ends, days[from:min(from+slipLot, len(days))])
	}
}

// lot is Days for the draws from one on; ends is left with the ends of each step in them.
func (s *Slip) lot(factor, waits [][]float64, from int, ends, days []int) {
	var last, latest [slipLot]int // on the clock, and in working minutes of what nothing is waited for after
	for i := range s.steps {
		x, end := &s.steps[i], ends[i*slipLot:][:len(days)]
		s.begin(x, waits, from, ends, end)
		took := whole(x.minutes)
		for n, begin := range end {
			if factor[i] != nil {
				took = whole(float64(x.minutes * factor[i][from+n]))
			}
			for _, a := range x.away {
				if took > 0 && begin < a.to && begin+took > a.from {
					begin = a.to
				}
			}
			end[n] = begin + took
			if x.wait == 0 {
				latest[n] = max(latest[n], end[n])
			} else {
				last[n] = max(last[n], s.hours.end(end[n])+x.wait)
			}
		}
	}
	for n := range days {
		if days[n] = 1; len(s.steps) > 0 {
			days[n] = s.hours.cal.Wall(max(last[n], s.hours.end(latest[n])))/dayMinutes + 1
		}
	}
}

// begin is when a step may begin in each of the draws, by what it waits for and comes after.
func (s *Slip) begin(x *slipStep, waits [][]float64, from int, ends, at []int) {
	clear(at)
	for _, k := range x.releases {
		for n := range at {
			at[n] = max(at[n], s.hours.at(s.hours.cal.Since(s.hours.cal.Wall(s.first)+whole(waits[k][from+n]))))
		}
	}
	for _, a := range x.after {
		before := ends[a.from*slipLot:][:len(at)]
		if a.wait > 0 {
			for n, w := range before {
				at[n] = max(at[n], s.hours.at(s.hours.end(w)+a.wait))
			}
			continue
		}
		for n, w := range before {
			at[n] = max(at[n], w)
		}
	}
}
