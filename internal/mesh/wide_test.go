package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// The vector code against the Go code that says what it does, bit by bit, also
// on empty places, boxes without thickness, and directions along an axis.
func TestWideBoxesMatchPlainGo(t *testing.T) {
	if !vectors {
		t.Skip("this processor has no AVX")
	}
	const seed = 71
	r := rand.New(rand.NewPCG(seed, 0))
	value := func() float32 {
		return float32(math.Round(r.NormFloat64()*40) / 4 * math.Pow(10, float64(r.IntN(5)-2)))
	}
	for range 20_000 {
		w := emptyWide
		for i := range r.IntN(9) {
			for k := range 3 {
				a, b := value(), value()
				w.bound[2*k][i], w.bound[2*k+1][i] = min(a, b), max(a, b)
			}
		}
		var p, d geom.Vec
		for k := range 3 {
			p[k], d[k] = float64(value())+r.Float64()/1000*float64(r.IntN(2)), float64(value())
		}
		var got, want [8]float32
		q := newNearQuery(&p, math.Abs(r.NormFloat64())*1000)
		if a, b := near8(&w, &q, &got), near8Plain(&w, &q, &want); a != b || got != want {
			t.Fatalf("near %v: %b %v, want %b %v", p, a, got, b, want)
		}
		tree := faceTree{reach: geom.Vec{100, 100, 100}}
		ray := tree.newRayQuery(&p, &d)
		ray.limit = float32(math.Abs(r.NormFloat64()) * 100)
		if a, b := ray8(&w, &ray, &got), ray8Plain(&w, &ray, &want); a != b || got != want {
			t.Fatalf("ray %v %v: %b %v, want %b %v", p, d, a, got, b, want)
		}
	}
}

// Both trees give the same answers, to the bit, and take the same face where
// several are as near; also far from the mesh and far from the origin.
func TestWideTreeMatchesPlainTree(t *testing.T) {
	if !vectors {
		t.Skip("this processor has no AVX")
	}
	for seed := range uint64(6) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			m := bumpyTorus(60, 30, seed)
			r := rand.New(rand.NewPCG(seed, 23))
			shift := geom.Vec{1, -3, 2}.Scale(math.Pow(10, float64(seed)) - 1)
			for i := range m.Points {
				m.Points[i] = m.Points[i].Add(shift)
				if seed%2 == 1 { // many equal distances, boxes without thickness
					for k := range 3 {
						m.Points[i][k] = math.Round(m.Points[i][k]/4) * 4
					}
				}
			}
			s := surfaceOf(t, m)
			var store [usualDepth]treeVisit
			for i := range 3000 {
				p := randomPoint(r).Scale(math.Pow(10, float64(i%4)-1)).Add(shift)
				d := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
				switch i % 5 {
				case 0:
					p = m.Points[r.IntN(len(m.Points))]
				case 1:
					d = m.Points[r.IntN(len(m.Points))].Sub(p)
				case 2:
					d = geom.Vec{}
					d[i%3] = float64(1 - 2*(i/5%2))
				}
				a, b := found{d2: math.Inf(1), face: -1}, found{d2: math.Inf(1), face: -1}
				s.faces.nearestWide(&p, &a)
				s.faces.nearestPlain(&p, &b, s.faces.stack(&store))
				if a != b {
					t.Fatalf("%v: wide %+v, plain %+v", p, a, b)
				}
				d = d.Unit()
				sh, beam, q := newShear(p, d), newBeam(p, d), s.faces.newRayQuery(&p, &d)
				f, x := s.faces.firstHitWide(&sh, &q)
				g, y := s.faces.firstHitPlain(&sh, &beam)
				if f != g || x != y {
					t.Fatalf("ray %v %v: wide %d %+v, plain %d %+v", p, d, f, x, g, y)
				}
			}
		})
	}
	one := surfaceOf(t, &Mesh{Points: []geom.Vec{{}, {1, 0, 0}, {0, 1, 0}}, Faces: [][3]int32{{0, 1, 2}}})
	if _, d := one.Closest(geom.Vec{0.2, 0.2, 3}); d != 3 {
		t.Errorf("one triangle: %g", d)
	}
	for _, p := range []geom.Vec{{1e200, 0, 0}, {0, 1e30, 0}} { // out of reach of float32
		if site, d := one.Closest(p); site.Face != 0 || d < 1e29 {
			t.Errorf("from far away: %+v %g", site, d)
		}
	}
}
