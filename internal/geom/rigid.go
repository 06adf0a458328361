package geom

import (
	"math"

	"fettle/internal/elem"
)

// Rigid is the motion y = R x + T.
type Rigid struct {
	R Mat3
	T Vec
}

// Still is the motion that moves nothing.
func Still() Rigid { return Rigid{R: Identity3()} }

// Apply is R x + T.
func (m Rigid) Apply(x Vec) Vec { return m.R.MulVec(x).Add(m.T) }

// ApplyInverse is R^T (y - T).
func (m Rigid) ApplyInverse(y Vec) Vec { return m.R.TMulVec(y.Sub(m.T)) }

// Inverse is the motion that undoes m.
func (m Rigid) Inverse() Rigid {
	return Rigid{R: m.R.Transpose(), T: m.R.TMulVec(m.T).Scale(-1)}
}

// Compose is m after b: Compose(b).Apply(x) = m.Apply(b.Apply(x)).
func (m Rigid) Compose(b Rigid) Rigid {
	return Rigid{R: m.R.Mul(b.R), T: m.R.MulVec(b.T).Add(m.T)}
}

// FromRotationVector is the rotation by |w| radians about the axis w
// (Rodrigues' formula): R = I + sin(a)/a [w]x + (1-cos(a))/a^2 [w]x^2.
func FromRotationVector(w Vec) Mat3 {
	a2 := w.Dot(w)
	a := math.Sqrt(a2)
	var s, c float64 // sin(a)/a and (1-cos(a))/a^2
	if a2 == 0 {
		s, c = 1, 0.5
	} else {
		h := elem.Sin(a / 2)
		s, c = elem.Sin(a)/a, 2*h*h/a2
	}
	k := Skew(w)
	return Identity3().Add(k.Scale(s)).Add(k.Mul(k).Scale(c))
}

// RotationVector is the rotation vector of r, of length 0 to pi. It goes by
// the quaternion with the largest component, so that angles near 0 and near
// pi lose no digits (Shepperd 1978, from memory).
func RotationVector(r Mat3) Vec {
	q := quaternion(r)
	if q[0] < 0 {
		q = [4]float64{-q[0], -q[1], -q[2], -q[3]}
	}
	v := Vec{q[1], q[2], q[3]}
	n := v.Norm()
	if n == 0 {
		return v
	}
	return v.Scale(2 * elem.Atan2(n, q[0]) / n)
}

func quaternion(r Mat3) [4]float64 {
	d := [4]float64{
		1 + r[0][0] + r[1][1] + r[2][2],
		1 + r[0][0] - r[1][1] - r[2][2],
		1 - r[0][0] + r[1][1] - r[2][2],
		1 - r[0][0] - r[1][1] + r[2][2],
	}
	k := 0
	for i := 1; i < 4; i++ {
		if d[i] > d[k] {
			k = i
		}
	}
	var q [4]float64
	switch k {
	case 0:
		q = [4]float64{d[0], r[2][1] - r[1][2], r[0][2] - r[2][0], r[1][0] - r[0][1]}
	case 1:
		q = [4]float64{r[2][1] - r[1][2], d[1], r[0][1] + r[1][0], r[0][2] + r[2][0]}
	case 2:
		q = [4]float64{r[0][2] - r[2][0], r[0][1] + r[1][0], d[2], r[1][2] + r[2][1]}
	default:
		q = [4]float64{r[1][0] - r[0][1], r[0][2] + r[2][0], r[1][2] + r[2][1], d[3]}
	}
	return unitQuaternion(q)
}

func unitQuaternion(q [4]float64) [4]float64 {
	n := math.Sqrt(float64(q[0]*q[0]) + float64(q[1]*q[1]) + float64(q[2]*q[2]) + float64(q[3]*q[3]))
	for i := range q {
		q[i] /= n
	}
	return q
}

// fromQuaternion is the rotation of a unit quaternion (w, x, y, z).
func fromQuaternion(q [4]float64) Mat3 {
	w, x, y, z := q[0], q[1], q[2], q[3]
	ww, xx, yy, zz := float64(w*w), float64(x*x), float64(y*y), float64(z*z)
	xy, xz, yz := float64(x*y), float64(x*z), float64(y*z)
	wx, wy, wz := float64(w*x), float64(w*y), float64(w*z)
	return Mat3{
		{ww + xx - yy - zz, 2 * (xy - wz), 2 * (xz + wy)},
		{2 * (xy + wz), ww - xx + yy - zz, 2 * (yz - wx)},
		{2 * (xz - wy), 2 * (yz + wx), ww - xx - yy + zz},
	}
}
