package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// star is a polygon about the origin with a corner in each direction in turn: it never
// crosses itself.
func star(r *rand.Rand, n int) Polygon {
	p := make(Polygon, n)
	for i := range p {
		far := 1 + 9*r.Float64()
		a := 2 * math.Pi * (float64(i) + 0.8*r.Float64()) / float64(n)
		p[i] = Flat{far * math.Cos(a), far * math.Sin(a)}
	}
	return p
}

// TestDepthIsByWinding: inside is where the border goes round a place once (its angle summed),
// and the depth the least distance to many places along the border.
func TestDepthIsByWinding(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 60 {
		p := star(r, 5+r.IntN(8))
		for range 40 {
			q := Flat{20*r.Float64() - 10, 20*r.Float64() - 10}
			turn, near := 0.0, math.Inf(1)
			for i, a := range p {
				b := p[(i+1)%len(p)]
				d := math.Atan2(b[1]-q[1], b[0]-q[0]) - math.Atan2(a[1]-q[1], a[0]-q[0])
				turn += math.Remainder(d, 2*math.Pi)
				for k := range 401 {
					f := float64(k) / 400
					near = min(near, math.Hypot(a[0]+f*(b[0]-a[0])-q[0], a[1]+f*(b[1]-a[1])-q[1]))
				}
			}
			got := p.Depth(q)
			if inside := math.Abs(turn) > math.Pi; inside != (got > 0) || math.Abs(math.Abs(got)-near) > 0.05 || math.Abs(got) > near+1e-12 {
				t.Fatalf("%v in %v: %v, want inside %v and %v", q, p, got, inside, near)
			}
		}
	}
}

// TestDepthInASquare: by hand, on corners, sides and rows of corners too.
func TestDepthInASquare(t *testing.T) {
	for _, p := range []Polygon{{{0, 0}, {4, 0}, {4, 4}, {0, 4}}, {{0, 4}, {4, 4}, {4, 0}, {0, 0}}, {{0, 0}, {2, 0}, {2, 0}, {4, 0}, {4, 4}, {0, 4}}} {
		for q, want := range map[Flat]float64{{2, 2}: 2, {1, 2}: 1, {5, 2}: -1, {2, 0}: 0, {4, 4}: 0, {7, 8}: -5, {-1, 0}: -1, {-1, 4}: -1, {3, 3.5}: 0.5} {
			if got := p.Depth(q); got != want {
				t.Errorf("%v: %v, want %v", q, got, want)
			}
		}
	}
	notch := Polygon{{0, 0}, {4, 0}, {4, 4}, {2, 1}, {0, 4}} // the corner at 2, 1 points down
	for q, inside := range map[Flat]bool{{0.5, 1}: true, {2, 0.5}: true, {2, 2}: false, {5, 1}: false, {-1, 1}: false} {
		if (notch.Depth(q) > 0) != inside {
			t.Errorf("%v: inside is not %v", q, inside)
		}
	}
	if d := (Polygon{}).Depth(Flat{}); !math.IsInf(d, -1) {
		t.Errorf("in nothing: %v", d)
	}
}

// TestAreaOfPolygons: a triangle, a square either way round, and figures about the origin cut into triangles.
func TestAreaOfPolygons(t *testing.T) {
	for want, p := range map[float64]Polygon{6: {{0, 0}, {4, 0}, {0, 3}}, 16: {{0, 0}, {4, 0}, {4, 4}, {0, 4}}, 1: {{5, 6}, {5, 5}, {6, 5}, {6, 6}}, 0: {{0, 0}, {1, 1}, {2, 2}}} {
		if got := p.Area(); got != want {
			t.Errorf("%v: %v, want %v", p, got, want)
		}
	}
	r := rand.New(rand.NewPCG(3, 4))
	for range 50 {
		p, want := star(r, 4+r.IntN(9)), 0.0
		for i, a := range p {
			b := p[(i+1)%len(p)]
			want += (a[0]*b[1] - b[0]*a[1]) / 2
		}
		if got := p.Area(); math.Abs(got-want) > 1e-12*(1+want) {
			t.Errorf("%v, want %v", got, want)
		}
	}
}

// TestCrossing: figures drawn by hand; a star does not cross itself, and does with two corners far
// enough apart changed about.
func TestCrossing(t *testing.T) {
	for name, c := range map[string]struct {
		p       Polygon
		crosses bool
	}{
		"square":                        {Polygon{{0, 0}, {1, 0}, {1, 1}, {0, 1}}, false},
		"straight corner":               {Polygon{{0, 0}, {1, 0}, {2, 0}, {2, 2}}, false},
		"bow tie":                       {Polygon{{0, 0}, {1, 1}, {1, 0}, {0, 1}}, true},
		"back the same way":             {Polygon{{0, 0}, {2, 0}, {1, 0}, {1, 1}}, true},
		"back at the end":               {Polygon{{0, 0}, {1, 1}, {2, 0}, {3, 0}}, true},
		"corner twice":                  {Polygon{{0, 0}, {1, 0}, {1, 0}, {0, 1}}, true},
		"touches a side from within":    {Polygon{{0, 0}, {4, 0}, {4, 4}, {2, 0}, {0, 4}}, true},
		"passes through a far corner":   {Polygon{{0, 0}, {4, 0}, {4, 4}, {0, 0}, {0, 4}}, true},
		"lies along a side":             {Polygon{{0, 0}, {6, 0}, {6, 3}, {4, 0}, {2, 0}, {1, 3}}, true},
		"points at a side, falls short": {Polygon{{0, 0}, {4, 0}, {4, 4}, {2, 0.5}, {0, 4}}, false},
		"in one line with a far side":   {Polygon{{0, 0}, {1, 0}, {1, 2}, {2, 2}, {2, 0}, {3, 0}, {3, 3}, {0, 3}}, false},
	} {
		for turn := range c.p {
			p := append(append(Polygon{}, c.p[turn:]...), c.p[:turn]...)
			if _, _, got := p.Crossing(); got != c.crosses {
				t.Errorf("%s from corner %d: %v", name, turn, got)
			}
		}
	}
	if i, j, ok := (Polygon{{0, 0}, {4, 4}, {4, 0}, {0, 4}}).Crossing(); !ok || i != 0 || j != 2 {
		t.Errorf("sides %d and %d", i, j)
	}
	r := rand.New(rand.NewPCG(5, 6))
	for range 100 {
		p := star(r, 8)
		if _, _, ok := p.Crossing(); ok {
			t.Fatalf("%v", p)
		}
		p[0], p[4] = p[4], p[0]
		if _, _, ok := p.Crossing(); !ok {
			t.Fatalf("not seen: %v", p)
		}
	}
}

// TestRoomiest: by hand, and never less room than at many places drawn at random.
func TestRoomiest(t *testing.T) {
	if at, room := (Polygon{{0, 0}, {6, 0}, {6, 4}, {0, 4}}).Roomiest(); math.Abs(room-2) > 0.01 || math.Abs(at[1]-2) > 0.01 {
		t.Errorf("%v at %v", room, at)
	}
	if at, _ := (Polygon{{0, 0}, {60, 0}, {60, 4}, {0, 4}}).Roomiest(); at.Dist(Flat{30, 2}) > 0.1 { // as much room in 56 units of its length
		t.Errorf("at %v", at)
	}
	if at, room := (Polygon{{0, 0}, {4, 0}, {0, 3}}).Roomiest(); math.Abs(room-1) > 0.01 || at.Dist(Flat{1, 1}) > 0.02 { // the circle in a 3-4-5 triangle
		t.Errorf("%v at %v", room, at)
	}
	r := rand.New(rand.NewPCG(7, 8))
	for range 12 {
		p := star(r, 7)
		at, room := p.Roomiest()
		if p.Depth(at) != room {
			t.Errorf("%v at %v", room, at)
		}
		for range 1000 {
			if q := (Flat{20*r.Float64() - 10, 20*r.Float64() - 10}); p.Depth(q) > room+0.25 { // half a step of the first grid, across
				t.Errorf("%v has %v, more than %v", q, p.Depth(q), room)
			}
		}
	}
	if _, room := (Polygon{}).Roomiest(); room != 0 {
		t.Error("room in nothing")
	}
}

// TestRoomiestNearTheMiddle: a unit off the middle is worth a thousandth of room. Two rooms on a neck of which the
// middle is at 240: at 20 with room h, worth h - 0.22, and from 310 on with room 10, worth 9.93; by hand the
// former counts from 10.15 on.
func TestRoomiestNearTheMiddle(t *testing.T) {
	for h, want := range map[float64]float64{10.14: 310, 10.16: 20} {
		p := Polygon{{0, -h}, {40, -h}, {40, -1}, {300, -1}, {300, -10}, {340, -10}, {340, -1}, {480, -1}, {480, 1}, {340, 1}, {340, 10}, {300, 10}, {300, 1}, {40, 1}, {40, h}, {0, h}}
		if at, room := p.Roomiest(); math.Abs(at[0]-want) > 10 || math.Abs(at[1]) > 0.1 || room < 9.9 {
			t.Errorf("%v: %v at %v, want it about %v", h, room, at, want)
		}
	}
}

// TestFromSide: the distance from a side is that of its nearest end beyond it, whichever way it goes.
func TestFromSide(t *testing.T) {
	a, b := Flat{1, 1}, Flat{5, 1}
	for q, want := range map[Flat]float64{{3, 4}: 3, {1, 3}: 2, {5, -3}: 4, {8, 5}: 5, {-2, -3}: 5, {3, 1}: 0, {6, 1}: 1} {
		if got, back := q.fromSide(a, b), q.fromSide(b, a); got != want || back != want {
			t.Errorf("%v: %v and %v, want %v", q, got, back, want)
		}
		if got := q.fromSide(a, a); got != q.Dist(a) {
			t.Errorf("%v from a side of no length: %v", q, got)
		}
	}
}

// TestMeet: sides of whole numbers that meet inside, at an end, along a piece or not at all, named in
// every order.
func TestMeet(t *testing.T) {
	for _, c := range []struct {
		s    [4]Flat
		want bool
	}{
		{[4]Flat{{0, 0}, {4, 4}, {0, 4}, {4, 0}}, true},
		{[4]Flat{{0, 0}, {4, 0}, {2, 0}, {2, 3}}, true},
		{[4]Flat{{0, 0}, {4, 0}, {4, 0}, {6, 3}}, true},
		{[4]Flat{{0, 0}, {4, 0}, {5, 0}, {6, 3}}, false},
		{[4]Flat{{0, 0}, {4, 0}, {2, 1}, {2, 3}}, false},
		{[4]Flat{{0, 0}, {4, 0}, {4, 0}, {6, 0}}, true},
		{[4]Flat{{0, 0}, {4, 0}, {5, 0}, {6, 0}}, false},
		{[4]Flat{{0, 0}, {9, 0}, {5, 0}, {6, 0}}, true},
		{[4]Flat{{0, 0}, {0, 4}, {0, 5}, {0, 6}}, false},
		{[4]Flat{{0, 0}, {0, 4}, {0, 3}, {0, 6}}, true},
		{[4]Flat{{0, 0}, {4, 0}, {0, 1}, {4, 1}}, false},
		{[4]Flat{{0, 0}, {4, 0}, {6, -1}, {6, 1}}, false},
	} {
		a, b, x, y := c.s[0], c.s[1], c.s[2], c.s[3]
		for k, got := range []bool{meet(a, b, x, y), meet(b, a, x, y), meet(a, b, y, x), meet(b, a, y, x), meet(x, y, a, b), meet(y, x, a, b), meet(x, y, b, a), meet(y, x, b, a)} {
			if got != c.want {
				t.Errorf("%v, order %d: %v", c.s, k, got)
			}
		}
	}
}
