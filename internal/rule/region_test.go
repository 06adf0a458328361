package rule

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

func named(t testing.TB, fact string, kind Kind, unitName, text string) Cond {
	t.Helper()
	c, err := ParseCond(fact, kind, unitName, text)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

var testSpace = Space{Words: map[string][]string{"t": words(7), "s": words(7)}, NotEmpty: map[string]bool{"s": true}}

func words(n int) []string {
	var out []string
	for i := range n {
		out = append(out, fmt.Sprintf("w%d", i))
	}
	return out
}

// Source: the meaning of the conditions.
func TestImplies(t *testing.T) {
	for _, tc := range []struct {
		kind Kind
		a, b string
		want bool
	}{
		{Number, "<= 20 mm", "<= 24 mm", true}, {Number, "<= 24 mm", "<= 20 mm", false},
		{Number, "< 24 mm", "<= 24 mm", true}, {Number, "<= 24 mm", "< 24 mm", false},
		{Number, ">= 10 mm and <= 12 mm", "> 9 mm", true}, {Number, "> 9 mm", ">= 10 mm", false},
		{Set, "only A", "only A, B", true}, {Set, "only A, B", "only A", false},
		{Set, "includes A and B", "any of B, C", true}, {Set, "only A", "none of B", true},
		{Set, "none of B", "only A", false}, {Set, "only A, B", "any of A", false},
		{Text, "a", "a or b", true}, {Text, "not a", "b", false}, {Text, "b", "not a", true},
		{Bool, "yes", "yes", true}, {Bool, "yes", "no", false},
	} {
		u := map[bool]string{true: "mm"}[tc.kind == Number]
		if got := named(t, "f", tc.kind, u, tc.a).Implies(named(t, "f", tc.kind, u, tc.b), Space{}); got != tc.want {
			t.Errorf("%q implies %q: %v, want %v", tc.a, tc.b, got, tc.want)
		}
	}
}

// A gap between two limits is found and nothing else is. Source: constructed.
func TestUncovered(t *testing.T) {
	row := func(text string) Row { return Row{Conds: []Cond{named(t, "n", Number, "mm", text)}} }
	found, complete := Uncovered(Cell{}, []Row{row("<= 24 mm"), row("> 25 mm")}, Space{}, 1000)
	if v := found.Example(Space{})["n"].Number; !complete || v <= 24 || v > 25 {
		t.Errorf("found %v, %v", found, complete)
	}
	if got := found.Between("n"); got != "over 24 mm and up to 25 mm" {
		t.Errorf("between %q", got)
	}
	if found, complete := Uncovered(Cell{}, []Row{row("<= 24 mm"), row("> 24 mm")}, Space{}, 1000); found != nil || !complete {
		t.Errorf("no gap, and %v was found", found)
	}
	for _, narrow := range [][2]string{{"<= 17.054 mm", "> 17.05489 mm"}, {"<= 9.2107 mm", "> 9.21083 mm"}, {"<= 8.1 mm", "> 8.1000001 mm"}} {
		if found, _ := Uncovered(Cell{}, []Row{row(narrow[0]), row(narrow[1])}, Space{}, 1000); found == nil {
			t.Errorf("nothing is found between %v", narrow)
		}
	}
	if _, complete := Uncovered(Cell{}, []Row{row("<= 24 mm"), row("> 24 mm")}, Space{}, 1); complete {
		t.Error("a search that was given up says it is complete")
	}
	whole := Space{Whole: map[string]bool{"n": true}}
	counts := []Row{{Conds: []Cond{named(t, "n", Number, "", "<= 2")}}, {Conds: []Cond{named(t, "n", Number, "", ">= 3")}}}
	if found, _ := Uncovered(Cell{}, counts, whole, 1000); found != nil {
		t.Errorf("no count lies between 2 and 3, and %v was found", found)
	}
}

// What the search finds is really hit by no row, and where it finds nothing
// none of many random facts is missed; where two rows meet, both apply: seed 7.
func TestRegionsAreTrueSeed7(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	gaps, none, met := 0, 0, 0
	for range draws(700, 1500) {
		var rows []Row
		for i := range 2 + rng.IntN(9) {
			r := randomRow(t, rng, i, 5)
			r.Conds = r.Conds[:min(len(r.Conds), 1+rng.IntN(2))]
			rows = append(rows, r)
		}
		all := Facts{"n": NumberValue(1, 0, "mm"), "t": TextValue("w0"), "s": SetValue("w0"), "b": BoolValue(true)}
		full := func(f Facts) Facts {
			out := all
			for k, v := range f {
				out = out.With(k, v)
			}
			return out
		}
		found, complete := Uncovered(Cell{}, rows, testSpace, 100000)
		if !complete {
			t.Fatal("given up")
		}
		if found != nil {
			gaps++
			for _, r := range Eval(rows, full(found.Example(testSpace)), 0.95) {
				if r.State == Applies {
					t.Fatalf("%v is said to hit no row, but row %s applies: %+v", found.Example(testSpace), r.Row, rows)
				}
			}
		} else {
			none++
			for range 50 {
				f := Facts{"n": NumberValue(rng.Float64()*60, 0, "mm"), "t": TextValue(fmt.Sprintf("w%d", rng.IntN(7))),
					"s": SetValue(fmt.Sprintf("w%d", rng.IntN(7)), fmt.Sprintf("w%d", rng.IntN(7))), "b": BoolValue(rng.IntN(2) == 0)}
				hit := false
				for _, r := range Eval(rows, f, 0.95) {
					hit = hit || r.State == Applies
				}
				if !hit {
					t.Fatalf("%v hits no row, and no gap was found: %+v", f, rows)
				}
			}
		}
		if both, ok := Both(Cell{}, rows[0], rows[1], testSpace); ok {
			met++
			for _, r := range Eval(rows[:2], full(both.Example(testSpace)), 0.95) {
				if r.State != Applies {
					t.Fatalf("%v: row %s %v", both.Example(testSpace), r.Row, r.State)
				}
			}
		}
	}
	if least := draws(46, 100); gaps < least || none < least || met < least {
		t.Errorf("hardly tried: %d gaps, %d without, %d pairs", gaps, none, met)
	}
}
