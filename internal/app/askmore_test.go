package app

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/compare"
	"fettle/internal/demo"
	"fettle/internal/job"
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
	for k, s := range r.Compare.Routes[i].Plan.Steps[:2] { // for the history
		if k == 0 {
			entry += "actuals:\n"
		}
		entry += fmt.Sprintf("  - {id: W-%d, step: %q, planned: %.0f min, minutes: %.0f min, by: T1, on: 2026-11-25}\n", k+1, s.Name, s.Minutes, s.Minutes+3)
	}
	file := demo.Job + "/" + job.MainFile
	m[file] = append(slices.Clone(m[file]), entry...)
	a, c, r = assess(t, m, demo.Job)
	n := a.namesOf(c, r)
	s, ok := compare.SupplementOf(r.Compare, n.shownRoute(), c.Shop, c.Job)
	if !ok || len(s.Lines) == 0 || len(s.Away) == 0 || len(s.New) == 0 {
		t.Fatalf("no supplement to read: %+v", s)
	}
	var b strings.Builder
	supplementText(&b, &s)
	page, err := a.Report(c, r, true)
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
			if len(n.find(name)) == 0 {
				t.Errorf("%s prints %q; explain knows nothing of it", of, name)
			}
		}
		for _, f := range printedFigure.FindAllString(text, -1) {
			if f = strings.TrimRight(f, " .,;)"); !n.hasFigure(f) {
				t.Errorf("%s prints %q; no reason has it", of, f)
			}
		}
	}
	history, err := a.History([]string{demo.Job}, r.Made)
	if err != nil || len(history) != 2 {
		t.Fatal(err, history)
	}
	for _, h := range history {
		if len(n.find(h.Step)) == 0 {
			t.Errorf("history prints %q; explain knows nothing of it", h.Step)
		}
		for _, v := range []float64{h.Planned, h.Median, h.Low, h.High} {
			if f := fmt.Sprintf("%.0f min", v); !n.hasFigure(f) {
				t.Errorf("history prints %s of %q; no reason has it", f, h.Step)
			}
		}
	}
	for _, l := range s.Lines { // the columns have no unit
		for _, v := range []string{l.Was.Grouped(), l.Is.Grouped(), l.By().Grouped()} {
			if !n.hasFigure(v) {
				t.Errorf("the supplement prints %s of %s; no reason has it", v, l.ID)
			}
		}
	}
}
