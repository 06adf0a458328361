package measure

import (
	"math"
	"slices"
	"testing"

	"fettle/internal/body"
)

// few lengths between few points, of which one or two moved far: the solution at
// the nominal places is one of several. Nothing firm is wrong.
func farLengths(seed uint64) (*car, Input) {
	n := 6 + int(seed%5)
	c := newCar(n, seed)
	c.moveAlone(int(seed%3), 100+600*c.rng.Float64())
	in := Input{Points: c.measure(1).Points, Impact: "unknown"}
	var pairs [][2]int
	for i := range n {
		for j := range i {
			pairs = append(pairs, [2]int{i, j})
		}
	}
	c.rng.Shuffle(len(pairs), func(i, j int) { pairs[i], pairs[j] = pairs[j], pairs[i] })
	for _, s := range pairs[:min(len(pairs), 3*n-6+int(seed/2%5))] {
		d := c.at[s[0]].Add(c.shift[s[0]]).Dist(c.at[s[1]].Add(c.shift[s[1]]))
		in.Readings = append(in.Readings, spanReading("T", "length", in.Points[s[0]].ID, in.Points[s[1]].ID, d+0.5*c.rng.NormFloat64(), 0.5))
	}
	return c, in
}

// firmElsewhere is how many firm points of a result have moved unseen, have not
// moved, or stand elsewhere than the result says.
func firmElsewhere(c *car, in Input, r Result) int {
	n := 0
	for _, h := range r.Hypotheses {
		for _, p := range h.Points {
			i := slices.IndexFunc(in.Points, func(q body.Point) bool { return q.ID == p.ID })
			d := c.shift[i].Norm()
			if p.Firm && (!p.Moved && d > p.Detectable || p.Moved && (d == 0 || p.ShiftMM.Dist(c.shift[i]) > 6*math.Sqrt(largestVariance(p.CovMM2)))) {
				n++
			}
		}
	}
	return n
}

func TestLengthsThatFitAnotherFormSeeds1(t *testing.T) {
	wrong, firm, of := 0, 0, draws(40, 400)
	for seed := uint64(1); seed <= uint64(of); seed++ {
		c, in := farLengths(seed)
		r, _ := Run(in)
		if firmElsewhere(c, in, r) > 0 {
			wrong++
			t.Logf("seed %d", seed)
		}
		firm += firmPoints(r)
	}
	t.Logf("%d points firm", firm)
	if wrong > 0 {
		t.Errorf("%d of %d runs are firm and wrong", wrong, of)
	}
}

// Lengths between nominal places of which nothing moved: the adjustment does not
// wander off to another form.
func TestLengthsOfAStillBody(t *testing.T) {
	for seed := uint64(1); seed <= uint64(draws(20, 60)); seed++ {
		c := newCar(5+int(seed%4), seed)
		in := Input{Points: c.measure(1).Points}
		for i := range c.at {
			for j := range i {
				in.Readings = append(in.Readings, spanReading("T", "length", in.Points[i].ID, in.Points[j].ID, c.at[i].Dist(c.at[j])+0.5*c.rng.NormFloat64(), 0.5))
			}
		}
		r, _ := Run(in)
		if h, ok := r.Best(); !ok || len(h.Moved) > 0 {
			t.Errorf("seed %d: moved %v", seed, h.Moved)
		}
	}
}

// Lengths that all agree with the nominal places while something is called moved: no
// result says so, whatever the adjustment found.
func TestLengthsThatAgreeWithNothingMoved(t *testing.T) {
	c := newCar(8, 3)
	in := Input{Points: c.measure(1).Points}
	for i := range c.at {
		for j := range i {
			in.Readings = append(in.Readings, spanReading("T", "length", in.Points[i].ID, in.Points[j].ID, c.at[i].Dist(c.at[j])+0.3*c.rng.NormFloat64(), 0.3))
		}
	}
	p := prepare(in)
	e := p.locate()
	r := p.emptyResult()
	cs, _, _ := p.search(e, &r)
	if why := p.otherSolutions(e, cs[0]); len(why) > 0 {
		t.Errorf("nothing is called moved: %v", why)
	}
	cs[0].moved[2] = true
	if why := p.otherSolutions(e, cs[0]); len(why) != 1 || why[0] != "every length agrees with nothing having moved" {
		t.Errorf("P03 is called moved: %v", why)
	}
}
