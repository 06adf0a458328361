package plan

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"fettle/internal/job"
)

// Law: a week of one job is its plan, step by step, to the minute.
func TestWeekOfOneJobIsItsPlanSeeds(t *testing.T) {
	compared := 0
	for _, v := range lawVehicles(t) {
		for seed := range uint64(draws(3, 60)) {
			in := lawJob(v, seed)
			in.Job.ID = "J"
			p, _ := Build(in)
			w, notes := WeekOf(in.Shop, []InShop{{Job: in.Job, Route: "r", Plan: p}}, in.Job.Start)
			if len(w.Steps) == 0 {
				t.Fatalf("%s seed %d: %v", v.name, seed, notes)
			}
			got := map[string]string{}
			for _, s := range w.Steps {
				got[s.Step] = fmt.Sprint(s.From, s.To, s.Person, s.Bay, s.At)
			}
			for _, s := range p.Steps {
				if s.From.IsZero() {
					continue
				}
				compared++
				if want := fmt.Sprint(s.From, s.To, s.Person, s.BayID, s.At); got[s.ID] != want {
					t.Errorf("%s seed %d: %s %s: %s, in the plan %s", v.name, seed, s.ID, s.Name, got[s.ID], want)
				}
			}
			if !p.Finish.IsZero() && (w.Jobs[0].Finish != p.Finish || w.Proven != p.Proven) {
				t.Errorf("%s seed %d: done on %s, proven %v; by its plan %s, %v", v.name, seed, w.Jobs[0].Finish, w.Proven, p.Finish, p.Proven)
			}
			early, _ := WeekOf(in.Shop, []InShop{{Job: in.Job, Route: "r", Plan: p}}, in.Job.Start.AddDays(-5))
			wait := 0.0
			for _, s := range p.Steps {
				wait = max(wait, s.WaitMin)
			}
			if most := p.SpanMin - p.BoundMin + wait + 1; !p.Finish.IsZero() && (float64(early.GapMin) > most || float64(w.GapMin) > most) {
				t.Errorf("%s seed %d: gaps of %d and %d minutes, the plan's is %.0f", v.name, seed, w.GapMin, early.GapMin, p.SpanMin-p.BoundMin)
			}
			j := *in.Job
			j.ID = "J"
			sheet := w.PlanOf(p, &j, in.Shop)
			for i, s := range sheet.Steps {
				if len(sheet.Steps) != len(p.Steps) || !slices.ContainsFunc(p.Steps, func(o Step) bool {
					return o.ID == s.ID && o.From.Equal(s.From) && o.Person == s.Person && o.Name == s.Name
				}) {
					t.Errorf("%s seed %d: step %d of %d of the sheets, %s, is none of the plan's %d", v.name, seed, i, len(sheet.Steps), s.ID, len(p.Steps))
				}
			}
		}
	}
	if compared < 50 {
		t.Errorf("%d steps compared", compared)
	}
}

// What is left of a plan has the times of the week; what is on record as done is left out,
// and a step without a time stays, last and without one (constructed).
func TestPlanOfTheWeek(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2026, 3, 2, h, 0, 0, 0, time.UTC) }
	p := Plan{Steps: []Step{{ID: "ST-1", Name: "Off", Minutes: 30, Person: "A", From: at(7), To: at(8)}, {ID: "ST-2", Name: "Weld", Minutes: 60, Hold: "look"}, {ID: "ST-3", Name: "On", Minutes: 20, From: at(9), To: at(10)}, {ID: "ST-4", Name: "Paint", Minutes: 5, From: at(10), To: at(11)}}}
	w := Week{From: monday(0), Steps: []WeekStep{{Job: "K", Step: "ST-2", From: at(6), To: at(7)}, {Job: "J", Step: "ST-2", Name: "Weld", Person: "B", Bay: "B1", From: at(12), To: at(13)}, {Job: "J", Step: "ST-3", Name: "On", Person: "C", From: at(13), To: at(14)}}}
	done := &job.State{ID: "J", Actuals: []job.Actual{{Step: "Off", By: "A", On: monday(0)}, {Step: "Paint", Going: true, By: "A", On: monday(0)}, {Step: "On", By: "A", On: monday(1)}}}
	got := w.PlanOf(p, done, weekShop())
	if len(got.Steps) != 3 {
		t.Fatalf("%d steps: %+v", len(got.Steps), got.Steps)
	}
	if s := got.Steps[0]; s.ID != "ST-2" || s.Person != "B" || s.BayID != "B1" || !s.From.Equal(at(12)) || s.Hold != "look" {
		t.Errorf("the first is %+v", s)
	}
	if s := got.Steps[2]; s.ID != "ST-4" || !s.From.IsZero() || s.Person != "" {
		t.Errorf("the last is %+v", s)
	}
	if got.WorkMin != 85 || got.Start.String() != "2026-03-02" || got.Finish.String() != "2026-03-02" {
		t.Errorf("%v minutes from %s to %s", got.WorkMin, got.Start, got.Finish)
	}
	if p.Steps[0].Person != "A" || len(p.Steps) != 4 {
		t.Error("the plan itself was changed")
	}
}
