package measure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// Every figure of a point follows from its shift, its place and their covariances as the fields say;
// the pose is that of the fit of the steady points, with its uncertainty at their middle.
func TestFiguresOfAPoint(t *testing.T) {
	c := newCar(18, 83)
	c.moveRear(0.3, 14)
	c.moveAlone(1, 9)
	in := c.measure(0.4)
	in.Impact = "rear"
	for i := range in.Points {
		in.Points[i].Std = unit.Some(0.3)
		if i%5 == 0 {
			in.Points[i].Tol = unit.Maybe[float64]{}
		}
	}
	slices.Reverse(in.Readings) // in another order than the points
	r, _ := Run(in)
	h, ok := r.Best()
	if !ok || len(h.Points) != 18 || len(h.Steady) < 10 || len(h.Moved) < 4 {
		t.Fatalf("%d steady, %d moved", len(h.Steady), len(h.Moved))
	}
	var steady, moved []body.PointID
	var from, to []geom.Vec
	var a, b []geom.Mat3
	for i, p := range h.Points {
		if p.ID != in.Points[i].ID {
			t.Fatalf("place %d has %s", i, p.ID)
		}
		if p.Steady {
			steady = append(steady, p.ID)
			rd := in.Readings[17-i]
			from, to = append(from, in.Points[i].At()), append(to, geom.Vec{rd.X.Value, rd.Y.Value, rd.Z.Value})
			a, b = append(a, geom.Isotropic(0.3)), append(b, geom.Isotropic(0.4))
		}
		if p.Moved {
			moved = append(moved, p.ID)
		}
		for k := range 3 {
			near(t, "standard deviation", p.StdMM[k], math.Sqrt(p.CovMM2[k][k]), 1e-7)
			near(t, "expanded", p.ExpandedMM[k], 2*p.StdMM[k], 2e-8)
			near(t, "of the place", p.FromNominalStd[k], math.Sqrt(p.FromNominalCov[k][k]), 1e-7)
		}
		if !slices.Equal(p.Readings, []string{"S1"}) || p.Moved != (!p.Steady && p.T2 > r.Test.MovedAboveT2) || p.Steady && p.T2 > criticalPoint {
			t.Errorf("%+v", p)
		}
		v, _ := geom.Mahalanobis(p.ShiftMM, p.CovMM2)
		if near(t, "test value", p.T2, v, 1e-4*(1+v)); p.Steady {
			continue
		}
		near(t, "place", p.FromNominal.Dist(p.ShiftMM), 0, 1e-7)
		near(t, "its covariance", p.FromNominalCov.Sub(p.CovMM2.Sub(geom.Isotropic(0.3))).MulVec(geom.Vec{1, 2, 3}).Norm(), 0, 1e-6)
		near(t, "detectable", p.Detectable, math.Sqrt(r.Test.Noncentrality*largestVariance(p.CovMM2)), 1e-5)
		want := Conform(in.Points[i], p.FromNominal, p.FromNominalCov, 0)
		if near(t, "probability", p.Probability, want.Probability, 1e-6); p.Tolerance != want.Verdict || p.Limit != want.Limit {
			t.Errorf("%s: %v, %q; want %+v", p.ID, p.Tolerance, p.Limit, want)
		}
	}
	if !slices.Equal(h.Steady, steady) || !slices.Equal(h.Moved, moved) {
		t.Errorf("steady %v, moved %v; by the points %v and %v", h.Steady, h.Moved, steady, moved)
	}
	f, err := geom.FitRigidCov(from, to, a, b)
	if err != nil {
		t.Fatal(err)
	}
	pose := h.Setups["S1"]
	near(t, "turn", pose.RotationDeg.Dist(geom.RotationVector(f.Motion.R).Scale(degree)), 0, 1e-8)
	near(t, "translation", pose.TranslationMM.Dist(f.Motion.T), 0, 1e-5)
	for k := range 3 {
		near(t, "its uncertainty", pose.TranslationStd[k], math.Sqrt(f.Pose[k][k]), 1e-7)
		near(t, "that of the turn", pose.RotationStd[k], degree*math.Sqrt(f.Pose[k+3][k+3]), 1e-9)
	}
	near(t, "scale", pose.Scale, f.Scale, 1e-9)
	near(t, "its uncertainty", pose.ScaleStd, f.ScaleStd, 1e-9)
	near(t, "misfit", h.Chi2, f.Chi2, 1e-6*f.Chi2)
	if len(h.Setups) != 1 || h.DOF != f.DOF || math.Abs(h.P-geom.ChiSquareTail(f.Chi2, f.DOF)) > 1e-8 {
		t.Errorf("%d set-ups, %d degrees of freedom, probability %g", len(h.Setups), h.DOF, h.P)
	}
	if len(h.Sections) != 1 || len(h.Sections[0].Points) != len(h.Moved)-1 && len(h.Sections[0].Points) != len(h.Moved) {
		t.Errorf("%d sections", len(h.Sections))
	}
	r.Hypotheses = nil
	if _, ok := r.Best(); ok {
		t.Error("of none there is a best")
	}
	if _, ok := h.Point("nobody"); ok {
		t.Error("nobody has a result")
	}
	for _, x := range []struct {
		s    Section
		want bool
	}{{Section{DOF: 9, P: geom.AlphaBlock}, true}, {Section{DOF: 9, P: geom.AlphaBlock - 1e-9}, false}, {Section{DOF: 0, P: 0}, true}, {Section{DOF: -1}, true}} {
		if x.s.Rigid() != x.want {
			t.Errorf("%+v is rigid: %v", x.s, !x.want)
		}
	}
}

// A block that turned over by more than a right angle is named with its points; the same slip in three
// readings is one of the frame or the unit, in two it is none.
func TestTurnedBlocksAndSlipsInMany(t *testing.T) {
	p, e := laid(alongX(6)...)
	for turn, want := range map[float64]bool{89.9: false, 90.1: true, 180: true} {
		c := &candidate{fit: geom.CovFit{Fit: geom.Fit{Motion: geom.Rigid{R: geom.FromRotationVector(geom.Vec{1, 2, 3})}}}}
		g := group{set: geom.SetOf(2, 4)}
		g.fit.Motion = geom.Rigid{R: c.fit.Motion.R.Mul(geom.FromRotationVector(geom.Vec{0, turn / degree, 0}))}
		c.groups = []group{{set: geom.SetOf(0), fit: c.fit}, g}
		r := p.emptyResult()
		p.suspectTurned(e, c, &r)
		if (len(r.Suspects) == 1) != want || want && (r.Suspects[0].Kind != SuspectMirror || r.Suspects[0].Setup != "S1" || r.Suspects[0].Text != fmt.Sprintf("P03, P05 fit together when they are turned by %.0f degrees, which no section of a vehicle does: an axis reversed, or labels exchanged", turn) || joinIDs(r.Suspects[0].Points) != "P03, P05") {
			t.Errorf("%g degrees: %+v", turn, r.Suspects)
		}
	}
	slip := func(every ...string) *Result {
		r := p.emptyResult()
		for _, s := range every {
			r.Suspects = append(r.Suspects, Suspect{Kind: "value", Setup: "S1", every: s, Points: []body.PointID{"P01"}})
		}
		return &r
	}
	for _, c := range []struct {
		every []string
		kind  SuspectKind
	}{
		{[]string{"x, the sign", "x, the sign", "x, the sign"}, SuspectMirror}, {[]string{"x, the sign", "y, the sign", "x, the sign"}, ""}, {[]string{"inches", "", "inches", "inches", "inches"}, SuspectUnit}, {[]string{"", "", ""}, ""},
	} {
		r := slip(c.every...)
		p.suspectEvery(r)
		last := r.Suspects[len(r.Suspects)-1]
		if c.kind == "" && len(r.Suspects) != len(c.every) || c.kind != "" && (len(r.Suspects) != len(c.every)+1 || last.Kind != c.kind || len(last.Points) != 0 || last.Setup != "S1" || !strings.HasPrefix(last.Text, "3 or more readings of set-up S1 fit when one thing is set right in each, "+c.every[0]+":")) {
			t.Errorf("%q: %+v", c.every, last)
		}
	}
	r := p.emptyResult()
	if p.addSlip(&r, 5, 1, "S1", "") || len(r.Suspects) > 0 {
		t.Error("nothing is said of nothing")
	}
	if !p.addSlip(&r, 5, 1, "S1", "x") || !p.addSlip(&r, 6, 2, "", "y") || r.Suspects[0].Kind != "value" || r.Suspects[0].Chi2Now != 5 || joinIDs(r.Suspects[0].Points) != "P02" || r.Suspects[1].Kind != "nominal" || r.Suspects[1].Setup != "" {
		t.Errorf("%+v", r.Suspects)
	}
}

// A slip is looked for in the reading of a point in the base set-up that is off alone, against the steady
// block and each group; one in its published place likewise, and else a shift along one axis is said to be one.
func TestWhereSlipsAreLookedFor(t *testing.T) {
	build := func() (*problem, *epoch, *candidate) {
		p, e, steady, rear := twoEnds(geom.Rigid{R: geom.Identity3(), T: geom.Vec{0, 12, 0}})
		c := &candidate{steady: steady, fit: fitted(t, p, e, steady), moved: make([]bool, 10), t2: make([]float64, 10), cov: make([]geom.Mat3, 10), shift: make([]geom.Vec, 10)}
		c.groups = []group{{set: rear, fit: fitted(t, p, e, rear)}}
		for i := range e.at {
			p.coords[i].at, p.coords[i].std = e.at[i], geom.Vec{0.4, 0.4, 0.4}
		}
		return p, e, c
	}
	judge := func(p *problem, e *epoch, c *candidate) {
		for i := range e.at {
			c.shift[i], c.cov[i] = c.fit.Shift(p.in.Points[i].At(), e.at[i], geom.Mat3{}, e.cov[i], c.steady.Has(i))
			c.t2[i], _ = geom.Mahalanobis(c.shift[i], c.cov[i])
		}
	}
	for _, k := range []struct {
		name   string
		change func(p *problem, e *epoch, c *candidate)
		kind   SuspectKind
		says   string
	}{
		{"a reading, from the steady block", func(p *problem, e *epoch, c *candidate) {
			c.steady.Drop(3)
			e.at[3][0] = -e.at[3][0]
		}, "value", "x of P04 reads"},
		{"a reading, from the group", func(p *problem, e *epoch, c *candidate) {
			c.groups[0].set.Drop(8)
			e.at[8][2] = -e.at[8][2]
		}, "value", "z of P09 reads"},
		{"turned, the centre of a hole", func(p *problem, e *epoch, c *candidate) {
			c.steady.Drop(3)
			e.at[3][0] = -e.at[3][0]
			p.coords[3].turned, p.coords[3].axes = true, geom.Identity3()
		}, "", ""},
		{"in another set-up", func(p *problem, e *epoch, c *candidate) {
			c.steady.Drop(3)
			e.at[3][0] = -e.at[3][0]
			p.coords[3].setup = 1
			p.setups, e.linked = append(p.setups, setup{id: "S2"}), append(e.linked, true)
		}, "", ""},
		{"in the group itself", func(p *problem, e *epoch, c *candidate) { e.at[8][2] = -e.at[8][2] }, "", ""},
		{"a published place", func(p *problem, e *epoch, c *candidate) {
			c.steady.Drop(3)
			p.in.Points[3].X += 300 // 1350 becomes 1650
		}, "nominal", "the nominal x of P04 is 1650"},
		{"a published place of one that went along", func(p *problem, e *epoch, c *candidate) {
			c.groups[0].set.Drop(8)
			p.in.Points[8].X += 3000 // 3600 becomes 6600
		}, "nominal", "the nominal x of P09 is 6600"},
		{"along one axis by what no slip explains", func(p *problem, e *epoch, c *candidate) {
			c.steady.Drop(3)
			p.in.Points[3].X += 183.7
		}, "nominal", "P04 stands 184 mm off along x and hardly along the other axes: a slip in its nominal x"},
		{"aslant by what no slip explains", func(p *problem, e *epoch, c *candidate) {
			c.steady.Drop(3)
			p.in.Points[3].X += 183.7
			p.in.Points[3].Y += 91.3
		}, "", ""},
	} {
		p, e, c := build()
		k.change(p, e, c)
		for i := range e.at {
			p.coords[i].at = e.at[i]
		}
		judge(p, e, c)
		r := p.emptyResult()
		if k.kind != "nominal" {
			p.suspectValues(e, c, map[int]bool{}, &r)
		}
		if k.kind != "value" && (k.kind != "" || k.name[0] == 'a') {
			p.suspectNominals(e, c, map[int]bool{}, &r)
		}
		if k.kind == "" && len(r.Suspects) > 0 || k.kind != "" && (len(r.Suspects) != 1 || r.Suspects[0].Kind != k.kind || !strings.HasPrefix(r.Suspects[0].Text, k.says)) {
			t.Errorf("%s: %+v", k.name, r.Suspects)
		}
		if k.kind != "" {
			s := p.emptyResult()
			explained := map[int]bool{3: true, 8: true}
			p.suspectValues(e, c, explained, &s)
			if p.suspectNominals(e, c, explained, &s); len(s.Suspects) > 0 {
				t.Errorf("%s: explained, and %+v", k.name, s.Suspects)
			}
		}
	}
}

// A point hung on three lengths to points of a plane may lie on either side of it; one that hangs
// on points in space may not.
func TestOtherFormOfLengths(t *testing.T) {
	at := []geom.Vec{{0, 0, 0}, {1000, 0, 0}, {0, 900, 0}, {1100, 1000, 0}, {500, 400, 700}, {300, 300, 250}}
	build := func(last ...int) (*problem, *epoch) {
		in := Input{}
		for i, q := range at {
			in.Points = append(in.Points, body.Point{ID: body.PointID(fmt.Sprintf("P%02d", i+1)), X: q[0], Y: q[1], Z: q[2], Std: unit.Some(0.0)})
		}
		for i := range 5 {
			for j := range i {
				in.Readings = append(in.Readings, spanReading("T", "length", in.Points[i].ID, in.Points[j].ID, at[i].Dist(at[j]), 0.3))
			}
		}
		for _, j := range last {
			in.Readings = append(in.Readings, spanReading("T", "length", "P06", in.Points[j].ID, at[5].Dist(at[j]), 0.3))
		}
		p := prepare(in)
		return p, p.locate()
	}
	p, e := build(0, 1, 2, 3)
	i, by := p.otherForm(e)
	if i < 0 || p.id(e.points[i]) != "P05" || math.Abs(by-1400) > 1 { // both do: the first of them
		t.Errorf("point %d elsewhere by %g mm, want P05 by 1400", i, by)
	}
	p, e = build(0, 1, 2, 3, 4)
	if i, _ := p.otherForm(e); i >= 0 {
		t.Errorf("point %d may lie elsewhere", i)
	}
	if _, e = build(0, 1, 2, 3); e.base >= 0 || len(e.points) != 6 {
		t.Errorf("base %d, %d points", e.base, len(e.points))
	}
}

// One axis out of scale fits all points as a stretch of the whole, and is said where that costs less than
// the best split; its weight is by the difference of the costs.
func TestStretchByItsCost(t *testing.T) {
	in := newCar(20, 91).measure(0.3)
	m := geom.Mat3{{1, 0, 0}, {0, 1.01, 0}, {0, 0, 1}}
	for i := range in.Readings {
		q := m.MulVec(in.Points[i].At())
		r := xyz("S1", in.Points[i].ID, q.Add(geom.Vec{float64(i%3) * 0.3, float64(i%5) * 0.2, float64(i%2) * 0.3}), 0.3)
		in.Readings[i] = r
	}
	p := prepare(in)
	e := p.locate()
	r := p.emptyResult()
	_, nearest, x := p.search(e, &r)
	s, ok := x.Stretch()
	if !ok || len(nearest) == 0 {
		t.Fatal("no stretch, or no split")
	}
	cost := s.Chi2 + 12*math.Log(60) + 2*math.Log(1000)
	for _, over := range []float64{-0.5, 0.5, 4} {
		parts := slices.Clone(nearest)
		parts[0].BIC = cost - over
		r := p.emptyResult()
		got := p.stretched(e, x, parts, &r)
		near(t, "weight", got, math.Exp(-over/2), 1e-9)
		if said := len(r.Suspects) == 1; said != (over < 0) || said && (r.Suspects[0].Kind != SuspectScale || r.Suspects[0].Setup != "S1" || len(r.Suspects[0].Points) != 0) {
			t.Errorf("%g over the best: %+v", over, r.Suspects)
		}
	}
	if p.stretched(e, nil, nearest, &r) != 0 || p.stretched(e, x, nil, &r) != 0 {
		t.Error("of nothing there is a stretch")
	}
	e.together = func(i, j int) geom.Mat3 { return geom.Mat3{} }
	if p.stretched(e, x, nearest, &r) == 0 { // 20 points are weighed together
		t.Error("with a whole covariance there is none")
	}
	if e.base = none; p.stretched(e, x, nearest, &r) != 0 {
		t.Error("of lengths alone there is a stretch")
	}
	e.base = 0
	in.Readings[3].X.Value += 30 // then it does not fit
	p = prepare(in)
	e = p.locate()
	if _, nearest, x = p.search(e, &r); p.stretched(e, x, nearest, &r) != 0 {
		t.Error("what does not fit is a stretch")
	}
}

// A bend of the whole is weighed by its cost against the best split: one that costs 13.8 less and is
// none of a part says that nothing was steady, one up to 6 dearer is a reason of doubt, one dearer says
// nothing; without any split it counts by itself.
func TestBendByItsCost(t *testing.T) {
	c := newCar(20, 93)
	in := c.measure(0.3)
	for i := range in.Readings {
		q := c.at[i].Add(geom.Vec{0, 0, 4e-6 * (c.at[i][0] - 2200) * (c.at[i][0] - 2200)})
		in.Readings[i] = xyz("S1", in.Points[i].ID, q.Add(c.gauss().Scale(0.3)), 0.3)
	}
	p := prepare(in)
	x, err := geom.NewMatcher(p.matches(p.locate()))
	if err != nil {
		t.Fatal(err)
	}
	var all geom.Set
	for i := range in.Points {
		all.Put(i)
	}
	cost := math.Inf(1)
	for _, b := range x.Bends(&all) {
		if b.Test > -2*math.Log(0.001) && geom.ChiSquareTail(b.Chi2, b.DOF) >= 0.001 {
			cost = min(cost, b.Chi2+float64(b.Parameters)*math.Log(60)+2*math.Log(100))
		}
	}
	half, ok := x.HalfBend(&all)
	if !ok || math.IsInf(cost, 1) {
		t.Fatal("nothing is bent")
	}
	part := half.Chi2 + float64(half.Parameters)*math.Log(60) + 2*math.Log(100)
	if part < cost {
		t.Fatalf("a part is bent: %g, the whole %g", part, cost)
	}
	whole, err := x.Evaluate(all)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []struct {
		less float64 // by so much the bend costs less than the split
		bent bool
		why  int
	}{{2*math.Log(1000) + 0.01, true, 0}, {2*math.Log(1000) - 0.01, false, 1}, {0.2, false, 1}, {-5.99, false, 1}, {-6.01, false, 0}} {
		r := p.emptyResult()
		got := p.bent(x, []geom.Partition{{BIC: cost + k.less, Blocks: []geom.Block{whole}}}, &r)
		if got != k.bent || len(r.Why) != k.why || k.why == 1 && !strings.HasSuffix(r.Why[0], fmt.Sprintf("(difference of BIC %.1f)", -k.less)) {
			t.Errorf("cheaper by %g: bent %v, %q", k.less, got, r.Why)
		}
	}
	r := p.emptyResult()
	if !p.bent(x, nil, &r) || p.bent(nil, nil, &r) || len(r.Why) > 0 {
		t.Error("without a split a bend counts by itself")
	}
	if p.bent(x, []geom.Partition{{BIC: 1e9, Blocks: []geom.Block{{Set: geom.SetOf(0, 1, 2)}}}}, &r) { // what is in the blocks is not bent
		t.Error("a bend that shows by points in no block alone is one")
	}
	few := in
	few.Points, few.Readings = in.Points[:7], in.Readings[:7]
	q := prepare(few)
	y, err := geom.NewMatcher(q.matches(q.locate()))
	if err != nil {
		t.Fatal(err)
	}
	if q.bent(y, nil, &r) {
		t.Error("seven points are bent as a whole")
	}
}
