package job

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"fettle/internal/doc"
	"fettle/internal/unit"
)

// Settlement is what became of a proposal.
type Settlement string

// What became of a proposal; it is open before.
const (
	TakenOver Settlement = "taken over"
	Declined  Settlement = "declined"
)

// Proposal is a record that somebody proposes who may not enter it. It counts for nothing, whoever reads the job: what is
// proposed stands here as a text and in no list of records. Whoever may enter it takes it over by an event of their own.
type Proposal struct {
	ID     string     `doc:"id,required"`
	Of     RecordName `doc:"of,required" help:"the record that is proposed: finding/D4, acceptance/D1, or the sort alone for what has no identity, as choice"`
	Record string     `doc:"record,required" personal:"yes" help:"the record as it would be entered, in YAML"`
	By     string     `doc:"by,required" personal:"yes" help:"who proposes it"`
	On     unit.Date  `doc:"on,required"`
	Reason string     `doc:"reason" personal:"yes"`

	Settled   Settlement `doc:"settled" help:"what became of it: taken over or declined; left out while it is open" oneof:"taken over|declined"`
	SettledBy string     `doc:"settled_by" personal:"yes" help:"who took it over or declined it"`
	SettledOn unit.Date  `doc:"settled_on"`
}

// Open says that nobody has taken a proposal over, or declined it.
func (p Proposal) Open() bool { return p.Settled == "" }

// OfProposals begins the names of proposals.
const OfProposals = "proposal/"

// Proposable is the kinds of event whose records may be proposed: findings and what else is found, and what is chosen.
func Proposable() []EventKind {
	return []EventKind{FindingRecorded, AccessFound, EarlierRecorded, CastingRead, ChoiceMade, TreatmentAccepted}
}

// Proposed is the record that is proposed, as its event would have it.
func (p Proposal) Proposed() (Event, error) {
	e, _, err := DecodeRecord(p.Of, "record", []byte(p.Record))
	if err == nil && !slices.Contains(Proposable(), e.Kind) {
		err = fmt.Errorf("records of the sort %q are not proposed", strings.SplitN(string(p.Of), "/", 2)[0])
	}
	return e, err
}

// ProposedKind is the kind of event that a proposal would be; false where there is none.
func (p Proposal) ProposedKind() (EventKind, bool) {
	word, _, _ := strings.Cut(string(p.Of), "/")
	i, known := byWord[word]
	if !known || !slices.Contains(Proposable(), sorts[i].kind) {
		return "", false
	}
	return sorts[i].kind, true
}

// OpenProposals is the proposals that nobody has taken over or declined.
func (s *State) OpenProposals() []Proposal {
	return slices.DeleteFunc(slices.Clone(s.Proposals), func(p Proposal) bool { return !p.Open() })
}

// proposals: what is proposed can be read, and what became of it is said whole.
func (c *checker) proposals() {
	unique(c, "proposals", "id", c.s.Proposals, func(p Proposal) string { return p.ID })
	for i, p := range c.s.Proposals {
		at := fmt.Sprintf("proposals[%d]", i)
		c.notBefore(at+".on", p.On, "the day the job was opened", c.s.Opened)
		if _, is := p.ProposedKind(); !is {
			c.fault(at+".of", fmt.Sprintf("%q names nothing that is proposed", p.Of), "propose "+strings.Join(proposedWords(), ", "))
		} else if p.Of.number() > 0 {
			c.fault(at+".of", fmt.Sprintf("%q is a number, and not what the record is called", p.Of), "give the sort alone")
		} else if p.Record != Erased {
			if _, err := p.Proposed(); err != nil {
				c.fault(at+".record", "it is no record of that name: "+firstLine(err.Error()), "write it as it would be entered")
			}
		}
		if p.Open() != (p.SettledBy == "") || p.Open() != p.SettledOn.IsZero() {
			c.fault(at+".settled", "what became of it, by whom and when belong together", "give 'settled', 'settled_by' and 'settled_on', or none of them")
		}
		c.notBefore(at+".settled_on", p.SettledOn, "the day it was proposed", p.On)
	}
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	return line
}

func proposedWords() []string {
	var out []string
	for _, k := range Proposable() {
		out = append(out, sorts[byKind[string(k)]].word)
	}
	return out
}

// proposalsAgainst: who proposes and who settles it are in the shop file.
func (c *checker) proposalsAgainst(people known) {
	for i, p := range c.s.Proposals {
		at := fmt.Sprintf("proposals[%d]", i)
		c.person(at+".by", p.By, people)
		c.person(at+".settled_by", p.SettledBy, people)
	}
}

// Placed is a record as With and Added take it: in the place of the one of its name, where the job has that already.
func (s *State) Placed(record any) any {
	k, is := sortOfData(record)
	if !is || k.list == "" || k.name(record) == "" {
		return record
	}
	list := reflect.ValueOf(s).Elem().Field(fieldOf(k.list))
	for i := range list.Len() {
		if k.name(list.Index(i).Interface()) == k.name(record) {
			return Changed{List: k.list, At: i, Item: record}
		}
	}
	return record
}

// SignedAnew is a record signed by somebody else on a day, where its sort is signed.
func SignedAnew(record any, by string, on unit.Date) any {
	v := reflect.New(reflect.TypeOf(record)).Elem()
	v.Set(reflect.ValueOf(record))
	if f := v.FieldByName("By"); f.IsValid() {
		f.SetString(by)
	}
	if f := v.FieldByName("On"); f.IsValid() {
		f.Set(reflect.ValueOf(on))
	}
	return v.Interface()
}

// EnteredBy says that an event enters what is proposed, whoever signs it.
func (p Proposal) EnteredBy(e Event) bool {
	want, err := p.Proposed()
	if err != nil || e.Kind != want.Kind {
		return false
	}
	a, b := SignedAnew(want.Data, "", unit.Date{}), SignedAnew(e.Data, "", unit.Date{})
	k := sorts[byKind[string(e.Kind)]]
	return reflect.DeepEqual(doc.Encode(full(k, a)), doc.Encode(full(k, b)))
}
