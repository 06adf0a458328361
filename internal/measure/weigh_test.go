package measure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// laid is a problem with points at the places given and an epoch in which all of them have been
// located, one set-up, the vehicle axes rearward, right and up.
func laid(at ...geom.Vec) (*problem, *epoch) {
	p := &problem{index: map[body.PointID]int{}, conf: DefaultConfidence, std0: make([]float64, len(at)), setups: []setup{{id: "S1", factor: 1}}}
	e := &epoch{slot: make([]int, len(at)), linked: []bool{true}, motion: []geom.Rigid{geom.Still()}}
	for i, q := range at {
		id := body.PointID(fmt.Sprintf("P%02d", i+1))
		p.in.Points = append(p.in.Points, body.Point{ID: id, X: q[0], Y: q[1], Z: q[2], Tol: unit.Some(3.0), Std: unit.Some(0.0)})
		p.index[id] = i
		e.put(i, q, geom.Isotropic(0.5))
		p.coords = append(p.coords, coord{point: i, at: q, std: geom.Vec{0.5, 0.5, 0.5}})
	}
	return p, e
}

// alongX is so many places a metre apart along the vehicle.
func alongX(n int) (out []geom.Vec) {
	for i := range n {
		out = append(out, geom.Vec{1000 * float64(i), 600 * float64(1-2*(i%2)), 200})
	}
	return out
}

func holding(sets ...geom.Set) (out []*candidate) {
	for _, s := range sets {
		out = append(out, &candidate{steady: s})
	}
	return out
}

// How far a block carried a point: three standard deviations reach a limit, and the probability to
// be beyond it is that of a ball, by the non-central distribution; a point that went along with none
// went nowhere.
func TestRideOfAPoint(t *testing.T) {
	if (ride{}).went() || !(ride{std: 1e-9}).went() || (ride{}).beyond(0.1) != 0 || (ride{by: 5}).beyond(0.1) != 0 {
		t.Error("a point that went along with none went somewhere")
	}
	if !(ride{by: 1, std: 0.5}).reaches(2.499) || (ride{by: 1, std: 0.5}).reaches(2.5) {
		t.Error("1 mm and three times 0.5 reach 2.5 mm, and not beyond")
	}
	near(t, "beyond", ride{by: 2, std: 0.5}.beyond(3), 1-geom.NonCentralCDF3(6, 4), 1e-15)
	v := rival{&candidate{moved: []bool{true, false, false}}, 1, []ride{{}, {by: 4, std: 0.5}, {by: 1, std: 0.1}}}
	c := &candidate{moved: []bool{true, false, true}}
	for i, want := range []bool{false, true, true} {
		if got := v.contradicts(c, i, 3); got != want {
			t.Errorf("point %d: contradicts %v", i, got)
		}
	}
	if c.moved[1] = true; v.moved[1] || !v.contradicts(c, 1, 99) {
		t.Error("moved here and still there do not contradict")
	}
	if c.moved[1] = false; v.contradicts(c, 1, 5.5) {
		t.Error("4 mm and three times 0.5 reach 5.5 mm")
	}
}

// An explanation leaves a point in doubt by its weight: none up to a hundredth; one that is near the
// best when it is not sure of the motion or has the point in a block that moved, another when it has
// the point still, not surely so, or carried as far as shows.
func TestWhatLeavesAPointInDoubt(t *testing.T) {
	near, far := nearWeight*1.01, nearWeight*0.99
	if far <= doubtfulWeight {
		t.Fatal("nothing lies between")
	}
	off, on := criticalPoint+1, criticalPoint
	small, large, none := ride{by: 1, std: 0.1}, ride{by: 9, std: 0.1}, ride{}
	for _, x := range []struct {
		weight      float64
		called      bool // moved, by what is said
		moved, sure bool // by the other explanation
		t2          float64
		along       ride
		want        bool
	}{
		{doubtfulWeight, false, true, false, off, large, false},
		{far, true, false, false, off, none, true}, {far, true, true, false, off, none, false}, {far, true, true, true, off, none, false},
		{near, true, true, false, off, none, true}, {near, true, true, true, off, none, false}, {near, true, false, false, on, none, true},
		{far, false, false, false, on, none, false}, {far, false, false, false, off, none, true}, {far, false, true, true, off, none, false},
		{far, false, false, true, on, small, false}, {far, false, false, true, on, large, true}, {near, false, false, true, on, small, true}, {near, false, false, true, on, none, false},
	} {
		v := rival{&candidate{moved: []bool{x.moved}, sure: []bool{x.sure}, t2: []float64{x.t2}}, x.weight, []ride{x.along}}
		if got := v.leavesInDoubt(&candidate{moved: []bool{x.called}}, 0, 3); got != x.want {
			t.Errorf("%+v: in doubt %v", x, got)
		}
	}
}

// What was hit by the points nearest to the impact: most of them, or the half where a clear majority
// stood and three quarters of it lie in what was hit by the first split.
func TestWasHitByTheNearestPoints(t *testing.T) {
	for _, c := range []struct {
		held, of     int
		clear        bool
		common, size int
		want         bool
	}{
		{3, 4, false, 0, 9, true}, {2, 4, false, 9, 9, false}, {2, 4, true, 3, 4, true}, {2, 4, true, 2, 4, false}, {2, 4, true, 6, 8, true}, {2, 4, true, 5, 8, false}, {1, 4, true, 9, 9, false}, {2, 3, false, 0, 9, true},
	} {
		if got := wasHit(c.held, c.of, c.clear, c.common, c.size); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
	r := reachAway{near: 10, middle: 20, far: 30}
	for middle, want := range map[float64]bool{10: true, 30: true, 9.9: false, 30.1: false, 20: true} {
		if r.holds(reachAway{middle: middle}) != want {
			t.Errorf("%g lies in 10 to 30: %v", middle, !want)
		}
	}
	p, e := laid(alongX(10)...)
	p.in.Impact = "rear" // away is forward, against x
	set := geom.SetOf(2, 4, 9)
	got := p.reachAway(e, &set)
	near(t, "begins", got.near, -9000, 1e-9)
	near(t, "middle", got.middle, -5000, 1e-9)
	near(t, "ends", got.far, -2000, 1e-9)
	near(t, "length", p.lengthAlong(e, p.awayFromImpact()), 9000, 1e-9)
	near(t, "length aslant", p.lengthAlong(e, geom.Vec{0.6, 0.8, 0}), 5280-120, 1e-9) // of the ninth, 0.6 * 8000 + 0.8 * 600, and the second, 0.6 * 1000 - 0.8 * 600
	all, rear := geom.SetOf(0, 1, 2, 3, 4, 5, 6, 7, 8), geom.SetOf(8, 6, 5, 0)
	if held, of := p.hitPoints(e, &rear, &all); held != 3 || of != 4 { // the four nearest are 5 to 8
		t.Errorf("%d of %d", held, of)
	}
	few := geom.SetOf(1, 8)
	if held, of := p.hitPoints(e, &rear, &few); held != 1 || of != 2 {
		t.Errorf("of two points %d of %d", held, of)
	}
}

// The blocks that the impact hit: that whose centre is nearest, and those side by side with it; the
// others lie clearly further, 0.15 of the length, and none begins among them.
func TestBlocksThatTheImpactHit(t *testing.T) {
	p, e := laid(alongX(21)...) // 20 m long: clearly further is 3 m
	p.in.Impact = "front"
	for _, c := range []struct {
		name  string
		sets  []geom.Set
		hit   []int
		apart bool
	}{
		{"one", []geom.Set{geom.SetOf(0, 1, 2, 3)}, []int{0}, true},
		{"two ends", []geom.Set{geom.SetOf(10, 11, 12, 13), geom.SetOf(0, 1, 2, 3)}, []int{1}, true},
		{"two halves of an end", []geom.Set{geom.SetOf(0, 2, 4, 6), geom.SetOf(1, 3, 5, 7), geom.SetOf(12, 13, 14, 15)}, []int{0, 1}, true},
		{"two of which one lies behind the other", []geom.Set{geom.SetOf(0, 1, 2), geom.SetOf(3, 4, 5)}, []int{0}, true}, // 3 m further
		{"just nearer", []geom.Set{geom.SetOf(0, 1, 2, 3), geom.SetOf(3, 4)}, []int{0}, false},                           // 2 m, and beyond its reach
		{"a third whose middle lies among two", []geom.Set{geom.SetOf(0, 2, 4, 6, 8), geom.SetOf(1, 3, 5, 7), geom.SetOf(7, 8)}, []int{0, 1}, false},
		{"a second whose middle lies in the first", []geom.Set{geom.SetOf(0, 2, 4, 6, 8), geom.SetOf(7, 8)}, []int{0}, true},
	} {
		hit := p.hitBlocks(e, c.sets)
		if slices.Sort(hit); !slices.Equal(hit, c.hit) || p.apartFromHit(e, c.sets, hit) != c.apart {
			t.Errorf("%s: hit %v, apart %v; want %v and %v", c.name, hit, p.apartFromHit(e, c.sets, hit), c.hit, c.apart)
		}
	}
	if p.hitBlocks(e, nil) != nil {
		t.Error("of none one was hit")
	}
}

// What the impact leaves of two blocks: the one away from it, when it is half as large as the
// largest at least. Two blocks hit side by side count beside one that holds most of all points alone.
func TestWhatTheImpactLeaves(t *testing.T) {
	for _, c := range []struct {
		name           string
		impact         string
		sets           []geom.Set
		left, excluded []int
		alone          int
	}{
		{"the rear", "front", []geom.Set{geom.SetOf(0, 1, 2, 3, 4, 5, 6, 7), geom.SetOf(14, 15, 16, 17, 18)}, []int{1}, []int{0}, 1},
		{"the front", "rear", []geom.Set{geom.SetOf(0, 1, 2, 3, 4, 5, 6, 7), geom.SetOf(14, 15, 16, 17, 18)}, []int{0}, []int{1}, 0},
		{"too few", "front", []geom.Set{geom.SetOf(0, 1, 2, 3, 4, 5, 6, 7, 8, 9), geom.SetOf(16, 17, 18, 19)}, nil, nil, -1},
		{"just enough", "front", []geom.Set{geom.SetOf(0, 1, 2, 3, 4, 5, 6, 7), geom.SetOf(16, 17, 18, 19)}, []int{1}, []int{0}, 1},
		{"unknown", "unknown", []geom.Set{geom.SetOf(0, 1, 2, 3), geom.SetOf(14, 15, 16, 17)}, nil, nil, -1},
		{"beside it", "left", []geom.Set{geom.SetOf(0, 1, 2, 3), geom.SetOf(14, 15, 16, 17)}, nil, nil, -1},
		{"two of three, the larger first", "front", []geom.Set{geom.SetOf(0, 1, 2, 3), geom.SetOf(9, 10, 11, 12), geom.SetOf(15, 16, 17, 18, 19)}, []int{2, 1}, []int{0}, -1},
		{"two halves beside most", "front", []geom.Set{geom.SetOf(0, 2, 4, 6), geom.SetOf(1, 3, 5, 7), geom.SetOf(8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18)}, []int{2}, []int{0, 1}, 2},
		{"two halves beside fewer", "front", []geom.Set{geom.SetOf(0, 2, 4, 6), geom.SetOf(1, 3, 5, 7), geom.SetOf(9, 10, 11, 12, 13, 14, 15, 16, 17, 18)}, nil, nil, -1},
	} {
		p, e := laid(alongX(21)...)
		p.in.Impact = job.ImpactSide(c.impact)
		cs := holding(c.sets...)
		ch := choice{impact: -1, majority: majorityOf(cs)}
		left := p.leftByImpact(e, cs, &ch)
		if slices.Sort(ch.excluded); !slices.Equal(left, c.left) || !slices.Equal(ch.excluded, c.excluded) || ch.impact != c.alone {
			t.Errorf("%s: left %v, excluded %v, alone %d; want %v, %v, %d", c.name, left, ch.excluded, ch.impact, c.left, c.excluded, c.alone)
		}
	}
}

// The order of evidence: references, then the impact, then the majority; who survives beside the
// first.
func TestWhoSurvivesBesideTheFirst(t *testing.T) {
	for _, c := range []struct {
		reference, majority int
		excluded            []int
		want                bool // of candidate 1 beside candidate 0
	}{
		{-1, 0, nil, true}, {0, 0, nil, false}, {-1, 0, []int{1}, false}, {-1, 1, []int{1}, true}, {0, 1, nil, true},
		{0, 0, []int{0}, true}, {0, 0, []int{1}, false}, {0, 0, []int{0, 1}, true}, {1, 0, []int{1}, true}, {-1, 0, []int{0}, true},
	} {
		ch := choice{reference: c.reference, majority: c.majority, excluded: c.excluded}
		if got := (&problem{}).survives(&ch, 0, 1); got != c.want {
			t.Errorf("%+v: survives %v", c, got)
		}
	}
	cs := []*candidate{{bic: 10}, {bic: 10 + rivalBIC - 0.01}, {bic: 10 + rivalBIC}, {bic: 10, gain: -unlikelyBIC - 0.01}, {bic: 10, gain: -unlikelyBIC}}
	for i, want := range []bool{false, false, true, true, false} {
		if chance(cs, 0, i) != want {
			t.Errorf("candidate %d: chance %v", i, !want)
		}
	}
	sized := []*candidate{{steady: geom.SetOf(1, 2, 3), score: 5}, {steady: geom.SetOf(1, 2, 3, 4), score: 9}, {steady: geom.SetOf(5, 6, 7, 8), score: 8}}
	if !better(sized[1], sized[0]) || !better(sized[2], sized[1]) || better(sized[1], sized[2]) || better(sized[0], sized[0]) || majorityOf(sized) != 2 {
		t.Error("more points are better, of as many the lower score")
	}
	for _, c := range []struct {
		set  geom.Set
		want bool
	}{{geom.SetOf(1, 2, 9), false}, {geom.SetOf(1, 2, 9, 10), true}, {geom.SetOf(1, 2, 3, 9, 10, 11), false}, {geom.SetOf(1, 2, 3, 9, 10, 11, 12), true}, {geom.SetOf(1, 2), false}, {geom.SetOf(1, 20), true}} {
		if got := distinct(&c.set, holding(geom.SetOf(30, 31), geom.SetOf(1, 2, 3))); got != c.want {
			t.Errorf("%v is distinct: %v", c.set.Members(), got)
		}
	}
}

// The block that the nominated reference points choose holds three of them and more than half of
// those measured; those that disagree are named.
func TestWhatReferencesChoose(t *testing.T) {
	sets := []geom.Set{geom.SetOf(0, 1, 2, 3, 4, 5, 6), geom.SetOf(10, 11, 12, 13)}
	for _, c := range []struct {
		refs []int
		want int
		note string
	}{
		{nil, -1, ""}, {[]int{0, 1, 2}, 0, ""}, {[]int{10, 11, 12}, 1, ""}, {[]int{0, 1}, -1, "of 2 nominated reference points 2 were measured and at most 2 of them"},
		{[]int{0, 1, 2, 10, 11, 12}, -1, "at most 3 of them"}, {[]int{0, 1, 2, 10, 11}, 0, "P11, P12 does not agree with P01, P02, P03"}, {[]int{0, 1, 2, 20, 15, 16}, -1, "of 6 nominated reference points 5 were measured and at most 3"},
		{[]int{0, 1, 2, 20, 15}, 0, "P16 does not agree"}, // P21 was not measured
	} {
		p, e := laid(alongX(21)...)
		e.slot[20] = -1
		e.points, e.at, e.cov = e.points[:20], e.at[:20], e.cov[:20]
		if len(c.refs) == 6 && c.refs[3] == 20 {
			c.want, c.note = 0, "P16, P17 does not agree" // three of five
		}
		for _, i := range c.refs {
			p.in.Points[i].Reference = true
		}
		got, text := p.chosenByReferences(e, holding(sets...))
		said := ""
		for _, n := range p.notes {
			said += n.Text
		}
		if got != c.want || !strings.Contains(said, c.note) || (said == "") != (c.note == "") || (text == "") != (got < 0) {
			t.Errorf("references %v: %d, %q, noted %q; want %d, %q", c.refs, got, text, said, c.want, c.note)
		}
	}
}

// Which of two groups of points that changed against one another was left alone: the one with more
// than half of three reference points, else the one with most points that were steady at both
// stages, when no other has more than half as many.
func TestWhichGroupWasLeftAlone(t *testing.T) {
	blocks := []geom.Block{{Set: geom.SetOf(0, 1, 2, 3, 4, 5)}, {Set: geom.SetOf(6, 7, 8, 9)}, {Set: geom.SetOf(10, 11)}}
	for _, c := range []struct {
		steady, refs geom.Set
		best         int
		decided      bool
	}{
		{geom.SetOf(0, 1, 2, 3), geom.Set{}, 0, true}, {geom.SetOf(6, 7, 8, 0), geom.Set{}, 1, true}, {geom.SetOf(0, 1, 2, 3, 6, 7), geom.Set{}, 0, true}, {geom.SetOf(0, 1, 2, 6, 7), geom.Set{}, 0, false},
		{geom.SetOf(0, 1, 6, 7, 8, 9), geom.Set{}, 1, true}, {geom.SetOf(0, 6, 7, 10, 11), geom.Set{}, 1, false}, {geom.Set{}, geom.Set{}, 0, false},
		{geom.SetOf(0, 1, 2, 3), geom.SetOf(6, 7, 8), 1, true}, {geom.SetOf(0, 1, 2, 3), geom.SetOf(6, 7), 0, true}, {geom.SetOf(0, 1, 2, 3), geom.SetOf(6, 7, 0, 1), 0, true}, {geom.SetOf(0, 1, 2, 3), geom.SetOf(6, 7, 8, 0, 1), 1, true},
	} {
		w := &pair{steady: c.steady, refs: c.refs}
		if best, decided := w.choose(blocks); decided != c.decided || decided && best != c.best {
			t.Errorf("steady %v, references %v: %d, %v; want %d, %v", c.steady.Members(), c.refs.Members(), best, decided, c.best, c.decided)
		}
	}
	for _, c := range []struct {
		same, of int
		want     bool
	}{{3, 5, true}, {3, 6, false}, {2, 2, false}, {4, 7, true}, {4, 8, false}, {0, 0, false}} {
		if mostlyCopied(c.same, c.of) != c.want {
			t.Errorf("%d of %d rows are a copy: %v", c.same, c.of, !c.want)
		}
	}
	point := func(x float64) coord { return coord{at: geom.Vec{x, 0, 0}} }
	stage := func(x ...float64) *problem {
		p := &problem{in: Input{Points: []body.Point{{ID: "A"}}}}
		for _, v := range x {
			p.coords = append(p.coords, point(v))
		}
		return p
	}
	if !copied(stage(1, 2, 3, 4), stage(1, 2, 3, 9, 8)) || copied(stage(1, 2, 3, 4), stage(1, 2, 9, 8)) || copied(stage(1, 2, 3), stage(1, 2, 3, 7, 8, 9)) {
		t.Error("three rows and most of them make a copy")
	}
	other := stage(1, 2, 3)
	other.in.Points[0].ID = "B"
	if copied(stage(1, 2, 3), other) {
		t.Error("rows of another point are a copy")
	}
}

// What a row may be compared by: three coordinates, or a value; no number is none.
func TestRowsWithFigures(t *testing.T) {
	whole := xyz("S", "A", geom.Vec{1, 2, 3}, 0.1)
	length := spanReading("S", "length", "A", "B", 5, 0.1)
	if !hasFigures(&whole) || !hasFigures(&length) {
		t.Error("a whole row has none")
	}
	nan := unit.Some(math.NaN())
	for name, change := range map[string]func(r *job.Reading){
		"x": func(r *job.Reading) { r.X.Known = false }, "y": func(r *job.Reading) { r.Y.Known = false }, "z": func(r *job.Reading) { r.Z.Known = false },
		"no x": func(r *job.Reading) { r.X = nan }, "no y": func(r *job.Reading) { r.Y = nan }, "no z": func(r *job.Reading) { r.Z = nan },
	} {
		for _, kind := range []job.ReadingKind{job.ReadXYZ, job.ReadRim} {
			r := whole
			r.Kind = kind
			if change(&r); hasFigures(&r) {
				t.Errorf("%s row without %s", kind, name)
			}
		}
	}
	length.Value = nan
	if hasFigures(&length) {
		t.Error("a length of no number")
	}
	if length.Value = (unit.Maybe[float64]{}); hasFigures(&length) {
		t.Error("a length of nothing")
	}
}
