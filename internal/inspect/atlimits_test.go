package inspect

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
)

// Of several readings by hand those that say there is none count for nothing, wherever they stand.
func TestReadingsOfNothing(t *testing.T) {
	five, none := handReading{mm: 5, std: 0.5, to: "x"}, handReading{mm: math.Inf(1)}
	for _, all := range [][]handReading{{five}, {none, five}, {five, none}, {none, five, none}} {
		c := clearanceOf(all, 0, "name")
		if c == nil || c.To != "x" || c.MM != 5 || c.Std != 0.5 || c.SeenMM != 5 || len(c.Of) != 1 {
			t.Errorf("%+v: %+v", all, c)
		}
	}
	if c := clearanceOf([]handReading{none}, 0, "name"); c == nil || c.To != None || c.MM != 0 || c.SeenMM != 0 {
		t.Errorf("none alone: %+v", c)
	}
	if clearanceOf(nil, 0, "name") != nil {
		t.Error("without a reading something is known")
	}
}

// A candidate costs the square of how far it is off over what a point is uncertain by; one that is
// not the nearest of its point costs more, by elsewhereCost. By hand: 0.3 and 0.4 mm make 0.5.
func TestWhatACandidateCosts(t *testing.T) {
	tr, _ := traceThrough(t, 0.3, geom.Vec{20, 50, 0}, geom.Vec{40, 50, 0})
	tr.placed = math.Sqrt(0.16 - 0.01) // the mesh of the bench is 0.1 mm off
	cost, from := tr.chainCosts([][]candidate{{{mm: 0.5}, {mm: 1}, {mm: 0}}})
	for k, want := range []float64{1, 4 + elsewhereCost, elsewhereCost} {
		near(t, fmt.Sprint("candidate ", k), cost[0][k], want, 1e-12)
	}
	if !slices.Equal(from[0], []int{0, 0, 0}) {
		t.Errorf("%v", from)
	}
}

// The lengths of a finding in the zones it crosses add up to its length, whatever the points make
// of it beside: a crack square to the border with a point far beside it.
func TestLengthsInZonesAddUp(t *testing.T) {
	b := newBench(plate())
	b.crack("F", 2, geom.Vec{60, 50, 0}, geom.Vec{80, 53, 0}, geom.Vec{100, 48, 0}, geom.Vec{120, 52, 0}, geom.Vec{160, 50, 0})
	r, _ := Run(b.input(t))
	f := find(t, r, "F")
	if f.Length == nil || len(f.Zones) != 2 || f.Zones[0].Touches || f.Zones[1].Touches {
		t.Fatalf("%+v", f)
	}
	rn := &run{in: b.input(t)}
	rn.prepare()
	tr, g := traceThrough(t, 2, geom.Vec{60, 50, 0}, geom.Vec{80, 53, 0}, geom.Vec{100, 48, 0}, geom.Vec{120, 52, 0}, geom.Vec{160, 50, 0})
	tr.legs = []leg{g}
	sum := 0.0
	for _, l := range tr.crossed() {
		sum += l.LengthMM
	}
	near(t, "all zones", sum, g.LengthMM, 1e-9)
	if raw := tr.raw[0].LengthMM + tr.raw[1].LengthMM + tr.raw[2].LengthMM + tr.raw[3].LengthMM; raw < g.LengthMM+0.5 {
		t.Errorf("the points make %g of %g mm", raw, g.LengthMM)
	}
}

// The rule by which cracks count as one is told in full: the gap of the procedure, or also what its
// rule allows, with its name, its place, and whether it goes on from what it joined.
func TestRuleOfJoiningIsTold(t *testing.T) {
	p := place{rule: &body.Procedure{GroupGap: 5}}
	if got := p.joinText(); got != "no gap is surely longer than the 5.0 mm of the procedure; " {
		t.Errorf("%q", got)
	}
	for again, want := range map[bool]string{
		false: "no gap is surely longer than the 5.0 mm of the procedure or than its rule allows (by lengths; page 3); ",
		true:  "no gap is surely longer than the 5.0 mm of the procedure or than its rule allows (by lengths, and again as one crack; page 3); ",
	} {
		p.rule.Grouping = &body.Grouping{Name: "by lengths", Cite: "page 3", Again: again}
		if got := p.joinText(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// A repair of before lies on the casting whose zone is named, one zone being enough, and on none else.
func TestCastingsOfEarlierRepairs(t *testing.T) {
	for _, c := range []struct {
		zone  body.ZoneID
		trace []geom.Vec
		on    int
	}{{"A", nil, 1}, {"Z", nil, 0}, {"Z", []geom.Vec{{60, 55, 0}, {70, 55, 0}}, 1}, {"A", []geom.Vec{{60, 55, 0}, {70, 55, 0}}, 1}} {
		b := newBench(plate())
		b.job.Earlier = []job.Earlier{{Zone: c.zone, Length: 10, Trace: c.trace, Std: 1}}
		r, _ := Run(b.input(t))
		if got := r.Earlier[0]; len(got.Castings) != c.on || len(got.Zones) != c.on {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}

// How far a finding lies inside a box, from each of its faces, as far as the surface leads there: on
// a plate up and down not at all. A crack from (40, 30) to (60, 50), by hand.
func TestInsideABoxByHand(t *testing.T) {
	b := newBench(plate())
	b.crack("F", 0.5, geom.Vec{40, 30, 0}, geom.Vec{60, 50, 0})
	b.body.Lines = []body.Line{{ID: "L", Casting: "C", Normal: geom.Vec{1, 0, 0}, Offset: 10, Margin: 5, Within: body.Box{Min: geom.Vec{-7, 11, -3}, Max: geom.Vec{90, 95, 4}}}}
	r, _ := Run(b.input(t))
	f := find(t, r, "F")
	if len(f.Sides) != 1 {
		t.Fatalf("%+v", f.Sides)
	}
	var got []float64
	for _, e := range f.Sides[0].Inside {
		if e.end < 0 {
			got = append(got, math.Round(e.MM*1e6)/1e6)
		}
	}
	if want := []float64{30, 47, 45, 19, 4, 3}; !slices.Equal(got, want) {
		t.Errorf("inside by %v, want %v", got, want)
	}
}

// Where a finding lies was read off its pins when it has some and no zone was named.
func TestWhenPinsSayWhere(t *testing.T) {
	pins, zones := []job.Pin{{Map: "left"}}, []body.ZoneID{"A"}
	for _, c := range []struct {
		in   job.Finding
		want bool
	}{{job.Finding{}, false}, {job.Finding{Pins: pins}, true}, {job.Finding{Zones: zones}, false}, {job.Finding{Pins: pins, Zones: zones}, false}} {
		if got := byPins(&c.in); got != c.want {
			t.Errorf("%+v: %t", c.in, got)
		}
	}
}

// Elsewhere is looked for in six directions: back and ahead along the normal, along the way from the
// point before to the one behind, back again, and to both sides. At an end the next point alone counts;
// where all are in one place only the normal is left.
func TestDirectionsOfATrace(t *testing.T) {
	points := []geom.Vec{{20, 50, 0}, {40, 50, 0}, {40, 70, 0}, {60, 70, 0}}
	tr, _ := traceThrough(t, 0.5, points...)
	var nearest []candidate
	for _, s := range tr.sites {
		nearest = append(nearest, candidate{site: s})
	}
	h := math.Sqrt(0.5)
	for i, along := range []geom.Vec{{1, 0, 0}, {h, h, 0}, {h, h, 0}, {1, 0, 0}} {
		side := geom.Vec{-along[1], along[0], 0}
		want := []geom.Vec{{0, 0, -1}, {0, 0, 1}, along, along.Scale(-1), side, side.Scale(-1)}
		got := tr.ways(points, nearest, i)
		if len(got) != len(want) {
			t.Fatalf("point %d: %v", i, got)
		}
		for k := range want {
			if got[k].Dist(want[k]) > 1e-12 {
				t.Errorf("point %d: direction %d is %v, want %v", i, k, got[k], want[k])
			}
		}
	}
	same := []geom.Vec{points[0], points[0], points[0], points[0]}
	if got := tr.ways(same, nearest, 1); len(got) != 1 || got[0] != (geom.Vec{0, 0, -1}) {
		t.Errorf("all in one place: %v", got)
	}
}

// Where no mesh shows what a zone has, its ribs and its bores are areas of their own that may be there.
func TestPartsThatNobodySees(t *testing.T) {
	got := unseenParts(area{id: "x", name: "Zone A", zone: "A", reachMM: 7, within: "y"})
	if len(got) != 2 || got[0].id != body.AreaOfRibs("A") || got[0].of != body.AreaRibs || got[0].name != "Zone A, feet of its ribs, if it has any" ||
		got[1].id != body.AreaOfBores("A") || got[1].of != body.AreaBores || got[1].name != "Zone A, its bores, if it has any" {
		t.Fatalf("%+v", got)
	}
	for _, a := range got {
		if a.zone != "A" || a.reachMM != 7 || a.within != "y" {
			t.Errorf("%+v", a)
		}
	}
}

// A repair of before that was entered as one place counts like one whose two places are the same.
func TestEarlierRepairInOnePlace(t *testing.T) {
	away := func(trace ...geom.Vec) Finding {
		b := newBench(plate())
		b.crack("F", 0.5, geom.Vec{20, 50, 0}, geom.Vec{40, 50, 0})
		b.job.Earlier = []job.Earlier{{Zone: "A", Length: 10, Trace: trace, Std: 1}}
		r, _ := Run(b.input(t))
		return find(t, r, "F")
	}
	one, two := away(geom.Vec{70, 50, 0}), away(geom.Vec{70, 50, 0}, geom.Vec{70, 50, 0})
	if one.Earlier == nil || two.Earlier == nil || one.Earlier.To != "1 in zone A" || math.Abs(one.Earlier.MM-two.Earlier.MM) > 1e-9 || one.Earlier.SeenMM < 29 || one.Earlier.SeenMM > 31 {
		t.Errorf("%+v, %+v", one.Earlier, two.Earlier)
	}
	if none := away(); none.Earlier != nil {
		t.Errorf("without a place it is %+v", none.Earlier)
	}
}

// Of a finding without a mesh it is said in which zones it lies, and which it may reach.
func TestZonesAreToldByHand(t *testing.T) {
	b := handBench()
	b.said("D1", "A")
	r, _ := b.byHand(t)
	for _, want := range []string{"in zone A", "it may reach zone B, whose rules count too"} {
		if !slices.Contains(r.Findings[0].Because, want) {
			t.Errorf("%q is not among %q", want, r.Findings[0].Because)
		}
	}
}

// What ways over a seam leave sure lowers what is known, and is told; what is as low already is not.
func TestCautiousAtASeam(t *testing.T) {
	p := placeOn(t, slit(plate(), 100, 10, 90, 0, 0.3))
	a, b := p.siteOf(geom.Vec{90, 50, 0}), p.siteOf(geom.Vec{110, 50, 0})
	over := p.OverSeams(a, b)
	if over < 19 || over > 21 {
		t.Fatalf("over the seam %g", over)
	}
	for _, c := range []struct{ lo, straight, want float64 }{{50, 0, over}, {over, 0, over}, {5, 0, 5}, {50, 30, 30}, {30, 30, 30}, {math.Nextafter(over, 99), 0, over}} {
		x := p.cautious(span{lo: c.lo, hi: 80}, c.straight, a, b)
		if x.lo != c.want || x.hi != 80 || (x.doubt == seamDoubt) != (c.want < c.lo) {
			t.Errorf("%+v: %+v", c, x)
		}
	}
	n := seamNote(3)
	if n.Code != "inspect.over-a-seam" || n.Text != "between point 4 and point 5 of the trace the mesh is open along a seam or at a T-joint, and no way along the surface leads straight on" {
		t.Errorf("%+v", n)
	}
}

// What was measured by hand is told with what it is to, and with what a tip that may lie farther on
// takes off it; where none was found, that.
func TestHandReadingsAreTold(t *testing.T) {
	for _, c := range []struct {
		of   Clearance
		want string
	}{
		{Clearance{To: None, MM: 3}, "bore: none found by hand"},
		{Clearance{To: "hole h", MM: 12, SeenMM: 12}, "12.0 mm to hole h, measured by hand"},
		{Clearance{To: "hole h", MM: 10.5, SeenMM: 12}, "12.0 mm to hole h, measured by hand, taken as 10.5 mm because a tip seen by eye only may lie farther on"},
	} {
		if got := byHandText(c.of, "bore"); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// An area that nobody has looked at blocks where its zone carries a finding, and where nobody knows in
// which zone it lies, if the casting carries one.
func TestAreasBesideAFindingBlock(t *testing.T) {
	for _, c := range []struct {
		zone  body.ZoneID
		crack bool
		says  string
	}{
		{"A", true, "; its zone carries F"}, {"", true, "; where it lies is not known, and the casting carries F"}, {"B", true, ""}, {"A", false, ""}, {"", false, ""},
	} {
		b := newBench(plate())
		b.body.Inspect = []body.Area{{ID: "1", Name: "Web", Casting: "C", Zone: c.zone, Method: "penetrant", Finds: 3}}
		if c.crack {
			b.crack("F", 0.5, geom.Vec{30, 50, 0}, geom.Vec{60, 50, 0})
		}
		_, notes := Run(b.input(t))
		n := has(notes, "inspect.not-covered", "1")
		switch {
		case n == nil:
			t.Errorf("%+v: %v", c, notes)
		case (n.Severity == diag.Blocking) != (c.says != "") || c.says != "" && !strings.HasSuffix(n.Text, c.says) || c.says == "" && strings.Contains(n.Text, "carries"):
			t.Errorf("%+v: %+v", c, n)
		}
	}
}

// Of several lines the nearest counts; where there is none, what is sure without one.
func TestNearestOfSeveralLines(t *testing.T) {
	tr, _ := traceThrough(t, 0.5, geom.Vec{20, 50, 0}, geom.Vec{40, 50, 0})
	from, far, near1 := tr.at.siteOf(geom.Vec{40, 50, 0}), tr.at.siteOf(geom.Vec{80, 50, 0}), tr.at.siteOf(geom.Vec{55, 50, 0})
	if got := tr.narrow([][]mesh.Site{from}, nil, 7, []float64{9}); got.lo != 7 || !math.IsInf(got.hi, 1) || got.doubt != "" {
		t.Errorf("no line: %+v", got)
	}
	for _, lines := range [][][]mesh.Site{{far, near1}, {near1, far}, {near1}} {
		if got := tr.narrow([][]mesh.Site{from}, lines, 0, []float64{20}); got.lo > 15+1e-6 || got.lo < 14.9 || got.hi < 15-1e-6 || got.hi > 15.2 {
			t.Errorf("15 and 40 mm: %+v", got)
		}
	}
}
