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
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// waiting is a random job of which some treatments wait for a better measurement.
func waiting(seed uint64) Input {
	in := randomShared(seed, 4)
	rng := rand.New(rand.NewPCG(seed, 66))
	for i := range in.Decide.Findings {
		o := in.Decide.Findings[i].Options
		for k := range o {
			if rng.IntN(3) == 0 && len(o) > 1 && o[k].Kind != body.WeldBacking {
				o[k].Verdict = not
			}
		}
	}
	return in
}

// everyPick is every mix of a candidate's choices, planned and priced.
func everyPick(f *finder, c candidate) []Route {
	picks := [][]choice{nil}
	for _, s := range c.slots {
		var next [][]choice
		for _, p := range picks {
			for _, o := range s.options {
				next = append(next, append(slices.Clip(p), o))
			}
		}
		picks = next
	}
	var out []Route
	for _, p := range picks {
		x := f.with(c, p)
		r := Route{Items: x.items, Open: len(x.ask) + len(x.measure), Feasible: true}
		r.Plan, _ = plan.Build(f.planInput(x.items))
		r.Bill, _ = cost.Price(r.Plan, f.in.Body, f.in.Shop, f.in.Job)
		out = append(out, r)
	}
	return out
}

// Where the effort of the search is spent, and where there are too many mixes for it, the treatments are
// chosen together: by planning every mix, what is told of the least money is never above it, a mix that is
// called proven costs no more than the least but for the rounding of lines, and nothing that is kept is
// beaten.
func TestChosenTogetherAgainstEveryMixSeeds(t *testing.T) {
	proven, waits := 0, 0
	for seed := range uint64(draws(8, 60)) {
		in := waiting(seed)
		in.Shop.Storage = eur(unit.Minor(500 * (seed % 2)))
		f := newFinder(in)
		c := f.candidate(nil)
		if c.excluded != "" || len(c.slots) == 0 {
			continue
		}
		all := everyPick(f, c)
		least, settled := all[0].Bill.Total, unit.Minor(-1)
		for _, r := range all {
			least = min(least, r.Bill.Total)
			if openItems(r) == 0 && (settled < 0 || r.Bill.Total < settled) {
				settled = r.Bill.Total
			}
		}
		if settled < 0 {
			continue
		}
		if settled > least {
			waits++
		}
		proved := f.search(c, mixProofs)
		proved.prove()
		together := f.begin(c, 0)
		together.straight(true)
		quickOnly := f.begin(c, 5)
		quickOnly.straight(false)
		for what, h := range map[string]*hunt{"proved": proved, "together": together, "without the quickest": quickOnly} {
			bound := least
			if what != "proved" {
				bound = settled
			}
			if seed%2 == 0 && h.leastMoney+h.rounding() < bound { // without storage no line is rounded, and the bound is met
				t.Errorf("seed %d, %s: at least %d, there is none below %d", seed, what, h.leastMoney, bound)
			}
			if h.leastMoney > bound || len(h.front) == 0 {
				t.Errorf("seed %d, %s: at least %d, there is one of %d; %d kept", seed, what, h.leastMoney, bound, len(h.front))
				continue
			}
			cheapest := slices.MinFunc(h.front, func(a, b Route) int { return int(a.Bill.Total - b.Bill.Total) })
			if h.proven {
				proven++
				if !slices.ContainsFunc(h.front, func(r Route) bool { return openItems(r) == 0 && r.Bill.Total <= bound+h.rounding() }) {
					t.Errorf("seed %d, %s: proven at %d, there is one of %d", seed, what, cheapest.Bill.Total, bound)
				}
			}
			if what == "together" && h.proven && cheapest.Bill.Total > least+h.rounding() {
				t.Errorf("seed %d: with what is open %d is the least, there is one of %d", seed, cheapest.Bill.Total, least)
			}
			if what == "together" && h.leastDays > slices.MinFunc(all, func(a, b Route) int { return a.Plan.Calendar - b.Plan.Calendar }).Plan.Calendar {
				t.Errorf("seed %d: at least %d days", seed, h.leastDays)
			}
			for i, r := range h.front {
				if slices.ContainsFunc(h.front[:i], func(q Route) bool { return noWorse(q, r) }) {
					t.Errorf("seed %d, %s: a mix is kept that another beats", seed, what)
				}
			}
		}
	}
	if proven < 8 || waits < 1 {
		t.Errorf("%d proven, %d times cheaper with what is open: the draws show little", proven, waits)
	}
}

// Packs that too many may be needed of are not chosen one by one: their price is told by what is used up, and
// up to so many they are.
func TestPacksOfAMaterial(t *testing.T) {
	for _, c := range []struct {
		fixed  float64
		use    []float64
		packs  int
		bought int64
		ok     bool
	}{
		{0, []float64{0, 2.5}, 3, 0, true}, {1.5, []float64{0.25, 2.75}, 3, 20, true}, {0, []float64{1, 61}, 60, 10, true}, {0, []float64{1, 61.5}, 0, 0, false}, {2, []float64{3, 3}, 0, 50, true}, {-1, []float64{0.5, 0.5}, 0, 10, true}, {0, []float64{0, 0}, 0, 0, true}, {3000, []float64{0, 1}, 0, 0, false},
	} {
		sh := plan.Sharing{}
		q := newJointly(&sh)
		a, b := q.Add(0), q.Add(0)
		bought, ok := q.stock(10, c.fixed, [][]int{{a, b}}, map[int]float64{a: c.use[0], b: c.use[1]})
		n := len(q.Cost) - 2
		if bought != c.bought || ok != c.ok || n != c.packs || len(q.Stocks) != map[bool]int{true: 1}[ok] || len(q.Needs) != max(0, n-1) {
			t.Errorf("%+v: %d packs, bought %d, %v, %d needs", c, n, bought, ok, len(q.Needs))
		}
	}
}

// Findings of a group of two or more are treated together, each once, whatever groups they are in; the
// others alone, also those that nobody decided; in the order in which people count.
func TestWhatIsTreatedTogether(t *testing.T) {
	in := Input{Job: &job.State{}}
	for k, kind := range []body.FindingKind{"crack", "torn", "crack", "dent", "crack"} {
		in.Job.Findings = append(in.Job.Findings, job.Finding{ID: job.FindingID(fmt.Sprint("F", 12-k)), Kind: kind, Part: body.PartID(fmt.Sprint("p", 12-k))})
	}
	in.Decide.Findings = []decide.Finding{{ID: "F12"}, {ID: "F8"}, {ID: "F8"}}
	in.Inspect.Findings = []inspect.Finding{{ID: "F9", Casting: "front"}}
	in.Inspect.Groups = []inspect.Group{{ID: "G2", Findings: []job.FindingID{"F10", "F9"}}, {ID: "G1", Findings: []job.FindingID{"F11", "F10"}}, {ID: "G3", Findings: []job.FindingID{"F8"}}, {ID: "G4", Findings: []job.FindingID{"F11", "F9"}}}
	var got []string
	for _, w := range wards(in) {
		got = append(got, fmt.Sprintf("%v %s %s %v", w.findings, w.part, w.casting, w.kinds))
	}
	want := []string{"[F8] p8  [crack]", "[F9] p9 front [dent]", "[F10 F11] p10  [torn crack]", "[F12] p12  [crack]"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// A mix that avoids something is kept unless one that is known is no worse, waits for nothing else and is
// concerned by no other risk.
func TestWhichSparingMixesAreKept(t *testing.T) {
	finish := plan.Plan{Finish: unit.Date{Year: 2026, Month: 3, Day: 9}, Calendar: 5}
	route := func(total unit.Minor, kind body.TreatmentKind, open ...string) Route {
		return Route{Feasible: true, Plan: finish, Bill: cost.Bill{Total: total, Complete: true}, Items: []plan.Item{{Kind: kind, Findings: []job.FindingID{"F1"}}}, Ask: open, Open: len(open)}
	}
	f := &finder{in: Input{Job: &job.State{Risks: []job.Risk{{ID: "R", About: "F1", Spared: []body.TreatmentKind{body.Dress}}}}}}
	for name, c := range map[string]struct {
		known, new Route
		kept       bool
	}{
		"the same":               {route(5, body.Dress), route(5, body.Dress), false},
		"dearer":                 {route(5, body.Dress), route(6, body.Dress), false},
		"cheaper":                {route(5, body.Dress), route(4, body.Dress), true},
		"spares the risk":        {route(5, body.Weld), route(6, body.Dress), true},
		"is at risk":             {route(5, body.Dress), route(6, body.Weld), false},
		"waits for another":      {route(5, body.Dress, "F1"), route(6, body.Dress, "F2"), true},
		"waits for more":         {route(5, body.Dress, "F1"), route(6, body.Dress, "F1", "F2"), false},
		"waits for less, dearer": {route(5, body.Dress, "F1"), route(6, body.Dress), true},
	} {
		for _, front := range []bool{true, false} {
			h, from := &hunt{f: f, said: map[string][]diag.Note{}}, &hunt{}
			if front {
				h.front = []Route{c.known}
			} else {
				h.spares = []Route{c.known}
			}
			before := len(h.spares)
			h.keep(c.new, from, []dread{{without: "R cannot happen"}})
			if kept := len(h.spares) > before; kept != c.kept || kept && fmt.Sprint(h.spares[before].avoids) != "[R cannot happen]" {
				t.Errorf("%s: kept %v", name, kept)
			}
		}
	}
}

// The question about a control point is complete: place, what was measured and how surely, by what.
func TestQuestionAboutAPoint(t *testing.T) {
	in := Input{Body: &body.Body{Name: "Body", ID: "B", Revision: "3", Parts: []body.Part{{ID: "rail", Name: "Rail"}}, Points: []body.Point{{ID: "P1", Name: "front hole", Part: "rail", X: 1, Y: -2.25, Z: 3}, {ID: "P2", Part: "none"}}},
		Job: &job.State{ID: "J", Vehicle: job.Vehicle{VIN: "V", Built: unit.Date{Year: 2025, Month: 1, Day: 2}},
			Setups:   []job.Setup{{ID: "S1", Device: "arm", Stage: job.StageBefore, On: unit.Date{Year: 2026, Month: 3, Day: 2}}, {ID: "S2", Device: "arm", Stage: job.StageAfter}, {ID: "S3", Device: "tape", Stage: job.StageBefore}, {ID: "S4", Device: "bar", Stage: job.StageBefore, On: unit.Date{Year: 2026, Month: 3, Day: 3}}},
			Readings: []job.Reading{{Setup: "S1", From: "P1"}, {Setup: "S2", From: "P1"}, {Setup: "S3", From: "P2"}, {Setup: "S4", From: "P2", To: "P1"}}}}
	m := measure.Result{Hypotheses: []measure.Hypothesis{{Points: []measure.PointResult{{ID: "P1", FromNominal: geom.Vec{1, -0.5, 0}, FromNominalStd: geom.Vec{0.5, 0.25, 1}, Tolerance: measure.NotMet, Probability: 0.25, Limit: "1 mm", Needs: "a better device"}, {ID: "P2", Limit: "2 mm", Tolerance: measure.Met, Probability: 1}, {ID: "P3"}}}}}
	for id, want := range map[body.PointID]string{
		"P1": `Vehicle V, built 2025-01-02; body Body (B), data revision 3; job J.
Control point P1 (front hole) on Rail (rail), measured before the repair.
- published place: x 1.0, y -2.2, z 3.0 mm, limit 1 mm
- measured off it by: x +1.0 ± 1.0, y -0.5 ± 0.5, z 0.0 ± 2.0 mm (expanded uncertainty, k = 2)
- within its limit: not met, with a probability of 25.0 %
- not decided: a better device
- set-ups: S1 (arm, 2026-03-02), S4 (bar, 2026-03-03)
We propose to leave the point as it is. May this be done? Please answer with the document, the conditions and the day until which the answer holds.`,
		"P2": `Vehicle V; body Body (B), data revision 3; job J.
Control point P2, measured before the repair.
- published place: x 0.0, y 0.0, z 0.0 mm, limit 2 mm
- measured off it by: x 0.0 ± 0.0, y 0.0 ± 0.0, z 0.0 ± 0.0 mm (expanded uncertainty, k = 2)
- within its limit: met, with a probability of over 99.9 %
- set-ups: S3 (tape, ), S4 (bar, 2026-03-03)
We propose to leave the point as it is. May this be done? Please answer with the document, the conditions and the day until which the answer holds.`,
		"P3": "", "P4": "",
	} {
		if id == "P2" {
			in.Job.Vehicle.Built = unit.Date{}
		} else {
			in.Job.Vehicle.Built = unit.Date{Year: 2025, Month: 1, Day: 2}
		}
		if got, ok := PointText(in, m, job.StageBefore, id); got != want || ok != (want != "") {
			t.Errorf("%s: %v\n%s\nwant\n%s", id, ok, got, want)
		}
	}
	if _, ok := PointText(in, measure.Result{}, job.StageBefore, "P1"); ok {
		t.Error("nothing was measured, and it is asked about")
	}
}

// What packs add to the price of a choice, by hand at 10.00 a pack: what is bought whatever is chosen less the
// weight that what is sure has already; of too many the share of a pack that each treatment uses up.
func TestPriceOfPacks(t *testing.T) {
	sure, some, more := plan.Item{Treatment: "sure"}, plan.Item{Treatment: "some"}, plan.Item{Treatment: "more"}
	for _, c := range []struct {
		fixed, some, more float64
		sum, cost         int64 // and of the second treatment
	}{{1.5, 2.25, 2.75, 4000 - 1500, 0}, {0.25, 0, 100, 0, 100000}, {0, 0.1, 61.237, 0, 61237}, {2, 0, 0, 0, 0}} {
		f := &finder{packed: []plan.Packed{{Price: 1000}}, known: map[string]choice{key([]plan.Item{sure}): {used: []float64{c.fixed}}}}
		h := &hunt{f: f, c: candidate{items: []plan.Item{sure}}}
		sh := plan.Sharing{}
		q := newJointly(&sh)
		a, b := q.Add(0), q.Add(0)
		sum := h.packs(q, [][]int{{a, b}}, map[int]choice{a: {item: some, used: []float64{c.some}}, b: {item: more, used: []float64{c.more}}})
		if sum != c.sum || q.Cost[b] != c.cost {
			t.Errorf("%+v: %d, and the second treatment %d", c, sum, q.Cost[b])
		}
	}
}

// What can be avoided is what some treatment of a finding is concerned by and another one is not: a risk of
// the finding, or of the whole job, and an open point.
func TestWhatCanBeAvoided(t *testing.T) {
	option := func(kind body.TreatmentKind, id job.FindingID, open bool) choice {
		return choice{item: plan.Item{Kind: kind, Findings: []job.FindingID{id}, Open: open}}
	}
	weld, dress, waits := option(body.Weld, "F1", false), option(body.Dress, "F1", false), option(body.Dress, "F1", true)
	other, same := option(body.Weld, "F2", false), option(body.Dress, "F2", false)
	risk := func(id, about string) job.Risk {
		return job.Risk{ID: id, About: about, Spared: []body.TreatmentKind{body.Dress}}
	}
	for _, c := range []struct {
		slots []slot
		want  string
	}{
		{[]slot{{[]choice{weld, dress}}, {[]choice{other}}}, "R1 cannot happen, R0 cannot happen"},
		{[]slot{{[]choice{weld}}, {[]choice{other, same}}}, "R2 cannot happen, R0 cannot happen"},
		{[]slot{{[]choice{weld}}, {[]choice{other}}}, ""},
		{[]slot{{[]choice{dress}}, {[]choice{same}}}, ""},
		{[]slot{{[]choice{dress}}, {[]choice{other}}}, "R0 cannot happen"},
		{[]slot{{[]choice{dress, waits}}, {[]choice{same}}}, "R1 cannot happen, F1 need not be settled first"},
		{[]slot{{[]choice{waits}}, {[]choice{same}}}, ""},
	} {
		f := &finder{in: Input{Job: &job.State{Risks: []job.Risk{risk("R1", "F1"), risk("R2", "F2"), risk("R0", "")}}}, wards: []ward{{findings: []job.FindingID{"F1"}}, {findings: []job.FindingID{"F2"}}}}
		h := &hunt{f: f, c: candidate{slots: c.slots}}
		got := ""
		for _, x := range h.avoidable() {
			if got != "" {
				got += ", "
			}
			got += x.without
		}
		if got != c.want {
			t.Errorf("%+v: %q, want %q", c.slots, got, c.want)
		}
	}
}
