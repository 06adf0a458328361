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
	kid   [8]int32      // a node or a block
	count [8]int32      // faces of a block, 0 for a node
}

// wideVisit is a box to be looked into.
type wideVisit struct {
	far        float32 // how far along the ray
	kid, count int32
}

// usualWide is room for the visits that wait in most trees.
const usualWide = 64

// faceRun is a run of leaves.
type faceRun struct{ first, count int32 }

// blockItems is the most faces that one place of a wide node holds.
const blockItems = 8

// widen makes the wide tree from the other one, from the leaves up: what holds
// no more than eight faces becomes a block, and a node takes in what lies below
// it while that is not more than eight places.
func (t *faceTree) widen() {
	if !vectors {
		return
	}
	for k := range 3 {
		t.reach[k] = max(math.Abs(float64(t.nodes[0].lo[k])), math.Abs(float64(t.nodes[0].hi[k])))
	}
	below, n := t.ownNodes()
	t.wide = make([]wideNode, 1, n)
	t.blocks = make([]faceRun, 0, len(t.items)/4)
	depth := t.fillWide(0, 0, below)
	t.wideStack = 7*depth + 8
	t.planes = &planeStore{}
}

// lower is what lies below a node of the tree: places at a height, 0 for a
// block, and the number of its faces, as long as those make one block.
type lower struct {
	height, places, faces int8
	own                   bool // becomes a node of the wide tree
}

func (l *lower) isBlock() bool { return l.faces <= blockItems }

// ownNodes says of each node whether it becomes one of the wide tree, and how
// many do. Two of one height go together while their places are few enough, a
// lower one counts as one place.
func (t *faceTree) ownNodes() (in []lower, n int) {
	in = make([]lower, len(t.nodes))
	n = 1
	take := func(i int32) {
		if !in[i].isBlock() {
			in[i].own = true
			n++
		}
	}
	for i := len(t.nodes) - 1; i >= 0; i-- {
		if t.nodes[i].count > 0 {
			in[i] = lower{0, 1, int8(t.nodes[i].count), false}
			continue
		}
		hi, lo := t.nodes[i].first, t.nodes[i].first+1
		if in[hi].height < in[lo].height {
			hi, lo = lo, hi
		}
		a, b := &in[hi], &in[lo]
		faces, places := min(a.faces+b.faces, blockItems+1), b.places
		if a.height > b.height {
			places = 1
		}
		switch {
		case faces <= blockItems:
			in[i] = lower{0, 1, faces, false}
		case a.places+places > 8:
			take(hi)
			take(lo)
			in[i] = lower{a.height + 1, 2, faces, false}
		default:
			if a.height > b.height {
				take(lo)
			}
			in[i] = lower{a.height, a.places + places, faces, false}
		}
	}
	in[0].own = true
	return in, n
}

// fillWide fills wide node at from node from, and gives the levels below.
func (t *faceTree) fillWide(at, from int32, below []lower) int {
	w, n := emptyWide, 0
	add := func(c int32) {
		b := &t.nodes[c]
		for k := range 3 {
			w.bound[2*k][n], w.bound[2*k+1][n] = b.lo[k], b.hi[k]
		}
		w.kid[n] = c
		if below[c].isBlock() {
			w.kid[n], w.count[n] = int32(len(t.blocks)), int32(below[c].faces)
			t.blocks = append(t.blocks, faceRun{t.firstItem(c), w.count[n]})
		}
		n++
	}
	open, left := [8]int32{from}, 1
	if below[from].isBlock() {
		add(from)
		left = 0
	}
	for left > 0 {
		left--
		kids := t.nodes[open[left]].first
		for c := kids; c < kids+2; c++ {
			if below[c].own || below[c].isBlock() {
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
			depth = max(depth, 1+t.fillWide(w.kid[i], c, below))
		}
	}
	t.wide[at] = w
	return depth
}

// firstItem is the first of the items below the node; the others follow it.
func (t *tree) firstItem(at int32) int32 {
	for t.nodes[at].count == 0 {
		at = t.nodes[at].first
	}
	return t.nodes[at].first
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

// wideSlack is more than the rounding of a few steps in float32.
const wideSlack = 1 + 1e-6

// limitOf is a distance as a limit in float32, never too small.
func limitOf(far float64) float32 {
	return float32(min(float64(far*wideSlack)+1e-30, math.MaxFloat32))
}

// wideVisits is a stack deep enough for the tree: store, unless it is too short.
func (t *faceTree) wideVisits(store *[usualWide]wideVisit) []wideVisit {
	if t.wideStack > usualWide {
		return make([]wideVisit, t.wideStack)
	}
	return store[:]
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
