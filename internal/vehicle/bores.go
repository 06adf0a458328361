package vehicle

import (
	"fettle/internal/halt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// What a bore is on the surface is where its cylinder meets it: the places as far from
// its axis as its radius. Where it is slanted that is no circle, and where its axis is
// not given, the places that rimApart puts at its rim. The line is drawn boreLineMM and
// a part of the radius outside, so that the straight steps it is drawn in never cut
// inside the rim: a way to the bore crosses it before the rim.
const (
	boreLineMM   = 0.05
	boreLinePart = 0.02 // of the radius: a chord of a third of it bulges by 1/72
	boreStepPart = 1.0 / 3
	mostHalvings = 12 // of a face that is larger than the bore
)

// boreWalls is how far a bore's axis reaches to either side of its given
// centre, in walls. Our choice, no source: a boss is higher than the wall, and
// the centre may be given at either end of it.
const boreWalls = 3.0

// Bores is the bores of the casting.
func (c *Casting) Bores() []Target {
	var out []Target
	wall := float64(c.Of.Wall)
	for _, b := range c.Of.Bores {
		out = append(out, Target{Name: b.ID, Std: max(0, float64(b.Std)),
			Bound: func(best float64, p, q geom.Vec) float64 { return min(best, rimApart(b, wall, p, q)) },
			Lines: func() [][]mesh.Site { return c.rim(b) }})
	}
	return out
}

// rimApart is the distance of a segment from the rim of a bore [mm], not below
// 0: the distance from the axis less the radius. Without an axis the rim lies within a
// ball round the centre, which is taken to lie up to one wall above or below it, and no
// nearer than that ball: so it is whichever way the wall bends.
func rimApart(b body.Bore, wall float64, p, q geom.Vec) float64 {
	half := b.Axis.Unit().Scale(boreWalls * wall)
	d := geom.SegmentsDist(p, q, b.At.Sub(half), b.At.Add(half))
	if half == (geom.Vec{}) {
		return max(0, d-elem.Hypot(float64(b.Radius), wall))
	}
	return max(0, d-float64(b.Radius))
}

// boreLines is the rim of a bore on the surface.
func (c *Casting) boreLines(b body.Bore) [][]mesh.Site {
	wall := float64(c.Of.Wall)
	x := contour{radius: float64(b.Radius), out: map[geom.Vec]mesh.Site{}}
	x.level = boreLineMM + float64(boreLinePart*x.radius)
	x.of = func(p geom.Vec) float64 { return rimApart(b, wall, p, p) - x.level }
	reach := float64(boreWalls*wall) + x.radius + x.level + 1
	m := c.Surface.Mesh()
	for f, t := range m.Faces {
		p := [3]geom.Vec{m.Points[t[0]], m.Points[t[1]], m.Points[t[2]]}
		if mesh.TriangleDistance(b.At, p[0], p[1], p[2]) > reach {
			continue
		}
		x.face(c.Surface, f, p, 0)
	}
	var lines [][]mesh.Site
	for _, chain := range chains(x.segments) {
		var line []mesh.Site
		for _, q := range chain {
			line = append(line, x.out[q])
		}
		lines = append(lines, line)
	}
	return lines
}

// contour collects where a distance from something convex passes through nothing.
type contour struct {
	radius, level float64
	of            func(p geom.Vec) float64
	segments      [][2]geom.Vec
	out           map[geom.Vec]mesh.Site
}

// face adds what lies in a face, which is cut in four while it is large.
func (c *contour) face(s *mesh.Surface, f int, p [3]geom.Vec, depth int) {
	side := max(p[0].Dist(p[1]), p[1].Dist(p[2]), p[2].Dist(p[0]))
	v := [3]float64{c.of(p[0]), c.of(p[1]), c.of(p[2])}
	if min(v[0], v[1], v[2]) > side { // none of it is that near
		return
	}
	if side > max(boreLineMM, boreStepPart*c.radius) && depth < mostHalvings {
		ab, bc, ca := middle(p[0], p[1]), middle(p[1], p[2]), middle(p[2], p[0])
		for _, q := range [4][3]geom.Vec{{p[0], ab, ca}, {ab, p[1], bc}, {ca, bc, p[2]}, {ab, bc, ca}} {
			c.face(s, f, q, depth+1)
		}
		return
	}
	var ends []geom.Vec
	for k := range 3 {
		a, b := p[k], p[(k+1)%3]
		if (v[k] > 0) != (v[(k+1)%3] > 0) {
			ends = append(ends, c.crossing(a, b))
		}
	}
	if len(ends) == 2 && ends[0] != ends[1] {
		for _, q := range ends {
			if _, ok := c.out[q]; !ok {
				c.out[q] = s.SiteAt(q, f)
			}
		}
		c.segments = append(c.segments, [2]geom.Vec{ends[0], ends[1]})
	}
}

// middle does not hang on the order of the two.
func middle(a, b geom.Vec) geom.Vec { return a.Add(b).Scale(0.5) }

// crossing is where the distance passes through nothing on an edge, the same from
// both ends.
func (c *contour) crossing(a, b geom.Vec) geom.Vec {
	if c.of(a) > 0 {
		a, b = b, a
	}
	lo, hi := 0.0, 1.0
	for range 40 {
		if m := (lo + hi) / 2; c.of(a.Lerp(b, m)) > 0 {
			hi = m
		} else {
			lo = m
		}
	}
	return a.Lerp(b, hi)
}

// boreRim is a bore with its rim on the surface.
type boreRim struct {
	bore  body.Bore
	lines halt.Once[[][]mesh.Site]
}

// rim is the rim of a bore on the surface, worked out once.
func (c *Casting) rim(b body.Bore) [][]mesh.Site {
	c.mu.Lock()
	i := slices.IndexFunc(c.rims, func(r *boreRim) bool { return r.bore == b })
	if i < 0 {
		i, c.rims = len(c.rims), append(c.rims, &boreRim{bore: b})
	}
	r := c.rims[i]
	c.mu.Unlock()
	return r.lines.Get(c.work, func() [][]mesh.Site { return c.boreLines(b) })
}
