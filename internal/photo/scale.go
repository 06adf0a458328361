package photo

import (
	"context"
	"math"
)

// scaled is a picture whose longer side is at most so long, the whole of it, in its own proportions.
//
// Blocks of k times k dots are first averaged, k as large as leaves at least one and a half times the dots that are
// wanted; what that gives is brought to size with the cubic of Catmull and Rom, widened to the dots of the result, first
// across and then down. Values are averaged as they are stored, not as light: a thin dark crack on a bright casting
// would fade in light.
func scaled(ctx context.Context, from rows, side int) (*raster, error) {
	w, h := sizeWithin(from.w, from.h, side)
	k := max(1, max(from.w, from.h)*2/(3*side))
	bw, bh := (from.w+k-1)/k, (from.h+k-1)/k
	across, down := spans(bw, from.w, k, w), spans(bh, from.h, k, h)
	middle := make([]int16, 3*w*bh) // rows of the right width, in 64ths
	line := make([]uint8, 3*from.w)
	block := make([]int32, 3*bw)
	for y := range bh {
		if err := askedAt(ctx, y); err != nil {
			return nil, err
		}
		averaged(from, k, y, line, block)
		narrowed(across, block, middle[3*w*y:])
	}
	out := newRaster(w, h)
	sum := make([]int64, 3*w)
	for y, s := range down {
		if err := askedAt(ctx, y); err != nil {
			return nil, err
		}
		clear(sum)
		for i, weight := range s.weight {
			at := 3 * w * (s.from + i)
			for j, v := range middle[at : at+3*w] {
				sum[j] += int64(weight) * int64(v)
			}
		}
		for j, v := range sum {
			out.rgb[3*w*y+j] = clamped(int32((v + 1<<21) >> 22))
		}
	}
	return out, nil
}

// sizeWithin is the size whose longer side is at most so long; a picture is never enlarged, and has a dot at least.
func sizeWithin(w, h, side int) (int, int) {
	most := max(w, h)
	if most <= side {
		return w, h
	}
	short := func(n int) int { return max(1, (2*n*side+most)/(2*most)) }
	return short(w), short(h)
}

// averaged is a row of blocks, in 64ths; the last blocks of a side have what is left.
func averaged(from rows, k, y int, line []uint8, block []int32) {
	clear(block)
	high := min(k, from.h-y*k)
	for i := range high {
		from.row(y*k+i, line)
		for x := range from.w {
			b := block[3*(x/k):]
			b[0] += int32(line[3*x])
			b[1] += int32(line[3*x+1])
			b[2] += int32(line[3*x+2])
		}
	}
	for i := range block {
		n := int64(high * min(k, from.w-i/3*k))
		block[i] = int32((int64(block[i])*64*2 + n) / (2 * n))
	}
}

// span is the dots that one dot of the result is made of, with weights that are 65536 together.
type span struct {
	from   int
	weight []int32
}

// narrowed is a row of blocks brought to the width of the result.
func narrowed(across []span, block []int32, to []int16) {
	for x, s := range across {
		var r, g, b int64
		from := block[3*s.from:]
		for i, weight := range s.weight {
			w := int64(weight)
			r += w * int64(from[3*i])
			g += w * int64(from[3*i+1])
			b += w * int64(from[3*i+2])
		}
		const half, shift = 1 << 15, 16
		to[3*x], to[3*x+1], to[3*x+2] = int16((r+half)>>shift), int16((g+half)>>shift), int16((b+half)>>shift)
	}
}

// spans are those of n blocks of k of so many dots for m dots of a result.
func spans(n, dots, k, m int) []span {
	out := make([]span, m)
	step := float64(dots) / float64(k*m) // blocks for a dot of the result
	wide := max(step, 1)
	for i := range out {
		at := float64((float64(i) + 0.5) * step)
		from := max(0, int(math.Ceil(at-2*wide-0.5)))
		to := min(n-1, int(math.Floor(at+2*wide-0.5)))
		var all float64
		weights := make([]float64, max(0, to-from+1))
		for j := range weights {
			weights[j] = catmullRom((float64(from+j) + 0.5 - at) / wide)
			all += weights[j]
		}
		out[i] = span{from, whole(weights, all)}
	}
	return out
}

// whole is weights as whole numbers that are 65536 together: what rounding leaves goes to the heaviest.
func whole(weights []float64, all float64) []int32 {
	out := make([]int32, len(weights))
	left, heavy := int32(1<<16), 0
	for i, w := range weights {
		out[i] = int32(math.Floor(float64(w/all*(1<<16)) + 0.5))
		left -= out[i]
		if out[i] > out[heavy] {
			heavy = i
		}
	}
	out[heavy] += left
	return out
}

// catmullRom is the cubic through its points with B = 0 and C = 1/2 (Mitchell and Netravali 1988, eq. 8).
func catmullRom(t float64) float64 {
	t = math.Abs(t)
	t2 := float64(t * t)
	t3 := float64(t2 * t)
	switch {
	case t < 1:
		return float64(1.5*t3) - float64(2.5*t2) + 1
	case t < 2:
		return float64(-0.5*t3) + float64(2.5*t2) - float64(4*t) + 2
	}
	return 0
}
