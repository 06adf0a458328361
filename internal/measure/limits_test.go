package measure

import (
	"encoding/json"
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

// What is no number, or has no uncertainty that could be one, meets no limit and misses none; an
// exact value does at the limit too.
func TestValuesThatAreNone(t *testing.T) {
	nan, none := math.NaN(), Conformance{}
	for _, c := range []struct{ value, std float64 }{{nan, 1}, {inf, 1}, {-inf, 1}, {1, nan}, {1, inf}, {1, -1}, {1, -inf}, {1, -0.25}} {
		for _, got := range []Conformance{AtMost(c.value, c.std, 2, 0.95), AtLeast(c.value, c.std, 0, 0.95), Between(c.value, c.std, -1, 1, 0.95)} {
			got.Limit = ""
			if got != none {
				t.Errorf("%+v: %+v", c, got)
			}
		}
	}
	for _, c := range []struct {
		got  Conformance
		want Verdict
		p    float64
	}{
		{AtMost(2, 0, 2, 0.95), Met, 1}, {AtMost(2.5, 0, 2, 0.95), NotMet, 0}, {AtLeast(2, 0, 2, 0.95), Met, 1}, {AtLeast(1.5, 0, 2, 0.95), NotMet, 0},
		{Between(1, 0, 1, 3, 0.95), Met, 1}, {Between(3, 0, 1, 3, 0.95), Met, 1}, {Between(2, 0, 2, 2, 0.95), Met, 1}, {Between(0.5, 0, 1, 3, 0.95), NotMet, 0}, {Between(3.5, 0, 1, 3, 0.95), NotMet, 0},
		{AtMost(2, 0.25, 2, 0.95), Undecided, 0.5}, {AtMost(2, 1, nan, 0.95), Undecided, 0}, {Between(2, 1, 3, 1, 0.95), Undecided, 0},
	} {
		if c.got.Verdict != c.want || c.got.Probability != c.p {
			t.Errorf("%+v, want %v with %v", c.got, c.want, c.p)
		}
	}
}

// How far the steady block reaches goes by the axis along which all points reach farthest, the first
// of equals, wherever they lie.
func TestReachOfTheSteadyBlock(t *testing.T) {
	for _, c := range []struct {
		at     []geom.Vec
		steady geom.Set
		want   float64
	}{
		{[]geom.Vec{{0, 0, 0}, {8, 0, 0}, {2, 1, 0}}, geom.SetOf(0, 2), 0.25},
		{[]geom.Vec{{100, 0, 0}, {108, 0, 0}, {102, 1, 0}}, geom.SetOf(0, 2), 0.25},
		{[]geom.Vec{{-108, 0, 0}, {-100, 0, 0}, {-106, 1, 0}}, geom.SetOf(0, 2), 0.25},
		{[]geom.Vec{{0, 50, 0}, {1, 58, 0}, {0, 56, 0}}, geom.SetOf(1, 2), 0.25},
		{[]geom.Vec{{0, 0, 50}, {1, 0, 58}, {0, 0, 56}}, geom.SetOf(1, 2), 0.25},
		{[]geom.Vec{{0, 0, 0}, {8, 8, 8}, {2, 4, 6}}, geom.SetOf(0, 2), 0.25},
		{[]geom.Vec{{0, 0, 0}, {0, 8, 8}, {0, 4, 6}}, geom.SetOf(0, 2), 0.5},
		{[]geom.Vec{{0, 0, 0}, {0.5, 0, 0}, {0.25, 0, 0}}, geom.SetOf(0, 2), 0.5},
		{[]geom.Vec{{0, 0, 0}, {8, 0, 0}}, geom.Set{}, 0},
		{[]geom.Vec{{3, 3, 3}, {3, 3, 3}}, geom.SetOf(0, 1), 0},
	} {
		p, e := laid(c.at...)
		if got := p.span(e, &candidate{steady: c.steady}); got != c.want {
			t.Errorf("%v of %v: %v, want %v", c.steady.Members(), c.at, got, c.want)
		}
	}
}

// A place that is exact along an axis is given a trifle of uncertainty, a millionth of its own as a
// standard deviation, at least of a millimetre; one that is not stays as it is.
func TestExactPlacesGetATrifle(t *testing.T) {
	p, e := laid(geom.Vec{}, geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, 0, 1}, geom.Vec{5, 0, 0}, geom.Vec{6, 0, 0})
	for i, c := range []geom.Vec{{0, 0, 0}, {0, 1, 1}, {1, 0, 1}, {1, 1, 0}, {100, 0, 300}, {1, 1, 1}} {
		e.cov[i] = geom.Diag3(c)
	}
	m := p.matches(e)
	for i, trifle := range []float64{1e-12, 2e-12, 2e-12, 2e-12, 400e-12, 0} {
		for k := range 3 {
			near(t, "variance", m.CovTo[i][k][k]-e.cov[i][k][k], trifle, 0.001*trifle+1e-15*e.cov[i][k][k])
		}
		if trifle == 0 && m.CovTo[i] != e.cov[i] {
			t.Errorf("point %d: %v", i, m.CovTo[i])
		}
	}
}

// A row that is there twice is named with its points, its set-up and both lines, where both are known.
func TestCopiedRowsAreNamed(t *testing.T) {
	for _, c := range []struct {
		to          body.PointID
		first, then int
		want        string
	}{
		{"", 0, 0, "A in set-up S2"}, {"B", 0, 0, "A-B in set-up S2"}, {"B", 1, 2, "A-B in set-up S2 (rows 1 and 2)"}, {"", 2, 1, "A in set-up S2 (rows 2 and 1)"},
		{"", 0, 4, "A in set-up S2"}, {"", 4, 0, "A in set-up S2"},
	} {
		p := &problem{in: Input{Readings: []job.Reading{{From: "A", To: c.to, Setup: "S2", Line: c.first}, {From: "A", To: c.to, Setup: "S2", Line: c.then}}}}
		p.tellCopy(0, 1)
		if len(p.notes) != 1 || !slices.Contains([]string{p.notes[0].Where, p.notes[0].Text}, c.want) && !strings.Contains(p.notes[0].Where+p.notes[0].Text, c.want) {
			t.Errorf("%+v: %+v", c, p.notes)
		}
	}
}

// Of the readings of a network the roughest.
func TestRoughestReading(t *testing.T) {
	nw := &network{}
	if nw.roughest() != 0 {
		t.Error("of none")
	}
	for _, std := range []float64{0.25, 0.75, 0.5} {
		nw.Obs = append(nw.Obs, geom.NetObs{Std: std})
	}
	if nw.roughest() != 0.75 {
		t.Errorf("%v", nw.roughest())
	}
}

// Without published places readings of places are not used: every row of them is counted, eleven
// places and eight of a rim.
func TestPlacesBetweenSidesAreCounted(t *testing.T) {
	c := newCar(12, 81)
	in := c.measure(0.3)
	rimOf(c, &in, 3, 8, 12, 2*math.Pi, 0.2)
	says := func(in Input) string {
		for _, n := range CompareSides(in).Notes {
			if n.Code == "measure.coordinates-unused" {
				return n.Text
			}
		}
		return ""
	}
	if got := says(in); !strings.HasPrefix(got, "19 coordinate and rim readings say nothing") {
		t.Errorf("%q", got)
	}
	rims := in
	rims.Readings = slices.DeleteFunc(slices.Clone(in.Readings), func(r job.Reading) bool { return r.Kind != job.ReadRim })
	if got := says(rims); !strings.HasPrefix(got, "8 coordinate and rim readings say nothing") {
		t.Errorf("%q", got)
	}
	if got := says(Input{Points: in.Points}); got != "" {
		t.Errorf("of no reading: %q", got)
	}
}

// Lengths alone hold a form; heights among them, wherever they stand in the list, change nothing of it.
func TestHeightsAmongLengths(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	at := strewn(7)
	now := slices.Clone(at)
	for i := range now {
		now[i] = now[i].Add(geom.Vec{0.3 * rng.NormFloat64(), 0.3 * rng.NormFloat64(), 0.3 * rng.NormFloat64()})
	}
	in := tapedBetween(at, now, 0.3, func(i, j int) bool { return true })
	height := spanReading("T", "height", "A", "B", now[1][2]-now[0][2], 0.3)
	answers := func(first, last bool) string {
		x := in
		x.Readings = slices.Clone(in.Readings)
		if first {
			x.Readings = slices.Insert(x.Readings, 0, height)
		}
		if last {
			x.Readings = append(x.Readings, height)
		}
		r, _ := Run(x)
		out, err := json.Marshal([]any{r.Form, r.Hypotheses})
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	want := answers(false, false)
	if !strings.Contains(want, `"points":7`) {
		t.Fatalf("no form: %s", want)
	}
	if got := answers(true, false); got != want {
		t.Errorf("a height before the lengths: %s, want %s", got, want)
	}
	if got := answers(false, true); got != want {
		t.Errorf("a height behind the lengths: %s, want %s", got, want)
	}
}

// Between points that have coordinates a length leaves the places alone that the search for blocks
// starts from, however wrong it is; one to a point without coordinates places it.
func TestLengthsBetweenPlacesBendNothing(t *testing.T) {
	c := newCar(12, 5)
	in := c.measure(0.3)
	c.readBy(&in, "S2", fromTo(2, 9), 0.3)
	places := func(extra ...job.Reading) []geom.Vec {
		x := in
		x.Readings = append(slices.Clone(in.Readings), extra...)
		p := prepare(x)
		e := p.locate()
		return e.at
	}
	wrong := spanReading("S1", "length", "P03", "P06", c.at[2].Dist(c.at[5])+40, 0.3)
	a, b := places(), places(wrong)
	if len(a) != 12 || !slices.Equal(a, b) {
		t.Errorf("a length between two points moved them: %v, then %v", a, b)
	}
}

// Four points to begin with: each next one with the most lengths read to those before, of as many the
// farthest from their point, line or plane. By hand, on the axes.
func TestFourPointsToBeginWith(t *testing.T) {
	at := []geom.Vec{{0, 0, 0}, {100, 0, 0}, {0, 200, 0}, {0, 0, 300}, {0, 0, 60}, {400, 0, 0}}
	for _, c := range []struct {
		name string
		had  [][2]int
		set  []int
		of   int
		span float64
	}{
		{"nothing read", nil, []int{0, 5, 3, 2}, 0, 400 * 300 * 200},
		{"one near by", [][2]int{{0, 1}}, []int{0, 1, 3, 2}, 1, 100 * 300 * 200},
		{"the farther of two", [][2]int{{0, 1}, {0, 5}}, []int{0, 5, 3, 2}, 1, 400 * 300 * 200},
		{"most of the third", [][2]int{{0, 1}, {1, 4}, {2, 4}}, []int{0, 1, 4, 2}, 3, 100 * 60 * 200},
		{"read twice counts once", [][2]int{{0, 1}, {0, 1}, {0, 2}, {1, 3}, {1, 3}, {2, 3}}, []int{0, 2, 3, 1}, 4, 200 * 300 * 100},
	} {
		g := plannerOf(9, at...)
		for _, l := range c.had {
			g.had[l]++
		}
		set, of, span := g.frameFrom(0)
		if !slices.Equal(set, c.set) || of != c.of || span != c.span {
			t.Errorf("%s: %v with %d lengths over %v, want %v with %d over %v", c.name, set, of, span, c.set, c.of, c.span)
		}
	}
	flat := plannerOf(9, at[0], at[1], at[2], at[5])
	if set, of, span := flat.frameFrom(0); set != nil || of != 0 || span != 0 {
		t.Errorf("in one plane: %v %v %v", set, of, span)
	}
	// of all beginnings that with the most lengths, and of as many that over the most
	for _, c := range []struct {
		had  [][2]int
		rows string
	}{
		{nil, "AF AD FD AC FC DC"},
		{[][2]int{{1, 4}}, "BF BC EC"},
	} {
		g := plannerOf(9, at...)
		for _, l := range c.had {
			g.had[l]++
		}
		g.frame()
		set := map[string]bool{}
		var points []int
		for _, n := range g.rows {
			set[string(n.From+n.To)] = true
			if n.Why != NextFrame || n.For != "" {
				t.Errorf("%+v", n)
			}
		}
		for i := range at {
			if _, ok := g.cov[i]; ok {
				points = append(points, i)
			}
		}
		if len(points) != minBlock || len(set)+len(c.had) != 6 {
			t.Errorf("after %v: %v between %v", c.had, set, points)
		}
		for _, l := range c.had {
			if !slices.Contains(points, l[0]) || !slices.Contains(points, l[1]) || set[string(g.p.id(l[0])+g.p.id(l[1]))] {
				t.Errorf("after %v: %v between %v", c.had, set, points)
			}
		}
		if c.had == nil && !slices.Equal(points, []int{0, 2, 3, 5}) && !slices.Equal(points, []int{1, 2, 3, 5}) {
			t.Errorf("of nothing: %v", points)
		}
	}
}

// What is known to begin with is the best answer: places with an uncertainty, and which of them are
// decided.
func TestWhatAPlanBeginsWith(t *testing.T) {
	g := plannerOf(9, alongX(3)...)
	g.known(Result{Hypotheses: []Hypothesis{{Survives: true, Points: []PointResult{
		{ID: "A", CovMM2: geom.Isotropic(0.5), Tolerance: Met}, {ID: "B", CovMM2: geom.Isotropic(0.25)}, {ID: "C"}}}}})
	if len(g.cov) != 2 || g.cov[0] != geom.Isotropic(0.5) || g.cov[1] != geom.Isotropic(0.25) || !g.decided[0] || g.decided[1] || g.decided[2] {
		t.Errorf("%v %v", g.cov, g.decided)
	}
}

// A radial limit is undecided by one direction alone only where it stands alone.
func TestNearARadialLimitAlone(t *testing.T) {
	round := radialPoint("A", geom.Vec{}, 3)
	off, cov := geom.Vec{3, 0, 0}, geom.Isotropic(0.5)
	if !nearLimit(round, off, cov, 0.95) {
		t.Error("on the limit")
	}
	if nearLimit(round, geom.Vec{}, cov, 0.95) || nearLimit(body.Point{}, off, cov, 0.95) || nearLimit(round, geom.Vec{1, 0, 0}, cov, 0.95) {
		t.Error("nowhere near it")
	}
	for k := range 3 {
		p, tol := round, unit.Some(9.0)
		switch k {
		case 0:
			p.TolX = tol
		case 1:
			p.TolY = tol
		default:
			p.TolZ = tol
		}
		if nearLimit(p, off, cov, 0.95) {
			t.Errorf("with a limit along axis %d", k)
		}
	}
}

// A point without a usable position is named, and how many there are; where all have one nothing is said.
func TestMissingPointsAreNamed(t *testing.T) {
	p, e := laid(alongX(5)...)
	r := &Result{}
	if p.listMissing(e, r); len(r.Missing) > 0 || len(p.notes) > 0 {
		t.Errorf("none is missing: %v %+v", r.Missing, p.notes)
	}
	e.remove(3)
	e.remove(1)
	p.listMissing(e, r)
	if !slices.Equal(r.Missing, []body.PointID{"P02", "P04"}) || len(p.notes) != 1 || p.notes[0].Code != CodePointsMissing || p.notes[0].Text != "2 control points have no usable position; nothing is known about them" || !strings.Contains(p.notes[0].Where, "P02") || !strings.Contains(p.notes[0].Where, "P04") {
		t.Errorf("%v %+v", r.Missing, p.notes)
	}
}

// Two readings of a length differ beyond 3.29 standard deviations of their difference, not at it.
func TestReadingsDifferBeyondTheLimit(t *testing.T) {
	for value, want := range map[float64]int{criticalNormal: 0, math.Nextafter(criticalNormal, 9): 1, -criticalNormal: 0} {
		p, _ := laid(alongX(2)...)
		p.spans = []span{{kind: job.ReadLength, from: 0, to: 1, value: 0, std: 1}, {kind: job.ReadLength, from: 1, to: 0, value: value, std: 0}}
		r := &Result{}
		if p.againDiffers(r); len(r.Disagree) != want {
			t.Errorf("off by %v: %+v", value, r.Disagree)
		}
	}
}
