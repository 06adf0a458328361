package release

import (
	"encoding/csv"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/decide"
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
	}
}

func day(y, m, d int) unit.Date { return unit.Date{Year: y, Month: time.Month(m), Day: d} }

// world is a small body and job around the check procedure, constructed.
type world struct{ in decide.Input }

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
	return &world{decide.Input{Body: b, Job: j, Shop: testShop(), Today: day(2030, 3, 2),
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

// draws is how many times over a law is drawn: more when FETTLE_ORACLE is set.
func draws(few, many int) int {
	if n, _ := strconv.Atoi(os.Getenv("FETTLE_ORACLE")); n > 0 {
		return many
	}
	return few
}

// published is a table of testdata by the names of its columns. Every line has
// its source and how that is known.
func published(t *testing.T, file string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = r[i]
		}
		if m["source"] == "" || m["how"] == "" {
			t.Errorf("%s: %s has no source", file, m["case"])
		}
		out = append(out, m)
	}
	return out
}

func float(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}
