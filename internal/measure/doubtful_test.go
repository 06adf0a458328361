package measure

import (
	"math"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/unit"
)

// tried runs a family and says in how many runs something firm is wrong.
func tried(t *testing.T, name string, runs int) outcome {
	t.Helper()
	for _, f := range families() {
		if f.name == name {
			var o outcome
			for k := range runs {
				o.add(&f, uint64(k+1))
			}
			return o
		}
	}
	t.Fatalf("there is no family %q", name)
	return outcome{}
}

// Readings that are not what they say: nothing firm is wrong. Families and seeds
// of the campaign; up to 60 vehicles each.
func TestDoubtfulReadingsGiveNothingFirmAndWrong(t *testing.T) {
	for _, name := range []string{"one reading 12 mm off", "slip in a reading", "slip in a nominal place", "heavy tails", "stated uncertainty x 0.5", "manufacturing spread not given", "left and right exchanged", "bent as a whole"} {
		if o := tried(t, name, draws(7, 60)); o.wrong > 0 {
			t.Errorf("%s: %d of %d runs are firm and wrong: %s", name, o.wrong, o.runs, o.example)
		}
	}
}

// A point that moved by itself and was read once is "moved, or misread"; a second
// reading that agrees makes it firm, a copy of the row does not. Constructed.
func TestMovedOrMisread(t *testing.T) {
	c := newCar(20, 71)
	c.shift[6] = geom.Vec{0, 12, 0}
	in := c.measure(0.7)
	verdict := func(in Input) PointResult {
		r, _ := Run(in)
		h, _ := r.Best()
		p, _ := h.Point("P07")
		return p
	}
	if p := verdict(in); !p.Moved || p.Firm || !p.Misread() || !strings.Contains(p.Needs, "read P07 again") {
		t.Errorf("read once: moved %v, firm %v, needs %q", p.Moved, p.Firm, p.Needs)
	}
	copied := in
	copied.Readings = append(copied.Readings[:20:20], in.Readings[6])
	if p := verdict(copied); p.Firm {
		t.Error("a copied row makes it firm")
	}
	again := in.Readings[6]
	again.X.Value += 0.3
	again.Y.Value -= 0.4
	twice := in
	twice.Readings = append(twice.Readings[:20:20], again)
	if p := verdict(twice); !p.Moved || !p.Firm || p.Misread() {
		t.Errorf("read twice: moved %v, firm %v, needs %q", p.Moved, p.Firm, p.Needs)
	}
}

// A still point of the front whose reading is wrong by just what the moved rear would
// have carried it by: it fits that block, and is moved, or misread, all the same.
// Constructed.
func TestMisreadAsTheFarBlockMoved(t *testing.T) {
	for seed := uint64(1); seed <= 10; seed++ {
		c := newCar(30, seed)
		c.moveRear(0.3, 15)
		var from, to []geom.Vec
		for i := range c.at {
			if c.block[i] > 0 {
				from, to = append(from, c.at[i]), append(to, c.at[i].Add(c.shift[i]))
			}
		}
		f, err := geom.FitRigid(from, to, nil)
		if err != nil {
			t.Fatal(err)
		}
		at := c.alongX()[3]
		c.shift[at] = f.Motion.Apply(c.at[at]).Sub(c.at[at])
		in := c.measure(0.7)
		in.Impact = "rear"
		r, _ := Run(in)
		h, _ := r.Best()
		p, _ := h.Point(in.Points[at].ID)
		if c.shift[at].Norm() > p.Detectable && (!p.Moved || p.Firm || !p.Misread()) {
			t.Errorf("seed %d: by %.1f mm: moved %v, firm %v, needs %q", seed, c.shift[at].Norm(), p.Moved, p.Firm, p.Needs)
		}
	}
}

// A stated uncertainty of half the true one gives a caution, or falls apart into
// several explanations, in nearly every vehicle, twice the true one a remark; a true one gives neither. Up to 100
// vehicles each.
func TestScatterIsTested(t *testing.T) {
	of := draws(25, 100)
	count := func(factor float64) (small, large int) {
		for seed := uint64(1); seed <= uint64(of); seed++ {
			_, in := misstated(seed, factor)
			r, _ := Run(in)
			if noted(r, "measure.uncertainty-small", "readings") || (factor < 1 && r.Ambiguous) {
				small++
			}
			if noted(r, "measure.uncertainty-large", "readings") {
				large++
			}
		}
		return small, large
	}
	half, _ := count(0.5)
	_, twice := count(2)
	small, large := count(1)
	t.Logf("half %d, twice %d, true: %d and %d of %d", half, twice, small, large, of)
	if 100*half < 92*of || 10*twice < 6*of || 50*small > of || 100*large > of {
		t.Errorf("half the true uncertainty is told in %d, twice in %d of %d; of a true one %d and %d", half, twice, of, small, large)
	}
}

// Points built with a spread that the body does not give: it is estimated from the
// points themselves, said, and no still point is called moved for certain.
func TestSpreadIsEstimated(t *testing.T) {
	for seed := uint64(1); seed <= uint64(draws(8, 20)); seed++ {
		c := newCar(30, seed)
		for i := range c.shift {
			c.shift[i] = c.gauss().Scale(0.8)
		}
		in := c.measure(0.2)
		for i := range in.Points {
			in.Points[i].Std = unit.Maybe[float64]{}
		}
		p := prepare(in)
		p.estimateSpread(p.locate())
		if p.std0[0] < 0.5 || p.std0[0] > 1.2 {
			t.Errorf("seed %d: spread %.2f mm estimated, built with 0.8", seed, p.std0[0])
		}
		r, _ := Run(in)
		h, _ := r.Best()
		if !noted(r, "measure.spread-estimated", "points") || len(h.Moved) > 1 {
			t.Errorf("seed %d: %d moved; notes %+v", seed, len(h.Moved), r.Notes)
		}
	}
}

// A body bent as a whole has no steady block, or the bend is named as a reason for
// doubt. u = a x^2 of 20 to 40 mm at the end; an end that turned about a hinge is
// no bend.
func TestBodyBentAsAWhole(t *testing.T) {
	none, named, of := 0, 0, draws(8, 80)
	for seed := uint64(1); seed <= uint64(of); seed++ {
		c := newCar(16+int(seed%25), seed)
		size := 20 + float64(seed%21)
		for i, p := range c.at {
			c.shift[i] = geom.Vec{0, 0.5, 0.87}.Scale(size * p[0] * p[0] / (4500 * 4500))
		}
		in := c.measure(0.7)
		in.Impact = "rear"
		r, _ := Run(in)
		switch {
		case len(r.Hypotheses) == 0 && noted(r, "measure.no-steady-block", ""):
			none++
		case strings.Contains(strings.Join(r.Why, " "), "bend of the whole body"):
			named++
		}
		if firmPoints(r) > 0 {
			t.Errorf("seed %d: %d points are firm", seed, firmPoints(r))
		}
	}
	t.Logf("no steady block in %d, named in %d of %d", none, named, of)
	if 2*none < of || 10*(none+named) < 9*of {
		t.Errorf("no steady block in %d, named in %d of %d", none, named, of)
	}
	for seed := uint64(1); seed <= uint64(draws(12, 40)); seed++ {
		c := newCar(20+int(seed%15), seed)
		c.moveRear(0.3, 12+float64(seed%20))
		in := c.measure(0.7)
		in.Impact = "rear"
		if r, _ := Run(in); len(r.Hypotheses) == 0 {
			t.Errorf("seed %d: an end that turned is called a bend", seed)
		}
	}
}

// Bends of 4 to 10 mm, of which many do not show by themselves: nothing that is firm is
// wrong in the frame in which the front stood, but for one of 150 at most whose readings
// show hardly any bend. In the first two the curvature is below the test that must show
// it, and the bend explains the readings better than every split.
func TestBendsTooSmallToShow(t *testing.T) {
	seeds := []uint64{152, 279}
	for seed := range uint64(draws(12, 300)) {
		seeds = append(seeds, 2000+seed)
	}
	wrong := 0
	for _, seed := range seeds {
		c, in := bentWhole(seed, 14+int(seed%30))
		if seed >= 2000 {
			most := 0.0
			for i := range c.shift {
				most = math.Max(most, c.shift[i].Norm())
			}
			for i := range c.shift {
				c.shift[i] = c.shift[i].Scale((4 + 6*float64(seed%7)/6) / most)
			}
			impact := in.Impact
			in = c.measure(0.7)
			in.Impact = impact
		}
		r, _ := Run(in)
		if bad := firmAndWrong(c, r); len(bad) > 0 {
			t.Logf("seed %d: firm and wrong: %v", seed, bad)
			wrong++
		}
	}
	if wrong > len(seeds)/150 {
		t.Errorf("%d of %d runs are firm and wrong", wrong, len(seeds))
	}
}

// The labels of all twins exchanged on bodies whose sides differ by some
// centimetres: named, blocked, nothing firm.
func TestExchangedSidesOfAnAsymmetricBody(t *testing.T) {
	missed, of := 0, draws(15, 40)
	for seed := uint64(1); seed <= uint64(of); seed++ {
		_, in := mirrored(seed)
		r, _ := Run(in)
		if !noted(r, "measure.suspect-mirror", "set-up S1") {
			missed++
		}
		if firmPoints(r) > 0 {
			t.Errorf("seed %d: something is firm", seed)
		}
	}
	if missed > 0 {
		t.Errorf("the exchange is not named in %d of %d", missed, of)
	}
}
