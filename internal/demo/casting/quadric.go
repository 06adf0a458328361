package casting

import (
	"math"

	"fettle/internal/geom"
)

// quadric is the weighted sum of squared distances [mm^2, weight mm^2] to a set
// of planes, p A p + 2 b p + c with A symmetric (M. Garland, P. Heckbert,
// "Surface simplification using quadric error metrics", 1997):
// A = (0 1 2; 1 3 4; 2 4 5), b = (6 7 8), c = 9.
type quadric [10]float64

// planeQuadric is the quadric of the plane through p with unit normal n.
func planeQuadric(n, p geom.Vec, weight float64) quadric {
	d := -n.Dot(p)
	q := quadric{
		n[0] * n[0], n[0] * n[1], n[0] * n[2], n[1] * n[1], n[1] * n[2], n[2] * n[2],
		n[0] * d, n[1] * d, n[2] * d, d * d,
	}
	for i := range q {
		q[i] = float64(q[i] * weight)
	}
	return q
}

func (q *quadric) add(o *quadric) {
	for i := range q {
		q[i] += o[i]
	}
}

// at is the sum of squared distances from p.
func (q *quadric) at(p geom.Vec) float64 {
	x, y, z := p[0], p[1], p[2]
	ax := float64(q[0]*x) + float64(q[1]*y) + float64(q[2]*z) + 2*q[6]
	ay := float64(q[1]*x) + float64(q[3]*y) + float64(q[4]*z) + 2*q[7]
	az := float64(q[2]*x) + float64(q[4]*y) + float64(q[5]*z) + 2*q[8]
	return float64(ax*x) + float64(ay*y) + float64(az*z) + q[9]
}

// weight is the sum of the weights of the planes.
func (q *quadric) weight() float64 { return q[0] + q[3] + q[5] }

// lowest is the point that minimises the quadric, drawn gently toward near so
// that it is always defined (Cramer's rule on a positive definite matrix).
func (q *quadric) lowest(near geom.Vec) geom.Vec {
	pull := float64(2e-3*q.weight()) + 1e-12
	a, b, c := q[0]+pull, q[1], q[2]
	d, e, f := q[3]+pull, q[4], q[5]+pull
	// The gradient at near is solved for, which loses fewer digits than the
	// absolute position would.
	g := geom.Vec{
		-(float64(q[0]*near[0]) + float64(q[1]*near[1]) + float64(q[2]*near[2]) + q[6]),
		-(float64(q[1]*near[0]) + float64(q[3]*near[1]) + float64(q[4]*near[2]) + q[7]),
		-(float64(q[2]*near[0]) + float64(q[4]*near[1]) + float64(q[5]*near[2]) + q[8]),
	}
	r0, r1, r2 := geom.Vec{a, b, c}, geom.Vec{b, d, e}, geom.Vec{c, e, f}
	c12, c20, c01 := r1.Cross(r2), r2.Cross(r0), r0.Cross(r1)
	det := r0.Dot(c12)
	if !(math.Abs(det) > 0) {
		return near
	}
	step := c12.Scale(g[0]).Add(c20.Scale(g[1])).Add(c01.Scale(g[2])).Scale(1 / det)
	return near.Add(step)
}
