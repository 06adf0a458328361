package geom

import "math"

// Mat3 is a 3x3 matrix by rows.
type Mat3 [3]Vec

// Identity3 is the 3x3 unit matrix.
func Identity3() Mat3 { return Mat3{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} }

// Diag3 is the diagonal matrix of v.
func Diag3(v Vec) Mat3 { return Mat3{{v[0], 0, 0}, {0, v[1], 0}, {0, 0, v[2]}} }

// Isotropic is the covariance of three independent coordinates with the same
// standard deviation.
func Isotropic(std float64) Mat3 {
	v := std * std
	return Mat3{{v, 0, 0}, {0, v, 0}, {0, 0, v}}
}

// Skew is the matrix of the vector product: Skew(a).MulVec(b) = a x b.
func Skew(a Vec) Mat3 { return Mat3{{0, -a[2], a[1]}, {a[2], 0, -a[0]}, {-a[1], a[0], 0}} }

// Outer is a b^T.
func Outer(a, b Vec) Mat3 { return Mat3{b.Scale(a[0]), b.Scale(a[1]), b.Scale(a[2])} }

// MulVec is m v.
func (m Mat3) MulVec(v Vec) Vec { return Vec{m[0].Dot(v), m[1].Dot(v), m[2].Dot(v)} }

// TMulVec is m^T v.
func (m Mat3) TMulVec(v Vec) Vec {
	return Vec{
		float64(m[0][0]*v[0]) + float64(m[1][0]*v[1]) + float64(m[2][0]*v[2]),
		float64(m[0][1]*v[0]) + float64(m[1][1]*v[1]) + float64(m[2][1]*v[2]),
		float64(m[0][2]*v[0]) + float64(m[1][2]*v[1]) + float64(m[2][2]*v[2]),
	}
}

// Mul is m b.
func (m Mat3) Mul(b Mat3) Mat3 {
	t := b.Transpose()
	return Mat3{
		{m[0].Dot(t[0]), m[0].Dot(t[1]), m[0].Dot(t[2])},
		{m[1].Dot(t[0]), m[1].Dot(t[1]), m[1].Dot(t[2])},
		{m[2].Dot(t[0]), m[2].Dot(t[1]), m[2].Dot(t[2])},
	}
}

// Transpose is m^T.
func (m Mat3) Transpose() Mat3 {
	return Mat3{{m[0][0], m[1][0], m[2][0]}, {m[0][1], m[1][1], m[2][1]}, {m[0][2], m[1][2], m[2][2]}}
}

// Add is m + b.
func (m Mat3) Add(b Mat3) Mat3 { return Mat3{m[0].Add(b[0]), m[1].Add(b[1]), m[2].Add(b[2])} }

// Sub is m - b.
func (m Mat3) Sub(b Mat3) Mat3 { return Mat3{m[0].Sub(b[0]), m[1].Sub(b[1]), m[2].Sub(b[2])} }

// Scale is s m.
func (m Mat3) Scale(s float64) Mat3 { return Mat3{m[0].Scale(s), m[1].Scale(s), m[2].Scale(s)} }

// Det is the determinant.
func (m Mat3) Det() float64 { return m[0].Dot(m[1].Cross(m[2])) }

// Trace is the sum of the diagonal.
func (m Mat3) Trace() float64 { return m[0][0] + m[1][1] + m[2][2] }

// Turn is r m r^T: a covariance m carried along by the rotation r.
func (m Mat3) Turn(r Mat3) Mat3 { return r.Mul(m).Mul(r.Transpose()).Symmetric() }

// Symmetric is (m + m^T)/2.
func (m Mat3) Symmetric() Mat3 {
	for i := 0; i < 3; i++ {
		for j := 0; j < i; j++ {
			v := (m[i][j] + m[j][i]) / 2
			m[i][j], m[j][i] = v, v
		}
	}
	return m
}

// Diag is the diagonal of m.
func (m Mat3) Diag() Vec { return Vec{m[0][0], m[1][1], m[2][2]} }

// Finite says that no element is NaN or infinite.
func (m Mat3) Finite() bool { return m[0].Finite() && m[1].Finite() && m[2].Finite() }

// Inverse is the inverse by cofactors, and whether it exists.
func (m Mat3) Inverse() (Mat3, bool) {
	c0, c1, c2 := m[1].Cross(m[2]), m[2].Cross(m[0]), m[0].Cross(m[1])
	det := m[0].Dot(c0)
	if det == 0 || math.IsNaN(det) || math.IsInf(det, 0) {
		return Mat3{}, false
	}
	s := 1 / det
	return Mat3{
		{c0[0] * s, c1[0] * s, c2[0] * s},
		{c0[1] * s, c1[1] * s, c2[1] * s},
		{c0[2] * s, c1[2] * s, c2[2] * s},
	}, true
}

// SymEigen is the eigenvalues of a symmetric matrix, largest first, and the
// unit eigenvectors as the columns of a rotation matrix (determinant +1).
//
// Method: cyclic Jacobi rotations (Golub and Van Loan, Matrix Computations,
// section 8.5; from memory), which loses no accuracy when two values are equal.
func SymEigen(m Mat3) (Vec, Mat3) {
	a, v := m.Symmetric(), Identity3()
	for sweep := 0; sweep < 30; sweep++ {
		off := float64(a[0][1]*a[0][1]) + float64(a[0][2]*a[0][2]) + float64(a[1][2]*a[1][2])
		dia := float64(a[0][0]*a[0][0]) + float64(a[1][1]*a[1][1]) + float64(a[2][2]*a[2][2])
		if off <= 1e-34*dia {
			break
		}
		jacobi3(&a, &v, 0, 1)
		jacobi3(&a, &v, 0, 2)
		jacobi3(&a, &v, 1, 2)
	}
	return sortEigen(a.Diag(), v)
}

func jacobi3(a, v *Mat3, p, q int) {
	if a[p][q] == 0 {
		return
	}
	c, s := jacobiAngle(a[p][p], a[q][q], a[p][q])
	for k := 0; k < 3; k++ {
		x, y := a[k][p], a[k][q]
		a[k][p], a[k][q] = float64(c*x)-float64(s*y), float64(s*x)+float64(c*y)
	}
	for k := 0; k < 3; k++ {
		x, y := a[p][k], a[q][k]
		a[p][k], a[q][k] = float64(c*x)-float64(s*y), float64(s*x)+float64(c*y)
	}
	for k := 0; k < 3; k++ {
		x, y := v[k][p], v[k][q]
		v[k][p], v[k][q] = float64(c*x)-float64(s*y), float64(s*x)+float64(c*y)
	}
}

// jacobiAngle is the cosine and sine that make the off-diagonal element zero.
func jacobiAngle(app, aqq, apq float64) (c, s float64) {
	theta := (aqq - app) / (2 * apq)
	t := math.Copysign(1/(math.Abs(theta)+math.Sqrt(float64(theta*theta)+1)), theta+0) // -0 counts as 0
	c = 1 / math.Sqrt(float64(t*t)+1)
	return c, float64(t * c)
}

func sortEigen(w Vec, v Mat3) (Vec, Mat3) {
	t := v.Transpose()
	for i := 0; i < 2; i++ {
		for j := 0; j < 2-i; j++ {
			if w[j] < w[j+1] {
				w[j], w[j+1] = w[j+1], w[j]
				t[j], t[j+1] = t[j+1], t[j]
			}
		}
	}
	if t.Det() < 0 {
		t[2] = t[2].Scale(-1)
	}
	return w, t.Transpose()
}
