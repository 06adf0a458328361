package mesh

import (
	"fmt"
	"slices"

	"fettle/internal/geom"
)

// SectionAlong divides a mesh that passes Check along a closed curve on its
// surface: the locally shortest ways from each point to the next, and from the
// last to the first. The points are put on the surface first; offMM is how far
// the farthest of them was from it. The outer part is the one that the point
// outer is nearest to.
//
// The faces are cut along the curve as Section cuts them along planes, and the
// proof is the same. The curve passes corners and edges of faces that are
// nearer than snapMM.
func (m *Mesh) SectionAlong(points []geom.Vec, outer geom.Vec, snapMM float64) (c Section, offMM float64, err error) {
	if err := m.Check(); err != nil {
		return Section{}, 0, err
	}
	if len(points) < 3 {
		return Section{}, 0, invalid("a closed curve needs at least three points", "give the points round the surface, in order")
	}
	for _, p := range append([]geom.Vec{outer}, points...) {
		if !p.Finite() {
			return Section{}, 0, invalid("a point of the curve is not a number", "give finite millimetre values")
		}
	}
	s, err := NewSurface(m)
	if err != nil {
		return Section{}, 0, err
	}
	k := newKnife(m, snapMM)
	var stops []int32
	for _, p := range points {
		site, mm := s.Closest(p)
		offMM = max(offMM, mm)
		stops = append(stops, k.insert(int32(site.Face), site.At))
	}
	for i, v := range stops {
		if err := k.leg(v, stops[(i+1)%len(stops)]); err != nil {
			return Section{}, offMM, err
		}
	}
	out := Section{Split: Split{Mesh: k.m, Parent: k.parent}}
	return out, offMM, k.part(&out, outer)
}

// knife cuts a mesh along a curve.
type knife struct {
	m        *Mesh
	parent   []int32
	children [][]int32 // by face of the mesh as it was: its parts, the face itself not among them
	snap     float64
	line     map[[2]int32]bool
}

func newKnife(m *Mesh, snap float64) *knife {
	k := &knife{m: &Mesh{Points: slices.Clone(m.Points), Faces: slices.Clone(m.Faces), Label: slices.Clone(m.Label)},
		parent: make([]int32, len(m.Faces)), children: make([][]int32, len(m.Faces)), snap: snap, line: map[[2]int32]bool{}}
	for f := range k.parent {
		k.parent[f] = int32(f)
	}
	return k
}

// insert makes the point p of a face of the mesh as it was a point of the mesh.
func (k *knife) insert(f int32, p geom.Vec) int32 {
	best, at := -1.0, f
	for _, g := range append([]int32{f}, k.children[f]...) {
		if d := k.off(g, p); best < 0 || d < best {
			best, at = d, g
		}
	}
	t := k.m.Faces[at]
	for _, v := range t {
		if k.m.Points[v].Dist(p) <= k.snap {
			return v
		}
	}
	v := int32(len(k.m.Points))
	for i := range 3 {
		a, b := t[i], t[(i+1)%3]
		if d := segmentDist2(p, k.m.Points[a], k.m.Points[b]); d <= k.snap*k.snap {
			k.m.Points = append(k.m.Points, p)
			k.splitEdges(map[[2]int32]int32{edgeOf(a, b): v})
			return v
		}
	}
	k.m.Points = append(k.m.Points, p)
	k.replace(at, [3]int32{t[0], t[1], v}, [3]int32{t[1], t[2], v}, [3]int32{t[2], t[0], v})
	return v
}

func (k *knife) off(f int32, p geom.Vec) float64 {
	a, b, c := k.m.corners(int(f))
	return TriangleDistance(p, a, b, c)
}

// replace puts parts in the place of face f.
func (k *knife) replace(f int32, first [3]int32, more ...[3]int32) {
	k.m.Faces[f] = first
	for _, t := range more {
		k.children[k.parent[f]] = append(k.children[k.parent[f]], int32(len(k.m.Faces)))
		k.m.Faces = append(k.m.Faces, t)
		k.parent = append(k.parent, k.parent[f])
		if k.m.Label != nil {
			k.m.Label = append(k.m.Label, k.m.Label[f])
		}
	}
}

// splitEdges puts new points on edges; at most two edges of a face.
func (k *knife) splitEdges(mid map[[2]int32]int32) {
	at := func(u, v int32) int32 {
		if x, ok := mid[edgeOf(u, v)]; ok {
			return x
		}
		return none
	}
	for f := range int32(len(k.m.Faces)) {
		t := k.m.Faces[f]
		x := [3]int32{at(t[0], t[1]), at(t[1], t[2]), at(t[2], t[0])}
		for i := range 3 {
			a, b, c := t[i], t[(i+1)%3], t[(i+2)%3]
			ab, bc, ca := x[i], x[(i+1)%3], x[(i+2)%3]
			switch {
			case ab >= 0 && ca >= 0 && bc < 0:
				k.replace(f, [3]int32{a, ab, ca}, [3]int32{ab, b, c}, [3]int32{ab, c, ca})
			case ab >= 0 && bc < 0 && ca < 0:
				k.replace(f, [3]int32{a, ab, c}, [3]int32{ab, b, c})
			}
		}
	}
	for e, v := range mid { // the line goes on through its new points; a set, so the order does not matter
		if k.line[e] {
			delete(k.line, e)
			k.line[edgeOf(e[0], v)], k.line[edgeOf(v, e[1])] = true, true
		}
	}
}

// leg cuts along the way from one point of the mesh to another.
func (k *knife) leg(a, b int32) error {
	if a == b {
		return nil
	}
	s := &Surface{m: k.m, adj: newAdjacency(k.m), kept: &kept{}}
	s.pivots = newPivots(len(k.m.Points))
	from, to := s.pointAnchor(a), s.pointAnchor(b)
	p, err := s.path(&from, &to)
	if err != nil {
		return err
	}
	nodes, mid := []int32{a}, map[[2]int32]int32{}
	for i := 1; i+1 < len(p.Points); i++ {
		v, err := k.node(p.Points[i], int32(p.Faces[i-1]), int32(p.Faces[i]), mid)
		if err != nil {
			return err
		}
		if v != nodes[len(nodes)-1] {
			nodes = append(nodes, v)
		}
	}
	if b != nodes[len(nodes)-1] {
		nodes = append(nodes, b)
	}
	k.splitEdges(mid)
	for i := 0; i+1 < len(nodes); i++ {
		k.line[edgeOf(nodes[i], nodes[i+1])] = true
	}
	return nil
}

// node is the point of the mesh at a place between two faces, new if need be.
func (k *knife) node(p geom.Vec, f, g int32, mid map[[2]int32]int32) (int32, error) {
	var shared []int32
	for _, u := range k.m.Faces[f] {
		if t := k.m.Faces[g]; u == t[0] || u == t[1] || u == t[2] {
			shared = append(shared, u)
		}
	}
	for _, u := range shared {
		if len(shared) == 1 || k.m.Points[u].Dist(p) <= k.snap {
			return u, nil
		}
	}
	if len(shared) != 2 {
		return 0, invalid(fmt.Sprintf("the curve cannot be followed at %.1f, %.1f, %.1f", p[0], p[1], p[2]), "move the points of the curve a little")
	}
	e := edgeOf(shared[0], shared[1])
	if v, ok := mid[e]; ok {
		return v, nil
	}
	mid[e] = int32(len(k.m.Points))
	k.m.Points = append(k.m.Points, p)
	return mid[e], nil
}

// part proves the line and sorts the parts.
func (k *knife) part(out *Section, outer geom.Vec) error {
	p := parting{m: k.m, side: make([]int32, len(k.m.Faces)), missing: "the points of the curve lie too near together"}
	found := 0
	k.m.edgeGroups(func(u, v int32, _ []int32) {
		if k.line[[2]int32{u, v}] {
			p.cut(u, v)
			found++
		}
	})
	if found != len(k.line) {
		return invalid("the curve cannot be followed from triangle to triangle", "move the points of the curve a little")
	}
	s, err := NewSurface(k.m)
	if err != nil {
		return err
	}
	site, _ := s.Closest(outer)
	parts, _, _ := p.flood()
	for f := range p.side {
		if parts.root(int32(f)) == parts.root(int32(site.Face)) {
			p.side[f] = 1
		}
	}
	p.prove(out)
	p.capVolumes(out)
	return nil
}
