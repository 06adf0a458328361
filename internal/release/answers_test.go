package release

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// The gate holds every step of a treatment against the answer that allowed it, also while the
// answer holds (constructed).
func TestReleaseWantsTheStepWhileTheAnswerHeld(t *testing.T) {
	for _, c := range []struct {
		on   unit.Date
		want string
	}{{day(2030, 3, 2), ""}, {day(2030, 2, 28), "before answer A1"}, {day(2030, 3, 5), "after answer A1 expired"}} {
		w, in := repaired()
		in.Input = w.in
		in.Job.Answers = []job.Answer{{ID: "A1", Finding: "F2", On: day(2030, 3, 1), Expires: day(2030, 3, 5)}}
		for i := range in.Job.Actuals {
			if in.Job.Actuals[i].Step == "Plate" {
				in.Job.Actuals[i].On = c.on
			}
		}
		r := &gate{in: *in}
		r.in.Result = decide.Result{Findings: []decide.Finding{{ID: "F2", Options: []decide.Option{{Kind: body.WeldBacking, Verdict: decide.Allowed, Answer: "A1"}}}}}
		r.lookUp()
		r.underAnswer(in.Chosen[1])
		text := ""
		for _, m := range r.out {
			text += m.Text
		}
		if (c.want == "") != (text == "") || !strings.Contains(text, c.want) {
			t.Errorf("%s: %q, want %q", c.on, text, c.want)
		}
	}
}
