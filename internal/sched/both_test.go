package sched

import (
	"math/rand/v2"
	"strings"
	"testing"
)

// withGreatest adds greatest distances to a random problem, some between any two
// activities, on either clock.
func withGreatest(rng *rand.Rand, p *Problem) {
	n := len(p.Activities)
	p.Chains = nil
	for range 4 {
		i, j := rng.IntN(n), rng.IntN(n)
		if i == j {
			continue
		}
		l := Lag{Pred: j, Minutes: -1 - rng.IntN(12), Clock: Clock(rng.IntN(2)), From: Edge(rng.IntN(2))}
		if l.Clock == Elapsed {
			l.Minutes *= 150
		}
		p.Activities[i].After = append(p.Activities[i].After, l)
	}
}

// Full enumeration of every start minute, worker and place: no schedule the judge
// accepts is shorter than one that is called proven, and where the search says
// that none keeps the distances, the judge accepts none of this length.
func TestGreatestDistancesSeeds(t *testing.T) {
	solved, none, of := 0, 0, draws(80, 120)
	for seed := range uint64(of) {
		rng := rand.New(rand.NewPCG(seed, 21))
		p := randomProblem(rng, 4)
		withGreatest(rng, &p)
		if !p.greatest() {
			continue
		}
		s, err := Solve(p)
		if err != nil {
			if !strings.Contains(err.Error(), "no schedule keeps") && !strings.Contains(err.Error(), "for ever") {
				t.Errorf("seed %d: %v", seed, err)
			}
			none++
			if q, ok := better(p, Solution{WorkMin: 11}); ok {
				t.Errorf("seed %d: %v, but %v keeps them", seed, err, q.Slots)
			}
			continue
		}
		if err := Verify(p, s); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		if !s.Proven {
			t.Errorf("seed %d: four activities are not proven", seed)
		}
		if s.WorkMin > 12 {
			continue
		}
		solved++
		if q, ok := better(p, s); ok {
			t.Errorf("seed %d: finish %d, but %d can be reached: %v", seed, s.FinishMin, q.FinishMin, q.Slots)
		}
	}
	t.Logf("%d solved, %d without a schedule", solved, none)
	if 4*solved < of || none < draws(3, 5) {
		t.Errorf("the instances do not exercise the search: %d solved, %d without a schedule", solved, none)
	}
}

// Law: where the greatest distance is so great that it forbids nothing, the finish
// is the one without it, when both are proven.
func TestGreatDistanceChangesNothingSeeds(t *testing.T) {
	same := 0
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 22))
		p := randomProblem(rng, 6)
		s, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		q := p
		q.Activities = append([]Activity(nil), p.Activities...)
		q.Activities[0].After = append(append([]Lag(nil), p.Activities[0].After...), Lag{Pred: 5, Minutes: -1e6, From: Start})
		if len(p.Chains) > 0 && (p.Chains[0].Members[0] == 0 || p.Chains[0].Members[1] == 5) {
			continue
		}
		r, err := Solve(q)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		if err := Verify(q, r); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		if s.Proven && r.Proven {
			same++
			if s.WorkMin != r.WorkMin {
				t.Errorf("seed %d: %d with, %d without a distance that forbids nothing", seed, r.WorkMin, s.WorkMin)
			}
		}
	}
	if same < 80 {
		t.Errorf("only %d were compared", same)
	}
}

// Constructed: the primer has to be covered within 5 minutes; the only worker is
// busy for 8 minutes that must follow the primer. Covering first keeps it; where
// covering has to come after those 8 minutes nothing does.
func TestGreatestDistanceDelays(t *testing.T) {
	p := Problem{Calendar: always(), Nodes: 1000, Workers: []Worker{{ID: "w", Skills: []string{"s"}}}, Activities: []Activity{
		{ID: "prime", Minutes: 1, Skill: "s", After: []Lag{{Pred: 1, Minutes: -5}}},
		{ID: "cover", Minutes: 2, Skill: "s", After: []Lag{{Pred: 0}}},
		{ID: "other", Minutes: 8, Skill: "s", After: []Lag{{Pred: 0}}},
	}}
	s, err := Solve(p)
	if err != nil || s.WorkMin != 11 || s.Slots[1].From != 1 {
		t.Errorf("%+v %v; want prime, cover, other in 11 minutes", s.Slots, err)
	}
	p.Activities[1].After = append(p.Activities[1].After, Lag{Pred: 2})
	if _, err := Solve(p); err == nil || !strings.Contains(err.Error(), "for ever") {
		t.Errorf("what cannot be kept was not refused: %v", err)
	}
}
