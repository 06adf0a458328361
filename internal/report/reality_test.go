package report

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Constructed: a bill agreed at half of every line is followed by a supplement with
// each difference; a step that was recorded stands beside its plan, one that no plan
// has is told, and the times of earlier jobs are shown as not applied. Without any of
// that the sections are not there.
func TestRealityInTheReport(t *testing.T) {
	in := fixture(t)
	before, err := HTML(in)
	if err != nil {
		t.Fatal(err)
	}
	for _, head := range []string{"Since the bill that was agreed", "Done so far", "earlier jobs"} {
		if strings.Contains(string(before), head) {
			t.Errorf("%q is there though nothing was recorded", head)
		}
	}
	p := picked(in)
	agreed := job.Agreed{Number: 1, Route: p.Route.ID, Finish: p.Route.Plan.Finish, On: unit.Date{Year: 2026, Month: 3, Day: 1}}
	for _, l := range p.Route.Bill.Lines {
		agreed.Lines = append(agreed.Lines, job.AgreedLine{ID: l.ID, Sum: unit.Money{Minor: l.Sum / 2, Currency: p.Route.Bill.Currency}})
	}
	in.Job.Agreed = []job.Agreed{agreed}
	done, on := p.Route.Plan.Steps[0], unit.DateOf(in.Meta.Made)
	by := in.Shop.People[0].ID
	in.Shop.People[0].Skills = []body.SkillID{done.Skill}
	about := job.FindingID("")
	if len(done.For) > 0 {
		about = done.For[0]
	}
	in.Job.Actuals = []job.Actual{{Step: done.Name, Finding: about, Minutes: 77, Going: true, Left: 13, By: by, On: on}, {Step: "Look for the key", Minutes: 5, By: by, On: on},
		{Step: "Look for the bolt", Minutes: 7, By: by, On: on, Unplanned: "It fell into the frame", Skill: done.Skill, Parts: []job.PartUsed{{ID: "Bolt", Count: 3, Price: unit.Money{Minor: 110, Currency: in.Shop.Currency}}}}}
	in.History = []cost.History{{Shop: "Shop " + nasty, Step: "Grind", Count: 3, Planned: 20, Median: 31, Low: 28, High: 40}}
	raw, err := HTML(in)
	if err != nil {
		t.Fatal(err)
	}
	text := string(raw)
	for _, want := range []string{"Since the bill that was agreed: Supplement 1 to bill 1", "13 left", ">77<", "does not count: Look for the key", "It fell into the frame", ">Bolt<", "28 to 40", "never applied"} {
		if !strings.Contains(text, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	if strings.Contains(text, nasty) {
		t.Error("text of a person came through as markup")
	}
	for _, l := range p.Route.Bill.Lines {
		if l.Sum > 1 && !strings.Contains(text, "&#43;"+(l.Sum-l.Sum/2).Grouped()) {
			t.Errorf("the difference of %s is not told", l.ID)
		}
	}
}
