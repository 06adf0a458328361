package release

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// repaired is a job with one welded crack, one crack with a plate and one joint,
// of which everything is in order.
func repaired() (*world, *Input) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	w.crack("F2", 20, 1, "GUARDED-1")
	p := &w.in.Body.Procedures[0]
	p.Levels = []body.Level{level2()}
	welds := []body.TreatmentKind{body.Weld, body.WeldBacking}
	p.Acceptance = []body.Acceptance{
		{ID: "a1", Cite: "CP 8", For: welds, Show: body.ShowPenetrant, Level: "2"},
		{ID: "a2", Cite: "CP 9", For: welds, Show: body.ShowVisual, Quality: "no undercut"},
		{ID: "a3", Cite: "CP 10", For: welds, Show: body.ShowDimensions},
		{ID: "a4", Cite: "CP 11", For: welds, Show: body.ShowTorque},
		{ID: "a5", Cite: "CP 12", For: welds, Show: body.ShowAdhesive},
	}
	w.in.Body.Joints = []body.Joint{{ID: "J1", Name: "bolts", Torque: 24}, {ID: "J2", Name: "bond", Cures: "GLUE"}, {ID: "J3", Name: "clips"}}
	w.in.Body.Materials = []body.Material{{ID: "GLUE", Kind: "adhesive", Cure: []body.CureRow{{Temp: 15, Working: 60, Handling: 240, Full: 4320}, {Temp: 20, Working: 45, Handling: 180, Full: 2880}, {Temp: 30, Working: 25, Handling: 60, Full: 1440}}}}
	j := w.in.Job
	w.in.Shop = releaseShop()
	j.Author = "planner"
	for i := range j.Evidence {
		j.Evidence[i].SHA256 = "0123"
	}
	for i := range j.Findings {
		j.Findings[i].On = day(2030, 2, 20)
	}
	j.Castings[0].On, j.Castings[0].By = day(2030, 2, 20), "T1"
	for i := range j.Checks {
		j.Checks[i].On, j.Checks[i].By = day(2030, 2, 20), "planner"
	}
	j.Choices = []job.Choice{{Route: "weld", By: "P1", On: day(2030, 2, 21)}}
	j.Setups = []job.Setup{{ID: "A", Stage: "after", Device: "arm", Calibrated: day(2030, 9, 1), On: day(2030, 3, 9), By: "I1"}}
	accepted := func(f job.FindingID, k body.TreatmentKind) job.Accepted {
		return job.Accepted{Finding: f, Kind: k, By: "P1", On: day(2030, 3, 1)}
	}
	j.Accepted = []job.Accepted{accepted("F1", body.Weld), accepted("F2", body.WeldBacking)}
	j.Reviews = []job.Review{{By: "R1", On: day(2030, 3, 1)}}
	record := func(id string, show body.ProofKind, f job.FindingID) job.Record {
		return job.Record{ID: id, Show: show, Finding: f, By: "I1", On: day(2030, 3, 2), None: show == body.ShowPenetrant, Look: map[body.ProofKind]string{body.ShowPenetrant: "PT-9"}[show], Met: true}
	}
	j.Records = []job.Record{record("r1", body.ShowPenetrant, "F1"), record("r2", body.ShowPenetrant, "F2"),
		record("r3", body.ShowVisual, "F1"), record("r4", body.ShowVisual, "F2"),
		{ID: "r5", By: "I1", Show: body.ShowTorque, Joint: "J1", Torque: 24, Device: "wrench", Calibrated: day(2030, 9, 1), On: day(2030, 3, 2)},
		{ID: "r6", By: "I1", Show: body.ShowAdhesive, Joint: "J2", Material: "GLUE", Batch: "B7", UseBefore: day(2030, 5, 1), On: day(2030, 3, 2), Mixed: "10:05", Closed: "10:50", Temp: unit.Some(unit.Celsius(18)), Device: "thermometer", Calibrated: day(2030, 9, 1)},
		{ID: "r7", By: "I1", Show: body.ShowAdhesive, Finding: "F2", Material: "GLUE", Batch: "B7", UseBefore: day(2030, 5, 1), On: day(2030, 3, 2), Mixed: "10:05", Closed: "10:50", Temp: unit.Some(unit.Celsius(18)), Device: "thermometer", Calibrated: day(2030, 9, 1)}}
	w.in.Inspect.Inspections = []inspect.Judged{{ID: "PT-9", Casting: "FRONT", Method: "penetrant", On: day(2030, 3, 2), Counts: true},
		{ID: "PT-9", Casting: "REAR", Method: "penetrant", On: day(2030, 3, 2), Why: []string{"too dark for the rear"}}}
	j.Looks = append(j.Looks, job.Inspection{ID: "PT-9", On: day(2030, 3, 2), Device: "light meter", Calibrated: day(2030, 9, 1)})
	glue := []body.MaterialID{"GLUE"}
	in := &Input{Joints: []body.JointID{"J1", "J2", "J3"}, After: &MeasuredAfter{},
		Chosen: []Chosen{{Finding: "F1", Kind: body.Weld}, {Finding: "F2", Kind: body.WeldBacking, Bonds: glue}},
		Steps: []PlannedStep{{ID: "S1", Name: "Grind", For: []job.FindingID{"F1"}, Skill: "weld", Asked: true, Treats: true},
			{ID: "S2", Name: "Plate", For: []job.FindingID{"F2"}, Skill: "weld", Asked: true, Treats: true, Bonds: glue},
			{ID: "S3", Name: "Measure", Asked: true, After: []string{"S1", "S2"}},
			{ID: "S4", Name: "Close", Asked: true, Shuts: true, Joints: []body.JointID{"J1", "J3"}, After: []string{"S3"}},
			{ID: "S5", Name: "Bond", Asked: true, Shuts: true, Joints: []body.JointID{"J2"}, Bonds: glue, After: []string{"S3"}}}}
	for _, x := range in.Steps {
		a := job.Actual{Step: x.Name, By: "W1", On: day(2030, 3, 2)}
		if len(x.After) > 0 {
			a.Began = "15:00" // four hours to handling after the plate
		}
		j.Actuals = append(j.Actuals, a)
	}
	w.in.Today = day(2030, 3, 10)
	return w, in
}

// releaseShop is who does, inspects, accepts and reviews a repair.
func releaseShop() *shop.Shop {
	return &shop.Shop{Temp: 19, People: []shop.Person{{ID: "T1", May: []shop.Authority{shop.MayAnswers}}, {ID: "planner"}, {ID: "W1", Skills: []body.SkillID{"weld"}},
		{ID: "I1", May: []shop.Authority{shop.MayInspect}}, {ID: "R1", May: []shop.Authority{shop.MayReview}}, {ID: "P1", Accepts: body.TreatmentKinds()}}}
}

func lookPT9(w *world) *job.Inspection {
	i := slices.IndexFunc(w.in.Job.Looks, func(l job.Inspection) bool { return l.ID == "PT-9" })
	return &w.in.Job.Looks[i]
}

func missingTexts(w *world, in *Input) string {
	in.Input = w.in
	in.Result, _ = decide.Run(w.in)
	var out []string
	for _, m := range Release(*in) {
		out = append(out, m.Where+": "+m.Text)
	}
	return strings.Join(out, "\n")
}

// Nothing missing, then one thing after the other. Source: the rules of
// docs/methods/decision.md.
func TestRelease(t *testing.T) {
	for _, tc := range []struct {
		name, want string
		change     func(*world, *Input)
	}{
		{"all in order", "", func(*world, *Input) {}},
		{"expired procedure", "FRONT: the procedure may not be relied on", func(w *world, _ *Input) { w.in.Body.Procedures[0].Recheck = day(2030, 3, 1) }},
		{"no treatment", "F1: no treatment has been chosen", func(_ *world, in *Input) { in.Chosen = in.Chosen[1:] }},
		{"nothing chosen", ": no treatment has been chosen for any finding", func(_ *world, in *Input) { in.Chosen = nil }},
		{"treatment not allowed", "F2: weld is not allowed: it is ask", func(w *world, in *Input) {
			in.Chosen[1].Kind, w.in.Job.Accepted[1].Kind = body.Weld, body.Weld
		}},
		{"not accepted", "F1: nobody has accepted weld", func(w *world, _ *Input) { w.in.Job.Accepted = w.in.Job.Accepted[1:] }},
		{"something else accepted", "F1: P1 accepted weld with backing plate, but the chosen route has weld", func(w *world, _ *Input) { w.in.Job.Accepted[0].Kind = body.WeldBacking }},
		{"a milder one allowed, no reason", "accepted weld with backing plate without a reason, though a milder treatment is allowed", func(w *world, in *Input) {
			in.Chosen[0].Kind, w.in.Job.Accepted[0].Kind = body.WeldBacking, body.WeldBacking
			w.in.Job.Records[6].Finding = "F1"
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "r8", By: "I1", Show: body.ShowAdhesive, Finding: "F2", Material: "GLUE", Batch: "B7", UseBefore: day(2030, 5, 1), On: day(2030, 3, 2), Mixed: "10:05", Closed: "10:50", Temp: unit.Some(unit.Celsius(18)), Device: "thermometer", Calibrated: day(2030, 9, 1)})
		}},
		{"no review", ": nobody has reviewed the decisions", func(w *world, _ *Input) { w.in.Job.Reviews = nil }},
		{"old review", "F1: the treatment was accepted on 2030-03-01, after the last review, of 2030-02-28", func(w *world, _ *Input) { w.in.Job.Reviews[0].On = day(2030, 2, 28) }},
		{"no penetrant", "F1: penetrant inspection to level 2 after weld is not on record", func(w *world, _ *Input) { w.in.Job.Records = w.in.Job.Records[1:] }},
		{"record of tomorrow", "F1: record r1 (penetrant) does not count: it is dated 2030-03-11, after today", func(w *world, _ *Input) { w.in.Job.Records[0].On = day(2030, 3, 11) }},
		{"a crack", "F1: refused (record r1): the indication of 1 mm by 0.2 mm is a crack", func(w *world, _ *Input) {
			w.in.Job.Records[0].None, w.in.Job.Records[0].Indications = false, []job.Indication{indication(1, 0.2, 0, "yes")}
		}},
		{"an indication over the level", "F1: refused (record r1): the indication of 5 mm by 1 mm is linear", func(w *world, _ *Input) {
			w.in.Job.Records[0].None, w.in.Job.Records[0].Indications = false, []job.Indication{indication(5, 1, 0, "no")}
		}},
		{"an accepted indication", "", func(w *world, _ *Input) {
			w.in.Job.Records[0].None, w.in.Job.Records[0].Indications = false, []job.Indication{indication(3, 2, 0, "no")}
		}},
		{"penetrant without conditions", "F1: undecided (record r1): it does not say in which inspection", func(w *world, _ *Input) { w.in.Job.Records[0].Look = "" }},
		{"light read with nobody knows what", "F1: undecided (record r1): light and temperature of inspection PT-9 do not count: it does not say with which device", func(w *world, _ *Input) { lookPT9(w).Device = "" }},
		{"a light meter out of calibration", "do not count: the calibration of light meter ended on 2030-03-01", func(w *world, _ *Input) { lookPT9(w).Calibrated = day(2030, 3, 1) }},
		{"a light meter, nobody knows until when", "it is not known whether light meter was in calibration", func(w *world, _ *Input) { lookPT9(w).Calibrated = unit.Date{} }},
		{"warmth read with nobody knows what", "J2: the temperature in record r6 does not count: it does not say with which device", func(w *world, _ *Input) { w.in.Job.Records[5].Device = "" }},
		{"a thermometer out of calibration", "F2: the temperature in record r7 does not count: the calibration of thermometer ended", func(w *world, _ *Input) { w.in.Job.Records[6].Calibrated = day(2030, 3, 1) }},
		{"an inspection nobody knows", "F1: undecided (record r1): inspection PT-8 is not on record", func(w *world, _ *Input) { w.in.Job.Records[0].Look = "PT-8" }},
		{"too dark", "F2: undecided (record r2): inspection PT-9 does not count: white light", func(w *world, _ *Input) {
			w.in.Inspect.Inspections[0].Counts, w.in.Inspect.Inspections[0].Why = false, []string{"white light: 100 lx"}
		}},
		{"an inspection by eye", "F1: undecided (record r1): inspection PT-9 was visual", func(w *world, _ *Input) { w.in.Inspect.Inspections[0].Method = "visual" }},
		{"the inspection from before the repair", "F1: undecided (record r1): inspection PT-9 was on 2030-02-20, the record is of 2030-03-02", func(w *world, _ *Input) {
			w.in.Inspect.Inspections[0].On = day(2030, 2, 20)
		}},
		{"a record from before the repair", `F1: record r1 (penetrant) does not count: it is dated 2030-02-20, before "Grind" was done on 2030-03-02`, func(w *world, _ *Input) {
			w.in.Job.Records[0].On, w.in.Inspect.Inspections[0].On = day(2030, 2, 20), day(2030, 2, 20)
		}},
		{"penetrant of a row without a level", "F1: undecided (record r1): something was indicated, and the procedure gives no level", func(w *world, _ *Input) {
			w.in.Body.Procedures[0].Acceptance[0].Zones = []body.ZoneID{"GUARDED-1"}
			w.in.Job.Records[0].None, w.in.Job.Records[0].Indications = false, []job.Indication{indication(1, 0.5, 0, "no")}
		}},
		{"penetrant of a row, nothing indicated", "", func(w *world, _ *Input) {
			w.in.Body.Procedures[0].Acceptance[0].Zones = []body.ZoneID{"GUARDED-1"}
		}},
		{"penetrant of a row, without conditions", "F1: undecided (record r1): it does not say in which inspection", func(w *world, _ *Input) {
			w.in.Body.Procedures[0].Acceptance[0].Zones = []body.ZoneID{"GUARDED-1"}
			w.in.Job.Records[0].Look = ""
		}},
		{"visual quality", "F2: the visual quality is not met (record r4): no undercut", func(w *world, _ *Input) { w.in.Job.Records[3].Met = false }},
		{"not measured", ": the control points have not been measured after the repair", func(_ *world, in *Input) { in.After = nil }},
		{"out of tolerance", ": out of tolerance after the repair: P1, P2", func(_ *world, in *Input) { in.After.NotMet = []body.PointID{"P1", "P2"} }},
		{"undecided", ": the tolerance is undecided after the repair for P1", func(_ *world, in *Input) { in.After.Undecided = []body.PointID{"P1"} }},
		{"no torque", "J1: the torque of bolts is not on record (24 Nm)", func(w *world, _ *Input) { w.in.Job.Records[4].Joint = "J9" }},
		{"another torque", "J1: the tool was set to 20 Nm for bolts, the body asks for 24 Nm", func(w *world, _ *Input) { w.in.Job.Records[4].Torque = 20 }},
		{"no bond", "J2: the adhesive of bond is not on record", func(w *world, _ *Input) { w.in.Job.Records[5].Joint = "J9" }},
		{"another adhesive", "J2: bond was bonded with PASTE, the body asks for GLUE", func(w *world, _ *Input) { w.in.Job.Records[5].Material = "PASTE" }},
		{"old adhesive", "J2: the adhesive was used on 2030-03-02, after its last day of use, 2030-03-01", func(w *world, _ *Input) { w.in.Job.Records[5].UseBefore = day(2030, 3, 1) }},
		{"no adhesive under the plate", "F2: the adhesive of weld with backing plate is not on record", func(w *world, _ *Input) { w.in.Job.Records = w.in.Job.Records[:6] }},
		{"open too long", "J2: the adhesive was open for 46 min, at 18 C it may be for 45 min", func(w *world, _ *Input) { w.in.Job.Records[5].Closed = "10:51" }},
		{"too cold for the adhesive", "J2: the body does not say how long GLUE may be open at 14 C", func(w *world, _ *Input) { w.in.Job.Records[5].Temp = unit.Some(unit.Celsius(14)) }},
		{"too warm for the adhesive", "F2: the body does not say how long GLUE may be open at 31 C", func(w *world, _ *Input) { w.in.Job.Records[6].Temp = unit.Some(unit.Celsius(31)) }},
		{"nobody looked at the clock", "J2: record r6 does not say how long the adhesive was open", func(w *world, _ *Input) { w.in.Job.Records[5].Mixed = "" }},
		{"an inspection of the row", "F1: not on record: look: root sound, after 24 h", func(w *world, _ *Input) {
			w.in.Body.Procedures[0].Rows[0].After = []body.After{{Method: "visual", What: "root sound", When: "after 24 h"}}
		}},
		{"an inspection of the row, made", "", func(w *world, _ *Input) {
			w.in.Body.Procedures[0].Rows[0].After = []body.After{{Method: "visual", What: "root sound", When: "after 24 h"}}
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "r9", By: "I1", Show: body.ShowVisual, Finding: "F1", What: "root sound", Met: true, On: day(2030, 3, 2)})
		}},
		{"an inspection of the row, not met", "F1: not on record: look: root sound", func(w *world, _ *Input) {
			w.in.Body.Procedures[0].Rows[0].After = []body.After{{Method: "visual", What: "root sound"}}
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "r9", By: "I1", Show: body.ShowVisual, Finding: "F1", What: "root sound", On: day(2030, 3, 2)})
		}},
		{"an inspection of a row for another treatment", "", func(w *world, _ *Input) {
			w.in.Body.Procedures[0].Rows[6].After = []body.After{{Method: "visual", What: "every bolt marked"}}
		}},
		{"the plate's own look is not the weld's", "F1: visual inspection after weld is not on record", func(w *world, _ *Input) { w.in.Job.Records[2].What = "plate" }},
		{"a hold point", `F1: nobody has passed the hold point of "Grind": groove free of cracks`, func(_ *world, in *Input) {
			in.Steps[0].Hold = "groove free of cracks"
		}},
		{"a hold point, passed", "", func(w *world, in *Input) {
			in.Steps[0].Hold, in.Steps[2].Hold = "groove", "points"
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "r9", By: "I1", Show: body.ShowHold, Step: "Grind", Finding: "F1", Met: true, On: day(2030, 3, 2)},
				job.Record{ID: "r10", By: "I1", Show: body.ShowHold, Step: "Measure", Met: true, On: day(2030, 3, 2)})
		}},
		{"a hold point of another finding", `F1: nobody has passed the hold point of "Grind"`, func(w *world, in *Input) {
			in.Steps[0].Hold = "groove"
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "r9", By: "I1", Show: body.ShowHold, Step: "Grind", Finding: "F2", Met: true, On: day(2030, 3, 2)})
		}},
		{"a hold point that failed at last", `F1: the hold point of "Grind" is not met (record r10)`, func(w *world, in *Input) {
			in.Steps[0].Hold = "groove"
			w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "r9", By: "I1", Show: body.ShowHold, Step: "Grind", Finding: "F1", Met: true, On: day(2030, 3, 1)},
				job.Record{ID: "r10", By: "I1", Show: body.ShowHold, Step: "Grind", Finding: "F1", On: day(2030, 3, 2)})
		}},
		{"several indications, place not known", "F1: undecided (record r1): it is not known where the indications end", func(w *world, _ *Input) {
			w.in.Job.Records[0].None, w.in.Job.Records[0].Indications = false, []job.Indication{indication(2, 1, 0, "no"), indication(2, 1, 0, "no")}
		}},
		{"several indications, said to be apart", "", func(w *world, _ *Input) {
			w.in.Job.Records[0].None, w.in.Job.Records[0].Apart = false, true
			w.in.Job.Records[0].Indications = []job.Indication{indication(2, 1, 0, "no"), indication(2, 1, 0, "no")}
		}},
		{"two that count as one", "F1: refused (record r1): 2 indications that count as one: the indication of 5.5 mm by 1 mm is linear", func(w *world, _ *Input) {
			a, b := indication(2, 1, 0, "no"), indication(2, 1, 0, "no")
			a.Ends, b.Ends = []geom.Vec{{0, 0, 0}, {2, 0, 0}}, []geom.Vec{{3.5, 0, 0}, {5.5, 0, 0}}
			w.in.Job.Records[0].None, w.in.Job.Records[0].Indications = false, []job.Indication{a, b}
		}},
		{"a condition of the answer", "F1: that the condition of answer AN is met is not on record: two layers", func(w *world, in *Input) {
			w.answers(job.Answer{ID: "AN", Finding: "F1", VIN: w.in.Job.Vehicle.VIN, Allow: []body.TreatmentKind{body.Weld}, On: day(2030, 3, 1), Expires: day(2030, 6, 1), Document: "E1", Conditions: "two layers"})
			w.in.Job.Accepted[0].Reason = "AN"
		}},
		{"the procedure asks for nothing", "F1: CHECK revision B does not say what has to be shown after weld", func(w *world, _ *Input) {
			for i := range w.in.Body.Procedures[0].Acceptance {
				w.in.Body.Procedures[0].Acceptance[i].For = []body.TreatmentKind{body.WeldBacking}
			}
		}},
		{"asked in another zone only", "F1: CHECK revision B does not say what has to be shown after weld", func(w *world, _ *Input) {
			for i := range w.in.Body.Procedures[0].Acceptance {
				w.in.Body.Procedures[0].Acceptance[i].Zones = []body.ZoneID{"GUARDED-1"}
			}
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			w, in := repaired()
			tc.change(w, in)
			if got := missingTexts(w, in); (got == "") != (tc.want == "") || !strings.Contains(got, tc.want) {
				t.Errorf("missing\n%s\nwant %q", got, tc.want)
			}
		})
	}
}
