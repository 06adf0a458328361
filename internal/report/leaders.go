package report

import "sort"

// flag is a label in the margin of a drawing with a leader to what it names.
type flag struct {
	text   string
	x, y   float64 // what it points at
	px, py float64 // where the leader meets the label
	left   bool
}

// placeFlags puts the labels in two columns beside a picture, left and right,
// so that no two leaders cross and no two labels overlap. x0 and x1 are the
// columns, y0 and y1 the room, gap the least distance between two labels.
//
// Labels go to the nearer side. Leaders of one side that cross are swapped:
// every swap makes the two together shorter, so it comes to an end.
func placeFlags(fs []flag, x0, x1, y0, y1, gap float64) []flag {
	out := append([]flag(nil), fs...)
	mid := (x0 + x1) / 2
	sides := [2][]int{}
	for i := range out {
		out[i].left = out[i].x < mid
		side := 1
		out[i].px = x1
		if out[i].left {
			side, out[i].px = 0, x0
		}
		sides[side] = append(sides[side], i)
	}
	for _, ids := range sides {
		sort.SliceStable(ids, func(a, b int) bool { return out[ids[a]].y < out[ids[b]].y })
		spread(out, ids, y0, y1, gap)
		uncross(out, ids)
	}
	return out
}

// roomFor is the lower end of the columns of labels: y1, or lower when one side
// has more labels than fit above it.
func roomFor(fs []flag, x0, x1, y0, y1, gap float64) float64 {
	left := 0
	for _, f := range fs {
		if f.x < (x0+x1)/2 {
			left++
		}
	}
	return max(y1, y0+float64(gap*float64(max(left, len(fs)-left)-1)))
}

// spread gives every label of a column a height near what it points at, at
// least gap apart, within the room when there is enough of it.
func spread(fs []flag, ids []int, y0, y1, gap float64) {
	y := y0
	for _, i := range ids {
		y = max(y, fs[i].y)
		fs[i].py = y
		y += gap
	}
	y = y1
	for k := len(ids) - 1; k >= 0; k-- {
		y = min(y, fs[ids[k]].py)
		fs[ids[k]].py = y
		y -= gap
	}
}

// uncross swaps the labels of leaders that cross.
func uncross(fs []flag, ids []int) {
	for changed := true; changed; {
		changed = false
		for a := range ids {
			for b := a + 1; b < len(ids); b++ {
				f, g := &fs[ids[a]], &fs[ids[b]]
				if crosses(f.x, f.y, f.px, f.py, g.x, g.y, g.px, g.py) {
					f.py, g.py = g.py, f.py
					changed = true
				}
			}
		}
	}
}

// crosses says that the inner parts of two line pieces meet.
func crosses(ax, ay, bx, by, cx, cy, dx, dy float64) bool {
	side := func(px, py, qx, qy, rx, ry float64) float64 {
		return float64((qx-px)*(ry-py)) - float64((qy-py)*(rx-px))
	}
	return side(ax, ay, bx, by, cx, cy)*side(ax, ay, bx, by, dx, dy) < 0 &&
		side(cx, cy, dx, dy, ax, ay)*side(cx, cy, dx, dy, bx, by) < 0
}
