package rule

import (
	"math"
	"testing"
)

// Of a number that is known exactly, or lies beyond all numbers, the probability is one or nothing:
// a limit itself lies within. By the definition.
func TestWithinWithoutUncertainty(t *testing.T) {
	for y, want := range map[float64]float64{9: 0, 10: 1, 15: 1, 20: 1, 21: 0} {
		if got := Within(10, 20, y, 0); got != want {
			t.Errorf("%g: %g", y, got)
		}
	}
	for y, want := range map[float64]float64{9: 1, 10: 1, 11: 0} {
		if got := Below(10, y, 0); got != want {
			t.Errorf("%g below 10: %g", y, got)
		}
	}
	if up, down := Below(10, math.Inf(1), 3), Below(10, math.Inf(-1), 3); up != 0 || down != 1 {
		t.Errorf("beyond all numbers: %g and %g", up, down)
	}
	for _, y := range []float64{math.Inf(1), math.Inf(-1)} {
		if got := Within(10, 20, y, 1); got != 0 {
			t.Errorf("%g: %g", y, got)
		}
	}
	if got := Within(10, math.Inf(1), math.Inf(1), 1); got != 1 {
		t.Errorf("beyond all, without an upper limit: %g", got)
	}
}

// The limit of a flip in words, by which way the value has to go and whether the limit itself is
// enough; rounded where it still holds.
func TestLimitsOfFlipsInWords(t *testing.T) {
	for _, c := range []struct {
		at, by float64
		beyond bool
		unit   string
		want   string
	}{
		{20.128, -1, false, "mm", "20.12 mm or less"}, {20.122, 1, false, "mm", "20.13 mm or more"}, {20.125, 0, false, "mm", "20.13 mm or more"},
		{20, -1, true, "mm", "less than 20 mm"}, {20, 1, true, "mm", "more than 20 mm"}, {20, 0, true, "mm", "more than 20 mm"}, {3, 1, false, "", "3 or more"},
		{1.5, -1, false, UnitDate, dayText(1) + " or before"}, {1.5, 1, false, UnitDate, dayText(2) + " or after"}, {1.5, -1, true, UnitDate, "before " + dayText(2)}, {1.5, 1, true, UnitDate, "after " + dayText(1)},
		{2, 0, false, UnitDate, dayText(2) + " or after"}, {2, 0, true, UnitDate, "after " + dayText(2)},
	} {
		if got := (Flip{At: c.at, By: c.by, Beyond: c.beyond}).Limit(c.unit); got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}

// Why nothing decides it: a number on a limit of nothing is not asked to be an exact number.
func TestLimitsAtNothing(t *testing.T) {
	for text, want := range map[string]string{
		">= 0 mm": "the value lies on the limit: no measurement decides it there", "<= 0 mm": "the value lies on the limit: no measurement decides it there",
	} {
		if n := cond(t, Number, "mm", text).Need(NumberValue(0, 1, "mm"), 0.95); n.Std != 0 || len(n.Text) < len(want) || n.Text[:len(want)] != want {
			t.Errorf("%s: %+v", text, n)
		}
	}
	if got := short(-1e307) + " " + short(1e307) + " " + short(0); got != "-1e+307 1e+307 0" {
		t.Error(got)
	}
}

// One element that is surely there keeps the limit for the least of all, whatever else may be
// there; where only one that may be there keeps it, nothing is known.
func TestOneSureElementKeepsALimit(t *testing.T) {
	may := func(v Value) Value { v.Maybe = true; return v }
	five, far := NumberValue(5, 0, "mm"), NumberValue(30, 0, "mm")
	least := func(of ...Value) *Value { return &Value{Kind: Number, Known: true, Pick: Least, Of: of} }
	for want, v := range map[miss]*Value{{0, 1}: least(may(five)), {1, 1}: least(may(far)), {0, 0}: least(five, may(far))} {
		if got := (Bound{Set: true, At: 24}).misses(v, true); got != want {
			t.Errorf("%v: %+v, want %+v", v.Of, got, want)
		}
	}
	for _, c := range []struct {
		of   []Value
		want CondState
	}{{[]Value{five}, Met}, {[]Value{five, may(far)}, Met}, {[]Value{may(far), five}, Met}, {[]Value{far, may(five)}, CondUnknown}, {[]Value{far, may(far)}, NotMet}, {[]Value{may(five)}, CondUnknown}, {[]Value{five, far, may(far)}, Met}} {
		if got := cond(t, Number, "mm", "<= 24 mm").Eval(LeastOf(c.of...), 0.95).State; got != c.want {
			t.Errorf("%v: %v, want %v", c.of, got, c.want)
		}
	}
}
