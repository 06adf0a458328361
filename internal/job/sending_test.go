package job

import "testing"

// TestReviewedAsTheWhole: a job that is cut down is approved where the whole one is, and nowhere else.
func TestReviewedAsTheWhole(t *testing.T) {
	for name, change := range map[string]func(*State){
		"approved":           func(*State) {},
		"changed since":      func(s *State) { s.Findings[0].Depth.Value++ },
		"another reading":    func(s *State) { s.Readings[0].X.Value++ },
		"sent back":          func(s *State) { s.Sendings[len(s.Sendings)-1].BackOn = s.Opened },
		"sent again":         func(s *State) { s.Sendings = append(s.Sendings, s.Sendings[len(s.Sendings)-1]) },
		"another body":       func(s *State) { s.Body = "another" },
		"chosen otherwise":   func(s *State) { s.Choices = append(s.Choices, s.Choices[0]) },
		"a look of findings": func(s *State) { s.Looks[0].Distance.Known = !s.Looks[0].Distance.Known },
	} {
		s := *goodJob(t)
		s.Findings[0].Look = s.Looks[0].ID
		s.Sendings = []Sending{{Part: Whole, By: "W2", On: s.Opened}}
		var err error
		if s.Sendings[0].Under, err = s.ToReview(Whole); err != nil {
			t.Fatal(err)
		}
		s.Reviews = []Review{{By: "W1", On: s.Opened}}
		if s.Reviews[0].Under, err = s.ToApprove(); err != nil {
			t.Fatal(err)
		}
		change(&s)
		less := s
		less.Risks, less.Vehicle.Value.Minor = nil, 1
		if err := less.ReviewedAs(&s); err != nil {
			t.Fatal(err)
		}
		_, is := s.Approved()
		_, also := less.Approved()
		if is != (name == "approved") || also != is || s.Void(s.Reviews[0]) == is || less.Void(less.Reviews[0]) == is {
			t.Errorf("%s: the whole %v, what is left %v", name, is, also)
		}
	}
	// What the repair adds changes nothing of it.
	s := *goodJob(t)
	was, err := s.ToReview(Whole)
	if err != nil {
		t.Fatal(err)
	}
	s.Actuals, s.Figures, s.Records, s.Deliveries, s.Proposals, s.HandBacks, s.Agreed = nil, nil, nil, nil, nil, nil, nil
	if now, err := s.ToReview(Whole); err != nil || now != was {
		t.Errorf("the repair changes what was sent: %v", err)
	}
}
