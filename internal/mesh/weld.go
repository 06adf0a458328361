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
		at := int(hashOf(&w.Points[i]) >> w.shift)
		for w.slots[at] != 0 {
			at = (at + 1) & (size - 1)
		}
		w.slots[at] = int32(i + 1)
	}
}

// hashOf spreads the bits of the three coordinates.
func hashOf(p *geom.Vec) uint64 {
	h := math.Float64bits(p[0])*0x9e3779b97f4a7c15 ^
		bits.RotateLeft64(math.Float64bits(p[1])*0xbf58476d1ce4e5b9, 21) ^
		bits.RotateLeft64(math.Float64bits(p[2])*0x94d049bb133111eb, 42)
	h ^= h >> 32
	return h * 0x9e3779b97f4a7c15
}

// Add is the number of p. -0 counts as 0.
func (w *Welder) Add(p geom.Vec) int32 {
	p[0], p[1], p[2] = p[0]+0, p[1]+0, p[2]+0
	return w.add(&p, hashOf(&p))
}

func (w *Welder) add(p *geom.Vec, hash uint64) int32 {
	mask := len(w.slots) - 1
	at := int(hash >> w.shift)
	for {
		id := w.slots[at]
		if id == 0 {
			break
		}
		if w.Points[id-1] == *p {
			return id - 1
		}
		at = (at + 1) & mask
	}
	w.Points = append(w.Points, *p)
	id := int32(len(w.Points))
	w.slots[at] = id
	if 2*len(w.Points) > len(w.slots) {
		w.resize(2 * len(w.slots))
	}
	return id - 1
}

// AddFaces is Add for the corners of triangles: faces[i] numbers corners[i].
// Triangles often share corners with the one before, which are then not looked
// up; and the places of the others are asked for before the first is looked at,
// so that the memory fetches them together. It writes 0 for -0 in corners.
func (w *Welder) AddFaces(corners [][3]geom.Vec, faces [][3]int32) {
	var hash [weldTogether][3]uint64
	var seen [weldTogether][3]int32 // a number plus one, or minus one and the corner of the triangle before
	for len(corners) > 0 {
		now := corners[:min(len(corners), weldTogether)]
		before := &now[0]
		for i := range now {
			for k := range 3 {
				p := &now[i][k]
				p[0], p[1], p[2] = p[0]+0, p[1]+0, p[2]+0
				if c := cornerAt(before, p); i > 0 && c >= 0 {
					seen[i][k] = -1 - c
					continue
				}
				hash[i][k] = hashOf(p)
				seen[i][k] = w.slots[hash[i][k]>>w.shift]
			}
			before = &now[i]
		}
		for i := range now {
			for k := range 3 {
				switch id := seen[i][k]; {
				case id < 0:
					faces[i][k] = faces[i-1][-1-id]
				case id > 0 && w.Points[id-1] == now[i][k]:
					faces[i][k] = id - 1
				default:
					faces[i][k] = w.add(&now[i][k], hash[i][k])
				}
			}
		}
		corners, faces = corners[len(now):], faces[len(now):]
	}
}

// weldTogether is how many triangles are looked at together.
const weldTogether = 32

// cornerAt is the corner of the triangle that equals p, -1 if none does.
func cornerAt(t *[3]geom.Vec, p *geom.Vec) int32 {
	for k := range t {
		if t[k][0] == p[0] && t[k][1] == p[1] && t[k][2] == p[2] {
			return int32(k)
		}
	}
	return none
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
	for f, face := range m.Faces {
		g := [3]int32{same[face[0]], same[face[1]], same[face[2]]}
		if collapsed(g) {
			rep.FacesDropped++
			continue
		}
		out.Faces = append(out.Faces, g)
		if m.Label != nil {
			out.Label = append(out.Label, m.Label[f])
		}
	}
	out.takeUsed(w.Points, w.Points[:0])
	rep.PointsUnused = len(w.Points) - len(out.Points)
	return out, rep
}

// takeUsed takes of some points those that the faces use, in their order, into the room
// given, and numbers them anew.
func (m *Mesh) takeUsed(points, room []geom.Vec) {
	place := make([]int32, len(points)) // 1 where used, then the new number
	for _, t := range m.Faces {
		place[t[0]], place[t[1]], place[t[2]] = 1, 1, 1
	}
	m.Points = room
	for i, used := range place {
		if used != 0 {
			place[i] = int32(len(m.Points))
			m.Points = append(m.Points, points[i])
		}
	}
	for f := range m.Faces {
		for k, v := range m.Faces[f] {
			m.Faces[f][k] = place[v]
		}
	}
}
