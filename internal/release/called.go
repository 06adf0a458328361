package release

import (
	"slices"
	"strings"

	"fettle/internal/job"
)

// A step is named by its name and a finding of it. Where a treatment has two steps of one
// name that is no identity: then what the step is in every plan tells, and a record that has
// the name only is a record of neither.

// twins says that another step has the name of this one and the finding it is named with, so
// that both together do not tell which of them is meant.
func twins(steps []PlannedStep, s PlannedStep) bool {
	return slices.ContainsFunc(steps, func(o PlannedStep) bool {
		return o.ID != s.ID && strings.EqualFold(o.Name, s.Name) && (len(s.For) == 0 || slices.ContainsFunc(s.For, func(id job.FindingID) bool { return slices.Contains(o.For, id) }))
	})
}

// called is how a record names a step.
func called(steps []PlannedStep, s PlannedStep) string {
	if s.Ref != "" && twins(steps, s) {
		return s.Ref
	}
	return s.Name
}

// names says that a record which names a step, about a finding or none, means this one.
func (r *gate) names(s PlannedStep, step string, finding job.FindingID) bool {
	if s.Ref != "" && step == s.Ref {
		return true
	}
	about := finding == "" && len(s.For) == 0 || slices.Contains(s.For, finding)
	return about && strings.EqualFold(step, s.Name) && !twins(r.in.Steps, s)
}

// either says that a record may mean this step or another one of its name.
func (r *gate) either(s PlannedStep, step string, finding job.FindingID) bool {
	about := finding == "" || slices.Contains(s.For, finding)
	return about && strings.EqualFold(step, s.Name) && twins(r.in.Steps, s)
}

// sameStep says that two records of work are about one step: by the same words, or by the
// plan.
func (r *gate) sameStep(a, b job.Actual) bool {
	if strings.EqualFold(a.Step, b.Step) && a.Finding == b.Finding {
		return true
	}
	steps := workSteps(r.in.Steps)
	x, y := job.About(steps, a), job.About(steps, b)
	return len(x) == 1 && len(y) == 1 && x[0] == y[0]
}
