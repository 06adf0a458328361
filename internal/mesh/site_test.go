package mesh

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// A site is where its coordinates say, by a a + b b + c c; they are clamped to the face, sum to
// 1, and come back from the place. A face without area, and coordinates none of which is above 0
// or that are no numbers, give the middle.
func TestSitesAreWhereTheySay(t *testing.T) {
	r := rand.New(rand.NewPCG(71, 0))
	m := scattered(r, 40, 0)
	n := int32(len(m.Points))
	m.Points = append(m.Points, geom.Vec{0, 0, 0}, geom.Vec{1, 1, 1}, geom.Vec{3, 3, 3}, geom.Vec{7, 7, 7})
	m.Faces = append(m.Faces, [3]int32{n, n + 1, n + 2}, [3]int32{n, n, n + 1})
	s := surfaceOf(t, m)
	for f := range 40 {
		a, b, c := m.corners(f)
		w := [3]float64{r.Float64(), r.Float64(), r.Float64()}
		sum := w[0] + w[1] + w[2]
		want := a.Scale(w[0] / sum).Add(b.Scale(w[1] / sum)).Add(c.Scale(w[2] / sum))
		site := s.Site(f, w)
		if site.Face != f || site.At.Dist(want) > 1e-9 || math.Abs(site.Bary[0]-w[0]/sum)+math.Abs(site.Bary[1]-w[1]/sum)+math.Abs(site.Bary[2]-w[2]/sum) > 1e-12 {
			t.Errorf("%v of face %d: %+v, want %v", w, f, site, want)
		}
		off := b.Sub(a).Cross(c.Sub(a)).Unit().Scale(r.Float64()) // beside the face it is the foot
		if again := s.SiteAt(want.Add(off), f); again.Face != f || again.At.Dist(want) > 1e-8 {
			t.Errorf("%v in face %d: %+v", want, f, again)
		}
		k := r.IntN(3)
		w[k] = -w[k]
		clamped := s.Site(f, w)
		w[k] = 0
		if want := s.Site(f, w); clamped != want || clamped.Bary[k] != 0 {
			t.Errorf("clamped: %+v, want %+v", clamped, want)
		}
		corner, ok := s.PointSite(3*f + k)
		if want := ([3]float64{1}); !ok || corner.Face != f || corner.At != m.Points[3*f+k] || corner.Bary[k] != 1 || corner.Bary[(k+1)%3] != 0 || corner.Bary[(k+2)%3] != 0 {
			t.Errorf("point %d: %+v, %v, %v", 3*f+k, corner, ok, want)
		}
	}
	middle := func(f int) geom.Vec {
		a, b, c := m.corners(f)
		return a.Add(b).Add(c).Scale(1. / 3)
	}
	for _, w := range [][3]float64{{}, {-1, -2, 0}, {math.NaN(), 1, 1}, {math.Inf(1), 0, 0}, {-1, -1, math.NaN()}} {
		if site := s.Site(3, w); site.At.Dist(middle(3)) > 1e-12 {
			t.Errorf("%v: %+v", w, site)
		}
	}
	if site := s.SiteAt(geom.Vec{3, 3, 3}, 40); site.Face != 40 || site.At.Dist(middle(40)) > 1e-12 {
		t.Errorf("in a face without area: %+v", site)
	}
	for _, v := range []int{-1, int(n) + 3, len(m.Points)} {
		if site, ok := s.PointSite(v); ok {
			t.Errorf("point %d, which no face has: %+v", v, site)
		}
	}
	shared := surfaceOf(t, boxMesh(1, 1, 1))
	for v := range 8 { // in the first face that has it
		first := slices.IndexFunc(shared.m.Faces, func(f [3]int32) bool { return slices.Contains(f[:], int32(v)) })
		if site, ok := shared.PointSite(v); !ok || site.Face != first || site.At != shared.m.Points[v] {
			t.Errorf("point %d: %+v, want face %d", v, site, first)
		}
	}
}

// What is no place of a surface is refused: faces that are none, coordinates that are outside or
// do not sum to 1 by more than a millionth.
func TestSitesOfOtherSurfacesAreRefused(t *testing.T) {
	m := boxMesh(1, 1, 1)
	m.Faces = append(m.Faces, [3]int32{1, 1, 2})
	s := surfaceOf(t, m)
	for _, c := range []struct {
		site Site
		ok   bool
	}{
		{Site{Face: 0, Bary: [3]float64{1, 0, 0}}, true}, {Site{Face: 11, Bary: [3]float64{0.5, 0.5, 0}}, true}, {Site{Face: 12, Bary: [3]float64{1, 0, 0}}, false},
		{Site{Face: -1, Bary: [3]float64{1, 0, 0}}, false}, {Site{Face: 13, Bary: [3]float64{1, 0, 0}}, false},
		{Site{Bary: [3]float64{0.5, 0.5 + 9e-7, 0}}, true}, {Site{Bary: [3]float64{0.5, 0.5 + 2e-6, 0}}, false}, {Site{Bary: [3]float64{0.5, 0.5 - 2e-6, 0}}, false},
		{Site{Bary: [3]float64{1, 9e-7, -9e-7}}, true}, {Site{Bary: [3]float64{1, -2e-6, 2e-6}}, false}, {Site{Bary: [3]float64{-2e-6, 1, 2e-6}}, false}, {Site{Bary: [3]float64{1, 2e-6, -2e-6}}, false},
		{Site{Bary: [3]float64{math.NaN(), 0, 1}}, false}, {Site{}, false},
	} {
		if _, err := s.anchor(c.site); (err == nil) != c.ok {
			t.Errorf("%+v: %v", c.site, err)
		}
		other := Site{Face: 3, Bary: [3]float64{0.2, 0.3, 0.5}}
		for name, ask := range map[string]func(a, b Site) error{
			"path":          func(a, b Site) error { _, err := s.Path(a, b); return err },
			"shortest path": func(a, b Site) error { _, err := s.ShortestPath(a, b); return err },
			"distances":     func(a, b Site) error { _, err := s.ExactDistances([]Site{a}, []Site{b}, 9); return err },
			"targets":       func(a, b Site) error { _, err := s.TargetDistances([]Site{a}, []Site{b}, 9); return err },
			"graph":         func(a, b Site) error { _, err := s.GraphDistances([]Site{a, b}, 9); return err },
			"clearance":     func(a, b Site) error { _, err := s.CurveDistance([]Site{a}, []Site{b}, 9); return err },
		} {
			if err := ask(c.site, other); (err == nil) != c.ok {
				t.Errorf("%s from %+v: %v", name, c.site, err)
			}
			if err := ask(other, c.site); (err == nil) != c.ok {
				t.Errorf("%s to %+v: %v", name, c.site, err)
			}
		}
	}
	// inside, on an edge, at a point: what is nearer than snapBary is on it
	for _, c := range []struct {
		bary [3]float64
		kind string
	}{
		{[3]float64{0.2, 0.3, 0.5}, "inside"}, {[3]float64{0, 0.4, 0.6}, "edge"}, {[3]float64{0.4, 0, 0.6}, "edge"}, {[3]float64{0.4, 0.6, 0}, "edge"}, {[3]float64{1e-13, 0.4, 0.6}, "edge"}, {[3]float64{1e-11, 0.4, 0.6}, "inside"},
		{[3]float64{1, 0, 0}, "point"}, {[3]float64{0, 1, 0}, "point"}, {[3]float64{0, 0, 1}, "point"}, {[3]float64{1 - 1e-12, 5e-13, 5e-13}, "point"}, {[3]float64{1 - 1e-11, 5e-12, 5e-12}, "inside"},
	} {
		a, err := s.anchor(Site{Face: 4, Bary: c.bary})
		kind := map[bool]string{true: "inside"}[a.u < 0 && a.v < 0]
		if a.u >= 0 {
			kind = map[bool]string{true: "point", false: "edge"}[a.v < 0]
		}
		var around []int32
		for f := range m.Faces { // by definition: the place lies in the face
			p, q, o := m.corners(f)
			if !collapsed(m.Faces[f]) && TriangleDistance(a.at, p, q, o) < 1e-12 {
				around = append(around, int32(f))
			}
		}
		if err != nil || kind != c.kind || kind != "inside" && !slices.Equal(s.around(&a), around) || kind == "inside" && !slices.Equal(s.around(&a), []int32{4}) {
			t.Errorf("%v: %s, %v, want %s in %v, got %v", c.bary, kind, err, c.kind, around, s.around(&a))
		}
	}
}

// The memory of a surface is that of its tables: of each as many bytes as the Go specification
// and the sizes of its fields give.
func TestBytesOfASurface(t *testing.T) {
	m := bumpyTorus(20, 12, 1)
	if got, want := m.Bytes(), 24*cap(m.Points)+12*cap(m.Faces); got != want {
		t.Errorf("a mesh of %d bytes, want %d", got, want)
	}
	for f := range m.Faces {
		m.Label = append(m.Label, int32(f/100))
	}
	s := surfaceOf(t, m)
	words := (len(m.Points) + 31) / 32
	want := 24*cap(m.Points) + 12*cap(m.Faces) + 4*cap(m.Label) + 4*(cap(s.adj.twin)+cap(s.adj.start)+cap(s.adj.corner)) + 2*4*words
	want += 32*cap(s.faces.nodes) + 4*cap(s.faces.items) + 16*cap(s.faces.leaf) + 24*cap(s.faces.points) + 256*cap(s.faces.wide) + 8*cap(s.faces.blocks)
	want += 16*cap(s.borders.edges) + 4*cap(s.borders.labels)
	for _, b := range s.borders.trees {
		want += 32*cap(b.nodes) + 4*cap(b.items)
	}
	if len(s.borders.trees) < 4 || s.Bytes() != want {
		t.Errorf("%d bytes, want %d", s.Bytes(), want)
	}
	s.FirstHit(geom.Vec{0, 0, 500}, geom.Vec{0, 0, -1})
	if s.faces.planes != nil {
		want += 512 * len(s.faces.blocks)
	}
	if s.Bytes() != want {
		t.Errorf("%d bytes after a ray, want %d", s.Bytes(), want)
	}
}

// The thickness of walls is the median by area of the ways straight through them: a box of three
// heights, by hand; and a sheet has none.
func TestWallThickness(t *testing.T) {
	for _, c := range []struct {
		m  *Mesh
		mm float64
		ok bool
	}{
		{boxMesh(50, 40, 3), 3, true}, {insideOut(boxMesh(50, 40, 3)), 3, true}, {boxMesh(2, 40, 30), 2, true}, {boxMesh(10, 10, 10), 10, true},
		{sheet(4), 0, false}, {placed(boxMesh(50, 7, 40), geom.Vec{1, 2, 3}.Unit(), geom.Vec{5, 5, 5}), 7, true},
	} {
		if mm, ok := surfaceOf(t, c.m).WallMM(); ok != c.ok || math.Abs(mm-c.mm) > 1e-9 {
			t.Errorf("%g, %v; want %g", mm, ok, c.mm)
		}
	}
	// two boxes apart: 2 x 300 mm2 of 2 mm and its sides, against 2 x 200 mm2 of 5 mm
	two := boxMesh(20, 15, 2)
	for _, f := range boxMesh(1, 1, 1).Faces {
		two.Faces = append(two.Faces, [3]int32{f[0] + 8, f[1] + 8, f[2] + 8})
	}
	for _, p := range boxMesh(20, 10, 5).Points {
		two.Points = append(two.Points, p.Add(geom.Vec{100, 0, 0}))
	}
	s := surfaceOf(t, two)
	type wall struct{ mm, area float64 }
	var all []wall
	sum := 0.0
	s.EachWall(func(f, opposite int32, mm float64) {
		n, o := two.FaceNormal(int(f)), two.FaceNormal(int(opposite))
		if n.Dot(o) > -0.9999 || mm != math.Round(mm*1e6)/1e6 && math.Abs(mm-math.Round(mm)) > 1e-9 {
			t.Errorf("face %d is opposite to %d at %g", f, opposite, mm)
		}
		all = append(all, wall{mm, two.FaceAreaMM2(int(f))})
		sum += two.FaceAreaMM2(int(f))
	})
	slices.SortFunc(all, func(a, b wall) int { return int(a.mm*1000) - int(b.mm*1000) })
	half, want := 0.0, 0.0
	for _, w := range all {
		if half < sum/2 {
			want = w.mm
		}
		half += w.area
	}
	if mm, ok := s.WallMM(); len(all) != 24 || !ok || math.Abs(mm-want) > 1e-9 || math.Abs(want-5) > 1e-9 {
		t.Errorf("%g of %d walls, want %g", mm, len(all), want)
	}
}

// A cut of a surface is the cut of its mesh, asked again and in a window too.
func TestSectionOfASurfaceIsThatOfItsMesh(t *testing.T) {
	for _, m := range []*Mesh{boxMesh(10, 20, 30), insideOut(boxMesh(10, 20, 30)), bumpyTorus(16, 10, 2), sheet(6)} {
		s := surfaceOf(t, m)
		for _, w := range []*Window{nil, {Lo: geom.Vec{-500, -500, -500}, Hi: geom.Vec{500, 500, 6}}} {
			planes := []Plane{{geom.Vec{0, 0, 1}, 5}, {geom.Vec{0, 1, 0.1}, 3}}
			want, err := m.SectionWithin(planes, w, 1e-6)
			for range 2 {
				if got, bad := s.SectionWithin(planes, w, 1e-6); !reflect.DeepEqual(got, want) || (bad == nil) != (err == nil) {
					t.Errorf("%v, %v: another cut than that of the mesh", err, bad)
				}
			}
		}
	}
}
