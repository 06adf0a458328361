package vehicle

import (
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// Foot is the inner edges of a zone, where ribs stand on walls.
type Foot struct {
	LengthMM float64
	Points   []geom.Vec
}

// ribFootRad is how far the surface has to turn inward along an edge for a rib
// to stand there. Our choice, no source: rounds in the feet of ribs are split
// into facets of 15 to 30 degrees by usual mesh tolerances.
const ribFootRad = 35 * math.Pi / 180

// flatCos is the cosine of the angle between two faces above which they surely turn by less
// than ribFootRad, whichever way.
var flatCos = elem.Cos(ribFootRad) + 1e-9

// RibFeet is, by label, the edges at which the surface turns inward by more
// than ribFootRad: the feet of ribs and gussets. An edge counts for the label
// of its first face. Where the mesh does not say on which side its metal is, all
// edges count at which it turns so far, either way, and they are not sure.
func (c *Casting) RibFeet() Feet {
	return c.feet.Get(c.work, func() Feet {
		out := Feet{By: map[int32]Foot{}, Sure: true}
		if c.Surface != nil {
			out.Sure = c.Surface.SidesDoubt() == ""
			c.work.Step()
			c.findFeet(!out.Sure, out.By)
			c.seamFeet(&out)
		}
		return out
	})
}

// Feet is the inner edges by label, or all sharp ones where it is not sure which are inner.
type Feet struct {
	By   map[int32]Foot
	Sure bool
}

func (c *Casting) findFeet(either bool, out map[int32]Foot) {
	m := c.Surface.Mesh()
	of, n := c.numbered()
	normals := faceNormals(m)                               // each is asked for along three edges
	first := [2][]int32{make([]int32, n), make([]int32, n)} // corner an edge was met from, plus one: from its smaller end and from its larger
	for f, t := range m.Faces {
		if c.work.Step(); normals[f] == (geom.Vec{}) {
			continue // a face that is none
		}
		for k := range 3 {
			u, v := t[k], t[(k+1)%3]
			e, way := of[3*f+k], 0
			if u > v {
				way = 1
			}
			h := first[1-way][e] // the other way round
			against := false     // turned against one another
			if h == 0 && either {
				h = first[way][e]
				against = h != 0
			}
			if h == 0 {
				first[way][e] = int32(3*f+k) + 1
				continue
			}
			on := int(h-1) / 3
			if !either && normals[on].Dot(normals[f]) > flatCos {
				continue
			}
			turn := inwardRad(m, on, f, m.Faces[on][(h+1)%3])
			if either {
				turn = math.Abs(turn)
			}
			if against {
				turn = math.Pi - turn
			}
			if turn <= ribFootRad {
				continue
			}
			label := int32(0)
			if m.Label != nil {
				label = m.Label[on]
			}
			o := out[label]
			o.LengthMM += m.Points[u].Dist(m.Points[v])
			o.Points = append(o.Points, m.Points[u])
			out[label] = o
		}
	}
}

func faceNormals(m *mesh.Mesh) []geom.Vec {
	out := make([]geom.Vec, len(m.Faces))
	for f := range out {
		out[f] = m.FaceNormal(f)
	}
	return out
}

// inwardRad is the angle by which the surface turns inward from one face to
// the next; negative at an outer edge. far is the corner of the first face
// that is not on the edge.
func inwardRad(m *mesh.Mesh, a, b int, far int32) float64 {
	n, o := m.FaceNormal(a), m.FaceNormal(b)
	angle := elem.Atan2(n.Cross(o).Norm(), n.Dot(o))
	t := m.Faces[b]
	// the corner of the second face that is not on the edge lies in front of the
	// first face where the surface turns inward
	for _, v := range t {
		if v != far && !slices.Contains(m.Faces[a][:], v) {
			if m.Points[v].Sub(m.Points[far]).Dot(n) < 0 {
				return -angle
			}
		}
	}
	return angle
}

// seamFeet adds the feet of ribs that lie along a seam: edges from which what lies across
// turns inward by more than ribFootRad; either way, where it is not sure which are inner.
func (c *Casting) seamFeet(out *Feet) {
	m := c.Surface.Mesh()
	for _, e := range c.Seams() {
		for _, f := range e.Across {
			n, o := m.FaceNormal(e.Face), m.FaceNormal(f)
			middle := m.FaceMiddle(f)
			turn := elem.Atan2(n.Cross(o).Norm(), n.Dot(o))
			if turn <= ribFootRad || out.Sure && middle.Sub(e.Ends[0]).Dot(n) < 0 {
				continue
			}
			label := int32(0)
			if m.Label != nil {
				label = m.Label[e.Face]
			}
			x := out.By[label]
			x.LengthMM += e.Ends[0].Dist(e.Ends[1]) / 2 // the other side is there as well
			x.Points = append(x.Points, e.Ends[0])
			out.By[label] = x
			break
		}
	}
}
