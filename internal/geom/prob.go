package geom

import (
	"math"

	"fettle/internal/elem"
	"fettle/internal/normal"
)

// normalPDF is the standard normal density.
func normalPDF(z float64) float64 { return elem.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }

// NonCentralCDF3 is the probability that |g + d| <= t for a vector g of three
// independent standard normal values and a fixed vector of length d: the
// non-central chi-square distribution with 3 degrees of freedom at t^2 and
// non-centrality d^2. With three degrees of freedom it has a closed form,
//
//	P = Phi(t-d) - Phi(-t-d) - (phi(t-d) - phi(t+d)) / d,
//
// from integrating the radial density sqrt(2/pi) r sinh(r d)/d
// exp(-(r^2+d^2)/2) by parts; Phi and phi are the standard normal distribution
// and density.
func NonCentralCDF3(t, d float64) float64 {
	if !(t > 0) {
		return 0
	}
	d = math.Abs(d)
	base := normal.CDF(t-d) - normal.CDF(-t-d)
	var rest float64
	if d < 1e-4 { // limit: 2 t phi(t), with the next term of its series
		rest = float64(2 * t * normalPDF(t) * (1 + d*d*(float64(t*t)-3)/6))
	} else {
		rest = (normalPDF(t-d) - normalPDF(t+d)) / d
	}
	return math.Min(1, math.Max(0, base-rest))
}

// Noncentrality3 is the non-centrality that a chi-square test with 3 degrees
// of freedom and false-alarm rate alpha detects with the given power.
func Noncentrality3(alpha, power float64) float64 {
	t := math.Sqrt(ChiSquareQuantile(alpha, 3))
	lo, hi := 0.0, t+10
	for hi-lo > 1e-13*hi {
		mid := (lo + hi) / 2
		if 1-NonCentralCDF3(t, mid) < power {
			lo = mid
		} else {
			hi = mid
		}
	}
	return float64(lo * lo)
}

// Noncentrality1 is the same for one degree of freedom (Baarda's lambda):
// (z(1-alpha/2) + z(power))^2; the far tail is left out, which is exact to 1e-9
// for alpha <= 0.05 and power >= 0.5.
func Noncentrality1(alpha, power float64) float64 {
	d := normal.Quantile(1-alpha/2) + normal.Quantile(power)
	return float64(d * d)
}
