package release

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// orderly is a repair of which everything is in order and on record, with something of every
// sort that the gate asks for, each on a day of its own:
//
//	2030-02-01  opened
//	2030-02-20  F1 and F2 seen, looked over, measured; the procedure looked up 2030-02-22
//	2030-02-24  the manufacturer lets F1 be welded, until 2030-04-05, on a condition
//	2030-02-25  the route chosen; 2030-02-26 treatments accepted; 2030-02-28 reviewed
//	2030-03-01  Isolate
//	2030-03-04  Grind (F1), hold point and figure on 2030-03-05
//	2030-03-07  Plate (F2), its adhesive on that day
//	2030-03-10  Measure; F1 and F2 inspected on 2030-03-09
//	2030-03-13  Close (J1), its torque on that day
//	2030-03-16  Bond (J2), its adhesive on that day
//	2030-03-18  set-up A, after the repair
//	2030-03-25  today
//
// Constructed.
func orderly() (*world, *Input) {
	w, in := repaired()
	j, on := w.in.Job, func(d int) unit.Date { return day(2030, 3, d) }
	w.in.Today = on(25)
	w.in.Body.Points = []body.Point{{ID: "P1"}, {ID: "P2"}}
	w.in.Body.Tasks = []body.Task{{ID: "hv", When: "open", Step: body.Step{Name: "Isolate", Skill: "hv", Cautions: []body.Caution{"high voltage"}}}}
	w.in.Shop.People = append(w.in.Shop.People, shop.Person{ID: "E1", Skills: []body.SkillID{"hv"}})
	w.in.Shop.Tested = []shop.Tested{{Equipment: "gun", Until: on(30)}}
	w.in.Shop.Calendar.Start, w.in.Shop.Calendar.End = "07:00", "16:00"
	p := &w.in.Body.Procedures[0]
	p.Rows[1].After = []body.After{{Method: body.ShowPenetrant, When: "after welding"}, {Method: body.ShowVisual, What: "root sound"}}
	j.Impact.On = day(2030, 1, 20)
	j.Checks[0].On = day(2030, 2, 22)
	for _, l := range []*inspect.Length{w.in.Inspect.Findings[0].Length, w.in.Inspect.Findings[0].Decision} {
		l.MM = 60 // too long for the procedure to allow it
	}
	w.answers(job.Answer{ID: "AN", Finding: "F1", VIN: j.Vehicle.VIN, Allow: []body.TreatmentKind{body.Weld}, On: day(2030, 2, 24), Expires: day(2030, 4, 5), Document: "E1", Conditions: "two layers"})
	j.Choices[0].On = day(2030, 2, 25)
	for i := range j.Accepted {
		j.Accepted[i].On, j.Accepted[i].Reason = day(2030, 2, 26), "as answered"
	}
	j.Reviews[0].On = day(2030, 2, 28)
	j.Hazards = []job.Hazard{{Kind: "high voltage", Text: "pack", Cleared: true, By: "E1", On: on(1)}}
	j.Setups = append(j.Setups, job.Setup{ID: "B", Stage: job.StageBefore, Device: "arm", Calibrated: day(2030, 9, 1), On: day(2030, 2, 20), By: "I1"})
	j.Setups[0].On = on(18)
	in.Steps = append([]PlannedStep{{ID: "S0", Name: "Isolate", Skill: "hv", Asked: true, Prepares: true}}, in.Steps...)
	in.Steps[1].After, in.Steps[2].After = []string{"S0"}, []string{"S1"}
	in.Steps[5].After = []string{"S4"}
	in.Steps[1].Hold, in.Steps[1].Second = "groove clean", true
	in.Steps[1].Equipment, in.Steps[1].Uses = []string{"gun"}, []string{"WIRE"}
	in.Steps[1].Readings = []body.Reading{{ID: "gap", Name: "Gap", Unit: "mm"}}
	j.Actuals = nil
	for i, s := range in.Steps {
		by := "W1"
		if i == 0 {
			by = "E1"
		}
		j.Actuals = append(j.Actuals, job.Actual{Step: s.Name, By: by, On: on([]int{1, 4, 7, 10, 13, 16}[i])})
	}
	for i := range j.Records {
		j.Records[i].On = on([]int{9, 9, 9, 9, 13, 16, 7}[i])
	}
	j.Looks[len(j.Looks)-1].On = on(9)
	for i := range w.in.Inspect.Inspections {
		w.in.Inspect.Inspections[i].On = on(9)
	}
	j.Records = append(j.Records, job.Record{ID: "hold", Show: body.ShowHold, Step: "Grind", Finding: "F1", By: "I1", On: on(5), Met: true},
		job.Record{ID: "root", Show: body.ShowVisual, Finding: "F2", What: "root sound", By: "I1", On: on(8), Met: true},
		job.Record{ID: "cond", Show: body.ShowVisual, Finding: "F1", What: "two layers", By: "I1", On: on(6), Met: true})
	j.Figures = []job.Figure{{Step: "Grind", Finding: "F1", Reading: "gap", Value: unit.Amount{Value: 1, Unit: "mm"}, Device: "gauge", Calibrated: day(2030, 9, 1), By: "W1", On: on(5)}}
	j.Deliveries = []job.Arrival{{ID: "D1", Item: "WIRE", Count: 1, On: day(2030, 2, 27), UseBefore: on(15)}, {ID: "D2", Item: "GLUE", Batch: "B7", Count: 1, On: day(2030, 2, 27), UseBefore: on(18)}}
	return w, in
}

// TestDaysThatCount moves each day on record alone: on the first and on the last of these days
// nothing is missing, on the day before and the day after something is, and so it is where the day
// is not on record. What bounds each stands beside it; the rules are those of
// docs/methods/decision.md. GLUE is closed at 10:50 and may be handled four hours later, has its
// full strength after three days, and work begins at 07:00.
func TestDaysThatCount(t *testing.T) {
	if w, in := orderly(); missingTexts(w, in) != "" {
		t.Fatalf("the job is not in order:\n%s", missingTexts(w, in))
	}
	const none = "" // no bound
	record := func(id string) func(*world) *unit.Date {
		return func(w *world) *unit.Date {
			return &w.in.Job.Records[slices.IndexFunc(w.in.Job.Records, func(x job.Record) bool { return x.ID == id })].On
		}
	}
	did := func(i int) func(*world) *unit.Date {
		return func(w *world) *unit.Date { return &w.in.Job.Actuals[i].On }
	}
	for _, d := range []struct {
		name        string
		of          func(*world) *unit.Date
		first, last string
		because     string
	}{
		{"penetrant of F1", record("r1"), "2030-03-09", "2030-03-09", "the day of its inspection"},
		{"penetrant of F2", record("r2"), "2030-03-09", "2030-03-09", "the day of its inspection"},
		{"look at F1", record("r3"), "2030-03-04", "2030-03-25", "Grind; today"},
		{"look at F2", record("r4"), "2030-03-07", "2030-03-25", "Plate; today"},
		{"torque of J1", record("r5"), "2030-03-13", "2030-03-16", "Close; Bond comes after it"},
		{"adhesive of J2", record("r6"), "2030-03-16", "2030-03-17", "Bond; to be handled before set-up A is begun"},
		{"adhesive of F2", record("r7"), "2030-03-07", "2030-03-09", "Plate; to be handled before Measure is begun"},
		{"hold point of Grind", record("hold"), "2030-03-04", "2030-03-07", "Grind; Plate comes after it"},
		{"look that a row asks for", record("root"), "2030-03-07", "2030-03-25", "Plate; today"},
		{"condition of the answer", record("cond"), "2030-03-04", "2030-03-25", "Grind; today"},
		{"Isolate", did(0), "2030-02-26", "2030-03-04", "the first acceptance; Grind comes after it"},
		{"Grind", did(1), "2030-03-01", "2030-03-05", "Isolate; its hold point"},
		{"Plate", did(2), "2030-03-05", "2030-03-07", "hold point and figure of Grind; its adhesive"},
		{"Measure", did(3), "2030-03-08", "2030-03-13", "the plate could be handled; Close comes after it"},
		{"Close", did(4), "2030-03-10", "2030-03-13", "Measure; its torque"},
		{"Bond", did(5), "2030-03-13", "2030-03-16", "torque of Close; its adhesive"},
		{"F1 was seen", func(w *world) *unit.Date { return &w.in.Job.Findings[0].On }, "2030-02-01", "2030-02-25", "the job was opened; the route was chosen"},
		{"F2 was seen", func(w *world) *unit.Date { return &w.in.Job.Findings[1].On }, none, "2030-02-25", "the route was chosen"},
		{"the casting was looked over", func(w *world) *unit.Date { return &w.in.Job.Castings[0].On }, none, "2030-02-28", "the review"},
		{"the procedure was looked up", func(w *world) *unit.Date { return &w.in.Job.Checks[0].On }, "2030-02-01", "2030-03-25", "the job was opened; today"},
		{"the answer", func(w *world) *unit.Date { return &w.in.Job.Answers[0].On }, "2030-02-01", "2030-02-26", "the job was opened; the acceptance that rests on it"},
		{"the answer expires", func(w *world) *unit.Date { return &w.in.Job.Answers[0].Expires }, "2030-03-26", none, "today"},
		{"the choice", func(w *world) *unit.Date { return &w.in.Job.Choices[0].On }, "2030-02-20", "2030-02-28", "the findings; the review"},
		{"F1 was accepted", func(w *world) *unit.Date { return &w.in.Job.Accepted[0].On }, "2030-02-24", "2030-02-28", "the answer; the review"},
		{"F2 was accepted", func(w *world) *unit.Date { return &w.in.Job.Accepted[1].On }, "2030-02-20", "2030-02-28", "the finding; the review"},
		{"the review", func(w *world) *unit.Date { return &w.in.Job.Reviews[0].On }, "2030-02-26", "2030-03-25", "the acceptances; today"},
		{"made safe", func(w *world) *unit.Date { return &w.in.Job.Hazards[0].On }, "2030-02-01", "2030-03-25", "the job was opened; today"},
		{"set-up after", func(w *world) *unit.Date { return &w.in.Job.Setups[0].On }, "2030-03-17", "2030-03-25", "J2 could be handled; today"},
		{"set-up before", func(w *world) *unit.Date { return &w.in.Job.Setups[1].On }, "2030-02-01", "2030-02-28", "the job was opened; the review"},
		{"calibration of the arm after", func(w *world) *unit.Date { return &w.in.Job.Setups[0].Calibrated }, "2030-03-18", none, "set-up A"},
		{"calibration of the arm before", func(w *world) *unit.Date { return &w.in.Job.Setups[1].Calibrated }, "2030-02-20", none, "set-up B"},
		{"figure of Grind", func(w *world) *unit.Date { return &w.in.Job.Figures[0].On }, "2030-03-01", "2030-03-07", "Isolate; Plate comes after it"},
		{"calibration of the gauge", func(w *world) *unit.Date { return &w.in.Job.Figures[0].Calibrated }, "2030-03-05", none, "the figure"},
		{"calibration of the wrench", func(w *world) *unit.Date { return &w.in.Job.Records[4].Calibrated }, "2030-03-13", none, "the torque"},
		{"calibration of a thermometer", func(w *world) *unit.Date { return &w.in.Job.Records[5].Calibrated }, "2030-03-16", none, "the adhesive of J2"},
		{"calibration of the other", func(w *world) *unit.Date { return &w.in.Job.Records[6].Calibrated }, "2030-03-07", none, "the adhesive of F2"},
		{"calibration of the light meter", func(w *world) *unit.Date { return &lookPT9(w).Calibrated }, "2030-03-09", none, "the inspection"},
		{"last day of the adhesive of J2", func(w *world) *unit.Date { return &w.in.Job.Records[5].UseBefore }, "2030-03-16", none, "its use"},
		{"last day of the adhesive of F2", func(w *world) *unit.Date { return &w.in.Job.Records[6].UseBefore }, "2030-03-07", none, "its use"},
		{"test of the gun", func(w *world) *unit.Date { return &w.in.Shop.Tested[0].Until }, "2030-03-04", none, "Grind"},
		{"last day of the wire that came", func(w *world) *unit.Date { return &w.in.Job.Deliveries[0].UseBefore }, "2030-03-04", none, "Grind; not on record: no last day"},
		{"last day of the batch that came", func(w *world) *unit.Date { return &w.in.Job.Deliveries[1].UseBefore }, "2030-03-16", none, "its last use, in J2; not on record: no last day"},
		{"the job was opened", func(w *world) *unit.Date { return &w.in.Job.Opened }, none, "2030-02-20", "the first that was seen"},
		{"the impact", func(w *world) *unit.Date { return &w.in.Job.Impact.On }, none, "2030-02-20", "the first that was seen"},
		{"today", func(w *world) *unit.Date { return &w.in.Today }, "2030-03-20", "2030-04-04", "J2 has cured; the answer holds"},
	} {
		try := func(on unit.Date, good bool) {
			w, in := orderly()
			*d.of(w) = on
			if got := missingTexts(w, in); (got == "") != good {
				t.Errorf("%s on %s (%s): missing %q", d.name, on, d.because, got)
			}
		}
		if d.first != none {
			first := date(t, d.first)
			try(first.AddDays(-1), false)
			try(first, true)
			try(unit.Date{}, strings.Contains(d.because, "not on record"))
		}
		if d.last != none {
			last := date(t, d.last)
			try(last, true)
			try(last.AddDays(1), false)
		}
	}
}

func date(t *testing.T, s string) unit.Date {
	t.Helper()
	var d unit.Date
	if err := d.UnmarshalText([]byte(s)); err != nil {
		t.Fatal(err)
	}
	return d
}
