package measure

import (
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// sectionGroups are the sections of the body that have moved but not as one
// rigid block, a sheared or bent one for example: at least half of four or more
// located points moved, and no block holds more than half of them. Their
// motion is the best rigid one; its chi2 says how far from rigid it was.
func (p *problem) sectionGroups(e *epoch, x *geom.Matcher, c *candidate) []group {
	var out []group
	for _, s := range p.in.Sections {
		var set geom.Set
		moved, n := 0, 0
		for i, pt := range e.points {
			if p.in.Points[pt].Section == s.ID {
				set.Put(i)
				n++
				if c.moved[i] {
					moved++
				}
			}
		}
		if n < minBlock || 2*moved < n || 2*set.Common(&c.steady) > n {
			continue
		}
		held := false
		for k := range c.groups {
			held = held || 2*c.groups[k].set.Common(&set) > n
		}
		if held {
			continue
		}
		if b, err := x.Evaluate(set); err == nil {
			out = append(out, group{set: set, fit: b.Fit})
		}
	}
	return out
}

// section is the motion of a group against the steady block.
func (p *problem) section(e *epoch, c *candidate, g *group) Section {
	id, about := p.sectionOf(e, g)
	m := p.motionOf(e, c, g, about)
	rel, cov := m.rel, m.widened()
	w := geom.RotationVector(rel.R)
	t := rel.Apply(about).Sub(about)
	s := Section{
		ID: id, Points: p.sorted(e, &g.set), AboutMM: about,
		TranslationMM: roundVec(t, roundMM), RotationDeg: roundVec(w.Scale(degree), roundDeg),
		Chi2: roundP(m.fit.Chi2), DOF: m.fit.DOF, P: roundP(m.fit.P()), Stations: []Station{},
	}
	own := carry(&g.fit, about)
	for k := 0; k < 3; k++ {
		s.OwnTranslation[k] = roundMM(root(own[k][k]))
		s.OwnRotation[k] = roundDeg(degree * root(own[k+3][k+3]))
		s.TranslationStd[k] = roundMM(root(cov[k][k]))
		s.RotationStd[k] = roundDeg(degree * root(cov[k+3][k+3]))
	}
	near, far := p.ends(e, c, g)
	s.HingeMM = near
	slices.Sort(s.HingeMM[:])
	shear, out := p.diamond(e, c, g, about), p.outward(e, c, g)
	width := p.width(e, g)
	for _, st := range []struct {
		of string
		x  float64
	}{{"near end", near[1]}, {"far end", far}} {
		at := station(st.of, st.x, about, rel, cov)
		at.MashMeans = mashMeans(at.Mash, out)
		if shear != nil {
			at.Diamond = shear
			at.DiamondMM = &Value{roundMM(shear.Value / degree * width), roundMM(shear.Std / degree * width)}
		}
		s.Stations = append(s.Stations, at)
	}
	return s
}

func (p *problem) sorted(e *epoch, set *geom.Set) []body.PointID {
	out := []body.PointID{}
	for pt := range p.in.Points {
		if e.has(pt) && set.Has(e.slot[pt]) {
			out = append(out, p.id(pt))
		}
	}
	return out
}

// sectionOf is the body's section that most points of the group belong to, and
// the point its motion is reported about: the one the body names, otherwise
// the centre of the group.
func (p *problem) sectionOf(e *epoch, g *group) (body.SectionID, geom.Vec) {
	count := map[body.SectionID]int{}
	for _, i := range g.set.Members() {
		if id := p.in.Points[e.points[i]].Section; id != "" {
			count[id]++
		}
	}
	about, best := g.fit.Centroid, body.SectionID("")
	for _, s := range p.in.Sections {
		if count[s.ID] > count[best] {
			best = s.ID
			about = g.fit.Centroid
			if s.About != (geom.Vec{}) {
				about = s.About
			}
		}
	}
	return best, roundVec(about, roundMM)
}

// motion is how a group moved against the steady block: body to body, with the
// covariance of (translation at a point, rotation) in vehicle axes, and the fit
// it comes from.
type motion struct {
	rel geom.Rigid
	cov geom.Mat6
	fit *geom.CovFit
}

// widened is the covariance with what the best rigid motion of a section that
// did not move as one leaves unexplained: chi2 over its degrees of freedom.
func (m *motion) widened() geom.Mat6 {
	if m.fit.P() >= geom.AlphaBlock { // always of three points
		return m.cov
	}
	out := m.cov
	for r := range out {
		for c := range out[r] {
			out[r][c] *= m.fit.Chi2 / float64(m.fit.DOF)
		}
	}
	return out
}

// motionOf is the motion of a group with its covariance about a point.
//
// Formula: the group's own fit G and the steady block's fit D both map body to
// device; the motion of the group in vehicle axes is D^-1 G. Its covariance is
// that of the two fits, which share no reading, carried to the reported point.
//
// With several set-ups the points of a group share the errors of the poses, and
// the steady block has part in them: then the motion is fitted to the adjusted
// places of the points with their whole covariance (geom.FitRigidFull), in which
// that of the steady block stands already.
func (p *problem) motionOf(e *epoch, c *candidate, g *group, about geom.Vec) motion {
	if c.joint != nil && g.set.Common(&c.steady) == 0 {
		if f, err := p.fitAdjusted(e, c, g); err == nil {
			return motion{f.Motion, atPoint(&f, about), &f}
		}
	}
	return motion{c.fit.Motion.Inverse().Compose(g.fit.Motion), relativeCov(&c.fit, &g.fit, about), &g.fit}
}

// fitAdjusted fits the adjusted places of the points of a group.
func (p *problem) fitAdjusted(e *epoch, c *candidate, g *group) (geom.CovFit, error) {
	members := g.set.Members()
	var from, to []geom.Vec
	for _, i := range members {
		from, to = append(from, p.in.Points[e.points[i]].At()), append(to, c.joint.r.Points[i])
	}
	return geom.FitRigidFull(from, to, func(a, b int) geom.Mat3 {
		m := c.joint.r.PointCov(members[a], members[b])
		if a == b {
			m = m.Add(geom.Isotropic(p.std0[e.points[members[a]]]))
		}
		return m
	})
}

// atPoint is the covariance of (translation at the image of about, rotation) in
// the axes of the to frame.
func atPoint(f *geom.CovFit, about geom.Vec) geom.Mat6 {
	k := geom.Skew(f.Motion.R.MulVec(about.Sub(f.Centroid))).Scale(-1)
	var j geom.Mat6
	for r := 0; r < 3; r++ {
		j[r][r], j[r+3][r+3] = 1, 1
		for c := 0; c < 3; c++ {
			j[r][c+3] = k[r][c]
		}
	}
	return sandwich(j, f.Pose)
}

// relativeCov is the covariance of (translation at about, rotation) of D^-1 G
// in vehicle axes.
func relativeCov(d, g *geom.CovFit, about geom.Vec) geom.Mat6 {
	a, b := carry(d, about), carry(g, about)
	for r := range a {
		for c := range a[r] {
			a[r][c] += b[r][c]
		}
	}
	return a
}

// carry expresses a pose covariance at the image of about, in vehicle axes:
// dt' = R'(dt - [arm]x dw), dw' = R' dw.
func carry(f *geom.CovFit, about geom.Vec) geom.Mat6 {
	rt := f.Motion.R.Transpose()
	k := geom.Skew(f.Motion.R.MulVec(about.Sub(f.Centroid))).Scale(-1)
	var j geom.Mat6
	rk := rt.Mul(k)
	for r := 0; r < 3; r++ {
		for c := 0; c < 3; c++ {
			j[r][c], j[r][c+3], j[r+3][c+3] = rt[r][c], rk[r][c], rt[r][c]
		}
	}
	return sandwich(j, f.Pose)
}

func sandwich(j, m geom.Mat6) geom.Mat6 {
	var jm, out geom.Mat6
	for r := 0; r < 6; r++ {
		for c := 0; c < 6; c++ {
			for k := 0; k < 6; k++ {
				jm[r][c] += float64(j[r][k] * m[k][c])
			}
		}
	}
	for r := 0; r < 6; r++ {
		for c := 0; c < 6; c++ {
			for k := 0; k < 6; k++ {
				out[r][c] += float64(jm[r][k] * j[c][k])
			}
		}
	}
	return out
}

// ends are the stations of a group along x: near holds the last steady and the
// first moved station at the end towards the steady block (the hinge lies
// between), far is the other end.
func (p *problem) ends(e *epoch, c *candidate, g *group) (near [2]float64, far float64) {
	lo, hi := inf, -inf
	for _, i := range g.set.Members() {
		x := p.in.Points[e.points[i]].X
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	behind := g.fit.Centroid[0] > c.fit.Centroid[0]
	near[1], far = hi, lo
	if behind {
		near[1], far = lo, hi
	}
	near[0] = near[1]
	best := inf
	for _, i := range c.steady.Members() {
		x := p.in.Points[e.points[i]].X
		gap := near[1] - x
		if !behind {
			gap = -gap
		}
		if gap >= 0 && gap < best {
			best, near[0] = gap, x
		}
	}
	return near, far
}

// outward is which way along x the vehicle gets longer when the group moves: +1
// when it lies beyond the points of the steady block, -1 when it lies before
// them, 0 when it lies beside them.
func (p *problem) outward(e *epoch, c *candidate, g *group) float64 {
	lo, hi := inf, -inf
	for _, i := range c.steady.Members() {
		x := p.in.Points[e.points[i]].X
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	switch x := g.fit.Centroid[0]; {
	case x > hi:
		return 1
	case x < lo:
		return -1
	}
	return 0
}

// mashMeans is what a mash did to the vehicle, where it is more than its
// uncertainty and the section lies at an end. Mash has the sign of the x axis:
// the same sign shortens one end and lengthens the other.
func mashMeans(mash Value, outward float64) string {
	if !(math.Abs(mash.Value) > coverage*mash.Std) || outward == 0 {
		return ""
	}
	if outward == math.Copysign(1, mash.Value) {
		return "lengthened"
	}
	return "shortened"
}

// station is the motion of the section where its line of reference crosses a
// station: the point (x, about y, about z). Mash, sidesway and sag are the
// components of t + w x r there, in vehicle axes; twist is the turn about x.
func station(of string, x float64, about geom.Vec, rel geom.Rigid, cov geom.Mat6) Station {
	at := geom.Vec{x, about[1], about[2]}
	u := rel.Apply(at).Sub(at)
	s := stds(geom.MotionCov(cov, at.Sub(about)))
	v := func(k int) Value { return Value{roundMM(u[k]), roundMM(s[k])} }
	w := geom.RotationVector(rel.R)
	return Station{
		XMM: roundMM(x), Of: of, Mash: v(0), Sidesway: v(1), Sag: v(2),
		Twist: Value{roundDeg(w[0] * degree), roundDeg(degree * root(cov[3][3]))},
	}
}

// width is the extent of a group along y.
func (p *problem) width(e *epoch, g *group) float64 {
	lo, hi := inf, -inf
	for _, i := range g.set.Members() {
		y := p.in.Points[e.points[i]].Y
		lo, hi = math.Min(lo, y), math.Max(hi, y)
	}
	return hi - lo
}

// minShearSpread is the least share of the shear's own effect that must stay
// visible beside translation and rotation for it to be reported.
const minShearSpread = 0.05

// diamond is the shear g = du_x/dy + du_y/dx of the group in the xy plane [deg]
// from the least squares fit u = t + w x r + (g/2)(y, x, 0), and its standard
// deviation. Nil when the points cannot tell it from a rigid motion.
func (p *problem) diamond(e *epoch, c *candidate, g *group, about geom.Vec) *Value {
	var n geom.Mat6
	var gr, rhs geom.Vec6
	var gg, gu, uu float64
	members := g.set.Members()
	if len(members) < 4 {
		return nil
	}
	for _, i := range members {
		pt := p.in.Points[e.points[i]].At()
		r := pt.Sub(about)
		lam, _ := geom.SymEigen(e.cov[i].Add(geom.Isotropic(p.std0[e.points[i]])))
		w := 1 / lam[0]
		u := c.fit.Motion.ApplyInverse(e.at[i]).Sub(pt)
		rows := [3]geom.Vec6{{1, 0, 0, 0, r[2], -r[1]}, {0, 1, 0, -r[2], 0, r[0]}, {0, 0, 1, r[1], -r[0], 0}}
		sh := geom.Vec{r[1] / 2, r[0] / 2, 0}
		for k, row := range rows {
			for a := range row {
				rhs[a] += float64(w * row[a] * u[k])
				gr[a] += float64(w * row[a] * sh[k])
				for b := range row {
					n[a][b] += float64(w * row[a] * row[b])
				}
			}
			gg += float64(w * sh[k] * sh[k])
			gu += float64(w * sh[k] * u[k])
			uu += float64(w * u[k] * u[k])
		}
	}
	l, ok := geom.Chol6(&n)
	if !ok {
		return nil
	}
	y := l.Solve(gr)
	left, num := gg, gu
	for a := range y {
		left -= float64(y[a] * gr[a])
		num -= float64(y[a] * rhs[a])
	}
	if !(left > minShearSpread*minShearSpread*gg) {
		return nil
	}
	std := 1 / math.Sqrt(left)
	rest := uu - num*num/left // a shape that shear does not explain either widens it
	for a, v := range l.Solve(rhs) {
		rest -= float64(v * rhs[a])
	}
	std *= math.Sqrt(math.Max(1, rest/float64(3*len(members)-7)))
	return &Value{roundDeg(degree * num / left), roundDeg(degree * std)}
}
