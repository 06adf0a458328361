package report

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// figuresAt is what is on record of each figure that each step of a plan asks for, by the step's
// and the figure's identity, and which of the job's figures they are. A figure that may be of
// several steps is of none.
func figuresAt(j *job.State, p plan.Plan) (at map[[2]string][]string, shown []bool) {
	at, shown = map[[2]string][]string{}, make([]bool, len(j.Figures))
	steps := p.WorkSteps()
	for i, f := range j.Figures {
		about := job.About(steps, job.Actual{Step: f.Step, Finding: f.Finding})
		if len(about) != 1 {
			continue
		}
		s := p.Steps[about[0]]
		if slices.ContainsFunc(s.Readings, func(r body.Reading) bool { return r.ID == f.Reading }) {
			key := [2]string{s.ID, f.Reading}
			at[key], shown[i] = append(at[key], figureWords(f)), true
		}
	}
	for _, s := range p.Steps {
		for _, r := range s.Readings {
			for _, x := range j.Records {
				if words := recordedFigure(s, r, x); words != "" {
					key := [2]string{s.ID, r.ID}
					at[key] = append(at[key], words)
				}
			}
		}
	}
	return at, shown
}

// recordedFigure is a figure of a step as the record of a joint that it closes, or of what it
// bonds, has it; empty when the record is about something else.
func recordedFigure(s plan.Step, r body.Reading, x job.Record) string {
	closes := x.Joint != "" && slices.Contains(s.Closes, x.Joint)
	bonds := slices.Contains(s.Bonds, x.Material) && (closes || x.Joint == "" && slices.Contains(s.For, x.Finding))
	minutes, timed := x.OpenMinutes()
	f := job.Figure{Device: x.Device, Calibrated: x.Calibrated, By: x.By, On: x.On}
	switch {
	case x.Show == body.ShowTorque && closes && r.ID == body.TorqueReading(x.Joint):
		f.Value = unit.Amount{Value: float64(x.Torque), Unit: "Nm"}
	case x.Show == body.ShowAdhesive && bonds && r.ID == body.BatchReading(x.Material):
		f.Text, f.UseBefore, f.Device = x.Batch, x.UseBefore, ""
	case x.Show == body.ShowAdhesive && bonds && r.ID == body.OpenReading(x.Material) && timed:
		f.Value, f.Device = unit.Amount{Value: float64(minutes), Unit: "min"}, ""
	default:
		return ""
	}
	return figureWords(f)
}

// figureWords is a figure as it was entered: value or words, with its expanded uncertainty,
// who, when and with what.
func figureWords(f job.Figure) string {
	var out []string
	if f.Value != (unit.Amount{}) {
		value := shownAmount(f.Value)
		if f.Std.Value > 0 {
			value = strings.TrimSuffix(value, thin+unitSign(f.Value.Unit)) + " ± " + shownAmount(unit.Amount{Value: float64(2 * f.Std.Value), Unit: f.Std.Unit})
		}
		out = append(out, value)
	}
	if f.Text != "" {
		out = append(out, f.Text)
	}
	if !f.UseBefore.IsZero() {
		out = append(out, "to be used by "+day(f.UseBefore))
	}
	out = append(out, f.By, day(f.On))
	if f.Device != "" {
		out = append(out, f.Device)
	}
	return strings.Join(out, ", ")
}

// entryRow is a record or figure of the work that stands in no other place of the report.
type entryRow struct{ ID, What, Result, By, On string }

// furtherRows is every record but those shown, and the figures that no step asks for.
func furtherRows(in Input, p plan.Plan, shown map[string]bool) []entryRow {
	var out []entryRow
	for _, x := range in.Job.Records {
		if shown[x.ID] {
			continue
		}
		out = append(out, entryRow{x.ID, recordedOf(in, x), resultOf(x), byWords(in, x), day(x.On)})
	}
	_, at := figuresAt(in.Job, p)
	for i, f := range in.Job.Figures {
		if !at[i] {
			row := entryRow{What: f.Step + ": " + f.Reading + ", which no step of this route asks for", By: f.By, On: day(f.On)}
			if f.Finding != "" {
				row.What = string(f.Finding) + ", " + row.What
			}
			row.Result, _, _ = strings.Cut(figureWords(f), ", "+f.By+", ")
			out = append(out, row)
		}
	}
	return out
}

// recordSorts is what a record of each sort is called.
var recordSorts = map[body.ProofKind]string{body.ShowPenetrant: "penetrant inspection", body.ShowVisual: "inspection by eye",
	body.ShowTorque: "tightening torque", body.ShowAdhesive: "adhesive", body.ShowHold: "hold point"}

// recordedOf is what a record is about.
func recordedOf(in Input, x job.Record) string {
	joint, material := "", ""
	if i := slices.IndexFunc(in.Body.Joints, func(j body.Joint) bool { return j.ID == x.Joint }); i >= 0 {
		joint = in.Body.Joints[i].Name
	}
	if m, ok := in.Body.Material(x.Material); ok {
		material = m.Name
	}
	text := or(recordSorts[x.Show], string(x.Show))
	for _, s := range []string{material, joint, string(x.Finding), x.Step, x.What} {
		if s != "" {
			text += ", " + s
		}
	}
	return text
}
