package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Which blocks may be shown: all of the first split up to five; of others those less than 10 behind
// it, that chance does not explain and that are another set of points.
func TestWhichBlocksAreShown(t *testing.T) {
	first := geom.SetOf(0, 1, 2, 3, 4, 5)
	parts := []geom.Partition{{BIC: 100, Blocks: []geom.Block{{Set: first, Gain: -99}}}, {BIC: 109.9, Blocks: []geom.Block{{Set: geom.SetOf(6, 7, 8, 9), Gain: 5}, {Set: first, Gain: 5}, {Set: geom.SetOf(10, 11, 12, 13), Gain: -unlikelyBIC}, {Set: geom.SetOf(14, 15, 16), Gain: -unlikelyBIC - 0.01}}}, {BIC: 110, Blocks: []geom.Block{{Set: geom.SetOf(6, 7, 8, 9), Gain: 5}}}}
	four, five := holding(first, first, first, first), holding(first, first, first, first, first)
	for _, c := range []struct {
		n, k int
		cs   []*candidate
		want bool
	}{{0, 0, nil, true}, {0, 0, four, true}, {0, 0, five, false}, {1, 0, four, true}, {1, 0, five, false}, {1, 1, four, false}, {1, 2, four, true}, {1, 3, four, false}, {2, 0, four, false}} {
		if got := worthShowing(parts, c.n, c.k, c.cs); got != c.want {
			t.Errorf("block %d of split %d beside %d: %v", c.k, c.n, len(c.cs), got)
		}
	}
}

// What is said of a point is borne out while all that speaks against it stays below one in a
// thousand together, and its limit holds for all explanations weighed together. The verdicts are laid down
// here: of the point under the first explanation and under a rival, with the probability of each.
func TestBorneOutByItsWeights(t *testing.T) {
	still := func(v Verdict, prob float64, moved bool) *candidate {
		return &candidate{moved: []bool{moved}, sure: []bool{moved}, t2: []float64{0}, judged: []Conformance{{Verdict: v, Probability: prob}}, asked: []bool{true}}
	}
	const u = unlikely
	for k, x := range []struct {
		own    *candidate
		rival  *candidate
		weight float64
		along  ride
		bend   float64 // weight of a bend that carries the point surely beyond everything
		want   bool
	}{
		{still(Met, 0.96, false), still(Met, 0.96, false), 1, ride{}, 0, true},
		{still(Met, 0.96, false), still(Undecided, 0.93, false), 1, ride{}, 0, false},                      // 0.945 of both
		{still(Met, 0.96, false), still(Undecided, 0.94, false), 1, ride{}, 0, true},                       // 0.95 of both
		{still(Met, 0.96, false), still(NotMet, 0, false), u * 0.99, ride{}, 0, true},                      // opposite, and too unlikely
		{still(Met, 0.96, false), still(NotMet, 0, false), u * 1.01, ride{}, 0, false},                     // opposite
		{still(Met, 0.96, false), still(Met, 0.96, true), u * 0.99, ride{}, 0, true},                       // moved there, and too unlikely
		{still(Met, 0.96, false), still(Met, 0.96, true), u * 1.01, ride{}, 0, false},                      // moved there
		{still(Met, 0.96, false), still(NotMet, 0, true), u * 0.99, ride{}, 0, true},                       // counts once
		{still(NotMet, 0.04, true), still(NotMet, 0.04, true), 1, ride{}, 0, true},                         //
		{still(NotMet, 0.04, true), still(Undecided, 0.07, true), 1, ride{}, 0, false},                     // 0.055 of both
		{still(NotMet, 0.04, true), still(Undecided, 0.06, true), 1, ride{}, 0, true},                      // 0.05 of both
		{still(Undecided, 0.5, false), still(Met, 1, false), 1, ride{}, 0, true},                           // nothing is said of the limit
		{still(Undecided, 0.5, false), still(Met, 1, true), 0.5, ride{}, 0, false},                         //
		{still(Met, 0.96, false), still(Met, 0.96, false), u * 1.5, ride{by: 3, std: 0.5}, 0, true},        // half of it beyond 3 mm
		{still(Met, 0.96, false), still(Met, 0.96, false), u * 3, ride{by: 3, std: 0.5}, 0, false},         //
		{still(Met, 0.96, false), still(Met, 0.96, false), u * 1.5, ride{by: 5, std: 0.5}, 0, false},       // all of it
		{still(Met, 0.96, false), still(Met, 0.96, false), 1, ride{}, u * 0.49, true},                      // a bend, which speaks against the motion and against the limit
		{still(Met, 0.96, false), still(Met, 0.96, false), 1, ride{}, u * 0.51, false},                     //
		{still(NotMet, 0.04, true), still(NotMet, 0.04, true), 1, ride{}, 0.5, true},                       // a bend says nothing of what moved
		{still(Met, 0.96, false), still(Met, 0.96, false), u * 0.6, ride{by: 9, std: 0.5}, u * 0.6, false}, // both together
	} {
		p, e := laid(geom.Vec{2000, 0, 0})
		rivals := []rival{{x.own, 1, []ride{{}}}, {x.rival, x.weight, []ride{x.along}}}
		var bends []bentBlock
		if x.bend > 0 {
			bends = []bentBlock{{Bend: geom.Bend{Coefficient: [2]float64{1e-4, 0}, Std: 1e-7, Along: geom.Vec{1, 0, 0}}, weight: x.bend, tangents: []geom.Vec{{}}}}
		}
		if got := p.borneOut(e, rivals, bends, x.own, 0, 3); got != x.want {
			t.Errorf("case %d: borne out %v", k, got)
		}
	}
}

// A point moved surely beyond the level of 1e-8 by its own reading, or as one of a block by the
// others: four of them, half of them called moved, one of them near, and chance no explanation.
func TestSurelyMoved(t *testing.T) {
	p, e := laid(alongX(9)...)
	for i := range p.in.Points {
		p.in.Points[i].Z += float64(90 * i % 370)
		e.at[i] = p.in.Points[i].At()
		if i >= 4 {
			e.at[i] = e.at[i].Add(geom.Vec{0, 9, 0})
		}
	}
	x, err := geom.NewMatcher(p.matches(e))
	if err != nil {
		t.Fatal(err)
	}
	steady, rear := geom.SetOf(0, 1, 2, 3), geom.SetOf(4, 5, 6, 7, 8)
	c := &candidate{steady: steady, fit: fitted(t, p, e, steady), t2: []float64{0, firmMoved, firmMoved + 1, firmMoved + 1, 30, 30, 30, 30, 30}, moved: []bool{true, true, true, false, true, true, false, false, true}}
	c.groups = []group{{set: rear, fit: fitted(t, p, e, rear), gain: unlikelyBIC + 1}}
	if got := p.sureOf(e, x, c); !slices.Equal(got, []bool{false, false, true, false, true, true, false, false, true}) {
		t.Errorf("sure: %v", got)
	}
	for _, k := range []struct {
		name string
		set  geom.Set
		gain float64
		near []int
		also bool // whether the last is called moved
		want bool
	}{
		{"as it is", rear, 99, nil, true, true}, {"fewer than half of the others moved", rear, 99, nil, false, false}, {"three others", geom.SetOf(4, 5, 6, 8), 99, nil, true, false}, {"chance", rear, unlikelyBIC, nil, true, false},
		{"none near", rear, 99, []int{1, 2, 3}, true, false}, {"one near", rear, 99, []int{1, 2, 7}, true, true}, {"in no block", geom.SetOf(5, 6, 7, 8), 99, nil, true, false},
	} {
		c.groups[0].set, c.groups[0].gain, c.moved[8], e.near = k.set, k.gain, k.also, nil
		if k.near != nil {
			e.near = make([][]int, 9)
			e.near[4] = k.near
		}
		if got := p.carried(e, x, c, 4); got != k.want {
			t.Errorf("%s: carried %v", k.name, got)
		}
	}
	for i := range e.at { // it moved by less than is sure
		if i >= 4 {
			e.at[i] = e.at[i].Add(geom.Vec{0, -8.6, 0})
		}
	}
	c.groups[0], e.near = group{set: rear, fit: fitted(t, p, e, rear), gain: 99}, nil
	if p.carried(e, x, c, 4) {
		t.Error("0.4 mm are sure")
	}
}

// A radial limit that one direction alone leaves undecided is undecided, whatever the others are;
// it is known beforehand only of a place with a radial limit alone.
func TestNearALimitIsUndecided(t *testing.T) {
	radial := body.Point{Tol: unit.Some(3.0)}
	for _, c := range []struct {
		p    body.Point
		d    float64
		std  float64
		want bool
	}{
		{radial, 2.9, 0.5, true}, {radial, 3.1, 0.5, true}, {radial, 2.1, 0.5, false}, {radial, 0.5, 9, true}, {radial, 0, 9, false}, {radial, 2.18, 0.5, true}, {radial, 2.17, 0.5, false}, // 3 - 1.6449 * 0.5 = 2.1776
		{body.Point{TolX: unit.Some(3.0)}, 2.9, 0.5, false}, {body.Point{}, 2.9, 0.5, false}, {body.Point{Tol: unit.Some(3.0), TolX: unit.Some(9.0)}, 2.9, 0.5, false}, {body.Point{Tol: unit.Some(3.0), TolY: unit.Some(9.0)}, 2.9, 0.5, false}, {body.Point{Tol: unit.Some(3.0), TolZ: unit.Some(9.0)}, 2.9, 0.5, false},
	} {
		if got := nearLimit(c.p, geom.Vec{0, c.d, 0}, geom.Diag3(geom.Vec{1e-8, c.std * c.std, 1e-8}), 0); got != c.want {
			t.Errorf("%+v, %g off, known to %g: near %v", c.p.Tol, c.d, c.std, got)
		}
	}
	rng := rand.New(rand.NewPCG(8, 8))
	hit := 0
	for range 200 {
		off := geom.Vec{2 * rng.NormFloat64(), 2 * rng.NormFloat64(), 2 * rng.NormFloat64()}
		cov := geom.Diag3(geom.Vec{rng.Float64(), rng.Float64(), 0.1 * rng.Float64()}).Turn(geom.FromRotationVector(geom.Vec{rng.NormFloat64(), rng.NormFloat64(), 1}))
		if nearLimit(radial, off, cov, 0) {
			if hit++; Conform(radial, off, cov, 0).Verdict != Undecided {
				t.Errorf("%v with %v is decided", off, cov)
			}
		}
	}
	if hit < 20 {
		t.Errorf("only %d of 200 were near", hit)
	}
}

// Lengths alone: a set of at most two points, no more than are called moved and another set than
// those, without which all lengths agree.
func TestFewPointsExplainTheLengths(t *testing.T) {
	c := newCar(8, 21)
	lengths := func(off ...int) Input {
		in := Input{Points: c.measure(1).Points}
		at := slices.Clone(c.at)
		for _, i := range off {
			at[i] = at[i].Add(geom.Vec{40, -30, 60})
		}
		for i := range at {
			for j := range i {
				in.Readings = append(in.Readings, spanReading("T", "length", in.Points[i].ID, in.Points[j].ID, at[i].Dist(at[j]), 0.5))
			}
		}
		return in
	}
	for _, k := range []struct {
		name  string
		off   []int
		moved []int
		want  string
	}{
		{"none", nil, []int{2}, "every length agrees with nothing having moved"},
		{"another one", []int{3}, []int{5}, "the lengths fit as well if only P04 moved"},
		{"another two", []int{3, 6}, []int{1, 5}, "the lengths fit as well if only P04, P07 moved"},
		{"one of two", []int{3}, []int{3, 5}, "the lengths fit as well if only P04 moved"},
		{"two of three", []int{6, 3}, []int{3, 5, 6}, "the lengths fit as well if only P04, P07 moved"},
		{"more than are called moved", []int{3, 6}, []int{5}, ""},
		{"those called moved", []int{3, 6}, []int{3, 6}, ""},
		{"three", []int{1, 3, 6}, []int{0, 2, 4, 5}, ""},
		{"nothing called moved", nil, nil, ""},
	} {
		p := prepare(lengths(k.off...))
		e := p.locate()
		x := &candidate{moved: make([]bool, len(e.points))}
		for _, i := range k.moved {
			x.moved[e.slot[i]] = true
		}
		got := p.otherSolutions(e, x)
		if k.want == "" && len(got) != 0 || k.want != "" && (len(got) != 1 || got[0] != k.want) {
			t.Errorf("%s: %q, want %q", k.name, got, k.want)
		}
		if e.base = 0; k.want != "" && p.otherSolutions(e, x) != nil {
			t.Errorf("%s: said of coordinates", k.name)
		}
	}
}

// Set-ups are put together from the one with most points, of two as large the first by its name,
// over those that share three points or more, the most first; their places are those of one common
// adjustment in the frame of the base. One that shares two is left out, by name.
func TestSetupsArePutTogether(t *testing.T) {
	c := newCar(14, 44)
	rng := rand.New(rand.NewPCG(44, 1))
	in := Input{Points: c.measure(1).Points, Impact: "unknown"}
	motion := map[string]geom.Rigid{}
	read := func(setup string, points ...int) {
		m := geom.Rigid{R: geom.FromRotationVector(geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}), T: geom.Vec{900 * rng.NormFloat64(), 900, 0}}
		motion[setup] = m
		for _, i := range points {
			in.Readings = append(in.Readings, xyz(setup, in.Points[i].ID, m.Apply(c.at[i]).Add(c.gauss().Scale(0.5)), 0.5))
		}
	}
	read("B", 0, 1, 2, 3, 4, 5)
	read("A", 3, 4, 5, 6, 7, 8) // as many: the base by its name
	read("C", 6, 7, 8, 9, 10)   // three in common with A
	read("D", 9, 10, 11, 12)    // two with C: left out
	p := prepare(in)
	e := p.locate()
	name := func(k int) string { return p.setups[k].id }
	var linked []string
	for k, is := range e.linked {
		if is {
			linked = append(linked, name(k))
		}
	}
	if name(e.base) != "A" || !slices.Equal(linked, []string{"B", "A", "C"}) || len(e.points) != 11 || e.simple {
		t.Fatalf("base %s, linked %v, %d points", name(e.base), linked, len(e.points))
	}
	said := 0
	for _, n := range p.notes {
		if n.Code == "measure.setup-unlinked" {
			if said++; n.Where != "set-up D" || !strings.HasPrefix(n.Text, "its 4 points share fewer than three") {
				t.Errorf("%+v", n)
			}
		} else if n.Code == "measure.adjustment" {
			t.Errorf("%+v", n)
		}
	}
	if said != 1 {
		t.Errorf("%d set-ups are said to be left out", said)
	}
	// the same adjustment, written down here
	nw := &geom.Network{Poses: []geom.NetPose{{Motion: geom.Still(), Fixed: true}}}
	pose := map[string]int{"A": 0}
	back := motion["A"]
	for _, s := range []string{"B", "C"} {
		pose[s] = len(nw.Poses)
		nw.Poses = append(nw.Poses, geom.NetPose{Motion: motion[s].Compose(back.Inverse())})
	}
	for _, pt := range e.points {
		nw.Points = append(nw.Points, geom.NetPoint{At: back.Apply(c.at[pt])})
	}
	for _, r := range in.Readings {
		if k, ok := pose[r.Setup]; ok {
			for a, v := range []float64{r.X.Value, r.Y.Value, r.Z.Value} {
				nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetCoordinate, Pose: k, A: e.slot[p.index[r.From]], Axis: a, Value: v, Std: 0.5})
			}
		}
	}
	want, err := nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	for i := range e.points {
		near(t, "place", e.at[i].Dist(want.Points[i]), 0, 1e-6)
		for j := range e.points {
			a, b := e.together(i, j), want.PointCov(i, j)
			for k := range a {
				near(t, "covariance", a[k].Dist(b[k]), 0, 1e-6)
			}
		}
		for k := range e.cov[i] {
			near(t, "own covariance", e.cov[i][k].Dist(want.PointCov(i, i)[k]), 0, 1e-6)
		}
	}
	for k, s := range p.setups {
		if e.linked[k] {
			near(t, "motion of a set-up", e.motion[k].Apply(geom.Vec{100, 200, 300}).Dist(want.Poses[pose[s.id]].Apply(geom.Vec{100, 200, 300})), 0, 1e-6)
		}
	}
	// what is as good as exact gets a floor, so that it can be weighed
	e.cov[0], e.cov[1] = geom.Mat3{}, geom.Diag3(geom.Vec{100, 100, 1e-15})
	m := p.matches(e)
	if m.CovTo[0] != geom.Isotropic(1e-6) || m.CovTo[2] != e.cov[2] {
		t.Errorf("%v", m.CovTo[0])
	}
	near(t, "floor", m.CovTo[1][2][2], 1e-15+1e-12*200, 1e-20)
	near(t, "beside it", m.CovTo[1][0][0], 100+1e-12*200, 1e-13)
}

// Points that no set-up reads are located by three lengths or heights to such as are.
func TestPointsLocatedByLengths(t *testing.T) {
	c := newCar(12, 46)
	in := c.measure(0.3)
	in.Readings = in.Readings[:10] // P11 and P12 were not read
	to := func(i int, others ...int) {
		for _, j := range others {
			in.Readings = append(in.Readings, spanReading("T", "length", in.Points[j].ID, in.Points[i].ID, c.at[i].Dist(c.at[j])+float64(0.3*c.rng.NormFloat64()), 0.3))
		}
	}
	to(10, 0, 5, 8, 9)
	to(11, 2, 7) // two, and one to the point located so
	to(11, 10)
	p := prepare(in)
	e := p.locate()
	if len(e.points) != 12 || e.slot[10] < 0 || e.slot[11] < 0 {
		t.Fatalf("%d points have a place", len(e.points))
	}
	back := fitted(t, p, e, geom.SetOf(0, 1, 2, 3, 4, 5, 6, 7, 8, 9)).Motion
	for _, i := range []int{10, 11} {
		s := e.slot[i]
		off := back.ApplyInverse(e.at[s]).Sub(c.at[i])
		if v, ok := geom.Mahalanobis(off, e.cov[s].Turn(back.R.Transpose()).Add(geom.Isotropic(0.3))); !ok || v > 25 {
			t.Errorf("P%d is %v off", i+1, off)
		}
	}
	in.Readings = in.Readings[:len(in.Readings)-1] // without the third length
	p = prepare(in)
	if e = p.locate(); e.slot[11] >= 0 || e.slot[10] < 0 || len(e.points) != 11 {
		t.Errorf("with two lengths it has a place, %d points", len(e.points))
	}
	s := &span{kind: job.ReadHeight, setup: 1, from: 0, to: 1}
	if p.spanUsable(e, s) || p.spanUsable(e, &span{kind: job.ReadLength, setup: 1, from: 0, to: 11}) || p.spanUsable(e, &span{kind: job.ReadLength, setup: 1, from: 11, to: 0}) || !p.spanUsable(e, &span{kind: job.ReadLength, setup: 1, from: 0, to: 1}) {
		t.Error("a height needs the frame of its set-up, a length the places of both ends")
	}
}

// The median ratio of the distances names the unit within three hundredths; of fewer than three
// distances there is none.
func TestUnitsByTheirRatio(t *testing.T) {
	base := newCar(9, 71).measure(0.2)
	scaled := func(by float64) *problem {
		in := base
		in.Readings = slices.Clone(base.Readings)
		for i := range in.Readings {
			r := &in.Readings[i]
			r.X.Value, r.Y.Value, r.Z.Value = r.X.Value*by, r.Y.Value*by, r.Z.Value*by
		}
		return prepare(in)
	}
	for by, want := range map[float64]string{1: "", 1 / 25.4: "inches", 0.1: "centimetres", 0.001: "metres", 25.4: "millimetres, and the control points in inches", 10: "tenths of a millimetre, or the control points in centimetres", 1000: "micrometres, or the control points in metres", 10 * 1.029: "tenths of a millimetre, or the control points in centimetres", 10 * 1.031: "", 10 * 0.971: "tenths of a millimetre, or the control points in centimetres", 10 * 0.969: ""} {
		p := scaled(by)
		r := p.emptyResult()
		found := p.suspectUnit(&r)
		if found != (want != "") || found && (len(r.Suspects) != 1 || !strings.HasSuffix(r.Suspects[0].Text, "its readings look like "+want) || r.Suspects[0].Kind != SuspectUnit || r.Suspects[0].Setup != "S1") {
			t.Errorf("times %g: %+v, want %q", by, r.Suspects, want)
		}
		near(t, "ratio", p.medianRatio(0), by, 2e-3*by)
	}
	p := scaled(10)
	p.coords = p.coords[:3]
	if p.medianRatio(0) == 0 {
		t.Error("of three distances there is no ratio")
	}
	if p.coords = p.coords[:2]; p.medianRatio(0) != 0 {
		t.Error("of one distance there is a ratio")
	}
	// more than half of all points stood: nothing is tried, and half of them is not more
	for _, c := range []struct {
		steady int
		want   bool
	}{{4, true}, {5, false}} {
		p := scaled(10)
		e := p.locate()
		r := p.emptyResult()
		best := &candidate{t2: make([]float64, len(e.points)), cov: make([]geom.Mat3, len(e.points)), shift: make([]geom.Vec, len(e.points))}
		for i := range c.steady {
			best.steady.Put(i)
		}
		e.points = e.points[:8]
		e.simple = true
		p.suspects(e, best, &r)
		if got := slices.ContainsFunc(r.Suspects, func(s Suspect) bool { return s.Kind == SuspectUnit }); got != c.want {
			t.Errorf("%d of 8 stood: unit suspected %v", c.steady, got)
		}
	}
}

// A simple set-up, reading by reading: what is left, its redundancy and w are those of a network in
// which the nominal places are read as well as they were built.
func TestSimpleRowsByANetwork(t *testing.T) {
	c := newCar(9, 61)
	in := c.measure(0.5)
	for i := range in.Points {
		in.Points[i].Std = unit.Some(0.3 + 0.05*float64(i))
	}
	r, _ := Run(in)
	h, ok := r.Best()
	if !ok || len(h.Steady) != 9 || len(r.Adjustment.Observations) != 27 {
		t.Fatalf("%v, %d rows", h.Steady, len(r.Adjustment.Observations))
	}
	nw := &geom.Network{}
	var all []int
	for i, p := range in.Points {
		nw.Points = append(nw.Points, geom.NetPoint{At: p.At()})
		for a, v := range p.At() {
			nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetCoordinate, Pose: geom.PointFrame, A: i, Axis: a, Value: v, Std: p.Std.Value})
		}
		rd := in.Readings[i]
		for a, v := range []float64{rd.X.Value, rd.Y.Value, rd.Z.Value} {
			all = append(all, len(nw.Obs))
			nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetCoordinate, Pose: 0, A: i, Axis: a, Value: v, Std: 0.5})
		}
	}
	pose := h.Setups["S1"]
	nw.Poses = []geom.NetPose{{Motion: geom.Rigid{R: geom.FromRotationVector(pose.RotationDeg.Scale(1 / degree)), T: pose.TranslationMM}}}
	want, err := nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	for k, row := range all {
		o, w := r.Adjustment.Observations[k], want.Rows[row]
		near(t, "residual", o.ResidualMM, w.Residual, 2e-3)
		near(t, "redundancy", o.Redundancy, w.Redundancy, 2e-3)
		near(t, "w", o.W, w.W, 5e-3)
		near(t, "detectable", o.Detectable, math.Sqrt(17.075)*0.5/math.Sqrt(w.Redundancy), 1e-2)
		if o.From != in.Points[k/3].ID || o.Kind != axisName[k%3] || o.Setup != "S1" || o.To != "" || o.StdMM != 0.5 || !o.Controlled {
			t.Errorf("%+v", o)
		}
	}
	near(t, "sum of squares", r.Adjustment.VtPV, want.VtPV, 1e-3*want.VtPV)
	p, _ := laid(geom.Vec{})
	for red, controlled := range map[float64]bool{0.1: true, 0.0999: false, geom.MinControl: false} {
		o := p.observation(rowSource{0, 0, none, "x", 0.5}, 1, red)
		if o.Controlled != controlled || (o.W == 0) != (red <= geom.MinControl) || (o.Detectable == 0) != (red <= geom.MinControl) {
			t.Errorf("redundancy %g: %+v", red, o)
		}
	}
}
