package plan_test

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// extreme is a job on a body and in a shop some figures of which are as large, or as small, as
// the decoders take them.
func extreme(in plan.Input, rng *rand.Rand) (plan.Input, string) {
	b, s, log := *in.Body, *in.Shop, ""
	b.Parts, b.Materials, b.Joints = slices.Clone(b.Parts), slices.Clone(b.Materials), slices.Clone(b.Joints)
	b.Treatments, b.Tasks, s.Rates = slices.Clone(b.Treatments), slices.Clone(b.Tasks), slices.Clone(s.Rates)
	size := func() float64 { return []float64{1, 1, 1e-3, 1e-9}[rng.IntN(4)] }
	minutes := func(what string, at *unit.Minutes) {
		*at = unit.Minutes(52596000 * size())
		log += fmt.Sprintf(" %s %g;", what, float64(*at))
	}
	money := func(what string, at *unit.Money) {
		at.Minor = unit.Minor(999999999999 * size())
		log += fmt.Sprintf(" %s %d;", what, at.Minor)
	}
	step := func(st *body.Step) {
		switch rng.IntN(6) {
		case 0:
			minutes("fixed", &st.Fixed)
		case 1:
			minutes("a metre", &st.PerMetre)
		case 2:
			minutes("a rivet", &st.PerRivet)
		case 3:
			if st.Wait != nil {
				w := *st.Wait
				minutes("wait", &w.Elapsed)
				st.Wait = &w
			}
		case 4:
			if st.Layout != nil {
				l := *st.Layout
				l.Pitch, l.Rows = unit.MM(math.Pow(10, -300*rng.Float64())), 10000
				st.Layout = &l
			}
		case 5:
			if len(st.Uses) > 0 {
				st.Uses = slices.Clone(st.Uses)
				st.Uses[0].Each.Value, st.Uses[0].PerMetre.Value = 1e9, 1e9
				st.Uses[0].Each.Unit = st.Uses[0].PerMetre.Unit
				if m, ok := b.Material(st.Uses[0].Material); ok {
					st.Uses[0].Each.Unit, st.Uses[0].PerMetre.Unit = m.Pack.Unit, m.Pack.Unit
				}
			}
		}
	}
	steps := func(list []body.Step) []body.Step {
		out := slices.Clone(list)
		for i := range out {
			if rng.IntN(4) == 0 {
				step(&out[i])
			}
		}
		return out
	}
	for range 1 + rng.IntN(3) {
		switch rng.IntN(7) {
		case 0:
			for i := range b.Treatments {
				b.Treatments[i].Steps = steps(b.Treatments[i].Steps)
			}
		case 1:
			for i := range b.Tasks {
				if rng.IntN(4) == 0 {
					step(&b.Tasks[i].Step)
				}
			}
		case 2:
			for i := range b.Parts {
				if rng.IntN(4) == 0 {
					money("price", &b.Parts[i].Price)
					minutes("off", &b.Parts[i].Off)
					minutes("delivery", &b.Parts[i].Delivery.Value)
				}
			}
		case 3:
			for i := range b.Materials {
				if rng.IntN(3) == 0 {
					money("pack", &b.Materials[i].Price)
					b.Materials[i].Pack.Value = math.Pow(10, 9-300*rng.Float64())
				}
			}
		case 4:
			money("rate", &s.Rates[rng.IntN(len(s.Rates))].Hour)
			money("storage", &s.Storage)
		case 5:
			for i := range b.Joints {
				b.Joints[i].Length = 1e9
				minutes("open", &b.Joints[i].Open)
			}
		case 6:
			s.Calendar.Days, s.Calendar.Start, s.Calendar.End, s.Calendar.Break = []string{"mon"}, "08:00", "09:00", nil
		}
	}
	in.Body, in.Shop = &b, &s
	return in, log
}

// No figure that the decoders take makes dates, packs or money that are none: each is what it is
// reckoned as, or the plan or the bill blocks and says where the slip may be.
func TestExtremeFiguresSeeds(t *testing.T) {
	seeds := uint64(1)
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		seeds = 40
	}
	told, blocked := 0, 0
	for seed := range seeds {
		for name, in := range plan.LawJobs(t, 900+seed) {
			rng := rand.New(rand.NewPCG(seed, uint64(len(name))))
			in, log := extreme(in, rng)
			p, notes := plan.Build(in)
			bill, more := cost.Price(p, in.Body, in.Shop, in.Job)
			compare.Routes(lawRoutes(in, seed))
			stuck := slices.ContainsFunc(append(notes, more...), func(n diag.Note) bool { return n.Severity == diag.Blocking })
			if stuck {
				blocked++
			}
			for _, why := range tooLarge(p, bill, stuck) {
				if told++; told < 9 {
					t.Errorf("%s seed %d (%s): %s", name, seed, log, why)
				}
			}
		}
	}
	if blocked == 0 {
		t.Error("no draw was too large for anything")
	}
}

// tooLarge says which figures of a plan and its bill are none.
func tooLarge(p plan.Plan, bill cost.Bill, blocks bool) []string {
	var bad []string
	fault := func(format string, args ...any) { bad = append(bad, fmt.Sprintf(format, args...)) }
	for _, s := range p.Steps {
		if !s.From.IsZero() && (s.To.Before(s.From) || s.From.Before(p.Start.Time().AddDate(0, 0, -1)) || p.Start.Time().AddDate(101, 0, 0).Before(s.To)) {
			fault("%s lies from %s to %s", s.ID, s.From, s.To)
		}
		if !s.From.IsZero() && math.Abs(s.To.Sub(s.From).Minutes()) < s.Minutes-1 {
			fault("%s takes %g min, and lies from %s to %s", s.ID, s.Minutes, s.From, s.To)
		}
	}
	for _, x := range p.Takeoff {
		if want := float64(x.Gross / x.Pack); x.Packs < 0 || !blocks && float64(x.Packs) < want-1e-6*want {
			fault("%d packs of %s, of which %g are needed", x.Packs, x.Material, want)
		}
	}
	sum := new(big.Int)
	for _, l := range bill.Lines {
		if l.Sum < 0 {
			fault("line %s comes to %d", l.ID, l.Sum)
		}
		if sum.Add(sum, big.NewInt(int64(l.Sum))); l.Kind == "tax" {
			continue
		}
	}
	if sum.Cmp(big.NewInt(int64(bill.Total))) != 0 {
		fault("the lines add up to %s, and the bill to %d", sum, bill.Total)
	}
	if p.OpeningCost < 0 || p.OpeningBound < 0 || p.OpeningBound > p.OpeningCost {
		fault("opening costs %d, bound %d", p.OpeningCost, p.OpeningBound)
	}
	if !p.Finish.IsZero() && p.Finish.Before(p.Start) {
		fault("it ends on %s, before %s", p.Finish, p.Start)
	}
	return bad
}
