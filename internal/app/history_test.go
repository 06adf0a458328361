package app

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// What is done again adds up to one time of its step, the length is that of the plan's step,
// and records that do not count or are not finished are in no figure. Constructed: a step of
// the demonstration that is reckoned by a length takes 30 and 12 minutes, 40 were planned.
func TestHistoryOfAJob(t *testing.T) {
	a, opened, r := demonstrated(t, "job")
	x, j := *opened, *opened.Job
	c := &x
	c.Job = &j
	route, err := a.Picked(c, r, "weld")
	if err != nil {
		t.Fatal("the demonstration has no route of welds")
	}
	j.Choices = []job.Choice{{Route: route.ID, By: "P1", On: j.Opened}}
	at := slices.IndexFunc(route.Plan.Steps, func(s plan.Step) bool { return s.LengthMM > 0 && len(s.For) > 0 })
	if at < 0 {
		t.Fatal("no step is reckoned by a length")
	}
	s, by := route.Plan.Steps[at], ""
	for _, p := range c.Shop.People {
		if slices.Contains(p.Skills, s.Skill) {
			by = p.ID
		}
	}
	on := unit.DateOf(r.Made)
	j.Actuals = []job.Actual{
		{ID: "W-1", Step: s.Ref, Planned: 40, Minutes: 30, By: by, On: on},
		{ID: "W-2", Step: s.Ref, Planned: 40, Minutes: 12, By: by, On: on, Again: "a pore"},
		{ID: "W-3", Step: s.Ref, Planned: 40, Minutes: 500, By: by, On: on},
		{ID: "W-4", Step: "Paint the roof", Minutes: 600, By: by, On: on},
		{ID: "W-5", Step: route.Plan.Steps[0].Ref, Minutes: 700, By: "nobody", On: on},
	}
	took, left := a.took(nil, c, r.Made)
	if len(took) != 1 || took[0].Step != s.Name || took[0].Taken != 42 || took[0].Planned != 40 || math.Abs(took[0].LengthMM-s.LengthMM) > 0 {
		t.Errorf("%+v, want 42 of 40 minutes over %g mm", took, s.LengthMM)
	}
	var names []string
	for _, l := range left {
		names = append(names, fmt.Sprintf("%.0f", l.Minutes))
	}
	if got := strings.Join(names, " "); got != "500 600 700" {
		t.Errorf("left out: %+v", left)
	}
	j.Actuals = j.Actuals[:2]
	j.Actuals[1].Going = true // it is under way again
	if took, _ = a.took(nil, c, r.Made); len(took) != 0 {
		t.Errorf("a step under way is taken as done: %+v", took)
	}
}
