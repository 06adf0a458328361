package measure

import (
	"strings"
	"testing"

	"fettle/internal/geom"
)

// Rare answers, each by a vehicle made for it.

// Half of the points were moved as one between the stages, by less than shows against
// the places they were built to: nothing says which half was left alone, and the
// changes are open.
func TestHalfChangedAsOneIsOpen(t *testing.T) {
	_, in, _ := pulled(14, 0, 0.02, false, 1)
	for i := range in.Readings {
		rd := &in.Readings[i]
		if rd.Setup != "S1" && rd.From > "P07" {
			rd.X.Value += 0.6
			rd.Z.Value -= 0.5
		}
	}
	before, _ := Run(in)
	in.Stage = "after"
	after, _ := Run(in)
	p := Compare(in.Points, before, after)
	if len(p.Notes) != 1 || !strings.Contains(p.Notes[0].Text, "two groups of points changed") || !p.Points[4].Open {
		t.Errorf("notes %+v, first open %v", p.Notes, p.Points[4].Open)
	}
}

// The points of one rail lie in one plane along the vehicle: shear in the xy plane
// is a turn there, and no diamond is told.
func TestRailAloneShowsNoDiamond(t *testing.T) {
	c := newCar(24, 6)
	var rail []int
	for i := range c.at {
		if c.at[i][0] > 2400 && i%2 == 0 {
			c.at[i][1] = 600
			rail = append(rail, i)
		}
	}
	c.moveTogether(rail, 20)
	in := c.measure(0.3)
	in.Impact = "rear"
	r, _ := Run(in)
	h, ok := r.Best()
	if !ok || len(h.Sections) != 1 || len(h.Sections[0].Points) != len(rail) {
		t.Fatalf("%d sections of %d moved points", len(h.Sections), len(rail))
	}
	for _, s := range h.Sections[0].Stations {
		if s.Diamond != nil || s.DiamondMM != nil {
			t.Errorf("%s: diamond %+v", s.Of, s.Diamond)
		}
	}
}

// Lengths alone whose twins were written down under each other's labels: named, and
// not as a fault of a set-up without a name.
func TestExchangedSidesOfLengthsAlone(t *testing.T) {
	c := newCar(12, 4)
	in := Input{Points: c.measure(1).Points, Impact: "unknown"}
	for i := range c.at {
		in.Points[i].Mirror = in.Points[i^1].ID
		for j := range i {
			in.Readings = append(in.Readings, spanReading("T", "length", in.Points[i^1].ID, in.Points[j^1].ID, c.at[i].Dist(c.at[j])+0.3*c.rng.NormFloat64(), 0.3))
		}
	}
	r, _ := Run(in)
	if !noted(r, "measure.suspect-mirror", "all lengths") || firmPoints(r) > 0 {
		t.Errorf("%d points firm, notes %+v", firmPoints(r), r.Notes)
	}
}

// A point beside its limit that the device could decide only with a hundredth of its
// uncertainty.
func TestNeedsAMuchBetterDevice(t *testing.T) {
	p := newCar(1, 1).measure(1).Points[0]
	off, cov := geom.Vec{2.99, 0, 0}, geom.Isotropic(0.5)
	if s := needsFor(Conform(p, off, cov, 0), p, off, cov, geom.Mat3{}, 0).text(p.ID); !strings.Contains(s, "much better device") {
		t.Error(s)
	}
}
