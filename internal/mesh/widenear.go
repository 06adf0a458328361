package mesh

import (
	"math"
	"math/bits"

	"fettle/internal/geom"
)

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

func (q *nearQuery) set(p *geom.Vec, d2 float64) {
	q.from[0], q.to[0] = about(p[0])
	q.from[1], q.to[1] = about(p[1])
	q.from[2], q.to[2] = about(p[2])
	q.limit = limitOf(d2)
}

// about is two float32 that x lies between: one or two steps to either side.
func about(x float64) (from, to float32) {
	f := float32(x)
	step := math.Float32frombits(math.Float32bits(f)&math.MaxInt32)*0x1p-23 + 0x1p-140
	return f - step, f + step
}

// wideSlack is more than the rounding of a few steps in float32.
const wideSlack = 1 + 1e-6

// limitOf is a distance squared as a limit in float32, never too small.
func limitOf(d2 float64) float32 {
	return float32(min(float64(d2*wideSlack)+1e-30, math.MaxFloat32))
}

// wideVisits is a stack deep enough for the tree: store, unless it is too short.
func (t *faceTree) wideVisits(store *[usualWide]wideVisit) []wideVisit {
	if t.wideStack > usualWide {
		return make([]wideVisit, t.wideStack)
	}
	return store[:]
}

func (t *faceTree) nearestWide(p *geom.Vec, b *found) {
	var store [usualWide]wideVisit
	c := planeSearch{t: t, s: t.planesOf(), best: b, stack: t.wideVisits(&store)}
	c.begin(p)
	t.searchWide(&c)
}

// searchWide looks through the whole tree.
func (t *faceTree) searchWide(c *planeSearch) {
	b := c.best
	var q nearQuery
	q.set(c.p, b.d2)
	var dist [8]float32
	stack := c.stack
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
			if c.search(v.kid) {
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
