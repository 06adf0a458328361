package inspect

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// whole is scatter on a closed plate with everything a casting may have: bores,
// edges, joints, section lines of planes and of a curve, repairs done before,
// areas by nearness to the impact, and limits that ask for ways along the
// surface.
func whole(seed uint64) *bench {
	b := scatter(seed)
	b.mesh = slab(5)
	c := &b.body.Castings[0]
	c.Bores = []body.Bore{{ID: "h1", At: geom.Vec{150, 50, 0}, Axis: geom.Vec{0, 0, 1}, Radius: 5}, {ID: "h2", At: geom.Vec{30, 20, 0}, Axis: geom.Vec{0, 0, 1}, Radius: 8}}
	c.Edges = []body.Edge{{ID: "left", Along: []geom.Vec{{0, 0, 0}, {0, 100, 0}}}, {ID: "front", Along: []geom.Vec{{0, 0, 0}, {200, 0, 0}}}}
	b.body.Joints = []body.Joint{{ID: "J1", Name: "near", Layers: []body.PartID{"Q", "P"}, Along: [][]geom.Vec{{{10, 20, 0}, {10, 80, 0}}}},
		{ID: "J2", Name: "far", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{180, 20, 0}, {190, 60, 0}}}}}
	b.body.Lines = []body.Line{{ID: "S1", Casting: "C", Normal: geom.Vec{1, 0, 0}, Offset: 111, Margin: 10},
		{ID: "S2", Casting: "C", Planes: []body.LinePlane{{Normal: geom.Vec{-1, 0, 0}, Offset: -57}, {Normal: geom.Vec{-1, 0.2, 0}, Offset: -49}}, Margin: 10}}
	p := &b.body.Procedures[0]
	p.Areas = []body.AreaRule{{ID: "N", Of: []body.AreaKind{"zone", "bores", "joints", "ribs"}, Method: "penetrant", Within: unit.Some(unit.MM(90))},
		{ID: "V", Of: []body.AreaKind{"zone", "ribs", "bores", "joints"}, Method: "visual"}}
	p.Rows = append(p.Rows, body.Row{ID: "W", When: map[string]string{"edge_clearance": ">= 25 mm", "joint_clearance": ">= 30 mm", "bore_clearance": ">= 20 mm",
		"border_clearance": ">= 15 mm", "earlier_clearance": ">= 20 mm", "spacing": ">= 20 mm"}})
	b.job.Impact = job.Impact{From: "front", At: []geom.Vec{{-5, 40, 10}}}
	b.job.Earlier = []job.Earlier{{Zone: "A", Length: 20, Trace: []geom.Vec{{60, 70, 0}, {80, 72, 0}}, Std: 1}}
	return b
}

// moved moves body and job as one.
func (b *bench) moved(turn func(geom.Vec) geom.Vec, shift geom.Vec) {
	line := func(ps []geom.Vec) {
		for i, p := range ps {
			ps[i] = turn(p).Add(shift)
		}
	}
	plane := func(n geom.Vec, d unit.MM) (geom.Vec, unit.MM) {
		n = turn(n)
		return n, d + unit.MM(n.Dot(shift))
	}
	line(b.mesh.Points)
	c := &b.body.Castings[0]
	for i, h := range c.Bores {
		c.Bores[i].At, c.Bores[i].Axis = turn(h.At).Add(shift), turn(h.Axis)
	}
	for i := range c.Edges {
		line(c.Edges[i].Along)
	}
	for i := range b.body.Joints {
		for _, l := range b.body.Joints[i].Along {
			line(l)
		}
	}
	for i := range b.body.Lines {
		l := &b.body.Lines[i]
		l.Normal, l.Offset = plane(l.Normal, l.Offset)
		for k := range l.Planes {
			l.Planes[k].Normal, l.Planes[k].Offset = plane(l.Planes[k].Normal, l.Planes[k].Offset)
		}
	}
	for i := range b.job.Findings {
		line(b.job.Findings[i].Trace)
	}
	for i := range b.job.Earlier {
		line(b.job.Earlier[i].Trace)
	}
	line(b.job.Impact.At)
}

// A vehicle that stands elsewhere is the same vehicle: every fact of every
// finding, group and area is the same, numbers to a thousandth of a millimetre,
// words but for the numbers in them. Only places in vehicle axes move. The rim
// of a bore is a polygon of 48 corners that begins anywhere, and an upper bound on a
// way is narrowed to 0.1 mm and no further: there 0.1 mm is allowed.
func TestRigidMotionOfBodyAndJobChangesNoFact(t *testing.T) {
	figure := regexp.MustCompile(`-?[0-9]+(\.[0-9]+)?`)
	known := map[string]bool{}
	for seed := range uint64(campaign(1, 2)) {
		seed++
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			b := whole(seed)
			before := facts(t, b)
			r := rng(seed + 3000)
			x := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
			y := x.Cross(geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}).Unit()
			z := x.Cross(y)
			b.moved(func(p geom.Vec) geom.Vec { return x.Scale(p[0]).Add(y.Scale(p[1])).Add(z.Scale(p[2])) }, geom.Vec{900 * r.Float64(), -700, 300})
			alike(t, "result", before, facts(t, b), figure, known)
		})
	}
	for _, k := range []string{"edge", "joint", "bore", "border", "earlier", "sides", "coverage", "groups"} {
		if !known[k] {
			t.Errorf("no seed had %q: the test shows nothing of it", k)
		}
	}
}

func tolerance(at string) float64 {
	if strings.Contains(at, ".bore.") || strings.HasSuffix(at, ".upperMm") {
		return closeMM
	}
	return 1e-3
}

func facts(t *testing.T, b *bench) any {
	t.Helper()
	r, _ := Run(b.input(t))
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var out any
	if err := json.Unmarshal(data, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// alike compares two decoded results; known collects the names of fields that
// were there and not empty.
func alike(t *testing.T, at string, a, b any, figure *regexp.Regexp, known map[string]bool) {
	t.Helper()
	switch x := a.(type) {
	case map[string]any:
		y, ok := b.(map[string]any)
		if !ok || len(x) != len(y) {
			t.Fatalf("%s: %v and %v", at, a, b)
		}
		for _, k := range slices.Sorted(maps.Keys(x)) {
			if k == "path" {
				continue // places in vehicle axes
			}
			known[k] = known[k] || x[k] != nil
			alike(t, at+"."+k, x[k], y[k], figure, known)
		}
	case []any:
		y, ok := b.([]any)
		if !ok || len(x) != len(y) {
			t.Fatalf("%s: %v and %v", at, a, b)
		}
		for i := range x {
			alike(t, fmt.Sprintf("%s[%d]", at, i), x[i], y[i], figure, known)
		}
	case float64:
		if y, ok := b.(float64); !ok || math.Abs(x-y) > tolerance(at) {
			t.Errorf("%s: %v and %v", at, a, b)
		}
	case string:
		if y, ok := b.(string); !ok || figure.ReplaceAllString(x, "#") != figure.ReplaceAllString(y, "#") {
			t.Errorf("%s: %v and %v", at, a, b)
		}
	default:
		if a != b {
			t.Errorf("%s: %v and %v", at, a, b)
		}
	}
}
