package app

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// TestEveryWaitCanBeAsked: whatever a route waits for the manufacturer's answer on,
// there is a question about it.
func TestEveryWaitCanBeAsked(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	asked := 0
	for _, route := range r.Compare.Routes {
		for _, what := range route.Ask {
			q, err := a.Ask(t.Context(), c, r, what)
			if err != nil {
				t.Errorf("route %s waits for an answer on %s: %v", route.ID, what, err)
				continue
			}
			asked++
			if !strings.Contains(q.Question.Text, what) || !strings.Contains(q.Question.Text, c.Job.Vehicle.VIN) {
				t.Errorf("the question about %s is not complete:\n%s", what, q.Question.Text)
			}
		}
	}
	if asked < 10 {
		t.Errorf("only %d questions", asked)
	}
}

// TestPointAnswer: a point that is out of tolerance may stay by an answer that is for
// this vehicle and this point, current, recorded by somebody who may, and for the
// point as it was measured when the question was sent; by no other.
func TestPointAnswer(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	today := unit.DateOf(r.Made)
	day := func(d int) unit.Date { return unit.Date{Year: 2026, Month: 11, Day: d} }
	waits := func(s *job.State) bool {
		fresh := *c
		fresh.Job = s
		for _, route := range assessedOf(t, a, &fresh, r.Made).Compare.Routes {
			if route.ID == "weld" {
				return slices.Contains(route.Ask, "F01L")
			}
		}
		t.Fatal("there is no weld route")
		return false
	}
	answered := func() *job.State {
		s := cloneJob(c.Job)
		s.Evidence = append(s.Evidence, job.Evidence{ID: "E-P", File: "p.txt", SHA256: strings.Repeat("a", 64)})
		s.Questions = append(s.Questions, job.Asked{ID: "Q-F01L", Point: "F01L", On: day(24), By: "P1"})
		s.Answers = append(s.Answers, job.Answer{ID: "AN-P", Point: "F01L", VIN: s.Vehicle.VIN, Question: "Q-F01L", Allow: kinds([]string{"leave"}),
			By: "desk", On: day(25), Expires: unit.Date{Year: 2027, Month: 1, Day: 1}, Document: "E-P", RecordedBy: "P1"})
		return &s
	}
	if s := answered(); waits(s) || s.PointStays("F01L", c.Shop, today) != "" {
		t.Errorf("the answer settles nothing: %s", s.PointStays("F01L", c.Shop, today))
	}
	for name, do := range map[string]func(*job.State){
		"no answer":           func(s *job.State) { s.Answers = s.Answers[:len(s.Answers)-1] },
		"another vehicle":     func(s *job.State) { s.Answers[len(s.Answers)-1].VIN = "ZZZBPVL4XTN000999" },
		"another point":       func(s *job.State) { s.Answers[len(s.Answers)-1].Point = "F02L" },
		"asked about another": func(s *job.State) { s.Questions[len(s.Questions)-1].Point = "F02L" },
		"never asked":         func(s *job.State) { s.Questions = s.Questions[:len(s.Questions)-1] },
		"asked after it":      func(s *job.State) { s.Questions[len(s.Questions)-1].On = day(26) },
		"forbids": func(s *job.State) {
			s.Answers[len(s.Answers)-1].Allow = nil
			s.Answers[len(s.Answers)-1].Forbid = kinds([]string{"leave"})
		},
		"allows another thing": func(s *job.State) { s.Answers[len(s.Answers)-1].Allow = kinds([]string{"weld"}) },
		"both":                 func(s *job.State) { s.Answers[len(s.Answers)-1].Forbid = kinds([]string{"leave"}) },
		"expired":              func(s *job.State) { s.Answers[len(s.Answers)-1].Expires = day(26) },
		"of tomorrow":          func(s *job.State) { s.Answers[len(s.Answers)-1].On = day(27) },
		"before the job": func(s *job.State) {
			s.Answers[len(s.Answers)-1].On = day(1)
			s.Questions[len(s.Questions)-1].On = day(1)
		},
		"no document":        func(s *job.State) { s.Answers[len(s.Answers)-1].Document = "" },
		"no hash":            func(s *job.State) { s.Evidence[len(s.Evidence)-1].SHA256 = "" },
		"recorded by nobody": func(s *job.State) { s.Answers[len(s.Answers)-1].RecordedBy = "" },
		"by who may not":     func(s *job.State) { s.Answers[len(s.Answers)-1].RecordedBy = "T1" },
		"measured since":     func(s *job.State) { s.Setups[0].On = day(25) },
		"measured after repair": func(s *job.State) {
			s.Setups = append(s.Setups, job.Setup{ID: "Z", Stage: "during", Device: "arm", Std: 0.3, On: day(26), By: "T1"})
			s.Readings = append(slices.Clone(s.Readings), job.Reading{Setup: "Z", Kind: "xyz", From: "F01L"})
		},
		"a later answer forbids": func(s *job.State) {
			x := s.Answers[len(s.Answers)-1]
			x.ID, x.On, x.Allow, x.Forbid = "AN-Q", day(26), nil, kinds([]string{"leave"})
			s.Answers = append(s.Answers, x)
		},
	} {
		s := answered()
		do(s)
		if s.PointStays("F01L", c.Shop, today) == "" {
			t.Errorf("%s: the point may stay", name)
		}
	}
}
