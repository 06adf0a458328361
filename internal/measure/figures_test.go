package measure

import (
	"fmt"
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

// Every slip by what is done with the keyboard, each way round, and the value it came from; what no
// slip explains is none.
func TestSlipsByTheKeyboard(t *testing.T) {
	for _, c := range []struct {
		got, want float64
		how       mistyping
	}{
		{-612.5, 612.5, "the sign"}, {51.25, 512.5, "the decimal point"}, {5125, 512.5, "the decimal point"}, {5.125, 512.5, "the decimal point"}, {51250, 512.5, "the decimal point"}, {0.5125, 512.5, "the decimal point"}, {512500, 512.5, "the decimal point"},
		{2134.5, 1234.5, "two digits exchanged"}, {1234.5, 1243.5, "two digits exchanged"}, {1235.4, 1234.5, ""}, // across the point nothing is exchanged
		{1934.5, 1234.5, "one digit"}, {88.4, 3088.4, "one digit"}, {-88.4, -3088.4, "one digit"}, {1234.9, 1234.5, "one digit"}, {7.5, 1007.5, "one digit"}, {7.5, 10007.5, ""},
		{12934.5, 1234.5, "one digit too many"}, {1234.59, 1234.5, "one digit"}, {134.5, 1234.5, "one digit left out"}, {-134.5, -1234.5, "one digit left out"}, {123.5, 1234.5, "one digit left out"},
		{1934.5, 1256.5, ""}, {777, 123.4, ""},
	} {
		v, how := slip(c.got, c.want, 0.05)
		if how != c.how || how != "" && math.Abs(v-c.want) > 0.05 || how == "" && v != 0 {
			t.Errorf("%v for %v: %v by %q, want %q", c.got, c.want, v, how, c.how)
		}
	}
	// within the tolerance it fits, beyond it does not
	if _, how := slip(-612.5, 612.6, 0.101); how != theSign {
		t.Errorf("within the tolerance: %q", how)
	}
	if _, how := slip(-612.5, 612.6, 0.099); how == theSign {
		t.Error("beyond the tolerance the sign explains it")
	}
	for text, want := range map[string]string{"88.4": "0088.4", "-88.4": "-0088.4", "1234": "1234", "12345.6": "12345.6", "": "0000", "0.5": "0000.5"} {
		if got := string(padded([]byte(text))); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	if v := restored([]byte("13"), 123); v != 123 {
		t.Errorf("13 with a digit put in: %v", v)
	}
	if v := restored([]byte("12"), 512); v != 512 { // before the first
		t.Errorf("12 with a digit put in: %v", v)
	}
	if v := restored([]byte("12"), 127); v != 127 { // behind the last
		t.Errorf("12 with a digit put in: %v", v)
	}
	if v := restored([]byte("-12"), -312); v != -312 { // not before the sign
		t.Errorf("-12 with a digit put in: %v", v)
	}
	if _, ok := without([]byte("7"), 0); ok {
		t.Error("a number without its only digit")
	}
	if v, ok := without([]byte("71"), 0); !ok || v != 1 {
		t.Errorf("71 without its first: %v", v)
	}
	for _, k := range []int{0, 4} { // the sign, the point
		if _, ok := replaced([]byte("-123.4"), k, '5'); ok {
			t.Errorf("place %d is a digit", k)
		}
	}
	if _, ok := swapped([]byte("1123"), 0); ok {
		t.Error("equal digits are exchanged")
	}
}

// When a reading is said to be a slip: how much it has to be off by, what is off along two axes, and
// another unit. The tolerance of a coordinate is four times its standard uncertainty.
func TestWhenASlipIsSaid(t *testing.T) {
	std := func(v float64) geom.Vec { return geom.Vec{v, v, v} }
	want := geom.Vec{1234.5, 612.5, 512.5}
	for _, c := range []struct {
		name  string
		got   geom.Vec
		std   float64
		says  string
		every string
	}{
		{"nothing off", want, 0.1, "", ""},
		{"a sign", geom.Vec{1234.5, -612.5, 512.5}, 0.1, "y of A reads -612.5; 612.5 would fit: the sign", "y, the sign"},
		{"a digit", geom.Vec{1934.5, 612.5, 512.5}, 0.1, "x of A reads 1934.5; 1234.5 would fit: one digit", ""},
		{"the point", geom.Vec{1234.5, 612.5, 51.25}, 0.1, "z of A reads 51.25; 512.5 would fit: the decimal point", "z, the decimal point"},
		{"exchanged", geom.Vec{612.5, 1234.5, 512.5}, 0.1, "x and y of A fit when they are exchanged", "x and y exchanged"},
		{"exchanged further on", geom.Vec{1234.5, 512.5, 612.5}, 0.1, "y and z of A fit when they are exchanged", "y and z exchanged"},
		{"two off", geom.Vec{1934.5, 912.5, 512.5}, 0.1, "", ""},
		{"three off", geom.Vec{1934.5, 912.5, 112.5}, 0.1, "", ""},
		{"in inches", want.Scale(1 / 25.4), 0.1, "the reading of A fits when its numbers are taken as inches", "inches"},
		{"in centimetres", want.Scale(0.1), 0.1, "the reading of A fits when its numbers are taken as centimetres", "centimetres"},
		{"in metres", want.Scale(0.001), 0.1, "the reading of A fits when its numbers are taken as metres", "metres"},
		// 30 times four standard deviations are asked for, 8 mm at least; where that is more than 40 mm, a third
		{"9 mm, known well", geom.Vec{1234.5, 612.5, 521.5}, 0.07, "z of A reads 521.5; 512.5 would fit: two digits", ""},
		{"9 mm, known worse", geom.Vec{1234.5, 612.5, 521.5}, 0.08, "", ""},
		{"7 mm, known very well", geom.Vec{1234.5, 612.5, 519.5}, 0.01, "", ""},
		{"50 mm, known to 1 mm", geom.Vec{1284.5, 612.5, 512.5}, 1, "x of A reads 1284.5;", ""},
		{"30 mm, known to 1 mm", geom.Vec{1264.5, 612.5, 512.5}, 1, "", ""},
		{"50 mm, known to 2 mm", geom.Vec{1284.5, 612.5, 512.5}, 2, "", ""}, // a third of 240 mm
		{"90 mm, known to 2 mm", geom.Vec{1324.5, 612.5, 512.5}, 2, "x of A reads 1324.5;", ""},
	} {
		text, every := slipText(c.got, want, std(c.std), "A", "")
		if !strings.HasPrefix(text, c.says) || c.says == "" && text != "" || every != c.every {
			t.Errorf("%s: %q, %q; want %q, %q", c.name, text, every, c.says, c.every)
		}
	}
	if text, _ := slipText(geom.Vec{1934.5, 612.5, 512.5}, want, std(0.1), "A", "nominal "); text != "the nominal x of A is 1934.5; 1234.5 would fit: one digit" {
		t.Errorf("%q", text)
	}
	if text, _ := slipText(want.Scale(0.1), want, std(0.1), "A", "nominal "); text != "the nominal place of A fits when its numbers are taken as centimetres" {
		t.Errorf("%q", text)
	}
	if text, _ := slipText(geom.Vec{30, 10, 5}, geom.Vec{10, 30, 5}, std(0.1), "A", ""); text != "" { // 28 mm off: less than 40
		t.Errorf("exchanged by little: %q", text)
	}
	if text, _ := slipText(geom.Vec{612.5, 1234.5, 512.5}, want, geom.Vec{0.1, 0.1, 0.1}.Scale(0.001), "A", ""); text == "" {
		t.Error("exchanged and exact")
	}
	// the twin on the other side speaks for it, within four standard deviations
	p, _ := laid(geom.Vec{1234.5, 612.5, 512.5}, geom.Vec{1234.5, -612.5, 512.5}, geom.Vec{7, 8, 9})
	p.in.Points[0].Mirror, p.in.Points[2].Mirror = "P02", "P03"
	if got := p.twinAgrees(0, geom.Vec{1234.5, 612.9, 512.5}, std(0.1)); got != "; its twin P02 agrees with that" {
		t.Errorf("%q", got)
	}
	if p.twinAgrees(0, geom.Vec{1234.5, 612.91, 512.5}, std(0.1)) != "" || p.twinAgrees(1, geom.Vec{}, std(9999)) != "" || p.twinAgrees(2, geom.Vec{7, -8, 9}, std(9)) != "" {
		t.Error("a twin agrees that does not, is not named, or is the point itself")
	}
}

// The three nearest points, by their nominal places; a point that moved by itself is borne out by
// them when all did, or when two went its way, within a cosine of 0.9, unless along an axis.
func TestNearestPointsBearAPointOut(t *testing.T) {
	p, e := laid(geom.Vec{0, 0, 0}, geom.Vec{100, 0, 0}, geom.Vec{-150, 0, 0}, geom.Vec{0, 200, 0}, geom.Vec{0, -900, 0}, geom.Vec{0, 0, 5000})
	if got := p.nearTo(e, 0); !slices.Equal(got, []int{1, 2, 3}) {
		t.Errorf("nearest: %v", got)
	}
	if got := p.nearTo(e, 5); !slices.Equal(got, []int{0, 1, 2}) {
		t.Errorf("nearest to the last: %v", got)
	}
	few, fe := laid(geom.Vec{0, 0, 0}, geom.Vec{100, 0, 0}, geom.Vec{50, 0, 0})
	if got := few.nearTo(fe, 0); !slices.Equal(got, []int{2, 1}) {
		t.Errorf("of two others: %v", got)
	}
	aslant := geom.Vec{3, 4, 5}
	turned := func(cos float64) geom.Vec { // a direction at that cosine to aslant
		u := aslant.Unit()
		w := u.Cross(geom.Vec{1, 0, 0}).Unit()
		return u.Scale(cos).Add(w.Scale(math.Sqrt(1 - cos*cos))).Scale(2)
	}
	for _, c := range []struct {
		name    string
		moved   []int
		shift   map[int]geom.Vec
		inGroup []int
		own     geom.Vec
		want    bool
	}{
		{"all three", []int{1, 2, 3}, nil, nil, geom.Vec{9, 0, 0}, true},
		{"two another way", []int{1, 2}, nil, nil, aslant, false},
		{"two its way", []int{1, 2}, map[int]geom.Vec{1: turned(0.91), 2: turned(0.95)}, nil, aslant, true},
		{"one nearly", []int{1, 2}, map[int]geom.Vec{1: turned(0.89), 2: turned(0.95)}, nil, aslant, false},
		{"two along an axis", []int{1, 2}, map[int]geom.Vec{1: {9, 0, 0}, 2: {9, 0, 0}}, nil, geom.Vec{9, 1, 0}, false},
		{"all three, one in a block", []int{1, 2, 3}, nil, []int{3}, aslant, false},
		{"two its way, one in a block", []int{1, 2, 3}, map[int]geom.Vec{1: turned(0.95), 2: turned(0.95), 3: {0, 0, -5}}, []int{2}, aslant, false},
	} {
		x := &candidate{moved: make([]bool, 6), shift: make([]geom.Vec, 6), fit: geom.CovFit{Fit: geom.Fit{Motion: geom.Still()}}}
		for _, i := range c.moved {
			x.moved[i], x.shift[i] = true, c.shift[i]
			if c.shift == nil {
				x.shift[i] = geom.Vec{-1, 0, 7}
			}
		}
		x.shift[0] = c.own
		if c.inGroup != nil {
			x.groups = []group{{set: geom.SetOf(c.inGroup...)}}
		}
		if got := p.borneOutNear(e, x, 0); got != c.want {
			t.Errorf("%s: borne out %v", c.name, got)
		}
	}
	// along an axis of the device, which is turned
	x := &candidate{moved: []bool{true, true, true, false, false, false}, shift: make([]geom.Vec, 6), fit: geom.CovFit{Fit: geom.Fit{Motion: geom.Rigid{R: geom.FromRotationVector(geom.Vec{0.3, 0.5, 0.7})}}}}
	for i := range 3 {
		x.shift[i] = x.fit.Motion.R.TMulVec(geom.Vec{0, 9, 0})
	}
	if p.borneOutNear(e, x, 0) {
		t.Error("along an axis of the device it is borne out")
	}
	// read twice: two rows in set-ups that are linked, or three lengths for one; a copy counts once
	p.setups = append(p.setups, setup{id: "S2"}, setup{id: "S3"})
	e.linked = []bool{true, true, false}
	p.coords = append(p.coords, p.coords[1], coord{setup: 1, point: 1}, coord{setup: 2, point: 2})
	for k := range 5 {
		p.spans = append(p.spans, span{setup: 0, from: 3, to: 4 + k%2, kind: job.ReadLength, value: 100 + float64(k), std: 0.5})
	}
	if got := p.timesRead(e); !slices.Equal(got, []int{1, 2, 1, 2, 2, 1}) {
		t.Errorf("read %v times", got)
	}
}

// A length shows the shift of its end when that makes eight of its standard uncertainties of it,
// and its other end did not move; a height shows what is upward.
func TestLengthsShowAShift(t *testing.T) {
	for _, c := range []struct {
		kind  job.ReadingKind
		shift geom.Vec
		other bool // the other end moved
		turn  bool // it stands as the second end
		want  bool
	}{
		{job.ReadLength, geom.Vec{4.1, 0, 0}, false, false, true}, {job.ReadLength, geom.Vec{-4.1, 0, 0}, false, true, true}, {job.ReadLength, geom.Vec{3.9, 9, 9}, false, false, false}, {job.ReadLength, geom.Vec{4, 0, 0}, false, false, false}, {job.ReadLength, geom.Vec{9, 0, 0}, true, false, false},
		{job.ReadHeight, geom.Vec{9, 9, 3.9}, false, false, false}, {job.ReadHeight, geom.Vec{0, 0, -4.1}, false, true, true},
	} {
		p, e := laid(geom.Vec{0, 0, 0}, geom.Vec{800, 0, 0}, geom.Vec{0, 900, 0})
		s := span{from: 0, to: 1, kind: c.kind, value: 800, std: 0.3}
		if c.turn {
			s.from, s.to = 1, 0
		}
		p.std0[0] = 0.4 // together 0.5: eight times that is 4
		p.spans = []span{s, {from: 1, to: 2, kind: job.ReadLength, value: 1, std: 0.001}}
		x := &candidate{moved: []bool{true, c.other, false}, shift: []geom.Vec{c.shift, {}, {}}}
		if got := p.spanShows(e, x, 0); got != c.want {
			t.Errorf("%+v: shows %v", c, got)
		}
		e.slot[1] = -1
		if p.spanShows(e, x, 0) {
			t.Error("a length to a point that is nowhere shows something")
		}
	}
}

// Lengths against the nominal ones, height as a difference of z, the spread of both points beside
// the uncertainty of the reading; they differ beyond 3.29 standard deviations, one in a thousand.
func TestLengthsAreCheckedByHand(t *testing.T) {
	p, e := laid(geom.Vec{0, 0, 0}, geom.Vec{300, 400, 0}, geom.Vec{300, 400, 50})
	p.std0 = []float64{0.3, 0.4, 1.2}
	p.spans = []span{{from: 0, to: 1, kind: job.ReadLength, value: 502, std: 0.5}, {from: 2, to: 1, kind: job.ReadHeight, value: 46, std: 0.5}, {from: 0, to: 1, kind: job.ReadLength, value: 502.4, std: 0.5}}
	r := p.emptyResult()
	p.checkLengths(&r)
	s := math.Sqrt(0.25 + 0.09 + 0.16)
	for k, want := range []LengthCheck{
		{"S1", "length", "P01", "P02", 502, 500, 2, roundMM(s), roundP(2 / s), false, LengthLimit{}},
		{"S1", "height", "P03", "P02", 46, 50, -4, roundMM(math.Sqrt(0.25 + 0.16 + 1.44)), roundP(-4 / math.Sqrt(0.25+0.16+1.44)), false, LengthLimit{}},
		{"S1", "length", "P01", "P02", 502.4, 500, roundMM(2.4), roundMM(s), roundP(2.4 / s), true, LengthLimit{}},
	} {
		got := r.Lengths[k]
		if got.Limit = (LengthLimit{}); got != want {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	// all agree at one in a thousand; those to the points of the set are left out, and so are heights
	one := func(value float64, set ...int) bool {
		p.spans[0].value, p.spans[2].kind = value, job.ReadHeight
		return p.lengthsAgree(e, set)
	}
	if limit := 3.2905 * s; !one(500+limit-0.001) || one(500+limit+0.001) || !one(500-limit+0.001) || one(500-limit-0.001) {
		t.Error("a length agrees up to 3.2905 standard deviations")
	}
	if one(500, 0) || one(500, 1) || !one(500, 2) {
		t.Error("without any length they agree")
	}
	c := &candidate{moved: []bool{true, false, true}}
	for _, x := range []struct {
		set  []int
		want bool
	}{{[]int{0, 2}, true}, {[]int{0}, false}, {[]int{0, 1}, false}, {nil, false}} {
		if got := sameAsMoved(c, x.set, 2); got != x.want {
			t.Errorf("%v are those that moved: %v", x.set, got)
		}
	}
}

// Three points make a length of nothing certain; two lengths hang a point on too little.
func TestWeakestHasFewerThanThreeLengths(t *testing.T) {
	obs := func(pairs ...[2]int) (out []geom.NetObs) {
		for _, x := range pairs {
			out = append(out, geom.NetObs{A: x[0], B: x[1]})
		}
		return out
	}
	if got := weakest(4, obs([2]int{0, 1}, [2]int{0, 2}, [2]int{0, 3}, [2]int{1, 2}, [2]int{1, 3}, [2]int{2, 3})); got != -1 {
		t.Errorf("of all lengths point %d is weak", got)
	}
	if got := weakest(4, obs([2]int{0, 1}, [2]int{0, 2}, [2]int{0, 3}, [2]int{1, 2}, [2]int{1, 3})); got != 2 {
		t.Errorf("point %d is weak, want 2", got)
	}
}

// The mean of repeated readings is the weighted one, with the covariance that the sum of the
// weights has; in whatever order, along axes of their own.
func TestMeansOfRepeatedReadings(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 3))
	p, _ := laid(geom.Vec{}, geom.Vec{1, 1, 1})
	p.coords, p.setups = nil, []setup{{id: "A"}, {id: "B"}}
	var weights [2]geom.Mat3
	var sum [2]geom.Vec
	for k := range 7 {
		c := coord{setup: k % 2, point: k % 2, at: geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}, std: geom.Vec{0.2 + rng.Float64(), 0.2 + rng.Float64(), 0.2 + rng.Float64()}}
		if k > 2 {
			c.turned, c.axes = true, geom.FromRotationVector(geom.Vec{rng.NormFloat64(), rng.NormFloat64(), 1})
		}
		p.coords = append(p.coords, c)
		own := geom.Diag3(geom.Vec{c.std[0] * c.std[0], c.std[1] * c.std[1], c.std[2] * c.std[2]})
		if c.turned {
			own = own.Turn(c.axes)
			for a := range 3 { // its own directions are known as well as it says
				var axis geom.Vec
				axis[a] = 1
				dir := c.axes.MulVec(axis)
				near(t, "along its own axis", dir.Dot(c.cov().MulVec(dir)), c.std[a]*c.std[a], 1e-12)
				near(t, "the axis along itself", c.along(dir).Dist(axis), 0, 1e-12)
			}
		}
		w, _ := own.Inverse()
		weights[k%2], sum[k%2] = weights[k%2].Add(w), sum[k%2].Add(w.MulVec(c.at))
	}
	for k, list := range p.means() {
		cov, _ := weights[k].Inverse()
		if len(list) != 1 || list[0].point != k {
			t.Fatalf("set-up %d: %+v", k, list)
		}
		near(t, "mean", list[0].at.Dist(cov.MulVec(sum[k])), 0, 1e-9)
		for a := range cov {
			near(t, "covariance", list[0].cov[a].Dist(cov[a]), 0, 1e-9)
		}
	}
	// the misfit of repeated readings: the sum over both of d' W d about that mean
	var rows []*coord
	for i := range p.coords {
		if p.coords[i].setup == 0 {
			rows = append(rows, &p.coords[i])
		}
	}
	cov, _ := weights[0].Inverse()
	want := 0.0
	for _, c := range rows {
		d := c.at.Sub(cov.MulVec(sum[0]))
		v, _ := geom.Mahalanobis(d, c.cov())
		want += v
	}
	if got, ok := scatterOf(rows); !ok || math.Abs(got.Chi2-want) > 1e-9 || got.DOF != 9 {
		t.Errorf("%+v, want %g of 9", got, want)
	}
	if _, ok := scatterOf(rows[:1]); ok {
		t.Error("one reading scatters")
	}
	points, all, rest := p.repeated(0)
	if points != 1 || math.Abs(all.Chi2-want) > 1e-9 || rest != all {
		t.Errorf("%d points, %+v, %+v", points, all, rest)
	}
	p.coords = append(p.coords, coord{setup: 0, point: 1, at: geom.Vec{}, std: geom.Vec{1, 1, 1}}, coord{setup: 0, point: 1, at: geom.Vec{200, 0, 0}, std: geom.Vec{1, 1, 1}})
	if points, all, rest = p.repeated(0); points != 2 || math.Abs(rest.Chi2-want) > 1e-9 || rest.DOF != 9 || math.Abs(all.Chi2-want-20000) > 1e-6 || all.DOF != 12 {
		t.Errorf("without the worst: %d points, %+v, %+v", points, all, rest)
	}
}

// What of a reading cannot be used is said with its place and what would be right.
func TestReadingsAreRefusedByName(t *testing.T) {
	inf, none := unit.Some(math.Inf(1)), unit.Maybe[float64]{}
	base := newCar(6, 9).measure(0.5)
	for _, c := range []struct {
		name   string
		change func(r *job.Reading)
		where  string
		text   string
	}{
		{"a label", func(r *job.Reading) { r.From = "X" }, "reading X in set-up S1", "the body has no control point X"},
		{"no x", func(r *job.Reading) { r.X = none }, "reading P01 in set-up S1", "a coordinate is missing or no finite number"},
		{"no y", func(r *job.Reading) { r.Y = none }, "reading P01 in set-up S1", "a coordinate is missing or no finite number"},
		{"no z", func(r *job.Reading) { r.Z = none }, "reading P01 in set-up S1", "a coordinate is missing or no finite number"},
		{"infinite", func(r *job.Reading) { r.Z = inf }, "reading P01 in set-up S1", "a coordinate is missing or no finite number"},
		{"no uncertainty", func(r *job.Reading) { r.Std = none }, "reading P01 in set-up S1", "no standard uncertainty is given"},
		{"uncertain along two axes alone", func(r *job.Reading) { r.Std, r.StdX, r.StdY = none, unit.Some(1.0), unit.Some(1.0) }, "reading P01 in set-up S1", "no standard uncertainty is given"},
		{"uncertain along each axis", func(r *job.Reading) {
			r.Std, r.StdX, r.StdY, r.StdZ = none, unit.Some(1.0), unit.Some(1.0), unit.Some(1.0)
		}, "", ""},
		{"a rim without z", func(r *job.Reading) { r.Kind, r.Z = "rim", none }, "reading P01 in set-up S1", "a coordinate is missing or no finite number"},
		{"a rim of no number", func(r *job.Reading) { r.Kind, r.X = "rim", inf }, "reading P01 in set-up S1", "a coordinate is missing or no finite number"},
		{"a rim without uncertainty", func(r *job.Reading) { r.Kind, r.Std = "rim", none }, "reading P01 in set-up S1", "no standard uncertainty is given"},
		{"one point of a rim", func(r *job.Reading) { r.Kind = "rim" }, "reading P01 in set-up S1", "at least three rim points, better six all round; there are 1"},
		{"a kind", func(r *job.Reading) { r.Kind, r.To = "angle", "P02" }, "reading P01-P02 in set-up S1", `kind "angle" is not xyz, rim, length or height`},
		{"no second point", func(r *job.Reading) { r.Kind, r.Value = "length", unit.Some(5.0) }, "reading P01 in set-up S1", `the second point "" is no other control point`},
		{"the same point", func(r *job.Reading) { r.Kind, r.To, r.Value = "length", "P01", unit.Some(5.0) }, "reading P01-P01 in set-up S1", `the second point "P01" is no other control point`},
		{"no value", func(r *job.Reading) { r.Kind, r.To = "length", "P02" }, "reading P01-P02 in set-up S1", "the value is missing or no usable number"},
		{"a value of no number", func(r *job.Reading) { r.Kind, r.To, r.Value = "height", "P02", inf }, "reading P01-P02 in set-up S1", "the value is missing or no usable number"},
		{"a height without a value", func(r *job.Reading) { r.Kind, r.To = "height", "P02" }, "reading P01-P02 in set-up S1", "the value is missing or no usable number"},
		{"a length below nothing", func(r *job.Reading) { r.Kind, r.To, r.Value = "length", "P02", unit.Some(-5.0) }, "reading P01-P02 in set-up S1", "the value is missing or no usable number"},
		{"a length of half a millimetre", func(r *job.Reading) { r.Kind, r.To, r.Value = "length", "P02", unit.Some(0.5) }, "", ""},
		{"a height below", func(r *job.Reading) { r.Kind, r.To, r.Value = "height", "P02", unit.Some(-5.0) }, "", ""},
		{"a length of nothing", func(r *job.Reading) { r.Kind, r.To, r.Value = "length", "P02", unit.Some(0.0) }, "reading P01-P02 in set-up S1", "the value is missing or no usable number"},
		{"a height of nothing", func(r *job.Reading) { r.Kind, r.To, r.Value = "height", "P02", unit.Some(0.0) }, "", ""},
		{"a length without uncertainty", func(r *job.Reading) { r.Kind, r.To, r.Value, r.Std = "length", "P02", unit.Some(5.0), none }, "reading P01-P02 in set-up S1", "no standard uncertainty is given"},
		{"no set-up", func(r *job.Reading) { r.Setup, r.X = "", none }, "reading P01", "a coordinate is missing or no finite number"},
		{"a row", func(r *job.Reading) { r.Line, r.X = 7, none }, "reading P01 in set-up S1 (row 7)", "a coordinate is missing or no finite number"},
	} {
		in := base
		in.Readings = slices.Clone(base.Readings)
		c.change(&in.Readings[0])
		p := prepare(in)
		said := ""
		for _, n := range p.notes {
			if n.Code == "measure.reading-unusable" {
				said += fmt.Sprintf("%v: %s: %s", n.Severity, n.Where, n.Text)
			}
		}
		want := ""
		if c.text != "" {
			want = "blocks: " + c.where + ": "
		}
		if c.text == "" && said != "" || !strings.HasPrefix(said, want) || !strings.Contains(said, c.text) {
			t.Errorf("%s: %q, want %q with %q", c.name, said, want, c.text)
		}
		if taken := len(p.coords) + len(p.spans); taken != 5 && c.text != "" || taken != 6 && c.text == "" {
			t.Errorf("%s: %d readings are taken", c.name, taken)
		}
	}
	in := base
	in.Points = append(slices.Clone(base.Points), body.Point{ID: "P03"}, body.Point{ID: "P99", X: math.NaN()}, body.Point{ID: "P98", Std: unit.Some(-3.0)})
	in.Setups = []job.Setup{{ID: "S1", Std: 0.7}, {ID: "S2", Stage: "after"}}
	in.Readings = append(slices.Clone(base.Readings), xyz("S2", "P01", geom.Vec{1, 2, 3}, 0.5), xyz("S9", "P02", geom.Vec{4, 5, 6}, 0.5))
	in.Readings[1].Std, in.Readings[2].StdY = none, unit.Some(2.0)
	p := prepare(in)
	if len(p.coords) != 7 || p.coords[1].std != (geom.Vec{0.7, 0.7, 0.7}) || p.coords[2].std != (geom.Vec{0.5, 2, 0.5}) || p.coords[6].setup != 1 || p.setups[1].id != "S9" || p.index["P03"] != 2 || p.std0[8] != 0 || p.unknown != 0 {
		t.Errorf("%d readings, %+v, set-ups %+v, %d without spread", len(p.coords), p.coords, p.setups, p.unknown)
	}
	in.Stage = job.StageAfter
	if p = prepare(in); len(p.coords) != 1 || len(p.setups) != 1 || p.setups[0].id != "S2" {
		t.Errorf("after the repair: %d readings of %+v", len(p.coords), p.setups)
	}
}
