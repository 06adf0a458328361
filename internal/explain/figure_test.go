package explain

import (
	"strings"
	"testing"

	"fettle/internal/diag"
)

// A figure that is asked for with a unit is found under that unit alone; one that is asked for
// without is found under any. Of a row like "1.0 / 2.0 / 3.0 mm" all have the last one's.
func TestUnitsOfAFigureThatIsAsked(t *testing.T) {
	for _, c := range []struct {
		have, asked  string
		same, orNone bool
	}{
		{"mm", "mm", true, true}, {"mm", "", true, true}, {"", "", true, true}, {"mm", "EUR", false, false}, {"", "mm", false, true},
	} {
		if got := sameUnit(c.have, c.asked); got != c.same {
			t.Errorf("sameUnit(%q, %q) is %v", c.have, c.asked, got)
		}
		if got := NoUnit(c.have, c.asked); got != c.orNone {
			t.Errorf("NoUnit(%q, %q) is %v", c.have, c.asked, got)
		}
	}
}

// The figures of a text: numbers without sign of plus and grouping, and the word after each.
func TestFiguresOfAText(t *testing.T) {
	for text, want := range map[string]string{
		"":                           "",
		"none":                       "",
		"12":                         "12|",
		"1,234.50 EUR":               "1234.50|EUR",
		"+3.2 mm, -0.5mm":            "3.2|mm 0.5|mm",
		"\u22124.0\u00a0%\u20097 °C": "4.0|% 7|°C",
		"7 kJ/mm and 45° 3.":         "7|kJ/mm 45|° 3|",
		"S-12 at x:7":                "12|at 7|",
		"2026-03-04 15:04":           "2026| 03| 04| 15| 04|",
		"1, 2,3":                     "1| 23|",
	} {
		var got []string
		for _, f := range FiguresIn(text) {
			got = append(got, f[0]+"|"+f[1])
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

// Words after a number that mean the same, and that do not.
func TestSameWords(t *testing.T) {
	for _, c := range []struct {
		a, b string
		same bool
	}{{"day", "days", true}, {"days", "d", true}, {"day", "d", true}, {"minutes", "min", true}, {"minute", "min", true}, {"hours", "h", true}, {"hour", "h", true}, {"°C", "C", true}, {"mm", "mm", true}, {"piece", "pieces", true},
		{"min", "h", false}, {"mm", "m", false}, {"d", "h", false}, {"C", "d", false}, {"", "mm", false}} {
		if sameWord(c.a, c.b) != c.same || sameWord(c.b, c.a) != c.same {
			t.Errorf("%q and %q: the same is %v", c.a, c.b, !c.same)
		}
	}
}

// A figure is found in the branches that have all of what is asked for in one sentence, under its own unit
// before a number that has none; what begins with no figure is a name.
func TestFiguresAreFound(t *testing.T) {
	tree := func(r Reason) func() Reason { return func() Reason { return r } }
	n := known(
		thing{Kind: "part", names: []string{"A"}, why: tree(plainly("A costs 1,310.00 EUR", plainly("2 x 655.00 EUR", plainly("655.00 of the list, p. 7")), plainly("in 12 days")))},
		thing{Kind: "part", names: []string{"B"}, route: "B", why: tree(plainly("B", plainly("1.0 / 2.0 / 3.0 mm", Reason{Said: diag.Said{Text: "limit"}, Source: "table 8"}), Reason{Said: diag.Said{Text: "row"}, At: "x.csv:31"}))},
		thing{Kind: "part", names: []string{"C"}, why: tree(plainly("C", plainly("2.0 kg"), plainly("and 3 mm")))},
	)
	for what, want := range map[string]string{
		"1310.00 EUR":  "1310.00 EUR stands in the reasons of 1 thing.\n. part A: A costs 1,310.00 EUR",
		"1,310.00":     "1,310.00 stands in the reasons of 1 thing.\n. part A: A costs 1,310.00 EUR",
		"655 EUR":      "", // 655.00 is how it is printed
		"655.00 EUR":   "655.00 EUR stands in the reasons of 1 thing.\n. part A: A costs 1,310.00 EUR\n. . 2 x 655.00 EUR",
		" + 12 day ":   "+ 12 day stands in the reasons of 1 thing.\n. part A: A costs 1,310.00 EUR\n. . in 12 days",
		"2.0 mm":       "2.0 mm stands in the reasons of 1 thing.\n. part B of route B: B\n. . 1.0 / 2.0 / 3.0 mm",
		"2.0":          "2.0 stands in the reasons of 2 things.\n. part B of route B: B\n. . 1.0 / 2.0 / 3.0 mm\n. part C: C\n. . 2.0 kg",
		"2.0 / 3.0 mm": "2.0 / 3.0 mm stands in the reasons of 1 thing.\n. part B of route B: B\n. . 1.0 / 2.0 / 3.0 mm",
		"8":            "8 stands in the reasons of 1 thing.\n. part B of route B: B\n. . 1.0 / 2.0 / 3.0 mm\n. . . limit [table 8]",
		"31":           "31 stands in the reasons of 1 thing.\n. part B of route B: B\n. . row (x.csv:31)",
		"2.0 and 3":    "",
		"≤ 3 mm":       "≤ 3 mm stands in the reasons of 1 thing.\n. part C: C\n. . and 3 mm",
		"99":           "",
		"mm 3":         "",
		"":             "",
		"±":            "",
		"p. 7":         "",
		"\u22122.0 kg": "\u22122.0 kg stands in the reasons of 1 thing.\n. part C: C\n. . 2.0 kg",
		"310.00":       "", // the tail of a grouped number is another number
	} {
		x, ok := n.figure(what)
		if ok != (want != "") {
			t.Errorf("%q is found: %v", what, ok)
		}
		if ok {
			said(t, what, want, x)
		}
	}
	if x, err := n.Explain("12 days"); err != nil || !strings.HasPrefix(x.Text, "12 days stands in") {
		t.Errorf("%v %v", x, err)
	}
	if list := n.Reasoned(); len(list) != 3 || !list[1].Numbers["31"] || !list[1].Numbers["8"] || !list[1].Numbers["3.0"] || list[1].Numbers["655.00"] || !list[0].Numbers["655.00"] {
		t.Errorf("%+v", list)
	}
}

// Of a figure that many things have so many are shown as fit, and all are counted.
func TestFiguresOfManyThings(t *testing.T) {
	for _, c := range []struct {
		things int
		head   string
	}{{mostPlaces, "7 mm stands in the reasons of 12 things."}, {mostPlaces + 1, "7 mm stands in the reasons of 13 things; the first 12:"}} {
		var list []thing
		for range c.things {
			list = append(list, thing{Kind: "part", names: []string{"A"}, why: func() Reason { return plainly("7 mm") }})
		}
		if x, ok := known(list...).figure("7 mm"); !ok || x.Text != c.head || len(x.Under) != mostPlaces {
			t.Errorf("%d things: %q with %d", c.things, x.Text, len(x.Under))
		}
	}
}

// plainly is a reason of a made-up sentence.
func plainly(text string, under ...Reason) Reason { return because(diag.Said{Text: text}, under...) }
