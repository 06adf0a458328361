package mesh

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"fettle/internal/geom"
)

const deg = math.Pi / 180

func regionSizes(label []int32) []int {
	var n []int
	for _, l := range label {
		for int(l) >= len(n) {
			n = append(n, 0)
		}
		n[l]++
	}
	return n
}

// Expected: the sides of a cube; the normals of an icosahedron's neighbours
// differ by 41.8103 degrees (180 less the dihedral angle 138.1897; closed form).
func TestRegionsAreCutAtSharpEdges(t *testing.T) {
	cube := surfaceOf(t, boxMesh(2, 3, 4))
	for _, a := range []float64{0.01, 45, 89.99} {
		if n := regionSizes(cube.Regions(a * deg)); len(n) != 6 || slices.Max(n) != 2 {
			t.Errorf("box at %g degrees: %v", a, n)
		}
	}
	if n := regionSizes(cube.Regions(90.01 * deg)); len(n) != 1 {
		t.Errorf("box at 90.01 degrees: %v", n)
	}
	ico := surfaceOf(t, icosphere(0))
	for a, want := range map[float64]int{41: 20, 41.81: 20, 41.811: 1, 42: 1} {
		if n := regionSizes(ico.Regions(a * deg)); len(n) != want {
			t.Errorf("icosahedron at %g degrees: %d regions, want %d", a, len(n), want)
		}
	}
	flipped := boxMesh(2, 3, 4)
	flipped.Faces[0][0], flipped.Faces[0][1] = flipped.Faces[0][1], flipped.Faces[0][0]
	if n := regionSizes(surfaceOf(t, flipped).Regions(1 * deg)); len(n) != 6 {
		t.Errorf("a flipped face changed the regions: %v", n)
	}
}

func TestGrowRegion(t *testing.T) {
	s := surfaceOf(t, boxMesh(2, 3, 4))
	if r, err := s.GrowRegion([]int{0, 5}, 10*deg, math.Pi); err != nil || fmt.Sprint(r) != "[0 1 4 5]" {
		t.Errorf("%v %v", r, err)
	}
	ball := surfaceOf(t, icosphere(3))
	r, err := ball.GrowRegion([]int{0}, 20*deg, 30*deg)
	if err != nil {
		t.Fatal(err)
	}
	n, cap := ball.m.FaceNormal(0), 0
	for f := range ball.m.Faces {
		if angleRad(n, ball.m.FaceNormal(f)) <= 30*deg {
			cap++
		}
	}
	if len(r) != cap { // on a sphere the faces within an angle are connected
		t.Errorf("%d faces within 30 degrees of the seed, want %d", len(r), cap)
	}
	if _, err := s.GrowRegion([]int{12}, 1, 1); err == nil {
		t.Error("a seed that is no face was accepted")
	}
}

// sheet is a flat square of side 10 in n x n cells.
func sheet(n int) *Mesh {
	m := &Mesh{}
	for i := range n + 1 {
		for j := range n + 1 {
			m.Points = append(m.Points, geom.Vec{10 * float64(i) / float64(n), 10 * float64(j) / float64(n), 0})
		}
	}
	for i := range n {
		for j := range n {
			p := int32(i*(n+1) + j)
			q := p + int32(n+1)
			m.Faces = append(m.Faces, [3]int32{p, q, q + 1}, [3]int32{p, q + 1, p + 1})
		}
	}
	return m
}

// Expected, constructed: on a flat sheet in cells of 0.5, the strip x <= 3
// widened by 2 ends at x = 5, narrowed by 1 at x = 2.
func TestResizeRegionMovesTheBorder(t *testing.T) {
	s := surfaceOf(t, sheet(20))
	strip := func(x float64) []int32 {
		var r []int32
		for f := range s.m.Faces {
			a, b, c := s.m.corners(f)
			if max(a[0], b[0], c[0]) <= x+1e-9 {
				r = append(r, int32(f))
			}
		}
		return r
	}
	for mm, x := range map[float64]float64{2.001: 5, 1.9: 4.5, -1.001: 1.5, -0.999: 2, 0: 3} {
		got, err := s.ResizeRegion(strip(3), mm, 0.01)
		if err != nil || !slices.Equal(got, strip(x)) {
			t.Errorf("by %g: %d faces, want %d (%v)", mm, len(got), len(strip(x)), err)
		}
	}
	for _, bad := range [][2]float64{{math.NaN(), 1}, {1, 0}, {math.Inf(1), 1}} {
		if _, err := s.ResizeRegion(strip(3), bad[0], bad[1]); err == nil {
			t.Errorf("%v was accepted", bad)
		}
	}
}

// Expected, constructed: a border of single steps between two labels becomes
// shorter, a tooth of one face goes, labels stay where they are out of reach,
// and a border on a sharp edge stays.
func TestSmoothLabels(t *testing.T) {
	m := sheet(20)
	m.Label = make([]int32, len(m.Faces))
	for f := range m.Label {
		a, b, c := m.corners(f)
		if (a[0]+b[0]+c[0])/3 > 5 {
			m.Label[f] = 1
		}
	}
	want := slices.Clone(m.Label)
	for _, f := range []int{2*(10*20+7) + 1, 2 * (9*20 + 12)} { // a tooth on each side of x = 5
		m.Label[f] = 1 - m.Label[f]
	}
	s := surfaceOf(t, m)
	got, err := s.SmoothLabels(30*deg, 2)
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("teeth stayed (%v)", err)
	}
	box := boxMesh(2, 3, 4)
	box.Label = make([]int32, 12)
	box.Label[4], box.Label[5] = 1, 1
	if got, err := surfaceOf(t, box).SmoothLabels(30*deg, 10); err != nil || !slices.Equal(got, box.Label) {
		t.Errorf("a border on sharp edges moved: %v (%v)", got, err)
	}
	box.MergeLabels([]int32{1}, 0)
	if slices.Contains(box.Label, 1) {
		t.Error("merged label is still there")
	}
	if _, err := surfaceOf(t, boxMesh(1, 1, 1)).SmoothLabels(1, 1); err == nil {
		t.Error("a mesh without labels was smoothed")
	}
}

// washer is a ring, inner radius r, outer radius 2r, height h, n corners.
func washer(n int, r, h float64, at geom.Vec) *Mesh {
	m := &Mesh{}
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		for _, c := range [4][2]float64{{r, 0}, {2 * r, 0}, {2 * r, h}, {r, h}} {
			m.Points = append(m.Points, at.Add(geom.Vec{c[0] * math.Cos(a), c[0] * math.Sin(a), c[1]}))
		}
	}
	for i := range n {
		for k := range 4 {
			p, q := int32(4*i+k), int32(4*i+(k+1)%4)
			s, t := int32(4*((i+1)%n)+(k+1)%4), int32(4*((i+1)%n)+k)
			m.Faces = append(m.Faces, [3]int32{p, t, s}, [3]int32{p, s, q})
		}
	}
	return m
}

// Expected, constructed: the four rims of a washer are circles, the inner two a
// bore, and its depth is the height.
func TestRimsAndBoresOfAWasher(t *testing.T) {
	m := washer(40, 7, 3, geom.Vec{100, 20, -5})
	if v := m.VolumeMM3(); v < 0 {
		t.Fatalf("the washer is inside out: %g", v)
	}
	rims := surfaceOf(t, m).Rims(40*deg, 1e-6)
	if len(rims) != 4 {
		t.Fatalf("%d rims", len(rims))
	}
	holes := 0
	for _, r := range rims {
		if !r.Closed || r.Free || r.Circle == nil || len(r.Points) != 40 {
			t.Fatalf("%+v", r)
		}
		want := 14.0
		if r.Hole {
			want = 7
			holes++
		}
		c := r.Circle
		if math.Abs(c.RadiusMM-want) > 1e-9 || c.Centre.Sub(geom.Vec{100, 20, c.Centre[2]}).Norm() > 1e-9 || math.Abs(math.Abs(c.Axis[2])-1) > 1e-12 || c.MaxMM > 1e-9 {
			t.Errorf("%+v, want radius %g", c, want)
		}
	}
	bores := Bores(rims)
	if holes != 2 || len(bores) != 1 || math.Abs(bores[0].DepthMM-3) > 1e-9 || math.Abs(bores[0].RadiusMM-7) > 1e-9 {
		t.Errorf("%d holes, bores %+v", holes, bores)
	}
	open := sheet(20) // a hole of free edges is square: a rim, not a circle
	open.Faces = slices.DeleteFunc(open.Faces, func(f [3]int32) bool {
		p := open.Points[f[0]].Add(open.Points[f[1]]).Add(open.Points[f[2]]).Scale(1. / 3)
		return max(math.Abs(p[0]-5), math.Abs(p[1]-5)) < 1
	})
	rims = surfaceOf(t, open).Rims(40*deg, 0.1)
	if len(rims) != 2 || !rims[0].Free || !rims[0].Closed || rims[0].LengthMM != 40 || rims[1].LengthMM != 8 || rims[1].Circle != nil {
		t.Errorf("%+v", rims)
	}
}

// Expected: the covariance from the residuals against the spread of many fits
// of points with the same noise (seeded), which it must match within a few
// per cent; and for evenly spaced points in the plane the closed form
// var(radius) = sigma^2 / n, var(centre) = 2 sigma^2 / n.
func TestFitCircleCovariance(t *testing.T) {
	const n, sigma, rounds = 24, 0.01, 2000
	var mean, square [4]float64
	var cov [4][4]float64
	for round := range uint64(rounds) {
		var p []geom.Vec
		for i := range uint64(n) {
			a := 2 * math.Pi * float64(i) / n
			noise := func(k uint64) float64 {
				return sigma * math.Sqrt(-2*math.Log(1-uniform(round, 6*i+2*k))) * math.Cos(2*math.Pi*uniform(round, 6*i+2*k+1))
			}
			p = append(p, geom.Vec{3 + 5*math.Cos(a) + noise(0), 4 + 5*math.Sin(a) + noise(1), 6 + noise(2)})
		}
		c, ok := FitCircle(p)
		if !ok {
			t.Fatal("no fit")
		}
		for k, v := range [4]float64{c.Centre[0] - 3, c.Centre[1] - 4, c.Centre[2] - 6, c.RadiusMM - 5} {
			mean[k] += v / rounds
			square[k] += v * v / rounds
			cov[k][k] += c.Cov[k][k] / rounds
		}
	}
	for k, want := range [4]float64{2, 2, 1, 1} {
		want *= sigma * sigma / n
		if seen := square[k] - mean[k]*mean[k]; math.Abs(seen/want-1) > 0.15 || math.Abs(cov[k][k]/want-1) > 0.05 {
			t.Errorf("unknown %d: variance seen %.3g, given %.3g, expected %.3g", k, seen, cov[k][k], want)
		}
	}
	line := []geom.Vec{{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {3, 0, 0}}
	if _, ok := FitCircle(line); ok {
		t.Error("a circle was fitted to a line")
	}
}

// flatRing is a flat ring of n sides about the origin, seen from above.
func flatRing(n int, r, out float64) *Mesh {
	m := &Mesh{}
	for k := range n {
		s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
		m.Points = append(m.Points, geom.Vec{r * c, r * s, 0}, geom.Vec{out * c, out * s, 0})
	}
	for k := range int32(n) {
		a, b := 2*k, 2*((k+1)%int32(n))
		m.Faces = append(m.Faces, [3]int32{a, a + 1, b + 1}, [3]int32{a, b + 1, b})
	}
	return m
}

// A rim is a hole where the material lies outside it: constructed, on a sheet without a wall,
// and at tubes whose walls face the axis or away from it.
func TestWhichRimsAreHoles(t *testing.T) {
	pipe := flatRing(24, 5, 5) // of which the outer points are raised: its normals lead to the axis
	for i := range pipe.Points {
		pipe.Points[i][2] = float64(4 * (i % 2))
	}
	if n := pipe.FaceNormal(0); n.Dot(pipe.Points[0]) > 0 {
		pipe = insideOut(pipe)
	}
	for name, c := range map[string]struct {
		m    *Mesh
		want map[float64]bool // is it a hole, by radius
	}{
		"a hole in a sheet, and the sheet's own edge": {flatRing(24, 3, 20), map[float64]bool{3: true, 20: false}},
		"the same from below":                         {insideOut(flatRing(24, 3, 20)), map[float64]bool{3: true, 20: false}},
		"a narrow ring":                               {flatRing(24, 9, 10), map[float64]bool{9: true, 10: false}},
		"a bore":                                      {pipe, map[float64]bool{5: true}},
		"a peg":                                       {insideOut(pipe), map[float64]bool{5: false}},
	} {
		rims := surfaceOf(t, c.m).Rims(40*deg, 1e-6)
		if len(rims) != 2 {
			t.Fatalf("%s: %d rims", name, len(rims))
		}
		for _, r := range rims {
			if r.Circle == nil || !r.Free {
				t.Fatalf("%s: %+v", name, r)
			}
			want, ok := c.want[math.Round(r.Circle.RadiusMM)]
			if !ok || r.Hole != want {
				t.Errorf("%s: radius %g: hole %v, want %v", name, r.Circle.RadiusMM, r.Hole, want)
			}
		}
	}
}
