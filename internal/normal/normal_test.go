package normal

import (
	"math"
	"testing"
)

// Source: JCGM 106:2012 table 1, printed 0.84, 1.28, 1.64, 2.33, 3.09 (from memory);
// digits recomputed with Python's statistics.NormalDist.
func TestQuantile(t *testing.T) {
	for p, z := range map[float64]float64{0.80: 0.8416212, 0.90: 1.2815516, 0.95: 1.6448536, 0.99: 2.3263479, 0.999: 3.0902323} {
		if got := Quantile(p); math.Abs(got-z) > 5e-8 {
			t.Errorf("Quantile(%v) = %.7f, want %.7f", p, got, z)
		}
		if got := CDF(Quantile(p)); math.Abs(got-p) > 1e-14 {
			t.Errorf("CDF(Quantile(%v)) = %.15f", p, got)
		}
	}
	if Quantile(0) != math.Inf(-1) || Quantile(1) != math.Inf(1) || Quantile(0.5) != 0 || !math.IsNaN(Quantile(1.1)) {
		t.Error("the borders are not those of a probability")
	}
}

// Source: scipy.stats.norm.sf(5) and (8) (SciPy 1.10.1): the far tail keeps its digits.
func TestTail(t *testing.T) {
	for z, want := range map[float64]float64{5: 2.866515718791933e-07, 8: 6.22096057427174e-16} {
		if got := CDF(-z); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("CDF(-%v) = %v, want %v", z, got, want)
		}
	}
}
