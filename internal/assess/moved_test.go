package assess

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/measure"
)

// A part that has surely moved and that no finding speaks of is told, with how to enter it; one of
// which that is not sure, one that a finding speaks of, a casting, and one without points are not.
func TestMovedPartsThatNoFindingSpeaksOf(t *testing.T) {
	point := func(id body.PointID, moved bool, tolerance measure.Verdict, firm bool) measure.PointResult {
		return measure.PointResult{ID: id, Moved: moved, Tolerance: tolerance, Firm: firm}
	}
	for name, c := range map[string]struct {
		point   measure.PointResult
		finding body.PartID
		want    bool
	}{
		"moved":            {point("A", true, measure.Met, true), "", true},
		"out of tolerance": {point("A", false, measure.NotMet, true), "", true},
		"moved, not firm":  {point("A", true, measure.NotMet, false), "", false},
		"in its place":     {point("A", false, measure.Met, true), "", false},
		"undecided":        {point("A", false, measure.Undecided, true), "", false},
		"spoken of":        {point("A", true, measure.NotMet, true), "P-RAIL", false},
		"spoken elsewhere": {point("A", true, measure.NotMet, true), "P-SKIN", true},
		"a casting":        {point("B", true, measure.NotMet, true), "", false},
		"not measured":     {point("C", true, measure.NotMet, true), "", false},
	} {
		in := Input{Body: &body.Body{Treatments: []body.Treatment{{Kind: body.Straighten}}, Parts: []body.Part{{ID: "P-RAIL", Name: "rail"}, {ID: "P-CAST", Name: "casting"}, {ID: "P-SKIN", Name: "skin"}},
			Castings: []body.Casting{{ID: "front", Part: "P-CAST"}}, Points: []body.Point{{ID: "A", Part: "P-RAIL"}, {ID: "B", Part: "P-CAST"}}}, Job: &job.State{}}
		if c.finding != "" {
			in.Job.Findings = []job.Finding{{ID: "F1", Kind: body.Bend, Part: c.finding}}
		}
		notes := movedUnspoken(in, measure.Result{Hypotheses: []measure.Hypothesis{{Points: []measure.PointResult{c.point}}}})
		if got := len(notes) == 1; got != c.want || c.want && (notes[0].Where != "P-RAIL" || !strings.Contains(notes[0].Text, "control point A") || !strings.Contains(notes[0].Hint, "kind bend on part P-RAIL")) {
			t.Errorf("%s: %+v", name, notes)
		}
		in.Body.Treatments[0].Kind = body.Dress
		if notes := movedUnspoken(in, measure.Result{Hypotheses: []measure.Hypothesis{{Points: []measure.PointResult{c.point}}}}); len(notes) > 0 {
			t.Errorf("%s, and nothing straightens: %+v", name, notes)
		}
	}
}
