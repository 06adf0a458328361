package decide

import (
	"slices"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// checkProcedure is the procedure every test here runs on. Its limits are
// common practice, no source: a crack under 50 mm may be welded in permissive
// zones (OPEN), up to 30 mm in others (GUARDED) with a backing plate behind
// it, the most critical class (CRITICAL) needs the engineering desk. The rows
// about bores, brackets, sections and a new casting are constructed.
func checkProcedure() body.Procedure {
	type when = map[string]string
	kinds := func(ks ...body.TreatmentKind) []body.TreatmentKind { return ks }
	return body.Procedure{
		ID: "CHECK", Title: "check procedure", Revision: "B", Casting: "FRONT", Source: "common practice, no source",
		Issued: day(2030, 1, 1), Effective: day(2030, 2, 1), Recheck: day(2030, 9, 1), Supersedes: "A",
		TipVisual: 3, GroupGap: 20,
		Rows: []body.Row{
			{ID: "weld-open", Cite: "CP 1", When: when{"kind": "crack", "zones": "only OPEN-1, OPEN-2", "length": "< 50 mm"},
				Allow: kinds(body.Weld, body.WeldBacking), After: []body.After{{Method: "penetrant", When: "after welding"}}},
			{ID: "plate", Cite: "CP 2", When: when{"kind": "crack", "zones": "only OPEN-1, OPEN-2, GUARDED-1, GUARDED-2", "length": "<= 30 mm"},
				Allow: kinds(body.WeldBacking), After: []body.After{{Method: "penetrant", When: "after welding"}}},
			{ID: "desk", Cite: "CP 3", When: when{"zones": "any of CRITICAL-1"}, Ask: "the most critical class needs the engineering desk"},
			{ID: "bore", Cite: "CP 4", When: when{"bore_clearance": "< 8 mm"}, Forbid: kinds(body.Weld, body.WeldBacking)},
			{ID: "bracket", Cite: "CP 5", When: when{"on_casting": "no", "bolt_on": "yes"}, Allow: kinds(body.Exchange)},
			{ID: "section", Cite: "CP 6", When: when{"outboard_of": "any of LINE-1, LINE-2"}, Allow: kinds(body.SectionOff)},
			{ID: "casting", Cite: "CP 7", When: when{"kind": "crack or break"}, Allow: kinds(body.ReplaceCasting)},
		},
		Tests: checkTests(),
	}
}

func checkTests() []body.RowTest {
	kinds := func(ks ...body.TreatmentKind) []body.TreatmentKind { return ks }
	at := func(length, zones, bore string) map[string]string {
		return map[string]string{"kind": "crack", "length": length, "zones": zones, "bore_clearance": bore, "outboard_of": "none"}
	}
	swap := func(m map[string]string, k, v string) map[string]string { m[k] = v; return m }
	return []body.RowTest{
		{Name: "open, just under", Facts: at("49.9 mm", "OPEN-1, OPEN-2", "8 mm"),
			Expect: body.RowExpect{Allow: kinds(body.Weld, body.WeldBacking, body.ReplaceCasting), Rows: []string{"weld-open", "casting"}}},
		{Name: "open, at the limit", Facts: at("50 mm", "OPEN-1", "none near"), Expect: body.RowExpect{Allow: kinds(body.ReplaceCasting)}},
		{Name: "open, far over", Facts: at("70 mm", "OPEN-2", "none near"), Expect: body.RowExpect{Allow: kinds(body.ReplaceCasting)}},
		{Name: "guarded, at the limit", Facts: at("30 mm", "GUARDED-1, GUARDED-2", "none near"),
			Expect: body.RowExpect{Allow: kinds(body.WeldBacking, body.ReplaceCasting), Rows: []string{"plate"}}},
		{Name: "guarded, just over", Facts: at("30.1 mm", "GUARDED-2", "none near"), Expect: body.RowExpect{Allow: kinds(body.ReplaceCasting)}},
		{Name: "guarded, length too uncertain", Facts: at("29 +- 2 mm", "GUARDED-2", "none near"), Expect: body.RowExpect{Allow: kinds(body.ReplaceCasting)}},
		{Name: "a dent", Facts: swap(at("20 mm", "GUARDED-2", "none near"), "kind", "dent"), Expect: body.RowExpect{Ask: true}},
		{Name: "a break", Facts: swap(at("20 mm", "OPEN-2", "none near"), "kind", "break"), Expect: body.RowExpect{Allow: kinds(body.ReplaceCasting)}},
		{Name: "critical", Facts: at("5 mm", "CRITICAL-1", "none near"),
			Expect: body.RowExpect{Allow: kinds(body.ReplaceCasting), Ask: true, Rows: []string{"desk"}}},
		{Name: "partly critical", Facts: at("5 mm", "CRITICAL-1, OPEN-1", "none near"),
			Expect: body.RowExpect{Allow: kinds(body.ReplaceCasting), Ask: true, Rows: []string{"desk"}}},
		{Name: "near a bore", Facts: at("10 mm", "OPEN-1", "7.9 mm"),
			Expect: body.RowExpect{Allow: kinds(body.ReplaceCasting), Forbid: kinds(body.Weld, body.WeldBacking), Rows: []string{"bore"}}},
		{Name: "bracket", Facts: map[string]string{"kind": "torn", "on_casting": "no", "bolt_on": "yes", "zones": "none", "outboard_of": "none"},
			Expect: body.RowExpect{Allow: kinds(body.Exchange), Rows: []string{"bracket"}}},
		{Name: "welded panel", Facts: map[string]string{"kind": "torn", "on_casting": "no", "bolt_on": "no", "zones": "none", "outboard_of": "none"},
			Expect: body.RowExpect{Ask: true}},
		{Name: "bolt-on on the casting", Facts: swap(swap(at("5 mm", "OPEN-1", "none near"), "bolt_on", "yes"), "kind", "dent"), Expect: body.RowExpect{Ask: true}},
		{Name: "outboard", Facts: swap(at("90 mm", "OPEN-1", "none near"), "outboard_of", "LINE-1"),
			Expect: body.RowExpect{Allow: kinds(body.SectionOff, body.ReplaceCasting), Rows: []string{"section"}}},
	}
}

func day(y, m, d int) unit.Date { return unit.Date{Year: y, Month: time.Month(m), Day: d} }

// world is a small body and job around the check procedure, constructed.
type world struct{ in Input }

// testShop is a shop of which only the people are known.
func testShop() *shop.Shop {
	return &shop.Shop{People: []shop.Person{{ID: "T1", May: []string{shop.MayAnswers}}, {ID: "T"}, {ID: "planner"}}}
}

func newWorld() *world {
	zone := func(id body.ZoneID, n int) body.Zone { return body.Zone{ID: id, Label: n, Name: string(id)} }
	b := &body.Body{ID: "B", Name: "invented van", Revision: "7", Invented: true,
		Castings: []body.Casting{{ID: "FRONT", Part: "P-FRONT", Name: "front casting",
			Zones: []body.Zone{zone("OPEN-1", 1), zone("OPEN-2", 2), zone("GUARDED-1", 3), zone("GUARDED-2", 4), zone("CRITICAL-1", 5)},
			Bores: []body.Bore{{ID: "H1"}}}},
		Lines: []body.Line{{ID: "LINE-1", Casting: "FRONT"}, {ID: "LINE-2", Casting: "FRONT"}},
		Parts: []body.Part{{ID: "P-FRONT", Name: "front casting", Kind: "casting"}, {ID: "P-BRKT", Name: "lamp bracket", Kind: "bracket", BoltOn: true},
			{ID: "P-PANEL", Name: "outer panel", Kind: "panel"}},
		Inspect: []body.Area{{ID: "A-OPEN-1", Casting: "FRONT", Zone: "OPEN-1"}, {ID: "A-OPEN-2", Casting: "FRONT", Zone: "OPEN-2"}, {ID: "A-GUARDED-1", Casting: "FRONT", Zone: "GUARDED-1"},
			{ID: "A-GUARDED-2", Casting: "FRONT", Zone: "GUARDED-2"}, {ID: "A-CRITICAL-1", Casting: "FRONT", Zone: "CRITICAL-1"}},
		Procedures: []body.Procedure{checkProcedure()},
	}
	j := &job.State{ID: "J1", Opened: day(2030, 2, 1), Evidence: []job.Evidence{{ID: "E1", File: "answer.txt", SHA256: "0123"}, {ID: "E2", File: "other.txt"}}, Vehicle: job.Vehicle{VIN: "INVENTED000000001", Odometer: 41000},
		Castings: []job.Cast{{Casting: "FRONT", Looked: true, By: "T1", On: day(2030, 3, 1)}},
		Checks:   []job.Check{{Procedure: "CHECK", Revision: "B", On: day(2030, 3, 1), By: "planner"}}}
	return &world{Input{Body: b, Job: j, Shop: testShop(), Today: day(2030, 3, 2),
		Inspect: inspect.Result{Coverage: []inspect.Coverage{{Area: "A-OPEN-1", Covered: true}, {Area: "A-OPEN-2", Covered: true}, {Area: "A-GUARDED-1", Covered: true},
			{Area: "A-GUARDED-2", Covered: true}, {Area: "A-CRITICAL-1", Covered: true}}}}}
}

// crack adds a crack on the casting.
func (w *world) crack(id job.FindingID, length, std float64, zones ...body.ZoneID) *inspect.Finding {
	f := job.Finding{ID: id, Kind: "crack", Part: "P-FRONT", Tips: []string{"penetrant", "penetrant"}, Through: "no", Seen: "penetrant", By: "T1", On: day(2030, 3, 1)}
	g := inspect.Finding{ID: id, Kind: "crack", Part: "P-FRONT", Casting: "FRONT", Located: true,
		Length: &inspect.Length{MM: length, Std: std}, Decision: &inspect.Length{MM: length, Std: std},
		Bore:   &inspect.Clearance{To: "H1", MM: 60, Std: 1},
		Border: &inspect.Clearance{To: "x", MM: 40, Std: 1},
		Sides:  []inspect.LineSide{{Line: "LINE-1"}, {Line: "LINE-2"}}}
	for _, z := range zones {
		g.Zones = append(g.Zones, inspect.ZoneShare{Zone: z, LengthMM: length / float64(len(zones))})
	}
	w.in.Job.Findings = append(w.in.Job.Findings, f)
	w.in.Inspect.Findings = append(w.in.Inspect.Findings, g)
	return &w.in.Inspect.Findings[len(w.in.Inspect.Findings)-1]
}

// answers gives the job answers for its findings as they are.
func (w *world) answers(all ...job.Answer) {
	all = slices.Clone(all)
	for i := range all {
		if all[i].RecordedBy == "" {
			all[i].RecordedBy = "T1"
		}
	}
	w.in.Job.Answers, w.in.Job.Told = all, nil
	for _, a := range all {
		if t := w.in.Job.AsTold(a.Finding); t != nil {
			t.Answer = a.ID
			w.in.Job.Told = append(w.in.Job.Told, *t)
		}
	}
}

// other adds a finding on a part that is no casting.
func (w *world) other(id job.FindingID, part body.PartID, kind string) {
	w.in.Job.Findings = append(w.in.Job.Findings, job.Finding{ID: id, Kind: kind, Part: part, Seen: "visual"})
	w.in.Inspect.Findings = append(w.in.Inspect.Findings, inspect.Finding{ID: id, Kind: kind, Part: part})
}

func option(f Finding, k body.TreatmentKind) Verdict {
	for _, o := range f.Options {
		if o.Kind == k {
			return o.Verdict
		}
	}
	return Ask
}

func allowedKinds(options []Option) map[string]bool {
	out := map[string]bool{}
	for _, o := range options {
		if o.Verdict == Allowed {
			out[kindText(o)] = true
		}
	}
	return out
}

func TestCheckProcedurePassesItsOwnTests(t *testing.T) {
	for _, p := range TestProcedure(checkProcedure(), 0.95) {
		t.Error(p)
	}
}
