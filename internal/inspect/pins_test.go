package inspect

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/vehicle"
)

// stripMap is a map of zones A, B and C as strips side by side, borders at 100 and 200, read to 2
// units: a place that is pointed at may be 4 units elsewhere.
func stripMap(id body.MapID) body.ZoneMap {
	strip := func(x0, x1 float64) geom.Polygon { return geom.Polygon{{x0, 10}, {x1, 10}, {x1, 90}, {x0, 90}} }
	return body.ZoneMap{ID: id, Name: "From the " + string(id), Size: geom.Flat{300, 100}, Std: 2,
		Zones: []body.ZoneOutline{{Zone: "A", Outline: strip(0, 100)}, {Zone: "B", Outline: strip(100, 200)}, {Zone: "C", Outline: strip(200, 300)}}}
}

// TestZonesByPins: the zones a pin comes to, certain or within what it may be elsewhere, and those
// that border on them; by hand from the strips. What lies in no outline is nowhere.
func TestZonesByPins(t *testing.T) {
	away := tape(job.HandBorder, 30, "")
	pin := func(at ...geom.Flat) []job.Pin { return []job.Pin{{Map: "left", At: at}} }
	for _, c := range []struct {
		name  string
		set   func(*bench, *job.Finding)
		want  string
		block string
	}{
		{"in the middle", func(_ *bench, f *job.Finding) { f.Pins = pin(geom.Flat{50, 50}) }, "A B?", ""},
		{"in the middle, the border measured", func(_ *bench, f *job.Finding) { f.Pins, f.Measured = pin(geom.Flat{50, 50}), []job.HandReading{away} }, "A", ""},
		{"near the border, whatever was measured", func(_ *bench, f *job.Finding) { f.Pins, f.Measured = pin(geom.Flat{97, 50}), []job.HandReading{away} }, "A B? C?", ""},
		{"from one into another", func(_ *bench, f *job.Finding) { f.Pins = pin(geom.Flat{150, 50}, geom.Flat{250, 50}) }, "B C A?", ""},
		{"over one into a third", func(_ *bench, f *job.Finding) { f.Pins = pin(geom.Flat{50, 50}, geom.Flat{250, 50}) }, "A B C", ""},
		{"a little beside all outlines", func(_ *bench, f *job.Finding) { f.Pins = pin(geom.Flat{50, 7}) }, "A B?", ""},
		{"beside all outlines", func(_ *bench, f *job.Finding) { f.Pins = pin(geom.Flat{50, 4}) }, "", "inspect.pin-in-no-zone"},
		{"out of all outlines and in again", func(b *bench, f *job.Finding) {
			b.body.Castings[0].Maps[0].Zones = slices.Delete(b.body.Castings[0].Maps[0].Zones, 1, 2)
			f.Pins = pin(geom.Flat{50, 50}, geom.Flat{250, 50})
		}, "", "inspect.pin-in-no-zone"},
		{"on two maps", func(b *bench, f *job.Finding) {
			b.body.Castings[0].Maps = append(b.body.Castings[0].Maps, stripMap("right"))
			f.Pins = append(pin(geom.Flat{250, 50}), job.Pin{Map: "right", At: []geom.Flat{{50, 50}}})
		}, "A C B?", ""},
		{"zones that are named count", func(_ *bench, f *job.Finding) {
			f.Zones, f.Pins = []body.ZoneID{"A"}, pin(geom.Flat{103, 50})
		}, "A B?", ""},
		{"a pin elsewhere than the zones that are named", func(_ *bench, f *job.Finding) {
			f.Zones, f.Pins = []body.ZoneID{"A"}, pin(geom.Flat{106, 50})
		}, "A B?", "inspect.pin-contradicts"},
		{"the second of two places elsewhere", func(_ *bench, f *job.Finding) {
			f.Zones, f.Pins = []body.ZoneID{"A"}, pin(geom.Flat{50, 50}, geom.Flat{120, 50})
		}, "A B?", "inspect.pin-contradicts"},
		{"a map without the zone that is named", func(b *bench, f *job.Finding) {
			b.body.Castings[0].Maps[0].Zones = slices.Delete(b.body.Castings[0].Maps[0].Zones, 0, 1)
			f.Zones, f.Pins = []body.ZoneID{"A"}, pin(geom.Flat{50, 50})
		}, "A B?", "inspect.pin-contradicts"},
		{"neither", func(_ *bench, f *job.Finding) {}, "", "inspect.no-zone"},
	} {
		b := handBench()
		b.body.Castings[0].Maps = []body.ZoneMap{stripMap("left")}
		f := b.said("D1", "A")
		f.Zones = nil
		c.set(b, f)
		r, notes := b.byHand(t)
		if got := zonesOf(r.Findings[0]); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
		blocked := slices.ContainsFunc(notes, func(n diag.Note) bool {
			return n.Code == c.block && n.Severity == diag.Blocking && n.Where == "D1"
		})
		pinNotes := slices.ContainsFunc(notes, func(n diag.Note) bool { return strings.HasPrefix(n.Code, "inspect.pin") })
		if blocked != (c.block != "") || !blocked && pinNotes {
			t.Errorf("%s: %v", c.name, notes)
		}
	}
}

// TestPinsFindEveryZone: cracks are drawn at random over a map of strips of any width, and pinned
// with errors within what a place may be elsewhere. Every zone that the crack lies in is among
// those of the finding; and each that does not touch is one it lies in, or within twice of that.
func TestPinsFindEveryZone(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	for n := range 150 {
		b := handBench()
		m := stripMap("left")
		x1 := 40 + 110*r.Float64()
		x2 := x1 + 1 + 100*r.Float64()
		for i, x := range [][2]float64{{0, x1}, {x1, x2}, {x2, 300}} {
			m.Zones[i].Outline = geom.Polygon{{x[0], 0}, {x[1], 0}, {x[1], 100}, {x[0], 100}}
		}
		m.Std = 0.1 + 3*r.Float64()
		b.body.Castings[0].Maps = []body.ZoneMap{m}
		b.body.Castings[0].Zones[0].Neighbours, b.body.Castings[0].Zones[1].Neighbours, b.body.Castings[0].Zones[2].Neighbours = []body.ZoneID{}, []body.ZoneID{}, []body.ZoneID{}
		f := b.said("D1", "A")
		f.Zones = nil
		least, most := 300.0, 0.0
		var at []geom.Flat
		for range 2 + r.IntN(3) {
			q := geom.Flat{10 + 280*r.Float64(), 10 + 80*r.Float64()}
			if r.IntN(3) == 0 { // near a border
				q[0] = []float64{x1, x2}[r.IntN(2)] + m.Std*(r.Float64()-0.5)
			}
			least, most = min(least, q[0]), max(most, q[0])
			at = append(at, geom.Flat{q[0] + m.Std*1.9*(2*r.Float64()-1), q[1]})
		}
		f.Pins = []job.Pin{{Map: "left", At: at}}
		res, _ := b.byHand(t)
		got := res.Findings[0]
		for i, x := range [][2]float64{{0, x1}, {x1, x2}, {x2, 300}} {
			z := body.ZoneID(fmt.Sprintf("%c", 'A'+i))
			lies, may := least < x[1] && most > x[0], least < x[1]+6*m.Std && most > x[0]-6*m.Std
			if lies && !got.in(z) || got.in(z) && !may {
				t.Fatalf("%d: from %v to %v, borders %v and %v, std %v: zones %s", n, least, most, x1, x2, m.Std, zonesOf(got))
			}
		}
	}
}

// TestPinsAreHeldAgainstATrace: a pin on a map of a casting with a mesh has to lie where the trace
// does.
func TestPinsAreHeldAgainstATrace(t *testing.T) {
	for x, want := range map[float64]bool{50: false, 103: false, 106: true} {
		m := plate()
		m.Label = make([]int32, len(m.Faces))
		for f := range m.Label {
			m.Label[f] = 1
		}
		b := newBench(m)
		b.body.Castings[0].Maps = []body.ZoneMap{stripMap("left")}
		f := b.crack("D1", 0.1, geom.Vec{50, 50, 0}, geom.Vec{90, 50, 0})
		f.Pins = []job.Pin{{Map: "left", At: []geom.Flat{{x, 50}}}}
		_, notes := Run(b.input(t))
		if got := slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "inspect.pin-contradicts" }); got != want {
			t.Errorf("pinned at %v: %v", x, notes)
		}
	}
}

// The deepest zone of a pin is the first on its map of equals, and no zone where there is none.
func TestDeepestZoneOfAPin(t *testing.T) {
	p := pinned{ZoneMap: stripMap("left")}
	for _, c := range []struct {
		depths [3]float64
		want   body.ZoneID
	}{{[3]float64{-3, 2, 2}, "B"}, {[3]float64{2, 2, 2}, "A"}, {[3]float64{-3, -2, -1}, "C"}, {[3]float64{0, -1, 0}, "A"}} {
		d := map[body.ZoneID]float64{"A": c.depths[0], "B": c.depths[1], "C": c.depths[2]}
		if got := p.deepest(d); got != c.want {
			t.Errorf("%v: %s, want %s", c.depths, got, c.want)
		}
	}
	if got := (pinned{}).deepest(nil); got != "" {
		t.Errorf("on no map: %q", got)
	}
}

// What pins contradict is said whole: a pin surely off the zones of a finding, and a map without any of
// them. A pin is read to 2 units, looked at every unit, so that up to 4.5 units off it agrees.
func TestWhatPinsContradict(t *testing.T) {
	for _, c := range []struct {
		at   geom.Flat
		in   body.ZoneID
		want string
	}{
		{geom.Flat{104.5, 50}, "A", ""},
		{geom.Flat{104.625, 50}, "A", `its pin on zone map "From the left" comes to a place 4.6 units of the map from all zones it lies in`},
		{geom.Flat{105, 50}, "A", `its pin on zone map "From the left" comes to a place 5.0 units of the map from all zones it lies in`},
		{geom.Flat{192, 50}, "C", `its pin on zone map "From the left" comes to a place 8.0 units of the map from all zones it lies in`},
		{geom.Flat{50, 50}, "Z", `it is pinned on zone map "From the left", on which none of the zones it lies in is drawn`},
	} {
		r := &run{}
		k := &body.Casting{Maps: []body.ZoneMap{stripMap("right"), stripMap("left")}}
		tr := &trace{in: &job.Finding{ID: "D1", Pins: []job.Pin{{Map: "left", At: []geom.Flat{c.at}}, {Map: "gone", At: []geom.Flat{{0, 0}}}}}, at: &place{Casting: &vehicle.Casting{Of: k}}}
		r.pinsAgree(&Finding{ID: "D1"}, tr, func(z body.ZoneID) bool { return z == c.in })
		var want []diag.Note
		if c.want != "" {
			want = append(want, diag.Note{Code: "inspect.pin-contradicts", Severity: diag.Blocking, Where: "D1", Text: c.want, Hint: "look again where it is, and correct the pin or the zones"})
		}
		for i := range r.notes {
			r.notes[i].With = nil // the text has them
		}
		if !slices.Equal(r.notes, want) {
			t.Errorf("%v in %s: %+v", c.at, c.in, r.notes)
		}
	}
}
