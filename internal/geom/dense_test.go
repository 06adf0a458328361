package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// sparse is a positive matrix of which most is nothing, rows of it in no order of where they begin.
func sparse(rng *rand.Rand, n int) *symmetric {
	m := newSymmetric(n)
	for i := range n {
		m.add(i, i, 1+rng.Float64())
		for range 2 {
			if j := rng.IntN(n); j != i {
				v := rng.NormFloat64()
				m.add(i, i, math.Abs(v))
				m.add(j, j, math.Abs(v))
				m.add(i, j, v)
			}
		}
	}
	return m
}

// Factor, solution and inverse of a symmetric matrix by multiplying them back, with what is empty
// in it passed over.
func TestDenseMatricesMultiplyBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(91, 0))
	for trial := range 40 {
		n := 1 + trial%17
		m := sparse(rng, n)
		was := make([][]float64, n)
		for i := range was {
			was[i] = make([]float64, n)
			for j := range was[i] {
				if was[i][j] = m.at(i, j); m.at(i, j) != m.at(j, i) {
					t.Fatalf("entry %d, %d", i, j)
				}
			}
		}
		for i, from := range m.starts() {
			for j := 0; j < from; j++ {
				if was[i][j] != 0 {
					t.Errorf("trial %d: row %d begins at %d, and holds %g before", trial, i, from, was[i][j])
				}
			}
			if from < i && was[i][from] == 0 {
				t.Errorf("trial %d: row %d begins at %d, where it is empty", trial, i, from)
			}
		}
		if bad := m.factor(); bad >= 0 {
			t.Fatalf("trial %d: unknown %d is not determined", trial, bad)
		}
		low := func(i, j int) float64 {
			if j > i {
				return 0
			}
			return m.at(i, j)
		}
		b, x, y := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			b[i] = rng.NormFloat64()
			for j := range n {
				sum := 0.0
				for k := range n {
					sum += low(i, k) * low(j, k)
				}
				near(t, "factor times itself turned", sum, was[i][j], 1e-12*float64(n))
			}
		}
		copy(x, b)
		copy(y, b)
		m.solve(x)
		m.forward(y)
		for i := range n {
			whole, half := 0.0, 0.0
			for j := range n {
				whole += was[i][j] * x[j]
				half += low(i, j) * y[j]
			}
			near(t, "matrix times solution", whole, b[i], 1e-9)
			near(t, "factor times half a solution", half, b[i], 1e-9)
		}
		m.invert()
		for i := range n {
			for j := range n {
				sum, one := 0.0, 0.0
				for k := range n {
					sum += was[i][k] * m.at(k, j)
				}
				if i == j {
					one = 1
				}
				near(t, "matrix times inverse", sum, one, 1e-9)
			}
		}
	}
}

// An unknown counts as determined while more than 1e-11 of its first value is left of its pivot.
func TestUndeterminedUnknownIsNamed(t *testing.T) {
	for _, c := range []struct {
		left float64 // of the pivot of the second unknown
		want int
	}{{2e-11, -1}, {0.5e-11, 1}, {0, 1}, {-1, 1}, {math.Inf(1), 1}, {math.NaN(), 1}} {
		m := newSymmetric(3)
		m.add(0, 0, 4)
		m.add(1, 0, 2)
		m.add(1, 1, 1+c.left) // the first unknown takes 2 * 2 / 4 of it
		m.add(2, 2, 1)
		if got := m.factor(); got != c.want {
			t.Errorf("%g left: unknown %d, want %d", c.left, got, c.want)
		}
	}
	if got := newSymmetric(2).factor(); got != 0 {
		t.Errorf("of nothing: unknown %d", got)
	}
}

// Sets against a list of what is in them.
func TestSetsAgainstLists(t *testing.T) {
	rng := rand.New(rand.NewPCG(92, 0))
	draw := func() (s Set, in [MaxMatches]bool) {
		for range 80 {
			i := rng.IntN(MaxMatches)
			s.Put(i)
			in[i] = true
		}
		for range 40 {
			i := rng.IntN(MaxMatches)
			s.Drop(i)
			in[i] = false
		}
		for _, i := range []int{0, 63, 64, 127, MaxMatches - 1} {
			if s.Put(i); !s.Has(i) {
				t.Errorf("%d is not in", i)
			}
			in[i] = true
		}
		return s, in
	}
	for range 20 {
		a, inA := draw()
		b, inB := draw()
		join, leave := a, a
		join.Join(&b)
		leave.Leave(&b)
		n, common := 0, 0
		var members []int
		for i := range MaxMatches {
			if a.Has(i) != inA[i] || join.Has(i) != (inA[i] || inB[i]) || leave.Has(i) != (inA[i] && !inB[i]) {
				t.Fatalf("%d", i)
			}
			if inA[i] {
				n++
				members = append(members, i)
				if inB[i] {
					common++
				}
			}
		}
		if a.Len() != n || a.Common(&b) != common || SetOf(members...) != a {
			t.Fatalf("%d of %d, %d of %d in common", a.Len(), n, a.Common(&b), common)
		}
		for k, i := range a.AppendTo([]int{-7}) {
			if k == 0 && i != -7 || k > 0 && i != members[k-1] {
				t.Fatalf("member %d is %d", k, i)
			}
		}
	}
}

// Matrices and vectors by their definitions, entry by entry.
func TestMatricesByTheirDefinitions(t *testing.T) {
	rng := rand.New(rand.NewPCG(93, 0))
	draw := func() (m Mat3) {
		for i := range m {
			for j := range m {
				m[i][j] = rng.NormFloat64()
			}
		}
		return m
	}
	for range 30 {
		a, b, v := draw(), draw(), draw()[0]
		mul, add, sub, turn, outer, inv := a.Mul(b), a.Add(b), a.Sub(b), a.Turn(b), Outer(a[0], b[1]), Mat3{}
		inv, ok := a.Inverse()
		if !ok {
			t.Fatal("no inverse")
		}
		for i := range 3 {
			mv, tv, sv := 0.0, 0.0, Skew(a[0]).MulVec(v)
			for j := range 3 {
				mv += a[i][j] * v[j]
				tv += a[j][i] * v[j]
				m, tu, one := 0.0, 0.0, 0.0
				for k := range 3 {
					m += a[i][k] * b[k][j]
					one += a[i][k] * inv[k][j]
					for l := range 3 {
						tu += b[i][k] * (a[k][l] + a[l][k]) / 2 * b[j][l]
					}
				}
				near(t, "product", mul[i][j], m, 1e-13)
				near(t, "turned", turn[i][j], tu, 1e-12)
				near(t, "inverse", one, Identity3()[i][j], 1e-9)
				if add[i][j] != a[i][j]+b[i][j] || sub[i][j] != a[i][j]-b[i][j] || a.Transpose()[i][j] != a[j][i] || outer[i][j] != a[0][i]*b[1][j] || a.Scale(3)[i][j] != 3*a[i][j] || a.Symmetric()[i][j] != (a[i][j]+a[j][i])/2 {
					t.Fatalf("entry %d, %d", i, j)
				}
			}
			near(t, "times a vector", a.MulVec(v)[i], mv, 1e-13)
			near(t, "turned times a vector", a.TMulVec(v)[i], tv, 1e-13)
			near(t, "vector product", sv[i], a[0].Cross(v)[i], 1e-13)
			if a.Diag()[i] != a[i][i] || Diag3(v)[i][i] != v[i] || Diag3(v)[i][(i+1)%3] != 0 || Isotropic(2)[i][i] != 4 || Isotropic(2)[i][(i+1)%3] != 0 {
				t.Fatalf("diagonal %d", i)
			}
		}
		near(t, "determinant", a.Det(), a[0].Dot(a[1].Cross(a[2])), 1e-13)
		near(t, "determinant of a product", mul.Det(), a.Det()*b.Det(), 1e-9)
		near(t, "trace", a.Trace(), a[0][0]+a[1][1]+a[2][2], 1e-15)
		c := a[0].Cross(a[1])
		near(t, "square to both", math.Abs(c.Dot(a[0]))+math.Abs(c.Dot(a[1])), 0, 1e-12)
		near(t, "area", c.Norm(), math.Sqrt(a[0].Dot(a[0])*a[1].Dot(a[1])-a[0].Dot(a[1])*a[0].Dot(a[1])), 1e-9)
		near(t, "length one", a[0].Unit().Norm(), 1, 1e-14)
		near(t, "on the way", a[0].Lerp(a[1], 0.25).Dist(a[0].Scale(0.75).Add(a[1].Scale(0.25))), 0, 1e-14)
		for k := range 3 {
			for _, bad := range []float64{math.NaN(), math.Inf(1)} {
				m := a
				if m[k][(k+1)%3] = bad; m.Finite() || !a.Finite() {
					t.Errorf("%v is finite", m)
				}
			}
		}
	}
	if (Vec{}).Unit() != (Vec{}) {
		t.Error("no direction has one")
	}
	if got := (Vec{1, 0, 0}).Cross(Vec{0, 1, 0}); got != (Vec{0, 0, 1}) {
		t.Errorf("x times y is %v", got)
	}
}
