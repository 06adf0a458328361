package job

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/shop"
)

// Who signs for what he may not is named; the good job has nobody who does.
// Source: the rules of docs/formats/job.md and shop.md.
func TestPeople(t *testing.T) {
	for _, tc := range []struct {
		name   string
		change func(*State, *shop.Shop)
		code   string
	}{
		{"all in order", func(*State, *shop.Shop) {}, ""},
		{"accepted what that person may not", func(s *State, _ *shop.Shop) { s.Accepted[0].Kind = body.WeldBacking }, "job.may-not-accept"},
		{"accepted by nobody the shop knows", func(s *State, _ *shop.Shop) { s.Accepted[0].By = "X9" }, "job.may-not-accept"},
		{"reviewer who accepted", func(s *State, sh *shop.Shop) { sh.People[0].Accepts, s.Accepted[0].By = sh.People[1].Accepts, "W1" }, "job.own-review"},
		{"reviewer who is the author", func(s *State, _ *shop.Shop) { s.Author = "planner W1" }, "job.own-review"},
		{"reviewer who chose the route", func(s *State, _ *shop.Shop) { s.Choices[0].By = "W1" }, "job.own-review"},
		{"reviewer who recorded an answer", func(s *State, sh *shop.Shop) {
			sh.People[0].May, s.Answers[0].RecordedBy = []shop.Authority{"answers", "review", "inspect"}, "W1"
		}, "job.own-review"},
		{"author whom nobody knows", func(s *State, _ *shop.Shop) { s.Author = "the planner" }, "job.author-unknown"},
		{"reviewer who may not", func(s *State, _ *shop.Shop) { s.Reviews[0].By = "W2" }, "job.may-not-review"},
		{"record by somebody who may not", func(s *State, sh *shop.Shop) { sh.People[0].May = []shop.Authority{"review"} }, "job.may-not-inspect"},
		{"answer recorded by somebody who may not", func(s *State, sh *shop.Shop) { sh.People[1].May = nil }, "job.may-not-record"},
		{"answer nobody signed for", func(s *State, _ *shop.Shop) { s.Answers[0].RecordedBy = "" }, "job.answer-unsigned"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s, sh := goodState(t), goodShop(t)
			tc.change(&s, sh)
			notes := People(&s, sh)
			if tc.code == "" && len(notes) > 0 {
				t.Errorf("notes %+v", notes)
			}
			found := tc.code == ""
			for _, n := range notes {
				found = found || n.Code == tc.code
				if n.Severity != diag.Blocking {
					t.Errorf("%s does not block", n.Code)
				}
			}
			if !found {
				t.Errorf("no note %s: %+v", tc.code, notes)
			}
		})
	}
}

// Records that say too little, and an answer for another vehicle, are refused.
// Source: the rules of docs/formats/job.md.
func TestRepairFaults(t *testing.T) {
	for _, tc := range []struct {
		change func(*State)
		want   string
	}{
		{func(s *State) { s.Answers[0].VIN = "TEST2222222222222" }, `answers[0].vin: the answer is for vehicle "TEST2222222222222"`},
		{func(s *State) { s.Answers[0].Finding = "F2" }, "answers[0].finding: question QU-1 was about finding F1, the answer is entered for F2"},
		{func(s *State) { s.Questions[0].On = s.Answers[0].On.AddDays(1) }, "answers[0].on:"},
		{func(s *State) { s.Answers[0].Question = "QU-9" }, `question "QU-9" does not exist`},
		{func(s *State) { s.Records[0].Indications = nil }, "it has to say what was indicated, or that nothing was"},
		{func(s *State) { s.Records[0].None = true }, "it has to say what was indicated, or that nothing was"},
		{func(s *State) { s.Records[0].Indications[0].Width = 2 }, "1.5 mm by 2 mm is no indication"},
		{func(s *State) { s.Records[0].Look = "I-7" }, `records[0].inspection: inspection "I-7" does not exist`},
		{func(s *State) { s.Records[1].Look = "I-1" }, "only penetrant is held against the conditions of an inspection"},
		{func(s *State) { s.Records[1].Finding = "" }, "it does not say which finding was inspected"},
		{func(s *State) { s.Records[1].Show = body.ShowTorque; s.Records[1].Joint = "J" }, "it does not say what the tool was set to"},
		{func(s *State) { s.Records[1].Show = body.ShowAdhesive }, "the adhesive, its batch and its last day of use are needed"},
		{func(s *State) { s.Records[1].Show = body.ShowHold }, "records[1].step: it does not say of which step the hold point is"},
		{func(s *State) { s.Records[1].Step = "Bond" }, "records[1].step: only a hold point and an adhesive belong to a step"},
		{func(s *State) {
			s.Records[1].Show, s.Records[1].Finding, s.Records[1].Joint, s.Records[1].Step = body.ShowAdhesive, "", "J", "Bond"
		}, "records[1].step: a joint is closed in one step"},
		{func(s *State) { s.Records[1].Show, s.Records[1].Finding = body.ShowAdhesive, "" }, "for the plate of one finding, or for a step of the job"},
		{func(s *State) { s.Records[1].Show, s.Records[1].What = body.ShowAdhesive, "stage 1" }, "records[1].what: only what was looked for has words of its own"},
		{func(s *State) { s.Accepted[0].Kind = body.SectionOff }, "a section is along a line"},
	} {
		s := bare(goodState(t))
		tc.change(&s)
		if got := s.Validate().Error(); !strings.Contains(got, tc.want) {
			t.Errorf("want %q, got %q", tc.want, got)
		}
	}
}
