package unit

import (
	"fmt"
	"math"
	"strconv"
)

// The most that a quantity may be when it is read. Nothing that people measure here comes near;
// what is beyond is a slip of the pen, and sums of what is not fit whole numbers.
const (
	mostLength  = 1e9       // mm: a thousand kilometres
	mostTime    = 52596000  // min: a hundred years
	mostOther   = 1e6       // kg, Nm, deg, C, K, ppm/K, %
	mostAmount  = 1e9       // of a material's own unit
	mostDigits  = 10        // of an amount of money before the point
	mostWhole   = 1 << 53   // beyond it not every whole number is a float
	mostMinutes = mostWhole // of a duration in words
)

// Whole is a whole number that was reckoned as a float. What lies beyond 2^53 either way
// becomes that, and what is no number becomes 2^53: the conversion of what does not fit is
// another one on another machine (Go specification, conversions between numeric types).
func Whole(v float64) int64 {
	switch {
	case -mostWhole < v && v < mostWhole:
		return int64(v)
	case v <= -mostWhole:
		return -mostWhole
	}
	return mostWhole
}

// within refuses what is more than a quantity can be.
func within(v, most float64, text, unit string) error {
	if math.Abs(v) <= most {
		return nil
	}
	return fmt.Errorf("%q is out of range; at most %s %s is taken: see whether a digit or the unit is wrong", short(text), strconv.FormatFloat(most, 'f', -1, 64), unit)
}

// short cuts a text that is long.
func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:37]) + "..."
	}
	return s
}
