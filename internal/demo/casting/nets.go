package casting

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// surface turns the grid into a mesh of the left half by surface nets
// (S. Gibson, "Constrained Elastic Surface Nets", 1998): one vertex per active
// cell, one quadrilateral per grid edge whose ends differ in sign; the net is
// relaxed a little and then moved onto the surface. The mesh is open only along
// y = 0, where its vertices lie exactly.
func (g *grid) surface() *mesh.Mesh {
	cells := g.fix()
	number := make([]int32, len(g.value))
	points := make([]geom.Vec, len(cells))
	var quads [][4]int32
	for v, at := range cells {
		number[at] = int32(v)
		points[v] = g.vertex(at)
		// The cells of a quadrilateral do not come after its own.
		quads = g.quads(quads, number, at)
	}
	for range relaxations {
		points = g.relax(cells, points, quads)
	}
	inParallel(len(cells), func(v int) {
		i, j, k := g.split(cells[v])
		if s := *g.leafOf(i, j, k); s != nil {
			points[v] = settle(s, points[v], g.middle(cells[v]))
		}
	})
	return &mesh.Mesh{Points: points, Faces: triangles(points, quads)}
}

// relaxations is how often the net is relaxed.
const relaxations = 3

// relax moves every vertex half way to the mean of its neighbours, not further
// than its cell reaches.
func (g *grid) relax(cells []int, points []geom.Vec, quads [][4]int32) []geom.Vec {
	sum := make([]geom.Vec, len(points))
	count := make([]float64, len(points))
	for _, q := range quads {
		for k := range 4 {
			a, b := q[k], q[(k+1)%4]
			sum[a], sum[b] = sum[a].Add(points[b]), sum[b].Add(points[a])
			count[a]++
			count[b]++
		}
	}
	moved := make([]geom.Vec, len(points))
	for v, at := range cells {
		low := g.node(g.split(at))
		p := points[v].Lerp(sum[v].Scale(1/count[v]), 0.5)
		for k := range p {
			p[k] = min(low[k]+step, max(low[k], p[k]))
		}
		if g.middle(at) {
			p[1] = 0
		}
		moved[v] = p
	}
	return moved
}

// middle says that a cell lies across y = 0.
func (g *grid) middle(at int) bool { return at/g.n[2]%g.n[1] == g.n[1]-2 }

// triangles cuts every quadrilateral along its shorter diagonal.
func triangles(points []geom.Vec, quads [][4]int32) [][3]int32 {
	faces := make([][3]int32, 0, 2*len(quads))
	for _, q := range quads {
		if points[q[0]].Dist(points[q[2]]) > points[q[1]].Dist(points[q[3]]) {
			q = [4]int32{q[1], q[2], q[3], q[0]}
		}
		faces = append(faces, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return faces
}

// split gives the node numbers along x, y, z of a node.
func (g *grid) split(at int) (i, j, k int) {
	return at / (g.n[1] * g.n[2]), at / g.n[2] % g.n[1], at % g.n[2]
}

// vertex is the first point of a cell: the mean of the crossings on its edges.
func (g *grid) vertex(at int) geom.Vec {
	i, j, k := g.split(at)
	sx, sy := g.n[1]*g.n[2], g.n[2]
	offset := [8]int{0, 1, sy, sy + 1, sx, sx + 1, sx + sy, sx + sy + 1}
	var sum geom.Vec
	n := 0.0
	for a := range 8 {
		for axis, bit := range [3]int{4, 2, 1} {
			if a&bit != 0 {
				continue
			}
			u, v := float64(g.value[at+offset[a]]), float64(g.value[at+offset[a|bit]])
			if (u < 0) == (v < 0) {
				continue
			}
			p := geom.Vec{float64(a >> 2), float64(a >> 1 & 1), float64(a & 1)}
			p[axis] = u / (u - v)
			sum = sum.Add(p)
			n++
		}
	}
	start := g.node(i, j, k).Add(sum.Scale(step / n))
	if g.middle(at) {
		start[1] = 0
	}
	return start
}

// settle moves a point onto the surface by two Newton steps along the gradient
// (from four values at the corners of a small tetrahedron). It gives up and
// returns the start when that leads further than a cell. A point on the
// plane y = 0 stays there.
func settle(s solid, start geom.Vec, middle bool) geom.Vec {
	const e = 0.05
	corners := [4]geom.Vec{{1, -1, -1}, {-1, -1, 1}, {-1, 1, -1}, {1, 1, 1}}
	p := start
	for range 2 {
		var grad geom.Vec
		mean := 0.0
		for _, c := range corners {
			q := p.Add(c.Scale(e))
			if middle {
				q[1] = -math.Abs(q[1])
			}
			d := s.at(q)
			grad = grad.Add(c.Scale(d / (4 * e)))
			mean += d / 4
		}
		if middle {
			grad[1] = 0
		}
		size := grad.Dot(grad)
		if size < 0.04 {
			return start
		}
		p = p.Sub(grad.Scale(mean / size))
	}
	if p.Dist(start) > step {
		return start
	}
	return p
}

// quads adds the quadrilaterals around the three grid edges that start at a
// cell's lowest node, wound so that normals point outward.
func (g *grid) quads(all [][4]int32, number []int32, at int) [][4]int32 {
	strides := [3]int{g.n[1] * g.n[2], g.n[2], 1}
	inside := g.value[at] < 0
	for axis := range 3 {
		if inside == (g.value[at+strides[axis]] < 0) {
			continue
		}
		u, v := strides[(axis+1)%3], strides[(axis+2)%3]
		q := [4]int32{number[at-u-v], number[at-v], number[at], number[at-u]}
		if !inside {
			q[1], q[3] = q[3], q[1]
		}
		all = append(all, q)
	}
	return all
}
