package geom

import (
	"math"
	"math/rand"
	"reflect"
	"testing"
)

// Laws of similarity: the same figure so many times as large has the same angles, and lengths
// so many times as large, to the bit where the factor is a power of two. Expected: by
// definition. It shows every length, area or weight that is held against a fixed number.
var sizes = []float64{0x1p-30, 0x1p-9, 1, 0x1p12}

// alike compares two answers; NaN is no answer.
func alike(t *testing.T, what string, size float64, got, want any) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%s, %g times as large: %v, as large as it is: %v", what, size, got, want)
	}
}

func grown(points []Vec, by float64) []Vec {
	var out []Vec
	for _, p := range points {
		out = append(out, p.Scale(by))
	}
	return out
}

func grownCov(cov []Mat3, by float64) []Mat3 {
	var out []Mat3
	for _, c := range cov {
		out = append(out, c.Scale(by))
	}
	return out
}

func TestFitsOfAnySize(t *testing.T) {
	rng := rand.New(rand.NewSource(12))
	from, to, ca, cb := noisy(rng, 9)
	var weights []float64
	for range from {
		weights = append(weights, 1+rng.Float64())
	}
	plain := func(by float64) Fit {
		f, err := FitRigid(grown(from, by), grown(to, by), nil)
		if err != nil {
			t.Fatal(err)
		}
		return unit(f, by)
	}
	weighted := func(by float64) Fit { // weights are one over squares
		w := make([]float64, len(weights))
		for i := range w {
			w[i] = weights[i] / (by * by)
		}
		f, err := FitRigid(grown(from, by), grown(to, by), w)
		if err != nil {
			t.Fatal(err)
		}
		f.SS *= by * by
		return unit(f, by)
	}
	certain := func(by float64) CovFit {
		f, err := FitRigidCov(grown(from, by), grown(to, by), grownCov(ca, by*by), grownCov(cb, by*by))
		if err != nil {
			t.Fatal(err)
		}
		f.Fit = Fit{Motion: unit(f.Fit, by).Motion}
		for i := range 3 {
			for j := range 3 {
				f.Pose[i][j] /= by * by
				f.Pose[i][j+3] /= by
				f.Pose[i+3][j] /= by
			}
		}
		return f
	}
	for _, by := range sizes {
		alike(t, "fit", by, plain(by), plain(1))
		alike(t, "fit with weights", by, weighted(by), weighted(1))
		alike(t, "fit with covariances", by, certain(by), certain(1))
	}
}

// unit is a fit of points so many times as large in lengths of the points as they are.
func unit(f Fit, by float64) Fit {
	f.Motion.T, f.Centroid, f.SS = f.Motion.T.Scale(1/by), f.Centroid.Scale(1/by), f.SS/(by*by)
	f.ScaleStd = math.Round(f.ScaleStd*0x1p40) / 0x1p40
	return f
}

func TestMatricesOfAnySize(t *testing.T) {
	rng := rand.New(rand.NewSource(4))
	m, own, d := randomCov(rng, 1), randomCov(rng, 1), Vec{1, -2, 0.5}
	for _, by := range sizes {
		m2, d2 := m.Scale(by*by), d.Scale(by)
		w, v := SymEigen(m2)
		w1, v1 := SymEigen(m)
		alike(t, "eigenvalues", by, w.Scale(1/(by*by)), w1)
		alike(t, "eigenvectors", by, v, v1)
		inv, ok := m2.Inverse()
		inv1, ok1 := m.Inverse()
		alike(t, "inverse", by, inv.Scale(by*by), inv1)
		alike(t, "has an inverse", by, ok, ok1)
		l, ok := Chol3(m2)
		l1, ok1 := Chol3(m)
		alike(t, "triangle", by, l.Scale(1/by), l1)
		alike(t, "has a triangle", by, ok, ok1)
		q, _ := Mahalanobis(d2, m2)
		q1, _ := Mahalanobis(d, m)
		alike(t, "distance in units of the covariance", by, q, q1)
		alike(t, "its controlled part", by, Controlled(d2, m2, own.Scale(by*by)), Controlled(d, m, own))
		for _, far := range []float64{0.1, 1, 4} {
			alike(t, "chance of a ball", by, BallProbability(d2, m2, far*by), BallProbability(d, m, far))
		}
	}
}

func TestFiguresOfAnySize(t *testing.T) {
	rng := rand.New(rand.NewSource(5))
	points := cloud(rng, 60)
	var rim []Vec
	for i := range 7 {
		s, c := math.Sincos(float64(i))
		rim = append(rim, Vec{100 + 12*c, 50 + 12*s, 7 + rng.NormFloat64()/10})
	}
	ends := func(by float64) (out [][2]Vec) {
		p := grown(points, by)
		for i := 0; i < len(p); i += 2 {
			out = append(out, [2]Vec{p[i], p[i+1]})
		}
		return out
	}
	var poly Polygon
	for i := range 8 {
		s, c := math.Sincos(float64(i) * math.Pi / 4)
		poly = append(poly, Flat{c * float64(2+i%3), s * float64(2+i%3)})
	}
	for _, by := range sizes {
		e, e1 := ends(by), ends(1)
		set, set1 := NewSegments(e[4:]), NewSegments(e1[4:])
		for i := range 4 {
			alike(t, "nearest of segments", by, set.Nearer(math.Inf(1), e[i][0], e[i][1])/by, set1.Nearer(math.Inf(1), e1[i][0], e1[i][1]))
			alike(t, "nearest of a segment", by, NearestOnSegment(e[i][0], e[9][0], e[9][1]).Scale(1/by), NearestOnSegment(e1[i][0], e1[9][0], e1[9][1]))
		}
		middle, size := Extent(grown(points, by))
		middle1, size1 := Extent(points)
		alike(t, "middle", by, middle.Scale(1/by), middle1)
		alike(t, "size", by, size.Scale(1/by), size1)
		hole, err := FitHole(grown(rim, by), 0.05*by)
		hole1, err1 := FitHole(rim, 0.05)
		if err != nil || err1 != nil {
			t.Fatal(err, err1)
		}
		if d := hole.Centre.Scale(1 / by).Dist(hole1.Centre); d > 1e-9 || math.Abs(hole.Chi2/hole1.Chi2-1) > 1e-9 || math.Abs(hole.RadiusStd/by/hole1.RadiusStd-1) > 1e-9 {
			t.Errorf("hole, %g times as large: %+v, as large as it is: %+v", by, hole, hole1)
		}
		var p Polygon
		for _, q := range poly {
			p = append(p, Flat{q[0] * by, q[1] * by})
		}
		at, room := p.Roomiest()
		at1, room1 := poly.Roomiest()
		alike(t, "roomiest place", by, []float64{at[0] / by, at[1] / by, room / by}, []float64{at1[0], at1[1], room1})
		alike(t, "area", by, p.Area()/(by*by), poly.Area())
	}
}

// The search goes by readings in units of their uncertainty, so that its blocks, chances and
// misfits stay the same.
func TestSearchOfAnySize(t *testing.T) {
	m, _ := threeParts([3]int{7, 9, 6}, 3)
	all := func(by float64) []any {
		x, err := NewMatcher(Matches{grown(m.From, by), grown(m.To, by), grownCov(m.CovFrom, by*by), grownCov(m.CovTo, by*by)})
		if err != nil {
			t.Fatal(err)
		}
		var out []any
		found := x.Partitions(4, 1)
		for k := range found.Partitions {
			p := &found.Partitions[k]
			for i := range p.Blocks {
				b := &p.Blocks[i]
				out = append(out, b.Set, b.T, b.Gain, b.Chance, b.Score, b.Fit.Chi2, b.Fit.DOF)
			}
			factor, n := x.MedianScatter(p)
			in, every := x.Scatter(p, 30)
			out = append(out, factor, n, in, every)
		}
		stretch, ok := x.Stretch()
		var every Set
		for i := range m.From {
			every.Put(i)
		}
		half, bent := x.HalfBend(&every)
		out = append(out, stretch, ok, half.Misfit, half.Test, half.Parameters, bent)
		for _, b := range x.Bends(&every) {
			out = append(out, b.Misfit, b.Test, b.Parameters, b.Along)
		}
		return out
	}
	want := all(1)
	for _, by := range sizes {
		alike(t, "search", by, all(by), want)
	}
}
