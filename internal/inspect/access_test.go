package inspect

import (
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// What somebody found can be reached counts when a person of the shop signed for it on a day after the
// impact and not after today, and nothing on record since says otherwise. By hand.
func TestWhatCanBeReached(t *testing.T) {
	for name, k := range map[string]struct {
		access job.Accessible
		area   *job.AreaSeen
		counts bool
	}{
		"signed":                   {access: job.Accessible{By: "T", On: benchDay}, counts: true},
		"behind a part":            {access: job.Accessible{By: "T", On: benchDay, Off: []body.PartID{"P"}}, area: &job.AreaSeen{Area: "A-B", State: job.StateNotReachable, By: "T", On: benchDay}, counts: true},
		"by nobody of the shop":    {access: job.Accessible{By: "X", On: benchDay}},
		"by nobody":                {access: job.Accessible{On: benchDay}},
		"tomorrow":                 {access: job.Accessible{By: "T", On: benchDay.AddDays(1)}},
		"on no day":                {access: job.Accessible{By: "T"}},
		"and it could not the day": {access: job.Accessible{By: "T", On: benchDay}, area: &job.AreaSeen{Area: "A-B", State: job.StateNotReachable, By: "T", On: benchDay}},
		"and it could not before":  {access: job.Accessible{By: "T", On: benchDay}, area: &job.AreaSeen{Area: "A-B", State: job.StateNotReachable, By: "T", On: benchDay.AddDays(-1)}, counts: true},
	} {
		b := newBench(plate())
		b.body.Procedures[0].Areas = []body.AreaRule{{ID: "V", Of: []body.AreaKind{"zone"}, Method: "visual"}}
		k.access.To = []string{"B"}
		b.job.Access = []job.Accessible{k.access}
		if k.area != nil {
			b.job.Areas = []job.AreaSeen{*k.area}
		}
		r, notes := Run(b.input(t))
		told := has(notes, noAccess, "B") != nil
		if len(r.Access) != 1 || (r.Access[0].Fails == "") != k.counts || told == k.counts {
			t.Errorf("%s: %+v, told %v", name, r.Access, told)
		}
	}
}
