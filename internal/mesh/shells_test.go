package mesh

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// insideOut is a mesh with all its triangles turned.
func insideOut(m *Mesh) *Mesh {
	out := &Mesh{Points: m.Points}
	for _, f := range m.Faces {
		out.Faces = append(out.Faces, [3]int32{f[0], f[2], f[1]})
	}
	return out
}

// A block of 40 x 30 x 20 mm with closed voids, one of them with a core of metal in
// it, divided anywhere, square or slanting, inside a window or not: the volumes are
// those of the boxes (constructed; for a plane square to x exact), the areas add
// up, and the line divides whatever void it goes through.
func TestSectionOfAPartWithVoids(t *testing.T) {
	r := rand.New(rand.NewPCG(14, 9))
	at := func(m *Mesh, x, y, z float64) *Mesh { return shifted(m, geom.Vec{x, y, z}) }
	m := joined(boxMesh(40, 30, 20), insideOut(at(boxMesh(6, 10, 10), 5, 10, 5)), insideOut(at(boxMesh(14, 20, 16), 20, 5, 2)),
		at(boxMesh(4, 4, 4), 25, 12, 8))
	if d := m.SidesDoubt(); d != "" || m.Cavities() != 2 || math.Abs(m.VolumeMM3()-(24000-600-4480+64)) > 1e-9 {
		t.Fatalf("%q, %d voids, %g mm3", d, m.Cavities(), m.VolumeMM3())
	}
	m = joined(boxMesh(40, 30, 20), insideOut(at(boxMesh(6, 10, 10), 5, 10, 5)), insideOut(at(boxMesh(14, 20, 16), 20, 5, 2)))
	left := func(x float64) float64 {
		return 600*x - 100*max(0, min(6, x-5)) - 320*max(0, min(14, x-20))
	}
	for k := range 60 {
		x := 0.5 + 39*r.Float64()
		n := geom.Vec{1, 0, 0}
		if k%2 == 1 {
			n = geom.Vec{1, 0.3*r.Float64() - 0.15, 0.3*r.Float64() - 0.15}
		}
		c, err := m.Section([]Plane{{n, n.Dot(geom.Vec{x, 15, 10})}}, 0)
		if err != nil || !c.Divides || !c.VolumesExact {
			t.Fatalf("x = %g, n = %v: %v %v %q", x, n, err, c.Reasons, c.VolumeDoubt)
		}
		if math.Abs(c.Rest.VolumeMM3+c.Outer.VolumeMM3-18920) > 1e-6 || math.Abs(c.Rest.AreaMM2+c.Outer.AreaMM2-m.AreaMM2()) > 1e-6 || k%2 == 0 && math.Abs(c.Rest.VolumeMM3-left(x)) > 1e-6 {
			t.Errorf("x = %g, n = %v: %g and %g mm3, want %g", x, n, c.Rest.VolumeMM3, c.Outer.VolumeMM3, left(x))
		}
		// in a window that holds the whole line: which part an untouched void is in is looked for
		w, err := m.SectionWithin([]Plane{{n, n.Dot(geom.Vec{x, 15, 10})}}, &Window{geom.Vec{x - 6, -1, -1}, geom.Vec{x + 6, 31, 21}}, 0)
		if err != nil || !w.Divides || math.Abs(w.Rest.AreaMM2-c.Rest.AreaMM2) > 1e-6 || math.Abs(w.Rest.VolumeMM3-c.Rest.VolumeMM3) > 1e-6 {
			t.Errorf("x = %g, n = %v in a window: %v %v, %g mm2 and %g mm3, want %g and %g", x, n, err, w.Reasons, w.Rest.AreaMM2, w.Rest.VolumeMM3, c.Rest.AreaMM2, c.Rest.VolumeMM3)
		}
	}
	if c, err := m.Section([]Plane{{geom.Vec{1, 0, 0}, 50}}, 0); err != nil || c.Divides {
		t.Errorf("beside the part: %v %v", err, c.Reasons)
	}
	// a piece of metal beside it is no void: it is in two pieces
	two := joined(m, at(boxMesh(5, 5, 5), 60, 0, 0))
	if c, err := two.Section([]Plane{{geom.Vec{1, 0, 0}, 30}}, 0); err != nil || c.Divides {
		t.Errorf("two parts: %v %v", err, c.Reasons)
	}
}

// Closed pieces that do not say where the metal is have no volume: a void whose
// normals say metal, a piece inside out beside or within metal, all turned.
func TestShellsThatContradict(t *testing.T) {
	block, small := boxMesh(40, 30, 20), shifted(boxMesh(6, 10, 10), geom.Vec{5, 10, 5})
	if d := joined(block, shifted(block, geom.Vec{40, 0, 0})).SidesDoubt(); d != "" { // side by side
		t.Error(d)
	}
	for name, c := range map[string]struct {
		m    *Mesh
		want string
	}{
		"metal within metal":   {joined(block, small), "lies within another"},
		"pushed into it":       {joined(block, shifted(block, geom.Vec{25, 3, 4})), "crosses or lies upon"},
		"there twice":          {joined(block, block), "crosses or lies upon"},
		"all turned":           {insideOut(joined(block, insideOut(small))), "inside out"},
		"turned beside it":     {joined(block, insideOut(shifted(small, geom.Vec{100, 0, 0}))), "is inside out"},
		"void within a void":   {joined(block, insideOut(small), insideOut(shifted(boxMesh(2, 2, 2), geom.Vec{6, 12, 7}))), "is inside out"},
		"turned, small inside": {joined(insideOut(block), small), "inside out"},
	} {
		if got := c.m.SidesDoubt(); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q", name, got)
		}
		x, err := c.m.Section([]Plane{{geom.Vec{1, 0, 0}, 20}}, 0)
		if err != nil || x.VolumesExact || x.Outer.VolumeMM3 != 0 || x.VolumeDoubt == "" {
			t.Errorf("%s: %v %+v", name, err, x.VolumeDoubt)
		}
	}
}
