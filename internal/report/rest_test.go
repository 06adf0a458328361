package report

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// Is the casting sound: the word and the sentence for each mixture of findings on it, findings elsewhere and
// areas that were inspected, were not, or were not asked for.
func TestIsTheCastingSound(t *testing.T) {
	on, longer, off := inspect.Finding{ID: "F1", Casting: "C1", Length: &inspect.Length{MM: 10, Std: 1}}, inspect.Finding{ID: "F2", Casting: "C1", Length: &inspect.Length{MM: 20, Std: 1}}, inspect.Finding{ID: "F3"}
	done, open := inspect.Coverage{Area: "A1", Name: "a", Covered: true}, inspect.Coverage{Area: "A2", Name: "b"}
	for i, c := range []struct {
		findings []inspect.Finding
		areas    []inspect.Coverage
		word     string
		text     string
	}{
		{nil, []inspect.Coverage{done}, "yes, as far as inspected", "No finding, and every area is inspected as the manufacturer asks."},
		{nil, []inspect.Coverage{done, open}, "not known yet", "No finding on the casting so far, but not all of it has been inspected."},
		{nil, nil, "not known yet", "No finding on the casting so far, but not all of it has been inspected."},
		{[]inspect.Finding{off}, []inspect.Coverage{done}, "yes, as far as inspected", "No finding on the casting; 1 finding on other parts."},
		{[]inspect.Finding{off}, nil, "not known yet", "No finding on the casting so far, but not all of it has been inspected."},
		{[]inspect.Finding{on}, []inspect.Coverage{done}, "no", "1 finding on the casting; the longest is F1, 10.0 ± 2.0 mm."},
		{[]inspect.Finding{on, longer, off}, []inspect.Coverage{open, open}, "no", "2 findings on the casting, 1 on other parts; the longest is F2, 20.0 ± 2.0 mm. 2 areas not inspected as asked."},
		{[]inspect.Finding{{ID: "F1", Casting: "C1"}}, nil, "no", "1 finding on the casting. No area to be inspected is given, so nothing is known of the rest."},
	} {
		a := answerSound(Input{Inspect: inspect.Result{Findings: c.findings, Coverage: c.areas}})
		if text := strings.ReplaceAll(a.Text, thin, " "); a.Word.Text != c.word || text != c.text || (a.Word.Tone == toneGood) != strings.HasPrefix(c.word, "yes") {
			t.Errorf("row %d: %+v, want %q: %q", i+1, a, c.word, c.text)
		}
	}
}

// Has it moved, for the owner: each answer once, never "has not moved" without a measurement or with more
// than one reading of it.
func TestOwnerIsToldOfEachAnswer(t *testing.T) {
	in := fixture(t)
	at := func(ambiguous bool, change func(p *measure.PointResult)) []string {
		x := in
		x.Measure = fixtureMeasure()
		x.Measure.Ambiguous = ambiguous
		for i := range x.Measure.Hypotheses[0].Points {
			change(&x.Measure.Hypotheses[0].Points[i])
		}
		return ownerMoved(x)
	}
	still := func(p *measure.PointResult) { p.Moved, p.Firm, p.Tolerance = false, true, measure.Met }
	doubt := func(p *measure.PointResult) {
		if still(p); p.ID == "P2" {
			p.Firm = false
		}
	}
	none := in
	none.Measure = measure.Result{}
	for i, c := range []struct {
		got  []string
		want string
	}{
		{at(true, still), "We measured 9 places of the structure. The readings allow more than one answer: whether it has moved is not certain yet. | 1 place could not be measured or have not been yet."},
		{at(false, still), "We measured 9 places of the structure. None has moved as far as the readings can tell. | 1 place could not be measured or have not been yet."},
		{at(false, doubt), "We measured 9 places of the structure. None has surely moved; of 1 it is not certain. | 1 place could not be measured or have not been yet."},
		{at(false, func(*measure.PointResult) {}), "The structure has moved: of 9 places that were measured, 2 are no longer where they belong, 2 farther than the maker allows; of 1 that is not certain. | 1 place could not be measured or have not been yet."},
		{ownerMoved(none), "The structure has not been measured so that it can be judged. Nothing is known about whether it has moved."},
		{ownerCasting(Input{}), "We found no damage on the large aluminium casting so far. | Not all of the casting has been inspected as the maker asks. More damage may be found there."},
		{[]string{ownerLoss(compare.Route{}), ownerLoss(compare.Route{Bill: cost.Bill{Loss: []cost.Loss{{IsLoss: true}, {Applies: true}}}}), ownerLoss(compare.Route{Bill: cost.Bill{Loss: []cost.Loss{{Applies: true, IsLoss: true}}}})},
			"Whether it counts as a total loss was not worked out. Your insurer and the law decide. | By the rule that applies here this is a repair and no total loss. Your insurer and the law decide. | By the rule that applies here this counts as a total loss. Your insurer and the law decide."},
		{ownerPlan(in, pick{}), "There is no way to repair it that we can propose yet."},
	} {
		if got := strings.Join(c.got, " | "); got != c.want {
			t.Errorf("row %d: %q, want %q", i+1, got, c.want)
		}
	}
	after := fixtureMeasure()
	after.Ambiguous = false
	points := after.Hypotheses[0].Points
	for i := range points {
		still(&points[i])
	}
	last := points[0]
	last.ID = "P10"
	in.After = &after
	for want, ps := range map[string][]measure.PointResult{
		"It was measured again after the repair, and not every place is shown to be where it belongs yet.":       points,
		"It was measured again after the repair: every place is where it belongs, within what the maker allows.": append(points, last),
	} {
		after.Hypotheses[0].Points = ps
		if got := ownerBefore(in, picked(in)); len(got) != 1 || got[0] != want {
			t.Errorf("after the repair: %q, want %q", got, want)
		}
	}
}

// A route's open points, its cheaper rivals and its rule of total loss in words.
func TestWordsOfRoutes(t *testing.T) {
	in := fixture(t)
	in.Inspect.Coverage[0].Name = "left tower"
	worth := func(days int, best string) string {
		x := in
		x.Compare.Worth, x.Compare.Best = []compare.Worth{{Route: "new-casting", Saves: 12345, Days: days, Needs: []string{"inspect A1", "settle it"}}, {Route: "gone"}}, best
		return strings.Join(worthLines(x, picked(x)), " | ")
	}
	loss := func(ls ...cost.Loss) string {
		return lossLine(in, pick{Route: compare.Route{Bill: cost.Bill{Currency: "EUR", Loss: ls}}})
	}
	rule := cost.Loss{Name: "rule", Left: 500, Right: 900, Applies: true}
	is := rule
	is.IsLoss = true
	said(t, [][2]string{
		{openText(in, compare.Route{}), "no open question"}, {openText(in, compare.Route{Ask: []string{"F1"}}), "1 open question to the manufacturer (F1)"},
		{openText(in, compare.Route{Ask: []string{"F1", "F2"}, Measure: []string{"P3", "inspect A1", "XA1"}}), "2 open questions to the manufacturer (F1 and F2), measure or inspect first: P3, inspect left tower (A1) and XA1"},
		{worth(2, "weld"), "Cheaper by 123.45 EUR and 2 days: “New casting”, if these turn out well: inspect left tower (A1) and settle it."}, {worth(0, "weld"), "Cheaper by 123.45 EUR: “New casting”, if these turn out well: inspect left tower (A1) and settle it."},
		{worth(-1, "weld"), "Cheaper by 123.45 EUR but 1 day longer: “New casting”, if these turn out well: inspect left tower (A1) and settle it."},
		{loss(), "Repair against total loss: no rule that applies was worked out. Law and insurer decide."}, {loss(cost.Loss{IsLoss: true}), "Repair against total loss: no rule that applies was worked out. Law and insurer decide."},
		{loss(rule, is), "Repair, not a total loss, by the rule that applies here: 5.00 EUR against 9.00 EUR (rule). Law and insurer decide."}, {loss(is), "A total loss by the rule that applies here: 5.00 EUR against 9.00 EUR (rule). Law and insurer decide."},
		{answerMay(Input{}).Word.Text, "nothing yet"}, {answerMay(Input{Decide: decide.Result{Permits: true}}).Word.Text, "nothing to do"}, {answerOpening(pick{}).Word.Text, "not known"}, {answerOpening(pick{Found: true}).Word.Text, "nothing"},
		{answerOpening(pick{Found: true, Route: compare.Route{Plan: plan.Plan{Lost: []plan.Lost{{Name: "clip"}}}}}).Text, "Off, in order: nothing."}, {answerRoute(in, pick{Status: "none there"}).Text, "none there"},
	})
	x := in
	x.Compare.Worth = []compare.Worth{{Route: "weld"}}
	if got := worthLines(x, pick{Route: in.Compare.Routes[1]}); got != nil {
		t.Errorf("of a route that is not the best: %q", got)
	}
}

// What comes off and what is lost, in words: ways to a goal, changes of tool, deliveries.
func TestWordsOfOpening(t *testing.T) {
	names := map[body.PartID]string{"A": "wing", "B": "door", "C": "trim"}
	pl := plan.Plan{Removal: []plan.Removal{{Part: "A", Name: "wing", Needs: []body.PartID{"B", "C"}}, {Part: "B", Name: "door", Needs: []body.PartID{"C"}}, {Part: "C", Name: "trim"}}}
	in := fixture(t)
	in.Body.Parts = []body.Part{{ID: "A", Delivery: unit.Some(unit.Minutes(2880))}, {ID: "B", Delivery: unit.Some(unit.Minutes(0))}, {ID: "C"}, {ID: "D", Delivery: unit.Some(unit.Minutes(2880)), DeliveryLow: 1440, DeliveryHigh: 4320}}
	var deliveries []string
	for _, r := range lostRows(in, plan.Plan{Lost: []plan.Lost{{Part: "A"}, {Part: "B"}, {Part: "C"}, {Part: "D"}}}) {
		deliveries = append(deliveries, r.Delivery)
	}
	said(t, [][2]string{
		{wayTo(pl, names, nil), "reached without taking anything off"}, {wayTo(pl, names, []body.PartID{"A"}), "wing (after door and trim) ← door (after trim) ← trim"}, {wayTo(pl, names, []body.PartID{"C", "C", "X"}), "trim"},
		{changesWords(plan.Changes{}), ""}, {changesWords(plan.Changes{Side: 2, Proven: true}), "One person in this order changes the tool 0, the side 2 and the lift 0 times; it is proven that no order needs less. When several work at once, the day chart rules."},
		{changesWords(plan.Changes{Tool: 1, Counted: true, Minutes: 30, Least: 20}), "One person in this order changes the tool 1, the side 0 and the lift 0 times, 30 min by the shop's figures (not billed); not proven, no order needs less than 20 min. When several work at once, the day chart rules."},
		{changesWords(plan.Changes{Lift: 1}), "One person in this order changes the tool 0, the side 0 and the lift 1 times; not proven to be the least. When several work at once, the day chart rules."},
		{strings.Join(deliveries, " | "), "2 days | in stock | not given | 2 days (24 h to 3 days)"},
		{strings.Join(namesOf(names, []body.PartID{"A", "Z"}), " "), "wing Z"}, {jointNames(in, []body.JointID{"J1", "J9"}), "wing to tower, bolts; J9"},
	})
}

// The rows of treatments: allowed first, then undecided, asked and forbidden ones, alike ones in one row, those
// of which no row speaks apart; a reason that only names its row is not told.
func TestRowsOfTreatments(t *testing.T) {
	opt := func(kind body.TreatmentKind, v decide.Verdict, cite, because string, rows ...string) decide.Option {
		return decide.Option{Kind: kind, Verdict: v, Cite: cite, Because: because, Rows: rows}
	}
	sec := opt(body.SectionOff, decide.Allowed, "p. 3", "it is outboard", "R3")
	sec.Line = "S1"
	other := sec
	other.Line = "S2"
	answered := opt(body.Dress, decide.Allowed, "p. 9", "answer A1 permits it", "R5")
	answered.Answer = "A1"
	rows, noRow := optionRows(decide.Finding{Options: []decide.Option{
		opt(body.Leave, decide.Forbidden, "p. 9", "row R9 forbids it", "R9"), opt(body.ReplaceCasting, decide.Ask, "", "nobody knows"), opt(body.Exchange, decide.Ask, "p. 4", "ask first", "R4"),
		opt(body.Weld, decide.Allowed, "p. 1", "row R1 permits it", "R1"), sec, other, opt(body.Dress, decide.Undecided, "", "too uncertain"), answered, opt(body.ReplacePart, decide.Ask, "", "nor this"),
	}})
	var got []string
	for _, r := range rows {
		got = append(got, fmt.Sprintf("%s: %s (%s; %s)", r.Kind, r.Word.Text, r.Cite, r.Because))
	}
	want := []string{
		string(body.Weld) + ": allowed (row R1: p. 1; )", string(body.SectionOff) + " along S1 or S2: allowed (row R3: p. 3; It is outboard.)", string(body.Dress) + ": allowed (row R5: p. 9; Answer A1 permits it.)",
		string(body.Dress) + ": undecided (; Too uncertain.)", string(body.Exchange) + ": ask the manufacturer (row R4: p. 4; Ask first.)", string(body.Leave) + ": forbidden (row R9: p. 9; )"}
	if fmt.Sprint(got) != fmt.Sprint(want) || noRow != list([]string{string(body.ReplaceCasting), string(body.ReplacePart)}, 2) {
		t.Errorf("%q, want %q; %q", got, want, noRow)
	}
	for s, want := range map[string]bool{"row R1 permits it": true, "rows R1 and R2 permit it": true, "row R1 forbids it": true, "rows forbid it": true, "it permits it all": false, "": false} {
		if plainlySaid(s) != want {
			t.Errorf("%q only names rows: %v", s, !want)
		}
	}
	if got := silentText(decide.RowResult{Row: "R1", Conds: []decide.CondResult{{State: decide.CondMet}, {Fact: "wall_end", Text: ">= 3 mm", State: decide.CondNotMet}}}); got != "R1 (wall end ≥ 3 mm; it is not known)" {
		t.Errorf("%q", got)
	}
	if got := silentText(decide.RowResult{Row: "R1"}); got != "R1" {
		t.Errorf("%q", got)
	}
}

// The sizes of a finding: each row where it is known, and said to be unknown where it should be.
func TestSizesOfAFinding(t *testing.T) {
	in := fixture(t)
	in.Inspect.Groups = []inspect.Group{{ID: "G0", Findings: []job.FindingID{"F7"}}, {ID: "G1", Findings: []job.FindingID{"F1", "F2", "F3"}}}
	rows := func(f inspect.Finding, j job.Finding) string {
		var out []string
		for _, r := range sizeRows(in, f, j) {
			out = append(out, r.What+": "+r.Value)
		}
		return strings.Join(out, " | ")
	}
	deep := job.Finding{Tips: []body.TipMethod{"visual"}, Through: body.Yes, Depth: unit.Some(unit.MM(2)), DepthStd: 0.25}
	said(t, [][2]string{
		{rows(inspect.Finding{}, job.Finding{}), ""}, {rows(inspect.Finding{Casting: "C1"}, job.Finding{}), "Along the surface: not known | Held against limits: not known | Ends: not said | Through the wall: not known"},
		{rows(inspect.Finding{ID: "F1", Group: "G1", Length: &inspect.Length{MM: 10, Std: 1}, LowerMM: 8, UpperMM: 11, TipAddMM: 6, Decision: &inspect.Length{MM: 16, Std: 2}}, job.Finding{}),
			"Along the surface: 10.0 ± 2.0 mm | Straight, end to end: 8.0 mm | Through all points: 11.0 mm | As one crack with: F2 and F3 | Added for tips: 6.0 mm | Held against limits: 16.0 ± 4.0 mm | so between: 12.0 and 20.0 mm"},
		{rows(inspect.Finding{Casting: "C1", Length: &inspect.Length{MM: 10, Std: 1}, Zones: []inspect.ZoneShare{{Zone: "A", LengthMM: 6}, {Zone: "B", Touches: true}}}, deep),
			"Along the surface: 10.0 ± 2.0 mm | Held against limits: not known | In: Left tower 6.0 mm; may reach Right tower | Ends: by eye only | Through the wall: yes | Deep: 2.0 ± 0.5 mm"},
		{zonesText(in.Body, inspect.Finding{Part: "BRK"}), "on Radiator bracket"}, {zonesText(in.Body, inspect.Finding{Casting: "C1"}), "zone not known"}, {zonesText(in.Body, inspect.Finding{Casting: "C1", Located: true}), "zone not known"},
		{zonesText(in.Body, inspect.Finding{Casting: "C1", Located: true, Zones: []inspect.ZoneShare{{Zone: "A"}}}), "zone Left tower"}, {placeText(in, inspect.Finding{Casting: "C1", Located: true, Zones: []inspect.ZoneShare{{Zone: "A"}, {Zone: "B"}}}), "Left tower and Right tower"},
		{onRoute(in, pick{Route: compare.Route{Items: []plan.Item{{Treatment: "T-weld", Kind: body.Weld, Findings: []job.FindingID{"F2"}, Line: "S1", Open: true}}}}, "F2"), "Weld the crack (S1) (assumed; to be measured better first)"}, {onRoute(in, pick{}, "F2"), ""},
	})
	meshed := *in.Body
	meshed.Castings = slices.Clone(meshed.Castings)
	meshed.Castings[0].Mesh = "c.ply"
	touch := inspect.Finding{Casting: "C1", Zones: []inspect.ZoneShare{{Zone: "A", LengthMM: 6}, {Zone: "B", Touches: true}}}
	said(t, [][2]string{{zoneShares(&meshed, touch), "Left tower 6.0 mm; Right tower (nearer than the uncertainty)"}})
}

// How an end of a crack was found, an area stands, a row or condition counts: each state in its own word.
func TestWordsOfStates(t *testing.T) {
	said(t, [][2]string{
		{tipWord("visual"), "by eye only"}, {tipWord("penetrant"), "by penetrant"}, {tipWord("stop-hole"), "in a stop hole"}, {tipWord(""), "not said"}, {tipWord("other"), "other"},
		{areaWord(job.StateSeen, true).Text, "seen by eye"}, {areaWord(job.StatePenetrant, true).Text, "penetrant done"}, {areaWord(job.StateNotReachable, false).Text, "cannot be reached yet"}, {areaWord(job.StateNotYet, false).Text, "not yet inspected"},
		{toleranceWord("met").Text, "in tolerance"}, {toleranceWord("not met").Text, "out of tolerance"}, {toleranceWord("none").Text, "no tolerance given"}, {toleranceWord("").Text, "undecided"},
		{verdictWord(decide.Allowed).Text, "allowed"}, {verdictWord(decide.Forbidden).Text, "forbidden"}, {verdictWord(decide.Undecided).Text, "undecided"}, {verdictWord(decide.Ask).Text, "ask the manufacturer"},
	})
	for s, want := range map[string]tone{"met": toneGood, "applies": toneGood, "not met": toneFlat, "does not apply": toneFlat, "undecided": toneOpen, "": toneOpen} {
		if w := stateWord(s); w.Tone != want || w.Text != s {
			t.Errorf("%q is %+v", s, w)
		}
	}
	for _, covered := range []bool{true, false} {
		if got := areaWord(job.StateSeen, covered).Tone == toneGood; got != covered {
			t.Errorf("covered %v, good %v", covered, got)
		}
	}
}
