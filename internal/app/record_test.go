package app

import (
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/release"
	"fettle/internal/unit"
)

// filler fills in a list as somebody does who did all that the plan says, in its order and
// at its times.
type filler struct {
	c     *Opened
	steps map[string]plan.Step // by name and finding
	after map[string]string    // what was read of each control point after the repair
	last  unit.Date            // of the plan
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
	case release.WantAcceptance:
		e.By, e.Text = "P1", "Chosen"
	case release.WantReview:
		e.By = "T3"
	case release.WantStep:
		s := f.step(*e)
		at(s)
		e.By, e.Value, e.From, e.To = s.Person, fmt.Sprint(s.Minutes), "", s.To.Format("15:04")
		if unit.DateOf(s.From) == unit.DateOf(s.To) {
			e.From = s.From.Format("15:04")
		}
	case release.WantFaults:
		for _, s := range f.steps {
			if string(s.Faults) == e.About {
				at(s)
				e.By = s.Person
			}
		}
		e.Value = "airbag: none; brakes: none"
	case release.WantHold:
		at(f.step(*e))
		e.Value = "met"
	case release.WantFigure:
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
	case release.WantTorque:
		j, _ := f.c.Body.Joint(body.JointID(e.About))
		at(f.closing(j.ID))
		e.From, e.Value = "", fmt.Sprint(float64(j.Torque))
		device()
	case release.WantBond:
		s := f.closing(body.JointID(e.About))
		if e.About == "" {
			s = f.bonding(e.Finding)
		}
		at(s)
		e.From, e.To, e.Value = s.To.Add(-9*time.Minute).Format("15:04"), s.To.Format("15:04"), fmt.Sprint(float64(f.c.Shop.Temp))
		batch()
		device()
	case release.WantInspection:
		e.By, e.On, e.Inspection, e.Device, e.Calibrated = "T2", f.treated(""), "PT-END", "light meter", unit.Date{Year: 2028, Month: 1, Day: 1}
		e.Value = "medium=colour contrast; light_lx=850; temperature_c=19; dwell_min=20; development_min=15"
	case release.WantDelivery:
		e.Value = "1"
	case release.WantPromise:
		e.Value = e.On.String()
	case release.WantArea:
		e.By, e.On, e.Value, e.Inspection = "T2", unit.Date{Year: 2026, Month: 11, Day: 25}, "penetrant", "PT1"
	case release.WantHazard:
		e.By, e.Value = "T3", "made safe"
	case release.WantHash:
		e.Value = "as recorded"
	case release.WantSetup:
		e.On, e.Setup, e.Value = f.last.AddDays(7), "B", "std=0.3 mm; temperature=19 C"
		device()
	case release.WantReading:
		e.On, e.Setup, e.Value = f.last.AddDays(7), "B", f.after[e.About]
	case release.WantSeen, release.WantPenetrant:
		e.On, e.Value, e.From = f.treated(e.Finding), "met", ""
		if e.Entry == release.WantPenetrant {
			e.On, e.Value, e.Inspection = f.treated(""), "none", "PT-END"
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

// record is the job with a list recorded, opened and judged again on a day. It holds the files
// against what they were: every line is there still, but those of entries that are changed in
// their place, and as many more as records were named.
func (f *filler) record(t *testing.T, a *App, r Assessment, rows []Entry, day time.Time) Assessment {
	t.Helper()
	m := a.files.(memory)
	m["open.csv"] = EncodeEntries(rows)
	got, err := a.Record(f.c, r, "open.csv")
	if err != nil {
		t.Fatal(err)
	}
	named, changed, readings := 0, 0, 0
	for _, e := range rows {
		switch {
		case e.By == "":
		case e.Entry == release.WantHazard || e.Entry == release.WantHash || e.Entry == release.WantArea:
			changed++
		case e.Entry == release.WantReading:
			readings++
		default:
			named++
		}
	}
	for _, x := range got.Files {
		was := m[f.c.From+"/"+x.Name]
		if !x.Replaces && x.Name != "job.yaml" || x.Replaces && !slices.Equal(x.Was, was) {
			t.Fatalf("%s is written: %+v", x.Name, x.Replaces)
		}
		want := map[string][2]int{"job.yaml": {named, changed}, "readings.csv": {readings, 0}}[x.Name]
		grown(t, x.Name, string(was), string(x.Data), want[0], want[1])
		m[f.c.From+"/"+x.Name] = x.Data
	}
	if f.c, err = a.Open(t.Context(), f.c.From); err != nil {
		t.Fatal(err)
	}
	return assessedOf(t, a, f.c, day)
}

// grown wants a file to have so many records more, so many lines changed, and nothing else; a
// list that is begun has its name on a line of its own.
func grown(t *testing.T, name, was, is string, more, changed int) {
	t.Helper()
	old, now := strings.SplitAfter(was, "\n"), strings.SplitAfter(is, "\n")
	added, other := 0, 0
	k := 0
	for _, l := range now {
		switch {
		case k < len(old) && old[k] == l:
			k++
		case strings.HasSuffix(l, ":\n") && !strings.Contains(l, " "):
		case k+1 < len(old) && changed > other && l[:min(len(l), 14)] == old[k][:min(len(old[k]), 14)]:
			k, other = k+1, other+1
		default:
			added++
		}
	}
	if k != len(old) || added != more || other != changed {
		t.Fatalf("%s: %d of %d lines kept, %d added for %d records, %d changed for %d", name, k, len(old), added, more, other, changed)
	}
}

// spoil makes a row wrong and says which column it is.
func spoil(e *Entry, rng *rand.Rand) string {
	switch rng.IntN(3) {
	case 0:
		e.By = ""
		return "by"
	case 1:
		e.On = unit.Date{}
		return "on"
	}
	e.By = "nobody"
	return "by"
}

// unfinishedJob is a damaged job before anything is measured after the repair, with a danger that
// nobody made safe, evidence without a hash, and an area that was looked at by eye only.
func unfinishedJob(t *testing.T, kinds ...string) (*App, *Opened, Assessment, map[string]string) {
	t.Helper()
	m := damagedFiles(t, kinds...)
	text := string(m[demo.SoundJob+"/job.yaml"])
	change := func(old, fresh string) {
		if strings.Count(text, old) != 1 {
			t.Fatalf("%q is there %d times", old, strings.Count(text, old))
		}
		text = strings.Replace(text, old, fresh, 1)
	}
	i := strings.Index(text, "  - {id: B, stage: after")
	text = text[:i] + text[i+strings.Index(text[i:], "\n")+1:]
	change("A-NOSE, state: penetrant, inspection: PT1, by: technician T2", "A-NOSE, state: seen, inspection: VT1, by: technician T1")
	text += "hazards:\n  - {kind: high-voltage, text: Cover of the charger cracked}\nevidence:\n  - {id: E1, file: evidence/note.txt, text: A note, on: 2026-11-25, by: T1}\n"
	m[demo.SoundJob+"/job.yaml"], m[demo.SoundJob+"/evidence/note.txt"] = []byte(text), []byte("seen")
	after := map[string]string{}
	var kept []string
	for _, l := range strings.SplitAfter(string(m[demo.SoundJob+"/readings.csv"]), "\n") {
		if x := strings.Split(strings.TrimSpace(l), ","); x[0] == "B" {
			after[x[2]] = strings.Join(x[4:7], "; ")
		} else {
			kept = append(kept, l)
		}
	}
	m[demo.SoundJob+"/readings.csv"] = []byte(strings.Join(kept, ""))
	a := New(m, "test").WithBodies(&bodies)
	c, err := a.Open(t.Context(), demo.SoundJob)
	if err != nil {
		t.Fatal(err)
	}
	return a, c, assessedOf(t, a, c, time.Date(2026, time.November, 26, 10, 0, 0, 0, time.UTC)), after
}

// TestFilledListsLeadToTheHandBackSeeds: who is given the list of what is open, does the work
// and fills in some of the rows, and does so again until nothing is on it, may hand the
// vehicle back; and an entry that would show something is on the list whenever it is missing.
// Each time exactly the records that were named are written, and a list with a bad row writes
// nothing and names it.
func TestFilledListsLeadToTheHandBackSeeds(t *testing.T) {
	if os.Getenv("FETTLE_CAMPAIGN") == "" {
		filledLists(t, 1, 0, "weld", "plate", "dent", "part")
		return
	}
	for seed, kinds := range [][]string{{"weld"}, {"plate", "dent"}, {"nose", "part"}, {"weld", "plate", "dent", "part"}, {"part"}, {"nose", "weld", "plate"}} {
		for route := range filledLists(t, uint64(seed), 0, kinds...) - 1 {
			filledLists(t, uint64(seed), route+1, kinds...)
		}
	}
}

// filledLists goes through one route of a job, and says how many there are.
func filledLists(t *testing.T, seed uint64, way int, kinds ...string) int {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, uint64(way)))
	a, c, r, after := unfinishedJob(t, kinds...)
	f := filler{c: c, steps: map[string]plan.Step{}, after: after}
	first := a.OpenEntries(c, r)
	area := slices.IndexFunc(first, func(e Entry) bool { return e.Entry == release.WantArea })
	if area < 0 || !strings.Contains(first[area].Must, "which does not do: looked at by eye only") {
		t.Fatalf("the area that was looked at by eye is not asked for: %+v", first)
	}
	f.fill(&first[area])
	made := time.Date(2026, time.November, 26, 10, 0, 0, 0, time.UTC)
	r = f.record(t, a, r, first[area:area+1], made)
	routes := takeable(r)
	if way >= len(routes) {
		t.Fatalf("%v: %d routes can be taken", kinds, len(routes))
	}
	first = a.OpenEntries(f.c, r)
	i := slices.IndexFunc(first, func(e Entry) bool { return e.Entry == release.WantChoice })
	if i < 0 || !strings.Contains(first[i].Must, routes[way].ID) {
		t.Fatalf("no route is asked for: %+v", first)
	}
	first[i].Value, first[i].By, first[i].On, first[i].Text = routes[way].ID, "P1", unit.Date{Year: 2026, Month: 11, Day: 26}, "Chosen"
	steps := routes[way].Plan.Steps
	f.last = unit.DateOf(steps[len(steps)-1].To)
	end := f.last.AddDays(8)
	day := time.Date(end.Year, end.Month, end.Day, 10, 0, 0, 0, time.UTC)
	r = f.record(t, a, r, first[i:i+1], day)
	for _, s := range steps {
		f.steps[s.Name+" "+string(firstOf(s.For))] = s
	}
	asked := map[release.EntryKind]int{}
	for round := range 9 {
		rows := a.OpenEntries(f.c, r)
		if len(rows) == 0 {
			break
		}
		f.some(t, a, r, rows, rng, round, asked)
		r = f.record(t, a, r, rows, day)
	}
	if open := a.OpenEntries(f.c, r); len(open) > 0 {
		t.Errorf("%v %s: still open: %+v", kinds, routes[way].ID, open)
	}
	if got := a.Release(f.c, r); !got.Ready() {
		t.Errorf("%v %s: the list is filled in, and there is missing:\n%s", kinds, routes[way].ID, a.ReleaseText(got, Column{Width: 200}))
	}
	r.Notes = append(slices.Clip(r.Notes), diag.Note{Code: "later.unheard-of", Severity: diag.Blocking, Text: "unheard of"})
	if got := a.Release(f.c, r); len(got.Missing) != 1 || got.Missing[0].Text != "unheard of" {
		t.Errorf("%v: a note that blocks is not missing: %+v", kinds, got.Missing)
	}
	wants := []release.EntryKind{release.WantAcceptance, release.WantReview, release.WantStep, release.WantHazard, release.WantHash}
	if len(kinds) == 4 && way == 0 {
		wants = append(wants, release.WantHold, release.WantFigure, release.WantSetup, release.WantReading, release.WantTorque, release.WantBond, release.WantSeen, release.WantInspection, release.WantPenetrant)
	}
	for _, kind := range wants {
		if asked[kind] == 0 {
			t.Errorf("%v %s: no %s was asked for", kinds, routes[way].ID, kind)
		}
	}
	if n := asked[release.WantInspection]; n > 1 {
		t.Errorf("%d inspections were asked for, one serves all", n)
	}
	if text := a.EntriesText(f.c, nil, plain); !strings.Contains(text, "Nothing is open") {
		t.Error(text)
	}
	return len(routes)
}

// some fills in some of the rows, in the first round half of them; what belongs together, the
// inspection and the set-up with theirs, together. Before that it makes one of them wrong, and
// wants the list to be refused.
func (f filler) some(t *testing.T, a *App, r Assessment, rows []Entry, rng *rand.Rand, round int, asked map[release.EntryKind]int) {
	t.Helper()
	half := round == 0
	together := map[string]bool{"inspection": rng.IntN(2) == 0, "setup": rng.IntN(2) == 0}
	var filled []int
	for i := range rows {
		e := &rows[i]
		take := !half || rng.IntN(2) == 0
		switch e.Entry {
		case release.WantInspection, release.WantPenetrant:
			take = !half || together["inspection"]
		case release.WantSetup, release.WantReading:
			take = !half || together["setup"]
		}
		if take {
			f.fill(e)
			asked[e.Entry]++
			filled = append(filled, i)
		}
	}
	if len(filled) == 0 {
		f.fill(&rows[0])
		asked[rows[0].Entry]++
		filled = []int{0}
	}
	k := filled[rng.IntN(len(filled))]
	wrong := slices.Clone(rows)
	column := spoil(&wrong[k], rng)
	a.files.(memory)["open.csv"] = EncodeEntries(wrong)
	got, err := a.Record(f.c, r, "open.csv")
	if want := fmt.Sprintf("open.csv:%d: ", k+2); err == nil || len(got.Files) > 0 || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), column) {
		t.Fatalf("%+v is wrong in %s: %v, want %s", wrong[k], column, err, want)
	}
}

// A list that does not fit is refused with its row and column, and nothing is recorded;
// blank rows are left alone.
func TestAListThatDoesNotFitIsRefused(t *testing.T) {
	a, c, r := damaged(t, "weld")
	on := unit.Date{Year: 2026, Month: 11, Day: 26}
	blank := a.OpenEntries(c, r)
	find := func(kind release.EntryKind) Entry {
		i := slices.IndexFunc(blank, func(e Entry) bool { return e.Entry == kind })
		if i < 0 {
			t.Fatalf("no %s is open: %+v", kind, blank)
		}
		return blank[i]
	}
	choice, review := find(release.WantChoice), find(release.WantReview)
	signed := func(e Entry, do func(*Entry)) Entry {
		e.By, e.On = "P1", on
		do(&e)
		return e
	}
	none := func(*Entry) {}
	measured := func(e Entry) Entry {
		e.Entry, e.Setup, e.By, e.On = release.WantReading, "A", "technician T1", unit.Date{Year: 2026, Month: 11, Day: 25}
		return e
	}
	for name, x := range map[string]struct {
		rows []Entry
		want string
	}{
		"nothing filled in":         {blank, "no row names a person"},
		"nobody":                    {[]Entry{review, signed(choice, func(e *Entry) { e.By = "" })}, "open.csv:3: column by"},
		"no day":                    {[]Entry{signed(choice, func(e *Entry) { e.On = unit.Date{} })}, "open.csv:2: column on"},
		"no route":                  {[]Entry{signed(choice, func(e *Entry) { e.Text = "why" })}, "open.csv:2: column value: the row does not say the route"},
		"not open":                  {[]Entry{signed(Entry{Entry: release.WantHold, About: "Weld"}, none)}, `"hold" is not open`},
		"twice":                     {[]Entry{signed(review, none), signed(review, none)}, "open.csv:3: the list has this entry twice"},
		"no such sort":              {[]Entry{signed(Entry{Entry: "wish"}, none)}, "open.csv:2: column entry"},
		"a reason is missing":       {[]Entry{signed(choice, func(e *Entry) { e.Value = "weld" })}, "open.csv:2: reason"},
		"a day before the job":      {[]Entry{signed(review, func(e *Entry) { e.On = unit.Date{Year: 2020, Month: 1, Day: 1} })}, "open.csv:2"},
		"nobody of the shop":        {[]Entry{signed(review, func(e *Entry) { e.By = "Q9" })}, `open.csv:2: column by: "Q9" names no person of the shop file`},
		"tomorrow":                  {[]Entry{signed(review, func(e *Entry) { e.On = on.AddDays(1) })}, "open.csv:2: column on: it is dated 2026-11-27, after today"},
		"a set-up without a name":   {[]Entry{signed(Entry{Entry: release.WantSetup, What: "after", Value: "std=0.3 mm", Device: "arm"}, none)}, "open.csv:2: column setup: the set-up has no identity"},
		"a set-up of no stage":      {[]Entry{signed(Entry{Entry: release.WantSetup, Setup: "S9", What: "afterwards", Value: "std=0.3 mm", Device: "arm"}, none)}, "open.csv:2: column what"},
		"a set-up without a device": {[]Entry{signed(Entry{Entry: release.WantSetup, Setup: "S9", What: "after", Value: "std=0.3 mm"}, none)}, "open.csv:2: column device"},
		"a set-up that is not sure": {[]Entry{signed(Entry{Entry: release.WantSetup, Setup: "S9", What: "after", Value: "temperature=19 C", Device: "arm"}, none)}, "open.csv:2: column value: the row does not say the standard uncertainty"},
		"a set-up with a wish":      {[]Entry{signed(Entry{Entry: release.WantSetup, Setup: "S9", What: "after", Value: "std=0.3 mm; light=5", Device: "arm"}, none)}, "open.csv:2: column value: nothing of a set-up is called"},
		"a set-up that is there":    {[]Entry{signed(Entry{Entry: release.WantSetup, Setup: "A", What: "after", Value: "std=0.3 mm", Device: "arm", Calibrated: on}, none)}, `open.csv:2: id: "A" is there twice`},
		"a reading of no set-up":    {[]Entry{signed(Entry{Entry: release.WantReading, Setup: "S9", About: "F01L", What: "xyz", Value: "1; 2; 3"}, none)}, `open.csv:2: column setup: set-up "S9" is neither`},
		"another's reading":         {[]Entry{signed(Entry{Entry: release.WantReading, Setup: "A", About: "F01L", What: "xyz", Value: "1; 2; 3"}, none)}, "open.csv:2: column by: the row is signed by P1"},
		"too few numbers":           {[]Entry{measured(Entry{About: "F01L", What: "xyz", Value: "1; 2"})}, "open.csv:2: column value: a reading of the kind xyz has 3 numbers"},
		"no number":                 {[]Entry{measured(Entry{About: "F01L", What: "xyz", Value: "1; 2; x"})}, `open.csv:2: column value: "x" is not a number`},
		"no kind":                   {[]Entry{measured(Entry{About: "F01L", What: "far", Value: "1; 2; 3"})}, `open.csv:2: column what: "far" is no kind`},
		"a length from one point":   {[]Entry{measured(Entry{About: "F01L", What: "length", Value: "1200"})}, "open.csv:2: column about"},
		"no such point":             {[]Entry{signed(review, none), measured(Entry{About: "F99", What: "xyz", Value: "1; 2; 3"})}, `open.csv:3: column from: point "F99" does not exist`},
		"a dear material":           {[]Entry{signed(Entry{Entry: release.WantDelivery, About: "M-NONE", Value: "1"}, none)}, `"delivery" is not open`},
		"one good and one wrong":    {[]Entry{signed(review, none), signed(choice, none)}, "open.csv:3"},
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
	using := func(used string) Entry { e := with("47"); e.Used = used; return e }
	price := unit.Money{Minor: 450, Currency: "EUR"}
	c := &Opened{Job: &job.State{Records: []job.Record{{ID: "R-1"}, {ID: "R-2"}}}, Body: &body.Body{Materials: []body.Material{{ID: "M-1", Price: price}}}}
	for _, x := range []struct {
		want release.Wanted
		row  Entry
		rec  any // nil: refused
	}{
		{release.Wanted{Entry: release.WantStep, About: "Weld", Finding: "D1", Minutes: 40}, with("47"), job.Actual{ID: "W-1", Step: "Weld", Finding: "D1", Planned: 40, Minutes: 47, By: "T1", On: on, Began: "09:10", Ended: "09:40", Text: "x"}},
		{release.Wanted{Entry: release.WantStep, About: "Weld"}, with("1.5 h"), job.Actual{ID: "W-1", Step: "Weld", Minutes: 90, By: "T1", On: on, Began: "09:10", Ended: "09:40", Text: "x"}},
		{release.Wanted{Entry: release.WantStep, About: "Weld"}, using("M-1=2; Lid = 1 @ 4.50 EUR"), job.Actual{ID: "W-1", Step: "Weld", Minutes: 47, Parts: []job.PartUsed{{ID: "M-1", Count: 2, Price: price}, {ID: "Lid", Count: 1, Price: price}}, By: "T1", On: on, Began: "09:10", Ended: "09:40", Text: "x"}},
		{release.Wanted{Entry: release.WantStep, About: "Weld"}, using("Lid=1"), nil},
		{release.Wanted{Entry: release.WantStep, About: "Weld"}, using("M-1"), nil},
		{release.Wanted{Entry: release.WantStep, About: "Weld"}, using("M-1=0"), nil},
		{release.Wanted{Entry: release.WantStep, About: "Weld"}, using("M-1=1; M-1=1"), nil},
		{release.Wanted{Entry: release.WantStep, About: "Weld"}, using("M-1=1@dear"), nil},
		{release.Wanted{Entry: release.WantBond, About: "T/b F1", Finding: "F1", What: "GLUE", Step: "T/b F1"}, with("21"), job.Record{ID: "R-3", Show: body.ShowAdhesive, Finding: "F1", Step: "T/b F1", Material: "GLUE", Batch: "B", UseBefore: until, Mixed: "09:10", Closed: "09:40", Temp: unit.Some(unit.Celsius(21)), By: "T1", On: on, Device: "d", Calibrated: until, Text: "x"}},
		{release.Wanted{Entry: release.WantDelivery, About: "M-1"}, with("2"), job.Arrival{ID: "D-1", Item: "M-1", Count: 2, On: on, At: "09:10", By: "T1", Text: "x", Batch: "B", UseBefore: until}},
		{release.Wanted{Entry: release.WantStep, About: "Weld"}, with("soon"), nil},
		{release.Wanted{Entry: release.WantStep, About: "Weld"}, with(""), nil},
		{release.Wanted{Entry: release.WantHold, About: "Weld"}, with("met"), job.Record{ID: "R-3", Show: body.ShowHold, Step: "Weld", Met: true, By: "T1", On: on, At: "09:10", Device: "d", Calibrated: until, Text: "x"}},
		{release.Wanted{Entry: release.WantHold, About: "Weld"}, with("not met"), job.Record{ID: "R-3", Show: body.ShowHold, Step: "Weld", By: "T1", On: on, At: "09:10", Device: "d", Calibrated: until, Text: "x"}},
		{release.Wanted{Entry: release.WantHold, About: "Weld"}, with("yes"), nil},
		{release.Wanted{Entry: release.WantTorque, About: "J1"}, with("37"), job.Record{ID: "R-3", Show: body.ShowTorque, Joint: "J1", Torque: 37, By: "T1", On: on, At: "09:10", Device: "d", Calibrated: until, Text: "x"}},
		{release.Wanted{Entry: release.WantTorque, About: "J1"}, with("37 mm"), nil},
		{release.Wanted{Entry: release.WantBond, About: "J1", What: "GLUE"}, with("21 C"), job.Record{ID: "R-3", Show: body.ShowAdhesive, Joint: "J1", Material: "GLUE", Batch: "B", UseBefore: until, Mixed: "09:10", Closed: "09:40", Temp: unit.Some(unit.Celsius(21)), By: "T1", On: on, Device: "d", Calibrated: until, Text: "x"}},
		{release.Wanted{Entry: release.WantFigure, About: "Weld", What: "interpass", Unit: "C"}, with("80"), job.Figure{Step: "Weld", Reading: "interpass", Value: unit.Amount{Value: 80, Unit: "C"}, Device: "d", Calibrated: until, UseBefore: until, By: "T1", On: on}},
		{release.Wanted{Entry: release.WantFigure, About: "Weld", What: "batch-M", Unit: body.TextUnit}, with(""), job.Figure{Step: "Weld", Reading: "batch-M", Text: "B", Device: "d", Calibrated: until, UseBefore: until, By: "T1", On: on}},
		{release.Wanted{Entry: release.WantPenetrant, Finding: "D1"}, with("none"), job.Record{ID: "R-3", Show: body.ShowPenetrant, Finding: "D1", Look: "PT9", None: true, By: "T1", On: on, At: "09:10", Device: "d", Calibrated: until, Text: "x"}},
		{release.Wanted{Entry: release.WantPenetrant, Finding: "D1"}, with("2"), nil},
		{release.Wanted{Entry: release.WantInspection, What: "penetrant"}, with("medium=fluorescent; uv_w_m2=12;"), job.Inspection{ID: "PT9", Medium: "fluorescent", UV: unit.Some(12.0), Device: "d", Calibrated: until, Product: "B", By: "T1", On: on, Text: "x"}},
		{release.Wanted{Entry: release.WantInspection}, with("light=900"), nil},
		{release.Wanted{Entry: release.WantInspection}, with("light_lx=much"), nil},
		{release.Wanted{Entry: release.WantInspection}, with("light_lx"), nil},
		{release.Wanted{Entry: release.WantInspection}, with("light_lx=NaN"), nil},
	} {
		tk := taken{c: c, name: "open.csv"}
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

// A danger is made safe in the place of its entry, by somebody whose skill does such work, and
// of two that are written alike nobody can tell which; an area takes the place of its last
// entry, and a hash that of an entry without one, never of another hash.
func TestEntriesAreChangedInTheirPlace(t *testing.T) {
	a, c, r, _ := unfinishedJob(t, "weld")
	m := a.files.(memory)
	was := string(m[c.From+"/job.yaml"])
	day := unit.Date{Year: 2026, Month: 11, Day: 26}
	hazard := Entry{Entry: release.WantHazard, About: "high-voltage", What: "Cover of the charger cracked", Value: "made safe", By: "T3", On: day}
	area := Entry{Entry: release.WantArea, About: "A-NOSE", What: "penetrant", Value: "penetrant", Inspection: "PT1", By: "T2", On: day}
	hash := Entry{Entry: release.WantHash, About: "E1", What: "evidence/note.txt", Value: "as recorded", By: "T1", On: day}
	take := func(text string, e Entry) (string, error) {
		t.Helper()
		m[c.From+"/job.yaml"], m["open.csv"] = []byte(text), EncodeEntries([]Entry{e})
		opened, err := a.Open(t.Context(), c.From)
		if err != nil {
			t.Fatal(err)
		}
		got, err := a.Record(opened, r, "open.csv")
		if err != nil {
			return "", err
		}
		return string(got.Files[0].Data), nil
	}
	for _, x := range []struct {
		e    Entry
		want string // the line that is changed
	}{
		{hazard, "  - {kind: high-voltage, text: Cover of the charger cracked, cleared: yes, by: T3, on: 2026-11-26}\n"},
		{area, "  - {area: A-NOSE, state: penetrant, by: T2, on: 2026-11-26, inspection: PT1}\n"},
		{hash, "  - {id: E1, file: evidence/note.txt, sha256: 19a0b2de68efd5c40dfae5a8c03ea16bbe18aff4e5052fa8bab1c1a15de0b73f, text: A note, on: 2026-11-25, by: T1}\n"},
	} {
		is, err := take(was, x.e)
		if err != nil {
			t.Fatal(err)
		}
		if grown(t, string(x.e.Entry), was, is, 0, 1); x.e.Entry != release.WantHash && !strings.Contains(is, x.want) {
			t.Errorf("%s: %s", x.e.Entry, is)
		}
		if x.e.Entry == release.WantArea {
			continue // what covers an area now is judged anew
		}
		if again, err := take(is, x.e); err == nil || !strings.Contains(err.Error(), "is not open") {
			t.Errorf("%s twice: %v %s", x.e.Entry, err, again)
		}
	}
	block := strings.Replace(was, "  - {kind: high-voltage, text: Cover of the charger cracked}\n", "  - kind: high-voltage\n    text: Cover of the charger cracked\n", 1)
	for name, x := range map[string]struct {
		text string
		e    Entry
		do   func(*Entry)
		want string
	}{
		"not made safe":         {was, hazard, func(e *Entry) { e.Value = "safe" }, `open.csv:2: column value: "safe" is not 'made safe'`},
		"by who may not":        {was, hazard, func(e *Entry) { e.By = "T1" }, "open.csv:2: column by: that it was made safe does not count: T1 does not work as electric"},
		"another danger":        {was, hazard, func(e *Entry) { e.About = "airbag" }, `"hazard" is not open`},
		"not on one line":       {block, hazard, func(*Entry) {}, "does not stand on a line of its own"},
		"seen earlier":          {was, area, func(e *Entry) { e.On = day.AddDays(-2) }, "open.csv:2: column on: it is of 2026-11-24, and the entry that it takes the place of is of 2026-11-25"},
		"no such inspection":    {was, area, func(e *Entry) { e.Inspection = "PT9" }, "open.csv:2: inspection"},
		"not as recorded":       {was, hash, func(e *Entry) { e.Value = "yes" }, `open.csv:2: column value: "yes" is not 'as recorded'`},
		"before it was taken":   {was, hash, func(e *Entry) { e.On = day.AddDays(-2) }, "open.csv:2: column on"},
		"evidence that is none": {was, hash, func(e *Entry) { e.About = "E9" }, `"hash" is not open`},
	} {
		e := x.e
		x.do(&e)
		if _, err := take(x.text, e); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s: %v, want %q", name, err, x.want)
		}
	}
	m[c.From+"/job.yaml"] = []byte(strings.Replace(was, "file: evidence/note.txt,", "file: evidence/note.txt, sha256: 0123456789012345678901234567890123456789012345678901234567890123,", 1))
	if _, err := a.Open(t.Context(), c.From); err == nil || !strings.Contains(err.Error(), "evidence[0].sha256: the file evidence/note.txt is not the one that was recorded") {
		t.Errorf("a hash that is another: %v", err)
	}
}

// A row about a finding that is treated together with the one that is named is taken as the
// record that it is.
func TestARowServesWhatIsTreatedTogether(t *testing.T) {
	open := []release.Wanted{{Entry: release.WantSeen, Finding: "D1", Serves: []job.FindingID{"D1", "D2"}}, {Entry: release.WantReview}}
	tk := taken{c: &Opened{Job: &job.State{}, Body: &body.Body{}}, open: open}
	for id, want := range map[job.FindingID]bool{"D1": true, "D2": true, "D3": false, "": false} {
		got, ok := tk.wanted(release.Wanted{Entry: release.WantSeen, Finding: id})
		if ok != want || ok && got.Finding != id {
			t.Errorf("%s: %v %+v", id, ok, got)
		}
	}
}
