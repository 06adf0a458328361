package release

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// twoCastings is a job whose casting was replaced and put on record, after which a
// crack was found in the new one, so that it was replaced again: every step and every
// proof of the first casting is still in the job, that of the second follows it.
func twoCastings() (*world, *Input) {
	w, in := repaired()
	j := w.in.Job
	p := &w.in.Body.Procedures[0]
	for i := range p.Acceptance {
		p.Acceptance[i].For = append(p.Acceptance[i].For, body.ReplaceCasting)
	}
	p.Acceptance = slices.DeleteFunc(p.Acceptance, func(a body.Acceptance) bool { return a.Show == body.ShowPenetrant })
	w.in.Today = day(2030, 4, 10)
	w.in.Job.Checks[0].On = day(2030, 4, 1)
	in.Chosen, in.Joints = nil, []body.JointID{"J1", "J2"}
	ids := []job.FindingID{"F1", "F2", "F3"}
	for _, id := range ids {
		in.Chosen = append(in.Chosen, Chosen{Finding: id, Kind: body.ReplaceCasting})
	}
	w.crack("F3", 20, 1, "OPEN-1")
	j.Findings[2].On = day(2030, 4, 1)
	j.Choices = append(j.Choices, job.Choice{Route: "new-casting", By: "P1", On: day(2030, 4, 2)})
	j.Accepted, j.Records, j.Actuals, j.Setups = nil, nil, nil, nil
	for i, id := range ids {
		on := day(2030, 3, 1)
		if i == 2 {
			on = day(2030, 4, 2)
		}
		j.Accepted = append(j.Accepted, job.Accepted{Finding: id, Kind: body.ReplaceCasting, By: "P1", On: on, Reason: "two castings"})
	}
	j.Reviews = []job.Review{{By: "R1", On: day(2030, 4, 2)}}
	glue := []body.MaterialID{"GLUE"}
	in.Steps = []PlannedStep{{ID: "S0", Name: "Isolate", Asked: true, Prepares: true, Hold: "dead"},
		{ID: "S1", Name: "Fit", For: ids, Skill: "weld", Asked: true, Treats: true, Hold: "clean", Second: true, After: []string{"S0"}},
		{ID: "S2", Name: "Bond", For: ids, Skill: "weld", Asked: true, Treats: true, Joints: []body.JointID{"J2"}, Bonds: glue, After: []string{"S1"}},
		{ID: "S3", Name: "Close", Asked: true, Shuts: true, Joints: []body.JointID{"J1"}, After: []string{"S2"}}}
	for _, m := range []int{3, 4} {
		n := fmt.Sprint(m)
		on := func(d int) unit.Date { return day(2030, m, d) }
		for i, s := range in.Steps {
			j.Actuals = append(j.Actuals, job.Actual{Step: s.Name, By: "W1", On: on([]int{2, 2, 3, 4}[i])})
		}
		j.Records = append(j.Records,
			job.Record{ID: "dead" + n, Show: body.ShowHold, Step: "Isolate", By: "I1", On: on(2), Met: true},
			job.Record{ID: "clean" + n, Show: body.ShowHold, Step: "Fit", Finding: "F1", By: "I1", On: on(2), Met: true},
			job.Record{ID: "torque" + n, Show: body.ShowTorque, Joint: "J1", Torque: 24, Device: "wrench", Calibrated: day(2030, 9, 1), By: "I1", On: on(4)},
			job.Record{ID: "glue" + n, Show: body.ShowAdhesive, Joint: "J2", Material: "GLUE", Batch: "B7", UseBefore: day(2030, 5, 1), Mixed: "10:05", Closed: "10:50", Temp: unit.Some(unit.Celsius(18)), Device: "thermometer", Calibrated: day(2030, 9, 1), By: "I1", On: on(3)})
		for _, id := range ids[:len(ids)-2*(m-3)] { // one look serves all that the new casting does
			j.Records = append(j.Records, job.Record{ID: "look" + n + string(id), Show: body.ShowVisual, Finding: id, By: "I1", On: on(4), Met: true})
		}
		stage := job.StageAfter
		if m == 3 {
			stage = "during"
		}
		j.Setups = append(j.Setups, job.Setup{ID: "A" + n, Stage: stage, Device: "arm", Calibrated: day(2030, 9, 1), On: on(6), By: "I1"})
	}
	return w, in
}

// TestOldProofsServeNoNewWork: with every proof of the second casting nothing is
// missing; each that is left out, or only there from the first casting, is missing.
func TestOldProofsServeNoNewWork(t *testing.T) {
	w, in := twoCastings()
	if got := missingTexts(w, in); got != "" {
		t.Fatalf("all of it is on record:\n%s", got)
	}
	records, actuals := len(w.in.Job.Records), len(w.in.Job.Actuals)
	for i := range records {
		w, in := twoCastings()
		x := w.in.Job.Records[i]
		w.in.Job.Records = slices.Delete(w.in.Job.Records, i, i+1)
		got := missingTexts(w, in)
		if second := x.On.Month == 4; (got != "") != second {
			t.Errorf("without record %s of %s:\n%s", x.ID, x.On, got)
		}
	}
	for i := range actuals {
		w, in := twoCastings()
		x := w.in.Job.Actuals[i]
		w.in.Job.Actuals = slices.Delete(w.in.Job.Actuals, i, i+1)
		got := missingTexts(w, in)
		if second := x.On.Month == 4; (got != "") != second {
			t.Errorf("without step %q of %s:\n%s", x.Step, x.On, got)
		}
	}
	for name, change := range map[string]func(*job.State){
		"nobody fitted the second": func(j *job.State) { j.Actuals = j.Actuals[:4] },
		"nothing shown of the second": func(j *job.State) {
			j.Records = slices.DeleteFunc(j.Records, func(x job.Record) bool { return x.On.Month == 4 })
		},
		"measured with the first":     func(j *job.State) { j.Setups = j.Setups[:1]; j.Setups[0].Stage = job.StageAfter },
		"both measurements as one":    func(j *job.State) { j.Setups[0].Stage = job.StageAfter },
		"the second reviewed by none": func(j *job.State) { j.Reviews[0].On = day(2030, 3, 30) },
		"accepted before it was seen": func(j *job.State) { j.Accepted[2].On = day(2030, 3, 1) },
		"chosen before it was seen":   func(j *job.State) { j.Choices = j.Choices[:1] },
		"seen after all of it":        func(j *job.State) { j.Findings[2].On = day(2030, 4, 9) },
		"seen and accepted after it":  func(j *job.State) { j.Accepted[2].On, j.Reviews[0].On = day(2030, 4, 9), day(2030, 4, 9) },
	} {
		w, in := twoCastings()
		change(w.in.Job)
		if missingTexts(w, in) == "" {
			t.Errorf("%s: nothing is missing", name)
		}
	}
}

// What prepares stays good for a finding that is accepted while the vehicle is open;
// once it was closed, it is done again.
func TestPreparedForWhatIsFoundOnTheWay(t *testing.T) {
	w, in := repaired()
	in.Steps = append([]PlannedStep{{ID: "S0", Name: "Isolate", Asked: true, Prepares: true}}, in.Steps...)
	j := w.in.Job
	j.Actuals = append(j.Actuals, job.Actual{Step: "Isolate", By: "W1", On: day(2030, 3, 1)})
	j.Accepted[1].On, j.Reviews[0].On = day(2030, 3, 2), day(2030, 3, 2)
	if got := missingTexts(w, in); got != "" {
		t.Errorf("found while it was open:\n%s", got)
	}
	j.Actuals = append([]job.Actual{{Step: "Close", By: "W1", On: day(2030, 3, 1)}}, j.Actuals...)
	if got := missingTexts(w, in); !strings.Contains(got, `"Isolate" was done does not count`) {
		t.Errorf("found once it had been closed:\n%s", got)
	}
}

// The plate of a finding: its adhesive, its cure, and what is measured before it.
// Times: GLUE at 18 C is four hours to handling, three days to full strength.
func TestPlateBond(t *testing.T) {
	for name, tc := range map[string]struct {
		want   string
		change func(*world, *Input)
	}{
		"another adhesive":          {"F2: weld with backing plate was bonded with PASTE, the body asks for GLUE", func(w *world, _ *Input) { w.in.Job.Records[6].Material = "PASTE" }},
		"no adhesive in the plan":   {"the body does not say with what", func(_ *world, in *Input) { in.Chosen[1].Bonds = nil }},
		"no batch":                  {"F2: record r7 does not say which batch", func(w *world, _ *Input) { w.in.Job.Records[6].Batch = " " }},
		"released too soon":         {"F2: the adhesive of weld with backing plate has not cured: it has its full strength on 2030-03-06", func(w *world, _ *Input) { w.in.Today = day(2030, 3, 5) }},
		"colder than the shop":      {"has its full strength on 2030-03-06", func(w *world, _ *Input) { w.in.Today, w.in.Shop.Temp = day(2030, 3, 5), 25 }},
		"measured before handling":  {"A: set-up A does not count: it is taken as begun on 2030-03-02 00:00, and", func(w *world, _ *Input) { w.in.Job.Setups[0].On = day(2030, 3, 2) }},
		"the shop too cold to cure": {"F2: whether the adhesive of weld with backing plate has cured is not known", func(w *world, _ *Input) { w.in.Shop.Temp = 12 }},
		"nobody says when":          {"has its full strength on 2030-03-06", func(w *world, _ *Input) { w.in.Job.Records[6].Closed, w.in.Today = "", day(2030, 3, 5) }},
		"went on at once":           {`"Measure" went on, from 2030-03-02 15:00, before the adhesive of weld with backing plate could be handled, from 2030-03-03 20:10`, func(w *world, _ *Input) { w.in.Body.Materials[0].Cure[0].Handling = 2000 }},
		"dated after work went on":  {`F2: record r7 (adhesive) does not count: it is dated 2030-03-04, and the work had gone on with "Measure" on 2030-03-02`, func(w *world, _ *Input) { w.in.Job.Records[6].On = day(2030, 3, 4) }},
		"dated before the step":     {`F2: record r7 (adhesive) does not count: it is dated 2030-03-01, before "Plate" was done`, func(w *world, _ *Input) { w.in.Job.Records[6].On = day(2030, 3, 1) }},
		"no step bonds":             {"the day is not on record on which it was bonded", func(_ *world, in *Input) { in.Steps[1].Bonds = nil }},
		"the plan has no such step": {"F2: the plan has no step that deals with it", func(_ *world, in *Input) { in.Steps = slices.Delete(in.Steps, 1, 2) }},
		"the wait of a step":        {`is taken as begun on 2030-03-02 15:00, and the wait of 50 h after "Plate" is over on 2030-03-05 02:00`, func(_ *world, in *Input) { in.Steps[1].WaitMin = 3000 }},
		"by somebody of the shop":   {`"Plate" was done does not count: I1 does not work as weld`, func(w *world, _ *Input) { w.in.Job.Actuals[1].By = "I1" }},
		"with equipment out of date": {"the test of the gun ended on 2030-03-01", func(w *world, in *Input) {
			in.Steps[1].Equipment = []string{"gun"}
			w.in.Shop.Tested = append(w.in.Shop.Tested, tested("gun", day(2030, 3, 1)))
		}},
	} {
		t.Run(name, func(t *testing.T) {
			w, in := repaired()
			tc.change(w, in)
			if got := missingTexts(w, in); !strings.Contains(got, tc.want) {
				t.Errorf("missing\n%s\nwant %q", got, tc.want)
			}
		})
	}
}

// Acts of one day, with and without their times: a wait between them has to be shown, a
// time that is not on record is taken the cautious way, two that are there are held
// against one another. Working days of the shop are from 07:00 to 16:00; GLUE at 18 C
// takes four hours to handling: closed at 10:50 it may be handled from 14:50.
func TestActsOfOneDay(t *testing.T) {
	steps := func(w *world) map[string]*job.Actual {
		out := map[string]*job.Actual{}
		for i := range w.in.Job.Actuals {
			out[w.in.Job.Actuals[i].Step] = &w.in.Job.Actuals[i]
		}
		return out
	}
	for name, tc := range map[string]struct {
		want   string
		change func(*world, *Input)
	}{
		"as it stands":                   {"", func(*world, *Input) {}},
		"begun as it could be handled":   {"", func(w *world, _ *Input) { steps(w)["Measure"].Began = "14:50" }},
		"begun a minute before":          {"from 2030-03-02 14:49, before the adhesive", func(w *world, _ *Input) { steps(w)["Measure"].Began = "14:49" }},
		"nobody says when it was begun":  {"from 2030-03-02 07:00, before the adhesive", func(w *world, _ *Input) { steps(w)["Measure"].Began = "" }},
		"nobody says when it was closed": {"could be handled, from 2030-03-02 20:00", func(w *world, _ *Input) { w.in.Job.Records[6].Closed = "" }},
		"begun under way before": {"from 2030-03-02 14:00, before the adhesive", func(w *world, _ *Input) {
			a := *steps(w)["Measure"]
			a.Going, a.Left, a.Began = true, 5, "14:00"
			w.in.Job.Actuals = append([]job.Actual{a}, w.in.Job.Actuals...)
		}},
		"the next day, of 20 hours": {"from 2030-03-01 07:00, before the adhesive", func(w *world, _ *Input) {
			a := steps(w)["Measure"]
			a.On, a.Began, a.Minutes = day(2030, 3, 3), "", 1200
			for _, s := range []string{"Close", "Bond"} {
				steps(w)[s].On = day(2030, 3, 3)
			}
		}},
		"ended ten minutes into the next day": {"from 2030-03-02 07:00, before the adhesive", func(w *world, _ *Input) {
			a := steps(w)["Measure"]
			a.On, a.Began, a.Ended, a.Minutes = day(2030, 3, 3), "", "07:10", 20
			for _, s := range []string{"Close", "Bond"} {
				steps(w)[s].On = day(2030, 3, 3)
			}
		}},
		"done in one go with the bond": {"", func(w *world, in *Input) {
			in.Steps = append(in.Steps[:2:2], append([]PlannedStep{{ID: "S2b", Name: "Set rivets", For: []job.FindingID{"F2"}, Skill: "weld", Asked: true, Together: "bond", After: []string{"S2"}}}, in.Steps[2:]...)...)
			in.Steps[1].Together, in.Steps[3].After = "bond", []string{"S1", "S2b"}
			w.in.Job.Actuals = append(w.in.Job.Actuals, job.Actual{Step: "Set rivets", By: "W1", On: day(2030, 3, 2), Began: "10:40", Ended: "10:50"})
		}},
		"what follows the one go": {"from 2030-03-02 13:00, before the adhesive", func(w *world, in *Input) {
			in.Steps = append(in.Steps[:2:2], append([]PlannedStep{{ID: "S2b", Name: "Set rivets", For: []job.FindingID{"F2"}, Skill: "weld", Asked: true, Together: "bond", After: []string{"S2"}}}, in.Steps[2:]...)...)
			in.Steps[1].Together, in.Steps[3].After = "bond", []string{"S1", "S2b"}
			w.in.Job.Actuals = append(w.in.Job.Actuals, job.Actual{Step: "Set rivets", By: "W1", On: day(2030, 3, 2), Began: "10:40", Ended: "10:50"})
			steps(w)["Measure"].Began = "13:00"
		}},
		"measured at the time it could be": {"", func(w *world, _ *Input) {
			w.in.Job.Setups[0].On, w.in.Job.Setups[0].At = day(2030, 3, 2), "16:30"
		}},
		"measured as a step ended": {"", func(w *world, _ *Input) {
			w.in.Job.Setups[0].On, w.in.Job.Setups[0].At = day(2030, 3, 2), "16:00"
			steps(w)["Plate"].Ended = "11:00"
		}},
		"measured before a step ended": {`set-up A does not count: it is taken as begun on 2030-03-02 15:30, and "Grind" was done from 2030-03-02 16:00`, func(w *world, _ *Input) {
			w.in.Job.Setups[0].On, w.in.Job.Setups[0].At = day(2030, 3, 2), "15:30"
			steps(w)["Plate"].Ended = "11:00"
		}},
		"shown before the step ended":          {`record r1 (penetrant) does not count: it is of 09:00 on 2030-03-02, before "Grind" was done at 10:00`, func(w *world, _ *Input) { w.in.Job.Records[0].At, steps(w)["Grind"].Ended = "09:00", "10:00" }},
		"shown after the step ended":           {"", func(w *world, _ *Input) { w.in.Job.Records[0].At, steps(w)["Grind"].Ended = "10:00", "10:00" }},
		"shown without a time":                 {"", func(w *world, _ *Input) { steps(w)["Grind"].Ended = "10:00" }},
		"begun before what comes before ended": {`"Measure" was done does not count: it is of 15:00 on 2030-03-02, before "Grind" was done at 15:10`, func(w *world, _ *Input) { steps(w)["Grind"].Ended, steps(w)["Plate"].Ended = "15:10", "10:50" }},
		"the torque after the work had gone on": {`record r5 (torque) does not count: it is dated 2030-03-02 16:10, and the work had gone on with "Polish" on 2030-03-02 15:30`, func(w *world, in *Input) {
			in.Steps = append(in.Steps, PlannedStep{ID: "S9", Name: "Polish", Asked: true, Shuts: true, After: []string{"S4"}})
			w.in.Job.Actuals = append(w.in.Job.Actuals, job.Actual{Step: "Polish", By: "W1", On: day(2030, 3, 2), Began: "15:30"})
			w.in.Job.Records[4].At = "16:10"
		}},
	} {
		t.Run(name, func(t *testing.T) {
			w, in := repaired()
			w.in.Shop.Calendar.Start, w.in.Shop.Calendar.End = "07:00", "16:00"
			tc.change(w, in)
			if got := missingTexts(w, in); !strings.Contains(got, tc.want) || tc.want == "" && got != "" {
				t.Errorf("missing\n%s\nwant %q", got, tc.want)
			}
		})
	}
}

// TestReleaseWaits: what the chosen route waits for is missing, a control point no
// longer once it is in tolerance after the repair.
func TestReleaseWaits(t *testing.T) {
	w, in := repaired()
	w.in.Body.Points = []body.Point{{ID: "P1"}, {ID: "P2"}}
	in.Waits = []Wait{{What: "P1"}, {What: "P2"}, {What: "A-9"}, {What: "P2", Ask: true}}
	in.After = &MeasuredAfter{Undecided: []body.PointID{"P2"}}
	got := missingTexts(w, in)
	for _, want := range []string{"P2: the route keeps P2", "A-9: the route keeps A-9", "P2: the route waits for the manufacturer's answer on P2", "undecided after the repair for P2"} {
		if !strings.Contains(got, want) {
			t.Errorf("not told: %s\n%s", want, got)
		}
	}
	if strings.Contains(got, "keeps P1") {
		t.Errorf("P1 is in tolerance:\n%s", got)
	}
	w.in.Body.Procedures[0].Acceptance = slices.DeleteFunc(w.in.Body.Procedures[0].Acceptance, func(a body.Acceptance) bool { return a.Show == body.ShowDimensions })
	w.in.Job.Setups[0].Calibrated = unit.Date{}
	if got := missingTexts(w, in); !strings.Contains(got, "A: set-up A does not count") {
		t.Errorf("P1 rests on a set-up that does not count:\n%s", got)
	}
	w.in.Job.Setups[0].Calibrated = day(2030, 9, 1)
	in.Waits, in.Left = nil, []body.PointID{"P2"}
	if got := missingTexts(w, in); got != "" {
		t.Errorf("P2 may stay:\n%s", got)
	}
	in.NoRoute = "nobody has chosen a route"
	if got := missingTexts(w, in); !strings.Contains(got, in.NoRoute) {
		t.Errorf("without a route:\n%s", got)
	}
}

func tested(equipment string, until unit.Date) shop.Tested {
	return shop.Tested{Equipment: equipment, Until: until}
}
