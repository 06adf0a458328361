// Package database keeps what a store keeps in SQLite or PostgreSQL: one SQL text for both. Every change
// goes through one writer, which commits those that came meanwhile together and answers each author
// after that; what is read is read beside it. A leaf for each event is written into the log in the
// transaction of the event.
package database

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
)

// Settings say which database, and what goes with it.
type Settings struct {
	Address string             // a file of SQLite, made where there is none, or the postgres:// address of a database
	Backups string             // folder for what is kept before the database is changed to a newer version
	Blobs   app.Blobs          // where bytes are; the database has a row for each
	Now     func() time.Time   // the clock
	Program string             // the version of the program, for messages
	Told    func(place string) // is told where a backup was put; nil: nobody is

	vfs string // by which SQLite finds the file, in tests; empty: the system's
}

// Database is a store in a database. Several programs may use one at once.
type Database struct {
	set   Settings
	kind  kind
	reads *sql.DB

	writer
	folded foldedJobs
}

// Open opens a database, brings it to the version of this program, and checks its settings.
func Open(ctx context.Context, s Settings) (*Database, error) {
	d, err := begun(s)
	if err != nil {
		return nil, err
	}
	if err := d.start(ctx); err != nil {
		return nil, errors.Join(err, d.leave())
	}
	return d, nil
}

// begun is a database that is not served yet.
func begun(s Settings) (*Database, error) {
	k := kindOf(s.Address)
	k.vfs = s.vfs
	if err := k.prepare(); err != nil {
		return nil, err
	}
	writes, err := k.open(k.writeAddress())
	if err != nil {
		return nil, err
	}
	writes.SetMaxOpenConns(1)
	return &Database{set: s, kind: k, writer: writer{kind: k, writes: writes, queue: make(chan *request), ended: make(chan struct{}), turns: k.turns()}}, nil
}

func (d *Database) start(ctx context.Context) error {
	if err := d.migrate(ctx, migrations); err != nil {
		return err
	}
	address, err := d.kind.readAddress()
	if err != nil {
		return err
	}
	if d.reads, err = d.kind.open(address); err != nil {
		return err
	}
	d.reads.SetMaxOpenConns(d.kind.readers())
	d.reads.SetMaxIdleConns(d.kind.readers())
	if err := d.kind.checkReads(ctx, d.reads); err != nil {
		return errors.Join(err, d.reads.Close())
	}
	d.served.Add(1)
	go d.serve()
	return nil
}

// Close ends the writer, once what waits is written, and the connections.
func (d *Database) Close() error {
	d.stop()
	err := d.reads.Close() // first: on SQLite whoever closes last writes its journal into the file, and readers may not
	return errors.Join(err, d.leave())
}

// leave gives up what writes.
func (d *Database) leave() error {
	d.lose()
	err := d.writes.Close()
	if d.turns != nil {
		err = errors.Join(err, d.turns.Close())
		d.turns = nil // it may be closed twice
	}
	return err
}

// unavailable is the error for a database that does not do what it is asked.
func unavailable(what string, err error) error {
	var own *diag.Error
	if err == nil || errors.As(err, &own) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err // the author's own time
	}
	return unusable(what, err)
}

func unusable(what string, err error) error {
	return &diag.Error{Kind: diag.Unavailable, Op: "store", Subject: what, Msg: "the database cannot be used", Hint: "check it and the free space; what was to be written may be sent again with the same key", Err: err}
}

// damaged is the error for rows that contradict one another.
func damaged(what, msg string) error {
	return &diag.Error{Kind: diag.Integrity, Op: "store", Subject: what, Msg: msg, Hint: "bring the database back from a backup; do not go on with this one"}
}
