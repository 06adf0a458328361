package measure

import (
	"math"
	"strconv"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/normal"
)

// Conformance is the three-way answer to a limit, with the probability that
// the true value meets it and the limit in words.
type Conformance struct {
	Verdict     Verdict `json:"verdict"`
	Probability float64 `json:"probability"`
	Limit       string  `json:"limit"`
}

// decide turns a probability into a verdict: met at conf or more, not met at
// 1 - conf or less (see beyondGuard for what else "not met" takes). conf is raised to DefaultConfidence when lower; a
// probability that is no number is Undecided.
//
// Source: ISO 14253-1:2017 for the default of 95 % (from memory), JCGM
// 106:2012 clauses 7.3 and 7.4 for the conformance probability.
func decide(p, conf float64) Verdict {
	conf = confidence(conf)
	switch {
	case p >= conf:
		return Met
	case p <= 1-conf: // false for NaN
		return NotMet
	}
	return Undecided
}

func confidence(conf float64) float64 {
	if !(conf >= DefaultConfidence) {
		return DefaultConfidence
	}
	if conf >= 1 {
		return math.Nextafter(1, 0)
	}
	return conf
}

func usable(value, std float64) bool {
	return std >= 0 && !math.IsInf(std, 1) && finite(value)
}

// below is the probability that a true value, seen as value with standard
// uncertainty std, is at most limit.
func below(value, std, limit float64) float64 {
	if std == 0 {
		if value <= limit {
			return 1
		}
		return 0
	}
	return normal.CDF((limit - value) / std)
}

// AtMost judges an upper limit: p = Phi((limit - value)/std).
func AtMost(value, std, limit, conf float64) Conformance {
	c := Conformance{Limit: "at most " + num(limit)}
	if usable(value, std) && !math.IsNaN(limit) {
		c.Probability = below(value, std, limit)
		c.Verdict = decide(c.Probability, conf)
	}
	return c
}

// AtLeast judges a lower limit: p = Phi((value - limit)/std).
func AtLeast(value, std, limit, conf float64) Conformance {
	c := AtMost(-value, std, -limit, conf)
	c.Limit = "at least " + num(limit)
	return c
}

// Between judges two limits: p = Phi((high-value)/std) - Phi((low-value)/std).
func Between(value, std, low, high, conf float64) Conformance {
	c := Conformance{Limit: num(low) + " to " + num(high)}
	if !usable(value, std) || !(low <= high) {
		return c
	}
	if std == 0 {
		if value >= low && value <= high {
			c.Probability = 1
		}
	} else {
		c.Probability = normal.CDF((high-value)/std) - normal.CDF((low-value)/std)
	}
	c.Verdict = beyondGuard(decide(c.Probability, conf), middleChance(value, std, low, high), conf)
	return c
}

// beyondGuard keeps "not met" only for an estimate that lies beyond the limit by
// the guard band (ISO 14253-1, from memory): chance is the probability that a
// true value on the limit gives an estimate at least as far out. With a rough
// device the probability to meet the limit is small wherever the estimate lies,
// also for what stands in its place.
func beyondGuard(v Verdict, chance, conf float64) Verdict {
	if v == NotMet && !(chance <= 1-confidence(conf)) {
		return Undecided
	}
	return v
}

// middleChance is the probability that a true value on one of two limits gives
// an estimate at least as far from their middle as value.
func middleChance(value, std, low, high float64) float64 {
	off, half := math.Abs(value-low/2-high/2), high/2-low/2
	if off <= half {
		return 1
	}
	if std == 0 {
		return 0
	}
	return normal.CDF((half-off)/std) + normal.CDF((-half-off)/std)
}

// ballChance is the same for the distance from the nominal place, of the point
// of the limit that lies in the direction of the estimate.
func ballChance(shift geom.Vec, cov geom.Mat3, limit float64) float64 {
	off := shift.Norm()
	if off <= limit {
		return 1
	}
	return 1 - geom.BallProbability(shift.Scale(limit/off), cov, off)
}

// tooRough says that the probability to meet a limit is small and "not met" is
// not said all the same: the estimate is not beyond the guard band.
func (c Conformance) tooRough(conf float64) bool {
	return c.Verdict == Undecided && c.Limit != noLimit && c.Probability <= 1-confidence(conf)
}

// Radial judges |shift| <= limit in any direction, for a normal uncertainty
// with any covariance: see geom.BallProbability.
func Radial(shift geom.Vec, cov geom.Mat3, limit, conf float64) Conformance {
	c := Conformance{Limit: num(limit) + " mm in any direction"}
	if !shift.Finite() || !cov.Finite() || !(limit > 0) || math.IsInf(limit, 1) || smallestVariance(cov) < 0 {
		return c
	}
	c.Probability = geom.BallProbability(shift, cov, limit)
	if c.Verdict = decide(c.Probability, conf); c.Verdict == NotMet {
		c.Verdict = beyondGuard(c.Verdict, ballChance(shift, cov, limit), conf)
	}
	return c
}

func smallestVariance(cov geom.Mat3) float64 {
	return math.Min(cov[0][0], math.Min(cov[1][1], cov[2][2]))
}

// PerAxis judges |shift_k| <= tol_k on each axis that has a limit (tol_k > 0).
// Each axis is a limit of its own: all must be met, one that is not met
// decides, and the probability given is the smallest of them.
func PerAxis(shift geom.Vec, cov geom.Mat3, tol geom.Vec, conf float64) Conformance {
	out := Conformance{Verdict: Met, Probability: 1}
	limited := 0
	for k, axis := range [3]string{"x", "y", "z"} {
		if !(tol[k] > 0) {
			continue
		}
		c := Between(shift[k], root(cov[k][k]), -tol[k], tol[k], conf)
		out.Verdict = worse(out.Verdict, c.Verdict)
		out.Probability = math.Min(out.Probability, c.Probability)
		if limited > 0 {
			out.Limit += ", "
		}
		out.Limit += "±" + num(tol[k]) + " mm along " + axis
		limited++
	}
	if limited == 0 {
		return Conformance{}
	}
	return out
}

// Conform judges the shift of a control point by the limits the body gives
// it: radial, per axis, or both, of which the worse counts. A point without a
// limit is Undecided.
func Conform(p body.Point, shift geom.Vec, cov geom.Mat3, conf float64) Conformance {
	tol := geom.Vec{known(p.TolX), known(p.TolY), known(p.TolZ)}
	axes := tol[0] > 0 || tol[1] > 0 || tol[2] > 0
	radius := known(p.Tol)
	switch {
	case radius > 0 && axes:
		r, a := Radial(shift, cov, radius, conf), PerAxis(shift, cov, tol, conf)
		return Conformance{worse(r.Verdict, a.Verdict), math.Min(r.Probability, a.Probability), r.Limit + " and " + a.Limit}
	case radius > 0:
		return Radial(shift, cov, radius, conf)
	case axes:
		return PerAxis(shift, cov, tol, conf)
	}
	return Conformance{Limit: noLimit}
}

const noLimit = "the body gives no limit"

func largestVariance(cov geom.Mat3) float64 {
	w, _ := geom.SymEigen(cov)
	return w[0]
}

func num(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
