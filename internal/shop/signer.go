package shop

import (
	"slices"
	"strings"
)

// Signer is the person that a signature names, with or without a word for what
// the person is: "T1" or "technician T1". A text that names two people is
// nobody's signature.
func (s *Shop) Signer(by string) (Person, bool) {
	var found []Person
	words := strings.Fields(by)
	if len(words) > maxWords {
		return Person{}, false
	}
	for _, w := range words {
		if p, ok := s.Person(w); ok && !slices.ContainsFunc(found, func(o Person) bool { return o.ID == p.ID }) {
			found = append(found, p)
		}
	}
	if len(found) != 1 {
		return Person{}, false
	}
	return found[0], true
}

// maxWords is how many words a signature has at most: a person, and what the person is.
const maxWords = 16

// MaySign says that the shop lets the person sign for such a thing.
func (p Person) MaySign(what Authority) bool { return slices.Contains(p.May, what) }
