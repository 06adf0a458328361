package compare

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/unit"
)

const (
	yes = decide.Allowed
	no  = decide.Forbidden
	ask = decide.Ask
	not = decide.Undecided
)

// Constructed at 60.00 an hour: two welds and the bench are 30 + 30 + 60 min =
// 120.00; cutting at S1 200 + 60 min and the horn 200.00 = 460.00; a new casting
// 100 + 60 + 120 min and 2,000.00 = 2,280.00.
func TestRoutesRanked(t *testing.T) {
	in := input(verdicts{"weld": yes, "S1": yes, "cast": yes}, verdicts{"weld": yes, "plate": yes, "S1": yes, "cast": yes})
	r, notes := Routes(in)
	if got := fmt.Sprint(ids(r)); got != "[weld section-S1 new-casting total-loss]" || r.Best != "weld" {
		t.Errorf("routes %s, best %s, notes %v", got, r.Best, notes)
	}
	for id, want := range map[string]unit.Minor{"weld": 12000, "section-S1": 46000, "new-casting": 228000} {
		if got := route(t, r, id).Bill.Total; got != want {
			t.Errorf("%s costs %s, want %s", id, got.Decimal(), want.Decimal())
		}
	}
	for id, want := range map[string]string{"weld": "Weld every crack", "section-S1": "Cut off at S1", "new-casting": "New casting", "total-loss": "Total loss"} {
		if got := route(t, r, id).Name; got != want {
			t.Errorf("%s is called %q, want %q", id, got, want)
		}
	}
	if c := route(t, r, "section-S1").Changes; len(c) != 2 || c[0] != "F1: section along S1 instead of weld" {
		t.Errorf("changes %v", c)
	}
	if d := route(t, r, "new-casting").Dominated; d != "weld" {
		t.Errorf("new casting is dominated by %q", d)
	}
	if w := route(t, r, "total-loss").Because; !strings.Contains(w, "9,000.00 EUR are at stake; law and insurer decide") {
		t.Errorf("total loss because %q", w)
	}
}

// Constructed: F2 may not be welded; the weld route is told with the reason,
// and S1 with F1 welded beside it is the best.
func TestForbiddenExcludesTheRoute(t *testing.T) {
	r, _ := Routes(input(verdicts{"weld": yes}, verdicts{"weld": no, "plate": no, "S1": yes, "S2": no}))
	w := route(t, r, "weld")
	if w.Feasible || !strings.Contains(w.Excluded, "F2 has no treatment on this route: weld is forbidden (row weld)") {
		t.Errorf("weld route %+v", w.Excluded)
	}
	if b := route(t, r, r.Best); b.ID != "section-S1" || b.Name != "Cut off at S1, weld the rest" || b.Rank != 1 {
		t.Errorf("best %s %q", b.ID, b.Name)
	}
	if last := r.Routes[len(r.Routes)-1]; last.ID != "weld" {
		t.Errorf("last is %s", last.ID)
	}
}

// Constructed: where welding F2 has to be asked, the weld route counts it as
// open; a route without questions is best although it is dearer.
func TestOpenQuestions(t *testing.T) {
	r, _ := Routes(input(verdicts{"weld": yes}, verdicts{"weld": not, "plate": ask, "S1": yes}))
	w := route(t, r, "weld")
	if !w.Feasible || w.Open != 1 || fmt.Sprint(w.OpenFor()) != "[F2]" || r.Best != "section-S1" {
		t.Errorf("weld route %+v, best %s", w, r.Best)
	}
	if w.Bill.Total >= route(t, r, r.Best).Bill.Total {
		t.Error("the test shows nothing: the weld route is not cheaper")
	}
	r, notes := Routes(input(verdicts{"weld": yes}, verdicts{"weld": ask}))
	if r.Best != "weld" || !slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "compare.open" && n.Severity == diag.Blocking }) {
		t.Errorf("best %s, notes %v", r.Best, notes)
	}
	// nothing speaks of the finding: it is asked for all the same
	r, _ = Routes(input(verdicts{}))
	if w := route(t, r, "weld"); w.Open != 1 || !w.Items[0].Open {
		t.Errorf("a finding without options is not open: %+v", w)
	}
}

// Constructed: a line that only covers what another covers makes no route; two
// lines that cover different findings do.
func TestSubsetsOfLines(t *testing.T) {
	r, _ := Routes(input(verdicts{"S1": yes, "weld": yes}, verdicts{"S2": yes, "weld": yes}))
	if got := ids(r); !slices.Contains(got, "section-S1+S2") || !slices.Contains(got, "section-S2") {
		t.Errorf("routes %v", got)
	}
	r, _ = Routes(input(verdicts{"S1": yes, "S2": yes, "weld": yes}))
	if got := ids(r); slices.Contains(got, "section-S1+S2") {
		t.Errorf("routes %v", got)
	}
}

// Constructed: along S1 one crack may be cut off, the other only if the manufacturer says so. The
// route makes one cut with one new piece, and all of it waits: 200 + 60 minutes and the horn, 460.00.
func TestOneCutForWhatIsAllowedAndWhatIsAsked(t *testing.T) {
	for _, verdict := range []decide.Verdict{ask, not} {
		r, _ := Routes(input(verdicts{"S1": yes}, verdicts{"S1": verdict}))
		x := route(t, r, "section-S1")
		if len(x.Items) != 1 || len(x.Items[0].Findings) != 2 || !x.Items[0].Open || x.Bill.Total != 46000 || fmt.Sprint(x.OpenFor()) != "[F2]" {
			t.Errorf("%+v, %s, open for %v", x.Items, x.Bill.Total.Decimal(), x.OpenFor())
		}
		for _, l := range x.Plan.Lost {
			if l.Quantity != 1 {
				t.Errorf("%d of %s", l.Quantity, l.Part)
			}
		}
	}
}

// Constructed: a vehicle worth 150.00 is a total loss by the rule (120.00 is 80 %).
func TestTotalLossIsBest(t *testing.T) {
	in := input(verdicts{"weld": yes}, verdicts{"weld": yes})
	in.Job.Vehicle.Value = eur(15000)
	r, notes := Routes(in)
	if r.Best != "total-loss" || r.Routes[0].ID != "total-loss" || !route(t, r, "weld").Bill.IsLoss {
		t.Errorf("best %s of %v", r.Best, ids(r))
	}
	if !slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "compare.total-loss" }) {
		t.Errorf("notes %v", notes)
	}
	in.Shop.TotalLoss[0].Applies = false
	if r, _ = Routes(in); r.Best != "weld" || route(t, r, "total-loss").Feasible {
		t.Errorf("without a rule that applies: best %s", r.Best)
	}
}

// Constructed: no finding, nothing to do.
func TestNothingToDo(t *testing.T) {
	r, notes := Routes(input())
	if len(r.Routes) != 1 || r.Best != "nothing" || r.Routes[0].Bill.Total != 0 || len(notes) != 0 {
		t.Errorf("%+v %v", r, notes)
	}
}

// Constructed: cracks that count as one are treated by one item; if one of them
// may not be welded, none may.
func TestGroupIsTreatedTogether(t *testing.T) {
	in := input(verdicts{"weld": yes, "plate": yes}, verdicts{"weld": no, "plate": yes}, verdicts{"swap": yes})
	in.Inspect.Groups = []inspect.Group{{ID: "G1", Findings: []job.FindingID{"F1", "F2"}, LengthMM: 70}}
	r, _ := Routes(in)
	w := route(t, r, "weld")
	if len(w.Items) != 2 || w.Items[0].Kind != body.WeldBacking || len(w.Items[0].Findings) != 2 || w.Items[1].Kind != body.Exchange || w.Items[1].Part != "bracket" {
		t.Errorf("items %+v", w.Items)
	}
	if w.Name != "Weld every crack, change bolted-on parts" {
		t.Errorf("name %q", w.Name)
	}
}

// Laws: the order of the input changes nothing; one more finding never makes
// the best repair cheaper; no forbidden treatment is ever used.
func TestRouteLawsSeeds(t *testing.T) {
	for seed := range uint64(draws(60, 120)) {
		rng := rand.New(rand.NewPCG(seed, 31))
		var vs []verdicts
		for range 1 + rng.IntN(4) {
			v := verdicts{}
			for _, k := range []string{"weld", "plate", "S1", "S2", "cast"} {
				if rng.IntN(3) > 0 {
					v[k] = decide.Verdict(rng.IntN(4))
				}
			}
			vs = append(vs, v)
		}
		in := input(vs...)
		r, _ := Routes(in)
		noForbidden(t, seed, in, r)
		turned := input(vs...)
		slices.Reverse(turned.Job.Findings)
		slices.Reverse(turned.Inspect.Findings)
		slices.Reverse(turned.Decide.Findings)
		slices.Reverse(turned.Body.Lines)
		q, _ := Routes(turned)
		x, _ := json.Marshal(r)
		y, _ := json.Marshal(q)
		if string(x) != string(y) {
			t.Errorf("seed %d: another order of input gives other routes:\n%s\n%s", seed, x, y)
		}
		more, _ := Routes(input(append(vs, verdicts{"weld": yes})...))
		if a, b := cheapest(r), cheapest(more); a >= 0 && b >= 0 && b < a {
			t.Errorf("seed %d: one more finding costs less: %d, then %d", seed, a, b)
		}
	}
}

// cheapest is the least money of the repair routes, -1 when there is none.
func cheapest(r Result) unit.Minor {
	best := unit.Minor(-1)
	for _, x := range r.Routes {
		if x.Feasible && x.ID != lossID && (best < 0 || x.Bill.Total < best) {
			best = x.Bill.Total
		}
	}
	return best
}

func noForbidden(t *testing.T, seed uint64, in Input, r Result) {
	t.Helper()
	for _, x := range r.Routes {
		for _, it := range x.Items {
			for _, f := range it.Findings {
				for _, o := range decided(in, f).Options {
					if x.Feasible && o.Kind == it.Kind && o.Line == it.Line && o.Verdict == no {
						t.Errorf("seed %d: route %s does to %s what is forbidden: %s", seed, x.ID, f, it.Kind)
					}
				}
			}
		}
		if x.Feasible && x.ID != lossID && x.Open == 0 {
			for _, it := range x.Items {
				if it.Open {
					t.Errorf("seed %d: route %s hides an open item", seed, x.ID)
				}
			}
		}
	}
}

func BenchmarkRoutes40Findings(b *testing.B) {
	var vs []verdicts
	for i := range 40 {
		v := verdicts{"weld": yes, "plate": yes, "cast": yes}
		if i%3 == 0 {
			v["S1"] = yes
		}
		if i%4 == 0 {
			v["S2"] = yes
		}
		vs = append(vs, v)
	}
	in := input(vs...)
	for b.Loop() {
		Routes(in)
	}
}
