package measure

import (
	"math"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// A body 15 K above its reference temperature: 4.5 m grow by 1.5 mm. With the
// expansions given the readings are corrected, and the uncertainty of the
// factor widens that of points far from the middle. Constructed; the expansion
// of 23e-6 per kelvin is of the order of aluminium (from memory).
func TestTemperatureIsCorrected(t *testing.T) {
	c := newCar(16, 70)
	in := c.measure(0.1)
	in.Setups = []job.Setup{{ID: "S1", Temp: unit.Celsius(35)}}
	scale(&in, 1+15*(23e-6-11e-6))
	raw, _ := Run(in)
	in.Thermal = Thermal{BodyPerK: 23e-6, DevicePerK: 11e-6, ReferenceC: 20}
	good, _ := Run(in)
	g, _ := good.Best()
	if len(g.Steady) != 16 || noted(good, "measure.scale", "") {
		t.Errorf("corrected: %d steady, notes %+v", len(g.Steady), good.Notes)
	}
	near(t, "scale after correction", g.Setups["S1"].Scale, 1, 4*g.Setups["S1"].ScaleStd)
	if h, ok := raw.Best(); ok && !noted(raw, "measure.scale", "") && len(h.Steady) == 16 {
		t.Errorf("not corrected, and nothing says so: scale %v ± %v", h.Setups["S1"].Scale, h.Setups["S1"].ScaleStd)
	}
	in.Thermal.PerKStd = 4e-6
	wide, _ := Run(in)
	w, _ := wide.Best()
	far, _ := w.Point("P16")
	before, _ := g.Point("P16")
	if far.StdMM[0] <= before.StdMM[0] {
		t.Errorf("std %v, want more than %v", far.StdMM, before.StdMM)
	}
	in.Setups = nil
	none, _ := Run(in)
	if !noted(none, "measure.no-temperature", "S1") {
		t.Errorf("no temperature: %+v", none.Notes)
	}
	in.Thermal.BodyPerK = math.NaN()
	if bad, _ := Run(in); !noted(bad, "measure.thermal-unusable", "") {
		t.Errorf("NaN: %+v", bad.Notes)
	}
}

// Twins are compared, and change no verdict: a front that moved back equally
// on both sides satisfies every symmetry row and is moved all the same.
func TestSymmetryProvesNothing(t *testing.T) {
	c := newCar(20, 71)
	for i := range c.at {
		if i%2 == 1 {
			c.at[i] = c.at[i-1]
			c.at[i][1] *= -1
		}
	}
	for i := 0; i < 6; i++ {
		c.shift[i][0] = 12
	}
	c.shift[19][2] = 9
	in := c.measure(0.4)
	in.Impact = "front"
	for i := range in.Points {
		in.Points[i].Mirror = in.Points[i^1].ID
	}
	plain, _ := Run(in)
	in.Symmetry = 1.5
	r, _ := Run(in)
	if verdicts(plain) != verdicts(r) {
		t.Error("symmetry changed a verdict")
	}
	h, _ := r.Best()
	for _, id := range []body.PointID{"P01", "P02", "P06"} {
		if p, _ := h.Point(id); !p.Moved {
			t.Errorf("%s is not called moved", id)
		}
	}
	rows := 0
	for _, o := range r.Adjustment.Observations {
		if strings.HasPrefix(o.Kind, "symmetry") {
			rows++
			if o.From == "P01" && math.Abs(o.W) > criticalNormal {
				t.Errorf("equal damage on both sides: w = %v", o.W)
			}
		}
	}
	if rows != 30 || !noted(r, "measure.not-symmetric", "P19, P20") {
		t.Errorf("%d rows, notes %+v", rows, r.Notes)
	}
}
