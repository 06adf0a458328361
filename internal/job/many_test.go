package job

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// many is the good job with many findings that refer to one another, to
// inspections, evidence, records and questions, as many of each.
func many(t *testing.T, n int) State {
	s := goodState(t)
	crack, look, piece := s.Findings[0], s.Looks[0], s.Evidence[0]
	s.Findings, s.Looks, s.Evidence = nil, nil, nil
	for i := range n {
		f, l, e := crack, look, piece
		f.ID, l.ID, e.ID = FindingID(fmt.Sprintf("F%d", i)), fmt.Sprintf("L%d", i), fmt.Sprintf("E%d", i)
		f.Look, f.Photos = fmt.Sprintf("L%d", n-1-i), []string{fmt.Sprintf("E%d", n-1-i), "none"}
		if i%2 == 1 {
			f.SameAs = FindingID(fmt.Sprintf("F%d", n-2-i/2*2))
		}
		s.Findings, s.Looks, s.Evidence = append(s.Findings, f), append(s.Looks, l), append(s.Evidence, e)
		s.Questions = append(s.Questions, Asked{ID: fmt.Sprintf("Q%d", i), Finding: f.ID, Document: e.ID, On: s.Opened})
		s.Answers = append(s.Answers, Answer{ID: fmt.Sprintf("A%d", i), Finding: f.ID, Document: e.ID, Question: fmt.Sprintf("Q%d", i)})
	}
	return s
}

// TestManyFindingsAreCheckedInLinearTime: eight times as many of everything take
// no more than about eight times as long; what looks through all for each takes
// 64 times. Few and many are taken in turn, the least of each counts, and three times is
// allowed for noise; on a machine that others use up to nine turns are taken until
// they agree.
func TestManyFindingsAreCheckedInLinearTime(t *testing.T) {
	b, sh := goodBody(t), goodShop(t)
	took := func(s State, events []Event) time.Duration {
		start := time.Now()
		problems := s.Validate()
		CheckAgainst(&s, b, sh)
		if _, err := Chain(events, "2026-03-02T00:00:00Z", "W2"); err != nil {
			t.Fatal(err)
		}
		if len(problems) < len(s.Findings) {
			t.Fatalf("%d faults of %d findings that refer to no evidence", len(problems), len(s.Findings))
		}
		return time.Since(start)
	}
	small, large := many(t, 500), many(t, 4000)
	some, all := FromState(small), FromState(large)
	few, lots := time.Hour, time.Hour
	for range 9 {
		few, lots = min(few, took(small, some)), min(lots, took(large, all))
		if lots <= 24*few {
			return
		}
	}
	t.Errorf("500 take %v, 4000 take %v", few, lots)
}

// So many findings that holding each against every other takes minutes are refused, and
// the error names the limit.
func TestFindingsAreBounded(t *testing.T) {
	for n, want := range map[int]bool{maxFindings: false, maxFindings + 1: true} {
		s, told := many(t, n), false
		for _, p := range s.Validate() {
			told = told || strings.Contains(p.Msg, fmt.Sprintf("a job has at most %d", maxFindings))
		}
		if told != want {
			t.Errorf("%d findings: told %v", n, told)
		}
	}
}
