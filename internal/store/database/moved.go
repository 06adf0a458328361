package database

import (
	"context"
	"slices"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
)

// Ready says whether the database answers.
func (d *Database) Ready(ctx context.Context) error {
	var n int
	return unavailable(d.kind.name(), d.reads.QueryRowContext(ctx, "select count(*) from versions").Scan(&n))
}

// Move is a leaf of the log, as those hear of it who wait for what is new.
type Move struct {
	N    int64  // of the leaf: they have one order, for all programs
	Job  string // that an event was added to; empty: the leaf is about something else
	Seq  int64  // of the event
	Shop string // that the job belongs to now, as jobs.owner has it
}

// Moved is what was written behind a leaf, oldest first, so many at most.
func (d *Database) Moved(ctx context.Context, after int64, most int) (out []Move, err error) {
	rows, err := d.reads.QueryContext(ctx, "select l.n, coalesce(j.id, ''), l.seq, coalesce(j.owner, '') from leaves l left join jobs j on l.kind = $1 and j.id = l.name where l.n > $2 order by l.n limit $3", string(ofEvent), after, most)
	if err != nil {
		return nil, unavailable(d.kind.name(), err)
	}
	defer func() {
		if bad := rows.Close(); err == nil {
			err = unavailable(d.kind.name(), bad)
		}
	}()
	for rows.Next() {
		var m Move
		if err := rows.Scan(&m.N, &m.Job, &m.Seq, &m.Shop); err != nil {
			return nil, unavailable(d.kind.name(), err)
		}
		out = append(out, m)
	}
	return out, unavailable(d.kind.name(), rows.Err())
}

// Newest is the newest leaf; -1 where there is none.
func (d *Database) Newest(ctx context.Context) (int64, error) {
	var n int64
	err := d.reads.QueryRowContext(ctx, "select coalesce(max(n), -1) from leaves").Scan(&n)
	return n, unavailable(d.kind.name(), err)
}

// woken is who is told that something was written. Nothing says what: whoever is told reads it.
type woken struct {
	mu  sync.Mutex
	all []chan struct{}
}

func (w *woken) tell() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.all {
		select {
		case c <- struct{}{}:
		default: // it was told, and has not looked yet
		}
	}
}

// Woken tells, until its context is done, that this program has written something, and on PostgreSQL any other. Of others on a file of SQLite,
// and while the way to PostgreSQL is broken, nobody tells: whoever waits looks now and then.
func (d *Database) Woken(ctx context.Context) <-chan struct{} {
	c := make(chan struct{}, 1)
	d.woken.mu.Lock()
	d.woken.all = append(d.woken.all, c)
	d.woken.mu.Unlock()
	context.AfterFunc(ctx, func() {
		d.woken.mu.Lock()
		defer d.woken.mu.Unlock()
		d.woken.all = slices.DeleteFunc(d.woken.all, func(x chan struct{}) bool { return x == c })
	})
	if d.kind.postgres {
		go d.listen(ctx)
	}
	return c
}

// Others are told by NOTIFY of PostgreSQL, with the commit and not without it.
const (
	notifyWords = "notify fettle_moved"
	listenWords = "listen fettle_moved"
	listenAgain = time.Second
)

func (t *Tx) tellOthers() error {
	if !t.db.kind.postgres {
		return nil
	}
	return t.run(notifyWords)
}

// listen hears of other programs, on a connection of its own, and on a new one where that is lost.
func (d *Database) listen(ctx context.Context) {
	for ctx.Err() == nil {
		d.heard(ctx)
		timer := time.NewTimer(listenAgain)
		select {
		case <-ctx.Done():
		case <-timer.C:
		}
		timer.Stop()
	}
}

// heard listens until the connection is lost. What came before it began nobody has told of.
func (d *Database) heard(ctx context.Context) {
	c, err := pgx.Connect(ctx, d.kind.address)
	if err != nil {
		return // whoever waits looks now and then, and tells of it
	}
	defer func() { _ = c.Close(context.WithoutCancel(ctx)) }() // or it is lost
	if _, err := c.Exec(ctx, listenWords); err != nil {
		return
	}
	for d.woken.tell(); ; d.woken.tell() {
		if _, err := c.WaitForNotification(ctx); err != nil {
			return
		}
	}
}
