package casting

import (
	"slices"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// Weights of the reduction.
const (
	borderWeight = 20.0 // of the planes that hold zone borders in place
	fineWeight   = 6.0  // of faces where fine holds
	lengthWeight = 1e-5 // per mm^2 of edge length, against slivers on flats
	worstShape   = 0.25 // least shape (1 is equilateral) a collapse may make
	firstLimit   = 0.01 // of the cost [mm^4] in the first sweep
	lastLimit    = 10.0
)

// reducer collapses edges of a mesh. A vertex is free, on a curve (a zone
// border or the open rim at y = 0), or a corner of curves, which stays.
type reducer struct {
	m      *mesh.Mesh
	q      []quadric
	around [][]int32 // faces at each vertex
	kind   []uint8
	stamp  []uint32
	dead   []bool // faces
	alive  int
	queue  queue
	mark   []int32 // scratch of the link test
	tick   int32
}

const (
	free uint8 = iota
	curve
	corner
)

// reduce collapses edges, cheapest first, until the mesh has at most target
// faces. It keeps the topology (link condition), zone borders as curves, and the
// open rim in its plane; it turns no face over. Where fine holds it spends more
// faces.
//
// While far from the target it sweeps over the vertices with a growing cost
// limit, which is quicker than the queue and chooses nearly as well.
func reduce(m *mesh.Mesh, target int, fine func(geom.Vec) bool) {
	r := newReducer(m, fine)
	for limit := firstLimit; r.alive > 5*target/2 && limit < lastLimit; limit *= 2.5 {
		r.sweep(limit)
	}
	r.fill()
	for len(r.queue) > 0 && r.alive > target {
		c := r.queue.pop()
		if r.stamp[c.u] != c.su || r.stamp[c.v] != c.sv {
			continue
		}
		if p, ok := r.place(c.u, c.v); ok && r.allowed(c.u, c.v, p) {
			r.collapse(c.u, c.v, p)
		}
	}
	r.finish()
}

func newReducer(m *mesh.Mesh, fine func(geom.Vec) bool) *reducer {
	n := len(m.Points)
	r := &reducer{
		m: m, q: make([]quadric, n), around: make([][]int32, n), kind: make([]uint8, n),
		stamp: make([]uint32, n), dead: make([]bool, len(m.Faces)), alive: len(m.Faces),
		mark: make([]int32, n),
	}
	r.gather()
	for i, f := range m.Faces {
		normal := areaNormal(m, f)
		weight := normal.Norm() / 6
		if fine(m.Points[f[0]]) {
			weight *= fineWeight
		}
		q := planeQuadric(normal.Unit(), m.Points[f[0]], weight)
		for k := range 3 {
			r.q[f[k]].add(&q)
		}
		r.holdBorders(int32(i))
	}
	for u := range int32(n) {
		r.sortKind(u)
	}
	return r
}

// fill puts all edges into the queue.
func (r *reducer) fill() {
	for u := range int32(len(r.m.Points)) {
		for _, v := range r.neighbours(u) {
			if c, ok := r.candidate(u, v); ok && u < v {
				r.queue = append(r.queue, c)
			}
		}
	}
	r.queue.order()
}

// sweep visits every vertex once and collapses the cheapest edge of those that
// no collapse of this sweep has changed, if it costs less than limit.
func (r *reducer) sweep(limit float64) {
	changed := make([]bool, len(r.m.Points))
	for u := range int32(len(r.m.Points)) {
		if changed[u] || len(r.around[u]) == 0 {
			continue
		}
		best := candidate{cost: limit}
		for _, v := range r.neighbours(u) {
			if changed[v] {
				continue
			}
			if c, ok := r.candidate(u, v); ok && c.cost < best.cost {
				best = c
			}
		}
		if best.cost == limit {
			continue
		}
		if p, ok := r.place(u, best.v); ok && r.allowed(u, best.v, p) {
			r.merge(u, best.v, p)
			changed[best.v] = true
		}
	}
}

// gather lists the faces at each vertex.
func (r *reducer) gather() {
	count := make([]int, len(r.around))
	for _, f := range r.m.Faces {
		for _, v := range f {
			count[v]++
		}
	}
	store := make([]int32, 3*len(r.m.Faces))
	for v, c := range count {
		r.around[v], store = store[:0:c], store[c:]
	}
	for i, f := range r.m.Faces {
		for _, v := range f {
			r.around[v] = append(r.around[v], int32(i))
		}
	}
}

// areaNormal is the normal of a face, as long as twice its area.
func areaNormal(m *mesh.Mesh, f [3]int32) geom.Vec {
	a := m.Points[f[0]]
	return m.Points[f[1]].Sub(a).Cross(m.Points[f[2]].Sub(a))
}

// holdBorders adds, for the curve edges of a face, the plane through the edge
// at right angles to the face.
func (r *reducer) holdBorders(face int32) {
	f := r.m.Faces[face]
	for k := range 3 {
		u, v := f[k], f[(k+1)%3]
		if !r.onCurve(u, v) {
			continue
		}
		e := r.m.Points[v].Sub(r.m.Points[u])
		n := areaNormal(r.m, f).Cross(e).Unit()
		q := planeQuadric(n, r.m.Points[u], borderWeight*e.Dot(e)/6)
		r.q[u].add(&q)
		r.q[v].add(&q)
	}
}

// beside lists the faces at edge u-v (one or two) without the dead.
func (r *reducer) beside(u, v int32) (two [2]int32, n int) {
	for _, f := range r.around[u] {
		if slices.Contains(r.m.Faces[f][:], v) && n < 2 {
			two[n] = f
			n++
		}
	}
	return two, n
}

// onCurve says that u-v is an edge of the open rim or between two zones.
func (r *reducer) onCurve(u, v int32) bool {
	two, n := r.beside(u, v)
	return n == 1 || r.m.Label[two[0]] != r.m.Label[two[1]]
}

// neighbours lists the vertices joined to u by an edge, in a fixed order.
func (r *reducer) neighbours(u int32) []int32 {
	buf := make([]int32, 0, 12)
	for _, f := range r.around[u] {
		for _, v := range r.m.Faces[f] {
			if v != u && !slices.Contains(buf, v) {
				buf = append(buf, v)
			}
		}
	}
	return buf
}

// sortKind finds out whether u is free, on a curve or a corner.
func (r *reducer) sortKind(u int32) {
	curves, rim, zone := 0, false, false
	for _, v := range r.neighbours(u) {
		if !r.onCurve(u, v) {
			continue
		}
		curves++
		if _, n := r.beside(u, v); n == 1 {
			rim = true
		} else {
			zone = true
		}
	}
	switch {
	case curves == 2 && rim != zone:
		r.kind[u] = curve
	case curves > 0:
		r.kind[u] = corner
	}
}
