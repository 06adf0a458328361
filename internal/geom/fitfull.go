package geom

import "math"

// FitRigidFull is FitRigidCov for points whose errors depend on one another:
// cov(i, j) is the covariance of the differences to - from of points i and j, in
// the to frame. Points that were located over the same set-up share the error of
// its pose; taking them for independent makes the motion look more certain than
// it is.
//
// Formula: the motion with the least v' S^-1 v, v all differences to_i - R from_i
// - T in one column and S their whole covariance; its covariance is (J' S^-1
// J)^-1 with J made of [I, -[R (from_i - centroid)]x] (generalised least squares,
// Aitken 1936, from memory). By Gauss-Newton steps from the closed form.
func FitRigidFull(from, to []Vec, cov func(i, j int) Mat3) (CovFit, error) {
	start, err := FitRigid(from, to, nil)
	f := CovFit{Fit: start, DOF: 3*len(from) - 6}
	if err != nil {
		return f, err
	}
	s := newSymmetric(3 * len(from))
	for i := range from {
		for j := 0; j <= i; j++ {
			m := cov(i, j)
			for a := range m {
				for b := range m[a] {
					if 3*i+a >= 3*j+b {
						s.a[(3*i+a)*s.n+3*j+b] = m[a][b]
					}
				}
			}
		}
	}
	if bad := s.factor(); bad >= 0 {
		return f, refuse("the covariance of point %d is not positive definite", bad/3+1)
	}
	size := 0.0
	for i := range from {
		size = math.Max(size, from[i].Dist(f.Centroid))
	}
	for range maxFitSteps {
		n, g, chi2 := f.fullNormals(from, to, s)
		l, ok := Chol6(&n)
		if !ok {
			return f, degenerate(f.Ratio)
		}
		x := l.Solve(g)
		f.nudge(x)
		f.Chi2, f.Pose = chi2, l.InvertChol()
		dt, dw := Vec{x[0], x[1], x[2]}, Vec{x[3], x[4], x[5]}
		if dt.Norm()+float64(dw.Norm()*size) <= 1e-12*size {
			return f, nil
		}
	}
	return f, refuse("the fit does not settle in %d steps", maxFitSteps)
}

// fullNormals builds J' S^-1 J, J' S^-1 v and v' S^-1 v at the present pose from
// the Cholesky factor of S.
func (f *CovFit) fullNormals(from, to []Vec, factor *symmetric) (n Mat6, g Vec6, chi2 float64) {
	cols := make([][]float64, 7) // J by columns, and v
	for k := range cols {
		cols[k] = make([]float64, 3*len(from))
	}
	for i := range from {
		v := to[i].Sub(f.Motion.Apply(from[i]))
		k := Skew(f.Motion.R.MulVec(from[i].Sub(f.Centroid))).Scale(-1)
		for a := 0; a < 3; a++ {
			cols[a][3*i+a], cols[6][3*i+a] = 1, v[a]
			for b := 0; b < 3; b++ {
				cols[3+b][3*i+a] = k[a][b]
			}
		}
	}
	for k := range cols {
		factor.forward(cols[k])
	}
	for a := 0; a < 6; a++ {
		for b := 0; b < 6; b++ {
			n[a][b] = dot(cols[a], cols[b])
		}
		g[a] = dot(cols[a], cols[6])
	}
	return n, g, dot(cols[6], cols[6])
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += float64(a[i] * b[i])
	}
	return s
}
