package measure

import (
	"math"

	"fettle/internal/geom"
)

// place is where a point stands against its nominal place, as the tolerance
// asks for it: measured, in the frame of the other steady points.
type place struct {
	off geom.Vec
	cov geom.Mat3
	// fixed is the part of cov that repeated readings do not make smaller: the
	// frame is only as good as the places at which the steady points were built.
	fixed geom.Mat3
	// control is the share of the variance of a steady point that is left in its
	// shift in the direction where least is left: near 0 the fit follows the
	// point wherever it goes.
	control float64
	// seen is the covariance of the shift as it shows: that of the shift for a
	// point outside the steady block, and S Q^-1 S for a steady one, whose
	// residual shows only a part of a shift.
	seen geom.Mat3
}

// places works out the place of every point from shift and covariance.
//
// A tolerance limits the distance from the nominal place, however it came
// about. The manufacturing spread s0 of the point itself is part of that
// distance and no uncertainty of it; the spread of the steady points is, since
// the frame hangs on them. With S = own + s0^2 I, own the covariance of the
// readings of the point, F that of the frame and Q that of the shift d:
//
//	not in the steady block  off = d          cov = Q - s0^2 I = own + F
//	in the steady block      off = S Q^-1 d   cov = S Q^-1 S - s0^2 I
//
// The second line is what comes out when the point is left out of the steady
// block: a point must not vouch for its own place. Source: the estimate of a
// shift that the null hypothesis does not know of, Baarda 1968 (from memory);
// equal to the fit without the point (test).
func (p *problem) places(e *epoch, c *candidate) {
	share := p.spreadShare(e, c)
	c.place = c.place[:0]
	for i, pt := range e.points {
		spread, q := geom.Isotropic(p.std0[pt]), c.cov[i]
		at := place{off: c.shift[i], cov: q, seen: q}
		if c.steady.Has(i) {
			s := c.own[i].Add(spread)
			inv, ok := q.Inverse()
			at.control = control(q, s)
			if !ok || !(at.control > geom.MinControl) {
				at.cov = geom.Isotropic(inf)
				at.seen = at.cov
				c.place = append(c.place, at)
				continue
			}
			k := s.Mul(inv)
			at.off, at.cov = k.MulVec(at.off), k.Mul(s).Symmetric()
			at.seen = at.cov
		}
		at.cov = atLeastZero(at.cov.Sub(spread), c.own[i])
		at.fixed = at.cov.Sub(c.own[i]).Scale(share)
		c.place = append(c.place, at)
	}
}

// atLeastZero keeps rounding from taking the covariance of a place below that
// of its own readings.
func atLeastZero(cov, own geom.Mat3) geom.Mat3 {
	for k := range cov {
		cov[k][k] = math.Max(cov[k][k], own[k][k])
	}
	return cov
}

// spreadShare is the part of the variance of the steady points that comes from
// their manufacturing spread: 0 when it is not known or nothing.
func (p *problem) spreadShare(e *epoch, c *candidate) float64 {
	spread, all := 0.0, 0.0
	for _, i := range c.steady.Members() {
		v := float64(3 * p.std0[e.points[i]] * p.std0[e.points[i]])
		spread += v
		all += v + c.own[i].Trace()
	}
	if !(all > 0) || math.IsInf(all, 1) {
		return 0
	}
	return spread / all
}

// control is the least direction of q against the least of s.
func control(q, s geom.Mat3) float64 {
	w, _ := geom.SymEigen(s)
	v, _ := geom.SymEigen(q)
	if !(w[2] > 0) || !q.Finite() {
		return 0
	}
	return v[2] / w[2]
}
