package mesh

import (
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// boxMesh is a box from the origin to (x, y, z), two triangles a side, normals
// outward.
func boxMesh(x, y, z float64) *Mesh {
	m := &Mesh{}
	for i := range 8 {
		m.Points = append(m.Points, geom.Vec{x * float64(i&1), y * float64(i>>1&1), z * float64(i>>2&1)})
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Faces = append(m.Faces, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// icosphere is an icosahedron, each face split in four k times, projected to
// the unit sphere. Points 0 and 3 of the icosahedron are antipodal.
func icosphere(k int) *Mesh {
	g := (1 + math.Sqrt(5)) / 2
	m := &Mesh{
		Points: []geom.Vec{{-1, g, 0}, {1, g, 0}, {-1, -g, 0}, {1, -g, 0}, {0, -1, g}, {0, 1, g},
			{0, -1, -g}, {0, 1, -g}, {g, 0, -1}, {g, 0, 1}, {-g, 0, -1}, {-g, 0, 1}},
		Faces: [][3]int32{{0, 11, 5}, {0, 5, 1}, {0, 1, 7}, {0, 7, 10}, {0, 10, 11}, {1, 5, 9}, {5, 11, 4},
			{11, 10, 2}, {10, 7, 6}, {7, 1, 8}, {3, 9, 4}, {3, 4, 2}, {3, 2, 6}, {3, 6, 8}, {3, 8, 9},
			{4, 9, 5}, {2, 4, 11}, {6, 2, 10}, {8, 6, 7}, {9, 8, 1}},
	}
	for range k {
		m = splitInFour(m)
	}
	for i, p := range m.Points {
		m.Points[i] = p.Unit()
	}
	return m
}

func splitInFour(m *Mesh) *Mesh {
	out := &Mesh{Points: append([]geom.Vec(nil), m.Points...)}
	mid := map[[2]int32]int32{}
	half := func(a, b int32) int32 {
		key := [2]int32{min(a, b), max(a, b)}
		if i, ok := mid[key]; ok {
			return i
		}
		// edges of the unit icosphere: put the middle on the sphere at once
		p := m.Points[a].Unit().Add(m.Points[b].Unit()).Unit()
		out.Points = append(out.Points, p)
		mid[key] = int32(len(out.Points) - 1)
		return mid[key]
	}
	for _, t := range m.Faces {
		a, b, c := half(t[0], t[1]), half(t[1], t[2]), half(t[2], t[0])
		out.Faces = append(out.Faces, [3]int32{t[0], a, c}, [3]int32{a, t[1], b}, [3]int32{c, b, t[2]}, [3]int32{a, b, c})
	}
	return out
}

// bumpyTorus is a closed ring of nu x nv quads (two triangles each) with bumps
// and seeded roughness, some 600 mm across.
func bumpyTorus(nu, nv int, seed uint64) *Mesh {
	r := rand.New(rand.NewPCG(seed, 0))
	m := &Mesh{}
	for i := range nu {
		for j := range nv {
			a, b := 2*math.Pi*float64(i)/float64(nu), 2*math.Pi*float64(j)/float64(nv)
			tube := 80 + 12*math.Sin(7*a)*math.Cos(3*b) + 6*math.Sin(19*a+2*b) + 0.3*r.NormFloat64()/float64(1+nu/40)
			m.Points = append(m.Points, geom.Vec{
				(220 + tube*math.Cos(b)) * math.Cos(a), (220 + tube*math.Cos(b)) * math.Sin(a), tube * math.Sin(b)})
		}
	}
	at := func(i, j int) int32 { return int32((i%nu)*nv + j%nv) }
	for i := range nu {
		for j := range nv {
			p, q, s, t := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			m.Faces = append(m.Faces, [3]int32{p, q, s}, [3]int32{p, s, t})
		}
	}
	return m
}

func surfaceOf(t testing.TB, m *Mesh) *Surface {
	t.Helper()
	s, err := NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// siteAtPoint is the site at point v, in the first face that has it.
func siteAtPoint(t testing.TB, s *Surface, v int32) Site {
	t.Helper()
	h := s.adj.cornersOf(v)[0]
	var w [3]float64
	w[h%3] = 1
	return s.Site(int(h/3), w)
}

// checkOnSurface fails unless every segment lies in the face the path names and
// the length is the sum of the segments.
func checkOnSurface(t *testing.T, s *Surface, a, b Site, p Path) {
	t.Helper()
	if len(p.Faces) != len(p.Points)-1 {
		t.Fatalf("%d points, %d faces", len(p.Points), len(p.Faces))
	}
	if d := p.Points[0].Dist(a.At) + p.Points[len(p.Points)-1].Dist(b.At); d > 1e-9 {
		t.Errorf("ends are off by %g mm", d)
	}
	sum := 0.0
	for i, f := range p.Faces {
		u, v, w := s.m.corners(f)
		for _, q := range p.Points[i : i+2] {
			c := closestInTriangle(q, u, v, w)
			if d := u.Scale(c[0]).Add(v.Scale(c[1])).Add(w.Scale(c[2])).Dist(q); d > 1e-9 {
				t.Fatalf("segment %d is %g mm off face %d", i, d, f)
			}
		}
		sum += p.Points[i].Dist(p.Points[i+1])
	}
	if math.Abs(sum-p.LengthMM) > 1e-9*(1+sum) {
		t.Errorf("length %g, segments sum to %g", p.LengthMM, sum)
	}
	if p.LengthMM > p.EdgeGraphMM*(1+1e-12) || p.LengthMM < p.ChordMM*(1-1e-12) {
		t.Errorf("length %.12g not between chord %.12g and edge graph %.12g", p.LengthMM, p.ChordMM, p.EdgeGraphMM)
	}
}
