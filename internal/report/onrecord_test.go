package report

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// recordsWorld is a route of two pieces of work with inspections asked for after each, as a
// procedure's rows ask for them (constructed).
func recordsWorld(t *testing.T) (Input, compare.Route) {
	t.Helper()
	in := fixture(t)
	ground := body.After{Method: body.ShowPenetrant, When: "after grinding"}
	dressed := body.After{Method: body.ShowPenetrant, When: "after dressing"}
	seat := body.After{Method: body.ShowVisual, What: "seat clean"}
	points := body.After{Method: body.ShowDimensions}
	in.Body.Procedures = append(in.Body.Procedures[:0:0], body.Procedure{ID: "P", Rows: []body.Row{{ID: "1", After: []body.After{ground, dressed, seat, points}}}})
	in.Decide.Findings = []decide.Finding{
		{ID: "F1", After: []string{ground.String(), dressed.String(), seat.String()}},
		{ID: "F2", After: []string{dressed.String(), points.String()}},
	}
	route := compare.Route{Items: []plan.Item{{Kind: "weld", Findings: []job.FindingID{"F1"}}, {Kind: "dress", Findings: []job.FindingID{"F2"}}},
		Plan: plan.Plan{Steps: []plan.Step{{ID: "ST-1", Name: "Bond", For: []job.FindingID{"F1"}, Closes: []body.JointID{"J"}, Bonds: []body.MaterialID{"GLUE"},
			Readings: []body.Reading{{ID: "humidity", Unit: "%"}, {ID: body.TorqueReading("J"), Unit: "Nm"}, {ID: body.BatchReading("GLUE"), Unit: body.TextUnit}, {ID: body.OpenReading("GLUE"), Unit: "min"}}}}}}
	return in, route
}

// TestRecordedInspectionsFillTheirBoxes: what is on record of an inspection stands in its row,
// the last of each finding; a record of another finding, of another moment, or of something else
// that was looked for leaves the box empty.
func TestRecordedInspectionsFillTheirBoxes(t *testing.T) {
	on := func(d int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: d} }
	for name, c := range map[string]struct {
		records []job.Record
		want    []string // by row: results, names and dates
	}{
		"nothing": {nil, []string{"F1||", "F1||", "F1||", "F2||", "F2||"}},
		"all": {[]job.Record{
			{ID: "R1", Show: body.ShowPenetrant, Finding: "F1", What: "after grinding", None: true, By: "T1", On: on(3), Evidence: []string{"E1"}},
			{ID: "R2", Show: body.ShowPenetrant, Finding: "F1", What: "after dressing", Indications: make([]job.Indication, 2), By: "T2", On: on(4)},
			{ID: "R3", Show: body.ShowVisual, Finding: "F1", What: "seat clean", Met: true, By: "T1", On: on(5)},
			{ID: "R4", Show: body.ShowPenetrant, Finding: "F2", None: true, By: "T1", On: on(4)},
		}, []string{"no indications (R1)|T1; evidence E1|Tue 3 Mar 2026", "2 indications (R2)|T2|Wed 4 Mar 2026", "met (R3)|T1|Thu 5 Mar 2026", "no indications (R4)|T1|Wed 4 Mar 2026", "F2||"}},
		"the last": {[]job.Record{
			{ID: "R1", Show: body.ShowVisual, Finding: "F1", What: "seat clean", Met: true, By: "T1", On: on(5)},
			{ID: "R2", Show: body.ShowVisual, Finding: "F1", What: "seat clean", By: "T2", On: on(5), Text: "rust"},
			{ID: "R3", Show: body.ShowVisual, Finding: "F1", What: "seat clean", Met: true, By: "T1", On: on(4)},
		}, []string{"F1||", "F1||", "not met; rust (R2)|T2|Thu 5 Mar 2026", "F2||", "F2||"}},
		"of something else": {[]job.Record{
			{ID: "R1", Show: body.ShowPenetrant, Finding: "F1", None: true, By: "T1", On: on(3)},                         // at which moment?
			{ID: "R2", Show: body.ShowVisual, Finding: "F1", What: "seat", Met: true, By: "T1", On: on(3)},               // not these words
			{ID: "R3", Show: body.ShowVisual, Finding: "F2", What: "seat clean", Met: true, By: "T1", On: on(3)},         // not this finding
			{ID: "R4", Show: body.ShowVisual, Finding: "F2", What: "after dressing", Met: true, By: "T1", On: on(3)},     // not this method
			{ID: "R5", Show: body.ShowPenetrant, Finding: "F2", What: "after grinding", None: true, By: "T1", On: on(3)}, // not this moment
		}, []string{"F1||", "F1||", "F1||", "F2||", "F2||"}},
	} {
		in, route := recordsWorld(t)
		in.Job.Records = c.records
		rows, shown := checkRows(in, route)
		var got []string
		for _, r := range rows {
			result := r.Result
			if result == "" {
				result = r.For
			}
			got = append(got, result+"|"+r.By+"|"+r.On)
		}
		if strings.Join(got, "\n") != strings.Join(c.want, "\n") {
			t.Errorf("%s:\n%s\nwant\n%s", name, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
		}
		if further := furtherRows(in, route.Plan, shown); len(further)+len(shown) != len(c.records) {
			t.Errorf("%s: %d of %d records are shown, %d further ones", name, len(shown), len(c.records), len(further))
		}
	}
}

// TestFiguresStandAtTheirStep: every figure and record of the work is in the report once at
// least: at the one step that asks for it, or among what else is on record. The uncertainty is
// the expanded one (k = 2, JCGM 100:2008 6.2).
func TestFiguresStandAtTheirStep(t *testing.T) {
	in, route := recordsWorld(t)
	on := unit.Date{Year: 2026, Month: 3, Day: 3}
	in.Job.Figures = []job.Figure{
		{Step: "bond", Reading: "humidity", Value: unit.Amount{Value: 52, Unit: "%"}, Std: unit.Amount{Value: 2, Unit: "%"}, Device: "Meter 1", By: "T1", On: on},
		{Step: "Bond", Reading: "heat", Value: unit.Amount{Value: 20.125, Unit: "C"}, By: "T2", On: on}, // no step asks for it
		{Step: "Weld", Finding: "F2", Reading: "humidity", Text: "dry", By: "T3", On: on},               // no such step
	}
	in.Job.Records = []job.Record{
		{ID: "R1", Show: body.ShowTorque, Joint: "J", Torque: 12, Device: "Wrench 1", By: "T1", On: on},
		{ID: "R2", Show: body.ShowTorque, Joint: "OTHER", Torque: 13, By: "T1", On: on},
		{ID: "R3", Show: body.ShowAdhesive, Finding: "F1", Material: "GLUE", Batch: "B 7", UseBefore: on, Mixed: "10:00", Closed: "10:17", By: "T1", On: on},
		{ID: "R4", Show: body.ShowAdhesive, Finding: "F2", Material: "GLUE", Batch: "B 8", By: "T1", On: on},
	}
	at, _ := figuresAt(in.Job, route.Plan)
	for reading, want := range map[string]string{
		"humidity": "52 ± 4 %, T1, Tue 3 Mar 2026, Meter 1", body.TorqueReading("J"): "12 Nm, T1, Tue 3 Mar 2026, Wrench 1",
		body.BatchReading("GLUE"): "B 7, to be used by Tue 3 Mar 2026, T1, Tue 3 Mar 2026", body.OpenReading("GLUE"): "17 min, T1, Tue 3 Mar 2026",
	} {
		if got := plainSpaces(strings.Join(at[[2]string{"ST-1", reading}], "|")); got != want {
			t.Errorf("%s: %q, want %q", reading, got, want)
		}
	}
	var further []string
	for _, r := range furtherRows(in, route.Plan, nil) {
		further = append(further, plainSpaces(strings.Join([]string{r.ID, r.What, r.Result, r.By}, "|")))
	}
	for _, want := range []string{"R2|tightening torque|13 Nm|T1", "R4|adhesive, F2|batch B 8|T1", "|Bond: heat, which no step of this route asks for|20.125 °C|T2", "|F2, Weld: humidity, which no step of this route asks for|dry|T3"} {
		if !strings.Contains(strings.Join(further, "\n"), want) {
			t.Errorf("%q is not in\n%s", want, strings.Join(further, "\n"))
		}
	}
	if len(further) != len(in.Job.Records)+2 {
		t.Errorf("%d further records and figures:\n%s", len(further), strings.Join(further, "\n"))
	}
}

// TestLimitsWithTheirUnit: a limit is printed as it was written, with the sign of its unit
// (SI brochure: a space, °C, Ω).
func TestLimitsWithTheirUnit(t *testing.T) {
	a := func(v float64, u string) unit.Amount { return unit.Amount{Value: v, Unit: u} }
	for want, r := range map[string]body.Reading{
		"15 °C to 27 °C": {Low: a(15, "C"), High: a(27, "C")}, "at most 0.125 mm": {High: a(0.125, "mm")}, "at least 550 Ω/V": {Low: a(550, "ohm/V")},
		"6 Nm": {Low: a(6, "Nm"), High: a(6, "Nm")}, "1 m to 2 mm": {Low: a(1, "m"), High: a(2, "mm")}, "": {},
	} {
		if got := plainSpaces(limitsOf(r)); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// TestAMaterialStandsOnceAtAStep: two lines of a takeoff at one step are one amount on the sheet,
// and the step is named once where the parts and materials are laid out (constructed: 25 + 1.5 ml).
func TestAMaterialStandsOnceAtAStep(t *testing.T) {
	in := fixture(t)
	route := in.Compare.Routes[0]
	step := route.Plan.Steps[0].ID
	route.Plan.Takeoff = []plan.Takeoff{{Material: "M-COAT", Name: "Coat", Unit: "ml", Gross: 30, Lines: []plan.TakeoffLine{{Step: step, Amount: 25}, {Step: step, Amount: 1.5}}}}
	if got := sheetStepOf(in, route, 0).Materials; len(got) != 1 || plainSpaces(got[0].Amount) != "26.5 ml" {
		t.Errorf("materials %+v", got)
	}
	rows := readyRows(route.Plan)
	if got := rows[len(rows)-1].For; got != step {
		t.Errorf("for %q, want %q", got, step)
	}
}
