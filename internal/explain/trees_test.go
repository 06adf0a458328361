package explain

import (
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// lines is a tree, a line for each sentence with what is under it moved in by a dot.
func lines(under ...Reason) string {
	var out []string
	var add func(lead string, list []Reason)
	add = func(lead string, list []Reason) {
		for _, r := range list {
			out = append(out, lead+r.Text+Source(r.Source)+placed(r.At))
			add(lead+". ", r.Under)
		}
	}
	add("", under)
	return strings.Join(out, "\n")
}

// said compares a tree with what it has to say.
func said(t *testing.T, what, want string, under ...Reason) {
	t.Helper()
	if got := lines(under...); got != strings.TrimSpace(want) {
		t.Errorf("%s:\n%s\nwant\n%s", what, got, strings.TrimSpace(want))
	}
}

func march(d int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: d} }

func at(d, h int) time.Time { return time.Date(2026, 3, d, h, 0, 0, 0, time.UTC) }

// A route of everything that a route can have; what a plan says of each is ours to word.
func wholeRoute() compare.Route {
	return compare.Route{ID: "R1", Name: "Weld", Because: "cheapest",
		Bill: cost.Bill{Currency: "EUR", Total: 1190, Labour: 100, Parts: 200, Material: 300, Storage: 50, Tax: 190, Loss: []cost.Loss{{Name: "Rule", Because: "no loss"}},
			Lines: []cost.Line{{ID: "L-a", Text: "Work", Sum: 100, Amount: "1 h", Because: "1 h x 1.00", Steps: []string{"S-1", "S-9"}}}},
		Plan: plan.Plan{WorkMin: 89.6, WorkDays: 1, Start: march(2), Finish: march(3),
			Steps: []plan.Step{
				{ID: "S-1", Name: "Grind", Skill: "a", Minutes: 30, Because: "F1", Sum: "30 min", From: at(2, 8), To: at(2, 9), Person: "W1", SlackMin: 5, Cite: "p. 1", WaitMin: 90, WaitName: "cooling"},
				{ID: "S-2", Name: "Weld", Skill: "a", Minutes: 60, Because: "F1", Sum: "1 h", From: at(2, 9), To: at(2, 10), Person: "W1", After: []string{"S-1"}},
			},
			Removal: []plan.Removal{
				{Part: "BUMPER", Name: "Bumper", Because: "It lies over the casting", Joints: []body.JointID{"J1", "J2"}, Change: "another tool"},
				{Part: "GRILLE", Name: "Grille", Because: "It comes with it", Needs: []body.PartID{"BUMPER"}},
				{Part: "FRONT", Name: "Front", Because: "All at once", Parts: []body.PartID{"LAMP", "BEAM"}, Needs: []body.PartID{"BUMPER", "GRILLE"}},
			},
			Reached: []plan.Reached{{Name: "rail", For: "F1", Needs: []body.PartID{"FRONT"}}},
			Refit:   []plan.Refitting{{Part: "BUMPER", Because: "last"}},
			Nearly:  []plan.Opening{{Stay: []body.PartID{"BUMPER"}, Text: "by 1.00 dearer"}},
			Lost:    []plan.Lost{{Part: "BUMPER", Because: "torn"}, {Part: "CLIP", Because: "single use"}},
			Takeoff: []plan.Takeoff{{Material: "GLUE", Name: "Glue", Unit: "ml", Net: 40, Gross: 44, Pack: 50, Packs: 1, Lines: []plan.TakeoffLine{{Step: "S-2", Amount: 30, Formula: "3 x 10 ml"}, {Step: "S-1", Amount: 10, Formula: "10 ml"}}}},
		}}
}

func TestOfARoute(t *testing.T) {
	r := wholeRoute()
	const weld = `
S-2 Weld: 1 h of a.
. Why: F1
. Minutes: 1 h
. When: Mon 2 Mar 09:00 to Mon 2 Mar 10:00, W1; it could slip by 0 min.
. After S-1
. Uses 30 ml of Glue: 3 x 10 ml
`
	const grind = `S-1 Grind: 30 min of a. [p. 1]
. Why: F1
. Minutes: 30 min
. When: Mon 2 Mar 08:00 to Mon 2 Mar 09:00, W1; it could slip by 5 min.
. Uses 10 ml of Glue
. Then a wait of 1.5 hours: cooling.`
	in := func(text string) string { return ". " + strings.ReplaceAll(text, "\n", "\n. ") }
	for name, want := range map[string]string{
		"S-1": grind, "S-2": weld,
		"L-a":    "Work: 1.00 EUR for 1 h.\n. 1 h x 1.00\n" + in(grind) + "\n. S-9 is not a step of this route.",
		"GLUE":   "Glue: 40 ml net, 44 ml with waste, 1 pack of 50 ml.\n. 30 ml for S-2: 3 x 10 ml\n. 10 ml for S-1",
		"CLIP":   "CLIP is bought.\n. A new one is bought: single use",
		"LAMP":   "Front comes off. All at once\n. As one piece, nothing between them is opened: LAMP, BEAM\n. Has to be off to reach rail for F1\n. After BUMPER, GRILLE",
		"GRILLE": "Grille comes off. It comes with it\n. Has to be off before Front, which leads to: rail\n. After BUMPER",
		"BUMPER": `Bumper comes off. It lies over the casting
. Has to be off before Grille, which leads to: rail
. Has to be off before Front, which leads to: rail
. Joints opened: J1, J2
. Before it, when one person keeps this order: another tool
. Back on: last
. Could stay on, nearly as cheap: by 1.00 dearer
. A new one is bought: torn`,
	} {
		x, ok := explainInRoute(r, name)
		if !ok {
			t.Errorf("%s is not known", name)
		}
		said(t, name, want, x)
	}
	if x, ok := explainInRoute(r, "S-9"); ok {
		t.Errorf("S-9 is %s", lines(x))
	}
	r.Bill.Complete = true
	const money = ". Money: 11.90 EUR, of it labour 1.00, parts 2.00, materials 3.00, storage 0.50, tax 1.90."
	said(t, "the route", "Weld. cheapest\n"+money+"\n. Time: 1 working day, from Mon 2 Mar 2026 to Tue 3 Mar 2026; 1 h 30 min of work in 2 steps.\n. Rule: no loss", explainRoute(r))
	r.Bill.Complete, r.Plan.Unplanned = false, "a circle"
	said(t, "a route without an order", "Weld. cheapest\n"+strings.Replace(money, "Money", "Money, at least, for a price is missing", 1)+"\n. There are no steps and no days: a circle.\n. Rule: no loss", explainRoute(r))
	r.Bill.Complete, r.Plan.Unplanned = true, ""
	r.Plan.Start, r.Bill.Sublet, r.Excluded, r.Ask, r.Measure, r.Changes = unit.Date{}, 7, "a row forbids it", []string{"Q1", "Q2"}, []string{"P1"}, []string{"one more", ""}
	said(t, "an excluded route", "Weld. cheapest\n. Excluded: a row forbids it\n. Waits for the manufacturer's answer on Q1, Q2.\n. To be measured or inspected first: P1.\n"+
		strings.Replace(money, "storage", "sublet work 0.07, storage", 1)+"\n. Rule: no loss\n. one more", explainRoute(r))
}

// What a part leads to is followed through parts that need one another, which end where they began;
// one that nothing is reached through comes off for its own sake.
func TestWhatAPartLeadsTo(t *testing.T) {
	p := plan.Plan{Removal: []plan.Removal{{Part: "A", Needs: []body.PartID{"B"}, Because: "for A"}, {Part: "B", Needs: []body.PartID{"A", "C"}, Because: "for B"}, {Part: "C", Because: "for C"}, {Part: "D", Because: "for D"}}}
	for id, want := range map[body.PartID]string{"A": "for B", "B": "for A", "C": "for A", "D": "for D", "E": ""} {
		if got := strings.Join(leadsTo(p, id, nil), ", "); got != want {
			t.Errorf("%s leads to %q, want %q", id, got, want)
		}
	}
	p.Reached = []plan.Reached{{Name: "rail", Needs: []body.PartID{"A"}}, {Name: "dome", Needs: []body.PartID{"B", "A"}}}
	if got := strings.Join(leadsTo(p, "C", nil), ", "); got != "dome, rail" {
		t.Errorf("C leads to %q", got)
	}
}

func TestOfAStep(t *testing.T) {
	low := unit.Amount{Value: 60, Unit: "C"}
	for _, c := range []struct {
		what string
		step plan.Step
		want string
	}{
		{"nothing", plan.Step{}, ""},
		{"notes", plan.Step{Notes: []string{"a", "b"}}, "a\nb"},
		{"a delivery", plan.Step{Awaits: []plan.Awaited{{Name: "fender", Minutes: 2160}}}, "Waits for fender: 1.5 days from the start"},
		{"with its ends", plan.Step{Awaits: []plan.Awaited{{Name: "fender", Minutes: 2160, Low: 1440, High: 2880}}}, "Waits for fender: 1.5 days from the start, 1.0 to 2.0"},
		{"arrived", plan.Step{Awaits: []plan.Awaited{{Name: "fender", Arrived: march(4), Record: "D1"}}}, "Waits for fender: 0.0 days from the start, on record as there on 2026-03-04 (D1)"},
		{"promised", plan.Step{Awaits: []plan.Awaited{{Name: "fender", Promised: march(5), Record: "P1", Spent: 1}}}, "Waits for fender: 0.0 days from the start, promised for 2026-03-05 (P1), 1 that came may not be used any more"},
		{"rivets", plan.Step{Laid: &plan.Laid{Count: 12, Rows: 2, PitchMM: 25, Checks: []string{"the pitch holds"}}}, "Rivets: 12 in 2 rows, 25.0 mm apart; a check and a takeoff, the manufacturer's drawing rules\n. the pitch holds"},
		{"hold", plan.Step{Hold: "wait for the inspector"}, "Hold point: wait for the inspector"},
		{"readings", plan.Step{Readings: []body.Reading{{ID: "t", Name: "Temperature", Unit: "C", Low: low, Cite: "p. 2"}, {ID: "b", Name: "Batch", Unit: "text"}}}, "Written down: Temperature, at least 60 C [p. 2]\nWritten down: Batch"},
	} {
		said(t, c.what, c.want, stepDetails(c.step)...)
	}
	route := compare.Route{Plan: plan.Plan{Steps: []plan.Step{
		{ID: "S-1", Laid: &plan.Laid{Rivet: "R", Count: 6, Rows: 1, DrillMM: 4.9, RivetMM: 12, Checks: []string{"ok"}}}, {ID: "S-2"}, {ID: "S-3", Laid: &plan.Laid{Rivet: "Q", Count: 5, Rows: 1}}, {ID: "S-4", Laid: &plan.Laid{Rivet: "R", Count: 8, Rows: 2}}}}}
	said(t, "layouts", "S-1: 6 in 1 row, drill 4.9 mm, rivet 12.0 mm long\n. ok\nS-4: 8 in 2 rows", layoutsOf(route, "R")...)
}

func TestSmallWords(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{formula(plan.TakeoffLine{Amount: 12.4, Formula: "12 ml"}, "ml"), ""},
		{formula(plan.TakeoffLine{Amount: 12.4, Formula: used(12.4, "ml")}, "ml"), ""},
		{formula(plan.TakeoffLine{Amount: 12.4, Formula: "2 x 6.2 ml"}, "ml"), "2 x 6.2 ml"},
		{MovedWords(cost.Moved{ID: "T/weld", Skill: "a", Minutes: 7.6, Sum: 5}), "T/weld, 8 min, a"},
		{MovedWords(cost.Moved{ID: "T/weld", Name: "Weld", Skill: "a", Minutes: 7}), "T/weld Weld, 7 min, a"},
		{MovedWords(cost.Moved{ID: "P-x", Name: "Clip", Sum: 501}), "P-x Clip, 5.01"},
		{SubletWords(cost.Bill{}), ""}, {SubletWords(cost.Bill{Sublet: 501}), "sublet work 5.01, "},
		{took(cost.History{Count: 1, Median: 7.6, Planned: 6, Low: 5, High: 9}).Text, "Recorded in this job 1 time: 8 min where 6 min were planned, the middle half 5 to 9 min."},
		{took(cost.History{Count: 2, Ratio: &cost.Quartiles{Median: 1.256}, PerMM: &cost.Quartiles{Median: 0.12345}}).Text, "Recorded in this job 2 times: 0 min where 0 min were planned, the middle half 0 to 0 min; taken/planned 1.26; 0.123 min/mm."},
		{partName(&body.Body{Parts: []body.Part{{ID: "P", Name: "Part"}}}, "P"), "Part (P)"}, {partName(&body.Body{}, "P"), "P"},
		{Source(""), ""}, {Source("x"), " [x]"}, {placed(""), ""}, {placed("x"), " (x)"},
		{Joined([]body.PartID{"a", "b"}), "a, b"}, {Joined([]body.PartID(nil)), ""},
		{strings.Join(waitNames(compare.Route{Plan: plan.Plan{Steps: []plan.Step{{WaitName: "b"}, {Awaits: []plan.Awaited{{Name: "a"}, {Name: "b"}}}, {}}}}), " "), "b a"},
		{noteReason(diag.Note{Severity: diag.Blocking, Code: "c.d", Text: "T", Hint: "do"}).Text, "blocks, c.d: T; do"}, {noteReason(diag.Note{Code: "c.d", Text: "T"}).Text, diag.Note{}.Severity.String() + ", c.d: T"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

// What was measured of a point after the damage: open comes before changed, and that before the
// change that would have been seen. Only what begins before the repair is told, of the point alone.
func TestOfAPointLater(t *testing.T) {
	p := func(id body.PointID, open, changed bool, would float64) measure.PointProgress {
		return measure.PointProgress{ID: id, ToMM: geom.Vec{1, -2, 0}, ChangeMM: geom.Vec{0.5, 0, -0.25}, StdMM: geom.Vec{0.1, 0.2, 0.3}, Answer: "was out, is within", Open: open, Changed: changed, Detectable: would}
	}
	in := report.Input{}
	for _, points := range [][]measure.PointProgress{{p("A", false, false, 1.25), p("B", true, true, 1)}, {p("A", false, true, 1)}, {p("A", true, true, 1)}, {p("A", false, false, 0)}} {
		in.Progress = append(in.Progress, measure.Progress{From: job.StageBefore, To: job.StageAfter, Points: points})
	}
	in.Progress = append(in.Progress, measure.Progress{From: job.StageAfter, To: job.StageAfter, Points: []measure.PointProgress{p("A", false, false, 1)}})
	lead := "Measured after the repair: was out, is within. Shift x / y / z +1.0 / -2.0 / 0.0 mm; change +0.5 / 0.0 / -0.2 ± 0.2 / 0.4 / 0.6 mm (k = 2): "
	said(t, "a point", lead+"no change larger than 1.2 mm would have been missed.\n"+lead+"it has moved since.\n"+lead+"whether it has moved since is open.\n"+lead+"no change can be told from the readings.", pointStages(in, "A")...)
}

func TestOfADecision(t *testing.T) {
	f := decide.Finding{Verdict: decide.Forbidden, Because: "Row R1.", Change: []string{"shorter than 5 mm"},
		Options: []decide.Option{{Kind: body.SectionOff, Verdict: decide.Allowed, Because: "R2.", Line: "L1", Cite: "p. 3", Manner: []string{"cold"}, After: []string{"penetrant"}}, {Kind: body.Weld, Verdict: decide.Ask}},
		Facts:   []decide.Fact{{Name: "length", Value: "12 mm", Known: true, From: "trace"}, {Name: "zones", Value: "A", From: "trace"}},
		Rows: []decide.RowResult{{Row: "R1", State: "applies", Effect: "weld: forbidden", Cite: "p. 4", Conds: []decide.CondResult{
			{Fact: "length", Text: "<= 5 mm", State: decide.CondUndecided, Value: "5.1 mm", Prob: 0.4, Need: "measure it better"}, {Fact: "zones", Text: "A", State: decide.CondMet, Value: "A", Prob: 0.4}}}},
	}
	said(t, "a decision", `
Verdict: forbidden. Row R1.
. shorter than 5 mm
Treatments
. section along L1: allowed. R2. [p. 3]
. . cold
. . Afterwards: penetrant
. weld: ask. 
Facts
. length: 12 mm (trace)
. zones: unknown (trace)
Rows of the procedure
. R1 applies: weld: forbidden [p. 4]
. . length <= 5 mm: undecided, is 5.1 mm (probability 40.0 %); measure it better
. . zones A: met, is A`, explainDecision(f, 0.95)...)
	n := &Names{In: report.Input{Body: &body.Body{}, Decide: decide.Result{Procedures: []decide.InForce{{Procedure: "TB", Revision: "2"}}, Findings: []decide.Finding{{ID: "F1", Rows: f.Rows, Options: f.Options, Facts: f.Facts}, {ID: "F2", Rows: []decide.RowResult{{Row: "R2"}}}}}}}
	said(t, "a row", "F1: R1 applies: weld: forbidden [p. 4]\n. length <= 5 mm: undecided, is 5.1 mm (probability 40.0 %); measure it better\n. zones A: met, is A", n.row(written{names: []string{"R1"}, of: "TB revision 2"})...)
	said(t, "a row of old", "This revision is not in force: the row spoke of nothing.", n.row(written{names: []string{"R1"}, of: "TB revision 1"})...)
	said(t, "options of a line", "F1, section along L1: allowed. R2. [p. 3]\n. cold\n. Afterwards: penetrant", n.optionsOf(func(o decide.Option) bool { return o.Line == "L1" })...)
}

// What lies in a zone or beside a thing, how long or how near it is.
func TestWhereFindingsLie(t *testing.T) {
	near := func(id string) *inspect.Clearance { return &inspect.Clearance{To: id, MM: 4, Std: 0.5} }
	n := &Names{In: report.Input{Body: &body.Body{}, Job: &job.State{}, Inspect: inspect.Result{
		Findings: []inspect.Finding{
			{ID: "F1", Kind: "crack", Zones: []inspect.ZoneShare{{Zone: "A", LengthMM: 12.34}, {Zone: "B", LengthMM: 3}}, Length: &inspect.Length{MM: 15.3, Std: 0.2}, Bore: near("X")},
			{ID: "F2", Kind: "dent", Zones: []inspect.ZoneShare{{Zone: "A", LengthMM: 7}}, Length: &inspect.Length{MM: 7, Std: 0.2}, Edge: near("X"), Joint: near("Y")},
			{ID: "F3", Kind: "crack", Zones: []inspect.ZoneShare{{Zone: "A", Touches: true}}, Border: near("X")},
			{ID: "F4", Kind: "crack", MayLieIn: []body.ZoneID{"A"}, Earlier: near("X")},
			{ID: "F5", Kind: "crack", Zones: []inspect.ZoneShare{{Zone: "A", LengthMM: 9}}, Joint: near("X")},
		},
		Coverage: []inspect.Coverage{{Area: "AR1", Zone: "A", Text: "looked at"}, {Area: "AR2", Zone: "B"}}}},
		all: []written{{kind: kindRow, names: []string{"R1"}, of: "TB", at: "tb.yaml:3", fields: []writtenField{{name: "when.zones", text: "B, A"}, {name: "cite", text: "p. 5"}}}, {kind: kindRow, names: []string{"R2"}, fields: []writtenField{{name: "when.zones", text: "AA"}}}, {kind: kindZone, names: []string{"A"}, fields: []writtenField{{name: "when.zones", text: "A"}}}}}
	said(t, "a zone", `
Cracks in it, those that surely are one counted once: 0.
F1, crack: 12.3 mm of it here
F2, dent: 7.0 ± 0.4 mm
F3, crack: nearer than the uncertainty
F4 may lie in it: it could not be located
F5, crack: 9.0 mm of it here
Area AR1: looked at
Row R1 (TB) asks for zones B, A [p. 5] (tb.yaml:3)`, n.zone("A")...)
	const is = " is 4.0 ± 1.0 mm from it, and nothing of its kind is nearer."
	said(t, "a place", "F1"+is+"\nF2"+is+"\nF3"+is+"\nF4"+is+"\nF5"+is, n.clearancesTo("X")...)
	n.In.Compare.Routes, n.Picked = []compare.Route{{ID: "other", Plan: plan.Plan{Removal: []plan.Removal{{Joints: []body.JointID{"Y"}}}}}, {ID: "own", Plan: plan.Plan{Removal: []plan.Removal{{Name: "Bumper", Because: "Why.", Joints: []body.JointID{"Y"}}, {Name: "Lamp", Joints: []body.JointID{"X"}}},
		Steps: []plan.Step{{ID: "S-1", Name: "Close", Cite: "p. 6", Closes: []body.JointID{"Y"}}, {ID: "S-2"}}}}}, "own"
	said(t, "a joint", "Opened to take off Bumper. Why.\nClosed at S-1 Close [p. 6]\nF2"+is, n.jointSteps("Y")...)
	if n.ShownRoute().ID != "own" {
		t.Errorf("the route shown is %q", n.ShownRoute().ID)
	}
	if n.Picked = "none"; n.ShownRoute().ID != "" {
		t.Errorf("the route shown is %q", n.ShownRoute().ID)
	}
}
