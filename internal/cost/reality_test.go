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

// agreedBill is 7,000.00 agreed on 5 March on a vehicle worth 10,000.00, by a rule of 75 %.
func agreedBill() (*shop.Shop, *job.State, Held) {
	s := &shop.Shop{Currency: "EUR", Rates: []shop.Rate{{Skill: "a", Name: "Work", Hour: money(6000)}},
		TotalLoss: []shop.LossRule{{ID: "r", Name: "rule", Kind: "percentage", Operator: ">=", Percent: 0.75, Applies: true}}}
	j := &job.State{Vehicle: job.Vehicle{Value: money(1000000), Salvage: money(0)},
		Findings: []job.Finding{{ID: "F1", On: march(2)}, {ID: "F2", On: march(9)}},
		Agreed: []job.Agreed{{Number: 1, Route: "weld", Net: money(700000), Total: money(700000), Finish: march(20), On: march(5),
			Value: money(1000000), Salvage: money(0), Rules: s.TotalLoss,
			Lines: []job.AgreedLine{{ID: "L-a", Sum: money(400000), Price: money(6000), Amount: "66 h 40 min"}, {ID: "P-x", Sum: money(200000), Price: money(100000), Amount: "2"}, {ID: "P-y", Sum: money(100000)}},
			Work:  []job.AgreedStep{{Step: "T/open F1", Findings: []job.FindingID{"F1"}, Skill: "a", Minutes: 3000}, {Step: "T/weld F1", Findings: []job.FindingID{"F1"}, Skill: "a", Minutes: 1000}}}}}
	b := Bill{Currency: "EUR", Complete: true, Net: 760000, Total: 760000, Lines: []Line{{ID: "L-a", Kind: "labour", Text: "work", Sum: 460000, Price: 6000, Amount: "76 h 40 min"}, {ID: "P-x", Kind: "parts", Sum: 200000, Price: 100000, Amount: "2"}, {ID: "P-z", Kind: "parts", Text: "new", Sum: 100000}}}
	b.Loss, _ = LossOf(b.Net, b.Total, s, j)
	p := plan.Plan{Finish: march(23), Steps: []plan.Step{{Ref: "T/open F1 and F2", For: []job.FindingID{"F1", "F2"}, Skill: "a", Minutes: 3600}, {Ref: "T/saw", Name: "Saw", Skill: "a", Minutes: 1000}}}
	return s, j, Held{Now: Way{Route: "weld", Plan: p, Bill: b}}
}

// Constructed: a new finding brings a bill of 7,000.00 to 7,600.00. The differences of the
// lines add up to that of the totals, and by a rule of 75 % it has become a total loss.
func TestSupplementTurnsTotalLoss(t *testing.T) {
	s, j, h := agreedBill()
	x, ok := SupplementOf(h, s, j)
	if !ok || x.Number != 1 || x.Against != 1 || x.Days != 3 || fmt.Sprint(x.Findings) != "[F2]" || !x.Was.Known || x.Was.IsLoss || !x.Is.IsLoss || !x.BecameLoss() {
		t.Errorf("%+v", x)
	}
	sum := unit.Minor(0)
	for _, l := range x.Lines {
		sum += l.By()
		if l.By() != l.Away+l.New+l.ByPrice+l.Rest {
			t.Errorf("%+v does not add up", l)
		}
	}
	if sum != 60000 || sum != x.Now-x.Agreed || len(x.Lines) != 3 {
		t.Errorf("the lines differ by %d: %+v", sum, x.Lines)
	}
	if !strings.Contains(x.Because, "a difference of 600.00") || !strings.Contains(x.Because, "has become a total loss") {
		t.Errorf("because %q", x.Because)
	}
	h.Now.Bill.Loss = []Loss{{ID: "r"}} // worked out, and it does not apply
	if x, _ = SupplementOf(h, s, j); !strings.Contains(x.Because, "is not known") || x.BecameLoss() {
		t.Errorf("no rule applies: %q", x.Because)
	}
	h.Now.Bill.Loss = nil // no value of the vehicle
	if x, _ = SupplementOf(h, s, j); !strings.Contains(x.Because, "is not known") || strings.Contains(x.Because, "not a total loss") {
		t.Errorf("nothing was worked out: %q", x.Because)
	}
	j.Agreed = nil
	if _, ok := SupplementOf(h, s, j); ok {
		t.Error("a supplement to nothing")
	}
}

// Constructed: nothing of the bill changes, and the value falls from 10,000.00 to 9,000.00, by
// which 7,000.00 is a total loss. That is told: the agreed bill was none by what was agreed,
// and is one by today's value. The same for a rule that becomes stricter, and a rate; and where
// the value is not on record with the bill, that it was as before is never said.
func TestWhatWasAgreedIsJudgedByWhatWasAgreed(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*shop.Shop, *job.State)
		became bool
		says   []string
	}{
		"nothing":     {func(*shop.Shop, *job.State) {}, false, nil},
		"value falls": {func(_ *shop.Shop, j *job.State) { j.Vehicle.Value = money(900000) }, true, []string{"value of the vehicle is 9,000.00 instead of 10,000.00", "was no total loss by the rule and value it was agreed with, and would be a total loss by those of today", "stop"}},
		"value rises": {func(_ *shop.Shop, j *job.State) { j.Vehicle.Value = money(1100000) }, false, []string{"value of the vehicle is 11,000.00"}},
		"salvage":     {func(_ *shop.Shop, j *job.State) { j.Vehicle.Salvage = money(5000) }, false, []string{"the salvage value is 50.00 instead of 0.00"}},
		"rule": {func(s *shop.Shop, _ *job.State) {
			s.TotalLoss = []shop.LossRule{{ID: "r", Name: "rule", Kind: "percentage", Operator: ">", Percent: 0.6, Applies: true}}
		}, true, []string{"rule r is repair > 60 % of the value, without tax, which applies instead of repair >= 75 %", "would be a total loss"}},
		"another rule": {func(s *shop.Shop, _ *job.State) { s.TotalLoss[0].ID = "q" }, false, []string{"rule r is no longer there", "rule q is new"}},
		"rate":         {func(s *shop.Shop, _ *job.State) { s.Rates[0].Hour = money(6600) }, false, []string{"the rate of Work is 66.00 instead of 60.00 an hour"}},
		"value not on record": {func(_ *shop.Shop, j *job.State) {
			j.Vehicle.Value, j.Agreed[0].Value, j.Agreed[0].Salvage = money(900000), unit.Money{}, unit.Money{}
		}, true, []string{"whether it was one when the bill was agreed is not known", "stop"}},
	} {
		s, j, h := agreedBill()
		j.Agreed[0].Rules = []shop.LossRule{s.TotalLoss[0]}
		c.change(s, j)
		b := Bill{Currency: "EUR", Complete: true, Net: 700000, Total: 700000}
		for _, l := range j.Agreed[0].Lines {
			b.Lines = append(b.Lines, Line{ID: l.ID, Sum: l.Sum.Minor, Price: l.Price.Minor, Amount: l.Amount})
		}
		b.Loss, _ = LossOf(b.Net, b.Total, s, j)
		h.Now.Bill, h.Now.Plan.Finish = b, march(20)
		x, ok := SupplementOf(h, s, j)
		if ok != (name != "nothing") || x.BecameLoss() != c.became || strings.Contains(x.Because, "as before") || x.Was.IsLoss {
			t.Errorf("%s: told %v, %q, %+v", name, ok, x.Because, x.Was)
		}
		for _, want := range c.says {
			if !strings.Contains(x.Because, want) {
				t.Errorf("%s: %q does not say %q", name, x.Because, want)
			}
		}
	}
}

// Constructed: a loss that was agreed as one is not news; its bill may change.
func TestALossThatWasAgreedAsOne(t *testing.T) {
	s, j, h := agreedBill()
	j.Agreed[0].Value, j.Vehicle.Value = money(900000), money(900000)
	h.Now.Bill.Loss, _ = LossOf(760000, 760000, s, j)
	if x, ok := SupplementOf(h, s, j); !ok || x.BecameLoss() || !strings.Contains(x.Because, "as when it was agreed") {
		t.Errorf("%+v", x)
	}
}

// Constructed: the route that is taken is not possible any more. There is no bill, and no
// figure is one; what is possible is told with what it comes to.
func TestNoBillIsNoFigure(t *testing.T) {
	s, j, h := agreedBill()
	other := Way{Route: "section", Name: "Section", Plan: h.Now.Plan, Bill: Bill{Complete: true, Total: 800000}}
	barred := Way{Route: "dress", Bar: "F1 is too long", Plan: h.Now.Plan, Bill: Bill{Complete: true, Total: 100}}
	for name, w := range map[string]Way{"excluded": {Route: "weld", Bar: "F1: a row forbids it"}, "none": {Bar: "no route can be taken"}, "excluded with a bill": {Route: "weld", Bar: "F1: a row forbids it", Plan: h.Now.Plan, Bill: h.Now.Bill},
		"a price is missing": {Route: "weld", Plan: h.Now.Plan, Bill: Bill{Total: 500}}} {
		x, ok := SupplementOf(Held{Now: w, Others: []Way{other, barred}}, s, j)
		if !ok || x.NoBill == "" || len(x.Lines) > 0 || x.Now != 0 || len(x.Possible) != 1 || strings.Contains(x.Because, "0.00 EUR instead") || !strings.Contains(x.Because, "there is no bill") || !strings.Contains(x.Because, "section for 8,000.00 (+1,000.00)") || strings.Contains(x.Because, "dress") {
			t.Errorf("%s: %q %+v", name, x.Because, x)
		}
		if w.Bar != "" && !strings.Contains(x.Because, w.Bar) {
			t.Errorf("%s: %q does not say why", name, x.Because)
		}
	}
	if x, _ := SupplementOf(Held{Now: Way{Bar: "no route can be taken"}}, s, j); !strings.Contains(x.Because, "no route is possible now") {
		t.Errorf("%q", x.Because)
	}
}

// Constructed: another route. 1,000 minutes of welding fall away and 1,000 of sawing are new,
// at 60.00 an hour, 600 more of opening are changed; the rate is 66.00 now, which makes 300.00
// of the 3,000 minutes that stay. P-y falls away and P-z is new.
func TestAnotherRouteStandsApart(t *testing.T) {
	s, j, h := agreedBill()
	h.Now.Route = "section"
	h.Now.Bill.Lines[0].Price, h.Now.Bill.Lines[0].Sum = 6600, 506000
	x, _ := SupplementOf(h, s, j)
	l := x.Lines[0]
	if l.ID != "L-a" || l.Away != -100000 || l.New != 110000 || l.ByPrice != 30000 || l.Rest != 66000 || l.By() != 106000 {
		t.Errorf("%+v", l)
	}
	if fmt.Sprint(x.Away) != "[{T/weld F1  a 1000 0} {P-y   0 100000}]" || fmt.Sprint(x.New) != "[{T/saw Saw a 1000 0} {P-z new  0 100000}]" {
		t.Errorf("away %+v, new %+v", x.Away, x.New)
	}
	for _, want := range []string{"another route than was agreed, section instead of weld", "not among the routes any more", "other rates and prices make 300.00"} {
		if !strings.Contains(x.Because, want) {
			t.Errorf("%q does not say %q", x.Because, want)
		}
	}
	h.Agreed = &Way{Route: "weld", Bar: "F1 is too long"}
	if x, _ = SupplementOf(h, s, j); !strings.Contains(x.Because, "no longer possible (F1 is too long)") {
		t.Errorf("%q", x.Because)
	}
	j.Agreed[0].Work = nil
	if x, _ = SupplementOf(h, s, j); !strings.Contains(x.Because, "the steps that were agreed are not on record") || x.Lines[0].Away != 0 {
		t.Errorf("%q %+v", x.Because, x.Lines[0])
	}
}

// workShop is a shop of one person who does the one skill, at 60.00 an hour.
func workShop() *shop.Shop {
	return &shop.Shop{Rates: []shop.Rate{{Skill: "a", Hour: money(6000)}}, People: []shop.Person{{ID: "T", Skills: []body.SkillID{"a"}}}}
}

func march(day int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: day} }

// by signs records, one on each day of March.
func by(records ...job.Actual) *job.State {
	for i := range records {
		records[i].By, records[i].On = "T", march(i+1)
	}
	return &job.State{Actuals: records}
}

func grinding() plan.Plan {
	return plan.Plan{Steps: []plan.Step{{ID: "S-1", Name: "Grind", Skill: "a", For: []job.FindingID{"F1"}, Minutes: 20}, {ID: "S-2", Name: "Grind", Skill: "a", For: []job.FindingID{"F2"}, Minutes: 20}, {ID: "S-3", Name: "Weld", Skill: "a", Minutes: 40}}}
}

// Constructed: grinding F2 took 50 instead of 20 minutes at 60.00 an hour, so 30.00
// more; two discs at 4.50 were not planned; a step nobody planned is told.
func TestRealityAgainstPlan(t *testing.T) {
	j := by(job.Actual{Step: "grind", Finding: "F2", Minutes: 50, Parts: []job.PartUsed{{ID: "disc", Count: 2, Price: money(450)}}}, job.Actual{Step: "Look for the key", Minutes: 5})
	r, ok := RealityOf(Way{Plan: grinding()}, nil, workShop(), j, march(31))
	if !ok || len(r.Steps) != 1 || r.Steps[0].Step != "S-2" || r.Labour != 3000 || r.Parts != 900 || r.Left != 60 || len(r.Unfit) != 1 || r.Unfit[0].Name != "Look for the key" || r.Unfit[0].Minutes != 5 {
		t.Errorf("%+v", r)
	}
}

// Constructed: a step is recorded under way after 15 minutes, then done after 45 in
// all; planned were 40. It is one step that took 5 minutes more, and known to the plan.
func TestRecordTakesThePlaceOfTheOneUnderWay(t *testing.T) {
	p := plan.Plan{Steps: []plan.Step{{ID: "S-1", Name: "Weld", Skill: "a", Minutes: 40}}}
	disc := func(n int) []job.PartUsed { return []job.PartUsed{{ID: "disc", Count: n, Price: money(450)}} }
	for name, parts := range map[string][]job.PartUsed{"named again": disc(2), "not named again": nil} {
		j := by(job.Actual{Step: "Weld", Minutes: 15, Going: true, Left: 25, Parts: disc(2)}, job.Actual{Step: "Weld", Minutes: 45, Parts: parts})
		r, _ := RealityOf(Way{Plan: p}, nil, workShop(), j, march(31))
		if len(r.Unfit) > 0 || len(r.Steps) != 1 || r.Planned != 40 || r.Taken != 45 || r.Left != 0 || r.Labour != 500 || r.Steps[0].Going || r.Parts != 900 {
			t.Errorf("%s: %+v", name, r)
		}
	}
}

// Constructed: welded with 40 minutes as planned, tested, and welded again with 25 in all
// because pores were found, of which 10 are on record first. That is 25.00 more, and the
// step is one of the plan. Without the reason the second record counts for nothing.
func TestStepDoneAgain(t *testing.T) {
	j := by(job.Actual{Step: "Weld", Minutes: 40}, job.Actual{Step: "Weld", Minutes: 10, Going: true, Left: 15, Again: "Pores"}, job.Actual{Step: "Weld", Minutes: 25, Again: "Pores"})
	r, _ := RealityOf(Way{Plan: grinding()}, nil, workShop(), j, march(31))
	if len(r.Unfit) > 0 || len(r.Steps) != 1 || r.Taken != 65 || r.Labour != 2500 || r.Steps[0].Going || len(r.Steps[0].Again) != 1 || r.Left != 40 {
		t.Errorf("%+v", r)
	}
	j.Actuals[1].Again, j.Actuals[2].Again = "", ""
	if r, _ = RealityOf(Way{Plan: grinding()}, nil, workShop(), j, march(31)); len(r.Unfit) != 2 || r.Taken != 40 || r.Labour != 0 {
		t.Errorf("without a reason: %+v", r)
	}
}

// Constructed: one fender at 100.00 and two packs of glue at 10.00 are planned. A fender at
// 120.00, three packs at 10.00 and, in another step, one at 11.00 and a clip at 1.50 were
// used: one pack at 10.00 and one at 11.00 and the clip are beyond the plan, the fender is
// not, and cost 20.00 more than planned.
func TestPlannedPartsAreNotBeyondThePlan(t *testing.T) {
	p := grinding()
	p.Lost, p.Takeoff = []plan.Lost{{Part: "FENDER", Quantity: 1}}, []plan.Takeoff{{Material: "GLUE", Packs: 2}}
	bill := Bill{Lines: []Line{{ID: "P-FENDER", Kind: "parts", Price: 10000}, {ID: "M-GLUE", Kind: "materials", Price: 1000}}}
	j := by(job.Actual{Step: "Grind", Finding: "F1", Minutes: 20, Parts: []job.PartUsed{{ID: "FENDER", Count: 1, Price: money(12000)}, {ID: "GLUE", Count: 3, Price: money(1000)}}},
		job.Actual{Step: "Weld", Minutes: 40, Parts: []job.PartUsed{{ID: "GLUE", Count: 1, Price: money(1100)}, {ID: "clip", Count: 1, Price: money(150)}}})
	r, _ := RealityOf(Way{Plan: p, Bill: bill}, nil, workShop(), j, march(31))
	if r.Parts != 2250 || r.Dearer != 2000 || len(r.Used) != 3 || r.Used[1] != (PartReality{ID: "GLUE", Planned: 2, Used: 4, Beyond: 2, Sum: 2100}) {
		t.Errorf("%+v", r)
	}
}

// Why a record is not counted is told once for each record, with all its reasons, in the
// order of the records: no reason is told of another one.
func TestEachRecordThatIsNotCountedSaysWhyOnce(t *testing.T) {
	j := by(job.Actual{Step: "Look", Minutes: 5}, job.Actual{Step: "Weld", Minutes: 40}, job.Actual{Step: "Search", Minutes: 6}, job.Actual{Step: "Weld", Minutes: 7})
	j.Actuals[0].By, j.Actuals[3].By = "nobody", "nobody"
	work := j.Work(grinding().WorkSteps(), workShop(), march(31))
	texts := map[int][]string{}
	for _, f := range work.Faults {
		texts[f.At] = append(texts[f.At], f.Text)
	}
	r, _ := RealityOf(Way{Plan: grinding()}, nil, workShop(), j, march(31))
	if len(texts) != 3 || len(work.Faults) < 4 || len(r.Unfit) != len(texts) {
		t.Fatalf("faults %+v, told %+v", work.Faults, r.Unfit)
	}
	for k, at := range []int{0, 2, 3} {
		a := j.Actuals[at]
		if want := (NotCounted{a.Step, a.On.String(), float64(a.Minutes), strings.Join(texts[at], "; ")}); r.Unfit[k] != want {
			t.Errorf("%+v, want %+v", r.Unfit[k], want)
		}
	}
}

// Constructed: what was ground for another route, and what nobody planned, are work that
// the plan has not; each of them is priced, and in one place.
func TestWorkBeyondThePlan(t *testing.T) {
	p := plan.Plan{Steps: []plan.Step{{ID: "S-1", Name: "Saw", Skill: "a", Minutes: 40}}}
	j := by(job.Actual{Step: "Grind", Finding: "F1", Minutes: 30}, job.Actual{Step: "Look for the key", Minutes: 6, Unplanned: "It was lost", Skill: "a"}, job.Actual{Step: "Saw", Minutes: 41})
	r, _ := RealityOf(Way{Route: "section", Plan: p}, []Way{{Route: "weld", Plan: grinding()}}, workShop(), j, march(31))
	if len(r.Beyond) != 2 || len(r.Unfit) > 0 || r.Taken != 77 || r.Planned != 40 || r.Left != 0 || r.Labour != 3000+600+100 {
		t.Errorf("%+v", r)
	}
	for _, w := range r.Beyond {
		if (w.Route == "weld") != (w.Taken == 30) {
			t.Errorf("%+v", w)
		}
	}
}

// Median and quartiles of 31, 20, 44, 25 and 90 minutes, definition 7 of Hyndman &
// Fan 1996, the default of R and NumPy: 25, 31, 44.
func TestHistoryQuartiles(t *testing.T) {
	var all []Sample
	for _, m := range []float64{31, 20, 44, 25, 90} {
		all = append(all, Sample{Step: "Grind", Planned: 20, Taken: m})
	}
	all[1].Step, all[3].LengthMM, all[4].LengthMM, all[2].Planned = "grind", 100, 200, 0
	h := HistoryOf("the shop", append(all, Sample{Step: "Clean", Planned: 3, Taken: 4}), []LeftOut{{"J", "GRIND", "2026-03-01", 7, "nobody"}, {"J", "Saw", "2026-03-01", 7, "nobody"}})
	if len(h) != 3 || h[0].Count != 1 || h[0].Median != 4 || h[0].Low != 4 || h[0].High != 4 || h[0].Planned != 3 || h[0].PerMM != nil {
		t.Fatalf("%+v", h)
	}
	g := h[1]
	if g.Count != 5 || g.Planned != 20 || g.Median != 31 || g.Low != 25 || g.High != 44 || len(g.LeftOut) != 1 || h[2].Count != 0 || len(h[2].LeftOut) != 1 {
		t.Errorf("%+v", h)
	}
	// 31, 20, 25 and 90 over 20; 25 over 100 mm and 90 over 200 mm.
	if *g.Ratio != (Quartiles{4, 1.4, 1.1875, 2.2875}) || *g.PerMM != (Quartiles{2, 0.35, 0.3, 0.4}) {
		t.Errorf("%+v %+v", *g.Ratio, *g.PerMM)
	}
}

// A bill agreed on 5 March, and a finding of the day before, of the day itself and of the day
// after; the bill lists its findings, has only its steps, or has neither. Constructed: what
// the list or a step names was agreed, what came later was not, and of the day itself
// without either nobody knows.
func TestFindingOfTheDayOfTheBill(t *testing.T) {
	for _, tc := range []struct {
		name          string
		day           int
		listed, work  bool // the bill has a list of findings, or steps
		named         bool // and F2 is among them
		since, unsure bool
	}{
		{"before, bare", 4, false, false, false, false, false},
		{"before, steps that do nothing to it", 4, false, true, false, false, false},
		{"before, and entered after agreeing", 4, true, true, false, true, false},
		{"before, listed", 4, true, false, true, false, false},
		{"the day, before agreeing", 5, true, true, true, false, false},
		{"the day, listed and left alone", 5, true, false, true, false, false},
		{"the day, after agreeing", 5, true, true, false, true, false},
		{"the day, a step is for it", 5, false, true, true, false, false},
		{"the day, no step is for it", 5, false, true, false, false, true},
		{"the day, bare", 5, false, false, false, false, true},
		{"the day after, bare", 6, false, false, false, true, false},
		{"the day after, under a name that was agreed", 6, true, true, true, true, false},
	} {
		s, j, h := agreedBill()
		j.Findings[1].On = march(tc.day)
		a := &j.Agreed[0]
		if !tc.work {
			a.Work = nil
		} else if tc.named && !tc.listed {
			a.Work[0].Findings = append(a.Work[0].Findings, "F2")
		}
		if tc.listed {
			a.Findings = []job.FindingID{"F1", "F2"}[:1]
			if tc.named {
				a.Findings = []job.FindingID{"F1", "F2"}
			}
		}
		h.Now.Plan.Finish, h.Now.Bill.Net, h.Now.Bill.Total = a.Finish, a.Net.Minor, a.Total.Minor
		h.Now.Bill.Lines = nil
		for _, l := range a.Lines { // the bill is what was agreed to the cent
			h.Now.Bill.Lines = append(h.Now.Bill.Lines, Line{ID: l.ID, Sum: l.Sum.Minor, Price: l.Price.Minor, Amount: l.Amount})
		}
		h.Now.Bill.Loss, _ = LossOf(h.Now.Bill.Net, h.Now.Bill.Total, s, j)
		x, told := SupplementOf(h, s, j)
		if has := fmt.Sprint(x.Findings) == "[F2]"; has != tc.since || len(x.Findings) > 1 {
			t.Errorf("%s: since the bill %v", tc.name, x.Findings)
		}
		if has := fmt.Sprint(x.Unsure) == "[F2]"; has != tc.unsure || has != strings.Contains(x.Because, "F2; list what it was made for") {
			t.Errorf("%s: of the day %v, %q", tc.name, x.Unsure, x.Because)
		}
		if told != (tc.since && tc.day <= 5 || tc.unsure) {
			t.Errorf("%s: told is %v", tc.name, told)
		}
	}
}
