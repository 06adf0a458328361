package inspect

import (
	"math"

	"fettle/internal/elem"
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
	end     int     // which end it is from, -1 for all of the curve
}

// std is the standard uncertainty of the least distance when each point of the
// curve has the standard uncertainty std [mm]. What lies ahead of a tip is
// taken as anything from nothing to twice the allowance.
func (c reach) std(std float64) float64 { return elem.Hypot(std, hiddenStd(c.ahead)) }

// hiddenStd is the standard uncertainty of an allowance: a rectangular
// distribution of half width a has the standard deviation a/sqrt(3) (JCGM
// 100:2008 4.3.7). That the allowance is the mean of what lies hidden is our
// choice: common practice, no source.
func hiddenStd(allowanceMM float64) float64 { return allowanceMM / math.Sqrt(3) }

// nearness is the distance of something from a segment (both ends the same: from
// a point) where that is below best, otherwise best.
type nearness func(best float64, p, q geom.Vec) float64

// reaches is every distance of a curve from something that has an uncertainty of
// its own: of all of it as it was seen, then of each end that may run on. All of
// them have to keep a limit.
func (c *curve) reaches(near nearness) []reach {
	seen := near(math.Inf(1), c.pts[0], c.pts[0])
	for i := 0; i+1 < len(c.pts); i++ {
		seen = near(seen, c.pts[i], c.pts[i+1])
	}
	out := []reach{{seen: seen, allowed: seen, end: -1}}
	for k, ahead := range c.ahead {
		if ahead > 0 {
			p := c.end(k)
			out = append(out, reach{seen: seen, allowed: max(0, near(math.Inf(1), p, p)-ahead), ahead: ahead, end: k})
		}
	}
	return out
}

// leastOf is the one with the least distance, the least certain of equals.
func leastOf(all []reach) reach {
	best := all[0]
	for _, x := range all[1:] {
		if x.allowed < best.allowed || x.allowed == best.allowed && x.ahead > best.ahead {
			best = x
		}
	}
	return best
}

// end is the first (0) or last (1) point.
func (c *curve) end(k int) geom.Vec {
	if k == 0 {
		return c.pts[0]
	}
	return c.pts[len(c.pts)-1]
}
