package mesh

import (
	"math/bits"

	"fettle/internal/geom"
)

// A nearGroup answers neighbouring points together: it walks the wide tree once
// for the box of all of them, keeps the blocks that can hold an answer to any,
// and then looks only through those for each point.
//
// The bound is the distance to one place x of the surface. A point q has an
// answer no farther than |q - x|, so every block that matters to a point with
// |q - x| <= B lies within B of the box. Points farther from x than most of the
// group are left out, and search the whole tree.
type nearGroup struct {
	t      *faceTree
	best   found // the answer before
	search planeSearch
	near   closeBlocks
	q      scanQuery
	list   [64]int32
}

const groupPoints = 16

func newNearGroup(t *faceTree) *nearGroup {
	g := &nearGroup{t: t, best: nothing()}
	g.search = planeSearch{t: t, s: t.planesOf(), best: &g.best, stack: make([]wideVisit, t.wideStack)}
	return g
}

// answer answers points that follow one another in space.
func (g *nearGroup) answer(points []geom.Vec, out []Near) {
	for len(points) > 0 {
		n := min(len(points), groupPoints)
		g.together(points[:n], out[:n])
		points, out = points[n:], out[n:]
	}
}

func (g *nearGroup) together(points []geom.Vec, out []Near) {
	var far2 [groupPoints]float64
	bound2 := g.bound(points, &far2)
	kept := bound2 >= 0 && g.collect(points, &far2, bound2)
	for i := range points {
		p := &points[i]
		if kept && far2[i] <= bound2 {
			g.nearest(p)
		} else {
			g.alone(p)
		}
		g.t.near(p, &g.best, &out[i])
	}
}

// alone searches the whole tree.
func (g *nearGroup) alone(p *geom.Vec) {
	if !inReach(p) {
		g.t.nearestFace(p, &g.best)
		return
	}
	g.search.begin(p)
	g.t.searchWide(&g.search)
}

// bound is the square of a distance from a place of the surface that most of
// the points keep, and far2 that of each; below 0 if there is none.
func (g *nearGroup) bound(points []geom.Vec, far2 *[groupPoints]float64) float64 {
	if !inReach(&points[0]) {
		return -1
	}
	b := &g.best
	if b.face < 0 {
		g.alone(&points[0])
	}
	var x Site
	g.t.site(b.leaf, b.bary[0], b.bary[1], b.bary[2], &x)
	sum := 0.0
	for i := range points {
		far2[i] = dist2(&points[i], &x.At)
		sum += far2[i]
	}
	bound2 := 3 * sum / float64(len(points))
	sum, n := 0.0, 0
	for i := range points {
		if far2[i] <= bound2 {
			sum += far2[i]
			n++
		}
	}
	return 3 * sum / float64(n)
}

// collect gathers the blocks within the bound of the box of the points that
// keep it; false if those are too many.
func (g *nearGroup) collect(points []geom.Vec, far2 *[groupPoints]float64, bound2 float64) bool {
	first := true
	var lo, hi geom.Vec
	for i := range points {
		if far2[i] > bound2 {
			continue
		}
		if first {
			lo, hi, first = points[i], points[i], false
		}
		lo, hi = grow(lo, hi, points[i])
	}
	var q nearQuery
	q.set(&lo, bound2)
	for k := range 3 {
		_, q.to[k] = about(hi[k])
	}
	var dist [8]float32
	var stack [usualWide]int32
	n := 1
	for g.near.n = 0; n > 0; {
		n--
		w := &g.t.wide[stack[n]]
		for mask := near8(w, &q, &dist); mask != 0; mask &= mask - 1 {
			k := bits.TrailingZeros32(mask) & 7
			switch {
			case w.count[k] > 0:
				if !g.near.add(w, k) {
					return false
				}
			case n == len(stack):
				return false
			default:
				stack[n] = w.kid[k]
				n++
			}
		}
	}
	g.near.fill()
	return true
}

// closeBlocks is the boxes of up to 64 blocks, and which they are.
type closeBlocks struct {
	bound [8][6][8]float32
	run   [64]int32
	n     int // places in use
}

// add takes in place k of the node; false if there is no room.
func (c *closeBlocks) add(w *wideNode, k int) bool {
	if c.n == len(c.run) {
		return false
	}
	to, at := &c.bound[c.n/8], c.n%8
	for j := range to {
		to[j][at] = w.bound[j][k]
	}
	c.run[c.n] = w.kid[k]
	c.n++
	return true
}

// fill makes the number of places a multiple of eight.
func (c *closeBlocks) fill() {
	for ; c.n%8 != 0; c.n++ {
		to := &c.bound[c.n/8]
		for j := range to {
			to[j][c.n%8] = emptyWide.bound[j][0]
		}
	}
}

// scanQuery is a point for scan64.
type scanQuery struct {
	nearQuery
	at    [3]float32 // from the middle of the mesh, as in planeQuery
	limit float32
	but   int32 // a block to pass over
}

// nearest looks through the blocks of the group.
func (g *nearGroup) nearest(p *geom.Vec) {
	c, q := &g.search, &g.q
	c.begin(p)
	q.set(p, g.best.d2)
	q.at[0], q.at[1], q.at[2] = c.q.at[0], c.q.at[1], c.q.at[2]
	q.limit, q.but = c.q.limit, c.begun
	n := scan64(&g.near, q, c.s.block, &g.list)
	for _, block := range g.list[:n] {
		c.search(block)
	}
}
