package geom

import (
	"math"
	"testing"

	"fettle/internal/normal"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.15g, want %.15g (tolerance %g)", what, got, want, tol)
	}
}

// Source of all numbers: scipy.stats.ncx2.cdf, chi2.cdf (SciPy 1.10.1).
func TestNonCentralCDF3(t *testing.T) {
	for _, c := range []struct{ t, d, want float64 }{
		{6, 5, 0.7929506011647145},
		{6, 4, 0.9637521264235235},
		{6, 7.2, 0.08809938480737309},
		{5, 6, 0.11832679984493316},
		{2, 0.5, 0.7030045430607196},
		{3, 0, 0.9707091134651118},
		{3, 0.001, 0.970709073578468},
		{40, 39, 0.8351403685167715},
		{10, 30, 0},
	} {
		near(t, "NonCentralCDF3", NonCentralCDF3(c.t, c.d), c.want, 2e-13)
	}
}

// The closed form must not lose digits where it changes to its series.
func TestNonCentralCDF3IsSmoothNearZero(t *testing.T) {
	a, b := NonCentralCDF3(2, 0.99999e-4), NonCentralCDF3(2, 1.00001e-4)
	near(t, "step across the series border", a-b, 0, 1e-11)
}

// Source: Baarda, A testing procedure for use in geodetic networks (1968), for
// 17.075 and 4.13 (from memory); the others recomputed with scipy.stats.ncx2
// and brentq.
func TestNoncentrality(t *testing.T) {
	for _, c := range []struct{ alpha, power, l1, l3 float64 }{
		{0.001, 0.80, 17.0746, 21.54502953835153},
		{0.001, 0.90, 20.9039, 25.9347708934019},
		{0.01, 0.80, 11.6790, 15.457657199101329},
		{0.05, 0.80, 7.8489, 10.902563290133262},
	} {
		near(t, "one dof", Noncentrality1(c.alpha, c.power), c.l1, 5e-5)
		near(t, "three dof", Noncentrality3(c.alpha, c.power), c.l3, 1e-9)
	}
	near(t, "Baarda's delta", math.Sqrt(Noncentrality1(0.001, 0.8)), 4.1321, 5e-5)
	near(t, "critical w", normal.Quantile(1-0.001/2), 3.2905, 5e-5)
}

// Source: scipy.stats.chi2.sf; 7.815 and 46.80 are table values.
func TestChiSquare(t *testing.T) {
	near(t, "tail", ChiSquareTail(15.68, 24), 0.8992785721266419, 1e-12)
	near(t, "tail", ChiSquareTail(16.82, 21), 0.7219581514451149, 1e-12)
	near(t, "quantile", ChiSquareQuantile(0.05, 3), 7.8147279, 1e-6)
	near(t, "quantile", ChiSquareQuantile(0.001, 21), 46.797, 1e-3)
	if ChiSquareTail(5, 0) != 1 || ChiSquareTail(-1, 3) != 1 {
		t.Error("no degrees of freedom or no misfit must give probability 1")
	}
}

// Source: the same integral with 400 nodes and 9 standard deviations in numpy,
// and for the first five Imhof's inversion of the characteristic function; the
// two agree to 1e-12.
func TestBallProbability(t *testing.T) {
	for _, c := range []struct {
		d, s, w Vec
		t, want float64
	}{
		{Vec{2, 0.5, -0.3}, Vec{0.3, 0.5, 0.9}, Vec{0.2, -0.4, 0.7}, 3, 0.9073443402507331},
		{Vec{2.2, 1.5, 1}, Vec{0.1, 0.2, 1.5}, Vec{1, 2, 0.3}, 3, 0.4879070937526501},
		{Vec{}, Vec{0.5, 0.5, 2}, Vec{}, 2.5, 0.7682450395687059},
		{Vec{0, 0, 3}, Vec{0.4, 0.4, 0.41}, Vec{}, 3, 0.4480604995711843},
		{Vec{2.9, 0, 0}, Vec{0.01, 0.5, 0.02}, Vec{0.3, 0.1, 0}, 3, 0.8729661625634139},
		{Vec{1, 1, 1}, Vec{3, 5, 9}, Vec{0.1, 0.2, 0.3}, 3, 0.04301199855320498},
	} {
		r := FromRotationVector(c.w)
		cov := Diag3(Vec{c.s[0] * c.s[0], c.s[1] * c.s[1], c.s[2] * c.s[2]}).Turn(r)
		near(t, "ball", BallProbability(c.d, cov, c.t), c.want, 1e-9)
	}
}

// Equal variances go another way: both must meet. Constructed.
func TestBallProbabilityMeetsTheClosedForm(t *testing.T) {
	for _, d := range []float64{0, 1, 2.5, 3.5} {
		exact := BallProbability(Vec{0, d, 0}, Isotropic(0.5), 3)
		nearly := BallProbability(Vec{0, d, 0}, Diag3(Vec{0.25, 0.25, 0.25 * (1 + 1e-7)}), 3)
		near(t, "nearly equal variances", nearly, exact, 1e-6)
	}
	if p := BallProbability(Vec{1, 0, 0}, Mat3{}, 3); p != 1 {
		t.Errorf("no uncertainty, inside: %v, want 1", p)
	}
	if p := BallProbability(Vec{math.NaN()}, Isotropic(1), 3); p != 0 {
		t.Errorf("NaN: %v, want 0 (never a permission)", p)
	}
}

func BenchmarkBallProbability(b *testing.B) {
	cov := Diag3(Vec{0.1, 0.2, 0.4})
	for b.Loop() {
		BallProbability(Vec{2, 0.5, -0.3}, cov, 3)
	}
}
