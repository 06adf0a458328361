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
