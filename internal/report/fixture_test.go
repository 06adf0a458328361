package report

import (
	"fmt"
	"sync"
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
	"fettle/internal/mesh"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// Everything in this file is constructed to look like a job; no figure is a
// result of any stage and none is taken from a real vehicle.

// nasty is text a person may have typed: it must come out as text.
const nasty = `<script>alert("x")</script> & 'quoted' </style><img src=x onerror=y>`

// fixtureSurface and fixtureAlbum are of the casting of all fixtures: what its pictures
// are drawn over is drawn once.
var (
	fixtureSurface = sync.OnceValues(func() (*mesh.Surface, error) { return mesh.NewSurface(boxMesh()) })
	fixtureAlbum   vehicle.Album
)

func fixture(t testing.TB) Input {
	t.Helper()
	s, err := fixtureSurface()
	if err != nil {
		t.Fatal(err)
	}
	b := fixtureBody()
	v := vehicle.New(b, map[body.CastingID]*mesh.Surface{"C1": s})
	v.Album = &fixtureAlbum
	in := Input{Body: b, Shop: fixtureShop(), Job: fixtureJob(), Vehicle: v,
		Measure: fixtureMeasure(), Inspect: fixtureInspect(), Decide: fixtureDecide(), Compare: fixtureCompare(),
		Meta: Meta{Made: time.Date(2026, 3, 3, 16, 5, 0, 0, time.UTC), Version: "0.1-test", BodyHash: "aa11", ShopHash: "bb22", JobHash: "cc33"}}
	in.Notes = append(in.Notes,
		diag.Note{Code: "measure.reference-moved", Severity: diag.Caution, Where: "P3", Text: "reference point P3 does not agree with the others", Hint: "go on without it"},
		diag.Note{Code: "decide.ask", Severity: diag.Blocking, Where: "F2", Text: "no row of the procedure speaks of a crack across a border", Hint: "send question Q1"},
		diag.Note{Code: "inspect.note", Severity: diag.Info, Where: "F1", Text: "trace " + nasty, Source: "row R1"})
	return in
}

// boxMesh is a box of 400 x 900 x 220 mm with a rib on top, cut into small
// faces; label 1 left of y = 0, label 2 right of it.
func boxMesh() *mesh.Mesh {
	m := &mesh.Mesh{}
	addBox(m, geom.Vec{-800, -450, 500}, geom.Vec{-400, 450, 720}, 20)
	addBox(m, geom.Vec{-620, -450, 720}, geom.Vec{-605, 450, 790}, 15)
	return m
}

func addBox(m *mesh.Mesh, lo, hi geom.Vec, step float64) {
	for axis := range 3 {
		u, v := (axis+1)%3, (axis+2)%3
		for side := range 2 {
			o := lo
			if side == 1 {
				o[axis] = hi[axis]
			}
			nu, nv := int((hi[u]-lo[u])/step)+1, int((hi[v]-lo[v])/step)+1
			at := func(i, j int) geom.Vec {
				p := o
				p[u] += (hi[u] - lo[u]) * float64(i) / float64(nu)
				p[v] += (hi[v] - lo[v]) * float64(j) / float64(nv)
				return p
			}
			for i := range nu {
				for j := range nv {
					addQuad(m, at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1), side == 0)
				}
			}
		}
	}
}

func addQuad(m *mesh.Mesh, a, b, c, d geom.Vec, flip bool) {
	if flip {
		b, d = d, b
	}
	n := int32(len(m.Points))
	m.Points = append(m.Points, a, b, c, d)
	label := int32(1)
	if a[1]+c[1] > 0 {
		label = 2
	}
	m.Faces = append(m.Faces, [3]int32{n, n + 1, n + 2}, [3]int32{n, n + 2, n + 3})
	m.Label = append(m.Label, label, label)
}

func fixtureBody() *body.Body {
	b := &body.Body{ID: "toy-1", Name: "Toy van", Revision: "3", Source: "constructed for tests", Invented: true, Currency: "EUR",
		Axes:     body.Axes{X: "rearward", Y: "right", Z: "up"},
		Sections: []body.Section{{ID: "front", Name: "Front end"}},
		Castings: []body.Casting{{ID: "C1", Part: "FRAME", Name: "Front casting", Alloy: "AlSi, invented",
			Zones: []body.Zone{{ID: "A", Label: 1, Name: "Left tower"}, {ID: "B", Label: 2, Name: "Right tower"}}}},
		Parts:      []body.Part{{ID: "FRAME", Name: "Front casting", Delivery: unit.Some(unit.Minutes(20160))}, {ID: "BRK", Name: "Radiator bracket", Delivery: unit.Some(unit.Minutes(4320))}, {ID: "WING", Name: "Left wing"}},
		Joints:     []body.Joint{{ID: "J1", Name: "wing to tower, bolts"}},
		Treatments: []body.Treatment{{ID: "T-weld", Name: "Weld the crack", Kind: body.Weld}, {ID: "T-cast", Name: "New casting", Kind: body.ReplaceCasting}},
	}
	at := []geom.Vec{{-900, -560, 480}, {-900, 560, 480}, {0, -700, 300}, {0, 700, 300}, {1500, -720, 310}, {1500, 720, 310}, {3000, -600, 420}, {3000, 600, 420}, {-500, -420, 760}, {-500, 420, 760}}
	for i, p := range at {
		b.Points = append(b.Points, body.Point{ID: body.PointID(fmt.Sprintf("P%d", i+1)), X: p[0], Y: p[1], Z: p[2], Tol: unit.Some(2.5), Reference: i == 2 || i == 3, Section: "front"})
	}
	b.Points[7].Tol = unit.Maybe[float64]{}
	b.Points[7].TolX, b.Points[7].TolY, b.Points[7].TolZ = unit.Some(2.0), unit.Some(1.5), unit.Some(3.0)
	return b
}

func fixtureShop() *shop.Shop {
	return &shop.Shop{Name: "Toy shop", Invented: true, Currency: "EUR",
		Rates:    []shop.Rate{{Skill: "structure", Name: "Structural technician"}, {Skill: "weld", Name: "Aluminium welder"}},
		People:   []shop.Person{{ID: "ST1"}, {ID: "AW1"}},
		Bays:     []shop.Bay{{ID: "B1", Kind: "bench", Name: "Bench bay"}},
		Calendar: shop.Calendar{Days: []string{"mon", "tue", "wed", "thu", "fri"}, Start: "08:00", End: "16:30"}}
}

func d(day int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: day} }

func fixtureJob() *job.State {
	return &job.State{ID: "J-77", Invented: true, Opened: d(2), Author: "planner", Start: d(4),
		Vehicle: job.Vehicle{VIN: "XX9TEST0000000001", Value: unit.Money{Minor: 1850000, Currency: "EUR"}, Salvage: unit.Money{Minor: 420000, Currency: "EUR"}, LoadState: "unloaded", Battery: "in", Odometer: 48211},
		Impact:  job.Impact{From: "front-left", Text: "steel post " + nasty},
		Hazards: []job.Hazard{{Kind: body.HighVoltage, Text: "battery is in the vehicle", Cleared: true, By: "HV1", On: d(3)}, {Kind: body.Airbag, Text: "left airbag fired", Cleared: false}},
		Setups:  []job.Setup{{ID: "S1", Device: "bench arm", Std: 0.5, Temp: unit.Some(unit.Celsius(19)), On: d(3), By: "ST1", Calibrated: d(1)}},
		Findings: []job.Finding{
			{ID: "F1", Kind: "crack", Part: "FRAME", Tips: []body.TipMethod{"penetrant", "penetrant"}, Through: "no", Seen: "penetrant", By: "IN1", On: d(3), Text: nasty},
			{ID: "F2", Kind: "crack", Part: "FRAME", Tips: []body.TipMethod{"visual", "penetrant"}, Seen: "visual", By: "IN1", On: d(3)},
			{ID: "F3", Kind: "torn", Part: "BRK", Seen: "visual", By: "IN1", On: d(3)}},
		Areas:    []job.AreaSeen{{Area: "A1", State: "penetrant", By: "IN1", On: d(3)}},
		Evidence: []job.Evidence{{ID: "E1", File: "photos/a.jpg", SHA256: "dd44", Text: "crack at the left tower", On: d(3), By: "IN1"}},
		Answers:  []job.Answer{{ID: "A1", Finding: "F1", Allow: []body.TreatmentKind{body.Weld}, By: "engineering desk", On: d(3), Expires: d(30)}},
		Checks:   []job.Check{{Procedure: "PR1", Revision: "B", On: d(2), By: "planner"}}}
}

func fixtureMeasure() measure.Result {
	h := measure.Hypothesis{Survives: true, Steady: []body.PointID{"P3", "P4", "P5", "P6", "P7"}, Moved: []body.PointID{"P1", "P9"}, Because: "the nominated reference points agree", Chi2: 8.1, DOF: 9, P: 0.52}
	for i := range 9 {
		p := measure.PointResult{ID: body.PointID(fmt.Sprintf("P%d", i+1)), ShiftMM: geom.Vec{0.1, -0.2, 0.05}, ExpandedMM: geom.Vec{1, 1, 1.2}, T2: 0.4, Tolerance: measure.Met, Probability: 0.9999, Firm: true, Detectable: 2.3, Limit: "2.5 mm all round", Readings: []string{"S1"}}
		switch i {
		case 0:
			p.ShiftMM, p.Moved, p.Tolerance, p.Probability, p.T2 = geom.Vec{7.2, 4.1, -1}, true, measure.NotMet, 0, 210
		case 8:
			p.ShiftMM, p.Moved, p.Tolerance, p.Probability, p.T2 = geom.Vec{4.8, 2.9, 0.2}, true, measure.NotMet, 0.0001, 96
		case 1:
			p.ShiftMM, p.Firm, p.Tolerance, p.Probability, p.Needs = geom.Vec{1.6, 0.8, 0}, false, measure.Undecided, 0.71, "two more readings of P2 from another set-up"
		}
		h.Points = append(h.Points, p)
	}
	dia := measure.Value{Value: 1.1, Std: 0.4}
	h.Sections = []measure.Section{{ID: "front", Points: []body.PointID{"P1", "P9"}, AboutMM: geom.Vec{-900, 0, 400}, TranslationMM: geom.Vec{6, 3.5, -0.4}, RotationDeg: geom.Vec{0, 0.1, 0.4}, RotationStd: geom.Vec{0.05, 0.05, 0.05},
		Stations: []measure.Station{{XMM: -900, Of: "far end", Mash: measure.Value{Value: 6, Std: 0.4}, DiamondMM: &dia}}}}
	other := measure.Hypothesis{Survives: true, Steady: []body.PointID{"P1", "P9", "P2"}, Moved: []body.PointID{"P3"}, Because: "if the front held", DOF: 0}
	return measure.Result{Stage: "before", Confidence: 0.95, Ambiguous: true, Why: []string{"the second reading of the evidence is nearly as good"},
		Hypotheses: []measure.Hypothesis{h, other}, Missing: []body.PointID{"P10"},
		Lengths:    []measure.LengthCheck{{Setup: "S1", Kind: "length", From: "P3", To: "P4", MeasuredMM: 1403.4, NominalMM: 1400, DiffMM: 3.4, StdMM: 0.7, Differs: true}},
		Suspects:   []measure.Suspect{{Said: diag.Said{Text: "P5 and P6 look swapped"}}},
		Adjustment: measure.Adjustment{VtPV: 12, DOF: 14, P: 0.6, Observations: []measure.Observation{{Setup: "S1", Kind: "z", From: "P7"}}},
		Search:     measure.Search{Method: "exhaustive", Triples: 84}}
}

func fixtureInspect() inspect.Result {
	l := func(v, s float64) *inspect.Length { return &inspect.Length{MM: v, Std: s} }
	return inspect.Result{
		Findings: []inspect.Finding{
			{ID: "F1", Kind: "crack", Part: "FRAME", Casting: "C1", Located: true, Path: []geom.Vec{{-700, -300, 720}, {-690, -280, 720}, {-672, -276, 720}},
				Length: l(41.3, 1.1), LowerMM: 36.9, UpperMM: 42.7, Decision: l(41.3, 1.1), Zones: []inspect.ZoneShare{{Zone: "A", LengthMM: 41.3}},
				Border: &inspect.Clearance{To: "B", MM: 276, Std: 1}, Because: []string{"shortest way along the surface through 3 points"}},
			{ID: "F2", Kind: "crack", Part: "FRAME", Casting: "C1", Located: true, Path: []geom.Vec{{-800, -30, 600}, {-800, 5, 622}, {-800, 35, 618}},
				Length: l(71.6, 3.4), Decision: l(77.6, 3.6), TipAddMM: 6, Zones: []inspect.ZoneShare{{Zone: "A", LengthMM: 36}, {Zone: "B", LengthMM: 35.6}},
				Sides: []inspect.LineSide{{Line: "S1", MarginMM: 12, Std: 2, NeedMM: 10}}, Unknown: []string{"whether it goes through: look at the other face"}},
			{ID: "F3", Kind: "torn", Part: "BRK"}},
		Groups:   []inspect.Group{{ID: "G1", Findings: []job.FindingID{"F1", "F2"}, LengthMM: 113, StdMM: 4, Because: "they are closer than the grouping distance"}},
		Coverage: []inspect.Coverage{{Area: "A1", Name: "left tower inside", Casting: "C1", Zone: "A", Needs: "penetrant", State: "penetrant", Covered: true, FindsMM: 3}, {Area: "A2", Name: "right tower inside", Casting: "C1", Zone: "B", Needs: "penetrant", State: "not-reachable", FindsMM: 3}},
		Rules:    []inspect.RuleUsed{{Casting: "C1", Procedure: "PR1", Revision: "B"}}}
}

func fixtureDecide() decide.Result {
	return decide.Result{
		Findings: []decide.Finding{
			{ID: "F1", Verdict: decide.Allowed, Because: "weld is allowed by row R1", Change: []string{"a length of 60 mm or more"}, After: []string{"penetrant inspection of the weld"},
				Options: []decide.Option{{Kind: body.Weld, Verdict: decide.Allowed, Rows: []string{"R1"}, Cite: "toy manual, rev B, p. 4", Because: "all conditions are met"}, {Kind: body.Leave, Verdict: decide.Forbidden, Rows: []string{"R9"}, Cite: "toy manual, rev B, p. 9"}},
				Rows: []decide.RowResult{{Row: "R1", Cite: "p. 4", State: "applies", Effect: "allows weld", Conds: []decide.CondResult{{Fact: "length", Text: "<= 60 mm", Value: "41.3 mm", State: "met", Prob: 0.9999}}},
					{Row: "R2", State: "does not apply", Conds: []decide.CondResult{{Fact: "kind", Text: "is break", Value: "crack", State: "not met"}}}},
				Facts: []decide.Fact{{Name: "length", Value: "41.3 mm", Known: true, From: "trace"}}},
			{ID: "F2", Verdict: decide.Ask, Because: "no row speaks of a crack across a border", Options: []decide.Option{{Kind: body.Weld, Verdict: decide.Undecided, Because: "the length is too uncertain"}}},
			{ID: "F3", Verdict: decide.Allowed, Because: "bolted on", Options: []decide.Option{{Kind: body.Exchange, Verdict: decide.Allowed, Rows: []string{"R7"}}}}},
		Procedures: []decide.InForce{{Casting: "C1", Procedure: "PR1", Title: "Front casting", Revision: "B", Effective: d(1), Recheck: d(31), CheckedOn: d(2)}},
		Questions:  []decide.Question{{ID: "Q1", Finding: "F2", Text: "May F2 be welded?\nIt is 71.6 mm long.", Open: true}}}
}

func fixtureCompare() compare.Result {
	weld := compare.Route{ID: "weld", Name: "Weld every crack", Feasible: true, Open: 1, Ask: []string{"F2"}, Rank: 1, Plan: fixturePlan(), Because: "cheapest and soonest",
		Items: []plan.Item{{Treatment: "T-weld", Kind: body.Weld, Findings: []job.FindingID{"F1", "F2"}, Open: true, Ask: true}},
		Bill: cost.Bill{Currency: "EUR", Complete: true, Labour: 300000, Parts: 55000, Material: 21000, Net: 376000, Tax: 71440, Total: 447440,
			Lines: []cost.Line{{ID: "L-structure", Kind: "labour", Text: "Structural technician", Amount: "25.0 h", Price: 12000, Sum: 300000, Because: "25.0 h x 120.00"}, {ID: "P-WING", Kind: "parts", Text: "Left wing", Amount: "1", Price: 55000, Sum: 55000}, {ID: "M-adh", Kind: "materials", Text: "Adhesive", Amount: "2 packs", Price: 10500, Sum: 21000}, {ID: "T-vat", Kind: "tax", Text: "Tax", Sum: 71440, Because: "19 % of 376000"}, {ID: "X-1", Kind: "unheard-of", Text: "Odd line", Sum: 1}},
			Loss:  []cost.Loss{{ID: "R", Name: "Percentage rule", Kind: "percentage", Operator: ">=", Left: 447440, Right: 1387500, Applies: true, Because: "75 % of the value"}}}}
	cast := compare.Route{ID: "new-casting", Name: "New casting", Feasible: true, Rank: 2, Plan: fixturePlan(), Because: "dearer by far",
		Bill: cost.Bill{Currency: "EUR", Complete: true, Labour: 900000, Parts: 610000, Material: 40000, Tax: 294500, Total: 1844500, IsLoss: true, Loss: []cost.Loss{{Name: "Percentage rule", Operator: ">=", IsLoss: true, Applies: true}}}}
	loss := compare.Route{ID: "total-loss", Name: "Total loss", Feasible: true, Rank: 3, Excluded: ""}
	sec := compare.Route{ID: "section-S1", Name: "Section at S1", Excluded: "F2 is not outboard of S1"}
	return compare.Result{Routes: []compare.Route{weld, cast, loss, sec}, Best: "weld"}
}

func fixturePlan() plan.Plan {
	at := func(day, h, m int) time.Time { return time.Date(2026, 3, day, h, m, 0, 0, time.UTC) }
	steps := []plan.Step{
		{ID: "S-1", Name: "Make the high-voltage system safe", Phase: "prepare", Skill: "structure", Minutes: 40, Sum: "40 fixed", Cautions: []body.Caution{body.Airbag, body.HighVoltage}, Person: "ST1", From: at(4, 8, 0), To: at(4, 8, 40), Because: "battery in", Records: []string{"voltage between the poles"}},
		{ID: "S-2", Name: "Take off the left wing", Phase: "open", Skill: "structure", Minutes: 55, Person: "ST1", BayID: "B1", From: at(4, 8, 40), To: at(4, 9, 35), Because: "lies over zone A", Cautions: []body.Caution{body.Lifting, body.Eyes, "laser"}},
		{ID: "S-3", Name: "Weld the crack", Phase: "repair", For: []job.FindingID{"F1"}, Skill: "weld", Minutes: 130, Person: "AW1", BayID: "B1", From: at(4, 9, 35), To: at(4, 11, 45), Cautions: []body.Caution{body.Welding, body.BatteryHeat, body.Dust}, Hold: "penetrant test before dressing", Records: []string{"filler batch", "penetrant result"}, WaitName: "cool down", WaitMin: 60},
		{ID: "S-4", Name: "Bond the plate", Phase: "close", Skill: "structure", Minutes: 45, Person: "ST1", BayID: "B1", From: at(5, 14, 0), To: at(5, 14, 45), Cautions: []body.Caution{body.Chemical}, WaitName: "cure", WaitMin: 1440, Together: "bond"},
		{ID: "S-5", Name: "Measure again", Phase: "finish", Skill: "structure", Minutes: 60, Person: "ST1", BayID: "B1", From: at(12, 8, 0), To: at(12, 9, 0), Hold: "all points in tolerance", SlackMin: 30}}
	return plan.Plan{Steps: steps, Start: d(4), Finish: d(12), WorkDays: 7, WorkMin: 330, SpanMin: 3000, BoundMin: 2900, Critical: []string{"S-3", "S-5"},
		Removal: []plan.Removal{{Part: "WING", Name: "Left wing", For: []string{"zone A"}, Joints: []body.JointID{"J1"}, Because: "it lies over zone A", Lost: true}},
		Lost:    []plan.Lost{{Part: "WING", Name: "Left wing", Quantity: 1, Because: "destroyed by opening J1"}},
		Takeoff: []plan.Takeoff{{Material: "adh", Name: "Adhesive", Kind: "adhesive", Unit: "ml", Net: 160, Gross: 184, Pack: 195, Packs: 1, Lines: []plan.TakeoffLine{{Step: "S-4", Amount: 160, Formula: "0.8 m x 200 ml/m"}}}}}
}

func chosen(route string) job.Choice {
	return job.Choice{Route: route, By: "planner", On: d(3), Reason: "agreed with the owner"}
}
