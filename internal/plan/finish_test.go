package plan

import (
	"fmt"
	"testing"

	"fettle/internal/sched"
)

// By hand: what nothing follows lasts to the end, with its wait; a schedule ends with the last of
// those waits, not with one that something follows.
func TestWhatLastsToTheEnd(t *testing.T) {
	p := sched.Problem{Activities: []sched.Activity{{}, {After: []sched.Lag{{Pred: 0}}}, {After: []sched.Lag{{Pred: 0}}}, {}}}
	dated := []*node{{step: Step{WaitMin: 90}}, {step: Step{WaitMin: 30.5}}, {}, {}}
	last, waits := lasting(&p, dated)
	if got := fmt.Sprint(last); got != "[{1 31 1 0} {2 0 1 0} {3 0 1 0}]" || !waits {
		t.Errorf("%s, waits %t", got, waits)
	}
	s := sched.Solution{Slots: []sched.Slot{{To: 100}, {To: 120}, {To: 150}, {To: 40}}}
	if got := ends(s, last); got != 151 {
		t.Errorf("over at %d, want 120 + 31", got)
	}
	dated[1].step.WaitMin = 0
	if _, waits := lasting(&p, dated); waits {
		t.Error("a wait that something follows is taken as the last")
	}
	p.Calendar.Week[0] = []sched.Window{{From: 480, To: 960}}
	p.Activities = append(p.Activities, sched.Activity{ID: "end", After: last})
	// by minute 970 all 480 are worked; a wait of 31 min before it covers 939 to 960, 21 of them
	by := endingBy(p, last, 970)
	if got := fmt.Sprint(by.Activities[4].After); got != "[{1 21 0 0} {2 0 0 0} {3 0 0 0}]" || fmt.Sprint(p.Activities[4].After) != fmt.Sprint(last) {
		t.Errorf("%s", got)
	}
}
