package vehicle

import (
	"math"
	"slices"
	"testing"
	"unsafe"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/picture"
)

// What is worked out at once is all that jobs ask for: nothing is left to the first of them, and a
// casting with named edges is not looked at for the ends of its walls.
func TestReadyLeavesNothingToTheFirstJob(t *testing.T) {
	for _, named := range []bool{true, false} {
		b := slabBody()
		if !named {
			b.Castings[0].Edges = nil
		}
		b.Lines = append(b.Lines, body.Line{ID: "elsewhere", Casting: "D", Normal: geom.Vec{1, 0, 0}, Offset: 50})
		v := New(b, map[body.CastingID]*mesh.Surface{"C": surfaceOf(t, slab(10))})
		c := v.Castings[0]
		if _, ok := c.view.Found(); ok || c.bytes() != c.Surface.Bytes() {
			t.Error("it is ready before it is asked")
		}
		v.Ready()
		_, view := c.view.Found()
		_, regions := c.regions.Found()
		_, edges := c.edges.Found()
		_, ends := c.ends.Found()
		_, joints := c.joints.Found()
		_, feet := c.feet.Found()
		_, seams := c.seams.Found()
		_, numbers := c.numbers.Found()
		if !view || !regions || !edges || ends == named || !joints || !feet || !seams || !numbers {
			t.Errorf("named edges %v: %v %v %v %v %v %v %v %v", named, view, regions, edges, ends, joints, feet, seams, numbers)
		}
		if _, ok := c.rims[0].lines.Found(); !ok || len(c.rims) != 1 || len(c.lines) != 2 {
			t.Errorf("%d rims and %d lines", len(c.rims), len(c.lines))
		}
		for _, l := range c.lines {
			if x, ok := l.of.Found(); !ok || x.parted == nil || l.line.Casting != "C" {
				t.Errorf("line %s is not cut", l.line.ID)
			}
		}
	}
}

// room is what some slices take.
func room[T any](lists ...[]T) (n int) {
	for _, l := range lists {
		var one T
		n += cap(l) * int(unsafe.Sizeof(one))
	}
	return n
}

func targetsRoom(targets []Target) int {
	n := room(targets)
	for _, t := range targets {
		n += linesRoom(t.Lines())
		var at [][]geom.Vec
		for _, l := range t.Lines() {
			at = append(at, placesOf(l))
		}
		n += geom.NewLines(at).Bytes()
	}
	return n
}

func linesRoom(lines [][]mesh.Site) int { return room(lines) + room(lines...) }

// The stated size grows by what each question leaves behind, counted slice by slice.
func TestSizeGrowsByWhatIsKept(t *testing.T) {
	b := slabBody()
	c := New(b, map[body.CastingID]*mesh.Surface{"C": surfaceOf(t, slab(10))}).Castings[0]
	c.Surface.SidesDoubt()
	c.Surface.Gaps()
	c.Seams()
	grows := func(name string, ask func(), kept func() int) {
		t.Helper()
		surface, before := c.Surface.Bytes(), c.bytes()
		ask()
		if got, want := c.bytes()-before-(c.Surface.Bytes()-surface), kept(); got != want || want == 0 {
			t.Errorf("%s: it grows by %d, want %d", name, got, want)
		}
	}
	grows("numbers", func() { c.numbered() }, func() int { of, _ := c.numbered(); return room(of) })
	grows("borders", func() { c.Borders() }, func() int {
		n := room(c.outlook().edges)
		for _, x := range c.Borders() {
			n += x.Edges.Bytes()
		}
		return n
	})
	grows("regions", func() { c.Region(body.Zone{}) }, func() (n int) {
		for _, z := range b.Castings[0].Zones {
			r := c.Region(z)
			n += room(r.Points) + r.Near.Bytes()
		}
		return n
	})
	asked := c.asked.keptBytes()
	grows("edges", func() { c.FreeEdges() }, func() int { return targetsRoom(c.FreeEdges().Targets) + c.asked.keptBytes() - asked })
	asked = c.asked.keptBytes()
	grows("joints", func() { c.Joints() }, func() int { return targetsRoom(c.Joints().Targets) + c.asked.keptBytes() - asked })
	grows("a rim", func() { c.rim(b.Castings[0].Bores[0]) }, func() int { return linesRoom(c.rim(b.Castings[0].Bores[0])) })
	cut := body.Line{ID: "U", Casting: "C", Normal: geom.Vec{1, 0, 0}, Offset: 123} // through faces
	grows("a line", func() { _, _ = c.Part(cut) }, func() int {
		p, err := c.Part(cut)
		if err != nil || len(p.children) < 20 {
			t.Fatalf("%d faces are cut, %v", len(p.children), err)
		}
		s := &p.Section
		n := s.Split.Mesh.Bytes() + room(s.Split.Parent, s.Rest.Faces, s.Outer.Faces) + room(p.outer) + p.cut.Bytes()
		for _, above := range s.Split.Above {
			n += room(above)
		}
		for _, l := range s.Loops {
			n += room(l.Points)
		}
		return n + 56*len(p.children) // two faces, and three halves of an entry of a map
	})
	for name, m := range map[string]*mesh.Mesh{"tee": blocks(false, tee()...), "thin": slab(2.5)} {
		if c = alone(t, m); name == "thin" {
			c.Of.Wall = 5
			grows("ends", func() { c.WallEnds() }, func() int { return targetsRoom(c.WallEnds().Targets) + 16*len(c.WallEnds().On) })
			continue
		}
		c.numbered()
		c.Surface.SidesDoubt()
		grows("feet", func() { c.RibFeet() }, func() (n int) {
			for _, f := range c.RibFeet().By {
				n += room(f.Points)
			}
			return n
		})
	}
	if (*Parted)(nil).bytes() != 0 || (&Casting{worked: &worked{}}).bytes() != 0 {
		t.Error("nothing has a size")
	}
	v := New(b, map[body.CastingID]*mesh.Surface{"C": surfaceOf(t, slab(10))})
	above := fromAbove.Around(v.Castings[0].Surface.Mesh().Points, 10, 60, 60)
	before := v.Bytes()
	if seen := v.Album.Seen(v.Castings[0].Surface.Mesh(), above); v.Bytes()-before != seen.Bytes() || v.Album.Bytes() != seen.Bytes() {
		t.Errorf("with a picture it grows by %d, want %d", v.Bytes()-before, seen.Bytes())
	}
}

// Without an album, a vehicle or a mesh questions have answers all the same, and nothing is kept.
func TestNothingIsKeptOfNone(t *testing.T) {
	m := slab(10)
	above := fromAbove.Around(m.Points, 10, 60, 60)
	var none *Album
	first, second := none.Seen(m, above), none.Seen(m, above)
	if first == nil || first == second {
		t.Error("what no album keeps is kept")
	}
	a := &Album{}
	other := above
	other.Name = "named" // the same view by another name
	if a.Seen(m, above) != a.Seen(m, other) || len(a.own.spare) != 1 {
		t.Errorf("%d places to draw in are spare", len(a.own.spare))
	}
	px := a.own.spare[0]
	side := above
	side.Left--
	if a.Seen(m, side); len(a.own.spare) != 1 || a.own.spare[0] != px {
		t.Error("what was drawn in is not drawn in again")
	}
	if got := a.sheets().take(); got != px || len(a.own.spare) != 0 {
		t.Error("the room taken is another")
	}
	a.sheets().keep(sheet{key: sheetKey{of: m, c: side}}, &picture.Pixels{}) // by somebody else meanwhile: it is kept once
	if len(a.own.kept) != 2 || a.own.bytes != a.own.kept[0].bytes()+a.own.kept[1].bytes() {
		t.Errorf("%d sheets of %d bytes", len(a.own.kept), a.own.bytes)
	}
	if b := a.while(nil); b.sheets() != a.sheets() || (*Album)(nil).while(nil).sheets() == nil {
		t.Error("an album for some work keeps elsewhere")
	}
	bare := Alone(&body.Casting{}, nil)
	if bare.Borders() != nil || bare.DiagonalMM() != 0 || bare.Region(body.Zone{}).Points != nil {
		t.Error("without a mesh there is something")
	}
	v := New(slabBody(), map[body.CastingID]*mesh.Surface{"C": surfaceOf(t, m)})
	if v.Surface("X") != nil || v.Surface("C") == nil {
		t.Error("a casting that is not there has a surface")
	}
	if _, err := v.Part(body.Line{Casting: "X"}); err == nil || err.Error() != "the mesh of casting X has not been read" {
		t.Errorf("%v", err)
	}
	b := slabBody()
	b.Joints = nil
	if v.For(&body.Body{Castings: v.body.Castings, Joints: v.body.Joints}) != v || v.For(&body.Body{Castings: v.body.Castings}) == v || v.For(b) == v {
		t.Error("the same castings and joints, and no others, are the same vehicle")
	}
	if w := v.For(&body.Body{Castings: v.body.Castings}); w.Surface("C").Mesh() != m {
		t.Error("the mesh is another")
	}
}

// Where so many free edges meet that not all are held against one another, the zone beside one may
// border every other; where all are known, the one across alone.
func TestSeamsThatAreNotKnown(t *testing.T) {
	for n, whole := range map[int]bool{12: true, 2000: false} {
		m := &mesh.Mesh{Points: []geom.Vec{{}}}
		for i := range n {
			s, c := math.Sincos(float64(i))
			p, q := math.Sincos(float64(i) + 0.3)
			m.Points = append(m.Points, geom.Vec{100 * c, 100 * s, float64(i)}, geom.Vec{100 * q, 100 * p, float64(i)})
			m.Faces = append(m.Faces, [3]int32{0, int32(2*i + 1), int32(2*i + 2)})
			m.Label = append(m.Label, int32(i%3))
		}
		c := alone(t, m)
		if c.Surface.Gaps().Whole != whole {
			t.Fatalf("%d faces: all looked at %v", n, !whole)
		}
		if got := c.oneOfEach(); !slices.Equal(got, []int{0, 1, 2}) {
			t.Errorf("the first of each label: %v", got)
		}
		pairs := map[[2]int32]int{}
		for _, e := range c.seamBorders() {
			if pairs[[2]int32{e.a, e.b}]++; e.a == e.b {
				t.Errorf("label %d borders itself", e.a)
			}
		}
		if want := len(c.Seams()); !whole && (len(pairs) != 6 || want != 3*n || pairs[[2]int32{0, 1}] != pairs[[2]int32{0, 2}] || pairs[[2]int32{1, 0}] < n-1) {
			t.Errorf("%d faces: %v, want each of the other two at every edge", n, pairs)
		}
	}
}
