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
	in.Setups = []job.Setup{{ID: "S1", Temp: unit.Some(unit.Celsius(35)), TempStd: 0.5}}
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

// TestMissingTemperatureIsInTheBudget: without a temperature the range of the
// body stands in: nothing is corrected when it lies evenly round the reference,
// every length becomes less certain by (high - low)/sqrt(12) times the
// expansion, and the result says so. Constructed; the standard deviation of a
// rectangular distribution is JCGM 100:2008, clause 4.3.7.
func TestMissingTemperatureIsInTheBudget(t *testing.T) {
	in := newCar(16, 71).measure(0.1)
	in.Setups = []job.Setup{{ID: "S1"}}
	in.Thermal = Thermal{BodyPerK: 23e-6, PerKStd: 1e-6, ReferenceC: 20, LowC: 8, HighC: 32}
	r, _ := Run(in)
	if len(r.Thermal) != 1 || r.Thermal[0].Corrected != 0 || !noted(r, "measure.no-temperature", "set-up S1") {
		t.Fatalf("%+v %+v", r.Thermal, r.Notes)
	}
	near(t, "ppm", r.Thermal[0].StdPPM, 23*24/math.Sqrt(12), 1e-6)
	in.Thermal.LowC, in.Thermal.HighC = 0, 0
	if r, _ := Run(in); r.Thermal[0].StdPPM != 0 || !strings.Contains(r.Thermal[0].Text, "not corrected") || !noted(r, "measure.no-temperature", "set-up S1") {
		t.Errorf("nobody knows how warm it was: %+v", r.Thermal)
	}
	in.Thermal = Thermal{}
	if r, _ := Run(in); len(r.Thermal) != 0 || !noted(r, "measure.no-expansion", "temperature") {
		t.Errorf("no expansion: %+v %+v", r.Thermal, r.Notes)
	}
}

// TestDeviceGrowth: a device warmer than its own reference reads too little,
// its readings are made longer; one whose temperature is not known makes them
// less certain. Constructed: factor (1 + 11e-6 x 8)/(1 + 23e-6 x -2).
func TestDeviceGrowth(t *testing.T) {
	in := newCar(16, 72).measure(0.1)
	g := &job.DeviceGrowth{Expansion: 11, Std: 1, Reference: 20, Temp: unit.Some(unit.Celsius(28)), TempStd: 0.5, Low: 10, High: 30}
	in.Setups = []job.Setup{{ID: "S1", Temp: unit.Some(unit.Celsius(18)), TempStd: 0.5, Growth: g}}
	in.Thermal = Thermal{BodyPerK: 23e-6, PerKStd: 1e-6, ReferenceC: 20}
	scale(&in, (1-23e-6*2)/(1+11e-6*8))
	r, _ := Run(in)
	near(t, "ppm", r.Thermal[0].Corrected, 1e6*((1+11e-6*8)/(1-23e-6*2)-1), 1e-6)
	// (23 x 0.5)^2 + (2 x 1)^2 of the body, (11 x 0.5)^2 + (8 x 1)^2 of the device
	near(t, "std ppm", r.Thermal[0].StdPPM, math.Sqrt(23*23*0.25+4+11*11*0.25+64), 1e-6)
	if h, ok := r.Best(); !ok || len(h.Steady) != 16 {
		t.Errorf("%+v", r.Notes)
	}
	g.Temp = unit.Maybe[unit.Celsius]{}
	r, _ = Run(in)
	if !noted(r, "measure.no-device-temperature", "set-up S1") || r.Thermal[0].StdPPM < 11*20/math.Sqrt(12) {
		t.Errorf("%+v %+v", r.Thermal, r.Notes)
	}
}
