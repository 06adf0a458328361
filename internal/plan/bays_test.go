package plan

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fettle/internal/job"
)

// bayJob is a job of body steps with known dates: "name bay minutes wait after".
func bayJob(id string, steps ...Step) InShop {
	for k := range steps {
		s := &steps[k]
		s.ID, s.Skill, s.From = fmt.Sprintf("S-%d", k+1), "body", time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
		if k > 0 && s.After == nil {
			s.After = []string{fmt.Sprintf("S-%d", k)}
		}
	}
	return InShop{Job: &job.State{ID: id, Start: monday(0)}, Route: "weld", Plan: Plan{Finish: monday(0), Steps: steps}}
}

func startOf(t *testing.T, w Week, job, name string) string {
	t.Helper()
	for _, s := range w.Steps {
		if s.Job == job && s.Name == name {
			return s.From.Format("Mon 15:04")
		}
	}
	t.Errorf("%s has no step %q: %+v", job, name, w.Steps)
	return ""
}

// Constructed, by hand: J1 bonds on the bench 8:00 to 12:00, cures for 600 min, to
// 22:00, and needs the bench again on Tuesday 8:00 to 8:30. J2 can begin at 12:00 and
// needs it for an hour: not while J1 cures, but on Tuesday at 8:30.
func TestBenchIsKeptWhileItCures(t *testing.T) {
	one := bayJob("J1", Step{Name: "Bond", Bay: "bench", Minutes: 240, WaitMin: 600}, Step{Name: "Measure", Bay: "bench", Minutes: 30})
	two := bayJob("J2", Step{Name: "Weld", Bay: "bench", Minutes: 60, Awaits: []Awaited{{Kind: Delivery, Name: "part", Minutes: 240}}})
	w, notes := WeekOf(weekShop(), []InShop{one, two}, monday(0))
	if at := startOf(t, w, "J2", "Weld"); at != "Tue 08:30" || len(notes) != 0 {
		t.Errorf("J2 begins %s, want Tue 08:30; %v", at, notes)
	}
	b := w.Jobs[0].Bays
	if len(b) != 1 || b[0].Bay != "B1" || b[0].From.Format("Mon 15:04") != "Mon 08:00" || b[0].To.Format("Mon 15:04") != "Tue 08:30" {
		t.Errorf("J1 keeps %+v", b)
	}
	if len(w.Jobs[1].Waiting) != 1 || w.Jobs[1].Waiting[0] != "Weld begins when J1 has left B1" {
		t.Errorf("%q", w.Jobs[1].Waiting)
	}
	one.Plan.Steps = one.Plan.Steps[:1] // also after its last step there
	w, _ = WeekOf(weekShop(), []InShop{one, two}, monday(0))
	if at := startOf(t, w, "J2", "Weld"); at != "Tue 08:00" {
		t.Errorf("J2 begins %s while J1 cures to 22:00; want Tue 08:00", at)
	}
	one.Job.Actuals = []job.Actual{{Step: "Bond", Minutes: 240, On: monday(0), By: "A"}} // ended by 16:00, cures to Tuesday 2:00
	one.Plan.Steps[0].WaitMin = 1020
	w, _ = WeekOf(weekShop(), []InShop{one, two}, monday(1))
	if at := startOf(t, w, "J2", "Weld"); at != "Tue 09:00" {
		t.Errorf("J2 begins %s; what was recorded as done on Monday cures from 16:00 to Tuesday 09:00", at)
	}
}

// Constructed, by hand: on Tuesday J1 is opened on the bench and waits for a part that
// comes on Thursday 8:00. J2 needs the bench for an hour: after J1, on Thursday at 8:30,
// unless the shop rolls vehicles out.
func TestVehicleStaysUnlessRolledOut(t *testing.T) {
	one := bayJob("J1", Step{Name: "Open", Bay: "bench", Minutes: 60},
		Step{Name: "Fit", Bay: "bench", Minutes: 30, Awaits: []Awaited{{Kind: Delivery, Name: "part", Part: "p", Minutes: 3 * 1440}}})
	one.Job.Actuals = []job.Actual{{Step: "Open", Minutes: 60, On: monday(0), By: "A"}}
	two := bayJob("J2", Step{Name: "Weld", Bay: "bench", Minutes: 60})
	sh := weekShop()
	w, notes := WeekOf(sh, []InShop{one, two}, monday(1))
	if at := startOf(t, w, "J2", "Weld"); at != "Thu 08:30" || len(notes) != 0 {
		t.Errorf("J2 begins %s, want Thu 08:30; %v", at, notes)
	}
	sh.Bays[0].RollOut = 45
	w, notes = WeekOf(sh, []InShop{one, two}, monday(1))
	if at := startOf(t, w, "J2", "Weld"); at != "Tue 08:00" || len(notes) != 0 {
		t.Errorf("rolled out, J2 begins %s, want Tue 08:00; %v", at, notes)
	}
	// On Monday J1 is under way until 9:00 and rolled out by 9:45, when J2 begins. By
	// itself J1 does not wait for being rolled out.
	one.Job.Actuals = []job.Actual{{Step: "Open", Minutes: 30, Left: 60, Going: true, On: monday(0), By: "A"}}
	two.Plan.Steps[0].Awaits = []Awaited{{Kind: Delivery, Name: "other", Part: "q", Minutes: 60}}
	two.Promise = monday(0)
	one.Plan.Steps[0].Minutes, two.Plan.Steps[0].Minutes = 60, 300
	one.Plan.Steps[1].Awaits[0].Minutes = 420
	one.Promise = monday(1)
	w, _ = WeekOf(sh, []InShop{one, two}, monday(0))
	if a, b := startOf(t, w, "J1", "Open"), startOf(t, w, "J2", "Weld"); a != "Mon 08:00" || b != "Mon 09:45" {
		t.Errorf("J1 opens %s, J2 begins %s; want Mon 08:00 and 09:45", a, b)
	}
	one.Plan.Steps[1].Awaits[0].Minutes = 70
	w, _ = WeekOf(sh, []InShop{one}, monday(0))
	if at := startOf(t, w, "J1", "Fit"); at != "Mon 09:10" {
		t.Errorf("J1 goes on %s, want Mon 09:10", at)
	}
}

// More vehicles recorded in a bay than there are bays is told; nothing is hidden.
func TestTwoVehiclesInOneBayAreTold(t *testing.T) {
	var jobs []InShop
	for _, id := range []string{"J1", "J2"} {
		j := bayJob(id, Step{Name: "Open", Bay: "bench", Minutes: 60}, Step{Name: "Fit", Bay: "bench", Minutes: 30})
		j.Job.Actuals = []job.Actual{{Step: "Open", Minutes: 60, On: monday(0), By: "A"}}
		jobs = append(jobs, j)
	}
	w, notes := WeekOf(weekShop(), jobs, monday(1))
	if len(notes) != 1 || notes[0].Code != "week.bays-full" || !strings.Contains(notes[0].Text, "bench") || len(w.Steps) != 2 {
		t.Errorf("%v %+v", notes, w.Steps)
	}
}

// Constructed, by hand: bench, then the clean bay, then the bench again: the bench is
// free when the vehicle stands in the clean bay, and that when it is back on the bench.
// A clean step that is tied to one of the bench steps only parts nothing.
func TestVehicleLeavesForAnotherBay(t *testing.T) {
	steps := []stood{{bay: "bench"}, {bay: "clean", after: []int{0}}, {bay: "bench", after: []int{1}}}
	got := fmt.Sprint(keptBays(steps, weekShop().Bays))
	if want := "[{bench [0] [1] 0} {bench [2] [] 0} {clean [1] [2] 0}]"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	steps = []stood{{bay: "bench"}, {bay: "clean", after: []int{0}}, {bay: "bench", after: []int{0}}}
	got = fmt.Sprint(keptBays(steps, weekShop().Bays))
	if want := "[{bench [0 2] [] 0} {clean [1] [] 0}]"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	sh := weekShop()
	sh.Bays[0].RollOut = 30
	steps = []stood{{bay: "bench"}, {after: []int{0}, gates: []string{"answer"}}, {bay: "bench", after: []int{1}}, {bay: "bench", after: []int{2}}}
	got = fmt.Sprint(keptBays(steps, sh.Bays))
	if want := "[{bench [0] [] 30} {bench [2 3] [] 0}]"; got != want {
		t.Errorf("rolled out: %s, want %s", got, want)
	}
	steps[3].after = nil // it may come before the answer: nothing is parted
	got = fmt.Sprint(keptBays(steps, sh.Bays))
	if want := "[{bench [0 2 3] [] 0}]"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// Constructed: two people, three steps of an hour, one with the lift up, two with it
// half: 8:00 to 10:00, never up and half at once; in the week as in the plan's dates.
func TestStepsAtOneHeightAtATime(t *testing.T) {
	j := bayJob("J1", Step{Name: "a", Lift: "up", Minutes: 60}, Step{Name: "b", Lift: "half", Minutes: 60, After: []string{}}, Step{Name: "c", Lift: "half", Minutes: 60, After: []string{}})
	w, notes := WeekOf(weekShop(), []InShop{j}, monday(0))
	if len(notes) != 0 || len(w.Steps) != 3 || w.Steps[2].To.Format("15:04") != "10:00" || !w.Proven {
		t.Fatalf("%v %+v", notes, w)
	}
	apart(t, w.Steps, map[string]string{"a": "up", "b": "half", "c": "half"})
	in := input(weldF1, plateF2, swapF3)
	for k := range in.Body.Parts {
		in.Body.Parts[k].Lift = []string{"up", "half", "down"}[k%3]
	}
	p, _ := Build(in)
	var steps []WeekStep
	lift := map[string]string{}
	for _, s := range p.Steps {
		lift[s.Name] = s.Lift
		steps = append(steps, WeekStep{Name: s.Name, From: s.From, To: s.To})
	}
	if !p.Proven || len(steps) < 8 {
		t.Errorf("%d steps, proven %v", len(steps), p.Proven)
	}
	apart(t, steps, lift)
}

func apart(t *testing.T, steps []WeekStep, lift map[string]string) {
	t.Helper()
	for i, x := range steps {
		for _, y := range steps[:i] {
			if a, b := lift[x.Name], lift[y.Name]; a != b && a != "" && b != "" && x.From.Before(y.To) && y.From.Before(x.To) {
				t.Errorf("%s with the lift %s while %s has it %s", x.Name, a, y.Name, b)
			}
		}
	}
}
