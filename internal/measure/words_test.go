package measure

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// The verdicts of one limit and of two, at their very borders: with the probability asked for it is
// met, with what is left of it not met, and of two limits the more cautious counts.
func TestVerdictsAtTheirBorders(t *testing.T) {
	eps := 1e-12
	for _, c := range []struct {
		p, conf float64
		want    Verdict
	}{
		{0.95, 0, Met}, {0.95 - eps, 0, Undecided}, {0.05 - eps, 0, NotMet}, {0.05 + eps, 0, Undecided}, {0.5, 0, Undecided}, {1, 1, Undecided}, {0, 1, Undecided},
		{0.99, 0.99, Met}, {0.989, 0.99, Undecided}, {0.0101, 0.99, Undecided}, {0.0099, 0.99, NotMet}, {math.NaN(), 0, Undecided}, {0.94, 0.9, Undecided},
	} {
		if c.conf == 1 {
			c.want = map[float64]Verdict{1: Met, 0: NotMet}[c.p] // only what is sure
		}
		if got := decide(c.p, c.conf); got != c.want {
			t.Errorf("probability %v under %v: %v, want %v", c.p, c.conf, got, c.want)
		}
	}
	if confidence(1) >= 1 || confidence(1) < 1-1e-15 || confidence(0.97) != 0.97 || confidence(0.95) != 0.95 || confidence(0.9) != 0.95 || confidence(math.NaN()) != 0.95 || confidence(7) != confidence(1) {
		t.Errorf("%v, %v, %v", confidence(1), confidence(0.97), confidence(0.9))
	}
	all := []Verdict{Met, Undecided, NotMet} // the more cautious the later
	for i, a := range all {
		for k, b := range all {
			if got := worse(a, b); got != all[max(i, k)] {
				t.Errorf("the worse of %v and %v is %v", a, b, got)
			}
			if got, want := opposite(a, b), a == Met && b == NotMet || a == NotMet && b == Met; got != want {
				t.Errorf("%v and %v: opposite %v", a, b, got)
			}
		}
		text, _ := a.MarshalText()
		var back Verdict
		if err := back.UnmarshalText(text); err != nil || back != a || a.String() != string(text) {
			t.Errorf("%v: %s, back %v, %v", a, text, back, err)
		}
	}
	if Verdict(-1).String() != "undecided" || Verdict(3).String() != "undecided" {
		t.Error("what is no verdict is one")
	}
	if err := new(Verdict).UnmarshalText([]byte("fine")); err == nil || err.Error() != `verdict "fine" is not met, not met or undecided` {
		t.Errorf("%v", err)
	}
	for _, c := range []struct {
		got  Conformance
		want Conformance
	}{
		{AtMost(3, 0, 3, 0), Conformance{Met, 1, "at most 3"}}, {AtMost(3.5, 0, 3.25, 0), Conformance{NotMet, 0, "at most 3.25"}},
		{AtLeast(3, 0, 3, 0), Conformance{Met, 1, "at least 3"}}, {AtLeast(2, 0, 3, 0), Conformance{NotMet, 0, "at least 3"}},
		{Between(1, 0, 1, 1, 0), Conformance{Met, 1, "1 to 1"}}, {Between(2, 0, 0, 2, 0), Conformance{Met, 1, "0 to 2"}}, {Between(0, 0, 0, 2, 0), Conformance{Met, 1, "0 to 2"}}, {Between(2.1, 0, 0, 2, 0), Conformance{NotMet, 0, "0 to 2"}}, {Between(-0.1, 0, 0, 2, 0), Conformance{NotMet, 0, "0 to 2"}},
		{Conform(body.Point{}, geom.Vec{}, geom.Isotropic(1), 0), Conformance{Undecided, 0, "the body gives no limit"}},
		{Conform(body.Point{TolY: unit.Some(2.0)}, geom.Vec{9, 0, 9}, geom.Mat3{}, 0), Conformance{Met, 1, "±2 mm along y"}},
		{Conform(body.Point{TolX: unit.Some(2.0), TolZ: unit.Some(1.0)}, geom.Vec{0, 9, 0}, geom.Mat3{}, 0), Conformance{Met, 1, "±2 mm along x, ±1 mm along z"}},
		{Conform(body.Point{Tol: unit.Some(2.0)}, geom.Vec{0, 1.9, 0}, geom.Mat3{}, 0), Conformance{Met, 1, "2 mm in any direction"}},
		{Conform(body.Point{Tol: unit.Some(2.0), TolY: unit.Some(1.5)}, geom.Vec{0, 1.6, 0}, geom.Mat3{}, 0), Conformance{NotMet, 0, "2 mm in any direction and ±1.5 mm along y"}},
		{Conform(body.Point{Tol: unit.Some(2.0), TolY: unit.Some(3.0)}, geom.Vec{0, 2.5, 0}, geom.Mat3{}, 0), Conformance{NotMet, 0, "2 mm in any direction and ±3 mm along y"}},
	} {
		if c.got != c.want {
			t.Errorf("%+v, want %+v", c.got, c.want)
		}
	}
	// a true value on a limit gives an estimate so far out: 1 within them, by the normal distribution beyond
	near(t, "within", middleChance(2, 1, 0, 2), 1, 0)
	near(t, "beyond", middleChance(3.5, 1, 0, 2), 0.0668072+0.0002326, 1e-7) // tables: 1.5 and 3.5 standard deviations
	near(t, "beyond on the other side", middleChance(-1.5, 1, 0, 2), 0.0668072+0.0002326, 1e-7)
	near(t, "beyond without uncertainty", middleChance(3.5, 0, 0, 2), 0, 0)
	near(t, "in the ball", ballChance(geom.Vec{0, 2, 0}, geom.Isotropic(1), 2), 1, 0)
	near(t, "beyond the ball", ballChance(geom.Vec{0, 3, 0}, geom.Isotropic(1), 2), 1-geom.NonCentralCDF3(3, 2), 1e-12)
	for _, c := range []struct {
		c    Conformance
		want bool
	}{{Conformance{Undecided, 0.05 - eps, "x"}, true}, {Conformance{Undecided, 0.051, "x"}, false}, {Conformance{NotMet, 0.01, "x"}, false}, {Conformance{Undecided, 0, noLimit}, false}} {
		if got := c.c.tooRough(0); got != c.want {
			t.Errorf("%+v: too rough %v", c.c, got)
		}
	}
	if smallestVariance(geom.Diag3(geom.Vec{3, 1, 2})) != 1 || smallestVariance(geom.Diag3(geom.Vec{1, 3, 2})) != 1 || smallestVariance(geom.Diag3(geom.Vec{3, 2, 1})) != 1 {
		t.Error("the smallest of three")
	}
	none, nan := unit.Maybe[float64]{}, unit.Some(math.NaN())
	if smallestTolerance(none, unit.Some(3.0), unit.Some(2.0), nan, unit.Some(-1.0), unit.Some(0.0), unit.Some(5.0)) != 2 || smallestTolerance(none, nan) != 0 || known(unit.Some(math.Inf(1))) != 0 || known(unit.Maybe[float64]{Value: 3}) != 0 {
		t.Error("the smallest tolerance of those that are known")
	}
}

// The words of a comparison: every pair of verdicts, measured before or not.
func TestAnswersOfAComparison(t *testing.T) {
	for _, c := range []struct {
		before  bool
		was, is Verdict
		want    PointAnswer
	}{
		{true, Met, Met, "stayed in tolerance"}, {true, NotMet, Met, "brought into tolerance"}, {true, Undecided, Met, "in tolerance; undecided before"},
		{true, Met, NotMet, "lost its tolerance"}, {true, NotMet, NotMet, "still out of tolerance"}, {true, Undecided, NotMet, "out of tolerance; undecided before"},
		{true, Met, Undecided, "undecided"}, {true, NotMet, Undecided, "undecided"}, {true, Undecided, Undecided, "undecided"},
		{false, Undecided, Met, "in tolerance; not measured before"}, {false, Undecided, NotMet, "out of tolerance; not measured before"}, {false, Undecided, Undecided, "undecided"},
	} {
		if got := answer(c.before, c.was, c.is); got != c.want || !slices.Contains(Answers(), got) {
			t.Errorf("%v, %v to %v: %q, want %q", c.before, c.was, c.is, got, c.want)
		}
	}
	p := Progress{To: job.StageAfter, Comparable: true}
	firm := PointResult{ID: "A", Tolerance: Met, Firm: true, Probability: 0.97, ShiftMM: geom.Vec{1, 2, 3}}
	was := PointResult{Tolerance: NotMet, ShiftMM: geom.Vec{9, 8, 7}}
	ch := change{by: geom.Vec{3, 0, 0}, cov: geom.Isotropic(0.5), t2: 36, known: true}
	got := p.progress(was, true, firm, ch)
	if got.Answer != "brought into tolerance" || got.Is != Met || got.Certainty != 0.97 || got.FromMM != was.ShiftMM || got.ToMM != firm.ShiftMM || !got.Changed || got.Open || got.T2 != 36 || got.ChangeMM != ch.by || got.StdMM != (geom.Vec{0.5, 0.5, 0.5}) {
		t.Errorf("%+v", got)
	}
	near(t, "detectable", got.Detectable, 0.5*math.Sqrt(geom.Noncentrality3(0.001, 0.999)), 1e-6)
	ch.t2 = criticalPoint // not beyond it
	if got := p.progress(was, true, firm, ch); got.Changed || got.Open {
		t.Errorf("%+v", got)
	}
	if got := p.progress(was, true, firm, change{}); !got.Open || got.Detectable != 0 || got.Answer != "brought into tolerance" {
		t.Errorf("a change that is not known: %+v", got)
	}
	if got := p.progress(was, false, firm, ch); got.Answer != "in tolerance; not measured before" || got.Changed || got.FromMM != (geom.Vec{}) {
		t.Errorf("not measured before: %+v", got)
	}
	loose := firm
	loose.Firm = false
	if got := p.progress(was, true, loose, ch); got.Is != Undecided || got.Answer != "undecided" || got.Certainty != 0.97 {
		t.Errorf("not firm: %+v", got)
	}
	p.To = job.StageDuring
	if got := p.progress(was, true, firm, ch); got.Answer != "in tolerance while the work goes on" {
		t.Errorf("during the work: %q", got.Answer)
	}
	p.Comparable = false
	if got := p.progress(was, true, firm, ch); got.Is != Undecided || got.Certainty != 0 {
		t.Errorf("not comparable: %+v", got)
	}
}

// What is doubtful about a point, and what it needs, in words.
func TestDoubtAndNeedInWords(t *testing.T) {
	beyond, again := criticalPoint+0.1, PointResult{}
	again.needs(Need{Kind: NeedsReadingAgain})
	again.Moved, again.T2 = true, 99
	for _, c := range []struct {
		p    PointResult
		want string
	}{
		{PointResult{Firm: true, T2: beyond}, ""},
		{PointResult{T2: beyond}, "it is further off than one still point in a thousand"},
		{PointResult{T2: criticalPoint}, "the result as a whole is in doubt"},
		{again, "it moved by itself and was read once"},
		{PointResult{Moved: true, T2: firmMoved}, "chance is not ruled out"},
		{PointResult{Moved: true, T2: firmMoved + 0.1}, "the result as a whole is in doubt"},
	} {
		if got := c.p.Doubt(); got != c.want && (c.want == "" || !strings.Contains(got, c.want)) {
			t.Errorf("%+v: %q, want %q", c.p, got, c.want)
		}
	}
	if !again.Misread() || (PointResult{}).Misread() || again.Need().Kind != NeedsReadingAgain || !strings.HasPrefix(again.Needs, "moved, or misread") {
		t.Errorf("%+v", again)
	}
	for _, c := range []struct {
		n    Need
		want string
	}{
		{Need{}, ""}, {Need{Kind: NeedsReadingAgain}, "moved, or misread: read A again in another set-up"},
		{Need{Kind: NeedsSetups, Setups: 3, StdMM: 0.25}, "A in 3 independent set-ups in all, or once "},
		{Need{Kind: NeedsBetterDevice}, "A with a much better device: it stands too near the limit for 12 readings like these"},
		{Need{Kind: NeedsManufacturer}, "the manufacturer's word on A"}, {Need{Kind: NeedsSteadyPoints}, "the steady block leans on A so much"},
		{Need{Kind: NeedsCoordinates}, "a coordinate reading of A"}, {Need{Kind: NeedsLimit}, "a limit for A from the manufacturer"},
		{Need{Kind: NeedsLimit, RoughMM: 1.5}, "the readings are too rough for the limit (uncertain by up to ± 3.0 mm, k = 2): a limit for A"},
	} {
		if got := c.n.text("A"); !strings.Contains(got, c.want) || c.want == "" && got != "" {
			t.Errorf("%+v: %q, want %q", c.n, got, c.want)
		}
	}
	point, wide := body.Point{ID: "A", Tol: unit.Some(3.0)}, geom.Isotropic(2)
	none := needsFor(Conform(body.Point{}, geom.Vec{}, wide, 0), body.Point{}, geom.Vec{}, wide, geom.Mat3{}, 0)
	if none.Kind != NeedsLimit {
		t.Errorf("without a limit: %+v", none)
	}
	// a place 30 mm off known to 300 mm: the probability to be within is small, and it is not said to be beyond
	rough := needsFor(Conform(point, geom.Vec{30, 0, 0}, geom.Isotropic(300), 0), point, geom.Vec{30, 0, 0}, geom.Isotropic(300), geom.Mat3{}, 0)
	near(t, "too rough", rough.RoughMM, 300, 1e-9)
	// from its definition: the fewest set-ups with which the limit is decided
	for _, off := range []float64{0, 1, 2, 2.4, 2.8, 2.95, 3.3, 4} {
		for _, s := range []float64{0.2, 0.5, 1} {
			d, cov, fixed := geom.Vec{off, 0, 0}, geom.Isotropic(s), geom.Isotropic(0.05)
			if Conform(point, d, cov, 0).Verdict != Undecided {
				continue
			}
			own, want := cov.Sub(fixed), Need{Kind: NeedsManufacturer}
			for n := MaxSetups; n >= 2; n-- {
				if Conform(point, d, fixed.Add(own.Scale(1/float64(n))), 0).Verdict != Undecided {
					want = Need{Kind: NeedsSetups, Setups: n, StdMM: math.Sqrt((s*s - 0.0025) / float64(n))}
				}
			}
			if want.Kind != NeedsSetups && Conform(point, d, fixed, 0).Verdict != Undecided {
				want.Kind = NeedsBetterDevice
			}
			if got := finer(point, d, cov, fixed, 0); got.Kind != want.Kind || got.Setups != want.Setups || math.Abs(got.StdMM-want.StdMM) > 1e-12 {
				t.Errorf("%g mm off, known to %g: %+v, want %+v", off, s, got, want)
			}
		}
	}
}

// Figures are rounded far below any meaning; what is none is 0, and there is no minus zero.
func TestRounding(t *testing.T) {
	for _, c := range []struct{ v, unit, want float64 }{
		{1.234567894, 1e8, 1.23456789}, {1.234567896, 1e8, 1.2345679}, {-1.234567896, 1e8, -1.2345679}, {math.NaN(), 1e8, 0}, {math.Inf(1), 1e8, 0}, {math.Inf(-1), 1e8, 0}, {1e305, 1e8, 1e305}, {-1e-12, 1e8, 0},
	} {
		if got := roundTo(c.v, c.unit); got != c.want || got == 0 && math.Signbit(got) {
			t.Errorf("%v: %v, want %v", c.v, got, c.want)
		}
	}
	if roundMM(0.123456789) != 0.12345679 || roundDeg(0.1234567890123) != 0.12345678901 || roundP(0.1234567899) != 0.12345679 {
		t.Errorf("%v, %v, %v", roundMM(0.123456789), roundDeg(0.1234567890123), roundP(0.1234567899))
	}
	if got := stds(geom.Diag3(geom.Vec{4, -1, 9})); got != (geom.Vec{2, 0, 3}) {
		t.Errorf("%v", got)
	}
	if got := roundVec(geom.Vec{1, 2, 3}, func(v float64) float64 { return 2 * v }); got != (geom.Vec{2, 4, 6}) {
		t.Errorf("%v", got)
	}
	for v, want := range map[float64]string{2e6: "millions of", 1e6: "millions of", 999_999: "999999", 12.4: "12", 1: "1", 0.999: "1", 0.0456: "0.046"} {
		if got := few(v); got != want {
			t.Errorf("%v: %q, want %q", v, got, want)
		}
	}
	if _, err := json.Marshal((&problem{}).emptyResult()); err != nil {
		t.Error(err)
	}
}
