package sched

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"
)

// tinyWeek is a shop with three jobs of six steps: two or three people, two bays, waits,
// some promises.
func tinyWeek(rng *rand.Rand) (Problem, Shared) {
	p := Problem{Samples: 200, Nodes: 20000, Seed: 1, Workers: []Worker{{ID: "w1", Skills: []string{"a", "b"}}, {ID: "w2", Skills: []string{"b"}}},
		Places: []Place{{ID: "p1", Kind: "x"}, {ID: "p2", Kind: "y"}}}
	for d := range 5 {
		p.Calendar.Week[d] = []Window{{480, 720}, {750, 960}}
	}
	if rng.IntN(2) == 0 {
		p.Workers = append(p.Workers, Worker{ID: "w3", Skills: []string{"a"}})
	}
	s := Shared{Due: make([]int, 3)}
	for k := range s.Due {
		for part := range 6 {
			a := Activity{ID: fmt.Sprint(k, "-", part), Minutes: 10 + rng.IntN(110), Skill: []string{"a", "b"}[rng.IntN(2)], Place: []string{"", "x", "y"}[rng.IntN(3)]}
			if n := len(p.Activities); part > 0 {
				a.After = []Lag{{Pred: n - 1 - rng.IntN(min(part, 2)), Minutes: []int{0, 0, 0, 60, 900}[rng.IntN(5)], Clock: Elapsed}}
			}
			p.Activities, s.Of = append(p.Activities, a), append(s.Of, k)
		}
		if rng.IntN(2) == 0 {
			s.Due[k] = 1440*rng.IntN(3) + 900
		}
	}
	return p, s
}

// Against the exact search to its end: a week of three jobs and six steps each is mostly the
// best there is, and what is called proven always is.
func TestTinyWeeksAgainstTheExactSearchSeeds(t *testing.T) {
	n := 2
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		n = 200
	}
	best, proven, known := 0, 0, 0
	for seed := range uint64(n) {
		p, s := tinyWeek(rand.New(rand.NewPCG(seed, 2615)))
		sol, _, err := SolveShared(p, s)
		if err != nil {
			t.Fatal(err)
		}
		if err := Verify(p, sol); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		if sol.Proven {
			proven++
		}
		exact, ok := exactWeek(t, p, s, 30000)
		if !ok {
			continue
		}
		known++
		same := exact.LateMin == sol.Together.LateMin && exact.SumMin == sol.Together.SumMin
		if same {
			best++
		}
		if sol.Proven && !same || sol.Together.LateBound > exact.LateMin || sol.Together.SumBound > exact.SumMin {
			t.Errorf("seed %d: %+v, proven %v; the best is %+v", seed, sol.Together, sol.Proven, exact)
		}
	}
	t.Logf("%d of %d are the best there is, %d of %d proven", best, known, proven, n)
	if best*10 < known*9 || n > 2 && known < n/3 {
		t.Errorf("%d of %d are the best there is", best, known)
	}
}

// exactWeek is the exact search with so many nodes, from a poor schedule.
func exactWeek(t *testing.T, p Problem, s Shared, nodes int) (Together, bool) {
	t.Helper()
	p.Samples = 0
	x, first := weekModel(t, &p, s)
	b, ok := x.exact(first, nodes)
	late, sum := 0, 0
	for _, e := range x.ends(b.bd) {
		late, sum = late+e.LateMin, sum+e.FinishMin
	}
	return Together{LateMin: late, SumMin: sum}, ok
}

// weekModel is what the exact search of several jobs starts from.
func weekModel(t *testing.T, p *Problem, s Shared) (*sharing, bred) {
	t.Helper()
	m, err := newModel(p)
	if err != nil {
		t.Fatal(err)
	}
	x := &sharing{m: m, s: s, of: make([]int, len(m.blocks)), bounds: make([]int, len(s.Due)), alone: make([]int, len(m.blocks))}
	for i, b := range m.blocks {
		x.of[i] = s.Of[b.acts[0]]
	}
	first, _ := x.search()
	return x, first
}

// Against every order of the activities of two jobs on one worker: the exact search ends with
// the least lateness, and with the least sum at that; cut short, it proves nothing, and what it
// has is no worse than what it began with.
func TestSharedSearchAgainstEveryOrderSeeds(t *testing.T) {
	bettered, cut := 0, 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 92))
		p := Problem{Calendar: always(), Workers: []Worker{{ID: "w", Skills: []string{"s"}}}}
		s := Shared{Due: []int{5 + rng.IntN(12), 0}}
		for k := range 2 {
			for part := range 2 + rng.IntN(2) {
				a := Activity{ID: fmt.Sprint(k, part), Minutes: 1 + rng.IntN(9), Skill: "s", Release: rng.IntN(9)}
				if part > 0 && rng.IntN(2) == 0 {
					a.After = []Lag{{Pred: len(p.Activities) - 1}}
				}
				p.Activities, s.Of = append(p.Activities, a), append(s.Of, k)
			}
		}
		late := never
		least := never // of the sum, where it is so late
		var rec func(done, now int, ends [2]int)
		rec = func(done, now int, ends [2]int) {
			if done == 1<<len(p.Activities)-1 {
				if l, sum := max(0, ends[0]-s.Due[0]), ends[0]+ends[1]; l < late || l == late && sum < least {
					late, least = l, sum
				}
			}
			for i, a := range p.Activities {
				if done>>i&1 == 1 || len(a.After) > 0 && done>>a.After[0].Pred&1 == 0 {
					continue
				}
				to, next := max(now, a.Release)+a.Minutes, ends
				next[s.Of[i]] = max(next[s.Of[i]], to)
				rec(done|1<<i, to, next)
			}
		}
		rec(0, 0, [2]int{})
		x, first := weekModel(t, &p, s)
		of := func(b bred) Together {
			var out Together
			for _, e := range x.ends(b.bd) {
				out.LateMin, out.SumMin = out.LateMin+e.LateMin, out.SumMin+e.FinishMin
			}
			return out
		}
		got, ok := x.exact(first, 100000)
		if w := of(got); !ok || w.LateMin != late || w.SumMin != least {
			t.Errorf("seed %d: proven %t with %+v, the least are %d and %d", seed, ok, w, late, least)
		}
		if got.better(first) {
			bettered++
			if one, ok := x.exact(first, 1); ok || first.better(one) {
				t.Errorf("seed %d: proven by one node, or worse than before", seed)
			}
			cut++
		}
		if _, ok := x.exact(first, 0); ok {
			t.Errorf("seed %d: proven by no node", seed)
		}
	}
	if cut < 3 {
		t.Errorf("only %d were bettered", bettered)
	}
}

// The exact searches hold 64 blocks in a word; of more they prove nothing.
func TestSearchesHoldSixtyFourBlocks(t *testing.T) {
	for _, n := range []int{64, 65} {
		p := Problem{Calendar: always(), Nodes: 5}
		s := Shared{Due: []int{0}}
		for k := range n {
			p.Activities, s.Of = append(p.Activities, Activity{ID: fmt.Sprint(k), Minutes: 1}), append(s.Of, 0)
		}
		x, first := weekModel(t, &p, s)
		if _, ok := x.exact(first, 5); ok != (n == 64) {
			t.Errorf("%d blocks of a job: proven %t", n, ok)
		}
		m, err := newModel(&p)
		if err != nil {
			t.Fatal(err)
		}
		best := m.serial(byPriority(m.latestFinish()), nil)
		if _, _, ok := m.exact(best, 0); ok != (n == 64) {
			t.Errorf("%d blocks: proven %t", n, ok)
		}
		if got := m.first(0); got != nil && n == 65 {
			t.Error("a first schedule of 65 blocks")
		}
		p.Nodes = 100
		if got := m.first(1); (got != nil) != (n == 64) {
			t.Errorf("%d blocks: a first schedule: %t", n, got != nil)
		}
	}
}
