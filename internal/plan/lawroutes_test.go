package plan_test

import (
	"math/rand/v2"
	"os"
	"testing"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// lawRoutes is a random job as compare takes it: for every finding on the casting some treatments on
// the spot, the casting's replacement and up to two section lines are allowed or have to be asked,
// for one on a part its exchange.
func lawRoutes(in plan.Input, seed uint64) compare.Input {
	rng := rand.New(rand.NewPCG(seed, 2516))
	out := compare.Input{Body: in.Body, Shop: in.Shop, Job: in.Job, Inspect: in.Inspect}
	out.Job.Vehicle.Value = unit.Money{Minor: 10000000, Currency: in.Shop.Currency}
	lines := rng.Perm(len(in.Body.Lines))
	lines = lines[:min(len(lines), 1+rng.IntN(2))]
	verdict := func() decide.Verdict {
		return []decide.Verdict{decide.Allowed, decide.Allowed, decide.Allowed, decide.Undecided, decide.Ask}[rng.IntN(5)]
	}
	for _, f := range in.Inspect.Findings {
		d := decide.Finding{ID: f.ID}
		add := func(k body.TreatmentKind, line body.LineID) {
			d.Options = append(d.Options, decide.Option{Kind: k, Line: line, Verdict: verdict()})
		}
		if f.Casting == "" {
			add(body.Exchange, "")
		} else {
			for _, k := range []body.TreatmentKind{body.Dress, body.Weld, body.WeldBacking, body.ReplaceCasting} {
				if rng.IntN(3) > 0 {
					add(k, "")
				}
			}
			for _, l := range lines {
				add(body.SectionOff, in.Body.Lines[l].ID)
			}
		}
		out.Decide.Findings = append(out.Decide.Findings, d)
	}
	return out
}

// The laws of order over whole jobs, by the path that an assessment takes: every route that is listed,
// with mixes of treatments, openings that findings share and steps that were merged. Common
// practice, no source.
func TestLawsOfOrderOverRoutesSeeds(t *testing.T) {
	seeds := uint64(3)
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		seeds = 60
	}
	tried, routes, mixed := make([]int, len(plan.LawNames())), 0, 0
	told := map[string]int{}
	for seed := range seeds {
		for name, in := range plan.LawJobs(t, 700+seed) {
			if name == "demo" && seeds == 3 && seed > 0 {
				continue
			}
			c := lawRoutes(in, seed)
			res, _ := compare.Routes(c)
			for _, r := range res.Routes {
				if !r.Feasible || len(r.Plan.Steps) == 0 {
					continue
				}
				routes++
				if len(r.Items) > 1 {
					mixed++
				}
				in.Choice, in.Seams = plan.Choice{Items: r.Items}, nil
				again, notes := plan.Build(in)
				if again.Finish != r.Plan.Finish || len(again.Steps) != len(r.Plan.Steps) {
					t.Errorf("%s seed %d, %s: planned anew it has another end", name, seed, r.ID)
				}
				n, broken := plan.LawsBroken(in, r.Plan, notes)
				for k := range n {
					tried[k] += n[k]
				}
				for law, bad := range broken {
					if told[law]++; told[law] < 4 {
						t.Errorf("%s seed %d, %s: %s: %s", name, seed, r.ID, law, bad[0])
					}
				}
			}
		}
	}
	if routes < 4*int(seeds) || mixed < int(seeds) {
		t.Errorf("only %d routes, %d of several items", routes, mixed)
	}
	some := 0
	for _, n := range tried {
		if n > 0 {
			some++
		}
	}
	if want := 15; some < want || seeds > 3 && some < 25 {
		t.Errorf("only %d of %d laws were tried", some, len(tried))
	}
	t.Logf("%d routes, %d of several items, %d laws tried", routes, mixed, some)
}
