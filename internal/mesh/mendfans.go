package mesh

import (
	"cmp"
	"slices"
)

// regroup keeps of points that became one only those whose triangles now hang
// together over edges there, and of points put into edges those that closed
// something; it says whether that changed anything.
func (w *mender) regroup(d *draft) bool {
	at := map[int32][]int32{} // faces at the points that became one or were put in
	for _, g := range w.group {
		if g != nil {
			at[g[0]] = nil
		}
	}
	for _, p := range w.put {
		at[w.now(p.point)] = nil
	}
	for f, t := range d.m.Faces {
		for _, v := range t {
			if list, ok := at[v]; ok {
				at[v] = append(list, int32(f))
			}
		}
	}
	points := make([]int32, 0, len(at))
	for v := range at {
		points = append(points, v)
	}
	slices.Sort(points)
	changed := false
	drop := map[[2]int32]bool{}
	for _, v := range points {
		members := slices.Clone(w.members(v))
		of, root := w.fans(d, v, at[v], members)
		for _, f := range at[v] {
			key := [2]int32{d.parent[f], v}
			if d.put[key] && !slices.Contains(root, of[f]) {
				drop[key] = true
			}
		}
		if g := w.groupOf(v); g >= 0 && w.splitGroup(g, members, root) {
			changed = true
		}
	}
	n := len(w.put)
	w.put = slices.DeleteFunc(w.put, func(p putPoint) bool {
		return drop[[2]int32{w.free.half[p.edge] / 3, d.now[p.point]}]
	})
	return changed || len(w.put) < n
}

// fans says which fan of triangles at point v each triangle and each of the points
// that became v is of.
func (w *mender) fans(d *draft, v int32, faces, members []int32) (of map[int32]int32, root []int32) {
	p := newPieces(len(faces) + len(members))
	type side struct{ to, face int32 }
	var sides []side
	for i, f := range faces {
		for _, u := range d.m.Faces[f] {
			if u != v {
				sides = append(sides, side{u, int32(i)})
			}
		}
		for k, u := range members {
			if t := &w.m.Faces[d.parent[f]]; t[0] == u || t[1] == u || t[2] == u {
				p.join(int32(i), int32(len(faces)+k))
			}
		}
	}
	slices.SortFunc(sides, func(a, b side) int { return cmp.Or(cmp.Compare(a.to, b.to), cmp.Compare(a.face, b.face)) })
	for i := 0; i < len(sides); {
		k := i
		for k < len(sides) && sides[k].to == sides[i].to {
			k++
		}
		if k-i == 2 {
			p.join(sides[i].face, sides[i+1].face)
		}
		i = k
	}
	of = map[int32]int32{}
	for i, f := range faces {
		of[f] = p.root(int32(i))
	}
	for k := range members {
		root = append(root, p.root(int32(len(faces)+k)))
	}
	return of, root
}

// splitGroup keeps together the members of one root.
func (w *mender) splitGroup(g int32, members, root []int32) bool {
	if slices.Min(root) == slices.Max(root) {
		return false
	}
	w.group[g] = nil
	for _, v := range members {
		delete(w.of, v)
	}
	for i, r := range root {
		if slices.Index(root, r) != i {
			continue
		}
		var part []int32
		for k, v := range members {
			if root[k] == r {
				part = append(part, v)
			}
		}
		if len(part) == 1 {
			w.left[part[0]] = leftPoint
			continue
		}
		for _, v := range part {
			w.of[v] = int32(len(w.group))
		}
		w.group = append(w.group, part)
	}
	return true
}
