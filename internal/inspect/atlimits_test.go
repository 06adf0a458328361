package inspect

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
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
