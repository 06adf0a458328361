package measure

import (
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

const (
	// apartScatter is the misfit up to which a point outside every block counts for
	// the scatter of the readings: the border of a block for a standard uncertainty
	// stated half as large as it is.
	apartScatter = 65
	// alphaBlocks and alphaAll are the probabilities of the misfit within the
	// blocks, and of that with the points just outside them, below which the stated
	// uncertainty is too small: blocks put out what disagrees until the rest does
	// not, so that neither says enough by itself.
	alphaBlocks, alphaAll = 0.05, 1e-6
	// alphaTight is the probability of a misfit within the blocks as small as it is
	// from which the stated uncertainty is remarked as too large.
	alphaTight = 1e-4
)

// scatter is the test of the residuals as a whole (variance factor): within the
// blocks of the best split, and with the points just outside them. It says why
// nothing can be firm when the readings scatter more than their stated
// uncertainty, and remarks when they scatter far less.
func (p *problem) scatter(x *geom.Matcher, part *geom.Partition, r *Result) {
	inside, all := x.Scatter(part, apartScatter)
	if inside.DOF <= 0 {
		return
	}
	within, together := geom.ChiSquareTail(inside.Chi2, inside.DOF), geom.ChiSquareTail(all.Chi2, all.DOF)
	factor := math.Sqrt(all.Chi2 / float64(all.DOF))
	switch {
	case within < alphaBlocks && together < alphaAll:
		said := diag.Say("measure.scatter", "the readings scatter about {times:.1f} times as much as their stated uncertainty, also where nothing moved as one", factor)
		r.Why = append(r.Why, said.Text)
		p.note(diag.Caution, "readings", diag.Say("measure.uncertainty-small", "{scatter} (chi-square {chi2:.0f} with {freedom} degrees of freedom)", said, all.Chi2, all.DOF),
			"check the uncertainty of the device; read some points again in another set-up")
	case within > 1-alphaTight:
		p.note(diag.Info, "readings", diag.Say("measure.uncertainty-large", "the readings agree {times:.1f} times better than their stated uncertainty; smaller shifts would show with the true one", math.Sqrt(float64(inside.DOF)/inside.Chi2)),
			"check the uncertainty of the device")
	}
}

// Bounds of the estimate of the manufacturing spread.
const (
	// leastForSpread is the least number of points in blocks for an estimate.
	leastForSpread = 6
	// spreadRounds is how often the spread is doubled, from twice the standard
	// uncertainty of the readings; all that is looked for lies between.
	spreadRounds = 5
)

// estimateSpread gives points without a manufacturing spread that of the vehicle's
// own points against the rigid blocks they form. The spread is doubled until the
// blocks it makes scatter less than it allows, so that it is not estimated from
// points chosen to agree. A few points without one among others that have it get the
// middle one of those given.
//
//	s^2 = f (u^2 + s0^2) - u^2
//
// with u the middle standard uncertainty of the readings, s0 the spread tried and f
// the median misfit over that of chi-square with 3 degrees of freedom, raised for
// the six parameters of each block.
func (p *problem) estimateSpread(e *epoch) {
	var unknown []int
	var u2 []float64
	for i, pt := range e.points {
		if !p.in.Points[pt].Std.Known {
			unknown = append(unknown, i)
			u2 = append(u2, e.cov[i].Trace()/3)
		}
	}
	if p.unknown == 0 {
		return
	}
	if given := p.givenSpreads(); len(given) > 0 && (len(unknown) < leastForSpread || 2*len(unknown) < len(e.points)) {
		p.setSpread(given[len(given)/2])
		p.note(diag.Info, "points", diag.Say("measure.spread-taken", "no manufacturing spread is given for {unknown} of {points} control points; {spread:.2f mm} is taken, the middle one of those given", p.unknown, len(p.in.Points), given[len(given)/2]),
			"with the true spread the figures are surer")
		return
	}
	if len(unknown) < leastForSpread || 2*len(unknown) < len(e.points) {
		p.note(diag.Info, "points", diag.Say("measure.no-spread", "no manufacturing spread is given for {unknown} of {points} control points; it is taken as 0", p.unknown, len(p.in.Points)),
			"with the true spread fewer points may count as moved")
		return
	}
	slices.Sort(u2)
	u := math.Sqrt(u2[len(u2)/2])
	tried, found := 2*u, -1.0
	for range spreadRounds {
		p.setSpread(tried)
		x, err := geom.NewMatcher(p.matches(e))
		if err != nil {
			break
		}
		x.Work = p.in.Work
		parts := x.Partitions(minBlock, p.in.Seed).Partitions
		if len(parts) == 0 {
			tried *= 2
			continue
		}
		f, n := x.MedianScatter(&parts[0])
		if n < leastForSpread {
			tried *= 2
			continue
		}
		if s := root(float64(f*(float64(u*u)+float64(tried*tried))) - float64(u*u)); s < 0.8*tried {
			found = s
			break
		}
		tried *= 2
	}
	if found < 0 {
		p.setSpread(0)
		p.note(diag.Caution, "points", diag.Say("measure.no-spread-found", "no manufacturing spread is given, and the points do not show one: they are taken as built to their nominal places"), "give the spread of the control points")
		return
	}
	p.setSpread(found)
	p.note(diag.Info, "points", diag.Say("measure.spread-estimated", "no manufacturing spread is given for {unknown} of {points} control points; {spread:.2f mm} is taken, as those that kept their places against one another show", p.unknown, len(p.in.Points), found),
		"with the true spread the figures are surer")
}

// setSpread gives every point without a manufacturing spread this one.
func (p *problem) setSpread(s float64) {
	for i, pt := range p.in.Points {
		if !pt.Std.Known {
			p.std0[i] = s
		}
	}
}

// givenSpreads are the manufacturing spreads that the points have, in order.
func (p *problem) givenSpreads() []float64 {
	var out []float64
	for i, pt := range p.in.Points {
		if pt.Std.Known {
			out = append(out, p.std0[i])
		}
	}
	slices.Sort(out)
	return out
}
