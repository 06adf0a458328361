package mesh

import (
	"fmt"
	"math"
	"math/bits"
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
		tree := faceTree{reach: geom.Vec{100, 100, 100}}
		var ray rayQuery
		ray.set(&tree, &p, &d)
		ray.limit = float32(math.Abs(r.NormFloat64()) * 100)
		if a, b := ray8(&w, &ray, &got), ray8Plain(&w, &ray, &want); a != b || got != want {
			t.Fatalf("ray %v %v: %b %v, want %b %v", p, d, a, got, b, want)
		}
	}
}

// blockOf is a block of random faces: some large, some thin, some without area.
func blockOf(r *rand.Rand, n int) (m *Mesh, s *planeStore) {
	m = &Mesh{}
	for f := range n {
		at := geom.Vec{50 * r.NormFloat64(), 50 * r.NormFloat64(), 50 * r.NormFloat64()}
		size := math.Pow(10, float64(r.IntN(5)-2))
		for k := range 3 {
			p := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Scale(size)
			if f%4 == 1 && k == 2 { // nearly or just on the line of the others
				p = m.Points[3*f].Lerp(m.Points[3*f+1], r.Float64()).Sub(at).Add(p.Scale(float64(r.IntN(2)) * 1e-6))
			}
			m.Points = append(m.Points, at.Add(p))
		}
		m.Faces = append(m.Faces, [3]int32{int32(3 * f), int32(3*f + 1), int32(3*f + 2)})
	}
	s = &planeStore{radius: 400, block: make([]facePlanes, 1)}
	for k := range 8 {
		s.block[0].never(k)
	}
	for f := range n {
		s.block[0].put(f, &s.mid, &m.Points[3*f], &m.Points[3*f+1], &m.Points[3*f+2])
	}
	return m, s
}

// The vector code for planes against Go, bit by bit; and what the planes pass
// over must be missed by the ray.
func TestFacePlanesPassOverNothing(t *testing.T) {
	if !vectors {
		t.Skip("this processor has no AVX")
	}
	const seed = 72
	r := rand.New(rand.NewPCG(seed, 0))
	met, passed := 0, 0
	for i := range 20_000 {
		m, s := blockOf(r, 1+r.IntN(8))
		b := &s.block[0]
		p := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Scale(math.Pow(10, float64(r.IntN(7)-2)))
		f := r.IntN(len(m.Faces))
		c, x := m.Faces[f], r.Float64()
		at := m.Points[c[0]].Lerp(m.Points[c[1]], x).Lerp(m.Points[c[2]], r.Float64()*float64(i%2))
		if i%3 == 0 {
			p = at
		}
		d := at.Sub(p)
		ray := raySearch{}
		if ray.set(&p, &d); d == (geom.Vec{}) {
			continue
		}
		ray.flat.set(s, &p, &ray.dir)
		hits := hit8(b, &ray.flat)
		if plain := hit8Plain(b, &ray.flat); hits != plain {
			t.Fatalf("ray %v %v: %b, want %b", p, d, hits, plain)
		}
		passed += len(m.Faces) - bits.OnesCount32(hits&(1<<len(m.Faces)-1))
		if ray.shear.meet(m.Points, &c, &ray.try) {
			met++
			ray.flat.until(ray.try.t)
			if hit8(b, &ray.flat)>>f&1 == 0 {
				t.Fatalf("ray %v %v: face %d at %g is passed over", p, d, f, ray.try.t)
			}
		}
	}
	if met < 9000 || passed < 32_700 { // as many as were counted, but for a two-hundredth
		t.Errorf("%d faces met, %d passed over", met, passed)
	}
}

// Rays meet the same in both trees, to the bit, and the same face where they meet
// several at once; also far from the mesh and far from the origin.
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
				x, y := raySearch{stack: make([]wideVisit, s.faces.wideStack)}, raySearch{}
				x.set(&p, &d)
				y.set(&p, &d)
				s.faces.firstHitWide(&x)
				s.faces.firstHitPlain(&y)
				if x.face != y.face || x.leaf != y.leaf || x.rayHit != y.rayHit {
					t.Fatalf("ray %v %v: wide %d %+v, plain %d %+v", p, d, x.face, x.rayHit, y.face, y.rayHit)
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
