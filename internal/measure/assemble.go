package measure

import (
	"math"
	"slices"
	"sort"

	"fettle/internal/body"
	"fettle/internal/elem"
	"fettle/internal/geom"
)

// Results are rounded far below any meaning, so that machines that differ in
// the last bit print the same.
func roundMM(v float64) float64  { return roundTo(v, 1e8) }
func roundDeg(v float64) float64 { return roundTo(v, 1e11) }
func roundP(v float64) float64   { return roundTo(v, 1e9) }

func roundTo(v, unit float64) float64 {
	if !finite(v) {
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
		d[k] = root(d[k])
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
	lone := p.lone(e, c)
	for _, pt := range order {
		i := e.slot[pt]
		r := p.pointResult(e, c, pt, i)
		if lone[i] {
			r.needs(Need{Kind: NeedsReadingAgain})
		}
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
		r.Limit = "no reading controls the point"
		r.needs(Need{Kind: NeedsCoordinates})
		return r
	}
	cov := c.cov[i].Symmetric()
	r.ShiftMM, r.StdMM = roundVec(c.shift[i], roundMM), roundVec(stds(cov), roundMM)
	for k := range cov {
		r.CovMM2[k] = roundVec(cov[k], roundMM)
	}
	r.ExpandedMM = roundVec(stds(cov).Scale(coverage), roundMM)
	r.T2 = roundP(c.t2[i])
	r.Detectable = roundMM(c.detectable(i, p.pointTest(len(e.points)).Noncentrality))
	v := p.verdict(e, c, i)
	r.Tolerance, r.Probability, r.Limit = v.Verdict, roundP(v.Probability), v.Limit
	at := &c.place[i]
	if at.cov.Finite() {
		r.FromNominal, r.FromNominalStd = roundVec(at.off, roundMM), roundVec(stds(at.cov), roundMM)
		for k := range at.cov {
			r.FromNominalCov[k] = roundVec(at.cov[k], roundMM)
		}
	}
	if at.cov.Finite() {
		r.needs(needsFor(v, p.in.Points[pt], at.off, at.cov, at.fixed, p.conf))
	}
	if !c.proven[i] && r.Needs == "" {
		r.needs(Need{Kind: NeedsSteadyPoints})
	}
	return r
}

// detectable is the size from which a shift of point i shows; 0 when none would.
func (c *candidate) detectable(i int, noncentrality float64) float64 {
	seen := c.place[i].seen
	if !seen.Finite() {
		return 0
	}
	return math.Sqrt(noncentrality * math.Max(0, largestVariance(seen)))
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
		tra[k] = root(cov[k][k])
		rot[k] = root(cov[k+3][k+3])
	}
	return Pose{
		RotationDeg: roundVec(geom.RotationVector(m.R).Scale(degree), roundDeg), TranslationMM: roundVec(m.T, roundMM),
		RotationStd: roundVec(rot.Scale(degree), roundDeg), TranslationStd: roundVec(tra, roundMM),
		Scale: roundDeg(f.Scale), ScaleStd: roundDeg(f.ScaleStd),
	}
}

// firm marks the points about which nothing that could be true says otherwise:
// the explanations that contradict what is said of a point, each weighed by how
// well it explains the readings, stay below unlikely together. stretch is the weight
// of the one under which nothing moved.
func (p *problem) firm(e *epoch, x *geom.Matcher, cs []*candidate, ch *choice, near []geom.Partition, stretch float64, r *Result) {
	rivals := p.rivals(e, x, cs, ch, near, r)
	bends := p.bentBlocks(e, x, cs[ch.order[0]], near, ch.datum[0] != ByMajority)
	lone := make([]bool, len(e.points)) // under any that survives
	for h, i := range ch.order {
		if ch.survives[h] {
			for k, v := range p.lone(e, cs[i]) {
				lone[k] = lone[k] || v
			}
		}
	}
	for h := range r.Hypotheses {
		c := cs[ch.order[h]]
		own := p.groupMotions(e, c)
		for k := range r.Hypotheses[h].Points {
			pt := &r.Hypotheses[h].Points[k]
			i := e.slot[p.index[pt.ID]]
			pt.Firm = !lone[i] && !(pt.Moved && stretch >= unlikely) && c.cov[i].Finite() && c.proven[i] && (pt.Moved || !own[i].went()) && p.borneOut(e, rivals, bends, c, i, pt.Detectable)
		}
	}
}

// borneOut says that what candidate c says of point i holds under all rivals but
// for unlikely ones, and its limit for all of them weighed together.
func (p *problem) borneOut(e *epoch, rivals []rival, bends []bentBlock, c *candidate, i int, detectable float64) bool {
	against := 0.0
	for k := range bends {
		if !c.moved[i] {
			against += float64(bends[k].weight * bends[k].beyond(p.in.Points[e.points[i]].At(), detectable))
		}
	}
	speaks := make([]float64, len(rivals)) // the part of its weight with which it speaks against it
	for k := range rivals {
		v := &rivals[k]
		if v.leavesInDoubt(c, i, detectable) || v.moved[i] != c.moved[i] {
			speaks[k] = v.weight
		} else if !c.moved[i] {
			speaks[k] = float64(v.weight * v.along[i].beyond(detectable))
		}
		against += speaks[k]
	}
	if against >= unlikely {
		return false
	}
	all, within := 0.0, 0.0
	own := p.verdict(e, c, i).Verdict
	for k := range rivals {
		v := &rivals[k]
		limit := p.verdict(e, v.candidate, i)
		if opposite(limit.Verdict, own) {
			against += v.weight - speaks[k]
		}
		all += v.weight
		within += float64(v.weight * limit.Probability)
	}
	if own == Met {
		pt := p.in.Points[e.points[i]]
		tol := smallestTolerance(pt.Tol, pt.TolX, pt.TolY, pt.TolZ)
		for k := range bends {
			b := &bends[k]
			beyond := b.beyond(pt.At(), tol)
			if beyond >= p.conf {
				against += b.weight
			}
			all += b.weight
			within += float64(b.weight * (1 - beyond))
		}
	}
	switch within /= all; own {
	case Met:
		return against < unlikely && within >= p.conf
	case NotMet:
		return against < unlikely && within <= 1-p.conf
	}
	return against < unlikely
}

// doubtfulWeight is the weight from which it is enough that an explanation leaves
// a point in doubt; one below that must say the opposite.
const doubtfulWeight = 0.01

// nearWeight is the weight of a split that is near the best, rivalBIC behind it.
var nearWeight = elem.Exp(-rivalBIC / 2)

// leavesInDoubt says that v fits nearly as well as the best and does not bear out
// what c says: it is not sure whether the point moved, or has it in a block that
// moved, which near the best is enough, and otherwise when three standard deviations
// of its motion there reach detectable. A point called moved under both, one of them
// not sure of it, is in doubt near the best: below, the weight times the level
// of being called moved is less than anything counts.
func (v *rival) leavesInDoubt(c *candidate, i int, detectable float64) bool {
	if v.weight <= doubtfulWeight {
		return false
	}
	near := v.weight > nearWeight
	if c.moved[i] {
		return !v.sure[i] && (near || !v.moved[i])
	}
	return v.t2[i] > criticalPoint && !v.sure[i] || v.along[i].went() && (near || v.along[i].reaches(detectable))
}

// opposite says that of two verdicts one is met and the other not met.
func opposite(a, b Verdict) bool { return a != b && a != Undecided && b != Undecided }

// rival is an explanation beside others, with its weight against the best split
// and how far each point went along with a block that moved.
type rival struct {
	*candidate
	weight float64
	along  []ride
}

func (p *problem) rival(e *epoch, c *candidate, weight float64) rival {
	return rival{c, weight, p.groupMotions(e, c)}
}

// contradicts says that under v point i has moved where c says that it has not,
// or the reverse. A point that goes along with a block that moved contradicts "no
// move larger than detectable would have been missed" by the motion of the block
// there with three standard deviations.
func (v *rival) contradicts(c *candidate, i int, detectable float64) bool {
	return v.moved[i] != c.moved[i] || (!c.moved[i] && v.along[i].reaches(detectable))
}

// ride is how far a block carried a point against the steady one, with the largest
// standard deviation of that in any direction; zero for a point that went along with none.
type ride struct{ by, std float64 }

func (m ride) went() bool { return m.std > 0 }

// reaches says that the motion may be as large as a limit: with three standard deviations.
func (m ride) reaches(limit float64) bool { return m.by+float64(3*m.std) > limit }

// beyond is the probability that the motion is larger than a limit, as if it were
// as uncertain in every direction as in the worst.
func (m ride) beyond(limit float64) float64 {
	if !m.went() {
		return 0
	}
	return 1 - geom.NonCentralCDF3(limit/m.std, m.by/m.std)
}

// groupMotions is for every point that moved with a block how far that carried it.
func (p *problem) groupMotions(e *epoch, c *candidate) []ride {
	out := make([]ride, len(e.points))
	for k := range c.groups {
		g := &c.groups[k]
		rel := c.fit.Motion.Inverse().Compose(g.fit.Motion)
		for _, i := range g.set.Members() {
			at := p.in.Points[e.points[i]].At()
			cov := c.fit.PredictCov(at).Add(g.fit.PredictCov(at))
			out[i] = ride{rel.Apply(at).Dist(at), root(largestVariance(cov))}
		}
	}
	return out
}

// nearestBlock is the block of a split that has most points of a set.
func nearestBlock(part *geom.Partition, set *geom.Set) int {
	best := 0
	for k := range part.Blocks {
		if part.Blocks[k].Set.Common(set) > part.Blocks[best].Set.Common(set) {
			best = k
		}
	}
	return best
}

// rivals are the surviving hypotheses and the blocks of every other split that
// could have been the steady one in their place: the block nearest to a
// surviving one, and every other that neither the reference points nor the impact
// speak against and that is not chance.
func (p *problem) rivals(e *epoch, x *geom.Matcher, cs []*candidate, ch *choice, near []geom.Partition, r *Result) []rival {
	var out []rival
	for h, i := range ch.order {
		if !r.Hypotheses[h].Survives {
			continue
		}
		out = append(out, p.rival(e, cs[i], 1))
		for n := 1; n < len(near); n++ {
			weight := elem.Exp((near[0].BIC - near[n].BIC) / 2)
			if weight < negligible {
				continue
			}
			best, hit := nearestBlock(&near[n], &cs[i].steady), p.hitOf(e, ch, cs, &near[n])
			for k := range near[n].Blocks {
				if k != best && (ch.reference != none || slices.Contains(hit, k) || h > 0 || near[n].Blocks[k].Gain < -unlikelyBIC) {
					continue
				}
				if c, ok := p.examine(e, x, &near[n], k); ok {
					out = append(out, p.rival(e, c, weight))
				}
			}
		}
	}
	return out
}

// negligible is the weight below which a split is not looked at: all that are kept
// together do not reach unlikely.
const negligible = unlikely / 20

// hitOf are the blocks of a split that the impact excludes; none when it excludes none.
// What lies mostly in the blocks that the impact excludes in the first split is what was
// hit also when another block took some of the points nearest to the impact out of it,
// up to half of them, where a clear majority stood by the first split.
func (p *problem) hitOf(e *epoch, ch *choice, cs []*candidate, part *geom.Partition) []int {
	if len(ch.excluded) == 0 || len(part.Blocks) < 2 {
		return nil
	}
	var sets []geom.Set
	var all, struck, first geom.Set
	for k := range part.Blocks {
		sets = append(sets, part.Blocks[k].Set)
		all.Join(&part.Blocks[k].Set)
	}
	hit := p.hitBlocks(e, sets)
	for _, k := range hit {
		struck.Join(&sets[k])
	}
	for _, i := range ch.excluded {
		first.Join(&cs[i].steady)
	}
	held, of := p.hitPoints(e, &struck, &all)
	clear := 4*cs[ch.order[0]].steady.Len() >= 5*first.Len()
	if wasHit(held, of, clear, struck.Common(&first), struck.Len()) {
		return hit
	}
	return nil
}

// wasHit says that blocks that hold so many of the points nearest to the impact were hit: most
// of them; or the half, where a clear majority stood and three quarters of the blocks lie in
// what was hit by the first split.
func wasHit(held, of int, clear bool, common, size int) bool {
	return 2*held > of || clear && 2*held == of && 4*common >= 3*size
}
