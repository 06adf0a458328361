package measure

import (
	"math"
	"slices"

	"fettle/internal/geom"
)

// Axes is how a place that was measured in the axes of a set-up is carried into vehicle axes: by
// the adjusted pose of the set-up, with its covariance.
type Axes struct {
	fit    geom.CovFit // device coordinates of vehicle coordinates
	factor float64     // undoes temperature, as of the readings
	scale  float64     // standard uncertainty of that
	widen  float64     // what variances are multiplied by: readings that fit worse than stated
}

// AxesOf is how places in the axes of a set-up are carried, or why they cannot be.
func (r *Result) AxesOf(id string) (a Axes, why string) {
	l := r.located
	switch {
	case l == nil:
		return a, "no block of control points is known to have stood still"
	case r.Ambiguous:
		return a, "which control points stood still is not certain (" + r.Why[0] + ")"
	}
	c := l.best
	k := slices.IndexFunc(l.p.setups, func(s setup) bool { return s.id == id })
	untied := "its readings do not tie it to points that stood still"
	switch {
	case k < 0:
		return a, "no control point was measured in it"
	case c.joint == nil && k != l.e.base:
		return a, untied
	case c.joint == nil:
		a.fit = c.fit
	default:
		pose := c.joint.nw.poseOf[k]
		if pose == none {
			return a, untied
		}
		a.fit = geom.CovFit{Fit: geom.Fit{Motion: c.joint.r.Poses[pose], Centroid: c.joint.r.Centres[pose]}, Pose: c.joint.r.PoseCov(pose)}
	}
	a.factor, a.scale, a.widen = l.p.setups[k].factor, l.p.setups[k].scaleU, 1
	if c.dof > 0 {
		a.widen = math.Max(1, c.chi2/float64(c.dof))
	}
	return a, ""
}

// Carry is a place of the set-up in vehicle axes, and the covariance that the pose and the
// temperature give to it; that of pointing at the place itself is not in it.
func (a Axes) Carry(p geom.Vec) (geom.Vec, geom.Mat3) {
	m := a.fit.Motion
	warm := p.Scale(a.factor)
	at := m.Inverse().Apply(warm)
	back := m.R.Transpose()
	cov := back.Mul(a.fit.PredictCov(at)).Mul(m.R).Scale(a.widen)
	grown := float64(a.scale * warm.Dist(m.Apply(a.fit.Centroid)))
	for k := range cov {
		cov[k][k] += float64(grown * grown)
	}
	return at, cov.Symmetric()
}
