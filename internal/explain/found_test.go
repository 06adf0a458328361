package explain

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/report"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// smallInput is a job of hardly anything.
func smallInput() report.Input {
	return report.Input{Body: &body.Body{}, Shop: &shop.Shop{Currency: "EUR"}, Job: &job.State{}}
}

// why is the reasons of the one thing of a kind and name.
func (n *Names) only(t *testing.T, kind thingKind, name string) Reason {
	t.Helper()
	var found []thing
	for _, x := range n.things {
		if x.Kind == kind && x.names[0] == name {
			found = append(found, x)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%s %s: %d things", kind, name, len(found))
	}
	return found[0].why()
}

func TestOfQuestions(t *testing.T) {
	n := &Names{In: smallInput(), all: []written{{kind: kindFinding, names: []string{"F1"}, at: "job.yaml:3"}, {kind: kindControlPoint, names: []string{"P1"}, at: "points.csv:2"}, {kind: kindControlPoint, names: []string{"F2"}, at: "points.csv:9"}, {kind: kindZone, names: []string{"F1"}, at: "x"}}}
	n.In.Decide = decide.Result{
		Questions: []decide.Question{{ID: "Q1", Finding: "F1", State: decide.ToBeSent, Text: "May it\nbe welded?"}, {ID: "Q2", Point: "P1", State: decide.Answered, Asked: march(2), Answer: march(3), By: "desk", Expires: march(30)}},
		Offers:    []decide.Question{{ID: "Q3", Finding: "F2", State: decide.Waiting, Asked: march(4)}},
		Findings:  []decide.Finding{{ID: "F1", Verdict: decide.Ask, Because: "No row."}, {ID: "F9", Verdict: decide.Ask}},
	}
	n.addQuestions()
	said(t, "to be sent", "Q1, about F1: to be sent.\n. Its text\n. . May it\n. . be welded?\n. Verdict on F1: ask. No row.\n. About finding F1 (job.yaml:3)", n.only(t, kindQuestion, "Q1"))
	said(t, "of a point", "Q2, about P1: answered.\n. Sent on 2026-03-02\n. Answered on 2026-03-03 by desk; holds until 2026-03-30\n. Its text\n. About control point P1 (points.csv:2)", n.only(t, kindQuestion, "Q2"))
	said(t, "an offer", "Q3, about F2: sent, no answer yet.\n. It need not be asked: another treatment is allowed. A milder one waits for the answer.\n. Sent on 2026-03-04\n. Its text\n. About control point F2 (points.csv:9)", n.only(t, kindQuestion, "Q3"))
}

func TestOfKindsFactsAndNotes(t *testing.T) {
	n := &Names{In: smallInput(), Picked: "R", all: []written{{kind: kindHazard, bare: true, names: []string{"airbag"}, at: "job.yaml:5", fields: []writtenField{{name: "kind", text: "airbag"}}}}}
	fact := body.FactDefs()[0]
	n.In.Decide.Findings = []decide.Finding{{ID: "F1", Options: []decide.Option{{Kind: body.Weld, Because: "R1."}}, Facts: []decide.Fact{{Name: fact.Name, Value: "5", Known: true, From: "trace"}, {Name: "other", Value: "6"}}}, {ID: "F2", Facts: []decide.Fact{{Name: fact.Name, Value: "0", From: "nothing"}}}}
	n.In.Compare.Routes = []compare.Route{{ID: "R", Plan: plan.Plan{Steps: []plan.Step{{ID: "S-1", Name: "Isolate", Cite: "p. 1", Cautions: []body.Caution{"airbag"}}, {ID: "S-2"}}}}}
	n.In.Notes = []diag.Note{{Code: "a.b", Where: "F1", Text: "T"}, {Code: "a.b", Where: "F2", Text: "U"}, {Code: "c.d", Where: "F3", Text: "V"}}
	n.In.Measure.Notes = []diag.Note{{Code: "m.n", Where: "P1", Text: "W"}, {Code: "a.b", Where: "P1", Text: "W"}}
	n.addFacts()
	n.addKinds()
	n.addNotes()
	spaced := strings.ReplaceAll(fact.Name, "_", " ")
	said(t, "a fact", spaced+": "+fact.Help+".\n. Where it is not known: "+fact.Get+"\n. F1: 5 (trace)\n. F2: not known (nothing)", n.only(t, "fact", fact.Name))
	said(t, "a treatment", "weld, for each finding that a row or an answer speaks of it.\n. F1, weld: ask. R1.", n.only(t, "kind of treatment", "weld"))
	said(t, "another", "dress, for each finding that a row or an answer speaks of it.", n.only(t, "kind of treatment", "dress"))
	said(t, "a danger", report.CautionTitle("airbag")+" (airbag).\n. hazard: kind: airbag (job.yaml:5)\n. At S-1 Isolate [p. 1]", n.only(t, "caution", "airbag"))
	info := diag.Note{}.Severity.String()
	said(t, "notes", "Notes a.b.\n. F1: "+info+", a.b: T\n. F2: "+info+", a.b: U", n.only(t, "note", "a.b"))
	said(t, "a note of the measurement", "Notes m.n.", n.only(t, "note", "m.n"))
}

// Chances, tenths, drivers and looks of a spread, down to the risks and spreads it is drawn with.
func TestOfASpread(t *testing.T) {
	n := &Names{In: smallInput(), all: []written{{kind: kindSpread, names: []string{"hours"}, at: "shop.yaml:9", fields: []writtenField{{name: "id", text: "hours"}, {name: "source", text: "own jobs"}}}, {kind: kindRisk, names: []string{"RK"}, at: "job.yaml:7", fields: []writtenField{{name: "id", text: "RK"}}}, {kind: kindZone, names: []string{"Z"}}}}
	n.addSpread()
	if len(n.things) > 0 {
		t.Errorf("nothing was drawn: %+v", n.things)
	}
	n.In.Job.Risks = []job.Risk{{ID: "RK", Text: "It runs on", By: "W", On: march(3)}}
	n.In.Compare.Spread = &compare.Spread{Draws: 100, Seed: 0xab, Perfect: 500, Left: []string{"salvage is as it stands"}, Drivers: []compare.Driver{{Name: "hours"}, {Name: "RK"}}, Days: []compare.DayDriver{{Name: "RK"}, {Name: "answer"}},
		Looks: []compare.LookWorth{{Risks: []string{"RK"}, Text: "Look first", Gain: 200, Price: 50, Changes: 0.25}}}
	n.addSpread()
	seed := "100 draws with seed ab (171), made of the hashes of the inputs."
	said(t, "the seed", seed, n.only(t, "seed", "ab"))
	from := ". " + seed + "\n. From spread: id: hours, source: own jobs [own jobs] (shop.yaml:9)\n. From risk: id: RK (job.yaml:7)\n. salvage is as it stands"
	said(t, "chances", "How often, in the draws, a route turns out the cheapest, and a total loss by the rule that applies.\n"+from, n.only(t, "chance", "chance"))
	if got := strings.Join(drivenBy(n.In.Compare.Spread), " "); got != "hours RK answer" {
		t.Errorf("driven by %s", got)
	}
	look := n.only(t, "look", "Look first")
	if len(look.Under) != 2 || look.Under[0].Text != "Gain 2.00 EUR before the price of 0.50; another route is taken in 25.0 % of the draws; perfect knowledge would be worth 5.00." || !strings.HasPrefix(look.Under[1].Text, "RK: It runs on") || len(look.Under[1].Under) < 3 {
		t.Errorf("%s", lines(look))
	}
}

// The bill against the one that was agreed, and the work so far, each told only where there is one.
func TestOfASupplementAndWorkSoFar(t *testing.T) {
	n := &Names{In: smallInput(), Picked: "weld"}
	n.addSupplement()
	n.addDone()
	if len(n.things) > 0 {
		t.Errorf("nothing was agreed or done: %+v", n.things)
	}
	eur := func(v unit.Minor) unit.Money { return unit.Money{Minor: v, Currency: "EUR"} }
	n.In.Job.Agreed = []job.Agreed{{Number: 1, Route: "weld", Net: eur(300), Total: eur(300), On: march(2), Finish: march(9), Lines: []job.AgreedLine{{ID: "L-a", Sum: eur(100), Price: eur(50)}, {ID: "P-x", Sum: eur(200)}}, Work: []job.AgreedStep{{Step: "T/weld", Skill: "a", Minutes: 30}}}}
	n.In.Compare.Routes = []compare.Route{{ID: "weld", Name: "Weld", Bill: cost.Bill{Currency: "EUR", Complete: true, Total: 350, Lines: []cost.Line{{ID: "L-a", Kind: cost.LineLabour, Text: "Work", Sum: 150, Price: 75}, {ID: "P-y", Kind: cost.LineParts, Text: "Clip", Sum: 200}}},
		Plan: plan.Plan{Finish: march(9), Steps: []plan.Step{{ID: "S-1", Ref: "T/saw", Name: "Saw", Skill: "a", Minutes: 20}}}}}
	n.In.Job.Actuals = []job.Actual{{Step: "Saw", Minutes: 25, By: "W", On: march(3)}}
	n.all = []written{{kind: kindRecord, names: []string{"W1"}, at: "job.yaml:9", fields: []writtenField{{name: "step", text: "Saw", at: "job.yaml:9"}}}, {kind: kindJob, fields: []writtenField{{name: "vehicle.value", text: "9 EUR", at: "job.yaml:2"}, {name: "vehicle.salvage", text: "1 EUR", at: "job.yaml:3"}, {name: "vehicle.vin", text: "V"}}}, {kind: kindShop, fields: []writtenField{{name: "vehicle.value", text: "8 EUR"}}}}
	n.addSupplement()
	n.addDone()
	x := n.only(t, "supplement", "supplement 1")
	said(t, "what differs", `
Against bill 1, of route weld: 3.00 (job.yaml)
L-a Work: 1.50 instead of 1.00, a difference of 0.50
. the price of one is 0.75 instead of 0.50; -0.25 fall away; 0.25 are new
P-x no longer needed: 0.00 instead of 2.00, a difference of -2.00
P-y Clip: 2.00 instead of 0.00, a difference of 2.00
Falls away: T/weld, 30 min, a
Falls away: P-x, 2.00
Is new: T/saw Saw, 20 min, a
Is new: P-y Clip, 2.00
Against vehicle.value: 9 EUR (job.yaml:2)
Against vehicle.salvage: 1 EUR (job.yaml:3)`, x.Under...)
	done := n.only(t, "work so far", "work so far")
	if len(done.Under) < 2 || lines(done.Under[len(done.Under)-1]) != "As it is written (job.yaml:9)\n. step: Saw" {
		t.Errorf("%s", lines(done))
	}
}

// Absences, equipment and work are of the one that is asked for alone.
func TestOfPeopleBaysAndEquipment(t *testing.T) {
	n := &Names{In: smallInput(), Picked: "R"}
	n.In.Shop.Absences = []shop.Absence{{Person: "W1", From: march(2), To: march(3), Reason: "ill"}, {Bay: "B1", From: march(4), Reason: "closed"}}
	n.In.Compare.Routes = []compare.Route{{ID: "R", Plan: plan.Plan{Steps: []plan.Step{{ID: "S-1", Name: "Saw", Person: "W1", BayID: "B2", Equipment: []string{"saw"}, From: at(2, 8), To: at(2, 9)}, {ID: "S-2", Name: "Weld", Person: "W2", BayID: "B1", From: at(3, 8), To: at(3, 9)}}}}}
	n.read = []Read{{ID: "E1", Bytes: 7, SHA256: "ab"}}
	n.In.Decide.Procedures = []decide.InForce{{Procedure: "TB", Revision: "2", Casting: "C", Title: "T", Effective: march(1), Recheck: march(9), CheckedOn: march(2)}, {Procedure: "TC", Revision: "2", Why: "not looked up"}}
	n.In.Inspect.Inspections = []inspect.Judged{{ID: "I1", Casting: "C", Counts: true}, {ID: "I2", Casting: "C", Why: []string{"signed by nobody"}}}
	revision := []writtenField{{name: "revision", text: "2"}}
	for _, c := range []struct {
		w    written
		want string
	}{
		{written{kind: kindPerson, names: []string{"W1"}}, "It is away from 2026-03-02 to 2026-03-03 (ill): nothing is planned for it then\nS-1 Saw, Mon 2026-03-02 08:00 to Mon 09:00"},
		{written{kind: kindPerson, names: []string{"W2"}}, "S-2 Weld, Tue 2026-03-03 08:00 to Tue 09:00"},
		{written{kind: kindBay, names: []string{"B1"}}, "It is away from 2026-03-04 on (closed): nothing is planned for it then\nS-2 Weld, Tue 2026-03-03 08:00 to Tue 09:00"},
		{written{kind: kindEquipment, names: []string{"saw"}}, "Needed at S-1 Saw"},
		{written{kind: kindEquipment, names: []string{"vice"}}, ""},
		{written{kind: kindEvidence, names: []string{"E1"}}, "As it was read: 7 bytes, SHA-256 ab"},
		{written{kind: kindEvidence, names: []string{"E2"}}, ""},
		{written{kind: kindProcedure, names: []string{"TB"}, fields: revision}, "In force for C: T, effective 2026-03-01, to be looked up again before 2026-03-09, last looked up 2026-03-02"},
		{written{kind: kindProcedure, names: []string{"TC"}, fields: revision}, "In force for : , effective , to be looked up again before , last looked up ; not looked up"},
		{written{kind: kindProcedure, names: []string{"TB"}}, ""},
		{written{kind: kindInspection, names: []string{"I3"}}, ""},
		{written{kind: kindEarlier, names: []string{"I3"}}, ""},
	} {
		said(t, string(c.w.kind)+" "+c.w.names[0], c.want, n.found(c.w)...)
	}
	for id, want := range map[string]string{"I1": "It counts for C", "I2": "It does not count for C"} {
		x := n.found(written{kind: kindInspection, names: []string{id}})
		if len(x) != 1 || x[0].Text != want || id == "I2" && !strings.HasSuffix(lines(x...), "signed by nobody") {
			t.Errorf("%s: %s", id, lines(x...))
		}
	}
}

// How values of documents stand in one line, and what names what.
func TestWrittenInOneLine(t *testing.T) {
	object := func(pairs ...any) doc.Object {
		var o doc.Object
		for i := 0; i < len(pairs); i += 2 {
			o = append(o, doc.Member{Name: pairs[i].(string), Value: pairs[i+1]})
		}
		return o
	}
	for _, c := range []struct {
		v    any
		want string
	}{{true, "yes"}, {false, "no"}, {7, "7"}, {"x", "x"}, {[]any{"a", true}, "a, yes"}, {[]any{}, ""}, {[]any{[]any{1, 2}, []any{3}}, "[1, 2; 3]"}, {object("a", 1, "b", []any{"c"}), "{a: 1, b: c}"}} {
		if got := flow(c.v); got != c.want {
			t.Errorf("%v: %q, want %q", c.v, got, c.want)
		}
	}
	if got := namesIn([]any{object("along_mm", 5, "id", "A", "name", "x"), object("id", "B")}); got != "A, B" {
		t.Errorf("named %q", got)
	}
	point := written{at: "r.csv:2", fields: []writtenField{{name: "setup", text: "S1"}, {name: "from", text: "P1"}, {name: "kind", text: "point"}}}
	tram := written{at: "r.csv:3", fields: append(point.fields[:2:2], writtenField{name: "to", text: "P2"}, writtenField{name: "kind", text: "tram"})}
	if got := strings.Join(append(readingNames(point), readingNames(tram)...), "; "); got != "S1 P1; r.csv:2; S1 P1–P2; tram P1–P2 (S1); tram P1–P2; r.csv:3" {
		t.Errorf("readings are named %q", got)
	}
}

// An entry names a thing by a field that refers to its kind, itself not counted; people sign with a
// word before their name.
func TestWhatNamesWhat(t *testing.T) {
	entry := func(kind thingKind, name, field, text string) written {
		return written{kind: kind, names: []string{name}, at: "f:1", fields: []writtenField{{name: field, text: text, at: "f:2"}}}
	}
	bare := entry("absence", "", "bay", "B1, B2")
	bare.bare = true
	all := []written{entry(kindFinding, "F1", "part", "P1"), entry(kindFinding, "F2", "part", "P10"), entry(kindTest, "T1", "part", "P1"), entry(kindReading, "R1", "from", "P1"), entry(kindPart, "P1", "parts", "P1; P2"), entry(kindZone, "Z", "name", "P1"),
		entry("review", "V", "reviewed.by", "painter W1"), entry("review", "V2", "by", "W1 painter"), bare, entry(kindJoint, "J", "layers", "[P2; P1]"), entry(kindEvidence, "E", "recorded_by", "W1")}
	for _, c := range []struct {
		kind       thingKind
		name, want string
	}{
		{kindPart, "P1", "finding F1, as its part (f:2)\njoint J, as its layers (f:2)"},
		{kindPart, "P2", "part P1, as its parts (f:2)\njoint J, as its layers (f:2)"},
		{kindControlPoint, "P1", ""},
		{kindPerson, "W1", "review V, as its reviewed.by (f:2)\nevidence E, as its recorded by (f:2)"},
		{kindBay, "B2", "absence: bay: B1, B2 (f:1)"},
		{kindZone, "P1", ""},
	} {
		said(t, string(c.kind)+" "+c.name, c.want, mentions(all, c.kind, []string{c.name})...)
	}
	n := &Names{In: smallInput(), all: all}
	n.In.Notes = []diag.Note{{Code: "a.b", Where: "P1", Text: "T"}, {Code: "a.b", Where: "P2", Text: "U"}}
	said(t, "all of it", "Named by\n. finding F1, as its part (f:2)\n. joint J, as its layers (f:2)\n"+diag.Note{}.Severity.String()+", a.b: T", n.named(kindPart, []string{"P1"})...)
	said(t, "with how it is written", "It (f:1)\n. As it is written (f:1)\n. . parts: P1; P2 (f:2)\n. Named by\n. . finding F1, as its part (f:2)\n. . joint J, as its layers (f:2)\n. "+diag.Note{}.Severity.String()+", a.b: T", n.with(plainly("It"), kindPart, "P1"))
	said(t, "which stands nowhere", "It\n. Named by\n. . finding F2, as its part (f:2)", n.with(plainly("It"), kindPart, "P10"))
	said(t, "where it says so itself", "It (g:7)\n. As it is written (f:1)\n. . part: P10 (f:2)", n.with(Reason{Said: diag.Said{Text: "It"}, At: "g:7"}, kindFinding, "F2"))
}

// Points, findings and groups of which nothing, or not all, is known say so.
func TestOfWhatIsNotKnown(t *testing.T) {
	p := body.Point{ID: "P1", Name: "hole"}
	n := &Names{In: smallInput()}
	n.In.Measure.Why = []string{"one set-up is too few"}
	said(t, "nothing was measured", "Control point P1 (hole) cannot be judged: no reading of the structure could be made.\n. one set-up is too few", n.point(p))
	n.In.Measure.Hypotheses = []measure.Hypothesis{{Points: []measure.PointResult{{ID: "P2", Firm: true}}}}
	said(t, "others were", "Control point P1 (hole) has not been measured, so nothing is said about it.\n. Measure it in a set-up that shares at least three control points with the others.", n.point(p))
	n.In.Measure.Holes = []measure.Hole{{ID: "P1", Setup: "S1", RimPoints: 6, ArcDeg: 200, RadiusMM: 5}, {ID: "P2", Setup: "S2"}}
	for _, firm := range []bool{true, false} {
		n.In.Measure.Hypotheses[0].Points = []measure.PointResult{{ID: "P1", Firm: firm, Limit: "1 mm"}}
		text := lines(n.point(p).Under...)
		if strings.Contains(text, "too few") == firm || !strings.Contains(text, "In set-up S1 its centre comes from 6 rim points over 200 degrees: radius 5.00 mm") || strings.Contains(text, "S2") || strings.Contains(text, "against the other steady points") {
			t.Errorf("firm %v:\n%s", firm, text)
		}
	}
	n.In.Measure.Hypotheses[0].Points[0].FromNominalStd = geom.Vec{0.1, 0.1, 0.1}
	if text := lines(n.point(p).Under...); !strings.Contains(text, "against the other steady points") {
		t.Errorf("%s", text)
	}

	n.In.Job.ID = "J"
	n.In.Job.Findings = []job.Finding{{ID: "F1", Text: "A crack"}}
	n.In.Inspect.Groups = []inspect.Group{{ID: "G1", LengthMM: 12, StdMM: 0.5, Because: "Near.", Findings: []job.FindingID{"F1", "F2"}}, {ID: "G2", Unknown: true, Because: "Near.", Findings: []job.FindingID{"F3"}}}
	n.addFound()
	said(t, "a finding", "F1 was not laid on a casting.", n.only(t, kindFinding, "F1"))
	said(t, "a group", "G1: 12.0 ± 1.0 mm together.\n. Near.\n. Of: F1, F2", n.only(t, "group of cracks", "G1"))
	said(t, "a group of no length", "G2: its length is not known.\n. Near.\n. Of: F3", n.only(t, "group of cracks", "G2"))
}

// An area is told with the rules in force that ask for it, and why it does not count.
func TestOfAnArea(t *testing.T) {
	n := &Names{In: smallInput(), all: []written{
		{kind: kindAreaRule, names: []string{"A1"}, of: "TB revision 2", at: "tb.yaml:7", fields: []writtenField{{name: "id", text: "A1"}, {name: "cite", text: "p. 9"}}},
		{kind: kindAreaRule, names: []string{"A1"}, of: "TB revision 1"}, {kind: kindAreaRule, names: []string{"A2"}, of: "TB revision 2"}, {kind: kindRow, names: []string{"A1"}, of: "TB revision 2"}, {kind: kindAreaRule, of: "TB revision 2"}}}
	n.In.Decide.Procedures = []decide.InForce{{Procedure: "TB", Revision: "2"}}
	n.In.Inspect.Coverage = []inspect.Coverage{{Area: "AR1", Name: "dome", Because: "by rule A1 of it", Fails: "signed by nobody"}, {Area: "AR2", Name: "rail"}}
	n.addAreas()
	x := n.only(t, kindArea, "AR1")
	said(t, "an area", "Does not count: signed by nobody\nBy rule for areas: id: A1, cite: p. 9 [p. 9] (tb.yaml:7)", x.Under[max(0, len(x.Under)-2):]...)
	if text := lines(n.only(t, kindArea, "AR2")); strings.Contains(text, "Does not count") || strings.Contains(text, "rule for areas") {
		t.Error(text)
	}
}
