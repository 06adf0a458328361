package geom

import "testing"

// TestExtent: worked by hand. One of seven points far away changes the middle
// and the size of the others by no more than a place; two heaps get their box.
func TestExtent(t *testing.T) {
	line := func(x ...float64) []Vec {
		out := make([]Vec, len(x))
		for i := range x {
			out[i][0] = x[i]
		}
		return out
	}
	for _, c := range []struct {
		of           []Vec
		middle, size float64
	}{
		{nil, 0, 0},
		{line(5), 5, 0},
		{line(0, 10, 20, 30, 40), 20, 40},
		{line(0, 0, 100, 100), 50, 100},
		{line(0, 10, 20, 30, 40, 50, 6e6), 30, 80},
		{line(-6e6, 10, 20, 30, 40, 50, 60), 30, 80},
	} {
		m, s := Extent(c.of)
		if m != (Vec{c.middle}) || s != (Vec{c.size}) {
			t.Errorf("%v: middle %v, size %v; want %v and %v", c.of, m, s, c.middle, c.size)
		}
	}
}
