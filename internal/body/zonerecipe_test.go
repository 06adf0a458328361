package body

import (
	"errors"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// brick is a closed box from the origin, each side cut into n by n cells.
func brick(size geom.Vec, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for axis := range 3 {
		u, v := (axis+1)%3, (axis+2)%3
		for side := range 2 {
			p := func(i, j int) int32 {
				var q geom.Vec
				q[axis], q[u], q[v] = size[axis]*float64(side), size[u]*float64(i)/float64(n), size[v]*float64(j)/float64(n)
				m.Points = append(m.Points, q)
				return int32(len(m.Points) - 1)
			}
			for i := range n {
				for j := range n {
					a, b, c, d := p(i, j), p(i+1, j), p(i+1, j+1), p(i, j+1)
					if side == 0 {
						b, d = d, b
					}
					m.Faces = append(m.Faces, [3]int32{a, b, c}, [3]int32{a, c, d})
				}
			}
		}
	}
	out, _ := mesh.Weld(m)
	return out
}

func recipe(t *testing.T, text string) *ZoneRecipe {
	t.Helper()
	r, err := DecodeZoneRecipe("zones.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// docRecipe is the recipe of docs/formats/zones.md.
func docRecipe(t *testing.T) string {
	t.Helper()
	page, err := os.ReadFile("../../docs/formats/zones.md")
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile("(?s)```yaml zones.yaml\n(.*?)```").FindStringSubmatch(string(page))
	if found == nil {
		t.Fatal("the page has no recipe")
	}
	return found[1]
}

// Expected: areas of the parts of a box of 200 x 100 x 50 mm, constructed.
func TestZoneRecipeOfThePage(t *testing.T) {
	r := recipe(t, docRecipe(t))
	var before *mesh.Mesh
	for _, n := range []int{1, 4} { // a finer mesh of the same box gives the same areas
		box := brick(geom.Vec{200, 100, 50}, n)
		made, err := r.Apply(box)
		if err != nil {
			t.Fatal(err)
		}
		seat := 40.0 * 100
		tip := 80*100 + 2*80*50 + 100*50.0
		want := []float64{70000 - tip - 8000 - seat, tip, 8000, seat}
		for i, z := range made.Zones {
			if math.Abs(z.AreaMM2-want[i]) > 1e-6*want[i] || z.Pieces != 1 {
				t.Errorf("n = %d, %s: %.3f mm2 in %d pieces, want %.3f", n, z.ID, z.AreaMM2, z.Pieces, want[i])
			}
		}
		if f := made.Mesh.Faults(); !f.Closed() || math.Abs(made.Mesh.VolumeMM3()-1e6) > 1e-3 {
			t.Errorf("the cut mesh is not the box: %+v, %.6f mm3", f, made.Mesh.VolumeMM3())
		}
		again, err := r.Apply(box)
		if err != nil || len(again.Mesh.Faces) != len(made.Mesh.Faces) || box.Label != nil {
			t.Error("the recipe changed what it was applied to")
		}
		before = made.Mesh
	}
	text := string(EncodeZoneRecipe(r))
	round, err := DecodeZoneRecipe("again.yaml", []byte(text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	made, err := round.Apply(brick(geom.Vec{200, 100, 50}, 4))
	if err != nil || len(made.Mesh.Faces) != len(before.Faces) {
		t.Errorf("written and read back it does something else: %v", err)
	}
}

const head = `format: fettle-zones 1
mesh: box.ply
mesh_unit: mm
rest: A
zones:
  - {id: A, label: 1, name: A}
  - {id: B, label: 2, name: B}
steps:
  - {do: grow, zone: B, from_mm: [[100, 50, 50]]}
`

// Expected: constructed. The top is 200 x 100 mm with cells of 5 mm; moving its
// border by 10 mm along the surface takes or leaves a band of 10 mm.
func TestZoneStepsMoveAndMergeBorders(t *testing.T) {
	box := brick(geom.Vec{200, 200, 100}, 20)
	for _, c := range []struct {
		name, steps string
		want        float64
	}{
		{"the top", "", 200 * 200},
		{"widened", "  - {do: widen, zone: B, by: 10 mm}\n", 200*200 + 4*200*10},
		{"shrunk", "  - {do: shrink, zone: B, by: 20 mm, to: A}\n", 160 * 160},
		{"merged", "  - {do: cut, zone: A, only: [B], planes: [{normal: [1, 0, 0], offset: 100 mm}]}\n  - {do: grow, zone: B, from_mm: [[150, 50, 100]]}\n", 200 * 200},
	} {
		text := strings.Replace(head, "[[100, 50, 50]]", "[[100, 50, 100]]", 1)
		made, err := recipe(t, text+c.steps).Apply(box)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if got := made.Zones[1].AreaMM2; math.Abs(got-c.want) > 1e-6*c.want {
			t.Errorf("%s: %.3f mm2, want %.3f", c.name, got, c.want)
		}
	}
	// All of it merged into one zone leaves the other empty: refused.
	_, err := recipe(t, strings.Replace(head, "50, 50]]", "50, 100]]", 1)+"  - {do: merge, zone: A, merge: [B]}\n").Apply(box)
	if err == nil || !strings.Contains(err.Error(), `zones.yaml:7:10: zones[1].id: no face is in zone "B"`) {
		t.Errorf("%v", err)
	}
}

func TestZoneRecipeFaults(t *testing.T) {
	box := brick(geom.Vec{200, 100, 50}, 1)
	for _, c := range []struct{ name, text, want string }{
		{"unknown zone", strings.Replace(head, "zone: B", "zone: C", 1), `zones.yaml:9:22: steps[0].zone: zone "C" does not exist`},
		{"label twice", strings.Replace(head, "label: 2", "label: 1", 1), "zones[1].label: 1 cannot be the number"},
		{"zone twice", strings.Replace(head, "id: B", "id: A", 1), `the zone "A" is there twice`},
		{"field of another step", strings.Replace(head, "zone: B,", "zone: B, by: 3 mm,", 1), `a step "grow" does not take this field`},
		{"no points", strings.Replace(head, ", from_mm: [[100, 50, 50]]", "", 1), "no point is given to start from"},
		{"unknown step", strings.Replace(head, "do: grow", "do: paint", 1), "steps[0].do"},
		{"sharp", strings.Replace(head, "rest: A", "sharp: 200 deg\nrest: A", 1), "zones.yaml:4:8: sharp: the angle is not usable"},
		{"no direction", head + "  - {do: cut, zone: B, planes: [{normal: [0, 0, 0], offset: 3 mm}]}\n", "the normal has no direction"},
		{"off the surface", strings.Replace(head, "50, 50]]", "50, 60]]", 1), "steps[0].from_mm[0]: the point lies 10.0 mm off the surface"},
		{"changes nothing", head + head[strings.Index(head, "  - {do"):], "zones.yaml:10:5: steps[1]: the step changes no face"},
		{"bare", strings.Replace(head, "rest: A\n", "", 1), "faces are in no zone at the end"},
		{"merged into itself", head + "  - {do: merge, zone: B, merge: [B]}\n", "merged into itself"},
		{"smooth without reach", head + "  - {do: smooth}\n", "the reach is not above 0 mm"},
		{"shrink to nowhere", head + "  - {do: shrink, zone: B, by: 4 mm}\n", "steps[1].to: the zone is missing"},
		{"version", strings.Replace(head, "zones 1", "zones 2", 1), "format"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := DecodeZoneRecipe("zones.yaml", []byte(c.text))
			if err == nil {
				_, err = r.Apply(box)
			}
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("%v, want %q", err, c.want)
			}
			if ps := (diag.Problems)(nil); !errors.As(err, &ps) {
				t.Errorf("%T has no place in the file", err)
			}
		})
	}
}

// holedSides is the sides of the hole in a plate.
const holedSides = 32

// holedPlate is a round plate 8 mm thick with a hole in it, of 12 and 40 mm.
func holedPlate() *mesh.Mesh {
	const sides = holedSides
	m := &mesh.Mesh{}
	for _, z := range []float64{0, 8} {
		for _, r := range []float64{12, 40} {
			for k := range sides {
				s, c := math.Sincos(2 * math.Pi * float64(k) / sides)
				m.Points = append(m.Points, geom.Vec{50 + r*c, 60 + r*s, z})
			}
		}
	}
	strip := func(a, b int32) {
		for k := range int32(sides) {
			n := (k + 1) % sides
			m.Faces = append(m.Faces, [3]int32{a + k, a + n, b + n}, [3]int32{a + k, b + n, b + k})
		}
	}
	strip(32, 0)  // below
	strip(64, 96) // above
	strip(0, 64)  // the hole
	strip(96, 32) // outside
	for f, t := range m.Faces {
		m.Faces[f] = [3]int32{t[0], t[2], t[1]}
	}
	return m
}

// Expected: constructed, a prism of 32 sides through a plate; the radius of its
// corners is 12 mm.
func TestFindFeatures(t *testing.T) {
	m := holedPlate()
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	f := FindFeatures(s, 30*math.Pi/180, 0.1, 0)
	if len(f.Regions) != 4 || len(f.Bores) != 1 || len(f.FreeEdges) != 0 {
		t.Fatalf("%+v", f)
	}
	// 8 mm thick; its outline is 32 chords of a circle of 40 mm
	if len(f.WallEnds) != 1 || math.Abs(f.WallMM-8) > 1e-6 || math.Abs(f.WallEnds[0].LengthMM-64*40*math.Sin(math.Pi/32)) > 1e-9 || math.Abs(f.WallEnds[0].ThickMM-8) > 1e-9 {
		t.Errorf("ends of walls: %g %+v", f.WallMM, f.WallEnds)
	}
	// walls are looked for up to twice as thick as is given: 8 mm is
	for given, ends := range map[unit.MM]int{3.9: 0, 4.1: 1, 10: 1} {
		if f := FindFeatures(s, 30*math.Pi/180, 0.1, given); f.WallMM != float64(given) || len(f.WallEnds) != ends {
			t.Errorf("walls of %s: taken as %g mm, %d ends", given, f.WallMM, len(f.WallEnds))
		}
	}
	b := f.Bores[0]
	if b.At.Dist(geom.Vec{50, 60, 4}) > 1e-3 || math.Abs(math.Abs(b.Axis[2])-1) > 1e-6 || math.Abs(float64(b.Radius)-12) > 1e-3 {
		t.Errorf("%+v", b)
	}
	draft, err := f.Draft("plate.ply", "mm", 30*math.Pi/180, 0.1, 0.2)
	if err != nil {
		t.Fatal(err)
	}
	made, err := draft.roundTrip(t).Apply(m)
	if err != nil {
		t.Fatal(err)
	}
	if len(made.Zones) != 3 || len(made.Bores) != 1 { // above and below, and the rest
		t.Errorf("%+v", made.Zones)
	}
	open := *m
	open.Faces = m.Faces[2*holedSides:]
	if s, err = mesh.NewSurface(&open); err != nil {
		t.Fatal(err)
	}
	if f = FindFeatures(s, 30*math.Pi/180, 0.1, 0); len(f.FreeEdges) != 2 || !f.FreeEdges[0].Closed {
		t.Errorf("%+v", f.FreeEdges)
	}
}

func (r *ZoneRecipe) roundTrip(t *testing.T) *ZoneRecipe {
	t.Helper()
	return recipe(t, string(EncodeZoneRecipe(r)))
}

// FuzzZoneRecipe changes a recipe: nothing panics, what is read is written and
// read alike, and every face of a box gets a number the recipe has, or none.
func FuzzZoneRecipe(f *testing.F) {
	page, err := os.ReadFile("../../docs/formats/zones.md")
	if err != nil {
		f.Fatal(err)
	}
	found := regexp.MustCompile("(?s)```yaml zones.yaml\n(.*?)```").FindSubmatch(page)
	if found == nil {
		f.Fatal("the page has no recipe")
	}
	f.Add(found[1])
	f.Add([]byte("format: fettle-zones 1\nmesh: a.ply\nmesh_unit: mm\nrest: A\nzones: [{id: A, label: 1, name: A}, {id: B, label: 7, name: B}]\nsteps:\n  - {do: grow, zone: B, from_mm: [[1, 1, 0]], spread: 20 deg}\n  - {do: widen, zone: B, by: 4 mm}\n  - {do: shrink, zone: B, by: 1 mm, to: A}\n  - {do: smooth, reach: 2 mm}\n  - {do: merge, zone: A, merge: [B]}\n"))
	f.Add([]byte("format: fettle-zones 1\nmesh: a.ply\nmesh_unit: mm\nzones: [{id: A, label: 1, name: A}]\nsteps:\n  - {do: cut, zone: A, only: [none], planes: [{normal: [1, 0, 0], offset: 100 mm}]}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := DecodeZoneRecipe("zones.yaml", data)
		if err != nil {
			return
		}
		first := EncodeZoneRecipe(r)
		again, err := DecodeZoneRecipe("zones.yaml", first)
		if err != nil || string(EncodeZoneRecipe(again)) != string(first) {
			t.Fatalf("%v: written as\n%s", err, first)
		}
		made, err := r.Apply(brick(geom.Vec{200, 100, 50}, 1))
		if err != nil {
			return
		}
		labels := map[int32]bool{0: true}
		for _, z := range r.Zones {
			labels[int32(z.Label)] = true
		}
		for _, l := range made.Mesh.Label {
			if !labels[l] {
				t.Fatalf("a face has the number %d", l)
			}
		}
	})
}
