package measure

import (
	"math"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

const (
	// minBlock is the least number of points of a block that may be taken as
	// the steady one without the manufacturer naming it; three points always
	// fit almost anything.
	minBlock = 4
	// maxHypotheses is how many hypotheses are shown.
	maxHypotheses = 5
	// maxRounds bounds the rounds in which the joint adjustment settles which
	// points belong to the steady block.
	maxRounds = 8
)

// candidate is one hypothesis while it is worked on. Slices are by place in
// the epoch.
type candidate struct {
	steady geom.Set
	fit    geom.CovFit // of the base set-up
	joint  *joint      // nil when one set-up with coordinates is all there is
	chi2   float64
	dof    int
	score  float64
	bic    float64
	gain   float64    // see geom.Block
	chance float64    // see geom.Block
	shift  []geom.Vec // vehicle axes
	cov    []geom.Mat3
	own    []geom.Mat3 // covariance of the readings of the point alone
	place  []place     // what the tolerance is judged by
	t2     []float64
	moved  []bool
	sure   []bool        // moved, beyond chance: see sureOf
	proven []bool        // the readings of a steady point could have shown that it moved
	judged []Conformance // by verdict, worked out when asked for
	asked  []bool
	groups []group // the other blocks of the partition
}

// joint is the common adjustment of all readings under one hypothesis.
type joint struct {
	nw    *network
	r     *geom.NetResult
	first int // rows from here on are nominal positions, not readings
}

// group is a set of moved points that moved as one.
type group struct {
	set  geom.Set
	fit  geom.CovFit
	gain float64 // see geom.Block
}

// criticalPoint is the border of a block: a point beyond it is left out of the
// steady points, chi-square with 3 degrees of freedom and the false-alarm rate
// geom.AlphaPoint. Being called moved takes more, see PointTest.
var criticalPoint = geom.ChiSquareQuantile(geom.AlphaPoint, 3)

// examine works out a hypothesis: block k of the partition stood still.
func (p *problem) examine(e *epoch, x *geom.Matcher, part *geom.Partition, k int) (*candidate, bool) {
	b := &part.Blocks[k]
	c := &candidate{steady: b.Set, fit: b.Fit, score: b.Score, bic: part.BIC, gain: b.Gain, chance: b.Chance}
	var barred geom.Set
	for o := range part.Blocks {
		if o == k {
			continue
		}
		c.groups = append(c.groups, group{part.Blocks[o].Set, part.Blocks[o].Fit, part.Blocks[o].Gain})
		for _, i := range part.Blocks[o].Set.Members() {
			barred.Put(i)
		}
	}
	if e.simple {
		c.chi2, c.dof = b.Fit.Chi2, b.Fit.DOF
		c.t2 = append([]float64(nil), b.T...)
		for i := range e.points {
			d, cov := x.Shift(&c.fit, i, c.steady.Has(i))
			c.shift, c.cov = append(c.shift, d), append(c.cov, cov)
			c.own = append(c.own, e.cov[i].Turn(c.fit.Motion.R.Transpose()))
		}
	} else if !p.settleJoint(e, c, &barred) {
		return nil, false
	}
	p.judge(e, c)
	c.sure = p.sureOf(e, x, c)
	return c, true
}

// firmMoved is the test value from which "moved" can be firm for a point by itself:
// chi-square, 3 degrees of freedom, false-alarm rate 1e-8. The ordinary level of
// 0.1 % is right to prompt a second look, but in a thousand points one false alarm
// is expected. Between the two, neither "moved" nor "not moved" is firm.
var firmMoved = geom.ChiSquareQuantile(1e-8, 3)

// sureOf says of every point that it moved beyond a false-alarm rate of 1e-8: by its
// own reading, or by that of the others of a block which chance does not explain.
// The second is asked of a point that is called moved by its own reading, fits that
// block and has a neighbour in it: the others, which are a block without it and half of
// them called moved, must have moved by so much at its place.
func (p *problem) sureOf(e *epoch, x *geom.Matcher, c *candidate) []bool {
	out := make([]bool, len(e.points))
	for i, t := range c.t2 {
		out[i] = c.moved[i] && (t > firmMoved || p.carried(e, x, c, i))
	}
	return out
}

// calledMoved is how many points of a set are called moved.
func (c *candidate) calledMoved(set *geom.Set) int {
	n := 0
	for _, i := range set.Members() {
		if c.moved[i] {
			n++
		}
	}
	return n
}

// carried says that the block which a point went along with moved at its place beyond
// that rate, by the other points of the block.
func (p *problem) carried(e *epoch, x *geom.Matcher, c *candidate, i int) bool {
	if !p.wentAlong(e, c, i) {
		return false
	}
	for k := range c.groups {
		others := c.groups[k].set
		if !others.Has(i) {
			continue
		}
		if others.Drop(i); others.Len() < minBlock || 2*c.calledMoved(&others) < others.Len() {
			return false
		}
		f, err := x.Fit(&others)
		if err != nil {
			return false
		}
		at := p.in.Points[e.points[i]].At()
		t, ok := geom.Mahalanobis(f.Motion.Apply(at).Sub(c.fit.Motion.Apply(at)), f.PredictCov(at).Add(c.fit.PredictCov(at)))
		return ok && t > firmMoved
	}
	return false
}

// judge says of every point whether it moved, and whether that is proven.
func (p *problem) judge(e *epoch, c *candidate) {
	p.places(e, c)
	test := p.pointTest(len(e.points))
	c.moved, c.proven = make([]bool, len(e.points)), c.proven[:0]
	c.judged, c.asked = make([]Conformance, len(e.points)), make([]bool, len(e.points))
	for i, t := range c.t2 {
		steady := c.steady.Has(i)
		c.moved[i] = t > test.MovedAboveT2 && !steady
		c.proven = append(c.proven, !steady || (c.steady.Len() >= minBlock && c.place[i].control >= minRedundancy))
	}
}

// verdict is what the limit says of point i.
func (p *problem) verdict(e *epoch, c *candidate, i int) Conformance {
	if !c.asked[i] {
		v := Conform(p.in.Points[e.points[i]], c.place[i].off, c.place[i].cov, p.conf)
		if v.Verdict == Met && !c.proven[i] {
			v.Verdict = Undecided
		}
		c.judged[i], c.asked[i] = v, true
	}
	return c.judged[i]
}

// settleJoint adjusts all readings with the steady points tied to their
// nominal places, and lets points in and out until nothing changes; points of
// other blocks stay out. While a length or height disagrees with the rest
// nothing is let in or out: it would be the points that pay for a wrong tape.
func (p *problem) settleJoint(e *epoch, c *candidate, barred *geom.Set) bool {
	seen := map[geom.Set]bool{}
	for range maxRounds {
		if !p.adjustJoint(e, c) {
			return false
		}
		seen[c.steady] = true
		var next geom.Set
		for i, t := range c.t2 {
			if t <= criticalPoint && !barred.Has(i) {
				next.Put(i)
			}
		}
		if next == c.steady || seen[next] || next.Len() < 3 || c.joint.spanDisagrees() {
			return true
		}
		c.steady = next
	}
	return true
}

// spanDisagrees says that a length or height is among the readings with the
// largest standardised residual, and that this is too large.
func (j *joint) spanDisagrees() bool {
	largest, ofSpans := 0.0, 0.0
	for i := 0; i < j.first; i++ {
		w := math.Abs(j.r.Rows[i].W)
		largest = math.Max(largest, w)
		if j.nw.Obs[i].Kind != geom.NetCoordinate {
			ofSpans = math.Max(ofSpans, w)
		}
	}
	return ofSpans > criticalNormal && ofSpans >= alike*largest
}

// adjustJoint is one such adjustment. A steady point whose manufacturing
// spread is 0 is held fast; otherwise its nominal place is an observation.
func (p *problem) adjustJoint(e *epoch, c *candidate) bool {
	nw := p.network(e, allSpans)
	back := c.fit.Motion.Inverse() // body from epoch
	j := &joint{nw: nw, first: len(nw.Obs)}
	for k := range nw.Poses {
		nw.Poses[k].Motion = nw.Poses[k].Motion.Compose(c.fit.Motion)
	}
	prior := make([][]int, len(e.points))
	for i, pt := range e.points {
		nw.Points[i].At = back.Apply(e.at[i])
		if !c.steady.Has(i) {
			continue
		}
		at := p.in.Points[pt].At()
		nw.Points[i].At = at
		if p.std0[pt] == 0 {
			nw.Points[i].Fixed = true
			continue
		}
		for a := range at {
			prior[i] = append(prior[i], len(nw.Obs))
			nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetCoordinate, Pose: geom.PointFrame, A: i, Axis: a, Value: at[a], Std: p.std0[pt]})
		}
	}
	r, err := nw.Adjust()
	if err != nil {
		return false
	}
	j.r, c.joint = r, j
	c.chi2, c.dof = r.VtPV, r.DOF
	p.jointShifts(e, c, prior)
	return true
}

func (p *problem) jointShifts(e *epoch, c *candidate, prior [][]int) {
	j := c.joint
	c.shift, c.cov, c.own, c.t2 = c.shift[:0], c.cov[:0], c.own[:0], c.t2[:0]
	rows := make([][]int, len(e.points))
	for i := 0; i < j.first; i++ {
		o := &j.nw.Obs[i]
		rows[o.A] = append(rows[o.A], i)
		if o.Kind != geom.NetCoordinate {
			rows[o.B] = append(rows[o.B], i)
		}
	}
	for i, pt := range e.points {
		at := p.in.Points[pt].At()
		d, cov := j.r.Points[i].Sub(at), j.r.PointCov(i, i).Add(geom.Isotropic(p.std0[pt]))
		t, own := 0.0, j.r.OwnCov(&j.nw.Network, i, rows[i])
		if c.steady.Has(i) {
			var ok bool
			if d, cov, ok = j.r.Replace(&j.nw.Network, i, rows[i], prior[i], at); ok {
				t = geom.Controlled(d, cov, ownCov(j, rows[i], p.std0[pt]))
			} else {
				cov = geom.Isotropic(inf)
			}
		} else if m, ok := geom.Mahalanobis(d, cov); ok {
			t = m
		}
		c.shift, c.cov, c.t2 = append(c.shift, d), append(c.cov, cov), append(c.t2, t)
		c.own = append(c.own, own)
	}
}

// ownCov is a rough size of what the readings of a point alone leave open: the
// scale by which a direction counts as uncontrolled.
func ownCov(j *joint, rows []int, std0 float64) geom.Mat3 {
	least := inf
	for _, r := range rows {
		least = math.Min(least, j.nw.Obs[r].Std)
	}
	return geom.Isotropic(elem.Hypot(least, std0))
}
