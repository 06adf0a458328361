package mesh

import (
	"math"
	"math/bits"

	"fettle/internal/geom"
)

// wideNode is up to eight boxes of the tree together, coordinate by coordinate,
// so that one vector instruction works on all. Places that are not used hold a
// box that nothing is near to.
type wideNode struct {
	bound [6][8]float32 // x from, x to, y from, y to, z from, z to
	kid   [8]int32      // a node; for a leaf the first of its items
	count [8]int32      // items of a leaf, 0 for a node
}

// wideVisit is a box to be looked into.
type wideVisit struct {
	far        float32 // distance, squared for a point
	kid, count int32
}

// usualWide is room for the visits that wait in most trees.
const usualWide = 96

// widen makes the wide tree from the other one, from the leaves up: a node takes
// in what lies below it while that is not more than eight boxes.
func (t *faceTree) widen() {
	if !vectors {
		return
	}
	for k := range 3 {
		t.reach[k] = max(math.Abs(float64(t.nodes[0].lo[k])), math.Abs(float64(t.nodes[0].hi[k])))
	}
	own, n := t.ownNodes()
	t.wide = make([]wideNode, 1, n)
	depth := t.fillWide(0, 0, own)
	t.wideStack = 7*depth + 8
}

// ownNodes says of each node whether it becomes one of the wide tree, and how
// many do. What lies below a node is boxes at a height; two of one height go
// together while they are few enough, a lower one counts as one box.
func (t *faceTree) ownNodes() (own []bool, n int) {
	type below struct{ height, boxes int8 }
	in := make([]below, len(t.nodes))
	own = make([]bool, len(t.nodes))
	n = 1
	take := func(i int32) {
		if t.nodes[i].count == 0 {
			own[i] = true
			n++
		}
	}
	for i := len(t.nodes) - 1; i >= 0; i-- {
		if t.nodes[i].count > 0 {
			in[i] = below{0, 1}
			continue
		}
		hi, lo := t.nodes[i].first, t.nodes[i].first+1
		if in[hi].height < in[lo].height {
			hi, lo = lo, hi
		}
		a, b := in[hi], in[lo]
		if a.height > b.height {
			b.boxes = 1
		}
		if a.boxes+b.boxes > 8 {
			take(hi)
			take(lo)
			in[i] = below{a.height + 1, 2}
			continue
		}
		if a.height > b.height {
			take(lo)
		}
		in[i] = below{a.height, a.boxes + b.boxes}
	}
	own[0] = true
	return own, n
}

// fillWide fills wide node at from node from, and gives the levels below.
func (t *faceTree) fillWide(at, from int32, own []bool) int {
	w, n := emptyWide, 0
	add := func(c int32) {
		b := &t.nodes[c]
		for k := range 3 {
			w.bound[2*k][n], w.bound[2*k+1][n] = b.lo[k], b.hi[k]
		}
		w.kid[n], w.count[n] = b.first, b.count
		if b.count == 0 {
			w.kid[n] = c
		}
		n++
	}
	open, left := [8]int32{from}, 1
	if t.nodes[from].count > 0 {
		add(from)
		left = 0
	}
	for left > 0 {
		left--
		kids := t.nodes[open[left]].first
		for c := kids; c < kids+2; c++ {
			if own[c] || t.nodes[c].count > 0 {
				add(c)
			} else {
				open[left] = c
				left++
			}
		}
	}
	depth := 0
	for i := range n {
		if w.count[i] == 0 {
			c := w.kid[i]
			w.kid[i] = int32(len(t.wide))
			t.wide = append(t.wide, wideNode{})
			depth = max(depth, 1+t.fillWide(w.kid[i], c, own))
		}
	}
	t.wide[at] = w
	return depth
}

var emptyWide = func() (w wideNode) {
	inf := float32(math.Inf(1))
	for i := range 8 {
		for k := range 3 {
			w.bound[2*k][i], w.bound[2*k+1][i] = inf, -inf
		}
	}
	return w
}()

// inReach says that float32 holds the point and its squares with room to spare.
func inReach(p *geom.Vec) bool {
	const far = 1e15
	return math.Abs(p[0]) < far && math.Abs(p[1]) < far && math.Abs(p[2]) < far
}

// nearQuery is a point for near8: rounded down and up, and the square of the
// distance beyond which boxes are passed over.
type nearQuery struct {
	from, to [3]float32
	limit    float32
}

func newNearQuery(p *geom.Vec, d2 float64) (q nearQuery) {
	for k := range 3 {
		q.from[k], q.to[k] = roundDown(p[k]), roundUp(p[k])
	}
	q.limit = limitOf(d2)
	return q
}

// wideSlack is more than the rounding of a few steps in float32.
const wideSlack = 1 + 1e-6

// limitOf is a distance squared as a limit in float32, never too small.
func limitOf(d2 float64) float32 {
	return float32(min(d2*wideSlack+1e-30, math.MaxFloat32))
}

// wideVisits is a stack deep enough for the tree: store, unless it is too short.
func (t *faceTree) wideVisits(store *[usualWide]wideVisit) []wideVisit {
	if t.wideStack > usualWide {
		return make([]wideVisit, t.wideStack)
	}
	return store[:]
}

func (t *faceTree) nearestWide(p *geom.Vec, b *found) {
	q := newNearQuery(p, b.d2)
	var dist [8]float32
	var store [usualWide]wideVisit
	stack := t.wideVisits(&store)
	n, at := 0, int32(0)
	for {
		w := &t.wide[at]
		n = w.push(near8(w, &q, &dist), &dist, stack, n)
		for {
			if n == 0 {
				return
			}
			n--
			v := &stack[n]
			if v.far > q.limit {
				continue
			}
			if v.count == 0 {
				at = v.kid
				break
			}
			before := b.d2
			for i := v.kid; i < v.kid+v.count; i++ {
				b.look(p, t.points, &t.leaf[i].corner, t.leaf[i].face)
			}
			if b.d2 < before {
				q.limit = limitOf(b.d2)
			}
		}
	}
}

// push puts the boxes of the mask on the stack, the nearest on top.
func (w *wideNode) push(mask uint32, dist *[8]float32, stack []wideVisit, n int) int {
	for base := n; mask != 0; mask &= mask - 1 {
		k := bits.TrailingZeros32(mask) & 7
		far, at := dist[k], n
		for at > base && stack[at-1].far < far {
			stack[at] = stack[at-1]
			at--
		}
		stack[at] = wideVisit{far, w.kid[k], w.count[k]}
		n++
	}
	return n
}

// rayQuery is a ray for ray8: for each axis where the planes lie through which
// it comes into a box and leaves it, the origin moved back and forth by more
// than its rounding, and one over the direction.
type rayQuery struct {
	in, out         [3]int64 // bytes into the bounds
	inFrom, outFrom [3]float32
	inverse         [3]float32
	slack, limit    float32
}

func (t *faceTree) newRayQuery(o, d *geom.Vec) rayQuery {
	q := rayQuery{slack: wideSlack, limit: math.MaxFloat32}
	for k := range 3 {
		pad := 1e-7*(math.Abs(o[k])+t.reach[k]) + 1e-20
		back, forth := float32(o[k]-pad), float32(o[k]+pad)
		lo, hi := int64(64*k), int64(64*k+32)
		switch {
		case math.Abs(d[k]) < 1e-30:
			q.inverse[k] = 1e30
		default:
			q.inverse[k] = float32(1 / d[k])
		}
		q.in[k], q.out[k], q.inFrom[k], q.outFrom[k] = lo, hi, forth, back
		if q.inverse[k] < 0 {
			q.in[k], q.out[k], q.inFrom[k], q.outFrom[k] = hi, lo, back, forth
		}
	}
	return q
}

func (t *faceTree) firstHitWide(sh *shear, q *rayQuery) (face int32, best rayHit) {
	face, best.t = -1, neverMM
	var dist [8]float32
	var store [usualWide]wideVisit
	stack := t.wideVisits(&store)
	n, at := 0, int32(0)
	for {
		w := &t.wide[at]
		n = w.push(ray8(w, q, &dist), &dist, stack, n)
		for {
			if n == 0 {
				return face, best
			}
			n--
			v := &stack[n]
			if v.far > q.limit {
				continue
			}
			if v.count == 0 {
				at = v.kid
				break
			}
			for i := v.kid; i < v.kid+v.count; i++ {
				f := &t.leaf[i]
				if x, ok := sh.meet(t.points, &f.corner); ok && (x.t < best.t || x.t == best.t && f.face < face) {
					face, best, q.limit = f.face, x, limitOf(x.t)
				}
			}
		}
	}
}
