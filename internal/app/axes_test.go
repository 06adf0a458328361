package app

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/geom"
)

// TestAFindingInTheAxesOfASetup: the crack D1 of the demonstration, given where the arm of set-up A
// saw it, is decided as in vehicle axes: as long, in the same zones, allowed the same; its distances are
// known as well or less. Where the set-up cannot be carried the job is blocked.
func TestAFindingInTheAxesOfASetup(t *testing.T) {
	assessed := func(m memory) (*Opened, Assessment) {
		a := New(m, "test")
		c, err := a.Open(context.Background(), "job")
		if err != nil {
			t.Fatal(err)
		}
		r, err := a.AssessOpened(context.Background(), c, demo.Day)
		if err != nil {
			t.Fatal(err)
		}
		return c, r
	}
	plain := files()
	c, was := assessed(plain)
	axes, why := was.Measure.AxesOf("A")
	if why != "" {
		t.Fatal(why)
	}
	var in []string
	for _, p := range c.Job.Findings[0].Trace {
		q := deviceOf(axes.Carry, p)
		in = append(in, fmt.Sprintf("[%.4f, %.4f, %.4f]", q[0], q[1], q[2]))
	}
	moved := "setup: A\n    trace_mm: [" + strings.Join(in, ", ") + "]"
	m := scenario(t, "job/job.yaml", "trace_mm: [[330, -515, 350], [334, -515, 355.2], [337, -515, 361]]", moved)
	_, is := assessed(m)
	a, b := was.Inspect.Findings[0], is.Inspect.Findings[0]
	if !b.Located || a.Length == nil || b.Length == nil || math.Abs(a.Length.MM-b.Length.MM) > 1e-3 || b.Length.Std < a.Length.Std || len(a.Zones) != len(b.Zones) || a.Zones[0].Zone != b.Zones[0].Zone {
		t.Errorf("in vehicle axes %+v, in those of A %+v", a, b)
	}
	if a.Bore == nil || b.Bore == nil || math.Abs(a.Bore.MM-b.Bore.MM) > 1e-2 || !(b.Bore.Std > a.Bore.Std) {
		t.Errorf("the bore is %+v, by A %+v", a.Bore, b.Bore)
	}
	if was.Decide.Findings[0].Verdict != is.Decide.Findings[0].Verdict {
		t.Errorf("decided %v and %v", was.Decide.Findings[0].Verdict, is.Decide.Findings[0].Verdict)
	}
	if said := strings.Join(b.Because, "; "); !strings.Contains(said, "carried from the axes of set-up A, by a pose that is known to ± 0.") {
		t.Errorf("because %s", said)
	}
	m["job/job.yaml"] = []byte(strings.Replace(string(m["job/job.yaml"]), "setup: A\n", "setup: TRAM\n", 1))
	_, lost := assessed(m)
	found := false
	for _, n := range lost.Notes {
		found = found || n.Code == "inspect.no-axes" && n.Blocks() && n.Where == "D1"
	}
	if !found || lost.Inspect.Findings[0].Located {
		t.Errorf("in the axes of a tram gauge: %v", lost.Notes)
	}
}

// deviceOf is where a place lies that is carried to p: the carrying is linear.
func deviceOf(carry func(geom.Vec) (geom.Vec, geom.Mat3), p geom.Vec) geom.Vec {
	from, _ := carry(geom.Vec{})
	var turn geom.Mat3
	for k := range 3 {
		var e geom.Vec
		e[k] = 1000
		to, _ := carry(e)
		for i, x := range to.Sub(from) {
			turn[i][k] = x / 1000
		}
	}
	back, _ := turn.Inverse()
	return back.MulVec(p.Sub(from))
}
