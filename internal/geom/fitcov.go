package geom

import "math"

// CovFit is a rigid motion fitted with the covariances of both sets.
type CovFit struct {
	Fit
	// Pose is the covariance of (translation, rotation vector) of a small
	// motion added in the to frame and turning about the image of Centroid:
	// y = R x + T + dt + dw x R (x - Centroid).
	Pose Mat6
	Chi2 float64 // sum of r' W r
	DOF  int     // 3 n - 6
}

// P is the probability of a Chi2 at least this large when nothing is wrong.
func (f CovFit) P() float64 { return ChiSquareTail(f.Chi2, f.DOF) }

// FitRigidCov is the rigid motion that carries from onto to with the least sum
// of r_i' W_i r_i, r_i = to_i - R from_i - T and W_i = (R A_i R' + B_i)^-1 for
// the covariances A_i of from_i and B_i of to_i.
//
// Method: closed form with the weights 3/trace as a start, then Gauss-Newton
// steps about the weighted centroid, R <- exp([dw]x) R, with the Jacobian of
// the prediction [ I, -[R (p_i - p_0)]x ], until the step is below 1e-13 of
// the size of the set. The pose covariance is the inverse of the normal matrix
// (source: error propagation, for example Ghilani and Wolf, Adjustment
// Computations, from memory).
func FitRigidCov(from, to []Vec, covFrom, covTo []Mat3) (CovFit, error) {
	var w Workspace
	return w.FitRigidCov(from, to, covFrom, covTo)
}

// Workspace keeps the memory of repeated fits. The zero value is ready; it is
// not for use by several goroutines at once.
type Workspace struct {
	weight []float64
}

// FitRigidCov is the function of that name without allocating memory anew.
func (ws *Workspace) FitRigidCov(from, to []Vec, covFrom, covTo []Mat3) (CovFit, error) {
	if len(covFrom) != len(from) || len(covTo) != len(from) {
		return CovFit{}, refuse("there are %d points and %d and %d covariances", len(from), len(covFrom), len(covTo))
	}
	ws.weight = ws.weight[:0]
	for i := range from {
		tr := covFrom[i].Trace() + covTo[i].Trace()
		if !(tr > 0) || !covFrom[i].Finite() || !covTo[i].Finite() {
			return CovFit{}, refuse("the covariance of point %d is not positive", i+1)
		}
		ws.weight = append(ws.weight, 3/tr)
	}
	start, err := FitRigid(from, to, ws.weight)
	if err != nil {
		return CovFit{Fit: start}, err
	}
	f := CovFit{Fit: start, DOF: 3*len(from) - 6}
	return f, f.refine(from, to, covFrom, covTo)
}

const maxFitSteps = 50

// refine runs Gauss-Newton from the start value already in f.
func (f *CovFit) refine(from, to []Vec, covFrom, covTo []Mat3) error {
	size := 0.0
	for i := range from {
		size = math.Max(size, from[i].Dist(f.Centroid))
	}
	for range maxFitSteps {
		n, g, chi2, ok := f.normals(from, to, covFrom, covTo)
		if !ok {
			return refuse("the covariance of a point is not positive definite")
		}
		l, ok := Chol6(&n)
		if !ok {
			return degenerate(f.Ratio)
		}
		x := l.Solve(g)
		f.nudge(x)
		f.Chi2, f.Pose = chi2, l.InvertChol()
		dt, dw := Vec{x[0], x[1], x[2]}, Vec{x[3], x[4], x[5]}
		if dt.Norm()+float64(dw.Norm()*size) <= 1e-13*size {
			return nil
		}
	}
	return refuse("the fit does not settle in %d steps", maxFitSteps)
}

// nudge adds a small motion about the image of the centroid.
func (f *CovFit) nudge(x Vec6) {
	centre := f.Motion.Apply(f.Centroid).Add(Vec{x[0], x[1], x[2]})
	r := FromRotationVector(Vec{x[3], x[4], x[5]}).Mul(f.Motion.R)
	f.Motion = Rigid{R: r, T: centre.Sub(r.MulVec(f.Centroid))}
}

// normals builds J' W J, J' W r and r' W r at the present pose.
func (f *CovFit) normals(from, to []Vec, covFrom, covTo []Mat3) (n Mat6, g Vec6, chi2 float64, ok bool) {
	for i := range from {
		w, valid := covFrom[i].Turn(f.Motion.R).Add(covTo[i]).Inverse()
		if !valid {
			return n, g, chi2, false
		}
		arm := f.Motion.R.MulVec(from[i].Sub(f.Centroid))
		r := to[i].Sub(f.Motion.Apply(from[i]))
		wr := w.MulVec(r)
		chi2 += r.Dot(wr)
		addNormals(&n, &g, arm, w, wr)
	}
	for a := 0; a < 6; a++ {
		for b := 0; b < a; b++ {
			n[b][a] = n[a][b]
		}
	}
	return n, g, chi2, true
}

// addNormals adds one point: G = [I, -[arm]x], n += G' W G (lower triangle),
// g += G' W r.
func addNormals(n *Mat6, g *Vec6, arm Vec, w Mat3, wr Vec) {
	k := Skew(arm) // G' = [I; [arm]x]
	kw := k.Mul(w)
	kwk := kw.Mul(k.Transpose())
	mom := arm.Cross(wr)
	for a := 0; a < 3; a++ {
		g[a] += wr[a]
		g[a+3] += mom[a]
		for b := 0; b < 3; b++ {
			n[a][b] += w[a][b]
			n[a+3][b] += kw[a][b]
			n[a+3][b+3] += kwk[a][b]
		}
	}
}

// PredictCov is the covariance that the uncertain pose gives to the image of
// p, in the to frame: G C G'.
func (f *CovFit) PredictCov(p Vec) Mat3 {
	return MotionCov(f.Pose, f.Motion.R.MulVec(p.Sub(f.Centroid)))
}

// MotionCov is the covariance of the displacement t + w x arm for a motion
// (t, w) with covariance c.
func MotionCov(c Mat6, arm Vec) Mat3 { return MotionCross(c, arm, arm).Symmetric() }

// MotionCross is the covariance between the displacements of two arms.
func MotionCross(c Mat6, a, b Vec) Mat3 {
	ka, kb := Skew(a).Scale(-1), Skew(b).Scale(-1) // t - [arm]x w
	var tt, tw, ww Mat3
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			tt[i][j], tw[i][j], ww[i][j] = c[i][j], c[i][j+3], c[i+3][j+3]
		}
	}
	return tt.Add(tw.Mul(kb.Transpose())).Add(ka.Mul(tw.Transpose())).Add(ka.Mul(ww).Mul(kb.Transpose()))
}

// ShiftCross is the covariance between the shifts of two points in the from
// frame: (1 - a used - b used) G_a C G_b', since the errors of a point that is
// used are correlated with those of the pose.
func (f *CovFit) ShiftCross(a, b Vec, usedA, usedB bool) Mat3 {
	sign := 1.0
	if usedA {
		sign--
	}
	if usedB {
		sign--
	}
	r := f.Motion.R
	m := MotionCross(f.Pose, r.MulVec(a.Sub(f.Centroid)), r.MulVec(b.Sub(f.Centroid)))
	return r.Transpose().Mul(m).Mul(r).Scale(sign)
}

// Shift is the displacement of a point against the motion, in the from frame
// (R' (to - T) - from), with its covariance. used says that the point took
// part in the fit: its covariance is then smaller than that of its readings,
// otherwise larger.
func (f *CovFit) Shift(from, to Vec, covFrom, covTo Mat3, used bool) (Vec, Mat3) {
	d := f.Motion.ApplyInverse(to).Sub(from)
	own := covFrom.Turn(f.Motion.R).Add(covTo)
	pose := f.PredictCov(from)
	if used {
		own = own.Sub(pose)
	} else {
		own = own.Add(pose)
	}
	return d, own.Turn(f.Motion.R.Transpose())
}
