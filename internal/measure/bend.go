package measure

import (
	"fmt"
	"math"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// bent says that a bend of the whole body, u = a x^2, explains the readings so much
// better than every split into rigid blocks that these are unlikely: there is no
// steady block then. A bend that comes near the best split is a reason why nothing can be firm.
//
// The bend is compared by the same measure, with the parameters of the bend and
// nothing picked. One that does not show by itself (chi-square, 2 degrees of freedom, at unlikely), also without the points that are
// in no block of the split, or does not fit as well as a block must is none.
func (p *problem) bent(x *geom.Matcher, near []geom.Partition, r *Result) bool {
	if x == nil || x.Len() < 2*minBlock {
		return false
	}
	var all, held geom.Set
	for i := range x.Len() {
		all.Put(i)
	}
	for k := range near[:min(1, len(near))] {
		for m := range near[k].Blocks {
			held.Join(&near[k].Blocks[m].Set)
		}
	}
	cost := inf
	rest := x.Bends(&held)
	for k, b := range x.Bends(&all) {
		if b.Test <= bendShows || geom.ChiSquareTail(b.Chi2, b.DOF) < geom.AlphaBlock {
			continue
		}
		if len(near) == 0 || k < len(rest) && rest[k].Parameters == b.Parameters && rest[k].Test > bendShows {
			cost = math.Min(cost, b.Chi2+float64(float64(b.Parameters)*elem.Log(float64(3*x.Len())))+bendPrior)
		}
	}
	if len(near) == 0 {
		return !math.IsInf(cost, 1)
	}
	if cost >= near[0].BIC+rivalBIC {
		return false
	}
	if cost < near[0].BIC-unlikelyBIC && !p.bendsInPart(x, &all, cost) {
		return true
	}
	r.Why = append(r.Why, fmt.Sprintf("a bend of the whole body explains the readings about as well, and then no part of it was steady (difference of BIC %.1f)", cost-near[0].BIC))
	return false
}

// bendsInPart says that a bend which begins within the body explains the readings
// better than one of the whole: then a part of it was steady.
func (p *problem) bendsInPart(x *geom.Matcher, all *geom.Set, cost float64) bool {
	h, ok := x.HalfBend(all)
	return ok && h.Chi2+float64(float64(h.Parameters)*elem.Log(float64(3*x.Len())))+bendPrior < cost
}

// bendShows is the test value of the curvature from which a bend shows.
var bendShows = geom.ChiSquareQuantile(unlikely, 2)
