package elem

import (
	"hash/fnv"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// functions are those of one number, with the standard library's and the arguments
// that are tried: many below reach, some at every scale.
//
// The steps are those of the library that is farthest off: where the compiler fuses
// products into sums (arm64, amd64 v3), that of the library is another polynomial in its
// last bits, and differs from itself elsewhere by up to 5 steps (Erfinv), 4 (Asin) or 2 (Hypot).
// The bits of the own functions are held by TestSameBits.
var functions = []struct {
	name         string
	own, library func(float64) float64
	least, most  float64
	steps        int64 // of the last place that the two may lie apart
	bits         uint64
}{
	{"Exp", Exp, math.Exp, -745, 709, 1, 0xffa96767ee07d2da},
	{"Log", Log, math.Log, 0, 1e6, 1, 0x1d5d784bf31b353b},
	{"Log1p", Log1p, math.Log1p, -0.9, 10, 2, 0xa97ebe61a47aaaa2},
	{"Sin", Sin, math.Sin, -100, 100, 1, 0x8be61e7e3690f6ed},
	{"Cos", Cos, math.Cos, -100, 100, 1, 0x72c4076cf8d7b6ca},
	{"Sin of much", Sin, math.Sin, -1e18, 1e18, 1, 0x8cde2eb08bd6e89},
	{"Asin", Asin, math.Asin, -1, 1, 4, 0x184b2ce204d85aa6},
	{"Erfc", Erfc, math.Erfc, -7, 27, 2, 0x7001d8ddbb78890b},
	{"Erfinv", Erfinv, math.Erfinv, -1, 1, 5, 0x4d2100d89f45f6d9},
	{"Atan2", func(x float64) float64 { return Atan2(x, 3-x) }, func(x float64) float64 { return math.Atan2(x, 3-x) }, -50, 50, 1, 0x19c813908d54e5d},
	{"Hypot", func(x float64) float64 { return Hypot(x, 7) }, func(x float64) float64 { return math.Hypot(x, 7) }, -50, 50, 2, 0xc754576cddc7f8c8},
	{"LogFactorial", func(x float64) float64 { return LogFactorial(int(x)) }, func(x float64) float64 { l, _ := math.Lgamma(math.Floor(x) + 1); return l }, 2, 3000, 2, 0xd20146c7a199d6b1},
}

func arguments(least, most float64, visit func(float64)) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 3000 {
		visit(least + float64((most-least)*rng.Float64()))
	}
	for e := -60; e < 4; e++ {
		for _, x := range []float64{math.Ldexp(1+rng.Float64(), e), -math.Ldexp(1+rng.Float64(), e)} {
			if least < x && x < most {
				visit(x)
			}
		}
	}
}

// TestMathAgrees compares with the standard library, whose last bit may be another one.
func TestMathAgrees(t *testing.T) {
	for _, f := range functions {
		arguments(f.least, f.most, func(x float64) {
			if got, want := f.own(x), f.library(x); apart(got, want) > f.steps {
				t.Errorf("%s(%v) is %v, of the library %v: %d steps apart", f.name, x, got, want, apart(got, want))
			}
		})
	}
}

// TestSameBits holds every bit of every result: they are the same on every machine.
func TestSameBits(t *testing.T) {
	for _, f := range functions {
		sum := fnv.New64a()
		arguments(f.least, f.most, func(x float64) {
			b := math.Float64bits(f.own(x))
			for range 8 {
				sum.Write([]byte{byte(b)})
				b >>= 8
			}
		})
		if sum.Sum64() != f.bits {
			t.Errorf("%s: the results have the sum %#x and had %#x", f.name, sum.Sum64(), f.bits)
		}
	}
}

// apart is how many doubles two results of one sign lie apart.
func apart(a, b float64) int64 {
	if a == b {
		return 0
	}
	if math.IsNaN(a) || math.IsNaN(b) || math.Signbit(a) != math.Signbit(b) {
		return math.MaxInt64
	}
	d := int64(math.Float64bits(a)) - int64(math.Float64bits(b))
	return max(d, -d)
}

// TestExpAndLogAgainstManyDigits uses the series of the exponential in 300 bits.
func TestExpAndLogAgainstManyDigits(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		x := 40 * (rng.Float64() - 0.5)
		want, _ := bigExp(x).Float64()
		if got := Exp(x); apart(got, want) > 1 {
			t.Errorf("Exp(%v) is %v, with many digits %v", x, got, want)
		}
		// log: one step of Newton from the double, y + (x - e^y)/e^y
		v := math.Abs(x) + 0.01
		y := math.Log(v)
		e := bigExp(y)
		rest := new(big.Float).SetPrec(300).Sub(big.NewFloat(v), e)
		rest.Quo(rest, e)
		near, _ := rest.Add(rest, big.NewFloat(y)).Float64()
		if got := Log(v); apart(got, near) > 1 {
			t.Errorf("Log(%v) is %v, with many digits %v", v, got, near)
		}
	}
}

func bigExp(x float64) *big.Float {
	small := new(big.Float).SetPrec(300).SetMantExp(big.NewFloat(x), -10)
	sum, term := big.NewFloat(1).SetPrec(300), big.NewFloat(1).SetPrec(300)
	for k := 1; k < 60; k++ {
		term.Mul(term, small)
		term.Quo(term, big.NewFloat(float64(k)))
		sum.Add(sum, term)
	}
	for range 10 {
		sum.Mul(sum, sum)
	}
	return sum
}

// TestOddArguments: zero with its sign, infinite, no number, beyond the limits.
func TestOddArguments(t *testing.T) {
	inf, nan, neg := math.Inf(1), math.NaN(), math.Copysign(0, -1)
	odd := []float64{0, neg, 1, -1, 2, -2, inf, -inf, nan, math.MaxFloat64, 5e-324, 1e-310, 710, -746, -745.13, 709, 1 << 29, 1e300}
	same := func(name string, x float64, got, want float64) {
		if math.IsNaN(got) != math.IsNaN(want) || !math.IsNaN(want) && apart(got, want) > 1 {
			t.Errorf("%s(%v) is %v and should be %v", name, x, got, want)
		}
	}
	for _, x := range odd {
		same("Exp", x, Exp(x), math.Exp(x))
		if x >= 2.3e-308 || x <= 0 || math.IsNaN(x) {
			same("Log", x, Log(x), math.Log(x))
		}
		same("Sin", x, Sin(x), math.Sin(x))
		same("Cos", x, Cos(x), math.Cos(x))
		s, c := Sincos(x)
		same("Sincos", x, s, math.Sin(x))
		same("Sincos", x, c, math.Cos(x))
		same("Asin", x, Asin(x), math.Asin(x))
		same("Erfc", x, Erfc(x), math.Erfc(x))
		same("Erfinv", x, Erfinv(x), math.Erfinv(x))
		for _, y := range odd {
			same("Hypot", x, Hypot(x, y), math.Hypot(x, y))
			if y/x != 0 || y == 0 {
				same("Atan2", x, Atan2(y, x), math.Atan2(y, x))
			}
		}
	}
}

func BenchmarkExp(b *testing.B) {
	s := 0.0
	for i := range b.N {
		s += Exp(float64(i&255) / 64)
	}
	sink = s
}

func BenchmarkHypot(b *testing.B) {
	s := 0.0
	for i := range b.N {
		s += Hypot(float64(i&255), 3)
	}
	sink = s
}

func BenchmarkAtan2(b *testing.B) {
	s := 0.0
	for i := range b.N {
		s += Atan2(float64(i&255), 30)
	}
	sink = s
}

func BenchmarkSincos(b *testing.B) {
	s := 0.0
	for i := range b.N {
		x, y := Sincos(float64(i&255) / 64)
		s += x + y
	}
	sink = s
}

func BenchmarkErfc(b *testing.B) {
	s := 0.0
	for i := range b.N {
		s += Erfc(float64(i&255) / 64)
	}
	sink = s
}

func BenchmarkLibrary(b *testing.B) {
	for _, f := range []struct {
		name string
		f    func(float64) float64
	}{
		{"Exp", math.Exp}, {"Hypot", func(x float64) float64 { return math.Hypot(64*x, 3) }},
		{"Atan2", func(x float64) float64 { return math.Atan2(64*x, 30) }},
		{"Sincos", func(x float64) float64 { s, c := math.Sincos(x); return s + c }}, {"Erfc", math.Erfc},
	} {
		b.Run(f.name, func(b *testing.B) {
			s := 0.0
			for i := range b.N {
				s += f.f(float64(i&255) / 64)
			}
			sink = s
		})
	}
}

var sink float64
