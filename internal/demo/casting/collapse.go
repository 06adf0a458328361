package casting

import (
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// place chooses where the vertex left over from edge u-v goes; false when the
// kinds of its ends forbid the collapse.
func (r *reducer) place(u, v int32) (geom.Vec, bool) {
	p, q := r.m.Points[u], r.m.Points[v]
	ku, kv := r.kind[u], r.kind[v]
	switch {
	case ku == free && kv == free:
		sum := r.q[u]
		sum.add(&r.q[v])
		mid := p.Lerp(q, 0.5)
		best := sum.lowest(mid)
		if best.Dist(mid) > p.Dist(q) {
			return mid, true
		}
		return best, true
	case ku == free:
		return q, true
	case kv == free:
		return p, true
	case ku == corner && kv == corner || !r.onCurve(u, v):
		return p, false
	case ku == corner:
		return p, true
	case kv == corner:
		return q, true
	}
	return r.bestOnEdge(u, v), true
}

// bestOnEdge is the cheapest of the ends and the middle of a curve edge.
func (r *reducer) bestOnEdge(u, v int32) geom.Vec {
	sum := r.q[u]
	sum.add(&r.q[v])
	p, q := r.m.Points[u], r.m.Points[v]
	best := p.Lerp(q, 0.5)
	for _, x := range []geom.Vec{p, q} {
		if sum.at(x) < sum.at(best)-1e-9 {
			best = x
		}
	}
	return best
}

// candidate prices the edge u-v; false when it may not be collapsed.
func (r *reducer) candidate(u, v int32) (candidate, bool) {
	p, ok := r.place(u, v)
	if !ok {
		return candidate{}, false
	}
	sum := r.q[u]
	sum.add(&r.q[v])
	e := r.m.Points[u].Sub(r.m.Points[v])
	cost := max(0, sum.at(p)) + float64(lengthWeight*e.Dot(e)*sum.weight())
	return candidate{cost, u, v, r.stamp[u], r.stamp[v]}, true
}

// allowed says that the collapse of u-v to p keeps the topology and leaves no
// face turned over or badly shaped.
func (r *reducer) allowed(u, v int32, p geom.Vec) bool {
	return r.linked(u, v) && r.sound(u, v, p) && r.sound(v, u, p)
}

// linked is the link condition (T. Dey and others, "Topology preserving edge
// contraction", 1999): the ends share no neighbours but those of the faces
// that vanish.
func (r *reducer) linked(u, v int32) bool {
	_, n := r.beside(u, v)
	r.tick++
	for _, f := range r.around[u] {
		for _, w := range r.m.Faces[f] {
			r.mark[w] = r.tick
		}
	}
	common := 0
	r.tick++
	for _, f := range r.around[v] {
		for _, w := range r.m.Faces[f] {
			if w == u || w == v || r.mark[w] == r.tick {
				continue
			}
			if r.mark[w] == r.tick-1 {
				common++
			}
			r.mark[w] = r.tick
		}
	}
	// Two ends with three faces each may be a tetrahedron, which would vanish.
	return common == n && (len(r.around[u]) > 3 || len(r.around[v]) > 3)
}

// sound checks the faces at u that stay when u moves to p and v is merged in.
func (r *reducer) sound(u, v int32, p geom.Vec) bool {
	for _, i := range r.around[u] {
		f := r.m.Faces[i]
		if slices.Contains(f[:], v) {
			continue
		}
		before := corners(r.m, f)
		after := before
		after[slices.Index(f[:], u)] = p
		n0, n1 := normalOf(before), normalOf(after)
		s0, s1 := shape(before, n0), shape(after, n1)
		if s1 < worstShape && s1 <= s0 {
			return false
		}
		// A sliver has no reliable normal; it may turn by up to 80 degrees.
		least := 0.6
		if s0 < 0.05 {
			least = 0.17
		}
		if n0.Dot(n1) < least*n0.Norm()*n1.Norm() {
			return false
		}
	}
	return true
}

func corners(m *mesh.Mesh, f [3]int32) [3]geom.Vec {
	return [3]geom.Vec{m.Points[f[0]], m.Points[f[1]], m.Points[f[2]]}
}

func normalOf(t [3]geom.Vec) geom.Vec { return t[1].Sub(t[0]).Cross(t[2].Sub(t[0])) }

// shape is 1 for an equilateral triangle and 0 for a degenerate one: the area
// over the sum of squared sides, scaled. normal is twice the area.
func shape(t [3]geom.Vec, normal geom.Vec) float64 {
	a, b, c := t[1].Sub(t[0]), t[2].Sub(t[1]), t[0].Sub(t[2])
	sum := a.Dot(a) + b.Dot(b) + c.Dot(c)
	if sum == 0 {
		return 0
	}
	return 2 * math.Sqrt(3) * normal.Norm() / sum
}

// collapse merges u into v, at p, and prices the edges of v anew.
func (r *reducer) collapse(u, v int32, p geom.Vec) {
	r.merge(u, v, p)
	for _, w := range r.neighbours(v) {
		if c, ok := r.candidate(v, w); ok {
			r.queue.push(c)
		}
	}
}

// merge merges u into v, at p.
func (r *reducer) merge(u, v int32, p geom.Vec) {
	r.m.Points[v] = p
	r.kind[v] = max(r.kind[u], r.kind[v])
	r.q[v].add(&r.q[u])
	two, n := r.beside(u, v)
	for _, f := range two[:n] {
		r.dead[f] = true
		r.alive--
		for _, w := range r.m.Faces[f] {
			r.around[w] = slices.DeleteFunc(r.around[w], func(x int32) bool { return x == f })
		}
	}
	for _, f := range r.around[u] {
		face := &r.m.Faces[f]
		face[slices.Index(face[:], u)] = v
	}
	r.around[v] = append(r.around[v], r.around[u]...)
	r.around[u] = nil
	r.stamp[u]++
	r.stamp[v]++
}

// finish drops dead faces and unused points, keeping the order.
func (r *reducer) finish() {
	number := make([]int32, len(r.m.Points))
	var points []geom.Vec
	for v, p := range r.m.Points {
		number[v] = -1
		if len(r.around[v]) > 0 {
			number[v] = int32(len(points))
			points = append(points, p)
		}
	}
	var faces [][3]int32
	var label []int32
	for i, f := range r.m.Faces {
		if !r.dead[i] {
			faces = append(faces, [3]int32{number[f[0]], number[f[1]], number[f[2]]})
			label = append(label, r.m.Label[i])
		}
	}
	r.m.Points, r.m.Faces, r.m.Label = points, faces, label
}
