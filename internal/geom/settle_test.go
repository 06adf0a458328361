package geom

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// A block that has settled holds every point that its test lets in and that is not barred, no other,
// and passes the test of all of it; misfits are those of the fit without the point.
func TestSettledBlocksHoldWhatFits(t *testing.T) {
	point, held, alternate := ChiSquareQuantile(0.001, 3), 0, 0
	for seed := uint64(1); seed <= 12; seed++ {
		m, part := threeParts([3]int{9, 10, 8}, seed)
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		rng := rand.New(rand.NewPCG(seed, 6))
		for k := range part {
			var start, barred Set
			for _, i := range part[k].Members() {
				if rng.IntN(3) > 0 {
					start.Put(i)
				}
			}
			for i := range x.Len() {
				if rng.IntN(8) == 0 {
					barred.Put(i)
				}
			}
			if start.Len() < 3 {
				continue
			}
			b, ok := x.Settle(start, &barred, make([]float64, x.Len()))
			if !ok {
				continue
			}
			held++
			again, err := x.Evaluate(b.Set)
			if err != nil || again.Fit.Chi2 > ChiSquareQuantile(0.001, 3*b.Set.Len()-6) || b.Set.Common(&barred) > 0 && b.Set != start {
				t.Errorf("seed %d: %v of chi-square %g, %d barred", seed, err, again.Fit.Chi2, b.Set.Common(&barred))
			}
			fixed := true
			for i, v := range again.T {
				near(t, "misfit", b.T[i], v, 1e-9*(1+v))
				fixed = fixed && (b.Set.Has(i) || barred.Has(i) || v > point) && (!b.Set.Has(i) || v <= point)
			}
			if !fixed {
				alternate++ // or the test of all put out one that fits
			}
			if i := b.Set.Members()[0]; b.Set.Len() > 3 { // as if the fit were made without it
				less := b.Set
				less.Drop(i)
				without, err := x.Evaluate(less)
				if err != nil {
					t.Fatal(err)
				}
				near(t, "without the point", b.T[i], without.T[i], 1e-3*(1+without.T[i]))
			}
		}
		if _, ok := x.Settle(SetOf(0, 1), nil, make([]float64, x.Len())); ok {
			t.Error("two points settle")
		}
		for _, dof := range []int{3, 9, 75} {
			near(t, "border", x.criticalBlock(dof), ChiSquareQuantile(0.001, dof), 0)
		}
	}
	if held < 20 || 10*alternate > held {
		t.Errorf("%d blocks settled, %d of them on one of two versions", held, alternate)
	}
}

// What a split costs, from its formula: the misfit, 6 ln 3n for each block and 3 ln 3n for each point
// alone, and twice the logarithm of the ways to pick the points that are alone and every block but the
// one that is hardest to describe.
func TestCostOfASplitByItsFormula(t *testing.T) {
	for seed := uint64(1); seed <= 6; seed++ {
		m, part := threeParts([3]int{9, 12, 7}, seed)
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		pl := newPool(x, 4)
		pl.cuts()
		part[1].Drop(12)
		part[2].Drop(25)
		for n := 1; n <= 3; n++ {
			var blocks []Block
			var all Set
			chi2 := 0.0
			for _, s := range part[:n] {
				b, err := x.Evaluate(s)
				if err != nil {
					t.Fatal(err)
				}
				blocks = append(blocks, b)
				all.Join(&s)
				chi2 += b.Fit.Chi2
			}
			alone, unit := 28-all.Len(), math.Log(3*28)
			ways, most := logOver(28, alone), 0.0
			for _, b := range blocks {
				w := min(logOver(28-alone, b.Set.Len()), waysOfAnEnd(pl, &b.Set, &all))
				ways, most = ways+w, max(most, w)
			}
			near(t, "cost", pl.bic(blocks), chi2+6*unit*float64(n)+3*unit*float64(alone)+2*(ways-most), 1e-8)
		}
		found := x.Partitions(4, 1)
		if !found.Exhaustive || found.Seed != 1 {
			t.Errorf("%+v", found)
		}
		for k, p := range found.Partitions {
			if p.BIC > found.Partitions[0].BIC+NearBIC || k > 0 && p.BIC < found.Partitions[k-1].BIC || len(p.Blocks) > maxBlocks {
				t.Errorf("seed %d: split %d costs %g, the best %g", seed, k, p.BIC, found.Partitions[0].BIC)
			}
			near(t, "its cost", p.BIC, pl.bic(slices.Clone(p.Blocks)), 1e-8)
			for i := range p.Blocks {
				for j := range i {
					if p.Blocks[i].Set.Common(&p.Blocks[j].Set) > 0 {
						t.Errorf("seed %d: blocks %d and %d of split %d share points", seed, i, j, k)
					}
				}
				if p.Blocks[i].Set.Len() < 4 || i > 0 && p.Blocks[i].Set.Len() > p.Blocks[i-1].Set.Len() {
					t.Errorf("seed %d: blocks of %d points", seed, p.Blocks[i].Set.Len())
				}
			}
		}
	}
	// more than 60 points are drawn, from the seed
	m, _ := threeParts([3]int{61, 0, 0}, 3)
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	if found := x.Partitions(4, 9); found.Exhaustive || found.Seed != 9 || len(found.Partitions) == 0 || found.Partitions[0].Blocks[0].Set.Len() < 55 {
		t.Errorf("%d splits, exhaustive %v", len(found.Partitions), found.Exhaustive)
	}
}

// The sides of cuts across the two longest axes are grown, each without the other: at every place where
// both sides have the least number of points, sixteen places at most.
func TestCutsAcrossTheLongestAxes(t *testing.T) {
	for _, n := range []int{7, 8, 9, 24, 25, 40, 60} {
		m, _ := threeParts([3]int{n, 0, 0}, 2)
		for i := range m.From { // which axis is the longest is plain
			m.From[i] = Vec{10 * float64(i%3), 3000 * float64(i) / float64(n), 90 * float64(i%5)}
			m.To[i] = m.From[i]
		}
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		pl := newPool(x, 4)
		pl.cuts()
		var mid Vec
		for _, p := range m.From {
			mid = mid.Add(p.Scale(1 / float64(n)))
		}
		var spread Mat3
		for _, p := range m.From {
			spread = spread.Add(Outer(p.Sub(mid), p.Sub(mid)))
		}
		_, axes := SymEigen(spread)
		if math.Abs(axes[1][0]) < 0.99 || math.Abs(axes[2][1]) < 0.9 {
			t.Fatalf("the axes are %v", axes)
		}
		for k, order := range pl.along {
			axis := Vec{axes[0][k], axes[1][k], axes[2][k]}
			for at := 1; at < n; at++ {
				if axis.Dot(m.From[order[at]]) < axis.Dot(m.From[order[at-1]]) {
					t.Errorf("%d points along axis %d: %d after %d", n, k, order[at], order[at-1])
				}
			}
		}
		places := n - 7 // from 4 to n - 4
		step := max(1, (n-8+15)/16)
		want := 0
		for cut := 4; cut <= n-4; cut += step {
			want += 2
		}
		if want > 2*17 || n <= 24 && want != 2*max(0, places) {
			t.Fatalf("%d points: %d sides", n, want)
		}
		// nothing moved and nothing is barred twice: each side settles to itself, and is a block
		blocks := map[Set]bool{}
		for k := range pl.blocks {
			blocks[pl.blocks[k].Set] = true
		}
		for _, order := range pl.along {
			for cut := 4; cut <= n-4; cut += step {
				for _, side := range [][]int{order[:cut], order[cut:]} {
					if !blocks[SetOf(side...)] {
						t.Errorf("%d points: the side %v is no block", n, side)
					}
				}
			}
		}
	}
}

// A stretch weighed by a covariance that is none between points is that of independent ones; so is one
// whose points share an error, which a translation takes up.
func TestStretchTogether(t *testing.T) {
	m, _ := threeParts([3]int{12, 0, 0}, 9)
	for i := range m.To {
		m.To[i] = Mat3{{1.002, 0, 0.001}, {0, 0.999, 0}, {0, 0, 1}}.MulVec(m.To[i])
	}
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	want, ok := x.Stretch()
	for _, shared := range []float64{0, 3} {
		x.Correlated(func(i, j int) Mat3 {
			if i == j {
				return Isotropic(0.7).Add(Isotropic(shared))
			}
			return Isotropic(shared)
		})
		got, together := x.Stretch()
		if near(t, "misfit", got.Chi2, want.Chi2, 1e-5*(1+want.Chi2)); !ok || !together || got.DOF != want.DOF || want.DOF != 24 {
			t.Errorf("%v, %v, %d and %d degrees of freedom", ok, together, got.DOF, want.DOF)
		}
	}
	x.Correlated(func(i, j int) Mat3 { return Isotropic(1) })
	if _, ok := x.Stretch(); ok {
		t.Error("a covariance without rank is weighed")
	}
	for n, want := range map[int]bool{4: false, 5: true} {
		m, _ := threeParts([3]int{n, 0, 0}, 9)
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		if _, ok := x.Stretch(); ok != want {
			t.Errorf("%d points: %v", n, ok)
		}
	}
}

// Least squares go down the curved valley of Rosenbrock to its end from either side, give up where
// the sum has no number, and count the steps they took.
func TestLeastSquaresInAValley(t *testing.T) {
	valley := func(x, r, jac []float64) {
		r[0], jac[0], jac[1] = 10*(x[1]-x[0]*x[0]), -20*x[0], 10
		r[1], jac[2], jac[3] = 1-x[0], -1, 0
	}
	for _, from := range [][]float64{{-1.2, 1}, {3, -4}, {1, 1}} {
		s, err := LeastSquares(valley, from, 2)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "x", s.X[0], 1, 1e-9)
		near(t, "y", s.X[1], 1, 1e-9)
		if s.SS > 1e-18 || s.DOF != 0 || s.Steps < 1 || s.Steps > 200 {
			t.Errorf("from %v: %+v", from, s)
		}
	}
	line := func(x, r, jac []float64) { // y = a + b t through (0, 1), (1, 3), (2, 4), (3, 4)
		for i, y := range []float64{1, 3, 4, 4} {
			r[i], jac[2*i], jac[2*i+1] = x[0]+x[1]*float64(i)-y, 1, float64(i)
		}
	}
	s, err := LeastSquares(line, []float64{0, 0}, 4)
	if err != nil {
		t.Fatal(err)
	}
	// means 1.5 and 3, sum of (t - 1.5)(y - 3) = 5 over sum of (t - 1.5)^2 = 5: b = 1, a = 1.5; what is left: 0.5, -0.5, -0.5, 0.5
	near(t, "a", s.X[0], 1.5, 1e-9)
	near(t, "b", s.X[1], 1, 1e-9)
	near(t, "left", s.SS, 1, 1e-9)
	near(t, "variance of b", s.Cov(1, 1), 1./5, 1e-9)
	near(t, "covariance", s.Cov(0, 1), -1.5/5, 1e-9)
	near(t, "standard deviation of b", s.Std(1), math.Sqrt(1./2/5), 1e-9)
	if s.DOF != 2 {
		t.Errorf("%d degrees of freedom", s.DOF)
	}
	away := func(x, r, jac []float64) { r[0], jac[0] = math.Exp(-x[0]), -math.Exp(-x[0]) } // goes on for ever
	if _, err := LeastSquares(away, []float64{0}, 1); err == nil || !strings.Contains(err.Error(), "is not determined") && !strings.Contains(err.Error(), "no minimum found") {
		t.Errorf("%v", err)
	}
}
