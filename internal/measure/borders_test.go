package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/job"
)

// solved is the solution of a symmetric set of equations and the last element on the diagonal of its
// inverse, by elimination without pivots.
func solved(n [7][7]float64, b [7]float64) (x [7]float64, last float64) {
	for k := range n {
		for i := k + 1; i < 7; i++ {
			f := n[i][k] / n[k][k]
			for j := k; j < 7; j++ {
				n[i][j] -= f * n[k][j]
			}
			b[i] -= f * b[k]
		}
	}
	for i := 6; i >= 0; i-- {
		x[i] = b[i]
		for j := i + 1; j < 7; j++ {
			x[i] -= n[i][j] * x[j]
		}
		x[i] /= n[i][i]
	}
	return x, 1 / n[6][6]
}

// The shear of a group and its standard deviation are those of the common least-squares adjustment of
// translation, rotation and shear, its normal equations put up and solved at once; the
// deviation widens by the square root of chi-square over its degrees of freedom where that is more
// than one, and not by the shear itself. Errors from none to many times what the readings are good for.
func TestDiamondByTheWholeAdjustment(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 7))
	widened := 0
	for _, n := range []int{4, 5, 9} {
		for _, errors := range []float64{0, 0.3, 0.5, 2, 12} {
			var at []geom.Vec
			for range n {
				at = append(at, geom.Vec{1200 * rng.Float64(), 1300*rng.Float64() - 650, 400 * rng.Float64()})
			}
			p, e := laid(at...)
			about := geom.Vec{500, 30, 100}
			var eq [7][7]float64
			var rhs [7]float64
			var rows [][7]float64
			var u, weight []float64
			for i, q := range at {
				std := 0.4 + 0.5*rng.Float64()
				e.cov[i] = geom.Isotropic(std)
				d := geom.Vec{0.01 * (q[1] - about[1]), 0.01 * (q[0] - about[0]), 0}.Add(geom.Vec{3, -1, 2})
				d = d.Add(geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Scale(errors))
				e.at[i] = q.Add(d)
				for a := range 3 {
					row := [7]float64{}
					row[a] = 1
					for w := range 3 {
						var turn geom.Vec
						turn[w] = 1
						row[3+w] = turn.Cross(q.Sub(about))[a]
					}
					row[6] = geom.Vec{(q[1] - about[1]) / 2, (q[0] - about[0]) / 2, 0}[a]
					rows, u, weight = append(rows, row), append(u, d[a]), append(weight, 1/(std*std))
				}
			}
			for k, row := range rows {
				for i := range row {
					rhs[i] += weight[k] * row[i] * u[k]
					for j := range row {
						eq[i][j] += weight[k] * row[i] * row[j]
					}
				}
			}
			x, last := solved(eq, rhs)
			chi2 := 0.0
			for k, row := range rows {
				v := -u[k]
				for i := range row {
					v += row[i] * x[i]
				}
				chi2 += weight[k] * v * v
			}
			over := chi2 / float64(3*n-7)
			if over > 1 {
				widened++
			}
			std := math.Sqrt(last) * math.Sqrt(math.Max(1, over))
			all := geom.SetOf(fromTo(0, n)...)
			got := p.diamond(e, &candidate{fit: geom.CovFit{Fit: geom.Fit{Motion: geom.Still()}}}, &group{set: all}, about)
			if got == nil {
				t.Fatalf("%d points, errors of %g mm: no shear", n, errors)
			}
			near(t, "shear", got.Value, degree*x[6], 1e-8+1e-7*math.Abs(degree*x[6]))
			near(t, "its standard deviation", got.Std, degree*std, 1e-8+1e-7*degree*std)
		}
	}
	if widened < 6 {
		t.Errorf("%d of 15 widened", widened)
	}
}

// Readings changed as a whole (sides exchanged, another scale) count when the block that then fits
// has more than three points (our choice) more than the steady one, and holds more than half of all.
func TestChangedReadingsFitMorePoints(t *testing.T) {
	p, e := laid(alongX(8)...)
	for i := range e.at {
		e.at[i][2] = 150 * float64(i*i%7)
		p.in.Points[i].Z = e.at[i][2]
	}
	m := p.matches(e)
	for _, c := range []struct {
		steady, of int
		want       bool
	}{{0, 8, true}, {4, 8, true}, {5, 8, false}, {8, 8, false}, {4, 15, true}, {4, 16, false}, {0, 16, false}} {
		best := &candidate{steady: geom.SetOf(fromTo(0, c.steady)...)}
		if c.steady == 0 {
			best = nil
		}
		b, got := p.tryOther(m, &epoch{points: make([]int, c.of)}, best)
		if got != c.want || b.Set.Len() != 8 {
			t.Errorf("8 fit, %d were steady of %d: %v, want %v", c.steady, c.of, got, c.want)
		}
	}
}

// A point at the first place, or the last, has a position like any other: lengths and heights to it
// are no reason to look for one, and to a point without one are.
func TestPointsAtTheFirstPlace(t *testing.T) {
	for _, gone := range []int{none, 0, 1, 2, 3} {
		for _, s := range [][2]int{{0, 1}, {1, 0}, {0, 3}, {3, 0}, {1, 2}} {
			p, e := laid(alongX(4)...)
			p.spans = []span{{kind: job.ReadLength, from: s[0], to: s[1]}}
			if gone != none {
				e.remove(gone)
			}
			if got, want := p.anyLeft(e), gone == s[0] || gone == s[1]; got != want {
				t.Errorf("a length from %d to %d without point %d: %v", s[0], s[1], gone, got)
			}
		}
	}
}

// Lengths that any pair of points explains by itself have that pair as another solution, neighbours
// in the list as well as the first and the last.
func TestEveryPairExplainsItsLengths(t *testing.T) {
	const n = 7
	rng := rand.New(rand.NewPCG(5, 5))
	var at []geom.Vec
	for range n {
		at = append(at, geom.Vec{3000 * rng.Float64(), 1200 * rng.Float64(), 600 * rng.Float64()})
	}
	for a := range n {
		for b := range n {
			p, e := laid(at...)
			now := slices.Clone(at)
			now[a] = now[a].Add(geom.Vec{40, 30, -35})
			if b != a {
				now[b] = now[b].Add(geom.Vec{-30, 45, 50})
			}
			for i := range n {
				for j := range i {
					p.spans = append(p.spans, span{kind: job.ReadLength, from: i, to: j, value: now[i].Dist(now[j]), std: 0.5})
				}
			}
			want := []int{min(a, b), max(a, b)}
			if a == b {
				want = want[:1]
			}
			moved := make([]bool, n)
			moved[(a+1)%n] = true
			if got, ok := p.smallSet(e, &candidate{moved: moved}, len(want)); !ok || !slices.Equal(got, want) {
				t.Errorf("%d and %d stand elsewhere: %v, want %v", a, b, got, want)
			}
			if got, ok := p.smallSet(e, &candidate{moved: moved}, len(want)-1); ok {
				t.Errorf("%d and %d stand elsewhere, one fewer was called moved: %v", a, b, got)
			}
		}
	}
}

// A symmetry that is known better than to a millimetre has its rows too, by the same formula, and so
// have readings that are better than that.
func TestSymmetryBelowAMillimetre(t *testing.T) {
	for _, s := range []float64{0.05, 0.4, 0.999} {
		for _, std := range []float64{0.02, 0.3} {
			p, e := laid(geom.Vec{0, 600, 0}, geom.Vec{0, -600, 0})
			p.in.Symmetry = s
			p.in.Points[0].Mirror, p.in.Points[1].Mirror = "P02", "P01"
			c := &candidate{shift: []geom.Vec{{}, {0.2, 0.1, -0.3}}, cov: []geom.Mat3{geom.Isotropic(std), geom.Isotropic(std)}}
			c.fit.Motion = geom.Still()
			a := Adjustment{}
			p.symmetry(e, c, &a)
			if len(a.Observations) != 3 {
				t.Fatalf("symmetry to %g mm: %+v", s, a.Observations)
			}
			for k, m := range []float64{0.2, 0.1, -0.3} {
				u2 := 2 * std * std // nothing of the frame: its covariance is zero
				near(t, "redundancy", a.Observations[k].Redundancy, s*s/(u2+s*s), 1e-6)
				near(t, "w", a.Observations[k].W, m/math.Sqrt(u2+s*s), 1e-6*math.Abs(m)/math.Sqrt(u2)+1e-6)
			}
		}
	}
	p, e := laid(geom.Vec{0, 600, 0}, geom.Vec{0, -600, 0})
	p.in.Points[0].Mirror, p.in.Points[1].Mirror = "P02", "P01"
	for _, s := range []float64{0, -0.5, math.NaN(), math.Inf(1)} {
		p.in.Symmetry = s
		a := Adjustment{}
		if p.symmetry(e, &candidate{}, &a); len(a.Observations) != 0 {
			t.Errorf("symmetry to %g mm: %+v", s, a.Observations)
		}
	}
}

// Three points are enough to be tied to, two are not: then the steady ones stay as they are.
func TestPointsThatStayTied(t *testing.T) {
	for _, c := range []struct{ barred, left int }{{0, 7}, {1, 6}, {3, 4}, {4, 3}, {5, 7}, {7, 7}} {
		p, e := laid(alongX(7)...)
		for i := range e.at {
			e.at[i][2] += 100 * float64(i*i%5)
			p.in.Points[i].Z, p.coords[i].at = e.at[i][2], e.at[i]
		}
		steady, barred := geom.SetOf(fromTo(0, 7)...), geom.SetOf(fromTo(0, c.barred)...)
		x := &candidate{steady: steady, fit: fitted(t, p, e, steady)}
		if !p.settleJoint(e, x, &barred) || x.steady.Len() != c.left {
			t.Errorf("%d of 7 barred: %d steady, want %d", c.barred, x.steady.Len(), c.left)
		}
	}
}
