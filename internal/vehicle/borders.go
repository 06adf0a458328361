package vehicle

import (
	"cmp"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// borderEdge is an edge between faces of two labels.
type borderEdge struct {
	p, q geom.Vec
	a, b int32
}

// borderEdges lists the edges of a mesh between faces of different labels, in
// the order of the faces. The mesh package names only the nearest label beside
// a border; a crack at a corner of three zones needs all of them.
func (c *Casting) borderEdges() []borderEdge {
	m := c.Surface.Mesh()
	var out []borderEdge
	if m.Label == nil {
		return out
	}
	of, n := c.numbered()
	first := make([]int32, n) // face an edge was met on, plus one
	for f, t := range m.Faces {
		for k := range 3 {
			e := of[3*f+k]
			if first[e] == 0 {
				first[e] = int32(f) + 1
			} else if l := m.Label[first[e]-1]; l != m.Label[f] {
				u, v := min(t[k], t[(k+1)%3]), max(t[k], t[(k+1)%3])
				out = append(out, borderEdge{m.Points[u], m.Points[v], l, m.Label[f]})
			}
		}
	}
	return out
}

// Border is the border between two labels, the smaller one first.
type Border struct {
	A, B  int32
	Edges *geom.Segments
}

// bordersOf sorts the edges between labels by their pair of labels.
func bordersOf(edges []borderEdge) []Border {
	of := map[[2]int32][][2]geom.Vec{}
	for _, e := range edges {
		k := [2]int32{min(e.a, e.b), max(e.a, e.b)}
		of[k] = append(of[k], [2]geom.Vec{e.p, e.q})
	}
	var out []Border
	for k, list := range of {
		out = append(out, Border{k[0], k[1], geom.NewSegments(list)})
	}
	slices.SortFunc(out, func(x, y Border) int { return cmp.Or(cmp.Compare(x.A, y.A), cmp.Compare(x.B, y.B)) })
	return out
}

// BorderLines is the borders between labels a and b that count, as lines on the surface;
// each of their edges, from p to q, is asked for.
func (c *Casting) BorderLines(counts func(a, b int32, p, q geom.Vec) bool) [][]mesh.Site {
	var some [][2]geom.Vec
	for _, e := range c.outlook().edges {
		if counts(e.a, e.b, e.p, e.q) {
			some = append(some, [2]geom.Vec{e.p, e.q})
		}
	}
	var out [][]mesh.Site
	for _, line := range chains(some) {
		out = append(out, c.nearest(line))
	}
	return out
}

// nearest is the places on the surface nearest to the points of a line.
func (c *Casting) nearest(line []geom.Vec) []mesh.Site {
	out := make([]mesh.Site, len(line))
	for i, q := range line {
		out[i], _ = c.Surface.Closest(q)
	}
	return out
}
