package mesh

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// A refusal names what is wrong, where, and what would be right. Each message is held whole, with
// another number in every place of it.
func TestRefusalsOfMeshesInFull(t *testing.T) {
	const finite, index = "every coordinate must be a finite number of millimetres", "indices run from 0 to the number of points less one"
	spoilt := func(spoil func(m *Mesh)) *Mesh {
		m := boxMesh(1, 2, 3)
		spoil(m)
		return m
	}
	type refusal struct {
		m         *Mesh
		msg, hint string
	}
	list := []refusal{
		{&Mesh{Points: []geom.Vec{{}}}, "the mesh has no faces", "a surface needs at least one triangle"},
		{spoilt(func(m *Mesh) { m.Label = make([]int32, 3) }), "3 labels for 12 faces", "give one label per face, or none"},
		{spoilt(func(m *Mesh) { m.Label = []int32{} }), "0 labels for 12 faces", "give one label per face, or none"},
		{spoilt(func(m *Mesh) { m.Faces[9][1], m.Faces[11][2] = 8, 9 }), "face 9 names point 8 of 8", index},
		{spoilt(func(m *Mesh) { m.Faces[2][0] = -1 }), "face 2 names point -1 of 8", index},
		{spoilt(func(m *Mesh) { m.Faces[5][2] = 100 }), "face 5 names point 100 of 8", index},
	}
	for k := range 3 {
		list = append(list,
			refusal{spoilt(func(m *Mesh) { m.Points[3][k] = math.NaN() }), "point 3 has a coordinate that is not a finite number", finite},
			refusal{spoilt(func(m *Mesh) { m.Points[0][k] = math.Inf(-1) }), "point 0 has a coordinate that is not a finite number", finite},
			refusal{spoilt(func(m *Mesh) { m.Points[7][k] = math.Inf(1) }), "point 7 has a coordinate that is not a finite number", finite},
			refusal{spoilt(func(m *Mesh) { m.Points[6][k] = math.Nextafter(maxCoordMM, 2*maxCoordMM) }), "point 6 lies more than 1000 km from the origin", "check the unit of the file"},
			refusal{spoilt(func(m *Mesh) { m.Points[5][k] = -2 * maxCoordMM }), "point 5 lies more than 1000 km from the origin", "check the unit of the file"})
	}
	for _, c := range list {
		var told *diag.Error
		if err := c.m.Check(); !errors.As(err, &told) || told.Kind != diag.Invalid || told.Msg != c.msg || told.Hint != c.hint {
			t.Errorf("%v, want %q and %q", err, c.msg, c.hint)
		}
	}
}

// A part may be 100 m long to the bit, along each axis, wherever it lies within 1000 km; points
// that no face uses do not count. Of a longer one the point farthest from the median is told.
func TestHowLargeAMeshMayBe(t *testing.T) {
	for k := range 3 {
		box := boxMesh(1, 2, 3)
		for i := range box.Points {
			if box.Points[i][k] > 0 {
				box.Points[i][k] = maxPartMM
			}
		}
		if err := box.Check(); err != nil {
			t.Errorf("100 m along axis %d: %v", k, err)
		}
		for i := range box.Points {
			box.Points[i][k] -= maxCoordMM
		}
		if err := box.Check(); err != nil {
			t.Errorf("100 m at the end of what may be, along axis %d: %v", k, err)
		}
		box.Points = append(box.Points, geom.Vec{maxCoordMM, -maxCoordMM, maxCoordMM})
		if err := box.Check(); err != nil {
			t.Errorf("a point beside it that no face uses: %v", err)
		}
		// along axis k: one place 60 m below the others, one 260 m above; the median of the corners is 30 m
		long := &Mesh{Faces: [][3]int32{{1, 2, 3}, {2, 1, 0}, {3, 2, 5}, {4, 4, 4}}}
		for _, at := range []float64{-50000, 10000, 20000, 30000, 40000, 300000} {
			p := geom.Vec{10, 20, 30}
			p[k] = at
			long.Points = append(long.Points, p)
		}
		far := long.Points[5]
		want := fmt.Sprintf("the part is 350 m long: point 5 at %g, %g, %g lies 270 m from most others", far[0], far[1], far[2])
		var told *diag.Error
		if err := long.Check(); !errors.As(err, &told) || told.Msg != want || told.Hint != "a part may be 100 m long; take the point out, or check the unit of the file" {
			t.Errorf("%v, want %q", err, want)
		}
		// as far on either side: that which a face names first
		long.Points[0][k], long.Points[5][k] = 30000-70000, 30000+70000
		want = fmt.Sprintf("the part is 140 m long: point 0 at %g, %g, %g lies 70 m from most others", long.Points[0][0], long.Points[0][1], long.Points[0][2])
		if err := long.Check(); !errors.As(err, &told) || told.Msg != want {
			t.Errorf("%v, want %q", err, want)
		}
		long.Points[0][k], long.Points[5][k] = 0, maxPartMM
		if err := long.Check(); err != nil {
			t.Errorf("100 m: %v", err)
		}
		if long.Points[5][k] = math.Nextafter(maxPartMM, 2*maxPartMM); long.Check() == nil {
			t.Errorf("a bit more than 100 m along axis %d", k)
		}
	}
}

// A face any two corners of which are in one place, whether they are one point or two, is no part
// of a surface; where all are such, there is none.
func TestSurfaceLeavesFacesWithEqualCornersOut(t *testing.T) {
	for k := range 3 {
		for _, twice := range []bool{false, true} {
			m := &Mesh{Points: []geom.Vec{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, Faces: [][3]int32{{0, 1, 2}}}
			if twice {
				m.Points[(k+1)%3] = m.Points[k]
			} else {
				m.Faces[0][(k+1)%3] = m.Faces[0][k]
			}
			var told *diag.Error
			if _, err := NewSurface(m); !errors.As(err, &told) || told.Msg != "every face has two equal corners" || told.Hint != "a surface needs at least one triangle" {
				t.Errorf("corners %d and %d, two points %t: %v", k, (k+1)%3, twice, err)
			}
			if s, err := NewSurface(joined(m, boxMesh(1, 1, 1))); err != nil || len(s.faces.tree.items) != 12 {
				t.Errorf("beside a box: %v", err)
			}
		}
	}
}

// What is no place of a surface, in full.
func TestRefusalsOfSitesInFull(t *testing.T) {
	s := surfaceOf(t, boxMesh(1, 1, 1))
	for _, c := range []struct {
		site      Site
		msg, hint string
	}{
		{Site{Face: 12, Bary: [3]float64{1, 0, 0}}, "no surface at face 12", "take sites from the surface they are used with"},
		{Site{Face: -1, Bary: [3]float64{1, 0, 0}}, "no surface at face -1", "take sites from the surface they are used with"},
		{Site{Face: 3, Bary: [3]float64{0.5, 0.75, 0.25}}, "barycentric coordinates [0.5 0.75 0.25] are not in the face", "they must be positive and sum to 1"},
		{Site{Face: 3, Bary: [3]float64{1.25, 0, -0.25}}, "barycentric coordinates [1.25 0 -0.25] are not in the face", "they must be positive and sum to 1"},
	} {
		var told *diag.Error
		if _, err := s.anchor(c.site); !errors.As(err, &told) || told.Kind != diag.Invalid || told.Msg != c.msg || told.Hint != c.hint {
			t.Errorf("%v, want %q and %q", err, c.msg, c.hint)
		}
	}
	for k := range 3 { // as far outside as may be, to the bit: 1 less and more sum to 1
		w := [3]float64{1, 1, 1}
		w[k], w[(k+1)%3] = -1e-6, 1e-6
		if a, err := s.anchor(Site{Face: 3, Bary: w}); err != nil || a.u < 0 {
			t.Errorf("%v: %v", w, err)
		}
		w[k] = math.Nextafter(-1e-6, -1)
		if _, err := s.anchor(Site{Face: 3, Bary: w}); err == nil {
			t.Errorf("%v is in the face", w)
		}
	}
}

// Where an anchor is: by definition on an edge when it is at one of its ends or it lies on it,
// whichever way round the edge is named.
func TestAnchorsKnowTheirEdges(t *testing.T) {
	s := surfaceOf(t, boxMesh(2, 2, 2))
	for f := range s.m.Faces {
		for _, w := range [][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {0.5, 0.5, 0}, {0, 0.5, 0.5}, {0.5, 0, 0.5}, {0.25, 0.25, 0.5}} {
			a, err := s.anchor(s.Site(f, w))
			if err != nil {
				t.Fatal(err)
			}
			for g, u := range s.m.Faces {
				for k := range 3 {
					p, q := u[k], u[(k+1)%3]
					on := segmentDist2(a.at, s.m.Points[p], s.m.Points[q]) == 0
					if a.onEdge(p, q) != on || a.onEdge(q, p) != on {
						t.Errorf("%v of face %d on edge %d-%d: %t, want %t", w, f, p, q, !on, on)
					}
				}
				x, y, z := s.m.corners(g)
				if in := TriangleDistance(a.at, x, y, z) == 0; s.holds(int32(g), &a) != in {
					t.Errorf("%v of face %d in face %d: %t, want %t", w, f, g, !in, in)
				}
			}
		}
	}
}
