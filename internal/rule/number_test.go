package rule

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// A part of the numbers has an example exactly when there is a number in it, and the example
// is one of them: between two bounds when the lower is less, or when they are one and both
// belong to it; of counts when one of them lies there. It is a short one: the middle, rounded
// to the coarsest decimal step that stays inside. Every pair of bounds, and drawn ones: seed 108.
func TestExampleOfAPartOfTheNumbersSeed108(t *testing.T) {
	r := rand.New(rand.NewPCG(108, 108))
	ends := []float64{-20, -3.5, -1, 0, 0.25, 1, 7}
	for range 300 {
		a, b := ends[r.IntN(len(ends))], ends[r.IntN(len(ends))]
		if r.IntN(2) == 0 {
			a = math.Round(40*r.Float64()*1e4) / 1e4
			b = a + math.Pow(10, -float64(r.IntN(6)))*r.Float64()
		}
		for kind := range 16 {
			reg := region{kind: Number, unit: "mm"}
			if kind&1 > 0 {
				reg.low = Bound{true, a, kind&2 > 0}
			}
			if kind&4 > 0 {
				reg.high = Bound{true, b, kind&8 > 0}
			}
			inside := func(x float64) bool {
				return !(reg.low.Set && (x < a || x == a && reg.low.Strict)) && !(reg.high.Set && (x > b || x == b && reg.high.Strict))
			}
			there := !reg.low.Set || !reg.high.Set || a < b || a == b && !reg.low.Strict && !reg.high.Strict
			if x, ok := reg.number(false); ok != there || ok && !inside(x) {
				t.Fatalf("%+v has a number: %v; example %v, %v", reg, there, x, ok)
			} else if reg.low.Set && reg.high.Set && ok {
				if want, short := shortest((a+b)/2, inside); short && x != want {
					t.Fatalf("%+v: example %v, want %v", reg, x, want)
				}
			}
			one := !reg.low.Set || !reg.high.Set
			for n := -25.0; n < 50; n++ {
				one = one || inside(n)
			}
			if x, ok := reg.number(true); ok != one || ok && (!inside(x) || x != math.Round(x)) {
				t.Fatalf("%+v has a count: %v; example %v, %v", reg, one, x, ok)
			}
		}
	}
}

// shortest is a number printed with as few digits as stay inside.
func shortest(x float64, inside func(float64) bool) (float64, bool) {
	for digits := -1; digits <= 3; digits++ {
		text := strconv.FormatFloat(x, 'f', max(digits, 0), 64)
		if digits < 0 {
			text = strconv.FormatFloat(x/10, 'f', 0, 64) + "0"
		}
		short, err := strconv.ParseFloat(text, 64)
		exact, ok := new(big.Rat).SetString(strconv.FormatFloat(x, 'f', -1, 64))
		if err != nil || !ok {
			return 0, false
		}
		tie := new(big.Rat).Mul(exact, big.NewRat(int64(math.Pow10(max(digits, 0)))*20, int64(10*math.Pow10(max(-digits, 0)))))
		if tie.IsInt() && tie.Num().Bit(0) == 1 { // halfway, one way or the other
			return 0, false
		}
		if inside(short) {
			return short, true
		}
	}
	return 0, false
}

// A number from zero has no part below zero; one that may lie there has.
func TestPartBelowZero(t *testing.T) {
	for _, text := range []string{"< 0 mm", "<= -4 mm", "< -9 mm"} {
		c := named(t, "n", Number, "mm", text)
		if _, ok := (Cell{}).Narrow(c, Space{}); ok {
			t.Errorf("%s of a number from zero", text)
		}
		cell, ok := Cell{}.Narrow(c, Space{Signed: map[string]bool{"n": true}})
		if !ok || c.Eval(cell.Example(Space{})["n"], 0.95).State != Met {
			t.Errorf("%s of a number that may lie below zero: %v", text, cell)
		}
	}
	for _, k := range []struct{ a, b, unit, want string }{
		{">= 0 mm", "<= 4 mm", "mm", "up to 4 mm"}, {"> 0 mm", "< 4 mm", "mm", "over 0 mm and under 4 mm"}, {">= 2.5 mm", ">= 1 mm", "mm", "from 2.5 mm"},
		{"> 2 mm", ">= 2 mm", "mm", "over 2 mm"}, {">= 2 mm", "> 2 mm", "mm", "over 2 mm"}, {"< 7 mm", "<= 7 mm", "mm", "under 7 mm"}, {"<= 7 mm", "< 7 mm", "mm", "under 7 mm"},
		{"<= 3", "<= 5", "", "up to 3"}, {">= 2030-03-01", "< 2031-01-01", UnitDate, "from 2030-03-01 and under 2031-01-01"},
	} {
		cell := Cell{}
		for _, text := range []string{k.a, k.b} {
			var ok bool
			if cell, ok = cell.Narrow(named(t, "n", Number, k.unit, text), Space{}); !ok {
				t.Fatal(text)
			}
		}
		if got := cell.Between("n"); got != k.want {
			t.Errorf("%s and %s: %q, want %q", k.a, k.b, got, k.want)
		}
	}
	if got := (Cell{}).Between("n"); got != "" {
		t.Errorf("anything: %q", got)
	}
	word, _ := Cell{}.Narrow(named(t, "t", Text, "", "w0"), testSpace)
	if got := word.Between("t"); got != "" {
		t.Errorf("a word lies %q", got)
	}
}

// Set conditions together leave something exactly when a set of the vocabulary meets them all:
// every set of five words is tried. Drawn: seed 109.
func TestSetsThatMeetAllSeed109(t *testing.T) {
	r := rand.New(rand.NewPCG(109, 109))
	vocabulary := words(5)
	none, some := 0, 0
	for range 1500 {
		sp := Space{Words: map[string][]string{"s": vocabulary}, NotEmpty: map[string]bool{"s": r.IntN(2) == 0}}
		var conds []Cond
		cell, ok := Cell{}, true
		for range 1 + r.IntN(4) {
			text := []string{"only ", "any of ", "none of ", "includes "}[r.IntN(4)]
			chosen := slices.Clone(vocabulary)
			r.Shuffle(len(chosen), func(i, j int) { chosen[i], chosen[j] = chosen[j], chosen[i] })
			c := named(t, "s", Set, "", text+strings.Join(chosen[:1+r.IntN(3)], ", "))
			if r.IntN(3) == 0 { // its opposite
				if parts := (Cell{}).Outside(c, sp); len(parts) > 0 && ok {
					c = parts[r.IntN(len(parts))]["s"].terms[0]
				}
			}
			conds = append(conds, c)
			if ok {
				cell, ok = cell.Narrow(c, sp)
			}
		}
		meets := func(have []string) bool {
			if len(have) == 0 && sp.NotEmpty["s"] {
				return false
			}
			for _, c := range conds {
				in, all := 0, true
				for _, w := range c.Words {
					all = all && slices.Contains(have, w)
				}
				for _, w := range have {
					if slices.Contains(c.Words, w) {
						in++
					}
				}
				met := map[Op]bool{Only: len(have) > 0 && in == len(have), notOnly: len(have) == 0 || in < len(have), AnyOf: in > 0, NoneOf: in == 0, Includes: all}[c.Op]
				if !met {
					return false
				}
			}
			return true
		}
		want := false
		for set := range 1 << len(vocabulary) {
			var have []string
			for i, w := range vocabulary {
				if set>>i&1 == 1 {
					have = append(have, w)
				}
			}
			want = want || meets(have)
		}
		if ok != want {
			t.Fatalf("%+v, never empty %v: something is left: %v, want %v", conds, sp.NotEmpty["s"], ok, want)
		}
		if ok {
			some++
			if have := cell.Example(sp)["s"].Words; !meets(have) {
				t.Fatalf("%+v: example %v", conds, have)
			}
		} else {
			none++
		}
	}
	if none < 100 || some < 100 {
		t.Errorf("%d left nothing, %d something", none, some)
	}
}

// The inside and the outside of a condition have no value in common and leave none out: every
// value of a small space is in exactly one of them. Each form of condition.
func TestInsideAndOutsideAreTheWhole(t *testing.T) {
	sp := Space{Words: map[string][]string{"t": words(4), "s": words(4)}, Signed: map[string]bool{"n": true}}
	for _, k := range []struct {
		fact string
		kind Kind
		text string
	}{
		{"n", Number, "<= 3 mm"}, {"n", Number, "> 3 mm"}, {"n", Number, ">= 2 mm and < 4 mm"}, {"n", Number, "> 2 mm and <= 4 mm"}, {"b", Bool, "yes"}, {"b", Bool, "no"},
		{"t", Text, "w1 or w2"}, {"t", Text, "not w1"}, {"s", Set, "only w1, w2"}, {"s", Set, "any of w1, w2"}, {"s", Set, "none of w1, w2"}, {"s", Set, "includes w1 and w2"},
	} {
		c := named(t, k.fact, k.kind, map[bool]string{true: "mm"}[k.kind == Number], k.text)
		var all []Value
		for i := range 16 {
			switch k.kind {
			case Number:
				all = append(all, mms(float64(i)/2-1, 0))
			case Bool:
				all = append(all, BoolValue(i%2 == 0))
			case Text:
				all = append(all, TextValue(fmt.Sprint("w", i%4)))
			case Set:
				var have []string
				for b := range 4 {
					if i>>b&1 == 1 {
						have = append(have, fmt.Sprint("w", b))
					}
				}
				all = append(all, SetValue(have...))
			}
		}
		in, ok := Cell{}.Narrow(c, sp)
		out := Cell{}.Outside(c, sp)
		if !ok || len(out) == 0 {
			t.Fatalf("%s: %v, %v", k.text, in, out)
		}
		met, missed := 0, 0
		for _, v := range all {
			if holds(in[k.fact], v) {
				met++
				if c.Eval(v, 0.95).State != Met {
					t.Errorf("%s: %v is inside", k.text, v)
				}
			}
			parts := 0
			for _, o := range out {
				if holds(o[k.fact], v) {
					parts++
				}
			}
			if missed += min(1, parts); (parts > 0) != (c.Eval(v, 0.95).State == NotMet) {
				t.Errorf("%s: %v is in %d parts outside", k.text, v, parts)
			}
		}
		if met+missed != len(all) || met == 0 || missed == 0 {
			t.Errorf("%s: %d inside, %d outside of %d", k.text, met, missed, len(all))
		}
	}
}

// holds says that a value lies in a region, from what the region is made of.
func holds(r region, v Value) bool {
	switch r.kind {
	case Number:
		return !(r.low.Set && (v.Number < r.low.At || v.Number == r.low.At && r.low.Strict)) && !(r.high.Set && (v.Number > r.high.At || v.Number == r.high.At && r.high.Strict))
	case Bool:
		return v.Yes && r.yes || !v.Yes && r.no
	case Text:
		return slices.Contains(r.words, v.Words[0])
	}
	for _, c := range r.terms {
		not := c.Op == notOnly
		if not {
			c.Op = Only
		}
		if (c.Eval(v, 0.95).State == Met) == not {
			return false
		}
	}
	return true
}

// Numbers for people: two decimals where that is within a hundredth of the number, three
// digits otherwise. Against decimal arithmetic: seed 110.
func TestShortNumbersSeed110(t *testing.T) {
	r := rand.New(rand.NewPCG(110, 110))
	few, many := 0, 0
	for range 3000 {
		x := math.Pow(10, 6*r.Float64()-3) * float64(1-2*r.IntN(2))
		got := NumberValue(x, 0, "").String()
		two := strconv.FormatFloat(x, 'f', 2, 64)
		read, err := strconv.ParseFloat(two, 64)
		if err != nil {
			t.Fatal(err)
		}
		want := strings.TrimSuffix(strings.TrimRight(two, "0"), ".")
		if few++; math.Abs(read-x) > 0.01*math.Abs(x) {
			want = strconv.FormatFloat(x, 'g', 3, 64)
			few, many = few-1, many+1
		}
		if got != want {
			t.Fatalf("%v is printed %q, want %q", x, got, want)
		}
	}
	if few < 500 || many < 500 {
		t.Errorf("%d with two decimals, %d with three digits", few, many)
	}
	for x, want := range map[float64]string{0: "0", 1e308: "1e+308", 0.005: "0.005", 0.5: "0.5", 2: "2"} {
		if got := strings.Replace(NumberValue(x, 0, "").String(), "1"+strings.Repeat("0", 308), "1e+308", 1); got != want {
			t.Errorf("%v is printed %q, want %q", x, got, want)
		}
	}
}

// A number may have thirty characters and no more, and what is quoted is cut after sixty, never
// inside a character.
func TestLongTexts(t *testing.T) {
	thirty := strings.Repeat("0", 29) + "5"
	if c, err := ParseCond("f", Number, "mm", "<= "+thirty+" mm"); err != nil || c.High.At != 5 {
		t.Errorf("thirty characters: %+v, %v", c, err)
	}
	if _, err := ParseCond("f", Number, "mm", "<= 0"+thirty+" mm"); err == nil {
		t.Error("thirty-one characters are read")
	}
	for n := 55; n < 66; n++ {
		for _, s := range []string{strings.Repeat("a", n), strings.Repeat("a", n-4) + "äöü" + "xyz", strings.Repeat("…", n/3) + strings.Repeat("b", n%3)} {
			want := `"` + s + `"`
			if len(s) > 60 {
				cut := 0
				for i := range s { // where characters begin
					if i <= 57 {
						cut = i
					}
				}
				want = `"` + s[:cut] + `..."`
			}
			if got := quote(s); got != want {
				t.Errorf("%d bytes: %s, want %s", len(s), got, want)
			}
		}
	}
}

// A table that names sixty-five words, one more than there are bits, tells them all apart.
func TestStatesOfManyWords(t *testing.T) {
	for _, n := range []int{63, 64, 65, 66} {
		var rows []Row
		for i := range n {
			rows = append(rows, Row{ID: fmt.Sprint(i), Conds: []Cond{named(t, "s", Set, "", fmt.Sprint("any of w", i))}})
		}
		table := NewTable(rows)
		for i := range n {
			for k, s := range table.States(Facts{"s": SetValue(fmt.Sprint("w", i))}, 0.95, nil) {
				if (s == Applies) != (k == i) {
					t.Fatalf("%d words: row %d of word %d %v", n, k, i, s)
				}
			}
		}
	}
}
