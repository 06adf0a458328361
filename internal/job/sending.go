package job

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// Part is what of a job is sent to review.
type Part string

// Parts that are sent to review.
const (
	Measurements Part = "measurements" // set-ups and readings before the repair, alone
	Whole        Part = "whole"        // all that is decided on, and by
)

// Parts is all of them.
func Parts() []Part { return []Part{Measurements, Whole} }

// Sending says that a job was sent to review, and what it said then. It may be sent back in the same record. A change of what was
// sent makes it void: what is approved is what was sent.
type Sending struct {
	Part  Part      `doc:"part,required" help:"measurements (set-ups and readings before the repair) or whole" oneof:"measurements|whole"`
	Under string    `doc:"under,required" help:"hash of what was sent, without names and remarks; the program gives it"`
	By    string    `doc:"by,required" personal:"yes" help:"a person of the shop file"`
	On    unit.Date `doc:"on,required"`
	Text  string    `doc:"text" personal:"yes"`

	BackOn  unit.Date `doc:"back_on" help:"day on which it was sent back; with 'back_by' and 'back_because'"`
	BackBy  string    `doc:"back_by" personal:"yes" help:"who sent it back, of the shop file"`
	Because string    `doc:"back_because" personal:"yes" help:"why it was sent back"`
}

// Back says that it was sent back.
func (x Sending) Back() bool { return !x.BackOn.IsZero() }

// OfSendings begins the names of what was sent to review.
const OfSendings = "sending/"

// Sent is the last time that a part was sent to review; false where it never was, was sent back, or is not what was sent any more.
func (s *State) Sent(p Part) (Sending, bool) {
	for _, x := range slices.Backward(s.Sendings) {
		if x.Part != p {
			continue
		}
		if x.Back() {
			return Sending{}, false
		}
		now, err := s.ToReview(p)
		return x, err == nil && now == x.Under
	}
	return Sending{}, false
}

// ToReview is the hash of a part of the job as it is sent to review: what was measured and found, answered, chosen and accepted, and
// what the body and the shop are. What the repair adds to it, and names and remarks, are not in it.
func (s *State) ToReview(p Part) (string, error) { return s.toReview(p).reviewHash() }

// ToApprove is the hash of what an approval approves: the whole as it was sent, and that it was sent. What was sent again is approved anew.
func (s *State) ToApprove() (string, error) {
	out := s.toReview(Whole)
	for _, x := range s.Sendings {
		if x.Part == Whole {
			out.Sendings = append(out.Sendings, x)
		}
	}
	return out.reviewHash()
}

// Approved is the review by which the job as it is was approved, after it was sent; false where nobody has, or something was changed since.
func (s *State) Approved() (Review, bool) {
	if !slices.ContainsFunc(s.Reviews, func(r Review) bool { return r.Under != "" }) {
		return Review{}, false
	}
	if _, is := s.Sent(Whole); !is {
		return Review{}, false
	}
	now, err := s.ToApprove()
	for _, r := range slices.Backward(s.Reviews) {
		if err == nil && r.Under == now {
			return r, true
		}
	}
	return Review{}, false
}

// Void says that a review approved something that was changed since, or sent back.
func (s *State) Void(r Review) bool {
	if r.Under == "" {
		return false
	}
	_, sent := s.Sent(Whole)
	now, err := s.ToApprove()
	return !sent || err != nil || r.Under != now
}

// ReviewedAs makes what is left of a job, once it is cut down for somebody outside, as sent and as approved as the whole one is. What was void
// there stays void.
func (s *State) ReviewedAs(whole *State) error {
	s.Sendings, s.Reviews = slices.Clone(s.Sendings), slices.Clone(s.Reviews)
	approved, is := whole.Approved()
	for _, p := range Parts() {
		if _, sent := whole.Sent(p); !sent {
			continue
		}
		under, err := s.ToReview(p)
		if err != nil {
			return err
		}
		i := len(s.Sendings) - 1
		for s.Sendings[i].Part != p {
			i--
		}
		s.Sendings[i].Under = under
	}
	if !is {
		return nil
	}
	under, err := s.ToApprove()
	for i, r := range s.Reviews {
		if r.Under == approved.Under {
			s.Reviews[i].Under = under
		}
	}
	return err
}

// toReview is a part of a job, with nothing else in it. Body and shop stand in two fields that are hashed.
func (s *State) toReview(p Part) State {
	before := map[string]bool{}
	out := State{Format: s.Format, ID: s.ID, Opened: s.Opened, Seed: s.Seed}
	for _, x := range s.Setups {
		if x.Stage == StageBefore || x.Stage == "" {
			out.Setups, before[x.ID] = append(out.Setups, x), true
		}
	}
	for _, r := range s.Readings {
		if before[r.Setup] {
			out.Readings = append(out.Readings, r)
		}
	}
	if p == Measurements {
		return out
	}
	out.Invented, out.Vehicle, out.Impact = s.Invented, s.Vehicle, s.Impact
	out.Body, out.Shop = s.Body, s.Shop
	out.Findings, out.Areas, out.Access, out.Earlier, out.Castings = s.Findings, s.Areas, s.Access, s.Earlier, s.Castings
	out.Answers, out.Told, out.Choices, out.Accepted = s.Answers, s.Told, s.Choices, s.Accepted
	out.Looks, out.Evidence = s.lookedBy(), s.shownBy()
	for _, r := range s.Risks {
		r.Settled, r.SettledBy = "", "" // which the repair tells
		out.Risks = append(out.Risks, r)
	}
	return out
}

// lookedBy is the inspections that findings and areas rest on.
func (s *State) lookedBy() []Inspection {
	named := map[string]bool{}
	for _, f := range s.Findings {
		named[f.Look] = true
	}
	for _, a := range s.Areas {
		named[a.Look] = true
	}
	return slices.DeleteFunc(slices.Clone(s.Looks), func(x Inspection) bool { return !named[x.ID] })
}

// shownBy is the evidence that findings, the inspections they rest on, and answers name.
func (s *State) shownBy() []Evidence {
	named := map[string]bool{}
	for _, f := range s.Findings {
		for _, id := range f.Photos {
			named[id] = true
		}
	}
	for _, x := range s.lookedBy() {
		for _, id := range x.Photos {
			named[id] = true
		}
	}
	for _, a := range s.Answers {
		named[a.Document] = true
	}
	return slices.DeleteFunc(slices.Clone(s.Evidence), func(x Evidence) bool { return !named[x.ID] })
}

// reviewHash is the hash of a state with the names of body and shop, and without names and remarks of people.
func (s State) reviewHash() (string, error) {
	bare := s.bare()
	bare.ID += "\n" + s.Body + "\n" + s.Shop // which State.Hash leaves out
	return bare.Hash()
}

// sendings: what was sent can be read, and that it was sent back is said whole.
func (c *checker) sendings() {
	for i, x := range c.s.Sendings {
		at := fmt.Sprintf("sendings[%d]", i)
		c.notBefore(at+".on", x.On, "the day the job was opened", c.s.Opened)
		c.sum(at+".under", x.Under, "let the program send it: it gives the hash of what is sent")
		if (x.BackOn.IsZero() != (x.BackBy == "")) || (x.BackBy == "") != (x.Because == "") {
			c.fault(at+".back_on", "the day it was sent back, by whom and why belong together", "give 'back_on', 'back_by' and 'back_because', or none of them")
		}
		c.notBefore(at+".back_on", x.BackOn, "the day it was sent", x.On)
	}
	for i, r := range c.s.Reviews {
		if r.Under != "" {
			c.sum(fmt.Sprintf("reviews[%d].under", i), r.Under, "let the program approve it: it gives the hash of what was approved")
		}
	}
}

func (c *checker) sum(at, text, hint string) {
	if !sumForm.MatchString(text) {
		c.fault(at, fmt.Sprintf("%q is no SHA-256", text), hint)
	}
}

// sendingsAgainst: who sent it and sent it back are in the shop file.
func (c *checker) sendingsAgainst(people known) {
	for i, x := range c.s.Sendings {
		at := fmt.Sprintf("sendings[%d]", i)
		c.person(at+".by", x.By, people)
		c.person(at+".back_by", x.BackBy, people)
	}
}
