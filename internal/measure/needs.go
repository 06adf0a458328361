package measure

import (
	"fmt"
	"math"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/normal"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// NeedKind is a kind of thing that would decide what is open about a point.
type NeedKind int

// What a point may need. The zero value is nothing.
const (
	NeedsNothing      NeedKind = iota
	NeedsReadingAgain          // moved, or misread
	NeedsSetups                // more set-ups, or a better reading
	NeedsBetterDevice
	NeedsManufacturer // no reading can tell
	NeedsSteadyPoints // the steady block leans on it
	NeedsCoordinates
	NeedsLimit
)

// Need is what would decide what is open about one point.
type Need struct {
	Kind    NeedKind
	Setups  int     // of NeedsSetups: in how many in all
	StdMM   float64 // of NeedsSetups: or once with this standard uncertainty
	RoughMM float64 // not 0: the readings are too rough for the limit, and this is their standard uncertainty
}

// MaxSetups is how many set-ups are worth suggesting.
const MaxSetups = 12

// text is the need of a point in half a sentence.
func (n Need) text(id body.PointID) string {
	out := ""
	switch n.Kind {
	case NeedsReadingAgain:
		out = fmt.Sprintf("moved, or misread: read %s again in another set-up", id)
	case NeedsSetups:
		out = fmt.Sprintf("%s in %d independent set-ups in all, or once %s, if the mean stays where it is", id, n.Setups, rule.KnownTo(n.StdMM, "mm"))
	case NeedsBetterDevice:
		out = fmt.Sprintf("%s with a much better device: it stands too near the limit for %d readings like these", id, MaxSetups)
	case NeedsManufacturer:
		out = fmt.Sprintf("more points that kept their places, or the manufacturer's word on %s: no reading can tell while the places at which the steady points were built are no better known", id)
	case NeedsSteadyPoints:
		out = fmt.Sprintf("more points that kept their places: the steady block leans on %s so much that it could have moved unseen", id)
	case NeedsCoordinates:
		out = fmt.Sprintf("a coordinate reading of %s", id)
	case NeedsLimit:
		out = fmt.Sprintf("a limit for %s from the manufacturer", id)
	}
	if n.RoughMM > 0 {
		out = fmt.Sprintf("the readings are too rough for the limit (uncertain by up to ± %s mm, k = 2): %s", unit.Fixed(rule.Coverage*n.RoughMM, 1), out)
	}
	return out
}

// Need is what would decide what is open about the point.
func (p PointResult) Need() Need { return p.need }

func (p *PointResult) needs(n Need) { p.need, p.Needs = n, n.text(p.ID) }

// needsFor is what would decide a limit that was judged. fixed is the part of the
// covariance that repeated readings do not make smaller.
func needsFor(c Conformance, p body.Point, off geom.Vec, cov, fixed geom.Mat3, conf float64) Need {
	switch {
	case c.Verdict != Undecided:
		return Need{}
	case c.Limit == noLimit:
		return Need{Kind: NeedsLimit}
	}
	n := finer(p, off, cov, fixed, conf)
	if c.tooRough(conf) {
		n.RoughMM = root(largestVariance(cov))
	}
	return n
}

// finer is what would make an undecided limit decided.
func finer(p body.Point, off geom.Vec, cov, fixed geom.Mat3, conf float64) Need {
	own := cov.Sub(fixed)
	for n := 2; n <= MaxSetups; n++ {
		if at := fixed.Add(own.Scale(1 / float64(n))); !nearLimit(p, off, at, conf) && Conform(p, off, at, conf).Verdict != Undecided {
			return Need{Kind: NeedsSetups, Setups: n, StdMM: root(largestVariance(own) / float64(n))}
		}
	}
	if Conform(p, off, fixed, conf).Verdict != Undecided {
		return Need{Kind: NeedsBetterDevice}
	}
	return Need{Kind: NeedsManufacturer}
}

// nearLimit says that a radial limit is undecided by one direction alone: with d the
// distance and u its standard uncertainty in the direction of the estimate,
// |limit - d| below z u, z the quantile of the confidence. The ball lies on one side
// of its tangent plane there, so that the probability to be within is at most
// Phi((limit - d)/u), and that of a point on the limit to be measured as far out at
// least 1 - Phi((d - limit)/u).
func nearLimit(p body.Point, off geom.Vec, cov geom.Mat3, conf float64) bool {
	limit, d := known(p.Tol), off.Norm()
	if !(limit > 0) || !(d > 0) || known(p.TolX) > 0 || known(p.TolY) > 0 || known(p.TolZ) > 0 {
		return false
	}
	dir := off.Scale(1 / d)
	u := root(dir.Dot(cov.MulVec(dir)))
	return math.Abs(limit-d) < (1-1e-9)*normal.Quantile(confidence(conf))*u
}
