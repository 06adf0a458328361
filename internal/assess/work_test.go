package assess

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// Work is judged by the route that is taken; what has no step there, by another that has one.
// What fits none is told once, and a fault that another route does not see stays. Constructed.
func TestWorkIsJudgedByTheRouteItWasDoneFor(t *testing.T) {
	in, _ := world()
	did := func(step string) job.Actual { return job.Actual{Step: step, By: "W1", On: today, Minutes: 5} }
	by := func(a job.Actual, who string) job.Actual { a.By = who; return a }
	twice := []job.Actual{did("plate"), did("plate")}
	noBest := routed("weld", "plate", "cast")
	noBest.Compare.Best = ""
	// "weld" is a step of the second route too, where another skill is asked for
	both := routed("weld", "plate", "cast")
	both.Compare.Routes[1].Plan.Steps = append(both.Compare.Routes[1].Plan.Steps, plan.Step{ID: "ST-2", Name: "weld", Skill: "paint"})
	// both others have the step, the first that comes judges
	skills := routed("weld", "plate", "cast")
	skills.Compare.Routes[1].Plan.Steps[0] = plan.Step{ID: "ST-1", Name: "Fit", Skill: "paint"}
	skills.Compare.Routes[2].Plan.Steps[0] = plan.Step{ID: "ST-1", Name: "Fit", Skill: "alu"}
	for _, c := range []struct {
		name   string
		r      Result
		agreed string
		did    []job.Actual
		want   string
	}{
		{"nothing", routed("weld", "plate"), "", nil, "[]"},
		{"a step of the route", routed("weld", "plate"), "", []job.Actual{did("weld")}, "[]"},
		{"a step of another", routed("weld", "plate"), "", []job.Actual{did("plate")}, "[]"},
		{"of the last", routed("weld", "plate", "cast"), "", []job.Actual{did("cast"), did("weld")}, "[]"},
		{"of none", routed("weld", "plate", "cast"), "", []job.Actual{did("sing")}, "[0 no step]"},
		{"of another, signed by nobody", routed("weld", "plate"), "", []job.Actual{by(did("plate"), "")}, "[0 signer]"},
		{"of the route, signed by nobody", routed("weld", "plate"), "", []job.Actual{did("plate"), by(did("weld"), "")}, "[1 signer]"},
		{"of none, signed by nobody", routed("weld", "plate"), "", []job.Actual{by(did("sing"), "")}, "[0 signer 0 no step]"},
		{"of another, twice", routed("weld", "plate"), "", twice, "[1 twice]"},
		{"of several, each its own fault", routed("weld", "plate", "cast"), "", []job.Actual{by(did("cast"), ""), did("sing"), by(did("plate"), "X")}, "[1 no step 2 signer 0 signer]"},
		{"the route judges what it has", both, "", []job.Actual{did("weld")}, "[]"},
		{"the first that has it judges", skills, "", []job.Actual{did("Fit")}, "[0 signer]"},
		{"the agreed one before", skills, "cast", []job.Actual{did("Fit")}, "[]"},
		{"no route is taken", noBest, "", []job.Actual{did("plate"), did("sing")}, "[1 no step]"},
	} {
		in.Job.Actuals, in.Job.Agreed = c.did, nil
		if c.agreed != "" {
			in.Job.Agreed = []job.Agreed{{Route: c.agreed}}
		}
		var got []string
		for _, f := range WorkFaults(in, c.r) {
			got = append(got, fmt.Sprint(f.At, " ", f.Kind))
		}
		if fmt.Sprint(got) != c.want {
			t.Errorf("%s: %v, want %s", c.name, got, c.want)
		}
		notes := workNotes(in, c.r)
		if len(notes) != len(got) || slices.ContainsFunc(notes, diag.Note.Blocks) {
			t.Errorf("%s: notes %v", c.name, notes)
		}
		for i, n := range notes {
			x := WorkFaults(in, c.r)[i]
			if a := c.did[x.At]; n.Where != a.Step || !strings.Contains(n.Text, a.On.String()) || !strings.Contains(n.Text, x.Text) {
				t.Errorf("%s: %+v of %+v", c.name, n, a)
			}
		}
	}
}

// Work has begun when any record counts, of any route or beyond the plans; one that does not
// count is no beginning.
func TestWorkHasBegun(t *testing.T) {
	for _, c := range []struct {
		name string
		did  job.Actual
		want bool
	}{
		{"the route", job.Actual{Step: "weld", By: "W1", On: today}, true},
		{"another", job.Actual{Step: "plate", By: "W1", On: today}, true},
		{"under way", job.Actual{Step: "plate", By: "W1", On: today, Going: true}, true},
		{"beyond", job.Actual{Step: "Dry", By: "W1", On: today, Unplanned: "it was wet", Skill: "alu"}, true},
		{"no step", job.Actual{Step: "sing", By: "W1", On: today}, false},
		{"of tomorrow", job.Actual{Step: "weld", By: "W1", On: today.AddDays(1)}, false},
		{"by nobody", job.Actual{Step: "plate", On: today}, false},
		{"beyond, by nobody", job.Actual{Step: "Dry", On: today, Unplanned: "it was wet", Skill: "alu"}, false},
	} {
		in, _ := world()
		in.Job.Actuals = []job.Actual{c.did}
		if got := begun(in, routed("weld", "plate")); got != c.want {
			t.Errorf("%s: begun %v", c.name, got)
		}
	}
	in, _ := world()
	if begun(in, routed("weld")) {
		t.Error("nothing is on record, and work has begun")
	}
}

// Where the start is entered is told to whom wrote the job by hand, and to nobody else.
func TestStartPastSaysWhereItIsWritten(t *testing.T) {
	j, err := job.Decode(map[string][]byte{"job.yaml": []byte(`format: fettle-job 1
id: J1
author: W1
body: ../body
shop: ../shop.yaml
opened: 2026-03-01
start: 2026-03-02
vehicle: {vin: "00000000000000000", odometer_km: 1, load_state: unloaded, value: 1.00 EUR, salvage: 0.00 EUR}
impact: {from: front, on: 2026-03-01}
`)})
	if err != nil {
		t.Fatal(err)
	}
	for _, written := range []bool{true, false} {
		s := j
		if !written {
			s = &job.State{Start: j.Start}
		}
		notes := pastStart(s, day(time.March, 16), false)
		if len(notes) != 1 || strings.Contains(notes[0].Hint, "give the day it starts") != s.Written() || !strings.Contains(notes[0].Hint, "record what is done") {
			t.Errorf("written %v: %v", s.Written(), notes)
		}
	}
}

// A bill that differs from the agreed one is told; it blocks where there is none, and where it
// has become a total loss. Agreed at 100.00; the vehicle is worth 10,000.00 less 1,000.00 and
// the rule is three quarters of the value. Constructed.
func TestBillIsHeldAgainstTheAgreedOne(t *testing.T) {
	bill := func(total unit.Minor, loss bool) cost.Bill {
		return cost.Bill{Complete: true, Net: total, Total: total, Currency: "EUR", Loss: []cost.Loss{{ID: "r", Applies: true, IsLoss: loss}}}
	}
	agreed := job.Agreed{Number: 1, Route: "weld", Net: eur(10000), Total: eur(10000), Finish: today, On: today, Findings: []job.FindingID{"F1"}}
	for _, c := range []struct {
		name, best string
		agreed     []job.Agreed
		bill       cost.Bill
		code       string
		blocks     bool
	}{
		{"nothing agreed", "weld", nil, bill(20000, false), "", false},
		{"another total", "weld", []job.Agreed{agreed}, bill(20000, false), "cost.supplement", false},
		{"a total loss", "weld", []job.Agreed{agreed}, bill(800000, true), "cost.supplement-total-loss", true},
		{"no bill", "weld", []job.Agreed{agreed}, cost.Bill{Currency: "EUR"}, "cost.supplement-no-bill", true},
		{"no route", "", []job.Agreed{agreed}, bill(20000, false), "cost.supplement-no-bill", true},
	} {
		in, _ := world()
		in.Job.Agreed = c.agreed
		r := routed("weld", "plate")
		r.Compare.Best = c.best
		for i := range r.Compare.Routes {
			r.Compare.Routes[i].Bill = c.bill
			r.Compare.Routes[i].Plan.Finish = today.AddDays(1)
		}
		got := supplementNotes(in, r)
		if c.code == "" && len(got) > 0 || c.code != "" && (len(got) != 1 || got[0].Code != c.code || got[0].Blocks() != c.blocks || got[0].Text == "") {
			t.Errorf("%s: %+v, want %s", c.name, got, c.code)
		}
		if c.code == "cost.supplement-no-bill" && !strings.Contains(got[0].Hint, "choose a route that is possible") {
			t.Errorf("%s: %q", c.name, got[0].Hint)
		}
	}
}
