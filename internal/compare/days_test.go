package compare

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Law: when every step takes its planned minutes and everything arrives when it is
// likely to, the days are those of the plan.
func TestDaysOfThePlanSeeds(t *testing.T) {
	checked, of := 0, draws(14, 40)
	for seed := range uint64(of) {
		in := randomShared(seed, 4)
		in.Job.Start = unit.Date{Year: 2026, Month: 3, Day: 5}
		slips, ok := plan.NewSlips(plan.Input{Shop: in.Shop, Job: in.Job})
		if !ok {
			t.Fatal("no calendar")
		}
		r, _ := Routes(in)
		for _, x := range r.Routes {
			s, ok := slips.Of(x.Plan)
			if !ok || len(x.Plan.Steps) == 0 {
				continue
			}
			checked++
			var likely [][]float64
			for _, w := range s.Waits() {
				likely = append(likely, []float64{w.Minutes})
			}
			days := make([]int, 1)
			s.Days(make([][]float64, len(x.Plan.Steps)), likely, days)
			if got := days[0]; got > x.Plan.Calendar || got < x.Plan.Calendar && x.Plan.Proven {
				t.Errorf("seed %d, %s: %d days, the plan has %d", seed, x.ID, got, x.Plan.Calendar)
			}
		}
	}
	if 2*checked < 3*of {
		t.Errorf("only %d plans were checked", checked)
	}
}

// By hand from the triangular distribution: a piece of the route comes after 2 to 9
// days, likely 4, counted from Monday 8:00. One in ten comes before 2 + sqrt(0.1 x 7 x 2)
// = 3.18 days, Thursday 12:24, done that day: 4 days. Half come before 9 - sqrt(0.5 x
// 7 x 5) = 4.82, Saturday 3:37, done on Saturday: 6. Nine of ten before 9 - sqrt(0.1 x
// 7 x 5) = 7.13, Monday 11:06: 8.
func TestDaysOfADelivery(t *testing.T) {
	in := input(verdicts{"S1": yes})
	in.Job.Start = unit.Date{Year: 2026, Month: 3, Day: 2}
	in.Shop.Calendar.Days = []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}
	for i := range in.Body.Parts {
		if p := &in.Body.Parts[i]; p.ID == "horn" {
			p.Delivery, p.DeliveryLow, p.DeliveryHigh = unit.Some(unit.Minutes(4*1440)), 2*1440, 9*1440
		}
	}
	for i := range in.Body.Treatments {
		if tr := &in.Body.Treatments[i]; tr.ID == "section" {
			tr.Steps[0].Fixed = 30
		}
	}
	in.Shop.Storage = eur(500)
	in.Shop.Taxes = nil
	r, _ := Routes(in)
	if r.Spread == nil || len(r.Spread.Routes) != 1 || r.Spread.Routes[0].Days == nil {
		t.Fatalf("%+v", r.Spread)
	}
	d := r.Spread.Routes[0].Days
	if d.P10 != 4 || d.P50 != 6 || d.P90 != 8 || r.Routes[0].Plan.Calendar != 5 {
		t.Errorf("%+v, planned %d", d, r.Routes[0].Plan.Calendar)
	}
	// Storage follows the days: 4, 6 and 8 of them, 5 in the bill.
	bill, s := r.Routes[0].Bill, r.Spread.Routes[0]
	if s.P10 != bill.Total-500 || s.P50 != bill.Total+500 || s.P90 != bill.Total+3*500 {
		t.Errorf("money %v, %v, %v about %v; storage follows the days", s.P10, s.P50, s.P90, bill.Total)
	}
	near(t, "expected money", float64(s.Mean-bill.Total), 500*(d.Mean-5), 25)
	if m := r.Spread.Drivers; len(m) != 1 || m[0].Name != "delivery of horn" || m[0].High-m[0].Low < 4*500 {
		t.Errorf("%+v", m)
	}
	if m := r.Spread.Days; len(m) != 1 || m[0].Name != "delivery of horn" || m[0].Low > 4 || m[0].High < 8 {
		t.Errorf("%+v", m)
	}
}

// twoRisks may each turn out bad with one half and go together.
func twoRisks(rho float64) Input {
	in := input(verdicts{"weld": yes})
	m := eur(10000)
	for _, id := range []string{"R1", "R2"} {
		in.Job.Risks = append(in.Job.Risks, job.Risk{ID: id, Chance: 0.5, Low: m, Likely: m, High: m, Factor: "damage", Together: unit.Frac(rho)})
	}
	return in
}

// Two risks of one half each are both bad with 1/4 + asin(rho) / 2 pi (Sheppard
// 1899, the quadrant of the bivariate normal distribution): in the table of states
// and in the draws. With rho 0 that is 1/4.
func TestRisksGoTogether(t *testing.T) {
	for _, rho := range []float64{0.3, 0.7, 0.95} {
		in := twoRisks(rho)
		want := 0.25 + math.Asin(rho)/(2*math.Pi)
		f := &drawing{value: -1, salvage: -1, in: in, risks: in.Job.Risks, factors: []string{"damage"}}
		near(t, "both bad, in the table", f.decision().prior[3], want, 2e-3)
		near(t, "none bad, in the table", f.decision().prior[0], want, 2e-3)
		r, _ := Routes(in)
		s := r.Spread.Routes[0]
		near(t, "expected money", float64(s.Mean), float64(r.Routes[0].Bill.Total)+10000, 200)
		base := r.Routes[0].Bill.Total
		both := 0.0
		if s.P90 == base+20000 {
			both = 1
		}
		if both != 1 || s.P10 != base {
			t.Errorf("rho %g: %+v", rho, s)
		}
	}
	in := twoRisks(0.5)
	f := &drawing{value: -1, salvage: -1, in: in, risks: in.Job.Risks[:1], factors: []string{"damage"}}
	near(t, "one risk alone keeps its chance", f.decision().prior[1], 0.5, 1e-9)
}

// Law: every risk keeps its chance whatever others it hangs together with, and one that hangs
// together with none is bad as often where the others are as where they are not. The three in every
// order, with the one apart in the middle, first and last.
func TestEachRiskKeepsItsChance(t *testing.T) {
	for apart := range 3 {
		d := &drawing{value: -1, salvage: -1, in: twoRisks(0.5), factors: []string{"damage"}}
		for k, chance := range []unit.Frac{0.25, 0.5, 0.875} {
			r := job.Risk{Chance: chance, Factor: "damage", Together: 0.5}
			if k == apart {
				r.Together = 0
			}
			d.risks = append(d.risks, r)
		}
		prior := d.decision().prior
		sum, two := 0.0, 0.0
		for s, p := range prior {
			sum += p
			if bad := s>>apart&1 == 1; bad {
				near(t, "apart from the others", p, float64(d.risks[apart].Chance)*(p+prior[s&^(1<<apart)]), 1e-12)
			}
			if s|1<<apart == 7 {
				two += p
			}
		}
		near(t, "all states together", sum, 1, 1e-6)
		together := 1.0
		for k, r := range d.risks {
			bad := 0.0
			for s, p := range prior {
				if s>>k&1 == 1 {
					bad += p
				}
			}
			near(t, "chance", bad, float64(r.Chance), 1e-6)
			if k != apart {
				together *= float64(r.Chance)
			}
		}
		if two < together+0.01 {
			t.Errorf("two that hang together are both bad in %g, and would be in %g if they did not", two, together)
		}
	}
	whole := &drawing{risks: []job.Risk{{Chance: 0.5, Together: 1}}}
	if whole.badAt(0, 0.5) != 1 || whole.badAt(0, -0.5) != 0 {
		t.Error("a risk that hangs on its factor alone is not settled by it")
	}
}

// Law: a line that goes with a risk is dearer where the risk is bad, and its mean
// over both states is its mean.
func TestLineGoesWithRisk(t *testing.T) {
	in := twoRisks(0.6)
	in.Job.Risks = in.Job.Risks[:1]
	in.Shop.Spreads = []shop.Spread{{ID: "h", On: "labour", Low: 0.8, High: 1.6, Means: "ends", Factor: "damage", Together: 0.6}}
	d := &drawing{value: -1, salvage: -1, in: in, risks: in.Job.Risks, factors: []string{"damage"}}
	d.add("L-alu", in.Shop.Spreads[0])
	c := d.commons()
	if len(c) != 1 || c[0].mean[1][0] < c[0].mean[0][0]+0.1 {
		t.Fatalf("%+v", c)
	}
	near(t, "mean", c[0].weight[0]*c[0].mean[0][0]+c[0].weight[1]*c[0].mean[1][0], 3.4/3, 1e-3)
}

// What moves the days and what moves the money stand in the order of how much they do; a line that is not
// on the route and a risk that does not concern it move nothing.
func TestDriversStandInOrder(t *testing.T) {
	in := input(verdicts{"S1": yes})
	in.Shop.Calendar.Days = []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}
	for i := range in.Body.Parts {
		if p := &in.Body.Parts[i]; p.ID == "horn" {
			p.Delivery, p.DeliveryLow, p.DeliveryHigh = unit.Some(unit.Minutes(4*1440)), 2*1440, 9*1440
		}
	}
	in.Shop.Storage = eur(500)
	in.Shop.Spreads = []shop.Spread{{ID: "h", On: "labour", Low: 0.5, High: 2, Means: "ends"}, {ID: "p", On: "parts", Low: 0.9, High: 1.1, Means: "ends"}, {ID: "m", On: "materials", Low: 0.5, High: 2, Means: "ends"}}
	m := eur(30000)
	in.Job.Risks = []job.Risk{{ID: "R1", Text: "It runs on", Chance: 0.5, Low: m, Likely: m, High: m}, {ID: "R2", Chance: 0.5, Low: m, Likely: m, High: m, Spared: []body.TreatmentKind{body.SectionOff}}}
	for _, minutes := range []unit.Minutes{30, 2000, 9000} {
		for i := range in.Body.Treatments {
			if tr := &in.Body.Treatments[i]; tr.ID == "section" {
				tr.Steps[0].Fixed = minutes
			}
		}
		r, _ := Routes(in)
		var names []string
		titles := map[string]string{"L-alu": "alu", "P-horn": "horn", "R1": "R1: It runs on", "delivery of horn": "delivery of horn"}
		for k, x := range r.Spread.Drivers {
			names = append(names, x.Name)
			if x.Title != titles[x.Name] {
				t.Errorf("%s is called %q", x.Name, x.Title)
			}
			if last := r.Spread.Drivers[max(0, k-1)]; max(x.High-x.Low, x.Low-x.High) > max(last.High-last.Low, last.Low-last.High) {
				t.Errorf("%v min: %+v after %+v", minutes, x, last)
			}
		}
		slices.Sort(names)
		if got := strings.Join(names, ", "); got != "L-alu, P-horn, R1, delivery of horn" {
			t.Errorf("%v min: money is moved by %s", minutes, got)
		}
		for k, x := range r.Spread.Days {
			if last := r.Spread.Days[max(0, k-1)]; x.High-x.Low > last.High-last.Low || x.Title != titles[x.Name] {
				t.Errorf("%v min: %+v after %+v", minutes, x, last)
			}
		}
		if first := map[unit.Minutes]string{30: "delivery of horn", 9000: "L-alu"}[minutes]; first != "" && r.Spread.Days[0].Name != first {
			t.Errorf("%v min: days are moved by %+v", minutes, r.Spread.Days)
		}
		if minutes == 2000 && len(r.Spread.Days) != 2 {
			t.Errorf("%v min: days are moved by %+v", minutes, r.Spread.Days)
		}
	}
}
