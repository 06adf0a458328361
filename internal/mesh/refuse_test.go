package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// What cannot be answered is refused with what is wrong, whatever is asked.
func TestQuestionsThatAreRefused(t *testing.T) {
	box := boxMesh(10, 6, 4)
	s := surfaceOf(t, box)
	other := joined(box, shifted(box, geom.Vec{50, 0, 0}))
	apart := surfaceOf(t, other)
	here, there := Site{Face: 0, Bary: [3]float64{0.2, 0.3, 0.5}}, Site{Face: 20, Bary: [3]float64{0.2, 0.3, 0.5}}
	way, err := s.Path(here, Site{Face: 5, Bary: [3]float64{0.2, 0.3, 0.5}})
	if err != nil {
		t.Fatal(err)
	}
	corner := []geom.Vec{{1, 1, 4}, {5, 1, 4}, {3, 4, 4}}
	for _, c := range []struct {
		name string
		ask  func() error
		want string
	}{
		{"a curve on no mesh", func() error { _, _, err := (&Mesh{}).SectionAlong(corner, geom.Vec{}, 0); return err }, "no faces"},
		{"a curve on faces without corners", func() error {
			_, _, err := (&Mesh{Points: box.Points, Faces: [][3]int32{{0, 0, 1}}}).SectionAlong(corner, geom.Vec{}, 0)
			return err
		}, "two equal corners"},
		{"a side that is no place", func() error { _, _, err := box.SectionAlong(corner, geom.Vec{0, math.Inf(1), 0}, 0); return err }, "not a number"},
		{"a curve from one part to another", func() error {
			_, _, err := other.SectionAlong([]geom.Vec{{1, 1, 4}, {55, 1, 4}, {3, 4, 4}}, geom.Vec{}, 1e-6)
			return err
		}, "not connected"},
		{"a way from one part to another", func() error { _, err := apart.Path(here, there); return err }, "not connected"},
		{"a shortest way from one part to another", func() error { _, err := apart.ShortestPath(here, there); return err }, "not connected"},
		{"a curve over two parts", func() error { _, err := apart.CurveDistance([]Site{here, there}, []Site{here}, 1); return err }, "not connected"},
		{"from a curve of nothing", func() error { _, err := s.CurveDistance(nil, []Site{here}, 1); return err }, "no points"},
		{"to a curve of nothing", func() error { _, err := s.CurveDistance([]Site{here}, nil, 1); return err }, "no points"},
		{"less than no distance", func() error { _, err := s.CurveDistance([]Site{here}, []Site{here}, -1); return err }, "not usable"},
		{"no number as distance", func() error { _, err := s.CurveDistance([]Site{here}, []Site{here}, math.NaN()); return err }, "not usable"},
		{"an endless distance", func() error { _, err := s.CurveDistance([]Site{here}, []Site{here}, math.Inf(1)); return err }, "not usable"},
		{"through no way", func() error { _, err := s.Through(nil); return err }, "no length"},
		{"through a way without points", func() error { _, err := s.Through([]Path{way, {}}); return err }, "no points"},
		{"through a way that lacks a face", func() error {
			_, err := s.Through([]Path{{Points: way.Points, Faces: way.Faces[1:]}})
			return err
		}, "no points"},
		{"through a way of one place", func() error { _, err := s.Through([]Path{{Points: way.Points[:1]}}); return err }, "no length"},
		{"through a way of another surface", func() error {
			_, err := s.Through([]Path{{Points: way.Points[:2], Faces: []int{12}}})
			return err
		}, "another surface"},
		{"through a face below the first", func() error {
			_, err := s.Through([]Path{{Points: way.Points[:2], Faces: []int{-1}}})
			return err
		}, "another surface"},
		{"a tolerance of nothing", func() error { _, err := box.Mend(0); return err }, "tolerance of 0"},
		{"a tolerance below nothing", func() error { _, err := box.Mend(-1); return err }, "tolerance of -1"},
		{"no number as tolerance", func() error { _, err := box.Mend(math.NaN()); return err }, "tolerance of NaN"},
		{"an endless tolerance", func() error { _, err := box.Mend(math.Inf(1)); return err }, "tolerance of +Inf"},
	} {
		if err := c.ask(); err == nil || diag.KindOf(err) == diag.Internal || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if d, err := apart.graphDistance([]Site{here}, []Site{there}); err != nil || !math.IsInf(d, 1) {
		t.Errorf("from one part to another it is %g, %v", d, err)
	}
	// so many sides of strips in one place that not all can be held against one another
	heap := &Mesh{}
	for k := range 3000 {
		n := int32(len(heap.Points))
		x := 1e-6 * float64(k)
		heap.Points = append(heap.Points, geom.Vec{x, 0, 0}, geom.Vec{x, 1, 0}, geom.Vec{x, 0, 1})
		heap.Faces = append(heap.Faces, [3]int32{n, n + 1, n + 2})
	}
	if _, err := heap.Mend(0.5); err == nil || !strings.Contains(err.Error(), "too many free edges") || !strings.Contains(err.Error(), "within 0.5 mm") {
		t.Errorf("a heap is mended: %v", err)
	}
}

// A cut along a curve gives the parts of a face its label, and a place the curve comes by twice
// is one point of it.
func TestCutAlongKeepsLabels(t *testing.T) {
	m := boxMesh(10, 6, 4)
	for f := range m.Faces {
		m.Label = append(m.Label, int32(10+f))
	}
	c, off, err := m.SectionAlong([]geom.Vec{{1, 1, 4.5}, {8, 1, 4}, {8, 5, 4}, {4, 5, 4}}, geom.Vec{6, 3, 4}, 1e-7)
	if err != nil || !c.Divides || math.Abs(off-0.5) > 1e-9 {
		t.Fatalf("%v %v, %g off", err, c.Reasons, off)
	}
	parts := 0
	for f, p := range c.Split.Parent {
		if c.Split.Mesh.Label[f] != m.Label[p] {
			t.Errorf("face %d of face %d has label %d", f, p, c.Split.Mesh.Label[f])
		}
		if int32(f) != p {
			parts++
		}
	}
	want := 7.0 + 4 + 4 + math.Hypot(3, 4) // on the flat top the ways are straight
	area := 0.0                            // of the quadrangle, by the shoelace
	quad := [][2]float64{{1, 1}, {8, 1}, {8, 5}, {4, 5}}
	for i, p := range quad {
		q := quad[(i+1)%4]
		area += (p[0]*q[1] - q[0]*p[1]) / 2
	}
	if parts == 0 || math.Abs(c.LengthMM-want) > 1e-6 || math.Abs(c.Outer.AreaMM2-area) > 1e-6 || math.Abs(c.Outer.VolumeMM3) > 1e-6 || c.FacesCrossed != 2 {
		t.Errorf("%d parts, %g long, want %g; %g mm2, want %g; %d faces crossed", parts, c.LengthMM, want, c.Outer.AreaMM2, area, c.FacesCrossed)
	}
}

// Bores by their definition: of all pairs of hole rims on one axis whose radii are alike, the
// nearest first, each rim once.
func TestBoresByDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(131, 0))
	paired := 0
	for k := range 300 {
		var rims []Rim
		axis := direction(r)
		x, _ := sideways(axis)
		for range 2 + r.IntN(6) {
			rim := Rim{Hole: r.IntN(8) > 0}
			if r.IntN(8) > 0 {
				tilt := []float64{0, 2.9, 3.1, 40}[r.IntN(4)] * deg
				if r.IntN(2) == 0 {
					tilt = 0
				}
				rim.Circle = &Circle{Centre: axis.Scale(float64(r.IntN(5))).Add(x.Scale([]float64{0, 0.8, 1.4}[min(r.IntN(4), r.IntN(3))])), Axis: axis.Scale(math.Cos(tilt)).Add(x.Scale(math.Sin(tilt))).Scale(float64(1 - 2*r.IntN(2))),
					RadiusMM: []float64{10, 10.5, 12}[r.IntN(3)]}
			}
			rims = append(rims, rim)
		}
		used := map[int]bool{}
		var want []Bore
		for {
			best, found := Bore{DepthMM: math.Inf(1)}, false
			for i := range rims {
				for j := i + 1; j < len(rims); j++ {
					a, b := rims[i].Circle, rims[j].Circle
					if used[i] || used[j] || a == nil || b == nil || !rims[i].Hole || !rims[j].Hole {
						continue
					}
					off := b.Centre.Sub(a.Centre)
					along := math.Abs(off.Dot(a.Axis))
					if math.Acos(min(1, math.Abs(a.Axis.Dot(b.Axis)))) > 3*deg || radial(off, a.Axis).Norm() > 0.1*a.RadiusMM || math.Abs(a.RadiusMM-b.RadiusMM) > 0.1*a.RadiusMM || along == 0 {
						continue
					}
					if along < best.DepthMM {
						best, found = Bore{[2]int{i, j}, *a, along, (a.RadiusMM + b.RadiusMM) / 2}, true
					}
				}
			}
			if !found {
				break
			}
			used[best.Rims[0]], used[best.Rims[1]] = true, true
			want = append(want, best)
		}
		if got := Bores(rims); !slices.Equal(got, want) {
			t.Fatalf("case %d: %+v, want %+v", k, got, want)
		}
		paired += len(want)
	}
	if paired < 100 {
		t.Errorf("only %d pairs", paired)
	}
}
