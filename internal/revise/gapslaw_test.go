package revise

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide/fixture"
	"fettle/internal/diag"
	"fettle/internal/rule"
)

type when = map[string]string

func row(id string, w when, allow ...body.TreatmentKind) body.Row {
	return body.Row{ID: id, When: w, Allow: allow}
}

func forbids(id string, w when, forbid ...body.TreatmentKind) body.Row {
	return body.Row{ID: id, When: w, Forbid: forbid}
}

// toldOf is the notes on a table of these rows: code, where, and text.
func toldOf(rows ...body.Row) []string {
	b, _, _, _ := fixture.World()
	out := []string{}
	for _, n := range Gaps(b, body.Procedure{ID: "R", Revision: "1", Casting: "FRONT", Source: "src", Rows: rows}) {
		_, in, _ := strings.Cut(n.Where, ", ")
		out = append(out, strings.TrimPrefix(n.Code, "decide.")+" "+in+": "+n.Text)
	}
	return out
}

const (
	noRow    = "gap : no row speaks of this, so the manufacturer is asked: "
	anything = "crack, break, bend, dent, torn with "
	offIt    = noRow + anything + "on casting no" // a row that does not say is about the casting
)

// TestNotesOfSmallTables: everything that is told of tables small enough to be looked through by
// hand, and nothing else.
func TestNotesOfSmallTables(t *testing.T) {
	hole := func(a, b, between string) string {
		return "hole : between row " + a + " and row " + b + " nothing as mild is allowed for " + between
	}
	for _, c := range []struct {
		name string
		rows []body.Row
		want []string
	}{
		{"one kind on the casting", []body.Row{row("a", when{"kind": "crack", "on_casting": "yes"}, body.Weld)},
			[]string{noRow + "break, bend, dent, torn with on casting yes", offIt}},
		{"one kind off it", []body.Row{row("a", when{"on_casting": "yes"}, body.Weld), row("b", when{"on_casting": "no", "kind": "not dent"}, body.Exchange)},
			[]string{noRow + "dent with on casting no"}},
		{"everything", []body.Row{row("a", when{"on_casting": "yes"}, body.Weld), row("b", when{"on_casting": "no"}, body.Exchange)}, []string{}},
		{"what is on the casting lies in a zone", []body.Row{row("a", when{"zones": "any of OPEN-1, OPEN-2, GUARDED-1, GUARDED-2, CRITICAL-1"}, body.Weld), row("b", when{"on_casting": "no"}, body.Exchange)}, []string{}},
		{"a zone left out", []body.Row{row("a", when{"zones": "any of OPEN-1, OPEN-2, GUARDED-1, CRITICAL-1"}, body.Weld), row("b", when{"on_casting": "no"}, body.Exchange)},
			[]string{noRow + anything + "on casting yes, zones GUARDED-2"}},
		{"words that nobody has a list of", []body.Row{row("a", when{"equipment": "any of gun"}, body.Weld), row("b", when{"on_casting": "no"}, body.Exchange)},
			[]string{noRow + anything + "equipment none, on casting yes"}},
		{"a hole between limits", []body.Row{row("a", when{"length": "<= 20 mm"}, body.Weld), row("b", when{"length": "> 25 mm"}, body.Weld)},
			[]string{noRow + anything + "decision length 23 mm, on casting yes", offIt, hole("a", "b", "decision length over 20 mm and up to 25 mm, for example decision length 23 mm, on casting yes")}},
		{"the limits the other way round", []body.Row{row("b", when{"length": "> 25 mm"}, body.Weld), row("a", when{"length": "<= 20 mm"}, body.Weld)},
			[]string{noRow + anything + "decision length 23 mm, on casting yes", offIt, hole("a", "b", "decision length over 20 mm and up to 25 mm, for example decision length 23 mm, on casting yes")}},
		{"neither limit included", []body.Row{row("a", when{"length": "< 20 mm"}, body.Weld), row("b", when{"length": "> 20 mm"}, body.Weld)},
			[]string{noRow + anything + "decision length 20 mm, on casting yes", offIt, hole("a", "b", "decision length from 20 mm and up to 20 mm, for example decision length 20 mm, on casting yes")}},
		{"the upper limit included", []body.Row{row("a", when{"length": "<= 20 mm"}, body.Weld), row("b", when{"length": "> 20 mm"}, body.Weld)}, []string{offIt}},
		{"the lower limit included", []body.Row{row("a", when{"length": "< 20 mm"}, body.Weld), row("b", when{"length": ">= 20 mm"}, body.Weld)}, []string{offIt}},
		{"limits that overlap", []body.Row{row("a", when{"length": "<= 25 mm"}, body.Weld), row("b", when{"length": "> 20 mm"}, body.Weld)}, []string{offIt}},
		{"whole numbers next to each other", []body.Row{row("a", when{"count_in_zone": "<= 2"}, body.Weld), row("b", when{"count_in_zone": ">= 3"}, body.Weld)}, []string{offIt}},
		{"a whole number between", []body.Row{row("a", when{"count_in_zone": "<= 2"}, body.Weld), row("b", when{"count_in_zone": ">= 4"}, body.Weld)},
			[]string{noRow + anything + "cracks in the zone 3, on casting yes", offIt, hole("a", "b", "cracks in the zone over 2 and under 4, for example cracks in the zone 3, on casting yes")}},
		{"a number that may lie below zero", []body.Row{row("a", when{"section_margin": "<= -5 mm"}, body.Weld), row("b", when{"section_margin": ">= 5 mm"}, body.Weld)},
			[]string{noRow + anything + "on casting yes, section margin 0 mm", offIt, hole("a", "b", "section margin over -5 mm and under 5 mm, for example on casting yes, section margin 0 mm")}},
		{"below zero, to the end", []body.Row{row("a", when{"section_margin": ">= 0 mm"}, body.Weld), row("b", when{"on_casting": "no"}, body.Exchange)},
			[]string{noRow + anything + "on casting yes, section margin -10 mm"}},
		{"never below zero", []body.Row{row("a", when{"length": ">= 0 mm"}, body.Weld), row("b", when{"on_casting": "no"}, body.Exchange)}, []string{}},
		{"not idle below zero", []body.Row{row("a", when{"section_margin": "<= 5 mm"}, body.Weld), row("b", when{"section_margin": ">= 0 mm"}, body.Weld)}, []string{offIt}},
		{"not overruled below zero", []body.Row{row("a", when{"section_margin": "<= 5 mm"}, body.Weld), forbids("b", when{"section_margin": ">= 0 mm"}, body.Weld), row("c", when{}, body.Dress)},
			[]string{offIt, "overlap row b: where both apply it overrules a, for example on casting yes, section margin 0 mm"}},
		{"idle, as nothing is shorter than nothing", []body.Row{row("a", when{"length": "<= 5 mm"}, body.Weld), row("b", when{"length": ">= 0 mm"}, body.Weld)},
			[]string{offIt, "idle-row row a: it says nothing that row b does not say wherever it applies"}},
		{"limits of two kinds are no hole", []body.Row{row("a", when{"length": "<= 20 mm", "kind": "crack"}, body.Weld), row("b", when{"length": "> 25 mm", "kind": "break"}, body.Weld)},
			[]string{noRow + "crack with decision length 30 mm, on casting yes", noRow + "break with decision length 10 mm, on casting yes", noRow + "bend, dent, torn with on casting yes", offIt}},
		{"a third row is as mild in between", []body.Row{row("a", when{"length": "<= 20 mm"}, body.WeldBacking), row("b", when{"length": "> 25 mm"}, body.WeldBacking), row("c", when{}, body.Weld)}, []string{offIt}},
		{"a third row is as mild as the other end", []body.Row{row("a", when{"length": "<= 20 mm"}, body.Weld), row("b", when{"length": "> 25 mm", "kind": "crack"}, body.ReplaceCasting), row("c", when{"on_casting": "yes"}, body.ReplaceCasting)},
			[]string{offIt, "idle-row row b: it says nothing that row c does not say wherever it applies"}},
		{"a third row is harsher in between", []body.Row{row("a", when{"length": "<= 20 mm"}, body.Weld), row("b", when{"length": "> 25 mm"}, body.Weld), row("c", when{}, body.ReplaceCasting)},
			[]string{offIt, hole("a", "b", "decision length over 20 mm and up to 25 mm, for example decision length 23 mm, on casting yes")}},
		{"only what allows has a hole", []body.Row{row("a", when{"length": "<= 20 mm"}, body.Weld), forbids("b", when{"length": "> 25 mm"}, body.Weld)},
			[]string{noRow + anything + "decision length 23 mm, on casting yes", offIt}},
		{"what forbids in between fills none", []body.Row{row("a", when{"length": "<= 20 mm"}, body.Weld), row("b", when{"length": "> 25 mm"}, body.Weld), forbids("c", when{"length": "> 19 mm and <= 26 mm"}, body.Dress)},
			[]string{offIt, hole("a", "b", "decision length over 20 mm and up to 25 mm, for example decision length 23 mm, on casting yes")}},
		{"overruled in part", []body.Row{row("a", when{}, body.Weld), forbids("b", when{"kind": "crack"}, body.Weld, body.Dress)},
			[]string{offIt, "overlap row b: where both apply it overrules a, for example kind crack, on casting yes"}},
		{"overruled wholly", []body.Row{row("a", when{"kind": "crack", "length": "< 9 mm"}, body.Weld), forbids("b", when{"kind": "crack"}, body.Weld), row("c", when{}, body.Dress)},
			[]string{offIt, "never-permits row a: it never permits anything: row b overrules it wherever it applies"}},
		{"overruled wholly in one of two", []body.Row{row("a", when{"kind": "crack"}, body.Weld, body.Dress), forbids("b", when{"kind": "crack"}, body.Weld), row("c", when{}, body.Dress)},
			[]string{offIt, "overlap row b: where both apply it overrules a, for example kind crack, on casting yes"}},
		{"asked about", []body.Row{row("a", when{"kind": "crack"}, body.Weld), {ID: "b", When: when{}, Ask: "why"}},
			[]string{offIt, "never-permits row a: it never permits anything: row b overrules it wherever it applies"}},
		{"never at once", []body.Row{row("a", when{"kind": "crack"}, body.Weld), forbids("b", when{"kind": "break"}, body.Weld), row("c", when{}, body.Dress)}, []string{offIt}},
		{"something else is forbidden", []body.Row{row("a", when{"kind": "crack"}, body.Weld), forbids("b", when{"kind": "crack"}, body.Dress), row("c", when{}, body.Leave)}, []string{offIt}},
		{"two overruled, one wholly", []body.Row{row("a", when{"kind": "crack"}, body.Weld), row("c", when{}, body.Weld), forbids("b", when{"kind": "crack or break"}, body.Weld)},
			[]string{offIt, "never-permits row a: it never permits anything: row b overrules it wherever it applies", "overlap row b: where both apply it overrules c, for example kind crack, on casting yes",
				"idle-row row a: it says nothing that row c does not say wherever it applies"}},
		{"overruled behind what is not", []body.Row{row("x", when{}, body.Dress), row("y", when{"kind": "break"}, body.Weld), row("a", when{"kind": "crack"}, body.Weld), forbids("b", when{"kind": "crack"}, body.Weld)},
			[]string{offIt, "never-permits row a: it never permits anything: row b overrules it wherever it applies"}},
		{"the same twice", []body.Row{row("a", when{}, body.Weld), row("b", when{}, body.Weld)}, []string{offIt, "idle-row row b: it says nothing that row a does not say wherever it applies"}},
		{"less of the same", []body.Row{row("a", when{}, body.Weld, body.Dress), row("b", when{"kind": "crack"}, body.Dress)}, []string{offIt, "idle-row row b: it says nothing that row a does not say wherever it applies"}},
		{"more where it applies", []body.Row{row("a", when{}, body.Weld), row("b", when{"kind": "crack"}, body.Weld, body.Dress)}, []string{offIt}},
		{"forbids more where it applies", []body.Row{forbids("a", when{}, body.Weld), forbids("b", when{"kind": "crack"}, body.Weld, body.Dress)}, []string{offIt}},
		{"forbids the same", []body.Row{forbids("a", when{}, body.Weld), forbids("b", when{"kind": "crack"}, body.Weld)}, []string{offIt, "idle-row row b: it says nothing that row a does not say wherever it applies"}},
		{"an inspection more", []body.Row{row("a", when{}, body.Weld), {ID: "b", When: when{"kind": "crack"}, Allow: []body.TreatmentKind{body.Weld}, After: []body.After{{Method: "visual"}}}}, []string{offIt}},
		{"what asks is never idle", []body.Row{{ID: "a", When: when{}, Ask: "why"}, {ID: "b", When: when{"kind": "crack"}, Ask: "why"}}, []string{offIt}},
	} {
		got := slices.DeleteFunc(toldOf(c.rows...), func(s string) bool { return strings.HasPrefix(s, "asked ") }) // see TestWhatIsOnlyAsked
		if !slices.Equal(got, c.want) {
			t.Errorf("%s:\n%s\nwant\n%s", c.name, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
		}
	}
}

// TestGapBetweenLimitsSeed5: above the upper limit of one condition and below the lower limit of
// another lies exactly what both leave out there; none where they meet or overlap. By trying
// numbers on a grid, limits on it and off it.
func TestGapBetweenLimitsSeed5(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	parse := func(text string) rule.Cond {
		c, err := rule.ParseCond("length", rule.Number, "mm", text)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	meets := func(c rule.Cond, x float64) bool {
		return (!c.Low.Set || x > c.Low.At || x == c.Low.At && !c.Low.Strict) && (!c.High.Set || x < c.High.At || x == c.High.At && !c.High.Strict)
	}
	found := 0
	for range 400 {
		upper, lower := 1+rng.IntN(6), 1+rng.IntN(6)
		c, d := parse(fmt.Sprintf("%s %d mm", []string{"<", "<="}[rng.IntN(2)], upper)), parse(fmt.Sprintf("%s %d mm", []string{">", ">="}[rng.IntN(2)], lower))
		between, ok := gapBetween(c, d)
		some := false
		for x := 0.5; x < 8; x += 0.5 {
			in := !meets(c, x) && !meets(d, x)
			some = some || in
			if ok && meets(between, x) != in {
				t.Fatalf("%q and %q: %g mm is between: %v", c.Text, d.Text, x, !in)
			}
		}
		if ok != some {
			t.Fatalf("%q and %q: a gap %v", c.Text, d.Text, ok)
		}
		if ok {
			found++
		}
		other := d
		other.Fact = "spacing"
		if _, ok := gapBetween(c, other); ok {
			t.Fatal("a gap between two facts")
		}
		if _, ok := gapBetween(d, c); ok {
			t.Fatalf("%q has no upper limit", d.Text)
		}
	}
	if found < 50 {
		t.Errorf("%d gaps", found)
	}
	words, err := rule.ParseCond("kind", rule.Text, "", "crack")
	if _, ok := gapBetween(words, words); ok || err != nil {
		t.Errorf("a gap between words, %v", err)
	}
}

// A search that is cut short is told of each kind for which it was, on the casting and off it; it
// claims no gap.
func TestSearchThatIsGivenUpIsTold(t *testing.T) {
	b, _, _, _ := fixture.World()
	p := body.Procedure{ID: "R", Revision: "1", Casting: "FRONT", Rows: []body.Row{row("a", when{"length": "<= 20 mm"}, body.Weld), row("b", when{"length": "> 20 mm"}, body.Weld)}}
	g := newGaps(b, p)
	g.steps = 0
	g.uncovered()
	var want []string
	for _, on := range []string{"P-FRONT", "P-BRKT or P-PANEL"} {
		for _, k := range body.FindingKinds() {
			want = append(want, "it could not be settled whether every "+string(k)+" on "+on+" hits a row: the search was given up")
		}
	}
	var got []string
	for _, n := range g.notes {
		if n.Code != "decide.gap-unknown" || n.Severity != diag.Caution {
			t.Errorf("%+v", n)
		}
		got = append(got, n.Text)
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}
