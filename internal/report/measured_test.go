package report

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/measure"
	"fettle/internal/unit"
)

// twoEnds is a body of a front and a rear section of four points each, and a
// result in which either end may have held. Constructed.
func twoEnds() (points []body.Point, sections []body.Section, r measure.Result) {
	front, rear := measure.Hypothesis{Survives: true, Datum: "reference", Because: "the reference points F1, F2, F3 held"}, measure.Hypothesis{Survives: true, Datum: "none", Because: "it fits as well"}
	for _, s := range []string{"F", "R"} {
		for _, k := range []string{"1", "2", "3", "4"} {
			id := body.PointID(s + k)
			p := body.Point{ID: id, Section: body.SectionID(s), Tol: unit.Some(2.0), Reference: s == "F"}
			points = append(points, p)
			moved := measure.PointResult{ID: id, ShiftMM: geom.Vec{0, 0, 9}, Moved: true, T2: 99, Tolerance: measure.NotMet, Readings: []string{"A"}}
			still := measure.PointResult{ID: id, Steady: true, Tolerance: measure.Met, Probability: 1, Readings: []string{"A"}}
			a, b := still, moved
			if s == "R" || k == "4" {
				a, b = moved, still
			}
			front.Points, rear.Points = append(front.Points, a), append(rear.Points, b)
			for _, x := range []struct {
				h *measure.Hypothesis
				p measure.PointResult
			}{{&front, a}, {&rear, b}} {
				if x.p.Moved {
					x.h.Moved = append(x.h.Moved, id)
				} else {
					x.h.Steady = append(x.h.Steady, id)
				}
			}
		}
	}
	sections = []body.Section{{ID: "F", Name: "Front structure"}, {ID: "R", Name: "Rear structure"}}
	return points, sections, measure.Result{Hypotheses: []measure.Hypothesis{front, rear}, Ambiguous: true}
}

// TestClaimsInPlainWords: hypotheses are told by the sections of the body, and
// a reference point that disagrees is named with what shows it.
func TestClaimsInPlainWords(t *testing.T) {
	points, sections, r := twoEnds()
	m := measured{points, sections, wordsOf(body.Axes{}), r}
	for i, want := range []string{
		"If most of the front structure (3 of 4 points) held, all of the rear structure (4 points) and F4 moved. The evidence puts this answer first.",
		"If all of the rear structure (4 points) and F4 held, most of the front structure (3 of 4 points) moved.",
	} {
		if got := m.claim(i); got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
	d := m.disagreeing()
	if len(d) != 1 || !strings.HasPrefix(d[0], "Reference point F4 disagrees with F1, F2 and F3; went on without it. It stands 9.0") || !strings.Contains(d[0], "up (T² = 99") {
		t.Errorf("%q", d)
	}
	if n := m.next(); len(n) != 1 || !strings.Contains(n[0], "No reading of these points tells") {
		t.Errorf("next: %q", n)
	}
	heads, rows := m.rivals()
	if len(heads) != 2 || len(rows) != 8 {
		t.Errorf("%v, %d rows", heads, len(rows))
	}
	r.Hypotheses[1].Survives = false
	m.r = r
	if got := m.claim(0); !strings.HasPrefix(got, "The readings allow one answer: most of") || !strings.Contains(got, "held; all of the rear") {
		t.Error(got)
	}
	if got := m.claim(1); !strings.HasPrefix(got, "Weighed and set aside: if all of") {
		t.Error(got)
	}
	if heads, _ := m.rivals(); heads != nil {
		t.Error("one answer has no rival")
	}
}

// TestMeasureTextTellsAll: the text for a terminal has every point, no line is
// too long, and a note that blocks is never left out.
func TestMeasureTextTellsAll(t *testing.T) {
	points, sections, r := twoEnds()
	r.Hypotheses[0].Points[3].Needs = "F4 in 3 independent set-ups in all"
	r.Suspects = []measure.Suspect{{Said: diag.Said{Text: "R1 and R2 fit when exchanged"}, Chi2Now: 80, Chi2If: 3}}
	r.Thermal = []measure.Temperature{{Setup: "A", Corrected: -113, StdPPM: 23, Text: "body 25 °C"}}
	r.Holes = []measure.Hole{{Setup: "A", ID: "R3", RimPoints: 2}}
	r.Notes = []diag.Note{{Code: "measure.suspect-swap", Severity: diag.Blocking, Where: "R1", Text: "it blocks"}, {Code: "measure.suspect-swap", Severity: diag.Caution, Where: "R1", Text: "said above"}}
	got := MeasureText(points, sections, body.Axes{}, r, 96)
	for _, want := range []string{"F4 in 3 independent", "80.0", "corrected by −113.0 ± 46 parts per", "Take the rim of R3 again", "not used", "blocks: R1: it blocks", "Only under an assumption"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing in\n%s", want, got)
		}
	}
	if strings.Contains(got, "said above") {
		t.Error("a suspect is told twice")
	}
	for _, p := range points {
		if strings.Count(got, "\n"+string(p.ID)+" ") != 2 {
			t.Errorf("%s is not in both tables", p.ID)
		}
	}
	for _, l := range strings.Split(got, "\n") {
		if columns(l) > 96 {
			t.Errorf("%d columns: %s", columns(l), l)
		}
	}
	if empty := MeasureText(nil, nil, body.Axes{}, measure.Result{}, 80); !strings.Contains(empty, "Nothing can be said") {
		t.Error(empty)
	}
}

// TestNotMovedSaysItsSize: no place says of a point that it has not moved without
// the size of a move that could have been missed.
func TestNotMovedSaysItsSize(t *testing.T) {
	points, sections, r := twoEnds()
	r.Ambiguous, r.Hypotheses = false, r.Hypotheses[:1]
	for i := range r.Hypotheses[0].Points {
		p := &r.Hypotheses[0].Points[i]
		p.Firm, p.Detectable = true, 4.25
		if p.ID == "F2" {
			p.Detectable = 0
		}
	}
	row := func(id body.PointID) pointRow {
		return pointRowOf(body.Point{ID: id}, r.Hypotheses[0], wordsOf(body.Axes{}), measure.DefaultConfidence)
	}
	if got := row("F1").Moved.Text; got != "no move larger than 4.2\u00a0mm would have been missed" && got != "no move larger than 4.3\u00a0mm would have been missed" {
		t.Errorf("%q", got)
	}
	if got := row("F2").Moved.Text; got != "a move of any size could have been missed" {
		t.Errorf("%q", got)
	}
	text := MeasureText(points, sections, body.Axes{}, r, 96)
	for _, want := range []string{"no move larger than the size beside each would have been", "F1 (4.", "F2 (any size)"} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
	if strings.Contains(text, "Certain, not moved") {
		t.Errorf("not moved is said without a size:\n%s", text)
	}
}

// TestMovesOfASectionCarryTheirUncertainty: mash, sidesway, sag, twist and diamond at a
// station stand with twice their standard uncertainty (JCGM 100, clause 6.3: k = 2), in
// the text and on the page; mash says longer or shorter; a diamond that the points
// cannot tell says so. Constructed.
func TestMovesOfASectionCarryTheirUncertainty(t *testing.T) {
	at := measure.Station{XMM: 2900, Of: "near end", Mash: measure.Value{Value: -11.04, Std: 0.62}, MashMeans: "shortened", Sidesway: measure.Value{Value: 3.2, Std: 0.41},
		Sag: measure.Value{Value: 0.66, Std: 0.3}, Twist: measure.Value{Value: 0.254, Std: 0.03}, DiamondMM: &measure.Value{Value: 20.4, Std: 1.15}}
	want := "Near end, x 2900: mash -11.0 ± 1.2 mm (shortened), sidesway 3.2 ± 0.8 mm, sag 0.7 ± 0.6 mm, twist 0.25° ± 0.06°, diamond 20.4 ± 2.3 mm."
	plain := strings.NewReplacer(thin, " ", "−", "-").Replace
	if got := plain(stationText(at)); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	row := stationOf(measure.Section{ID: "R"}, at)
	for _, c := range [][2]string{{row.Mash, "-11.0 ± 1.2 (shortened)"}, {row.Sway, "3.2 ± 0.8"}, {row.Sag, "0.7 ± 0.6"}, {row.Twist, "0.25 ± 0.06"}, {row.Diamond, "20.4 ± 2.3"}} {
		if plain(c[0]) != c[1] {
			t.Errorf("%q, want %q", c[0], c[1])
		}
	}
	at.DiamondMM, at.MashMeans = nil, ""
	if got := plain(stationText(at)); !strings.Contains(got, "mash -11.0 ± 1.2 mm, ") || !strings.HasSuffix(got, "diamond not told by these points.") {
		t.Errorf("%q", got)
	}
	if got := stationOf(measure.Section{}, at); got.Diamond != "the points cannot tell" || strings.Contains(got.Mash, "(") {
		t.Errorf("%+v", got)
	}
}

// TestStagesSideBySide: a stage beside the first makes a table of what changed
// or is open; what is not firm shows as undecided; without a later stage there
// is no table.
func TestStagesSideBySide(t *testing.T) {
	in := fixture(t)
	if buildStages(in) != nil {
		t.Fatal("a table without a second stage")
	}
	during := fixtureMeasure()
	during.Hypotheses[0].Points[0].Firm = false
	in.During = &during
	in.Progress = []measure.Progress{{From: "before", To: "during", Comparable: true, Points: []measure.PointProgress{
		{ID: "P1", Was: measure.NotMet, Is: measure.Undecided, Answer: "undecided"},
		{ID: "P9", Was: measure.NotMet, Is: measure.Met, Answer: "brought into tolerance"},
		{ID: "P3", Was: measure.Met, Is: measure.Met, Answer: "stayed in tolerance"}}}}
	s := buildStages(in)
	if s == nil || len(s.Rows) != 2 || !slices.Equal(s.Stages, []string{"before", "during"}) {
		t.Fatalf("%+v", s)
	}
	if s.Rows[0].Cells[1].Word.Text != "undecided" || s.Rows[1].Answer.Tone != toneGood {
		t.Errorf("%+v", s.Rows)
	}
	if !slices.Contains(s.Lines, "Brought into tolerance: P9.") || s.Lines[0] != "Brought into tolerance: P9." {
		t.Errorf("%q", s.Lines)
	}
	page := render(t, in)
	for _, want := range []string{"Before, during and after the repair", "During the repair, brought into tolerance: P9."} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is not in the document", want)
		}
	}
}

// TestAfterNeedsFirm: a point that meets its tolerance only under one reading of
// the evidence is not shown to be in tolerance after the repair.
func TestAfterNeedsFirm(t *testing.T) {
	in := fixture(t)
	in.Body.Points = in.Body.Points[2:3]
	after := measure.Result{Hypotheses: []measure.Hypothesis{{Survives: true, Points: []measure.PointResult{{ID: "P3", Tolerance: measure.Met, Firm: true}}}}}
	in.After = &after
	if a := answerAfter(in); a.Word.Tone != toneGood {
		t.Fatalf("%+v", a)
	}
	after.Hypotheses[0].Points[0].Firm = false
	if a := answerAfter(in); a.Word.Tone == toneGood || !strings.Contains(a.Text, "P3") {
		t.Errorf("%+v", a)
	}
}
