package report

import (
	"strings"
	"testing"
	"time"

	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
)

func owner(t testing.TB, in Input) string {
	t.Helper()
	page, err := Owner(in)
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

// toBegin is the fixture with nothing in the way of its best route.
func toBegin(t testing.TB) Input {
	in, r := startable(t)
	in.Compare.Routes[0], in.Compare.Best = r, r.ID
	return in
}

// The owner reads what was found, what it costs and what comes next, and no name that only
// the shop uses.
func TestOwnerReadsPlainWords(t *testing.T) {
	in := toBegin(t)
	in.Measure.Ambiguous = false
	page := owner(t, in)
	for _, want := range []string{"2 are no longer where they belong", "2 cracks; the longest is 71.6", "1 area missing", "Weld every crack. It takes 7 working days, from Wed 4 Mar 2026 to Thu 12 Mar 2026",
		"New parts: Left wing.", "4,474.40", "this is a repair and no total loss", "At 2 points the work stops", "INVENTED"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	_, body, _ := strings.Cut(page, "<body>")
	for _, code := range []string{"F1", "F2", "P1", "P9", "S-3", "T-weld", "J1", "new-casting"} {
		if strings.Contains(body, code) {
			t.Errorf("the page has the name %q", code)
		}
	}
}

// A risk that is settled is nothing that may turn up, and nobody is sent to look for it.
func TestSettledRiskIsNotToldAsOpen(t *testing.T) {
	in := toBegin(t)
	in.Compare.Spread = &compare.Spread{Left: []string{"RK-2: turned out well by I-1, so it no longer counts"}, Routes: []compare.RouteSpread{{Route: in.Compare.Best}}}
	in.Job.Risks = []job.Risk{{ID: "RK-1"}, {ID: "RK-2", Settled: "well", SettledBy: "I-1"}, {ID: "RK-3", Settled: "badly", SettledBy: "F1"}}
	if page := owner(t, in); !strings.Contains(page, "1 thing that may turn up") {
		t.Error("the owner reads another number of things that may turn up than the one that is open")
	}
	in.Job.Risks = in.Job.Risks[1:]
	if page := owner(t, in); strings.Contains(page, "may turn up on the way") {
		t.Error("the owner reads of things that may turn up though all are settled")
	}
	if p := buildSpread(in); len(p.Left) != 1 || len(p.Looks) != 0 {
		t.Errorf("the report tells %v and looks %v", p.Left, p.Looks)
	}
	for _, line := range nextSteps(in, pick{Route: in.Compare.Routes[0], Word: word{"", toneGood}}) {
		if strings.Contains(line, "look first") {
			t.Error(line)
		}
	}
}

// Whatever is in the way, the owner is not told that the work may begin; what is not known
// is told as that (constructed).
func TestOwnerFailsClosed(t *testing.T) {
	const begins = "if nothing else is found"
	if !strings.Contains(owner(t, toBegin(t)), begins) {
		t.Fatal("a route that may be worked on is held back")
	}
	for name, c := range map[string]struct {
		spoil func(*Input)
		want  string
	}{
		"a note that blocks":     {func(in *Input) { in.Notes = fixture(t).Notes }, "stand in the way of any work"},
		"a danger not made safe": {func(in *Input) { in.Job.Hazards = []job.Hazard{{Kind: "airbag", Text: "torn"}} }, "Stay away from it"},
		"decisions that forbid":  {func(in *Input) { in.Decide.Permits = false }, "may not begin yet"},
		"an open question": {func(in *Input) {
			r := &in.Compare.Routes[0]
			r.Open, r.Ask = 1, []string{"F1"}
		}, "1 question to the maker"},
		"an infeasible route":     {func(in *Input) { in.Compare.Routes[0].Feasible = false }, "may not begin yet"},
		"no route":                {func(in *Input) { in.Compare = compare.Result{} }, "no way to repair it that we can propose"},
		"no measurement":          {func(in *Input) { in.Measure = measure.Result{} }, "Nothing is known about whether it has moved"},
		"readings of two minds":   {func(in *Input) { in.Measure.Ambiguous = true }, "not certain yet"},
		"nothing inspected":       {func(in *Input) { in.Inspect.Coverage = nil }, "Not all of the casting has been inspected"},
		"a price that is missing": {func(in *Input) { in.Compare.Routes[0].Bill.Complete = false }, "a price is missing"},
		"no rule of total loss":   {func(in *Input) { in.Compare.Routes[0].Bill.Loss = nil }, "was not worked out"},
	} {
		t.Run(name, func(t *testing.T) {
			in := toBegin(t)
			c.spoil(&in)
			page := owner(t, in)
			if !strings.Contains(page, c.want) {
				t.Errorf("no %q", c.want)
			}
			stops := !strings.Contains("no measurement, readings of two minds, nothing inspected, a price that is missing, no rule of total loss", name)
			if stops && strings.Contains(page, begins) {
				t.Error("the owner is told that the work begins")
			}
		})
	}
	in := toBegin(t)
	in.Shop.Name, in.Body.Name, in.Compare.Routes[0].Name, in.Job.ID = nasty, nasty, nasty, nasty
	if page := owner(t, in); strings.Contains(page, "<script") || strings.Contains(page, "<img") {
		t.Error("text came through as markup")
	}
	if _, err := Owner(Input{}); err == nil {
		t.Error("a page about nothing")
	}
}

// Measured again after the repair, only a result in which every point is in tolerance reads
// as good (constructed).
func TestOwnerAfterTheRepair(t *testing.T) {
	in := toBegin(t)
	after := fixtureMeasure()
	in.After = &after
	if page := owner(t, in); !strings.Contains(page, "not every place is shown to be where it belongs yet") {
		t.Error("points out of tolerance, and the owner is told that all is well")
	}
}

// Looking first is advised only where nobody has chosen, the best route could be taken, and
// looking saves more than it costs (constructed).
func TestLookFirst(t *testing.T) {
	set := func() Input {
		in := toBegin(t)
		in.Compare.Spread = &compare.Spread{Looks: []compare.LookWorth{{Risks: []string{"R1"}, Minutes: 10, Worth: true, Text: "Spend 10 minutes.", To: []string{"new-casting"}}}}
		return in
	}
	in := set()
	text, first := lookFirst(in, picked(in))
	if want := "Spend 10 minutes. It may change to “New casting”."; !first || text != want {
		t.Errorf("%v %q, want %q", first, text, want)
	}
	if a := answerRoute(in, picked(in)); a.Word.Text != "look first" || a.Word.Tone == toneGood {
		t.Errorf("the answer is %v", a.Word)
	}
	if s := Summary(in, 80); !strings.Contains(s, "LOOK FIRST. Spend 10 minutes.") {
		t.Errorf("the summary is\n%s", s)
	}
	if n := nextSteps(in, picked(in)); n[0] != "Before deciding, look first, as 5 says: 10"+thin+"min." {
		t.Errorf("next: %q", n)
	}
	for name, spoil := range map[string]func(*Input){
		"not worth it":       func(in *Input) { in.Compare.Spread.Looks[0].Worth = false },
		"nothing to look":    func(in *Input) { in.Compare.Spread.Looks = nil },
		"no draws":           func(in *Input) { in.Compare.Spread = nil },
		"somebody chose":     func(in *Input) { in.Job.Choices = []job.Choice{chosen("weld")} },
		"it is not to begin": func(in *Input) { in.Decide.Permits = false },
	} {
		in := set()
		spoil(&in)
		if _, first := lookFirst(in, picked(in)); first {
			t.Errorf("%s: look first all the same", name)
		}
	}
}

// Afterwards only that is asked for which a treatment of the route asks for, or a row
// whatever is done; of a finding that the route leaves alone, everything (constructed).
func TestChecksOfTheRouteAlone(t *testing.T) {
	in := fixture(t)
	in.Decide.Findings = []decide.Finding{{ID: "F1", After: []string{"look at the weld", "look at the plate", "dry"}, Options: []decide.Option{
		{Kind: "weld", After: []string{"look at the weld"}}, {Kind: "section", Line: "S1", After: []string{"look at the plate"}}, {Kind: "section", Line: "S2", After: []string{"look at the weld"}}}}}
	for _, c := range []struct {
		items []plan.Item
		want  string
	}{
		{[]plan.Item{{Kind: "weld", Findings: []job.FindingID{"F1"}}}, "look at the weld|dry"},
		{[]plan.Item{{Kind: "section", Line: "S1", Findings: []job.FindingID{"F2", "F1"}}}, "look at the plate|dry"},
		{[]plan.Item{{Kind: "section", Line: "S2", Findings: []job.FindingID{"F1"}}}, "look at the weld|dry"},
		{[]plan.Item{{Kind: "dress", Findings: []job.FindingID{"F1"}}}, "dry"},
		{[]plan.Item{{Kind: "weld", Findings: []job.FindingID{"F2"}}}, "look at the weld|look at the plate|dry"},
	} {
		if got := strings.Join(afterChecks(in, compare.Route{Items: c.items}), "|"); got != c.want {
			t.Errorf("%v: %s, want %s", c.items, got, c.want)
		}
	}
}

// A vehicle whose odometer nobody read does not have 0 km.
func TestOdometerNotRead(t *testing.T) {
	in := fixture(t)
	in.Job.Vehicle.Odometer = 0
	page, err := HTML(in)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(page), "0"+thin+"km") || !strings.Contains(string(page), "odometer not read") {
		t.Error("a vehicle that nobody read has kilometres")
	}
}

// The annex is printed on demand, and the rest of the report is the same without.
func TestAnnexOnDemand(t *testing.T) {
	in := fixture(t)
	in.Meta.Made = time.Date(2026, 3, 3, 16, 5, 0, 0, time.UTC)
	short, err := HTML(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Full = true
	full, err := HTML(in)
	if err != nil {
		t.Fatal(err)
	}
	const annex = "<h3>Annex: what stands behind each finding</h3>"
	before, rest, found := strings.Cut(string(full), annex)
	if strings.Contains(string(short), annex) || !found || !strings.HasPrefix(string(short), strings.TrimSpace(before)) || !strings.Contains(rest, "<b>Facts:</b>") {
		t.Error("the annex is not what full adds")
	}
}
