package inspect

import (
	"math"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Axes is how places in the axes of a set-up are carried into vehicle axes.
type Axes struct {
	Why   string                                  // why they cannot be; empty when they can
	Carry func(at geom.Vec) (geom.Vec, geom.Mat3) // with the covariance that the pose of the set-up gives
}

// carried is a finding with its trace in vehicle axes, and the largest standard uncertainty in any
// direction that the pose of its set-up gives to a point of it. It is common to all of the trace.
func (r *run) carried(in *job.Finding) (*job.Finding, float64, *diag.Note) {
	if in.Setup == "" || len(in.Trace) == 0 {
		return in, 0, nil
	}
	a, ok := r.in.Axes[in.Setup]
	if !ok {
		a.Why = "nobody worked out its pose"
	}
	if a.Why != "" {
		return in, 0, diag.Say("inspect.no-axes", "the trace is given in the axes of set-up {setup}, which cannot be carried into vehicle axes: {why}", in.Setup, a.Why).Noted(diag.Note{Severity: diag.Blocking, Hint: "measure control points that stood still in that set-up too"})
	}
	out, std := *in, 0.0
	out.Trace = make([]geom.Vec, len(in.Trace))
	for i, p := range in.Trace {
		at, cov := a.Carry(p)
		out.Trace[i] = at
		spread, _ := geom.SymEigen(cov)
		std = max(std, math.Sqrt(max(0, spread[0], spread[1], spread[2])))
	}
	return &out, std, nil
}

// expandedMM is a standard uncertainty as it is printed, with k = 2.
func expandedMM(std float64) string { return "± " + unit.Fixed(2*std, 1) + " mm (k = 2)" }
