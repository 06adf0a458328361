package release

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// A part with control points that was straightened is released with its points shown in tolerance,
// whatever the procedure asks for after it; one without points by what the procedure asks for.
func TestAStraightenedPartIsMeasured(t *testing.T) {
	const unmeasured, silent = "the control points have not been measured after the repair", "does not say what has to be shown after straighten"
	for name, c := range map[string]struct {
		points bool
		asked  []body.ProofKind
		after  *MeasuredAfter
		want   string
		not    string
	}{
		"points, nothing asked":       {true, nil, nil, unmeasured, silent},
		"points, a look asked":        {true, []body.ProofKind{body.ShowVisual}, nil, unmeasured, silent},
		"points, dimensions asked":    {true, []body.ProofKind{body.ShowDimensions}, nil, unmeasured, silent},
		"points out of tolerance":     {true, nil, &MeasuredAfter{NotMet: []body.PointID{"B1"}}, "out of tolerance after the repair: B1", silent},
		"points undecided":            {true, nil, &MeasuredAfter{Undecided: []body.PointID{"B1"}}, "the tolerance is undecided after the repair for B1", silent},
		"points not measured":         {true, nil, &MeasuredAfter{Missing: []body.PointID{"B1"}}, "not measured after the repair: B1", silent},
		"no points, nothing asked":    {false, nil, nil, silent, unmeasured},
		"no points, a look asked":     {false, []body.ProofKind{body.ShowVisual}, nil, "", unmeasured},
		"no points, dimensions asked": {false, []body.ProofKind{body.ShowDimensions}, nil, unmeasured, silent},
	} {
		w, in := repaired()
		w.in.Job.Findings = append(w.in.Job.Findings, job.Finding{ID: "F3", Kind: body.Bend, Part: "P-BRKT", Seen: "visual", By: "T1", On: day(2030, 2, 20)})
		in.Chosen = []Chosen{{Finding: "F3", Kind: body.Straighten}}
		w.in.Body.Points = []body.Point{{ID: "B1"}}
		if c.points {
			w.in.Body.Points[0].Part = "P-BRKT"
		}
		p := &w.in.Body.Procedures[0]
		p.Acceptance = nil
		for _, show := range c.asked {
			p.Acceptance = append(p.Acceptance, body.Acceptance{ID: string(show), Cite: "CP 9", For: []body.TreatmentKind{body.Straighten}, Show: show, Quality: "no crease"})
		}
		in.After = c.after
		got := missingTexts(w, in)
		if !strings.Contains(got, c.want) || strings.Contains(got, c.not) {
			t.Errorf("%s: %s", name, got)
		}
		if n := strings.Count(got, unmeasured); n > 1 {
			t.Errorf("%s: told %d times", name, n)
		}
	}
}
