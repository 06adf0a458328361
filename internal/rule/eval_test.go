package rule

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
)

func cond(t testing.TB, kind Kind, unitName, text string) Cond {
	t.Helper()
	c, err := ParseCond("f", kind, unitName, text)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Sources: JCGM 106:2012, 7.3 example 1 (breakdown voltage of a diode, printed
// 0.92) and 7.4 (viscosity of an oil, printed 0.66), figures from memory,
// further digits recomputed with Python's statistics.NormalDist; the ±3 rows are constructed
// and recomputed with NormalDist.
func TestProbability(t *testing.T) {
	for _, tc := range []struct {
		text    string
		y, u, p float64
	}{
		{"<= -5.40", -5.47, 0.05, 0.9192433},
		{">= 12.5 and <= 16.3", 13.6, 1.8, 0.6626298},
		{">= -3 and <= 3", 2.0, 0.5, 0.9772499},
		{">= -3 and <= 3", 2.6, 0.5, 0.7881446},
		{">= -3 and <= 3", 3.0, 0.5, 0.5},
		{">= -3 and <= 3", -3.5, 0.5, 0.1586553},
		{"> 24", 24, 2, 0.5},
	} {
		got := cond(t, Number, "", tc.text).Eval(NumberValue(tc.y, tc.u, ""), 0.95).Prob
		if math.Abs(got-tc.p) > 5e-8 {
			t.Errorf("%s at %v ± %v: p = %.7f, want %.7f", tc.text, tc.y, tc.u, got, tc.p)
		}
	}
	if got := Within(12.5, 16.3, 13.6, 1.8); math.Abs(got-0.6626298) > 5e-8 {
		t.Errorf("Within = %.7f", got)
	}
}

// A limit of 24 mm with u = 1.2 mm, c = 0.95: 1.6449 · 1.2 = 1.9738, so it is
// met up to 22.0262 and not met from 25.9738. Source: constructed, recomputed
// with NormalDist. The guarded acceptance is ISO 14253-1:2017's default (from
// memory).
func TestThreeWayLimit(t *testing.T) {
	c := cond(t, Number, "mm", "<= 24 mm")
	for y, want := range map[float64]CondState{22.026: Met, 22.027: CondUndecided, 24: CondUndecided, 25.973: CondUndecided, 25.974: NotMet} {
		if got := c.Eval(NumberValue(y, 1.2, "mm"), 0.95).State; got != want {
			t.Errorf("%v ± 1.2 is %v, want %v", y, got, want)
		}
	}
	if got := c.Eval(NumberValue(22, 1.2, "mm"), 0.99).State; got != CondUndecided {
		t.Errorf("a stricter confidence gives %v", got)
	}
	if got := c.Eval(NumberValue(23, 1.2, "mm"), 0.5).State; got != CondUndecided {
		t.Errorf("a confidence below 95 %% was used: %v", got)
	}
	if got := c.Eval(NumberValue(math.NaN(), 0, "mm"), 0.95).State; got != CondUnknown {
		t.Errorf("NaN is %v", got)
	}
	if got := c.Eval(NumberValue(1, -1, "mm"), 0.95).State; got != CondUnknown {
		t.Errorf("a negative uncertainty is %v", got)
	}
	if got := cond(t, Number, "mm", ">= 30 mm").Eval(NoneNear("mm"), 0.95).State; got != Met {
		t.Errorf("a distance to nothing is %v, want met", got)
	}
	if got := cond(t, Number, "", "= 2").Eval(NumberValue(2, 0.1, ""), 0.95).State; got != CondUndecided {
		t.Errorf("an uncertain number equals 2: %v", got)
	}
}

// Ignorance is no certainty: with a huge uncertainty an interval is improbable,
// and still not "not met". Source: constructed.
func TestHugeUncertaintyStaysUndecided(t *testing.T) {
	c := cond(t, Number, "mm", ">= 10 mm and <= 24 mm")
	if got := c.Eval(NumberValue(17, 1000, "mm"), 0.95); got.State != CondUndecided || got.Prob > 0.05 {
		t.Errorf("got %+v", got)
	}
}

// The worst condition makes the row. Source: the definition.
func TestRowStates(t *testing.T) {
	num, word := cond(t, Number, "mm", "<= 24 mm"), cond(t, Text, "", "crack")
	word.Fact = "k"
	row := Row{ID: "r", Conds: []Cond{num, word}}
	sure, doubt, long := NumberValue(20, 1, "mm"), NumberValue(23.5, 1, "mm"), NumberValue(30, 1, "mm")
	crack, dent := TextValue("crack"), TextValue("dent")
	for _, tc := range []struct {
		f, k Value
		want RowState
	}{
		{sure, crack, Applies}, {doubt, crack, RowUndecided}, {long, crack, DoesNotApply},
		{sure, dent, DoesNotApply}, {doubt, Value{}, RowUnknown}, {sure, Value{}, RowUnknown},
		{long, Value{}, DoesNotApply}, {Value{}, dent, DoesNotApply}, {Value{}, Value{}, RowUnknown},
	} {
		got := Eval([]Row{row}, Facts{"f": tc.f, "k": tc.k}, 0.95)[0]
		if got.State != tc.want || len(got.Conds) != 2 {
			t.Errorf("%v and %v: %v with %d conditions, want %v with 2", tc.f, tc.k, got.State, len(got.Conds), tc.want)
		}
	}
	for state, want := range map[RowState]bool{RowUnknown: true, RowUndecided: true, DoesNotApply: false, Applies: false} { // may yet apply
		if state.Open() != want {
			t.Errorf("%v is open: %v", state, !want)
		}
	}
	if got := Eval([]Row{{ID: "all"}}, nil, 0.95)[0].State; got != Applies {
		t.Errorf("a row without conditions %v", got)
	}
	if got := (Cond{Fact: "f"}).Eval(sure, 0.95).State; got != CondUnknown {
		t.Errorf("the zero condition is %v", got)
	}
	if got := word.Eval(sure, 0.95).State; got != CondUnknown {
		t.Errorf("a value of another kind is %v", got)
	}
}

// A limit of 24 mm at 22 ± 2 mm: u = (24 − 22)/1.64485 = 1.2159; met at 24 −
// 1.64485·2 = 20.7103. Source: constructed, recomputed with NormalDist.
func TestNeed(t *testing.T) {
	c := cond(t, Number, "mm", "<= 24 mm")
	n := c.Need(NumberValue(22, 2, "mm"), 0.95)
	if math.Abs(n.Std-1.21591) > 1e-4 || n.As != Met {
		t.Errorf("need %+v", n)
	}
	want := "uncertain by no more than ± 2.4 mm (k = 2) it would be decided at this value (met); at this uncertainty it would be met at 20.71 mm or less"
	if n.Text != want {
		t.Errorf("text %q, want %q", n.Text, want)
	}
	if n := c.Need(NumberValue(24, 2, "mm"), 0.95); n.Std != 0 || n.Text == "" {
		t.Errorf("on the limit: %+v", n)
	}
	if n := c.Need(NumberValue(10, 2, "mm"), 0.95); n != (Need{}) {
		t.Errorf("decided, and still a need: %+v", n)
	}
}

func TestRoundedDown(t *testing.T) {
	for x, want := range map[float64]string{0.699: "0.69 mm", 1.2159: "1.2 mm", 12.99: "12 mm", 1299: "1200 mm", 0.0509: "0.05 mm", 2.04: "2 mm"} {
		if got := RoundedDown(x, "mm"); got != want {
			t.Errorf("RoundedDown(%v) = %q, want %q", x, got, want)
		}
	}
}

// Sources: constructed; 1.64485·1.2 = 1.97383 recomputed with NormalDist.
func TestFlip(t *testing.T) {
	for _, tc := range []struct {
		text   string
		v      Value
		want   CondState
		at     float64
		beyond bool
		ok     bool
	}{
		{"<= 24 mm", NumberValue(27.8, 0, "mm"), Met, 24, false, true},
		{"< 24 mm", NumberValue(27.8, 0, "mm"), Met, 24, true, true},
		{"<= 24 mm", NumberValue(20, 0, "mm"), NotMet, 24, true, true},
		{"<= 24 mm", NumberValue(27.8, 1.2, "mm"), Met, 22.02617, false, true},
		{"<= 24 mm", NumberValue(20, 1.2, "mm"), NotMet, 25.97383, false, true},
		{">= 10 mm and <= 24 mm", NumberValue(8, 0, "mm"), Met, 10, false, true},
		{">= 10 mm and <= 24 mm", NumberValue(23, 0, "mm"), NotMet, 24, true, true},
		{">= 10 mm and <= 24 mm", NumberValue(2, 100, "mm"), Met, 0, false, false},
		{"<= 24 mm", Unknown(Number), Met, 0, false, false},
	} {
		f, ok := cond(t, Number, "mm", tc.text).Nearest(tc.v, 0.95, tc.want)
		if ok != tc.ok || math.Abs(f.At-tc.at) > 1e-5 || f.Beyond != tc.beyond {
			t.Errorf("%s from %v to %v: %+v %v, want %v beyond %v", tc.text, tc.v, tc.want, f, ok, tc.at, tc.beyond)
		}
	}
}

// A suggestion always comes true, and nothing nearer does it: seed 1.
func TestFlipHoldsSeed1(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	texts := []string{"<= 24 mm", "< 24 mm", ">= 12 mm", ">= 10 mm and <= 24 mm", "> 10 mm and < 24 mm"}
	for range 4000 {
		c := cond(t, Number, "mm", texts[rng.IntN(len(texts))])
		v := NumberValue(rng.Float64()*40, rng.Float64()*3*float64(rng.IntN(2)), "mm")
		want := []CondState{Met, NotMet}[rng.IntN(2)]
		f, ok := c.Nearest(v, 0.95, want)
		if !ok || f.By == 0 {
			continue
		}
		step := math.Copysign(1e-6, f.By)
		past, short := v, v
		past.Number, short.Number = f.At+step, f.At-step
		if got := c.Eval(past, 0.95).State; got != want {
			t.Fatalf("%s from %v: at %v it is %v, want %v", c.Text, v, past, got, want)
		}
		if got := c.Eval(short, 0.95).State; got == want && math.Abs(f.By) > 2e-6 {
			t.Fatalf("%s from %v: %v is not the nearest", c.Text, v, f.At)
		}
	}
}

// A larger uncertainty never decides what a smaller one left open, and never
// turns met into not met: seed 2.
func TestUncertaintyOnlyOpensSeed2(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	texts := []string{"<= 24 mm", "> 10 mm", ">= 10 mm and <= 24 mm"}
	for range 5000 {
		c := cond(t, Number, "mm", texts[rng.IntN(len(texts))])
		y, u := rng.Float64()*40, rng.Float64()*5
		a := c.Eval(NumberValue(y, u, "mm"), 0.95).State
		b := c.Eval(NumberValue(y, u*(1+rng.Float64()*50), "mm"), 0.95).State
		if b != a && b != CondUndecided {
			t.Fatalf("%s at %v: %v, then with more uncertainty %v", c.Text, y, a, b)
		}
	}
}

// The order of rows changes no row, and evaluation is repeatable: seed 3.
func TestOrderSeed3(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var rows []Row
	for i := range 40 {
		c := cond(t, Number, "mm", fmt.Sprintf("<= %d mm", i))
		rows = append(rows, Row{ID: fmt.Sprint(i), Conds: []Cond{c}})
	}
	facts := Facts{"f": NumberValue(20, 2, "mm")}
	want := map[string]RowResult{}
	for _, r := range Eval(rows, facts, 0.95) {
		want[r.Row] = r
	}
	rng.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
	for i, r := range Eval(rows, facts, 0.95) {
		if r.Row != rows[i].ID || !reflect.DeepEqual(r, want[r.Row]) {
			t.Fatalf("row %s is %+v, want %+v", rows[i].ID, r, want[r.Row])
		}
	}
}

func BenchmarkEval500Rows(b *testing.B) {
	var rows []Row
	for i := range 500 {
		l := cond(b, Number, "mm", fmt.Sprintf("<= %d mm", i))
		z := cond(b, Set, "", "only A, B, C")
		z.Fact = "z"
		rows = append(rows, Row{ID: "r", Conds: []Cond{l, z}})
	}
	table := NewTable(rows)
	facts := Facts{"f": NumberValue(20, 2, "mm"), "z": SetValue("A", "B")}
	for b.Loop() {
		table.Eval(facts, 0.95)
	}
}
