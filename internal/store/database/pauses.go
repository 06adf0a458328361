package database

import (
	"context"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// Pause keeps sweeps of all programs from removing bytes until it is ended. Whoever made it is taken for lost when it was not
// prolonged in time; then a sweep ends it. So a sweep removes something only where no pause stands, in the
// transaction that says so: whoever finds a pause standing still at the end of their work knows that nothing
// was removed since it began, whatever the clocks of the machines say.
type Pause struct {
	ID, By, Begun, Ends string // moments as the ledger has times
}

var pauseRows = &trusted{table: "pauses", kind: ofPause, name: "id", columns: []string{"author", "begun", "ends"}}

// BeginPause begins one, which is lost unless it is prolonged within a time. By says what for.
func (d *Database) BeginPause(ctx context.Context, by string, within time.Duration) (Pause, error) {
	p := Pause{ID: safefile.Drawn(8), By: by}
	err := d.Write(ctx, func(t *Tx) error {
		if there, err := t.pauses(p.ID); err != nil || len(there) > 0 { // there: it was committed, and the answer lost
			return err
		}
		p.Begun = t.now()
		return t.keepPause(&p, within)
	})
	return p, err
}

func (t *Tx) keepPause(p *Pause, within time.Duration) error {
	p.Ends = t.db.set.Now().UTC().Add(within).Format(time.RFC3339)
	return t.keep(pauseRows, p.ID, p.By, p.Begun, p.Ends)
}

// ProlongPause has a pause stand for a time from now; where it was ended it is a diag.Conflict.
func (d *Database) ProlongPause(ctx context.Context, id string, within time.Duration) error {
	return d.Write(ctx, func(t *Tx) error {
		all, err := t.pauses(id)
		if err == nil && len(all) == 0 {
			err = noPause(id)
		}
		if err != nil {
			return err
		}
		return t.keepPause(&all[0], within)
	})
}

// EndPause ends a pause; it may have ended.
func (d *Database) EndPause(ctx context.Context, id string) error {
	return d.Write(ctx, func(t *Tx) error {
		_, err := t.drop(pauseRows, id)
		return err
	})
}

// Stands says whether a pause was not ended; where it was it is a diag.Conflict.
func (d *Database) Stands(ctx context.Context, id string) error {
	there, err := d.has(ctx, "select 1 from pauses where id = $1", id)
	if err == nil && !there {
		err = noPause(id)
	}
	return err
}

func noPause(id string) error {
	return &diag.Error{Kind: diag.Conflict, Op: "pause", Subject: id, Msg: "sweeps have gone on since: it was not prolonged in time", Hint: "begin again; see whether the computer slept, or its clock is wrong"}
}

// Pauses are those that stand, the oldest first.
func (d *Database) Pauses(ctx context.Context) (out []Pause, err error) {
	err = d.Read(ctx, "select id, author, begun, ends from pauses order by begun, id", nil, scanPauses(&out))
	return out, err
}

func scanPauses(all *[]Pause) func(scan func(...any) error) error {
	return func(scan func(...any) error) error {
		var p Pause
		err := scan(&p.ID, &p.By, &p.Begun, &p.Ends)
		*all = append(*all, p)
		return err
	}
}

// pauses are those of an identity; all for none.
func (t *Tx) pauses(id string) (out []Pause, err error) {
	err = t.Query("select id, author, begun, ends from pauses where $1 = '' or id = $1 order by id", []any{id}, scanPauses(&out))
	return out, err
}

// paused says whether nothing may be removed. Pauses that were not prolonged in time it ends.
func (t *Tx) paused() (bool, error) {
	all, err := t.pauses("")
	stands := false
	for _, p := range all {
		if err != nil {
			return true, err
		}
		if ends, bad := time.Parse(time.RFC3339, p.Ends); bad != nil || !t.db.set.Now().After(ends) {
			stands = true // one that cannot be read: nobody knows how long
			continue
		}
		_, err = t.drop(pauseRows, p.ID)
	}
	return stands || err != nil, err
}
