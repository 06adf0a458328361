package mesh

import (
	"slices"

	"fettle/internal/geom"
)

// draft is the mesh as it would be: points keep their numbers.
type draft struct {
	m       *Mesh
	parent  []int32           // face of the old mesh
	origin  [][3]int32        // half-edge of the old mesh that a half-edge lies on, none within a divided face
	changed []bool            // other corners, or one that moved
	put     map[[2]int32]bool // face of the old mesh, and point put into an edge of it
	now     []int32           // point of the draft of each point of the mesh
}

// draft makes the mesh of what is meant.
func (w *mender) draft() *draft {
	d := &draft{m: &Mesh{Points: slices.Clone(w.m.Points)}, put: map[[2]int32]bool{}}
	if w.m.Label != nil {
		d.m.Label = []int32{}
	}
	for _, g := range w.group {
		if g != nil {
			d.m.Points[g[0]] = w.middle(g)
		}
	}
	at := map[int32][]putPoint{} // by half-edge
	for _, p := range w.put {
		h := w.free.half[p.edge]
		at[h] = append(at[h], p)
		d.put[[2]int32{h / 3, w.now(p.point)}] = true
	}
	d.now = make([]int32, len(w.m.Points))
	for v := range d.now {
		d.now[v] = w.now(int32(v))
	}
	for f, t := range w.m.Faces {
		f := int32(f)
		moved := false
		for k := range t {
			moved = moved || w.groupOf(t[k]) >= 0
			t[k] = w.now(t[k])
		}
		var in [3][]int32
		for k := range in {
			for _, p := range at[3*f+int32(k)] {
				in[k] = append(in[k], w.now(p.point))
			}
		}
		if len(in[0])+len(in[1])+len(in[2]) > 0 {
			d.divide(w.m, f, t, in)
		} else {
			d.add(w.m, f, t, [3]int32{3 * f, 3*f + 1, 3*f + 2}, moved)
		}
	}
	return d
}

// middle is the mean of points.
func (w *mender) middle(g []int32) (mid geom.Vec) {
	for _, v := range g {
		mid = mid.Add(w.m.Points[v].Scale(1 / float64(len(g))))
	}
	return mid
}

func (d *draft) add(from *Mesh, parent int32, t, origin [3]int32, changed bool) {
	d.m.Faces = append(d.m.Faces, t)
	d.parent, d.origin, d.changed = append(d.parent, parent), append(d.origin, origin), append(d.changed, changed)
	if from.Label != nil {
		d.m.Label = append(d.m.Label, from.Label[parent])
	}
}

// divide adds a face of whose edges some are divided in points: triangles from the
// corner opposite the first such edge to its parts; the two outermost of these have
// the other edges, and are divided in turn.
func (d *draft) divide(from *Mesh, f int32, t [3]int32, in [3][]int32) {
	type piece struct {
		t      [3]int32
		origin [3]int32
		in     [3][]int32
	}
	todo := []piece{{t, [3]int32{3 * f, 3*f + 1, 3*f + 2}, in}}
	for len(todo) > 0 {
		p := todo[0]
		todo = todo[1:]
		k := slices.IndexFunc(p.in[:], func(in []int32) bool { return len(in) > 0 })
		if k < 0 {
			d.add(from, f, p.t, p.origin, true)
			continue
		}
		a, b, c := p.t[k], p.t[(k+1)%3], p.t[(k+2)%3]
		chain := append(append([]int32{a}, p.in[k]...), b)
		for i := 0; i+1 < len(chain); i++ {
			q := piece{t: [3]int32{chain[i], chain[i+1], c}, origin: [3]int32{p.origin[k], none, none}}
			if i+2 == len(chain) {
				q.origin[1], q.in[1] = p.origin[(k+1)%3], p.in[(k+1)%3]
			}
			if i == 0 {
				q.origin[2], q.in[2] = p.origin[(k+2)%3], p.in[(k+2)%3]
			}
			todo = append(todo, q)
		}
	}
}

// finish is the mended mesh and what was done.
func (w *mender) finish(d *draft) *Mended {
	out := &Mended{Parent: d.parent, Before: w.m.Faults()}
	slices.SortFunc(w.group, slices.Compare[[]int32])
	for _, g := range w.group {
		if g == nil {
			continue
		}
		j := JoinedPoints{At: d.m.Points[g[0]]}
		for _, u := range g {
			j.From = append(j.From, w.m.Points[u])
			for _, v := range g {
				j.ApartMM = max(j.ApartMM, w.m.Points[u].Dist(w.m.Points[v]))
			}
		}
		out.Joined = append(out.Joined, j)
	}
	for _, p := range w.put {
		a, b := w.free.segment(p.edge)
		out.Divided = append(out.Divided, DividedEdge{d.m.Points[d.now[p.point]], p.offMM, [2]geom.Vec{a, b}})
	}
	adj := newAdjacency(d.m)
	free := newFreeEdges(d.m, &adj)
	for _, v := range w.free.points {
		why, ok := w.left[v]
		if _, open := slices.BinarySearch(free.points, d.now[v]); ok && open {
			out.Left = append(out.Left, LeftOpen{w.m.Points[v], why})
		}
	}
	out.Still = free.gaps()
	out.Mesh = d.m.compact()
	out.After = out.Mesh.Faults()
	return out
}

// compact leaves out points that no face uses.
func (m *Mesh) compact() *Mesh {
	out := &Mesh{Faces: slices.Clone(m.Faces), Label: m.Label}
	out.takeUsed(m.Points, nil)
	return out
}
