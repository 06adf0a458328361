package inspect

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// Constructed on the roof, two sheets at a right angle that unfold into a
// plane: a crack 9 mm up one sheet and a joint 12 mm out on the other are 15 mm
// apart through space and 21 mm along the surface.
func TestClearanceIsAlongTheSurface(t *testing.T) {
	for _, c := range []struct {
		limit  string
		mm     float64 // the lower bound that is held against the limit
		upper  bool    // an upper bound was looked for
		within float64
	}{
		{"", 15, false, 1e-9},         // no limit asks: the bound in space does
		{">= 10 mm", 15, false, 1e-9}, // it decides already
		{">= 18 mm", 19, true, 1.2},   // decided: more than 18 mm and its guard
		{">= 20.9 mm", 21, true, 0.1}, // open within the uncertainty: narrowed
		{">= 40 mm", 21, true, 0.1},
	} {
		b := newBench(roof())
		b.body.Joints = []body.Joint{{ID: "J", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{20, 12, 0}, {60, 12, 0}}}}}
		if c.limit != "" {
			b.body.Procedures[0].Rows = []body.Row{{ID: "1", When: map[string]string{"joint_clearance": c.limit}}}
		}
		b.crack("F", 0.5, geom.Vec{30, 0, 9}, geom.Vec{50, 0, 9})
		r, _ := Run(b.input(t))
		f := find(t, r, "F")
		if f.Joint == nil || f.Joint.To != "J" {
			t.Fatalf("%s: %+v", c.limit, f.Joint)
		}
		near(t, "clearance at limit "+c.limit, f.Joint.MM, c.mm, c.within)
		if f.Joint.MM > 21+1e-6 || (f.Joint.UpperMM > 0) != c.upper || c.upper && f.Joint.UpperMM < 21-1e-6 {
			t.Errorf("%s: 21 mm is not in %+v", c.limit, *f.Joint)
		}
	}
}

func TestClearanceToEdgesJointsAndRepairs(t *testing.T) {
	// Constructed on the plate of 200 x 100 mm, whose mesh ends at its four
	// edges; the crack lies at x 60 to 80, y 30.
	b := newBench(plate())
	b.body.Castings[0].Edges = []body.Edge{{ID: "slot", Along: []geom.Vec{{90, 20, 0}, {90, 40, 0}}}}
	b.body.Joints = []body.Joint{{ID: "J", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{60, 70, 0}, {120, 70, 0}}}}}
	b.job.Earlier = []job.Earlier{{Zone: "A", Length: 10, Trace: []geom.Vec{{60, 55, 0}, {70, 55, 0}}, Std: 3}, {Zone: "elsewhere", Length: 10}}
	b.crack("F", 0.5, geom.Vec{60, 30, 0}, geom.Vec{80, 30, 0})
	r, _ := Run(b.input(t))
	f := find(t, r, "F")
	near(t, "edge", f.Edge.MM, 10, 1e-9)
	near(t, "joint", f.Joint.MM, 40, 1e-9)
	near(t, "earlier", f.Earlier.MM, 25, 1e-9)
	near(t, "std of earlier", f.Earlier.Std, math.Sqrt(.25+.01+9), 1e-9) // JCGM 100:2008 5.1.2
	b.job.Findings[0].Tips = []body.TipMethod{"penetrant", "visual"}
	r, _ = Run(b.input(t))
	f = find(t, r, "F")
	near(t, "edge less the allowance of 4 mm", f.Edge.MM, 6, 1e-9)
	near(t, "edge as seen", f.Edge.SeenMM, 10, 1e-9)

	// What has no place in the data makes the distance unknown, and says so where
	// the procedure asks for it.
	b.job.Earlier[0].Trace = nil
	b.body.Joints = append(b.body.Joints, body.Joint{ID: "J2", Layers: []body.PartID{"P"}})
	b.body.Procedures[0].Rows = []body.Row{{ID: "1", When: map[string]string{"joint_clearance": ">= 5 mm", "earlier_clearance": ">= 5 mm"}}}
	r, _ = Run(b.input(t))
	f = find(t, r, "F")
	if f.Joint != nil || f.Earlier != nil || len(f.Unknown) < 2 {
		t.Errorf("joint %+v, earlier %+v, unknown %q", f.Joint, f.Earlier, f.Unknown)
	}
	b.job.Earlier, b.body.Joints = nil, nil
	r, _ = Run(b.input(t))
	if f = find(t, r, "F"); f.Joint != nil || f.Earlier.To != None || !slices.ContainsFunc(f.Unknown, func(s string) bool { return strings.Contains(s, "the body names none") }) {
		t.Errorf("no joint of the casting in the body is no answer: %+v %+v %q", f.Joint, f.Earlier, f.Unknown)
	}
	b.job.Castings = nil
	r, _ = Run(b.input(t))
	if f = find(t, r, "F"); f.Earlier != nil {
		t.Errorf("nobody looked for earlier repairs, and there are none: %+v", f.Earlier)
	}
	closed := newBench(slab(5))
	closed.crack("F", 0.5, geom.Vec{60, 30, 0}, geom.Vec{80, 30, 0})
	r, _ = Run(closed.input(t))
	if f = find(t, r, "F"); f.Edge != nil {
		t.Errorf("a closed mesh shows no edges: %+v", f.Edge)
	}
}

// The limits are those of the rows, ascending, each once.
func TestLimitsOf(t *testing.T) {
	p := place{rule: &body.Procedure{Rows: []body.Row{{When: map[string]string{"spacing": ">= 32 mm"}}, {When: map[string]string{"spacing": "< 5 mm", "length": "<= 8 mm"}},
		{When: map[string]string{"spacing": ">= 10 mm and <= 32 mm"}}, {When: map[string]string{"spacing": "far"}}}}}
	if got := p.limitsOf("spacing"); !slices.Equal(got, []float64{5, 10, 32}) {
		t.Errorf("%v", got)
	}
}
