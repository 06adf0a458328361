package format

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"

	"fettle/internal/diag"
)

// Sheet is one table to be written for people and their programs. A cell of a
// column of numbers is a decimal number as text, so that it is written digit
// for digit.
type Sheet struct {
	Name    string
	Columns []Column
	Rows    [][]string
}

// Column is the head of a column.
type Column struct {
	Name   string // with its unit
	Number bool   // its cells are decimal numbers
	Money  bool   // a number shown with two decimals
	Width  int    // in characters
}

func (s Sheet) check(op string) error {
	for i, r := range s.Rows {
		if len(r) != len(s.Columns) {
			return &diag.Error{Kind: diag.Invalid, Op: op, Subject: fmt.Sprintf("row %d of %s", i+1, s.Name),
				Msg: fmt.Sprintf("has %d cells for %d columns", len(r), len(s.Columns))}
		}
	}
	return nil
}

// CSV writes the table as UTF-8 with commas and one head line. A text that a
// spreadsheet would take for a formula gets an apostrophe in front.
func (s Sheet) CSV() ([]byte, error) {
	if err := s.check("write CSV"); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	head := make([]string, len(s.Columns))
	for i, c := range s.Columns {
		head[i] = c.Name
	}
	rows := append([][]string{head}, s.Rows...)
	for i, r := range rows {
		cells := make([]string, len(r))
		for k, x := range r {
			x = diag.Plain(x)
			if i > 0 && !s.Columns[k].Number && strings.IndexAny(x, "=+-@\t\r") == 0 {
				x = "'" + x
			}
			cells[k] = x
		}
		if err := w.Write(cells); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}
