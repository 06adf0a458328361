package measure

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.12g, want %.12g (tolerance %g)", what, got, want, tol)
	}
}

func verdict(t *testing.T, what string, got Conformance, v Verdict, p, tol float64) {
	t.Helper()
	if got.Verdict != v {
		t.Errorf("%s: %v, want %v", what, got.Verdict, v)
	}
	near(t, what, got.Probability, p, tol)
}

// Source: JCGM 106:2012, clause 7.3 example 1 (upper limit on a negative
// voltage, published p = 0.92) and clause 7.4 (oil viscosity, published p =
// 0.66), from memory; recomputed to more digits.
func TestConformJCGM106(t *testing.T) {
	verdict(t, "one limit", AtMost(-5.47, 0.05, -5.40, 0), Undecided, 0.91924, 5e-6)
	verdict(t, "two limits", Between(13.6, 1.8, 12.5, 16.3, 0), Undecided, 0.66263, 5e-6)
	verdict(t, "mirrored", AtLeast(5.47, 0.05, 5.40, 0), Undecided, 0.91924, 5e-6)
}

// Source: the normal distribution, recomputed (limits ±3 mm, u = 0.5 mm). The
// border of "met" lies between 2.17 and 2.18 mm.
func TestConformZones(t *testing.T) {
	for _, c := range []struct {
		d, p float64
		v    Verdict
	}{
		{0, 1, Met}, {2.0, 0.97725, Met}, {2.17, 0.95154, Met}, {2.18, 0.94950, Undecided},
		{2.6, 0.78814, Undecided}, {3.0, 0.5, Undecided}, {3.5, 0.15866, Undecided},
		{3.82, 0.05050, Undecided}, {3.83, 0.04846, NotMet}, {4.0, 0.02275, NotMet}, {-2.4, 0.88493, Undecided},
	} {
		verdict(t, "zone "+num(c.d), Between(c.d, 0.5, -3, 3, 0), c.v, c.p, 5e-6)
	}
}

// Source: scipy.stats.ncx2 (T = 3 mm, u = 0.5 mm, shift along any direction).
func TestConformRadial(t *testing.T) {
	dir := geom.Vec{1, -2, 2}.Scale(1. / 3)
	for _, c := range []struct {
		d, p float64
		v    Verdict
	}{{2.5, 0.792951, Undecided}, {2.0, 0.963752, Met}, {3.6, 0.088099, Undecided}} {
		verdict(t, "radial", Radial(dir.Scale(c.d), geom.Isotropic(0.5), 3, 0), c.v, c.p, 5e-7)
	}
}

// "Not met" takes an estimate beyond the limit by the guard band. Source: the
// normal distribution: at u = 100 T the band is 1.960 u for two limits; the 5 %
// point of chi with 3 degrees of freedom, sqrt(7.815) = 2.795, for a sphere.
func TestRoughDeviceDoesNotCondemn(t *testing.T) {
	for _, c := range []struct {
		k float64
		v Verdict
	}{{0, Undecided}, {1, Undecided}, {1.95, Undecided}, {1.97, NotMet}} {
		if got := Between(c.k*300, 300, -3, 3, 0); got.Verdict != c.v || got.Probability > 0.05 {
			t.Errorf("two limits, %g u: %+v, want %v", c.k, got, c.v)
		}
	}
	for _, c := range []struct {
		k float64
		v Verdict
	}{{0, Undecided}, {2.78, Undecided}, {2.81, NotMet}} {
		if got := Radial(geom.Vec{0, 0, c.k * 300}, geom.Isotropic(300), 3, 0); got.Verdict != c.v || got.Probability > 0.05 {
			t.Errorf("radial, %g u: %+v, want %v", c.k, got, c.v)
		}
	}
}

// A stricter confidence never permits more, a laxer one is not accepted.
func TestConfidenceOnlyGetsStricter(t *testing.T) {
	if c := Between(2.0, 0.5, -3, 3, 0.99); c.Verdict != Undecided {
		t.Errorf("p = 0.977 under 99 %%: %v", c.Verdict)
	}
	if c := Between(2.6, 0.5, -3, 3, 0.5); c.Verdict != Undecided {
		t.Errorf("p = 0.788 under a confidence of 50 %%: %v", c.Verdict)
	}
	for _, conf := range []float64{math.NaN(), -1, 0, 1, 2} {
		if c := Between(3.3, 0.5, -3, 3, conf); c.Verdict != Undecided {
			t.Errorf("confidence %v: %v", conf, c.Verdict)
		}
	}
}

func TestConformNeverPermitsRubbish(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []Conformance{
		AtMost(nan, 1, 3, 0), AtMost(1, nan, 3, 0), AtMost(1, -1, 3, 0), AtMost(1, 0.1, nan, 0), AtMost(-inf, 1, 3, 0),
		Between(0, inf, -3, 3, 0), Between(0, 1, 3, -3, 0), Between(nan, 0, -3, 3, 0),
		Radial(geom.Vec{nan}, geom.Isotropic(1), 3, 0), Radial(geom.Vec{}, geom.Isotropic(nan), 3, 0),
		Radial(geom.Vec{}, geom.Isotropic(0.1), 0, 0), Radial(geom.Vec{}, geom.Isotropic(0.1), inf, 0),
		Radial(geom.Vec{}, geom.Diag3(geom.Vec{1, -1, 1}), 3, 0),
		PerAxis(geom.Vec{}, geom.Isotropic(0.1), geom.Vec{}, 0),
		Conform(body.Point{}, geom.Vec{}, geom.Isotropic(0.1), 0),
		PerAxis(geom.Vec{0, nan, 0}, geom.Isotropic(0.1), geom.Vec{3, 3, 3}, 0),
	} {
		if c.Verdict != Undecided {
			t.Errorf("%+v: want undecided", c)
		}
	}
}

// Without uncertainty the limit itself is met. Constructed.
func TestConformWithoutUncertainty(t *testing.T) {
	verdict(t, "on the limit", Between(3, 0, -3, 3, 0), Met, 1, 0)
	verdict(t, "over it", Between(3.0001, 0, -3, 3, 0), NotMet, 0, 0)
	verdict(t, "one-sided", AtMost(3, 0, 3, 0), Met, 1, 0)
}

// Constructed: axis z fails, so the point fails although x and y are met.
func TestPerAxisWorstCounts(t *testing.T) {
	c := PerAxis(geom.Vec{0, 0.5, -6}, geom.Isotropic(0.5), geom.Vec{3, 3, 3}, 0)
	if c.Verdict != NotMet || c.Limit != "±3 mm along x, ±3 mm along y, ±3 mm along z" {
		t.Errorf("%+v", c)
	}
	p := body.Point{Tol: unit.Some(10.0), TolZ: unit.Some(3.0)}
	if c := Conform(p, geom.Vec{0, 0, 6}, geom.Isotropic(0.5), 0); c.Verdict != NotMet {
		t.Errorf("a wide radius must not hide the narrow axis: %+v", c)
	}
}

func TestNeedsNamesTheReading(t *testing.T) {
	p := body.Point{ID: "A1", Tol: unit.Some(3.0)}
	cov, zero := geom.Isotropic(0.5), geom.Mat3{}
	needs := func(off geom.Vec, cov, fixed geom.Mat3) string {
		return needsFor(Conform(p, off, cov, 0), p, off, cov, fixed, 0).text(p.ID)
	}
	if s := needs(geom.Vec{2.5, 0, 0}, cov, zero); !strings.HasPrefix(s, "A1 in 4 independent set-ups") {
		// p(2.5, u 0.5/2) = 0.970 and u 0.5/sqrt(3) = 0.943 (scipy.stats.ncx2)
		t.Errorf("needs: %q", s)
	}
	if s := needs(geom.Vec{0.1, 0, 0}, cov, zero); s != "" {
		t.Errorf("a decided point needs nothing, got %q", s)
	}
	if s := needs(geom.Vec{2.9, 0, 0}, cov, geom.Isotropic(0.45)); !strings.Contains(s, "manufacturer's word") {
		t.Errorf("needs: %q", s)
	}
}

func TestVerdictText(t *testing.T) {
	b, err := json.Marshal([]Verdict{0, Met, NotMet, 7})
	if err != nil || string(b) != `["undecided","met","not met","undecided"]` {
		t.Errorf("%s, %v", b, err)
	}
	var v Verdict
	if err := json.Unmarshal([]byte(`"not met"`), &v); err != nil || v != NotMet {
		t.Errorf("%v, %v", v, err)
	}
	if err := json.Unmarshal([]byte(`"ok"`), &v); err == nil {
		t.Error("an unknown word must be refused")
	}
}
