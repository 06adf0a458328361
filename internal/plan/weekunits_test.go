package plan

import (
	"fmt"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/sched"
	"fettle/internal/unit"
)

// By hand: a week takes the times of a plan for the only job that has anything left, when
// nothing of it is on record and it does not begin before the week; of two jobs it makes its own,
// here the second one's step an hour earlier than in its plan.
func TestWeekTakesThePlanOfOneJobOnly(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2026, 3, 2, h, 0, 0, 0, time.UTC) }
	of := func(id, person string, h int) InShop {
		return InShop{Job: &job.State{ID: id, Start: monday(0)}, Route: "r", Plan: Plan{Start: monday(0), Finish: monday(0), SpanMin: 60, Steps: []Step{
			{ID: "S-1", Ref: "a", Name: "Open", Skill: "body", Minutes: 60, From: at(h), To: at(h + 1), Person: person}}}}
	}
	done := of("J0", "A", 8)
	done.Job.Actuals = []job.Actual{{Step: "Open", By: "A", On: monday(0), Minutes: 60}}
	begun := of("J2", "B", 9)
	begun.Job.Actuals = []job.Actual{{Step: "Other", By: "A", On: monday(0)}}
	early := of("J2", "B", 9)
	early.Job.Start = monday(0).AddDays(-1)
	for name, c := range map[string]struct {
		jobs []InShop
		want string // when the last job's step begins, and by whom
	}{
		"one":                 {[]InShop{of("J2", "B", 9)}, "09:00 B"},
		"one that is left":    {[]InShop{done, of("J2", "B", 9)}, "09:00 B"},
		"two":                 {[]InShop{of("J1", "A", 8), of("J2", "B", 9)}, "08:00 B"},
		"the other way round": {[]InShop{of("J1", "B", 9), of("J2", "A", 8)}, "08:00 B"},
		"with a record":       {[]InShop{begun}, "08:00 A"},
		"begun before":        {[]InShop{early}, "08:00 A"},
	} {
		w, _ := WeekOf(weekShop(), c.jobs, monday(0))
		got := ""
		for _, s := range w.Steps {
			if s.Job == "J2" {
				got = s.From.Format("15:04") + " " + s.Person
			}
		}
		if got[:5] != c.want[:5] || len(c.jobs) == 1 && got != c.want {
			t.Errorf("%s: at %s, want %s", name, got, c.want)
		}
		for _, j := range w.Jobs {
			if j.Left > 0 && j.Finish != monday(0) {
				t.Errorf("%s: %s is done on %s", name, j.ID, j.Finish)
			}
		}
	}
}

// By hand: what is done in one go is broken where it takes longer than it may, or nobody has all
// its skills.
func TestChainsThatAreBroken(t *testing.T) {
	w := &week{}
	w.prob.Workers = []sched.Worker{{Skills: []string{"a", "b"}}, {Skills: []string{"c"}}}
	w.prob.Activities = []sched.Activity{{Minutes: 10, Skill: "a"}, {Minutes: 20, Skill: "b"}, {Minutes: 5, Skill: "c"}, {Minutes: 1}}
	w.prob.Chains = []sched.Chain{{ID: "fits", Members: []int{0, 1}, Window: 30}, {ID: "long", Members: []int{0, 1}, Window: 29}, {ID: "free", Members: []int{0, 1, 3}}, {ID: "two", Members: []int{0, 2}, Window: 15}, {ID: "both", Members: []int{2, 1}, Window: 24}}
	want := "[{long 30 29 true false} {two 15 15 false true} {both 25 24 true true}]"
	if got := fmt.Sprint(w.broken()); got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// By hand: what is said of the end of a job.
func TestWordsOfAJobOfTheWeek(t *testing.T) {
	w := &week{}
	for _, c := range []struct {
		promise unit.Date
		late    int
		alone   bool
		want    string
	}{
		{unit.Date{}, 0, true, "done on 2026-03-04; nothing was promised; no other job holds it up"},
		{monday(2), 0, false, "done on 2026-03-04, as promised (2026-03-04); by itself no earlier than 2026-03-03"},
		{monday(1), 1, false, "done on 2026-03-04, 1 calendar days after the day promised (2026-03-03); by itself no earlier than 2026-03-03"},
	} {
		j := &WeekJob{Finish: monday(2), Alone: monday(1), Promise: c.promise, Late: c.late}
		if got := w.words(j, sched.JobEnd{Alone: c.alone}); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// By hand: the last step before another of the same person, bay or equipment, by its end; not one
// that ends later than this one begins.
func TestStepsServedBefore(t *testing.T) {
	at := func(m int) time.Time { return time.Date(2026, 3, 2, 8, m, 0, 0, time.UTC) }
	steps := []Step{
		{Person: "A", BayID: "x", To: at(10)}, {Person: "A", To: at(30), Equipment: []string{"w"}}, {Person: "B", BayID: "y", To: at(20), Equipment: []string{"v", "w"}}, {Person: "A", BayID: "y", To: at(41)},
		{Person: "A", BayID: "y", Equipment: []string{"v", "w", "u"}, From: at(40), Skill: body.SkillID("s")}}
	if got := fmt.Sprint(served(steps, 4)); got != "[{1 0} {2 0} {2 0} {1 0}]" {
		t.Errorf("%s", got)
	}
	steps[4].From = at(41)
	if got := fmt.Sprint(served(steps, 4)); got != "[{3 0} {3 0} {2 0} {1 0}]" {
		t.Errorf("a minute later: %s", got)
	}
	if got := served([]Step{{}, {}}, 1); got != nil {
		t.Errorf("nobody, nowhere: %v", got)
	}
}
