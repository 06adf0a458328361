package assess

import (
	"fmt"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// TestAxesAreThoseThatFindingsAskFor: set-ups are carried where a finding asks for them, and no others;
// where nobody asks nothing is measured. Six points that stood still, read in axes moved by 100, 20
// and 3 mm: a place there is carried back by that.
func TestAxesAreThoseThatFindingsAskFor(t *testing.T) {
	in := measured()
	if got := in.Axes(); got != nil {
		t.Errorf("nobody asks: %v", got)
	}
	in.Body.Points = nil
	for i, p := range []geom.Vec{{0, 0, 0}, {1000, 0, 50}, {0, 900, 80}, {1100, 950, 400}, {500, 300, 700}, {200, 700, 350}} {
		in.Body.Points = append(in.Body.Points, point(i, p))
		in.Job.Readings = append(in.Job.Readings, reading(in.Job.Setups[0].ID, i, p.Add(geom.Vec{100, 20, 3})))
	}
	in.Body.Thermal = nil
	before := in.Job.Setups[0].ID
	in.Job.Findings[1].Setup, in.Job.Findings[1].Trace = before, []geom.Vec{{600, 320, 703}}
	got := in.Axes()
	if a := got[before]; len(got) != 1 || a.Why != "" {
		t.Fatalf("%d set-ups, %q", len(got), a.Why)
	}
	if at, _ := got[before].Carry(geom.Vec{600, 320, 703}); at.Dist(geom.Vec{500, 300, 700}) > 0.2 {
		t.Errorf("carried to %v", at)
	}
	in.Job.Findings[0].Setup = string(job.StageAfter)
	if got := in.Axes(); len(got) != 2 || got[string(job.StageAfter)].Why == "" || got[before].Why != "" {
		t.Errorf("of a set-up after the repair: %+v", got)
	}
}

func point(i int, p geom.Vec) body.Point {
	return body.Point{ID: body.PointID(fmt.Sprint("P", i)), X: p[0], Y: p[1], Z: p[2], Tol: unit.Some(3.0), Std: unit.Some(0.0)}
}

func reading(setup string, i int, q geom.Vec) job.Reading {
	return job.Reading{Setup: setup, Kind: job.ReadXYZ, From: body.PointID(fmt.Sprint("P", i)), X: unit.Some(q[0]), Y: unit.Some(q[1]), Z: unit.Some(q[2])}
}
