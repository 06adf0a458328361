package sched

import (
	"math/rand/v2"
	"os"
	"strings"
	"testing"
)

// sometimesAway sends workers and places away for some days, a second one of a skill or kind
// for good.
func sometimesAway(rng *rand.Rand, p *Problem) {
	for i := range p.Workers {
		for range rng.IntN(3) {
			from := rng.IntN(6 * dayMin)
			p.Workers[i].Away = append(p.Workers[i].Away, Away{from, from + 1 + rng.IntN(4*dayMin)})
		}
	}
	for i := range p.Places {
		for range rng.IntN(3) {
			from := rng.IntN(6 * dayMin)
			p.Places[i].Away = append(p.Places[i].Away, Away{from, from + 1 + rng.IntN(4*dayMin)})
		}
	}
	if rng.IntN(3) == 0 {
		p.Places[1].Away = append(p.Places[1].Away, Away{From: rng.IntN(5 * dayMin)})
	}
}

// Law: nothing is under way while who does it, or where it is done, is away; the judge counts
// minutes day by day and shares no code with the solver. What is called proven is beaten by no
// other search, and being away never brings the end forward.
func TestNobodyWorksWhileAwaySeeds(t *testing.T) {
	seeds := uint64(150)
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		seeds = 6000
	}
	later, proven := 0, 0
	for seed := range seeds {
		rng := rand.New(rand.NewPCG(seed, 1605))
		p := randomProblem(rng, 3+rng.IntN(9))
		if seed%3 == 0 {
			p = keptProblem(rng, 3+rng.IntN(6))
		}
		there, err := Solve(p)
		if err != nil {
			continue
		}
		sometimesAway(rng, &p)
		s, err := Solve(p)
		if err != nil {
			if !strings.Contains(err.Error(), "keeps a place") {
				t.Errorf("seed %d: %v", seed, err)
			}
			continue
		}
		if err := Verify(p, s); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		if there.Proven && s.WorkMin < there.WorkMin {
			t.Errorf("seed %d: done after %d working minutes, with everybody there after %d", seed, s.WorkMin, there.WorkMin)
		}
		if s.WorkMin > there.WorkMin {
			later++
		}
		if s.Proven {
			proven++
			q := p
			q.Seed, q.Samples = p.Seed+1, 60
			if o, err := Solve(q); err == nil && o.WorkMin < s.WorkMin {
				t.Errorf("seed %d: proven with %d, another search has %d", seed, s.WorkMin, o.WorkMin)
			}
		}
	}
	if later < 15 || proven < 15 {
		t.Errorf("%d later, %d proven", later, proven)
	}
}

// Law: the same for weeks of several jobs.
func TestNobodyWorksAWeekWhileAwaySeeds(t *testing.T) {
	seeds := uint64(2)
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		seeds = 150
	}
	for seed := range seeds {
		rng := rand.New(rand.NewPCG(seed, 1606))
		p, s := tinyWeek(rng)
		there, _, err := SolveShared(p, s)
		if err != nil {
			t.Fatal(err)
		}
		for i := range p.Workers {
			if from := rng.IntN(3 * dayMin); rng.IntN(2) == 0 {
				p.Workers[i].Away = []Away{{from, from + 1 + rng.IntN(3*dayMin)}}
			}
		}
		for i := range p.Places {
			if from := rng.IntN(3 * dayMin); rng.IntN(2) == 0 {
				p.Places[i].Away = []Away{{from, from + 1 + rng.IntN(3*dayMin)}}
			}
		}
		sol, _, err := SolveShared(p, s)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		if err := Verify(p, sol); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		if a, b := there.Together, sol.Together; there.Proven && (b.LateMin < a.LateMin || b.LateMin == a.LateMin && b.SumMin < a.SumMin) {
			t.Errorf("seed %d: better while somebody is away: %+v and %+v", seed, a, b)
		}
	}
}
