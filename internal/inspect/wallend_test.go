package inspect

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// Constructed on the closed plate of 200 x 100 x 5 mm, whose body names no
// edges: the crack at x 60 to 80, y 12 is 12 mm from the end of the plate. No
// turn of the plate and no order of its faces changes that.
func TestEdgesFoundOnTheMesh(t *testing.T) {
	for seed := range uint64(campaign(2, 4)) {
		b := newBench(slab(5))
		b.body.Procedures[0].Rows = []body.Row{{ID: "1", When: map[string]string{"edge_clearance": ">= 20 mm"}}}
		b.crack("F", 0.5, geom.Vec{60, 12, 0}, geom.Vec{80, 12, 0})
		b.crack("G", 0.5, geom.Vec{60, 1, 0}, geom.Vec{70, 0, -2})
		if seed > 0 {
			r := rng(seed)
			a := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
			u := a.Cross(geom.Vec{1, 0, 0}).Unit()
			v := a.Cross(u)
			b.moved(func(p geom.Vec) geom.Vec { return u.Scale(p[0]).Add(v.Scale(p[1])).Add(a.Scale(p[2])) }, geom.Vec{300, -20, 7})
			reorder(b, r)
		}
		r, notes := Run(b.input(t))
		f := find(t, r, "F")
		if f.Edge == nil || !f.Edge.Found || f.Edge.UpperMM < 12-1e-6 {
			t.Fatalf("seed %d: %+v %q", seed, f.Edge, f.Unknown)
		}
		near(t, "edge", f.Edge.MM, 12, 1e-6)
		if g := find(t, r, "G"); g.Edge == nil || g.Edge.MM != 0 {
			t.Errorf("seed %d: a crack on the end of the wall is at no distance from it: %+v", seed, g.Edge)
		}
		if text := strings.Join(f.Because, "; "); !strings.Contains(text, "the ends of walls found on its mesh (1)") {
			t.Errorf("%s", text)
		}
		if n := notes[slices.IndexFunc(notes, func(n diag.Note) bool { return n.Code == "inspect.edges-found" })]; n.Where != "F" {
			t.Errorf("%+v", n)
		}
	}
}

// Edges that the body names are the edges; nothing is found then.
func TestNamedEdgesComeFirst(t *testing.T) {
	b := newBench(slab(5))
	b.body.Procedures[0].Rows = []body.Row{{ID: "1", When: map[string]string{"edge_clearance": ">= 20 mm"}}}
	b.body.Castings[0].Edges = []body.Edge{{ID: "back", Along: []geom.Vec{{0, 100, 0}, {200, 100, 0}}}}
	b.crack("F", 0.5, geom.Vec{60, 12, 0}, geom.Vec{80, 12, 0})
	r, _ := Run(b.input(t))
	if f := find(t, r, "F"); f.Edge == nil || f.Edge.Found || math.Abs(f.Edge.MM-88) > 1e-6 {
		t.Errorf("%+v", f.Edge)
	}
}

// The rim of a bore of the body is a bore, no edge: constructed, a plate with a
// square outline far away and a round hole of radius 12 mm, 24 sides.
func TestBoresAreNoEdges(t *testing.T) {
	b := newBench(washer(12, 80, 5, 24))
	b.body.Procedures[0].Rows = []body.Row{{ID: "1", When: map[string]string{"edge_clearance": ">= 90 mm", "bore_clearance": ">= 90 mm"}}}
	b.crack("F", 0.5, geom.Vec{20, 0, 0}, geom.Vec{30, 0, 0})
	r, _ := Run(b.input(t))
	near(t, "to the hole", find(t, r, "F").Edge.MM, 8, 0.2)
	b.body.Castings[0].Bores = []body.Bore{{ID: "h", At: geom.Vec{0, 0, -2.5}, Axis: geom.Vec{0, 0, 1}, Radius: 12}}
	r, _ = Run(b.input(t))
	near(t, "to the outline", find(t, r, "F").Edge.MM, 50*math.Cos(math.Pi/24), 0.8)
}

func reorder(b *bench, r *rand.Rand) {
	m := b.mesh
	faces, labels := slices.Clone(m.Faces), slices.Clone(m.Label)
	for i, f := range r.Perm(len(faces)) {
		m.Faces[i], m.Label[i] = faces[f], labels[f]
	}
}

// washer is a round plate with a round hole, its upper face at z = 0.
func washer(inner, outer, thick float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	var radii []float64
	for r := inner; r <= outer; r += 4 {
		radii = append(radii, r)
	}
	w := int32(len(radii))
	for _, z := range []float64{0, -thick} {
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			for _, r := range radii {
				m.Points = append(m.Points, geom.Vec{r * c, r * s, z})
			}
		}
	}
	quad := func(a, b, c, d int32) { m.Faces = append(m.Faces, [3]int32{a, b, c}, [3]int32{a, c, d}) }
	for k := range int32(n) {
		a, b := k*w, (k+1)%int32(n)*w
		low := int32(n) * w
		for i := range w - 1 {
			quad(a+i, a+i+1, b+i+1, b+i)
			quad(low+a+i, low+b+i, low+b+i+1, low+a+i+1)
		}
		quad(a, b, low+b, low+a)
		quad(a+w-1, low+a+w-1, low+b+w-1, b+w-1)
	}
	m.Label = make([]int32, len(m.Faces))
	for f := range m.Label {
		m.Label[f] = 1
	}
	return m
}
