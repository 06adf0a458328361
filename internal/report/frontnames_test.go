package report

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
)

// Page 1 names a code where it says it first, and only there; what has its name already,
// what is only part of a longer code and what could be a word stay.
func TestCodesHaveNames(t *testing.T) {
	in := Input{Body: &body.Body{Points: []body.Point{{ID: "F01L", Name: "Crush-can plate"}, {ID: "F01", Name: "Other"}, {ID: "A", Name: "Anchor"}, {ID: "X9"}}},
		Job: &job.State{Risks: []job.Risk{{ID: "RK-1", Text: "More"}}}}
	in.Inspect.Coverage = []inspect.Coverage{{Area: "A-KNEE-R", Name: "Right knee"}}
	in.Inspect.Findings = []inspect.Finding{{ID: "D8", Kind: "crack", Casting: "C"}, {ID: "D1", Kind: "crack"}}
	f := frontPart{Findings: frontFindings{Rows: []frontRow{{ID: "D1"}}},
		Answers: []answer{{Text: "A post hit F01L 8.6 mm, F01L.bores, D1 and X9.", Lines: []string{"Right knee (A-KNEE-R), A-KNEE-R.ribs, F01L and RK-1 (more of it)."}}},
		Next:    []string{"D8: look.", "Send Q-D8 on D8, then A-KNEE-R; F01."}}
	frontNamesOf(in).place(&f)
	where := placeText(in, in.Inspect.Findings[0])
	for _, c := range [][2]string{
		{f.Answers[0].Text, "A post hit F01L (Crush-can plate) 8.6 mm, F01L.bores, D1 and X9."},
		{f.Answers[0].Lines[0], "Right knee (A-KNEE-R), A-KNEE-R.ribs, F01L and RK-1 (more of it)."},
		{f.Next[0], "D8 (crack, " + where + "): look."},
		{f.Next[1], "Send Q-D8 on D8, then A-KNEE-R; F01 (Other)."},
	} {
		if c[0] != c[1] {
			t.Errorf("%q, want %q", c[0], c[1])
		}
	}
	if strings.Count(strings.Join(f.Next, ""), where) != 1 {
		t.Errorf("D8 is named twice: %q", f.Next)
	}
}
