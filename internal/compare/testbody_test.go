package compare

import (
	"slices"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

func eur(v unit.Minor) unit.Money { return unit.Money{Minor: v, Currency: "EUR"} }

// invented: a casting with two section lines; work on it takes minutes only.
func testBody() *body.Body {
	step := func(min unit.Minutes) []body.Step {
		return []body.Step{{ID: "s", Name: "do", Skill: "alu", Fixed: min}}
	}
	return &body.Body{Currency: "EUR",
		Parts: []body.Part{
			{ID: "cast", Name: "front casting", Kind: "casting", Comes: body.Freely, Skill: "alu", Off: 60, On: 60, Price: eur(200000), Delivery: unit.Some(unit.Minutes(4 * 1440))},
			{ID: "bracket", Name: "bracket", BoltOn: true, Comes: body.Freely, Skill: "alu", Delivery: unit.Some(unit.Minutes(0)), Off: 5, On: 5, Price: eur(3000)},
			{ID: "horn", Name: "horn", Kind: "piece", Skill: "alu", Price: eur(20000), Delivery: unit.Some(unit.Minutes(1440))},
			{ID: "tower", Name: "tower", Kind: "piece", Skill: "alu", Price: eur(30000), Delivery: unit.Some(unit.Minutes(1440))},
		},
		Castings: []body.Casting{{ID: "front", Part: "cast", Name: "front casting"}},
		Lines: []body.Line{
			{ID: "S1", Casting: "front", Piece: "horn", Treatment: "section"},
			{ID: "S2", Casting: "front", Piece: "tower", Treatment: "section"}},
		Treatments: []body.Treatment{
			{ID: "weld", Name: "weld", Kind: body.Weld, Steps: step(30), Requires: []body.TaskID{"bench"}},
			{ID: "plate", Name: "plate", Kind: body.WeldBacking, Steps: step(90), Requires: []body.TaskID{"bench"}},
			{ID: "section", Name: "section", Kind: body.SectionOff, Steps: step(200), Requires: []body.TaskID{"bench"}},
			{ID: "swap", Name: "swap", Kind: body.Exchange, Steps: step(5)},
			{ID: "newcast", Name: "new", Kind: body.ReplaceCasting, Steps: step(100), Requires: []body.TaskID{"bench"}},
		},
		Access: []body.Access{{To: "Z"}, {To: "S1"}, {To: "S2"}},
		Tasks:  []body.Task{{ID: "bench", When: "open", Step: body.Step{Name: "bench", Skill: "alu", Fixed: 60}}},
	}
}

func testShop() *shop.Shop {
	return &shop.Shop{Currency: "EUR", Temp: 20, AnswerTime: 5 * 1440, Rates: []shop.Rate{{Skill: "alu", Name: "alu", Hour: eur(6000)}},
		People:    []shop.Person{{ID: "p", Skills: []body.SkillID{"alu"}}},
		Calendar:  shop.Calendar{Days: []string{"mon", "tue", "wed", "thu", "fri"}, Start: "08:00", End: "16:00"},
		TotalLoss: []shop.LossRule{{ID: "r", Name: "rule", Kind: "percentage", Operator: ">=", Percent: 0.75, Applies: true}},
	}
}

type verdicts map[string]decide.Verdict

// opts writes a finding's options: "weld", "plate", "S1", "cast", "swap".
func opts(v verdicts) []decide.Option {
	var out []decide.Option
	for _, n := range []struct {
		name string
		o    decide.Option
	}{{"weld", decide.Option{Kind: body.Weld}}, {"plate", decide.Option{Kind: body.WeldBacking}}, {"S1", decide.Option{Kind: body.SectionOff, Line: "S1"}},
		{"S2", decide.Option{Kind: body.SectionOff, Line: "S2"}}, {"swap", decide.Option{Kind: body.Exchange}}, {"cast", decide.Option{Kind: body.ReplaceCasting}}} {
		if x, ok := v[n.name]; ok {
			n.o.Verdict, n.o.Because = x, "row "+n.name
			out = append(out, n.o)
		}
	}
	return out
}

// input has cracks F1, F2, ... with the given options.
func input(findings ...verdicts) Input {
	in := Input{Body: testBody(), Shop: testShop(), Job: &job.State{Start: unit.Date{Year: 2026, Month: time.March, Day: 2},
		Vehicle: job.Vehicle{Value: eur(1000000), Salvage: eur(100000)}}}
	for i, v := range findings {
		id := job.FindingID("F" + string(rune('1'+i)))
		part, casting, kind := body.PartID("cast"), body.CastingID("front"), body.Crack
		if _, ok := v["swap"]; ok {
			part, casting, kind = "bracket", "", "torn"
		}
		in.Job.Findings = append(in.Job.Findings, job.Finding{ID: id, Kind: kind, Part: part})
		in.Inspect.Findings = append(in.Inspect.Findings, inspect.Finding{ID: id, Kind: kind, Part: part, Casting: casting, Length: &inspect.Length{MM: 20}, Zones: []inspect.ZoneShare{{Zone: "Z", LengthMM: 20}}})
		in.Decide.Findings = append(in.Decide.Findings, decide.Finding{ID: id, Options: opts(v)})
	}
	return in
}

func route(t *testing.T, r Result, id string) Route {
	t.Helper()
	k := slices.IndexFunc(r.Routes, func(x Route) bool { return x.ID == id })
	if k < 0 {
		t.Fatalf("no route %q in %v", id, ids(r))
	}
	return r.Routes[k]
}

func ids(r Result) []string {
	var out []string
	for _, x := range r.Routes {
		out = append(out, x.ID)
	}
	return out
}
