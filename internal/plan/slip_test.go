package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"sort"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/golden"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// clockHours are the minutes in which a shop works, each asked of the clock on its wall.
type clockHours struct {
	shop  *shop.Shop
	day0  time.Time
	began []time.Time
}

func clockHoursOf(t *testing.T, s *shop.Shop, first unit.Date, days int) *clockHours {
	t.Helper()
	h := &clockHours{shop: s, day0: midnight(first, s.Location())}
	c := s.Calendar
	for day := first; day.Before(first.AddDays(days)); day = day.AddDays(1) {
		if !slices.Contains(c.Days, []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}[day.Time().Weekday()]) || slices.Contains(c.Holidays, day) {
			continue
		}
		for at := midnight(day, s.Location()); unit.DateOf(at) == day; at = at.Add(time.Minute) {
			clock := fmt.Sprintf("%02d:%02d", at.Hour(), at.Minute())
			if clock >= c.Start && clock < c.End && !(len(c.Break) == 2 && clock >= c.Break[0] && clock < c.Break[1]) {
				h.began = append(h.began, at)
			}
		}
	}
	return h
}

// at is how many of the shop's minutes begin before a moment; end is when so many are over.
func (h *clockHours) at(x time.Time) int {
	return sort.Search(len(h.began), func(i int) bool { return !h.began[i].Before(x) })
}
func (h *clockHours) end(n int) time.Time { return h.began[max(n-1, 0)].Add(time.Minute) }

// slipByHand says on which day a plan is done, step by step: after all that it comes after, after
// every earlier step of the same person, bay and equipment, and after every earlier one in
// another bay, when that has cured, or at another height of the lift.
func (h *clockHours) slipByHand(p Plan, factor []float64, waits map[string]float64) int {
	ended := make([]int, len(p.Steps))
	last := h.day0
	for i, x := range p.Steps {
		begin := 0
		after := func(k int, cured bool) {
			w := ended[k]
			if wait := p.Steps[k].WaitMin; cured && wait > 0 {
				w = h.at(h.end(w).Add(time.Duration(wait) * time.Minute))
			}
			begin = max(begin, w)
		}
		for k, y := range p.Steps[:i] {
			if slices.Contains(x.After, y.ID) {
				after(k, true)
			}
			if y.To.After(x.From) {
				continue
			}
			both := func(a, b string) bool { return a != "" && a == b }
			if both(x.Person, y.Person) || both(x.BayID, y.BayID) || slices.ContainsFunc(x.Equipment, func(e string) bool { return slices.Contains(y.Equipment, e) }) {
				after(k, false)
			}
			if x.Bay != "" && y.Bay != "" && x.Bay != y.Bay {
				after(k, true)
			}
			if x.Lift != "" && y.Lift != "" && x.Lift != y.Lift {
				after(k, false)
			}
		}
		for _, r := range x.Awaits {
			arrives := h.began[0].Add(time.Duration(waits[r.Words()]) * time.Minute)
			begin = max(begin, h.at(arrives))
		}
		took := int(math.Ceil(x.Minutes*factor[i] - 1e-9))
		for _, a := range h.shop.Absences { // in the order of their first days
			if a.To.IsZero() || !(a.Person != "" && a.Person == x.Person || a.Bay != "" && a.Bay == x.BayID) {
				continue
			}
			from, to := h.at(midnight(a.From, h.shop.Location())), h.at(midnight(a.To.AddDays(1), h.shop.Location()))
			if took > 0 && begin < to && begin+took > from {
				begin = to
			}
		}
		ended[i] = begin + took
		if end := h.end(ended[i]).Add(time.Duration(x.WaitMin) * time.Minute); end.After(last) {
			last = end
		}
	}
	return daysBetween(unit.DateOf(h.day0), unit.DateOf(last)) + 1
}

// TestSlipsByHandSeeds holds the calculation with tables and few arcs against one that asks
// the clock for every minute and looks at every pair of steps: plans of drawn jobs on three
// vehicles, steps that take half to three times as long, deliveries that come early or late,
// people and bays that are away. More time or a later delivery never ends a plan earlier.
func TestSlipsByHandSeeds(t *testing.T) {
	seeds := uint64(2)
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		seeds = 60
	}
	checked, later := 0, 0
	for _, v := range lawVehicles(t) {
		for seed := range seeds {
			r := rand.New(rand.NewPCG(seed, 1726))
			in := lawJob(v, seed)
			p, _ := Build(in)
			sh := *in.Shop
			for k := range 3 {
				from := in.Job.Start.AddDays(r.IntN(12))
				a := shop.Absence{From: from, To: from.AddDays(r.IntN(5)), Reason: "ill"}
				if k == 2 {
					a.Bay = sh.Bays[r.IntN(len(sh.Bays))].ID
				} else {
					a.Person = sh.People[r.IntN(len(sh.People))].ID
				}
				sh.Absences = append(slices.Clone(sh.Absences), a)
			}
			slices.SortStableFunc(sh.Absences, func(a, b shop.Absence) int { return a.From.Time().Compare(b.From.Time()) })
			in.Shop = &sh
			slips, ok := NewSlips(in)
			if !ok {
				t.Fatal("no calendar")
			}
			s, ok := slips.Of(p)
			if !ok {
				continue
			}
			if got := s.Skills(); len(got) != len(p.Steps) || got[0] != p.Steps[0].Skill {
				t.Fatalf("skills %v", got)
			}
			h := clockHoursOf(t, &sh, in.Job.Start, 150)
			for range 6 {
				factor, waits, named := make([]float64, len(p.Steps)), make([]float64, len(s.Waits())), map[string]float64{}
				for i := range factor {
					factor[i] = 0.5 + 2.5*r.Float64()
				}
				for k, w := range s.Waits() {
					waits[k] = math.Round(w.Minutes * 2 * r.Float64())
					named[w.Words()] = waits[k]
				}
				got, _ := oneSlip(s, factor, waits)
				if want := h.slipByHand(p, factor, named); got != want {
					t.Errorf("%s seed %d: %d days, by hand %d", v.name, seed, got, want)
				}
				checked++
				if len(waits) > 0 {
					waits[r.IntN(len(waits))] += 3000
				}
				factor[r.IntN(len(factor))] *= 4
				more, _ := oneSlip(s, factor, waits)
				if more < got {
					t.Errorf("%s seed %d: more work ends earlier: %d, before %d", v.name, seed, more, got)
				}
				if more > got {
					later++
				}
			}
		}
	}
	if checked < int(seeds)*12 || later < int(seeds)*4 {
		t.Errorf("only %d were checked, %d of them later with more work", checked, later)
	}
}

// drawnArcs are arcs to some of so many steps, with waits of no, one or two minutes.
func drawnArcs(r *rand.Rand, steps int) []slipArc {
	var out []slipArc
	for range r.IntN(steps + 1) {
		out = append(out, slipArc{r.IntN(steps), []int{0, 0, 1, 2}[r.IntN(4)]})
	}
	return out
}

// Steps that keep to the leanest arcs end when they end with all arcs, however long they take. An arc
// is left out when, and only when, it is there already or a chain of others without waits says the same.
func TestLeanestArcsSaySameSeeds(t *testing.T) {
	left := 0
	for seed := range uint64(draws(300, 20000)) {
		r := rand.New(rand.NewPCG(seed, 905))
		const steps = 7
		var all, lean [steps][]slipArc
		var by [steps][steps]bool // ended when the other has, with a chain of arcs without waits
		var earlier [][]bool
		for i := 1; i < steps; i++ {
			all[i] = drawnArcs(r, i)
		}
		for i := range steps {
			for _, a := range all[i] {
				for k := range steps {
					by[i][k] = by[i][k] || a.wait == 0 && (k == a.from || by[a.from][k])
				}
			}
			var want []slipArc
			for _, a := range all[i] {
				other := a.wait == 0 && slices.ContainsFunc(all[i], func(o slipArc) bool { return o.wait == 0 && by[o.from][a.from] })
				if !other && !slices.Contains(want, a) {
					want = append(want, a)
				}
			}
			var ended []bool
			lean[i], ended = leanest(all[i], earlier, i)
			earlier = append(earlier, ended)
			if !slices.Equal(lean[i], want) || !slices.Equal(ended, by[i][:i]) {
				t.Fatalf("seed %d, step %d: of %v are left %v, want %v; ended %v, want %v", seed, i, all[i], lean[i], want, ended, by[i][:i])
			}
			left += len(all[i]) - len(want)
		}
		for range 3 {
			var minutes [steps]int
			for i := range minutes {
				minutes[i] = r.IntN(4)
			}
			ends := func(arcs [steps][]slipArc) (out [steps]int) {
				for i := range out {
					for _, a := range arcs[i] {
						out[i] = max(out[i], out[a.from]+a.wait)
					}
					out[i] += minutes[i]
				}
				return out
			}
			if got, want := ends(lean), ends(all); got != want {
				t.Fatalf("seed %d: ends %v, with all arcs %v", seed, got, want)
			}
		}
	}
	if left < 300 {
		t.Errorf("only %d arcs were left out", left)
	}
}

// Without a calendar, a first day, an hour of work or a date of each step nothing is said.
func TestNothingSlipsWithoutDates(t *testing.T) {
	for name, change := range map[string]func(in *Input){
		"no start":        func(in *Input) { in.Job.Start = unit.Date{} },
		"no time of day":  func(in *Input) { in.Shop.Calendar.End = "25:00" },
		"half a break":    func(in *Input) { in.Shop.Calendar.Break = []string{"12:00"} },
		"no day of work":  func(in *Input) { in.Shop.Calendar.Days = nil },
		"no hour of work": func(in *Input) { in.Shop.Calendar.Start, in.Shop.Calendar.Break = in.Shop.Calendar.End, nil },
	} {
		in := input(weldF1)
		change(&in)
		if _, ok := NewSlips(in); ok {
			t.Errorf("%s: a calculation is made", name)
		}
	}
	in := input(weldF1)
	slips, ok := NewSlips(in)
	if !ok {
		t.Fatal("no calendar")
	}
	p, _ := Build(in)
	if _, ok := slips.Of(p); !ok {
		t.Fatal("the plan itself is not taken")
	}
	for name, change := range map[string]func(p *Plan){
		"no end":                        func(p *Plan) { p.Finish = unit.Date{} },
		"a step undated":                func(p *Plan) { p.Steps[3].From = time.Time{} },
		"an order of what is not there": func(p *Plan) { p.Steps[3].After = []string{"none"} },
		"an order of what comes later":  func(p *Plan) { p.Steps[3].After = []string{p.Steps[4].ID} },
	} {
		q := golden.Copied(p)
		change(&q)
		if _, ok := slips.Of(q); ok {
			t.Errorf("%s: a calculation is made", name)
		}
	}
	s, ok := slips.Of(Plan{Start: in.Job.Start, Finish: in.Job.Start})
	if days, _ := oneSlip(s, nil, nil); !ok || days != 1 {
		t.Error("a plan without a step is not done on its first day")
	}
}

// oneSlip is one draw, worked out as the last of a lot and more that have every step ten times as
// long, and nothing late: a draw knows nothing of those beside it. With it are the ends of its steps.
func oneSlip(s *Slip, factor, waits []float64) (int, []int) {
	const draws = slipLot + 5
	column := func(v, others float64) []float64 {
		return append(slices.Repeat([]float64{others}, draws-1), v)
	}
	var factors, arrives [][]float64
	for _, f := range factor {
		factors = append(factors, column(f, 10*f))
	}
	for _, w := range waits {
		arrives = append(arrives, column(w, 0))
	}
	days, ends := make([]int, draws), make([]int, len(s.steps)*slipLot)
	s.Days(factors, arrives, days)
	s.lot(factors, arrives, slipLot, ends, make([]int, draws-slipLot))
	var out []int
	for i := range s.steps {
		out = append(out, ends[i*slipLot+draws-slipLot-1])
	}
	return days[draws-1], out
}

// A vehicle leaves a bay when what was done there has cured, and the lift is at one height at a time:
// a step comes after every earlier one in another bay, with its wait, and after those at another
// height, without; what it comes after anyway is not said again. By hand.
func TestWhatAVehicleLeavesBehind(t *testing.T) {
	at := func(hour int) time.Time { return time.Date(2026, 3, 2, hour, 0, 0, 0, time.UTC) }
	step := func(k int, bay, lift string) Step {
		return Step{Bay: body.BayKind(bay), Lift: lift, From: at(k), To: at(k + 1)}
	}
	s := &Slip{steps: []slipStep{{wait: 30}, {wait: 20, after: []slipArc{{from: 0}}}, {}, {}}}
	for name, c := range map[string]struct {
		steps []Step
		after []slipArc
		want  []slipArc
	}{
		"one bay":              {[]Step{step(0, "a", ""), step(1, "a", ""), step(2, "a", "")}, nil, nil},
		"another bay":          {[]Step{step(0, "a", ""), step(1, "b", ""), step(2, "b", "")}, nil, []slipArc{{0, 30}}},
		"both in another bay":  {[]Step{step(0, "a", ""), step(1, "a", ""), step(2, "b", "")}, nil, []slipArc{{1, 20}, {0, 30}}},
		"no bay":               {[]Step{step(0, "a", ""), step(1, "", ""), step(2, "", "")}, nil, nil},
		"another height":       {[]Step{step(0, "a", "up"), step(1, "a", ""), step(2, "a", "down")}, nil, []slipArc{{0, 0}}},
		"another height, both": {[]Step{step(0, "a", "up"), step(1, "a", "up"), step(2, "a", "down")}, nil, []slipArc{{1, 0}}}, // the second comes after the first
		"after it anyway":      {[]Step{step(0, "a", "up"), step(1, "a", "up"), step(2, "a", "down")}, []slipArc{{1, 0}}, nil},
		"anyway, not cured":    {[]Step{step(0, "a", ""), step(1, "a", ""), step(2, "b", "")}, []slipArc{{1, 0}}, []slipArc{{1, 20}, {0, 30}}},
		"anyway, and cured":    {[]Step{step(0, "a", ""), step(1, "a", ""), step(2, "b", "")}, []slipArc{{1, 20}}, []slipArc{{0, 30}}},
		"at the same time":     {[]Step{step(0, "a", ""), step(2, "a", ""), step(2, "b", "")}, nil, []slipArc{{0, 30}}},
		"to the minute":        {[]Step{step(1, "a", ""), step(1, "a", ""), step(2, "b", "")}, nil, []slipArc{{1, 20}, {0, 30}}},
	} {
		if got := s.otherwise(c.steps, 2, c.after); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

// Who is away when a step would be under way does it afterwards; who leaves as it ends, or is back as
// it begins, is not missed. A shop that works round the clock; by hand.
func TestStepsWaitForWhoIsAway(t *testing.T) {
	var cal sched.Calendar
	for d := range cal.Week {
		cal.Week[d] = []sched.Window{{From: 0, To: 1440}}
	}
	h := newHours(cal)
	for _, c := range []struct {
		minutes float64
		away    []slipAway
		want    int // where it ends
	}{{60, nil, 60}, {60, []slipAway{{60, 3000}}, 60}, {60, []slipAway{{59, 3000}}, 3060}, {60, []slipAway{{0, 0}}, 60}, {60, []slipAway{{0, 5}, {65, 90}}, 65}, {60, []slipAway{{0, 5}, {64, 90}}, 150}, {0, []slipAway{{0, 90}}, 0}, {60.5, []slipAway{{60, 90}}, 151}} {
		s := &Slip{hours: h, steps: []slipStep{{minutes: c.minutes, away: c.away}}}
		if _, ends := oneSlip(s, []float64{1}, nil); ends[0] != c.want {
			t.Errorf("%+v: ends at %d", c, ends[0])
		}
		if s.steps[0].minutes /= 2; s.steps[0].minutes > 0 {
			if _, ends := oneSlip(s, []float64{2}, nil); ends[0] != c.want {
				t.Errorf("%+v, half of it twice: ends at %d", c, ends[0])
			}
		}
	}
}

// The same delivery is waited for once, wherever it is waited for; another part, or an answer, is
// another one.
func TestOneDeliveryIsWaitedForOnce(t *testing.T) {
	s := &Slip{}
	for _, c := range []struct {
		of   Awaited
		want int
	}{{Awaited{Kind: Delivery, Part: "horn"}, 0}, {Awaited{Kind: Delivery, Part: "skin"}, 1}, {Awaited{Kind: Delivery, Part: "horn", Minutes: 9}, 0}, {Awaited{Kind: Answer, Name: "horn"}, 2}, {Awaited{Kind: Delivery, Part: "skin"}, 1}, {Awaited{Kind: Delivery, Part: "horn"}, 0}} {
		if got := s.waitFor(c.of); got != c.want {
			t.Errorf("%+v: %d", c.of, got)
		}
	}
	if len(s.Waits()) != 3 {
		t.Errorf("%+v", s.Waits())
	}
}

// By hand: one person, or one bay, or one tool, serves a step of 60 minutes, then one of no time that waits for
// a delivery, then one of 60 minutes. When the delivery comes a day late, so is the last one.
func TestStepOfNoTimeKeepsItsPlace(t *testing.T) {
	in := input(weldF1)
	slips, ok := NewSlips(in)
	if !ok {
		t.Fatal("no calendar")
	}
	eight := time.Date(2026, 3, 2, 8, 0, 0, 0, shop.WallClock)
	for name, serves := range map[string]func(s *Step){
		"person": func(s *Step) { s.Person = "p1" }, "bay": func(s *Step) { s.BayID = "b1" }, "equipment": func(s *Step) { s.Equipment = []string{"welder"} },
	} {
		p := Plan{Start: in.Job.Start, Finish: in.Job.Start}
		for k, min := range []float64{60, 0, 60} {
			s := Step{ID: string(rune('A' + k)), Minutes: min, From: eight.Add(time.Duration((k+1)/2) * time.Hour)}
			s.To = s.From.Add(time.Duration(min) * time.Minute)
			serves(&s)
			p.Steps = append(p.Steps, s)
		}
		p.Steps[1].Awaits = []Awaited{{Kind: Delivery, Part: "horn", Minutes: 60}}
		s, ok := slips.Of(p)
		if !ok {
			t.Fatal("no calculation")
		}
		for _, c := range []struct {
			wait float64
			days int
		}{{0, 1}, {60, 1}, {1440, 2}, {2 * 1440, 3}} {
			if got, ends := oneSlip(s, []float64{1, 1, 1}, []float64{c.wait}); got != c.days || ends[2] != ends[1]+60 {
				t.Errorf("%s, delivered after %g min: %d days, want %d, ends %v", name, c.wait, got, c.days, ends)
			}
		}
	}
}
