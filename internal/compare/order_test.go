package compare

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// madeUp is a route of few figures, so that many are alike.
func madeUp(rng *rand.Rand, id string) Route {
	r := Route{ID: id, Name: "Route " + id, Feasible: rng.IntN(5) > 0, Items: []plan.Item{{Kind: []body.TreatmentKind{body.Weld, body.Dress}[rng.IntN(2)], Findings: []job.FindingID{"F1"}}}}
	r.Bill = cost.Bill{Currency: "EUR", Total: unit.Minor(100 * rng.IntN(3)), IsLoss: rng.IntN(3) == 0, Complete: rng.IntN(6) > 0}
	r.Plan.Calendar, r.Plan.WorkDays = 1+rng.IntN(3), rng.IntN(3)
	if rng.IntN(6) > 0 {
		r.Plan.Finish = unit.Date{Year: 2026, Month: 3, Day: 9}
	}
	for _, x := range []string{"Q1", "Q2"} {
		if rng.IntN(3) == 0 {
			r.Ask = append(r.Ask, x)
		}
	}
	if rng.IntN(4) == 0 {
		r.Measure = []string{"P1"}
	}
	if r.Open = len(r.Ask) + len(r.Measure); !r.Feasible {
		r.Excluded = "it is forbidden"
	}
	return r
}

// order is where a route belongs: what can be done, a total loss, the total loss itself, what is
// excluded; of each the fewest questions, then what has date and price, the least money, the fewest days.
func order(r Route) string {
	of := "0"
	switch {
	case !r.Feasible:
		of = "3"
	case r.ID == lossID:
		of = "2"
	case r.Bill.IsLoss:
		of = "1"
	}
	undated := 1
	if r.Bill.Complete && r.Plan.Finish != (unit.Date{}) {
		undated = 0
	}
	return fmt.Sprintf("%s %d %d %09d %d %s", of, r.Open, undated, r.Bill.Total, r.Plan.Calendar, r.ID)
}

// Routes stand in their order, the total loss first where every repair is one; the first that can be
// taken is the best; a route is beaten by one that is nowhere worse and somewhere better; what differs from the
// route before is told of repairs. Drawn.
func TestRanksByDefinitionSeeds(t *testing.T) {
	lost, beaten, none := 0, 0, 0
	for seed := range uint64(1000) {
		rng := rand.New(rand.NewPCG(seed, 61))
		var routes []Route
		for k := range 1 + rng.IntN(5) {
			routes = append(routes, madeUp(rng, fmt.Sprint("r", k)))
		}
		loss := Route{ID: lossID, Feasible: rng.IntN(4) > 0, Bill: cost.Bill{Complete: true}, Because: "value less salvage"}
		repairs := slices.Clone(routes)
		if rng.IntN(5) > 0 {
			routes = append(routes, loss)
		}
		rng.Shuffle(len(routes), func(a, b int) { routes[a], routes[b] = routes[b], routes[a] })
		want := slices.Clone(routes)
		slices.SortFunc(want, func(a, b Route) int { return strings.Compare(order(a), order(b)) })
		able, losses := 0, 0
		for _, r := range repairs {
			if r.Feasible {
				able++
				if r.Bill.IsLoss {
					losses++
				}
			}
		}
		if k := slices.IndexFunc(want, func(r Route) bool { return r.ID == lossID && r.Feasible }); k >= 0 && able > 0 && able == losses {
			want = slices.Concat([]Route{want[k]}, want[:k], want[k+1:])
			lost++
		}
		res := rank(routes)
		if got := ids(res); !slices.Equal(got, ids(Result{Routes: want})) {
			t.Fatalf("seed %d: %v, want %v", seed, got, ids(Result{Routes: want}))
		}
		best := ""
		if want[0].Feasible {
			best = want[0].ID
		} else {
			none++
		}
		if res.Best != best {
			t.Errorf("seed %d: the best is %q, want %q", seed, res.Best, best)
		}
		counts := func(r Route) bool { return r.ID != lossID && r.Feasible && order(r)[4] == '0' }
		for k, r := range res.Routes {
			by := ""
			for _, b := range res.Routes {
				if by == "" && counts(r) && counts(b) && b.Bill.Total <= r.Bill.Total && b.Plan.Calendar <= r.Plan.Calendar && b.Open <= r.Open && fmt.Sprint(b.Bill.Total, b.Plan.Calendar, b.Open) != fmt.Sprint(r.Bill.Total, r.Plan.Calendar, r.Open) {
					by = b.ID
					beaten++
				}
			}
			told := k > 0 && r.Feasible && r.ID != lossID && res.Routes[k-1].ID != lossID && res.Routes[k-1].Items[0].Kind != r.Items[0].Kind
			if r.Rank != k+1 || r.Dominated != by || (len(r.Changes) > 0) != told {
				t.Errorf("seed %d: %s has rank %d, beaten by %q, want %q; changes %v", seed, r.ID, r.Rank, r.Dominated, by, r.Changes)
			}
			if want := because(r, k == 0 && r.Feasible, leastOfAll); r.Because != want {
				t.Errorf("seed %d: %s stands there because %q, want %q", seed, r.ID, r.Because, want)
			}
		}
	}
	if lost < 30 || beaten < 150 || none < 5 {
		t.Errorf("%d times a total loss, %d beaten, %d without a best: the draws show little", lost, beaten, none)
	}
}

// Why a route stands where it stands, in our words.
func TestWhyARouteStandsThere(t *testing.T) {
	finish := plan.Plan{Finish: unit.Date{Year: 2026, Month: 3, Day: 9}, WorkDays: 2}
	bill := cost.Bill{Currency: "EUR", Total: 123456, Complete: true}
	for _, c := range []struct {
		r    Route
		best bool
		want string
	}{
		{Route{ID: lossID, Because: "as it is"}, true, "as it is"},
		{Route{Excluded: "a row forbids it"}, false, "excluded: a row forbids it"},
		{Route{Feasible: true, Plan: finish, Bill: bill}, true, "1,234.56 EUR, 2 working days; LEAST"},
		{Route{Feasible: true, Plan: plan.Plan{Finish: finish.Finish}, Bill: bill}, true, "1,234.56 EUR; LEAST"},
		{Route{Feasible: true, Plan: finish, Bill: bill, Open: 1, Ask: []string{"F1"}}, true, "1,234.56 EUR, 2 working days; waits for the manufacturer's answer on F1, the fewest open points of all routes"},
		{Route{Feasible: true, Plan: finish, Bill: bill, Open: 2, Ask: []string{"F1"}, Measure: []string{"P1"}, Dominated: "x"}, false, "1,234.56 EUR, 2 working days; waits for the manufacturer's answer on F1 and has to be measured or inspected first: P1"},
		{Route{Feasible: true, Plan: finish, Bill: bill, Dominated: "x"}, false, "1,234.56 EUR, 2 working days; x is no worse in money, days and questions"},
		{Route{Feasible: true, Plan: finish, Bill: bill, Dominated: "x", avoids: []string{"R1 cannot happen", "R2 cannot happen"}}, false, "1,234.56 EUR, 2 working days; x is no worse in money, days and questions, but here R1 cannot happen and R2 cannot happen"},
		{Route{Feasible: true, Plan: finish, Bill: bill}, false, "1,234.56 EUR, 2 working days; dearer than the route before it"},
		{Route{Feasible: true, Plan: finish, Bill: cost.Bill{Currency: "EUR", Total: 5}}, true, "0.05 EUR, 2 working days; a date or price is missing, so it comes after those that have both"},
		{Route{Feasible: true, Plan: plan.Plan{WorkDays: 1}, Bill: bill}, true, "1,234.56 EUR, 1 working day; a date or price is missing, so it comes after those that have both"},
		{Route{Feasible: true, Plan: finish, Bill: cost.Bill{Currency: "EUR", Complete: true, IsLoss: true}}, false, "0.00 EUR, 2 working days; dearer than the route before it; a total loss by the rule that applies"},
	} {
		if got := because(c.r, c.best, "LEAST"); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if list([]string(nil)) != "nothing" || list([]string{"a"}) != "a" || list([]string{"a", "b"}) != "a and b" || list([]string{"a", "b", "c"}) != "a, b and c" {
		t.Error("a list in words")
	}
}

// How much cheaper a route may be that was not looked at is told of the best one alone, and only where
// it is one of the figures.
func TestTheGapIsTold(t *testing.T) {
	route := func(id string, total unit.Minor) Route {
		return Route{ID: id, Feasible: true, Because: "B", Bill: cost.Bill{Currency: "EUR", Total: total, Complete: true}, Plan: plan.Plan{Finish: unit.Date{Year: 2026, Month: 3, Day: 9}}}
	}
	const found = "; the least money found of the routes that may start now; one that costs up to 10.00 EUR less (25.0 %) is not excluded"
	for _, c := range []struct {
		best   string
		first  Route
		unseen unit.Minor
		left   int
		want   string
	}{
		{"a", route("a", 4000), 0, 0, "40.00 EUR; " + leastOfAll}, {"a", route("a", 4000), 3000, 0, "40.00 EUR" + found}, {"a", route("a", 4000), 4000, 0, "40.00 EUR; " + leastOfAll}, {"a", route("a", 4000), 3999, 0, "40.00 EUR; the least money found of the routes that may start now; one that costs up to 0.01 EUR less"},
		{"a", route("a", 4000), 3000, 2, "40.00 EUR" + found + "; 2 section lines and castings were left out"}, {"a", route("a", 4000), 0, 1, "40.00 EUR; " + leastOfAll + "; 1 section lines and castings were left out"},
		{"", route("a", 4000), 3000, 2, "B"}, {lossID, route(lossID, 4000), 3000, 2, "B"},
	} {
		res := Result{Best: c.best, Routes: []Route{c.first, route("b", 1)}}
		(&finder{unseen: c.unseen, leftOut: c.left}).tellGap(&res)
		if got := res.Routes[0].Because; !strings.HasPrefix(got, c.want) || c.unseen != 3999 && got != c.want || res.Routes[1].Because != "B" {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// What blocks is told of the best route, and only that: no route, a total loss, open points.
func TestWhatBlocksIsTold(t *testing.T) {
	for _, c := range []struct {
		res  Result
		code string
	}{
		{Result{Best: "a", Routes: []Route{{ID: "a"}}}, ""}, {Result{Routes: []Route{{ID: "a", Open: 1}}}, "compare.no-route"},
		{Result{Best: lossID, Routes: []Route{{ID: lossID, Open: 1}, {ID: "a", Feasible: true}}}, "compare.total-loss"},
		{Result{Best: lossID, Routes: []Route{{ID: lossID, Open: 1, Feasible: true}}}, "compare.no-repair"}, {Result{Best: lossID, Routes: []Route{{ID: lossID, Feasible: true}, {ID: "a"}}}, "compare.no-repair"}, {Result{Best: "a", Routes: []Route{{ID: "a", Open: 1, Ask: []string{"F1"}}}}, "compare.open"},
	} {
		var notes []diag.Note
		tellBlocked(c.res, &notes)
		if len(notes) != min(1, len(c.code)) || len(notes) > 0 && (notes[0].Code != c.code || notes[0].Severity != diag.Blocking || notes[0].Where != "routes") {
			t.Errorf("%q: %+v", c.code, notes)
		}
	}
	note := func(code string, s diag.Severity) diag.Note {
		return diag.Note{Code: code, Where: "w", Text: "t", Severity: s}
	}
	said := map[string][]diag.Note{"a": {note("x", diag.Blocking), note("x", diag.Blocking)}, "b": {note("x", diag.Blocking), note("y", diag.Blocking), note("z", 0)}, "c": {note("y", diag.Blocking), note("q", diag.Caution)}}
	var got []string
	for _, n := range notesOf(Result{Best: "a", Routes: []Route{{ID: "a", Name: "A"}, {ID: "b", Name: "B"}, {ID: "c", Name: "C"}}}, said) {
		got = append(got, fmt.Sprint(n.Code, n.Severity, n.Text))
	}
	info := diag.Severity(0)
	want := []string{fmt.Sprint("x", diag.Blocking, "t"), fmt.Sprint("x", diag.Blocking, "t"), fmt.Sprint("y", diag.Caution, `on the route "B": t`), fmt.Sprint("z", min(info, diag.Caution), `on the route "B": t`), fmt.Sprint("q", diag.Caution, `on the route "C": t`)}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// The route of the total loss: whether a rule applies, and of which repair the rules are told.
func TestTheTotalLossItself(t *testing.T) {
	in := input(verdicts{"weld": yes})
	f := newFinder(in)
	done := plan.Plan{Finish: unit.Date{Year: 2026, Month: 3, Day: 9}}
	routes := []Route{{ID: "a", Name: "A", Bill: cost.Bill{Total: 1, Complete: true}, Plan: done}, {ID: "b", Name: "B", Feasible: true, Plan: done, Bill: cost.Bill{Total: 9, Complete: true}}, {ID: "c", Name: "C", Feasible: true, Plan: done, Bill: cost.Bill{Total: 5, Complete: true, IsLoss: true, Loss: []cost.Loss{{ID: "r"}}}}}
	r := f.totalLoss(routes)
	if !r.Feasible || r.Excluded != "" || !r.Bill.IsLoss || len(r.Bill.Loss) != 1 || !r.Bill.Complete || r.Because != `value 10,000.00 less salvage 1,000.00: 9,000.00 EUR are at stake; law and insurer decide; the rules are shown for the repair "C"` {
		t.Errorf("%+v", r)
	}
	if r = f.totalLoss(routes[:1]); r.Bill.IsLoss || strings.Contains(r.Because, "shown for") {
		t.Errorf("no repair: %+v", r)
	}
	in.Shop.TotalLoss = []shop.LossRule{{ID: "r"}}
	if r = newFinder(in).totalLoss(routes); r.Feasible || !strings.Contains(r.Excluded, "is marked as the one that applies") {
		t.Errorf("no rule applies: %+v", r)
	}
}

// How routes are held against an agreed bill: what bars each, and which come along.
func TestRoutesAsWays(t *testing.T) {
	step := plan.Plan{Steps: []plan.Step{{ID: "S-1"}}}
	all := []Route{{ID: "a", Name: "A", Feasible: true, Plan: step}, {ID: "b", Feasible: true}, {ID: "c", Plan: step, Because: "later"}, {ID: "d", Excluded: "no", Plan: step}, {ID: lossID, Feasible: true, Plan: step}}
	var got []string
	for _, w := range Ways(Result{Routes: all}, &job.State{Agreed: []job.Agreed{{Route: "a"}, {Route: "d"}}}, "c") {
		got = append(got, w.Route+":"+w.Bar)
	}
	if want := []string{"d:no", "a:", lossID + ":nothing is repaired"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if w := WayOf(all[2]); w.Bar != "later" {
		t.Errorf("%+v", w)
	}
	money := unit.Money{Minor: 5, Currency: "EUR"}
	j := &job.State{Agreed: []job.Agreed{{Number: 1, Route: "a", Total: money}, {Number: 2, Route: "d", Total: money}}}
	for _, c := range []struct {
		now  Route
		says string
	}{{all[0], "which is no longer possible (no)"}, {Route{}, "no route can be taken"}, {all[3], "there is no bill of route d: no"}} {
		c.now.Bill.Complete = c.now.ID == "a"
		s, ok := SupplementOf(Result{Routes: all}, c.now, &shop.Shop{Currency: "EUR"}, j)
		if !ok || s.Against != 2 || !strings.Contains(s.Because, c.says) {
			t.Errorf("%q: %v %q", c.says, ok, s.Because)
		}
	}
	if _, ok := SupplementOf(Result{Routes: all}, all[0], &shop.Shop{}, &job.State{}); ok {
		t.Error("nothing was agreed")
	}
}

// What routes and their parts are called.
func TestRoutesAreCalled(t *testing.T) {
	in := input(verdicts{"weld": yes}, verdicts{"swap": yes})
	f := newFinder(in)
	item := func(k body.TreatmentKind, id job.FindingID) plan.Item {
		return plan.Item{Kind: k, Findings: []job.FindingID{id}, Part: "bracket", Line: "S1"}
	}
	weld, plate, torn, leave, dress := item(body.Weld, "F1"), item(body.WeldBacking, "F1"), item(body.Weld, "F2"), item(body.Leave, "F1"), item(body.Dress, "F1")
	swap, renew := item(body.Exchange, "F2"), item(body.ReplacePart, "F2")
	for _, c := range []struct {
		items         []plan.Item
		alone, beside string
	}{
		{nil, "", ""}, {[]plan.Item{weld}, "Weld every crack", "Weld the rest"}, {[]plan.Item{plate}, "Weld every crack", "Weld the rest"}, {[]plan.Item{torn}, "Weld what needs it", "Weld the rest"}, {[]plan.Item{torn, swap}, "Weld what needs it, change bolted-on parts", "Weld the rest"},
		{[]plan.Item{weld, swap}, "Weld every crack, change bolted-on parts", "Weld the rest"}, {[]plan.Item{weld, renew}, "Weld every crack, change parts", "Weld the rest"}, {[]plan.Item{weld, leave}, "Weld what needs it", "Weld the rest"}, {[]plan.Item{weld, dress, swap}, "Weld every crack, change bolted-on parts", "Weld the rest"},
		{[]plan.Item{swap}, "Change bolted-on parts", "Change bolted-on parts"}, {[]plan.Item{renew, dress}, "Change parts, dress or leave the rest", "Change parts, dress or leave the rest"}, {[]plan.Item{leave}, "Leave every finding as it is", "Dress or leave the rest"}, {[]plan.Item{leave, dress}, "Dress or leave every finding", "Dress or leave the rest"},
	} {
		if a, b := f.restName(c.items, false), f.restName(c.items, true); a != c.alone || b != c.beside {
			t.Errorf("%q and %q, want %q and %q", a, b, c.alone, c.beside)
		}
	}
	s1, s2, front, rear := action{"S1", "front"}, action{"S2", "front"}, action{casting: "front"}, action{casting: "rear"}
	one := []string{"weld", "section-S1", "section-S1+S2", "new-casting", "section-S1+new-casting", "new-casting-front+rear"}
	names := []string{"Nothing can be done on this route", "Cut off at S1", "Cut off at S1 and S2", "New casting", "New casting, cut off at S1", "New front casting and rear casting"}
	for k, chosen := range [][]action{nil, {s1}, {s1, s2}, {front}, {s1, front}, {front, rear}} {
		if k == 5 {
			in.Body.Castings = append(in.Body.Castings, body.Casting{ID: "rear", Part: "beam", Name: "rear casting"})
		}
		if id, name := f.id(chosen), f.name(chosen, nil); id != one[k] || name != names[k] {
			t.Errorf("%v: %q, %q, want %q, %q", chosen, id, name, one[k], names[k])
		}
	}
	if id, name := f.id([]action{front, s1}), f.name([]action{front, s1}, []plan.Item{weld}); id != "section-S1+new-casting-front" || name != "New front casting, cut off at S1, weld the rest" {
		t.Errorf("%q, %q", id, name)
	}
	for it, want := range map[string]plan.Item{"section along S1": item(body.SectionOff, ""), "new casting": item(body.ReplaceCasting, ""), "exchange of bracket": swap, "replacement of bracket": renew, "weld": weld} {
		if got := itemName(want); got != it {
			t.Errorf("%q, want %q", got, it)
		}
	}
	was, is := Route{Items: []plan.Item{{Kind: body.Weld, Findings: []job.FindingID{"F2", "F10"}}, {Kind: body.Dress, Findings: []job.FindingID{"F3"}}}}, Route{Items: []plan.Item{{Kind: body.Dress, Findings: []job.FindingID{"F10", "F3", "F2", "F1"}}}}
	if got, want := changes(was, is), []string{"F1: dress instead of no treatment", "F2: dress instead of weld", "F10: dress instead of weld"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
