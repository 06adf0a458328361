package cost

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// halfUp is num/den to the nearest whole number, of two the larger; neither is negative.
func halfUp(num, den int64) unit.Minor {
	n, d := big.NewInt(num), big.NewInt(den)
	return unit.Minor(new(big.Int).Quo(new(big.Int).Add(new(big.Int).Lsh(n, 1), d), new(big.Int).Lsh(d, 1)).Int64())
}

// drawnPlan is work of three skills and one that is sublet, in eighths of a minute; parts,
// materials and days.
func drawnPlan(rng *rand.Rand) plan.Plan {
	p := plan.Plan{Calendar: 1 + rng.IntN(9), Start: unit.Date{Year: 2026, Month: 3, Day: 2}, Finish: unit.Date{Year: 2026, Month: 3, Day: 9}}
	for i := range rng.IntN(9) {
		p.Steps = append(p.Steps, plan.Step{ID: fmt.Sprint("S-", i), Skill: []body.SkillID{"body", "alu", "radar"}[rng.IntN(3)], Minutes: float64(rng.IntN(5)*rng.IntN(900)) / 8})
	}
	for _, id := range []body.PartID{"fender", "clip"} {
		if n := rng.IntN(4); n > 0 {
			p.Lost = append(p.Lost, plan.Lost{Part: id, Name: "a " + string(id), Quantity: n, Because: "why"})
		}
	}
	if n := rng.IntN(4); n > 0 {
		p.Takeoff = append(p.Takeoff, plan.Takeoff{Material: "glue", Name: "a glue", Unit: "ml", Net: 40.25, Gross: 44, Pack: 50, Packs: n, Lines: []plan.TakeoffLine{{Step: "S-0"}, {Step: "S-1"}}})
	}
	return p
}

// A bill is the reckoning of its rules line by line: minutes in thousandths by skill, each line
// rounded once, half up; taxes on what they are on, once each; parts by their identity. Drawn, with
// whole numbers alone.
func TestBillsReckonedAnewSeeds(t *testing.T) {
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 22))
		b, s, j := setting(t)
		s.Sublets = []shop.Sublet{{ID: "sub", Skill: "radar", Name: "Radar", Visit: eur(4001), Hour: eur(8003)}}
		s.Storage = eur(unit.Minor(1250 * rng.IntN(2)))
		s.Taxes = []shop.Tax{{ID: "a", Name: "A", Rate: frac(t, "19 %"), On: []shop.AmountKind{"labour", "parts", "labour"}}, {ID: "b", Name: "B", Rate: frac(t, "7.25 %"), On: []shop.AmountKind{"materials", "sublet", "storage"}}}
		p := drawnPlan(rng)
		var want []string
		kinds := map[string]unit.Minor{}
		line := func(id, kind string, price, sum unit.Minor, steps []string, because string) {
			want = append(want, fmt.Sprintln(id, kind, price, sum, steps, because))
			kinds[kind] += sum
		}
		for _, skill := range []body.SkillID{"alu", "body", "radar"} {
			milli, steps := int64(0), []string(nil)
			for _, x := range p.Steps {
				if x.Skill == skill && x.Minutes > 0 {
					milli += int64(halfUp(int64(8*x.Minutes)*1000, 8))
					steps = append(steps, x.ID)
				}
			}
			time := unit.Minutes(float64(milli) / 1000).Hours()
			switch rate, known := s.Rate(skill); {
			case milli == 0:
			case known:
				sum := halfUp(milli*int64(rate.Hour.Minor), 60000)
				line("L-"+string(skill), "labour", rate.Hour.Minor, sum, steps, fmt.Sprintf("%s x %s EUR an hour = %s", time, rate.Hour.Minor.Decimal(), sum.Grouped()))
			default:
				sum := 4001 + halfUp(milli*8003, 60000)
				line("S-sub", "sublet", 8003, sum, steps, fmt.Sprintf("sublet: visit 40.01 + %s x 80.03 EUR an hour = %s", time, sum.Grouped()))
			}
		}
		for _, id := range []body.PartID{"clip", "fender"} {
			for _, l := range p.Lost {
				if l.Part == id {
					each := map[body.PartID]unit.Minor{"clip": 333, "fender": 31005}[id]
					line("P-"+string(id), "parts", each, each*unit.Minor(l.Quantity), nil, fmt.Sprintf("%d x %s EUR: why", l.Quantity, each.Decimal()))
				}
			}
		}
		for _, x := range p.Takeoff {
			packs := unit.Count(x.Packs, "pack")
			line("M-glue", "materials", 3999, 3999*unit.Minor(x.Packs), []string{"S-0", "S-1"}, fmt.Sprintf("40.25 ml used, with waste 44: %s of 50 ml x 39.99 EUR", packs))
		}
		if s.Storage.Minor > 0 && len(p.Steps) > 0 {
			line("D-storage", "storage", 1250, 1250*unit.Minor(p.Calendar), nil, fmt.Sprintf("%d calendar days from 2026-03-02 to 2026-03-09 x 12.50 EUR", p.Calendar))
		}
		net := kinds["labour"] + kinds["parts"] + kinds["materials"] + kinds["sublet"] + kinds["storage"]
		for _, x := range []struct {
			id, rate, on string
			base         unit.Minor
			num, den     int64
		}{{"a", "19 %", "[labour parts labour]", kinds["labour"] + kinds["parts"], 19, 100}, {"b", "7.25 %", "[materials sublet storage]", kinds["materials"] + kinds["sublet"] + kinds["storage"], 725, 10000}} {
			tax := halfUp(int64(x.base)*x.num, x.den)
			line("T-"+x.id, "tax", x.base, tax, nil, fmt.Sprintf("%s x %s EUR of %s = %s", x.rate, x.base.Grouped(), x.on, tax.Grouped()))
		}
		bill, notes := Price(p, b, s, j)
		var got []string
		for _, l := range bill.Lines {
			got = append(got, fmt.Sprintln(l.ID, l.Kind, l.Price, l.Sum, l.Steps, l.Because))
		}
		if !slices.Equal(got, want) {
			t.Errorf("seed %d: lines\n%s\nwant\n%s", seed, strings.Join(got, ""), strings.Join(want, ""))
		}
		sums := [...]unit.Minor{bill.Labour, bill.Parts, bill.Material, bill.Sublet, bill.Storage, bill.Net, bill.Tax, bill.Total}
		if sums != [...]unit.Minor{kinds["labour"], kinds["parts"], kinds["materials"], kinds["sublet"], kinds["storage"], net, kinds["tax"], net + kinds["tax"]} || !bill.Complete || bill.Currency != "EUR" || len(notes) > 0 {
			t.Errorf("seed %d: %v, by kind %v; complete %v, %v", seed, sums, kinds, bill.Complete, notes)
		}
	}
}

// Each price that is not in the shop's currency blocks by itself, and leaves its line out; so does
// what is not known, and a sum that is none. What costs nothing needs no currency.
func TestEachPriceThatIsMissingBlocksByItself(t *testing.T) {
	usd := unit.Money{Minor: 5, Currency: "USD"}
	whole := func() (plan.Plan, *body.Body, *shop.Shop) {
		b, s, _ := setting(t)
		s.Sublets = []shop.Sublet{{ID: "sub", Skill: "radar", Name: "Radar", Visit: eur(4001), Hour: eur(8003)}}
		return plan.Plan{Calendar: 2, Steps: []plan.Step{{ID: "S-1", Skill: "alu", Minutes: 60}, {ID: "S-2", Skill: "radar", Minutes: 60}, {ID: "S-3", Skill: "body", Minutes: 60}},
			Lost:    []plan.Lost{{Part: "fender", Name: "fender", Quantity: 1}, {Part: "clip", Name: "clip", Quantity: 1}},
			Takeoff: []plan.Takeoff{{Material: "glue", Name: "glue", Pack: 50, Packs: 1}}}, b, s
	}
	_, _, j := setting(t)
	const all = "L-alu L-body S-sub P-clip P-fender M-glue D-storage T-vat"
	for _, c := range []struct {
		change      func(p *plan.Plan, b *body.Body, s *shop.Shop)
		code, where string
		without     string
	}{
		{func(*plan.Plan, *body.Body, *shop.Shop) {}, "", "", ""},
		{func(_ *plan.Plan, _ *body.Body, s *shop.Shop) { s.Rates[0].Hour = usd }, "cost.currency", "rate alu", "L-alu"},
		{func(_ *plan.Plan, _ *body.Body, s *shop.Shop) { s.Sublets[0].Visit = usd }, "cost.currency", "sublet sub", "S-sub"},
		{func(_ *plan.Plan, _ *body.Body, s *shop.Shop) { s.Sublets[0].Hour = usd }, "cost.currency", "sublet sub", "S-sub"},
		{func(_ *plan.Plan, b *body.Body, _ *shop.Shop) { b.Parts[0].Price = usd }, "cost.currency", "part fender", "P-fender"},
		{func(_ *plan.Plan, b *body.Body, _ *shop.Shop) { b.Materials[0].Price = usd }, "cost.currency", "material glue", "M-glue"},
		{func(_ *plan.Plan, _ *body.Body, s *shop.Shop) { s.Storage = usd }, "cost.currency", "storage", "D-storage"},
		{func(_ *plan.Plan, _ *body.Body, s *shop.Shop) { s.Storage = unit.Money{Minor: 5} }, "cost.currency", "storage", "D-storage"},
		{func(_ *plan.Plan, _ *body.Body, s *shop.Shop) { s.Storage = unit.Money{Currency: "USD"} }, "cost.currency", "storage", "D-storage"},
		{func(_ *plan.Plan, _ *body.Body, s *shop.Shop) { s.Storage = unit.Money{} }, "", "", "D-storage"},
		{func(_ *plan.Plan, b *body.Body, _ *shop.Shop) { b.Parts[0].Price = unit.Money{} }, "", "", ""},
		{func(p *plan.Plan, _ *body.Body, _ *shop.Shop) { p.Steps[0].Skill = "paint" }, "cost.rate", "paint", "L-alu"},
		{func(p *plan.Plan, _ *body.Body, _ *shop.Shop) { p.Lost[1].Part = "stud" }, "cost.part", "stud", "P-clip"},
		{func(p *plan.Plan, _ *body.Body, _ *shop.Shop) { p.Takeoff[0].Material = "tape" }, "cost.material", "tape", "M-glue"},
		{func(p *plan.Plan, _ *body.Body, _ *shop.Shop) { p.Takeoff[0].Pack = 0 }, "cost.material", "glue", "M-glue"},
		{func(p *plan.Plan, _ *body.Body, _ *shop.Shop) { p.Takeoff[0].Pack = 1e-9 }, "", "", ""},
		{func(p *plan.Plan, _ *body.Body, _ *shop.Shop) { p.Calendar = 0 }, "cost.storage", "storage", "D-storage"},
		{func(_ *plan.Plan, _ *body.Body, s *shop.Shop) { s.Taxes[0].On = []shop.AmountKind{"labour", "tax"} }, "cost.tax", "vat", ""},
		{func(_ *plan.Plan, b *body.Body, _ *shop.Shop) { b.Parts[0].Price = eur(1e15 + 1) }, "cost.beyond", "fender", ""},
		{func(_ *plan.Plan, b *body.Body, _ *shop.Shop) { b.Parts[0].Price = eur(-1e15 - 1) }, "cost.beyond", "fender", ""},
		{func(_ *plan.Plan, b *body.Body, _ *shop.Shop) { b.Parts[0].Price = eur(1e15) }, "", "", ""},
		{func(_ *plan.Plan, b *body.Body, _ *shop.Shop) { b.Parts[0].Price = eur(-1e15) }, "", "", ""},
	} {
		p, b, s := whole()
		c.change(&p, b, s)
		bill, notes := Price(p, b, s, j)
		var got, want []string
		for _, l := range bill.Lines {
			if got = append(got, l.ID); c.code == "cost.beyond" && l.Text == c.where && l.Sum != 0 {
				t.Errorf("%s: %s comes to %s", c.code, l.ID, l.Sum.Grouped())
			}
		}
		for id := range strings.FieldsSeq(all) {
			if id != c.without {
				want = append(want, id)
			}
		}
		told := ""
		for _, n := range notes {
			if told += n.Code + " " + n.Where; n.Severity != diag.Blocking {
				t.Errorf("%s does not block", n.Code)
			}
		}
		if told != strings.TrimSpace(c.code+" "+c.where) || bill.Complete != (c.code == "") || !slices.Equal(got, want) {
			t.Errorf("%s %s: told %q, complete %v, lines %v, want %v", c.code, c.where, told, bill.Complete, got, want)
		}
	}
}

// A plan without steps keeps no vehicle, so that nothing is stored; what takes no time is no work.
func TestNothingIsStoredOrDoneForNothing(t *testing.T) {
	b, s, j := setting(t)
	if bill, notes := Price(plan.Plan{}, b, s, j); len(bill.Lines) != 1 || bill.Total != 0 || len(notes) > 0 {
		t.Errorf("%+v %v", bill, notes)
	}
	if bill, _ := Price(plan.Plan{Calendar: 1, Steps: []plan.Step{{ID: "S-1", Skill: "alu"}, {ID: "S-2", Skill: "unknown", Minutes: 0.0004}}}, b, s, j); len(bill.Lines) != 2 || bill.Total != 1250 || !bill.Complete {
		t.Errorf("%+v", bill)
	}
}

// Thousandths without zeros to spare, and shares as the fractions that their writing stands for.
func TestDecimalsAndShares(t *testing.T) {
	for milli, want := range map[int64]string{0: "0", 1: "0.001", 10: "0.01", 100: "0.1", 1000: "1", 1050: "1.05", 100000: "100", 120340: "120.34"} {
		if got := decimal(milli); got != want {
			t.Errorf("%d thousandths are %s, want %s", milli, got, want)
		}
	}
	for _, c := range []struct {
		share    float64
		num, den int64
	}{{0, 0, 100}, {0.75, 75, 100}, {0.725, 725, 1000}, {0.00125, 125, 100000}, {1.5, 150, 100}, {1e300, 0, 1}, {math.NaN(), 0, 1}} {
		if num, den := exact(unit.Frac(c.share)); num != c.num || den != c.den {
			t.Errorf("%v is %d/%d, want %d/%d", c.share, num, den, c.num, c.den)
		}
	}
	num, den := exact(unit.Frac(1.0 / 3)) // ten digits behind the point, and no more
	if num != 333333333333 || den != 1e12 {
		t.Errorf("a third is %d/%d", num, den)
	}
}
