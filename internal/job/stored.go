package job

import (
	"fmt"
	"maps"
	"reflect"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/ledger"
)

// Stored is what the chain of a job adds up to: the newest record of each name. Events
// about different records may come in any order; what counts of each record is its newest
// event. Where the order of a list says something, it is that in which its records were
// first recorded. A Stored is never changed once it is made.
type Stored struct {
	slots   []slot
	at      map[RecordName]int // place among the slots
	numbers map[string]int     // the highest number given, by the word of the name
	last    ledger.Entry
	newest  map[string]int64 // as the ledger counts
	plain   bool             // the event that is taken is of an earlier release
	writer  string           // who wrote the event that is taken, by the opaque name
}

// slot is the newest record of one name.
type slot struct {
	of      RecordName
	data    any
	gone    bool
	newest  int64 // number of the newest event about it
	written int64 // number of the newest event about it that does more than erase
	plain   bool  // an event of an earlier release, whose texts are hashed, is about it
	own     bool  // its readings are shared with no other Stored yet

	kind    EventKind // of the newest record of it
	by      string    // who wrote that, by the opaque name
	writers []string  // who has written events about it, each once
}

// Read verifies a chain and adds its events up.
func Read(c ledger.Chain) (*Stored, error) {
	if len(c) == 0 {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "job.Read", Subject: "job", Msg: "its chain has no events"}
	}
	return (&Stored{}).Then(c)
}

// Then is the job with more entries of its chain, which are verified; s stays as it is.
func (s *Stored) Then(c ledger.Chain) (*Stored, error) {
	newest, err := c.VerifyAfter(s.last, s.newest)
	if err != nil {
		return nil, err
	}
	events, err := Events(c)
	if err != nil {
		return nil, err
	}
	out := s.clone()
	out.newest = newest
	for i, e := range events {
		out.plain, out.writer = c[i].About == "", c[i].By
		if err := out.apply(e, c[i].Seq); err != nil {
			return nil, inEvent(c[i], err)
		}
		out.last = c[i]
	}
	out.plain, out.writer = false, ""
	for i := range out.slots {
		out.slots[i].own = false
	}
	return out, nil
}

func inEvent(e ledger.Entry, err error) error {
	return &diag.Error{Kind: diag.Invalid, Op: "job.Read", Subject: fmt.Sprintf("event %d (%s)", e.Seq, e.What), Msg: err.Error(), Err: err}
}

func (s *Stored) clone() *Stored {
	return &Stored{slots: slices.Clone(s.slots), at: maps.Clone(s.at), numbers: maps.Clone(s.numbers), last: s.last, newest: s.newest}
}

// Head is the number and the hash of the newest event.
func (s *Stored) Head() (seq int64, hash string) { return s.last.Seq, s.last.Hash }

// At is the time of the newest event; empty where there is none.
func (s *Stored) At() string { return s.last.At }

// Newest is the number of the newest event about a record; 0 when there is none.
func (s *Stored) Newest(of RecordName) int64 {
	if i, ok := s.at[of]; ok {
		return s.slots[i].newest
	}
	return 0
}

// Record is the record of that name as it is now; false when there is none, or it was
// withdrawn.
func (s *Stored) Record(of RecordName) (any, bool) {
	i, ok := s.at[of]
	if !ok && of == OfStart && len(s.slots) > 0 {
		d, opened := s.slots[0].data.(Opening)
		return Beginning{Start: d.Start, Seed: d.Seed}, opened
	}
	if !ok || s.slots[i].gone {
		return nil, false
	}
	return s.slots[i].data, true
}

// apply takes one event; seq is its number.
func (s *Stored) apply(e Event, seq int64) error {
	want := eventType(e.Kind)
	switch {
	case want == nil:
		return fmt.Errorf("this program does not know events of this kind")
	case reflect.TypeOf(e.Data) != want:
		return fmt.Errorf("its data are %T, not %s", e.Data, want)
	case (e.Kind == JobOpened) != (len(s.slots) == 0):
		return fmt.Errorf("a job is opened by its first event, and by no other")
	}
	switch d := e.Data.(type) {
	case Taken:
		return s.addReadings(d, seq)
	case Withdrawn, Withdrawal:
		return s.withdraw(e.About(), seq)
	case Erasure:
		return s.erase(e.About(), seq)
	}
	of, err := s.nameOf(e)
	if err != nil {
		return err
	}
	k := sorts[byKind[string(e.Kind)]]
	if k.full != nil {
		e.Data = k.full(e.Data)
	}
	s.put(of, e.Data, seq)
	s.slots[s.at[of]].kind = e.Kind
	return nil
}

// nameOf is what the event of a record is about: the next number where the record has no
// identity and none was given.
func (s *Stored) nameOf(e Event) (RecordName, error) {
	k := sorts[byKind[string(e.Kind)]]
	own := k.of(e.Data)
	switch {
	case e.Of == "" && own == "":
		return k.numbered(s.numbers[k.word] + 1), nil
	case own == "":
		if is, ok := e.Of.sortOf(); !ok || is.kind != k.kind || e.Of.number() == 0 {
			return "", fmt.Errorf("%q names no record of its sort", e.Of)
		}
		return e.Of, nil
	case e.Of != "" && e.Of != own:
		return "", fmt.Errorf("it is about %q, and its data are of %q", e.Of, own)
	}
	if r, ok := e.Data.(Readings); ok {
		for _, x := range r.Readings {
			if x.Setup != r.Setup {
				return "", fmt.Errorf("a reading of set-up %q is among those of %q", x.Setup, r.Setup)
			}
		}
	}
	return own, nil
}

// put takes a record into its place, or makes one.
func (s *Stored) put(of RecordName, data any, seq int64) {
	i, ok := s.at[of]
	if !ok {
		if s.at == nil {
			s.at, s.numbers = map[RecordName]int{}, map[string]int{}
		}
		i = len(s.slots)
		s.at[of] = i
		s.slots = append(s.slots, slot{of: of})
		if k, ok := of.sortOf(); ok {
			s.numbers[k.word] = max(s.numbers[k.word], of.number())
		}
	}
	s.slots[i] = slot{of: of, data: data, newest: seq, written: seq, plain: s.slots[i].plain || s.plain, kind: s.slots[i].kind, by: s.writer, writers: s.withWriter(i)}
}

// withWriter is who has written events about a record, with the one of now.
func (s *Stored) withWriter(i int) []string {
	was := s.slots[i].writers
	if slices.Contains(was, s.writer) {
		return was
	}
	return append(slices.Clip(was), s.writer)
}

// addReadings is of events of earlier releases, which add to the readings there are.
func (s *Stored) addReadings(d Taken, seq int64) error {
	for _, e := range bySetup(d.Readings) {
		r := e.Data.(Readings)
		of := e.About()
		if was, ok := s.Record(of); ok {
			before := was.(Readings).Readings
			if !s.slots[s.at[of]].own {
				before = slices.Clone(before)
			}
			r.Readings = append(before, r.Readings...)
		}
		s.put(of, r, seq)
		s.slots[s.at[of]].own, s.slots[s.at[of]].kind = true, ReadingsTaken
	}
	return nil
}

func (s *Stored) withdraw(of RecordName, seq int64) error {
	if k, ok := of.sortOf(); ok && k.list == "" {
		return fmt.Errorf("the %s of a job is replaced, and not withdrawn", of)
	}
	i, ok := s.at[of]
	if !ok || s.slots[i].gone {
		return fmt.Errorf("nothing is recorded under %q", of)
	}
	s.slots[i].gone, s.slots[i].newest, s.slots[i].written, s.slots[i].plain = true, seq, seq, s.slots[i].plain || s.plain
	s.slots[i].writers = s.withWriter(i)
	return nil
}

// erase takes the texts of people out of a record. That they are gone does not hang on
// whether the texts were still beside the entries.
func (s *Stored) erase(of RecordName, seq int64) error {
	i, ok := s.at[of]
	switch {
	case !ok:
		return fmt.Errorf("nothing is recorded under %q", of)
	case s.slots[i].plain:
		return fmt.Errorf("an event of an earlier release is about %q, which holds its texts hashed: they cannot be erased", of)
	}
	s.slots[i].data, _ = withTexts(s.slots[i].data, func(string) (string, error) { return Erased, nil })
	s.slots[i].newest = seq
	return nil
}

// State is the job as it stands: the records that were not withdrawn. It knows the number of
// the event of each, for messages.
func (s *Stored) State() *State {
	out := &State{places: map[string][]place{}, later: s.laterThan()}
	v := reflect.ValueOf(out).Elem()
	for _, x := range s.slots {
		if x.gone {
			continue
		}
		switch d := x.data.(type) {
		case Opening:
			out.Format, out.ID, out.Invented, out.Body, out.Shop = d.Format, d.ID, d.Invented, d.Body, d.Shop
			out.Opened, out.Start, out.Author, out.Seed = d.Opened, d.Start, d.Author, d.Seed
		case Named:
			if x.of == OfBody {
				out.Body = HashName(d.SHA256)
			} else {
				out.Shop = HashName(d.SHA256)
			}
		case Beginning:
			out.Start, out.Seed = d.Start, d.Seed
		case HandedOver: // whose job it is is no part of what is known of the vehicle
		case Vehicle:
			out.Vehicle = d
		case Impact:
			out.Impact = d
		case Readings:
			for _, r := range d.Readings {
				r.Line = len(out.Readings) + 2 // as a table of them would have it, behind its header
				out.Readings = append(out.Readings, r)
				out.places[readingsWord] = append(out.places[readingsWord], place{x.of, x.newest})
			}
			continue
		default:
			k, _ := x.of.sortOf() // a slot is of a sort
			f := v.Field(fieldOf(k.list))
			f.Set(reflect.Append(f, reflect.ValueOf(d)))
			out.places[k.list] = append(out.places[k.list], place{x.of, x.newest})
			continue
		}
		out.places[string(x.of)] = []place{{x.of, x.newest}}
	}
	return out
}

// place is where a record of a state comes from.
type place struct {
	of  RecordName
	seq int64 // number of its event
}
