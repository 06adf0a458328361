package measure

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// Cases in which a best fit goes wrong. All constructed; seeds in the calls.

// Both ends have moved and only the middle is sound: with reference points in
// the middle the answer is three groups.
func TestBothEndsMoved(t *testing.T) {
	c := newCar(30, 101)
	var front, rear []int
	for i, p := range c.at {
		if p[0] < 1300 {
			front = append(front, i)
		} else if p[0] > 3200 {
			rear = append(rear, i)
		}
	}
	c.moveTogether(front, 18)
	c.moveTogether(rear, 25)
	in := c.measure(0.7)
	for i, p := range c.at {
		in.Points[i].Reference = p[0] > 1500 && p[0] < 3000 && i%2 == 0
	}
	r, _ := Run(in)
	h, ok := r.Best()
	if !ok || h.Datum != "reference" || len(h.Sections) < 2 {
		t.Fatalf("%s, %d sections, notes %+v", h.Datum, len(h.Sections), r.Notes)
	}
	checkTruth(t, c, h)
}

// More than half of the vehicle has moved; the nominated points say so.
func TestMajorityMoved(t *testing.T) {
	c := newCar(24, 102)
	c.moveRear(0.7, 20)
	in := c.measure(0.7)
	for i := 0; i < 4; i++ {
		in.Points[i].Reference = true
	}
	r, _ := Run(in)
	h, ok := r.Best()
	if !ok || h.Datum != "reference" || !r.Ambiguous {
		t.Fatalf("%s, ambiguous %v", h.Datum, r.Ambiguous)
	}
	checkTruth(t, c, h)
}

// Three nominated points are all that stood still; everything else moved its
// own way.
func TestOnlyThreeReferencesStood(t *testing.T) {
	c := newCar(10, 103)
	for i := 3; i < 10; i++ {
		c.shift[i] = c.gauss().Unit().Scale(20 + 5*float64(i))
	}
	in := c.measure(0.3)
	for i := 0; i < 3; i++ {
		in.Points[i].Reference = true
	}
	r, _ := Run(in)
	if h, ok := r.Best(); ok {
		if h.Datum != "reference" {
			t.Errorf("datum %s", h.Datum)
		}
		checkTruth(t, c, h)
		for _, p := range h.Points[:3] {
			if p.Firm && p.Tolerance == Met && len(h.Steady) == 3 {
				t.Errorf("%s: three points that only hold one another prove nothing, yet it is firm", p.ID)
			}
		}
	}
}

// A bend spread along the body has no hinge: nothing near it may be firm and
// wrong by more than is detectable.
func TestSpreadBend(t *testing.T) {
	for seed := uint64(110); seed < 120; seed++ {
		c := newCar(30, seed)
		for i, p := range c.at {
			if x := p[0] - 1800; x > 0 {
				c.shift[i] = geom.Vec{0, x * x * 3e-6, -x * x * 2e-6}
			}
		}
		in := c.measure(0.7)
		in.Impact = "rear"
		r, _ := Run(in)
		h, ok := r.Best()
		if !ok {
			t.Fatal("no hypothesis")
		}
		for i, p := range h.Points {
			if p.Firm && !p.Moved && c.shift[i].Norm() > 1.2*p.Detectable {
				t.Errorf("seed %d: %s is firm, moved %v, truth %.1f mm, detectable %.1f mm", seed, p.ID, p.Moved, c.shift[i].Norm(), p.Detectable)
			}
			if p.Firm && p.Moved && c.shift[i] == (geom.Vec{}) {
				t.Errorf("seed %d: %s stood still and is firmly moved", seed, p.ID)
			}
		}
	}
}

// A steady block on one line is said to be weak.
func TestNarrowDatumIsSaid(t *testing.T) {
	c := newCar(20, 104)
	for i := range c.at {
		if i < 12 {
			c.at[i][1], c.at[i][2] = 60*float64(i%2), 40*float64(i%3)
		} else {
			c.shift[i] = c.gauss().Scale(15)
		}
	}
	r, _ := Run(c.measure(0.3))
	if h, ok := r.Best(); !ok || len(h.Steady) < 11 || !r.Ambiguous {
		t.Errorf("steady %v, ambiguous %v: %v", h.Steady, r.Ambiguous, r.Why)
	}
}

// Above 60 points the search draws triples: same answer, seed in the result.
func TestManyPointsAreSampled(t *testing.T) {
	c := newCar(90, 105)
	c.moveRear(0.35, 20)
	in := c.measure(1)
	in.Impact, in.Seed = "rear", 42
	r, _ := Run(in)
	h, ok := r.Best()
	if !ok || r.Search.Method != "sampled" || r.Search.Seed != 42 {
		t.Fatalf("%+v", r.Search)
	}
	if !noted(r, "measure.sampled", "search") {
		t.Errorf("the seed is not told: %+v", r.Notes)
	}
	checkTruth(t, c, h)
	in.Seed = 7
	other, _ := Run(in)
	if a, b := verdicts(r), verdicts(other); a != b {
		t.Errorf("another seed changes a verdict: %s", firstDifference(a, b))
	}
}

func checkTruth(t *testing.T, c *car, h Hypothesis) {
	t.Helper()
	if !c.holds(h) {
		var bad []body.PointID
		for i, p := range h.Points {
			if still := c.shift[i] == (geom.Vec{}); still == p.Moved {
				bad = append(bad, p.ID)
			}
		}
		t.Errorf("not the truth: %v are wrong, steady %v", bad, h.Steady)
	}
}
