package report

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// A cube of 100 mm with a zone on every side and a narrow strip on top: every
// zone is named, the strip by a flag, and one that no face has is told of.
func TestZonesDrawingNamesEveryZone(t *testing.T) {
	p := func(x, y, z float64) geom.Vec { return geom.Vec{x, y, z} }
	var m mesh.Mesh
	quad := func(label int32, a, b, c, d geom.Vec) {
		n := int32(len(m.Points))
		m.Points = append(m.Points, a, b, c, d)
		m.Faces = append(m.Faces, [3]int32{n, n + 1, n + 2}, [3]int32{n, n + 2, n + 3})
		m.Label = append(m.Label, label, label)
	}
	quad(1, p(0, 0, 0), p(0, 100, 0), p(100, 100, 0), p(100, 0, 0))
	quad(2, p(0, 0, 100), p(98, 0, 100), p(98, 100, 100), p(0, 100, 100))
	quad(7, p(98, 0, 100), p(100, 0, 100), p(100, 100, 100), p(98, 100, 100))
	quad(3, p(0, 0, 0), p(100, 0, 0), p(100, 0, 100), p(0, 0, 100))
	quad(4, p(100, 0, 0), p(100, 100, 0), p(100, 100, 100), p(100, 0, 100))
	quad(5, p(100, 100, 0), p(0, 100, 0), p(0, 100, 100), p(100, 100, 100))
	quad(6, p(0, 100, 0), p(0, 0, 0), p(0, 0, 100), p(0, 100, 100))
	var zones []body.Zone
	for i, id := range []body.ZoneID{"BASE", "TOP", "LEFT", "REAR", "RIGHT", "FRONT", "STRIP", "NOWHERE"} {
		zones = append(zones, body.Zone{ID: id, Label: i + 1, Name: string(id)})
	}
	svg, err := ZonesDrawing(&m, zones, body.Axes{})
	if err != nil {
		t.Fatal(err)
	}
	for _, z := range zones[:6] {
		if !strings.Contains(string(svg), `class="zone"`) || !strings.Contains(string(svg), ">"+string(z.ID)+"<") {
			t.Errorf("zone %s is not named", z.ID)
		}
	}
	if strings.Count(string(svg), ">STRIP<") == 0 {
		t.Error("the strip has no flag")
	}
	if !strings.Contains(string(svg), "Not seen from any side: NOWHERE.") {
		t.Error("the zone without a face is not told of")
	}
	again, err := ZonesDrawing(&m, zones, body.Axes{})
	if err != nil || string(again) != string(svg) {
		t.Error("the same mesh gives another drawing")
	}
}
