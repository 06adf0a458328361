package cost

import (
	"fmt"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

func money(v unit.Minor) unit.Money { return unit.Money{Minor: v, Currency: "EUR"} }

// Constructed: a bill of 7,000.00 was agreed on a vehicle worth 10,000.00; a new
// finding brings it to 7,600.00. The differences of the lines add up to that of the
// totals, and by a rule of 75 % it has become a total loss.
func TestSupplementTurnsTotalLoss(t *testing.T) {
	d := func(day int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: day} }
	s := &shop.Shop{Currency: "EUR", TotalLoss: []shop.LossRule{{ID: "r", Name: "rule", Kind: "percentage", Operator: ">=", Percent: 0.75, Applies: true}}}
	j := &job.State{Vehicle: job.Vehicle{Value: money(1000000), Salvage: money(0)},
		Findings: []job.Finding{{ID: "F1", On: d(2)}, {ID: "F2", On: d(9)}},
		Agreed: []job.Agreed{{Number: 1, Net: money(700000), Total: money(700000), Finish: d(20), On: d(5),
			Lines: []job.AgreedLine{{ID: "L-a", Sum: money(400000)}, {ID: "P-x", Sum: money(200000)}, {ID: "P-y", Sum: money(100000)}}}}}
	b := Bill{Currency: "EUR", Net: 760000, Total: 760000, Lines: []Line{{ID: "L-a", Text: "work", Sum: 460000}, {ID: "P-x", Sum: 200000}, {ID: "P-z", Text: "new", Sum: 100000}}}
	b.Loss, _ = LossOf(b.Net, b.Total, s, j)
	b.IsLoss = b.Loss[0].IsLoss
	x, ok := SupplementOf("weld", b, d(23), s, j)
	if !ok || x.Number != 1 || x.Against != 1 || x.Days != 3 || fmt.Sprint(x.Findings) != "[F2]" || x.Was || !x.Is {
		t.Errorf("%+v", x)
	}
	sum := unit.Minor(0)
	for _, l := range x.Lines {
		sum += l.By()
	}
	if sum != 60000 || sum != x.Now-x.Agreed || len(x.Lines) != 3 {
		t.Errorf("the lines differ by %d: %+v", sum, x.Lines)
	}
	if !strings.Contains(x.Because, "a difference of 600.00") || !strings.Contains(x.Because, "has become a total loss") {
		t.Errorf("because %q", x.Because)
	}
	b.Loss, b.IsLoss = []Loss{{ID: "r"}}, false // worked out, and it does not apply
	if x, _ = SupplementOf("weld", b, d(23), s, j); !strings.Contains(x.Because, "is not known") {
		t.Errorf("no rule applies: %q", x.Because)
	}
	b.Loss = nil // no value of the vehicle
	if x, _ = SupplementOf("weld", b, d(23), s, j); !strings.Contains(x.Because, "is not known") || strings.Contains(x.Because, "not a total loss") {
		t.Errorf("nothing was worked out: %q", x.Because)
	}
	j.Agreed = nil
	if _, ok := SupplementOf("weld", b, d(23), s, j); ok {
		t.Error("a supplement to nothing")
	}
}

// Constructed: grinding F2 took 50 instead of 20 minutes at 60.00 an hour, so 30.00
// more; two discs at 4.50 were not planned; a step nobody planned is told.
func TestRealityAgainstPlan(t *testing.T) {
	p := plan.Plan{Steps: []plan.Step{{ID: "S-1", Name: "Grind", Skill: "a", For: []job.FindingID{"F1"}, Minutes: 20}, {ID: "S-2", Name: "Grind", Skill: "a", For: []job.FindingID{"F2"}, Minutes: 20}, {ID: "S-3", Name: "Weld", Skill: "a", Minutes: 40}}}
	s := &shop.Shop{Rates: []shop.Rate{{Skill: body.SkillID("a"), Hour: money(6000)}}}
	j := &job.State{Actuals: []job.Actual{{Step: "grind", Finding: "F2", Minutes: 50, Parts: []job.PartUsed{{ID: "disc", Count: 2, Price: money(450)}}}, {Step: "Look for the key", Minutes: 5}}}
	r, ok := RealityOf(p, s, j)
	if !ok || len(r.Steps) != 1 || r.Steps[0].Step != "S-2" || r.Labour != 3000 || r.Parts != 900 || r.Left != 60 || fmt.Sprint(r.Unknown) != "[Look for the key]" {
		t.Errorf("%+v", r)
	}
}

// Constructed: a step is recorded under way after 15 minutes, then done after 45 in
// all; planned were 40. It is one step that took 5 minutes more, and known to the plan.
func TestRecordTakesThePlaceOfTheOneUnderWay(t *testing.T) {
	p := plan.Plan{Steps: []plan.Step{{ID: "S-1", Name: "Weld", Skill: "a", Minutes: 40}}}
	s := &shop.Shop{Rates: []shop.Rate{{Skill: body.SkillID("a"), Hour: money(6000)}}}
	j := &job.State{Actuals: []job.Actual{{Step: "Weld", Minutes: 15, Going: true, Left: 25}, {Step: "Weld", Minutes: 45}}}
	r, _ := RealityOf(p, s, j)
	if len(r.Unknown) > 0 || len(r.Steps) != 1 || r.Planned != 40 || r.Taken != 45 || r.Left != 0 || r.Labour != 500 || r.Steps[0].Going {
		t.Errorf("%+v", r)
	}
}

// Median and quartiles of 31, 20, 44, 25 and 90 minutes, definition 7 of Hyndman &
// Fan 1996, the default of R and NumPy: 25, 31, 44.
func TestHistoryQuartiles(t *testing.T) {
	var all []job.Actual
	for _, m := range []unit.Minutes{31, 20, 44, 25, 90} {
		all = append(all, job.Actual{Step: "Grind", Planned: 20, Minutes: m})
	}
	all[1].Step = "grind"
	h := HistoryOf("the shop", append(all, job.Actual{Step: "Clean", Planned: 3, Minutes: 4}))
	if len(h) != 2 || h[0] != (History{"the shop", "Clean", 1, 3, 4, 4, 4}) || h[1] != (History{"the shop", "Grind", 5, 20, 31, 25, 44}) {
		t.Errorf("%+v", h)
	}
}
