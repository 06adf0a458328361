package explain

import (
	"fmt"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// known is names of things made up by hand: a bumper of three routes of which A is picked, and a
// zone that is called as a row is.
func known(things ...thing) *Names {
	n := &Names{Picked: "A", things: things}
	for i := range n.things {
		if n.things[i].why == nil {
			title := n.things[i].Title()
			n.things[i].why = func() Reason { return plainly("Why " + title) }
		}
	}
	n.index()
	return n
}

func bumpers() *Names {
	return known(
		thing{Kind: "part", names: []string{"BUMPER", "Front bumper"}, route: "B"},
		thing{Kind: "part", names: []string{"BUMPER", "Front bumper"}, route: "A"},
		thing{Kind: "part", names: []string{"BEAM", "Cross–beam."}, route: "C"},
		thing{Kind: "zone", names: []string{"RAIL_L"}},
		thing{Kind: "row", names: []string{"R1", "rail l"}},
		thing{Kind: "fact", names: []string{"length_mm", "length mm"}},
		thing{Kind: "seed", names: []string{"seed"}},
	)
}

// What a name means: as it is written before what only reads alike, the picked route before others,
// and everything alike together; ROUTE/NAME and KIND NAME mean one.
func TestNamesMeanThings(t *testing.T) {
	n := bumpers()
	for what, want := range map[string]string{
		"BUMPER": "part BUMPER of route A", "bumper": "part BUMPER of route A", "  front   BUMPER ": "part BUMPER of route A", "B/bumper": "part BUMPER of route B", "A/BUMPER": "part BUMPER of route A",
		"C/BUMPER": "", "part bumper": "part BUMPER of route A", "part front bumper": "part BUMPER of route A", "zone bumper": "",
		"BEAM": "part BEAM of route C", "cross-beam": "part BEAM of route C", "Part Beam": "part BEAM of route C",
		"RAIL_L": "zone RAIL_L", "rail l": "row R1", "Rail L": "zone RAIL_L, row R1", "zone rail_l": "zone RAIL_L", "row rail l": "row R1",
		"length mm": "fact length_mm", "LENGTH MM.": "fact length_mm", "nothing": "", "": "", "part": "", "part ": "",
	} {
		var got []string
		for _, x := range n.Find(what) {
			got = append(got, x.Title())
		}
		if strings.Join(got, ", ") != want {
			t.Errorf("%q means %q, want %q", what, got, want)
		}
	}
	said(t, "one thing", "Why part BUMPER of route A", explained(t, n, "bumper"))
	said(t, "two things", "Rail L means 2 things.\n. zone RAIL_L: Why zone RAIL_L\n. row R1: Why row R1", explained(t, n, "Rail L"))
}

func explained(t *testing.T, n *Names, what string) Reason {
	t.Helper()
	x, err := n.Explain(what)
	if err != nil {
		t.Error(err)
	}
	return x
}

// What has no name is told with the kinds that there are, each with its shortest name, and the
// nearest name where there are many.
func TestNoSuchName(t *testing.T) {
	kinds := "ask for a part (BUMPER), zone (RAIL_L), row (R1), fact (length_mm), seed, or a figure as it is printed; ROUTE/NAME for a route that is not the one shown"
	for _, what := range []string{"bumpr", "zzzzzzzz", "A/bumpr"} { // of so few no nearest
		_, err := bumpers().Explain(what)
		e, ok := err.(*diag.Error)
		if !ok {
			t.Fatalf("%q: %v", what, err)
		}
		if e.Kind != diag.NotFound || e.Subject != what || e.Hint != kinds {
			t.Errorf("%q: %q, want %q", what, e.Hint, kinds)
		}
	}
	var few, many []thing
	for i := range 13 {
		many = append(many, thing{Kind: "part", names: []string{fmt.Sprintf("BUMPER-%02d", i)}})
	}
	few = many[:12]
	if h := known(few...).hint("BUMPER-0"); strings.Contains(h, "did you mean") {
		t.Errorf("of 12 names: %q", h)
	}
	if h := known(many...).hint("A/BUMPER-0"); !strings.HasPrefix(h, `did you mean "BUMPER-0`) {
		t.Errorf("of 13 names: %q", h)
	}
}

// A thing has each of its names once; without one it is none.
func TestNamesOfAThing(t *testing.T) {
	n := &Names{}
	n.add("part", nil, "", "a", "b", "a", "")
	n.add("part", nil, "")
	n.add("part", nil)
	if len(n.things) != 1 || strings.Join(n.things[0].names, " ") != "a b" {
		t.Errorf("%+v", n.things)
	}
}

// Lines are as wide as they may be and no wider, but for a word that is wider by itself.
func TestLaidOutInLines(t *testing.T) {
	c := Column{Width: 10}
	for _, x := range []struct{ text, first, rest, want string }{
		{"", "", "", "\n"}, {"aaaa bbbbb", "", "", "aaaa bbbbb\n"}, {"aaaa bbbbbb", "", "", "aaaa\nbbbbbb\n"}, {"a b", "", "", "a b\n"},
		{"aaaa bbbb cc", "- ", "  ", "- aaaa\n  bbbb cc\n"}, {"aaa bbbb", "- ", "  ", "- aaa bbbb\n"}, {"äöü äöü ßß", "", "", "äöü äöü ßß\n"}, {"aaaaaaaaaaaaaaa b", "└─ ", "   ", "└─ aaaaaaaaaaaaaaa\n   b\n"}, {"a aaaaaaaaaaaaaaa", "", "", "a\naaaaaaaaaaaaaaa\n"},
	} {
		if got := c.Wrap(x.text, x.first, x.rest); got != x.want {
			t.Errorf("%q: %q, want %q", x.text, got, x.want)
		}
	}
	tree := plainly("a", plainly("b", plainly("c"), plainly("d")), Reason{Said: diag.Said{Text: "e"}, Source: "p. 1", At: "x:2"})
	if got, want := tree.In(Column{Width: 80}), "a\n├─ b\n│  ├─ c\n│  └─ d\n└─ e [p. 1] (x:2)\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
