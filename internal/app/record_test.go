package app

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// filler fills in a list as somebody does who did all that the plan says, in its order and
// at its times.
type filler struct {
	c     *Case
	steps map[string]plan.Step // by name and finding
}

func (f filler) step(e Entry) plan.Step {
	return f.steps[e.About+" "+string(e.Finding)]
}

// fill fills in one row.
func (f filler) fill(e *Entry) {
	day := unit.Date{Year: 2026, Month: 11, Day: 26}
	e.By, e.On = "T1", day
	device := func() { e.Device, e.Calibrated = "device", unit.Date{Year: 2028, Month: 1, Day: 1} }
	batch := func() { e.Batch, e.UseBefore = "B-1", unit.Date{Year: 2027, Month: 9, Day: 1} }
	at := func(s plan.Step) { e.On, e.From, e.To = unit.DateOf(s.To), s.To.Format("15:04"), "" }
	switch e.Entry {
	case decide.WantAcceptance:
		e.By, e.Text = "P1", "Chosen"
	case decide.WantReview:
		e.By = "T3"
	case decide.WantStep:
		s := f.step(*e)
		at(s)
		e.By, e.Value, e.From, e.To = s.Person, fmt.Sprint(s.Minutes), "", s.To.Format("15:04")
		if unit.DateOf(s.From) == unit.DateOf(s.To) {
			e.From = s.From.Format("15:04")
		}
	case decide.WantHold:
		at(f.step(*e))
		e.Value = "met"
	case decide.WantFigure:
		s := f.step(*e)
		e.By, e.On = s.Person, unit.DateOf(s.From)
		for _, x := range s.Readings {
			if x.ID != e.What {
				continue
			}
			switch low, high := x.Low.Value, x.High.Value; {
			case x.Unit == body.TextUnit:
				batch()
			case strings.HasPrefix(x.ID, body.CureReading("")):
				e.Value = fmt.Sprint(float64(f.c.Shop.Temp))
			case high == 0:
				e.Value = fmt.Sprint(low + 1)
			default:
				e.Value = fmt.Sprint((low + high) / 2)
			}
		}
		if e.Batch == "" {
			device()
		}
	case decide.WantTorque:
		j, _ := f.c.Body.Joint(body.JointID(e.About))
		at(f.closing(j.ID))
		e.From, e.Value = "", fmt.Sprint(float64(j.Torque))
		device()
	case decide.WantBond:
		s := f.closing(body.JointID(e.About))
		if e.About == "" {
			s = f.bonding(e.Finding)
		}
		at(s)
		e.From, e.To, e.Value = s.To.Add(-9*time.Minute).Format("15:04"), s.To.Format("15:04"), fmt.Sprint(float64(f.c.Shop.Temp))
		batch()
		device()
	case decide.WantInspection:
		e.By, e.On, e.Inspection, e.Device, e.Calibrated = "T2", f.treated(""), "PT-END", "light meter", unit.Date{Year: 2028, Month: 1, Day: 1}
		e.Value = "medium=colour contrast; light_lx=850; temperature_c=19; dwell_min=20; development_min=15"
	case decide.WantDelivery:
		e.Value = "1"
	case decide.WantPromise:
		e.Value = e.On.String()
	case decide.WantArea:
		e.Value = "not-reachable"
	case decide.WantSeen, decide.WantPenetrant:
		e.On, e.Value, e.From = f.treated(e.Finding), "met", ""
		if e.Entry == decide.WantPenetrant {
			e.Value, e.Inspection = "none", "PT-END"
		}
	}
}

func (f filler) closing(id body.JointID) (out plan.Step) {
	for _, s := range f.steps {
		for _, j := range s.Closes {
			if j == id {
				out = s
			}
		}
	}
	return out
}

func (f filler) bonding(id job.FindingID) (out plan.Step) {
	for _, s := range f.steps {
		for _, x := range s.For {
			if x == id && len(s.Bonds) > 0 && len(s.Closes) == 0 && s.Phase == plan.PhaseRepair && s.To.After(out.To) {
				out = s
			}
		}
	}
	return out
}

// treated is the day on which the last step of a treatment was done; of no finding, of all.
func (f filler) treated(id job.FindingID) unit.Date {
	var last time.Time
	for _, s := range f.steps {
		for _, x := range s.For {
			if (x == id || id == "") && s.Phase == plan.PhaseRepair && s.To.After(last) {
				last = s.To
			}
		}
	}
	return unit.DateOf(last)
}

// record is the job with a list recorded, opened and judged again on a day.
func (f *filler) record(t *testing.T, a *App, r Assessment, rows []Entry, day time.Time) Assessment {
	t.Helper()
	m := a.files.(memory)
	m["open.csv"] = EncodeEntries(rows)
	got, err := a.Record(f.c, r, "open.csv")
	if err != nil {
		t.Fatal(err)
	}
	was := m[f.c.Dir+"/job.yaml"]
	m[f.c.Dir+"/job.yaml"] = got.Files[len(got.Files)-1].Data
	if !strings.Contains(got.Text, "entr") || len(m[f.c.Dir+"/job.yaml"]) <= len(was) {
		t.Errorf("%q, and %d bytes of %d", got.Text, len(m[f.c.Dir+"/job.yaml"]), len(was))
	}
	if f.c, err = a.Open(f.c.Dir, nil); err != nil {
		t.Fatal(err)
	}
	return a.Assess(f.c, day, nil)
}

// TestAFilledListLeadsToTheHandBack: who is given the list of what is open, does the work
// and fills in each row, and does so again until nothing is on it, may hand the vehicle
// back; and an entry that would show something is on the list whenever it is missing.
func TestAFilledListLeadsToTheHandBack(t *testing.T) {
	a, c, r := damaged(t, "weld", "plate", "dent", "part")
	f := filler{c: c, steps: map[string]plan.Step{}}
	routes := takeable(r)
	if len(routes) == 0 {
		t.Fatal("no route can be taken")
	}
	first := a.OpenEntries(c, r)
	i := slices.IndexFunc(first, func(e Entry) bool { return e.Entry == decide.WantChoice })
	if i < 0 || !strings.Contains(first[i].Must, routes[0].ID) {
		t.Fatalf("no route is asked for: %+v", first)
	}
	first[i].Value, first[i].By, first[i].On, first[i].Text = routes[0].ID, "P1", unit.Date{Year: 2026, Month: 11, Day: 26}, "Chosen"
	steps := routes[0].Plan.Steps
	end := unit.DateOf(steps[len(steps)-1].To).AddDays(8)
	day := time.Date(end.Year, end.Month, end.Day, 10, 0, 0, 0, time.UTC)
	r = f.record(t, a, r, first[i:i+1], day)
	for _, s := range steps {
		f.steps[s.Name+" "+string(firstOf(s.For))] = s
	}
	asked := map[string]int{}
	for range 3 {
		rows := a.OpenEntries(f.c, r)
		if len(rows) == 0 {
			break
		}
		for i := range rows {
			f.fill(&rows[i])
			asked[rows[i].Entry]++
		}
		r = f.record(t, a, r, rows, day)
	}
	if open := a.OpenEntries(f.c, r); len(open) > 0 {
		t.Errorf("still open: %+v", open)
	}
	if got := a.Release(f.c, r); !got.Ready() {
		t.Errorf("the list is filled in, and there is missing:\n%s", a.ReleaseText(got, 200))
	}
	for _, kind := range []string{decide.WantAcceptance, decide.WantReview, decide.WantStep, decide.WantHold, decide.WantFigure, decide.WantTorque, decide.WantBond, decide.WantSeen, decide.WantInspection, decide.WantPenetrant} {
		if asked[kind] == 0 {
			t.Errorf("no %s was asked for", kind)
		}
	}
	if n := asked[decide.WantInspection]; n != 1 {
		t.Errorf("%d inspections were asked for, one serves all", n)
	}
	if text := a.EntriesText(f.c, nil); !strings.Contains(text, "Nothing is open") {
		t.Error(text)
	}
}

// A list that does not fit is refused with its row and column, and nothing is recorded;
// blank rows are left alone.
func TestAListThatDoesNotFitIsRefused(t *testing.T) {
	a, c, r := damaged(t, "weld")
	on := unit.Date{Year: 2026, Month: 11, Day: 26}
	blank := a.OpenEntries(c, r)
	find := func(kind string) Entry {
		i := slices.IndexFunc(blank, func(e Entry) bool { return e.Entry == kind })
		if i < 0 {
			t.Fatalf("no %s is open: %+v", kind, blank)
		}
		return blank[i]
	}
	choice, review := find(decide.WantChoice), find(decide.WantReview)
	signed := func(e Entry, do func(*Entry)) Entry {
		e.By, e.On = "P1", on
		do(&e)
		return e
	}
	none := func(*Entry) {}
	for name, x := range map[string]struct {
		rows []Entry
		want string
	}{
		"nothing filled in":      {blank, "no row names a person"},
		"nobody":                 {[]Entry{review, signed(choice, func(e *Entry) { e.By = "" })}, "open.csv:3: column by"},
		"no day":                 {[]Entry{signed(choice, func(e *Entry) { e.On = unit.Date{} })}, "open.csv:2: column on"},
		"no route":               {[]Entry{signed(choice, func(e *Entry) { e.Text = "why" })}, "open.csv:2: column value: the row does not say the route"},
		"not open":               {[]Entry{signed(Entry{Entry: decide.WantHold, About: "Weld"}, none)}, `"hold" is not open`},
		"twice":                  {[]Entry{signed(review, none), signed(review, none)}, "open.csv:3: the list has this entry twice"},
		"no such sort":           {[]Entry{signed(Entry{Entry: "wish"}, none)}, "open.csv:2: column entry"},
		"a reason is missing":    {[]Entry{signed(choice, func(e *Entry) { e.Value = "weld" })}, "open.csv:2: reason"},
		"a day before the job":   {[]Entry{signed(review, func(e *Entry) { e.On = unit.Date{Year: 2020, Month: 1, Day: 1} })}, "open.csv:2"},
		"one good and one wrong": {[]Entry{signed(review, none), signed(choice, none)}, "open.csv:3"},
	} {
		a.files.(memory)["open.csv"] = EncodeEntries(x.rows)
		if _, err := a.Record(c, r, "open.csv"); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s: %v, want %q", name, err, x.want)
		}
	}
	if _, err := a.Record(c, r, "none.csv"); err == nil {
		t.Error("a list that is not there was recorded")
	}
}

// What a row says comes into the job as it is: values with and without their unit, words,
// and nothing that a person would have to say.
func TestRowsBecomeRecords(t *testing.T) {
	on, until := unit.Date{Year: 2026, Month: 12, Day: 1}, unit.Date{Year: 2028, Month: 1, Day: 1}
	base := Entry{By: "T1", On: on, From: "09:10", To: "09:40", Device: "d", Calibrated: until, Batch: "B", UseBefore: until, Inspection: "PT9", Text: "x"}
	with := func(value string) Entry { e := base; e.Value = value; return e }
	c := &Case{Job: &job.State{Records: []job.Record{{ID: "R-1"}, {ID: "R-2"}}}}
	for _, x := range []struct {
		want decide.Wanted
		row  Entry
		rec  any // nil: refused
	}{
		{decide.Wanted{Entry: decide.WantStep, About: "Weld", Finding: "D1", Minutes: 40}, with("47"), job.Actual{ID: "W-1", Step: "Weld", Finding: "D1", Planned: 40, Minutes: 47, By: "T1", On: on, Began: "09:10", Ended: "09:40", Text: "x"}},
		{decide.Wanted{Entry: decide.WantStep, About: "Weld"}, with("1.5 h"), job.Actual{ID: "W-1", Step: "Weld", Minutes: 90, By: "T1", On: on, Began: "09:10", Ended: "09:40", Text: "x"}},
		{decide.Wanted{Entry: decide.WantStep, About: "Weld"}, with("soon"), nil},
		{decide.Wanted{Entry: decide.WantStep, About: "Weld"}, with(""), nil},
		{decide.Wanted{Entry: decide.WantHold, About: "Weld"}, with("met"), job.Record{ID: "R-3", Show: body.ShowHold, Step: "Weld", Met: true, By: "T1", On: on, At: "09:10", Device: "d", Calibrated: until, Text: "x"}},
		{decide.Wanted{Entry: decide.WantHold, About: "Weld"}, with("not met"), job.Record{ID: "R-3", Show: body.ShowHold, Step: "Weld", By: "T1", On: on, At: "09:10", Device: "d", Calibrated: until, Text: "x"}},
		{decide.Wanted{Entry: decide.WantHold, About: "Weld"}, with("yes"), nil},
		{decide.Wanted{Entry: decide.WantTorque, About: "J1"}, with("37"), job.Record{ID: "R-3", Show: body.ShowTorque, Joint: "J1", Torque: 37, By: "T1", On: on, At: "09:10", Device: "d", Calibrated: until, Text: "x"}},
		{decide.Wanted{Entry: decide.WantTorque, About: "J1"}, with("37 mm"), nil},
		{decide.Wanted{Entry: decide.WantBond, About: "J1", What: "GLUE"}, with("21 C"), job.Record{ID: "R-3", Show: body.ShowAdhesive, Joint: "J1", Material: "GLUE", Batch: "B", UseBefore: until, Mixed: "09:10", Closed: "09:40", Temp: unit.Some(unit.Celsius(21)), By: "T1", On: on, Device: "d", Calibrated: until, Text: "x"}},
		{decide.Wanted{Entry: decide.WantFigure, About: "Weld", What: "interpass", Unit: "C"}, with("80"), job.Figure{Step: "Weld", Reading: "interpass", Value: unit.Amount{Value: 80, Unit: "C"}, Device: "d", Calibrated: until, UseBefore: until, By: "T1", On: on}},
		{decide.Wanted{Entry: decide.WantFigure, About: "Weld", What: "batch-M", Unit: body.TextUnit}, with(""), job.Figure{Step: "Weld", Reading: "batch-M", Text: "B", Device: "d", Calibrated: until, UseBefore: until, By: "T1", On: on}},
		{decide.Wanted{Entry: decide.WantPenetrant, Finding: "D1"}, with("none"), job.Record{ID: "R-3", Show: body.ShowPenetrant, Finding: "D1", Look: "PT9", None: true, By: "T1", On: on, At: "09:10", Device: "d", Calibrated: until, Text: "x"}},
		{decide.Wanted{Entry: decide.WantPenetrant, Finding: "D1"}, with("2"), nil},
		{decide.Wanted{Entry: decide.WantInspection, What: "penetrant"}, with("medium=fluorescent; uv_w_m2=12;"), job.Inspection{ID: "PT9", Medium: "fluorescent", UV: unit.Some(12.0), Device: "d", Calibrated: until, Product: "B", By: "T1", On: on, Text: "x"}},
		{decide.Wanted{Entry: decide.WantInspection}, with("light=900"), nil},
		{decide.Wanted{Entry: decide.WantInspection}, with("light_lx=much"), nil},
		{decide.Wanted{Entry: decide.WantInspection}, with("light_lx"), nil},
		{decide.Wanted{Entry: decide.WantInspection}, with("light_lx=NaN"), nil},
	} {
		tk := taken{c: c}
		rec, column, err := tk.made(x.want, x.row)
		switch {
		case x.rec == nil && err == nil:
			t.Errorf("%+v with %q is taken: %+v", x.want, x.row.Value, rec)
		case x.rec == nil && column == "":
			t.Errorf("%+v with %q: no column", x.want, x.row.Value)
		case x.rec != nil && (err != nil || !reflect.DeepEqual(rec, x.rec)):
			t.Errorf("%+v with %q: %+v, %v\nwant %+v", x.want, x.row.Value, rec, err, x.rec)
		}
	}
}
