package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/cost"
	"fettle/internal/plan"
	"fettle/internal/shop"
)

// plainDraws is a second, plain way to draw: numbers of the standard library, triangles by
// their closed inverse, every mix of treatments priced line by line in every draw. It tells
// the mean of each way, its standard error, and the share of total losses.
func plainDraws(x tree, n int) (mean, stderr, loss []float64) {
	rng := rand.New(rand.NewPCG(uint64(n), 77))
	triangle := func(a, m, b float64) float64 {
		u := rng.Float64()
		switch {
		case b <= a:
			return m
		case u < (m-a)/(b-a):
			return a + math.Sqrt(u*(b-a)*(m-a))
		}
		return b - math.Sqrt((1-u)*(b-a)*(b-m))
	}
	bills := make([]cost.Bill, len(x.ways))
	f := newFinder(x.in)
	for w := range x.ways {
		p, _ := plan.Build(f.planInput(x.ways[w].items))
		bills[w], _ = cost.Price(p, x.in.Body, x.in.Shop, x.in.Job)
	}
	tax := 1.0
	for _, t := range x.in.Shop.Taxes {
		tax += float64(t.Rate)
	}
	rule, v := x.in.Shop.TotalLoss[0], x.in.Job.Vehicle
	sum, square := make([]float64, len(bills)), make([]float64, len(bills))
	loss = make([]float64, len(bills))
	for range n {
		off := map[string]float64{}
		state := 0
		var amount []float64
		for k, r := range x.in.Job.Risks {
			if rng.Float64() < float64(r.Chance) {
				state |= 1 << k
			}
			amount = append(amount, triangle(float64(r.Low.Minor), float64(r.Likely.Minor), float64(r.High.Minor)))
		}
		gone := float64(v.Value.Minor - v.Salvage.Minor)
		net := make([]float64, len(bills))
		onward, found := gone, false
		for w, b := range bills {
			for _, l := range b.Lines {
				s := slices.IndexFunc(x.in.Shop.Spreads, func(s shop.Spread) bool { return s.On == l.Kind })
				if _, ok := off[l.ID]; !ok && s >= 0 {
					off[l.ID] = triangle(float64(x.in.Shop.Spreads[s].Low), 1, float64(x.in.Shop.Spreads[s].High))
				}
				switch {
				case l.Kind == "tax":
				case s >= 0:
					net[w] += off[l.ID] * float64(l.Sum)
				default:
					net[w] += float64(l.Sum)
				}
			}
			for k := range amount {
				if state>>k&1 == 1 && x.ways[w].at[k] {
					net[w] += amount[k] / tax
				}
			}
			if x.possible(x.ways[w], state) && (!found || net[w]*tax < onward) {
				onward, found = net[w]*tax, true
			}
		}
		for w := range bills {
			gross, lost, barred := net[w]*tax, 0.0, false
			for k, r := range x.in.Job.Risks {
				if state>>k&1 == 1 && x.ways[w].at[k] && r.Bars {
					lost, barred = lost+amount[k], true
				}
			}
			without := net[w]
			if barred {
				gross, without = onward+lost, onward/tax+lost/tax
				if !found {
					without = onward + lost/tax
				}
			}
			left, right := without, float64(v.Value.Minor)*float64(rule.Percent)
			if rule.WithTax {
				left = gross
			}
			if rule.Kind == "formula" {
				left, right = left+float64(v.Salvage.Minor), float64(v.Value.Minor)
			}
			if left > right || left == right && rule.Operator == ">=" {
				loss[w] += 1 / float64(n)
			}
			sum[w], square[w] = sum[w]+gross, square[w]+gross*gross
		}
	}
	for w := range bills {
		m := sum[w] / float64(n)
		mean, stderr = append(mean, m), append(stderr, math.Sqrt(max(0, square[w]/float64(n)-m*m)/float64(n)))
	}
	return mean, stderr, loss
}

// The draws against a second way to draw, over random small jobs with spreads of hours and
// prices and risks of uncertain amounts.
func TestDrawsAgainstPlainDrawsSeeds(t *testing.T) {
	const n = 4000
	judged := 0
	of := draws(3, 150)
	for seed := range uint64(of) {
		in := smallRisks(seed)
		in.Shop.Spreads = []shop.Spread{{ID: "h", On: "labour", Low: 0.7, High: 1.9, Means: "ends"}, {ID: "p", On: "parts", Low: 0.9, High: 1.4, Means: "ends"}}
		for k := range in.Job.Risks {
			r := &in.Job.Risks[k]
			r.Low.Minor, r.High.Minor = r.Likely.Minor/2, 3*r.Likely.Minor
		}
		res, _ := Routes(in)
		x := newTree(t, in)
		mean, stderr, loss := plainDraws(x, n)
		for _, s := range res.Spread.Routes {
			k := slices.IndexFunc(res.Routes, func(o Route) bool { return o.ID == s.Route })
			w := slices.IndexFunc(x.ways, func(o way) bool { return o.key == key(res.Routes[k].Items) })
			if w < 0 {
				t.Fatalf("seed %d: %s is none of the ways", seed, s.Route)
			}
			judged++
			near(t, fmt.Sprintf("seed %d, %s, mean", seed, s.Route), float64(s.Mean), mean[w], 5.5*stderr[w]+0.002*mean[w])
			near(t, fmt.Sprintf("seed %d, %s, total loss", seed, s.Route), s.Loss, loss[w], 5.5*math.Sqrt(loss[w]*(1-loss[w])/n)+6.0/n)
		}
	}
	if judged < of {
		t.Errorf("only %d routes were judged", judged)
	}
}
