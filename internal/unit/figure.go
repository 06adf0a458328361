package unit

import (
	"cmp"
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
	if s[0] != '-' && strings.ContainsAny(s, "123456789") {
		return "+" + s
	}
	return s
}

// mostDecimals is where the figures of a small uncertainty end: a nanometre.
const mostDecimals = 6

// Spread is a length in millimetres with its expanded uncertainty, without the unit: to a
// tenth, or to the first figure of the uncertainty where a tenth would show it as none
// (JCGM 100:2008 7.2.6: the two end at the same decimal).
func Spread(mm, expanded float64) string { return SpreadBeside(mm, expanded) }

// spreadDecimals is at which decimal a length with its expanded uncertainty ends.
func spreadDecimals(expanded float64) int {
	n := 1
	for n < mostDecimals && 0 < expanded && strings.Trim(Fixed(expanded, n), "0.") == "" {
		n++
	}
	return n
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

// Apart is how many decimals, at least n, a figure needs beside the limits it is
// compared with, so that it reads above, on or below each of them as it is: the limits
// stand beside it in full. A figure on a limit needs no more.
func Apart(v float64, n int, limits ...float64) int {
	for _, limit := range limits {
		for n < mostApart && !readsAs(v, n, limit) {
			n++
		}
	}
	return n
}

// mostApart is where Apart ends: more decimals than any float64 above 1e-300 needs to
// read as itself would be no figure for people; FixedBeside prints the number in full then.
const mostApart = 17

// readsAs says that v with n decimals compares with a limit as v does.
func readsAs(v float64, n int, limit float64) bool {
	return cmp.Compare(read(v, 'f', n), limit) == cmp.Compare(v, limit)
}

// read is v as it is read in a form with n figures; v itself where it is beyond the largest
// number so rounded.
func read(v float64, form byte, n int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, form, n, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// FixedBeside is Fixed with as many decimals more as Apart asks for.
func FixedBeside(v float64, n int, limits ...float64) string {
	n = Apart(v, n, limits...)
	for _, limit := range limits {
		if !readsAs(v, n, limit) {
			return plain(v)
		}
	}
	return Fixed(v, n)
}

// SpreadBeside is Spread beside the limits that the length is compared with; where it
// needs more decimals for them, its uncertainty has them too.
func SpreadBeside(mm, expanded float64, limits ...float64) string {
	n := spreadDecimals(expanded)
	return FixedBeside(mm, n, limits...) + " ± " + Fixed(expanded, min(Apart(mm, n, limits...), mostDecimals))
}

// Pair prints two figures that are compared with one another: with n decimals, or with as
// many as show which is larger where they differ.
func Pair(a, b float64, n int) (string, string) {
	for ; n < mostApart; n++ {
		if cmp.Compare(read(a, 'f', n), read(b, 'f', n)) == cmp.Compare(a, b) {
			return Fixed(a, n), Fixed(b, n)
		}
	}
	return plain(a), plain(b)
}

// PercentBeside is Percent beside the probability that it is compared with.
func PercentBeside(p, limit float64) string {
	s := Percent(p)
	if !strings.HasSuffix(s, " %") || strings.HasPrefix(s, "over") || strings.HasPrefix(s, "under") {
		return s
	}
	return FixedBeside(100*p, 1, 100*limit) + " %"
}
