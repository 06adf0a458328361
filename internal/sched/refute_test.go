package sched

import (
	"math/rand/v2"
	"testing"
)

// Law: what refutes a finish never refutes that of a schedule the judge accepts; and
// where it proves one, the search over the order of starts finds none that is shorter.
func TestRefuterSparesSchedulesSeeds(t *testing.T) {
	tried, shown, of := 0, 0, draws(200, 400)
	for seed := range uint64(of) {
		rng := rand.New(rand.NewPCG(seed, 81))
		p := keptProblem(rng, 3+rng.IntN(12))
		p.Nodes = 2000
		s, err := Solve(p)
		if err != nil {
			continue
		}
		if err := Verify(p, s); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		m, err := newModel(&p)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		r := m.refuter(m.pairs())
		tried++
		for _, more := range []int{0, 1, 7} {
			if refuted, _ := r.try(s.WorkMin+more, 400); refuted {
				t.Errorf("seed %d: a finish by %d is refuted, and there is one by %d", seed, s.WorkMin+more, s.WorkMin)
			}
		}
		if s.WorkMin == 0 {
			continue
		}
		refuted, found := r.try(s.WorkMin-1, 400)
		if found != nil && s.Proven {
			t.Errorf("seed %d: %d is proven, and %d was found", seed, s.WorkMin, found.end)
		}
		if !refuted {
			continue
		}
		shown++
		best, _, proven := m.exact(&board{m: m, end: s.WorkMin + 1}, 0)
		if proven && best.end < s.WorkMin {
			t.Errorf("seed %d: less than %d is refuted, and the search found %d", seed, s.WorkMin, best.end)
		}
	}
	t.Logf("%d tried, %d proven by refuting", tried, shown)
	if 4*tried < 3*of || 8*shown < 3*of {
		t.Errorf("the instances do not exercise it: %d tried, %d shown", tried, shown)
	}
}

// Constructed: two chains that set the lift half and then up, with a worker each, run
// side by side: 20 min. An order of the two for all their settings at once would take
// that for impossible and call 40 min, or 30, proven.
func TestChainsSetTogether(t *testing.T) {
	var p Problem
	p.Calendar, p.Samples, p.Nodes, p.States = always(), 20, 4000, []string{"lift"}
	p.Workers = []Worker{{ID: "v", Skills: []string{"s"}}, {ID: "w", Skills: []string{"s"}}}
	for k, id := range []string{"a half", "a up", "b half", "b up"} {
		p.Activities = append(p.Activities, Activity{ID: id, Minutes: 10, Skill: "s", Sets: []Setting{{Value: id[2:]}}})
		if k%2 == 1 {
			p.Chains = append(p.Chains, Chain{ID: id[:1], Members: []int{k - 1, k}})
		}
	}
	s, err := Solve(p)
	if err != nil || s.WorkMin != 20 || !s.Proven || Verify(p, s) != nil {
		t.Errorf("%d min, proven %v, want 20 proven (%v)", s.WorkMin, s.Proven, err)
	}
	m, err := newModel(&p)
	if err != nil {
		t.Fatal(err)
	}
	r := m.refuter(m.pairs())
	if refuted, _ := r.try(20, 400); refuted {
		t.Error("20 min are refuted, and both chains side by side take 20")
	}
	if refuted, _ := r.try(19, 400); !refuted {
		t.Error("19 min are not refuted, and one chain takes 20")
	}
}

// Constructed: three steps of 100, 90 and 80 min in the only bay, each cures for 1020
// min of the clock before its second step of 60 min there. Work is from 0 to 480 each
// day. All first steps are done at 270 of day 0; what was done last cures until 1290,
// so that no second step can wait for day 2, and none begins on day 0 but the three
// cures end before day 1 begins: 480 + 3 x 60 = 660.
func TestCuresInOneBay(t *testing.T) {
	p := Problem{Samples: 20, Nodes: 4000, Workers: []Worker{{ID: "v", Skills: []string{"s"}}}, Places: []Place{{ID: "B", Kind: "bay"}}}
	for d := range p.Calendar.Week {
		p.Calendar.Week[d] = []Window{{0, 480}}
	}
	for k, min := range []int{100, 90, 80} {
		p.Activities = append(p.Activities, Activity{ID: string(rune('a' + k)), Minutes: min, Skill: "s", Place: "bay"},
			Activity{ID: string(rune('x' + k)), Minutes: 60, Skill: "s", Place: "bay", After: []Lag{{Pred: 2 * k, Minutes: 1020, Clock: Elapsed}}})
	}
	s, err := Solve(p)
	if err != nil || s.WorkMin != 660 || !s.Proven || Verify(p, s) != nil {
		t.Errorf("%d min, proven %v, want 660 proven (%v)", s.WorkMin, s.Proven, err)
	}
}
