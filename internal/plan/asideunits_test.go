package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/job"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// By hand: every set of up to six vehicles is tried, the smaller ones first, each once; of more
// one at a time, and all.
func TestChoicesOfVehicles(t *testing.T) {
	if got := fmt.Sprint(choices([]int{4, 7, 9})); got != "[[4] [7] [9] [4 7] [4 9] [7 9] [4 7 9]]" {
		t.Errorf("of three: %s", got)
	}
	if got := choices(nil); got != nil {
		t.Errorf("of none: %v", got)
	}
	six := choices([]int{1, 2, 3, 4, 5, 6})
	seen := map[string]bool{}
	for k, c := range six {
		seen[fmt.Sprint(c)] = true
		if k > 0 && len(c) < len(six[k-1]) {
			t.Errorf("%v after %v", c, six[k-1])
		}
	}
	if len(six) != 63 || len(seen) != 63 {
		t.Errorf("of six: %d, %d different", len(six), len(seen))
	}
	if got := fmt.Sprint(choices([]int{1, 2, 3, 4, 5, 6, 7})); got != "[[1] [2] [3] [4] [5] [6] [7] [1 2 3 4 5 6 7]]" {
		t.Errorf("of seven: %s", got)
	}
}

// By hand: a vehicle does not roll from the beginning of one of some steps to the end of all of
// others, by what is recorded.
func TestRollingByWhatIsRecorded(t *testing.T) {
	p := Plan{Stills: []Still{{Name: "bumper is off", From: []string{"a", "b"}, To: []string{"c", "d"}}, {Name: "for good", From: []string{"e"}}}}
	for _, c := range []struct {
		done, going, want string
	}{
		{"", "", ""}, {"a", "", "bumper is off"}, {"", "b", "bumper is off"}, {"a c", "", "bumper is off"}, {"a c", "d", "bumper is off"}, {"a c d", "", ""}, {"c d", "", ""}, {"e", "", "for good"}, {"a e", "", "bumper is off, for good"},
	} {
		seen := map[string]job.Actual{}
		for _, id := range strings.Fields(c.done) {
			seen[id] = job.Actual{}
		}
		for _, id := range strings.Fields(c.going) {
			seen[id] = job.Actual{Going: true}
		}
		if got := notRolling(p, seen); got != c.want {
			t.Errorf("done %q, under way %q: %q, want %q", c.done, c.going, got, c.want)
		}
	}
}

// By hand: the week that is less late is better; of two as late the one with cheaper moves.
func TestBetterWeeks(t *testing.T) {
	of := func(aside int, late ...int) *week {
		w := &week{asideMin: aside}
		for _, n := range late {
			w.out.Jobs = append(w.out.Jobs, WeekJob{Late: n})
		}
		return w
	}
	for _, c := range []struct {
		a, b *week
		want bool
	}{{of(9, 1, 1), of(0, 3, 0), true}, {of(0, 3), of(9, 1, 1), false}, {of(5, 2), of(6, 1, 1), true}, {of(6, 2), of(5, 2), false}, {of(5, 2), of(5, 2), false}} {
		if got := c.a.betterThan(c.b); got != c.want {
			t.Errorf("%+v against %+v: better %t", c.a.out.Jobs, c.b.out.Jobs, got)
		}
	}
}

// By hand: vehicles of open holds stand in the bays of their kind one after the other; one
// without dates takes the last bay of its kind that is there.
func TestBaysThatVehiclesTake(t *testing.T) {
	w := &week{sh: &shop.Shop{Bays: []shop.Bay{{ID: "x1", Kind: "x"}, {ID: "y1", Kind: "y"}, {ID: "x2", Kind: "x"}, {ID: "x3", Kind: "x"}}}, holds: []int{0, 1, 2, 3, 4}}
	w.prob.Holds = []sched.Hold{{Kind: "x", Open: true}, {Kind: "y", Open: true}, {Kind: "x"}, {Kind: "x", Open: true}, {Kind: "z", Open: true}}
	var got []string
	for h := range w.prob.Holds {
		got = append(got, w.bayOf(h).ID)
	}
	if strings.Join(got, ",") != "x1,y1,x2,x2," {
		t.Errorf("%q", got)
	}
	for _, b := range w.sh.Bays {
		w.prob.Places = append(w.prob.Places, sched.Place{ID: b.ID, Kind: string(b.Kind)})
	}
	w.prob.Places[3].Away = []sched.Away{{From: 5}}
	w.takesBay(3)
	w.takesBay(0)
	w.takesBay(2) // none is left
	for k, want := range []int{1, 0, 4, 0} {
		if away := len(w.prob.Places[k].Away) > 0; w.share.Keeps[k] != want || away != (want > 0 || k == 3) {
			t.Errorf("%s is kept by %d, taken %t", w.prob.Places[k].ID, w.share.Keeps[k], away)
		}
	}
	if a := w.prob.Places[2].Away[0]; a != (sched.Away{}) {
		t.Errorf("taken from %d to %d", a.From, a.To)
	}
}

// By hand: a place is free for one that cures there where nothing takes it at the first minute;
// it is kept until then, and what the vehicle needs in bays of other kinds waits as well.
func TestVehicleCuresInItsBay(t *testing.T) {
	w := &week{sh: weekShop(), first: 480}
	w.prob.Places = []sched.Place{{ID: "x1", Kind: "x", Free: 480}, {ID: "x2", Kind: "x", Free: 481}, {ID: "y1", Kind: "y"}}
	w.prob.Activities = []sched.Activity{{Release: 700}, {Release: 300}, {Release: 300}, {Release: 300}}
	in := &InShop{Job: &job.State{ID: "J"}, Plan: Plan{Steps: []Step{{Bay: "y"}, {Bay: "y"}, {Bay: "x"}, {}, {Bay: "y"}}}}
	w.curesIn(5, in, "x", 600, []int{0, 1, 2, 3, -1})
	if w.prob.Places[0].Free != 600 || w.prob.Places[1].Free != 481 || w.share.Keeps[0] != 6 || len(w.notes) > 0 {
		t.Errorf("%+v %v %v", w.prob.Places, w.share.Keeps, w.notes)
	}
	for k, want := range []int{700, 600, 300, 300} {
		if got := w.prob.Activities[k].Release; got != want {
			t.Errorf("step %d not before %d, want %d", k, got, want)
		}
	}
	if w.curesIn(5, in, "x", 600, nil); len(w.notes) != 1 || w.notes[0].Code != "week.bays-full" {
		t.Errorf("%v", w.notes)
	}
}

// By hand: a delivery is overdue where it was to be there by the first minute of the week and is
// not on record as there by that day: in a job that keeps records it comes no earlier than the
// next day of work, in one that keeps none it is taken as there; each is told once.
func TestOverdueDeliveries(t *testing.T) {
	day := monday(3)
	for _, c := range []struct {
		name  string
		r     Awaited
		due   int
		keeps bool
		want  bool
		text  string // of the note; empty: none
	}{
		{"an answer", Awaited{Kind: Answer}, 0, true, false, ""},
		{"due later", Awaited{Kind: Delivery, Name: "x", Part: "x"}, 481, true, false, ""},
		{"due now", Awaited{Kind: Delivery, Name: "x", Part: "x"}, 480, true, true, "J: x, reckoned with its usual time, was to be there by now, and it is not on record that it came; \"Bond\" waits for it: it is planned for the next day of work"},
		{"nothing kept", Awaited{Kind: Delivery, Name: "x", Part: "x"}, 480, false, false, "it is taken as there, since nothing that came is on record in this job"},
		{"promised", Awaited{Kind: Delivery, Name: "x", Part: "x", Promised: monday(2), Record: "P1"}, 480, true, true, "J: x, promised for 2026-03-04 (P1), was to be"},
		{"came that day", Awaited{Kind: Delivery, Name: "x", Part: "x", Arrived: day}, 480, true, false, ""},
		{"came before", Awaited{Kind: Delivery, Name: "x", Part: "x", Arrived: monday(1)}, 480, true, false, ""},
		{"comes later, by the record", Awaited{Kind: Delivery, Name: "x", Part: "x", Arrived: monday(4)}, 480, true, true, "J: x"},
	} {
		w := &week{sh: weekShop(), from: day, first: 480, late: map[string]bool{}}
		in := &InShop{Job: &job.State{ID: "J"}}
		if c.keeps {
			in.Job.Promises = []job.Promised{{}}
		}
		got := w.overdue(in, Step{Name: "Bond"}, c.r, c.due)
		again := w.overdue(in, Step{Name: "Bond"}, c.r, c.due)
		if got != c.want || again != c.want || (len(w.notes) == 1) != (c.text != "") || c.text != "" && !strings.Contains(w.notes[0].Text, c.text) {
			t.Errorf("%s: overdue %t, %v", c.name, got, w.notes)
		}
	}
}

// By hand: a bay is kept from the first member to the last and its stay, until the first step in
// another bay, and from the start of the week where the vehicle stands in it; members without
// minutes count nothing.
func TestTimeThatABayIsKept(t *testing.T) {
	w := &week{first: 480}
	w.prob.Activities = []sched.Activity{{Minutes: 10}, {Minutes: 10, Stay: 50}, {}, {Minutes: 5}, {Minutes: 5}}
	sol := sched.Solution{Slots: []sched.Slot{{Place: 2, From: 600, To: 610}, {Place: 2, From: 500, To: 510}, {Place: 7, From: 9, To: 9}, {From: 700, To: 705}, {From: 650, To: 655}}}
	for _, c := range []struct {
		h        sched.Hold
		from, to int
		place    int
		ok       bool
	}{
		{sched.Hold{Members: []int{0, 1, 2}}, 500, 610, 2, true},
		{sched.Hold{Members: []int{1}}, 500, 560, 2, true},
		{sched.Hold{Members: []int{0, 1}, Until: []int{3, 4}}, 500, 650, 2, true},
		{sched.Hold{Members: []int{0}, Open: true}, 480, 610, 2, true},
		{sched.Hold{Members: []int{2}}, 0, 0, 0, false},
	} {
		w.prob.Holds = []sched.Hold{c.h}
		place, from, to, ok := w.kept(0, sol)
		if ok != c.ok || ok && (place != c.place || from != c.from || to != c.to) {
			t.Errorf("%+v: %d from %d to %d, %t", c.h, place, from, to, ok)
		}
	}
}

// By hand: some of the steps in one go are recorded and some are not.
func TestChainTornByRecords(t *testing.T) {
	p := Plan{Steps: []Step{{ID: "a", Together: "x"}, {ID: "b"}, {ID: "c", Together: "x"}, {ID: "d", Together: "y"}}}
	for done, want := range map[string]bool{"": false, "a": true, "c": true, "a c": false, "b": false, "a b": true, "d": false} {
		seen := map[string]job.Actual{}
		for _, id := range strings.Fields(done) {
			seen[id] = job.Actual{}
		}
		if got := torn(p, "x", seen); got != want {
			t.Errorf("done %q: torn %t", done, got)
		}
	}
}

// By hand: what is left of a plan by a week, with its first and last day and its minutes: steps
// of the week, of this job alone, then those without a time that are not done.
func TestWhatIsLeftOfAPlan(t *testing.T) {
	at := func(d, h int) time.Time { return time.Date(2026, 3, 2+d, h, 0, 0, 0, time.UTC) }
	of := Plan{Start: monday(0), Finish: monday(9), Steps: []Step{{ID: "1", Name: "a", Minutes: 5, From: at(0, 8)}, {ID: "2", Name: "b", Minutes: 10, From: at(0, 8)}, {ID: "3", Name: "c", Minutes: 20, From: at(0, 8), Person: "old"}, {ID: "4", Name: "d", Minutes: 40, Move: &Move{}}, {ID: "5", Name: "e", Minutes: 80}}}
	j := &job.State{ID: "J", Actuals: []job.Actual{{Step: "a", On: monday(0), By: "A", Minutes: 5}, {Step: "e", On: monday(0), By: "A", Minutes: 5, Going: true, Left: 4}}}
	w := Week{From: monday(1), Steps: []WeekStep{{Job: "J", Step: "2", Name: "b", Person: "A", Bay: "B1", From: at(2, 9), To: at(3, 10)}, {Job: "K", Step: "3", From: at(1, 9), To: at(9, 10)}, {Job: "J", Step: "OUT", Name: "out", From: at(1, 9), To: at(1, 10), Move: &Move{}}}}
	got := w.PlanOf(of, j, weekShop())
	var ids []string
	for _, s := range got.Steps {
		ids = append(ids, s.ID)
	}
	if !slices.Equal(ids, []string{"2", "OUT", "3", "5"}) || got.Start != monday(1) || got.Finish != monday(3) || got.WorkMin != 10+60+20+80 || got.Steps[2].Person != "" || !got.Steps[2].From.IsZero() || got.Steps[0].Person != "A" || got.Steps[0].BayID != "B1" {
		t.Errorf("%v from %v to %v, %g min: %+v", ids, got.Start, got.Finish, got.WorkMin, got.Steps)
	}
	if none := (Week{}).PlanOf(Plan{}, j, weekShop()); none.Start != (unit.Date{}) || none.Finish != (unit.Date{}) {
		t.Errorf("%+v", none)
	}
}
