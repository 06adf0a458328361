package geom

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Of a point's misfit those directions count in which more than a thousandth of its variance is
// left: with a diagonal matrix the axes. Expected: d^2/m, by hand.
func TestControlledDirections(t *testing.T) {
	for _, c := range []struct {
		name   string
		m      Vec
		own    float64
		d      Vec
		expect float64
	}{
		{"all three", Vec{1, 0.5, 0.25}, 1, Vec{1, 1, 1}, 1 + 2 + 4},
		{"one far below", Vec{1, 0.5, 1e-4}, 1, Vec{1, 1, 1}, 1 + 2},
		{"one far below, the first", Vec{1e-4, 1, 0.5}, 1, Vec{1, 1, 1}, 1 + 2},
		{"just above", Vec{1, 1, 0x1p-9}, 1, Vec{0, 0, 1}, 512},
		{"at the share", Vec{1, 1, MinControl}, 1, Vec{1, 1, 1}, 2},
		{"below nothing", Vec{1, 1, -0.5}, 1, Vec{1, 1, 1}, 2},
		{"nothing left", Vec{}, 1, Vec{1, 1, 1}, 0},
		{"the largest variance counts", Vec{1, 1, 0.5}, 600, Vec{1, 1, 1}, 2},
		{"and none of a smaller one", Vec{1, 1, 0.5}, 400, Vec{1, 1, 1}, 4},
	} {
		for _, own := range []Vec{{c.own, 0, 0}, {0, c.own, 0}, {0, 0, c.own}} {
			if got := Controlled(c.d, Diag3(c.m), Diag3(own)); math.Abs(got-c.expect) > 1e-12 {
				t.Errorf("%s: %v, want %v", c.name, got, c.expect)
			}
		}
	}
}

// How sure the scale is: with points at +-a on three axes, each turned and stretched with it,
// its standard deviation is one over the root of the weighted sum of squares 6 w a^2; with unit
// weights the residuals give the variance, SS / (3 n - 6). By hand: a = 2, one point off by
// 3 along its axis and its opposite too keeps scale and turn, so that all is whole.
func TestHowSureTheScaleIs(t *testing.T) {
	var from, to []Vec
	var w []float64
	for k := range 3 {
		for _, s := range []float64{-2, 2} {
			var p, q Vec
			p[k], q[k] = s, 2*s
			from, to, w = append(from, p), append(to, q), append(w, 4)
		}
	}
	f, err := FitRigid(from, to, w)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", f.Scale, 2, 1e-14)
	near(t, "sum of squares", f.SS, 4*6*4, 1e-12)
	near(t, "its standard deviation", f.ScaleStd, 1/math.Sqrt(4*6*4), 1e-14)
	if f, err = FitRigid(from, to, nil); err != nil {
		t.Fatal(err)
	}
	near(t, "sum of squares without weights", f.SS, 24, 1e-12)
	near(t, "its standard deviation without weights", f.ScaleStd, math.Sqrt(24.0/12/24), 1e-14)
	if f, err = FitRigid(from[:3], to[:3], nil); err != nil {
		t.Fatal(err)
	}
	if math.IsInf(f.ScaleStd, 0) || math.IsNaN(f.ScaleStd) {
		t.Errorf("three points, 3 n - 6 = 3: %v", f.ScaleStd)
	}
}

// A small turn: R = I + sin(a)/a K + (1 - cos a)/a^2 K^2, where (1 - cos a)/a^2 = 1/2 - a^2/24 + ...
// Beside the diagonal and with a zero third part of the turn it stands alone.
func TestSmallTurns(t *testing.T) {
	for _, a := range []float64{0, 1e-200, 1e-12, 1e-6, 5e-5, 9.9e-5, 1.01e-4, 1e-3, 1e-2} {
		w := Vec{0.6 * a, 0.8 * a, 0}
		r := FromRotationVector(w)
		second := 0.5 - a*a/24 + a*a*a*a/720
		first := 1 - a*a/6 + a*a*a*a/120
		near(t, "product part", r[0][1], 0.48*a*a*second, 1e-13*0.24*a*a)
		near(t, "turn", r[0][2], 0.8*a*first, 1e-13*a)
		near(t, "turn", r[2][1], 0.6*a*first, 1e-13*a)
		near(t, "back", RotationVector(r).Dist(w), 0, 1e-13*a)
	}
}

// Far out the closed form is even in d, and near nothing its series goes on: against Simpson's
// rule for the radial density, whose part sinh(r d)/d is r (1 + (r d)^2/6 + (r d)^4/120).
func TestNonCentralNearNothing(t *testing.T) {
	for _, r := range []float64{0.25, 1, 1.5, 3} {
		for _, d := range []float64{0, 5e-5, 9.9e-5, 1.01e-4, 2e-4, 1e-3} {
			density := func(x float64) float64 {
				y := (x * d) * (x * d)
				return math.Sqrt(2/math.Pi) * x * x * (1 + y/6 + y*y/120) * math.Exp(-(x*x+d*d)/2)
			}
			const n = 512
			sum := density(0) + density(r)
			for i := 1; i < n; i++ {
				sum += density(r*float64(i)/n) * float64(2+2*(i%2))
			}
			want := sum * r / n / 3
			for _, d := range []float64{d, -d} {
				near(t, "chance", NonCentralCDF3(r, d), want, 5e-12)
			}
		}
	}
}

// A hole of which a part of the rim was read: along its normal the centre is as sure as the plane
// of the readings is there. Reckoned once more by least squares: z = a + b x + c y.
func TestHoleCentreAcross(t *testing.T) {
	var rim []Vec
	for _, a := range []float64{0, 0.3, 0.7, 1.2, 1.5} {
		s, c := math.Sincos(a)
		rim = append(rim, Vec{40 + 10*c, 20 + 10*s, 5})
	}
	h, err := FitHole(rim, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre", h.Centre.Dist(Vec{40, 20, 5}), 0, 1e-9)
	var n Mat3
	for _, p := range rim {
		row := Vec{1, p[0], p[1]}
		n = n.Add(Outer(row, row))
	}
	inv, ok := n.Inverse()
	if !ok {
		t.Fatal("on a line")
	}
	at := Vec{1, 40, 20}
	want := 0.01 * at.Dot(inv.MulVec(at))
	near(t, "variance along the normal", h.Cov[2][2], want, 1e-6*want)
	near(t, "and beside it", math.Abs(h.Cov[0][2])+math.Abs(h.Cov[1][2]), 0, 1e-9)
}

// In a triangle the most room is at the centre of the inscribed circle, twice the area over the
// circumference. What a place off the middle is worth less is left free.
func TestMostRoomInTriangles(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for range 20 {
		p := Polygon{{r.Float64(), r.Float64()}, {3 + r.Float64(), r.Float64()}, {r.Float64(), 4 + r.Float64()}}
		most := 2 * p.Area() / (p[0].Dist(p[1]) + p[1].Dist(p[2]) + p[2].Dist(p[0]))
		at, room := p.Roomiest()
		if room > most+1e-12 || room < most-2*offMiddle || p.Depth(at) != room {
			t.Errorf("%v: room %v at %v, want about %v", p, room, at, most)
		}
	}
}

// The best triples are those of the least scores, in their order, and of every point the best of
// its own; none has more than one point in a block of before. Expected: all scored to the end.
func TestBestTriples(t *testing.T) {
	for seed := uint64(1); seed <= 5; seed++ {
		bestTriples(t, seed)
	}
}

func bestTriples(t *testing.T, seed uint64) {
	m, part := threeParts([3]int{12, 10, 8}, seed)
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	s := newTripleSearch(x)
	s.all()
	first, err := x.Evaluate(part[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, before := range [][]Block{nil, {first}} {
		var scores []float64
		one := make([]float64, x.Len())
		for i := range one {
			one[i] = math.Inf(1)
		}
		for _, c := range s.triples {
			of, in := scored{t: c}, 0
			for _, i := range c {
				if len(before) > 0 && part[0].Has(int(i)) {
					in++
				}
			}
			if in > 1 {
				continue
			}
			s.pose(&of)
			if !s.score(&of, math.Inf(1)) {
				t.Fatal("a score without a bound was given up")
			}
			scores = append(scores, of.score)
			for _, i := range c {
				one[i] = min(one[i], of.score)
			}
		}
		slices.Sort(scores)
		s.collect(before, true)
		if len(s.best) != min(perPass, len(scores)) {
			t.Fatalf("%d are kept of %d", len(s.best), len(scores))
		}
		for i, c := range s.best {
			if c.score != scores[i] {
				t.Fatalf("place %d: score %v, want %v", i, c.score, scores[i])
			}
		}
		for i := range one {
			if s.perOne[i].score != one[i] {
				t.Errorf("best of point %d: score %v, want %v", i, s.perOne[i].score, one[i])
			}
		}
	}
}

// Points that keep few of their distances are held against a pose first, so that a bad one is
// given up soon; of as many the first in order.
func TestDoubtfulPointsComeFirst(t *testing.T) {
	m, _ := threeParts([3]int{8, 0, 0}, 1)
	for i := range m.To {
		m.To[i] = m.From[i]
	}
	m.To[5] = m.To[5].Add(Vec{300, -200, 100})
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	s := newTripleSearch(x)
	for k, i := range []int{5, 0, 1, 2, 3, 4, 6, 7} {
		if s.inRow[k].from != m.From[i] {
			t.Errorf("place %d is not of point %d", k, i)
		}
	}
}

// A triple belongs to what it fits, however badly.
func TestTripleIsAmongItsOwn(t *testing.T) {
	m, _ := threeParts([3]int{8, 0, 0}, 1)
	m.To[2] = m.To[2].Add(Vec{300, -200, 100})
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	s := newTripleSearch(x)
	c := scored{t: triple{0, 2, 5}}
	s.pose(&c)
	set := s.inliers(&c)
	for _, i := range c.t {
		if !set.Has(int(i)) {
			t.Errorf("point %d is not in", i)
		}
	}
}

// Which member is put out: the worst, the first of the points too.
func TestWorstMemberIsPutOut(t *testing.T) {
	for bad := range 8 {
		m, _ := threeParts([3]int{8, 0, 0}, 1)
		for i := range m.To {
			m.To[i] = m.From[i]
		}
		m.To[bad] = m.To[bad].Add(Vec{0, 0, 9})
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		b, err := x.Evaluate(SetOf(0, 1, 2, 3, 4, 5, 6, 7))
		if err != nil {
			t.Fatal(err)
		}
		if !x.congruent(&b) || b.Set.Has(bad) || b.Set.Len() != 7 {
			t.Errorf("point %d moved: left %v", bad, b.Set.Members())
		}
	}
}

// Segments whose middles are all in one place, or in two, are halved like any others: as near as the
// nearest of them. Expected: one by one.
func TestSegmentsAboutOnePlace(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	for _, places := range []int{1, 2, 3} {
		for n := range 40 {
			var ends [][2]Vec
			for i := range n {
				mid := Vec{float64(i % places), 0, 0}
				half := Vec{float64(r.IntN(4)), float64(r.IntN(4)), float64(r.IntN(4))}
				ends = append(ends, [2]Vec{mid.Sub(half), mid.Add(half)})
			}
			p, q := Vec{5 * r.Float64(), 6, 1}, Vec{-3, 6 * r.Float64(), 2}
			want := math.Inf(1)
			for _, e := range ends {
				want = min(want, SegmentsDist(p, q, e[0], e[1]))
			}
			if got := NewSegments(ends).Nearer(math.Inf(1), p, q); got != want {
				t.Errorf("%d segments about %d places: %v, want %v", n, places, got, want)
			}
		}
	}
}

// Blocks that lie among one another, so that no cut along an axis divides them, are found by their
// triples: every second point moved as one, or every third and two of three against one another.
func TestBlocksThatNoCutDivides(t *testing.T) {
	for seed := uint64(1); seed <= 6; seed++ {
		blocks := 2 + int(seed%2)
		rng := rand.New(rand.NewPCG(seed, 31))
		gauss := func(s float64) Vec { return Vec{s * rng.NormFloat64(), s * rng.NormFloat64(), s * rng.NormFloat64()} }
		var m Matches
		want := make([]Set, blocks)
		var moved []Rigid
		for k := range blocks {
			moved = append(moved, Rigid{R: FromRotationVector(gauss(0.002)), T: Vec{0, 25 * float64(k), 15 * float64(k*k)}})
		}
		for i := range 8 * blocks {
			p := Vec{4000 * rng.Float64(), 1400 * rng.Float64(), 900 * rng.Float64()}
			k := i % blocks
			want[k].Put(i)
			m.From, m.To = append(m.From, p), append(m.To, moved[k].Apply(p).Add(gauss(0.4)))
			m.CovFrom, m.CovTo = append(m.CovFrom, Mat3{}), append(m.CovTo, Isotropic(0.5))
		}
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		best := x.Partitions(4, 1).Partitions[0]
		for k := range want {
			if !slices.ContainsFunc(best.Blocks, func(b Block) bool { return b.Set == want[k] }) {
				t.Errorf("seed %d: block %d is not found: %d blocks", seed, k, len(best.Blocks))
			}
		}
	}
}

// A side that changed by just 4.5 standard deviations is looked at: of a triangle with sides of 100,
// 130 and 130 the first becomes 136, and two variances of 32 make a standard deviation of 8.
func TestTripleAtTheGate(t *testing.T) {
	for to, want := range map[float64]bool{136: true, 137: false, 64: true, 63: false} {
		m := Matches{From: []Vec{{0, 0, 0}, {100, 0, 0}, {50, 120, 0}}, To: []Vec{{0, 0, 0}, {to, 0, 0}, {to / 2, math.Sqrt(130*130 - to*to/4), 0}}}
		for range 3 {
			m.CovFrom, m.CovTo = append(m.CovFrom, Mat3{}), append(m.CovTo, Diag3(Vec{32, 32, 32}))
		}
		x, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		s := newTripleSearch(x)
		if s.all(); (len(s.triples) == 1) != want {
			t.Errorf("a side of %g: %v", to, s.triples)
		}
		d := newTripleSearch(x)
		if d.draw(100, 3); (len(d.triples) > 0) != want {
			t.Errorf("a side of %g: %d are drawn", to, len(d.triples))
		}
	}
}

// How far off a block stands: the first by the middle of the points outside it over that of
// chi-square, another by the mean misfit of its own points against the first; neither below 1, and
// nothing where nothing is outside.
func TestHowFarOffABlockStands(t *testing.T) {
	m, _ := threeParts([3]int{9, 0, 0}, 1)
	m.To = slices.Clone(m.From)
	for i := range m.CovTo {
		m.CovTo[i] = Isotropic(1)
	}
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	first, err := x.Evaluate(SetOf(0, 1, 2, 3, 4, 5))
	if err != nil {
		t.Fatal(err)
	}
	pl := newPool(x, 3)
	for _, c := range []struct {
		off  [3]float64 // times the median of chi-square, of the points 6, 7 and 8
		want float64
	}{{[3]float64{1.5, 9, 0.2}, 1.5}, {[3]float64{1, 1.25, 7}, 1.25}, {[3]float64{0.5, 0.75, 9}, 1}} {
		for k, v := range c.off {
			first.T[6+k] = v * medianChi3
		}
		near(t, "the first", pl.farOff([]Block{first}, 0), c.want, 1e-12)
	}
	whole := first
	for i := range 9 {
		whole.Set.Put(i)
	}
	if got := pl.farOff([]Block{whole}, 0); got != 0 {
		t.Errorf("with nothing outside: %v", got)
	}
	for _, c := range []struct{ shift, want float64 }{{3, 3}, {2, 4. / 3}, {1, 1}} { // squares over 3 coordinates
		for i := 6; i < 9; i++ {
			m.To[i] = m.From[i].Add(Vec{0, 0, c.shift})
		}
		near(t, "another", pl.farOff([]Block{first, {Set: SetOf(6, 7, 8)}}, 1), c.want, 1e-9)
	}
}

// Of equal eigenvalues the vectors are in the order of the axes, and of a matrix that is diagonal the
// axes themselves.
func TestEqualEigenvalues(t *testing.T) {
	for _, c := range []struct {
		of   Vec
		want Mat3
	}{{Vec{2, 2, 2}, Identity3()}, {Vec{}, Identity3()}, {Vec{3, 2, 2}, Identity3()}, {Vec{3, 3, 2}, Identity3()}, {Vec{2, 3, 3}, Mat3{{0, 0, 1}, {1, 0, 0}, {0, 1, 0}}}} {
		if w, v := SymEigen(Diag3(c.of)); v != c.want || w[0] < w[1] || w[1] < w[2] {
			t.Errorf("%v: %v %v", c.of, w, v)
		}
	}
}
