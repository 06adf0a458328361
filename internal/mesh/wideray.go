package mesh

import (
	"math"
	"math/bits"

	"fettle/internal/geom"
)

// rayQuery is a ray for ray8: for each axis where the planes lie through which
// it comes into a box and leaves it, the origin moved back and forth by more
// than its rounding, and one over the direction.
type rayQuery struct {
	in, out         [3]int64 // bytes into the bounds
	inFrom, outFrom [3]float32
	inverse         [3]float32
	slack, limit    float32
}

func (q *rayQuery) set(t *faceTree, o, d *geom.Vec) {
	q.slack, q.limit = wideSlack, math.MaxFloat32
	for k := range 3 {
		pad := float64(1e-7*(math.Abs(o[k])+t.reach[k])) + 1e-20
		back, forth := float32(o[k]-pad), float32(o[k]+pad)
		lo, hi := int64(64*k), int64(64*k+32)
		inverse := float32(1e30)
		if math.Abs(d[k]) >= 1e-30 {
			inverse = float32(1 / d[k])
		}
		if inverse < 0 {
			lo, hi, back, forth = hi, lo, forth, back
		}
		q.in[k], q.out[k], q.inFrom[k], q.outFrom[k], q.inverse[k] = lo, hi, forth, back, inverse
	}
}

// firstHitWide looks for the first hit of the ray of c.
func (t *faceTree) firstHitWide(c *raySearch) {
	s, q := t.planesOf(), &c.box
	q.set(t, &c.origin, &c.dir)
	c.flat.set(s, &c.origin, &c.dir)
	var dist [8]float32
	stack := c.stack
	n, at := 0, int32(0)
	for {
		w := &t.wide[at]
		n = w.push(ray8(w, q, &dist), &dist, stack, n)
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
			first := t.blocks[v.kid].first
			for mask := hit8(&s.block[v.kid], &c.flat) & (1<<v.count - 1); mask != 0; mask &= mask - 1 {
				if c.meet(t, first+int32(bits.TrailingZeros32(mask))) {
					q.limit = limitOf(c.t)
					c.flat.until(c.t)
				}
			}
		}
	}
}
