// Package normal owns the standard normal distribution: every probability of a
// limit and every guard band is made of it.
package normal

import (
	"math"

	"fettle/internal/elem"
)

// CDF is the probability that a standard normal value is at most z. Far above zero
// CDF(-z) keeps the digits that 1 - CDF(z) loses.
func CDF(z float64) float64 { return float64(0.5 * elem.Erfc(-z/math.Sqrt2)) }

// Quantile is the z with CDF(z) = p.
func Quantile(p float64) float64 { return float64(math.Sqrt2 * elem.Erfinv(float64(2*p)-1)) }
