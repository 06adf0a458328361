package app

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/demo"
	"fettle/internal/explain"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// TestWhatRecordsPrintCanBeAsked: another route was agreed than the one shown, and two
// steps are recorded. The supplement, the report that holds it, the history and what is
// said of an answer on record print no name and no figure that explain does not know.
func TestWhatRecordsPrintCanBeAsked(t *testing.T) {
	m := files()
	a, c, r := demonstrated(t, demo.Job)
	i := slices.IndexFunc(r.Compare.Routes, func(x compare.Route) bool { return x.ID != r.Compare.Best && len(x.Bill.Lines) > 0 })
	entry, err := a.Agreement(c, r, r.Compare.Routes[i], "desk", unit.DateOf(demo.Day))
	if err != nil {
		t.Fatal(err)
	}
	entry += "actuals:\n" // for the history: what a person may do who works as is asked for, one step of it by its length
	steps := r.Compare.Routes[i].Plan.Steps
	long := slices.IndexFunc(steps, func(s plan.Step) bool { return lengthOf(c, s) > 0 })
	if long < 1 {
		t.Fatal("no step is reckoned by a length")
	}
	for k, s := range []plan.Step{steps[0], steps[long]} {
		by := slices.IndexFunc(c.Shop.People, func(p shop.Person) bool { return slices.Contains(p.Skills, s.Skill) })
		entry += fmt.Sprintf("  - {id: W-%d, step: %q, planned: %.0f min, minutes: %.0f min, by: %s, on: 2026-11-25}\n", k+1, s.Ref, s.Minutes, s.Minutes+3, c.Shop.People[by].ID)
	}
	file := demo.Job + "/" + job.MainFile
	m[file] = append(slices.Clone(m[file]), entry...)
	a, c, r = openAssessed(t, m, demo.Job)
	n := namesFor(a, c, r)
	s, ok := compare.SupplementOf(r.Compare, n.ShownRoute(), c.Shop, c.Job)
	if !ok || len(s.Lines) == 0 || len(s.Away) == 0 || len(s.New) == 0 {
		t.Fatalf("no supplement to read: %+v", s)
	}
	var b strings.Builder
	supplementText(&b, plain, &s)
	page, err := a.Report(t.Context(), c, r, true)
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string]string{"supplement": b.String(), "report": pageText(page)}
	for _, x := range c.Job.Answers {
		e := c.Job.Evidence[slices.IndexFunc(c.Job.Evidence, func(e job.Evidence) bool { return e.ID == x.Document })]
		texts["answer "+x.ID] = answerWords(x, e)
	}
	if len(texts) < 3 {
		t.Fatal("no answer is on record")
	}
	for of, text := range texts {
		for _, name := range identities(text) {
			if len(n.Find(name)) == 0 {
				t.Errorf("%s prints %q; explain knows nothing of it", of, name)
			}
		}
		for _, f := range printedFigure.FindAllString(text, -1) {
			if f = strings.TrimRight(f, " .,;)"); !hasFigure(n, f) {
				t.Errorf("%s prints %q; no reason has it", of, f)
			}
		}
	}
	history, err := a.History(t.Context(), []string{demo.Job}, r.Made)
	if err != nil || len(history) != 2 {
		t.Fatal(err, history)
	}
	ratios := 0
	for _, h := range history {
		if len(n.Find(h.Step)) == 0 {
			t.Errorf("history prints %q; explain knows nothing of it", h.Step)
		}
		var figures []string
		if h.Ratio != nil {
			figures = append(figures, cost.MedianWords(h.Ratio, explain.RatioDecimals))
			ratios++
		}
		if h.PerMM != nil {
			figures = append(figures, cost.MedianWords(h.PerMM, explain.PerMMDecimals)+" min/mm")
		}
		for _, v := range []float64{h.Planned, h.Median, h.Low, h.High} {
			figures = append(figures, fmt.Sprintf("%.0f min", v))
		}
		tree, err := n.Explain(h.Step)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range figures {
			if !hasFigure(n, f) || !strings.Contains(HistoryText(history, plain), strings.Fields(f)[0]) || !strings.Contains(oneLine(tree.In(plain)), f) {
				t.Errorf("history prints %s of %q; no reason has it", f, h.Step)
			}
		}
	}
	if ratios != 2 || !slices.ContainsFunc(history, func(h cost.History) bool { return h.PerMM != nil }) {
		t.Errorf("not each step has a ratio, or none has minutes by length: %+v", history)
	}
	for _, l := range s.Lines { // the columns have no unit
		for _, v := range []string{l.Was.Grouped(), l.Is.Grouped(), l.By().Grouped()} {
			if !hasFigure(n, v) {
				t.Errorf("the supplement prints %s of %s; no reason has it", v, l.ID)
			}
		}
	}
}
