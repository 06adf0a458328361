package geom

import (
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

// drawnSplit is a cloud of 4.5 x 1.6 x 0.7 m of which a part moved as one, with
// readings of 0.7 mm: the middle or an end, what lies round the middle, one side of
// an end, or an end but for some points. Constructed.
func drawnSplit(seed uint64) (Matches, []Set) {
	rng := rand.New(rand.NewPCG(seed, 4711))
	n := 14 + rng.IntN(25)
	gauss := func() Vec { return Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()} }
	m := Matches{}
	for i := range n { // in order along the length
		x := (float64(i) + 0.4*rng.Float64()) / float64(n) * 4500
		side := float64(1 - 2*(i%2))
		m.From = append(m.From, Vec{x, side * (550 + 250*rng.Float64()), 700 * rng.Float64()})
	}
	sets, from := make([]Set, 2), 4+rng.IntN(n-10)
	to := from + 4 + rng.IntN(n-from-4+1)
	kind := rng.IntN(4)
	for i := range n {
		moved := [4]bool{i >= from && i < to, i < from || i >= to, i >= from && i%2 == 0, i >= from && rng.IntN(6) > 0}[kind]
		if moved {
			sets[1].Put(i)
		} else {
			sets[0].Put(i)
		}
	}
	var mid Vec
	for _, i := range sets[1].Members() {
		mid = mid.Add(m.From[i].Scale(1 / float64(sets[1].Len())))
	}
	size := 6 + 25*rng.Float64()
	turn, move := FromRotationVector(gauss().Unit().Scale(size/1500)), gauss().Unit().Scale(size)
	frame := Rigid{FromRotationVector(gauss()), gauss().Scale(800)}
	for i, p := range m.From {
		if sets[1].Has(i) {
			p = turn.MulVec(p.Sub(mid)).Add(mid).Add(move)
		}
		m.To = append(m.To, frame.Apply(p).Add(gauss().Scale(0.7)))
		m.CovFrom, m.CovTo = append(m.CovFrom, Mat3{}), append(m.CovTo, Isotropic(0.7))
	}
	return m, sets
}

// The search finds a split that costs no more than the one that was drawn, whichever
// way the parts lie. A small part that no cut across the length or the width sets free,
// a middle between two ends or one side of an end, was missed in 24 of the first 1,000: its
// triples predict the others so badly that these were taken in. Seed 16 is the first.
func TestSearchFindsTheDrawnSplitSeeds1(t *testing.T) {
	runs := uint64(50)
	if n, err := strconv.ParseUint(os.Getenv("FETTLE_FAMILIES"), 10, 64); err == nil {
		runs = 10 * n
	}
	drawn, missed := 0, 0
	for seed := uint64(1); seed <= runs; seed++ {
		m, sets := drawnSplit(seed)
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		if sets[0].Len() < 4 || sets[1].Len() < 4 {
			continue
		}
		pl := newPool(x, 4)
		pl.cuts()
		want, ok := pl.settle(sets)
		if !ok {
			continue
		}
		drawn++
		if best := x.Partitions(4, 1).Partitions[0]; best.BIC > want.BIC+1e-6 {
			missed++
			t.Logf("seed %d: the best split costs %.1f, the one drawn %.1f", seed, best.BIC, want.BIC)
		}
	}
	if 500*missed > drawn {
		t.Errorf("%d of %d splits are not found", missed, drawn)
	}
	if drawn < int(runs)/2 {
		t.Errorf("only %d of %d vehicles have two blocks", drawn, runs)
	}
}
