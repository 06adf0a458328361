package job

import (
	"fmt"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/shop"
)

// Whoever signs for something is a person of the shop file, each at its own field, with or without a
// word before the name where an act is signed by hand; what was erased names nobody.
func TestWhoSignsIsAPersonOfTheShop(t *testing.T) {
	sh := &shop.Shop{People: []shop.Person{{ID: "P1"}, {ID: "P2"}}}
	for field, set := range map[string]func(s *State, by string){
		"accepted[1].by":         func(s *State, by string) { s.Accepted = []Accepted{{By: "P1"}, {By: by}} },
		"reviews[1].by":          func(s *State, by string) { s.Reviews = []Review{{By: "P1"}, {By: by}} },
		"answers[1].recorded_by": func(s *State, by string) { s.Answers = []Answer{{RecordedBy: "P1"}, {RecordedBy: by}} },
		"choices[1].by":          func(s *State, by string) { s.Choices = []Choice{{By: "P1"}, {By: by}} },
		"questions[1].by":        func(s *State, by string) { s.Questions = []Asked{{By: "planner P1"}, {By: by}} },
		"procedure_checks[1].by": func(s *State, by string) { s.Checks = []Check{{By: "P1"}, {By: by}} },
		"inspections[1].by":      func(s *State, by string) { s.Looks = []Inspection{{By: "P1"}, {By: by}} },
		"records[1].by":          func(s *State, by string) { s.Records = []Record{{By: "P1"}, {By: by}} },
	} {
		for by, fault := range map[string]bool{"P1": false, "P2": false, "P9": true, "p1": true} {
			c := checker{s: &State{}}
			set(c.s, by)
			c.repairAgainst(&body.Body{}, sh)
			var got, want []string
			for _, p := range c.problems {
				got = append(got, p.Field)
				if p.Msg == "" || p.Hint == "" {
					t.Errorf("%s signed by %s: %+v", field, by, p)
				}
			}
			if fault {
				want = []string{field}
			}
			if !slices.Equal(got, want) {
				t.Errorf("%s signed by %s: %q", field, by, got)
			}
		}
	}
	for n, want := range map[int]bool{12: true, 13: false} { // as many are named in a hint
		crowd := &shop.Shop{}
		for i := range n {
			crowd.People = append(crowd.People, shop.Person{ID: fmt.Sprintf("A%d", i)})
		}
		c := checker{s: &State{}}
		c.someone("x", "P9", crowd)
		if len(c.problems) != 1 || (c.problems[0].Hint != "") != want {
			t.Errorf("%d people: %+v", n, c.problems)
		}
	}
}
