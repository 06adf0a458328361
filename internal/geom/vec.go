// Package geom owns vectors, rigid motions and the fits that connect two sets
// of points, with their covariances.
//
// Conventions, stated here and nowhere else: right-handed frames, millimetres,
// radians inside, rotation vectors (axis times angle); a motion maps
// y = R x + t; names say where to and where from (bodyFromDevice). A fit never
// returns a reflection and never a scale.
//
// Products that are added are written float64(a*b) + c, so that no machine fuses
// them and every machine gets the same last bit (Go specification, floating-point
// operators).
package geom

import "math"

// Vec is a point or a direction; a point is in millimetres.
type Vec [3]float64

// Add is a + b.
func (a Vec) Add(b Vec) Vec { return Vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }

// Sub is a - b.
func (a Vec) Sub(b Vec) Vec { return Vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

// Scale is s a. The products are rounded before anything is added to them.
func (a Vec) Scale(s float64) Vec {
	return Vec{float64(s * a[0]), float64(s * a[1]), float64(s * a[2])}
}

// Dot is the scalar product.
func (a Vec) Dot(b Vec) float64 {
	return float64(a[0]*b[0]) + float64(a[1]*b[1]) + float64(a[2]*b[2])
}

// Cross is the vector product.
func (a Vec) Cross(b Vec) Vec {
	return Vec{
		float64(a[1]*b[2]) - float64(a[2]*b[1]),
		float64(a[2]*b[0]) - float64(a[0]*b[2]),
		float64(a[0]*b[1]) - float64(a[1]*b[0]),
	}
}

// Norm is the length.
func (a Vec) Norm() float64 { return math.Sqrt(a.Dot(a)) }

// Dist is the distance between two points.
func (a Vec) Dist(b Vec) float64 { return a.Sub(b).Norm() }

// Unit is a scaled to length 1; the zero vector stays zero.
func (a Vec) Unit() Vec {
	n := a.Norm()
	if n == 0 {
		return a
	}
	return a.Scale(1 / n)
}

// Lerp is the point at share t of the way from a to b.
func (a Vec) Lerp(b Vec, t float64) Vec { return a.Add(b.Sub(a).Scale(t)) }

// Finite says that no component is NaN or infinite: the difference of such a
// value with itself is no number.
func (a Vec) Finite() bool { return (a[0]-a[0])+(a[1]-a[1])+(a[2]-a[2]) == 0 }
