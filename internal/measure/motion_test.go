package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// fitted is the fit of the points of a set to places in a device, each with a covariance of its own.
func fitted(t *testing.T, p *problem, e *epoch, set geom.Set) geom.CovFit {
	t.Helper()
	var from, to []geom.Vec
	var a, b []geom.Mat3
	for _, i := range set.Members() {
		from, to = append(from, p.in.Points[e.points[i]].At()), append(to, e.at[i])
		a, b = append(a, geom.Isotropic(p.std0[i])), append(b, e.cov[i])
	}
	f, err := geom.FitRigidCov(from, to, a, b)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// twoEnds is ten points read in a turned device: the first six steady, the last four moved as one by
// a small motion about the middle of them, without errors; the covariance of each reading is its own.
func twoEnds(moved geom.Rigid) (*problem, *epoch, geom.Set, geom.Set) {
	rng := rand.New(rand.NewPCG(23, 5))
	var at []geom.Vec
	for i := range 10 {
		at = append(at, geom.Vec{450 * float64(i), 600 * float64(1-2*(i%2)), 500 * rng.Float64()})
	}
	p, e := laid(at...)
	device := geom.Rigid{R: geom.FromRotationVector(geom.Vec{0.3, -0.8, 1.1}), T: geom.Vec{200, 900, -50}}
	steady, rear := geom.SetOf(0, 1, 2, 3, 4, 5), geom.SetOf(6, 7, 8, 9)
	for i := range e.at {
		q := at[i]
		if rear.Has(i) {
			q = moved.Apply(q)
		}
		e.at[i] = device.Apply(q)
		e.cov[i] = geom.Diag3(geom.Vec{0.1 + 0.1*rng.Float64(), 0.2, 0.3}).Turn(geom.FromRotationVector(geom.Vec{rng.NormFloat64(), rng.NormFloat64(), 1}))
	}
	return p, e, steady, rear
}

// The covariance of the motion of a section, translation at a point and turn, in vehicle axes, is what
// the propagation of the errors of all readings gives, with derivatives by differences; the own part is that
// of its own readings alone.
func TestMotionCovarianceByDifferences(t *testing.T) {
	p, e, steady, rear := twoEnds(geom.Still())
	about := geom.Vec{3000, 200, 100}
	motion := func() (out [6]float64) {
		c := &candidate{steady: steady, fit: fitted(t, p, e, steady)}
		m := p.motionOf(e, c, &group{set: rear, fit: fitted(t, p, e, rear)}, about)
		d, w := m.rel.Apply(about).Sub(about), geom.RotationVector(m.rel.R)
		copy(out[:3], d[:])
		copy(out[3:], w[:])
		return out
	}
	c := &candidate{steady: steady, fit: fitted(t, p, e, steady)}
	g := &group{set: rear, fit: fitted(t, p, e, rear)}
	got, own := p.motionOf(e, c, g, about).cov, carry(&g.fit, about)
	var cov, part [6][6]float64
	const h = 1e-3
	for i := range e.at {
		var d [3][6]float64
		was := e.at[i]
		for k := range 3 {
			e.at[i][k] = was[k] + h
			up := motion()
			e.at[i][k] = was[k] - h
			down := motion()
			e.at[i] = was
			for r := range up {
				d[k][r] = (up[r] - down[r]) / (2 * h)
			}
		}
		for r := range cov {
			for s := range cov {
				v := 0.0
				for k := range 3 {
					for l := range 3 {
						v += d[k][r] * e.cov[i][k][l] * d[l][s]
					}
				}
				if cov[r][s] += v; rear.Has(i) {
					part[r][s] += v
				}
			}
		}
	}
	for r := range cov {
		for s := range cov {
			size := math.Sqrt(cov[r][r] * cov[s][s])
			if math.Abs(got[r][s]-cov[r][s]) > 1e-4*size || math.Abs(own[r][s]-part[r][s]) > 1e-4*size {
				t.Errorf("%d, %d: %g and own %g, by differences %g and %g", r, s, got[r][s], own[r][s], cov[r][s], part[r][s])
			}
		}
	}
	// the same from the adjusted places with their whole covariance, which here is that of each alone
	f, err := geom.FitRigidFull([]geom.Vec{{0, 0, 0}, {900, 0, 0}, {0, 700, 0}, {0, 0, 500}}, []geom.Vec{{0, 0, 0}, {900, 0, 0}, {0, 700, 0}, {0, 0, 500}}, func(i, j int) geom.Mat3 {
		if i == j {
			return geom.Isotropic(0.5)
		}
		return geom.Mat3{}
	})
	if err != nil {
		t.Fatal(err)
	}
	at := atPoint(&f, about)
	want := f.PredictCov(about)
	for r := range 3 {
		for s := range 3 {
			near(t, "translation at a point", at[r][s], want[r][s], 1e-9)
			near(t, "turn", at[r+3][s+3], f.Pose[r+3][s+3], 1e-15)
		}
	}
	if near(t, "wider", (&motionWide).widened()[2][2], 6, 1e-12); (&motionRigid).widened()[2][2] != 2 || (&motionThree).widened()[2][2] != 2 {
		t.Error("a rigid motion, or one of three points, is widened")
	}
}

// Motions of a section: one whose points did not keep their form, chi-square 90 of 30; one that did; one of three points.
var (
	motionWide  = motion{cov: geom.Mat6{2: {2: 2}}, fit: &geom.CovFit{Chi2: 90, DOF: 30}}
	motionRigid = motion{cov: geom.Mat6{2: {2: 2}}, fit: &geom.CovFit{Chi2: 33, DOF: 30}}
	motionThree = motion{cov: geom.Mat6{2: {2: 2}}, fit: &geom.CovFit{Chi2: 90, DOF: 0}}
)

// A section that moved by known figures has them: at the point it is reported about, and at its
// stations, which are its ends; what it did to the length of the vehicle is said beyond two standard
// deviations. A sheared one has its diamond, over its width.
func TestSectionHasTheMotionItWasGiven(t *testing.T) {
	about := geom.Vec{3000, 0, 0}
	turn, move := geom.Vec{0.002, -0.003, 0.004}, geom.Vec{5, -3, 2}
	moved := geom.Rigid{R: geom.FromRotationVector(turn)}
	moved.T = about.Add(move).Sub(moved.R.MulVec(about))
	p, e, steady, rear := twoEnds(moved)
	p.in.Sections = []body.Section{{ID: "front"}, {ID: "rear", About: about}, {ID: "other"}}
	for i := range p.in.Points {
		p.in.Points[i].Section = "front"
		if i >= 7 {
			p.in.Points[i].Section = "rear"
		}
	}
	c := &candidate{steady: steady, fit: fitted(t, p, e, steady), moved: make([]bool, 10)}
	g := &group{set: rear, fit: fitted(t, p, e, rear)}
	s := p.section(e, c, g)
	if s.ID != "rear" || s.AboutMM != about || !slices.Equal(s.Points, []body.PointID{"P07", "P08", "P09", "P10"}) || s.DOF != 6 || s.HingeMM != [2]float64{2250, 2700} || len(s.Stations) != 2 {
		t.Fatalf("%+v", s)
	}
	near(t, "translation", s.TranslationMM.Dist(move), 0, 1e-6)
	near(t, "turn", s.RotationDeg.Dist(turn.Scale(degree)), 0, 1e-6)
	for k, x := range []float64{2700, 4050} {
		at := geom.Vec{x, 0, 0}
		u, st := moved.Apply(at).Sub(at), s.Stations[k]
		if near(t, "mash", st.Mash.Value, u[0], 1e-6); st.XMM != x || st.Of != []string{"near end", "far end"}[k] || st.MashMeans != "lengthened" {
			t.Errorf("station %d: %+v", k, st)
		}
		near(t, "sidesway", st.Sidesway.Value, u[1], 1e-6)
		near(t, "sag", st.Sag.Value, u[2], 1e-6)
		near(t, "twist", st.Twist.Value, turn[0]*degree, 1e-6)
		cov := relativeCov(&c.fit, &g.fit, at)
		near(t, "its standard deviation", st.Mash.Std, math.Sqrt(cov[0][0]), 1e-6)
		near(t, "that of sag", st.Sag.Std, math.Sqrt(cov[2][2]), 1e-6)
		near(t, "that of twist", st.Twist.Std, degree*math.Sqrt(cov[3][3]), 1e-9)
		if st.Diamond == nil || math.Abs(st.Diamond.Value) > 4*st.Diamond.Std {
			t.Errorf("a rigid section has the diamond %+v", st.Diamond)
		}
	}
	own, all := carry(&g.fit, about), relativeCov(&c.fit, &g.fit, about)
	for k := range 3 {
		near(t, "own translation", s.OwnTranslation[k], math.Sqrt(own[k][k]), 1e-6)
		near(t, "own turn", s.OwnRotation[k], degree*math.Sqrt(own[k+3][k+3]), 1e-9)
		near(t, "translation", s.TranslationStd[k], math.Sqrt(all[k][k]), 1e-6)
		near(t, "turn", s.RotationStd[k], degree*math.Sqrt(all[k+3][k+3]), 1e-9)
	}
	const shear = 0.004 // du_x/dy + du_y/dx, half of it each
	for i := range e.at {
		if rear.Has(i) {
			at := p.in.Points[i].At()
			r := at.Sub(about)
			d := c.fit.Motion.R.MulVec(geom.Vec{shear / 2 * r[1], shear / 2 * r[0], 0})
			e.at[i] = c.fit.Motion.Apply(moved.Apply(at)).Add(d)
		}
	}
	v := p.diamond(e, c, g, about)
	if v == nil || math.Abs(v.Value-shear*degree) > 1e-3*shear*degree+2e-3 {
		t.Errorf("diamond %+v, want %g", v, shear*degree)
	}
	if w := p.width(e, g); w != 1200 {
		t.Errorf("width %g", w)
	}
	if s := p.section(e, c, g); math.Abs(s.Stations[0].DiamondMM.Value-math.Tan(s.Stations[0].Diamond.Value/degree)*1200) > 1e-3 || math.Abs(s.Stations[1].DiamondMM.Std-s.Stations[1].Diamond.Std/degree*1200) > 1e-6 {
		t.Errorf("%+v", s.Stations[0].DiamondMM)
	}
	if p.diamond(e, c, &group{set: geom.SetOf(6, 7, 8)}, about) != nil {
		t.Error("three points have a diamond")
	}
}

// Where a section ends along the vehicle, and the last steady point before it; the others are beyond.
func TestEndsOfASection(t *testing.T) {
	p, e := laid(alongX(12)...)
	at := func(x float64, set geom.Set) *group {
		return &group{set: set, fit: geom.CovFit{Fit: geom.Fit{Centroid: geom.Vec{x, 0, 0}}}}
	}
	c := &candidate{steady: geom.SetOf(3, 4, 5, 8), fit: geom.CovFit{Fit: geom.Fit{Centroid: geom.Vec{5000, 0, 0}}}}
	for _, x := range []struct {
		set       geom.Set
		mid       float64
		near, far float64
		last      float64
	}{
		{geom.SetOf(9, 10, 11), 10000, 9000, 11000, 8000}, {geom.SetOf(0, 1, 2), 1000, 2000, 0, 3000}, {geom.SetOf(7, 10), 8500, 7000, 10000, 5000}, {geom.SetOf(6), 6000, 6000, 6000, 5000}, {geom.SetOf(6), 4000, 6000, 6000, 8000}, {geom.SetOf(1, 4), 1500, 4000, 1000, 4000}, // the point itself stands there
	} {
		near, far := p.ends(e, c, at(x.mid, x.set))
		if near != [2]float64{x.last, x.near} || far != x.far {
			t.Errorf("%v: %v to %g; want %g, %g to %g", x.set.Members(), near, far, x.last, x.near, x.far)
		}
	}
}

// A section of the body counts as one that moved without keeping its form when four of its points
// are located, half of them moved, not more than half are steady and no block holds more than half.
func TestSectionsThatLostTheirForm(t *testing.T) {
	for _, c := range []struct {
		name   string
		moved  []int
		steady geom.Set
		block  geom.Set
		n      int
		want   int
	}{
		{"all moved", []int{6, 7, 8, 9}, geom.SetOf(0, 1, 2, 3), geom.Set{}, 4, 1}, {"half moved", []int{6, 7}, geom.SetOf(0, 1, 8, 9), geom.Set{}, 4, 1}, {"fewer moved", []int{6}, geom.SetOf(0, 1, 2, 3), geom.Set{}, 4, 0},
		{"more steady than not", []int{6, 7}, geom.SetOf(0, 7, 8, 9), geom.Set{}, 4, 0}, {"three points", []int{7, 8, 9}, geom.SetOf(0, 1, 2, 3), geom.Set{}, 3, 0},
		{"a block holds half", []int{6, 7, 8, 9}, geom.SetOf(0, 1, 2, 3), geom.SetOf(6, 7), 4, 1}, {"a block holds more", []int{6, 7, 8, 9}, geom.SetOf(0, 1, 2, 3), geom.SetOf(6, 7, 8), 4, 0},
	} {
		p, e := laid(alongX(10)...)
		p.in.Sections = []body.Section{{ID: "none"}, {ID: "rear"}}
		for i := 10 - c.n; i < 10; i++ {
			p.in.Points[i].Section = "rear"
			p.in.Points[i].Z += float64(40 * i % 70)
		}
		x := &candidate{steady: c.steady, moved: make([]bool, 10)}
		for _, i := range c.moved {
			x.moved[i] = true
		}
		if c.block.Len() > 0 {
			x.groups = []group{{set: c.block}}
		}
		m, err := geom.NewMatcher(p.matches(e))
		if err != nil {
			t.Fatal(err)
		}
		got := p.sectionGroups(e, m, x)
		if len(got) != c.want || c.want == 1 && got[0].set != geom.SetOf(6, 7, 8, 9) {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

// Growth by its formula: a (t - t0), with the uncertainties of both beside one another; a range is its
// middle with its width by the square root of 12.
func TestGrowthByItsFormula(t *testing.T) {
	got := grown("body", 23e-6, 1e-6, 20, true, 35, 0.5, 0, 0)
	near(t, "growth", got.value, 23e-6*15, 1e-18)
	near(t, "its uncertainty", got.std, math.Hypot(23e-6*0.5, 1e-6*15), 1e-18)
	if !got.ok || got.text != "body 35 °C ± 1 (k = 2)" {
		t.Errorf("%+v", got)
	}
	if got := grown("body", 23e-6, 0, 20, true, 35, 0, 0, 0); got.text != "body 35 °C" || !got.ok {
		t.Errorf("%+v", got)
	}
	got = grown("device", 11e-6, 0, 20, false, 99, 99, 10, 34)
	near(t, "growth", got.value, 11e-6*2, 1e-18)
	near(t, "its uncertainty", got.std, 11e-6*24/math.Sqrt(12), 1e-18)
	if got.text != "device not measured, between 10 and 34 °C" {
		t.Errorf("%q", got.text)
	}
	if grown("body", 1, 1, 20, false, 0, 0, 20, 20).ok || grown("body", 1, 1, 20, false, 0, 0, 21, 20).ok {
		t.Error("without a range it grows")
	}
	// body and device: readings are multiplied by (1 + g_d)/(1 + g_b), and each coordinate is as
	// uncertain as its distance from the middle one of its set-up makes it
	in := newCar(9, 5).measure(0.5)
	in.Thermal = Thermal{BodyPerK: 23e-6, PerKStd: 2e-6, ReferenceC: 20}
	in.Setups = []job.Setup{{ID: "S1", Temp: unit.Some(unit.Celsius(40)), TempStd: 1, Growth: &job.DeviceGrowth{Expansion: 11, Std: 1, Reference: 22, Temp: unit.Some(unit.Celsius(30)), TempStd: 2}}}
	in.Readings = append(in.Readings, spanReading("S1", "length", "P01", "P02", 800, 0.4))
	p := prepare(in)
	gb, gd := 23e-6*20, 11e-6*8
	factor, u := (1+gd)/(1+gb), math.Hypot(math.Hypot(23e-6*1, 2e-6*20), math.Hypot(11e-6*2, 1e-6*8))
	near(t, "factor", p.setups[0].factor, factor, 1e-15)
	near(t, "its uncertainty", p.setups[0].scaleU, u, 1e-15)
	near(t, "a length", p.spans[0].value, 800*factor, 1e-9)
	near(t, "its uncertainty", p.spans[0].std, math.Hypot(0.4, u*800*factor), 1e-12)
	var xs [3][]float64
	for _, r := range in.Readings[:9] {
		for a, v := range []float64{r.X.Value, r.Y.Value, r.Z.Value} {
			xs[a] = append(xs[a], v)
		}
	}
	for a := range xs {
		slices.Sort(xs[a])
	}
	for i, r := range in.Readings[:9] {
		for a, v := range []float64{r.X.Value, r.Y.Value, r.Z.Value} {
			near(t, "coordinate", p.coords[i].at[a], v*factor, 1e-9)
			near(t, "its uncertainty", p.coords[i].std[a], math.Hypot(0.5, u*(v-xs[a][4])), 1e-9)
		}
	}
	heat := p.heat[0]
	if heat.Setup != "S1" || math.Abs(heat.Corrected-(factor-1)*1e6) > 1e-6 || math.Abs(heat.StdPPM-u*1e6) > 1e-6 || heat.Text != "body 40 °C ± 2 (k = 2); device 30 °C ± 4 (k = 2)" {
		t.Errorf("%+v", heat)
	}
	for _, bad := range []Thermal{{BodyPerK: math.NaN()}, {DevicePerK: math.Inf(1)}, {PerKStd: math.NaN()}, {ReferenceC: math.Inf(-1)}, {LowC: math.NaN()}, {HighC: math.Inf(1)}, {BodyPerK: -0.03, ReferenceC: 20}, {BodyPerK: 0.03, ReferenceC: 70}} {
		in.Thermal = bad
		p := prepare(in)
		if p.setups[0].factor != 1 || !slices.ContainsFunc(p.notes, func(n diag.Note) bool {
			return n.Code == "measure.thermal-unusable" && strings.Contains(n.Text, "nothing is corrected")
		}) {
			t.Errorf("%+v: factor %g, %+v", bad, p.setups[0].factor, p.notes)
		}
	}
}

// Twins by the formulas of the misclosure: x and z alike, y opposite; with u from the readings and s
// of the symmetry the residual is s^2/(u^2 + s^2) of it, and w the misclosure over both. The errors
// of two points hang together over the frame.
func TestSymmetryByItsFormula(t *testing.T) {
	p, e := laid(geom.Vec{0, 600, 0}, geom.Vec{0, -600, 0}, geom.Vec{2000, 500, 100}, geom.Vec{2000, -500, 100}, geom.Vec{4000, 400, 0}, geom.Vec{4000, -400, 300})
	p.in.Points[2].Mirror, p.in.Points[3].Mirror, p.in.Points[0].Mirror, p.in.Symmetry = "P04", "P03", "nobody", 0.8
	steady := geom.SetOf(0, 1, 4, 5)
	c := &candidate{steady: steady, fit: fitted(t, p, e, steady), shift: make([]geom.Vec, 6), cov: make([]geom.Mat3, 6)}
	for i := range c.cov {
		c.shift[i], c.cov[i] = c.fit.Shift(p.in.Points[i].At(), e.at[i], geom.Mat3{}, e.cov[i], steady.Has(i))
	}
	c.shift[2], c.shift[3] = geom.Vec{1, 2, 3}, geom.Vec{5, -1, 3.5}
	a := Adjustment{}
	p.symmetry(e, c, &a)
	if len(a.Observations) != 3 {
		t.Fatalf("%+v", a.Observations)
	}
	cross := c.fit.ShiftCross(p.in.Points[2].At(), p.in.Points[3].At(), false, false)
	for k, m := range []float64{5 - 1, -1 + 2, 3.5 - 3} {
		sign := []float64{-1, 1, -1}[k]
		u2 := c.cov[2][k][k] + c.cov[3][k][k] + 2*sign*cross[k][k]
		o := a.Observations[k]
		near(t, "residual", o.ResidualMM, 0.64/(u2+0.64)*m, 1e-7)
		near(t, "redundancy", o.Redundancy, 0.64/(u2+0.64), 1e-8)
		near(t, "w", o.W, m/math.Sqrt(u2+0.64), 1e-6)
		if o.Kind != "symmetry "+axisName[k] || o.From != "P03" || o.To != "P04" || o.Setup != "" || o.StdMM != 0.8 {
			t.Errorf("%+v", o)
		}
	}
	if len(p.notes) != 1 || p.notes[0].Code != "measure.not-symmetric" || p.notes[0].Where != "P03, P04" {
		t.Errorf("%+v", p.notes)
	}
	c.shift[3] = geom.Vec{1.5, -2, 3}
	b := Adjustment{}
	if p.symmetry(e, c, &b); len(b.Observations) != 3 || len(p.notes) != 1 {
		t.Errorf("nearly alike: %+v", p.notes)
	}
	for _, change := range []func(){func() { p.in.Symmetry = 0 }, func() { p.in.Symmetry = math.Inf(1) }, func() { p.in.Symmetry, e.slot[2] = 0.8, -1 }, func() { e.slot[2], e.slot[3] = 2, -1 }, func() { e.slot[3], c.cov[2] = 3, geom.Isotropic(math.Inf(1)) }, func() { c.cov[2], c.cov[3] = c.cov[0], geom.Isotropic(math.Inf(1)) }} {
		change()
		b := Adjustment{}
		if p.symmetry(e, c, &b); len(b.Observations) != 0 {
			t.Errorf("%+v", b.Observations)
		}
	}
}
