package inspect

import (
	"math"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// line is a polyline on the surface, or one point.
type line struct {
	pts   []geom.Vec
	faces []int // of each segment; of the point when there is only one
}

// curve is a crack on the surface as it is allowed for: a polyline whose ends
// may run on, and the other ways that it may take.
type curve struct {
	line
	ahead     [2]float64 // how much farther its first and last point may lie [mm]
	otherWays []otherWay
}

// otherWay is another way that a part of a crack may take.
type otherWay struct {
	line
	ends [2]bool // its first point may be that of the crack, its last one the last
}

// lines is the curve and every other way of it.
func (c *curve) lines() []*line {
	out := []*line{&c.line}
	for i := range c.otherWays {
		out = append(out, &c.otherWays[i].line)
	}
	return out
}

// ends is where the first (0) or last (1) point may lie, each as a segment of no
// length, that of the way taken first.
func (c *curve) ends(k int) []segment {
	out := []segment{c.end(k)}
	for i := range c.otherWays {
		if c.otherWays[i].ends[k] {
			out = append(out, c.otherWays[i].end(k))
		}
	}
	return out
}

// end is the first (0) or last (1) point.
func (l *line) end(k int) segment {
	if k == 0 {
		return newSegment(l.pts[0], l.pts[0], l.faces[0])
	}
	p := l.pts[len(l.pts)-1]
	return newSegment(p, p, l.faces[len(l.faces)-1])
}

// fromEnd is the least distance of something from where an end may lie.
func (c *curve) fromEnd(k int, near nearness) float64 {
	least := math.Inf(1)
	for _, x := range c.ends(k) {
		least = min(least, near(math.Inf(1), x.p, x.q))
	}
	return least
}

// reach is a least distance from a curve.
type reach struct {
	seen    float64 // from the polyline [mm]
	allowed float64 // less what is ahead of an end, never below 0 [mm]
	ahead   float64 // allowance that is in it [mm]
	end     int     // which end it is from, noEnd for all of the curve
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
	seen := math.Inf(1)
	for _, l := range c.lines() {
		seen = near(seen, l.pts[0], l.pts[0])
		for i := 0; i+1 < len(l.pts); i++ {
			seen = near(seen, l.pts[i], l.pts[i+1])
		}
	}
	out := []reach{{seen: seen, allowed: seen, end: noEnd}}
	for k, ahead := range c.ahead {
		if ahead > 0 {
			out = append(out, reach{seen: seen, allowed: max(0, c.fromEnd(k, near)-ahead), ahead: ahead, end: k})
		}
	}
	return out
}

// reachesOf is reaches of each of several things of the casting, which what names. Of many
// findings one changes at a time: those of the others are kept.
func (t *trace) reachesOf(what string, near []nearness) [][]reach {
	const fields = 4
	flat := t.at.Kept(what, t.curve.numbers(), func() (flat []float64) {
		for _, n := range near {
			for _, x := range t.curve.reaches(n) {
				flat = append(flat, x.seen, x.allowed, x.ahead, float64(x.end))
			}
		}
		return flat
	})
	out := make([][]reach, len(near))
	all := make([]reach, 0, len(flat)/fields)
	for i := range out {
		from := len(all)
		for k := i * len(flat) / len(near); k < (i+1)*len(flat)/len(near); k += fields {
			all = append(all, reach{flat[k], flat[k+1], flat[k+2], int(flat[k+3])})
		}
		out[i] = all[from:len(all):len(all)]
	}
	return out
}

// toBorders is reaches of every border of the casting.
func (t *trace) toBorders() [][]reach {
	var near []nearness
	for _, e := range t.at.Borders() {
		near = append(near, e.Edges.Nearer)
	}
	return t.reachesOf("borders", near)
}

// numbers is all of a curve that its distances through space hang on.
func (c *curve) numbers() []float64 {
	out := []float64{c.ahead[0], c.ahead[1]}
	for _, l := range c.lines() {
		out = append(out, float64(len(l.pts)))
		for _, p := range l.pts {
			out = append(out, p[:]...)
		}
	}
	for _, a := range c.otherWays {
		for _, end := range a.ends {
			if end {
				out = append(out, 1)
			} else {
				out = append(out, 0)
			}
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
