package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

func randomPoint(r *rand.Rand) geom.Vec {
	return geom.Vec{700*r.Float64() - 350, 700*r.Float64() - 350, 260*r.Float64() - 130}
}

// The tree against a plain scan over all faces.
func TestClosestMatchesPlainScan(t *testing.T) {
	for seed := range uint64(5) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			s := surfaceOf(t, bumpyTorus(60, 30, seed))
			r := rand.New(rand.NewPCG(seed, 3))
			for i := range 200 {
				p := randomPoint(r)
				if i%10 == 0 { // a mesh point: many faces are equally near
					p = s.m.Points[r.IntN(len(s.m.Points))]
				}
				face, want := -1, math.Inf(1)
				for f := range s.m.Faces {
					a, b, c := s.m.corners(f)
					if _, _, d := nearTriangle(&p, &a, &b, &c); d < want {
						face, want = f, d
					}
				}
				site, d := s.Closest(p)
				if site.Face != face || math.Abs(d-math.Sqrt(want)) > 1e-9 {
					t.Errorf("%v: face %d at %g, want face %d at %g", p, site.Face, d, face, math.Sqrt(want))
				}
				if again := s.Site(site.Face, site.Bary); again.At.Dist(site.At) > 1e-9 {
					t.Errorf("the site is not where its coordinates say")
				}
			}
		})
	}
}

// Expected: no point of a fine grid over the triangle is nearer (tolerance from
// the grid), and the coordinates are in the triangle.
func TestClosestInTriangleBeatsGrid(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 0))
	vec := func() geom.Vec { return geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()} }
	for i := range 300 {
		a, b, c, p := vec(), vec(), vec(), vec().Scale(2)
		if i%5 == 0 { // corners on one line
			c = a.Lerp(b, 3*r.Float64()-1)
		}
		w := closestInTriangle(p, a, b, c)
		q := a.Scale(w[0]).Add(b.Scale(w[1])).Add(c.Scale(w[2])).Sub(p)
		if _, _, d := nearTriangle(&p, &a, &b, &c); math.Abs(math.Sqrt(d)-q.Norm()) > 1e-9 {
			t.Errorf("the two ways to the nearest point differ: %g and %g", math.Sqrt(d), q.Norm())
		}
		if min(w[0], w[1], w[2]) < 0 || math.Abs(w[0]+w[1]+w[2]-1) > 1e-12 {
			t.Fatalf("coordinates %v", w)
		}
		got := a.Scale(w[0]).Add(b.Scale(w[1])).Add(c.Scale(w[2])).Dist(p)
		for u := range 41 {
			for v := range 41 - u {
				x, y := float64(u)/40, float64(v)/40
				q := a.Scale(1 - x - y).Add(b.Scale(x)).Add(c.Scale(y))
				if q.Dist(p) < got-1e-9 {
					t.Fatalf("case %d: %g, but grid point at %g", i, got, q.Dist(p))
				}
			}
		}
	}
}

// A plate 3 mm thick: from 1 mm under its upper side the lower side is 2 mm
// away; the direction decides, not the distance.
func TestClosestFacingTakesTheWantedSideOfAThinWall(t *testing.T) {
	s := surfaceOf(t, boxMesh(100, 100, 3))
	for _, c := range []struct {
		z       float64
		towards geom.Vec
		want    float64 // height of the side
	}{
		{2.5, geom.Vec{0, 0, 1}, 3}, {2.5, geom.Vec{0, 0, -1}, 0}, {0.5, geom.Vec{0.2, 0, 5}, 3}, {-8, geom.Vec{0, 0, 1}, 3},
	} {
		site, d, ok := s.ClosestFacing(geom.Vec{40, 50, c.z}, c.towards, math.Pi/4, math.Inf(1))
		if !ok || site.At[2] != c.want || math.Abs(d-math.Abs(c.z-c.want)) > 1e-12 {
			t.Errorf("z=%g towards %v: %v at %g, %t", c.z, c.towards, site.At, d, ok)
		}
	}
	if site, d, ok := s.ClosestFacing(geom.Vec{1, 1, 1}, geom.Vec{1, 1, 1}, 0.1, math.Inf(1)); ok {
		t.Errorf("no face looks there, but got %v at %g", site, d)
	}
	if _, _, ok := s.ClosestFacing(geom.Vec{1, 1, 1}, geom.Vec{}, 0.1, math.Inf(1)); ok {
		t.Error("no direction, but a face looks there")
	}
}

// Expected: by hand on the unit cube. Rays through edges and corners count once
// a side.
func TestRayOnCube(t *testing.T) {
	s := surfaceOf(t, boxMesh(1, 1, 1))
	for _, c := range []struct {
		name     string
		from, to geom.Vec
		dist     []float64
		front    []bool
	}{
		{"through", geom.Vec{0.3, 0.6, 5}, geom.Vec{0, 0, -2}, []float64{4, 5}, []bool{true, false}},
		{"over the diagonals of two faces", geom.Vec{0.5, 0.5, 5}, geom.Vec{0, 0, -1}, []float64{4, 5}, []bool{true, false}},
		{"corner to corner", geom.Vec{-1, -1, -1}, geom.Vec{1, 1, 1}, []float64{math.Sqrt(3), 2 * math.Sqrt(3)}, []bool{true, false}},
		{"from inside", geom.Vec{0.5, 0.25, 0.5}, geom.Vec{1, 0, 0}, []float64{0.5}, []bool{false}},
		{"away", geom.Vec{0.5, 0.5, 5}, geom.Vec{0, 0, 1}, nil, nil},
		{"beside", geom.Vec{2, 2, 5}, geom.Vec{0, 0, -1}, nil, nil},
		{"no direction", geom.Vec{0.5, 0.5, 5}, geom.Vec{}, nil, nil},
	} {
		hits := s.Ray(c.from, c.to)
		if len(hits) != len(c.dist) {
			t.Errorf("%s: %d hits %v, want %d", c.name, len(hits), hits, len(c.dist))
			continue
		}
		for i, h := range hits {
			at := c.from.Add(c.to.Unit().Scale(c.dist[i]))
			if math.Abs(h.DistMM-c.dist[i]) > 1e-12 || h.Front != c.front[i] || h.At.Dist(at) > 1e-12 {
				t.Errorf("%s: hit %d %+v, want %g %t", c.name, i, h, c.dist[i], c.front[i])
			}
		}
	}
}

// Rays at a closed surface meet it an even number of times from outside, with
// the front and back taking turns; also when aimed at points and edges, unless
// those are on the outline, where rounding decides.
func TestRayCountsOnClosedSurface(t *testing.T) {
	s := surfaceOf(t, bumpyTorus(60, 30, 5))
	r := rand.New(rand.NewPCG(12, 0))
	checked := 0
	for i := range 3000 {
		from := geom.Vec{500 * r.NormFloat64(), 500 * r.NormFloat64(), 700}
		at := randomPoint(r)
		v := int32(r.IntN(len(s.m.Points)))
		switch i % 3 {
		case 1:
			at = s.m.Points[v]
		case 2:
			h := s.adj.cornersOf(v)[0]
			_, u := s.m.halfEnds(h)
			at = s.m.Points[v].Lerp(s.m.Points[u], 0.5)
		}
		if i%3 > 0 && onOutline(s, v, at.Sub(from)) {
			continue
		}
		checked++
		hits := s.Ray(from, at.Sub(from))
		turns := len(hits)%2 == 0 && (i%3 == 0 || len(hits) > 0)
		for k, h := range hits {
			turns = turns && h.Front == (k%2 == 0)
		}
		if !turns {
			t.Errorf("ray %d: %d hits", i, len(hits))
		}
	}
	if checked < 2500 {
		t.Errorf("only %d rays checked", checked)
	}
}

// onOutline says that the faces round point v do not all look the same way
// along d.
func onOutline(s *Surface, v int32, d geom.Vec) bool {
	front, back := false, false
	for _, h := range s.adj.cornersOf(v) {
		c := s.m.FaceNormal(int(h / 3)).Dot(d)
		front, back = front || c < 0, back || c >= 0
	}
	return front && back
}

func TestCheckSaysWhatIsWrong(t *testing.T) {
	good := boxMesh(1, 1, 1)
	for name, spoil := range map[string]func(m *Mesh){
		"no faces":       func(m *Mesh) { m.Faces = nil },
		"label length":   func(m *Mesh) { m.Label = make([]int32, 3) },
		"NaN":            func(m *Mesh) { m.Points[3][1] = math.NaN() },
		"infinite":       func(m *Mesh) { m.Points[3][1] = math.Inf(-1) },
		"too far":        func(m *Mesh) { m.Points[3][1] = 2e9 },
		"negative index": func(m *Mesh) { m.Faces[2][1] = -1 },
		"index too big":  func(m *Mesh) { m.Faces[2][1] = 8 },
	} {
		m := boxMesh(1, 1, 1)
		spoil(m)
		if err := m.Check(); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := NewSurface(m); err == nil {
			t.Errorf("%s: a surface was built", name)
		}
		if _, err := m.Cut(geom.Vec{0, 0, 1}, 0.5); err == nil {
			t.Errorf("%s: it was cut", name)
		}
	}
	if err := good.Check(); err != nil {
		t.Error(err)
	}
	if _, err := NewSurface(&Mesh{Points: []geom.Vec{{}, {1, 0, 0}}, Faces: [][3]int32{{0, 0, 1}}}); err == nil {
		t.Error("a surface of collapsed faces was built")
	}
}

// Expected: the box by hand.
func TestMeasuresOfBox(t *testing.T) {
	m := boxMesh(2, 3, 5)
	lo, hi := m.Bounds()
	if m.AreaMM2() != 62 || math.Abs(m.VolumeMM3()-30) > 1e-12 || lo != (geom.Vec{}) || hi != (geom.Vec{2, 3, 5}) {
		t.Errorf("area %g, volume %g, bounds %v %v", m.AreaMM2(), m.VolumeMM3(), lo, hi)
	}
	if mid := (&Mesh{Points: []geom.Vec{{0, 0, 0}, {9, 0, 0}, {3, 6, 0}, {0, 0, 9}}, Faces: [][3]int32{{3, 2, 1}, {0, 1, 2}}}).FaceMiddle(1); mid != (geom.Vec{4, 2, 0}) {
		t.Errorf("middle %v", mid)
	}
	if n := m.FaceNormal(0); n != (geom.Vec{0, 0, -1}) {
		t.Errorf("normal %v", n)
	}
	if f := m.Faults(); f != (Faults{Components: 1}) || !f.Closed() {
		t.Errorf("faults %+v", f)
	}
}

// Expected: by hand.
func TestFaultsAreCounted(t *testing.T) {
	m := boxMesh(1, 1, 1)
	m.Faces = m.Faces[1:]                                       // a hole of three edges
	m.Faces[4][0], m.Faces[4][1] = m.Faces[4][1], m.Faces[4][0] // one face turned round
	at := int32(len(m.Points))
	m.Points = append(m.Points, geom.Vec{5, 0, 0}, geom.Vec{6, 0, 0}, geom.Vec{7, 0, 0}, geom.Vec{5, 1, 0}, geom.Vec{5, 2, 3}, geom.Vec{5, -1, 2})
	m.Faces = append(m.Faces, [3]int32{at, at + 1, at + 2}, // no area
		[3]int32{at, at + 1, at + 3}, [3]int32{at + 1, at, at + 4}, // three faces with the first at one edge
		[3]int32{at, at, at + 5}) // collapsed
	want := Faults{OpenEdges: 3 + 2 + 2 + 2, NonManifoldEdges: 1, FlippedEdges: 3, DegenerateFaces: 2, Components: 2}
	if got := m.Faults(); got != want || got.Closed() {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestWeldMergesOnlyEqualPoints(t *testing.T) {
	box := boxMesh(1, 1, 1)
	loose := &Mesh{}
	for f, face := range box.Faces {
		at := int32(len(loose.Points))
		for _, v := range face {
			p := box.Points[v]
			if p[1] == 0 && f%2 == 1 {
				p[1] = math.Copysign(0, -1) // -0 is the same place as 0
			}
			loose.Points = append(loose.Points, p)
		}
		loose.Faces = append(loose.Faces, [3]int32{at, at + 1, at + 2})
		loose.Label = append(loose.Label, int32(f))
	}
	at := int32(len(loose.Points))
	loose.Points = append(loose.Points, geom.Vec{9, 9, 9}, geom.Vec{0, 0, 0}, geom.Vec{1e-9, 0, 0}, geom.Vec{0, 1, 0})
	loose.Faces = append(loose.Faces, [3]int32{at + 1, at + 1, at + 3}, [3]int32{at + 1, at + 2, at + 3})
	loose.Label = append(loose.Label, 90, 91)
	got, rep := Weld(loose)
	if want := (WeldReport{PointsBefore: 40, PointsMerged: 30, PointsUnused: 1, FacesDropped: 1}); rep != want {
		t.Errorf("report %+v, want %+v", rep, want)
	}
	if len(got.Points) != 9 || len(got.Faces) != 13 || got.Label[12] != 91 {
		t.Errorf("%d points, %d faces, labels %v", len(got.Points), len(got.Faces), got.Label)
	}
	if f := (&Mesh{Points: got.Points, Faces: got.Faces[:12]}).Faults(); !f.Closed() {
		t.Errorf("the welded box has faults %+v", f)
	}
}

// FirstHit against all answers of Ray, also along axes and through points.
func TestFirstHitIsTheFirstOfRay(t *testing.T) {
	for seed := range uint64(4) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			s := surfaceOf(t, bumpyTorus(60, 30, seed))
			r := rand.New(rand.NewPCG(seed, 22))
			for i := range 2000 {
				o, d := randomPoint(r), geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
				switch i % 5 {
				case 0:
					d = s.m.Points[r.IntN(len(s.m.Points))].Sub(o)
				case 1:
					d = geom.Vec{}
					d[i%3] = float64(1 - 2*(i/5%2))
				}
				all := s.Ray(o, d)
				hit, ok := s.FirstHit(o, d)
				if ok != (len(all) > 0) || ok && hit != all[0] {
					t.Fatalf("ray %d: first %+v %t, all %+v", i, hit, ok, all)
				}
			}
		})
	}
	box := surfaceOf(t, boxMesh(2, 2, 2))
	hit, ok := box.FirstHit(geom.Vec{1, 0.5, 5}, geom.Vec{0, 0, -1})
	if !ok || hit.DistMM != 3 || !hit.Front {
		t.Errorf("%+v %t", hit, ok)
	}
	if hit, ok = box.FirstHit(geom.Vec{1, 0.5, 1}, geom.Vec{0, 0, -1}); !ok || hit.DistMM != 1 || hit.Front {
		t.Errorf("from inside: %+v %t", hit, ok)
	}
	if _, ok = box.FirstHit(geom.Vec{1, 1, 5}, geom.Vec{0, 0, 1}); ok {
		t.Error("a box behind the ray was met")
	}
}

// Corners welded a triangle at a time get the numbers they get one by one.
func TestAddFacesMatchesAdd(t *testing.T) {
	const seed = 25
	r := rand.New(rand.NewPCG(seed, 0))
	corners := make([][3]geom.Vec, 1000)
	for i := range corners {
		for k := range 3 {
			corners[i][k] = geom.Vec{float64(r.IntN(7)), math.Copysign(float64(r.IntN(3)), -1), float64(r.IntN(5))}
		}
	}
	one, all := NewWelder(1), NewWelder(1)
	want, got := make([][3]int32, len(corners)), make([][3]int32, len(corners))
	for i := range corners {
		for k := range 3 {
			want[i][k] = one.Add(corners[i][k])
		}
	}
	all.AddFaces(corners, got)
	if len(all.Points) != 7*3*5 || !slices.Equal(got, want) || !slices.Equal(all.Points, one.Points) {
		t.Errorf("%d points, one by one %d; faces equal: %t", len(all.Points), len(one.Points), slices.Equal(got, want))
	}
}
