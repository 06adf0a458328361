package explain

import (
	"strings"
	"testing"

	"fettle/internal/compare"
	"fettle/internal/job"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// What is said of a risk follows how it turned out: an open one may cost and bar, its look is
// told; a settled one does neither, and what turned out badly and bars is forbidden.
func TestExplainOfASettledRisk(t *testing.T) {
	m := unit.Money{Minor: 40000, Currency: "EUR"}
	k := job.Risk{ID: "RK-1", Text: "The crack runs on", About: "D1", Low: m, Likely: m, High: m, Bars: true, By: "W2"}
	look := compare.Result{Spread: &compare.Spread{Looks: []compare.LookWorth{{Risks: []string{"RK-1"}, Text: "Spend 20 minutes"}}}}
	for _, c := range []struct {
		settled string
		bars    bool
		r       compare.Result
		want    []string
		not     []string
	}{
		{"", true, look, []string{"If so: 400.00 EUR", "cannot then be finished", "Spend 20 minutes"}, []string{"turned out"}},
		{"well", true, compare.Result{}, []string{"It turned out well, by PT1"}, []string{"If so", "cannot", "Spend", "forbidden"}},
		{"badly", true, compare.Result{}, []string{"It turned out badly, by PT1: what it concerns is forbidden"}, []string{"If so", "Spend", "average"}},
		{"badly", false, compare.Result{}, []string{"its amounts no longer count"}, []string{"If so", "forbidden"}},
	} {
		k.Settled, k.Bars = job.Outcome(c.settled), c.bars
		if c.settled != "" {
			k.SettledBy = "PT1"
		}
		x := explainRisk(report.Input{Job: &job.State{Risks: []job.Risk{k}}, Compare: c.r}, "RK-1")
		text := x.Text
		for _, u := range x.Under {
			text += "\n" + u.Text
		}
		for _, w := range c.want {
			if !strings.Contains(text, w) {
				t.Errorf("%q: no %q in %s", c.settled, w, text)
			}
		}
		for _, w := range c.not {
			if strings.Contains(text, w) {
				t.Errorf("%q: %q in %s", c.settled, w, text)
			}
		}
	}
}
