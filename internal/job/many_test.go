package job

import (
	"fmt"
	"strings"
	"testing"
)

// many is the good job with many findings that refer to one another, to
// inspections, evidence, records and questions, as many of each.
func many(t testing.TB, n int) State {
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

// BenchmarkManyFindings: eight times as many of everything take about eight times as
// long; what looks through all for each would take 64 times.
func BenchmarkManyFindings(b *testing.B) {
	body, sh := goodBody(b), goodShop(b)
	for _, n := range []int{500, 4000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s := many(b, n)
			events := FromState(s)
			for b.Loop() {
				s.Validate()
				CheckAgainst(&s, body, sh)
				if _, err := Fold(events); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
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
