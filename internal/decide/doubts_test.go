package decide

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/rule"
)

// Only the manufacturer can settle a doubt where all that is undecided is a length whose tips were
// found sharply, or a value on a limit to the figure: a look by eye, another distance, or a fact
// that is missing can be measured. A row that is decided has no say, wherever it stands.
func TestDoubtsThatNoMeasuringSettles(t *testing.T) {
	length := func(v float64) rule.Value { return rule.NumberValue(v, 2, "mm") }
	tips := func(m body.TipMethod) rule.Value { return rule.TextValue(string(m)) }
	const limit, edge = "<= 24 mm", ">= 10 mm"
	rows := []body.Row{{ID: "break", When: map[string]string{body.FactKind: "break", body.FactLength: limit}, Forbid: []body.TreatmentKind{body.Weld}},
		{ID: "crack", When: map[string]string{body.FactKind: "crack", body.FactLength: limit}, Allow: []body.TreatmentKind{body.Weld}}}
	for name, c := range map[string]struct {
		facts rule.Facts
		edge  bool
		want  bool
	}{
		"sharp":                          {rule.Facts{body.FactLength: length(23), body.FactTips: tips(body.TipPenetrant)}, false, true},
		"by eye":                         {rule.Facts{body.FactLength: length(23), body.FactTips: tips(body.TipVisual)}, false, false},
		"tips not known":                 {rule.Facts{body.FactLength: length(23)}, false, false},
		"by eye, on the limit":           {rule.Facts{body.FactLength: length(24), body.FactTips: tips(body.TipVisual)}, false, true},
		"decided":                        {rule.Facts{body.FactLength: length(10), body.FactTips: tips(body.TipPenetrant)}, false, false},
		"length not known":               {rule.Facts{body.FactTips: tips(body.TipPenetrant)}, false, false},
		"sharp, and the edge is missing": {rule.Facts{body.FactLength: length(23), body.FactTips: tips(body.TipPenetrant)}, true, false},
		"sharp, and the edge in doubt":   {rule.Facts{body.FactLength: length(23), body.FactTips: tips(body.TipPenetrant), body.FactEdge: length(11)}, true, false},
		"sharp, and the edge on a limit": {rule.Facts{body.FactLength: length(23), body.FactTips: tips(body.TipPenetrant), body.FactEdge: length(10)}, true, true},
		"sharp, and the edge is wide":    {rule.Facts{body.FactLength: length(23), body.FactTips: tips(body.TipPenetrant), body.FactEdge: length(40)}, true, true},
	} {
		p := body.Procedure{Rows: []body.Row{rows[0], {ID: rows[1].ID, Allow: rows[1].Allow, When: map[string]string{body.FactKind: "crack", body.FactLength: limit}}}}
		if c.edge {
			p.Rows[1].When[body.FactEdge] = edge
		}
		rs := Compile(p, 0)
		d := decider{rs: rs, view: rs.Look(c.facts.With(body.FactKind, rule.TextValue("crack")).With(body.FactOnCasting, rule.BoolValue(true)).With(body.FactBoltOn, rule.BoolValue(false)))}
		if got := d.onlyTheManufacturer(); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// A finding is on the casting that its part is, or on the one that the inspection found it on.
func TestOnWhichCastingAFindingIs(t *testing.T) {
	s := scene{in: Input{Body: &body.Body{Parts: []body.Part{{ID: "P1"}, {ID: "P2"}}, Castings: []body.Casting{{ID: "one", Part: "P1"}, {ID: "two", Part: "P2"}}}}}
	for _, c := range []struct {
		part    body.PartID
		casting body.CastingID
		want    body.CastingID
	}{{"P1", "", "one"}, {"P2", "", "two"}, {"", "one", "one"}, {"", "two", "two"}, {"", "", ""}, {"P3", "", ""}} {
		sub := s.subject(4, job.Finding{Part: c.part}, inspect.Finding{Casting: c.casting})
		if got := sub.casting; (got == nil) != (c.want == "") || got != nil && got.ID != c.want || (sub.part != nil) != (c.part == "P1" || c.part == "P2") || sub.place != 4 {
			t.Errorf("part %q, casting %q: %+v", c.part, c.casting, got)
		}
	}
}

// A part for whose replacement the body has no treatment is fitted new in one step, of its name: of
// the finding that was accepted, and of no other kind of treatment.
func TestStepOfABareReplacement(t *testing.T) {
	cover, skin := &body.Part{Name: "Cover"}, &body.Part{Name: "Skin"}
	subjects := []*subject{{f: job.Finding{ID: "F1"}, part: cover}, {f: job.Finding{ID: "F2"}, part: skin}, {f: job.Finding{ID: "F3"}}}
	for _, c := range []struct {
		treatments []body.Treatment
		accepted   job.Accepted
		want       string // name of the step; empty: none
	}{
		{nil, job.Accepted{Finding: "F1", Kind: body.ReplacePart}, "Fit new Cover"}, {nil, job.Accepted{Finding: "F2", Kind: body.ReplacePart}, "Fit new Skin"},
		{nil, job.Accepted{Finding: "F3", Kind: body.ReplacePart}, ""}, {nil, job.Accepted{Finding: "F4", Kind: body.ReplacePart}, ""}, {nil, job.Accepted{Finding: "F1", Kind: body.Weld}, ""},
		{[]body.Treatment{{Kind: body.ReplacePart}}, job.Accepted{Finding: "F1", Kind: body.ReplacePart}, ""}, {[]body.Treatment{{Kind: body.Weld}}, job.Accepted{Finding: "F1", Kind: body.ReplacePart}, "Fit new Cover"},
	} {
		s := scene{in: Input{Body: &body.Body{Treatments: c.treatments}}, subjects: subjects}
		got, ok := s.bareReplacement(c.accepted)
		if ok != (c.want != "") || ok && (len(got.Steps) != 1 || got.Steps[0].Name != c.want) {
			t.Errorf("%+v: %+v %v", c.accepted, got, ok)
		}
	}
}

// What the table alone said of an option: of its line, or of all of them; ask where it said nothing.
func TestWhatTheTableAloneSaid(t *testing.T) {
	table := []Option{{Kind: body.SectionOff, Line: "L1", Verdict: Forbidden}, {Kind: body.Weld, Verdict: Undecided}, {Kind: body.SectionOff, Line: "L2", Verdict: Allowed}, {Kind: body.Dress, Verdict: Allowed}}
	for _, c := range []struct {
		kind body.TreatmentKind
		line body.LineID
		want Verdict
	}{{body.SectionOff, "L1", Forbidden}, {body.SectionOff, "L2", Allowed}, {body.SectionOff, "L3", Ask}, {body.SectionOff, "", Ask}, {body.Weld, "", Undecided}, {body.Weld, "L1", Undecided}, {body.Dress, "", Allowed}, {body.Leave, "", Ask}} {
		if got := tableVerdict(table, Option{Kind: c.kind, Line: c.line}); got != c.want {
			t.Errorf("%s along %q: %v", c.kind, c.line, got)
		}
	}
}

// Each answer speaks of its own kinds: what one forbids is forbidden though another allows it, and hides
// nothing of what is said of the kinds after it.
func TestEveryKindOfAnAnswerIsApplied(t *testing.T) {
	s := &scene{in: Input{Body: &body.Body{}, Job: &job.State{}}}
	var options []Option
	for _, k := range []body.TreatmentKind{body.Leave, body.Dress, body.Weld, body.ReplaceCasting} {
		options = append(options, Option{Kind: k, Verdict: Ask})
	}
	answers := []job.Answer{{ID: "A1", Forbid: []body.TreatmentKind{body.Leave, body.Dress}}, {ID: "A2", Allow: []body.TreatmentKind{body.Leave, body.Weld}}}
	want := map[body.TreatmentKind]Verdict{body.Leave: Forbidden, body.Dress: Forbidden, body.Weld: Allowed, body.ReplaceCasting: Ask}
	for _, o := range s.applyAnswers(options, answers, rule.Facts{}) {
		if o.Verdict != want[o.Kind] {
			t.Errorf("%s: %v, want %v", o.Kind, o.Verdict, want[o.Kind])
		}
	}
}

// A question names what evidence goes with it, be it one photo, and speaks of none where there is none.
func TestEvidenceOfAQuestion(t *testing.T) {
	for want, photos := range map[string][]string{"": nil, "\nEvidence: E-1.\n": {"E-1"}, "\nEvidence: E-1, E-2.\n": {"E-1", "E-2"}} {
		w := newWorld()
		w.crack("F1", 9, 1, "CRITICAL-1")
		w.in.Job.Findings[0].Photos = photos
		w.in.Job.Questions = []job.Asked{{ID: "Q", Finding: "F1", On: day(2030, 3, 1), By: "P"}}
		res, _ := Run(w.in)
		if len(res.Questions) != 1 {
			t.Fatalf("%+v", res.Questions)
		}
		if text := res.Questions[0].Text; strings.Contains(text, "Evidence:") != (want != "") || !strings.Contains(text, want) {
			t.Errorf("%q: %s", photos, text)
		}
	}
}
