package body

import (
	"math"
	"testing"
)

// TestThermalMean: one material is itself; two give the middle, and half their
// difference as a rectangular distribution beside the larger uncertainty.
// Constructed; the divisor 3 is JCGM 100:2008, clause 4.3.7.
func TestThermalMean(t *testing.T) {
	one := Thermal{Materials: []Growth{{Expansion: 22, Std: 0.5}}}
	if m, u := one.Mean(); m != 22 || math.Abs(u-0.5) > 1e-12 {
		t.Errorf("one material: %v ± %v", m, u)
	}
	two := Thermal{Materials: []Growth{{Expansion: 22, Std: 0.5}, {Expansion: 12, Std: 0.3}}}
	if m, u := two.Mean(); m != 17 || math.Abs(u-math.Sqrt(25.0/3+0.25)) > 1e-12 {
		t.Errorf("two materials: %v ± %v", m, u)
	}
	if m, u := (Thermal{}).Mean(); m != 0 || u != 0 {
		t.Errorf("no material: %v ± %v", m, u)
	}
}
