package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// holedSheet is a flat sheet of n x n unit cells of which some are cut out, so
// that holes touch in points. solid says which are left.
func holedSheet(r *rand.Rand, n int, cut float64) (m *Mesh, solid func(x, y int) bool) {
	left := make([]bool, n*n)
	for i := range left {
		left[i] = r.Float64() >= cut
	}
	solid = func(x, y int) bool { return x >= 0 && y >= 0 && x < n && y < n && left[y*n+x] }
	m = &Mesh{}
	at := map[[2]int]int32{}
	point := func(x, y int) int32 {
		v, ok := at[[2]int{x, y}]
		if !ok {
			v = int32(len(m.Points))
			at[[2]int{x, y}] = v
			m.Points = append(m.Points, geom.Vec{float64(x), float64(y), 0})
		}
		return v
	}
	for y := range n {
		for x := range n {
			if !solid(x, y) {
				continue
			}
			q := [4]int32{point(x, y), point(x+1, y), point(x+1, y+1), point(x, y+1)}
			if r.IntN(2) == 0 {
				q = [4]int32{q[1], q[2], q[3], q[0]}
			}
			m.Faces = append(m.Faces, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
		}
	}
	return m, solid
}

// seesInSheet says that the straight line from p to q lies on solid cells, corners
// in which they touch among them.
func seesInSheet(p, q geom.Vec, solid func(x, y int) bool) bool {
	at := []float64{0, 1}
	for axis := range 2 {
		d := q[axis] - p[axis]
		lo, hi := math.Floor(min(p[axis], q[axis])), math.Ceil(max(p[axis], q[axis]))
		for g := lo; d != 0 && g <= hi; g++ {
			if u := (g - p[axis]) / d; u > 0 && u < 1 {
				at = append(at, u)
			}
		}
	}
	slices.Sort(at)
	for i := 1; i < len(at); i++ {
		if at[i]-at[i-1] < 1e-12 {
			continue
		}
		mid := p.Lerp(q, (at[i]+at[i-1])/2)
		ok := false
		for dx := -1; dx <= 0; dx++ {
			for dy := -1; dy <= 0; dy++ {
				x, y := int(math.Floor(mid[0]+1e-9)), int(math.Floor(mid[1]+1e-9))
				if dx < 0 && mid[0]-float64(x) > 1e-8 || dy < 0 && mid[1]-float64(y) > 1e-8 {
					continue
				}
				ok = ok || solid(x+dx, y+dy)
			}
		}
		if !ok {
			return false
		}
	}
	return true
}

// sheetDistances is the distances from the first place to all, by the straight
// lines between all of them and all corners: Dijkstra over what sees what.
func sheetDistances(places []geom.Vec, solid func(x, y int) bool) []float64 {
	d, done := make([]float64, len(places)), make([]bool, len(places))
	for i := range d {
		d[i] = math.Inf(1)
	}
	d[0] = 0
	for {
		k := -1
		for i := range d {
			if !done[i] && !math.IsInf(d[i], 1) && (k < 0 || d[i] < d[k]) {
				k = i
			}
		}
		if k < 0 {
			return d
		}
		done[k] = true
		for i := range places {
			if l := d[k] + places[k].Dist(places[i]); l < d[i] && seesInSheet(places[k], places[i], solid) {
				d[i] = l
			}
		}
	}
}

// Distances where borders touch in points, against the visibility graph of the
// sheet. Source: that shortest ways among obstacles in the plane are chains of
// straight lines between their corners: T. Lozano-Perez, M. A. Wesley, An
// algorithm for planning collision-free paths among polyhedral obstacles, 1979.
func TestDistancesWhereBordersTouch(t *testing.T) {
	for seed := range uint64(40) {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			r := rand.New(rand.NewPCG(seed, 14))
			m, solid := holedSheet(r, 5+r.IntN(5), 0.15+0.35*r.Float64())
			s := surfaceOf(t, m)
			site := func() Site {
				return s.Site(r.IntN(len(m.Faces)), [3]float64{r.Float64(), r.Float64(), r.Float64()})
			}
			from := site()
			places := append([]geom.Vec{from.At}, m.Points...)
			var to []Site
			for range 20 {
				to = append(to, site())
				places = append(places, to[len(to)-1].At)
			}
			want := sheetDistances(places, solid)[1:]
			got := exact(t, s, []Site{from}, to, math.Inf(1))
			for i, w := range want {
				g := 0.0
				if i < len(m.Points) {
					g = got.Points[i]
				} else {
					g = got.Targets[i-len(m.Points)]
					p, err := s.ShortestPath(from, to[i-len(m.Points)])
					if math.IsInf(w, 1) != (err != nil) || err == nil && math.Abs(p.LengthMM-w) > 1e-6 {
						t.Errorf("way to %d: %.9f mm (%v), want %.9f", i, p.LengthMM, err, w)
					}
				}
				if math.IsInf(g, 1) != math.IsInf(w, 1) || math.Abs(g-w) > 1e-6 {
					t.Errorf("place %d: %.9f, want %.9f", i, g, w)
				}
			}
		})
	}
}

// Two cubes that share a corner: from the far corner of the one to that of the
// other it is sqrt 5 twice (development of two sides).
func TestDistancesWhereCubesTouch(t *testing.T) {
	m := boxMesh(1, 1, 1)
	n := len(m.Points)
	for _, p := range m.Points {
		m.Points = append(m.Points, p.Add(geom.Vec{1, 1, 1}))
	}
	for _, f := range boxMesh(1, 1, 1).Faces {
		for k, v := range f {
			f[k] = int32(n) + v
			if v == 0 { // (1, 1, 1) of the first
				f[k] = int32(n - 1)
			}
		}
		m.Faces = append(m.Faces, f)
	}
	s := surfaceOf(t, m)
	a, b := siteAtPoint(t, s, 0), siteAtPoint(t, s, int32(2*n-1))
	d := exact(t, s, []Site{a}, nil, math.Inf(1))
	p, err := s.ShortestPath(a, b)
	if got := d.Points[2*n-1]; err != nil || math.Abs(got-2*math.Sqrt(5)) > 1e-12 || math.Abs(p.LengthMM-got) > 1e-12 {
		t.Errorf("%.12f and %.12f, want %.12f (%v)", d.Points[2*n-1], p.LengthMM, 2*math.Sqrt(5), err)
	}
}
