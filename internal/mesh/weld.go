package mesh

import (
	"math"
	"math/bits"

	"fettle/internal/geom"
)

// A Welder numbers points, equal points alike: the first time it sees a point
// it gives it the next number. It is an open table over Points; nothing else
// is kept, so it is made for one pass and thrown away.
type Welder struct {
	Points []geom.Vec
	slots  []int32 // number plus one, 0 while free; a power of two
	shift  uint
}

// NewWelder expects about that many different points; more are no fault.
func NewWelder(expected int) *Welder {
	w := &Welder{Points: make([]geom.Vec, 0, max(16, expected))}
	w.resize(2 * max(16, expected))
	return w
}

func (w *Welder) resize(least int) {
	size := 1 << bits.Len(uint(least-1))
	w.slots = make([]int32, size)
	w.shift = uint(64 - bits.TrailingZeros(uint(size)))
	for i := range w.Points {
		at := w.slot(&w.Points[i])
		for w.slots[at] != 0 {
			at = (at + 1) & (size - 1)
		}
		w.slots[at] = int32(i + 1)
	}
}

// slot spreads the bits of the three coordinates over the table.
func (w *Welder) slot(p *geom.Vec) int {
	h := math.Float64bits(p[0])*0x9e3779b97f4a7c15 ^
		bits.RotateLeft64(math.Float64bits(p[1])*0xbf58476d1ce4e5b9, 21) ^
		bits.RotateLeft64(math.Float64bits(p[2])*0x94d049bb133111eb, 42)
	h ^= h >> 32
	return int(h * 0x9e3779b97f4a7c15 >> w.shift)
}

// Add is the number of p. -0 counts as 0.
func (w *Welder) Add(p geom.Vec) int32 {
	p[0], p[1], p[2] = p[0]+0, p[1]+0, p[2]+0
	mask := len(w.slots) - 1
	at := w.slot(&p)
	for {
		id := w.slots[at]
		if id == 0 {
			break
		}
		if w.Points[id-1] == p {
			return id - 1
		}
		at = (at + 1) & mask
	}
	w.Points = append(w.Points, p)
	id := int32(len(w.Points))
	w.slots[at] = id
	if 2*len(w.Points) > len(w.slots) {
		w.resize(2 * len(w.slots))
	}
	return id - 1
}

// WeldReport counts what Weld did.
type WeldReport struct {
	PointsBefore int
	PointsMerged int // points that were equal to an earlier one
	PointsUnused int // points no remaining face uses
	FacesDropped int // faces with two equal corners
}

// Weld merges points that are exactly equal, as a file without indices (STL)
// repeats them, and drops faces that then have two equal corners, and points
// that no face uses. Points that are merely near stay apart: closing gaps is a
// decision, not a reading. Points and faces keep their order; labels follow
// their faces. Give it a mesh that passes Check.
//
// A face whose three different corners lie on one line has no area but stays:
// it holds its neighbours together.
func Weld(m *Mesh) (*Mesh, WeldReport) {
	rep := WeldReport{PointsBefore: len(m.Points)}
	w := NewWelder(len(m.Points))
	same := make([]int32, len(m.Points))
	for i, p := range m.Points {
		same[i] = w.Add(p)
	}
	rep.PointsMerged = len(m.Points) - len(w.Points)
	out := &Mesh{Faces: make([][3]int32, 0, len(m.Faces))}
	if m.Label != nil {
		out.Label = make([]int32, 0, len(m.Faces))
	}
	place := make([]int32, len(w.Points)) // 1 where used, then the new number
	for f, face := range m.Faces {
		g := [3]int32{same[face[0]], same[face[1]], same[face[2]]}
		if collapsed(g) {
			rep.FacesDropped++
			continue
		}
		place[g[0]], place[g[1]], place[g[2]] = 1, 1, 1
		out.Faces = append(out.Faces, g)
		if m.Label != nil {
			out.Label = append(out.Label, m.Label[f])
		}
	}
	out.Points = w.Points[:0]
	for i, used := range place {
		if used != 0 {
			place[i] = int32(len(out.Points))
			out.Points = append(out.Points, w.Points[i])
		}
	}
	for f := range out.Faces {
		for k, v := range out.Faces[f] {
			out.Faces[f][k] = place[v]
		}
	}
	rep.PointsUnused = len(w.Points) - len(out.Points)
	return out, rep
}
