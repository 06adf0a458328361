package compare

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// randomPacked is randomShared in a shop of three skills at odd rates; treatments go by the length
// of the crack and use materials that are bought by the pack; there is storage and a tax on
// everything, or none.
func randomPacked(seed uint64, findings int) Input {
	in := randomShared(seed, findings)
	rng := rand.New(rand.NewPCG(seed, 43))
	b, s := in.Body, in.Shop
	skills := []body.SkillID{"alu", "body", "paint"}
	s.Rates, s.People = nil, nil
	for k, id := range skills {
		s.Rates = append(s.Rates, shop.Rate{Skill: id, Name: string(id), Hour: eur(unit.Minor(5000 + rng.IntN(5000)))})
		s.People = append(s.People, shop.Person{ID: string(rune('p' + k)), Skills: []body.SkillID{id, "alu"}})
	}
	ml := func(n int) unit.Amount { return unit.Amount{Value: float64(rng.IntN(n)), Unit: "ml"} }
	for _, id := range []body.MaterialID{"wire", "disc", "glue", "filler"} {
		b.Materials = append(b.Materials, body.Material{ID: id, Name: string(id), Kind: "other", Pack: unit.Amount{Value: 5 + float64(rng.IntN(100)), Unit: "ml"},
			Price: eur(unit.Minor(rng.IntN(9000))), Waste: unit.Frac(rng.IntN(20)) / 100})
	}
	for i := range b.Treatments {
		t := &b.Treatments[i]
		if t.Kind == body.SectionOff {
			continue
		}
		t.Steps = nil
		for k := range 1 + rng.IntN(3) {
			st := body.Step{ID: fmt.Sprint("s", k), Name: fmt.Sprint(t.ID, " ", k), Skill: skills[rng.IntN(3)], Fixed: unit.Minutes(5 + rng.IntN(40)), PerMetre: unit.Minutes(rng.IntN(400)),
				Uses: []body.Use{{Material: b.Materials[rng.IntN(4)].ID, Each: ml(20), PerMetre: ml(300)}}}
			if rng.IntN(3) == 0 {
				st.Wait = &body.Wait{Name: "w", Elapsed: unit.Minutes(rng.IntN(1000))}
			}
			t.Steps = append(t.Steps, st)
		}
	}
	for i := range in.Inspect.Findings {
		in.Inspect.Findings[i].Length = &inspect.Length{MM: 5 + float64(rng.IntN(60))}
	}
	in.Job.Vehicle.Value = eur(10000000)
	s.Storage = eur(unit.Minor(100 * rng.IntN(30)))
	if rng.IntN(2) == 0 {
		s.Taxes = []shop.Tax{{ID: "vat", Rate: 0.19, On: []shop.AmountKind{"labour", "parts", "materials", "sublet", "storage"}}}
	}
	return in
}

// straightTo has the treatments of a candidate chosen together, however few mixes there are.
func straightTo(f *finder, c candidate) *hunt {
	h := f.begin(c, 0)
	h.straight(true)
	return h
}

// Against every mix of small jobs: what is chosen together costs the least without storage, whole
// packs reckoned in, and no mix costs less than the bound. What is called proven is the least.
func TestChosenTogetherWithPacksSeeds(t *testing.T) {
	proven, packs := 0, 0
	of := draws(4, 300)
	for seed := range uint64(of) {
		f := newFinder(randomPacked(seed, 4))
		c := f.candidate(nil)
		if len(c.slots) == 0 || c.excluded != "" {
			continue
		}
		all := everyMix(f, nil)
		least, dry := all[0].Bill.Total, everyDry(f)
		for _, r := range all {
			least = min(least, r.Bill.Total)
		}
		h := straightTo(f, c)
		got := h.front[0]
		for _, r := range h.front {
			if r.Bill.Total < got.Bill.Total {
				got = r
			}
		}
		bound, picks := h.together(false)
		if w := unit.Minor((h.fixed + bound) / 60000); w > dry+h.slack || w < dry-h.slack || len(picks) != len(c.slots) {
			t.Errorf("seed %d: chosen together for %d without storage, by enumeration %d", seed, w, dry)
		}
		if h.leastMoney > least {
			t.Errorf("seed %d: no mix is said to cost less than %d, one costs %d", seed, h.leastMoney, least)
		}
		if h.proven && got.Bill.Total > least+h.rounding() {
			t.Errorf("seed %d: %d is proven, one costs %d", seed, got.Bill.Total, least)
		}
		if h.quick && slices.ContainsFunc(all, func(r Route) bool { return r.Plan.Calendar < got.Plan.Calendar }) {
			t.Errorf("seed %d: none is said to be quicker", seed)
		}
		if h.proven || h.onlyStorage(got) {
			proven++
		}
		if got.Bill.Material > 0 {
			packs++
		}
	}
	if 4*proven < 3*of || 3*packs < of {
		t.Errorf("only %d are proven and %d use materials", proven, packs)
	}
}

// everyDry is the least net money without storage of every mix.
func everyDry(f *finder) unit.Minor {
	in := f.in
	in.Shop = new(shop.Shop)
	*in.Shop = *f.in.Shop
	in.Shop.Storage = unit.Money{}
	least := unit.Minor(-1)
	for _, r := range everyMix(newFinder(in), nil) {
		if least < 0 || r.Bill.Net < least {
			least = r.Bill.Net
		}
	}
	return least
}

// largeJobs are jobs with three treatments for most findings, and the least net money of any choice
// with section lines, storage left out, that CBC 2.10.8 finds (TestOutsideLargeJobs).
var largeJobs = []struct {
	findings int
	seed     uint64
	least    unit.Minor
}{{20, 1, 171826}, {120, 2, 765380}, {20, 4, 169667}, {120, 0, 525610}, {120, 5, 719401}}

// Large jobs go straight to the treatments chosen together: a few plans for each subset, the least
// money found, and the gap that is left told.
func TestLargeJobsTellTheGap(t *testing.T) {
	for _, x := range largeJobs[:2] {
		judgeLarge(t, x.findings, x.seed, x.least)
	}
	f := newFinder(randomPacked(1, 20))
	if h := f.hunt(f.candidate(nil)); h.plans > 3 || h.leastMoney <= 0 {
		t.Errorf("%d plans, least %d", h.plans, h.leastMoney)
	}
}

// judgeLarge holds the best route against the least that another program finds: no dearer by more
// than 0.5 %, the gap that is told not less than what is missed, and every subset telling its own.
func judgeLarge(t *testing.T, findings int, seed uint64, least unit.Minor) {
	t.Helper()
	r, notes := Routes(randomPacked(seed, findings))
	best := r.Routes[0]
	dry := best.Bill.Net
	for _, l := range best.Bill.Lines {
		if l.Kind == "storage" {
			dry -= l.Sum
		}
	}
	name := fmt.Sprintf("%d findings, seed %d", findings, seed)
	if best.ID != r.Best || dry < least-5 || float64(dry) > 1.005*float64(least) {
		t.Errorf("%s: best %s of %d without storage, CBC finds %d", name, r.Best, dry, least)
	}
	gap, told := 0.0, strings.Contains(best.Because, "is not excluded")
	if told {
		text := best.Because[strings.Index(best.Because, "costs up to ")+len("costs up to "):]
		if _, err := fmt.Sscan(strings.ReplaceAll(strings.Fields(text)[0], ",", ""), &gap); err != nil {
			t.Errorf("%s: %q: %v", name, best.Because, err)
		}
	}
	if float64(dry-least) > 100*gap+5 || !told && !strings.Contains(best.Because, leastOfAll) {
		t.Errorf("%s: %d more than CBC finds, %q", name, dry-least, best.Because)
	}
	if !slices.ContainsFunc(notes, func(n diag.Note) bool {
		return n.Where == "weld" && strings.HasPrefix(n.Code, "compare.mix-not-") && strings.Contains(n.Text, "by at most")
	}) {
		t.Errorf("%s: the weld route tells no gap", name)
	}
}

func BenchmarkRoutes20Findings3Treatments(b *testing.B) {
	in := randomPacked(1, 20)
	for b.Loop() {
		Routes(in)
	}
}

func BenchmarkRoutes120Findings3Treatments(b *testing.B) {
	in := randomPacked(4, 120)
	for b.Loop() {
		Routes(in)
	}
}
