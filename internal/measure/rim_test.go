package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// rimOf replaces the coordinate reading of a point in set-up S1 by n points on
// the rim of a hole of the given radius round it, over part of the circle, in
// the plane across the device's x axis tilted by 20 degrees. Each point has an
// error of the given size along every axis.
func rimOf(c *car, in *Input, point, n int, radius, arc, std float64) {
	k := 0
	for in.Readings[k].From != in.Points[point].ID {
		k++
	}
	r := in.Readings[k]
	centre := geom.Vec{r.X.Value, r.Y.Value, r.Z.Value}
	turn := geom.FromRotationVector(geom.Vec{0, 20 / degree, 0})
	var rows []job.Reading
	for i := range n {
		a := arc * float64(i) / float64(n)
		p := centre.Add(turn.MulVec(geom.Vec{0, radius * math.Cos(a), radius * math.Sin(a)})).Add(c.gauss().Scale(std))
		row := xyz("S1", r.From, p, std)
		row.Kind = "rim"
		rows = append(rows, row)
	}
	in.Readings = append(append(append([]job.Reading{}, in.Readings[:k]...), rows...), in.Readings[k+1:]...)
}

// TestRimPointsBecomeACentre: eight rim points give the centre as a reading,
// and both ways to the result (one set-up alone; the adjustment of all
// readings, asked for by a length) say the same about the point. Constructed,
// seed 81.
func TestRimPointsBecomeACentre(t *testing.T) {
	c := newCar(16, 81)
	c.moveRear(0.3, 20)
	in := c.measure(0.3)
	rimOf(c, &in, 15, 8, 12, 2*math.Pi, 0.2)
	short, _ := Run(in)
	if len(short.Holes) != 1 || !short.Holes[0].Used || short.Holes[0].DOF != 10 || short.Holes[0].P < 0.001 {
		t.Fatalf("%+v %+v", short.Holes, short.Notes)
	}
	near(t, "radius", short.Holes[0].RadiusMM, 12, 4*short.Holes[0].RadiusStd)
	a := in.Points[0].At().Add(c.shift[0])
	b := in.Points[1].At().Add(c.shift[1])
	in.Readings = append(in.Readings, job.Reading{Setup: "S1", Kind: "length", From: in.Points[0].ID, To: in.Points[1].ID, Value: unit.Some(a.Dist(b)), Std: unit.Some(1e3)})
	long, _ := Run(in)
	x, _ := short.Best()
	y, _ := long.Best()
	p, _ := x.Point(in.Points[15].ID)
	q, _ := y.Point(in.Points[15].ID)
	for k := range 3 {
		near(t, "shift "+axisName[k], q.ShiftMM[k], p.ShiftMM[k], 1e-4)
		for l := range 3 {
			// The two ways take the lever arm of a moved point at its nominal
			// place and where it is now: 20 mm in some 1500.
			near(t, "covariance", q.CovMM2[k][l], p.CovMM2[k][l], 1e-3)
		}
	}
	if p.StdMM[0] >= 0.3 {
		t.Errorf("eight rim points of 0.2 mm leave %.2f mm", p.StdMM[0])
	}
	found := 0
	for _, o := range short.Adjustment.Observations {
		if o.From == in.Points[15].ID && (o.Kind == "centre 1" || o.Kind == "centre 2" || o.Kind == "centre 3") {
			found++
		}
	}
	if found != 3 {
		t.Errorf("%d rows of the centre in the adjustment", found)
	}
}

// TestRimCovarianceIsWhole: across the hole's plane the centre is known as well
// as the plane, within it as the circle; with rim points only on one half the
// covariance is no multiple of the unit matrix, and it is used in whole: the
// test value of the point is that of the matrix. Constructed, seed 82.
func TestRimCovarianceIsWhole(t *testing.T) {
	c := newCar(16, 82)
	in := c.measure(0.3)
	rimOf(c, &in, 15, 7, 40, math.Pi, 0.3)
	r, _ := Run(in)
	h, _ := r.Best()
	p, _ := h.Point(in.Points[15].ID)
	lam, _ := geom.SymEigen(p.CovMM2)
	if lam[0] < 3*lam[2] {
		t.Errorf("covariance %v has no long axis", p.CovMM2)
	}
}

// TestRimFaultsAreNamed: too few points, a short arc, an oval hole and three
// points without a check each have their own words; what gives no centre
// blocks. Constructed, seed 83.
func TestRimFaultsAreNamed(t *testing.T) {
	for _, k := range []struct {
		what   string
		n      int
		radius float64
		arc    float64
		std    float64
		bend   bool
		code   string
		used   bool
	}{
		{"two points", 2, 12, 2 * math.Pi, 0.2, false, "measure.reading-unusable", false},
		{"three points", 3, 12, 2 * math.Pi, 0.2, false, "measure.rim-unchecked", true},
		{"short arc", 9, 60, 1.7, 0.1, false, "measure.rim-short-arc", true},
		{"arc too short", 6, 12, 0.4, 0.2, false, "measure.reading-unusable", false},
		{"oval", 10, 12, 2 * math.Pi, 0.05, true, "measure.rim-misfit", true},
	} {
		c := newCar(16, 83)
		in := c.measure(0.3)
		rimOf(c, &in, 15, k.n, k.radius, k.arc, k.std)
		for i := range in.Readings {
			if k.bend && in.Readings[i].Kind == "rim" && i%2 == 0 {
				in.Readings[i].Y.Value += 1
			}
		}
		r, _ := Run(in)
		where := ""
		for _, n := range r.Notes {
			if n.Code == k.code {
				where = n.Where
			}
		}
		if where == "" {
			t.Errorf("%s: no %s in %+v", k.what, k.code, r.Notes)
		}
		h, _ := r.Best()
		if _, there := h.Point(in.Points[15].ID); there != k.used {
			t.Errorf("%s: used %v, want %v", k.what, there, k.used)
		}
	}
}

// TestWiderWhenOval: a misfit makes the centre less certain by the square root
// of chi-square over its degrees of freedom. Constructed, seed 84.
func TestWiderWhenOval(t *testing.T) {
	c := newCar(16, 84)
	in := c.measure(0.3)
	rimOf(c, &in, 15, 10, 12, 2*math.Pi, 0.05)
	good, _ := Run(in)
	for i := range in.Readings {
		if in.Readings[i].Kind == "rim" && i%2 == 0 {
			in.Readings[i].Y.Value += 1
		}
	}
	oval, _ := Run(in)
	g, o := good.Holes[0], oval.Holes[0]
	near(t, "radius std", o.RadiusStd/g.RadiusStd, math.Sqrt(o.Chi2/float64(o.DOF)), 0.2*math.Sqrt(o.Chi2/float64(o.DOF)))
	near(t, "std", o.StdMM[1]/g.StdMM[1], math.Sqrt(o.Chi2/float64(o.DOF)), 0.2*math.Sqrt(o.Chi2/float64(o.DOF)))
}

// At the level of one in a thousand and a little beyond: what the rim points say of themselves counts
// only beyond it, and then the whole covariance of the centre and that of the radius widen by
// chi-square over its degrees of freedom. The errors are one shape throughout; what they are held
// against is chosen so that chi-square meets the level.
func TestWhereAHoleBecomesWider(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 4))
	for _, n := range []int{4, 6, 11} {
		var at []geom.Vec
		for k := range n {
			a := 2 * math.Pi * float64(k) / float64(n)
			at = append(at, geom.Vec{100, 20 + 15*math.Cos(a), 30 + 15*math.Sin(a)}.Add(geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Scale(0.01)))
		}
		one, err := geom.FitHole(at, 1)
		if err != nil {
			t.Fatal(err)
		}
		level := geom.ChiSquareQuantile(geom.AlphaBlock, one.DOF)
		for _, over := range []float64{0.5, 1 - 1e-6, 1 + 1e-6, 4} {
			std := math.Sqrt(one.Chi2 / (level * over))
			f, err := geom.FitHole(at, std)
			if err != nil {
				t.Fatal(err)
			}
			p, _ := laid(geom.Vec{100, 20, 30})
			p.rims = []rim{{setup: 0, point: 0, std: std, at: at, first: &job.Reading{}}}
			p.fitHoles()
			wide := 1.0
			if over > 1 {
				wide = math.Sqrt(f.Chi2 / float64(f.DOF))
			}
			if len(p.holes) != 1 || len(p.coords) != 2 {
				t.Fatalf("%+v, %+v", p.holes, p.notes)
			}
			h := p.holes[0]
			near(t, "chi-square", h.Chi2, level*over, 1e-4*level)
			near(t, "radius std", h.RadiusStd, f.RadiusStd*wide, 1e-7)
			for k, s := range stds(f.Cov) {
				near(t, "std", h.StdMM[k], s*wide, 1e-7)
				near(t, "std of the reading", stds(p.coords[1].cov())[k], s*wide, 1e-7)
			}
			if misfit := slices.ContainsFunc(p.notes, func(n diag.Note) bool { return n.Code == "measure.rim-misfit" }); misfit != (over > 1) {
				t.Errorf("chi-square %g of the level: told %v", over, misfit)
			}
		}
	}
}
