package decide

import (
	"reflect"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/unit"
)

func code(notes []diag.Note, c string) *diag.Note {
	for i := range notes {
		if notes[i].Code == c {
			return &notes[i]
		}
	}
	return nil
}

// Source of the limits: common practice, no source. With u = 1 mm a limit of
// 50 mm is met up to 48.355 mm and missed from 51.645 mm (1.64485 · u,
// recomputed with Python's statistics.NormalDist).
func TestDecisions(t *testing.T) {
	for _, tc := range []struct {
		name        string
		length, std float64
		zones       []body.ZoneID
		change      func(*inspect.Finding, *job.Finding)
		weld, plate Verdict
		verdict     Verdict
	}{
		{"permissive zone", 40, 1, []body.ZoneID{"OPEN-1"}, nil, Allowed, Allowed, Allowed},
		{"permissive zone, met with 95 %", 48.35, 1, []body.ZoneID{"OPEN-1"}, nil, Allowed, Allowed, Allowed},
		{"permissive zone, too uncertain", 48.36, 1, []body.ZoneID{"OPEN-1"}, nil, Undecided, Undecided, Allowed},
		{"permissive zone, exact at the limit", 50, 0, []body.ZoneID{"OPEN-1"}, nil, Ask, Ask, Allowed},
		{"other zone", 20, 1, []body.ZoneID{"GUARDED-1"}, nil, Ask, Allowed, Allowed},
		{"across a border: the stricter rules", 40, 1, []body.ZoneID{"OPEN-1", "GUARDED-1"}, nil, Ask, Ask, Allowed},
		{"across a border, short", 20, 1, []body.ZoneID{"OPEN-1", "GUARDED-1"}, nil, Ask, Allowed, Allowed},
		{"critical class", 3, 0.1, []body.ZoneID{"CRITICAL-1"}, nil, Ask, Ask, Allowed},
		{"touching the critical class", 3, 0.1, []body.ZoneID{"OPEN-1", "CRITICAL-1"}, func(g *inspect.Finding, _ *job.Finding) { g.Zones[1].Touches = true }, Ask, Ask, Allowed},
		{"near a bore", 20, 1, []body.ZoneID{"OPEN-1"}, func(g *inspect.Finding, _ *job.Finding) { g.Bore.MM = 3 }, Forbidden, Forbidden, Allowed},
		{"perhaps near a bore", 20, 1, []body.ZoneID{"OPEN-1"}, func(g *inspect.Finding, _ *job.Finding) { g.Bore.MM = 9 }, Undecided, Undecided, Allowed},
		{"bore distance missing", 20, 1, []body.ZoneID{"OPEN-1"}, func(g *inspect.Finding, _ *job.Finding) { g.Bore = nil }, Undecided, Undecided, Allowed},
		{"no trace on the surface", 20, 1, []body.ZoneID{"OPEN-1"}, func(g *inspect.Finding, _ *job.Finding) { g.Located = false }, Undecided, Undecided, Allowed},
		{"a bend", 20, 1, []body.ZoneID{"OPEN-1"}, func(_ *inspect.Finding, f *job.Finding) { f.Kind = "bend" }, Ask, Ask, Ask},
	} {
		t.Run(tc.name, func(t *testing.T) {
			w := newWorld()
			g := w.crack("F1", tc.length, tc.std, tc.zones...)
			if tc.change != nil {
				tc.change(g, &w.in.Job.Findings[0])
			}
			res, _ := Run(w.in)
			f := res.Findings[0]
			if option(f, body.Weld) != tc.weld || option(f, body.WeldBacking) != tc.plate || f.Verdict != tc.verdict {
				t.Errorf("weld %v, plate %v, finding %v; want %v, %v, %v\n%+v", option(f, body.Weld), option(f, body.WeldBacking), f.Verdict, tc.weld, tc.plate, tc.verdict, f.Options)
			}
			if res.Permits != (tc.verdict == Allowed) {
				t.Errorf("permits is %v", res.Permits)
			}
		})
	}
}

func TestPartsThatAreNoCasting(t *testing.T) {
	w := newWorld()
	w.other("F1", "P-BRKT", "torn")
	w.other("F2", "P-PANEL", "crack")
	w.other("F3", "P-NOWHERE", "crack")
	res, notes := Run(w.in)
	if f := res.Findings[0]; f.Verdict != Allowed || option(f, body.Exchange) != Allowed || option(f, body.ReplaceCasting) != Ask {
		t.Errorf("bolt-on bracket: %+v", f.Options)
	}
	if f := res.Findings[1]; f.Verdict != Ask || len(allowedKinds(f.Options)) != 0 {
		t.Errorf("welded panel: %+v", f.Options)
	}
	if f := res.Findings[2]; f.Verdict == Allowed || len(allowedKinds(f.Options)) != 0 {
		t.Errorf("unknown part: %+v", f.Options)
	}
	if res.Permits || code(notes, "decide.no-treatment") == nil {
		t.Error("findings without a treatment do not block")
	}
}

func TestSectionNeedsALine(t *testing.T) {
	w := newWorld()
	g := w.crack("F1", 90, 1, "OPEN-1")
	g.Sides[0].Outboard, g.Sides[1].Outboard = true, true
	res, _ := Run(w.in)
	got := allowedKinds(res.Findings[0].Options)
	want := map[string]bool{"section along LINE-1": true, "section along LINE-2": true, "replace casting": true}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("allowed %v, want %v", got, want)
	}
	w.in.Body.Procedures[0].Rows[5].When["outboard_of"] = "any of LINE-2"
	res, _ = Run(w.in)
	if got := allowedKinds(res.Findings[0].Options); got["section along LINE-1"] || !got["section along LINE-2"] {
		t.Errorf("a row for one line allows %v", got)
	}
	g.Sides = nil
	res, _ = Run(w.in)
	if v := option(res.Findings[0], body.SectionOff); v == Allowed {
		t.Error("a section is allowed although no side is known")
	}
}

func TestEveryFactIsProduced(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	w.other("F2", "P-BRKT", "torn")
	all := body.Row{ID: "all", When: map[string]string{}, Ask: "every fact is named"}
	for _, d := range body.FactDefs() {
		all.When[d.Name] = map[body.FactType]string{body.FactText: "crack", body.FactSet: "any of A", body.FactBool: "yes"}[d.Kind]
		if d.Kind == body.FactNumber {
			all.When[d.Name] = strings.TrimSpace("> 1 " + d.Unit)
		}
	}
	all.When[body.FactCast] = "> 2029-01-01"
	w.in.Body.Procedures[0].Rows = append(w.in.Body.Procedures[0].Rows, all)
	res, _ := Run(w.in)
	for _, f := range res.Findings {
		for i, d := range body.FactDefs() {
			if i >= len(f.Facts) || f.Facts[i].Name != d.Name || f.Facts[i].From == "" {
				t.Fatalf("%s: fact %d is not %s with its origin: %+v", f.ID, i, d.Name, f.Facts)
			}
			if strings.Contains(f.Facts[i].From, "no source") {
				t.Errorf("%s: nothing produces %s", f.ID, d.Name)
			}
			if !f.Facts[i].Known && !strings.Contains(f.Facts[i].From, d.Get) {
				t.Errorf("%s: %s is unknown and does not say how to get it: %q", f.ID, d.Name, f.Facts[i].From)
			}
		}
	}
}

func factText(f Finding, name string) string {
	for _, x := range f.Facts {
		if x.Name == name {
			return x.Value
		}
	}
	return ""
}

// Sources: constructed. Two grouped cracks count once, both faces of one crack
// count once, a repair done before counts, and nothing is known of a zone that
// has not been inspected.
func TestCounts(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	w.crack("F2", 10, 1, "OPEN-1")
	w.crack("F3", 10, 1, "OPEN-1", "OPEN-2")
	w.crack("F4", 10, 1, "GUARDED-1")
	w.in.Inspect.Findings[0].Group, w.in.Inspect.Findings[1].Group = "G1", "G1"
	w.in.Inspect.Findings[0].Piece, w.in.Inspect.Findings[1].Piece = "F1", "F1"
	w.in.Job.Findings[3].SameAs = "F3"
	w.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-1", Length: 12}}
	res, _ := Run(w.in)
	for id, want := range map[int][2]string{0: {"3", "3"}, 2: {"3", "3"}, 3: {"3", "3"}} {
		f := res.Findings[id]
		if factText(f, "count_in_zone") != want[0] || factText(f, "count_on_casting") != want[1] {
			t.Errorf("%s: %s in the zone, %s on the casting, want %v", f.ID, factText(f, "count_in_zone"), factText(f, "count_on_casting"), want)
		}
	}
	if got := factText(res.Findings[3], "through"); got != "yes" {
		t.Errorf("seen on both faces, through is %s", got)
	}
	if factText(res.Findings[1], "length") != "20.0 ± 2.0 mm" { // expanded, k = 2
		t.Errorf("a member of the group has length %s", factText(res.Findings[1], "length"))
	}
	if got := factText(res.Findings[3], "zones"); got != "GUARDED-1, OPEN-1, OPEN-2" {
		t.Errorf("one crack on two faces lies in %s", got)
	}
	for _, o := range res.Findings[0].Options {
		if o.Group != "G1" {
			t.Errorf("option %s has group %q", o.Kind, o.Group)
		}
	}
	w.in.Inspect.Coverage[0].Covered = false
	res, _ = Run(w.in)
	if f := res.Findings[0]; factText(f, "count_in_zone") != "unknown" || factText(f, "count_on_casting") != "unknown" {
		t.Errorf("not inspected, and counted: %+v", f.Facts)
	}
}

// Repairs done before count; where nobody looked for them nothing is counted.
// Source: the rule that what is not known never permits.
func TestRepairsNobodyLookedForLeaveCountsUnknown(t *testing.T) {
	facts := []string{"count_in_zone", "count_on_casting", "crack_length_in_zone", "crack_length_on_casting"}
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	w.in.Body.Procedures[0].Rows = append(w.in.Body.Procedures[0].Rows, body.Row{ID: "L", When: map[string]string{
		"count_in_zone": ">= 9", "count_on_casting": ">= 9", "crack_length_in_zone": ">= 900 mm", "crack_length_on_casting": ">= 900 mm"}})
	res, _ := Run(w.in)
	for _, k := range facts {
		if got := factText(res.Findings[0], k); got == "unknown" {
			t.Errorf("%s is unknown though the casting was looked over", k)
		}
	}
	for _, castings := range [][]job.Cast{nil, {{Casting: "FRONT"}}, {{Casting: "OTHER", Looked: true}}} {
		w.in.Job.Castings = castings
		res, _ = Run(w.in)
		for _, k := range facts {
			if got := factText(res.Findings[0], k); got != "unknown" {
				t.Errorf("castings %+v: %s is %s", castings, k, got)
			}
		}
	}
}

func TestSpacing(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	res, _ := Run(w.in)
	if got := factText(res.Findings[0], "spacing"); got != "none near" {
		t.Errorf("alone: %s", got)
	}
	w.crack("F2", 20, 1, "OPEN-1")
	w.in.Inspect.Findings[0].Spacing = &inspect.Clearance{To: "F2", MM: 31, Std: 1}
	w.in.Inspect.Findings[1].Located = false
	res, _ = Run(w.in)
	if got := factText(res.Findings[0], "spacing"); got != "unknown" {
		t.Errorf("a crack without a place, and spacing %s", got)
	}
}

func TestProcedureInForce(t *testing.T) {
	for _, tc := range []struct {
		name               string
		change             func(*world)
		revision           string
		expired, unchecked bool
		note               string
	}{
		{"valid", func(*world) {}, "B", false, false, ""},
		{"recheck day has come", func(w *world) { w.in.Today = day(2030, 9, 1) }, "B", true, false, "decide.procedure-expired"},
		{"the day before", func(w *world) { w.in.Today = day(2030, 8, 31) }, "B", false, false, ""},
		{"never checked", func(w *world) { w.in.Job.Checks = nil }, "B", false, true, "decide.revision-unchecked"},
		{"checked before it took effect", func(w *world) { w.in.Job.Checks[0].On = day(2030, 1, 15) }, "B", false, true, "decide.revision-unchecked"},
		{"another revision was found", func(w *world) {
			w.in.Job.Checks = append(w.in.Job.Checks, job.Check{Procedure: "CHECK", Revision: "C", By: "planner", On: day(2030, 3, 1)})
		}, "B", false, true, "decide.revision-unchecked"},
		{"a check dated after today", func(w *world) { w.in.Job.Checks[0].On = day(2030, 3, 3) }, "B", false, true, "decide.revision-unchecked"},
		{"a newer revision in effect", func(w *world) { w.add("C", day(2030, 3, 2)) }, "C", false, true, "decide.revision-unchecked"},
		{"a newer revision not yet in effect", func(w *world) { w.add("C", day(2030, 3, 3)) }, "B", false, false, ""},
		{"an older one beside it", func(w *world) { w.add("A", day(2030, 1, 1)) }, "B", false, false, ""},
		{"two on the same day", func(w *world) { w.add("B2", day(2030, 2, 1)); w.in.Body.Procedures[1].Supersedes = "" }, "B2", false, true, "decide.procedure-ambiguous"},
		{"none in effect", func(w *world) { w.in.Today = day(2029, 1, 1) }, "", true, true, "decide.no-procedure"},
		{"no day given", func(w *world) { w.in.Today = unit.Date{} }, "", true, true, "decide.no-procedure"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			w := newWorld()
			w.crack("F1", 20, 1, "OPEN-1")
			tc.change(w)
			res, notes := Run(w.in)
			p := res.Procedures[0]
			if p.Revision != tc.revision || p.Expired != tc.expired || p.Unchecked != tc.unchecked {
				t.Errorf("%+v", p)
			}
			if res.Permits != (tc.note == "") {
				t.Errorf("permits %v", res.Permits)
			}
			if tc.note != "" && (code(notes, tc.note) == nil || code(notes, tc.note).Severity != diag.Blocking) {
				t.Errorf("no blocking note %s in %+v", tc.note, notes)
			}
			if tc.revision != "" && res.Findings[0].Verdict != Allowed {
				t.Errorf("the verdict for sight is %v", res.Findings[0].Verdict)
			}
		})
	}
}

// add puts another revision of the check procedure into the body.
func (w *world) add(revision string, effective unit.Date) {
	p := checkProcedure()
	p.Revision, p.Effective, p.Supersedes = revision, effective, ""
	if revision == "C" {
		p.Supersedes = "B"
	}
	w.in.Body.Procedures = append(w.in.Body.Procedures, p)
}

func TestUnreadableRowBlocks(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	w.in.Body.Procedures[0].Rows[3].When["bore_clearance"] = "< 8"
	res, notes := Run(w.in)
	if option(res.Findings[0], body.Weld) != Undecided || res.Permits || code(notes, "decide.row-unreadable") == nil {
		t.Errorf("weld %v, permits %v, notes %+v", option(res.Findings[0], body.Weld), res.Permits, notes)
	}
}

func TestGroupedByAnotherRevision(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	w.add("A", day(2030, 1, 1))
	w.in.Inspect.Rules = []inspect.RuleUsed{{Casting: "FRONT", Procedure: "CHECK", Revision: "A"}}
	if _, notes := Run(w.in); code(notes, "decide.rules-differ") != nil {
		t.Error("the same distances and still a note")
	}
	w.in.Body.Procedures[1].GroupGap = 5
	if res, notes := Run(w.in); code(notes, "decide.rules-differ") == nil || res.Permits {
		t.Error("grouped by another distance and no note")
	}
}

// One crack across two zones is two traces when the wall hides its middle: as
// a group it meets the stricter zone's rules. Source: constructed.
func TestAGroupMeetsTheRulesOfAllItsZones(t *testing.T) {
	w := newWorld()
	w.crack("F1", 40, 1, "OPEN-1")
	w.crack("F2", 40, 1, "GUARDED-1")
	if res, _ := Run(w.in); option(res.Findings[0], body.Weld) != Allowed {
		t.Fatalf("apart: %+v", res.Findings[0].Options)
	}
	w.in.Inspect.Findings[0].Group, w.in.Inspect.Findings[1].Group = "G1", "G1"
	w.in.Inspect.Findings[0].Piece, w.in.Inspect.Findings[1].Piece = "F1", "F1"
	res, _ := Run(w.in)
	for _, f := range res.Findings {
		if option(f, body.Weld) != Ask || factText(f, "zones") != "GUARDED-1, OPEN-1" {
			t.Errorf("%s: weld %v in %s", f.ID, option(f, body.Weld), factText(f, "zones"))
		}
	}
	w.in.Job.Findings[1].Through = "yes"
	w.in.Inspect.Findings[1].Bore.MM = 1
	res, _ = Run(w.in)
	if f := res.Findings[0]; factText(f, "through") != "yes" || factText(f, "bore_clearance") != "1.0 ± 2.0 mm" || option(f, body.Weld) != Forbidden {
		t.Errorf("a member near a bore: %+v", f.Facts)
	}
	w.in.Inspect.Findings[1].Decision = nil
	if res, _ = Run(w.in); factText(res.Findings[0], "length") != "unknown" {
		t.Error("a member without a length")
	}
}

func TestAnAskRowRaisesAQuestion(t *testing.T) {
	w := newWorld()
	w.crack("F1", 9, 1, "CRITICAL-1")
	res, _ := Run(w.in)
	if res.Findings[0].Verdict != Allowed || len(res.Questions) != 1 || !strings.Contains(res.Questions[0].Text, "We propose: weld.") {
		t.Errorf("%v, questions %+v", res.Findings[0].Verdict, res.Questions)
	}
}
