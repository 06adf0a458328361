package cost

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

func euros(minor unit.Minor) unit.Money { return unit.Money{Minor: minor, Currency: "EUR"} }

// Worked by hand: the mean of a triangle over 250.00, 600.00 and 1,400.00 is their sum by three,
// 750.00 (the mean of the triangular distribution, textbook), a third of a chance of 12 % of it 90.00.
// What is settled, or in another currency, is in no sum; an area for which nobody gave a chance is
// named, and no chance is made up for it.
func TestFirstEstimateByHand(t *testing.T) {
	j := &job.State{Risks: []job.Risk{
		{ID: "R1", About: "A-1.ribs", Chance: 0.12, Low: euros(25000), Likely: euros(60000), High: euros(140000), Bars: true, By: "P1"},
		{ID: "R2", About: "D1", Chance: 0.2, Low: euros(15000), Likely: euros(45000), High: euros(160000), By: "P1"},
		{ID: "R3", About: "A-3", Chance: 0.5, Low: euros(100), Likely: euros(100), High: euros(100), Settled: "well", By: "P1"},
		{ID: "R4", About: "A-4", Chance: 0.5, Low: unit.Money{Minor: 100, Currency: "USD"}, Likely: unit.Money{Minor: 100, Currency: "USD"}, High: unit.Money{Minor: 100, Currency: "USD"}, By: "P1"},
		{ID: "R5", About: "A-5", Chance: 0.01, Low: euros(1), Likely: euros(1), High: euros(1), By: "P1"},
	}}
	area := func(id string, with ...string) plan.ToInspect { return plan.ToInspect{Area: id, WithIDs: with} }
	x := plan.Exposed{Stages: []plan.Stage{{Areas: []plan.ToInspect{area("A-1", "A-1.ribs"), area("A-2"), area("A-3")}}}, Hidden: []plan.ToInspect{area("A-4"), area("A-5")}}
	f := FirstOf(x, Bill{Total: 75210, Complete: true}, &shop.Shop{Currency: "EUR"}, j)
	var got []string
	for _, m := range f.May {
		got = append(got, fmt.Sprint(m.Risk, " ", m.Mean.Grouped(), " ", m.Looked, " ", m.Bars))
	}
	// R5: a hundredth of a minor unit rounds to nothing.
	if want := []string{"R2 146.67 false false", "R1 90.00 true true", "R5 0.00 false false"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if f.Opening != 75210 || f.Mean != 23667 || f.Most != 300001 || !f.Complete {
		t.Errorf("%+v", f)
	}
	if low, high := fmt.Sprintf("%.9f", f.NoneLeast), fmt.Sprintf("%.9f", f.NoneMost); low != "0.670000000" || high != "0.800000000" {
		t.Errorf("none: %s to %s", low, high)
	}
	if !slices.Equal(f.Silent, []string{"A-2", "A-3", "A-4"}) || !slices.Equal(f.Foreign, []string{"R4"}) {
		t.Errorf("no chance for %v, foreign %v", f.Silent, f.Foreign)
	}
}

// Without any risk the estimate is the opening alone, and every area is named.
func TestFirstEstimateInventsNothing(t *testing.T) {
	x := plan.Exposed{Hidden: []plan.ToInspect{{Area: "A-1", Zones: []body.ZoneID{"Z"}}}}
	f := FirstOf(x, Bill{Total: 100}, &shop.Shop{Currency: "EUR"}, &job.State{})
	if f.Opening != 100 || f.Mean != 0 || f.Most != 0 || f.Complete || f.NoneLeast != 1 || f.NoneMost != 1 || !slices.Equal(f.Silent, []string{"A-1"}) {
		t.Errorf("%+v", f)
	}
}

// However risks hang together, the chance that none turns out bad lies between the two told
// (Frechet's bounds): for random joint distributions over all subsets of up to four risks, whose
// marginal chances are entered. The ends are reached: by risks that exclude one another, and by
// one that all others imply.
func TestChanceOfNoneHoldsForEveryDependenceSeeds(t *testing.T) {
	ends := [2]int{}
	for seed := range uint64(2000) {
		rng := rand.New(rand.NewPCG(seed, 5))
		n := 1 + rng.IntN(4)
		weight, sum := make([]float64, 1<<n), 0.0
		for s := range weight {
			one := s&(s-1) == 0 // at most one of them
			chain := s&(s+1) == 0
			if kind := seed % 3; kind == 0 || kind == 1 && one || kind == 2 && chain {
				weight[s] = rng.Float64()
			}
			sum += weight[s]
		}
		j := &job.State{}
		for k := range n {
			p := 0.0
			for s, w := range weight {
				if s>>k&1 == 1 {
					p += w / sum
				}
			}
			j.Risks = append(j.Risks, job.Risk{ID: fmt.Sprint(k), Chance: unit.Frac(p), Low: euros(1), Likely: euros(1), High: euros(1)})
		}
		f, none := FirstOf(plan.Exposed{}, Bill{}, &shop.Shop{Currency: "EUR"}, j), weight[0]/sum
		if none < f.NoneLeast-1e-12 || none > f.NoneMost+1e-12 {
			t.Errorf("seed %d: none has %.4f, told %.4f to %.4f", seed, none, f.NoneLeast, f.NoneMost)
		}
		for i, end := range []float64{f.NoneLeast, f.NoneMost} {
			if none > end-1e-9 && none < end+1e-9 && n > 1 {
				ends[i]++
			}
		}
	}
	if ends[0] < 100 || ends[1] < 100 {
		t.Errorf("the ends were reached %v times", ends)
	}
}
