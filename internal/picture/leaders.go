package picture

import (
	"cmp"
	"slices"
)

// Flag is a label in the margin of a drawing with a leader to what it names.
type Flag struct {
	Text   string
	X, Y   float64 // what it points at
	px, py float64 // where the leader meets the label
	left   bool
}

// PlaceFlags puts the labels in two columns beside a picture, left and right,
// so that no two leaders cross and no two labels overlap. x0 and x1 are the
// columns, y0 and y1 the room, gap the least distance between two labels.
//
// Labels go to the nearer side. Leaders of one side that cross are swapped:
// every swap makes the two together shorter, so it comes to an end.
func PlaceFlags(fs []Flag, x0, x1, y0, y1, gap float64) []Flag {
	out := append([]Flag(nil), fs...)
	mid := (x0 + x1) / 2
	sides := [2][]int{}
	for i := range out {
		out[i].left = out[i].X < mid
		side := 1
		out[i].px = x1
		if out[i].left {
			side, out[i].px = 0, x0
		}
		sides[side] = append(sides[side], i)
	}
	for _, ids := range sides {
		slices.SortStableFunc(ids, func(a, b int) int { return cmp.Compare(out[a].Y, out[b].Y) })
		spread(out, ids, y0, y1, gap)
		uncross(out, ids)
	}
	return out
}

// RoomFor is the lower end of the columns of labels: y1, or lower when one side
// has more labels than fit above it.
func RoomFor(fs []Flag, x0, x1, y0, y1, gap float64) float64 {
	left := 0
	for _, f := range fs {
		if f.X < (x0+x1)/2 {
			left++
		}
	}
	return max(y1, y0+float64(gap*float64(max(left, len(fs)-left)-1)))
}

// spread gives every label of a column a height near what it points at, at
// least gap apart, within the room when there is enough of it.
func spread(fs []Flag, ids []int, y0, y1, gap float64) {
	y := y0
	for _, i := range ids {
		y = max(y, fs[i].Y)
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
func uncross(fs []Flag, ids []int) {
	for changed := true; changed; {
		changed = false
		for a := range ids {
			for b := a + 1; b < len(ids); b++ {
				f, g := &fs[ids[a]], &fs[ids[b]]
				if crosses(f.X, f.Y, f.px, f.py, g.X, g.Y, g.px, g.py) {
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

// Leaders draws the lines from the labels to what they name.
func (d *Drawing) Leaders(fs []Flag) {
	for _, f := range fs {
		d.Line("leader halo", f.X, f.Y, f.px, f.py)
		d.Line("leader", f.X, f.Y, f.px, f.py)
	}
}

// Flags draws the labels.
func (d *Drawing) Flags(fs []Flag) {
	for _, f := range fs {
		w := max(TextWidth(f.Text, 24)+16, 44)
		x := f.px
		if f.left {
			x -= w
		}
		d.Rect("flag", x, f.py-17, w, 34)
		d.Text("flag", "middle", x+w/2, f.py+8, f.Text)
	}
}

// UnderLeaders is points along leaders, in fine pixels of a picture that begins
// at left and top: other names keep away from there.
func UnderLeaders(fs []Flag, left, top float64) [][2]float64 {
	var out [][2]float64
	for _, f := range fs {
		for k := range 101 {
			t := float64(k) / 100
			out = append(out, [2]float64{2 * (f.X + float64(t*(f.px-f.X)) - left), 2 * (f.Y + float64(t*(f.py-f.Y)) - top)})
		}
	}
	return out
}
