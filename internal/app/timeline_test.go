package app

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// releaseDay is the day on which nothing is missing in testdata/release.
var releaseDay = time.Date(2026, time.December, 10, 10, 0, 0, 0, time.UTC)

// releasable is a job of which everything is on record, on a vehicle with fewer tasks than the demonstration's.
func releasable(t testing.TB) (*App, *Opened, Assessment) {
	t.Helper()
	m := scenario(t, "", "", "")
	text, err := os.ReadFile("testdata/release/job.yaml")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := os.ReadFile("testdata/release/after.csv")
	if err != nil {
		t.Fatal(err)
	}
	for name, own := range map[string]string{"body/body.yaml": "body.yaml", "body/parts.csv": "parts.csv", "shop.yaml": "shop.yaml"} {
		if m[name], err = os.ReadFile("testdata/release/" + own); err != nil {
			t.Fatal(err)
		}
	}
	m[demo.SoundJob+"/job.yaml"] = text
	m[demo.SoundJob+"/readings.csv"] = append(slices.Clone(m[demo.SoundJob+"/readings.csv"]), rows...)
	a := New(m, "test").WithBodies(&bodies)
	c, err := a.Open(t.Context(), demo.SoundJob)
	if err != nil {
		t.Fatal(err)
	}
	return a, c, assessedOf(t, a, c, releaseDay)
}

// change is one thing done to a releasable job or its shop.
type change struct {
	name string
	do   func(*job.State, *shop.Shop)
	ok   bool // it changes nothing that counts: still nothing is missing
	anew bool // the routes change with it
	gate bool // inspect and decide do not read what is changed
}

// try changes a copy of the job and of the shop. What is measured and which routes
// there are stay as they were assessed, with the notes of that day: it is the gate
// alone that has to see the change.
func try(a *App, c *Opened, r Assessment, x change) Release {
	fresh := *c
	s, sh := cloneJob(c.Job), cloneShop(c.Shop)
	x.do(&s, &sh)
	fresh.Job, fresh.Shop = &s, &sh
	if x.anew {
		return a.Release(&fresh, a.assess(nil, &fresh, r.Made))
	}
	if x.gate {
		return a.Release(&fresh, r)
	}
	today := unit.DateOf(r.Made)
	r.Inspect, _ = inspect.Run(inspect.Input{Body: c.Body, Job: &s, Vehicle: c.Vehicle, Shop: &sh, Today: today})
	r.Decide, _ = decide.Run(decide.Input{Body: c.Body, Shop: &sh, Job: &s, Inspect: r.Inspect, Today: today})
	return a.Release(&fresh, r)
}

func cloneJob(j *job.State) job.State {
	s := *j
	s.Hazards, s.Setups, s.Findings, s.Looks = slices.Clone(j.Hazards), slices.Clone(j.Setups), slices.Clone(j.Findings), slices.Clone(j.Looks)
	s.Areas, s.Castings, s.Checks, s.Choices = slices.Clone(j.Areas), slices.Clone(j.Castings), slices.Clone(j.Checks), slices.Clone(j.Choices)
	s.Actuals, s.Accepted, s.Reviews, s.Records = slices.Clone(j.Actuals), slices.Clone(j.Accepted), slices.Clone(j.Reviews), slices.Clone(j.Records)
	s.Evidence, s.Answers, s.Questions = slices.Clone(j.Evidence), slices.Clone(j.Answers), slices.Clone(j.Questions)
	s.Figures = slices.Clone(j.Figures)
	return s
}

func cloneShop(sh *shop.Shop) shop.Shop {
	s := *sh
	s.People, s.Tested = slices.Clone(sh.People), slices.Clone(sh.Tested)
	return s
}

// act is one dated and signed entry of the job, by its place in the lists.
type act struct {
	name        string
	first, last string // days on which it may be while everything else stays, as month-day
	on          func(*job.State) *unit.Date
	by          func(*job.State) *string
	drop        func(*job.State)
	no          []string // people of the shop who may not give it
}

// acts is every entry with its window, written down by hand from the rule: not
// before the last act it rests on or proves, not after what went on from it, and
// not after the day. Sources: docs/methods/decision.md, "The timeline of a
// release"; the days of testdata/release/job.yaml.
func acts(t *testing.T, j *job.State) []act {
	t.Helper()
	var out []act
	take := func(x act) { out = append(out, x) }
	record := func(id, first, last string) {
		i := slices.IndexFunc(j.Records, func(r job.Record) bool { return r.ID == id })
		if i < 0 {
			t.Fatalf("no record %s", id)
		}
		take(act{"record " + id, first, last, func(s *job.State) *unit.Date { return &s.Records[i].On }, func(s *job.State) *string { return &s.Records[i].By },
			func(s *job.State) { s.Records = slices.Delete(s.Records, i, i+1) }, []string{"T2", "T3", "P1"}})
	}
	step := func(name, first, last string, no ...string) {
		i := slices.IndexFunc(j.Actuals, func(x job.Actual) bool { return strings.HasPrefix(x.Step, name) })
		if i < 0 {
			t.Fatalf("no step %s", name)
		}
		take(act{"step " + name, first, last, func(s *job.State) *unit.Date { return &s.Actuals[i].On }, func(s *job.State) *string { return &s.Actuals[i].By },
			func(s *job.State) { s.Actuals = slices.Delete(s.Actuals, i, i+1) }, no})
	}
	take(act{"choice", "11-25", "11-27", func(s *job.State) *unit.Date { return &s.Choices[0].On }, func(s *job.State) *string { return &s.Choices[0].By }, func(s *job.State) { s.Choices = nil }, nil})
	take(act{"acceptance", "11-25", "11-27", func(s *job.State) *unit.Date { return &s.Accepted[0].On }, func(s *job.State) *string { return &s.Accepted[0].By }, func(s *job.State) { s.Accepted = nil }, []string{"T1", "T2", "T3"}})
	take(act{"review", "11-26", "12-10", func(s *job.State) *unit.Date { return &s.Reviews[0].On }, func(s *job.State) *string { return &s.Reviews[0].By }, func(s *job.State) { s.Reviews = nil }, []string{"P1", "T1", "T2"}})
	take(act{"hazard", "11-24", "12-10", func(s *job.State) *unit.Date { return &s.Hazards[0].On }, func(s *job.State) *string { return &s.Hazards[0].By }, func(s *job.State) { s.Hazards[0].Cleared = false }, []string{"T1", "P1"}})
	take(act{"set-up before", "11-24", "11-27", func(s *job.State) *unit.Date { return &s.Setups[0].On }, func(s *job.State) *string { return &s.Setups[0].By }, nil, nil})
	take(act{"set-up after", "12-04", "12-10", func(s *job.State) *unit.Date { return &s.Setups[1].On }, func(s *job.State) *string { return &s.Setups[1].By }, nil, nil})
	record("R-HV", "11-30", "12-01")
	record("R-GROOVE", "12-01", "12-01")
	record("R-WELD", "12-02", "12-02")
	record("R-POINTS", "12-02", "12-03")
	record("R-RIVETS", "12-03", "12-04")
	record("R-LAST", "12-04", "12-07")
	record("R-GLUE", "12-03", "12-03") // 17 hours to handling, and it was measured the next morning
	record("R-PT", "12-02", "12-02")   // the day of its inspection
	record("R-VT", "12-02", "12-10")
	for _, id := range []string{"R-T1", "R-T2", "R-T3", "R-T4"} {
		record(id, "12-07", "12-07")
	}
	step("Disarm", "11-26", "12-01", "T1", "T2", "P1")
	step("Isolate", "11-26", "11-30", "T1", "T2", "P1")
	step("Mark the tips", "11-30", "12-01", "T1", "T3", "P1")
	step("Weld the groove", "12-01", "12-01", "T1", "T3", "P1")
	step("Dress the weld", "12-02", "12-02", "T1", "T3", "P1") // 38 minutes after the weld, of one day nobody says when; T1 signs for the hold point
	step("Prime", "12-02", "12-02", "T3", "P1")
	step("Measure all control points again", "12-02", "12-02", "T3", "P1")
	step("Measure all control points once more", "12-04", "12-04", "T3", "P1")
	step("Fit new", "12-03", "12-03", "T3", "P1")
	step("Apply", "12-03", "12-03", "T3", "P1")
	step("Refit Left fender", "12-04", "12-07", "T2", "P1")
	step("Refit Left lamp", "12-07", "12-07", "T2", "P1")
	step("Refit Left wheel", "12-07", "12-07", "T2", "P1")
	step("Refit Bumper", "12-07", "12-07", "T2", "P1")
	step("Arm", "12-07", "12-07", "T1", "T2", "P1")
	step("Check isolation", "12-07", "12-07", "T1", "T2", "P1") // before the airbags are armed
	step("Calibrate", "12-07", "12-10", "T1", "T2", "P1")
	windows := map[string][2]string{"Isolate": {"11-26", "12-01"}, "Mark th": {"11-30", "12-01"}, "Weld th": {"12-01", "12-02"}, "Dress t": {"12-01", "12-02"},
		"Prime a": {"12-02", "12-03"}, "Apply a": {"12-03", "12-04"}, "Check i": {"12-07", "12-07"}}
	for i, f := range j.Figures {
		w := windows[f.Step[:7]]
		take(act{"figure " + f.Reading + " at " + f.Step[:7], w[0], w[1], func(s *job.State) *unit.Date { return &s.Figures[i].On }, func(s *job.State) *string { return &s.Figures[i].By },
			func(s *job.State) { s.Figures = slices.Delete(s.Figures, i, i+1) }, nil})
	}
	return out
}

// clocks is changes of the times of day between which a wait lies.
func clocks(t *testing.T, add func(string, func(*job.State, *shop.Shop))) {
	t.Helper()
	step := func(s *job.State, prefix string) *job.Actual {
		return &s.Actuals[slices.IndexFunc(s.Actuals, func(a job.Actual) bool { return strings.HasPrefix(a.Step, prefix) })]
	}
	for name, do := range map[string]func(*job.State){
		"no end of the bonding":            func(s *job.State) { step(s, "Apply").Ended = "" },
		"the bonding ended in the evening": func(s *job.State) { step(s, "Apply").Ended = "15:00" },
		"the glue closed in the evening": func(s *job.State) {
			s.Records[slices.IndexFunc(s.Records, func(r job.Record) bool { return r.ID == "R-GLUE" })].Closed = "14:31"
		},
		"the coat ended too late": func(s *job.State) {
			step(s, "Prime").Ended = "16:00"
			step(s, "Fit").Began = "06:30"
			step(s, "Fit").On = monthDay(t, "12-02")
		},
		"the weld dressed on its day, 20 min after": func(s *job.State) {
			x, y := step(s, "Weld"), step(s, "Dress")
			y.On, x.Ended, y.Began = x.On, "10:00", "10:20"
		},
		"measured before the bond could be handled": func(s *job.State) { s.Setups[1].At = "03:24" },
		"measured on the day of the bond, later":    func(s *job.State) { s.Setups[1].On, s.Setups[1].At = monthDay(t, "12-03"), "23:59" },
		"begun while the glue was soft":             func(s *job.State) { step(s, "Measure all control points once").Began = "03:20" },
		"begun under way the evening before": func(s *job.State) {
			a := *step(s, "Measure all control points once")
			a.On, a.Going, a.Left = monthDay(t, "12-03"), true, 5
			s.Actuals = append([]job.Actual{a}, s.Actuals...)
		},
	} {
		add("clock: "+name, func(s *job.State, _ *shop.Shop) { do(s) })
	}
}

// beyond is values that do not keep the limits of a figure, by hand from the body of the
// demonstration.
var beyond = map[string][]float64{"Isolate voltage": {8.1, 400}, "Mark th dwell": {10.9, 0}, "Mark th surface": {10.9, 47.1}, "Weld th preheat": {85.1}, "Weld th interpass": {96.1, 300},
	"Weld th heat-input": {0.159, 0.261}, "Weld th bay-temperature": {11.9}, "Weld th humidity": {72.1}, "Prime a bay-temperature": {12.9}, "Prime a humidity": {75.1},
	"Apply a cure-M-ADHESIVE": {13.9, 26.1, 18}, // at 18 degrees it takes longer
	"Check i isolation":       {619}, "Check i bonding": {85.1}}

// figures is every change of what a figure says.
func figures(t *testing.T, j *job.State, add func(string, func(*job.State, *shop.Shop))) {
	t.Helper()
	tried := 0
	for i, f := range j.Figures {
		name := f.Step[:7] + " " + f.Reading
		on := func(what string, do func(*job.Figure)) {
			add("figure "+name+" "+what, func(s *job.State, _ *shop.Shop) { do(&s.Figures[i]) })
		}
		for _, v := range beyond[name] {
			tried++
			on(fmt.Sprint("of ", v), func(x *job.Figure) { x.Value.Value, x.Std = v, unit.Amount{} })
			add(fmt.Sprintf("figure %s once more, of %g", name, v), func(s *job.State, _ *shop.Shop) {
				x := s.Figures[i]
				x.Value.Value = v
				s.Figures = append(s.Figures, x)
			})
		}
		on("of another identity", func(x *job.Figure) { x.Reading += "s" })
		on("of another step", func(x *job.Figure) { x.Step = "Something else" })
		on("of another finding", func(x *job.Figure) { x.Finding = "D9" })
		if f.Text != "" {
			on("without words", func(x *job.Figure) { x.Text = " " })
			on("without a last day", func(x *job.Figure) { x.UseBefore = unit.Date{} })
			on("too old", func(x *job.Figure) { x.UseBefore = x.On.AddDays(-1) })
			continue
		}
		on("without a value", func(x *job.Figure) { x.Value = unit.Amount{} })
		on("in another unit", func(x *job.Figure) { x.Value.Unit = "K" })
		if len(beyond[name]) > 0 && f.Reading != "dwell" {
			on("too uncertain", func(x *job.Figure) { x.Std = unit.Amount{Value: x.Value.Value, Unit: x.Value.Unit}; x.Std.Value *= 30 })
		}
		if f.Value.Unit != "min" {
			on("without a device", func(x *job.Figure) { x.Device = "" })
			on("calibration not known", func(x *job.Figure) { x.Calibrated = unit.Date{} })
			on("calibration ended the day before", func(x *job.Figure) { x.Calibrated = x.On.AddDays(-1) })
		}
	}
	if tried != 20 {
		t.Errorf("%d values beyond the limits were tried", tried)
	}
}

func monthDay(t *testing.T, s string) unit.Date {
	t.Helper()
	d, err := time.Parse("2006-01-02", "2026-"+s)
	if err != nil {
		t.Fatal(err)
	}
	return unit.DateOf(d)
}

// timeline is every change of a day, a signature, a device and a material, and
// every entry left out.
func timeline(t *testing.T, j *job.State) []change {
	t.Helper()
	var out []change
	add := func(name string, do func(*job.State)) {
		out = append(out, change{name: name, do: func(s *job.State, _ *shop.Shop) { do(s) }})
	}
	days := []unit.Date{{}, monthDay(t, "11-01"), {Year: 2027, Month: 2, Day: 1}}
	for d := monthDay(t, "11-20"); !monthDay(t, "12-14").Before(d); d = d.AddDays(1) {
		days = append(days, d)
	}
	for _, x := range acts(t, j) {
		first, last := monthDay(t, x.first), monthDay(t, x.last)
		for _, d := range days {
			add(fmt.Sprintf("%s on %q", x.name, d), func(s *job.State) { *x.on(s) = d })
			out[len(out)-1].ok = !d.Before(first) && !last.Before(d)
		}
		for _, by := range append([]string{"", " ", "X9", "T1 T2", "somebody"}, x.no...) {
			add(fmt.Sprintf("%s by %q", x.name, by), func(s *job.State) { *x.by(s) = by })
		}
		if x.drop != nil {
			add(x.name+" left out", x.drop)
		}
	}
	out = append(out, values(t, j)...)
	for i := range out {
		for _, of := range []string{"record", "figure", "step", "review", "choice", "clock:"} {
			out[i].gate = out[i].gate || strings.HasPrefix(out[i].name, of+" ")
		}
	}
	return out
}

// values is every change of what an entry says.
func values(t *testing.T, j *job.State) []change {
	t.Helper()
	var out []change
	add := func(name string, do func(*job.State, *shop.Shop)) { out = append(out, change{name: name, do: do}) }
	for i, r := range j.Records {
		on := func(what string, do func(*job.Record)) {
			add("record "+r.ID+" "+what, func(s *job.State, _ *shop.Shop) { do(&s.Records[i]) })
		}
		on("of another sort", func(x *job.Record) { x.Show = "other" })
		switch r.Show {
		case "hold":
			on("not met", func(x *job.Record) { x.Met = false })
			on("of another step", func(x *job.Record) { x.Step = "Something else" })
			on("of another finding", func(x *job.Record) { x.Finding = "D9" })
		case "visual":
			on("not met", func(x *job.Record) { x.Met = false })
			on("of something else", func(x *job.Record) { x.What = "paint" })
			on("of another finding", func(x *job.Record) { x.Finding = "D9" })
		case "torque":
			on("of another joint", func(x *job.Record) { x.Joint = "J-STRUT-L" })
			on("too low", func(x *job.Record) { x.Torque-- })
			on("too high", func(x *job.Record) { x.Torque++ })
			on("without a device", func(x *job.Record) { x.Device = "" })
			on("calibration not known", func(x *job.Record) { x.Calibrated = unit.Date{} })
			on("calibration ended the day before", func(x *job.Record) { x.Calibrated = x.On.AddDays(-1) })
		case "adhesive":
			on("of another joint", func(x *job.Record) { x.Joint = "J-CASTING-CELL" })
			for _, m := range []string{"M-PRIMER", "M-SEALER", "M-COAT", "", "nothing"} {
				on("with "+m, func(x *job.Record) { x.Material = body.MaterialID(m) })
			}
			on("too old", func(x *job.Record) { x.UseBefore = x.On.AddDays(-1) })
			on("without a last day", func(x *job.Record) { x.UseBefore = unit.Date{} })
			on("without a batch", func(x *job.Record) { x.Batch = "" })
			on("open too long", func(x *job.Record) { x.Closed = "11:45" })
			on("without the time of mixing", func(x *job.Record) { x.Mixed = "" })
			on("without the time of closing", func(x *job.Record) { x.Closed = "" })
			on("closed before it was mixed", func(x *job.Record) { x.Closed = "09:00" })
			on("without a temperature", func(x *job.Record) { x.Temp.Known = false })
			on("too cold", func(x *job.Record) { x.Temp = unit.Some(unit.Celsius(9)) })
			on("too warm", func(x *job.Record) { x.Temp = unit.Some(unit.Celsius(33)) })
			on("without a thermometer", func(x *job.Record) { x.Device = "" })
			on("thermometer out of calibration", func(x *job.Record) { x.Calibrated = x.On.AddDays(-1) })
			on("thermometer of which nobody knows", func(x *job.Record) { x.Calibrated = unit.Date{} })
			on("so cold that it still cures", func(x *job.Record) { x.Temp = unit.Some(unit.Celsius(15)) })
		case "penetrant":
			for _, l := range []string{"", "PT1", "VT1", "PT-X"} {
				on("in inspection "+l, func(x *job.Record) { x.Look = l })
			}
			on("with a crack", func(x *job.Record) { x.Indications = []job.Indication{{Length: 1, Width: 0.2, Crack: "yes"}} })
			on("of another finding", func(x *job.Record) { x.Finding = "D9" })
		}
	}
	figures(t, j, add)
	for i, x := range j.Actuals {
		on := func(what string, do func(*job.Actual)) {
			add("step "+x.Step[:8]+" "+what, func(s *job.State, _ *shop.Shop) { do(&s.Actuals[i]) })
		}
		on("under way", func(a *job.Actual) { a.Going, a.Left = true, 5 })
		on("of another name", func(a *job.Actual) { a.Step = "Something else" })
		on("of another finding", func(a *job.Actual) { a.Finding = "D9" })
		add("step "+x.Step[:8]+" begun again", func(s *job.State, _ *shop.Shop) {
			a := s.Actuals[i]
			a.Going, a.Left, a.On = true, 5, monthDay(t, "12-09")
			s.Actuals = append(s.Actuals, a)
		})
	}
	clocks(t, add)
	for i, x := range j.Setups {
		on := func(what string, do func(*job.Setup)) {
			add("set-up "+x.ID+" "+what, func(s *job.State, _ *shop.Shop) { do(&s.Setups[i]) })
		}
		on("calibration not known", func(a *job.Setup) { a.Calibrated = unit.Date{} })
		on("calibration ended the day before", func(a *job.Setup) { a.Calibrated = a.On.AddDays(-1) })
		on("calibration ended long ago", func(a *job.Setup) { a.Calibrated = monthDay(t, "01-01") })
		on("without a device", func(a *job.Setup) { a.Device = "" })
	}
	for i, x := range j.Looks {
		if x.ID == "VT1" {
			continue // looked at by eye what need not be seen closer
		}
		if x.ID == "PT9" {
			add("inspection PT9 without a light meter", func(s *job.State, _ *shop.Shop) { s.Looks[i].Device = "" })
			add("inspection PT9 with a light meter of which nobody knows", func(s *job.State, _ *shop.Shop) { s.Looks[i].Calibrated = unit.Date{} })
			add("inspection PT9 with a light meter out of calibration", func(s *job.State, _ *shop.Shop) { s.Looks[i].Calibrated = x.On.AddDays(-1) })
		}
		for what, do := range map[string]func(*job.Inspection){
			"too dark": func(l *job.Inspection) { l.Light.Value = 100 }, "light not known": func(l *job.Inspection) { l.Light.Known = false },
			"too short": func(l *job.Inspection) { l.Dwell.Value = 2 }, "by eye": func(l *job.Inspection) { l.Method = "visual" },
			"by somebody not qualified": func(l *job.Inspection) { l.By = "T1" }, "by nobody": func(l *job.Inspection) { l.By = "X9" },
			"before the job": func(l *job.Inspection) { l.On = monthDay(t, "11-01") }, "after today": func(l *job.Inspection) { l.On = monthDay(t, "12-12") },
		} {
			add("inspection "+x.ID+" "+what, func(s *job.State, _ *shop.Shop) { do(&s.Looks[i]) })
		}
	}
	for what, do := range map[string]func(*job.State, *shop.Shop){
		"finding entered anew after the acceptance": func(s *job.State, _ *shop.Shop) { s.Findings[0].On = monthDay(t, "11-28") },
		"finding seen during the repair":            func(s *job.State, _ *shop.Shop) { s.Findings[0].On = monthDay(t, "12-04") },
		"finding by nobody":                         func(s *job.State, _ *shop.Shop) { s.Findings[0].By = "X9" },
		"another treatment accepted":                func(s *job.State, _ *shop.Shop) { s.Accepted[0].Kind = "weld with backing plate" },
		"another treatment accepted later": func(s *job.State, _ *shop.Shop) {
			x := s.Accepted[0]
			x.Kind, x.On = "weld with backing plate", monthDay(t, "11-27")
			s.Accepted = append(s.Accepted, x)
		},
		"another route chosen":  func(s *job.State, _ *shop.Shop) { s.Choices[0].Route = "new-casting" },
		"no route of that name": func(s *job.State, _ *shop.Shop) { s.Choices[0].Route = "none" },
		"route chosen again after the review": func(s *job.State, _ *shop.Shop) {
			x := s.Choices[0]
			x.On = monthDay(t, "11-28")
			s.Choices = append(s.Choices, x)
		},
		"accepted again after the work": func(s *job.State, _ *shop.Shop) {
			s.Accepted[0].On = monthDay(t, "12-09")
			s.Reviews[0].On = monthDay(t, "12-09")
		},
		"no work on record":                      func(s *job.State, _ *shop.Shop) { s.Actuals = nil },
		"no records":                             func(s *job.State, _ *shop.Shop) { s.Records = nil },
		"nobody checked the revision":            func(s *job.State, _ *shop.Shop) { s.Checks = nil },
		"revision checked in the future":         func(s *job.State, _ *shop.Shop) { s.Checks[0].On = monthDay(t, "12-12") },
		"revision checked before it took effect": func(s *job.State, _ *shop.Shop) { s.Checks[0].On = monthDay(t, "09-01") },
		"another revision checked":               func(s *job.State, _ *shop.Shop) { s.Checks[0].Revision = "C" },
		"revision checked by nobody":             func(s *job.State, _ *shop.Shop) { s.Checks[0].By = "X9" },
		"evidence without a hash": func(s *job.State, _ *shop.Shop) {
			s.Evidence = append(s.Evidence, job.Evidence{ID: "E1", File: "a.jpg", Text: "photo"})
		},
		"another hazard, open": func(s *job.State, _ *shop.Shop) {
			s.Hazards = append(s.Hazards, job.Hazard{Kind: "airbag", Text: "fired"})
		},
		"the author reviews":      func(s *job.State, _ *shop.Shop) { s.Author = "T3" },
		"nobody knows the author": func(s *job.State, _ *shop.Shop) { s.Author = "X9" },
		"the reviewer gave every proof": func(s *job.State, sh *shop.Shop) {
			for i := range s.Records {
				s.Records[i].By = "T3"
			}
			k := slices.IndexFunc(sh.People, func(p shop.Person) bool { return p.ID == "T3" })
			sh.People[k].May = []shop.Authority{"review", "inspect"}
		},
		"who welded accepts the weld": func(s *job.State, sh *shop.Shop) {
			k := slices.IndexFunc(s.Records, func(r job.Record) bool { return r.ID == "R-WELD" })
			s.Records[k].By = "technician T2"
			p := slices.IndexFunc(sh.People, func(p shop.Person) bool { return p.ID == "T2" })
			sh.People[p].May = []shop.Authority{"inspect"}
		},
		"the welder's test ran out":      func(_ *job.State, sh *shop.Shop) { sh.Tested[0].Until = monthDay(t, "11-30") },
		"who inspects may not any more":  func(_ *job.State, sh *shop.Shop) { sh.People[0].May = nil },
		"who reviews may not any more":   func(_ *job.State, sh *shop.Shop) { sh.People[2].May = nil },
		"who accepts may not any more":   func(_ *job.State, sh *shop.Shop) { sh.People[3].Accepts = nil },
		"nobody of the shop is known":    func(_ *job.State, sh *shop.Shop) { sh.People = nil },
		"the impact after everything":    func(s *job.State, _ *shop.Shop) { s.Impact.On = monthDay(t, "12-09") },
		"the impact after the decisions": func(s *job.State, _ *shop.Shop) { s.Impact.On = monthDay(t, "11-27") },
		"the job opened after the work":  func(s *job.State, _ *shop.Shop) { s.Opened = monthDay(t, "12-05") },
	} {
		out = append(out, change{name: what, do: do})
	}
	for what, do := range map[string]func(*job.State, *shop.Shop){
		"an area not looked at":            func(s *job.State, _ *shop.Shop) { s.Areas[0].State = "not-yet" },
		"an area left out":                 func(s *job.State, _ *shop.Shop) { s.Areas = s.Areas[1:] },
		"an area looked at before the job": func(s *job.State, _ *shop.Shop) { s.Areas[0].On = monthDay(t, "11-01") },
		"an area looked at tomorrow":       func(s *job.State, _ *shop.Shop) { s.Areas[0].On = monthDay(t, "12-11") },
		"a crack found after the repair": func(s *job.State, _ *shop.Shop) {
			f := s.Findings[0]
			f.ID, f.On = "D2", monthDay(t, "12-08")
			s.Findings = append(s.Findings, f)
		},
	} {
		out = append(out, change{name: what, do: do, anew: true})
	}
	return out
}

// TestReleaseTimeline moves every day, signature, device and material of a job
// that may be released, and leaves out every entry: outside its window each change
// has to be refused, inside it nothing may be missing.
func TestReleaseTimeline(t *testing.T) {
	a, c, r := releasable(t)
	if got := a.Release(c, r); !got.Ready() {
		t.Fatalf("the job as it stands:\n%s", a.ReleaseText(got, Column{Width: 200}))
	}
	changes := timeline(t, c.Job)
	refused, wrong := 0, 0
	for _, x := range changes {
		got := try(a, c, r, x)
		if !x.ok {
			refused++
		}
		if got.Ready() != x.ok {
			if wrong++; wrong <= 40 {
				t.Errorf("%s: ready %v\n%s", x.name, got.Ready(), a.ReleaseText(got, Column{Width: 160}))
			}
		}
	}
	t.Logf("%d changes, %d to be refused, %d wrong", len(changes), refused, wrong)
	if refused < 300 {
		t.Errorf("only %d changes to be refused", refused)
	}
	if wrong > 40 {
		t.Errorf("%d of %d changes were judged wrong", wrong, len(changes))
	}
}
