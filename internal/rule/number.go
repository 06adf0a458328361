package rule

import (
	"math"

	"fettle/internal/normal"
)

// LeastConfidence is the smallest probability a limit has to be met with; a
// smaller threshold given to Eval is raised to it (JCGM 106:2012 8.3.2 and ISO
// 14253-1:2017 use 95 % by default; from memory).
const LeastConfidence = 0.95

func threshold(c float64) float64 {
	if !(c >= LeastConfidence) {
		return LeastConfidence
	}
	return math.Min(c, 1)
}

// Below is the probability that the true value is at most the limit t, when
// the measured value is y with the standard uncertainty u and the state of
// knowledge is a normal distribution:
//
//	p = Φ((t − y)/u)
//
// (JCGM 106:2012 7.3, one-sided upper limit). With u = 0 it is 0 or 1.
func Below(t, y, u float64) float64 {
	if u == 0 || math.IsInf(y, 0) {
		if y <= t {
			return 1
		}
		return 0
	}
	return normal.CDF((t - y) / u)
}

// Within is the probability that the true value lies between both limits:
//
//	p = Φ((t_U − y)/u) − Φ((t_L − y)/u)
//
// (JCGM 106:2012 7.4, two-sided). It is taken from the side on which it is
// computed without cancellation.
func Within(low, high, y, u float64) float64 {
	if u == 0 || math.IsInf(y, 0) {
		if low <= y && y <= high {
			return 1
		}
		return 0
	}
	return math.Max(0, 1-Below(low, y, u)-above(high, y, u))
}

func above(t, y, u float64) float64 { return normal.CDF((y - t) / u) }

// number evaluates a condition on a number. With u = 0 it is an exact
// comparison. Otherwise the probability decides, strict and non-strict limits
// alike:
//
//   - met when the probability of meeting all limits is at least c;
//   - not met when the probability of missing one and the same limit is at
//     least c (for one limit this is "at most 1 − c");
//   - undecided otherwise.
//
// For two limits "not met" is asked of one side alone because a very large
// uncertainty makes every interval improbable, and ignorance must not turn
// into the certainty that a prohibition does not apply.
func (c Cond) number(v Value, conf float64) (CondState, float64) {
	if v.Pick != Single || v.Maybe {
		return c.ofMany(v, conf)
	}
	y, u := v.Number, v.Std
	if u == 0 {
		if c.meets(y) {
			return Met, 1
		}
		return NotMet, 0
	}
	if c.Low.Set && c.High.Set && c.Low.At == c.High.At {
		return CondUndecided, 0 // "= n" of an uncertain number
	}
	pLow, pHigh := 0.0, 0.0 // of missing the lower, the upper limit
	if c.Low.Set {
		pLow = Below(c.Low.At, y, u)
	}
	if c.High.Set {
		pHigh = above(c.High.At, y, u)
	}
	var p float64
	switch { // a single limit without cancellation
	case c.Low.Set && c.High.Set:
		p = Within(c.Low.At, c.High.At, y, u)
	case c.Low.Set:
		p = above(c.Low.At, y, u)
	default:
		p = Below(c.High.At, y, u)
	}
	switch {
	case p >= conf:
		return Met, p
	case pLow >= conf || pHigh >= conf:
		return NotMet, p
	}
	return CondUndecided, p
}

// meets is the exact comparison.
func (c Cond) meets(y float64) bool {
	if c.Low.Set && (y < c.Low.At || (c.Low.Strict && y == c.Low.At)) {
		return false
	}
	if c.High.Set && (y > c.High.At || (c.High.Strict && y == c.High.At)) {
		return false
	}
	return true
}
