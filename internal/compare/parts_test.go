package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Every subset of a size, once, until there is one more than wanted.
func TestSubsetsOfASize(t *testing.T) {
	for n := range 6 {
		for size := 0; size <= n+1; size++ {
			for most := range 9 {
				var want [][]int
				for mask := range 1 << n {
					var set []int
					for i := range n {
						if mask>>i&1 == 1 {
							set = append(set, i)
						}
					}
					if len(set) == size {
						want = append(want, set)
					}
				}
				slices.SortFunc(want, func(a, b []int) int { return slices.Compare(a, b) })
				if got := subsets(nil, nil, 0, n, size, most); fmt.Sprint(got) != fmt.Sprint(want[:min(len(want), most+1)]) {
					t.Errorf("%d of %d, at most %d: %v of %v", size, n, most, got, want)
				}
			}
		}
	}
}

// A risk matters on a route where something that it is about is open, or treated in a way that it does
// not spare; one of the whole job unless an item spares it. Every combination.
func TestWhereARiskMatters(t *testing.T) {
	spared := []body.TreatmentKind{body.SectionOff}
	for _, about := range []string{"", "F1", "F2"} {
		for _, open := range []bool{false, true} {
			for _, kind := range []body.TreatmentKind{body.Weld, body.SectionOff} {
				k := job.Risk{ID: "R", About: about, Spared: spared}
				it := plan.Item{Kind: kind, Findings: []job.FindingID{"F1"}, Open: open}
				spares, mine := kind == body.SectionOff, about == "F1"
				matters := mine && (!spares || open)
				if about == "" {
					matters = !spares
				}
				if got := atRisk(k, it); got != matters {
					t.Errorf("about %q, %s, open %v: at risk %v", about, kind, open, got)
				}
				r := Route{Items: []plan.Item{it, {Kind: body.Dress, Findings: []job.FindingID{"F3"}}}}
				if open {
					r.Ask = []string{"F1"}
				}
				if got := concerns(k, r); got != matters {
					t.Errorf("about %q, %s, open %v: concerned %v", about, kind, open, got)
				}
				f := &finder{in: Input{Job: &job.State{Risks: []job.Risk{k}}}}
				other := plan.Item{Kind: body.Weld, Findings: []job.FindingID{"F9"}}
				if a, b := f.noMoreAtRisk(it, other), f.noMoreAtRisk(other, it); a != (!matters || about == "") || b != (about != "" || matters) {
					t.Errorf("about %q, %s, open %v: no more at risk %v, %v", about, kind, open, a, b)
				}
			}
		}
	}
}

// What is reckoned with are the first risks that are open, and those that turned out badly and bar;
// those bar what they are about, and routes.
func TestWhichRisksCount(t *testing.T) {
	in := Input{Job: &job.State{}}
	for k := range spreadRisks + 2 {
		in.Job.Risks = append(in.Job.Risks, job.Risk{ID: fmt.Sprint("O", k), About: "F9"})
	}
	settled := func(id string, how job.Outcome, bars bool) job.Risk {
		return job.Risk{ID: id, About: "F1", Settled: how, Bars: bars, SettledBy: "T", Text: "it runs on", Spared: []body.TreatmentKind{body.SectionOff}}
	}
	in.Job.Risks = append(in.Job.Risks, settled("W", "well", true), settled("B", "badly", true), settled("C", "badly", false))
	var got []string
	f := &finder{in: in}
	for _, k := range f.risks() {
		got = append(got, k.ID)
	}
	if strings.Join(got, " ") != "O0 O1 O2 O3 O4 O5 O6 O7 O8 O9 B" {
		t.Errorf("%v", got)
	}
	d := &drawing{in: in}
	left := d.takeRisks()
	want := []string{"W: turned out well by T, so it no longer counts", "B: turned out badly by T, so its amounts no longer count: what it costs is in the plan", "C: turned out badly by T, so its amounts no longer count: what it costs is in the plan", "risks: 12 are open, the first 10 count"}
	if len(d.risks) != spreadRisks || !slices.Equal(left, want) {
		t.Errorf("%d drawn, %q", len(d.risks), left)
	}
	in.Job.Risks = in.Job.Risks[2:]
	if d := (&drawing{in: in}); len(d.takeRisks()) != 3 || len(d.risks) != spreadRisks {
		t.Errorf("of %d open ones %d are drawn", spreadRisks, len(d.risks))
	}
	for _, c := range []struct {
		ids  []job.FindingID
		kind body.TreatmentKind
		why  string
	}{{[]job.FindingID{"F2", "F1"}, body.Weld, "B turned out badly by T"}, {[]job.FindingID{"F1"}, body.SectionOff, ""}, {[]job.FindingID{"F2"}, body.Weld, ""}} {
		if why, ok := refused(in, c.ids, option{kind: c.kind}); why != c.why || ok != (c.why != "") {
			t.Errorf("%v %s: %q, %v", c.ids, c.kind, why, ok)
		}
	}
	item := func(kind body.TreatmentKind, id job.FindingID) []plan.Item {
		return []plan.Item{{Kind: kind, Findings: []job.FindingID{id}}}
	}
	routes := []Route{{Feasible: true, Items: item(body.Weld, "F1")}, {Feasible: true, Items: item(body.SectionOff, "F1")}, {Feasible: true, Items: item(body.Weld, "F2")}, {Items: item(body.Weld, "F1"), Excluded: "before"}}
	f.exclude(routes)
	for k, want := range []string{"B turned out badly by T: it runs on", "", "", "before"} {
		if routes[k].Excluded != want || routes[k].Feasible != (want == "") {
			t.Errorf("route %d: %+v, want %q", k, routes[k], want)
		}
	}
}

// Of the members of a group the most cautious verdict holds for each kind, and where one of them does not
// speak of it the manufacturer is asked; the mildest kind comes first. Drawn.
func TestGroupsAreAsTheirWorstMemberSeeds(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 62))
		in := Input{Job: &job.State{}}
		ids := []job.FindingID{"F1", "F2", "F3"}[:1+rng.IntN(3)]
		kinds := []body.TreatmentKind{body.SectionOff, body.Weld, body.Dress}
		order := []decide.Verdict{yes, not, ask, no}
		worst := map[string]int{}
		for _, k := range kinds {
			for _, line := range []body.LineID{"S1", "S2"} {
				worst[fmt.Sprint(k, line)] = -1
			}
		}
		for i, id := range ids {
			f := decide.Finding{ID: id}
			spoken := map[string]int{}
			for range rng.IntN(6) {
				o := decide.Option{Kind: kinds[rng.IntN(3)], Line: []body.LineID{"S1", "S2"}[rng.IntN(2)]}
				v := rng.IntN(4)
				o.Verdict, o.Because = order[v], fmt.Sprint("row ", i, v)
				f.Options = append(f.Options, o)
				name := fmt.Sprint(o.Kind, o.Line)
				spoken[name] = max(spoken[name], v)
				worst[name] = max(worst[name], 0)
			}
			in.Decide.Findings = append(in.Decide.Findings, f)
		}
		for i := range ids {
			for name, w := range worst {
				if w < 0 {
					continue
				}
				said := -1
				for _, o := range in.Decide.Findings[i].Options {
					if fmt.Sprint(o.Kind, o.Line) == name {
						said = max(said, slices.Index(order, o.Verdict))
					}
				}
				if said < 0 {
					said = 2 // ask
				}
				worst[name] = max(w, said)
			}
		}
		var got []string
		last := ""
		for _, o := range joined(in, ids) {
			name := fmt.Sprint(o.kind, o.line)
			got = append(got, name)
			if worst[name] < 0 || o.verdict != order[worst[name]] {
				t.Errorf("seed %d: %s is %s, want %v of %+v", seed, name, o.verdict, worst[name], in.Decide.Findings)
			}
			if key := fmt.Sprintf("%d %s", slices.Index(body.TreatmentKinds(), o.kind), o.line); key <= last {
				t.Errorf("seed %d: %s after %s", seed, key, last)
			} else {
				last = key
			}
			speaks := false
			for _, f := range in.Decide.Findings {
				for _, x := range f.Options {
					speaks = speaks || x.Kind == o.kind && x.Line == o.line && x.Because == o.because
				}
			}
			if !speaks && o.because != "" {
				t.Errorf("seed %d: %s because %q, which nobody said", seed, name, o.because)
			}
		}
		n := 0
		for _, w := range worst {
			if w >= 0 {
				n++
			}
		}
		if len(got) != n {
			t.Errorf("seed %d: %d options, want %d", seed, len(got), n)
		}
	}
}

// A point is settled only where it is firmly within its tolerance, renewed, or left by the manufacturer's
// word; one firmly out of it is asked about, and all else is measured again.
func TestPointsThatAreOpen(t *testing.T) {
	for _, firm := range []bool{false, true} {
		for _, v := range []measure.Verdict{measure.Undecided, measure.Met, measure.NotMet} {
			for _, seen := range []string{"P1", "P2", ""} {
				for _, left := range []bool{false, true} {
					f := &finder{in: Input{Body: &body.Body{Points: []body.Point{{ID: "P1", Part: "rail"}}}}}
					if seen != "" {
						f.in.Measure.Hypotheses = []measure.Hypothesis{{Points: []measure.PointResult{{ID: body.PointID(seen), Firm: firm, Tolerance: v}}}}
					}
					if left {
						f.in.Left = []body.PointID{"P1"}
					}
					want := "ask [] again [P1]"
					switch {
					case left, seen == "P1" && firm && v == measure.Met:
						want = "ask [] again []"
					case seen == "P1" && firm && v == measure.NotMet:
						want = "ask [P1] again []"
					}
					ask, again := f.leftAsMeasured(nil)
					if got := fmt.Sprintf("ask %v again %v", ask, again); got != want {
						t.Errorf("firm %v, %s, measured %q, left %v: %s, want %s", firm, v, seen, left, got, want)
					}
					if ask, again := f.leftAsMeasured([]plan.Item{{Kind: body.ReplacePart, Part: "rail"}}); len(ask)+len(again) > 0 {
						t.Errorf("on a part that is replaced: %v %v", ask, again)
					}
					if _, again := f.leftAsMeasured([]plan.Item{{Kind: body.Weld, Part: "rail"}}); (len(again) == 0) != (want != "ask [] again [P1]") {
						t.Errorf("on a part that is welded: %v", again)
					}
				}
			}
		}
	}
}

// The quickest treatments: of fewest days, then of least work, then of least money, and open ones only
// where the first is.
func TestQuickestOfEachSlot(t *testing.T) {
	hours := func(open bool, days int, own int64) choice {
		return choice{item: plan.Item{Open: open}, days: days, own: own}
	}
	a, b, c, d := hours(false, 3, 5), hours(false, 2, 9), hours(false, 2, 7), hours(true, 1, 1)
	e := hours(true, 1, 0)
	for _, x := range []struct {
		of   []choice
		want choice
	}{{[]choice{a, b, c, d}, c}, {[]choice{a, c, b}, c}, {[]choice{c, b, a}, c}, {[]choice{d, a, b}, d}, {[]choice{d, a, e}, e}, {[]choice{a}, a}} {
		h := &hunt{c: candidate{slots: []slot{{x.of}, {[]choice{b}}}}}
		got := h.quickest()
		if len(got) != 2 || got[0].days != x.want.days || got[0].own != x.want.own || got[0].item.Open != x.want.item.Open || got[1].own != 9 {
			t.Errorf("%+v, want %+v", got, x.want)
		}
	}
	in := input(verdicts{"weld": yes, "plate": yes})
	f := newFinder(in)
	c1 := []choice{f.choice(f.items(&f.wards[0], body.WeldBacking)[0]), f.choice(f.items(&f.wards[0], body.Weld)[0])}
	for i := range c1 {
		c1[i].days, c1[i].own = 1, 0
	}
	h := &hunt{c: candidate{slots: []slot{{c1}}}}
	if got := h.quickest()[0].item.Kind; got != body.Weld { // 30 minutes against 90
		t.Errorf("of the same days %s is quickest", got)
	}
}

// So many of the actions as fit, those that are wanted first, in their order.
func TestTheFirstActions(t *testing.T) {
	acts := []action{{line: "A"}, {line: "B"}, {line: "C"}, {line: "D"}}
	for _, c := range []struct {
		most   int
		wanted string
		want   string
	}{{2, "BD", "BD"}, {3, "D", "ABD"}, {1, "CD", "C"}, {4, "", "ABCD"}, {2, "", "AB"}, {0, "A", ""}, {9, "A", "ABCD"}} {
		got := ""
		for _, a := range first(acts, c.most, func(k int) bool { return strings.Contains(c.wanted, string(acts[k].line)) }) {
			got += string(a.line)
		}
		if got != c.want {
			t.Errorf("%d, %q wanted: %q, want %q", c.most, c.wanted, got, c.want)
		}
	}
	for n, want := range map[int]int{0: jointNodes, 1: jointNodes, 20: jointNodes, 21: jointWork / 21, 400: 20, 9000: 20} {
		if got := branches(n); got != want {
			t.Errorf("%d findings: %d branches, want %d", n, got, want)
		}
	}
	for slots, want := range map[int]bool{0: false, 6: false, 7: true} { // 3^6 = 729
		c := candidate{}
		for range slots {
			c.slots = append(c.slots, slot{make([]choice, 3)})
		}
		if c.large() != want {
			t.Errorf("%d slots of three: large is %v", slots, c.large())
		}
	}
	for n, want := range map[int]int{manyFindings: maxActions, manyFindings + 1: fewActions} {
		if got := (&finder{wards: make([]ward, n)}).mostActions(); got != want {
			t.Errorf("%d findings: %d actions, want %d", n, got, want)
		}
	}
}

// What every mix holds is weighed by its definition: the sums and the most of what is fixed, the least of
// each slot from every place on, and what all treatments of a slot ask for is sure.
func TestWhatEveryMixHoldsSeeds(t *testing.T) {
	sure := 0
	for seed := range uint64(12) {
		in := randomShared(seed, 4)
		f := newFinder(in)
		for _, c := range f.candidates(f.actions()) {
			if c.excluded != "" || len(c.slots) == 0 {
				continue
			}
			h := f.begin(c, 7)
			fixed, days, demand := int64(0), 0, plan.Demand{}
			for _, it := range c.items {
				fixed, days, demand = fixed+f.weigh.Own(it), max(days, f.weigh.LeastDays(it)), demand.With(f.weigh.Demand(it))
			}
			rest := make([]int64, len(c.slots)+1)
			for k := len(c.slots) - 1; k >= 0; k-- {
				least, common := int64(math.MaxInt64), f.weigh.Demand(c.slots[k].options[0].item)
				for _, o := range c.slots[k].options {
					least, common = min(least, o.own), common.Common(f.weigh.Demand(o.item))
				}
				rest[k] = rest[k+1] + least
				if demand.With(common) != demand {
					sure++
				}
				demand = demand.With(common)
			}
			if h.fixed != fixed || h.days != days || h.sure != demand || !slices.Equal(h.rest, rest) || h.plans != 7 || h.waits != 0 || h.slack != 2 {
				t.Errorf("seed %d, %s: %d fixed, %d days, rest %v, slack %d; want %d, %d, %v", seed, c.id, h.fixed, h.days, h.rest, h.slack, fixed, days, rest)
			}
		}
	}
	if sure < 5 {
		t.Errorf("%d slots ask for something whatever is chosen: the draws show little", sure)
	}
}

// The least bill of a weight and of days, with taxes that are on everything and storage with its own; by hand.
func TestLeastBillByHand(t *testing.T) {
	all := []shop.AmountKind{"labour", "parts", "materials"}
	for _, c := range []struct {
		taxes    []shop.Tax
		storage  unit.Money
		money    unit.Minor
		rounding unit.Minor
	}{
		{nil, eur(0), 1000 - 3 - 3, 6 + 3},                                // slack 3, taken off twice; 3 - 3 + 2 x 3 + 3
		{[]shop.Tax{{Rate: 0.2, On: all}}, eur(0), 1000 - 3 + 199 - 3, 9}, // 997 and a fifth, cut off
		{[]shop.Tax{{Rate: 0.2, On: all[:2]}, {Rate: 0.5, On: all[1:]}, {Rate: 0.5, On: []shop.AmountKind{"labour", "materials"}}}, eur(0), 994, 9}, // on some of it: not sure to be on all
		{[]shop.Tax{{Rate: 0.5, On: []shop.AmountKind{"storage"}}}, eur(101), 994 + 303, 9},                                                         // 2 days at 1.515, rounded down once
		{nil, unit.Money{Minor: 101, Currency: "USD"}, 994, 9},
	} {
		h := &hunt{slack: 3, f: &finder{in: Input{Shop: &shop.Shop{Currency: "EUR", Taxes: c.taxes, Storage: c.storage}}}}
		if got := h.atLeast(1000*plan.WeightScale, 2); got != c.money {
			t.Errorf("%+v: %d, want %d", c, got, c.money)
		}
		if got := h.rounding(); got != c.rounding {
			t.Errorf("%+v: rounding %d, want %d", c, got, c.rounding)
		}
	}
}

// Words and places of looks and of what is drawn.
func TestSmallPartsOfDraws(t *testing.T) {
	for in, want := range map[string]string{"The crack runs on.": "the crack runs on", " It. ": "it", "D1 runs on": "D1 runs on", "ABS fails": "ABS fails", "X": "X", "": "", "Ä b": "ä b"} {
		if got := lowerFirst(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
	x := tally{}
	for _, v := range []float64{2, 4, 4, 4, 5, 5, 7, 9} { // mean 5, variance 4: a common textbook example
		x.add(v)
	}
	if x.mean() != 5 || x.error2() != 0.5 {
		t.Errorf("mean %v, error %v", x.mean(), x.error2())
	}
	d := &drawing{in: Input{Shop: &shop.Shop{Taxes: []shop.Tax{{Rate: 0.25, On: []shop.AmountKind{"labour", "parts"}}, {Rate: 0.5, On: []shop.AmountKind{"labour", "parts", "materials"}}, {Rate: 0.125, On: []shop.AmountKind{"materials", "labour"}}, {Rate: 1, On: []shop.AmountKind{"parts", "materials"}}}}}}
	if d.taxOn("labour") != 0.875 || d.taxOn("storage") != 0 || d.taxOnAll() != 0.5 {
		t.Errorf("taxes %v %v %v", d.taxOn("labour"), d.taxOn("storage"), d.taxOnAll())
	}
	d.in.Shop.Spreads = []shop.Spread{{ID: "p", On: "parts"}, {ID: "b", On: "labour", Skill: "body"}, {ID: "l", On: "labour"}, {ID: "m", On: "labour"}, {ID: "w", On: "labour", Skill: "weld"}}
	for _, c := range []struct {
		kind  shop.AmountKind
		skill body.SkillID
		want  string
	}{{"parts", "", "p"}, {"labour", "body", "b"}, {"labour", "weld", "w"}, {"labour", "paint", "l"}, {"labour", "", "l"}, {"materials", "", ""}} {
		if s, ok := d.spreadOf(c.kind, c.skill); s.ID != c.want || ok != (c.want != "") {
			t.Errorf("%s of %q goes by %q, %v", c.kind, c.skill, s.ID, ok)
		}
	}
	if trimKind(cost.Line{ID: "L-weld", Kind: "labour"}) != "weld" || trimKind(cost.Line{ID: "P-weld", Kind: "parts"}) != "" {
		t.Error("the skill of a line")
	}
	s := summary("r", []float64{5, 1, 4, 2, 3, 6, 7, 8, 9, 10}, 2, 5)
	if s.Route != "r" || s.Mean != 6 || s.P10 != 2 || s.P50 != 6 || s.P90 != 10 || s.Loss != 0.2 || math.Abs(s.LossStd-math.Sqrt(0.016)) > 1e-15 || s.Best != 0.5 || math.Abs(s.BestStd-math.Sqrt(0.025)) > 1e-15 {
		t.Errorf("%+v", s)
	}
	days := (&duration{days: []int{3, 1, 2, 9, 5, 4, 8, 7, 6, 10}}).summary()
	if *days != (DaySpread{10, 5.5, 2, 6, 10}) {
		t.Errorf("%+v", days)
	}
	for _, c := range []struct {
		awaits []plan.Awaited
		want   bool
	}{{nil, false}, {[]plan.Awaited{{Minutes: 5}}, false}, {[]plan.Awaited{{Minutes: 5}, {High: 1}}, true}} {
		if got := waitsDiffer(Result{Routes: []Route{{}, {Plan: plan.Plan{Steps: []plan.Step{{}, {Awaits: c.awaits}}}}}}); got != c.want {
			t.Errorf("%+v: %v", c.awaits, got)
		}
	}
}

// A choice among routes under states, by its definition: what each signal makes likely, the cheapest route
// then, and how often the signal comes. Drawn.
func TestExpectedCostByDefinitionSeeds(t *testing.T) {
	for seed := range uint64(100) {
		rng := rand.New(rand.NewPCG(seed, 63))
		states, routes, signals := 1+rng.IntN(4), 1+rng.IntN(4), 1+rng.IntN(3)
		numbers := func(n int) (out []float64) {
			for range n {
				out = append(out, float64(rng.IntN(9)))
			}
			return out
		}
		dec := decision{prior: numbers(states)}
		for range routes {
			dec.cost = append(dec.cost, numbers(states))
		}
		var like [][]float64
		for range signals {
			like = append(like, numbers(states))
		}
		allowed := func(r, g int) bool { return r == 0 || (r+g)%2 == 0 }
		value, taken, chance := dec.expected(like, allowed)
		sum := 0.0
		for g := range signals {
			least, best, p := math.Inf(1), -1, 0.0
			for r := range routes {
				c := 0.0
				for s := range states {
					c += dec.prior[s] * like[g][s] * dec.cost[r][s]
				}
				if allowed(r, g) && c < least {
					least, best = c, r
				}
			}
			for s := range states {
				p += dec.prior[s] * like[g][s]
			}
			if sum += least; taken[g] != best || chance[g] != p {
				t.Errorf("seed %d, signal %d: route %d with %v, want %d with %v", seed, g, taken[g], chance[g], best, p)
			}
		}
		if value != sum {
			t.Errorf("seed %d: %v, want %v", seed, value, sum)
		}
	}
}

// What a look costs, with the taxes on what it is: at a rate, sublet, or by nobody; and its advice.
func TestPriceOfALook(t *testing.T) {
	d := &drawing{in: Input{Shop: &shop.Shop{Currency: "EUR", Rates: []shop.Rate{{Skill: "a", Hour: eur(6000)}, {Skill: "s", Hour: eur(99999)}}, Sublets: []shop.Sublet{{ID: "S", Skill: "s", Visit: eur(1000), Hour: eur(3000)}},
		Taxes: []shop.Tax{{Rate: 0.1, On: []shop.AmountKind{"labour"}}, {Rate: 0.2, On: []shop.AmountKind{"sublet"}}, {Rate: 0.5, On: []shop.AmountKind{"materials"}}}}}}
	d.risks = []job.Risk{{ID: "R1", Text: "It runs on.", Look: &job.Look{Name: "dye", Minutes: 30, Skill: "a", Price: eur(200)}}, {ID: "R2", Look: &job.Look{Name: "scan", Minutes: 20, Skill: "s"}}, {ID: "R3", Look: &job.Look{Name: "tap", Minutes: 7, Skill: "nobody"}}}
	for _, c := range []struct {
		set   []int
		gain  unit.Minor
		often float64
		price unit.Minor
		text  string
	}{
		{[]int{0}, 3601, 0.34, 3600, "Spend 30 minutes before deciding: dye for R1 (it runs on), 36.00 EUR. It changes the route in 3 of 10 cases and saves 36.01 EUR on average."},
		{[]int{0}, 3600, 0.04, 3600, "Dearer than what it saves: dye for R1 (it runs on): 30 minutes, 36.00 EUR. It changes the route in fewer than 1 of 20 cases and saves 36.00 EUR on average."},
		{[]int{1}, 0, 0, 2400, "Not needed before deciding: scan for R2: 20 minutes, 24.00 EUR. Whatever it shows, the same route is taken."},
		{[]int{0, 2}, 9999, 0.06, 3600, "Spend 37 minutes before deciding: dye for R1 (it runs on), tap for R3, 36.00 EUR. It changes the route in 1 of 10 cases and saves 99.99 EUR on average."},
	} {
		w := LookWorth{Gain: c.gain, Changes: c.often}
		d.priceOf(&w, c.set)
		if w.Price != c.price || w.Text != c.text || w.Worth != (c.gain > c.price) || len(w.Risks) != len(c.set) {
			t.Errorf("%+v, want %d, %q", w, c.price, c.text)
		}
	}
	d.routes = []contender{{startsBy: []int{1, 0}}, {startsBy: []int{0}}, {}, {startsBy: []int{2, 0}}, {startsBy: []int{1, 0, 1}}}
	d.risks[2].Look = nil
	if got := fmt.Sprint(d.lookSets()); got != "[[0] [1] [0 1]]" {
		t.Errorf("looked for are %s", got)
	}
}

// Why a route is not drawn, each by itself.
func TestWhichRoutesAreDrawn(t *testing.T) {
	done := Route{ID: "a", Feasible: true, Plan: plan.Plan{Finish: unit.Date{Year: 2026, Month: 3, Day: 9}}, Bill: cost.Bill{Complete: true, Lines: []cost.Line{{ID: "P-x", Kind: "parts", Sum: 100}, {ID: "D-storage", Kind: "storage", Sum: 10}, {ID: "T-v", Kind: "tax", Sum: 20}}}}
	with := func(change func(r *Route)) Route {
		r := done
		change(&r)
		return r
	}
	risks := []job.Risk{{ID: "R1", About: "F1"}, {ID: "R2", About: "F2", Settled: "well", SettledBy: "T"}}
	for _, c := range []struct {
		r     Route
		drawn bool
		why   string
	}{
		{done, true, ""}, {with(func(r *Route) { r.ID = lossID }), false, ""}, {with(func(r *Route) { r.Feasible = false }), false, ""},
		{with(func(r *Route) { r.Bill.Complete = false }), false, "a date or price is missing"}, {with(func(r *Route) { r.Plan.Finish = unit.Date{} }), false, "a date or price is missing"},
		{with(func(r *Route) { r.Ask = []string{"F1"} }), true, ""}, {with(func(r *Route) { r.Measure = []string{"F3"} }), false, "nobody gave a chance for F3"}, {with(func(r *Route) { r.Ask = []string{"F2"} }), false, "F2 is still open, although R2 is settled by T"},
	} {
		d := &drawing{in: Input{Shop: &shop.Shop{}, Job: &job.State{Risks: risks}}, risks: risks[:1]}
		why := d.enter(c.r)
		if why != c.why || (len(d.routes) == 1) != c.drawn {
			t.Errorf("%+v: %q, drawn %d", c.r, why, len(d.routes))
		}
		if c.drawn && (d.routes[0].fixed != 100 || d.routes[0].storage.Sum != 10 || len(d.routes[0].startsBy) != len(c.r.Ask) || len(d.routes[0].risks) != len(c.r.Ask)) {
			t.Errorf("%+v", d.routes[0])
		}
	}
	d := &drawing{in: Input{Shop: &shop.Shop{}, Job: &job.State{}}}
	for k := range spreadRoutes + 1 {
		r := with(func(r *Route) {
			r.ID = fmt.Sprint(k)
			r.Plan.Calendar = 100 - k
			r.Bill.Lines = []cost.Line{{ID: "P-x", Kind: "parts", Sum: unit.Minor(100 + k)}}
		})
		if why := d.enter(r); (why != "") != (k == spreadRoutes) {
			t.Errorf("route %d: %q", k, why)
		}
	}
}

// A route is needless where another one of the draws costs no more in any, waits for nothing else and is
// concerned by nothing else; each difference by itself keeps it.
func TestNeedlessInTheDraws(t *testing.T) {
	base := func() contender {
		return contender{fixed: 10, gross: map[string]float64{"L-a": 5}, risks: []int{1}, startsBy: []int{0}, route: Route{Plan: plan.Plan{Calendar: 3}}, storage: cost.Line{ID: "D", Sum: 7}}
	}
	for name, c := range map[string]struct {
		change   func(a *contender)
		byDay    bool
		needless bool
	}{
		"the same":          {func(*contender) {}, false, true},
		"days are drawn":    {func(*contender) {}, true, false},
		"no storage":        {func(a *contender) { a.storage = cost.Line{} }, true, true},
		"dearer storage":    {func(a *contender) { a.storage.Sum = 8 }, false, false},
		"cheaper":           {func(a *contender) { a.fixed, a.gross["L-a"], a.storage.Sum, a.route.Plan.Calendar = 9, 4, 6, 2 }, false, true},
		"dearer":            {func(a *contender) { a.fixed = 11 }, false, false},
		"a dearer line":     {func(a *contender) { a.gross["L-a"] = 6 }, false, false},
		"another line":      {func(a *contender) { a.gross["L-b"] = 1 }, false, false},
		"longer":            {func(a *contender) { a.route.Plan.Calendar = 4 }, false, false},
		"another risk":      {func(a *contender) { a.risks = []int{2} }, false, false},
		"no risk":           {func(a *contender) { a.risks = nil }, false, true},
		"waits for another": {func(a *contender) { a.startsBy = []int{0, 2} }, false, false},
		"waits for nothing": {func(a *contender) { a.startsBy = nil }, false, true},
	} {
		a := base()
		c.change(&a)
		d := &drawing{routes: []contender{a}, byDay: c.byDay}
		if got := d.needless(base()); got != c.needless {
			t.Errorf("%s: needless is %v", name, got)
		}
	}
}

// What the search did not reach is told once, as the most that could be saved in money or days.
func TestWhatASearchDidNotReach(t *testing.T) {
	route := func(total unit.Minor, days int) Route {
		return Route{Bill: cost.Bill{Currency: "EUR", Total: total, Complete: true}, Plan: plan.Plan{Calendar: days, Finish: unit.Date{Year: 2026, Month: 3, Day: 9}}}
	}
	f := &finder{in: Input{Shop: &shop.Shop{Currency: "EUR", Storage: eur(100)}}}
	for _, c := range []struct {
		h    hunt
		want string
	}{
		{hunt{proven: true, quick: true}, ""},
		{hunt{proven: false, quick: true, leastMoney: 900, plans: 5}, "compare.mix-not-proven: the treatments of 2 findings were mixed 5 ways; a cheaper mix may exist, by at most 1.00 EUR (10.0 %)"},
		{hunt{proven: false, quick: true, leastMoney: 1000}, ""},
		{hunt{proven: false, quick: false, leastMoney: 800, leastDays: 4}, "compare.mix-not-all-days: the mix of treatments of 2 findings is proven to cost the least, storage left out; a quicker one may exist, by at most 2 calendar days, which would save at most 2.00 EUR of storage (20.0 %)"},
		{hunt{proven: true, quick: false, leastDays: 4, plans: 5}, "compare.mix-not-all-days: the mix of treatments is proven to cost the least; of the dearer ones 5 were planned, and a quicker one may exist, by at most 1 calendar days"},
		{hunt{proven: true, quick: false, leastDays: 5, plans: 5}, "compare.mix-not-all-days: the mix of treatments is proven to cost the least, and none is quicker than the quickest shown; of the others 5 were planned, and one between them in money and days may exist"},
		{hunt{proven: true, quick: true, unspared: true, sought: 3}, "compare.risks-not-all-avoided: the treatments can avoid risks and open points in many ways; mixes were sought for the first 3, the fewest at once, so a route that avoids many may be missing from the draws"},
	} {
		c.h.f, c.h.front = f, []Route{route(1100, 5), route(1000, 6)}
		var got []string
		for _, n := range c.h.notes(candidate{id: "w", slots: make([]slot, 2)}) {
			got = append(got, n.Code+": "+n.Text)
		}
		if strings.Join(got, " | ") != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// A mix is left where a known one is no worse in money, days and open points; else the effort decides,
// and the least of what was left is kept.
func TestWhatIsLeftInASearch(t *testing.T) {
	known := Route{Bill: cost.Bill{Total: 100, Complete: true}, Plan: plan.Plan{Calendar: 5, Finish: unit.Date{Year: 2026, Month: 3, Day: 9}}, Items: []plan.Item{{Open: true, Findings: []job.FindingID{"F1", "F2"}}, {Findings: []job.FindingID{"F3"}}}}
	undated := known
	undated.Bill.Complete = false
	if openItems(known) != 2 {
		t.Errorf("%d open", openItems(known))
	}
	for _, c := range []struct {
		front             []Route
		money             unit.Minor
		days, open, plans int
		left, quick       bool
		leastMoney        unit.Minor
		leastDays         int
	}{
		{[]Route{known}, 100, 5, 2, 0, true, true, 50, 9}, {[]Route{known}, 99, 5, 2, 0, false, true, 50, 9}, {[]Route{known}, 100, 4, 2, 0, false, true, 50, 9}, {[]Route{known}, 100, 5, 1, 0, false, true, 50, 9}, {[]Route{undated}, 100, 5, 2, 0, false, true, 50, 9},
		{[]Route{known}, 99, 5, 2, mixPlans, false, true, 50, 9}, {[]Route{known}, 99, 5, 2, mixProofs - 1, false, true, 50, 9}, {[]Route{known}, 99, 5, 2, mixProofs, true, false, 50, 5}, {[]Route{known}, 49, 10, 2, mixProofs, true, false, 49, 9},
		{[]Route{known}, 100, 4, 2, mixPlans - 1, false, true, 50, 9}, {[]Route{known}, 100, 4, 2, mixPlans, true, false, 50, 4},
	} {
		h := &hunt{front: c.front, plans: c.plans, quick: true, proven: true, leastMoney: 50, leastDays: 9}
		left := h.beaten(c.money, c.days, c.open)
		if left != c.left || h.quick != c.quick || h.leastMoney != c.leastMoney || h.leastDays != c.leastDays || h.proven != (c.plans < mixProofs) {
			t.Errorf("%+v: left %v, quick %v, proven %v, at least %d in %d", c, left, h.quick, h.proven, h.leastMoney, h.leastDays)
		}
	}
	first := &hunt{plans: mixProofs}
	if first.beaten(7, 3, 0); first.leastMoney != 7 || first.leastDays != 3 {
		t.Errorf("the first that is left: %d in %d", first.leastMoney, first.leastDays)
	}
}

// What has to be done about an open point.
func TestHowAnOpenPointIsSettled(t *testing.T) {
	f := &finder{in: Input{Inspect: inspect.Result{Coverage: []inspect.Coverage{{Area: "AR1"}}}}}
	if f.settle("AR1") != "inspect AR1" || f.settle("P1") != "measure P1 better" {
		t.Error(f.settle("AR1"), f.settle("P1"))
	}
	w := func(route string, saves unit.Minor, days int, needs ...string) Worth {
		return Worth{Route: route, Saves: saves, Days: days, Needs: needs}
	}
	for _, c := range []struct {
		list []Worth
		want string
	}{
		{[]Worth{w("a", 5, 1, "x"), w("b", 5, 1, "x")}, "a"}, {[]Worth{w("a", 5, 1, "x"), w("b", 6, 1, "x")}, "b"}, {[]Worth{w("a", 5, 2, "x"), w("b", 6, 1, "x")}, "a b"}, {[]Worth{w("a", 5, 1, "x"), w("b", 6, 1, "x", "y")}, "a b"}, {[]Worth{w("a", 5, 1, "x", "y"), w("b", 5, 1, "x")}, "b"}, {[]Worth{w("a", 5, 1), w("b", 5, 0)}, "a"},
	} {
		var got []string
		for _, x := range withoutBeaten(c.list) {
			got = append(got, x.Route)
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%+v: %v, want %s", c.list, got, c.want)
		}
	}
}
