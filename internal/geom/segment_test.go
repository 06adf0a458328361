package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// leastShare is the share of a way at which a convex function is least, by
// halving in the golden ratio.
func leastShare(f func(t float64) float64) float64 {
	lo, hi := 0.0, 1.0
	for range 90 {
		a, b := hi-(hi-lo)*0.6180339887498949, lo+(hi-lo)*0.6180339887498949
		if f(a) <= f(b) {
			hi = b
		} else {
			lo = a
		}
	}
	return (lo + hi) / 2
}

// The distance of two segments against a search in both shares that knows
// nothing but distances: seeded, and awkward on purpose: points, parallel,
// nearly parallel, in one line, crossing, of very different lengths, far away.
func TestSegmentsDistAgainstSearch(t *testing.T) {
	for seed := range uint64(200) {
		r := rand.New(rand.NewPCG(seed, 3))
		v := func() Vec { return Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()} }
		p, q, x, y := v(), v(), v(), v()
		switch seed % 10 {
		case 1:
			q = p
		case 2:
			y = x
		case 3:
			q, y = p, x
		case 4: // parallel
			y = x.Add(q.Sub(p).Scale(r.NormFloat64()))
		case 5: // nearly parallel
			y = x.Add(q.Sub(p)).Add(v().Scale(1e-7))
		case 6: // in one line
			x, y = p.Lerp(q, 3*r.NormFloat64()), p.Lerp(q, 3*r.NormFloat64())
		case 7: // crossing
			m := p.Lerp(q, r.Float64())
			y = m.Add(m.Sub(x).Scale(r.Float64()))
		case 8: // very different lengths
			y = x.Add(v().Scale(1e-4))
			q = p.Add(v().Scale(1e3))
		case 9: // in vehicle coordinates
			far := Vec{4000, -900, 700}
			p, q, x, y = p.Add(far), q.Add(far), x.Add(far), y.Add(far)
		}
		to := func(s float64) float64 {
			at := p.Lerp(q, s)
			u := leastShare(func(u float64) float64 { return at.Dist(x.Lerp(y, u)) })
			return at.Dist(x.Lerp(y, u))
		}
		best := min(to(0), to(1), to(leastShare(to)))
		got := SegmentsDist(p, q, x, y)
		if math.Abs(got-best) > 2e-7*(1+best) { // a search by distances is good to half the digits near 0
			t.Errorf("seed %d: %.12g, by search %.12g", seed, got, best)
		}
		if back := SegmentsDist(y, x, q, p); math.Abs(back-got) > 1e-9*(1+got) {
			t.Errorf("seed %d: %.15g one way, %.15g the other", seed, got, back)
		}
		a, b := NearestOnSegments(p, q, x, y)
		if d := a.Dist(NearestOnSegment(a, p, q)) + b.Dist(NearestOnSegment(b, x, y)); d > 1e-9*(1+p.Dist(q)+x.Dist(y)) {
			t.Errorf("seed %d: the points lie %g off their segments", seed, d)
		}
	}
}

// Worked out by hand.
func TestSegmentsDistByHand(t *testing.T) {
	for _, c := range []struct {
		name       string
		p, q, x, y Vec
		want       float64
	}{
		{"crossing in the middle, 3 apart", Vec{-1, 0, 0}, Vec{1, 0, 0}, Vec{0, -1, 3}, Vec{0, 1, 3}, 3},
		{"parallel, side by side", Vec{0, 0, 0}, Vec{10, 0, 0}, Vec{4, 2, 0}, Vec{6, 2, 0}, 2},
		{"parallel, one after the other", Vec{0, 0, 0}, Vec{10, 0, 0}, Vec{13, 4, 0}, Vec{20, 4, 0}, 5},
		{"in one line, overlapping", Vec{0, 0, 0}, Vec{10, 0, 0}, Vec{9, 0, 0}, Vec{12, 0, 0}, 0},
		{"in one line, apart", Vec{0, 0, 0}, Vec{10, 0, 0}, Vec{12, 0, 0}, Vec{11, 0, 0}, 1},
		{"a common end", Vec{0, 0, 0}, Vec{1, 2, 3}, Vec{1, 2, 3}, Vec{5, 5, 5}, 0},
		{"two points", Vec{1, 1, 1}, Vec{1, 1, 1}, Vec{1, 4, 5}, Vec{1, 4, 5}, 5},
		{"a point and a segment", Vec{5, 3, 0}, Vec{5, 3, 0}, Vec{0, 0, 0}, Vec{10, 0, 0}, 3},
		{"long and nearly parallel", Vec{0, 0, 0}, Vec{1e6, 0, 0}, Vec{0, 1, 0}, Vec{1e6, 1 + 1e-6, 0}, 1},
	} {
		if got := SegmentsDist(c.p, c.q, c.x, c.y); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %.12g, want %g", c.name, got, c.want)
		}
	}
}

// Passing over segments by their middles changes no least distance.
func TestNearerSegmentsKeepsTheLeast(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 4))
	point := func(size float64) Vec {
		return Vec{size * r.NormFloat64(), size * r.NormFloat64(), size * r.NormFloat64()}
	}
	for range 2000 {
		p, q := point(20), point(20)
		want, got := math.Inf(1), math.Inf(1)
		for range 12 {
			a := point(40)
			b := a.Add(point(8))
			want = min(want, SegmentsDist(p, q, a, b))
			got = NearerSegments(got, p, q, a, b)
		}
		if got != want {
			t.Fatalf("least distance %v, of all %v", got, want)
		}
	}
}

// The tree finds the very least that looking at every segment finds: seeded,
// lines, points, equal segments, and none at all.
func TestSegmentsFindTheLeast(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 9))
		point := func(size float64) Vec {
			return Vec{size * r.NormFloat64(), size * r.NormFloat64(), size * r.NormFloat64()}
		}
		var ends [][2]Vec
		for range r.IntN(300) {
			a := point(100)
			switch r.IntN(4) {
			case 0:
				ends = append(ends, [2]Vec{a, a})
			case 1:
				ends = append(ends, [2]Vec{{1, 2, 3}, {4, 5, 6}})
			default:
				ends = append(ends, [2]Vec{a, a.Add(point(9))})
			}
		}
		s := NewSegments(ends)
		for range 40 {
			p := point(120)
			q := p.Add(point(10))
			want := math.Inf(1)
			for _, e := range ends {
				want = min(want, SegmentsDist(p, q, e[0], e[1]))
			}
			if got := s.Nearer(math.Inf(1), p, q); got != want {
				t.Fatalf("seed %d: %v, of all %v", seed, got, want)
			}
			if got := s.Nearer(want/2, p, q); got != want/2 {
				t.Fatalf("seed %d: nearer than half: %v", seed, got)
			}
		}
	}
	line := NewLines([][]Vec{{{0, 0, 0}, {10, 0, 0}, {10, 10, 0}}, {{50, 0, 0}}, nil})
	if got := line.Nearer(math.Inf(1), Vec{47, 4, 0}, Vec{47, 4, 0}); got != 5 {
		t.Errorf("to a line of one point: %g", got)
	}
}

// The least ones come first, in orders that lead a bad choice of the middle astray too.
func TestSelectAlongPutsTheLeastFirst(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	for n := 1; n < 400; n += 1 + n/7 {
		for k, of := range []func(i int) float64{
			func(i int) float64 { return float64(i) }, func(i int) float64 { return -float64(i) }, func(int) float64 { return 1 },
			func(i int) float64 { return float64(min(i, n-i)) }, func(i int) float64 { return float64(i % 3) }, func(int) float64 { return r.NormFloat64() },
			func(i int) float64 { return float64(i ^ (i >> 1)) },
		} {
			ends := make([][2]Vec, n)
			for i := range ends {
				ends[i] = [2]Vec{{0, of(i), 0}, {0, float64(i % 2), 0}}
			}
			at := r.IntN(n + 1)
			selectAlong(ends, at, 1)
			most, least := math.Inf(-1), math.Inf(1)
			for i, e := range ends {
				if v := e[0][1] + e[1][1]; i < at {
					most = max(most, v)
				} else {
					least = min(least, v)
				}
			}
			if most > least {
				t.Fatalf("order %d of %d: one of the first %d is %g, one behind is %g", k, n, at, most, least)
			}
		}
	}
}
