package release

import (
	"testing"

	"fettle/internal/body"
)

// A record of its torque is wanted of each joint that was closed and has one, and of no other, in
// whatever order they stand.
func TestTorqueIsWantedWhereThereIsOne(t *testing.T) {
	r := &gate{in: Input{Joints: []body.JointID{"J1", "GONE", "J2"}}}
	r.in.Body, r.in.Job = &body.Body{Joints: []body.Joint{{ID: "J1", Name: "clip"}, {ID: "J2", Name: "lid", Torque: 8}, {ID: "J3", Name: "closed", Torque: 9}}}, newWorld().in.Job
	r.in.Job.Records = nil
	r.torque(body.Acceptance{Cite: "p. 5"})
	if len(r.out) != 1 || r.out[0].Where != "J2" || r.out[0].Cite != "p. 5" || len(r.out[0].Wants) != 1 || r.out[0].Wants[0].Entry != WantTorque || r.out[0].Wants[0].Must != "lid: 8 Nm" {
		t.Errorf("%+v", r.out)
	}
}

// What is missing is told once: the same words of another place, and other words of the same, are
// something else.
func TestWhatIsMissingIsToldOnce(t *testing.T) {
	r := &gate{}
	for _, m := range []Missing{{Where: "F1", Text: "a"}, {Where: "F1", Text: "b"}, {Where: "F2", Text: "a"}, {Where: "F1", Text: "a", Hint: "h"}, {Where: "F2", Text: "a"}} {
		r.once(m)
	}
	if len(r.out) != 3 || r.out[0].Text != "a" || r.out[1].Text != "b" || r.out[2].Where != "F2" {
		t.Errorf("%+v", r.out)
	}
}
