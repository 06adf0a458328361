package mesh

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// Faults counts what is unusual about a mesh. A closed surface with one agreed
// outside has zero for all but Components.
type Faults struct {
	OpenEdges        int // edges of one face only: a rim or a hole
	NonManifoldEdges int // edges of three or more faces
	FlippedEdges     int // edges whose two faces disagree about the outside
	DegenerateFaces  int // faces with two equal corners or no area
	Components       int // pieces that no shared edge connects
}

// Closed says that the surface encloses a volume with one agreed outside.
func (f Faults) Closed() bool {
	return f.OpenEdges == 0 && f.NonManifoldEdges == 0 && f.FlippedEdges == 0 && f.Components > 0
}

// Faults counts open, non-manifold and flipped edges, faces without area, and
// connected pieces of a mesh that passes Check. Faces with two equal corners
// take no part in edges or pieces.
func (m *Mesh) Faults() Faults {
	var out Faults
	pieces := newPieces(len(m.Faces))
	m.edgeGroups(func(_, _ int32, halves []int32) {
		switch len(halves) {
		case 1:
			out.OpenEdges++
		case 2:
			if from, _ := m.halfEnds(halves[0]); from == first(m.halfEnds(halves[1])) {
				out.FlippedEdges++
			}
		default:
			out.NonManifoldEdges++
		}
		for _, h := range halves[1:] {
			pieces.join(halves[0]/3, h/3)
		}
	})
	out.ofFaces(m, pieces)
	return out
}

// findFaults is Faults of the mesh, from the neighbours that are known.
func (s *Surface) findFaults() Faults {
	if slices.Contains(s.adj.twin, crowd) {
		return s.m.Faults()
	}
	var out Faults
	pieces := newPieces(len(s.m.Faces))
	for h, t := range s.adj.twin {
		h := int32(h)
		switch {
		case t == border:
			if !collapsed(s.m.Faces[h/3]) {
				out.OpenEdges++
			}
		case h < t:
			if first(s.m.halfEnds(h)) == first(s.m.halfEnds(t)) {
				out.FlippedEdges++
			}
			pieces.join(h/3, t/3)
		}
	}
	out.ofFaces(s.m, pieces)
	return out
}

// ofFaces counts faces without area, and the pieces they hang together in.
func (out *Faults) ofFaces(m *Mesh, pieces pieces) {
	for f, t := range m.Faces {
		if m.FaceAreaMM2(f) == 0 {
			out.DegenerateFaces++
		}
		if !collapsed(t) && pieces.root(int32(f)) == int32(f) {
			out.Components++
		}
	}
}

// SidesDoubt says why a mesh does not say where its metal is, "" when it does:
// neighbours disagree about the outside, normals point inward, or a piece within
// another one is no void.
func (m *Mesh) SidesDoubt() string { return m.sidesDoubt(m.Faults()) }

func (m *Mesh) sidesDoubt(f Faults) string {
	switch {
	case f.FlippedEdges > 0:
		return fmt.Sprintf("at %s the two triangles disagree about the outside: there is no volume", unit.Count(f.FlippedEdges, "edge"))
	case f.Closed() && f.Components == 1 && m.VolumeMM3() > 0: // nothing lies in or round it
		return ""
	case f.Closed():
		return m.shellsDoubt()
	}
	return ""
}

func first(a, _ int32) int32 { return a }

// pieces is a union-find whose roots are the smallest member.
type pieces []int32

func newPieces(n int) pieces {
	p := make(pieces, n)
	for i := range p {
		p[i] = int32(i)
	}
	return p
}

func (p pieces) root(i int32) int32 {
	for p[i] != i {
		p[i] = p[p[i]]
		i = p[i]
	}
	return i
}

func (p pieces) join(i, j int32) {
	i, j = p.root(i), p.root(j)
	p[max(i, j)] = min(i, j)
}
