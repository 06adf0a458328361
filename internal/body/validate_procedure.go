package body

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/rule"
)

func (c *checker) procedures() {
	for i, p := range c.b.Procedures {
		path := at("procedures", i)
		if !idForm.MatchString(string(p.ID)) {
			c.fault(path+".id", fmt.Sprintf("%q is not an identity", p.ID), "use letters, digits, '-', '_' and '.'")
		}
		c.ref(path+".casting", aCasting, string(p.Casting))
		if p.Effective.Before(p.Issued) {
			c.fault(path+".effective", fmt.Sprintf("the procedure takes effect on %s, before it is issued on %s", p.Effective, p.Issued), "are the two swapped?")
		}
		if p.Recheck.Before(p.Effective) {
			c.fault(path+".recheck_before", fmt.Sprintf("%s is before the day it takes effect, %s", p.Recheck, p.Effective), "write the day before which it has to be looked up again")
		}
		notNegative(c, path+".tip_allowance_visual", p.TipVisual)
		notNegative(c, path+".group_gap", p.GroupGap)
		c.succession(i, p)
		once(c, path+".neighbours", p.Neighbours)
		note(c, "row of "+path, path+".rows", p.Rows, func(r Row) string { return r.ID })
		for j, r := range p.Rows {
			c.row(at("procedures", i, "rows", j), p, r)
		}
		c.rowTests(i, p)
		c.acceptance(i, p)
		c.inspection(i, p)
	}
}

// succession: the revisions of a procedure take the place of one another in a
// row, so that on every day it is clear which one applies.
func (c *checker) succession(i int, p Procedure) {
	path, follows := at("procedures", i), p.Supersedes != ""
	found := !follows
	for j, q := range c.b.Procedures {
		same := q.ID == p.ID
		switch {
		case j == i:
		case same && q.Revision == p.Revision && j < i:
			c.fault(path+".revision", fmt.Sprintf("revision %q of %q is there twice", p.Revision, p.ID), "keep one file for each revision")
		case same && j < i && q.Supersedes == p.Supersedes:
			c.fault(path, fmt.Sprintf("it is not clear whether revision %q or %q of %q applies", q.Revision, p.Revision, p.ID), "say in 'supersedes' which revision this one takes the place of")
		case same && follows && q.Revision == p.Supersedes:
			found = true
			if p.Effective.Before(q.Effective) {
				c.fault(path+".effective", fmt.Sprintf("the revision it supersedes takes effect later, on %s", q.Effective), "see whether the days or the revisions are swapped")
			}
		case !same && j < i && q.Casting == p.Casting:
			c.fault(path+".casting", fmt.Sprintf("casting %q has the procedure %q already", p.Casting, q.ID), "a casting has one procedure, in revisions")
		}
	}
	if found && follows && c.circular(p) {
		c.fault(path+".supersedes", fmt.Sprintf("the revisions of %q take the place of one another in a circle", p.ID), "the oldest revision supersedes none")
	}
	if !found {
		c.fault(path+".supersedes", fmt.Sprintf("revision %q of %q is not in the folder", p.Supersedes, p.ID), "keep superseded revisions, or leave the line out")
	}
}

// circular says that going back from a revision never ends.
func (c *checker) circular(p Procedure) bool {
	before := func(p Procedure) (Procedure, bool) {
		return find(c.b.Procedures, [2]string{string(p.ID), p.Supersedes},
			func(q *Procedure) [2]string { return [2]string{string(q.ID), q.Revision} })
	}
	for range c.b.Procedures {
		older, ok := before(p)
		if !ok || p.Supersedes == "" {
			return false
		}
		p = older
	}
	return p.Supersedes != ""
}

func (c *checker) row(path string, p Procedure, r Row) {
	once(c, path+".allow", r.Allow)
	once(c, path+".forbid", r.Forbid)
	same(c, path+".after", r.After)
	for i, k := range r.Allow {
		if slices.Contains(r.Forbid, k) {
			c.fault(fmt.Sprintf("%s.allow[%d]", path, i), fmt.Sprintf("the row both allows and forbids %q", k), "take one of them out")
		}
	}
	if len(r.Allow)+len(r.Forbid) == 0 && r.Ask == "" {
		c.fault(path, "the row says nothing", "give 'allow', 'forbid' or 'ask'")
	}
	c.manner(path, r)
	if len(r.When) == 0 && len(r.Allow) > 0 {
		c.fault(path+".when", "the row allows something whatever the facts are", "name at least one fact")
	}
	for _, name := range sortedKeys(r.When) {
		c.condition(path+".when", p, name, r.When[name])
	}
}

func sortedKeys(m map[string]string) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

func (c *checker) condition(path string, p Procedure, name, text string) {
	def, ok := c.fact(path, name)
	if !ok {
		return
	}
	cond, err := rule.ParseCond(name, def.rule(), def.Unit, text)
	if err != nil {
		c.ruleFault(path+"."+name, err)
		return
	}
	c.words(path+"."+name, p, def, cond.Words)
}

// fact looks up the definition of a fact by its name.
func (c *checker) fact(path, name string) (FactDef, bool) {
	if IsFact(name) {
		return Fact(name), true
	}
	var names []string
	for _, d := range factDefs {
		names = append(names, d.Name)
	}
	hint := doc.DidYouMean(name, names)
	if hint == "" {
		hint = "known: " + strings.Join(names, ", ")
	}
	c.fault(path+"."+name, fmt.Sprintf("there is no fact %q", name), hint)
	return FactDef{}, false
}

// rule is the kind of the fact in a decision table.
func (d FactDef) rule() rule.Kind {
	switch d.Kind {
	case FactSet:
		return rule.Set
	case FactNumber:
		return rule.Number
	case FactBool:
		return rule.Bool
	}
	return rule.Text
}

// ruleFault passes on what package rule says about a text.
func (c *checker) ruleFault(path string, err error) {
	var e *diag.Error
	if errors.As(err, &e) {
		c.fault(path, e.Msg, e.Hint)
		return
	}
	msg, hint, _ := strings.Cut(err.Error(), "; ")
	c.fault(path, msg, cmp.Or(hint, "write it as the facts on the page of procedures are written"))
}

// words checks the words of a condition or value: a misspelt zone would make
// a forbidding row silent.
func (c *checker) words(path string, p Procedure, def FactDef, words []string) {
	known, listed := def.Words(c.b, p.Casting)
	for _, w := range words {
		if listed && !slices.Contains(known, w) {
			c.fault(path, fmt.Sprintf("%q is not known to the fact %q", w, def.Name), doc.DidYouMean(w, known))
		}
	}
}

// rowTests checks the tests that lie in the procedure: what they name exists,
// the rows they name apply, and every row is hit by at least one test. The
// decision they expect is judged by package decide.
func (c *checker) rowTests(i int, p Procedure) {
	rows, readable := ruleRows(p)
	hit := map[string]bool{}
	same(c, at("procedures", i, "tests"), p.Tests)
	for j, t := range p.Tests {
		path := at("procedures", i, "tests", j)
		once(c, path+".expect.allow", t.Expect.Allow)
		once(c, path+".expect.forbid", t.Expect.Forbid)
		once(c, path+".expect.rows", t.Expect.Rows)
		facts := rule.Facts{}
		for _, name := range sortedKeys(t.Facts) {
			if def, ok := c.fact(path+".facts", name); ok {
				c.value(path+".facts."+name, p, def, t.Facts[name], facts)
			}
		}
		applies := map[string]bool{}
		for _, r := range rule.Eval(rows, facts, float64(c.b.Confidence)) {
			applies[r.Row] = r.State == rule.Applies
			hit[r.Row] = hit[r.Row] || applies[r.Row]
		}
		for k, id := range t.Expect.Rows {
			c.expected(fmt.Sprintf("%s.expect.rows[%d]", path, k), p, id, readable && !applies[id])
		}
	}
	for j, r := range p.Rows {
		if readable && !hit[r.ID] {
			c.fault(at("procedures", i, "rows", j), fmt.Sprintf("no test of the procedure makes row %q apply", r.ID), "add a test whose facts it applies to")
		}
	}
}

func (c *checker) value(path string, p Procedure, def FactDef, text string, into rule.Facts) {
	v, err := rule.ParseValue(def.rule(), def.Unit, text)
	if err != nil {
		c.ruleFault(path, err)
		return
	}
	c.words(path, p, def, v.Words)
	into[def.Name] = v
}

func (c *checker) expected(path string, p Procedure, id string, silent bool) {
	known := make([]string, len(p.Rows))
	for i, r := range p.Rows {
		known[i] = r.ID
	}
	switch {
	case !slices.Contains(known, id):
		c.fault(path, fmt.Sprintf("row %q does not exist", id), doc.DidYouMean(id, known))
	case silent:
		c.fault(path, fmt.Sprintf("row %q does not apply to these facts", id), "mend the facts, or take the row out of what is expected")
	}
}

// ruleRows are the rows as package rule evaluates them; false when one of them
// cannot be read, which is told elsewhere.
func ruleRows(p Procedure) ([]rule.Row, bool) {
	out, readable := make([]rule.Row, len(p.Rows)), true
	for i, r := range p.Rows {
		out[i].ID = r.ID
		when := r.Conditions()
		for _, name := range sortedKeys(when) {
			def := Fact(name)
			cond, err := rule.ParseCond(name, def.rule(), def.Unit, when[name])
			readable = readable && IsFact(name) && err == nil
			out[i].Conds = append(out[i].Conds, cond)
		}
	}
	return out, readable
}

// FindingKind says what a defect is.
type FindingKind string

// Kinds of finding.
const (
	Crack FindingKind = "crack"
	Break FindingKind = "break"
	Bend  FindingKind = "bend"
	Dent  FindingKind = "dent"
	Torn  FindingKind = "torn"
)

// FindingKinds are the words for what a defect is.
func FindingKinds() []FindingKind { return []FindingKind{Crack, Break, Bend, Dent, Torn} }

// TipMethod is how the end of a crack was found.
type TipMethod string

// How the end of a crack was found. No document says of an end that it is the fork of a
// branch: it is found where the branch begins.
const (
	TipVisual    TipMethod = "visual"
	TipPenetrant TipMethod = "penetrant"
	TipStopHole  TipMethod = "stop-hole"
	TipFork      TipMethod = "fork"
)

// TipMethods are the words of documents for how the end of a crack was found, weakest first.
func TipMethods() []TipMethod { return []TipMethod{TipVisual, TipPenetrant, TipStopHole} }

// CheckProcedure says what of a procedure that is not in the body's folder does
// not fit the body: words, zones and lines that the body does not have. What it
// supersedes is not looked at.
func CheckProcedure(b *Body, p Procedure) diag.Problems {
	alone := *b
	p.Supersedes = ""
	alone.Procedures = []Procedure{p}
	alone.at.procedures = nil
	c := &checker{b: &alone}
	c.index()
	c.problems = nil // faults of the body itself are told when it is read
	c.procedures()
	return c.problems
}

// CheckWhen says what of conditions that are not in a procedure cannot be read, or
// names what the casting does not have, by fact.
func CheckWhen(b *Body, casting CastingID, when map[string]string) map[string]diag.Problem {
	c := &checker{b: b}
	c.index()
	out := map[string]diag.Problem{}
	for _, name := range sortedKeys(when) {
		c.problems = nil // faults of the body itself are told when it is read
		c.condition("when", Procedure{Casting: casting}, name, when[name])
		if len(c.problems) > 0 {
			out[name] = c.problems[0]
		}
	}
	return out
}
