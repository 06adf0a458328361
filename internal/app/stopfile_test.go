package app

import (
	"context"
	"errors"
	"reflect"
	"testing"

	"fettle/internal/geom"
)

// TestFilesAreLeftInTheMiddle stops the use cases on single files half-way, at a step that is the same in every
// run: each is left there and answers with nothing but the stop.
func TestFilesAreLeftInTheMiddle(t *testing.T) {
	const casting = "body/front-casting.ply"
	a := New(coarse(t), "test")
	guide := New(guideFiles(t), "test")
	uses := []struct {
		name  string
		least int // steps that it has at least: what it does in a row is long
		do    func(context.Context) (any, error)
	}{
		{"measure", 100, func(ctx context.Context) (any, error) {
			return a.MeasureFiles(ctx, "body/points.csv", "job/readings.csv", MeasureOptions{StdMM: 0.5, Impact: "front-left"})
		}},
		{"mesh", 1000, func(ctx context.Context) (any, error) { return a.MeshFile(ctx, casting, "mm") }},
		{"mesh for a viewer", 1, func(ctx context.Context) (any, error) { return a.MeshGLB(ctx, casting, "mm") }},
		{"mend", 1, func(ctx context.Context) (any, error) {
			r, data, err := a.MendFile(ctx, casting, "mm", 0.01, "mended.ply")
			if data != nil {
				t.Errorf("mend: %d bytes to write", len(data))
			}
			return r, err
		}},
		{"trace", 4, func(ctx context.Context) (any, error) {
			return a.TraceFile(ctx, casting, TraceOptions{Unit: "mm", StdMM: 0.5, At: []geom.Vec{{672, -515, 392}, {683.5, -515, 397.6}, {704, -515, 404.1}}})
		}},
		{"cut", 5, func(ctx context.Context) (any, error) {
			return a.CutFile(ctx, casting, CutOptions{Unit: "mm", Planes: []CutPlane{{geom.Vec{1, 0, 0}, 268}, {geom.Vec{0, 1, 0}, -300}}})
		}},
		{"find zones", 5, func(ctx context.Context) (any, error) {
			return guide.FindZones(ctx, "channel.obj", "channel.obj", "mm", 40, 0.2, 0, 0.01)
		}},
		{"make zones", 1, func(ctx context.Context) (any, error) {
			return guide.MakeZones(ctx, "zones.yaml", "channel.ply", func(string) error { return nil })
		}},
	}
	for _, u := range uses {
		all := stopAt(0)
		if _, err := u.do(all); errors.Is(err, context.Canceled) {
			t.Fatalf("%s: %v", u.name, err)
		}
		if all.steps < u.least {
			t.Errorf("%s: %d steps", u.name, all.steps)
		}
		at := stopAt((all.steps + 1) / 2)
		got, err := u.do(at)
		if !errors.Is(err, context.Canceled) || !reflect.ValueOf(got).IsZero() {
			t.Errorf("%s, stopped at step %d of %d: %v, or an answer", u.name, at.at, all.steps, err)
		}
		if at.steps > at.at+2 {
			t.Errorf("%s: %d steps after the stop", u.name, at.steps-at.at)
		}
	}
}
