package plan

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// pullF3 straightens the bracket, which is bent.
func pullF3(points bool, requires ...body.TaskID) Input {
	in := input(Item{Treatment: "pull", Kind: body.Straighten, Findings: []job.FindingID{"F3"}})
	in.Job.Findings[2].Kind, in.Inspect.Findings[2].Kind = body.Bend, body.Bend
	in.Body.Treatments = append(in.Body.Treatments, body.Treatment{ID: "pull", Name: "straighten", Kind: body.Straighten, Requires: requires,
		Steps: []body.Step{{ID: "p1", Name: "Pull", Skill: "alu", Fixed: 25, Bay: "bench", HeatsTo: 120, Pulls: 2}}})
	if points {
		in.Body.Points = []body.Point{{ID: "B1", Part: "bracket"}}
	}
	return in
}

// A part with control points is pulled once the vehicle is fixed; where no task fixes it, or none
// measures the points afterwards, that is told. One without points is no structure. How hot it was
// made and how often it was pulled are figures of the step, with the limits of the treatment.
func TestAStructuralPartIsPulledOnAFixedVehicle(t *testing.T) {
	for name, c := range map[string]struct {
		in                Input
		fixed, unmeasured bool // told
	}{
		"fixed":           {pullF3(true, "bench"), false, true},
		"not fixed":       {pullF3(true), true, true},
		"no points":       {pullF3(false), false, false},
		"points of a bed": {func() Input { in := pullF3(true); in.Body.Points[0].Part = ""; return in }(), false, false},
	} {
		p, notes := Build(c.in)
		if got := len(codes(notes, "plan.not-fixed")) == 1; got != c.fixed {
			t.Errorf("%s: not fixed told: %v", name, got)
		}
		if got := len(codes(notes, "plan.no-measuring")) == 1; got != c.unmeasured {
			t.Errorf("%s: not measured told: %v", name, got)
		}
		pull := slices.IndexFunc(p.Steps, func(s Step) bool { return s.Name == "Pull" })
		bench := slices.IndexFunc(p.Steps, func(s Step) bool { return s.Name == "Set up on bench" })
		if pull < 0 || name == "fixed" && (bench < 0 || bench > pull) {
			t.Fatalf("%s: pulled at %d, fixed at %d", name, pull, bench)
		}
		var figures []string
		for _, r := range p.Steps[pull].Readings {
			figures = append(figures, r.ID+" "+r.Limits())
		}
		if got := strings.Join(figures, "; "); !strings.Contains(got, "part-temperature") || !strings.Contains(got, "120 C") || !strings.Contains(got, "pulls") || !strings.Contains(got, "2 times") {
			t.Errorf("%s: figures %q", name, got)
		}
	}
}

// Another treatment's task that fixes the vehicle comes before the pull too.
func TestAnyTaskThatFixesComesBeforeThePull(t *testing.T) {
	in := pullF3(true)
	in.Choice.Items = append(in.Choice.Items, weldF2)
	p, notes := Build(in)
	pull := slices.IndexFunc(p.Steps, func(s Step) bool { return s.Name == "Pull" })
	bench := slices.IndexFunc(p.Steps, func(s Step) bool { return s.Name == "Set up on bench" })
	if len(codes(notes, "plan.not-fixed")) > 0 || bench < 0 || bench > pull {
		t.Errorf("fixed at %d, pulled at %d: %v", bench, pull, codes(notes, "plan.not-fixed"))
	}
}
