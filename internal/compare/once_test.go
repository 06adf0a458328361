package compare

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/inspect"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// randomOnce is randomShared with steps that are done once for several findings, which lie on one
// of two parts and castings, some in the zones of others. All minutes stay whole.
func randomOnce(seed uint64, findings int) Input {
	in := randomShared(seed, findings)
	rng := rand.New(rand.NewPCG(seed, 1819))
	b := in.Body
	b.Castings = append(b.Castings, body.Casting{ID: "rear", Part: "bracket", Name: "rear casting"})
	b.Materials = append(b.Materials, body.Material{ID: "gas", Name: "gas", Kind: "other", Pack: unit.Amount{Value: 1, Unit: "l"}, Price: eur(100)})
	scopes := []body.Once{body.OnceJob, body.OnceCasting, body.OncePart, body.OnceZone}
	for i := range b.Treatments {
		t := &b.Treatments[i]
		for k := range 1 + rng.IntN(2) {
			st := body.Step{ID: fmt.Sprintf("once%d", k), Name: "do once", Skill: "alu", Once: scopes[rng.IntN(4)], Fixed: unit.Minutes(10 + rng.IntN(90)), PerMetre: unit.Minutes(50 * rng.IntN(3))}
			if rng.IntN(2) == 0 {
				st.Uses = []body.Use{{Material: "gas", Each: unit.Amount{Value: float64(1 + rng.IntN(30)), Unit: "l"}}}
			}
			t.Steps = slices.Insert(t.Steps, rng.IntN(len(t.Steps)+1), st)
		}
	}
	for i := range in.Inspect.Findings {
		f := &in.Inspect.Findings[i]
		if rng.IntN(3) == 0 {
			f.Part, f.Casting = "bracket", "rear"
		}
		if i > 0 && rng.IntN(2) == 0 {
			f.Zones = slices.Clone(in.Inspect.Findings[rng.IntN(i)].Zones)
			if rng.IntN(3) == 0 {
				f.Zones = append(f.Zones, inspect.ZoneShare{Zone: body.ZoneID(fmt.Sprintf("Z%d", i+1)), LengthMM: 1})
			}
		}
		in.Job.Findings[i].Part = f.Part
	}
	return in
}

// Against full enumeration: with steps that are done once for several findings, the front of mixes
// has the money and days of all mixes planned one by one, and the bound of the treatments chosen
// together is no more than the cheapest.
func TestMixesWithStepsDoneOnceAgainstEnumerationSeeds(t *testing.T) {
	shared, saved := 0, 0
	of := draws(9, 200)
	for seed := range uint64(of) {
		in := randomOnce(seed, 4)
		f := newFinder(in)
		for _, c := range f.candidates(f.actions()) {
			if c.excluded != "" {
				continue
			}
			mixes := everyMix(f, c.chosen)
			want := points(mixes)
			h := f.hunt(c)
			got := points(h.front)
			if !h.proven || h.quick && !slices.Equal(got, want) || !h.quick && got[0] != want[0] {
				t.Errorf("seed %d, %s: mixes %v, by enumeration %v", seed, c.id, got, want)
			}
			if len(c.slots) > 0 {
				least := mixes[0].Bill.Total
				for _, m := range mixes {
					least = min(least, m.Bill.Total)
				}
				if bound, _ := h.together(true); bound >= 0 && h.atLeast(h.fixed+bound, 0) > least {
					t.Errorf("seed %d, %s: %d at least, and a mix costs %d", seed, c.id, h.atLeast(h.fixed+bound, 0), least)
				}
			}
			if slices.ContainsFunc(h.front[0].Plan.Saved, func(s plan.Saved) bool { return s.Step != "" }) {
				shared++
			}
			if alone := f.cheapestAlone(c); alone > h.front[0].Bill.Total {
				saved++
			}
		}
	}
	if shared < of || saved < of/3 {
		t.Errorf("the test shows little: in %d mixes a step serves several findings, in %d treatments chosen one by one cost more", shared, saved)
	}
}

// Law: also with steps that are done once, the weight of a mix is its bill, to the rounding of what
// is bought in packs; here all packs are whole.
func TestWeightIsTheBillWithStepsDoneOnceSeeds(t *testing.T) {
	tried := 0
	for seed := range uint64(draws(20, 200)) {
		in := randomOnce(seed, 5)
		f := newFinder(in)
		for _, r := range f.hunt(f.candidate(nil)).front {
			own, demand := int64(0), plan.Demand{}
			for _, it := range r.Items {
				own += f.weigh.Own(it)
				demand = demand.With(f.weigh.Demand(it))
			}
			shared, ok := f.weigh.Shared(demand)
			if !ok || unit.Minor((own+shared)/plan.WeightScale) != r.Bill.Net {
				t.Errorf("seed %d: weight %d, bill %d", seed, (own+shared)/plan.WeightScale, r.Bill.Net)
			}
			tried++
		}
	}
	if tried < 20 {
		t.Errorf("%d mixes", tried)
	}
}

// Laws: findings treated together never cost more than apart, and never less than the dearer part of
// them; in whatever order they are given it is the same plan, and without one of them it is a
// plan that names it nowhere. Drawn; money without storage.
func TestDoneOnceLawsSeeds(t *testing.T) {
	cheaper, tried := 0, 0
	for seed := range uint64(draws(60, 1500)) {
		in := randomOnce(seed, 5)
		f := newFinder(in)
		rng := rand.New(rand.NewPCG(seed, 5))
		var items []plan.Item
		for k := range f.wards {
			var own []plan.Item
			for _, o := range f.wards[k].options {
				if o.kind != body.SectionOff && o.verdict == yes {
					own = append(own, f.items(&f.wards[k], o.kind)...)
				}
			}
			if len(own) > 0 {
				items = append(items, own[rng.IntN(len(own))])
			}
		}
		if len(items) < 2 {
			continue
		}
		priced := func(some []plan.Item) (plan.Plan, unit.Minor) {
			p, notes := plan.Outline(f.planInput(some))
			for _, n := range notes {
				if n.Blocks() {
					t.Fatalf("seed %d: %s", seed, n.Text)
				}
			}
			bill, _ := cost.Price(p, in.Body, in.Shop, in.Job)
			return p, bill.Net
		}
		p, whole := priced(items)
		cut := 1 + rng.IntN(len(items)-1)
		_, a := priced(items[:cut])
		q, b := priced(items[cut:])
		tried++
		if whole > a+b || whole < max(a, b) {
			t.Errorf("seed %d: together %d, apart %d and %d", seed, whole, a, b)
		}
		if len(p.Saved) > 0 && whole < a+b {
			cheaper++
		}
		slices.Reverse(items)
		if r, again := priced(items); again != whole || fmt.Sprint(r.Steps) != fmt.Sprint(p.Steps) {
			t.Errorf("seed %d: in another order %d, not %d", seed, again, whole)
		}
		for _, s := range q.Steps {
			for _, gone := range items[len(items)-cut:] {
				if slices.Contains(s.For, gone.Findings[0]) {
					t.Errorf("seed %d: without %s step %q is for it", seed, gone.Findings, s.Name)
				}
			}
		}
	}
	if tried < 40 || cheaper < tried/2 {
		t.Errorf("%d tried, in %d of them something is saved", tried, cheaper)
	}
}
