package mesh

import (
	"errors"
	"math"
	"slices"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// A site is on an edge or at a corner from the limit on, to the bit (powers of two: exact).
func TestAnchorsAtTheLimit(t *testing.T) {
	s := surfaceOf(t, boxMesh(1, 1, 1))
	above := math.Nextafter(snapBary, 1)
	for k := range 3 {
		for _, c := range []struct {
			w             [3]float64
			inside, point bool
		}{
			{[3]float64{snapBary, 0.5, 0.5 - snapBary}, false, false},
			{[3]float64{2 * snapBary, 0.5, 0.5 - 2*snapBary}, true, false},
			{[3]float64{above, 0.5, 0.5 - snapBary}, true, false},
			{[3]float64{1 - 2*snapBary, snapBary, snapBary}, false, true},
			{[3]float64{1 - 4*snapBary, 2 * snapBary, 2 * snapBary}, true, false},
			{[3]float64{1 - 2*snapBary - 0x1p-53, snapBary + 0x1p-53, snapBary}, false, false},
		} {
			w := [3]float64{}
			for i := range 3 {
				w[(i+k)%3] = c.w[i]
			}
			if a, err := s.anchor(Site{Face: 1, Bary: w}); err != nil || a.inside() != c.inside || a.isPoint() != c.point || c.point && a.u != s.m.Faces[1][k] {
				t.Errorf("%v: %+v %v, want inside %t, a point %t", w, a, err, c.inside, c.point)
			}
		}
	}
}

// Of faces equally near the one with the smallest index is taken, and the distance asked for is
// within; so are normals at just the angle asked for. By hand on a box.
func TestNearestAtTies(t *testing.T) {
	s := surfaceOf(t, boxMesh(2, 2, 2))
	z := geom.Vec{0, 0, 1}
	for _, c := range []struct {
		at, towards geom.Vec
		rad, most   float64
		face        int
		mm          float64
	}{
		{geom.Vec{1, 1, 3}, z, 0, 1, 2, 1}, // on the line both triangles of the top share
		{geom.Vec{1, 1, 3}, z, 0, math.Nextafter(1, 0), none, 0},
		{geom.Vec{1, 1, 3}, z, -1, math.Inf(1), 2, 1},
		{geom.Vec{1, 1, 1}, z, math.Pi, math.Inf(1), 0, 1}, // in the middle: all six sides
		{geom.Vec{1, 1, 1}, z, 4, 1, 0, 1},
		{geom.Vec{1, 1, 1}, z, 1, 1, 2, 1},
		{geom.Vec{1, 1, 3}, geom.Vec{1, 0, 0}, 0, 4, 11, math.Sqrt(2)},
	} {
		site, mm, ok := s.ClosestFacing(c.at, c.towards, c.rad, c.most)
		if ok != (c.face != none) || ok && (site.Face != c.face || math.Abs(mm-c.mm) > 1e-12) || !ok && !math.IsInf(mm, 1) {
			t.Errorf("%+v: face %d, %g, %t", c, site.Face, mm, ok)
		}
	}
	if site, mm := s.Closest(geom.Vec{1, 1, 1}); site.Face != 0 || mm != 1 {
		t.Errorf("from the middle: face %d, %g", site.Face, mm)
	}
}

// A ray that goes in at one corner or edge and comes out at the opposite one is met twice there,
// of the faces round it by the first; without a direction or from nowhere it meets nothing.
func TestRaysThroughCorners(t *testing.T) {
	s := surfaceOf(t, boxMesh(2, 2, 2))
	for _, d := range []geom.Vec{{1, 1, 1}, {0, 1, 1}, {1, 0, 1}} {
		from := geom.Vec{1, 1, 1}.Sub(d.Scale(3))
		hits := s.Ray(from, d)
		if len(hits) != 2 || !hits[0].Front || hits[1].Front || math.Abs(hits[0].DistMM-2*d.Norm()) > 1e-12 || math.Abs(hits[1].DistMM-4*d.Norm()) > 1e-12 {
			t.Errorf("along %v: %+v", d, hits)
		}
	}
	for _, c := range [][2]geom.Vec{{{1, 1, 1}, {}}, {{1, 1, 1}, {0, math.NaN(), 1}}, {{1, math.Inf(1), 1}, {0, 0, 1}}, {{1, 1, 1}, {math.Inf(1), 0, 0}}} {
		if hits := s.Ray(c[0], c[1]); hits != nil {
			t.Errorf("from %v along %v: %+v", c[0], c[1], hits)
		}
		if _, ok := s.FirstHit(c[0], c[1]); ok {
			t.Errorf("from %v along %v something is met first", c[0], c[1])
		}
	}
}

// What lies in a plane to the bit is within it, counts as above it and is not cut; one bit farther
// it is otherwise.
func TestPlanesAtTies(t *testing.T) {
	box := boxMesh(2, 2, 2)
	s := surfaceOf(t, box)
	beyond := math.Nextafter(2, 3)
	for k := range 3 {
		var n geom.Vec
		n[k] = 1
		if got := s.Within([]Plane{{n, 2}}); len(got) == 0 {
			t.Errorf("axis %d: nothing reaches the far side", k)
		}
		if got := s.Within([]Plane{{n, beyond + 1e-6}}); got == nil || len(got) > 0 {
			t.Errorf("axis %d: %v reach beyond it", k, got)
		}
		if got := s.Within([]Plane{{n, 0}, {n.Scale(-1), -2}}); got != nil {
			t.Errorf("axis %d: only %v are within both sides", k, got)
		}
		for _, c := range []struct {
			offset, snap float64
			points       int // of the split mesh
			above        int // its faces above; none: not told by hand
		}{
			{0, 0, 8, 12}, {2, 0, 8, 2}, {beyond, 0, 8, 0}, {1, 0, 8 + 8, none}, {0.5, 0.5, 8, 10}, {0.5, math.Nextafter(0.5, 0), 8 + 8, none}, {1.5, 0.5, 8, 2}, {1, 1, 8, none},
		} {
			sp, err := box.SplitByPlanes([]Plane{{n.Scale(2), 2 * c.offset}}, c.snap)
			if err != nil || len(sp.Mesh.Points) != c.points {
				t.Errorf("axis %d at %g, snap %g: %v, %d points, want %d", k, c.offset, c.snap, err, len(sp.Mesh.Points), c.points)
				continue
			}
			above := 0
			for f, is := range sp.Above[0] {
				if is {
					above++
				}
				for _, v := range sp.Mesh.Faces[f] {
					if h := sp.Mesh.Points[v][k] - c.offset; c.snap == 0 && (is && h < 0 || !is && h > 0) {
						t.Errorf("axis %d at %g: a face that is above: %t has a point at height %g", k, c.offset, is, h)
					}
				}
			}
			if c.above != none && above != c.above {
				t.Errorf("axis %d at %g, snap %g: %d faces above, want %d", k, c.offset, c.snap, above, c.above)
			}
		}
	}
	// a face as far above as below within the snap: the side of its first corner
	for first, want := range []bool{false, true, true} {
		tri := &Mesh{Points: []geom.Vec{{0, 0, -1}, {1, 0, 1}, {0, 1, 1}}, Faces: [][3]int32{{int32(first), int32(first+1) % 3, int32(first+2) % 3}}}
		sp, err := tri.SplitByPlanes([]Plane{{geom.Vec{0, 0, 1}, 0}}, 1)
		if err != nil || len(sp.Mesh.Faces) != 1 || sp.Above[0][0] != want {
			t.Errorf("corner %d first: %v, %v above", first, err, sp.Above)
		}
	}
}

// A plane is refused where it is not defined, in full.
func TestPlanesThatAreRefused(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, p := range []Plane{{}, {geom.Vec{0, nan, 1}, 0}, {geom.Vec{inf, 0, 0}, 0}, {geom.Vec{1, 0, 0}, nan}, {geom.Vec{1, 0, 0}, -inf}, {geom.Vec{1e200, 1e200, 0}, 0}, {geom.Vec{1e-200, 0, 0}, 0}} {
		var told *diag.Error
		if _, err := boxMesh(1, 1, 1).SplitByPlanes([]Plane{{geom.Vec{1, 0, 0}, 0.5}, p}, 0); !errors.As(err, &told) || told.Msg != "the cutting plane is not defined" || told.Hint != "give a finite normal that is not zero, and a finite offset" {
			t.Errorf("%v: %v", p, err)
		}
	}
	var told *diag.Error
	if _, err := boxMesh(1, 1, 1).Section(nil, 0); !errors.As(err, &told) || told.Msg != "no cutting plane is given" || told.Hint != "give at least one plane" {
		t.Errorf("without planes: %v", err)
	}
	if kg := (&Piece{VolumeMM3: 2e6}).MassKg(2.5); kg != 5 { // two litres
		t.Errorf("%g kg", kg)
	}
}

// A window holds what lies on its sides; planes divide two places where the line between them
// leaves the outer part in the window. By hand.
func TestWhatPlanesDivide(t *testing.T) {
	w := &Window{geom.Vec{1, 2, 3}, geom.Vec{4, 5, 6}}
	mid := geom.Vec{2, 3, 4}
	if !w.holds(mid) || !w.holds(w.Lo) || !w.holds(w.Hi) || !(*Window)(nil).holds(geom.Vec{1e9, 0, 0}) {
		t.Error("it does not hold its middle or corners")
	}
	for k := range 3 {
		low, high := mid, mid
		low[k], high[k] = math.Nextafter(w.Lo[k], -9), math.Nextafter(w.Hi[k], 9)
		if w.holds(low) || w.holds(high) {
			t.Errorf("it holds what is beside it along axis %d", k)
		}
	}
	x, y := Plane{geom.Vec{1, 0, 0}, 1}, Plane{geom.Vec{0, 1, 0}, 1}
	for _, c := range []struct {
		planes []Plane
		w      *Window
		a, b   geom.Vec
		want   bool
	}{
		{[]Plane{x}, nil, geom.Vec{0, 0, 0}, geom.Vec{2, 0, 0}, true},
		{[]Plane{x}, nil, geom.Vec{0, 0, 0}, geom.Vec{1, 0, 0}, true}, // on the plane is the outer part
		{[]Plane{x}, nil, geom.Vec{1, 0, 0}, geom.Vec{0, 0, 0}, true},
		{[]Plane{x}, nil, geom.Vec{1, 0, 0}, geom.Vec{2, 0, 0}, false},
		{[]Plane{x}, nil, geom.Vec{0, 0, 0}, geom.Vec{0.5, 9, 9}, false},
		{[]Plane{x}, &Window{geom.Vec{1, 0, 0}, geom.Vec{3, 3, 3}}, geom.Vec{0, 0, 0}, geom.Vec{2, 0, 0}, true},
		{[]Plane{x}, &Window{geom.Vec{1.5, 0, 0}, geom.Vec{3, 3, 3}}, geom.Vec{0, 0, 0}, geom.Vec{2, 0, 0}, false},
		{[]Plane{x, y}, nil, geom.Vec{0, 0, 0}, geom.Vec{2, 0, 0}, false},
		{[]Plane{x, y}, nil, geom.Vec{0, 2, 0}, geom.Vec{2, 2, 0}, true},
		{[]Plane{x, y}, nil, geom.Vec{2, 0, 0}, geom.Vec{2, 2, 0}, true},
		{[]Plane{x, y}, nil, geom.Vec{0, 2, 0}, geom.Vec{2, 0.5, 0}, true}, // in and out again
		{[]Plane{x, y}, nil, geom.Vec{0, 1.5, 0}, geom.Vec{1.5, 0, 0}, false},
	} {
		if got := cutBetween(c.planes, c.w, c.a, c.b); got != c.want {
			t.Errorf("%v from %v to %v in %v: %t", c.planes, c.a, c.b, c.w, got)
		}
	}
}

// An angle limit holds what is at it to the bit: over the edges of a box all sides are one region
// at the angle between them, and six just below.
func TestRegionsAtJustTheAngle(t *testing.T) {
	s := surfaceOf(t, boxMesh(2, 2, 2))
	right := angleRad(geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0})
	below := math.Nextafter(right, 0)
	if at, under := slices.Max(s.Regions(right)), s.Regions(below); at != 0 || !slices.Equal(under, []int32{0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5}) {
		t.Errorf("%d at the angle, %v below", at, under)
	}
	for _, c := range []struct {
		step, total float64
		faces       int
	}{{right, math.Pi, 12}, {below, math.Pi, 2}, {right, right, 10}, {right, below, 2}} {
		if got, err := s.GrowRegion([]int{3}, c.step, c.total); err != nil || len(got) != c.faces {
			t.Errorf("%+v: %v %v", c, got, err)
		}
	}
	for seed, want := range map[int]string{-1: "no surface at face -1", 12: "no surface at face 12"} {
		var told *diag.Error
		if _, err := s.GrowRegion([]int{0, seed}, 1, 1); !errors.As(err, &told) || told.Msg != want || told.Hint != "take seeds from the surface they are used with" {
			t.Errorf("seed %d: %v", seed, err)
		}
		if _, err := s.ResizeRegion([]int32{0, int32(seed)}, 1, 1); !errors.As(err, &told) || told.Msg != want || told.Hint != "take regions from the surface they are used with" {
			t.Errorf("region with %d: %v", seed, err)
		}
	}
	for _, c := range [][2]float64{{1, 0}, {1, -1}, {1, math.NaN()}, {math.NaN(), 1}, {math.Inf(1), 1}, {math.Inf(-1), 1}} {
		var told *diag.Error
		if _, err := s.ResizeRegion([]int32{0}, c[0], c[1]); !errors.As(err, &told) || told.Msg != "the distance or the step is not usable" || told.Hint != "give a finite distance and a step above 0" {
			t.Errorf("by %g in steps of %g: %v", c[0], c[1], err)
		}
	}
	var told *diag.Error
	if _, err := s.SmoothLabels(1, 1); !errors.As(err, &told) || told.Msg != "the mesh carries no labels" || told.Hint != "label the faces first" {
		t.Errorf("without labels: %v", err)
	}
}

// On a row of unit squares a region is widened over the squares that end at just the distance, and
// narrowed by those only that begin nearer. Sites along an edge are at most a step apart.
func TestResizeAtJustTheDistance(t *testing.T) {
	m := &Mesh{}
	for x := range int32(7) {
		m.Points = append(m.Points, geom.Vec{float64(x), 0, 0}, geom.Vec{float64(x), 1, 0})
		if x < 6 {
			m.Faces = append(m.Faces, [3]int32{2 * x, 2*x + 2, 2*x + 3}, [3]int32{2 * x, 2*x + 3, 2*x + 1})
		}
	}
	s := surfaceOf(t, m)
	first := func(squares int32) (out []int32) {
		for f := range 2 * squares {
			out = append(out, f)
		}
		return out
	}
	for _, c := range []struct {
		from int32
		mm   float64
		want int32
	}{{2, 0, 2}, {2, 1, 3}, {2, 0.875, 2}, {2, 2, 4}, {2, -1, 1}, {3, -2, 1}, {3, -1, 2}, {3, -0.875, 2}, {6, 1, 6}, {6, -1, 6}, {0, 1, 0}} {
		if got, err := s.ResizeRegion(first(c.from), c.mm, 1); err != nil || !slices.Equal(got, first(c.want)) {
			t.Errorf("%d squares by %g: %v %v, want %d", c.from, c.mm, got, err, c.want)
		}
	}
	long := surfaceOf(t, boxMesh(4, 4, 4))
	for step, want := range map[float64]int{2: 3, 1.9: 4, 4: 2, 3.9: 3, math.Inf(1): 2, 1: 5} {
		h := int32(4) // a side, not a diagonal
		u, v := long.m.halfEnds(h)
		p, q := long.m.Points[u], long.m.Points[v]
		sites := long.alongHalf(h, step)
		if p.Dist(q) != 4 || len(sites) != want || sites[0].At != p || sites[len(sites)-1].At != q {
			t.Errorf("steps of %g over %g: %d sites, want %d", step, p.Dist(q), len(sites), want)
		}
	}
}

// A patch may be as small as asked for, to the bit; each begins at the first of its largest faces.
func TestPatchesAtJustTheArea(t *testing.T) {
	s := surfaceOf(t, boxMesh(4, 4, 2)) // sides of 16, 8 and 8 mm2
	if got := s.flatSeeds(8); !slices.Equal(got, []int32{0, 2, 4, 6, 8, 10}) {
		t.Errorf("of 8: %v", got)
	}
	if got := s.flatSeeds(math.Nextafter(8, 9)); !slices.Equal(got, []int32{0, 2}) {
		t.Errorf("of more than 8: %v", got)
	}
	for least, want := range map[float64]int{8: 6, math.Nextafter(8, 9): 2, 16: 2, math.Nextafter(16, 17): 0} {
		got, err := s.Patches(0.1, 0.1, least)
		if err != nil || len(got) != want {
			t.Errorf("of %g: %+v %v, want %d", least, got, err, want)
		}
		for i, p := range got {
			if f := int32(2 * i); p.Seed != f || !slices.Equal(p.Faces, []int32{f, f + 1}) || p.AreaMM2 != []float64{16, 8}[min(i/2, 1)] {
				t.Errorf("of %g, the patch %d: %+v", least, i, p)
			}
		}
	}
}

// Corners are welded alike whatever number of triangles is looked at together, where a triangle
// has a corner twice and where the first of a batch shares one with the last of that before.
func TestWeldingInBatches(t *testing.T) {
	for _, n := range []int{1, 2, weldTogether - 1, weldTogether, weldTogether + 1, 2*weldTogether + 1, 4 * weldTogether} {
		corners := make([][3]geom.Vec, n)
		for i := range corners {
			x := float64(i)
			corners[i] = [3]geom.Vec{{x, 0, 0}, {x + 1, 0, math.Copysign(0, -1)}, {x / 2, 1, 0}}
			if i%5 == 4 {
				corners[i][2] = corners[i][0]
			}
		}
		one, all := NewWelder(0), NewWelder(0)
		want, got := make([][3]int32, n), make([][3]int32, n)
		for i := range corners {
			for k := range 3 {
				want[i][k] = one.Add(corners[i][k])
			}
		}
		all.AddFaces(corners, got)
		if !slices.Equal(got, want) || !slices.Equal(all.Points, one.Points) {
			t.Errorf("%d triangles: %v, want %v", n, got, want)
		}
		for i, c := range corners {
			for k := range 3 {
				if all.Points[got[i][k]] != c[k] || math.Signbit(c[k][2]) {
					t.Errorf("%d triangles: corner %d of %d is %v", n, k, i, all.Points[got[i][k]])
				}
			}
		}
	}
}
