package rule

import (
	"strings"
	"testing"

	"fettle/internal/unit"
)

// The nearest day in words holds on the very days on which the flip does: on one side of a day
// or of a time between two, with it or without.
func TestNearestDayInWords(t *testing.T) {
	middle := Day(unit.Date{Year: 2030, Month: 3, Day: 1})
	for _, by := range []float64{-1, 1} {
		for _, beyond := range []bool{false, true} {
			for _, at := range []float64{middle, middle + 0.25, middle + 0.75} {
				text := Flip{At: at, By: by, Beyond: beyond}.Limit(UnitDate)
				for d := middle - 3; d <= middle+3; d++ {
					holds := d == at && !beyond || by < 0 && d < at || by > 0 && d > at
					var said bool
					switch { // the days are written so that their order is that of the words
					case strings.HasPrefix(text, "before "):
						said = dayText(d) < strings.TrimPrefix(text, "before ")
					case strings.HasPrefix(text, "after "):
						said = dayText(d) > strings.TrimPrefix(text, "after ")
					case strings.HasSuffix(text, " or before"):
						said = dayText(d) <= strings.TrimSuffix(text, " or before")
					case strings.HasSuffix(text, " or after"):
						said = dayText(d) >= strings.TrimSuffix(text, " or after")
					default:
						t.Fatalf("%q", text)
					}
					if said != holds {
						t.Errorf("%q of day %s: %v, the flip at %g by %g beyond %v holds: %v", text, dayText(d), said, at-middle, by, beyond, holds)
					}
				}
			}
		}
	}
}

// Where no measurement decides a condition it is said why: because its limits are one number, or
// because the value lies on one of its limits.
func TestWhyNoMeasurementDecides(t *testing.T) {
	const exact, limit = "only an exact number decides this condition", "the value lies on the limit: no measurement decides it there"
	for text, want := range map[string]string{">= 5 mm and <= 5 mm": exact, ">= 5 mm": limit, "< 5 mm": limit, ">= 5 mm and <= 9 mm": limit, ">= 2 mm and <= 5 mm": limit} {
		c, err := ParseCond("length", Number, "mm", text)
		if err != nil {
			t.Fatal(err)
		}
		if n := c.Need(NumberValue(5, 0.5, "mm"), 0.95); n.Std != 0 || !strings.HasPrefix(n.Text, want) {
			t.Errorf("%s: %+v, want %q", text, n, want)
		}
		for _, y := range []float64{4.9, 5.1} {
			if n := c.Need(NumberValue(y, 0.5, "mm"), 0.95); n.Std > 0 == (want == exact) || strings.HasPrefix(n.Text, limit) {
				t.Errorf("%s of %g mm: %+v", text, y, n)
			}
		}
	}
}

// Far from every limit a condition is decided even where certainty is asked for.
func TestCertaintyFarFromALimit(t *testing.T) {
	for text, want := range map[string][2]CondState{"<= 5 mm": {Met, NotMet}, ">= 5 mm": {NotMet, Met}, "> -900 mm and < 5 mm": {Met, NotMet}, ">= 5 mm and <= 900 mm": {NotMet, Met}} {
		c, err := ParseCond("length", Number, "mm", text)
		if err != nil {
			t.Fatal(err)
		}
		for k, y := range []float64{-400, 400} {
			for _, conf := range []float64{0.95, 1} {
				if got := c.Eval(NumberValue(y, 0.5, "mm"), conf).State; got != want[k] {
					t.Errorf("%g mm %s, with confidence %g: %v, want %v", y, text, conf, got, want[k])
				}
			}
		}
	}
}

// The way between what does not do and what does is halved down to one in a million million: the
// edge is found from either side. Constructed.
func TestHalvedFindsTheEdge(t *testing.T) {
	for _, edge := range []float64{-3, -1e-9, 0.1, 2.5, 700} {
		for _, side := range []float64{-1, 1} {
			got := halved(edge-1000*side, edge+1*side, func(x float64) bool { return side*(x-edge) >= 0 })
			if d := side * (got - edge); d < 0 || d > 1e-9 {
				t.Errorf("from %+v to %v: %v", side, edge, got)
			}
		}
	}
}

// An uncertain number outside an interval would be met from where the probability of lying in it
// is enough: 10 mm + 1.64485 and 24 mm - 1.64485 of an uncertainty of 1 mm (recomputed with
// Python's statistics.NormalDist; the other limit is too far off to count).
func TestNearestInsideAnInterval(t *testing.T) {
	c, err := ParseCond("length", Number, "mm", ">= 10 mm and <= 24 mm")
	if err != nil {
		t.Fatal(err)
	}
	for y, want := range map[float64]float64{8: 11.64485, 10.5: 11.64485, 23.5: 22.35515, 30: 22.35515} {
		if f, ok := c.Nearest(NumberValue(y, 1, "mm"), 0.95, Met); !ok || f.At < want-1e-4 || f.At > want+1e-4 || f.By != f.At-y || f.To != Met {
			t.Errorf("from %g mm: %+v %v, want %g", y, f, ok, want)
		}
	}
}

// A number with an uncertainty of nothing is exact; one with less than nothing is none.
func TestValueWithoutUncertainty(t *testing.T) {
	for text, want := range map[string]bool{"20 +- 0 mm": true, "20 mm +- 0 mm": true, "20 +- -0.1 mm": false} {
		if v, err := ParseValue(Number, "mm", text); (err == nil) != want || want && (v.Number != 20 || v.Std != 0 || !v.Known) {
			t.Errorf("%s: %v %v", text, v, err)
		}
	}
}
