package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// prism is a tube of n sides, open at its ends, of long thin triangles: each side is cut
// into strips by slanted lines from one edge to the next. Laid out it is the strip between
// two lines, over and over, as wide as it is round.
type prism struct {
	n           int
	side, long  float64
	m           *Mesh
	round, skew float64
}

func newPrism(r *rand.Rand, n int, side, long float64, strips int) prism {
	x := prism{n: n, side: side, long: long, m: &Mesh{}, round: float64(n) * side, skew: r.Float64()}
	radius := side / (2 * math.Sin(math.Pi/float64(n)))
	cuts := make([]float64, strips+1)
	for k := range cuts {
		cuts[k] = long * float64(k) / float64(strips)
	}
	for k := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
		for i, z := range cuts {
			if i > 0 && i < strips {
				z += (r.Float64() - 0.5) * long / float64(strips)
			}
			x.m.Points = append(x.m.Points, geom.Vec{radius * cos, radius * sin, z})
		}
	}
	at := func(k, i int) int32 { return int32((k%n)*(strips+1) + i) }
	for k := range n {
		for i, j := 0, 0; i < strips || j < strips; {
			if j == strips || i < strips && r.IntN(2) == 0 {
				x.m.Faces = append(x.m.Faces, [3]int32{at(k, i), at(k+1, j), at(k, i+1)})
				i++
			} else {
				x.m.Faces = append(x.m.Faces, [3]int32{at(k, i), at(k+1, j), at(k+1, j+1)})
				j++
			}
		}
	}
	return x
}

// place is a place drawn at least from the ends, and where it lies in the layout.
func (x prism) place(t *testing.T, r *rand.Rand, s *Surface, from float64) (Site, [2]float64) {
	u, z := x.round*r.Float64(), from+(x.long-2*from)*r.Float64()
	k := min(x.n-1, int(u/x.side))
	a, b := x.m.Points[k*(len(x.m.Points)/x.n)], x.m.Points[(k+1)%x.n*(len(x.m.Points)/x.n)]
	p := a.Lerp(b, u/x.side-float64(k))
	p[2] = z
	site, off := s.Closest(p)
	if off > 1e-7 {
		t.Fatalf("%v is %g off the tube", p, off)
	}
	return site, [2]float64{u, z}
}

// apart is the distance along the tube: straight in the layout, as often round as it takes.
func (x prism) apart(a, b [2]float64) float64 {
	d := math.Abs(a[0] - b[0])
	return math.Hypot(min(d, x.round-d), a[1]-b[1])
}

// Distances from one place and from several on tubes of long thin triangles, round which
// ways come back past the place they began at, against the tube laid out.
func TestExactDistancesRoundTubes(t *testing.T) {
	wrong := map[string]int{}
	for seed := range draws(60, 4000) {
		r := rand.New(rand.NewPCG(seed, 41))
		x := newPrism(r, 3+r.IntN(5), 2+4*r.Float64(), 160, 1+r.IntN(8))
		s := surfaceOf(t, x.m)
		var from, to []Site
		var at, want [][2]float64
		for range 1 + r.IntN(5) {
			site, p := x.place(t, r, s, 60)
			from, at = append(from, site), append(at, p)
		}
		for range 40 {
			site, p := x.place(t, r, s, 60)
			to, want = append(to, site), append(want, p)
		}
		for _, n := range []int{1, len(from)} {
			d := exact(t, s, from[:n], to, math.Inf(1))
			if !d.Proven {
				t.Fatal(d.Doubt)
			}
			for i := range to {
				least := math.Inf(1)
				for _, p := range at[:n] {
					least = min(least, x.apart(p, want[i]))
				}
				if math.Abs(d.Targets[i]-least) > 1e-7 {
					what := fmt.Sprintf("from one: %t", n == 1)
					if wrong[what]++; wrong[what] < 4 {
						t.Errorf("seed %d, %d sides, from %d: %.9f, laid out %.9f", seed, x.n, n, d.Targets[i], least)
					}
				}
			}
		}
		p, err := s.ShortestPath(from[0], to[0])
		if err != nil || !p.Proven {
			t.Fatalf("%v %s", err, p.Doubt)
		}
		if least := x.apart(at[0], want[0]); math.Abs(p.LengthMM-least) > 1e-7 {
			wrong["path"]++
			t.Errorf("seed %d: path %.9f, laid out %.9f", seed, p.LengthMM, least)
		}
	}
	if len(wrong) > 0 {
		t.Errorf("wrong: %v", wrong)
	}
}

// Distances from several places near one another against the least of those from each
// alone, on surfaces drawn out to long thin triangles in every direction.
func TestExactDistancesFromSeveral(t *testing.T) {
	wrong := 0
	for seed := uint64(180); seed < 180+draws(18, 1500); seed++ {
		r := rand.New(rand.NewPCG(seed, 43))
		m := []func() *Mesh{func() *Mesh { return bumpyTorus(24, 10, seed) }, func() *Mesh { return icosphere(2) },
			func() *Mesh { return trayMesh(8) }}[r.IntN(3)]()
		along, by := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit(), math.Pow(10, 1.3*r.Float64())
		for i, p := range m.Points {
			m.Points[i] = p.Add(along.Scale((by - 1) * along.Dot(p)))
		}
		s := surfaceOf(t, m)
		site := func(near *Site) Site {
			f := r.IntN(len(m.Faces))
			if near != nil { // in one of the faces about
				for range 1 + r.IntN(4) {
					if g := s.adj.twin[3*near.Face+r.IntN(3)]; g >= 0 {
						f = int(g) / 3
					}
				}
			}
			return s.Site(f, [3]float64{r.Float64(), r.Float64(), r.Float64()})
		}
		from := []Site{site(nil)}
		for range 1 + r.IntN(5) {
			from = append(from, site(&from[len(from)-1]))
		}
		var to []Site
		for range 30 {
			to = append(to, site(nil), site(&from[r.IntN(len(from))]))
		}
		want := make([]float64, len(to))
		for i := range want {
			want[i] = math.Inf(1)
		}
		for _, x := range from {
			for i, d := range exact(t, s, []Site{x}, to, math.Inf(1)).Targets {
				want[i] = min(want[i], d)
			}
		}
		for i, d := range exact(t, s, from, to, math.Inf(1)).Targets {
			if math.Abs(d-want[i]) > 1e-7*(1+want[i]) {
				if wrong++; wrong < 4 {
					t.Errorf("seed %d, from %d, drawn out %.0f times: %.9f, alone %.9f", seed, len(from), by, d, want[i])
				}
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d wrong", wrong)
	}
}
