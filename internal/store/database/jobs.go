package database

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store"
)

// Create begins a job.
func (d *Database) Create(ctx context.Context, id string, c app.Change) (app.Head, error) {
	return d.change(ctx, id, true, c, nil)
}

// Append adds a change to a job.
func (d *Database) Append(ctx context.Context, id string, c app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	return d.change(ctx, id, false, c, may)
}

func (d *Database) change(ctx context.Context, id string, opens bool, c app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	if err := store.CheckID(id); err != nil {
		return app.Head{}, err
	}
	var head app.Head
	err := d.Write(ctx, func(t *Tx) (err error) {
		head, err = d.changeIn(ctx, t, id, opens, c, may)
		return err
	})
	if err != nil {
		return app.Head{}, err
	}
	return head, nil
}

// changeIn makes a change in a transaction.
func (d *Database) changeIn(ctx context.Context, t *Tx, id string, opens bool, c app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	var was noted
	made, err := store.MakeChange(ctx, id, opens, c, may, d.set.Now(), store.Past{
		Made: func(key string) (_ ledger.Chain, err error) {
			if was, err = t.noted(id, key); err != nil || was.events == 0 {
				return nil, err
			}
			return t.made(id, was)
		},
		Read: func() (*job.Stored, error) { return t.read(id, was.head) },
	})
	if err != nil || len(made.Fresh) == 0 {
		return made.Head, err
	}
	if err := t.append(id, opens, c.Key, made); err != nil {
		return made.Head, err
	}
	return made.Head, t.wantAll(c.Wants)
}

// noted is the newest event of a job, and which events were written with a key; zeros where there are none.
type noted struct {
	head          app.Head
	first, events int64
}

func (t *Tx) noted(id, key string) (was noted, err error) {
	err = t.Query("select j.seq, j.hash, coalesce(r.first, 0), coalesce(r.events, 0) from jobs j left join requests r on r.job = j.id and r.key = $2 where j.id = $1", []any{id, key},
		func(scan func(...any) error) error {
			return scan(&was.head.Seq, &was.head.Hash, &was.first, &was.events)
		})
	return was, err
}

// head is the newest event of a job; the zero one where there is no job.
func (t *Tx) head(id string) (app.Head, error) {
	was, err := t.noted(id, "") // which is the key of nothing
	return was.head, err
}

// made is the events that were written with a key.
func (t *Tx) made(id string, was noted) (ledger.Chain, error) {
	c, err := t.events(id, was.first-1, was.first+was.events-1)
	if err == nil && int64(len(c)) != was.events {
		err = damaged(id, "events of a change are not there")
	}
	return c, err
}

const eventColumns = "seq, at, author, what, about, seen, payload, prev, hash, beside"

// events is those of a job after one number, to another.
func (t *Tx) events(id string, after, to int64) (ledger.Chain, error) {
	var c ledger.Chain
	err := t.Query("select "+eventColumns+" from events where job = $1 and seq > $2 and seq <= $3 order by seq", []any{id, after, to}, scanInto(&c))
	return c, err
}

// scanInto puts rows of events behind a chain.
func scanInto(c *ledger.Chain) func(scan func(...any) error) error {
	return func(scan func(...any) error) error {
		var e ledger.Entry
		var beside string
		if err := scan(&e.Seq, &e.At, &e.By, &e.What, &e.About, &e.Seen, &e.Payload, &e.Prev, &e.Hash, &beside); err != nil {
			return err
		}
		if beside != "" {
			err := json.Unmarshal([]byte(beside), &e.Beside)
			if again, bad := besideText(e); err != nil || bad != nil || again != beside {
				return damaged(fmt.Sprintf("event %d", e.Seq), "the texts beside it cannot be read")
			}
		}
		*c = append(*c, e)
		return nil
	}
}

// read is a job as it stands at its newest event: what is kept of it in memory, with the events that came
// since, which are verified.
func (t *Tx) read(id string, h app.Head) (*job.Stored, error) {
	if h.Seq == 0 {
		return nil, nil
	}
	was := t.kept(id)
	if was.of != nil {
		if seq, hash := was.of.Head(); seq == h.Seq && hash == h.Hash {
			return was.of, nil
		}
		if now, err := t.then(id, was, h); err == nil {
			return now, nil
		} // what is kept is of another chain than the one in the database: that one is read whole
	}
	return t.then(id, folded{of: &job.Stored{}}, h)
}

// then adds the events that came since up.
func (t *Tx) then(id string, was folded, to app.Head) (*job.Stored, error) {
	seq, _ := was.of.Head()
	c, err := t.events(id, seq, to.Seq)
	if err != nil {
		return nil, err
	}
	now, err := was.of.Then(c)
	if err != nil {
		return nil, err
	}
	if seq, hash := now.Head(); seq != to.Seq || hash != to.Hash {
		return nil, damaged(id, "its newest event is not the one that is noted for it")
	}
	t.folds[id] = was.with(now, c)
	return now, nil
}

// append writes what a change makes of a job.
func (t *Tx) append(id string, opens bool, key string, made store.Changed) error {
	if len(made.Erased) > 0 {
		if err := t.free(id); err != nil {
			return err
		}
	}
	for _, of := range made.Erased {
		if _, err := t.Exec("update events set beside = '' where job = $1 and about = $2", id, of); err != nil {
			return err
		}
	}
	if err := t.addChange(id, opens, key, made.Fresh); err != nil {
		return err
	}
	was := t.kept(id)
	now := was.with(made.After, made.Fresh)
	var err error
	now.terms, err = t.index(id, made.After, was.terms, made.Fresh)
	t.folds[id] = now
	return err
}

// addChange writes the events of one change, which opens its job or not.
func (t *Tx) addChange(id string, opens bool, key string, c ledger.Chain) error {
	if err := t.newHead(id, opens, c[len(c)-1]); err != nil {
		return err
	}
	for _, e := range c {
		if err := t.addEvent(id, key, e); err != nil {
			return err
		}
	}
	if err := t.derive(id, c); err != nil {
		return err
	}
	_, err := t.Exec("insert into requests (job, key, first, events) values ($1, $2, $3, $4)", id, key, c[0].Seq, len(c))
	return err
}

func (t *Tx) newHead(id string, opens bool, last ledger.Entry) error {
	text := "update jobs set seq = $2, hash = $3, changed = $4 where id = $1"
	if opens {
		if err := t.unused(id); err != nil {
			return err
		}
		text = "insert into jobs (id, seq, hash, changed, vehicle, title, plate, waits, whom, shown, salt, sum) values ($1, $2, $3, $4, '', '', '', '', '', 0, '', '')"
	}
	n, err := t.Exec(text, id, last.Seq, last.Hash, last.At)
	if err == nil && n != 1 {
		err = damaged(id, "its row is not there")
	}
	return err
}

// besideText is the texts beside an event as they are kept; empty for none.
func besideText(e ledger.Entry) (string, error) {
	if len(e.Beside) == 0 {
		return "", nil
	}
	text, err := json.Marshal(e.Beside)
	return string(text), err
}

func (t *Tx) addEvent(id, key string, e ledger.Entry) error {
	beside, err := besideText(e)
	if err != nil {
		return err
	}
	_, err = t.Exec("insert into events (job, "+eventColumns+") values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)",
		id, e.Seq, e.At, e.By, e.What, e.About, e.Seen, e.Payload, e.Prev, e.Hash, beside)
	t.leaf(leaf{kind: ofEvent, name: id, seq: e.Seq, hash: e.Hash, request: sumOf(key)})
	return err
}

// Load is the events of a job after one of them.
func (d *Database) Load(ctx context.Context, id string, n int64) (ledger.Chain, error) {
	if err := store.CheckID(id); err != nil {
		return nil, err
	}
	var c ledger.Chain
	if err := d.Read(ctx, "select "+eventColumns+" from events where job = $1 and seq > $2 order by seq", []any{id, n}, scanInto(&c)); err != nil {
		return nil, err
	}
	if len(c) > 0 && n >= 0 {
		return c, nil
	}
	var last int64
	err := d.Read(ctx, "select seq from jobs where id = $1", []any{id}, func(scan func(...any) error) error { return scan(&last) })
	switch {
	case err != nil:
		return nil, err
	case last == 0:
		return nil, store.NoJob(id)
	case n < 0 || n > last:
		return nil, &diag.Error{Kind: diag.NotFound, Op: "store", Subject: id, Msg: fmt.Sprintf("the job has no event %d", n)}
	}
	return c, nil
}

// List is jobs in the order of their names.
func (d *Database) List(ctx context.Context, after string, most int) ([]app.JobLine, error) {
	var out []app.JobLine
	err := d.Read(ctx, "select id, seq, hash from jobs where id > $1 order by id limit $2", []any{after, most}, func(scan func(...any) error) error {
		var l app.JobLine
		err := scan(&l.ID, &l.Head.Seq, &l.Head.Hash)
		out = append(out, l)
		return err
	})
	return slices.Clip(out), err
}
