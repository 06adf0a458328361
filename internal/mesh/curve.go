package mesh

import (
	"math"

	"fettle/internal/geom"
)

// workOrder is an order in which neighbours in space follow one another: the
// given one if its steps are small, otherwise that along a curve.
func workOrder(points []geom.Vec) []int32 {
	if len(points) == 0 {
		return nil
	}
	lo, hi := boundsOf(points)
	side := max(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2])
	if !smallSteps(points, side/100) {
		return curveOrder(points, &lo, side)
	}
	order := make([]int32, len(points))
	for i := range order {
		order[i] = int32(i)
	}
	return order
}

// boundsOf is the box of the points; what is not a number counts for nothing.
func boundsOf(points []geom.Vec) (lo, hi geom.Vec) {
	p := &points[0]
	x0, y0, z0, x1, y1, z1 := p[0], p[1], p[2], p[0], p[1], p[2]
	for i := range points {
		p := &points[i]
		if p[0] < x0 {
			x0 = p[0]
		}
		if p[0] > x1 {
			x1 = p[0]
		}
		if p[1] < y0 {
			y0 = p[1]
		}
		if p[1] > y1 {
			y1 = p[1]
		}
		if p[2] < z0 {
			z0 = p[2]
		}
		if p[2] > z1 {
			z1 = p[2]
		}
	}
	return geom.Vec{x0, y0, z0}, geom.Vec{x1, y1, z1}
}

// stepsLookedAt is about how many steps are looked at to judge all.
const stepsLookedAt = 4096

// smallSteps says that most of the points looked at lie within small of the one
// before.
func smallSteps(points []geom.Vec, small float64) bool {
	near, looked := 0, 0
	for i := 1; i < len(points); i += 1 + len(points)/stepsLookedAt {
		p, q := &points[i-1], &points[i]
		looked++
		if math.Abs(p[0]-q[0]) <= small && math.Abs(p[1]-q[1]) <= small && math.Abs(p[2]-q[2]) <= small {
			near++
		}
	}
	return near >= looked/10*9
}

// curveOrder lists the points along a Z-order curve of 2^10 cells a side over a
// cube from lo; points of one cell in order of index.
//
// Source: G. M. Morton, A computer oriented geodetic data base, 1966.
func curveOrder(points []geom.Vec, lo *geom.Vec, side float64) []int32 {
	scale, x, y, z := 1023.99/side, lo[0], lo[1], lo[2]
	key := make([]uint64, len(points))
	for i := range points {
		p := &points[i]
		k := spread10[cell(p[0]-x, scale)] | spread10[cell(p[1]-y, scale)]<<1 | spread10[cell(p[2]-z, scale)]<<2
		key[i] = uint64(k)<<32 | uint64(i)
	}
	return sortedBy(key)
}

// cell is the step a coordinate falls in; any where that is not a number.
func cell(x, scale float64) uint32 { return uint32(int32(x*scale)) & 1023 }

// spread10 puts two zero bits after each of ten bits.
var spread10 = func() (all [1024]uint32) {
	for i := range all {
		x := uint32(i)
		x = (x | x<<16) & 0x030000ff
		x = (x | x<<8) & 0x0300f00f
		x = (x | x<<4) & 0x030c30c3
		all[i] = (x | x<<2) & 0x09249249
	}
	return all
}()

// sortedBy is the order of the keys in the upper halves, the index in the
// lower: a radix sort in three passes of ten bits. It writes over key.
func sortedBy(key []uint64) []int32 {
	var start [3][1025]int32
	for _, k := range key {
		start[0][k>>32&1023+1]++
		start[1][k>>42&1023+1]++
		start[2][k>>52&1023+1]++
	}
	next := make([]uint64, len(key))
	for pass := range 3 {
		at := &start[pass]
		for i := range 1024 {
			at[i+1] += at[i]
		}
		shift := 32 + 10*pass
		for _, k := range key {
			b := k >> shift & 1023
			next[at[b]] = k
			at[b]++
		}
		key, next = next, key
	}
	order := make([]int32, len(key))
	for i, k := range key {
		order[i] = int32(uint32(k))
	}
	return order
}
