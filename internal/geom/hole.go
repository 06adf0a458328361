package geom

import (
	"math"

	"fettle/internal/elem"
)

// Hole is a circle in space fitted to points of its rim.
type Hole struct {
	Centre Vec
	Normal Vec
	Radius float64
	// Cov is the covariance of the centre, RadiusStd the standard deviation of
	// the radius, for the standard uncertainty of the rim points given.
	Cov       Mat3
	RadiusStd float64
	// Chi2 compares the distances from circle and plane with that uncertainty;
	// DOF is 2n - 6.
	Chi2 float64
	DOF  int
	// Arc is the angle of the rim that the points span [rad].
	Arc float64
}

// FitHole fits the centre of a hole from at least three points of its rim,
// each with standard uncertainty std in every direction.
//
// Method: the plane through the points by the smallest principal axis; in it
// the geometric circle fit, the least sum of squared distances from the circle
// (Gander, Golub and Strebel 1994; from memory), from the algebraic circle as
// a start. On a short arc an algebraic circle is off by a multiple of its
// radius; the geometric one is not, and its covariance says how little such an
// arc tells.
func FitHole(rim []Vec, std float64) (Hole, error) {
	if len(rim) < 3 || !(std > 0) || math.IsInf(std, 1) {
		return Hole{}, refuse("a hole needs at least 3 rim points with a positive uncertainty, there are %d with %v mm", len(rim), std)
	}
	var mid Vec
	for i, p := range rim {
		if !p.Finite() {
			return Hole{}, refuse("rim point %d is not finite", i+1)
		}
		mid = mid.Add(p.Scale(1 / float64(len(rim))))
	}
	var spread Mat3
	for _, p := range rim {
		spread = spread.Add(Outer(p.Sub(mid), p.Sub(mid)))
	}
	lam, axes := SymEigen(spread)
	if !(lam[1] > MinSpreadRatio*lam[0]) {
		return Hole{}, degenerate(lam[1] / math.Max(lam[0], math.SmallestNonzeroFloat64))
	}
	u, v := make([]float64, len(rim)), make([]float64, len(rim))
	for i, p := range rim {
		d := axes.TMulVec(p.Sub(mid))
		u[i], v[i] = d[0], d[1]
	}
	c, err := FitCircle(u, v)
	if err != nil {
		return Hole{}, err
	}
	return c.inSpace(mid, axes, lam, len(rim), std, u, v), nil
}

// Circle is a geometric circle fit in the plane. Cov is the covariance of
// (x, y, radius) for unit noise.
type Circle struct {
	X, Y, R float64
	Cov     Mat3
	SS      float64
}

// FitCircle is the geometric fit in the plane.
func FitCircle(u, v []float64) (Circle, error) {
	a, err := kasa(u, v)
	if err != nil {
		return Circle{}, err
	}
	f := func(x, r, jac []float64) {
		for i := range u {
			dx, dy := x[0]-u[i], x[1]-v[i]
			d := elem.Hypot(dx, dy)
			r[i] = d - x[2]
			inv := 1 / math.Max(d, 1e-300)
			jac[3*i], jac[3*i+1], jac[3*i+2] = dx*inv, dy*inv, -1
		}
	}
	s, err := LeastSquares(f, a[:], len(u))
	if err != nil {
		return Circle{}, err
	}
	c := Circle{X: s.X[0], Y: s.X[1], R: math.Abs(s.X[2]), SS: s.SS}
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			c.Cov[i][j] = s.Cov(i, j)
		}
	}
	return c, nil
}

// kasa is the algebraic circle x^2 + y^2 = 2 a x + 2 b y + c by linear least
// squares (Kasa 1976, from memory).
func kasa(u, v []float64) ([3]float64, error) {
	var n Mat3
	var g Vec
	for i := range u {
		row := Vec{2 * u[i], 2 * v[i], 1}
		n = n.Add(Outer(row, row))
		g = g.Add(row.Scale(float64(u[i]*u[i]) + float64(v[i]*v[i])))
	}
	inv, ok := n.Inverse()
	if !ok {
		return [3]float64{}, refuse("the rim points lie on one line")
	}
	x := inv.MulVec(g)
	r2 := float64(x[0]*x[0]) + float64(x[1]*x[1]) + x[2]
	if !(r2 > 0) {
		return [3]float64{}, refuse("the rim points lie on no circle")
	}
	return [3]float64{x[0], x[1], math.Sqrt(r2)}, nil
}

// inSpace carries the circle into space. Across the plane the centre is known
// as well as the plane is there: var = std^2 (1/n + a^2/lam1 + b^2/lam2).
func (c Circle) inSpace(mid Vec, axes Mat3, lam Vec, n int, std float64, u, v []float64) Hole {
	s2 := std * std
	across := 1/float64(n) + c.X*c.X/lam[0] + c.Y*c.Y/lam[1]
	local := Mat3{{c.Cov[0][0] * s2, c.Cov[0][1] * s2, 0}, {c.Cov[1][0] * s2, c.Cov[1][1] * s2, 0}, {0, 0, across * s2}}
	return Hole{
		Centre: mid.Add(axes.MulVec(Vec{c.X, c.Y, 0})), Normal: Vec{axes[0][2], axes[1][2], axes[2][2]}, Radius: c.R,
		Cov: local.Turn(axes), RadiusStd: std * math.Sqrt(c.Cov[2][2]),
		Chi2: (c.SS + math.Max(0, lam[2])) / s2, DOF: 2*n - 6, Arc: arc(c, u, v),
	}
}

// arc is the full turn less the largest gap between neighbours on the rim.
func arc(c Circle, u, v []float64) float64 {
	angles := make([]float64, len(u))
	for i := range u {
		angles[i] = elem.Atan2(v[i]-c.Y, u[i]-c.X)
	}
	gap := 0.0
	for i, a := range angles {
		next := math.Inf(1)
		for j, b := range angles {
			if i == j {
				continue
			}
			d := math.Mod(b-a+4*math.Pi, 2*math.Pi)
			next = math.Min(next, d)
		}
		gap = math.Max(gap, next)
	}
	return math.Max(0, 2*math.Pi-gap)
}
