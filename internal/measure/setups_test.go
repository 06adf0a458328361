package measure

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// Tram lengths alone, every pair of ten points: the form says that the rear has
// moved, and there is no pose to report. Constructed, seed 80.
func TestLengthsAlone(t *testing.T) {
	c := newCar(12, 80)
	c.moveRear(0.34, 20)
	in := Input{Impact: "rear"}
	for i, p := range c.at {
		in.Points = append(in.Points, body.Point{ID: body.PointID(string(rune('A' + i))), X: p[0], Y: p[1], Z: p[2], Tol: unit.Some(3.0), Std: unit.Some(0.0)})
	}
	for i := range c.at {
		for j := 0; j < i; j++ {
			d := c.at[i].Add(c.shift[i]).Dist(c.at[j].Add(c.shift[j])) + 0.3*c.rng.NormFloat64()
			in.Readings = append(in.Readings, spanReading("T", "length", in.Points[i].ID, in.Points[j].ID, d, 0.3))
		}
	}
	r, _ := Run(in)
	h, ok := r.Best()
	if !ok {
		t.Fatalf("no hypothesis: %+v", r.Notes)
	}
	if len(h.Setups) != 0 || len(r.Missing) != 0 || len(r.Lengths) != 66 {
		t.Errorf("%d set-ups, missing %v, %d lengths", len(h.Setups), r.Missing, len(r.Lengths))
	}
	for i, p := range h.Points {
		moved := c.shift[i].Norm() > p.Detectable
		if moved != p.Moved && (moved || c.shift[i] == (geom.Vec{})) {
			t.Errorf("%s: moved %v, shift %v, truth %v (detectable %.1f)", p.ID, p.Moved, p.ShiftMM, c.shift[i], p.Detectable)
		}
		if v, ok := geom.Mahalanobis(p.ShiftMM.Sub(c.shift[i]), p.CovMM2); moved && (!ok || v > 25) {
			t.Errorf("%s: shift %v, truth %v, std %v", p.ID, p.ShiftMM, c.shift[i], p.StdMM)
		}
	}
}

// A set-up that shares two points with the other is left out and blocks; with
// three it is linked. A point known by four lengths only gets a position; one
// known by two does not. Constructed, seed 81.
func TestLinksBetweenSetups(t *testing.T) {
	c := newCar(16, 81)
	base := c.measure(0.4)
	m := geom.Rigid{R: geom.FromRotationVector(geom.Vec{0.1, 0.2, -2}), T: geom.Vec{500, 600, 700}}
	build := func(shared int) Input {
		in := base
		in.Readings = append(in.Readings[:0:0], base.Readings[:9]...)
		for i := 9 - shared; i < 14; i++ {
			in.Readings = append(in.Readings, xyz("S2", in.Points[i].ID, m.Apply(c.at[i]).Add(c.gauss().Scale(0.4)), 0.4))
		}
		for _, j := range []int{0, 1, 4, 7} {
			in.Readings = append(in.Readings, spanReading("T", "length", in.Points[14].ID, in.Points[j].ID, c.at[14].Dist(c.at[j]), 0.3))
		}
		for _, j := range []int{2, 3} {
			in.Readings = append(in.Readings, spanReading("T", "length", in.Points[15].ID, in.Points[j].ID, c.at[15].Dist(c.at[j]), 0.3))
		}
		return in
	}
	two, _ := Run(build(2))
	if !noted(two, "measure.setup-unlinked", "S2") || len(two.Missing) != 6 {
		t.Errorf("two common points: missing %v, notes %+v", two.Missing, two.Notes)
	}
	three, _ := Run(build(3))
	h, ok := three.Best()
	if !ok || len(h.Setups) != 2 {
		t.Fatalf("three common points: %+v", three.Notes)
	}
	checkIDs(t, "missing", words(three.Missing), []string{"P16"})
	if p, ok := h.Point("P15"); !ok || p.Moved || len(p.Readings) != 1 {
		t.Errorf("point by lengths: %+v", p)
	}
	if p, _ := h.Point("P09"); len(p.Readings) != 2 {
		t.Errorf("a common point is read in two set-ups: %v", p.Readings)
	}
}

// A reading from each set-up counts: a point read twice is known better.
// Constructed, seed 82.
func TestSecondSetupHelps(t *testing.T) {
	c := newCar(12, 82)
	in := c.measure(0.5)
	one, _ := Run(in)
	m := geom.Rigid{R: geom.FromRotationVector(geom.Vec{0, 0.1, 1}), T: geom.Vec{1, 2, 3}}
	for i := range c.at {
		in.Readings = append(in.Readings, xyz("S2", in.Points[i].ID, m.Apply(c.at[i]).Add(c.gauss().Scale(0.5)), 0.5))
	}
	two, _ := Run(in)
	a, _ := one.Best()
	b, _ := two.Best()
	for i := range a.Points {
		if b.Points[i].StdMM.Norm() > 0.8*a.Points[i].StdMM.Norm() {
			t.Errorf("%s: std %v after %v", a.Points[i].ID, b.Points[i].StdMM, a.Points[i].StdMM)
		}
	}
}
