package measure

import (
	"encoding/json"
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

// verdicts is what must not change: per hypothesis the steady block and per
// point all verdicts, and the sections. Numbers are those in vehicle axes, to more
// digits than anybody reads.
func verdicts(r Result) string {
	var b strings.Builder
	fmt.Fprintln(&b, r.Ambiguous, len(r.Why), sortedIDs(r.Missing), r.Search.Method, r.Test.MovedAboveT2)
	for _, h := range r.Hypotheses {
		fmt.Fprintln(&b, h.Datum, h.Survives, h.DOF, sortedIDs(h.Steady), sortedIDs(h.Moved))
		pts := slices.Clone(h.Points)
		slices.SortFunc(pts, func(a, b PointResult) int { return strings.Compare(string(a.ID), string(b.ID)) })
		for _, p := range pts {
			fmt.Fprintf(&b, "%s %v %v %v %v %.6f %.4f %s|%s\n", p.ID, p.Steady, p.Moved, p.Tolerance, p.Firm, p.Probability, p.Detectable, p.Limit, p.Needs)
		}
		for _, s := range h.Sections {
			fmt.Fprintf(&b, "section %s %v %d %.3f\n", s.ID, sortedIDs(s.Points), s.DOF, s.P)
		}
	}
	fmt.Fprintf(&b, "adjustment %d %.5f\n", r.Adjustment.DOF, r.Adjustment.P)
	return b.String()
}

// signs are the notes, suspects and lengths by their kind.
func signs(r Result) string {
	var kinds []string
	for _, s := range r.Suspects {
		kinds = append(kinds, fmt.Sprint("suspect ", s.Kind, sortedIDs(s.Points), s.Setup))
	}
	for _, n := range r.Notes {
		kinds = append(kinds, fmt.Sprint("note ", n.Code, n.Severity))
	}
	for _, l := range r.Lengths {
		kinds = append(kinds, fmt.Sprint("length ", l.From, l.To, l.Differs))
	}
	slices.Sort(kinds)
	return strings.Join(kinds, "\n")
}

func sortedIDs(ids []body.PointID) []body.PointID { return slices.Sorted(slices.Values(ids)) }

// Law: the order of points and readings, and any rigid motion of the readings
// of a set-up, leave every verdict unchanged. Seed in the name.
func TestVerdictsDoNotDependOnOrderOrFrameSeed31(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 0))
	for trial := 0; trial < 12; trial++ {
		c := newCar(12+trial, uint64(trial))
		c.moveRear(0.3, 10)
		c.moveAlone(1, 8)
		in := c.measure(0.7)
		in.Points[0].Reference, in.Points[1].Reference, in.Points[2].Reference = true, true, true
		for i := range in.Points {
			in.Points[i].Std = unit.Some(0.2 * float64(trial%3))
			in.Points[i].Section = body.SectionID([]string{"front", "rear"}[2*i/len(in.Points)])
		}
		in.Sections = []body.Section{{ID: "front"}, {ID: "rear"}}
		in.Impact = []job.ImpactSide{"rear", "unknown", "front"}[trial%3]
		in.Confidence = []float64{0, 0.99}[trial%2]
		sameVerdicts(t, fmt.Sprintf("trial %d", trial), in, rng)
	}
	for _, spread := range []float64{0, 0.3} { // two set-ups and tram lengths; a height is along an axis of the device
		in := mixedInput(spread)
		in.Readings = slices.DeleteFunc(in.Readings, func(r job.Reading) bool { return r.Kind == "height" })
		sameVerdicts(t, fmt.Sprintf("mixed, spread %g", spread), in, rng)
	}
	wrong := newCar(14, 32).measure(0.5) // two labels exchanged
	wrong.Readings[3].From, wrong.Readings[8].From = wrong.Readings[8].From, wrong.Readings[3].From
	sameVerdicts(t, "labels", wrong, rng)
}

// sameVerdicts shuffles points and readings, and puts every set-up elsewhere.
func sameVerdicts(t *testing.T, name string, in Input, rng *rand.Rand) {
	t.Helper()
	r, _ := Run(in)
	if len(r.Hypotheses) == 0 {
		t.Fatalf("%s: no hypothesis", name)
	}
	moved := in
	moved.Points, moved.Readings = slices.Clone(in.Points), slices.Clone(in.Readings)
	rng.Shuffle(len(moved.Points), func(i, j int) { moved.Points[i], moved.Points[j] = moved.Points[j], moved.Points[i] })
	rng.Shuffle(len(moved.Readings), func(i, j int) {
		moved.Readings[i], moved.Readings[j] = moved.Readings[j], moved.Readings[i]
	})
	gauss := func() geom.Vec { return geom.Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()} }
	frames := map[string]geom.Rigid{}
	for i := range moved.Readings {
		rd := &moved.Readings[i]
		if rd.Kind != "xyz" {
			continue
		}
		m, ok := frames[rd.Setup]
		if !ok {
			m = geom.Rigid{R: geom.FromRotationVector(gauss()), T: gauss().Scale(1000)}
			frames[rd.Setup] = m
		}
		q := m.Apply(geom.Vec{rd.X.Value, rd.Y.Value, rd.Z.Value})
		rd.X, rd.Y, rd.Z = unit.Some(q[0]), unit.Some(q[1]), unit.Some(q[2])
	}
	r2, _ := Run(moved)
	if got, want := verdicts(r2)+signs(r2), verdicts(r)+signs(r); got != want {
		t.Errorf("%s: verdicts changed: %s", name, firstDifference(got, want))
	}
}

func firstDifference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range x {
		if i >= len(y) || x[i] != y[i] {
			return fmt.Sprintf("line %d: %q, want %q", i+1, x[i], y[min(i, len(y)-1)])
		}
	}
	return "lengths"
}

// Law: the same input gives the same bytes.
func TestRunIsReproducible(t *testing.T) {
	for _, in := range []Input{mixedInput(0.3), readExample(t, "rear-section.txt").in} {
		a, _ := Run(in)
		b, _ := Run(in)
		x, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		y, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		if string(x) != string(y) {
			t.Error("two runs differ")
		}
	}
}

// Fast against plain: one set-up of coordinates goes a short way; the common
// adjustment must give the same.
func TestShortWayMeetsAdjustment(t *testing.T) {
	for name, in := range map[string]Input{"rear": readExample(t, "rear-section.txt").in, "uneven": unevenInput()} {
		p := prepare(in)
		e := p.locate()
		r := p.emptyResult()
		cs, _, x := p.search(e, &r)
		short := p.hypothesis(e, x, cs[0])
		rows := p.adjustment(e, cs[0])
		long := *cs[0]
		if !p.adjustJoint(e, &long) {
			t.Fatal("no adjustment")
		}
		other := p.hypothesis(e, x, &long)
		otherRows := p.adjustment(e, &long)
		near(t, name+" chi2", other.Chi2, short.Chi2, 1e-6)
		near(t, name+" dof", float64(other.DOF), float64(short.DOF), 0)
		for i := range short.Points {
			a, b := short.Points[i], other.Points[i]
			near(t, name+" shift", a.ShiftMM.Dist(b.ShiftMM), 0, 1e-6)
			// The short way takes the lever arm of a moved point at its nominal
			// place, the adjustment where it is now: 15 mm in 1000.
			near(t, name+" std", a.StdMM.Dist(b.StdMM), 0, 5e-3*a.StdMM.Norm())
			near(t, name+" t2", a.T2, b.T2, 5e-3*(1+a.T2))
		}
		if len(rows.Observations) != len(otherRows.Observations) {
			t.Fatalf("%d and %d rows", len(rows.Observations), len(otherRows.Observations))
		}
		sum := 0.0
		for i, a := range rows.Observations {
			b := otherRows.Observations[i]
			near(t, name+" residual", a.ResidualMM, b.ResidualMM, 1e-6)
			near(t, name+" redundancy", a.Redundancy, b.Redundancy, 1e-4)
			sum += a.Redundancy
		}
		if name == "rear" {
			near(t, "sum of redundancy numbers", sum, float64(rows.DOF), 1e-6)
		}
	}
}

// What the data cannot carry gives no verdict, and says so.
func TestTooLittleIsSaid(t *testing.T) {
	full := newCar(8, 3).measure(0.5)
	for _, c := range []struct {
		name   string
		change func(*Input)
		code   string
	}{
		{"no readings", func(in *Input) { in.Readings = nil }, "measure.no-steady-block"},
		{"no points", func(in *Input) { in.Points = nil }, "measure.reading-unusable"},
		{"three readings", func(in *Input) { in.Readings = in.Readings[:3] }, "measure.no-steady-block"},
		{"no uncertainty", func(in *Input) {
			for i := range in.Readings {
				in.Readings[i].Std = unit.Maybe[float64]{}
			}
		}, "measure.reading-unusable"},
		{"one line", func(in *Input) {
			for i := range in.Points {
				in.Points[i].Y, in.Points[i].Z = 0, 0
				in.Readings[i] = xyz("S1", in.Points[i].ID, geom.Vec{in.Points[i].X, 1, 2}, 0.5)
			}
		}, "measure.no-steady-block"},
		{"one place", func(in *Input) {
			for i := range in.Points {
				in.Points[i].X, in.Points[i].Y, in.Points[i].Z = 5, 5, 5
			}
		}, "measure.no-steady-block"},
		{"unknown label", func(in *Input) { in.Readings[0].From = "nobody" }, "measure.reading-unusable"},
		{"NaN", func(in *Input) { in.Readings[0].X = unit.Some(math.NaN()) }, "measure.reading-unusable"},
		{"other stage", func(in *Input) { in.Stage = "after" }, "measure.no-steady-block"},
		{"point twice", func(in *Input) { in.Points = append(in.Points, in.Points[0]) }, "measure.point-twice"},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := full
			in.Points, in.Readings = slices.Clone(full.Points), slices.Clone(full.Readings)
			c.change(&in)
			r, notes := Run(in)
			found := false
			for _, n := range notes {
				found = found || n.Code == c.code
			}
			if !found {
				t.Errorf("notes %+v, want %s", notes, c.code)
			}
			if strings.HasSuffix(c.code, "no-steady-block") && (len(r.Hypotheses) != 0 || !r.Ambiguous) {
				t.Errorf("%d hypotheses, ambiguous %v", len(r.Hypotheses), r.Ambiguous)
			}
			for _, m := range r.Missing {
				if _, ok := (Hypothesis{}).Point(m); ok {
					t.Error("a missing point has a result")
				}
			}
		})
	}
}

// Source: order of evidence as documented; constructed.
func TestEvidenceOrder(t *testing.T) {
	c := newCar(20, 40)
	c.moveRear(0.4, 15)
	in := c.measure(0.5)
	front, rear := []int{0, 1, 2, 3, 4}, []int{19, 18, 17, 16}
	best := func(in Input) (Hypothesis, Result) {
		r, _ := Run(in)
		h, ok := r.Best()
		if !ok {
			t.Fatal("no hypothesis")
		}
		return h, r
	}
	h, r := best(in)
	if h.Datum != "majority" || !r.Ambiguous || !has(h.Steady, in.Points[0].ID) {
		t.Errorf("nothing known: %s, ambiguous %v", h.Datum, r.Ambiguous)
	}
	in.Impact = "rear"
	if h, r = best(in); h.Datum != "impact" || r.Ambiguous || !has(h.Steady, in.Points[0].ID) {
		t.Errorf("hit at the rear: %s, ambiguous %v %v", h.Datum, r.Ambiguous, r.Why)
	}
	in.Impact = "front-left"
	if h, r = best(in); h.Datum != "impact" || !r.Ambiguous || !has(h.Steady, in.Points[19].ID) {
		t.Errorf("hit at the front: %s, ambiguous %v, steady %v", h.Datum, r.Ambiguous, h.Steady)
	}
	for _, i := range front {
		in.Points[i].Reference = true
	}
	if h, r = best(in); h.Datum != "reference" || !r.Ambiguous || !has(h.Steady, in.Points[0].ID) {
		t.Errorf("references against impact: %s, ambiguous %v", h.Datum, r.Ambiguous)
	}
	in.Impact = "rear"
	if h, r = best(in); h.Datum != "reference" || r.Ambiguous {
		t.Errorf("references with impact: %s, ambiguous %v %v", h.Datum, r.Ambiguous, r.Why)
	}
	in.Points[19].Reference = true // one nominated point sits on the moved end
	h, r = best(in)
	if h.Datum != "reference" || !noted(r, "measure.reference-moved", string(in.Points[19].ID)) {
		t.Errorf("a reference point has moved: %s, notes %+v", h.Datum, r.Notes)
	}
	for _, i := range rear {
		in.Points[i].Reference = true
	}
	in.Points[15].Reference = true // five against five
	if h, r = best(in); h.Datum != "impact" || !noted(r, "measure.references-disagree", "") {
		t.Errorf("references disagree: %s", h.Datum)
	}
}

// A few points at the far end that moved by themselves are no datum because the
// vehicle was hit at the other end. Constructed.
func TestImpactDoesNotChooseAFewPoints(t *testing.T) {
	c := newCar(24, 41)
	c.moveTogether([]int{23, 22, 21, 20, 19}, 14)
	in := c.measure(0.5)
	in.Impact = "front"
	r, _ := Run(in)
	h, _ := r.Best()
	if h.Datum != "majority" || len(h.Steady) < 17 || !r.Ambiguous {
		t.Errorf("%s, %d steady, ambiguous %v", h.Datum, len(h.Steady), r.Ambiguous)
	}
}

func has(ids []body.PointID, id body.PointID) bool { return slices.Contains(ids, id) }

func noted(r Result, code, where string) bool {
	for _, n := range r.Notes {
		if n.Code == code && strings.Contains(n.Where, where) {
			return true
		}
	}
	return false
}

// The engine must not panic, print NaN, or give a verdict that its own numbers do
// not carry, whatever it is given.
func FuzzRun(f *testing.F) {
	f.Add(uint64(1), 6, 0.5, 0.0, 3.0, 0.0, true)
	f.Add(uint64(2), 0, 0.0, 1e300, -1.0, 1e300, false)
	f.Add(uint64(3), 9, 1e-9, 1e9, 1e-9, 0.3, true)
	f.Add(uint64(4), 20, 1e6, 25.4, 1e12, 1e-12, false)
	f.Add(uint64(5), 18, 0.4, 12.0, 3.0, 0.5, false)
	f.Fuzz(func(t *testing.T, seed uint64, n int, std, size, tol, spread float64, same bool) {
		in := fuzzInput(seed, ((n%24)+24)%24, std, size, tol, spread, same)
		r, _ := Run(in)
		if _, err := json.Marshal(r); err != nil {
			t.Fatalf("the result cannot be written: %v", err)
		}
		if _, err := json.Marshal(Compare(in.Points, r, r)); err != nil {
			t.Fatalf("the comparison cannot be written: %v", err)
		}
		for _, h := range r.Hypotheses {
			for _, p := range h.Points {
				if !(p.Probability >= 0 && p.Probability <= 1) || p.Detectable < 0 || p.T2 < 0 {
					t.Errorf("%s: probability %v, detectable %v, t2 %v", p.ID, p.Probability, p.Detectable, p.T2)
				}
				if p.Tolerance == Met && p.Probability < r.Confidence-1e-6 || p.Tolerance == NotMet && p.Probability > 1-r.Confidence+1e-6 {
					t.Errorf("%s: %v with probability %v", p.ID, p.Tolerance, p.Probability)
				}
				if p.Moved && (p.Steady || p.T2 < r.Test.MovedAboveT2-1e-6) {
					t.Errorf("%s: moved with t2 %v, steady %v", p.ID, p.T2, p.Steady)
				}
			}
		}
	})
}

// fuzzInput is a car with some points moved and readings of every kind thrown
// in, usable or not.
func fuzzInput(seed uint64, n int, std, size, tol, spread float64, same bool) Input {
	c := newCar(n, seed)
	for i := range c.at {
		if c.rng.IntN(3) == 0 {
			c.shift[i] = c.gauss().Scale(size)
		}
		if same && i%2 == 1 {
			c.at[i] = c.at[i-1]
		}
	}
	in := c.measure(std)
	in.Impact = []job.ImpactSide{"unknown", "front", "rear-left", "?"}[c.rng.IntN(4)]
	in.Symmetry, in.Confidence = spread*float64(c.rng.IntN(2)), c.rng.Float64()*1.2
	words := []string{"xyz", "length", "height", "rim", "what"}
	if same {
		in.Setups = []job.Setup{{ID: "S1", Temp: unit.Some(unit.Celsius(size))}}
		in.Thermal = Thermal{BodyPerK: tol, PerKStd: std, ReferenceC: 20, LowC: -size, HighC: size}
	}
	for i := range in.Readings {
		p := &in.Points[i]
		p.Tol, p.Reference, p.Mirror = unit.Some(tol), c.rng.IntN(3) == 0, in.Points[(i^1)%n].ID
		if c.rng.IntN(2) == 0 {
			p.Std, p.TolZ = unit.Some(spread), unit.Some(tol/2)
		}
		if c.rng.IntN(4) == 0 {
			k := c.rng.IntN(len(in.Points))
			in.Readings = append(in.Readings, job.Reading{Setup: "S1", Kind: job.ReadingKind(words[c.rng.IntN(len(words))]), From: in.Points[i].ID, To: in.Points[k].ID,
				X: unit.Some(size * c.rng.NormFloat64()), Y: unit.Some(c.rng.NormFloat64()), Z: unit.Some(std),
				Value: unit.Some(size * c.rng.Float64()), Std: unit.Some(std)})
		}
	}
	return in
}
