package report

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/golden"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/picture"
)

// TestWindowsOfMaps: the part of a map about a pin holds all of it, is of the shape asked for, a
// third of the map at least, and does not go beyond the map where it has room on it. By hand.
func TestWindowsOfMaps(t *testing.T) {
	m := body.ZoneMap{Size: geom.Flat{600, 300}}
	for _, c := range []struct {
		at        []geom.Flat
		shape     float64
		low, high geom.Flat
	}{
		{[]geom.Flat{{300, 150}}, 2, geom.Flat{200, 100}, geom.Flat{400, 200}},
		{[]geom.Flat{{10, 290}}, 2, geom.Flat{0, 200}, geom.Flat{200, 300}},              // in a corner
		{[]geom.Flat{{100, 100}, {300, 100}}, 2, geom.Flat{50, 25}, geom.Flat{350, 175}}, // half as long again
		{[]geom.Flat{{100, 50}, {100, 250}}, 2, geom.Flat{0, 0}, geom.Flat{600, 300}},    // upright: all of its height
		{[]geom.Flat{{300, 150}}, 1, geom.Flat{200, 50}, geom.Flat{400, 250}},            // square
		{[]geom.Flat{{0, 0}, {600, 300}}, 2, geom.Flat{-150, -75}, geom.Flat{750, 375}},  // larger than the map
	} {
		if got := around(m, mapPin{at: c.at}, c.shape); got.low != c.low || got.high != c.high {
			t.Errorf("%v in %v: %v", c.at, c.shape, got)
		}
	}
}

// TestPinsOnMaps: findings that are pinned on a map, and those pinned nowhere in a zone that it
// shows, each beside the other; the map that shows the most pins is the best.
func TestPinsOnMaps(t *testing.T) {
	in := fixture(t)
	k := body.Casting{ID: "K", Maps: []body.ZoneMap{
		{ID: "M1", Name: "First", View: "from above", Size: geom.Flat{100, 100}, Zones: []body.ZoneOutline{{Zone: "A", Outline: geom.Polygon{{0, 0}, {40, 0}, {40, 40}, {0, 40}}}}},
		{ID: "M2", Name: "Second", Size: geom.Flat{100, 100}, Zones: []body.ZoneOutline{{Zone: "B", Outline: geom.Polygon{{0, 0}, {40, 0}, {40, 40}, {0, 40}}}}}}}
	in.Job = &job.State{Findings: []job.Finding{{ID: "P", Pins: []job.Pin{{Map: "M2", At: []geom.Flat{{1, 2}}}}}, {ID: "Z1"}, {ID: "Z2"}, {ID: "TOUCH"}, {ID: "LOST"}}}
	zone := func(id job.FindingID, z body.ZoneID, touches, located bool) inspect.Finding {
		return inspect.Finding{ID: id, Casting: "K", Located: located, Zones: []inspect.ZoneShare{{Zone: z, Touches: touches}}}
	}
	in.Inspect.Findings = []inspect.Finding{zone("P", "B", false, true), zone("Z1", "A", false, true), zone("Z2", "A", false, true), zone("TOUCH", "A", true, true), zone("LOST", "A", false, false)}
	first, second := mapPins(in, k, k.Maps[0]), mapPins(in, k, k.Maps[1])
	if len(first) != 2 || first[0].known || first[1].known || first[0].at[0].Dist(geom.Flat{20, 20}) > 0.1 || first[1].at[0].Dist(geom.Flat{20, 25}) > 0.1 {
		t.Errorf("on the first: %+v", first)
	}
	if len(second) != 1 || !second[0].known || second[0].at[0] != (geom.Flat{1, 2}) {
		t.Errorf("on the second: %+v", second)
	}
	if m, pins, ok := bestMap(in, k); !ok || m.ID != "M2" || len(pins) != 1 { // one pin counts for more than two zones
		t.Errorf("best is %s", m.ID)
	}
	if got := mapTitle(k.Maps[0]) + "|" + mapTitle(k.Maps[1]); got != "First, seen from above|Second" {
		t.Errorf("%q", got)
	}
	crack := func(at ...geom.Flat) { // pinned as a point on the first
		in.Job.Findings = []job.Finding{{ID: "P", Pins: []job.Pin{{Map: "M1", At: []geom.Flat{{1, 2}}}, {Map: "M2", At: at}}}}
		in.Inspect.Findings = in.Inspect.Findings[:1]
	}
	if crack(geom.Flat{1, 2}); func() body.MapID { m, _, _ := bestMap(in, k); return m.ID }() != "M1" {
		t.Error("of two maps that show as much the first is not taken")
	}
	if crack(geom.Flat{1, 2}, geom.Flat{1, 5}, geom.Flat{4, 5}); func() body.MapID { m, _, _ := bestMap(in, k); return m.ID }() != "M2" {
		t.Error("a crack is drawn where it is a point")
	}
	in.Inspect.Findings = nil
	if _, _, ok := bestMap(in, k); ok {
		t.Error("a map without findings is the best")
	}
	in.Body = &body.Body{Castings: []body.Casting{k}}
	in.Maps = map[body.MapID]MapPicture{"M2": {"image/png", []byte("x")}}
	if got := mapDefs(in); strings.Count(got, "<symbol") != 1 || !strings.Contains(got, `id="map-M2" viewBox="0 0 100 100"`) || !strings.Contains(got, `href="data:image/png;base64,eA=="`) {
		t.Errorf("%s", got)
	}
}

// TestNamesOnMaps: in one line, in two, or not at all, by the room; the largest drawing names all.
func TestNamesOnMaps(t *testing.T) {
	for _, c := range []struct {
		name   string
		room   float64
		always bool
		want   string
	}{
		{"Left rail", 62, false, "Left rail"}, // 9 letters of 22 units, 0.62 of it each: 122.8 wide
		{"Left rail", 61, false, ""}, {"Left rail", 1, true, "Left rail"},
		{"Right rear rail", 70, false, "Right|rear rail"}, {"Right rear rail", 61, false, ""}, {"Right rear rail", 1, true, "Right|rear rail"},
	} {
		var got []string
		for _, l := range mapLines(c.name, c.room, 22, c.always) {
			got = append(got, l.text)
		}
		if s := strings.Join(got, "|"); s != c.want {
			t.Errorf("%s in %v: %q, want %q", c.name, c.room, s, c.want)
		}
	}
}

// TestDrawingsOfMaps: a map with its picture and one without, whole with flags and close up; looked at
// as pictures when they were written. A line has one element.
func TestDrawingsOfMaps(t *testing.T) {
	in := fixture(t)
	k := body.Casting{ID: "K", Zones: []body.Zone{{ID: "A", Name: "Left rear rail"}, {ID: "B", Name: "Tub"}}}
	square := func(x0, x1 float64) geom.Polygon { return geom.Polygon{{x0, 20}, {x1, 20}, {x1, 180}, {x0, 180}} }
	m := body.ZoneMap{ID: "M1", Name: "Floor", View: "from above", Size: geom.Flat{400, 200}, Scale: 2.5,
		Zones: []body.ZoneOutline{{Zone: "A", Outline: square(20, 150)}, {Zone: "B", Outline: square(150, 380)}, {Zone: "A", Outline: geom.Polygon{{385, 5}, {395, 5}, {390, 15}}}}}
	plain := m
	plain.ID, plain.Scale = "M2", 0
	in.Body = &body.Body{Castings: []body.Casting{k}}
	in.Maps = map[body.MapID]MapPicture{"M1": {"image/png", []byte("x")}}
	pins := []mapPin{{"D1", []geom.Flat{{30, 40}, {60, 70}, {70, 66}}, true}, {"D2", []geom.Flat{{300, 100}}, true}, {"D3", []geom.Flat{{100, 150}}, false}}
	many := slices.Clone(pins)
	for i := range 12 { // more flags on a side than the map is high
		many = append(many, mapPin{job.FindingID("E" + string(rune('A'+i))), []geom.Flat{{25, 30 + 5*float64(i)}}, true})
	}
	var b strings.Builder
	for _, d := range []mapDrawing{{in, m, pins, 1200, 680, sideRoom}, {in, plain, pins, 420, 315, closeUpRoom}, {in, m, many, 420, 315, closeUpRoom}} {
		b.WriteString(string(d.draw(allOf(d.of))))
	}
	for _, p := range pins {
		b.WriteString(string(mapDrawing{in, m, []mapPin{p}, 340, 300, 0}.draw(around(m, p, 340.0/300))))
	}
	golden.Same(t, "testdata/zonemaps.txt", strings.ReplaceAll(b.String(), "><", ">\n<")+"\n")
}

// TestNamesOnMapsLieFreeSeed22: of whatever part of a map is shown with whatever pins, the name of
// no zone lies outside of the part, on a pin or its name, or on another name.
func TestNamesOnMapsLieFreeSeed22(t *testing.T) {
	rng := rand.New(rand.NewPCG(22, 0))
	named := 0
	for range 300 {
		in, m := fixture(t), body.ZoneMap{ID: "M", Size: geom.Flat{400, 300}}
		k := body.Casting{ID: "K"}
		for i := range 4 {
			id, x, y := body.ZoneID(fmt.Sprint("Z", i)), 200*float64(i%2), 150*float64(i/2)
			k.Zones = append(k.Zones, body.Zone{ID: id, Name: []string{"Tub", "Left rear rail", "End crossmember", "Flange"}[i]})
			m.Zones = append(m.Zones, body.ZoneOutline{Zone: id, Outline: geom.Polygon{{x, y}, {x + 200, y}, {x + 200, y + 150}, {x, y + 150}}})
		}
		in.Body = &body.Body{Castings: []body.Casting{k}}
		pin := mapPin{"D12", []geom.Flat{{400 * rng.Float64(), 300 * rng.Float64()}}, true}
		d := mapDrawing{in: in, of: m, pins: []mapPin{pin}, wide: 340, high: 300}
		w := around(m, pin, 340.0/300)
		page := readPage(t, string(d.draw(w)))
		scale := 340 / (w.high[0] - w.low[0])
		px, py := (pin.at[0][0]-w.low[0])*scale, mapTop+(pin.at[0][1]-w.low[1])*scale
		taken := []picture.Box{picture.BoxAt(px, py, 13, 13), {X0: px + 18, Y0: py - 12 - 16, X1: px + 18 + 3*22*0.6, Y1: py - 12}}
		shown := picture.Box{X0: 0, Y0: mapTop, X1: 340, Y1: mapTop + 300}
		var lines []picture.Box
		for _, e := range page.all("text", "zone") {
			named++
			half, x, y := float64(len(textOf([]*drawn{e})[0]))*22*0.6/2, e.number(t, "x"), e.number(t, "y")
			b := picture.Box{X0: x - half, Y0: y - 0.73*22, X1: x + half, Y1: y}
			if b.X0 < shown.X0 || b.X1 > shown.X1 || b.Y0 < shown.Y0 || b.Y1 > shown.Y1 {
				t.Fatalf("%v lies outside of the part: %+v", textOf([]*drawn{e}), b)
			}
			for _, o := range append(lines, taken...) {
				if b.Overlaps(o) {
					t.Fatalf("%v at %+v lies on %+v", textOf([]*drawn{e}), b, o)
				}
			}
			lines = append(lines, b)
		}
	}
	if named < 100 {
		t.Errorf("%d names in all", named)
	}
}
