package report

import (
	"math"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// tracedBox is a box of 400 x 200 x 100 mm with four marks: A along the top, B from the top down into the box, C a
// place on the top, D on the underside.
func tracedBox(t *testing.T) castingPicture {
	t.Helper()
	m := &mesh.Mesh{}
	addBox(m, geom.Vec{0, 0, 0}, geom.Vec{400, 200, 100}, 50)
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	up := geom.Vec{0, 0, 1}
	return castingPicture{surface: s, frame: frame{rear: geom.Vec{1, 0, 0}, right: geom.Vec{0, 1, 0}, up: up}, album: &vehicle.Album{}, marks: []mark{
		{"A", []geom.Vec{{20, 150, 100}, {380, 150, 100}}, up, false}, {"B", []geom.Vec{{50, 50, 100}, {150, 50, 0}}, up, false},
		{"C", []geom.Vec{{300, 50, 100}}, up, false}, {"D", []geom.Vec{{220, 40, 0}, {260, 60, 0}}, up.Scale(-1), false}}}
}

// A trace is drawn where it lies, by the scale that a straight one along the whole surface gives: thick as far as it
// is seen, dashed from there on where it is hidden, both to one point; a place is a ring. What is not seen well is
// left to the view that shows it best.
func TestTracesAreDrawnWhereTheyLie(t *testing.T) {
	p := tracedBox(t)
	views := standardViews(p.frame)
	draw := func(v chosenView) *drawn {
		svg, err := p.view(v)
		if err != nil {
			t.Fatal(err)
		}
		return readPage(t, svg)
	}
	flags := func(d *drawn) map[string]bool {
		out := map[string]bool{}
		for _, f := range d.all("text", "flag") {
			out[f.text] = true
		}
		return out
	}
	above := draw(chosenView{Camera: views[0], best: map[string]bool{"B": true}})
	var seen, hidden [][][2]float64
	for _, e := range above.all("polyline", "trace") {
		if e.class == "trace" {
			seen = append(seen, e.corners(t))
		} else {
			hidden = append(hidden, e.corners(t))
		}
	}
	if len(seen) != 2 || len(hidden) != 1 {
		t.Fatalf("%d traces are seen, %d hidden", len(seen), len(hidden))
	}
	a, b, c := seen[0], seen[1], hidden[0]
	first, last := a[0], a[len(a)-1]
	scale := (last[0] - first[0]) / 360
	at := func(x, y float64) [2]float64 { // up is to the right of the vehicle
		return [2]float64{first[0] + (x-20)*scale, first[1] - (y-150)*scale}
	}
	is := func(q [2]float64, x, y float64) bool {
		w := at(x, y)
		return math.Hypot(q[0]-w[0], q[1]-w[1]) < 0.3
	}
	joint := b[len(b)-1]
	if scale <= 1 || !is(b[0], 50, 50) || joint != c[0] && math.Hypot(joint[0]-c[0][0], joint[1]-c[0][1]) > 0.11 || !is(c[len(c)-1], 150, 50) {
		t.Errorf("the trace that dives is seen from %v to %v and hidden from %v to %v", b[0], joint, c[0], c[len(c)-1])
	}
	if deep := (joint[0] - b[0][0]) / scale; deep < surfaceSlackMM-2 || deep > surfaceSlackMM+4 { // as deep as far, in steps of 2 mm
		t.Errorf("it is seen for %.1f mm", deep)
	}
	ring := above.all("circle", "trace")
	if len(ring) != 1 || !is([2]float64{ring[0].number(t, "cx"), ring[0].number(t, "cy")}, 300, 50) || !near(ring[0].number(t, "r"), 13) {
		t.Errorf("the place is drawn as %v", ring)
	}
	if got := flags(above); !got["A"] || !got["B"] || !got["C"] || got["D"] {
		t.Errorf("from above the flags are %v", got)
	}
	if got := flags(draw(chosenView{Camera: views[0], best: map[string]bool{"D": true}})); !got["A"] || got["B"] || !got["C"] || !got["D"] {
		t.Errorf("where another view is better for B and none for D, the flags are %v", got)
	}
	if got := flags(draw(chosenView{Camera: views[5], best: map[string]bool{}})); got["A"] || got["C"] || !got["D"] {
		t.Errorf("%s the flags are %v", views[5].Name, got)
	}
}

// A close-up shows its finding with its two ends, and every other that is seen there, thinner and with its flag.
func TestCloseUpShowsWhatIsThere(t *testing.T) {
	p := tracedBox(t)
	p.close = closeBeside
	p.marks = append(p.marks, mark{"E", []geom.Vec{{60, 60, 100}, {80, 60, 100}}, geom.Vec{0, 0, 1}, false})
	svg, err := p.closeUp(p.marks[4], "20.0 mm")
	if err != nil {
		t.Fatal(err)
	}
	d := readPage(t, svg)
	own, others := 0, 0
	for _, e := range d.all("polyline", "trace") {
		switch {
		case e.class == "trace other" || e.class == "trace hidden other":
			others++
		case e.class == "trace":
			own++
			c := e.corners(t)
			tips := d.all("circle", "tip")
			if len(tips) != 2 || !near(tips[0].number(t, "cx"), c[0][0]) || !near(tips[1].number(t, "cx"), c[len(c)-1][0]) || !near(tips[0].number(t, "cy"), c[0][1]) || !near(tips[0].number(t, "r"), 6) {
				t.Errorf("the ends of %v are marked at %v", c, tips)
			}
		}
	}
	flags := map[string]bool{}
	for _, f := range d.all("text", "flag") {
		flags[f.text] = true
	}
	if own != 1 || others == 0 || !flags["E"] || !flags["B"] || flags["A"] || flags["C"] || flags["D"] {
		t.Errorf("%d of its own, %d others, flags %v", own, others, flags)
	}
	if texts := textOf(d.all("text", "small")); len(texts) == 0 || texts[len(texts)-1] != "20.0 mm" {
		t.Errorf("the length is told as %q", texts)
	}
	svg, err = p.closeUp(p.marks[2], "")
	if err != nil {
		t.Fatal(err)
	}
	if d := readPage(t, svg); len(d.all("circle", "tip")) != 0 || len(d.all("circle", "trace")) != 1 {
		t.Error("a place has ends, or no ring")
	}
	for n, want := range map[geom.Vec]string{{0, 0, 1}: "above", {0, 0, -1}: "below", {0, -1, 0}: "the left", {0, 1, 0}: "the right", {-1, 0, 0}: "the front", {1, 0, 0}: "behind", {0.6, 0, 0.8}: "above", {0.8, 0, 0.6}: "behind", {0, -0.7, -0.7}: "below"} {
		if got := facing(p.frame, n); got != want {
			t.Errorf("%v looks from %s, want %s", n, got, want)
		}
	}
}
