package geom

import "math"

// Vec6 is six parameters of a motion: translation, then rotation vector.
type Vec6 [6]float64

// Mat6 is a 6x6 matrix by rows.
type Mat6 [6]Vec6

// lower is the lower triangle of a 3x3 matrix.
type lower struct{ xx, yx, yy, zx, zy, zz float64 }

func lowerOf(m *Mat3) lower {
	return lower{m[0][0], m[1][0], m[1][1], m[2][0], m[2][1], m[2][2]}
}

// chol is the lower triangle L with m = L L^T, m symmetric; false when m is not
// positive definite.
func (m *lower) chol() (lower, bool) {
	if !(m.xx > 0) || m.xx > math.MaxFloat64 {
		return lower{}, false
	}
	a := math.Sqrt(m.xx)
	b, c := m.yx/a, m.zx/a
	s := m.yy - float64(b*b)
	if !(s > 0) || s > math.MaxFloat64 {
		return lower{}, false
	}
	d := math.Sqrt(s)
	e := (m.zy - float64(c*b)) / d
	if s = m.zz - float64(c*c) - float64(e*e); !(s > 0) || s > math.MaxFloat64 {
		return lower{}, false
	}
	return lower{a, b, d, c, e, math.Sqrt(s)}, true
}

// norm2 is d^T (l l^T)^-1 d.
func (l *lower) norm2(d *Vec) float64 {
	x := d[0] / l.xx
	y := (d[1] - float64(l.yx*x)) / l.yy
	z := (d[2] - float64(l.zx*x) - float64(l.zy*y)) / l.zz
	return float64(x*x) + float64(y*y) + float64(z*z)
}

// Chol3 is the lower triangle L with m = L L^T; false when m is not positive
// definite.
func Chol3(m Mat3) (Mat3, bool) {
	low := lowerOf(&m)
	l, ok := low.chol()
	return Mat3{{l.xx, 0, 0}, {l.yx, l.yy, 0}, {l.zx, l.zy, l.zz}}, ok
}

// Mahalanobis is d^T m^-1 d for a covariance m; false when m is not positive
// definite.
func Mahalanobis(d Vec, m Mat3) (float64, bool) {
	low := lowerOf(&m)
	l, ok := low.chol()
	if !ok {
		return 0, false
	}
	return l.norm2(&d), true
}

// Chol6 is the lower triangle L with m = L L^T; false when m is not positive
// definite.
func Chol6(m *Mat6) (Mat6, bool) {
	var l Mat6
	for j := 0; j < 6; j++ {
		for i := j; i < 6; i++ {
			s := m[i][j]
			for k := 0; k < j; k++ {
				s -= float64(l[i][k] * l[j][k])
			}
			if i > j {
				l[i][j] = s / l[j][j]
				continue
			}
			if !(s > 0) || math.IsInf(s, 1) {
				return Mat6{}, false
			}
			l[j][j] = math.Sqrt(s)
		}
	}
	return l, true
}

// Solve is the x with L L^T x = b.
func (l *Mat6) Solve(b Vec6) Vec6 {
	for i := 0; i < 6; i++ {
		for k := 0; k < i; k++ {
			b[i] -= float64(l[i][k] * b[k])
		}
		b[i] /= l[i][i]
	}
	for i := 5; i >= 0; i-- {
		for k := i + 1; k < 6; k++ {
			b[i] -= float64(l[k][i] * b[k])
		}
		b[i] /= l[i][i]
	}
	return b
}

// InvertChol is (L L^T)^-1.
func (l *Mat6) InvertChol() Mat6 {
	var inv Mat6
	for c := 0; c < 6; c++ {
		var e Vec6
		e[c] = 1
		x := l.Solve(e)
		for r := 0; r < 6; r++ {
			inv[r][c] = x[r]
		}
	}
	for i := 0; i < 6; i++ {
		for j := 0; j < i; j++ {
			v := (inv[i][j] + inv[j][i]) / 2
			inv[i][j], inv[j][i] = v, v
		}
	}
	return inv
}
