package job

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// ErasureAgreed says that somebody agrees to names and remarks being erased from records as they are; another person carries it out.
type ErasureAgreed struct {
	Of     []RecordName `doc:"of,required" help:"the records, by their names"`
	By     string       `doc:"by,required" personal:"yes" help:"a person of the shop file"`
	On     unit.Date    `doc:"on,required"`
	Reason string       `doc:"reason,required" help:"why, without a name"`
}

// ErasureAgreedBy is who has agreed to texts of a record being erased, each by the opaque name: as the record is now, for what was written
// in it after that nobody has agreed to.
func (s *Stored) ErasureAgreedBy(of RecordName) []string {
	i, there := s.at[of]
	if !there {
		return nil
	}
	var out []string
	for _, x := range s.slots {
		a, is := x.data.(ErasureAgreed)
		if is && !x.gone && x.written > s.slots[i].written && slices.Contains(a.Of, of) {
			out = append(out, x.by)
		}
	}
	return out
}

// erasures: an agreement names records, each once.
func (c *checker) erasures() {
	for i, x := range c.s.ErasuresAgreed {
		at := fmt.Sprintf("erasure_agreements[%d]", i)
		c.notBefore(at+".on", x.On, "the day the job was opened", c.s.Opened)
		if len(x.Of) == 0 {
			c.fault(at+".of", "it names no record", "name the records that names and remarks are to be erased from")
		}
		twice(c, at+".of", x.Of, nameOnce)
		for k, of := range x.Of {
			if _, is := of.sortOf(); !is {
				c.fault(fmt.Sprintf("%s.of[%d]", at, k), fmt.Sprintf("%q names no record", of), "name it as the history does, for example finding/D1")
			}
		}
	}
}

// erasuresAgainst: who agrees is in the shop file.
func (c *checker) erasuresAgainst(people known) {
	for i, x := range c.s.ErasuresAgreed {
		c.person(fmt.Sprintf("erasure_agreements[%d].by", i), x.By, people)
	}
}
