package compare

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// tree is a two-stage decision worked out in fractions, sharing nothing with the draws but
// the bills: every way to treat the findings, every state of the risks with its chance, what
// each way then costs, and the best choice before and after what a look shows.
type tree struct {
	in     Input
	ways   []way
	states int
}

type way struct {
	key        string
	items      []plan.Item
	net, gross *big.Rat
	at         []bool // by risk: it matters on this way
	waits      []int  // risks that settle its open points
	unsettled  bool   // an open point to which nobody gave a chance
}

// smallRisks is an invented job: one or two findings, up to four treatments each of which one
// may wait for a better measurement, one to three risks of fixed amounts, some of which bar, a
// tax, and a rule of total loss with or without it.
func smallRisks(seed uint64) Input {
	rng := rand.New(rand.NewPCG(seed, 151))
	one := func() verdicts {
		v := verdicts{"cast": yes}
		for _, k := range []string{"weld", "plate", "S1"} {
			if rng.IntN(4) > 0 {
				v[k] = yes
			}
		}
		if rng.IntN(3) == 0 {
			v["weld"], v["plate"] = not, yes
		}
		if _, ok := v["weld"]; !ok {
			v["plate"] = yes
		}
		return v
	}
	findings := []verdicts{one()}
	if rng.IntN(2) == 0 {
		findings = append(findings, one())
	}
	in := input(findings...)
	in.Job.ID = fmt.Sprint("tree ", seed)
	in.Body.Treatments[1].Steps[0].Fixed = unit.Minutes(30 + rng.IntN(120))
	if rng.IntN(3) == 0 {
		for i := range in.Decide.Findings {
			in.Decide.Findings[i].Options = slices.DeleteFunc(in.Decide.Findings[i].Options, isCast)
		}
	}
	in.Job.Vehicle.Value, in.Job.Vehicle.Salvage = eur(unit.Minor(100*(2000+rng.IntN(4000)))), eur(unit.Minor(100*rng.IntN(1000)))
	if rate := []unit.Frac{0, 0.2, 0.25}[rng.IntN(3)]; rate > 0 {
		in.Shop.Taxes = []shop.Tax{{ID: "vat", Rate: rate, On: []shop.AmountKind{"labour", "parts", "materials", "sublet", "storage"}}}
	}
	in.Shop.TotalLoss[0].Percent = []unit.Frac{0.1, 0.25, 0.5, 0.75}[rng.IntN(4)]
	in.Shop.TotalLoss[0].WithTax = rng.IntN(2) == 0
	if rng.IntN(4) == 0 {
		in.Shop.TotalLoss[0].Kind, in.Shop.TotalLoss[0].Operator = "formula", ">"
	}
	for k := range 1 + rng.IntN(3) {
		m := eur(unit.Minor(100 * (1 + rng.IntN(900))))
		r := job.Risk{ID: fmt.Sprint("R", k+1), About: fmt.Sprint("F", 1+rng.IntN(len(findings))), Chance: unit.Frac(rng.IntN(20)+1) / 25, Low: m, Likely: m, High: m, Bars: rng.IntN(2) == 0}
		if rng.IntN(4) == 0 {
			r.About = ""
		}
		for _, t := range []body.TreatmentKind{body.Weld, body.WeldBacking, body.SectionOff, body.ReplaceCasting} {
			if rng.IntN(3) == 0 || t == body.ReplaceCasting && rng.IntN(3) > 0 {
				r.Spared = append(r.Spared, t)
			}
		}
		if rng.IntN(2) == 0 {
			r.Look = &job.Look{Name: "look", Minutes: 30, Skill: "alu", Finds: 0.5 + unit.Frac(rng.IntN(6))/10, False: unit.Frac(rng.IntN(5)) / 10}
		}
		in.Job.Risks = append(in.Job.Risks, r)
	}
	return in
}

func newTree(t *testing.T, in Input) tree {
	x := tree{in: in, states: 1 << len(in.Job.Risks)}
	f := newFinder(in)
	for _, chosen := range [][]action{nil, {{line: "S1", casting: "front"}}, {{casting: "front"}}} {
		covered := map[int]int{}
		var items []plan.Item
		used := true
		for a, act := range chosen {
			it, _, refusal := f.cover(act, a, covered)
			used = used && len(it.Findings) > 0 && refusal == "" && !it.Open && slices.Contains(f.actions(), act)
			items = append(items, it)
		}
		if !used {
			continue
		}
		mixes := [][]plan.Item{items}
		for k := range f.wards {
			if _, ok := covered[k]; ok {
				continue
			}
			var next [][]plan.Item
			for _, o := range f.wards[k].options {
				if o.kind == body.SectionOff || o.kind == body.ReplaceCasting || o.verdict != yes && o.verdict != not {
					continue
				}
				for _, it := range f.items(&f.wards[k], o.kind) {
					it.Open = o.verdict == not
					for _, m := range mixes {
						next = append(next, append(slices.Clip(m), it))
					}
				}
			}
			mixes = next
		}
		for _, m := range mixes {
			x.add(f, plan.Merge(m))
		}
	}
	return x
}

func (x *tree) add(f *finder, items []plan.Item) {
	p, _ := plan.Build(f.planInput(items))
	b, _ := cost.Price(p, f.in.Body, f.in.Shop, f.in.Job)
	w := way{key: key(items), items: items, net: whole(b.Net), gross: whole(b.Total)}
	var open []string
	for _, it := range items {
		if it.Open {
			open = append(open, names(it.Findings)...)
		}
	}
	for _, name := range open {
		k := slices.IndexFunc(x.in.Job.Risks, func(r job.Risk) bool { return r.About == name })
		w.unsettled = w.unsettled || k < 0
		w.waits = append(w.waits, k)
	}
	for _, r := range x.in.Job.Risks {
		at, spared := r.About == "" || slices.Contains(open, r.About), false
		for _, it := range items {
			saves := slices.Contains(r.Spared, it.Kind)
			spared = spared || r.About == "" && saves
			at = at || r.About != "" && slices.Contains(it.Findings, job.FindingID(r.About)) && !saves
		}
		w.at = append(w.at, at && !spared)
	}
	if !w.unsettled {
		x.ways = append(x.ways, w)
	}
}

func whole(m unit.Minor) *big.Rat { return new(big.Rat).SetInt64(int64(m)) }

func frac(f unit.Frac) *big.Rat {
	return new(big.Rat).SetFrac64(int64(math.Round(float64(f)*1e6)), 1e6)
}

func plus(a, b *big.Rat) *big.Rat  { return new(big.Rat).Add(a, b) }
func times(a, b *big.Rat) *big.Rat { return new(big.Rat).Mul(a, b) }
func less1(a *big.Rat) *big.Rat    { return new(big.Rat).Sub(big.NewRat(1, 1), a) }

func (x tree) prior(s int) *big.Rat {
	if t := x.in.Job.Risks[0].Together; t > 0 {
		return new(big.Rat).SetFloat64(together(x.in.Job.Risks, s, float64(t)))
	}
	p := big.NewRat(1, 1)
	for k, r := range x.in.Job.Risks {
		c := frac(r.Chance)
		if s>>k&1 == 0 {
			c = less1(c)
		}
		p = times(p, c)
	}
	return p
}

// together is the chance of a state where all risks are of one factor and any two of them go
// together by the correlation t: the product over the factor, integrated by Simpson's rule; with
// t = 1 a less likely risk is only bad where every likelier one is.
func together(risks []job.Risk, s int, t float64) float64 {
	if t >= 1 {
		low, high := 1.0, 0.0
		for k, r := range risks {
			if s>>k&1 == 1 {
				low = min(low, float64(r.Chance))
			} else {
				high = max(high, float64(r.Chance))
			}
		}
		return max(0, low-high)
	}
	const n, reach = 4000, 9.0
	sum := 0.0
	for i := range n + 1 {
		z := -reach + 2*reach*float64(i)/n
		p := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
		for k, r := range risks {
			bad := lower((math.Sqrt(t)*z - upper(float64(r.Chance))) / math.Sqrt(1-t))
			if s>>k&1 == 0 {
				bad = 1 - bad
			}
			p *= bad
		}
		switch {
		case i == 0 || i == n:
		case i%2 == 1:
			p *= 4
		default:
			p *= 2
		}
		sum += p * 2 * reach / n / 3
	}
	return sum
}

// lower is the share of normal numbers below z; upper is the number that this share lies above.
func lower(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

func upper(share float64) float64 { return math.Sqrt2 * math.Erfcinv(2*share) }

// onAll says that a tax is on what an amount with tax is made of.
func onAll(t shop.Tax) bool {
	return slices.Contains(t.On, "labour") && slices.Contains(t.On, "parts") && slices.Contains(t.On, "materials")
}

// widerRisks is smallRisks with storage, taxes on some kinds of line only, two at once, a rule of
// total loss now with and now without tax, and risks that go together, also wholly.
func widerRisks(seed uint64) Input {
	in := smallRisks(seed + 5000)
	rng := rand.New(rand.NewPCG(seed, 152))
	in.Job.ID = fmt.Sprint("wider tree ", seed)
	in.Shop.Storage = eur(unit.Minor(100 * (1 + rng.IntN(40))))
	in.Shop.Taxes = nil
	for k := range 1 + rng.IntN(2) {
		tax := shop.Tax{ID: fmt.Sprint("tax", k), Rate: []unit.Frac{0.1, 0.2, 0.25}[rng.IntN(3)]}
		for _, kind := range []shop.AmountKind{"labour", "parts", "materials", "storage", "sublet"} {
			if rng.IntN(4) > 0 {
				tax.On = append(tax.On, kind)
			}
		}
		if len(tax.On) > 0 {
			in.Shop.Taxes = append(in.Shop.Taxes, tax)
		}
	}
	in.Shop.TotalLoss[0].WithTax = seed%2 == 0
	if t := []unit.Frac{0, 0.3, 0.7, 1}[rng.IntN(4)]; t > 0 && len(in.Job.Risks) > 1 {
		for k := range in.Job.Risks {
			in.Job.Risks[k].Factor, in.Job.Risks[k].Together = "damage", t
		}
	}
	return in
}

// possible says that nothing bars a way in a state and all that it waits for turned out well.
func (x tree) possible(w way, s int) bool {
	for k, r := range x.in.Job.Risks {
		if s>>k&1 == 1 && (w.at[k] && r.Bars || slices.Contains(w.waits, k)) {
			return false
		}
	}
	return true
}

// money is the net and gross money of a way in a state.
func (x tree) money(w way, s int) (net, gross *big.Rat) {
	add := func(n, g *big.Rat, bars bool) (*big.Rat, *big.Rat, bool) {
		tax, barred := big.NewRat(1, 1), false
		for _, t := range x.in.Shop.Taxes {
			if onAll(t) {
				tax = plus(tax, frac(t.Rate))
			}
		}
		for k, r := range x.in.Job.Risks {
			if s>>k&1 == 1 && w.at[k] && (r.Bars || !bars) {
				g = plus(g, whole(r.Likely.Minor))
				n = plus(n, new(big.Rat).Quo(whole(r.Likely.Minor), tax))
				barred = barred || r.Bars
			}
		}
		return n, g, barred
	}
	net, gross, barred := add(w.net, w.gross, false)
	if !barred {
		return net, gross
	}
	var n, g *big.Rat
	for _, o := range x.ways {
		if x.possible(o, s) {
			if on, og := x.money(o, s); g == nil || og.Cmp(g) < 0 {
				n, g = on, og
			}
		}
	}
	if g == nil {
		g = whole(x.in.Job.Vehicle.Value.Minor - x.in.Job.Vehicle.Salvage.Minor)
		n = g
	}
	net, gross, _ = add(n, g, true)
	return net, gross
}

func (x tree) lost(net, gross *big.Rat) bool {
	rule := x.in.Shop.TotalLoss[0]
	left, right := net, times(whole(x.in.Job.Vehicle.Value.Minor), frac(rule.Percent))
	if rule.WithTax {
		left = gross
	}
	if rule.Kind == "formula" {
		left, right = plus(left, whole(x.in.Job.Vehicle.Salvage.Minor)), whole(x.in.Job.Vehicle.Value.Minor)
	}
	return left.Cmp(right) > 0 || left.Cmp(right) == 0 && rule.Operator == ">="
}

// best is the least expected money where the looks of a set are taken first: all shows that
// could come, each with the ways that may be taken on it.
func (x tree) best(set []int, perfect bool) *big.Rat {
	sum := new(big.Rat)
	shows := 1 << len(set)
	for g := range shows {
		var least *big.Rat
		for _, w := range x.ways {
			ok := true
			for _, k := range w.waits {
				i := slices.Index(set, k)
				ok = ok && (perfect || i >= 0 && g>>i&1 == 0)
			}
			if !ok {
				continue
			}
			c := new(big.Rat)
			for s := range x.states {
				p := x.prior(s)
				for i, k := range set {
					show := new(big.Rat)
					switch bad := s>>k&1 == 1; {
					case perfect && bad:
						show = big.NewRat(1, 1)
					case perfect:
					case bad:
						show = frac(x.in.Job.Risks[k].Look.Finds)
					default:
						show = frac(x.in.Job.Risks[k].Look.False)
					}
					if g>>i&1 == 0 {
						show = less1(show)
					}
					p = times(p, show)
				}
				_, gross := x.money(w, s)
				c = plus(c, times(p, gross))
			}
			if least == nil || c.Cmp(least) < 0 {
				least = c
			}
		}
		if least == nil {
			return nil
		}
		sum = plus(sum, least)
	}
	return sum
}

func number(r *big.Rat) float64 { f, _ := r.Float64(); return f }

// judge holds the program's draws and looks against the tree.
func (x tree) judge(t *testing.T, name string, s *Spread, routes []Route) (told, barred int) {
	for _, r := range s.Routes {
		k := slices.IndexFunc(routes, func(o Route) bool { return o.ID == r.Route })
		w := slices.IndexFunc(x.ways, func(o way) bool { return o.key == key(routes[k].Items) })
		if w < 0 {
			t.Errorf("%s: %s is none of the ways", name, r.Route)
			continue
		}
		mean, square, loss := 0.0, 0.0, 0.0
		for st := range x.states {
			net, gross := x.money(x.ways[w], st)
			p, m := number(x.prior(st)), number(gross)
			mean, square = mean+p*m, square+p*m*m
			if x.lost(net, gross) {
				loss += p
			}
			if !x.possible(x.ways[w], st) {
				barred++
			}
		}
		told++
		sd := math.Sqrt(max(0, square-mean*mean) / float64(s.Draws))
		if math.Abs(float64(r.Mean)-mean) > 5*sd+1 {
			t.Errorf("%s, %s: expected %s, by the tree %.2f, standard error %.2f", name, r.Route, r.Mean.Decimal(), mean/100, sd/100)
		}
		if math.Abs(r.Loss-loss) > 5*math.Sqrt(loss*(1-loss)/float64(s.Draws))+1e-9 {
			t.Errorf("%s, %s: total loss with %.4f, by the tree %.4f", name, r.Route, r.Loss, loss)
		}
	}
	before := x.best(nil, false)
	if before == nil {
		return told, barred
	}
	gain := func(set []int, perfect bool) float64 {
		return number(new(big.Rat).Sub(before, x.best(set, perfect)))
	}
	var all []int
	for k := range x.in.Job.Risks {
		all = append(all, k)
	}
	if g := gain(all, true); math.Abs(g-float64(s.Perfect)) > 1 {
		t.Errorf("%s: to know all is worth %s, by the tree %.2f", name, s.Perfect.Decimal(), g/100)
	}
	looks := 0
	for _, l := range s.Looks {
		var set []int
		for _, id := range l.Risks {
			set = append(set, slices.IndexFunc(x.in.Job.Risks, func(r job.Risk) bool { return r.ID == id }))
		}
		if len(set) == 1 {
			looks++
		}
		if g := gain(set, false); math.Abs(g-float64(l.Gain)) > 1 {
			t.Errorf("%s: to look at %v is worth %s, by the tree %.2f", name, l.Risks, l.Gain.Decimal(), g/100)
		}
	}
	for _, r := range x.in.Job.Risks {
		if r.Look != nil {
			looks--
		}
	}
	if looks != 0 {
		t.Errorf("%s: %d looks are not weighed", name, -looks)
	}
	return told, barred
}

// Against decision trees in fractions: what every route costs on average, how often it is a
// total loss by a rule with or without tax, and what each look is worth.
func TestRisksAgainstDecisionTreesSeeds(t *testing.T) {
	told, barred := 0, 0
	of := draws(8, 1200)
	for n := range uint64(of) {
		seed := n / 2
		in := smallRisks(seed)
		if n%2 == 1 {
			in = widerRisks(seed)
		}
		r, _ := Routes(in)
		if r.Spread == nil || len(r.Spread.Routes) == 0 {
			continue
		}
		a, b := newTree(t, in).judge(t, in.Job.ID, r.Spread, r.Routes)
		told, barred = told+a, barred+b
	}
	if told < of || barred < of {
		t.Errorf("only %d routes and %d barred states were judged", told, barred)
	}
}

func isCast(o decide.Option) bool { return o.Kind == body.ReplaceCasting }

// By hand: a weld of 90.00 fails with 0.4, which loses 100.00, and a backing plate of 150.00
// then serves, though the weld beats it in money and days: 0.6 x 90 + 0.4 x 250 = 154. The plate
// alone is 150; to know first is worth 150 - (0.6 x 90 + 0.4 x 150) = 36. With a tax of a quarter
// on all, of a rule without tax only the net counts: 112.50 is 90 net, and 150 + 80 after the
// failure; 0.4 of the draws are above 200 of a value of 1000.
func TestBarredRouteGoesOnByADominatedOne(t *testing.T) {
	in := input(verdicts{"weld": yes, "plate": yes})
	m := eur(10000)
	in.Job.Risks = []job.Risk{{ID: "R1", About: "F1", Chance: 0.4, Low: m, Likely: m, High: m, Bars: true, Spared: []body.TreatmentKind{body.WeldBacking},
		Look: &job.Look{Name: "penetrant", Minutes: 20, Skill: "alu", Finds: 1}}}
	r, _ := Routes(in)
	near(t, "weld", float64(r.Spread.Routes[0].Mean), 15400, 200)
	if l := r.Spread.Looks[0]; l.Gain != 3600 || l.Price != 2000 || !l.Worth {
		t.Errorf("%+v", l)
	}
	in.Shop.Taxes = []shop.Tax{{ID: "vat", Rate: 0.25, On: []shop.AmountKind{"labour", "parts", "materials"}}}
	in.Job.Vehicle.Value, in.Job.Vehicle.Salvage = eur(100000), eur(0)
	in.Shop.TotalLoss[0].Percent = 0.2
	for _, c := range []struct {
		amount unit.Minor
		loss   float64
	}{{10000, 0.4}, {6249, 0}, {6250, 0.4}} { // 150 + 62.50 / 1.25 = 200
		m := eur(c.amount)
		in.Job.Risks[0].Low, in.Job.Risks[0].Likely, in.Job.Risks[0].High = m, m, m
		r, _ = Routes(in)
		near(t, "total loss", r.Spread.Routes[0].Loss, c.loss, 0.02)
	}
}

// Law: a risk that turned out well leaves the money of a route as its bill, with no look
// offered; one that turned out badly and bars takes out what it concerns; a look taken while
// the risk is open is told.
func TestSettledRiskIsClosed(t *testing.T) {
	in := input(verdicts{"weld": yes, "plate": yes, "cast": yes})
	m := eur(60000)
	in.Job.Findings[0].Look = "I-2"
	in.Job.Looks = []job.Inspection{{ID: "I-2", Method: "penetrant", On: unit.Date{Year: 2026, Month: 3, Day: 3}}}
	in.Job.Risks = []job.Risk{{ID: "R1", About: "F1", Chance: 0.4, Low: m, Likely: m, High: m, Bars: true, Spared: []body.TreatmentKind{body.WeldBacking, body.ReplaceCasting},
		On: unit.Date{Year: 2026, Month: 3, Day: 2}, Look: &job.Look{Name: "penetrant", Minutes: 20, Skill: "alu", Finds: 1}}}
	noted := func(notes []diag.Note) bool {
		return slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "compare.risk-not-settled" })
	}
	r, notes := Routes(in)
	if r.Spread.Routes[0].Mean == r.Routes[0].Bill.Total || len(r.Spread.Looks) != 1 || !noted(notes) {
		t.Errorf("open: %+v, %+v, %v", r.Spread.Routes[0], r.Spread.Looks, notes)
	}
	in.Job.Risks[0].Settled, in.Job.Risks[0].SettledBy = "well", "I-2"
	r, notes = Routes(in)
	s := r.Spread.Routes[0]
	if r.Best != "weld" || s.Mean != 9000 || s.P90 != 9000 || s.Loss != 0 || len(r.Spread.Looks) != 0 || noted(notes) || len(r.Spread.Left) != 1 {
		t.Errorf("well: %s %+v, %+v, %v", r.Best, s, r.Spread, notes)
	}
	in.Job.Risks[0].Settled, in.Job.Risks[0].SettledBy = "badly", "F1"
	r, _ = Routes(in)
	if best := r.Routes[0]; best.Items[0].Kind != body.WeldBacking || r.Spread.Routes[0].Mean != 15000 || len(r.Spread.Looks) != 0 {
		t.Errorf("badly: %s by %s", r.Best, best.Items[0].Kind)
	}
	in.Job.Risks[0].About = "" // it bars every route but a new casting
	in.Job.Risks[0].Spared = []body.TreatmentKind{body.ReplaceCasting}
	r, _ = Routes(in)
	if w := route(t, r, "weld"); r.Best != "new-casting" || w.Feasible || w.Excluded == "" || len(r.Spread.Routes) != 1 {
		t.Errorf("badly, of the whole job: %s, %+v", r.Best, w.Excluded)
	}
}

// Constructed: the search for a mix is cut short, so that the least money is only the least
// found, and says by how much another may be cheaper.
func TestLeastMoneyTellsTheGap(t *testing.T) {
	f := newFinder(randomShared(3, 4))
	routes, _, _ := f.plan(f.candidates(nil))
	f.unseen = routes[0].Bill.Total * 9 / 10
	res := rank(routes)
	f.tellGap(&res)
	if b := res.Routes[0].Because; !strings.Contains(b, "(10.0 %) is not excluded") || strings.Contains(b, leastOfAll) {
		t.Error(b)
	}
	f.unseen = 0
	f.tellGap(&res)
	if b := res.Routes[0].Because; !strings.Contains(b, leastOfAll) {
		t.Error(b)
	}
}
