package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// weekShop is open 8:00 to 16:00 on five days, with two people and one bench.
func weekShop() *shop.Shop {
	return &shop.Shop{
		People:   []shop.Person{{ID: "A", Skills: []body.SkillID{"body"}}, {ID: "B", Skills: []body.SkillID{"body"}}},
		Bays:     []shop.Bay{{ID: "B1", Kind: "bench"}},
		Calendar: shop.Calendar{Days: []string{"mon", "tue", "wed", "thu", "fri"}, Start: "08:00", End: "16:00"},
	}
}

// weekJob is a job of three steps: 60 min, 240 min on the bench, then an overnight
// wait of 600 min, 30 min. Its dates only say that they are known.
func weekJob(id string, start unit.Date) InShop {
	known := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	return InShop{Job: &job.State{ID: id, Start: start}, Route: "weld", Plan: Plan{Finish: start, Steps: []Step{
		{ID: "S-1", Name: "Open", Skill: "body", Minutes: 60, From: known},
		{ID: "S-2", Name: "Bond", Skill: "body", Bay: "bench", Minutes: 240, WaitMin: 600, After: []string{"S-1"}, From: known},
		{ID: "S-3", Name: "Close", Skill: "body", Minutes: 30, After: []string{"S-2"}, From: known},
	}}}
}

func monday(day int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: 2 + day} } // 2 March 2026 is a Monday

// Constructed, by hand: alone a job bonds 9:00 to 13:00, waits to 23:00 and closes
// on Tuesday. Two jobs share the bench: the second bonds 13:00 to 16:00 and 8:00 to
// 9:00, waits to 19:00 and closes on Wednesday.
func TestTwoJobsShareTheBench(t *testing.T) {
	w, notes := WeekOf(weekShop(), []InShop{weekJob("J1", monday(0)), weekJob("J2", monday(0))}, monday(0))
	if len(notes) != 0 || len(w.Steps) != 6 {
		t.Fatalf("%v %+v", notes, w.Steps)
	}
	var days []string
	held := 0
	for _, j := range w.Jobs {
		days = append(days, j.Finish.String())
		if j.Alone != monday(1) {
			t.Errorf("%s alone is done on %s, want Tuesday", j.ID, j.Alone)
		}
		held += len(j.Waiting)
	}
	slices.Sort(days)
	if !slices.Equal(days, []string{"2026-03-03", "2026-03-04"}) || held == 0 {
		t.Errorf("done on %v, held up %d: %+v", days, held, w.Jobs)
	}
	late := weekJob("J1", monday(0))
	late.Promise = monday(1)
	w, _ = WeekOf(weekShop(), []InShop{weekJob("J2", monday(0)), late}, monday(0))
	if w.Jobs[1].Finish != monday(1) || w.Jobs[1].Late != 0 || !strings.Contains(w.Jobs[1].Because, "as promised") {
		t.Errorf("the promise was not kept: %+v", w.Jobs[1])
	}
	late.Promise = monday(0)
	w, _ = WeekOf(weekShop(), []InShop{late}, monday(0))
	if w.Jobs[0].Late != 1 || !w.Proven {
		t.Errorf("%+v", w.Jobs[0])
	}
}

// Constructed, by hand: on Tuesday morning step 1 is recorded as done and step 2 as
// under way with 100 minutes left by B: it goes on at 8:00 to 9:40 by B, its wait
// ends at 19:40, and step 3 is done on Wednesday. With step 2 done on Monday, its
// wait is counted from the end of that day, 16:00, and step 3 begins on Tuesday.
func TestWeekGoesOnFromWhatWasRecorded(t *testing.T) {
	in := weekJob("J1", monday(0))
	in.Job.Actuals = []job.Actual{{Step: "open", Minutes: 90, On: monday(0), By: "A"}, {Step: "Bond", Minutes: 150, Going: true, Left: 100, On: monday(0), By: "B"}}
	w, notes := WeekOf(weekShop(), []InShop{in}, monday(1))
	if len(notes) != 0 || len(w.Steps) != 2 || w.Jobs[0].Done != 1 || w.Jobs[0].Left != 2 {
		t.Fatalf("%v %+v %+v", notes, w.Jobs, w.Steps)
	}
	bond, last := w.Steps[0], w.Steps[1]
	if !bond.Going || bond.Person != "B" || bond.To.Format("Mon 15:04") != "Tue 09:40" || last.From.Format("Mon 15:04") != "Wed 08:00" {
		t.Errorf("%+v %+v", bond, last)
	}
	in.Job.Actuals[1].Going, in.Job.Actuals[1].Left = false, 0
	w, _ = WeekOf(weekShop(), []InShop{in}, monday(1))
	if len(w.Steps) != 1 || w.Steps[0].From.Format("Mon 15:04") != "Tue 08:00" {
		t.Errorf("%+v", w.Steps)
	}
	in.Job.Actuals = append(in.Job.Actuals, job.Actual{Step: "Close", Minutes: 30, On: monday(1), By: "A"})
	if w, _ = WeekOf(weekShop(), []InShop{in}, monday(2)); len(w.Steps) != 0 || w.Jobs[0].Because != "every step is recorded as done" {
		t.Errorf("%+v", w.Jobs)
	}
}

// Constructed: a delivery that arrives after the job's first day holds its step
// back; a chain of which a step is recorded and the rest is not is told.
func TestWeekReleasesAndTornChains(t *testing.T) {
	in := weekJob("J1", monday(0))
	in.Plan.Steps[0].Awaits = []Awaited{{Kind: Delivery, Name: "delivery", Minutes: 2 * 1440}}
	w, _ := WeekOf(weekShop(), []InShop{in}, monday(0))
	if len(w.Steps) != 3 || w.Steps[0].From.Format("Mon 15:04") != "Wed 08:00" {
		t.Errorf("%+v", w.Steps)
	}
	in = weekJob("J1", monday(0))
	for k := range 2 {
		in.Plan.Steps[k].Together, in.Plan.Steps[k].Window = "glue", 400
	}
	in.Job.Actuals = []job.Actual{{Step: "Open", Minutes: 60, On: monday(0), By: "A"}}
	_, notes := WeekOf(weekShop(), []InShop{in}, monday(1))
	if len(notes) != 1 || notes[0].Code != "week.torn" {
		t.Errorf("%v", notes)
	}
}

// Constructed: two steps of a skill that another firm does follow one another, since
// it comes with one person, in the plan's dates as in the week; without the firm
// nobody does them.
func TestSubletStepsFollowOneAnother(t *testing.T) {
	sh := weekShop()
	sh.Sublets = []shop.Sublet{{ID: "RADAR", Skill: "radar"}}
	in := weekJob("J1", monday(0))
	for k := range in.Plan.Steps {
		s := &in.Plan.Steps[k]
		s.Skill, s.Bay, s.After, s.WaitMin = "radar", "", nil, 0
	}
	w, notes := WeekOf(sh, []InShop{in}, monday(0))
	if len(notes) != 0 || len(w.Steps) != 3 {
		t.Fatalf("%v %+v", notes, w.Steps)
	}
	for k, s := range w.Steps {
		if s.Person != "RADAR" || k > 0 && s.From.Before(w.Steps[k-1].To) {
			t.Errorf("%+v", s)
		}
	}
	if !does(sh, "radar", monday(0)) || does(weekShop(), "radar", monday(0)) {
		t.Error("the firm and nobody else does it")
	}
}

// Deliveries are counted from the first minute of work of the job, whatever day the week begins on.
// Constructed, by hand: a job that starts on Saturday the 7th is begun on Monday 8:00, so that what
// takes 2 days is there on Wednesday 8:00; of one that starts on Monday the 2nd what takes 10 days
// is there on Thursday the 12th, also in a week from Saturday on.
func TestDeliveryIsCountedFromTheFirstMinuteOfWork(t *testing.T) {
	for _, c := range []struct {
		start, from int
		days        float64
		want        string
	}{{5, 5, 2, "Wed 08:00"}, {5, 7, 2, "Wed 08:00"}, {0, 5, 10, "Thu 08:00"}, {0, 0, 10, "Thu 08:00"}} {
		in := weekJob("J1", monday(c.start))
		in.Plan.Steps[0].Awaits = []Awaited{{Kind: Delivery, Name: "skin", Minutes: c.days * 1440}}
		in.Job.Promises = []job.Promised{{ID: "PR-1", Item: "other", Expected: monday(20), On: monday(0)}}
		other := weekJob("J2", monday(c.start)) // not the plan of one job
		w, _ := WeekOf(weekShop(), []InShop{in, other}, monday(c.from))
		if at := startOf(t, w, "J1", "Open"); at != c.want {
			t.Errorf("from day %d, week from day %d: begins %s, want %s", c.start, c.from, at, c.want)
		}
	}
}

// Constructed, by hand: what J1 bonded on Monday cures on the only bench until Wednesday
// 8:00, so that J2 bonds on Wednesday and closes on Thursday. With the shop to itself it
// would bond on Tuesday and close on Wednesday: the vehicle on the bench is J1's, and no
// matter of the shop.
func TestAloneIsWithoutTheVehiclesOfOthers(t *testing.T) {
	one, two := weekJob("J1", monday(0)), weekJob("J2", monday(0))
	one.Plan.Steps[1].WaitMin = 2400
	for i, minutes := range []float64{60, 240} {
		one.Job.Actuals = append(one.Job.Actuals, job.Actual{ID: fmt.Sprint("W-", i), Step: []string{"Open", "Bond"}[i], Minutes: unit.Minutes(minutes), By: "A", On: monday(0)})
	}
	by, _ := WeekOf(weekShop(), []InShop{two}, monday(1))
	w, notes := WeekOf(weekShop(), []InShop{one, two}, monday(1))
	if got, want := w.Jobs[1].Alone, by.Jobs[0].Finish; got != want || want != monday(2) {
		t.Errorf("alone J2 is done on %s, it says; by itself it is on %s, want Wednesday (%v)", got, want, notes)
	}
	if w.Jobs[1].Finish != monday(3) || strings.Contains(w.Jobs[1].Because, "no other job holds it up") {
		t.Errorf("%+v", w.Jobs[1])
	}
}

// Constructed: who did the work has left, or the only bay is closed for good, since the plans
// were made: the week blocks, once for each job, skill and kind of bay, and says what is missing;
// as long as somebody, or a bay, is there it does not.
func TestWeekBlocksWhatNobodyIsThereFor(t *testing.T) {
	a, b := shop.Absence{Person: "A", From: monday(1), Reason: "left"}, shop.Absence{Person: "B", From: monday(2), Reason: "left"}
	bay := shop.Absence{Bay: "B1", From: monday(2), Reason: "sold"}
	for name, c := range map[string]struct {
		away []shop.Absence
		from int
		want string // codes, and below a piece of the first text
		text string
	}{
		"all are there": {nil, 2, "", ""}, "one has left": {[]shop.Absence{a}, 2, "", ""},
		"both have left":     {[]shop.Absence{a, b}, 2, "week.no-person week.no-person", `J1: nobody is in the shop who has the skill "body", which "Open" and maybe other steps need`},
		"the bay is closed":  {[]shop.Absence{bay}, 2, "week.no-bay week.no-bay", `J1: the shop has no bay of the kind "bench" any more, which "Bond"`},
		"the bay comes back": {[]shop.Absence{{Bay: "B1", From: monday(2), To: monday(3), Reason: "repaired"}}, 2, "", ""},
	} {
		sh := weekShop()
		sh.Absences = c.away
		w, notes := WeekOf(sh, []InShop{weekJob("J1", monday(0)), weekJob("J2", monday(0))}, monday(c.from))
		if blocking(notes) != c.want || c.text != "" && !strings.Contains(notes[0].Text, c.text) || len(w.Jobs) != 2 {
			t.Errorf("%s: %v", name, notes)
		}
	}
	in := weekJob("J1", monday(0)) // a step that asks for nobody, in no bay
	in.Plan.Steps = in.Plan.Steps[:1]
	in.Plan.Steps[0].Skill = ""
	if _, notes := WeekOf(weekShop(), []InShop{in}, monday(0)); blocking(notes) != "" {
		t.Errorf("a step by nobody: %v", notes)
	}
}

// By hand: a step that is left waits, through what is on record, for every step before it that is
// left, with the wait after that, each once; what comes before those is theirs to wait for.
func TestStepsWaitThroughWhatIsRecorded(t *testing.T) {
	in := &InShop{Plan: Plan{Steps: []Step{{ID: "a"}, {ID: "b", WaitMin: 30, After: []string{"a"}}, {ID: "c", After: []string{"b"}}, {ID: "d", After: []string{"b"}}, {ID: "e", WaitMin: 5, After: []string{"a"}}, {ID: "f", After: []string{"c", "d", "e", "none"}}}}}
	w := &week{}
	for _, c := range []struct {
		left []string
		want string
	}{{[]string{"a", "b", "c", "d", "e"}, "c+0 d+0 e+5"}, {[]string{"a", "b", "e"}, "b+30 e+5"}, {[]string{"a"}, "a+0"}, {[]string{"b", "c"}, "c+0 b+30"}, {nil, ""}} {
		at := map[string]int{}
		for k, id := range c.left {
			at[id] = k
		}
		var got []string
		for _, l := range w.waitsFor(in, in.Plan.Steps[5], at) {
			got = append(got, fmt.Sprintf("%s+%d", c.left[l.Pred], l.Minutes))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("left %v: waits for %v, want %s", c.left, got, c.want)
		}
	}
}
