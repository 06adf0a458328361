package mesh

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/geom"
)

// freeEdges is the edges of one face only, as half-edges along which one walks
// with the surface on the left, and the lines they make.
type freeEdges struct {
	m      *Mesh
	adj    *adjacency
	half   []int32 // ascending; what follows is by place in it
	next   []int32 // place of the one that follows along the line, -1 at its end
	prev   []int32
	line   []int32   // number of its line
	along  []float64 // where on the line it starts [mm]
	lines  []freeLine
	out    atPoints // free edges by the point they start from
	in     atPoints // and by the point they lead to
	points []int32  // all these points, ascending

	dir, normal []geom.Vec // of the edges and their triangles, once gaps were asked for
}

type freeLine struct {
	lengthMM float64
	closed   bool
}

func newFreeEdges(m *Mesh, adj *adjacency) *freeEdges {
	e := &freeEdges{m: m, adj: adj}
	m.eachHalf(func(h, _, _ int32) {
		if adj.twin[h] == border {
			e.half = append(e.half, h)
		}
	})
	e.link()
	e.walk()
	e.out = e.byPoint(func(i int32) int32 { u, _ := e.ends(i); return u })
	e.in = e.byPoint(func(i int32) int32 { _, v := e.ends(i); return v })
	e.points = append(slices.Clone(e.out.points), e.in.points...)
	slices.Sort(e.points)
	e.points = slices.Compact(e.points)
	return e
}

// atPoints lists free edges by a point.
type atPoints struct{ points, start, list []int32 }

func (a *atPoints) of(v int32) []int32 {
	k, ok := slices.BinarySearch(a.points, v)
	if !ok {
		return nil
	}
	return a.list[a.start[k]:a.start[k+1]]
}

func (e *freeEdges) byPoint(at func(i int32) int32) (a atPoints) {
	a.list = make([]int32, len(e.half))
	for i := range a.list {
		a.list[i] = int32(i)
	}
	slices.SortStableFunc(a.list, func(i, k int32) int { return cmp.Compare(at(i), at(k)) })
	for k, i := range a.list {
		if v := at(i); k == 0 || a.points[len(a.points)-1] != v {
			a.points, a.start = append(a.points, v), append(a.start, int32(k))
		}
	}
	a.start = append(a.start, int32(len(a.list)))
	return a
}

// place is the place of a half-edge that is known to be free.
func (e *freeEdges) place(h int32) int32 {
	i, _ := slices.BinarySearch(e.half, h)
	return int32(i)
}

// link finds what follows each free edge: round its end, through the faces that
// hang together there.
func (e *freeEdges) link() {
	e.next, e.prev = make([]int32, len(e.half)), make([]int32, len(e.half))
	for i := range e.next {
		e.next[i], e.prev[i] = none, none
	}
	for i, h := range e.half {
		_, v := e.m.halfEnds(h)
		g := e.other(h/3, v, h)
		for e.adj.twin[g] >= 0 {
			t := e.adj.twin[g]
			g = e.other(t/3, v, t)
		}
		if from, _ := e.m.halfEnds(g); e.adj.twin[g] == border && from == v {
			n := e.place(g)
			e.next[i], e.prev[n] = n, int32(i)
		}
	}
}

// other is the half-edge of face f at point v that is not h.
func (e *freeEdges) other(f, v, h int32) int32 {
	t := &e.m.Faces[f]
	for k := range int32(3) {
		if t[k] != v {
			continue
		}
		if 3*f+k == h {
			return prevHalf(h)
		}
		return 3*f + k
	}
	return h
}

// walk numbers the lines: those with two ends first.
func (e *freeEdges) walk() {
	e.line, e.along = make([]int32, len(e.half)), make([]float64, len(e.half))
	for i := range e.line {
		e.line[i] = none
	}
	from := func(first int32) {
		l, mm := freeLine{}, 0.0
		i := first
		for i >= 0 && e.line[i] < 0 {
			e.line[i], e.along[i] = int32(len(e.lines)), mm
			mm += e.lengthMM(i)
			i = e.next[i]
		}
		l.lengthMM, l.closed = mm, i == first
		e.lines = append(e.lines, l)
	}
	for i := range e.half {
		if e.prev[i] < 0 {
			from(int32(i))
		}
	}
	for i := range e.half {
		if e.line[i] < 0 {
			from(int32(i))
		}
	}
}

// ends are the points of a free edge, as numbers and as places in space.
func (e *freeEdges) ends(i int32) (u, v int32) { return e.m.halfEnds(e.half[i]) }

func (e *freeEdges) segment(i int32) (a, b geom.Vec) {
	u, v := e.ends(i)
	return e.m.Points[u], e.m.Points[v]
}

func (e *freeEdges) lengthMM(i int32) float64 {
	a, b := e.segment(i)
	return a.Dist(b)
}

// between is how far it is along the free line from one place to another, the
// shorter way; +Inf when they are not on one line.
func (e *freeEdges) between(a, b linePlace) float64 {
	if a.line != b.line {
		return math.Inf(1)
	}
	d := math.Abs(a.mm - b.mm)
	if l := e.lines[a.line]; l.closed {
		d = min(d, l.lengthMM-d)
	}
	return d
}

// linePlace is a place on a free line.
type linePlace struct {
	line int32
	mm   float64
}

// placesOf are the places of a point on the lines through it.
func (e *freeEdges) placesOf(v int32, out []linePlace) []linePlace {
	for _, i := range e.out.of(v) {
		out = append(out, linePlace{e.line[i], e.along[i]})
	}
	for _, i := range e.in.of(v) {
		if e.next[i] < 0 {
			out = append(out, linePlace{e.line[i], e.along[i] + e.lengthMM(i)})
		}
	}
	return out
}

// seamSlender is how many times farther it is along a free line from one side of an
// opening to the other than across, at least, for the opening to be a seam: across
// the rim of a round hole it is pi/2 times as far, round the corner of a window 1.4
// times. Our choice.
const seamSlender = 4

// slender says that none of the places on free lines is nearer along the line to
// another than seamSlender times a distance.
func (e *freeEdges) slender(a, b []linePlace, mm float64) bool {
	for _, p := range a {
		for _, q := range b {
			if e.between(p, q) < seamSlender*mm {
				return false
			}
		}
	}
	return true
}

// tree is a tree over the free edges, by place.
func (e *freeEdges) tree() tree {
	boxes := make([]boxed, len(e.half))
	for i := range boxes {
		a, b := e.segment(int32(i))
		boxes[i] = boxOf(int32(i), a, b)
	}
	return newTree(boxes)
}

// boxAbout is the box of so many millimetres about a point.
func boxAbout(p geom.Vec, mm float64) boxed {
	d := geom.Vec{mm, mm, mm}
	return boxOf(0, p.Sub(d), p.Add(d))
}

// onSegment is the place on a segment nearest to p, as a share of it.
func onSegment(p, a, b geom.Vec) (at geom.Vec, share float64) {
	d := b.Sub(a)
	l2 := d.Dot(d)
	if !(l2 > 0) {
		return a, 0
	}
	share = min(1, max(0, p.Sub(a).Dot(d)/l2))
	return a.Lerp(b, share), share
}
