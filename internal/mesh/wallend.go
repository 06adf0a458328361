package mesh

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// WallEnd is a free edge of a closed mesh: the narrow band of faces over which
// the surface turns from one side of a thin wall to the other.
type WallEnd struct {
	Faces    []int32 // of the band, ascending
	Borders  []Rim   // the lines between the band and the two sides of the wall
	LengthMM float64 // along the wall: half of the borders together
	// ThickMM is the greatest distance between the two sides at the band.
	ThickMM float64
}

// Limits on what counts as the end of a wall. Our choices, no source.
const (
	endTurnRad   = 150 * math.Pi / 180 // least turn from one side to the other: walls may taper by 30 degrees
	endLeanRad   = 20 * math.Pi / 180  // a face of the band leans at least so much from both sides
	endHollowRad = 20 * math.Pi / 180  // a way that turns back by more has left the end of the wall
	endRoundRad  = 135 * math.Pi / 180 // a way is not followed round farther than this
	endWays      = 12                  // directions in which a face is crossed, 15 degrees apart
	endProbes    = 8                   // ways that look whether there is anything to find
	endReach     = 1.6                 // way over a full round, in thicknesses (pi/2 and a little)
	endStill     = 0.6                 // a way that has turned and then goes straight for so many thicknesses has come to a wall
	endCorner    = 1.5                 // reach from a band into a corner, in thicknesses
	endAlike     = 1. / 32             // faces no farther than so many thicknesses apart count as one,
	endAlikeRad  = 5 * math.Pi / 180   // where they lean no farther from one another
	endSamples   = 16                  // at most so many places along the longest side of a face
)

// WallEnds finds where walls of at most thickMM end: faces from which the
// surface, cut square by a plane, turns outward to either side, by 150 degrees or
// more in all, within a way no longer than a full round of that thickness. Sharp
// and rounded ends are found alike, ends of ribs and thin pins too; a fold whose
// outside is no wider than thickMM looks the same and is found as well. Faces
// marked in skip (nil: none) are left out: the walls of holes, which end a wall
// too. Longest first.
func (s *Surface) WallEnds(thickMM float64, skip []bool) []WallEnd {
	w := s.endFinder(thickMM)
	w.faces(skip)
	w.corners(skip)
	parts := newPieces(len(w.end))
	s.eachTwin(func(h, t int32) {
		if w.end[h/3].is && w.end[t/3].is {
			parts.join(h/3, t/3)
		}
	})
	place := map[int32]int{}
	var ends []WallEnd
	for f, e := range w.end {
		if !e.is {
			continue
		}
		root := parts.root(int32(f))
		i, ok := place[root]
		if !ok {
			i = len(ends)
			place[root], ends = i, append(ends, WallEnd{})
		}
		ends[i].Faces, ends[i].ThickMM = append(ends[i].Faces, int32(f)), max(ends[i].ThickMM, e.thick)
	}
	for i := range ends {
		w.outline(&ends[i])
	}
	slices.SortStableFunc(ends, func(a, b WallEnd) int { return cmp.Compare(b.LengthMM, a.LengthMM) })
	return ends
}

func (s *Surface) endFinder(thickMM float64) *endFinder {
	w := &endFinder{s: s, thick: thickMM, end: make([]faceEnd, len(s.m.Faces)), normal: make([]geom.Vec, len(s.m.Faces))}
	out := s.outward()
	for f := range w.normal {
		w.normal[f] = s.m.FaceNormal(f).Scale(out)
	}
	return w
}

// outline finds the borders of a band.
func (w *endFinder) outline(e *WallEnd) {
	var edges []borderEdge
	for _, f := range e.Faces {
		for h := 3 * f; h < 3*f+3; h++ {
			if t := w.s.adj.twin[h]; t < 0 || !w.end[t/3].is {
				u, v := w.s.m.halfEnds(h)
				edges = append(edges, borderEdge{u, v, 0, 1})
			}
		}
	}
	e.Borders = w.s.chain(edges, false)
	for _, r := range e.Borders {
		e.LengthMM += r.LengthMM / 2
	}
}

// endFinder looks at one face after another.
type endFinder struct {
	s      *Surface
	thick  float64
	normal []geom.Vec // by face
	end    []faceEnd  // by face
	way    []endStep
	steps  int // of all ways: the measure of the work
}

// faceEnd is the wall that ends at a face.
type faceEnd struct {
	is    bool
	thick float64
	sides [2]geom.Vec // normals of its two sides
}

// endStep is a face a way goes through.
type endStep struct {
	in   inWay // where it is entered
	face int32
	rad  float64 // how far its normal is turned outward from that of the first face
}

// wallSide is the side of a wall that a way comes to.
type wallSide struct {
	at, normal geom.Vec
	rad        float64 // how far it is turned from where the way began
}

// faces looks at one face after another. Where they are far smaller than walls are
// thick, one of them stands for those beside it.
func (w *endFinder) faces(skip []bool) {
	done := make([]bool, len(w.end))
	copy(done, skip)
	mid := func(f int32) geom.Vec {
		a, b, c := w.s.m.corners(int(f))
		return a.Add(b).Add(c).Scale(1. / 3)
	}
	cosAlike := elem.Cos(endAlikeRad)
	var group []int32
	for f := range w.end {
		if done[f] {
			continue
		}
		w.s.work.Step()
		done[f] = true
		w.face(int32(f))
		at, n := mid(int32(f)), w.normal[f]
		group = append(group[:0], int32(f))
		for i := 0; i < len(group); i++ {
			for h := 3 * group[i]; h < 3*group[i]+3; h++ {
				if t := w.s.adj.twin[h]; t >= 0 && !done[t/3] && w.normal[t/3].Dot(n) >= cosAlike && mid(t/3).Dist(at) <= endAlike*w.thick {
					done[t/3], w.end[t/3] = true, w.end[f]
					group = append(group, t/3)
				}
			}
		}
	}
}

// face says whether a wall ends at a face, and what wall: the thickest of those
// at the places looked at.
func (w *endFinder) face(f int32) {
	n := w.normal[f]
	if n == (geom.Vec{}) {
		return
	}
	a, b, c := w.s.m.corners(int(f))
	side := [3]geom.Vec{b.Sub(a), c.Sub(b), a.Sub(c)}
	long := slices.MaxFunc(side[:], func(p, q geom.Vec) int { return cmp.Compare(p.Norm(), q.Norm()) })
	across := n.Cross(long).Unit()
	along := across.Cross(n)
	parts := int(min(endSamples, math.Ceil(2*long.Norm()/w.thick)))
	for i := range parts {
		for k := range parts - i {
			u, v := (float64(i)+1./3)/float64(parts), (float64(k)+1./3)/float64(parts)
			p := a.Add(side[0].Scale(u)).Sub(side[2].Scale(v))
			if e := w.at(f, p, n, across, along); e.is && e.thick >= w.end[f].thick {
				w.end[f] = e
			}
		}
	}
}

// at is the wall that ends at a place: the thinnest of those in all directions.
func (w *endFinder) at(f int32, p, n, across, along geom.Vec) faceEnd {
	var least faceEnd
	if !w.near(f, p, n, across, along) {
		return least
	}
	for k := range endWays {
		sin, cos := elem.Sincos(float64(k) * math.Pi / endWays)
		d := across.Scale(cos).Add(along.Scale(sin))
		one := w.turn(f, p, n, d, endReach*w.thick)
		if one.rad < endLeanRad {
			continue
		}
		two := w.turn(f, p, n, d.Scale(-1), endReach*w.thick)
		if two.rad < endLeanRad || one.rad+two.rad < endTurnRad || one.normal.Dot(two.normal) > elem.Cos(endTurnRad) {
			continue
		}
		through := one.at.Sub(two.at)
		t := math.Abs(through.Dot(one.normal.Sub(two.normal).Unit())) // square through the wall, whatever the direction of the way
		if through.Norm() <= w.thick && (!least.is || t < least.thick) {
			least = faceEnd{true, t, [2]geom.Vec{one.normal, two.normal}}
		}
	}
	return least
}

// near says that the surface turns outward anywhere near a place: the nearer
// side of a band is no farther than half of the reach, and one of eight ways
// runs no more than 22.5 degrees from straight at it.
func (w *endFinder) near(f int32, p, n, across, along geom.Vec) bool {
	for k := range endProbes {
		sin, cos := elem.Sincos(float64(k) * 2 * math.Pi / endProbes)
		if w.turn(f, p, n, across.Scale(cos).Add(along.Scale(sin)), endReach/2*w.thick/elem.Cos(math.Pi/endProbes)).rad >= endLeanRad {
			return true
		}
	}
	return false
}

// corners adds the faces between the ends of two walls that meet: no way over
// them comes to two opposite sides. A face is added when it leans no more than
// the narrowest band from a face at an end next to it, leans from both sides of
// that wall, and lies within one and a half thicknesses of it.
func (w *endFinder) corners(skip []bool) {
	type grown struct{ face, seed int32 }
	var todo []grown
	for f := range w.end {
		if w.end[f].is {
			todo = append(todo, grown{int32(f), int32(f)})
		}
	}
	cosLean := elem.Cos(endLeanRad)
	for len(todo) > 0 {
		w.s.work.Step()
		g := todo[0]
		todo = todo[1:]
		e := w.end[g.seed]
		a, b, c := w.s.m.corners(int(g.seed))
		for h := 3 * g.face; h < 3*g.face+3; h++ {
			t := w.s.adj.twin[h]
			if t < 0 || w.end[t/3].is || skip != nil && skip[t/3] {
				continue
			}
			n := w.normal[t/3]
			if n.Dot(w.normal[g.seed]) < cosLean || n.Dot(e.sides[0]) > cosLean || n.Dot(e.sides[1]) > cosLean {
				continue
			}
			near := true
			for _, v := range w.s.m.Faces[t/3] {
				near = near && TriangleDistance(w.s.m.Points[v], a, b, c) <= endCorner*e.thick
			}
			if near {
				w.end[t/3] = faceEnd{true, e.thick, e.sides}
				todo = append(todo, grown{t / 3, g.seed})
			}
		}
	}
}

// turn follows the surface from a place in direction d, in the plane of that and
// the normal, to where it has turned outward as far as it does.
func (w *endFinder) turn(f int32, p, n, d geom.Vec, reach float64) wallSide {
	m := w.s.m
	v := wayView{p, d, n, n.Cross(d)}
	out, from := int32(none), inWay{}
	var a, b inWay // ends of the half-edge out
	for h := 3 * f; h < 3*f+3; h++ {
		x, y := m.halfEnds(h)
		if x, y := v.see(&m.Points[x]), v.see(&m.Points[y]); (x.off >= 0) != (y.off >= 0) {
			if c := x.cross(&y); out < 0 || c.along > from.along {
				out, from, a, b = h, c, x, y
			}
		}
	}
	if out < 0 {
		return wallSide{}
	}
	w.way = w.way[:0]
	before, gone, since, rad := inWay{}, 0.0, 0.0, 0.0
	for {
		x, y := from.along-before.along, from.up-before.up
		step := math.Sqrt(float64(x*x) + float64(y*y))
		gone, since, before = gone+step, since+step, from
		if rad > endLeanRad && since > endStill*w.thick || gone > reach {
			break
		}
		t := w.s.adj.twin[out]
		if t < 0 || first(m.halfEnds(out)) == first(m.halfEnds(t)) {
			break
		}
		if g := &w.normal[t/3]; *g != (geom.Vec{}) {
			x, y := g.Dot(d), g.Dot(n)
			r := x / y // the angle to 1 in 3000, where it is small
			if !(math.Abs(x) < 0.03*y) {
				r = elem.Atan2(x, y)
			}
			w.way = append(w.way, endStep{from, t / 3, r})
			if r > rad {
				rad, since = r, 0
			}
			if r < rad-endHollowRad || rad > endRoundRad {
				break
			}
		}
		apex := v.see(&m.Points[m.Faces[t/3][apexOf(t)]])
		if (apex.off >= 0) == (a.off >= 0) {
			out, a = prevHalf(t), apex
		} else {
			out, b = nextHalf(t), apex
		}
		from = a.cross(&b)
	}
	w.steps += len(w.way)
	for _, e := range w.way {
		if e.rad >= rad-endLeanRad/4 {
			return wallSide{p.Add(d.Scale(e.in.along)).Add(n.Scale(e.in.up)), w.normal[e.face], rad}
		}
	}
	return wallSide{}
}

// wayView is how places are seen from a way: its plane holds d and the normal n.
type wayView struct{ p, d, n, across geom.Vec }

// inWay is a place as seen from a way: along it, up the normal, off its plane.
type inWay struct{ along, up, off float64 }

func (v *wayView) see(q *geom.Vec) inWay {
	x := q.Sub(v.p)
	return inWay{x.Dot(v.d), x.Dot(v.n), x.Dot(v.across)}
}

// cross is where the line between two places on either side of the plane meets it.
func (a *inWay) cross(b *inWay) inWay {
	t := a.off / (a.off - b.off)
	return inWay{a.along + float64(t*(b.along-a.along)), a.up + float64(t*(b.up-a.up)), 0}
}
