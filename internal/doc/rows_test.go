package doc

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/unit"
)

// Rows are added in the columns a table has, in their order, and every byte before them stays.
// Constructed.
func TestAppendRows(t *testing.T) {
	rows := []cell{{ID: "n, 1", X: 2.5, Tol: unit.Some(0.0), Kind: "red"}, {ID: "n2", Kind: "blue"}}
	for name, c := range map[string]struct{ before, want string }{
		"columns in another order": {"kind, x_mm ,tol_mm,id\nred,1,,a\n", "kind, x_mm ,tol_mm,id\nred,1,,a\nred,2.5,0,\"n, 1\"\nblue,0,,n2\n"},
		"column not used":          {"id,x_mm,tol_mm,ok,kind\n", "id,x_mm,tol_mm,ok,kind\n\"n, 1\",2.5,0,,red\nn2,0,,,blue\n"},
		"no line end":              {"id,x_mm,tol_mm,kind", "id,x_mm,tol_mm,kind\n\"n, 1\",2.5,0,red\nn2,0,,blue\n"},
		"windows line ends":        {"id,x_mm,tol_mm,kind\r\na,1,,", "id,x_mm,tol_mm,kind\r\na,1,,\r\n\"n, 1\",2.5,0,red\r\nn2,0,,blue\r\n"},
		"byte order mark":          {"\uFEFFid,x_mm,tol_mm,kind\n", "\uFEFFid,x_mm,tol_mm,kind\n\"n, 1\",2.5,0,red\nn2,0,,blue\n"},
		"empty":                    {" \n", "id,x_mm,tol_mm,kind\n\"n, 1\",2.5,0,red\nn2,0,,blue\n"},
	} {
		got, err := AppendRows("t.csv", []byte(c.before), rows)
		if err != nil || string(got) != c.want {
			t.Errorf("%s: %v, got\n%q\nwant\n%q", name, err, got, c.want)
		}
		if again, err := AppendRows("t.csv", []byte(c.before), rows[:0]); err != nil || string(again) != c.before {
			t.Errorf("%s: no row makes %q, %v", name, again, err)
		}
	}
	for _, c := range []struct {
		before string
		kind   diag.Kind
		want   string
	}{
		{"id,x_mm,kind\n", diag.Conflict, `t.csv: the table has no column "tol_mm", and a row to be added has 0 there; nothing was changed`},
		{"x_mm,tol_mm,kind\n", diag.Conflict, `t.csv: the table has no column "id", and a row to be added has n, 1 there; nothing was changed`},
		{"id,\"x_mm\n", diag.Invalid, "t.csv: its first line cannot be read: "},
	} {
		got, err := AppendRows("t.csv", []byte(c.before), rows)
		var e *diag.Error
		if got != nil || !errors.As(err, &e) || e.Kind != c.kind || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %q, %v, want %q", c.before, got, err, c.want)
		}
	}
}

// TestAddedRowsReadBackSeed31: whatever rows are added to whatever columns, in one go or one by
// one, they read back behind the rows that were there.
func TestAddedRowsReadBackSeed31(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 0))
	draw := func(n int) []cell {
		out := make([]cell, n)
		for i := range out {
			out[i] = cell{ID: awkward[rng.IntN(40)], X: float64(rng.IntN(2000)-1000) / 8, N: rng.IntN(3) - 1, Ok: rng.IntN(2) == 0, Kind: []colour{"red", "green", "blue"}[rng.IntN(3)]}
			if out[i].ID = strings.TrimSpace(out[i].ID); rng.IntN(2) == 0 {
				out[i].Price, out[i].Tol = unit.Money{Minor: unit.Minor(rng.IntN(9999)), Currency: "EUR"}, unit.Some(float64(rng.IntN(9))/4)
			}
		}
		return out
	}
	columns := []string{"id", "x_mm", "tol_mm", "price", "ok", "n", "kind"}
	for range 300 {
		rng.Shuffle(len(columns), func(i, j int) { columns[i], columns[j] = columns[j], columns[i] })
		end := []string{"\n", "\r\n"}[rng.IntN(2)]
		text, all := []byte(strings.Join(columns, ",")+end), []cell(nil)
		for range 1 + rng.IntN(3) {
			rows := draw(1 + rng.IntN(3))
			before := string(text)
			var err error
			if text, err = AppendRows("t.csv", text, rows); err != nil || !strings.HasPrefix(string(text), before) {
				t.Fatalf("%v: %q became %q", err, before, text)
			}
			all = append(all, rows...)
		}
		got, _, problems := DecodeCSV[cell]("t.csv", text)
		if len(problems) > 0 || !reflect.DeepEqual(got, all) {
			t.Fatalf("%v\n%q\ngot  %+v\nwant %+v", problems, text, got, all)
		}
	}
}

// A list with k entries, each on a line of its own: any of them is replaced, and everything else
// stays to the byte.
func TestReplaceItem(t *testing.T) {
	item := noted{ID: "N9", Text: "a, b"}
	const line = `{id: N9, text: "a, b"}`
	const text = "\uFEFFname: x # {\nother:\n  - {id: O}\nnotes: # of the day\n  # - {id: no}\n\n  - {id: N0}\r\n   \n- {id: N1, text: y}\n      - {id: N2}"
	for at, was := range []string{"- {id: N0}\r\n", "- {id: N1, text: y}\n", "- {id: N2}"} {
		want := strings.Replace(text, was, "- "+line+was[strings.Index(was, "}")+1:], 1)
		if got, err := ReplaceItem([]byte(text), "notes", at, item); err != nil || string(got) != want {
			t.Errorf("entry %d: %v, got\n%q\nwant\n%q", at, err, got, want)
		}
	}
	for _, odd := range []struct {
		text string
		at   int
	}{
		{text, 3}, {text, -1}, {"name: x\n", 0}, {"notes: [{id: N0}]\n", 0}, {"notes:\n", 0},
		{"notes:\n  - {id: N0} # c\n", 0}, {"notes:\n  - id: N0\n  - {id: N1}\n", 1}, {"notes:\n  - {id: N0}\nother:\n  - {id: O}\n", 1}, {"notes:\n  - {id: N0,\n     text: x}\n", 0},
	} {
		got, err := ReplaceItem([]byte(odd.text), "notes", odd.at, item)
		var e *diag.Error
		if got != nil || !errors.As(err, &e) || e.Kind != diag.Conflict || e.Subject != fmt.Sprintf("notes[%d]", odd.at) || !strings.Contains(e.Hint, line) {
			t.Errorf("entry %d of %q: %q, %#v", odd.at, odd.text, got, err)
		}
	}
}

// Every key of every map once, in order.
func TestKeys(t *testing.T) {
	if got := Keys(map[string]int{"b": 1, "a": 2}, nil, map[string]int{"c": 0, "a": 9}); !slices.Equal(got, []string{"a", "b", "c"}) {
		t.Errorf("got %q", got)
	}
	if got := Keys[int](); len(got) != 0 {
		t.Errorf("of nothing: %q", got)
	}
}

// What cannot be added to on its lines is refused with the record to be written by hand; lists
// in brackets are followed through quotes, escapes and brackets within them.
func TestAppendItemFollowsBrackets(t *testing.T) {
	item := noted{ID: "N9"}
	for before, want := range map[string]string{
		`notes: [{id: "a]\"]", text: 'b''] c'}]`:                  `notes: [{id: "a]\"]", text: 'b''] c'}, {id: N9}]`,
		"notes: [{id: it's}, {id: b'}]\nname: x":                  "notes: [{id: it's}, {id: b'}, {id: N9}]\nname: x",
		"notes: [{id: a, on: [x, [y]]}]\nname: x":                 "notes: [{id: a, on: [x, [y]]}, {id: N9}]\nname: x",
		"notes: [{id: a},]":                                       "notes: [{id: a},{id: N9}]",
		"notes: [{id: a#b}]":                                      "notes: [{id: a#b}, {id: N9}]",
		"notes: [{id: a},\n#c\n]":                                 "-",
		"notes: [{id: a}, # c ]\n]":                               "-",
		"notes: {id: a}":                                          "-",
		"notes: &x [{id: a}]":                                     "-",
		"\uFEFFnotes: [ ]\nname: x":                               "\uFEFFnotes: [{id: N9} ]\nname: x",
		"\uFEFFnotes:\n   # none\n\nname: x":                      "\uFEFFnotes:\n  - {id: N9}\n   # none\n\nname: x",
		"name: x\n  notes: no\nnotes2: []\n":                      "name: x\n  notes: no\nnotes2: []\nnotes:\n  - {id: N9}\n",
		"notes:\n      - {id: a}\n      - {id: b}\n- {id: c}":     "notes:\n      - {id: a}\n      - {id: b}\n- {id: c}\n      - {id: N9}\n",
		"  \r\n\t\uFEFF{\"notes\": []}":                           "-",
		"notes:\n  - {id: a}\n# between\nname: x\n  - {id: no}\n": "notes:\n  - {id: a}\n  - {id: N9}\n# between\nname: x\n  - {id: no}\n",
	} {
		got, err := AppendItem([]byte(before), "notes", item)
		var e *diag.Error
		switch {
		case want != "-" && (err != nil || string(got) != want):
			t.Errorf("%q: %v, got\n%q\nwant\n%q", before, err, got, want)
		case want == "-" && (!errors.As(err, &e) || e.Kind != diag.Conflict || e.Subject != "notes" || !strings.Contains(e.Hint, "{id: N9}")):
			t.Errorf("%q becomes %q, %v", before, got, err)
		}
	}
}
