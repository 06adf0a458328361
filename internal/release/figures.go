package release

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// figures wants every figure that a step asks for: on record under the step and the
// identity its card has, within its limits, by a person of the shop, not before the
// decision and the steps before it, not after the work had gone on, and read with a
// device in calibration. What a record of a joint or of a bond says already is taken
// from there.
func (r *gate) figures() {
	var asked []job.AskedFigure
	for _, s := range r.in.Steps {
		after, before := r.figureTime(s)
		for _, x := range s.Readings {
			asked = append(asked, job.AskedFigure{Step: s.Name, Ref: s.Ref, For: s.For, Alone: r.alone(s), Twin: twins(r.in.Steps, s), Reading: x, After: after, Before: before, Also: r.recordFigures(s, x)})
		}
	}
	for _, g := range r.in.Job.FigureGaps(asked, r.in.Shop, r.in.Today) {
		r.wanting(Missing{Where: first(g.For), Text: fmt.Sprintf("%s at \"%s\": %s", figureName(g.Reading), g.Called(), g.Why), Cite: g.Reading.Cite}, figureWanted(g)...)
	}
	r.strayFigures()
}

// figureName is what is read, under which identity, and what it has to keep.
func figureName(x body.Reading) string {
	out := x.Name + " (" + x.ID
	if l := x.Limits(); l != "" {
		out += ", " + l
	}
	return out + ")"
}

// alone says that no other step has the name of this one.
func (r *gate) alone(s PlannedStep) bool {
	return !slices.ContainsFunc(r.in.Steps, func(o PlannedStep) bool { return o.ID != s.ID && strings.EqualFold(o.Name, s.Name) })
}

// figureTime is what a figure of a step cannot be older and younger than.
func (r *gate) figureTime(s PlannedStep) (after, before []job.Mark) {
	after = slices.Clone(r.decidedFor(s))
	for _, p := range r.before(s) {
		after = append(after, job.Mark{On: r.done[p.ID].On, What: "\"" + p.Name + "\" was done"})
	}
	for _, n := range r.follows(s) {
		before = append(before, job.Mark{On: r.done[n.ID].On, What: "the work had gone on with \"" + n.Name + "\""})
	}
	return lastOf(after), before
}

// recordFigures is a figure as the records of the step's joints and of its bond have
// it: the torque, the batch, and how long the adhesive was open.
func (r *gate) recordFigures(s PlannedStep, asked body.Reading) []job.Figure {
	var out []job.Figure
	for _, x := range r.recordsOf(s) {
		f := job.Figure{Device: x.Device, Calibrated: x.Calibrated, By: x.By, On: x.On}
		open, timed := x.OpenMinutes()
		switch {
		case x.Show == body.ShowTorque && asked.ID == body.TorqueReading(x.Joint):
			f.Value = unit.Amount{Value: float64(x.Torque), Unit: asked.Unit}
		case x.Show == body.ShowAdhesive && asked.ID == body.BatchReading(x.Material):
			f.Text, f.UseBefore = x.Batch, x.UseBefore
		case x.Show == body.ShowAdhesive && asked.ID == body.OpenReading(x.Material) && timed:
			f.Value = unit.Amount{Value: float64(open), Unit: asked.Unit}
		default:
			continue
		}
		out = append(out, f)
	}
	return out
}

// recordsOf is the last records of the joints that a step closes, and of its bond.
func (r *gate) recordsOf(s PlannedStep) []job.Record {
	var out []job.Record
	add := func(x job.Record, ok bool) {
		if ok {
			out = append(out, x)
		}
	}
	for _, id := range s.Joints {
		add(r.lastOn(body.ShowTorque, id))
		add(r.lastOn(body.ShowAdhesive, id))
	}
	for _, b := range r.allBonds() {
		if b.step != nil && b.step.ID == s.ID {
			out = append(out, r.bondRecords(b)...)
		}
	}
	return out
}

// strayFigures wants no figure under the name of a step that does not ask for it:
// under a name misspelt, what speaks against the repair would be overlooked.
func (r *gate) strayFigures() {
	for _, f := range r.in.Job.Figures {
		named, asks := false, false
		for _, s := range r.in.Steps {
			if strings.EqualFold(s.Name, f.Step) || s.Ref != "" && s.Ref == f.Step {
				named = true
				asks = asks || slices.ContainsFunc(s.Readings, func(x body.Reading) bool { return x.ID == f.Reading })
			}
		}
		if named && !asks {
			r.missing(string(f.Finding), fmt.Sprintf("\"%s\" asks for no figure %q", f.Step, f.Reading), "write 'reading' as the card of the step has it", "")
		}
	}
}
