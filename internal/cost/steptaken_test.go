package cost

import (
	"testing"

	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
)

// TestAStepUnderWayMayBeDone: 20 of 30 minutes are on record and 25 are left; by what was recorded
// after it the step is done, and then nothing is left of it. Each time again has its reason.
func TestAStepUnderWayMayBeDone(t *testing.T) {
	d := job.Doings{{Last: job.Actual{Minutes: 5}}, {Last: job.Actual{Minutes: 15, Going: true, Left: 25, By: "W1"}, Again: "It came off"}}
	for done, want := range map[bool]StepReality{
		false: {Step: "A", Name: "Weld", Planned: 30, Taken: 20, Going: true, Left: 25, By: "W1"},
		true:  {Step: "A", Name: "Weld", Planned: 30, Taken: 20, By: "W1"},
	} {
		r := &reckoned{shop: &shop.Shop{}, job: &job.State{}}
		r.step(plan.Step{ID: "A", Name: "Weld", Minutes: 30}, d, done)
		got := r.out.Steps[0]
		if got.Step != want.Step || got.Name != want.Name || got.Planned != want.Planned || got.Taken != want.Taken || got.Going != want.Going || got.Left != want.Left || got.By != want.By || len(got.Again) != 1 || got.Again[0] != "It came off" {
			t.Errorf("done %v: %+v", done, got)
		}
		if r.out.Left != want.Left || r.out.Taken != 20 || r.out.Planned != 30 || len(r.times) != 2 {
			t.Errorf("done %v: %+v", done, r.out)
		}
	}
}
