package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// wholeAgain says that the parts of a section are the mesh, cut.
func wholeAgain(t *testing.T, m *Mesh, c *Section) {
	t.Helper()
	if f := c.Split.Mesh.Faults(); !f.Closed() {
		t.Errorf("cutting opened the surface: %+v", f)
	}
	volume := c.Rest.VolumeMM3 + c.Outer.VolumeMM3 - m.VolumeMM3()
	if c.VolumeDoubt != "" {
		volume = c.Rest.VolumeMM3 + c.Outer.VolumeMM3 // not given
	}
	for what, d := range map[string]float64{"area": c.Rest.AreaMM2 + c.Outer.AreaMM2 - m.AreaMM2(), "volume": volume} {
		if math.Abs(d) > 1e-9*(m.AreaMM2()+math.Abs(m.VolumeMM3())) {
			t.Errorf("the parts have %g more %s than the whole", d, what)
		}
	}
	for f, p := range c.Split.Parent { // every part lies in its face
		a, b, q := c.Split.Mesh.corners(f)
		u, v, w := m.corners(int(p))
		x := a.Add(b).Add(q).Scale(1. / 3)
		k := closestInTriangle(x, u, v, w)
		if d := u.Scale(k[0]).Add(v.Scale(k[1])).Add(w.Scale(k[2])).Dist(x); d > 1e-9*(1+maxCoord(x)) {
			t.Fatalf("face %d lies %g off face %d", f, d, p)
		}
	}
}

// Expected: closed forms. A curve round a box through points of one plane is
// the cut by that plane; round a patch of a side it is the patch.
func TestSectionAlongABox(t *testing.T) {
	for _, n := range []int{0, 2, 3} {
		m := boxMesh(10, 6, 4)
		for range n {
			m = midpoints(m)
		}
		c, off, err := m.SectionAlong([]geom.Vec{{3, 0, 1}, {3, 6, 1}, {3, 6, 4}, {3, 0, 4}}, geom.Vec{10, 3, 2}, 1e-7)
		if err != nil || !c.Divides || len(c.Loops) != 1 || off > 1e-12 {
			t.Fatalf("%v %v, %d loops, %g off", err, c.Reasons, len(c.Loops), off)
		}
		wholeAgain(t, m, &c)
		for what, x := range map[string][2]float64{"length": {c.LengthMM, 20}, "outer area": {c.Outer.AreaMM2, 24 + 7*20}, "outer volume": {c.Outer.VolumeMM3, 7 * 24}} {
			if math.Abs(x[0]-x[1]) > 1e-6*x[1] {
				t.Errorf("split %d times: %s %.9g, want %g", n, what, x[0], x[1])
			}
		}
		c, _, err = m.SectionAlong([]geom.Vec{{2, 1, 4}, {5, 1, 4}, {5, 3, 4}, {2, 3, 4}}, geom.Vec{3, 2, 4}, 1e-7)
		if err != nil || !c.Divides || math.Abs(c.Outer.AreaMM2-6) > 1e-6 || math.Abs(c.LengthMM-10) > 1e-6 || math.Abs(c.Outer.VolumeMM3) > 1e-6 {
			t.Errorf("patch: %v %v, area %g, length %g, volume %g", err, c.Reasons, c.Outer.AreaMM2, c.LengthMM, c.Outer.VolumeMM3)
		}
	}
}

// midpoints splits every face in four, flat.
func midpoints(m *Mesh) *Mesh {
	out := &Mesh{Points: append([]geom.Vec(nil), m.Points...)}
	mid := map[[2]int32]int32{}
	half := func(a, b int32) int32 {
		e := edgeOf(a, b)
		if _, ok := mid[e]; !ok {
			mid[e] = int32(len(out.Points))
			out.Points = append(out.Points, m.Points[a].Lerp(m.Points[b], 0.5))
		}
		return mid[e]
	}
	for _, t := range m.Faces {
		a, b, c := half(t[0], t[1]), half(t[1], t[2]), half(t[2], t[0])
		out.Faces = append(out.Faces, [3]int32{t[0], a, c}, [3]int32{a, t[1], b}, [3]int32{c, b, t[2]}, [3]int32{a, b, c})
	}
	return out
}

// Expected: constructed. Once round the tube of a ring the surface leads round
// the curve; an eight meets itself; three points in one place are no curve.
func TestSectionAlongSaysWhyItDoesNotDivide(t *testing.T) {
	ring := bumpyTorus(60, 30, 1)
	box := boxMesh(10, 6, 4)
	for _, c := range []struct {
		name  string
		m     *Mesh
		curve []geom.Vec
		want  string
	}{
		{"round the tube", ring, []geom.Vec{{300, 0, 0}, {220, 0, 80}, {140, 0, 0}, {220, 0, -80}}, "the surface leads round it"},
		{"an eight", box, []geom.Vec{{1, 1, 4}, {5, 5, 4}, {5, 1, 4}, {1, 5, 4}}, "not close"},
		{"one place", box, []geom.Vec{{1, 1, 4}, {1, 1, 4}, {1, 1, 4}}, "too near together"},
		{"there and back", box, []geom.Vec{{1, 1, 4}, {3, 1, 4}, {5, 1, 4}}, "not close"},
	} {
		got, _, err := c.m.SectionAlong(c.curve, geom.Vec{9, 5, 4}, 1e-7)
		if err != nil || got.Divides || !strings.Contains(strings.Join(got.Reasons, "; "), c.want) {
			t.Errorf("%s: %v %v, want %q", c.name, err, got.Reasons, c.want)
		}
	}
	if _, _, err := box.SectionAlong([]geom.Vec{{0, 0, 0}, {1, 0, 0}}, geom.Vec{}, 0); err == nil {
		t.Error("a curve of two points was accepted")
	}
	if _, _, err := box.SectionAlong([]geom.Vec{{0, 0, 0}, {1, 0, 0}, {math.NaN(), 0, 0}}, geom.Vec{}, 0); err == nil {
		t.Error("a point that is not a number was accepted")
	}
}

// TestSectionAlongKeepsTheWhole cuts round caps of a rough ring through random
// points: the parts are always the whole, and the smaller part is on the side
// asked for (seeds in the names).
func TestSectionAlongKeepsTheWhole(t *testing.T) {
	m := bumpyTorus(50, 24, 2)
	s := surfaceOf(t, m)
	for seed := range uint64(8) {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			r := rand.New(rand.NewPCG(seed, 7))
			mid := r.Float64() * 2 * math.Pi
			centre := geom.Vec{220 * math.Cos(mid), 220 * math.Sin(mid), 85}
			var curve []geom.Vec
			for k := range 7 {
				a := 2 * math.Pi * float64(k) / 7
				site, _ := s.Closest(centre.Add(geom.Vec{(30 + 8*r.Float64()) * math.Cos(a), (30 + 8*r.Float64()) * math.Sin(a), 0}))
				curve = append(curve, site.At)
			}
			c, _, err := m.SectionAlong(curve, centre, 1e-4)
			if err != nil || !c.Divides {
				t.Fatalf("%v %v", err, c.Reasons)
			}
			wholeAgain(t, m, &c)
			if c.Outer.AreaMM2 > c.Rest.AreaMM2 || c.Outer.AreaMM2 < 1000 {
				t.Errorf("outer %g mm2, rest %g mm2", c.Outer.AreaMM2, c.Rest.AreaMM2)
			}
			way := 0.0
			for i, p := range curve {
				a, _ := s.Closest(p)
				b, _ := s.Closest(curve[(i+1)%len(curve)])
				leg, err := s.Path(a, b)
				if err != nil {
					t.Fatal(err)
				}
				way += leg.LengthMM
			}
			if math.Abs(c.LengthMM-way) > 1e-3 {
				t.Errorf("the line is %g mm long, the ways %g", c.LengthMM, way)
			}
		})
	}
}

// Expected: constructed. A tray of two legs: a plane inside a window takes one
// leg off, without it both.
func TestSectionWithinAWindow(t *testing.T) {
	// a U of three bars, 10 x 10 mm: legs along x at y 0..10 and 30..40, joined at x 0..10
	u := &Mesh{}
	outline := []geom.Vec{{0, 0, 0}, {50, 0, 0}, {50, 10, 0}, {10, 10, 0}, {10, 30, 0}, {50, 30, 0}, {50, 40, 0}, {0, 40, 0}}
	for _, z := range []float64{0, 10} {
		for _, p := range outline {
			u.Points = append(u.Points, geom.Vec{p[0], p[1], z})
		}
	}
	for _, q := range [][4]int32{{0, 1, 2, 3}, {0, 3, 4, 7}, {4, 5, 6, 7}} {
		for _, t := range [][3]int32{{q[0], q[1], q[2]}, {q[0], q[2], q[3]}} {
			u.Faces = append(u.Faces, [3]int32{t[0], t[2], t[1]}, [3]int32{t[0] + 8, t[1] + 8, t[2] + 8})
		}
	}
	for k := range int32(8) {
		n := (k + 1) % 8
		u.Faces = append(u.Faces, [3]int32{k, n, n + 8}, [3]int32{k, n + 8, k + 8})
	}
	if f := u.Faults(); !f.Closed() {
		t.Fatalf("%+v", f)
	}
	plane := []Plane{{geom.Vec{1, 0, 0}, 30}}
	both, err := u.Section(plane, 1e-9)
	if err != nil || both.Divides {
		t.Errorf("%v: two legs are two pieces", err)
	}
	one, err := u.SectionWithin(plane, &Window{geom.Vec{0, -5, -5}, geom.Vec{60, 15, 15}}, 1e-9)
	if err != nil || !one.Divides || math.Abs(one.LengthMM-40) > 1e-9 || math.Abs(one.Outer.VolumeMM3-2000) > 1e-6 || !one.VolumesExact {
		t.Errorf("%v %v, length %g, volume %g", err, one.Reasons, one.LengthMM, one.Outer.VolumeMM3)
	}
	half, err := u.SectionWithin(plane, &Window{geom.Vec{0, -5, 5}, geom.Vec{60, 15, 15}}, 1e-9)
	if err != nil || half.Divides || !strings.Contains(strings.Join(half.Reasons, "; "), "not close") {
		t.Errorf("%v %v: the window cuts the line", err, half.Reasons)
	}
}

// Constructed. A sheet of 100 x 60 x 2 mm cut along a zigzag on both its faces:
// the left part is a polygon, by the shoelace formula, 2 mm thick. A block of 60 mm cut along a zigzag round it has no volume to give: how
// the cut runs inside is open. The same line drawn flat has.
func TestVolumesAlongACurve(t *testing.T) {
	sheet := cells([3][]float64{upTo(100, 4), upTo(60, 4), {0, 2}}, func(geom.Vec) bool { return true })
	zigzag := []geom.Vec{{50, 0, 2}, {55, 20, 2}, {40, 40, 2}, {50, 60, 2}, {50, 60, 0}, {40, 40, 0}, {55, 20, 0}, {50, 0, 0}}
	c, _, err := sheet.SectionAlong(zigzag, geom.Vec{0, 30, 2}, 1e-7)
	if err != nil || !c.Divides || c.VolumesExact || c.VolumeDoubt != "" {
		t.Fatalf("%v %v, exact %v, %s", err, c.Reasons, c.VolumesExact, c.VolumeDoubt)
	}
	wholeAgain(t, sheet, &c)
	left := 0.0 // (50,0) (55,20) (40,40) (50,60) (0,60) (0,0)
	poly := [][2]float64{{50, 0}, {55, 20}, {40, 40}, {50, 60}, {0, 60}, {0, 0}}
	for i, p := range poly {
		q := poly[(i+1)%len(poly)]
		left += (p[0]*q[1] - q[0]*p[1]) / 2
	}
	if d := math.Abs(c.Outer.VolumeMM3 - 2*left); d > 1e-6*left || d > c.VolumesWithinMM3 || c.VolumesWithinMM3 > 0.05*2*left {
		t.Errorf("volume %g within %g, want %g", c.Outer.VolumeMM3, c.VolumesWithinMM3, 2*left)
	}
	block := cells([3][]float64{upTo(100, 10), upTo(60, 10), upTo(60, 10)}, func(geom.Vec) bool { return true })
	round := []geom.Vec{{50, 0, 0}, {60, 30, 0}, {50, 60, 0}, {50, 60, 60}, {60, 30, 60}, {50, 0, 60}}
	c, _, err = block.SectionAlong(round, geom.Vec{0, 30, 30}, 1e-7)
	if err != nil || !c.Divides || c.VolumeDoubt == "" || c.Outer.VolumeMM3 != 0 || c.VolumesExact {
		t.Errorf("%v %v %q, volume %g", err, c.Reasons, c.VolumeDoubt, c.Outer.VolumeMM3)
	}
	for i := range round {
		round[i][0] = 50 + round[i][1]/6
	}
	c, _, err = block.SectionAlong(round, geom.Vec{0, 30, 30}, 1e-7)
	if err != nil || !c.VolumesExact || math.Abs(c.Outer.VolumeMM3-55*60*60) > 1e-6*55*3600 {
		t.Errorf("%v, exact %v, volume %g", err, c.VolumesExact, c.Outer.VolumeMM3)
	}
}

// Several planes that meet in a line, inside a window: the volume is exact.
// Constructed: of a block of 100 x 60 x 60 mm what lies where x >= 50 and x + z >=
// 80, or 100 x 60 x 60 less 50 x 60 x 60 less a wedge of 30 x 30 x 60 / 2.
func TestVolumesOfPlanesThatMeet(t *testing.T) {
	block := cells([3][]float64{upTo(100, 10), upTo(60, 10), upTo(60, 10)}, func(geom.Vec) bool { return true })
	planes := []Plane{{geom.Vec{1, 0, 0}, 50}, {geom.Vec{1, 0, 1}, 80}}
	want := 50*60*60.0 - 30*30*60/2
	for _, w := range []*Window{nil, {geom.Vec{-1, -1, -1}, geom.Vec{101, 61, 61}}} {
		c, err := block.SectionWithin(planes, w, 1e-9)
		if err != nil || !c.Divides || !c.VolumesExact || math.Abs(c.Outer.VolumeMM3-want) > 1e-6*want {
			t.Errorf("%v %v, exact %v, volume %g, want %g", err, c.Reasons, c.VolumesExact, c.Outer.VolumeMM3, want)
		}
		wholeAgain(t, block, &c)
	}
}
