package measure

import (
	"math"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/unit"
)

// Law: the place of a steady point is its shift against the fit of the other
// steady points, and its uncertainty that of its readings and of that fit: in
// the short way and in the common adjustment. Constructed, seeds in the calls.
func TestPlaceIsFitWithoutThePoint(t *testing.T) {
	for name, in := range map[string]Input{"uneven": unevenInput(), "rear": readExample(t, "rear-section.txt").in} {
		p := prepare(in)
		e := p.locate()
		r := p.emptyResult()
		cs, _, x := p.search(e, &r)
		long := *cs[0]
		long.place, long.proven = nil, nil
		if !p.adjustJoint(e, &long) {
			t.Fatal("no adjustment")
		}
		p.judge(e, &long)
		for _, i := range cs[0].steady.Members() {
			rest := cs[0].steady
			rest.Drop(i)
			b, err := x.Evaluate(rest)
			if err != nil {
				t.Fatal(err)
			}
			d, cov := x.Shift(&b.Fit, i, false)
			cov = cov.Sub(geom.Isotropic(p.std0[e.points[i]]))
			for what, got := range map[string]place{" short": cs[0].place[i], " adjusted": long.place[i]} {
				near(t, name+what+" place", got.off.Dist(d), 0, 2e-3)
				for k := range cov {
					near(t, name+what+" covariance", got.cov[k].Dist(cov[k]), 0, 2e-3*cov.Trace())
				}
			}
		}
	}
}

// spread makes a car of 14 points built with a spread of 1 mm per coordinate
// and read with 0.3 mm; the first stands where the caller says.
func spreadCar(seed uint64, first geom.Vec) (*car, Input) {
	c := newCar(14, seed)
	for i := range c.at {
		c.shift[i] = c.gauss()
	}
	c.shift[0] = first
	in := c.measure(0.3)
	for i := range in.Points {
		in.Points[i].Std = unit.Some(1.0)
	}
	return c, in
}

// The manufacturing spread of a point says nothing against its having been
// measured well: with a limit of 3 mm and readings of 0.3 mm, 1.2 mm off is
// met and 5.2 mm off is not met, but with a spread of 1 mm neither has moved
// for certain. u is 0.3 mm and about 0.45 mm of the frame, 1.04/sqrt(13) and
// its turn. Constructed; JCGM 106:2012 clause 7 asks for the uncertainty of the
// measured value, which the spread is not.
func TestSpreadIsNoUncertaintyOfThePlace(t *testing.T) {
	for _, c := range []struct {
		off geom.Vec
		v   Verdict
	}{{geom.Vec{0.9, -0.6, 0.5}, Met}, {geom.Vec{0, 5.2, 0}, NotMet}} {
		_, in := spreadCar(5, c.off)
		r, _ := Run(in)
		h, _ := r.Best()
		p, ok := h.Point("P01")
		if !ok || p.Moved || p.Tolerance != c.v {
			t.Errorf("off by %v: moved %v, tolerance %v (%.3f), from nominal %v ± %v, t2 %.1f", c.off, p.Moved, p.Tolerance, p.Probability, p.FromNominal, p.FromNominalStd, p.T2)
		}
		if p.StdMM[0] < 0.8 || p.FromNominalStd.Norm() > 0.75*p.StdMM.Norm() {
			t.Errorf("std of the shift %v, of the place %v", p.StdMM, p.FromNominalStd)
		}
	}
}

// The 95 % region of the place holds where the point stands in 95 % of all
// cars, spread and all. Up to 500 cars of 14 points; seeds from 500. The bounds are
// three standard deviations of a share over so many cars whose points go together.
func TestPlaceCoverageSeed500(t *testing.T) {
	inside, all := 0, 0
	limit := geom.ChiSquareQuantile(0.05, 3)
	of := draws(100, 500)
	for seed := uint64(500); seed < 500+uint64(of); seed++ {
		c, in := spreadCar(seed, geom.Vec{1, 0, 0})
		r, _ := Run(in)
		h, ok := r.Best()
		if !ok {
			t.Fatal("no hypothesis")
		}
		for i, p := range h.Points {
			if v, ok := geom.Mahalanobis(p.FromNominal.Sub(c.shift[i]), p.FromNominalCov); ok {
				all++
				if v <= limit {
					inside++
				}
			}
		}
	}
	near(t, "share inside", float64(inside)/float64(all), 0.95, 0.015*math.Sqrt(500/float64(of)))
	if all < of*138/10 {
		t.Errorf("%d statements", all)
	}
}
