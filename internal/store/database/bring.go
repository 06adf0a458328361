package database

import (
	"context"
	"errors"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store"
)

// Head is the newest event of a job.
func (d *Database) Head(ctx context.Context, id string) (app.Head, error) {
	if err := store.CheckID(id); err != nil {
		return app.Head{}, err
	}
	var h app.Head
	err := d.Read(ctx, "select seq, hash from jobs where id = $1", []any{id}, func(scan func(...any) error) error { return scan(&h.Seq, &h.Hash) })
	if err == nil && h.Seq == 0 {
		err = store.NoJob(id)
	}
	return h, err
}

// Lines is the events of a job with the keys of their changes, both as they are at one moment.
func (d *Database) Lines(ctx context.Context, id string) ([]job.Line, error) {
	c, err := d.Load(ctx, id, 0)
	if err != nil {
		return nil, err
	}
	var keys []store.KeyOf
	err = d.Read(ctx, "select key, first, events from requests where job = $1 and first <= $2 order by first", []any{id, len(c)}, scanKeys(&keys))
	if err != nil {
		return nil, err
	}
	return store.LinesOf(c, keys)
}

func scanKeys(keys *[]store.KeyOf) func(scan func(...any) error) error {
	return func(scan func(...any) error) error {
		var k store.KeyOf
		err := scan(&k.Key, &k.First, &k.Events)
		*keys = append(*keys, k)
		return err
	}
}

// lines is those of a job in a transaction; none where there is no job.
func (t *Tx) lines(id string) ([]job.Line, error) {
	h, err := t.head(id)
	if err != nil || h.Seq == 0 {
		return nil, err
	}
	c, err := t.events(id, 0, h.Seq)
	if err != nil {
		return nil, err
	}
	var keys []store.KeyOf
	if err := t.Query("select key, first, events from requests where job = $1 order by first", []any{id}, scanKeys(&keys)); err != nil {
		return nil, err
	}
	return store.LinesOf(c, keys)
}

// Bring begins a job with lines of another store.
func (d *Database) Bring(ctx context.Context, id string, lines []job.Line) (app.Head, error) {
	if err := errors.Join(store.CheckID(id), ctx.Err()); err != nil {
		return app.Head{}, err
	}
	var made store.Brought
	err := d.Write(ctx, func(t *Tx) error {
		there, err := t.lines(id)
		if err != nil {
			return err
		}
		if made, err = store.CheckBrought(id, there, lines); err != nil || made.There {
			return err
		}
		return t.bring(id, lines, made.After)
	})
	return made.Head, err
}

// bring writes the changes that lines are of, one behind the other.
func (t *Tx) bring(id string, lines []job.Line, after *job.Stored) error {
	for first := 0; first < len(lines); {
		next := first + lines[first].Of
		var c ledger.Chain = job.ChainOf(lines[first:next])
		if err := t.addChange(id, first == 0, lines[first].Change, c); err != nil {
			return err
		}
		first = next
	}
	now := folded{of: &job.Stored{}}.with(after, job.ChainOf(lines))
	var err error
	now.terms, err = t.index(id, after, nil, nil)
	t.folds[id] = now
	return err
}

// SetAside keeps files beside a job: in the library, with a row that says whose they are.
func (d *Database) SetAside(ctx context.Context, id string, files map[string][]byte) error {
	there, err := d.Aside(ctx, id)
	if err == nil {
		err = store.CheckAside(id, there, files)
	}
	if err != nil || len(there) > 0 {
		return err
	}
	hash, err := d.Keep(ctx, files)
	if err != nil {
		return err
	}
	return d.Write(ctx, func(t *Tx) error {
		was := ""
		err := t.Query("select library from asides where job = $1", []any{id}, func(scan func(...any) error) error { return scan(&was) })
		if err != nil || was == hash {
			return err
		}
		if was != "" {
			return store.CheckAside(id, map[string][]byte{"": nil}, files) // which says that there are others
		}
		if err := t.unused(id); err != nil {
			return err
		}
		if _, err := t.Exec("insert into asides (job, library) values ($1, $2)", id, hash); err != nil {
			return err
		}
		t.leaf(leaf{kind: ofAside, name: id, hash: hash})
		return nil
	})
}

// Aside is what was set aside for a job.
func (d *Database) Aside(ctx context.Context, id string) (map[string][]byte, error) {
	if err := errors.Join(store.CheckID(id), ctx.Err()); err != nil {
		return nil, err
	}
	hash := ""
	err := d.Read(ctx, "select library from asides where job = $1", []any{id}, func(scan func(...any) error) error { return scan(&hash) })
	if err != nil || hash == "" {
		return map[string][]byte{}, err
	}
	return d.Files(ctx, hash)
}
