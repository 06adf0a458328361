package release

import (
	"fmt"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// What the records of a step say of a figure that is asked for: the torque of that joint, the
// batch and the open time of that adhesive; nothing of another one, and no open time where a
// time is missing. Each step with each figure.
func TestOnlyItsOwnRecordSaysAFigure(t *testing.T) {
	for _, timed := range []bool{true, false} {
		w, in := repaired()
		in.Input = w.in
		in.Joints = append(in.Joints, "J4")
		in.Steps[3].Joints = append(in.Steps[3].Joints, "J4")
		w.in.Job.Records[4].Torque = 21
		w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "r8", By: "I1", Show: body.ShowTorque, Joint: "J4", Torque: 37, On: day(2030, 3, 2)})
		if !timed {
			w.in.Job.Records[5].Mixed, w.in.Job.Records[6].Mixed = "", ""
		}
		want := map[string]string{"Close torque-J1": "21 Nm", "Close torque-J4": "37 Nm", "Plate batch-GLUE": "B7", "Bond batch-GLUE": "B7"}
		if timed {
			want["Plate open-GLUE"], want["Bond open-GLUE"] = "45 Nm", "45 Nm"
		}
		r := gate{in: *in, asked: map[string]bool{}}
		Release(*in)
		for _, s := range in.Steps {
			for _, id := range []string{"torque-J1", "torque-J2", "torque-J4", "batch-GLUE", "batch-PASTE", "open-GLUE", "open-PASTE", "gap"} {
				var got string
				for _, f := range r.recordFigures(s, body.Reading{ID: id, Unit: "Nm"}) {
					got += f.Text
					if f.Value != (unit.Amount{}) {
						got += fmt.Sprintf("%g %s", f.Value.Value, f.Value.Unit)
					}
				}
				if got != want[s.Name+" "+id] {
					t.Errorf("%s of %q, timed %v: %q, want %q", id, s.Name, timed, got, want[s.Name+" "+id])
				}
			}
		}
	}
}

// An exact length is accepted up to its limit, with the noise of decimals and not with more; an
// uncertain one on the limit is open, however small the uncertainty.
func TestLengthsAtALimit(t *testing.T) {
	third := 0.1 // as decimals are added: 0.1 + 0.2 is a little more than 0.3
	third += 0.2
	for _, c := range []struct {
		y, u float64
		want Outcome
	}{{0.3, 0, OutcomeAccepted}, {third, 0, OutcomeAccepted}, {0.3 + 1e-6, 0, OutcomeRefused}, {0.3, 1e-9, OutcomeOpen}, {third, 1e-9, OutcomeOpen}, {0.3, 1e-3, OutcomeOpen},
		{0.29, 1e-3, OutcomeAccepted}, {0.31, 1e-3, OutcomeRefused}, {0.3 - 0.8e-9, 1e-9, OutcomeOpen}} {
		if got := within(0.3, c.y, c.u, 0.95); got != c.want {
			t.Errorf("%.12g, uncertainty %g: %v, want %v", c.y, c.u, got, c.want)
		}
	}
}

// Of lines of marks the one that fares worst decides, and of those that fare alike the longest
// is told.
func TestWorstLineIsTold(t *testing.T) {
	l := inLineLevel()
	most := l.InLine.Longest
	lines := []markLine{{length: most - 2}, {length: most - 1}, {length: most, std: 0.5}, {length: most - 0.5, std: 0.5}, {length: most + 5}, {length: most + 7}}
	for k := range lines {
		for n := k + 1; n <= len(lines); n++ {
			some := lines[k:n]
			worst := some[0]
			place := func(x markLine) int {
				return slices.IndexFunc(lines, func(o markLine) bool { return o.length == x.length }) / 2
			}
			for _, x := range some {
				if place(x) > place(worst) || place(x) == place(worst) && x.length > worst.length {
					worst = x
				}
			}
			for range 2 {
				got := worstLine(l, some, 0.95)
				if want := worstLine(l, []markLine{worst}, 0.95); got != want || want.outcome != []Outcome{OutcomeAccepted, OutcomeOpen, OutcomeRefused}[place(worst)] {
					t.Errorf("lines %+v: %+v, want %+v", some, got, want)
				}
				some = slices.Clone(some)
				slices.Reverse(some)
			}
		}
	}
	// A short line that is badly measured counts for more than a long one that is in order.
	bad, good := markLine{length: most - 0.5, std: 0.5}, markLine{length: most}
	for _, some := range [][]markLine{{bad, good}, {good, bad}} {
		if got := worstLine(l, some, 0.95); got.outcome != OutcomeOpen || got != worstLine(l, []markLine{bad}, 0.95) {
			t.Errorf("lines %+v: %+v", some, got)
		}
	}
	if got := worstLine(l, []markLine{good, good}, 0.95); got != worstLine(l, []markLine{good}, 0.95) || got.text == "" {
		t.Errorf("of two alike: %+v", got)
	}
}
