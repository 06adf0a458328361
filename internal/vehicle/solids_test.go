package vehicle

import (
	"context"
	"errors"
	"math"
	"reflect"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// blocks is the closed surface of what is built of cubes of 10 mm, label 1 up to x = 30 mm
// and 2 beyond. Loose: the faces above z = 10 mm share no corner with those below, as of two
// patches that were never sewn together.
func blocks(loose bool, cubes ...[3]int) *mesh.Mesh {
	m := &mesh.Mesh{}
	filled := map[[3]int]bool{}
	for _, c := range cubes {
		filled[c] = true
	}
	type corner struct {
		p     geom.Vec
		above bool
	}
	known := map[corner]int32{}
	for _, c := range cubes {
		for axis := range 3 {
			for side := range 2 {
				next := c
				next[axis] += 2*side - 1
				if filled[next] {
					continue
				}
				u, v := (axis+1)%3, (axis+2)%3
				var quad [4]int32
				var mid geom.Vec
				at := [4]geom.Vec{}
				for i, d := range [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
					p := [3]int{c[0], c[1], c[2]}
					p[axis] += side
					p[u] += d[0]
					p[v] += d[1]
					at[i] = geom.Vec{float64(10 * p[0]), float64(10 * p[1]), float64(10 * p[2])}
					mid = mid.Add(at[i].Scale(0.25))
				}
				for i, p := range at {
					k := corner{p, loose && mid[2] > 10}
					if _, ok := known[k]; !ok {
						known[k] = int32(len(m.Points))
						m.Points = append(m.Points, p)
					}
					quad[i] = known[k]
				}
				if side == 0 {
					quad[1], quad[3] = quad[3], quad[1]
				}
				label := int32(1)
				if mid[0] > 30 {
					label = 2
				}
				m.Faces = append(m.Faces, [3]int32{quad[0], quad[1], quad[2]}, [3]int32{quad[0], quad[2], quad[3]})
				m.Label = append(m.Label, label, label)
			}
		}
	}
	return m
}

// tee is a plate of 60 x 50 x 10 mm with a rib 10 mm thick and 20 mm high across its middle,
// from x = 0 to 60 at y = 20 to 30.
func tee() (cubes [][3]int) {
	for x := range 6 {
		for y := range 5 {
			cubes = append(cubes, [3]int{x, y, 0})
		}
		cubes = append(cubes, [3]int{x, 2, 1}, [3]int{x, 2, 2})
	}
	return cubes
}

// turned is a mesh with some faces turned against their neighbours: nobody knows its sides.
func turned(m *mesh.Mesh) *mesh.Mesh {
	for f := range m.Faces {
		if f%3 == 0 {
			m.Faces[f][1], m.Faces[f][2] = m.Faces[f][2], m.Faces[f][1]
		}
	}
	return m
}

func alone(t *testing.T, m *mesh.Mesh) *Casting {
	t.Helper()
	return Alone(&body.Casting{ID: "C", Wall: 10, Zones: []body.Zone{{ID: "A", Label: 1}, {ID: "B", Label: 2}}}, surfaceOf(t, m))
}

// The lengths are read off the drawing of the tee: its rib stands on the plate along two lines
// of 60 mm, half of them in each zone; its ends are flush with the plate's, so no more. Every
// sharp edge: eight round the plate and the rib's foot and top, by their lengths.
func TestFeetOfARib(t *testing.T) {
	flat := alone(t, blocks(false, [3]int{0, 0, 0}, [3]int{1, 0, 0}))
	for _, c := range []struct {
		name string
		of   *Casting
		sure bool
		want map[int32]float64
		n    int // points of label 1
	}{
		{"a solid", alone(t, blocks(false, tee()...)), true, map[int32]float64{1: 60, 2: 60}, 6},
		{"of two patches", alone(t, blocks(true, tee()...)), true, map[int32]float64{1: 60, 2: 60}, 12},
		// on each half: foot 2x30, its inner corners are the same on all halves; the plate's
		// outline below 2x30+50, above 2x30+40, its four outer corners 2x10, of the rib the top
		// 2x30+10 and its ends 2x20
		{"with faces turned over", alone(t, turned(blocks(false, tee()...))), false, nil, 0},
		{"a bar", flat, true, map[int32]float64{}, 0},
	} {
		got := c.of.RibFeet()
		if got.Sure != c.sure {
			t.Errorf("%s: sure %v", c.name, got.Sure)
		}
		if c.want == nil {
			sum := 0.0
			for _, f := range got.By {
				sum += f.LengthMM
			}
			// feet 120; the plate's outline below 220, above 220 less the rib's two ends, its
			// corners 40; the rib's top 140, its upright edges 80
			if want := 120. + 220 + 200 + 40 + 140 + 80; math.Abs(sum-want) > 1e-9 {
				t.Errorf("%s: %g mm of sharp edges, want %g", c.name, sum, want)
			}
			continue
		}
		if len(got.By) != len(c.want) || len(got.By[1].Points) != c.n {
			t.Errorf("%s: feet in %d zones, %d points", c.name, len(got.By), len(got.By[1].Points))
		}
		for label, want := range c.want {
			if f := got.By[label]; math.Abs(f.LengthMM-want) > 1e-9 {
				t.Errorf("%s: the feet in zone %d are %g mm, want %g", c.name, label, f.LengthMM, want)
			}
			for _, p := range got.By[label].Points {
				if p[2] != 10 || p[1] != 20 && p[1] != 30 {
					t.Errorf("%s: a foot at %v", c.name, p)
				}
			}
		}
	}
	unlabelled := blocks(false, tee()...)
	unlabelled.Label = nil
	if f := alone(t, unlabelled).RibFeet(); math.Abs(f.By[0].LengthMM-120) > 1e-9 {
		t.Errorf("without labels the feet are %v", f.By)
	}
	loose := blocks(true, tee()...)
	loose.Label = nil
	if f := alone(t, loose).RibFeet(); math.Abs(f.By[0].LengthMM-120) > 1e-9 {
		t.Errorf("of two patches without labels the feet are %v", f.By)
	}
	if f := (&Casting{Of: flat.Of, worked: &worked{}}).RibFeet(); !f.Sure || len(f.By) != 0 {
		t.Error("without a mesh there are feet")
	}
}

// The border of the two zones goes once round the tee at x = 30: round the plate 50 mm below,
// two ends of 10, two times 20 above and the rib 20 + 10 + 20. Where the patches were not sewn
// together a zone borders across the seam as well.
func TestBordersOfTheTee(t *testing.T) {
	length := func(lines [][]mesh.Site) (sum float64) {
		for _, l := range lines {
			for i := 1; i < len(l); i++ {
				sum += l[i-1].At.Dist(l[i].At)
			}
		}
		return sum
	}
	c := alone(t, blocks(false, tee()...))
	all := c.BorderLines(func(a, b int32, p, q geom.Vec) bool {
		if a == b || p[0] != 30 || q[0] != 30 {
			t.Errorf("a border of %d and %d from %v to %v", a, b, p, q)
		}
		return true
	})
	if len(all) != 1 || math.Abs(length(all)-160) > 1e-9 || all[0][0].At != all[0][len(all[0])-1].At {
		t.Errorf("%d lines of %g mm, want one of 160 that closes", len(all), length(all))
	}
	below := c.BorderLines(func(_, _ int32, p, q geom.Vec) bool { return p[2] == 0 && q[2] == 0 })
	if len(below) != 1 || math.Abs(length(below)-50) > 1e-9 {
		t.Errorf("below: %d lines of %g mm, want one of 50", len(below), length(below))
	}
	if b := c.Borders(); len(b) != 1 || b[0].A != 1 || b[0].B != 2 || b[0].Edges.Nearer(1e9, geom.Vec{30, 0, 0}, geom.Vec{30, 50, 0}) != 0 || b[0].Edges.Nearer(1e9, geom.Vec{37, 5, 0}, geom.Vec{37, 5, 0}) != 7 {
		t.Errorf("%v", b)
	}
	if d, want := c.DiagonalMM(), math.Sqrt(60*60+50*50+30*30); math.Abs(d-want) > 1e-9 {
		t.Errorf("diagonal %g, want %g", d, want)
	}
	seamed := alone(t, blocks(true, tee()...))
	for _, e := range seamed.Seams() {
		if e.Ends[0][2] != 10 || e.Ends[1][2] != 10 {
			t.Errorf("a seam from %v to %v", e.Ends[0], e.Ends[1])
		}
	}
	three := blocks(true, tee()...)
	for f := range three.Faces { // the rib alone is a third zone
		if three.FaceNormal(f)[2] == 0 && three.Points[three.Faces[f][0]][2]+three.Points[three.Faces[f][1]][2]+three.Points[three.Faces[f][2]][2] > 30 {
			three.Label[f] = 3
		}
	}
	var pairs [][2]int32
	for _, b := range alone(t, three).Borders() {
		pairs = append(pairs, [2]int32{b.A, b.B})
	}
	if !slices.Equal(pairs, [][2]int32{{1, 2}, {1, 3}, {2, 3}}) {
		t.Errorf("zones that touch: %v", pairs)
	}
	if none := blocks(true, tee()...); true {
		none.Label = nil
		if b := alone(t, none).Borders(); len(b) != 0 {
			t.Errorf("without labels: %v", b)
		}
	}
}

// A way from the rib's side to the plate leads over the seam at its foot, 10 mm down and 5 mm
// out; without a seam no bound is known.
func TestOverSeams(t *testing.T) {
	at := func(c *Casting, p geom.Vec) []mesh.Site { s, _ := c.Surface.Closest(p); return []mesh.Site{s} }
	c := alone(t, blocks(true, tee()...))
	if d := c.OverSeams(at(c, geom.Vec{25, 20, 20}), at(c, geom.Vec{25, 15, 10})); math.Abs(d-15) > 1e-9 {
		t.Errorf("over the seam %g mm, want 15", d)
	}
	if d := c.OverSeams(at(c, geom.Vec{25, 20, 20}), at(c, geom.Vec{25, 25, 0})); d > 10+math.Hypot(5, 10)+1e-9 || d < 20 {
		t.Errorf("to below the plate %g mm", d)
	}
	whole := alone(t, blocks(false, tee()...))
	if d := whole.OverSeams(at(whole, geom.Vec{25, 20, 20}), at(whole, geom.Vec{25, 15, 10})); !math.IsInf(d, 1) {
		t.Errorf("without seams %g mm", d)
	}
}

// A block of 60 x 30 x 20 mm cut at x = 20, where less than that is taken off: the loop is
// 2 x (30 + 20), the saw goes half of it, a third goes.
func TestPartedBlock(t *testing.T) {
	var cubes [][3]int
	for x := range 6 {
		for y := range 3 {
			cubes = append(cubes, [3]int{x, y, 0}, [3]int{x, y, 1})
		}
	}
	c := alone(t, blocks(false, cubes...))
	plane := body.Line{ID: "S", Casting: "C", Normal: geom.Vec{1, 0, 0}, Offset: 23}
	curve := body.Line{ID: "R", Casting: "C", Curve: []geom.Vec{{23, 0, 0}, {23, 30, 0}, {23, 30, 20}, {23, 0, 20}}, TakenOff: geom.Vec{0, 15, 10}}
	for _, l := range []body.Line{plane, curve} {
		p, err := c.Part(l)
		if err != nil {
			t.Fatal(err)
		}
		share, ok := p.Share()
		if saw := p.SawMM(); math.Abs(saw-50) > 1e-6 || !ok || math.Abs(share-23./60) > 1e-6 {
			t.Errorf("%s: the saw goes %g mm, %g is taken off (%v)", l.ID, saw, share, ok)
		}
		for _, x := range []float64{0, 10, 22.9, 23.1, 24, 40, 60} { // in faces that are cut, and in whole ones
			for _, q := range []geom.Vec{{x, 7, 0}, {x, 21, 20}, {x, 0, 3}} {
				if got := p.Outboard(q); got != (x < 23) {
					t.Errorf("%s: %v outboard %v", l.ID, q, got)
				}
			}
		}
		if d := p.LineDistance(geom.Vec{30, 10, 0}, geom.Vec{50, 10, 0}); math.Abs(d-7) > 1e-6 {
			t.Errorf("%s: the line is %g mm away, want 7", l.ID, d)
		}
		if d := p.LineDistance(geom.Vec{23, 0, 5}, geom.Vec{23, 0, 6}); d > 1e-6 { // on the part of the loop that closes it
			t.Errorf("%s: the loop is %g mm from itself", l.ID, d)
		}
		if p.TakesOffAll(1) || p.TakesOffAll(2) || p.TakesOffAll(7) {
			t.Errorf("%s: a whole zone goes: %v %v %v", l.ID, p.TakesOffAll(1), p.TakesOffAll(2), p.TakesOffAll(7))
		}
	}
	plane.Offset = 41
	p, err := c.Part(plane)
	if err != nil || !p.TakesOffAll(1) || p.TakesOffAll(2) {
		t.Errorf("cut at 41 mm zone 1, which ends at 30, does not go alone: %v", err)
	}
	window := plane
	window.Offset, window.Within = 23, body.Box{Min: geom.Vec{0, -5, -5}, Max: geom.Vec{60, 15, 25}}
	half, err := c.Part(window)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := half.Share(); ok || half.Section.Divides {
		t.Error("a cut half through divides the block")
	}
	open := 0.0 // the loop does not close: each line of it is sawn once
	for _, l := range half.Section.Loops {
		open += l.LengthMM
	}
	// 20 mm down the side; above and below as far as faces lie in the window, whose diagonals
	// cross x = 23 at y = 13
	if math.Abs(half.SawMM()-open) > 1e-9 || math.Abs(open-46) > 1e-6 {
		t.Errorf("half through: %g mm are sawn of %g", half.SawMM(), open)
	}
	off := curve
	off.Curve = slices.Clone(curve.Curve)
	off.Curve[0] = geom.Vec{23, -5.3, -0.1}
	if _, err := c.Part(off); err == nil || err.Error() != "a point of the curve lies 5.3 mm off the surface (at most 5.0 mm)" {
		t.Errorf("a curve off the surface: %v", err)
	}
	off.Curve = slices.Clone(curve.Curve)
	off.Curve[0] = geom.Vec{23, -4.7, 0}
	if _, err := c.Part(off); err != nil {
		t.Errorf("a curve near the surface: %v", err)
	}
	off.TakenOff = geom.Vec{-5.02, 15, 10}
	if _, err := c.Part(off); err == nil || err.Error() != "the point of what is taken off lies 5.02 mm off the surface (at most 5.0 mm)" {
		t.Errorf("what is taken off lies elsewhere: %v", err)
	}
	off.TakenOff = geom.Vec{-4.9, 15, 10}
	if _, err := c.Part(off); err != nil {
		t.Errorf("what is taken off lies near: %v", err)
	}
	if _, err := c.Part(body.Line{ID: "none", Casting: "C"}); err == nil {
		t.Error("a line of nothing was cut")
	}
}

// A bore's line runs outside its rim by a twentieth of a millimetre and a fiftieth of the
// radius, on both faces of a plate 10 mm thick; a bore that lies elsewhere has none. Without
// an axis it may be a wall above or below its place.
func TestRimsOfBores(t *testing.T) {
	var cubes [][3]int
	for x := range 6 {
		for y := range 6 {
			cubes = append(cubes, [3]int{x, y, 0})
		}
	}
	c := alone(t, blocks(false, cubes...))
	for _, r := range []float64{4, 13} {
		b := body.Bore{ID: "H", At: geom.Vec{30, 30, 5}, Axis: geom.Vec{0, 0, 2}, Radius: unit.MM(r), Std: 0.3}
		want := r + 0.05 + 0.02*r
		lines := c.boreLines(b)
		if len(lines) != 2 {
			t.Fatalf("radius %g: %d lines, want one on each face", r, len(lines))
		}
		for _, l := range lines {
			round := 0.0
			for i, s := range l {
				if d := math.Hypot(s.At[0]-30, s.At[1]-30); math.Abs(d-want) > 1e-9 {
					t.Errorf("radius %g: %g mm from the axis, want %g", r, d, want)
				}
				if i > 0 {
					round += l[i-1].At.Dist(s.At)
				}
			}
			if l[0].At != l[len(l)-1].At || math.Abs(round-2*math.Pi*want) > 0.02*round {
				t.Errorf("radius %g: a line of %g mm, want it closed and about %g", r, round, 2*math.Pi*want)
			}
		}
		if got := rimApart(b, 10, geom.Vec{30, 30 + r + 7, 40}, geom.Vec{30, 30 + r + 7, 41}); math.Abs(got-(math.Hypot(r+7, 5)-r)) > 1e-9 { // the axis ends three walls above
			t.Errorf("radius %g: %g mm from the rim", r, got)
		}
		if got := rimApart(b, 10, geom.Vec{30, 30, 5}, geom.Vec{31, 30, 5}); got != 0 {
			t.Errorf("inside the bore %g mm from it", got)
		}
		b.Axis = geom.Vec{}
		if got := rimApart(b, 10, geom.Vec{30, 80, 5}, geom.Vec{30, 90, 5}); math.Abs(got-(50-math.Hypot(r, 10))) > 1e-9 {
			t.Errorf("radius %g without an axis: %g mm", r, got)
		}
		if got := rimApart(b, 10, geom.Vec{30, 31, 5}, geom.Vec{30, 32, 5}); got != 0 {
			t.Errorf("radius %g without an axis: %g mm inside", r, got)
		}
		ball := math.Hypot(r, 10) + 0.05 + 0.02*r // where it meets the faces, 5 mm from its place
		for _, l := range c.boreLines(b) {
			for _, s := range l {
				if d := s.At.Dist(b.At); math.Abs(d-ball) > 1e-9 {
					t.Errorf("radius %g without an axis: the line is %g mm from the place, want %g", r, d, ball)
				}
			}
		}
		b.At = geom.Vec{30, 30, 105}
		if lines := c.boreLines(b); len(lines) != 0 {
			t.Errorf("radius %g: a bore 100 mm away has %d lines", r, len(lines))
		}
		c.Of.Bores = append(c.Of.Bores, body.Bore{ID: "N", At: geom.Vec{30, 30, 5}, Axis: geom.Vec{0, 0, 1}, Radius: unit.MM(r), Std: unit.MM(-1)}, body.Bore{ID: "P", At: geom.Vec{30, 30, 5}, Axis: geom.Vec{0, 0, 1}, Radius: unit.MM(r), Std: 0.3})
	}
	for i, x := range c.Bores() {
		if want := []float64{0, 0.3}[i%2]; x.Std != want {
			t.Errorf("bore %d: standard uncertainty %g, want %g", i, x.Std, want)
		}
		if d := x.Bound(5, geom.Vec{30, 55, 0}, geom.Vec{30, 60, 0}); d != 5 {
			t.Errorf("bore %d: %g mm, farther than the 5 that are known", i, d)
		}
	}
}

// Lines of the body are laid on both sides of the wall, broken where the surface does not
// lead on, and named where they do not lie on it.
func TestLinesAreLaidOnBothSides(t *testing.T) {
	var cubes [][3]int
	for x := range 6 {
		for y := range 6 {
			if x != 3 { // two plates 10 mm apart
				cubes = append(cubes, [3]int{x, y, 0})
			}
		}
	}
	c := alone(t, blocks(false, cubes...))
	along := []geom.Vec{{3, 31, 10}, {27, 31, 10}}
	f := c.Lay([]string{"on", "over the gap", "none", "beside", "near"}, [][][]geom.Vec{{along}, {{{3, 31, 10}, {57, 31, 10}}}, nil, {along, {{3, 31, 21}, {9, 31, 21}}}, {{{3, 31, 19.9}, {9, 31, 19.9}}}}, []float64{1, 2, 3, 4, 5})
	if !slices.Equal(f.Missing, []string{"none (its place is not in the data)", "beside (its line does not lie on the casting)"}) {
		t.Errorf("%q", f.Missing)
	}
	if len(f.Targets) != 3 || f.Targets[0].Std != 1 || f.Targets[1].Std != 2 || f.Targets[2].Std != 5 {
		t.Fatalf("%+v", f.Targets)
	}
	on := f.Targets[0].Lines()
	// 24 mm in steps of at most 4: seven places on each side
	if len(on) != 2 || len(on[0]) != 7 || len(on[1]) != 7 || on[0][3].At != (geom.Vec{15, 31, 10}) || on[1][3].At != (geom.Vec{15, 31, 0}) {
		t.Errorf("%d lines: %v", len(on), on)
	}
	if over := f.Targets[1].Lines(); len(over) < 4 {
		t.Errorf("over the gap it is in %d pieces, want each side of each plate by itself", len(over))
	}
	if d := f.Targets[0].Bound(1e9, geom.Vec{15, 31, 17}, geom.Vec{15, 31, 18}); d != 7 {
		t.Errorf("%g mm away, want 7", d)
	}
	if got := denser([]geom.Vec{{0, 0, 0}, {8, 0, 0}, {8.1, 0, 0}}, 4); !slices.Equal(got, []geom.Vec{{0, 0, 0}, {4, 0, 0}, {8, 0, 0}, {8.1, 0, 0}}) {
		t.Errorf("%v", got)
	}
	if LineGateMM(body.Casting{Wall: 3}) != 5 || LineGateMM(body.Casting{Wall: 8}) != 8 {
		t.Error("the gate is the wall's thickness, 5 mm at least")
	}
}

// Segments in any order and direction come together to the lines they are of.
func TestChainsJoinWhatMeets(t *testing.T) {
	p := func(x float64) geom.Vec { return geom.Vec{x, 0, 0} }
	got := chains([][2]geom.Vec{{p(3), p(2)}, {p(9), p(10)}, {p(1), p(2)}, {p(4), p(3)}, {p(11), p(10)}, {p(0), p(1)}})
	want := [][]geom.Vec{{p(4), p(3), p(2), p(1), p(0)}, {p(9), p(10), p(11)}}
	for i := range got {
		if got[i][0] != want[i][0] {
			slices.Reverse(got[i])
		}
	}
	if len(got) != 2 || !slices.Equal(got[0], want[0]) || !slices.Equal(got[1], want[1]) {
		t.Errorf("%v", got)
	}
	ring := chains([][2]geom.Vec{{p(0), p(1)}, {p(2), p(1)}, {p(2), p(0)}})
	if len(ring) != 1 || len(ring[0]) != 4 || ring[0][0] != ring[0][3] {
		t.Errorf("a ring: %v", ring)
	}
}

// Edges and joints: of an open mesh its own, of a closed one those that are named.
func TestEdgesAndJointsAreNamedOrMissing(t *testing.T) {
	open := slab(10)
	open.Faces, open.Label = open.Faces[:len(open.Faces)-800], open.Label[:len(open.Label)-800] // without the last two sides
	for _, c := range []struct {
		name          string
		m             *mesh.Mesh
		edges         []body.Edge
		targets       int
		missing       []string
		firstTargetIs string
	}{
		{"closed", slab(10), nil, 0, []string{"this casting (its mesh is closed and the body names no edges)"}, ""},
		{"closed with one", slab(10), []body.Edge{{ID: "E", Along: []geom.Vec{{10, 0, 2}, {190, 0, 2}}}}, 1, nil, "E"},
		{"open", open, nil, 2, nil, "1 of the mesh"},
		{"open with one elsewhere", open, []body.Edge{{ID: "E", Along: []geom.Vec{{10, 0, 200}, {190, 0, 200}}}}, 2, []string{"E (its line does not lie on the casting)"}, "1 of the mesh"},
	} {
		x := alone(t, c.m)
		x.Of.Edges = c.edges
		f := x.FreeEdges()
		if len(f.Targets) != c.targets || !slices.Equal(f.Missing, c.missing) || len(f.Targets) > 0 && f.Targets[0].Name != c.firstTargetIs {
			t.Errorf("%s: %d edges, missing %q", c.name, len(f.Targets), f.Missing)
		}
	}
	b := slabBody()
	v := New(b, map[body.CastingID]*mesh.Surface{"C": surfaceOf(t, slab(10))})
	if f := v.Castings[0].Joints(); len(f.Targets) != 1 || f.Targets[0].Name != "J" || f.Missing != nil {
		t.Errorf("%+v", f)
	}
	b.Joints = nil
	v = New(b, map[body.CastingID]*mesh.Surface{"C": surfaceOf(t, slab(10))})
	if f := v.Castings[0].Joints(); !slices.Equal(f.Missing, []string{"any of them: the body names none"}) {
		t.Errorf("%q", f.Missing)
	}
}

// Of a line of n places pieces of 48 are made, each beginning where the one before ends.
func TestPiecesOfALongLine(t *testing.T) {
	c := alone(t, slab(10))
	for n, want := range map[int][]int{1: {1}, 2: {2}, 48: {48}, 49: {48, 2}, 95: {48, 48}, 96: {48, 48, 2}} {
		var line []geom.Vec
		for i := range n {
			line = append(line, geom.Vec{2 * float64(i), 50, 5})
		}
		var got []int
		var last geom.Vec
		for i, x := range c.pieces("e", line) {
			l := x.Lines()[0]
			if got = append(got, len(l)); i > 0 && l[0].At != last {
				t.Errorf("%d places: piece %d does not begin where the one before ends", n, i)
			}
			last = l[len(l)-1].At
		}
		if !slices.Equal(got, want) || last != line[n-1] {
			t.Errorf("%d places: pieces of %v, want %v", n, got, want)
		}
	}
	thin := alone(t, slab(2.5))
	thin.Of.Wall = 5
	ends := thin.WallEnds()
	if ends.Count == 0 || len(ends.On) == 0 || len(ends.Targets) == 0 || ends.Targets[0].Name != "1 found on the mesh" {
		t.Errorf("%d ends, %d faces, %d targets", ends.Count, len(ends.On), len(ends.Targets))
	}
	for f := range ends.On { // the rim of a slab: no end is on its two large faces
		if n := thin.Surface.Mesh().FaceNormal(int(f)); n[2] != 0 {
			t.Errorf("an end looks %v", n)
		}
	}
}

// Ways and distances are what the surface says, and are asked of it once.
func TestAskedSaysWhatTheSurfaceSays(t *testing.T) {
	c := alone(t, slab(10))
	at := func(x, y float64) mesh.Site { s, _ := c.Surface.Closest(geom.Vec{x, y, 5}); return s }
	a, b, far := at(20, 50), at(60, 50), at(180, 50)
	way, err := c.ShortestWay(a, b)
	clear, worse := c.Clearance([]mesh.Site{a, b}, []mesh.Site{far}, 10)
	dist, worst := c.DistancesTo(a, []mesh.Site{b, far}, 1000)
	if err := errors.Join(err, worse, worst); err != nil {
		t.Fatal(err)
	}
	if math.Abs(way.LengthMM-40) > 1e-6 || len(dist.Targets) != 2 {
		t.Errorf("a way of %g mm, %d distances", way.LengthMM, len(dist.Targets))
	}
	kept := c.asked.keptBytes()
	x := answer{path: way}
	y, z := answer{clearance: clear}, answer{distances: dist}
	if want := x.bytes() + y.bytes() + z.bytes(); kept != want {
		t.Errorf("%d bytes are kept, want %d", kept, want)
	}
	dist.Targets[0] = -1
	if again, err := c.DistancesTo(a, []mesh.Site{b, far}, 1000); err != nil || again.Targets[0] == -1 {
		t.Error("what one was given and changed is what the next is given")
	}
	if c.asked.keptBytes() != kept {
		t.Error("the same question was asked twice")
	}
	// three numbers for a point, one for a face, one for a target and for a number, and some room for the rest
	if n := (&answer{path: mesh.Path{Points: make([]geom.Vec, 100), Faces: make([]int, 7)}, distances: mesh.Distances{Targets: make([]float64, 5)}, numbers: make([]float64, 3)}).bytes(); n != 400+2400+56+40+24 {
		t.Errorf("%d bytes", n)
	}
}

// Stopped work leaves each question of a vehicle unanswered, for the next who asks: what is
// kept is never half made.
func TestStoppedQuestionsAreLeftToTheNext(t *testing.T) {
	b, surfaces := slabBody(), map[body.CastingID]*mesh.Surface{"C": surfaceOf(t, slab(5))}
	want, v := answers(New(b, surfaces)), New(b, surfaces)
	for name, ask := range map[string]func(v *Vehicle){
		"feet": func(v *Vehicle) { v.Castings[0].RibFeet() },
		"picture": func(v *Vehicle) {
			v.Album.Seen(v.Castings[0].Surface.Mesh(), fromAbove.Around(v.Castings[0].Surface.Mesh().Points, 10, 60, 60))
		},
		"way": func(v *Vehicle) {
			c := v.Castings[0]
			p, _ := c.Surface.Closest(geom.Vec{10, 10, 5})
			q, _ := c.Surface.Closest(geom.Vec{190, 90, 0})
			_, _ = c.ShortestWay(p, q)
		},
	} {
		ctx, cancel := context.WithCancel(t.Context())
		asked := false
		err := halt.Do(ctx, func(w *halt.Work) {
			mine := v.While(w)
			if mine.While(w) != mine {
				t.Errorf("%s: a vehicle of the same work is another", name)
			}
			cancel()
			ask(mine)
			asked = true
		})
		if asked || !errors.Is(err, context.Canceled) {
			t.Errorf("%s: answered after the stop, error %v", name, err)
		}
	}
	if got := answers(v); !reflect.DeepEqual(got, want) {
		t.Error("after a stop the vehicle says something else")
	}
	if (*Vehicle)(nil).While(nil) != nil {
		t.Error("no vehicle became one")
	}
}

// A casting without a mesh keeps none of the others from being made ready; and the room of a
// slice is its elements' size by how many there is room for.
func TestReadyGoesOnWithoutAMesh(t *testing.T) {
	b := slabBody()
	b.Castings = append([]body.Casting{{ID: "none"}}, b.Castings...)
	v := New(b, map[body.CastingID]*mesh.Surface{"C": surfaceOf(t, slab(10))})
	v.Ready()
	if len(v.Castings[1].lines) != 2 || len(v.Castings[1].rims) != 1 {
		t.Errorf("%d lines and %d rims are ready, want 2 and 1", len(v.Castings[1].lines), len(v.Castings[1].rims))
	}
	if n := bytesOf(make([]int32, 3, 5)); n != 20 {
		t.Errorf("%d bytes, want 5 times 4", n)
	}
}
