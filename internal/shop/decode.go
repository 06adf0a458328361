package shop

import (
	"fettle/internal/diag"
	"fettle/internal/doc"
)

// Decode reads a shop file. The error is diag.Problems with every fault.
func Decode(file string, data []byte) (*Shop, error) {
	s := &Shop{}
	pos, problems := doc.Decode(file, data, s)
	s.at = pos
	if len(problems) == 0 {
		problems = s.validate()
	}
	problems.Sort()
	if err := problems.OrNil(); err != nil {
		return nil, err
	}
	return s, nil
}

// Encode writes the shop as Decode reads it.
func Encode(s *Shop) []byte { return doc.EncodeYAML(*s) }

// Problem is a fault of the shop at a field: "people[2].id". A shop that was not
// read from a file gives problems without lines.
func (s *Shop) Problem(path, msg, hint string) diag.Problem { return s.at.Problem(path, msg, hint) }
