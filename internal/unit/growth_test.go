package unit

import "testing"

// TestGrowthReadsBack: expansions and differences of temperature are written
// with their unit and refused without. Constructed.
func TestGrowthReadsBack(t *testing.T) {
	var g PerKelvin
	if err := g.UnmarshalText([]byte("22.5 ppm/K")); err != nil || g != 22.5 || g.String() != "22.5 ppm/K" {
		t.Errorf("%v %v %v", g, g.String(), err)
	}
	var k Kelvin
	if err := k.UnmarshalText([]byte("0.5 K")); err != nil || k != 0.5 || k.String() != "0.5 K" {
		t.Errorf("%v %v %v", k, k.String(), err)
	}
	for _, bad := range []string{"22.5", "22.5 /K", "22.5e-6 1/K"} {
		if err := g.UnmarshalText([]byte(bad)); err == nil {
			t.Errorf("%q was read as %v", bad, g)
		}
	}
	if err := k.UnmarshalText([]byte("0.5 C")); err == nil {
		t.Error("a temperature was read as a difference")
	}
}
