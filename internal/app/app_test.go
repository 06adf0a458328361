package app

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"maps"
	"os"
	"path"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/explain"
	"fettle/internal/inspect"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

var update = flag.Bool("update", false, "write the golden files again")

// memory is the demonstration's files, with some of them changed.
type memory = keptFiles

// unpacked is the demonstration's files; nobody writes into one.
var unpacked = sync.OnceValue(demo.Files)

// files is the demonstration: a test may put other files in place of some.
func files() memory { return maps.Clone(memory(unpacked())) }

// scenario is the demonstration with one text of one file replaced; an empty
// file changes nothing.
func scenario(t testing.TB, file, old, fresh string) memory {
	t.Helper()
	m := files()
	if file == "" {
		return m
	}
	if n := strings.Count(string(m[file]), old); n != 1 {
		t.Fatalf("%q occurs %d times in %s, want once", old, n, file)
	}
	m[file] = []byte(strings.Replace(string(m[file]), old, fresh, 1))
	return m
}

// bodies are shared by all tests, which come one after another.
var bodies Bodies

// openAssessed opens and assesses a job of the scenario on its day.
func openAssessed(t testing.TB, m memory, dir string) (*App, *Opened, Assessment) {
	t.Helper()
	a := New(m, "test").WithBodies(&bodies)
	c, err := a.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	return a, c, assessedOf(t, a, c, demo.Day)
}

// demonstrated is a job of the demonstration as it comes, opened and assessed
// once for all tests that only read it.
func demonstrated(t testing.TB, dir string) (*App, *Opened, Assessment) {
	t.Helper()
	known, ok := assessments[dir]
	if !ok {
		known.a, known.c, known.r = openAssessed(t, scenario(t, "", "", ""), dir)
		assessments[dir] = known
	}
	return known.a, known.c, known.r
}

var assessments = map[string]struct {
	a *App
	c *Opened
	r Assessment
}{}

// What the demonstration tells its reader to try: looking first leads to a cheaper route,
// and a crack made longer then leads to the dearest, which the crack alone forces.
func TestLongerCrackChangesTheRoute(t *testing.T) {
	_, _, first := demonstrated(t, demo.Job)
	_, _, looked := demonstrated(t, demo.LookedJob)
	files := scenario(t, "", "", "")
	job := demo.LookedJob + "/job.yaml"
	short, _, _ := strings.Cut(strings.SplitAfter(string(files[job]), "id: D3\n")[1], "    # 14 mm longer")
	short = short[strings.Index(short, "trace_mm"):]
	longer := strings.TrimPrefix(demo.Longer, "# ")
	files[job] = []byte(strings.Replace(string(files[job]), short, longer+"\n", 1))
	_, _, after := openAssessed(t, files, demo.LookedJob)
	for _, x := range []struct {
		name string
		r    Assessment
		best string
	}{{"first", first, "new-casting"}, {"looked", looked, "section-LINE-2"}, {"longer", after, "new-casting"}} {
		if x.r.Compare.Best != x.best {
			t.Errorf("%s: the best route is %s, want %s", x.name, x.r.Compare.Best, x.best)
		}
	}
	if len(looked.Compare.Spread.Looks) > 0 && looked.Compare.Spread.Looks[0].Worth {
		t.Errorf("looked already, and told to look: %+v", looked.Compare.Spread.Looks[0])
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := path.Join("testdata/golden", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != got {
		t.Errorf("%s differs; run 'go test ./internal/app -update' and review the difference\n%s", name, firstDifference(string(want), got))
	}
}

func firstDifference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range g {
		if i >= len(w) || w[i] != g[i] {
			line := "(nothing)"
			if i < len(w) {
				line = w[i]
			}
			return fmt.Sprintf("line %d\nwant %s\ngot  %s", i+1, line, g[i])
		}
	}
	return fmt.Sprintf("want %d lines, got %d", len(w), len(g))
}

// TestDemoGolden keeps the whole job: the summary, every decision with its
// reasons, every route, and the steps and lines of the best two, rounded as printed.
func TestDemoGolden(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	golden(t, "summary.txt", a.Summary(c, r, 80))
	var b strings.Builder
	names := namesFor(a, c, r)
	explain := func(what string) {
		tree, err := names.Explain(what)
		if err != nil {
			t.Fatal(err)
		}
		b.WriteString(computed(tree).In(plain) + "\n")
	}
	for _, p := range c.Body.Points {
		explain(string(p.ID))
	}
	golden(t, "points.txt", b.String())
	b.Reset()
	for _, f := range c.Job.Findings {
		explain(string(f.ID))
	}
	golden(t, "findings.txt", b.String())
	b.Reset()
	for _, route := range r.Compare.Routes {
		explain(route.ID)
		if route.ID != r.Compare.Best && route.ID != r.Compare.Worth[0].Route {
			continue // the rest would only make the file long
		}
		for _, s := range route.Plan.Steps {
			explain(route.ID + "/" + s.ID)
		}
		for _, l := range route.Bill.Lines {
			explain(route.ID + "/" + l.ID)
		}
	}
	golden(t, "routes.txt", b.String())
	b.Reset()
	for _, n := range r.Notes {
		fmt.Fprintf(&b, "%s %s %s: %s (%s)\n", n.Severity, n.Code, n.Where, n.Text, n.Hint)
	}
	golden(t, "notes.txt", b.String())
}

// computed is a tree without what only repeats the documents.
func computed(t explain.Reason) explain.Reason {
	out := explain.Reason{Said: t.Said, Source: t.Source, At: t.At}
	for _, u := range t.Under {
		if u.Text != "As it is written" && u.Text != "Named by" && !strings.HasPrefix(u.Text, "From ") {
			out.Under = append(out.Under, computed(u))
		}
	}
	return out
}

// TestSameBytes: the same input, assessed twice, gives the same report.
func TestSameBytes(t *testing.T) {
	first, _ := printed(t)
	b, d, again := openAssessed(t, scenario(t, "", "", ""), demo.Job)
	second, err := b.Report(t.Context(), d, again, true)
	if err != nil || !bytes.Equal(first["report"], second) {
		t.Fatalf("the report differs from run to run: %v", err)
	}
}

// TestDemoExercisesEveryKindOfDecision holds the demonstration to what it is
// there to show.
func TestDemoExercisesEveryKindOfDecision(t *testing.T) {
	_, c, r := demonstrated(t, demo.Job)
	if len(c.Body.Points) < 24 {
		t.Errorf("%d control points, want 24 or more", len(c.Body.Points))
	}
	best := map[string]string{} // finding to its mildest allowed treatment
	verdict := map[string]string{}
	for _, f := range r.Decide.Findings {
		verdict[string(f.ID)] = f.Verdict.String()
		for _, o := range f.Options {
			if o.Verdict.String() == "allowed" && best[string(f.ID)] == "" {
				best[string(f.ID)] = string(o.Kind)
			}
		}
	}
	for _, c := range []struct{ finding, kind, best string }{
		{"D1", "weld allowed", "weld"},
		{"D2", "too long for weld but allowed with backing", "weld with backing plate"},
		{"D3", "crosses a zone border", "weld with backing plate"},
		{"D4", "within reach of another crack", "section"},
		{"D5", "within reach of another crack", "section"},
		{"D6", "lies outboard of a section line", "section"},
		{"D7", "torn bolt-on bracket", "exchange bolt-on part"},
	} {
		if best[c.finding] != c.best {
			t.Errorf("%s (%s): the mildest allowed treatment is %q, want %q", c.finding, c.kind, best[c.finding], c.best)
		}
	}
	option := func(finding, kind string) string {
		for _, f := range r.Decide.Findings {
			for _, o := range f.Options {
				if string(f.ID) == finding && string(o.Kind) == kind {
					return o.Verdict.String()
				}
			}
		}
		return ""
	}
	if got := option("D8", "weld"); got != "ask" {
		t.Errorf("D8 (only the engineering desk can say): weld is %q, want ask", got)
	}
	if len(r.Decide.Questions) == 0 || r.Decide.Questions[0].Finding != "D8" || !r.Decide.Questions[0].Open {
		t.Errorf("no question to the manufacturer on D8: %v", r.Decide.Questions)
	}
	if got := option("D9", "weld"); got != "undecided" {
		t.Errorf("D9 (visual length too uncertain): weld is %q, want undecided", got)
	}
	if h, ok := r.Measure.Best(); !ok || len(h.Moved) < 3 {
		t.Errorf("several control points have really moved; found %v", h.Moved)
	}
	if w := r.Compare.Worth; len(w) == 0 || !w[0].Inside {
		t.Errorf("no cheaper route waits for what the shop can settle itself: %v", w)
	}
	lost := false
	for _, route := range r.Compare.Routes {
		for _, l := range route.Plan.Lost {
			lost = lost || l.Part == "P-CLOSER-L"
		}
	}
	if !lost {
		t.Error("no route loses a panel by opening a joint")
	}
}

// TestNothingToDo: on the sound vehicle nothing has moved and nothing is to be
// done.
func TestNothingToDo(t *testing.T) {
	a, c, r := demonstrated(t, demo.SoundJob)
	h, ok := r.Measure.Best()
	if !ok || len(h.Moved) != 0 {
		t.Errorf("moved: %v, want none", h.Moved)
	}
	if r.Compare.Best != "nothing" || r.Blocked {
		t.Errorf("best route %q, blocked %v; want nothing to do and nothing blocked: %v", r.Compare.Best, r.Blocked, r.Notes)
	}
	for _, p := range h.Points {
		if p.Tolerance.String() != "met" {
			t.Errorf("%s: tolerance %s, want met", p.ID, p.Tolerance)
		}
	}
	if _, err := a.Report(t.Context(), c, r, false); err != nil {
		t.Error(err)
	}
}

// TestOneCrackLengthChangesEverything: a longer crack changes the decision, the
// route, the days and the money, and the explanation says why.
func TestOneCrackLengthChangesEverything(t *testing.T) {
	old := "[[330, -515, 350], [334, -515, 355.2], [337, -515, 361]]"
	longer := "[[330, -515, 350], [334, -515, 355.2], [337, -515, 361], [352, -515, 398]]"
	a, c, before := demonstrated(t, demo.Job)
	_, c2, after := openAssessed(t, scenario(t, "job/job.yaml", old, longer), demo.Job)
	kinds := func(r Assessment) string {
		for _, f := range r.Decide.Findings {
			if f.ID == "D1" {
				var out []string
				for _, o := range f.Options {
					out = append(out, string(o.Kind)+" "+o.Verdict.String())
				}
				return strings.Join(out, ", ")
			}
		}
		return ""
	}
	if kinds(before) == kinds(after) {
		t.Errorf("the decision for D1 did not change: %s", kinds(after))
	}
	b, n := bestRoute(t, before), bestRoute(t, after)
	short, long := routeByID(before, "weld"), routeByID(after, "weld")
	if short.Bill.Total == long.Bill.Total {
		t.Errorf("the money of welding every crack did not change: %v", long.Bill.Total)
	}
	if short.Plan.WorkMin >= long.Plan.WorkMin { // the days may stay: the vehicle waits for a cure anyway
		t.Errorf("welding every crack takes %v minutes of work, before %v", long.Plan.WorkMin, short.Plan.WorkMin)
	}
	t.Logf("best before %s, after %s", b.ID, n.ID)
	for _, x := range []struct {
		c *Opened
		r Assessment
	}{{c, before}, {c2, after}} {
		tree, err := a.Explain(x.c, x.r, "D1")
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(tree.In(plain), "W1") {
			t.Errorf("the explanation does not name the row:\n%s", tree.In(plain))
		}
	}
}

func bestRoute(t *testing.T, r Assessment) compare.Route {
	t.Helper()
	route := routeByID(r, r.Compare.Best)
	if route.ID == "" {
		t.Fatal("no best route")
	}
	return route
}

func routeByID(r Assessment, id string) compare.Route {
	for _, route := range r.Compare.Routes {
		if route.ID == id {
			return route
		}
	}
	return compare.Route{}
}

// TestBrokenScenario breaks the demonstration where its documents meet, and
// wants each fault told precisely: what file, what, and what would be right.
func TestBrokenScenario(t *testing.T) {
	for _, c := range []struct{ name, file, old, fresh, want string }{
		{"body folder", "job/job.yaml", "body: ../body", "body: ../boby", "boby: there is no such body folder; correct 'body' in job.yaml"},
		{"shop file", "job/job.yaml", "shop: ../shop.yaml", "shop: ../stop.yaml", "stop.yaml: cannot be read; the job names this shop file"},
		{"evidence", "job/job.yaml", "inspection-sheet.txt", "lost.txt", "evidence[0].file: the file evidence/lost.txt does not exist"},
		{"evidence that was changed", "job/evidence/inspection-sheet.txt", "25 minutes", "55 minutes", "evidence[0].sha256: the file evidence/inspection-sheet.txt is not the one that was recorded"},
		{"zone number", "body/body.yaml", "{id: WALL, label: 10,", "{id: WALL, label: 77,", "castings[0].zones[9].label: no face of front-casting.ply carries the number of zone WALL"},
		{"section line beside the casting", "body/body.yaml", "offset: 268 mm", "offset: 4268 mm", "section_lines[0].id: LINE-1 does not divide the casting in two: the planes do not cut the surface"},
		{"procedure that fails its own test", "body/procedures/br-fc-d.yaml", "      kind: crack\n      zones: only WALL\n      length: <= 19 mm", "      kind: crack\n      zones: only WALL\n      length: <= 29 mm", "the rear wall, too long"},
		{"mesh cut short", "body/front-casting.ply", "", "", "front-casting.ply"},
		{"neighbour that is no zone", "rear-body/body.yaml", "name: Boot tub, neighbours: [FLANGE,", "name: Boot tub, neighbours: [FLANG,", `"FLANG"`},
		{"picture of a zone map that is not there", "rear-body/body.yaml", "picture: rear-floor-above.svg", "picture: rear-floor.svg", `castings[0].zone_maps[0].picture: the file "rear-floor.svg" is not in the folder`},
		{"picture of a zone map in another shape", "rear-body/body.yaml", "size: [1000, 720]", "size: [1100, 720]", "castings[0].zone_maps[0].size: [1100, 720] has another shape than rear-floor-above.svg"},
		{"gauge that the shop has not", "shop.yaml", "{id: thread,", "{id: threat,", "findings[0].measured[0].gauge"},
		{"pin beside the map", "rear-job/job.yaml", "    pins: [{map: MAP-RIGHT, at_map: [[172.9, ", "    pins: [{map: MAP-RIGHT, at_map: [[972.9, ", "findings[0].pins[0].at_map[0]: [972.9,"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := files()
			if c.old == "" {
				m[c.file] = m[c.file][:len(m[c.file])/2]
			} else {
				m = scenario(t, c.file, c.old, c.fresh)
			}
			_, err := New(m, "test").WithBodies(&bodies).Check(t.Context(), ".", unit.DateOf(demo.Day))
			var ps diag.Problems
			if !errors.As(err, &ps) {
				t.Fatalf("want faults, got %v", err)
			}
			if !strings.Contains(ps.Error(), c.want) {
				t.Errorf("want a fault with %q, got:\n%v", c.want, ps)
			}
		})
	}
}

// TestExpiredProcedureIsAFault: check refuses a body whose procedure had to be
// looked up again, and assess shows the answers but blocks.
func TestExpiredProcedureIsAFault(t *testing.T) {
	m := scenario(t, "", "", "")
	a := New(m, "test").WithBodies(&bodies)
	late := demo.Day.AddDate(0, 6, 0)
	if _, err := a.Check(t.Context(), "body", unit.DateOf(demo.Day)); err != nil {
		t.Fatal(err)
	}
	_, err := a.Check(t.Context(), "body", unit.DateOf(late))
	if err == nil || !strings.Contains(err.Error(), "expired") {
		t.Errorf("want it expired, got %v", err)
	}
	c, err := a.Open(t.Context(), demo.SoundJob)
	if err != nil {
		t.Fatal(err)
	}
	if r := assessedOf(t, a, c, late); !r.Blocked {
		t.Error("an expired procedure does not block")
	}
}

// TestEngineIsToldSeedAndTemperature: what body and job say of the seed and of
// temperature reaches the measuring engine, and its result says what was done.
// 22.6 ppm/K at 1 K below the reference: 22.6 ppm (1 + 22.6e-6) longer.
func TestEngineIsToldSeedAndTemperature(t *testing.T) {
	_, c, r := openAssessed(t, scenario(t, demo.Job+"/job.yaml", "author: planner P1\n", "author: planner P1\nsearch_seed: 11\n"), demo.Job)
	if in := c.on(unit.Date{}).Measure("before"); in.Seed != 11 || in.Thermal.BodyPerK != 22.6e-6 || in.Thermal.LowC != 8 || in.Thermal.HighC != 32 {
		t.Errorf("seed %d, %+v", in.Seed, in.Thermal)
	}
	if h := r.Measure.Thermal; len(h) != 3 || h[0].Corrected < 22.6 || h[0].Corrected > 22.61 {
		t.Errorf("%+v", h)
	}
}

// TestSharedVehicleAnswersAlike: a job gets the same answers from the vehicle that
// other jobs have used before it as from one of its own.
func TestSharedVehicleAnswersAlike(t *testing.T) {
	_, c, _ := demonstrated(t, demo.Job)
	other := *c.Body
	other.Procedures = other.Procedures[:1]
	for _, x := range []struct {
		on unit.Date
		of *body.Body
	}{{unit.Date{Year: 2026, Month: 8, Day: 20}, c.Body}, {unit.Date{Year: 2026, Month: 11, Day: 26}, &other}} {
		surfaces := map[body.CastingID]*mesh.Surface{}
		for _, c := range c.Vehicle.Castings {
			surfaces[c.Of.ID] = c.Surface
		}
		in := inspect.Input{Body: x.of, Job: c.Job, Vehicle: vehicle.New(x.of, surfaces), Shop: c.Shop, Today: x.on}
		alone, notesAlone := inspect.Run(in)
		in.Vehicle = c.Vehicle
		shared, notesShared := inspect.Run(in)
		for i := range alone.Findings {
			if !reflect.DeepEqual(alone.Findings[i], shared.Findings[i]) {
				t.Errorf("on %s the shared vehicle says of %s\n%+v, alone\n%+v", x.on, alone.Findings[i].ID, shared.Findings[i], alone.Findings[i])
			}
		}
		if !reflect.DeepEqual(alone, shared) || !reflect.DeepEqual(notesAlone, notesShared) {
			t.Errorf("on %s groups, areas or notes differ", x.on)
		}
	}
}

// assessedOf is the assessment of a case that nothing stops.
func assessedOf(t testing.TB, a *App, c *Opened, made time.Time) Assessment {
	t.Helper()
	r, err := a.Assess(t.Context(), c, made)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// plain is a column for whom no way of doing things is known.
var plain = Column{Width: 96}
