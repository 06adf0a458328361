package measure

import (
	"math"

	"fettle/internal/geom"
)

// lambdaRow is the non-centrality of the test of one observation: 17.075.
var lambdaRow = geom.Noncentrality1(geom.AlphaPoint, 0.80)

// minRedundancy is the redundancy number below which a gross error of an
// observation would hardly show (customary, no source).
const minRedundancy = 0.1

// adjustment reports the readings of the best hypothesis one by one.
func (p *problem) adjustment(e *epoch, c *candidate) Adjustment {
	a := Adjustment{VtPV: roundP(c.chi2), DOF: c.dof, P: roundP(geom.ChiSquareTail(c.chi2, c.dof)), Observations: []Observation{}}
	if c.joint != nil {
		for i := 0; i < c.joint.first; i++ {
			row := c.joint.r.Rows[i]
			a.Observations = append(a.Observations, p.observation(c.joint.nw.source[i], row.Residual, row.Redundancy))
		}
		return a
	}
	for _, rd := range p.coords {
		if rd.setup == e.base && e.has(rd.point) {
			a.Observations = append(a.Observations, p.simpleRows(e, c, rd)...)
		}
	}
	return a
}

func (p *problem) observation(s rowSource, residual, redundancy float64) Observation {
	o := Observation{
		Kind: s.kind, From: p.id(s.from),
		ResidualMM: roundMM(residual), StdMM: roundMM(s.std), Redundancy: roundP(redundancy),
		Controlled: redundancy >= minRedundancy,
	}
	if s.setup != none {
		o.Setup = p.setups[s.setup].id
	}
	if s.to != none {
		o.To = p.id(s.to)
	}
	if redundancy > geom.MinControl {
		o.W = roundP(residual / (s.std * math.Sqrt(redundancy)))
		o.Detectable = roundMM(math.Sqrt(lambdaRow) * s.std / math.Sqrt(redundancy))
	}
	return o
}

// simpleRows are the three rows of one coordinate reading when one set-up with
// one reading per point is all there is. The misclosure r = q - R p - t splits
// between nominal place and reading by their variances; with S its covariance
// before and V = S - G C G' after the fit, the residual of the reading is
// -B S^-1 r with covariance B S^-1 V S^-1 B, B the covariance of the reading.
// The only reading of a point that is not steady controls nothing.
func (p *problem) simpleRows(e *epoch, c *candidate, rd coord) []Observation {
	i := e.slot[rd.point]
	out := make([]Observation, 0, 3)
	b := e.cov[i]
	var v geom.Vec  // residual
	var q geom.Mat3 // its covariance
	if c.steady.Has(i) {
		r := e.at[i].Sub(c.fit.Motion.Apply(p.in.Points[rd.point].At()))
		s := b.Add(geom.Isotropic(p.std0[rd.point]))
		after := s.Sub(c.fit.PredictCov(p.in.Points[rd.point].At()))
		if inv, ok := s.Inverse(); ok {
			k := b.Mul(inv)
			v, q = k.MulVec(r).Scale(-1), k.Mul(after).Mul(k.Transpose())
		}
	}
	v = rd.along(v)
	if rd.turned {
		q = rd.axes.Transpose().Mul(q).Mul(rd.axes)
	}
	for a := range rd.at {
		red := q[a][a] / (rd.std[a] * rd.std[a])
		out = append(out, p.observation(rowSource{rd.setup, rd.point, none, rd.axisName(a), rd.std[a]}, v[a], math.Max(0, red)))
	}
	return out
}
