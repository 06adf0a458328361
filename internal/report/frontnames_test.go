package report

import (
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
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

// What readers of the pages looked for and did not find is told: that the vehicle must not
// be driven, in every state; which bill was agreed; on which days a step runs that goes on
// over night; what a sum is held against where the two differ by less than a cent.
func TestReadersFindIt(t *testing.T) {
	for _, hazards := range [][]job.Hazard{nil, {{Kind: body.HighVoltage}}} {
		said := strings.Join(ownerSafe(Input{Body: &body.Body{}, Shop: &shop.Shop{}, Job: &job.State{Hazards: hazards}}), " ")
		if !strings.Contains(said, "Do not drive it") || (len(hazards) > 0) != strings.Contains(said, "Stay away from it") {
			t.Errorf("the owner is told %q", said)
		}
	}
	in := Input{Job: &job.State{}}
	if s := agreedText(in); s != "No bill has been agreed with anybody yet." {
		t.Error(s)
	}
	in.Job.Agreed = []job.Agreed{{Number: 1, Route: "weld", Total: unit.Money{Minor: 123456, Currency: "EUR"}, By: "desk", Reason: "first bill"}}
	if s := plainSpaces(agreedText(in)); !strings.Contains(s, "bill 1, 1,234.56 EUR for weld") || !strings.Contains(s, "by desk") || !strings.Contains(s, "First bill.") {
		t.Error(s)
	}
	from := time.Date(2026, 12, 1, 8, 38, 0, 0, time.UTC)
	for to, want := range map[time.Time]string{from.Add(time.Hour): "08:38–09:38", from.Add(24 * time.Hour): "08:38– Wed\u00a008:38"} {
		if got := clockWords(plan.Step{From: from, To: to}); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	for _, c := range []struct {
		l    cost.Loss
		want unit.Minor
	}{{cost.Loss{Left: 100, Right: 100, Operator: ">="}, 101}, {cost.Loss{Left: 100, Right: 100, Operator: ">=", IsLoss: true}, 100},
		{cost.Loss{Left: 100, Right: 100, Operator: ">", IsLoss: true}, 99}, {cost.Loss{Left: 100, Right: 100, Operator: ">"}, 100}, {cost.Loss{Left: 90, Right: 100, Operator: ">="}, 100}} {
		if got := lossLimit(c.l); got != c.want {
			t.Errorf("%+v is held against %d, want %d", c.l, got, c.want)
		}
	}
}
