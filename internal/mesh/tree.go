package mesh

import (
	"math"

	"fettle/internal/geom"
)

// A tree is a bounding-volume hierarchy over boxes: binned by the surface-area
// heuristic, flat, 32 bytes a node, two siblings side by side in one cache
// line. Bounds are rounded outward to float32, so a node never excludes what it
// holds.
//
// Source: I. Wald, On fast construction of SAH-based bounding volume
// hierarchies, 2007 (binning over centroids).
type tree struct {
	nodes []node  // 0 is the root; 1 is not used, so that siblings share a line
	items []int32 // in order of leaves
	depth int     // levels below the root
}

type node struct {
	lo, hi [3]float32
	first  int32 // of items in a leaf, of the two children otherwise
	count  int32 // items in a leaf, 0 otherwise
}

// boxed is an item with its box, rounded outward, as ranks: whole numbers in
// the order of the coordinates, whose smaller and larger the machine finds
// without a branch.
type boxed struct {
	lo [3]int32
	id int32
	hi [3]int32
	_  int32 // two halves of 16 bytes, which the machine copies whole
}

// rank orders float32 as whole numbers; unrank is the way back.
func rank(f float32) int32 {
	u := int32(math.Float32bits(f))
	return u ^ (u >> 31 & math.MaxInt32)
}

func unrank(r int32) float32 { return math.Float32frombits(uint32(r ^ (r >> 31 & math.MaxInt32))) }

// boxOfFace is the box of three points, rounded outward.
func boxOfFace(id int32, p, q, r *geom.Vec) (b boxed) {
	b.id = id
	for k := range 3 {
		lo, hi := p[k], p[k]
		if q[k] < lo {
			lo = q[k]
		} else {
			hi = q[k]
		}
		if r[k] < lo {
			lo = r[k]
		} else if r[k] > hi {
			hi = r[k]
		}
		b.lo[k], b.hi[k] = rankDown(lo), rankUp(hi)
	}
	return b
}

// boxOf is the box of the points, rounded outward.
func boxOf(id int32, points ...geom.Vec) boxed {
	b := boxed{id: id}
	for k := range 3 {
		lo, hi := points[0][k], points[0][k]
		for _, p := range points[1:] {
			if p[k] < lo {
				lo = p[k]
			}
			if p[k] > hi {
				hi = p[k]
			}
		}
		b.lo[k], b.hi[k] = rankDown(lo), rankUp(hi)
	}
	return b
}

// rankDown is the rank of the greatest float32 not above x: the rank of the nearest
// one, or the one before.
func rankDown(x float64) int32 {
	f := float32(x)
	r := rank(f)
	if float64(f) > x {
		r--
	}
	return r
}

// rankUp is the rank of the least float32 not below x.
func rankUp(x float64) int32 {
	f := float32(x)
	r := rank(f)
	if float64(f) < x {
		r++
	}
	return r
}

func roundDown(x float64) float32 { return unrank(rankDown(x)) }
func roundUp(x float64) float32   { return unrank(rankUp(x)) }

const (
	leafItems  = 4
	sahBins    = 16
	leafLimit  = blockItems // a leaf never holds more
	sahStepFor = 1.2        // cost of visiting a node, in tests of an item
)

// newTree builds a tree over the boxes, and uses them up.
func newTree(boxes []boxed) tree {
	if len(boxes) == 0 {
		return tree{}
	}
	b := treeBuilder{boxes: boxes, grid: newGrid(boxes)}
	for i := range boxes {
		b.grid.take(&boxes[i])
	}
	b.nodes = make([]node, 2, len(boxes)+len(boxes)/8+4)
	all := b.measure(0, int32(len(boxes)))
	b.split(0, 0, &all)
	t := tree{nodes: b.nodes, depth: b.depth, items: make([]int32, len(boxes))}
	for i := range boxes {
		t.items[i] = boxes[i].id
	}
	return t
}

// treeBuilder works in steps of a grid: whole numbers, which add and compare
// faster than ranks.
type treeBuilder struct {
	boxes []boxed
	nodes []node
	depth int
	grid  grid
}

// grid is steps of a power of two, at most 2^29 of them along the longest side
// of a box, so that twice a centre is an int32 as well.
type grid struct {
	base         geom.Vec
	step, perOne float64 // and one over the step
}

func newGrid(boxes []boxed) grid {
	all := emptySpan()
	for i := range boxes {
		all.add(&boxes[i].lo, &boxes[i].hi)
	}
	longest := 0.0
	for k := range 3 {
		longest = max(longest, float64(unrank(all.hi[k]))-float64(unrank(all.lo[k])))
	}
	_, e := math.Frexp(longest)
	g := grid{step: math.Ldexp(1, e-29), perOne: math.Ldexp(1, 29-e)}
	for k := range 3 {
		g.base[k] = math.Floor(float64(unrank(all.lo[k]))*g.perOne) * g.step
	}
	return g
}

// take turns ranks into steps, outward.
func (g *grid) take(b *boxed) {
	for k := range 3 {
		lo, hi := (float64(unrank(b.lo[k]))-g.base[k])*g.perOne, (float64(unrank(b.hi[k]))-g.base[k])*g.perOne
		to := int32(hi)
		if float64(to) < hi {
			to++
		}
		b.lo[k], b.hi[k] = int32(lo), to
	}
}

// bounds gives the box in float32, outward.
func (g *grid) bounds(s *span, n *node) {
	for k := range 3 {
		n.lo[k] = roundDown(g.base[k] + float64(float64(s.lo[k])*g.step))
		n.hi[k] = roundUp(g.base[k] + float64(float64(s.hi[k])*g.step))
	}
}

// span is a box, in steps or ranks, that starts empty and grows. The fourth of each
// means nothing: four are what the machine takes at once.
type span struct{ lo, hi [4]int32 }

func emptySpan() span {
	const hi, lo = math.MaxInt32, math.MinInt32
	return span{[4]int32{hi, hi, hi, hi}, [4]int32{lo, lo, lo, lo}}
}

func (s *span) add(lo, hi *[3]int32) {
	s.lo[0], s.lo[1], s.lo[2] = min(s.lo[0], lo[0]), min(s.lo[1], lo[1]), min(s.lo[2], lo[2])
	s.hi[0], s.hi[1], s.hi[2] = max(s.hi[0], hi[0]), max(s.hi[1], hi[1]), max(s.hi[2], hi[2])
}

// join is add for another span.
func (s *span) join(o *span) {
	s.lo[0], s.lo[1], s.lo[2] = min(s.lo[0], o.lo[0]), min(s.lo[1], o.lo[1]), min(s.lo[2], o.lo[2])
	s.hi[0], s.hi[1], s.hi[2] = max(s.hi[0], o.hi[0]), max(s.hi[1], o.hi[1]), max(s.hi[2], o.hi[2])
}

// halfArea is half the surface of the box, 0 while it is empty.
func (s *span) halfArea() float64 {
	if s.hi[0] < s.lo[0] {
		return 0
	}
	x, y, z := s.extent(0), s.extent(1), s.extent(2)
	return float64(x*y) + float64(y*z) + float64(z*x)
}

func (s *span) extent(k int) float64 { return float64(s.hi[k] - s.lo[k]) }

// centre2 is twice the centre of the box.
func (b *boxed) centre2(k int) int32 { return b.lo[k] + b.hi[k] }

// part is a run of boxes, the box of all, and the box of their centres (twice).
type part struct {
	from, to int32
	all, mid span
}

func (p *part) n() int32 { return p.to - p.from }

// measure finds the boxes of the part.
func (b *treeBuilder) measure(from, to int32) part {
	p := part{from, to, emptySpan(), emptySpan()}
	for i := from; i < to; i++ {
		o := &b.boxes[i]
		p.all.add(&o.lo, &o.hi)
		p.mid.addCentre(o)
	}
	return p
}

func (s *span) addCentre(o *boxed) {
	x, y, z := o.centre2(0), o.centre2(1), o.centre2(2)
	s.lo[0], s.lo[1], s.lo[2] = min(s.lo[0], x), min(s.lo[1], y), min(s.lo[2], z)
	s.hi[0], s.hi[1], s.hi[2] = max(s.hi[0], x), max(s.hi[1], y), max(s.hi[2], z)
}

func (b *treeBuilder) split(at int32, level int, p *part) {
	b.depth = max(b.depth, level)
	b.grid.bounds(&p.all, &b.nodes[at])
	var left, right part
	if !b.cut(p, &left, &right) {
		b.nodes[at].first, b.nodes[at].count = p.from, p.n()
		return
	}
	kids := int32(len(b.nodes))
	b.nodes = append(b.nodes, node{}, node{})
	b.nodes[at].first = kids
	b.split(kids, level+1, &left)
	b.split(kids+1, level+1, &right)
}

// cut reorders the boxes of p into two parts; false means that a leaf is cheaper.
func (b *treeBuilder) cut(p, left, right *part) bool {
	n := p.n()
	if n <= leafItems {
		return false
	}
	if n < splitHalfway {
		axis := p.all.longest()
		if b.divide(p, axis, p.all.lo[axis]+p.all.hi[axis], left, right) {
			return true
		}
		*p = b.measure(p.from, p.to)
	}
	best := b.bestBin(p)
	if best.axis < 0 && n <= leafLimit { // all centres coincide
		return false
	}
	if best.axis >= 0 && n <= leafLimit {
		if area := p.all.halfArea(); float64(sahStepFor*area)+best.cost >= float64(n)*area {
			return false
		}
	}
	if best.axis < 0 || !b.divide(p, best.axis, best.plane, left, right) {
		*left, *right = b.measure(p.from, p.from+n/2), b.measure(p.from+n/2, p.to)
	}
	return true
}

// splitHalfway is the size below which a part is cut in the middle of the
// longest side of its box, without looking at the costs.
const splitHalfway = 32

// divide brings the boxes with twice their centre below the plane to the left,
// in one pass; false when one side stays empty.
func (b *treeBuilder) divide(p *part, axis int, plane int32, left, right *part) bool {
	left.all, right.all, left.mid, right.mid = emptySpan(), emptySpan(), emptySpan(), emptySpan()
	at := p.from + int32(partBoxes(b.boxes[p.from:p.to], axis, plane, left, right))
	left.from, left.to, right.from, right.to = p.from, at, at, p.to
	return left.n() > 0 && right.n() > 0
}

// partBoxesPlain brings the boxes with twice their centre below the plane to the
// front and says how many they are; the boxes and centres of both kinds are added up.
func partBoxesPlain(boxes []boxed, axis int, plane int32, left, right *part) int {
	n := 0
	for i := range boxes {
		o := boxes[i]
		boxes[i] = boxes[n]
		boxes[n] = o
		to := right
		if o.centre2(axis) < plane {
			to = left
			n++
		}
		to.all.add(&o.lo, &o.hi)
		to.mid.addCentre(&o)
	}
	return n
}

// longest is the axis in which the box is widest.
func (s *span) longest() int {
	axis := 0
	for k := 1; k < 3; k++ {
		if s.extent(k) > s.extent(axis) {
			axis = k
		}
	}
	return axis
}

// bins cut a range of centres into equal steps.
type bins struct {
	base int32
	n    int
	each uint64 // bins a step, times 2^32
}

func (s *span) bins(axis, n int) bins {
	return bins{s.lo[axis], n, uint64(n) << 32 / uint64(s.hi[axis]-s.lo[axis]+1)}
}

func (b *bins) of(c int32) int { return int(uint64(c-b.base) * b.each >> 32) }

// above is where bin i begins.
func (b *bins) above(i int) int32 { return b.base + int32((uint64(i)<<32+b.each-1)/b.each) }

// binning is a way to cut a part in two: between two bins of an axis.
type binning struct {
	axis  int
	plane int32 // in twice the centre
	cost  float64
}

// bestBin is the cut with the least sum of (half area x number of items); axis
// -1 when nothing can be separated. Large nodes try all axes, small ones the
// one in which the centres spread most: there the choice matters little and
// the tries cost most.
func (b *treeBuilder) bestBin(p *part) binning {
	best := binning{axis: none, cost: math.Inf(1)}
	longest := p.mid.longest()
	for k := range 3 {
		if p.mid.hi[k] <= p.mid.lo[k] || p.n() < tryAllAxes && k != longest {
			continue
		}
		n := sahBins
		if p.n() < tryAllAxes {
			n = sahBins / 2
		}
		b.bestPlane(p, k, p.mid.bins(k, n), &best)
	}
	return best
}

const tryAllAxes = 256

// sampleOf is how many boxes of a part are looked at, about, to choose its cut.
const sampleOf = 4096

// bestPlane bins the boxes along one axis, sweeps from both sides, and keeps
// the cut if it is better.
func (b *treeBuilder) bestPlane(p *part, axis int, x bins, best *binning) {
	var bin [sahBins]span
	var count [sahBins]int32
	for i := range x.n {
		bin[i] = emptySpan()
	}
	step := 1 + p.n()/sampleOf
	binBoxes(b.boxes[p.from:p.to], int(step), axis, &x, &bin, &count)
	var cost [sahBins]float64
	acc, n, looked := emptySpan(), int32(0), (p.n()+step-1)/step
	for i := 1; i < x.n; i++ {
		acc.join(&bin[i-1])
		n += count[i-1]
		cost[i] = float64(acc.halfArea() * float64(n))
	}
	acc, n = emptySpan(), 0
	for i := x.n - 1; i > 0; i-- {
		acc.join(&bin[i])
		n += count[i]
		if n == 0 || n == looked {
			continue
		}
		if c := cost[i] + float64(acc.halfArea()*float64(n)); c < best.cost {
			*best = binning{axis, x.above(i), c}
		}
	}
}

// binBoxesPlain adds every so many of the boxes to the bin of its centre.
func binBoxesPlain(boxes []boxed, step, axis int, x *bins, bin *[sahBins]span, count *[sahBins]int32) {
	for i := 0; i < len(boxes); i += step {
		o := &boxes[i]
		at := x.of(o.centre2(axis))
		bin[at].add(&o.lo, &o.hi)
		count[at]++
	}
}

// size2 is the square of the diagonal of the root's box.
func (t *tree) size2() float64 {
	sum := 0.0
	for k := range 3 {
		d := float64(t.nodes[0].hi[k]) - float64(t.nodes[0].lo[k])
		sum += float64(d * d)
	}
	return sum
}

// dist2 is the square of the distance from p to the node's box.
func (n *node) dist2(p *geom.Vec) float64 {
	x := outside(p[0], n.lo[0], n.hi[0])
	y := outside(p[1], n.lo[1], n.hi[1])
	z := outside(p[2], n.lo[2], n.hi[2])
	return float64(x*x) + float64(y*y) + float64(z*z)
}

// outside is how far x lies beyond the range, 0 inside. Compared as bits, which
// needs no branch: a number below zero is a negative whole number as well.
func outside(x float64, lo, hi float32) float64 {
	below := int64(math.Float64bits(float64(lo) - x))
	above := int64(math.Float64bits(x - float64(hi)))
	return math.Float64frombits(uint64(max(below, above, 0)))
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
	t.nearestWithin(p, math.Inf(1), visit)
}

// nearestWithin is nearest for items whose boxes lie within a distance, and says how
// many were visited.
func (t *tree) nearestWithin(p geom.Vec, limit2 float64, visit func(item int32) float64) (visits int) {
	if len(t.nodes) == 0 {
		return 0
	}
	best := limit2
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
			visits += int(n.count)
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
	return visits
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
