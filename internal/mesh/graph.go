package mesh

import (
	"math"
	"slices"

	"fettle/internal/geom"
)

// queued is an entry of a queue; equal keys leave in order of id.
type queued struct {
	key float64
	id  int32
}

// queue is a binary heap, smallest key first.
type queue []queued

func (a queued) before(b queued) bool { return a.key < b.key || (a.key == b.key && a.id < b.id) }

func (q *queue) push(e queued) {
	h := append(*q, e)
	i := len(h) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !e.before(h[up]) {
			break
		}
		h[i] = h[up]
		i = up
	}
	h[i] = e
	*q = h
}

func (q *queue) pop() queued {
	h := *q
	top, last := h[0], h[len(h)-1]
	h = h[:len(h)-1]
	*q = h
	if len(h) == 0 {
		return top
	}
	i := 0
	for {
		kid := 2*i + 1
		if kid >= len(h) {
			break
		}
		if kid+1 < len(h) && h[kid+1].before(h[kid]) {
			kid++
		}
		if !h[kid].before(last) {
			break
		}
		h[i] = h[kid]
		i = kid
	}
	h[i] = last
	return top
}

// walker is a search along the edges of the mesh.
//
// Source: E. W. Dijkstra, A note on two problems in connexion with graphs,
// 1959; with a goal, P. E. Hart, N. J. Nilsson, B. Raphael, A formal basis for
// the heuristic determination of minimum cost paths, 1968 (the straight
// distance to the goal never overstates what is left).
type walker struct {
	s    *Surface
	dist []float64
	prev []int32 // point before, -1 at a source; nil when nobody asks
	left func(p geom.Vec) float64
	q    queue
	met  []int32 // points whose dist is not +Inf; kept only where prev is
}

func (s *Surface) newWalker(left func(p geom.Vec) float64) *walker {
	w := &walker{s: s, dist: make([]float64, len(s.m.Points)), left: left}
	for i := range w.dist {
		w.dist[i] = math.Inf(1)
	}
	return w
}

// borrowWalker is a walker that keeps the points before: one that was given
// back before where there is one, so that a short way does not cost the memory
// of the whole mesh.
func (s *Surface) borrowWalker(left func(p geom.Vec) float64) *walker {
	w, ok := s.kept.walkers.Get().(*walker)
	if !ok {
		w = s.newWalker(left)
		w.prev = make([]int32, len(s.m.Points))
	}
	w.left = left
	return w
}

// giveBack makes the walker new again, where it has been.
func (s *Surface) giveBack(w *walker) {
	for _, v := range w.met {
		w.dist[v] = math.Inf(1)
	}
	w.met, w.q, w.left = w.met[:0], w.q[:0], nil
	s.kept.walkers.Put(w)
}

func (w *walker) reach(v, from int32, d float64) {
	if d < w.dist[v] {
		if w.prev != nil {
			if math.IsInf(w.dist[v], 1) {
				w.met = append(w.met, v)
			}
			w.prev[v] = from
		}
		w.dist[v] = d
		w.q.push(queued{d + w.left(w.s.m.Points[v]), v})
	}
}

func (w *walker) startAt(a *anchor) {
	for _, f := range w.s.around(a) {
		for _, v := range w.s.m.Faces[f] {
			w.reach(v, none, a.at.Dist(w.s.m.Points[v]))
		}
	}
}

func (w *walker) leave(v int32) {
	p := w.s.m.Points[v]
	for _, h := range w.s.adj.cornersOf(v) {
		for _, u := range w.s.m.Faces[h/3] {
			w.reach(u, v, w.dist[v]+p.Dist(w.s.m.Points[u]))
		}
	}
}

// GraphDistances is, for every point of the mesh, an upper bound on its
// distance along the surface from the nearest of the sources: straight to a
// corner of the source's face, then along mesh edges. Points farther than
// limitMM by that way, or not connected, have +Inf. A source that is not on
// this surface is an error.
func (s *Surface) GraphDistances(sources []Site, limitMM float64) ([]float64, error) {
	w := s.newWalker(func(geom.Vec) float64 { return 0 })
	for _, site := range sources {
		a, err := s.anchor(site)
		if err != nil {
			return nil, err
		}
		w.startAt(&a)
	}
	for len(w.q) > 0 {
		s.work.Step()
		top := w.q.pop()
		if top.key > limitMM {
			break
		}
		if top.key == w.dist[top.id] {
			w.leave(top.id)
		}
	}
	for v, d := range w.dist {
		if d > limitMM {
			w.dist[v] = math.Inf(1)
		}
	}
	return w.dist, nil
}

// graphDistance is the least way from the sources to the targets that
// GraphDistances finds; +Inf without any. It looks no farther than that.
func (s *Surface) graphDistance(sources, targets []Site) (float64, error) {
	w := s.borrowWalker(func(geom.Vec) float64 { return 0 })
	defer s.giveBack(w)
	for _, site := range sources {
		a, err := s.anchor(site)
		if err != nil {
			return 0, err
		}
		w.startAt(&a)
	}
	last := make(map[int32]float64, 3*len(targets)) // from a point to the nearest target beside it
	for _, t := range targets {
		for _, v := range s.m.Faces[t.Face] {
			if mm, ok := last[v]; !ok || t.At.Dist(s.m.Points[v]) < mm {
				last[v] = t.At.Dist(s.m.Points[v])
			}
		}
	}
	best := math.Inf(1)
	for len(w.q) > 0 {
		s.work.Step()
		top := w.q.pop()
		if top.key >= best {
			break
		}
		if top.key != w.dist[top.id] {
			continue
		}
		if mm, ok := last[top.id]; ok {
			best = min(best, top.key+mm)
		}
		w.leave(top.id)
	}
	return best, nil
}

// edgePath is the shortest way from a to b along mesh edges: the points of the
// mesh it passes, and its length.
func (s *Surface) edgePath(a, b *anchor) (points []int32, lengthMM float64, err error) {
	w := s.borrowWalker(b.at.Dist)
	defer s.giveBack(w)
	w.startAt(a)
	goal := make(map[int32]bool, 8)
	for _, f := range s.around(b) {
		for _, v := range s.m.Faces[f] {
			goal[v] = true
		}
	}
	for len(w.q) > 0 {
		s.work.Step()
		top := w.q.pop()
		if top.key != w.dist[top.id]+b.at.Dist(s.m.Points[top.id]) {
			continue
		}
		if goal[top.id] {
			return w.way(top.id), top.key, nil
		}
		w.leave(top.id)
	}
	return nil, 0, noPath()
}

// way is the points on the way from a source to a point.
func (w *walker) way(to int32) []int32 {
	var points []int32
	for v := to; v >= 0; v = w.prev[v] {
		points = append(points, v)
	}
	slices.Reverse(points)
	return points
}
