package cost

import (
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Constructed: of the labour, the parts and the materials the first has no price and the second
// one in another currency. Both are told, and what comes after them is priced as ever: 60 minutes
// at 95.00, two clips at 3.33, three packs at 39.99.
func TestWhatHasNoPriceHidesNoOther(t *testing.T) {
	b, s, j := setting(t)
	dollars := unit.Money{Minor: 100, Currency: "USD"}
	s.Rates = append(s.Rates, shop.Rate{Skill: "acid", Name: "acid", Hour: dollars})
	b.Parts = append(b.Parts, body.Part{ID: "arm", Price: dollars})
	b.Materials = append(b.Materials, body.Material{ID: "acid", Pack: unit.Amount{Value: 1, Unit: "ml"}, Price: dollars})
	p := plan.Plan{Calendar: 1,
		Steps:   []plan.Step{{ID: "S-1", Skill: "abseil", Minutes: 5}, {ID: "S-2", Skill: "acid", Minutes: 5}, {ID: "S-3", Skill: "alu", Minutes: 60}},
		Lost:    []plan.Lost{{Part: "absent", Quantity: 1}, {Part: "arm", Quantity: 1}, {Part: "clip", Quantity: 2}},
		Takeoff: []plan.Takeoff{{Material: "absent", Packs: 1, Pack: 1}, {Material: "acid", Packs: 1, Pack: 1}, {Material: "glue", Packs: 3, Pack: 50}}}
	bill, notes := Price(p, b, s, j)
	var codes []string
	for _, n := range notes {
		codes = append(codes, n.Code+" "+n.Where)
	}
	if want := []string{"cost.rate abseil", "cost.currency rate acid", "cost.part absent", "cost.currency part arm", "cost.material absent", "cost.currency material acid"}; !slices.Equal(codes, want) {
		t.Errorf("%q", codes)
	}
	if bill.Labour != 9500 || bill.Parts != 666 || bill.Material != 11997 || bill.Complete {
		t.Errorf("%+v", bill)
	}
}

// What costs nothing needs no currency; an amount without one is in no bill.
func TestNothingNeedsNoCurrency(t *testing.T) {
	for minor, want := range map[unit.Minor]bool{0: true, 1: false} {
		b, s, j := setting(t)
		b.Parts[1].Price = unit.Money{Minor: minor}
		bill, notes := Price(plan.Plan{Calendar: 1, Lost: []plan.Lost{{Part: "clip", Quantity: 1}}}, b, s, j)
		if bill.Complete != want || (len(notes) == 0) != want || bill.Parts != 0 {
			t.Errorf("%d: %v %+v", minor, notes, bill)
		}
	}
}

// Constructed: of a step without a name in every plan and of one that takes no time nothing is
// agreed; two of one name are one, of the minutes of both, and a step of half a minute is one.
func TestAgreedWorkIsWhatTakesTime(t *testing.T) {
	got := AgreedWork(plan.Plan{Steps: []plan.Step{{Ref: "a", Minutes: 3}, {Ref: "", Minutes: 9}, {Ref: "b", Minutes: 0}, {Ref: "c", Minutes: 1}, {Ref: "a", Minutes: 4}}})
	if want := []job.AgreedStep{{Step: "a", Minutes: 7}, {Step: "c", Minutes: 1}}; !slices.EqualFunc(got, want, func(a, b job.AgreedStep) bool { return a.Step == b.Step && a.Minutes == b.Minutes }) {
		t.Errorf("%+v", got)
	}
}

// Constructed: a price of one that rose from 1.00 to 1.50 is 5.00 of a line of ten, where the line
// is of parts, materials or storage; 1,000 minutes of labour and one that falls away at an hour of
// 60.00 are told to the minor unit. Without a price on record, or one of nothing, nothing is told of it.
func TestWhatThePriceOfALineMakes(t *testing.T) {
	was := job.AgreedLine{ID: "x", Sum: eur(1000), Price: eur(100)}
	is := Line{ID: "x", Sum: 1500, Price: 150}
	for kind, want := range map[shop.AmountKind]unit.Minor{LineParts: 500, LineMaterials: 500, LineStorage: 500, LineTax: 0, LineSublet: 0, LineLabour: 0} {
		is.Kind = kind
		if d := apart(was, true, is, stepsMoved{}); d.ByPrice != want || d.Rest != 500-want || d.Was != 1000 || d.Is != 1500 {
			t.Errorf("%s: %+v", kind, d)
		}
	}
	is.Kind = LineParts
	for _, price := range []unit.Money{{}, eur(0)} {
		was.Price = price
		if d := apart(was, true, is, stepsMoved{}); d.ByPrice != 0 || d.Rest != 500 {
			t.Errorf("price %v: %+v", price, d)
		}
	}
	was.Price, was.Sum = eur(1), eur(10)
	if d := apart(was, true, is, stepsMoved{}); d.ByPrice != 1490 || d.Rest != 0 {
		t.Errorf("ten at a hundredth: %+v", d)
	}
	// 60,000,000 minor units an hour: a thousandth of a minute is 1,000 of them.
	moved := stepsApart([]job.AgreedStep{{Step: "gone", Skill: "s", Minutes: 0.003}}, plan.Plan{Steps: []plan.Step{{Ref: "new", Skill: "s", Minutes: 0.005}}})
	d := apart(job.AgreedLine{ID: "L-s", Price: eur(60000000)}, true, Line{ID: "L-s", Kind: LineLabour, Price: 60000000}, moved)
	if d.Away != -3000 || d.New != 5000 || d.ByPrice != 0 {
		t.Errorf("%+v", d)
	}
}

// A plan of which no steps were kept shares none with another: all that it has is not told to be new.
func TestStepsThatWereNotKept(t *testing.T) {
	now := plan.Plan{Steps: []plan.Step{{Ref: "a", Minutes: 3}}}
	if m := stepsApart(nil, now); m.known {
		t.Error("steps of no record are known")
	}
	if m := stepsApart([]job.AgreedStep{{Step: "a", Minutes: 3}}, now); !m.known || len(m.away)+len(m.fresh) > 0 {
		t.Errorf("%+v", m)
	}
}
