package mesh

import (
	"slices"

	"fettle/internal/geom"
)

// Loop is one line of a cut. A closed loop does not repeat its first point.
type Loop struct {
	Points   []geom.Vec
	Closed   bool
	LengthMM float64
}

// CutSide is what lies on one side of a cutting plane.
type CutSide struct {
	AreaMM2   float64 // of the surface, without the cut face
	VolumeMM3 float64 // closed by the cut face; meaningless unless the mesh and every loop are closed
}

// Cut is the meeting of a surface and a plane n.x = d.
type Cut struct {
	Normal       geom.Vec // the plane's unit normal
	OffsetMM     float64  // n.x on the plane
	Loops        []Loop   // open ones first, each kind in order of faces
	Closed       bool     // there is a loop, and every loop is closed
	LengthMM     float64  // of all loops
	FacesCrossed int
	Sides        [2]CutSide // [0] where n.x < d, [1] where n.x >= d
}

// Cut meets a mesh that passes Check with the plane n.x = d, n of any length
// (d scales with it).
//
// A point exactly on the plane counts as lying where n.x > d, always; so every
// point is on one side, every crossed edge is crossed once, and the loops
// follow. A face that only touches the plane from below with a corner is
// crossed in one point; loops without length are left out.
func (m *Mesh) Cut(n geom.Vec, d float64) (Cut, error) {
	if err := m.Check(); err != nil {
		return Cut{}, err
	}
	length := n.Norm()
	if !(length > 0) || !n.Finite() || !(geom.Vec{d, length, 0}).Finite() {
		return Cut{}, invalid("the cutting plane is not defined", "give a finite normal that is not zero, and a finite offset")
	}
	c := cutter{m: m, above: make([]float64, len(m.Points)),
		out: Cut{Normal: n.Scale(1 / length), OffsetMM: d / length}}
	for i, p := range m.Points {
		c.above[i] = n.Dot(p) - d
	}
	c.origin = c.onPlane()
	for f := range m.Faces {
		c.face(f)
	}
	c.chain()
	return c.out, nil
}

// cutter carries one cut; above is n.x - d for every point, in units of the
// normal as given, so that a plane through points is exact.
type cutter struct {
	m        *Mesh
	above    []float64
	origin   geom.Vec // on the plane: the cut face adds nothing to a volume about it
	segments [][2][2]int32
	out      Cut
}

// onPlane is the middle of the bounding box, dropped onto the plane.
func (c *cutter) onPlane() geom.Vec {
	lo, hi := c.m.Bounds()
	mid := lo.Lerp(hi, 0.5)
	return mid.Sub(c.out.Normal.Scale(c.out.Normal.Dot(mid) - c.out.OffsetMM))
}

func (c *cutter) side(v int32) int {
	if c.above[v] >= 0 {
		return 1
	}
	return 0
}

// face adds face f to the two sides, and its crossing to the segments.
func (c *cutter) face(f int) {
	t := c.m.Faces[f]
	if collapsed(t) {
		return
	}
	k := c.lone(t)
	if k < 0 {
		a, b, d := c.m.corners(f)
		c.add(c.side(t[0]), a, b, d)
		return
	}
	// corner k is alone on its side; p and q are the crossings beside it
	a, b, d := t[k], t[(k+1)%3], t[(k+2)%3]
	pa, pb, pd := c.m.Points[a], c.m.Points[b], c.m.Points[d]
	p, q := c.crossing(edgeOf(a, b)), c.crossing(edgeOf(a, d))
	c.add(c.side(a), pa, p, q)
	c.add(c.side(b), p, pb, pd)
	c.add(c.side(b), p, pd, q)
	c.segments = append(c.segments, [2][2]int32{edgeOf(a, b), edgeOf(a, d)})
	c.out.FacesCrossed++
}

// lone is the corner whose side no other corner shares; -1 when all are on one side.
func (c *cutter) lone(t [3]int32) int {
	s := [3]int{c.side(t[0]), c.side(t[1]), c.side(t[2])}
	switch {
	case s[0] == s[1] && s[1] == s[2]:
		return none
	case s[1] == s[2]:
		return 0
	case s[0] == s[2]:
		return 1
	}
	return 2
}

func edgeOf(u, v int32) [2]int32 { return [2]int32{min(u, v), max(u, v)} }

// crossing is where an edge meets the plane; the same for both its faces.
func (c *cutter) crossing(e [2]int32) geom.Vec {
	a, b := c.above[e[0]], c.above[e[1]]
	switch {
	case a == 0:
		return c.m.Points[e[0]]
	case b == 0:
		return c.m.Points[e[1]]
	}
	return c.m.Points[e[0]].Lerp(c.m.Points[e[1]], a/(a-b))
}

func (c *cutter) add(side int, p, q, r geom.Vec) {
	s := &c.out.Sides[side]
	s.AreaMM2 += q.Sub(p).Cross(r.Sub(p)).Norm() / 2
	s.VolumeMM3 += p.Sub(c.origin).Dot(q.Sub(c.origin).Cross(r.Sub(c.origin))) / 6
}

// chain joins the segments into lines. A line goes on through an edge with two
// segments; at any other number (a rim, or an edge of three faces) it ends.
func (c *cutter) chain() {
	at := map[[2]int32][]int32{} // segments at each crossed edge, ascending
	for i, s := range c.segments {
		at[s[0]] = append(at[s[0]], int32(i))
		at[s[1]] = append(at[s[1]], int32(i))
	}
	used := make([]bool, len(c.segments))
	walk := func(i int32, from [2]int32) {
		line, closed := []geom.Vec{c.crossing(from)}, false
		for e := from; ; {
			used[i] = true
			s := c.segments[i]
			if s[0] == e {
				e = s[1]
			} else {
				e = s[0]
			}
			if e == from {
				closed = len(at[e]) == 2
				break
			}
			if p := c.crossing(e); p != line[len(line)-1] {
				line = append(line, p)
			}
			if len(at[e]) != 2 {
				break
			}
			i = at[e][0] + at[e][1] - i
		}
		c.finish(line, closed)
	}
	for i, s := range c.segments {
		for _, e := range s {
			if !used[i] && len(at[e]) != 2 {
				walk(int32(i), e)
			}
		}
	}
	for i, s := range c.segments {
		if !used[i] {
			walk(int32(i), s[0])
		}
	}
}

// finish adds a line to the cut, unless it has no length.
func (c *cutter) finish(line []geom.Vec, closed bool) {
	length := geom.PolylineLength(line)
	if closed {
		for len(line) > 1 && line[len(line)-1] == line[0] {
			line = line[:len(line)-1]
		}
		length = geom.PolylineLength(line) + line[0].Dist(line[len(line)-1])
	}
	if length == 0 {
		return
	}
	if len(c.out.Loops) == 0 {
		c.out.Closed = true
	}
	c.out.Closed = c.out.Closed && closed
	c.out.LengthMM += length
	c.out.Loops = append(c.out.Loops, Loop{slices.Clip(line), closed, length})
}
