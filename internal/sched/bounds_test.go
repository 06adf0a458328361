package sched

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// By hand: the first time from one on at which so many minutes are free, between what is taken.
func TestFirstFree(t *testing.T) {
	busy := []span{{from: 10, to: 20}, {from: 25, to: 40}, {from: 40, to: 50}, {from: 90, to: never}}
	for _, c := range []struct{ t, d, want int }{
		{0, 10, 0}, {0, 11, 50}, {1, 10, 50}, {1, 9, 1}, {9, 1, 9}, {10, 5, 20}, {19, 1, 20}, {20, 5, 20}, {20, 6, 50}, {21, 5, 50}, {24, 1, 24}, {25, 1, 50}, {40, 1, 50},
		{0, 40, 50}, {50, 40, 50}, {50, 41, never}, {51, 40, never}, {89, 1, 89}, {90, 1, never}, {1000, 1, never},
	} {
		if got := firstFree(busy, c.t, c.d); got != c.want {
			t.Errorf("%d minutes from %d on: %d, want %d", c.d, c.t, got, c.want)
		}
	}
	if got := firstFree(nil, 7, 9); got != 7 {
		t.Errorf("nothing is taken: %d", got)
	}
}

// Law: the windows of the clock are in order of time and apart, none before the start of the
// problem, also where the clock is put back at midnight or while people work; each begins with
// as many minutes as those before it have, and all of them have no more than the judge counts.
func TestWindowsOfTheClockSeeds(t *testing.T) {
	leaps := 0
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 94))
		cal := always()
		if seed%3 == 0 {
			for d := range cal.Week {
				cal.Week[d] = []Window{{0, 1 + rng.IntN(60)}, {1380, 1440 - rng.IntN(20)}}
			}
		}
		cal.Off = []int{rng.IntN(6)}
		start := dayMin + rng.IntN(70) - 65
		at := dayMin + rng.IntN(80) - 10
		cal.Shifts = []Shift{{at, []int{-60, -1, 60, 1, -120}[rng.IntN(5)]}}
		c := newClock(cal, start)
		for c.day < 5 {
			c.addDay()
		}
		total := 0
		for k := range c.from {
			if c.from[k] < start || c.from[k] >= c.to[k] || k > 0 && c.from[k] < c.to[k-1] || c.cum[k] != total {
				t.Fatalf("seed %d: from %d, windows %v to %v, sums %v: %+v", seed, start, c.from, c.to, c.cum, cal.Shifts)
			}
			total += c.to[k] - c.from[k]
			if c.to[k] == at {
				leaps++
			}
		}
		p := Problem{Calendar: cal, Start: start}
		if most := worked(p, start, c.to[len(c.to)-1]); c.total != total || total > most || cal.Shifts[0].By > 0 && total != most {
			t.Fatalf("seed %d: %d minutes, told %d, by the judge %d: %+v", seed, total, c.total, most, cal.Shifts)
		}
	}
	if leaps < 20 {
		t.Errorf("only %d windows end at a leap", leaps)
	}
}

// By definition: there is one load for each set of resources that a need is confined to, for all
// workers, for each pool that holds anything, and for each state of several values; each has
// all that is confined to it, and what a pool is drawn by.
func TestLoadsByDefinitionSeeds(t *testing.T) {
	for seed := range uint64(80) {
		rng := rand.New(rand.NewPCG(seed, 95))
		p := randomProblem(rng, 3+rng.IntN(8))
		if seed%4 == 0 { // nobody works here: places and pools alone
			p.Workers = nil
			for i := range p.Activities {
				p.Activities[i].Skill = ""
			}
		}
		if p.Pools = append(p.Pools, Pool{"none", 0}); seed%5 == 0 {
			p.Pools = append(p.Pools, Pool{"one", 1})
			p.Activities[0].Draws = []Draw{{2, 1}}
		}
		m, err := newModel(&p)
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]int{}
		for i := range m.blocks {
			for _, n := range m.blocks[i].needs {
				want[fmt.Sprint(slices.Sorted(slices.Values(n.options)))] = 0
			}
		}
		if len(p.Workers) > 0 {
			want[fmt.Sprint([]int{0, 1, 2})] = 0
		}
		for set := range want {
			for i := range m.blocks {
				for _, n := range m.blocks[i].needs {
					if !slices.ContainsFunc(n.options, func(r int) bool { return !strings.Contains(" "+strings.Trim(set, "[]")+" ", fmt.Sprintf(" %d ", r)) }) {
						want[set]++
					}
				}
			}
		}
		pools := map[int]int{}
		for k, pool := range p.Pools {
			if pool.Capacity > 0 {
				pools[k] = 0
			}
		}
		for i := range m.blocks {
			for _, d := range m.blocks[i].draws {
				pools[d.pool]++
			}
		}
		for _, l := range m.loads() {
			if l.pool {
				if n, ok := pools[l.index]; !ok || n != len(l.jobs) || l.num != p.Pools[l.index].Capacity {
					t.Errorf("seed %d: pool %d has %d jobs, want %d", seed, l.index, len(l.jobs), n)
				}
				delete(pools, l.index)
				continue
			}
			var of []int
			for r, in := range l.which {
				if in {
					of = append(of, r)
				}
			}
			slices.Sort(of)
			if n, ok := want[fmt.Sprint(of)]; !ok || n != len(l.jobs) || l.num != len(of) {
				t.Errorf("seed %d: %v, %d of it, has %d jobs, want %d, %v", seed, of, l.num, len(l.jobs), n, ok)
			}
			delete(want, fmt.Sprint(of))
		}
		if len(want)+len(pools) > 0 {
			t.Errorf("seed %d: no load of %v %v", seed, want, pools)
		}
	}
}

// By hand: a problem of which there is no schedule, or of which none is found, is refused for its
// reason; by a unit less it is solved, and its schedule keeps what was asked.
func TestProblemsWithoutASchedule(t *testing.T) {
	two := func(l Lag, back Lag) []Activity {
		return []Activity{{ID: "z", Minutes: 1}, {ID: "a", Minutes: 3, Skill: "s", After: []Lag{back}}, {ID: "b", Minutes: 2, Skill: "s", After: []Lag{l}}}
	}
	chain := func(l Lag) Problem {
		return Problem{Activities: []Activity{{ID: "a", Minutes: 3}, {ID: "b", Minutes: 2}, {ID: "c", Minutes: 1, After: []Lag{l}}}, Chains: []Chain{{ID: "x", Members: []int{0, 1, 2}}}}
	}
	for _, c := range []struct {
		name, told string
		of         func(n int) Problem
	}{
		{"a lag inside a chain, to the start", "the lag after a cannot be kept inside their chain", func(n int) Problem { return chain(Lag{Pred: 0, Minutes: n}) }},
		{"a lag of the clock inside a chain", "the lag after b cannot be kept", func(n int) Problem { return chain(Lag{Pred: 1, Minutes: n, Clock: Elapsed}) }},
		{"a greatest distance inside a chain", "the lag after c cannot be kept", func(n int) Problem { // c ends six minutes after a begins
			p := chain(Lag{Pred: 0})
			p.Activities[0].After, p.Nodes = []Lag{{Pred: 2, Minutes: n - 6}}, 100
			return p
		}},
		{"one that waits for itself in a chain", "the lag after c cannot be kept", func(n int) Problem { return chain(Lag{Pred: 1 + n}) }},
		{"two that wait for one another", "b: these wait for one another for ever: b > a > b", func(n int) Problem {
			p := Problem{Activities: two(Lag{Pred: 1}, Lag{Pred: 2 * n})}
			return p
		}},
		{"a greatest distance that is too short", "for ever", func(n int) Problem { // b ends 5 after a begins, a begins at most 4 before that
			return Problem{Activities: two(Lag{Pred: 1, From: Start, Minutes: 3}, Lag{Pred: 2, From: Start, Minutes: n - 3})}
		}},
		{"a worker that both need at once", "no schedule keeps every greatest distance", func(n int) Problem { // b begins with a or after it, at most three minutes
			return Problem{Activities: two(Lag{Pred: 1, From: Start}, Lag{Pred: 2, From: Start, Minutes: n - 3}), Nodes: 1000}
		}},
	} {
		for n := range 2 {
			p := c.of(n)
			p.Calendar, p.Workers = always(), []Worker{{ID: "w", Skills: []string{"s"}}}
			s, err := Solve(p)
			if (err != nil) != (n == 1) || n == 1 && !strings.Contains(err.Error(), c.told) {
				t.Errorf("%s, %d: %v, want %q", c.name, n, err, c.told)
			}
			if n == 0 && err == nil {
				if err := Verify(p, s); err != nil {
					t.Errorf("%s: %v", c.name, err)
				}
			}
		}
	}
	p := Problem{Calendar: always(), Nodes: 1, Workers: []Worker{{ID: "w", Skills: []string{"s"}}}, Activities: two(Lag{Pred: 0}, Lag{Pred: 2, From: Start, Minutes: -3})}
	if _, err := Solve(p); err == nil || !strings.Contains(err.Error(), "after 2 tries none is ruled out either") {
		t.Errorf("one try: %v", err)
	}
	p.Start = -1
	if _, err := CriticalPath(p); err == nil || !strings.Contains(err.Error(), "minute -1 is out of range") {
		t.Errorf("the critical path of a problem without meaning: %v", err)
	}
	if _, err := (*Known)(nil).Solve(p); err == nil || !strings.Contains(err.Error(), "minute -1 is out of range") {
		t.Errorf("where nothing is kept: %v", err)
	}
}
