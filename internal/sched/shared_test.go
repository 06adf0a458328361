package sched

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// Law: a shared schedule passes the judge, no job is done before its own bound,
// the sum of lateness and finishes is what the slots say, and one job alone is
// scheduled as by Solve.
func TestSharedSchedulesHoldSeeds(t *testing.T) {
	proven, held := 0, 0
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 41))
		p := randomProblem(rng, 4)
		q := randomProblem(rng, 5)
		p.Nodes = 500
		s := Shared{Of: make([]int, 4), Due: []int{0, 3000}}
		for _, a := range q.Activities {
			a.After = slices.Clone(a.After)
			for k := range a.After {
				a.After[k].Pred += 4
			}
			a.ID += "'"
			p.Activities = append(p.Activities, a)
			s.Of = append(s.Of, 1)
		}
		for _, c := range q.Chains {
			p.Chains = append(p.Chains, Chain{"d", []int{c.Members[0] + 4, c.Members[1] + 4}, c.Window})
		}
		sol, ends, err := SolveShared(p, s)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		if err := Verify(p, sol); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		for k, e := range ends {
			last, worked := 0, 0
			for i, x := range sol.Slots {
				if s.Of[i] == k {
					last = max(last, x.To)
				}
				if s.Of[i] == k && p.Activities[i].Minutes > 0 {
					worked = max(worked, x.To)
				}
			}
			if e.FinishMin < worked || e.FinishMin > last || e.BoundMin > e.FinishMin || e.LateMin != max(0, e.FinishMin-3000) && k == 1 {
				t.Errorf("seed %d: job %d ends at %d, told %+v", seed, k, last, e)
			}
			if !e.Alone {
				held++
			}
		}
		if sol.Proven {
			proven++
		}
	}
	t.Logf("%d proven, %d jobs held up by another", proven, held)
	if proven == 0 || held == 0 {
		t.Errorf("the instances do not exercise the search: %d proven, %d held up", proven, held)
	}
}

// Constructed: one worker, one job of 10 minutes and one of 2. Without promises the
// short one goes first (2 + 12 < 10 + 12); promised for minute 10, the long one does.
func TestSharedKeepsPromises(t *testing.T) {
	p := Problem{Calendar: always(), Samples: 10, Nodes: 100, Workers: []Worker{{ID: "w", Skills: []string{"s"}}},
		Activities: []Activity{{ID: "long", Minutes: 10, Skill: "s"}, {ID: "short", Minutes: 2, Skill: "s"}}}
	sol, ends, err := SolveShared(p, Shared{Of: []int{0, 1}, Due: []int{0, 0}})
	if err != nil || sol.Slots[0].From != 2 || ends[0].Alone || !ends[1].Alone || ends[0].BoundMin != 10 {
		t.Errorf("%+v %+v %v", sol.Slots, ends, err)
	}
	sol, ends, err = SolveShared(p, Shared{Of: []int{0, 1}, Due: []int{10, 100}})
	if err != nil || sol.Slots[0].From != 0 || ends[0].LateMin+ends[1].LateMin != 0 || !ends[0].Alone || ends[1].Alone {
		t.Errorf("%+v %+v %v", sol.Slots, ends, err)
	}
	if _, _, err := SolveShared(p, Shared{Of: []int{0, 2}, Due: []int{0, 0}}); err == nil {
		t.Error("an activity of a job that does not exist was taken")
	}
}
