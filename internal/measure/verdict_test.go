package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// A steady point whose readings could not have shown that it moved never meets its limit: what would
// be met is undecided then. That a limit is not met, or open, stays; and it is judged once.
func TestWhatIsNotProvenMeetsNoLimit(t *testing.T) {
	for _, c := range []struct {
		off, std float64 // of a limit of 3 mm
		proven   bool
		want     Verdict
	}{
		{0, 0.1, true, Met}, {0, 0.1, false, Undecided}, {2.5, 0.1, true, Met}, {2.5, 0.1, false, Undecided},
		{9, 0.1, true, NotMet}, {9, 0.1, false, NotMet}, {0, 4, true, Undecided}, {0, 4, false, Undecided}, {2.95, 0.1, true, Undecided},
	} {
		p, e := laid(alongX(2)...)
		x := &candidate{proven: []bool{true, c.proven}, place: make([]place, 2), judged: make([]Conformance, 2), asked: make([]bool, 2)}
		x.place[1] = place{off: geom.Vec{c.off, 0, 0}, cov: geom.Isotropic(c.std)}
		got := p.verdict(e, x, 1)
		if got.Verdict != c.want || x.asked[0] || !x.asked[1] {
			t.Errorf("%+v: %+v", c, got)
		}
		x.proven[1], x.place[1].off = !c.proven, geom.Vec{20, 0, 0}
		if again := p.verdict(e, x, 1); again != got {
			t.Errorf("%+v: judged anew: %+v", c, again)
		}
	}
}

// A steady point is proven in a block of four or more, where enough of its shift would show; a point
// outside the block moved when its test says so, one of the block never.
func TestWhoMovedAndWhatIsProven(t *testing.T) {
	for _, c := range []struct {
		steady int
		std    float64 // of the last of the steady points alone, the others 0.5 mm
		proven bool
	}{{3, 0.5, false}, {4, 0.5, true}, {5, 0.5, true}, {5, 0, false}} {
		p, e := laid(alongX(7)...)
		x := &candidate{steady: geom.SetOf(fromTo(0, c.steady)...)}
		for i := range e.points {
			q := geom.Isotropic(0.5)
			if i == c.steady-1 {
				q = geom.Isotropic(c.std)
			}
			x.shift, x.cov, x.own = append(x.shift, geom.Vec{}), append(x.cov, q), append(x.own, geom.Isotropic(0.5))
			x.t2 = append(x.t2, p.pointTest(len(e.points)).MovedAboveT2+float64(i%2)*1e-9)
		}
		p.judge(e, x)
		for i := range e.points {
			steady := i < c.steady
			want := !steady || c.proven || c.steady > 3 && i != c.steady-1
			if x.proven[i] != want || x.moved[i] != (!steady && i%2 == 1) {
				t.Errorf("%+v: point %d proven %v, moved %v", c, i, x.proven[i], x.moved[i])
			}
		}
	}
}

// The unit of a set-up is seen from the median of measured over nominal distance between two readings
// of different points, its own alone, from three pairs on. Against every pair laid out.
func TestMedianRatioOfDistancesSeed9(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 2))
	for range 200 {
		p, _ := laid(alongX(4)...)
		p.setups = append(p.setups, setup{id: "S2"})
		p.coords = nil
		for range 2 + rng.IntN(6) {
			p.coords = append(p.coords, coord{setup: rng.IntN(2), point: rng.IntN(4), at: geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}})
		}
		for k := range 2 {
			var all []float64
			for i, a := range p.coords {
				for j, b := range p.coords {
					if i < j && a.setup == k && b.setup == k && a.point != b.point {
						all = append(all, a.at.Dist(b.at)/p.in.Points[a.point].At().Dist(p.in.Points[b.point].At()))
					}
				}
			}
			slices.Sort(all)
			want := 0.0
			if len(all) >= 3 {
				want = all[len(all)/2]
			}
			if got := p.medianRatio(k); math.Abs(got-want) > 1e-12 {
				t.Fatalf("%+v: %g, want %g of %v", p.coords, got, want, all)
			}
		}
	}
}

// A point that three lengths or heights lead to is located from three points that kept their places,
// where they say that its nominal place is; then it serves for the next. With two, over a height of a
// set-up that is not linked, or by a reading that goes elsewhere it is not.
func TestPointsThatLengthsReach(t *testing.T) {
	for _, c := range []struct {
		name  string
		known int // points, the others are reached or not
		spans [][2]int
		kind  job.ReadingKind
		off   bool // the set-up is not linked
		want  []int
	}{
		{"three lengths from three points", 3, [][2]int{{0, 3}, {3, 1}, {2, 3}}, job.ReadLength, false, []int{3}},
		{"two lengths", 3, [][2]int{{0, 3}, {3, 1}}, job.ReadLength, false, nil},
		{"a third elsewhere", 3, [][2]int{{0, 3}, {3, 1}, {2, 1}}, job.ReadLength, false, nil},
		{"a third between unknown ones", 3, [][2]int{{0, 3}, {3, 1}, {3, 4}}, job.ReadLength, false, nil},
		{"heights", 3, [][2]int{{0, 3}, {3, 1}, {2, 3}}, job.ReadHeight, false, []int{3}},
		{"heights of a set-up that is not linked", 3, [][2]int{{0, 3}, {3, 1}, {2, 3}}, job.ReadHeight, true, nil},
		{"lengths of a set-up that is not linked", 3, [][2]int{{0, 3}, {3, 1}, {2, 3}}, job.ReadLength, true, []int{3}},
		{"one over another", 3, [][2]int{{0, 3}, {3, 1}, {4, 0}, {4, 3}, {4, 5}, {5, 0}, {5, 1}, {5, 2}}, job.ReadLength, false, []int{5}},
		{"one after another", 3, [][2]int{{0, 3}, {3, 1}, {3, 4}, {4, 0}, {4, 1}, {2, 4}}, job.ReadLength, false, []int{3, 4}},
		{"from five", 5, [][2]int{{0, 5}, {4, 5}, {5, 3}}, job.ReadLength, false, []int{5}},
	} {
		p, e := laid(geom.Vec{0, 0, 0}, geom.Vec{3000, 0, 100}, geom.Vec{1000, 1200, 0}, geom.Vec{2000, 400, 700}, geom.Vec{500, 900, 300}, geom.Vec{1500, -300, 600})
		for len(e.points) > c.known {
			e.remove(len(e.points) - 1)
		}
		p.coords = p.coords[:c.known]
		for i := range e.at {
			e.at[i] = e.at[i].Add(geom.Vec{7, -5, 40}) // the frame of the device
		}
		e.linked[0] = !c.off
		for _, s := range c.spans {
			p.spans = append(p.spans, span{kind: c.kind, from: s[0], to: s[1], value: 500, std: 0.5})
		}
		p.locateRest(e)
		var got []int
		for i := c.known; i < 6; i++ {
			if e.has(i) {
				got = append(got, i)
				if d := e.at[e.slot[i]].Dist(p.in.Points[i].At().Add(geom.Vec{7, -5, 40})); d > 1e-6 {
					t.Errorf("%s: point %d is located %g mm off", c.name, i, d)
				}
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: located %v, want %v", c.name, got, c.want)
		}
	}
}

// Points without a usable place or listed twice are not located, and those without a manufacturing
// spread of their own are counted; a spread below nothing is none.
func TestPointsThatAreUsed(t *testing.T) {
	in := newCar(6, 9).measure(0.5)
	in.Points = slices.Clone(in.Points)
	for i, s := range []unit.Maybe[float64]{unit.Some(0.3), {}, unit.Some(-1.0), {}, unit.Some(math.Inf(1)), unit.Some(math.NaN())} {
		in.Points[i].Std = s
	}
	p := prepare(in)
	if p.unknown != 2 || !slices.Equal(p.std0, []float64{0.3, 0, 0, 0, 0, 0}) || len(p.notes) > 1 {
		t.Errorf("%d without a spread, %v, %+v", p.unknown, p.std0, p.notes)
	}
}

// A steady point to which one length leads, and no other reading, is tied to its nominal place by nothing
// but the hypothesis: its place is not known, it is neither moved nor proven to stand, meets no limit, and
// asks for coordinates. The same point with coordinates is within its limit.
func TestSteadyPointThatOneLengthReaches(t *testing.T) {
	for _, read := range []bool{false, true} {
		p, e := laid(geom.Vec{0, 0, 0}, geom.Vec{3000, 0, 100}, geom.Vec{1000, 1200, 0}, geom.Vec{2000, 400, 700}, geom.Vec{500, 900, 300}, geom.Vec{1500, -300, 600}, geom.Vec{800, 500, 900})
		for i := range p.std0 {
			p.std0[i] = 0.1
		}
		if !read {
			p.coords = p.coords[:6]
		}
		p.spans = []span{{kind: job.ReadLength, from: 6, to: 1, value: p.in.Points[6].At().Dist(p.in.Points[1].At()), std: 0.5}}
		x := &candidate{steady: geom.SetOf(fromTo(0, 7)...), fit: geom.CovFit{Fit: geom.Fit{Motion: geom.Still()}}}
		if !p.adjustJoint(e, x) {
			t.Fatal("no adjustment")
		}
		p.judge(e, x)
		for i := range e.points {
			known := i < 6 || read
			r := p.pointResult(e, x, e.points[i], i)
			if x.cov[i].Finite() != known || x.moved[i] || !x.steady.Has(i) || !known && (x.proven[i] || x.t2[i] != 0) {
				t.Errorf("coordinates %v, point %d: %v, proven %v", read, i, x.cov[i], x.proven[i])
			}
			if known != (r.Tolerance == Met) || known == (r.need.Kind == NeedsCoordinates) {
				t.Errorf("coordinates %v: %+v", read, r)
			}
		}
	}
}

// Of set-ups that share as many points with those put together so far the first is put in first: what it
// has read beside them stands where it says, and the next is fitted to that too. One that shares more goes
// before both. One that shares two is left out, by name; of one that read no coordinates nothing is said.
func TestFirstOfEqualSetupsIsPutInFirst(t *testing.T) {
	at := []geom.Vec{{0, 0, 0}, {3000, 0, 100}, {1000, 1200, 0}, {2000, 400, 700}, {500, 900, 300}, {1500, -300, 600}, {800, 500, 900}}
	for _, more := range []bool{false, true} {
		p, e := laid(at...)
		e.remove(6)
		p.setups = append(p.setups, setup{id: "S2"}, setup{id: "S3"}, setup{id: "S4"}, setup{id: "lengths"})
		e.linked, e.motion = []bool{true, false, false, false, false}, make([]geom.Rigid, 5)
		means := make([][]mean, 5)
		read := func(k int, by float64, points ...int) {
			for _, i := range points {
				q := at[i].Add(geom.Vec{10 * float64(k), 0, 0})
				if i == 6 {
					q[2] += by
				}
				means[k] = append(means[k], mean{point: i, at: q, cov: geom.Isotropic(0.5)})
			}
		}
		read(1, 2, 0, 1, 2, 6)
		read(2, 3, 3, 4, 5, 6)
		read(3, 0, 0, 5)
		want := 2.0
		if more {
			read(2, 3, 2)
			want = 3
		}
		p.link(e, means)
		if !slices.Equal(e.linked, []bool{true, true, true, false, false}) || len(p.notes) != 1 || p.notes[0].Code != "measure.setup-unlinked" || p.notes[0].Where != "set-up S4" {
			t.Fatalf("linked %v, %+v", e.linked, p.notes)
		}
		if d := e.at[e.slot[6]].Sub(at[6]); d.Dist(geom.Vec{0, 0, want}) > 1e-6 {
			t.Errorf("shares more %v: P07 stands off by %v, want %g mm", more, d, want)
		}
	}
}

// Changes between two stages are told when more than half of the points that were steady at both kept
// their places against one another; of the others each was carried elsewhere.
func TestChangesNeedMoreThanHalf(t *testing.T) {
	for _, c := range []struct {
		kept, of int
		told     bool
	}{{4, 9, false}, {4, 8, false}, {5, 9, true}, {5, 8, true}, {4, 7, true}} {
		p, e := laid(strewn(c.of)...)
		after := strewn(2 * c.of)
		at := slices.Concat(after[:c.kept], after[c.of+c.kept:])
		for i := range at {
			at[i] = at[i].Add(geom.Vec{7, -5, 40}) // the frame of the device
		}
		q, f := laid(at...)
		got := changesBetween(&located{p: p, e: e, body: geom.Still()}, &located{p: q, e: f, body: geom.Still()}, p.ids(fromTo(0, c.of)))
		if told := got.why == ""; told != c.told || told && len(got.of) != c.of {
			t.Errorf("%+v: %q, %d changes", c, got.why, len(got.of))
		}
		for i, id := range p.ids(fromTo(0, c.of)) {
			if x, ok := got.of[id]; c.told && (!ok || (x.t2 > criticalPoint) != (i >= c.kept)) {
				t.Errorf("%+v: point %d changed by %v", c, i, x.by)
			}
		}
	}
}
