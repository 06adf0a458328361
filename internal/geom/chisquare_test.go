package geom

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mathext"
)

// TestChiSquareAgainstGonum compares tail and quantile with the incomplete gamma function
// of Gonum, for few and for many degrees of freedom, near the middle and far out.
func TestChiSquareAgainstGonum(t *testing.T) {
	for _, dof := range []int{1, 2, 3, 4, 5, 6, 9, 20, 21, 77, 300, 301, 1500, 4001} {
		n := float64(dof)
		for _, z := range []float64{-20, -6, -3, -1, 0, 1, 3, 6, 15, 40} {
			x := n + z*math.Sqrt(2*n)
			if x <= 0 {
				x = n * math.Exp(z)
			}
			got, want := ChiSquareTail(x, dof), mathext.GammaIncRegComp(n/2, x/2)
			if !(math.Abs(got-want) <= 1e-11*want) && want > 1e-290 {
				t.Errorf("dof %d: the tail beyond %v is %v, of Gonum %v", dof, x, got, want)
			}
		}
		for _, p := range []float64{0.9999, 0.95, 0.5, 0.1, 0.05, 0.01, 0.001, 1e-6, 1e-10, 1e-40} {
			x := ChiSquareQuantile(p, dof)
			if got := mathext.GammaIncRegComp(n/2, x/2); !(math.Abs(got-p) <= 1e-10*p) {
				t.Errorf("dof %d: beyond the quantile %v of %v there is %v", dof, x, p, got)
			}
		}
	}
	if ChiSquareQuantile(0, 3) != math.Inf(1) || ChiSquareQuantile(1, 3) != 0 || ChiSquareTail(math.Inf(1), 3) != 0 {
		t.Error("the ends are infinite and 0")
	}
}

// Begun with the formula of Wilson and Hilferty, which from three degrees of freedom on is within
// three hundredths (from memory; it is better the more there are); with the mean where it gives
// nothing above 0.
func TestNearQuantileIsNear(t *testing.T) {
	for _, dof := range []int{3, 4, 7, 20, 300, 4001} {
		for _, p := range []float64{0.8, 0.5, 0.1, 0.05, 0.001} {
			if got, want := nearQuantile(p, dof), ChiSquareQuantile(p, dof); math.Abs(got-want) > 0.03*want {
				t.Errorf("dof %d, %v: about %v, and it is %v", dof, p, got, want)
			}
		}
	}
	// of two degrees 2/(9 n) is 1/9: 2 (8/9 + z/3)^3, with z = 0 and 1.6448536 (table)
	for p, z := range map[float64]float64{0.5: 0, 0.05: 1.6448536, 0.95: -1.6448536} {
		if got, want := nearQuantile(p, 2), 2*math.Pow(8.0/9+z/3, 3); math.Abs(got-want) > 1e-6 {
			t.Errorf("two degrees, %v: %v, want %v", p, got, want)
		}
	}
	if got := nearQuantile(1-1e-9, 1); got != 1 { // the cube of 1 - 2/9 - 6 * 0.47 is below 0
		t.Errorf("where the formula is below 0: %v", got)
	}
	if got := nearQuantile(1e-40, 6); got != 6 { // beyond what the quantile of a normal value has
		t.Errorf("where the formula is infinite: %v", got)
	}
}

// Between two bounds lies their middle, and above one alone twice that and one more.
func TestBetweenBounds(t *testing.T) {
	if a, b := between(1, 4), between(3, math.Inf(1)); a != 2.5 || b != 7 {
		t.Errorf("%v and %v, want 2.5 and 7", a, b)
	}
}

func BenchmarkChiSquareQuantile(b *testing.B) {
	for range b.N {
		ChiSquareQuantile(0.001, 60)
	}
}

func BenchmarkChiSquareTail(b *testing.B) {
	for range b.N {
		ChiSquareTail(70, 60)
	}
}

func BenchmarkChiSquareTailGonum(b *testing.B) {
	for range b.N {
		mathext.GammaIncRegComp(30, 35)
	}
}
