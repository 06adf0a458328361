package measure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/normal"
	"fettle/internal/unit"
)

// Why nothing can be said: by how many were measured, and how.
func TestWhyThereIsNoBlock(t *testing.T) {
	of := func(points []int, spans ...[2]int) *problem {
		p := &problem{}
		for _, i := range points {
			p.coords = append(p.coords, coord{point: i})
		}
		for _, s := range spans {
			p.spans = append(p.spans, span{from: s[0], to: s[1]})
		}
		return p
	}
	for _, c := range []struct {
		p      *problem
		points int
		want   string
	}{
		{of(nil), 0, "no control point was measured"},
		{of([]int{1, 1, 2}), 0, "control points measured: 2, at least 4 are needed"},
		{of([]int{1}, [2]int{2, 3}), 0, "control points measured: 3, at least 4 are needed"},
		{of(nil, [2]int{0, 1}, [2]int{2, 3}), 0, "the lengths and heights between 4 control points do not fix their form"},
		{of([]int{0}, [2]int{1, 2}, [2]int{2, 3}), 0, "control points measured: 4, but no set-up has three of them"},
		{of([]int{0, 1, 2, 3, 4}), 3, "control points measured: 5, of which 3 have a position against the others; at least 4 are needed"},
		{of([]int{0, 1, 2, 3, 4}), 4, "no 4 of the 4 measured control points kept their places against one another"},
	} {
		if got := c.p.noBlock(c.points); got != c.want+"; nothing can be said about what moved" {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// What takes "firm" away: from all points when the result is ambiguous, when the readings as a whole
// disagree, or when a whole set-up is suspected; from the points of a suspected reading alone otherwise.
func TestWhatTakesFirmAway(t *testing.T) {
	result := func() *Result {
		return &Result{Adjustment: Adjustment{DOF: 9, P: 0.5}, Hypotheses: []Hypothesis{{Points: []PointResult{{ID: "A", Firm: true}, {ID: "B", Firm: true}, {ID: "C"}}}, {Points: []PointResult{{ID: "A", Firm: true}}}}}
	}
	for _, c := range []struct {
		name   string
		change func(r *Result)
		want   []bool // A and B, and A in the other
	}{
		{"nothing", func(r *Result) {}, []bool{true, true, true}},
		{"ambiguous", func(r *Result) { r.Why = []string{"x"} }, []bool{false, false, false}},
		{"disagree", func(r *Result) { r.Adjustment.P = geom.AlphaBlock - 1e-9 }, []bool{false, false, false}},
		{"nearly", func(r *Result) { r.Adjustment.P = geom.AlphaBlock }, []bool{true, true, true}},
		{"disagree with one degree of freedom", func(r *Result) { r.Adjustment = Adjustment{DOF: 1} }, []bool{false, false, false}},
		{"without degrees of freedom", func(r *Result) { r.Adjustment = Adjustment{} }, []bool{true, true, true}},
		{"a reading", func(r *Result) { r.Suspects = []Suspect{{Kind: "value", Points: []body.PointID{"A"}}} }, []bool{false, true, false}},
		{"two readings", func(r *Result) {
			r.Suspects = []Suspect{{Kind: "value", Points: []body.PointID{"C"}}, {Kind: "swap", Points: []body.PointID{"B", "C"}}}
		}, []bool{true, false, true}},
		{"a unit", func(r *Result) { r.Suspects = []Suspect{{Kind: SuspectUnit}} }, []bool{false, false, false}},
		{"a scale", func(r *Result) { r.Suspects = []Suspect{{Kind: SuspectScale}} }, []bool{false, false, false}},
		{"a frame", func(r *Result) { r.Suspects = []Suspect{{Kind: SuspectMirror}} }, []bool{false, false, false}},
		{"a block turned over", func(r *Result) { r.Suspects = []Suspect{{Kind: SuspectMirror, Points: []body.PointID{"B"}}} }, []bool{true, false, true}},
		{"a set-up first", func(r *Result) {
			r.Suspects = []Suspect{{Kind: SuspectUnit}, {Kind: "value", Points: []body.PointID{"C"}}}
		}, []bool{false, false, false}},
	} {
		r := result()
		c.change(r)
		(&problem{}).unfirm(r)
		got := []bool{r.Hypotheses[0].Points[0].Firm, r.Hypotheses[0].Points[1].Firm, r.Hypotheses[1].Points[0].Firm}
		if !slices.Equal(got, c.want) || r.Hypotheses[0].Points[2].Firm {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	for _, c := range []struct {
		s    Suspect
		want bool
	}{{Suspect{Kind: SuspectUnit}, true}, {Suspect{Kind: "reading"}, false}, {Suspect{Kind: SuspectScale, Points: []body.PointID{"A"}}, false}} {
		if c.s.wholeSetup() != c.want {
			t.Errorf("%+v is about a whole set-up: %v", c.s, !c.want)
		}
	}
}

// Nominated reference points are a set when three have a position; they are the steady block of a
// split of their own when they fit together and no block holds most of them.
func TestReferencesAlone(t *testing.T) {
	p, e := laid(alongX(12)...)
	for i := range p.in.Points {
		p.in.Points[i].Z += float64(90 * i % 370)
		e.at[i] = p.in.Points[i].At()
	}
	x, err := geom.NewMatcher(p.matches(e))
	if err != nil {
		t.Fatal(err)
	}
	if p.references(e) != nil {
		t.Error("none is nominated")
	}
	p.in.Points[1].Reference, p.in.Points[4].Reference = true, true
	if p.references(e) != nil {
		t.Error("two are a set")
	}
	p.in.Points[8].Reference = true
	refs := p.references(e)
	if len(refs) != 1 || refs[0] != geom.SetOf(1, 4, 8) {
		t.Fatalf("%v", refs)
	}
	part := func(bic float64, sets ...geom.Set) geom.Partition {
		out := geom.Partition{BIC: bic}
		for _, s := range sets {
			out.Blocks = append(out.Blocks, geom.Block{Set: s})
		}
		return out
	}
	for _, c := range []struct {
		name  string
		refs  []geom.Set
		parts []geom.Partition
		want  bool
	}{
		{"in no block", refs, []geom.Partition{part(7, geom.SetOf(0, 2, 3, 5)), part(9, geom.SetOf(6, 7))}, true},
		{"one in a block", refs, []geom.Partition{part(7, geom.SetOf(0, 1, 2, 3))}, true},
		{"two in a block", refs, []geom.Partition{part(7, geom.SetOf(0, 2)), part(9, geom.SetOf(5, 6), geom.SetOf(1, 4, 2, 3))}, false},
		{"half of four in a block", []geom.Set{geom.SetOf(1, 4, 8, 9)}, []geom.Partition{part(7, geom.SetOf(1, 4, 2, 3))}, true},
		{"none nominated", nil, []geom.Partition{part(7, geom.SetOf(0, 2))}, false},
		{"no split", refs, nil, true},
	} {
		got, ok := p.onlyReferences(x, c.refs, c.parts)
		if ok != c.want || ok && (len(got.Blocks) != 1 || got.Blocks[0].Set != c.refs[0] || len(c.parts) > 0 && got.BIC != 7) {
			t.Errorf("%s: %v, %+v", c.name, ok, got)
		}
	}
	e.at[4] = e.at[4].Add(geom.Vec{0, 30, 0}) // they do not fit together any more
	if _, ok := p.onlyReferences(x, []geom.Set{geom.SetOf(1, 4, 8, 9)}, nil); ok {
		t.Error("references that moved against one another are a steady block")
	}
}

// A bend carries a place by what it sags from where the body stood: the most of the tangents, as a
// normal value. The body stood at the end away from the impact where evidence chose it, else at either.
func TestBendsOfABlock(t *testing.T) {
	p, e := laid(alongX(9)...)
	set := geom.SetOf(2, 3, 4, 5, 6, 7)
	x := geom.Vec{1, 0, 0}
	first, last := p.in.Points[2].At(), p.in.Points[7].At()
	for _, c := range []struct {
		impact string
		chosen bool
		along  geom.Vec
		want   []geom.Vec
	}{
		{"front", true, x, []geom.Vec{last}}, {"rear", true, x, []geom.Vec{first}}, {"rear", false, x, []geom.Vec{first, last}}, {"left", true, x, []geom.Vec{first, last}}, {"unknown", true, x, []geom.Vec{first, last}},
		{"front", true, geom.Vec{-1, 0, 0}, []geom.Vec{last}}, {"rear", true, geom.Vec{-1, 0, 0}, []geom.Vec{first}},
	} {
		p.in.Impact = job.ImpactSide(c.impact)
		if got := p.tangents(e, c.along, &set, c.chosen); !slices.Equal(got, c.want) {
			t.Errorf("%s, chosen %v: %v, want %v", c.impact, c.chosen, got, c.want)
		}
	}
	b := bentBlock{Bend: geom.Bend{Coefficient: [2]float64{3e-6, 4e-6}, Std: 1e-6, Along: x}, tangents: []geom.Vec{{0, 0, 0}, {500, 0, 0}}}
	near(t, "beyond", b.beyond(geom.Vec{1000, 7, 7}, 3), normal.CDF((5-3)/1.), 1e-12) // 5e-6 and 1e-6 per mm^2 over 1000 mm
	near(t, "from the other", b.beyond(geom.Vec{-500, 7, 7}, 3), normal.CDF((5-3)/1.), 1e-12)
	if b.beyond(geom.Vec{}, 3) != normal.CDF((1.25-3)/0.25) {
		t.Errorf("in between: %g", b.beyond(geom.Vec{}, 3))
	}
	b.tangents = b.tangents[:1]
	if b.beyond(geom.Vec{}, 3) != 0 {
		t.Error("where the body stood it is carried nowhere")
	}
	// weights by the formula exp((cost - chi2 - k ln 3n - prior) / 2), at most 1, from negligible on
	c := newCar(16, 3)
	q := prepare(c.measure(0.5))
	f := q.locate()
	m, err := geom.NewMatcher(q.matches(f))
	if err != nil {
		t.Fatal(err)
	}
	var all geom.Set
	for i := range f.points {
		all.Put(i)
	}
	unit3n := math.Log(48)
	bends := m.Bends(&all)
	for _, chosen := range []bool{true, false} {
		prior := 2 * math.Log(10)
		if chosen {
			prior = 2 * math.Log(100)
		}
		for _, over := range []float64{-1, 0.1, 3, 15, 30} {
			cost := bends[0].Chi2 + float64(bends[0].Parameters)*unit3n + prior - over
			n := 0
			for _, b := range bends {
				if w := math.Exp(min(0, cost-b.Chi2-float64(b.Parameters)*unit3n-prior) / 2); w >= negligible {
					n++
				}
			}
			got := q.bentBlock(f, m, all, cost, unit3n, chosen)
			if len(got) != n {
				t.Errorf("%g over it: %d bends, want %d", over, len(got), n)
			}
			for _, x := range got {
				want := math.Exp(min(0, cost-x.Chi2-float64(x.Parameters)*unit3n-prior) / 2)
				near(t, "weight", x.weight, want, 1e-9)
			}
		}
	}
	five := geom.SetOf(0, 3, 5, 8, 11)
	if q.bentBlock(f, m, five, 1e9, unit3n, true) != nil {
		t.Error("five points are bent")
	}
	five.Put(14)
	if q.bentBlock(f, m, five, 1e9, unit3n, true) == nil {
		t.Error("six points are not")
	}
}

// The scatter of the readings is said to be more than stated at one in a million of all, and to be
// less at one in ten thousand of the blocks: one block of all points, with the uncertainty stated just so.
func TestScatterIsSaidAtItsLevels(t *testing.T) {
	c := newCar(18, 12)
	in := c.measure(0.5)
	var all geom.Set
	for i := range in.Points {
		all.Put(i)
	}
	block := func(stated float64) (*problem, *geom.Matcher, geom.Partition) {
		for i := range in.Readings {
			in.Readings[i].Std = unit.Some(stated)
		}
		p := prepare(in)
		x, err := geom.NewMatcher(p.matches(p.locate()))
		if err != nil {
			t.Fatal(err)
		}
		b, err := x.Evaluate(all)
		if err != nil {
			t.Fatal(err)
		}
		return p, x, geom.Partition{Blocks: []geom.Block{b}}
	}
	_, _, one := block(1)
	chi2, dof := one.Blocks[0].Fit.Chi2, one.Blocks[0].Fit.DOF
	for _, k := range []struct {
		tail float64
		code string
		says string
	}{
		{0.9e-6, "measure.uncertainty-small", "the readings scatter about %.1f times as much as their stated uncertainty"}, {1.1e-6, "", ""}, {0.5, "", ""},
		{1 - 0.9e-4, "measure.uncertainty-large", "the readings agree %.1f times better than their stated uncertainty"}, {1 - 1.1e-4, "", ""},
	} {
		want := geom.ChiSquareQuantile(k.tail, dof)
		p, x, part := block(math.Sqrt(chi2 / want))
		r := p.emptyResult()
		p.scatter(x, &part, &r)
		said, factor := "", math.Sqrt(want/float64(dof))
		if k.tail > 0.5 {
			factor = 1 / factor
		}
		for _, n := range p.notes {
			if strings.HasPrefix(n.Code, "measure.uncertainty") {
				if said = n.Code; !strings.HasPrefix(n.Text, fmt.Sprintf(k.says, factor)) {
					t.Errorf("%q, want %q", n.Text, fmt.Sprintf(k.says, factor))
				}
			}
		}
		if said != k.code || (len(r.Why) == 1) != (k.code == "measure.uncertainty-small") {
			t.Errorf("at %g: %q, %q, want %q", k.tail, said, r.Why, k.code)
		}
		r = p.emptyResult()
		if p.scatter(x, &geom.Partition{}, &r); len(r.Why) > 0 {
			t.Error("no block scatters")
		}
	}
}

// Where few points lack a spread the middle one of those given is taken; where too few are without
// any, none; where most lack it, it is estimated from how the points stand, within a third.
func TestSpreadOfPointsWithoutOne(t *testing.T) {
	run := func(n int, given ...float64) (*problem, string) {
		c := newCar(n, 31)
		c.built = nil
		in := c.measure(0.2)
		for i := range in.Readings { // built with a spread of 0.8 mm
			d := c.gauss().Scale(0.8)
			in.Readings[i].X.Value += d[0]
			in.Readings[i].Y.Value += d[1]
			in.Readings[i].Z.Value += d[2]
		}
		for i := range in.Points {
			in.Points[i].Std = unit.Maybe[float64]{}
			if i < len(given) {
				in.Points[i].Std = unit.Some(given[i])
			}
		}
		p := prepare(in)
		e := p.locate()
		p.estimateSpread(e)
		said := ""
		for _, x := range p.notes {
			if strings.Contains(x.Code, "spread") {
				said += strings.TrimPrefix(x.Code, "measure.")
			}
		}
		return p, said
	}
	p, said := run(20)
	if said != "spread-estimated" || p.std0[0] < 0.5 || p.std0[0] > 1.1 || p.std0[0] != p.std0[19] {
		t.Errorf("of 20 points: %q, %g", said, p.std0[0])
	}
	if p, said = run(20, 0.3, 0.9, 0.5, 0.4, 0.6, 0.8, 0.7, 0.1, 0.2, 1, 1.1); said != "spread-taken" || p.std0[19] != 0.6 || p.std0[0] != 0.3 {
		t.Errorf("of eleven given: %q, %g", said, p.std0[19])
	}
	if p, said = run(20, 0.3, 0.9); said != "spread-estimated" || p.std0[0] != 0.3 || p.std0[19] < 0.5 {
		t.Errorf("of two given: %q, %g", said, p.std0[19])
	}
	if p, said = run(5); said != "no-spread" || p.std0[4] != 0 {
		t.Errorf("of five points: %q, %g", said, p.std0[4])
	}
	if p, said = run(6, 0.3, 0.9, 0.5, 0.4, 0.6, 0.8); said != "" || p.std0[3] != 0.4 {
		t.Errorf("all given: %q", said)
	}
	if p, said = run(12, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4); said != "spread-taken" || p.std0[11] != 0.4 { // five are without
		t.Errorf("five without: %q, %g", said, p.std0[11])
	}
	if p, said = run(12, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4); said != "spread-estimated" { // six, half of all
		t.Errorf("six without: %q, %g", said, p.std0[11])
	}
}

// The test of one point among n has its share of one in a thousand, and the non-centrality of a power
// of 0.999; it is kept for as many points.
func TestPointTestByItsShare(t *testing.T) {
	for _, n := range []int{1, 10, 60} {
		alpha := 0.001 / max(1, float64(n))
		p := &problem{}
		got := p.pointTest(n)
		if want := (PointTest{0.001, geom.ChiSquareQuantile(alpha, 3), 0.999, geom.Noncentrality3(alpha, 0.999)}); got != want || p.pointTest(n) != want {
			t.Errorf("%d points: %+v, want %+v", n, got, want)
		}
		if p.pointTest(n+1) == got {
			t.Errorf("%d points: the same as of one more", n)
		}
	}
	near(t, "weight of a near split", nearWeight, math.Exp(-3), 1e-12)
	near(t, "BIC of an unlikely one", unlikelyBIC, 2*math.Log(1000), 1e-9)
	near(t, "one value at 0.1 %", criticalNormal, 3.2905, 1e-4) // tables
	near(t, "negligible", negligible, 0.001/20, 1e-18)
	near(t, "prior of a stretch", stretchPrior, 2*elem.Log(1000), 1e-12)
	near(t, "a bend shows", bendShows, 13.8155, 1e-4) // chi-square, 2 degrees of freedom: -2 ln 0.001
}

// The readings of a point are those of the set-ups that read it or measured from it, each once, in
// the order of the rows.
func TestReadingsOfAPoint(t *testing.T) {
	p, e := laid(alongX(4)...)
	p.setups = []setup{{id: "A"}, {id: "B"}, {id: "C"}}
	p.coords = append(p.coords, coord{setup: 1, point: 2}, coord{setup: 1, point: 2}, coord{setup: 0, point: 2})
	p.spans = []span{{setup: 2, from: 0, to: 2}, {setup: 1, from: 1, to: 3}, {setup: 2, from: 2, to: 3}}
	for pt, want := range [][]string{{"A", "C"}, {"A", "B"}, {"A", "B", "C"}, {"A", "B", "C"}} {
		if got := p.readingsOf(pt); !slices.Equal(got, want) {
			t.Errorf("point %d: %v, want %v", pt, got, want)
		}
	}
	part := &geom.Partition{Blocks: []geom.Block{{Set: geom.SetOf(0, 1)}, {Set: geom.SetOf(2, 3, 4)}, {Set: geom.SetOf(5, 6, 7)}}}
	for k, set := range []geom.Set{geom.SetOf(0, 1, 2), geom.SetOf(1, 2, 3), geom.SetOf(5, 6, 2)} {
		if got := nearestBlock(part, &set); got != k {
			t.Errorf("%v is nearest to block %d", set.Members(), got)
		}
	}
	none := geom.SetOf(60)
	if nearestBlock(part, &none) != 0 {
		t.Error("of none it is the first")
	}
	c := &candidate{moved: []bool{true, false, true, true}, place: []place{{seen: geom.Diag3(geom.Vec{4, 9, 1})}, {seen: geom.Isotropic(math.Inf(1))}}}
	set := geom.SetOf(0, 1, 3)
	if c.calledMoved(&set) != 2 {
		t.Errorf("%d are called moved", c.calledMoved(&set))
	}
	near(t, "detectable", c.detectable(0, 16), 12, 1e-12)
	if c.detectable(1, 16) != 0 {
		t.Error("what nothing controls shows")
	}
	_ = e
}

// The share of the spread in the variance of the steady points, and how much the rest controls one:
// the least direction of one covariance against the least of the other.
func TestSharesOfTheFrame(t *testing.T) {
	p, e := laid(alongX(4)...)
	p.std0 = []float64{0.3, 0.6, 9, 0}
	c := &candidate{steady: geom.SetOf(0, 1, 3), own: []geom.Mat3{geom.Diag3(geom.Vec{0.1, 0.2, 0.3}), geom.Isotropic(0.5), geom.Isotropic(7), geom.Isotropic(0.4)}}
	spread := 3 * (0.09 + 0.36)
	near(t, "share", p.spreadShare(e, c), spread/(spread+0.6+0.75+0.48), 1e-12)
	c.own[0] = geom.Isotropic(math.Inf(1))
	if p.spreadShare(e, c) != 0 || p.spreadShare(e, &candidate{}) != 0 {
		t.Error("of nothing known there is a share")
	}
	near(t, "control", control(geom.Diag3(geom.Vec{3, 0.5, 2}), geom.Diag3(geom.Vec{4, 2, 9})), 0.25, 1e-12)
	if control(geom.Isotropic(1), geom.Mat3{}) != 0 || control(geom.Isotropic(math.Inf(1)), geom.Isotropic(1)) != 0 {
		t.Error("what is nothing or infinite controls")
	}
	if got := atLeastZero(geom.Diag3(geom.Vec{1, 2, 3}), geom.Diag3(geom.Vec{2, 1, 3})).Diag(); got != (geom.Vec{2, 2, 3}) {
		t.Errorf("%v", got)
	}
}

// Set-ups of one stage, and what a copy of a row is called.
func TestCopiesByNameAndStage(t *testing.T) {
	p := &problem{in: Input{Setups: []job.Setup{{ID: "A"}, {ID: "B", Stage: "after"}, {ID: "C", Stage: "before"}}, Readings: []job.Reading{{Line: 3}, {Setup: "A", From: "P", To: "Q", Line: 9}, {Setup: "A", From: "P"}}}}
	if p.sameStage("A", "B") || !p.sameStage("A", "C") || !p.sameStage("A", "unlisted") || p.sameStage("B", "unlisted") {
		t.Error("the stages of set-ups")
	}
	p.tellCopy(0, 1)
	p.tellCopy(0, 2)
	p.tellCopy(2, 1)
	for k, want := range []string{"P-Q in set-up A (rows 3 and 9)", "P in set-up A", "P-Q in set-up A"} {
		if p.notes[k].Where != want {
			t.Errorf("%q, want %q", p.notes[k].Where, want)
		}
	}
}
