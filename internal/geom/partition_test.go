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

// What a block is worth against chance, computed once more from the formulas of pool.chance: the
// variance of the others over that of the readings (their mean misfit per coordinate against the
// first block, of the first the middle misfit of the points outside), the number of ways, the
// misfit. The pool holds no block twice, and a block that lies in it settles to itself.
func TestChanceOfBlocksByItsFormulas(t *testing.T) {
	for seed := uint64(1); seed <= 10; seed++ {
		m, part := threeParts([3]int{9, 12, 7}, seed)
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		pl := newPool(x, 4)
		pl.cuts()
		seen := map[Set]bool{}
		for k := range pl.blocks {
			set := pl.blocks[k].Set
			if seen[set] {
				t.Errorf("seed %d: the block %v is in the pool twice", seed, set.Members())
			}
			seen[set] = true
			if b, ok := pl.grow(set, nil); !ok || b.Set != set {
				t.Errorf("seed %d: the block %v does not settle to itself", seed, set.Members())
			}
		}
		var blocks []Block
		for k := range part {
			b, err := x.Evaluate(part[k])
			if err != nil {
				t.Fatal(err)
			}
			blocks = append(blocks, b)
		}
		blocks[2].Set.Drop(27) // one point is alone
		const alone = 1
		pl.bic(blocks)
		for k, b := range blocks {
			v := 0.0
			if k > 0 {
				for _, i := range b.Set.Members() {
					r := m.To[i].Sub(blocks[0].Fit.Motion.Apply(m.From[i]))
					v += r.Dot(r) / (0.7 * 0.7) / float64(3*b.Set.Len())
				}
			} else {
				var off []float64
				for i := range m.From {
					if !b.Set.Has(i) {
						off = append(off, b.T[i])
					}
				}
				slices.Sort(off)
				n := len(off)
				v = (off[(n-1)/2] + off[n/2]) / 2 / 2.365973884375338 // the median of chi-square, scipy.stats.chi2.ppf(0.5, 3)
			}
			v = max(1, v)
			size := b.Set.Len()
			ways := min(waysOfAnEnd(pl, &b.Set, nil), logOver(size+alone, size))
			gain := float64(b.Fit.DOF)*math.Log(v) - b.Fit.Chi2*(1-1/v) - 2*ways
			chance := math.Exp(ways) * (1 - ChiSquareTail(ChiSquareQuantile(AlphaBlock, b.Fit.DOF)/v, b.Fit.DOF))
			near(t, "ways among all", pl.endWays(&b.Set, nil), waysOfAnEnd(pl, &b.Set, nil), 1e-9)
			among := part[0]
			among.Join(&b.Set)
			near(t, "ways among some", pl.endWays(&b.Set, &among), waysOfAnEnd(pl, &b.Set, &among), 1e-9)
			near(t, "gain", b.Gain, gain, 1e-6*math.Abs(gain))
			near(t, "chance", b.Chance, chance, 1e-6*chance+float64(1e-13*math.Exp(ways)))
		}
	}
}

// logOver is the natural logarithm of n over k, factor by factor.
func logOver(n, k int) (sum float64) {
	for i := 1; i <= k; i++ {
		sum += math.Log(float64(n-k+i)) - math.Log(float64(i))
	}
	return sum
}

// waysOfAnEnd is how many ways there are to pick a set as one side of a cut with the least
// exceptions, as a logarithm: every cut of both axes, either side of it, the points counted.
func waysOfAnEnd(pl *pool, set, among *Set) float64 {
	least, n := pl.x.Len(), pl.x.Len()
	for _, order := range pl.along {
		if among != nil {
			order = slices.DeleteFunc(slices.Clone(order), func(i int) bool { return !among.Has(i) })
			n = len(order)
		}
		for cut := 1; cut < n; cut++ {
			for _, side := range [][]int{order[:cut], order[cut:]} {
				end := SetOf(side...)
				least = min(least, set.Len()+len(side)-2*end.Common(set))
			}
		}
	}
	return math.Log(float64(4*(n-1))) + logOver(n, least)
}
