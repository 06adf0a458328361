package report

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/unit"
)

// undecided is a vehicle of twelve points on a grid, read once with 1 mm: P1 has no
// limit, P2 to P4 stand near theirs, P5 and P6 moved by themselves. Constructed.
func undecided() measure.Result {
	var in measure.Input
	for i := range 12 {
		id := body.PointID("P" + string(rune('A'+i)))
		p := body.Point{ID: id, X: 350 * float64(i), Y: 600 * float64(1-2*(i%2)), Z: 200 * float64(i%3), Std: unit.Some(0.0), Tol: unit.Some(3.0)}
		off := []float64{0, 2.2, -2.2, 2.6, 25, -25}
		d := 0.0
		if i < len(off) {
			d = off[i]
		}
		if i == 0 {
			p.Tol = unit.Maybe[float64]{}
		}
		in.Points = append(in.Points, p)
		in.Readings = append(in.Readings, job.Reading{Setup: "S", Kind: "xyz", From: id, X: unit.Some(p.X), Y: unit.Some(p.Y + d), Z: unit.Some(p.Z + d/7), Std: unit.Some(1.0)})
	}
	r, _ := measure.Run(in)
	return r
}

// What several points need alike is said once, with all of them.
func TestNeedsAreGrouped(t *testing.T) {
	r := undecided()
	h, ok := r.Best()
	if !ok {
		t.Fatalf("%+v", r.Notes)
	}
	lines := needed(h.Points)
	open := 0
	for _, p := range h.Points {
		if p.Needs == "" {
			continue
		}
		open++
		n := 0
		for _, l := range lines {
			if strings.Contains(l, string(p.ID)) && !strings.Contains(l, "too rough") {
				n++
			}
		}
		if n != 1 {
			t.Errorf("%s stands in %d lines of %q", p.ID, n, lines)
		}
	}
	if len(lines) > 6 || open < 5 || !slices.Contains(lines, "A limit from the manufacturer: PA.") || !slices.Contains(lines, "Moved, or misread; read again in another set-up: PE and PF.") {
		t.Errorf("%d points, lines %q", open, lines)
	}
}
