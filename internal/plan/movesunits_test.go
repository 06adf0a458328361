package plan

import (
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/sched"
	"fettle/internal/shop"
)

// moverOf is a mover of a shop with two benches and a booth.
func moverOf(carry bool) *mover {
	in := input()
	in.Shop.Bays = []shop.Bay{{ID: "b1", Kind: "bench", Name: "Bench", In: 11, Out: 7}, {ID: "b2", Kind: "bench", Name: "Other bench", In: 4, Out: 9}, {ID: "b3", Kind: "booth", Name: "Booth", In: 5, Out: 3}}
	in.Shop.Moving = &shop.Moving{Skill: "mech"}
	if carry {
		in.Shop.Moving.Carry = &shop.Carry{More: 9, Equipment: []string{"trolley"}}
	}
	return &mover{b: newBuilder(in)}
}

// By hand: the most and the least minutes of leaving and entering the bays of a kind, and how
// they and the places are told.
func TestMinutesOfMoves(t *testing.T) {
	m := moverOf(false)
	for _, c := range []struct {
		kind  string
		most  float64
		least float64
	}{{"bench", 11, 4}, {"booth", 5, 5}, {Yard, 0, 0}} {
		if most, least := m.minutes(c.kind, enter, false), m.minutes(c.kind, enter, true); most != c.most || least != c.least {
			t.Errorf("into %s: %g and %g, want %g and %g", c.kind, most, least, c.most, c.least)
		}
	}
	if most, least := m.minutes("bench", leave, false), m.minutes("bench", leave, true); most != 9 || least != 7 {
		t.Errorf("out of the bench: %g and %g", most, least)
	}
	for want, got := range map[string]string{
		"the yard": m.called(Yard), "Booth": m.called("booth"), "a bay of the kind bench": m.called("bench"), "a bay of the kind oven": m.called("oven"),
		"out of a bay of the kind bench 9 min + into Booth 5 min": m.sum("bench", "booth"), "into a bay of the kind bench 11 min": m.sum(Yard, "bench"), "out of Booth 3 min": m.sum("booth", Yard)} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// By hand: a move against one time in which the vehicle does not roll, by the dates of the first
// schedule: from the beginning of f to the end of g and its wait; before is over at 100, behind
// begins at 200. It is kept after the time, or the time after it, or the vehicle is carried.
func TestMoveAgainstWhatKeepsItFromRolling(t *testing.T) {
	at := func(minute int) time.Time { return time.Date(2026, 3, 2, 0, minute, 0, 0, time.UTC) }
	step := func(from, to int) *node { return &node{step: Step{Name: "x", From: at(from), To: at(to)}} }
	const (
		after  = "after it"
		first  = "before it"
		within = "carried"
		never  = "not moved"
	)
	for _, c := range []struct {
		name           string
		begin, end     int // of the time; 0: no date
		carried, roled string
	}{
		{"over before", 50, 90, after, after},
		{"over when the next step begins", 50, 200, after, after},
		{"over a minute later", 50, 201, within, first},
		{"begins when the last one is over", 100, 150, first, first},
		{"begins a minute before", 99, 150, after, after},
		{"begins between, ends after", 150, 300, first, first},
		{"begins after", 210, 300, first, first},
		{"no end that is known", 50, 0, within, first},
		{"no date", 0, 0, first, first},
	} {
		for carry, want := range map[bool]string{true: c.carried, false: c.roled} {
			m := moverOf(carry)
			f, g := step(c.begin, c.begin+1), step(c.end-1, c.end-10)
			g.step.WaitMin = 10
			if c.begin == 0 {
				f.step.From = time.Time{}
			}
			if c.end == 0 {
				g.step.From = time.Time{}
			}
			m.stills = []stillness{{name: "none"}, {name: "it", from: []*node{f}, to: []*node{g}}}
			n := m.node("bench", "booth", 12)
			n.step.Name = "Move 2"
			before, behind := []*node{step(80, 100), step(10, 20)}, []*node{step(250, 260), step(200, 210)}
			ok := m.rolling(n, before, behind)
			got := never
			switch {
			case !n.step.Move.Rolls && ok:
				got = within
			case slices.Contains(n.after, g):
				got = after
			case slices.Contains(f.after, n):
				got = first
			}
			if got != want || ok != (want != never) {
				t.Errorf("%s, carried %t: %s (%t), want %s", c.name, carry, got, ok, want)
			}
			if got == within && (n.step.Minutes != 21 || !strings.Contains(n.step.Sum, "+ carried 9 min") || n.step.Move.Off != "it" || !slices.Contains(n.after, f) || !slices.Contains(g.after, n)) {
				t.Errorf("%s: carried as %+v, %+v", c.name, n.step, n.step.Move)
			}
		}
	}
	// Bound on both sides: the move comes after f and before g anyway.
	for carry, want := range map[bool]string{true: within, false: never} {
		m := moverOf(carry)
		f, g := step(50, 60), step(300, 310)
		n := m.node("bench", "booth", 12)
		n.after, g.after = []*node{f}, []*node{n}
		m.stills = []stillness{{name: "it", from: []*node{f}, to: []*node{g}}}
		if ok := m.rolling(n, []*node{f}, []*node{g}); ok != carry || n.unbegun == carry || (blocking(m.b.notes) == "plan.cannot-roll") == carry {
			t.Errorf("bound on both sides, carried %t: %t, %v, want %s", carry, ok, m.b.notes, want)
		}
	}
	// Bound behind f only, and what does not roll ends: after its end, where it cannot be carried.
	m := moverOf(false)
	f, g := step(50, 60), step(300, 310)
	n := m.node("bench", "booth", 12)
	n.after = []*node{f}
	m.stills = []stillness{{name: "it", from: []*node{f}, to: []*node{g}}}
	if !m.rolling(n, []*node{f}, []*node{step(200, 210)}) || !slices.Contains(n.after, g) {
		t.Errorf("bound behind: %v", m.b.notes)
	}
}

// By hand: what comes before what, and the times a step surely lies in.
func TestWhatComesBeforeWhat(t *testing.T) {
	a, b, c, d := &node{}, &node{}, &node{}, &node{}
	b.after, c.after, d.after = []*node{a}, []*node{b}, []*node{a}
	for _, x := range []struct {
		from, to *node
		want     bool
	}{{a, b, true}, {a, c, true}, {b, c, true}, {c, a, false}, {a, a, false}, {d, c, false}, {a, d, true}} {
		if got := reaches(x.from, x.to); got != x.want {
			t.Errorf("%t, want %t", got, x.want)
		}
	}
	stills := []stillness{{from: []*node{a}, to: []*node{c}}, {from: []*node{b}, to: []*node{c}}, {from: []*node{a}}, {from: []*node{d}}, {to: []*node{c}}, {from: []*node{d, a}, to: []*node{d, c}}}
	if got := surely(stills, b); got != 0b100101 {
		t.Errorf("surely within %b", got)
	}
	many := make([]stillness, 70)
	for k := range many {
		many[k] = stillness{from: []*node{a}}
	}
	if got := surely(many, b); got != 1<<64-1 {
		t.Errorf("of seventy: %b", got)
	}
}

// By hand: a step is done in a bay of the shop where it names one of its kinds and takes time.
func TestStepsInBays(t *testing.T) {
	m := moverOf(false)
	for _, c := range []struct {
		bay     body.BayKind
		minutes float64
		want    bool
	}{{"bench", 1, true}, {"booth", 0.5, true}, {"bench", 0, false}, {"oven", 5, false}, {"", 5, false}} {
		if got := m.b.inBay(&node{step: Step{Bay: c.bay, Minutes: c.minutes}}); got != c.want {
			t.Errorf("%+v: %t", c, got)
		}
	}
}

// By hand: where the vehicle stands by the moves among steps, whatever their order in the list;
// steps without a date stand nowhere, and without a move nothing is said.
func TestPlacesByMoves(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2026, 3, 2, h, 0, 0, 0, time.UTC) }
	steps := []Step{{Name: "c", From: at(12)}, {Name: "in", From: at(9), BayID: "b1", Move: &Move{From: Yard, To: "bench"}}, {Name: "none"}, {Name: "out", From: at(11), Move: &Move{From: "bench", To: Yard}}, {Name: "b", From: at(10)}, {Name: "a", From: at(8)}}
	out := placesOf(steps, at(7))
	var got []string
	for _, s := range steps {
		got = append(got, s.Name+" "+s.At)
	}
	if want := "c yard,in b1,none ,out yard,b b1,a yard"; strings.Join(got, ",") != want {
		t.Errorf("%q", got)
	}
	if len(out) != 3 || out[0] != (Stand{Yard, at(7), at(9)}) || out[1] != (Stand{"b1", at(9), at(11)}) || out[2] != (Stand{Yard, at(11), time.Time{}}) {
		t.Errorf("%+v", out)
	}
	if out := placesOf(steps[4:], at(7)); out != nil {
		t.Errorf("without a move: %+v", out)
	}
}

// By hand: up to three steps of a job are named that begin the minute another job's step ends
// that the same person works on; not those of its own job, of somebody else, or that took no
// time.
func TestStepsThatWaitForAPerson(t *testing.T) {
	sh := weekShop()
	w := &week{sh: sh, out: Week{Jobs: []WeekJob{{ID: "J0"}, {ID: "J1"}}}}
	var sol sched.Solution
	add := func(job int, name string, worker, from, to int) {
		w.refs = append(w.refs, weekRef{job: job, step: Step{Name: name}})
		sol.Slots = append(sol.Slots, sched.Slot{Worker: worker, Place: -1, From: from, To: to})
	}
	add(0, "a", 0, 100, 110)    // begins when A is done with p
	add(1, "none", 0, 100, 100) // took no time
	add(0, "own", 0, 90, 100)
	add(1, "other", 1, 90, 100)
	add(1, "p", 0, 80, 100)
	add(1, "again", 0, 70, 100) // one is named
	add(0, "b", 1, 101, 102)    // a minute later
	add(0, "c", -1, 100, 102)   // by nobody
	add(1, "by nobody", -1, 90, 100)
	j := &w.out.Jobs[0]
	w.waits(j, 0, sol)
	if want := `a begins when A is done with "p" of J1`; len(j.Waiting) != 1 || j.Waiting[0] != want {
		t.Errorf("%q, want %q", j.Waiting, want)
	}
	for k := range 5 {
		add(0, "more", 1, 200+10*k, 205+10*k)
		add(1, "x", 1, 195+10*k, 200+10*k)
	}
	j.Waiting = nil
	if w.waits(j, 0, sol); len(j.Waiting) != 3 {
		t.Errorf("%d steps are named: %q", len(j.Waiting), j.Waiting)
	}
}
