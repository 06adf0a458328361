package report

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// said is a table of what is said and what should be, blanks that do not break as blanks.
func said(t *testing.T, rows [][2]string) {
	t.Helper()
	for i, r := range rows {
		if got := strings.ReplaceAll(r[0], thin, " "); got != r[1] {
			t.Errorf("row %d: %q, want %q", i+1, got, r[1])
		}
	}
}

// Times, amounts and figures at the places where their words change. Constructed.
func TestFiguresWhereTheirWordsChange(t *testing.T) {
	said(t, [][2]string{
		{minutes(59.4), "59 min"}, {minutes(59.5), "1 h"}, {minutes(61), "1 h 1 min"}, {minutes(0), "0 min"}, {minutes(120.4), "2 h"},
		{minutes(1 << 53), "150119987579016 h 32 min"}, {minutes(math.Inf(1)), "+Inf min"}, {minutes(math.NaN()), "NaN min"},
		{elapsed(2879), "47 h 59 min"}, {elapsed(2880), "2 days"}, {elapsed(2880.4), "2 days"}, {elapsed(2880.5), "2 days 1 min"}, {elapsed(math.Inf(1)), "+Inf min"},
		{amount(2, "piece"), unit.Pieces("2", 2, "piece")}, {amount(20, "C"), "20 °C"}, {amount(0.005, "m"), "0.01 m"}, {amount(1.10, "m"), "1.1 m"}, {amount(3, ""), "3"}, {amount(100, "ml"), "100 ml"},
		{grouped(999), "999"}, {grouped(1000), "1,000"}, {grouped(999999.4), "999,999"}, {grouped(0), "0"}, {odometerText(0), "odometer not read"}, {odometerText(1), "1 km on the clock"},
		{list(nil, 3), ""}, {list([]string{"A"}, 1), "A"}, {list([]string{"A", "B"}, 1), "A and 1 more"}, {list([]string{"A", "B"}, 2), "A and B"},
		{sentence("  so  "), "So."}, {sentence("what?"), "What?"}, {sentence("stop!"), "Stop!"}, {sentence("é."), "É."}, {sentence(" "), ""},
		{signedBeside(0.04, 1), "0.0"}, {signedBeside(2, 2.5), "+2.0"}, {signedBeside(-2, 2.5), "−2.0"}, {signedBeside(2.04, 2), "+2.04"}, {signedBeside(0, 1), "0.0"},
		{shortPercent(1), ">99.9%"}, {shortPercent(0), "<0.1%"}, {shortPercent(0.5), "50.0%"},
		{missedBelow(measure.PointResult{Detectable: 2.26}), "2.3"}, {missedBelow(measure.PointResult{}), "any size"}, {missedBelow(measure.PointResult{Detectable: math.NaN()}), "any size"},
		{missedFrom(measure.PointResult{Detectable: 2}), "2.0 mm"}, {missedFrom(measure.PointResult{}), "any size"},
		{oftenText(0, 0), "in no draw"}, {oftenText(1, 0), "in every draw"}, {oftenText(0.0004, 0.0001), "under 0.1 % of draws"}, {oftenText(0.0005, 0.0001), "0.1 % ± 0.0"}, {oftenText(0.9995, 0), "over 99.9 % of draws"}, {oftenText(0.5, 0.01), "50.0 % ± 2.0"},
		{spanned("a", "a"), "on a"}, {spanned("a", "b"), "from a to b"}, {addsUp(100), "+1.00"}, {addsUp(0), "0.00"}, {addsUp(-100), unit.Minor(-100).Grouped()},
		{whole2(2.0000000001, "piece"), "2"}, {whole2(2.1, "piece"), "3"}, {whole2(2.1, "m"), "2.1"},
	})
}

func whole2(v float64, u string) string { return fmt.Sprint(whole(v, u)) }

// A step says with which word it goes on, and how long that may take; a step without either of them
// says nothing of it. Constructed.
func TestAStepSaysWithWhatItGoesOn(t *testing.T) {
	in := fixture(t)
	last := func(together string, window float64) string {
		all := StepSays(in, plan.Step{ID: "A", Name: "Bond", Skill: "body", Minutes: 5, Together: together, Window: window})
		return all[len(all)-1]
	}
	said(t, [][2]string{{last("bond", 90), "In one go: bond, within 1 h 30 min"}, {last("bond", 0), last("", 0)}, {last("", 90), last("", 0)}})
	if got := last("", 0); strings.Contains(got, "In one go") {
		t.Errorf("%q", got)
	}
}

// What is said of each state of a thing, one row for each. Constructed.
func TestWordsOfEveryState(t *testing.T) {
	in := fixture(t)
	in.Vehicle = nil
	on := d(5)
	q := func(s string, asked, answered unit.Date, by string) string {
		return questionState(decide.Question{State: decide.QuestionState(s), Asked: asked, Answer: answered, By: by}, nil)
	}
	step := func(from, to time.Time) string { return clockWords(plan.Step{From: from, To: to}) }
	at := func(day, h int) time.Time { return time.Date(2026, 3, day, h, 30, 0, 0, time.UTC) }
	temp := func(r measure.Result) string {
		return temperatureText(job.Setup{ID: "S1", Temp: unit.Some(unit.Celsius(19))}, r)
	}
	said(t, [][2]string{
		{statusWords("manufacturer"), "from the procedure"}, {statusWords("standard"), "read in the standard"}, {statusWords("secondary"), "from a secondary source"}, {statusWords("memory"), "from memory, to be checked"}, {statusWords(""), "from memory, to be checked"},
		{toleranceLine(movedCount{}), "All measured points are in tolerance."}, {toleranceLine(movedCount{out: []string{"A"}}), "Out of tolerance: A."}, {toleranceLine(movedCount{unsure: []string{"B"}}), "Tolerance undecided: B."}, {toleranceLine(movedCount{out: []string{"A"}, unsure: []string{"B"}}), "Out of tolerance: A. Undecided: B."},
		{q("open", unit.Date{}, unit.Date{}, ""), "open"}, {q("sent", on, unit.Date{}, ""), "sent; sent on Thu 5 Mar 2026"}, {q("answered", on, d(6), "desk"), "answered; sent on Thu 5 Mar 2026; answered on Fri 6 Mar 2026 by desk"}, {q("answered", unit.Date{}, d(6), ""), "answered; answered on Fri 6 Mar 2026 by nobody named"},
		{assumedWord(plan.Item{}), ""}, {assumedWord(plan.Item{Ask: true, Open: true}), " (assumed; waits for an answer)"}, {assumedWord(plan.Item{Open: true}), " (assumed; to be measured better first)"},
		{lossWord(cost.Bill{IsLoss: true, Complete: true}).Text, "–"}, {lossWord(cost.Bill{Loss: make([]cost.Loss, 1), IsLoss: true}).Text, "total loss by the rule"}, {lossWord(cost.Bill{Loss: make([]cost.Loss, 1)}).Text, "not certain: a price is missing"}, {lossWord(cost.Bill{Loss: make([]cost.Loss, 1), Complete: true}).Text, "below the rule"},
		{fmt.Sprint(lossLimit(cost.Loss{Left: 9, Right: 9, Operator: shop.AtLeast})), "10"}, {fmt.Sprint(lossLimit(cost.Loss{Left: 9, Right: 9, Operator: shop.AtLeast, IsLoss: true})), "9"}, {fmt.Sprint(lossLimit(cost.Loss{Left: 9, Right: 9, Operator: shop.Above, IsLoss: true})), "8"}, {fmt.Sprint(lossLimit(cost.Loss{Left: 9, Right: 9, Operator: shop.Above})), "9"}, {fmt.Sprint(lossLimit(cost.Loss{Left: 8, Right: 9, Operator: shop.AtLeast})), "9"}, {fmt.Sprint(lossLimit(cost.Loss{Left: 10, Right: 9, Operator: shop.Above, IsLoss: true})), "9"},
		{step(time.Time{}, time.Time{}), "no time yet"}, {step(at(4, 8), at(4, 9)), "08:30–09:30"}, {step(at(4, 8), at(5, 9)), "08:30– Thu 09:30"},
		{standsWords(in, plan.Step{}), ""}, {standsWords(in, plan.Step{At: plan.Yard}), "vehicle in the yard"}, {standsWords(in, plan.Step{At: "B1"}), "vehicle in Bench bay"},
		{courseOf(body.Line{Curve: []geom.Vec{{}, {}, {}}}), "a closed curve through 3 points on the surface"}, {courseOf(body.Line{Normal: geom.Vec{1, 0, 0}}), "one plane"},
		{temp(measure.Result{}), "19.0 °C"}, {temp(measure.Result{Thermal: []measure.Temperature{{Setup: "S2", Corrected: 5}}}), "19.0 °C"}, {temp(measure.Result{Thermal: []measure.Temperature{{Setup: "S1"}}}), "19.0 °C, not corrected"},
		{temp(measure.Result{Thermal: []measure.Temperature{{Setup: "S1", Corrected: 11.5, StdPPM: 2}}}), "19.0 °C, corrected by +11.5 ± 4 ppm"}, {temp(measure.Result{Thermal: []measure.Temperature{{Setup: "S1", StdPPM: 2}}}), "19.0 °C, corrected by 0.0 ± 4 ppm"}, {temperatureText(job.Setup{ID: "S1"}, measure.Result{}), "not measured"},
		{progressWord(measure.PointProgress{Is: measure.Met, Answer: "a"}).Class(), word{"", toneGood}.Class()}, {progressWord(measure.PointProgress{Is: measure.NotMet}).Class(), word{"", toneBad}.Class()}, {progressWord(measure.PointProgress{}).Class(), word{"", toneOpen}.Class()},
		{briefly([]job.FindingID{"A", "B", "C"}), "A, B and C"}, {briefly([]job.FindingID{"A", "B", "C", "D"}), "4 findings"},
		{formulaText(plan.TakeoffLine{Formula: "2 ml", Amount: 2}, "ml"), "2 ml"}, {formulaText(plan.TakeoffLine{Formula: "1 m x 2", Amount: 2}, "ml"), "1 m x 2 = 2 ml"}, {formulaText(plan.TakeoffLine{Formula: "1 + 1 = 2", Amount: 2}, "ml"), "1 + 1 = 2"},
		{evidenceHash(Input{}, job.Evidence{ID: "E", SHA256: "aa"}), "aa"}, {evidenceHash(Input{Evidence: map[string]string{"E": "bb"}}, job.Evidence{ID: "E", SHA256: "aa"}), "aa"}, {evidenceHash(Input{Evidence: map[string]string{"E": "bb"}}, job.Evidence{ID: "E"}), "bb (as read; the job notes none)"}, {evidenceHash(Input{}, job.Evidence{ID: "E"}), "no hash"},
		{driverName(in, compare.Driver{Name: "P-WING"}), "Left wing"}, {driverName(in, compare.Driver{Name: "none"}), "none"},
		{tipsText(nil), "not said"}, {tipsText([]body.TipMethod{"visual", "visual"}), "both " + tipWord("visual")}, {tipsText([]body.TipMethod{"visual", "penetrant"}), tipWord("visual") + "; " + tipWord("penetrant")}, {tipsText([]body.TipMethod{"visual"}), tipWord("visual")},
		{arrivalWords("2 days"), ", arrives in 2 days"}, {arrivalWords("here since Monday"), ", here since Monday"}, {arrivalWords("promised for no day"), ", promised for no day"},
		{routeProof(in, pick{}), ""}, {proven(true, "a", "b"), "a, proven"}, {proven(false, "a", "b"), "not proven: b"},
		{withText(inspect.Coverage{Name: "Z, rib"}, inspect.Coverage{Name: "Z"}), "rib"}, {withText(inspect.Coverage{Name: "other", SizeMM: 1260}, inspect.Coverage{Name: "Z"}), "other (1.3 m)"},
		{answerUsed(decide.Finding{}), ""}, {answerUsed(decide.Finding{Answer: "answer A1 allows it", Because: "by row R1"}), "Answer A1 allows it."}, {answerUsed(decide.Finding{Answer: "answer A1 allows it", Because: "answer A1 says so"}), ""},
		{clearanceFigure(inspect.Clearance{MM: 5, Std: 1}), "≥ 5.0 ± 2.0 mm"}, {clearanceFigure(inspect.Clearance{MM: 5, Std: 1, SeenMM: 5, UpperMM: 5.1}), "5.0 ± 2.0 mm"}, {clearanceFigure(inspect.Clearance{MM: 5, Std: 1, SeenMM: 5, UpperMM: 5.2}), "≥ 5.0 ± 2.0 mm"},
	})
	for i, m := range []moveState{unmeasured, mayHaveMoved, hasMoved, stands} {
		if m != moveState(i) {
			t.Errorf("state %d is %d", i, m)
		}
	}
}

// Each kind of need is told in its own words, with who needs it; what is no kind says nothing.
func TestEveryNeedIsTold(t *testing.T) {
	seen := map[string]bool{"": true}
	for _, k := range []measure.NeedKind{measure.NeedsReadingAgain, measure.NeedsSetups, measure.NeedsBetterDevice, measure.NeedsManufacturer, measure.NeedsSteadyPoints, measure.NeedsCoordinates, measure.NeedsLimit} {
		text := need(k, "P1 and P2")
		if seen[strings.ReplaceAll(text, "P1 and P2", "")] || !strings.Contains(text, "P1 and P2") || !strings.HasSuffix(text, ".") {
			t.Errorf("need %v is told as %q", k, text)
		}
		seen[strings.ReplaceAll(text, "P1 and P2", "")] = true
	}
	if got := need(measure.NeedsNothing, "P1"); got != "" {
		t.Errorf("nothing is told as %q", got)
	}
}

// The reference points that were not used are told with their number.
func TestReferencePointsThatDisagree(t *testing.T) {
	for _, c := range []struct {
		steady [2]bool
		datum  measure.Datum
		want   string
	}{
		{[2]bool{true, true}, measure.ByReference, ""}, {[2]bool{false, true}, measure.ByReference, "Reference point P3 disagrees; went on without it."},
		{[2]bool{false, false}, measure.ByReference, "Reference points P3 and P4 disagree; went on without them."}, {[2]bool{false, false}, "", ""},
	} {
		in := fixture(t)
		in.Vehicle = nil
		h := &in.Measure.Hypotheses[0]
		h.Datum, in.Measure.Test.MovedAboveT2 = c.datum, 14
		for i := range h.Points {
			h.Points[i].Steady = i != 2 && i != 3 || i == 2 && c.steady[0] || i == 3 && c.steady[1]
		}
		h.Steady = []body.PointID{"P5"}
		if got := referenceLine(in); got != c.want {
			t.Errorf("%v, %q: %q, want %q", c.steady, c.datum, got, c.want)
		}
		text := strings.Join(strings.Fields(MeasureText(in.Body.Points, in.Body.Sections, in.Body.Axes, in.Measure, 120)), " ")
		lines := measuredOf(in).disagreeing()
		if n := strings.Count(c.want, "P"); len(lines) != n || strings.Contains(text, "Reference points - ") != (n > 0) {
			t.Errorf("%v: %d lines of %d in %q", c.steady, len(lines), n, text)
		}
		for _, l := range lines {
			if !strings.Contains(text, strings.Join(strings.Fields(sentence(l)), " ")) {
				t.Errorf("%q is not in %q", l, text)
			}
		}
	}
	if in := (Input{}); referenceLine(in) != "" {
		t.Error("of no measurement a reference point disagrees")
	}
}

// A measurement of which a reading is suspected and nothing is certain says so; of what is certain
// either way it does not.
func TestNothingFirm(t *testing.T) {
	for _, c := range []struct {
		suspect bool
		firm    string
		want    string
	}{{true, "none", "If every reading is as it was meant: "}, {true, "moved", "The readings allow one answer: "}, {true, "still", "The readings allow one answer: "}, {false, "none", "The readings allow one answer: "}} {
		in := fixture(t)
		in.Vehicle = nil
		in.Measure.Hypotheses = in.Measure.Hypotheses[:1]
		if !c.suspect {
			in.Measure.Suspects = nil
		}
		ps := in.Measure.Hypotheses[0].Points
		for i := range ps {
			ps[i].Firm = i == 0 && c.firm == "moved" || i == 3 && c.firm == "still"
		}
		if got := measuredOf(in).claim(0); !strings.HasPrefix(got, c.want) {
			t.Errorf("%+v: %q, want %q", c, got, c.want)
		}
	}
}

// A shift in words: the axes that matter, largest first, at the shares from which they do: a fifth of the largest, and
// for its main directions 35 in a hundred of the whole; what does not show in print is left out.
func TestDirectionsAtTheirShares(t *testing.T) {
	w := wordsOf(body.Axes{X: "rearward", Y: "right", Z: "up"})
	said(t, [][2]string{
		{w.direction(geom.Vec{10, 2, -1.99}), "10.0 mm rearward and 2.0 mm to the right"}, {w.direction(geom.Vec{-0.05, 0.049, 0.2}), "0.2 mm up and 0.1 mm forward"}, {w.direction(geom.Vec{0.049, 0, 0}), ""}, {w.direction(geom.Vec{1, -3, -2}), "3.0 mm to the left, 2.0 mm down and 1.0 mm rearward"},
		{w.mainly(geom.Vec{10, 3.8, 0}), "rearward and to the right"}, {w.mainly(geom.Vec{10, 3.6, 0}), "rearward"}, {w.mainly(geom.Vec{0, -0.049, 0}), ""}, {w.mainly(geom.Vec{0, -0.05, 0}), "to the left"}, {w.mainly(geom.Vec{5, -5, 5}), "rearward, to the left and up"},
		{limitOf(body.Point{Tol: unit.Some(2.5), TolX: unit.Some(1.0)}), "2.5 mm all round"}, {limitOf(body.Point{TolX: unit.Some(1.0), TolZ: unit.Some(1.25)}), "x ± 1.0 mm, z ± 1.25 mm"}, {limitOf(body.Point{}), "none given"},
		{along(body.Point{TolY: unit.Some(2.0)}, geom.Vec{2.04, 2.04, -2.04}), "+2.0 / +2.04 / −2.0"},
		{pointBecause(measure.PointResult{Firm: true, ShiftMM: geom.Vec{3, 0, 0}, FromNominal: geom.Vec{3, 0, 0}}, w), ""}, {pointBecause(measure.PointResult{Firm: true, Moved: true, ShiftMM: geom.Vec{3, 0, 0}, FromNominal: geom.Vec{3, 0.149, 0}, Needs: "more"}, w), "3.0 mm rearward. More."},
		{pointBecause(measure.PointResult{Firm: true, ShiftMM: geom.Vec{3, 0, 0}, FromNominal: geom.Vec{3, -0.15, 0}, FromNominalStd: geom.Vec{0.25, 0.5, 1}}, w), "Judged at +3.0 / −0.1 / 0.0 ± 0.5 / 1.0 / 2.0 mm against the other steady points."},
	})
	for _, c := range []struct {
		s    moveState
		want string
		tone tone
	}{{hasMoved, "moved", toneBad}, {stands, "no move larger than 2.0" + thin + "mm would have been missed", toneGood}, {mayHaveMoved, "not certain", toneOpen}, {unmeasured, "not measured", toneOpen}} {
		if got := movedWord(c.s, measure.PointResult{Detectable: 2}); got.Text != c.want || got.Tone != c.tone {
			t.Errorf("%v is %+v", c.s, got)
		}
	}
	if got := unmoved(measure.PointResult{}); got != "a move of any size could have been missed" {
		t.Error(got)
	}
}

// The points about which the readings of the evidence differ are laid side by side, under the numbers of the answers that
// stand, three at most; with one answer there is nothing to lay.
func TestRivalsSideBySide(t *testing.T) {
	point := func(id string, x float64, tol measure.Verdict) measure.PointResult {
		return measure.PointResult{ID: body.PointID(id), ShiftMM: geom.Vec{x, 0, 0}, Tolerance: tol, Firm: true}
	}
	h := func(survives bool, ps ...measure.PointResult) measure.Hypothesis {
		return measure.Hypothesis{Survives: survives, Points: ps}
	}
	same, there := point("A", 1, measure.Met), h(true, point("A", 1, measure.Met), point("B", 5, measure.NotMet))
	m := measured{points: []body.Point{{ID: "A"}, {ID: "B"}}, r: measure.Result{Hypotheses: []measure.Hypothesis{there, h(false, same), h(true, same, point("B", 0, measure.Met)), h(true, same), h(true, same)}}}
	heads, rows := m.rivals()
	if fmt.Sprint(heads) != "[Answer 1 Answer 3 Answer 4]" || len(rows) != 1 || rows[0].ID != "B" || len(rows[0].Cells) != 3 {
		t.Fatalf("%q, %+v", heads, rows)
	}
	for i, want := range []string{"+5.0 / 0.0 / 0.0 out of tolerance", "0.0 / 0.0 / 0.0 in tolerance", "not measured undecided"} {
		if c := rows[0].Cells[i]; c.Shift+" "+c.Word.Text != want {
			t.Errorf("cell %d: %+v, want %q", i+1, c, want)
		}
	}
	m.r.Hypotheses = m.r.Hypotheses[:2]
	if heads, rows := m.rivals(); heads != nil || rows != nil {
		t.Errorf("of one answer: %q, %+v", heads, rows)
	}
}
