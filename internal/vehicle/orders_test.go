package vehicle

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// shuffled is a mesh with its faces in another order, each begun at another corner.
func shuffled(m *mesh.Mesh, seed uint64) *mesh.Mesh {
	rng := rand.New(rand.NewPCG(seed, 0))
	out := &mesh.Mesh{Points: m.Points}
	for _, f := range rng.Perm(len(m.Faces)) {
		t, k := m.Faces[f], rng.IntN(3)
		out.Faces, out.Label = append(out.Faces, [3]int32{t[k], t[(k+1)%3], t[(k+2)%3]}), append(out.Label, m.Label[f])
	}
	return out
}

// ends are the two ends of edges, in an order that hangs on neither the edge nor its place in a list.
func ends(edges [][2]geom.Vec) [][2]geom.Vec {
	for i, e := range edges {
		if slices.Compare(e[0][:], e[1][:]) > 0 {
			edges[i] = [2]geom.Vec{e[1], e[0]}
		}
	}
	slices.SortFunc(edges, func(a, b [2]geom.Vec) int {
		return slices.Compare(append(a[0][:], a[1][:]...), append(b[0][:], b[1][:]...))
	})
	return edges
}

// edgeFaces are the faces at every edge of a mesh, by the places of its ends: the plainest way to
// know them.
func edgeFaces(m *mesh.Mesh) map[[2]geom.Vec][]int {
	out := map[[2]geom.Vec][]int{}
	for f, t := range m.Faces {
		for k := range 3 {
			e := ends([][2]geom.Vec{{m.Points[t[k]], m.Points[t[(k+1)%3]]}})[0]
			out[e] = append(out[e], f)
		}
	}
	return out
}

// Borders, free edges, feet of ribs and regions are read off a plain list of the edges and the faces
// at them, in whatever order the faces stand, with labels in no order and a side left open.
func TestMeshesAreReadInAnyOrder(t *testing.T) {
	for seed := range uint64(6) {
		m := shuffled(blocks(false, tee()...), seed)
		rng := rand.New(rand.NewPCG(seed, 1))
		for f := range m.Label {
			m.Label[f] = int32(rng.IntN(3)) - 1
		}
		if seed%2 == 1 {
			m.Faces, m.Label = m.Faces[7:], m.Label[7:]
		}
		c := alone(t, m)
		var borders, free [][2]geom.Vec
		pairs := map[[2]int32]int{}
		feet := 0.0
		for e, faces := range edgeFaces(m) {
			if len(faces) == 1 {
				free = append(free, e)
				continue
			}
			if a, b := m.Label[faces[0]], m.Label[faces[1]]; a != b {
				borders = append(borders, e)
				pairs[[2]int32{min(a, b), max(a, b)}]++
			}
			n, o := m.FaceNormal(faces[0]), m.FaceNormal(faces[1])
			if n.Dot(o) < 0.5 && e[0][2] == 10 && e[1][2] == 10 && e[0][1] == e[1][1] && (e[0][1] == 20 || e[0][1] == 30) && e[0][0] != e[1][0] {
				feet += e[0].Dist(e[1])
			}
		}
		var gotBorders [][2]geom.Vec
		gotPairs := map[[2]int32]int{}
		for _, e := range c.borderEdges() {
			gotBorders = append(gotBorders, [2]geom.Vec{e.p, e.q})
			gotPairs[[2]int32{min(e.a, e.b), max(e.a, e.b)}]++
		}
		if !slices.Equal(ends(gotBorders), ends(borders)) || len(borders) < 20 {
			t.Errorf("seed %d: %d edges between labels, want %d", seed, len(gotBorders), len(borders))
		}
		for k, n := range pairs {
			if gotPairs[k] != n {
				t.Errorf("seed %d: %d edges between %v, want %d", seed, gotPairs[k], k, n)
			}
		}
		if got := c.freeEdges(); !slices.Equal(ends(got), ends(free)) || seed%2 == 1 && len(free) == 0 {
			t.Errorf("seed %d: %d free edges, want %d", seed, len(got), len(free))
		}
		if seed%2 == 0 {
			sum, n := 0.0, 0
			for _, f := range c.RibFeet().By {
				sum += f.LengthMM
				n += len(f.Points)
			}
			if math.Abs(sum-feet) > 1e-9 || feet != 120 || n != 12 {
				t.Errorf("seed %d: %g mm of feet at %d places, want %g", seed, sum, n, feet)
			}
		}
		for label := int32(-1); label < 3; label++ {
			want := map[geom.Vec]bool{}
			for f, l := range m.Label {
				if l == label {
					want[m.Points[m.Faces[f][0]]] = true
				}
			}
			got := c.Region(body.Zone{Label: int(label)})
			seen := map[geom.Vec]bool{}
			for _, p := range got.Points {
				seen[p] = true
				if !want[p] || got.Near.Nearer(1e9, p, p) != 0 {
					t.Errorf("seed %d: %v is no point of label %d", seed, p, label)
				}
			}
			if len(seen) != len(want) {
				t.Errorf("seed %d: %d points of label %d, want %d", seed, len(seen), label, len(want))
			}
		}
	}
	bare := blocks(false, [3]int{0, 0, 0})
	bare.Label = nil
	if r := alone(t, bare).Region(body.Zone{}); r.Points != nil || r.Near != nil {
		t.Errorf("without labels a region %+v", r)
	}
}

// An edge counts as the foot of a rib from 35 degrees on inward; one outward, and one that turns
// less, do not. Two plates that meet at an angle, both ways round, and folded the other way.
func TestFeetBeginAtAnAngle(t *testing.T) {
	for _, c := range []struct {
		degrees float64 // inward
		want    float64
	}{{34.9, 0}, {35.1, 50}, {90, 50}, {-35.1, 0}, {-90, 0}, {170, 50}} {
		for _, swap := range []bool{false, true} {
			s, co := math.Sincos(c.degrees * math.Pi / 180)
			m := &mesh.Mesh{Points: []geom.Vec{{0, 0, 0}, {0, 50, 0}, {-40, 50, 0}, {-40, 0, 0}, {40 * co, 0, 40 * s}, {40 * co, 50, 40 * s}},
				Faces: [][3]int32{{3, 0, 1}, {3, 1, 2}, {0, 4, 5}, {0, 5, 1}}, Label: []int32{4, 4, 5, 5}}
			label := int32(4)
			if swap {
				slices.Reverse(m.Faces)
				slices.Reverse(m.Label)
				label = 5
			}
			x := alone(t, m)
			got := map[int32]Foot{}
			x.findFeet(false, got)
			if f := got[label]; f.LengthMM != c.want || len(got) > 1 {
				t.Errorf("%g degrees: %v, want %g mm for label %d", c.degrees, got, c.want, label)
			}
			either := map[int32]Foot{}
			x.findFeet(true, either)
			want := 0.0
			if math.Abs(c.degrees) > 35 {
				want = 50
			}
			if f := either[label]; f.LengthMM != want {
				t.Errorf("%g degrees either way: %v, want %g mm", c.degrees, either, want)
			}
			m.Faces[2][1], m.Faces[2][2] = m.Faces[2][2], m.Faces[2][1] // one plate turned over
			m.Faces[3][1], m.Faces[3][2] = m.Faces[3][2], m.Faces[3][1]
			over := map[int32]Foot{}
			alone(t, m).findFeet(true, over)
			if f := over[label]; math.Abs(f.LengthMM-want) > 1e-9 || len(over) > 1 {
				t.Errorf("%g degrees, turned over: %v, want %g mm", c.degrees, over, want)
			}
		}
	}
}

// Faces that are none, with one corner twice, are no feet of ribs, whether the sides are known or not.
func TestCollapsedFacesAreNoFeet(t *testing.T) {
	for _, turn := range []bool{false, true} {
		m := blocks(false, tee()...)
		if turn {
			m = turned(m)
		}
		want := alone(t, m).RibFeet()
		at := m.Faces[3]
		for _, f := range [][3]int32{{at[0], at[0], at[1]}, {at[0], at[0], at[2]}, {at[1], at[0], at[0]}, {at[1], at[1], at[1]}} {
			m.Faces, m.Label = slices.Insert(m.Faces, 0, f), slices.Insert(m.Label, 0, 1)
		}
		got := map[int32]Foot{}
		c := alone(t, m)
		if c.findFeet(turn, got); want.Sure == turn || len(got) != len(want.By) {
			t.Fatalf("turned %v: sure %v, %d labels", turn, want.Sure, len(got))
		}
		for label, f := range want.By {
			if g := got[label]; math.Abs(g.LengthMM-f.LengthMM) > 1e-9 || len(g.Points) != len(f.Points) {
				t.Errorf("turned %v, label %d: %g mm at %d places, want %g at %d", turn, label, g.LengthMM, len(g.Points), f.LengthMM, len(f.Points))
			}
		}
	}
}

// A line goes on from place to place up to 8 mm and where the way is no more than thrice the
// straight one and a millimetre; else it is broken. On top of a slab 5 mm thick, and from its top to
// its bottom round the edge.
func TestLinesBreakWhereTheWayIsLong(t *testing.T) {
	c := alone(t, slab(10))
	at := func(p geom.Vec) mesh.Site { s, _ := c.Surface.Closest(p); return s }
	for _, x := range []struct {
		p, q  geom.Vec
		lines int
	}{
		{geom.Vec{50, 50, 5}, geom.Vec{58, 50, 5}, 1},
		{geom.Vec{50, 50, 5}, geom.Vec{58.1, 50, 5}, 2},
		{geom.Vec{52, 5.4, 5}, geom.Vec{52, 5.4, 0}, 1}, // 5.4 + 5 + 5.4 is below 3 * 5 + 1
		{geom.Vec{52, 5.6, 5}, geom.Vec{52, 5.6, 0}, 2},
	} {
		got := c.broken([]mesh.Site{at(x.p), at(x.q)})
		n := 0
		for _, l := range got {
			n += len(l)
		}
		if len(got) != x.lines || n != 2 || got[0][0].At != x.p {
			t.Errorf("%v to %v: %d lines of %d places, want %d", x.p, x.q, len(got), n, x.lines)
		}
	}
	if got := c.broken(nil); got != nil {
		t.Errorf("no line is %v", got)
	}
	many := []mesh.Site{at(geom.Vec{10, 50, 5}), at(geom.Vec{14, 50, 5}), at(geom.Vec{30, 50, 5}), at(geom.Vec{34, 50, 5}), at(geom.Vec{38, 50, 5})}
	if got := c.broken(many); len(got) != 2 || len(got[0]) != 2 || len(got[1]) != 3 || got[1][2].At != many[4].At {
		t.Errorf("%v", got)
	}
	// the other side of the wall is looked for as far as the gate and one and a half walls
	for _, x := range []struct {
		gate, wall float64
		lines      int
	}{{5.1, 0, 2}, {4.9, 0, 1}, {2, 2.1, 2}, {2, 1.9, 1}} {
		y := alone(t, slab(10))
		y.Of.Wall = unit.MM(x.wall)
		if lines, all := y.onSurface([]geom.Vec{{50, 50, 5}, {54, 50, 5}}, x.gate); !all || len(lines) != x.lines {
			t.Errorf("gate %g, wall %g: %d lines, want %d", x.gate, x.wall, len(lines), x.lines)
		}
	}
	if lines, all := c.onSurface([]geom.Vec{{50, 50, 10}, {50, 50, 10.1}, {54, 50, 10}}, 5); all || len(lines[0]) != 2 { // one lies beyond the gate
		t.Errorf("all %v, %v", all, lines)
	}
}

// The share is told of a closed casting however small, and not of one that is turned inside out.
func TestShareOfASmallCasting(t *testing.T) {
	var cubes [][3]int
	for x := range 6 {
		cubes = append(cubes, [3]int{x, 0, 0}, [3]int{x, 1, 0})
	}
	small := blocks(false, cubes...)
	for i := range small.Points {
		small.Points[i] = small.Points[i].Scale(1. / 100) // 0.6 x 0.2 x 0.1 mm
	}
	inside := &mesh.Mesh{Points: small.Points, Label: small.Label}
	for _, f := range small.Faces {
		inside.Faces = append(inside.Faces, [3]int32{f[0], f[2], f[1]})
	}
	l := body.Line{ID: "S", Casting: "C", Normal: geom.Vec{1, 0, 0}, Offset: 0.23}
	p, err := alone(t, small).Part(l)
	if err != nil {
		t.Fatal(err)
	}
	if share, ok := p.Share(); !ok || math.Abs(share-23./60) > 1e-6 {
		t.Errorf("share %g, %v", share, ok)
	}
	if p, err = alone(t, inside).Part(l); err != nil {
		t.Fatal(err)
	}
	if share, ok := p.Share(); ok || share != 0 {
		t.Errorf("inside out: share %g, %v", share, ok)
	}
}

// A line through a corner of a face is one segment, from whichever corner the face is looked at, and
// none where the face touches it with that corner alone.
func TestContourThroughACorner(t *testing.T) {
	for _, c := range []struct {
		at   [3]geom.Vec
		want int
	}{{[3]geom.Vec{{0, 0, 0}, {-1, 1, 0}, {1, 1, 0}}, 1}, {[3]geom.Vec{{0, 0, 0}, {-1, 1, 0}, {-1, -1, 0}}, 0}, {[3]geom.Vec{{0, 0, 0}, {0, 1, 0}, {-1, 1, 0}}, 0}, {[3]geom.Vec{{0, 0, 0}, {0, 1, 0}, {1, 1, 0}}, 1}} {
		for k := range 3 {
			p := [3]geom.Vec{c.at[k], c.at[(k+1)%3], c.at[(k+2)%3]}
			s := surfaceOf(t, &mesh.Mesh{Points: p[:], Faces: [][3]int32{{0, 1, 2}}})
			x := contour{radius: 10, out: map[geom.Vec]mesh.Site{}, of: func(q geom.Vec) float64 { return q[0] }}
			x.face(s, 0, p, 0)
			if len(x.segments) != c.want || c.want == 1 && math.Abs(x.segments[0][0].Dist(x.segments[0][1])-1) > 1e-9 {
				t.Errorf("%v: %v, want %d", p, x.segments, c.want)
			}
		}
	}
}
