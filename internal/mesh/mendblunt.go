package mesh

import (
	"fettle/internal/geom"
)

// blunt refuses the closing of an opening of which an end remains that is narrow
// and has an edge across it.
func (b *badPlaces) blunt() {
	adj := newAdjacency(b.d.m)
	free := newFreeEdges(b.d.m, &adj)
	joined := map[int32]bool{}
	for _, g := range b.w.group {
		if g != nil {
			joined[g[0]] = true
		}
	}
	for _, p := range b.w.put {
		joined[b.w.now(p.point)] = true
	}
	var runs *closedRuns
	byLine := make([][]int32, len(free.lines))
	for i := range free.half {
		byLine[free.line[i]] = append(byLine[free.line[i]], int32(i))
	}
	for l, edges := range byLine {
		if !free.lines[l].closed {
			continue
		}
		end, ok := b.bluntEnd(free, edges, joined)
		if !ok {
			continue
		}
		if runs == nil {
			runs = b.closedRuns()
		}
		for _, v := range runs.from(end) {
			b.refuse([]int32{v}, runs.hosts[v], leftBlunt)
			b.refuse([]int32{v}, nil, leftBlunt)
		}
	}
}

// bluntEnd is the only point of a closed free line that was joined, if the line is
// the remainder of an opening and no wider than the tolerance.
func (b *badPlaces) bluntEnd(free *freeEdges, edges []int32, joined map[int32]bool) (end int32, ok bool) {
	n, across := 0, false
	var area geom.Vec
	o, _ := free.segment(edges[0])
	far := 0.0
	for _, i := range edges {
		u, v := free.ends(i)
		p, q := free.segment(i)
		if joined[u] {
			end, n = u, n+1
		}
		across = across || !joined[u] && !joined[v] && p.Dist(q) <= b.w.tol
		area = area.Add(p.Sub(o).Cross(q.Sub(o)).Scale(0.5))
		far = max(far, p.Dist(o))
	}
	return end, n == 1 && across && area.Norm() <= b.w.tol*far
}

// closedRuns is the edges that were closed within one free line, by their points.
type closedRuns struct {
	beside map[int32][]int32
	hosts  map[int32][]int32 // faces at such edges
}

func (b *badPlaces) closedRuns() *closedRuns {
	r := &closedRuns{map[int32][]int32{}, map[int32][]int32{}}
	twin, free := b.w.adj.twin, b.w.free
	b.d.m.edgeGroups(func(u, v int32, halves []int32) {
		if len(halves) != 2 {
			return
		}
		var line [2]int32
		for i, h := range halves {
			o := b.d.origin[h/3][h%3]
			if o == none || twin[o] != border {
				return
			}
			line[i] = free.line[free.place(o)]
		}
		if line[0] != line[1] {
			return
		}
		r.beside[u], r.beside[v] = append(r.beside[u], v), append(r.beside[v], u)
		for _, h := range halves {
			r.hosts[u], r.hosts[v] = append(r.hosts[u], h/3), append(r.hosts[v], h/3)
		}
	})
	return r
}

// from is the points that hang together with one over closed edges.
func (r *closedRuns) from(v int32) []int32 {
	seen, out := map[int32]bool{v: true}, []int32{v}
	for i := 0; i < len(out); i++ {
		for _, u := range r.beside[out[i]] {
			if !seen[u] {
				seen[u] = true
				out = append(out, u)
			}
		}
	}
	return out
}
