package job

import (
	"cmp"
	"fmt"
	"reflect"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/ledger"
)

// Stamp is who writes events, and when: the person as the store knows them (an opaque name;
// what it stands for is kept elsewhere), the time in ledger.TimeForm, and what draws the salt
// of each text that stands beside an event.
type Stamp struct {
	At, By string
	Salt   func() string
}

// Write makes the entries of events that follow on the chain of a job, and the job with
// them; s stays as it is. All of them are written or none: each event has to have seen the
// newest one about its record, and what they add up to has to hold together. The first of a
// new job, a zero Stored, opens it.
func (s *Stored) Write(events []Event, by Stamp) (ledger.Chain, *Stored, error) {
	if len(events) == 0 {
		return nil, nil, &diag.Error{Kind: diag.Invalid, Op: "job.Write", Subject: "job", Msg: "there are no events to write"}
	}
	out := s.clone()
	var chain ledger.Chain
	written := map[RecordName]bool{}
	for i, e := range events {
		entry, err := out.next(e, by, written)
		if err != nil {
			return nil, nil, atEvent(i, e, err)
		}
		chain = append(chain, entry)
	}
	newest, err := chain.VerifyAfter(s.last, s.newest)
	if err != nil {
		return nil, nil, err
	}
	out.newest = newest
	if err := out.holds(s); err != nil {
		return nil, nil, err
	}
	return chain, out, nil
}

// Try is a job that was opened as it would be with one more event, and the record that it is
// about; nothing is written.
func (s *Stored) Try(e Event) (*Stored, RecordName, error) {
	chain, after, err := s.Write([]Event{e}, Stamp{At: s.last.At, By: "nobody", Salt: func() string { return strings.Repeat("0", 64) }})
	if err != nil {
		return nil, e.About(), err
	}
	return after, RecordName(chain[0].About), nil
}

func atEvent(i int, e Event, err error) error {
	if diag.KindOf(err) == diag.Conflict {
		return err
	}
	return &diag.Error{Kind: diag.Invalid, Op: "job.Write", Subject: fmt.Sprintf("event %d (%s)", i+1, e.Kind), Msg: err.Error(), Err: err}
}

// next adds one event and is its entry.
func (s *Stored) next(e Event, by Stamp, written map[RecordName]bool) (ledger.Entry, error) {
	if want := eventType(e.Kind); want == nil || reflect.TypeOf(e.Data) != want {
		return ledger.Entry{}, fmt.Errorf("data of type %T do not belong to this kind of event", e.Data)
	}
	if _, earlier := earlierKinds[e.Kind]; earlier || e.Kind == ReadingsRecorded {
		return ledger.Entry{}, fmt.Errorf("events of this kind are read, and not written any more")
	}
	if err := cmp.Or(byContent(e.Data), toShop(e.Data)); err != nil {
		return ledger.Entry{}, err
	}
	of := e.About()
	if of == "" {
		if e.Kind == RecordWithdrawn || e.Kind == TextsErased {
			return ledger.Entry{}, fmt.Errorf("it does not say which record it is about")
		}
		var err error
		if of, err = s.nameOf(e); err != nil {
			return ledger.Entry{}, err
		}
		e.Of = of
	}
	if written[of] {
		return ledger.Entry{}, fmt.Errorf("an event about %s is among those before it; what is written at once says one thing of a record", of)
	}
	written[of] = true
	if now := s.Newest(of); now != e.Seen {
		return ledger.Entry{}, conflict(of, e.Seen, now)
	}
	data, beside, err := sealed(e.Data, by.Salt)
	if err != nil {
		return ledger.Entry{}, err
	}
	entry, err := s.last.Next(ledger.Entry{At: by.At, By: by.By, What: string(e.Kind), About: string(of), Seen: e.Seen, Beside: beside}, doc.Encode(data))
	if err != nil {
		return entry, err
	}
	if err := readable(entry, e.Data); err != nil {
		return entry, err
	}
	s.writer = by.By
	if err := s.apply(e, entry.Seq); err != nil {
		return entry, err
	}
	s.last, s.writer = entry, ""
	return entry, nil
}

// readable refuses an entry that could not be read again, or not as it was meant: what a
// document is refused for is not let into a chain.
func readable(entry ledger.Entry, data any) error {
	back, err := eventOf(entry)
	if err != nil {
		return err
	}
	same, err := sameData(back.Data, data)
	if err == nil && !same {
		err = fmt.Errorf("it would be read as another record")
	}
	return err
}

// byContent refuses a body or shop that is not named by its content: where it lies is not
// the same for everybody who reads the job.
func byContent(data any) error {
	names := map[string]string{}
	switch d := data.(type) {
	case Opening:
		names["body"], names["shop"] = d.Body, d.Shop
	case Named:
		names["sha256"] = HashName(d.SHA256)
	}
	for _, field := range []string{"body", "shop", "sha256"} {
		if name, there := names[field]; there {
			if _, ok := NamedHash(name); !ok {
				return fmt.Errorf("%s: a stored job names it by the hash of its content, not as %q", field, name)
			}
		}
	}
	return nil
}

// conflict says that somebody else has written a record since its author read it.
func conflict(of RecordName, seen, now int64) error {
	msg := fmt.Sprintf("somebody has written it since: event %d is the newest, seen was %d", now, seen)
	switch {
	case seen == 0:
		msg = fmt.Sprintf("it is on record already, in event %d", now)
	case now == 0:
		msg = fmt.Sprintf("there is no such record, and no event %d about it", seen)
	}
	return &diag.Error{Kind: diag.Conflict, Op: "job.Write", Subject: string(of), Msg: msg, Hint: "read the job again; nothing was written"}
}

// Events reads the events of a chain. It does not verify the chain: that is
// ledger.Chain.Verify.
func Events(c ledger.Chain) ([]Event, error) {
	out := make([]Event, len(c))
	for i, entry := range c {
		e, err := eventOf(entry)
		if err != nil {
			return nil, &diag.Error{Kind: diag.KindOf(err), Op: "job.Events",
				Subject: fmt.Sprintf("event %d (%s)", entry.Seq, entry.What), Msg: err.Error(), Err: err}
		}
		out[i] = e
	}
	return out, nil
}

// eventOf reads the event of an entry. One that says which record it is about has to be
// about that, and has its texts beside it.
func eventOf(entry ledger.Entry) (Event, error) {
	if err := shown(entry.By + entry.About); err != nil {
		return Event{}, &diag.Error{Kind: diag.Invalid, Op: "job.Events", Subject: entry.What, Msg: err.Error()}
	}
	e, err := DecodeEvent(EventKind(entry.What), []byte(entry.Payload))
	if err != nil || entry.About == "" {
		return e, err
	}
	if e.Data, err = unsealed(e.Data, entry); err != nil {
		return e, &diag.Error{Kind: diag.Invalid, Op: "job.Events", Subject: entry.About, Msg: err.Error(), Err: err}
	}
	if own := e.About(); own != "" && own != RecordName(entry.About) {
		return e, &diag.Error{Kind: diag.Invalid, Op: "job.Events", Subject: entry.About, Msg: fmt.Sprintf("its data are of %s", own)}
	}
	e.Of, e.Seen = RecordName(entry.About), entry.Seen
	return e, nil
}

// DecodeEvent reads the data of one event from JSON or YAML.
func DecodeEvent(k EventKind, payload []byte) (Event, error) {
	t := eventType(k)
	if t == nil {
		return Event{}, &diag.Error{Kind: diag.Unsupported, Op: "job.DecodeEvent", Subject: string(k),
			Msg: "this program does not know events of this kind", Hint: "use a newer release"}
	}
	v := reflect.New(t)
	if _, problems := doc.Decode(string(k), payload, v.Interface()); len(problems) > 0 {
		return Event{}, problems
	}
	return Event{Kind: k, Data: v.Elem().Interface()}, nil
}
