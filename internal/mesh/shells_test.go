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
	for _, scale := range []float64{0x1p-12, 1, 0x1p10} { // the middle of a triangle lies on an edge of the other
		if d := scaled(joined(boxMesh(4, 4, 4), shifted(boxMesh(6, 6, 6), geom.Vec{0, -2, -6})), scale).SidesDoubt(); d != "" {
			t.Errorf("one upon the other, %g times as large: %s", scale, d)
		}
	}
	pillow := &Mesh{Points: []geom.Vec{{1, 2, 3}, {5, 2, 3}, {1, 7, 3}}, Faces: [][3]int32{{0, 1, 2}, {0, 2, 1}}}
	const twice = " crosses or lies upon another: there is no volume"
	for name, c := range map[string]struct {
		m    *Mesh
		want string
	}{
		"metal within metal":    {joined(block, small), "the closed piece at 5.0, 10.0, 5.0 lies within another, and its normals say that it is metal and not a void: there is no volume"},
		"pushed into it":        {joined(block, shifted(block, geom.Vec{25, 3, 4})), "the closed piece at 0.0, 0.0, 0.0" + twice},
		"there twice":           {joined(block, block), "the closed piece at 0.0, 0.0, 0.0" + twice},
		"all turned":            {insideOut(joined(block, insideOut(small))), "the closed piece at 0.0, 0.0, 0.0 is inside out: there is no volume"},
		"turned beside it":      {joined(block, insideOut(shifted(small, geom.Vec{100, 0, 0}))), "the closed piece at 105.0, 10.0, 5.0 is inside out: there is no volume"},
		"void within a void":    {joined(block, insideOut(small), insideOut(shifted(boxMesh(2, 2, 2), geom.Vec{6, 12, 7}))), "the closed piece at 6.0, 12.0, 7.0 is inside out: there is no volume"},
		"turned, small inside":  {joined(insideOut(block), small), "the closed piece at 0.0, 0.0, 0.0 is inside out: there is no volume"},
		"both turned":           {joined(insideOut(block), insideOut(small)), "the mesh is inside out, its normals point into the metal: there is no volume"},
		"flat, alone":           {pillow, "the closed piece at 1.0, 2.0, 3.0 is flat: there is no volume"},
		"flat, within metal":    {joined(block, pillow), "the closed piece at 1.0, 2.0, 3.0 is flat: there is no volume"},
		"flat, upon it":         {joined(block, shifted(pillow, geom.Vec{0, 0, 17})), "the closed piece at 1.0, 2.0, 20.0" + twice},
		"flat, upon a low side": {joined(block, shifted(pillow, geom.Vec{0, 0, -3})), "the closed piece at 1.0, 2.0, 0.0" + twice},
		"flat, above it":        {joined(block, shifted(pillow, geom.Vec{0, 0, 18})), "the closed piece at 1.0, 2.0, 21.0 is flat: there is no volume"},
	} {
		if got := c.m.SidesDoubt(); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
		_, kind, _ := strings.Cut(c.want, ".0 ") // without the place, where there is one
		for _, scale := range []float64{0x1p-12, 0x1p10} {
			if got := scaled(c.m, scale).SidesDoubt(); !strings.HasSuffix(got, kind) {
				t.Errorf("%s, %g times as large: %q, want %q", name, scale, got, kind)
			}
		}
		x, err := c.m.Section([]Plane{{geom.Vec{1, 0, 0}, 20}}, 0)
		if err != nil || x.VolumesExact || x.Outer.VolumeMM3 != 0 || x.VolumeDoubt == "" {
			t.Errorf("%s: %v %+v", name, err, x.VolumeDoubt)
		}
	}
}

// scaled is a mesh so many times as large.
func scaled(m *Mesh, by float64) *Mesh {
	out := &Mesh{Faces: m.Faces, Label: m.Label}
	for _, p := range m.Points {
		out.Points = append(out.Points, p.Scale(by))
	}
	return out
}

// Sound closed pieces stay sound, and voids are counted, however small or large the part is
// (powers of two: exact) and in whatever order its pieces come.
func TestVoidsOfAnySize(t *testing.T) {
	block, void, core := boxMesh(40, 30, 20), insideOut(shifted(boxMesh(10, 10, 10), geom.Vec{5, 10, 5})), shifted(boxMesh(4, 4, 4), geom.Vec{8, 13, 8})
	hollow := insideOut(shifted(boxMesh(6, 6, 6), geom.Vec{25, 12, 7}))
	other := shifted(block, geom.Vec{0, 50, 0})
	for _, scale := range []float64{0x1p-14, 0x1p-6, 1, 0x1p10} {
		for want, m := range map[int]*Mesh{0: joined(block, other), 1: joined(void, core, block), 2: joined(hollow, other, block, void)} {
			m = scaled(m, scale)
			if d, n := m.SidesDoubt(), m.Cavities(); d != "" || n != want {
				t.Errorf("%g times as large: %q, %d voids, want %d", scale, d, n, want)
			}
		}
	}
}

// Which lies in which is looked for as far as the work that is allowed goes: two boxes of twelve
// faces that overlap cost eight places of each against the faces of the other, those apart nothing.
func TestWorkToTellShellsApart(t *testing.T) {
	near := joined(boxMesh(4, 4, 4), shifted(boxMesh(4, 4, 4), geom.Vec{1, 1, 1}), shifted(boxMesh(4, 4, 4), geom.Vec{9, 0, 0}))
	list, of, whole := near.shells()
	if !whole || len(list) != 3 {
		t.Fatalf("%d pieces, all told apart %t", len(list), whole)
	}
	for f, i := range of {
		if int(i) != f/12 {
			t.Errorf("face %d is of piece %d", f, i)
		}
	}
	const work = 2 * 8 * 12
	if !near.nest(list, work) || near.nest(list, work-1) {
		t.Errorf("told apart with %d: %t, with one less: %t", work, near.nest(list, work), near.nest(list, work-1))
	}
	if got, want := near.doubtOf(list, false), "the mesh has 3 closed pieces, too many to see which lies in which: there is no volume"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	// no closed piece: one with a rim, one with a face of two equal corners, one turned in part
	open := boxMesh(4, 4, 4)
	open.Faces = open.Faces[1:]
	torn := boxMesh(4, 4, 4)
	torn.Faces = append(torn.Faces, [3]int32{1, 1, 2})
	turned := boxMesh(4, 4, 4)
	turned.Faces[5] = [3]int32{turned.Faces[5][1], turned.Faces[5][0], turned.Faces[5][2]}
	list, of, _ = joined(open, turned, torn).shells()
	if len(list) != 1 || len(list[0].faces) != 12 || list[0].lo != (geom.Vec{}) || list[0].hi != (geom.Vec{4, 4, 4}) || list[0].volume != 64 {
		t.Errorf("%+v", list)
	}
	for f, i := range of {
		want := int32(none)
		if f >= 11+12 && f < 11+12+12 {
			want = 0
		}
		if i != want {
			t.Errorf("face %d is of piece %d, want %d", f, i, want)
		}
	}
}

// The solid angle of a box is a full turn from within, half from a side, a quarter from an edge
// and none from outside, and a place is on it there and nowhere else, also straight beside a side
// in its plane. Expected: by symmetry. As large as may be or small: powers of two.
func TestSolidAnglesOfABox(t *testing.T) {
	for _, scale := range []float64{0x1p-20, 0x1p-7, 1, 0x1p12} {
		m := scaled(boxMesh(4, 4, 4), scale)
		all := make([]int32, len(m.Faces))
		for f := range all {
			all[f] = int32(f)
		}
		for _, c := range []struct {
			at    geom.Vec
			turns float64
			on    bool
		}{
			{geom.Vec{2, 2, 2}, 1, false}, {geom.Vec{1, 3, 0x1p-10}, 1, false}, {geom.Vec{1, 2, 4}, 0.5, true}, {geom.Vec{2, 2, 0}, 0.5, true}, {geom.Vec{2, 0, 4}, 0.25, true},
			{geom.Vec{1, 2, 4 + 0x1p-10}, 0, false}, {geom.Vec{5, 2, 4}, 0, false}, {geom.Vec{4 + 0x1p-3, 1, 0}, 0, false}, {geom.Vec{9, 9, 9}, 0, false}, {geom.Vec{2, -1, 2}, 0, false},
		} {
			if sum, on := m.solidAngle(all, c.at.Scale(scale)); on != c.on || math.Abs(sum/(4*math.Pi)-c.turns) > 2e-3 && !on || on && math.Abs(math.Abs(sum/(4*math.Pi))-c.turns) > c.turns+1e-9 {
				t.Errorf("from %v of a box %g times as large: %g turns, on it %t, want %g and %t", c.at, scale, sum/(4*math.Pi), on, c.turns, c.on)
			}
		}
	}
}
