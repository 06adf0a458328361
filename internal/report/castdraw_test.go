package report

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/picture"
	"fettle/internal/vehicle"
)

// A name stands inside its picture, or not at all: one that would have to be
// moved out of its zone is left out.
func TestNamesOfZonesStayInThePicture(t *testing.T) {
	write := func(at picture.Place) string {
		d := picture.NewDrawing("closeup", "x", 768, 444)
		d.TwoLines("zone small", "Nose beam and crush-can plates", at, 20, 74, 0, 620)
		return d.Done()
	}
	if s := write(picture.Place{X: 20, Y: 100, Room: 20}); strings.Contains(s, "<text") {
		t.Errorf("a zone of 40 pixels at the edge is named: %s", s)
	}
	s := write(picture.Place{X: 90, Y: 100, Room: 90})
	x := regexp.MustCompile(`<text class="zone small" text-anchor="middle" x="([0-9.]+)"`).FindStringSubmatch(s)
	if x == nil {
		t.Fatalf("no name: %s", s)
	}
	left, err := strconv.ParseFloat(x[1], 64)
	if err != nil || left-74-picture.TextWidth("crush-can plates", 20)/2 < 0 {
		t.Errorf("the name begins at %.1f, left of the picture at 74 (%v)", left-picture.TextWidth("crush-can plates", 20)/2, err)
	}
}

// A section line of a box is drawn where the surface faces the viewer, with its
// name above and below; end on it is not drawn.
func TestSectionLinesAreDrawnWhereTheyAreSeen(t *testing.T) {
	m := &mesh.Mesh{}
	addBox(m, geom.Vec{0, 0, 0}, geom.Vec{400, 200, 100}, 50)
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	f := frame{rear: geom.Vec{1, 0, 0}, right: geom.Vec{0, 1, 0}, up: geom.Vec{0, 0, 1}}
	loop := []geom.Vec{{110, 0, 0}, {110, 200, 0}, {110, 200, 100}, {110, 0, 100}, {110, 0, 0}}
	p := castingPicture{surface: s, frame: f, lines: []lineMark{{"S-9", [][]geom.Vec{loop}}}, album: &vehicle.Album{}}
	for i, want := range []int{2, 2, 0} { // from above, the left side, the front
		svg, err := p.view(chosenView{Camera: standardViews(f)[i]})
		if err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(svg, ">S-9<"); n != want {
			t.Errorf("view %d names the line %d times, want %d", i, n, want)
		}
	}
	if v := p.lineView(); v.Name != standardViews(f)[0].Name && v.Name != standardViews(f)[5].Name {
		t.Errorf("the line is seen most from above and below, shown %s", v.Name)
	}
}

// Distances have a row each, with ≥ where only a lower bound is known,
// and findings that stay on the casting share one.
func TestDistancesAreRows(t *testing.T) {
	f := inspect.Finding{ID: "F1", Casting: "C1", Group: "G1",
		Bore:    &inspect.Clearance{To: "b1", MM: 121.36, Std: 0.6},
		Border:  &inspect.Clearance{To: "Z9", MM: 12, SeenMM: 12, UpperMM: 12.1, Std: 0.5},
		Earlier: &inspect.Clearance{To: inspect.None},
		Sides:   []inspect.LineSide{{Line: "S-1", MarginMM: -3, Std: 1}}}
	in := Input{Body: &body.Body{}, Inspect: inspect.Result{Findings: []inspect.Finding{f, {ID: "F2", Casting: "C1", Sides: []inspect.LineSide{{Line: "S-1", MarginMM: 25, Std: 1, Outboard: true}}},
		{ID: "F3", Casting: "C1", Sides: []inspect.LineSide{{Line: "S-1", MarginMM: 24.5, Std: 1}}}}, Groups: []inspect.Group{{ID: "G1", Findings: []job.FindingID{"F1", "F2"}}}}}
	want := []measureRow{{"Border of Z9", "12.0 ± 1.0" + thin + "mm"}, {"Bore b1", "≥ 121.4 ± 1.2" + thin + "mm"}, {"Earlier repair", "none"}}
	same(t, clearances(in.Body, f), want)
	if got := countsWith(in, f); got != "F2" {
		t.Errorf("counts as one with %q", got)
	}
	same(t, marginRows(in, body.Line{ID: "S-1", Casting: "C1"}), []measureRow{{"F2 on the piece by", "25.0 ± 2.0" + thin + "mm: enough"},
		{"F3 on the piece by", "24.5 ± 2.0" + thin + "mm: not surely enough"}, {"Not wholly on the piece", "F1"}})
}

func same(t *testing.T, got, want []measureRow) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%q, want %q", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("row %d: %q, want %q", i, got[i], want[i])
		}
	}
}
