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

// facePart is what planes left of a face, or of a cut face (face -1): cut says of each side, from
// its point to the next, that a plane made it.
type facePart struct {
	face   int
	points []geom.Vec
	cut    []bool
}

func (p *facePart) areaVec() (sum geom.Vec) {
	for i := 2; i < len(p.points); i++ {
		sum = sum.Add(p.points[i-1].Sub(p.points[0]).Cross(p.points[i].Sub(p.points[0])).Scale(0.5))
	}
	return sum
}

// clipConvex is what lies where n.x >= d of all planes of a convex mesh: faces are cut one after
// another, and each plane's cut face is the outline of its crossings, sorted round their middle.
func clipConvex(m *Mesh, planes []Plane) []facePart {
	var parts []facePart
	for f := range m.Faces {
		a, b, c := m.corners(f)
		parts = append(parts, facePart{f, []geom.Vec{a, b, c}, make([]bool, 3)})
	}
	for _, pl := range planes {
		var next []facePart
		var rim []geom.Vec
		for _, p := range parts {
			q := facePart{face: p.face}
			for i, a := range p.points {
				b := p.points[(i+1)%len(p.points)]
				ha, hb := pl.Normal.Dot(a)-pl.OffsetMM, pl.Normal.Dot(b)-pl.OffsetMM
				if ha >= 0 {
					q.points, q.cut = append(q.points, a), append(q.cut, p.cut[i])
				}
				if (ha >= 0) != (hb >= 0) {
					x := a.Lerp(b, ha/(ha-hb))
					q.points, rim = append(q.points, x), append(rim, x)
					q.cut = append(q.cut, ha >= 0 || p.cut[i]) // from where it leaves to where it comes back the plane made it
				}
			}
			if len(q.points) > 2 {
				next = append(next, q)
			}
		}
		if len(rim) > 2 {
			var mid geom.Vec
			for _, x := range rim {
				mid = mid.Add(x.Scale(1 / float64(len(rim))))
			}
			u, v := sideways(pl.Normal.Unit())
			angle := func(x geom.Vec) float64 { return elem.Atan2(x.Sub(mid).Dot(v), x.Sub(mid).Dot(u)) }
			slices.SortFunc(rim, func(a, b geom.Vec) int { return cmp.Compare(angle(b), angle(a)) }) // seen from outside, against n
			next = append(next, facePart{-1, rim, make([]bool, len(rim))})
		}
		parts = next
	}
	return parts
}

// convex is an affine image of a ball of 80 faces or of a box, and so convex.
func convex(r *rand.Rand) *Mesh {
	m := boxMesh(1, 1, 1)
	if r.IntN(3) > 0 {
		m = icosphere(1)
	}
	x, y, z := direction(r).Scale(20+30*r.Float64()), direction(r).Scale(20+30*r.Float64()), direction(r).Scale(20)
	if x.Cross(y).Dot(z) < 0 {
		z = z.Scale(-1)
	}
	by := direction(r).Scale(100)
	for i, p := range m.Points {
		m.Points[i] = x.Scale(p[0]).Add(y.Scale(p[1])).Add(z.Scale(p[2])).Add(by)
	}
	return m
}

// Cuts of convex bodies by one to four planes: the volumes, areas, the length of the line and the
// faces it crosses are those of the body clipped face by face.
func TestCutsOfConvexBodies(t *testing.T) {
	r := rand.New(rand.NewPCG(101, 0))
	cut, crossed := 0, 0
	for k := range 150 {
		m := convex(r)
		var planes []Plane
		for range 1 + k%4 {
			n := direction(r).Scale(0.1 + 10*r.Float64())
			inside := m.Points[r.IntN(len(m.Points))].Lerp(m.Points[r.IntN(len(m.Points))], r.Float64())
			planes = append(planes, Plane{n, n.Dot(inside)})
		}
		whole := m.VolumeMM3()
		size := math.Cbrt(whole)
		var volume, area, length float64
		faces := map[int]bool{}
		o := m.Points[0]
		for _, p := range clipConvex(m, planes) {
			a := p.areaVec()
			volume += a.Dot(p.points[0].Sub(o)) / 3
			if p.face < 0 {
				continue
			}
			area += a.Norm()
			for i, is := range p.cut {
				if mm := p.points[i].Dist(p.points[(i+1)%len(p.points)]); is && mm > 1e-6 {
					length += mm
					faces[p.face] = true
				}
			}
		}
		near := func(what string, got, want, unit float64) {
			t.Helper()
			if math.Abs(got-want) > 1e-6*unit {
				t.Errorf("body %d, %d planes: %s %.9g, want %.9g", k, len(planes), what, got, want)
			}
		}
		c, err := m.Section(planes, 1e-9)
		if err != nil {
			t.Fatal(err)
		}
		near("outer volume", c.Outer.VolumeMM3, volume, whole)
		near("volume of the rest", c.Rest.VolumeMM3, whole-volume, whole)
		near("outer area", c.Outer.AreaMM2, area, m.AreaMM2())
		near("area of the rest", c.Rest.AreaMM2, m.AreaMM2()-area, m.AreaMM2())
		near("length", c.LengthMM, length, size)
		if c.FacesCrossed != len(faces) || !c.VolumesExact || c.VolumeDoubt != "" {
			t.Errorf("body %d, %d planes: %d faces crossed, want %d; exact %v %s", k, len(planes), c.FacesCrossed, len(faces), c.VolumesExact, c.VolumeDoubt)
		}
		if length > 0 {
			cut++
		}
		crossed += len(faces)
		if len(planes) > 1 {
			continue
		}
		p, err := m.Cut(planes[0].Normal, planes[0].OffsetMM)
		if err != nil {
			t.Fatal(err)
		}
		near("volume above", p.Sides[1].VolumeMM3, volume, whole)
		near("volume below", p.Sides[0].VolumeMM3, whole-volume, whole)
		near("area above", p.Sides[1].AreaMM2, area, m.AreaMM2())
		near("area below", p.Sides[0].AreaMM2, m.AreaMM2()-area, m.AreaMM2())
		near("length of the cut", p.LengthMM, length, size)
		if p.FacesCrossed != len(faces) || p.Closed != (length > 0) || len(p.Loops) > 1 || math.Abs(p.Normal.Norm()-1) > 1e-12 || math.Abs(p.OffsetMM*planes[0].Normal.Norm()-planes[0].OffsetMM) > 1e-9*math.Abs(planes[0].OffsetMM) {
			t.Errorf("body %d: %d faces crossed, want %d; closed %v, %d loops, %v", k, p.FacesCrossed, len(faces), p.Closed, len(p.Loops), p.Normal)
		}
		for _, l := range p.Loops {
			around := 0.0
			for i, x := range l.Points {
				around += x.Dist(l.Points[(i+1)%len(l.Points)])
				if math.Abs(p.Normal.Dot(x)-p.OffsetMM) > 1e-9*size || !slices.ContainsFunc(p.Loops[0].Points, func(y geom.Vec) bool { return x == y }) {
					t.Errorf("body %d: %v lies off the plane", k, x)
				}
			}
			near("a loop", l.LengthMM, around, size)
		}
	}
	if cut < 100 || crossed < 1000 {
		t.Errorf("only %d bodies cut, %d faces", cut, crossed)
	}
}

// Whether planes lie between two places: along the way from one to the other what is outer is one
// stretch, and one of its ends lies between them, in the window.
func TestCutBetweenPlaces(t *testing.T) {
	r := rand.New(rand.NewPCG(102, 0))
	yes, no := 0, 0
	for k := range 4000 {
		var planes []Plane
		for range 1 + k%3 {
			n := direction(r).Scale(0.5 + r.Float64())
			planes = append(planes, Plane{n, r.NormFloat64()})
		}
		var w *Window
		if k%2 == 0 {
			w = &Window{geom.Vec{-1, -2, -1.5}, geom.Vec{1.5, 1, 2}}
		}
		a, b := direction(r).Scale(3*r.Float64()), direction(r).Scale(3*r.Float64())
		from, to := math.Inf(-1), math.Inf(1)
		sure := true
		for _, p := range planes {
			x, y := p.Normal.Dot(a)-p.OffsetMM, p.Normal.Dot(b)-p.OffsetMM
			if at := x / (x - y); y > x {
				from = max(from, at)
			} else {
				to = min(to, at)
			}
		}
		want := false
		for _, at := range []float64{from, to} {
			sure = sure && math.Abs(at) > 1e-3 && math.Abs(at-1) > 1e-3
			if at > 0 && at < 1 && from < to {
				x := a.Lerp(b, at)
				in := w == nil || x[0] >= w.Lo[0] && x[1] >= w.Lo[1] && x[2] >= w.Lo[2] && x[0] <= w.Hi[0] && x[1] <= w.Hi[1] && x[2] <= w.Hi[2]
				want = want || in
			}
		}
		if sure = sure && math.Abs(to-from) > 1e-3; !sure {
			continue
		}
		if got := cutBetween(planes, w, a, b); got != want {
			t.Fatalf("case %d: between %v and %v of %v in %v: %v", k, a, b, planes, w, got)
		}
		if want {
			yes++
		} else {
			no++
		}
	}
	if yes < 500 || no < 500 {
		t.Errorf("%d between, %d not", yes, no)
	}
	up := []Plane{{geom.Vec{0, 0, 2}, 4}} // z >= 2: what lies on it is outer
	for _, c := range []struct {
		a, b float64
		want bool
	}{{2, 1, true}, {1, 2, true}, {2, 3, false}, {2, 2, false}, {1, 3, true}, {3, 4, false}, {0, 1, false}} {
		if got := cutBetween(up, nil, geom.Vec{0, 0, c.a}, geom.Vec{1, 0, c.b}); got != c.want {
			t.Errorf("from %g to %g: %v", c.a, c.b, got)
		}
	}
	edge := &Window{geom.Vec{0, 0, 0}, geom.Vec{1, 1, 2}}
	for _, p := range []geom.Vec{{0, 0, 0}, {1, 1, 2}, {0, 1, 0}, {0.5, 0.5, 1}} {
		if !edge.holds(p) {
			t.Errorf("%v is in the window", p)
		}
	}
	for _, p := range []geom.Vec{{-0.1, 0, 0}, {0, 1.1, 0}, {0, 0, 2.1}, {0, 0, -0.1}} {
		if edge.holds(p) {
			t.Errorf("%v is not in the window", p)
		}
	}
}

// The point that planes share lies on all of them, and from the middle of the mesh to it one goes
// along their normals only; of four planes, and of planes at less than a hundredth, there is none.
func TestPointThatPlanesShare(t *testing.T) {
	r := rand.New(rand.NewPCG(103, 0))
	m := boxMesh(10, 20, 30)
	for k := range 300 {
		n := 1 + k%4
		var planes []Plane
		for range n {
			planes = append(planes, Plane{direction(r).Scale(0.2 + 3*r.Float64()), 20 * r.NormFloat64()})
		}
		slant := 1.0
		if n > 1 {
			slant = planes[0].Normal.Unit().Cross(planes[1].Normal.Unit()).Norm()
		}
		if n == 3 {
			slant *= math.Abs(planes[0].Normal.Unit().Cross(planes[1].Normal.Unit()).Unit().Dot(planes[2].Normal.Unit()))
		}
		at, ok := commonPoint(planes, m)
		if n == 4 && ok || n < 4 && slant > 0.05 && !ok {
			t.Fatalf("%v share %v, %v", planes, at, ok)
		}
		if !ok {
			continue
		}
		way := at.Sub(geom.Vec{5, 10, 15})
		for _, p := range planes {
			if off := (p.Normal.Dot(at) - p.OffsetMM) / p.Normal.Norm(); math.Abs(off) > 1e-8*(1+at.Norm()) {
				t.Errorf("%v lies %g off %v", at, off, p)
			}
		}
		switch n { // what is square to all normals is no part of the way
		case 1:
			if c := way.Cross(planes[0].Normal.Unit()); c.Norm() > 1e-8*(1+way.Norm()) {
				t.Errorf("the way %v is not along the normal", way)
			}
		case 2:
			if d := way.Dot(planes[0].Normal.Cross(planes[1].Normal).Unit()); math.Abs(d) > 1e-8*(1+way.Norm()) {
				t.Errorf("the way %v is not along the normals", way)
			}
		}
	}
	for sine, want := range map[float64]bool{0.02: true, 0.005: false, 0: false} {
		if _, ok := commonPoint([]Plane{{geom.Vec{0, 0, 1}, 1}, {geom.Vec{sine, 0, math.Sqrt(1 - sine*sine)}, 2}}, m); ok != want {
			t.Errorf("planes at a sine of %g share a point: %v", sine, ok)
		}
	}
}

// Points nearer to a plane than the snap count as on it: faces are not cut there, others are, and
// what a face is a part of, and on which side, is told of every one.
func TestSnapOfSplits(t *testing.T) {
	m := boxMesh(10, 10, 10)
	m.Label = make([]int32, 12)
	for f := range m.Label {
		m.Label[f] = int32(100 + f)
	}
	for _, c := range []struct {
		z, snap float64
		faces   int
	}{{5, 1e-6, 12 + 16}, {9.9, 0.05, 12 + 16}, {9.9, 0.1 + 1e-9, 12}, {9.9, 0.2, 12}, {10, 0, 12}, {0.1, 0.2, 12}, {11, 0.1, 12}, {-1, 0, 12}} {
		s, err := m.SplitByPlanes([]Plane{{geom.Vec{0, 0, 3}, 3 * c.z}}, c.snap)
		if err != nil || len(s.Mesh.Faces) != c.faces || len(s.Parent) != c.faces || len(s.Above) != 1 || len(s.Above[0]) != c.faces {
			t.Fatalf("at %g within %g: %d faces, want %d, %v", c.z, c.snap, len(s.Mesh.Faces), c.faces, err)
		}
		for f, above := range s.Above[0] {
			p, q, o := s.Mesh.corners(f)
			mid := (p[2] + q[2] + o[2]) / 3
			if lies := mid >= c.z; lies != above && math.Abs(mid-c.z) > 1e-9 && (mid-c.z)*(map[bool]float64{true: 1, false: -1}[above]) < -c.snap {
				t.Errorf("at %g within %g: face %d at %g lies above: %v", c.z, c.snap, f, mid, above)
			}
			a, b, d := m.corners(int(s.Parent[f]))
			if s.Mesh.Label[f] != 100+s.Parent[f] || TriangleDistance(p.Add(q).Add(o).Scale(1./3), a, b, d) > 1e-9 {
				t.Errorf("at %g: face %d is no part of face %d", c.z, f, s.Parent[f])
			}
		}
	}
	for _, bad := range []Plane{{}, {geom.Vec{1, 0, 0}, math.NaN()}, {geom.Vec{1, 0, 0}, math.Inf(1)}, {geom.Vec{math.NaN(), 0, 1}, 0}, {geom.Vec{math.Inf(1), 0, 0}, 0}} {
		if _, err := m.SplitByPlanes([]Plane{{geom.Vec{1, 0, 0}, 5}, bad}, 0); err == nil {
			t.Errorf("split by %v", bad)
		}
		if _, err := m.Cut(bad.Normal, bad.OffsetMM); err == nil {
			t.Errorf("cut by %v", bad)
		}
	}
	if _, err := (&Mesh{}).SplitByPlanes(nil, 0); err == nil {
		t.Error("nothing was split")
	}
	if _, err := (&Mesh{}).Section([]Plane{{geom.Vec{1, 0, 0}, 5}}, 0); err == nil {
		t.Error("nothing was cut")
	}
}
