package release

import (
	"fmt"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// A figure that is wanted is said by another entry that is wanted when that is the torque of
// its joint, or the bond of its own step: the one that names the step, else the one of a joint
// of the step, else the one of a finding that the step is for. Nothing else says it, and so
// stands for it in the list. Every combination of two steps, a bond and a figure.
func TestWhatAnotherEntrySays(t *testing.T) {
	steps := []PlannedStep{
		{ID: "S1", Name: "Plate", For: []job.FindingID{"F1", "F3"}},
		{ID: "S2", Name: "Fit", For: []job.FindingID{"F2"}, Joints: []body.JointID{"J2"}}}
	ofStep := map[string][]string{ // what a bond may be called that belongs to a step
		"Plate": {"finding F1", "finding F3"},
		"Fit":   {"finding F2", "joint J2"},
	}
	yes, no := 0, 0
	for _, f := range []Wanted{{About: "Plate", Finding: "F1"}, {About: "Plate", Finding: "F2"}, {About: "Fit", Finding: "F2"}, {About: "Gone", Finding: "F1"}} {
		f.Entry = WantFigure
		real := f.About == "Plate" && f.Finding == "F1" || f.About == "Fit" && f.Finding == "F2"
		for _, f.What = range []string{"batch-GLUE", "open-GLUE", "batch-PASTE", "torque-J2", "torque-J3", "gap"} {
			for _, w := range []Wanted{{Finding: "F1"}, {Finding: "F2"}, {Finding: "F3"}, {About: "J2"}, {About: "J3"}, {About: "J3", Finding: "F1"}, {}} {
				for _, w.Entry = range []EntryKind{WantBond, WantTorque, WantSeen} {
					for _, w.Step = range []string{"", "Plate", "Fit"} {
						w.What = "GLUE"
						want := false
						switch {
						case !real:
						case w.Entry == WantTorque:
							want = f.What == "torque-"+w.About
						case w.Entry == WantBond && (f.What == "batch-GLUE" || f.What == "open-GLUE"):
							is := "finding " + string(w.Finding)
							if w.About != "" {
								is = "joint " + w.About
							}
							want = w.Step == f.About || w.Step == "" && slices.Contains(ofStep[f.About], is)
						}
						other := Wanted{Entry: WantSeen, About: "J2", What: "GLUE"}
						if got := saidElsewhere(f, steps, []Wanted{f, other, w}); got != want {
							t.Errorf("%s of %q, %s, by the %s of %q %s, step %q: %v, want %v", f.What, f.About, f.Finding, w.Entry, w.About, w.Finding, w.Step, got, want)
						}
						if want {
							yes++
						} else {
							no++
						}
					}
				}
			}
		}
	}
	if yes < 20 || no < 200 {
		t.Error(fmt.Sprint(yes, " said elsewhere, ", no, " not"))
	}
}
