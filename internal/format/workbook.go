package format

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"sort"

	"github.com/xuri/excelize/v2"

	"fettle/internal/diag"
)

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
