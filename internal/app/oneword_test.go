package app

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/compare"
	"fettle/internal/demo"
	"fettle/internal/report"
)

// oneWord holds what explain says of a thing against a page that names it: every text
// that belongs to the thing has to stand in both, in the same words and figures.
type oneWord struct {
	t     *testing.T
	n     askable
	texts map[string]string // what is printed, by its name, in one line each
}

func oneLine(s string) string {
	s = strings.NewReplacer("│", " ", "├─", " ", "└─", " ", "\u00a0", " ", "\u2212", "-").Replace(s)
	return strings.Join(strings.Fields(s), " ")
}

// same asks explain for a thing and looks for each text there and on each page.
func (o oneWord) same(name string, texts []string, pages ...string) {
	o.t.Helper()
	tree, err := o.n.Explain(name)
	if err != nil {
		o.t.Error(err)
		return
	}
	said := oneLine(tree.In(plain))
	for _, text := range texts {
		text = strings.TrimRight(oneLine(text), ".")
		if text == "" {
			o.t.Errorf("%s: a text is empty", name)
		}
		if !strings.Contains(strings.ToLower(said), strings.ToLower(text)) {
			o.t.Errorf("%s: explain does not say %q", name, text)
		}
		for _, page := range pages {
			if !strings.Contains(strings.ToLower(o.texts[page]), strings.ToLower(text)) {
				o.t.Errorf("%s: %s does not say %q", name, page, text)
			}
		}
	}
}

// TestOneWordForOneThing: explain, the report, the plan, the routes, the summary and the
// owner's page have one word and one figure for every finding with its distances and
// verdict, every area, route, hold point and question.
func TestOneWordForOneThing(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	_, texts := printed(t)
	oneThing(t, namesFor(a, c, r), texts)
}

// oneThing holds what is printed of a job against what explain says.
func oneThing(t *testing.T, n askable, texts map[string]string) {
	t.Helper()
	o, r := oneWord{t, n, map[string]string{}}, n.r
	for of, text := range texts {
		o.texts[of] = oneLine(text)
	}
	o.findings(r)
	for _, x := range r.Inspect.Coverage {
		zone, _, _ := strings.Cut(x.Name, ", ") // ribs and bores stand in the row of their zone
		o.same(x.Area, []string{report.AreaWord(o.n.In, x), zone}, "report")
	}
	for _, route := range r.Compare.Routes {
		o.route(route)
	}
	shown := r.Compare.Routes[slices.IndexFunc(r.Compare.Routes, func(x compare.Route) bool { return x.ID == o.n.Picked })]
	for _, s := range shown.Plan.Steps {
		o.same(s.ID, []string{s.ID, s.Name, report.Minutes(s.Minutes)}, "report", "sheets")
		if s.Hold != "" {
			o.same("hold point "+s.ID, []string{s.Hold}, "report", "sheets")
		}
	}
	for _, q := range r.Decide.Questions {
		o.same(q.ID, []string{string(q.State)}, "report")
		if strings.Contains(o.texts["question"], oneLine(q.Text)) {
			o.same(q.ID, strings.Split(q.Text, "\n"), "report", "question")
		}
	}
}

// findings: the length, the distances, the verdict and each treatment's.
func (o oneWord) findings(r Assessment) {
	for _, f := range r.Inspect.Findings {
		rows := report.FindingSays(o.n.In, f)
		for _, row := range rows {
			what, value, _ := strings.Cut(row, ": ")
			if strings.HasPrefix(what, "Within what ") { // of a section line; how far it misses one stands in the annex
				margin, _, _ := strings.Cut(value, ", ")
				o.same(string(f.ID), []string{"margin " + margin}, "report")
				continue
			}
			o.same(string(f.ID), []string{value}, "report")
		}
		if f.Length != nil {
			o.same(string(f.ID), []string{report.Far(f.Length.MM, f.Length.Std)}, "report")
		}
		for _, d := range r.Decide.Findings {
			if d.ID == f.ID {
				o.same(string(f.ID), []string{d.Verdict.String(), d.Because}, "report")
			}
		}
	}
}

// route: its name, money, days, where it stands, and what it does.
func (o oneWord) route(x compare.Route) {
	money := x.Bill.Total.Grouped() + " " + x.Bill.Currency
	o.same(x.ID, []string{x.Name, money, x.Because}, "report", "routes")
	o.same(x.ID, []string{x.Name, money}, "owner")
	for _, f := range o.n.In.Inspect.Findings {
		if does := report.RouteDoes(o.n.In, x, f.ID); does != "" && x.ID == o.n.Picked {
			o.same(string(f.ID), []string{does}, "report")
		}
	}
	if !x.Plan.Start.IsZero() {
		o.same(x.ID, []string{report.Day(x.Plan.Finish)}, "report")
	}
	if x.ID == o.n.Picked {
		o.same(x.ID, []string{x.Name, money}, "summary", "plan")
	}
}
