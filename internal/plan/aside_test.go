package plan

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// crossed are two vehicles, each done in its own bay but for one thing and in need of the other's,
// and a third that needs none.
func crossed(sh *shop.Shop) []InShop {
	sh.Bays = []shop.Bay{{ID: "B1", Kind: "bench", Name: "Bench", In: 13, Out: 8}, {ID: "B2", Kind: "clean", Name: "Clean bay", In: 6, Out: 5}}
	sh.Rates = []shop.Rate{{Skill: "body", Hour: unit.Money{Minor: 6000, Currency: "EUR"}}}
	one := bayJob("J1", Step{Name: "Measure", Bay: "bench", Minutes: 60}, Step{Name: "Bond", Bay: "clean", Minutes: 120})
	two := bayJob("J2", Step{Name: "Weld", Bay: "clean", Minutes: 60}, Step{Name: "Pull", Bay: "bench", Minutes: 120})
	third := bayJob("J3", Step{Name: "Paint", Minutes: 30})
	one.Job.Actuals = []job.Actual{{Step: "Measure", Minutes: 60, On: monday(0), By: "A"}}
	two.Job.Actuals = []job.Actual{{Step: "Weld", Minutes: 60, On: monday(0), By: "B"}}
	return []InShop{one, two, third}
}

func noted(notes []diag.Note, code string) string {
	for _, n := range notes {
		if n.Code == code {
			return n.Text
		}
	}
	return ""
}

// Two vehicles that each need the other's bay: one is moved to the yard, the cheaper one, with its
// price (8 min or 5 min at 60.00 an hour); every job has dates. Constructed, by hand.
func TestTwoVehiclesInOneAnothersWay(t *testing.T) {
	sh := weekShop()
	jobs := crossed(sh)
	sh.Moving = &shop.Moving{Skill: "body"}
	w, notes := WeekOf(sh, jobs, monday(1))
	text := noted(notes, "week.move-aside")
	if len(w.Steps) != 4 || !strings.Contains(text, "5 min, 5.00 EUR") || !strings.Contains(text, "J2 stands in Clean bay") {
		t.Fatalf("%q, %v: %+v", text, notes, w.Steps)
	}
	if m := w.Steps[slices.IndexFunc(w.Steps, func(s WeekStep) bool { return s.Move != nil })]; m.Job != "J2" || m.Move.To != Yard || m.From.Format("Mon 15:04") != "Tue 08:00" {
		t.Errorf("%+v", m)
	}
	if at := startOf(t, w, "J1", "Bond"); at != "Tue 08:05" {
		t.Errorf("J1 bonds %s", at)
	}
	if at := startOf(t, w, "J2", "Pull"); at != "Tue 08:30" { // the two people paint and bond before
		t.Errorf("J2 is pulled %s", at)
	}
	// What still has to be done in its bay is done when it is back.
	jobs = crossed(sh)
	jobs[1].Plan.Steps = slices.Insert(jobs[1].Plan.Steps, 1, Step{ID: "S-9", Name: "Dress", Bay: "clean", Skill: "body", Minutes: 30, After: []string{"S-1"}, From: jobs[1].Plan.Steps[0].From})
	jobs[1].Plan.Steps[2].After = []string{"S-9"}
	w, notes = WeekOf(sh, jobs, monday(1))
	if noted(notes, "week.schedule") != "" || len(w.Steps) < 5 {
		t.Errorf("%v: %+v", notes, w.Steps)
	}
}

// Without anybody who moves vehicles, or with one that does not roll and nothing to carry it, it is
// said why, and the third job has its dates. Constructed.
func TestVehiclesThatCannotBeMovedLeaveTheOthersTheirDates(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*shop.Shop, []InShop)
		want   string
	}{
		"nobody moves": {func(*shop.Shop, []InShop) {}, "does not say who moves vehicles"},
		"both do not roll": {func(sh *shop.Shop, jobs []InShop) {
			sh.Moving = &shop.Moving{Skill: "body"}
			for k := range 2 {
				jobs[k].Plan.Stills = []Still{{Name: "Front subframe is off", From: []string{"S-1"}, To: []string{"S-2"}}}
			}
		}, "it does not roll (Front subframe is off)"},
		"who moves has left": {func(sh *shop.Shop, jobs []InShop) {
			sh.Moving = &shop.Moving{Skill: "tow"}
		}, "nobody is there who moves vehicles"},
	} {
		sh := weekShop()
		jobs := crossed(sh)
		c.change(sh, jobs)
		w, notes := WeekOf(sh, jobs, monday(1))
		if text := noted(notes, "week.in-the-way"); !strings.Contains(text, c.want) || !strings.Contains(text, "J1 and J2") {
			t.Errorf("%s: %q, %v", name, text, notes)
		}
		if at := startOf(t, w, "J3", "Paint"); at != "Tue 08:00" || len(w.Steps) != 1 || !strings.Contains(w.Jobs[0].Because, "in one another's way") {
			t.Errorf("%s: %s, %+v", name, at, w)
		}
	}
	// One of them rolls: that one is moved.
	sh := weekShop()
	jobs := crossed(sh)
	sh.Moving, sh.Equipment = &shop.Moving{Skill: "body"}, []string{"dollies"}
	jobs[1].Plan.Stills = []Still{{Name: "x", From: []string{"S-1"}, To: []string{"S-2"}}}
	if _, notes := WeekOf(sh, jobs, monday(1)); !strings.Contains(noted(notes, "week.move-aside"), "8 min, 8.00 EUR") {
		t.Errorf("%v", notes)
	}
	sh.Moving.Carry = &shop.Carry{More: 1, Equipment: []string{"dollies"}}
	if _, notes := WeekOf(sh, jobs, monday(1)); !strings.Contains(noted(notes, "week.move-aside"), "carried, as it does not roll (x): 6 min") {
		t.Errorf("%v", notes)
	}
}

// One person with two steps under way is told, once, with both; two people with one each are not,
// nor is a name that nobody of the shop has. Constructed.
func TestTwoStepsUnderWayByOnePerson(t *testing.T) {
	for _, c := range []struct {
		first, second string
		want          bool
	}{{"A", "A", true}, {"A", "B", false}, {"Z", "Z", false}, {"Z", "A", false}} {
		one := bayJob("J1", Step{Name: "Off", Minutes: 60}, Step{Name: "On", Minutes: 30})
		two := bayJob("J2", Step{Name: "Paint", Minutes: 60})
		one.Job.Actuals = []job.Actual{{Step: "Off", Minutes: 10, Going: true, Left: 50, On: monday(0), By: c.first}}
		two.Job.Actuals = []job.Actual{{Step: "Paint", Minutes: 10, Going: true, Left: 50, On: monday(0), By: c.second}}
		_, notes := WeekOf(weekShop(), []InShop{one, two}, monday(1))
		if text := noted(notes, "week.two-under-way"); strings.Contains(text, `"Off" of J1 and "Paint" of J2`) != c.want {
			t.Errorf("%s and %s: %q", c.first, c.second, text)
		}
	}
}
