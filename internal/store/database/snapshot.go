package database

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"io"
	"net/url"
	"os"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"fettle/internal/ledger"
)

// Contents is what a database has beside its rows at one moment.
type Contents struct {
	Log     ledger.Checkpoint // its size and root; the origin is for whoever signs it
	Blobs   map[string]int64  // how many bytes rows name, by their hash
	Library []string          // hashes of bodies, shops and files set aside
}

// IsPostgres says that a copy of the database is a dump, and no database itself.
func (d *Database) IsPostgres() bool { return d.kind.postgres }

// Name is what the database is called in messages: never with its password.
func (d *Database) Name() string { return d.kind.name() }

// Contents is what the database has at this moment.
func (d *Database) Contents(ctx context.Context) (c Contents, err error) {
	err = d.atOneMoment(ctx, func(tx asker) (err error) {
		c, err = contents(ctx, tx)
		return err
	})
	return c, err
}

func (d *Database) atOneMoment(ctx context.Context, do func(asker) error) (err error) {
	tx, err := d.reads.BeginTx(ctx, &sql.TxOptions{Isolation: d.kind.snapshot(), ReadOnly: d.kind.postgres})
	if err != nil {
		return unavailable(d.kind.name(), err)
	}
	defer func() { err = unavailable(d.kind.name(), errors.Join(err, tx.Rollback())) }()
	return do(tx)
}

// CopyTo copies the database as it is at one moment into a file that is not there yet, while others go on, verifies the copy and
// says what it has: of SQLite a database, of PostgreSQL a dump. It is safe when it returns, its name is not.
func (d *Database) CopyTo(ctx context.Context, file string) (c Contents, err error) {
	made, err := os.OpenFile(file, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return c, err
	}
	defer func() { err = errors.Join(err, made.Close()) }()
	if !d.kind.postgres {
		c, err = d.copySQLite(ctx, file)
	} else if err = d.atOneMoment(ctx, func(tx asker) (err error) {
		if c, err = contents(ctx, tx); err != nil {
			return err
		}
		return d.dump(ctx, tx, len(migrations), made)
	}); err == nil {
		if _, err = made.Seek(0, io.SeekStart); err == nil {
			err = CheckDump(bufio.NewReader(made))
		}
	}
	return c, errors.Join(err, made.Sync())
}

func (d *Database) copySQLite(ctx context.Context, file string) (c Contents, err error) {
	from, err := d.kind.open(d.kind.writeAddress())
	if err != nil {
		return c, err
	}
	_, err = from.ExecContext(ctx, "vacuum into $1", file)
	if err = errors.Join(ofDriver(err), from.Close()); err == nil {
		err = checkFile(ctx, file)
	}
	if err != nil {
		return c, unavailable(d.kind.name(), err)
	}
	copied, err := sql.Open("sqlite", fileAddress(file, url.Values{"mode": {"ro"}, "immutable": {"1"}, "_pragma": {"trusted_schema(OFF)", "cell_size_check(ON)"}}))
	if err != nil {
		return c, err
	}
	defer func() { err = errors.Join(err, copied.Close()) }()
	return contents(ctx, copied)
}

func contents(ctx context.Context, from asker) (c Contents, err error) {
	ask := func(query string, each func(scan func(...any) error) error, args ...any) {
		if err == nil {
			rows, asked := from.QueryContext(ctx, query, args...)
			err = eachRow(rows, asked, each)
		}
	}
	c.Blobs = map[string]int64{}
	ask("select hash, size from blobs", func(scan func(...any) error) error {
		var hash string
		var size int64
		err := scan(&hash, &size)
		c.Blobs[hash] = size
		return err
	})
	ask("select hash from library order by hash", func(scan func(...any) error) error {
		var hash string
		err := scan(&hash)
		c.Library = append(c.Library, hash)
		return err
	})
	ask("select coalesce(max(n) + 1, 0) from leaves", func(scan func(...any) error) error { return scan(&c.Log.Size) })
	if err != nil {
		return c, err
	}
	root, err := tlog.TreeHash(c.Log.Size, tlog.HashReaderFunc(func(at []int64) (out []tlog.Hash, _ error) {
		for _, p := range at {
			var b []byte
			ask("select hash from nodes where at = $1", func(scan func(...any) error) error { return scan(&b) }, p)
			h, bad := nodeOf(b)
			if err = errors.Join(err, bad); err != nil {
				return nil, err
			}
			out = append(out, h)
		}
		return out, nil
	}))
	c.Log.Root = ledger.Hash(root)
	return c, err
}

// CheckpointAt is the log as it was when it had so many leaves.
func (d *Database) CheckpointAt(ctx context.Context, origin string, size int64) (ledger.Checkpoint, error) {
	root, err := tlog.TreeHash(size, d.nodes(ctx))
	return ledger.Checkpoint{Origin: origin, Size: size, Root: ledger.Hash(root)}, err
}

// HasBlob says whether there is a row for bytes.
func (d *Database) HasBlob(ctx context.Context, hash string) (bool, error) {
	return d.has(ctx, "select 1 from blobs where hash = $1", hash)
}

// HasContent says whether there is a row for a body, a shop or files set aside.
func (d *Database) HasContent(ctx context.Context, hash string) (bool, error) {
	return d.has(ctx, "select 1 from library where hash = $1", hash)
}

// Sound asks the database itself whether its file is damaged: all of it with thoroughly, else what is found
// quickly. PostgreSQL is asked for nothing: its checksums are looked at when pages are read.
func (d *Database) Sound(ctx context.Context, thoroughly bool) error {
	if d.kind.postgres {
		return nil
	}
	ask := "pragma quick_check(5)"
	if thoroughly {
		ask = "pragma integrity_check(5)"
	}
	said, err := firsts(ctx, d.reads, ask)
	if err == nil && (len(said) != 1 || said[0] != "ok") {
		err = damaged(d.kind.name(), "the file is not sound: "+strings.Join(said, ", "))
	}
	if err == nil {
		said, err = firsts(ctx, d.reads, "pragma foreign_key_check")
	}
	if err == nil && len(said) > 0 {
		err = damaged(d.kind.name(), "rows refer to rows that are not there, in "+strings.Join(said[:min(len(said), 5)], ", "))
	}
	return unavailable(d.kind.name(), err)
}

// Clock is the time of the server, and the newest time of an event; empty where there is none.
func (d *Database) Clock(ctx context.Context) (server, newest string, err error) {
	if d.kind.postgres {
		err = d.Read(ctx, "select to_char(now() at time zone 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS\"Z\"')", nil, func(scan func(...any) error) error { return scan(&server) })
	}
	if err == nil {
		err = d.Read(ctx, "select coalesce(max(changed), '') from jobs", nil, func(scan func(...any) error) error { return scan(&newest) })
	}
	return server, newest, err
}
