package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Minutes are whole, rounded up; less than a thousandth of a millionth is rounding.
func TestWholeMinutes(t *testing.T) {
	for v, want := range map[float64]int{0: 0, 0.4: 1, 1: 1, 1 + 1e-10: 1, 1 + 1e-8: 2, 1.5: 2, 2 - 1e-10: 2} {
		if got := whole(v); got != want {
			t.Errorf("%v is %d min, want %d", v, got, want)
		}
	}
}

// By hand: what nobody works, waits or takes so long blocks; at the limit it does not.
func TestEndlessWorkAtItsLimit(t *testing.T) {
	const most = mostWork
	for _, c := range []struct {
		steps []Step
		want  bool
	}{
		{[]Step{{Minutes: most}}, false}, {[]Step{{Minutes: most + 1}}, true},
		{[]Step{{WaitMin: most}}, false}, {[]Step{{WaitMin: most + 1}}, true},
		{[]Step{{Awaits: []Awaited{{Minutes: most}}}}, false}, {[]Step{{Awaits: []Awaited{{Minutes: most + 1}}}}, true},
		{[]Step{{Minutes: most - 5}, {Minutes: 5}}, false}, {[]Step{{Minutes: most - 5}, {Minutes: 6}}, true},
		{[]Step{{WaitMin: most}, {WaitMin: most}}, false},
	} {
		b := newBuilder(input())
		var dated []*node
		for _, s := range c.steps {
			dated = append(dated, &node{step: s})
		}
		if got := b.endless(dated); got != c.want || (blocking(b.notes) == "plan.endless") != c.want {
			t.Errorf("%+v: endless %t, %v", c.steps, got, b.notes)
		}
	}
	for to, want := range map[int]bool{lastMinute: false, lastMinute + 1: true} {
		if got := beyondDates(sched.Solution{Slots: []sched.Slot{{To: 3}, {To: to}, {To: 5}}}); got != want {
			t.Errorf("to minute %d: beyond dates %t", to, got)
		}
	}
}

// Constructed: no date is told for what nobody knows the beginning of, for what follows such a
// step or one of unknown length, and for what is done in one go with any of them.
func TestStepsWithoutADate(t *testing.T) {
	for mask := range 1 << 4 {
		b := newBuilder(input())
		a, c, d, e, f := &node{}, &node{}, &node{}, &node{}, &node{}
		c.after, d.after, f.after = []*node{a}, []*node{c}, []*node{e}
		d.step.Together, e.step.Together = "x", "x"
		a.unbegun, a.undated, e.unbegun = mask&1 != 0, mask&2 != 0, mask&4 != 0
		b.chain["x"] = &chainWant{unknown: mask&8 != 0}
		b.nodes = []*node{a, c, d, e, f}
		none := map[*node]bool{a: a.unbegun}
		none[c] = a.unbegun || a.undated
		chain := mask&8 != 0 || e.unbegun
		none[d], none[e] = none[c] || chain, chain
		none[f] = none[e]
		for _, n := range b.dated() {
			if none[n] {
				t.Errorf("case %b: step %d has a date", mask, slices.Index(b.nodes, n))
			}
			delete(none, n)
		}
		for n, no := range none {
			if !no {
				t.Errorf("case %b: step %d has none", mask, slices.Index(b.nodes, n))
			}
		}
	}
}

// Against the days one by one: days with working time between two days.
func TestWorkDaysSeeds(t *testing.T) {
	for seed := range uint64(50) {
		rng := rand.New(rand.NewPCG(seed, 72))
		var cal sched.Calendar
		for d := range cal.Week {
			if rng.IntN(3) > 0 {
				cal.Week[d] = []sched.Window{{From: 480, To: 960}}
			}
		}
		for range rng.IntN(4) {
			cal.Off = append(cal.Off, rng.IntN(20))
		}
		first := monday(0)
		from := rng.IntN(15)
		to := from + rng.IntN(15)
		want := 0
		for d := from; d <= to; d++ {
			if len(cal.Week[d%7]) > 0 && !slices.Contains(cal.Off, d) {
				want++
			}
		}
		if got := workDays(cal, first, first.AddDays(from), first.AddDays(to)); got != want {
			t.Errorf("seed %d: %d working days, want %d", seed, got, want)
		}
		start := 0
		for cal.Week[start%7] == nil || slices.Contains(cal.Off, start) {
			if start++; start > 3650 {
				break
			}
		}
		if got := startOfWork(cal); start <= 3650 && got != start*1440+480 {
			t.Errorf("seed %d: work begins at %d, want day %d", seed, got, start)
		}
	}
	if got := startOfWork(sched.Calendar{}); got != 0 {
		t.Errorf("a calendar without work begins at %d", got)
	}
}

// Constructed: of equipment the shop has as many as it lists; a step that names one twice
// takes one; what the shop has not blocks.
func TestEquipmentIsCounted(t *testing.T) {
	in := input()
	in.Shop.Equipment = []string{"welder", "lamp", "welder", "lamp", "welder"}
	b := newBuilder(in)
	var prob sched.Problem
	pools := b.pools(&prob)
	if fmt.Sprint(prob.Pools) != "[{welder 3} {lamp 2}]" || pools["welder"] != 0 || pools["lamp"] != 1 {
		t.Errorf("%v %v", prob.Pools, pools)
	}
	var cal sched.Calendar
	n := &node{step: Step{Name: "x", Skill: "alu", Equipment: []string{"lamp", "welder", "lamp", "hoist"}}}
	a := b.activity(n, nil, pools, &cal, 0, nil)
	if fmt.Sprint(a.Draws) != "[{1 1} {0 1}]" || blocking(b.notes) != "plan.no-equipment" {
		t.Errorf("%v, %v", a.Draws, b.notes)
	}
}

// Constructed: a hold point that asks for a second person goes to somebody whom another one of
// the shop may pass: one who may inspect, is somebody else, and has not left.
func TestSecondPersonIsSomebodyElse(t *testing.T) {
	left := shop.Absence{Person: "p3", From: monday(0).AddDays(-30)}
	back := shop.Absence{Person: "p3", From: monday(0).AddDays(-30), To: monday(0).AddDays(60)}
	for name, c := range map[string]struct {
		inspect []string
		absent  []shop.Absence
		want    bool // somebody with the skill alu is passed by another
	}{
		"nobody inspects": {nil, nil, false}, "only who does it": {[]string{"p2"}, nil, false}, "somebody else": {[]string{"p3"}, nil, true},
		"both": {[]string{"p2", "p3"}, nil, true}, "who has left": {[]string{"p3"}, []shop.Absence{left}, false}, "who comes back": {[]string{"p3"}, []shop.Absence{back}, true},
	} {
		in := input()
		in.Shop.People = append(in.Shop.People, shop.Person{ID: "p3", Skills: []body.SkillID{"other"}})
		for k := range in.Shop.People {
			if slices.Contains(c.inspect, in.Shop.People[k].ID) {
				in.Shop.People[k].May = []shop.Authority{shop.MayInspect}
			}
		}
		in.Shop.Absences = c.absent
		b := newBuilder(in)
		var prob sched.Problem
		b.staff(&prob, nil)
		if got := b.passedByOther("p2"); got != c.want {
			t.Errorf("%s: passed by another %t", name, got)
		}
		if got := someoneWatched(prob.Workers, "alu"); got != c.want {
			t.Errorf("%s: somebody is watched %t", name, got)
		}
		a := sched.Activity{Skill: "alu"}
		b.secondPerson(&node{step: Step{Name: "x", Skill: "alu"}}, &a, prob.Workers)
		if a.Skill != "alu" || len(b.notes) > 0 {
			t.Errorf("%s: without a hold point %q, %v", name, a.Skill, b.notes)
		}
		b.secondPerson(&node{step: Step{Name: "x", Skill: "alu", Second: true}}, &a, prob.Workers)
		if told := len(b.notes) > 0; told == c.want || c.want != (a.Skill == watched("alu")) {
			t.Errorf("%s: by %q, %v", name, a.Skill, b.notes)
		}
	}
}

// Constructed: the dates of a plan by its slots; a bound after the end counts as the end.
func TestSpanOfAPlan(t *testing.T) {
	day0 := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	cal, _, _ := newBuilder(input()).calendar()
	for _, c := range []struct {
		wait         float64
		least        int
		finish       int // day of March
		span, bound  float64
		days, worked int
		proven       bool
	}{
		{0, 1440 + 600, 3, 1440 + 120, 1440 + 120, 2, 2, true}, // 8:00 to 10:00 the next day
		{0, 1440 + 599, 3, 1440 + 120, 1440 + 119, 2, 2, false},
		{0, 1440 + 700, 3, 1440 + 120, 1440 + 120, 2, 2, true},
		{14 * 60, 2880, 4, 1440 + 960, 1440 + 960, 3, 2, true}, // over at midnight
		{13*60 + 59, 2879, 3, 1440 + 959, 1440 + 959, 2, 2, true},
	} {
		b := newBuilder(input())
		x, y := &node{step: Step{From: day0.Add(480 * time.Minute), To: day0.Add(490 * time.Minute)}}, &node{step: Step{From: day0.Add(500 * time.Minute), To: day0.Add(2040 * time.Minute), WaitMin: c.wait}}
		b.nodes = []*node{x, y}
		p := Plan{Start: monday(0)}
		b.span(&p, sched.Solution{}, c.least, b.nodes, 480, day0, cal)
		if p.Finish != (unit.Date{Year: 2026, Month: 3, Day: c.finish}) || p.SpanMin != c.span || p.BoundMin != c.bound || p.Calendar != c.days || p.WorkDays != c.worked || p.Proven != c.proven {
			t.Errorf("%+v: %v, span %g, bound %g, %d days, %d of work, proven %t", c, p.Finish, p.SpanMin, p.BoundMin, p.Calendar, p.WorkDays, p.Proven)
		}
		for name, change := range map[string]func(p *Plan){
			"a step without a date": func(p *Plan) { b.span(p, sched.Solution{}, c.least, b.nodes[:1], 480, day0, cal) },
			"an unknown last wait": func(p *Plan) {
				y.undated = true
				b.span(p, sched.Solution{}, c.least, b.nodes, 480, day0, cal)
			},
			"no steps": func(p *Plan) { b.nodes = nil; b.span(p, sched.Solution{}, c.least, nil, 480, day0, cal) },
		} {
			nodes := b.nodes
			none := Plan{Start: monday(0)}
			if change(&none); !none.Finish.IsZero() || none.Proven {
				t.Errorf("%s: done on %v", name, none.Finish)
			}
			b.nodes, y.undated = nodes, false
		}
	}
}
