package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The tree halves its segments across the longest side of their box, and finds the very least where
// many are almost as near: all are on a ball, one of them a ten-millionth of a millimetre nearer.
func TestSegmentTree(t *testing.T) {
	rng := rand.New(rand.NewPCG(101, 0))
	var ends [][2]Vec
	for range 400 {
		p := Vec{900 * rng.Float64(), 300 * rng.Float64(), 40 * rng.Float64()}
		ends = append(ends, [2]Vec{p, p.Add(Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})})
	}
	given := append([][2]Vec(nil), ends...)
	s := NewSegments(ends)
	for i := range ends {
		if ends[i] != given[i] {
			t.Fatal("the list given was put in another order")
		}
	}
	leaves := int32(0)
	for at, n := range s.nodes {
		lo, hi := s.ends[n.first][0], s.ends[n.first][0]
		for _, e := range s.ends[n.first:n.last] {
			for _, p := range e {
				for k := range p {
					lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
				}
			}
		}
		if n.lo != lo || n.hi != hi {
			t.Fatalf("node %d: box %v to %v, want %v to %v", at, n.lo, n.hi, lo, hi)
		}
		if n.other == 0 {
			if leaves += n.last - n.first; n.last-n.first > leafSegments || n.last == n.first {
				t.Errorf("a leaf of %d", n.last-n.first)
			}
			continue
		}
		if n.last-n.first <= leafSegments {
			t.Errorf("a node of %d is halved", n.last-n.first)
		}
		low, high := s.nodes[at+1], s.nodes[n.other]
		if low.first != n.first || low.last != high.first || high.last != n.last || (low.last-low.first)-(high.last-high.first) > 0 || (high.last-high.first)-(low.last-low.first) > 1 {
			t.Errorf("node %d of %d to %d: halves %d to %d and %d to %d", at, n.first, n.last, low.first, low.last, high.first, high.last)
		}
		axis := 0
		for k := range hi {
			if hi[k]-lo[k] > hi[axis]-lo[axis] {
				axis = k
			}
		}
		most, least := math.Inf(-1), math.Inf(1)
		for _, e := range s.ends[low.first:low.last] {
			most = max(most, e[0][axis]+e[1][axis])
		}
		for _, e := range s.ends[high.first:high.last] {
			least = min(least, e[0][axis]+e[1][axis])
		}
		if most > least {
			t.Errorf("node %d is not cut across its longest side", at)
		}
	}
	if leaves != 400 {
		t.Errorf("%d segments in leaves", leaves)
	}
	if s.Bytes() != 48*cap(s.ends)+64*cap(s.nodes) || s.Bytes() < 400*48 {
		t.Errorf("%d bytes", s.Bytes())
	}
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(102, seed))
		var ends [][2]Vec
		least := math.Inf(1)
		for range 60 {
			u := Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Unit().Scale(100 + float64(1e-10*rng.Float64()))
			ends = append(ends, [2]Vec{u, u})
			least = min(least, u.Norm())
		}
		if got := NewSegments(ends).Nearer(math.Inf(1), Vec{}, Vec{}); got != least {
			t.Errorf("seed %d: %v, want %v", seed, got, least)
		}
	}
	if got := NewSegments(nil).Nearer(7, Vec{}, Vec{}); got != 7 {
		t.Errorf("of none: %g", got)
	}
	one := NewLines([][]Vec{{{0, 3, 4}}})
	if got := one.Nearer(5.1, Vec{}, Vec{}); got != 5 {
		t.Errorf("of one point: %g", got)
	}
	if got := one.Nearer(4.9, Vec{}, Vec{}); got != 4.9 {
		t.Errorf("not nearer than what is known: %g", got)
	}
	if got := NewLines([][]Vec{{{0, 0, 0}, {8, 0, 0}}, {{8, 6, 0}, {20, 6, 0}}}).Nearer(99, Vec{14, 2, 0}, Vec{14, 2, 0}); got != 4 {
		t.Errorf("from the second line %g, want 4", got)
	}
	if got := NewLines([][]Vec{{{0, 0, 0}, {8, 0, 0}}, {{8, 6, 0}, {20, 6, 0}}}).Nearer(99, Vec{8, 3, 0}, Vec{8, 3, 0}); got != 3 { // nothing leads from one to the next
		t.Errorf("between the lines %g, want 3", got)
	}
}

// Worked out by hand: lengths, places on a segment, and which of equal distances counts.
func TestNearestPlacesByHand(t *testing.T) {
	if got := PolylineLength([]Vec{{0, 0, 0}, {3, 4, 0}, {3, 4, 12}, {3, 4, 0}}); got != 29 {
		t.Errorf("length %g, want 5 + 12 + 12", got)
	}
	if PolylineLength(nil) != 0 || PolylineLength([]Vec{{1, 2, 3}}) != 0 {
		t.Error("a point has a length")
	}
	a, b := Vec{0, 0, 0}, Vec{10, 0, 0}
	for _, c := range []struct{ p, want Vec }{{Vec{4, 3, 0}, Vec{4, 0, 0}}, {Vec{-4, 3, 0}, a}, {Vec{14, 3, 0}, b}} {
		if got := NearestOnSegment(c.p, a, b); got != c.want {
			t.Errorf("%v: %v, want %v", c.p, got, c.want)
		}
	}
	if got := NearestOnSegment(Vec{9, 9, 9}, b, b); got != b {
		t.Errorf("on a point: %v", got)
	}
	// parallel and side by side all places are as near: that from the first end comes first
	on1, on2 := NearestOnSegments(a, b, Vec{-5, 2, 0}, Vec{15, 2, 0})
	if on1 != a || on2 != (Vec{0, 2, 0}) {
		t.Errorf("%v and %v, want those at the first end", on1, on2)
	}
	if got := NearerSegments(3, a, b, Vec{5, 3, 0}, Vec{5, 9, 0}); got != 3 {
		t.Errorf("as near as what is known: %g", got)
	}
	if got := NearerSegments(3.1, a, b, Vec{5, 3, 0}, Vec{5, 9, 0}); got != 3 {
		t.Errorf("nearer than what is known: %g", got)
	}
}
