package report

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/mesh"
	"fettle/internal/picture"
	"fettle/internal/plan"
	"fettle/internal/vehicle"
)

// blockInput is the fixture on a block of 400 x 900 x 220 mm that can be divided, with lines across it: one that
// divides it in the middle, one of two planes, and one beside it.
func blockInput(t *testing.T) Input {
	t.Helper()
	in := fixture(t)
	block := &mesh.Mesh{}
	addBox(block, geom.Vec{-800, -450, 500}, geom.Vec{-400, 450, 720}, 100)
	s, err := mesh.NewSurface(welded(block))
	if err != nil {
		t.Fatal(err)
	}
	in.Body.Lines = []body.Line{{ID: "CUT", Name: "Cut", Casting: "C1", Normal: geom.Vec{0, 1, 0}, Offset: 7, Margin: 10, Treatment: "T-cast"},
		{ID: "BESIDE", Name: "Beside", Casting: "C1", Normal: geom.Vec{0, 1, 0}, Offset: 9000, Margin: 10, Treatment: "T-cast"}}
	in.Body.Castings[0].Part, in.Body.Parts[0].Mass = "FRAME", 20
	in.Vehicle = vehicle.New(in.Body, map[body.CastingID]*mesh.Surface{"C1": s})
	return in
}

// What a section line has is what geometry says: the cut of a block of 400 x 220 mm is 1240 mm round, half of that
// on either side of its wall, and of its 79.2 dm³ the piece taken off, up to y = 7 mm, has 457/900. A line that misses the casting divides nothing, and says so.
func TestSectionLinesHaveTheirFigures(t *testing.T) {
	in := blockInput(t)
	lines := partedLines(in)
	views, err := lineViews(in, lines)
	if err != nil || len(views) != 2 {
		t.Fatalf("%d views, %v", len(views), err)
	}
	rows := map[string]string{}
	for _, r := range views[0].Rows {
		rows[r.What] = strings.NewReplacer(thin, " ", "\u2009", " ").Replace(r.Value)
	}
	volume, share := 400*220*457.0/1000, 457/900.0
	for what, want := range map[string]string{"Runs along": "one plane", "Divides the casting": "proven: 1 loop, all closed", "Cut along the wall": "620.0 mm", "Margin asked for": "10.0 mm",
		"Piece, volume": fmt.Sprintf("%.0f cm³ (%.0f %%)", volume, 100*share), "Piece, mass": fmt.Sprintf("about %.1f of 20.0 kg", 20*share), "Piece, surface": fmt.Sprintf("%.0f cm²", (2*220*457.0+2*400*457.0+400*220)/100)} {
		if rows[what] != want {
			t.Errorf("%s: %q, want %q", what, rows[what], want)
		}
	}
	if views[0].ID != "CUT" || views[0].SVG == "" || views[0].Why != "" || !strings.Contains(string(views[0].SVG), ">CUT<") {
		t.Errorf("%+v", views[0])
	}
	if views[1].ID != "BESIDE" || views[1].Why == "" || len(views[1].Rows) > 0 {
		t.Errorf("beside the casting: why %q, rows %v", views[1].Why, views[1].Rows)
	}
	if got := LineSays(in, in.Body.Lines[1]); len(got) != 1 || !strings.Contains(got[0], "not") {
		t.Errorf("of a line beside the casting: %q", got)
	}
	if got := LineSays(in, in.Body.Lines[0]); len(got) < 6 || !slices.Contains(got, "Cut along the wall: 620.0 mm") {
		t.Errorf("%q", got)
	}
	none := in
	none.Vehicle = nil
	if got := LineSays(none, in.Body.Lines[0]); fmt.Sprint(got) != "[its casting has no mesh: nothing is proven of it]" || partedLines(none) != nil {
		t.Errorf("without a mesh: %q", got)
	}
	doubt := lines[0]
	parted := *doubt.parted
	doubt.parted = &parted
	parted.Section.VolumeDoubt = "the mesh is open"
	var volumes []string
	for _, r := range dividedRows(in.Body, doubt) {
		if r.What == "Piece, volume" {
			volumes = append(volumes, r.Value)
		}
	}
	parted.Section.VolumeDoubt, parted.Section.VolumesExact, parted.Section.VolumesWithinMM3 = "", false, 3000
	for _, r := range dividedRows(in.Body, doubt) {
		if r.What == "Piece, volume" {
			volumes = append(volumes, strings.ReplaceAll(r.Value, "\u2009", " "))
		}
	}
	if len(volumes) != 2 || !strings.HasPrefix(volumes[0], "Not given: the mesh is open. (") || !strings.HasPrefix(volumes[1], fmt.Sprintf("about %.0f ± 3 cm³", volume)) {
		t.Errorf("%q", volumes)
	}
}

// The drawing of a cut names each loop, up to eight of them; where some do not close, those alone, and why it does
// not divide the part.
func TestSectionDrawingSaysWhatCloses(t *testing.T) {
	in := blockInput(t)
	c := partedLines(in)[0].parted.Section
	loop := c.Loops[0]
	drawing := func(change func(c *mesh.Section)) *drawn {
		x := c
		x.Loops = slices.Clone(c.Loops)
		change(&x)
		svg, err := SectionDrawing(x, in.Body.Axes)
		if err != nil {
			t.Fatal(err)
		}
		return readPage(t, string(svg))
	}
	flags := func(d *drawn) string {
		var out []string
		for _, f := range textOf(d.all("text", "flag")) {
			if !slices.Contains(out, f) {
				out = append(out, f)
			}
		}
		slices.Sort(out)
		return strings.Join(out, " ")
	}
	whole := drawing(func(*mesh.Section) {})
	if got := flags(whole); got != "L1" || !strings.Contains(strings.ReplaceAll(whole.text, thin, " "), "Cut of 1240.0 mm in 1 loop. It divides the part in two.") || strings.Count(whole.text, "Seen from") != 2 {
		t.Errorf("flags %q in %q", got, whole.text)
	}
	many := drawing(func(c *mesh.Section) { c.Loops = slices.Repeat(c.Loops, 9) })
	if got := flags(many); got != "L1 L2 L3 L4 L5 L6 L7 L8" {
		t.Errorf("of nine loops: %q", got)
	}
	open := drawing(func(c *mesh.Section) {
		broken := loop
		broken.Closed = false
		broken.Points = loop.Points[:len(loop.Points)-2]
		c.Loops, c.Divides, c.Reasons = []mesh.Loop{loop, broken}, false, []string{"it ends at a hole"}
	})
	if got := flags(open); got != "E2" || !strings.Contains(open.text, "The cut does not divide the part in two:") || !strings.Contains(open.text, "it ends at a hole") || !strings.Contains(open.text, "E1, E2, ... are the parts of the line that do not close.") {
		t.Errorf("flags %q in %q", got, open.text)
	}
	missed := drawing(func(c *mesh.Section) { c.Divides, c.Reasons = false, []string{"it is too short"} })
	if got := flags(missed); got != "L1" || strings.Contains(missed.text, "E1, E2") || !strings.Contains(missed.text, "it is too short") {
		t.Errorf("flags %q in %q", got, missed.text)
	}
}

// A step has the drawing of its findings: none where it is for none that lies on a casting with a mesh, one drawing for
// all steps for the same, with the line where it runs along one. A task has none.
func TestDrawingsOfSteps(t *testing.T) {
	in := blockInput(t)
	in.Inspect.Findings = append(in.Inspect.Findings, inspect.Finding{ID: "F8", Kind: "crack", Part: "FRAME", Casting: "C9", Located: true, Path: []geom.Vec{{0, 0, 0}}})
	draw := sheetDrawings{in: in}
	for i, c := range []struct {
		s       plan.Step
		id      string
		drawn   int // in all
		section bool
	}{
		{plan.Step{For: []job.FindingID{"F1"}}, "d-C1-F1-", 1, false}, {plan.Step{For: []job.FindingID{"F1"}}, "d-C1-F1-", 1, false}, {plan.Step{For: []job.FindingID{"F1", "F2"}}, "d-C1-F1-F2-", 2, false}, {plan.Step{For: []job.FindingID{"F1"}, Line: "CUT"}, "d-C1-F1-CUT", 3, true},
		{plan.Step{For: []job.FindingID{"F1"}, Ref: "task 3"}, "", 3, false}, {plan.Step{For: []job.FindingID{"F3"}}, "", 3, false}, {plan.Step{For: []job.FindingID{"F8"}}, "", 3, false}, {plan.Step{}, "", 3, false},
	} {
		var step sheetStep
		if err := draw.add(&step, c.s); err != nil {
			t.Fatal(err)
		}
		if step.Drawing != c.id || len(draw.all) != c.drawn || (step.Box == "") != (c.id == "") {
			t.Errorf("row %d: drawing %q in %q, %d in all", i+1, step.Drawing, step.Box, len(draw.all))
			continue
		}
		if c.id == "" {
			continue
		}
		k := slices.IndexFunc(draw.all, func(d sheetDrawing) bool { return d.ID == c.id })
		if svg := string(draw.all[k].SVG); strings.Contains(svg, ">CUT<") != c.section || draw.all[k].Box != step.Box || !strings.Contains(svg, `viewBox="`+step.Box+`"`) || !strings.Contains(svg, ">F1<") {
			t.Errorf("row %d: the drawing has the line: %v", i+1, !c.section)
		}
	}
	if got := viewBox(`<svg viewBox="0 0 5 6" x="1">`); got != "0 0 5 6" || viewBox("<svg>") != "" {
		t.Errorf("%q", got)
	}
}

// Names of lines that would lie on one another stand beside one another, in their order, at their height.
func TestNamesOfLinesStandApart(t *testing.T) {
	d := picture.NewDrawing("casting", "x", 900, 400)
	var taken []picture.Box
	for range 4 {
		taken = lineName(d, "S-LONG", lettersAcross, 100, 50, taken)
	}
	taken = lineName(d, "S-LONG", lettersAcross, 100, 150, taken)
	for i, a := range taken {
		for _, b := range taken[:i] {
			if a.Overlaps(b) {
				t.Errorf("%+v lies on %+v", a, b)
			}
		}
	}
	half := picture.TextWidth("S-LONG", 22*picture.BoldWider) / 2
	names := readPage(t, d.Done()).all("text", "line")
	for i, n := range names {
		x, y := 100+float64(i)*(2*half+1), 50.0
		if i == 4 {
			x, y = 100, 150
		}
		if !near(n.number(t, "x"), x) || !near(n.number(t, "y"), y) || n.text != "S-LONG" || !near(taken[i].Y0, y-22) || !near(taken[i].Y1, y+4) {
			t.Errorf("name %d stands at %v in %+v, want %.1f, %.1f", i+1, n.attr, taken[i], x, y)
		}
	}
}

// What is said of one thing alone is what the page says, without blanks that do not break.
func TestSaidAlone(t *testing.T) {
	in := fixture(t)
	in.Vehicle = nil
	c := inspect.Coverage{Area: "A9", Name: "rib", Because: "asked", SizeMM: 1260, State: "seen", FindsMM: 3, Covered: true, By: "IN1", Look: "L1", On: d(3), Zone: "A", Text: "rib: fine, inspected by IN1"}
	in.Job.Areas = []job.AreaSeen{{Area: "A9", Text: "by lamp"}}
	judged := inspect.Judged{ID: "L1", Method: "penetrant", By: "IN1", On: d(3), Why: []string{"too cold"}, Conditions: []inspect.Condition{{What: "light", Bound: "500 lx", Cite: "c", Status: "standard"}, {What: "heat", Value: "20 °C", Bound: "10 °C", Met: true}}}
	good := judged
	good.Counts, good.FindsMM, good.Qualified, good.Conditions = true, 2, "level 2", nil
	in.Job.Looks = []job.Inspection{{ID: "L1", Medium: "red", Text: "twice"}}
	said(t, [][2]string{
		{Percent(0.5), "50.0 %"}, {Often(0.5, 0.01), "50.0 % ± 2.0"}, {Minutes(90), "1 h 30 min"}, {Elapsed(2880), "2 days"}, {Amount(2, "ml"), "2 ml"}, {Far(2, 0.5), "2.0 ± 1.0 mm"}, {Day(d(4)), "Wed 4 Mar 2026"}, {Moment(time.Date(2026, 3, 4, 8, 5, 0, 0, time.UTC)), "Wed 4 Mar 08:05"}, {Span(plan.Plan{Start: d(4), Finish: d(4)}), "on Wed 4 Mar 2026"},
		{PercentBeside(0.9496, 0.95), "94.96 %"}, {CautionTitle(body.Airbag), func() string { s, _ := cautionText(body.Airbag); return s }()}, {fmt.Sprint(Confidence(&body.Body{})), fmt.Sprint(measure.DefaultConfidence)}, {fmt.Sprint(Confidence(&body.Body{Confidence: 0.99})), "0.99"},
		{AreaWord(in, c), "seen by eye"}, {strings.Join(AreaSays(in, c), " | "), "Asked for: Asked. | Relied on to find: 3.0 mm | Zone: Left tower | Size: 1.3 m along it | Fine. | By lamp. | IN1, inspection L1, Tue 3 Mar 2026."},
		{strings.Join(InspectionSays(in, judged), " | "), "penetrant inspection; red; twice | IN1, Tue 3 Mar 2026 | does not count: Too cold. | light: not on record, 500 lx: not met. c (read in the standard) | heat: 20 °C, 10 °C: met.  (from memory, to be checked)"},
		{strings.Join(InspectionSays(in, good), " | "), "penetrant inspection; red; twice | IN1, Tue 3 Mar 2026; qualified: level 2 | counts: Finds cracks from 2.0 mm."},
		{strings.Join(SetupSays(in, "S1"), " | "), "before the repair, Tue 3 Mar 2026, ST1 | Device: bench arm, calibrated: EXPIRED Sun 1 Mar 2026 | One coordinate or length: 0.50 mm | The body: 19.0 °C | 0 readings"}, {fmt.Sprint(SetupSays(in, "S9")), "[]"},
		{strings.Join(LengthSays(in.Measure, "S1", "P3", "P4"), " | "), "length P3–P4 (S1): measured 1403.4 mm, published 1400.0 mm, difference +3.4 ± 1.4 mm: " + lengthRows(in.Measure)[0].Word.Text + " | By the tolerance of its points: cannot be said."}, {fmt.Sprint(LengthSays(in.Measure, "S1", "P4", "P3"), LengthSays(in.Measure, "S2", "P3", "P4")), "[] []"},
		{fmt.Sprint(DriverSays(in, "x"), DoneSays(in, in.Compare.Routes[0]), SpreadSays(in, "weld")), "[] [] []"},
		{strings.Join(LossSays(in.Compare.Routes[0], "R"), " | "), "total loss when repair ≥ limit: 4,474.40 EUR against 13,875.00 EUR: not a total loss by this rule | 75 % of the value."}, {fmt.Sprint(LossSays(in.Compare.Routes[0], "Q")), "[]"},
		{strings.Join(TakeoffSays(plan.Takeoff{Net: 10, Gross: 12, Unit: "ml", Pack: 50, Packs: 1, Lines: []plan.TakeoffLine{{Step: "S-4", Amount: 10, Formula: "2 x 5"}}}), " | "), "10 ml used, with waste 12 ml, ordered 1 pack of 50 ml | S-4: 2 x 5 = 10 ml"},
		{workedWords(compare.Route{}, routeRow{}), "no work"}, {workedWords(compare.Route{Plan: plan.Plan{Finish: d(6), Steps: make([]plan.Step, 1), WorkDays: 2}}, routeRow{Finish: "Friday"}), "2 working days, finished Friday"},
	})
	in.Compare.Spread = &compare.Spread{Draws: 100, Drivers: []compare.Driver{{Name: "P-WING", Low: 100, High: 300}}, Days: []compare.DayDriver{{Name: "P-WING", Low: 1.5, High: 3}},
		Routes: []compare.RouteSpread{{Route: "weld", Mean: 500, P10: 400, P50: 490, P90: 600, Best: 1, Days: &compare.DaySpread{Draws: 100, Mean: 9.5, P10: 8, P50: 9, P90: 12}}}}
	said(t, [][2]string{
		{strings.Join(DriverSays(in, "P-WING"), " | "), "It moves the money of the best route: 1.00 expected when it turns out low, 3.00 when it turns out high, or happens | It moves the days of the best route: 1.5 calendar days expected when it turns out low, 3.0 when it turns out high"},
		{strings.Join(SpreadSays(in, "weld")[1:8], " | "), "Money expected: 5.00 | 1 in 10 below: 4.00 | Middle: 4.90 | 1 in 10 above: 6.00 | Total loss by the rule: in no draw | Turns out cheapest: in every draw | Calendar days planned: 0, expected 9.5, 1 in 10 below 8, middle 9, 1 in 10 above 12"},
		{DriverName(in, "P-WING"), "Left wing"}, {fmt.Sprint(len(SpreadSays(in, "none"))), "0"},
	})
}
