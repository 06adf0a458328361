package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// plainDraws is a second, plain way to draw: numbers of the standard library, triangles by
// their closed inverse, every mix of treatments priced line by line in every draw. It tells
// the mean of each way, its standard error, and the share of total losses.
func plainDraws(x tree, n int, days bool) (mean, stderr, loss []float64) {
	rng := rand.New(rand.NewPCG(uint64(n), 77))
	triangle := func(u, a, m, b float64) float64 {
		switch {
		case b <= a:
			return m
		case u < (m-a)/(b-a):
			return a + math.Sqrt(u*(b-a)*(m-a))
		}
		return b - math.Sqrt((1-u)*(b-a)*(b-m))
	}
	bills, plans := make([]cost.Bill, len(x.ways)), make([]plan.Plan, len(x.ways))
	f := newFinder(x.in)
	for w := range x.ways {
		plans[w], _ = plan.Build(f.planInput(x.ways[w].items))
		bills[w], _ = cost.Price(plans[w], x.in.Body, x.in.Shop, x.in.Job)
	}
	tax, taxOn := 1.0, map[shop.AmountKind]float64{}
	for _, t := range x.in.Shop.Taxes {
		if onAll(t) {
			tax += float64(t.Rate)
		}
		for _, kind := range t.On {
			taxOn[kind] += float64(t.Rate)
		}
	}
	rule, v := x.in.Shop.TotalLoss[0], x.in.Job.Vehicle
	sum, square := make([]float64, len(bills)), make([]float64, len(bills))
	loss = make([]float64, len(bills))
	for range n {
		off, arrives := map[string]float64{}, map[body.PartID]float64{}
		common := rng.NormFloat64()
		// share is where a number lies among all of its kind, partly that of the factor.
		share := func(together unit.Frac) float64 {
			return lower(math.Sqrt(float64(together))*common + math.Sqrt(1-float64(together))*rng.NormFloat64())
		}
		state := 0
		var amount []float64
		for k, r := range x.in.Job.Risks {
			if share(r.Together) > 1-float64(r.Chance) {
				state |= 1 << k
			}
			amount = append(amount, triangle(rng.Float64(), float64(r.Low.Minor), float64(r.Likely.Minor), float64(r.High.Minor)))
		}
		labour := 1.0
		for _, s := range x.in.Shop.Spreads {
			m := triangle(share(s.Together), float64(s.Low), 1, float64(s.High))
			off[string(s.On)] = m
			if s.On == "labour" {
				labour = m
			}
		}
		for _, p := range x.in.Body.Parts {
			arrives[p.ID] = triangle(rng.Float64(), float64(p.DeliveryLow), float64(p.Delivery.Value), float64(p.DeliveryHigh))
		}
		gone := float64(v.Value.Minor - v.Salvage.Minor)
		net, gross := make([]float64, len(bills)), make([]float64, len(bills))
		onNet, onGross, found := gone, gone, false
		for w, b := range bills {
			for _, l := range b.Lines {
				m := float64(l.Sum)
				switch f, ok := off[string(l.Kind)]; {
				case l.Kind == "tax":
					continue
				case l.Kind == "storage" && days:
					m = float64(x.in.Shop.Storage.Minor) * float64(plainDays(plans[w], labour, arrives))
				case l.Kind == "parts" && ok: // each line by itself
					if _, drawn := off[l.ID]; !drawn {
						s := x.in.Shop.Spreads[slices.IndexFunc(x.in.Shop.Spreads, func(s shop.Spread) bool { return s.On == "parts" })]
						off[l.ID] = triangle(share(s.Together), float64(s.Low), 1, float64(s.High))
					}
					m *= off[l.ID]
				case ok:
					m *= f
				}
				net[w] += m
				gross[w] += m * (1 + taxOn[l.Kind])
			}
			for k := range amount {
				if state>>k&1 == 1 && x.ways[w].at[k] {
					net[w] += amount[k] / tax
					gross[w] += amount[k]
				}
			}
			if x.possible(x.ways[w], state) && (!found || gross[w] < onGross) {
				onNet, onGross, found = net[w], gross[w], true
			}
		}
		for w := range bills {
			without, with, barred := onNet, onGross, false
			for k, r := range x.in.Job.Risks {
				if state>>k&1 == 1 && x.ways[w].at[k] && r.Bars {
					without, with, barred = without+amount[k]/tax, with+amount[k], true
				}
			}
			if !barred {
				without, with = net[w], gross[w]
			}
			left, right := without, float64(v.Value.Minor)*float64(rule.Percent)
			if rule.WithTax {
				left = with
			}
			if rule.Kind == "formula" {
				left, right = left+float64(v.Salvage.Minor), float64(v.Value.Minor)
			}
			if left > right || left == right && rule.Operator == ">=" {
				loss[w] += 1 / float64(n)
			}
			sum[w], square[w] = sum[w]+with, square[w]+with*with
		}
	}
	for w := range bills {
		m := sum[w] / float64(n)
		mean, stderr = append(mean, m), append(stderr, math.Sqrt(max(0, square[w]/float64(n)-m*m)/float64(n)))
	}
	return mean, stderr, loss
}

// plainDays is the calendar days of a plan that one person works off in its order, from 8 to 16 h
// on weekdays from a Monday: steps take so many times their minutes, parts arrive so many minutes
// after the first morning.
func plainDays(p plan.Plan, labour float64, arrives map[body.PartID]float64) int {
	const open, shut = 480, 960
	works := func(day int) bool { return day%7 < 5 }
	day, minute := 0, open
	for _, s := range p.Steps {
		for _, r := range s.Awaits {
			at := open + int(math.Ceil(arrives[r.Part]-1e-9))
			if d, m := at/1440, at%1440; d > day || d == day && m > minute {
				day, minute = d, max(m, open)
			}
		}
		for left := int(math.Ceil(s.Minutes*labour - 1e-9)); left > 0; {
			if !works(day) || minute >= shut {
				day, minute = day+1, open
				continue
			}
			n := min(left, shut-minute)
			left, minute = left-n, minute+n
		}
	}
	return day + 1
}

// The draws against a second way to draw, over random small jobs with spreads of hours and
// prices and risks of uncertain amounts; every other one with storage by the days drawn, a delivery
// of uncertain time, taxes on some lines only, and hours, prices and risks of one factor.
func TestDrawsAgainstPlainDrawsSeeds(t *testing.T) {
	const n = 4000
	judged, stored := 0, 0
	of := draws(6, 300)
	var jobs []uint64
	for k := range uint64(of) {
		jobs = append(jobs, k)
	}
	for _, k := range []uint64{7, 34, 107, 111, 123, 178} { // by these alone a share without tax, or that of a factor, is found wrong
		if k >= uint64(of) {
			jobs = append(jobs, k)
		}
	}
	for _, k := range jobs {
		seed := k / 2
		in, wide := smallRisks(seed), k%2 == 1
		if wide {
			in = widerRisks(seed)
		}
		in.Shop.Spreads = []shop.Spread{{ID: "h", On: "labour", Low: 0.7, High: 1.9, Means: "ends"}, {ID: "p", On: "parts", Low: 0.9, High: 1.4, Means: "ends"}}
		if wide {
			in.Shop.Storage.Minor *= 5
			for i := range in.Shop.Spreads {
				in.Shop.Spreads[i].Factor, in.Shop.Spreads[i].Together = "damage", 0.5
			}
			for i := range in.Body.Parts {
				if p := &in.Body.Parts[i]; p.Delivery.Value > 0 {
					p.DeliveryLow, p.DeliveryHigh = p.Delivery.Value/2, 3*p.Delivery.Value
				}
			}
		}
		for k := range in.Job.Risks {
			r := &in.Job.Risks[k]
			r.Low.Minor, r.High.Minor = r.Likely.Minor/2, 3*r.Likely.Minor
		}
		res, _ := Routes(in)
		x := newTree(t, in)
		mean, stderr, loss := plainDraws(x, n, wide)
		for _, s := range res.Spread.Routes {
			k := slices.IndexFunc(res.Routes, func(o Route) bool { return o.ID == s.Route })
			w := slices.IndexFunc(x.ways, func(o way) bool { return o.key == key(res.Routes[k].Items) })
			if w < 0 {
				t.Fatalf("%s: %s is none of the ways", in.Job.ID, s.Route)
			}
			judged++
			if wide {
				stored++
			}
			near(t, fmt.Sprintf("%s, %s, mean", in.Job.ID, s.Route), float64(s.Mean), mean[w], 5.5*stderr[w]+0.002*mean[w])
			near(t, fmt.Sprintf("%s, %s, total loss", in.Job.ID, s.Route), s.Loss, loss[w], 5.5*math.Sqrt(loss[w]*(1-loss[w])/n)+6.0/n)
		}
	}
	if judged < of || 3*stored < of {
		t.Errorf("only %d routes were judged, %d with storage", judged, stored)
	}
}
