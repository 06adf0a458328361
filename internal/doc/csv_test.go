package doc

import (
	"reflect"
	"strings"
	"testing"

	"fettle/internal/unit"
)

// cell is a row of a table with a field of every shape a cell can have.
type cell struct {
	ID    string              `doc:"id,required"`
	X     float64             `doc:"x_mm,required" help:"in millimetres"`
	Tol   unit.Maybe[float64] `doc:"tol_mm"`
	Price unit.Money          `doc:"price"`
	Ok    bool                `doc:"ok"`
	N     int                 `doc:"n"`
	Kind  colour              `doc:"kind" oneof:"red|green|blue"`
	Line  int                 `doc:"-"`
}

func TestDecodeCSV(t *testing.T) {
	table := "\uFEFFid, x_mm ,price,tol_mm,ok,kind\r\n" +
		"a,1.5,3 EUR,0,yes,red\r\n" +
		"\r\n" +
		"\"b, \"\"c\"\"\",-2,,,,\r\n" +
		"\"two\nlines\",0,,,no,\r\n" +
		"d,4,,,,blue"
	rows, lines, problems := DecodeCSV[cell]("t.csv", []byte(table))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	want := []cell{
		{ID: "a", X: 1.5, Price: unit.Money{Minor: 300, Currency: "EUR"}, Tol: unit.Some(0.0), Ok: true, Kind: "red"},
		{ID: `b, "c"`, X: -2},
		{ID: "two lines"},
		{ID: "d", X: 4, Kind: "blue"},
	}
	if !reflect.DeepEqual(rows, want) {
		t.Errorf("got  %+v\nwant %+v", rows, want)
	}
	if want := []int{2, 4, 5, 7}; !reflect.DeepEqual(lines, want) {
		t.Errorf("lines %v, want %v", lines, want)
	}
	again, _, problems := DecodeCSV[cell]("t.csv", EncodeCSV(rows))
	if len(problems) > 0 || !reflect.DeepEqual(again, rows) {
		t.Errorf("written and read again: %v %+v", problems, again)
	}
}

func TestTableLimits(t *testing.T) {
	for name, c := range map[string]struct{ table, want string }{
		"empty":       {"", "t.csv: the file is empty; its first line names the columns"},
		"header only": {"id,x_mm\n", ""},
		"rows":        {"id,x_mm\n" + strings.Repeat("a,1\n", MaxRows+1), "t.csv: the table has more than 20000 rows"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, problems := DecodeCSV[cell]("t.csv", []byte(c.table))
			if got := problems.Error(); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// TestFormHasEveryColumn: a table to be filled in has the columns that no row uses yet, and
// is read like any other.
func TestFormHasEveryColumn(t *testing.T) {
	type row struct {
		ID   string  `doc:"id,required"`
		Note string  `doc:"note"`
		Long unit.MM `doc:"long"`
	}
	got := string(EncodeForm([]row{{ID: "A"}}))
	if want := "id,note,long\nA,,\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	rows, _, problems := DecodeCSV[row]("f.csv", []byte(got))
	if len(problems) > 0 || len(rows) != 1 || rows[0] != (row{ID: "A"}) {
		t.Errorf("%v %v", rows, problems)
	}
}
