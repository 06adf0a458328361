package mesh

import (
	"fmt"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// Two faces that meet are told with the smaller one first and a place that both have, whichever
// corner each begins with and whichever is numbered first. Constructed on whole numbers; where
// they have one place in common alone, it is that.
func TestWhereTwoFacesMeet(t *testing.T) {
	flat := []geom.Vec{{0, 0, 0}, {8, 0, 0}, {0, 8, 0}}
	for _, c := range []struct {
		name   string
		points []geom.Vec // after those of the flat face
		other  [3]int32
		meet   bool
		only   *geom.Vec
	}{
		{"the same corners", nil, [3]int32{2, 1, 0}, true, nil},
		{"folded, the tip nearer to the edge", []geom.Vec{{2, 4, 0}}, [3]int32{0, 1, 3}, true, nil},
		{"folded, the tip as near", []geom.Vec{{4, 8, 0}}, [3]int32{0, 1, 3}, true, nil},
		{"folded, the tip far beside the face", []geom.Vec{{40, 2, 0}}, [3]int32{0, 1, 3}, true, nil},
		{"on the other side of the edge", []geom.Vec{{2, -4, 0}}, [3]int32{0, 1, 3}, false, nil},
		{"upright on the edge", []geom.Vec{{2, 0, 4}}, [3]int32{0, 1, 3}, false, nil},
		{"through it behind a corner", []geom.Vec{{2, 3, -2}, {2, 3, 2}}, [3]int32{0, 3, 4}, true, &geom.Vec{2, 3, 0}},
		{"touching it behind a corner", []geom.Vec{{2, 3, 0}, {2, 3, 2}}, [3]int32{0, 3, 4}, true, nil},
		{"beside it at a corner", []geom.Vec{{-2, -3, 0}, {2, 3, 2}}, [3]int32{0, 3, 4}, false, nil},
		{"pierced by it behind a corner", []geom.Vec{{8, 8, -8}, {8, 8, 8}}, [3]int32{0, 3, 4}, true, &geom.Vec{4, 4, 0}},
		{"a corner on it", []geom.Vec{{2, 1, 0}, {2, 1, 5}, {3, 1, 5}}, [3]int32{3, 4, 5}, true, &geom.Vec{2, 1, 0}},
		{"a corner on its edge", []geom.Vec{{3, 0, 0}, {3, -1, 5}, {3, -2, 5}}, [3]int32{3, 4, 5}, true, &geom.Vec{3, 0, 0}},
		{"a corner on its corner", []geom.Vec{{8, 0, 0}, {9, 0, 5}, {9, 0, 6}}, [3]int32{3, 4, 5}, true, &geom.Vec{8, 0, 0}},
		{"a corner above it", []geom.Vec{{2, 1, 1}, {2, 1, 5}, {3, 1, 5}}, [3]int32{3, 4, 5}, false, nil},
		{"through its plane beside it", []geom.Vec{{9, 9, -1}, {9, 9, 5}, {10, 9, 5}}, [3]int32{3, 4, 5}, false, nil},
		{"flat within it", []geom.Vec{{1, 1, 0}, {2, 1, 0}, {1, 2, 0}}, [3]int32{3, 4, 5}, true, nil},
		{"flat about it", []geom.Vec{{-9, -9, 0}, {30, -9, 0}, {-9, 30, 0}}, [3]int32{3, 4, 5}, true, nil},
		{"flat across its corner", []geom.Vec{{-1, 2, 0}, {2, -1, 0}, {-9, -9, 0}}, [3]int32{3, 4, 5}, true, nil},
		{"flat across a far end of its edge", []geom.Vec{{7, -1, 0}, {7, 2, 0}, {90, 0, 0}}, [3]int32{3, 4, 5}, true, nil},
		{"flat beside it", []geom.Vec{{9, 0, 0}, {12, 0, 0}, {9, 5, 0}}, [3]int32{3, 4, 5}, false, nil},
		{"above it", []geom.Vec{{0, 0, 1}, {8, 0, 1}, {0, 8, 1}}, [3]int32{3, 4, 5}, false, nil},
	} {
		for turn := range 18 {
			i, k, first := turn%3, turn/3%3, turn/9
			one, two := [3]int32{0, 1, 2}, c.other
			one, two = [3]int32{one[i], one[(i+1)%3], one[(i+2)%3]}, [3]int32{two[k], two[(k+1)%3], two[(k+2)%3]}
			m := &Mesh{Points: slices.Concat(flat, c.points), Faces: [][3]int32{one, two}}
			if first == 1 {
				slices.Reverse(m.Faces)
			}
			list, n, whole := m.Contacts(0)
			if !whole || len(list) != n || (n == 1) != c.meet || n > 1 {
				t.Fatalf("%s, turned %d: %v, %d, all looked at %v", c.name, turn, list, n, whole)
			}
			if !c.meet {
				continue
			}
			at := list[0].At
			if list[0].Faces != [2]int32{0, 1} || c.only != nil && at.Dist(*c.only) > 1e-12 {
				t.Errorf("%s, turned %d: %v, want it at %v", c.name, turn, list[0], c.only)
			}
			for f := range m.Faces {
				p, q, o := m.corners(f)
				if d := nearBySides(at, p, q, o).Dist(at); d > 1e-12 {
					t.Errorf("%s, turned %d: told at %v, which is %g off face %d", c.name, turn, at, d, f)
				}
			}
		}
	}
}

// What counts as touching goes by the largest coordinate of all faces, whichever corner, axis and
// sign it has: a billionth of a thousandth of it (our choice, no source). Faces without area are
// held against none.
func TestTouchingGoesByTheLargestCoordinate(t *testing.T) {
	const far = 1 << 16 // 65536 mm: what is nearer than 6.6e-8 mm touches
	pair := func(gap float64) *Mesh {
		one := &Mesh{Points: []geom.Vec{{0, 0, 0}, {8, 0, 0}, {0, 8, 0}}, Faces: [][3]int32{{0, 1, 2}}}
		return joined(one, shifted(one, geom.Vec{1, 1, gap}))
	}
	for _, gap := range []float64{4e-8, 9e-8} {
		if _, n, _ := pair(gap).Contacts(0); n != 0 {
			t.Errorf("a gap of %g among small coordinates: %d contacts", gap, n)
		}
		for k := range 18 {
			corner, axis, sign := k%3, k/3%3, float64(1-2*(k/9))
			third := &Mesh{Points: []geom.Vec{{20, 20, 20}, {21, 20, 20}, {20, 21, 22}}, Faces: [][3]int32{{0, 1, 2}}}
			third.Points[corner][axis] = sign * far
			if _, n, _ := joined(pair(gap), third).Contacts(0); (n == 1) != (gap < far*contactRel) {
				t.Errorf("a gap of %g, corner %d far along axis %d (%g): %d contacts", gap, corner, axis, sign, n)
			}
		}
	}
	m := pair(0)
	m.Faces = append(m.Faces, [3]int32{0, 0, 4}, [3]int32{0, 4, 4})
	m.Points = append(m.Points, geom.Vec{2, 2, 0})
	m.Points[4] = geom.Vec{4, 4, 0} // 0, 4 and the last lie on one line through the first face
	m.Points[3], m.Points[5] = geom.Vec{40, 40, 0}, geom.Vec{40, 44, 0}
	m.Faces = append(m.Faces, [3]int32{0, 6, 4})
	if list, n, _ := m.Contacts(0); n != 1 || list[0].Faces != [2]int32{0, 1} {
		t.Errorf("with faces without area: %v", list)
	}
}

// So many pairs of faces are looked at: 300000 and 100 a face (our choice, no source). Of k faces
// upon one another each overlaps k, and the last is looked at while k (k-1) <= 300000 + 100 k.
func TestSoManyPairsAreLookedAt(t *testing.T) {
	for k, want := range map[int]bool{600: true, 601: false} {
		m := &Mesh{Points: []geom.Vec{{}, {9, 0, 0}, {0, 9, 0}}, Faces: slices.Repeat([][3]int32{{0, 1, 2}}, k)}
		list, n, whole := m.Contacts(3)
		pairs := k * (k - 1) / 2 // the last face is the larger of every pair it has
		if whole != want || n != pairs || fmt.Sprint(list) != "[{[0 1] [0 0 0]} {[0 2] [0 0 0]} {[0 3] [0 0 0]}]" {
			t.Errorf("%d faces: %d contacts %v, all looked at %v", k, n, list, whole)
		}
	}
}
