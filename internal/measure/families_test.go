package measure

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// family is one way in which invented vehicles are damaged, measured and written
// down. made is an input with the vehicle whose shifts are the truth.
type family struct {
	name   string
	honest bool // the stated uncertainties and the record are true
	// all: the share of all points that must be firm and right.
	all float64
	// bent: no part stood still, so that what moved is asked in the frame in which it
	// is said, that of the points taken as steady. The share of runs that may be firm and
	// wrong in the frame of the shifts as drawn, with bends that hardly any reading shows.
	bent  float64
	bound float64
	made  func(seed uint64) (*car, Input)
}

// families are what the campaign draws. Of one end moved with the impact recorded
// there and six points or more on each side, bound of what a judge may say must be
// firm and right.
func families() []family {
	return append([]family{
		{name: "undamaged", honest: true, made: func(seed uint64) (*car, Input) {
			c := newCar(8+int(seed%41), seed)
			return c, c.measure(0.7)
		}},
		{name: "one end, impact there", honest: true, bound: 0.98, made: func(seed uint64) (*car, Input) { return oneEnd(seed, "rear") }},
		{name: "one end, every point by more than detectableMm, impact there", honest: true, bound: 0.98, all: 0.98, made: wholeEnd},
		{name: "one end, no impact", honest: true, made: func(seed uint64) (*car, Input) { return oneEnd(seed, "unknown") }},
		{name: "one end, impact falsely at the other", made: func(seed uint64) (*car, Input) { return oneEnd(seed, "front") }},
		{name: "both ends, impact at one", honest: true, made: func(seed uint64) (*car, Input) {
			return manyEnds(seed, []string{"front", "rear"}[seed%2])
		}},
		{name: "both ends, no impact", honest: true, made: func(seed uint64) (*car, Input) { return manyEnds(seed, "unknown") }},
		{name: "both ends, impact at a side", honest: true, made: func(seed uint64) (*car, Input) { return manyEnds(seed, "left") }},
		{name: "few behind a moved majority, impact there", honest: true, made: func(seed uint64) (*car, Input) { return fewBehind(seed, "rear") }},
		{name: "few behind a moved majority, no impact", honest: true, made: func(seed uint64) (*car, Input) { return fewBehind(seed, "unknown") }},
		{name: "few between two moved ends", honest: true, made: fewBetween},
		{name: "one shift of detectableMm", honest: true, made: detectable},
		{name: "single points, 10 %", honest: true, made: func(seed uint64) (*car, Input) { return scattered(seed, 0.10) }},
		{name: "single points, 30 %", honest: true, made: func(seed uint64) (*car, Input) { return scattered(seed, 0.30) }},
		{name: "single points, 45 %", honest: true, made: func(seed uint64) (*car, Input) { return scattered(seed, 0.45) }},
		{name: "diamond", honest: true, made: func(seed uint64) (*car, Input) { return deformed(seed, diamondShift) }},
		{name: "twist", honest: true, made: func(seed uint64) (*car, Input) { return deformed(seed, twistShift) }},
		{name: "bent rear", honest: true, made: func(seed uint64) (*car, Input) { return deformed(seed, bentShift) }},
		{name: "bent as a whole", honest: true, bent: 0.005, made: func(seed uint64) (*car, Input) { return bentWhole(seed, 14+int(seed%30)) }},
		{name: "bent as a whole, few points", honest: true, bent: 0.005, made: func(seed uint64) (*car, Input) { return bentWhole(seed, 6+int(seed%7)) }},
		{name: "bent as a whole, and an end moved", honest: true, bent: 0.02, made: bentAndMoved},
		{name: "arched across", honest: true, bent: 1, made: archedAcross},
		{name: "slip in a nominal place", made: slippedNominal},
		{name: "slip in a reading", made: slippedReading},
		{name: "labels swapped", made: swapped2},
		{name: "left and right exchanged", made: mirrored},
		{name: "rough device", honest: true, made: func(seed uint64) (*car, Input) {
			c := newCar(12+int(seed%25), seed)
			if seed%2 == 1 {
				c.moveRear(0.3, 10+float64(seed%50))
			}
			in := c.measure(3 * []float64{0.5, 0.8, 1.2, 1.7, 2.3, 3}[seed%6])
			in.Impact = "rear"
			return c, in
		}},
		{name: "mixed devices", honest: true, made: mixedDevices},
		{name: "manufacturing spread given", honest: true, made: func(seed uint64) (*car, Input) { return withSpread(seed, true) }},
		{name: "manufacturing spread not given", made: func(seed uint64) (*car, Input) { return withSpread(seed, false) }},
		{name: "stated uncertainty x 0.5", made: func(seed uint64) (*car, Input) { return misstated(seed, 0.5) }},
		{name: "stated uncertainty x 2", made: func(seed uint64) (*car, Input) { return misstated(seed, 2) }},
		{name: "heavy tails", made: heavyTails},
		{name: "one reading 12 mm off", made: misread},
		{name: "several set-ups, poor overlap", honest: true, made: poorOverlap},
		{name: "lengths only, little redundancy", honest: true, made: lengthsOnly},
		{name: "heights only", honest: true, made: heightsOnly},
		{name: "copied rows", made: copies},
	}, rareFamilies()...)
}

// alongX is the points of a vehicle from the front to the rear.
func (c *car) alongX() []int {
	order := make([]int, len(c.at))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		if c.at[a][0] < c.at[b][0] {
			return -1
		}
		return 1
	})
	return order
}

func oneEnd(seed uint64, impact string) (*car, Input) {
	n := 14 + int(seed%31)
	c := newCar(n, seed)
	k := 6 + c.rng.IntN(max(1, n/2-6))
	c.moveRear(float64(k)/float64(n), 3+57*math.Pow(c.rng.Float64(), 2))
	in := c.measure(0.7)
	in.Impact = job.ImpactSide(impact)
	return c, in
}

// wholeEnd is one end of which every point moved by more than is detectable.
func wholeEnd(seed uint64) (*car, Input) {
	for least := 3.0; ; least += 3 {
		n := 14 + int(seed%31)
		c := newCar(n, seed)
		k := 6 + c.rng.IntN(max(1, n/2-6))
		c.moveRear(float64(k)/float64(n), least+30*math.Pow(c.rng.Float64(), 2))
		in := c.measure(0.7)
		in.Impact = "rear"
		lambda := newPointTest(n).Noncentrality
		p := prepare(in)
		e := p.locate()
		x, err := geom.NewMatcher(p.matches(e))
		if err != nil {
			return c, in
		}
		var part geom.Partition
		for _, moved := range []bool{false, true} {
			var set geom.Set
			for i, d := range c.shift {
				if (d != geom.Vec{}) == moved {
					set.Put(i)
				}
			}
			b, err := x.Evaluate(set)
			if err != nil {
				return c, in
			}
			part.Blocks = append(part.Blocks, b)
		}
		cand, ok := p.examine(e, x, &part, 0)
		beyond := ok
		for i, d := range c.shift {
			beyond = beyond && (d == geom.Vec{} || d.Norm() > cand.detectable(i, lambda))
		}
		if beyond {
			return c, in
		}
	}
}

func manyEnds(seed uint64, impact string) (*car, Input) {
	sizes := [][3]int{{12, 10, 8}, {8, 10, 12}, {10, 10, 10}, {7, 8, 15}}[seed%4]
	c := bothEnds(sizes, seed)
	in := c.measure([]float64{0.7, 0.15}[seed/4%2])
	in.Impact = job.ImpactSide(impact)
	return c, in
}

func fewBehind(seed uint64, impact string) (*car, Input) {
	k := []int{4, 5, 6, 8}[seed%4]
	n := max(10, k+4) + int(seed/4%17)
	c := newCar(n, seed)
	c.moveTogether(c.alongX()[k:], 4+26*c.rng.Float64())
	in := c.measure(0.7)
	in.Impact = job.ImpactSide(impact)
	return c, in
}

func fewBetween(seed uint64) (*car, Input) {
	k := []int{4, 5, 6, 8}[seed%4]
	c := bothEnds([3]int{6 + int(seed/4%4), k, 6 + int(seed/16%4)}, seed)
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"front", "rear", "unknown"}[seed%3]
	return c, in
}

// detectable shifts the point that is seen worst of the decided ones by just what
// its result states, in the direction in which it shows least.
func detectable(seed uint64) (*car, Input) {
	n := 8 + int(seed%23)
	still, _ := Run(newCar(n, seed).measure(0.3))
	h, _ := still.Best()
	at, most := -1, 0.0
	for i, p := range h.Points {
		if p.Steady && p.Tolerance != Undecided && p.Detectable > most {
			at, most = i, p.Detectable
		}
	}
	c := newCar(n, seed)
	if at >= 0 {
		_, axes := geom.SymEigen(h.Points[at].FromNominalCov)
		c.shift[at] = geom.Vec{axes[0][0], axes[1][0], axes[2][0]}.Scale(most)
	}
	return c, c.measure(0.3)
}

func scattered(seed uint64, share float64) (*car, Input) {
	n := 12 + int(seed%31)
	c := newCar(n, seed)
	c.moveAlone(int(math.Round(share*float64(n))), []float64{4, 8, 12, 30}[seed%4])
	return c, c.measure(0.7)
}

func deformed(seed uint64, shift func(x, y, z, size float64) geom.Vec) (*car, Input) {
	c := newCar(16+int(seed%25), seed)
	size := 3 + 27*c.rng.Float64()
	for i, p := range c.at {
		if p[0] > 2700 {
			c.shift[i] = shift(p[0]-2700, p[1], p[2], size)
		}
	}
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"rear", "unknown"}[seed%2]
	return c, in
}

func diamondShift(x, y, z, size float64) geom.Vec { return geom.Vec{size * y / 700, 0, 0} }
func twistShift(x, y, z, size float64) geom.Vec {
	return geom.Vec{0, -size * z / 700 * x / 1800, size * y / 700 * x / 1800}
}
func bentShift(x, y, z, size float64) geom.Vec {
	return geom.Vec{0, 0.6, 0.8}.Scale(size * x * x / (1800 * 1800))
}

func bentWhole(seed uint64, n int) (*car, Input) {
	c := newCar(n, seed)
	size, dir := 4+36*c.rng.Float64(), 2*math.Pi*c.rng.Float64()
	for i, p := range c.at {
		x := p[0] / 4500
		c.shift[i] = geom.Vec{0, math.Cos(dir), math.Sin(dir)}.Scale(size * x * x)
	}
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"rear", "unknown", "front"}[seed%3]
	return c, in
}

// bentAndMoved is bent from end to end, and its rear moved as one besides.
func bentAndMoved(seed uint64) (*car, Input) {
	c, _ := bentWhole(seed, 16+int(seed%25))
	c.moveRear(0.3, 6+float64(seed%25))
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"rear", "unknown"}[seed%2]
	return c, in
}

// archedAcross is u = a y^2, along the vehicle or up.
func archedAcross(seed uint64) (*car, Input) {
	c := newCar(14+int(seed%30), seed)
	size, dir := 4+36*c.rng.Float64(), 2*math.Pi*c.rng.Float64()
	for i, p := range c.at {
		y := p[1] / 800
		c.shift[i] = geom.Vec{math.Cos(dir), 0, math.Sin(dir)}.Scale(size * y * y)
	}
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"rear", "unknown", "left"}[seed%3]
	return c, in
}

func slippedNominal(seed uint64) (*car, Input) {
	c := newCar(12+int(seed%30), seed)
	if seed%2 == 1 {
		c.moveRear(0.3, 8+float64(seed%20))
	}
	in := c.measure(0.7)
	in.Impact = "rear"
	for range 1 + seed%3 {
		i := c.rng.IntN(len(c.at))
		in.Points[i].X += []float64{100, 1000, -200, 40, -3000, 20, 27}[c.rng.IntN(7)]
	}
	return c, in
}

func slippedReading(seed uint64) (*car, Input) {
	c := newCar(12+int(seed%30), seed)
	in := c.measure(0.7)
	for range 1 + seed%3 {
		i := c.rng.IntN(len(c.at))
		in.Readings[i].Y.Value += []float64{100, 1000, -20, 40, -300, 9, 27}[c.rng.IntN(7)]
	}
	return c, in
}

func swapped2(seed uint64) (*car, Input) {
	c := newCar(12+int(seed%30), seed)
	in := c.measure(0.7)
	for range 1 + seed%2 {
		i := c.rng.IntN(len(c.at))
		j := (i + 1 + c.rng.IntN(3)) % len(c.at)
		in.Readings[i].From, in.Readings[j].From = in.Readings[j].From, in.Readings[i].From
	}
	return c, in
}

// mirrored exchanges the labels of all twins of a body whose sides differ.
func mirrored(seed uint64) (*car, Input) {
	n := 12 + 2*int(seed%16)
	c := newCar(n, seed)
	for i := 1; i < n; i += 2 {
		c.at[i] = geom.Vec{c.at[i-1][0], -c.at[i-1][1], c.at[i-1][2]}.Add(c.gauss().Scale(float64(seed % 60)))
	}
	if seed%3 == 1 {
		c.moveRear(0.3, 8+float64(seed%20))
	}
	in := c.measure(0.7)
	in.Impact = "rear"
	for i := range in.Readings {
		in.Readings[i].From = in.Points[i^1].ID
		in.Points[i].Mirror = in.Points[i^1].ID
	}
	return c, in
}

func mixedDevices(seed uint64) (*car, Input) {
	c := newCar(14+int(seed%25), seed)
	c.moveRear(0.3, 4+float64(seed%30))
	in := c.measure(0.3)
	in.Impact = "rear"
	for i := range in.Readings {
		if c.rng.IntN(3) == 0 {
			more := 0.5 + 3*c.rng.Float64()
			rd, g := &in.Readings[i], c.gauss().Scale(more)
			rd.X.Value, rd.Y.Value, rd.Z.Value = rd.X.Value+g[0], rd.Y.Value+g[1], rd.Z.Value+g[2]
			rd.Std = unit.Some(math.Hypot(0.3, more))
		}
	}
	return c, in
}

// withSpread builds every point with an error of its own, which is no motion.
func withSpread(seed uint64, given bool) (*car, Input) {
	c := newCar(12+int(seed%25), seed)
	spread := 0.3 + 0.9*c.rng.Float64()
	if seed%2 == 1 {
		c.moveRear(0.35, 10+float64(seed%30))
	}
	moved := slices.Clone(c.shift)
	for i := range c.shift {
		c.shift[i] = c.shift[i].Add(c.gauss().Scale(spread))
	}
	in := c.measure(0.3)
	c.shift, c.built = moved, make([]geom.Vec, len(c.shift))
	in.Impact = "rear"
	for i := range in.Points {
		in.Points[i].Std = unit.Maybe[float64]{}
		if given {
			in.Points[i].Std = unit.Some(spread)
		}
	}
	return c, in
}

func misstated(seed uint64, factor float64) (*car, Input) {
	c := newCar(10+int(seed%31), seed)
	if seed%2 == 1 {
		c.moveRear(0.35, 4+float64(seed%30))
	}
	in := c.measure(0.8)
	in.Impact = "rear"
	for i := range in.Readings {
		in.Readings[i].Std = unit.Some(0.8 * factor)
	}
	return c, in
}

// heavyTails has errors of Student's t with 3 degrees of freedom, scaled to the
// stated standard deviation.
func heavyTails(seed uint64) (*car, Input) {
	c := newCar(12+int(seed%31), seed)
	in := c.measure(1e-9)
	for i := range in.Readings {
		rd := &in.Readings[i]
		for _, v := range []*float64{&rd.X.Value, &rd.Y.Value, &rd.Z.Value} {
			g := c.gauss()
			*v += 0.7 / math.Sqrt(3) * c.rng.NormFloat64() / math.Sqrt(g.Dot(g)/3)
		}
		rd.Std = unit.Some(0.7)
	}
	return c, in
}

func misread(seed uint64) (*car, Input) {
	c := newCar(12+int(seed%31), seed)
	if seed%2 == 1 {
		c.moveRear(0.3, 8+float64(seed%30))
	}
	in := c.measure(0.7)
	in.Impact = "rear"
	still := c.alongX()[:len(c.at)*6/10]
	rd, g := &in.Readings[still[c.rng.IntN(len(still))]], c.gauss().Unit().Scale(12)
	rd.X.Value, rd.Y.Value, rd.Z.Value = rd.X.Value+g[0], rd.Y.Value+g[1], rd.Z.Value+g[2]
	return c, in
}

func poorOverlap(seed uint64) (*car, Input) {
	n := 18 + int(seed%20)
	c := newCar(n, seed)
	if seed%2 == 1 {
		c.moveRear(0.3, 5+float64(seed%30))
	}
	one := c.measure(0.5)
	in := Input{Points: one.Points, Impact: "rear"}
	order := c.alongX()
	cut, shared := n/2, 3+int(seed%3)
	m := geom.Rigid{R: geom.FromRotationVector(c.gauss()), T: c.gauss().Scale(900)}
	for rank, i := range order {
		if rank < cut+shared {
			in.Readings = append(in.Readings, one.Readings[i])
		}
		if rank >= cut {
			in.Readings = append(in.Readings, xyz("S2", in.Points[i].ID, m.Apply(c.at[i].Add(c.shift[i])).Add(c.gauss().Scale(0.7)), 0.7))
		}
	}
	return c, in
}

// lengthsOnly is 5 to 9 points with hardly more lengths than unknowns.
func lengthsOnly(seed uint64) (*car, Input) {
	n := 5 + int(seed%5)
	c := newCar(n, seed)
	if seed%3 > 0 {
		c.moveAlone(int(seed%3), []float64{8, 40, 200}[seed/3%3])
	}
	in := Input{Points: c.measure(1).Points, Impact: "unknown"}
	var pairs [][2]int
	for i := range n {
		for j := range i {
			pairs = append(pairs, [2]int{i, j})
		}
	}
	c.rng.Shuffle(len(pairs), func(i, j int) { pairs[i], pairs[j] = pairs[j], pairs[i] })
	for _, s := range pairs[:min(len(pairs), 3*n-6+int(seed/9%4))] {
		d := c.at[s[0]].Add(c.shift[s[0]]).Dist(c.at[s[1]].Add(c.shift[s[1]]))
		in.Readings = append(in.Readings, spanReading("T", "length", in.Points[s[0]].ID, in.Points[s[1]].ID, d+0.5*c.rng.NormFloat64(), 0.5))
	}
	return c, in
}

func heightsOnly(seed uint64) (*car, Input) {
	c := newCar(6+int(seed%12), seed)
	c.moveRear(0.4, float64(seed%20))
	in := Input{Points: c.measure(1).Points, Impact: "rear"}
	for i := range c.at {
		for j := range i {
			d := c.at[i].Add(c.shift[i])[2] - c.at[j].Add(c.shift[j])[2]
			in.Readings = append(in.Readings, spanReading("H", "height", in.Points[i].ID, in.Points[j].ID, d+0.3*c.rng.NormFloat64(), 0.3))
		}
	}
	return c, in
}

func copies(seed uint64) (*car, Input) {
	c := newCar(12+int(seed%20), seed)
	if seed%2 == 1 {
		c.moveRear(0.3, 6+float64(seed%20))
	}
	in := c.measure(0.7)
	in.Impact = "rear"
	for _, rd := range slices.Clone(in.Readings) {
		if c.rng.IntN(2) == 0 {
			in.Readings = append(in.Readings, rd, rd)
		}
	}
	return c, in
}

// outcome is what the statements of one family were worth.
type outcome struct {
	runs, ambiguous, none, points int
	firm                          int // points firm and right
	judge                         judged
	stillMissed, metWrong         int // runs: moved and firmly not moved; out and firmly met
	blockWrong, stillMoved        int // runs: a block firmly the wrong one; a still point firmly moved
	wrong                         int // runs with any of these
	silent                        int // such runs without a caution
	firmInDoubt                   int // runs: ambiguous, and something firm
	elsewhere                     int // runs of bent bodies that are wrong in the frame of the shifts as drawn
	statements, inside            int // 95 % regions of the shift in unambiguous runs
	shifted, found                int // shifts of detectableMm
	example                       string
}

// shownExamples is how many seeds of a family that are firm and wrong are printed.
const shownExamples = 5

// add runs one vehicle and judges every firm statement by the truth.
func (o *outcome) add(f *family, seed uint64) {
	c, in := f.made(seed)
	r, notes := Run(in)
	o.runs++
	if r.Ambiguous {
		o.ambiguous++
	}
	if len(r.Hypotheses) == 0 {
		o.none++
	}
	before := *o
	if r.Ambiguous && firmPoints(r) > 0 {
		o.firmInDoubt++
	}
	for _, h := range r.Hypotheses {
		shift := c.shift
		if f.bent > 0 && len(h.Points) == len(c.at) {
			shift = c.truthAgainst(h)
		}
		o.statement(c, shift, in, h)
	}
	if f.bent > 0 && len(firmAndWrong(c, r)) > 0 {
		o.elsewhere++
	}
	var bad []string
	for _, k := range []struct {
		now, was *int
		what     string
	}{{&o.stillMissed, &before.stillMissed, "not moved"}, {&o.metWrong, &before.metWrong, "met"}, {&o.blockWrong, &before.blockWrong, "wrong block"}, {&o.stillMoved, &before.stillMoved, "moved"}} {
		if *k.now > *k.was {
			*k.now = *k.was + 1
			bad = append(bad, k.what)
		}
	}
	if len(bad) > 0 {
		o.wrong++
		if o.wrong <= shownExamples {
			o.example += fmt.Sprintf("; seed %d: %v", seed, bad)
		}
		if !slices.ContainsFunc(notes, cautious) {
			o.silent++
		}
	}
	if h, ok := r.Best(); ok && f.name == "one shift of detectableMm" {
		o.shifted++
		for i, p := range h.Points {
			if c.shift[i] != (geom.Vec{}) && p.Moved {
				o.found++
			}
		}
	}
	o.points += len(c.at)
	o.judge.add(c.judge(in))
	if h, ok := r.Best(); ok {
		o.first(c, r, h)
	}
}

func (o *outcome) statement(c *car, shift []geom.Vec, in Input, h Hypothesis) {
	falsely := 0
	for _, p := range h.Points {
		i := slices.IndexFunc(in.Points, func(q body.Point) bool { return q.ID == p.ID })
		d := shift[i].Norm()
		if !p.Firm {
			continue
		}
		if !p.Moved && d > p.Detectable {
			o.stillMissed++
		}
		if c.built == nil && p.Tolerance == Met && d > 3+3*math.Sqrt(largestVariance(p.FromNominalCov)) {
			o.metWrong++
		}
		if d == 0 && p.Moved {
			o.stillMoved++
			falsely++
		}
	}
	if falsely >= minBlock {
		o.blockWrong++
	}
}

// first counts what the first hypothesis says firmly and rightly, and how many of
// its 95 % regions hold.
func (o *outcome) first(c *car, r Result, h Hypothesis) {
	limit := geom.ChiSquareQuantile(0.05, 3)
	var block []geom.Vec
	if !r.Ambiguous && len(h.Points) == len(c.at) && c.holds(h) {
		block = c.truthAgainst(h)
	}
	for i, p := range h.Points {
		if len(h.Points) != len(c.at) {
			continue
		}
		d := c.shift[i].Norm()
		if p.Firm && (d > 0) == p.Moved || p.Firm && !p.Moved && d <= p.Detectable {
			o.firm++
		}
		if block == nil || c.built != nil {
			continue
		}
		if t, ok := geom.Mahalanobis(p.ShiftMM.Sub(block[i]), p.CovMM2); ok {
			o.statements++
			if t <= limit {
				o.inside++
			}
		}
	}
}

// cautious says that a note is more than information.
func cautious(n diag.Note) bool { return n.Severity >= diag.Caution }

func (o *outcome) line(name string) string {
	return fmt.Sprintf("| %s | %d | %d | %d | %d | %d | %d | %s | %s | %s | %s | %.0f | %.0f | %s |\n", name, o.runs, o.stillMissed, o.metWrong, o.blockWrong, o.stillMoved, o.silent,
		pct(o.firm, o.points), pct(o.judge.open, o.points), pct(o.judge.may, o.points), pct(o.judge.decides, o.points), pc(o.ambiguous, o.runs), pc(o.none, o.runs), pct(o.inside, o.statements))
}

const outcomeHead = "| family | runs | moved, firmly not moved | out, firmly met | block firmly wrong | still, firmly moved | wrong without a caution | firm and right % | fair bound % | judge may say % | judge decides % | ambiguous % | no block % | inside 95 % |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n"
