package plan

import (
	"math"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// box is a closed plate of the given size with a corner at the origin.
func box(t *testing.T, x, y, z float64) *mesh.Surface {
	t.Helper()
	m := &mesh.Mesh{}
	for i := range 8 {
		m.Points = append(m.Points, geom.Vec{x * float64(i&1), y * float64(i>>1&1), z * float64(i>>2&1)})
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Faces = append(m.Faces, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Constructed: a plate 200 x 100 x 3 mm cut across its width shows a loop of
// 2 x (100 + 3) mm; the wall is half of it, 103 mm. A box that keeps the first
// 40 mm of the width leaves 2 x 40 + 3 mm of the loop.
func TestSeamOfAPlate(t *testing.T) {
	v := vehicle.New(&body.Body{Castings: []body.Casting{{ID: "C"}}}, map[body.CastingID]*mesh.Surface{"C": box(t, 200, 100, 3)})
	line := body.Line{ID: "S", Casting: "C", Normal: geom.Vec{1, 0, 0}, Offset: 70}
	got, err := Seam(line, v)
	if err != nil || math.Abs(got-103) > 1e-9 {
		t.Errorf("seam %g, %v; want 103", got, err)
	}
	line.Within = body.Box{Min: geom.Vec{0, 0, -1}, Max: geom.Vec{200, 40, 5}}
	got, err = Seam(line, v)
	if err != nil || math.Abs(got-41.5) > 1e-9 {
		t.Errorf("seam in the box %g, %v; want 41.5", got, err)
	}
	line.Offset = 500
	if _, err = Seam(line, v); err == nil {
		t.Error("a plane beside the casting has no length")
	}
}

// Constructed: without a mesh the length is not known, and that blocks.
func TestNoMeshBlocks(t *testing.T) {
	in := input(cutS1)
	in.Seams = nil
	p, notes := Build(in)
	if blocking(notes) != "plan.no-length" || len(p.Steps) == 0 {
		t.Errorf("notes %v", notes)
	}
}

// Constructed: ceil((L - 2e)/p) + 1; the last rivet lands on the end distance.
func TestRowOfRivets(t *testing.T) {
	for _, c := range []struct {
		length, end, pitch float64
		count              int
		actual             float64
		ok                 bool
	}{
		{100, 10, 20, 5, 20, true},
		{101, 10, 20, 6, 16.2, true},
		{20, 10, 20, 1, 0, true},
		{19, 10, 20, 0, 0, false},
	} {
		r, ok := row(c.length, c.end, c.pitch)
		if ok != c.ok || r.count != c.count || math.Abs(r.pitch-c.actual) > 1e-9 {
			t.Errorf("%g mm: %+v %v", c.length, r, ok)
		}
		if ok && r.count > 1 && math.Abs(2*c.end+float64(r.count-1)*r.pitch-c.length) > 1e-9 {
			t.Errorf("%g mm: the last rivet is not at its end distance", c.length)
		}
	}
}

// Constructed: between rows the longer cure and the shorter time to work it, nothing
// outside.
func TestTimesInsideTheTableOnly(t *testing.T) {
	m := testBody().Materials[0]
	for _, c := range []struct {
		temp              float64
		working, handling float64
		ok                bool
	}{{15, 80, 600, true}, {17.5, 60, 600, true}, {20, 60, 450, true}, {25, 40, 300, true}, {14.9, 0, 0, false}, {25.1, 0, 0, false}} {
		got, ok := timesAt(m, celsius(c.temp))
		if ok != c.ok || math.Abs(got.working-c.working) > 1e-9 || math.Abs(got.handling-c.handling) > 1e-9 {
			t.Errorf("%g C: %+v %v", c.temp, got, ok)
		}
	}
	if _, ok := timesAt(body.Material{}, 20); ok {
		t.Error("a material without a table has no times")
	}
}

// A step says the length that it is reckoned by, whatever of it goes by the length: its minutes,
// its materials or its rivets; one of which nothing does says none.
func TestStepsSayTheLengthTheyGoBy(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*body.Step)
		by     bool
	}{
		"nothing": {func(*body.Step) {}, false},
		"minutes": {func(s *body.Step) { s.PerMetre = 30 }, true},
		"materials": {func(s *body.Step) {
			s.Uses = []body.Use{{Material: "wire", PerMetre: unit.Amount{Value: 5, Unit: "g"}}}
		}, true},
		"a strip": {func(s *body.Step) {
			s.Uses = []body.Use{{Material: "wire", PerArea: unit.Amount{Value: 5, Unit: "g"}, Width: 20}}
		}, true},
		"a surface": {func(s *body.Step) { s.Uses = []body.Use{{Material: "wire", PerArea: unit.Amount{Value: 5, Unit: "g"}}} }, false},
	} {
		in := input(weldF1)
		for i := range in.Body.Treatments {
			if tr := &in.Body.Treatments[i]; tr.ID == weldF1.Treatment {
				tr.Steps = []body.Step{{ID: "only", Name: "Only", Skill: tr.Steps[0].Skill, Fixed: 10}}
				c.change(&tr.Steps[0])
			}
		}
		p, _ := Build(in)
		found := false
		for _, s := range p.Steps {
			if s.Name == "Only" {
				found = true
				if (s.LengthMM > 0) != c.by {
					t.Errorf("%s goes by the length: the step says %g mm", name, s.LengthMM)
				}
			}
		}
		if !found {
			t.Errorf("%s: no such step in %+v", name, p.Steps)
		}
	}
}
