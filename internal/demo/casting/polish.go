package casting

import (
	"slices"

	"fettle/internal/geom"
)

// A face of a shape below sliver is treated by polish.
const (
	sliver       = 0.22
	polishRounds = 6
)

// polish removes slivers: it collapses their shortest edge or, where that is
// not allowed, turns their longest edge, as long as the shapes get better.
func (r *reducer) polish() {
	r.floor = 0.1
	for range polishRounds {
		changed := false
		for i := range r.m.Faces {
			if r.dead[i] {
				continue
			}
			t := corners(r.m, r.m.Faces[i])
			if shape(t, normalOf(t)) < sliver && (r.shrink(int32(i)) || r.turn(int32(i))) {
				changed = true
			}
		}
		if !changed {
			return
		}
	}
}

// shrink collapses the shortest edge of a face.
func (r *reducer) shrink(face int32) bool {
	f := r.m.Faces[face]
	short := 0
	for k := 1; k < 3; k++ {
		if r.length(f[k], f[(k+1)%3]) < r.length(f[short], f[(short+1)%3]) {
			short = k
		}
	}
	u, v := f[short], f[(short+1)%3]
	p, ok := r.place(u, v)
	if !ok || !r.allowed(u, v, p) {
		return false
	}
	r.merge(u, v, p)
	return true
}

func (r *reducer) length(u, v int32) float64 { return r.m.Points[u].Dist(r.m.Points[v]) }

// turn replaces the longest edge a-b of a face by the one between the corners
// across it, c and d.
func (r *reducer) turn(face int32) bool {
	f := r.m.Faces[face]
	long := 0
	for k := 1; k < 3; k++ {
		if r.length(f[k], f[(k+1)%3]) > r.length(f[long], f[(long+1)%3]) {
			long = k
		}
	}
	a, b, c := f[long], f[(long+1)%3], f[(long+2)%3]
	two, n := r.beside(a, b)
	if n < 2 || r.onCurve(a, b) {
		return false
	}
	other := two[0] + two[1] - face
	d := int32(-1)
	for _, w := range r.m.Faces[other] {
		if w != a && w != b {
			d = w
		}
	}
	if slices.Contains(r.neighbours(c), d) {
		return false
	}
	return r.swap(face, other, [3]int32{c, a, d}, [3]int32{c, d, b})
}

// swap gives two neighbouring faces new corners if the worse shape improves and
// neither new face bends away from the old pair.
func (r *reducer) swap(one, two int32, f, g [3]int32) bool {
	t0, t1 := corners(r.m, r.m.Faces[one]), corners(r.m, r.m.Faces[two])
	old := normalOf(t0).Add(normalOf(t1))
	before := min(shape(t0, normalOf(t0)), shape(t1, normalOf(t1)))
	for _, t := range [][3]geom.Vec{corners(r.m, f), corners(r.m, g)} {
		n := normalOf(t)
		if shape(t, n) <= before || n.Dot(old) < 0.9*n.Norm()*old.Norm() {
			return false
		}
	}
	for _, i := range []int32{one, two} {
		for _, w := range r.m.Faces[i] {
			r.around[w] = slices.DeleteFunc(r.around[w], func(x int32) bool { return x == i })
		}
	}
	r.m.Faces[one], r.m.Faces[two] = f, g
	for k := range 3 {
		r.around[f[k]] = append(r.around[f[k]], one)
		r.around[g[k]] = append(r.around[g[k]], two)
	}
	return true
}
