package decide

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/rule"
)

// Run decides every finding of the job under the procedure in force. Its notes
// come in the order: procedures, then findings as in the job.
func Run(in Input) (Result, []diag.Note) {
	chosen, notes := inForce(in)
	sets := make([]*Ruleset, len(chosen))
	res := Result{Findings: []Finding{}, Procedures: []InForce{}, Questions: []Question{}}
	for i, c := range chosen {
		res.Procedures = append(res.Procedures, c.InForce)
		if c.proc == nil {
			continue
		}
		sets[i] = compiled(in, c)
		notes = append(notes, sets[i].notes()...)
		notes = append(notes, groupedOtherwise(in, c)...)
	}
	s := newScene(in)
	for _, sub := range s.subjects {
		d := decider{in: in, scene: s, sub: sub, rs: rulesFor(in, sets, sub)}
		f, ns := d.decide()
		res.Findings = append(res.Findings, f)
		notes = append(notes, ns...)
		if q, ok := d.question(f); ok {
			res.Questions = append(res.Questions, q)
		} else if d.mayAsk(f) {
			res.Offers = append(res.Offers, d.made())
		}
	}
	// A revision that is not current and a finding that is not allowed have notes that block.
	res.Permits = !slices.ContainsFunc(notes, diag.Note.Blocks)
	return res, notes
}

// compiled is the table of a casting that is in force.
func compiled(in Input, c chosen) *Ruleset {
	set := compileOn(in.Body, *c.proc)
	set.body = in.Body
	if k, ok := in.Body.Casting(c.Casting); ok {
		set.getBy = func(fact string) string { return body.Fact(fact).HowToGet(&k) }
	}
	return set
}

// AskFinding is the question about a finding, with lines of the caller's, who knows what else has to
// be asked: opening data, a treatment that puts it right. False: there is no such finding.
func AskFinding(in Input, id job.FindingID, more []string) (Question, bool) {
	list, _ := inForce(in)
	sets := make([]*Ruleset, len(list))
	for i, c := range list {
		if c.proc != nil {
			sets[i] = compiled(in, c)
		}
	}
	s := newScene(in)
	for _, sub := range s.subjects {
		if sub.f.ID == id {
			d := decider{in: in, scene: s, sub: sub, rs: rulesFor(in, sets, sub), more: more}
			d.decide()
			return d.made(), true
		}
	}
	return Question{}, false
}

// notes names the rows that could not be read.
func (rs *Ruleset) notes() []diag.Note {
	var out []diag.Note
	for _, f := range rs.Faults {
		out = append(out, blocks(f.Row, diag.Say("decide.row-unreadable", "row {row} of {procedure}: {fault}", f.Row, Title(&rs.Proc), f.Err.Error()), "correct the procedure; until then the row cannot permit anything", rs.Proc.Source))
	}
	return out
}

// groupedOtherwise says that the cracks were grouped and lengthened by another
// revision than the one that decides, when that makes a difference.
func groupedOtherwise(in Input, c chosen) []diag.Note {
	for _, r := range in.Inspect.Rules {
		if r.Casting != c.Casting || (r.Procedure == c.Procedure && r.Revision == c.Revision) {
			continue
		}
		for _, p := range in.Body.Procedures {
			if p.ID == r.Procedure && p.Revision == r.Revision && InspectedBy(p) == InspectedBy(*c.proc) {
				return nil
			}
		}
		return []diag.Note{blocks(string(c.Casting),
			diag.Say("decide.rules-differ", "the cracks were grouped by {procedure} revision {revision}, but {in-force} is in force", r.Procedure, r.Revision, Title(c.proc)),
			"measure the findings again under the revision in force", c.proc.Source)}
	}
	return nil
}

// rulesFor is the table for a finding: its casting's, or for a part that is no
// casting the table of the body's first casting. Nil when there is none.
func rulesFor(in Input, sets []*Ruleset, sub *subject) *Ruleset {
	for i, c := range in.Body.Castings {
		if sub.casting == nil || c.ID == sub.casting.ID {
			return sets[i]
		}
	}
	return nil
}

// decider decides one finding.
type decider struct {
	in      Input
	scene   *scene
	sub     *subject
	rs      *Ruleset // nil: no procedure in force
	view    view
	facts   rule.Facts // with those that answers look at
	table   []Option   // what the table alone says
	answers []job.Answer
	more    []string // lines of a question beside what the rows say
}

func (d *decider) decide() (Finding, []diag.Note) {
	facts, list := d.scene.factsOf(d.sub, d.rs)
	f := Finding{ID: d.sub.f.ID, Facts: list, Rows: []RowResult{}}
	if d.rs != nil {
		d.view = d.rs.Look(facts)
		d.table = d.rs.Options(d.view)
		f.Rows = d.rs.rowResults(d.view)
		f.After = d.after()
	}
	var notes []diag.Note
	d.answers, notes = d.scene.validAnswers(f.ID)
	d.facts = d.scene.withAnswers(d.sub, facts, d.answers)
	f.Options = append([]Option{}, d.scene.applyAnswers(d.table, d.answers, d.facts)...)
	for i := range f.Options {
		f.Options[i].Group = d.sub.g.Group
	}
	f.Answer = answerText(d.answers, d.in.Today)
	f.Verdict = Best(f.Options)
	f.Because = d.because(f)
	f.Change = d.changes(f)
	return f, append(notes, d.findingNotes(f)...)
}

// after is the inspections asked for by every row that applies to the finding
// as a whole or to one of its zones alone.
func (d *decider) after() []string {
	var out []string
	collect := func(rows []rule.RowResult) {
		for i, r := range rows {
			if r.State != rule.Applies {
				continue
			}
			for _, a := range afterTexts(d.rs.Proc.Rows[i].After) {
				if !slices.Contains(out, a) {
					out = append(out, a)
				}
			}
		}
	}
	collect(d.view.Whole)
	for _, z := range d.view.alone {
		collect(z.rows)
	}
	return out
}

func (d *decider) findingNotes(f Finding) []diag.Note {
	var out []diag.Note
	for _, o := range f.Options {
		if o.Answer != "" && tableVerdict(d.table, o) != o.Verdict {
			out = append(out, diag.Say("decide.answer-override", "{treatment} is {verdict}: {because}", KindText(o), o.Verdict.String(), o.Because).Note(diag.Note{Severity: diag.Info, Where: string(f.ID), Source: o.Cite}))
		}
	}
	if f.Verdict != Allowed {
		out = append(out, blocks(string(f.ID), diag.Say("decide.no-treatment", "{because}", f.Because), strings.Join(f.Change, "; "), d.source()))
	}
	return out
}

// tableVerdict is what the table alone said about an option; ask when it did
// not speak of it.
func tableVerdict(table []Option, o Option) Verdict {
	for _, t := range table {
		if t.Kind == o.Kind && (t.Line == o.Line || t.Line == "") {
			return t.Verdict
		}
	}
	return Ask
}

func (d *decider) source() string {
	if d.rs == nil {
		return ""
	}
	return Title(&d.rs.Proc)
}

// because is one sentence for a technician.
func (d *decider) because(f Finding) string {
	if d.rs == nil && len(f.Options) == 0 {
		return "Ask the manufacturer: no procedure is in force for this part."
	}
	for _, o := range f.Options {
		if o.Verdict == f.Verdict && (f.Verdict == Allowed || f.Verdict == Undecided) {
			return upper(KindText(o)) + " is " + f.Verdict.String() + d.facing() + ": " + o.Because + "."
		}
	}
	if f.Verdict == Forbidden {
		return "Every treatment is forbidden" + d.facing() + ": " + f.Options[0].Because + "."
	}
	for _, o := range f.Options { // a row that asks says more than no row
		if o.Verdict == Ask && len(o.Rows) > 0 {
			return "Ask the manufacturer" + d.facing() + ": " + o.Because + "."
		}
	}
	return "Ask the manufacturer" + d.facing() + ": no row of " + d.source() + " permits a treatment here."
}

// facing is the facts people look for first: length and zones.
func (d *decider) facing() string {
	var parts []string
	if v := d.view.facts[body.FactLength]; v.Known {
		parts = append(parts, "decision length "+v.String())
	}
	if v := d.view.facts[body.FactZones]; v.Known && len(v.Words) > 0 {
		parts = append(parts, "in "+v.String())
	}
	if len(parts) == 0 {
		return ""
	}
	return " (" + strings.Join(parts, ", ") + ")"
}

func KindText(o Option) string {
	if o.Line != "" {
		return string(o.Kind) + " along " + string(o.Line)
	}
	return string(o.Kind)
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// findKind is the rows that speak of a kind.
func (rs *Ruleset) findKind(k body.TreatmentKind) (kindRows, bool) {
	for _, kr := range rs.kinds {
		if kr.kind == k {
			return kr, true
		}
	}
	return kindRows{}, false
}
