package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// Where a straight way meets an edge, by its definition: the place lies on the edge and on the ray;
// beyond the ends it is the end; of a ray along the edge it is the beginning. Grids of whole numbers.
func TestWhereRaysMeetEdges(t *testing.T) {
	for n := range 7 * 7 * 7 * 7 {
		src := flat{float64(n%7 - 3), -1 - float64(n/7%7)}
		q := flat{float64(n/49%7 - 3), 1 + float64(n/343)}
		p := flat{-4, 0}
		ray := q.sub(src)
		share := meetEdge(src, ray, p, flat{5, 0})
		if x := meetAxis(src, q); x >= -4 && x <= 5 && math.Abs(p.x+9*share-x) > 1e-12 || x < -4 && share != 0 || x > 5 && share != 1 {
			t.Errorf("from %v over %v: share %g of the edge, the axis is met at %g", src, q, share, x)
		} else if off := ray.turn(flat{x, 0}.sub(src)); math.Abs(off) > 1e-12 {
			t.Errorf("from %v over %v: %g is not on the ray", src, q, x)
		}
	}
	if got := meetEdge(flat{0, -2}, flat{3, 0}, flat{1, 0}, flat{4, 0}); got != 0 {
		t.Errorf("along the edge: %g", got)
	}
	for _, q := range []flat{{7, -2}, {7, -3}} { // no farther up than where it begins
		if got := meetAxis(flat{5, -2}, q); got != 5 {
			t.Errorf("to %v: %g", q, got)
		}
	}
}

// A way over a corner beats the straight one up to the place where both are as long: there they
// are, nearer the corner the straight one is the longer, farther on it is the shorter.
func TestWhereTheStraightWayIsBeaten(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 3))
	between := 0
	for range 2000 {
		src, p, q := flat{4*r.Float64() - 2, -2 * r.Float64()}, flat{}, flat{1 + r.Float64(), r.Float64()}
		c := 2.5 * r.Float64()
		share := beaten(src, p, q, c)
		more := func(at float64) float64 { // by how much the straight way is longer
			x := flat{at * q.x, at * q.y}
			return norm(x.sub(src)) - c - norm(x)
		}
		if share <= 0 { // at the corner itself it is no longer, nor anywhere
			if more(0) > 1e-9 || share < 0 && norm(src) > c {
				t.Fatalf("%v, %v, %g: share %g, and %g longer at the corner", src, q, c, share, more(0))
			}
			continue
		}
		if share < 1 {
			between++
			if math.Abs(more(share)) > 1e-9 || more(share/2) < 0 || more((1+share)/2) > 1e-12 {
				t.Fatalf("%v, %v, %g: at %g it is longer by %g, before by %g, behind by %g", src, q, c, share, more(share), more(share/2), more((1+share)/2))
			}
		} else if more(1) < -1e-9 {
			t.Fatalf("%v, %v, %g: all beaten, and %g longer at the end", src, q, c, more(1))
		}
	}
	if between < 100 {
		t.Errorf("only %d in between", between)
	}
	if got := beaten(flat{-3, 0}, flat{}, flat{1, 0}, 3); got != 0 { // as long everywhere: not beaten
		t.Errorf("straight on: %g", got)
	}
	if got := beaten(flat{-3, 0}, flat{}, flat{1, 0}, 2.5); got != 1 {
		t.Errorf("behind the corner, which is nearer: %g", got)
	}
}

// A place relative to a line, by Pythagoras: 3-4-5 and 5-12-13; a line without length has no
// direction, and all is off it.
func TestPlaceBesideALine(t *testing.T) {
	for _, c := range []struct {
		a, b, at   geom.Vec
		along, off float64
	}{
		{geom.Vec{}, geom.Vec{2, 0, 0}, geom.Vec{3, 3, 4}, 3, 5},
		{geom.Vec{1, 1, 1}, geom.Vec{1, 9, 1}, geom.Vec{6, -2, 13}, -3, 13},
		{geom.Vec{0, 0, 5}, geom.Vec{0, 0, 1}, geom.Vec{0, 0, 2}, 3, 0},
		{geom.Vec{1, 2, 3}, geom.Vec{1, 2, 3}, geom.Vec{4, 2, 7}, 0, 5},
	} {
		if along, off := place(c.a, c.b, c.at); along != c.along || off != c.off {
			t.Errorf("%v from %v to %v: %g along and %g off, want %g and %g", c.at, c.a, c.b, along, off, c.along, c.off)
		}
	}
}

// fanOf is n triangles round point 0, closed or open, of which each spans so large an angle.
func fanOf(n int, closed bool, rad float64) *Mesh {
	m := &Mesh{Points: []geom.Vec{{}}}
	for k := range n + 1 {
		if k == n && closed {
			break
		}
		a := rad * float64(k)
		m.Points = append(m.Points, geom.Vec{math.Cos(a), math.Sin(a), 0})
	}
	for k := range n {
		next := k + 2
		if closed && k == n-1 {
			next = 1
		}
		m.Faces = append(m.Faces, [3]int32{0, int32(k + 1), int32(next)})
	}
	return m
}

// A way may bend at a point with more than a full turn of surface, at a border and where parts
// only touch, and nowhere else. How many triangles hang together with the first is counted
// wherever the first lies among them.
func TestWhereWaysBend(t *testing.T) {
	saddle := fanOf(8, true, math.Pi/4)
	peak := fanOf(8, true, math.Pi/4)
	for k := range 8 {
		saddle.Points[k+1][2] = float64(1 - k%4/2*2)
		peak.Points[k+1][2] = 0.5
	}
	welded := func(a, b *Mesh) *Mesh { // in their point 0
		m := joined(a, b)
		n := int32(len(a.Points))
		for f := range m.Faces {
			for k := range 3 {
				if m.Faces[f][k] == n {
					m.Faces[f][k] = 0
				}
			}
		}
		return m
	}
	open := fanOf(3, false, 0.5)
	turned := fanOf(5, true, 2*math.Pi/5)
	for i := range turned.Points {
		turned.Points[i] = geom.Vec{turned.Points[i][2], turned.Points[i][0], turned.Points[i][1]}
	}
	for name, c := range map[string]struct {
		m     *Mesh
		bends bool
		fans  []int // how many hang together, whichever is the first
	}{
		"flat":             {fanOf(8, true, math.Pi/4), false, []int{8}},
		"of three":         {fanOf(3, true, 2*math.Pi/3), false, []int{3}},
		"a peak":           {peak, false, []int{8}},
		"a saddle":         {saddle, true, []int{8}},
		"at a border":      {open, true, []int{3}},
		"a single face":    {fanOf(1, false, 1), true, []int{1}},
		"two open ones":    {welded(open, fanOf(4, false, 0.5)), true, []int{3, 4}},
		"two closed ones":  {welded(peak, turned), true, []int{8, 5}},
		"closed and open":  {welded(fanOf(8, true, math.Pi/4), open), true, []int{8, 3}},
		"one without face": {&Mesh{Points: []geom.Vec{{}, {1, 0, 0}, {2, 0, 0}, {1, 1, 0}}, Faces: [][3]int32{{1, 2, 3}}}, false, []int{0}},
	} {
		for first := range c.m.Faces { // any of its faces may come first
			m := &Mesh{Points: c.m.Points, Faces: slices.Concat(c.m.Faces[first:], c.m.Faces[:first])}
			s := surfaceOf(t, m)
			want := c.fans[0]
			if first >= want && len(c.fans) > 1 {
				want = c.fans[1]
			}
			if got := s.fanSize(0); got != want {
				t.Errorf("%s, face %d first: %d hang together, want %d", name, first, got, want)
			}
			if s.findPivot(0) != c.bends || s.bendsAt(0) != c.bends || s.bendsAt(0) != c.bends {
				t.Errorf("%s, face %d first: bends %t, want %t", name, first, !c.bends, c.bends)
			}
			for f := range m.Faces {
				for g := range m.Faces {
					if c.fans[0] == 0 {
						continue
					}
					old := func(f int) bool { return (f+first)%len(m.Faces) >= c.fans[0] }
					if got := s.hangTogether(0, int32(f), int32(g)); got != (old(f) == old(g)) {
						t.Errorf("%s: faces %d and %d hang together round it: %t", name, f, g, got)
					}
				}
			}
		}
	}
}

// Windows keep their numbers and what is in them over the ends of the chunks they are kept in.
func TestWindowsKeepTheirNumbers(t *testing.T) {
	var s windowStore
	for i := range int32(2<<chunkBits + 1) {
		if id := s.add(window{h: i, parent: i - 1}); id != i {
			t.Fatalf("window %d is number %d", i, id)
		}
	}
	for i := range int32(s.n) {
		if w := s.at(i); w.h != i || w.parent != i-1 {
			t.Fatalf("window %d: %+v", i, *w)
		}
	}
	if len(s.chunks) != 3 {
		t.Errorf("%d chunks", len(s.chunks))
	}
}

// A search may make as many windows as it is allowed to, and gives up with one more; it says after
// how many.
func TestSearchGivesUpBehindItsLimit(t *testing.T) {
	s := surfaceOf(t, bumpyTorus(20, 12, 1))
	third := [3]float64{1, 1, 1}
	from, err := s.anchor(s.Site(0, third))
	if err != nil {
		t.Fatal(err)
	}
	to, err := s.anchor(s.Site(241, third))
	if err != nil {
		t.Fatal(err)
	}
	run := func(limit int) *wavefront {
		w := s.newWavefront(&from, &to, 2*from.at.Dist(to.at))
		defer s.keepWays(w.ways)
		w.run(limit)
		return w
	}
	all := run(maxWindows)
	if all.gaveUp || all.doubt() != "" || all.windows.n < 100 {
		t.Fatalf("%d windows, %q", all.windows.n, all.doubt())
	}
	if w := run(all.windows.n); w.gaveUp || w.best != all.best {
		t.Errorf("with just as many: %q, %g long, want %g", w.doubt(), w.best, all.best)
	}
	w := run(5)
	if !w.gaveUp || w.windows.n < 6 || w.windows.n > 8 {
		t.Errorf("%q", w.doubt())
	}
	w.windows.n = 6
	if got, want := w.doubt(), "the search for a shorter way was stopped after 6 windows"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got, want := (&wavefront{metCrowd: true}).doubt(), "ways across edges of three or more faces were not searched"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
