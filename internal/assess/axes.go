package assess

import (
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
)

// Axes is how what is given in the axes of set-ups is carried into vehicle axes. The set-ups are
// measured for it only where a finding asks for one.
func (in Input) Axes() map[string]inspect.Axes {
	for _, f := range in.Job.Findings {
		if f.Setup != "" {
			r, _ := measure.Run(in.Measure(job.StageBefore))
			return axesBy(in.Job, &r)
		}
	}
	return nil
}

func axesBy(j *job.State, r *measure.Result) map[string]inspect.Axes {
	var out map[string]inspect.Axes
	for _, f := range j.Findings {
		if f.Setup == "" {
			continue
		}
		if out == nil {
			out = map[string]inspect.Axes{}
		}
		a, why := r.AxesOf(f.Setup)
		out[f.Setup] = inspect.Axes{Why: why, Carry: a.Carry}
	}
	return out
}
