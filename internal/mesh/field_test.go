package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

func exact(t testing.TB, s *Surface, sources, targets []Site, limit float64) Distances {
	t.Helper()
	d, err := s.ExactDistances(sources, targets, limit)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Expected: unfolding the box by hand. Unit cube: opposite corners sqrt 5; box
// 1 x 1 x 2: sqrt 8; room 30 x 12 x 12: 40 (H. E. Dudeney, The spider and the
// fly, 1903).
func TestExactDistancesOnBoxes(t *testing.T) {
	cube := surfaceOf(t, boxMesh(1, 1, 1))
	d := exact(t, cube, []Site{siteAtPoint(t, cube, 0)}, nil, math.Inf(1))
	for v, want := range []float64{0, 1, 1, math.Sqrt2, 1, math.Sqrt2, math.Sqrt2, math.Sqrt(5)} {
		if math.Abs(d.Points[v]-want) > 1e-12 {
			t.Errorf("cube corner %d at %.15g, want %.15g", v, d.Points[v], want)
		}
	}
	box := surfaceOf(t, boxMesh(1, 1, 2))
	if got := exact(t, box, []Site{siteAtPoint(t, box, 0)}, nil, math.Inf(1)).Points[7]; math.Abs(got-math.Sqrt(8)) > 1e-12 {
		t.Errorf("box %.15g, want %.15g", got, math.Sqrt(8))
	}
	room := surfaceOf(t, boxMesh(30, 12, 12))
	spider, _ := room.Closest(geom.Vec{0, 6, 11})
	fly, _ := room.Closest(geom.Vec{30, 6, 1})
	if got := exact(t, room, []Site{spider}, []Site{fly}, math.Inf(1)); math.Abs(got.Targets[0]-40) > 1e-11 || !got.Proven {
		t.Errorf("room %.15g, want 40 (%s)", got.Targets[0], got.Doubt)
	}
	if got := exact(t, room, []Site{spider}, []Site{fly}, 39.9); !math.IsInf(got.Targets[0], 1) {
		t.Errorf("beyond the limit: %g", got.Targets[0])
	}
}

// What lies at the limit itself is told, also a point in the same place as another one that lies
// there, behind an edge without length; what lies beyond is not. Whole numbers, by hand: A at the
// origin, B and its double at 1 along x, C and D behind B, E beyond the double.
func TestDistancesAtTheLimitItself(t *testing.T) {
	m := &Mesh{Points: []geom.Vec{{0, 0, 0}, {1, 0, 0}, {1, 0, 0}, {2, 1, 0}, {3, -1, 0}, {1, -1, 0}},
		Faces: [][3]int32{{0, 1, 3}, {1, 2, 3}, {2, 4, 3}, {0, 5, 1}}}
	s := surfaceOf(t, m)
	for limit, want := range map[float64]int{0.5: 1, 1: 3, 1.25: 3, 1.5: 4} { // how many points are within it
		graph, err := s.GraphDistances([]Site{siteAtPoint(t, s, 0)}, limit)
		if err != nil {
			t.Fatal(err)
		}
		for what, d := range map[string][]float64{"along edges": graph, "exact": exact(t, s, []Site{siteAtPoint(t, s, 0)}, nil, limit).Points} {
			n := 0
			for v, mm := range d {
				if mm == m.Points[0].Dist(m.Points[v]) {
					n++
				} else if !math.IsInf(mm, 1) {
					t.Errorf("%s within %g: point %d at %g", what, limit, v, mm)
				}
			}
			if n != want {
				t.Errorf("%s within %g: %v, want %d points", what, limit, d, want)
			}
		}
	}
	b := exact(t, s, []Site{siteAtPoint(t, s, 0)}, []Site{siteAtPoint(t, s, 2), siteAtPoint(t, s, 4)}, 1).Targets
	if b[0] != 1 || !math.IsInf(b[1], 1) {
		t.Errorf("targets within 1: %v", b)
	}
}

// Every distance of the field against ShortestPath, which searches one pair and
// is checked against published values by itself.
func TestExactDistancesMatchShortestPath(t *testing.T) {
	open := bumpyTorus(24, 14, 9)
	open.Faces = open.Faces[:len(open.Faces)*2/3] // with borders to go round
	shapes := map[string]*Mesh{"torus": bumpyTorus(30, 16, 3), "open": open, "sphere": icosphere(2), "tray": trayMesh(10)}
	flipped := bumpyTorus(20, 12, 5)
	for f := 0; f < len(flipped.Faces); f += 3 {
		t := &flipped.Faces[f]
		t[0], t[1] = t[1], t[0]
	}
	shapes["flipped faces"] = flipped
	for name, m := range shapes {
		for seed := range uint64(4) {
			t.Run(fmt.Sprintf("%s/seed=%d", name, seed), func(t *testing.T) {
				s := surfaceOf(t, m)
				r := rand.New(rand.NewPCG(seed, 77))
				site := func() Site {
					f := r.IntN(len(m.Faces))
					switch r.IntN(3) {
					case 0:
						return s.Site(f, [3]float64{1, 0, 0})
					case 1:
						return s.Site(f, [3]float64{0, r.Float64(), r.Float64()})
					}
					return s.Site(f, [3]float64{r.Float64(), r.Float64(), r.Float64()})
				}
				from := site()
				var to []Site
				for range 25 {
					to = append(to, site())
				}
				d := exact(t, s, []Site{from}, to, math.Inf(1))
				if !d.Proven {
					t.Fatal(d.Doubt)
				}
				for i, b := range to {
					p, err := s.ShortestPath(from, b)
					if err != nil || !p.Proven {
						t.Fatalf("%v %s", err, p.Doubt)
					}
					if math.Abs(p.LengthMM-d.Targets[i]) > 1e-9*(1+p.LengthMM) {
						t.Errorf("target %d: field %.12g, path %.12g", i, d.Targets[i], p.LengthMM)
					}
				}
				two := exact(t, s, []Site{from, to[0]}, to, math.Inf(1))
				other := exact(t, s, []Site{to[0]}, to, math.Inf(1))
				for i := range to {
					if want := min(d.Targets[i], other.Targets[i]); math.Abs(two.Targets[i]-want) > 1e-9*(1+want) {
						t.Errorf("two sources, target %d: %.12g, want %.12g", i, two.Targets[i], want)
					}
				}
			})
		}
	}
}
