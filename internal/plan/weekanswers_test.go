package plan

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/golden"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// fullWeek is a week in which nearly everything happens that can: a vehicle under way that
// somebody who is away began, one that cures in its bay, one whose adhesive spoils, moves, a
// chain torn apart, a record that does not count, deliveries promised, late and not on record,
// promises, two jobs of one vehicle, an absence.
func fullWeek() (*shop.Shop, []InShop) {
	sh := weekShop()
	sh.People = []shop.Person{{ID: "A", Skills: []body.SkillID{"body", "alu"}, May: []shop.Authority{shop.MayInspect}}, {ID: "B", Skills: []body.SkillID{"body"}}, {ID: "C", Skills: []body.SkillID{"alu"}}}
	sh.Bays = []shop.Bay{{ID: "B1", Kind: "bench", Name: "Bench", In: 4, Out: 3}, {ID: "B2", Kind: "booth", Name: "Booth", In: 2, Out: 5}, {ID: "B3", Kind: "bench", Name: "Second bench", In: 4, Out: 6}}
	sh.Moving = &shop.Moving{Skill: "body"}
	sh.Equipment = []string{"welder"}
	sh.Absences = []shop.Absence{{Person: "C", From: monday(1), To: monday(2), Reason: "ill"}}
	known := func(day, minute int) time.Time {
		return time.Date(2026, 3, 2+day, 8, minute, 0, 0, shop.WallClock)
	}
	one := weekJob("J1", monday(0))
	one.Promise = monday(2)
	one.Job.Vehicle.VIN = "ONE"
	one.Plan.Steps[2].Second = true
	one.Job.Actuals = []job.Actual{{Step: "Open", Minutes: 60, On: monday(0), By: "A"}, {Step: "Bond", Minutes: 100, Going: true, Left: 90, On: monday(0), By: "C"}}
	one.Plan.Steps[1].Skill = "alu"
	two := weekJob("J2", monday(0))
	two.Job.Actuals = []job.Actual{{Step: "Open", Minutes: 60, On: monday(0), By: "A"}, {Step: "Bond", Minutes: 230, On: monday(1), By: "B"}, {Step: "Close", Minutes: 5, On: monday(0), By: "nobody"}}
	two.Plan.Steps[1].WaitMin = 2000
	two.Plan.Steps = append(two.Plan.Steps, Step{ID: "S-4", Name: "Coat", Skill: "body", Bay: "booth", Minutes: 50, After: []string{"S-2"}, From: known(2, 0), Equipment: []string{"welder", "welder"}})
	two.Promise = monday(30)
	three := InShop{Route: "cut", Promise: monday(4), Job: &job.State{ID: "J3", Start: monday(1),
		Deliveries: []job.Arrival{{ID: "D1", Item: "glue", Count: 1, On: monday(0), By: "A", UseBefore: monday(2)}},
		Promises:   []job.Promised{{ID: "P1", Item: "glue", Count: 1, Expected: monday(5), On: monday(0), By: "A"}}}}
	three.Plan = Plan{Start: monday(1), Finish: monday(4), Takeoff: []Takeoff{{Material: "glue", Net: 2, Gross: 2, Pack: 2, Packs: 1, Lines: []TakeoffLine{{Step: "T-3", Amount: 2}}}},
		Lost: []Lost{{Part: "horn", Quantity: 1}}, Steps: []Step{
			{ID: "T-1", Ref: "move 1", Name: "Move 1", Skill: "body", Bay: "bench", BayID: "B3", Minutes: 4, From: known(1, 0), To: known(1, 4), Move: &Move{From: Yard, To: "bench", Rolls: true}},
			{ID: "T-2", Ref: "off x", Name: "Cut", Skill: "body", Bay: "bench", BayID: "B3", Minutes: 45, After: []string{"T-1"}, From: known(1, 4), To: known(1, 49), Takes: []body.PartID{"horn"}, Lift: "up",
				Awaits: []Awaited{{Kind: Delivery, Part: "horn", Name: "delivery of horn", Minutes: 2 * 1440, Low: 1440, High: 5 * 1440}}},
			{ID: "T-3", Ref: "bond", Name: "Mix", Skill: "body", Bay: "bench", BayID: "B3", Minutes: 20, After: []string{"T-2"}, From: known(1, 49), To: known(1, 69), Together: "bond", Window: 60, Lift: "half"},
			{ID: "T-4", Ref: "set", Name: "Set", Skill: "body", Bay: "bench", BayID: "B3", Minutes: 30, After: []string{"T-3"}, From: known(1, 69), To: known(1, 99), Together: "bond", Window: 60, WaitMin: 300, Lift: "half"},
			{ID: "T-5", Ref: "move 2", Name: "Move 2", Skill: "body", Bay: "booth", BayID: "B2", Minutes: 8, After: []string{"T-4"}, From: known(2, 0), To: known(2, 8), Move: &Move{From: "bench", To: "booth", Rolls: true}},
			{ID: "T-6", Ref: "paint", Name: "Paint", Skill: "alu", Bay: "booth", BayID: "B2", Minutes: 70, After: []string{"T-5"}, From: known(2, 8), To: known(2, 78), WaitMin: 90},
			{ID: "T-7", Ref: "move 3", Name: "Move 3", Skill: "body", Minutes: 5, After: []string{"T-6"}, From: known(3, 0), To: known(3, 5), Move: &Move{From: "booth", To: Yard, Rolls: true}}}}
	four := weekJob("J4", monday(2))
	four.Job.Vehicle.VIN, four.Plan.Steps[1].Bay = "FOUR", ""
	four.Plan.Steps[0].Awaits = []Awaited{{Kind: Answer, Name: "the answer", Minutes: 1440}, {Kind: Delivery, Name: "delivery of y", Part: "y", Promised: monday(3), Record: "P9", Ready: known(3, 300), Minutes: 3000}}
	return sh, []InShop{one, two, three, four}
}

// rareWeek is a week in which something is in the way.
type rareWeek struct {
	name string
	shop *shop.Shop
	jobs []InShop
	from unit.Date
}

// rareWeeks are weeks with vehicles in one another's way, of one vehicle, of one job that is
// all that is left, of jobs that keep a bay without a date, and of a shop that somebody has left.
func rareWeeks() []rareWeek {
	var out []rareWeek
	add := func(name string, from int, change func(sh *shop.Shop, jobs []InShop)) {
		sh := weekShop()
		jobs := crossed(sh)
		sh.Moving = &shop.Moving{Skill: "body"}
		change(sh, jobs)
		out = append(out, rareWeek{name, sh, jobs, monday(from)})
	}
	still := func(jobs []InShop) {
		for k := range jobs[:2] {
			jobs[k].Plan.Stills = []Still{{Name: "wheel is off", From: []string{"S-1"}, To: []string{"S-2"}}}
		}
	}
	add("crossed", 1, func(sh *shop.Shop, jobs []InShop) {})
	add("crossed, late", 9, func(sh *shop.Shop, jobs []InShop) { jobs[0].Promise, jobs[1].Promise = monday(8), monday(12) })
	add("crossed, nobody moves", 1, func(sh *shop.Shop, jobs []InShop) { sh.Moving = nil })
	add("crossed, nobody can", 1, func(sh *shop.Shop, jobs []InShop) { sh.Moving.Skill = "none" })
	add("crossed, not rolling", 1, func(sh *shop.Shop, jobs []InShop) { still(jobs) })
	add("crossed, carried", 1, func(sh *shop.Shop, jobs []InShop) {
		still(jobs)
		sh.Moving.Carry, sh.Equipment = &shop.Carry{More: 4, Equipment: []string{"trolley", "trolley"}}, []string{"trolley"}
	})
	add("crossed, one carried", 1, func(sh *shop.Shop, jobs []InShop) {
		still(jobs[1:])
		jobs[0].Job.Start = monday(2)
	})
	add("crossed, cures", 1, func(sh *shop.Shop, jobs []InShop) {
		jobs[0].Plan.Steps[0].WaitMin, jobs[1].Plan.Steps[0].WaitMin = 1500, 1900
	})
	add("one vehicle", 1, func(sh *shop.Shop, jobs []InShop) {
		jobs[0].Job.Vehicle.VIN, jobs[2].Job.Vehicle.VIN = "x 1", "X1"
	})
	add("one vehicle, one done", 1, func(sh *shop.Shop, jobs []InShop) {
		jobs[0].Job.Vehicle.VIN, jobs[2].Job.Vehicle.VIN = "x 1", "X1"
		jobs[2].Job.Actuals = []job.Actual{{Step: "Paint", Minutes: 30, On: monday(0), By: "A"}}
	})
	add("somebody has left", 1, func(sh *shop.Shop, jobs []InShop) {
		sh.Absences = []shop.Absence{{Person: "B", From: monday(0), Reason: "left"}, {Bay: "B2", From: monday(0), To: monday(3), Reason: "repaired"}}
	})
	add("nobody is left", 1, func(sh *shop.Shop, jobs []InShop) {
		sh.Absences = []shop.Absence{{Person: "A", From: monday(0), Reason: "left"}, {Person: "B", From: monday(1), Reason: "left"}}
	})
	add("a bay closes for good", 1, func(sh *shop.Shop, jobs []InShop) {
		sh.Absences = []shop.Absence{{Bay: "B1", From: monday(2), Reason: "sold"}}
	})
	add("under way in both", 1, func(sh *shop.Shop, jobs []InShop) {
		for k := range jobs[:2] {
			jobs[k].Job.Actuals[0].Going, jobs[k].Job.Actuals[0].Left = true, 33
			jobs[k].Job.Actuals[0].By = "A"
		}
	})
	add("left behind", 1, func(sh *shop.Shop, jobs []InShop) {
		s := &jobs[0].Plan
		s.Steps = slices.Insert(s.Steps, 1, Step{ID: "M", Ref: "move 1", Name: "Move", Skill: "body", Minutes: 4, Bay: "clean", BayID: "B2", After: []string{"S-1"}, From: s.Steps[0].From, Move: &Move{From: "bench", To: "clean"}})
		s.Steps[0].BayID, s.Steps[2].BayID, s.Steps[2].After = "B1", "B2", []string{"M"}
		jobs[0].Job.Actuals = []job.Actual{{Step: "Move", Minutes: 4, On: monday(0), By: "A"}}
	})
	add("no end", 1, func(sh *shop.Shop, jobs []InShop) { jobs[2].Plan.Steps[0].WaitMin = 9e7 })
	add("no calendar", 1, func(sh *shop.Shop, jobs []InShop) { sh.Calendar.Start = "8" })
	add("rolled out", 1, func(sh *shop.Shop, jobs []InShop) {
		for k := range sh.Bays {
			sh.Bays[k].RollOut = unit.Minutes(5 + k)
		}
		for k := range jobs[:2] {
			jobs[k].Plan.Steps[1].Awaits = []Awaited{{Kind: Delivery, Part: "x", Name: "delivery of x", Minutes: 3000}}
		}
	})
	return out
}

// TestWeeksStayAsTheyAre: a full week, from four days on, each of its
// jobs alone, weeks in which something is in the way, and the full one with one after the other of the
// fields of its bays, absences, records, deliveries and some steps changed, each with its figures and a fingerprint of all of it, notes
// and what is left of the plans included. The laws of weeks hold what is right in them.
func TestWeeksStayAsTheyAre(t *testing.T) {
	var b strings.Builder
	sh, jobs := fullWeek()
	weekText := func(sh *shop.Shop, jobs []InShop, from unit.Date) (text, figures string) {
		defer func() {
			if recover() != nil {
				text, figures = "", "contradicts itself"
			}
		}()
		w, notes := WeekOf(sh, jobs, from)
		all := []any{w, notes}
		for _, in := range jobs {
			all = append(all, w.PlanOf(in.Plan, in.Job, sh))
		}
		out, err := json.Marshal(all)
		if err != nil {
			return err.Error(), "no JSON"
		}
		var ends []string
		for _, j := range w.Jobs {
			ends = append(ends, j.Finish.String())
		}
		return string(out), fmt.Sprintf("%d steps, done %s, notes: %d, blocking: %s", len(w.Steps), strings.Join(ends, " "), len(notes), blocking(notes))
	}
	for day := range 4 {
		text, figures := weekText(sh, jobs, monday(day))
		fmt.Fprintf(&b, "from day %d\t%s\t%.4x\n", day, figures, sha256.Sum256([]byte(text)))
		text, figures = weekText(sh, jobs[day:day+1], monday(0))
		fmt.Fprintf(&b, "%s alone\t%s\t%.4x\n", jobs[day].Job.ID, figures, sha256.Sum256([]byte(text)))
	}
	for _, w := range rareWeeks() {
		text, figures := weekText(w.shop, w.jobs, w.from)
		fmt.Fprintf(&b, "%s\t%s\t%.4x\n", w.name, figures, sha256.Sum256([]byte(text)))
	}
	plain, _ := weekText(sh, jobs, monday(1))
	tell := func(name string) {
		if text, figures := weekText(sh, jobs, monday(1)); text != plain {
			fmt.Fprintf(&b, "%s\t%s\t%.4x\n", name, figures, sha256.Sum256([]byte(text)))
		}
	}
	for _, of := range []struct {
		name string
		what any
	}{{"bays", &sh.Bays}, {"moving", sh.Moving}, {"absences", &sh.Absences}, {"one", jobs[0].Job}, {"two", &jobs[1].Job.Actuals}, {"three", &jobs[2].Job.Promises}, {"three", &jobs[2].Job.Deliveries},
		{"bond", &jobs[1].Plan.Steps[1]}, {"cut", &jobs[2].Plan.Steps[1]}, {"set", &jobs[2].Plan.Steps[3]}, {"open", &jobs[3].Plan.Steps[0].Awaits[1]}} {
		golden.EachField(reflect.ValueOf(of.what).Elem(), of.name, tell)
	}
	golden.Same(t, "testdata/weeks.tsv", b.String())
}
