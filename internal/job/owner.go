package job

import (
	"fmt"
	"regexp"

	"fettle/internal/ledger"
	"fettle/internal/unit"
)

// HandedOver is the data of job-handed-over: the shop of a group that the job belongs to from now on.
type HandedOver struct {
	To     string    `doc:"to,required" help:"the shop, by its name in the group"`
	By     string    `doc:"by,required" personal:"yes"`
	On     unit.Date `doc:"on,required"`
	Reason string    `doc:"reason,required" personal:"yes"`
}

// Owner is the shop that the job belongs to; empty of a job that was never handed over, which is one of the first shop.
func (s *Stored) Owner() string {
	if d, ok := s.Record(OfOwner); ok {
		return d.(HandedOver).To
	}
	return ""
}

// shopForm is what a shop is called in its group: the names of its jobs may begin with it.
var shopForm = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,39}$`)

// IsShop says whether a shop of a group may be called so.
func IsShop(name string) bool { return shopForm.MatchString(name) }

// toShop refuses a name that no shop has.
func toShop(data any) error {
	if d, is := data.(HandedOver); is && !IsShop(d.To) {
		return fmt.Errorf("to: %q is no name of a shop; use up to 40 letters, digits, '-' and '_', beginning with a letter or digit", d.To)
	}
	return nil
}

// HandedTo is the shop that events hand a job over to, the last of them; false where none does.
func HandedTo(c ledger.Chain) (shop string, is bool, err error) {
	for _, x := range c {
		if x.What != string(JobHandedOver) {
			continue
		}
		e, err := eventOf(x)
		if err != nil {
			return "", false, err
		}
		shop, is = e.Data.(HandedOver).To, true
	}
	return shop, is, nil
}

// Authored is who has written about a record: the newest record of it, and events about it at all, each by the opaque name.
type Authored struct {
	Of   RecordName
	Kind EventKind
	By   string
	All  []string // the one who recorded it first is the first
	At   int64    // number of the newest event about it that does more than erase
	Gone bool     // it was withdrawn
}

// Written is who has written about each record, also about one that was withdrawn.
func (s *Stored) Written() []Authored {
	out := make([]Authored, len(s.slots))
	for i, x := range s.slots {
		out[i] = Authored{x.of, x.kind, x.by, x.writers, x.written, x.gone}
	}
	return out
}

// AuthorOf is who wrote the newest record of a name; empty where there is none.
func (s *Stored) AuthorOf(of RecordName) string {
	if i, ok := s.at[of]; ok {
		return s.slots[i].by
	}
	return ""
}
