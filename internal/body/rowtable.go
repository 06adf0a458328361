package body

import (
	"cmp"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// rowLine is a row of a procedure as a line of a table: a column for each fact that a
// condition may name, and lists of treatments with commas between.
type rowLine struct {
	ID   string `doc:"id,required"`
	Cite string `doc:"cite,required" help:"document, revision, page"`

	Kind       string `doc:"kind"`
	Zones      string `doc:"zones"`
	Length     string `doc:"length"`
	Spacing    string `doc:"spacing"`
	Bore       string `doc:"bore_clearance"`
	Border     string `doc:"border_clearance"`
	Edge       string `doc:"edge_clearance"`
	Joint      string `doc:"joint_clearance"`
	Earlier    string `doc:"earlier_clearance"`
	Through    string `doc:"through"`
	Depth      string `doc:"depth"`
	Kinked     string `doc:"kinked"`
	Shape      string `doc:"out_of_shape"`
	Shift      string `doc:"shift"`
	Straight   string `doc:"straightened_before"`
	Tips       string `doc:"tips"`
	InZone     string `doc:"count_in_zone"`
	OnCasting  string `doc:"count_on_casting"`
	LengthHere string `doc:"crack_length_in_zone"`
	LengthAll  string `doc:"crack_length_on_casting"`
	Outboard   string `doc:"outboard_of"`
	Margin     string `doc:"section_margin"`
	Casting    string `doc:"on_casting"`
	Part       string `doc:"part"`
	BoltOn     string `doc:"bolt_on"`
	Age        string `doc:"part_age"`
	Cast       string `doc:"casting_date"`
	Temp       string `doc:"temperature"`
	Equipment  string `doc:"equipment"`
	Qualified  string `doc:"qualifications"`

	Allow  string `doc:"allow" help:"treatments, with commas between"`
	Forbid string `doc:"forbid" help:"treatments, with commas between"`
	Ask    string `doc:"ask"`

	Plate           MaterialID   `doc:"plate"`
	Thickness       unit.MM      `doc:"plate_thickness"`
	Overlap         unit.MM      `doc:"plate_overlap"`
	Filler          MaterialID   `doc:"filler"`
	Cold            YesNo        `doc:"cold" oneof:"yes"`
	HeatedTo        unit.Celsius `doc:"heated_to"`
	Pulls           int          `doc:"most_pulls"`
	Text            string       `doc:"text"`
	MostInZone      int          `doc:"most_in_zone"`
	MostOnCasting   int          `doc:"most_on_casting"`
	LengthInZone    unit.MM      `doc:"most_length_in_zone"`
	LengthOnCasting unit.MM      `doc:"most_length_on_casting"`

	Penetrant  string `doc:"penetrant_after" help:"at which point of the work, or yes"`
	Visual     string `doc:"visual_after" help:"at which point of the work, or yes"`
	VisualOf   string `doc:"visual_what" help:"what has to be seen"`
	Dimensions string `doc:"dimensions_after" help:"at which point of the work, or yes"`

	Note string `doc:"note"`
}

// facts is the cells of a line that are conditions, by the name of the fact.
func (l *rowLine) facts() map[string]*string {
	out := map[string]*string{}
	v := reflect.ValueOf(l).Elem()
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("doc"), ",")
		if IsFact(name) {
			out[name] = v.Field(i).Addr().Interface().(*string)
		}
	}
	return out
}

// manner is the cells of a line that say how it is done.
func (l *rowLine) manner() Manner {
	return Manner{Plate: l.Plate, Thickness: l.Thickness, Overlap: l.Overlap, Filler: l.Filler, Text: l.Text, Cold: l.Cold, HeatedTo: l.HeatedTo, Pulls: l.Pulls,
		InZone: l.MostInZone, OnCasting: l.MostOnCasting, LengthInZone: l.LengthInZone, LengthOnCasting: l.LengthOnCasting}
}

func (l *rowLine) setManner(m Manner) {
	l.Plate, l.Thickness, l.Overlap, l.Filler, l.Text = m.Plate, m.Thickness, m.Overlap, m.Filler, m.Text
	l.Cold, l.HeatedTo, l.Pulls = m.Cold, m.HeatedTo, m.Pulls
	l.MostInZone, l.MostOnCasting, l.LengthInZone, l.LengthOnCasting = m.InZone, m.OnCasting, m.LengthInZone, m.LengthOnCasting
}

// atAnyPoint stands in a cell for an inspection of which the row does not say when.
const atAnyPoint = "yes"

// afters is the cells of a line that are inspections, by their method.
func (l *rowLine) afters() []struct {
	method ProofKind
	when   *string
	what   *string
} {
	return []struct {
		method ProofKind
		when   *string
		what   *string
	}{{ShowPenetrant, &l.Penetrant, nil}, {ShowVisual, &l.Visual, &l.VisualOf}, {ShowDimensions, &l.Dimensions, nil}}
}

// RowTable is the rows of a procedure as a table (CSV), a row a line, which ReadRowTable reads
// back to the same rows. A row that does not fit into a line is an error.
func RowTable(p Procedure) ([]byte, error) {
	lines := make([]rowLine, len(p.Rows))
	for i, r := range p.Rows {
		l := rowLine{ID: r.ID, Cite: r.Cite, Ask: r.Ask, Note: r.Note, Allow: joinKinds(r.Allow), Forbid: joinKinds(r.Forbid)}
		l.setManner(r.With)
		cells := l.facts()
		for name, text := range r.When {
			cell, ok := cells[name]
			if !ok {
				return nil, notALine(r, "there is no fact "+name)
			}
			*cell = text
		}
		for _, a := range r.After {
			if why := l.putAfter(a); why != "" {
				return nil, notALine(r, why)
			}
		}
		lines[i] = l
	}
	return doc.EncodeCSV(lines), nil
}

func notALine(r Row, why string) error {
	return &diag.Error{Kind: diag.Invalid, Op: "write a table of rows", Subject: "row " + r.ID, Msg: "does not fit into a line: " + why, Hint: "keep the rows in the procedure file"}
}

func joinKinds(kinds []TreatmentKind) string {
	words := make([]string, len(kinds))
	for i, k := range kinds {
		words[i] = string(k)
	}
	return strings.Join(words, ", ")
}

// putAfter fills the cells of an inspection; it is why it cannot.
func (l *rowLine) putAfter(a After) string {
	for _, c := range l.afters() {
		switch {
		case c.method != a.Method:
			continue
		case *c.when != "":
			return "it asks for two inspections of the method " + string(a.Method)
		case a.When == atAnyPoint:
			return "the point of the work is called " + a.When
		case a.What != "" && c.what == nil:
			return "only of a visual inspection it can say what has to be seen"
		}
		*c.when = cmp.Or(a.When, atAnyPoint)
		if c.what != nil {
			*c.what = a.What
		}
		return ""
	}
	return "there is no column for the method " + string(a.Method)
}

// ReadRowTable reads rows from a table as RowTable writes it. The problems name line and column.
func ReadRowTable(file string, data []byte) ([]Row, diag.Problems) {
	lines, at, problems := doc.DecodeCSV[rowLine](file, data)
	if len(problems) > 0 {
		return nil, problems
	}
	rows := make([]Row, len(lines))
	seen := map[string]int{}
	for i := range lines {
		r := lineReader{file: file, at: at[i], line: &lines[i]}
		rows[i] = r.row()
		if first, twice := seen[rows[i].ID]; twice {
			r.fault("id", fmt.Sprintf("row %q is there already, on line %d", rows[i].ID, first), "give each row its own identity")
		}
		seen[rows[i].ID] = at[i]
		problems = append(problems, r.problems...)
	}
	problems.Sort()
	return rows, problems
}

// lineReader reads one line of a table of rows.
type lineReader struct {
	file     string
	at       int
	line     *rowLine
	problems diag.Problems
}

func (r *lineReader) fault(column, msg, hint string) {
	r.problems = append(r.problems, rowProblem(r.file, []int{r.at}, 0, column, msg, hint))
}

func (r *lineReader) row() Row {
	l := r.line
	out := Row{ID: l.ID, Cite: l.Cite, When: map[string]string{}, Allow: r.kinds("allow", l.Allow), Forbid: r.kinds("forbid", l.Forbid), Ask: l.Ask, With: l.manner(), Note: l.Note}
	for _, f := range out.With.outOfRange() {
		r.fault(f.field, f.msg, f.hint)
	}
	cells := l.facts()
	for _, name := range doc.Keys(cells) {
		if text := *cells[name]; text != "" {
			out.When[name] = text
			r.condition(name, text)
		}
	}
	for _, c := range l.afters() {
		if *c.when == "" {
			if c.what != nil && *c.what != "" {
				r.fault("visual_what", "says what has to be seen, but no visual inspection is asked for", "fill in visual_after, with yes where the point of the work is not said")
			}
			continue
		}
		a := After{Method: c.method, When: *c.when}
		if a.When == atAnyPoint {
			a.When = ""
		}
		if c.what != nil {
			a.What = *c.what
		}
		out.After = append(out.After, a)
	}
	if len(out.Allow)+len(out.Forbid) == 0 && out.Ask == "" {
		r.fault("", "the row says nothing", "give allow, forbid or ask")
	}
	return out
}

func (r *lineReader) condition(name, text string) {
	def := Fact(name)
	_, err := rule.ParseCond(name, def.rule(), def.Unit, text)
	if err == nil {
		return
	}
	if e := (*diag.Error)(nil); errors.As(err, &e) {
		r.fault(name, e.Msg, e.Hint)
		return
	}
	r.fault(name, err.Error(), "write it as the facts on the page of procedures are written")
}

func (r *lineReader) kinds(column, cell string) []TreatmentKind {
	var out []TreatmentKind
	if cell == "" {
		return nil
	}
	known := make([]string, 0, 8)
	for _, k := range TreatmentKinds() {
		known = append(known, string(k))
	}
	for _, w := range strings.FieldsFunc(cell, func(c rune) bool { return c == ',' || c == ';' }) {
		w = strings.TrimSpace(w)
		if !slices.Contains(known, w) {
			r.fault(column, fmt.Sprintf("%q is no treatment", w), doc.DidYouMean(w, known))
			continue
		}
		out = append(out, TreatmentKind(w))
	}
	return out
}
