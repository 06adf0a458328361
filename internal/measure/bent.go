package measure

import (
	"math"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/normal"
)

// bendPrior is what a bend costs beside its parameters, 2 ln 100: of a hundred
// vehicles that moved at most one is bent without a part that kept its form. For what
// is firm it is one of ten, bendPriorOpen, where neither reference points nor the impact
// speak for a part that stood (both customary, no source). Without it a bend of some tenths of a millimetre, which
// every set of readings leaves possible, would speak against every point at the ends.
var bendPrior, bendPriorOpen = 2 * elem.Log(100), 2 * elem.Log(10)

// leastForBend is the least number of points that a bend is fitted to.
const leastForBend = 6

// bentBlock is an explanation beside the rigid ones: points that are taken for one
// rigid block are bent, u = a x^2, with the weight of that against the best split.
// It says nothing of a point but how far the bend may have carried it.
type bentBlock struct {
	geom.Bend
	weight   float64
	tangents []geom.Vec // places at which the body may have stood
}

// bentBlocks are the bends of all points, weighed against the best split, and of the
// steady block of a hypothesis, weighed against its being rigid. Where evidence chose
// the steady block the end that lies away from a recorded impact is taken to have
// stood, otherwise either end may have.
func (p *problem) bentBlocks(e *epoch, x *geom.Matcher, c *candidate, near []geom.Partition, chosen bool) []bentBlock {
	if len(near) == 0 {
		return nil
	}
	var all geom.Set
	for i := range e.points {
		all.Put(i)
	}
	unit := elem.Log(float64(3 * x.Len()))
	out := p.bentBlock(e, x, all, near[0].BIC, unit, chosen)
	if chi2, ok := x.Misfit(c.steady); ok && c.steady != all {
		out = append(out, p.bentBlock(e, x, c.steady, chi2+float64(6*unit), unit, chosen)...)
	}
	return out
}

// bentBlock are the bends of one set against what it costs otherwise.
func (p *problem) bentBlock(e *epoch, x *geom.Matcher, set geom.Set, cost, unit float64, chosen bool) []bentBlock {
	if set.Len() < leastForBend {
		return nil
	}
	var out []bentBlock
	prior := bendPriorOpen
	if chosen {
		prior = bendPrior
	}
	for _, b := range x.Bends(&set) {
		weight := elem.Exp(math.Min(0, cost-b.Chi2-float64(float64(b.Parameters)*unit)-prior) / 2)
		if weight < negligible {
			continue
		}
		out = append(out, bentBlock{Bend: b, weight: weight, tangents: p.tangents(e, b.Along, &set, chosen)})
	}
	return out
}

// tangents are the ends of a set along an axis: that away from the impact, or both.
func (p *problem) tangents(e *epoch, along geom.Vec, set *geom.Set, chosen bool) []geom.Vec {
	var low, high geom.Vec
	for n, i := range set.Members() {
		at := p.in.Points[e.points[i]].At()
		if n == 0 || along.Dot(at) < along.Dot(low) {
			low = at
		}
		if n == 0 || along.Dot(at) > along.Dot(high) {
			high = at
		}
	}
	if away := p.awayFromImpact().Dot(along); chosen && away != 0 {
		if away > 0 {
			return []geom.Vec{high}
		}
		return []geom.Vec{low}
	}
	return []geom.Vec{low, high}
}

// beyond is the probability that the bend carried a place further than limit from
// where it would be, had the body stayed straight from one of the tangents on.
func (b *bentBlock) beyond(at geom.Vec, limit float64) float64 {
	most := 0.0
	for _, t := range b.tangents {
		if sag, std := b.Sag(at, t); std > 0 {
			most = math.Max(most, normal.CDF((sag-limit)/std))
		}
	}
	return most
}

// stretchPrior is what a stretch of the whole costs beside its parameters, 2 ln 1000:
// of a thousand measurements at most one is made with an axis out of scale
// (customary, no source).
var stretchPrior = 2 * elem.Log(1000)

// stretched is the weight, against the best split, of a body that stretched and sheared
// as a whole: then nothing moved, and what is called so is a device that drifted or an
// axis out of scale. Where that explains the readings better than the best split the
// scale of the device is suspected: points that stand off by as much as they lie along
// an axis that is out of scale, or written in another unit, look like a section that moved.
func (p *problem) stretched(e *epoch, x *geom.Matcher, near []geom.Partition, r *Result) float64 {
	if x == nil || e.base == none || len(near) == 0 || e.together != nil && len(e.points) > togetherUpTo {
		return 0
	}
	s, ok := x.Stretch()
	if !ok || geom.ChiSquareTail(s.Chi2, s.DOF) < geom.AlphaBlock {
		return 0
	}
	cost := s.Chi2 + float64(geom.StretchParameters*elem.Log(float64(3*x.Len()))) + stretchPrior
	if cost < near[0].BIC {
		r.Suspects = append(r.Suspects, Suspect{Kind: SuspectScale, Setup: p.setups[e.base].id, Points: []body.PointID{},
			Said: diag.Say("measure.suspect-scale", "all points fit when the body is stretched or sheared as a whole: the scale or the unit of one axis of the device, or a body out of square from end to end")})
	}
	return elem.Exp((near[0].BIC - cost) / 2)
}
