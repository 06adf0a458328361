package format

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
)

// Limits of a workbook that is read: they protect the machine.
const (
	maxUnzipped = 32 << 20 // bytes of a part
	maxColumns  = 200
)

// IsWorkbook says that a file begins like a zip, as an XLSX file does.
func IsWorkbook(data []byte) bool { return bytes.HasPrefix(data, []byte("PK\x03\x04")) }

// ReadWorkbook reads the first sheet of an XLSX file (ECMA-376, from memory) as a table, whose first
// row that is not empty names the columns. A number reads with the 15 digits that a spreadsheet
// keeps, and a decimal point; a formula as what it came to when the file was saved. What stands
// in it otherwise than a spreadsheet writes it is refused, and never passed over.
func ReadWorkbook(file string, data []byte) (doc.Grid, diag.Problems) {
	w := workReader{grid: doc.Grid{File: file}}
	if err := w.open(data); err != nil {
		return doc.Grid{}, diag.Problems{{File: file, Line: w.line, Msg: "is no workbook that can be read: " + err.Error(), Hint: "save it as XLSX, without a password, or as CSV"}}
	}
	if len(w.grid.Rows) == 0 {
		return doc.Grid{}, diag.Problems{{File: file, Msg: "the first sheet is empty", Hint: "its first row names the columns"}}
	}
	if !w.typed {
		w.grid.Mark = doc.Point // every number is one for the spreadsheet too
	}
	return w.grid, w.grid.Even()
}

// text is a cell that is a text for the spreadsheet.
func (w *workReader) text(s string) string {
	if n, ok := doc.ReadNumeral(s); ok && n.Mark != doc.NoMark {
		w.typed = true
	}
	return s
}

// workReader reads one workbook.
type workReader struct {
	zip    *zip.Reader
	shared []string
	grid   doc.Grid
	line   int  // that is being read
	typed  bool // a text holds a number with a mark: how it is meant, the file does not say
}

func (w *workReader) open(data []byte) (err error) {
	if w.zip, err = zip.NewReader(bytes.NewReader(data), int64(len(data))); err != nil {
		return err
	}
	sheet, shared, err := w.parts()
	if err != nil {
		return err
	}
	if shared != "" {
		if err := w.strings(shared); err != nil {
			return err
		}
	}
	return w.sheet(sheet)
}

// tokens reads a part of the file from its first token to its last.
func (w *workReader) tokens(name string, do func(*xml.Decoder, xml.StartElement) error) error {
	i := slices.IndexFunc(w.zip.File, func(f *zip.File) bool { return f.Name == name })
	if i < 0 {
		return fmt.Errorf("it has no part %s", name)
	}
	in, err := w.zip.File[i].Open()
	if err != nil {
		return err
	}
	defer in.Close() // it was only read from
	limited := &io.LimitedReader{R: in, N: maxUnzipped}
	d := xml.NewDecoder(limited)
	for {
		t, err := d.Token()
		switch {
		case limited.N == 0:
			return fmt.Errorf("its part %s has more than %d bytes", name, maxUnzipped)
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		}
		if e, ok := t.(xml.StartElement); ok {
			if err := do(d, e); err != nil {
				return err
			}
		}
	}
}

// Names in a workbook.
const (
	bookPart, relsPart = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"

	sharedRelation = "/sharedStrings" // ends the type of the relation to the texts
	theSheet       = "sheet"
	theRelation    = "Relationship"
	theRow         = "row"
	theCell        = "c"
	theText        = "t"
	thePhonetic    = "rPh"
	theString      = "si"
)

// attr is an attribute of an element; empty when it has none.
func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// parts are the names of the parts that hold the first sheet and the texts.
func (w *workReader) parts() (sheet, shared string, err error) {
	first := ""
	err = w.tokens(bookPart, func(_ *xml.Decoder, e xml.StartElement) error {
		if is(e.Name, theSheet) && first == "" {
			first = attr(e, "id")
		}
		return nil
	})
	if err != nil {
		return "", "", err
	}
	err = w.tokens(relsPart, func(_ *xml.Decoder, e xml.StartElement) error {
		if !is(e.Name, theRelation) {
			return nil
		}
		target := attr(e, "Target")
		if !strings.HasPrefix(target, "/") {
			target = path.Join("/xl", target)
		}
		target = strings.TrimPrefix(path.Clean(target), "/")
		if first != "" && attr(e, "Id") == first {
			sheet = target
		}
		if strings.HasSuffix(attr(e, "Type"), sharedRelation) {
			shared = target
		}
		return nil
	})
	if err == nil && sheet == "" {
		err = errors.New("it has no sheet")
	}
	return sheet, shared, err
}

func is(n xml.Name, names ...string) bool { return slices.Contains(names, n.Local) }

// strings reads the texts that cells refer to by number.
func (w *workReader) strings(part string) error {
	return w.tokens(part, func(d *xml.Decoder, e xml.StartElement) error {
		if !is(e.Name, theString) {
			return nil
		}
		text, err := textWithin(d)
		w.shared = append(w.shared, text)
		return err
	})
}

// textWithin is the text of the element that was begun; how it is spoken is left out.
func textWithin(d *xml.Decoder) (string, error) {
	var b strings.Builder
	for depth, in := 1, 0; depth > 0; {
		t, err := d.Token()
		if err != nil {
			return "", err
		}
		switch t := t.(type) {
		case xml.StartElement:
			if is(t.Name, thePhonetic) {
				if err := d.Skip(); err != nil {
					return "", err
				}
				continue
			}
			if depth++; is(t.Name, theText) {
				in++
			}
		case xml.EndElement:
			if depth--; is(t.Name, theText) {
				in--
			}
		case xml.CharData:
			if in > 0 {
				b.Write(t)
			}
		}
	}
	return b.String(), nil
}

// sheet reads the rows of a sheet.
func (w *workReader) sheet(part string) error {
	var cells []string
	add := func() error {
		err := w.add(cells)
		cells = nil
		return err
	}
	err := w.tokens(part, func(d *xml.Decoder, e xml.StartElement) error {
		switch {
		case is(e.Name, theRow):
			if err := add(); err != nil {
				return err
			}
			return w.nextRow(attr(e, "r"))
		case is(e.Name, theCell) && w.line == 0:
			return errors.New("a cell stands outside a row")
		case is(e.Name, theCell):
			column, err := w.column(attr(e, "r"), len(cells))
			if err != nil {
				return err
			}
			text, err := w.cell(d, e)
			for len(cells) < column {
				cells = append(cells, "")
			}
			cells = append(cells, text)
			return err
		}
		return nil
	})
	if err != nil {
		return err
	}
	return add()
}

// nextRow goes on to a row; one without a number follows the last.
func (w *workReader) nextRow(number string) error {
	line := w.line + 1
	if number != "" {
		var err error
		if line, err = strconv.Atoi(number); err != nil {
			return fmt.Errorf("%q is no number of a row", number)
		}
	}
	switch {
	case line <= w.line:
		return fmt.Errorf("row %d stands behind row %d", line, w.line)
	case line > doc.MaxRows+1:
		return fmt.Errorf("the sheet has more than %d rows", doc.MaxRows)
	}
	w.line = line
	return nil
}

var cellName = regexp.MustCompile(`^([A-Z]{1,3})([0-9]{1,7})$`)

// column is the column of a cell from 0 on; one without a name follows the last.
func (w *workReader) column(name string, next int) (int, error) {
	if name != "" {
		m := cellName.FindStringSubmatch(name)
		if m == nil || m[2] != strconv.Itoa(w.line) {
			return 0, fmt.Errorf("%q is no cell of this row", name)
		}
		column := 0
		for _, letter := range m[1] {
			column = column*26 + int(letter-'A') + 1
		}
		if column-1 < next {
			return 0, fmt.Errorf("cell %s stands behind a later one", name)
		}
		next = column - 1
	}
	if next >= maxColumns {
		return 0, fmt.Errorf("the row has more than %d columns", maxColumns)
	}
	return next, nil
}

// cellXML is what a cell holds.
type cellXML struct {
	Value   *string    `xml:"v"`
	Formula *struct{}  `xml:"f"`
	Inline  *inlineXML `xml:"is"`
}

// inlineXML is a text that stands in the cell itself.
type inlineXML struct{ text string }

func (i *inlineXML) UnmarshalXML(d *xml.Decoder, _ xml.StartElement) (err error) {
	i.text, err = textWithin(d)
	return err
}

// kinds of cells: how the value of one is to be taken.
var cellKinds = map[string]func(w *workReader, value string) (string, error){
	"":  func(_ *workReader, v string) (string, error) { return spreadsheetNumber(v), nil },
	"n": func(_ *workReader, v string) (string, error) { return spreadsheetNumber(v), nil },
	"s": func(w *workReader, v string) (string, error) {
		i, err := strconv.Atoi(v)
		if err != nil || i < 0 || i >= len(w.shared) {
			return "", fmt.Errorf("there is no text %q", v)
		}
		return w.text(w.shared[i]), nil
	},
	"str": func(w *workReader, v string) (string, error) { return w.text(v), nil },
	"d":   func(w *workReader, v string) (string, error) { return w.text(v), nil },
	"b":   func(_ *workReader, v string) (string, error) { return map[string]string{"0": "no", "1": "yes"}[v], nil },
	"e":   func(_ *workReader, v string) (string, error) { return "", fmt.Errorf("a cell holds the error %s", v) },
}

func (w *workReader) cell(d *xml.Decoder, e xml.StartElement) (string, error) {
	var c cellXML
	if err := d.DecodeElement(&c, &e); err != nil {
		return "", err
	}
	take := cellKinds[attr(e, "t")]
	switch {
	case c.Inline != nil:
		return w.text(c.Inline.text), nil
	case c.Value == nil && c.Formula != nil:
		return "", fmt.Errorf("the formula in %s has no value: open the file in a spreadsheet and save it", attr(e, "r"))
	case c.Value == nil:
		return "", nil
	case take == nil:
		return "", fmt.Errorf("the cell %s is of no known kind", attr(e, "r"))
	}
	return take(w, *c.Value)
}

// add adds a row that is not empty, filled up to the columns that are named.
func (w *workReader) add(cells []string) error {
	some := false
	for i, c := range cells {
		c = strings.Join(strings.Fields(c), " ") // a text over several lines is one paragraph
		if at := strings.IndexFunc(c, diag.Hidden); at >= 0 {
			return fmt.Errorf("cell %d holds a character that is not shown", i+1)
		}
		cells[i], some = c, some || c != ""
	}
	if !some {
		return nil
	}
	if len(w.grid.Rows) == 0 {
		for cells[len(cells)-1] == "" {
			cells = cells[:len(cells)-1]
		}
	} else {
		for len(cells) < len(w.grid.Rows[0]) {
			cells = append(cells, "")
		}
	}
	w.grid.Rows, w.grid.Lines = append(w.grid.Rows, cells), append(w.grid.Lines, w.line)
	return nil
}

// longNumber is a number with more digits than a spreadsheet keeps.
var longNumber = regexp.MustCompile(`^-?[0-9]+\.[0-9]+(?:E[-+]?[0-9]{1,3})?$`)

// spreadsheetNumber is a number as a spreadsheet shows it: the file holds the nearest binary
// number in 17 digits, and where a sum comes to nothing, what is left of it. Whatever else
// stands in a cell is as it is.
func spreadsheetNumber(cell string) string {
	if len(cell) < 17 || !longNumber.MatchString(cell) {
		return cell
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil || v > 1e15 || v < -1e15 {
		return cell
	}
	if v < 1e-9 && v > -1e-9 {
		return "0"
	}
	short, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 15, 64), 64)
	if err != nil {
		return cell
	}
	return strconv.FormatFloat(short, 'f', -1, 64)
}
