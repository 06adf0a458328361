package plan

import (
	"math/rand/v2"
	"testing"
)

// leastOf is the least cost of things that meet a demand, by trying each of one-of lists.
func leastOf(s Sharing, want [][]int) int64 {
	has := make([]bool, len(s.Cost))
	best := int64(-1)
	var try func(open [][]int, cost int64)
	try = func(open [][]int, cost int64) {
		if best >= 0 && cost >= best {
			return
		}
		for len(open) > 0 {
			one := open[0]
			done := false
			for _, k := range one {
				done = done || has[k]
			}
			if !done {
				break
			}
			open = open[1:]
		}
		if len(open) == 0 {
			best = cost
			return
		}
		for _, k := range open[0] {
			has[k] = true
			next := append([][]int{}, open[1:]...)
			for _, n := range s.Needs {
				if n.Who == k {
					next = append(next, n.OneOf)
				}
			}
			try(next, cost+s.Cost[k])
			has[k] = false
		}
	}
	try(want, 0)
	return best
}

// TestSharingIsABoundSeeds: for the demands of drawn items on three vehicles, one alone and
// two together, the least cost of the things told is never more than what opening costs,
// and nearly always the same; what two have in common is paid once.
func TestSharingIsABoundSeeds(t *testing.T) {
	checked, same, saved := 0, 0, 0
	for _, v := range lawVehicles(t) {
		for seed := range uint64(draws(6, 60)) {
			in := lawJob(v, seed)
			if seed%2 == 1 {
				in.Body = drawJoints(v.body, rand.New(rand.NewPCG(seed, 78)))
			}
			w := NewWeigher(in)
			var all Demand
			sum := int64(0)
			for _, it := range in.Choice.Items {
				d := w.Demand(it)
				one, ok := w.Shared(d)
				if !ok {
					t.Fatalf("%s seed %d: %s cannot be opened", v.name, seed, it.Treatment)
				}
				sum += one
				all = all.With(d)
				for _, ask := range []Demand{d, all} {
					want, _ := w.Shared(ask)
					least := int64(-1)
					for _, s := range w.Sharing(ask) {
						if c := leastOf(s, s.Of(ask)); least < 0 || c >= 0 && c < least {
							least = c
						}
					}
					if checked++; least > want || least < 0 {
						t.Errorf("%s seed %d: %d, and opening costs %d", v.name, seed, least, want)
					}
					if least == want {
						same++
					}
				}
			}
			if c, _ := w.Shared(all); c < sum {
				saved++
			} else if c > sum {
				t.Errorf("%s seed %d: together %d, one by one %d", v.name, seed, c, sum)
			}
		}
	}
	if 2*same < checked || saved == 0 {
		t.Errorf("of %d bounds %d are reached, %d demands share something", checked, same, saved)
	}
	t.Logf("of %d bounds %d are reached, %d demands share something", checked, same, saved)
}
