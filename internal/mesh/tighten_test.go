package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// A way pulled tight is a way on the surface, no longer than the ways it is made
// of, cannot be shortened where it passes, and where the surface has no holes and
// is flat it is the straight line.
func TestWaysPulledTight(t *testing.T) {
	r := rand.New(rand.NewPCG(14, 1))
	for name, m := range map[string]*Mesh{"box": splitInFourFlat(splitInFourFlat(boxMesh(40, 30, 20))), "sphere": icosphere(3), "torus": bumpyTorus(40, 16, 2)} {
		s := surfaceOf(t, m)
		for range 60 {
			var sites []Site
			for range 2 + r.IntN(4) {
				w := [3]float64{r.Float64(), r.Float64(), r.Float64()}
				switch r.IntN(4) {
				case 0:
					w[r.IntN(3)] = 0
				case 1:
					w = [3]float64{}
					w[r.IntN(3)] = 1
				}
				sites = append(sites, s.Site(r.IntN(len(m.Faces)), w))
			}
			var ways []Path
			sum := 0.0
			for i := 1; i < len(sites); i++ {
				p, err := s.Path(sites[i-1], sites[i])
				if err != nil {
					t.Fatal(err)
				}
				ways = append(ways, p)
				sum += p.LengthMM
			}
			if sum == 0 {
				continue
			}
			p, err := s.Through(ways)
			if err != nil {
				t.Fatal(err)
			}
			t.Run(fmt.Sprintf("%s %d", name, len(sites)), func(t *testing.T) {
				checkOnSurface(t, s, sites[0], sites[len(sites)-1], p)
				if p.LengthMM > sum*(1+1e-12) {
					t.Errorf("%.9f mm, the ways together %.9f", p.LengthMM, sum)
				}
				again, err := s.Through([]Path{p})
				if err != nil || again.LengthMM < p.LengthMM*(1-1e-9) {
					t.Errorf("pulled again it is %.9f instead of %.9f mm (%v)", again.LengthMM, p.LengthMM, err)
				}
				best, err := s.ShortestPath(sites[0], sites[len(sites)-1])
				if err != nil || best.Proven && p.LengthMM < best.LengthMM*(1-1e-9) {
					t.Errorf("%.9f mm is shorter than the distance %.9f (%v)", p.LengthMM, best.LengthMM, err)
				}
			})
		}
	}
}

// splitInFourFlat splits every face in four where it lies.
func splitInFourFlat(m *Mesh) *Mesh {
	out := &Mesh{Points: append(m.Points[:0:0], m.Points...)}
	mid := map[[2]int32]int32{}
	half := func(a, b int32) int32 {
		key := [2]int32{min(a, b), max(a, b)}
		if i, ok := mid[key]; ok {
			return i
		}
		out.Points = append(out.Points, m.Points[a].Lerp(m.Points[b], 0.5))
		mid[key] = int32(len(out.Points) - 1)
		return mid[key]
	}
	for _, t := range m.Faces {
		a, b, c := half(t[0], t[1]), half(t[1], t[2]), half(t[2], t[0])
		out.Faces = append(out.Faces, [3]int32{t[0], a, c}, [3]int32{a, t[1], b}, [3]int32{c, b, t[2]}, [3]int32{a, b, c})
	}
	return out
}

// A way over a rib with a window stays over the rib when it is pulled tight.
func TestWaysPulledTightKeepToTheirSideOfAWindow(t *testing.T) {
	// Constructed: from one side of the wall to the other at y = 25, z = 25: over
	// the top, at z = 60, it is 2 x 35 + 4; through the window, from y = 40, 2 x 15 + 4.
	s := surfaceOf(t, windowWall())
	from, _ := s.Closest(geom.Vec{0, 25, 25})
	top1, _ := s.Closest(geom.Vec{0, 25, 58})
	top2, _ := s.Closest(geom.Vec{4, 25, 58})
	to, _ := s.Closest(geom.Vec{4, 25, 25})
	var ways []Path
	for _, e := range [][2]Site{{from, top1}, {top1, top2}, {top2, to}} {
		p, err := s.Path(e[0], e[1])
		if err != nil {
			t.Fatal(err)
		}
		ways = append(ways, p)
	}
	p, err := s.Through(ways)
	if err != nil || math.Abs(p.LengthMM-74) > 1e-9 {
		t.Errorf("over the top it is %.6f mm, want 74 (%v)", p.LengthMM, err)
	}
	q, err := s.ShortestPath(from, to)
	if err != nil || math.Abs(q.LengthMM-34) > 1e-9 {
		t.Errorf("through the window it is %.6f mm, want 34 (%v)", q.LengthMM, err)
	}
}
