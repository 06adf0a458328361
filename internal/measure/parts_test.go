package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// A point that hangs on points of one plane is mirrored in that plane, however small it is; one that
// hangs on fewer than three, or on a line, is not. The plane is drawn, and the point set off it by hand.
func TestPointIsMirroredInThePlaneItHangsOn(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 6))
	for range 20 {
		v := func() geom.Vec { return geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()} }
		n, o := v().Unit(), v().Scale(100)
		u := n.Cross(v()).Unit()
		w := n.Cross(u)
		nw, at := &network{}, []geom.Vec{o.Add(n.Scale(7)).Add(u.Scale(3))}
		hang := func(count int, across float64) {
			nw.Obs, at = nil, at[:1]
			for k := range count {
				at = append(at, o.Add(u.Scale(100*float64(k)+rng.Float64())).Add(w.Scale(across*float64(k*k%5))))
				x := geom.NetObs{A: 0, B: k + 1}
				if k%2 == 1 {
					x.A, x.B = x.B, x.A
				}
				nw.Obs = append(nw.Obs, x, geom.NetObs{A: k + 1, B: k + 1})
			}
		}
		for _, count := range []int{3, 5} {
			hang(count, 100)
			if got, ok := mirroredIn(nw, at, 0); !ok || got.Dist(at[0].Sub(n.Scale(14))) > 1e-6 {
				t.Fatalf("mirrored to %v (%v), want %v", got, ok, at[0].Sub(n.Scale(14)))
			}
			const small = 0x1p-12
			for k := range at {
				at[k] = at[k].Scale(small)
			}
			if got, ok := mirroredIn(nw, at, 0); !ok || got.Dist(at[0].Sub(n.Scale(14*small))) > 1e-6*small {
				t.Fatalf("mirrored to %v (%v), want %v", got, ok, at[0].Sub(n.Scale(14*small)))
			}
			for k := range at {
				at[k] = at[k].Scale(1 / small)
			}
		}
		hang(2, 100)
		if got, ok := mirroredIn(nw, at, 0); ok {
			t.Fatalf("mirrored to %v in the plane of two points", got)
		}
	}
	line := &network{Network: geom.Network{Obs: []geom.NetObs{{A: 0, B: 1}, {A: 0, B: 2}, {A: 0, B: 3}}}}
	if got, ok := mirroredIn(line, []geom.Vec{{0, 5, 0}, {1, 0, 0}, {2, 0, 0}, {3, 0, 0}}, 0); ok {
		t.Errorf("mirrored to %v in a line", got)
	}
}

// A shift lies along an axis when it is five times (our choice) as long there as along either
// other, and is a slip from minSlip on; both inclusive.
func TestAxisOfASlip(t *testing.T) {
	for a := range 3 {
		for _, sign := range []float64{1, -1} {
			shift := func(main, next, last float64) geom.Vec {
				var d geom.Vec
				d[a], d[(a+1)%3], d[(a+2)%3] = sign*main, next, -last
				return d
			}
			for _, c := range []struct {
				d           geom.Vec
				along, slip int
			}{
				{shift(minSlip, 0, 0), a, a}, {shift(minSlip-0.001, 0, 0), a, -1}, {shift(5*minSlip, minSlip, minSlip), a, a},
				{shift(5*minSlip-0.01, minSlip, 0), -1, -1}, {shift(5*minSlip-0.01, 0, minSlip), -1, -1},
			} {
				if got := alongAxis(c.d); got != c.along {
					t.Errorf("%v lies along axis %d, want %d", c.d, got, c.along)
				}
				if got := mainAxis(c.d); got != c.slip {
					t.Errorf("%v is a slip along axis %d, want %d", c.d, got, c.slip)
				}
			}
		}
	}
}

// Away from the impact: rearward and right as the axes of the body have them.
func TestAwayFromTheImpact(t *testing.T) {
	for _, c := range []struct {
		x, y   body.Direction
		impact string
		want   geom.Vec
	}{
		{"rearward", "right", "front", geom.Vec{1, 0, 0}}, {"rearward", "right", "rear", geom.Vec{-1, 0, 0}},
		{"rearward", "right", "left", geom.Vec{0, 1, 0}}, {"rearward", "right", "right", geom.Vec{0, -1, 0}},
		{body.Forward, "right", "front", geom.Vec{-1, 0, 0}}, {body.Forward, "right", "left", geom.Vec{0, 1, 0}},
		{"rearward", body.Left, "left", geom.Vec{0, -1, 0}}, {"rearward", body.Left, "front", geom.Vec{1, 0, 0}},
		{body.Forward, body.Left, "rear-right", geom.Vec{1, 1, 0}.Unit()}, {"rearward", "right", "", geom.Vec{}},
	} {
		p := &problem{in: Input{Axes: body.Axes{X: c.x, Y: c.y}, Impact: job.ImpactSide(c.impact)}}
		if got := p.awayFromImpact(); got.Dist(c.want) > 1e-12 {
			t.Errorf("x %s, y %s, impact %q: %v, want %v", c.x, c.y, c.impact, got, c.want)
		}
	}
}

// A temperature that is given without its uncertainty is taken as exact, and that is said; of
// one with its uncertainty nothing is. Where nobody knows how warm the body or the device was, the
// range is told with what it makes of every length: twice its standard uncertainty, of a
// rectangular distribution its width by the square root of 12 (JCGM 100:2008, 4.3.7).
func TestTemperaturesSayHowSureTheyAre(t *testing.T) {
	notes := func(s job.Setup, perK float64) map[string]string {
		in := newCar(16, 71).measure(0.1)
		in.Thermal = Thermal{BodyPerK: perK, ReferenceC: 20, LowC: 8, HighC: 32}
		s.ID = "S1"
		in.Setups = []job.Setup{s}
		r, _ := Run(in)
		out := map[string]string{}
		for _, n := range r.Notes {
			out[strings.TrimPrefix(n.Code, "measure.")] += n.Text
		}
		return out
	}
	at := func(c unit.Celsius, std unit.Kelvin) job.Setup { return job.Setup{Temp: unit.Some(c), TempStd: std} }
	device := func(g job.DeviceGrowth) job.Setup {
		s := at(19, 0.5)
		g.Expansion, g.Reference, g.Low, g.High = 11, 20, 10, 30
		s.Growth = &g
		return s
	}
	for _, c := range []struct {
		name  string
		setup job.Setup
		perK  float64
		code  string
		says  string // empty: nothing of the code is said
	}{
		{"exact", at(19, 0), 23e-6, "temperature-exact", "temperature of the body"},
		{"uncertain", at(19, 0.5), 23e-6, "temperature-exact", ""},
		{"not known", job.Setup{}, 23e-6, "no-temperature", "by 319 parts per million"}, // 2 x 23 x 24 / 3.4641
		{"known", at(19, 0.5), 23e-6, "no-temperature", ""},
		{"device exact", device(job.DeviceGrowth{Temp: unit.Some(unit.Celsius(19))}), 23e-6, "temperature-exact", "temperature of the device"},
		{"device uncertain", device(job.DeviceGrowth{Temp: unit.Some(unit.Celsius(19)), TempStd: 0.5}), 23e-6, "temperature-exact", ""},
		{"device not known", device(job.DeviceGrowth{}), 23e-6, "no-device-temperature", "by 127 parts per million"}, // 2 x 11 x 20 / 3.4641
		{"device half as long", device(job.DeviceGrowth{Temp: unit.Some(unit.Celsius(-45440))}), 23e-6, "thermal-unusable", "make no sense"},
		{"device hardly more than half", device(job.DeviceGrowth{Temp: unit.Some(unit.Celsius(-45420))}), 23e-6, "thermal-unusable", ""},
		{"half as long", at(14.9, 0.5), 0.1, "thermal-unusable", "make no sense"},
		{"hardly more than half", at(15.1, 0.5), 0.1, "thermal-unusable", ""},
	} {
		got := notes(c.setup, c.perK)
		if text, ok := got[c.code]; ok != (c.says != "") || !strings.Contains(text, c.says) {
			t.Errorf("%s: %s %q, want %q", c.name, c.code, text, c.says)
		}
	}
}

// A bend of the whole body is named as a reason for doubt where it explains the readings less
// than rivalBIC worse than the best split, and not where the difference is greater; by as much
// better as makes a split unlikely it is found itself, or only a part is bent. Bends of 4 to
// 10 mm, which are near the splits in both directions.
func TestABendNearTheSplitIsNamedSeeds(t *testing.T) {
	worse, better, ties := 0, 0, 0
	for seed := range uint64(draws(40, 300)) {
		c := newCar(14+int(seed%12), seed)
		size := 4 + float64(seed%7)
		for i, p := range c.at {
			c.shift[i] = geom.Vec{0, 0.5, 0.87}.Scale(size * p[0] * p[0] / (4500 * 4500))
		}
		p := prepare(c.measure(0.7))
		e := p.locate()
		r := p.emptyResult()
		_, near, x := p.search(e, &r)
		if x == nil || len(near) == 0 {
			continue
		}
		for _, off := range []float64{rivalBIC + 0.01, rivalBIC - 0.01, 0.01, -0.01, -rivalBIC + 0.01, -rivalBIC - 0.01, -unlikelyBIC + 0.01} {
			var all geom.Set
			for i := range x.Len() {
				all.Put(i)
			}
			least := bendCost(x, &all)
			if math.IsInf(least, 1) {
				continue
			}
			held := near[0]
			held.BIC = least - off
			var told Result
			found := p.bent(x, []geom.Partition{held}, &told)
			var rest geom.Set
			for m := range held.Blocks {
				rest.Join(&held.Blocks[m].Set)
			}
			if math.IsInf(bendCost(x, &rest), 1) {
				continue // without the points in no block no bend shows
			}
			if named := len(told.Why) > 0; found || named != (off < rivalBIC) {
				t.Errorf("seed %d: %g worse than the split: found %v, named %v", seed, off, found, told.Why)
			}
			if off > 0 {
				worse++
			} else {
				better++
			}
		}
		ties += bendsAtTheBorders(t, p, x, near[0])
	}
	if worse < 20 || better < 20 || ties < 10 {
		t.Errorf("only %d worse and %d better, %d at the borders", worse, better, ties)
	}
}

// bendsAtTheBorders holds a bend against splits that it is worse and better than by the very differences
// from which it is not named, and up to which it is not found; how many there were.
func bendsAtTheBorders(t *testing.T, p *problem, x *geom.Matcher, held geom.Partition) (n int) {
	var all, rest geom.Set
	for i := range x.Len() {
		all.Put(i)
	}
	for m := range held.Blocks {
		rest.Join(&held.Blocks[m].Set)
	}
	least := bendCost(x, &all)
	if math.IsInf(least, 1) || math.IsInf(bendCost(x, &rest), 1) {
		return 0
	}
	for _, border := range []float64{rivalBIC, -unlikelyBIC} {
		held.BIC = least - border
		if held.BIC+border != least {
			continue // no number is so much less
		}
		n++
		var told Result
		if found := p.bent(x, []geom.Partition{held}, &told); found || (len(told.Why) > 0) != (border < 0) {
			t.Errorf("%g worse than the split: found %v, named %v", border, found, told.Why)
		}
	}
	return n
}

// bendCost is the least cost of a bend of a set that shows and fits; infinite when there is none.
func bendCost(x *geom.Matcher, set *geom.Set) float64 {
	cost := math.Inf(1)
	for _, b := range x.Bends(set) {
		if b.Test > bendShows && geom.ChiSquareTail(b.Chi2, b.DOF) >= geom.AlphaBlock {
			cost = min(cost, b.Chi2+float64(float64(b.Parameters)*elem.Log(float64(3*x.Len())))+2*elem.Log(100))
		}
	}
	return cost
}

// Nothing has stretched as a whole where there are no readings to fit, or no split to hold it
// against: the weight is nothing, and no scale is suspected.
func TestNothingStretchedWithoutASplit(t *testing.T) {
	p := prepare(newCar(16, 50).measure(0.5))
	e := p.locate()
	r := p.emptyResult()
	_, near, x := p.search(e, &r)
	if len(near) == 0 || p.stretched(e, x, near, &r) <= 0 {
		t.Fatalf("%d splits, and no weight of a stretch beside them", len(near))
	}
	away := *e
	away.base = -1
	for name, got := range map[string]float64{"nothing to fit": p.stretched(e, nil, near, &r), "no split": p.stretched(e, x, nil, &r), "no readings of places": p.stretched(&away, x, near, &r)} {
		if got != 0 {
			t.Errorf("%s: weight %g", name, got)
		}
	}
	if len(r.Suspects) > 0 {
		t.Errorf("suspects %+v", r.Suspects)
	}
}

// The scale is suspected where all distances are out by more than 100 parts per million (our
// choice, beside scalePPM) and the readings fit better without; a deviation below that is never
// undone, however surely it shows: points known to 0.01 mm over 4.5 m show 20 of them.
func TestScaleIsSuspectedFromItsBoundOn(t *testing.T) {
	for _, c := range []struct {
		ppm  float64
		want bool
	}{{-1000, true}, {-110, true}, {-90, false}, {0, false}, {90, false}, {110, true}, {1000, true}} {
		in := newCar(20, 51).measure(0.01)
		scale(&in, 1+c.ppm*1e-6)
		p := prepare(in)
		e := p.locate()
		var r Result
		p.suspectScale(e, nil, &r)
		if got := len(r.Suspects) > 0; got != c.want {
			t.Errorf("%g parts per million: %+v", c.ppm, r.Suspects)
		}
	}
}

// The number of set-ups that is suggested is the least that decides, two to twelve; only where
// twelve do not is a better device. By the verdict of a mean of so many, one by one.
func TestSetupsSuggestedAreTheFewestThatDecide(t *testing.T) {
	p := body.Point{ID: "A1", Tol: unit.Some(3.0)}
	decided := func(off geom.Vec, cov geom.Mat3) bool {
		return !nearLimit(p, off, cov, 0) && Conform(p, off, cov, 0).Verdict != Undecided
	}
	seen := map[int]bool{}
	for k := range 200 {
		off, own := geom.Vec{2 + 0.005*float64(k), 0, 0}, geom.Isotropic(0.5)
		want := 0
		for n := 12; n > 1; n-- { // further ones decide too
			if decided(off, own.Scale(1/float64(n))) {
				want = n
			}
		}
		got := finer(p, off, own, geom.Mat3{}, 0)
		if got.Setups != want || (got.Kind == NeedsSetups) != (want > 0) || (got.Kind == NeedsBetterDevice) != (want == 0) {
			t.Errorf("%g mm off: %+v, want %d set-ups", off[0], got, want)
		}
		if want > 0 && math.Abs(got.StdMM-0.5/math.Sqrt(float64(want))) > 1e-12 {
			t.Errorf("%g mm off: %d set-ups and %g mm", off[0], want, got.StdMM)
		}
		seen[want] = true
	}
	if len(seen) != 12 {
		t.Errorf("only these numbers were asked for: %v", seen)
	}
}

// What the impact hit, by hand: six points nearest to it, of which blocks hold most, or half.
func TestWhatWasHit(t *testing.T) {
	for _, c := range []struct {
		held, of     int
		clear        bool
		common, size int
		want         bool
	}{
		{4, 6, false, 0, 8, true}, {3, 6, false, 8, 8, false}, {3, 6, true, 6, 8, true}, {3, 6, true, 5, 8, false},
		{2, 6, true, 8, 8, false}, {2, 4, true, 3, 4, true}, {2, 4, true, 2, 4, false}, {0, 0, true, 0, 4, false}, {3, 4, false, 0, 4, true},
	} {
		if got := wasHit(c.held, c.of, c.clear, c.common, c.size); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// The block that was left alone holds more than half of the references, where there are three;
// otherwise most of the points steady at both stages, and no other more than half as many. By
// counts of every block, sorted.
func TestBlockLeftAloneSeed21(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 21))
	byRefs, open := 0, 0
	for range 2000 {
		w := &pair{}
		blocks := make([]geom.Block, 1+rng.IntN(4))
		for i := range 16 {
			if k := rng.IntN(len(blocks) + 1); k < len(blocks) {
				blocks[k].Set.Put(i)
			}
			if rng.IntN(2) == 0 {
				w.steady.Put(i)
			}
			if rng.IntN(6) == 0 {
				w.refs.Put(i)
			}
		}
		best, decided := w.choose(blocks)
		named := -1
		var counts []int
		for k := range blocks {
			if w.refs.Len() >= 3 && 2*blocks[k].Set.Common(&w.refs) > w.refs.Len() {
				named = k
			}
			counts = append(counts, blocks[k].Set.Common(&w.steady))
		}
		if named >= 0 {
			byRefs++
			if best != named || !decided {
				t.Errorf("block %d (%v) is taken, %d has the references", best, decided, named)
			}
			continue
		}
		sorted := append([]int{-1}, counts...)
		slices.Sort(sorted)
		most, second := sorted[len(sorted)-1], sorted[len(sorted)-2]
		if want := most > 0 && 2*second <= most; decided != want || decided && counts[best] != most {
			t.Errorf("block %d of %v is taken: %v", best, counts, decided)
		}
		if !decided {
			open++
		}
	}
	if byRefs < 50 || open < 50 {
		t.Errorf("%d by references, %d open", byRefs, open)
	}
}

// A section lies beyond the steady block, before it or beside it, its ends included; a mash
// lengthens the vehicle where it has the way outward, and nothing is said of one within twice
// its standard uncertainty.
func TestOutwardAndMash(t *testing.T) {
	p := &problem{}
	e, c := &epoch{}, &candidate{}
	for i, x := range []float64{300, -100, 900} {
		p.in.Points = append(p.in.Points, body.Point{X: x})
		e.points = append(e.points, i)
		c.steady.Put(i)
	}
	for x, want := range map[float64]float64{-101: -1, -100: 0, 400: 0, 900: 0, 901: 1} {
		g := &group{}
		g.fit.Centroid = geom.Vec{x, 5000, 0}
		if got := p.outward(e, c, g); got != want {
			t.Errorf("a section at %g: %g, want %g", x, got, want)
		}
	}
	for _, m := range []struct {
		value, std, outward float64
		want                string
	}{{5, 1, 1, "lengthened"}, {5, 1, -1, "shortened"}, {-5, 1, 1, "shortened"}, {-5, 1, -1, "lengthened"}, {5, 1, 0, ""}, {2, 1, 1, ""}, {-2, 1, 1, ""}, {2.01, 1, 1, "lengthened"}} {
		if got := mashMeans(Value{Value: m.value, Std: m.std}, m.outward); got != m.want {
			t.Errorf("%+v: %q", m, got)
		}
	}
}

// A candidate differs from others when there is, for each of them, a point on which they
// contradict one another or come to opposite verdicts.
func TestCandidatesDifferOnAPointSeeds(t *testing.T) {
	differ, alike := 0, 0
	for seed := range uint64(16) {
		c := newCar(16, 300+seed)
		c.moveRear(0.5, 10+float64(seed))
		c.moveAlone(1, 6)
		p := prepare(c.measure(0.7))
		e := p.locate()
		r := p.emptyResult()
		cs, near, x := p.search(e, &r)
		for n := range near {
			for k := range near[n].Blocks {
				if c, ok := p.examine(e, x, &near[n], k); ok && len(cs) < 8 {
					cs = append(cs, c)
				}
			}
		}
		lambda := p.pointTest(len(e.points)).Noncentrality
		for _, a := range cs {
			v, fromAll := p.rival(e, a, 1), true
			for _, b := range cs {
				want := false
				for i := range e.points {
					x, y := p.verdict(e, a, i).Verdict, p.verdict(e, b, i).Verdict
					if v.contradicts(b, i, b.detectable(i, lambda)) || x == Met && y == NotMet || x == NotMet && y == Met {
						want = true
					}
				}
				if got := p.differs(e, a, []*candidate{b}); got != want {
					t.Errorf("seed %d: differs %v, by its points %v", seed, got, want)
				}
				fromAll = fromAll && want
				if want {
					differ++
				} else {
					alike++
				}
			}
			if got := p.differs(e, a, cs); got != fromAll {
				t.Errorf("seed %d: differs from all %v, from each %v", seed, got, fromAll)
			}
		}
	}
	if differ < 20 || alike < 20 {
		t.Errorf("%d differ, %d alike", differ, alike)
	}
}
