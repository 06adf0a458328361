package assess

import (
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

func day(m time.Month, d int) unit.Date { return unit.Date{Year: 2026, Month: m, Day: d} }

func eur(v unit.Minor) unit.Money { return unit.Money{Minor: v, Currency: "EUR"} }

// today is a Monday, and the work of the job begins on it.
var today = day(time.March, 16)

// world is a job with one crack in a casting, that may be welded or the casting be changed.
// Over the casting lie two covers, and either of them may come off to get at it: the right one
// costs a minute more. Constructed.
func world() (Input, Verdicts) {
	step := func(name string, min unit.Minutes) []body.Step {
		return []body.Step{{ID: "s", Name: name, Skill: "alu", Fixed: min}}
	}
	b := &body.Body{Currency: "EUR",
		Parts: []body.Part{
			{ID: "cast", Name: "front casting", Kind: "casting", Skill: "alu", Off: 60, On: 60, Price: eur(200000), Delivery: unit.Some(unit.Minutes(0))},
			{ID: "left", Name: "left cover", BoltOn: true, Skill: "alu", Off: 100, On: 100},
			{ID: "right", Name: "right cover", BoltOn: true, Skill: "alu", Off: 101, On: 100},
		},
		Castings: []body.Casting{{ID: "front", Part: "cast", Name: "front casting", Zones: []body.Zone{{ID: "Z", Label: 1, Name: "zone"}}}},
		Points:   []body.Point{{ID: "P1"}, {ID: "P2"}},
		Treatments: []body.Treatment{
			{ID: "weld", Name: "weld", Kind: body.Weld, Steps: step("Weld", 30)},
			{ID: "new", Name: "new", Kind: body.ReplaceCasting, Steps: step("Fit", 100)},
		},
		Access: []body.Access{{To: "Z", Needs: [][]body.PartID{{"left"}, {"right"}}}},
	}
	sh := &shop.Shop{Currency: "EUR", Temp: 20, Rates: []shop.Rate{{Skill: "alu", Name: "alu", Hour: eur(6000)}},
		People:    []shop.Person{{ID: "W1", Skills: []body.SkillID{"alu"}, May: []shop.Authority{shop.MayAnswers}}},
		Calendar:  shop.Calendar{Days: []string{"mon", "tue", "wed", "thu", "fri"}, Start: "08:00", End: "16:00"},
		TotalLoss: []shop.LossRule{{ID: "r", Name: "rule", Kind: "percentage", Operator: ">=", Percent: 0.75, Applies: true}},
	}
	j := &job.State{ID: "J1", Start: today, Opened: day(time.March, 2), Vehicle: job.Vehicle{VIN: "INVENTED000000001", Value: eur(1000000), Salvage: eur(100000)},
		Findings: []job.Finding{{ID: "F1", Kind: "crack", Part: "cast", By: "W1", On: day(time.March, 3)}}}
	v := Verdicts{
		Inspect: inspect.Result{Findings: []inspect.Finding{{ID: "F1", Kind: "crack", Part: "cast", Casting: "front", Length: &inspect.Length{MM: 20}, Zones: []inspect.ZoneShare{{Zone: "Z", LengthMM: 20}}}}},
		Decide: decide.Result{Permits: true, Findings: []decide.Finding{{ID: "F1", Options: []decide.Option{
			{Kind: body.Weld, Verdict: decide.Allowed, Because: "row weld"}, {Kind: body.ReplaceCasting, Verdict: decide.Allowed, Because: "row new"}}}}},
	}
	return Input{Body: b, Shop: sh, Job: j, Today: today}, v
}

// routed is a result with routes of these names, the first the best; each has one step, called
// as the route is and for F1.
func routed(ids ...string) Result {
	r := Result{Compare: compare.Result{Best: ids[0]}}
	for _, id := range ids {
		r.Compare.Routes = append(r.Compare.Routes, compare.Route{ID: id, Feasible: true, Plan: plan.Plan{Steps: []plan.Step{
			{ID: "ST-1", Ref: "T/" + id, Name: id, For: []job.FindingID{"F1"}, Skill: "alu", Phase: plan.PhaseRepair}}}})
	}
	return r
}

func codes(notes []diag.Note) []string {
	out := []string{}
	for _, n := range notes {
		out = append(out, n.Code)
	}
	return out
}

func routeNamed(t *testing.T, r compare.Result, id string) compare.Route {
	t.Helper()
	x, ok := routeOf(r, id)
	if !ok {
		t.Fatalf("there is no route %q", id)
	}
	return x
}
