package database

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// Backup makes a copy of the database in the folder for backups while others go on, verifies it, and says
// where it is: of SQLite a database, of PostgreSQL a dump. The bytes that the database has rows for
// are not in it.
func (d *Database) Backup(ctx context.Context) (place string, err error) {
	if !d.kind.postgres {
		return d.copyFile(ctx, "backup")
	}
	return d.dumpFile("backup", func(w io.Writer) error { return d.Dump(ctx, w) })
}

// keepBefore keeps what is there before the tables are changed, and says where. The transaction keeps
// all others from writing meanwhile.
func (t *Tx) keepBefore(have []version) (place string, err error) {
	if len(have) == 0 {
		return "", nil // nothing is there yet
	}
	name := fmt.Sprintf("version-%d", len(have))
	if t.db.kind.postgres {
		place, err = t.db.dumpFile(name, func(w io.Writer) error { return t.db.dump(t.ctx, t.db.conn, len(have), w) })
	} else {
		place, err = t.db.copyFile(t.ctx, name)
	}
	if err != nil {
		return "", &diag.Error{Kind: diag.Unavailable, Op: "store", Subject: t.db.kind.name(), Msg: "what is there could not be kept before its tables are changed; nothing was changed", Hint: "see to the folder for backups and the free space", Err: err}
	}
	if t.db.set.Told != nil {
		t.db.set.Told(place)
	}
	return place, nil
}

// keepFile makes a file in the folder for backups: it gets its name once it is whole, verified and safe.
func (d *Database) keepFile(what, ending string, fill func(part string) error) (string, error) {
	if d.set.Backups == "" {
		return "", errors.New("there is no folder for backups")
	}
	if err := safefile.MakeDirs(d.set.Backups, 0o700); err != nil {
		return "", err
	}
	root, err := safefile.Open(d.set.Backups)
	if err != nil {
		return "", err
	}
	defer root.Close() // its names are safe before
	name := fmt.Sprintf("%s-%s-%s%s", what, d.set.Now().UTC().Format("20060102T150405Z"), safefile.Drawn(4), ending)
	part := filepath.Join(d.set.Backups, name+".part")
	file, err := os.OpenFile(part, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err == nil {
		err = file.Close()
	}
	if err == nil {
		err = fill(part)
	}
	if err == nil {
		err = synced(part)
	}
	if err == nil {
		err = root.Rename(name+".part", name)
	}
	if err == nil {
		err = root.SyncDir(".")
	}
	if err != nil {
		return "", errors.Join(err, os.RemoveAll(part))
	}
	return filepath.Join(d.set.Backups, name), nil
}

func synced(name string) error {
	f, err := os.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// copyFile copies a file of SQLite.
func (d *Database) copyFile(ctx context.Context, what string) (string, error) {
	return d.keepFile(what, ".db", func(part string) (err error) {
		db, err := d.kind.open(d.kind.writeAddress())
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, db.Close()) }()
		if _, err := db.ExecContext(ctx, "vacuum into $1", part); err != nil {
			return err
		}
		return checkFile(ctx, part)
	})
}

// checkFile looks whether a file that nobody writes is a sound database with versions.
func checkFile(ctx context.Context, name string) (err error) {
	q := url.Values{"mode": {"ro"}, "immutable": {"1"}, "_pragma": {"trusted_schema(OFF)", "cell_size_check(ON)"}}
	db, err := sql.Open("sqlite", fileAddress(name, q))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	for _, c := range []struct {
		query string
		want  []string
	}{{"pragma integrity_check", []string{"ok"}}, {"pragma foreign_key_check", nil}, {"select 'some' where exists (select 1 from versions)", []string{"some"}}} {
		got, err := firsts(ctx, db, c.query)
		if err != nil {
			return err
		}
		if !slices.Equal(got, c.want) {
			return damaged(name, "the copy is not sound: "+strings.Join(got, ", "))
		}
	}
	return nil
}

// firsts is the first column of all rows.
func firsts(ctx context.Context, db *sql.DB, query string) ([]string, error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close() // read to the end, or an error is told already
	cols, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	var out []string
	for rows.Next() {
		cells := make([]any, len(cols))
		for i := range cells {
			cells[i] = new(any)
		}
		if err := rows.Scan(cells...); err != nil {
			return nil, err
		}
		out = append(out, fmt.Sprint(*cells[0].(*any)))
	}
	return out, rows.Err()
}

// dumpFile writes a dump, and reads it back.
func (d *Database) dumpFile(what string, dump func(io.Writer) error) (string, error) {
	return d.keepFile(what, ".dump", func(part string) (err error) {
		f, err := os.OpenFile(part, os.O_RDWR, 0)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, f.Close()) }()
		if err := dump(f); err != nil {
			return err
		}
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return err
		}
		return CheckDump(f)
	})
}
