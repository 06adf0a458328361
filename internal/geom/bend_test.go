package geom

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// beam is n points along an axis, 2000 long, and the Matcher of their images under shift, which is
// given in the axes of the beam from the middle of the points, with errors of 0.5 mm of so many
// times that.
func beam(t *testing.T, n, along int, errors float64, seed uint64, shift func(r Vec) Vec) (*Matcher, Set) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 17))
	var m Matches
	var set Set
	place := func(r Vec) (p Vec) { // the axis along, and the two that follow it in turn
		for k, v := range r {
			p[(along+k)%3] = v
		}
		return p
	}
	rs, mid := make([]Vec, n), Vec{}
	for i := range rs {
		rs[i] = Vec{2000 * float64(i) / float64(n-1), 400 * float64(i%2), 300 * rng.Float64()}
		mid = mid.Add(rs[i].Scale(1 / float64(n)))
	}
	const std = 0.5
	for i, r := range rs {
		d := shift(r.Sub(mid))
		for k := range d {
			d[k] += float64(errors * std * rng.NormFloat64())
		}
		m.From, m.To = append(m.From, place(r)), append(m.To, place(r.Add(d)))
		m.CovFrom, m.CovTo = append(m.CovFrom, Isotropic(0.3)), append(m.CovTo, Isotropic(0.4)) // together 0.5
		set.Put(i)
	}
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	return x, set
}

// Constructed: a beam along each axis that is bent by known coefficients, in either way, moved
// and turned a little (so little that squares of the turn do not count): the model that bends so
// finds them and leaves nothing over.
func TestBendsFindTheBend(t *testing.T) {
	const b, c = 3e-9, -2e-9 // 1/mm: 0.003 mm at the ends
	move := func(r Vec) Vec { return Vec{0.01, -0.02, 0.03}.Add(Vec{1e-7, -2e-7, 3e-7}.Cross(r)) }
	slide := func(r Vec) Vec {
		return move(r).Add(Vec{float64(4e-7*r[1]) - float64(5e-7*r[2]), b * r[0] * r[0], c * r[0] * r[0]})
	}
	turn := func(r Vec) Vec {
		return move(r).Add(Vec{-2 * r[0] * (float64(b*r[1]) + float64(c*r[2])), b * r[0] * r[0], c * r[0] * r[0]})
	}
	for along := range 3 {
		for k, shift := range []func(Vec) Vec{slide, turn} {
			x, set := beam(t, 14, along, 0, 1, shift)
			got := x.Bends(&set)
			if len(got) != 2 || got[0].Parameters != 10 || got[1].Parameters != 8 || got[0].DOF != 42-10 || got[1].DOF != 42-8 {
				t.Fatalf("along %d: %+v", along, got)
			}
			near(t, "b", got[k].Coefficient[0], b, 1e-3*b)
			near(t, "c", got[k].Coefficient[1], c, -1e-3*c)
			near(t, "what is left over", got[k].Chi2, 0, 1e-12)
			if other := got[1-k]; !(other.Chi2 > 1e3*got[k].Chi2) {
				t.Errorf("along %d: the other way of bending leaves %g, this one %g", along, other.Chi2, got[k].Chi2)
			}
			var axis Vec
			if axis[along] = 1; got[k].Along != axis {
				t.Errorf("along %v, want %v", got[k].Along, axis)
			}
			sag, std := got[k].Sag(axis.Scale(1500), axis.Scale(500))
			near(t, "sag over 1000 mm", sag, math.Hypot(b, c)*1e6, 1e-5)
			near(t, "its uncertainty", std, 1e6*got[k].Std, 1e-12)
		}
	}
}

// Where nothing is bent, Test is chi-square with 2 degrees of freedom and Chi2 with DOF, so that
// their means are these; the covariance of the coefficients has Std as its longest half axis.
// 1500 draws, seeds 1 to 1500: the limits are four standard deviations of the means.
func TestBendOfErrorsAlone(t *testing.T) {
	const draws = 1500
	var test, chi2, std [2]float64
	var sums [2][3]float64
	for seed := range uint64(draws) {
		x, set := beam(t, 12, 0, 1, seed+1, func(Vec) Vec { return Vec{} })
		for k, b := range x.Bends(&set) {
			test[k] += b.Test / draws
			chi2[k] += b.Chi2 / float64(b.DOF) / draws
			std[k] += float64(b.Std*b.Std) / draws
			y, z := b.Coefficient[0], b.Coefficient[1]
			sums[k] = [3]float64{sums[k][0] + float64(y*y), sums[k][1] + float64(y*z), sums[k][2] + float64(z*z)}
		}
	}
	for k, dof := range []float64{36 - 10, 36 - 8} {
		yy, yz, zz := sums[k][0]/draws, sums[k][1]/draws, sums[k][2]/draws
		cov := (yy+zz)/2 + math.Hypot((yy-zz)/2, yz)
		near(t, "mean test", test[k], 2, 4*2/math.Sqrt(draws))
		near(t, "mean misfit per degree of freedom", chi2[k], 1, 4*math.Sqrt(2/dof/draws))
		near(t, "variance of the coefficient", cov/std[k], 1, 4*math.Sqrt(2./draws)+0.02)
	}
}

// Constructed: a beam that is straight up to a hinge and bent beyond it, at either end, is met
// without rest by a bend that begins there, which costs one parameter more; one that is bent from
// end to end is not.
func TestHalfBendFindsTheHinge(t *testing.T) {
	const b, c = 2e-9, 5e-9
	const n = 14
	for k := range hinges {
		for _, sign := range []float64{-1, 1} {
			at := 2000*float64(n*(k+1)/(hinges+1))/(n-1) - 1000
			x, set := beam(t, n, 0, 0, 2, func(r Vec) Vec {
				q := max(0, sign*(r[0]-at))
				return Vec{0, b * q * q, c * q * q}
			})
			got, ok := x.HalfBend(&set)
			if !ok || got.Parameters != 11 || got.DOF != 3*n-10 {
				t.Fatalf("hinge %d: %v %+v", k, ok, got)
			}
			near(t, "b", got.Coefficient[0], b, 2e-3*b)
			near(t, "c", got.Coefficient[1], c, 2e-3*c)
			near(t, "what is left over", got.Chi2, 0, 1e-12)
		}
	}
	x, set := beam(t, n, 0, 0, 2, func(r Vec) Vec { return Vec{0, 1e-5 * r[0] * r[0], 0} })
	whole := x.Bends(&set)
	if half, ok := x.HalfBend(&set); len(whole) != 2 || !ok || !(half.Chi2 > 100*whole[0].Chi2) {
		t.Errorf("bent from end to end: %g from a hinge on, %g as a whole", half.Chi2, whole[0].Chi2)
	}
}

// Points with a whole covariance that is none between them are bent as independent ones are.
func TestBendTogetherOfIndependentErrors(t *testing.T) {
	x, set := beam(t, 12, 1, 1, 5, func(r Vec) Vec { return Vec{0, 1e-6 * r[0] * r[0], 0} })
	plain := x.Bends(&set)
	half, ok := x.HalfBend(&set)
	x.Correlated(func(i, j int) Mat3 {
		if i == j {
			return Isotropic(0.5)
		}
		return Mat3{}
	})
	halfTogether, okTogether := x.HalfBend(&set)
	both := append(x.Bends(&set), halfTogether)
	if len(plain) != 2 || len(both) != 3 || !ok || !okTogether {
		t.Fatalf("%d and %d bends", len(plain), len(both))
	}
	for k, want := range append(plain, half) {
		got := both[k]
		near(t, "misfit", got.Chi2, want.Chi2, 1e-6*want.Chi2)
		near(t, "test", got.Test, want.Test, 1e-6*want.Test)
		near(t, "std", got.Std, want.Std, 1e-6*want.Std)
	}
}

// Points that do not determine a bend have none: three have 9 coordinates, enough for the 8
// parameters of sections that turn and not for the 10 of those that slide; none on a line do.
func TestBendsThatAreNotDetermined(t *testing.T) {
	for n, want := range map[int][]int{2: nil, 3: {8}, 4: {10, 8}} {
		x, set := beam(t, n, 0, 1, 3, func(Vec) Vec { return Vec{} })
		var got []int
		for _, b := range x.Bends(&set) {
			got = append(got, b.Parameters)
		}
		if _, ok := x.HalfBend(&set); !slices.Equal(got, want) || ok && n < 4 {
			t.Errorf("%d points: parameters %v, want %v; from a hinge on %v", n, got, want, ok)
		}
	}
	x, _ := beam(t, 14, 0, 1, 3, func(Vec) Vec { return Vec{} })
	for i := range x.m.From {
		x.m.From[i][1], x.m.From[i][2] = 0, 0
	}
	every := SetOf(0, 2, 4, 6, 8)
	if got := x.Bends(&every); len(got) > 0 {
		t.Errorf("on a line: %+v", got)
	}
}
