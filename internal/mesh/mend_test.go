package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// cutOpen cuts a mesh open along edges: points are doubled where triangles no longer
// hang together, and every copy is moved by at most half the gap, by at least a
// share least of it, any way. hinge puts extra points into some edges of one side.
func cutOpen(r *rand.Rand, m *Mesh, cut map[[2]int32]bool, gap, least, hinge float64) *Mesh {
	adj := newAdjacency(m)
	out := &Mesh{Points: slices.Clone(m.Points), Faces: slices.Clone(m.Faces)}
	key := func(u, v int32) [2]int32 { return [2]int32{min(u, v), max(u, v)} }
	for v := range int32(len(m.Points)) {
		corners := adj.cornersOf(v)
		p := newPieces(len(corners))
		for i, c := range corners {
			for k, d := range corners {
				for _, u := range m.Faces[c/3] {
					if i < k && u != v && slices.Contains(m.Faces[d/3][:], u) && !cut[key(u, v)] {
						p.join(int32(i), int32(k))
					}
				}
			}
		}
		number := map[int32]int32{}
		for i, c := range corners {
			root := p.root(int32(i))
			if _, ok := number[root]; !ok {
				number[root] = v
				if len(number) > 1 {
					number[root] = int32(len(out.Points))
					out.Points = append(out.Points, m.Points[v])
				}
			}
			out.Faces[c/3][c%3] = number[root]
		}
		if len(number) < 2 {
			continue
		}
		for _, n := range sortedValues(number) {
			d := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
			out.Points[n] = out.Points[n].Add(d.Scale(gap / 2 * (least + (1-least)*r.Float64())))
		}
	}
	if hinge > 0 {
		return hinged(r, out, hinge)
	}
	return out
}

func sortedValues(m map[int32]int32) []int32 {
	var out []int32
	for _, v := range m {
		out = append(out, v)
	}
	slices.Sort(out)
	return out
}

// hinged puts a point into some of the free edges, where the other side has none.
func hinged(r *rand.Rand, m *Mesh, share float64) *Mesh {
	adj := newAdjacency(m)
	out := &Mesh{Points: slices.Clone(m.Points)}
	for f, t := range m.Faces {
		k := slices.IndexFunc([]int32{0, 1, 2}, func(k int32) bool { return adj.twin[3*int32(f)+k] == border })
		if k < 0 || r.Float64() > share {
			out.Faces = append(out.Faces, t)
			continue
		}
		a, b, c := t[k], t[(k+1)%3], t[(k+2)%3]
		n := int32(len(out.Points))
		out.Points = append(out.Points, m.Points[a].Lerp(m.Points[b], 0.15+0.7*r.Float64()))
		out.Faces = append(out.Faces, [3]int32{a, n, c}, [3]int32{n, b, c})
	}
	return out
}

// drawnCuts is edges along which one walks at random, so that the walks do not take
// the mesh to pieces of single triangles.
func drawnCuts(r *rand.Rand, m *Mesh, walks, steps int) map[[2]int32]bool {
	beside := map[int32][]int32{}
	m.edgeGroups(func(u, v int32, _ []int32) { beside[u], beside[v] = append(beside[u], v), append(beside[v], u) })
	cut := map[[2]int32]bool{}
	for range walks {
		v, before := int32(r.IntN(len(m.Points))), int32(-1)
		for range steps {
			u := beside[v][r.IntN(len(beside[v]))]
			if u != before {
				cut[[2]int32{min(u, v), max(u, v)}] = true
			}
			before, v = v, u
		}
	}
	return cut
}

func drawnSolid(r *rand.Rand) (m *Mesh, edgeMM float64) {
	switch r.IntN(3) {
	case 0:
		return splitInFourFlat(splitInFourFlat(boxMesh(40, 30, 20))), 5
	case 1:
		m = icosphere(2)
		for i := range m.Points {
			m.Points[i] = m.Points[i].Scale(30)
		}
		return m, 8
	}
	return bumpyTorus(24, 12, r.Uint64()), 20
}

// A closed mesh, cut open along lines drawn at random, with gaps below the tolerance
// and points on one side only, is closed again: the topology, the volume and the
// distances along the surface are those of the mesh before it was cut.
func TestMendClosesSeams(t *testing.T) {
	for seed := range draws(12, 4000) {
		r := rand.New(rand.NewPCG(seed, 21))
		m, edge := drawnSolid(r)
		gap := edge * math.Pow(10, -6+5*r.Float64()) // up to a tenth of an edge
		hinge := float64(r.IntN(2)) * r.Float64()
		open := cutOpen(r, m, drawnCuts(r, m, 1+r.IntN(4), 2+r.IntN(20)), gap, 0, hinge)
		if open.Faults().OpenEdges == 0 {
			continue
		}
		name := fmt.Sprintf("seed %d, gap %.3g of %g mm, hinge %.2f", seed, gap, edge, hinge)
		got, err := open.Mend(gap * 1.01)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if f := got.Mesh.Faults(); !f.Closed() || f.Components != 1 || f.DegenerateFaces > 0 {
			t.Errorf("%s: %+v\nleft %v\nstill %+v", name, f, got.Left, got.Still.Seams)
			continue
		}
		if was, is := eulerNumber(m), eulerNumber(got.Mesh); was != is {
			t.Errorf("%s: Euler number %d, want %d", name, is, was)
		}
		if hinge == 0 && (len(got.Mesh.Points) != len(m.Points) || len(got.Mesh.Faces) != len(m.Faces) || len(got.Divided) > 0) {
			t.Errorf("%s: %d points, %d triangles, want %d and %d; %d edges divided", name, len(got.Mesh.Points), len(got.Mesh.Faces), len(m.Points), len(m.Faces), len(got.Divided))
		}
		if d := math.Abs(got.Mesh.VolumeMM3() - m.VolumeMM3()); d > gap*m.AreaMM2() {
			t.Errorf("%s: the volume is off by %g mm3", name, d)
		}
		sameDistances(t, name, m, got.Mesh, 20*gap+1e-6)
		mendedFairly(t, name, open, got, gap*1.01)
	}
}

func eulerNumber(m *Mesh) int {
	edges := 0
	m.edgeGroups(func(_, _ int32, _ []int32) { edges++ })
	return len(m.Points) - edges + len(m.Faces)
}

// sameDistances holds distances along two surfaces against each other.
func sameDistances(t *testing.T, name string, a, b *Mesh, tol float64) {
	t.Helper()
	s, u := surfaceOf(t, a), surfaceOf(t, b)
	var p, q []Site
	for i := 0; i < len(a.Points); i += len(a.Points)/6 + 1 {
		x, _ := s.Closest(a.Points[i])
		y, _ := u.Closest(a.Points[i])
		p, q = append(p, x), append(q, y)
	}
	d, e := exact(t, s, p[:1], p[1:], math.Inf(1)), exact(t, u, q[:1], q[1:], math.Inf(1))
	for i := range d.Targets {
		if math.Abs(d.Targets[i]-e.Targets[i]) > tol {
			t.Errorf("%s: along the surface %.9g mm, want %.9g", name, e.Targets[i], d.Targets[i])
		}
	}
}

// mendedFairly says what must hold of every mend: nothing was joined or moved beyond
// the tolerance, all triangles are still there and face the way they did, no edge of
// three triangles, no two that disagree and no contact is new.
func mendedFairly(t *testing.T, name string, m *Mesh, got *Mended, tol float64) {
	t.Helper()
	for _, j := range got.Joined {
		for _, p := range j.From {
			for _, q := range j.From {
				if p.Dist(q) > tol || p.Dist(j.At) > tol {
					t.Errorf("%s: %v and %v were joined at %v", name, p, q, j.At)
				}
			}
		}
	}
	open := map[geom.Vec]bool{} // where the mended mesh has free edges
	adj := newAdjacency(got.Mesh)
	for h, twin := range adj.twin {
		if u, v := got.Mesh.halfEnds(int32(h)); twin == border {
			open[got.Mesh.Points[u]], open[got.Mesh.Points[v]] = true, true
		}
	}
	now := map[geom.Vec][]geom.Vec{} // where points that were at a place became one with others
	for _, j := range got.Joined {
		for _, p := range j.From {
			now[p] = append(now[p], j.At)
		}
	}
	for _, l := range got.Left {
		if !slices.ContainsFunc(append(now[l.At], l.At), func(p geom.Vec) bool { return open[p] }) {
			t.Errorf("%s: %v is said to be left open and is not: %s", name, l.At, l.Why)
		}
	}
	for _, d := range got.Divided {
		if d.OffMM > tol {
			t.Errorf("%s: a point %g mm off was put into an edge", name, d.OffMM)
		}
	}
	for f, p := range got.Parent {
		if m.Label != nil && got.Mesh.Label[f] != m.Label[p] {
			t.Errorf("%s: triangle %d has another label than the one it is of", name, f)
		}
	}
	was, is := m.Faults(), got.Mesh.Faults()
	if is.NonManifoldEdges > was.NonManifoldEdges || is.FlippedEdges > was.FlippedEdges || is.DegenerateFaces > was.DegenerateFaces || is.OpenEdges > was.OpenEdges+len(got.Divided) {
		t.Errorf("%s: %+v became %+v", name, was, is)
	}
	if len(got.Mesh.Faces) != len(m.Faces)+len(got.Divided) {
		t.Errorf("%s: %d triangles became %d, %d edges were divided", name, len(m.Faces), len(got.Mesh.Faces), len(got.Divided))
	}
	list, _, _ := m.Contacts(0)
	met := map[[2]int32]bool{}
	for _, c := range list {
		met[c.Faces] = true
	}
	list, _, _ = got.Mesh.Contacts(0)
	for _, c := range list {
		p, q := got.Parent[c.Faces[0]], got.Parent[c.Faces[1]]
		if !met[[2]int32{min(p, q), max(p, q)}] {
			t.Errorf("%s: triangles %d and %d of the old mesh meet, which did not", name, p, q)
		}
	}
	s := surfaceOf(t, m)
	for f := range got.Mesh.Faces {
		a, b, c := got.Mesh.corners(f)
		mid := a.Add(b).Add(c).Scale(1.0 / 3)
		if _, d := s.Closest(mid); d > tol {
			t.Errorf("%s: triangle %d lies %g mm off what it was", name, f, d)
		}
	}
}

// leastApart is how near free edges without a common point are, of all pairs.
func leastApart(m *Mesh) float64 {
	adj := newAdjacency(m)
	e := newFreeEdges(m, &adj)
	least := math.Inf(1)
	for i := range e.half {
		a, b := e.ends(int32(i))
		for k := range i {
			c, d := e.ends(int32(k))
			if a != c && a != d && b != c && b != d {
				least = min(least, geom.SegmentsDist(m.Points[a], m.Points[b], m.Points[c], m.Points[d]))
			}
		}
	}
	return least
}

// Gaps wider than the tolerance stay as they are, to the bit.
func TestMendLeavesWiderGaps(t *testing.T) {
	for seed := range draws(8, 1000) {
		r := rand.New(rand.NewPCG(seed, 22))
		m, edge := drawnSolid(r)
		// cut in two all round and taken apart
		axis := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
		lo, hi := m.Bounds()
		var parts [2]*Mesh
		for k := range parts {
			parts[k] = &Mesh{Points: m.Points}
		}
		for f, face := range m.Faces {
			a, b, c := m.corners(f)
			k := 0
			if a.Add(b).Add(c).Scale(1.0/3).Sub(lo.Lerp(hi, 0.5)).Dot(axis) > 0 {
				k = 1
			}
			parts[k].Faces = append(parts[k].Faces, face)
		}
		gap := edge * math.Pow(10, -6+5*r.Float64())
		open := joined(parts[0].compact(), shifted(parts[1], axis.Scale(gap)).compact())
		least := leastApart(open)
		got, err := open.Mend(least * 0.999)
		if err != nil || !reflect.DeepEqual(got.Mesh, open) || len(got.Joined)+len(got.Divided) > 0 {
			t.Errorf("seed %d: %v, %d joined, %d divided", seed, err, len(got.Joined), len(got.Divided))
		}
		g := open.Gaps()
		if len(g.Seams) == 0 || g.WidestMM() > gap*(1+1e-6)+1e-12 {
			t.Errorf("seed %d, gap %g: %+v", seed, gap, g)
		}
	}
}

// sheetWithHole is a flat sheet with a hole of the given corners, in the order of the clock
// seen from above, its rim at the distance out from the hole's middle.
func sheetWithHole(hole []geom.Vec, out float64) *Mesh {
	m := &Mesh{}
	mid := geom.Vec{}
	for _, p := range hole {
		mid = mid.Add(p.Scale(1 / float64(len(hole))))
	}
	for _, p := range hole {
		d := p.Sub(mid)
		m.Points = append(m.Points, p, mid.Add(d.Unit().Scale(d.Norm()+out)))
	}
	n := int32(len(hole))
	for i := range n {
		a, b, c, d := 2*i, 2*i+1, 2*((i+1)%n), 2*((i+1)%n)+1
		m.Faces = append(m.Faces, [3]int32{a, b, d}, [3]int32{a, d, c})
	}
	return m
}

// Holes stay open whatever the tolerance: round, square, six-cornered; and so do
// slots, whose ends are blunt or round, and which a tolerance would bridge.
func TestMendClosesNoHole(t *testing.T) {
	round := func(n int, r, stretch float64) (out []geom.Vec) {
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			p := geom.Vec{r * math.Cos(a), r * math.Sin(a)}
			if p[0] > 1e-9 {
				p[0] += stretch
			} else if p[0] < -1e-9 {
				p[0] -= stretch
			}
			out = append(out, p)
		}
		return out
	}
	slot := func(l, w float64, along int) (out []geom.Vec) { // blunt ends, points along both sides
		for i := range along + 1 {
			out = append(out, geom.Vec{l/2 - l*float64(i)/float64(along), w / 2})
		}
		for i := range along + 1 {
			out = append(out, geom.Vec{-l/2 + l*float64(i)/float64(along), -w / 2})
		}
		return out
	}
	for name, hole := range map[string][]geom.Vec{
		"round": round(24, 3, 0), "hexagon": round(6, 3, 0), "square": round(4, 3, 0), "triangle": round(3, 3, 0),
		"long": round(24, 0.5, 10), "slot": slot(20, 1, 10), "fine slot": slot(20, 0.1, 10), "short slot": slot(4, 1, 4), "bare slot": slot(20, 0.1, 1),
	} {
		for _, tol := range []float64{0.01, 0.11, 0.5, 1.1, 2, 7} {
			m := sheetWithHole(hole, 8)
			got, err := m.Mend(tol)
			if err != nil || !reflect.DeepEqual(got.Mesh, m) {
				t.Errorf("%s, tolerance %g: %v, joined %v, divided %v", name, tol, err, got.Joined, got.Divided)
			}
		}
	}
}

// sawCut is a strip of 10 x 4 cells from x = 0; the cut runs along y = 2, so wide at each x.
func sawCut(width func(x float64) float64) *Mesh {
	m := &Mesh{}
	at := map[[3]int]int32{}
	point := func(x, y, side int) int32 {
		p := geom.Vec{float64(x), float64(y)}
		if y != 2 || width(p[0]) == 0 {
			side = 0
		}
		k, ok := at[[3]int{x, y, side}]
		if !ok {
			p[1] += float64(side) * width(p[0]) / 2
			k = int32(len(m.Points))
			at[[3]int{x, y, side}] = k
			m.Points = append(m.Points, p)
		}
		return k
	}
	for x := range 10 {
		for y := range 4 {
			side := 1
			if y < 2 {
				side = -1
			}
			q := [4]int32{point(x, y, side), point(x+1, y, side), point(x+1, y+1, side), point(x, y+1, side)}
			m.Faces = append(m.Faces, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
		}
	}
	return m
}

// bluntSawCut is one of 0.2 mm to x = 6, with a blunt end there.
func bluntSawCut() *Mesh {
	blunt := sawCut(func(x float64) float64 {
		if x < 6 {
			return 0.2
		}
		return 0
	})
	// cut across its end: what was the point is doubled
	n := int32(len(blunt.Points))
	for i, p := range blunt.Points {
		if p == (geom.Vec{6, 2, 0}) {
			blunt.Points = append(blunt.Points, geom.Vec{6, 2.1, 0})
			blunt.Points[i][1] = 1.9
			for f := range blunt.Faces {
				a, b, c := blunt.corners(f)
				for k, v := range blunt.Faces[f] {
					if int(v) == i && a[1]+b[1]+c[1] > 6.1 {
						blunt.Faces[f][k] = n
					}
				}
			}
			for k, v := range blunt.Points { // the end itself: a triangle across it
				if v == (geom.Vec{7, 2, 0}) {
					blunt.Faces = append(blunt.Faces, [3]int32{n, int32(i), int32(k)})
				}
			}
		}
	}
	return blunt
}

// A saw cut from the rim with a blunt end stays, one that runs out to a point is
// closed as far as the tolerance goes.
func TestMendOfCutsFromTheRim(t *testing.T) {
	wedge := sawCut(func(x float64) float64 { return max(0, 6-x) / 10 })
	got, err := wedge.Mend(0.25)
	if err != nil || len(got.Joined) != 2 || len(got.Divided) != 0 || wedge.Faults().OpenEdges-got.After.OpenEdges != 4 {
		t.Errorf("a cut to a point: %v %+v", err, got)
	}
	if s := got.Still.Seams; len(s) != 1 || s[0].LeastMM < 0.29 || s[0].LeastMM > 0.3 || s[0].WidestMM < 0.59 || s[0].WidestMM > 0.6 {
		t.Errorf("what is left of the cut: %+v", s)
	}
	blunt := bluntSawCut()
	if f := blunt.Faults(); f.FlippedEdges+f.NonManifoldEdges > 0 || f.Components != 1 {
		t.Fatalf("%+v", f)
	}
	got, err = blunt.Mend(0.25)
	if err != nil || !reflect.DeepEqual(got.Mesh, blunt) || len(got.Left) == 0 || got.Left[0].Why != leftBlunt {
		t.Errorf("a saw cut: %v, joined %v, left %v", err, got.Joined, got.Left)
	}
}

// Sheets that are not the two sides of one seam stay apart, and it is said why.
func TestMendKeepsWallsApart(t *testing.T) {
	sheet := func(x, y float64) *Mesh { // 6 cells along x
		m := &Mesh{}
		for i := range 7 {
			m.Points = append(m.Points, geom.Vec{x + float64(i), y, 0}, geom.Vec{x + float64(i), y + 5, 0})
		}
		for i := range int32(6) {
			a := 2 * i
			m.Faces = append(m.Faces, [3]int32{a, a + 2, a + 3}, [3]int32{a, a + 3, a + 1})
		}
		return m
	}
	low, gap := sheet(0, 0), 0.05
	above := insideOut(shifted(low, geom.Vec{0, 0, gap})) // inner and outer skin of a thin wall, rims open
	beside := sheet(0, 5+gap)
	across := &Mesh{Faces: beside.Faces}
	for _, p := range beside.Points { // stands up from the same rim
		across.Points = append(across.Points, geom.Vec{p[0], 5 + gap, p[1] - 5 - gap})
	}
	for name, c := range map[string]struct {
		m    *Mesh
		want string
	}{
		"two skins":            {joined(low, above), leftBack},
		"one lies on another":  {joined(low, shifted(low, geom.Vec{0, 0, gap})), ""},
		"they disagree":        {joined(low, insideOut(beside)), ""},
		"three at one rim":     {joined(low, beside, across), leftThree},
		"a solid with a slot":  {joined(boxMesh(10, 10, 5), shifted(boxMesh(10, 10, 5), geom.Vec{10 + gap, 0, 0})), ""},
		"rims that only touch": {joined(low, sheet(6+gap, 5+gap)), ""},
	} {
		got, err := c.m.Mend(0.08)
		if err != nil {
			t.Fatal(err)
		}
		if name != "three at one rim" && !reflect.DeepEqual(got.Mesh, c.m) {
			t.Errorf("%s: joined %v, divided %v", name, got.Joined, got.Divided)
		}
		if c.want != "" && !slices.ContainsFunc(got.Left, func(l LeftOpen) bool { return l.Why == c.want }) {
			t.Errorf("%s: left %v", name, got.Left)
		}
		if f := got.After; f.NonManifoldEdges > 0 {
			t.Errorf("%s: %+v", name, f)
		}
		mendedFairly(t, name, c.m, got, 0.08)
	}
	// told: sides that disagree about the outside
	if g := joined(low, insideOut(beside)).Gaps(); len(g.Seams) != 1 || !g.Seams[0].Disagree || math.Abs(g.Seams[0].WidestMM-gap) > 1e-9 {
		t.Errorf("%+v", g)
	}
	// what is joined: side by side
	m := joined(low, beside)
	if got, err := m.Mend(0.08); err != nil || len(got.Joined) != 7 || got.Before.Components != 2 || got.After.Components != 1 || math.Abs(got.Joined[0].MovedMM()-gap/2) > 1e-9 {
		t.Errorf("side by side: %v %+v", err, got)
	}
}

// Many plates side by side with gaps of 0.8 of the tolerance: every seam is closed
// for itself, and nothing creeps: no plate is nearer than it was to any but its
// neighbours, no point moved by more than half a gap.
func TestMendDoesNotCreep(t *testing.T) {
	plate := splitInFourFlat(&Mesh{Points: []geom.Vec{{0, 0, 0}, {4, 0, 0}, {4, 4, 0}, {0, 4, 0}}, Faces: [][3]int32{{0, 1, 2}, {0, 2, 3}}})
	var all []*Mesh
	for i := range 8 {
		all = append(all, shifted(plate, geom.Vec{4.08 * float64(i), 0, 0}))
	}
	m := joined(all...)
	got, err := m.Mend(0.1)
	if err != nil || got.After.Components != 1 || len(got.Joined) != 7*3 {
		t.Errorf("%v %+v, %d joined", err, got.After, len(got.Joined))
	}
	mendedFairly(t, "plates", m, got, 0.1)
	// strips narrower than the tolerance: nothing is pulled together across them
	strip := &Mesh{}
	for i := range int32(11) {
		strip.Points = append(strip.Points, geom.Vec{0, float64(i), 0}, geom.Vec{0.06, float64(i), 0})
		if a := 2 * i; i < 10 {
			strip.Faces = append(strip.Faces, [3]int32{a, a + 1, a + 3}, [3]int32{a, a + 3, a + 2})
		}
	}
	all = nil
	for i := range 8 {
		all = append(all, shifted(strip, geom.Vec{0.14 * float64(i), 0, 0}))
	}
	m = joined(all...)
	if got, err = m.Mend(0.1); err != nil || math.Abs(got.Mesh.AreaMM2()-(0.14*7+0.06)*10) > 1e-9 && got.After.Components == 1 {
		t.Errorf("%v: area %g", err, got.Mesh.AreaMM2())
	}
	mendedFairly(t, "strips", m, got, 0.1)
}

// Broken meshes of any kind: whatever the tolerance, a mend makes nothing worse, is
// the same every time, and mending again changes what it finds no further than that.
func TestMendMakesNothingWorse(t *testing.T) {
	for seed := range draws(20, 2000) {
		r := rand.New(rand.NewPCG(seed, 23))
		m, edge := drawnSolid(r)
		if len(m.Faces) > 400 {
			m = (&Mesh{Points: m.Points, Faces: m.Faces[:400]}).compact()
		}
		gap := edge * math.Pow(10, -4+4.3*r.Float64()) // up to two edges
		m = cutOpen(r, m, drawnCuts(r, m, 1+r.IntN(30), 1+r.IntN(10)), gap, 0, r.Float64())
		for f := len(m.Faces) - 1; f >= 0; f-- { // holes, turned and doubled triangles
			switch r.IntN(60) {
			case 0:
				m.Faces = slices.Delete(m.Faces, f, f+1)
			case 1:
				m.Faces[f][0], m.Faces[f][1] = m.Faces[f][1], m.Faces[f][0]
			case 2:
				n := int32(len(m.Points))
				for _, v := range m.Faces[f] {
					m.Points = append(m.Points, m.Points[v].Add(geom.Vec{gap * r.NormFloat64(), gap * r.NormFloat64(), gap * r.NormFloat64()}))
				}
				m.Faces = append(m.Faces, [3]int32{n, n + 1, n + 2})
			}
		}
		for range m.Faces {
			m.Label = append(m.Label, r.Int32N(3))
		}
		m, _ = Weld(m)
		if len(m.Faces) == 0 {
			continue
		}
		tol := gap * math.Pow(10, 1.5*r.Float64()-1)
		name := fmt.Sprintf("seed %d, gap %g, tolerance %g", seed, gap, tol)
		got, err := m.Mend(tol)
		if err != nil {
			if !strings.Contains(err.Error(), "too many") {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		mendedFairly(t, name, m, got, tol)
		again, err := m.Mend(tol)
		if err != nil || !reflect.DeepEqual(again, got) {
			t.Errorf("%s: not the same twice (%v)", name, err)
		}
	}
}

// T-joints are counted where they are, and none where both sides have the same points.
func TestGapsCountsTJoints(t *testing.T) {
	m := joined(
		&Mesh{Points: []geom.Vec{{0, 0, 0}, {10, 0, 0}, {10, 5, 0}, {0, 5, 0}}, Faces: [][3]int32{{0, 1, 2}, {0, 2, 3}}},
		&Mesh{Points: []geom.Vec{{0, -5, 0}, {10, -5, 0}, {10, 0, 0}, {4, 0, 0}, {0, 0, 0}}, Faces: [][3]int32{{0, 1, 3}, {1, 2, 3}, {0, 3, 4}}})
	m, _ = Weld(m)
	g := m.Gaps()
	if len(g.Seams) != 1 || g.Seams[0].TJoints != 1 || len(g.TJoints) != 1 || g.TJoints[0] != (geom.Vec{4, 0, 0}) || g.Seams[0].WidestMM != 0 || math.Abs(g.LengthMM()-10) > 1e-12 {
		t.Errorf("%+v", g)
	}
	got, err := m.Mend(1e-6)
	if err != nil || len(got.Divided) != 1 || len(got.Joined) != 0 || got.Divided[0].OffMM != 0 || got.After.Components != 1 || got.After.OpenEdges != m.Faults().OpenEdges-3 {
		t.Errorf("%v %+v", err, got)
	}
	for _, m := range []*Mesh{sheetWithHole([]geom.Vec{{1, 0, 0}, {0, 1, 0}, {-1, 0, 0}, {0, -1, 0}}, 5), boxMesh(1, 1, 1), icosphere(2)} {
		if g := m.Gaps(); len(g.Seams)+len(g.TJoints) > 0 || !g.Whole {
			t.Errorf("%+v", g)
		}
	}
}

// A tolerance far above the gap finds the sides that belong together all the same: of
// the points near one another the nearest are joined, and nothing across the part.
func TestMendWithAWideTolerance(t *testing.T) {
	for seed := range draws(6, 300) {
		r := rand.New(rand.NewPCG(seed, 25))
		m, edge := drawnSolid(r)
		open := cutOpen(r, m, drawnCuts(r, m, 1+r.IntN(3), 2+r.IntN(12)), 1e-3*edge, 0, 0)
		if open.Faults().OpenEdges == 0 {
			continue
		}
		for _, tol := range []float64{0.01, 0.1, 0.5} { // of an edge
			got, err := open.Mend(tol * edge)
			if err != nil {
				t.Fatal(err)
			}
			if f := got.Mesh.Faults(); !f.Closed() || len(got.Divided) > 0 || math.Abs(got.Mesh.VolumeMM3()-m.VolumeMM3()) > 1e-3*edge*m.AreaMM2() {
				t.Errorf("seed %d, tolerance %g edges: %+v, %d divided, left %v", seed, tol, f, len(got.Divided), got.Left)
			}
		}
	}
}

func TestMendRefuses(t *testing.T) {
	for _, tol := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := boxMesh(1, 1, 1).Mend(tol); err == nil {
			t.Errorf("tolerance %g", tol)
		}
	}
}

// Where thousands of free edges meet in one point they are not all held against one
// another: it is said that not all was looked at. Of a fan of a few triangles all is.
func TestGapsOfAFan(t *testing.T) {
	for n, whole := range map[int]bool{12: true, 2000: false} {
		m := &Mesh{Points: []geom.Vec{{}}}
		for i := range n {
			a := float64(i)
			m.Points = append(m.Points, geom.Vec{100 * math.Cos(a), 100 * math.Sin(a), a}, geom.Vec{100 * math.Cos(a+0.3), 100 * math.Sin(a+0.3), a})
			m.Faces = append(m.Faces, [3]int32{0, int32(2*i + 1), int32(2*i + 2)})
		}
		if g := m.Gaps(); g.Whole != whole || !whole && len(g.Edges) != 3*n {
			t.Errorf("%d triangles: all looked at %v, %d edges beside seams", n, g.Whole, len(g.Edges))
		}
	}
}

// The edges beside a seam are the free edges along it and those that end on it, each with what
// it faces. Constructed: two strips of n squares whose long sides are 0.1 mm apart, the points
// level with one another: 2 n edges are along the seam, 4 end on it and those far off are not
// beside it; an edge along it faces the square across, and nothing farther than its neighbours.
func TestGapsNameWhatIsAcross(t *testing.T) {
	const gap = 0.1
	strip := func(n int, y, to float64) *Mesh {
		m := &Mesh{}
		for i := range n + 1 {
			m.Points = append(m.Points, geom.Vec{float64(i), y, 0}, geom.Vec{float64(i), to, 0})
		}
		for i := range int32(n) {
			a := 2 * i
			m.Faces = append(m.Faces, [3]int32{a, a + 2, a + 3}, [3]int32{a, a + 3, a + 1})
		}
		return m
	}
	for _, n := range []int{3, 8} {
		m := joined(strip(n, -1, 0), strip(n, gap, 1+gap))
		g := m.Gaps()
		if !g.Whole || len(g.Seams) != 1 || math.Abs(g.LengthMM()-float64(n)) > 1e-9 || len(g.Edges) != 2*n+4 {
			t.Fatalf("%d squares: %+v", n, g)
		}
		on := map[int]geom.Vec{} // middles of the edges along the seam, by face
		for _, e := range g.Edges {
			if y := e.Ends[0][1]; y == e.Ends[1][1] && (y == 0 || y == gap) {
				on[e.Face] = e.Ends[0].Lerp(e.Ends[1], 0.5)
			}
		}
		if len(on) != 2*n {
			t.Errorf("%d squares: %d edges along the seam", n, len(on))
		}
		for _, e := range g.Edges {
			mid, along := on[e.Face]
			if a, b := e.Ends[0], e.Ends[1]; a[1] != b[1] { // it ends on the seam
				along = false
				if mid = a; b[1] == 0 || b[1] == gap {
					mid = b
				}
			}
			for f, at := range on {
				across, off := at[1] != mid[1], math.Abs(at[0]-mid[0])
				faces := slices.Contains(e.Across, f)
				if faces && !(across && off < 1.5) || !faces && along && across && off < 0.5 {
					t.Errorf("%d squares: the edge %v faces %v; face %d is at %v", n, e.Ends, e.Across, f, at)
				}
			}
			for _, f := range e.Across {
				p, q, o := m.corners(f)
				if other := gap - mid[1]; p[1] != other && q[1] != other && o[1] != other {
					t.Errorf("%d squares: the edge %v faces %d, which is not across", n, e.Ends, f)
				}
			}
		}
	}
}
