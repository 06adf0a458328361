package rule

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

// everyValue is every value of a small space, a word that no condition names among them: halves
// between whole limits tell a limit that counts from one that does not.
func everyValue(k Kind, sp Space) []Value {
	var all []Value
	switch k {
	case Number:
		for i := -9; i <= 9; i++ {
			if x := float64(i) / 2; (x >= 0 || sp.Signed["f"]) && (i%2 == 0 || !sp.Whole["f"]) {
				all = append(all, NumberValue(x, 0, ""))
			}
		}
	case Bool:
		all = []Value{BoolValue(true), BoolValue(false)}
	case Text:
		for i := range 4 {
			all = append(all, TextValue(fmt.Sprint("w", i)))
		}
	case Set:
		for i := range 16 {
			var have []string
			for b := range 4 {
				if i>>b&1 == 1 {
					have = append(have, fmt.Sprint("w", b))
				}
			}
			all = append(all, SetValue(have...))
		}
	}
	return all
}

// conditionOf draws a condition with limits from -3 to 3, or of the words w0 to w2 and w3.
func conditionOf(r *rand.Rand, k Kind) string {
	words := strings.NewReplacer("A", fmt.Sprint("w", r.IntN(3)), "B", "w3")
	one := func() string {
		return fmt.Sprintf("%s %d", []string{"<", "<=", ">", ">="}[r.IntN(4)], r.IntN(7)-3)
	}
	switch k {
	case Number:
		if r.IntN(3) > 0 {
			return one()
		}
		low := r.IntN(5) - 3
		return fmt.Sprintf("%s %d and %s %d", []string{">", ">="}[r.IntN(2)], low, []string{"<", "<="}[r.IntN(2)], low+1+r.IntN(2))
	case Bool:
		return []string{"yes", "no"}[r.IntN(2)]
	case Text:
		return words.Replace([]string{"A", "A or B", "not A", "neither A nor B"}[r.IntN(4)])
	}
	return words.Replace([]string{"only A", "only A, B", "any of A", "any of A, B", "none of A, B", "includes A", "includes A and B"}[r.IntN(7)])
}

// One condition implies another exactly when every value that meets it meets the other: all values
// are gone through, of numbers that may lie below zero and that may not, and of counts. The same
// for rows, which may only be said to lie within another where they do: seed 111.
func TestImpliesByEveryValueSeed111(t *testing.T) {
	r := rand.New(rand.NewPCG(111, 111))
	seen := map[string]int{}
	for range 900 {
		k := []Kind{Number, Number, Bool, Text, Set}[r.IntN(5)]
		sp := Space{Signed: map[string]bool{"f": r.IntN(2) == 0}, Whole: map[string]bool{"f": r.IntN(3) == 0}}
		var a, b Row
		for range 1 + r.IntN(2) {
			a.Conds = append(a.Conds, named(t, "f", k, "", conditionOf(r, k)))
			b.Conds = append(b.Conds, named(t, "f", k, "", conditionOf(r, k)))
		}
		c, d := a.Conds[0], b.Conds[0]
		implies, within := true, true
		for _, v := range everyValue(k, sp) {
			f := Facts{"f": v}
			implies = implies && (c.Eval(v, 0.95).State != Met || d.Eval(v, 0.95).State == Met)
			within = within && (Eval([]Row{a}, f, 0.95)[0].State != Applies || Eval([]Row{b}, f, 0.95)[0].State == Applies)
		}
		if got := c.Implies(d, sp); got != implies {
			t.Fatalf("%q implies %q in %+v: %v, want %v", c.Text, d.Text, sp, got, implies)
		}
		got := a.Within(b, sp)
		if got && !within || len(a.Conds) == 1 && got != within {
			t.Fatalf("%+v within %+v in %+v: %v, want %v", a, b, sp, got, within)
		}
		seen[fmt.Sprint(k, implies)]++
		seen[fmt.Sprint("row ", got)]++
	}
	for k, n := range seen {
		if n < 15 {
			t.Errorf("%s: %d", k, n)
		}
	}
	if len(seen) != 10 {
		t.Errorf("%v", seen)
	}
}

// A row lies within another when each condition of the other follows from one of its own: a row
// without conditions holds every row, and lies in none that has one. What cannot be read follows
// from nothing, and nothing from it.
func TestRowsWithinRows(t *testing.T) {
	n, s, bad := named(t, "n", Number, "mm", "<= 3 mm"), named(t, "s", Set, "", "only A"), Unreadable("n", "short")
	row := func(c ...Cond) Row { return Row{Conds: c} }
	for i, k := range []struct {
		a, b Row
		want bool
	}{
		{row(), row(), true}, {row(n), row(), true}, {row(), row(n), false}, {row(n, s), row(n), true}, {row(s, n), row(n), true}, {row(n), row(n, s), false},
		{row(n, s), row(s, n), true}, {row(bad), row(n), false}, {row(n), row(bad), false}, {row(bad), row(bad), false},
		{row(named(t, "n", Bool, "", "yes")), row(n), false}, {row(named(t, "m", Number, "mm", "<= 3 mm")), row(n), false},
	} {
		if got := k.a.Within(k.b, Space{}); got != k.want {
			t.Errorf("%d: %v", i, got)
		}
	}
}

// Both rows are met in what is left of a part, and where none is left none is said: whatever lies
// in it, and nothing beside it, meets all conditions of the two. Each pair of drawn rows, seed 112.
func TestBothByEveryValueSeed112(t *testing.T) {
	r := rand.New(rand.NewPCG(112, 112))
	some, none := 0, 0
	for range 600 {
		k := []Kind{Number, Text}[r.IntN(2)]
		sp := Space{Signed: map[string]bool{"f": true}, Words: map[string][]string{"f": words(4)}}
		var rows [2]Row
		for i := range rows {
			for range r.IntN(3) {
				rows[i].Conds = append(rows[i].Conds, named(t, "f", k, "", conditionOf(r, k)))
			}
		}
		cell, ok := Both(Cell{}, rows[0], rows[1], sp)
		any := false
		for _, v := range everyValue(k, sp) {
			meets := true
			for _, s := range Eval(rows[:], Facts{"f": v}, 0.95) {
				meets = meets && s.State == Applies
			}
			any = any || meets
			reg, named := cell["f"]
			if ok && named && holds(reg, v) != meets || ok && !named && !meets {
				t.Fatalf("%v in %+v: meets both rows %v: %+v", v, cell, meets, rows)
			}
		}
		if ok != any {
			t.Fatalf("both rows met: %v, want %v: %+v", ok, any, rows)
		}
		if some++; !ok {
			some, none = some-1, none+1
		}
	}
	if some < 120 || none < 120 {
		t.Errorf("%d pairs meet, %d do not", some, none)
	}
}

// A search that ends before so many conditions were looked at is complete, and one that comes to
// that many is given up: a row of one limit beside the rows after it is one step for each row.
func TestStepsOfASearch(t *testing.T) {
	row := func(text string) Row { return Row{Conds: []Cond{named(t, "n", Number, "mm", text)}} }
	for _, k := range []struct {
		rows  []Row
		steps int
		gap   bool
	}{
		{[]Row{row(">= 0 mm")}, 1, false}, {[]Row{row("<= 24 mm"), row("> 24 mm")}, 2, false}, {[]Row{row("<= 24 mm"), row("> 25 mm")}, 2, true},
		{[]Row{row("<= 9 mm"), row("<= 12 mm"), row("> 12 mm")}, 3, false}, {[]Row{row("<= 9 mm"), row("<= 12 mm"), row("> 13 mm")}, 3, true},
	} {
		for steps := 1; steps < 6; steps++ {
			found, complete := Uncovered(Cell{}, k.rows, Space{}, steps)
			if want := steps > k.steps; complete != want || (found != nil) != (want && k.gap) {
				t.Errorf("%d rows, at most %d steps: %v, complete %v", len(k.rows), steps, found, complete)
			}
		}
	}
}

// What is no quantity of the unit is refused with no number beside it that somebody could take.
func TestNoNumberBesideARefusal(t *testing.T) {
	for _, k := range [][2]string{{"mm", ""}, {"mm", "x"}, {"mm", "24"}, {"mm", "2,4 mm"}, {"mm", "1.2.3 mm"}, {"mm", "24 kg"}, {"", "24 mm"}, {"months", "2 weeks"}, {"C", "3 mm"},
		{"mm", strings.Repeat("9", 31) + " mm"}, {UnitDate, "2026-02-30"}, {UnitDate, "24"}, {UnitDate, ""}} {
		x, err := quantity("f", k[1], k[0], false)
		if err == nil || x != 0 || !strings.Contains(err.Error(), "f") {
			t.Errorf("%q in %q: %v, %v", k[1], k[0], x, err)
		}
	}
	if x, err := quantity("f", "24", "mm", true); err != nil || x != 24 {
		t.Errorf("%v, %v", x, err)
	}
}
