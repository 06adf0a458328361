package mesh

import (
	"math"
	"testing"

	"fettle/internal/geom"
)

// stepped is a ring of n sides, inner radius 5, outer radius 20, 7 mm high and
// high on one half: a sharp step crosses the upper rim of the hole. The wall of
// the hole leans outward by lean mm on its way up to the step.
func stepped(n int, high, lean float64) *Mesh {
	m := &Mesh{}
	id := map[geom.Vec]int32{}
	at := func(r, z float64, k int) int32 {
		s, c := math.Sincos(2 * math.Pi * float64(k%n) / float64(n))
		p := geom.Vec{r * c, r * s, z}
		if _, ok := id[p]; !ok {
			id[p] = int32(len(m.Points))
			m.Points = append(m.Points, p)
		}
		return id[p]
	}
	quad := func(a, b, c, d int32) { m.Faces = append(m.Faces, [3]int32{a, b, c}, [3]int32{a, c, d}) }
	inner := func(z float64) float64 { return 5 + float64(lean*z)/7 }
	for k := range n {
		top, levels := 7.0, []float64{0, 7}
		if k < n/2 {
			top, levels = high, []float64{0, 7, high}
		}
		for i := 1; i < len(levels); i++ {
			lo, hi := levels[i-1], levels[i]
			quad(at(inner(lo), lo, k), at(inner(hi), hi, k), at(inner(hi), hi, k+1), at(inner(lo), lo, k+1))
			quad(at(20, lo, k), at(20, lo, k+1), at(20, hi, k+1), at(20, hi, k))
		}
		quad(at(inner(0), 0, k), at(inner(0), 0, k+1), at(20, 0, k+1), at(20, 0, k))
		quad(at(inner(top), top, k), at(20, top, k), at(20, top, k+1), at(inner(top), top, k+1))
	}
	for _, k := range []int{0, n / 2} {
		a, b, c, d := at(inner(7), 7, k), at(20, 7, k), at(20, high, k), at(inner(high), high, k)
		if k == 0 {
			quad(a, b, c, d)
		} else {
			quad(a, d, c, b)
		}
	}
	return m
}

// A hole whose upper rim is crossed by a step has no round rim there, and is
// found by its wall: constructed, radius 5, on the z axis, 12 mm deep where the
// ring is high. Turned and renumbered it is the same hole.
func TestHolesWithRimsThatAreCrossed(t *testing.T) {
	for _, n := range []int{8, 16, 48} {
		m := stepped(n, 12, 0)
		if f := m.Faults(); !f.Closed() {
			t.Fatalf("the ring is not closed: %+v", f)
		}
		s := surfaceOf(t, m)
		for _, r := range s.Rims(30*deg, 0.1) {
			if r.Circle != nil && r.Hole && r.Circle.Centre[2] > 1 {
				t.Errorf("n = %d: the upper rim was found without the wall", n)
			}
		}
		holes := s.Holes(60, 0.01)
		if len(holes) != 1 {
			t.Fatalf("n = %d: %d holes: %+v", n, len(holes), holes)
		}
		h := holes[0]
		if math.Abs(h.RadiusMM-5) > 1e-9 || h.Centre.Dist(geom.Vec{0, 0, 6}) > 1e-9 || math.Abs(math.Abs(h.Axis[2])-1) > 1e-9 || math.Abs(h.DepthMM-12) > 1e-9 {
			t.Errorf("n = %d: %+v", n, h)
		}
		a := geom.Vec{1, 2, 3}.Unit()
		u := a.Cross(geom.Vec{1, 0, 0}).Unit()
		v := a.Cross(u)
		for i, p := range m.Points {
			m.Points[i] = u.Scale(p[0]).Add(v.Scale(p[1])).Add(a.Scale(p[2])).Add(geom.Vec{700, -40, 90})
		}
		for i, j := 0, len(m.Faces)-1; i < j; i, j = i+1, j-1 {
			m.Faces[i], m.Faces[j] = m.Faces[j], m.Faces[i]
		}
		if holes = surfaceOf(t, m).Holes(60, 0.01); len(holes) != 1 || math.Abs(holes[0].RadiusMM-5) > 1e-8 || math.Abs(math.Abs(holes[0].Axis.Dot(a))-1) > 1e-8 ||
			holes[0].Centre.Dist(a.Scale(6).Add(geom.Vec{700, -40, 90})) > 1e-8 {
			t.Errorf("n = %d, turned: %+v", n, holes)
		}
	}
}

// What is no round hole is not taken for one: a hole larger than asked for, the
// inside of a wide cone, bosses, a box, the inside of a ball.
func TestWhatIsNoHole(t *testing.T) {
	ball := icosphere(3)
	for f, c := range ball.Faces {
		ball.Faces[f] = [3]int32{c[0], c[2], c[1]}
	}
	for i, p := range ball.Points {
		ball.Points[i] = p.Scale(30)
	}
	for name, m := range map[string]*Mesh{"larger": stepped(24, 12, 0), "cone": stepped(24, 12, 3), "box": boxMesh(10, 20, 30), "ball": ball} {
		if holes := surfaceOf(t, m).Holes(4.9, 0.3); name == "larger" && len(holes) != 0 {
			t.Errorf("%s: %+v", name, holes)
		}
		if holes := surfaceOf(t, m).Holes(60, 0.3); name != "larger" && len(holes) != 0 {
			t.Errorf("%s: %+v", name, holes)
		}
	}
}
