package format

import (
	"archive/zip"
	"bytes"
	"reflect"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"fettle/internal/doc"
)

// filled is an XLSX file with these cells on its first sheet.
func filled(t testing.TB, cells map[string]any) []byte {
	t.Helper()
	f := excelize.NewFile()
	for at, v := range cells {
		if err := f.SetCellValue("Sheet1", at, v); err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestWorkbookReads: the cells that another library wrote; 0.1+0.2 as the 0.3 that a spreadsheet
// shows (15 digits), a difference that comes to nothing as 0.
func TestWorkbookReads(t *testing.T) {
	a, b := 0.1, 0.2
	data := filled(t, map[string]any{"A2": "id", "B2": "x [mm]", "C2": "note", "A3": "A1", "B3": a + b, "A5": "A2", "B5": -1234.5, "C5": "12,5 E3", "A6": "12E3", "B6": 5.551115123125783e-17})
	g, p := ReadWorkbook("t.xlsx", data)
	want := [][]string{{"id", "x [mm]", "note"}, {"A1", "0.3", ""}, {"A2", "-1234.5", "12,5 E3"}, {"12E3", "0", ""}}
	if len(p) > 0 || !reflect.DeepEqual(g.Rows, want) || !reflect.DeepEqual(g.Lines, []int{2, 3, 5, 6}) {
		t.Errorf("%q %v %v", g.Rows, g.Lines, p)
	}
}

// TestWorkbookSaysTheMark: a number cell has a decimal point; where a number is typed as text, the file
// does not say how it is meant.
func TestWorkbookSaysTheMark(t *testing.T) {
	for want, cells := range map[doc.Mark]map[string]any{doc.Point: {"A1": "id", "B1": "x 2", "A2": "a", "B2": 1.234}, doc.NoMark: {"A1": "id", "B1": "x", "A2": "a", "B2": "1.234"}} {
		if g, p := ReadWorkbook("t", filled(t, cells)); len(p) > 0 || g.Mark != want || g.Rows[1][1] != "1.234" {
			t.Errorf("%q %q %v", g.Mark, g.Rows, p)
		}
	}
}

// sheetOf is a workbook with that XML as its only sheet, with the parts that ECMA-376 asks for.
func sheetOf(t testing.TB, rows string) []byte {
	t.Helper()
	return zipped(t, map[string]string{
		"xl/workbook.xml":            `<workbook xmlns:r="r"><sheets><sheet name="A" sheetId="1" r:id="rId1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="rId1" Type="x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="x/sharedStrings" Target="/xl/sharedStrings.xml"/></Relationships>`,
		"xl/sharedStrings.xml":       `<sst><si><t>id</t></si><si><r><t>a </t></r><r><t>b</t></r><rPh><t>no</t></rPh></si></sst>`,
		"xl/worksheets/sheet1.xml":   `<worksheet><sheetData>` + rows + `</sheetData></worksheet>`,
	})
}

// TestWorkbookForms: the forms in which a cell may stand (ECMA-376 part 1, 18.3.1.4 and 18.18.11, from memory).
func TestWorkbookForms(t *testing.T) {
	g, p := ReadWorkbook("t", sheetOf(t, `<row><c t="s"><v>0</v></c><c t="inlineStr"><is><r><t>x</t></r><r><t> [mm]</t></r></is></c><c t="s"><v>1</v></c></row>`+
		`<row r="3"><c r="A3" t="str"><f>"a"</f><v>A1</v></c><c r="B3"><f>1+1</f><v>2</v></c><c r="C3" t="b"><v>1</v></c></row><row r="4"><c r="B4" t="n"><v>1.0000000000000002E2</v></c><c/></row>`))
	want := [][]string{{"id", "x [mm]", "a b"}, {"A1", "2", "yes"}, {"", "100", ""}}
	if len(p) > 0 || !reflect.DeepEqual(g.Rows, want) {
		t.Errorf("%q %v", g.Rows, p)
	}
}

// TestWorkbookRefused: hostile and broken workbooks are refused, and take neither time nor memory.
func TestWorkbookRefused(t *testing.T) {
	wide := map[string]any{"A1": "id", "B2": "x", "IV2": "y"}
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"no zip":          {[]byte("PK\x03\x04 nothing"), "is no workbook that can be read"},
		"cut off":         {filled(t, wide)[:900], "is no workbook that can be read"},
		"another zip":     {zipped(t, map[string]string{"a.txt": "a"}), "it has no part xl/workbook.xml"},
		"no sheet":        {zipped(t, map[string]string{"xl/workbook.xml": "<workbook/>", "xl/_rels/workbook.xml.rels": "<r/>"}), "it has no sheet"},
		"many columns":    {filled(t, wide), "t.xlsx:2: is no workbook that can be read: the row has more than 200 columns"},
		"far row":         {sheetOf(t, `<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="A1048576"><v>1</v></c></row>`), "the sheet has more than 20000 rows"},
		"past the end":    {sheetOf(t, `<row r="99999999999999999999"/>`), "is no number of a row"},
		"before":          {sheetOf(t, `<row r="2"><c r="A2"><v>1</v></c></row><row r="1"><c r="A1"><v>1</v></c></row>`), "row 1 stands behind row 2"},
		"cell before":     {sheetOf(t, `<row r="1"><c r="B1"><v>1</v></c><c r="A1"><v>1</v></c></row>`), "t.xlsx:1: is no workbook that can be read: cell A1 stands behind a later one"},
		"cell twice":      {sheetOf(t, `<row r="1"><c r="A1"><v>1</v></c><c r="A1"><v>1</v></c></row>`), "cell A1 stands behind a later one"},
		"no such cell":    {sheetOf(t, `<row r="1"><c r="ZZZZ1"><v>1</v></c></row>`), `"ZZZZ1" is no cell of this row`},
		"of another row":  {sheetOf(t, `<row r="1"><c r="A2"><v>1</v></c></row>`), `"A2" is no cell of this row`},
		"no such text":    {sheetOf(t, `<row r="1"><c r="A1" t="s"><v>7</v></c></row>`), `there is no text "7"`},
		"an error":        {sheetOf(t, `<row r="1"><c r="A1" t="e"><v>#DIV/0!</v></c></row>`), "a cell holds the error #DIV/0!"},
		"no value":        {sheetOf(t, `<row r="1"><c r="A1"><f>1+1</f></c></row>`), "the formula in A1 has no value"},
		"odd kind":        {sheetOf(t, `<row r="1"><c r="A1" t="q"><v>1</v></c></row>`), "the cell A1 is of no known kind"},
		"broken XML":      {sheetOf(t, `<row r="1"><c r="A1"><v>1</v></c></row><row r="2"><c r="A2"`), "XML syntax error"},
		"outside":         {sheetOf(t, `<c r="A1"><v>1</v></c>`), "a cell stands outside a row"},
		"nothing":         {sheetOf(t, ``), "the first sheet is empty"},
		"hidden":          {filled(t, map[string]any{"A1": "id", "A2": "a\u202eb"}), "t.xlsx:2: is no workbook that can be read: cell 1 holds a character that is not shown"},
		"more than heads": {filled(t, map[string]any{"A1": "id", "A2": "a", "B2": "b"}), "t.xlsx:2: the row has 2 cells, the first line names 1 columns"},
		"bomb":            {sheetOf(t, strings.Repeat(" ", maxUnzipped)), "has more than 33554432 bytes"},
	} {
		g, p := ReadWorkbook("t.xlsx", c.data)
		if len(p) == 0 || !strings.Contains(p.Error(), c.want) {
			t.Errorf("%s: %v %v, want %s", name, p.Error(), len(g.Rows), c.want)
		}
	}
}

// zipped is a zip with these members.
func zipped(t testing.TB, members map[string]string) []byte {
	t.Helper()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for name, text := range members {
		m, err := w.Create(name)
		if err == nil {
			_, err = m.Write([]byte(text))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// FuzzReadWorkbook: nothing panics, and a table that is read is even.
func FuzzReadWorkbook(f *testing.F) {
	f.Add(filled(f, map[string]any{"A1": "id", "B1": "x", "A2": "a", "B2": 1.5}))
	f.Add(sheetOf(f, `<row r="1"><c r="A1" t="s"><v>7</v></c></row>`))
	f.Add(sheetOf(f, `<row><c t="inlineStr"><is><t>id</t></is></c></row><row r="5"><c r="B5"><f>1+1</f><v>2</v></c></row>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		g, p := ReadWorkbook("t", data)
		if len(p) > 0 {
			return
		}
		for _, r := range g.Rows {
			if len(r) != len(g.Rows[0]) {
				t.Fatalf("%q", g.Rows)
			}
		}
	})
}

// FuzzReadSheet: the same for what stands on a sheet.
func FuzzReadSheet(f *testing.F) {
	f.Add(`<row r="1"><c r="A1" t="s"><v>-7</v></c></row>`)
	f.Add(`<row r="2"><c r="B2" t="b"><v>1</v></c><c r="A2"><v>1</v></c></row><row r="1"><c r="A1" s="99"><v>1</v></c></row>`)
	f.Fuzz(func(t *testing.T, rows string) {
		g, p := ReadWorkbook("t", sheetOf(t, rows))
		if len(p) > 0 {
			return
		}
		for _, r := range g.Rows {
			if len(r) != len(g.Rows[0]) {
				t.Fatalf("%q", g.Rows)
			}
		}
	})
}
