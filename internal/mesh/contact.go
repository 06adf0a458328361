package mesh

import (
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/halt"
)

// Contact is two faces that meet where the surface does not join them: they
// cross, touch or lie on one another. At is one place of it.
type Contact struct {
	Faces [2]int32 // the smaller first
	At    geom.Vec
}

// contactRel is how near faces count as touching, relative to the largest
// coordinate: some thousand roundings of a coordinate.
const contactRel = 1e-12

// How many pairs of faces with boxes that overlap are looked at: some ten times as
// many as on a part. Our choice, no source.
const (
	contactPairs        = 300000
	contactPairsPerFace = 100
)

// Contacts finds the faces of a mesh that passes Check that meet other faces
// outside their shared corners and edges, in order of the faces; at most limit
// of them (0: all), and how many there are. Faces without area take no part:
// Faults counts them. Where far more boxes overlap than on any part, the search
// ends early; whole says that it did not.
//
// Boxes that overlap are found with a tree. Two faces without a shared corner
// meet when an edge of one meets the other face; with one shared corner, when
// the edge opposite it does; with a shared edge, when one is folded flat onto
// the other; with three shared corners always.
func (m *Mesh) Contacts(limit int) (list []Contact, n int, whole bool) {
	return m.contacts(nil, limit)
}

// Contacts are those of the mesh.
func (s *Surface) Contacts(limit int) (list []Contact, n int, whole bool) {
	return s.m.contacts(s.work, limit)
}

func (m *Mesh) contacts(work *halt.Work, limit int) (list []Contact, n int, whole bool) {
	c := contactFinder{m: m}
	boxes := make([]boxed, 0, len(m.Faces))
	box := make([]boxed, len(m.Faces))
	for f, t := range m.Faces {
		p, q, r := m.corners(f)
		box[f] = boxOf(int32(f), p, q, r)
		c.eps = max(c.eps, maxCoord(p), maxCoord(q), maxCoord(r))
		if !collapsed(t) && m.FaceAreaMM2(f) > 0 {
			boxes = append(boxes, box[f])
		} else {
			box[f].id = none
		}
	}
	c.eps *= contactRel
	t := newTree(boxes)
	var near []int32
	pairs := contactPairs + contactPairsPerFace*len(m.Faces)
	for f := range m.Faces {
		if box[f].id < 0 {
			continue
		}
		if pairs < 0 {
			return list, n, false
		}
		work.Step()
		near = t.overlaps(&box[f], near[:0])
		pairs -= len(near)
		first := len(list)
		for _, g := range near {
			if g <= int32(f) {
				continue
			}
			if at, ok := c.meet(int32(f), g); ok {
				n++
				list = append(list, Contact{[2]int32{int32(f), g}, at})
			}
		}
		sortContacts(list[first:])
		if limit > 0 && len(list) > limit {
			list = list[:limit]
		}
	}
	return list, n, true
}

func maxCoord(p geom.Vec) float64 { return max(math.Abs(p[0]), math.Abs(p[1]), math.Abs(p[2])) }

// sortContacts orders contacts of one face by the other.
func sortContacts(list []Contact) {
	slices.SortFunc(list, func(a, b Contact) int { return int(a.Faces[1]) - int(b.Faces[1]) })
}

// overlaps adds the items whose leaf's box overlaps the box.
func (t *tree) overlaps(b *boxed, out []int32) []int32 {
	var lo, hi [3]float32
	for k := range 3 {
		lo[k], hi[k] = unrank(b.lo[k]), unrank(b.hi[k])
	}
	stack := make([]int32, 1, 64)
	if len(t.nodes) == 0 {
		return out
	}
	for len(stack) > 0 {
		n := &t.nodes[stack[len(stack)-1]]
		stack = stack[:len(stack)-1]
		if n.lo[0] > hi[0] || n.hi[0] < lo[0] || n.lo[1] > hi[1] || n.hi[1] < lo[1] || n.lo[2] > hi[2] || n.hi[2] < lo[2] {
			continue
		}
		if n.count > 0 {
			out = append(out, t.items[n.first:n.first+n.count]...)
		} else {
			stack = append(stack, n.first+1, n.first)
		}
	}
	return out
}

type contactFinder struct {
	m   *Mesh
	eps float64
}

// meet says whether two faces meet outside what they share; a face does not meet itself.
func (c *contactFinder) meet(f, g int32) (geom.Vec, bool) {
	if f == g {
		return geom.Vec{}, false
	}
	a, b := c.m.Faces[f], c.m.Faces[g]
	shared, ka, kb := 0, 0, 0 // corners they share, and the last of them in each
	ofA := 0                  // sum of the places of shared corners in a
	ofB := 0
	for i := range 3 {
		for j := range 3 {
			if a[i] == b[j] {
				shared, ka, kb, ofA, ofB = shared+1, i, j, ofA+i, ofB+j
			}
		}
	}
	switch shared {
	case 0:
		return c.apart(a, b)
	case 1:
		p, q := c.m.Points[a[(ka+1)%3]], c.m.Points[a[(ka+2)%3]]
		if at, ok := c.edgeMeets(p, q, b); ok {
			return at, true
		}
		return c.edgeMeets(c.m.Points[b[(kb+1)%3]], c.m.Points[b[(kb+2)%3]], a)
	case 2:
		return c.folded(a, b, 3-ofA, 3-ofB)
	}
	return c.m.Points[a[0]], true
}

// apart looks at faces without a shared corner.
func (c *contactFinder) apart(a, b [3]int32) (geom.Vec, bool) {
	if c.oneSide(a, b) || c.oneSide(b, a) {
		return geom.Vec{}, false
	}
	for k := range 3 {
		if at, ok := c.edgeMeets(c.m.Points[a[k]], c.m.Points[a[(k+1)%3]], b); ok {
			return at, true
		}
	}
	for k := range 3 {
		if at, ok := c.edgeMeets(c.m.Points[b[k]], c.m.Points[b[(k+1)%3]], a); ok {
			return at, true
		}
	}
	return geom.Vec{}, false
}

// oneSide says that face a lies clearly on one side of the plane of b.
func (c *contactFinder) oneSide(a, b [3]int32) bool {
	p := c.m.Points
	n := p[b[1]].Sub(p[b[0]]).Cross(p[b[2]].Sub(p[b[0]])).Unit()
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range a {
		h := n.Dot(p[v].Sub(p[b[0]]))
		lo, hi = min(lo, h), max(hi, h)
	}
	return lo > c.eps || hi < -c.eps
}

// folded says that two faces with a shared edge lie on one another, and where that
// edge has its middle: a place of both. i and j are their corners off the edge.
func (c *contactFinder) folded(a, b [3]int32, i, j int) (geom.Vec, bool) {
	p := c.m.Points
	o, end := p[a[(i+1)%3]], p[a[(i+2)%3]]
	e := end.Sub(o).Unit()
	u, v := radial(p[a[i]].Sub(o), e), radial(p[b[j]].Sub(o), e)
	return o.Lerp(end, 0.5), u.Dot(v) > 0 && u.Cross(v).Norm() <= c.eps*max(u.Norm(), v.Norm())
}

// edgeMeets says where segment pq comes within eps of face t.
func (c *contactFinder) edgeMeets(p, q geom.Vec, t [3]int32) (geom.Vec, bool) {
	u, v, w := c.m.Points[t[0]], c.m.Points[t[1]], c.m.Points[t[2]]
	n := v.Sub(u).Cross(w.Sub(u)).Unit()
	hp, hq := n.Dot(p.Sub(u)), n.Dot(q.Sub(u))
	if min(hp, hq) > c.eps || max(hp, hq) < -c.eps {
		return geom.Vec{}, false
	}
	if max(math.Abs(hp), math.Abs(hq)) > c.eps { // crosses, or touches with an end
		x := p.Lerp(q, min(1, max(0, hp/(hp-hq))))
		return x, TriangleDistance(x, u, v, w) <= c.eps
	}
	for _, x := range [2]geom.Vec{p, q} {
		if TriangleDistance(x, u, v, w) <= c.eps {
			return x, true
		}
	}
	for _, h := range [3][2]geom.Vec{{u, v}, {v, w}, {w, u}} {
		if x, y := geom.NearestOnSegments(h[0], h[1], p, q); x.Dist(y) <= c.eps {
			return x, true
		}
	}
	return geom.Vec{}, false
}

// TriangleDistance is the distance of a point from the triangle abc.
func TriangleDistance(p, a, b, c geom.Vec) float64 {
	w := closestInTriangle(p, a, b, c)
	return a.Scale(w[0]).Add(b.Scale(w[1])).Add(c.Scale(w[2])).Dist(p)
}
