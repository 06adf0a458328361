package plan

import (
	"fmt"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
)

// Nobody moves vehicles, and by the records of a vehicle it was measured on the bench and is bonded
// in the clean bay, though what comes before both in these bays is not on record: where it stands
// nobody can tell, and no order of work has it there. Each such vehicle is without a bay, and nobody
// else is: with one of them fewer there is no schedule, and the sound ones, of which work is on
// record too, have their dates. Constructed.
func TestContradictoryRecordsLeaveAsFewAsNeededWithoutABay(t *testing.T) {
	astray := func(id string) InShop {
		in := bayJob(id, Step{Name: "Pull", Bay: "bench", Minutes: 60, WaitMin: 300, After: []string{}}, Step{Name: "Weld", Bay: "clean", Minutes: 60, After: []string{}},
			Step{Name: "Measure", Bay: "bench", Minutes: 60, WaitMin: 300, After: []string{"S-1", "S-2"}}, Step{Name: "Bond", Bay: "clean", Minutes: 60, After: []string{"S-2", "S-3"}})
		in.Job.Actuals = []job.Actual{{Step: "Measure", Minutes: 60, On: monday(0), By: "A"}, {Step: "Bond", Minutes: 60, Going: true, Left: 30, On: monday(0), By: "B"}}
		return in
	}
	sound := func(id string, bay string) InShop {
		in := bayJob(id, Step{Name: "Open", Minutes: 60}, Step{Name: "Set up", Bay: body.BayKind(bay), Minutes: 60})
		in.Job.Actuals = []job.Actual{{Step: "Open", Minutes: 60, On: monday(0), By: "A"}}
		return in
	}
	for n, jobs := range [][]InShop{
		{sound("J1", "clean"), astray("X1")},
		{astray("X1"), sound("J1", "bench"), sound("J2", "clean")},
		{sound("J1", "bench"), astray("X1"), sound("J2", "clean"), astray("X2")},
		{sound("J1", "bench"), sound("J2", "clean")},
	} {
		sh := weekShop()
		sh.Bays = []shop.Bay{{ID: "B1", Kind: "bench", Name: "Bench"}, {ID: "B2", Kind: "clean", Name: "Clean bay"}}
		w, notes := WeekOf(sh, jobs, monday(1))
		var open, want []string
		for _, x := range notes {
			if x.Code == "week.bays-open" {
				open = append(open, x.Where)
			}
		}
		for k, in := range jobs {
			if in.Job.ID[0] == 'X' {
				want = append(want, in.Job.ID)
			} else if w.Jobs[k].Finish.IsZero() || w.Jobs[k].Left != len(in.Plan.Steps)-len(in.Job.Actuals) {
				t.Errorf("%d: %s has no dates: %+v, %v", n, in.Job.ID, w.Jobs[k], notes)
			}
		}
		for _, id := range want {
			var rest []int
			for k, in := range jobs {
				if slices.Contains(want, in.Job.ID) && in.Job.ID != id {
					rest = append(rest, k)
				}
			}
			if _, err := newWeek(sh, jobs, monday(1), ways{loose: rest}); err == nil {
				t.Errorf("%d: there is a schedule in which %s keeps its bay", n, id)
			}
		}
		if !slices.Equal(open, want) || noted(notes, "week.schedule") != "" || noted(notes, "week.in-the-way") != "" {
			t.Errorf("%d: %v are without a bay, want %v: %s", n, open, want, fmt.Sprint(notes))
		}
	}
}
