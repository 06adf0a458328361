package format

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"sort"
	"strings"

	"github.com/xuri/excelize/v2"

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

// XLSX writes the table as a workbook of one sheet, the head line fixed. The
// same table gives the same bytes.
func (s Sheet) XLSX() (out []byte, err error) {
	if err := s.check("write XLSX"); err != nil {
		return nil, err
	}
	f := excelize.NewFile()
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	const first = "Sheet1"
	if err := s.fill(f, first); err != nil {
		return nil, err
	}
	if err := f.SetSheetName(first, s.Name); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		return nil, err
	}
	return steadyZip(b.Bytes())
}

func (s Sheet) fill(f *excelize.File, sheet string) error {
	bold, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return err
	}
	money, err := f.NewStyle(&excelize.Style{NumFmt: 4}) // #,##0.00
	if err != nil {
		return err
	}
	for k, c := range s.Columns {
		name, err := excelize.ColumnNumberToName(k + 1)
		if err != nil {
			return err
		}
		if err := f.SetCellStr(sheet, name+"1", c.Name); err != nil {
			return err
		}
		if err := f.SetColWidth(sheet, name, name, float64(max(c.Width, 8))); err != nil {
			return err
		}
		for i, r := range s.Rows {
			cell := fmt.Sprintf("%s%d", name, i+2)
			set := f.SetCellStr
			if c.Number && r[k] != "" {
				set = f.SetCellDefault
			}
			if err := set(sheet, cell, diag.Plain(r[k])); err != nil {
				return err
			}
			if c.Money {
				if err := f.SetCellStyle(sheet, cell, cell, money); err != nil {
					return err
				}
			}
		}
	}
	if err := f.SetRowStyle(sheet, 1, 1, bold); err != nil {
		return err
	}
	return f.SetPanes(sheet, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
}

// steadyZip writes the members of a zip anew in the order of their names and
// without times.
func steadyZip(data []byte) ([]byte, error) {
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	files := append([]*zip.File(nil), r.File...)
	sort.Slice(files, func(i, j int) bool { return files[i].Name < files[j].Name })
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range files {
		if err := copyMember(w, f); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func copyMember(w *zip.Writer, f *zip.File) (err error) {
	in, err := f.Open()
	if err != nil {
		return err
	}
	defer func() {
		if e := in.Close(); err == nil {
			err = e
		}
	}()
	out, err := w.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Deflate})
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return err
}
