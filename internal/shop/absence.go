package shop

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// Absence is a time in which a person or a bay is not there. Somebody who has left stays in
// the shop file, with an absence that has no end: what the person did and signed before stays
// known, and nothing more is planned for or signed by that person.
type Absence struct {
	Person string    `doc:"person" help:"who is away; or 'bay'"`
	Bay    string    `doc:"bay" help:"the bay in which nothing can be done; or 'person'. A vehicle that stands in it may go on standing there"`
	From   unit.Date `doc:"from,required" help:"first day"`
	To     unit.Date `doc:"to" help:"last day; left out: for good, as for somebody who has left"`
	Reason string    `doc:"reason,required" help:"why, in a word or two: ill, holiday, has left, lift out of order"`
}

// Covers says that a day lies in an absence.
func (a Absence) Covers(day unit.Date) bool {
	return !day.Before(a.From) && (a.To.IsZero() || !a.To.Before(day))
}

// Words is an absence for people: "away from 2026-12-01 to 2026-12-04 (ill)".
func (a Absence) Words() string {
	if a.To.IsZero() {
		return fmt.Sprintf("away from %s on (%s)", a.From, a.Reason)
	}
	if a.From == a.To {
		return fmt.Sprintf("away on %s (%s)", a.From, a.Reason)
	}
	return fmt.Sprintf("away from %s to %s (%s)", a.From, a.To, a.Reason)
}

// PersonAway is the absence of a person on a day; false when the person is there as far as the
// shop file says.
func (s *Shop) PersonAway(id string, day unit.Date) (Absence, bool) {
	return s.away(day, func(a Absence) bool { return a.Person == id && id != "" })
}

// BayAway is the absence of a bay on a day.
func (s *Shop) BayAway(id string, day unit.Date) (Absence, bool) {
	return s.away(day, func(a Absence) bool { return a.Bay == id && id != "" })
}

func (s *Shop) away(day unit.Date, of func(Absence) bool) (Absence, bool) {
	for _, a := range s.Absences {
		if of(a) && a.Covers(day) {
			return a, true
		}
	}
	return Absence{}, false
}

// Left says that a person has left the shop by a day.
func (s *Shop) Left(id string, day unit.Date) bool {
	return slices.ContainsFunc(s.Absences, func(a Absence) bool { return a.Person == id && a.To.IsZero() && a.Covers(day) })
}

// leaves says that a person leaves the shop some day.
func (s *Shop) leaves(id string) bool {
	return slices.ContainsFunc(s.Absences, func(a Absence) bool { return a.Person == id && a.To.IsZero() })
}

// Closed says that a bay is closed for good by a day.
func (s *Shop) Closed(id string, day unit.Date) bool {
	return slices.ContainsFunc(s.Absences, func(a Absence) bool { return a.Bay == id && a.To.IsZero() && a.Covers(day) })
}

// absences: of one person or one bay that the shop has, in order, apart from one another.
func (c *checker) absences() {
	for i, a := range c.shop.Absences {
		path := fmt.Sprintf("absences[%d]", i)
		_, person := c.shop.Person(a.Person)
		bay := slices.ContainsFunc(c.shop.Bays, func(b Bay) bool { return b.ID == a.Bay })
		switch {
		case (a.Person == "") == (a.Bay == ""):
			c.fault(path, "an absence is of one person, or of one bay", "give 'person' or 'bay'")
		case a.Person != "" && !person:
			c.fault(path+".person", fmt.Sprintf("%q is no person of the shop", a.Person), "a person who has left stays under 'people'")
		case a.Bay != "" && !bay:
			c.fault(path+".bay", fmt.Sprintf("%q is no bay of the shop", a.Bay), "a bay that is closed stays under 'bays'")
		}
		if !a.To.IsZero() && a.To.Before(a.From) {
			c.fault(path+".to", fmt.Sprintf("it ends on %s, before it begins on %s", a.To, a.From), "are the two swapped?")
		}
		if a.Reason == "" {
			c.fault(path+".reason", "it does not say why", "write for example 'reason: ill'")
		}
		for _, o := range c.shop.Absences[:i] {
			if o.Person == a.Person && o.Bay == a.Bay && (o.Covers(a.From) || a.Covers(o.From)) {
				c.fault(path, fmt.Sprintf("%s is away twice at once, here and from %s on", a.Person+a.Bay, o.From), "make one of the two")
			}
		}
	}
}
