package mesh

import (
	"math"

	"fettle/internal/geom"
)

// A tree is a bounding-volume hierarchy over boxes: binned by the surface-area
// heuristic, flat, 32 bytes a node, two siblings side by side. Bounds are
// rounded outward to float32, so a node never excludes what it holds.
//
// Source: I. Wald, On fast construction of SAH-based bounding volume
// hierarchies, 2007 (binning over centroids).
type tree struct {
	nodes []node
	items []int32
}

type node struct {
	lo, hi [3]float32
	first  int32 // of items in a leaf, of the two children otherwise
	count  int32 // items in a leaf, 0 otherwise
}

type box struct{ lo, hi geom.Vec }

const (
	leafItems  = 4
	sahBins    = 12
	leafLimit  = 16  // a leaf never holds more
	sahStepFor = 1.2 // cost of visiting a node, in tests of an item
)

func emptyBox() box {
	inf := math.Inf(1)
	return box{geom.Vec{inf, inf, inf}, geom.Vec{-inf, -inf, -inf}}
}

func (b *box) add(o box) {
	for k := range 3 {
		b.lo[k] = min(b.lo[k], o.lo[k])
		b.hi[k] = max(b.hi[k], o.hi[k])
	}
}

// halfArea is half the surface of the box.
func (b *box) halfArea() float64 {
	d := b.hi.Sub(b.lo)
	if d[0] < 0 {
		return 0
	}
	return d[0]*d[1] + d[1]*d[2] + d[2]*d[0]
}

func (b *box) centre(k int) float64 { return b.lo[k]/2 + b.hi[k]/2 }

// newTree builds a tree over the items (indices into boxes).
func newTree(boxes []box, items []int32) tree {
	t := tree{items: items}
	if len(items) == 0 {
		return t
	}
	t.nodes = make([]node, 1, 2*len(items)/leafItems+2)
	t.split(0, boxes, 0, int32(len(items)))
	return t
}

func (t *tree) split(at int32, boxes []box, from, to int32) {
	all, mid := emptyBox(), emptyBox()
	for _, i := range t.items[from:to] {
		all.add(boxes[i])
		c := geom.Vec{boxes[i].centre(0), boxes[i].centre(1), boxes[i].centre(2)}
		mid.add(box{c, c})
	}
	t.nodes[at].setBounds(all)
	cut := t.cut(boxes, &all, &mid, from, to)
	if cut == from {
		t.nodes[at].first, t.nodes[at].count = from, to-from
		return
	}
	kids := int32(len(t.nodes))
	t.nodes = append(t.nodes, node{}, node{})
	t.nodes[at].first = kids
	t.split(kids, boxes, from, cut)
	t.split(kids+1, boxes, cut, to)
}

// cut reorders items[from:to] and says where the second child starts; from
// means that a leaf is cheaper.
func (t *tree) cut(boxes []box, all, mid *box, from, to int32) int32 {
	n := to - from
	if n <= leafItems {
		return from
	}
	axis, plane, cost := bestBin(boxes, t.items[from:to], mid)
	if axis < 0 { // all centres coincide
		if n <= leafLimit {
			return from
		}
		return from + n/2
	}
	if n <= leafLimit && sahStepFor*all.halfArea()+cost >= float64(n)*all.halfArea() {
		return from
	}
	i, j := from, to-1
	for i <= j {
		if binOf(boxes[t.items[i]].centre(axis), mid, axis) < plane {
			i++
		} else {
			t.items[i], t.items[j] = t.items[j], t.items[i]
			j--
		}
	}
	return i
}

func binOf(c float64, mid *box, axis int) int {
	b := int(sahBins * ((c - mid.lo[axis]) / (mid.hi[axis] - mid.lo[axis])))
	return max(0, min(b, sahBins-1))
}

// bestBin is the axis and the first bin of the second child with the least sum
// of (half area x number of items); axis -1 when nothing can be separated.
func bestBin(boxes []box, items []int32, mid *box) (axis, plane int, cost float64) {
	axis, cost = -1, math.Inf(1)
	for k := range 3 {
		if !(mid.hi[k] > mid.lo[k]) {
			continue
		}
		var bin [sahBins]box
		var count [sahBins]int
		for b := range bin {
			bin[b] = emptyBox()
		}
		for _, i := range items {
			b := binOf(boxes[i].centre(k), mid, k)
			bin[b].add(boxes[i])
			count[b]++
		}
		var right [sahBins]float64
		acc, n := emptyBox(), 0
		for b := sahBins - 1; b > 0; b-- {
			acc.add(bin[b])
			n += count[b]
			right[b] = acc.halfArea() * float64(n)
		}
		acc, n = emptyBox(), 0
		for b := 1; b < sahBins; b++ {
			acc.add(bin[b-1])
			n += count[b-1]
			if n == 0 || n == len(items) {
				continue
			}
			if c := acc.halfArea()*float64(n) + right[b]; c < cost {
				axis, plane, cost = k, b, c
			}
		}
	}
	return axis, plane, cost
}

func (n *node) setBounds(b box) {
	for k := range 3 {
		lo, hi := float32(b.lo[k]), float32(b.hi[k])
		if float64(lo) > b.lo[k] {
			lo = math.Nextafter32(lo, float32(math.Inf(-1)))
		}
		if float64(hi) < b.hi[k] {
			hi = math.Nextafter32(hi, float32(math.Inf(1)))
		}
		n.lo[k], n.hi[k] = lo, hi
	}
}

// dist2 is the square of the distance from p to the node's box.
func (n *node) dist2(p *geom.Vec) float64 {
	sum := 0.0
	for k := range 3 {
		d := max(float64(n.lo[k])-p[k], p[k]-float64(n.hi[k]), 0)
		sum += float64(d * d)
	}
	return sum
}

// treeSlack keeps nodes whose distance equals the best so far up to rounding,
// so that ties are always settled by the smaller index.
const treeSlack = 1 - 1e-12

type treeVisit struct {
	node  int32
	dist2 float64
}

// nearest visits the items near p; visit gives the square of the item's
// distance (+Inf to pass over it) and must remember the best itself.
func (t *tree) nearest(p geom.Vec, visit func(item int32) float64) {
	if len(t.nodes) == 0 {
		return
	}
	best := math.Inf(1)
	var store [64]treeVisit
	stack := append(store[:0], treeVisit{0, t.nodes[0].dist2(&p)})
	for len(stack) > 0 {
		top := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if top.dist2*treeSlack > best {
			continue
		}
		n := &t.nodes[top.node]
		if n.count > 0 {
			for _, i := range t.items[n.first : n.first+n.count] {
				best = min(best, visit(i))
			}
			continue
		}
		near := treeVisit{n.first, t.nodes[n.first].dist2(&p)}
		far := treeVisit{n.first + 1, t.nodes[n.first+1].dist2(&p)}
		if far.dist2 < near.dist2 {
			near, far = far, near
		}
		stack = append(stack, far, near)
	}
}

// along visits the items whose boxes the half line may meet.
func (t *tree) along(o, d geom.Vec, visit func(item int32)) {
	if len(t.nodes) == 0 {
		return
	}
	var store [64]int32
	stack := append(store[:0], 0)
	for len(stack) > 0 {
		n := &t.nodes[stack[len(stack)-1]]
		stack = stack[:len(stack)-1]
		switch {
		case !n.onRay(&o, &d):
		case n.count > 0:
			for _, i := range t.items[n.first : n.first+n.count] {
				visit(i)
			}
		default:
			stack = append(stack, n.first+1, n.first)
		}
	}
}

// onRay is the slab test, widened by more than its rounding.
func (n *node) onRay(o, d *geom.Vec) bool {
	from, to := 0.0, math.Inf(1)
	for k := range 3 {
		lo, hi := float64(n.lo[k])-o[k], float64(n.hi[k])-o[k]
		if d[k] == 0 {
			if lo > 0 || hi < 0 {
				return false
			}
			continue
		}
		t0, t1 := lo/d[k], hi/d[k]
		if t0 > t1 {
			t0, t1 = t1, t0
		}
		from, to = max(from, t0), min(to, t1)
	}
	return from*treeSlack <= to
}
