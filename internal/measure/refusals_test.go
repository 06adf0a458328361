package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// apart is so many points no four of which keep their places against one another: each was carried
// elsewhere.
func apart(n int) (*problem, *epoch) {
	at := strewn(2 * n)
	p, e := laid(at[:n]...)
	copy(e.at, at[n:])
	return p, e
}

// strewn is so many places about the vehicle, of which more begin with the same.
func strewn(n int) (at []geom.Vec) {
	rng := rand.New(rand.NewPCG(44, 1))
	for range n {
		at = append(at, geom.Vec{4000 * rng.Float64(), 1400 * rng.Float64(), 900 * rng.Float64()})
	}
	return at
}

// A steady point that no other reading controls is neither steady for certain nor within its limit,
// and asks for coordinates.
func TestUncontrolledPointSaysNothing(t *testing.T) {
	p, e := laid(alongX(2)...)
	c := &candidate{steady: geom.SetOf(0, 1), moved: make([]bool, 2), shift: make([]geom.Vec, 2), cov: []geom.Mat3{geom.Isotropic(0.5), geom.Isotropic(inf)}, t2: make([]float64, 2)}
	r := p.pointResult(e, c, 1, 1)
	if r.ID != "P02" || !r.Steady || r.Firm || r.Tolerance != Undecided || r.Limit != "no reading controls the point" || r.need.Kind != NeedsCoordinates || len(r.Readings) != 1 {
		t.Errorf("%+v", r)
	}
}

// The centre of a hole counts where it is finite, uncertain along every axis, and by no more than a
// tenth of the radius.
func TestCentresThatAreRefused(t *testing.T) {
	flat := geom.Diag3(geom.Vec{0.01, 0.01, 0})
	for _, c := range []struct {
		name string
		at   geom.Vec
		cov  geom.Mat3
		want bool
	}{
		{"sound", geom.Vec{1, 2, 3}, geom.Isotropic(0.5), true}, {"nowhere", geom.Vec{1, math.NaN(), 3}, geom.Isotropic(0.5), false}, {"without an uncertainty", geom.Vec{1, 2, 3}, geom.Mat3{}, false},
		{"uncertain without end", geom.Vec{1, 2, 3}, geom.Isotropic(inf), false}, {"exact along one axis", geom.Vec{1, 2, 3}, flat, false},
		{"a tenth", geom.Vec{1, 2, 3}, geom.Isotropic(1.1999), true}, {"more than a tenth", geom.Vec{1, 2, 3}, geom.Isotropic(1.2001), false},
	} {
		p, _ := laid(geom.Vec{})
		got := p.centre(&rim{first: &job.Reading{From: "P01"}}, c.at, c.cov, 12)
		if got != c.want || (len(p.coords) == 2) != c.want || (len(p.notes) == 0) != c.want || !c.want && p.notes[0].Code != "measure.reading-unusable" {
			t.Errorf("%s: used %v, %+v", c.name, got, p.notes)
		}
	}
}

// Points on one line show no shear.
func TestNoDiamondOfALine(t *testing.T) {
	for _, dir := range []geom.Vec{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} {
		var at []geom.Vec
		for i := range 6 {
			at = append(at, dir.Scale(100*float64(i)))
		}
		p, e := laid(at...)
		if got := p.diamond(e, &candidate{fit: geom.CovFit{Fit: geom.Fit{Motion: geom.Still()}}}, &group{set: geom.SetOf(fromTo(0, 6)...)}, geom.Vec{}); got != nil {
			t.Errorf("along %v: %+v", dir, got)
		}
	}
}

// Points that form no block show no spread: it is taken as none, and that is said.
func TestNoSpreadOfPointsApart(t *testing.T) {
	p, e := apart(12)
	for i := range p.in.Points {
		p.in.Points[i].Std = unit.Maybe[float64]{}
		p.std0[i] = 7
	}
	p.unknown = 12
	p.estimateSpread(e)
	if len(p.notes) != 1 || p.notes[0].Code != "measure.no-spread-found" || slices.Max(p.std0) != 0 {
		t.Errorf("%v, %+v", p.std0, p.notes)
	}
}

// A point that only lengths reach is started nowhere when the others form no block.
func TestNothingIsPlacedWithoutABlock(t *testing.T) {
	p, e := apart(9)
	for k := range 5 {
		p.spans = append(p.spans, span{kind: job.ReadLength, from: 0, to: k + 1, value: 900, std: 0.5})
	}
	e.remove(0)
	if p.locateRest(e); e.has(0) || len(e.points) != 8 {
		t.Errorf("%v", e.points)
	}
}

// Stages between which no four points kept their places have no changes; nominated points are those
// of the first stage, by their place in the list that both have.
func TestStagesWithoutACommonBlock(t *testing.T) {
	p, e := laid(alongX(9)...)
	q, f := apart(9)
	p.in.Points[2].Reference, p.in.Points[8].Reference, q.in.Points[5].Reference = true, true, true
	e.remove(1)
	f.remove(4)
	steady := []body.PointID{"P01", "P03", "P04"}
	w := newPair(&located{p: p, e: e, body: geom.Still()}, &located{p: q, e: f, body: geom.Still()}, steady)
	if want := []body.PointID{"P01", "P03", "P04", "P06", "P07", "P08", "P09"}; !slices.Equal(w.ids, want) || w.steady != geom.SetOf(0, 1, 2) || w.refs != geom.SetOf(1, 6) {
		t.Errorf("%v, steady %v, nominated %v", w.ids, w.steady.Members(), w.refs.Members())
	}
	const why = "no four points kept their places against one another"
	if got := w.unchanged(); got != why {
		t.Errorf("%q", got)
	}
	got := changesBetween(&located{p: p, e: e, body: geom.Still()}, &located{p: q, e: f, body: geom.Still()}, steady)
	if got.why != why || len(got.of) != 0 {
		t.Errorf("%+v", got)
	}
}

// Of all numbers that one digit more makes the nearest is taken, not nought where none is near; what
// is no number with a digit either fits nothing.
func TestNothingPutIn(t *testing.T) {
	if v := restored([]byte("x"), 0); !math.IsInf(v, 1) {
		t.Errorf("no number with a digit put in: %v", v)
	}
	if v := restored([]byte("12"), 107); v != 112 { // 102 is as near: the digit farther to the left
		t.Errorf("12 with a digit put in: %v", v)
	}
	if v := restored([]byte("12"), 0); v != 12 { // 012, the nearest of 30
		t.Errorf("12 with a digit put in: %v", v)
	}
}
