package mesh

import (
	"math"
	"slices"

	"fettle/internal/elem"
)

// Distances is how far the surface is from a set of sources, along itself.
type Distances struct {
	Points  []float64 // by point of the mesh; +Inf beyond the limit or not connected
	Targets []float64 // by target asked for; the same
	Proven  bool      // the search ended: each is the distance on this polyhedron, up to rounding
	Doubt   string    // why Proven is false; the distances are then upper bounds
}

// maxLiveWindows bounds the memory of the search for distances: 64 bytes each.
const maxLiveWindows = 4_000_000

// ExactDistances is the distance along the surface from the nearest of the
// sources to every point of the mesh and to every target, as far as limitMM
// (+Inf: everywhere). Ways longer than that are not followed, so a small limit
// is answered from a small part of the mesh.
//
// The same windows as in ShortestPath are carried over the surface, nearest
// first, but nothing is kept of them once they are carried on: a distance
// needs no way back, so the memory is that of the front, not of the search
// (docs/methods/surface-path.md).
func (s *Surface) ExactDistances(sources, targets []Site, limitMM float64) (Distances, error) {
	w, ends, err := s.spread(sources, targets, limitMM)
	defer s.keepScratch(w.scratch)
	if err != nil {
		return Distances{}, err
	}
	out := w.result(ends)
	out.Points = slices.Clone(w.dist)
	return out, nil
}

// TargetDistances is ExactDistances without those of the mesh's points, so that what
// lies near costs nothing that grows with the mesh.
func (s *Surface) TargetDistances(sources, targets []Site, limitMM float64) (Distances, error) {
	w, ends, err := s.spread(sources, targets, limitMM)
	defer s.keepScratch(w.scratch)
	if err != nil {
		return Distances{}, err
	}
	return w.result(ends), nil
}

// spread carries the windows of the sources over the surface as far as the limit.
func (s *Surface) spread(sources, targets []Site, limitMM float64) (*field, []anchor, error) {
	w := s.newField(limitMM)
	var ends []anchor
	for _, t := range targets {
		a, err := s.anchor(t)
		if err != nil {
			return w, nil, err
		}
		ends = append(ends, a)
	}
	w.watch(ends)
	for _, site := range sources {
		a, err := s.anchor(site)
		if err != nil {
			return w, nil, err
		}
		w.start(&a)
	}
	w.run()
	return w, ends, nil
}

// front is a window on its way: a part of half-edge h, in the frame of the
// face about to be entered (see window), or a point of the mesh (h < 0).
type front struct {
	b0, b1, sx, sy float64
	past           float64
	h, source      int32
}

// arrival is where the shortest way so far comes into a point from: an edge of
// a face there, and the angle from it into the face, towards the source.
type arrival struct {
	half int32
	rad  float64
}

// field carries windows over the surface.
//
// Source: Chen and Han 1990; Xin and Wang 2009 (the filters); windows of a
// bend only where the way can bend, at least half a turn on both sides:
// Mitchell, Mount, Papadimitriou 1987, lemma 3.4; windows in steps of length
// and not strictly nearest first: C. Xu, T. Y. Wang, Y.-J. Liu, L. Liu, Y. He,
// Fast wavefront propagation for computing exact geodesic distances on meshes,
// 2015. The order changes the time and not the result.
type field struct {
	s     *Surface
	limit float64
	slack float64
	*scratch
	targets map[int32][]target
	found   []float64

	step     float64 // length one bucket covers
	now      int     // bucket in work
	buckets  [fieldBuckets]bucket
	unused   *fronts // to be filled again
	live     int
	gaveUp   bool
	metCrowd bool
}

// scratch is what a search keeps of every half-edge, point and face. A surface keeps it
// for the next search, so that a short one does not cost the memory of the whole mesh.
type scratch struct {
	tips    []tipVisit // by half-edge; d is stored plus one, 0 where none
	met     []int32    // half-edges with a tip
	shape   []apex     // by half-edge; found when first needed, and not again
	dist    []float64  // by point
	from    []arrival  // by point
	reached []int32    // points with a distance
	watched []bool     // by face
	watches []int32    // faces that are watched
}

func (s *Surface) borrowScratch() *scratch {
	if l, ok := s.kept.scratch.Get().(*scratch); ok {
		return l
	}
	l := &scratch{tips: make([]tipVisit, 3*len(s.m.Faces)), shape: make([]apex, 3*len(s.m.Faces)),
		dist: make([]float64, len(s.m.Points)), from: make([]arrival, len(s.m.Points)), watched: make([]bool, len(s.m.Faces))}
	for i := range l.dist {
		l.dist[i] = math.Inf(1)
	}
	return l
}

func (s *Surface) keepScratch(l *scratch) {
	for _, h := range l.met {
		l.tips[h] = tipVisit{}
	}
	for _, v := range l.reached {
		l.dist[v] = math.Inf(1)
	}
	for _, f := range l.watches {
		l.watched[f] = false
	}
	l.met, l.reached, l.watches = l.met[:0], l.reached[:0], l.watches[:0]
	s.kept.scratch.Put(l)
}

// setDist notes the length of the best way to a point.
func (l *scratch) setDist(v int32, d float64) {
	if math.IsInf(l.dist[v], 1) {
		l.reached = append(l.reached, v)
	}
	l.dist[v] = d
}

// apex is the corner opposite a half-edge, in the half-edge's frame, and the
// half-edge's length; a length of 0 stands for not known yet.
type apex struct{ x, y, l float64 }

type target struct {
	id int
	a  *anchor
}

// fieldBuckets is how many steps ahead windows are told apart; those farther
// ahead wait in the last.
const fieldBuckets = 64

func (s *Surface) newField(limit float64) *field {
	size := math.Sqrt(s.faces.size2())
	w := &field{s: s, limit: limit, slack: size * lengthRounding, scratch: s.borrowScratch()}
	// a step is about half an edge, by the area of a thousand faces; it only
	// changes the time
	area, seen, by := 0.0, 0, 1+len(s.m.Faces)/1000
	for f := 0; f < len(s.m.Faces); f += by {
		area += s.m.FaceAreaMM2(f)
		seen++
	}
	w.step = max(math.Sqrt(area/float64(seen))/2, size*1e-7) // not 0: there is a face with three places
	return w
}

func (w *field) apexOf(h int32) *apex {
	a := &w.shape[h]
	if a.l == 0 {
		m := w.s.m
		u, v := m.halfEnds(h)
		_, t := m.halfEnds(nextHalf(h))
		a.x, a.y = place(m.Points[u], m.Points[v], m.Points[t])
		a.l = m.Points[u].Dist(m.Points[v])
	}
	return a
}

func (w *field) push(key float64, f front) {
	if key > w.limit {
		return
	}
	b := int(key / w.step)
	b = min(max(b, w.now), w.now+fieldBuckets-1)
	w.add(&w.buckets[b%fieldBuckets], &f)
	w.live++
}

// bucket is a list of windows in the order they came, in pieces that go from
// one bucket to another when they are read: no more memory is in use than the
// most windows that ever waited at once.
type bucket struct{ first, last *fronts }

// fronts is a piece of a bucket, 4096 bytes.
type fronts struct {
	f    [85]front
	n    int
	next *fronts
}

func (w *field) add(b *bucket, f *front) {
	c := b.last
	if c == nil || c.n == len(c.f) {
		if c = w.unused; c != nil {
			w.unused = c.next
			c.n, c.next = 0, nil
		} else {
			c = &fronts{}
		}
		if b.last == nil {
			b.first = c
		} else {
			b.last.next = c
		}
		b.last = c
	}
	c.f[c.n] = *f
	c.n++
}

// drop takes the first piece, which has been read, off the bucket.
func (w *field) drop(b *bucket) {
	c := b.first
	if b.first = c.next; b.first == nil {
		b.last = nil
	}
	c.next, w.unused = w.unused, c
}

func (w *field) run() {
	for w.live > 0 && !w.gaveUp {
		b := &w.buckets[w.now%fieldBuckets]
		for b.first != nil { // grows while it is read
			w.s.work.Step()
			c := b.first
			for i := 0; i < c.n; i++ {
				w.live--
				if f := &c.f[i]; f.h < 0 {
					w.expandPoint(f.source, f.past)
				} else {
					w.expand(f)
				}
			}
			w.drop(b)
		}
		w.now++
		w.gaveUp = w.live > maxLiveWindows
	}
}

// reach records a way of length d to point v.
func (w *field) reach(v int32, d float64, from arrival) {
	if d < w.dist[v]-w.slack && d <= w.limit {
		w.setDist(v, d)
		w.from[v] = from
		w.push(d, front{h: none, source: v, past: d})
	}
}

// start opens the windows of a source.
func (w *field) start(a *anchor) {
	m := w.s.m
	if a.isPoint() {
		w.setDist(a.u, 0)
	}
	for _, f := range w.s.around(a) {
		for k := range int32(3) {
			h := 3*f + k
			p, q := m.halfEnds(h)
			if !a.isPoint() || a.u != p {
				_, back := place(m.Points[p], m.Points[q], a.at)
				along, _ := place(m.Points[p], m.Points[q], a.at)
				w.reach(p, a.at.Dist(m.Points[p]), arrival{h, elem.Atan2(back, along)})
			}
			if a.onEdge(p, q) {
				continue
			}
			along, off := place(m.Points[p], m.Points[q], a.at)
			l := w.apexOf(h).l
			w.emit(h, p, l, front{b1: l, sx: along, sy: -off, source: -1})
		}
		w.sameFace(f, a)
	}
}

// emit hands a window over half-edge h, measured from its end foot, on to the
// face on the other side.
func (w *field) emit(h, foot int32, l float64, f front) {
	t := w.s.adj.twin[h]
	if t < 0 {
		w.metCrowd = w.metCrowd || t == crowd
		return
	}
	if first, _ := w.s.m.halfEnds(t); first != foot {
		f.b0, f.b1, f.sx = l-f.b1, l-f.b0, l-f.sx
	}
	f.h = t
	x := min(max(f.sx, f.b0), f.b1) - f.sx
	w.push(f.past+math.Sqrt(float64(x*x)+float64(f.sy*f.sy)), f)
}

// expand carries a window over its face to the two other edges.
func (w *field) expand(f *front) {
	if f.source >= 0 && f.past > w.dist[f.source]+w.slack {
		return
	}
	m := w.s.m
	if w.watched[f.h/3] {
		w.arrive(f)
	}
	ap := w.apexOf(f.h)
	if ap.l == 0 {
		return // an edge without length: its ends were reached as points
	}
	p0, p1 := m.halfEnds(f.h)
	_, p2 := m.halfEnds(nextHalf(f.h))
	src, tip := flat{f.sx, f.sy}, flat{ap.x, ap.y}
	toTip := tip.sub(src)
	ray0, ray1 := flat{f.b0 - f.sx, -f.sy}, flat{f.b1 - f.sx, -f.sy}
	c0, c1 := ray0.turn(toTip), ray1.turn(toTip)
	left, right, split := c0 < 0, c1 > 0, bothSides
	near := float64(seen * ap.l)
	if c0 <= near*length(ray0) && c1 >= -near*length(ray1) {
		d := f.past + length(toTip)
		if d < w.dist[p2]-w.slack {
			w.reach(p2, d, arrival{prevHalf(f.h), flat{}.sub(tip).angleTo(src.sub(tip))})
		}
		if first := &w.tips[f.h]; first.d == 0 || d+1 < first.d {
			if first.d == 0 {
				w.met = append(w.met, f.h)
			}
			*first = tipVisit{d + 1, src}
		} else {
			split = first.beside(src, tip, f.b0, f.b1, near)
		}
	}
	if left && split.left {
		far := 1.0
		if c1 < 0 {
			far = meetEdge(src, ray1, flat{}, tip)
		}
		if split.leftOnly {
			far = min(far, meetEdge(src, split.ray, flat{}, tip))
		}
		w.child(f, prevHalf(f.h), side{p0, p2, p1, flat{}, tip, meetEdge(src, ray0, flat{}, tip), far})
	}
	if right && split.right {
		far, foot := 1.0, flat{ap.l, 0}
		if c0 > 0 {
			far = meetEdge(src, ray0, foot, tip)
		}
		if split.rightOnly {
			far = min(far, meetEdge(src, split.ray, foot, tip))
		}
		w.child(f, nextHalf(f.h), side{p1, p2, p0, foot, tip, meetEdge(src, ray1, foot, tip), far})
	}
}

func length(a flat) float64 { return math.Sqrt(a.dot(a)) }

// child is the continuation of a window over half-edge h of its face, filtered
// like wavefront.child.
func (w *field) child(f *front, h int32, e side) {
	if !(e.far > e.near) {
		return
	}
	src, d := flat{f.sx, f.sy}, e.tipAt.sub(e.at)
	l := length(d)
	if l == 0 {
		return
	}
	e.near = max(e.near, beaten(src, e.at, e.tipAt, w.dist[e.foot]+w.slack-f.past)-seen)
	e.far = min(e.far, 1+seen-beaten(src, e.tipAt, e.at, w.dist[e.tip]+w.slack-f.past))
	if !(e.far > e.near) {
		return
	}
	a := flat{e.at.x + float64(e.near*d.x), e.at.y + float64(e.near*d.y)}
	toA := f.past + length(a.sub(src))
	other := flat{w.shape[f.h].l - e.at.x, 0} // the end of the window's edge that is not the foot
	if w.dist[e.other]+length(a.sub(other)) < toA-w.slack {
		return
	}
	rel := src.sub(e.at)
	w.emit(h, e.foot, l, front{b0: e.near * l, b1: e.far * l, past: f.past, source: f.source,
		sx: rel.dot(d) / l, sy: -math.Abs(d.turn(rel)) / l})
}
