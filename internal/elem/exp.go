package elem

import "math"

// The logarithm of 2 in two parts; a whole number below 2000 times the first is exact.
const (
	ln2Hi = 6.93147180369123816490e-01
	ln2Lo = 1.90821492927058770002e-10
)

// expCoefs are those of R(t) = r (e^r + 1) / (e^r - 1) - 2 in t = r^2, without its
// first.
var expCoefs = []float64{
	4.13813679705723846039e-08,
	-1.65339022054652515390e-06,
	6.61375632143793436117e-05,
	-2.77777777770155933842e-03,
	1.66666666666666657415e-01,
}

// Exp is e^x.
func Exp(x float64) float64 {
	const (
		log2e = 1.44269504088896338700e+00
		most  = 7.09782712893383973096e+02
		least = -7.45133219101941108420e+02
	)
	switch {
	case math.IsNaN(x):
		return x
	case x > most:
		return math.Inf(1)
	case x < least:
		return 0
	}
	// x = k ln 2 + r with |r| at most half of ln 2, r in two parts
	k := int(float64(log2e*x) + math.Copysign(0.5, x))
	hi := x - float64(float64(k)*ln2Hi)
	lo := float64(float64(k) * ln2Lo)
	r := hi - lo
	t := float64(r * r)
	c := r - float64(t*horner(t, expCoefs))
	y := 1 - ((lo - float64(r*c)/(2-c)) - hi)
	if -1023 < k && k < 1024 {
		return float64(y * math.Float64frombits(uint64(k+1023)<<52)) // 2^k
	}
	return math.Ldexp(y, k)
}

// The coefficients of log(1+f) in s = f/(2+f): those of the even and of the odd powers
// of s^4 behind s^2.
var (
	logOdd = []float64{
		1.479819860511658591e-01,
		1.818357216161805012e-01,
		2.857142874366239149e-01,
		6.666666666666735130e-01,
	}
	logEven = []float64{
		1.531383769920937332e-01,
		2.222219843214978396e-01,
		3.999999999940941908e-01,
	}
)

// Log is the natural logarithm of x.
func Log(x float64) float64 {
	switch {
	case x > math.MaxFloat64:
		return x
	case x < 0:
		return math.NaN()
	case x == 0:
		return math.Inf(-1)
	}
	// x = 2^k (1+f) with 1+f between sqrt(1/2) and sqrt(2)
	frac, exp := math.Frexp(x)
	if frac < math.Sqrt2/2 {
		frac *= 2
		exp--
	}
	f, k := frac-1, float64(exp)
	s := f / (2 + f)
	s2 := float64(s * s)
	s4 := float64(s2 * s2)
	rest := float64(s2*horner(s4, logOdd)) + float64(s4*horner(s4, logEven))
	half := float64(0.5 * f * f)
	return float64(k*ln2Hi) - ((half - (float64(s*(half+rest)) + float64(k*ln2Lo))) - f)
}

// Log1p is the logarithm of 1+x, with all its digits where x is small: what 1+x loses
// of x, the quotient gives back (Kahan; from memory). x is above -1.
func Log1p(x float64) float64 {
	u := 1 + x
	if math.IsInf(u, 1) {
		return x
	}
	return Log(u) - ((u-1)-x)/u
}

// LogFactorial is the logarithm of n!, 0 for n below 2: of the product itself while
// that is exact, then Stirling's series to 1/n^7 (Abramowitz and Stegun 6.1.41; the
// term left out is below 1e-15).
func LogFactorial(n int) float64 {
	if n <= 22 {
		p := 1.0
		for k := 2; k <= n; k++ {
			p *= float64(k)
		}
		return Log(p)
	}
	x := float64(n)
	series := horner(1/(x*x), []float64{-1. / 1680, 1. / 1260, -1. / 360, 1. / 12}) / x
	return float64((x+0.5)*Log(x)) - x + (halfLog2Pi + series)
}

// halfLog2Pi is half of the logarithm of 2 pi.
const halfLog2Pi = 0.918938533204672741780329736406

// Decade is the power of ten that a positive number begins with: 2 for 100 to below
// 1000.
func Decade(x float64) int {
	d := leastDecade
	for math.Pow10(d+1) <= x {
		d++
	}
	return d
}

// leastDecade is below that of every number: 10 to the power of it is nothing.
const leastDecade = -324
