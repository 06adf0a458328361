package format

import (
	"encoding/xml"
	"reflect"
	"strings"
	"testing"
)

// TestTextsOfAWorkbook: what stands in text elements, in order, whatever stands beside them; how it
// is spoken is left out (ECMA-376 part 1, 18.4, from memory).
func TestTextsOfAWorkbook(t *testing.T) {
	for body, want := range map[string]string{
		`<si><t>a</t></si>`: "a", `<si>x<r> y <t>a</t> z <t> b</t></r>w</si>`: "a b", `<si><t/>x</si>`: "", `<si></si>`: "", `<si><t>a</t><rPh><t>no</t></rPh>no<t>c</t></si>`: "ac", `<si><t>a<b>c</b>d</t>no<u>no</u></si>`: "acd",
	} {
		d := xml.NewDecoder(strings.NewReader(body))
		if _, err := d.Token(); err != nil {
			t.Fatal(err)
		}
		if got, err := textWithin(d); err != nil || got != want {
			t.Errorf("%s: %q, %v, want %q", body, got, err, want)
		}
	}
	d := xml.NewDecoder(strings.NewReader(`<si><t>a</t>`))
	if _, err := d.Token(); err != nil {
		t.Fatal(err)
	}
	if got, err := textWithin(d); err == nil || got != "" {
		t.Errorf("cut off: %q", got)
	}
}

// TestColumnsOfCells: A is the first, Z the 26th and AA the 27th; the two hundredth, GR, is the last
// that is taken. Beside a refusal stands no column.
func TestColumnsOfCells(t *testing.T) {
	for _, c := range []struct {
		name       string
		next, want int // -1: refused
	}{{"", 0, 0}, {"", 5, 5}, {"A3", 0, 0}, {"Z3", 0, 25}, {"AA3", 0, 26}, {"AZ3", 3, 51}, {"BA3", 52, 52}, {"GR3", 0, 199}, {"GS3", 0, -1}, {"", 199, 199}, {"", 200, -1}, {"C3", 2, 2}, {"C3", 3, -1}, {"C4", 0, -1}, {"C03", 0, -1}, {"c3", 0, -1}, {"3", 0, -1}} {
		got, err := (&workReader{line: 3}).column(c.name, c.next)
		if (err != nil) != (c.want < 0) || got != max(c.want, 0) {
			t.Errorf("%q after %d: %d, %v, want %d", c.name, c.next, got, err, c.want)
		}
	}
}

// TestRowsOfAWorkbook: a row that is empty is none, the first one ends with its last name, and the
// others are as wide; a text over several lines is one paragraph.
func TestRowsOfAWorkbook(t *testing.T) {
	w := &workReader{}
	for i, cells := range [][]string{{"", " \n"}, nil, {"id", "", "a\n  b ", "", ""}, {"", ""}, {"x"}, {"", "y", "z"}, {"1", "2", "3", "4"}} {
		w.line = i + 1
		if err := w.add(cells); err != nil {
			t.Fatal(err)
		}
	}
	if want := [][]string{{"id", "", "a b"}, {"x", "", ""}, {"", "y", "z"}, {"1", "2", "3", "4"}}; !reflect.DeepEqual(w.grid.Rows, want) || !reflect.DeepEqual(w.grid.Lines, []int{3, 5, 6, 7}) {
		t.Errorf("%q %v", w.grid.Rows, w.grid.Lines)
	}
	if err := w.add([]string{"a", "b\u202e", "c\u202e"}); err == nil || err.Error() != "cell 2 holds a character that is not shown" {
		t.Error(err)
	}
}

// TestNumbersAsASpreadsheetShowsThem: rounded to 15 digits from 17 characters on, as far as a
// thousand million million; what is left of nothing is nothing, and a thousand-millionth is not.
func TestNumbersAsASpreadsheetShowsThem(t *testing.T) {
	for cell, want := range map[string]string{
		"0.30000000000000004": "0.3", "-0.30000000000000004": "-0.3", "0.30000000000001": "0.30000000000001", "0.300000000000010": "0.30000000000001", "1.0000000000000002E2": "100",
		"1000000000000000.0": "1000000000000000", "-1000000000000000.0": "-1000000000000000", "1000000000000000.2": "1000000000000000.2", "-1000000000000000.2": "-1000000000000000.2", "9999999999999999.5": "9999999999999999.5",
		"0.00000000100000000": "0.000000001", "-0.00000000100000000": "-0.000000001", "0.00000000099999999": "0", "-0.00000000099999999": "0", "5.5511151231257830E-17": "0",
		"12345678901234567890": "12345678901234567890", "12,30000000000000004": "12,30000000000000004", "a 1.30000000000000004": "a 1.30000000000000004",
	} {
		if got := spreadsheetNumber(cell); got != want {
			t.Errorf("%s: %s, want %s", cell, got, want)
		}
	}
}
