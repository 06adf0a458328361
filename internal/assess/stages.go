package assess

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/measure"
)

// laterStages analyses what was measured during and after the repair, and holds
// the stages against one another. It gives the notes.
func (out *Verdicts) laterStages(in Input) []diag.Note {
	var notes []diag.Note
	stage := func(name job.Stage) *measure.Result {
		if !slices.ContainsFunc(in.Job.Setups, func(s job.Setup) bool { return s.Stage == name }) {
			return nil
		}
		r, found := measure.Run(in.Measure(name))
		notes = append(notes, staged(name, found)...)
		return &r
	}
	out.During, out.After = stage(job.StageDuring), stage(job.StageAfter)
	compared := func(from, to *measure.Result) {
		if from == nil || to == nil {
			return
		}
		p := measure.Compare(in.Body.Points, *from, *to)
		out.Progress = append(out.Progress, p)
		for _, n := range p.Notes {
			n.Severity = min(n.Severity, diag.Caution) // it is the verdicts that do not permit
			notes = append(notes, n)
		}
	}
	compared(&out.Measure, out.During)
	compared(out.During, out.After)
	compared(&out.Measure, out.After)
	return notes
}

// staged says in each note which stage it is about. What was wrong during the
// repair does not block it: only what is measured before and after decides.
func staged(stage job.Stage, notes []diag.Note) []diag.Note {
	out := slices.Clone(notes)
	for i := range out {
		out[i].Where = strings.TrimSpace(out[i].Where + ", " + string(stage) + " the repair")
		if stage == job.StageDuring {
			out[i].Severity = min(out[i].Severity, diag.Caution)
		}
	}
	return out
}

// Measure is what the measuring of one stage takes.
func (in Input) Measure(stage job.Stage) measure.Input {
	return measure.Input{
		Points: in.Body.Points, Sections: in.Body.Sections, Setups: in.Job.Setups, Readings: in.Job.Readings, Stage: stage,
		Impact: in.Job.Impact.From, Axes: in.Body.Axes, Confidence: float64(in.Body.Confidence),
		Thermal: thermalOf(in.Body.Thermal), Seed: uint64(in.Job.Seed), Work: in.Work,
	}
}

// thermalOf is how the body grows, in the numbers of the measuring stage.
func thermalOf(t *body.Thermal) measure.Thermal {
	if t == nil {
		return measure.Thermal{}
	}
	perK, std := t.Mean()
	return measure.Thermal{BodyPerK: perK * 1e-6, PerKStd: std * 1e-6, ReferenceC: float64(t.Reference), LowC: float64(t.Low), HighC: float64(t.High)}
}
