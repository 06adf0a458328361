package mesh

import (
	"fmt"
	"math"
	"sync"

	"fettle/internal/geom"
	"fettle/internal/halt"
)

// Surface answers questions about one mesh. It is built once, then only read:
// many goroutines may ask at the same time. The mesh must not change afterwards.
type Surface struct {
	m       *Mesh
	adj     adjacency
	pivots  *pivots
	faces   faceTree
	borders borderIndex
	kept    *kept
	work    *halt.Work // what the searches are part of; nil: they are not stopped
}

// kept is what a surface keeps from one question to the next.
type kept struct {
	walkers sync.Pool // searches along edges that are done
	scratch sync.Pool // what searches for distances keep room for
	ways    sync.Pool // and searches for shortest ways
	faults  halt.Once[Faults]
	doubt   halt.Once[string] // SidesDoubt of the mesh
	solid   halt.Once[bool]   // Solid
	gaps    halt.Once[Gaps]
}

// While is the surface for questions that are part of some work: when that is stopped, they are.
func (s *Surface) While(w *halt.Work) *Surface {
	if s == nil || s.work == w {
		return s
	}
	out := *s
	out.work = w
	return &out
}

// Same says that both are the same surface with the same labels, whatever work they are part of.
func (s *Surface) Same(o *Surface) bool { return s != nil && o != nil && s.m == o.m }

// Labelled is the surface of the same mesh with other labels.
func (s *Surface) Labelled(label []int32) *Surface {
	m := &Mesh{Points: s.m.Points, Faces: s.m.Faces, Label: label}
	out := &Surface{m: m, adj: s.adj, pivots: s.pivots, faces: s.faces, kept: s.kept, work: s.work}
	m.edgeGroups(func(u, v int32, halves []int32) { out.borders.add(m, u, v, halves) })
	out.borders.plant(m)
	return out
}

// NewSurface builds the adjacency and the search tree of a mesh that passes
// Check. Weld a mesh from a file without indices first: faces that only touch
// are not neighbours.
func NewSurface(m *Mesh) (*Surface, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	s := &Surface{m: m, kept: &kept{}}
	s.adj = adjacencyAnd(m, func(u, v int32, halves []int32) { s.borders.add(m, u, v, halves) })
	s.borders.plant(m)
	s.pivots = newPivots(len(m.Points))
	boxes := make([]boxed, 0, len(m.Faces))
	for f, t := range m.Faces {
		if collapsed(t) {
			continue
		}
		a, b, c := &m.Points[t[0]], &m.Points[t[1]], &m.Points[t[2]]
		if *a == *b || *b == *c || *c == *a {
			continue
		}
		boxes = append(boxes, boxOfFace(int32(f), a, b, c))
	}
	if len(boxes) == 0 {
		return nil, invalid("every face has two equal corners", "a surface needs at least one triangle")
	}
	s.faces = newFaceTree(m, boxes)
	return s, nil
}

// Mesh is the mesh the surface was built from; do not change it.
func (s *Surface) Mesh() *Mesh { return s.m }

// SidesDoubt is that of the mesh, found out when it is first asked for.
func (s *Surface) SidesDoubt() string {
	return s.kept.doubt.Get(s.work, func() string { return s.m.sidesDoubt(s.faults()) })
}

func (s *Surface) faults() Faults { return s.kept.faults.Get(s.work, s.findFaults) }

// Solid says that the mesh is closed, and known to be so with its metal inside.
func (s *Surface) Solid() bool {
	return s.kept.solid.Get(s.work, func() bool { return s.faults().Closed() && s.SidesDoubt() == "" })
}

// Site is a point on the surface: the face it lies in, its barycentric
// coordinates there, and where that is. A site is never only a coordinate: in a
// thin wall the far side is near too.
type Site struct {
	Face int
	Bary [3]float64
	At   geom.Vec
}

// Site is the point with the given barycentric coordinates in face f, clamped
// to the face and scaled to sum 1; without any positive coordinate it is the
// middle of the face.
func (s *Surface) Site(f int, bary [3]float64) Site {
	sum := 0.0
	for k := range bary {
		bary[k] = max(bary[k], 0)
		sum += bary[k]
	}
	if !(sum > 0) || math.IsInf(sum, 1) {
		bary, sum = [3]float64{1, 1, 1}, 3
	}
	for k := range bary {
		bary[k] /= sum
	}
	a, b, c := s.m.corners(f)
	return Site{f, bary, a.Scale(bary[0]).Add(b.Scale(bary[1])).Add(c.Scale(bary[2]))}
}

// SiteAt is the site of a point that lies in face f.
func (s *Surface) SiteAt(p geom.Vec, f int) Site {
	a, b, c := s.m.corners(f)
	n := b.Sub(a).Cross(c.Sub(a))
	nn := n.Dot(n)
	if nn == 0 {
		return s.Site(f, [3]float64{1, 1, 1})
	}
	return s.Site(f, [3]float64{
		c.Sub(b).Cross(p.Sub(b)).Dot(n) / nn,
		a.Sub(c).Cross(p.Sub(c)).Dot(n) / nn,
		b.Sub(a).Cross(p.Sub(a)).Dot(n) / nn,
	})
}

// PointSite is the site at point v of the mesh, in the first face that has it;
// false when no face has.
func (s *Surface) PointSite(v int) (Site, bool) {
	if v < 0 || v >= len(s.m.Points) {
		return Site{}, false
	}
	corners := s.adj.cornersOf(int32(v))
	if len(corners) == 0 {
		return Site{}, false
	}
	var w [3]float64
	w[corners[0]%3] = 1
	return Site{Face: int(corners[0] / 3), Bary: w, At: s.m.Points[v]}, true
}

// anchor is a site sorted out: inside a face, on an edge, or at a point.
type anchor struct {
	at   geom.Vec
	face int32 // none at a point
	bary [3]float64
	u, v int32 // point u alone, or edge u-v; none where not
}

// none is no face, point, window or other thing that is told by its number.
const none = -1

// snapBary is the barycentric coordinate below which a site counts as lying on
// the edge or point, about 1e-12; on a 100 mm face that is 1e-10 mm.
const snapBary = 0x1p-40

// anchor sorts a site out, and refuses one that is not on this surface.
func (s *Surface) anchor(a Site) (anchor, error) {
	if a.Face < 0 || a.Face >= len(s.m.Faces) || collapsed(s.m.Faces[a.Face]) {
		return anchor{}, invalid(fmt.Sprintf("no surface at face %d", a.Face),
			"take sites from the surface they are used with")
	}
	sum := a.Bary[0] + a.Bary[1] + a.Bary[2]
	if !(math.Abs(sum-1) < 1e-6) || min(a.Bary[0], a.Bary[1], a.Bary[2]) < -1e-6 {
		return anchor{}, invalid(fmt.Sprintf("barycentric coordinates %v are not in the face", a.Bary),
			"they must be positive and sum to 1")
	}
	site := s.Site(a.Face, a.Bary)
	out := anchor{at: site.At, face: int32(a.Face), bary: site.Bary, u: none, v: none}
	t := s.m.Faces[a.Face]
	for k := range 3 {
		switch b := site.Bary[k]; {
		case b >= 1-2*snapBary:
			return s.pointAnchor(t[k]), nil
		case b <= snapBary:
			out.u, out.v = t[(k+1)%3], t[(k+2)%3]
		}
	}
	return out, nil
}

// inside says that the anchor lies on no edge of its face.
func (a *anchor) inside() bool { return a.u == none }

// isPoint says that the anchor is a point of the mesh.
func (a *anchor) isPoint() bool { return a.face == none }

// onEdge says that the anchor lies on the edge from p to q, its ends included.
func (a *anchor) onEdge(p, q int32) bool {
	if a.isPoint() {
		return a.u == p || a.u == q
	}
	return !a.inside() && edgeOf(a.u, a.v) == edgeOf(p, q)
}

func (s *Surface) pointAnchor(v int32) anchor {
	return anchor{at: s.m.Points[v], face: none, u: v, v: none}
}

// holds says that face f contains the anchor.
func (s *Surface) holds(f int32, a *anchor) bool {
	if a.inside() {
		return f == a.face
	}
	t := &s.m.Faces[f]
	u := t[0] == a.u || t[1] == a.u || t[2] == a.u
	return u && (a.isPoint() || t[0] == a.v || t[1] == a.v || t[2] == a.v)
}

// around lists the faces that contain the anchor, ascending.
func (s *Surface) around(a *anchor) []int32 {
	if a.inside() {
		return []int32{a.face}
	}
	var out []int32
	for _, h := range s.adj.cornersOf(a.u) {
		if f := h / 3; s.holds(f, a) {
			out = append(out, f)
		}
	}
	return out
}
