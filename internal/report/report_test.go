package report

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"regexp"
	"strings"
	"testing"

	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/measure"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

func render(t testing.TB, in Input) string {
	t.Helper()
	b, err := HTML(in)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The document is written so that a strict XML reader takes it too: every
// element is closed, every attribute quoted, every text escaped.
func TestDocumentIsWellFormed(t *testing.T) {
	d := xml.NewDecoder(strings.NewReader(render(t, fixture(t))))
	d.Strict = true
	svgs := 0
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("after byte %d: %v", d.InputOffset(), err)
		}
		if s, ok := tok.(xml.StartElement); ok && s.Name.Local == "svg" {
			svgs++
		}
	}
	if svgs < 10 {
		t.Errorf("%d drawings, want points, casting, close-ups and charts", svgs)
	}
}

// Attributes that fetch something may only hold data addresses and places in
// this document; there is no script and no import.
func TestNothingIsFetched(t *testing.T) {
	doc := render(t, fixture(t))
	d := xml.NewDecoder(strings.NewReader(doc))
	for {
		tok, err := d.Token()
		if err != nil {
			break
		}
		s, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		if n := s.Name.Local; n == "script" || n == "link" || n == "iframe" || n == "object" || n == "base" {
			t.Errorf("element %s", n)
		}
		for _, a := range s.Attr {
			if strings.HasPrefix(strings.ToLower(a.Name.Local), "on") {
				t.Errorf("%s has %s", s.Name.Local, a.Name.Local)
			}
			if strings.Contains(a.Value, "//") && !strings.HasPrefix(a.Value, "data:image/png;base64,") {
				t.Errorf("%s %s=%q", s.Name.Local, a.Name.Local, a.Value)
			}
			if n := a.Name.Local; (n == "src" || n == "href") && !strings.HasPrefix(a.Value, "data:image/png;base64,") && !strings.HasPrefix(a.Value, "#") {
				t.Errorf("%s %s=%q", s.Name.Local, n, a.Value)
			}
		}
	}
	style := doc[strings.Index(doc, "<style>"):strings.Index(doc, "</style>")]
	for _, bad := range []string{"http:", "https:", "url(", "@import", "//"} {
		if strings.Contains(style, bad) {
			t.Errorf("the style has %q", bad)
		}
	}
}

func TestUserTextIsEscapedEverywhere(t *testing.T) {
	in := fixture(t)
	in.Job.ID = nasty
	in.Body.Name, in.Body.Revision, in.Shop.Name = nasty, nasty, nasty
	in.Body.Points[0].Name, in.Body.Castings[0].Zones[0].Name = nasty, nasty
	in.Job.Setups[0].Device = nasty
	in.Body.Points[0].ID = nasty
	in.Measure.Hypotheses[0].Points[0].ID = nasty
	in.Inspect.Findings[0].ID, in.Decide.Findings[0].ID, in.Job.Findings[0].ID = nasty, nasty, nasty
	in.Compare.Routes[0].Name = nasty
	in.Compare.Routes[0].Plan.Steps[0].Name, in.Compare.Routes[0].Plan.Steps[0].ID = nasty, nasty
	in.Decide.Procedures[0].Revision = nasty
	in.Meta.Version = nasty
	doc := render(t, in)
	for _, bad := range []string{"<script", "<img src=x", "alert(\"x\")"} {
		if strings.Contains(doc, bad) {
			t.Errorf("%q came through", bad)
		}
	}
	if strings.Count(doc, "</style>") != 1 {
		t.Error("the style element was closed early")
	}
	if n := strings.Count(doc, "&lt;script&gt;"); n < 15 {
		t.Errorf("%d places show the text, want it shown where it was entered", n)
	}
}

func TestSameInputSameBytes(t *testing.T) {
	plain := fixture(t) // its pictures: TestSharedAlbumDrawsTheSame
	plain.Vehicle = nil
	first := render(t, plain)
	for i := 1; i < 40; i++ {
		again := fixture(t)
		again.Vehicle = nil
		if render(t, again) != first {
			t.Fatalf("render %d without pictures differs", i+1)
		}
	}
}

// TestHolesByTheirRim: the report tells the points a centre was found from.
func TestHolesByTheirRim(t *testing.T) {
	in := fixture(t)
	in.Vehicle = nil
	in.Measure.Holes = []measure.Hole{{Setup: "A", ID: "C04R", RimPoints: 6, ArcDeg: 300, RadiusMM: 8, Used: true}}
	if doc := render(t, in); !strings.Contains(doc, "C04R in A: centre from 6 rim points over 300°, radius 8.00") {
		t.Error("the rim points of C04R are not in the report")
	}
}

func TestEverythingIsNamed(t *testing.T) {
	in := fixture(t)
	doc := render(t, in)
	var ids []string
	for _, p := range in.Body.Points {
		ids = append(ids, string(p.ID))
	}
	for _, f := range in.Inspect.Findings {
		ids = append(ids, string(f.ID))
	}
	for _, s := range in.Compare.Routes[0].Plan.Steps {
		ids = append(ids, s.ID)
	}
	for _, r := range in.Compare.Routes {
		ids = append(ids, r.ID, r.Name)
	}
	for _, l := range in.Compare.Routes[0].Bill.Lines {
		ids = append(ids, l.ID)
	}
	for _, id := range ids {
		if !strings.Contains(doc, ">"+id+"<") && !strings.Contains(doc, id+"<") {
			t.Errorf("%s does not appear", id)
		}
	}
	for _, want := range []string{"out of tolerance", "in tolerance", "undecided", "not measured", "allowed", "forbidden", "ask the manufacturer",
		"What blocks the repair", "INVENTED", "What is done", "1 open point", "Left tower", "aa11", "bb22", "cc33", "0.1-test",
		"Law and insurer decide", "decided by law and by the insurer", "different people", "Weigh or look up the part", "No usual warning is known",
		"cannot be reached yet", "EXPIRED", "Odd line"} {
		if !strings.Contains(doc, want) {
			t.Errorf("%q does not appear", want)
		}
	}
}

// A route is never shown as one that may start when something blocks.
func TestNothingIsPermittedByDefault(t *testing.T) {
	in := fixture(t)
	in.Measure, in.Decide, in.Notes = measure.Result{}, decide.Result{}, nil
	in.Compare.Routes[0].Open, in.Compare.Routes[0].Ask = 0, nil
	in.Job.Hazards = nil
	if bs := blocks(in); len(bs) != 1 {
		t.Errorf("%d reasons, want the decision itself to block", len(bs))
	}
	if w := picked(in).Word; w.Tone != toneBad {
		t.Errorf("the route is %q", w.Text)
	}
	for i, a := range answers(in, picked(in)) {
		if a.Word.Tone == toneGood {
			t.Errorf("answer %d is %q", i+1, a.Word.Text)
		}
	}
	doc := render(t, in)
	if !strings.Contains(doc, "Not released. Do not start") {
		t.Error("the steps do not say that they are not released")
	}
}

func TestEmptyInput(t *testing.T) {
	in := fixture(t)
	empty := Input{Body: in.Body, Shop: in.Shop, Job: in.Job}
	doc := render(t, empty)
	for _, want := range []string{"No measurement can be used", "no mesh of this casting", "There is no route"} {
		if !strings.Contains(doc, want) {
			t.Errorf("%q does not appear", want)
		}
	}
	var e *diag.Error
	if _, err := HTML(Input{}); !errors.As(err, &e) || e.Kind != diag.Invalid {
		t.Errorf("without a body: %v", err)
	}
}

// With nothing moved, nothing found and all inspected the answer is that there
// is nothing to do; the zero of every count must not read as a fault.
func TestNothingToDo(t *testing.T) {
	in := fixture(t)
	h := &in.Measure.Hypotheses[0]
	h.Points = append(h.Points, h.Points[3])
	h.Points[9].ID = "P10"
	for i := range h.Points {
		h.Points[i].Moved, h.Points[i].Firm, h.Points[i].Tolerance = false, true, measure.Met
	}
	in.Measure.Ambiguous = false
	in.Inspect.Findings, in.Decide = nil, decide.Result{Permits: true}
	in.Inspect.Coverage = in.Inspect.Coverage[:1]
	in.Notes, in.Job.Hazards = nil, nil
	as := answers(in, picked(in))
	for i, want := range []string{"no", "yes, as far as inspected", "nothing to do"} {
		if as[i].Word.Text != want || as[i].Word.Tone != toneGood {
			t.Errorf("answer %d is %q, want %q", i+1, as[i].Word.Text, want)
		}
	}
	if bs := blocks(in); len(bs) != 0 {
		t.Errorf("blocked by %v", bs)
	}
	in.Compare.Routes = []compare.Route{{ID: "nothing", Name: "Nothing to do", Feasible: true, Rank: 1}}
	in.Compare.Best = "nothing"
	if w := answers(in, picked(in))[6].Word.Text; w != "no repair" {
		t.Errorf("did it work: %q", w)
	}
	if strings.Contains(render(t, in), "Measured after the repair: by hand") {
		t.Error("asks for a measurement after a repair that is not done")
	}
}

func TestAfterRepair(t *testing.T) {
	in := fixture(t)
	after := fixtureMeasure()
	after.Ambiguous = false
	in.After = &after
	if a := answers(in, picked(in))[6]; a.Word.Tone == toneGood || !strings.Contains(a.Text, "P10") {
		t.Errorf("with points out of tolerance and one not measured: %q %q", a.Word.Text, a.Text)
	}
	if !strings.Contains(render(t, in), "Measured after the repair</h3>") {
		t.Error("the table of the measurement after the repair is missing")
	}
	if got := buildSign(in, picked(in)).Points; len(got) != 1 || got[0] != "P10" {
		t.Errorf("still to be measured: %v, want P10 alone", got)
	}
	last := after.Hypotheses[0].Points[0]
	last.ID = "P10"
	after.Hypotheses[0].Points = append(after.Hypotheses[0].Points, last)
	if strings.Contains(render(t, in), "Measured after the repair: by hand") {
		t.Error("asks for a measurement of points that are all measured")
	}
}

func TestChoiceOfARouteThatIsGone(t *testing.T) {
	in := fixture(t)
	in.Job.Choices = append(in.Job.Choices, chosen("weld"), chosen("gone"))
	if p := picked(in); p.Route.ID != "weld" || strings.Contains(p.Status, "Chosen by") {
		t.Errorf("picked %q: %s", p.Route.ID, p.Status)
	}
	in.Job.Choices = append(in.Job.Choices, chosen("new-casting"))
	if p := picked(in); p.Route.ID != "new-casting" || !strings.Contains(p.Status, "Chosen by planner") {
		t.Errorf("picked %q: %s", p.Route.ID, p.Status)
	}
}

func TestNoSummaryLineIsTooLong(t *testing.T) {
	in := fixture(t)
	in.Body.Name = strings.Repeat("long", 60)
	for _, width := range []int{40, 60, 80, 120} {
		lines := strings.Split(strings.TrimSuffix(Summary(in, width), "\n"), "\n")
		if strings.Contains(strings.Join(lines, "\n"), "...") {
			t.Errorf("cut off at width %d: %q", width, lines)
		}
		if all := strings.Join(lines, ""); !strings.Contains(strings.ReplaceAll(all, " ", ""), in.Body.Name) {
			t.Errorf("the long name is not whole at width %d", width)
		}
		for _, l := range lines {
			if columns(l) > width {
				t.Errorf("%d columns at width %d: %q", columns(l), width, l)
			}
		}
	}
	s := Summary(fixture(t), 80)
	for _, want := range []string{"BLOCKED", "4,474.40 EUR", "7 working days", "NOT CERTAIN", "F1 weld; F2 ASK THE MANUFACTURER; F3 exchange bolt-on part.", "7 Did it work"} {
		if !strings.Contains(strings.Join(strings.Fields(s), " "), want) {
			t.Errorf("the summary does not say %q:\n%s", want, s)
		}
	}
	if regexp.MustCompile(`[\x00-\x09\x0b-\x1f\x7f]`).MatchString(s) {
		t.Error("the summary has control characters")
	}
}

func TestSummaryDropsTerminalCodes(t *testing.T) {
	in := fixture(t)
	in.Job.ID = "J\x1b[31m\u009b7"
	if s := Summary(in, 80); strings.ContainsAny(s, "\x1b\u009b") {
		t.Errorf("%q", s)
	}
}

// The size of the document with a casting of the fixture's kind: it has to
// stay fit for mail. 1.5 MB is our own limit.
func TestDocumentIsSmall(t *testing.T) {
	if n := len(render(t, fixture(t))); n > 1_500_000 {
		t.Errorf("%d bytes", n)
	}
}

func BenchmarkHTML(b *testing.B) {
	in := fixture(b)
	for b.Loop() {
		in.Vehicle.Album = &vehicle.Album{} // nothing was drawn before
		if _, err := HTML(in); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPicture100kFaces(b *testing.B) {
	m := &mesh.Mesh{}
	addBox(m, [3]float64{0, 0, 0}, [3]float64{400, 900, 220}, 5)
	c := standardViews(frame{[3]float64{1, 0, 0}, [3]float64{0, 1, 0}, [3]float64{0, 0, 1}})[1].Around(m.Points, 8, viewWidth, viewHeight)
	b.ReportMetric(float64(len(m.Faces)), "faces")
	for b.Loop() {
		if uri, _, err := (*vehicle.Album)(nil).MeshPicture(m, m, c, map[int32]int{1: 1, 2: 2}); err != nil || !bytes.HasPrefix([]byte(uri), []byte("data:")) {
			b.Fatal(err)
		}
	}
}
