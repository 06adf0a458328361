package database

import (
	"context"
	"fmt"

	"fettle/internal/diag"
	"fettle/internal/store"
	"fettle/internal/store/safefile"
)

// While a job is on hold (somebody may have to show it to a court, an insurer or an authority) nothing of it is erased.

// Hold is one.
type Hold struct {
	ID, Job, By, Reason string
	Begun, Ended        string // as the ledger has times; Ended is empty while it stands
}

// holdRows are holds. What a reason says may be about somebody.
var holdRows = &trusted{table: "holds", kind: ofHold, name: "id", columns: []string{"job", "author", "reason", "begun", "ended"}, sealed: []string{"reason"}}

const holdColumns = "id, job, author, reason, begun, ended"

func (t *Tx) keepHold(h Hold) error {
	return t.keep(holdRows, h.ID, h.Job, h.By, h.Reason, h.Begun, h.Ended)
}

func scanHold(h *Hold) func(scan func(...any) error) error {
	return func(scan func(...any) error) error {
		return scan(&h.ID, &h.Job, &h.By, &h.Reason, &h.Begun, &h.Ended)
	}
}

func scanHolds(all *[]Hold) func(scan func(...any) error) error {
	return func(scan func(...any) error) error {
		var h Hold
		err := scanHold(&h)(scan)
		*all = append(*all, h)
		return err
	}
}

// Holds are those of a job, or of all with no name; the ones that stand first, then by time.
func (d *Database) Holds(ctx context.Context, id string) (out []Hold, err error) {
	err = d.Read(ctx, "select "+holdColumns+" from holds where $1 = '' or job = $1 order by case when ended = '' then 0 else 1 end, begun, id", []any{id}, scanHolds(&out))
	return out, err
}

// BeginHold puts a job on hold. It may be so several times, for several reasons; asked for by the same person for the same reason while that hold stands, it is that one.
func (d *Database) BeginHold(ctx context.Context, id, by, reason string) (Hold, error) {
	h := Hold{ID: safefile.Drawn(8), Job: id, By: by, Reason: reason}
	if by == "" || reason == "" || len(reason) > 2000 {
		return h, &diag.Error{Kind: diag.Invalid, Op: "hold", Subject: id, Msg: "a hold says who asks for it, and why, in at most 2000 bytes"}
	}
	if err := store.CheckID(id); err != nil {
		return h, err
	}
	err := d.Write(ctx, func(t *Tx) error {
		head, err := t.head(id)
		if err == nil && head.Seq == 0 {
			err = store.NoJob(id)
		}
		if err != nil {
			return err
		}
		var there Hold // it was committed, and the answer lost: here, or between here and whoever asked
		err = t.Query("select "+holdColumns+" from holds where job = $1 and author = $2 and reason = $3 and ended = '' order by begun, id limit 1", []any{id, by, reason}, scanHold(&there))
		if err != nil || there.ID != "" {
			h = there
			return err
		}
		h.Begun = t.now()
		return t.keepHold(h)
	})
	return h, err
}

func (t *Tx) hold(id string) (h Hold, err error) {
	err = t.Query("select "+holdColumns+" from holds where id = $1", []any{id}, scanHold(&h))
	return h, err
}

// EndHold ends a hold. Its row stays.
func (d *Database) EndHold(ctx context.Context, id string) (h Hold, err error) {
	err = d.Write(ctx, func(t *Tx) error {
		if h, err = t.hold(id); err != nil {
			return err
		}
		if h.ID == "" {
			return store.NoHold(id)
		}
		if h.Ended != "" {
			return nil
		}
		h.Ended = t.now()
		return t.keepHold(h)
	})
	return h, err
}

// free refuses to erase something of a job that is on hold.
func (t *Tx) free(id string) error {
	var h Hold
	err := t.Query("select id, begun from holds where job = $1 and ended = '' order by begun, id limit 1", []any{id}, func(scan func(...any) error) error { return scan(&h.ID, &h.Begun) })
	if err == nil && h.ID != "" {
		err = &diag.Error{Kind: diag.Denied, Op: "erase", Subject: id, Msg: fmt.Sprintf("it is on hold (%s, since %s); nothing of it may be erased", h.ID, h.Begun), Hint: "the list of holds says why; whoever may end the hold does so first"}
	}
	return err
}

// DropAside takes away the files that a job was written in by hand: their rows, with
// leaves that say so. The bytes go, with their rows, by a sweep once a day has gone: somebody may have retained them just now. It says whether there were any.
func (d *Database) DropAside(ctx context.Context, id string) (dropped bool, err error) {
	err = d.Write(ctx, func(t *Tx) error {
		if err := t.free(id); err != nil {
			return err
		}
		hash := ""
		if err := t.Query("select library from asides where job = $1", []any{id}, func(scan func(...any) error) error { return scan(&hash) }); err != nil || hash == "" {
			return err
		}
		dropped = true
		if _, err := t.Exec("delete from asides where job = $1", id); err != nil {
			return err
		}
		t.leaf(leaf{kind: ofAside, name: id})
		return t.dropContent(hash)
	})
	return dropped, err
}

// dropContent takes content away that nothing names any more.
func (t *Tx) dropContent(hash string) error {
	if named, err := t.isNamed(hash, "select 1 from asides where library = $1 limit 1"); err != nil || named {
		return err
	}
	_, err := t.Exec("delete from library_files where library = $1", hash)
	if err == nil {
		_, err = t.Exec("delete from library where hash = $1", hash)
	}
	if err == nil {
		t.leaf(leaf{kind: ofLibrary, name: hash})
	}
	return err
}

// isNamed says whether a row names a hash, an event does, or the result of a task is one.
func (t *Tx) isNamed(hash, rows string) (named bool, err error) {
	for _, q := range []string{rows, "select 1 from events where payload like '%' || $1 || '%' limit 1", "select 1 from tasks where result = $1 limit 1"} {
		if err == nil && !named {
			err = t.Query(q, []any{hash}, func(scan func(...any) error) error {
				var one int
				named = true
				return scan(&one)
			})
		}
	}
	return named, err
}
