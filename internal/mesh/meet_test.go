package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// segmentToTriangle is the distance of a segment from a triangle: of its ends, from the sides,
// and nothing where it goes through.
func segmentToTriangle(p, q, a, b, c geom.Vec) float64 {
	d := min(nearBySides(p, a, b, c).Dist(p), nearBySides(q, a, b, c).Dist(q), geom.SegmentsDist(p, q, a, b), geom.SegmentsDist(p, q, b, c), geom.SegmentsDist(p, q, c, a))
	n := b.Sub(a).Cross(c.Sub(a))
	hp, hq := n.Dot(p.Sub(a)), n.Dot(q.Sub(a))
	if hp*hq < 0 {
		x := p.Lerp(q, hp/(hp-hq))
		d = min(d, nearBySides(x, a, b, c).Dist(x))
	}
	return d
}

// meetByDistance says whether two faces meet outside what they share, by the rule that Contacts
// tells: edges that have no shared corner come to the other face, or a face is folded flat onto
// its neighbour, or both are one.
func meetByDistance(m *Mesh, f, g int) bool {
	s, u := m.Faces[f], m.Faces[g]
	shared := 0
	for _, v := range s {
		if slices.Contains(u[:], v) {
			shared++
		}
	}
	free := func(t, o [3]int32) bool { // an edge of t without a shared corner comes to face o
		a, b, c := m.Points[o[0]], m.Points[o[1]], m.Points[o[2]]
		for k := range 3 {
			p, q := t[k], t[(k+1)%3]
			if !slices.Contains(o[:], p) && !slices.Contains(o[:], q) && segmentToTriangle(m.Points[p], m.Points[q], a, b, c) < 1e-9 {
				return true
			}
		}
		return false
	}
	switch shared {
	case 3:
		return true
	case 2:
		var edge []geom.Vec
		var tip [2]geom.Vec
		for _, v := range s {
			if slices.Contains(u[:], v) {
				edge = append(edge, m.Points[v])
			} else {
				tip[0] = m.Points[v]
			}
		}
		for _, v := range u {
			if !slices.Contains(s[:], v) {
				tip[1] = m.Points[v]
			}
		}
		e := edge[1].Sub(edge[0]).Unit()
		x, y := radial(tip[0].Sub(edge[0]), e), radial(tip[1].Sub(edge[0]), e)
		return x.Dot(y) > 0 && x.Cross(y).Norm() < 1e-9
	}
	return free(s, u) || free(u, s)
}

// A face lies clearly on one side of the plane of another where all its corners are above it, or
// all below, by whole numbers; of a face without area there is no plane.
func TestFacesOnOneSideOfAPlane(t *testing.T) {
	r := rand.New(rand.NewPCG(112, 0))
	sides := [2]int{}
	for range 3000 {
		m := &Mesh{}
		var whole [6][3]int
		for i := range whole {
			whole[i] = [3]int{r.IntN(5), r.IntN(5), r.IntN(5)}
			m.Points = append(m.Points, geom.Vec{float64(whole[i][0]), float64(whole[i][1]), float64(whole[i][2])})
		}
		from := func(i, k int) (d [3]int) {
			for x := range d {
				d[x] = whole[i][x] - whole[k][x]
			}
			return d
		}
		u, v := from(4, 3), from(5, 3)
		n := [3]int{u[1]*v[2] - u[2]*v[1], u[2]*v[0] - u[0]*v[2], u[0]*v[1] - u[1]*v[0]}
		above, below := true, true
		for i := range 3 {
			d := from(i, 3)
			h := n[0]*d[0] + n[1]*d[1] + n[2]*d[2]
			above, below = above && h > 0, below && h < 0
		}
		c := contactFinder{m: m, eps: 1e-9}
		if got := c.oneSide([3]int32{0, 1, 2}, [3]int32{3, 4, 5}); got != (above || below) {
			t.Fatalf("%v: on one side %v", whole, got)
		}
		if above {
			sides[0]++
		} else if below {
			sides[1]++
		}
	}
	if min(sides[0], sides[1]) < 300 {
		t.Errorf("above and below: %v", sides)
	}
}

// Contacts of faces among few points of a grid, where they touch in every way there is, against
// the distances of their edges; the place that is told lies on both.
func TestContactsByDistance(t *testing.T) {
	r := rand.New(rand.NewPCG(111, 0))
	meet, apart, byShared := 0, 0, [4]int{}
	for k := range 120 {
		m := tangled(r, 8+r.IntN(14), 10+r.IntN(10))
		slices.SortFunc(m.Faces, func(a, b [3]int32) int { return slices.Compare(a[:], b[:]) })
		var want [][2]int32
		for f := range m.Faces {
			for g := f + 1; g < len(m.Faces); g++ {
				if m.FaceAreaMM2(f) == 0 || m.FaceAreaMM2(g) == 0 {
					continue
				}
				if meetByDistance(m, f, g) {
					want = append(want, [2]int32{int32(f), int32(g)})
					shared := 0
					for _, v := range m.Faces[f] {
						if slices.Contains(m.Faces[g][:], v) {
							shared++
						}
					}
					byShared[shared]++
				} else {
					apart++
				}
			}
		}
		list, n, whole := m.Contacts(0)
		var got [][2]int32
		for _, c := range list {
			got = append(got, c.Faces)
			for _, f := range c.Faces {
				p, q, o := m.corners(int(f))
				if d := nearBySides(c.At, p, q, o).Dist(c.At); d > 1e-9 {
					t.Errorf("mesh %d: %v meet at %v, %g off face %d", k, c.Faces, c.At, d, f)
				}
			}
		}
		if !slices.Equal(got, want) || n != len(want) || !whole {
			t.Fatalf("mesh %d: contacts %v, want %v", k, got, want)
		}
		meet += len(want)
		for _, limit := range []int{1, 3} {
			if some, all, _ := m.Contacts(limit); all != n || len(some) != min(n, limit) || !slices.Equal(some, list[:len(some)]) {
				t.Errorf("mesh %d: with a limit of %d there are %d of %d", k, limit, len(some), all)
			}
		}
	}
	if meet < 500 || apart < 500 || slices.Min(byShared[:]) < 5 {
		t.Errorf("%d meet, %d do not; by shared corners %v", meet, apart, byShared)
	}
	// nearer than some thousand roundings counts as touching, farther does not
	for gap, want := range map[float64]bool{0: true, 5e-12: true, 3e-11: false, 1e-6: false} {
		m := joined(boxMesh(10, 10, 10), shifted(boxMesh(4, 4, 4), geom.Vec{10 + gap, 3.3, 3.1}))
		if _, n, _ := m.Contacts(0); (n > 0) != want {
			t.Errorf("a gap of %g: %d contacts", gap, n)
		}
	}
}

// The smallest cut face of a loop against every way to make triangles of it; of many points the
// corners left out are filled, so that a flat loop keeps its area and its cone its volume.
func TestCapsOfLoops(t *testing.T) {
	r := rand.New(rand.NewPCG(112, 0))
	for k := range 60 {
		n := 3 + k%5
		var loop []geom.Vec
		for i := range n {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			loop = append(loop, geom.Vec{5 * cos, 5 * sin, 3}.Add(direction(r).Scale(4*r.Float64())))
		}
		type cap struct{ volume, area float64 }
		var all func(i, k int) []cap // of the part of the loop from i to k
		all = func(i, k int) []cap {
			if k-i < 2 {
				return []cap{{}}
			}
			var out []cap
			for j := i + 1; j < k; j++ {
				a, b, c := loop[i], loop[j], loop[k]
				for _, x := range all(i, j) {
					for _, y := range all(j, k) {
						out = append(out, cap{x.volume + y.volume + a.Dot(b.Cross(c))/6, x.area + y.area + b.Sub(a).Cross(c.Sub(a)).Norm()/2})
					}
				}
			}
			return out
		}
		best := slices.MinFunc(all(0, n-1), func(a, b cap) int {
			switch {
			case a.area < b.area:
				return -1
			case a.area > b.area:
				return 1
			}
			return 0
		})
		if v, area := capVolume(loop); math.Abs(v-best.volume) > 1e-9 || math.Abs(area-best.area) > 1e-9 {
			t.Errorf("loop %d of %d points: area %g and volume %g, want %g and %g", k, n, area, v, best.area, best.volume)
		}
	}
	for _, n := range []int{300, 301, 601} {
		var loop []geom.Vec
		area := 0.0
		for i := range n { // in the plane x + z = 5, round a kidney seen from outside
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			rho := 20 + 6*cos
			loop = append(loop, geom.Vec{5 - rho*sin/math.Sqrt2, rho * cos, rho * sin / math.Sqrt2})
			next, ncos := math.Sincos(2 * math.Pi * float64(i+1) / float64(n))
			area += rho * (20 + 6*ncos) * (cos*next - sin*ncos) / 2
		}
		v, size := capVolume(loop)
		if math.Abs(size-area) > 1e-6*area || math.Abs(math.Abs(v)-area*5/math.Sqrt2/3) > 1e-6*area {
			t.Errorf("%d points: area %g and volume %g, want %g and %g", n, size, v, area, area*5/math.Sqrt2/3)
		}
	}
}

// How far a loop lies off its plane: of a flat one nothing, of one with a point raised what the
// mean plane leaves, and of one without area how far it reaches from its middle.
func TestLoopsOffTheirPlane(t *testing.T) {
	n := geom.Vec{1, 2, 2}.Unit()
	x, y := sideways(n)
	var flat []geom.Vec
	for i := range 12 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 12)
		flat = append(flat, x.Scale(7*cos).Add(y.Scale(3*sin)).Add(geom.Vec{4, 5, 6}))
	}
	if d := offPlane(flat); d > 1e-12 {
		t.Errorf("a flat loop is %g off", d)
	}
	for i := range flat { // up and down in turn: the plane stays, the middle too
		flat[i] = flat[i].Add(n.Scale(0.25 * float64(1-2*(i%2))))
	}
	if d := offPlane(flat); math.Abs(d-0.25) > 1e-9 {
		t.Errorf("a loop up and down by 0.25 is %g off", d)
	}
	if d := offPlane([]geom.Vec{{0, 0, 0}, {6, 0, 0}, {3, 0, 0}}); math.Abs(d-3) > 1e-12 {
		t.Errorf("a loop on a line of 6 is %g off", d)
	}
}
