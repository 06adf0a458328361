package broken

import (
	"encoding/csv"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Table is a kind of table: a line that names the columns, and a row below it for each of something.
type Table struct {
	Of     any // a row
	Sound  []Sound
	Decode func(files map[string][]byte) (read bool, err error)
	Kinds  map[reflect.Type]Kind // what texts of a type are
	Fields map[string]Kind       // what the text of a column is
	More   map[string][]string   // broken by what else the table says, in the first row that has the column
	Taken  map[string]string     // what is no fault, "column: what", and why
}

// cells is a table, and the first place in it of a column that is being walked.
type cells struct {
	Sound
	rows        [][]string
	row, column int
}

// Run plants into every column, and tells what was not refused as it has to be.
func (d Table) Run(t *testing.T) {
	var tables []cells
	for _, s := range d.Sound {
		rows, err := csv.NewReader(strings.NewReader(string(s.Files[s.File]))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		x := cells{Sound: s, rows: rows}
		if read, err := d.decode(x); err != nil || !read {
			t.Fatalf("%s is not sound:\n%v", s.File, err)
		}
		tables = append(tables, x)
	}
	used, tried := map[string]bool{}, 0
	for _, f := range fieldsIn(reflect.TypeOf(d.Of)) {
		x, ok := firstWith(tables, f.name)
		if !ok {
			t.Errorf("%s: no sound table has it", f.name)
			continue
		}
		tried += d.column(t, x, f, used)
	}
	for k := range d.Taken {
		if !used[k] {
			t.Errorf("%s is listed as no fault, and is refused or was not tried", k)
		}
	}
	t.Logf("%d broken cells", tried)
}

// firstWith is the first table that has something in a column.
func firstWith(tables []cells, name string) (cells, bool) {
	for _, x := range tables {
		x.column = slices.Index(x.rows[0], name)
		if x.column < 0 {
			continue
		}
		for x.row = 1; x.row < len(x.rows); x.row++ {
			if x.rows[x.row][x.column] != "" {
				return x, true
			}
		}
	}
	return cells{}, false
}

// column plants everything into one column; it returns how much of it was refused.
func (d Table) column(t *testing.T, x cells, f field, used map[string]bool) int {
	n := 0
	for _, v := range d.values(f) {
		key := f.name + ": " + v.why
		y := x.with(x.row, v.text)
		fault := d.fault(y, x.row+1)
		switch {
		case fault == "":
			n++
		case d.Taken[key] != "":
			used[key] = true
		default:
			t.Errorf("%s: %s", key, fault)
		}
	}
	if n < least {
		t.Errorf("%s: %d broken cells are refused, at least %d are needed", f.name, n, least)
	}
	if fault := d.fault(x.with(0, f.name+"x"), 1); fault != "" {
		t.Errorf("%s: misspelt: %s", f.name, fault)
	}
	return n
}

// values are broken texts of a cell.
func (d Table) values(f field) []value {
	kind := d.Fields[f.name]
	if kind == 0 {
		kind = d.Kinds[f.typ]
	}
	var out []value
	if f.required {
		out = append(out, value{"nothing", ""})
	}
	for _, text := range d.More[f.name] {
		out = append(out, value{text, text})
	}
	if t := bare(f.typ); t.Kind() == reflect.String && f.words == nil {
		out = append(out, hidden()...)
	}
	for _, v := range values(bare(f.typ), f.words, kind) {
		if text, err := strconv.Unquote(v.text); err == nil {
			v.text = text
		}
		if v.text == "" || strings.HasPrefix(v.text, " ") || slices.ContainsFunc(unseen(), func(o value) bool { return o.why == v.why }) {
			continue // what only documents have: blanks around a cell are none of it
		}
		out = append(out, v)
	}
	return out
}

// hidden are texts that hold what nobody sees.
func hidden() []value {
	return []value{{"turns the text", "a\u202eb"}, {"an escape", "a\u001bb"}, {"no width", "a\u200bb"}, {"no letter", "a\u0000b"}, {"a mark of order", "a\ufeffb"}}
}

// with is the table with another text in the column of a row.
func (x cells) with(row int, text string) cells {
	x.rows = slices.Clone(x.rows)
	x.rows[row] = slices.Clone(x.rows[row])
	x.rows[row][x.column] = text
	return x
}

// text is the table as it is written, a line for each row.
func (x cells) text() string {
	var b strings.Builder
	for _, r := range x.rows {
		for k, c := range r {
			if k > 0 {
				b.WriteByte(',')
			}
			b.WriteString(quoted(c))
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func quoted(cell string) string {
	if strings.ContainsAny(cell, ",\"") {
		return `"` + strings.ReplaceAll(cell, `"`, `""`) + `"`
	}
	return cell
}

// span is where the cell stands in its line, in letters from 1.
func (x cells) span(line int) (from, to int) {
	before := 0
	for _, c := range x.rows[line-1][:x.column] {
		before += len([]rune(quoted(c))) + 1
	}
	return before + 1, before + len([]rune(quoted(x.rows[line-1][x.column]))) + 1
}

func (d Table) decode(x cells) (read bool, err error) {
	defer func() {
		if p := recover(); p != nil {
			read, err = false, fmt.Errorf("panic: %v", p)
		}
	}()
	files := maps.Clone(x.Files)
	files[x.File] = []byte(x.text())
	return d.Decode(files)
}

// fault is what is wrong with how a cell that is broken on a line is refused.
func (d Table) fault(x cells, line int) string {
	read, err := d.decode(x)
	problems, why := refusal(read, err)
	if why != "" {
		return why
	}
	from, to := x.span(line)
	name, here := "column "+x.rows[0][x.column], false
	for _, p := range problems {
		if p.File != x.File || p.Line != line || p.Field != name && (p.Col < from || p.Col > to) {
			continue
		}
		if here = true; p.Msg != "" && p.Hint != "" {
			return ""
		}
	}
	if here {
		return "is refused without what would be right:\n" + problems.Error()
	}
	return "is refused elsewhere:\n" + problems.Error()
}
