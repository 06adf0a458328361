package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// cells is the surface of some cells of a grid with the given lines: inside says
// which, by the middle of the cell.
func cells(lines [3][]float64, inside func(p geom.Vec) bool) *Mesh {
	m := &Mesh{}
	id := map[[3]int]int32{}
	at := func(i [3]int) int32 {
		if _, ok := id[i]; !ok {
			id[i] = int32(len(m.Points))
			m.Points = append(m.Points, geom.Vec{lines[0][i[0]], lines[1][i[1]], lines[2][i[2]]})
		}
		return id[i]
	}
	full := func(i [3]int) bool {
		var p geom.Vec
		for k, l := range lines {
			if i[k] < 0 || i[k]+1 >= len(l) {
				return false
			}
			p[k] = (l[i[k]] + l[i[k]+1]) / 2
		}
		return inside(p)
	}
	for x := range len(lines[0]) - 1 {
		for y := range len(lines[1]) - 1 {
			for z := range len(lines[2]) - 1 {
				c := [3]int{x, y, z}
				if !full(c) {
					continue
				}
				for k := range 3 {
					for _, up := range []int{0, 1} {
						o := c
						o[k] += 2*up - 1
						if full(o) {
							continue
						}
						corner := func(u, v int) int32 {
							q := c
							q[k] += up
							q[(k+1)%3] += u
							q[(k+2)%3] += v
							return at(q)
						}
						a, b, d, e := corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)
						if up == 0 {
							b, e = e, b
						}
						m.Faces = append(m.Faces, [3]int32{a, b, d}, [3]int32{a, d, e})
					}
				}
			}
		}
	}
	return m
}

// upTo is the numbers from 0 to end, step apart.
func upTo(end, step float64) []float64 {
	var out []float64
	for x := 0.0; x <= end+1e-9; x += step {
		out = append(out, x)
	}
	return out
}

// moved is a mesh turned, shifted and with its points and faces in another order.
func moved(m *Mesh, seed uint64) *Mesh {
	r := rand.New(rand.NewPCG(seed, 1))
	a := geom.Vec{1, 2, 3}.Unit()
	u := a.Cross(geom.Vec{1, 0, 0}).Unit()
	v := a.Cross(u)
	out := &Mesh{Points: make([]geom.Vec, len(m.Points))}
	at := r.Perm(len(m.Points))
	for i, p := range m.Points {
		out.Points[at[i]] = u.Scale(p[0]).Add(v.Scale(p[1])).Add(a.Scale(p[2])).Add(geom.Vec{700, -40, 90})
	}
	for _, f := range r.Perm(len(m.Faces)) {
		t, k := m.Faces[f], r.IntN(3)
		out.Faces = append(out.Faces, [3]int32{int32(at[t[k]]), int32(at[t[(k+1)%3]]), int32(at[t[(k+2)%3]])})
	}
	return out
}

// plate is 120 x 80 mm, thick mm, with a round hole of radius 9 about (30, 40)
// (the grid is bent there) and a slot of 30 x 8 mm.
func plate(thick float64) *Mesh {
	m := cells([3][]float64{upTo(120, 2), upTo(80, 2), {0, thick}}, func(p geom.Vec) bool {
		hole := math.Max(math.Abs(p[0]-30), math.Abs(p[1]-40)) < 8
		slot := p[0] > 70 && p[0] < 100 && p[1] > 36 && p[1] < 44
		return !hole && !slot
	})
	for i, p := range m.Points {
		x, y := p[0]-30, p[1]-40
		square, round := math.Max(math.Abs(x), math.Abs(y)), math.Hypot(x, y)
		if square < 20 && round > 0 {
			share := math.Min(1, (20-square)/12) // of the way from a square to a circle
			k := 1 + share*(square*9/8/round-1)
			m.Points[i][0], m.Points[i][1] = 30+k*x, 40+k*y
		}
	}
	return m
}

// Ends of walls of known length, constructed: half of the lines on the two sides
// of each. A plate: its outline 2 (120 + 80), its slot 2 (30 + 8), and its round
// hole, 32 chords of a circle of radius 9. A channel of 100 mm, 60 wide, 40 high
// and 5 thick: 2 x 100 and the profile along its outside and its inside,
// 140 and 120, halved twice. A tray: the rim 360 outside and 328 inside, halved;
// the top of its rib, 72 long and 4 wide. A frame whose walls are 4 and 5 thick: above and below
// 140 outside and 104 inside, halved; no way over a corner of it comes to two opposite sides.
func TestWallEndsOfKnownShapes(t *testing.T) {
	channel := cells([3][]float64{upTo(100, 5), upTo(60, 5), upTo(40, 5)}, func(p geom.Vec) bool {
		return p[1] < 5 || p[1] > 55 || p[2] < 5
	})
	tray := cells([3][]float64{upTo(100, 4), upTo(80, 4), upTo(32, 4)}, func(p geom.Vec) bool {
		return p[0] < 4 || p[0] > 96 || p[1] < 4 || p[1] > 76 || p[2] < 4 || p[0] > 48 && p[0] < 52 && p[2] < 16
	})
	frame := cells([3][]float64{upTo(40, 4), upTo(30, 5), {0, 20}}, func(p geom.Vec) bool {
		return p[0] < 4 || p[0] > 36 || p[1] < 5 || p[1] > 25
	})
	ring := 0.0
	for _, p := range plate(5).Points { // of the bent grid: the chords are not all equal
		if d := math.Hypot(p[0]-30, p[1]-40); math.Abs(d-9) < 1e-9 && p[2] == 0 {
			ring++
		}
	}
	if ring != 32 {
		t.Fatalf("the hole has %g points", ring)
	}
	for _, c := range []struct {
		name  string
		m     *Mesh
		thick float64
		mm    []float64
		band  []float64
	}{
		{"plate", plate(5), 15, []float64{400, 76, -1}, []float64{5, 5, 5}},
		{"channel", channel, 15, []float64{2*100 + 140 + 120}, []float64{5}},
		{"tray", tray, 12, []float64{344, 76}, []float64{4, 4}},
		{"frame", frame, 15, []float64{122, 122}, []float64{5, 5}},
		{"block", boxMesh(60, 50, 40), 15, nil, nil},
	} {
		for seed := range draws(2, 6) {
			m := c.m
			if seed > 0 {
				m = moved(m, seed)
			}
			t.Run(fmt.Sprintf("%s seed %d", c.name, seed), func(t *testing.T) {
				if f := m.Faults(); !f.Closed() {
					t.Fatalf("the shape is not closed: %+v", f)
				}
				ends := surfaceOf(t, m).WallEnds(c.thick, nil)
				if len(ends) != len(c.mm) {
					for _, e := range ends {
						t.Logf("%d faces, %.2f mm, %.2f thick, %d borders", len(e.Faces), e.LengthMM, e.ThickMM, len(e.Borders))
					}
					t.Fatalf("%d ends of walls, %d expected", len(ends), len(c.mm))
				}
				for i, e := range ends {
					if c.mm[i] > 0 && math.Abs(e.LengthMM-c.mm[i]) > 1e-9*c.mm[i] || math.Abs(e.ThickMM-c.band[i]) > 1e-9 && c.name != "channel" {
						t.Errorf("end %d: %.9g mm long, %.9g thick; expected %g, %g", i+1, e.LengthMM, e.ThickMM, c.mm[i], c.band[i])
					}
				}
			})
		}
	}
}

// A round end: a plate of 5 mm whose edge is a half circle of eight flats. The
// band is what leans by 20 degrees from both sides, at most 5 mm apart.
func TestWallEndThatIsRounded(t *testing.T) {
	m := &Mesh{}
	const n, long = 8, 10
	var ring []geom.Vec // of the profile, y and z
	for i := range n + 1 {
		s, c := math.Sincos(math.Pi * (float64(i)/n - 0.5))
		ring = append(ring, geom.Vec{0, 40 + 2.5*c, 2.5 * s})
	}
	ring = append(ring, geom.Vec{0, 20, 2.5}, geom.Vec{0, 0, 2.5}, geom.Vec{0, 0, -2.5}, geom.Vec{0, 20, -2.5})
	for k := range long + 1 {
		for _, p := range ring {
			m.Points = append(m.Points, p.Add(geom.Vec{10 * float64(k), 0, 0}))
		}
	}
	w := int32(len(ring))
	for k := range int32(long) {
		for i := range w {
			a, b := k*w+i, k*w+(i+1)%w
			m.Faces = append(m.Faces, [3]int32{a, b + w, a + w}, [3]int32{a, b, b + w})
		}
	}
	ends := surfaceOf(t, m).WallEnds(15, nil)
	slices.SortFunc(ends, func(a, b WallEnd) int { return len(b.Faces) - len(a.Faces) })
	if len(ends) != 2 {
		t.Fatalf("%d ends: %+v", len(ends), ends)
	}
	// the flats lean 11.25, 33.75, ... degrees from the sides: six of eight are the band
	if got := len(ends[0].Faces); got != 2*6*long {
		t.Errorf("%d faces of the rounded end, %d expected", got, 2*6*long)
	}
	if ends[0].ThickMM > 5+1e-9 || ends[0].ThickMM < 4 {
		t.Errorf("%g mm thick", ends[0].ThickMM)
	}
	for _, f := range ends[1].Faces { // the sharp one, at y = 0
		if a, b, c := m.corners(int(f)); a[1]+b[1]+c[1] != 0 {
			t.Errorf("face %d lies on no end", f)
		}
	}
}

// What was told to be left out is left out: the wall of the round hole.
func TestWallEndsLeaveHolesOut(t *testing.T) {
	m := plate(5)
	skip := make([]bool, len(m.Faces))
	for f := range m.Faces {
		a, b, c := m.corners(f)
		mid := a.Add(b).Add(c).Scale(1. / 3)
		skip[f] = math.Hypot(mid[0]-30, mid[1]-40) < 9.5 && math.Abs(m.FaceNormal(f)[2]) < 0.1
	}
	if ends := surfaceOf(t, m).WallEnds(15, skip); len(ends) != 2 {
		t.Errorf("%d ends", len(ends))
	}
}

// Each face of an end can be left out, in its corners too; what is left of the end is the rest, but
// for the other half of a corner where that hangs on it.
func TestWallEndsLeaveAnyFaceOut(t *testing.T) {
	m := cells([3][]float64{{0, 4, 20, 36, 40}, {0, 5, 15, 25, 30}, {0, 20}}, func(p geom.Vec) bool {
		return p[0] < 4 || p[0] > 36 || p[1] < 5 || p[1] > 25
	})
	s := surfaceOf(t, m)
	ofEnds := func(skip []bool) (out []int32) {
		for _, e := range s.WallEnds(15, skip) {
			out = append(out, e.Faces...)
		}
		slices.Sort(out)
		return out
	}
	none := make([]bool, len(m.Faces))
	all := ofEnds(nil)
	if !slices.Equal(all, ofEnds(none)) || len(all) != 2*2*12 {
		t.Fatalf("%d faces of ends, 12 squares above and as many below expected", len(all))
	}
	halves := 0
	for i, f := range all {
		if m.FaceNormal(int(f))[2] < 0 { // below it is as above
			continue
		}
		skip := slices.Clone(none)
		skip[f] = true
		got, want := ofEnds(skip), slices.Delete(slices.Clone(all), i, i+1)
		if k := slices.Index(want, f^1); len(got) < len(want) && k >= 0 { // squares are two faces in a row
			want = slices.Delete(want, k, k+1)
			halves++
		}
		if !slices.Equal(got, want) {
			t.Errorf("without face %d the ends have %v, want %v", f, got, want)
		}
	}
	if halves > 4 {
		t.Errorf("%d faces took another one with them", halves)
	}
}

// Faces without an area have no wall and hide none of the others, wherever they come.
func TestWallsBesideFacesWithoutArea(t *testing.T) {
	m := boxMesh(6, 5, 4)
	walls := func(m *Mesh) (n int) {
		surfaceOf(t, m).EachWall(func(_, _ int32, _ float64) { n++ })
		return n
	}
	if walls(m) != 12 {
		t.Fatalf("%d walls of a box", walls(m))
	}
	for v := range int32(8) {
		n := int32(len(m.Points))
		flat := &Mesh{Points: append(slices.Clone(m.Points), m.Points[v], m.Points[v]), Faces: append([][3]int32{{v, n, n + 1}}, m.Faces...)}
		if got := walls(flat); got != 12 {
			t.Errorf("a face without area at corner %d: %d walls, want 12", v, got)
		}
	}
}

// Walls come in the order of the faces and are those that a ray for each face finds,
// to the bit, whatever the order of the faces.
func TestEachWallMatchesFirstHit(t *testing.T) {
	m := bumpyTorus(24, 18, 5)
	rand.New(rand.NewPCG(14, 40)).Shuffle(len(m.Faces), func(i, j int) { m.Faces[i], m.Faces[j] = m.Faces[j], m.Faces[i] })
	for _, m := range []*Mesh{m, insideOut(m), trayMesh(16)} {
		s := surfaceOf(t, m)
		type wall struct {
			f, g int32
			mm   float64
		}
		var want, got []wall
		lo, hi := m.Bounds()
		skin := 1e-7 * lo.Dist(hi)
		out := s.outward()
		for f := range m.Faces {
			n := m.FaceNormal(f).Scale(out)
			a, b, c := m.corners(f)
			h, ok := s.FirstHit(a.Add(b).Add(c).Scale(1./3).Sub(n.Scale(skin)), n.Scale(-1))
			if ok && m.FaceNormal(h.Face).Scale(out).Dot(n) <= math.Cos(oppositeRad) {
				want = append(want, wall{int32(f), int32(h.Face), h.DistMM + skin})
			}
		}
		s.EachWall(func(f, g int32, mm float64) { got = append(got, wall{f, g, mm}) })
		if len(want) < 100 || !slices.Equal(want, got) {
			t.Errorf("%d walls, want %d", len(got), len(want))
		}
	}
}
