package casting

import (
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

func randomPoint(r *rand.Rand) geom.Vec {
	return geom.Vec{r.Float64()*1080 - 20, -690 * r.Float64(), 290 + 520*r.Float64()}
}

// Skipping blocks is right only if no distance changes faster than the point
// moves.
func TestSolidIsLipschitzSeed7(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	s := leftHalf()
	for range 20000 {
		p := randomPoint(r)
		q := p.Add(geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Scale(5))
		if d := math.Abs(s.at(p) - s.at(q)); d > p.Dist(q)*(1+1e-9)+1e-9 {
			t.Fatalf("%v to %v: distance changes by %.4f over %.4f mm", p, q, d, p.Dist(q))
		}
	}
}

// The simplified solid has to agree with the whole one near the surface and in
// sign elsewhere.
func TestNearAgreesSeed11(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 11))
	s := leftHalf()
	checked := 0
	for range 1500 {
		c := randomPoint(r)
		radius := 8 + 60*r.Float64()
		n := near(s, c, radius)
		for range 20 {
			d := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
			p := c.Add(d.Scale(radius * r.Float64()))
			want, got := s.at(p), n.at(p)
			if (want < 0) != (got < 0) && math.Abs(want) > 1e-9 {
				t.Fatalf("%v: sign of %.3f, want %.3f", p, got, want)
			}
			if math.Abs(want) < 5 {
				checked++
				if math.Abs(want-got) > 1e-9 {
					t.Fatalf("%v: %.6f, want %.6f", p, got, want)
				}
			}
		}
	}
	if checked < 1000 {
		t.Errorf("only %d points near the surface", checked)
	}
}

func TestDistances(t *testing.T) {
	// Computed by hand.
	for _, c := range []struct {
		name string
		s    solid
		p    geom.Vec
		want float64
	}{
		{"box corner", span(geom.Vec{0, 0, 0}, geom.Vec{2, 2, 2}, 0), geom.Vec{5, 6, 1}, 5},
		{"box inside", span(geom.Vec{0, 0, 0}, geom.Vec{10, 10, 10}, 2), geom.Vec{5, 5, 9}, -1},
		{"cylinder rim", &cylinder{2, geom.Vec{}, 3, 4, 0}, geom.Vec{6, 0, 8}, 5},
		{"outline inside", &column{2, outline{{0, 0}, {4, 0}, {4, 4}, {0, 4}}, 0}, geom.Vec{1, 2, 9}, -1},
		{"prism", &prism{0, outline{{0, 0}, {4, 0}, {4, 4}, {0, 4}}, -1, 1, 0}, geom.Vec{5, 7, 2}, 5},
		{"shell", &shell{0, 0, 1, []xy{{10, 0}, {10, 20}}}, geom.Vec{0, -14, 5}, 3},
		{"blend", &union{4, []solid{span(geom.Vec{-9, -9, -9}, geom.Vec{0, 9, 9}, 0), span(geom.Vec{-9, -9, -9}, geom.Vec{9, 0, 9}, 0)}}, geom.Vec{1, 1, 0}, 0},
	} {
		if got := c.s.at(c.p); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// One corner, an edge, a face are tidy; two corners across a face or across the
// cube are not (by hand).
func TestTidyMasks(t *testing.T) {
	for mask, want := range map[uint8]bool{
		0x00: true, 0x01: true, 0x03: true, 0x0f: true, 0xfe: true, 0xff: true,
		0x09: false, 0x81: false, 0xf6: false, 0x7e: false,
	} {
		if tidy[mask] != want {
			t.Errorf("mask %02x: %v, want %v", mask, tidy[mask], want)
		}
	}
}

func TestQueueGivesTheCheapestSeed3(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	var q queue
	for i := range int32(500) {
		q = append(q, candidate{cost: float64(r.IntN(50)), u: i})
	}
	q.order()
	for i := range int32(500) {
		q.push(candidate{cost: float64(r.IntN(50)), u: 500 + i})
	}
	last := candidate{cost: -1}
	for range 1000 {
		c := q.pop()
		if c.before(&last) {
			t.Fatalf("%+v after %+v", c, last)
		}
		last = c
	}
	if len(q) != 0 {
		t.Errorf("%d left over", len(q))
	}
}

// The quadric of the planes x = 1, y = 2, z = 3 has its lowest point at (1,2,3)
// but for the pull toward the given point; its value is the squared distance.
func TestQuadric(t *testing.T) {
	var q quadric
	for k, at := range []float64{1, 2, 3} {
		var n, p geom.Vec
		n[k], p[k] = 1, at
		one := planeQuadric(n, p, 2)
		q.add(&one)
	}
	if got := q.at(geom.Vec{2, 4, 6}); math.Abs(got-28) > 1e-12 {
		t.Errorf("value %v, want 2 (1 + 4 + 9)", got)
	}
	if got := q.lowest(geom.Vec{1.1, 2, 3}); got.Dist(geom.Vec{1, 2, 3}) > 0.001 {
		t.Errorf("lowest at %v", got)
	}
}

// Reducing a finely divided cube keeps it a closed cube: 8 corners, 12 edges and
// 6 faces leave Euler number 2 and volume 1000.
func TestReduceKeepsACube(t *testing.T) {
	m := dividedCube(12)
	m.Label = make([]int32, len(m.Faces))
	reduce(m, 200, func(geom.Vec) bool { return false })
	edges := checkClosed(t, m)
	if e := len(m.Points) - edges + len(m.Faces); e != 2 {
		t.Errorf("Euler number %d, want 2", e)
	}
	if len(m.Faces) > 200 {
		t.Errorf("%d faces, want at most 200", len(m.Faces))
	}
	if v := volume(m); math.Abs(v-1000) > 1 {
		t.Errorf("volume %.3f, want 1000", v)
	}
}

// TestSplitFaceCoversTheFace: of a face of which one or two edges are cut, in whatever turn and
// whatever the numbers of the points, the parts go round as the face does, together have its area,
// and each cut point is a corner of parts on both its sides.
func TestSplitFaceCoversTheFace(t *testing.T) {
	at := map[int32]geom.Vec{3: {0, 0, 0}, 5: {10, 0, 0}, 7: {0, 10, 0}, 0: {4, 0, 0}, 1: {6, 4, 0}, 2: {0, 3, 0}}
	cuts := [3]int32{0, 1, 2} // the point on each edge
	for which := range 7 {    // no edge, one, or two of them
		mid := [3]int32{-1, -1, -1}
		n := 0
		for k := range 3 {
			if which>>k&1 == 1 {
				mid[k] = cuts[k]
				n++
			}
		}
		for turn := range 3 {
			face := [3]int32{3, 5, 7}
			f := [3]int32{face[turn], face[(turn+1)%3], face[(turn+2)%3]}
			m := [3]int32{mid[turn], mid[(turn+1)%3], mid[(turn+2)%3]}
			area, uses := 0.0, map[int32]int{}
			parts := splitFace(f, m)
			for _, p := range parts {
				a := at[p[1]].Sub(at[p[0]]).Cross(at[p[2]].Sub(at[p[0]]))[2] / 2
				if a <= 0 {
					t.Errorf("cuts %v of %v: part %v is turned round or has no area", m, f, p)
				}
				area += a
				for _, v := range p {
					uses[v]++
				}
			}
			if math.Abs(area-50) > 1e-9 || len(parts) != n+1 {
				t.Errorf("cuts %v of %v: %v with the area %v", m, f, parts, area)
			}
			for k, c := range mid {
				if used := uses[cuts[k]]; c >= 0 && used < 2 || c < 0 && used > 0 {
					t.Errorf("cuts %v of %v: point %d stands in %d of %v", m, f, cuts[k], used, parts)
				}
			}
		}
	}
}

// dividedCube is a cube of side 10 with n by n squares on each face.
func dividedCube(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	number := map[geom.Vec]int32{}
	point := func(p geom.Vec) int32 {
		if i, ok := number[p]; ok {
			return i
		}
		number[p] = int32(len(m.Points))
		m.Points = append(m.Points, p)
		return number[p]
	}
	for axis := range 3 {
		for side := range 2 {
			for i := range n {
				for j := range n {
					var q [4]int32
					for c, o := range [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
						var p geom.Vec
						p[axis] = float64(10 * side)
						p[(axis+1)%3] = float64(10*(i+o[0])) / float64(n)
						p[(axis+2)%3] = float64(10*(j+o[1])) / float64(n)
						q[c] = point(p)
					}
					if side == 0 {
						q[1], q[3] = q[3], q[1]
					}
					m.Faces = append(m.Faces, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
				}
			}
		}
	}
	return m
}

// Of the corners outside, the nearest to the surface is filled, of equals the first; at the
// middle of the part it is the corner whose image the other is.
func TestPlugFillsTheNearestCorner(t *testing.T) {
	for _, c := range []struct {
		values [8]float32 // of the corners, numbered by the bits 4, 2, 1 along x, y, z
		middle bool
		want   int
	}{
		{[8]float32{-1, 3, 2, -1, 4, 2, 5, 6}, false, 2},
		{[8]float32{-1, 3, 2, -1, 4, 1, 5, 6}, false, 5},
		{[8]float32{-1, 3, 3, -1, 3, 3, 3, 3}, false, 1},
		{[8]float32{-1, 4, -1, 4, 9, -1, 9, -1}, true, 1},
		{[8]float32{9, 9, 9, 9, 9, 9, 9, 1}, true, 5},
	} {
		g := &grid{n: [3]int{3, 4, 3}}
		j := 1
		if c.middle {
			j = 2
		}
		at := g.index(1, j, 1)
		g.n[0] = 4
		g.value = make([]float32, 4*4*3)
		place := func(k int) int { return g.index(1+(k>>2), j+(k>>1&1), 1+(k&1)) }
		for k, v := range c.values {
			g.value[place(k)] = v
			if c.middle && k&2 != 0 {
				g.value[place(k&^2)] = v
			}
		}
		g.plug(at, g.mask(at))
		for k := range 8 {
			if filled := g.value[place(k)] == -step/100; filled != (k == c.want) {
				t.Errorf("%v, middle %v: corner %d filled is %v", c.values, c.middle, k, filled)
			}
		}
	}
}
