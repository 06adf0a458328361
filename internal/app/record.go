package app

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/release"
	"fettle/internal/unit"
)

// Entry is a row of the list of what is open: what the entry is about, and blanks for what
// a person saw, read or signed. A row without a person is left alone.
type Entry struct {
	Entry      release.EntryKind `doc:"entry,required" help:"sort of the entry" oneof:"choice|acceptance|review|lookup|step|hold|figure|torque|bond|seen|inspection|penetrant|area|delivery|promise|evidence|hazard|setup|reading|hash|faults|harmless"`
	About      string            `doc:"about" help:"the step, joint, section line, procedure, area, part or material"`
	Finding    job.FindingID     `doc:"finding"`
	What       string            `doc:"what" help:"the figure, treatment, adhesive, what is looked for, the stage of a set-up or the kind of a reading"`
	Must       string            `doc:"must_be" help:"what it has to be; not read"`
	Value      string            `doc:"value" help:"what it was: the route, the revision, the minutes, the figure, the torque, the temperature, 'met' or 'not met', 'none' for no indication, the conditions of an inspection, how an area was seen, how many came, the day promised, what stood in the fault memories, 'harmless', the file of evidence in the folder of the job"`
	By         string            `doc:"by" help:"who did, saw or signs it; without it the row is left alone"`
	On         unit.Date         `doc:"on"`
	From       string            `doc:"from" help:"hh:mm when a step was begun, an adhesive mixed, a hold point passed or a joint tightened"`
	To         string            `doc:"to" help:"hh:mm when a step was done or the last fastener of a bond set"`
	Inspection string            `doc:"inspection" help:"identity of the inspection"`
	Device     string            `doc:"device" help:"what it was read with"`
	Calibrated unit.Date         `doc:"calibrated_until" help:"last day of the device's calibration"`
	Batch      string            `doc:"batch"`
	UseBefore  unit.Date         `doc:"use_before" help:"last day the batch may be used"`
	Text       string            `doc:"text" help:"the reason of a choice or acceptance, or a remark"`
	Setup      string            `doc:"setup" help:"identity of the set-up"`
	Used       string            `doc:"used" help:"parts and materials that a step used, as 'M-DISC=2; P-SKIN=1', with '@4.50 EUR' for what the body has no price of"`
}

// OpenEntries is the list of what is open in a job, with blanks.
func (a *App) OpenEntries(c *Opened, r Assessment) []Entry {
	var out []Entry
	for _, w := range gate(c, r).Open() {
		out = append(out, Entry{Entry: w.Entry, About: w.About, Finding: w.Finding, What: w.What, Must: w.Must})
	}
	return out
}

// EntriesText is the list for a terminal.
func (a *App) EntriesText(c *Opened, es []Entry, col Column) string {
	if len(es) == 0 {
		return col.How.Hint("Nothing is open in job "+c.Job.ID+" that an entry could show; the gate says what else is missing", diag.Do(job.ToSeeMissing, "job", c.From)) + ".\n"
	}
	b := &strings.Builder{}
	fmt.Fprintf(b, "Open in job %s: %s.\n", c.Job.ID, unit.Count(len(es), "entry"))
	last := release.EntryKind("")
	for _, e := range es {
		if e.Entry != last {
			fmt.Fprintf(b, "%s:\n", e.Entry)
			last = e.Entry
		}
		fmt.Fprintf(b, "- %s\n", entryWords(e))
	}
	return b.String()
}

func entryWords(e Entry) string {
	var out []string
	for _, s := range []string{e.About, string(e.Finding), e.What, e.Must} {
		if s != "" {
			out = append(out, s)
		}
	}
	return strings.Join(out, "; ")
}

// EncodeEntries is the list as a table to be filled in.
func EncodeEntries(es []Entry) []byte { return doc.EncodeForm(es) }

// Record makes the job with the entries of a filled-in list added: every row that names a
// person, and nothing else. A row that is not open, contradicts itself or does not fit the
// job is refused, and then nothing is to be written.
func (a *App) Record(c *Opened, r Assessment, name string) (Recorded, error) {
	rows, lines, problems, err := readRows[Entry](a, name)
	if err != nil {
		return Recorded{}, err
	}
	if len(problems) > 0 {
		return Recorded{}, problems
	}
	t := taken{c: c, name: name, open: gate(c, r).Open(), hash: a.evidenceHash, today: unit.DateOf(r.Made)}
	t.table = a.linesOfReadings(c)
	for _, setups := range []bool{true, false} { // readings belong to set-ups, wherever in the list those are
		for i, e := range rows {
			if setups == (e.Entry == release.WantSetup) {
				t.row(e, lines[i])
			}
		}
	}
	if len(t.problems) > 0 {
		t.problems.Sort()
		return Recorded{}, t.problems
	}
	if len(t.records)+len(t.readings) == 0 {
		return Recorded{}, &diag.Error{Kind: diag.Invalid, Op: "record", Subject: name, Msg: "no row names a person, so nothing is to be recorded", Hint: "fill in 'by' and 'on' of what was done"}
	}
	out, err := a.recordAll(c, t.told, t.readings, t.records...)
	if err != nil {
		return Recorded{}, err
	}
	out.Text = fmt.Sprintf("Recorded %s.", unit.Count(len(t.records)+len(t.readings), "entry"))
	return out, nil
}

// taken is the rows of a list that are taken over.
type taken struct {
	c        *Opened
	name     string
	open     []release.Wanted
	hash     func(c *Opened, file string) (string, error)
	today    unit.Date
	records  []any
	lines    []int // of the records
	readings []job.Reading
	read     []int // lines of the readings
	table    int   // lines that the table of readings had
	seen     []release.Wanted
	problems diag.Problems
}

func (t *taken) fault(line int, field, msg, hint string) {
	t.problems = append(t.problems, diag.Problem{File: t.name, Line: line, Field: field, Msg: msg, Hint: hint})
}

// row takes one row over, or says what is wrong with it.
func (t *taken) row(e Entry, line int) {
	blank := e
	blank.Entry, blank.About, blank.Finding, blank.What, blank.Must = "", "", "", "", ""
	switch {
	case blank == Entry{}:
		return
	case e.By == "":
		t.fault(line, "column by", "the row is filled in and names nobody", "say who did, saw or signs it, or leave the whole row blank")
		return
	case e.On.IsZero():
		t.fault(line, "column on", "the row does not say on which day", "write year-month-day")
		return
	}
	if faults := t.c.Job.ActFaults(job.Act{By: e.By, On: e.On}, t.c.Shop, t.today); len(faults) > 0 {
		for _, f := range faults {
			t.fault(line, "column "+f.Field, f.Text, f.Hint)
		}
		return
	}
	w := release.Wanted{Entry: e.Entry, About: e.About, Finding: e.Finding, What: e.What}
	open, ok := t.wanted(w)
	if !ok {
		t.fault(line, "", fmt.Sprintf("%q is not open: %s", e.Entry, entryWords(Entry{About: e.About, Finding: e.Finding, What: e.What})), "it is on record already, or the plan does not ask for it; take the row out, or make the list anew")
		return
	}
	if slices.ContainsFunc(t.seen, w.Same) && !slices.Contains(often, e.Entry) {
		t.fault(line, "", "the list has this entry twice", "leave one of them blank")
		return
	}
	t.seen = append(t.seen, w)
	if e.Entry == release.WantReading {
		x, field, err := t.reading(e)
		if err != nil {
			t.fault(line, "column "+field, err.Error(), "")
			return
		}
		t.readings, t.read = append(t.readings, x), append(t.read, line)
		return
	}
	rec, field, err := t.made(open, e)
	if err != nil {
		t.fault(line, "column "+field, err.Error(), "")
		return
	}
	t.records, t.lines = append(t.records, rec), append(t.lines, line)
}

// often is the sorts of entries of which a list may have the same several times.
var often = []release.EntryKind{release.WantInspection, release.WantDelivery, release.WantEvidence, release.WantSetup, release.WantReading}

// wanted is the open entry that a row is about. A row about a finding that is treated together
// with the one that is named is a record of all of them. Evidence, set-ups, readings and what
// came or was promised of a material are taken whenever there are some.
func (t *taken) wanted(w release.Wanted) (release.Wanted, bool) {
	for _, o := range t.open {
		if o.Takes(w) {
			o.Finding = w.Finding
			return o, true
		}
	}
	switch w.Entry {
	case release.WantEvidence, release.WantSetup, release.WantReading:
		return w, true
	case release.WantDelivery, release.WantPromise:
		_, material := t.c.Body.Material(body.MaterialID(w.About))
		return w, material
	}
	return release.Wanted{}, false
}

// told puts the faults of the records that were made into the places of the list.
func (t *taken) told(err error) error {
	var ps diag.Problems
	if !errors.As(err, &ps) {
		return err
	}
	at := map[string]int{} // "actuals[12]" to the line of the list
	next := job.Lengths(t.c.Job)
	for i, r := range t.records {
		if x, ok := r.(job.Changed); ok {
			at[fmt.Sprintf("%s[%d]", x.List, x.At)] = t.lines[i]
			continue
		}
		list := job.ListOf(r)
		at[fmt.Sprintf("%s[%d]", list, next[list])] = t.lines[i]
		next[list]++
	}
	out := make(diag.Problems, len(ps))
	for i, p := range ps {
		out[i] = p
		if k := p.Line - t.table - 1; p.File == job.ReadingsFile && k >= 0 && k < len(t.read) {
			out[i].File, out[i].Line, out[i].Col = t.name, t.read[k], 0
			continue
		}
		record, field, _ := strings.Cut(p.Field, ".")
		if line, ok := at[record]; ok {
			out[i].File, out[i].Line, out[i].Col, out[i].Field = t.name, line, 0, field
		}
	}
	return out
}
