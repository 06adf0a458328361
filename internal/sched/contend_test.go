package sched

import (
	"math/rand/v2"
	"testing"
)

// leastOfOrders tries every order of the activities on one worker, each as early as it can
// begin, for the least lateness and the least sum of finishes; every best schedule of
// one worker is such an order.
func leastOfOrders(p *Problem, s Shared) (late, sum int) {
	late, sum = never, never
	n := len(p.Activities)
	ends := make([]int, len(s.Due))
	var rec func(done, now int)
	rec = func(done, now int) {
		if done == 1<<n-1 {
			a, b := 0, 0
			for k, e := range ends {
				b += e
				if s.Due[k] > 0 {
					a += max(0, e-s.Due[k])
				}
			}
			late, sum = min(late, a), min(sum, b)
			return
		}
		for i, a := range p.Activities {
			if done>>i&1 == 1 || len(a.After) > 0 && done>>a.After[0].Pred&1 == 0 {
				continue
			}
			k, end := s.Of[i], max(now, a.Release)+a.Minutes
			before := ends[k]
			ends[k] = max(ends[k], end)
			rec(done|1<<i, end)
			ends[k] = before
		}
	}
	rec(0, 0)
	return late, sum
}

// Full enumeration of the orders of up to seven activities of two and three jobs on one
// worker: the bounds are never above the least lateness and sum, and what is called
// proven is the least.
func TestContentionBoundsSeeds(t *testing.T) {
	above, proven := 0, 0
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 91))
		p := Problem{Calendar: always(), Samples: 30, Nodes: 500, Workers: []Worker{{ID: "w", Skills: []string{"s"}}}}
		jobs := 2 + rng.IntN(2)
		s := Shared{Due: make([]int, jobs)}
		for k := range jobs {
			for part := range 1 + rng.IntN(2) + rng.IntN(4-jobs) {
				a := Activity{ID: string(rune('a'+k)) + string(rune('0'+part)), Minutes: 1 + rng.IntN(9), Skill: "s", Release: rng.IntN(12)}
				if part > 0 {
					a.After = []Lag{{Pred: len(p.Activities) - 1}}
				}
				p.Activities, s.Of = append(p.Activities, a), append(s.Of, k)
			}
			if rng.IntN(2) == 0 {
				s.Due[k] = 5 + rng.IntN(15)
			}
		}
		sol, ends, err := SolveShared(p, s)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		late, sum := leastOfOrders(&p, s)
		x := sol.Together
		if x.LateBound > late || x.SumBound > sum || x.LateMin < late || x.SumMin < sum {
			t.Errorf("seed %d: %+v, the least are %d late and %d in all", seed, x, late, sum)
		}
		if sol.Proven && x.LateMin != late {
			t.Errorf("seed %d: proven with %d late, %d can be had", seed, x.LateMin, late)
		}
		alone := 0
		for _, e := range ends {
			alone += e.BoundMin
		}
		if x.SumBound > alone {
			above++
		}
		if sol.Proven {
			proven++
		}
	}
	t.Logf("%d bounds above those of the jobs by themselves, %d proven", above, proven)
	if above < 150 || proven < 100 {
		t.Errorf("the instances do not exercise it: %d above, %d proven", above, proven)
	}
}

// Constructed, by hand: one worker, jobs of 10 and 2 minutes, one after the other. By
// themselves they end at 10 and 2, together at 12 in some order: the sum is 2 + 12 at
// least. Both promised for minute 10: 2 late at least, and the schedule is proven.
func TestTwoJobsOneWorkerProven(t *testing.T) {
	p := Problem{Calendar: always(), Samples: 10, Nodes: 100, Workers: []Worker{{ID: "w", Skills: []string{"s"}}},
		Activities: []Activity{{ID: "long", Minutes: 10, Skill: "s"}, {ID: "short", Minutes: 2, Skill: "s"}}}
	sol, _, err := SolveShared(p, Shared{Of: []int{0, 1}, Due: []int{10, 10}})
	if want := (Together{2, 2, 14, 14}); err != nil || sol.Together != want || !sol.Proven {
		t.Errorf("%+v, proven %v, want %+v (%v)", sol.Together, sol.Proven, want, err)
	}
}

// Constructed, by hand: two jobs on one bench, each begins and ends there with a minute
// and has 8 minutes elsewhere in between, by another worker of its own. Kept, the bench
// takes one after the other: 10 and 20 at least. Not kept, they are done by 10 and 11.
func TestKeptBenchBoundsTwoJobs(t *testing.T) {
	p := Problem{Calendar: always(), Samples: 30, Nodes: 500, Places: []Place{{ID: "B", Kind: "bench"}}}
	s := Shared{Due: []int{0, 0}}
	for k, id := range []string{"a", "b"} {
		p.Workers = append(p.Workers, Worker{ID: id, Skills: []string{id}})
		n := 3 * k
		p.Activities = append(p.Activities, Activity{ID: id + "1", Minutes: 1, Place: "bench"}, Activity{ID: id + "2", Minutes: 8, Skill: id, After: []Lag{{Pred: n}}},
			Activity{ID: id + "3", Minutes: 1, Place: "bench", After: []Lag{{Pred: n + 1}}})
		s.Of = append(s.Of, k, k, k)
	}
	sol, _, err := SolveShared(p, s)
	if err != nil || sol.Together.SumMin != 21 || !(sol.Together.SumBound <= 21) {
		t.Errorf("not kept: %+v, want 10 + 11 (%v)", sol.Together, err)
	}
	p.Holds = []Hold{{ID: "a", Kind: "bench", Members: []int{0, 2}}, {ID: "b", Kind: "bench", Members: []int{3, 5}}}
	sol, _, err = SolveShared(p, s)
	if want := (Together{0, 0, 30, 30}); err != nil || sol.Together != want {
		t.Errorf("kept: %+v, want %+v (%v)", sol.Together, want, err)
	}
}
