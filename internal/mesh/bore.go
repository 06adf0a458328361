package mesh

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// Circle is a circle fitted to points of a rim. Cov is the covariance of
// centre (x, y, z) and radius, from how far the points are off the circle.
type Circle struct {
	Centre, Axis geom.Vec
	RadiusMM     float64
	Cov          [4][4]float64
	RMSMM        float64 // of the distances from the circle
	MaxMM        float64
	N            int // points
}

// Rim is a line of sharp or free edges: an edge of the surface, a hole, a border.
type Rim struct {
	Points   []int32 // of the mesh, in order; a closed rim does not repeat the first
	Closed   bool
	Free     bool // edges of one face only
	LengthMM float64
	Circle   *Circle // when the rim is a full circle within the tolerance
	Hole     bool    // the material lies outside the circle
}

// Rims finds the lines of edges at which the normals differ by more than
// sharpRad, and the free edges, each kind for itself. A line ends where more or
// fewer than two such edges meet. A closed rim of at least eight points that
// are all within circleTolMM of one circle is a circle. Order is that of the
// smallest point.
func (s *Surface) Rims(sharpRad, circleTolMM float64) []Rim {
	var sharp, free []borderEdge
	s.m.edgeGroups(func(u, v int32, halves []int32) {
		switch {
		case len(halves) == 1:
			free = append(free, borderEdge{u, v, 0, 1})
		case len(halves) == 2 && s.edgeAngleRad(halves[0], halves[1]) > sharpRad:
			sharp = append(sharp, borderEdge{u, v, 0, 1})
		}
	})
	out := append(s.chain(sharp, false), s.chain(free, true)...)
	slices.SortStableFunc(out, func(a, b Rim) int { return int(slices.Min(a.Points)) - int(slices.Min(b.Points)) })
	for i := range out {
		s.fitRim(&out[i], circleTolMM)
	}
	return out
}

// chain joins edges into rims.
func (s *Surface) chain(edges []borderEdge, free bool) []Rim {
	ends := map[int32][]int32{}
	for i, e := range edges {
		ends[e.u] = append(ends[e.u], int32(i))
		ends[e.v] = append(ends[e.v], int32(i))
	}
	used := make([]bool, len(edges))
	var out []Rim
	walk := func(i, from int32) {
		r := Rim{Points: []int32{from}, Free: free}
		for at := from; ; {
			used[i] = true
			e := edges[i]
			r.LengthMM += s.m.Points[e.u].Dist(s.m.Points[e.v])
			at = e.u + e.v - at
			if at == from && len(ends[at]) == 2 {
				r.Closed = true
				break
			}
			r.Points = append(r.Points, at)
			if len(ends[at]) != 2 {
				break
			}
			if i = ends[at][0] + ends[at][1] - i; used[i] {
				break
			}
		}
		out = append(out, r)
	}
	for i, e := range edges {
		for _, v := range [2]int32{e.u, e.v} {
			if !used[i] && len(ends[v]) != 2 {
				walk(int32(i), v)
			}
		}
	}
	for i, e := range edges {
		if !used[i] {
			walk(int32(i), e.u)
		}
	}
	return out
}

const leastCirclePoints = 8

func (s *Surface) fitRim(r *Rim, tol float64) {
	if !r.Closed || len(r.Points) < leastCirclePoints {
		return
	}
	points := make([]geom.Vec, len(r.Points))
	for i, v := range r.Points {
		points[i] = s.m.Points[v]
	}
	c, ok := FitCircle(points)
	if !ok || c.MaxMM > tol {
		return
	}
	r.Circle, r.Hole = &c, s.isHole(r, &c)
}

// isHole weighs the faces at the rim: a wall round the axis whose normals point
// to the axis is a hole; without a wall, material outside the circle is one.
func (s *Surface) isHole(r *Rim, c *Circle) bool {
	wall, flat := 0.0, 0.0
	on := make(map[int32]bool, len(r.Points))
	for _, v := range r.Points {
		on[v] = true
	}
	for _, v := range r.Points {
		for _, h := range s.adj.cornersOf(v) {
			if _, w := s.m.halfEnds(h); !on[w] {
				continue
			}
			f := int(h / 3)
			n := s.m.FaceNormal(f)
			p, q, o := s.m.corners(f)
			mid := p.Add(q).Add(o).Scale(1. / 3).Sub(c.Centre)
			radial := mid.Sub(c.Axis.Scale(mid.Dot(c.Axis)))
			if math.Abs(n.Dot(c.Axis)) < 0.5 {
				wall -= float64(s.m.FaceAreaMM2(f) * n.Dot(radial.Unit()))
			} else {
				flat += float64(s.m.FaceAreaMM2(f) * (radial.Norm() - c.RadiusMM))
			}
		}
	}
	if wall != 0 {
		return wall > 0
	}
	return flat > 0
}

// Bore is two hole rims on one axis: a hole through a wall.
type Bore struct {
	Rims     [2]int // places in the list of rims
	Circle   Circle // of the first
	DepthMM  float64
	RadiusMM float64 // the mean
}

// Bores pairs hole rims that face each other: axes within 3 degrees, the
// centres one above the other and the radii equal within a tenth of the
// radius. Each rim is used once, nearest pairs first.
func Bores(rims []Rim) []Bore {
	type pair struct {
		d    float64
		i, j int
	}
	var pairs []pair
	for i := range rims {
		for j := i + 1; j < len(rims); j++ {
			a, b := rims[i].Circle, rims[j].Circle
			if a == nil || b == nil || !rims[i].Hole || !rims[j].Hole || math.Abs(a.Axis.Dot(b.Axis)) < elem.Cos(3*math.Pi/180) {
				continue
			}
			off := b.Centre.Sub(a.Centre)
			h := off.Dot(a.Axis)
			if side := off.Sub(a.Axis.Scale(h)).Norm(); side > 0.1*a.RadiusMM || math.Abs(a.RadiusMM-b.RadiusMM) > 0.1*a.RadiusMM || h == 0 {
				continue
			}
			pairs = append(pairs, pair{math.Abs(h), i, j})
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.d, b.d) })
	used := make([]bool, len(rims))
	var out []Bore
	for _, p := range pairs {
		if used[p.i] || used[p.j] {
			continue
		}
		used[p.i], used[p.j] = true, true
		a, b := rims[p.i].Circle, rims[p.j].Circle
		out = append(out, Bore{[2]int{p.i, p.j}, *a, p.d, (a.RadiusMM + b.RadiusMM) / 2})
	}
	return out
}
