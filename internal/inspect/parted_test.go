package inspect

import (
	"math"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// Expected: constructed. A slab of 200 x 100 x 5 mm; the corner with x < 60 and
// y < 40 mm is taken off, by two planes, or along a curve through the same
// corners.
func TestSectionLineOfPlanesAndCurve(t *testing.T) {
	planes := body.Line{ID: "planes", Casting: "C", Margin: 5, Planes: []body.LinePlane{{Normal: geom.Vec{1, 0, 0}, Offset: 60}, {Normal: geom.Vec{0, 2, 0}, Offset: 80}}}
	curve := body.Line{ID: "curve", Casting: "C", Margin: 5, TakenOff: geom.Vec{10, 10, 0},
		Curve: []geom.Vec{{60, 0, 0}, {60, 40, 0}, {0, 40, 0}, {0, 40, -5}, {60, 40, -5}, {60, 0, -5}}}
	b := newBench(slab(5))
	b.body.Lines = []body.Line{planes, curve}
	for _, c := range []struct {
		name     string
		trace    []geom.Vec
		margin   float64 // the same for both lines
		outboard bool
	}{
		{"well outboard", []geom.Vec{{20, 10, 0}, {30, 20, 0}}, 20, true},
		{"too near", []geom.Vec{{20, 10, 0}, {57, 20, 0}}, 3, false},
		{"across", []geom.Vec{{30, 20, 0}, {80, 20, 0}}, -20, false},
		{"inboard", []geom.Vec{{90, 20, 0}, {100, 20, 0}}, -40, false},
		{"beside the corner", []geom.Vec{{30, 50, 0}, {30, 55, 0}}, -15, false},
	} {
		b.job.Findings = nil
		b.crack("F", 0.5, c.trace...)
		f := firstOf(t, b)
		for _, s := range f.Sides {
			near(t, c.name+", "+string(s.Line), s.MarginMM, c.margin, 1e-6)
			if s.Outboard != c.outboard {
				t.Errorf("%s, %s: %+v", c.name, s.Line, s)
			}
		}
	}
	b.job.Findings = nil
	b.crack("F", 0.5, geom.Vec{20, 10, 0}, geom.Vec{40, 20, 0}).Tips = []body.TipMethod{"penetrant", "visual"} // allowance 4 mm
	for _, s := range firstOf(t, b).Sides {
		near(t, "tip seen by eye, "+string(s.Line), s.MarginMM, 20-4, 1e-6)
	}
	s, err := mesh.NewSurface(b.mesh)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range b.body.Lines {
		p, err := vehicle.Part(l, s)
		if err != nil || !p.Section.Divides {
			t.Fatalf("%s: %v %v", l.ID, err, p.Section.Reasons)
		}
		share, ok := p.Share()
		near(t, "share of the volume, "+string(l.ID), share, 60.*40/(200*100), 1e-9)
		near(t, "cut, "+string(l.ID), p.SawMM(), 60+40+5, 1e-6) // the loop runs along both faces and the two edges
		near(t, "surface, "+string(l.ID), p.Section.Outer.AreaMM2, 2*60*40+5*100, 1e-6)
		if !ok || !p.Outboard(geom.Vec{20, 10, 0}) || p.Outboard(geom.Vec{70, 10, 0}) || p.TakesOffAll(1) || p.TakesOffAll(9) {
			t.Errorf("%s: sides of points or labels are wrong", l.ID)
		}
	}
}

// TestSectionLineThatDoesNotDivide: a curve that does not divide the casting
// never has a finding outboard of it, and the reason is told.
func TestSectionLineThatDoesNotDivide(t *testing.T) {
	b := newBench(slab(5))
	eight := body.Line{ID: "L", Casting: "C", TakenOff: geom.Vec{10, 10, 0}, Curve: []geom.Vec{{10, 10, 0}, {80, 80, 0}, {80, 10, 0}, {10, 80, 0}}}
	off := eight
	off.Curve = []geom.Vec{{10, 10, 30}, {80, 10, 0}, {80, 80, 0}}
	lost := body.Line{ID: "L", Casting: "C", TakenOff: geom.Vec{10, 10, 60}, Curve: []geom.Vec{{10, 10, 0}, {80, 10, 0}, {80, 80, 0}}}
	for name, l := range map[string]body.Line{"an eight": eight, "off the surface": off, "the point taken off is nowhere": lost, "no direction": {ID: "L", Casting: "C"}} {
		b.body.Lines = []body.Line{l}
		b.job.Findings = nil
		b.crack("F", 0.5, geom.Vec{20, 12, 0}, geom.Vec{30, 12, 0})
		f := firstOf(t, b)
		if len(f.Sides) != 1 || f.Sides[0].Outboard || math.IsNaN(f.Sides[0].MarginMM) || math.IsInf(f.Sides[0].MarginMM, 0) {
			t.Errorf("%s: %+v", name, f.Sides)
		}
	}
}
