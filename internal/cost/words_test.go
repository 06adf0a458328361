package cost

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// unchanged is the agreed bill of agreedBill with nothing different today.
func unchanged() (*shop.Shop, *job.State, Held) {
	s, j, h := agreedBill()
	a := &j.Agreed[0]
	a.Findings = []job.FindingID{"F1", "F2"}
	j.Findings[1].On = march(5)
	a.Rules = append([]shop.LossRule(nil), s.TotalLoss...)
	h.Now.Bill.Lines = nil
	for _, l := range a.Lines {
		h.Now.Bill.Lines = append(h.Now.Bill.Lines, Line{ID: l.ID, Kind: map[byte]shop.AmountKind{'L': LineLabour, 'P': LineParts}[l.ID[0]], Text: l.ID, Sum: l.Sum.Minor, Price: l.Price.Minor, Amount: l.Amount})
	}
	h.Now.Bill.Net, h.Now.Bill.Total, h.Now.Plan.Finish = a.Net.Minor, a.Total.Minor, a.Finish
	h.Now.Plan.Steps = nil
	for _, w := range a.Work {
		h.Now.Plan.Steps = append(h.Now.Plan.Steps, plan.Step{Ref: w.Step, Name: w.Step, For: w.Findings, Skill: w.Skill, Minutes: float64(w.Minutes)})
	}
	h.Now.Bill.Loss, _ = LossOf(h.Now.Bill.Net, h.Now.Bill.Total, s, j)
	return s, j, h
}

// A supplement is told for each thing that is different, by itself, and its sentences say what that
// is. The sentences are ours; who changes one reads the others beside it.
func TestEachDifferenceIsToldByItself(t *testing.T) {
	const (
		head   = "supplement 1 to bill 1 of 2026-03-05"
		same   = ": 7,000.00 EUR instead of 7,000.00, a difference of 0.00"
		moves0 = "; the finish moves by 0 days"
		none   = "; not a total loss by the rule that applies"
		end    = "; law and insurer decide"
	)
	type change func(s *shop.Shop, j *job.State, h *Held)
	for name, c := range map[string]struct {
		change change
		told   bool
		want   string
	}{
		"nothing":                   {func(*shop.Shop, *job.State, *Held) {}, false, head + same + moves0 + none + end},
		"a finding of a later day":  {func(_ *shop.Shop, j *job.State, _ *Held) { j.Findings[1].On = march(6) }, false, head + same + moves0 + none + end},
		"a finding not in the list": {func(_ *shop.Shop, j *job.State, _ *Held) { j.Agreed[0].Findings = []job.FindingID{"F1"} }, true, head + same + moves0 + none + end},
		"findings of the day": {func(_ *shop.Shop, j *job.State, _ *Held) {
			j.Agreed[0].Findings = nil
			j.Findings = append(j.Findings, job.Finding{ID: "F3", On: march(5)})
		}, true, head + same + moves0 + none + end + ". Of the day of the agreed bill, which does not say whether it was made for them: F2, F3; list what it was made for under its 'findings'"},
		"a line": {func(_ *shop.Shop, _ *job.State, h *Held) {
			h.Now.Bill.Lines[0].Sum++
			h.Now.Bill.Net, h.Now.Bill.Total = 700001, 700001
		}, true, head + ": 7,000.01 EUR instead of 7,000.00, a difference of 0.01" + moves0 + none + end},
		"a price alone": {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now.Bill.Lines[1].Price = 50000 }, true,
			head + same + ", of which other rates and prices make -1,000.00 without tax" + moves0 + none + end},
		"an amount alone": {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now.Bill.Lines[1].Amount = "two" }, false, head + same + moves0 + none + end},
		"a line of nothing": {func(_ *shop.Shop, _ *job.State, h *Held) {
			h.Now.Bill.Lines = append(h.Now.Bill.Lines, Line{ID: "P-n"})
		}, false, head + same + moves0 + none + end},
		"a line of nothing is gone": {func(_ *shop.Shop, j *job.State, _ *Held) {
			j.Agreed[0].Lines = append(j.Agreed[0].Lines, job.AgreedLine{ID: "P-n"})
		}, false, head + same + moves0 + none + end},
		"later":                {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now.Plan.Finish = march(22) }, true, head + same + "; the finish moves by 2 days" + none + end},
		"earlier":              {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now.Plan.Finish = march(19) }, true, head + same + "; the finish moves by -1 days" + none + end},
		"no finish":            {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now.Plan.Finish = unit.Date{} }, false, head + same + "; by how many days the finish moves is not known" + none + end},
		"no finish was agreed": {func(_ *shop.Shop, j *job.State, _ *Held) { j.Agreed[0].Finish = unit.Date{} }, false, head + same + "; by how many days the finish moves is not known" + none + end},
		"another route, gone": {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now.Route = "cut" }, true,
			head + ": another route than was agreed, cut instead of weld, which is not among the routes any more; what falls away and what is new stand apart" + same + moves0 + none + end},
		"another route, barred": {func(_ *shop.Shop, _ *job.State, h *Held) {
			h.Now.Route, h.Agreed = "cut", &Way{Route: "weld", Bar: "too long"}
		}, true,
			head + ": another route than was agreed, cut instead of weld, which is no longer possible (too long); what falls away and what is new stand apart" + same + moves0 + none + end},
		"another route, priced": {func(_ *shop.Shop, _ *job.State, h *Held) {
			h.Now.Route, h.Agreed = "cut", &Way{Route: "weld", Bill: Bill{Complete: true, Total: 710000}}
		}, true, head + ": another route than was agreed, cut instead of weld, which would come to 7,100.00 now; what falls away and what is new stand apart" + same + moves0 + none + end},
		"another route, not priced": {func(_ *shop.Shop, j *job.State, h *Held) {
			h.Now.Route, h.Agreed = "cut", &Way{Route: "weld", Bill: Bill{Total: 710000}}
			j.Agreed[0].Work = nil
		}, true, head + ": another route than was agreed, cut instead of weld; what falls away and what is new stand apart, but for work: the steps that were agreed are not on record" + same + moves0 + none + end},
		"no bill": {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now.Bill.Complete = false }, true,
			head + ": there is no bill of route weld: a price of it is not known, or a date that a price depends on; agreed were 7,000.00 EUR for route weld; no route is possible now; without a bill nobody can say whether it is a total loss" + end},
		"no route": {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now = Way{Bar: "all are barred"} }, true,
			head + ": there is no bill of route any: all are barred; agreed were 7,000.00 EUR for route weld, which is not among the routes any more; no route is possible now; without a bill nobody can say whether it is a total loss" + end},
		"no route, and the agreed one is barred": {func(_ *shop.Shop, j *job.State, h *Held) {
			h.Now, h.Agreed = Way{Bar: "all are barred"}, &Way{Route: "weld", Bar: "too long"}
			j.Vehicle.Value = money(900000)
		}, true, head + ": there is no bill of route any: all are barred; agreed were 7,000.00 EUR for route weld, which is no longer possible (too long); no route is possible now; since it was agreed the value of the vehicle is 9,000.00 instead of 10,000.00" +
			"; the agreed bill was no total loss by the rule and value it was agreed with, and would be a total loss by those of today; without a bill nobody can say whether it is a total loss" + end},
		"no route, and the agreed one is open": {func(_ *shop.Shop, _ *job.State, h *Held) {
			h.Now, h.Agreed = Way{Bar: "all are barred"}, &Way{Route: "weld"}
			step := plan.Plan{Steps: []plan.Step{{}}}
			h.Others = []Way{{Route: "c", Plan: step, Bill: Bill{Complete: true, Total: 700001}}, {Route: "b", Plan: step, Bill: Bill{Complete: true, Total: 700000}}, {Route: "bar", Bar: "x", Plan: step, Bill: Bill{Complete: true, Total: 1}},
				{Route: "open", Plan: step, Bill: Bill{Total: 1}}, {Route: "bare", Bill: Bill{Complete: true, Total: 1}}, {Route: "", Plan: step, Bill: Bill{Complete: true, Total: 1}}, {Route: "a", Plan: step, Bill: Bill{Complete: true, Total: 699999}}}
		}, true, head + ": there is no bill of route any: all are barred; agreed were 7,000.00 EUR for route weld; possible now: a for 6,999.99 (-0.01), b for 7,000.00 (0.00), c for 7,000.01 (+0.01); without a bill nobody can say whether it is a total loss" + end},
		"a rate that the bill does not show": {func(s *shop.Shop, _ *job.State, _ *Held) { s.Rates[0].Hour = money(6100) }, true,
			head + same + moves0 + "; since it was agreed the rate of Work is 61.00 instead of 60.00 an hour" + none + end},
		"a loss now": {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now.Bill.Loss[0].IsLoss = true }, true,
			head + same + moves0 + "; by the rule that applies it has become a total loss: stop" + end},
		"a loss as before": {func(_ *shop.Shop, j *job.State, h *Held) {
			j.Vehicle.Value, j.Agreed[0].Value, h.Now.Bill.Loss[0].IsLoss = money(900000), money(900000), true
		}, false, head + same + moves0 + "; a total loss by the rule that applies, as when it was agreed" + end},
		"a loss no more": {func(_ *shop.Shop, j *job.State, _ *Held) { j.Agreed[0].Value = money(900000) }, true,
			head + same + moves0 + "; since it was agreed the value of the vehicle is 10,000.00 instead of 9,000.00; the agreed bill was a total loss by the rule and value it was agreed with, and would be no total loss by those of today; not a total loss by the rule that applies any more" + end},
		"a loss, and before not known": {func(_ *shop.Shop, j *job.State, h *Held) {
			j.Agreed[0].Value, h.Now.Bill.Loss[0].IsLoss = unit.Money{}, true
		}, true,
			head + same + moves0 + "; a total loss by the rule that applies, and whether it was one when the bill was agreed is not known (the value is not on record with it): stop" + end},
		"no rule worked out": {func(_ *shop.Shop, _ *job.State, h *Held) { h.Now.Bill.Loss = nil }, false,
			head + same + moves0 + "; whether it is a total loss is not known: no rule that applies was worked out" + end},
		"rules are not on record": {func(_ *shop.Shop, j *job.State, _ *Held) { j.Agreed[0].Rules = nil }, false, head + same + moves0 + none + end},
	} {
		s, j, h := unchanged()
		c.change(s, j, &h)
		if x, told := SupplementOf(h, s, j); told != c.told || x.Because != c.want {
			t.Errorf("%s: told %v\n%s\nwant %v\n%s", name, told, x.Because, c.told, c.want)
		}
	}
}

// What is another than when a bill was agreed, each by itself. What is not on record with the bill
// is not told.
func TestWhatChangedSinceABillWasAgreed(t *testing.T) {
	rule := shop.LossRule{ID: "r", Name: "R", Kind: "percentage", Operator: ">=", Percent: 0.75, Applies: true}
	for _, c := range []struct {
		change func(a *job.Agreed, s *shop.Shop, j *job.State)
		want   string
	}{
		{func(*job.Agreed, *shop.Shop, *job.State) {}, ""},
		{func(_ *job.Agreed, _ *shop.Shop, j *job.State) { j.Vehicle.Value = money(2) }, "the value of the vehicle is 0.02 instead of 0.01"},
		{func(_ *job.Agreed, _ *shop.Shop, j *job.State) { j.Vehicle.Salvage = money(2) }, "the salvage value is 0.02 instead of 0.00"},
		{func(a *job.Agreed, _ *shop.Shop, j *job.State) {
			a.Value, j.Vehicle.Value, j.Vehicle.Salvage = unit.Money{}, money(2), money(3)
		}, ""},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) { s.Rates[1].Hour = money(2) }, "the rate of B is 0.02 instead of 0.12 an hour"},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) { s.Rates[0].Hour = money(2) }, "the rate of A is 0.02 instead of 0.11 an hour"},
		{func(a *job.Agreed, s *shop.Shop, _ *job.State) {
			s.Rates[0].Hour, a.Lines[0].Price = money(2), unit.Money{}
		}, ""},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) { s.Sublets[0].Hour = money(2) }, "the rate of C is 0.02 instead of 0.13 an hour"},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) { s.Storage = money(2) }, "a day of storage is 0.02 instead of 0.14"},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) { s.Taxes[0].Rate = 0.2 }, "D is 20 % instead of 19 %"},
		{func(a *job.Agreed, s *shop.Shop, _ *job.State) { s.Taxes[0].Rate, a.Lines[4].Amount = 0.2, "" }, ""},
		{func(a *job.Agreed, s *shop.Shop, _ *job.State) { s.Taxes[0].Rate, a.Lines = 0.2, a.Lines[:4] }, ""},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) { s.TotalLoss[0].Name = "another name" }, ""},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) { s.TotalLoss[0].Operator = ">" }, "the total-loss rule r is repair > 75 % of the value, without tax, which applies instead of repair >= 75 % of the value, without tax, which applies"},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) { s.TotalLoss[0].WithTax = true }, "the total-loss rule r is repair >= 75 % of the value, with tax, which applies instead of repair >= 75 % of the value, without tax, which applies"},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) { s.TotalLoss[0].Applies = false }, "the total-loss rule r is repair >= 75 % of the value, without tax, only shown instead of repair >= 75 % of the value, without tax, which applies"},
		{func(_ *job.Agreed, s *shop.Shop, _ *job.State) {
			s.TotalLoss = []shop.LossRule{{ID: "q", Kind: "formula", Operator: ">"}}
		}, "the total-loss rule r is no longer there (repair >= 75 % of the value, without tax, which applies), the total-loss rule q is new (repair plus salvage > the value, without tax, only shown)"},
		{func(a *job.Agreed, s *shop.Shop, _ *job.State) { a.Rules, s.TotalLoss[0].Operator = nil, ">" }, ""},
	} {
		a := job.Agreed{Value: money(1), Salvage: money(0), Rules: []shop.LossRule{rule}, Lines: []job.AgreedLine{{ID: "L-a", Price: money(11)}, {ID: "L-b", Price: money(12)}, {ID: "S-c", Price: money(13)}, {ID: "D-storage", Price: money(14)}, {ID: "T-d", Amount: "19 %", Price: money(15)}}}
		s := &shop.Shop{Rates: []shop.Rate{{Skill: "a", Name: "A", Hour: money(11)}, {Skill: "b", Name: "B", Hour: money(12)}}, Sublets: []shop.Sublet{{ID: "c", Name: "C", Hour: money(13)}},
			Storage: money(14), Taxes: []shop.Tax{{ID: "d", Name: "D", Rate: 0.19}}, TotalLoss: []shop.LossRule{rule}}
		j := &job.State{Vehicle: job.Vehicle{Value: money(1), Salvage: money(0)}}
		c.change(&a, s, j)
		if got := strings.Join(changes(a, s, j), ", "); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// Why a line differs, in words: its price, its amount, what fell away and what is new. A tax has no
// price, and what is not on record is not told.
func TestWhyALineDiffers(t *testing.T) {
	for _, c := range []struct {
		was  job.AgreedLine
		is   Line
		want string
	}{
		{job.AgreedLine{Price: money(5), Amount: "1"}, Line{Price: 5, Amount: "1"}, "-0.01 fall away; 0.02 are new"},
		{job.AgreedLine{Price: money(5), Amount: "1"}, Line{Price: 6, Amount: "2"}, "the price of one is 0.06 instead of 0.05; 2 instead of 1; -0.01 fall away; 0.02 are new"},
		{job.AgreedLine{}, Line{Price: 6, Amount: "2"}, "-0.01 fall away; 0.02 are new"},
		{job.AgreedLine{Price: money(5), Amount: "1"}, Line{Price: 6, Amount: "1", Kind: LineTax}, "-0.01 fall away; 0.02 are new"},
	} {
		if got := (Difference{Away: -1, New: 2}).why(c.was, c.is); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if got := (Difference{}).why(job.AgreedLine{}, Line{}); got != "" {
		t.Errorf("%q of what does not differ", got)
	}
}

// What was done so far, in words, with and without dearer parts.
func TestWordsOfReality(t *testing.T) {
	for _, c := range []struct {
		r    Reality
		want string
	}{
		{Reality{Taken: 70.4, Planned: 60, Left: 12, Labour: 1040, Parts: 250}, "70 minutes were taken for what was planned with 60: +10.40 EUR at the shop's rates, without tax. Parts and materials beyond the plan: 2.50 EUR. 12 minutes of work are left."},
		{Reality{Labour: -5, Dearer: 7}, "0 minutes were taken for what was planned with 0: -0.05 EUR at the shop's rates, without tax. Parts and materials beyond the plan: 0.00 EUR. Those of the plan cost +0.07 EUR against their prices in it. 0 minutes of work are left."},
		{Reality{Dearer: -7}, "0 minutes were taken for what was planned with 0: 0.00 EUR at the shop's rates, without tax. Parts and materials beyond the plan: 0.00 EUR. Those of the plan cost -0.07 EUR against their prices in it. 0 minutes of work are left."},
	} {
		if got := RealityWords(c.r, "EUR"); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if MedianWords(nil, 2) != "-" || MedianWords(&Quartiles{Median: 1.256}, 2) != "1.26" || MedianWords(&Quartiles{Median: 1.256}, 0) != "1" {
		t.Error("words of a median")
	}
}

// Supply of a row in words: what came and when, until when it keeps, and what is promised; in
// capitals what is too late, on the day itself it is not.
func TestWordsOfSupply(t *testing.T) {
	for _, c := range []struct {
		r    OrderRow
		want string
	}{
		{OrderRow{}, ""},
		{OrderRow{Count: 2, Arrived: 1}, "1 of 2 came"},
		{OrderRow{Count: 2, Arrived: 2, ArrivedOn: march(3), Record: "D1", Expected: march(9), Unpromised: 1}, "2 of 2 came by 2026-03-03 (D1)"},
		{OrderRow{Count: 2, Arrived: 2, ArrivedOn: march(3), Record: "D1", UseBefore: march(9), NeededBy: march(9)}, "2 of 2 came, to be used until 2026-03-09 by 2026-03-03 (D1)"},
		{OrderRow{Count: 2, Arrived: 1, UseBefore: march(8), NeededBy: march(9)}, "1 of 2 came, to be used until 2026-03-08, BEFORE IT IS NEEDED"},
		{OrderRow{Count: 2, Unpromised: 1, Expected: march(9)}, "1 piece of what is missing promised for no day"},
		{OrderRow{Count: 3, Arrived: 1, Unpromised: 2}, "1 of 3 came; 2 pieces of what is missing promised for no day"},
		{OrderRow{Count: 2, Arrived: 1, Expected: march(9), NeededBy: march(8), Record: "P1"}, "1 of 2 came; promised for 2026-03-09 (P1), LATER THAN NEEDED"},
		{OrderRow{Count: 2, Expected: march(9), NeededBy: march(9), Record: "P1"}, "promised for 2026-03-09 (P1)"},
		{OrderRow{Count: 2, Expected: march(9), Record: "P1"}, "promised for 2026-03-09 (P1)"},
	} {
		if got := c.r.Supply(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// Rows of an order list take what is on record of them, each its own.
func TestSupplyOfEachRow(t *testing.T) {
	j := &job.State{Deliveries: []job.Arrival{{ID: "D1", Item: "b", Count: 1, On: march(2), UseBefore: march(30)}, {ID: "D2", Item: "b", Count: 1, On: march(4)}}, Promises: []job.Promised{{ID: "P1", Item: "c", Expected: march(9), On: march(3)}, {ID: "P2", Item: "d", Count: 1, Expected: march(9), On: march(3)}}}
	rows := Supplied([]OrderRow{{ID: "a", Count: 1}, {ID: "b", Count: 2}, {ID: "c", Count: 2}, {ID: "d", Count: 2}}, j)
	for i, want := range []OrderRow{{ID: "a", Count: 1}, {ID: "b", Count: 2, Arrived: 2, ArrivedOn: march(4), Record: "D2", UseBefore: march(30)}, {ID: "c", Count: 2, Expected: march(9), Record: "P1"}, {ID: "d", Count: 2, Unpromised: 1}} {
		g := rows[i]
		if g.ID != want.ID || g.Count != want.Count || g.Arrived != want.Arrived || g.ArrivedOn != want.ArrivedOn || g.Expected != want.Expected || g.Record != want.Record || g.Unpromised != want.Unpromised || g.UseBefore != want.UseBefore {
			t.Errorf("%+v, want %+v", g, want)
		}
	}
}

// A row of an order: a part by the piece and a material by the pack, with what of it is used.
func TestRowsOfAnOrder(t *testing.T) {
	p := plan.Plan{
		Steps:   []plan.Step{{ID: "S-1", Takes: []body.PartID{"b"}}, {ID: "S-2", Takes: []body.PartID{"b", "a"}, From: march(4).Time()}, {ID: "S-3", Takes: []body.PartID{"b"}, From: march(3).Time()}},
		Lost:    []plan.Lost{{Part: "b", Name: "B", Quantity: 2, Because: "cut"}, {Part: "a", Name: "A", Quantity: 1, Because: "bent"}},
		Takeoff: []plan.Takeoff{{Material: "m", Kind: "adhesive", Name: "M", Unit: "ml", Net: 0.0625, Gross: 1.5, Pack: 50, Packs: 3, Lines: []plan.TakeoffLine{{Step: "S-2", Formula: "x"}, {Step: "S-2", Formula: "y"}}}},
	}
	rows := Order(p, Bill{Lines: []Line{{ID: "P-a", Price: 1, Sum: 2}, {ID: "M-a", Price: 8, Sum: 9}}})
	var got []string
	for _, r := range rows {
		got = append(got, strings.Join([]string{r.ID, string(r.Kind), r.Name, unit.Count(r.Count, "one"), r.Holds, r.Used, r.WithLoss, r.Each.Decimal(), r.Sum.Decimal(), map[bool]string{true: "priced", false: "no price"}[r.Priced], r.NeededBy.String(), strings.Join(r.Steps, " "), r.Because}, "|"))
	}
	want := []string{
		"a|part|A|1 one|1 piece|1 piece|1 piece|0.01|0.02|priced|2026-03-04|S-2|bent",
		"b|part|B|2 ones|1 piece|2 pieces|2 pieces|0.00|0.00|no price|2026-03-03|S-1 S-2 S-3|cut",
		"m|adhesive|M|3 ones|50 ml|0.063 ml|1.5 ml|0.00|0.00|no price|2026-03-04|S-2|S-2: x; S-2: y",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("rows\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}
