package report

import (
	"strings"
	"testing"

	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/plan"
)

// An answer does not settle a question while a route waits for data on its finding: both are said, in the
// row and on the question's page; of another finding, or where nothing is missing, it is answered. Constructed.
func TestAnsweredWithDataMissing(t *testing.T) {
	q := decide.Question{ID: "Q1", Finding: "F1", State: decide.Answered, Answer: d(5), By: "the desk"}
	waits := func(f string) Input {
		var in Input
		in.Compare.Routes = []compare.Route{{Plan: plan.Plan{Gaps: []plan.Gap{{Part: "P", Name: "flap", Lacks: []string{"minutes to take it off"}, For: []job.FindingID{job.FindingID(f)}}}}}}
		return in
	}
	for _, x := range []struct {
		in      Input
		open    bool
		missing bool
	}{{waits("F1"), false, true}, {waits("F2"), false, false}, {Input{}, false, false}, {waits("F1"), true, false}} {
		q.Open = x.open
		row, page := questionOf(x.in, q), questionState(q, missingOf(x.in, q))
		said := strings.Contains(row.Dates, "minutes to take it off") && strings.Contains(row.Dates, "Answered by the desk") && strings.Contains(page, "minutes to take it off")
		if said != x.missing || (row.Word == word{"answered", toneGood}) != (!x.missing && !x.open) {
			t.Errorf("%+v: %+v, %q", x, row, page)
		}
	}
}
