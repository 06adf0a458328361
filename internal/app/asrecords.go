package app

import (
	"context"
	"encoding/json"
	"errors"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/right"
)

// RecordShown is a record of a job.
type RecordShown struct {
	Record job.RecordName
	Seen   int64  // number of the newest event about it
	Text   string // as a person writes it, in YAML
	Data   json.RawMessage
}

// Record is a record of a job as it is.
func (s *As) Record(ctx context.Context, id string, of job.RecordName) (RecordShown, error) {
	_, c, err := s.read(ctx, id, right.SeeJob)
	if err != nil {
		return RecordShown{}, err
	}
	if err := c.hasRecord("show", of); err != nil {
		return RecordShown{}, err
	}
	data, _ := c.stored.Record(of)
	canonical, err := ledger.Canonical(doc.Encode(data))
	return RecordShown{of, c.stored.Newest(of), string(job.EncodeRecord(data)), canonical}, err
}

// read reads a job without what it names.
func (s *As) read(ctx context.Context, id string, a right.Act) (*App, *Opened, error) {
	if _, err := s.job(ctx, id, a); err != nil {
		return nil, nil, err
	}
	c, err := s.readAll(ctx, id)
	return s.reading(nil, id), c, err
}

// readAll reads a job for who was asked before whether they may.
func (s *As) readAll(ctx context.Context, id string) (*Opened, error) {
	chain, err := s.from().Load(ctx, id, 0)
	if err != nil {
		return nil, err
	}
	c := &Opened{From: id, store: s.from(), storeID: id, alone: true}
	return c, c.readStored(s.App.bodies.chains(), chain)
}

// Put writes a record that is given as a text: a new one, or one in the place of what its author has seen.
func (s *As) Put(ctx context.Context, id, key string, of job.RecordName, file, text string, seen int64) (Recorded, Head, error) {
	if _, err := s.job(ctx, id, right.SeeJob); err != nil {
		return Recorded{}, Head{}, err
	}
	e, at, err := job.DecodeRecord(of, file, []byte(text))
	if err != nil {
		return Recorded{}, Head{}, err
	}
	e.Seen = seen
	head, err := s.Change(ctx, id, Changing{Key: key, Events: []job.Event{e}})
	return Recorded{Text: "Recorded: " + string(about(e)) + "."}, head, atPlaces(err, at, about(e))
}

// atPlaces tells faults of an event at their places in the text it was read from.
func atPlaces(err error, at doc.Positions, of job.RecordName) error {
	var problems diag.Problems
	if !errors.As(err, &problems) {
		return err
	}
	for i, p := range problems {
		if field, ok := cutRecord(p.Field, of); ok && p.File == job.EventsFile {
			problems[i] = at.Problem(field, p.Msg, p.Hint)
		}
	}
	problems.Sort()
	return problems
}

func cutRecord(field string, of job.RecordName) (string, bool) {
	if len(field) < len(of) || field[:len(of)] != string(of) {
		return "", false
	}
	rest := field[len(of):]
	if rest != "" && rest[0] == '.' {
		rest = rest[1:]
	}
	return rest, true
}

// changing makes events of a job that is opened, and writes them.
func (s *As) changing(ctx context.Context, id, key string, make func(*Opened) (Recorded, error)) (Recorded, Head, error) {
	_, c, err := s.open(ctx, id, right.SeeJob)
	if err == nil {
		c, err = s.beforeChange(ctx, id, key, c)
	}
	if err != nil {
		return Recorded{}, Head{}, err
	}
	return s.write(ctx, id, key, c, make)
}

// beforeChange is a job as it was before a change of theirs, where that was made already: whoever sends it once more makes the same of it, and is
// told what they were told.
func (s *As) beforeChange(ctx context.Context, id, key string, c *Opened) (*Opened, error) {
	lines, err := s.In.Lines(ctx, id)
	i := slices.IndexFunc(lines, func(l job.Line) bool { return l.Change == key && l.By == s.who.Person })
	if err != nil || i < 1 {
		return c, err
	}
	return s.asOf(c, job.ChainOf(lines[:i]))
}

// asOf is a job as it was after the first of its events.
func (s *As) asOf(c *Opened, chain ledger.Chain) (*Opened, error) {
	then, err := s.App.bodies.chains().Read(chain)
	if err != nil {
		return nil, err
	}
	was := *c
	was.stored, was.Job = then, then.State()
	return &was, nil
}

func (s *As) write(ctx context.Context, id, key string, c *Opened, make func(*Opened) (Recorded, error)) (Recorded, Head, error) {
	r, err := make(c)
	if err != nil {
		return Recorded{}, Head{}, err
	}
	if len(r.Events) == 0 {
		return r, c.lastEvent().orNone(), nil
	}
	head, err := s.Change(ctx, id, Changing{Key: key, Events: r.Events, Files: r.Files, Wants: r.Wants, judged: r.judged})
	return r, head, err
}

// Withdraw takes a record back.
func (s *As) Withdraw(ctx context.Context, id, key string, of job.RecordName, w job.Withdrawal) (Recorded, Head, error) {
	return s.changing(ctx, id, key, func(c *Opened) (Recorded, error) {
		if err := s.judged([]job.Event{{Kind: job.RecordWithdrawn, Of: of}}, c.stored); err != nil {
			return Recorded{}, err
		}
		return s.App.Withdraw(c, of, w)
	})
}

// Erase takes names and remarks of people out of a record. It is carried out by whoever need not see the job, so nothing of it is told.
func (s *As) Erase(ctx context.Context, id, key string, of job.RecordName, e job.Erasure) (Recorded, Head, error) {
	return s.erasing(ctx, id, key, func(c *Opened) (Recorded, error) { return s.App.Erase(c, of, e) })
}

// ErasePerson takes names and remarks of a person out of all records of a job.
func (s *As) ErasePerson(ctx context.Context, id, key string, who job.Person, e job.Erasure) (Recorded, Head, error) {
	r, head, err := s.erasing(ctx, id, key, func(c *Opened) (Recorded, error) { return s.App.ErasePerson(ctx, c, who, e) })
	if err == nil && s.Keeping != nil { // nobody can say what files that were written by hand name
		_, err = s.Keeping.DropAside(ctx, id)
	}
	return r, head, err
}

func (s *As) erasing(ctx context.Context, id, key string, make func(*Opened) (Recorded, error)) (Recorded, Head, error) {
	v, err := s.job(ctx, id, right.CarryOutErasure)
	if err != nil && !slices.Equal(v.Lacks, []right.Condition{right.IfAgreed}) { // whether somebody has agreed stands in the job
		return Recorded{}, Head{}, err
	}
	c, err := s.readAll(ctx, id)
	if err != nil {
		return Recorded{}, Head{}, err
	}
	r, err := make(c)
	if err != nil {
		return Recorded{}, Head{}, s.erasureFault(err, c)
	}
	head, err := s.In.Append(ctx, id, Change{Key: key, By: s.who.Person, Events: r.Events}, func(before, _ *job.Stored) error { return s.judged(r.Events, before) })
	if err != nil {
		return Recorded{}, Head{}, clashing(ctx, s.In, id, r.Events, err)
	}
	return r, head, nil
}

// erasureFault is what somebody is told who may not see the job: whether a name stands in it only where an erasure was agreed to.
func (s *As) erasureFault(err error, c *Opened) error {
	if len(c.Job.ErasuresAgreed) > 0 {
		return err
	}
	v := s.Rights.May(s.who, right.CarryOutErasure, s.onJob(c.storeID))
	return &Refusal{v.Err(right.CarryOutErasure, "", nothing()), v.Code()}
}

// AgreeErasure records that somebody agrees to names and remarks being erased: from a record, or from all records of a person. Another
// person carries it out.
func (s *As) AgreeErasure(ctx context.Context, id, key string, of job.RecordName, who job.Person, x job.ErasureAgreed) (Recorded, Head, error) {
	return s.doing(ctx, id, key, doing{act: right.AgreeErasure}, func(c *Opened) (Recorded, error) { return s.App.AgreeErasure(ctx, c, of, who, x) })
}

// Renew makes a job work with a body and a shop that are kept, by their hashes; either may be left out.
func (s *As) Renew(ctx context.Context, id, key, bodyHash, shopHash string) (Recorded, Head, error) {
	return s.changing(ctx, id, key, func(c *Opened) (Recorded, error) {
		out := Recorded{Text: "Nothing is new: the job works with these already."}
		for _, part := range []struct {
			kind      job.EventKind
			of        job.RecordName
			hash, was string
		}{{job.BodyNamed, job.OfBody, bodyHash, c.BodyHash}, {job.ShopNamed, job.OfShop, shopHash, c.ShopHash}} {
			if part.hash == "" || part.hash == part.was {
				continue
			}
			out.Events = append(out.Events, job.Event{Kind: part.kind, Of: part.of, Seen: c.stored.Newest(part.of), Data: job.Named{SHA256: part.hash}})
			out.Text = "Renewed: the job works with body and shop as they are now."
		}
		return out, nil
	})
}

// OpenEntries is the entries that are open in a job, and the same as a table to be filled in.
func (s *As) OpenEntries(ctx context.Context, id, on string) ([]Entry, []byte, error) {
	a, c, r, err := s.assessed(ctx, id, on, right.SeeJob)
	if err != nil {
		return nil, nil, err
	}
	es := a.OpenEntries(c, r)
	return es, EncodeEntries(es), nil
}

// TakeEntries puts the entries of a table that was filled in on record.
func (s *As) TakeEntries(ctx context.Context, id, key, on, name string, table []byte) (Recorded, Head, error) {
	_, c, r, err := s.assessed(ctx, id, on, right.SeeJob)
	if err != nil {
		return Recorded{}, Head{}, err
	}
	return s.write(ctx, id, key, c, func(c *Opened) (Recorded, error) {
		return s.reading(map[string][]byte{name: table}, id).Record(c, r, name)
	})
}

// Ask is the question about a finding or a control point, ready to be sent.
func (s *As) Ask(ctx context.Context, id, on, about string) (QuestionFiles, error) {
	a, c, r, err := s.assessed(ctx, id, on, right.ReadReport)
	if err != nil {
		return QuestionFiles{}, err
	}
	return a.Ask(ctx, c, r, about)
}

// Sent records that a question was sent.
func (s *As) Sent(ctx context.Context, id, key, on, about, by string) (Recorded, Head, error) {
	a, c, r, err := s.assessed(ctx, id, on, right.AskManufacturer)
	if err != nil {
		return Recorded{}, Head{}, err
	}
	q, is := questionAbout(c, r, about)
	if !is {
		return Recorded{}, Head{}, a.nothingToAsk(c, r, about)
	}
	return s.write(ctx, id, key, c, func(c *Opened) (Recorded, error) { return a.Sent(c, r, q, by) })
}

// Answer records an answer of the manufacturer, with its document.
func (s *As) Answer(ctx context.Context, id, key, on string, g Given, document []byte) (Recorded, Head, error) {
	_, c, r, err := s.assessed(ctx, id, on, right.FileAnswer)
	if err != nil {
		return Recorded{}, Head{}, err
	}
	return s.write(ctx, id, key, c, func(c *Opened) (Recorded, error) {
		return s.reading(map[string][]byte{g.Document: document}, id).Answer(c, r, g)
	})
}

// Agreement is the record that keeps the bill of a route as agreed by somebody.
func (s *As) Agreement(ctx context.Context, id, on, route, by string) (string, error) {
	a, c, r, err := s.assessed(ctx, id, on, right.ReadReport)
	if err != nil {
		return "", err
	}
	picked, err := a.Picked(c, r, route)
	if err != nil {
		return "", err
	}
	day, err := s.today(on)
	if err != nil {
		return "", err
	}
	return a.Agreement(c, r, picked, by, day)
}
