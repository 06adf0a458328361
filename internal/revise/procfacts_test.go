package revise

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
)

// TestWhatATestExpects: each thing that a test may expect and does not come, and only that, is
// told, in its words and under its name. One row allows welding a crack with a plate of 3 mm, one
// forbids welding and asks about a break. Constructed.
func TestWhatATestExpects(t *testing.T) {
	kinds := func(ks ...body.TreatmentKind) []body.TreatmentKind { return ks }
	rows := []body.Row{{ID: "a", When: when{"kind": "crack"}, Allow: kinds(body.Weld), With: body.Manner{Thickness: 3}},
		{ID: "b", When: when{"kind": "break"}, Forbid: kinds(body.Weld), Ask: "why"}, row("c", when{"kind": "dent"}, body.Dress)}
	good := []body.RowTest{
		{Name: "crack", Facts: map[string]string{"kind": "crack"}, Expect: body.RowExpect{Allow: kinds(body.Weld), Rows: []string{"a"}, With: body.Manner{Thickness: 3}}},
		{Name: "break", Facts: map[string]string{"kind": "break"}, Expect: body.RowExpect{Forbid: kinds(body.Weld), Ask: true, Rows: []string{"b"}}},
		{Name: "dent", Facts: map[string]string{"kind": "dent"}, Expect: body.RowExpect{Allow: kinds(body.Dress)}},
	}
	for _, c := range []struct {
		name   string
		change func(*body.Procedure)
		want   []string // field: message; hint
	}{
		{"all of it", func(*body.Procedure) {}, nil},
		{"an allowance less", func(p *body.Procedure) { p.Tests[0].Expect.Allow = nil },
			[]string{"tests[0] (crack): weld is allowed and the test does not expect it: row a (CP 1)"}},
		{"an allowance more", func(p *body.Procedure) { p.Tests[0].Expect.Allow = kinds(body.Weld, body.Leave) },
			[]string{"tests[0] (crack): leave is expected to be allowed, but no row speaks of it"}},
		{"an allowance that is forbidden", func(p *body.Procedure) { p.Tests[1].Expect.Allow = kinds(body.Weld) },
			[]string{"tests[1] (break): weld is expected to be allowed, but it is forbidden: row b (CP 1)"}},
		{"a ban that is none", func(p *body.Procedure) { p.Tests[0].Expect.Forbid = kinds(body.Weld) },
			[]string{"tests[0] (crack): weld is expected to be forbidden, but it is allowed: row a (CP 1)"}},
		{"a row that does not apply", func(p *body.Procedure) { p.Tests[0].Expect.Rows = []string{"a", "b"} },
			[]string{"tests[0] (crack): row b does not apply; the rows that apply: a"}},
		{"a row where none applies", func(p *body.Procedure) {
			p.Tests = append(p.Tests, body.RowTest{Name: "x", Facts: map[string]string{"kind": "bend"}, Expect: body.RowExpect{Ask: true, Rows: []string{"a"}}})
		}, []string{"tests[3] (x): row a does not apply; the rows that apply: none"}},
		{"no question expected", func(p *body.Procedure) { p.Tests[1].Expect.Ask = false },
			[]string{`tests[1] (break): the manufacturer has to be asked and the test does not expect it; write "ask: yes" if that is meant`}},
		{"a question expected", func(p *body.Procedure) { p.Tests[0].Expect.Ask = true },
			[]string{"tests[0] (crack): the test expects to ask the manufacturer, but no row asks and a treatment is allowed"}},
		{"no row means a question", func(p *body.Procedure) {
			p.Tests = append(p.Tests, body.RowTest{Name: "x", Facts: map[string]string{"kind": "bend"}})
		}, []string{`tests[3] (x): the manufacturer has to be asked and the test does not expect it; write "ask: yes" if that is meant`}},
		{"a row that is never hit", func(p *body.Procedure) { p.Rows = append(p.Rows, row("d", when{"kind": "bend"}, body.Leave)) },
			[]string{"row d: no test makes this row apply; add a test whose facts meet all its conditions"}},
		{"done otherwise", func(p *body.Procedure) { p.Rows[0].With.Thickness = 4 },
			[]string{"tests[0] (crack): it is not done as the test expects: "}},
		{"facts that cannot be read, in the order of their names", func(p *body.Procedure) {
			p.Tests[2].Facts = map[string]string{"kind": "dent", "zeal": "high", "anger": "low", "length": "20"}
		}, []string{`tests[2] (dent): "anger" is no fact`, "tests[2] (dent): fact length: value: the unit is missing", `tests[2] (dent): "zeal" is no fact`, "row c: no test makes this row apply"}},
		{"a fact that there is not", func(p *body.Procedure) { p.Tests[2].Facts["zeal"] = "high" },
			[]string{`tests[2] (dent): "zeal" is no fact`, "row c: no test makes this row apply"}},
		{"a value that cannot be read", func(p *body.Procedure) { p.Tests[2].Facts["length"] = "20" },
			[]string{"tests[2] (dent): fact length: value: the unit is missing", "row c: no test makes this row apply"}},
		{"a finding elsewhere", func(p *body.Procedure) {
			p.Tests[2].Facts["on_casting"] = "no"
		}, []string{"tests[2] (dent): dress is expected to be allowed, but ", "tests[2] (dent): the manufacturer has to be asked", "row c: no test makes this row apply"}},
		{"a condition that cannot be read", func(p *body.Procedure) { p.Rows[2].When["length"] = "short" },
			[]string{"row c: the condition on length cannot be read", "tests[2] (dent): dress is expected to be allowed, but it is undecided", "row c: no test makes this row apply"}},
	} {
		p := body.Procedure{ID: "CHECK", Revision: "B", Rows: slices.Clone(rows), Tests: slices.Clone(good)}
		for i := range p.Tests {
			facts := map[string]string{}
			for k, v := range good[i].Facts {
				facts[k] = v
			}
			p.Tests[i].Facts = facts
		}
		p.Rows[2].When = when{"kind": "dent"}
		for i := range p.Rows {
			p.Rows[i].Cite = "CP 1"
		}
		c.change(&p)
		got := TestProcedure(p, 0.95)
		ok := len(got) == len(c.want)
		for i := 0; ok && i < len(got); i++ {
			text := got[i].Field + ": " + got[i].Msg
			if got[i].Hint != "" {
				text += "; " + got[i].Hint
			}
			ok = strings.HasPrefix(text, c.want[i]) && got[i].File == "procedures/CHECK B"
		}
		if !ok {
			t.Errorf("%s: %+v\nwant %q", c.name, got, c.want)
		}
	}
}
