package doc

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"

	"fettle/internal/diag"
)

// DecodeCSV reads a table with a header line into rows of the struct T, whose
// fields are single scalars. It returns for each row the line it begins on. An
// empty cell is a value not given. The rows are to be used only when there is
// no problem.
func DecodeCSV[T any](file string, data []byte) (rows []T, lines []int, problems diag.Problems) {
	t := &table{file: file, fields: shapes{}.of(reflect.TypeFor[T]())}
	text, fault := plainText(file, data)
	if fault != nil {
		return nil, nil, diag.Problems{*fault}
	}
	in := csv.NewReader(strings.NewReader(text))
	in.FieldsPerRecord = -1
	header, err := in.Read()
	if err != nil {
		return nil, nil, diag.Problems{t.readFault(err)}
	}
	if !t.readHeader(header) {
		return nil, nil, t.problems
	}
	for {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.problems = append(t.problems, t.readFault(err))
			continue
		}
		if len(rows) >= MaxRows {
			t.fault(0, "", fmt.Sprintf("the table has more than %d rows", MaxRows), "")
			break
		}
		var row T
		line, _ := in.FieldPos(0)
		for i := range cells {
			cells[i] = oneParagraph(cells[i])
		}
		t.readRow(line, cells, reflect.ValueOf(&row).Elem())
		t.refuseHidden(in, cells)
		rows, lines = append(rows, row), append(lines, line)
	}
	t.problems.Sort()
	return rows, lines, t.problems
}

// table reads one CSV file.
type table struct {
	file     string
	fields   []field
	columns  []int // for each column of the file, its index in fields
	problems diag.Problems
}

func (t *table) fault(line int, column, msg, hint string) {
	if column != "" {
		column = "column " + column
	}
	t.problems = append(t.problems, diag.Problem{File: t.file, Line: line, Field: column, Msg: msg, Hint: hint})
}

func (t *table) readFault(err error) diag.Problem {
	p := diag.Problem{File: t.file, Msg: "the file is empty", Hint: "its first line names the columns"}
	var e *csv.ParseError
	if errors.As(err, &e) {
		p.Line, p.Msg = e.StartLine, "a quote stands in the wrong place"
		if e.Line == e.StartLine {
			p.Col = e.Column
		}
		p.Hint = `put the whole cell in quotes, and write "" for a quote inside it`
	}
	return p
}

// readHeader matches the columns; false when the rows cannot be read.
func (t *table) readHeader(header []string) bool {
	if len(header) == 1 && strings.ContainsAny(header[0], ";\t") {
		t.fault(1, "", "the cells are not separated by commas", "save the table with commas")
		return false
	}
	var misspelt []string // columns that are there under a wrong name, so not missing
	for i, name := range header {
		name = strings.TrimSpace(name)
		header[i] = name
		at := slices.IndexFunc(t.fields, func(f field) bool { return f.name == name })
		switch {
		case name == "":
			t.fault(1, "", fmt.Sprintf("column %d has no name", i+1), "name it, or take it out")
		case slices.Contains(header[:i], name):
			t.fault(1, name, "this column is there twice", "keep one of them")
		case at < 0:
			t.fault(1, name, "unknown column", DidYouMean(name, names(t.fields)))
			meant, _ := Nearest(name, names(t.fields))
			misspelt = append(misspelt, meant)
		}
		t.columns = append(t.columns, at)
	}
	for _, f := range t.fields {
		if f.required && !slices.Contains(header, f.name) && !slices.Contains(misspelt, f.name) {
			t.fault(1, f.name, "this column is missing", cmp.Or(f.help, "add it to the first line, and a cell to every row"))
		}
	}
	return len(t.problems) == 0
}

// refuseHidden notes every cell that holds what nobody sees: a cell may hold
// tabs.
func (t *table) refuseHidden(in *csv.Reader, cells []string) {
	for i, cell := range cells {
		if c, found := hiddenIn(strings.TrimSpace(cell)); found {
			p := hiddenFault(c)
			p.File = t.file
			p.Line, p.Col = in.FieldPos(i)
			if i < len(t.columns) && t.columns[i] >= 0 {
				p.Field = "column " + t.fields[t.columns[i]].name
			}
			t.problems = append(t.problems, p)
		}
	}
}

func (t *table) readRow(line int, cells []string, row reflect.Value) {
	blank := func(c string) bool { return strings.TrimSpace(c) == "" }
	if !slices.ContainsFunc(cells, func(c string) bool { return !blank(c) }) {
		t.fault(line, "", "the row is empty", "take it out")
		return
	}
	if len(cells) != len(t.columns) {
		t.fault(line, "", fmt.Sprintf("the row has %d cells, the header has %d", len(cells), len(t.columns)),
			"a cell with a comma in it needs quotes")
		return
	}
	for i, cell := range cells {
		t.readCell(line, strings.TrimSpace(cell), t.fields[t.columns[i]], row)
	}
}

func (t *table) readCell(line int, cell string, f field, row reflect.Value) {
	if cell == "" {
		if f.required {
			t.fault(line, f.name, "no value is given", cmp.Or(f.help, "write a value"))
		}
		return
	}
	v := row.Field(f.index)
	s := shapeOf(v.Type())
	if s == maybeShape {
		v.Field(1).SetBool(true)
		v = v.Field(0)
		s = shapeOf(v.Type())
	}
	if msg, hint := setScalar(v, s, cell, f.words); msg != "" {
		t.fault(line, f.name, msg, hint)
	}
}

// EncodeCSV writes rows as a table that DecodeCSV reads back to the same rows.
// Columns that no row uses are left out unless they are required.
func EncodeCSV[T any](rows []T) []byte {
	return encodeTable(rows, slices.DeleteFunc(shapes{}.of(reflect.TypeFor[T]()), func(f field) bool {
		return !f.required && !slices.ContainsFunc(rows, func(r T) bool { return given(reflect.ValueOf(r).Field(f.index)) })
	}))
}

// EncodeForm writes rows as a table with every column, also those that are to be filled in.
func EncodeForm[T any](rows []T) []byte { return encodeTable(rows, shapes{}.of(reflect.TypeFor[T]())) }

func encodeTable[T any](rows []T, fields []field) []byte {
	var b strings.Builder
	w := csv.NewWriter(&b)
	records := [][]string{names(fields)}
	for _, row := range rows {
		cells := make([]string, len(fields))
		for i, f := range fields {
			if v := reflect.ValueOf(row).Field(f.index); f.required || given(v) {
				cells[i] = scalarText(v)
			}
		}
		records = append(records, cells)
	}
	if err := w.WriteAll(records); err != nil {
		panic(err) // a strings.Builder never fails
	}
	return []byte(b.String())
}

// AppendRows adds rows to the end of a table that a person keeps, in the columns that it has,
// and leaves every other byte as it is. A table that is empty is begun. What has no column in
// it cannot be added.
func AppendRows[T any](file string, data []byte, rows []T) ([]byte, error) {
	if len(rows) == 0 {
		return data, nil
	}
	if len(strings.TrimSpace(string(data))) == 0 {
		return EncodeCSV(rows), nil
	}
	text := string(data)
	end := "\n"
	if strings.Contains(text, "\r\n") {
		end = "\r\n"
	}
	header, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(text, "\uFEFF"))).Read()
	if err != nil {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "add to", Subject: file, Msg: "its first line cannot be read: " + err.Error()}
	}
	var out strings.Builder
	w := csv.NewWriter(&out)
	w.UseCRLF = end == "\r\n"
	for _, row := range rows {
		cells := make([]string, len(header))
		for _, f := range (shapes{}).of(reflect.TypeFor[T]()) {
			v := reflect.ValueOf(row).Field(f.index)
			k := slices.IndexFunc(header, func(name string) bool { return strings.TrimSpace(name) == f.name })
			switch {
			case k >= 0 && (f.required || given(v)):
				cells[k] = scalarText(v)
			case k < 0 && given(v):
				return nil, &diag.Error{Kind: diag.Conflict, Op: "add to", Subject: file, Msg: fmt.Sprintf("the table has no column %q, and a row to be added has %s there; nothing was changed", f.name, scalarText(v)), Hint: "add the column to its first line, and a cell to every row"}
			}
		}
		if err := w.Write(cells); err != nil {
			return nil, err
		}
	}
	w.Flush()
	if !strings.HasSuffix(text, "\n") {
		text += end
	}
	return []byte(text + out.String()), w.Error()
}

// ColumnNames is the columns that a table of T may have, in their order.
func ColumnNames[T any]() []string { return names(shapes{}.of(reflect.TypeFor[T]())) }
