package mesh

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/geom"
)

// Seam is a narrow opening between two stretches of free edges that face each
// other.
type Seam struct {
	At       geom.Vec // where it is widest
	LengthMM float64
	LeastMM  float64 // across
	WidestMM float64
	TJoints  int  // corners of one side within an edge of the other
	Disagree bool // its sides disagree about the outside somewhere
}

// SeamEdge is a free edge beside a seam.
type SeamEdge struct {
	Ends   [2]geom.Vec
	Face   int   // it is the edge of
	Across []int // faces that it, or its ends, face across the opening, ascending
}

// Gaps is what is known of the narrow openings of a mesh.
type Gaps struct {
	Seams   []Seam     // the longest first
	TJoints []geom.Vec // their places
	Edges   []SeamEdge // beside the seams; every free edge where not all were looked at
	Whole   bool       // false: too many free edges lie near one another to look at all
}

// LengthMM is the length of all seams.
func (g *Gaps) LengthMM() (sum float64) {
	for _, s := range g.Seams {
		sum += s.LengthMM
	}
	return sum
}

// WidestMM is how wide the widest seam is.
func (g *Gaps) WidestMM() (most float64) {
	for _, s := range g.Seams {
		most = max(most, s.WidestMM)
	}
	return most
}

// What counts as facing. Our choices, no source.
const (
	gapReach   = 2     // in edges at the point: farther off nothing is looked for
	gapOpposed = -0.5  // cosine between the directions in which the two sides run, at most
	gapAcross  = 0.5   // part of the way across that lies in the plane of each side, at least
	gapTiny    = 0.05  // of the shorter edge: a gap so narrow may lead in any direction
	backToBack = -0.87 // cosine between normals from which on two sides are two walls
	tJointFree = 0.01  // of the edge: nearer to its end a corner is beside that end
)

// How many pairs of free edges are looked at: some four times as many as on a mesh cut
// to pieces. Our choice, no source.
const (
	gapPairs        = 300000
	gapPairsPerEdge = 60
	gapPairsMost    = 10_000_000
	gapFan          = 64 // free edges at one point: where more meet, all pairs are counted before
)

// Gaps measures the narrow openings of a mesh that passes Check. At every point of
// a free edge the nearest free edge is looked for that runs the other way, with the
// opening between them and not the surface, and not nearer along the line than
// seamSlender times the distance, as it is round a hole. Stretches that hang
// together are one seam; one that is not seamSlender times as long as it is wide is
// a hole, and none.
func (m *Mesh) Gaps() Gaps {
	adj := newAdjacency(m)
	return newFreeEdges(m, &adj).gaps()
}

// Gaps is that of the mesh, found out when it is first asked for.
func (s *Surface) Gaps() Gaps {
	return s.kept.gaps.Get(s.work, func() Gaps { return newFreeEdges(s.m, &s.adj).gaps() })
}

// gapSide is a place on free edges, and what faces it.
type gapSide struct {
	place  geom.Vec
	on     []int32 // free edges it is on
	along  []linePlace
	facing int32 // free edge, -1: none
	mm     float64
	share  float64 // where on that edge
	turned bool    // the two sides disagree about the outside
	block  float64 // nearest edge that runs along it without an opening between
	reach  float64 // how far off something that faces it is looked for
}

func (e *freeEdges) gaps() Gaps {
	g := Gaps{Whole: true}
	if len(e.half) == 0 {
		return g
	}
	e.turn()
	t, visits := e.tree(), min(gapPairs+gapPairsPerEdge*len(e.half), gapPairsMost)
	look := func(s *gapSide) {
		// every edge at the place is held against every one near it
		if s.facing, s.mm, s.block = none, math.Inf(1), math.Inf(1); visits < 0 || len(s.on) > gapFan && len(s.on)*len(e.half) > gapPairsMost {
			g.Whole = false
			return
		}
		for _, i := range s.on {
			s.reach = max(s.reach, gapReach*e.lengthMM(i))
		}
		visits -= t.nearestWithin(s.place, s.reach*s.reach, func(h int32) float64 {
			e.face(s, h)
			return float64(s.mm * s.mm)
		}) * max(1, len(s.on)/gapFan)
		if s.block < s.mm/2 {
			s.facing = none
		}
	}
	points, middles := make([]gapSide, len(e.points)), make([]gapSide, len(e.half))
	for k, v := range e.points {
		points[k] = gapSide{place: e.m.Points[v], on: slices.Concat(e.out.of(v), e.in.of(v)), along: e.placesOf(v, nil)}
		look(&points[k])
	}
	for i := range e.half {
		a, b := e.segment(int32(i))
		middles[i] = gapSide{place: a.Lerp(b, 0.5), on: []int32{int32(i)}, along: []linePlace{{e.line[i], e.along[i] + float64(e.lengthMM(int32(i))/2)}}}
		look(&middles[i])
	}
	e.gather(points, middles, &g)
	return g
}

// turn takes the directions of the free edges, and the normals of their triangles.
func (e *freeEdges) turn() {
	e.dir, e.normal = make([]geom.Vec, len(e.half)), make([]geom.Vec, len(e.half))
	for i, h := range e.half {
		a, b := e.segment(int32(i))
		e.dir[i], e.normal[i] = b.Sub(a).Unit(), e.m.FaceNormal(int(h/3))
	}
}

// face keeps free edge h for a place if it faces it and is nearer.
func (e *freeEdges) face(s *gapSide, h int32) {
	a, b := e.segment(h)
	at, share := onSegment(s.place, a, b)
	mm := at.Dist(s.place)
	if mm >= s.mm || mm > s.reach || slices.Contains(s.on, h) {
		return
	}
	beside, facing, turned := false, false, false
	for _, i := range s.on {
		b, f, t := e.opposed(i, h, s.place, at)
		beside, facing, turned = beside || b, facing || f, turned || f && t
	}
	if !beside || !e.slender(s.along, []linePlace{{e.line[h], e.along[h] + float64(share*e.lengthMM(h))}}, mm) {
		return
	}
	if !facing {
		s.block = min(s.block, mm)
		return
	}
	s.facing, s.mm, s.share, s.turned = h, mm, share, turned
}

// tJoint says that the place, a point, lies within the edge that faces it.
func (e *freeEdges) tJoint(s *gapSide) bool {
	l := e.lengthMM(s.facing)
	return min(s.share, 1-s.share)*l > max(4*s.mm, tJointFree*l)
}

// opposed says that free edges i and k run along each other, that they face each
// other at places p and q across an opening, and that their triangles disagree about
// the outside.
func (e *freeEdges) opposed(i, k int32, p, q geom.Vec) (beside, facing, turned bool) {
	if e.half[i]/3 == e.half[k]/3 {
		return false, false, false
	}
	di, dk, ni, nk := e.dir[i], e.dir[k], e.normal[i], e.normal[k]
	if turned = di.Dot(dk) > 0; turned {
		dk, nk = dk.Scale(-1), nk.Scale(-1)
	}
	if di.Dot(dk) > gapOpposed || ni.Dot(nk) < backToBack {
		return false, false, false
	}
	d := q.Sub(p)
	if d.Norm() <= gapTiny*min(e.lengthMM(i), e.lengthMM(k)) {
		return true, true, turned
	}
	d = d.Unit()
	return true, d.Dot(di.Cross(ni)) >= gapAcross && -d.Dot(dk.Cross(nk)) >= gapAcross, turned
}

// gather makes seams: edges whose middles face something, with what faces them and
// their points.
func (e *freeEdges) gather(points, middles []gapSide, g *Gaps) {
	of := newPieces(len(e.half))
	for _, list := range [2][]gapSide{points, middles} {
		for _, s := range list {
			for _, i := range s.on {
				if s.facing >= 0 {
					of.join(i, s.facing)
				}
			}
		}
	}
	seams, tJoints := make([]Seam, len(e.half)), make([][]geom.Vec, len(e.half)) // by root
	known := make([]bool, len(e.half))
	measure := func(s *gapSide) {
		root := of.root(s.facing)
		seam := &seams[root]
		if !known[root] {
			known[root], seam.LeastMM, seam.At = true, math.Inf(1), s.place
		}
		seam.LeastMM = min(seam.LeastMM, s.mm)
		if s.mm > seam.WidestMM {
			seam.WidestMM, seam.At = s.mm, s.place
		}
		seam.Disagree = seam.Disagree || s.turned
	}
	for i := range points {
		s := &points[i]
		if s.facing < 0 {
			continue
		}
		measure(s)
		if e.tJoint(s) {
			root := of.root(s.facing)
			seams[root].TJoints++
			tJoints[root] = append(tJoints[root], s.place)
		}
	}
	byPoints := slices.Clone(known)
	for i := range middles {
		if middles[i].facing < 0 {
			continue
		}
		root := of.root(int32(i))
		seams[root].LengthMM += e.lengthMM(int32(i)) / 2
		if !byPoints[root] { // its points face nothing
			measure(&middles[i])
		}
	}
	for i, s := range seams {
		if s.slender() {
			g.Seams = append(g.Seams, s)
			g.TJoints = append(g.TJoints, tJoints[i]...)
		}
	}
	slices.SortStableFunc(g.Seams, func(a, b Seam) int { return cmp.Compare(b.LengthMM, a.LengthMM) })
	e.beside(points, middles, g, func(i int32) bool { return seams[of.root(i)].slender() })
}

// slender says that an opening is so long for its width that it is a seam and no hole.
func (s *Seam) slender() bool { return s.LengthMM > 0 && s.LengthMM >= seamSlender*s.WidestMM }

// beside lists the free edges beside seams, with what is across from each.
func (e *freeEdges) beside(points, middles []gapSide, g *Gaps, seam func(i int32) bool) {
	across := make([][]int, len(e.half))
	for _, list := range [2][]gapSide{points, middles} {
		for _, s := range list {
			for _, i := range s.on {
				if s.facing >= 0 {
					across[i] = append(across[i], int(e.half[s.facing]/3))
					across[s.facing] = append(across[s.facing], int(e.half[i]/3))
				}
			}
		}
	}
	for i, h := range e.half {
		if g.Whole && !seam(int32(i)) {
			continue
		}
		a, b := e.segment(int32(i))
		slices.Sort(across[i])
		g.Edges = append(g.Edges, SeamEdge{[2]geom.Vec{a, b}, int(h / 3), slices.Compact(across[i])})
	}
}
