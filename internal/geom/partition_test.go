package geom

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// threeParts is a cloud whose two ends moved: front, middle and rear, with sizes.
// Constructed.
func threeParts(sizes [3]int, seed uint64) (Matches, [3]Set) {
	rng := rand.New(rand.NewPCG(seed, 5))
	gauss := func(s float64) Vec { return Vec{s * rng.NormFloat64(), s * rng.NormFloat64(), s * rng.NormFloat64()} }
	var m Matches
	var part [3]Set
	n := sizes[0] + sizes[1] + sizes[2]
	turn := [3]Rigid{Still(), Still(), Still()}
	for _, k := range []int{0, 2} {
		turn[k] = Rigid{R: FromRotationVector(gauss(0.003)), T: gauss(9)}
	}
	for k, size := range sizes {
		for range size {
			i := len(m.From)
			p := Vec{4500 * float64(i) / float64(n), 700 * float64(1-2*(i%2)), 600 * rng.Float64()}
			m.From, m.To = append(m.From, p), append(m.To, turn[k].Apply(p).Add(gauss(0.7)))
			m.CovFrom, m.CovTo = append(m.CovFrom, Mat3{}), append(m.CovTo, Isotropic(0.7))
			part[k].Put(i)
		}
	}
	return m, part
}

// Law: what a split costs does not depend on which block is named first.
func TestCostOfASplitHasNoOrder(t *testing.T) {
	for seed := uint64(1); seed <= 20; seed++ {
		m, part := threeParts([3]int{12, 10, 8}, seed)
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		pl := newPool(x, 4)
		pl.cuts()
		var blocks []Block
		for k := range part {
			b, err := x.Evaluate(part[k])
			if err != nil {
				t.Fatal(err)
			}
			blocks = append(blocks, b)
		}
		want := pl.bic(slices.Clone(blocks))
		for _, order := range [][3]int{{0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}} {
			if got := pl.bic([]Block{blocks[order[0]], blocks[order[1]], blocks[order[2]]}); math.Abs(got-want) > 1e-9 {
				t.Errorf("seed %d: order %v costs %.6f, first order %.6f", seed, order, got, want)
			}
		}
	}
}

// A still middle between two ends that moved stays in one piece.
func TestMiddleIsNotCut(t *testing.T) {
	whole := 0
	const runs = 60
	for seed := uint64(1); seed <= runs; seed++ {
		m, part := threeParts([][3]int{{8, 14, 8}, {9, 12, 9}, {7, 16, 7}}[seed%3], seed)
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		best := x.Partitions(4, 0).Partitions[0]
		for k := range best.Blocks {
			if s := &best.Blocks[k].Set; s.Common(&part[1]) >= part[1].Len()-2 && s.Len() <= part[1].Len()+2 {
				whole++
			}
		}
	}
	if whole < runs*95/100 {
		t.Errorf("the middle is one block in %d of %d splits", whole, runs)
	}
}
