package compare

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// randomWorth is a random damage of which much waits for an answer or a measurement, with risks that
// turned out badly and bar, a vehicle of little value, a new piece that nobody knows the delivery of,
// and a treatment that nobody in the shop can do.
func randomWorth(seed uint64) Input {
	in := randomDamage(seed)
	rng := rand.New(rand.NewPCG(seed, 153))
	for i := range in.Decide.Findings {
		in.Decide.Findings[i].Options = append(in.Decide.Findings[i].Options, decide.Option{Kind: body.ReplaceCasting, Verdict: yes})
	}
	in.Job.Vehicle.Value = eur(unit.Minor(100 * (200 + rng.IntN(6000))))
	for _, f := range in.Job.Findings {
		if rng.IntN(3) == 0 {
			in.Job.Risks = append(in.Job.Risks, job.Risk{ID: "R-" + string(f.ID), About: string(f.ID), Chance: 0.2, Low: eur(100), Likely: eur(200), High: eur(300),
				Bars: rng.IntN(3) > 0, Settled: "badly", SettledBy: string(f.ID), Spared: []body.TreatmentKind{body.ReplaceCasting, body.SectionOff}[:1+rng.IntN(2)]})
		}
	}
	if rng.IntN(3) == 0 {
		in.Body.Parts[2].Delivery = unit.Maybe[unit.Minutes]{}
	}
	if rng.IntN(3) == 0 {
		in.Body.Treatments[rng.IntN(2)].Steps[0].Skill = "nobody"
		in.Shop.Rates = append(in.Shop.Rates, in.Shop.Rates[0])
		in.Shop.Rates[1].Skill = "nobody"
	}
	return in
}

// "Cheaper by ... if ..." names only what could be taken once what it needs has turned out well: it cures,
// nothing forbids or bars it, it has a date and a price, it is no total loss, nothing else blocks it, it does
// cost less by as much, and no other one of the list does as well with no more needs.
func TestCheaperIfNamesOnlyWhatCouldBeTakenSeeds(t *testing.T) {
	named, waiting := 0, 0
	of := draws(120, 3000)
	for seed := range uint64(of) {
		in := randomWorth(seed)
		r, _ := Routes(in)
		for _, x := range r.Routes {
			if x.Feasible && x.Open > 0 && x.ID != lossID {
				waiting++
			}
		}
		for i, w := range r.Worth {
			named++
			x := route(t, r, w.Route)
			bad := func(format string, args ...any) {
				t.Errorf("seed %d: cheaper by %s: %s", seed, x.ID, fmt.Sprintf(format, args...))
			}
			if !x.Feasible || x.Excluded != "" || x.ID == lossID || x.Open == 0 || len(w.Needs) != x.Open {
				bad("excluded %q, open for %v, needs %v", x.Excluded, x.OpenFor(), w.Needs)
			}
			for _, it := range x.Items {
				for _, id := range it.Findings {
					f := inspected(in, id)
					leave := slices.ContainsFunc(decided(in, id).Options, func(o decide.Option) bool { return o.Kind == body.Leave && o.Verdict != no })
					if !putsRight(it.Kind, f.Kind, f.Casting != "") && !(it.Kind == body.Leave && leave) {
						bad("a %s is treated by %s", f.Kind, it.Kind)
					}
					for _, o := range decided(in, id).Options {
						if o.Kind == it.Kind && o.Line == it.Line && o.Verdict == no {
							bad("%s of %s is forbidden", it.Kind, id)
						}
					}
					for _, k := range in.Job.Risks {
						if k.Bars && k.About == string(id) && !slices.Contains(k.Spared, it.Kind) {
							bad("%s turned out badly and bars %s", k.ID, it.Kind)
						}
					}
				}
			}
			p, notes := plan.Build(newFinder(in).planInput(x.Items))
			bill, more := cost.Price(p, in.Body, in.Shop, in.Job)
			if p.Finish.IsZero() || !bill.Complete || slices.ContainsFunc(p.Steps, func(s plan.Step) bool { return s.From.IsZero() }) {
				bad("it has no date or price")
			}
			if float64(bill.Total) >= 0.75*float64(in.Job.Vehicle.Value.Minor) {
				bad("%d is a total loss of %d", bill.Total, in.Job.Vehicle.Value.Minor)
			}
			for _, n := range slices.Concat(notes, more) {
				if n.Severity == diag.Blocking {
					bad("%s", n.Text)
				}
			}
			if best := r.Routes[0]; best.Bill.Total-bill.Total != w.Saves || w.Saves <= 0 || best.Bill.IsLoss && !x.Bill.IsLoss {
				bad("saves %d, by the bills %d", w.Saves, best.Bill.Total-bill.Total)
			}
			for k, o := range r.Worth {
				fewer := !slices.ContainsFunc(o.Needs, func(n string) bool { return !slices.Contains(w.Needs, n) })
				if k != i && fewer && o.Saves >= w.Saves && o.Days >= w.Days {
					bad("%s does as well", o.Route)
				}
			}
		}
	}
	if 30*named < of || waiting < 2*named {
		t.Errorf("only %d were named of %d that wait", named, waiting)
	}
}
