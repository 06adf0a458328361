package measure

import (
	"math"
	"sort"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// Results are rounded far below any meaning, so that machines that differ in
// the last bit print the same.
func roundMM(v float64) float64  { return roundTo(v, 1e8) }
func roundDeg(v float64) float64 { return roundTo(v, 1e11) }
func roundP(v float64) float64   { return roundTo(v, 1e9) }

func roundTo(v, unit float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	r := math.Round(v*unit) / unit
	if math.IsInf(r, 0) {
		return v
	}
	return r + 0 // no minus zero
}

func roundVec(v geom.Vec, round func(float64) float64) geom.Vec {
	return geom.Vec{round(v[0]), round(v[1]), round(v[2])}
}

func stds(m geom.Mat3) geom.Vec {
	d := m.Diag()
	for k := range d {
		d[k] = math.Sqrt(math.Max(0, d[k]))
	}
	return d
}

const degree = 180 / math.Pi

// coverage is the factor of the expanded uncertainty of one coordinate: about
// 95 % of a normal distribution (JCGM 100:2008, clause 6.3).
const coverage = 2

func (p *problem) hypothesis(e *epoch, x *geom.Matcher, c *candidate) Hypothesis {
	h := Hypothesis{
		Chi2: roundP(c.chi2), DOF: c.dof, P: roundP(geom.ChiSquareTail(c.chi2, c.dof)),
		Score: roundP(c.score), BIC: roundP(c.bic), Setups: p.poses(e, c),
		Steady: []body.PointID{}, Moved: []body.PointID{}, Points: []PointResult{}, Sections: []Section{},
	}
	order := append([]int(nil), e.points...)
	sort.Ints(order)
	for _, pt := range order {
		i := e.slot[pt]
		r := p.pointResult(e, c, pt, i)
		if r.Steady {
			h.Steady = append(h.Steady, r.ID)
		}
		if r.Moved {
			h.Moved = append(h.Moved, r.ID)
		}
		h.Points = append(h.Points, r)
	}
	for _, g := range append(append([]group(nil), c.groups...), p.sectionGroups(e, x, c)...) {
		h.Sections = append(h.Sections, p.section(e, c, &g))
	}
	return h
}

func (p *problem) pointResult(e *epoch, c *candidate, pt, i int) PointResult {
	r := PointResult{ID: p.id(pt), Steady: c.steady.Has(i), Moved: c.moved[i], Readings: p.readingsOf(pt)}
	if !c.cov[i].Finite() { // a steady point that nothing else controls
		r.Limit, r.Needs = "no reading controls the point", "a coordinate reading of "+string(r.ID)
		return r
	}
	cov := c.cov[i].Symmetric()
	r.ShiftMM, r.StdMM = roundVec(c.shift[i], roundMM), roundVec(stds(cov), roundMM)
	for k := range cov {
		r.CovMM2[k] = roundVec(cov[k], roundMM)
	}
	r.ExpandedMM = roundVec(stds(cov).Scale(coverage), roundMM)
	r.T2 = roundP(c.t2[i])
	if seen := c.place[i].seen; seen.Finite() {
		r.Detectable = roundMM(math.Sqrt(p.pointTest(len(e.points)).Noncentrality * math.Max(0, largestVariance(seen))))
	}
	v := c.judged[i]
	r.Tolerance, r.Probability, r.Limit = v.Verdict, roundP(v.Probability), v.Limit
	at := &c.place[i]
	if at.cov.Finite() {
		r.FromNominal, r.FromNominalStd = roundVec(at.off, roundMM), roundVec(stds(at.cov), roundMM)
		for k := range at.cov {
			r.FromNominalCov[k] = roundVec(at.cov[k], roundMM)
		}
	}
	if at.cov.Finite() {
		r.Needs = needs(p.in.Points[pt], at.off, at.cov, at.fixed, p.conf)
	}
	if !c.proven[i] && r.Needs == "" {
		r.Needs = "more points that kept their places: the steady block leans on " + string(r.ID) + " so much that it could have moved unseen"
	}
	return r
}

func (p *problem) readingsOf(pt int) []string {
	out := []string{}
	seen := map[int]bool{}
	add := func(k int) {
		if !seen[k] {
			seen[k] = true
			out = append(out, p.setups[k].id)
		}
	}
	for _, c := range p.coords {
		if c.point == pt {
			add(c.setup)
		}
	}
	for _, s := range p.spans {
		if s.from == pt || s.to == pt {
			add(s.setup)
		}
	}
	return out
}

func (p *problem) poses(e *epoch, c *candidate) map[string]Pose {
	out := map[string]Pose{}
	if c.joint == nil {
		out[p.setups[e.base].id] = poseOf(c.fit.Motion, c.fit.Pose, &c.fit)
		return out
	}
	for pose, k := range c.joint.nw.setupOf {
		out[p.setups[k].id] = poseOf(c.joint.r.Poses[pose], c.joint.r.PoseCov(pose), &c.fit)
	}
	return out
}

func poseOf(m geom.Rigid, cov geom.Mat6, f *geom.CovFit) Pose {
	var rot, tra geom.Vec
	for k := 0; k < 3; k++ {
		tra[k] = math.Sqrt(math.Max(0, cov[k][k]))
		rot[k] = math.Sqrt(math.Max(0, cov[k+3][k+3]))
	}
	return Pose{
		RotationDeg: roundVec(geom.RotationVector(m.R).Scale(degree), roundDeg), TranslationMM: roundVec(m.T, roundMM),
		RotationStd: roundVec(rot.Scale(degree), roundDeg), TranslationStd: roundVec(tra, roundMM),
		Scale: roundDeg(f.Scale), ScaleStd: roundDeg(f.ScaleStd),
	}
}

// firmMoved is the test value from which "moved" can be firm: chi-square, 3
// degrees of freedom, false-alarm rate 1e-8. The ordinary level of 0.1 % is
// right to prompt a second look, but in a thousand points one false alarm is
// expected. Between the two, neither "moved" nor "not moved" is firm.
var firmMoved = geom.ChiSquareQuantile(1e-8, 3)

// firm marks the points about which everything that survives says the same:
// every surviving hypothesis, and for each of these every split of the points
// that fits almost as well.
func (p *problem) firm(e *epoch, x *geom.Matcher, cs []*candidate, ch *choice, near []geom.Partition, r *Result) {
	rivals := p.rivals(e, x, cs, ch, near, r)
	with := movedBlocks(cs, ch, near)
	for h := range r.Hypotheses {
		for k := range r.Hypotheses[h].Points {
			pt := &r.Hypotheses[h].Points[k]
			i := e.slot[p.index[pt.ID]]
			pt.Firm = cs[ch.order[h]].cov[i].Finite() && cs[ch.order[h]].proven[i] && (pt.Moved || !with.Has(i))
			for _, c := range rivals {
				doubtful := c.t2[i] > criticalPoint && c.t2[i] <= firmMoved
				if c.moved[i] != pt.Moved || doubtful || c.judged[i].Verdict != pt.Tolerance {
					pt.Firm = false
					break
				}
			}
		}
	}
}

// movedBlocks is the points that move with a block in any kept split, a
// surviving hypothesis taken as steady: what is said to have moved as one piece
// is not said to be firmly in its place.
func movedBlocks(cs []*candidate, ch *choice, near []geom.Partition) geom.Set {
	var out geom.Set
	for h, i := range ch.order {
		if !ch.survives[h] {
			continue
		}
		for _, g := range cs[i].groups {
			out.Join(&g.set)
		}
		for n := range near {
			still := nearestBlock(&near[n], &cs[i].steady)
			for k := range near[n].Blocks {
				if k != still {
					out.Join(&near[n].Blocks[k].Set)
				}
			}
		}
	}
	return out
}

// nearestBlock is the block of a split that has most points of a set.
func nearestBlock(part *geom.Partition, set *geom.Set) int {
	best, most := 0, -1
	for k := range part.Blocks {
		if m := part.Blocks[k].Set.Common(set); m > most {
			best, most = k, m
		}
	}
	return best
}

// rivals are the surviving hypotheses and the blocks of every other split that
// could have been the steady one in their place: the block nearest to a
// surviving one where named evidence chose it, otherwise every block that is
// not chance.
func (p *problem) rivals(e *epoch, x *geom.Matcher, cs []*candidate, ch *choice, near []geom.Partition, r *Result) []*candidate {
	named := ch.reference >= 0 || ch.impact >= 0
	var out []*candidate
	for h, i := range ch.order {
		if !r.Hypotheses[h].Survives {
			continue
		}
		out = append(out, cs[i])
		for n := 1; n < len(near); n++ {
			best := nearestBlock(&near[n], &cs[i].steady)
			for k := range near[n].Blocks {
				if k != best && (named || h > 0 || near[n].Blocks[k].Gain < geom.NearBIC) {
					continue
				}
				if c, ok := p.examine(e, x, &near[n], k); ok {
					out = append(out, c)
				}
			}
		}
	}
	return out
}
