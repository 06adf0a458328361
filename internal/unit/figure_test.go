package unit

import (
	"math"
	"testing"
)

func TestPercentIsNeverSure(t *testing.T) {
	for p, want := range map[float64]string{0: "under 0.1 %", 0.0004999: "under 0.1 %", 0.0005: "0.1 %", 0.5: "50.0 %", 0.9994: "99.9 %", 0.9995: "over 99.9 %", 1: "over 99.9 %", math.Inf(1): "over 99.9 %"} {
		if got := Percent(p); got != want {
			t.Errorf("Percent(%v) is %q and should be %q", p, got, want)
		}
	}
	if got := Percent(math.NaN()); got != "unknown" {
		t.Errorf("no number is %q", got)
	}
	for i := range 4000 {
		if got := Percent(float64(i) / 4000); got == "0.0 %" || got == "100.0 %" {
			t.Errorf("%d of 4000 is %q", i, got)
		}
	}
}

func TestSpreadEndsAtOneDecimal(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		want string
	}{{13.04, 1.41, "13.0 ± 1.4"}, {32, 1.34, "32.0 ± 1.3"}, {-0.04, 0.3, "0.0 ± 0.3"}, {21.04, 0.04, "21.04 ± 0.04"}, {21, 0.004, "21.000 ± 0.004"}, {21, 0, "21.0 ± 0.0"}, {5, 1e-12, "5.000000 ± 0.000000"}} {
		if got := Spread(c.v, c.u); got != c.want {
			t.Errorf("%v and %v are %q and should be %q", c.v, c.u, got, c.want)
		}
	}
}

// TestNoWholeNumberIsNoCrash: what fits no whole number is worded as it is.
func TestNoWholeNumberIsNoCrash(t *testing.T) {
	for v, want := range map[float64]string{1e300: "1e+300 min", -1e300: "-1e+300 min", math.Inf(1): "+Inf min", 1 << 63: "9.223372036854776e+18 min", 60: "1 h"} {
		if got := Minutes(v).Words(); got != want {
			t.Errorf("%v minutes are %q and should be %q", v, got, want)
		}
	}
	for v, want := range map[float64]string{1e300: "x piece", 1 << 63: "x piece", math.NaN(): "x piece", 3: "3 pieces", 2.5: "x piece"} {
		if got := Pieces("x", v, "piece"); got != want {
			t.Errorf("%v pieces are %q and should be %q", v, got, want)
		}
	}
}
