package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The ends of the distributions: what has no size is not within, what is sure is.
func TestProbabilitiesAtTheirEnds(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	bad := Isotropic(1)
	bad[1][2] = nan
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"a ball of no size", BallProbability(Vec{}, Isotropic(1), 0), 0},
		{"a ball of less", BallProbability(Vec{}, Isotropic(1), -1), 0},
		{"a ball of no number", BallProbability(Vec{}, Isotropic(1), nan), 0},
		{"an infinite place", BallProbability(Vec{inf, 0, 0}, Isotropic(1), 1), 0},
		{"a covariance of no number", BallProbability(Vec{}, bad, 1), 0},
		{"far inside", BallProbability(Vec{1, 2, 3}, Isotropic(0.1), 5), 1},
		{"far outside", BallProbability(Vec{9, 9, 9}, Diag3(Vec{1e-4, 4e-4, 1e-4}), 5), 0},
		{"non-central within nothing", NonCentralCDF3(0, 1), 0},
		{"non-central within no number", NonCentralCDF3(nan, 1), 0},
		{"a normal value between limits far apart", normalBetween(-9, 9), 1},
		{"none degrees of freedom", ChiSquareTail(3, 0), 1},
		{"fewer", ChiSquareTail(3, -1), 1},
		{"no misfit", ChiSquareTail(0, 3), 1},
		{"no number", ChiSquareTail(nan, 3), 1},
		{"a quantile without degrees of freedom", ChiSquareQuantile(0.5, 0), 0},
		{"a quantile that is never exceeded", ChiSquareQuantile(-0.1, 2), inf},
		{"a quantile of no number", ChiSquareQuantile(nan, 2), inf},
		{"a quantile always exceeded", ChiSquareQuantile(1.5, 2), 0},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
	for _, d := range []float64{1e-5, 0.3, 4} {
		near(t, "either direction", NonCentralCDF3(2, -d), NonCentralCDF3(2, d), 1e-15)
	}
	near(t, "between", normalBetween(-1, 0.5), 0.5328072, 1e-7) // tables: 0.6914625 - 0.1586553
	near(t, "above", normalBetween(1, 9), 0.1586553, 1e-7)      // tables
	near(t, "below", normalBetween(-8.6, -1), 0.1586553, 1e-7)  // tables
	near(t, "density", normalPDF(1.5), 0.1295176, 1e-7)         // tables
	near(t, "density in the middle", normalPDF(0), 0.3989423, 1e-7)
}

// The ways to the probability of a ball say the same where both may be gone: the series and the
// integral, and at the border beyond which the whole of a spread lies within.
func TestBallProbabilityTwoWays(t *testing.T) {
	rng := rand.New(rand.NewPCG(95, 0))
	series := 0
	for range 80 {
		s := Vec{1, 0.4 + 0.6*rng.Float64(), 0.33 + 0.07*rng.Float64()} // the largest first
		m := Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Scale(1.5 * s[2])
		r := 0.5 + 3*rng.Float64()
		p, ok := rubenSeries(m, s, r)
		if ok {
			series++
			near(t, "series and integral", p, ballIntegral(Vec{m[2], m[1], m[0]}, Vec{s[2], s[1], s[0]}, r), 2e-9)
		}
	}
	if series < 60 {
		t.Errorf("the series answers %d of 80", series)
	}
	if _, ok := rubenSeries(Vec{}, Vec{1, 0.5, 0.3}, 2); ok { // 1 - 0.09 is more than 0.9
		t.Error("the series answers for spreads far apart")
	}
	if _, ok := rubenSeries(Vec{}, Vec{1, 0.5, 0.32}, 2); !ok {
		t.Error("the series does not answer for spreads near one another")
	}
	if _, ok := rubenSeries(Vec{0, 0, 18}, Vec{1, 1, 1}, 18); ok { // 18^2 is more than 300
		t.Error("the series answers for a place far out")
	}
	if _, ok := rubenSeries(Vec{0, 0, 17}, Vec{1, 1, 1}, 17); !ok {
		t.Error("the series does not answer for a place not so far out")
	}
	for _, at := range []float64{8.4, 8.6, -8.4, -8.6} {
		want := 1.0
		if at < 0 {
			want = 0
		}
		near(t, "at the border", BallProbability(Vec{20 - at, 0, 0}, Diag3(Vec{1, 0.5, 0.2}), 20), want, 1e-9)
	}
	for _, c := range []struct{ m, s, t, lo, hi float64 }{
		{0, 0.1, 1, -0.65, 0.65}, {0.5, 0.1, 1, -0.15, 1}, {-0.5, 0.1, 1, -1, 0.15}, {3, 0.1, 1, 0, 0}, {-3, 0.1, 1, 0, 0}, {7.5, 1, 1, 0, 0},
	} {
		lo, hi := angleWindow(c.m, c.s, c.t)
		near(t, "begin", lo, math.Asin(c.lo), 1e-12)
		near(t, "end", hi, math.Asin(c.hi), 1e-12)
	}
}

// The rule integrates every power up to twice its number less one exactly (Gauss).
func TestGaussRuleIntegratesPowers(t *testing.T) {
	for _, n := range []int{1, 2, 5, 40} {
		g := newGauss(n)
		for power := range 2 * n {
			sum, want := 0.0, 0.0
			for i, x := range g.x {
				sum += g.w[i] * math.Pow(x, float64(power))
			}
			if power%2 == 0 {
				want = 2 / float64(power+1)
			}
			near(t, "integral", sum, want, 1e-13)
		}
	}
}
