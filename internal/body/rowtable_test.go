package body

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/unit"
)

// TestRowTableHasEveryField: a column for each fact that a condition may name and each field
// of a manner, so that no new one is left out of tables.
func TestRowTableHasEveryField(t *testing.T) {
	cells := (&rowLine{}).facts()
	for _, d := range FactDefs() {
		if cells[d.Name] == nil {
			t.Errorf("no column for the fact %s", d.Name)
		}
	}
	var m Manner
	v := reflect.ValueOf(&m).Elem()
	for i := range v.NumField() {
		switch f := v.Field(i); f.Kind() {
		case reflect.String:
			f.SetString("M-1")
		case reflect.Int:
			f.SetInt(3)
		default:
			f.SetFloat(2.5)
		}
	}
	var l rowLine
	l.setManner(m)
	if l.manner() != m {
		t.Errorf("a manner is not the same in a line: %+v", l.manner())
	}
}

// drawnRow is a row of drawn conditions, treatments and inspections.
func drawnRow(rng *rand.Rand, i int) Row {
	text := func(s ...string) string { return s[rng.IntN(len(s))] }
	r := Row{ID: fmt.Sprintf("R%d", i), Cite: text("p. 1, line 2", `rev. "D", p. 3`, "p. 4"), When: map[string]string{},
		Note: text("", "A note, with a comma."), Ask: text("", "Ask; it is theirs to say."), With: Manner{Thickness: unit.MM(rng.IntN(3)) / 2, Filler: MaterialID(text("", "M-F")), InZone: rng.IntN(3)}}
	conditions := map[string]string{FactKind: "crack or break", FactLength: "<= 21 mm", FactZones: "only RAIL-L, RAIL-R", FactInZone: "= 1", FactThrough: "no", FactCast: "< 2026-03-01", FactTemp: "< 8 C", FactOutboard: "any of L-1"}
	for _, name := range doc.Keys(conditions) {
		if rng.IntN(2) == 0 {
			r.When[name] = conditions[name]
		}
	}
	for _, k := range TreatmentKinds() {
		switch rng.IntN(4) {
		case 0:
			r.Allow = append(r.Allow, k)
		case 1:
			r.Forbid = append(r.Forbid, k)
		}
	}
	if len(r.Allow)+len(r.Forbid) == 0 {
		r.Allow = []TreatmentKind{Weld}
	}
	for _, a := range []After{{Method: ShowPenetrant, When: text("", "after dressing")}, {Method: ShowVisual, When: text("", "before closing"), What: text("", "seat free of cracks, clean")}, {Method: ShowDimensions}} {
		if rng.IntN(2) == 0 {
			r.After = append(r.After, a)
		}
	}
	return r
}

// TestRowsAreTheSameInATable: drawn rows become a table and rows again.
func TestRowsAreTheSameInATable(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 7))
	for range 200 {
		var p Procedure
		for i := range 1 + rng.IntN(6) {
			p.Rows = append(p.Rows, drawnRow(rng, i))
		}
		table, err := RowTable(p)
		if err != nil {
			t.Fatal(err)
		}
		rows, problems := ReadRowTable("rows.csv", table)
		if len(problems) > 0 || !reflect.DeepEqual(rows, p.Rows) {
			t.Fatalf("%v\n%+v\nare\n%+v\nof\n%s", problems, rows, p.Rows, table)
		}
	}
}

// TestRowsThatFitNoLine: what a line cannot hold is an error and not left out.
func TestRowsThatFitNoLine(t *testing.T) {
	for want, r := range map[string]Row{
		"there is no fact colour":              {When: map[string]string{"colour": "red"}},
		"two inspections of the method visual": {After: []After{{Method: ShowVisual}, {Method: ShowVisual, When: "later"}}},
		"no column for the method ultrasound":  {After: []After{{Method: "ultrasound"}}},
		"the point of the work is called yes":  {After: []After{{Method: ShowVisual, When: "yes"}}},
		"only of a visual inspection":          {After: []After{{Method: ShowPenetrant, What: "the weld"}}},
	} {
		if _, err := RowTable(Procedure{Rows: []Row{r}}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// TestBrokenRowTables: each fault is told with its line and column and what would be right.
func TestBrokenRowTables(t *testing.T) {
	for _, c := range []struct{ table, want string }{
		{"id,cite,lenght,allow\nR1,p. 1,<= 3 mm,weld\n", `rows.csv:1: column lenght: unknown column; did you mean "length"?`},
		{"cite,allow\np. 1,weld\n", "rows.csv:1: column id: this column is missing"},
		{"id,cite,length,allow\nR1,p. 1,<= 3,weld\n", "rows.csv:2: column length: the unit is missing after 3"},
		{"id,cite,length,allow\nR1,p. 1,<= 3 mm,wield\n", `rows.csv:2: column allow: "wield" is no treatment; did you mean "weld"?`},
		{"id,cite,length,forbid\nR1,p. 1,<= 3 mm,weld, dress\n", "rows.csv:2: the row has 5 cells, the header has 4; a cell with a comma in it needs quotes"},
		{"id,cite,length,allow\nR1,p. 1,<= 3 mm,\n", "rows.csv:2: the row says nothing; give allow, forbid or ask"},
		{"id,cite,length,allow\nR1,p. 1,<= 3 mm,weld\n\nR1,p. 2,,leave\n", `rows.csv:4: column id: row "R1" is there already, on line 2`},
		{"id,cite,allow,visual_what\nR1,p. 1,weld,the seat\n", "rows.csv:2: column visual_what: says what has to be seen, but no visual inspection is asked for"},
		{"id;cite;allow\nR1;p. 1;weld\n", "the cells are not separated by commas"},
	} {
		if _, problems := ReadRowTable("rows.csv", []byte(c.table)); !slices.ContainsFunc(problems, func(p diag.Problem) bool { return strings.Contains(p.String(), c.want) }) {
			t.Errorf("%q: %v, want %s", c.table, problems, c.want)
		}
	}
}

// FuzzReadRowTable: whatever is read as rows is the same in a table of them.
func FuzzReadRowTable(f *testing.F) {
	f.Add([]byte("id,cite,length,allow,visual_after\nR1,p. 1,<= 3 mm,\"weld, dress\",yes\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		rows, problems := ReadRowTable("rows.csv", data)
		if len(problems) > 0 {
			return
		}
		table, err := RowTable(Procedure{Rows: rows})
		if err != nil {
			t.Fatalf("%v of %+v", err, rows)
		}
		again, problems := ReadRowTable("rows.csv", table)
		if len(problems) > 0 || !reflect.DeepEqual(again, rows) {
			t.Fatalf("%v\n%+v\nare\n%+v", problems, again, rows)
		}
	})
}
