package decide

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide/fixture"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/rule"
)

// Of all that counts as one the least clearance is told; of equal ones the least certain, and of
// those the finding's own, before and after the others. By hand.
func TestNearestOfWhatCountsAsOne(t *testing.T) {
	away := func(mm, std float64, to string) *inspect.Clearance {
		return &inspect.Clearance{MM: mm, Std: std, To: to}
	}
	for name, c := range map[string]struct {
		of  [3]*inspect.Clearance
		sub int
		mm  float64
		std float64
		to  string // what is told; empty: it is not known
	}{
		"its own":                     {[3]*inspect.Clearance{away(5, 1, "B0"), away(9, 1, "B1"), away(7, 1, "B2")}, 0, 5, 1, "to B0"},
		"of another one":              {[3]*inspect.Clearance{away(9, 1, "B0"), away(5, 1, "B1"), away(7, 1, "B2")}, 0, 5, 1, "to B1"},
		"equal, its own first":        {[3]*inspect.Clearance{away(5, 1, "B0"), away(5, 1, "B1"), away(5, 1, "B2")}, 0, 5, 1, "to B0"},
		"equal, its own in between":   {[3]*inspect.Clearance{away(5, 1, "B0"), away(5, 1, "B1"), away(5, 1, "B2")}, 1, 5, 1, "to B1"},
		"equal, its own last":         {[3]*inspect.Clearance{away(5, 1, "B0"), away(5, 1, "B1"), away(5, 1, "B2")}, 2, 5, 1, "to B2"},
		"equal, another less certain": {[3]*inspect.Clearance{away(5, 1, "B0"), away(5, 2, "B1"), away(5, 1, "B2")}, 2, 5, 2, "to B1"},
		"equal, its own more certain": {[3]*inspect.Clearance{away(5, 2, "B0"), away(5, 1, "B1"), away(5, 2, "B2")}, 1, 5, 2, "to B0"},
		"one was not measured":        {[3]*inspect.Clearance{away(5, 1, "B0"), nil, away(7, 1, "B2")}, 0, 0, 0, ""},
	} {
		s := &scene{in: Input{Body: &body.Body{}}, root: []int{0, 0, 0}, members: make([][]*subject, 1)}
		for i, k := range c.of {
			sub := &subject{place: i, casting: &body.Casting{Mesh: "m"}, g: inspect.Finding{Bore: k}}
			s.subjects = append(s.subjects, sub)
			s.members[0] = append(s.members[0], sub)
		}
		got := s.nearest(s.subjects[c.sub], func(f inspect.Finding) *inspect.Clearance { return f.Bore }, false, "")
		if got.value.Known != (c.to != "") || c.to != "" && (got.value.Number != c.mm || got.from != c.to) {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// An exact number that meets or misses a condition lies on a limit, or one beside it; below zero
// there is none.
func TestExamplesOfNumbers(t *testing.T) {
	for _, c := range []struct {
		text      string
		met, miss float64 // -1: none
	}{{"<= 24 mm", 24, 25}, {"< 24 mm", 23, 24}, {">= 30 mm", 30, 29}, {"> 30 mm", 31, 30}, {">= 0 mm", 0, -1}, {"< 0 mm", -1, 0}, {">= 10 mm and <= 12 mm", 10, 9}} {
		cond, err := rule.ParseCond("f", rule.Number, "mm", c.text)
		if err != nil {
			t.Fatal(err)
		}
		for state, want := range map[rule.CondState]float64{rule.Met: c.met, rule.NotMet: c.miss} {
			if v, ok := example(cond, state); ok != (want >= 0) || ok && (v.Number != want || v.Std != 0 || v.Unit != "mm") {
				t.Errorf("%s, %v: %v %v", c.text, state, v, ok)
			}
		}
	}
}

// The nearest value with which the table allows: a whole millimetre away either way, and none where
// another condition stands against it.
func TestNearestValueThatIsAllowed(t *testing.T) {
	allow := func(when map[string]string) *Ruleset {
		return Compile(body.Procedure{Rows: []body.Row{{ID: "A", When: when, Allow: []body.TreatmentKind{body.Weld}}}}, 0)
	}
	facts := rule.Facts{body.FactOnCasting: rule.BoolValue(true), body.FactBoltOn: rule.BoolValue(false), body.FactThrough: rule.BoolValue(true)}
	for _, c := range []struct {
		when map[string]string
		at   float64
		by   float64 // 0: none
	}{
		{map[string]string{body.FactLength: "<= 24 mm"}, 25, -1}, {map[string]string{body.FactLength: ">= 30 mm"}, 29, 1}, {map[string]string{body.FactLength: "<= 24 mm"}, 24.5, -0.5}, {map[string]string{body.FactLength: "<= 24 mm"}, 20, 0},
		{map[string]string{body.FactLength: "<= 24 mm", body.FactThrough: "no"}, 25, 0}, {map[string]string{body.FactEdge: ">= 30 mm"}, 25, 0},
	} {
		rs := allow(c.when)
		kr, _ := rs.findKind(body.Weld)
		d := decider{rs: rs}
		cond, f, ok := d.nearest(kr, facts.With(body.FactLength, rule.NumberValue(c.at, 0, "mm")), body.FactLength)
		if ok != (c.by != 0) || ok && (f.By != c.by || f.At != c.at+c.by || cond.Fact != body.FactLength) {
			t.Errorf("%v at %g: %+v %v", c.when, c.at, f, ok)
		}
	}
}

// A section is allowed where some line is; with no line, or one that is not known, none is.
func TestAllowedAlongSomeLine(t *testing.T) {
	p := body.Procedure{Rows: []body.Row{{ID: "A", When: map[string]string{body.FactLength: "<= 24 mm"}, Allow: []body.TreatmentKind{body.SectionOff}}}}
	rs := Compile(p, 0)
	kr, _ := rs.findKind(body.SectionOff)
	facts := rule.Facts{body.FactOnCasting: rule.BoolValue(true), body.FactBoltOn: rule.BoolValue(false)}
	for _, c := range []struct {
		length float64
		lines  rule.Value
		want   bool
	}{{20, rule.SetValue("L1"), true}, {20, rule.SetValue("L1", "L2"), true}, {20, rule.SetValue(), false}, {20, rule.Value{}, false}, {30, rule.SetValue("L1"), false}} {
		if got := rs.allows(kr, facts.With(body.FactLength, rule.NumberValue(c.length, 0, "mm")).With(body.FactOutboard, c.lines)); got != c.want {
			t.Errorf("%g mm, lines %v: %v", c.length, c.lines, got)
		}
	}
	if got := orNone(nil) + ", " + orNone([]body.TreatmentKind{body.Weld}); got != "no treatment, weld" {
		t.Error(got)
	}
}

// The decision length is the largest of all that counts as one, each of its lengths once, and says
// where it is from. By hand.
func TestLengthOfWhatCountsAsOne(t *testing.T) {
	found := func(lengths ...inspect.Length) inspect.Finding {
		return inspect.Finding{Located: true, Decision: &lengths[0], Lengths: lengths[1:]}
	}
	n := func(mm, std float64) rule.Value { return rule.NumberValue(mm, std, "") }
	for name, c := range map[string]struct {
		mesh string
		of   []inspect.Finding
		want rule.Value
		from string
	}{
		"one":               {"m", []inspect.Finding{found(inspect.Length{MM: 20, Std: 1})}, n(20, 1), fromTheTrace},
		"by hand":           {"", []inspect.Finding{found(inspect.Length{MM: 20, Std: 1})}, n(20, 1), fromTheTape},
		"twice the same":    {"m", []inspect.Finding{found(inspect.Length{MM: 20, Std: 1}, inspect.Length{MM: 20, Std: 1}), found(inspect.Length{MM: 20, Std: 1})}, n(20, 1), fromTheTrace},
		"of another length": {"m", []inspect.Finding{found(inspect.Length{MM: 20, Std: 1}, inspect.Length{MM: 25, Std: 1})}, rule.MostOf(n(20, 1), n(25, 1)), fromTheTrace},
		"less certain":      {"m", []inspect.Finding{found(inspect.Length{MM: 20, Std: 1}), found(inspect.Length{MM: 20, Std: 2})}, rule.MostOf(n(20, 1), n(20, 2)), fromTheTrace},
	} {
		s := &scene{root: make([]int, len(c.of)), members: make([][]*subject, 1)}
		for i, g := range c.of {
			s.members[0] = append(s.members[0], &subject{place: i, casting: &body.Casting{Mesh: c.mesh}, g: g})
		}
		if got := s.length(s.members[0][0]); !reflect.DeepEqual(got.value, c.want) || got.from != c.from {
			t.Errorf("%s: %+v, want %v", name, got, c.want)
		}
	}
}

// What is said of a spot: a word that no row names is refused though the rows name a single one,
// and a figure of less than one is none below zero. What would change an answer is told while the
// procedure holds, and not on a day on which it permits nothing.
func TestSingleQuestionsAtTheirEdges(t *testing.T) {
	p := body.Procedure{ID: "P", Effective: fixture.Day(2030, 1, 1), Recheck: fixture.Day(2031, 1, 1),
		Rows: []body.Row{{ID: "A", When: map[string]string{body.FactLength: "<= 24 mm", body.FactZones: "only Z1"}, Allow: []body.TreatmentKind{body.Weld}}}}
	length := Said{SaidMeasured, "23 +- 4 mm"}
	ask := func(year int, said ...Said) (Ruled, error) {
		return Single{Procedure: p, Said: append([]Said{length, {body.FactTips, string(body.TipPenetrant)}, {body.FactKind, "crack"}}, said...), On: fixture.Day(year, 3, 1)}.Rule()
	}
	var wrong diag.Problems
	if _, err := ask(2030, Said{body.FactZones, "Z2"}); !errors.As(err, &wrong) || wrong[0].Msg != `no row of the procedure names "Z2"` {
		t.Errorf("a zone that no row names: %v", err)
	}
	for _, said := range [][]Said{{{body.FactInZone, "2"}}, {{body.FactCount, "2"}}, {{body.FactInZone, "2"}, {body.FactCount, "2"}}, {{body.FactInZone, "2"}, {body.FactCount, "3"}}} {
		if _, err := ask(2030, said...); err != nil {
			t.Errorf("%v: %v", said, err)
		}
	}
	if _, err := ask(2030, Said{body.FactInZone, "3"}, Said{body.FactCount, "2"}); !errors.As(err, &wrong) || !strings.HasPrefix(wrong[0].Msg, "is more than") {
		t.Errorf("more in the zone than on the casting: %v", err)
	}
	if _, err := ask(2030, Said{body.FactZones, "Z1"}, Said{body.FactEdge, "0.5 +- 0.1 mm"}); err != nil {
		t.Errorf("half a millimetre: %v", err)
	}
	if _, err := ask(2030, Said{body.FactZones, "Z1"}, Said{body.FactEdge, "-0.5 +- 0.1 mm"}); !errors.As(err, &wrong) || wrong[0].Msg != "lies below zero" {
		t.Errorf("below zero: %v", err)
	}
	for year, barred := range map[int]bool{2029: true, 2030: false, 2031: true} {
		r, err := ask(year, Said{body.FactZones, "Z1"})
		if err != nil || r.Permits() || (r.Barred != "") != barred || (len(r.Change) > 0) == barred {
			t.Errorf("%d: %v, barred %q, change %q, %v", year, r.Verdict, r.Barred, r.Change, err)
		}
	}
}
