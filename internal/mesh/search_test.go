package mesh

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// scattered is n triangles that share no points: spread, in a plane, on a line, one upon
// another, or each so much smaller than the one before that a tree over them has many levels.
func scattered(r *rand.Rand, n, kind int) *Mesh {
	m := &Mesh{}
	for i := range n {
		at, size := geom.Vec{100 * r.Float64(), 60 * r.Float64(), 30 * r.Float64()}, 1+20*r.Float64()
		switch kind {
		case 1:
			at[2], size = 0, 5
		case 2:
			at[1], at[2] = 0, 0
		case 3:
			at, size = geom.Vec{1, 2, 3}, 10
		case 4:
			size = math.Pow(0.9, float64(i)) * 100
			at = geom.Vec{size, 0.5 * size, 0}
		}
		k := int32(3 * i)
		for range 3 {
			p := at.Add(geom.Vec{r.Float64(), r.Float64(), r.Float64()}.Scale(size))
			if kind == 1 {
				p[2] = 0
			}
			m.Points = append(m.Points, p)
		}
		if kind == 5 { // on a grid: many are equally near
			p := m.Points[k:]
			for c := range 3 {
				p[0][c] = math.Round(p[0][c] / 20)
			}
			p[1], p[2] = p[0].Add(geom.Vec{0, float64(1 + i%2), 0}), p[0].Add(geom.Vec{1, 0, float64(i % 3)})
		}
		m.Faces = append(m.Faces, [3]int32{k, k + 1, k + 2})
	}
	return m
}

// nearBySides is the place of a triangle nearest to p by its definition: a corner, a place on a
// side, or the foot of p on its plane where that lies inside.
func nearBySides(p, a, b, c geom.Vec) geom.Vec {
	best := a
	for _, q := range []geom.Vec{b, c, geom.NearestOnSegment(p, a, b), geom.NearestOnSegment(p, b, c), geom.NearestOnSegment(p, c, a)} {
		if q.Dist(p) < best.Dist(p) {
			best = q
		}
	}
	n := b.Sub(a).Cross(c.Sub(a)).Unit()
	foot := p.Sub(n.Scale(n.Dot(p.Sub(a))))
	inside := n != geom.Vec{}
	for _, e := range [3][2]geom.Vec{{a, b}, {b, c}, {c, a}} {
		inside = inside && e[1].Sub(e[0]).Cross(foot.Sub(e[0])).Dot(n) >= 0
	}
	if inside && foot.Dist(p) < best.Dist(p) {
		best = foot
	}
	return best
}

// The nearest place of a triangle in every region round it, on their borders, and of triangles
// that are nearly or wholly a line: by its definition.
func TestNearestOfATriangle(t *testing.T) {
	r := rand.New(rand.NewPCG(61, 0))
	for k := range 4000 {
		a, b, c := direction(r).Scale(5*r.Float64()), direction(r).Scale(5*r.Float64()), direction(r).Scale(5*r.Float64())
		switch k % 8 {
		case 1:
			c = a.Lerp(b, 3*r.Float64()-1)
		case 2:
			c = a.Lerp(b, 3*r.Float64()-1).Add(direction(r).Scale(1e-9))
		case 3:
			a, b, c = geom.Vec{0, 0, 0}, geom.Vec{4, 0, 0}, geom.Vec{0, 3, 0}
		case 4:
			c = a.Lerp(b, 0.5).Add(direction(r).Scale(0.01))
		}
		p := a.Scale(2*r.Float64() - 0.5).Add(b.Scale(2*r.Float64() - 0.5)).Add(c.Scale(2*r.Float64() - 0.5)).Add(direction(r).Scale(float64(k % 3)))
		if k%8 == 3 { // on a grid: on borders of regions
			p = geom.Vec{float64(r.IntN(13) - 4), float64(r.IntN(11) - 4), float64(r.IntN(2))}
		}
		want := nearBySides(p, a, b, c)
		w := closestInTriangle(p, a, b, c)
		at := a.Scale(w[0]).Add(b.Scale(w[1])).Add(c.Scale(w[2]))
		if min(w[0], w[1], w[2]) < -1e-12 || math.Abs(w[0]+w[1]+w[2]-1) > 1e-12 || math.Abs(at.Dist(p)-want.Dist(p)) > 1e-8 {
			t.Fatalf("%v of %v %v %v: %v at %g, want %v at %g", p, a, b, c, w, at.Dist(p), want, want.Dist(p))
		}
		if d := TriangleDistance(p, a, b, c); math.Abs(d-want.Dist(p)) > 1e-8 {
			t.Fatalf("%v of %v %v %v: distance %g, want %g", p, a, b, c, d, want.Dist(p))
		}
		v, u, d2 := nearTriangle(&p, &a, &b, &c)
		at = a.Scale(1 - v - u).Add(b.Scale(v)).Add(c.Scale(u))
		if min(v, u, 1-v-u) < -1e-12 || math.Abs(math.Sqrt(d2)-want.Dist(p)) > 1e-8 || math.Abs(at.Dist(p)-want.Dist(p)) > 1e-8 {
			t.Fatalf("%v of %v %v %v: %g %g at %g, want %v at %g", p, a, b, c, v, u, math.Sqrt(d2), want, want.Dist(p))
		}
	}
}

// plainHits is where a ray meets faces by the equation o + t d = a + v (b-a) + w (c-a).
func plainHits(m *Mesh, o, d geom.Vec) (hits []Hit, sure bool) {
	sure = true
	for f := range m.Faces {
		a, b, c := m.corners(f)
		ab, ac := b.Sub(a), c.Sub(a)
		det := ab.Dot(ac.Cross(d)) // of [ab ac -d], with the sign turned
		x := o.Sub(a)
		v, w, t := x.Dot(ac.Cross(d))/det, ab.Dot(x.Cross(d))/det, -ab.Cross(ac).Dot(x)/ab.Cross(ac).Dot(d)
		if math.Abs(det) < 1e-6*ab.Norm()*ac.Norm() || math.Abs(v) < 1e-9 || math.Abs(w) < 1e-9 || math.Abs(1-v-w) < 1e-9 || math.Abs(t) < 1e-9 {
			sure = false
			continue
		}
		if v > 0 && w > 0 && v+w < 1 && t > 0 {
			hits = append(hits, Hit{Site{f, [3]float64{1 - v - w, v, w}, o.Add(d.Scale(t))}, t, ab.Cross(ac).Dot(d) < 0})
		}
	}
	return inOrder(hits), sure
}

// inOrder is hits in order of the distance but for rounding, then of the face.
func inOrder(hits []Hit) []Hit {
	return slices.SortedFunc(slices.Values(hits), func(a, b Hit) int {
		return cmp.Or(cmp.Compare(math.Round(a.DistMM*1e6), math.Round(b.DistMM*1e6)), cmp.Compare(a.Face, b.Face))
	})
}

func sameHit(a, b Hit) bool {
	return a.Face == b.Face && math.Abs(a.DistMM-b.DistMM) < 1e-7 && a.At.Dist(b.At) < 1e-7 && a.Front == b.Front &&
		math.Abs(a.Bary[0]-b.Bary[0])+math.Abs(a.Bary[1]-b.Bary[1])+math.Abs(a.Bary[2]-b.Bary[2]) < 1e-6
}

// Every search over every kind of tree, small and deep, against all faces one by one.
func TestSearchesMatchPlainScans(t *testing.T) {
	r := rand.New(rand.NewPCG(62, 0))
	rays, deep := 0, 0
	for k := range 60 {
		n := []int{1, 2, 4, 5, 9, 17, 31, 33, 60, 150}[k%10]
		m := scattered(r, n, k/10)
		s := surfaceOf(t, m)
		deep = max(deep, s.faces.depth)
		treeHolds(t, &s.faces.tree, m)
		for i := range 20 {
			p := geom.Vec{140*r.Float64() - 20, 100*r.Float64() - 20, 60*r.Float64() - 20}
			if i%4 == 3 {
				p = m.Points[r.IntN(len(m.Points))]
			}
			nearest := func(wanted func(f int) bool) (face int, mm float64) {
				face, mm = -1, math.Inf(1)
				for f := range m.Faces {
					a, b, c := m.corners(f)
					if d := nearBySides(p, a, b, c).Dist(p); wanted(f) && d < mm-1e-9 {
						face, mm = f, d
					}
				}
				return face, mm
			}
			face, mm := nearest(func(int) bool { return true })
			site, d := s.Closest(p)
			if math.Abs(d-mm) > 1e-7 || site.Face != face && k/10 < 3 || math.Abs(site.At.Dist(p)-d) > 1e-9 || s.Site(site.Face, site.Bary).At.Dist(site.At) > 1e-9 {
				t.Fatalf("mesh %d, %v: %+v at %g, want face %d at %g", k, p, site, d, face, mm)
			}
			toward, angle, most := direction(r), 2*r.Float64(), 60*r.Float64()
			facing := func(f int) bool {
				n := m.FaceNormal(f)
				return n != geom.Vec{} && elem.Atan2(n.Cross(toward).Norm(), n.Dot(toward)) <= angle
			}
			face, mm = nearest(facing)
			site, d, ok := s.ClosestFacing(p, toward.Scale(3), angle, most)
			if ok != (mm <= most) || ok && (math.Abs(d-mm) > 1e-7 || !facing(site.Face) || math.Abs(site.At.Dist(p)-d) > 1e-9) || !ok && !math.IsInf(d, 1) {
				t.Fatalf("mesh %d, %v facing %v within %g: %+v at %g, %v; want face %d at %g", k, p, toward, angle, site, d, ok, face, mm)
			}
			a, b, c := m.corners(r.IntN(n))
			q := a.Lerp(b, r.Float64()).Lerp(c, r.Float64()).Sub(p)
			want, sure := plainHits(m, p, q.Unit())
			if !sure || i%4 == 3 || q == (geom.Vec{}) {
				continue
			}
			rays += len(want)
			got := s.Ray(p, q)
			first, hit := s.FirstHit(p, q)
			plain := raySearch{}
			plain.set(&p, &q)
			s.faces.depth += i % 2 * usualDepth // as if it were so deep
			s.faces.firstHitPlain(&plain)
			s.faces.depth -= i % 2 * usualDepth
			if !slices.EqualFunc(inOrder(got), want, sameHit) || hit != (len(want) > 0) || hit && (first != got[0] || plain.face != int32(got[0].Face) || plain.t != got[0].DistMM) || !hit && plain.face >= 0 {
				t.Fatalf("mesh %d, ray %v %v: %d hits, first face %d, without wide boxes %d; want %d hits", k, p, q, len(got), first.Face, plain.face, len(want))
			}
		}
		var planes []Plane
		for range 1 + r.IntN(3) {
			n := direction(r)
			planes = append(planes, Plane{n, n.Dot(m.Points[r.IntN(len(m.Points))])})
		}
		within := s.Within(planes)
		some := 0
		for f := range m.Faces {
			a, b, c := m.corners(f)
			reaches := true
			for _, p := range planes {
				reaches = reaches && max(p.Normal.Dot(a), p.Normal.Dot(b), p.Normal.Dot(c)) > p.OffsetMM
			}
			if reaches {
				some++
				if _, found := slices.BinarySearch(within, int32(f)); within != nil && !found {
					t.Errorf("mesh %d: face %d reaches within the planes and is not told", k, f)
				}
			}
		}
		if !slices.IsSorted(within) || len(slices.Compact(slices.Clone(within))) != len(within) {
			t.Errorf("mesh %d: %v", k, within)
		}
		if all := s.Within([]Plane{{geom.Vec{0, 0, 1}, -1000}, {geom.Vec{2, 0, 0}, -2000}}); all != nil {
			t.Errorf("mesh %d: the whole mesh is within, and %v is told", k, all)
		}
		if none := s.Within([]Plane{{geom.Vec{0, 0, 1}, -1000}, {geom.Vec{1, 0, 0}, 2000}}); none == nil || len(none) != 0 {
			t.Errorf("mesh %d: nothing is within, and %v is told", k, none)
		}
	}
	if rays < 1000 || deep < 15 {
		t.Errorf("only %d hits, trees of %d levels", rays, deep)
	}
	// a tree deeper than usual, of which only the room for it can be seen
	var near [usualDepth]treeVisit
	var wide [usualWide]wideVisit
	for _, depth := range []int{0, 1, usualDepth - 1, usualDepth, usualDepth + 1, usualWide, usualWide + 1, 300} {
		tr := faceTree{tree: tree{depth: depth}, wideStack: depth}
		if len(tr.stack(&near)) < depth+1 || len(tr.wideVisits(&wide)) < depth {
			t.Errorf("room for %d and %d visits in a tree of %d levels", len(tr.stack(&near)), len(tr.wideVisits(&wide)), depth)
		}
	}
}

// treeHolds says that a tree has every face once, that its boxes hold what lies below them with
// no more room than rounding, that leaves are small, and that its depth is the deepest leaf's.
func treeHolds(t *testing.T, tr *tree, m *Mesh) {
	t.Helper()
	seen, deepest := make([]int, len(m.Faces)), 0
	room := 4 * (math.Sqrt(tr.size2())/math.Exp2(28) + 1e-5)
	var below func(at int32, level int) (lo, hi geom.Vec)
	below = func(at int32, level int) (lo, hi geom.Vec) {
		n := &tr.nodes[at]
		lo, hi = geom.Vec{math.Inf(1), math.Inf(1), math.Inf(1)}, geom.Vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
		if n.count == 0 {
			for c := n.first; c < n.first+2; c++ {
				l, h := below(c, level+1)
				lo, hi = grow(lo, hi, l)
				lo, hi = grow(lo, hi, h)
			}
		}
		for _, f := range tr.items[n.first : n.first+n.count] {
			seen[f]++
			for _, v := range m.Faces[f] {
				lo, hi = grow(lo, hi, m.Points[v])
			}
			deepest = max(deepest, level)
		}
		if n.count > blockItems {
			t.Errorf("a leaf of %d", n.count)
		}
		for k := range 3 {
			if a, b := float64(n.lo[k]), float64(n.hi[k]); a > lo[k] || b < hi[k] || a < lo[k]-room || b > hi[k]+room {
				t.Fatalf("node %d: axis %d from %g to %g holds %g to %g", at, k, a, b, lo[k], hi[k])
			}
		}
		return lo, hi
	}
	below(0, 0)
	if slices.Min(seen) != 1 || slices.Max(seen) != 1 || deepest != tr.depth {
		t.Errorf("faces are there %d to %d times; depth %d, said %d", slices.Min(seen), slices.Max(seen), deepest, tr.depth)
	}
}

// The cut of a part is the cheapest of all between bins, by half area times number of both
// sides, over all axes where the part is large and along the longest of its centres where not.
func TestCutsOfTreesAreCheapest(t *testing.T) {
	r := rand.New(rand.NewPCG(63, 0))
	for k := range 40 {
		n := []int{40, 100, 255, 256, 400, 1000}[k%6]
		var boxes []boxed
		for range n {
			p := geom.Vec{100 * r.Float64() * r.Float64(), 300 * r.Float64() * r.Float64(), 50 * r.Float64()}
			if k%5 == 4 {
				p[1] = 7
			}
			boxes = append(boxes, boxOf(int32(len(boxes)), p, p.Add(geom.Vec{r.Float64(), 8 * r.Float64(), 4 * r.Float64()})))
		}
		b := treeBuilder{boxes: boxes, grid: newGrid(boxes)}
		for i := range boxes {
			b.grid.take(&boxes[i])
		}
		all := b.measure(0, int32(n))
		best := b.bestBin(&all)
		least, bins := math.Inf(1), 16
		axes := []int{0, 1, 2}
		if n < tryAllAxes {
			axes, bins = []int{all.mid.longest()}, 8
		}
		half := func(lo, hi [3]float64) float64 {
			x, y, z := hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2]
			return x*y + y*z + z*x
		}
		at := map[[2]int]float64{} // cost by axis and bin
		for _, axis := range axes {
			from, to := int32(math.MaxInt32), int32(math.MinInt32)
			for i := range boxes {
				c := boxes[i].centre2(axis)
				from, to = min(from, c), max(to, c)
			}
			if to == from {
				continue
			}
			x := all.mid.bins(axis, bins)
			binsAreEven(t, &x, from, to, bins)
			for cut := 1; cut < bins; cut++ {
				cost := 0.0
				var count [2]int
				for side := range 2 {
					lo, hi := [3]float64{1e99, 1e99, 1e99}, [3]float64{-1e99, -1e99, -1e99}
					for i := range boxes {
						if (boxes[i].centre2(axis) >= x.above(cut)) != (side == 1) {
							continue
						}
						count[side]++
						for j := range 3 {
							lo[j], hi[j] = min(lo[j], float64(boxes[i].lo[j])), max(hi[j], float64(boxes[i].hi[j]))
						}
					}
					if count[side] > 0 {
						cost += half(lo, hi) * float64(count[side])
					}
				}
				if count[0] > 0 && count[1] > 0 {
					least = min(least, cost)
					at[[2]int{axis, cut}] = cost
				}
			}
		}
		if best.axis < 0 || math.Abs(best.cost-least) > 1e-9*least {
			t.Fatalf("%d boxes: cut %+v, the cheapest costs %g of %v", n, best, least, at)
		}
		if n < 500 { // the plane parts the boxes at that cost
			var left, right part
			if !b.divide(&all, best.axis, best.plane, &left, &right) {
				t.Fatalf("%d boxes: nothing lies on one side of %+v", n, best)
			}
			if cost := left.all.halfArea()*float64(left.n()) + right.all.halfArea()*float64(right.n()); math.Abs(cost-least) > 1e-9*least {
				t.Errorf("%d boxes: parted at a cost of %g, want %g", n, cost, least)
			}
		}
	}
}

// binsAreEven says that bins take a range from its first number to its last, each as wide as
// another but for a thirtieth, and that each begins where it is said to begin.
func binsAreEven(t *testing.T, x *bins, from, to int32, n int) {
	t.Helper()
	if x.of(from) != 0 || x.of(to) >= n || x.of(to) < n-1-n/8 {
		t.Errorf("%d to %d: bins %d to %d of %d", from, to, x.of(from), x.of(to), n)
	}
	wide := float64(to-from+1) / float64(n)
	for i := 1; i < n; i++ {
		if c := x.above(i); x.of(c) != i || x.of(c-1) != i-1 || math.Abs(float64(c-from)/wide-float64(i)) > 1+float64(i)/30 {
			t.Errorf("%d to %d: bin %d of %d begins at %d", from, to, i, n, c)
		}
	}
}

// Searches look at few of many faces: on the average no more than said here, which is a tenth
// over what was counted. Counted, so that no clock is needed; the numbers have no other source.
func TestSearchesLookAtFewFaces(t *testing.T) {
	r := rand.New(rand.NewPCG(64, 0))
	s := surfaceOf(t, bumpyTorus(60, 40, 3))
	tr := &s.faces.tree
	near, lines, touched, boxes := 0, 0, 0, 0.0
	for range 300 {
		p := randomPoint(r)
		near += tr.nearestWithin(p, math.Inf(1), func(f int32) float64 {
			a, b, c := s.m.corners(int(f))
			d := TriangleDistance(p, a, b, c)
			return d * d
		})
		tr.along(p, direction(r), func(int32) { lines++ })
		b := boxAbout(s.m.Points[r.IntN(len(s.m.Points))], 10)
		touched += len(tr.overlaps(&b, nil))
	}
	for i := range tr.nodes {
		if n := &tr.nodes[i]; i != 1 {
			x, y, z := float64(n.hi[0]-n.lo[0]), float64(n.hi[1]-n.lo[1]), float64(n.hi[2]-n.lo[2])
			boxes += (x*y + y*z + z*x) * float64(max(1, n.count)) / float64(len(s.m.Faces))
		}
	}
	if near > 9300 || lines > 2240 || touched > 5160 || boxes > 5120 || tr.depth > 14 || len(tr.nodes) > 3420 {
		t.Errorf("looked at %d faces near 300 points, %d along lines, %d in boxes; boxes of %g, %d levels, %d nodes", near, lines, touched, boxes, tr.depth, len(tr.nodes))
	}
}
