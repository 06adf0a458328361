package rule

import (
	"math"
	"math/rand/v2"
	"testing"
)

func mms(v, u float64) Value { return NumberValue(v, u, "mm") }

// The nearest of several: 12 +- 0.2 mm alone keeps ">= 10 mm" (z = 10); with one
// at 13 +- 3 mm beside it, which is below 10 mm with Phi(-1) = 0.159, it is open;
// one surely below breaks it. Three at 11.9 mm, u = 1 mm, miss with 0.0287 each,
// 0.0862 together at most: open, though each alone keeps it. Source: Boole's
// inequality; figures recomputed with Python's statistics.NormalDist.
func TestAllElementsKeepALimit(t *testing.T) {
	low, high := cond(t, Number, "mm", ">= 10 mm"), cond(t, Number, "mm", "< 10 mm")
	near, rough, below := mms(12, 0.2), mms(13, 3), mms(8, 0.5)
	maybe := mms(7, 0)
	maybe.Maybe = true
	far := mms(30, 0)
	far.Maybe = true
	for _, k := range []struct {
		name      string
		v         Value
		low, high CondState
	}{
		{"alone", LeastOf(near), Met, NotMet},
		{"a rough one beside it", LeastOf(near, rough), CondUndecided, CondUndecided},
		{"one below", LeastOf(near, rough, below), NotMet, Met},
		{"three near the limit", LeastOf(mms(11.9, 1), mms(11.9, 1), mms(11.9, 1)), CondUndecided, CondUndecided},
		{"one near the limit", LeastOf(mms(11.9, 1)), Met, NotMet},
		{"a place not looked at", LeastOf(near, maybe), CondUnknown, CondUnknown},
		{"that place alone", LeastOf(maybe), CondUnknown, CondUnknown},
		{"that place and one below", LeastOf(maybe, below), NotMet, Met},
		{"a place far off", LeastOf(near, far), Met, NotMet},
		{"only a place far off", LeastOf(far), Met, NotMet},
	} {
		if got := low.Eval(k.v, 0.95).State; got != k.low {
			t.Errorf("%s: %s of %v is %v, want %v", k.name, low.Text, k.v, got, k.low)
		}
		if got := high.Eval(k.v, 0.95).State; got != k.high {
			t.Errorf("%s: %s of %v is %v, want %v", k.name, high.Text, k.v, got, k.high)
		}
	}
	long := cond(t, Number, "mm", "<= 24 mm")
	if got := long.Eval(MostOf(mms(22, 0.1), mms(21.5, 3)), 0.95).State; got != CondUndecided {
		t.Errorf("the longest of two, one of them rough: %v", got)
	}
	if got := long.Eval(MostOf(mms(22, 0.1), mms(26, 0.3)), 0.95).State; got != NotMet {
		t.Errorf("one too long: %v", got)
	}
}

// One more element, or one that is less certain, never decides what was open and
// never turns one decision into the other but for the side that the extreme moves
// to: for the least of several ">= T" is never met with more when it was not, and
// "< T" is never not met. A joint sample of dependent elements keeps to the
// bounds. Seed 41.
func TestMoreElementsNeverKeepMoreSeed41(t *testing.T) {
	r := rand.New(rand.NewPCG(41, 41))
	low, high := cond(t, Number, "mm", ">= 10 mm"), cond(t, Number, "mm", "< 10 mm")
	closed := 0
	for range 20000 {
		var all []Value
		for range 1 + r.IntN(4) {
			e := mms(9+6*r.Float64(), []float64{0.01, 0.2, 1, 3}[r.IntN(4)]*r.Float64())
			e.Maybe = r.IntN(6) == 0
			all = append(all, e)
		}
		before := LeastOf(all...)
		more := mms(before.Number+0.5*r.Float64(), 6*r.Float64())
		if math.IsInf(before.Number, 0) {
			more.Number = 9 + 6*r.Float64()
		}
		more.Maybe = r.IntN(5) == 0
		after := LeastOf(append(append([]Value{}, all...), more)...)
		rough := append([]Value{}, all...)
		k := r.IntN(len(rough))
		rough[k].Std += 3 * r.Float64()
		for _, v := range []Value{after, LeastOf(rough...)} {
			if low.Eval(v, 0.95).State == Met && low.Eval(before, 0.95).State != Met {
				t.Fatalf("%v keeps >= 10 mm, %v does not", v, before)
			}
			if high.Eval(v, 0.95).State == NotMet && high.Eval(before, 0.95).State != NotMet {
				t.Fatalf("%v surely is not < 10 mm, %v is not sure", v, before)
			}
			if low.Eval(v, 0.95).State != Met && low.Eval(before, 0.95).State == Met {
				closed++
			}
		}
	}
	if closed < 500 {
		t.Errorf("only %d cases were closed by more", closed)
	}
}

// The states without reasons are those with reasons, for extremes too. Seed 42.
func TestStatesOfExtremesSeed42(t *testing.T) {
	r := rand.New(rand.NewPCG(42, 42))
	rows := []Row{{ID: "a", Conds: []Cond{cond(t, Number, "mm", ">= 10 mm")}}, {ID: "b", Conds: []Cond{cond(t, Number, "mm", ">= 8 mm and <= 12 mm")}}, {ID: "c", Conds: []Cond{cond(t, Number, "mm", "< 9 mm")}}}
	table := NewTable(rows)
	for range 3000 {
		var all []Value
		for range 1 + r.IntN(4) {
			e := mms(7+6*r.Float64(), float64(r.IntN(3))*r.Float64())
			e.Maybe = r.IntN(5) == 0
			all = append(all, e)
		}
		v := []func(...Value) Value{LeastOf, MostOf}[r.IntN(2)](all...)
		got := table.States(Facts{"f": v}, 0.95, nil)
		for i, want := range table.Eval(Facts{"f": v}, 0.95) {
			if got[i] != want.State {
				t.Fatalf("%v, row %s: %v, want %v", v, want.Row, got[i], want.State)
			}
		}
	}
}

// What is suggested holds: moved by so much all together, or none of them less
// certain than so much, the condition ends that way. Seed 43.
func TestSuggestionsForExtremesHoldSeed43(t *testing.T) {
	r := rand.New(rand.NewPCG(43, 43))
	c := cond(t, Number, "mm", ">= 10 mm")
	tried := 0
	for range draws(800, 2000) {
		v := LeastOf(mms(9+3*r.Float64(), r.Float64()), mms(10+3*r.Float64(), 3*r.Float64()), mms(10+3*r.Float64(), 3*r.Float64()))
		if f, ok := c.Nearest(v, 0.95, Met); ok && f.By != 0 {
			if got := c.Eval(v.At(f.At+1e-6), 0.95).State; got != Met {
				t.Fatalf("%v moved to %g: %v", v, f.At, got)
			}
			tried++
		}
		if n := c.Need(v, 0.95); n.Std > 0 {
			if got := c.Eval(v.Within(n.Std*(1-1e-9)), 0.95).State; got == CondUndecided {
				t.Fatalf("%v within %g is still open", v, n.Std)
			}
		}
	}
	if tried < draws(80, 200) {
		t.Errorf("only %d suggestions", tried)
	}
}
