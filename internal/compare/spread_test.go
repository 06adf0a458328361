package compare

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Goferbroke, drill or sell with a survey (Hillier & Lieberman, Introduction to
// Operations Research, decision analysis): drill 700 or -100, sell 90; oil with
// 1/4. Drill 100 against 90; perfect information worth 142.5; the survey, right
// with 0.6 and 0.8, worth 53. Costs are payoffs with the sign turned.
func TestValueOfLookingGoferbroke(t *testing.T) {
	d := decision{cost: [][]float64{{-700, 100}, {-90, -90}}, prior: []float64{0.25, 0.75}}
	all := func(int, int) bool { return true }
	before, taken, _ := d.expected(blind(2), all)
	if before != -100 || taken[0] != 0 {
		t.Errorf("expected %g by route %v, want -100 by drilling", before, taken)
	}
	known, _, _ := d.expected(perfect(2), all)
	near(t, "value of perfect information", before-known, 142.5, 1e-9)
	after, taken, chance := d.expected([][]float64{{0.6, 0.2}, {0.4, 0.8}}, all)
	near(t, "value of the survey", before-after, 53, 1e-9)
	near(t, "chance of a favourable survey", chance[0], 0.3, 1e-9)
	if taken[0] != 0 || taken[1] != 1 {
		t.Errorf("taken %v, want drill if favourable, else sell", taken)
	}
}

// risky is a weld that waits for a better measurement against a new casting that
// may start now: 90.00 and 2,280.00.
func risky(finds, false float64) Input {
	in := input(verdicts{"weld": not, "cast": yes})
	m := eur(10000)
	in.Job.Risks = []job.Risk{{ID: "R1", About: "F1", Chance: 0.4, Low: m, Likely: m, High: m, Bars: true, Spared: []body.TreatmentKind{body.ReplaceCasting},
		Look: &job.Look{Name: "penetrant", Minutes: 60, Skill: "alu", Finds: unit.Frac(finds), False: unit.Frac(false)}}}
	return in
}

// Constructed by hand. A look that never errs: 0.6 x 90 + 0.4 x 2280 = 966, so
// 1,314.00 is saved and the route changes in 6 of 10 cases. One that errs in one
// of ten: no sign with 0.58, of it 0.04 bad, which then costs 2280 + 100: 48.6 +
// 95.2 + 0.42 x 2280 = 1101.4, so 1,178.60.
func TestLookFirst(t *testing.T) {
	for _, c := range []struct {
		finds, false float64
		gain         int64
		changes      float64
	}{{1, 0, 131400, 0.6}, {0.9, 0.1, 117860, 0.58}} {
		r, _ := Routes(risky(c.finds, c.false))
		if len(r.Spread.Looks) != 1 {
			t.Fatalf("looks %+v, left out %v", r.Spread.Looks, r.Spread.Left)
		}
		l := r.Spread.Looks[0]
		near(t, "gain", float64(l.Gain), float64(c.gain), 1)
		near(t, "changes", l.Changes, c.changes, 1e-9)
		if l.Price != 6000 || !l.Worth || !strings.Contains(l.Text, "Spend 60 minutes before deciding: penetrant for R1") || !strings.Contains(l.Text, "in 6 of 10 cases") {
			t.Errorf("%+v", l)
		}
		near(t, "perfect", float64(r.Spread.Perfect), 131400, 1)
	}
}

// Constructed: labour between half and twice the plan, likely as planned. Above
// 1.2 times of it lies (2 - 1.2)^2 / (1.5 x 1) = 0.42667 of a triangle, which is
// where this vehicle is a total loss; its mean is 3.5/3 times 90.00, its middle
// 2 - sqrt(0.5 x 1.5 x 1), its tenths 0.5 + sqrt(0.1 x 1.5 x 0.5) and 2 - sqrt(0.15).
func TestSpreadOfOneRoute(t *testing.T) {
	in := input(verdicts{"weld": yes})
	in.Shop.Spreads = []shop.Spread{{ID: "h", On: "labour", Low: 0.5, High: 2, Means: "ends"}}
	in.Job.Vehicle.Value = eur(14400)
	in.Job.Vehicle.Salvage = eur(0)
	r, _ := Routes(in)
	s := r.Spread.Routes[0]
	near(t, "mean", float64(s.Mean), 9000*3.5/3, 40)
	near(t, "10 %", float64(s.P10), 9000*(0.5+math.Sqrt(0.075)), 60)
	near(t, "50 %", float64(s.P50), 9000*(2-math.Sqrt(0.75)), 60)
	near(t, "90 %", float64(s.P90), 9000*(2-math.Sqrt(0.15)), 60)
	near(t, "chance of total loss", s.Loss, 0.64/1.5, 4*s.LossStd)
	near(t, "standard error", s.LossStd, math.Sqrt(0.42667*0.57333/spreadDraws), 1e-4)
	if s.Best != 1 || len(r.Spread.Drivers) != 1 || r.Spread.Drivers[0].Name != "L-alu" {
		t.Errorf("%+v %+v", s, r.Spread.Drivers)
	}
	// The triangle from two thirds to twice the plan has its tenths at 0.87749 and 1.63485, as that from 1000 to 3000
	// about 1500 has them at 1316.2278 and 2452.2774, and its mean at 11/9.
	in.Shop.Spreads[0] = shop.Spread{ID: "h", On: "labour", Low: 1316.2278 / 1500, High: 2452.2774 / 1500, Means: "tenths"}
	r, _ = Routes(in)
	s = r.Spread.Routes[0]
	near(t, "10 % by tenths", float64(s.P10), 9000*1316.2278/1500, 60)
	near(t, "90 % by tenths", float64(s.P90), 9000*2452.2774/1500, 60)
	near(t, "mean by tenths", float64(s.Mean), 11000, 40)
}

// Laws: the same job gives the same figures; another job another seed; without
// spreads and risks nothing is told; an open route without a chance is left out
// by name.
func TestSpreadLaws(t *testing.T) {
	a, _ := Routes(risky(1, 0))
	b, _ := Routes(risky(1, 0))
	x, _ := json.Marshal(a.Spread)
	y, _ := json.Marshal(b.Spread)
	if string(x) != string(y) {
		t.Errorf("other figures the second time:\n%s\n%s", x, y)
	}
	in := risky(1, 0)
	in.Job.ID = "another"
	if c, _ := Routes(in); c.Spread.Seed == a.Spread.Seed {
		t.Error("another job has the same seed")
	}
	in.Job.Risks[0].About = ""
	in.Job.Risks[0].Look = nil
	c, _ := Routes(in)
	if len(c.Spread.Left) != 1 || c.Spread.Left[0] != "weld: nobody gave a chance for F1" || len(c.Spread.Looks) != 0 {
		t.Errorf("left out %v, looks %v", c.Spread.Left, c.Spread.Looks)
	}
	in.Job.Risks = nil
	if c, _ = Routes(in); c.Spread != nil {
		t.Errorf("a spread of nothing: %+v", c.Spread)
	}
}

// Constructed: in 0.4 of the draws the weld fails and costs the new casting and
// 100.00 more; so it is the cheapest in 0.6 of them and costs 1026.00 on average.
func TestBarredRouteGoesOnByAnother(t *testing.T) {
	r, _ := Routes(risky(1, 0))
	for _, s := range r.Spread.Routes {
		switch s.Route {
		case "weld":
			near(t, "weld", float64(s.Mean), 0.6*9000+0.4*238000, 4000)
			near(t, "weld is best", s.Best, 0.6, 4*s.BestStd)
		case "new-casting":
			if s.Mean != 228000 || s.P10 != 228000 || s.P90 != 228000 {
				t.Errorf("%+v", s)
			}
		}
	}
}

// Constructed: a repair of 90.00. The value of the vehicle lies between half and twice of 96.00, likely
// as it is, so that 90.00 is at least 75 % of it where it is at most 1.25 times that: 1 - 0.75^2 / 1.5 = 0.625.
// With salvage between half and twice of 30.00, 90.00 and salvage are 120.00 or more where it is at least as
// likely: 1 - 0.5 / 1.5. A repair that is barred in every draw costs the value less the salvage, on average
// 3.5 / 3 of each, and the look that shows it is weighed with the same.
func TestSpreadOfValueAndSalvage(t *testing.T) {
	value, salvage := shop.Spread{ID: "v", On: "value", Low: 0.5, High: 2, Means: "ends"}, shop.Spread{ID: "s", On: "salvage", Low: 0.5, High: 2, Means: "ends"}
	in := input(verdicts{"weld": yes})
	in.Shop.Spreads = []shop.Spread{value}
	in.Job.Vehicle.Value, in.Job.Vehicle.Salvage = eur(9600), eur(0)
	r, _ := Routes(in)
	near(t, "a total loss by the value", r.Spread.Routes[0].Loss, 0.625, 4*r.Spread.Routes[0].LossStd)
	in.Shop.Spreads = []shop.Spread{salvage}
	in.Shop.TotalLoss = []shop.LossRule{{ID: "p", Kind: "percentage", Operator: ">=", Percent: 0.0001}, {ID: "r", Kind: "formula", Operator: ">=", Applies: true}}
	in.Job.Vehicle.Value, in.Job.Vehicle.Salvage = eur(12000), eur(3000)
	r, _ = Routes(in)
	near(t, "a total loss by the salvage", r.Spread.Routes[0].Loss, 2.0/3, 4*r.Spread.Routes[0].LossStd)

	in.Shop.Spreads = []shop.Spread{value, salvage}
	in.Job.Vehicle.Value, in.Job.Vehicle.Salvage = eur(90000), eur(30000)
	in.Job.Risks = []job.Risk{{ID: "R", About: "F1", Chance: 1, Low: eur(0), Likely: eur(0), High: eur(0), Bars: true}}
	r, _ = Routes(in)
	near(t, "a lost vehicle", float64(r.Spread.Routes[0].Mean), 60000*3.5/3, 600)
	d := &drawing{in: in, value: -1, salvage: -1}
	d.vehicle()
	near(t, "a lost vehicle on average", d.lostOnAverage([]float64{3.5 / 3, 3.0 / 3}), 90000*3.5/3-30000, 1)
	d.in.Shop.Spreads = nil
	d = &drawing{in: d.in, value: -1, salvage: -1}
	if d.vehicle(); d.value >= 0 || d.salvage >= 0 || d.lostOnAverage(nil) != 60000 {
		t.Errorf("without spreads: %d %d %v", d.value, d.salvage, d.lostOnAverage(nil))
	}
}

// Lines, factors, risks, their amounts and waits are drawn apart from one another: no two of them go
// together by more than 5 standard errors of the correlation of so many draws.
func TestDrawnApart(t *testing.T) {
	flat := func() *line { return newLine(func(p float64) float64 { return p }) }
	d := &drawing{seed: 5, value: -1, salvage: -1, in: Input{Job: &job.State{}}, ids: []string{"a", "b", "c"}, lines: []*line{flat(), flat(), flat()}, factors: []string{"f", "g"},
		risks: []job.Risk{{ID: "R", Chance: 0.5}, {ID: "S", Chance: 0.5}, {ID: "T", Chance: 0.5}}, costs: []*line{flat(), flat(), flat()}, waits: []wait{{line: flat()}, {line: flat()}}}
	k := d.chunk()
	d.draw(k, 0)
	var all [][]float64
	all = append(append(append(append(all, k.values...), k.factors...), k.extra...), k.waits...)
	for _, bad := range k.bad {
		var x []float64
		for _, b := range bad {
			x = append(x, map[bool]float64{true: 1}[b])
		}
		all = append(all, x)
	}
	for w := range d.waits {
		if x := d.drawn(d.waits[w].line, d.waitStream(w)); !slices.Equal(x[:chunkDraws], k.waits[w]) {
			t.Errorf("wait %d is drawn anew as another", w)
		}
	}
	for i, l := range d.lines {
		if x := d.drawn(l, i); !slices.Equal(x[:chunkDraws], k.values[i]) {
			t.Errorf("line %d is drawn anew as another", i)
		}
	}
	for i, x := range all {
		for j, y := range all[:i] {
			mx, sx := moments(x)
			my, sy := moments(y)
			r := 0.0
			for n := range x {
				r += (x[n] - mx) * (y[n] - my) / sx / sy / float64(len(x))
			}
			if math.Abs(r) > 5/math.Sqrt(chunkDraws) {
				t.Errorf("%d and %d go together: %.2f", i, j, r)
			}
		}
	}
}
