package rule

import (
	"math"
	"math/rand/v2"
	"testing"
)

// world is what there may be of an extreme of exact elements: those that surely exist and
// some of those that need not; the extreme of nothing lies beyond every limit.
func worlds(p Pick, all []Value) []float64 {
	var out []float64
	for set := range 1 << len(all) {
		at := math.Inf(1)
		if p == Most {
			at = math.Inf(-1)
		}
		there := true
		for i, e := range all {
			switch {
			case set>>i&1 == 0:
				there = there && e.Maybe
			case p == Least:
				at = min(at, e.Number)
			default:
				at = max(at, e.Number)
			}
		}
		if there {
			out = append(out, at)
		}
	}
	return out
}

// in says whether a number lies where the text of a condition says: written apart from Cond.
func in(text string, x float64) bool {
	return map[string]bool{"<= 5 mm": x <= 5, "< 5 mm": x < 5, ">= 5 mm": x >= 5, "> 5 mm": x > 5, ">= 3 mm and <= 6 mm": x >= 3 && x <= 6, "> 3 mm and < 6 mm": x > 3 && x < 6}[text]
}

// Of exact elements a condition on the extreme is met when it is met however many of those
// that need not exist do exist, is not met when it is met in no case (for an interval: when
// one and the same limit is missed), is unknown when leaving those out would settle it, and
// is undecided never but for an interval. Every case is gone through: seed 105.
func TestExactExtremesByTheirWorldsSeed105(t *testing.T) {
	r := rand.New(rand.NewPCG(105, 105))
	texts := []string{"<= 5 mm", "< 5 mm", ">= 5 mm", "> 5 mm", ">= 3 mm and <= 6 mm", "> 3 mm and < 6 mm"}
	seen := map[CondState]int{}
	for range 2500 {
		var all []Value
		surely := false
		for range 1 + r.IntN(4) {
			e := mms(float64(2+r.IntN(6)), 0)
			e.Maybe = r.IntN(3) == 0
			surely = surely || !e.Maybe
			all = append(all, e)
		}
		p := []Pick{Least, Most}[r.IntN(2)]
		v := extreme(p, all)
		for _, text := range texts {
			met, missed := true, true
			for _, x := range worlds(p, all) {
				met, missed = met && in(text, x), missed && !in(text, x)
			}
			got := cond(t, Number, "mm", text).Eval(v, []float64{0.95, 1}[r.IntN(2)])
			interval := len(text) > 7
			switch {
			case (got.State == Met) != met, got.State == NotMet && !missed, !interval && got.State != NotMet && missed:
				t.Fatalf("%s of %v in %v: %v; met in all cases %v, in none %v", text, p, all, got.State, met, missed)
			case !interval && !met && !missed && got.State != CondUnknown, got.State == CondUndecided && !interval:
				t.Fatalf("%s of %v in %v: %v", text, p, all, got.State)
			case met && got.Prob != 1, missed && got.Prob != 0:
				t.Fatalf("%s of %v in %v: probability %v", text, p, all, got.Prob)
			}
			seen[got.State]++
		}
	}
	for _, s := range []CondState{Met, NotMet, CondUnknown} {
		if seen[s] < 500 {
			t.Errorf("%v", seen)
		}
	}
}

// The largest of several is the smallest of their opposites: every condition ends for the one
// as the opposite condition ends for the other, with the same probability, and what is
// suggested lies opposite. Uncertain elements, and such as need not exist: seed 106.
func TestLargestIsTheSmallestOfOppositesSeed106(t *testing.T) {
	r := rand.New(rand.NewPCG(106, 106))
	opposite := map[string]string{"<= 5 mm": ">= -5 mm", "< 5 mm": "> -5 mm", ">= 5 mm": "<= -5 mm", "> 5 mm": "< -5 mm",
		">= 3 mm and <= 6 mm": ">= -6 mm and <= -3 mm", "> 3 mm and <= 6 mm": ">= -6 mm and < -3 mm"}
	seen := map[CondState]int{}
	for range 700 {
		var all, other []Value
		for range 1 + r.IntN(4) {
			e := mms(2+6*r.Float64(), float64(r.IntN(3))*r.Float64())
			e.Maybe = r.IntN(5) == 0
			o := e
			o.Number = -e.Number
			all, other = append(all, e), append(other, o)
		}
		most, least := MostOf(all...), LeastOf(other...)
		if most.Number != -least.Number || most.Std != least.Std || most.MostStd() != least.MostStd() || len(most.Of) != len(least.Of) {
			t.Fatalf("%+v and %+v", most, least)
		}
		for text, turned := range opposite {
			c, d := cond(t, Number, "mm", text), cond(t, Number, "mm", turned)
			a, b := c.Eval(most, 0.95), d.Eval(least, 0.95)
			if a.State != b.State || math.Abs(a.Prob-b.Prob) > 1e-12 {
				t.Fatalf("%s of %+v: %+v; %s of the opposites: %+v", text, most, a, turned, b)
			}
			seen[a.State]++
			if r.IntN(25) > 0 {
				continue
			}
			for _, want := range []CondState{Met, NotMet} {
				f, ok := c.Nearest(most, 0.95, want)
				g, also := d.Nearest(least, 0.95, want)
				if ok != also || math.Abs(f.By+g.By) > 1e-9 && math.Abs(f.By-g.By) > 1e-9 {
					t.Fatalf("%s of %+v to %v: %+v %v; of the opposites: %+v %v", text, most, want, f, ok, g, also)
				}
			}
		}
	}
	for _, s := range []CondState{Met, NotMet, CondUnknown, CondUndecided} {
		if seen[s] < 100 {
			t.Errorf("%v", seen)
		}
	}
}

// A number that shall be exactly one is met only by an extreme of exact elements that all
// exist and have it as their extreme; one uncertain element, or one that need not be there,
// leaves it open. Constructed.
func TestExtremeThatEqualsANumber(t *testing.T) {
	c := cond(t, Number, "", "= 5")
	exact := func(x float64) Value { return NumberValue(x, 0, "") }
	rough, maybe := NumberValue(5, 0.1, ""), exact(7)
	maybe.Maybe = true
	for _, k := range []struct {
		v    Value
		want CondState
	}{
		{LeastOf(exact(5), exact(7)), Met}, {LeastOf(exact(4), exact(5)), NotMet}, {LeastOf(exact(6), exact(7)), NotMet}, {MostOf(exact(5), exact(7)), NotMet},
		{LeastOf(exact(5), rough), CondUndecided}, {LeastOf(rough), CondUndecided}, {MostOf(exact(5), maybe), CondUndecided}, {MostOf(exact(5), exact(5)), Met},
	} {
		if got := c.Eval(k.v, 0.95); got.State != k.want || (got.Prob == 1) != (k.want == Met) {
			t.Errorf("%v: %+v, want %v", k.v.Of, got, k.want)
		}
	}
}

// Of elements one of which is not known, or is no number, or of none at all, the extreme is
// not known; an extreme of extremes is that of all their elements.
func TestExtremeOfWhatIsNotKnown(t *testing.T) {
	for _, of := range []func(...Value) Value{LeastOf, MostOf} {
		for _, v := range []Value{of(), of(mms(1, 0), Unknown(Number)), of(TextValue("a")), of(mms(1, 0), BoolValue(true))} {
			if v.Known || v.Kind != Number {
				t.Errorf("%+v", v)
			}
		}
		parts := []Value{mms(1, 1), mms(2, 1), mms(3, 1)}
		if got, want := of(of(parts[0], parts[1]), parts[2]), of(parts...); len(got.Of) != 3 || got.Number != want.Number {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	if got := MostOf(mms(1, 1), LeastOf(mms(4, 1), mms(5, 1))); len(got.Of) != 2 {
		t.Errorf("the largest of a number and a smallest has %d elements", len(got.Of))
	}
}

// An extreme says the elements that may lie farther out by their coverage interval, the
// farthest first, and how far was looked. Constructed.
func TestExtremesInWords(t *testing.T) {
	far, near, below := mms(9, 0), mms(4, 0), mms(-1, 0)
	far.Maybe, near.Maybe, below.Maybe = true, true, true
	for want, v := range map[string]Value{
		"10.0 ± 1.0 mm, or 12.0 ± 8.0 mm, or 11.0 ± 4.0 mm":           LeastOf(mms(10, 0.5), mms(11, 2), mms(12, 4), mms(13, 1)),
		"13.0 ± 1.0 mm, or 12.0 ± 6.0 mm":                             MostOf(mms(10, 0.5), mms(11, 0.4), mms(12, 3), mms(13, 0.5)),
		"10.0 ± 1.0 mm, not looked at from 4 mm on":                   LeastOf(mms(10, 0.5), far, near),
		"10.0 ± 1.0 mm, not looked at from 0 mm on":                   LeastOf(mms(10, 0.5), below),
		"10.0 ± 1.0 mm, or 11.0 ± 6.0 mm, not looked at from 9 mm on": LeastOf(mms(10, 0.5), mms(11, 3), far),
		"none near, not looked at from 9 mm on":                       LeastOf(far),
		"10.0 ± 1.0 mm":                                               LeastOf(mms(10, 0.5), mms(11, 1)),
	} {
		if got := v.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if at, some := LeastOf(mms(10, 1), far, near).Looked(); !some || at != 4 {
		t.Errorf("looked as far as %v, %v", at, some)
	}
	if _, some := LeastOf(mms(1, 1), mms(2, 2)).Looked(); some {
		t.Error("all of it was looked at")
	}
}

// A number for several ends a single limit as all of them end it: met when every one of them
// meets it, not met when every one misses it, and undecided otherwise; an interval it meets
// only when all do. Drawn at three confidences: seed 107.
func TestSpanEndsAsAllOfThemSeed107(t *testing.T) {
	r := rand.New(rand.NewPCG(107, 107))
	seen := map[CondState]int{}
	for range 1500 {
		conf := []float64{0.5, 0.95, 0.99}[r.IntN(3)]
		var all []Value
		for range 1 + r.IntN(3) {
			all = append(all, mms(float64(r.IntN(20)), float64(r.IntN(3))*r.Float64()))
		}
		v := Span(all, conf)
		for _, text := range []string{"<= 9.7 mm", "> 9.7 mm", ">= 4.3 mm and <= 15.2 mm"} {
			c := cond(t, Number, "mm", text)
			ends := map[CondState]int{}
			for _, x := range all {
				ends[c.Eval(x, conf).State]++
			}
			got := c.Eval(v, conf).State
			interval := text[0] == '>' && len(text) > 10
			if interval && got == Met && ends[Met] < len(all) {
				t.Fatalf("%s of %v met, of each %v", text, all, ends)
			}
			if !interval && ((got == Met) != (ends[Met] == len(all)) || (got == NotMet) != (ends[NotMet] == len(all))) {
				t.Fatalf("%s of %v as %v: %v, of each %v", text, all, v, got, ends)
			}
			seen[got]++
		}
	}
	if seen[Met] < 200 || seen[NotMet] < 200 || seen[CondUndecided] < 200 {
		t.Errorf("%v", seen)
	}
	if v := Span(nil, 0.95); v.Known {
		t.Errorf("of none: %v", v)
	}
	if v := Span([]Value{mms(1, 1), Unknown(Number)}, 0.95); v.Known {
		t.Errorf("of one that is not known: %v", v)
	}
	if v := Span([]Value{Unknown(Number)}, 0.95); v.Known {
		t.Errorf("of the only one that is not known: %v", v)
	}
	if v := Span([]Value{mms(1, 1), mms(3, 1)}, 0.95); v.Number != 2 || v.Unit != "mm" {
		t.Errorf("between 1 and 3 mm: %v", v)
	}
}

// What lies eight of its own standard uncertainties beyond the extreme is left out, and nothing
// nearer: at any limit that the extreme keeps with 95 % it is 1e-15 by then. What equals the
// extreme and is exact stays; what need not exist is left out as all others are.
func TestElementsThatCannotMatter(t *testing.T) {
	for _, k := range []struct {
		beyond, std float64
		kept        bool
	}{{7.99, 1, true}, {8, 1, false}, {8.01, 1, false}, {16, 2, false}, {15.9, 2, true}, {0, 0, true}, {0, 1, true}, {0.01, 0, false}} {
		for _, maybe := range []bool{false, true} {
			near, far := mms(10, 0.5), mms(10+k.beyond, k.std)
			far.Maybe = maybe
			if v := LeastOf(near, far); (len(v.Of) == 2) != k.kept {
				t.Errorf("%+v beside %+v: %d elements", far, near, len(v.Of))
			}
			far.Number = 10 - k.beyond
			if v := MostOf(near, far); (len(v.Of) == 2) != k.kept {
				t.Errorf("%+v beside %+v: %d elements", far, near, len(v.Of))
			}
		}
	}
}

// What cannot be read, or is about another kind of fact, is met nowhere: all of a part lies outside.
func TestWhatCannotBeReadIsMetNowhere(t *testing.T) {
	in, ok := Cell{}.Narrow(named(t, "n", Number, "mm", "<= 3 mm"), Space{})
	if !ok {
		t.Fatal("nothing is at most 3 mm")
	}
	for _, c := range []Cond{Unreadable("n", "short"), named(t, "n", Bool, "", "yes"), {Fact: "n", Kind: Number}} {
		out := in.Outside(c, Space{})
		if len(out) != 1 || out[0].Between("n") != "up to 3 mm" {
			t.Errorf("%+v: %v lies outside", c, out)
		}
		if cell, ok := in.Narrow(c, Space{}); ok {
			t.Errorf("%+v: %v lies inside", c, cell)
		}
	}
	if f := (Facts)(nil).With("a", BoolValue(true)); !f["a"].Yes {
		t.Errorf("%v", f)
	}
	was := Facts{"a": BoolValue(true)}
	if now := was.With("a", BoolValue(false)); now["a"].Yes || !was["a"].Yes {
		t.Errorf("%v, %v", was, now)
	}
}
