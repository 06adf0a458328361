package inspect

import (
	"fmt"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// valley is two sheets of 60 x 80 mm, seen from inside the right angle between
// them, that meet in the x axis: one inner edge of 80 mm.
func valley() *mesh.Mesh {
	m := roof()
	for i, f := range m.Faces {
		m.Faces[i] = [3]int32{f[0], f[2], f[1]}
	}
	return m
}

// areaTexts is the areas in short.
func areaTexts(r Result) string {
	var out []string
	for _, c := range r.Coverage {
		out = append(out, fmt.Sprintf("%s %s", c.Area, c.Needs))
	}
	return strings.Join(out, ", ")
}

func TestAreasAreFound(t *testing.T) {
	// Constructed on the plate of 200 x 100 mm: zone A up to x = 100, zone B
	// beyond; hit at x = 0. Zone B begins 100 mm from there.
	b := newBench(plate())
	c := &b.body.Castings[0]
	c.Bores = []body.Bore{{ID: "h", At: geom.Vec{150, 50, 0}, Axis: geom.Vec{0, 0, 1}, Radius: 5}}
	b.body.Joints = []body.Joint{{ID: "J1", Name: "near", Layers: []body.PartID{"Q", "P"}, Along: [][]geom.Vec{{{10, 20, 0}, {10, 80, 0}}}},
		{ID: "J2", Name: "unknown", Layers: []body.PartID{"P"}}, {ID: "J3", Layers: []body.PartID{"Q"}},
		{ID: "J4", Name: "both", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{90, 20, 0}, {110, 20, 0}}}}}
	c.Zones[0].LoadPath = true
	p := &b.body.Procedures[0]
	rule := body.AreaRule{ID: "N", Of: []body.AreaKind{"zone", "bores", "joints"}, Method: "penetrant", Within: unit.Some(unit.MM(99))}
	rest := body.AreaRule{ID: "V", Of: []body.AreaKind{"zone", "ribs", "bores", "joints"}, Method: "visual"}
	b.job.Impact = job.Impact{From: "front", At: []geom.Vec{{0, 50, 0}}}
	for _, tc := range []struct {
		name   string
		change func()
		want   string
	}{
		{"no rules: nothing is found", func() {}, ""},
		{"near and far", func() { p.Areas = []body.AreaRule{rule, rest} },
			"A-A penetrant, A-B visual, A-B.bores visual, A-J1 penetrant, A-J2 penetrant, A-J4 penetrant"},
		{"the side that was hit", func() { b.job.Impact.At = nil },
			"A-A penetrant, A-B visual, A-B.bores visual, A-J1 penetrant, A-J2 penetrant, A-J4 penetrant"},
		{"from behind", func() { b.job.Impact.From = "rear" },
			"A-A visual, A-B penetrant, A-B.bores penetrant, A-J1 visual, A-J2 penetrant, A-J4 penetrant"},
		{"nobody knows where: everything is near", func() { b.job.Impact.From = "unknown" },
			"A-A penetrant, A-B penetrant, A-B.bores penetrant, A-J1 penetrant, A-J2 penetrant, A-J4 penetrant"},
		{"on the load path only", func() { p.Areas[0].LoadPath = true },
			"A-A penetrant, A-B visual, A-B.bores visual, A-J1 penetrant, A-J2 penetrant, A-J4 penetrant"},
		{"no rule fits: the surest method", func() { p.Areas = []body.AreaRule{{ID: "Z", Of: []body.AreaKind{"zone"}, Method: "visual"}} },
			"A-A visual, A-B visual, A-B.bores penetrant, A-J1 penetrant, A-J2 penetrant, A-J4 penetrant"},
		{"one written in the body takes its place", func() {
			b.body.Inspect = []body.Area{{ID: "A-A", Casting: "C", Zone: "A", Method: "penetrant", Finds: 2}}
		},
			"A-A penetrant, A-B visual, A-B.bores penetrant, A-J1 penetrant, A-J2 penetrant, A-J4 penetrant"},
	} {
		tc.change()
		r, _ := Run(b.input(t))
		if got := areaTexts(r); got != tc.want {
			t.Errorf("%s:\ngot  %s\nwant %s", tc.name, got, tc.want)
		}
		known := b.body.AreaIDs()
		for _, c := range r.Coverage {
			if !strings.Contains(" "+strings.Join(known, " ")+" ", " "+c.Area+" ") {
				t.Errorf("%s: %s is not among the identities a job may use", tc.name, c.Area)
			}
		}
	}
}

// An area says all the zones it lies in, also those that the line of a joint only passes
// between its points, and how near it is to the impact. Constructed on the plate: J5 begins
// and ends in zone A and passes B; part of J6 lies off the plate, and J2 nowhere.
func TestAreasSayWhereTheyLie(t *testing.T) {
	m := plate()
	for f, c := range m.Faces {
		if m.Points[c[0]][0] >= 150 {
			m.Label[f] = m.Label[0] // A again, from x = 150 on
		}
	}
	b := newBench(m)
	b.body.Joints = []body.Joint{{ID: "J1", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{10, 20, 0}, {10, 80, 0}}}}, {ID: "J2", Layers: []body.PartID{"P"}},
		{ID: "J4", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{90, 20, 0}, {110, 20, 0}}}},
		{ID: "J5", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{20, 10, 0}, {190, 90, 0}}}},
		{ID: "J6", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{10, 20, 0}}, {{10, 20, 300}}}}}
	b.body.Joints = append(b.body.Joints, body.Joint{ID: "J7", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{20, 10, 0}, {20, 90, 0}}, {{140, 10, 0}, {140, 90, 0}}}})
	b.body.Procedures[0].Areas = []body.AreaRule{{ID: "V", Of: []body.AreaKind{"zone", "joints"}, Method: "visual"}}
	b.job.Impact = job.Impact{From: "front", At: []geom.Vec{{0, 50, 0}}}
	r, _ := Run(b.input(t))
	want := map[string]string{"A-A": "[A] 0", "A-B": "[B] 100", "A-J1": "[A] 32", "A-J2": "[] 0", "A-J4": "[A B] 95", "A-J5": "[A B] 45", "A-J6": "[A ] 32", "A-J7": "[A B] 45"}
	for _, c := range r.Coverage {
		if got := fmt.Sprintf("%v %.0f", c.Zones, c.ImpactMM); got != want[c.Area] {
			t.Errorf("%s: %s, want %s", c.Area, got, want[c.Area])
		}
	}
	if len(r.Coverage) != len(want) {
		t.Errorf("%d areas", len(r.Coverage))
	}
}

// An entry for a zone stands for what lies in it, unless that has its own.
func TestEntryOfAZoneStandsForItsParts(t *testing.T) {
	b := newBench(plate())
	b.body.Castings[0].Bores = []body.Bore{{ID: "h", At: geom.Vec{150, 50, 0}, Axis: geom.Vec{0, 0, 1}, Radius: 5}}
	b.body.Procedures[0].Areas = []body.AreaRule{{ID: "V", Of: []body.AreaKind{"zone", "bores"}, Method: "visual"}}
	covered := func(r Result, id string) Coverage {
		for _, c := range r.Coverage {
			if c.Area == id {
				return c
			}
		}
		t.Fatalf("no area %s in %s", id, areaTexts(r))
		return Coverage{}
	}
	b.job.Areas = []job.AreaSeen{{Area: "A-B", State: "seen", Look: "VT", By: "T", On: benchDay}}
	r, _ := Run(b.input(t))
	if c := covered(r, "A-B.bores"); !c.Covered || c.Own || c.FindsMM != 4 {
		t.Errorf("%+v", c)
	}
	b.job.Areas = append(b.job.Areas, job.AreaSeen{Area: "A-B.bores", State: "not-reachable"}, job.AreaSeen{Area: "A-B.ribs", State: "seen", Look: "VT", By: "T", On: benchDay})
	r, notes := Run(b.input(t))
	if c := covered(r, "A-B.bores"); c.Covered || !c.Own || len(r.Open()) != 2 {
		t.Errorf("%+v, open %d", c, len(r.Open()))
	}
	if has(notes, "inspect.no-such-area", "A-B.ribs") == nil {
		t.Error("a plate without ribs has an area of ribs")
	}
	b.job.Areas = nil
	r, notes = Run(b.input(t))
	if has(notes, "inspect.not-covered", "A-B") == nil || has(notes, "inspect.not-covered", "A-B.bores") != nil || len(r.Open()) != 2 {
		t.Errorf("a zone not looked at is told more than once: %+v", notes)
	}
}

// On a mesh that does not say on which side its metal is, nothing is called the feet
// of ribs: all sharp edges are asked for, and the name says why. Constructed: a
// closed slab turned inside out has its outline of 2 x 600 mm and four edges of 5 mm;
// so has one with a turned triangle, but for the edges it has no part in.
func TestFeetOfRibsAreNotNamedInsideOut(t *testing.T) {
	for _, turned := range []int{1, 1 << 30} {
		m := slab(5)
		for f := range m.Faces[:min(turned, len(m.Faces))] {
			m.Faces[f][0], m.Faces[f][1] = m.Faces[f][1], m.Faces[f][0]
		}
		s, err := mesh.NewSurface(m)
		if err != nil {
			t.Fatal(err)
		}
		f := vehicle.Alone(nil, s).RibFeet()
		sum := 0.0
		for _, x := range f.By {
			sum += x.LengthMM
		}
		near(t, "sharp edges", sum, 2*600+4*5, 1e-6)
		b := newBench(m)
		b.body.Procedures[0].Areas = []body.AreaRule{{ID: "V", Of: []body.AreaKind{"zone", "ribs"}, Method: "visual"}}
		r, _ := Run(b.input(t))
		said := false
		for _, c := range r.Coverage {
			said = said || strings.Contains(c.Name, "sharp edges (its mesh does not say")
			if strings.Contains(c.Name, ", feet of the ribs") {
				t.Errorf("%q", c.Name)
			}
		}
		if f.Sure || !said {
			t.Errorf("%d turned: sure %v, told %v", turned, f.Sure, said)
		}
	}
}

func TestFeetOfRibs(t *testing.T) {
	// Constructed: one edge of 80 mm, inner or outer by the side it is seen from.
	for _, c := range []struct {
		m    *mesh.Mesh
		want float64
	}{{roof(), 0}, {valley(), 80}, {plate(), 0}, {slab(5), 0}} {
		s, err := mesh.NewSurface(c.m)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, f := range vehicle.Alone(nil, s).RibFeet().By {
			sum += f.LengthMM
		}
		near(t, "feet", sum, c.want, 1e-9)
	}
}
