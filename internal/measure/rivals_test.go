package measure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// The motions a point may have made beside a slip: none, that of each group, and the middle one of the
// three nearest that moved, with their spread.
func TestMotionsAPointMayHaveMade(t *testing.T) {
	p, e, steady, rear := twoEnds(geom.Rigid{R: geom.Identity3(), T: geom.Vec{0, 7, 1}})
	c := &candidate{steady: steady, fit: fitted(t, p, e, steady), moved: make([]bool, 10), cov: make([]geom.Mat3, 10), shift: make([]geom.Vec, 10)}
	g := group{set: rear, fit: fitted(t, p, e, rear)}
	for i := range e.at {
		c.shift[i], c.cov[i] = c.fit.Shift(p.in.Points[i].At(), e.at[i], geom.Mat3{}, e.cov[i], steady.Has(i))
	}
	got := p.followed(e, c, 3)
	if len(got) != 1 || got[0].by != (geom.Vec{}) || got[0].std != stds(c.cov[3]) {
		t.Errorf("alone: %+v", got)
	}
	c.groups = []group{g}
	got = p.followed(e, c, 3)
	if len(got) != 2 {
		t.Fatalf("beside a group: %+v", got)
	}
	// at the place of the point the group moved by (0, 7, 1): without errors the shift less that against the group
	near(t, "with the group", got[1].by.Dist(geom.Vec{0, 7, 1}), 0, 1e-6)
	_, cov := g.fit.Shift(p.in.Points[3].At(), e.at[3], geom.Mat3{}, e.cov[3], false)
	near(t, "how surely", got[1].std.Dist(stds(cov)), 0, 1e-12)
	c.moved[1], c.moved[5] = true, true
	if got = p.followed(e, c, 3); len(got) != 2 {
		t.Errorf("two moved: %+v", got)
	}
	c.moved[0], c.moved[9], c.moved[3] = true, true, true
	c.shift[1], c.shift[5], c.shift[0], c.shift[9] = geom.Vec{1, 5, 9}, geom.Vec{3, 2, 8}, geom.Vec{2, 9, 4}, geom.Vec{99, 99, 99}
	got = p.followed(e, c, 3)
	own := stds(c.cov[3])
	if len(got) != 3 || got[2].by != (geom.Vec{2, 5, 8}) {
		t.Fatalf("four moved: %+v", got)
	}
	for a, spread := range []float64{2, 7, 5} {
		near(t, "spread", got[2].std[a], math.Hypot(own[a], spread), 1e-9)
	}
	c.cov[1] = geom.Isotropic(math.Inf(1)) // then the far one is the third
	if got = p.followed(e, c, 3); got[2].by != (geom.Vec{3, 9, 8}) {
		t.Errorf("without one of them: %+v", got)
	}
	if p.followed(e, c, 1) != nil {
		t.Error("a point that nothing controls may have moved")
	}
	if f := c.fits(); len(f) != 2 || f[0] != &c.fit || f[1] != &c.groups[0].fit {
		t.Errorf("%v", f)
	}
}

// The blocks of another split that the impact excludes: those that hold most of the points nearest to
// it, or half of them where a clear majority stood by the first split and three quarters lie in what was hit there.
func TestBlocksOfAnotherSplitThatWereHit(t *testing.T) {
	p, e := laid(alongX(21)...)
	p.in.Impact = "front"
	part := func(sets ...geom.Set) *geom.Partition {
		out := &geom.Partition{}
		for _, s := range sets {
			out.Blocks = append(out.Blocks, geom.Block{Set: s})
		}
		return out
	}
	front, rear := geom.SetOf(0, 1, 2, 3, 4, 5), geom.SetOf(8, 9, 10, 11, 12, 13, 14, 15, 16)
	cs := holding(rear, front)
	hit := &choice{order: []int{0, 1}, excluded: []int{1}}
	for _, c := range []struct {
		name string
		ch   *choice
		part *geom.Partition
		want []int
	}{
		{"the same", hit, part(rear, front), []int{1}},
		{"none excluded", &choice{order: []int{0, 1}}, part(rear, front), nil},
		{"one block", hit, part(front), nil},
		{"another took half of the nearest", hit, part(geom.SetOf(0, 1, 9, 10, 11, 12, 13), geom.SetOf(2, 3, 4, 5)), []int{1}},
		{"another took more", hit, part(geom.SetOf(0, 1, 2, 9, 10, 11, 12, 13), geom.SetOf(3, 4, 5)), nil},
	} {
		if got := p.hitOf(e, c.ch, cs, c.part); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	// five stood of which four were hit is a clear majority, and fewer are none
	for n, want := range map[int][]int{8: {1}, 7: nil} {
		all := []int{8, 9, 10, 11, 12, 13, 14, 15}
		cs := holding(geom.SetOf(all[:n]...), front)
		if got := p.hitOf(e, hit, cs, part(geom.SetOf(0, 1, 9, 10, 11, 12, 13), geom.SetOf(2, 3, 4, 5))); !slices.Equal(got, want) {
			t.Errorf("%d stood beside 6: %v, want %v", n, got, want)
		}
	}
}

// Explanations beside the first: what survives, and of every other split whose weight counts the block
// nearest to it; of others those that neither references nor impact speak against and that are no
// chance.
func TestRivalsOfAHypothesis(t *testing.T) {
	p, e, steady, rear := twoEnds(geom.Rigid{R: geom.Identity3(), T: geom.Vec{0, 9, 0}})
	e.simple = true
	x, err := geom.NewMatcher(p.matches(e))
	if err != nil {
		t.Fatal(err)
	}
	part := func(bic, gain float64, sets ...geom.Set) geom.Partition {
		out := geom.Partition{BIC: bic}
		for _, s := range sets {
			b, err := x.Evaluate(s)
			if err != nil {
				t.Fatal(err)
			}
			b.Gain = gain
			out.Blocks = append(out.Blocks, b)
		}
		return out
	}
	five := geom.SetOf(0, 1, 2, 3, 4)
	first := part(100, 50, steady, rear)
	behind := -2 * math.Log(negligible)
	c, ok := p.examine(e, x, &first, 0)
	d, okToo := p.examine(e, x, &first, 1)
	if !ok || !okToo {
		t.Fatal("no candidates")
	}
	for _, k := range []struct {
		name      string
		near      []geom.Partition
		reference int
		survives  bool
		impact    string
		excluded  []int
		want      []float64 // weights
	}{
		{"the first alone", []geom.Partition{first}, none, false, "", nil, []float64{1}},
		{"both", []geom.Partition{first}, none, true, "", nil, []float64{1, 1}},
		{"another split", []geom.Partition{first, part(104, 50, five, rear)}, none, false, "", nil, []float64{1, math.Exp(-2), math.Exp(-2)}},
		{"with references", []geom.Partition{first, part(104, 50, five, rear)}, 0, false, "", nil, []float64{1, math.Exp(-2)}},
		{"by chance", []geom.Partition{first, part(104, -unlikelyBIC-0.1, five, rear)}, none, false, "", nil, []float64{1, math.Exp(-2)}},
		{"hardly by chance", []geom.Partition{first, part(104, -unlikelyBIC+0.1, five, rear)}, none, false, "", nil, []float64{1, math.Exp(-2), math.Exp(-2)}},
		{"hit", []geom.Partition{first, part(104, 50, five, rear)}, none, false, "rear", []int{1}, []float64{1, math.Exp(-2)}},
		{"negligible", []geom.Partition{first, part(100+behind+0.01, 50, five, rear), part(100+behind-0.01, 50, five)}, none, false, "", nil, []float64{1, math.Exp(-(behind - 0.01) / 2)}},
		{"beside the second", []geom.Partition{first, part(104, 50, five, rear)}, none, true, "", nil, []float64{1, math.Exp(-2), math.Exp(-2), 1, math.Exp(-2)}},
	} {
		p.in.Impact = job.ImpactSide(k.impact)
		ch := &choice{order: []int{0, 1}, reference: k.reference, excluded: k.excluded}
		r := &Result{Hypotheses: []Hypothesis{{Survives: true}, {Survives: k.survives}}}
		got := p.rivals(e, x, []*candidate{c, d}, ch, k.near, r)
		var weights []float64
		for _, v := range got {
			weights = append(weights, v.weight)
		}
		if !slices.EqualFunc(weights, k.want, func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }) {
			t.Errorf("%s: weights %v, want %v", k.name, weights, k.want)
		}
		if len(got[0].along) != 10 || got[0].along[7].went() == false || got[0].along[2].went() {
			t.Errorf("%s: %+v", k.name, got[0].along)
		}
		near(t, "carried", got[0].along[7].by, 9, 1e-6)
		at := p.in.Points[7].At()
		near(t, "how surely", got[0].along[7].std, math.Sqrt(largestVariance(c.fit.PredictCov(at).Add(c.groups[0].fit.PredictCov(at)))), 1e-12)
	}
}

// A point is firm when nothing says otherwise: it did not move alone, or a stretch of the whole is too
// unlikely to have made it seem so; its place is known, and the others could have shown that it moved.
func TestWhatMakesAPointFirm(t *testing.T) {
	p, e, steady, rear := twoEnds(geom.Rigid{R: geom.Identity3(), T: geom.Vec{0, 40, 9}})
	e.simple, p.in.Impact = true, "rear"
	x, err := geom.NewMatcher(p.matches(e))
	if err != nil {
		t.Fatal(err)
	}
	part := geom.Partition{BIC: 100}
	for _, s := range []geom.Set{steady, rear} {
		b, err := x.Evaluate(s)
		if err != nil {
			t.Fatal(err)
		}
		b.Gain = 90
		part.Blocks = append(part.Blocks, b)
	}
	for _, k := range []struct {
		name   string
		change func(c *candidate)
		weight float64 // of a stretch
		firm   []int
	}{
		{"as it is", func(*candidate) {}, 0, []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}},
		{"a stretch", func(*candidate) {}, unlikely, []int{0, 1, 2, 3, 4, 5}},
		{"a stretch too unlikely", func(*candidate) {}, unlikely * 0.99, []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}},
		{"not proven", func(c *candidate) { c.proven[2] = false }, 0, []int{0, 1, 3, 4, 5, 6, 7, 8, 9}},
		{"nowhere", func(c *candidate) { c.cov[4] = geom.Isotropic(math.Inf(1)) }, 0, []int{0, 1, 2, 3, 5, 6, 7, 8, 9}},
		{"went along, and not called moved", func(c *candidate) { c.moved[7] = false }, 0, []int{0, 1, 2, 3, 4, 5, 6, 8, 9}},
		{"alone", func(c *candidate) { c.groups[0].gain = 0 }, 0, []int{0, 1, 2, 3, 4, 5}},
	} {
		c, ok := p.examine(e, x, &part, 0)
		if !ok {
			t.Fatal("no candidate")
		}
		for i := range c.proven { // six steady points with one reading each prove little by themselves
			c.proven[i] = true
		}
		ch := &choice{order: []int{0}, survives: []bool{true}, datum: []Datum{ByReference}, reference: 0}
		r := &Result{Hypotheses: []Hypothesis{p.hypothesis(e, x, c)}}
		r.Hypotheses[0].Survives = true
		for i := range r.Hypotheses[0].Points {
			r.Hypotheses[0].Points[i].Detectable = 20
		}
		k.change(c)
		p.firm(e, x, []*candidate{c}, ch, []geom.Partition{part}, k.weight, r)
		var firm []int
		for i, pt := range r.Hypotheses[0].Points {
			if pt.Firm {
				firm = append(firm, i)
			}
		}
		if !slices.Equal(firm, k.firm) {
			t.Errorf("%s: firm are %v, want %v", k.name, firm, k.firm)
		}
	}
}

// Rows that stand twice in a set-up count once; a set-up of which three rows or more and most stand in
// an earlier one of its stage is a copy, whichever kind of coordinates it has, and lengths do not count.
func TestCopiedSetups(t *testing.T) {
	base := newCar(8, 13).measure(0.5)
	for _, k := range []struct {
		name    string
		copied  int // of the rows of the first set-up
		own     int
		stage   job.Stage
		lengths int
		want    int // readings that are taken
		code    string
	}{
		{"three of five", 3, 2, "", 0, 10, "setup-copied"}, {"three of six", 3, 3, "", 0, 14, ""}, {"two of two", 2, 0, "", 0, 10, ""}, {"three of five, and lengths", 3, 2, "", 4, 14, "setup-copied"}, {"of another stage", 3, 2, "after", 0, 8, ""},
	} {
		in := base
		in.Readings = slices.Clone(base.Readings)
		in.Setups = []job.Setup{{ID: "S1"}, {ID: "S2", Stage: k.stage}}
		for i := range k.copied {
			r := base.Readings[i]
			r.Setup = "S2"
			in.Readings = append(in.Readings, r)
		}
		for i := range k.own {
			r := base.Readings[7-i]
			r.Setup = "S2"
			r.X.Value++
			in.Readings = append(in.Readings, r)
		}
		for i := range k.lengths {
			in.Readings = append(in.Readings, spanReading("S2", "length", in.Points[i].ID, in.Points[7].ID, 500+float64(i), 0.5))
		}
		p := prepare(in)
		code, text := "", ""
		for _, n := range p.notes {
			if strings.Contains(n.Code, "copied") || strings.Contains(n.Code, "repeated") {
				code, text = strings.TrimPrefix(n.Code, "measure."), n.Text
			}
		}
		if len(p.coords)+len(p.spans) != k.want || code != k.code || code != "" && text != "3 of the 5 coordinate rows of set-up S2 are those of set-up S1 to the last digit; they count once" {
			t.Errorf("%s: %d readings, want %d; %q, %q", k.name, len(p.coords)+len(p.spans), k.want, code, text)
		}
	}
	in := base
	in.Readings = append(slices.Clone(base.Readings), base.Readings[2], base.Readings[2])
	if p := prepare(in); len(p.coords) != 8 || len(p.notes) < 2 || p.notes[0].Code != "measure.reading-repeated" || p.notes[0].Where != "P03 in set-up S1" {
		t.Errorf("%d readings, %+v", len(p.coords), p.notes)
	}
	in.Readings[8].Y.Value += 1e-9
	if p := prepare(in); len(p.coords) != 9 {
		t.Errorf("a digit apart: %d readings", len(p.coords))
	}
}

// The section of a group is that which most of its points belong to, the first of the body of as many,
// and the point it is reported about the one that is named, else the middle of the group.
func TestSectionOfAGroup(t *testing.T) {
	p, e := laid(alongX(8)...)
	p.in.Sections = []body.Section{{ID: "a"}, {ID: "b", About: geom.Vec{1, 2, 3}}, {ID: "c"}}
	for i, s := range []body.SectionID{"a", "a", "b", "b", "c", "", "", "z"} {
		p.in.Points[i].Section = s
	}
	mid := geom.Vec{9, 8, 7}
	for _, c := range []struct {
		set   geom.Set
		want  body.SectionID
		about geom.Vec
	}{
		{geom.SetOf(0, 1, 2), "a", mid}, {geom.SetOf(0, 2, 3), "b", geom.Vec{1, 2, 3}}, {geom.SetOf(0, 1, 2, 3), "a", mid}, {geom.SetOf(4, 5, 6), "c", mid}, {geom.SetOf(5, 6), "", mid}, {geom.SetOf(2, 4), "b", geom.Vec{1, 2, 3}}, {geom.SetOf(7), "", mid},
	} {
		id, about := p.sectionOf(e, &group{set: c.set, fit: geom.CovFit{Fit: geom.Fit{Centroid: mid}}})
		if id != c.want || about != c.about {
			t.Errorf("%v: %q about %v, want %q about %v", c.set.Members(), id, about, c.want, c.about)
		}
	}
	set := geom.SetOf(6, 1, 4)
	e.slot[4] = none
	if got := p.sorted(e, &set); !slices.Equal(got, []body.PointID{"P02", "P07"}) {
		t.Errorf("%v", got)
	}
}
