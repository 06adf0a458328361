package mesh

import (
	"math"

	"fettle/internal/geom"
)

// coneLine is a cone, or a cylinder, about a line: its radius is radius + slope z,
// z along the line from at.
type coneLine struct {
	at, along     geom.Vec
	radius, slope float64
	cov           [6][6]float64 // of: at across (2), along across (2), radius, slope
	rms, max      float64       // of the distances of the points, across the line
	n             int
}

// fitCone is the cone nearest to points, by least squares of rho - radius - slope z,
// rho a point's distance from the line, from a line that is near already. False when
// the points do not settle it. With s^2 = r.r / (n - 6) of the residuals r the
// covariance is s^2 (J^T J)^-1, J their derivatives.
//
// A hole that is slanted to its wall and tapered needs all six: seen along the axis
// its points are no circle, since on one side they are higher up the cone.
//
// Source: the method of Gauss and Newton, as in FitCircle.
func fitCone(points []geom.Vec, start axisLine) (coneLine, bool) {
	c := coneLine{at: start.at, along: start.along, radius: start.radius, n: len(points)}
	if len(points) < 7 {
		return c, false
	}
	mid := 0.0 // the middle along the line, so that its direction and place are told apart
	for _, p := range points {
		mid += p.Sub(c.at).Dot(c.along) / float64(len(points))
	}
	c.at = c.at.Add(c.along.Scale(mid))
	var inv [6][6]float64
	for range 30 {
		step, in, ok := c.step(points)
		if !ok {
			return c, false
		}
		inv = in
		x, y := sideways(c.along)
		c.at = c.at.Add(x.Scale(step[0])).Add(y.Scale(step[1]))
		c.along = c.along.Add(x.Scale(step[2])).Add(y.Scale(step[3])).Unit()
		c.radius += step[4]
		c.slope += step[5]
		size := math.Abs(step[0]) + math.Abs(step[1]) + math.Abs(step[4]) + float64(c.radius*(math.Abs(step[2])+math.Abs(step[3])+math.Abs(step[5])))
		if !(c.radius > 0) || math.IsNaN(size) || math.Abs(c.slope) > 1 || c.along.Dot(start.along) < 0.9 {
			return c, false
		}
		if size <= 1e-12*c.radius {
			break
		}
	}
	sum := 0.0
	for _, p := range points {
		off := c.off(p)
		sum += float64(off * off)
		c.max = max(c.max, math.Abs(off))
	}
	c.rms = math.Sqrt(sum / float64(c.n))
	s2 := sum / float64(max(1, c.n-6))
	for i := range inv {
		for k := range inv[i] {
			c.cov[i][k] = s2 * inv[i][k]
		}
	}
	return c, true
}

// off is how far a point lies outside the cone, across the line.
func (c *coneLine) off(p geom.Vec) float64 {
	d := p.Sub(c.at)
	z := d.Dot(c.along)
	return d.Sub(c.along.Scale(z)).Norm() - c.radius - float64(c.slope*z)
}

// step is one step of the fit, and the inverse of J^T J.
func (c *coneLine) step(points []geom.Vec) (step [6]float64, inv [6][6]float64, ok bool) {
	x, y := sideways(c.along)
	var a [6][6]float64
	var g [6]float64
	for _, p := range points {
		d := p.Sub(c.at)
		z := d.Dot(c.along)
		flat := d.Sub(c.along.Scale(z))
		rho := flat.Norm()
		if rho == 0 {
			return step, inv, false
		}
		u, v := flat.Dot(x)/rho, flat.Dot(y)/rho
		lean := z + float64(c.slope*rho) // the line turned: the point moves across it, and along
		j := [6]float64{-u, -v, -lean * u, -lean * v, -1, -z}
		r := rho - c.radius - float64(c.slope*z)
		for i := range 6 {
			g[i] -= float64(j[i] * r)
			for k := range i + 1 {
				a[i][k] += float64(j[i] * j[k])
			}
		}
	}
	for i := range 6 {
		for k := range i {
			a[k][i] = a[i][k]
		}
	}
	if inv, ok = invert(a); !ok {
		return step, inv, false
	}
	for i := range 6 {
		for k := range 6 {
			step[i] += float64(inv[i][k] * g[k])
		}
	}
	return step, inv, true
}

// placeStd is the standard uncertainty of the line across itself at z, in the worst
// direction.
func (c *coneLine) placeStd(z float64) float64 {
	worst := 0.0
	for k := range 2 {
		worst += c.cov[k][k] + float64(2*z*c.cov[k][k+2]) + float64(z*z*c.cov[k+2][k+2])
	}
	return math.Sqrt(max(0, worst))
}

// radiusStd is that of the radius at z.
func (c *coneLine) radiusStd(z float64) float64 {
	return math.Sqrt(max(0, c.cov[4][4]+float64(2*z*c.cov[4][5])+float64(z*z*c.cov[5][5])))
}
