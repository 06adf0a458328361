package sched

import (
	"math/rand/v2"
	"strings"
	"testing"
)

// halves is a calendar with two windows of ten minutes on every day, apart from one another.
func halves() Calendar {
	var c Calendar
	for d := range c.Week {
		c.Week[d] = []Window{{0, 10}, {20, 30}}
	}
	return c
}

// one is a slot of somebody; at is one where it needs nobody.
func one(worker, from, to int) Slot { return Slot{Worker: worker, Place: -1, From: from, To: to} }
func in(place, from, to int) Slot   { return Slot{Worker: -1, Place: place, From: from, To: to} }
func at(from, to int) Slot          { return Slot{Worker: -1, Place: -1, From: from, To: to} }

// told is a schedule that says of itself what its slots say.
func told(slots ...Slot) Solution {
	s := Solution{Slots: slots}
	for _, x := range slots {
		s.FinishMin = max(s.FinishMin, x.To)
	}
	return s
}

// rule is a schedule that keeps a rule of the problem to the last unit for 0, and breaks this
// one rule by one unit for 1.
type ruled struct {
	name, told string
	of         func(n int) (Problem, Solution)
}

// kept holds the judge to rules: what keeps them to the unit passes, what breaks one by a
// unit is refused, and for this rule.
func kept(t *testing.T, rules []ruled) {
	t.Helper()
	for _, r := range rules {
		for n := range 2 {
			p, s := r.of(n)
			err := Verify(p, s)
			switch {
			case n == 0 && err != nil:
				t.Errorf("%s: kept to the unit, and refused: %v", r.name, err)
			case n == 1 && (err == nil || !strings.Contains(err.Error(), r.told)):
				t.Errorf("%s: broken by a unit, and judged: %v, want %q", r.name, err, r.told)
			}
		}
	}
}

// By hand: what one activity has to keep.
func TestJudgeOfOneActivity(t *testing.T) {
	a := func(a Activity) Problem {
		a.ID = "a"
		return Problem{Calendar: halves(), Activities: []Activity{a}, Workers: []Worker{{ID: "w", Skills: []string{"s"}}, {ID: "v", Skills: []string{"t", "s"}}},
			Places: []Place{{ID: "P", Kind: "x"}, {ID: "Q", Kind: "y"}}}
	}
	kept(t, []ruled{
		{"a slot for each", "0 slots for 1", func(n int) (Problem, Solution) { return a(Activity{}), told([]Slot{at(0, 0)}[:1-n]...) }},
		{"a slot for each, and none more", "2 slots for 1", func(n int) (Problem, Solution) {
			return a(Activity{Minutes: 1}), told([]Slot{at(0, 1), at(0, 1)}[:1+n]...)
		}},
		{"the start of the problem", "before it is released", func(n int) (Problem, Solution) {
			p := a(Activity{Minutes: 1})
			p.Start = 5 + n
			return p, told(at(5, 6))
		}},
		{"its release", "before it is released", func(n int) (Problem, Solution) { return a(Activity{Minutes: 1, Release: 5 + n}), told(at(5, 6)) }},
		{"its minutes, no more", "takes 4 working minutes, not 3", func(n int) (Problem, Solution) { return a(Activity{Minutes: 3}), told(at(8, 21+n)) }},
		{"its minutes, no fewer", "takes 2 working minutes, not 3", func(n int) (Problem, Solution) { return a(Activity{Minutes: 3}), told(at(8+n, 21)) }},
		{"while somebody works", "when nobody works", func(n int) (Problem, Solution) { return a(Activity{Minutes: 1}), told(at(20-n, 21)) }},
		{"while somebody works, after a window", "when nobody works", func(n int) (Problem, Solution) { return a(Activity{Minutes: 2 - n}), told(at(9+n, 21)) }},
		{"a worker where it needs one", "lacks one", func(n int) (Problem, Solution) { return a(Activity{Minutes: 1, Skill: "s"}), told(one(-n, 0, 1)) }},
		{"no worker where it needs none", "does not need", func(n int) (Problem, Solution) { return a(Activity{Minutes: 1}), told(one(n-1, 0, 1)) }},
		{"a place where it needs one", "lacks one", func(n int) (Problem, Solution) { return a(Activity{Minutes: 1, Place: "x"}), told(in(-n, 0, 1)) }},
		{"no place where it needs none", "does not need", func(n int) (Problem, Solution) { return a(Activity{Minutes: 1}), told(in(n-1, 0, 1)) }},
		{"a worker with the skill", "has not the skill t", func(n int) (Problem, Solution) { return a(Activity{Minutes: 1, Skill: "t"}), told(one(1-n, 0, 1)) }},
		{"a place of the kind", "not of the kind y", func(n int) (Problem, Solution) { return a(Activity{Minutes: 1, Place: "y"}), told(in(1-n, 0, 1)) }},
		{"a place that is free", "before P is free", func(n int) (Problem, Solution) {
			p := a(Activity{Minutes: 1, Place: "x"})
			p.Places[0].Free = 4 + n
			return p, told(in(0, 4, 5))
		}},
		{"the finish that is told", "told as", func(n int) (Problem, Solution) {
			s := told(at(0, 3))
			s.FinishMin -= n
			return a(Activity{Minutes: 3}), s
		}},
		{"the bound that is told", "with bound 4", func(n int) (Problem, Solution) {
			s := told(at(0, 3))
			s.BoundMin = 3 + n
			return a(Activity{Minutes: 3}), s
		}},
		{"the bound of work that is told", "told as", func(n int) (Problem, Solution) {
			s := told(at(0, 3))
			s.WorkMin, s.WorkBound = 3, 3+n
			return a(Activity{Minutes: 3}), s
		}},
		{"minutes left of the day", "begins with 3 minutes of the day left, not 4", func(n int) (Problem, Solution) {
			p := a(Activity{Minutes: 9})
			p.Least = 4
			return p, told(at(26+n, dayMin+5+n))
		}},
		{"as many as it takes", "left, not 2", func(n int) (Problem, Solution) {
			p := a(Activity{Minutes: 2})
			p.Least = 4
			return p, told(at(28+n, 30+n*(dayMin-29)))
		}},
		{"as many as the shortest day has", "left, not 6", func(n int) (Problem, Solution) {
			p := a(Activity{Minutes: 9})
			p.Calendar.Week[4], p.Calendar.Week[5], p.Least = []Window{{0, 2}, {3, 7}}, nil, 15
			return p, told(at(24+n, dayMin+3+n))
		}},
	})
	p := a(Activity{})
	if err := Verify(p, told(at(13, 13))); err != nil {
		t.Errorf("what takes no time was held to the hours of work: %v", err)
	}
	p.Least, p.Activities[0].Place, p.Places[0].Free = 4, "x", 20
	if err := Verify(p, told(in(0, 13, 13))); err != nil {
		t.Errorf("what takes no time was held to the hours of work or the place: %v", err)
	}
}

// By hand: what two activities have to keep towards one another.
func TestJudgeOfLags(t *testing.T) {
	two := func(l Lag) Problem {
		return Problem{Calendar: halves(), Activities: []Activity{{ID: "a", Minutes: 3}, {ID: "b", Minutes: 1, After: []Lag{l}}}}
	}
	after := func(name, told string, l Lag, first, keeps, breaks Slot) ruled {
		return ruled{name, told, func(n int) (Problem, Solution) {
			s := Solution{Slots: []Slot{first, []Slot{keeps, breaks}[n]}, FinishMin: 9999}
			return two(l), s
		}}
	}
	kept(t, []ruled{
		after("none", "begins -1 minutes after a, not 0", Lag{}, at(0, 3), at(3, 4), at(2, 3)),
		after("of the clock, through the break", "begins 19 minutes after a, not 20", Lag{Minutes: 20, Clock: Elapsed}, at(2, 5), at(25, 26), at(24, 25)),
		after("of the clock, from the start", "begins 22 minutes after a, not 23", Lag{Minutes: 23, Clock: Elapsed, From: Start}, at(2, 5), at(25, 26), at(24, 25)),
		after("of work, through the break", "begins 9 minutes after a, not 10", Lag{Minutes: 10}, at(2, 5), at(25, 26), at(24, 25)),
		after("of work, from the start", "begins 12 minutes after a, not 13", Lag{Minutes: 13, From: Start}, at(2, 5), at(25, 26), at(24, 25)),
		after("the greatest, of the clock", "begins -21 minutes after a, not -20", Lag{Minutes: -20, Clock: Elapsed}, at(22, 25), at(5, 6), at(4, 5)),
		after("the greatest, of work", "begins -11 minutes after a, not -10", Lag{Minutes: -10}, at(22, 25), at(5, 6), at(4, 5)),
		after("the greatest, to the start", "begins -8 minutes after a, not -7", Lag{Minutes: -7, From: Start}, at(22, 25), at(5, 6), at(4, 5)),
	})
}

// By hand: workers, places and pools hold one thing at a time, through breaks and for a whole
// chain.
func TestJudgeOfSharing(t *testing.T) {
	w := func(acts ...Activity) Problem {
		for k := range acts {
			acts[k].ID = string(rune('a' + k))
		}
		return Problem{Calendar: halves(), Activities: acts, Workers: []Worker{{ID: "w", Skills: []string{"s"}}, {ID: "v", Skills: []string{"s"}}},
			Places: []Place{{ID: "P", Kind: "x"}, {ID: "Q", Kind: "x"}}, Pools: []Pool{{"other", 10}, {"pool", 3}}}
	}
	work, stand := Activity{Minutes: 3, Skill: "s"}, Activity{Minutes: 3, Place: "x"}
	draw := func(n int) Activity { return Activity{Minutes: 3, Draws: []Draw{{0, 5}, {1, n}}} }
	kept(t, []ruled{
		{"a worker", "shares a worker", func(n int) (Problem, Solution) { return w(work, work), told(one(1, 1, 4), one(1, 4-n, 7-n)) }},
		{"a worker, the other way round", "shares a worker", func(n int) (Problem, Solution) { return w(work, work), told(one(0, 4-n, 7-n), one(0, 1, 4)) }},
		{"another worker", "shares a worker", func(n int) (Problem, Solution) { return w(work, work), told(one(0, 0, 3), one(1-n, 0, 3)) }},
		{"a place", "shares a worker or place", func(n int) (Problem, Solution) { return w(stand, stand), told(in(1, 1, 4), in(1, 4-n, 7-n)) }},
		{"another place", "shares a worker or place", func(n int) (Problem, Solution) { return w(stand, stand), told(in(0, 0, 3), in(1-n, 0, 3)) }},
		{"a place through the break", "shares", func(n int) (Problem, Solution) { return w(stand, stand), told(in(0, 8, 21), in(0, 21-n, 24-n)) }},
		{"a pool", "4 of pool are taken when it begins, of 3", func(n int) (Problem, Solution) { return w(draw(1), draw(3)), told(at(1, 4), at(4-n, 7-n)) }},
		{"a pool, when the first begins later", "4 of pool are taken", func(n int) (Problem, Solution) { return w(draw(1), draw(3)), told(at(4-n, 7-n), at(1, 4)) }},
		{"what a pool holds", "4 of pool are taken", func(n int) (Problem, Solution) { return w(draw(1), draw(2+n)), told(at(1, 4), at(1, 4)) }},
		{"what a chain draws most", "4 of pool are taken", func(n int) (Problem, Solution) {
			p := w(draw(1), draw(2), draw(1+n))
			p.Chains = []Chain{{ID: "c", Members: []int{0, 1}}}
			return p, told(at(0, 3), at(3, 6), at(0, 3))
		}},
		{"what a chain needs later, from its start", "shares", func(n int) (Problem, Solution) {
			p := w(work, Activity{}, stand, stand)
			p.Chains = []Chain{{ID: "c", Members: []int{1, 0, 2}}}
			return p, told(one(0, 3-n, 6-n), at(3-n, 3-n), in(0, 6-n, 9-n), in(0, 0, 3))
		}},
		{"what a chain needs later, from the first minute", "shares", func(n int) (Problem, Solution) {
			p := w(work, stand, Activity{Minutes: 1, Place: "x"})
			p.Chains = []Chain{{ID: "c", Members: []int{0, 1}}}
			return p, told(one(0, 0, 3), in(0, 3, 6), in(0, 6-n*5, 7-n*5))
		}},
		{"what a chain needed, to its end", "shares", func(n int) (Problem, Solution) {
			p := w(stand, work, Activity{}, stand)
			p.Chains = []Chain{{ID: "c", Members: []int{0, 1, 2}}}
			return p, told(in(0, 0, 3), one(0, 3, 6), at(6, 6), in(0, 6-n, 9-n))
		}},
		{"a chain and another chain", "shares", func(n int) (Problem, Solution) {
			p := w(work, work)
			p.Chains = []Chain{{ID: "c", Members: []int{0}}, {ID: "d", Members: []int{1}}}
			return p, told(one(0, 0, 3), one(0, 3-n, 6-n))
		}},
	})
	p := w(work, Activity{Skill: "s"}, Activity{Place: "x"}, stand)
	if err := Verify(p, told(one(0, 0, 3), one(0, 1, 1), in(0, 1, 1), in(0, 0, 3))); err != nil {
		t.Errorf("what takes no time was kept out: %v", err)
	}
}

// By hand: what is done in one go has no gap, one worker and its window.
func TestJudgeOfChains(t *testing.T) {
	w := func(window int, min ...int) Problem {
		p := Problem{Calendar: halves(), Workers: []Worker{{ID: "w", Skills: []string{"s"}}, {ID: "v", Skills: []string{"s"}}}, Chains: []Chain{{ID: "other"}, {ID: "c", Window: window}}}
		for k, m := range min {
			p.Activities = append(p.Activities, Activity{ID: string(rune('a' + k)), Minutes: m, Skill: "s"})
			p.Chains[1].Members = append(p.Chains[1].Members, k)
		}
		return p
	}
	broken := func(s Solution, b ...Broken) Solution { s.Broken = b; return s }
	kept(t, []ruled{
		{"no gap", "gap before b", func(n int) (Problem, Solution) { return w(0, 3, 3), told(one(0, 1, 4), one(0, 4+n, 7+n)) }},
		{"no gap before the third", "gap before c", func(n int) (Problem, Solution) {
			return w(0, 1, 1, 1), told(one(0, 0, 1), one(0, 1, 2), one(0, 2+n, 3+n))
		}},
		{"no gap of work", "gap before b", func(n int) (Problem, Solution) { return w(0, 3, 3), told(one(0, 7-n, 10-n), one(0, 20, 23)) }},
		{"in its order", "gap before b", func(n int) (Problem, Solution) { return w(0, 3, 3), told(one(0, 4, 7), one(0, 7-n, 10-n)) }},
		{"one worker", "the worker changes at b", func(n int) (Problem, Solution) { return w(0, 3, 3), told(one(0, 0, 3), one(n, 3, 6)) }},
		{"one worker, after what needs none", "the worker changes at c", func(n int) (Problem, Solution) {
			p := w(0, 3, 1, 3)
			p.Activities[1].Skill = ""
			return p, told(one(0, 0, 3), at(3, 4), one(n, 4, 7))
		}},
		{"one worker, unless that is told of this chain", "the worker changes", func(n int) (Problem, Solution) {
			return w(0, 3, 3), broken(told(one(0, 0, 3), one(1, 3, 6)), Broken{Chain: "other"}, Broken{Chain: "c", NoWorker: n == 0})
		}},
		{"told of another chain", "the worker changes", func(n int) (Problem, Solution) {
			return w(0, 3, 3), broken(told(one(0, 0, 3), one(1, 3, 6)), Broken{Chain: []string{"c", "other"}[n], NoWorker: true})
		}},
		{"its window", "it takes 6 minutes of a window of 5", func(n int) (Problem, Solution) { return w(6-n, 3, 3), told(one(0, 0, 3), one(0, 3, 6)) }},
		{"its window, breaks and all", "it takes 16 minutes of a window of 15", func(n int) (Problem, Solution) { return w(16-n, 3, 3), told(one(0, 7, 10), one(0, 20, 23)) }},
		{"its window, without what takes no time", "minutes of a window of 5", func(n int) (Problem, Solution) {
			p := w(6-n, 0, 3, 3, 0)
			return p, told(one(0, 10, 10), one(0, 20, 23), one(0, 23, 26), one(0, 26, 26))
		}},
		{"its window, unless that is told", "window", func(n int) (Problem, Solution) {
			return w(5, 3, 3), broken(told(one(0, 0, 3), one(0, 3, 6)), Broken{Chain: "c", TooLong: n == 0})
		}},
		{"minutes left of the day for all of it", "begins with 5 minutes of the day left, not 6", func(n int) (Problem, Solution) {
			p := w(0, 3, 9)
			p.Least = 6
			return p, told(one(0, 24+n, 27+n), one(0, 27+n, dayMin+6+n))
		}},
	})
}

// By hand: what is kept in a place, and for how long.
func TestJudgeOfHolds(t *testing.T) {
	w := func(h Hold, acts ...Activity) Problem {
		for k := range acts {
			acts[k].ID = string(rune('a' + k))
			if acts[k].Place != "" && acts[k].Minutes == 0 {
				acts[k].Minutes = 2
			}
		}
		h.ID, h.Kind = "H", "x"
		return Problem{Calendar: always(), Activities: acts, Holds: []Hold{h}, Places: []Place{{ID: "P", Kind: "x"}, {ID: "Q", Kind: "x"}, {ID: "R", Kind: "y"}}}
	}
	x, y := Activity{Place: "x"}, Activity{Place: "y"}
	kept(t, []ruled{
		{"in one place", "it is in P, but b is done in Q", func(n int) (Problem, Solution) {
			return w(Hold{Members: []int{0, 1}}, x, x), told(in(0, 0, 2), in(n, 5, 7))
		}},
		{"nothing in it before the last", "P is used by c while", func(n int) (Problem, Solution) {
			return w(Hold{Members: []int{0, 1}}, x, x, x), told(in(0, 10, 12), in(0, 20, 22), in(0, 22-n*4, 24-n*4))
		}},
		{"nothing in it after the first", "P is used by c while", func(n int) (Problem, Solution) {
			return w(Hold{Members: []int{0, 1}}, x, x, x), told(in(0, 10, 12), in(0, 20, 22), in(0, 8+n*4, 10+n*4))
		}},
		{"in another place", "P is used by c while", func(n int) (Problem, Solution) {
			return w(Hold{Members: []int{0, 1}}, x, x, x), told(in(0, 10, 12), in(0, 20, 22), in(1-n, 15, 17))
		}},
		{"what stays before it", "c stays in its place", func(n int) (Problem, Solution) {
			return w(Hold{Members: []int{0, 1}, Owner: "o"}, x, x, Activity{Place: "x", Stay: 3 + n}), told(in(0, 10, 12), in(0, 20, 22), in(0, 5, 7))
		}},
		{"what stays after it", "b stays in its place", func(n int) (Problem, Solution) {
			p := w(Hold{Members: []int{0, 1}}, x, Activity{Place: "x", Stay: 3 + n}, x)
			return p, told(in(0, 10, 12), in(0, 20, 22), in(0, 25, 27))
		}},
		{"from the start on", "is used by b while", func(n int) (Problem, Solution) {
			return w(Hold{Members: []int{0}, Open: n == 1}, x, x), told(in(0, 10, 12), in(0, 0, 2))
		}},
		{"until what lets it go begins", "is used by b while", func(n int) (Problem, Solution) {
			return w(Hold{Members: []int{0}, Until: []int{2, 3}}, x, x, y, y), told(in(0, 10, 12), in(0, 30-n, 32-n), in(2, 40, 42), in(2, 30, 32))
		}},
		{"what stays, though it is let go", "while", func(n int) (Problem, Solution) {
			p := w(Hold{Members: []int{0}, Until: []int{2}}, Activity{Place: "x", Stay: 9}, x, y)
			return p, told(in(0, 10, 12), in(0, 21-n, 23-n), in(2, 12, 14))
		}},
		{"what follows in the same hold", "a stays in its place", func(n int) (Problem, Solution) {
			return w(Hold{Members: []int{0, 1}[:2-n]}, Activity{Place: "x", Stay: 9}, x), told(in(0, 10, 12), in(0, 12, 14))
		}},
		{"another hold of the same owner", "stays in its place", func(n int) (Problem, Solution) {
			p := w(Hold{Members: []int{0}, Owner: "o"}, Activity{Place: "x", Stay: 9}, x)
			p.Holds = append(p.Holds, Hold{ID: "I", Kind: "x", Owner: []string{"o", "i"}[n], Members: []int{1}})
			return p, told(in(0, 10, 12), in(0, 12, 14))
		}},
		{"another hold of nobody's", "stays in its place", func(n int) (Problem, Solution) {
			p := w(Hold{Members: []int{0}}, Activity{Place: "x", Stay: 9 * n}, x)
			p.Holds = append(p.Holds, Hold{ID: "I", Kind: "x", Members: []int{1}})
			return p, told(in(0, 10, 12), in(0, 12, 14))
		}},
		{"what stays, for another activity", "a stays in its place", func(n int) (Problem, Solution) {
			p := w(Hold{}, Activity{Place: "x", Stay: 9}, x)
			if n == 0 {
				p.Chains = []Chain{{ID: "c", Members: []int{0, 1}}}
			}
			return p, told(in(0, 10, 12), in(0, 12, 14))
		}},
	})
	p := w(Hold{Members: []int{0, 1}}, x, x, x, Activity{}, Activity{})
	p.Activities[3].Place, p.Activities[4].Place, p.Holds[0].Members = "x", "x", []int{0, 1, 4}
	if err := Verify(p, told(in(0, 10, 12), in(0, 20, 22), in(1, 15, 17), in(0, 15, 15), in(1, 30, 30))); err != nil {
		t.Errorf("what takes no time was kept out, or held to its place: %v", err)
	}
}

// By hand: a state is set one way at a time, with the minutes between that it takes to set it
// otherwise, and after what has to stay so.
func TestJudgeOfStates(t *testing.T) {
	w := func(a, b Setting) Problem {
		return Problem{Calendar: halves(), States: []string{"other", "lift"}, Activities: []Activity{{ID: "a", Minutes: 2, Sets: []Setting{{State: 0, Value: "-"}, a}}, {ID: "b", Minutes: 2, Sets: []Setting{b}}}}
	}
	up, down := Setting{State: 1, Value: "up"}, Setting{State: 1, Value: "down"}
	stays := up
	stays.Stay = 12
	out, into := up, down
	out.Out, out.More, out.Bits, into.In, into.More, into.Bits = 2, 3, 6, 1, 9, 4
	apart := into
	apart.Bits = 8
	pair := func(name string, a, b Setting, first, keeps, breaks Slot) ruled {
		return ruled{name, "needs lift", func(n int) (Problem, Solution) { return w(a, b), told(first, []Slot{keeps, breaks}[n]) }}
	}
	kept(t, []ruled{
		pair("one after the other", up, down, at(2, 4), at(4, 6), at(3, 5)),
		pair("the other one first", up, down, at(2, 4), at(0, 2), at(1, 3)),
		pair("as long as it has to stay so", stays, down, at(6, 8), at(20, 22), at(9, 21)),
		pair("to the minute", Setting{State: 1, Value: "up", Stay: 3}, down, at(0, 2), at(5, 7), at(4, 6)),
		pair("the other way round, to the minute", down, Setting{State: 1, Value: "up", Stay: 3}, at(5, 7), at(0, 2), at(1, 3)),
		pair("with the minutes between", out, apart, at(0, 2), at(5, 7), at(4, 6)),
		pair("minutes of work, through the break", out, apart, at(5, 7), at(20, 22), at(9, 21)),
		pair("with more where both are alike", out, into, at(0, 2), at(8, 20), at(7, 9)),
		pair("with those of the one that comes first", out, into, at(21, 23), at(0, 2), at(1, 3)),
	})
	if err := Verify(w(up, up), told(at(0, 2), at(0, 2))); err != nil {
		t.Errorf("the same height for both: %v", err)
	}
	p := w(up, Setting{State: 0, Value: "+"})
	p.Activities[0].Sets = []Setting{up}
	if err := Verify(p, told(at(0, 2), at(0, 2))); err != nil {
		t.Errorf("another state: %v", err)
	}
	p = w(up, down)
	p.Activities[1].Minutes = 0
	if err := Verify(p, told(at(0, 2), at(1, 1))); err != nil {
		t.Errorf("what takes no time: %v", err)
	}
	p = w(out, into)
	p.Chains = []Chain{{ID: "c", Members: []int{0, 1}}}
	if err := Verify(p, told(at(0, 2), at(2, 4))); err != nil {
		t.Errorf("what follows in one go: %v", err)
	}
	p.Chains = []Chain{{ID: "c", Members: []int{0}}, {ID: "d", Members: []int{1}}}
	if err := Verify(p, told(at(0, 2), at(2, 4))); err == nil {
		t.Error("two that are each by themselves were taken for one go")
	}
}

// By hand: nothing is under way while who does it, or where it is done, is away; the break of
// what is under way may lie in it.
func TestJudgeOfAway(t *testing.T) {
	w := func(workers, places []Away, min int) Problem {
		return Problem{Calendar: halves(), Activities: []Activity{{ID: "a", Minutes: min, Skill: "s", Place: "x"}}, Workers: []Worker{{ID: "w", Skills: []string{"s"}, Away: workers}}, Places: []Place{{ID: "P", Kind: "x", Away: places}}}
	}
	for k, who := range []string{"w is away", "P is away"} {
		away := func(name string, keeps, breaks Slot, a Away) ruled {
			return ruled{name, who, func(n int) (Problem, Solution) {
				x := []Slot{keeps, breaks}[n]
				all := [2][]Away{}
				all[k] = []Away{{500, 510}, a}
				return w(all[0], all[1], worked(Problem{Calendar: halves()}, x.From, x.To)), told(Slot{From: x.From, To: x.To})
			}}
		}
		kept(t, []ruled{
			away("until it comes back", at(5, 8), at(4, 7), Away{2, 5}),
			away("before it goes", at(2, 5), at(3, 6), Away{5, 8}),
			away("for good", at(2, 5), at(3, 6), Away{From: 5}),
		})
		p := w(nil, nil, 4)
		if k == 0 {
			p.Workers[0].Away = []Away{{10, 20}}
		} else {
			p.Places[0].Away = []Away{{10, 20}}
		}
		if err := Verify(p, told(Slot{From: 8, To: 22})); err != nil {
			t.Errorf("away in the break only: %v", err)
		}
		p.Activities[0].Minutes = 0
		p.Workers[0].Away, p.Places[0].Away = []Away{{0, 20}}, []Away{{0, 20}}
		if err := Verify(p, told(Slot{From: 5, To: 5})); err != nil {
			t.Errorf("what takes no time: %v", err)
		}
	}
}

// Against a clock of single minutes: working minutes and the end of a day, where the clock on
// the wall is put forward or back, at night, at noon and twice a day.
func TestJudgeCountsMinutesSeeds(t *testing.T) {
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 63))
		p := randomProblem(rng, 1)
		p.Calendar.Shifts = nil
		for d := range 4 {
			if rng.IntN(2) == 0 {
				p.Calendar.Shifts = append(p.Calendar.Shifts, Shift{d*dayMin + []int{120, 479, 481, 602, 1435}[rng.IntN(5)], []int{-60, -2, 1, 60}[rng.IntN(4)]})
			}
		}
		const days = 5
		wall := func(m int) int { // what the clock shows
			put := 0
			for _, s := range p.Calendar.Shifts {
				if s.At <= m {
					put += s.By
				}
			}
			return m + put
		}
		var sum [days*dayMin + 1]int
		for m := range days * dayMin {
			shown := wall(m)
			works := 0
			for _, w := range p.Calendar.Week[shown/dayMin%7] {
				if k := shown % dayMin; w.From <= k && k < w.To && (len(p.Calendar.Off) == 0 || p.Calendar.Off[0] != shown/dayMin) {
					works = 1
				}
			}
			sum[m+1] = sum[m] + works
		}
		for range 200 {
			from := rng.IntN(days * dayMin)
			to := from + rng.IntN(days*dayMin-from)
			if len(p.Calendar.Shifts) > 0 && rng.IntN(2) == 0 { // at the moment itself
				from, to = min(p.Calendar.Shifts[0].At, to), max(p.Calendar.Shifts[0].At, to)
			}
			if got := worked(p, from, to); got != sum[to]-sum[from] {
				t.Fatalf("seed %d: %d working minutes from %d to %d, by the clock %d: %+v", seed, got, from, to, sum[to]-sum[from], p.Calendar)
			}
			end := from // the first minute of which the clock shows another, later day
			for wall(end)/dayMin <= wall(from)/dayMin {
				end++
			}
			if got := endOfDay(p, from); sum[min(got, len(sum)-1)] != sum[min(end, len(sum)-1)] {
				t.Fatalf("seed %d: the day of %d ends at %d, by the clock at %d: %+v", seed, from, got, end, p.Calendar)
			}
		}
	}
}
