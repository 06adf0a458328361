package body

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
)

// A table that somebody has is written anew in the columns and the form of a body's own table,
// and read like one; faults are told where they stand in what the person has.

// LengthUnit is the unit that lengths of a table are in.
type LengthUnit string

// lengthUnits are the units of length with what a millimetre table needs them times (a
// fraction): an inch is 25.4 mm by definition.
var lengthUnits = map[LengthUnit][2]int64{"mm": {1, 1}, "cm": {10, 1}, "m": {1000, 1}, "in": {254, 10}}

// IsLengthUnit says that a table may have its lengths in it.
func IsLengthUnit(word string) bool { return lengthUnits[LengthUnit(word)] != [2]int64{} }

// Any is what has to be known to read a table that somebody has.
type Any struct {
	doc.Grid
	Unit LengthUnit // of the lengths whose column does not say it; empty: each column has to
	Said doc.Mark   // of its decimals, where neither file nor any number of it shows which; doc.NoMark: nobody said
}

// column is a column of a table: which of a body's own it is, and how its cells are read.
type column struct {
	name   string     // in the body's table; empty: it is none of them
	unit   string     // that the head gives
	length LengthUnit // its cells are lengths in this unit
	number bool       // its cells are numbers, alone or before a unit
	both   bool       // they may be given for both sides
}

// other names of columns, as tables have them.
var otherNames = map[string]string{"point": "id", "tolerance": "tol", "tolerance_x": "tol_x", "tolerance_y": "tol_y", "tolerance_z": "tol_z", "twin": "mirror"}

var (
	unitInBrackets = regexp.MustCompile(`^(.*?)[ _]*[\[(] *([^\[\]()]*?) *[\])]$`)
	unitAtEnd      = regexp.MustCompile(`^(.+)[ _](mm|cm|m|in)$`)
	yesNoColumns   = []string{"reference", FactBoltOn, "one_time"}
	bothColumns    = []string{"y"}
	quantities     = []string{"price", "mass", "off", "on", "delivery", "delivery_low", "delivery_high", "outer_area", "inner_area"}
	unitWords      = map[string]string{"\"": "in", "″": "in", "inch": "in", "inches": "in", "millimetre": "mm", "millimeter": "mm", "metre": "m", "meter": "m"}
)

const lengthEnd = "_mm" // of the name of a column of lengths in a body's own table

// headName is a name as it is compared, and the unit that stands with it.
func headName(head string) (name, unit string) {
	name = strings.ToLower(strings.TrimSpace(head))
	if m := unitInBrackets.FindStringSubmatch(name); m != nil {
		name, unit = m[1], strings.TrimSpace(head[strings.LastIndexAny(head, "[(")+1:len(head)-1])
	} else if m := unitAtEnd.FindStringSubmatch(name); m != nil {
		name, unit = m[1], m[2]
	}
	if w, ok := unitWords[strings.ToLower(unit)]; ok {
		unit = w
	}
	name = strings.NewReplacer(" ", "_", "-", "_").Replace(name)
	return cmp.Or(otherNames[name], name), unit
}

// columnFor is which of a body's own columns a head names.
func columnFor(head string, own []string) column {
	name, unit := headName(head)
	switch {
	case slices.Contains(own, name+lengthEnd):
		unit = strings.ToLower(unit)
		return column{name: name + lengthEnd, unit: unit, length: LengthUnit(unit), number: true, both: slices.Contains(bothColumns, name)}
	case slices.Contains(own, name):
		return column{name: name, unit: unit, number: slices.Contains(quantities, name)}
	}
	return column{}
}

// NamesColumns says that a line names columns of a body's own table: enough of them to be its head.
func NamesColumns(own, least []string) func(heads []string) bool {
	return func(heads []string) bool {
		var found []string
		for _, h := range heads {
			found = append(found, columnFor(h, own).name)
		}
		return !slices.ContainsFunc(least, func(n string) bool { return !slices.Contains(found, n) })
	}
}

// anyReader writes a table anew.
type anyReader struct {
	t        Any
	own      []string
	columns  []column
	problems diag.Problems
	asks     []ask // what a person has to say before it can be read
	unused   []string
	taken    []string // heads of lengths that were taken in the unit that is said
}

// ask is something that a person has to say, by the name it has in a Draft.
type ask struct{ field, msg, hint string }

// heads reads the names of the columns.
func (r *anyReader) heads() {
	for i, h := range r.t.Rows[0] {
		c := columnFor(h, r.own)
		twice := slices.ContainsFunc(r.columns, func(o column) bool { return c.name != "" && o.name == c.name })
		switch {
		case h == "" && r.filled(i):
			r.problems = append(r.problems, diag.Problem{File: r.t.File, Line: r.t.Lines[0], Msg: fmt.Sprintf("column %d has no name", i+1), Hint: "name it, or take it out"})
		case twice:
			r.problems = append(r.problems, r.t.Problem(0, i, "this column is there twice: another one is "+c.name+" too", "keep one of them"))
		case c.name == "" && h != "":
			said := h
			if hint := doc.DidYouMean(h, r.own); strings.HasPrefix(hint, "did") {
				said += " (" + hint + ")"
			}
			r.unused = append(r.unused, said)
		}
		if strings.HasSuffix(c.name, lengthEnd) {
			c.length = r.unitOf(i, c)
		}
		r.columns = append(r.columns, c)
	}
}

func (r *anyReader) filled(i int) bool {
	return slices.ContainsFunc(r.t.Rows, func(row []string) bool { return row[i] != "" })
}

// unitOf is the unit of a column of lengths: the one that its head gives, or the one that is
// given for those that do not say it. It is never guessed.
func (r *anyReader) unitOf(i int, c column) LengthUnit {
	switch {
	case c.unit == "" && r.t.Unit == "":
		if len(r.asks) == 0 { // one answer is for all columns
			r.asks = append(r.asks, ask{"unit", fmt.Sprintf("%s: the column %s does not say which unit it is in", r.t.File, r.t.Rows[0][i]), "write it into the head, as in 'x [mm]', or say it for all columns that do not: mm, cm, m or in; it is never guessed"})
		}
	case c.unit == "" && !IsLengthUnit(string(r.t.Unit)) && len(r.asks) == 0:
		r.asks = append(r.asks, ask{"unit", fmt.Sprintf("%q is no unit of length", r.t.Unit), "say mm, cm, m or in"})
	case c.unit == "":
		r.taken = append(r.taken, r.t.Rows[0][i])
		return r.t.Unit
	case lengthUnits[c.length] == [2]int64{}:
		r.problems = append(r.problems, r.t.Problem(0, i, fmt.Sprintf("%q is no unit of length", c.unit), "write mm, cm, m or in"))
	}
	return c.length
}

// mark finds the decimal mark of the table: all its numbers have the same, thousands are not set
// apart, and where no number shows that it can be nothing else, a person says it.
func (r *anyReader) mark() {
	var first [2]int // where it was seen first
	mark, sure := doc.NoMark, false
	for i, row := range r.t.Rows[1:] {
		for k, cell := range row {
			n, ok := r.numeral(k, cell)
			if !ok || n.Mark == doc.NoMark {
				continue
			}
			if mark == doc.NoMark {
				mark, first = n.Mark, [2]int{i + 1, k}
			}
			if n.Mark != mark {
				msg := fmt.Sprintf("%q has another decimal mark than %q on line %d", cell, r.t.Rows[first[0]][first[1]], r.t.Lines[first[0]])
				r.problems = append(r.problems, r.t.Problem(i+1, k, msg, "write all numbers with the same mark before the decimals, and none between thousands"))
				return
			}
			sure = sure || n.Sure()
		}
	}
	cell := r.t.Rows[first[0]][first[1]]
	switch {
	case mark == doc.NoMark || sure || r.t.Mark == mark || r.t.Said == mark:
	case r.t.Said != doc.NoMark:
		r.problems = append(r.problems, r.t.Problem(first[0], first[1], fmt.Sprintf("%q has another mark than the decimal one that is said", cell), "write thousands without a mark between them"))
	default:
		n, _ := r.numeral(first[1], cell)
		r.asks = append(r.asks, ask{"decimal", fmt.Sprintf("%s:%d: column %s: %q may be %s%s, or %s and %s thousandths", r.t.File, r.t.Lines[first[0]], r.t.Rows[0][first[1]], cell, n.Whole, n.Parts, n.Whole, n.Parts), "say whether the table has a decimal comma or a decimal point; no number in it shows which"})
	}
}

// numeral is the number in a cell of a column of numbers.
func (r *anyReader) numeral(k int, cell string) (doc.Numeral, bool) {
	if !r.columns[k].number {
		return doc.Numeral{}, false
	}
	bare, _ := strings.CutPrefix(cell, bothSides)
	return doc.ReadNumeral(bare)
}

// bothSides stands before a y that holds for the point and its twin.
const bothSides = "±"

// cell is a cell as it stands in the body's own table.
func (r *anyReader) cell(i, k int) string {
	text, c := r.t.Rows[i][k], r.columns[k]
	if text == "" || c.name == "" {
		return ""
	}
	if !c.number {
		if slices.Contains(yesNoColumns, c.name) {
			text = strings.ToLower(text)
		}
		return text
	}
	n, ok := r.numeral(k, text)
	switch {
	case !ok:
		r.problems = append(r.problems, r.t.Problem(i, k, fmt.Sprintf("%q is not a number", text), "write digits with one mark before the decimals, and none between thousands"))
	case c.length != "" && n.Rest != "":
		r.problems = append(r.problems, r.t.Problem(i, k, fmt.Sprintf("%q is more than a number", text), "write the unit into the head of the column, and the number alone here"))
	case strings.HasPrefix(text, bothSides) && (!c.both || n.Minus):
		r.problems = append(r.problems, r.t.Problem(i, k, fmt.Sprintf("%q is not a number", text), "only y may be given for both sides"))
	case c.length != "":
		by, both := lengthUnits[c.length], ""
		if strings.HasPrefix(text, bothSides) {
			both = bothSides
		}
		return both + n.Times(by[0], by[1])
	case n.Rest != "" && c.unit != "" && n.Rest != c.unit:
		r.problems = append(r.problems, r.t.Problem(i, k, fmt.Sprintf("%q is in another unit than the head of the column says", text), "write "+c.unit))
	default: // money keeps its digits
		return r.quantity(n, c)
	}
	return ""
}

// quantity is a number with the unit that stands after it or in the head.
func (r *anyReader) quantity(n doc.Numeral, c column) string {
	text := n.Whole
	if n.Minus {
		text = "-" + text
	}
	if n.Parts != "" {
		text += "." + n.Parts
	}
	return strings.TrimSpace(text + " " + cmp.Or(n.Rest, c.unit))
}

// rows is the cells of the table by the names of the body's own columns.
func (r *anyReader) rows() []map[string]string {
	if r.heads(); len(r.problems) > 0 {
		return nil
	}
	if r.mark(); len(r.problems)+len(r.asks) > 0 {
		return nil
	}
	out := make([]map[string]string, 0, len(r.t.Rows))
	for i := range r.t.Rows[1:] {
		row := map[string]string{}
		for k, c := range r.columns {
			if text := r.cell(i+1, k); text != "" {
				row[c.name] = text
			}
		}
		out = append(out, row)
	}
	return out
}

// ownTable writes rows as a body's own table.
func ownTable(own []string, rows []map[string]string) []byte {
	var b strings.Builder
	w := csv.NewWriter(&b)
	used := slices.DeleteFunc(slices.Clone(own), func(n string) bool {
		return !slices.ContainsFunc(rows, func(r map[string]string) bool { return r[n] != "" })
	})
	records := [][]string{used}
	for _, r := range rows {
		cells := make([]string, len(used))
		for i, n := range used {
			cells[i] = r[n]
		}
		records = append(records, cells)
	}
	if err := w.WriteAll(records); err != nil {
		panic(err) // a strings.Builder never fails
	}
	return []byte(b.String())
}
