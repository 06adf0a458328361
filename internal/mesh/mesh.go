// Package mesh owns triangle meshes: adjacency, a search tree, the closest
// point, the path along the surface, regions by label and plane cuts. It knows
// nothing of what a mesh stands for; coordinates are millimetres in the frame the
// mesh was given in.
//
// It refuses to guess: a mesh that fails Check gets no Surface, a cut that is
// open says so, and a length that is only a bound is named a bound. Everything
// is deterministic; ties are settled by the smaller index.
package mesh

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// Mesh is an indexed triangle mesh. Label is one integer per face (the
// number of a region, for example), or nil when the mesh carries none.
type Mesh struct {
	Points []geom.Vec
	Faces  [][3]int32
	Label  []int32
}

// maxCoordMM is 1000 km: beyond it the unit of the file is certainly wrong, and
// squares and products below stay far from overflow.
const maxCoordMM = 1e9

// maxPartMM is 100 m: a part is no larger, and beside a point so far away distances
// are no longer exact to what is said of them.
const maxPartMM = 1e5

// Check says what makes the mesh unusable: no faces, a coordinate that is not
// finite or beyond 1000 km, an index that is out of range, labels that do not
// match the faces, or a size beyond 100 m.
// Faults that leave the mesh usable (open edges, for example) are in Faults.
func (m *Mesh) Check() error {
	if len(m.Faces) == 0 {
		return invalid("the mesh has no faces", "a surface needs at least one triangle")
	}
	if int64(len(m.Points)) > math.MaxInt32 || int64(len(m.Faces)) > math.MaxInt32/3 {
		return invalid("the mesh is too large", "at most 715 million faces can be indexed")
	}
	if m.Label != nil && len(m.Label) != len(m.Faces) {
		return invalid(fmt.Sprintf("%d labels for %d faces", len(m.Label), len(m.Faces)),
			"give one label per face, or none")
	}
	var lo, hi geom.Vec // of all points
	for i, p := range m.Points {
		if i == 0 {
			lo, hi = p, p
		}
		lo, hi = grow(lo, hi, p)
		if !p.Finite() {
			return invalid(fmt.Sprintf("point %d has a coordinate that is not a finite number", i),
				"every coordinate must be a finite number of millimetres")
		}
		if max(math.Abs(p[0]), math.Abs(p[1]), math.Abs(p[2])) > maxCoordMM {
			return invalid(fmt.Sprintf("point %d lies more than 1000 km from the origin", i),
				"check the unit of the file")
		}
	}
	for f, face := range m.Faces {
		for _, v := range face {
			if v < 0 || int(v) >= len(m.Points) {
				return invalid(fmt.Sprintf("face %d names point %d of %d", f, v, len(m.Points)),
					"indices run from 0 to the number of points less one")
			}
		}
	}
	if max(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2]) <= maxPartMM {
		return nil
	}
	return m.checkSize() // it may be a point that no face uses
}

// checkSize says which point lies too far from the others.
func (m *Mesh) checkSize() error {
	lo, hi := m.Bounds()
	for k := range 3 {
		if hi[k]-lo[k] <= maxPartMM {
			continue
		}
		var at []float64 // of all points that faces use
		for _, f := range m.Faces {
			for _, v := range f {
				at = append(at, m.Points[v][k])
			}
		}
		slices.Sort(at)
		mid, far := at[len(at)/2], m.Faces[0][0]
		for _, f := range m.Faces {
			for _, v := range f {
				if math.Abs(m.Points[v][k]-mid) > math.Abs(m.Points[far][k]-mid) {
					far = v
				}
			}
		}
		p := m.Points[far]
		return invalid(fmt.Sprintf("the part is %.4g m long: point %d at %g, %g, %g lies %.4g m from most others", (hi[k]-lo[k])/1000, far, p[0], p[1], p[2], math.Abs(p[k]-mid)/1000),
			"a part may be 100 m long; take the point out, or check the unit of the file")
	}
	return nil
}

func invalid(msg, hint string) error {
	return &diag.Error{Kind: diag.Invalid, Op: "mesh", Subject: "mesh", Msg: msg, Hint: hint}
}

// corners are the three points of face f.
func (m *Mesh) corners(f int) (a, b, c geom.Vec) {
	t := m.Faces[f]
	return m.Points[t[0]], m.Points[t[1]], m.Points[t[2]]
}

// label is the label of face f, 0 when the mesh carries none.
func (m *Mesh) label(f int) int32 {
	if m.Label == nil {
		return 0
	}
	return m.Label[f]
}

// FaceNormal is the unit normal of face f by the right-hand rule on its
// corners; zero for a face without area.
func (m *Mesh) FaceNormal(f int) geom.Vec {
	x, y, z := m.faceCross(f)
	n := math.Sqrt(onto(x, y, z, x, y, z))
	if n == 0 {
		return geom.Vec{x, y, z}
	}
	n = 1 / n
	return geom.Vec{float64(n * x), float64(n * y), float64(n * z)}
}

// faceCross is the vector product of two sides of face f: its normal, as long as twice
// its area. Written out in numbers: vectors would go through memory.
func (m *Mesh) faceCross(f int) (x, y, z float64) {
	t := &m.Faces[f]
	a, b, c := &m.Points[t[0]], &m.Points[t[1]], &m.Points[t[2]]
	return across(b[0]-a[0], b[1]-a[1], b[2]-a[2], c[0]-a[0], c[1]-a[1], c[2]-a[2])
}

// FaceAreaMM2 is the area of face f.
func (m *Mesh) FaceAreaMM2(f int) float64 {
	x, y, z := m.faceCross(f)
	return math.Sqrt(onto(x, y, z, x, y, z)) / 2
}

// FaceMiddle is the middle of the corners of face f.
func (m *Mesh) FaceMiddle(f int) geom.Vec {
	t := m.Faces[f]
	return m.Points[t[0]].Add(m.Points[t[1]]).Add(m.Points[t[2]]).Scale(1. / 3)
}

// AreaMM2 is the area of all faces.
func (m *Mesh) AreaMM2() float64 {
	sum := 0.0
	for f := range m.Faces {
		sum += m.FaceAreaMM2(f)
	}
	return sum
}

// VolumeMM3 is the enclosed volume, positive when normals point outward. It is
// the sum over faces of a.(b x c)/6 about the middle of the bounding box
// (divergence theorem); it means nothing when Faults reports open or flipped
// edges.
func (m *Mesh) VolumeMM3() float64 {
	lo, hi := m.Bounds()
	o := lo.Lerp(hi, 0.5)
	sum := 0.0
	for f := range m.Faces {
		sum += m.cone(f, &o)
	}
	return sum / 6
}

// cone is six times the volume between face f and a point.
func (m *Mesh) cone(f int, o *geom.Vec) float64 {
	t := &m.Faces[f]
	a, b, c := &m.Points[t[0]], &m.Points[t[1]], &m.Points[t[2]]
	x, y, z := across(b[0]-o[0], b[1]-o[1], b[2]-o[2], c[0]-o[0], c[1]-o[1], c[2]-o[2])
	return onto(a[0]-o[0], a[1]-o[1], a[2]-o[2], x, y, z)
}

// Bounds are the smallest and largest coordinates of the points that faces use.
func (m *Mesh) Bounds() (lo, hi geom.Vec) {
	if len(m.Faces) == 0 {
		return lo, hi
	}
	lo = m.Points[m.Faces[0][0]]
	hi = lo
	used := newFlags(len(m.Points)) // each point is looked at once, and in the order it lies in memory
	for i := range m.Faces {
		t := &m.Faces[i]
		used.set(t[0])
		used.set(t[1])
		used.set(t[2])
	}
	for i := range m.Points {
		if used.has(int32(i)) {
			lo, hi = grow(lo, hi, m.Points[i])
		}
	}
	return lo, hi
}

// flags is one bit for each of some things.
type flags []uint64

func newFlags(n int) flags       { return make(flags, (n+63)/64) }
func (b flags) set(i int32)      { b[i>>6] |= 1 << (i & 63) }
func (b flags) has(i int32) bool { return b[i>>6]>>(i&63)&1 != 0 }

func grow(lo, hi, p geom.Vec) (geom.Vec, geom.Vec) {
	for k := range 3 {
		if p[k] < lo[k] {
			lo[k] = p[k]
		}
		if p[k] > hi[k] {
			hi[k] = p[k]
		}
	}
	return lo, hi
}
