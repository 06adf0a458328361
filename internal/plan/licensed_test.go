package plan

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// By hand: of two people who weld, p3 is qualified; work begins on 2 March 2026. The grinding, for which
// that is asked, is p3's, also where a second person passes it; where the certificate does not
// hold, or runs out before the step, the plan blocks.
func TestLicensedWork(t *testing.T) {
	on := func(m, d int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: d} }
	for name, c := range map[string]struct {
		until  unit.Date
		change func(in *Input)
		want   string
	}{
		"holds":          {on(3, 30), nil, "p3 "},
		"holds that day": {on(3, 2), nil, "p3 "},
		"has run out":    {unit.Date{Year: 2026, Month: 2, Day: 28}, nil, " plan.nobody-qualified"},
		"for another":    {on(3, 30), func(in *Input) { in.Shop.People[2].Qualified[0].For = "brazing" }, " plan.nobody-qualified"},
		"another skill":  {on(3, 30), func(in *Input) { in.Shop.People[2].Skills = []body.SkillID{"body"} }, " plan.nobody-qualified"},
		"second person": {on(3, 30), func(in *Input) {
			in.Shop.People[0].May = []shop.Authority{shop.MayInspect}
			in.Body.Treatments[0].Steps[0].HoldPoint, in.Body.Treatments[0].Steps[0].Second = "clean", true
		}, "p3 "},
		"runs out before": {on(3, 2), func(in *Input) {
			in.Body.Tasks = append(in.Body.Tasks, body.Task{ID: "rest", When: body.TaskStart, Step: body.Step{Name: "Rest", Skill: "mech", Fixed: 5, Wait: &body.Wait{Name: "rest", Elapsed: 3 * 1440}}})
			in.Body.Treatments[0].Requires = append(in.Body.Treatments[0].Requires, "rest")
		}, "p3 plan.qualification-ends"},
	} {
		in := input(weldF2)
		in.Shop.People = append(in.Shop.People, shop.Person{ID: "p3", Skills: []body.SkillID{"alu"}, Qualified: []shop.Qualification{{For: "welder castings", Until: c.until, Document: "X"}}})
		in.Body.Treatments[0].Steps[0].Qualified = "welder castings"
		if c.change != nil {
			c.change(&in)
		}
		p, notes := Build(in)
		s := step(t, p, "Grind")
		who := s.Person
		if strings.Contains(blocking(notes), "nobody") {
			who = ""
		}
		if got := who + " " + blocking(notes); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
		if c.want != "p3 " {
			continue
		}
		w, _ := WeekOf(in.Shop, []InShop{{Job: in.Job, Plan: p}, {Job: in.Job, Plan: p}}, in.Job.Start)
		for _, x := range w.Steps {
			if x.Name == "Grind" && x.Person != "p3" {
				t.Errorf("%s: in the week %s grinds", name, x.Person)
			}
		}
		if len(w.Steps) == 0 && name != "holds that day" {
			t.Errorf("%s: nothing is planned in the week", name)
		}
	}
}
