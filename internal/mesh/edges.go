package mesh

import (
	"math"
	"slices"
)

// A half-edge is one side of one face: half-edge 3f+k runs from corner k to
// corner k+1 of face f. Faces with two equal corners have none.

// edgeGroups calls visit once for every edge of the mesh with the half-edges
// that lie on it, ascending. Edges come in order of their smaller point, then
// of their larger one.
func (m *Mesh) edgeGroups(visit func(u, v int32, halves []int32)) {
	// Written out in place of eachHalf: much of what is asked of a new mesh is this.
	start := make([]int32, len(m.Points)+1)
	for i := range m.Faces {
		if t := &m.Faces[i]; !collapsed(*t) {
			start[min(t[0], t[1])+1]++
			start[min(t[1], t[2])+1]++
			start[min(t[2], t[0])+1]++
		}
	}
	for i := range m.Points {
		start[i+1] += start[i]
	}
	// Each half-edge with its far point before it: sorted, they lie by edge, and in
	// the order of the faces within one.
	list := make([]uint64, start[len(m.Points)])
	fill := slices.Clone(start)
	for i := range m.Faces {
		t := &m.Faces[i]
		if collapsed(*t) {
			continue
		}
		u, h := t[2], uint64(3*i+2)
		for k := range 3 {
			v, g := t[k], uint64(3*i+k)
			at := &fill[min(u, v)]
			list[*at] = uint64(max(u, v))<<32 | h
			*at++
			u, h = v, g
		}
	}
	var halves []int32
	for u := range m.Points {
		bucket := list[start[u]:start[u+1]]
		sortFew(bucket)
		for i := 0; i < len(bucket); {
			v := bucket[i] >> 32
			halves = halves[:0]
			for ; i < len(bucket) && bucket[i]>>32 == v; i++ {
				halves = append(halves, int32(bucket[i]&math.MaxUint32))
			}
			visit(int32(u), int32(v), halves)
		}
	}
}

// sortFew sorts what is seldom more than a dozen.
func sortFew(a []uint64) {
	if len(a) > 24 {
		slices.Sort(a)
		return
	}
	for i := 1; i < len(a); i++ {
		x, k := a[i], i
		for ; k > 0 && a[k-1] > x; k-- {
			a[k] = a[k-1]
		}
		a[k] = x
	}
}

// EdgeOf numbers the edges of a mesh: by corner 3f+k, the edge from corner k of face f to
// the next one, which is the same edge the other way round. The second result is how many
// there are. Faces with two equal corners count.
func (m *Mesh) EdgeOf() ([]int32, int) {
	of := make([]int32, 3*len(m.Faces))
	start := make([]int32, len(m.Points)+1)
	ends := func(h int) (lo, hi int32) {
		u, v := m.halfEnds(int32(h))
		return min(u, v), max(u, v)
	}
	for h := range of {
		lo, _ := ends(h)
		start[lo+1]++
	}
	for i := range m.Points {
		start[i+1] += start[i]
	}
	list := make([]uint64, len(of)) // each with its far point before it, by its near one
	fill := slices.Clone(start)
	for h := range of {
		lo, hi := ends(h)
		list[fill[lo]] = uint64(hi)<<32 | uint64(h)
		fill[lo]++
	}
	n := int32(none)
	for u := range m.Points {
		bucket := list[start[u]:start[u+1]]
		sortFew(bucket)
		for i, x := range bucket {
			if i == 0 || x>>32 != bucket[i-1]>>32 {
				n++
			}
			of[x&math.MaxUint32] = n
		}
	}
	return of, int(n + 1)
}

func (m *Mesh) eachHalf(visit func(h, u, v int32)) {
	for f, t := range m.Faces {
		if collapsed(t) {
			continue
		}
		for k := range 3 {
			visit(int32(3*f+k), t[k], t[(k+1)%3])
		}
	}
}

// halfEnds are the points a half-edge runs from and to.
func (m *Mesh) halfEnds(h int32) (from, to int32) {
	t := &m.Faces[h/3]
	return t[h%3], t[(h+1)%3]
}

// collapsed says that a face has two equal corners.
func collapsed(t [3]int32) bool { return t[0] == t[1] || t[1] == t[2] || t[2] == t[0] }

// What a half-edge may have instead of a twin.
const (
	border = -1 // nothing: its face is the only one at the edge
	crowd  = -2 // two or more other faces
)

// adjacency is what lies beside what. Edges of three or more faces are
// crowds: nothing is adjacent across them.
type adjacency struct {
	twin   []int32 // half-edge on the other side of the edge, or border or crowd
	start  []int32 // corners of point v are corner[start[v]:start[v+1]]
	corner []int32 // 3f+k: point v is corner k of face f; ascending
}

func newAdjacency(m *Mesh) adjacency {
	return adjacencyAnd(m, func(_, _ int32, _ []int32) {})
}

// adjacencyAnd shows every edge that it comes by to also.
func adjacencyAnd(m *Mesh, also func(u, v int32, halves []int32)) adjacency {
	a := adjacency{
		twin:  make([]int32, 3*len(m.Faces)),
		start: make([]int32, len(m.Points)+1),
	}
	for h := range a.twin {
		a.twin[h] = border
	}
	m.edgeGroups(func(u, v int32, halves []int32) {
		also(u, v, halves)
		switch len(halves) {
		case 1:
		case 2:
			a.twin[halves[0]], a.twin[halves[1]] = halves[1], halves[0]
		default:
			for _, h := range halves {
				a.twin[h] = crowd
			}
		}
	})
	m.eachHalf(func(_, u, _ int32) { a.start[u+1]++ })
	for i := range m.Points {
		a.start[i+1] += a.start[i]
	}
	a.corner = make([]int32, a.start[len(m.Points)])
	fill := slices.Clone(a.start)
	m.eachHalf(func(h, u, _ int32) {
		a.corner[fill[u]] = h
		fill[u]++
	})
	return a
}

// cornersOf lists the corners 3f+k of point v.
func (a *adjacency) cornersOf(v int32) []int32 { return a.corner[a.start[v]:a.start[v+1]] }

// nextHalf and prevHalf are the half-edges after and before h in its face.
func nextHalf(h int32) int32 {
	if h%3 == 2 {
		return h - 2
	}
	return h + 1
}

func prevHalf(h int32) int32 {
	if h%3 == 0 {
		return h + 2
	}
	return h - 1
}
