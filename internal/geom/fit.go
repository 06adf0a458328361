package geom

import (
	"fmt"
	"math"

	"fettle/internal/diag"
)

// MinSpreadRatio is the least ratio of the second to the first singular value
// of the cross-covariance of two point sets for which a rotation is given out.
// Singular values go with the square of lengths: 1e-6 means that the points
// lie within about 1/1000 of their length of one line, where the rotation
// about that line is carried by noise only. The value is common practice, no
// source.
const MinSpreadRatio = 1e-6

// Fit is a rigid motion fitted to two point sets: to = R from + T.
type Fit struct {
	Motion   Rigid
	Centroid Vec     // weighted mean of the from points
	SS       float64 // weighted sum of squared residuals
	Ratio    float64 // (second + sign third) / first singular value: 0 is degenerate
	// Scale is the factor that would fit best if lengths were allowed to
	// stretch. It is not applied: far from 1 it means a wrong unit or frame.
	Scale float64
	// ScaleStd is the standard deviation of Scale when every weight is
	// 1/variance.
	ScaleStd float64
}

// FitRigid is the rigid motion that carries from onto to with the least
// weighted sum of squared distances; w nil means weights of one. It is never
// a reflection and has no scale.
//
// Formula: with both sets about their weighted means, the rotation is the unit
// quaternion that belongs to the largest eigenvalue of the symmetric 4x4
// matrix N made of the sums S_ab = sum w from_a to_b (Horn 1987, Closed-form
// solution of absolute orientation using unit quaternions, from memory). It
// equals U diag(1, 1, det U det V) V^T of the singular value decomposition
// (Umeyama 1991). Not valid for collinear points: refused.
func FitRigid(from, to []Vec, w []float64) (Fit, error) {
	if err := checkSets(from, to, w); err != nil {
		return Fit{}, err
	}
	s := sumSets(from, to, w)
	f, ok := s.solve()
	if !ok {
		return f, degenerate(f.Ratio)
	}
	return f, nil
}

func checkSets(from, to []Vec, w []float64) error {
	if len(from) != len(to) || (w != nil && len(w) != len(from)) {
		return refuse("the two sets of points have %d and %d points, and %d weights", len(from), len(to), len(w))
	}
	if len(from) < 3 {
		return refuse("a rigid motion needs at least 3 points, there are %d", len(from))
	}
	for i := range from {
		if !from[i].Finite() || !to[i].Finite() {
			return refuse("point %d is not finite", i+1)
		}
		if w != nil && (!(w[i] >= 0) || math.IsInf(w[i], 1)) {
			return refuse("weight %d is %v", i+1, w[i])
		}
	}
	return nil
}

func refuse(format string, args ...any) error {
	return &diag.Error{Kind: diag.Invalid, Op: "geom.FitRigid", Msg: fmt.Sprintf(format, args...)}
}

func degenerate(ratio float64) error {
	return &diag.Error{
		Kind: diag.Invalid, Op: "geom.FitRigid",
		Msg:  fmt.Sprintf("the points lie too nearly on one line: ratio of singular values %.2g, at least %.2g needed", ratio, MinSpreadRatio),
		Hint: "add a point well away from that line",
	}
}

// sums are the moments of two point sets that a rigid fit needs.
type sums struct {
	n        int
	a, b     Vec     // weighted means
	aa, bb   float64 // weighted sums of squares about the means
	c        Mat3    // sum w (to - b)(from - a)^T
	weighted bool
}

// sumSets adds everything up in one pass about the first pair of points, which
// lies inside the cloud, and then moves the sums to the means.
func sumSets(from, to []Vec, w []float64) sums {
	s := sums{n: len(from), weighted: w != nil}
	p0, q0 := from[0], to[0]
	var sw, px, py, pz, qx, qy, qz, pp, qq float64
	var xx, xy, xz, yx, yy, yz, zx, zy, zz float64
	for i := range from {
		x, y, z := from[i][0]-p0[0], from[i][1]-p0[1], from[i][2]-p0[2]
		u, v, t := to[i][0]-q0[0], to[i][1]-q0[1], to[i][2]-q0[2]
		wx, wy, wz := x, y, z
		if w != nil {
			k := w[i]
			sw += k
			wx, wy, wz = float64(k*x), float64(k*y), float64(k*z)
			qx, qy, qz = qx+float64(k*u), qy+float64(k*v), qz+float64(k*t)
			qq += float64(k * (float64(u*u) + float64(v*v) + float64(t*t)))
		} else {
			qx, qy, qz = qx+u, qy+v, qz+t
			qq += float64(u*u) + float64(v*v) + float64(t*t)
		}
		px, py, pz = px+wx, py+wy, pz+wz
		pp += float64(wx*x) + float64(wy*y) + float64(wz*z)
		xx, xy, xz = xx+float64(u*wx), xy+float64(u*wy), xz+float64(u*wz)
		yx, yy, yz = yx+float64(v*wx), yy+float64(v*wy), yz+float64(v*wz)
		zx, zy, zz = zx+float64(t*wx), zy+float64(t*wy), zz+float64(t*wz)
	}
	if w == nil {
		sw = float64(len(from))
	}
	a, b := Vec{px, py, pz}.Scale(1/sw), Vec{qx, qy, qz}.Scale(1/sw)
	s.a, s.b = p0.Add(a), q0.Add(b)
	s.aa, s.bb = pp-float64(sw*a.Dot(a)), qq-float64(sw*b.Dot(b))
	s.c = Mat3{{xx, xy, xz}, {yx, yy, yz}, {zx, zy, zz}}.Sub(Outer(b, a).Scale(sw))
	return s
}

// solve gives the fit of the sums; false when it is degenerate. Points in one place and
// weights of nothing have no singular value above zero.
func (s *sums) solve() (Fit, bool) {
	f := Fit{Centroid: s.a}
	r := polishRotation(fromQuaternion(hornQuaternion(s.c, (s.aa+s.bb)/2)), s.c)
	m := r.Transpose().Mul(s.c).Symmetric() // V D' V^T of the SVD
	e, _ := SymEigen(m)
	f.Motion = Rigid{R: r, T: s.b.Sub(r.MulVec(s.a))}
	if e[0] > 0 {
		f.Ratio = math.Max(0, e[1]+e[2]) / e[0]
	}
	tr := m.Trace()
	f.SS = math.Max(0, s.aa+s.bb-2*tr)
	f.Scale = tr / s.aa
	f.ScaleStd = 1 / math.Sqrt(s.aa)
	if !s.weighted { // unit weights carry no variance: take it from the residuals
		f.ScaleStd *= math.Sqrt(f.SS / math.Max(1, float64(3*s.n-6)))
	}
	return f, f.Ratio >= MinSpreadRatio && r.Finite()
}

// polishRotation brings r to the maximum of trace(r^T c) by Newton steps on
// the rotation: with M = r^T c, g = axial vector of M - M^T and H = tr(M) I -
// sym(M), the step is r <- r exp([H^-1 g]x). Two steps reach the last bit.
func polishRotation(r, c Mat3) Mat3 {
	for range 3 {
		m := r.Transpose().Mul(c)
		g := Vec{m[2][1] - m[1][2], m[0][2] - m[2][0], m[1][0] - m[0][1]}
		h := Identity3().Scale(m.Trace()).Sub(m.Symmetric())
		inv, ok := h.Inverse()
		if !ok {
			return r
		}
		w := inv.MulVec(g)
		if n := w.Norm(); !(n < 1e-2) { // degenerate: keep the closed form
			return r
		} else if n < 1e-15 {
			return r
		}
		r = r.Mul(FromRotationVector(w))
	}
	return r
}
