// Package casting owns the invented front casting of the demo: a one-piece
// aluminium die casting that forms the front structure of an electric parcel
// van nobody builds. It makes a closed triangle mesh with zones, the same on
// every run, from a description in solids. It refuses to be a model of any real
// vehicle: every dimension is invented.
//
// Vehicle axes, millimetres: X rearward, Y to the right, Z up; left is y < 0.
// The part is symmetric about y = 0: the left half is described, sampled on a
// grid, turned into a mesh, cut along the zone borders and reduced; the right
// half is its image.
package casting

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// facesPerHalf is how many faces the reduction leaves on each side; coarsePerHalf in the
// coarse mesh: about the fewest with which the joints still lie on it.
const (
	facesPerHalf  = 65000
	coarsePerHalf = 6000
)

// Build makes the casting: a closed mesh with outward normals and one zone
// label per face. It is deterministic, whatever the number of processors.
func Build() *mesh.Mesh { return finish(net(), facesPerHalf) }

// Coarse is the same casting in a tenth of the faces, for tests that use it often.
func Coarse() *mesh.Mesh { return finish(net(), coarsePerHalf) }

// net is the untrimmed mesh of the left half, all that is made in parallel.
func net() *mesh.Mesh {
	g := newGrid()
	g.sample(leftHalf())
	return g.surface()
}

// finish makes the casting of the net, step by step.
func finish(half *mesh.Mesh, faces int) *mesh.Mesh {
	trim(half)
	reduce(half, faces, besideHole)
	return mirror(half)
}

// mirror joins the left half with its image and rounds to 0.001 mm.
func mirror(left *mesh.Mesh) *mesh.Mesh {
	m := &mesh.Mesh{}
	twin := make([]int32, len(left.Points))
	for _, p := range left.Points {
		for k := range p {
			p[k] = math.Round(p[k]*1000) / 1000
		}
		m.Points = append(m.Points, p)
	}
	for i, p := range m.Points {
		twin[i] = int32(i)
		if p[1] != 0 {
			twin[i] = int32(len(m.Points))
			m.Points = append(m.Points, geom.Vec{p[0], -p[1], p[2]})
		}
	}
	m.Faces = append(m.Faces, left.Faces...)
	m.Label = append(m.Label, left.Label...)
	for i, f := range left.Faces {
		m.Faces = append(m.Faces, [3]int32{twin[f[0]], twin[f[2]], twin[f[1]]})
		m.Label = append(m.Label, rightLabel(left.Label[i]))
	}
	return m
}

// rightLabel is the label of the zone that mirrors a zone of the left half.
func rightLabel(label int32) int32 {
	switch label {
	case 1, 10:
		return label
	}
	return label + 1
}
