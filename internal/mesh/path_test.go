package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// checkLength compares with a relative tolerance of 1e-9.
func checkLength(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9*want) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

func shortestOf(t *testing.T, s *Surface, a, b Site) Path {
	t.Helper()
	p, err := s.ShortestPath(a, b)
	if err != nil {
		t.Fatal(err)
	}
	checkOnSurface(t, s, a, b, p)
	return p
}

func locallyShortestOf(t *testing.T, s *Surface, a, b Site) Path {
	t.Helper()
	p, err := s.Path(a, b)
	if err != nil {
		t.Fatal(err)
	}
	checkOnSurface(t, s, a, b, p)
	return p
}

// Expected: straight lines in the unfolded box (closed forms). The room is the
// spider and the fly of H. E. Dudeney, The Canterbury Puzzles, 1907: 40 over
// five faces.
func TestPathOnBoxesIsExact(t *testing.T) {
	for _, c := range []struct {
		name       string
		x, y, z    float64
		from, to   geom.Vec
		want       float64
		localToo   bool
		wantProven bool
	}{
		{"cube, adjacent corners", 1, 1, 1, geom.Vec{0, 0, 0}, geom.Vec{1, 0, 0}, 1, true, true},
		{"cube, face diagonal", 1, 1, 1, geom.Vec{0, 0, 0}, geom.Vec{1, 1, 0}, math.Sqrt2, true, true},
		{"cube, other face diagonal", 1, 1, 1, geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, math.Sqrt2, true, true},
		{"cube, opposite corners", 1, 1, 1, geom.Vec{0, 0, 0}, geom.Vec{1, 1, 1}, math.Sqrt(5), true, true},
		{"1 x 1 x 2, opposite corners", 1, 1, 2, geom.Vec{0, 0, 0}, geom.Vec{1, 1, 2}, math.Sqrt(8), false, true},
		{"spider and fly", 30, 12, 12, geom.Vec{0, 6, 11}, geom.Vec{30, 6, 1}, 40, false, true},
		{"cube, middles of opposite faces", 1, 1, 1, geom.Vec{0.5, 0.5, 0}, geom.Vec{0.5, 0.5, 1}, 2, false, true},
		{"cube, over one edge", 1, 1, 1, geom.Vec{0.3, 0, 0.9}, geom.Vec{0.7, 0.2, 1}, math.Hypot(0.4, 0.3), true, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := surfaceOf(t, boxMesh(c.x, c.y, c.z))
			a, _ := s.Closest(c.from)
			b, _ := s.Closest(c.to)
			p := shortestOf(t, s, a, b)
			checkLength(t, "shortest", p.LengthMM, c.want)
			if p.Proven != c.wantProven || (p.Doubt == "") != p.Proven {
				t.Errorf("proven %t, doubt %q", p.Proven, p.Doubt)
			}
			l := locallyShortestOf(t, s, a, b)
			if c.localToo {
				checkLength(t, "local", l.LengthMM, c.want)
			}
			checkLength(t, "chord", p.ChordMM, c.from.Dist(c.to))
		})
	}
}

// Expected: CGAL 5.5, exact solver of Surface_mesh_shortest_path, on the same
// icosahedron split k times and projected to the unit sphere, antipodal points
// of the icosahedron; they approach pi.
func TestShortestPathOnSphereMatchesExactSolver(t *testing.T) {
	for k, want := range map[int]float64{1: 3.0261980, 2: 3.1106935, 3: 3.1336716, 4: 3.1395844} {
		t.Run(fmt.Sprintf("k=%d", k), func(t *testing.T) {
			s := surfaceOf(t, icosphere(k))
			a, b := siteAtPoint(t, s, 0), siteAtPoint(t, s, 3)
			p := shortestOf(t, s, a, b)
			if math.Abs(p.LengthMM-want) > 6e-8 || !p.Proven {
				t.Errorf("length %.9f (proven %t), want %.7f", p.LengthMM, p.Proven, want)
			}
			if l := locallyShortestOf(t, s, a, b); l.LengthMM < p.LengthMM*(1-1e-12) {
				t.Errorf("local %.12f is shorter than the shortest %.12f", l.LengthMM, p.LengthMM)
			}
		})
	}
}

// coneOf is a cone without base: n faces round an apex at height h, the rim's
// points alternately at radius r and at radius r and height lift.
func coneOf(n int, r, h, lift float64) *Mesh {
	m := &Mesh{Points: []geom.Vec{{0, 0, h}}}
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		m.Points = append(m.Points, geom.Vec{r * math.Cos(a), r * math.Sin(a), lift * float64(i%2)})
		m.Faces = append(m.Faces, [3]int32{0, int32(i + 1), int32((i+1)%n + 1)})
	}
	return m
}

// Expected: the faces round an apex unfold into a sector, so the distance
// between two points at s1 and s2 from the apex, angle phi apart, is
// sqrt(s1^2 + s2^2 - 2 s1 s2 cos phi) if phi < pi and s1 + s2 otherwise (closed
// form), phi the smaller of both ways round.
func TestShortestPathOnConesMatchesUnfolding(t *testing.T) {
	for _, c := range []struct {
		name          string
		n             int
		r, h, lift    float64
		fullTurnBelow bool
	}{
		{"steep", 7, 100, 150, 0, true},
		{"flat", 12, 100, 0, 0, true},
		{"saddle", 8, 100, 40, 120, false},
	} {
		s := surfaceOf(t, coneOf(c.n, c.r, c.h, c.lift))
		total := 0.0
		before := make([]float64, c.n)
		for f := range c.n {
			before[f] = total
			total += s.cornerRad(int32(3 * f))
		}
		if below := total <= 2*math.Pi+1e-12; below != c.fullTurnBelow {
			t.Fatalf("%s: turn %g", c.name, total)
		}
		for g := 1; g < c.n; g++ {
			// sites on the edges from the apex, near it, so that the rim is out of reach
			s1, s2 := 10.0, 15.0
			at := func(f int, d float64) Site {
				w := d / s.m.Points[0].Dist(s.m.Points[s.m.Faces[f][1]])
				return s.Site(f, [3]float64{1 - w, w, 0})
			}
			phi := min(before[g], total-before[g])
			want := s1 + s2
			if phi < math.Pi {
				want = math.Sqrt(s1*s1 + s2*s2 - 2*s1*s2*math.Cos(phi))
			}
			p := shortestOf(t, s, at(0, s1), at(g, s2))
			checkLength(t, fmt.Sprintf("%s, edge %d", c.name, g), p.LengthMM, want)
			if !p.Proven {
				t.Errorf("%s, edge %d: not proven: %s", c.name, g, p.Doubt)
			}
		}
	}
}

// crumpled is an icosahedron with its points moved at random: 20 faces, with
// ridges, dents and saddle points; some faces are taken away, but not so that two
// pieces only touch in a point.
func crumpled(seed uint64, open int) *Mesh {
	r := rand.New(rand.NewPCG(seed, 7))
	m := icosphere(0)
	for i := range m.Points {
		m.Points[i] = m.Points[i].Scale(0.15 + 1.7*r.Float64()).Add(geom.Vec{r.Float64(), r.Float64(), r.Float64()}.Scale(0.8))
	}
	r.Shuffle(len(m.Faces), func(i, j int) { m.Faces[i], m.Faces[j] = m.Faces[j], m.Faces[i] })
	for open > 0 {
		rest := &Mesh{Points: m.Points, Faces: m.Faces[1:]}
		if !pinched(rest) {
			m, open = rest, open-1
			continue
		}
		m.Faces = append(append([][3]int32(nil), m.Faces[1:]...), m.Faces[0])
	}
	return m
}

func pinched(m *Mesh) bool {
	rims := make([]int, len(m.Points))
	m.edgeGroups(func(u, v int32, halves []int32) {
		if len(halves) == 1 {
			rims[u]++
			rims[v]++
		}
	})
	return slices.Max(rims) > 2
}

// throughEveryStrip is the shortest length over every row of different faces
// from a to b: a plain search with nothing left out, for tiny meshes.
func throughEveryStrip(t *testing.T, s *Surface, a, b Site) float64 {
	from, err := s.anchor(a)
	if err != nil {
		t.Fatal(err)
	}
	to, err := s.anchor(b)
	if err != nil {
		t.Fatal(err)
	}
	best := math.Inf(1)
	visited := make([]bool, len(s.m.Faces))
	var faces, exits []int32
	var walk func(f int32)
	walk = func(f int32) {
		visited[f] = true
		faces = append(faces, f)
		if s.holds(f, &to) {
			p := strip{from: from, to: to, faces: append([]int32(nil), faces...), exits: append([]int32(nil), exits...)}
			s.trim(&p)
			best = min(best, s.throughStrip(&p).lengthMM)
		}
		for k := range int32(3) {
			if g := s.adj.twin[3*f+k]; g >= 0 && !visited[g/3] {
				exits = append(exits, 3*f+k)
				walk(g / 3)
				exits = exits[:len(exits)-1]
			}
		}
		faces = faces[:len(faces)-1]
		visited[f] = false
	}
	for _, f := range s.around(&from) {
		walk(f)
	}
	return best
}

// Expected: the plain search over all strips of the same small mesh.
func TestShortestPathMatchesEveryStrip(t *testing.T) {
	bent, seeds := 0, draws(12, 96)
	for seed := range seeds {
		open := int(seed % 4)
		t.Run(fmt.Sprintf("seed=%d,open=%d", seed, open), func(t *testing.T) {
			s := surfaceOf(t, crumpled(seed, open))
			r := rand.New(rand.NewPCG(seed, 8))
			site := func() Site {
				w := [3]float64{r.Float64(), r.Float64(), r.Float64()}
				for k := range r.IntN(3) { // inside, on an edge, at a point
					w[k] = 0
				}
				return s.Site(r.IntN(len(s.m.Faces)), w)
			}
			for range 6 {
				a, b := site(), site()
				want := throughEveryStrip(t, s, a, b)
				p, err := s.ShortestPath(a, b)
				if err != nil {
					if !math.IsInf(want, 1) {
						t.Error(err)
					}
					continue
				}
				checkOnSurface(t, s, a, b, p)
				if math.Abs(p.LengthMM-want) > 1e-9*want || !p.Proven {
					t.Errorf("%.12g (proven %t %s), want %.12g", p.LengthMM, p.Proven, p.Doubt, want)
				}
				if passesPivot(s, p) {
					bent++
				}
			}
		})
	}
	if uint64(bent) < seeds/2 {
		t.Errorf("only %d of %d paths bend round a point: the test is too easy", bent, 6*seeds)
	}
}

func passesPivot(s *Surface, p Path) bool {
	for _, q := range p.Points[1 : len(p.Points)-1] {
		for _, v := range s.m.Points {
			if v == q {
				return true
			}
		}
	}
	return false
}

// A locally shortest way is straight over every edge: moving one of its points
// along the edge it crosses never shortens it. At a point of the mesh, at least
// half a turn of surface lies on either side, or the border of the surface does.
func TestPathCannotBeShortenedLocally(t *testing.T) {
	for seed := range uint64(6) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			s := surfaceOf(t, bumpyTorus(40, 24, seed))
			r := rand.New(rand.NewPCG(seed, 1))
			for range 20 {
				a := s.Site(r.IntN(len(s.m.Faces)), [3]float64{r.Float64(), r.Float64(), r.Float64()})
				b := s.Site(r.IntN(len(s.m.Faces)), [3]float64{r.Float64(), r.Float64(), r.Float64()})
				p := locallyShortestOf(t, s, a, b)
				checkStraight(t, s, p)
				q := shortestOf(t, s, a, b)
				checkStraight(t, s, q)
				if q.LengthMM > p.LengthMM*(1+1e-12) || !q.Proven {
					t.Errorf("shortest %.12g, local %.12g, %s", q.LengthMM, p.LengthMM, q.Doubt)
				}
			}
		})
	}
}

func checkStraight(t *testing.T, s *Surface, p Path) {
	t.Helper()
	at := map[geom.Vec]int32{}
	for v, q := range s.m.Points {
		at[q] = int32(v)
	}
	for i := 1; i+1 < len(p.Points); i++ {
		before, here, after := p.Points[i-1], p.Points[i], p.Points[i+1]
		if v, ok := at[here]; ok {
			for _, rad := range sidesRad(s, v, int32(p.Faces[i-1]), int32(p.Faces[i]), before, after) {
				if rad < math.Pi-1e-6 {
					t.Errorf("point %d: %g rad of surface on one side of the bend", i, rad)
				}
			}
			continue
		}
		u, v, ok := sharedEdge(s.m.Faces[p.Faces[i-1]], s.m.Faces[p.Faces[i]])
		if !ok {
			t.Fatalf("faces %d and %d share no edge", p.Faces[i-1], p.Faces[i])
		}
		step := s.m.Points[v].Sub(s.m.Points[u]).Unit().Scale(1e-4)
		length := before.Dist(here) + here.Dist(after)
		for _, moved := range []geom.Vec{here.Add(step), here.Sub(step)} {
			if l := before.Dist(moved) + moved.Dist(after); l < length-1e-9 {
				t.Errorf("point %d: moving it by 0.0001 mm shortens the way by %g mm", i, length-l)
			}
		}
	}
}

// sidesRad are the angles on both sides of a way that comes to point v through
// face f and leaves it through face g; a side that ends at a border is left out.
func sidesRad(s *Surface, v, f, g int32, before, after geom.Vec) []float64 {
	angle := func(p, q geom.Vec) float64 {
		a, b := p.Sub(s.m.Points[v]), q.Sub(s.m.Points[v])
		return math.Atan2(a.Cross(b).Norm(), a.Dot(b))
	}
	far := func(h int32) geom.Vec { // the end of an edge at v that is not v
		a, b := s.m.halfEnds(h)
		return s.m.Points[a+b-v]
	}
	if f == g {
		return nil
	}
	var out []float64
	k := s.cornerAt(f, v)
	for _, h := range []int32{k, prevHalf(k)} {
		rad := angle(before, far(h))
		for {
			t := s.adj.twin[h]
			if t < 0 {
				break
			}
			if t/3 == g {
				out = append(out, rad+angle(after, far(t)))
				break
			}
			rad += s.cornerAtRad(t/3, v)
			h = s.otherHalfAt(t/3, v, t)
		}
	}
	return out
}

func sharedEdge(f, g [3]int32) (u, v int32, ok bool) {
	var both []int32
	for _, a := range f {
		for _, b := range g {
			if a == b {
				both = append(both, a)
			}
		}
	}
	if len(both) != 2 {
		return 0, 0, false
	}
	return both[0], both[1], true
}

// A motion, another order of the faces and points, and other corners first
// change no length; asking twice gives the same bytes; there and back are equal;
// a detour is never shorter.
func TestPathLaws(t *testing.T) {
	for seed := range uint64(4) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			m := bumpyTorus(30, 20, seed)
			s := surfaceOf(t, m)
			r := rand.New(rand.NewPCG(seed, 2))
			var sites [3]Site
			for i := range sites {
				sites[i] = s.Site(r.IntN(len(m.Faces)), [3]float64{r.Float64(), r.Float64(), r.Float64()})
			}
			ab, ba := shortestOf(t, s, sites[0], sites[1]), shortestOf(t, s, sites[1], sites[0])
			checkLength(t, "back", ba.LengthMM, ab.LengthMM)
			if again := shortestOf(t, s, sites[0], sites[1]); !reflect.DeepEqual(ab, again) {
				t.Error("asked twice, answered differently")
			}
			bc, ac := shortestOf(t, s, sites[1], sites[2]), shortestOf(t, s, sites[0], sites[2])
			if ac.LengthMM > (ab.LengthMM+bc.LengthMM)*(1+1e-9) {
				t.Errorf("%g > %g + %g", ac.LengthMM, ab.LengthMM, bc.LengthMM)
			}
			moved, back := shuffled(m, r)
			ms := surfaceOf(t, moved)
			var there [2]Site
			for i := range there {
				there[i] = back(ms, sites[i])
			}
			checkLength(t, "moved and shuffled", shortestOf(t, ms, there[0], there[1]).LengthMM, ab.LengthMM)
		})
	}
}

// shuffled is the mesh turned, shifted and in another order, and the map of sites.
func shuffled(m *Mesh, r *rand.Rand) (*Mesh, func(*Surface, Site) Site) {
	c, s := math.Cos(0.7), math.Sin(0.7)
	turn := func(p geom.Vec) geom.Vec {
		p = geom.Vec{c*p[0] - s*p[1], s*p[0] + c*p[1], p[2]}
		return geom.Vec{p[0] + 100, c*p[1] - s*p[2] - 2000, s*p[1] + c*p[2] + 30}
	}
	points, faces := r.Perm(len(m.Points)), r.Perm(len(m.Faces))
	out := &Mesh{Points: make([]geom.Vec, len(m.Points)), Faces: make([][3]int32, len(m.Faces))}
	for i, p := range m.Points {
		out.Points[points[i]] = turn(p)
	}
	roll := make([]int, len(m.Faces))
	for f, t := range m.Faces {
		roll[f] = r.IntN(3)
		for k, v := range t {
			out.Faces[faces[f]][(k+roll[f])%3] = int32(points[v])
		}
	}
	return out, func(surface *Surface, a Site) Site {
		var w [3]float64
		for k := range 3 {
			w[(k+roll[a.Face])%3] = a.Bary[k]
		}
		return surface.Site(faces[a.Face], w)
	}
}

func TestPathRefusesAndDoubts(t *testing.T) {
	two := boxMesh(1, 1, 1)
	for _, p := range boxMesh(1, 1, 1).Points {
		two.Points = append(two.Points, p.Add(geom.Vec{5, 0, 0}))
	}
	for _, f := range boxMesh(1, 1, 1).Faces {
		two.Faces = append(two.Faces, [3]int32{f[0] + 8, f[1] + 8, f[2] + 8})
	}
	s := surfaceOf(t, two)
	if _, err := s.ShortestPath(siteAtPoint(t, s, 0), siteAtPoint(t, s, 9)); diag.KindOf(err) != diag.NotFound {
		t.Errorf("unconnected pieces: %v", err)
	}
	for _, bad := range []Site{{Face: -1}, {Face: 99}, {Face: 0}, {Face: 0, Bary: [3]float64{2, -1, 0}}, {Face: 0, Bary: [3]float64{math.NaN(), 0, 1}}} {
		if _, err := s.Path(siteAtPoint(t, s, 0), bad); diag.KindOf(err) != diag.Invalid {
			t.Errorf("site %v: %v", bad, err)
		}
	}
	torus := surfaceOf(t, bumpyTorus(40, 24, 1))
	third := [3]float64{1, 1, 1}
	p, err := torus.shortest(torus.Site(0, third), torus.Site(961, third), 50)
	if err != nil || p.Proven || !strings.Contains(p.Doubt, "stopped after") {
		t.Errorf("with 50 windows: proven %t, doubt %q, %v", p.Proven, p.Doubt, err)
	}
	if p := locallyShortestOf(t, torus, torus.Site(0, third), torus.Site(961, third)); p.Proven || p.Doubt == "" {
		t.Errorf("a locally shortest path claims to be proven")
	}
}

// Three sheets that share an edge, and two that share only a point: a way is
// found, through mesh points, and the doubt is told where there is one.
func TestPathAcrossSeamsAndPinches(t *testing.T) {
	fins := &Mesh{
		Points: []geom.Vec{{0, 0, 0}, {10, 0, 0}, {5, 10, 0}, {5, -8, 3}, {5, 0, 9}},
		Faces:  [][3]int32{{0, 1, 2}, {0, 1, 3}, {0, 1, 4}},
	}
	s := surfaceOf(t, fins)
	p := shortestOf(t, s, siteAtPoint(t, s, 2), siteAtPoint(t, s, 4))
	if p.Proven || !strings.Contains(p.Doubt, "three or more faces") {
		t.Errorf("proven %t, doubt %q", p.Proven, p.Doubt)
	}
	// over a corner: |(5,10,0)| + |(5,0,9)| (closed form)
	checkLength(t, "over a seam", p.LengthMM, math.Sqrt(125)+math.Sqrt(106))
	pinch := &Mesh{
		Points: []geom.Vec{{0, 0, 0}, {10, 3, 0}, {10, -3, 0}, {-8, 3, 1}, {-8, -3, 1}},
		Faces:  [][3]int32{{0, 2, 1}, {0, 3, 4}},
	}
	s = surfaceOf(t, pinch)
	a, b := s.Site(0, [3]float64{0, 1, 1}), s.Site(1, [3]float64{0, 1, 1})
	p = shortestOf(t, s, a, b)
	checkLength(t, "over a pinch", p.LengthMM, 10+math.Sqrt(65))
	if !p.Proven {
		t.Errorf("doubt %q", p.Doubt)
	}
}

// Two faces with opposite orientation are still neighbours.
func TestPathIgnoresOrientation(t *testing.T) {
	m := boxMesh(1, 1, 1)
	for f := range m.Faces {
		if f%3 == 0 {
			m.Faces[f][0], m.Faces[f][1] = m.Faces[f][1], m.Faces[f][0]
		}
	}
	s := surfaceOf(t, m)
	p := shortestOf(t, s, siteAtPoint(t, s, 0), siteAtPoint(t, s, 7))
	checkLength(t, "flipped faces", p.LengthMM, math.Sqrt(5))
}

// Expected: sums along edges of the cube, by hand.
func TestGraphDistances(t *testing.T) {
	s := surfaceOf(t, boxMesh(1, 1, 1))
	d, err := s.GraphDistances([]Site{siteAtPoint(t, s, 0)}, math.Inf(1))
	if err != nil {
		t.Fatal(err)
	}
	for v, want := range []float64{0, 1, 1, math.Sqrt2, 1, math.Sqrt2, math.Sqrt2, 1 + math.Sqrt2} {
		if math.Abs(d[v]-want) > 1e-12 {
			t.Errorf("point %d: %g, want %g", v, d[v], want)
		}
	}
	d, _ = s.GraphDistances([]Site{siteAtPoint(t, s, 0), siteAtPoint(t, s, 7)}, 1)
	for v, x := range d {
		if want := []float64{0, 1, 1, 1, 1, 1, 1, 0}[v]; x != want {
			t.Errorf("two sources, point %d: %g, want %g", v, x, want)
		}
	}
	d, _ = s.GraphDistances([]Site{siteAtPoint(t, s, 0)}, 1)
	if !math.IsInf(d[7], 1) || !math.IsInf(d[3], 1) || d[1] != 1 {
		t.Errorf("limit 1: %v", d)
	}
	if _, err := s.GraphDistances([]Site{{Face: -1}}, 1); err == nil {
		t.Error("a site off the surface was accepted")
	}
}
