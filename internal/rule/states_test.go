package rule

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"fettle/internal/normal"
)

// randomRow is a row over a number, a word, a set and a yes or no.
func randomRow(t testing.TB, rng *rand.Rand, i, words int) Row {
	t.Helper()
	word := func() string { return fmt.Sprintf("w%d", rng.IntN(words)) }
	texts := map[string]func() string{
		"n": func() string {
			a := rng.IntN(40)
			return []string{fmt.Sprintf("<= %d mm", a), fmt.Sprintf("> %d mm", a), fmt.Sprintf(">= %d mm and < %d mm", a, a+1+rng.IntN(9))}[rng.IntN(3)]
		},
		"t": func() string { return []string{word(), "not " + word()}[rng.IntN(2)] },
		"s": func() string { return []string{"only ", "any of ", "none of ", "includes "}[rng.IntN(4)] + word() },
		"b": func() string { return []string{"yes", "no"}[rng.IntN(2)] },
	}
	kinds := map[string]Kind{"n": Number, "t": Text, "s": Set, "b": Bool}
	row := Row{ID: fmt.Sprint(i)}
	for _, f := range []string{"n", "t", "s", "b"} {
		if rng.IntN(2) == 0 {
			continue
		}
		unitName := map[bool]string{true: "mm", false: ""}[f == "n"]
		c, err := ParseCond(f, kinds[f], unitName, texts[f]())
		if err != nil {
			t.Fatal(err)
		}
		row.Conds = append(row.Conds, c)
	}
	return row
}

// States gives the states that Eval gives, with few words and with more than
// fit into 64 bits: seed 4. Source: the definition.
func TestStatesAgreeWithEvalSeed4(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for _, words := range []int{6, 200} {
		var rows []Row
		for i := range 300 {
			rows = append(rows, randomRow(t, rng, i, words))
		}
		table := NewTable(rows)
		var states []RowState
		seen := map[RowState]int{}
		for range 300 {
			facts := Facts{"n": NumberValue(rng.Float64()*40, rng.Float64()*3*float64(rng.IntN(2)), "mm"),
				"t": TextValue(fmt.Sprintf("w%d", rng.IntN(words+2))), "b": BoolValue(rng.IntN(2) == 0)}
			var set []string
			for range rng.IntN(4) {
				set = append(set, fmt.Sprintf("w%d", rng.IntN(words+2)))
			}
			facts["s"] = SetValue(set...)
			for _, f := range []string{"n", "t", "s", "b"} {
				if rng.IntN(6) == 0 {
					facts[f] = Value{}
				}
			}
			states = table.States(facts, 0.95, states)
			for i, r := range table.Eval(facts, 0.95) {
				if states[i] != r.State {
					t.Fatalf("row %+v: %v, Eval says %v for %v", rows[i], states[i], r.State, facts)
				}
				seen[r.State]++
			}
		}
		if len(seen) != 4 {
			t.Errorf("with %d words only these states were tried: %v", words, seen)
		}
	}
}

// A value within a hair of the edge of decision is decided alike: seed 5.
func TestStatesAgreeAtTheEdgeSeed5(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	table := NewTable([]Row{{ID: "r", Conds: []Cond{cond(t, Number, "mm", "<= 24 mm")}}})
	for range 20000 {
		u := 0.1 + rng.Float64()*3
		sign := float64(1 - 2*rng.IntN(2))
		y := 24 + sign*normal.Quantile(0.95)*u*(1+(rng.Float64()-0.5)*0.004)
		facts := Facts{"f": NumberValue(y, u, "mm")}
		if a, b := table.States(facts, 0.95, nil)[0], table.Eval(facts, 0.95)[0].State; a != b {
			t.Fatalf("%v ± %v: %v, Eval says %v", y, u, a, b)
		}
	}
}

func BenchmarkStates500Rows(b *testing.B) {
	rng := rand.New(rand.NewPCG(6, 6))
	var rows []Row
	for i := range 500 {
		rows = append(rows, randomRow(b, rng, i, 12))
	}
	table := NewTable(rows)
	facts := Facts{"n": NumberValue(20, 2, "mm"), "t": TextValue("w1"), "s": SetValue("w1", "w2"), "b": BoolValue(true)}
	var states []RowState
	for b.Loop() {
		states = table.States(facts, 0.95, states)
	}
}
