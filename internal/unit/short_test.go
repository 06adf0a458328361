package unit

import (
	"math"
	"testing"
)

// Three figures, never an exponent; rounded up where something has to fit.
func TestShortLengths(t *testing.T) {
	for _, c := range []struct {
		mm        MM
		short, up string
	}{
		{0, "0 mm", "0 mm"}, {1.00000000000655e-5, "0.00001 mm", "0.00001 mm"}, {0.0123456, "0.0123 mm", "0.0124 mm"},
		{0.25, "0.25 mm", "0.25 mm"}, {3.1416, "3.14 mm", "3.15 mm"}, {99.96, "100 mm", "100 mm"}, {1234.5, "1230 mm", "1240 mm"}, {40, "40 mm", "40 mm"},
		{-1.2345, "-1.23 mm", "-1.23 mm"}, {math.MaxFloat64, MM(math.MaxFloat64).String(), "+Inf mm"}, {MM(math.Inf(1)), "+Inf mm", "+Inf mm"},
	} {
		if got, up := c.mm.Short(), c.mm.ShortUp(); got != c.short || up != c.up {
			t.Errorf("%g: %s and %s, want %s and %s", float64(c.mm), got, up, c.short, c.up)
		}
	}
}
