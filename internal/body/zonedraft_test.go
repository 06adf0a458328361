package body

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// drafted applies the draft of a mesh: the share of the largest zone, and how many.
func drafted(t *testing.T, m *mesh.Mesh) (ZonedMesh, *ZoneRecipe, float64) {
	t.Helper()
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	f := Features{surf: s}
	f.findRegions(30 * math.Pi / 180)
	f.WallMM, _ = s.WallMM()
	r, err := f.Draft("mesh.ply", "mm", 30*math.Pi/180, 0, 0.01)
	if err != nil {
		t.Fatal(err)
	}
	for i, step := range r.Steps { // a zone is said to be as many sides as it is grown from
		if n := len(step.From); step.Do == ZoneGrow && !strings.Contains(r.Zones[i].Name, map[bool]string{true: ", one side, ", false: fmt.Sprintf(", %d sides, ", n)}[n == 1]) {
			t.Errorf("%q is grown from %d places", r.Zones[i].Name, n)
		}
	}
	made, err := r.roundTrip(t).Apply(m)
	if err != nil {
		t.Fatal(err)
	}
	most := 0.0
	for _, z := range made.Zones {
		most = max(most, z.AreaMM2/m.AreaMM2())
	}
	return made, r, most
}

// The draft of the invented casting, whose edges are rounded so that 92 % of it is
// one region, is a start: tens of zones, none over a third of it (our measure of
// what can be edited, no source), and both sides of a wall in one zone for four
// fifths of what has two.
func TestDraftOfTheCasting(t *testing.T) {
	m, _, err := format.ReadMesh("front-casting.ply", demo.Files()["body/front-casting.ply"], "mm")
	if err != nil {
		t.Fatal(err)
	}
	made, r, most := drafted(t, m)
	if n := len(made.Zones); n < 10 || n > 60 || most > 1./3 || r.Rest != "" {
		t.Errorf("%d zones, the largest %.0f %% of the surface, rest %q", n, 100*most, r.Rest)
	}
	s, err := mesh.NewSurface(made.Mesh)
	if err != nil {
		t.Fatal(err)
	}
	same, all := 0.0, 0.0
	s.EachWall(func(a, b int32, mm float64) {
		if mm < 11 {
			all += made.Mesh.FaceAreaMM2(int(a))
			if made.Mesh.Label[a] == made.Mesh.Label[b] {
				same += made.Mesh.FaceAreaMM2(int(a))
			}
		}
	})
	if t.Logf("%d zones, the largest %.0f %%, sides together %.0f %%", len(made.Zones), 100*most, 100*same/all); same < 0.8*all {
		t.Errorf("both sides of walls are in one zone for %.0f %% of their area", 100*same/all)
	}
}

// pillow is a plate of 300 x 200 x 5 mm whose edge is round: all one region.
func pillow() *mesh.Mesh {
	m := &mesh.Mesh{}
	var ring []geom.Vec
	const arc = 12
	for k := range arc + 1 {
		sin, cos := math.Sincos(math.Pi * (float64(k)/arc - 0.5))
		ring = append(ring, geom.Vec{0, 97.5 + 2.5*cos, 2.5 * sin})
	}
	for k := arc; k >= 0; k-- {
		ring = append(ring, geom.Vec{0, -ring[k][1], ring[k][2]})
	}
	const long = 60
	for i := range long + 1 {
		for _, p := range ring {
			m.Points = append(m.Points, p.Add(geom.Vec{5 * float64(i), 0, 0}))
		}
	}
	w := int32(len(ring))
	for i := range int32(long) {
		for k := range w {
			a, b := i*w+k, i*w+(k+1)%w
			m.Faces = append(m.Faces, [3]int32{a, b, b + w}, [3]int32{a, b + w, a + w})
		}
	}
	return m
}

// A plate with a round edge is its two sides: half of it each, and nothing else.
func TestDraftOfAPlate(t *testing.T) {
	made, _, most := drafted(t, pillow())
	if len(made.Zones) != 2 || most > 0.52 {
		t.Errorf("%d zones, the largest %.0f %%", len(made.Zones), 100*most)
	}
}
