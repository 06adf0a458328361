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
	"fettle/internal/normal"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// A finding lies outboard of a line when what may break its margin, or lie outside of its box, is
// together no more than the confidence leaves: 2.5 % of each of two at 95 %. Quantiles of the normal
// distribution are those of tables.
func TestOutboardAddsUpWhatMayFail(t *testing.T) {
	z := 1.959964 // 2.5 % (tables)
	e := func(mm, std float64) Element { return Element{MM: mm, Std: std} }
	side := func(of, inside []Element) LineSide {
		return LineSide{Reaches: true, NeedMM: 10, Of: of, Inside: inside}
	}
	for _, c := range []struct {
		name       string
		confidence float64
		sides      []LineSide
		want       bool
	}{
		{"none", 0.95, nil, false},
		{"no margin known", 0.95, []LineSide{side(nil, nil)}, false},
		{"does not reach", 0.95, []LineSide{{Of: []Element{e(99, 1)}}}, false},
		{"one of two does not reach", 0.95, []LineSide{side([]Element{e(99, 1)}, nil), {Of: []Element{e(99, 1)}}}, false},
		{"exactly", 0.95, []LineSide{side([]Element{e(10, 0)}, nil)}, true},
		{"not exactly", 0.95, []LineSide{side([]Element{e(9.999, 0)}, nil)}, false},
		{"no number", 0.95, []LineSide{side([]Element{e(math.NaN(), 0)}, nil)}, false},
		{"surely", 0.95, []LineSide{side([]Element{e(10+1.6449, 1)}, nil)}, true}, // 5 % (tables)
		{"not surely", 0.95, []LineSide{side([]Element{e(10+1.6448, 1)}, nil)}, false},
		{"two together", 0.95, []LineSide{side([]Element{e(10+z+1e-5, 1), e(10+z+1e-5, 1)}, nil)}, true},
		{"two together, a little more", 0.95, []LineSide{side([]Element{e(10+z-1e-5, 1), e(10+z-1e-5, 1)}, nil)}, false},
		{"with the box", 0.95, []LineSide{side([]Element{e(10+z+1e-5, 1)}, []Element{e(z+1e-5, 1)})}, true},
		{"with the box, a little more", 0.95, []LineSide{side([]Element{e(10+z-1e-5, 1)}, []Element{e(z-1e-5, 1)})}, false},
		{"outside of the box", 0.95, []LineSide{side([]Element{e(99, 1)}, []Element{e(-1e-9, 0)})}, false},
		{"two findings", 0.95, []LineSide{side([]Element{e(10+z+1e-5, 1)}, nil), side([]Element{e(10+z+1e-5, 1)}, nil)}, true},
		{"two findings, a little more", 0.95, []LineSide{side([]Element{e(10+z-1e-5, 1)}, nil), side([]Element{e(10+z-1e-5, 1)}, nil)}, false},
		{"certainty of what is exact", 1, []LineSide{side([]Element{e(10, 0)}, []Element{e(0, 0)})}, true},
		{"certainty of what is not", 1, []LineSide{side([]Element{e(1e6, 1)}, nil)}, false},
		{"certainty in a box that is not", 1, []LineSide{side([]Element{e(10, 0)}, []Element{e(1e6, 1)})}, false},
	} {
		if got := Outboard(c.confidence, c.sides...); got != c.want {
			t.Errorf("%s: outboard %v", c.name, got)
		}
	}
}

// The elements of a clearance: the least, of equals the least certain; those that may break a limit
// that the least keeps; and what one thing is given in pieces counts once.
func TestElementsThatMayMatter(t *testing.T) {
	e := func(to string, mm, std float64, end int) Element { return Element{To: to, MM: mm, Std: std, end: end} }
	for _, c := range []struct {
		all  []Element
		want Element
	}{
		{[]Element{e("a", 3, 1, 0), e("b", 2, 1, 0)}, e("b", 2, 1, 0)}, {[]Element{e("a", 2, 1, 0), e("b", 2, 3, 0)}, e("b", 2, 3, 0)}, {[]Element{e("b", 2, 1, 0), e("a", 2, 1, 0)}, e("a", 2, 1, 0)},
	} {
		if got := leastElement(c.all); got != c.want {
			t.Errorf("%+v: %+v", c.all, got)
		}
	}
	for _, c := range []struct {
		e     Element
		least float64
		want  bool
	}{{e("", 5, 0, 0), 5, true}, {e("", 5, 0, 0), 4, false}, {e("", 12, 1, 0), 4, false}, {e("", 11.9, 1, 0), 4, true}, {e("", 3, 0, 0), 4, true}} {
		if got := c.e.mayMatter(c.least); got != c.want {
			t.Errorf("%+v above %g: %v", c.e, c.least, got)
		}
	}
	c := func(to string, mm, std float64, of ...Element) *Clearance {
		return &Clearance{To: to, MM: mm, Std: std, Of: of}
	}
	for _, x := range []struct {
		name string
		all  []*Clearance
		want Clearance
	}{
		{"one", []*Clearance{c("a", 5, 1, e("a", 5, 1, -1))}, Clearance{To: "a", MM: 5, Std: 1}},
		{"the nearer", []*Clearance{c("a", 5, 1, e("a", 5, 1, -1)), c("b", 4, 1, e("b", 4, 1, -1))}, Clearance{To: "b", MM: 4, Std: 1, Of: []Element{e("b", 4, 1, -1), e("a", 5, 1, -1)}}},
		{"as near, less certain", []*Clearance{c("a", 5, 1, e("a", 5, 1, -1)), c("b", 5, 2, e("b", 5, 2, -1))}, Clearance{To: "b", MM: 5, Std: 2, Of: []Element{e("b", 5, 2, -1), e("a", 5, 1, -1)}}},
		{"far off", []*Clearance{c("a", 5, 1, e("a", 5, 1, -1)), c("b", 13, 1, e("b", 13, 1, -1))}, Clearance{To: "a", MM: 5, Std: 1}},
		{"in pieces", []*Clearance{c("a", 5, 1, e("a", 5, 1, -1), e("a", 6, 3, 0)), c("a", 4, 1, e("a", 4, 1, -1), e("a", 7, 3, 0))}, Clearance{To: "a", MM: 4, Std: 1, Of: []Element{e("a", 4, 1, -1), e("a", 6, 3, 0)}}},
		{"in pieces as near, less certain", []*Clearance{c("a", 5, 1, e("a", 5, 1, -1), e("b", 6, 1, 0)), c("a", 5, 1, e("a", 5, 2, -1), e("b", 6, 0.5, 0))}, Clearance{To: "a", MM: 5, Std: 1, Of: []Element{e("a", 5, 2, -1), e("b", 6, 1, 0)}}},
		{"by their ends", []*Clearance{c("a", 5, 1, e("a", 5, 1, 1), e("a", 5, 1, 0))}, Clearance{To: "a", MM: 5, Std: 1, Of: []Element{e("a", 5, 1, 0), e("a", 5, 1, 1)}}},
	} {
		got := withElements(x.all)
		if got.To != x.want.To || got.MM != x.want.MM || got.Std != x.want.Std || !slices.Equal(got.Of, x.want.Of) {
			t.Errorf("%s: %+v, want %+v", x.name, *got, x.want)
		}
	}
	all := elements("a", []reach{{allowed: 4, end: -1}, {allowed: 2, ahead: 3, end: 1}}, 1)
	if len(all) != 2 || all[0] != e("a", 4, 1, -1) || all[1].To != "a" || all[1].MM != 2 || all[1].end != 1 || math.Abs(all[1].Std-2) > 1e-12 { // 3²/3 + 1
		t.Errorf("%+v", all)
	}
}

// A need lies in an interval above its lower end, its upper end included.
func TestNeedsOfAnInterval(t *testing.T) {
	for _, c := range []struct {
		needs  []float64
		ahead  float64
		lo, hi float64
		want   bool
	}{{nil, 0, 0, 9, false}, {[]float64{5}, 0, 5, 9, false}, {[]float64{5}, 0, 4.9, 9, true}, {[]float64{9}, 0, 5, 9, true}, {[]float64{9.1}, 0, 5, 9, false},
		{[]float64{3}, 2, 5, 9, false}, {[]float64{3}, 2.1, 5, 9, true}, {[]float64{1, 20, 7}, 0, 5, 9, true}, {[]float64{1, 20}, 0, 5, 9, false}} {
		if got := further(c.needs, c.ahead, span{lo: c.lo, hi: c.hi}); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
	if got := ahead([]float64{1, 2}, 3); !slices.Equal(got, []float64{4, 5}) {
		t.Errorf("%v", got)
	}
	if got := needs([]float64{1, 2}, 3, 4); !slices.Equal(got, []float64{8, 9}) {
		t.Errorf("%v", got)
	}
}

// Where two curves touch: as seen, then from each end that may run on, to all of the other and to its
// ends, with what lies ahead of both; allowances have the variance a²/3 each (JCGM 100:2008 4.3.7).
func TestContactsOfTwoCurves(t *testing.T) {
	a := &curve{line: line{[]geom.Vec{{0, 0, 0}, {10, 0, 0}}, []int{1}}}
	b := &curve{line: line{[]geom.Vec{{15, 0, 0}, {30, 0, 0}}, []int{2}}}
	type ends struct{ a, b int }
	for _, c := range []struct {
		a, b [2]float64
		want map[ends][3]float64 // straight, ahead, variance
	}{
		{[2]float64{0, 0}, [2]float64{0, 0}, map[ends][3]float64{{-1, -1}: {5, 0, 0}}},
		{[2]float64{0, 3}, [2]float64{0, 0}, map[ends][3]float64{{-1, -1}: {5, 0, 0}, {1, -1}: {5, 3, 3}}},
		{[2]float64{3, 0}, [2]float64{0, 6}, map[ends][3]float64{{-1, -1}: {5, 0, 0}, {0, -1}: {15, 3, 3}, {-1, 1}: {20, 6, 12}, {0, 1}: {30, 9, 15}}},
	} {
		a.ahead, b.ahead = c.a, c.b
		got := contacts(a, b)
		if len(got) != len(c.want) || got[0].endA != -1 || got[0].endB != -1 {
			t.Errorf("ahead %v and %v: %+v", c.a, c.b, got)
		}
		least := math.Inf(1)
		for _, x := range got {
			want, ok := c.want[ends{x.endA, x.endB}]
			if !ok || math.Abs(x.straight-want[0]) > 1e-12 || math.Abs(x.ahead-want[1]) > 1e-12 || math.Abs(x.aheadVar-want[2]) > 1e-12 {
				t.Errorf("ahead %v and %v: %+v, want %v", c.a, c.b, x, want)
			}
			least = min(least, want[0]-want[1])
		}
		if p := newPair(3, 4, &trace{curve: *a}, &trace{curve: *b}); p.i != 3 || p.j != 4 || math.Abs(p.least-least) > 1e-12 {
			t.Errorf("ahead %v and %v: least %g, want %g", c.a, c.b, p.least, least)
		}
	}
	x := touch(a, b, -1, -1)
	if x.a.at != (geom.Vec{10, 0, 0}) || x.b.at != (geom.Vec{15, 0, 0}) || x.a.face != 1 || x.b.face != 2 || x.a.end != 1 || x.b.end != 0 {
		t.Errorf("%+v", x)
	}
}

// Two cracks are told to lie on the two sides of one wall when they are no farther apart through it
// than one and a half walls, and the way along the surface is longer than three times that and four
// walls. The wall is 4 mm.
func TestTwoSidesOfOneWall(t *testing.T) {
	for _, c := range []struct {
		straight, seen float64
		want           bool
	}{{6, 40, true}, {6.01, 40, false}, {4, 28, false}, {4, 28.01, true}, {0, 16, false}, {0, 16.1, true}} {
		at := &place{Casting: &vehicle.Casting{Of: &body.Casting{Wall: 4}}}
		r := &run{found: []Finding{{ID: "F1"}, {ID: "F2"}}, traces: []*trace{{at: at}, {at: at}}}
		r.oppositeFaces(apart{i: 0, j: 1, straight: c.straight, seen: c.seen})
		if got := has(r.notes, "inspect.opposite-face", "F1") != nil; got != c.want || len(r.notes) > 1 {
			t.Errorf("%g mm apart, %g mm along the surface: told %v", c.straight, c.seen, got)
		}
	}
}

// The distance at which two cracks count as one: the gap of the procedure, or what its factors make
// of their lengths, 20 and 30 mm, and depths, 2 and 4 mm; a factor that is not given counts for
// nothing, and only what parts the wall joins. The sums by hand.
func TestDistanceAtWhichCracksAreOne(t *testing.T) {
	for _, c := range []struct {
		g    *body.Grouping
		want float64
	}{
		{nil, 5}, {&body.Grouping{}, 5}, {&body.Grouping{HalfSum: 1}, 25}, {&body.Grouping{Shorter: 1}, 20}, {&body.Grouping{Longer: 1}, 30}, {&body.Grouping{Deeper: 2}, 8},
		{&body.Grouping{Shorter: 0.1}, 5}, {&body.Grouping{HalfSum: 0.1, Shorter: 0.2, Longer: 0.3, Deeper: 0.5}, 17.5}, {&body.Grouping{HalfSum: -1, Longer: 1}, 30},
	} {
		rule := &body.Procedure{GroupGap: 5, Grouping: c.g}
		at := &place{Casting: &vehicle.Casting{Of: &body.Casting{ID: "C"}}, rule: rule}
		r := &run{found: []Finding{{Kind: "crack", Casting: "C"}, {Kind: "break", Casting: "C"}, {Kind: "dent", Casting: "C"}, {Kind: "torn", Casting: "C"}}, places: []place{*at}}
		for range r.found {
			r.traces = append(r.traces, &trace{at: at})
		}
		x, y := size{20, 4}, size{30, 2}
		near(t, "limit", r.joinLimit(0, 1, x, y), c.want, 1e-8)
		near(t, "the other way round", r.joinLimit(1, 0, y, x), c.want, 1e-8)
		near(t, "with a torn mount", r.joinLimit(0, 3, x, y), c.want, 1e-8)
		if r.joinLimit(0, 1, x, y) <= c.want {
			t.Error("the bound is not inclusive")
		}
		for _, p := range [][2]int{{0, 2}, {2, 0}, {2, 2}} {
			if got := r.joinLimit(p[0], p[1], x, y); got != math.Inf(-1) {
				t.Errorf("a dent joins within %g mm", got)
			}
		}
		at.rule = nil
		if got := r.joinLimit(0, 1, x, y); got != math.Inf(-1) {
			t.Errorf("without a procedure cracks join within %g mm", got)
		}
	}
}

// The size of a crack: with the allowance of its tips, and as deep as the wall unless it surely is
// less deep; the least it has: less twice its uncertainty, and as deep as the wall where it goes
// through.
func TestSizeOfACrack(t *testing.T) {
	depth := func(v float64) unit.Maybe[unit.MM] { return unit.Some(unit.MM(v)) }
	for _, c := range []struct {
		name    string
		kind    body.FindingKind
		length  *Length
		tips    []body.TipMethod
		through body.YesNo
		depth   unit.Maybe[unit.MM]
		most    size
		least   size
	}{
		{"through", "crack", &Length{20, 1}, []body.TipMethod{"penetrant", "penetrant"}, "yes", depth(1), size{20, 5}, size{18, 5}},
		{"tips by eye", "crack", &Length{20, 1}, nil, "yes", depth(1), size{28, 5}, size{18, 5}},
		{"not through", "crack", &Length{20, 1}, []body.TipMethod{"penetrant", "penetrant"}, "no", depth(2), size{20, 3}, size{18, 1}},
		{"not through, deep", "crack", &Length{20, 1}, []body.TipMethod{"penetrant", "penetrant"}, "no", depth(4.5), size{20, 5}, size{18, 3.5}},
		{"not through, shallow", "crack", &Length{1, 1}, []body.TipMethod{"penetrant", "penetrant"}, "no", depth(0.5), size{1, 1.5}, size{0, 0}},
		{"not through, nobody knows how deep", "crack", &Length{20, 1}, []body.TipMethod{"penetrant", "penetrant"}, "no", unit.Maybe[unit.MM]{}, size{20, 5}, size{18, 0}},
		{"nobody knows whether through", "crack", &Length{20, 1}, []body.TipMethod{"penetrant", "penetrant"}, "unknown", depth(2), size{20, 5}, size{18, 1}},
		{"no length", "crack", nil, nil, "no", depth(2), size{math.Inf(1), 3}, size{0, 1}},
		{"torn", "torn", nil, nil, "no", depth(2), size{0, 3}, size{0, 1}},
		{"a break", "break", nil, nil, "yes", depth(2), size{math.Inf(1), 5}, size{0, 5}},
	} {
		tr := &trace{in: &job.Finding{Kind: c.kind, Depth: c.depth, DepthStd: 0.5}, tips: c.tips, at: &place{Casting: &vehicle.Casting{Of: &body.Casting{Wall: 5}}, rule: &body.Procedure{TipVisual: 4}}}
		r := &run{found: []Finding{{Kind: c.kind, Length: c.length, Through: c.through}}, traces: []*trace{tr}}
		if got := r.sizeOf(0); got != c.most {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.most)
		}
		if got := r.leastSize(0); got != c.least {
			t.Errorf("%s, at least: %+v, want %+v", c.name, got, c.least)
		}
	}
}

// Two findings fork when one is said to be a branch, or the other face, of the other, on one casting;
// surely only where the branch was found to begin there.
func TestForksAsSaidAndAsFound(t *testing.T) {
	at, other := &place{}, &place{}
	for _, c := range []struct {
		name         string
		a, b         job.Finding
		forkA, forkB job.FindingID
		place        *place
		said, surely bool
	}{
		{"neither", job.Finding{ID: "a"}, job.Finding{ID: "b"}, "", "", at, false, false},
		{"a branch", job.Finding{ID: "a", BranchOf: "b"}, job.Finding{ID: "b"}, "", "", at, true, false},
		{"the other way round", job.Finding{ID: "a"}, job.Finding{ID: "b", BranchOf: "a"}, "", "", at, true, false},
		{"the other face", job.Finding{ID: "a", SameAs: "b"}, job.Finding{ID: "b"}, "", "", at, true, false},
		{"of another", job.Finding{ID: "a", BranchOf: "c"}, job.Finding{ID: "b", SameAs: "c"}, "c", "c", at, false, false},
		{"on another casting", job.Finding{ID: "a", BranchOf: "b"}, job.Finding{ID: "b"}, "", "", other, false, false},
		{"found", job.Finding{ID: "a", BranchOf: "b"}, job.Finding{ID: "b"}, "b", "", at, true, true},
		{"found, the other way round", job.Finding{ID: "a"}, job.Finding{ID: "b", BranchOf: "a"}, "", "a", at, true, true},
		{"without names", job.Finding{}, job.Finding{}, "", "", at, false, false},
	} {
		r := &run{traces: []*trace{{in: &c.a, at: at, fork: c.forkA}, {in: &c.b, at: c.place, fork: c.forkB}, nil}}
		if got := r.forks(0, 1); got != c.said || r.forks(1, 0) != c.said {
			t.Errorf("%s: said %v", c.name, got)
		}
		if got := r.surelyForks(0, 1); got != c.surely || r.surelyForks(1, 0) != c.surely {
			t.Errorf("%s: surely %v", c.name, got)
		}
		if r.forks(0, 2) || r.forks(2, 1) {
			t.Errorf("%s: one without a place forks", c.name)
		}
	}
}

// A label may be reached when what is seen, or an end that may run on, is not surely away from it;
// those that are surely away are taken in, the likeliest left, until the others are improbable enough.
func TestLabelsThatMayBeReached(t *testing.T) {
	by := func(label int32, mm ...float64) labelReach {
		n := labelReach{label: label}
		for k, x := range mm {
			n.by = append(n.by, reach{allowed: x, end: k - 1})
		}
		return n
	}
	z := func(p float64) float64 { return -normal.Quantile(p) }
	for _, c := range []struct {
		name string
		all  []labelReach
		want []int32
	}{
		{"none", nil, nil}, {"near", []labelReach{by(1, 1.99)}, []int32{1}}, {"at two standard uncertainties", []labelReach{by(1, 2)}, []int32{1}}, {"away", []labelReach{by(1, 2.01)}, nil},
		{"an end is near", []labelReach{by(1, 9, 1)}, []int32{1}},
		{"three away together", []labelReach{by(3, z(0.02)), by(1, z(0.02)), by(2, z(0.02))}, []int32{3}}, // 2 % each: the last of three is beyond 5 %
		{"two away together", []labelReach{by(3, z(0.02)), by(1, z(0.02))}, nil},
		{"the likeliest of three", []labelReach{by(3, z(0.022)), by(1, z(0.015)), by(2, z(0.02))}, []int32{3}},
		{"by both ends", []labelReach{by(3, z(0.02), z(0.02), z(0.02))}, []int32{3}},
		{"in their order", []labelReach{by(3, 0), by(1, 1)}, []int32{1, 3}},
	} {
		r := &run{confidence: 0.95}
		var got []int32
		for _, n := range r.touched(c.all, 1) {
			got = append(got, n.label)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	list := nearer(nil, labelReach{1, []reach{{allowed: 5, seen: 6, ahead: 1}, {allowed: 3, seen: 4}}})
	list = nearer(list, labelReach{2, []reach{{allowed: 1, seen: 1}, {allowed: 1, seen: 1}}})
	list = nearer(list, labelReach{1, []reach{{allowed: 4, seen: 9, ahead: 7}, {allowed: 3, seen: 1}}})
	if len(list) != 2 || !slices.Equal(list[0].by, []reach{{allowed: 4, seen: 9, ahead: 1}, {allowed: 3, seen: 4}}) {
		t.Errorf("%+v", list)
	}
}

// A distance in words: what it is at least, or the interval along the surface, and what is taken of it.
func TestDistanceInWords(t *testing.T) {
	for _, c := range []struct {
		c    Clearance
		want string
	}{
		{Clearance{To: "H", MM: 5, SeenMM: 5}, "at least 5.0 mm to bore H"}, {Clearance{To: "H", MM: 5, SeenMM: 5, UpperMM: 5.1}, "5.0 mm to bore H along the surface"},
		{Clearance{To: "H", MM: 5, SeenMM: 5, UpperMM: 7}, "5.0 to 7.0 mm to bore H along the surface"}, {Clearance{To: "H", MM: 1, SeenMM: 5}, "at least 5.0 mm to bore H, taken as 1.0 mm because a tip seen by eye only may lie farther on"},
	} {
		if got := clearanceText(c.c, "bore "); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	tr := &trace{at: &place{Casting: &vehicle.Casting{Of: &body.Casting{Zones: []body.Zone{{ID: "A", Label: 3}, {ID: "B", Label: 4}}}}}}
	if a, b := tr.zoneName(4), tr.zoneName(5); a != "B" || b != "label 5, which is no zone" {
		t.Errorf("%q, %q", a, b)
	}
	r := &run{found: []Finding{{ID: "a", Kind: "dent"}, {ID: "b", Kind: "break"}}}
	for id, want := range map[string]body.FindingKind{"a": "dent", "b": "break", "c": "crack"} {
		if got := r.kindOf(id); got != want {
			t.Errorf("%s is a %s", id, got)
		}
	}
	s := r.spacingOf(apart{least: 3, seen: 3 + sameMM/2, allowed: 2, std: 1, doubt: "d", of: []nearby{{3, 1}, {2, 4}}}, 1)
	if s.To != "b" || s.MM != 2 || s.SeenMM != 3 || s.UpperMM != 0 || s.Std != 1 || s.Doubt != "d" || !slices.Equal(s.Of, []Element{{To: "b", MM: 3, Std: 1, end: 0}, {To: "b", MM: 2, Std: 4, end: 1}}) {
		t.Errorf("%+v", s)
	}
	if s = r.spacingOf(apart{least: 3, seen: 4}, 0); s.UpperMM != 4 || s.To != "a" {
		t.Errorf("%+v", s)
	}
}

// The limits of a procedure on a fact, from both ends of a condition, ascending and each once; of
// rows that count, and none of a condition that cannot be read.
func TestLimitsOfAProcedure(t *testing.T) {
	w := func(text, zones string) body.Row {
		r := body.Row{When: map[string]string{"length": text}}
		if zones != "" {
			r.When["zones"] = zones
		}
		return r
	}
	p := &body.Procedure{Rows: []body.Row{w("<= 30 mm", ""), w(">= 10 mm and < 30 mm", "only A"), w("long", ""), {When: map[string]string{"spacing": "> 7 mm"}}, w("> 20 mm", "any of B"), w("< 40 mm", "some of B")}}
	at := &place{rule: p}
	if got := at.limitsOf("length"); !slices.Equal(got, []float64{10, 20, 30, 40}) {
		t.Errorf("%v", got)
	}
	if got := (&place{}).limitsOf("length"); got != nil {
		t.Errorf("without a procedure: %v", got)
	}
	for zone, want := range map[body.ZoneID][]float64{"A": {10, 30}, "B": {20, 30}, "C": {30}} {
		if got := lengthLimits(p, Finding{Zones: []ZoneShare{{Zone: zone}}}); !slices.Equal(got, want) {
			t.Errorf("in %s: %v, want %v", zone, got, want)
		}
	}
	b := &body.Body{Procedures: []body.Procedure{{ID: "R", Revision: "1", Rows: []body.Row{w("<= 99 mm", "")}}, {ID: "R", Revision: "2", Rows: p.Rows}, {ID: "S", Revision: "2", Rows: []body.Row{w("<= 98 mm", "")}}}}
	r := Result{Rules: []RuleUsed{{"D", "S", "2"}, {"C", "R", "2"}}}
	f := Finding{Casting: "C", Decision: &Length{30, 1}, Zones: []ZoneShare{{Zone: "C"}}}
	if got := r.Odds(b, f); got != "probability that it is no longer than a limit of the procedure in its zones: 30.0 mm 50.0 %" {
		t.Errorf("%q", got)
	}
	for name, f := range map[string]Finding{"no length": {Casting: "C"}, "no rule": {Casting: "E", Decision: &Length{30, 1}}} {
		if got := r.Odds(b, f); got != "" {
			t.Errorf("%s: %q", name, got)
		}
	}
}

// Sets are joined by their smallest members; gaps come shortest first, of equals those that are not
// known yet, then by their place.
func TestSetsAndTheirGaps(t *testing.T) {
	s := newSets(6)
	if !s.join(4, 2) || !s.join(5, 4) || s.join(5, 2) || !s.join(0, 1) {
		t.Error("joined otherwise")
	}
	c := s.clone()
	c.join(1, 5)
	for i, want := range []int{0, 0, 2, 3, 2, 2} {
		if s.of(i) != want || c.of(i) != []int{0, 0, 0, 3, 0, 0}[i] {
			t.Errorf("%d is in %d, then in %d", i, s.of(i), c.of(i))
		}
	}
	q := gapQueue{{mm: 1, place: 3, known: true}, {mm: 1, place: 4}, {mm: 2, place: 0}, {mm: 1, place: 2}, {mm: 1, place: 1, known: true}}
	order := []int{3, 1, 4, 0, 2}
	for i := range q {
		for k := range q {
			if got := q.Less(order[i], order[k]); got != (i < k) {
				t.Errorf("%+v before %+v: %v", q[order[i]], q[order[k]], got)
			}
		}
	}
}

// What weakens the wall, and what parts it, by the kinds that the procedure names or by all.
func TestWhatWeakensAndParts(t *testing.T) {
	kinds := []body.FindingKind{"crack", "break", "torn", "bend", "dent"}
	for _, c := range []struct {
		casting         body.CastingID
		neighbours      []body.FindingKind
		weakens, parted string
	}{
		{"C", nil, "crack break torn bend dent", "crack break torn"}, {"C", []body.FindingKind{"dent", "break"}, "break dent", "crack break"}, {"C", []body.FindingKind{"torn"}, "torn", "crack torn"},
		{"", nil, "", "crack"}, {"D", nil, "crack break torn bend dent", "crack break torn"},
	} {
		r := &run{places: []place{{Casting: &vehicle.Casting{Of: &body.Casting{ID: "C"}}, rule: &body.Procedure{Neighbours: c.neighbours}}}}
		var weakens, parted []string
		for i, k := range kinds {
			r.found = append(r.found, Finding{Kind: k, Casting: c.casting})
			if r.weakens(i) {
				weakens = append(weakens, string(k))
			}
			if r.parts(i) {
				parted = append(parted, string(k))
			}
		}
		if strings.Join(weakens, " ") != c.weakens || strings.Join(parted, " ") != c.parted {
			t.Errorf("%q, %v: weakens %v, parts %v", c.casting, c.neighbours, weakens, parted)
		}
	}
	for _, k := range kinds {
		if isCrack(k) != (k == "crack" || k == "break") {
			t.Errorf("%s is a crack: %v", k, isCrack(k))
		}
	}
	for said, want := range map[body.YesNo]body.YesNo{"yes": "yes", "no": "no", "": "unknown", "perhaps": "unknown"} {
		if got := through(&job.Finding{Through: said}); got != want {
			t.Errorf("through %q: %q", said, got)
		}
	}
}

// Why a trace cannot be used; what is just within the bounds can.
func TestWhyATraceIsRefused(t *testing.T) {
	s, err := mesh.NewSurface(plate())
	if err != nil {
		t.Fatal(err)
	}
	p := []geom.Vec{{20, 50, 0}}
	for _, c := range []struct {
		kind    body.FindingKind
		surface *mesh.Surface
		trace   []geom.Vec
		std     float64
		code    string
		blocks  bool
	}{
		{"crack", s, p, 1, "", false}, {"crack", s, p, 999.9, "", false}, {"crack", nil, p, 1, "no-surface", true}, {"crack", s, nil, 1, "no-trace", true}, {"dent", s, nil, 1, "no-trace", false}, {"break", s, nil, 1, "no-trace", true},
		{"crack", s, p, 0, "no-uncertainty", true}, {"crack", s, p, -1, "no-uncertainty", true}, {"crack", s, p, 1000, "no-uncertainty", true}, {"crack", s, p, math.NaN(), "no-uncertainty", true},
		{"crack", s, []geom.Vec{p[0], {0, math.Inf(1), 0}}, 1, "not-a-number", true},
	} {
		tr := &trace{in: &job.Finding{Kind: c.kind, Trace: c.trace}, std: c.std, at: &place{Casting: &vehicle.Casting{Of: &body.Casting{ID: "C"}, Surface: c.surface}}}
		n := tr.refusal()
		if (n == nil) != (c.code == "") || n != nil && (n.Code != "inspect."+c.code || n.Blocks() != c.blocks) {
			t.Errorf("%+v: %+v", c, n)
		}
		if c.code == "not-a-number" && !strings.Contains(n.Text, "point 2 ") {
			t.Errorf("%q", n.Text)
		}
	}
}

// There is room for another way where the ellipsoid of the ways as short as this one is wider than
// its corridor: half of its length. By hand: the root of L² - e² over L/2.
func TestRoomForAnotherWay(t *testing.T) {
	for _, c := range []struct {
		length, chord float64
		want          bool
	}{{10, 10, false}, {10, 8.67, false}, {10, 8.65, true}, {10, 0, true}, {10, 11, false}, {0, 0, false}} { // 10 cos 30 degrees is 8.660
		if got := hasRoom(mesh.Path{LengthMM: c.length, ChordMM: c.chord}); got != c.want {
			t.Errorf("%g mm for %g mm: room %v", c.length, c.chord, got)
		}
	}
}

// The noise of points off the surface: none is read from fewer than five, a drift or a single bad
// point is none, and what goes to and fro by 1 mm is.
func TestNoiseOfPoints(t *testing.T) {
	if got := robustNoise([]float64{0, 9, 0, 9}); got != 0 {
		t.Errorf("of four points: %g", got)
	}
	if got := robustNoise([]float64{1, 2, 3, 4, 5, 6}); got > 1e-12 {
		t.Errorf("of a drift: %g", got)
	}
	if got := robustNoise([]float64{0, 0, 0, 9, 0, 0, 0, 0, 0}); got != 0 {
		t.Errorf("of one bad point: %g", got)
	}
	// to and fro by 2: second differences 4 over root 6, first 2 over root 2, the smaller over 0.6745,
	// and a part of 1 over the root of the number more
	d := []float64{1, -1, 1, -1, 1, -1, 1, -1, 1}
	near(t, "to and fro", robustNoise(d), (1+1.0/3)*math.Sqrt2/0.674490, 1e-5)
	if got := secondDifferences([]float64{1, 4, 9, 16}); !slices.Equal(got, []float64{2, 2}) {
		t.Errorf("%v", got)
	}
	if got := roughness([]float64{1, -1, 1, -1}, 0.1); got != 0 {
		t.Errorf("of four points: %g", got)
	}
	near(t, "rough", roughness(d, 0.1), 4/math.Sqrt(6), 1e-12)
	if got := roughness(d, 5); got != 0 {
		t.Errorf("as rough as stated: %g", got)
	}
	tr := &trace{said: 0.5, at: &place{Casting: &vehicle.Casting{Of: &body.Casting{MeshStd: 0.5}}}}
	for _, c := range []struct {
		n    int
		std  float64
		want float64
	}{{1, 0, max(vehicle.LeastGateMM, 1.5)}, {1, 2, 7.5}, {1, 5, 16.5}} { // three times the sum is more than the quantile of 0.1 %, 3.09, of the root of squares
		near(t, "gate", tr.gateOf(c.n, c.std), c.want, 1e-9)
	}
	if a, b := tr.gateOf(1, 5), tr.gateOf(1000000, 5); !(b > a) {
		t.Errorf("of many points one may be farther off: %g, %g", a, b)
	}
	if a, b := tr.gateOf(0, 5), tr.gateOf(1, 5); a != b {
		t.Errorf("of none and one: %g, %g", a, b)
	}
	if got := distinct([]geom.Vec{{1, 0, 0}, {1, 0, 0}, {2, 0, 0}, {1, 0, 0}}); len(got) != 3 {
		t.Errorf("%v", got)
	}
	for want, v := range [][]float64{{3}, {3, 2}, {3, 2, 1}, {3, 2, 2, 1, 1}} {
		if got := least(v); got != want {
			t.Errorf("%v: %d", v, got)
		}
	}
}
