package compare

import (
	"fmt"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/unit"
)

// PointText is the text of a question about a control point that a route keeps and
// that is not shown to be in tolerance: where it is meant to be, where it was
// measured and how surely, and what is proposed. It is complete: the reader needs
// nothing else. False when the point was not measured: then there is nothing to ask
// about yet.
func PointText(in Input, m measure.Result, stage job.Stage, id body.PointID) (string, bool) {
	h, ok := m.Best()
	if !ok {
		return "", false
	}
	r, ok := h.Point(id)
	p, known := in.Body.Point(id)
	if !ok || !known {
		return "", false
	}
	v, b, built := in.Job.Vehicle, in.Body, ""
	if !v.Built.IsZero() {
		built = ", built " + v.Built.String()
	}
	lines := []string{"Vehicle " + v.VIN + built + "; body " + b.Name + " (" + b.ID + "), data revision " + b.Revision + "; job " + in.Job.ID + "."}
	name := ""
	if p.Name != "" {
		name = " (" + p.Name + ")"
	}
	if part, ok := b.Part(p.Part); ok {
		name += " on " + part.Name + " (" + string(part.ID) + ")"
	}
	lines = append(lines, "Control point "+string(id)+name+", measured "+string(stage)+" the repair.",
		"- published place: "+coordinates(p.X, p.Y, p.Z)+", limit "+r.Limit,
		"- measured off it by: "+alongAxes(r.FromNominal[:], r.FromNominalStd[:])+" (expanded uncertainty, k = 2)",
		"- within its limit: "+r.Tolerance.String()+", with a probability of "+unit.Percent(r.Probability))
	if r.Needs != "" {
		lines = append(lines, "- not decided: "+r.Needs)
	}
	var setups []string
	for _, x := range in.Job.Setups {
		if x.Stage == stage && in.Job.Reads(x.ID, id) {
			setups = append(setups, fmt.Sprintf("%s (%s, %s)", x.ID, x.Device, x.On))
		}
	}
	lines = append(lines, "- set-ups: "+strings.Join(setups, ", "))
	lines = append(lines, "We propose to leave the point as it is. May this be done? Please answer with the document, the conditions and the day until which the answer holds.")
	return strings.Join(lines, "\n"), true
}

func coordinates(xyz ...float64) string {
	var out []string
	for i, v := range xyz {
		out = append(out, "xyz"[i:i+1]+" "+unit.Fixed(v, 1))
	}
	return strings.Join(out, ", ") + " mm"
}

func alongAxes(off, std []float64) string {
	var out []string
	for i, v := range off {
		out = append(out, "xyz"[i:i+1]+" "+unit.Signed(v)+" ± "+unit.Fixed(2*std[i], 1))
	}
	return strings.Join(out, ", ") + " mm"
}
