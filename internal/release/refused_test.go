package release

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// recordOf is a record of the job by its name.
func (w *world) recordOf(id string) *job.Record {
	return &w.in.Job.Records[slices.IndexFunc(w.in.Job.Records, func(x job.Record) bool { return x.ID == id })]
}

// rowAsks has the row that allows the plate of F2 ask for inspections, and no acceptance ask for
// the same of it.
func rowAsks(w *world, all ...body.After) {
	p := &w.in.Body.Procedures[0]
	p.Rows[1].After = all
	for i, a := range p.Acceptance {
		if a.Show == body.ShowPenetrant || a.Show == body.ShowVisual {
			p.Acceptance[i].For = []body.TreatmentKind{body.Weld}
		}
	}
}

// TestGateRefuses changes one thing at a time of a job that is in order: exactly this is missing
// then. Source: the rules of docs/methods/decision.md; the words are the program's own.
func TestGateRefuses(t *testing.T) {
	onDay := func(m, d int) unit.Date { return day(2030, m, d) }
	for _, c := range []struct {
		name   string
		change func(*world, *Input)
		want   string
	}{
		// inspections that rows ask for
		{"row: penetrant not on record", func(w *world, _ *Input) {
			rowAsks(w, body.After{Method: body.ShowPenetrant, When: "after welding"})
			w.recordOf("r2").Finding = "F9"
		}, "F2: not on record: penetrant after welding"},
		{"row: penetrant, something indicated", func(w *world, _ *Input) {
			rowAsks(w, body.After{Method: body.ShowPenetrant})
			w.recordOf("r2").None = false
		}, "F2: undecided (record r2): something was indicated, and the procedure gives no level for it after weld with backing plate"},
		{"row: looked at", func(w *world, _ *Input) { rowAsks(w, body.After{Method: body.ShowVisual}) }, ""},
		{"row: not looked at", func(w *world, _ *Input) {
			rowAsks(w, body.After{Method: body.ShowVisual})
			w.recordOf("r4").Finding = "F9"
		}, "F2: not on record: visual"},
		{"row: measured", func(w *world, _ *Input) { rowAsks(w, body.After{Method: body.ShowDimensions}) }, ""},
		{"row: not measured", func(w *world, in *Input) {
			rowAsks(w, body.After{Method: body.ShowDimensions})
			p := &w.in.Body.Procedures[0]
			p.Acceptance = slices.DeleteFunc(p.Acceptance, func(a body.Acceptance) bool { return a.Show == body.ShowDimensions })
			in.After = nil
		}, ": the control points have not been measured after the repair"},
		{"hold point passed by who did the step", func(w *world, _ *Input) {
			w.recordOf("hold").By = "W1"
			w.in.Shop.People[slices.IndexFunc(w.in.Shop.People, func(p shop.Person) bool { return p.ID == "W1" })].May = []shop.Authority{shop.MayInspect}
		}, `F1: the hold point of "Grind" asks for a second person, and W1 did the step and passed it (record hold)`},
		{"hold point passed by who did the step, one person will do", func(w *world, in *Input) {
			in.Steps[1].Second = false
			w.recordOf("hold").By = "W1"
			w.in.Shop.People[slices.IndexFunc(w.in.Shop.People, func(p shop.Person) bool { return p.ID == "W1" })].May = []shop.Authority{shop.MayInspect}
		}, ""},
		{"hold point of a step that is not on record", func(w *world, _ *Input) { w.in.Job.Actuals = slices.Delete(w.in.Job.Actuals, 1, 2) },
			`F1: that "Grind" was done is not on record`},
		{"hold point of a step of a name that two have", func(w *world, in *Input) {
			in.Steps = append(in.Steps, PlannedStep{ID: "S9", Name: "Grind", Ref: "T/9", For: in.Steps[1].For})
			in.Steps[1].Ref = "T/1"
			w.in.Job.Actuals[1].Step, w.in.Job.Figures[0].Step = "T/1", "T/1"
		}, "F1: nobody can tell of which step the hold point in record hold is: several are called \"Grind\"\nF1: nobody has passed the hold point of \"Grind\": groove clean"},
		{"hold point of a step by what it is", func(w *world, in *Input) {
			in.Steps = append(in.Steps, PlannedStep{ID: "S9", Name: "Grind", Ref: "T/9", For: in.Steps[1].For})
			in.Steps[1].Ref = "T/1"
			w.in.Job.Actuals[1].Step, w.in.Job.Figures[0].Step, w.recordOf("hold").Step = "T/1", "T/1", "T/1"
		}, ""},
		// the decisions and their review
		{"accepted by somebody who may not accept it", func(w *world, _ *Input) {
			w.in.Shop.People[slices.IndexFunc(w.in.Shop.People, func(p shop.Person) bool { return p.ID == "P1" })].Accepts = []body.TreatmentKind{body.WeldBacking}
		}, "F1: the acceptance of weld does not count: P1 may not accept it ('accepts' in the shop file)"},
		{"reviewed by nobody", func(w *world, _ *Input) { w.in.Job.Reviews = nil }, ": nobody has reviewed the decisions"},
		{"reviewed by somebody who may not", func(w *world, _ *Input) { w.in.Job.Reviews[0].By = "I1" },
			": nobody has reviewed the decisions\n: the review by I1 does not count: I1 may not sign for it (\"review\" under 'may' in the shop file)"},
		{"a review that does not count beside one that does", func(w *world, _ *Input) {
			w.in.Job.Reviews = append(w.in.Job.Reviews, job.Review{By: "I1", On: onDay(3, 1)})
		}, ""},
		{"a second review before the first", func(w *world, _ *Input) {
			w.in.Job.Reviews = append(w.in.Job.Reviews, job.Review{By: "R1", On: onDay(2, 22)})
		}, ""},
		{"an author who is nobody", func(w *world, _ *Input) { w.in.Job.Author = "X" },
			": nobody has reviewed the decisions\n: the review by R1 does not count: the author of the job, \"X\", is nobody of the shop file"},
		{"reviewed by the author", func(w *world, _ *Input) { w.in.Job.Author = "R1" },
			": nobody has reviewed the decisions\n: the review by R1 does not count: R1 entered, chose, accepted or recorded what is reviewed"},
		{"reviewed by who chose", func(w *world, _ *Input) { w.in.Job.Choices[0].By = "R1" },
			": nobody has reviewed the decisions\n: the review by R1 does not count: R1 entered, chose, accepted or recorded what is reviewed"},
		{"reviewed by who accepted", func(w *world, _ *Input) {
			p := &w.in.Shop.People[slices.IndexFunc(w.in.Shop.People, func(p shop.Person) bool { return p.ID == "R1" })]
			p.Accepts = body.TreatmentKinds()
			w.in.Job.Accepted[1].By = "R1"
		}, ": nobody has reviewed the decisions\n: the review by R1 does not count: R1 entered, chose, accepted or recorded what is reviewed"},
		{"reviewed by who recorded an answer", func(w *world, _ *Input) {
			p := &w.in.Shop.People[slices.IndexFunc(w.in.Shop.People, func(p shop.Person) bool { return p.ID == "R1" })]
			p.May = append(p.May, shop.MayAnswers)
			w.in.Job.Answers[0].RecordedBy = "R1"
		}, ": nobody has reviewed the decisions\n: the review by R1 does not count: R1 entered, chose, accepted or recorded what is reviewed"},
		{"reviewed by who gave every proof", func(w *world, _ *Input) {
			p := &w.in.Shop.People[slices.IndexFunc(w.in.Shop.People, func(p shop.Person) bool { return p.ID == "R1" })]
			p.May = append(p.May, shop.MayInspect)
			for i := range w.in.Job.Records {
				w.in.Job.Records[i].By = "R1"
			}
		}, ": R1 reviewed the decisions and gave every proof"},
		{"reviewed by who gave every proof but one", func(w *world, _ *Input) {
			p := &w.in.Shop.People[slices.IndexFunc(w.in.Shop.People, func(p shop.Person) bool { return p.ID == "R1" })]
			p.May = append(p.May, shop.MayInspect)
			for i := range w.in.Job.Records[1:] {
				w.in.Job.Records[i].By = "R1"
			}
		}, ""},
		{"an area seen after the review", func(w *world, _ *Input) {
			w.in.Job.Areas = []job.AreaSeen{{Area: "A-1", By: "I1", On: onDay(3, 1)}}
		}, "A-1: the area was looked at on 2030-03-01, after the last review, of 2030-02-28"},
		{"an area seen on the day of the review", func(w *world, _ *Input) {
			w.in.Job.Areas = []job.AreaSeen{{Area: "A-1", By: "I1", On: onDay(2, 28)}}
		}, ""},
		{"an answer after the review", func(w *world, _ *Input) {
			w.in.Job.Answers = append(w.in.Job.Answers, job.Answer{ID: "A9", Finding: "F9", On: onDay(3, 1), RecordedBy: "T1"})
		}, "A9: the manufacturer answered on 2030-03-01, after the last review, of 2030-02-28"},
		// proofs
		{"an inspection that nobody has on record", func(w *world, _ *Input) { lookPT9(w).ID = "PT-8" },
			"F1: undecided (record r1): inspection PT-9 is not on record\nF2: undecided (record r2): inspection PT-9 is not on record"},
		{"an inspection of another casting", func(w *world, _ *Input) { w.in.Inspect.Inspections[0].Casting = "REAR" },
			"F1: undecided (record r1): inspection PT-9 is not on record\nF2: undecided (record r2): inspection PT-9 is not on record"},
		{"a level that the procedure does not have", func(w *world, _ *Input) {
			w.in.Body.Procedures[0].Acceptance[0].Level, w.in.Body.Procedures[0].Acceptance[0].For = "7", []body.TreatmentKind{body.Weld}
		}, "F1: the procedure has no level 7"},
		{"nobody says what was indicated", func(w *world, _ *Input) { w.recordOf("r1").None = false }, "F1: record r1 does not say what was indicated"},
		{"the tool was not in calibration", func(w *world, _ *Input) { w.recordOf("r5").Device = "" }, "J1: record r5 (torque) does not count: it does not say with which device"},
		{"a joint that no step closes", func(_ *world, in *Input) { in.Steps[4].Joints = nil },
			"J1: record r5 (torque) does not count: it is dated 2030-03-13, and the day is not on record on which the joint was closed"},
		{"a bond without a last day", func(w *world, _ *Input) { w.recordOf("r6").UseBefore = unit.Date{} }, "J2: record r6 does not say until when the adhesive may be used"},
		{"a set-up without a day", func(w *world, _ *Input) { w.in.Job.Setups[0].On = unit.Date{} },
			"A: set-up A does not count: it does not say on which day it was"},
		// work
		{"a step under way, entered after it was done", func(w *world, _ *Input) {
			a := w.in.Job.Actuals[5]
			a.Going = true
			w.in.Job.Actuals = append(w.in.Job.Actuals, a)
		}, `: "Bond" is under way since 2030-03-16`},
		{"a step under way that no plan has", func(w *world, _ *Input) {
			w.in.Job.Actuals = append(w.in.Job.Actuals, job.Actual{Step: "Paint", By: "W1", On: onDay(3, 16), Going: true})
		}, `: "Paint" is under way since 2030-03-16`},
		{"a step that was under way and is done", func(w *world, _ *Input) {
			w.in.Job.Actuals = append([]job.Actual{{Step: "Bond", By: "W1", On: onDay(3, 15), Going: true}}, w.in.Job.Actuals...)
		}, ""},
		{"a step begun again after it was done", func(w *world, _ *Input) {
			w.in.Job.Actuals = append(w.in.Job.Actuals, job.Actual{Step: "Bond", By: "W1", On: onDay(3, 17), Going: true})
		}, `: "Bond" is under way since 2030-03-17`},
		{"a step that is not in the plan's order, through one that is not on record", func(w *world, in *Input) {
			in.Steps = append(in.Steps, PlannedStep{ID: "S9", Name: "Lid off", Prepares: true, After: []string{"S0", "S77"}})
			in.Steps[1].After = []string{"S9", "S9"}
			w.in.Job.Actuals[0].On = onDay(3, 5)
		}, `F1: that "Grind" was done does not count: it is dated 2030-03-04, before "Isolate" was done on 2030-03-05`},
		// figures and batches
		{"a figure under a name misspelt", func(w *world, _ *Input) {
			w.in.Job.Figures = append(w.in.Job.Figures, job.Figure{Step: "grind", Reading: "gapp", By: "W1", On: onDay(3, 5)})
		}, `: "grind" asks for no figure "gapp"`},
		{"a figure misspelt under what the step is", func(w *world, in *Input) {
			in.Steps[1].Ref = "T/1"
			w.in.Job.Figures = append(w.in.Job.Figures, job.Figure{Step: "T/1", Reading: "gapp", By: "W1", On: onDay(3, 5)})
		}, `: "T/1" asks for no figure "gapp"`},
		{"a figure of a step that nobody has", func(w *world, _ *Input) {
			w.in.Job.Figures = append(w.in.Job.Figures, job.Figure{Step: "Paint", Reading: "gapp", By: "W1", On: onDay(3, 5)})
		}, ""},
		{"a figure that one of two steps of the name asks for", func(w *world, in *Input) {
			in.Steps = append(in.Steps, PlannedStep{ID: "S9", Name: "Grind", For: []job.FindingID{"F9"}})
			w.in.Job.Actuals[1].Finding = "F1"
		}, ""},
		{"a figure beyond its limits", func(w *world, in *Input) {
			in.Steps[1].Readings[0].High = unit.Amount{Value: 0.5, Unit: "mm"}
		}, `F1: Gap (gap, at most 0.5 mm) at "Grind": 1 mm is on record, asked for is at most 0.5 mm`},
		{"a batch in a figure, spoilt", func(w *world, in *Input) {
			in.Steps[1].Uses = nil
			in.Steps[1].Readings = append(in.Steps[1].Readings, body.Reading{ID: "batch-WIRE", Name: "Batch", Unit: body.TextUnit})
			w.in.Job.Deliveries[0].Batch, w.in.Job.Deliveries[0].UseBefore = "W3", onDay(3, 4)
			w.in.Job.Figures = append(w.in.Job.Figures, job.Figure{Step: "Grind", Finding: "F1", Reading: "batch-WIRE", Text: "w3", UseBefore: onDay(9, 1), By: "W1", On: onDay(3, 5)})
		}, `F1: batch W3 of WIRE was used on 2030-03-05 (the figure "batch-WIRE" of "Grind"), after its last day of use by delivery D1, 2030-03-04`},
		{"used of two that came the one that keeps longer is told", func(w *world, _ *Input) {
			w.in.Job.Deliveries[0].UseBefore = onDay(3, 2)
			w.in.Job.Deliveries = append(w.in.Job.Deliveries, job.Arrival{ID: "D8", Item: "WIRE", On: onDay(2, 27), UseBefore: onDay(3, 3)}, job.Arrival{ID: "D9", Item: "WIRE", On: onDay(2, 27), UseBefore: onDay(3, 1)})
		}, `F1: "Grind" was done on 2030-03-04 with WIRE, of which nothing that came might be used any more: delivery D8 until 2030-03-03`},
		{"one that keeps came on the day", func(w *world, _ *Input) {
			w.in.Job.Deliveries[0].UseBefore = onDay(3, 3)
			w.in.Job.Deliveries = append(w.in.Job.Deliveries, job.Arrival{ID: "D9", Item: "WIRE", On: onDay(3, 4)})
		}, ""},
		{"one that keeps came the day after", func(w *world, _ *Input) {
			w.in.Job.Deliveries[0].UseBefore = onDay(3, 3)
			w.in.Job.Deliveries = append(w.in.Job.Deliveries, job.Arrival{ID: "D9", Item: "WIRE", On: onDay(3, 5)})
		}, `F1: "Grind" was done on 2030-03-04 with WIRE, of which nothing that came might be used any more: delivery D1 until 2030-03-03`},
		// what nothing asks for
		{"a bad look under other words", func(w *world, _ *Input) {
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "bad", Show: body.ShowVisual, Finding: "F1", What: "root sownd", By: "I1", On: onDay(3, 6)})
		}, "F1: record bad (visual) speaks against the repair, and nothing that is asked for has its words: root sownd"},
		{"a bad penetrant under other words", func(w *world, _ *Input) {
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "bad", Show: body.ShowPenetrant, Finding: "F1", What: "stage", By: "I1", On: onDay(3, 6)})
		}, "F1: record bad (penetrant) speaks against the repair, and nothing that is asked for has its words: stage"},
		{"a good look under other words", func(w *world, _ *Input) {
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "good", Show: body.ShowVisual, Finding: "F1", What: "root sownd", By: "I1", On: onDay(3, 6), Met: true})
		}, ""},
		{"a good penetrant under other words", func(w *world, _ *Input) {
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "good", Show: body.ShowPenetrant, Finding: "F1", What: "stage", By: "I1", On: onDay(3, 6), None: true})
		}, ""},
		{"a bad look at what the route does not deal with", func(w *world, _ *Input) {
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "bad", Show: body.ShowVisual, Finding: "F9", What: "root sownd", By: "I1", On: onDay(3, 6)})
		}, ""},
		{"a hold point that failed under other words", func(w *world, _ *Input) {
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "bad", Show: body.ShowHold, Finding: "F1", What: "x", Step: "Paint", By: "I1", On: onDay(3, 6)})
		}, ""},
		{"the procedure not looked up", func(w *world, _ *Input) { w.in.Job.Checks = nil }, "FRONT: the procedure may not be relied on: nobody has looked up whether CHECK revision B is the current revision since it took effect on 2030-02-01"},
	} {
		w, in := orderly()
		c.change(w, in)
		if got := missingTexts(w, in); got != c.want {
			t.Errorf("%s: missing\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
}

// Without a shop file nobody may sign: every act of the job is missing.
func TestGateWithoutAShop(t *testing.T) {
	w, in := orderly()
	w.in.Shop, w.in.Job.Hazards = nil, nil
	got := missingTexts(w, in)
	for _, a := range w.in.Job.Actuals {
		if want := fmt.Sprintf("that %q was done does not count: %q names no person of the shop file", a.Step, a.By); !strings.Contains(got, want) {
			t.Errorf("not told: %s", want)
		}
	}
	for _, x := range w.in.Job.Records {
		if want := fmt.Sprintf("record %s (%s) does not count: %q names no person of the shop file", x.ID, x.Show, x.By); x.ID != "cond" && !strings.Contains(got, want) {
			t.Errorf("not told: %s", want)
		}
	}
}

// The procedure of a finding is that of its casting, and of a part that is none that of the
// first; by the very revision that decided, or none.
func TestWhichProcedureAsks(t *testing.T) {
	r := &gate{}
	r.in.Body = &body.Body{Castings: []body.Casting{{ID: "FRONT", Part: "PF"}, {ID: "REAR", Part: "PR"}},
		Procedures: []body.Procedure{{ID: "A", Revision: "1"}, {ID: "A", Revision: "2"}, {ID: "B", Revision: "1"}}}
	r.in.Result.Procedures = []decide.InForce{{Casting: "FRONT", Procedure: "A", Revision: "2"}, {Casting: "REAR", Procedure: "B", Revision: "1"}}
	for part, want := range map[body.PartID]int{"PF": 1, "PR": 2, "lamp": 1} {
		if got := r.procedureOf(job.Finding{Part: part}); got != &r.in.Body.Procedures[want] {
			t.Errorf("%s: %+v", part, got)
		}
	}
	r.in.Result.Procedures[0].Revision, r.in.Result.Procedures[1].Procedure = "3", "C"
	for _, part := range []body.PartID{"PF", "PR", "lamp"} {
		if got := r.procedureOf(job.Finding{Part: part}); got != nil {
			t.Errorf("%s: %+v, and no procedure decided", part, got)
		}
	}
}
