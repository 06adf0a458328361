package mesh

import (
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
)

// direction is one drawn evenly.
func direction(r *rand.Rand) geom.Vec {
	return geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
}

// offCircle is the distance from a circle, by the place on it nearest to p.
func offCircle(p, centre, axis geom.Vec, radius float64) float64 {
	d := p.Sub(centre)
	flat := d.Sub(axis.Scale(d.Dot(axis)))
	return p.Dist(centre.Add(flat.Unit().Scale(radius)))
}

// Points of a circle give the circle back, whatever part of it they are of and in whatever
// order; of points beside it no other circle near is nearer, its figures are those of their
// definitions, and its covariance is s^2 (J^T J)^-1 with J by differences.
func TestFitCircleIsTheNearest(t *testing.T) {
	r := rand.New(rand.NewPCG(41, 0))
	for k := range 60 {
		centre, axis, radius := direction(r).Scale(300*r.Float64()), direction(r), 2+40*r.Float64()
		x, y := sideways(axis)
		if math.Abs(x.Dot(axis))+math.Abs(y.Dot(axis))+math.Abs(x.Dot(y)) > 1e-12 || x.Cross(y).Dist(axis) > 1e-12 || math.Abs(x.Norm()-1) > 1e-12 {
			t.Fatalf("%v and %v are not across %v", x, y, axis)
		}
		n, part, noise := 4+r.IntN(30), 2*math.Pi, 0.0
		if k%3 == 1 {
			part = 1 + 3*r.Float64()
		}
		if k%3 == 2 {
			n, noise = n+6, 0.02*radius
		}
		var points []geom.Vec
		for i := range n {
			sin, cos := math.Sincos(part * float64(i) / float64(n))
			points = append(points, centre.Add(x.Scale(radius*cos)).Add(y.Scale(radius*sin)).Add(geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Scale(noise)))
		}
		if k%2 == 0 {
			r.Shuffle(n, func(i, j int) { points[i], points[j] = points[j], points[i] })
		}
		c, ok := FitCircle(points)
		if !ok || c.N != n {
			t.Fatalf("circle %d of %d points: no fit", k, n)
		}
		if noise == 0 {
			if c.Centre.Dist(centre) > 1e-8*radius || math.Abs(c.RadiusMM-radius) > 1e-8*radius || math.Abs(math.Abs(c.Axis.Dot(axis))-1) > 1e-9 || c.MaxMM > 1e-8*radius {
				t.Errorf("circle %d: %+v, want centre %v, axis %v, radius %g", k, c, centre, axis, radius)
			}
			continue
		}
		of := func(u [6]float64) (sum, most float64) { // of a circle moved a little
			x, y := sideways(c.Axis)
			tilted := c.Axis.Add(x.Scale(u[3])).Add(y.Scale(u[4])).Unit()
			for _, p := range points {
				off := offCircle(p, c.Centre.Add(geom.Vec{u[0], u[1], u[2]}), tilted, c.RadiusMM+u[5])
				sum, most = sum+off*off, max(most, off)
			}
			return sum, most
		}
		least, most := of([6]float64{})
		if math.Abs(c.RMSMM-math.Sqrt(least/float64(n))) > 1e-9 || math.Abs(c.MaxMM-most) > 1e-9 {
			t.Errorf("circle %d: root mean square %g of %g, most %g of %g", k, c.RMSMM, math.Sqrt(least/float64(n)), c.MaxMM, most)
		}
		for i := range 6 {
			for _, d := range []float64{1e-3, -1e-3} {
				var u [6]float64
				u[i] = d * radius
				if i == 3 || i == 4 {
					u[i] = d
				}
				if sum, _ := of(u); sum < least {
					t.Errorf("circle %d: with unknown %d changed by %g it is nearer", k, i, d)
				}
			}
		}
		want := covByDifferences(points, 2, 6, func(p geom.Vec, u []float64) []float64 {
			x, y := sideways(c.Axis)
			axis := c.Axis.Add(x.Scale(u[3])).Add(y.Scale(u[4])).Unit()
			d := p.Sub(c.Centre.Add(geom.Vec{u[0], u[1], u[2]}))
			h := d.Dot(axis)
			return []float64{h, d.Sub(axis.Scale(h)).Norm() - c.RadiusMM - u[5]}
		})
		for i, p := range [4]int{0, 1, 2, 5} {
			for j, q := range [4]int{0, 1, 2, 5} {
				if math.Abs(c.Cov[i][j]-want[p][q]) > 1e-4*math.Sqrt(want[p][p]*want[q][q]) {
					t.Fatalf("circle %d: covariance %d %d is %g, want %g", k, i, j, c.Cov[i][j], want[p][q])
				}
			}
		}
		flats := c.RadiusMM * (1 - math.Cos(math.Pi/float64(n))) / math.Sqrt(12)
		if s := math.Sqrt(c.Cov[0][0] + c.Cov[1][1] + c.Cov[2][2] + c.Cov[3][3] + flats*flats); math.Abs(c.StdMM()-s) > 1e-9*s {
			t.Errorf("circle %d: %g, want %g", k, c.StdMM(), s)
		}
	}
	for name, points := range map[string][]geom.Vec{
		"three points": {{1, 0, 0}, {0, 1, 0}, {-1, 0, 0}},
		"one point":    {{1, 2, 3}, {1, 2, 3}, {1, 2, 3}, {1, 2, 3}},
		"the middle":   {{1, 0, 0}, {0, 1, 0}, {-1, 0, 0}, {0, -1, 0}, {0, 0, 0}},
	} {
		if c, ok := FitCircle(points); ok {
			t.Errorf("%s: %+v", name, c)
		}
	}
	// there and back: the area of the points in order vanishes
	back := []geom.Vec{{5, 0, 0}, {0, 5, 0}, {-5, 0, 0}, {0, 5, 0}}
	if c, ok := FitCircle(back); !ok || math.Abs(c.RadiusMM-5) > 1e-9 || c.Centre.Norm() > 1e-9 {
		t.Errorf("there and back: %+v, %v", c, ok)
	}
}

// covByDifferences is s^2 (J^T J)^-1 of n points with so many residuals each, J by central
// differences at 0, by elimination.
func covByDifferences(points []geom.Vec, each, unknowns int, residuals func(p geom.Vec, u []float64) []float64) [6][6]float64 {
	const h = 1e-5
	var a, inv [6][6]float64
	sum := 0.0
	for _, p := range points {
		for _, x := range residuals(p, make([]float64, unknowns)) {
			sum += x * x
		}
		j := make([][]float64, unknowns)
		for i := range j {
			u := make([]float64, unknowns)
			u[i] = h
			plus := residuals(p, u)
			u[i] = -h
			minus := residuals(p, u)
			for e := range plus {
				j[i] = append(j[i], (plus[e]-minus[e])/(2*h))
			}
		}
		for i := range unknowns {
			for k := range unknowns {
				for e := range each {
					a[i][k] += j[i][e] * j[k][e]
				}
			}
		}
	}
	for i := range inv { // Gauss and Jordan: the matrix has a positive diagonal throughout
		inv[i][i] = 1
	}
	for c := range 6 {
		f := a[c][c]
		for k := range 6 {
			a[c][k], inv[c][k] = a[c][k]/f, inv[c][k]/f
		}
		for row := range 6 {
			if f := a[row][c]; row != c {
				for k := range 6 {
					a[row][k], inv[row][k] = a[row][k]-f*a[c][k], inv[row][k]-f*inv[c][k]
				}
			}
		}
	}
	s2 := sum / float64(each*len(points)-unknowns)
	for i := range inv {
		for k := range inv[i] {
			inv[i][k] *= s2
		}
	}
	return inv
}

// Points of a cone give the cone back from a line near it; of points beside it no other cone
// near is nearer, and its figures are those of their definitions.
func TestFitConeIsTheNearest(t *testing.T) {
	r := rand.New(rand.NewPCG(42, 0))
	for k := range 40 {
		at, along, radius, slope := direction(r).Scale(200*r.Float64()), direction(r), 4+20*r.Float64(), 0.4*r.Float64()-0.2
		x, y := sideways(along)
		n, noise := 7+r.IntN(60), 0.0
		if k%2 == 1 {
			noise = 0.01 * radius
		}
		var points []geom.Vec
		for i := range n {
			z := 10 * (r.Float64() - 0.3)
			sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5*r.Float64()) / float64(n))
			rho := radius + slope*z + noise*r.NormFloat64()
			points = append(points, at.Add(along.Scale(z)).Add(x.Scale(rho*cos)).Add(y.Scale(rho*sin)))
		}
		start := axisLine{at: at.Add(x.Scale(0.05 * radius)), along: along.Add(y.Scale(0.02)).Unit(), radius: 1.02 * radius}
		c, ok := fitCone(points, start)
		if n < 10 && noise > 0 && !ok {
			continue
		}
		if !ok || c.n != n {
			t.Fatalf("cone %d: no fit of %d points", k, n)
		}
		if noise == 0 {
			off := 0.0
			for z := -5.0; z <= 10; z += 5 {
				p := at.Add(along.Scale(z))
				off = max(off, radial(p.Sub(c.at), c.along).Norm(), math.Abs(c.radius+c.slope*p.Sub(c.at).Dot(c.along)-radius-slope*z))
			}
			if off > 1e-7 || c.rms > 1e-8 || c.max > 1e-8 {
				t.Errorf("cone %d: off by %g, %+v", k, off, c)
			}
			continue
		}
		residual := func(p geom.Vec, u []float64) []float64 {
			x, y := sideways(c.along)
			line := c.along.Add(x.Scale(u[2])).Add(y.Scale(u[3])).Unit()
			d := p.Sub(c.at.Add(x.Scale(u[0])).Add(y.Scale(u[1])))
			z := d.Dot(line)
			return []float64{d.Sub(line.Scale(z)).Norm() - c.radius - u[4] - (c.slope+u[5])*z}
		}
		of := func(u []float64) (sum, most float64) {
			for _, p := range points {
				off := residual(p, u)[0]
				sum, most = sum+off*off, max(most, math.Abs(off))
			}
			return sum, most
		}
		least, most := of(make([]float64, 6))
		if math.Abs(c.rms-math.Sqrt(least/float64(n))) > 1e-9 || math.Abs(c.max-most) > 1e-9 {
			t.Errorf("cone %d: root mean square %g of %g, most %g of %g", k, c.rms, math.Sqrt(least/float64(n)), c.max, most)
		}
		for i := range 6 {
			for _, d := range []float64{1e-3, -1e-3} {
				u := make([]float64, 6)
				u[i] = d
				if sum, _ := of(u); sum < least*(1-1e-9) {
					t.Errorf("cone %d: with unknown %d changed by %g it is nearer", k, i, d)
				}
			}
		}
		want := covByDifferences(points, 1, 6, residual)
		for i := range 6 {
			for j := range 6 {
				if math.Abs(c.cov[i][j]-want[i][j]) > 1e-3*math.Sqrt(want[i][i]*want[j][j]) {
					t.Fatalf("cone %d: covariance %d %d is %g, want %g", k, i, j, c.cov[i][j], want[i][j])
				}
			}
		}
		for z := -3.0; z <= 3; z += 3 { // propagated: J C J^T with J of what lies at z
			place := want[0][0] + 2*z*want[0][2] + z*z*want[2][2] + want[1][1] + 2*z*want[1][3] + z*z*want[3][3]
			wide := want[4][4] + 2*z*want[4][5] + z*z*want[5][5]
			if math.Abs(c.placeStd(z)-math.Sqrt(place)) > 1e-3*math.Sqrt(place) || math.Abs(c.radiusStd(z)-math.Sqrt(wide)) > 1e-3*math.Sqrt(wide) {
				t.Errorf("cone %d at %g: place %g and radius %g, want %g and %g", k, z, c.placeStd(z), c.radiusStd(z), math.Sqrt(place), math.Sqrt(wide))
			}
		}
		if _, ok := fitCone(points[:6], start); ok {
			t.Error("six points settle no cone")
		}
	}
	ring := func(n int, slope float64) (out []geom.Vec) {
		for i := range n {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / 8)
			z := float64(i / 8)
			out = append(out, geom.Vec{(5 + slope*z) * cos, (5 + slope*z) * sin, z})
		}
		return out
	}
	up := axisLine{along: geom.Vec{0, 0, 1}, radius: 5}
	for name, c := range map[string]struct {
		points []geom.Vec
		start  axisLine
		ok     bool
	}{
		"two rings":              {ring(16, 0.5), up, true},
		"one ring only":          {ring(8, 0), up, false}, // how it grows is not settled
		"a cone of over 45 deg":  {ring(16, 1.5), up, false},
		"a point on the line":    {append(ring(16, 0), geom.Vec{0, 0, 0.5}), up, false},
		"all in one point":       {make([]geom.Vec, 9), up, false},
		"from a line across it":  {ring(16, 0), axisLine{along: geom.Vec{1, 0, 0.3}.Unit(), radius: 5}, false},
		"from far beside it":     {ring(24, 0), axisLine{at: geom.Vec{2, 0, 40}, along: geom.Vec{0, 0, 1}, radius: 3}, true},
		"from a radius far less": {ring(24, 0.1), axisLine{along: geom.Vec{0, 0, 1}, radius: 0.5}, true},
	} {
		if got, ok := fitCone(c.points, c.start); ok != c.ok {
			t.Errorf("%s: %+v, %v", name, got, ok)
		}
	}
}

// The nearest circle in a plane by the same means: given back, or nothing near is nearer.
func TestFlatCircleIsTheNearest(t *testing.T) {
	r := rand.New(rand.NewPCG(43, 0))
	for k := range 60 {
		at, radius, n := [2]float64{40 * r.NormFloat64(), 40 * r.NormFloat64()}, 1+20*r.Float64(), 5+r.IntN(20)
		noise, part := 0.02*radius*float64(k%2), 2*math.Pi
		if k%3 == 0 {
			part = 3
		}
		var points [][2]float64
		for i := range n {
			sin, cos := math.Sincos(part * float64(i) / float64(n))
			rho := radius + noise*r.NormFloat64()
			points = append(points, [2]float64{at[0] + rho*cos, at[1] + rho*sin})
		}
		c, got, ok := flatCircle(points)
		if !ok || noise == 0 && (math.Hypot(c[0]-at[0], c[1]-at[1]) > 1e-8*radius || math.Abs(got-radius) > 1e-8*radius) {
			t.Fatalf("circle %d: %v, %g, %v; want %v, %g", k, c, got, ok, at, radius)
		}
		of := func(dx, dy, dr float64) (sum float64) {
			for _, p := range points {
				off := math.Hypot(p[0]-c[0]-dx, p[1]-c[1]-dy) - got - dr
				sum += off * off
			}
			return sum
		}
		for _, d := range [][3]float64{{1, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, -1, 0}, {0, 0, 1}, {0, 0, -1}} {
			if e := 1e-3 * radius; noise > 0 && of(d[0]*e, d[1]*e, d[2]*e) < of(0, 0, 0) {
				t.Errorf("circle %d: moved by %v it is nearer", k, d)
			}
		}
	}
	for name, points := range map[string][][2]float64{"a line": {{0, 0}, {1, 1}, {3, 3}, {4, 4}}, "its own middle": {{-1, 0}, {1, 0}, {0, 1}, {0, -1}, {0, 0}}, "one point": {{2, 3}, {2, 3}}} {
		if at, radius, ok := flatCircle(points); ok {
			t.Errorf("%s: %v, %g", name, at, radius)
		}
	}
}

// The inverse of a matrix times the matrix is the unit matrix, whatever rows have to be
// exchanged; one without an inverse has none.
func TestInvert(t *testing.T) {
	r := rand.New(rand.NewPCG(44, 0))
	for k := range 50 {
		var a [6][6]float64
		for i := range a {
			for j := range a[i] {
				if a[i][j] = r.NormFloat64(); k%2 == 0 && (i+j)%3 == 0 {
					a[i][j] = 0
				}
			}
		}
		inv, ok := invert(a)
		for i := range a {
			for j := range a {
				sum := 0.0
				for l := range a {
					sum += a[i][l] * inv[l][j]
				}
				want := 0.0
				if i == j {
					want = 1
				}
				if !ok || math.Abs(sum-want) > 1e-8 {
					t.Fatalf("matrix %d: row %d times column %d is %g, %v", k, i, j, sum, ok)
				}
			}
		}
		a[k%6] = [6]float64{}
		if _, ok := invert(a); ok {
			t.Error("a matrix with a row of nothing has an inverse")
		}
	}
}
