package report

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
)

// TestNoHeadStandsOverNothing: whatever is not on record, no table is printed with its heads alone,
// and no list without an entry.
func TestNoHeadStandsOverNothing(t *testing.T) {
	for name, take := range map[string]func(*Input){
		"as it is": func(*Input) {},
		"without a place": func(in *Input) {
			for i := range in.Inspect.Findings {
				in.Inspect.Findings[i].Path, in.Inspect.Findings[i].Length, in.Inspect.Findings[i].Zones, in.Inspect.Findings[i].Located = nil, nil, nil, false
			}
		},
		"nothing found": func(in *Input) { in.Inspect = inspect.Result{} },
		"no procedure":  func(in *Input) { in.Body.Procedures = nil },
		"no steps":      func(in *Input) { in.Compare.Routes[0].Plan = plan.Plan{} },
		"no points":     func(in *Input) { in.Body.Points, in.Measure.Hypotheses = []body.Point{}, nil },
		"measured again": func(in *Input) {
			after := in.Measure
			in.After = &after
			in.Progress = []measure.Progress{{From: job.StageBefore, To: job.StageAfter, Points: []measure.PointProgress{{ID: "P1", Was: measure.Met, Is: measure.Met, Answer: "stayed in tolerance"}}}}
		},
	} {
		in := fixture(t)
		take(&in)
		page := readPage(t, render(t, in))
		for _, what := range []string{"table", "ul", "ol"} {
			for _, e := range page.all(what, "") {
				if of := map[string]string{"table": "td", "ul": "li", "ol": "li"}[what]; len(e.all(of, "")) == 0 {
					t.Errorf("%s: an empty %s %s: %v", name, what, e.class, textOf([]*drawn{e}))
				}
			}
		}
	}
}

// TestPiecesArePlural: counts and parts of pieces read as English has them; an amount is not said twice.
func TestPiecesArePlural(t *testing.T) {
	for want, v := range map[string]float64{"1 piece": 1, "8 pieces": 8, "8.64 pieces": 8.64, "0.5 pieces": 0.5} {
		if got := plainSpaces(amount(v, "piece")); got != want {
			t.Errorf("%v: %q, want %q", v, got, want)
		}
	}
	for want, l := range map[string]plan.TakeoffLine{"8 pieces": {Formula: "8 piece", Amount: 8}, "1 piece": {Formula: "1 piece", Amount: 1}, "2 x 3 = 6 pieces": {Formula: "2 x 3", Amount: 6}, "1 + 1 = 2": {Formula: "1 + 1 = 2", Amount: 2}} {
		if got := plainSpaces(formulaText(l, "piece")); got != want {
			t.Errorf("%v: %q, want %q", l, got, want)
		}
	}
}
