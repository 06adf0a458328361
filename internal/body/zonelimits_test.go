package body

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// A step of a recipe takes the fields that the page names for its kind, and refuses every other at
// its place: every kind with every field. Source: docs/formats/zones.md.
func TestFieldsOfZoneSteps(t *testing.T) {
	value := map[string]string{"zone": "B", "from_mm": "[[1, 2, 3]]", "angle": "20 deg", "spread": "20 deg", "planes": "[{normal: [1, 0, 0], offset: 3 mm}]",
		"only": "[A]", "by": "3 mm", "to": "A", "merge": "[A]", "reach": "2 mm"}
	takes := map[string][]string{"grow": {"zone", "from_mm", "angle", "spread", "only"}, "cut": {"zone", "planes", "only"}, "widen": {"zone", "by", "only"},
		"shrink": {"zone", "by", "to"}, "merge": {"zone", "merge"}, "fill": nil, "smooth": {"reach"}}
	needs := map[string][]string{"grow": {"zone", "from_mm"}, "cut": {"zone", "planes"}, "widen": {"zone", "by"}, "shrink": {"zone", "by", "to"}, "merge": {"zone", "merge"}, "smooth": {"reach"}}
	told := func(do string, fields []string) string {
		text := head + "  - {do: " + do
		for _, f := range fields {
			text += ", " + f + ": " + value[f]
		}
		_, err := DecodeZoneRecipe("zones.yaml", []byte(text+"}\n"))
		if err == nil {
			return ""
		}
		return err.Error()
	}
	for do, may := range takes {
		if got := told(do, may); got != "" {
			t.Errorf("%s with all its fields: %s", do, got)
		}
		for _, f := range needs[do] {
			without := slices.DeleteFunc(slices.Clone(may), func(x string) bool { return x == f })
			if got := told(do, without); !strings.Contains(got, "zones.yaml:10:5: steps[1]."+f+": ") || strings.Count(got, "\n") > 0 {
				t.Errorf("%s without %s: %q", do, f, got)
			}
		}
		for f := range value {
			got := told(do, append(slices.Clone(may), f))
			if want := !slices.Contains(may, f); !slices.Contains(may, f) && strings.Contains(got, fmt.Sprintf("steps[1].%s: a step %q does not take this field; it takes %s", f, do, strings.Join(may, ", "))) != want {
				t.Errorf("%s with %s: %q", do, f, got)
			}
		}
	}
}

// Limits of the numbers and names of a recipe: up to them it is read, beyond them it is told where.
func TestLimitsOfAZoneRecipe(t *testing.T) {
	step := func(text string) string { return head + "  - {" + text + "}\n" }
	top := func(text string) string { return strings.Replace(head, "rest: A", text+"\nrest: A", 1) }
	for _, c := range []struct{ text, want string }{
		{top("sharp: 0.001 deg"), ""}, {top("sharp: 179.9 deg"), ""}, {top("sharp: 0 deg"), "sharp: "}, {top("sharp: 180 deg"), "sharp: "},
		{top("bore_tolerance: 0.001 mm"), ""}, {top("bore_tolerance: 0 mm"), "bore_tolerance: "}, {top("bore_tolerance: -1 mm"), "bore_tolerance: "},
		{strings.Replace(head, "label: 2", "label: 2147483647", 1), ""}, {strings.Replace(head, "label: 2", "label: 2147483648", 1), "zones[1].label: "}, {strings.Replace(head, "label: 2", "label: 0", 1), "zones[1].label: "},
		{strings.Replace(head, "id: B", "id: none", 1), "zones[1].id: "}, {strings.Replace(head, "id: B", "id: -B", 1), "zones[1].id: "}, {strings.Replace(head, "rest: A", "rest: C", 1), "rest: zone \"C\" does not exist"},
		{strings.Replace(head, "rest: A", "rest: none", 1), "rest: "},
		{step("do: grow, zone: B, from_mm: [[1, 2, 3]], angle: 180 deg, spread: 180 deg"), ""}, {step("do: grow, zone: B, from_mm: [[1, 2, 3]], angle: 0 deg"), "steps[1].angle: "}, {step("do: grow, zone: B, from_mm: [[1, 2, 3]], spread: 0 deg"), "steps[1].spread: "},
		{step("do: grow, zone: B, from_mm: [[1, 2, 3]], angle: 180.1 deg"), "steps[1].angle: "}, {step("do: grow, zone: B, from_mm: [[1, 2, 3]], spread: 180.1 deg"), "steps[1].spread: "}, {step("do: grow, zone: B, from_mm: []"), "steps[1].from_mm: no point"},
		{step("do: grow, zone: B, from_mm: [[1, 2, 3]], only: [none, A]"), ""}, {step("do: grow, zone: B, from_mm: [[1, 2, 3]], only: [A, C]"), "steps[1].only[1]: "}, {step("do: grow, zone: none, from_mm: [[1, 2, 3]]"), "steps[1].zone: "},
		{step("do: cut, zone: B, planes: []"), "steps[1].planes: no plane"}, {step("do: cut, zone: B, planes: [{normal: [1, 0, 0], offset: 0 mm}, {normal: [0, 0, 0], offset: 0 mm}]"), "steps[1].planes[1].normal: "},
		{step("do: widen, zone: B, by: 0 mm"), "steps[1].by: "}, {step("do: widen, zone: B, by: 0.001 mm"), ""}, {step("do: shrink, zone: B, by: -1 mm, to: A"), "steps[1].by: "}, {step("do: shrink, zone: B, by: 1 mm, to: C"), "steps[1].to: "},
		{step("do: merge, zone: B, merge: []"), "steps[1].merge: no zone"}, {step("do: merge, zone: B, merge: [A, C]"), "steps[1].merge[1]: "}, {step("do: smooth, reach: 0 mm"), "steps[1].reach: "}, {step("do: smooth, reach: 0.001 mm"), ""},
		{strings.Replace(head, "  - {id: A, label: 1, name: A}\n  - {id: B, label: 2, name: B}\n", "  []\n", 1), "zones: there are no zones"},
	} {
		r, err := DecodeZoneRecipe("zones.yaml", []byte(c.text))
		switch {
		case c.want == "" && err != nil:
			t.Errorf("%v in\n%s", err, c.text)
		case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "zones.yaml:")):
			t.Errorf("%v, want %q in\n%s", err, c.want, c.text)
		case err == nil && !strings.Contains(c.text, "sharp") && float64(r.Sharp) != 30*math.Pi/180:
			t.Errorf("sharp is %v where it is left out", r.Sharp)
		}
	}
}

// A point to grow from lies within 5 mm of the surface, and on it or not within.
func TestPointsToGrowFrom(t *testing.T) {
	box := brick(geom.Vec{200, 100, 50}, 1)
	for z, want := range map[string]bool{"50": true, "54.99": true, "55": true, "55.01": false, "45.01": true, "44.9": false} {
		_, err := recipe(t, strings.Replace(head, "50, 50]]", "50, "+z+"]]", 1)).Apply(box)
		if (err == nil) != want {
			t.Errorf("from %s mm: %v", z, err)
		}
	}
}

// Zones take only of those they are told to, and what no step gave to a zone can be taken by
// itself. Areas of a box of 200 x 100 x 50 mm by hand.
func TestZonesTakeOnlyWhatTheyMay(t *testing.T) {
	const bare = "format: fettle-zones 1\nmesh: box.ply\nmesh_unit: mm\nzones:\n  - {id: A, label: 1, name: A}\n  - {id: B, label: 2, name: B}\n  - {id: C, label: 7, name: C}\nsteps:\n"
	half := func(zone, only string) string {
		return "  - {do: cut, zone: " + zone + ", planes: [{normal: [1, 0, 0], offset: 100 mm}]" + only + "}\n"
	}
	const left = "  - {do: cut, zone: A, planes: [{normal: [-1, 0, 0], offset: -100 mm}]}\n"
	const all, end, side = 2 * (200*100 + 200*50 + 100*50.), 100 * 50., 100*100*2 + 100*50*2.
	for _, c := range []struct {
		name, steps string
		want        []float64
	}{
		{"right half of what has none", left + half("B", ", only: [none]") + "  - {do: grow, zone: C, from_mm: [[0, 50, 25]]}\n", []float64{side, side + end, end}},
		{"right half of what has one", left + "  - {do: fill}\n" + half("B", ", only: [none, A]") + "  - {do: grow, zone: C, from_mm: [[0, 50, 25]], only: [A]}\n", []float64{side, side + end, end}},
		{"sharp edges are crossed", left + "  - {do: grow, zone: B, from_mm: [[200, 50, 25]], only: [none], angle: 180 deg}\n  - {do: grow, zone: C, from_mm: [[0, 50, 25]]}\n", []float64{side, side + end, end}},
		{"all of it, then one end", "  - {do: grow, zone: A, from_mm: [[0, 50, 25]], angle: 180 deg}\n" + half("B", "") + "  - {do: grow, zone: C, from_mm: [[0, 50, 25]]}\n", []float64{side, side + end, end}},
		{"spread stops it at what turns away", "  - {do: grow, zone: A, from_mm: [[0, 50, 25]], angle: 180 deg}\n  - {do: grow, zone: B, from_mm: [[200, 50, 25]], angle: 180 deg, spread: 80 deg}\n  - {do: grow, zone: C, from_mm: [[0, 50, 25]]}\n", []float64{all - 2*end, end, end}},
	} {
		made, err := recipe(t, bare+c.steps).Apply(brick(geom.Vec{200, 100, 50}, 2))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for i, z := range made.Zones {
			if math.Abs(z.AreaMM2-c.want[i]) > 1e-6*c.want[i] || z.Faces == 0 {
				t.Errorf("%s, %s: %.1f mm2 of %d faces, want %.1f", c.name, z.ID, z.AreaMM2, z.Faces, c.want[i])
			}
		}
	}
	// What no step reaches is counted, and one face of it named: the middle of a triangle of the first end.
	_, err := recipe(t, bare+strings.ReplaceAll(left, "zone: A", "zone: B")+"  - {do: grow, zone: A, from_mm: [[100, 0, 10]], only: [B]}\n  - {do: grow, zone: C, from_mm: [[100, 100, 10]], only: [B]}\n").Apply(brick(geom.Vec{200, 100, 50}, 2))
	if err == nil || !strings.Contains(err.Error(), "24 faces are in no zone at the end, one of them at 200.0, ") {
		t.Errorf("%v", err)
	}
	_, err = recipe(t, bare+"  - {do: widen, zone: A, by: 3 mm}\n").Apply(brick(geom.Vec{200, 100, 50}, 1))
	if err == nil || !strings.Contains(err.Error(), "steps[0].zone: zone \"A\" has no faces yet") {
		t.Errorf("%v", err)
	}
}

// A draft makes every region of at least the share a zone, the largest first, each from a point of
// its own, and the rest one more; exactly the share is enough. A box of 200 x 200 x 100 mm: two
// sides of a quarter of its surface each and four of an eighth.
func TestDraftOfABox(t *testing.T) {
	s, err := mesh.NewSurface(brick(geom.Vec{200, 200, 100}, 1))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		share float64
		zones int
		rest  bool
	}{{0.125, 6, false}, {0.12, 6, false}, {0.1251, 3, true}, {0.25, 3, true}} {
		f := Features{surf: s}
		f.findRegions(defaultSharp)
		if len(f.Regions) != 6 || f.AreaMM2 != 160000 || f.Regions[0].AreaMM2 != 40000 || f.Regions[5].AreaMM2 != 20000 || f.Regions[0].Faces != 2 {
			t.Fatalf("%+v", f.Regions)
		}
		for k, r := range f.Of {
			face := s.Mesh().Faces[k]
			on := func(v int32, at geom.Vec) bool {
				n := s.Mesh().FaceNormal(k)
				return math.Abs(s.Mesh().Points[v].Sub(at).Dot(n)) < 1e-9
			}
			if !on(face[0], f.Regions[r].At) {
				t.Errorf("face %d is not of region %d at %v", k, r, f.Regions[r].At)
			}
		}
		r, err := f.Draft("box.ply", "mm", defaultSharp, 0, c.share)
		if err != nil || len(r.Zones) != c.zones || (r.Rest == "REST") != c.rest {
			t.Fatalf("share %v: %v %+v", c.share, err, r)
		}
		made, err := r.roundTrip(t).Apply(s.Mesh())
		if err != nil {
			t.Fatalf("share %v: %v", c.share, err)
		}
		for i, z := range made.Zones {
			want := 20000.
			if i < 2 {
				want = 40000
			}
			if c.rest && i == 2 {
				want = 80000
			}
			if z.Label != i+1 || z.AreaMM2 != want || z.Name == "" || !c.rest && z.ID != RegionZone(i) {
				t.Errorf("share %v: %+v, want %v mm2", c.share, z, want)
			}
		}
	}
	// Too small for zones all together: the sides of its walls are taken in their place, by their own measure.
	f := Features{surf: s}
	f.findRegions(defaultSharp)
	r, err := f.Draft("box.ply", "mm", defaultSharp, 0, 0.26)
	if err != nil || len(r.Zones) != 1 || r.Rest != "REST" || r.Zones[0].Label != 1 {
		t.Errorf("%v %+v", err, r)
	}
}
