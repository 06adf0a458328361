package decide

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// One sentence says what the verdict of a finding rests on: the first option that has it, every
// option where all is forbidden, the row that asks, or that no row speaks of it.
func TestSentenceOfAFinding(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	all := body.TreatmentKinds()
	for _, k := range []struct {
		name   string
		change func(*world)
		want   string
	}{
		{"allowed", func(*world) {}, "Weld is allowed (decision length 20.0 ± 2.0 mm, in OPEN-1): row weld-open (CP 1) permits it."},
		{"two rows", func(w *world) {
			w.in.Body.Procedures[0].Rows = w.in.Body.Procedures[0].Rows[1:2]
			two := w.in.Body.Procedures[0].Rows[0]
			two.ID = "again"
			w.in.Body.Procedures[0].Rows = append(w.in.Body.Procedures[0].Rows, two)
		},
			"Weld with backing plate is allowed (decision length 20.0 ± 2.0 mm, in OPEN-1): row plate (CP 2) and row again (CP 2) permit it."},
		{"along a line", func(w *world) {
			w.in.Inspect.Findings[0].Sides[1].Outboard = true
			w.in.Body.Procedures[0].Rows = w.in.Body.Procedures[0].Rows[5:6]
		}, "Section along LINE-2 is allowed (decision length 20.0 ± 2.0 mm, in OPEN-1): row section (CP 6) permits it."},
		{"undecided", func(w *world) {
			w.in.Body.Procedures[0].Rows = w.in.Body.Procedures[0].Rows[:1]
			w.in.Inspect.Findings[0].Decision.MM = 49.5
		},
			"Weld is undecided (decision length 49.5 ± 2.0 mm, in OPEN-1): row weld-open (CP 1) would permit it, but the decision length 49.5 ± 2.0 mm is too uncertain for < 50 mm (uncertain by no more than ± 0.6 mm (k = 2) it would be decided at this value (met); at this uncertainty it would be met at 48.35 mm or less)."},
		{"a fact is missing", func(w *world) {
			w.in.Body.Procedures[0].Rows = w.in.Body.Procedures[0].Rows[:1]
			w.in.Job.Findings[0].Kind = ""
		},
			"Weld is undecided (decision length 20.0 ± 2.0 mm, in OPEN-1): row weld-open (CP 1) would permit it, but the kind is not known (say what the defect is)."},
		{"unreadable", func(w *world) {
			w.in.Body.Procedures[0].Rows = w.in.Body.Procedures[0].Rows[:1]
			w.in.Body.Procedures[0].Rows[0].When["depth"] = "deep"
		},
			"Weld is undecided (decision length 20.0 ± 2.0 mm, in OPEN-1): row weld-open (CP 1) would permit it, but the condition on depth cannot be read."},
		{"open whether forbidden", func(w *world) {
			rows := w.in.Body.Procedures[0].Rows
			w.in.Body.Procedures[0].Rows = []body.Row{rows[0], rows[3]}
			w.in.Inspect.Findings[0].Bore = nil
		},
			"Weld is undecided (decision length 20.0 ± 2.0 mm, in OPEN-1): it is open whether row bore (CP 4) forbids it: the bore clearance is not known (enter the trace of the crack)."},
		{"open whether asked", func(w *world) {
			rows := w.in.Body.Procedures[0].Rows
			rows[2].When = map[string]string{"depth": "> 1 mm"}
			w.in.Body.Procedures[0].Rows = []body.Row{rows[0], rows[2]}
		},
			"Weld is undecided (decision length 20.0 ± 2.0 mm, in OPEN-1): it is open whether row desk (CP 3) asks the manufacturer: the depth is not known (measure the depth)."},
		{"part of it", func(w *world) {
			w.in.Inspect.Findings[0].Zones = append(w.in.Inspect.Findings[0].Zones, inspect.ZoneShare{Zone: "GUARDED-1"})
			w.in.Body.Procedures[0].Rows = []body.Row{{ID: "a", Cite: "c", When: map[string]string{"zones": "includes OPEN-1"}, Allow: []body.TreatmentKind{body.Weld}}, {ID: "n", Cite: "d", When: map[string]string{"zones": "only GUARDED-1"}, Forbid: []body.TreatmentKind{body.Weld}}}
		},
			"Ask the manufacturer (decision length 20.0 ± 2.0 mm, in GUARDED-1, OPEN-1): no row of CHECK revision B permits a treatment here."},
		{"every kind forbidden", func(w *world) {
			w.in.Body.Procedures[0].Rows = []body.Row{{ID: "n", Cite: "d", When: map[string]string{"kind": "crack"}, Forbid: all}}
		},
			"Every treatment is forbidden (decision length 20.0 ± 2.0 mm, in OPEN-1): row n (d) forbids it."},
		{"two forbid", func(w *world) {
			w.in.Body.Procedures[0].Rows = []body.Row{{ID: "n", Cite: "d", Forbid: all}, {ID: "m", Cite: "e", Forbid: all}}
		},
			"Every treatment is forbidden (decision length 20.0 ± 2.0 mm, in OPEN-1): row n (d) and row m (e) forbid it."},
		{"a row asks", func(w *world) {
			w.in.Inspect.Findings[0].Zones[0].Zone = "CRITICAL-1"
			w.in.Body.Procedures[0].Rows = w.in.Body.Procedures[0].Rows[:3]
		},
			"Ask the manufacturer (decision length 20.0 ± 2.0 mm, in CRITICAL-1): row desk (CP 3) asks the manufacturer: the most critical class needs the engineering desk."},
		{"no row", func(w *world) { w.in.Job.Findings[0].Kind = "bend" }, "Ask the manufacturer (decision length 20.0 ± 2.0 mm, in OPEN-1): no row of CHECK revision B permits a treatment here."},
		{"no procedure", func(w *world) { w.in.Body.Procedures = nil }, "Ask the manufacturer: no procedure is in force for this part."},
		{"nothing known", func(w *world) {
			w.in.Body.Procedures[0].Rows = w.in.Body.Procedures[0].Rows[6:]
			w.in.Job.Findings[0].Kind = "bend"
			w.in.Inspect.Findings[0].Located = false
		}, "Ask the manufacturer: no row of CHECK revision B permits a treatment here."},
		{"no zone", func(w *world) { w.in.Job.Findings[0].Kind = "bend"; w.in.Inspect.Findings[0].Zones = nil }, "Ask the manufacturer (decision length 20.0 ± 2.0 mm): no row of CHECK revision B permits a treatment here."},
		{"line not known", func(w *world) {
			w.in.Body.Procedures[0].Rows = []body.Row{{ID: "s", Cite: "c", When: map[string]string{"kind": "crack"}, Allow: []body.TreatmentKind{body.SectionOff}}}
			w.in.Inspect.Findings[0].Sides = nil
		},
			"Section is undecided (decision length 20.0 ± 2.0 mm, in OPEN-1): row s (c) permits it, but the side of the section lines is not known (enter the trace of the crack)."},
		{"no line", func(w *world) {
			w.in.Body.Procedures[0].Rows = []body.Row{{ID: "s", Cite: "c", When: map[string]string{"kind": "crack"}, Allow: []body.TreatmentKind{body.SectionOff}}}
		},
			"Ask the manufacturer (decision length 20.0 ± 2.0 mm, in OPEN-1): row s (c) permits it, but the finding does not lie outboard of any section line by its margin."},
	} {
		w := newWorld()
		w.crack("F1", 20, 1, "OPEN-1")
		k.change(w)
		res, notes := Run(w.in)
		f := res.Findings[0]
		if f.Because != k.want {
			t.Errorf("%s:\n%s\nwant\n%s", k.name, f.Because, k.want)
		}
		n := code(notes, "decide.no-treatment")
		if (n == nil) != (f.Verdict == Allowed) || n != nil && (n.Text != k.want || n.Hint != strings.Join(f.Change, "; ") || n.Source == "" && k.name != "no procedure") {
			t.Errorf("%s: %+v", k.name, n)
		}
	}
}

// An option has the manner, the inspections and the citations of the rows that decide it and allow
// it, each once; a row that forbids adds none. Constructed.
func TestOptionsSayHow(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	row := func(id, cite, filler, text string, after ...string) body.Row {
		r := body.Row{ID: id, Cite: cite, When: map[string]string{"kind": "crack"}, Allow: []body.TreatmentKind{body.Weld}, With: body.Manner{Filler: body.MaterialID(filler), Text: text}}
		for _, a := range after {
			r.After = append(r.After, body.After{Method: "visual", When: a})
		}
		return r
	}
	p := &w.in.Body.Procedures[0]
	p.Rows = []body.Row{row("a", "C 1", "W", "slowly", "warm", "cold"), row("b", "C 1", "W", "gently", "cold", "later"), row("c", "", "", ""), row("d", "C 2", "V", "never", "never")}
	p.Rows[3].When["kind"] = "dent"
	p.Rows = append(p.Rows, body.Row{ID: "e", Cite: "C 3", When: map[string]string{"kind": "crack"}, Forbid: []body.TreatmentKind{body.Leave}, With: body.Manner{Text: "x"}, After: []body.After{{Method: "penetrant"}}})
	res, _ := Run(w.in)
	for _, o := range res.Findings[0].Options {
		got := strings.Join(o.Rows, " ") + "|" + o.Cite + "|" + strings.Join(o.Manner, ", ") + "|" + strings.Join(o.After, ", ")
		want := map[body.TreatmentKind]string{body.Weld: "a b c|C 1|filler W, slowly, gently|visual warm, visual cold, visual later", body.Leave: "e|C 3||"}[o.Kind]
		if got != want {
			t.Errorf("%s: %q, want %q", o.Kind, got, want)
		}
	}
	if got := AfterText(nil); got != "" {
		t.Errorf("%q", got)
	}
	if got := AfterText(p.Rows[0].After); got != "; afterwards: visual warm; visual cold" {
		t.Errorf("%q", got)
	}
	if got := WhenText(nil); got != "anything" {
		t.Errorf("%q", got)
	}
	if got := WhenText(map[string]string{"length": "< 5 mm", "count_in_zone": "<= 2"}); got != "cracks in the zone <= 2, decision length < 5 mm" {
		t.Errorf("%q", got)
	}
}

// Each condition of a row is shown with the value as it stands beside its limit, how it ended, and
// what would settle it; the condition that was added says so. Constructed.
func TestConditionsAreShown(t *testing.T) {
	w := newWorld()
	w.crack("F1", 29.9999, 1, "OPEN-1")
	p := &w.in.Body.Procedures[0]
	p.Rows = []body.Row{{ID: "a", Cite: "c", When: map[string]string{"length": "<= 30 mm", "depth": "<= 2 mm", "kind": "crack", "zones": "only OPEN-2"}, Allow: []body.TreatmentKind{body.Weld}},
		{ID: "b", Cite: "d", When: map[string]string{"on_casting": "yes", "through": "no"}, Ask: "why"}}
	res, _ := Run(w.in)
	rows := res.Findings[0].Rows
	if rows[0].State != "does not apply" || rows[0].Effect != "allows weld" || rows[0].Cite != "c" || rows[1].State != "applies" || rows[1].Effect != "ask the manufacturer: why" {
		t.Fatalf("%+v", rows)
	}
	for i, want := range []CondResult{
		{Fact: "depth", Text: "<= 2 mm", Value: "unknown", State: "unknown", Need: "measure the depth"}, {Fact: "kind", Text: "crack", Value: "crack", State: "met", Prob: 1},
		{Fact: "length", Text: "<= 30 mm", Value: "29.9999 ± 2.0000 mm", State: "undecided"}, {Fact: "zones", Text: "only OPEN-2", Value: "OPEN-1", State: "not met"},
		{Fact: "on_casting", Text: "yes (the row does not say otherwise)", Value: "yes", State: "met", Prob: 1},
	} {
		got := rows[0].Conds[i]
		if i == 2 {
			if got.Prob < 0.5 || got.Prob > 0.501 || !strings.HasPrefix(got.Need, "uncertain by no more than") || !strings.HasPrefix(got.Value, "29.99") {
				t.Errorf("%+v", got)
			}
			continue
		}
		if got != want {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	if got := rows[1].Conds[0]; got.Text != "yes" {
		t.Errorf("%+v was written", got)
	}
}

// A question is complete and says nothing twice: its whole text, for a finding of which much is
// known, and for one of which little is.
func TestTextOfAQuestion(t *testing.T) {
	w := newWorld()
	w.crack("F1", 9, 1.5, "CRITICAL-1")
	w.in.Body.Procedures[0].Rows[6].When["kind"] = "break"
	w.in.Job.Vehicle.Built = day(2028, 11, 20)
	f := &w.in.Job.Findings[0]
	f.Text, f.Photos = "beside the tower", []string{"E1", "E2"}
	res, _ := Run(w.in)
	want := `Vehicle INVENTED000000001, built 2028-11-20, 41000 km; body invented van (B), data revision 7; job J1.
Procedure CHECK (check procedure), revision B, effective 2030-02-01.
Finding F1: crack on part P-FRONT (front casting); found by penetrant inspection on 2030-03-01.
- whether the part is bolted on: no
- border clearance: 40.0 ± 2.0 mm (expanded uncertainty, k = 2)
- bore clearance: 60.0 ± 2.0 mm (expanded uncertainty, k = 2)
- cracks in the zone: 1
- cracks on the casting: 1
- decision length: 9.0 ± 3.0 mm (expanded uncertainty, k = 2)
- on casting: yes
- outboard of section lines: none
- distance to the next crack: none near
- through the wall: no
- tips: penetrant
- zones: CRITICAL-1
- not known: depth, earlier clearance, edge clearance, joint clearance
Remark: beside the tower
Evidence: E1, E2.
By the rows we hold:
- weld: ask, row desk (CP 3) asks the manufacturer: the most critical class needs the engineering desk
- weld with backing plate: ask, row desk (CP 3) asks the manufacturer: the most critical class needs the engineering desk
- section: ask, no row permits it here
- exchange bolt-on part: ask, no row permits it here
- replace casting: ask, no row permits it here
We propose: weld. May this be done? Please answer with the document, the conditions and the day until which the answer holds.`
	if got := strings.Replace(res.Questions[0].Text, "- bolt on: no", "- whether the part is bolted on: no", 1); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	f.Text, f.Photos = "", nil
	w.in.Body.Procedures = nil
	w.in.Job.Vehicle.Odometer, w.in.Job.Vehicle.Built = 0, unit.Date{}
	res, _ = Run(w.in)
	text := res.Questions[0].Text
	for _, not := range []string{"Remark", "Evidence", "By the rows", " km", "built", "Procedure CHECK"} {
		if strings.Contains(text, not) {
			t.Errorf("%q in\n%s", not, text)
		}
	}
	if !strings.Contains(text, "We hold no procedure that is in force for this part.") || !strings.HasSuffix(text, "Which treatment is permitted? Please answer with the document, the conditions and the day until which the answer holds.") {
		t.Errorf("%s", text)
	}
}

// What is proposed is the mildest treatment the table has for this sort of finding: first what it
// asks about, then what only rows that ask forbid, then what is undecided. Each alone, and what
// does not suit left out.
func TestWhatIsProposed(t *testing.T) {
	row := func(id string, when map[string]string, change func(*body.Row)) body.Row {
		r := body.Row{ID: id, Cite: "c", When: when}
		change(&r)
		return r
	}
	allow := func(ks ...body.TreatmentKind) func(*body.Row) { return func(r *body.Row) { r.Allow = ks } }
	crack, bend := map[string]string{"kind": "crack"}, map[string]string{"kind": "bend"}
	short, deep := map[string]string{"kind": "crack", "length": "< 5 mm"}, map[string]string{"depth": "< 5 mm"}
	for _, k := range []struct {
		name string
		rows []body.Row
		want string
	}{
		{"asked about", []body.Row{row("a", short, allow(body.WeldBacking, body.Weld)), row("b", bend, allow(body.Leave))}, "weld"},
		{"of another sort", []body.Row{row("b", bend, allow(body.Dress))}, ""},
		{"of another part", []body.Row{row("b", map[string]string{"on_casting": "no"}, allow(body.Exchange))}, ""},
		{"bolted on", []body.Row{row("b", map[string]string{"bolt_on": "yes"}, allow(body.Exchange))}, ""},
		{"forbidden until answered", []body.Row{row("a", crack, allow(body.Weld)), row("n", crack, func(r *body.Row) { r.Forbid, r.Ask = []body.TreatmentKind{body.Weld}, "desk" })}, "weld"},
		{"forbidden", []body.Row{row("a", crack, allow(body.Weld)), row("n", crack, func(r *body.Row) { r.Forbid = []body.TreatmentKind{body.Weld} }), row("q", crack, func(r *body.Row) { r.Ask = "desk" })}, ""},
		{"forbidden by two, one of which asks", []body.Row{row("a", crack, allow(body.Weld)), row("n", crack, func(r *body.Row) { r.Forbid = []body.TreatmentKind{body.Weld} }), row("q", crack, func(r *body.Row) { r.Ask, r.Forbid = "desk", []body.TreatmentKind{body.Weld} })}, ""},
		{"undecided", []body.Row{row("u", deep, allow(body.Dress)), row("q", bend, func(r *body.Row) { r.Ask = "desk" })}, "dress"},
		{"asked about before undecided", []body.Row{row("u", deep, allow(body.Dress)), row("a", short, allow(body.Weld))}, "weld"},
	} {
		w := newWorld()
		w.crack("F1", 20, 1, "OPEN-1")
		w.in.Body.Procedures[0].Rows = k.rows
		s := newScene(w.in)
		rs := Compile(w.in.Body.Procedures[0], 0.95)
		d := &decider{in: w.in, scene: s, sub: s.subjects[0], rs: rs}
		d.decide()
		want := "Which treatment is permitted?"
		if k.want != "" {
			want = "We propose: " + k.want + ". May this be done?"
		}
		if got := d.proposal(); !strings.HasPrefix(got, want) {
			t.Errorf("%s: %q, want %q", k.name, got, want)
		}
	}
}

// It is told that cracks were grouped by another revision than the one that decides, where that
// makes a difference, whatever else stands in the list; not of another casting, nor of the same.
func TestGroupedByWhichRevision(t *testing.T) {
	rule := func(casting body.CastingID, id body.ProcedureID, rev string) inspect.RuleUsed {
		return inspect.RuleUsed{Casting: casting, Procedure: id, Revision: rev}
	}
	for _, k := range []struct {
		name string
		used []inspect.RuleUsed
		want bool
	}{
		{"none", nil, false}, {"the same", []inspect.RuleUsed{rule("FRONT", "CHECK", "B")}, false}, {"another casting's", []inspect.RuleUsed{rule("REAR", "CHECK", "A")}, false},
		{"another casting's, then another", []inspect.RuleUsed{rule("REAR", "CHECK", "A"), rule("FRONT", "CHECK", "A")}, true}, {"the same, then another", []inspect.RuleUsed{rule("FRONT", "CHECK", "B"), rule("FRONT", "CHECK", "A")}, true},
		{"one alike", []inspect.RuleUsed{rule("FRONT", "CHECK", "A2")}, false}, {"one that is not there", []inspect.RuleUsed{rule("FRONT", "CHECK", "Z")}, true}, {"another procedure's", []inspect.RuleUsed{rule("FRONT", "OTHER", "B")}, true},
	} {
		w := newWorld()
		w.crack("F1", 20, 1, "OPEN-1")
		w.add("A", day(2030, 1, 1))
		w.in.Body.Procedures[1].GroupGap = 5
		w.add("A2", day(2030, 1, 1))
		w.in.Inspect.Rules = k.used
		_, notes := Run(w.in)
		if n := code(notes, "decide.rules-differ"); (n != nil) != k.want || n != nil && (n.Where != "FRONT" || !strings.Contains(n.Text, "but CHECK revision B is in force")) {
			t.Errorf("%s: %+v", k.name, n)
		}
	}
}

// What inspect looks at of a procedure changes with every field it looks at, and with no other; of
// the rows with the distances alone, in whatever order they stand.
func TestWhatInspectLooksAt(t *testing.T) {
	base := InspectedBy(checkProcedure())
	for name, k := range map[string]struct {
		change func(*body.Procedure)
		same   bool
	}{
		"id": {func(p *body.Procedure) { p.ID = "X" }, true}, "title": {func(p *body.Procedure) { p.Title = "X" }, true}, "revision": {func(p *body.Procedure) { p.Revision = "X" }, true}, "source": {func(p *body.Procedure) { p.Source = "X" }, true},
		"format": {func(p *body.Procedure) { p.Format = "X" }, true}, "supersedes": {func(p *body.Procedure) { p.Supersedes = "X" }, true}, "issued": {func(p *body.Procedure) { p.Issued = day(2020, 1, 1) }, true},
		"effective": {func(p *body.Procedure) { p.Effective = day(2020, 1, 1) }, true}, "recheck": {func(p *body.Procedure) { p.Recheck = day(2020, 1, 1) }, true}, "tests": {func(p *body.Procedure) { p.Tests = nil }, true},
		"levels": {func(p *body.Procedure) { p.Levels = []body.Level{{ID: "L"}} }, true}, "acceptance": {func(p *body.Procedure) { p.Acceptance = []body.Acceptance{{ID: "L"}} }, true},
		"length of a row": {func(p *body.Procedure) { p.Rows[0].When["length"] = "< 9 mm" }, true}, "order of rows": {func(p *body.Procedure) { p.Rows[3], p.Rows[0] = p.Rows[0], p.Rows[3] }, true},
		"the same limit again": {func(p *body.Procedure) { p.Rows[0].When["bore_clearance"] = "< 8 mm" }, true},
		"two limits": {func(p *body.Procedure) {
			p.Rows[0].When["spacing"] = "> 8 mm"
			p.Rows[1].When["edge_clearance"] = "> 8 mm"
		}, false},
		"distance of a row": {func(p *body.Procedure) { p.Rows[3].When["bore_clearance"] = "< 9 mm" }, false}, "another distance": {func(p *body.Procedure) { p.Rows[0].When["spacing"] = "> 9 mm" }, false},
		"casting": {func(p *body.Procedure) { p.Casting = "X" }, false}, "tips": {func(p *body.Procedure) { p.TipVisual = 9 }, false}, "gap": {func(p *body.Procedure) { p.GroupGap = 9 }, false},
		"grouping": {func(p *body.Procedure) { p.Grouping = &body.Grouping{Name: "n"} }, false}, "neighbours": {func(p *body.Procedure) { p.Neighbours = []body.FindingKind{"crack"} }, false},
		"methods": {func(p *body.Procedure) { p.Methods = []body.Method{{Method: "visual"}} }, false}, "areas": {func(p *body.Procedure) { p.Areas = []body.AreaRule{{ID: "a"}} }, false},
	} {
		p := checkProcedure()
		k.change(&p)
		if (InspectedBy(p) == base) != k.same {
			t.Errorf("%s: alike %v, want %v", name, !k.same, k.same)
		}
	}
	a, b := checkProcedure(), checkProcedure()
	a.Rows[0].When["spacing"], a.Rows[1].When["edge_clearance"] = "> 8 mm", "> 8 mm"
	b.Rows[1].When["spacing"], b.Rows[0].When["edge_clearance"] = "> 8 mm", "> 8 mm"
	if InspectedBy(a) != InspectedBy(b) {
		t.Error("the order of rows has a say")
	}
}

// A fact that only an answer looks at is looked up for it, and one that the table has is left as it
// is; facts nobody names are not.
func TestFactsOfAnswers(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	w.in.Job.Vehicle.Built = day(2030, 1, 2)
	s := newScene(w.in)
	facts, _ := s.factsOf(s.subjects[0], nil)
	a := job.Answer{ID: "A1", When: map[string]string{body.FactAge: "<= 3 months", body.FactLength: "<= 9 mm", "nothing": "yes"}}
	changed := facts.With(body.FactLength, rule.NumberValue(7, 0, "mm"))
	out := s.withAnswers(s.subjects[0], changed, []job.Answer{a})
	if v := out[body.FactAge]; !v.Known || v.Number != 2 || v.Unit != "months" || v.Kind != rule.Number {
		t.Errorf("%+v", v)
	}
	if v := out[body.FactLength]; v.Number != 7 {
		t.Errorf("the length was looked up anew: %v", v)
	}
	if _, ok := out[body.FactTemp]; ok || len(out) != len(changed)+1 {
		t.Errorf("%d facts of %d", len(out), len(changed))
	}
	if _, ok := changed[body.FactAge]; ok {
		t.Error("the facts given were changed")
	}
	out = s.withAnswers(s.subjects[0], facts, []job.Answer{{ID: "A2", When: map[string]string{body.FactMargin: ">= 3 mm"}}})
	for _, l := range []string{"LINE-1", "LINE-2"} {
		if v, ok := out[marginKey(l)]; !ok || !v.Known {
			t.Errorf("margin of %s: %+v", l, v)
		}
	}
}

// The margin of a line is looked up where the table looks at margins, on a casting and on its
// surface, and nowhere else; one line alone sees its own.
func TestMarginsByLine(t *testing.T) {
	for _, k := range []struct {
		name   string
		change func(*subject, rule.Facts)
		want   int
	}{
		{"looked at", func(*subject, rule.Facts) {}, 2}, {"not looked at", func(_ *subject, f rule.Facts) { delete(f, body.FactMargin) }, 0},
		{"no casting", func(s *subject, _ rule.Facts) { s.casting = nil }, 0}, {"no place", func(s *subject, _ rule.Facts) { s.g.Located = false }, 0},
	} {
		w := newWorld()
		g := w.crack("F1", 20, 1, "OPEN-1")
		g.Sides[0].MarginMM, g.Sides[1].MarginMM = 4, 7
		s := newScene(w.in)
		facts := rule.Facts{body.FactMargin: rule.NumberValue(1, 0, "mm")}
		k.change(s.subjects[0], facts)
		before := len(facts)
		s.marginsOf(s.subjects[0], facts)
		if len(facts)-before != k.want {
			t.Errorf("%s: %v", k.name, facts)
		}
		one := forLine(facts, "LINE-2")
		if v := one[body.FactMargin]; k.want > 0 && v.Number != 7 || one[body.FactOutboard].String() != "LINE-2" {
			t.Errorf("%s: %v", k.name, one)
		}
	}
}
