package decide

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/normal"
	"fettle/internal/rule"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// bend adds a bend, signed, of which nothing is said yet.
func (w *world) bend(id job.FindingID, part body.PartID) *job.Finding {
	w.other(id, part, body.Bend)
	f := &w.in.Job.Findings[len(w.in.Job.Findings)-1]
	f.By, f.On = "T1", day(2030, 3, 1)
	return f
}

func shape(mm, std float64) job.HandReading {
	return job.HandReading{What: job.HandShape, Value: unit.Some(unit.MM(mm)), Std: unit.MM(std)}
}

// point adds a control point to a part and, under every explanation, its shift.
func (w *world) point(id body.PointID, part body.PartID, r *measure.Result, shifts ...measure.PointResult) {
	w.in.Body.Points = append(w.in.Body.Points, body.Point{ID: id, Part: part})
	for i, s := range shifts {
		s.ID = id
		r.Hypotheses[i].Points = append(r.Hypotheses[i].Points, s)
	}
	w.in.Measure = func() measure.Result { return *r }
}

func moved(std float64, d ...float64) measure.PointResult {
	return measure.PointResult{ShiftMM: geom.Vec{d[0], d[1], d[2]}, CovMM2: geom.Isotropic(std), Firm: true}
}

func straightCond(t testing.TB, fact, text string) rule.Cond {
	t.Helper()
	c, err := rule.ParseCond(fact, rule.Kind(body.Fact(fact).Kind), body.Fact(fact).Unit, text)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Where each fact about a bent part comes from, and what leaves it unknown. Constructed; what each
// is follows from its help.
func TestFactsOfABentPart(t *testing.T) {
	one := func(w *world) *job.Finding { return w.bend("F1", "P-BRKT") }
	two := func(w *world) (*job.Finding, *job.Finding) {
		w.bend("F1", "P-BRKT")
		w.bend("F2", "P-BRKT")
		for i := range w.in.Inspect.Findings {
			w.in.Inspect.Findings[i].Group = "G"
		}
		return &w.in.Job.Findings[0], &w.in.Job.Findings[1]
	}
	twice := func(shifts ...float64) func(*world) {
		return func(w *world) {
			one(w)
			r := &measure.Result{Hypotheses: []measure.Hypothesis{{Survives: true}, {Survives: len(shifts) > 2}}}
			w.point("A", "P-BRKT", r, moved(0.1, shifts[0], 0, 0), moved(0.1, shifts[1], 0, 0))
		}
	}
	for name, c := range map[string]struct {
		fact string
		set  func(*world)
		want string // empty: unknown
		from string
	}{
		"kink unsaid":            {body.FactKinked, func(w *world) { one(w) }, "", saysNothing},
		"kink unknown":           {body.FactKinked, func(w *world) { one(w).Kinked = body.Unknown }, "", saysNothing},
		"no kink":                {body.FactKinked, func(w *world) { one(w).Kinked = body.No }, "no", fromTheFinding},
		"kink":                   {body.FactKinked, func(w *world) { one(w).Kinked = body.Yes }, "yes", fromTheFinding},
		"no kink, unsigned":      {body.FactKinked, func(w *world) { f := one(w); f.Kinked, f.By = body.No, "stranger" }, "", saysNothing},
		"kink, unsigned":         {body.FactKinked, func(w *world) { f := one(w); f.Kinked, f.By = body.Yes, "stranger" }, "yes", fromTheFinding},
		"kink of another":        {body.FactKinked, func(w *world) { f, o := two(w); f.Kinked, o.Kinked = body.No, body.Yes }, "yes", "F2, which counts as one with it"},
		"kink of another unsaid": {body.FactKinked, func(w *world) { f, _ := two(w); f.Kinked = body.No }, "", "F2, which counts as one with it"},
		"beside it a crack":      {body.FactKinked, func(w *world) { f, o := two(w); f.Kinked, o.Kind = body.No, body.Crack }, "no", fromTheFinding},
		"no reading":             {body.FactShape, func(w *world) { one(w) }, "", saysNothing},
		"a reading":              {body.FactShape, func(w *world) { one(w).Measured = []job.HandReading{shape(3, 0.5)} }, "3 ± 1", fromTheFinding},
		"a reading, unsigned":    {body.FactShape, func(w *world) { f := one(w); f.By, f.Measured = "stranger", []job.HandReading{shape(3, 0.5)} }, "", saysNothing},
		"several readings":       {body.FactShape, func(w *world) { one(w).Measured = []job.HandReading{shape(3, 0.1), shape(2.9, 0.5)} }, "3 ± 0.2, or 2.9 ± 1", fromTheFinding},
		"a reading of no gauge":  {body.FactShape, func(w *world) { one(w).Measured = []job.HandReading{shape(3, 0.5), shape(1, 0)} }, "", saysNothing},
		"another sort of reading": {body.FactShape, func(w *world) {
			one(w).Measured = []job.HandReading{{What: job.HandEdge, Value: unit.Some(unit.MM(3)), Std: 1}}
		}, "", saysNothing},
		"a gauge of the shop": {body.FactShape, func(w *world) {
			w.in.Shop.Gauges = []shop.Gauge{{ID: "edge", Std: 0.4}}
			h := shape(3, 0)
			h.Gauge = "edge"
			one(w).Measured = []job.HandReading{h}
		}, "3 ± 0.8", fromTheFinding},
		"a dent's depth": {body.FactShape, func(w *world) { f := one(w); f.Kind, f.Depth, f.DepthStd = body.Dent, unit.Some(unit.MM(2)), 0.5 }, "2 ± 1", fromTheFinding},
		"a dent's depth and more": {body.FactShape, func(w *world) {
			f := one(w)
			f.Kind, f.Depth, f.DepthStd, f.Measured = body.Dent, unit.Some(unit.MM(2)), 0.5, []job.HandReading{shape(5, 0.5)}
		}, "5 ± 1", fromTheFinding},
		"a depth nobody knows":    {body.FactShape, func(w *world) { f := one(w); f.Kind, f.Depth = body.Dent, unit.Some(unit.MM(2)) }, "", saysNothing},
		"a bend's depth":          {body.FactShape, func(w *world) { f := one(w); f.Depth, f.DepthStd = unit.Some(unit.MM(2)), 0.5 }, "", saysNothing},
		"shape of another unsaid": {body.FactShape, func(w *world) { f, _ := two(w); f.Measured = []job.HandReading{shape(3, 0.5)} }, "", "F2, which counts as one with it"},
		"times unsaid":            {body.FactStraight, func(w *world) { one(w) }, "", saysNothing},
		"never":                   {body.FactStraight, func(w *world) { one(w).Straight = unit.Some(0) }, "0", fromTheFinding},
		"never, unsigned":         {body.FactStraight, func(w *world) { f := one(w); f.Straight, f.By = unit.Some(0), "stranger" }, "", saysNothing},
		"said of the other only":  {body.FactStraight, func(w *world) { one(w); w.bend("F2", "P-BRKT").Straight = unit.Some(0) }, "", saysNothing},
		"more often by another": {body.FactStraight, func(w *world) {
			one(w).Straight = unit.Some(0)
			f := w.bend("F2", "P-BRKT")
			f.Straight, f.By = unit.Some(2), "stranger"
		}, "2", "entered with F2 on the same part"},
		"another part":  {body.FactStraight, func(w *world) { one(w).Straight = unit.Some(0); w.bend("F2", "P-PANEL").Straight = unit.Some(2) }, "0", fromTheFinding},
		"below zero":    {body.FactStraight, func(w *world) { one(w).Straight = unit.Some(-1) }, "", saysNothing},
		"the part":      {body.FactPart, func(w *world) { one(w) }, "P-BRKT", fromTheFinding},
		"no such part":  {body.FactPart, func(w *world) { w.bend("F1", "P-GONE") }, "", "no part \"P-GONE\""},
		"nothing known": {body.FactShift, func(w *world) { one(w); w.in.Body.Points = []body.Point{{ID: "A", Part: "P-BRKT"}} }, "", "control point A was not measured"},
		"no point":      {body.FactShift, func(w *world) { one(w) }, "", "no control point of the part"},
		"part gone":     {body.FactShift, func(w *world) { w.bend("F1", "P-GONE") }, "", "no part \"P-GONE\""},
		"points of others": {body.FactShift, func(w *world) {
			one(w)
			w.point("A", "P-PANEL", &measure.Result{Hypotheses: []measure.Hypothesis{{Survives: true}}}, moved(0.1, 9, 0, 0))
		}, "", "no control point of the part"},
		"far": {body.FactShift, func(w *world) {
			one(w)
			w.point("A", "P-BRKT", &measure.Result{Hypotheses: []measure.Hypothesis{{Survives: true}}}, moved(0.001, 3, 4, 0))
		}, "5.000 ± 0.002 mm", "control point A"},
		"refuted": {body.FactShift, twice(5, 99), "5.0 ± 0.2 mm", "control point A"},
		"ambiguous": {body.FactShift, func(w *world) {
			twice(5, 99)(w)
			r := w.in.Measure()
			r.Ambiguous = true
			w.in.Measure = func() measure.Result { return r }
		}, "", "which points stood still"},
		"not firm":   {body.FactShift, func(w *world) { twice(5, 99)(w); w.in.Measure().Hypotheses[0].Points[0].Firm = false }, "", "control point A is not firm"},
		"no spread":  {body.FactShift, func(w *world) { twice(5, 99)(w); w.in.Measure().Hypotheses[0].Points[0].CovMM2 = geom.Mat3{} }, "", "uncertainty of control point A"},
		"two remain": {body.FactShift, twice(5, 7, 0), "6.0 ± 1.4 mm", "control point A"}, // from 5 to 7 mm, each with 1.645 x 0.1 mm at 95 %
		"one of two missing": {body.FactShift, func(w *world) {
			twice(5, 99)(w)
			w.in.Body.Points = append(w.in.Body.Points, body.Point{ID: "B", Part: "P-BRKT"})
		}, "", "control point B was not measured"},
	} {
		w := newWorld()
		c.set(w)
		k := factIn(w, c.fact)
		if got := k.value.String(); k.value.Known != (c.want != "") || k.value.Known && got != c.want || !strings.Contains(k.from, c.from) {
			t.Errorf("%s: %s is %s (%s), want %q (%s)", name, c.fact, got, k.from, c.want, c.from)
		}
	}
}

// drawnShift is a shift and a covariance of any form: round, flat, needle-shaped, turned anyhow.
func drawnShift(rng *rand.Rand) (geom.Vec, geom.Mat3) {
	var cov geom.Mat3
	for range 3 {
		v := geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Scale(math.Pow(10, -2*rng.Float64()))
		for i := range 3 {
			for k := range 3 {
				cov[i][k] += float64(v[i] * v[k])
			}
		}
	}
	return geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Scale(math.Pow(10, 1.5-3*rng.Float64())), cov
}

// The size of a shift as a number never claims more than is true: at every confidence from the
// body's on, met is met and missed is missed by the probability of the ball (geom.BallProbability,
// which is held against SciPy), and at the body's own confidence an upper limit is met exactly
// where the ball says so.
func TestSizeOfAShiftClaimsNoMoreSeed7(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 18))
	met, missed, exact := 0, 0, 0
	for n := range draws(60, 20000) {
		d, cov := drawnShift(rng)
		conf := []float64{0.95, 0.99, 0.999}[rng.IntN(3)]
		v, ok := sizeOf(d, cov, conf)
		if !ok {
			t.Fatal("no size")
		}
		for range 20 {
			at := math.Max(0, v.Number+v.Std*6*(2*rng.Float64()-1))
			inside := geom.BallProbability(d, cov, at)
			for _, c := range []float64{conf, 1 - (1-conf)/3, 1 - (1-conf)/50} {
				p := rule.Below(at, v.Number, v.Std)
				if p >= c && inside < c-1e-9 {
					t.Fatalf("%d: below %g with %g claimed, %g is true (%v, %v)", n, at, c, inside, d, cov)
				}
				if 1-p >= c && 1-inside < c-1e-9 {
					t.Fatalf("%d: above %g with %g claimed, %g is true (%v, %v)", n, at, c, 1-inside, d, cov)
				}
			}
			p := rule.Below(at, v.Number, v.Std)
			if inside >= conf+1e-9 != (p >= conf+1e-9) && math.Abs(inside-conf) > 1e-6 {
				t.Fatalf("%d: %g holds %g, and the number says %g at %g", n, at, inside, p, conf)
			}
			switch {
			case p >= conf:
				met++
			case 1-p >= conf:
				missed++
			default:
				exact++
			}
		}
	}
	if met < 200 || missed < 200 || exact < 60 {
		t.Errorf("%d met, %d missed, %d neither", met, missed, exact)
	}
	if _, ok := sizeOf(geom.Vec{1, 0, 0}, geom.Mat3{}, 0.95); ok {
		t.Error("a shift without uncertainty has a size")
	}
}

// Drawn true places: a part whose farthest point lies beyond the limit is called within it no more
// often than the confidence lets it, though the limit is put where it tempts most.
func TestAllowedShiftsHoldSeed8(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 18))
	false95, n := 0, draws(1500, 40000)
	for range n {
		limit, most := 1+2*rng.Float64(), 0.0
		var all []rule.Value
		for range 1 + rng.IntN(4) {
			std := 0.05 + 0.5*rng.Float64()
			size := limit * (1 - []float64{0, 0, 0.02, 0.2}[rng.IntN(4)]) // at the limit itself, or little within
			if rng.IntN(2) == 0 {
				size = limit * (1 + 0.01*rng.Float64()) // just beyond
			}
			dir := geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
			is := dir.Scale(size / dir.Norm())
			most = math.Max(most, size)
			seen := is.Add(geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}.Scale(std))
			v, _ := sizeOf(seen, geom.Isotropic(std), 0.95)
			all = append(all, v)
		}
		c := straightCond(t, body.FactShift, fmt.Sprintf("<= %.9f mm", limit))
		if c.Eval(rule.MostOf(all...), 0.95).State == rule.Met && most > limit {
			false95++
		}
	}
	if rate := float64(false95) / float64(n); rate > 0.05 {
		t.Errorf("%.3f of all are called within the limit and are not", rate)
	}
}

// straightTable is rows about straightening and its neighbours, in any order.
func straightTable(rng *rand.Rand) body.Procedure {
	p := checkProcedure()
	p.Rows = nil
	choices := map[string][]string{
		"kind": {"bend", "bend or dent", "not crack"}, "part": {"P-BRKT", "not P-PANEL", "P-PANEL or P-FRONT"}, "kinked": {"no", "no", "yes"},
		"out_of_shape": {"<= 3 mm", "> 2 mm", ">= 1 mm and <= 5 mm"}, "straightened_before": {"<= 0", "<= 1", "> 0"},
		"shift": {"<= 3 mm", "> 2 mm", "< 6 mm"}, "bolt_on": {"yes", "no"}, "on_casting": {"no", "no", "yes"},
	}
	names := []string{"kind", "part", "kinked", "kinked", "out_of_shape", "straightened_before", "shift", "bolt_on", "on_casting", "on_casting", "on_casting"}
	for i := range 2 + rng.IntN(6) {
		r := body.Row{ID: fmt.Sprint("r", i), Cite: "c", When: map[string]string{}}
		for range 1 + rng.IntN(4) {
			n := names[rng.IntN(len(names))]
			r.When[n] = choices[n][rng.IntN(len(choices[n]))]
		}
		switch k := []body.TreatmentKind{[]body.TreatmentKind{body.Straighten, body.Straighten, body.Exchange}[rng.IntN(3)]}; rng.IntN(8) {
		case 0:
			r.Forbid = k
		case 1:
			r.Ask = "ask"
		default:
			r.Allow = k
		}
		p.Rows = append(p.Rows, r)
	}
	return p
}

// straightJob is a table and some bent parts, with everything that may be missing missing at times,
// and figures near the limits with uncertainties of every size.
func straightJob(rng *rand.Rand) *world {
	w := newWorld()
	w.in.Body.Procedures = []body.Procedure{straightTable(rng)}
	w.in.Body.Confidence = []unit.Frac{0.95, 0.99}[rng.IntN(2)]
	near := func() float64 { return []float64{0, 1, 2, 3, 5, 6}[rng.IntN(6)] + 0.2*rng.NormFloat64() }
	for i := range 1 + rng.IntN(3) {
		f := w.bend(job.FindingID(fmt.Sprint("F", i+1)), []body.PartID{"P-BRKT", "P-BRKT", "P-PANEL", "P-FRONT"}[rng.IntN(4)])
		f.Kind = []body.FindingKind{body.Bend, body.Bend, body.Dent, body.Crack}[rng.IntN(4)]
		f.Kinked = []body.YesNo{body.No, body.No, body.No, body.Yes, body.Unknown, ""}[rng.IntN(6)]
		if rng.IntN(3) > 0 {
			f.Straight = unit.Some(rng.IntN(3))
		}
		for range rng.IntN(3) {
			f.Measured = append(f.Measured, shape(math.Abs(near()), []float64{0.01, 0.3, 2, 0}[rng.IntN(4)]))
		}
		if f.Kind == body.Dent && rng.IntN(2) == 0 {
			f.Depth, f.DepthStd = unit.Some(unit.MM(math.Abs(near()))), unit.MM([]float64{0, 0.2}[rng.IntN(2)])
		}
		if rng.IntN(6) == 0 {
			f.By = "stranger"
		}
		if f.Part == "P-FRONT" {
			g := &w.in.Inspect.Findings[i]
			g.Casting, g.Located, g.Zones = "FRONT", true, []inspect.ZoneShare{{Zone: "OPEN-1"}}
			g.Sides = []inspect.LineSide{{Line: "LINE-1"}, {Line: "LINE-2"}}
		}
	}
	r := &measure.Result{Ambiguous: rng.IntN(8) == 0, Hypotheses: []measure.Hypothesis{{Survives: true}, {Survives: rng.IntN(3) == 0}}}
	for _, part := range []body.PartID{"P-BRKT", "P-PANEL", "P-FRONT"} {
		for k := range rng.IntN(3) {
			id := body.PointID(fmt.Sprint(part, k))
			if rng.IntN(8) == 0 {
				w.point(id, part, r) // nobody measured it
				continue
			}
			std := []float64{0.01, 0.2, 0.6}[rng.IntN(3)]
			a, b := moved(std, near(), 0.3*rng.NormFloat64(), 0), moved(std, near(), 0, 0.3*rng.NormFloat64())
			a.Firm, b.Firm = rng.IntN(10) > 0, rng.IntN(10) > 0
			w.point(id, part, r, a, b)
		}
	}
	return w
}

// sFacts is the facts of a finding by what their help says, from what was put in; a shift is the
// probability that it keeps a limit, worked out anew.
func sFacts(w *world, i int) (map[string]oFact, func(limit string) int) {
	f := w.in.Job.Findings[i]
	signed := f.By == "T1"
	word := func(known bool, words ...string) oFact { return oFact{known: known, words: words} }
	casting := f.Part == "P-FRONT"
	yes := map[bool]string{true: "yes", false: "no"}
	facts := map[string]oFact{"kind": word(true, string(f.Kind)), "part": word(true, string(f.Part)), "on_casting": word(true, yes[casting]), "bolt_on": word(true, yes[f.Part == "P-BRKT"]),
		"kinked": word(f.Kinked == body.Yes || f.Kinked == body.No && signed, string(f.Kinked))}
	if f.Straight.Known && signed {
		most := 0
		for _, o := range w.in.Job.Findings {
			if o.Part == f.Part {
				most = max(most, o.Straight.Value)
			}
		}
		facts["straightened_before"] = oFact{known: true, isNumber: true, mm: float64(most)}
	}
	conf := float64(w.in.Body.Confidence)
	r := w.in.Measure
	return facts, func(limit string) int { return sShift(w, f.Part, r, limit, conf) }
}

// sShape is the three-way state of a limit on how far the part is out of shape: every reading of it.
func sShape(w *world, i int, limit string, conf float64) int {
	f := w.in.Job.Findings[i]
	if f.By != "T1" {
		return oOpen
	}
	var all []oFact
	for _, h := range f.Measured {
		if h.Std == 0 {
			return oOpen
		}
		all = append(all, oFact{known: true, isNumber: true, mm: float64(h.Value.Value), std: float64(h.Std)})
	}
	if f.Kind == body.Dent && f.Depth.Known && f.DepthStd > 0 {
		all = append(all, oFact{known: true, isNumber: true, mm: float64(f.Depth.Value), std: float64(f.DepthStd)})
	}
	var chances []func(at float64) float64 // that it lies at or below
	for _, e := range all {
		chances = append(chances, func(at float64) float64 { return normal.CDF((at - e.mm) / e.std) })
	}
	return sMost(chances, limit, conf)
}

// sShift is the same of a shift: under every explanation that stands, of every point.
func sShift(w *world, part body.PartID, measured func() measure.Result, limit string, conf float64) int {
	if measured == nil || measured().Ambiguous {
		return oOpen
	}
	worst, first := oYes, true
	best := oNo
	for _, h := range measured().Hypotheses {
		if !h.Survives {
			continue
		}
		var chances []func(at float64) float64
		for _, p := range w.in.Body.Points {
			if p.Part != part {
				continue
			}
			r, ok := h.Point(p.ID)
			if !ok || !r.Firm {
				return oOpen
			}
			chances = append(chances, func(at float64) float64 { return geom.BallProbability(r.ShiftMM, r.CovMM2, at) })
		}
		s := sMost(chances, limit, conf)
		worst, best, first = min(worst, s), max(best, s), false
	}
	if first || worst != best {
		return oOpen
	}
	return worst
}

// sMost is the three-way state of a limit on the largest of several: an upper one is kept when the
// chances of missing it add up to no more than the confidence leaves (Boole), and missed when that
// of one is beyond it; a lower one the other way round.
func sMost(below []func(float64) float64, limit string, conf float64) int {
	if len(below) == 0 {
		return oOpen
	}
	missesUp, missUp, missesLow := 0.0, 0.0, 1.0
	upper, lower := math.Inf(1), math.Inf(-1)
	for _, clause := range strings.Split(limit, " and ") {
		op, rest, _ := strings.Cut(clause, " ")
		var at float64
		if _, err := fmt.Sscanf(rest, "%g mm", &at); err != nil {
			panic(limit)
		}
		if strings.HasPrefix(op, "<") {
			upper = at
		} else {
			lower = at
		}
	}
	for _, f := range below {
		if !math.IsInf(upper, 1) {
			missesUp, missUp = missesUp+1-f(upper), max(missUp, 1-f(upper))
		}
		if !math.IsInf(lower, -1) {
			missesLow = min(missesLow, f(lower))
		}
	}
	if math.IsInf(lower, -1) {
		missesLow = 0
	}
	switch {
	case missesUp+missesLow <= 1-conf:
		return oYes
	case missUp >= conf || !math.IsInf(lower, -1) && sNone(below, lower) >= conf:
		return oNo
	}
	return oOpen
}

// sNone is what the chance that all lie below is at least.
func sNone(below []func(float64) float64, at float64) float64 {
	sum := 0.0
	for _, f := range below {
		sum += 1 - f(at)
	}
	return 1 - sum
}

// sVerdict is what the rows say of a kind, by docs/methods/decision.md. exact is false where a
// limit on a shift had a say, of which the program may claim less.
func sVerdict(w *world, i int, k body.TreatmentKind) (verdict Verdict, exact bool) {
	conf := float64(w.in.Body.Confidence)
	facts, shift := sFacts(w, i)
	exact = true
	var forbids, asks, allows [3]int
	for _, r := range w.in.Body.Procedures[0].Rows {
		when := map[string]string{}
		state := oYes
		for name, text := range r.When {
			switch name {
			case "shift":
				state, exact = min(state, shift(text)), false
			case "out_of_shape":
				state = min(state, sShape(w, i, text, conf))
			default:
				when[name] = text
			}
		}
		_, says := when["on_casting"]
		if !says {
			when["on_casting"] = "yes"
		}
		if s := oRow(when, facts, conf); s == oNo || state == oNo {
			state = oNo
		} else {
			state = min(state, s)
		}
		if slices.Contains(r.Forbid, k) {
			forbids[state]++
		}
		if r.Ask != "" && k == body.Straighten {
			asks[state]++
		}
		if slices.Contains(r.Allow, k) && (says || k != body.Straighten) {
			allows[state]++
		}
	}
	switch {
	case forbids[oYes] > 0:
		return Forbidden, exact
	case asks[oYes] > 0, allows[oYes]+allows[oOpen] == 0:
		return Ask, exact
	case allows[oYes] > 0 && forbids[oOpen]+asks[oOpen] == 0:
		return Allowed, exact
	}
	return Undecided, exact
}

// A second evaluator, which works out the facts about bent parts from what was put in, agrees on
// every treatment; where a limit on a shift has a say the program allows nothing that it does not.
// Whatever stands in which order, the verdicts are the same; and the quick ones are those with
// reasons.
func TestStraighteningAgainstASecondEvaluatorSeed18(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 5))
	allowed, kept, all := 0, 0, 0
	for n := range draws(600, 60000) {
		w := straightJob(rng)
		res, _ := Run(w.in)
		for i, f := range res.Findings {
			for _, o := range f.Options {
				want, exact := sVerdict(w, i, o.Kind)
				switch {
				case o.Verdict == Allowed && want != Allowed, exact && o.Verdict != want:
					t.Fatalf("job %d, %s: %s is %s (%s), the second evaluator says %s\n%+v\n%+v", n, f.ID, o.Kind, o.Verdict, o.Because, want, w.in.Job.Findings, w.in.Body.Procedures[0].Rows)
				case o.Kind == body.Straighten && want == Allowed:
					all++
					if o.Verdict == Allowed {
						kept++
					}
				}
				if o.Kind == body.Straighten && o.Verdict == Allowed {
					allowed++
				}
			}
		}
		quick := NewReady(w.in.Body).Verdicts(w.in)
		rng.Shuffle(len(w.in.Body.Points), func(i, k int) {
			p := w.in.Body.Points
			p[i], p[k] = p[k], p[i]
		})
		rows := w.in.Body.Procedures[0].Rows
		rng.Shuffle(len(rows), func(i, k int) { rows[i], rows[k] = rows[k], rows[i] })
		shuffled, _ := Run(w.in)
		for i, f := range res.Findings {
			if got, again := fmt.Sprint(verdictsOf(f.Options)), fmt.Sprint(verdictsOf(shuffled.Findings[i].Options)); got != again {
				t.Fatalf("job %d, %s: %s, in another order %s", n, f.ID, got, again)
			}
			for k, o := range f.Options {
				if q := quick[i].Options[k]; q.Kind != o.Kind || q.Verdict != o.Verdict {
					t.Fatalf("job %d, %s: %s is %s, with reasons %s", n, f.ID, q.Kind, q.Verdict, o.Verdict)
				}
			}
		}
	}
	if allowed < 80 || float64(kept) < 0.95*float64(all) {
		t.Errorf("%d allowed; %d of %d that may be", allowed, kept, all)
	}
}

func verdictsOf(options []Option) map[string]Verdict {
	out := map[string]Verdict{}
	for _, o := range options {
		out[KindText(o)] = o.Verdict
	}
	return out
}

// A casting is straightened where a row says that it speaks of castings, and by no other row,
// whatever else the row allows.
func TestACastingIsStraightenedOnlyWhereARowSaysSo(t *testing.T) {
	for when, want := range map[string]Verdict{"": Ask, "yes": Allowed, "no": Ask} {
		w := newWorld()
		f := w.bend("F1", "P-FRONT")
		f.Kinked = body.No
		g := &w.in.Inspect.Findings[0]
		g.Casting, g.Located, g.Zones = "FRONT", true, []inspect.ZoneShare{{Zone: "OPEN-1"}}
		r := body.Row{ID: "s", Cite: "c", When: map[string]string{"kinked": "no"}, Allow: []body.TreatmentKind{body.Straighten, body.Dress}}
		if when != "" {
			r.When["on_casting"] = when
		}
		w.in.Body.Procedures[0].Rows = append(w.in.Body.Procedures[0].Rows, r)
		res, _ := Run(w.in)
		if got := option(res.Findings[0], body.Straighten); got != want {
			t.Errorf("on_casting %q: straighten is %s, want %s", when, got, want)
		}
		if got := option(res.Findings[0], body.Dress); (got == Allowed) != (when != "no") {
			t.Errorf("on_casting %q: dress is %s", when, got)
		}
	}
}

// A single question names the part in the words of the rows, since there is no body: any other
// word would meet a condition of the sort "not A" by a slip of the pen.
func TestASingleQuestionNamesAPartOfTheRows(t *testing.T) {
	p := checkProcedure()
	p.Rows = []body.Row{{ID: "s", Cite: "c", When: map[string]string{"on_casting": "no", "part": "P-BRKT", "kinked": "no"}, Allow: []body.TreatmentKind{body.Straighten}}}
	ask := func(part string) (Ruled, error) {
		return Single{Procedure: p, Confidence: 0.95, On: day(2030, 3, 2), Said: []Said{{"part", part}, {"kinked", "no"}, {"on_casting", "no"}}}.Rule()
	}
	if r, err := ask("P-BRKT"); err != nil || r.Verdict != Allowed {
		t.Errorf("%v, %v", r.Verdict, err)
	}
	if r, err := ask("P-BRKTT"); err == nil || !strings.Contains(err.Error(), "did you mean \"P-BRKT\"?") {
		t.Errorf("%v, %v", r.Verdict, err)
	}
}
