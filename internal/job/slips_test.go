package job

import (
	"strings"
	"testing"

	"fettle/internal/unit"
)

// TestSlipsOfAStoredJob: what earlier releases took is a fault where it is written, and keeps no stored job that
// has it from being opened or gone on with.
func TestSlipsOfAStoredJob(t *testing.T) {
	for name, slip := range map[string]func(*State){
		"evidence twice":  func(s *State) { s.Findings[0].Photos = append(s.Findings[0].Photos, s.Findings[0].Photos[0]) },
		"a repair twice":  func(s *State) { s.Earlier = append(s.Earlier, s.Earlier[0]) },
		"a figure twice":  func(s *State) { s.Figures = append(s.Figures, s.Figures[0]) },
		"allowed twice":   func(s *State) { s.Answers[0].Allow = append(s.Answers[0].Allow, s.Answers[0].Allow[0]) },
		"kilometres":      func(s *State) { s.Vehicle.Odometer = mostKilometres + 1 },
		"bonded too warm": func(s *State) { s.Records[0].Temp = unit.Some(hottestBonded + 1) },
		"a rough reading": func(s *State) { s.Workplace[0].Std = leastSure + 1 },
		"nothing agreed":  func(s *State) { s.Agreed[0].Lines, s.Agreed[0].Total = nil, unit.Money{Currency: "EUR"} },
	} {
		s := goodState(t)
		slip(&s)
		if problems := s.Validate(); len(problems) != 1 || problems[0].Hint == "" {
			t.Errorf("%s: %v, want one fault with what would be right", name, problems)
		}
		if problems := s.Broken(); len(problems) > 0 {
			t.Errorf("%s keeps a stored job from being opened: %v", name, problems)
		}
		after := s
		after.Hazards = append(after.Hazards[:len(after.Hazards):len(after.Hazards)], after.Hazards[0])
		if problems := after.Fresh(&s); len(problems) != 1 || !strings.HasPrefix(problems[0].Field, "hazards") {
			t.Errorf("%s: a hazard more: %v, want the fault of the hazard alone", name, problems)
		}
	}
}

// TestErasedIsNotTwice: records that read alike only since their texts were erased are no fault.
func TestErasedIsNotTwice(t *testing.T) {
	s := goodState(t)
	s.Figures = append(s.Figures, s.Figures[0])
	if problems := s.Validate(); len(problems) == 0 {
		t.Error("a figure twice is taken")
	}
	for i := range s.Figures {
		s.Figures[i].By = Erased
	}
	if problems := s.Validate(); len(problems) > 0 {
		t.Error(problems)
	}
}

// TestTheSameAgainOnOneDay: on one day somebody may choose a route again after another, look for the newest revision
// again, and review again what has changed.
func TestTheSameAgainOnOneDay(t *testing.T) {
	s := goodState(t)
	s.Choices, s.Checks, s.Reviews = append(s.Choices, s.Choices[0]), append(s.Checks, s.Checks[0]), append(s.Reviews, s.Reviews[0])
	if problems := s.Validate(); len(problems) > 0 {
		t.Error(problems)
	}
}
