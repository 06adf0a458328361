package cost

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

func eur(v unit.Minor) unit.Money { return unit.Money{Minor: v, Currency: "EUR"} }

func frac(t testing.TB, s string) unit.Frac {
	t.Helper()
	var f unit.Frac
	if err := f.UnmarshalText([]byte(s)); err != nil {
		t.Fatal(err)
	}
	return f
}

func setting(t testing.TB) (*body.Body, *shop.Shop, *job.State) {
	b := &body.Body{Currency: "EUR",
		Parts:     []body.Part{{ID: "fender", Name: "fender", Price: eur(31005)}, {ID: "clip", Name: "clip", Price: eur(333)}},
		Materials: []body.Material{{ID: "glue", Name: "glue", Pack: unit.Amount{Value: 50, Unit: "ml"}, Price: eur(3999)}}}
	s := &shop.Shop{Currency: "EUR", Storage: eur(1250),
		Rates: []shop.Rate{{Skill: "alu", Name: "structure", Hour: eur(9500)}, {Skill: "body", Name: "body", Hour: eur(6125)}},
		Taxes: []shop.Tax{{ID: "vat", Name: "VAT", Rate: frac(t, "19 %"), On: []shop.AmountKind{"labour", "parts", "materials"}}}}
	j := &job.State{Vehicle: job.Vehicle{Value: eur(2000000), Salvage: eur(100000)}}
	return b, s, j
}

// Constructed, reckoned by hand: alu 10.5 + 0.333 min at 95.00: 17.152... =
// 17.15; body 7 min at 61.25: 7.1458... = 7.15; fender 310.05 and 2 clips 6.66;
// one pack 39.99; 3 days 37.50. Tax on all but storage: 381.00 x 19 % = 72.39.
func TestBill(t *testing.T) {
	b, s, j := setting(t)
	p := plan.Plan{Calendar: 3,
		Steps:   []plan.Step{{ID: "S-1", Skill: "alu", Minutes: 10.5}, {ID: "S-2", Skill: "body", Minutes: 7}, {ID: "S-3", Skill: "alu", Minutes: 1.0 / 3}},
		Lost:    []plan.Lost{{Part: "fender", Name: "fender", Because: "destroyed", Quantity: 1}, {Part: "clip", Name: "clip", Quantity: 2}},
		Takeoff: []plan.Takeoff{{Material: "glue", Name: "glue", Unit: "ml", Net: 40, Gross: 44, Pack: 50, Packs: 1}}}
	bill, notes := Price(p, b, s, j)
	if len(notes) != 0 || !bill.Complete {
		t.Errorf("notes %v", notes)
	}
	for _, c := range []struct {
		what      string
		got, want unit.Minor
	}{{"labour", bill.Labour, 1715 + 715}, {"parts", bill.Parts, 31671}, {"materials", bill.Material, 3999}, {"storage", bill.Storage, 3750},
		{"net", bill.Net, 41850}, {"tax", bill.Tax, 7239}, {"total", bill.Total, 49089}} {
		if c.got != c.want {
			t.Errorf("%s %s, want %s", c.what, c.got.Decimal(), c.want.Decimal())
		}
	}
	if l := bill.Lines[0]; l.ID != "L-alu" || l.Because != "10.833 min x 95.00 EUR an hour = 17.15" || len(l.Steps) != 2 {
		t.Errorf("line %+v", l)
	}
}

// Labour is told in hours and minutes, and a reader who multiplies what stands beside the
// money comes to it: hours and minutes by the price of an hour, to the minor unit (drawn).
func TestLabourStandsBesideItsHoursSeed31(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 1))
	for range 200 {
		b, s, j := setting(t)
		bill, _ := Price(plan.Plan{Steps: []plan.Step{{ID: "S-1", Skill: "alu", Minutes: float64(1 + rng.IntN(3000))}}}, b, s, j)
		l := bill.Lines[0]
		h, m := 0, 0
		if _, err := fmt.Sscanf(l.Amount, "%d h %d min", &h, &m); err != nil {
			h, m = 0, 0
			if _, err := fmt.Sscanf(l.Amount, "%d h", &h); err != nil || strings.Contains(l.Amount, "min") {
				if _, err := fmt.Sscanf(l.Amount, "%d min", &m); err != nil {
					t.Fatalf("%q are no hours and minutes", l.Amount)
				}
				h = 0
			}
		}
		if m >= 60 {
			t.Errorf("%q has %d minutes beside its hours", l.Amount, m)
		}
		if want := (int64(60*h+m)*int64(l.Price) + 30) / 60; int64(l.Sum) != want {
			t.Errorf("%s at %s an hour is %d, not %d", l.Amount, l.Price.Decimal(), want, l.Sum)
		}
	}
}

// Law: the lines add up to the total, to the minor unit, whatever the figures.
func TestLinesAddUpSeeds(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 21))
		b, s, j := setting(t)
		s.Taxes = append(s.Taxes, shop.Tax{ID: "env", Rate: frac(t, fmt.Sprintf("%d.%d %%", rng.IntN(9), rng.IntN(100))), On: []shop.AmountKind{"materials", "storage"}})
		p := plan.Plan{Calendar: rng.IntN(20)}
		for i := range rng.IntN(30) {
			p.Steps = append(p.Steps, plan.Step{ID: fmt.Sprint("S-", i), Skill: []body.SkillID{"alu", "body"}[rng.IntN(2)], Minutes: rng.Float64() * 200})
		}
		p.Lost = []plan.Lost{{Part: "fender", Quantity: rng.IntN(3)}}
		bill, _ := Price(p, b, s, j)
		sum := unit.Minor(0)
		for _, l := range bill.Lines {
			sum += l.Sum
		}
		if sum != bill.Total || bill.Net+bill.Tax != bill.Total || bill.Labour+bill.Parts+bill.Material+bill.Storage != bill.Net {
			t.Errorf("seed %d: lines %d, total %d, net %d, tax %d", seed, sum, bill.Total, bill.Net, bill.Tax)
		}
		more := p
		more.Steps = append(more.Steps, plan.Step{ID: "x", Skill: "alu", Minutes: rng.Float64() * 5})
		if again, _ := Price(more, b, s, j); again.Total < bill.Total {
			t.Errorf("seed %d: one more step costs less", seed)
		}
	}
}

// Constructed from insurers' worksheets: value 10,000 repair 7,500 salvage 500;
// value 9,200 repair 6,900 salvage 2,000. The ratio is exactly 75 % in both; the
// operator decides, and the two kinds of rule can disagree.
func TestTotalLossAtTheThreshold(t *testing.T) {
	for _, c := range []struct {
		value, repair, salvage unit.Minor
		kind                   shop.LossKind
		percent                string
		op                     shop.LossOperator
		loss                   bool
		says                   string
	}{
		{1000000, 750000, 50000, "percentage", "75 %", ">=", true, "exactly 75 %"},
		{1000000, 750000, 50000, "percentage", "75 %", ">", false, "exactly 75 %"},
		{1000000, 750000, 50000, "formula", "0 %", ">=", false, "8,000.00 against the value 10,000.00"},
		{920000, 690000, 200000, "percentage", "75 %", ">=", true, "exactly 75 %"},
		{920000, 690000, 200000, "formula", "0 %", ">=", false, "8,900.00 against the value 9,200.00"},
		{1000000, 749950, 0, "percentage", "75 %", ">=", false, "exactly 74.995 %"},
		{1000000, 749999, 0, "percentage", "75 %", ">=", false, "is 74.9999 % of"},
		{1000000, 725000, 0, "percentage", "72.5 %", ">=", true, "exactly 72.5 %"},
		{1000000, 725000, 275000, "formula", "0 %", ">", false, "10,000.00"},
		{1000000, 725000, 275000, "formula", "0 %", ">=", true, "10,000.00"},
	} {
		_, s, j := setting(t)
		s.TotalLoss = []shop.LossRule{{ID: "r", Kind: c.kind, Operator: c.op, Percent: frac(t, c.percent), Applies: true}}
		j.Vehicle.Value, j.Vehicle.Salvage = eur(c.value), eur(c.salvage)
		loss, notes := LossOf(c.repair, c.repair, s, j)
		if len(notes) != 0 || len(loss) != 1 || loss[0].IsLoss != c.loss || !strings.Contains(loss[0].Because, c.says) {
			t.Errorf("%+v: %+v %v", c, loss, notes)
		}
	}
}

// The words say what the rule says: that it is a total loss where it is one and that it is
// none where it is not, for both kinds of rule below, on and above their threshold.
func TestWordsOfALossSayWhatItIs(t *testing.T) {
	seen := map[bool]int{}
	for _, kind := range []shop.LossKind{"percentage", "formula"} {
		for _, op := range []shop.LossOperator{">=", ">"} {
			for by := unit.Minor(-1); by <= 1; by++ {
				_, s, j := setting(t)
				s.TotalLoss = []shop.LossRule{{ID: "r", Kind: kind, Operator: op, Percent: frac(t, "75 %"), Applies: true}}
				j.Vehicle.Value, j.Vehicle.Salvage = eur(1000000), eur(250000)
				loss, _ := LossOf(750000+by, 750000+by, s, j)
				want := by > 0 || by == 0 && op == ">="
				if len(loss) != 1 || loss[0].IsLoss != want || strings.HasSuffix(loss[0].Because, ": total loss by this rule") != want || strings.HasSuffix(loss[0].Because, ": not a total loss by this rule") == want {
					t.Errorf("%s %s, %d beyond: %+v", kind, op, by, loss)
				}
				seen[want]++
			}
		}
	}
	if seen[true] != 6 || seen[false] != 6 {
		t.Errorf("%v", seen)
	}
}

// Constructed: a rule with tax takes the total; a missing rate or price and
// another currency block and leave the bill incomplete.
func TestWhatIsMissingBlocks(t *testing.T) {
	b, s, j := setting(t)
	s.TotalLoss = []shop.LossRule{{ID: "r", Kind: "percentage", Operator: ">=", Percent: frac(t, "60 %"), WithTax: true, Applies: true}}
	j.Vehicle.Value = eur(50000)
	bill, _ := Price(plan.Plan{Calendar: 1, Lost: []plan.Lost{{Part: "fender", Quantity: 1}}}, b, s, j)
	if l := bill.Loss[0]; l.Left != bill.Total || !bill.IsLoss { // 310.05 x 1.19 = 368.96 against 300.00; without tax it is one too
		t.Errorf("rule with tax %+v of %+v", l, bill)
	}
	for _, c := range []struct {
		change func(p *plan.Plan)
		code   string
	}{
		{func(p *plan.Plan) { p.Steps = []plan.Step{{Skill: "paint", Minutes: 5}} }, "cost.rate"},
		{func(p *plan.Plan) { p.Steps = []plan.Step{{Skill: "alu", Minutes: 5, Unpriced: true}} }, "cost.area"},
		{func(p *plan.Plan) { p.Lost = []plan.Lost{{Part: "unknown", Quantity: 1}} }, "cost.part"},
		{func(p *plan.Plan) { p.Takeoff = []plan.Takeoff{{Material: "unknown", Packs: 1, Pack: 1}} }, "cost.material"},
		{func(p *plan.Plan) { p.Calendar = 0; p.Steps = []plan.Step{{Skill: "alu", Minutes: 5}} }, "cost.storage"},
		{func(p *plan.Plan) {
			b.Parts[1].Price = unit.Money{Minor: 100, Currency: "USD"}
			p.Lost = []plan.Lost{{Part: "clip", Quantity: 1}}
		}, "cost.currency"},
	} {
		p := plan.Plan{Calendar: 1}
		c.change(&p)
		bill, notes := Price(p, b, s, j)
		if bill.Complete || len(notes) != 1 || notes[0].Code != c.code {
			t.Errorf("%s: complete %v, notes %v", c.code, bill.Complete, notes)
		}
	}
}

// Constructed: 90 minutes of a skill that another firm does, 40.00 a visit and 80.00
// an hour, are one line of 40 + 120 = 160.00, taxed where the tax says so and never
// at a rate of the shop.
func TestSubletIsALine(t *testing.T) {
	b, s, j := setting(t)
	s.Sublets = []shop.Sublet{{ID: "radar", Skill: "radar", Name: "Radar calibration", Visit: eur(4000), Hour: eur(8000)}}
	s.Taxes = []shop.Tax{{ID: "v", Name: "tax", Rate: frac(t, "10 %"), On: []shop.AmountKind{"sublet"}}}
	p := plan.Plan{Calendar: 1, Steps: []plan.Step{{ID: "S-1", Skill: "radar", Minutes: 60}, {ID: "S-2", Skill: "radar", Minutes: 30}}}
	bill, notes := Price(p, b, s, j)
	if len(notes) != 0 || bill.Sublet != 16000 || bill.Labour != 0 || bill.Tax != 1600 || bill.Lines[0].ID != "S-radar" || !bill.Complete {
		t.Errorf("%+v %v", bill, notes)
	}
}
