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
	m, err := newModel(&p)
	if err != nil {
		t.Fatal(err)
	}
	x := &sharing{m: m, s: s, of: make([]int, len(m.blocks)), bounds: make([]int, len(s.Due)), alone: make([]int, len(m.blocks))}
	for i, b := range m.blocks {
		x.of[i] = s.Of[b.acts[0]]
	}
	first, _ := x.search()
	b, ok := x.exact(first, nodes)
	late, sum := 0, 0
	for _, e := range x.ends(b.bd) {
		late, sum = late+e.LateMin, sum+e.FinishMin
	}
	return Together{LateMin: late, SumMin: sum}, ok
}
