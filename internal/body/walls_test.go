package body

import (
	"context"
	"math"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// TestRimsAgreeWithWalls: a rim belongs to a wall of 5 mm that is 10 mm deep where it is turned by
// less than 45 degrees, lies no farther off its axis than half its radius, no farther along it than
// 2.5 mm beyond its ends, and is no narrower than half of its narrowest and no wider than 2.5 mm or
// 30 % more; it agrees with it where the radius is the same within 0.05 mm.
func TestRimsAgreeWithWalls(t *testing.T) {
	wall := mesh.Hole{Circle: mesh.Circle{Axis: geom.Vec{0, 0, 1}, RadiusMM: 5}, NarrowMM: 4, DepthMM: 10}
	up := geom.Vec{0, 0, 1}
	tilt := func(degrees float64) geom.Vec {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		return geom.Vec{sin, 0, cos}
	}
	for _, c := range []struct {
		at, axis geom.Vec
		radius   float64
		which    int
		ok       bool
	}{
		{geom.Vec{}, up, 5, 0, true}, {geom.Vec{}, up.Scale(-1), 5, 0, true}, {geom.Vec{}, tilt(1), 5, 0, true}, {geom.Vec{}, tilt(3), 5, -1, true}, {geom.Vec{}, tilt(44), 5, -1, true}, {geom.Vec{}, tilt(46), 5, -1, false},
		{geom.Vec{2.5, 0, 0}, up, 5, 0, true}, {geom.Vec{2.625, 0, 0}, up, 5, -1, false}, {geom.Vec{0, -2.625, 0}, up, 5, -1, false},
		{geom.Vec{0, 0, 7.5}, up, 5, 0, true}, {geom.Vec{0, 0, 7.75}, up, 5, -1, false}, {geom.Vec{0, 0, -7.5}, up, 5, 0, true}, {geom.Vec{0, 0, -7.75}, up, 5, -1, false},
		{geom.Vec{}, up, 2, -1, true}, {geom.Vec{}, up, 1.875, -1, false}, {geom.Vec{}, up, 7.5, -1, true}, {geom.Vec{}, up, 7.625, -1, false},
		{geom.Vec{}, up, 5.03, 0, true}, {geom.Vec{}, up, 4.97, 0, true}, {geom.Vec{}, up, 5.07, -1, true}, {geom.Vec{}, up, 4.93, -1, true},
	} {
		if which, ok := wallOf([]mesh.Hole{wall}, c.at, c.axis, c.radius); which != c.which || ok != c.ok {
			t.Errorf("%v, axis %v, radius %g: %d %v", c.at, c.axis, c.radius, which, ok)
		}
	}
	wide, far := wall, wall
	wide.RadiusMM, wide.NarrowMM = 20, 20
	far.Centre[0] = 99
	for radius, want := range map[float64]bool{25: true, 27: false} { // 30 % of 20 mm are more than 2.5 mm
		if _, ok := wallOf([]mesh.Hole{wide}, geom.Vec{}, up, radius); ok != want {
			t.Errorf("%g of 20 mm: %v", radius, ok)
		}
	}
	if which, ok := wallOf([]mesh.Hole{far, wall}, geom.Vec{}, up, 5); which != 1 || !ok {
		t.Errorf("the second wall: %d %v", which, ok)
	}
	if which, ok := wallOf(nil, geom.Vec{}, up, 5); which != -1 || ok {
		t.Errorf("no wall: %d %v", which, ok)
	}
}

// TestWallsOfBoresAreNoEdges: a plate of 8 mm with a hole ends outside and in the hole; the end in
// the hole is left out where a bore is given whose wall it is: near enough along the axis (two
// walls) and across it (its radius and a wall), and open to it. The outer end faces away from it.
func TestWallsOfBoresAreNoEdges(t *testing.T) {
	s, err := mesh.NewSurface(holedPlate())
	if err != nil {
		t.Fatal(err)
	}
	mid := geom.Vec{50, 60, 4}
	bore := func(off, radius float64) []Bore {
		return []Bore{{At: mid.Add(geom.Vec{0, 0, off}), Axis: geom.Vec{0, 0, 2}, Radius: unit.MM(radius)}}
	}
	for name, c := range map[string]struct {
		bores []Bore
		ends  int
	}{
		"none": {nil, 2}, "its own": {bore(0, 12), 1}, "above it": {bore(14, 12), 1}, "below it": {bore(-14, 12), 1}, "far above": {bore(24, 12), 2}, "far below": {bore(-24, 12), 2},
		"narrow": {bore(0, 4.5), 1}, "too narrow": {bore(0, 3), 2}, "as wide as the plate": {bore(0, 60), 1}, "without an axis": {[]Bore{{At: mid, Radius: 12}}, 2},
	} {
		if got := WallEnds(s, 8, c.bores); len(got) != c.ends {
			t.Errorf("%s: %d ends", name, len(got))
		}
	}
	if got := WallEnds(s, 0, nil); got != nil {
		t.Errorf("walls of no thickness: %v", got)
	}
}

// TestRegionsAreToldByTheirLargestFace: of a block of 2 x 3 x 5 mm, six sides by their area, the
// largest first, each with the middle of its first face; the draft of nothing is nothing.
func TestRegionsAreToldByTheirLargestFace(t *testing.T) {
	s, err := mesh.NewSurface(brick(geom.Vec{2, 3, 5}, 1))
	if err != nil {
		t.Fatal(err)
	}
	f := FindFeatures(s, 30*math.Pi/180, 0.1, 1)
	m := s.Mesh()
	for i, want := range []float64{15, 15, 10, 10, 6, 6} {
		r := f.Regions[i]
		if math.Abs(r.AreaMM2-want) > 1e-12 || r.Faces != 2 {
			t.Errorf("region %d: %+v, want %g mm2", i, r, want)
		}
		found := false
		for k, of := range f.Of {
			a, b, c := m.Points[m.Faces[k][0]], m.Points[m.Faces[k][1]], m.Points[m.Faces[k][2]]
			found = found || int(of) == i && r.At.Dist(geom.Vec{(a[0] + b[0] + c[0]) / 3, (a[1] + b[1] + c[1]) / 3, (a[2] + b[2] + c[2]) / 3}) < 1e-12
		}
		if !found {
			t.Errorf("region %d is told by %v, which is the middle of none of its faces", i, r.At)
		}
	}
	if r, err := (&Features{}).Draft("m", "mm", 1, 0, 0.1); err != nil || len(r.Zones)+len(r.Steps) != 0 {
		t.Errorf("%+v %v", r, err)
	}
}

// TestZonesStopWhenAsked: nothing is made by work that was ended, and the work is over.
func TestZonesStopWhenAsked(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	r := &ZoneRecipe{Zones: []Zone{{ID: "A", Label: 1}}, Steps: []ZoneStep{{Do: ZoneFill}}}
	if err := halt.Do(ctx, func(w *halt.Work) {
		if _, err := r.ApplyWhile(w, brick(geom.Vec{1, 1, 1}, 1)); err != nil {
			t.Error(err)
		}
		t.Error("it went on")
	}); err == nil {
		t.Error("nothing says that it was ended")
	}
}
