package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// Splitting changes neither the surface nor its volume, and opens nothing.
func TestSplitByPlanesChangesNothing(t *testing.T) {
	for seed := range uint64(6) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			r := rand.New(rand.NewPCG(seed, 8))
			m := bumpyTorus(30, 16, seed)
			m.Label = make([]int32, len(m.Faces))
			for f := range m.Label {
				m.Label[f] = int32(f % 3)
			}
			var planes []Plane
			for range 3 {
				planes = append(planes, Plane{geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}, 40 * r.NormFloat64()})
			}
			s, err := m.SplitByPlanes(planes, 1e-6)
			if err != nil {
				t.Fatal(err)
			}
			if d := s.Mesh.AreaMM2() - m.AreaMM2(); math.Abs(d) > 1e-9*m.AreaMM2() {
				t.Errorf("area changed by %g", d)
			}
			if d := s.Mesh.VolumeMM3() - m.VolumeMM3(); math.Abs(d) > 1e-9*m.VolumeMM3() {
				t.Errorf("volume changed by %g", d)
			}
			if f := s.Mesh.Faults(); !f.Closed() || f.Components != 1 {
				t.Errorf("faults %+v", f)
			}
			for f, p := range s.Parent {
				if s.Mesh.Label[f] != m.Label[p] {
					t.Fatalf("face %d lost its label", f)
				}
			}
			for k, p := range planes {
				for f, above := range s.Above[k] {
					for _, v := range s.Mesh.Faces[f] {
						h := (p.Normal.Dot(s.Mesh.Points[v]) - p.OffsetMM) / p.Normal.Norm()
						if above && h < -2e-6 || !above && h > 2e-6 {
							t.Fatalf("face %d crosses plane %d by %g", f, k, h)
						}
					}
				}
			}
		})
	}
}

// Expected: closed forms. A box is cut straight; a unit cube by x + y + z = 1.5
// in a regular hexagon of side sqrt(2)/2, half the volume each side; a box by
// the corner x >= 3, y >= 4.
func TestSectionOfBoxes(t *testing.T) {
	c, err := boxMesh(10, 6, 4).Section([]Plane{{geom.Vec{2, 0, 0}, 14}}, 1e-9)
	if err != nil {
		t.Fatal(err)
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
			t.Errorf("%s %.12g, want %.12g", what, got, want)
		}
	}
	if !c.Divides || len(c.Loops) != 1 {
		t.Errorf("%v %d loops", c.Reasons, len(c.Loops))
	}
	near("length", c.LengthMM, 20)
	near("outer volume", c.Outer.VolumeMM3, 72)
	near("rest volume", c.Rest.VolumeMM3, 168)
	near("outer area", c.Outer.AreaMM2, 24+3*20)
	near("mass", c.Outer.MassKg(2.7), 72*2.7e-6)

	c, err = boxMesh(1, 1, 1).Section([]Plane{{geom.Vec{1, 1, 1}, 1.5}}, 1e-9)
	if err != nil || !c.Divides {
		t.Fatal(err, c.Reasons)
	}
	near("hexagon", c.LengthMM, 3*math.Sqrt2)
	near("half", c.Outer.VolumeMM3, 0.5)
	near("other half", c.Rest.VolumeMM3, 0.5)

	c, err = boxMesh(10, 6, 4).Section([]Plane{{geom.Vec{1, 0, 0}, 3}, {geom.Vec{0, 1, 0}, 4}}, 1e-9)
	if err != nil || !c.Divides {
		t.Fatal(err, c.Reasons)
	}
	near("corner piece", c.Outer.VolumeMM3, 7*2*4)
	near("remaining", c.Rest.VolumeMM3, 240-56)
	near("corner line", c.LengthMM, 2*(7+2)+2*4)
}

// Expected, constructed: a plane across a ring leaves two closed loops and two
// pieces; one that only nicks the bumps leaves more; one beside it none; and an
// open sheet has no closed line.
func TestSectionSaysWhyItDoesNotDivide(t *testing.T) {
	ring := bumpyTorus(60, 30, 1)
	c, err := ring.Section([]Plane{{geom.Vec{1, 0.1, 0}, 3}}, 1e-6)
	if err != nil || !c.Divides || len(c.Loops) != 2 {
		t.Errorf("%v %v, %d loops", err, c.Reasons, len(c.Loops))
	}
	flat, err := ring.Cut(geom.Vec{1, 0.1, 0}, 3)
	if err != nil {
		t.Fatal(err)
	}
	for what, d := range map[string]float64{"length": c.LengthMM - flat.LengthMM, "outer area": c.Outer.AreaMM2 - flat.Sides[1].AreaMM2,
		"outer volume": c.Outer.VolumeMM3 - flat.Sides[1].VolumeMM3, "rest volume": c.Rest.VolumeMM3 - flat.Sides[0].VolumeMM3} {
		if math.Abs(d) > 1e-3 {
			t.Errorf("%s differs from a plane cut by %g", what, d)
		}
	}
	two := &Mesh{}
	for k := range 2 {
		b := boxMesh(1, 1, 1)
		for _, f := range b.Faces {
			two.Faces = append(two.Faces, [3]int32{f[0] + int32(8*k), f[1] + int32(8*k), f[2] + int32(8*k)})
		}
		for _, p := range b.Points {
			two.Points = append(two.Points, p.Add(geom.Vec{float64(3 * k), 0, 0}))
		}
	}
	twoSheets := joined(sheet(4), shifted(sheet(4), geom.Vec{0, 0, 5}))
	// three leaves that meet in the x axis, along which the plane y = 0 runs
	book := &Mesh{Points: []geom.Vec{{0, 0, 0}, {9, 0, 0}, {4, 5, 0}, {4, -5, 1}, {4, -5, -1}}, Faces: [][3]int32{{0, 1, 2}, {1, 0, 3}, {1, 0, 4}}}
	// a triangle from the foot of one corner through the inside: two of its edges are edges of the box too
	fin := boxMesh(4, 4, 4)
	fin.Faces = append(fin.Faces, [3]int32{4, 0, 1}) // 1 to 4 is no edge of the box
	for _, x := range []struct {
		m     *Mesh
		plane Plane
		want  string // all reasons
	}{
		{ring, Plane{geom.Vec{0, 0, 1}, 500}, "the planes do not cut the surface"},
		{sheet(4), Plane{geom.Vec{1, 0, 0}, 4}, "1 part of the line does not close: it ends at a border of the surface, or several lines meet in one point; the surface has 18 open edges, so it has no inside"},
		{twoSheets, Plane{geom.Vec{1, 0, 0}, 4}, "2 parts of the line do not close: they end at a border of the surface, or several lines meet in one point; the surface has 36 open edges, so it has no inside; the rest is in 2 pieces; the outer part is in 2 pieces"},
		{book, Plane{geom.Vec{0, 1, 0}, 0}, "1 part of the line does not close: it ends at a border of the surface, or several lines meet in one point; the line runs along 1 edge of three or more faces; the surface has 6 open edges, so it has no inside; the rest is in 2 pieces"},
		{fin, Plane{geom.Vec{0, 0, 1}, 9}, "the planes do not cut the surface; the surface has 1 open edge, so it has no inside"},
		{two, Plane{geom.Vec{0, 0, 1}, 0.5}, "the rest is in 2 pieces; the outer part is in 2 pieces"},
		{two, Plane{geom.Vec{1, 0, 0}, 0.5}, "the outer part is in 2 pieces"},
	} {
		c, err := x.m.Section([]Plane{x.plane}, 1e-9)
		if err != nil || c.Divides || strings.Join(c.Reasons, "; ") != x.want {
			t.Errorf("%v %q, want %q", err, strings.Join(c.Reasons, "; "), x.want)
		}
	}
	if _, err := ring.Section(nil, 0); err == nil {
		t.Error("a section without a plane was accepted")
	}
	if _, err := ring.Section([]Plane{{}}, 0); err == nil {
		t.Error("a plane without a normal was accepted")
	}
}

// Expected: closed forms. On one side of a box, parallel lines; round an edge,
// the unfolded distance; through space it would be less.
func TestCurveDistanceOnABox(t *testing.T) {
	s := surfaceOf(t, boxMesh(20, 20, 20))
	at := func(x, y, z float64) Site { p, _ := s.Closest(geom.Vec{x, y, z}); return p }
	top := []Site{at(2, 4, 20), at(18, 4, 20)}
	side := []Site{at(2, 0, 17), at(18, 0, 15)}
	for _, c := range []struct {
		a, b  []Site
		need  float64
		least bool
		dist  float64
	}{
		{top, []Site{at(5, 9, 20), at(9, 12, 20)}, 4.999, true, 5},
		{top, []Site{at(5, 9, 20), at(9, 12, 20)}, 5.001, false, 5},
		{top, side, 6.9, true, 7}, {top, side, 7.1, false, 7}, // 4 to the edge and 3 down
		{top, side, 6.999, true, 7}, {top, side, 7.001, false, 7},
		{[]Site{at(5, 9, 20)}, []Site{at(8, 13, 20)}, 4.999, true, 5},
		{top, []Site{at(5, 1, 20), at(5, 9, 20)}, 0.1, false, 0}, // they cross
	} {
		got, err := s.CurveDistance(c.a, c.b, c.need)
		if err != nil || got.AtLeast != c.least || got.Below == c.least {
			t.Errorf("need %g of %g: %+v %v", c.need, c.dist, got, err)
		}
		if got.LowerMM > c.dist+1e-9 || got.UpperMM < c.dist-1e-9 {
			t.Errorf("%+v does not hold %g", got, c.dist)
		}
		back, err := s.CurveDistance(c.b, c.a, c.need)
		if err != nil || back.AtLeast != got.AtLeast || back.Below != got.Below {
			t.Errorf("the other way round: %+v and %+v", got, back)
		}
	}
	if got, err := s.CurveDistance(top, side, 7); err != nil || got.AtLeast || got.Below && got.UpperMM > 7 || math.Abs(got.UpperMM-7) > 1e-4 {
		t.Errorf("at the limit itself: %+v %v", got, err)
	}
	if _, err := s.CurveDistance(nil, side, 1); err == nil {
		t.Error("a curve without points was accepted")
	}
	if _, err := s.CurveDistance(top, side, math.NaN()); err == nil {
		t.Error("NaN was accepted")
	}
}

// The interval against all pairs of closely spaced sites, on a rough surface.
func TestCurveDistanceMatchesAllPairs(t *testing.T) {
	s := surfaceOf(t, bumpyTorus(40, 24, 6))
	for seed := range draws(3, 20) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			r := rand.New(rand.NewPCG(seed, 10))
			f := r.IntN(len(s.m.Faces) - 900)
			site := func(k int) Site { return s.Site(f+k, [3]float64{r.Float64(), r.Float64(), r.Float64()}) }
			a, b := []Site{site(0), site(60)}, []Site{site(330), site(400)}
			p, err := s.curve(a)
			if err != nil {
				t.Fatal(err)
			}
			q, err := s.curve(b)
			if err != nil {
				t.Fatal(err)
			}
			p.shorten(0.05)
			q.shorten(0.05)
			d := exact(t, s, p.middles(s), q.middles(s), math.Inf(1))
			want := math.Inf(1)
			for _, x := range d.Targets {
				want = min(want, x)
			}
			for _, c := range []struct {
				need  float64
				least bool
			}{{want - 0.1, true}, {want + 0.1, false}, {0.8 * want, true}, {1.2 * want, false}} {
				got, err := s.CurveDistance(a, b, c.need)
				if err != nil || got.AtLeast != c.least || got.Below == c.least || got.LowerMM > want+1e-9 || got.UpperMM < want-0.05 {
					t.Errorf("need %g of %g: %+v %v", c.need, want, got, err)
				}
			}
		})
	}
}

// The way along edges between two sets of places is the least of all that
// GraphDistances gives, seeded.
func TestGraphDistanceIsTheLeast(t *testing.T) {
	s := surfaceOf(t, bumpyTorus(60, 24, 5))
	r := rand.New(rand.NewPCG(5, 2))
	site := func() Site {
		return s.Site(r.IntN(len(s.m.Faces)), [3]float64{r.Float64(), r.Float64(), r.Float64()})
	}
	for range 50 {
		var from, to []Site
		for range 1 + r.IntN(4) {
			from, to = append(from, site()), append(to, site())
		}
		all, err := s.GraphDistances(from, math.Inf(1))
		if err != nil {
			t.Fatal(err)
		}
		want := math.Inf(1)
		for _, x := range to {
			for _, v := range s.m.Faces[x.Face] {
				want = min(want, all[v]+x.At.Dist(s.m.Points[v]))
			}
		}
		if got, err := s.graphDistance(from, to); err != nil || got != want {
			t.Fatalf("%v %v, of all %v", got, err, want)
		}
	}
}

// Planes that meet in no common point, as the two sides of a slab: the volume of the outer part
// is that of the overlap, by hand for boxes within a box, and between two planes of a rough ring
// the difference of the parts beyond each.
func TestVolumesOfPlanesWithoutACommonPoint(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 41))
	size := geom.Vec{10, 6, 4}
	for range 40 {
		m := shifted(boxMesh(size[0], size[1], size[2]), geom.Vec{100, -50, 7}) // the way to the origin does not count
		want, planes := 1.0, []Plane(nil)
		for k, long := range size {
			lo, hi := 0.8*long*r.Float64(), long
			if k == 0 || r.IntN(2) == 0 {
				hi = lo + float64((long-lo)*(0.1+0.8*r.Float64()))
			}
			var n geom.Vec
			n[k] = 1 + r.Float64() // any length
			at := geom.Vec{100, -50, 7}[k]
			planes = append(planes, Plane{n, n[k] * (at + lo)})
			if hi < long {
				planes = append(planes, Plane{n.Scale(-1), -n[k] * (at + hi)})
			}
			want *= hi - lo
		}
		c, err := m.Section(planes, 1e-9)
		if err != nil || !c.VolumesExact || math.Abs(c.Outer.VolumeMM3-want) > 1e-9*240 || math.Abs(c.Rest.VolumeMM3-(240-want)) > 1e-9*240 {
			t.Errorf("%v %v: %g and %g, want %g and %g", err, planes, c.Outer.VolumeMM3, c.Rest.VolumeMM3, want, 240-want)
		}
	}
	ring := bumpyTorus(40, 20, 3)
	n := geom.Vec{1, 0.3, -0.2}.Unit()
	for _, slab := range [][2]float64{{-200, -150}, {-30, 10}, {90, 260}} {
		c, err := ring.Section([]Plane{{n, slab[0]}, {n.Scale(-2), -2 * slab[1]}}, 1e-9)
		if err != nil {
			t.Fatal(err)
		}
		want := 0.0
		for k, sign := range []float64{1, -1} {
			cut, err := ring.Cut(n, slab[k])
			if err != nil {
				t.Fatal(err)
			}
			want += sign * cut.Sides[1].VolumeMM3
		}
		if math.Abs(c.Outer.VolumeMM3-want) > 1e-9*ring.VolumeMM3() || math.Abs(c.Rest.VolumeMM3+want-ring.VolumeMM3()) > 1e-9*ring.VolumeMM3() {
			t.Errorf("slab %v: %g and %g, want %g of %g", slab, c.Outer.VolumeMM3, c.Rest.VolumeMM3, want, ring.VolumeMM3())
		}
	}
}
