package mesh

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// joined is several meshes as one, points apart.
func joined(list ...*Mesh) *Mesh {
	out := &Mesh{}
	for _, m := range list {
		n := int32(len(out.Points))
		out.Points = append(out.Points, m.Points...)
		for _, t := range m.Faces {
			out.Faces = append(out.Faces, [3]int32{t[0] + n, t[1] + n, t[2] + n})
		}
	}
	return out
}

func shifted(m *Mesh, d geom.Vec) *Mesh {
	out := &Mesh{Faces: m.Faces}
	for _, p := range m.Points {
		out.Points = append(out.Points, p.Add(d))
	}
	return out
}

// Expected: constructed; which faces meet follows from where the boxes stand.
func TestContacts(t *testing.T) {
	cube := boxMesh(10, 10, 10)
	doubled := boxMesh(10, 10, 10)
	doubled.Faces = append(doubled.Faces, doubled.Faces[0])
	flap := &Mesh{Points: []geom.Vec{{0, 0, 0}, {10, 0, 0}, {5, 8, 0}, {5, 3, 0}}, Faces: [][3]int32{{0, 1, 2}, {1, 0, 3}}}
	corner := &Mesh{Points: []geom.Vec{{0, 0, 0}, {10, 0, 0}, {0, 10, 0}, {4, 4, -5}, {4, 4, 5}}, Faces: [][3]int32{{0, 1, 2}, {0, 3, 4}}}
	apex := &Mesh{Points: []geom.Vec{{0, 0, 0}, {10, 0, 0}, {0, 10, 0}, {-4, 4, -5}, {-4, 4, 5}}, Faces: [][3]int32{{0, 1, 2}, {0, 3, 4}}}
	for _, c := range []struct {
		name string
		m    *Mesh
		meet bool
	}{
		{"a cube", cube, false},
		{"two cubes with a gap of a thousandth", joined(cube, shifted(cube, geom.Vec{10.001, 0, 0})), false},
		{"two cubes side to side", joined(cube, shifted(cube, geom.Vec{10, 0, 0})), true},
		{"one cube through another", joined(cube, shifted(cube, geom.Vec{5, 5, 5})), true},
		{"one cube inside another", joined(cube, shifted(boxMesh(2, 2, 2), geom.Vec{4, 4, 4})), false},
		{"a corner on a side", joined(cube, shifted(icosphere(0), geom.Vec{5, 5, 10 + 0.8506508083520400})), true},
		{"a face twice", doubled, true},
		{"a flap folded onto its neighbour", flap, true},
		{"through the face behind a shared corner", corner, true},
		{"beside a shared corner", apex, false},
		{"a ring", bumpyTorus(60, 30, 3), false},
		{"a sphere", icosphere(3), false},
	} {
		t.Run(c.name, func(t *testing.T) {
			list, n, _ := c.m.Contacts(0)
			if (n > 0) != c.meet || len(list) != n {
				t.Errorf("%d contacts, listed %v", n, list)
			}
			if some, all, whole := c.m.Contacts(1); !whole || all != n || len(some) != min(n, 1) {
				t.Errorf("with a limit of one: %d of %d", len(some), all)
			}
		})
	}
}

// TestContactsMatchPairs holds the search against all pairs on random soups
// (seeds in the names), and against the same soup with its faces in another
// order.
func TestContactsMatchPairs(t *testing.T) {
	for seed := range uint64(6) {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			r := rand.New(rand.NewPCG(seed, 1))
			m := &Mesh{}
			for range 400 {
				at := geom.Vec{r.Float64(), r.Float64(), r.Float64()}.Scale(20)
				n := int32(len(m.Points))
				for range 3 {
					m.Points = append(m.Points, at.Add(geom.Vec{r.Float64(), r.Float64(), r.Float64()}.Scale(3)))
				}
				m.Faces = append(m.Faces, [3]int32{n, n + 1, n + 2})
			}
			for range 100 { // faces that share a corner with another
				n := int32(len(m.Points))
				v := r.Int32N(n)
				m.Points = append(m.Points, m.Points[v].Add(geom.Vec{r.Float64(), r.Float64(), r.Float64()}), m.Points[v].Add(geom.Vec{0, 1, 1}))
				m.Faces = append(m.Faces, [3]int32{v, n, n + 1})
			}
			c := contactFinder{m: m, eps: 23 * contactRel}
			want := map[[2]int32]bool{}
			for f := range int32(len(m.Faces)) {
				for g := f + 1; g < int32(len(m.Faces)); g++ {
					if _, ok := c.meet(f, g); ok {
						want[[2]int32{f, g}] = true
					}
				}
			}
			list, n, _ := m.Contacts(0)
			if n != len(want) || n < 20 {
				t.Fatalf("%d contacts, all pairs give %d", n, len(want))
			}
			for _, x := range list {
				if !want[x.Faces] {
					t.Errorf("%v do not meet", x.Faces)
				}
			}
			turned := &Mesh{Points: m.Points}
			for f := len(m.Faces) - 1; f >= 0; f-- {
				turned.Faces = append(turned.Faces, [3]int32{m.Faces[f][1], m.Faces[f][2], m.Faces[f][0]})
			}
			if _, k, _ := turned.Contacts(0); k != n {
				t.Errorf("in another order: %d contacts, want %d", k, n)
			}
		})
	}
}

func BenchmarkContactsMillion(b *testing.B) {
	m := bumpyTorus(1000, 500, 1)
	for b.Loop() {
		if _, n, _ := m.Contacts(0); n != 0 {
			b.Fatal(n)
		}
	}
}

// The search for contacts ends on meshes of which every face overlaps every other,
// and says that it left some out: a fan of large triangles through one point, random
// triangles, and one triangle again and again. Counted, so that no clock is needed.
func TestContactsEnd(t *testing.T) {
	r := rand.New(rand.NewPCG(14, 14))
	point := func(size float64) geom.Vec {
		return geom.Vec{size * r.NormFloat64(), size * r.NormFloat64(), size * r.NormFloat64()}
	}
	const n = 1200
	fan, soup, same := &Mesh{Points: []geom.Vec{{}}}, &Mesh{}, &Mesh{Points: []geom.Vec{{}, {9, 0, 0}, {0, 9, 0}}}
	for k := range int32(n) {
		fan.Points = append(fan.Points, point(100), point(100))
		fan.Faces = append(fan.Faces, [3]int32{0, 2*k + 1, 2*k + 2})
		soup.Points = append(soup.Points, point(100), point(100), point(100))
		soup.Faces = append(soup.Faces, [3]int32{3 * k, 3*k + 1, 3*k + 2})
		same.Faces = append(same.Faces, [3]int32{0, 1, 2})
	}
	for name, m := range map[string]*Mesh{"fan": fan, "soup": soup, "one triangle": same} {
		list, k, whole := m.Contacts(10)
		if whole || k < 1000 || len(list) != 10 {
			t.Errorf("%s: %d contacts, %d listed, all looked at: %v", name, k, len(list), whole)
		}
	}
}

// A part is at most 100 m long; the error names the point that is too far away.
func TestPartIsAtMost100m(t *testing.T) {
	for _, far := range []float64{-1e9, 2e5, 1e5 + 20} {
		m := boxMesh(10, 10, 10)
		m.Points[5][1] = far
		if _, err := NewSurface(m); err == nil || !strings.Contains(err.Error(), "point 5 at") || !strings.Contains(err.Error(), "100 m") {
			t.Errorf("%g: %v", far, err)
		}
	}
	m := boxMesh(10, 10, 10)
	m.Points[5][1] = 0.9e5
	m.Points = append(m.Points, geom.Vec{0, 0, 5e8}) // no face has it
	if err := m.Check(); err != nil {
		t.Error(err)
	}
}
