package inspect

import (
	"math"

	"fettle/internal/geom"
)

// curve is a crack on the surface as it is allowed for: a polyline whose ends
// may run on.
type curve struct {
	pts   []geom.Vec
	faces []int      // of each segment; of the point when there is only one
	ahead [2]float64 // how much farther its first and last point may lie [mm]
}

// reach is a least distance from a curve.
type reach struct {
	seen    float64 // from the polyline [mm]
	allowed float64 // less what is ahead of an end, never below 0 [mm]
	ahead   float64 // allowance that is in it [mm]
}

// std is the standard uncertainty of the least distance when each point of the
// curve has the standard uncertainty std [mm]. What lies ahead of a tip is
// taken as anything from nothing to twice the allowance.
func (c reach) std(std float64) float64 { return math.Hypot(std, hiddenStd(c.ahead)) }

// hiddenStd is the standard uncertainty of an allowance: a rectangular
// distribution of half width a has the standard deviation a/sqrt(3) (JCGM
// 100:2008 4.3.7). That the allowance is the mean of what lies hidden is our
// choice: common practice, no source.
func hiddenStd(allowanceMM float64) float64 { return allowanceMM / math.Sqrt(3) }

// least is the least distance of a curve from something, given its distance
// from one segment (both ends the same: from a point).
func (c *curve) least(distance func(p, q geom.Vec) float64) reach {
	out := reach{seen: distance(c.pts[0], c.pts[0])}
	for i := 0; i+1 < len(c.pts); i++ {
		out.seen = min(out.seen, distance(c.pts[i], c.pts[i+1]))
	}
	out.allowed = out.seen
	for k, ahead := range c.ahead {
		p := c.end(k)
		if d := distance(p, p) - ahead; ahead > 0 && d < out.allowed {
			out.allowed, out.ahead = d, ahead
		}
	}
	out.allowed = max(0, out.allowed)
	return out
}

// end is the first (0) or last (1) point.
func (c *curve) end(k int) geom.Vec {
	if k == 0 {
		return c.pts[0]
	}
	return c.pts[len(c.pts)-1]
}

// nearestOnSegments is the points of two segments that are nearest to each
// other; a segment may be a point.
//
// Source: C. Ericson, Real-Time Collision Detection, 2005, section 5.1.9.
func nearestOnSegments(p1, q1, p2, q2 geom.Vec) (on1, on2 geom.Vec) {
	d1, d2, r := q1.Sub(p1), q2.Sub(p2), p1.Sub(p2)
	a, e, f := d1.Dot(d1), d2.Dot(d2), d2.Dot(r)
	if a == 0 && e == 0 {
		return p1, p2
	}
	if a == 0 {
		return p1, p2.Lerp(q2, clamp01(f/e))
	}
	c := d1.Dot(r)
	if e == 0 {
		return p1.Lerp(q1, clamp01(-c/a)), p2
	}
	b := d1.Dot(d2)
	s := 0.0
	if den := float64(a*e) - float64(b*b); den > 1e-12*a*e {
		s = clamp01((float64(b*f) - float64(c*e)) / den)
	}
	t := (float64(b*s) + f) / e
	if t < 0 {
		t, s = 0, clamp01(-c/a)
	} else if t > 1 {
		t, s = 1, clamp01((b-c)/a)
	}
	return p1.Lerp(q1, s), p2.Lerp(q2, t)
}

func clamp01(x float64) float64 { return min(1, max(0, x)) }

// segmentsApart is the distance between two segments [mm].
func segmentsApart(p1, q1, p2, q2 geom.Vec) float64 {
	a, b := nearestOnSegments(p1, q1, p2, q2)
	return a.Dist(b)
}

// nearerApart is the distance between two segments where that is below best,
// otherwise best. Their middles tell most that are not: no point of a segment
// is farther from its middle than half of its length.
func nearerApart(best float64, p1, q1, p2, q2 geom.Vec) float64 {
	middles := p1.Add(q1).Sub(p2.Add(q2)).Norm() / 2
	if middles-(p1.Dist(q1)+p2.Dist(q2))/2 > best {
		return best
	}
	return min(best, segmentsApart(p1, q1, p2, q2))
}
