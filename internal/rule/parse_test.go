package rule

import (
	"strings"
	"testing"
)

// Source of every case: constructed from the grammar in ParseCond.
func TestParseCondReads(t *testing.T) {
	for _, tc := range []struct {
		kind            Kind
		unit, text      string
		met, notMet     string // values that meet and miss it; empty: none tried
		wantLow, wantHi float64
	}{
		{Number, "mm", "<= 24 mm", "24 mm", "24.01 mm", 0, 24},
		{Number, "mm", "≤ 2.4 cm", "24 mm", "24.01 mm", 0, 24},
		{Number, "mm", "< 1 in", "25.39 mm", "25.4 mm", 0, 25.4},
		{Number, "mm", ">= 0.0121 m", "12.1 mm", "12.09 mm", 12.1, 0},
		{Number, "mm", "> 5 mm", "5.01 mm", "5 mm", 5, 0},
		{Number, "mm", ">= 10 mm and  <= 24 mm", "10 mm", "9.9 mm", 10, 24},
		{Number, "", "= 2", "2", "3", 2, 2},
		{Number, "", "< 3", "2", "3", 0, 3},
		{Number, "C", ">= 15 C", "15 C", "-3 C", 15, 0},
		{Text, "", "crack", "crack", "dent", 0, 0},
		{Text, "", "crack or break", "break", "dent", 0, 0},
		{Text, "", "crack, break, or torn", "torn", "dent", 0, 0},
		{Text, "", "not crack", "dent", "crack", 0, 0},
		{Text, "", "neither crack nor break", "dent", "break", 0, 0},
		{Set, "", "only RAIL-L, RAIL-R", "RAIL-R", "RAIL-L, KNEE-L", 0, 0},
		{Set, "", "only RAIL-L", "RAIL-L", "none", 0, 0},
		{Set, "", "any of CROWN-L, CROWN-R", "X, CROWN-R", "X", 0, 0},
		{Set, "", "none of X, Y", "none", "Z, Y", 0, 0},
		{Set, "", "includes A and B", "A, B, C", "A, C", 0, 0},
		{Bool, "", "yes", "yes", "no", 0, 0},
		{Bool, "", "no", "no", "yes", 0, 0},
	} {
		t.Run(tc.text, func(t *testing.T) {
			c, err := ParseCond("f", tc.kind, tc.unit, tc.text)
			if err != nil {
				t.Fatal(err)
			}
			if c.Low.At != tc.wantLow || c.High.At != tc.wantHi {
				t.Errorf("limits %v and %v, want %v and %v", c.Low.At, c.High.At, tc.wantLow, tc.wantHi)
			}
			for text, want := range map[string]CondState{tc.met: Met, tc.notMet: NotMet, "unknown": CondUnknown} {
				v, err := ParseValue(tc.kind, tc.unit, text)
				if err != nil {
					t.Fatal(err)
				}
				if got := c.Eval(v, 0.95).State; got != want {
					t.Errorf("%q with %q is %v, want %v", tc.text, text, got, want)
				}
			}
		})
	}
}

// Each refusal says what is wrong and, where there is something, what would be
// right. Source: constructed.
func TestParseCondRefuses(t *testing.T) {
	for _, tc := range []struct {
		kind       Kind
		unit, text string
		want       string
	}{
		{Number, "mm", "<= 24", `the unit is missing after 24; write "24 mm"`},
		{Number, "mm", "<= 24 kg", `the unit "kg" is not a length; write mm, cm, m or in`},
		{Number, "C", "<= 24 mm", `the unit "mm" does not fit; write "24 C"`},
		{Number, "", "<= 3 mm", `"mm" after a number that has no unit; write "3"`},
		{Number, "mm", "24 mm", `"24 mm" does not begin with a comparison`},
		{Number, "mm", "<= 24,5 mm", `a comma in the number "24,5 mm"; write a decimal point`},
		{Number, "mm", "<= mm", `"mm" is not a number`},
		{Number, "mm", "<= 1.2.3 mm", `"1.2.3" is not a number`},
		{Number, "mm", "<= 1e3 mm", `the unit "e3 mm" is not a length`},
		{Number, "mm", "<= 1/3 mm", `the unit "/3 mm" is not a length`},
		{Number, "mm", "= 24 mm", "never equals a limit exactly"},
		{Number, "mm", ">= 24 mm and <= 10 mm", "no number can meet"},
		{Number, "mm", "> 10 mm and <= 10 mm", "no number can meet"},
		{Number, "mm", "<= 24 mm and < 30 mm", "two limits on the same side"},
		{Number, "mm", "!= 24 mm", "does not begin with a comparison"},
		{Number, "mm", "", "the condition is empty"},
		{Number, "mm", "<= 1234567890123456789012345678901 mm", "more than 30 characters"},
		{Text, "", "not crack or break", `write "neither A nor B"`},
		{Text, "", "crack and break", `"crack and break" is not one word`},
		{Text, "", "crack or", "a word is missing"},
		{Text, "", "unknown", "has a meaning of its own"},
		{Text, "", "crack or crack", "is written twice"},
		{Set, "", "RAIL-L", `begin with "only", "any of", "none of" or "includes"`},
		{Set, "", "any of A and B", `"A and B" is not one word`},
		{Set, "", "only", `begin with "only"`},
		{Set, "", "only A,,B", "a word is missing"},
		{Bool, "", "true", `write "yes" or "no"`},
		{Kind(9), "", "x", "no kind this program knows"},
	} {
		t.Run(tc.text, func(t *testing.T) {
			c, err := ParseCond("f", tc.kind, tc.unit, tc.text)
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("error %v, want it to say %q", err, tc.want)
			}
			v := TextValue("x")
			v.Kind = tc.kind
			if got := c.Eval(v, 0.95).State; got != CondUnknown || c.Readable() {
				t.Errorf("a condition that cannot be read ends %v", got)
			}
		})
	}
}

func TestParseValue(t *testing.T) {
	for _, tc := range []struct {
		kind             Kind
		unit, text, want string
	}{
		{Number, "mm", "20 mm", "20 mm"},
		{Number, "mm", "20 +- 2 mm", "20.0 ± 2.0 mm"},
		{Number, "mm", "20 ± 2 mm", "20.0 ± 2.0 mm"},
		{Number, "mm", "20 mm +- 0.1 cm", "20.0 ± 1.0 mm"},
		{Number, "mm", "2 +- 0.1 cm", "20.0 ± 1.0 mm"},
		{Number, "mm", "none near", "none near"},
		{Number, "", "3", "3"},
		{Set, "", "RAIL-L, KNEE-L", "KNEE-L, RAIL-L"},
		{Set, "", "none", "none"},
		{Text, "", "stop-hole", "stop-hole"},
		{Bool, "", "no", "no"},
		{Bool, "", "unknown", "unknown"},
	} {
		v, err := ParseValue(tc.kind, tc.unit, tc.text)
		if err != nil || v.String() != tc.want || v.Known == (tc.want == "unknown") {
			t.Errorf("ParseValue(%q) = %q, %v; want %q", tc.text, v, err, tc.want)
		}
	}
	for _, bad := range []struct {
		kind       Kind
		unit, text string
	}{
		{Number, "mm", "20"}, {Number, "mm", "20 +- -2 mm"}, {Number, "mm", "NaN mm"}, {Number, "", "none near"},
		{Number, "mm", "20 +- 2"}, {Number, "", "2 mm"}, {Text, "", "two words"}, {Set, "", "A and B"}, {Bool, "", "1"}, {Text, "", ""},
	} {
		if v, err := ParseValue(bad.kind, bad.unit, bad.text); err == nil {
			t.Errorf("ParseValue(%q) = %v, want a refusal", bad.text, v)
		}
	}
}

// Whatever is written, reading does not panic, a refused condition never
// permits, and an accepted one reads back from its own text the same.
func FuzzParseCond(f *testing.F) {
	for _, s := range []string{"<= 24 mm", ">= 1 and <= 2", "only A, B", "not crack", "neither a nor b", "yes", "≤ 1 in", "<= 9999999999999999999999999999 m"} {
		for k := range 4 {
			f.Add(k, "mm", s)
			f.Add(k, "", s)
		}
	}
	f.Fuzz(func(t *testing.T, kind int, unitName, text string) {
		c, err := ParseCond("f", Kind(kind), unitName, text)
		if (err == nil) != c.Readable() {
			t.Fatalf("error %v but readable %v", err, c.Readable())
		}
		if err != nil {
			return
		}
		again, err := ParseCond("f", Kind(kind), unitName, c.Text)
		if err != nil || again.Low != c.Low || again.High != c.High || again.Op != c.Op || strings.Join(again.Words, " ") != strings.Join(c.Words, " ") {
			t.Fatalf("%q does not read back the same: %+v and %+v, %v", text, c, again, err)
		}
		if got := c.Eval(Unknown(Kind(kind)), 0.95).State; got != CondUnknown {
			t.Fatalf("unknown ends %v", got)
		}
	})
}

func FuzzParseValue(f *testing.F) {
	for _, s := range []string{"20 mm", "20 +- 2 mm", "none near", "A, B", "yes", "unknown"} {
		for k := range 4 {
			f.Add(k, "mm", s)
		}
	}
	f.Fuzz(func(t *testing.T, kind int, unitName, text string) {
		v, err := ParseValue(Kind(kind), unitName, text)
		if err != nil && v.Known {
			t.Fatalf("%q is refused and known", text)
		}
		if err == nil && v.Known && (v.Std < 0 || v.Std != v.Std || v.Number != v.Number) {
			t.Fatalf("%q gives %+v", text, v)
		}
	})
}
