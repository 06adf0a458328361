package plan

import (
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

type note = diag.Note

type celsius = unit.Celsius

func eur(minor unit.Minor) unit.Money { return unit.Money{Minor: minor, Currency: "EUR"} }

func amount(v float64, u string) unit.Amount { return unit.Amount{Value: v, Unit: u} }

// testBody is an invented casting with a skin over it, a bracket bolted to it
// and one section line.
func testBody() *body.Body {
	b := &body.Body{Currency: "EUR", Invented: true}
	b.Parts = []body.Part{
		{ID: "bumper", Name: "bumper", BoltOn: true, Skill: "body", Off: 10, On: 15, Price: eur(20000)},
		{ID: "skin", Name: "skin", Skill: "body", Off: 20, On: 30, Price: eur(31000), Delivery: unit.Some(unit.Minutes(2 * 1440))},
		{ID: "bracket", Name: "bracket", BoltOn: true, Skill: "mech", Off: 5, On: 5, Price: eur(4500), Delivery: unit.Some(unit.Minutes(1440))},
		{ID: "seal", Name: "seal", Skill: "body", Off: 2, On: 3, OneTime: true, Comes: body.Freely, Delivery: unit.Some(unit.Minutes(0)), Price: eur(900)},
		{ID: "cast", Name: "front casting", Kind: "casting", Skill: "alu", Off: 60, On: 90, Price: eur(250000), Delivery: unit.Some(unit.Minutes(3 * 1440))},
		{ID: "sill", Name: "sill", Skill: "alu", Price: eur(90000)},
		{ID: "horn", Name: "horn piece", Kind: "piece", Skill: "alu", Price: eur(60000), Delivery: unit.Some(unit.Minutes(2 * 1440))},
	}
	b.Joints = []body.Joint{
		{ID: "J1", Name: "bumper bolts", Layers: []body.PartID{"bumper", "cast"}, Methods: []body.JoinMethod{"bolt"}, Open: 6, Refit: 8, Skill: "body", Torque: 25},
		{ID: "J2", Name: "skin bond", Layers: []body.PartID{"skin", "cast"}, Methods: []body.JoinMethod{"adhesive"}, Length: 800, Destroys: []body.PartID{"skin"}, Open: 30, Refit: 45, Skill: "alu", Cures: "glue", Uses: []body.Use{{Material: "glue", PerMetre: amount(6, "ml")}}},
		{ID: "J3", Name: "bracket bolts", Layers: []body.PartID{"cast", "bracket"}, Methods: []body.JoinMethod{"bolt"}, Open: 4, Refit: 4, Skill: "mech"},
		{ID: "J4", Name: "sill joint", Layers: []body.PartID{"cast", "sill"}, Methods: []body.JoinMethod{"self-piercing rivet"}, Length: 1200, Open: 100, Refit: 140, Skill: "alu", Bay: "bench"},
	}
	b.Access = []body.Access{
		{To: "Z1", Needs: [][]body.PartID{{"skin"}}},
		{To: "skin", Needs: [][]body.PartID{{"bumper", "seal"}}},
		{To: "S1", Needs: [][]body.PartID{{"bumper"}, {"skin"}}},
		{To: "Z2"},
	}
	b.Triggers = []body.Trigger{{Part: "bumper", Before: []body.TaskID{"isolate"}, After: []body.TaskID{"aim"}}}
	b.Castings = []body.Casting{{ID: "front", Part: "cast", Name: "front casting", Zones: []body.Zone{{ID: "Z1"}, {ID: "Z2"}}}}
	b.Lines = []body.Line{{ID: "S1", Name: "front cut", Casting: "front", Normal: [3]float64{1, 0, 0}, Piece: "horn", Treatment: "section", FlangeWidth: 40}}
	b.Materials = []body.Material{
		{ID: "glue", Name: "glue", Kind: "adhesive", Pack: amount(50, "ml"), Price: eur(3900), Waste: 0.1, Cure: []body.CureRow{
			{Temp: 15, Working: 80, Handling: 600, Full: 3000}, {Temp: 20, Working: 60, Handling: 450, Full: 2250}, {Temp: 25, Working: 40, Handling: 300, Full: 1500}}},
		{ID: "rivet", Name: "rivet", Kind: "rivet", Pack: amount(25, "piece"), Price: eur(1200), MinPitch: 15, MinEdge: 9},
		{ID: "wire", Name: "wire", Kind: "filler", Pack: amount(1, "kg"), Price: eur(2500)},
		{ID: "sheet", Name: "sheet", Kind: "plate", Pack: amount(400, "cm2"), Price: eur(1800)},
	}
	b.Tasks = []body.Task{
		{ID: "isolate", When: "start", Step: body.Step{Name: "Isolate", Skill: "hv", Fixed: 20}},
		{ID: "bench", When: "open", Fixes: true, Step: body.Step{Name: "Set up on bench", Skill: "alu", Fixed: 40, Bay: "bench"}},
		{ID: "measure", When: "close", Step: body.Step{Name: "Measure", Skill: "alu", Fixed: 30, Bay: "bench"}},
		{ID: "aim", When: "end", Step: body.Step{Name: "Aim", Skill: "mech", Fixed: 25}},
	}
	b.Treatments = []body.Treatment{
		{ID: "weld", Name: "weld", Kind: body.Weld, Requires: []body.TaskID{"bench"}, After: []body.TaskID{"measure"}, Steps: []body.Step{
			{ID: "w1", Name: "Grind", Skill: "alu", Fixed: 5, PerMetre: 100, Bay: "bench"},
			{ID: "w2", Name: "Weld", Skill: "alu", Fixed: 10, PerMetre: 400, Bay: "bench", Equipment: []string{"welder"}, Uses: []body.Use{{Material: "wire", PerMetre: amount(0.2, "kg")}}, Wait: &body.Wait{Name: "cool down", Elapsed: 30}},
		}},
		{ID: "plate", Name: "weld with plate", Kind: body.WeldBacking, Requires: []body.TaskID{"bench"}, After: []body.TaskID{"measure"}, Steps: []body.Step{
			{ID: "p1", Name: "Weld and plate", Skill: "alu", Fixed: 30, PerRivet: 1.5, Bay: "bench", Layout: &body.Layout{Rivet: "rivet", Rows: 2, Pitch: 20, EndDistance: 10, PlateOver: 25, Plate: "sheet", Adhesive: "glue", BeadWidth: 20, BondLine: 0.3}},
		}},
		{ID: "section", Name: "section", Kind: body.SectionOff, Requires: []body.TaskID{"bench"}, After: []body.TaskID{"measure"}, Steps: []body.Step{
			{ID: "s1", Name: "Cut", Skill: "alu", Fixed: 20, PerMetre: 50, Bay: "bench"},
			{ID: "s2", Name: "Apply adhesive", Skill: "alu", Fixed: 10, Bay: "bench", Together: "bond"},
			{ID: "s3", Name: "Set rivets", Skill: "alu", PerRivet: 0.5, Bay: "bench", Together: "bond", Wait: &body.Wait{Name: "cure", Cure: "glue"},
				Layout: &body.Layout{Rivet: "rivet", Rows: 1, Pitch: 30, EndDistance: 12, Adhesive: "glue", BeadWidth: 20, BondLine: 0.3}},
		}},
		{ID: "swap", Name: "exchange", Kind: body.Exchange, Steps: []body.Step{{ID: "x1", Name: "Check mounts", Skill: "mech", Fixed: 5}}},
		{ID: "newcast", Name: "new casting", Kind: body.ReplaceCasting, Requires: []body.TaskID{"bench"}, After: []body.TaskID{"measure"}, Steps: []body.Step{{ID: "n1", Name: "Dry fit", Skill: "alu", Fixed: 45, Bay: "bench"}}},
	}
	return b
}

func testShop() *shop.Shop {
	return &shop.Shop{Currency: "EUR", Temp: 20, AnswerTime: 4 * 1440, Storage: eur(1500),
		Rates:  []shop.Rate{{Skill: "body", Name: "body", Hour: eur(6000)}, {Skill: "mech", Name: "mech", Hour: eur(7200)}, {Skill: "alu", Name: "alu", Hour: eur(9000)}, {Skill: "hv", Name: "hv", Hour: eur(9600)}},
		People: []shop.Person{{ID: "p1", Skills: []body.SkillID{"body", "mech"}}, {ID: "p2", Skills: []body.SkillID{"alu", "hv"}}},
		Bays:   []shop.Bay{{ID: "b1", Kind: "bench"}}, Equipment: []string{"welder"},
		Calendar: shop.Calendar{Days: []string{"mon", "tue", "wed", "thu", "fri"}, Start: "08:00", End: "16:30", Break: []string{"12:00", "12:30"}},
	}
}

// testJob has two cracks and a torn bracket; 2 March 2026 is a Monday.
func testJob() *job.State {
	return &job.State{Start: unit.Date{Year: 2026, Month: time.March, Day: 2}, Vehicle: job.Vehicle{Value: eur(2000000), Salvage: eur(300000)},
		Findings: []job.Finding{{ID: "F1", Kind: "crack", Part: "cast"}, {ID: "F2", Kind: "crack", Part: "cast"}, {ID: "F3", Kind: "torn", Part: "bracket"}}}
}

func testInspect() inspect.Result {
	crack := func(id job.FindingID, zone body.ZoneID, mm float64) inspect.Finding {
		return inspect.Finding{ID: id, Kind: "crack", Part: "cast", Casting: "front", Length: &inspect.Length{MM: mm}, Zones: []inspect.ZoneShare{{Zone: zone, LengthMM: mm}}}
	}
	return inspect.Result{Findings: []inspect.Finding{crack("F1", "Z1", 30), crack("F2", "Z2", 50), {ID: "F3", Kind: "torn", Part: "bracket"}}}
}

func input(items ...Item) Input {
	return Input{Body: testBody(), Shop: testShop(), Job: testJob(), Inspect: testInspect(), Choice: Choice{items}, Seams: map[body.LineID]float64{"S1": 400}}
}

var (
	weldF1  = Item{Treatment: "weld", Kind: body.Weld, Findings: []job.FindingID{"F1"}}
	weldF2  = Item{Treatment: "weld", Kind: body.Weld, Findings: []job.FindingID{"F2"}}
	plateF2 = Item{Treatment: "plate", Kind: body.WeldBacking, Findings: []job.FindingID{"F2"}}
	swapF3  = Item{Treatment: "swap", Kind: body.Exchange, Findings: []job.FindingID{"F3"}, Part: "bracket"}
	cutS1   = Item{Treatment: "section", Kind: body.SectionOff, Findings: []job.FindingID{"F1"}, Line: "S1", Part: "horn"}
	newCast = Item{Treatment: "newcast", Kind: body.ReplaceCasting, Findings: []job.FindingID{"F1", "F2"}, Part: "cast"}
)

func removed(p Plan) string {
	var out []string
	for _, r := range p.Removal {
		out = append(out, string(r.Part))
	}
	return strings.Join(out, " ")
}

func lostParts(p Plan) string {
	var out []string
	for _, l := range p.Lost {
		out = append(out, string(l.Part)+": "+l.Because)
	}
	slices.Sort(out)
	return strings.Join(out, "; ")
}

func step(t *testing.T, p Plan, name string) Step {
	t.Helper()
	for _, s := range p.Steps {
		if s.Name == name {
			return s
		}
	}
	t.Fatalf("no step %q in %v", name, stepNames(p))
	return Step{}
}

func stepNames(p Plan) []string {
	var out []string
	for _, s := range p.Steps {
		out = append(out, s.Name)
	}
	return out
}

func blocking(notes []diag.Note) string {
	var out []string
	for _, n := range notes {
		if n.Severity == diag.Blocking {
			out = append(out, n.Code)
		}
	}
	return strings.Join(out, " ")
}
