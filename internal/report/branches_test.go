package report

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// A question is taken apart by its lines: what is known, what the table says under its own heading,
// what is asked. Every line stands in one place.
func TestQuestionIsTakenApart(t *testing.T) {
	var p questionPage
	p.split("May F2 be welded?\nIt lies on C1.\n- kind: crack\n- length: 71.6 mm\nThe table says:\n- R1 does not apply\n- R2 does\nPlease answer.\n")
	if got := fmt.Sprintf("%q %q %q %q %q", p.Lines, p.Facts, p.Heading, p.Rows, p.Ask); got != `["May F2 be welded?" "It lies on C1."] ["kind: crack" "length: 71.6 mm"] "The table says:" ["R1 does not apply" "R2 does"] ["Please answer." ""]` {
		t.Error(got)
	}
	in := fixture(t)
	in.Vehicle = nil
	page, err := QuestionHTML(in, decide.Question{ID: "Q7", Finding: "F1", Point: "P2", Text: "Is P2 so?"}, []Photo{{ID: "E1", File: "a.png", Media: "image/png", Data: []byte("x"), For: []string{"F1"}}, {ID: "E2", File: "b.pdf", Why: "it is no picture"}})
	if err != nil {
		t.Fatal(err)
	}
	text := readPage(t, string(page)).text
	for _, want := range []string{"Question Q7", "P2", "Is P2 so?", "it is no picture", "There is no mesh of this casting"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page of a question does not say %q", want)
		}
	}
	if n := len(readPage(t, string(page)).all("img", "")); n != 1 {
		t.Errorf("%d pictures, want the one that is one", n)
	}
	if page, err := QuestionHTML(Input{}, decide.Question{}, nil); err == nil || page != nil {
		t.Errorf("without a body: %v", err)
	}
}

// Parts of an area that are asked for like their zone stand in its row; one that differs in any way has
// a row of its own.
func TestPartsStandInTheRowOfTheirZone(t *testing.T) {
	in := fixture(t)
	zone := inspect.Coverage{Area: "A1", Name: "left tower", Needs: "penetrant", State: "seen", FindsMM: 3}
	rib := zone
	rib.Area, rib.Name, rib.Part, rib.SizeMM = "A1-1", "left tower, rib 1", "A1", 1260
	for name, c := range map[string]struct {
		change func(c *inspect.Coverage)
		own    bool
	}{
		"alike": {func(*inspect.Coverage) {}, false}, "of its own": {func(c *inspect.Coverage) { c.Own = true }, true}, "other needs": {func(c *inspect.Coverage) { c.Needs = "visual" }, true}, "other state": {func(c *inspect.Coverage) { c.State = "not-yet" }, true},
		"covered": {func(c *inspect.Coverage) { c.Covered = true }, true}, "finds more": {func(c *inspect.Coverage) { c.FindsMM = 2 }, true}, "of another part": {func(c *inspect.Coverage) { c.Part = "A2" }, true},
	} {
		one := rib
		c.change(&one)
		in.Inspect.Coverage = []inspect.Coverage{zone, one}
		rows := coverRows(in)
		if c.own && (len(rows) != 2 || rows[1].Name != rib.Name || len(rows[0].With) > 0) || !c.own && (len(rows) != 1 || !slices.Equal(rows[0].With, []string{"rib 1 (1.3 m)"})) {
			t.Errorf("%s: %+v", name, rows)
		}
	}
}

// What a step on a sheet says of what it waits for, what it opens and closes, and what goes with it.
func TestWordsOfSheetSteps(t *testing.T) {
	b := &body.Body{Joints: []body.Joint{{ID: "J1", Name: "wing", Count: 4, Methods: []body.JoinMethod{"bolt", "adhesive"}, Torque: 25}, {ID: "J2", Name: "door", Methods: []body.JoinMethod{"clip"}, Torque: 9}, {ID: "J3", Name: "roof", Count: 2, Methods: []body.JoinMethod{"rivet"}}}}
	p := plan.Plan{Removal: []plan.Removal{{Part: "WING", Joints: []body.JointID{"J1", "J9"}}, {Part: "DOOR", Joints: []body.JointID{"J2"}}}}
	p.Steps = []plan.Step{{ID: "A", Together: "bond"}, {ID: "B", After: []string{"A"}, Together: "bond", Window: 90}, {ID: "C", After: []string{"A", "B"}}, {ID: "D", After: []string{"A"}, Together: "other"}}
	route := compare.Route{Ask: []string{"F1"}, Measure: []string{"F1", "F2"}}
	words := func(s ...string) string { return strings.Join(s, " | ") }
	said(t, [][2]string{
		{words(jointWords(b, p, plan.Step{Ref: "off WING", Part: "WING", Closes: []body.JointID{"J3"}})...), "wing: 4 × bolt and adhesive"},
		{words(jointWords(b, p, plan.Step{Ref: "on WING", Part: "WING", Closes: []body.JointID{"J1", "J2", "J3", "J9"}})...), "wing: 4 × bolt and adhesive, 25 Nm | door: clip, 9 Nm | roof: 2 × rivet"},
		{words(jointWords(b, p, plan.Step{Ref: "off ROOF", Part: "ROOF"})...), ""},
		{orderWords(p, 0), "Before B, C and D."}, {orderWords(p, 1), "Only after A; before C."}, {orderWords(p, 2), "Only after A and B."},
		{togetherWords(p, 0), "In one go with B."}, {togetherWords(p, 1), "In one go with A, all within 1 h 30 min."}, {togetherWords(p, 2), ""}, {togetherWords(p, 3), ""},
		{words(stepStop(plan.Step{For: []job.FindingID{"F1", "F2", "F3"}, Awaits: []plan.Awaited{{Kind: plan.Answer, Name: "answer A2"}, {Kind: plan.Delivery, Name: "wing"}}}, route)...),
			"Waits for the manufacturer's answer on F1. | F1 has to be measured or inspected first. | F2 has to be measured or inspected first. | Waits for answer A2."},
		{words(stepStop(plan.Step{}, route)...), ""},
		{stationWords("bay", plan.Step{Lift: "two posts", Tool: "saw", Side: "left"}, "fan"), "bay · lift two posts · saw · fan · side: left"}, {stationWords("", plan.Step{}, ""), ""},
		{words(briefStop(nil)...), ""}, {words(briefStop([]string{"a"})...), "a"}, {words(briefStop([]string{"a", "b"})...), "a | And 1 other reason: see the first sheet."}, {words(briefStop([]string{"a", "b", "c"})...), "a | And 2 other reasons: see the first sheet."},
		{words(fittedAt(plan.Plan{Steps: []plan.Step{{ID: "S1", Awaits: []plan.Awaited{{Kind: plan.Delivery, Part: "W"}}}, {ID: "S2", Awaits: []plan.Awaited{{Kind: plan.Answer, Part: "W"}}}, {ID: "S3", Awaits: []plan.Awaited{{Kind: plan.Delivery, Part: "V"}}}}}, "W")...), "S1"},
	})
	in := fixture(t)
	four := []job.FindingID{"F1", "F2", "F3", "F9"}
	said(t, [][2]string{{forWords(in, plan.Step{For: four}), "F1, F2, F3 and F9"}, {forWords(in, plan.Step{For: four[2:]}), "F3 torn, on Radiator bracket; F9 finding, on "}, {forWords(in, plan.Step{}), ""}})
	c := sheetStep{Ends: true, Hold: "h", Wait: "w", Arrive: []string{"a"}, Records: make([]recordRow, 1), Keyed: true, Materials: make([]sheetMaterial, 1)}
	s := fixturePlan().Steps[0]
	for n, want := range []string{"Ends Wed 4 Mar 08:40. [a] false false", "Goes on from Wed 4 Mar 08:00. Ends Wed 4 Mar 08:40. [] false false", "Goes on from Wed 4 Mar 08:00. [] true true"} {
		got := c.part(s, n, 3)
		whole := got.Hold == "h" && got.Wait == "w" && len(got.Records) == 1 && got.Keyed && len(got.Materials) == 1
		none := got.Hold == "" && got.Wait == "" && got.Records == nil && !got.Keyed && got.Materials == nil
		if text := fmt.Sprint(got.Goes, " ", got.Arrive, " ", got.Ends, " ", whole); text != want || whole == none {
			t.Errorf("day %d of 3: %s, want %s", n+1, text, want)
		}
	}
}

// What is on record about a delivery: nothing, promised for a day or for none, some of it there, all.
func TestWordsOfSupply(t *testing.T) {
	in := fixture(t)
	promise := job.Promised{ID: "PR", Item: "WING", Count: 2, Expected: d(10), On: d(2), By: "ST1"}
	some := promise // of one of two
	some.Count = 1
	came := job.Arrival{ID: "A", Item: "WING", Count: 1, On: d(6), By: "AW1"}
	for i, c := range []struct {
		promises []job.Promised
		arrivals []job.Arrival
		need     int
		want     string
	}{
		{nil, nil, 2, ""}, {[]job.Promised{promise}, nil, 2, "promised for Tue 10 Mar 2026 (PR)"}, {[]job.Promised{some}, nil, 2, "promised for no day"},
		{[]job.Promised{promise}, []job.Arrival{came}, 2, "promised for Tue 10 Mar 2026 (PR), 1 of 2 came"}, {nil, []job.Arrival{came}, 2, "1 of 2 came"}, {nil, []job.Arrival{came}, 1, "here since Fri 6 Mar 2026 (A)"},
	} {
		in.Job.Promises, in.Job.Deliveries = c.promises, c.arrivals
		if got := supplyWords(in, "WING", c.need); got != c.want {
			t.Errorf("row %d: %q, want %q", i+1, got, c.want)
		}
		line := promisedLine(in, plan.Plan{Lost: []plan.Lost{{Part: "WING", Name: "Left wing", Quantity: c.need}}})
		if want := "Parts on their way: Left wing, " + c.want + "."; (line == want) != (len(c.promises) > 0) || len(c.promises) == 0 && line != "" {
			t.Errorf("row %d: %q", i+1, line)
		}
	}
	if latestDay(d(4), d(5)) != d(5) || latestDay(d(5), d(4)) != d(5) {
		t.Error("the later day is the earlier one")
	}
}

// What is still to be ordered: the parts that have not come, and materials until work is on record.
func TestWhatIsToBeOrdered(t *testing.T) {
	p := pick{Route: compare.Route{Plan: plan.Plan{Lost: []plan.Lost{{Part: "WING", Quantity: 1}, {Part: "CLIP", Quantity: 2}}}}}
	wing, clips := job.Arrival{ID: "A", Item: "WING", Count: 1, On: d(6)}, job.Arrival{ID: "B", Item: "CLIP", Count: 1, On: d(6)}
	work := []job.Actual{{ID: "W-1", Step: "Weld"}}
	for i, c := range []struct {
		came  []job.Arrival
		done  []job.Actual
		cheap bool
		want  string
	}{
		{nil, nil, false, "[Order 2 parts and the materials of section 6.]"},
		{[]job.Arrival{wing, clips}, work, true, "[Settle the points above before ordering: a cheaper route may open. Order 1 part and the materials of section 6.]"}, // one clip of two
		{[]job.Arrival{wing, clips, clips}, nil, false, "[Order the materials of section 6.]"},
		{[]job.Arrival{wing, clips, clips}, work, true, "[]"},
	} {
		in := Input{Job: &job.State{Deliveries: c.came, Actuals: c.done}}
		if c.cheap {
			in.Compare.Worth = make([]compare.Worth, 1)
		}
		if got := fmt.Sprint(orderNext(in, p)); got != c.want {
			t.Errorf("row %d: %s, want %s", i+1, got, c.want)
		}
	}
}

// What would decide a finding is asked for once, and only while it is open; what would open a cheaper
// route is told of the findings that route waits for.
func TestNextStepsOfFindings(t *testing.T) {
	cond := func(need string, state decide.CondState) decide.CondResult {
		return decide.CondResult{Need: need, State: state}
	}
	rows := []decide.RowResult{{Conds: []decide.CondResult{cond("measure it", "unknown"), cond("look at it", "undecided"), cond("no", decide.CondMet), cond("nor", decide.CondNotMet), cond("", "unknown")}}, {Conds: []decide.CondResult{cond("measure it", "unknown")}}}
	if got := decideNext(decide.Finding{ID: "F1", Verdict: decide.Ask, Rows: rows}); fmt.Sprint(got) != "[F1: Measure it. F1: Look at it.]" {
		t.Errorf("open: %q", got)
	}
	if got := decideNext(decide.Finding{ID: "F1", Verdict: decide.Allowed, Rows: rows}); got != nil {
		t.Errorf("allowed: %q", got)
	}
	in := fixture(t)
	in.Compare.Worth = []compare.Worth{{Route: "weld"}, {Route: "new-casting"}}
	in.Compare.Routes[1].Measure = []string{"F2"}
	for id, want := range map[job.FindingID]string{"F1": "[]", "F2": "[F2, for the cheaper route: Shorter.]"} {
		if got := worthNext(in, decide.Finding{ID: id, Change: []string{"shorter", "other"}}); fmt.Sprint(got) != want {
			t.Errorf("%s: %q", id, got)
		}
	}
	if got := worthNext(in, decide.Finding{ID: "F2"}); got != nil {
		t.Errorf("nothing would change it: %q", got)
	}
	in.Compare.Worth = in.Compare.Worth[:1]
	if got := worthNext(in, decide.Finding{ID: "F2", Change: []string{"shorter"}}); got != nil {
		t.Errorf("no cheaper route waits for it: %q", got)
	}
}

// Reality and supplements in a word, each state; differences of money with their sign.
func TestWordsOfSupplements(t *testing.T) {
	is := func(known, loss bool) cost.Judged { return cost.Judged{Known: known, IsLoss: loss} }
	for i, c := range []struct {
		s    cost.Supplement
		want string
		tone tone
	}{
		{cost.Supplement{NoBill: "why", Is: is(true, true)}, "no bill", toneBad}, {cost.Supplement{}, "total loss: not known", toneOpen}, {cost.Supplement{Is: is(true, true), Was: is(true, false)}, "total loss: stop", toneBad},
		{cost.Supplement{Is: is(true, true), Was: is(true, true)}, "total loss, as agreed", toneBad}, {cost.Supplement{Is: is(true, false)}, "not a total loss", toneGood},
	} {
		if w := supplementWord(c.s); w.Text != c.want || w.Tone != c.tone {
			t.Errorf("row %d: %+v, want %q", i+1, w, c.want)
		}
	}
}

// A cell of the table of stages says what was measured and whether that is in tolerance for certain.
func TestCellsOfStages(t *testing.T) {
	r := fixtureMeasure()
	for id, want := range map[body.PointID]string{"P1": "8.3 mm out of tolerance", "P2": "1.8 mm undecided", "P3": "0.2 mm in tolerance", "P10": "not measured undecided"} {
		c := cellOf(&r, id)
		if got := strings.ReplaceAll(c.Shift+" "+c.Word.Text, thin, " "); got != want {
			t.Errorf("%s: %q, want %q", id, got, want)
		}
	}
	p := measure.Progress{From: job.StageBefore, To: "after"}
	in := Input{Progress: []measure.Progress{{From: "during", To: "after"}, p}}
	if _, ok := progressTo(in, "after"); !ok {
		t.Error("the stage after is not found")
	}
	if _, ok := progressTo(in, "during"); ok {
		t.Error("a stage during is found")
	}
	if got := progressLines(measure.Progress{Points: []measure.PointProgress{{ID: "A", Answer: measure.Answers()[1]}, {ID: "B", Answer: measure.Answers()[0]}, {ID: "C", Answer: measure.Answers()[1]}}}); len(got) != 2 || !strings.HasSuffix(got[0], ": B.") || !strings.HasSuffix(got[1], ": A and C.") {
		t.Errorf("%q", got)
	}
}

// The days of a step: each on which it is worked on, and none without times. Treatments and their
// words in a table for what an area says.
func TestWorkedOn(t *testing.T) {
	at := func(day, h int) workday {
		return workday{from: fixturePlan().Steps[0].From.AddDate(0, 0, day), to: fixturePlan().Steps[0].From.AddDate(0, 0, day).Add(8 * 3600e9)}
	}
	days := []workday{at(0, 8), at(1, 8), at(2, 8)}
	first := days[0].from
	for i, c := range []struct {
		s    plan.Step
		want string
	}{
		{plan.Step{}, fmt.Sprint([]unit.Date{{}})}, {plan.Step{From: first, To: first.Add(3600e9)}, fmt.Sprint([]unit.Date{d(4)})}, {plan.Step{From: first, To: days[1].from}, fmt.Sprint([]unit.Date{d(4), d(5)})},
		{plan.Step{From: days[0].to, To: days[1].to}, fmt.Sprint([]unit.Date{d(4), d(5)})}, {plan.Step{From: first, To: days[2].to}, fmt.Sprint([]unit.Date{d(4), d(5), d(6)})},
	} {
		if got := fmt.Sprint(workedOn(days, c.s)); got != c.want {
			t.Errorf("row %d: %s, want %s", i+1, got, c.want)
		}
	}
}
