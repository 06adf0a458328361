package mesh

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// awkward is random triangles on a small grid: faces without area, points in
// the same place, edges of many faces, no orientation.
func awkward(seed uint64) *Mesh {
	r := rand.New(rand.NewPCG(seed, 9))
	m := &Mesh{}
	for range 4 + r.IntN(12) {
		m.Points = append(m.Points, geom.Vec{float64(r.IntN(3)), float64(r.IntN(3)), float64(r.IntN(2))})
	}
	for range 3 + r.IntN(25) {
		n := len(m.Points)
		m.Faces = append(m.Faces, [3]int32{int32(r.IntN(n)), int32(r.IntN(n)), int32(r.IntN(n))})
		m.Label = append(m.Label, int32(r.IntN(3)))
	}
	return m
}

// Nothing may panic, hang or leave the surface, whatever the mesh.
func TestAwkwardMeshesGiveValidAnswers(t *testing.T) {
	for seed := range draws(2500, 20000) {
		m := awkward(seed)
		s, err := NewSurface(m)
		if err != nil {
			continue
		}
		r := rand.New(rand.NewPCG(seed, 10))
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			for range 4 {
				p := geom.Vec{3 * r.Float64(), 3 * r.Float64(), 2 * r.Float64()}
				a, d := s.Closest(p)
				if !(d < 10) || !a.At.Finite() {
					t.Fatalf("closest: %v %g", a, d)
				}
				b, _ := s.Closest(geom.Vec{float64(r.IntN(3)), 3 * r.Float64(), float64(r.IntN(2))})
				s.Ray(p, geom.Vec{r.NormFloat64(), r.NormFloat64(), float64(r.IntN(2))})
				s.DistanceToBorder(a)
				if path, err := s.Path(a, b); err == nil {
					checkOnSurface(t, s, a, b, path)
				}
				if path, err := s.ShortestPath(a, b); err == nil {
					checkOnSurface(t, s, a, b, path)
				}
			}
			for _, l := range s.LabelBorders() {
				if len(l) < 2 {
					t.Errorf("border %v", l)
				}
			}
			m.Faults()
			c, err := m.Cut(geom.Vec{1, float64(r.IntN(2)), 0}, float64(r.IntN(3)))
			if err != nil || !(c.LengthMM >= 0) {
				t.Errorf("cut %+v, %v", c, err)
			}
			w, _ := Weld(m)
			if len(w.Faces) > 0 {
				if err := w.Check(); err != nil {
					t.Error(err)
				}
			}
		})
	}
}
