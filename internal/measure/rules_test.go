package measure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// A point that lengths do not fix in every direction is left out, and the others keep their places.
func TestPointThatLengthsDoNotFix(t *testing.T) {
	c := newCar(12, 47)
	in := c.measure(0.3)
	in.Readings = in.Readings[:10]
	for k := range 3 { // three points in a row: the twelfth may lie anywhere round them
		p := &in.Points[k]
		p.X, p.Y, p.Z = 1000*float64(k), 0, 100
		in.Readings[k] = xyz("S1", p.ID, geom.Vec{p.X + 7, p.Y, p.Z}, 0.3)
	}
	for i := 3; i < 10; i++ {
		p := in.Points[i]
		in.Readings[i] = xyz("S1", p.ID, geom.Vec{p.X + 7, p.Y, p.Z}, 0.3)
	}
	at := in.Points[11].At()
	for k := range 3 {
		in.Readings = append(in.Readings, spanReading("T", "length", in.Points[k].ID, "P12", in.Points[k].At().Dist(at), 0.3))
	}
	for _, k := range []int{3, 4, 6, 8} {
		in.Readings = append(in.Readings, spanReading("T", "length", in.Points[k].ID, "P11", in.Points[k].At().Dist(in.Points[10].At()), 0.3))
	}
	p := prepare(in)
	e := p.locate()
	if e.slot[11] >= 0 || e.slot[10] < 0 || len(e.points) != 11 {
		t.Fatalf("P12 has the place %d, P11 %d, of %d", e.slot[11], e.slot[10], len(e.points))
	}
	for i, pt := range e.points {
		if e.slot[pt] != i {
			t.Errorf("point %d is at %d and not at %d", pt, e.slot[pt], i)
		}
		if d := e.at[i].Dist(in.Points[pt].At().Add(geom.Vec{7, 0, 0})); d > 1 {
			t.Errorf("point %d is %g off", pt, d)
		}
	}
	if slices.ContainsFunc(p.notes, func(n diag.Note) bool { return n.Code == "measure.adjustment" }) {
		t.Errorf("%+v", p.notes)
	}
}

// One length that is far off shows as the reading that disagrees most; a coordinate that is far off
// does not make a length disagree.
func TestLengthDisagreesMost(t *testing.T) {
	row := func(kind geom.NetKind, w float64) (geom.NetObs, geom.NetRow) {
		return geom.NetObs{Kind: kind}, geom.NetRow{W: w}
	}
	for _, c := range []struct {
		coordinate, length, height, behind float64
		want                               bool
	}{{1, 4, 0, 0, true}, {1, criticalNormal, 0, 0, false}, {1, -3.3, 0, 0, true}, {5, 4, 0, 0, false}, {5, 4.85, 0, 0, true}, {5, 4.84, 0, 0, false}, {5, 1, 6, 0, true}, {1, 2, 2, 9, false}} {
		j := &joint{nw: &network{}, r: &geom.NetResult{}, first: 3}
		for _, x := range []struct {
			kind geom.NetKind
			w    float64
		}{{geom.NetCoordinate, c.coordinate}, {geom.NetLength, c.length}, {geom.NetHeight, c.height}, {geom.NetLength, c.behind}} {
			o, r := row(x.kind, x.w)
			j.nw.Obs, j.r.Rows = append(j.nw.Obs, o), append(j.r.Rows, r)
		}
		if got := j.spanDisagrees(); got != c.want {
			t.Errorf("%+v: disagrees %v", c, got)
		}
	}
	j := &joint{nw: &network{Network: geom.Network{Obs: []geom.NetObs{{Std: 9}, {Std: 0.4}, {Std: 0.3}}}}}
	near(t, "least", ownCov(j, []int{0, 1, 2}, 0.4)[1][1], 0.25, 1e-12)
	near(t, "least of one", ownCov(j, []int{0}, 0)[2][2], 81, 1e-12)
}

// Under the hypothesis all readings are adjusted together: what is said of a point outside the steady
// block is its adjusted place against the nominal one, what is said of a steady one what its own readings say.
func TestJointAdjustmentByANetwork(t *testing.T) {
	c := newCar(12, 52)
	c.moveRear(0.34, 20)
	in := c.measure(0.4)
	for i := range in.Points {
		in.Points[i].Std = unit.Some(0.3)
	}
	second := c.measure(0.4)
	for _, r := range second.Readings[3:] {
		r.Setup = "S2"
		in.Readings = append(in.Readings, r)
	}
	in.Readings = append(in.Readings, spanReading("T", "length", "P01", "P12", c.at[0].Add(c.shift[0]).Dist(c.at[11].Add(c.shift[11])), 0.4))
	height := func(i int) float64 { return in.Readings[i].Z.Value } // in the frame of the first set-up, which is levelled by nobody
	in.Readings = append(in.Readings, spanReading("S1", "height", "P02", "P05", height(1)-height(4)+0.3, 0.4))
	p := prepare(in)
	e := p.locate()
	r := p.emptyResult()
	cs, _, _ := p.search(e, &r)
	if len(cs) == 0 || cs[0].joint == nil {
		t.Fatal("no joint adjustment")
	}
	x := cs[0]
	nw := &geom.Network{}
	for _, k := range x.joint.nw.setupOf {
		nw.Poses = append(nw.Poses, geom.NetPose{Motion: x.joint.r.Poses[len(nw.Poses)]})
		_ = k
	}
	for i, pt := range e.points {
		nw.Points = append(nw.Points, geom.NetPoint{At: x.joint.r.Points[i]})
		if x.steady.Has(i) {
			for a, v := range in.Points[pt].At() {
				nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetCoordinate, Pose: geom.PointFrame, A: i, Axis: a, Value: v, Std: 0.3})
			}
		}
	}
	prior := len(nw.Obs)
	for _, rd := range in.Readings {
		i := e.slot[p.index[rd.From]]
		if rd.Kind == job.ReadLength {
			nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetLength, Pose: geom.PointFrame, A: i, B: e.slot[p.index[rd.To]], Value: rd.Value.Value, Std: 0.4})
			continue
		}
		k := slices.IndexFunc(p.setups, func(s setup) bool { return s.id == rd.Setup })
		if rd.Kind == job.ReadHeight {
			nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetHeight, Pose: x.joint.nw.poseOf[k], A: i, B: e.slot[p.index[rd.To]], Axis: 2, Value: rd.Value.Value, Std: 0.4})
			continue
		}
		for a, v := range []float64{rd.X.Value, rd.Y.Value, rd.Z.Value} {
			nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetCoordinate, Pose: x.joint.nw.poseOf[k], A: i, Axis: a, Value: v, Std: 0.4})
		}
	}
	want, err := nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "sum of squares", x.chi2, want.VtPV, 1e-6*want.VtPV)
	if x.dof != want.DOF || x.joint.first != len(nw.Obs)-prior {
		t.Errorf("%d degrees of freedom of %d readings, want %d of %d", x.dof, x.joint.first, want.DOF, len(nw.Obs)-prior)
	}
	poses := p.poses(e, x)
	for k, m := range want.Poses {
		got, cov := poses[p.setups[x.joint.nw.setupOf[k]].id], want.PoseCov(k)
		near(t, "translation of a pose", got.TranslationMM.Dist(m.T), 0, 1e-4)
		near(t, "its turn", got.RotationDeg.Dist(geom.RotationVector(m.R).Scale(degree)), 0, 1e-6)
		for a := range 3 {
			near(t, "how surely", got.RotationStd[a], degree*math.Sqrt(cov[3+a][3+a]), 1e-6)
		}
	}
	if len(poses) != 2 || len(x.groups) == 0 || x.groups[0].set.Common(&x.steady) > 0 {
		t.Fatalf("%d poses, %d groups", len(poses), len(x.groups))
	}
	members := x.groups[0].set.Members()
	var from, to []geom.Vec
	for _, i := range members {
		from, to = append(from, in.Points[e.points[i]].At()), append(to, want.Points[i])
	}
	full, err := geom.FitRigidFull(from, to, func(a, b int) geom.Mat3 {
		c := want.PointCov(members[a], members[b])
		if a == b {
			c = c.Add(geom.Isotropic(0.3))
		}
		return c
	})
	if err != nil {
		t.Fatal(err)
	}
	about := geom.Vec{3500, 0, 300}
	moved := p.motionOf(e, x, &x.groups[0], about)
	near(t, "motion of the section", moved.rel.Apply(about).Dist(full.Motion.Apply(about)), 0, 1e-5)
	near(t, "its misfit", moved.fit.Chi2, full.Chi2, 1e-5*(1+full.Chi2))
	at := full.PredictCov(about)
	for a := range 3 {
		for b := range 3 {
			near(t, "its covariance", moved.cov[a][b], at[a][b], 1e-6)
		}
	}
	for i, pt := range e.points {
		if x.steady.Has(i) {
			continue
		}
		d, cov := want.Points[i].Sub(in.Points[pt].At()), want.PointCov(i, i).Add(geom.Isotropic(0.3))
		v, _ := geom.Mahalanobis(d, cov)
		near(t, "shift", x.shift[i].Dist(d), 0, 1e-6)
		near(t, "test value", x.t2[i], v, 1e-4*(1+v))
		if near(t, "covariance", x.cov[i].Sub(cov).MulVec(geom.Vec{1, 2, 3}).Norm(), 0, 1e-6); !x.moved[i] {
			t.Errorf("%s is not called moved: %v", in.Points[pt].ID, d)
		}
	}
}

// What makes a result ambiguous, rule by rule: two explanations, references in the hit block, a block
// that is not the largest, chance, half of the points and no evidence, a short or a narrow block, a
// weak prediction.
func TestRulesOfDoubt(t *testing.T) {
	wide := func(n int) []geom.Vec {
		at := alongX(n)
		for i := range at {
			at[i][2] = float64(300 * i % 700)
		}
		return at
	}
	for _, k := range []struct {
		name   string
		change func(p *problem, e *epoch, cs []*candidate, ch *choice)
		says   string // "" for nothing
	}{
		{"nothing", func(*problem, *epoch, []*candidate, *choice) {}, ""},
		{"another that survives", func(_ *problem, _ *epoch, _ []*candidate, ch *choice) { ch.survives[1] = true }, "the readings fit as well if P09, P10 held and 1 others moved (difference of BIC 4.0)"},
		{"references hit", func(_ *problem, _ *epoch, _ []*candidate, ch *choice) { ch.reference, ch.excluded = 0, []int{0} }, "the block that holds the reference points lies nearer to the recorded impact"},
		{"another hit", func(_ *problem, _ *epoch, _ []*candidate, ch *choice) { ch.reference, ch.excluded = 0, []int{1} }, ""},
		{"not the largest", func(_ *problem, _ *epoch, _ []*candidate, ch *choice) { ch.majority, ch.datum[0] = 1, ByImpact }, "the steady block chosen by impact is not the largest"},
		{"half, maybe chance", func(_ *problem, _ *epoch, cs []*candidate, ch *choice) {
			cs[0].steady, cs[0].chance, ch.datum[0] = geom.SetOf(0, 1, 2, 5, 9), 0.011, ByImpact
		}, "of 10 points that moved one by one about 0.011 groups of 5 would fit together as well"},
		{"half, hardly chance", func(_ *problem, _ *epoch, cs []*candidate, ch *choice) {
			cs[0].steady, cs[0].chance, ch.datum[0] = geom.SetOf(0, 1, 2, 5, 9), 0.01, ByImpact
		}, ""},
		{"half, by references", func(_ *problem, _ *epoch, cs []*candidate, ch *choice) {
			cs[0].steady, cs[0].chance, ch.datum[0] = geom.SetOf(0, 1, 2, 5, 9), 0.5, ByReference
		}, ""},
		{"more than half, chance or not", func(_ *problem, _ *epoch, cs []*candidate, ch *choice) { cs[0].chance = 0.5 }, ""},
		{"half by majority", func(_ *problem, _ *epoch, cs []*candidate, _ *choice) { cs[0].steady = geom.SetOf(0, 1, 2, 5, 9) }, "no more than half of the points (5 of 10) kept their places"},
		{"half by majority, the others as one", func(_ *problem, _ *epoch, cs []*candidate, _ *choice) {
			cs[0].steady, cs[0].groups = geom.SetOf(0, 1, 2, 5, 9), []group{{set: geom.SetOf(3, 4, 6, 7)}}
		}, ""},
		{"short", func(_ *problem, _ *epoch, cs []*candidate, ch *choice) {
			cs[0].steady = geom.SetOf(0, 1, 2, 3)
			ch.datum[0] = ByReference
		}, "spans only 33 % of the measured length"},
		{"long enough", func(_ *problem, _ *epoch, cs []*candidate, ch *choice) {
			cs[0].steady = geom.SetOf(0, 1, 2, 3, 4)
			ch.datum[0] = ByReference
		}, ""},
		{"narrow", func(_ *problem, _ *epoch, cs []*candidate, _ *choice) { cs[0].fit.Ratio = 0.0049 }, "its width is about 7 % of its length"},
		{"wide enough", func(_ *problem, _ *epoch, cs []*candidate, _ *choice) { cs[0].fit.Ratio = 0.005 }, ""},
		{"weak", func(p *problem, _ *epoch, cs []*candidate, _ *choice) {
			cs[0].fit.Pose[0][0] = 2.4
		}, "leaves an uncertainty of 52 % of the tolerance"},
		{"not so weak", func(p *problem, _ *epoch, cs []*candidate, _ *choice) { cs[0].fit.Pose[0][0] = 2.2 }, ""},
		{"weak without a limit", func(p *problem, _ *epoch, cs []*candidate, _ *choice) {
			cs[0].fit.Pose[0][0] = 9
			for i := range p.in.Points {
				p.in.Points[i].Tol = unit.Maybe[float64]{}
			}
		}, ""},
	} {
		p, e := laid(wide(10)...)
		cs := holding(geom.SetOf(0, 1, 2, 3, 4, 5, 6), geom.SetOf(8, 9))
		for _, c := range cs {
			c.moved = make([]bool, 10)
			c.fit = geom.CovFit{Fit: geom.Fit{Motion: geom.Still(), Ratio: 0.1}}
		}
		cs[0].bic, cs[1].bic = 10, 14
		ch := &choice{order: []int{0, 1}, datum: []Datum{ByMajority, "none"}, survives: []bool{true, false}, reference: none, impact: none}
		r := &Result{Hypotheses: []Hypothesis{{}, {Steady: []body.PointID{"P09", "P10"}, Moved: []body.PointID{"P01"}}}}
		k.change(p, e, cs, ch)
		p.explainDoubt(e, cs, ch, r)
		if k.says == "" && len(r.Why) > 0 || k.says != "" && (len(r.Why) != 1 || !strings.Contains(r.Why[0], k.says)) {
			t.Errorf("%s: %q, want %q", k.name, r.Why, k.says)
		}
	}
	p, e := laid(geom.Vec{}, geom.Vec{})
	if p.span(e, &candidate{steady: geom.SetOf(0)}) != 0 {
		t.Error("points in one place have a span")
	}
}

// The candidates in order: that of the evidence, then the others, those that chance explains last,
// with what speaks for each.
func TestChoiceInWords(t *testing.T) {
	p, e := laid(alongX(21)...)
	cs := holding(geom.SetOf(0, 1, 2, 3, 4), geom.SetOf(14, 15, 16, 17), geom.SetOf(6, 7, 8, 9, 10), geom.SetOf(18, 19, 20))
	cs[0].score, cs[2].score = 5, 6
	cs[2].bic = rivalBIC
	ch := p.choose(e, cs)
	if !slices.Equal(ch.order, []int{0, 1, 3, 2}) || ch.datum[0] != ByMajority || ch.because[0] != "the largest block: 5 of 21 points kept their places against one another" || !slices.Equal(ch.survives, []bool{true, true, true, false}) {
		t.Errorf("%+v", ch)
	}
	if ch.because[1] != "the readings fit as well if these 4 points held" || ch.because[3] != "these 5 points kept their places against one another, which may be chance" || ch.datum[3] != "none" {
		t.Errorf("%q", ch.because)
	}
	p.in.Impact = "front"
	if ch = p.choose(e, cs[:2]); !slices.Equal(ch.order, []int{1, 0}) || ch.datum[0] != ByImpact || ch.because[0] != "the impact is recorded as front, and this block lies away from it" || !ch.survives[1] { // the other is the majority
		t.Errorf("%+v", ch)
	}
	three := holding(geom.SetOf(0, 1, 2, 3), geom.SetOf(9, 10, 11, 12), geom.SetOf(15, 16, 17, 18, 19))
	if ch = p.choose(e, three); ch.order[0] != 2 || ch.because[0] != "the impact is recorded as front, and of 2 blocks that lie away from it this is the largest" || !slices.Equal(ch.order, []int{2, 0, 1}) || !slices.Equal(ch.survives, []bool{true, false, true}) {
		t.Errorf("%+v", ch)
	}
	for _, i := range []int{14, 15, 16} {
		p.in.Points[i].Reference = true
	}
	if ch = p.choose(e, cs[:2]); ch.datum[0] != ByReference || ch.because[0] != "the nominated reference points P15, P16, P17 kept their places against one another" {
		t.Errorf("%+v", ch)
	}
	if ch = p.choose(e, nil); len(ch.order) != 0 || ch.reference >= 0 || ch.majority >= 0 || ch.impact >= 0 {
		t.Errorf("of none %+v", ch)
	}
}

// A scale is suspected from 100 parts per million on when it is significant too, and readings that
// disagree at one in a thousand are said to.
func TestScaleAndFitAreSaid(t *testing.T) {
	for _, c := range []struct {
		off, std float64
		want     bool
	}{{101e-6, 10e-6, true}, {99e-6, 10e-6, false}, {-101e-6, 10e-6, true}, {329e-6, 100e-6, false}, {330e-6, 100e-6, true}, {-330e-6, 100e-6, true}, {0, 0, false}} {
		p := &problem{}
		p.checkScale(&candidate{fit: geom.CovFit{Fit: geom.Fit{Scale: 1 + c.off, ScaleStd: c.std}}})
		if got := len(p.notes) == 1; got != c.want || got && !strings.Contains(p.notes[0].Text, fmt.Sprintf("by %.0f parts per million (standard uncertainty %.0f)", c.off*1e6, c.std*1e6)) {
			t.Errorf("%+v: %+v", c, p.notes)
		}
	}
	limit := geom.ChiSquareQuantile(0.001, 20)
	for _, c := range []struct {
		chi2 float64
		dof  int
		want bool
	}{{limit + 1e-6, 20, true}, {limit - 1e-6, 20, false}, {99, 0, false}, {99, -1, false}, {99, 1, true}} {
		p := &problem{}
		p.checkFit(&candidate{chi2: c.chi2, dof: c.dof})
		if got := len(p.notes) == 1; got != c.want {
			t.Errorf("%+v: %+v", c, p.notes)
		}
	}
}

// Labels exchanged for twins: by their names, or by the nearest mirror image where that has it in turn.
func TestTwinsAreExchanged(t *testing.T) {
	p, e := laid(geom.Vec{0, 600, 0}, geom.Vec{3, -604, 0}, geom.Vec{2000, 500, 100}, geom.Vec{2000, -500, 100}, geom.Vec{4000, 0, 0}, geom.Vec{6000, 300, 0})
	for i := range e.at {
		e.at[i] = geom.Vec{float64(i), 7, 7}
		e.cov[i] = geom.Isotropic(1 + float64(i))
	}
	p.in.Points[2].Mirror, p.in.Points[3].Mirror = "P04", "P03"
	m := p.exchanged(e)
	for i, j := range []int{1, 0, 3, 2, 4, 5} {
		if m.To[i] != e.at[j] || m.CovTo[i] != e.cov[j] || m.From[i] != p.in.Points[i].At() {
			t.Errorf("point %d has the place of %v, want that of %d", i, m.To[i], j)
		}
	}
	if e.at[0] != (geom.Vec{0, 7, 7}) {
		t.Error("the places themselves are exchanged")
	}
	p.in.Points[0].Mirror = "P03" // which has another
	if m = p.exchanged(e); m.To[0] != e.at[0] || m.To[2] != e.at[3] {
		t.Errorf("%v", m.To)
	}
	p.in.Points[4].Mirror = "P05" // itself
	if m = p.exchanged(e); m.To[4] != e.at[4] {
		t.Errorf("%v", m.To)
	}
	if p.setupName(e) != "S1" || p.setupName(&epoch{base: none}) != "" {
		t.Error("the name of the base")
	}
}

// A reading that fits another point: a wrong label, two exchanged, or a double; from ten standard
// deviations on.
func TestLabelsByWhatTheyFit(t *testing.T) {
	for _, c := range []struct {
		name   string
		shift  map[int]geom.Vec // by points 0, 1 and 2, which stand 100 mm apart
		steady []int
		kind   SuspectKind
		points string
		text   string
	}{
		{"exchanged", map[int]geom.Vec{0: {100, 0, 0}, 1: {-100, 0, 0}}, nil, "swap", "P01, P02", "P01 and P02 fit when their readings are exchanged: two labels mixed up"},
		{"wrong, the other not read so", map[int]geom.Vec{0: {100, 0, 0}, 1: {7, 0, 0}}, nil, "label", "P01, P02", "the reading of P01 fits the nominal place of P02: a wrong label"},
		{"double", map[int]geom.Vec{0: {100, 0, 0}}, []int{1, 2}, "label", "P01, P02", "a wrong label; that point was read too, so one of the readings is double"},
		{"elsewhere", map[int]geom.Vec{0: {55, 0, 0}}, []int{1, 2}, "", "", ""},
		{"near another", map[int]geom.Vec{0: {100 + 0.5*3.9, 0, 0}}, []int{1, 2}, "label", "P01, P02", "a wrong label"},
		{"not so near", map[int]geom.Vec{0: {100 + 0.5*4.1, 0, 0}}, []int{1, 2}, "", "", ""},
		{"a ring of three", map[int]geom.Vec{0: {100, 0, 0}, 1: {100, 0, 0}, 2: {-200, 0, 0}}, nil, "label", "P01, P02", "the reading of P01 fits the nominal place of P02"},
		{"a steady one", map[int]geom.Vec{0: {100, 0, 0}}, []int{0, 1, 2}, "", "", ""},
	} {
		p, e := laid(geom.Vec{0, 0, 0}, geom.Vec{100, 0, 0}, geom.Vec{200, 0, 0})
		x := &candidate{steady: geom.SetOf(c.steady...)}
		for i := range 3 {
			d, cov := c.shift[i], geom.Isotropic(0.5)
			v, _ := geom.Mahalanobis(d, cov)
			x.shift, x.cov, x.t2 = append(x.shift, d), append(x.cov, cov), append(x.t2, v)
		}
		r := p.emptyResult()
		done := p.suspectLabels(e, x, &r)
		if c.kind == "" {
			if len(r.Suspects) > 0 || len(done) > 0 {
				t.Errorf("%s: %+v", c.name, r.Suspects)
			}
			continue
		}
		if len(r.Suspects) == 0 || r.Suspects[0].Kind != c.kind || joinIDs(r.Suspects[0].Points) != c.points || !strings.Contains(r.Suspects[0].Text, c.text) || !done[0] || done[1] != (c.kind == "swap" || c.name == "a ring of three") {
			t.Errorf("%s: %+v, %v", c.name, r.Suspects, done)
		}
		if c.kind == "swap" && (len(r.Suspects) != 1 || r.Suspects[0].Chi2Now != 2*40000 || r.Suspects[0].Chi2If != 0) {
			t.Errorf("%s: %+v", c.name, r.Suspects)
		}
	}
	for t2, want := range map[float64]bool{99.9: false, 100: true} { // ten standard deviations
		p, e := laid(geom.Vec{0, 0, 0}, geom.Vec{5, 0, 0}, geom.Vec{200, 0, 0})
		r := p.emptyResult()
		cov := []geom.Mat3{geom.Isotropic(0.5), geom.Isotropic(0.5), geom.Isotropic(0.5)}
		done := p.suspectLabels(e, &candidate{steady: geom.SetOf(1, 2), shift: []geom.Vec{{5, 0, 0}, {}, {}}, cov: cov, t2: []float64{t2, 0, 0}}, &r)
		if done[0] != want {
			t.Errorf("test value %g: %+v", t2, r.Suspects)
		}
		c := &candidate{steady: geom.SetOf(1), t2: []float64{t2, 999, 999, 999}, groups: []group{{set: geom.SetOf(2)}}}
		if got := c.alone(0, nil); got != want || c.alone(1, nil) || c.alone(2, nil) || !c.alone(3, nil) || c.alone(3, map[int]bool{3: true}) {
			t.Errorf("test value %g: alone %v", t2, got)
		}
	}
}

// The reading with the largest standardised residual is named when it is too large for the largest of
// so many, with the error that would explain it, and so is one that is nearly as large.
func TestReadingsThatDisagreeAreNamed(t *testing.T) {
	p, e := laid(alongX(4)...)
	for _, c := range []struct {
		w    [4]float64
		want []int
	}{{[4]float64{1, 3.66, 0, 0}, nil}, {[4]float64{1, 3.67, 0, 0}, []int{1}}, {[4]float64{-5, 4.85, 4.84, 0}, []int{0, 1}}, {[4]float64{0, 0, 0, -9}, []int{3}}} {
		r := p.emptyResult()
		r.Adjustment.VtPV = 100
		for i, w := range c.w {
			o := Observation{Setup: "S1", Kind: "x", From: p.id(i), W: w, ResidualMM: w, Redundancy: 0.5, Controlled: true}
			if i == 3 {
				o.Kind, o.To = "length", "P01"
			}
			r.Adjustment.Observations = append(r.Adjustment.Observations, o)
		}
		p.suspectRows(e, &candidate{}, &r)
		if len(r.Suspects) != len(c.want) {
			t.Errorf("%v: %+v", c.w, r.Suspects)
			continue
		}
		for k, i := range c.want {
			s, w := r.Suspects[k], c.w[i]
			what, points := "x of "+string(p.id(i)), string(p.id(i))
			if i == 3 {
				what, points = "length P04-P01", "P04, P01"
			}
			text := fmt.Sprintf("%s in set-up S1 disagrees with the other readings (w = %.1f, at most 3.7 expected); an error of %+.1f mm would explain it", what, math.Abs(w), -w/0.5)
			if s.Text != text || s.Kind != "reading" || joinIDs(s.Points) != points || s.Chi2Now != 100 || math.Abs(s.Chi2If-(100-w*w)) > 1e-9 {
				t.Errorf("%+v, want %q", s, text)
			}
		}
		e.simple = true
		r.Suspects = nil
		if p.suspectRows(e, &candidate{}, &r); len(r.Suspects) > 0 {
			t.Error("single coordinates of one set-up are named")
		}
		e.simple = false
	}
	p.notes = nil
	r := p.emptyResult()
	r.Adjustment.Observations = []Observation{{From: "P01", Kind: "x"}, {From: "P01", Kind: "y"}, {From: "P02", Kind: "x"}, {From: "P03", To: "P04", Kind: "length"}, {From: "P04", Kind: "z", Controlled: true}}
	p.suspectRows(e, &candidate{steady: geom.SetOf(0, 3)}, &r)
	if len(p.notes) != 1 || p.notes[0].Where != "coordinates P01, length P03-P04" || p.notes[0].Code != "measure.uncontrolled" {
		t.Errorf("%+v", p.notes)
	}
}
