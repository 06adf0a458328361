package app

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"fettle/internal/assess"
	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// What is said of a set-up is taken as it stands, or refused by the cell that is wrong.
func TestSetupRows(t *testing.T) {
	for value, c := range map[string]struct {
		what, id, device, field, want string
		std, tempStd                  float64
		temp                          unit.Maybe[unit.Celsius]
	}{
		"std=0.3 mm":                       {"before", "S1", "arm", "setup", "", 0.3, 0, unit.Maybe[unit.Celsius]{}},
		" ; std = 0.5 ;temperature=21 C; ": {"after", "S1", "arm", "setup", "", 0.5, 0, unit.Some(unit.Celsius(21))},
		"std=1 mm; temperature_std=2":      {"during", "S1", "arm", "setup", "", 1, 2, unit.Maybe[unit.Celsius]{}},
		"std=1 mm; temperature=-3":         {"during", "S1", "arm", "setup", "", 1, 0, unit.Some(unit.Celsius(-3))},
		"":                                 {"before", "S1", "arm", "value", "does not say the standard uncertainty", 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=0 mm":                         {"before", "S1", "arm", "value", "does not say the standard uncertainty", 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=-1 mm":                        {"before", "S1", "arm", "value", "does not say the standard uncertainty", 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=1 K":                          {"before", "S1", "arm", "value", "", 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=":                             {"before", "S1", "arm", "value", "does not say what it was", 0, 0, unit.Maybe[unit.Celsius]{}},
		"std":                              {"before", "S1", "arm", "value", `"std" says nothing of a set-up; write name=value`, 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=1; temperature=warm":          {"before", "S1", "arm", "value", "", 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=1; temperature_std=2 mm":      {"before", "S1", "arm", "value", "", 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=1; growth=2":                  {"before", "S1", "arm", "value", `nothing of a set-up is called "growth"; known are std, temperature and temperature_std`, 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=2 mm;":                        {"before", "", "arm", "setup", "the set-up has no identity", 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=3 mm;":                        {"befor", "S1", "arm", "what", `"befor" is no stage; did you mean "before"?`, 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=4 mm;":                        {"x", "S1", "arm", "what", `"x" is no stage; known: before, during, after`, 0, 0, unit.Maybe[unit.Celsius]{}},
		"std=5 mm;":                        {"before", "S1", " ", "device", "with which device", 0, 0, unit.Maybe[unit.Celsius]{}},
	} {
		tk := taken{c: &Opened{Job: &job.State{}}}
		day := unit.Date{Year: 2026, Month: 11, Day: 20}
		got, field, err := tk.setup(Entry{Setup: c.id, What: c.what, Device: c.device, Value: value, By: "T1", On: day, From: "08:10", Calibrated: day})
		bad := c.field != "setup" || c.want != ""
		if field != c.field || (err != nil) != bad || bad && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v of %q: %v", value, got, field, err)
		}
		if bad {
			continue
		}
		want := job.Setup{ID: "S1", Stage: job.Stage(c.what), Device: "arm", Calibrated: day, On: day, At: "08:10", By: "T1", Std: unit.MM(c.std), Temp: c.temp, TempStd: unit.Kelvin(c.tempStd)}
		if fmt.Sprintf("%+v", got) != fmt.Sprintf("%+v", want) {
			t.Errorf("%q:\n%+v, want\n%+v", value, got, want)
		}
	}
}

// A row of readings has as many points and numbers as its kind, and the hand and day of its set-up.
func TestReadingRows(t *testing.T) {
	day := unit.Date{Year: 2026, Month: 11, Day: 20}
	tk := taken{c: &Opened{Job: &job.State{Setups: []job.Setup{{ID: "A", By: "T1", On: day}}}}, records: []any{job.Setup{ID: "B", By: "T2", On: day}}}
	some := unit.Some[float64]
	for _, c := range []struct {
		setup, by, what, about, value, field, want string
		is                                         job.Reading
	}{
		{"A", "T1", "xyz", "P1", "1;-2; 3.5", "value", "", job.Reading{Setup: "A", Kind: "xyz", From: "P1", X: some(1), Y: some(-2), Z: some(3.5)}},
		{"B", "T2", "rim", "P1", "1;2;3;0.2", "value", "", job.Reading{Setup: "B", Kind: "rim", From: "P1", X: some(1), Y: some(2), Z: some(3), Std: some(0.2)}},
		{"A", "T1", "length", "P1 P2", "812.5", "value", "", job.Reading{Setup: "A", Kind: "length", From: "P1", To: "P2", Value: some(812.5)}},
		{"A", "T1", "height", "P1 P2", "0;0.5", "value", "", job.Reading{Setup: "A", Kind: "height", From: "P1", To: "P2", Value: some(0), Std: some(0.5)}},
		{"", "T1", "xyz", "P1", "1;2;3", "setup", "does not say in which set-up", job.Reading{}},
		{"C", "T1", "xyz", "P1", "1;2;3", "setup", `set-up "C" is neither in the job nor in the list`, job.Reading{}},
		{"B", "T1", "xyz", "P1", "1;2;3", "by", "signed by T1 on 2026-11-20, and set-up B by T2 on 2026-11-20", job.Reading{}},
		{"A", "T1", "xyz", "P1", "1;two;3", "value", `"two" is not a number`, job.Reading{}},
		{"A", "T1", "xyz", "P1", "", "value", `"" is not a number`, job.Reading{}},
		{"A", "T1", "angle", "P1", "1;2;3", "what", `"angle" is no kind of reading`, job.Reading{}},
		{"A", "T1", "xyz", "P1 P2", "1;2;3", "about", `of the kind xyz is of 1 points, "P1 P2" names 2`, job.Reading{}},
		{"A", "T1", "xyz", "", "1;2;3", "about", `of the kind xyz is of 1 points, "" names 0`, job.Reading{}},
		{"A", "T1", "length", "P1", "1", "about", `of the kind length is of 2 points, "P1" names 1`, job.Reading{}},
		{"A", "T1", "xyz", "P1", "1;2", "value", "of the kind xyz has 3 numbers, and its standard uncertainty behind them where it is not the set-up's; the row has 2", job.Reading{}},
		{"A", "T1", "rim", "P1", "1;2;3;4;5", "value", "the row has 5", job.Reading{}},
		{"A", "T1", "length", "P1 P2", "1;2;3", "value", "of the kind length has 1 number, and its standard uncertainty behind them where it is not the set-up's; the row has 3", job.Reading{}},
	} {
		got, field, err := tk.reading(Entry{Setup: c.setup, By: c.by, On: day, What: c.what, About: c.about, Value: c.value})
		if field != c.field || (err != nil) != (c.want != "") || err != nil && !strings.Contains(err.Error(), c.want) || err == nil && got != c.is {
			t.Errorf("%+v: %+v of %q: %v", c, got, field, err)
		}
	}
	if _, field, err := tk.reading(Entry{Setup: "A", By: "T1", On: unit.Date{Year: 2026, Month: 11, Day: 21}, What: "xyz", About: "P1", Value: "1;2;3"}); err == nil || field != "by" {
		t.Errorf("on another day: %q %v", field, err)
	}
}

// Parts that a step used are counted, each once, and priced by the row, else by the body.
func TestUsedParts(t *testing.T) {
	eur := func(s string) (m unit.Money) {
		if err := m.UnmarshalText([]byte(s)); err != nil {
			t.Fatal(err)
		}
		return m
	}
	tk := taken{c: &Opened{Body: &body.Body{Materials: []body.Material{{ID: "M-DISC", Price: eur("4.50 EUR")}}, Parts: []body.Part{{ID: "P-SKIN", Price: eur("300.00 EUR")}}}}}
	for text, c := range map[string]struct {
		want string
		used []job.PartUsed
	}{
		"":                              {"", nil},
		" M-DISC = 2 ; ":                {"", []job.PartUsed{{ID: "M-DISC", Count: 2, Price: eur("4.50 EUR")}}},
		"P-SKIN=1@250.00 EUR; M-DISC=3": {"", []job.PartUsed{{ID: "P-SKIN", Count: 1, Price: eur("250.00 EUR")}, {ID: "M-DISC", Count: 3, Price: eur("4.50 EUR")}}},
		"P-SKIN=1":                      {"", []job.PartUsed{{ID: "P-SKIN", Count: 1, Price: eur("300.00 EUR")}}},
		"P-NEW=1 @ 1.00 EUR":            {"", []job.PartUsed{{ID: "P-NEW", Count: 1, Price: eur("1.00 EUR")}}},
		"P-NEW=1":                       {`the body has no price of "P-NEW"; write it behind the count, for example P-NEW=1@4.50 EUR`, nil},
		"M-DISC":                        {`"M-DISC" does not say how many`, nil},
		"M-DISC=":                       {"does not say how many", nil},
		"M-DISC=0":                      {"does not say how many", nil},
		"M-DISC=-1":                     {"does not say how many", nil},
		"M-DISC=1.5":                    {"does not say how many", nil},
		"M-DISC=1@cheap":                {"M-DISC: ", nil},
		"M-DISC=1; M-DISC=2":            {"M-DISC is named twice", nil},
	} {
		got, err := tk.used(text)
		if (err != nil) != (c.want != "") || err != nil && !strings.Contains(err.Error(), c.want) || fmt.Sprint(got) != fmt.Sprint(c.used) {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
}

// A row of the table of readings stands below those that are there: one line for the header, one
// for each row.
func TestLinesOfTheTableOfReadings(t *testing.T) {
	for text, want := range map[string]int{"": 1, "\n": 1, "setup\n": 1, "setup\nA\n": 2, "setup\r\nA\r\nB": 3, "setup\nA\n\n\n": 2} {
		a := New(memory{"j/readings.csv": []byte(text), "j/job.yaml": nil}, "test")
		if got := a.linesOfReadings(&Opened{From: "j"}); got != want {
			t.Errorf("%q: %d lines, want %d", text, got, want)
		}
	}
}

// How good a schedule is known to be, worst first; a day has 24 hours on the clock.
func TestProofOfAWeek(t *testing.T) {
	for want, w := range map[string]plan.Week{
		"proven: no schedule is less late against what was promised, nor as late with earlier finishes":                                                        {Proven: true, LateGapMin: 5, GapMin: 5},
		"not proven to be the best: a better one could be less late, by 1 h 05 min at most over all jobs, or have their finishes up to 2 d 1 h earlier in all": {LateGapMin: 65, GapMin: 2*24*60 + 119},
		"not proven to be the best: none is less late, but in a better one the finishes of all jobs could come up to 23 h 59 min earlier in all":               {GapMin: 24*60 - 1},
		"none is less late or has earlier finishes in all; that the last job cannot be done sooner is not proven":                                              {},
		"not proven to be the best: a better one could be less late, by 1 d 0 h at most over all jobs, or have their finishes up to 0 h 00 min earlier in all": {LateGapMin: 24 * 60},
	} {
		if got := (WeekView{Week: w}).proof(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	day := func(d, h, m int) time.Time { return time.Date(2026, 3, d, h, m, 0, 0, time.UTC) }
	v := WeekView{Notes: []diag.Note{{Severity: diag.Caution, Text: "mind"}}, Week: plan.Week{From: unit.Date{Year: 2026, Month: 3, Day: 2},
		Jobs:  []plan.WeekJob{{ID: "J1", Route: "R", Done: 1, Left: 2, Minutes: 125, Because: "so", Waiting: []string{"waits"}, Promise: unit.Date{Year: 2026, Month: 3, Day: 4}, Bays: []plan.WeekBay{{Bay: "bench", From: day(2, 8, 0), To: day(3, 9, 5)}}}},
		Steps: []plan.WeekStep{{Job: "J1", Step: "S1", Name: "Look", Person: "W1", Bay: "bench", From: day(2, 8, 0), To: day(2, 9, 5)}, {Job: "J1", Step: "S2", Name: "Weld", Person: "W1", Going: true, From: day(2, 16, 0), To: day(3, 7, 30)}, {Job: "J1", Step: "S3", Name: "Seal", From: day(3, 8, 0), To: day(3, 8, 1)}}}}
	text := v.Text(Column{Width: 200})
	for _, line := range []string{
		"What is left of 1 job from 2026-03-02 on; none is less late",
		"J1               R                            1     2  2 h 5 min  -          -          -          2026-03-04",
		"J1: so.", "  - keeps bench from Mon 2 Mar 08:00 to Tue 3 Mar 09:05", "  - waits",
		"\n Mon 2 Mar 2026\n  08:00-09:05     W1   bench  J1               S1    Look\n  16:00-Tue 07:30 W1          J1               S2    Weld (under way)\n\n Tue 3 Mar 2026\n  08:00-08:01                 J1               S3    Seal\n",
		"caution: mind",
	} {
		if !strings.Contains(text, line) {
			t.Errorf("%q is not in\n%s", line, text)
		}
	}
}

// Nobody plans jobs of two shops as one, nor one job twice; a job with nothing left has no sheets.
func TestJobsOfAWeek(t *testing.T) {
	m := coarse(t)
	m["other.yaml"] = append(append([]byte{}, m["shop.yaml"]...), "# another shop\n"...)
	m["other-job/job.yaml"] = []byte(strings.Replace(strings.Replace(string(m[demo.SoundJob+"/job.yaml"]), "../shop.yaml", "../other.yaml", 1), "id: ", "id: X", 1))
	m["other-job/readings.csv"] = m[demo.SoundJob+"/readings.csv"]
	a := New(m, "test").WithBodies(&Bodies{})
	view, sheets, err := a.WeekSheets(t.Context(), []string{demo.SoundJob}, demo.Day)
	if err != nil || len(view.Week.Jobs) != 1 || len(sheets) != 0 {
		t.Errorf("%+v, %d sheets, %v", view, len(sheets), err)
	}
	for want, dirs := range map[string][]string{
		"other-job: it belongs to another shop than " + demo.SoundJob: {demo.SoundJob, "other-job"},
		"is already there, in " + demo.SoundJob:                       {demo.SoundJob, demo.SoundJob},
		"none":                                                        {demo.SoundJob, "none"},
	} {
		if view, sheets, err := a.WeekSheets(t.Context(), dirs, demo.Day); err == nil || !strings.Contains(err.Error(), want) || view.Week.Jobs != nil || sheets != nil {
			t.Errorf("%v: %v", dirs, err)
		}
	}
}

// Something keeps a vehicle from being opened up: a danger, an area that stays open, a note that
// blocks; nothing else.
func TestOpeningIsBlocked(t *testing.T) {
	note := func(s diag.Severity) Exposed { return Exposed{Notes: []diag.Note{{Severity: s}}} }
	for name, c := range map[string]struct {
		x    Exposed
		want bool
	}{
		"nothing": {Exposed{}, false}, "a caution": {note(diag.Caution), false}, "a note that blocks": {note(diag.Blocking), true},
		"a danger":       {Exposed{Exposed: assess.Exposed{Stop: []string{"x"}}}, true},
		"an area hidden": {Exposed{Exposed: assess.Exposed{Exposed: plan.Exposed{Hidden: []plan.ToInspect{{}}}}}, true},
	} {
		if c.x.Blocked() != c.want {
			t.Errorf("%s: %v", name, !c.want)
		}
	}
	for want, c := range map[string][2]float64{"25 %": {0.25, 0.25}, "25 to 66 %, however they hang together": {0.25, 0.651}, "33 to 34 %, however they hang together": {0.339, 0.3391}, "0 to 100 %, however they hang together": {0, 1}} {
		if got := between(c[0], c[1]); got != want {
			t.Errorf("%v: %q, want %q", c, got, want)
		}
	}
}

// What the plan to open a vehicle up says in the cases that the demonstration has not (invented).
func TestTextOfAnOpening(t *testing.T) {
	c := &Opened{}
	col := Column{Width: 300}
	area := plan.ToInspect{Area: "A-1", Name: "Rail", Method: "visual", Step: "ST-2", Alone: 12345}
	with := func(change func(*Exposed)) string {
		x := Exposed{Job: "J", Exposed: assess.Exposed{Bill: cost.Bill{Currency: "EUR", Complete: true}, Least: true, Sums: cost.First{Opening: 20000, Complete: true},
			Exposed: plan.Exposed{Seen: 2, Stages: []plan.Stage{{Off: []body.PartID{"P-1", "P-2"}, Lost: []body.PartID{"P-2"}, Cost: 10000, Minutes: 30, Areas: []plan.ToInspect{area}}},
				Plan: plan.Plan{OpeningCost: 10000, OpeningProven: true, OpeningBound: 9000, Removal: []plan.Removal{{Part: "P-1", Parts: []body.PartID{"P-3", "P-4"}}, {Part: "P-2"}}}}}}
		change(&x)
		return New(memory{}, "test").ExposedText(c, x, col)
	}
	for _, k := range []struct {
		change   func(*Exposed)
		has, not string
	}{
		{func(*Exposed) {}, "Job J: 1 area still to be inspected, 2 inspected.", "DO NOT START"},
		{func(*Exposed) {}, "1. For 100.00 EUR with closing again, 30 min until it is off: P-1 (as one piece: P-3, P-4), P-2 (a new one is needed)", "P-1 (a new"},
		{func(*Exposed) {}, "ST-2 A-1  Rail, visual: not inspected yet; alone 123.45 EUR or less\n", ", with 0"},
		{func(x *Exposed) { x.Stages[0].Areas[0].Proven = true }, "alone 123.45 EUR\n", "or less"},
		{func(x *Exposed) { x.Stages[0].Areas[0].With = []string{"a", "b"} }, "Job J: 3 areas still", "Job J: 1 area"},
		{func(x *Exposed) { x.Stages[0].Areas[0].So = "too dark" }, "visual: too dark; alone", "not inspected yet"},
		{func(x *Exposed) { x.Stages[0].Off = nil }, "1. Nothing has to come off, by the body's data:", "alone"},
		{func(x *Exposed) { x.Stop = []string{"no key"} }, "DO NOT START: no key\n", "Stays open"},
		{func(x *Exposed) {
			x.Hidden = []plan.ToInspect{{Area: "A-9", Name: "Knee", Method: "visual", Why: "shut", Hint: "look"}}
		}, "Stays open:\n  A-9  Knee, visual: shut; look\n", "DO NOT"},
		{func(*Exposed) {}, "Opening: 100.00 EUR without tax for opening and closing again, what is lost included; no cheaper way to these areas exists.", "prices"},
		{func(x *Exposed) { x.Plan.OpeningProven = false }, "not proven: a cheaper way may exist, none for less than 90.00.", "no cheaper way"},
		{func(x *Exposed) { x.Least = false }, "what is cheapest is not shown: see what blocks.", "no cheaper way"},
		{func(x *Exposed) { x.Plan.Removal = nil }, "nothing comes off.", "no cheaper way"},
		{func(x *Exposed) { x.Bill.Complete = false }, "  The sum is too low: prices are missing.\n", "The sums are"},
		{func(x *Exposed) { x.Sums.Complete = false }, "  The sums are too low: prices of the opening are missing.\n", "The sum is"},
		{func(x *Exposed) { x.Plan.Steps = []plan.Step{{Ref: "inspect A-1"}} }, "Inspecting itself is not in it: nobody gives a time for it", "Days:"},
		{func(x *Exposed) { x.Plan.Steps = []plan.Step{{Ref: "inspect A-1", Minutes: 5}, {Ref: "off"}} }, "Opening:", "Inspecting itself"},
		{func(x *Exposed) {
			x.Plan.Steps = []plan.Step{{ID: "ST-1", Name: "Isolate", Phase: plan.PhasePrepare, Minutes: 61}}
		}, "First, ST-1: Isolate (1 h 1 min)\n", "Days:"},
		{func(x *Exposed) {
			x.Plan.Steps, x.Stages[0].Steps = []plan.Step{{ID: "ST-1", Name: "Isolate", Phase: plan.PhasePrepare}}, []string{"ST-1"}
		}, "Opening:", "First, ST-1"},
		{func(x *Exposed) { x.Plan.Lost = []plan.Lost{{Part: "P-2", Name: "Skin", Because: "glued"}} }, "Lost for looking: Skin (P-2): glued\n", "Days:"},
		{func(x *Exposed) { x.Plan.Start, x.Plan.Finish = date(2), date(3) }, "Days: 2026-03-02 to 2026-03-03, closed again.\n", "prices"},
		{func(*Exposed) {}, "        200.00  opened, inspected and closed again\n  The job has no risk that is open: what may be found is in no sum.\n", "on average"},
		{func(x *Exposed) {
			x.Sums.May, x.Sums.Mean, x.Sums.Most, x.Sums.NoneLeast, x.Sums.NoneMost = []cost.MayBe{{Risk: "R1", Mean: 500}}, 500, 4000, 0.75, 0.75
		}, "        205.00  EUR on average; 240.00 when all of it turns out bad and as dear as was entered. That none does: 75 %.\n", "no risk"},
		{func(x *Exposed) { x.Sums.Foreign = []string{"R1", "R2"} }, "R1, R2 are in another currency, and in no sum.", "no risk that is open"},
		{func(x *Exposed) { x.Sums.Silent = []string{"R1"} }, "Nobody gave a chance for R1. What may be found there is in no sum.", "currency, and"},
		{func(x *Exposed) { x.Other = 1 }, "1 job named as earlier is of another body, and not counted.", "are of"},
		{func(x *Exposed) { x.Other = 2 }, "2 jobs named as earlier are of another body, and not counted.", "earlier is of"},
		{func(x *Exposed) {
			x.Notes = []diag.Note{{Severity: diag.Caution, Where: "W", Text: "mind", Hint: "look"}, {Text: "bare"}}
		}, "caution: W: mind; look\n", "W: bare"},
		{func(x *Exposed) { x.Stages = nil }, "Job J: 0 areas still to be inspected, 2 inspected.", "Opening:"},
		{func(x *Exposed) { x.Stages = nil }, "", "First estimate"},
	} {
		if text := with(k.change); !strings.Contains(text, k.has) || strings.Contains(text, k.not) {
			t.Errorf("%q, and not %q, is not in\n%s", k.has, k.not, text)
		}
	}
}

// An earlier job counts once, and never the job itself.
func TestEarlierJobsCountOnce(t *testing.T) {
	a, c, r := demonstrated(t, demo.SoundJob)
	for want, earlier := range map[string][]string{
		demo.SoundJob + ": job " + c.Job.ID + " is already there: its findings would count twice": {demo.SoundJob},
		"is already there": {demo.RearJob, demo.RearJob},
		"none":             {"none"},
	} {
		if x, err := a.Expose(t.Context(), c, nil, earlier, r.Made); err == nil || !strings.Contains(err.Error(), want) || x.Job != "" {
			t.Errorf("%v: %v", earlier, err)
		}
	}
	x, err := a.Expose(t.Context(), c, nil, []string{demo.RearJob}, r.Made)
	if err != nil || x.Earlier != 1 || x.Other != 1 { // the rear end is another body
		t.Errorf("%d earlier, %d of another body: %v", x.Earlier, x.Other, err)
	}
}

// A schema is there for every document that is listed, under its title, and for no other.
func TestSchemasOfTheDocuments(t *testing.T) {
	for _, name := range SchemaNames() {
		data, err := Schema(name)
		var s struct {
			Title      string         `json:"title"`
			Properties map[string]any `json:"properties"`
		}
		if err == nil {
			err = json.Unmarshal(data, &s)
		}
		if err != nil || s.Title != "fettle: "+name || len(s.Properties) == 0 && !strings.Contains(string(data), "$ref") {
			t.Errorf("%s: %q with %d members: %v", name, s.Title, len(s.Properties), err)
		}
	}
	if _, err := Schema("bodi"); errorKind(err) != diag.Usage || !strings.Contains(err.Error(), "bodi: there is no such document; did you mean \"body\"?") {
		t.Errorf("%v", err)
	}
	got := describedIn("A\tx\tlength [mm]\nB\ty\nA\tz\ta\tb\n")
	if len(got) != 2 || got["A x"] != "length [mm]" || got["A z"] != "a\tb" {
		t.Errorf("%v", got)
	}
}

// Errors of files say what they are, in whole units where they fit.
func TestErrorsOfFiles(t *testing.T) {
	for n, want := range map[int64]string{0: "0 bytes", 1: "1 byte", 1023: "1023 bytes", 1024: "1 kB", 1536: "1.5 kB", 1 << 20: "1 MB", 1<<20 - 1: "1024.0 kB", 1 << 30: "1 GB", 3 << 29: "1.5 GB", 5 << 30: "5 GB"} {
		if got := byteCount(n); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
	kind := fileKind{"a toy", 2048}
	for name, c := range map[string]struct {
		err  error
		kind diag.Kind
		want string
	}{
		"too large":   {fmt.Errorf("x: %w", &TooLarge{4096, 2048}), diag.Denied, "p: has 4 kB; a toy has 2 kB at most; save it smaller"},
		"too many":    {&TooMany{7}, diag.Denied, "p: holds more than 7 files; give the folder of one job, body or shop"},
		"not a file":  {&NotAFile{"is a folder"}, diag.Denied, "p: is a folder; put the file itself into the folder"},
		"other fault": {io.ErrUnexpectedEOF, diag.NotFound, "p: cannot be read; look again"},
	} {
		got := notRead("p", kind, c.err, "look again")
		if errorKind(got) != c.kind || !strings.Contains(got.Error(), c.want) || (name == "other fault") != errors.Is(got, io.ErrUnexpectedEOF) {
			t.Errorf("%s: %v", name, got)
		}
	}
	if got := (&TooLarge{4096, 2048}).Error() + (&TooMany{3}).Error() + (&NotAFile{"is a link"}).Error(); got != "has 4 kB; at most 2 kB are readholds more than 3 filesis a link" {
		t.Error(got)
	}
	for name, want := range map[string]fileKind{"a.YAML": aDocument, "a.csv": aDocument, "a.json": aDocument, "a.STL": aMesh, "a.ply": aMesh, "a.obj": aMesh, "a.glb": aMesh, "a.png": anyOther, "csv": anyOther} {
		if kindOf(name) != want {
			t.Errorf("%s is %s", name, kindOf(name).what)
		}
	}
}

// A folder that holds two names alike, or too much, is refused; one file less is taken.
func TestFolderOfABody(t *testing.T) {
	m := memory{"b/Points.csv": []byte("x"), "b/points.csv": []byte("y"), "b/c.csv": nil}
	_, err := New(m, "test").readFolder("b")
	if err == nil || !strings.Contains(err.Error(), "b/points.csv: differs from Points.csv only in small and capital letters") {
		t.Errorf("%v", err)
	}
	delete(m, "b/Points.csv")
	if got, err := New(m, "test").readFolder("b"); err != nil || len(got) != 2 || string(got["points.csv"]) != "y" {
		t.Errorf("%v, %v", got, err)
	}
	many := memory{}
	for i := range maxBodyFiles + 1 {
		many[fmt.Sprintf("b/%d.csv", i)] = nil
	}
	if _, err := New(many, "test").readFolder("b"); errorKind(err) != diag.Denied || !strings.Contains(err.Error(), "b: holds 10001 files; a body has 10000 at most") {
		t.Errorf("%v", err)
	}
	delete(many, "b/0.csv")
	if got, err := New(many, "test").readFolder("b"); err != nil || len(got) != maxBodyFiles {
		t.Errorf("%d files: %v", len(got), err)
	}
}
