package inspect

import (
	"math"

	"fettle/internal/body"
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

// boreLines is the rim of a bore on the surface.
func (g *grounded) boreLines(b body.Bore) [][]mesh.Site {
	wall := float64(g.casting.Wall)
	c := contour{radius: float64(b.Radius), out: map[geom.Vec]mesh.Site{}}
	c.level = boreLineMM + float64(boreLinePart*c.radius)
	c.of = func(p geom.Vec) float64 { return rimApart(b, wall, p, p) - c.level }
	reach := float64(boreWalls*wall) + c.radius + c.level + 1
	m := g.surf.Mesh()
	for f, t := range m.Faces {
		p := [3]geom.Vec{m.Points[t[0]], m.Points[t[1]], m.Points[t[2]]}
		if mesh.TriangleDistance(b.At, p[0], p[1], p[2]) > reach {
			continue
		}
		c.face(g.surf, f, p, 0)
	}
	var lines [][]mesh.Site
	for _, chain := range chains(c.segments) {
		var line []mesh.Site
		for _, q := range chain {
			line = append(line, c.out[q])
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
	return a.Lerp(b, math.Min(1, hi))
}
