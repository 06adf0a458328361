package elem

import (
	"hash/fnv"
	"math"
	"math/big"
	"testing"
)

// borders are where each function goes over from one formula to the next.
var borders = []struct {
	name         string
	own, library func(float64) float64
	at           []float64
	steps        int64
	bits         uint64
}{
	{"Exp", Exp, math.Exp, []float64{709, -708.4, -744.5, -7.45133219101941108420e+02, math.Ln2 / 2, 0x1p-28}, 1, 0x76d2294a4467ba21},
	{"Log", Log, math.Log, []float64{math.Sqrt2 / 2, math.Sqrt2, 1, 0.5, math.MaxFloat64}, 1, 0x88dae30692f71893},
	{"Sin", Sin, math.Sin, []float64{math.Pi / 4, 3 * math.Pi / 4, math.Pi, 7 * math.Pi / 4, 1 << 29}, 1, 0xe339db8ec7529201},
	{"Cos", Cos, math.Cos, []float64{math.Pi / 4, 3 * math.Pi / 4, math.Pi, 7 * math.Pi / 4, 1 << 29}, 1, 0xf92d4b269f6aaa25},
	{"Asin", Asin, math.Asin, []float64{0.7, 1}, 4, 0xc18cb42b1e2c1cc5},
	{"Atan2", func(x float64) float64 { return Atan2(x, 1) }, math.Atan, []float64{0.66, 2.41421356237309504880}, 1, 0xa12e16c845d711fd},
	{"Erfc", Erfc, math.Erfc, []float64{0.25, 0.84375, 1.25, 1 / 0.35, 6, 26.5, 28, 0x1p-56}, 2, 0x523a947081bd2894},
	{"Erfinv", Erfinv, math.Erfinv, []float64{0.85, 1 - 0x1p-36, 1}, 5, 0xa37113c24821a29d},
}

// At each border, and one step to either side of it, the results are those of the library to some
// steps, and their bits stay the same.
func TestBordersOfTheFormulas(t *testing.T) {
	for _, f := range borders {
		sum := fnv.New64a()
		for _, at := range f.at {
			for _, x := range []float64{at, math.Nextafter(at, 0), math.Nextafter(at, math.Inf(1)), -at, -math.Nextafter(at, 0), -math.Nextafter(at, math.Inf(1))} {
				got, want := f.own(x), f.library(x)
				if math.IsNaN(got) != math.IsNaN(want) || !math.IsNaN(got) && apart(got, want) > f.steps {
					t.Errorf("%s(%v) is %v, of the library %v", f.name, x, got, want)
				}
				b := math.Float64bits(got)
				if math.IsNaN(got) {
					b = 1
				}
				for range 8 {
					sum.Write([]byte{byte(b)})
					b >>= 8
				}
			}
		}
		if sum.Sum64() != f.bits {
			t.Errorf("%s: the results have the sum %#x and had %#x", f.name, sum.Sum64(), f.bits)
		}
	}
}

// manyPi is pi in 1400 bits (Machin: 16 arctan(1/5) - 4 arctan(1/239)).
func manyPi() *big.Float {
	const digits = 1500
	one := new(big.Int).Lsh(big.NewInt(1), digits)
	atan := func(n int64) *big.Int {
		sum, term := new(big.Int), new(big.Int).Div(one, big.NewInt(n))
		for k := int64(1); term.Sign() != 0; k += 2 {
			part := new(big.Int).Div(term, big.NewInt(k))
			if k%4 == 1 {
				sum.Add(sum, part)
			} else {
				sum.Sub(sum, part)
			}
			term.Div(term, big.NewInt(n*n))
		}
		return sum
	}
	pi := new(big.Int).Sub(new(big.Int).Mul(big.NewInt(16), atan(5)), new(big.Int).Mul(big.NewInt(4), atan(239)))
	return new(big.Float).SetPrec(1400).SetMantExp(new(big.Float).SetPrec(1400).SetInt(pi), -digits)
}

// Near a multiple of a right angle sine and cosine are what is left of the angle, and one less half
// its square: with pi in many digits, from the first multiples to the farthest, among them the double
// that comes nearest of all, 6381956970095103 times 2^797 (Muller, Elementary Functions; from memory).
func TestAnglesNearRightOnesWithManyDigits(t *testing.T) {
	right := new(big.Float).SetPrec(1400).Quo(manyPi(), big.NewFloat(2))
	angles := []float64{math.Ldexp(6381956970095103, 797)}
	for e := range 340 {
		k := new(big.Float).SetPrec(1400).SetMantExp(big.NewFloat(1+float64(e%97)/97), 3*e)
		whole, _ := k.Int(nil)
		x, _ := new(big.Float).SetPrec(1400).Mul(new(big.Float).SetPrec(1400).SetInt(whole), right).Float64()
		angles = append(angles, x, -x, math.Nextafter(x, 0))
	}
	near := 0
	for _, x := range angles {
		turns := new(big.Float).SetPrec(1400).Quo(new(big.Float).SetPrec(1400).SetFloat64(x), right)
		half := 0.5
		if x < 0 {
			half = -half
		}
		k, _ := new(big.Float).SetPrec(1400).Add(turns, big.NewFloat(half)).Int(nil)
		rest := new(big.Float).SetPrec(1400).Sub(new(big.Float).SetPrec(1400).SetFloat64(x), new(big.Float).SetPrec(1400).Mul(new(big.Float).SetPrec(1400).SetInt(k), right))
		r, _ := rest.Float64()
		sin, cos := math.Sin(r), math.Cos(r) // of a small angle the library is right
		switch new(big.Int).And(k, big.NewInt(3)).Int64() {
		case 1:
			sin, cos = cos, -sin
		case 2:
			sin, cos = -sin, -cos
		case 3:
			sin, cos = -cos, sin
		}
		if math.Abs(r) < 1e-4 {
			near++
		}
		lost := 1e-19 // beyond a right angle 64 bits of what is left are known
		if r*x < 0 {
			lost = 1.2e-16 // short of it what is taken away from 1, which has 53
		}
		s, c := Sincos(x)
		for _, v := range []struct{ got, want float64 }{{Sin(x), sin}, {Cos(x), cos}, {s, sin}, {c, cos}} {
			if math.Abs(v.got-v.want) > 1e-15*math.Abs(v.want)+lost {
				t.Errorf("at %v, %g from a right angle: %v, with many digits %v", x, r, v.got, v.want)
			}
		}
	}
	if near < 40 {
		t.Errorf("only %d of %d lie near a right angle", near, len(angles))
	}
}

// The largest number whose exponential is finite, and the least of which it is more than nothing.
func TestEndsOfExp(t *testing.T) {
	const most, least = 7.09782712893383973096e+02, -7.45133219101941108420e+02
	if got := Exp(most); math.IsInf(got, 1) || got < 1.797e308 {
		t.Errorf("Exp(%v) is %v", most, got)
	}
	if got := Exp(math.Nextafter(most, 800)); !math.IsInf(got, 1) {
		t.Errorf("beyond it %v", got)
	}
	if Exp(-745.13) != 5e-324 || Exp(math.Nextafter(least, -800)) != 0 {
		t.Errorf("%v and %v", Exp(-745.13), Exp(math.Nextafter(least, -800)))
	}
}

// Signs of zero, and what no formula takes, go through.
func TestZeroKeepsItsSign(t *testing.T) {
	neg := math.Copysign(0, -1)
	for _, f := range []struct {
		name string
		of   func(float64) float64
	}{{"Sin", Sin}, {"Asin", Asin}, {"Sincos", func(x float64) float64 { s, _ := Sincos(x); return s }}, {"Erfinv", Erfinv}, {"Atan2", func(y float64) float64 { return Atan2(y, 0) }}} {
		if got := f.of(0); got != 0 || math.Signbit(got) {
			t.Errorf("%s(0) is %v", f.name, got)
		}
		if got := f.of(neg); got != 0 || !math.Signbit(got) {
			t.Errorf("%s(-0) is %v", f.name, got)
		}
	}
	if got := Log1p(math.Inf(1)); !math.IsInf(got, 1) {
		t.Errorf("Log1p(+Inf) is %v", got)
	}
	if got := Log1p(1e-300); got != 1e-300 {
		t.Errorf("Log1p(1e-300) is %v", got)
	}
}

// The logarithm of a factorial is that of the product in whole numbers, on both sides of where the
// series begins.
func TestLogFactorialOfWholeNumbers(t *testing.T) {
	product := big.NewInt(1)
	for n := range 60 {
		if n > 1 {
			product.Mul(product, big.NewInt(int64(n)))
		}
		x, _ := new(big.Float).SetInt(product).Float64()
		if got, want := LogFactorial(n), math.Log(x); math.Abs(got-want) > 2e-15*(1+want) {
			t.Errorf("%d: %v, want %v", n, got, want)
		}
	}
	if LogFactorial(0) != 0 || LogFactorial(1) != 0 || LogFactorial(-3) != 0 {
		t.Error("of nothing and of one it is 0")
	}
}

// A number begins with the greatest power of ten that is not above it.
func TestDecadeIsThePowerBelow(t *testing.T) {
	for d := -307; d <= 308; d++ {
		at := math.Pow10(d)
		if got := Decade(at); got != d {
			t.Errorf("%v: %d", at, got)
		}
		if got := Decade(math.Nextafter(at, 0)); got != d-1 {
			t.Errorf("below %v: %d", at, got)
		}
		if got := Decade(1.7 * at); got != d {
			t.Errorf("1.7 times %v: %d", at, got)
		}
	}
}
