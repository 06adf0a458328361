package doc

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// abc says that a line names the columns a and b.
func abc(names []string) bool { return slices.Contains(names, "a") && slices.Contains(names, "b") }

// TestGridOfAnySeparator: the same cells, however they are separated; the expected cells are those
// that were written.
func TestGridOfAnySeparator(t *testing.T) {
	want := [][]string{{"a", "b", "c"}, {"x", "1,5", ""}, {"y z", "2", "3"}}
	for name, text := range map[string]string{
		"tab":       "a\tb\tc\nx\t1,5\t\ny z\t2\t3\n",
		"semicolon": "a;b;c\r\nx;1,5;\r\ny z;2;3",
		"bar":       "a | b | c\nx | 1,5 |\n\ny z | 2 | 3\n",
		"comma":     "\uFEFFa,b,c\nx,\"1,5\",\ny z,2,3\n",
		"ends":      "a;b;c;;\nx;1,5;;;\ny z;2;3;\n",
	} {
		g, p := ReadGrid("t", []byte(text), abc)
		if len(p) > 0 || !reflect.DeepEqual(g.Rows, want) {
			t.Errorf("%s: %v %v", name, g.Rows, p)
		}
	}
	for name, text := range map[string]string{"wide": "a  b [mm]   c\nx y  1   2\n", "narrow": "a b [mm] c\nx_y 1 2\n"} {
		g, p := ReadGrid("t", []byte(text), func(n []string) bool { return len(n) == 3 && strings.HasPrefix(n[1], "b") && n[0] == "a" })
		if len(p) > 0 || len(g.Rows[1]) != 3 || g.Rows[1][2] != "2" {
			t.Errorf("%s: %v %v", name, g.Rows, p)
		}
	}
	g, _ := ReadGrid("t", []byte("\na;b\n\n1;2\n"), abc)
	if !slices.Equal(g.Lines, []int{2, 4}) {
		t.Errorf("lines %v", g.Lines)
	}
}

// TestGridFaults: each is told with its line and what would be right.
func TestGridFaults(t *testing.T) {
	for text, want := range map[string]string{
		"":                  "t: the table is empty; its first line names the columns",
		"\n \n":             "t: the table is empty",
		"x;y\n1;2\n":        "t:1: the first line does not name the columns",
		"a;b\n1;2\n1;2;3\n": "t:3: the row has 3 cells, the first line names 2 columns",
		"a;b\n1\n":          "t:2: the row has 1 cells, the first line names 2 columns",
		"a,b\n1,5,2\n":      "t:2: the row has 3 cells, the first line names 2 columns",
		"a;b\n\"1;2\n":      "t:2:6: a quote stands in the wrong place",
		"a;b\n1;\x1b[2J\n":  "t:2:3: the text holds a character that is not shown",
		"a;b\n\xff\xfe\n":   "t:2:1: the file is not UTF-8 text",
		"a;b\n" + strings.Repeat("1;2\n", MaxRows+1): "the table has more than 20000 rows",
	} {
		_, p := ReadGrid("t", []byte(text), abc)
		if len(p) == 0 || !strings.Contains(p.Error(), want) {
			t.Errorf("%.40q: %v, want %s", text, p.Error(), want)
		}
	}
}

// TestFaultsInAGrid: a cell is named by the head of its column and the line of its row, a row by its
// line.
func TestFaultsInAGrid(t *testing.T) {
	g := Grid{File: "t", Rows: [][]string{{"id", "x"}, {"A", "1"}, {"B", "2"}}, Lines: []int{2, 5, 9}}
	for want, p := range map[string]diag.Problem{
		"t:9: column x: odd; even": g.Problem(2, 1, "odd", "even"), "t:5: column id: odd": g.Problem(1, 0, "odd", ""), "t:2: odd": g.Problem(0, -1, "odd", ""),
	} {
		if got := p.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// TestNumerals: digits as they stand, and whether the mark can only be one of decimals. Thousands
// are set apart in threes, the first group of one to three digits without a zero in front
// (common practice, no source).
func TestNumerals(t *testing.T) {
	for text, want := range map[string]struct {
		times10 string
		sure    bool
		rest    string
	}{
		"12,5": {"125", true, ""}, "-12.5": {"-125", true, ""}, "−0,25 mm": {"-2.5", true, "mm"}, "+3": {"30", false, ""},
		"1.234": {"12.34", false, ""}, "0.234": {"2.34", true, ""}, "1234,567": {"12345.67", true, ""}, "-0": {"0", false, ""}, "007": {"70", false, ""},
		"95,50 EUR": {"955", true, "EUR"}, "0.1": {"1", true, ""},
	} {
		n, ok := ReadNumeral(text)
		if !ok || n.Times(10, 1) != want.times10 || n.Sure() != want.sure || n.Rest != want.rest {
			t.Errorf("%q: %+v %v, ten times %s", text, n, ok, n.Times(10, 1))
		}
	}
	for _, text := range []string{"", "x", "1.234,5", "1,234.5", "1 234", "1'234", ",5", "- 5", "1e3x5", strings.Repeat("9", 21)} {
		if n, ok := ReadNumeral(text); ok && n.Rest == "" {
			t.Errorf("%q reads as %+v", text, n)
		}
	}
	if n, _ := ReadNumeral("1.1"); n.Times(254, 10) != "27.94" { // 1.1 in = 27.94 mm exactly
		t.Error(n.Times(254, 10))
	}
}

// FuzzReadGrid: nothing panics, and every row is as long as the first.
func FuzzReadGrid(f *testing.F) {
	for _, s := range []string{"a;b\n1,5;2\n", "a b [mm] c\n1 2 3\n", "a,b\n\"x\n\ny\",2\n", "a|b|\n|\n", "a\tb\n1\t2\t3\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		g, p := ReadGrid("t", data, abc)
		if len(g.Rows) != len(g.Lines) {
			t.Fatalf("%d rows, %d lines", len(g.Rows), len(g.Lines))
		}
		if len(p) > 0 {
			return
		}
		for i, r := range g.Rows {
			if len(r) != len(g.Rows[0]) {
				t.Fatalf("row %d has %d cells of %d", i, len(r), len(g.Rows[0]))
			}
			for _, c := range r {
				if n, ok := ReadNumeral(c); ok && n.Rest == "" && n.Whole == "" {
					t.Fatalf("%q", c)
				}
			}
		}
	})
}
