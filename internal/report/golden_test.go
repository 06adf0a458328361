package report

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/golden"
	"fettle/internal/inspect"
	"fettle/internal/mesh"
	"fettle/internal/plan"
	"fettle/internal/vehicle"
)

// TestDocumentsStayAsTheyAre: every chapter of what the fixtures print is fingerprinted, with
// the drawings, in which hardly any figure could be tested by itself. Whoever changes one
// looks at the page and runs the test with -update.
func TestDocumentsStayAsTheyAre(t *testing.T) {
	in := fixture(t)
	twice, _ := startable(t)
	steps := &twice.Compare.Routes[0].Plan
	steps.Steps = append([]plan.Step(nil), steps.Steps...)
	steps.Steps[3].Awaits = []plan.Awaited{{Kind: plan.Delivery, Part: "WING", Name: "Left wing"}, {Kind: "answer", Name: "Answer Q1"}}
	question, err := QuestionHTML(in, decide.Question{ID: "Q1", Finding: "F2", Text: "May F2 be welded?"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	full := fixture(t)
	full.Full = true
	filling(&in, &full)
	block := &mesh.Mesh{}
	addBox(block, geom.Vec{-800, -450, 500}, geom.Vec{-400, 450, 720}, 40)
	whole, err := mesh.NewSurface(welded(block))
	if err != nil {
		t.Fatal(err)
	}
	full.Vehicle = vehicle.New(full.Body, map[body.CastingID]*mesh.Surface{"C1": whole})
	full.Body.Lines = []body.Line{{ID: "CUT", Name: "Cut", Casting: "C1", Normal: geom.Vec{0, 1, 0}, Offset: 7, Piece: "BRK", Treatment: "T-cast", Margin: 10, FlangeWidth: 20}}
	parted, err := full.Vehicle.Part(full.Body.Lines[0])
	if err != nil {
		t.Fatal(err)
	}
	section, err := SectionDrawing(parted.Section, full.Body.Axes)
	if err != nil {
		t.Fatal(err)
	}
	full.Inspect.Findings = append(full.Inspect.Findings, inspect.Finding{ID: "F9", Kind: "crack", Part: "FRAME", Casting: "C1", Located: true, Path: []geom.Vec{{-600, 200, 720}}})
	route := full.Compare.Routes[0]
	var b strings.Builder
	for _, page := range []struct{ name, text string }{
		{"report", render(t, in)}, {"report to begin with", render(t, toBegin(t))}, {"report of twice", render(t, twice)},
		{"owner", owner(t, in)}, {"owner to begin with", owner(t, toBegin(t))},
		{"sheets", sheets(t, in, in.Compare.Routes[0])}, {"sheets to begin with", sheets(t, twice, twice.Compare.Routes[0])},
		{"report filled", render(t, full)}, {"owner filled", owner(t, full)}, {"sheets filled", sheets(t, full, route)}, {"section", string(section)},
		{"question", string(question)}, {"summary", Summary(in, 80)},
		{"measure", MeasureText(in.Body.Points, in.Body.Sections, body.Axes{X: "rearward", Y: "right", Z: "up"}, in.Measure, 80)},
	} {
		for i, part := range strings.Split(page.text, "<h2") {
			fmt.Fprintf(&b, "%s\t%d\t%.6x\n", page.name, i, sha256.Sum256([]byte(part)))
		}
	}
	for _, says := range [][]string{MeasurementSays(in), JobSays(in), RouteSays(in, in.Compare.Routes[0]), DoneSays(in, in.Compare.Routes[0]), StepSays(in, steps.Steps[3]),
		JobSays(full), RouteSays(full, route), DoneSays(full, route), LineSays(full, full.Body.Lines[0])} {
		b.WriteString(strings.Join(says, "\t") + "\n")
	}
	golden.Same(t, "testdata/pages.tsv", b.String())
}

// welded is a mesh whose faces share the corners that lie in one place.
func welded(m *mesh.Mesh) *mesh.Mesh {
	out, at := &mesh.Mesh{Label: m.Label}, map[geom.Vec]int32{}
	for _, f := range m.Faces {
		for k, v := range f {
			p := m.Points[v]
			if _, ok := at[p]; !ok {
				at[p] = int32(len(out.Points))
				out.Points = append(out.Points, p)
			}
			f[k] = at[p]
		}
		out.Faces = append(out.Faces, f)
	}
	return out
}

// A report says what it was not given.
func TestReportNamesWhatItNeeds(t *testing.T) {
	for name, take := range map[string]func(*Input){"body": func(in *Input) { in.Body = nil }, "shop": func(in *Input) { in.Shop = nil }, "job": func(in *Input) { in.Job = nil }} {
		in := fixture(t)
		take(&in)
		if _, err := HTML(in); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("without %s: %v", name, err)
		}
	}
}
