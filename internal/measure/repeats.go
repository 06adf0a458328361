package measure

import (
	"math"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// repeats tests by themselves the points that were read more than once in a set-up:
// within the adjustment of everything a few of them hardly show. A device that was
// knocked between two readings leaves what it read afterwards looking like a section
// that moved, and only the repeats tell. The worst of several points does not count by
// itself, since it may be misread: without it the others must disagree as well, though
// less will do where all together disagree. Of one point alone a misreading and a knock
// look the same, which matters where something moved as one.
//
// Formula: the sum over the points and their readings q, with covariance C, of
// (q - m)' C^-1 (q - m), m their mean with weights, is chi-square with 3 (readings -
// points) degrees of freedom; without the worst at geom.AlphaBlock, or with all at
// that level and without the worst at restDisagrees. Where something moved as one, which
// a knock explains as well, less will do: movedRepeats and movedRest.
func (p *problem) repeats(c *candidate, r *Result) {
	for k := range p.setups {
		points, again, rest := p.repeated(k)
		if points == 0 || points == 1 && len(c.groups) == 0 {
			continue
		}
		level, rested := geom.AlphaBlock, restDisagrees
		if len(c.groups) > 0 {
			level, rested = movedRepeats, movedRest
		}
		all, others := geom.ChiSquareTail(again.Chi2, again.DOF), geom.ChiSquareTail(rest.Chi2, rest.DOF)
		if others >= geom.AlphaBlock && (all >= level || others >= rested) {
			continue
		}
		said := diag.Say("measure.repeats-disagree", "points that were read again in set-up {setup} are not where they were read before (chi-square {chi2:.0f} with {freedom} degrees of freedom): the device or the vehicle was moved between the readings", p.setups[k].id, again.Chi2, again.DOF)
		r.Why = append(r.Why, said.Text)
		p.note(diag.Caution, "set-up "+p.setups[k].id, said, "measure again what was read after the last good repeat")
	}
}

// restDisagrees is the level at which repeats without the worst point bear out that all
// of them disagree.
const restDisagrees = 0.05

// movedRepeats and movedRest are the levels of both where something moved as one. Of
// knocks of 3 to 9 mm with 0.7 mm and three repeats they leave 1 in 200 untold instead
// of 1 in 50, and one sound measurement in a hundred is to be repeated.
const movedRepeats, movedRest = 0.02, 0.1

// repeated is how many points were read more than once in a set-up, their misfit, and
// that without the worst of several.
func (p *problem) repeated(k int) (points int, sum, rest geom.Misfit) {
	rows := make([][]*coord, len(p.in.Points))
	for j := range p.coords {
		if c := &p.coords[j]; c.setup == k {
			rows[c.point] = append(rows[c.point], c)
		}
	}
	var worst geom.Misfit
	for i := range rows {
		m, ok := scatterOf(rows[i])
		if !ok {
			continue
		}
		points++
		sum.Chi2, sum.DOF = sum.Chi2+m.Chi2, sum.DOF+m.DOF
		if m.Chi2 > worst.Chi2 {
			worst = m
		}
	}
	if rest = sum; points > 1 {
		rest.Chi2, rest.DOF = sum.Chi2-worst.Chi2, sum.DOF-worst.DOF
	}
	return points, sum, rest
}

// scatterOf is the misfit of readings of one point against their mean; false for less
// than two.
func scatterOf(rows []*coord) (geom.Misfit, bool) {
	if len(rows) < 2 {
		return geom.Misfit{}, false
	}
	var weights geom.Mat3
	var weighted geom.Vec
	inverse := make([]geom.Mat3, len(rows))
	for j, c := range rows {
		inv, ok := c.cov().Inverse()
		if !ok {
			return geom.Misfit{}, false
		}
		inverse[j] = inv
		weights, weighted = weights.Add(inv), weighted.Add(inv.MulVec(c.at))
	}
	cov, ok := weights.Inverse()
	if !ok {
		return geom.Misfit{}, false
	}
	mean, out := cov.MulVec(weighted), geom.Misfit{DOF: 3 * (len(rows) - 1)}
	for j, c := range rows {
		d := c.at.Sub(mean)
		out.Chi2 += math.Max(0, d.Dot(inverse[j].MulVec(d)))
	}
	return out, true
}
