package casting

import (
	"math"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// The bores of the invented casting are found by their walls, though ribs,
// bosses and the trimmed plates cross their rims: each on its axis within a
// quarter of a millimetre, with a radius within twice its standard uncertainty and a
// hundredth of a millimetre: where a rib or a fillet crosses a wall it is less well known
// (Bores lists where they were drilled). Nothing is taken for a hole that is none: what
// is found is a bore, or one of the openings.
func TestBoresAreFoundInTheMesh(t *testing.T) {
	s, err := mesh.NewSurface(built())
	if err != nil {
		t.Fatal(err)
	}
	holes := s.Holes(60, 0.3)
	used := make([]bool, len(holes))
	var missing []string
	for _, b := range Bores() {
		found := false
		for i, h := range holes {
			wider := h.RadiusMM - b.RadiusMM
			if beside(h, b.At, b.Axis) < 0.25 && math.Abs(h.Axis.Dot(b.Axis)) > 0.99 && math.Abs(wider) < 2*h.StdMM()+0.01 {
				used[i], found = true, true
			}
		}
		if !found {
			missing = append(missing, b.ID)
		}
	}
	if len(missing) > 0 {
		t.Errorf("not found: %v", missing)
	}
	for i, h := range holes {
		round := used[i]
		for _, c := range roundHoles {
			right := geom.Vec{c.centre[0], -c.centre[1], c.centre[2]}
			round = round || beside(h, c.centre, h.Axis) < 0.5 || beside(h, right, h.Axis) < 0.5
		}
		if !round {
			t.Errorf("no hole was made at %v: %+v", h.Centre, h)
		}
	}
}

func beside(h mesh.Hole, at, axis geom.Vec) float64 {
	d := h.Centre.Sub(at)
	return d.Sub(axis.Scale(d.Dot(axis))).Norm()
}
