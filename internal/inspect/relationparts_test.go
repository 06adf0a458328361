package inspect

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// The first point of a trace may lie where other ways begin that may be its own; along a trace lie its
// points, the middles of its ways, and those of every way it may take.
func TestPlacesOfATrace(t *testing.T) {
	site := func(x float64) mesh.Site { return mesh.Site{Face: int(x), At: geom.Vec{x, 0, 0}} }
	path := func(a, b float64) mesh.Path {
		return mesh.Path{Points: []geom.Vec{{a, 0, 0}, {b, 0, 0}}, Faces: []int{int(a)}}
	}
	tr := &trace{sites: []mesh.Site{site(10), site(20)}, raw: []mesh.Path{path(10, 20)}, detours: []detour{
		{ends: [2]bool{true, false}, sites: []mesh.Site{site(1), site(5)}, ways: []mesh.Path{path(1, 5)}},
		{ends: [2]bool{false, true}, sites: []mesh.Site{site(30), site(40)}, ways: []mesh.Path{path(30, 40)}}}}
	xs := func(sites []mesh.Site) (out []float64) {
		for _, s := range sites {
			out = append(out, s.At[0])
		}
		return out
	}
	if got := xs(tr.firstSites()); !slices.Equal(got, []float64{10, 1}) {
		t.Errorf("first %v", got)
	}
	if got := xs(tr.rawSites()); !slices.Equal(got, []float64{10, 20, 15, 1, 5, 3, 30, 40, 35}) {
		t.Errorf("along it %v", got)
	}
	for _, c := range []struct{ at, x, d float64 }{{9, 10, 1}, {13, 13, 0}, {25, 20, 5}} {
		if q, face, d := tr.nearestTo(geom.Vec{c.at, 0, 0}); q[0] != c.x || d != c.d || face != 10 {
			t.Errorf("nearest to %g: %v on %d, %g mm", c.at, q, face, d)
		}
	}
}

// What is said of two findings counts where the mesh bears it out. A wall of 4 mm, whose faces are 4 mm
// apart: the other face lies behind within two walls, less twice the uncertainty of both; what is said
// of something else, or of itself, is told, and what was said not to go through is not known then.
func TestOtherFacesAreBorneOut(t *testing.T) {
	const apartText = "neither lies all behind the other"
	for _, c := range []struct {
		name   string
		change func(*bench)
		why    string // empty: it is
	}{
		{"it is", func(*bench) {}, ""},
		{"of itself", func(b *bench) { b.job.Findings[1].SameAs = "F2" }, "they are not two cracks on one casting"},
		{"of one that is not there", func(b *bench) { b.job.Findings[1].SameAs = "F9" }, "they are not two cracks on one casting"},
		{"of a dent", func(b *bench) { b.job.Findings[0].Kind = "dent" }, "they are not two cracks on one casting"},
		{"a dent", func(b *bench) { b.job.Findings[1].Kind = "dent" }, "they are not two cracks on one casting"},
		{"a break", func(b *bench) { b.job.Findings[1].Kind = "break" }, ""},
		{"on another part", func(b *bench) { b.job.Findings[0].Part = "Q" }, "they are not two cracks on one casting"},
		{"of one without a place", func(b *bench) { b.job.Findings[0].Trace = nil }, "it is not known where both lie"},
		{"on the same face", func(b *bench) { b.job.Findings[1].Trace = []geom.Vec{{20, 52, 0}, {50, 52, 0}} }, "they do not lie on the two faces of one wall"},
		{"too far along", func(b *bench) { b.job.Findings[1].Trace = []geom.Vec{{60, 50, -4}, {90, 50, -4}} }, apartText},
		{"too uncertain", func(b *bench) { b.job.Findings[1].Std = 2.1 }, apartText}, // 2 x 4 mm less twice 2.1 mm and a little is under 4 mm
		{"just certain enough", func(b *bench) { b.job.Findings[1].Std = 1.9 }, ""},
		{"shorter", func(b *bench) { b.job.Findings[1].Trace = []geom.Vec{{30, 50, -4}, {40, 50, -4}} }, ""},
		{"longer at one end", func(b *bench) { b.job.Findings[1].Trace = []geom.Vec{{20, 50, -4}, {80, 50, -4}} }, ""},
		{"longer at both, the other way", func(b *bench) { b.job.Findings[1].Trace = []geom.Vec{{70, 50, -4}, {10, 50, -4}} }, ""},
	} {
		b := newBench(slab(4))
		b.body.Castings[0].Wall = 4
		b.crack("F1", 0.1, geom.Vec{20, 50, 0}, geom.Vec{50, 50, 0}).Through = "no"
		f := b.crack("F2", 0.1, geom.Vec{20, 50, -4}, geom.Vec{50, 50, -4})
		f.SameAs, f.Through = "F1", "no"
		c.change(b)
		r, notes := Run(b.input(t))
		n := has(notes, "inspect.other-face", "F2")
		two := find(t, r, "F2")
		if (n == nil) != (c.why == "") || n != nil && !strings.Contains(n.Text, c.why) || two.NoFace != (c.why != "") {
			t.Errorf("%s: %+v, no face %v", c.name, n, two.NoFace)
		}
		one := find(t, r, "F1")
		if c.why == "" && (one.Through != "yes" || two.Through != "yes") || c.why != "" && two.Through != "unknown" {
			t.Errorf("%s: through %s and %s", c.name, one.Through, two.Through)
		}
	}
}

// One that is not borne out leaves the next as it is: of faces, and of branches.
func TestWhatIsNotBorneOutStopsNothing(t *testing.T) {
	b := newBench(slab(4))
	b.body.Castings[0].Wall = 4
	b.crack("F1", 0.1, geom.Vec{20, 50, 0}, geom.Vec{50, 50, 0})
	b.crack("F2", 0.1, geom.Vec{20, 80, 0}, geom.Vec{50, 80, 0}).SameAs = "F9"
	b.crack("F3", 0.1, geom.Vec{20, 50, -4}, geom.Vec{50, 50, -4}).SameAs = "F1"
	for id, y := range map[job.FindingID]float64{"F4": 20, "F5": 50} {
		f := b.crack(id, 0.1, geom.Vec{40, y, 0}, geom.Vec{40, y + 8, 0})
		f.BranchOf, f.Tips = "F1", []body.TipMethod{"penetrant"}
	}
	slices.SortFunc(b.job.Findings, func(a, c job.Finding) int { return strings.Compare(string(a.ID), string(c.ID)) })
	r, notes := Run(b.input(t))
	for id, want := range map[job.FindingID]string{"F2": "inspect.other-face", "F3": "", "F4": "inspect.branch-apart", "F5": ""} {
		told := has(notes, "inspect.other-face", string(id)) != nil || has(notes, "inspect.branch-apart", string(id)) != nil
		if told != (want != "") || want != "" && has(notes, want, string(id)) == nil {
			t.Errorf("%s: told %v, want %q", id, told, want)
		}
	}
	if f := find(t, r, "F3"); f.NoFace || !find(t, r, "F5").Fork || find(t, r, "F4").Fork {
		t.Errorf("%+v", f)
	}
}

// A branch begins at the crack it forks off, within two walls along the surface less twice the
// uncertainty of both; its fork is no tip. Walls are 5 mm, traces are known to 0.5 mm: 10 less 1.4 mm.
func TestForksAreBorneOut(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*bench)
		why    string
	}{
		{"it is", func(*bench) {}, ""},
		{"near enough", func(b *bench) { b.job.Findings[1].Trace[0][1] = 58.5 }, ""},
		{"too far", func(b *bench) { b.job.Findings[1].Trace[0][1] = 58.7 }, "its first point is 8.7 mm from it along the surface, at most 8.6 mm with the uncertainty of the traces"},
		{"known too badly", func(b *bench) { // 10 less 11.3 mm: none is near enough
			b.job.Findings[0].Std, b.job.Findings[1].Std, b.job.Findings[1].Trace[0][1] = 4, 4, 55
		}, "its first point is 5.0 mm from it along the surface, at most 0.0 mm with the uncertainty of the traces"},
		{"with two tips", func(b *bench) { b.job.Findings[1].Tips = []body.TipMethod{"penetrant", "penetrant"} }, "a branch has one tip, its last point"},
		{"without tips", func(b *bench) { b.job.Findings[1].Tips = nil }, "a branch has one tip, its last point"},
		{"of itself", func(b *bench) { b.job.Findings[1].BranchOf = "F2" }, "they are not two cracks on one casting whose places are known"},
		{"of one that is not there", func(b *bench) { b.job.Findings[1].BranchOf = "F9" }, "they are not two cracks on one casting whose places are known"},
		{"of one without a place", func(b *bench) { b.job.Findings[0].Trace = nil }, "they are not two cracks on one casting whose places are known"},
		{"without a place", func(b *bench) { b.job.Findings[1].Trace = nil }, "they are not two cracks on one casting whose places are known"},
	} {
		b := newBench(plate())
		b.crack("F1", 0.5, geom.Vec{20, 50, 0}, geom.Vec{80, 50, 0})
		f := b.crack("F2", 0.5, geom.Vec{50, 50, 0}, geom.Vec{50, 80, 0})
		f.BranchOf, f.Tips = "F1", []body.TipMethod{"penetrant"}
		c.change(b)
		r, notes := Run(b.input(t))
		n := has(notes, "inspect.branch-apart", "F2")
		if two := find(t, r, "F2"); (n == nil) != (c.why == "") || n != nil && !strings.Contains(n.Text, c.why) || two.Fork != (c.why == "") {
			t.Errorf("%s: %+v, fork %v", c.name, n, two.Fork)
		}
	}
}

// Where one area is not inspected it is named, and the next finding may lie there: from the finding
// itself in its own zone, else from the border on.
func TestWhatMayLieWhereNobodyLooked(t *testing.T) {
	for _, c := range []struct {
		open string
		want []Element // those that may be
	}{
		{"A", []Element{{To: "area 1, which is not inspected", MM: 0}}}, {"B", []Element{{To: "area 2, which is not inspected", MM: 60}}}, {"", nil},
		{"A B", []Element{{To: "area 1, which is not inspected", MM: 0}, {To: "area 2, which is not inspected", MM: 60}}},
	} {
		b := newBench(plate())
		b.body.Inspect = []body.Area{{ID: "1", Casting: "C", Zone: "A", Method: "visual", Finds: 3}, {ID: "2", Casting: "C", Zone: "B", Method: "visual", Finds: 3}}
		for i, z := range []string{"A", "B"} {
			if !strings.Contains(c.open, z) {
				b.job.Areas = append(b.job.Areas, job.AreaSeen{Area: []string{"1", "2"}[i], State: "seen", Look: "VT", By: "T", On: benchDay})
			}
		}
		b.crack("F", 0.1, geom.Vec{30, 30, 0}, geom.Vec{40, 30, 0})
		f := firstOf(t, b)
		var got []Element
		for _, e := range f.Spacing.Of {
			if e.Maybe {
				got = append(got, e)
			}
		}
		ok := len(got) == len(c.want)
		for i := range c.want {
			ok = ok && got[i].To == c.want[i].To && math.Abs(got[i].MM-c.want[i].MM) < 1e-9
		}
		told := slices.ContainsFunc(f.Because, func(s string) bool { return strings.Contains(s, "nobody has looked: area ") })
		if !ok || told != (c.open != "") {
			t.Errorf("open %q: %+v, told %v", c.open, got, told)
		}
	}
}

// A section line that cannot be judged says why, and nothing is outboard of it: one whose plane has no
// direction, or whose curve does not divide the casting. One of another casting is none of its.
func TestLinesThatCannotBeJudged(t *testing.T) {
	for _, c := range []struct {
		name string
		line body.Line
		why  string
	}{
		{"a plane", body.Line{Normal: geom.Vec{1, 0, 0}, Offset: 150, Margin: 10}, ""},
		{"no direction", body.Line{Offset: 150, Margin: 10}, "a plane of it has no direction"},
		{"a curve that does not divide", body.Line{Curve: []geom.Vec{{100, 20, 0}, {100, 60, 0}}, Margin: 10}, "section line L: "},
		{"not there", body.Line{Normal: geom.Vec{1, 0, 0}, Offset: 150, Within: body.Box{Min: geom.Vec{0, 90, -1}, Max: geom.Vec{200, 100, 1}}}, "section line L does not reach there"},
	} {
		b := newBench(plate())
		c.line.ID, c.line.Casting = "L", "C"
		other := c.line
		other.ID, other.Casting = "M", "D"
		b.body.Lines = []body.Line{c.line, other}
		b.crack("F", 0.1, geom.Vec{30, 30, 0}, geom.Vec{40, 30, 0})
		f := firstOf(t, b)
		told := slices.ContainsFunc(f.Because, func(s string) bool { return strings.Contains(s, c.why) })
		if len(f.Sides) != 1 || f.Sides[0].Outboard != (c.why == "") || f.Sides[0].Reaches != (c.why == "") || !told {
			t.Errorf("%s: %+v, %q", c.name, f.Sides, f.Because)
		}
	}
}

// A bore lies in the zone of its rim, whichever way it goes; one whose direction nobody knows by its
// centre. The border is at x = 100 mm, the rim 5 mm from the centre.
func TestBoresLieWhereTheirRimsDo(t *testing.T) {
	for _, c := range []struct {
		axis geom.Vec
		at   geom.Vec
		want string
	}{
		{geom.Vec{0, 0, 1}, geom.Vec{150, 50, 0}, "B"}, {geom.Vec{0, 0, 2}, geom.Vec{50, 50, 0}, "A"}, {geom.Vec{}, geom.Vec{150, 50, 0}, "B"}, {geom.Vec{0, 0, 1}, geom.Vec{150, 50, 90}, ""},
		{geom.Vec{0, 0, 1}, geom.Vec{97, 50, 0}, "A"}, {geom.Vec{0, 0, 1}, geom.Vec{103, 50, 0}, "B"}, // looked at square to x
		{geom.Vec{1, 0, 0}, geom.Vec{50, 50, -5}, "A"}, {geom.Vec{10, 0.5, 0}, geom.Vec{50, 50, -5}, "A"}, {geom.Vec{0, 1, 0}, geom.Vec{50, 50, 5}, "A"},
	} {
		b := newBench(plate())
		b.body.Castings[0].Bores = []body.Bore{{ID: "h", At: c.at, Axis: c.axis, Radius: 5}}
		rn := &run{in: b.input(t)}
		rn.prepare()
		var got []string
		for _, z := range b.body.Castings[0].Zones {
			for _, at := range rn.boresIn(&rn.places[0], z) {
				got = append(got, string(z.ID))
				if d := at.Sub(c.at); math.Abs(d.Norm()-5) > 1e-12 && c.axis != (geom.Vec{}) || math.Abs(d.Dot(c.axis)) > 1e-12 {
					t.Errorf("at %v along %v: %v is not on the rim", c.at, c.axis, at)
				}
			}
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("at %v along %v: in %v, want %q", c.at, c.axis, got, c.want)
		}
	}
}

// Places where ways may cross the edges of the mesh: of every edge that is no farther from the two
// places together than a way may be long, both its ends and places evenly between, a quarter of a wall
// apart or less; two parts at least, and thirty-two at most. Against every two points of a face.
func TestPlacesOnEdges(t *testing.T) {
	b := newBench(slab(5))
	rn := &run{in: b.input(t)}
	rn.prepare()
	m := rn.places[0].Surface.Mesh()
	a, c := geom.Vec{60, 40, 0}, geom.Vec{70, 44, 0}
	from := func(x, p, q geom.Vec) float64 { // distance of a point from a segment
		d := q.Sub(p)
		s := min(1, max(0, x.Sub(p).Dot(d)/d.Dot(d)))
		return x.Dist(p.Lerp(q, s))
	}
	kept, left := 0, 0
	for _, wall := range []float64{0.5, 5, 400} {
		of := *rn.places[0].Of
		of.Wall = unit.MM(wall)
		tr := &trace{at: &place{Casting: vehicle.Alone(&of, rn.places[0].Surface)}}
		for _, most := range []float64{11, 40, 1000} {
			want := map[[2]geom.Vec]bool{}
			for _, f := range m.Faces {
				for k := range 3 {
					u, v := f[k], f[(k+1)%3]
					if p, q := m.Points[u], m.Points[v]; u < v && from(a, p, q)+from(c, p, q) <= most {
						want[[2]geom.Vec{p, q}] = true
					} else if u < v {
						left++
					}
				}
			}
			got := tr.edgesBetween(a, c, most)
			if len(got) != len(want) {
				t.Fatalf("wall %g, ways of %g mm: %d edges, want %d", wall, most, len(got), len(want))
			}
			for _, e := range got {
				p, q := e[0].At, e[len(e)-1].At
				n := min(32, max(2, int(math.Ceil(p.Dist(q)/(0.25*max(1, wall))))))
				if !want[[2]geom.Vec{p, q}] || len(e) != n+1 {
					t.Fatalf("wall %g: from %v to %v in %d parts, want %d", wall, p, q, len(e)-1, n)
				}
				for i, s := range e {
					if s.At.Dist(p.Lerp(q, float64(i)/float64(n))) > 1e-9 {
						t.Fatalf("place %d of an edge from %v to %v is at %v", i, p, q, s.At)
					}
				}
				kept++
			}
		}
	}
	if kept < 100 || left < 100 {
		t.Errorf("%d edges, %d left out", kept, left)
	}
}
