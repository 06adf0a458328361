package unit

import (
	"math"
	"strconv"
	"strings"
)

// The figures of one thing read alike wherever they are printed: lengths, distances and
// probabilities are worded here.

// Fixed is v with n decimals and never as minus zero; "unknown" for what is no number.
func Fixed(v float64, n int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "unknown"
	}
	s := strconv.FormatFloat(v, 'f', n, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// Signed is a length to a tenth with its sign; what rounds to none has none.
func Signed(v float64) string {
	s := Fixed(v, 1)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

// mostDecimals is where the figures of a small uncertainty end: a nanometre.
const mostDecimals = 6

// Spread is a length in millimetres with its expanded uncertainty, without the unit: to a
// tenth, or to the first figure of the uncertainty where a tenth would show it as none
// (JCGM 100:2008 7.2.6: the two end at the same decimal).
func Spread(mm, expanded float64) string {
	n := 1
	for n < mostDecimals && 0 < expanded && strings.Trim(Fixed(expanded, n), "0.") == "" {
		n++
	}
	return Fixed(mm, n) + " ± " + Fixed(expanded, n)
}

// Percent is a probability to a tenth of a percent; certainty is never claimed by rounding.
func Percent(p float64) string {
	switch {
	case math.IsNaN(p):
		return "unknown"
	case p >= 0.9995:
		return "over 99.9 %"
	case p < 0.0005:
		return "under 0.1 %"
	}
	return Fixed(100*p, 1) + " %"
}
