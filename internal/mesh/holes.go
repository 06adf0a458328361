package mesh

import (
	"math"

	"fettle/internal/geom"
)

// Hole is a round hole found by its wall: faces whose normals point to one axis.
type Hole struct {
	Circle  // of the wall's points, seen along the axis; the centre at half depth
	DepthMM float64
	Faces   int // of the wall
}

// Limits on what counts as the wall of a round hole. Our choices, no source:
// a hole of eight sides passes, a fillet, a wide cone or a groove does not.
const (
	wallLean      = 0.20 // largest |normal·axis| of a face of the wall
	wallPoint     = 0.85 // least cosine between its normal and the way to the axis
	wallSpread    = 0.12 // share of the radius by which a face may lie off it
	guessPoint    = 0.75 // the same while the axis is a guess
	guessSpread   = 0.30
	pairAngleLo   = 5.0 // degrees between the normals of two faces that guess an axis
	pairAngleHi   = 100.0
	pairRings     = 2    // how many faces apart they may lie
	wallBins      = 24   // sectors round the axis
	wallGaps      = 2    // of which so many may be empty
	endLean       = 0.30 // beyond the wall's ends |normal·axis| is larger than this
	endShare      = 0.60 // for this share of the length of its ends
	guessEnds     = 0.40 // the same while the axis is a guess
	leastWallFace = 8
)

// Holes finds round holes of at most maxRadiusMM by their walls, whatever
// crosses their rims: two faces near one another guess an axis (their normals
// meet on it), the wall grows from them over faces that fit, and a circle is
// fitted to its points. It is a hole when it goes all the way round, the points
// lie within tolMM of the circle (root mean square) and the surface turns away
// at its ends. The order is that of the smallest face.
func (s *Surface) Holes(maxRadiusMM, tolMM float64) []Hole {
	h := holeFinder{s: s, max: maxRadiusMM, tol: tolMM, used: make([]bool, len(s.m.Faces)), stamp: make([]int32, len(s.m.Faces)),
		normal: make([]geom.Vec, len(s.m.Faces)), mid: make([]geom.Vec, len(s.m.Faces))}
	for f := range s.m.Faces {
		p, q, o := s.m.corners(f)
		h.normal[f], h.mid[f] = s.m.FaceNormal(f), p.Add(q).Add(o).Scale(1./3)
	}
	var out []Hole
	for f := range s.m.Faces {
		if !h.used[f] {
			if c, ok := h.from(int32(f)); ok {
				out = append(out, c)
			}
		}
	}
	return out
}

type holeFinder struct {
	s           *Surface
	max, tol    float64
	normal, mid []geom.Vec
	used        []bool // faces of holes already found
	stamp       []int32
	round       int32
}

// axisLine is an axis with what a face of a wall round it has to keep to.
type axisLine struct {
	at, along     geom.Vec
	radius        float64
	spread, point float64
}

// from looks for a hole whose wall has the face.
func (h *holeFinder) from(f int32) (Hole, bool) {
	for _, g := range h.ring(f) {
		a, ok := h.guess(f, g)
		if !ok {
			continue
		}
		wall := h.grow(f, a)
		if len(wall) < leastWallFace || h.ends(wall, a.along) < guessEnds || !h.allRound(wall, a) {
			continue
		}
		if a, ok = h.settle(wall); !ok {
			continue
		}
		if wall = h.grow(f, a); len(wall) < leastWallFace {
			continue
		}
		if out, ok := h.judge(wall); ok {
			for _, w := range wall {
				h.used[w] = true
			}
			return out, true
		}
	}
	return Hole{}, false
}

// ring is the faces within pairRings of f, nearest first.
func (h *holeFinder) ring(f int32) []int32 {
	h.round++
	h.stamp[f] = h.round
	out := []int32{f}
	for from, n := 0, 0; n < pairRings; n++ {
		end := len(out)
		for ; from < end; from++ {
			h.beside(out[from], func(g int32) {
				if h.stamp[g] != h.round {
					h.stamp[g] = h.round
					out = append(out, g)
				}
			})
		}
	}
	return out[1:]
}

func (h *holeFinder) beside(f int32, visit func(g int32)) {
	for k := range int32(3) {
		if t := h.s.adj.twin[3*f+k]; t >= 0 {
			visit(t / 3)
		}
	}
}

// guess is the axis on which the normals of two faces meet at the same distance.
func (h *holeFinder) guess(f, g int32) (axisLine, bool) {
	n, m := h.normal[f], h.normal[g]
	c := n.Dot(m)
	if c > math.Cos(pairAngleLo*math.Pi/180) || c < math.Cos(pairAngleHi*math.Pi/180) {
		return axisLine{}, false
	}
	// mid_f + r n and mid_g + s m meet in the plane across n x m
	along := n.Cross(m).Unit()
	d := h.mid[g].Sub(h.mid[f])
	r := d.Cross(m).Dot(along) / n.Cross(m).Dot(along)
	s := d.Cross(n).Dot(along) / n.Cross(m).Dot(along)
	if !(r > 0 && s > 0) || r > 1.1*h.max || math.Abs(r-s) > float64(guessSpread*r)+h.tol {
		return axisLine{}, false
	}
	return axisLine{h.mid[f].Add(n.Scale((r + s) / 2)), along, (r + s) / 2, guessSpread, guessPoint}, true
}

// grow is the faces that hang together with f and fit the axis.
func (h *holeFinder) grow(f int32, a axisLine) []int32 {
	h.round++
	if !h.fits(f, a) {
		return nil
	}
	h.stamp[f] = h.round
	out := []int32{f}
	for i := 0; i < len(out); i++ {
		h.beside(out[i], func(g int32) {
			if h.stamp[g] != h.round && !h.used[g] && h.fits(g, a) {
				h.stamp[g] = h.round
				out = append(out, g)
			}
		})
	}
	return out
}

func (h *holeFinder) fits(f int32, a axisLine) bool {
	if math.Abs(h.normal[f].Dot(a.along)) > wallLean {
		return false
	}
	off := radial(h.mid[f].Sub(a.at), a.along)
	r := off.Norm()
	return math.Abs(r-a.radius) <= float64(a.spread*a.radius)+h.tol && -h.normal[f].Dot(off) >= a.point*r
}

// radial is the part of v across a direction.
func radial(v, along geom.Vec) geom.Vec { return v.Sub(along.Scale(v.Dot(along))) }

// allRound says that the wall leaves at most wallGaps sectors empty.
func (h *holeFinder) allRound(wall []int32, a axisLine) bool {
	x, y := sideways(a.along)
	var bins [wallBins]bool
	angle := func(p geom.Vec) float64 { p = p.Sub(a.at); return math.Atan2(p.Dot(y), p.Dot(x)) }
	for _, f := range wall {
		mid := angle(h.mid[f])
		p, q, o := h.s.m.corners(int(f))
		lo, hi := 0.0, 0.0
		for _, c := range [3]geom.Vec{p, q, o} {
			d := math.Remainder(angle(c)-mid, 2*math.Pi)
			lo, hi = min(lo, d), max(hi, d)
		}
		last := int(math.Floor((mid + hi) / (2 * math.Pi) * wallBins))
		for b := int(math.Floor((mid + lo) / (2 * math.Pi) * wallBins)); b <= last; b++ {
			bins[((b%wallBins)+wallBins)%wallBins] = true
		}
	}
	empty := 0
	for _, full := range bins {
		if !full {
			empty++
		}
	}
	return empty <= wallGaps
}

// settle is the axis of a wall: the direction its normals are most square to,
// and the circle of its points seen along it.
func (h *holeFinder) settle(wall []int32) (axisLine, bool) {
	var c [3]geom.Vec
	for _, f := range wall {
		n := h.normal[f]
		for i := range 3 {
			c[i] = c[i].Add(n.Scale(h.s.m.FaceAreaMM2(int(f)) * n[i]))
		}
	}
	along, ok := leastDirection(c)
	if !ok {
		return axisLine{}, false
	}
	fit, _, ok := h.circle(wall, along)
	return axisLine{fit.Centre, along, fit.RadiusMM, wallSpread, wallPoint}, ok && fit.RadiusMM <= h.max
}

// circle is fitted to the points of a wall seen along a direction; depth is how
// far they reach along it.
func (h *holeFinder) circle(wall []int32, along geom.Vec) (c Circle, depth float64, ok bool) {
	seen := map[int32]bool{}
	var points []geom.Vec
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, f := range wall {
		for _, v := range h.s.m.Faces[f] {
			if seen[v] {
				continue
			}
			seen[v] = true
			p := h.s.m.Points[v]
			lo, hi = min(lo, p.Dot(along)), max(hi, p.Dot(along))
			points = append(points, radial(p, along))
		}
	}
	c, ok = FitCircle(points)
	c.Axis = along
	c.Centre = radial(c.Centre, along).Add(along.Scale((lo + hi) / 2))
	return c, hi - lo, ok
}

// judge says whether a wall is a hole.
func (h *holeFinder) judge(wall []int32) (Hole, bool) {
	a, ok := h.settle(wall)
	if !ok || !h.allRound(wall, a) || h.ends(wall, a.along) < endShare {
		return Hole{}, false
	}
	c, depth, ok := h.circle(wall, a.along)
	return Hole{c, depth, len(wall)}, ok && c.RMSMM <= h.tol
}

// ends is for which share of where a wall stops the surface turns away: a band of
// a cone or of a larger curved wall goes on.
func (h *holeFinder) ends(wall []int32, along geom.Vec) float64 {
	in := make(map[int32]bool, len(wall))
	for _, f := range wall {
		in[f] = true
	}
	all, turned := 0.0, 0.0
	for _, f := range wall {
		for k := range int32(3) {
			t := h.s.adj.twin[3*f+k]
			if t >= 0 && in[t/3] {
				continue
			}
			u, v := h.s.m.halfEnds(3*f + k)
			l := h.s.m.Points[u].Dist(h.s.m.Points[v])
			all += l
			if t < 0 || math.Abs(h.normal[t/3].Dot(along)) > endLean {
				turned += l
			}
		}
	}
	if all == 0 {
		return 0
	}
	return turned / all
}

// leastDirection is the eigenvector of the smallest eigenvalue of a symmetric
// matrix without negative eigenvalues, by inverse iteration; false when there
// is none.
func leastDirection(c [3]geom.Vec) (geom.Vec, bool) {
	trace := c[0][0] + c[1][1] + c[2][2]
	for i := range 3 {
		c[i][i] += 1e-9 * trace // never singular; the directions stay
	}
	// the inverse times the determinant, symmetric
	inv := [3]geom.Vec{c[1].Cross(c[2]), c[2].Cross(c[0]), c[0].Cross(c[1])}
	v := inv[0]
	for _, r := range inv {
		if r.Norm() > v.Norm() {
			v = r
		}
	}
	for range 20 {
		if !(v.Norm() > 0) {
			return v, false
		}
		v = v.Unit()
		v = geom.Vec{inv[0].Dot(v), inv[1].Dot(v), inv[2].Dot(v)}
	}
	return v.Unit(), v.Norm() > 0
}
