package mesh

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// What is refused and doubted, word for word; every figure in it differs from the others.
func TestWhatIsToldWordForWord(t *testing.T) {
	box := boxMesh(20, 20, 20)
	s := surfaceOf(t, box)
	at := func(x, y, z float64) Site { p, _ := s.Closest(geom.Vec{x, y, z}); return p }
	top, side := []Site{at(2, 4, 20), at(18, 4, 20)}, []Site{at(2, 0, 17), at(18, 0, 15)}
	points := []geom.Vec{{1, 1, 20}, {5, 1, 20}, {3, 4, 20}}
	along := func(outer geom.Vec, points ...geom.Vec) error {
		_, _, err := box.SectionAlong(points, outer, 0)
		return err
	}
	cut := func(n geom.Vec, d float64) error { _, err := box.Cut(n, d); return err }
	curve := func(a, b []Site, need float64) error { _, err := s.CurveDistance(a, b, need); return err }
	notCut := "the cutting plane is not defined; give a finite normal that is not zero, and a finite offset"
	notNumber := "a point of the curve is not a number; give finite millimetre values"
	notUsable := "the distance asked for is not usable; give a finite distance, 0 or more"
	for want, list := range map[string][]error{
		"a closed curve needs at least three points; give the points round the surface, in order": {along(geom.Vec{}), along(geom.Vec{}, points[:2]...)},
		notNumber: {along(geom.Vec{0, math.NaN(), 0}, points...), along(geom.Vec{}, points[0], points[1], geom.Vec{0, 0, math.Inf(-1)})},
		notCut:    {cut(geom.Vec{}, 1), cut(geom.Vec{1, 0, 0}, math.NaN()), cut(geom.Vec{1, 0, 0}, math.Inf(1)), cut(geom.Vec{1, math.Inf(1), 0}, 1)},
		notUsable: {curve(top, side, -1), curve(top, side, math.Inf(1)), curve(top, side, math.NaN())},
		"a curve has no points; give at least one site": {curve(nil, side, 1), curve(top, nil, 1)},
		"the curve cannot be followed at 1.2, -20.0, 3.5; move the points of the curve a little": {func() error {
			k := newKnife(box, 0)
			_, err := k.node(geom.Vec{1.25, -20, 3.5}, 0, 3, nil) // below and above: no corner in common
			return err
		}()},
		"the curve cannot be followed from triangle to triangle; move the points of the curve a little": {func() error {
			k := newKnife(box, 0)
			k.line[[2]int32{0, 7}] = true // through the inside
			return k.part(&Section{}, geom.Vec{})
		}()},
	} {
		for i, err := range list {
			var e *diag.Error
			if !errors.As(err, &e) || e.Kind != diag.Invalid || e.Msg+"; "+e.Hint != want {
				t.Errorf("case %d of %q: %v", i, want, err)
			}
		}
	}
	flipped := boxMesh(1, 1, 1)
	flipped.Faces[0][0], flipped.Faces[0][1] = flipped.Faces[0][1], flipped.Faces[0][0]
	flipped.Faces[11][0], flipped.Faces[11][1] = flipped.Faces[11][1], flipped.Faces[11][0] // no edge in common
	near, err := s.CurveDistance(top, side, 7)                                              // 4 to the edge and 3 down
	if err != nil {
		t.Fatal(err)
	}
	line, _, _ := box.SectionAlong([]geom.Vec{{1, 1, 20}, {1, 1, 20}, {1, 1, 20}}, geom.Vec{9, 5, 20}, 1e-7)
	for want, got := range map[string]string{
		"at 6 edges the two triangles disagree about the outside: there is no volume": flipped.SidesDoubt(),
		"the distance asked for is met to a millionth: too close to tell":             near.Doubt,
		"the points of the curve lie too near together":                               slices.Concat(line.Reasons, []string{""})[0],
		"the search was stopped at 17 windows at once":                                (&field{gaveUp: true, metCrowd: true, live: 17}).result(nil).Doubt,
		"ways across edges of three or more faces were not searched":                  (&field{metCrowd: true}).result(nil).Doubt,
		"": (&field{}).result(nil).Doubt,
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// strips is squares beside one another along x, each with its label.
func strips(labels ...int32) *Mesh {
	m := &Mesh{Points: []geom.Vec{{0, 0, 0}, {0, 1, 0}}}
	for i, l := range labels {
		a, x := int32(2*i), float64(i+1)
		m.Points = append(m.Points, geom.Vec{x, 0, 0}, geom.Vec{x, 1, 0})
		m.Faces = append(m.Faces, [3]int32{a, a + 2, a + 3}, [3]int32{a, a + 3, a + 1})
		m.Label = append(m.Label, l, l)
	}
	return m
}

// Of two labels equally near the smaller is told, wherever it lies, whatever the own one; at an
// edge of many faces each pair of labels is one border. By hand.
func TestBordersEquallyNear(t *testing.T) {
	for _, c := range []struct {
		labels []int32
		other  int32
		mm     float64
	}{
		{[]int32{9, 5, 2}, 2, 0.5}, {[]int32{2, 5, 9}, 2, 0.5}, {[]int32{7, 1, 3}, 3, 0.5}, {[]int32{3, 1, 7}, 3, 0.5},
		{[]int32{4, 8, 6}, 4, 0.5}, {[]int32{6, 8, 4}, 4, 0.5}, {[]int32{5, 5, 2}, 2, 0.5}, {[]int32{5, 5, 5}, 5, math.Inf(1)},
		{[]int32{-1, 0, -2}, -2, 0.5},
	} {
		s := surfaceOf(t, strips(c.labels...))
		at, _ := s.Closest(geom.Vec{1.5, 0.5, 0})
		if mm, other := s.DistanceToBorder(at); mm != c.mm || other != c.other {
			t.Errorf("%v: %g to %d, want %g to %d", c.labels, mm, other, c.mm, c.other)
		}
	}
	for labels, want := range map[[4]int32]int{{1, 1, 1, 1}: 0, {1, 1, 1, 2}: 1, {1, 2, 1, 2}: 1, {1, 2, 3, 1}: 3, {4, 3, 2, 1}: 6} {
		m := &Mesh{Points: []geom.Vec{{0, 0, 0}, {9, 0, 0}}, Label: labels[:]}
		for k := range int32(4) {
			m.Points = append(m.Points, geom.Vec{4, float64(k - 1), float64(1 - k%2)})
			m.Faces = append(m.Faces, [3]int32{0, 1, k + 2})
		}
		if lines := surfaceOf(t, m).LabelBorders(); len(lines) != want {
			t.Errorf("labels %v at one edge: %d borders, want %d", labels, len(lines), want)
		}
	}
}

// Rims by hand: of a box each edge is one, where its normals differ by more than was asked; of two
// triangles that share a point each goes round and ends there; a circle has at least eight points
// and none farther off it than was allowed.
func TestRimsByHand(t *testing.T) {
	box := surfaceOf(t, boxMesh(1, 2, 4))
	said := ""
	for _, r := range box.Rims(math.Nextafter(math.Pi/2, 0), 1) {
		said += fmt.Sprintf("%v %g; ", r.Points, r.LengthMM)
		if r.Closed || r.Free || r.Circle != nil {
			t.Errorf("%+v", r)
		}
	}
	if want := "[0 1] 1; [0 2] 2; [0 4] 4; [1 3] 2; [1 5] 4; [2 3] 1; [2 6] 4; [3 7] 4; [4 5] 1; [4 6] 2; [5 7] 2; [6 7] 1; "; said != want {
		t.Errorf("rims %s, want %s", said, want)
	}
	if rims := box.Rims(math.Nextafter(math.Pi/2, 4), 1); len(rims) != 0 {
		t.Errorf("%d edges of more than a right angle", len(rims))
	}
	bow := &Mesh{Points: []geom.Vec{{0, 0, 0}, {3, 0, 0}, {3, 4, 0}, {-6, 0, 0}, {-6, -8, 0}}, Faces: [][3]int32{{0, 1, 2}, {0, 3, 4}}}
	if got := fmt.Sprintf("%+v", surfaceOf(t, bow).Rims(1, 1)); got != "[{Points:[0 1 2 0] Closed:false Free:true LengthMM:12 Circle:<nil> Hole:false} {Points:[0 3 4 0] Closed:false Free:true LengthMM:24 Circle:<nil> Hole:false}]" {
		t.Error(got)
	}
	for n, want := range map[int]bool{7: false, 8: true, 9: true} {
		m := flatRing(n, 3, 20)
		m.Points[0][0] += 0.125
		s := surfaceOf(t, m)
		r := s.Rims(1, 1)[0]
		if (r.Circle != nil) != want {
			t.Errorf("%d points: %+v", n, r)
		}
		if want {
			most := r.Circle.MaxMM
			if exact, less := s.Rims(1, most)[0], s.Rims(1, math.Nextafter(most, 0))[0]; exact.Circle == nil || less.Circle != nil {
				t.Errorf("%d points, %g off: circles %v and %v", n, most, exact.Circle, less.Circle)
			}
		}
	}
}

// Two unit vectors across an axis: from the first of its smallest coordinates.
func TestSidewaysOfAnAxis(t *testing.T) {
	for _, c := range [][3]geom.Vec{
		{{0, 0, 1}, {1, 0, 0}, {0, 1, 0}}, {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, {{0, 1, 0}, {1, 0, 0}, {0, 0, -1}},
		{{0, 0, -1}, {1, 0, 0}, {0, -1, 0}}, {{0.6, 0.8, 0}, {0, 0, 1}, {0.8, -0.6, 0}}, {{0.8, 0, -0.6}, {0, 1, 0}, {0.6, 0, 0.8}},
	} {
		if x, y := sideways(c[0]); x != c[1] || y != c[2] {
			t.Errorf("across %v: %v and %v, want %v and %v", c[0], x, y, c[1], c[2])
		}
	}
}

// What lies at a limit of openings itself, on lengths of whole numbers and halves: how far it is
// along a line, what is slender, what is a corner within an edge, and which sides face each other.
func TestLimitsOfOpenings(t *testing.T) {
	e := &freeEdges{lines: []freeLine{{16, true}, {16, false}}}
	for _, c := range []struct{ line, from, to, other, want float64 }{
		{0, 1, 4, 0, 3}, {0, 1, 9, 0, 8}, {0, 1, 10, 0, 7}, {0, 15, 1, 0, 2}, {1, 15, 1, 1, 14}, {0, 1, 1, 1, math.Inf(1)},
	} {
		p, q := linePlace{int32(c.line), c.from}, linePlace{int32(c.other), c.to}
		if d := e.between(p, q); d != c.want || e.between(q, p) != c.want {
			t.Errorf("%v to %v: %g, want %g", p, q, d, c.want)
		}
		for mm, want := range map[float64]bool{c.want / seamSlender: true, c.want/seamSlender + 0.125: false, c.want/seamSlender - 0.125: true} {
			if far := []linePlace{{1 - p.line, 3}}; !math.IsInf(c.want, 1) && (e.slender([]linePlace{p}, append(far, q), mm) != want || e.slender(append(far, p), []linePlace{q}, mm) != want) {
				t.Errorf("%v to %v at %g: slender %v", p, q, mm, !want)
			}
		}
	}
	for s, want := range map[Seam]bool{{LengthMM: 4, WidestMM: 1}: true, {LengthMM: 3.5, WidestMM: 1}: false, {LengthMM: 1}: true, {}: false} {
		if s.slender() != want {
			t.Errorf("%+v: slender %v", s, !want)
		}
	}
	gaps := Gaps{Seams: []Seam{{LengthMM: 4, WidestMM: 0.5}, {LengthMM: 2, WidestMM: 0.75}, {LengthMM: 1, WidestMM: 0.25}}}
	if gaps.LengthMM() != 7 || gaps.WidestMM() != 0.75 {
		t.Errorf("%g long, %g wide", gaps.LengthMM(), gaps.WidestMM())
	}
	// two triangles with edges of 16 along x; the normal of the first is up
	m := &Mesh{Points: []geom.Vec{{0, 0, 0}, {16, 0, 0}, {8, 8, 0}, {16, -1, 0}, {0, -1, 0}, {8, -9, 0}}, Faces: [][3]int32{{0, 1, 2}, {3, 4, 5}}}
	e = &freeEdges{m: m, half: []int32{0, 3}}
	for _, c := range []struct {
		share, mm float64
		want      bool
	}{{0.25, 1, false}, {0.25, 0.875, true}, {0.75, 1, false}, {0.75, 0.875, true}, {0.0078125, 0, false}, {0.015625, 0, true}} {
		if e.tJoint(&gapSide{facing: 1, share: c.share, mm: c.mm}) != c.want {
			t.Errorf("a corner at %g, %g off: within %v", c.share, c.mm, !c.want)
		}
	}
	up, half := geom.Vec{0, 0, 1}, math.Sqrt(0.75)
	for name, c := range map[string]struct {
		dir, normal            geom.Vec // of the second
		across                 geom.Vec
		beside, facing, turned bool
	}{
		"opposite":               {geom.Vec{-1, 0, 0}, up, geom.Vec{0, -2, 0}, true, true, false},
		"the same way":           {geom.Vec{1, 0, 0}, geom.Vec{0, 0, -1}, geom.Vec{0, -2, 0}, true, true, true},
		"at 120 degrees":         {geom.Vec{-0.5, half, 0}, up, geom.Vec{0, -2, 0}, true, true, false},
		"at less":                {geom.Vec{-0.4375, 0.9, 0}, up, geom.Vec{0, -2, 0}, false, false, false},
		"square to it":           {geom.Vec{0, 1, 0}, up, geom.Vec{0, -2, 0}, false, false, false},
		"the surface between":    {geom.Vec{-1, 0, 0}, up, geom.Vec{0, 2, 0}, true, false, false},
		"60 degrees off":         {geom.Vec{-1, 0, 0}, up, geom.Vec{0, -1, 2}, true, false, false},
		"so near that any goes":  {geom.Vec{-1, 0, 0}, up, geom.Vec{0, 0.75, 0}, true, true, false},
		"not so near":            {geom.Vec{-1, 0, 0}, up, geom.Vec{0, 0.875, 0}, true, false, false},
		"back to back":           {geom.Vec{-1, 0, 0}, geom.Vec{0, 0.484, -0.875}, geom.Vec{0, -2, 0}, false, false, false},
		"not yet back to back":   {geom.Vec{-1, 0, 0}, geom.Vec{0, 0.5, -half}, geom.Vec{0, -0.5, 0}, true, true, false},
		"the other's own normal": {geom.Vec{-1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, -2, 0}, true, false, false},
	} {
		e.dir, e.normal = []geom.Vec{{1, 0, 0}, c.dir}, []geom.Vec{up, c.normal}
		if b, f, u := e.opposed(0, 1, geom.Vec{8, 0, 0}, geom.Vec{8, 0, 0}.Add(c.across)); b != c.beside || f != c.facing || u != c.turned {
			t.Errorf("%s: beside %v, facing %v, turned %v", name, b, f, u)
		}
	}
	if b, f, u := e.opposed(0, 0, geom.Vec{}, geom.Vec{0, -1, 0}); b || f || u {
		t.Error("an edge faces its own triangle")
	}
	for want, p := range map[float64]geom.Vec{0: {-4, 1, 0}, 0.25: {4, 1, 0}, 1: {17, 0, 2}} {
		if at, share := onSegment(p, geom.Vec{}, geom.Vec{16, 0, 0}); share != want || (at != geom.Vec{16 * want, 0, 0}) {
			t.Errorf("%v: %v at %g, want %g", p, at, share, want)
		}
	}
	if at, share := onSegment(geom.Vec{1, 2, 3}, geom.Vec{5, 6, 7}, geom.Vec{5, 6, 7}); share != 0 || (at != geom.Vec{5, 6, 7}) {
		t.Errorf("a segment of one place: %v at %g", at, share)
	}
}

// Parts of curves: cut no finer than asked, kept as far as the limit itself; the distance of two
// curves is the least of all pairs of parts; what leaves a queue comes by its key, then its number.
func TestPartsOfCurves(t *testing.T) {
	for step, want := range map[float64]int{1: 8, 2: 4, 3: 3, 8: 1, 9: 1} {
		c := curve{[]segment{{3, geom.Vec{}, geom.Vec{8, 0, 0}}}}
		c.shorten(step)
		ends := c.segments[0].p == geom.Vec{} && c.segments[len(c.segments)-1].q == geom.Vec{8, 0, 0}
		if len(c.segments) != want || !ends || math.Abs(c.longest()-8/float64(want)) > 1e-12 {
			t.Errorf("in steps of %g: %v", step, c.segments)
		}
	}
	c := curve{[]segment{{face: 1}, {face: 2}, {face: 3}}}
	if c.keep([]float64{2, 1, 3}, 2); len(c.segments) != 2 || c.segments[0].face != 1 || c.segments[1].face != 2 {
		t.Errorf("kept %v", c.segments)
	}
	for _, x := range []struct {
		lower, upper, need float64
		least, below       bool
	}{{2, 3, 2, true, false}, {1, 2, 2, false, false}, {1, 1.5, 2, false, true}, {1, 3, 2, false, false}} {
		if c := (Clearance{LowerMM: x.lower, UpperMM: x.upper}); c.decide(x.need) != (x.least || x.below) || c.AtLeast != x.least || c.Below != x.below {
			t.Errorf("%+v of %g", c, x.need)
		}
	}
	r := rand.New(rand.NewPCG(301, 0))
	point := func() geom.Vec { return geom.Vec{float64(r.IntN(40)), float64(r.IntN(9)), float64(r.IntN(5))} }
	for range 200 {
		var p, q curve
		for range 1 + r.IntN(20) {
			p.segments = append(p.segments, segment{0, point(), point()})
		}
		for range 1 + r.IntN(20) {
			q.segments = append(q.segments, segment{0, point().Add(geom.Vec{0, 10, 0}), point().Add(geom.Vec{0, 10, 0})})
		}
		want := math.Inf(1)
		for _, g := range p.segments {
			for _, h := range q.segments {
				want = min(want, geom.SegmentsDist(g.p, g.q, h.p, h.q))
			}
		}
		if got := chordBetween(p, q); got != want {
			t.Fatalf("%g between %v and %v, want %g", got, p, q, want)
		}
		var list []queued
		var wait queue
		for id := range int32(r.IntN(30)) {
			list = append(list, queued{float64(r.IntN(4)), id})
		}
		for _, i := range r.Perm(len(list)) {
			wait.push(list[i])
		}
		slices.SortStableFunc(list, func(a, b queued) int { return int(a.key - b.key) })
		for _, want := range list {
			if got := wait.pop(); got != want {
				t.Fatalf("left %v, want %v", got, want)
			}
		}
	}
}
