package app

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/unit"
)

// TestSingleQuestionsAgreeWithTheJob asks the procedure alone about each finding on a casting of the
// demonstration with the facts that the job has: what is allowed by itself the table allows in the job,
// and where every fact could be said both say the same.
func TestSingleQuestionsAgreeWithTheJob(t *testing.T) {
	_, c, r := demonstrated(t, "job")
	p := c.Body.Procedures[slices.IndexFunc(c.Body.Procedures, func(p body.Procedure) bool { return p.Revision == r.Decide.Procedures[0].Revision })]
	same := 0
	for _, f := range r.Decide.Findings {
		var said []decide.Said
		all := true
		for _, x := range f.Facts {
			name := x.Name
			if name == body.FactLength {
				name = decide.SaidDecision
			}
			x.Value = strings.ReplaceAll(x.Value, " or more", "")
			if name == "part" && !slices.ContainsFunc(p.Rows, func(row body.Row) bool { return strings.Contains(row.When["part"], x.Value) }) {
				continue // no row names it, so that it decides nothing
			}
			if !x.Known || strings.Contains(x.Value, " mm, ") { // several numbers at once
				all = all && !x.Known
				continue
			}
			said = append(said, decide.Said{Name: name, Value: x.Value})
		}
		ruled, err := decide.Single{Procedure: p, Confidence: float64(c.Body.Confidence), Said: exactSaid(said), On: unit.DateOf(r.Made)}.Rule()
		if err != nil {
			continue // of a part that is no casting, or in a zone that no row names
		}
		for _, o := range ruled.Options {
			in, _ := r.Decide.Option(f.ID, o.Kind, o.Line)
			if o.Verdict == decide.Allowed && in.Verdict != decide.Allowed && in.Answer == "" {
				t.Errorf("%s: %s is allowed by itself and %s in the job: %s", f.ID, decide.KindText(o), in.Verdict, in.Because)
			}
			if all && o.Verdict == in.Verdict {
				same++
			}
		}
	}
	if same < 20 {
		t.Errorf("only %d verdicts are those of the job", same)
	}
}

// exactSaid says of exact lengths that they are.
func exactSaid(said []decide.Said) []decide.Said {
	for i, x := range said {
		if u, ok := strings.CutSuffix(x.Value, " mm"); ok && !strings.Contains(x.Value, "±") {
			said[i].Value = u + " +- 0 mm"
		}
	}
	return said
}
