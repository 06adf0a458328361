package mesh

import (
	"math"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// FitCircle is the circle nearest to the points in space, by least squares of
// the true distances: out of the plane and from the radius. False when there
// are fewer than four points, they lie on one line, or the fit does not settle.
//
// The unknowns are the centre, two tilts of the axis and the radius. With the
// residuals r of n points, their derivatives J and s^2 = r.r / (2n - 6), the
// covariance is s^2 (J^T J)^-1. Source: the method of Gauss and Newton, in any
// text on least squares, for example A. Bjorck, Numerical Methods for Least
// Squares Problems, 1996.
func FitCircle(points []geom.Vec) (Circle, bool) {
	if len(points) < 4 {
		return Circle{}, false
	}
	c, ok := firstCircle(points)
	if !ok {
		return c, false
	}
	var cov [6][6]float64
	for range 50 {
		var step [6]float64
		if step, cov, ok = circleStep(points, &c); !ok {
			return c, false
		}
		x, y := sideways(c.Axis)
		c.Centre = c.Centre.Add(geom.Vec{step[0], step[1], step[2]})
		c.Axis = c.Axis.Add(x.Scale(step[3])).Add(y.Scale(step[4])).Unit()
		c.RadiusMM += step[5]
		size := math.Abs(step[0]) + math.Abs(step[1]) + math.Abs(step[2]) + math.Abs(step[5]) + float64(c.RadiusMM*(math.Abs(step[3])+math.Abs(step[4])))
		if !(c.RadiusMM > 0) || math.IsNaN(size) {
			return c, false
		}
		if size <= 1e-12*c.RadiusMM {
			break
		}
	}
	c.measure(points, &cov)
	return c, true
}

// firstCircle starts in the plane of the area vector of the points in order,
// or, where that vanishes, of the first two and the farthest from their line.
func firstCircle(points []geom.Vec) (Circle, bool) {
	var mid, area geom.Vec
	for _, p := range points {
		mid = mid.Add(p.Scale(1 / float64(len(points))))
	}
	spread := 0.0
	for i, p := range points {
		q := points[(i+1)%len(points)]
		area = area.Add(p.Sub(mid).Cross(q.Sub(mid)))
		spread += p.Sub(mid).Dot(p.Sub(mid))
	}
	if !(area.Norm() > 1e-9*spread) {
		for _, p := range points {
			if n := points[1].Sub(points[0]).Cross(p.Sub(points[0])); n.Norm() > area.Norm() {
				area = n
			}
		}
	}
	if !(area.Norm() > 1e-9*spread/float64(len(points))) {
		return Circle{}, false
	}
	c := Circle{Centre: mid, Axis: area.Unit(), N: len(points)}
	for _, p := range points {
		c.RadiusMM += p.Dist(mid) / float64(len(points))
	}
	return c, true
}

// flatCircle is the circle nearest to points in a plane, by least squares of the
// distances from it; false when they lie on one line or the fit does not settle. It
// begins at the centroid.
func flatCircle(points [][2]float64) (at [2]float64, radius float64, ok bool) {
	n := float64(len(points))
	for _, p := range points {
		at[0], at[1] = at[0]+p[0]/n, at[1]+p[1]/n
	}
	for range 50 {
		// with e the direction from the centre to a point and r its distance: the
		// centre moves so that r - radius has no share along e left
		var e, re [2]float64
		var ee [3]float64
		r := 0.0
		for _, p := range points {
			x, y := p[0]-at[0], p[1]-at[1]
			d := math.Sqrt(float64(x*x) + float64(y*y))
			if d == 0 {
				return at, 0, false
			}
			u, v := x/d, y/d
			r += d / n
			e[0], e[1] = e[0]+u/n, e[1]+v/n
			re[0], re[1] = re[0]+x/n, re[1]+y/n
			ee[0], ee[1], ee[2] = ee[0]+float64(u*u)/n, ee[1]+float64(u*v)/n, ee[2]+float64(v*v)/n
		}
		a, b, c := ee[0]-float64(e[0]*e[0]), ee[1]-float64(e[0]*e[1]), ee[2]-float64(e[1]*e[1])
		g, h := re[0]-float64(r*e[0]), re[1]-float64(r*e[1])
		det := float64(a*c) - float64(b*b)
		if !(det > 1e-12) {
			return at, 0, false
		}
		dx, dy := (float64(c*g)-float64(b*h))/det, (float64(a*h)-float64(b*g))/det
		at[0], at[1] = at[0]+dx, at[1]+dy
		radius = r - float64(e[0]*dx) - float64(e[1]*dy)
		if math.Abs(dx)+math.Abs(dy) <= 1e-12*radius {
			break
		}
	}
	return at, radius, radius > 0
}

// sideways are two unit vectors across the axis.
func sideways(n geom.Vec) (x, y geom.Vec) {
	k := 0
	for i := 1; i < 3; i++ {
		if math.Abs(n[i]) < math.Abs(n[k]) {
			k = i
		}
	}
	var e geom.Vec
	e[k] = 1
	x = e.Sub(n.Scale(n[k])).Unit()
	return x, n.Cross(x)
}

// circleStep is one step of the fit, and the inverse of J^T J.
func circleStep(points []geom.Vec, c *Circle) (step [6]float64, inv [6][6]float64, ok bool) {
	x, y := sideways(c.Axis)
	var a [6][6]float64
	var g [6]float64
	add := func(r float64, j [6]float64) {
		for i := range 6 {
			g[i] -= float64(j[i] * r)
			for k := range 6 {
				a[i][k] += float64(j[i] * j[k])
			}
		}
	}
	n := c.Axis
	for _, p := range points {
		d := p.Sub(c.Centre)
		h := d.Dot(n)
		flat := d.Sub(n.Scale(h))
		rho := flat.Norm()
		if rho == 0 {
			return step, inv, false
		}
		e := flat.Scale(1 / rho)
		add(h, [6]float64{-n[0], -n[1], -n[2], d.Dot(x), d.Dot(y), 0})
		add(rho-c.RadiusMM, [6]float64{-e[0], -e[1], -e[2], -h * e.Dot(x), -h * e.Dot(y), -1})
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

// invert is the inverse by elimination with row exchange; false when singular.
func invert(a [6][6]float64) (inv [6][6]float64, ok bool) {
	for i := range inv {
		inv[i][i] = 1
	}
	for c := range 6 {
		p := c
		for r := c + 1; r < 6; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		if !(math.Abs(a[p][c]) > 1e-300) {
			return inv, false
		}
		a[c], a[p], inv[c], inv[p] = a[p], a[c], inv[p], inv[c]
		f := 1 / a[c][c]
		for k := range 6 {
			a[c][k] *= f
			inv[c][k] *= f
		}
		for r := range 6 {
			if f := a[r][c]; r != c && f != 0 {
				for k := range 6 {
					a[r][k] -= float64(f * a[c][k])
					inv[r][k] -= float64(f * inv[c][k])
				}
			}
		}
	}
	return inv, true
}

// measure sets the residuals and the covariance.
func (c *Circle) measure(points []geom.Vec, inv *[6][6]float64) {
	sum := 0.0
	for _, p := range points {
		d := p.Sub(c.Centre)
		h := d.Dot(c.Axis)
		off := elem.Hypot(h, d.Sub(c.Axis.Scale(h)).Norm()-c.RadiusMM)
		sum += float64(off * off)
		c.MaxMM = max(c.MaxMM, off)
	}
	n := float64(len(points))
	c.RMSMM = math.Sqrt(sum / n)
	s2 := sum / (2*n - 6) // of four points or more
	at := [4]int{0, 1, 2, 5}
	for i, p := range at {
		for k, q := range at {
			c.Cov[i][k] = s2 * inv[p][q]
		}
	}
}

// StdMM is the standard uncertainty of where the circle lies: of its centre in the
// worst direction, of its radius, and of its flats, which lie inside it by
// r (1 - cos(pi/n)) where its n points are evenly round it.
func (c *Circle) StdMM() float64 {
	centre := 0.0
	for i := range 3 {
		centre += c.Cov[i][i]
	}
	flats := c.RadiusMM * (1 - elem.Cos(math.Pi/float64(max(3, c.N)))) / math.Sqrt(12)
	return math.Sqrt(centre + c.Cov[3][3] + float64(flats*flats))
}
