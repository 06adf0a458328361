package mesh

import (
	"errors"
	"math"
	"slices"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// Of points that became one only those stay together whose triangles hang together over an edge
// there; of a point put into an edge it is the same. By hand: two triangles that share a corner
// alone, then a side, and four of which two and two share a side.
func TestWhatHangsTogetherOnlyAtCorners(t *testing.T) {
	mending := func(m *Mesh, groups [][]int32, puts ...putPoint) *mender {
		w := &mender{m: m, adj: newAdjacency(m), tol: 0.5, of: map[int32]int32{}, left: map[int32]string{}, group: groups, put: puts}
		w.free = newFreeEdges(m, &w.adj)
		for g := range groups {
			for _, v := range groups[g] {
				w.of[v] = int32(g)
			}
		}
		return w
	}
	corner := &Mesh{Points: []geom.Vec{{0, 0, 0}, {-4, 1, 0}, {-4, -1, 0}, {0.25, 0, 0}, {4, -1, 0}, {4, 1, 0}}, Faces: [][3]int32{{0, 1, 2}, {3, 4, 5}}}
	w := mending(corner, [][]int32{{0, 3}})
	if !w.regroup(w.draft()) || w.groupOf(0) >= 0 || w.groupOf(3) >= 0 || w.left[0] != leftPoint || w.left[3] != leftPoint {
		t.Errorf("a corner alone: %v, left %v", w.group, w.left)
	}
	if w.regroup(w.draft()) {
		t.Error("what was taken apart is taken apart again")
	}
	side := &Mesh{Points: []geom.Vec{{0, 0, 0}, {0, 4, 0}, {-4, 2, 0}, {0.25, 0, 0}, {4, 2, 0}, {0.25, 4, 0}}, Faces: [][3]int32{{0, 1, 2}, {3, 4, 5}}}
	w = mending(side, [][]int32{{0, 3}, {1, 5}})
	if w.regroup(w.draft()) || w.groupOf(0) != 0 || w.groupOf(5) != 1 || len(w.left) > 0 {
		t.Errorf("a side: %v, left %v", w.group, w.left)
	}
	// a left pair and a right pair of triangles, each over its own side, in one point
	pairs := &Mesh{Points: []geom.Vec{
		{-1, 0, 0}, {-4, 0, 0}, {-4, 3, 0}, {-1, 0.1, 0}, {-4, -3, 0}, {-4, 0.1, 0},
		{1, 0, 0}, {4, 3, 0}, {4, 0, 0}, {1, 0.1, 0}, {4, 0.1, 0}, {4, -3, 0}},
		Faces: [][3]int32{{0, 2, 1}, {3, 5, 4}, {6, 8, 7}, {9, 11, 10}}}
	w = mending(pairs, [][]int32{{0, 3, 6, 9}, {1, 5}, {8, 10}})
	if !w.regroup(w.draft()) || w.groupOf(0) < 0 || w.groupOf(0) != w.groupOf(3) || w.groupOf(6) < 0 || w.groupOf(6) != w.groupOf(9) || w.groupOf(0) == w.groupOf(6) || len(w.left) > 0 {
		t.Errorf("two pairs: %v of %v, left %v", w.group, w.of, w.left)
	}
	if w.regroup(w.draft()) {
		t.Error("pairs that hang together are taken apart")
	}
	// a corner in the middle of an edge: nothing closes unless another side goes on from there
	edge := &Mesh{Points: []geom.Vec{{-4, 0, 0}, {4, 0, 0}, {0, 5, 0}, {0, -0.1, 0}, {-2, -5, 0}, {2, -5, 0}}, Faces: [][3]int32{{0, 1, 2}, {3, 4, 5}}}
	into := func(w *mender, m *Mesh) (at putPoint) {
		for i, h := range w.free.half {
			if u, v := m.halfEnds(h); u == 0 && v == 1 {
				return putPoint{edge: int32(i), point: 3, share: 0.5}
			}
		}
		t.Fatal("no such edge")
		return at
	}
	w = mending(edge, nil)
	w.put = []putPoint{into(w, edge)}
	if !w.regroup(w.draft()) || len(w.put) > 0 {
		t.Errorf("a corner in an edge: %v", w.put)
	}
	joint := &Mesh{Points: []geom.Vec{{-4, 0, 0}, {4, 0, 0}, {0, 5, 0}, {0, 0, 0}, {-4, 0, 0}, {0, -5, 0}, {4, 0, 0}}, Faces: [][3]int32{{0, 1, 2}, {3, 4, 5}, {6, 3, 5}}}
	w = mending(joint, [][]int32{{0, 4}, {1, 6}})
	w.put = []putPoint{into(w, joint)}
	if w.regroup(w.draft()) || len(w.put) != 1 {
		t.Errorf("a T-joint: %v", w.put)
	}
}

// Two sides that begin beside each other run along each other when the end of the shorter lies
// within the tolerance of the longer, at it too; of equals the first counts as the shorter. By hand:
// (3, 4) is 4 off the side along x, and the end of that is 4.8 off the one through (3, 4).
func TestSidesAlongsideByHand(t *testing.T) {
	o := geom.Vec{}
	for _, c := range []struct {
		p, n, q, o geom.Vec
		tol        float64
		want       bool
	}{
		{o, geom.Vec{3, 4, 0}, geom.Vec{1, 0, 0}, geom.Vec{6, 0, 0}, 4, true}, {o, geom.Vec{3, 4, 0}, geom.Vec{1, 0, 0}, geom.Vec{6, 0, 0}, 3.999, false},
		{geom.Vec{1, 0, 0}, geom.Vec{6, 0, 0}, o, geom.Vec{3, 4, 0}, 4.5, false}, {geom.Vec{1, 0, 0}, geom.Vec{6, 0, 0}, o, geom.Vec{3, 4, 0}, 4.81, true},
		{o, geom.Vec{8, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{3, 1, 0}, 1, true}, {geom.Vec{0, 1, 0}, geom.Vec{3, 1, 0}, o, geom.Vec{8, 0, 0}, 1, true},
		{o, geom.Vec{8, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{3, 1.5, 0}, 1, false},
	} {
		w := &mender{tol: c.tol}
		if got := w.alongside(c.p, c.n, c.q, c.o); got != c.want {
			t.Errorf("%+v: %t", c, got)
		}
	}
}

// A face keeps its label where another would make its border as long: of a square of four triangles
// about its middle each has two neighbours over sides of the same length.
func TestSmoothingKeepsEqualBorders(t *testing.T) {
	m := &Mesh{Points: []geom.Vec{{0, 0, 0}, {2, 0, 0}, {2, 2, 0}, {0, 2, 0}, {1, 1, 0}}, Faces: [][3]int32{{0, 1, 4}, {1, 2, 4}, {2, 3, 4}, {3, 0, 4}}}
	for _, c := range []struct{ label, want []int32 }{
		{[]int32{1, 1, 2, 2}, []int32{1, 1, 2, 2}}, {[]int32{2, 1, 1, 2}, []int32{2, 1, 1, 2}},
		{[]int32{1, 2, 1, 2}, []int32{2, 2, 1, 2}}, // one has both neighbours against it; then the last of its label is left
		{[]int32{1, 1, 1, 2}, []int32{1, 1, 1, 2}}, {[]int32{2, 1, 1, 1}, []int32{2, 1, 1, 1}},
	} {
		m.Label = c.label
		got, err := surfaceOf(t, m).SmoothLabels(1, 10)
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%v: %v %v, want %v", c.label, got, err, c.want)
		}
	}
	// over a sharp edge nothing is saved
	fold := &Mesh{Points: []geom.Vec{{0, 0, 0}, {2, 0, 0}, {1, 1, 0}, {1, -1, 0}, {1, 0, 5}}, Faces: [][3]int32{{0, 1, 2}, {1, 0, 3}}, Label: []int32{1, 2}}
	var told *diag.Error
	if got, err := surfaceOf(t, fold).SmoothLabels(1, 10); err != nil || !slices.Equal(got, fold.Label) || errors.As(err, &told) {
		t.Errorf("%v %v", got, err)
	}
}

// A ray from nowhere, or without a direction, meets nothing, in a small mesh and in a large one.
func TestRaysThatAreNone(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, m := range []*Mesh{boxMesh(2, 2, 2), bumpyTorus(24, 16, 3)} {
		s := surfaceOf(t, m)
		in := geom.Vec{1, 1, 1}
		for _, c := range [][2]geom.Vec{
			{in, {}}, {in, {nan, 0, 1}}, {in, {0, nan, 1}}, {in, {1, 0, nan}}, {in, {inf, 0, 1}}, {in, {0, -inf, 0}},
			{{nan, 1, 1}, {0, 0, 1}}, {{1, nan, 1}, {0, 0, 1}}, {{1, 1, nan}, {0, 0, 1}}, {{inf, 1, 1}, {-1, 0, 0}}, {{1, 1, -inf}, {0, 0, 1}},
		} {
			if h, ok := s.FirstHit(c[0], c[1]); ok || len(s.Ray(c[0], c[1])) > 0 {
				t.Errorf("from %v along %v: %+v", c[0], c[1], h)
			}
		}
	}
}

// A hit is one with an earlier one at the same place when both come from the same side and their
// faces share a point, whatever was met in between; not beyond a billionth of the way.
func TestSameCrossingSeenAgain(t *testing.T) {
	s := surfaceOf(t, boxMesh(2, 2, 2)) // faces 0 and 1 are its floor, 2 and 3 its ceiling
	at := func(face int, mm float64, front bool) Hit { return Hit{Site{Face: face}, mm, front} }
	for _, c := range []struct {
		hits []Hit
		h    Hit
		want bool
	}{
		{nil, at(0, 1, true), false}, {[]Hit{at(0, 1, true)}, at(1, 1, true), true}, {[]Hit{at(0, 1, true)}, at(1, 1, false), false}, {[]Hit{at(0, 1, true)}, at(2, 1, true), false},
		{[]Hit{at(0, 1, true), at(2, 1, false)}, at(1, 1, true), true}, {[]Hit{at(0, 1, true), at(2, 1, true)}, at(1, 1, true), true},
		{[]Hit{at(0, 1, true)}, at(1, 1+1e-9, true), true}, {[]Hit{at(0, 1, true)}, at(1, 1+3e-9, true), false}, {[]Hit{at(0, 1000, true)}, at(1, 1000+9e-7, true), true},
	} {
		if got := s.repeats(c.hits, c.h); got != c.want {
			t.Errorf("%+v after %+v: %t", c.h, c.hits, got)
		}
	}
}
