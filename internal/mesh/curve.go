package mesh

import (
	"math"

	"fettle/internal/geom"
)

// workOrder is an order in which neighbours in space follow one another: the
// given one if its steps are small, otherwise that along a curve.
func workOrder(points []geom.Vec) []int32 {
	if !smallSteps(points) {
		return curveOrder(points)
	}
	order := make([]int32, len(points))
	for i := range order {
		order[i] = int32(i)
	}
	return order
}

// smallSteps says that most points lie within 1/100 of the size of the cloud
// from the one before.
func smallSteps(points []geom.Vec) bool {
	if len(points) == 0 {
		return true
	}
	lo, hi := points[0], points[0]
	for _, p := range points {
		lo, hi = grow(lo, hi, p)
	}
	small, near := max(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2])/100, 0
	for i := 1; i < len(points); i++ {
		p, q := &points[i-1], &points[i]
		if math.Abs(p[0]-q[0]) <= small && math.Abs(p[1]-q[1]) <= small && math.Abs(p[2]-q[2]) <= small {
			near++
		}
	}
	return near >= len(points)/10*9
}

// curveOrder lists the points along a Z-order curve of 2^10 cells a side over
// their bounding box; points of one cell in order of index.
//
// Source: G. M. Morton, A computer oriented geodetic data base, 1966.
func curveOrder(points []geom.Vec) []int32 {
	if len(points) == 0 {
		return nil
	}
	lo, hi := points[0], points[0]
	for _, p := range points {
		lo, hi = grow(lo, hi, p)
	}
	scale := 1023.99 / max(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2])
	key := make([]uint64, len(points))
	for i, p := range points {
		k := spread10(cell(p[0]-lo[0], scale)) | spread10(cell(p[1]-lo[1], scale))<<1 | spread10(cell(p[2]-lo[2], scale))<<2
		key[i] = uint64(k)<<32 | uint64(i)
	}
	return sortedBy(key)
}

// cell is the step a coordinate falls in; 0 where that is not a number.
func cell(x, scale float64) uint32 {
	c := x * scale
	if !(c >= 0 && c < 1024) {
		return 0
	}
	return uint32(c)
}

// spread10 puts two zero bits after each of ten bits.
func spread10(x uint32) uint32 {
	x = (x | x<<16) & 0x030000ff
	x = (x | x<<8) & 0x0300f00f
	x = (x | x<<4) & 0x030c30c3
	return (x | x<<2) & 0x09249249
}

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
