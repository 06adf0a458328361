package mesh

import (
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// window is a part of an edge that a bundle of straight ways reaches, all from
// one source: the start, or a pivot the way bends round. The frame lies in the
// face about to be entered over half-edge h: origin at the half-edge's first
// point, x along it, y into the face; the source is at (sx, sy), sy <= 0.
type window struct {
	h      int32   // half-edge of the face entered
	parent int32   // window it continues, none when it comes straight from the source
	source int32   // point of the mesh, none for the start of the path
	b0, b1 float64 // from and to, along the half-edge
	sx, sy float64
	past   float64 // length from the start of the path to the source
}

// windowStore keeps windows in chunks, so that growing copies nothing.
type windowStore struct {
	chunks [][]window
	n      int
}

const chunkBits = 11

func (s *windowStore) at(id int32) *window {
	return &s.chunks[id>>chunkBits][id&(1<<chunkBits-1)]
}

func (s *windowStore) add(w window) int32 {
	id := int32(s.n)
	if s.n>>chunkBits == len(s.chunks) {
		s.chunks = append(s.chunks, make([]window, 1<<chunkBits))
	}
	*s.at(id) = w
	s.n++
	return id
}

// wavefront is the search for a way shorter than best.
//
// Source: J. Chen, Y. Han, Shortest paths on a polyhedron, 1990 (windows
// propagated over faces, with ways that bend round points of negative
// curvature and border points); S.-Q. Xin, G.-J. Wang, Improving Chen and Han's
// algorithm on the discrete geodesic problem, 2009 (queue, and the filter that
// drops a window which a way over one of the corners beats everywhere). New
// here: the queue is ordered by, and windows are dropped on, a lower bound that
// includes the rest of the way, which is the search of Hart, Nilsson, Raphael
// 1968; so nothing outside the ellipsoid |x-a| + |x-b| <= best is ever visited.
type wavefront struct {
	s        *Surface
	from, to *anchor
	goal     map[int32]bool // faces that contain the end
	windows  windowStore
	tips     map[int32]tipVisit // by half-edge
	*ways
	q        queue // id >= 0: window; otherwise the point ^id
	best     float64
	slack    float64 // two lengths closer than that count as equal
	end      cause   // last part of the best way found
	found    bool
	gaveUp   bool
	metCrowd bool
}

// cause says how a way arrives: by a window, along an edge from a point, or
// straight from the start within a face.
type cause struct {
	window int32
	point  int32 // none: from the start
	face   int32 // in which the last segment lies, when there is no window
}

// ways is what a search for the shortest way keeps of every point. A surface keeps it for
// the next search, so that a short one does not cost the memory of the whole mesh.
type ways struct {
	dist    []float64 // best known length to each point of the mesh
	cause   []cause
	fired   []float64 // length with which the point was last expanded
	reached []int32   // points with a length
}

func (s *Surface) borrowWays() *ways {
	if k, ok := s.kept.ways.Get().(*ways); ok {
		return k
	}
	n := len(s.m.Points)
	k := &ways{dist: make([]float64, n), fired: make([]float64, n), cause: make([]cause, n)}
	for i := range n {
		k.dist[i], k.fired[i] = math.Inf(1), math.Inf(1)
	}
	return k
}

func (s *Surface) keepWays(k *ways) {
	for _, v := range k.reached {
		k.dist[v], k.fired[v] = math.Inf(1), math.Inf(1)
	}
	k.reached = k.reached[:0]
	s.kept.ways.Put(k)
}

func (s *Surface) newWavefront(from, to *anchor, best float64) *wavefront {
	w := &wavefront{s: s, from: from, to: to, best: best, slack: best * lengthRounding,
		ways: s.borrowWays(), goal: map[int32]bool{}, tips: map[int32]tipVisit{}}
	for _, f := range s.around(to) {
		w.goal[f] = true
	}
	return w
}

func (w *wavefront) run(limit int) {
	for _, f := range w.s.around(w.from) {
		for k := range int32(3) {
			h := 3*f + k
			p, q := w.s.m.halfEnds(h)
			w.reach(p, w.from.at.Dist(w.s.m.Points[p]), cause{none, none, f})
			if !w.from.onEdge(p, q) {
				w.open(h, w.from.at, none, 0)
			}
		}
	}
	for len(w.q) > 0 {
		w.s.work.Step()
		top := w.q.pop()
		if top.key >= w.best-w.slack {
			return
		}
		if w.windows.n > limit {
			w.gaveUp = true
			return
		}
		if top.id < 0 {
			w.expandPoint(^top.id)
		} else {
			w.expandWindow(top.id)
		}
	}
}

// reach records a way of length d to point v.
func (w *wavefront) reach(v int32, d float64, c cause) {
	if !(d < w.dist[v]-w.slack) {
		return
	}
	p := w.s.m.Points[v]
	key := d + p.Dist(w.to.at)
	if key >= w.best-w.slack {
		return
	}
	if math.IsInf(w.dist[v], 1) {
		w.reached = append(w.reached, v)
	}
	w.dist[v], w.cause[v] = d, c
	w.q.push(queued{key, ^v})
	corners := w.s.adj.cornersOf(v)
	if k := slices.IndexFunc(corners, func(h int32) bool { return w.goal[h/3] }); k >= 0 {
		w.best, w.end, w.found = key, cause{none, v, corners[k] / 3}, true
	}
}

// expandPoint goes on from a point: along its edges, and if a shortest way may
// bend there, into every face around.
func (w *wavefront) expandPoint(v int32) {
	d := w.dist[v]
	if w.fired[v] == d {
		return
	}
	w.fired[v] = d
	starts := w.from.isPoint() && w.from.u == v // run opened its windows already
	p := w.s.m.Points[v]
	for _, h := range w.s.adj.cornersOf(v) {
		for _, u := range w.s.m.Faces[h/3] {
			w.reach(u, d+p.Dist(w.s.m.Points[u]), cause{none, v, h / 3})
		}
		if !starts && w.s.bendsAt(v) {
			w.open(nextHalf(h), p, v, d)
		}
	}
}

// open starts a window over all of half-edge h, left from its own face, with
// the source at p in that face.
func (w *wavefront) open(h int32, p geom.Vec, source int32, past float64) {
	u, v := w.s.m.halfEnds(h)
	along, off := place(w.s.m.Points[u], w.s.m.Points[v], p)
	l := w.s.m.Points[u].Dist(w.s.m.Points[v])
	w.emit(h, window{parent: none, source: source, b0: 0, b1: l, sx: along, sy: -off, past: past}, l)
}

// emit hands a window, given along half-edge h of the face it leaves, over to
// the face on the other side, unless it cannot be part of a shorter way.
func (w *wavefront) emit(h int32, win window, l float64) {
	if !(win.b1 > win.b0) {
		return
	}
	win.h = h
	key := win.past + w.lowerBound(&win)
	if key >= w.best-w.slack {
		return
	}
	t := w.s.adj.twin[h]
	if t < 0 {
		w.metCrowd = w.metCrowd || t == crowd
		return
	}
	from, _ := w.s.m.halfEnds(h)
	if first, _ := w.s.m.halfEnds(t); first != from {
		win.b0, win.b1, win.sx = l-win.b1, l-win.b0, l-win.sx
	}
	win.h = t
	id := w.windows.add(win)
	w.q.push(queued{key, id})
	if w.goal[t/3] {
		w.arrive(id)
	}
}

// lowerBound is the least of |source-x| + |x-end| over the window, the end
// taken in space: turned about the window's line into the plane, the sum is
// least where the straight line passes, or at the nearer end of the window.
func (w *wavefront) lowerBound(win *window) float64 {
	u, v := w.s.m.halfEnds(win.h)
	ex, ey := place(w.s.m.Points[u], w.s.m.Points[v], w.to.at)
	x := win.sx
	if den := ey - win.sy; den > 0 {
		x += float64((ex - win.sx) * (-win.sy / den))
	}
	x = max(win.b0, min(win.b1, x))
	return elem.Hypot(x-win.sx, win.sy) + elem.Hypot(ex-x, ey)
}

// seen says by how little a point may lie outside a window's bundle and still
// count as inside: gaps between windows are no wider than this.
const seen = 1e-7

// arrive looks whether the window sees the end of the path.
func (w *wavefront) arrive(id int32) {
	win := w.windows.at(id)
	u, v := w.s.m.halfEnds(win.h)
	ex, ey := place(w.s.m.Points[u], w.s.m.Points[v], w.to.at)
	l := w.s.m.Points[u].Dist(w.s.m.Points[v])
	x := win.cross(flat{ex, ey})
	if x < win.b0-float64(seen*l) || x > win.b1+float64(seen*l) {
		return
	}
	if d := win.past + elem.Hypot(ex-win.sx, ey-win.sy); d < w.best-w.slack {
		w.best, w.end, w.found = d, cause{id, none, win.h / 3}, true
	}
}

// cross is where the straight way from the source to q crosses the window's line.
func (win *window) cross(q flat) float64 {
	den := q.y - win.sy
	if !(den > 0) {
		return max(win.b0, min(win.b1, q.x))
	}
	return win.sx + float64((q.x-win.sx)*(-win.sy/den))
}
