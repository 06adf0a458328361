package revise

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide/fixture"
)

// mutants is a condition with its comparison turned, and with its limit moved
// from included to excluded or back.
func mutants(text string) []string {
	swaps := [][2]string{
		{"<= ", "< "}, {"<= ", "> "}, {"< ", "<= "}, {"< ", ">= "}, {"> ", ">= "}, {"> ", "<= "}, {">= ", "> "}, {">= ", "< "},
		{"only ", "none of "}, {"only ", "any of "}, {"any of ", "none of "}, {"any of ", "only "}, {"none of ", "any of "},
	}
	var out []string
	for _, s := range swaps {
		if rest, ok := strings.CutPrefix(text, s[0]); ok {
			out = append(out, s[1]+rest)
		}
	}
	switch text {
	case "yes":
		return []string{"no"}
	case "no":
		return []string{"yes"}
	}
	if len(out) == 0 && !strings.Contains(text, " ") {
		out = append(out, "not "+text)
	} else if len(out) == 0 {
		out = append(out, "neither "+strings.ReplaceAll(text, " or ", " nor "))
	}
	return out
}

// Turning any comparison of the check procedure makes one of its own tests
// fail.
func TestMutantsOfCheckProcedureFail(t *testing.T) {
	n := 0
	for i, r := range fixture.Procedure().Rows {
		for fact, text := range r.When {
			for _, m := range mutants(text) {
				// Each zone, and each line of a section, is also decided
				// alone: there "only" and "any of" mean the same, so that
				// turning one into the other cannot permit more.
				if strings.HasPrefix(text, "only ") && strings.HasPrefix(m, "any of ") || r.ID == "section" && strings.HasPrefix(m, "only ") {
					continue
				}
				p := fixture.Procedure()
				p.Rows[i].When[fact] = m
				n++
				if ps := TestProcedure(p, 0.95); len(ps) == 0 {
					t.Errorf("row %s, %s: %q in place of %q passes every test", r.ID, fact, m, text)
				}
			}
		}
	}
	if n < 15 {
		t.Errorf("only %d mutants", n)
	}
}

// Losing an allow, a forbid or an ask is noticed as well.
func TestMutantEffectsFail(t *testing.T) {
	for i, r := range fixture.Procedure().Rows {
		drop := map[string]func(*body.Row){
			"allow":  func(r *body.Row) { r.Allow = nil },
			"forbid": func(r *body.Row) { r.Forbid = nil },
			"ask":    func(r *body.Row) { r.Ask = "" },
		}
		has := map[string]bool{"allow": r.Allow != nil, "forbid": r.Forbid != nil, "ask": r.Ask != ""}
		for name, f := range drop {
			p := fixture.Procedure()
			f(&p.Rows[i])
			if has[name] && len(TestProcedure(p, 0.95)) == 0 {
				t.Errorf("row %s without its %s passes every test", r.ID, name)
			}
		}
	}
}

// Every fault of a procedure's tests is told. Source: constructed.
func TestProcedureFaultsAreNamed(t *testing.T) {
	for _, tc := range []struct {
		name, want string
		change     func(*body.Procedure)
	}{
		{"row no test hits", "no test makes this row apply", func(p *body.Procedure) {
			p.Rows = append(p.Rows, body.Row{ID: "new", When: map[string]string{"kind": "bend"}, Allow: []body.TreatmentKind{body.Leave}})
		}},
		{"unknown fact in a row", `"colour" is no fact`, func(p *body.Procedure) { p.Rows[0].When["colour"] = "red" }},
		{"bad condition", "the unit is missing", func(p *body.Procedure) { p.Rows[0].When["length"] = "< 50" }},
		{"unknown fact in a test", `"colour" is no fact`, func(p *body.Procedure) { p.Tests[0].Facts["colour"] = "red" }},
		{"bad value", "fact length: value: the unit is missing", func(p *body.Procedure) { p.Tests[0].Facts["length"] = "20" }},
		{"unexpected allowance", "is allowed and the test does not expect it", func(p *body.Procedure) { p.Tests[0].Expect.Allow = nil }},
		{"missing allowance", "leave is expected to be allowed", func(p *body.Procedure) { p.Tests[0].Expect.Allow = append(p.Tests[0].Expect.Allow, body.Leave) }},
		{"missing ban", "weld is expected to be forbidden", func(p *body.Procedure) { p.Tests[1].Expect.Forbid = []body.TreatmentKind{body.Weld} }},
		{"row that does not apply", "row desk does not apply", func(p *body.Procedure) { p.Tests[0].Expect.Rows = []string{"desk"} }},
		{"unexpected ask", "the manufacturer has to be asked", func(p *body.Procedure) { p.Tests[8].Expect.Ask = false }},
		{"expected ask", "expects to ask the manufacturer", func(p *body.Procedure) { p.Tests[0].Expect.Ask = true }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p := fixture.Procedure()
			tc.change(&p)
			for _, pr := range TestProcedure(p, 0.95) {
				if strings.Contains(pr.String(), tc.want) {
					return
				}
			}
			t.Errorf("nothing says %q: %v", tc.want, TestProcedure(p, 0.95))
		})
	}
}

func TestCheckProcedurePassesItsOwnTests(t *testing.T) {
	for _, p := range TestProcedure(fixture.Procedure(), 0.95) {
		t.Error(p)
	}
}
