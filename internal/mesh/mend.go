package mesh

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/halt"
)

// Mended is a mesh whose narrow openings were closed, and all that was done to it.
type Mended struct {
	Mesh    *Mesh
	Parent  []int32        // triangle of the old mesh that each triangle is, or is a part of
	Joined  []JoinedPoints // in order of the smallest point
	Divided []DividedEdge  // in order of the edges
	Left    []LeftOpen     // what lies within the tolerance and was not closed
	Before  Faults
	After   Faults
	Still   Gaps // narrow openings of the mended mesh
}

// JoinedPoints is points that became one.
type JoinedPoints struct {
	At      geom.Vec   // where it is now
	From    []geom.Vec // where they were
	ApartMM float64    // the two that were farthest apart
}

// MovedMM is how far the one that was moved farthest was moved.
func (j *JoinedPoints) MovedMM() float64 {
	most := 0.0
	for _, p := range j.From {
		most = max(most, p.Dist(j.At))
	}
	return most
}

// DividedEdge is an edge that was divided at a T-joint, in the corner of another
// side that lies on it. The corner stays where it is.
type DividedEdge struct {
	At    geom.Vec
	OffMM float64 // of the corner from the edge
	Ends  [2]geom.Vec
}

// LeftOpen is what was not closed although it lies within the tolerance.
type LeftOpen struct {
	At  geom.Vec
	Why string
}

// Why something is left open.
const (
	leftTurned   = "a triangle would turn over or lose its area"
	leftThree    = "three or more triangles would meet in one edge"
	leftDisagree = "the two sides do not agree about the outside"
	leftBack     = "the two sides lie back to back: they may be two walls"
	leftContact  = "the surface would meet itself"
	leftPoint    = "only corners would meet there, no edges"
	leftBlunt    = "the opening has a blunt end: it may be a slot that is meant"
	leftCreep    = "the corners near one another lie farther apart than the tolerance together"
)

// mender closes openings. What it means to do are groups of points that become
// one, and points put into edges; whatever would make the mesh worse is given up
// again, until nothing does.
type mender struct {
	work  *halt.Work
	m     *Mesh
	adj   adjacency
	free  *freeEdges
	tol   float64
	group [][]int32        // two points or more that become one, ascending; nil: given up
	of    map[int32]int32  // group of a point
	put   []putPoint       // ordered by edge, then by share
	left  map[int32]string // why a point was not joined or put into an edge
}

// putPoint is a point put into a free edge.
type putPoint struct {
	edge  int32 // place among the free edges
	point int32
	share float64
	offMM float64
}

// mendRounding is what the distance of two places is wrong by, relative to the largest
// coordinate: 10.00001 less 10 is more than 0.00001.
const mendRounding = 1e-15

// Mend closes the openings of a mesh that passes Check that are nowhere wider than
// a tolerance: points of free edges that lie within it become one, in their middle,
// and free edges are divided in points of others that lie within it of them. Only
// sides that run opposite ways along each other are brought together.
//
// Nothing is joined that is farther apart than the tolerance: of points that become
// one no two are. No hole is closed (seamSlender), and no slot with a blunt end. No
// triangle is dropped, turned over or brought to nothing; no edge gets three
// triangles, nothing new meets the surface, and sides that lie back to back or
// disagree about the outside stay apart.
func (m *Mesh) Mend(tolMM float64) (*Mended, error) { return m.MendWhile(nil, tolMM) }

// MendWhile mends as part of some work: when that is stopped, it is.
func (m *Mesh) MendWhile(work *halt.Work, tolMM float64) (*Mended, error) {
	if !(tolMM > 0) || math.IsInf(tolMM, 1) {
		return nil, invalid(fmt.Sprintf("a tolerance of %g mm", tolMM), "give a distance above 0")
	}
	most := 0.0
	for _, p := range m.Points {
		most = max(most, maxCoord(p))
	}
	w := &mender{work: work, m: m, adj: newAdjacency(m), tol: tolMM + float64(mendRounding*most), of: map[int32]int32{}, left: map[int32]string{}}
	w.free = newFreeEdges(m, &w.adj)
	if err := w.propose(); err != nil {
		return nil, err
	}
	for {
		work.Step()
		d := w.draft()
		again, err := w.giveUp(d)
		if err != nil {
			return nil, err
		}
		if !again {
			return w.finish(d), nil
		}
	}
}

// What can be done about a mesh, beside measuring on it.
const (
	ToDescribe diag.Deed = "describe-mesh" // of a file
	ToMend     diag.Deed = "mend-mesh"     // of a file
	ToCut      diag.Deed = "cut-mesh"      // a picture of a cut: of a file in a unit, by planes in a window, or along a curve with a point of the outer side
)

func tooMany(tol float64) error {
	return &diag.Error{Kind: diag.Invalid, Op: "mesh", Subject: "mesh", Msg: fmt.Sprintf("within %.6g mm lie too many free edges to look at all pairs", tol),
		Hint: "give a smaller tolerance; the description of the mesh says how wide the openings are", Remedy: diag.Do(ToDescribe)}
}

// propose finds what lies within the tolerance.
func (w *mender) propose() error {
	pairs, t := gapPairs+gapPairsPerEdge*len(w.free.half), w.free.tree()
	near := make([][]int32, len(w.free.points)) // free edges within the tolerance, about
	for i, v := range w.free.points {
		w.work.Step()
		b := boxAbout(w.m.Points[v], w.tol)
		near[i] = t.overlaps(&b, nil)
		if pairs -= len(near[i]); pairs < 0 {
			return tooMany(w.tol)
		}
		slices.Sort(near[i])
	}
	w.proposeGroups(near)
	for i, v := range w.free.points {
		w.work.Step()
		w.proposeDivision(v, near[i])
	}
	w.sortPut()
	return nil
}

type nearPoints struct {
	mm   float64
	u, v int32
}

// proposeGroups joins points, the nearest first, as long as of a group no two are
// farther apart than the tolerance or of one triangle.
func (w *mender) proposeGroups(near [][]int32) {
	var pairs []nearPoints
	for i, u := range w.free.points {
		w.work.Step()
		last := int32(none)
		var ends []int32
		for _, h := range near[i] {
			a, b := w.free.ends(h)
			ends = append(ends, a, b)
		}
		slices.Sort(ends)
		for _, v := range ends {
			if v <= u || v == last {
				continue
			}
			last = v
			if mm := w.m.Points[u].Dist(w.m.Points[v]); mm <= w.tol && w.mayJoin(u, v, mm) && (w.closes(u, v) || w.closes(v, u)) {
				pairs = append(pairs, nearPoints{mm, u, v})
			}
		}
	}
	slices.SortFunc(pairs, func(a, b nearPoints) int {
		return cmp.Or(cmp.Compare(a.mm, b.mm), cmp.Compare(a.u, b.u), cmp.Compare(a.v, b.v))
	})
	for _, p := range pairs {
		w.join(p.u, p.v)
	}
	for i := range w.group {
		slices.Sort(w.group[i])
	}
}

// join brings two points, with the groups they are in, into one group if that may be.
func (w *mender) join(u, v int32) {
	gu, gv := w.groupOf(u), w.groupOf(v)
	if gu >= 0 && gu == gv {
		return
	}
	a, b := w.members(u), w.members(v)
	for _, p := range a {
		for _, q := range b {
			mm := w.m.Points[p].Dist(w.m.Points[q])
			if mm > w.tol {
				w.left[u] = leftCreep
				return
			}
			if !w.mayJoin(p, q, mm) {
				return
			}
		}
	}
	all := append(slices.Clone(a), b...)
	if gu < 0 {
		gu = gv
	}
	if gu < 0 {
		gu = int32(len(w.group))
		w.group = append(w.group, nil)
	}
	if gv >= 0 && gv != gu {
		w.group[gv] = nil
	}
	w.group[gu] = all
	for _, p := range all {
		w.of[p] = gu
	}
}

func (w *mender) groupOf(v int32) int32 {
	if g, ok := w.of[v]; ok {
		return g
	}
	return none
}

// members are the points that become one with v, itself among them.
func (w *mender) members(v int32) []int32 {
	if g := w.groupOf(v); g >= 0 {
		return w.group[g]
	}
	return []int32{v}
}

// mayJoin says that two points are of no triangle together, and that the opening
// between them is a seam.
func (w *mender) mayJoin(u, v int32, mm float64) bool {
	for _, c := range w.adj.cornersOf(u) {
		if t := &w.m.Faces[c/3]; t[0] == v || t[1] == v || t[2] == v {
			return false
		}
	}
	return w.free.slender(w.free.placesOf(u, nil), w.free.placesOf(v, nil), mm)
}

// closes says that a free edge from u and one to v run along each other.
func (w *mender) closes(u, v int32) bool {
	p, q := w.m.Points[u], w.m.Points[v]
	for _, i := range w.free.out.of(u) {
		_, n := w.free.segment(i)
		for _, k := range w.free.in.of(v) {
			if o, _ := w.free.segment(k); w.alongside(p, n, q, o) {
				return true
			}
		}
	}
	return false
}

// alongside says that segments pn and qo, which begin beside each other, run along
// each other: the end of the shorter lies within the tolerance of the longer.
func (w *mender) alongside(p, n, q, o geom.Vec) bool {
	if p.Dist(n) > q.Dist(o) {
		p, n, q, o = q, o, p, n
	}
	at, _ := onSegment(n, q, o)
	return at.Dist(n) <= w.tol
}

// proposeDivision puts a point into the nearest free edge along which the edge from
// it runs, and into the nearest along which the edge to it runs, where these are not
// closed by points that become one.
func (w *mender) proposeDivision(v int32, near []int32) {
	for _, i := range w.free.out.of(v) {
		if !w.closedAt(v, i, true) {
			w.putNearest(v, i, near, true)
		}
	}
	for _, i := range w.free.in.of(v) {
		if !w.closedAt(v, i, false) {
			w.putNearest(v, i, near, false)
		}
	}
}

// closedAt says that at a point that becomes one with v a free edge runs along edge
// i, which leaves v or leads to it.
func (w *mender) closedAt(v, i int32, leaves bool) bool {
	a, b := w.free.segment(i)
	for _, u := range w.members(v) {
		if u == v {
			continue
		}
		if leaves {
			for _, k := range w.free.in.of(u) {
				if o, q := w.free.segment(k); w.alongside(a, b, q, o) {
					return true
				}
			}
		} else {
			for _, k := range w.free.out.of(u) {
				if q, o := w.free.segment(k); w.alongside(b, a, q, o) {
					return true
				}
			}
		}
	}
	return false
}

func (w *mender) putNearest(v, i int32, near []int32, leaves bool) {
	best := putPoint{edge: none, point: v, offMM: math.Inf(1)}
	for _, h := range near {
		if at, ok := w.division(v, i, h, leaves); ok && at.offMM < best.offMM {
			best = at
		}
	}
	if best.edge >= 0 {
		w.put = append(w.put, best)
	}
}

// division is v put into free edge h, if it may be and edge i at v runs along it.
func (w *mender) division(v, i, h int32, leaves bool) (putPoint, bool) {
	a, b := w.free.ends(h)
	pa, pb, p := w.m.Points[a], w.m.Points[b], w.m.Points[v]
	at, share := onSegment(p, pa, pb)
	out := putPoint{h, v, share, at.Dist(p)}
	if out.offMM > w.tol || share <= 0 || share >= 1 {
		return out, false
	}
	t := &w.m.Faces[w.free.half[h]/3]
	for _, u := range w.members(v) {
		if t[0] == u || t[1] == u || t[2] == u {
			return out, false
		}
	}
	l := pa.Dist(pb)
	if !w.free.slender(w.free.placesOf(v, nil), []linePlace{{w.free.line[h], w.free.along[h] + float64(share*l)}}, out.offMM) {
		return out, false
	}
	from, to := w.free.segment(i)
	if leaves {
		return out, w.alongside(p, to, at, pa)
	}
	return out, w.alongside(p, from, at, pb)
}

// sortPut orders the points put into edges and keeps each once.
func (w *mender) sortPut() {
	slices.SortFunc(w.put, func(a, b putPoint) int {
		return cmp.Or(cmp.Compare(a.edge, b.edge), cmp.Compare(a.share, b.share), cmp.Compare(a.point, b.point))
	})
	seen := map[[2]int32]bool{}
	w.put = slices.DeleteFunc(w.put, func(p putPoint) bool {
		key := [2]int32{p.edge, w.now(p.point)}
		was := seen[key]
		seen[key] = true
		return was
	})
}

// now is the point that v becomes: the smallest of its group.
func (w *mender) now(v int32) int32 {
	if g := w.groupOf(v); g >= 0 {
		return w.group[g][0]
	}
	return v
}
