package decide

import (
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// A question is put where nothing but to ask is left, where a row asks, where one was sent or
// answered, or where no measurement decides; it is offered where a treatment that the table has
// for such findings waits for the manufacturer alone and none milder is allowed. Never both.
// Source: docs/methods/decision.md.
func TestAskedOrOffered(t *testing.T) {
	row := func(id string, when map[string]string, allow ...body.TreatmentKind) body.Row {
		return body.Row{ID: id, Cite: "c", When: when, Allow: allow}
	}
	crack := map[string]string{"kind": "crack"}
	short := map[string]string{"kind": "crack", "length": "< 10 mm"}
	for _, k := range []struct {
		name           string
		rows           []body.Row
		change         func(*world)
		asked, offered bool
	}{
		{"allowed", []body.Row{row("a", crack, body.Weld)}, nil, false, false},
		{"a milder one waits", []body.Row{row("a", short, body.Weld), row("b", crack, body.ReplaceCasting)}, nil, false, true},
		{"a harsher one waits", []body.Row{row("a", crack, body.Weld), row("b", short, body.ReplaceCasting)}, nil, false, false},
		{"one between waits", []body.Row{row("a", crack, body.Leave), row("b", short, body.Weld), row("c", crack, body.ReplaceCasting)}, nil, false, false},
		{"of another sort", []body.Row{row("a", map[string]string{"kind": "dent"}, body.Weld), row("b", crack, body.ReplaceCasting)}, nil, false, false},
		{"nothing left", []body.Row{row("a", short, body.Weld)}, nil, true, false},
		{"a row asks", []body.Row{row("a", crack, body.Weld, body.ReplaceCasting), {ID: "q", When: crack, Ask: "desk"}}, nil, true, false},
		{"a row asks of others", []body.Row{row("a", crack, body.Weld), {ID: "q", When: short, Ask: "desk"}}, nil, false, false},
		{"sent", []body.Row{row("a", crack, body.Weld)}, func(w *world) { w.in.Job.Questions = []job.Asked{{ID: "Q-F1", Finding: "F1", On: day(2030, 3, 1)}} }, true, false},
		{"sent of another", []body.Row{row("a", crack, body.Weld)}, func(w *world) { w.in.Job.Questions = []job.Asked{{ID: "Q-F2", Finding: "F2", On: day(2030, 3, 1)}} }, false, false},
		{"answered", []body.Row{row("a", crack, body.Weld)}, func(w *world) { w.answers(answer()) }, true, false},
		{"answered tomorrow", []body.Row{row("a", crack, body.Weld)}, func(w *world) { a := answer(); a.On = day(2030, 3, 3); w.answers(a) }, false, false},
		{"answered today", []body.Row{row("a", crack, body.Weld)}, func(w *world) { a := answer(); a.On = day(2030, 3, 2); w.answers(a) }, true, false},
		{"answered for another vehicle", []body.Row{row("a", crack, body.Weld)}, func(w *world) { a := answer(); a.VIN = "X"; w.answers(a) }, false, false},
		{"answered with a prohibition", []body.Row{row("a", crack, body.Weld)}, func(w *world) { a := answer(); a.Allow, a.Forbid = nil, []body.TreatmentKind{body.Weld}; w.answers(a) }, true, false},
		{"undecided by what can be measured", []body.Row{row("a", map[string]string{"depth": "< 2 mm"}, body.Weld)}, nil, false, false},
		{"undecided on the limit", []body.Row{row("a", map[string]string{"bore_clearance": ">= 60 mm"}, body.Weld)}, nil, true, false},
		{"undecided on two limits, one of which can be measured", []body.Row{row("a", map[string]string{"bore_clearance": ">= 60 mm", "border_clearance": ">= 39.5 mm"}, body.Weld)}, nil, false, false},
		{"no procedure", nil, func(w *world) { w.in.Body.Procedures = nil }, true, false},
	} {
		w := newWorld()
		w.crack("F1", 20, 1, "OPEN-1")
		w.in.Body.Procedures[0].Rows = k.rows
		if k.change != nil {
			k.change(w)
		}
		res, _ := Run(w.in)
		of := func(q Question) bool { return q.Finding == "F1" && q.ID != "" && q.Text != "" }
		if asked, offered := slices.ContainsFunc(res.Questions, of), slices.ContainsFunc(res.Offers, of); asked != k.asked || offered != k.offered {
			t.Errorf("%s: asked %v, offered %v, want %v, %v; %+v", k.name, asked, offered, k.asked, k.offered, res.Findings[0].Options)
		}
	}
}

// How far a question has got, by what was sent and answered on which day: the last of each, an
// answer of the day of the question or later. Every order of two questions and two answers.
func TestTheLastQuestionAndAnswerCount(t *testing.T) {
	for _, k := range []struct {
		asked, answered []int // days of March
		sent, settled   int   // 0: none
	}{
		{nil, nil, 0, 0}, {[]int{1}, nil, 1, 0}, {[]int{1}, []int{1}, 1, 1}, {[]int{2}, []int{1}, 2, 0}, {[]int{1, 2}, []int{1}, 2, 0}, {[]int{2, 1}, []int{1}, 2, 0}, {[]int{1, 2}, []int{1, 2}, 2, 2}, {[]int{1, 2}, []int{2, 1}, 2, 2},
		{nil, []int{1}, 0, 1}, {nil, []int{1, 2}, 0, 2}, {[]int{1}, []int{3}, 1, 0},
	} {
		w := newWorld()
		w.crack("F1", 9, 1, "CRITICAL-1")
		for _, d := range k.asked {
			w.in.Job.Questions = append(w.in.Job.Questions, job.Asked{ID: "Q-F1-" + day(2030, 3, d).String(), Finding: "F1", On: day(2030, 3, d), By: "P"})
		}
		var all []job.Answer
		for _, d := range k.answered {
			a := answer()
			a.ID, a.On, a.By = "A-"+day(2030, 3, d).String(), day(2030, 3, d), "desk of "+day(2030, 3, d).String()
			all = append(all, a)
		}
		w.answers(all...)
		res, _ := Run(w.in)
		q := res.Questions[0]
		sent, settled := day(2030, 3, k.sent), day(2030, 3, k.settled)
		if k.sent == 0 && !q.Asked.IsZero() || k.sent > 0 && (q.Asked != sent || q.ID != "Q-F1-"+sent.String()) || k.settled == 0 && (!q.Answer.IsZero() || q.By != "") || k.settled > 0 && (q.Answer != settled || q.By != "desk of "+settled.String() || q.Expires != day(2030, 4, 1)) {
			t.Errorf("asked on %v, answered on %v: %+v", k.asked, k.answered, q)
		}
	}
}
