package geom

import "math"

// hornQuaternion is the unit quaternion of the rotation that maximises
// trace(R^T c), c = sum to from^T. bound is not below the largest eigenvalue:
// half the sum of squares of both sets.
func hornQuaternion(c Mat3, bound float64) [4]float64 {
	n := hornMatrix(&c)
	if q, ok := newtonEigenvector4(&n, &c, bound); ok {
		return q
	}
	return largestEigenvector4(n)
}

// hornMatrix is N of the paper, whose S_ab = sum from_a to_b is c[b][a].
func hornMatrix(c *Mat3) [4][4]float64 {
	xx, xy, xz := c[0][0], c[1][0], c[2][0]
	yx, yy, yz := c[0][1], c[1][1], c[2][1]
	zx, zy, zz := c[0][2], c[1][2], c[2][2]
	return [4][4]float64{
		{xx + yy + zz, yz - zy, zx - xz, xy - yx},
		{yz - zy, xx - yy - zz, xy + yx, zx + xz},
		{zx - xz, xy + yx, yy - xx - zz, yz + zy},
		{xy - yx, zx + xz, yz + zy, zz - xx - yy},
	}
}

// newtonEigenvector4 is the eigenvector of the largest eigenvalue of n by
// Newton's method on the characteristic polynomial
//
//	l^4 - 2 |c|^2 l^2 - 8 det(c) l + det(n) = 0
//
// from the bound downwards, and the adjugate of n - l I (Theobald 2005, from
// memory). It is five times faster than the rotations below but loses digits
// when two eigenvalues meet: ok is false then.
func newtonEigenvector4(n *[4][4]float64, c *Mat3, bound float64) (q [4]float64, ok bool) {
	c2 := float64(-2 * (c[0].Dot(c[0]) + c[1].Dot(c[1]) + c[2].Dot(c[2])))
	c1 := float64(-8 * c.Det())
	c0 := det4(n)
	l := bound
	for i := 0; i < 40; i++ {
		l2 := float64(l * l)
		b := float64((l2 + c2) * l)
		a := b + c1
		d := float64(2*l2*l) + b + a
		if d == 0 {
			return q, false
		}
		step := (float64(a*l) + c0) / d
		l -= step
		if math.Abs(step) < 1e-13*math.Abs(l) {
			break
		}
	}
	m := *n
	for i := range m {
		m[i][i] -= l
	}
	most := 0.0
	for k := 0; k < 4; k++ {
		v := adjugateColumn(&m, k)
		if s := dot4(&v, &v); s > most {
			most, q = s, v
		}
	}
	b2 := bound * bound
	if !(most > 1e-12*(b2*b2*b2)) || math.IsInf(most, 1) {
		return q, false
	}
	return unitQuaternion(q), true
}

func det4(m *[4][4]float64) float64 {
	v := adjugateColumn(m, 0)
	return dot4(&m[0], &v)
}

func dot4(a, b *[4]float64) float64 {
	return float64(a[0]*b[0]) + float64(a[1]*b[1]) + float64(a[2]*b[2]) + float64(a[3]*b[3])
}

// adjugateColumn is column k of the adjugate of a symmetric matrix.
func adjugateColumn(m *[4][4]float64, k int) [4]float64 {
	a, b, c := &m[(k+1)&3], &m[(k+2)&3], &m[(k+3)&3]
	sign := 1.0
	if k&1 == 1 {
		sign = -1
	}
	minor := func(x, y, z int) float64 {
		yz := float64(b[y]*c[z]) - float64(b[z]*c[y])
		xz := float64(b[x]*c[z]) - float64(b[z]*c[x])
		xy := float64(b[x]*c[y]) - float64(b[y]*c[x])
		return float64(a[x]*yz) - float64(a[y]*xz) + float64(a[z]*xy)
	}
	return [4]float64{sign * minor(1, 2, 3), -sign * minor(0, 2, 3), sign * minor(0, 1, 3), -sign * minor(0, 1, 2)}
}

// largestEigenvector4 is the unit eigenvector of the largest eigenvalue of a
// symmetric 4x4 matrix, by cyclic Jacobi rotations.
func largestEigenvector4(a [4][4]float64) [4]float64 {
	v := [4][4]float64{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}}
	for range 8 { // each squares what is left beside the diagonal; the Newton step that follows does so once more
		for p := 0; p < 3; p++ {
			for q := p + 1; q < 4; q++ {
				jacobi4(&a, &v, p, q)
			}
		}
	}
	k := 0
	for i := 1; i < 4; i++ {
		if a[i][i] > a[k][k] {
			k = i
		}
	}
	return unitQuaternion([4]float64{v[0][k], v[1][k], v[2][k], v[3][k]})
}

func jacobi4(a, v *[4][4]float64, p, q int) {
	if a[p][q] == 0 {
		return
	}
	c, s := jacobiAngle(a[p][p], a[q][q], a[p][q])
	for k := 0; k < 4; k++ {
		x, y := a[k][p], a[k][q]
		a[k][p], a[k][q] = float64(c*x)-float64(s*y), float64(s*x)+float64(c*y)
	}
	for k := 0; k < 4; k++ {
		x, y := a[p][k], a[q][k]
		a[p][k], a[q][k] = float64(c*x)-float64(s*y), float64(s*x)+float64(c*y)
	}
	for k := 0; k < 4; k++ {
		x, y := v[k][p], v[k][q]
		v[k][p], v[k][q] = float64(c*x)-float64(s*y), float64(s*x)+float64(c*y)
	}
}
