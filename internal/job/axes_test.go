package job

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// TestFaultsOfAxes: each fault of the set-up that a trace is given in.
func TestFaultsOfAxes(t *testing.T) {
	for name, c := range map[string]struct {
		set  func(s *State)
		want string
	}{
		"of a set-up before": {func(s *State) { s.Findings[0].Setup = s.Setups[0].ID }, ""},
		"unknown set-up":     {func(s *State) { s.Findings[0].Setup = "S9" }, `findings[0].setup: set-up "S9" does not exist`},
		"of a set-up after": {func(s *State) {
			s.Setups = append(slices.Clone(s.Setups), Setup{ID: "LATE", Stage: StageAfter, Device: "Arm", Std: 0.5, By: "W2", On: s.Setups[0].On})
			s.Findings[0].Setup = "LATE"
		}, `findings[0].setup: set-up LATE is of the stage "after"`},
		"without a trace": {func(s *State) { s.Findings[2].Setup, s.Findings[2].Trace = s.Setups[0].ID, nil }, "findings[2].setup: there is no trace"},
		"with a hash":     {func(s *State) { s.Findings[0].Axes = "1234" }, "findings[0].axes: it is of findings as they were told"},
	} {
		s := goodState(t)
		s.Findings = slices.Clone(s.Findings)
		c.set(&s)
		var got []string
		for _, p := range s.Validate() {
			if strings.HasSuffix(p.Field, ".setup") || strings.HasSuffix(p.Field, ".axes") {
				got = append(got, p.Field+": "+p.Msg)
			}
		}
		if c.want == "" && len(got) > 0 || c.want != "" && (len(got) != 1 || !strings.HasPrefix(got[0], c.want)) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// TestAnswersFallWithTheAxes: an answer about a trace in the axes of a set-up holds while nothing of
// it, of what puts the set-up in place, or of the other traces of the part is changed, even by what would
// be better; an answer about traces in vehicle axes is as it was.
func TestAnswersFallWithTheAxes(t *testing.T) {
	for name, c := range map[string]struct {
		change func(s *State)
		falls  bool
	}{
		"nothing":                {func(*State) {}, false},
		"another signature":      {func(s *State) { s.Setups[0].By = "W1" }, false},
		"a reading anew":         {func(s *State) { s.Readings[0].X.Value += 0.1 }, true},
		"one reading more":       {func(s *State) { s.Readings = append(s.Readings, s.Readings[0]) }, true},
		"a warmer body":          {func(s *State) { s.Setups[0].Temp.Value++ }, true},
		"a finer device":         {func(s *State) { s.Setups[0].Std /= 2 }, true},
		"a shorter trace":        {func(s *State) { s.Findings[0].Trace = s.Findings[0].Trace[:1] }, true},
		"a finer trace":          {func(s *State) { s.Findings[0].Std /= 2 }, true},
		"vehicle axes":           {func(s *State) { s.Findings[0].Setup = "" }, true},
		"a set-up after the job": {func(s *State) { s.Setups = append(s.Setups, Setup{ID: "LATE", Stage: StageAfter}) }, false},
		"a neighbour's trace":    {func(s *State) { s.Findings[1].Trace = []geom.Vec{{1, 2, 3}} }, true},
	} {
		s := goodState(t)
		s.Findings[0].Setup = s.Setups[0].ID
		told := s.AsTold(s.Findings[0].ID)
		if told.Findings[0].Axes == "" {
			t.Fatal("what puts the set-up in place is not told")
		}
		now := goodState(t)
		now.Findings[0].Setup = now.Setups[0].ID
		now.Findings, now.Setups, now.Readings = slices.Clone(now.Findings), slices.Clone(now.Setups), slices.Clone(now.Readings)
		c.change(&now)
		why := told.Worse(s.Findings[0].ID, now.AsTold(s.Findings[0].ID), func(FindingID) Touch { return Away })
		if (why != "") != c.falls {
			t.Errorf("%s: %q", name, why)
		}
	}
	s := goodState(t)
	if told := s.AsTold(s.Findings[0].ID); told.Findings[0].Axes != "" {
		t.Errorf("in vehicle axes: %q", told.Findings[0].Axes)
	}
}
