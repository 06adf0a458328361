package app

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/revise"
	"fettle/internal/unit"
)

// measured is two tables: five points of a box, and their coordinates read a metre further on, by a
// device that turns a quarter about z.
func measured() memory {
	points, readings := "id,name,x_mm,y_mm,z_mm,tol_mm,reference,section\n", "setup,kind,from,to,x_mm,y_mm,z_mm,value_mm,std_mm\n"
	for i, p := range []geom.Vec{{0, 0, 0}, {1000, 0, 0}, {1000, 800, 0}, {0, 800, 100}, {500, 400, 300}} {
		points += fmt.Sprintf("P%d,Point %d,%g,%g,%g,2,yes,%s\n", i+1, i+1, p[0], p[1], p[2], []string{"front", "front", "", "rear", "rear"}[i])
		readings += fmt.Sprintf("S,xyz,P%d,,%g,%g,%g,,0.3\n", i+1, 1000-p[1], p[0], p[2])
	}
	return memory{"in/points.csv": []byte(points), "in/readings.csv": []byte(readings)}
}

// Two tables alone are measured: read without an error every point is where it is published; one
// that is off by 30 mm is found, and blocks nothing.
func TestMeasureOfTwoTables(t *testing.T) {
	m := measured()
	a := New(m, "test")
	r, err := a.MeasureFiles(t.Context(), "in/points.csv", "in/readings.csv", MeasureOptions{})
	if err != nil || len(r.Points) != 5 || len(r.Result.Hypotheses) == 0 || r.Blocked() {
		t.Fatalf("%+v, %v", r.Result.Notes, err)
	}
	for _, p := range r.Result.Hypotheses[0].Points {
		if geom.Vec(p.ShiftMM).Norm() > 1e-6 {
			t.Errorf("%s is off by %v", p.ID, p.ShiftMM)
		}
	}
	if text := a.MeasureText(r, Column{Width: 90}); !strings.Contains(text, "P5") || strings.Contains(text, "Nothing can be said") {
		t.Errorf("told is\n%s", text)
	}
	m["in/readings.csv"] = []byte(strings.Replace(string(m["in/readings.csv"]), "S,xyz,P5,,600,500,300", "S,xyz,P5,,600,500,330", 1))
	r, err = a.MeasureFiles(t.Context(), "in/points.csv", "in/readings.csv", MeasureOptions{})
	if err != nil || !slices.Equal(r.Result.Hypotheses[0].Moved, []body.PointID{"P5"}) {
		t.Errorf("%+v, %v", r.Result.Hypotheses, err)
	}
	if blocked := (FileMeasurement{}); blocked.Blocked() {
		t.Error("nothing blocks")
	}
	r.Result.Notes = append(r.Result.Notes, diag.Note{Severity: diag.Blocking})
	if !r.Blocked() {
		t.Error("a note that blocks does not")
	}
}

// The faults of both tables are told at once, each by the name a person gave and its line.
func TestFaultsOfTwoTables(t *testing.T) {
	for _, c := range []struct {
		file, old, fresh string
		want             []string
	}{
		{"in/points.csv", "P5,", "P4,", []string{"in/points.csv:6", "in/readings.csv:6: column from: point \"P5\" is not among the control points"}},
		{"in/readings.csv", ",,0.3\nS,xyz,P2", ",,\nS,xyz,P2", []string{"in/readings.csv:2: column std_mm: the standard uncertainty is missing; fill in the cell, or give one for all"}},
		{"in/readings.csv", "S,xyz,P1,,1000,0,0,,0.3", "S,xyz,P1,,1000,0,zero,,0.3", []string{"in/readings.csv:2"}},
		{"in/points.csv", "P1,Point 1,0,0,0,2,yes,front", "P1,Point 1,0,0,x,2,yes,front", []string{"in/points.csv:2"}},
	} {
		m := measured()
		if strings.Count(string(m[c.file]), c.old) != 1 {
			t.Fatalf("%q stands there %d times", c.old, strings.Count(string(m[c.file]), c.old))
		}
		m[c.file] = []byte(strings.Replace(string(m[c.file]), c.old, c.fresh, 1))
		r, err := New(m, "test").MeasureFiles(t.Context(), "in/points.csv", "in/readings.csv", MeasureOptions{})
		for _, want := range c.want {
			if err == nil || !strings.Contains(err.Error(), want) || r.Points != nil {
				t.Errorf("%q: %v, want %q", c.fresh, err, want)
			}
		}
	}
	for name, want := range map[string]string{"points.csv": "in/points.csv: there is no row below the header; write one row for each", "readings.csv": "in/readings.csv: there is no row below the header"} {
		m := measured()
		head, _, _ := strings.Cut(string(m["in/"+name]), "\n")
		m["in/"+name] = []byte(head + "\n")
		if _, err := New(m, "test").MeasureFiles(t.Context(), "in/points.csv", "in/readings.csv", MeasureOptions{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", name, err)
		}
		delete(m, "in/"+name)
		if _, err := New(m, "test").MeasureFiles(t.Context(), "in/points.csv", "in/readings.csv", MeasureOptions{}); errorKind(err) != diag.NotFound || !strings.Contains(err.Error(), name) {
			t.Errorf("no %s: %v", name, err)
		}
	}
}

// Set-ups and sections are those that are named, once each and in their order.
func TestWhatTablesName(t *testing.T) {
	rs := []job.Reading{{Setup: "B"}, {Setup: "A"}, {Setup: "B"}}
	cold := setupsOf(rs, MeasureOptions{StdMM: 0.4, TempStd: 2})
	warm := setupsOf(rs, MeasureOptions{Temp: unit.Some(28.5)})
	if len(cold) != 2 || cold[0].ID != "B" || cold[1].ID != "A" || cold[0].Temp.Known || cold[1].Std != 0.4 || cold[1].TempStd != 2 || cold[0].Stage != job.StageBefore || warm[1].Temp != unit.Some(unit.Celsius(28.5)) {
		t.Errorf("%+v, %+v", cold, warm)
	}
	if got := sectionsOf([]body.Point{{Section: "b"}, {}, {Section: "a"}, {Section: "b"}}); len(got) != 2 || got[0].ID != "b" || got[1].ID != "a" {
		t.Errorf("%+v", got)
	}
	for want, n := range map[string][]int{"": nil, "3": {3}, "3 and 4": {3, 4}, "3 to 5": {3, 4, 5}, "3, 4 and 6 to 8": {3, 4, 6, 7, 8}} {
		if got := ranges(n); strings.ReplaceAll(got, " and ", ", ") != strings.ReplaceAll(want, " and ", ", ") {
			t.Errorf("%v: %q", n, got)
		}
	}
}

// What is said of a draft is refused by its field; at the border of each it is taken.
func TestWordsOfADraft(t *testing.T) {
	for name, c := range map[string]struct {
		d    BodyDraft
		want string
	}{
		"nothing":            {BodyDraft{}, ""},
		"a mark":             {BodyDraft{Decimal: "comma"}, ""},
		"no mark":            {BodyDraft{Decimal: ","}, "decimal: , is no decimal mark; say point or comma"},
		"a unit":             {BodyDraft{Unit: "in"}, ""},
		"no unit":            {BodyDraft{Unit: "ell"}, "unit: ell is no unit of length; say mm, cm, m or in"},
		"three directions":   {BodyDraft{Axes: []string{"rearward", "right", "up"}}, ""},
		"two directions":     {BodyDraft{Axes: []string{"rearward", "right"}}, "axes: three directions are needed"},
		"four":               {BodyDraft{Axes: make([]string, 4)}, "axes: three directions are needed"},
		"a distance":         {BodyDraft{MirrorWithin: "0 mm"}, ""},
		"a negative one":     {BodyDraft{MirrorWithin: "-1 mm"}, "mirror_within: -1 mm is no distance; say it with its unit"},
		"without a unit":     {BodyDraft{MirrorWithin: "far"}, "mirror_within: far is no distance"},
		"blanks round names": {BodyDraft{References: []string{" A", "B "}}, ""},
	} {
		d, problems := c.d.draft()
		if c.want == "" && len(problems) > 0 || c.want != "" && (len(problems) != 1 || !strings.Contains(problems.Error(), c.want) || problems[0].File != Asked) {
			t.Errorf("%s: %v", name, problems)
		}
		if name == "three directions" && (d.Axes != body.Axes{X: "rearward", Y: "right", Z: "up"}) || name == "blanks round names" && !slices.Equal(d.References, []body.PointID{"A", "B"}) {
			t.Errorf("%s: %+v", name, d)
		}
	}
}

// A draft takes the procedures that are named, runs their tests, and refuses what cannot be read.
func TestProceduresOfADraft(t *testing.T) {
	m := files()
	m["p.csv"] = []byte("id;x [mm];y [mm];z [mm];tol [mm];reference\nA;0,3;-45;10;2;yes\nB;0,3;45;10;2;yes\nC;1500,25;0;11,5;2,5;yes\n")
	failing := strings.Replace(string(m[demoProcedure]), "      kind: crack\n      zones: only WALL\n      length: <= 19 mm", "      kind: crack\n      zones: only WALL\n      length: <= 29 mm", 1)
	m["failing.yaml"] = []byte(failing)
	d := BodyDraft{ID: "v", Name: "V", Revision: "1", Source: "S", Currency: "EUR", LoadState: "loaded", Points: "./p.csv"}
	for file, want := range map[string]string{"none.yaml": "none.yaml: cannot be read; give a procedure file", "./failing.yaml": "failing.yaml:", demoProcedure: "casting"} {
		made, err := New(m, "test").NewBody(t.Context(), with(d, func(d *BodyDraft) { d.Procedures = []string{file} }))
		if err == nil || !strings.Contains(err.Error(), want) || made.Files != nil {
			t.Errorf("%s: %v", file, err)
		}
	}
	if _, err := New(m, "test").NewBody(t.Context(), with(d, func(d *BodyDraft) { d.Unit, d.Decimal = "ell", "dot" })); err == nil || !strings.Contains(err.Error(), "ell is no unit") || !strings.Contains(err.Error(), "dot is no decimal mark") {
		t.Errorf("%v", err)
	}
}

// What changed between two revisions is told with what it decides otherwise: of the demonstration
// D3 alone, milder. The day is the later one of the day asked for and that of the new revision.
func TestDifferenceOfTwoRevisions(t *testing.T) {
	const earlier = "body/procedures/br-fc-c.yaml"
	m := files()
	a := New(m, "test").WithBodies(&bodies)
	day := func(m time.Month, d int) unit.Date { return unit.Date{Year: 2026, Month: m, Day: d} }
	for _, on := range []unit.Date{day(9, 1), day(9, 14), day(11, 26)} {
		r, err := a.DiffProcedures(t.Context(), earlier, demoProcedure, Replaying{On: on})
		if err != nil || r.Procedure != "BR-FC" || r.Revision != "D" || r.Day != map[bool]unit.Date{true: day(9, 14), false: on}[on.Before(day(9, 14))] || len(r.Changes) == 0 || len(r.Jobs) != 0 {
			t.Errorf("%v: %+v, %v", on, r, err)
		}
	}
	r, err := a.DiffProcedures(t.Context(), earlier, demoProcedure, Replaying{Jobs: []string{"./" + demo.Job + "/job.yaml", demo.Job}, On: day(9, 1)})
	if err != nil || len(r.Jobs) != 1 || r.Jobs[0].Dir != demo.Job || r.Jobs[0].Against != "BR-FC revision C" || len(r.Jobs[0].Turned) != 1 || r.Jobs[0].Turned[0].Finding != "D3" || r.Jobs[0].Turned[0].Way != revise.Milder || r.Failed() != 0 {
		t.Errorf("%+v, %v", r.Jobs, err)
	}
	back, err := a.DiffProcedures(t.Context(), demoProcedure, earlier, Replaying{Jobs: []string{demo.Job}, On: day(9, 14)})
	if err != nil || len(back.Changes) != len(r.Changes) || len(back.Jobs[0].Turned) != 1 || back.Jobs[0].Turned[0].Way != revise.Stricter {
		t.Errorf("back: %+v, %v", back.Jobs, err)
	}
	m["empty/x"] = nil
	for want, c := range map[string][]string{
		"none.yaml": {"none.yaml", demoProcedure}, "no.yaml": {earlier, "no.yaml"},
		"empty: there is no job here; give folders of jobs": {earlier, demoProcedure, "empty"},
	} {
		if _, err := a.DiffProcedures(t.Context(), c[0], c[1], Replaying{Jobs: c[2:], On: day(9, 1)}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v", c, err)
		}
	}
	if _, err := a.Replay(t.Context(), "none.yaml", Replaying{}); err == nil || !strings.Contains(err.Error(), "none.yaml") {
		t.Errorf("%v", err)
	}
}

// linked is files of which some are links; a folder may refuse to be listed.
type linked struct {
	memory
	to   map[string]string
	fail map[string]bool
}

func (l linked) Real(p string) (string, error) {
	if l.fail[p] {
		return "", fs.ErrPermission
	}
	if to, ok := l.to[p]; ok {
		return to, nil
	}
	return "/home/" + p, nil
}

func (l linked) List(dir string) ([]string, error) {
	if l.fail[dir] {
		return nil, fs.ErrPermission
	}
	return l.memory.List(dir)
}

// Where a document of a job lies is told as the job names it, and the place itself where a link
// leads elsewhere.
func TestWhereADocumentLies(t *testing.T) {
	for _, c := range []struct {
		to   map[string]string
		fail map[string]bool
		want string
	}{
		{nil, nil, "b"},
		{map[string]string{"b": "/else/b"}, nil, "b (a link to /else/b)"},
		{map[string]string{"j": "/else/j", "b": "/else/b"}, nil, "b"}, // the job is a link, and the body lies beside it
		{map[string]string{"b": "/else/b"}, map[string]bool{"b": true}, "b"},
		{map[string]string{"b": "/else/b"}, map[string]bool{"j": true}, "b"},
	} {
		a := New(linked{memory{}, c.to, c.fail}, "test")
		if got := a.where("j", "../b"); got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}

// What is not there, holds nothing or cannot be listed is refused by its name; a file alone is judged
// alone.
func TestWhatCanBeChecked(t *testing.T) {
	m := files()
	m["empty/readme.txt"] = nil
	on := unit.DateOf(demo.Day)
	for p, want := range map[string]string{
		"none": "none: there is no such file or folder", "empty/": "empty: nothing to check; a job holds job.yaml or events.jsonl", "empty/readme.txt": "nothing to check", "shut": "shut: cannot be read; check the path",
	} {
		m["shut/body.yaml"] = nil
		if out, err := New(linked{m, nil, map[string]bool{"shut": true}}, "test").Check(t.Context(), p, on); err == nil || !strings.Contains(err.Error(), want) || len(out.Documents) > 0 {
			t.Errorf("%s: %v, %v", p, out.Documents, err)
		}
	}
	delete(m, "shut/body.yaml")
	a := New(m, "test").WithBodies(&bodies)
	for p, want := range map[string]string{"shop.yaml": "shop shop.yaml", "rear-body/body.yaml": "body rear-body", demo.SoundJob + "/job.yaml": "job " + demo.SoundJob + ", with body body and shop shop.yaml"} {
		if out, err := a.Check(t.Context(), p, on); err != nil || fmt.Sprint(out.Documents) != "["+want+"]" {
			t.Errorf("%s: %v, %v", p, out.Documents, err)
		}
	}
}

// Acceptances that do not stand are told by their place in the job: one of what is not allowed by
// its treatment, one without a reason as a whole.
func TestUnreasonedAcceptances(t *testing.T) {
	_, c, r := demonstrated(t, demo.Job)
	x, j := *c, *c.Job
	x.Job = &j
	on := unit.DateOf(demo.Day)
	j.Accepted = nil
	if got := unreasoned(nil, &x, on); len(got) != 0 {
		t.Errorf("%v", got)
	}
	finding := r.Decide.Findings[0].ID
	j.Accepted = []job.Accepted{{Finding: finding, Kind: "no-such", By: "planner P1"}}
	got := unreasoned(nil, &x, on)
	if len(got) != 1 || got[0].Field != "accepted[0].treatment" || !strings.Contains(got[0].Msg, "which is not allowed") || got[0].File != demo.Job+"/job.yaml" {
		t.Errorf("%+v", got)
	}
}

// A file says of itself what it is, in its first words and whatever its version, and is else not
// looked at.
func TestClaimsOfDocuments(t *testing.T) {
	for text, is := range map[string]bool{
		"format: fettle-shop 1\n": true, "# a shop\nformat:\t'fettle-shop 7'\n": true, "format: \"fettle-shop 1\"": true,
		"format: fettle-shop\n": false, " format: fettle-shop 1\n": false, "format: fettle-shops 1\n": false, "format: fettle-body 1\n": false, "": false,
	} {
		err := aShop.hold("s.yaml", []byte(text))
		if (err == nil) != is || err != nil && (errorKind(err) != diag.Denied || !strings.Contains(err.Error(), "s.yaml: is no shop file: it has no line 'format: fettle-shop 1'; nothing else of it was looked at; correct 'shop' in job.yaml")) {
			t.Errorf("%q: %v", text, err)
		}
	}
	m := memory{"b/body.yaml": []byte("format: fettle-body 1\n"), "c/points.csv": nil, "d/body.yaml": []byte("root: secret\n")}
	m["e/body.yaml/x"] = nil
	for dir, want := range map[string]string{"b": "", "c": "c: there is no such body folder", "none": "none: there is no such body folder", "d": "d/body.yaml: is no body", "e": "e/body.yaml: cannot be read; correct 'body' in job.yaml", "b/body.yaml": "there is no such body folder"} {
		err := New(m, "test").claimedBody(dir)
		if (err == nil) != (want == "") || err != nil && (!strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "secret")) {
			t.Errorf("%s: %v", dir, err)
		}
	}
}

// The oldest of what is kept is let go of; what is asked for counts as new; nil keeps nothing.
func TestKeptThingsAreLetGo(t *testing.T) {
	b := &Bodies{}
	for i := range mostBodies + 1 {
		b.keep(Opened{BodyHash: fmt.Sprint(i), vehicleHash: "v" + fmt.Sprint(i)})
		b.keep(Opened{BodyHash: fmt.Sprint(i), vehicleHash: "another"}) // read by two at once: one is kept
		b.withHash("0")
	}
	if _, ok := b.withHash("1"); ok || len(b.kept) != mostBodies {
		t.Errorf("%d bodies, the oldest %v", len(b.kept), ok)
	}
	if k, ok := b.withVehicle("v0"); !ok || k.BodyHash != "0" || b.kept[len(b.kept)-1].BodyHash != "0" {
		t.Errorf("%+v, %v", k.BodyHash, ok)
	}
	for i := range mostAssessed + 1 {
		b.keepAssessed(fmt.Sprint(i), Assessment{Version: fmt.Sprint(i)})
		b.lastOf("0")
	}
	if _, ok := b.lastOf("1"); ok || len(b.assessed) != mostAssessed {
		t.Errorf("%d assessments, the oldest %v", len(b.assessed), ok)
	}
	if k, ok := b.lastOf("0"); !ok || k.Version != "0" {
		t.Errorf("%+v, %v", k.Version, ok)
	}
	var none *Bodies
	none.keep(Opened{})
	none.keepAssessed("x", Assessment{})
	none.alone(nil, "x")()
	if _, ok := none.withHash(""); ok || none.schedules() != nil || none.chains() != nil {
		t.Error("nil keeps something")
	}
	if _, ok := none.lastOf("x"); ok || b.chains() != &b.folds || b.schedules() != &b.known {
		t.Error("nil keeps an assessment")
	}
}

// A program that knows nothing of itself says its version; one that knows says all in a line.
func TestWhichProgram(t *testing.T) {
	a := New(memory{}, "v9")
	if got := a.thisBuild(); got != (Build{Version: "v9", Tree: "unknown"}) {
		t.Errorf("%+v", got)
	}
	b := Build{Version: "v9", Module: "m", ModuleVersion: "v1", Tree: "clean", Go: "go1", OS: "os", Arch: "a"}
	if got := a.WithBuild(func() Build { return b }).thisBuild(); got != b || got.String() != "v9 (m v1, commit (not there), tree clean, go1, os/a)" {
		t.Errorf("%s", got)
	}
	if b.Commit = "c0ffee"; !strings.Contains(b.String(), "commit c0ffee,") {
		t.Errorf("%s", b)
	}
}

// Every value that two trees have not alike is named by its path, and no other.
func TestWhatDiffers(t *testing.T) {
	type tree = map[string]any
	for name, c := range map[string]struct {
		was, is any
		want    string
	}{
		"alike":         {tree{"a": "x", "b": []any{true, nil}}, tree{"a": "x", "b": []any{true, nil}}, "[]"},
		"a value":       {tree{"a": tree{"b": "x"}}, tree{"a": tree{"b": "y"}}, `[{a.b "x" "y"}]`},
		"gone":          {tree{"a": "x", "b": "y"}, tree{"b": "y"}, `[{a "x" (not there)}]`},
		"new":           {tree{"b": "y"}, tree{"a": "x", "b": "y"}, `[{a (not there) "x"}]`},
		"nothing":       {tree{"a": nil}, tree{}, `[{a null (not there)}]`},
		"longer":        {[]any{"x"}, []any{"x", "y"}, `[{[1] (not there) "y"}]`},
		"shorter":       {tree{"a": []any{"x", "y", "z"}}, tree{"a": []any{"x", "z"}}, `[{a[1] "y" "z"} {a[2] "z" (not there)}]`},
		"another kind":  {tree{"a": []any{}}, tree{"a": tree{}}, `[{a [] {}}]`},
		"another, back": {tree{"a": tree{}}, tree{"a": "x"}, `[{a {} "x"}]`},
		"word and list": {tree{"a": "x"}, tree{"a": []any{"x"}}, `[{a "x" ["x"]}]`},
	} {
		out := []ValueChange{}
		if differ(&out, "", c.was, c.is); fmt.Sprint(out) != c.want {
			t.Errorf("%s: %v, want %s", name, out, c.want)
		}
	}
	for n, want := range map[int]int{118: 120, 119: 120, 1000: 120} { // two quotation marks
		if got := shown(strings.Repeat("ü", n)); len([]rune(got)) != want || strings.HasSuffix(got, "...") != (n > 118) {
			t.Errorf("%d: %s", n, got)
		}
	}
	if got := shown(func() {}); got == "" {
		t.Error("what cannot be written is shown as nothing")
	}
	if got := valueCount(tree{"a": []any{"x", nil, tree{}}, "b": tree{"c": true}}); got != 3 {
		t.Errorf("%d values", got)
	}
	was := []Input{{Role: "job", File: "a", SHA256: "1"}, {Role: "job", File: "b", SHA256: "2"}, {Role: "body", File: "a", SHA256: "3"}}
	is := []Input{{Role: "job", File: "a", SHA256: "1"}, {Role: "body", File: "a", SHA256: "4"}, {Role: "shop", File: "b", SHA256: "2"}}
	if got := fmt.Sprint(inputChanges(was, is)); got != "[{job b 2 } {body a 3 4} {shop b  2}]" {
		t.Errorf("%s", got)
	}
}

// The text of a recomputation says of inputs, program and figures what differs, and how much is cut.
func TestTextOfARecomputation(t *testing.T) {
	many := func(n int) []ValueChange { return make([]ValueChange, n) }
	for _, c := range []struct {
		r        Recomputed
		has, not string
	}{
		{Recomputed{File: "f", Job: "j", Made: demo.Day, Counts: RecomputeCount{2, 9}}, "f, computed again from j for 26 Nov 2026 10:00 UTC\nInputs: all 2 the same, byte for byte.\nProgram: the same build.\nFigures: all 9 values the same, to the last digit.\n", "differ"},
		{Recomputed{Counts: RecomputeCount{2, 0}}, "Figures: not computed.\n", "values"},
		{Recomputed{Counts: RecomputeCount{2, 0}, Inputs: []InputChange{{"job", "a", "1", ""}, {"job", "b", "", "2"}}}, "Inputs: 2 of 2 are not those it was made from.\n  job a: was 1, is (not there)\n  job b: was (not there), is 2\n", "the same, byte"},
		{Recomputed{Build: []ValueChange{{"build.go", "1", "2"}}}, "Program: another build.\n  build.go: was 1, is 2\n", "the same build"},
		{Recomputed{Counts: RecomputeCount{0, 90}, Figures: many(mostShown)}, "Figures: 60 of 90 values differ.\n", "more"},
		{Recomputed{Counts: RecomputeCount{0, 90}, Figures: many(mostShown + 1)}, "and 1 more", "all 90"},
	} {
		if text := c.r.Text(plain); !strings.Contains(text, c.has) || strings.Contains(text, c.not) || strings.Count(text, ": was , is ") > mostShown {
			t.Errorf("%q, and not %q, is not in\n%s", c.has, c.not, text)
		}
	}
}

// The demonstration comes with its jobs, and each of them is there.
func TestDemoIsWhole(t *testing.T) {
	d := Demo()
	for _, dir := range []string{d.Job, d.Looked, d.Rear} {
		if d.Files[dir+"/job.yaml"] == nil {
			t.Errorf("there is no job in %s", dir)
		}
	}
	if len(d.Files) != len(files()) || !d.Day.Equal(demo.Day) || d.Job == d.Looked || d.Looked == d.Rear {
		t.Errorf("%+v", d.Day)
	}
}

// An assessment that shows the times of earlier jobs is computed again with as many, in their order.
func TestRecomputeAsksForEarlierJobs(t *testing.T) {
	_, _, r := demonstrated(t, demo.SoundJob)
	r.EarlierJobs = []string{"../a", "../b"}
	m := onDisk(files(), marshalled(t, r))
	a := New(m, "test").WithBodies(&bodies)
	for _, given := range [][]string{nil, {demo.Job}} {
		if _, err := a.Recompute(t.Context(), "kept/assessment.json", demo.SoundJob, given, given); errorKind(err) != diag.Usage || !strings.Contains(err.Error(), "it shows the times of earlier jobs: ../a, ../b; give each of their folders, in this order") {
			t.Errorf("%v: %v", given, err)
		}
	}
	again, err := a.Recompute(t.Context(), "kept/assessment.json", demo.SoundJob, []string{demo.Job, "none"}, []string{"../a", "../b"})
	if err == nil || !strings.Contains(err.Error(), "none") || again.Same {
		t.Errorf("%v", err)
	}
}
