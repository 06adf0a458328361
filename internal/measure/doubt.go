package measure

import (
	"fmt"
	"math"
	"slices"
)

// Rules that say "ambiguous".
const (
	// minSpan is the least share of the measured length that the steady block
	// must span.
	minSpan = 0.40
	// minWidth is the least ratio of singular values of the steady block, the
	// square of its width over its length: below it the points lie so nearly on
	// one line that the turn about it is weak.
	minWidth = 0.005
	// halfTolerance: the uncertainty that the pose alone gives to a point must
	// stay below this share of its tolerance.
	halfTolerance = 0.5
	// maxChance is the expected number of chance groups of that size from which
	// the steady block may be one (1 % by the inequality of Markov). Most points
	// do not fit together by chance.
	maxChance = 0.01
)

// few is a number of groups for a sentence.
func few(v float64) string {
	switch {
	case v >= 1e6:
		return "millions of"
	case v >= 1:
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.2g", v)
}

// explainDoubt adds a sentence for every rule that makes the result ambiguous.
func (p *problem) explainDoubt(e *epoch, cs []*candidate, ch *choice, r *Result) {
	first := cs[ch.order[0]]
	for rank, i := range ch.order {
		if rank > 0 && ch.survives[rank] {
			r.Why = append(r.Why, fmt.Sprintf("the readings fit as well if %s held and %d others moved (difference of BIC %.1f)",
				joinIDs(r.Hypotheses[rank].Steady), len(r.Hypotheses[rank].Moved), cs[i].bic-first.bic))
		}
	}
	if slices.Contains(ch.excluded, ch.reference) {
		r.Why = append(r.Why, "the block that holds the reference points lies nearer to the recorded impact than every other block")
	}
	if ch.order[0] != ch.majority {
		r.Why = append(r.Why, fmt.Sprintf("the steady block chosen by %s is not the largest", ch.datum[0]))
	}
	if 2*first.steady.Len() <= len(e.points) && first.chance > maxChance && ch.datum[0] != ByReference {
		r.Why = append(r.Why, fmt.Sprintf("the steady block may be chance: of %d points that moved one by one about %s groups of %d would fit together as well", len(e.points), few(first.chance), first.steady.Len()))
	}
	if 2*first.steady.Len() <= len(e.points) && ch.datum[0] == ByMajority && len(first.groups) == 0 {
		r.Why = append(r.Why, fmt.Sprintf("no more than half of the points (%d of %d) kept their places against one another, and neither reference points nor the impact speak for them", first.steady.Len(), len(e.points)))
	}
	r.Why = append(r.Why, p.otherSolutions(e, first)...)
	if s := p.span(e, first); s < minSpan {
		r.Why = append(r.Why, fmt.Sprintf("the steady block spans only %.0f %% of the measured length", 100*s))
	}
	if first.fit.Ratio < minWidth {
		r.Why = append(r.Why, fmt.Sprintf("the steady block lies nearly on one line: its width is about %.0f %% of its length", 100*math.Sqrt(first.fit.Ratio)))
	}
	if id, share := p.weakestPrediction(e, first); share > halfTolerance {
		r.Why = append(r.Why, fmt.Sprintf("at %s the steady block leaves an uncertainty of %.0f %% of the tolerance", id, 100*share))
	}
}

// span is the extent of the steady block over that of all points, along the
// longest direction of the latter.
func (p *problem) span(e *epoch, c *candidate) float64 {
	longest, share := 0.0, 0.0
	for k := range 3 {
		var all, own []float64
		for i, pt := range e.points {
			v := p.in.Points[pt].At()[k]
			all = append(all, v)
			if c.steady.Has(i) {
				own = append(own, v)
			}
		}
		if d := width(all); d > longest {
			longest, share = d, width(own)/d
		}
	}
	return share
}

// width is how far numbers reach.
func width(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	return slices.Max(v) - slices.Min(v)
}

// weakestPrediction is the point outside the steady block whose predicted
// place is least certain against its tolerance, and that share.
func (p *problem) weakestPrediction(e *epoch, c *candidate) (string, float64) {
	id, worst := "", 0.0
	for i, pt := range e.points {
		if c.steady.Has(i) {
			continue
		}
		tol := smallestTolerance(p.in.Points[pt].Tol, p.in.Points[pt].TolX, p.in.Points[pt].TolY, p.in.Points[pt].TolZ)
		if tol <= 0 {
			continue
		}
		share := root(largestVariance(c.fit.PredictCov(p.in.Points[pt].At()))) / tol
		if share > worst {
			id, worst = string(p.id(pt)), share
		}
	}
	return id, worst
}
