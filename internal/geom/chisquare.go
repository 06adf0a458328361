package geom

import (
	"math"

	"fettle/internal/elem"
	"fettle/internal/normal"
)

// ChiSquareTail is the probability that a chi-square value with dof degrees of
// freedom is at least x.
func ChiSquareTail(x float64, dof int) float64 {
	if dof <= 0 || !(x > 0) {
		return 1
	}
	if math.IsInf(x, 1) {
		return 0
	}
	tail, _ := chiSquareTail(x/2, dof)
	return math.Min(1, tail)
}

// chiSquareTail is the tail at twice y and its derivative by y, which is the last term
// of the sum with the other sign:
//
//	even dof: exp(-y) sum y^k/k!, k from 0 to dof/2-1
//	odd dof:  erfc(sqrt(y)) + exp(-y) sum y^(k+1/2)/Gamma(k+3/2), k from 0 to (dof-3)/2
//
// (Abramowitz and Stegun 26.4.4 and 26.4.5). All terms are positive: nothing cancels.
func chiSquareTail(y float64, dof int) (tail, slope float64) {
	begin, shift, first := 0.0, 0.0, 1.0
	if dof%2 == 1 {
		begin, shift, first = elem.Erfc(math.Sqrt(y)), 0.5, math.Sqrt(y)*2/math.Sqrt(math.Pi)
	}
	if dof == 1 {
		return begin, -elem.Exp(-y) / math.Sqrt(math.Pi*y)
	}
	// The sum without exp(-y), which has no double far out; scaled by 2^-500 so many
	// times.
	sum, term, scaled := first, first, 0
	for k := 1; k < dof/2; k++ {
		term *= y / (float64(k) + shift)
		sum += float64(term)
		if sum > 0x1p500 {
			sum, term, scaled = sum*0x1p-500, term*0x1p-500, scaled+1
		}
	}
	exp := elem.Exp(float64(500*float64(scaled)*math.Ln2) - y)
	if y < 700 && scaled == 0 {
		exp = elem.Exp(-y)
	}
	return begin + float64(exp*sum), float64(-exp * term)
}

// ChiSquareQuantile is the x that a chi-square value with dof degrees of
// freedom exceeds with probability tail, from 0 to 1.
func ChiSquareQuantile(tail float64, dof int) float64 {
	switch {
	case dof <= 0 || tail >= 1:
		return 0
	case !(tail > 0):
		return math.Inf(1)
	}
	// Newton's method for the logarithm of the tail, which is concave, between bounds that
	// have been met.
	y := nearQuantile(tail, dof) / 2
	low, high := 0.0, math.Inf(1)
	for range 200 {
		at, slope := chiSquareTail(y, dof)
		if at > tail {
			low = y
		} else {
			high = y
		}
		next := y - float64((elem.Log(at)-elem.Log(tail))*(at/slope))
		if !(next > low && next < high) {
			next = between(low, high)
		}
		if math.Abs(next-y) <= 1e-15*y {
			break
		}
		y = next
	}
	return 2 * y
}

// nearQuantile is about ChiSquareQuantile, by the cube of a normal value (Wilson and Hilferty
// 1931, from memory); the mean where that is of no use.
func nearQuantile(tail float64, dof int) float64 {
	n := float64(dof)
	cube := 1 - 2/(9*n) - float64(normal.Quantile(tail)*math.Sqrt(2/(9*n)))
	x := float64(n * cube * cube * cube)
	if !(x > 0) || math.IsInf(x, 1) {
		return n
	}
	return x
}

// between is a place between bounds of which the upper may be missing.
func between(low, high float64) float64 {
	if math.IsInf(high, 1) {
		return 2*low + 1
	}
	return (low + high) / 2
}
