package revise

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/rule"
)

// TestProcedure runs the tests that lie in a procedure: facts and the decision
// they must give. It reports a test that does not come out, a row that cannot
// be read and a row that no test makes apply. The file of a problem is the
// procedure's identity and revision: only the caller knows its path. A fact a test does not name is
// unknown, except that the finding is on the casting.
//
// A test passes when exactly the kinds of allow are allowed, every kind of
// forbid is forbidden, every row of rows applies, it is done as 'with' says, and ask is yes exactly when
// a row asks the manufacturer or the finding as a whole ends in "ask".
func TestProcedure(p body.Procedure, confidence float64) []diag.Problem {
	t := procTest{rs: decide.Compile(p, confidence), hit: make([]bool, len(p.Rows))}
	for _, f := range t.rs.Faults {
		t.fail("row "+f.Row, "the condition on "+f.Fact+" cannot be read: "+f.Err.Error(), "")
	}
	for i, test := range p.Tests {
		t.run(i, test)
	}
	for i, r := range p.Rows {
		if !t.hit[i] {
			t.fail("row "+r.ID, "no test makes this row apply", "add a test whose facts meet all its conditions")
		}
	}
	return t.problems
}

type procTest struct {
	rs       *decide.Ruleset
	hit      []bool
	problems []diag.Problem
}

func (t *procTest) fail(field, msg, hint string) {
	t.problems = append(t.problems, diag.Problem{File: "procedures/" + string(t.rs.Proc.ID) + " " + t.rs.Proc.Revision, Field: field, Msg: msg, Hint: hint})
}

func (t *procTest) run(i int, test body.RowTest) {
	field := fmt.Sprintf("tests[%d] (%s)", i, test.Name)
	facts, ok := t.facts(field, test)
	if !ok {
		return
	}
	v := t.rs.Look(facts)
	var applied []string
	var manners []body.Manner
	asks := false
	for j, r := range v.Whole {
		if r.State == rule.Applies {
			t.hit[j] = true
			applied = append(applied, t.rs.Proc.Rows[j].ID)
			manners = append(manners, t.rs.Proc.Rows[j].With)
			asks = asks || t.rs.Proc.Rows[j].Ask != ""
		}
	}
	options := t.rs.Options(v)
	asks = asks || decide.Best(options) == decide.Ask
	t.compare(field, test.Expect, options, applied, asks)
	if d := test.Expect.With.Differs(manners); d != "" {
		t.fail(field, "it is not done as the test expects: "+d, "the rows that apply: "+list(applied))
	}
}

// facts reads the facts of a test.
func (t *procTest) facts(field string, test body.RowTest) (rule.Facts, bool) {
	facts := rule.Facts{body.FactOnCasting: rule.BoolValue(true)}
	names := make([]string, 0, len(test.Facts))
	for n := range test.Facts {
		names = append(names, n)
	}
	sort.Strings(names)
	ok := true
	for _, n := range names {
		if !body.IsFact(n) {
			t.fail(field, decide.ErrUnknownFact(n).Error(), "")
			ok = false
			continue
		}
		def := body.Fact(n)
		v, err := rule.ParseValue(rule.Kind(def.Kind), def.Unit, test.Facts[n])
		if err != nil {
			t.fail(field, "fact "+n+": "+err.Error(), "")
			ok = false
			continue
		}
		facts[n] = v
	}
	return facts, ok
}

func (t *procTest) compare(field string, want body.RowExpect, options []decide.Option, applied []string, asks bool) {
	for _, o := range options {
		if o.Verdict == decide.Allowed && !slices.Contains(want.Allow, o.Kind) {
			t.fail(field, decide.KindText(o)+" is allowed and the test does not expect it: "+o.Because, "")
		}
	}
	for _, k := range want.Allow {
		t.expect(field, k, decide.Allowed, options)
	}
	for _, k := range want.Forbid {
		t.expect(field, k, decide.Forbidden, options)
	}
	for _, id := range want.Rows {
		if !slices.Contains(applied, id) {
			t.fail(field, "row "+id+" does not apply", "the rows that apply: "+list(applied))
		}
	}
	switch {
	case want.Ask && !asks:
		t.fail(field, "the test expects to ask the manufacturer, but no row asks and a treatment is "+decide.Best(options).String(), "")
	case asks && !want.Ask:
		t.fail(field, "the manufacturer has to be asked and the test does not expect it", "write \"ask: yes\" if that is meant")
	}
}

// expect checks that at least one option of a kind has a verdict.
func (t *procTest) expect(field string, k body.TreatmentKind, v decide.Verdict, options []decide.Option) {
	got := "no row speaks of it"
	for _, o := range options {
		if o.Kind != k {
			continue
		}
		if o.Verdict == v {
			return
		}
		got = "it is " + o.Verdict.String() + ": " + o.Because
	}
	t.fail(field, string(k)+" is expected to be "+v.String()+", but "+got, "")
}

func list(words []string) string {
	if len(words) == 0 {
		return "none"
	}
	return strings.Join(words, ", ")
}
