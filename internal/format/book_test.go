package format

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"io"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// workbook is the parts of a workbook as ECMA-376 names them (part 1, section 18; from memory),
// read with nothing but the standard library.
type workbook struct {
	Book struct {
		Sheets []struct {
			Name string `xml:"name,attr"`
		} `xml:"sheets>sheet"`
	}
	Sheet struct {
		Panes []struct {
			YSplit  string `xml:"ySplit,attr"`
			XSplit  string `xml:"xSplit,attr"`
			TopLeft string `xml:"topLeftCell,attr"`
			Active  string `xml:"activePane,attr"`
			State   string `xml:"state,attr"`
		} `xml:"sheetViews>sheetView>pane"`
		Cols []struct {
			Min   int     `xml:"min,attr"`
			Max   int     `xml:"max,attr"`
			Width float64 `xml:"width,attr"`
		} `xml:"cols>col"`
		Rows []struct {
			R     int `xml:"r,attr"`
			S     int `xml:"s,attr"`
			Cells []struct {
				R  string `xml:"r,attr"`
				T  string `xml:"t,attr"`
				S  int    `xml:"s,attr"`
				V  string `xml:"v"`
				F  string `xml:"f"`
				Is string `xml:"is>t"`
			} `xml:"c"`
		} `xml:"sheetData>row"`
	}
	Strings struct {
		SI []struct {
			T string `xml:"t"`
		} `xml:"si"`
	}
	Styles struct {
		Fonts []struct {
			B *struct {
				Val string `xml:"val,attr"`
			} `xml:"b"`
		} `xml:"fonts>font"`
		Xfs []struct {
			NumFmt int `xml:"numFmtId,attr"`
			Font   int `xml:"fontId,attr"`
		} `xml:"cellXfs>xf"`
	}
}

func opened(t *testing.T, data []byte) (w workbook) {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	for name, to := range map[string]any{"xl/workbook.xml": &w.Book, "xl/worksheets/sheet1.xml": &w.Sheet, "xl/sharedStrings.xml": &w.Strings, "xl/styles.xml": &w.Styles} {
		f, err := r.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		if err := xml.Unmarshal(text, to); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
	return w
}

// What a workbook holds is what the table holds: numbers digit for digit as numbers, everything
// else as text, nothing as a formula; money with two decimals, heads in bold and fixed, columns
// as wide as they ask for, and no narrower than eight letters.
func TestWorkbookHoldsTheTable(t *testing.T) {
	s := Sheet{Name: "Order of today", Columns: []Column{{Name: "name", Width: 20}, {Name: "count", Number: true}, {Name: "sum [EUR]", Number: true, Money: true, Width: 9}, {Name: "no", Width: 8}}}
	s.Rows = [][]string{{"Adhesive, <grey>", "3", "1035.20", "007"}, {"=1+1", "", "", "1e3"}, {"a\x1b[31mb", "-0.50", "0.10", "  spaced "}, {"", "12345678901234567890", "-7", "TRUE"}}
	data, err := s.XLSX()
	if err != nil {
		t.Fatal(err)
	}
	w := opened(t, data)
	if len(w.Book.Sheets) != 1 || w.Book.Sheets[0].Name != s.Name {
		t.Errorf("sheets %+v", w.Book.Sheets)
	}
	if p := w.Sheet.Panes; len(p) != 1 || p[0].YSplit != "1" || p[0].XSplit != "" || p[0].TopLeft != "A2" || p[0].Active != "bottomLeft" || p[0].State != "frozen" {
		t.Errorf("panes %+v", p)
	}
	widths := map[int]float64{}
	for _, c := range w.Sheet.Cols {
		for k := c.Min; k <= c.Max; k++ {
			widths[k] = c.Width
		}
	}
	if len(widths) != 4 || widths[1] != 20 || widths[2] != 8 || widths[3] != 9 || widths[4] != 8 {
		t.Errorf("widths %v", widths)
	}
	if len(w.Sheet.Rows) != 5 {
		t.Fatalf("%d rows", len(w.Sheet.Rows))
	}
	for i, row := range w.Sheet.Rows {
		got := map[string]int{}
		for k, c := range row.Cells {
			got[c.R] = k
		}
		for k, column := range s.Columns {
			name := string(rune('A'+k)) + strconv.Itoa(i+1)
			at, there := got[name]
			if !there {
				if i == 0 || s.Rows[i-1][k] != "" {
					t.Errorf("%s is not there", name)
				}
				continue
			}
			c := row.Cells[at]
			text, number := c.V+c.Is, c.T == "" || c.T == "n"
			if c.T == "s" {
				n, err := strconv.Atoi(c.V)
				if err != nil {
					t.Fatal(err)
				}
				text = w.Strings.SI[n].T
			}
			want := column.Name
			if i > 0 {
				want = diag.Plain(s.Rows[i-1][k])
			}
			if text != want || c.F != "" || number != (i > 0 && column.Number && want != "" || want == "" && c.T == "") {
				t.Errorf("%s is %q of type %q with formula %q, want %q", name, text, c.T, c.F, want)
			}
			style := w.Styles.Xfs[max(c.S, 0)]
			if money := i > 0 && column.Money; money != (style.NumFmt == 4) {
				t.Errorf("%s has number format %d", name, style.NumFmt)
			}
		}
	}
	if head := w.Styles.Xfs[w.Sheet.Rows[0].S]; w.Sheet.Rows[0].R != 1 || w.Styles.Fonts[head.Font].B == nil {
		t.Errorf("the head is not bold: %+v", w.Styles.Fonts)
	}
	if row := w.Sheet.Rows[1]; w.Styles.Fonts[w.Styles.Xfs[row.S].Font].B != nil {
		t.Error("the first row is bold")
	}
	if again, err := s.XLSX(); err != nil || !bytes.Equal(again, data) {
		t.Errorf("other bytes the second time: %v", err)
	}
}

// What no workbook can be is refused: a row of another length, with its number; a name that no
// sheet may have.
func TestWorkbookRefuses(t *testing.T) {
	short := sample()
	short.Rows[1] = append(short.Rows[1], "more")
	if out, err := short.XLSX(); out != nil || err == nil || !strings.Contains(err.Error(), "row 2 of Order: has 3 cells for 2 columns") {
		t.Errorf("a long row: %v", err)
	}
	if out, err := short.CSV(); out != nil || err == nil || !strings.Contains(err.Error(), "row 2 of Order: has 3 cells for 2 columns") {
		t.Errorf("a long row: %v", err)
	}
	for _, name := range []string{"", "a/b", strings.Repeat("n", 32)} {
		s := sample()
		s.Name = name
		if out, err := s.XLSX(); out != nil || err == nil {
			t.Errorf("a sheet %q: %v", name, err)
		}
	}
	wide := sample()
	wide.Columns[1].Width = 256 // of 255 letters at most
	if out, err := wide.XLSX(); out != nil || err == nil {
		t.Errorf("too wide: %v", err)
	}
	if _, err := steadyZip([]byte("no zip")); err == nil {
		t.Error("what is no zip is written anew")
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	f, err := w.Create("a.xml")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(f, strings.Repeat("text of a member ", 9)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	spoilt := b.Bytes()
	spoilt[34+8] ^= 0xff
	if out, err := steadyZip(spoilt); err == nil {
		t.Errorf("a spoilt member is written anew as %d bytes", len(out))
	}
}

// Every sign a spreadsheet takes for the beginning of a formula gets an apostrophe in front, in
// columns of text below the head, and nothing else does. A reader of CSV gets every cell back.
func TestCSVKeepsEveryCell(t *testing.T) {
	s := Sheet{Name: "S", Columns: []Column{{Name: "=head"}, {Name: "-n", Number: true}}}
	for _, x := range []string{"=1", "+1", "-1", "@x", "a=1", "", "'=1", "two\nlines", `"q", r`, " =1", "1-1"} {
		s.Rows = append(s.Rows, []string{x, "-1"})
	}
	data, err := s.CSV()
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil || len(rows) != len(s.Rows)+1 || rows[0][0] != "=head" || rows[0][1] != "-n" {
		t.Fatalf("%v %q", err, rows)
	}
	for i, r := range s.Rows {
		want := diag.Plain(r[0])
		if i < 4 {
			want = "'" + want
		}
		if rows[i+1][0] != want || rows[i+1][1] != "-1" {
			t.Errorf("%q is written as %q", r, rows[i+1])
		}
	}
}
