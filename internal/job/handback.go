package job

import (
	"fmt"
	"slices"

	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Receiver is to whom a vehicle was handed back: what the person is, and never who.
type Receiver string

// Receivers are all of them.
func Receivers() []Receiver {
	return []Receiver{"owner", "agent of the owner", "agent of the payer", "carrier"}
}

// HandBack says that the vehicle was handed back, and what was known then. Nothing of the repair is written over after it: a
// job is reopened first, in the same record, and handed back anew.
type HandBack struct {
	To     Receiver  `doc:"to,required" help:"to whom: owner, agent of the owner, agent of the payer or carrier; never a name" oneof:"owner|agent of the owner|agent of the payer|carrier"`
	Under  string    `doc:"under,required" help:"hash of all else on record as it was judged, without names and remarks; the program gives it"`
	By     string    `doc:"by,required" personal:"yes" help:"a person of the shop file who may review, and who gave none of the proofs unless there is a second one"`
	On     unit.Date `doc:"on,required"`
	Second string    `doc:"second" personal:"yes" help:"a second person who may review and gave none of the proofs"`
	Text   string    `doc:"text" personal:"yes"`

	ReopenedOn unit.Date `doc:"reopened_on" help:"day on which the job was opened again; with 'reopened_by' and 'reopened_because'"`
	ReopenedBy string    `doc:"reopened_by" personal:"yes" help:"who opened it again, of the shop file"`
	Because    string    `doc:"reopened_because" personal:"yes" help:"why it was opened again"`
}

// Reopened says that the job was opened again after it.
func (h HandBack) Reopened() bool { return !h.ReopenedOn.IsZero() }

// OfHandBacks begins the names of hand-backs.
const OfHandBacks = "hand-back/"

// HandedBack is the hand-back on record after which the job was not opened again; false without one.
func (s *State) HandedBack() (HandBack, bool) {
	for _, h := range s.HandBacks {
		if !h.Reopened() {
			return h, true
		}
	}
	return HandBack{}, false
}

// Under is the hash of all that a hand-back rests on: of the job without its hand-backs, without bills that were agreed, which say nothing
// of the vehicle, and without names and remarks, which may be erased.
func (s *State) Under() (string, error) {
	if len(s.HandBacks)+len(s.Agreed)+len(s.ErasuresAgreed) == 0 {
		return s.bare().Hash()
	}
	rest := *s
	rest.HandBacks, rest.Agreed, rest.ErasuresAgreed = nil, nil, nil
	return rest.bare().Hash()
}

// bare is a state with every text of a person exchanged for one word.
func (s *State) bare() *State {
	out, _ := withTexts(*s, func(string) (string, error) { return Erased, nil }) // which cannot fail
	bare := out.(State)
	bare.Author = Erased
	return &bare
}

// ChangedSince says what was changed since a hand-back, or that something was; empty: nothing. A stored job knows of each change; of a
// state written by hand the hash alone tells, which holds no names and remarks.
func (s *State) ChangedSince(h HandBack) []string {
	var out []string
	for _, of := range s.later {
		out = append(out, of.plain())
	}
	now, err := s.Under()
	if (err != nil || now != h.Under) && len(out) == 0 {
		out = append(out, "the record")
	}
	return out
}

// laterThan are the records that were written or withdrawn after the last hand-back; names and remarks that were erased are none, nor is
// a bill, nor whose job it is.
func (s *Stored) laterThan() []RecordName {
	since := int64(0)
	for _, x := range s.slots {
		if h, is := x.data.(HandBack); is && !x.gone && !h.Reopened() {
			since = x.written
		}
	}
	var out []RecordName
	for _, x := range s.slots {
		k, _ := x.of.sortOf()
		if since > 0 && x.written > since && k.kind != VehicleHandedBack && !AfterHandBack(k.kind) {
			out = append(out, x.of)
		}
	}
	return out
}

// AfterHandBack says that events of a kind say nothing of the vehicle, and may come when it was handed back.
func AfterHandBack(k EventKind) bool {
	return k == TextsErased || k == JobHandedOver || k == BillAgreed || k == ErasureAgreedTo
}

// HandBackFaults is every reason why a hand-back does not stand by who signed it, and when.
func (s *State) HandBackFaults(h HandBack, sh *shop.Shop, today unit.Date) []string {
	out := s.Faults(Act{By: h.By, On: h.On, May: shop.MayReview}, sh, today)
	proved := func(by string) bool {
		p, known := sh.Signer(by)
		return !known || slices.ContainsFunc(s.Records, func(r Record) bool { q, is := sh.Signer(r.By); return !is || q.ID == p.ID })
	}
	switch {
	case h.Second == "" && sh != nil && proved(h.By):
		out = append(out, fmt.Sprintf("%s gave proofs of the repair, or nobody can tell who did: a second person has to sign", h.By))
	case h.Second != "":
		for _, why := range s.Faults(Act{By: h.Second, On: h.On, May: shop.MayReview}, sh, today) {
			out = append(out, "the second person: "+why)
		}
		switch {
		case sh == nil:
		case proved(h.Second):
			out = append(out, fmt.Sprintf("the second person, %s, gave proofs of the repair, or nobody can tell who did", h.Second))
		case same(sh, h.By, h.Second):
			out = append(out, "the second person is the first")
		}
	}
	return out
}

func same(sh *shop.Shop, a, b string) bool {
	p, is := sh.Signer(a)
	q, also := sh.Signer(b)
	return is && also && p.ID == q.ID
}

// handBacks judges each for itself, and that there was one at a time.
func (c *checker) handBacks() {
	last := c.s.Opened
	twice(c, "hand_backs", c.s.HandBacks, giveOnce)
	for i, h := range c.s.HandBacks {
		at := fmt.Sprintf("hand_backs[%d]", i)
		if i == 0 {
			c.notBefore(at+".on", h.On, "the day the job was opened", last)
		} else {
			c.notBefore(at+".on", h.On, "the day it was opened again", last)
		}
		if !slices.Contains(Receivers(), h.To) {
			c.fault(at+".to", fmt.Sprintf("%q is nobody to whom a vehicle is handed back", h.To), "write owner, agent of the owner, agent of the payer or carrier")
		}
		if !sumForm.MatchString(h.Under) {
			c.fault(at+".under", fmt.Sprintf("%q is no SHA-256", h.Under), "let the program record the hand-back: it gives the hash of what was judged")
		}
		if h.Second != "" && h.Second == h.By && h.By != Erased {
			c.fault(at+".second", "the second person is the first", "have another person sign, or leave it out")
		}
		if (h.ReopenedOn.IsZero() != (h.ReopenedBy == "")) || (h.ReopenedBy == "") != (h.Because == "") {
			c.fault(at+".reopened_on", "the day the job was opened again, by whom and why belong together", "give 'reopened_on', 'reopened_by' and 'reopened_because', or none of them")
		}
		if h.Reopened() {
			c.notBefore(at+".reopened_on", h.ReopenedOn, "the vehicle was handed back", h.On)
			last = h.ReopenedOn
		} else if i < len(c.s.HandBacks)-1 {
			c.fault(at, "the vehicle was handed back again without the job having been opened again", "say who opened it again, when and why, or leave the later one out")
			last = h.On
		}
	}
}

// handBacksAgainst: who signed is in the shop file.
func (c *checker) handBacksAgainst(people known) {
	for i, h := range c.s.HandBacks {
		at := fmt.Sprintf("hand_backs[%d]", i)
		c.person(at+".by", h.By, people)
		c.person(at+".second", h.Second, people)
		c.person(at+".reopened_by", h.ReopenedBy, people)
	}
}
