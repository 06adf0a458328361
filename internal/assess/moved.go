package assess

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/measure"
)

// movedUnspoken names the parts that have surely moved and that no finding speaks of: nothing is
// decided or planned for such a part, and it is not straightened by what is done to others. A
// casting is not pulled back: its cracks and its points speak for it; and where the body has no
// treatment that straightens, its points are asked about without a finding.
func movedUnspoken(in Input, measured measure.Result) []diag.Note {
	var out []diag.Note
	if !slices.ContainsFunc(in.Body.Treatments, func(t body.Treatment) bool { return t.Kind == body.Straighten }) {
		return nil
	}
	for _, part := range in.Body.Parts {
		isCasting := slices.ContainsFunc(in.Body.Castings, func(c body.Casting) bool { return c.Part == part.ID })
		spoken := slices.ContainsFunc(in.Job.Findings, func(f job.Finding) bool { return f.Part == part.ID })
		moved := movedOn(in.Body, measured, part.ID)
		if isCasting || spoken || len(moved) == 0 {
			continue
		}
		out = append(out, diag.Say("assess.moved-without-finding", "{name} ({part}) has moved (control point {points}), and no finding speaks of it: nothing is decided or planned for it", part.Name, part.ID, strings.Join(moved, ", ")).Note(diag.Note{Severity: diag.Caution, Where: string(part.ID), Hint: "look at it, and where it is bent enter that as a finding of the kind bend on part " + string(part.ID)}))
	}
	return out
}

// movedOn is the control points of a part that have surely moved, or are surely out of tolerance.
func movedOn(b *body.Body, measured measure.Result, part body.PartID) []string {
	best, _ := measured.Best()
	var out []string
	for _, p := range b.Points {
		r, ok := best.Point(p.ID)
		if ok && p.Part == part && r.Firm && (r.Moved || r.Tolerance == measure.NotMet) {
			out = append(out, string(p.ID))
		}
	}
	return out
}
