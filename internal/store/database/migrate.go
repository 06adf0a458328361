package database

import (
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/diag"
)

//go:embed migrations/*.sql
var embedded embed.FS

// migration takes the tables from one version to the next.
type migration struct {
	version int64
	name    string
	text    string
	then    func(*Tx) error // what its text cannot do; nil: nothing
}

// sum tells the text of a migration from another of the same version.
func (m migration) sum() string {
	sum := sha256.Sum256([]byte(m.text))
	return hex.EncodeToString(sum[:])
}

// migrations are those that this program knows.
var migrations = mustRead(embedded)

func mustRead(from fs.FS) []migration {
	out, err := readMigrations(from)
	if err != nil {
		panic(err) // they are part of the program
	}
	for i := range out {
		out[i].then = steps[out[i].name]
	}
	return out
}

// readMigrations reads files NNNN_name.sql: 1, 2, 3 and so on.
func readMigrations(from fs.FS) ([]migration, error) {
	files, err := fs.Glob(from, "migrations/*.sql")
	if err != nil {
		return nil, err
	}
	var out []migration
	for i, file := range files {
		number, name, ok := strings.Cut(strings.TrimSuffix(path.Base(file), ".sql"), "_")
		n, err := strconv.ParseInt(number, 10, 64)
		if err != nil || !ok || n != int64(i+1) {
			return nil, fmt.Errorf("%s: the files of migrations are numbered 0001, 0002 and so on", file)
		}
		text, err := fs.ReadFile(from, file)
		if err != nil {
			return nil, err
		}
		out = append(out, migration{version: n, name: name, text: string(text)})
	}
	return out, nil
}

// versions is the table of what was done; the newest row is the version of the tables.
const versions = `create table if not exists versions (
	version bigint not null primary key,
	name text not null,
	sum text not null,
	program text not null,
	at text not null,
	backup text not null,
	seal text not null
)`

// version is a row of it.
type version struct {
	migration
	of, program, backup string
}

// migrate brings the tables to the newest version that is given: what was there is kept first, and each
// step is done whole or not at all, with its row.
func (d *Database) migrate(ctx context.Context, to []migration) error {
	defer d.turn()()
	t, err := d.beginTx(ctx)
	if err != nil {
		return unavailable(d.kind.name(), err)
	}
	err = t.migrate(to)
	if err == nil {
		err = t.run("commit")
	}
	if err != nil {
		d.rollback(ctx)
	}
	return unavailable(d.kind.name(), err)
}

func (t *Tx) migrate(to []migration) error {
	if err := t.own(); err != nil {
		return err
	}
	have, err := t.versions()
	if err != nil {
		return err
	}
	if err := t.db.knows(have, to); err != nil {
		return err
	}
	if len(have) == len(to) {
		return nil
	}
	backup, err := t.keepBefore(have)
	if err != nil {
		return err
	}
	for _, m := range to[len(have):] {
		if err := t.run(t.db.kind.text(m.text)); err != nil {
			kind := diag.Internal
			if t.db.kind.again(err) { // the server went away meanwhile
				kind = diag.Unavailable
			}
			return &diag.Error{Kind: kind, Op: "store", Subject: t.db.kind.name(), Msg: fmt.Sprintf("the tables could not be brought to version %d; they are as they were", m.version), Err: err}
		}
		if m.then != nil {
			if err := m.then(t); err != nil {
				return err
			}
		}
		row := []any{m.version, m.name, m.sum(), t.db.set.Program, t.now(), backup}
		row = append(row, rowSum(append([]any{"version"}, row...)...))
		if _, err := t.Exec("insert into versions (version, name, sum, program, at, backup, seal) values ($1, $2, $3, $4, $5, $6, $7)", row...); err != nil {
			return err
		}
	}
	return t.writeLog()
}

// steps are what migrations do beside their text, by name.
var steps = map[string]func(*Tx) error{"trusted": (*Tx).trustOldRows, "shops": (*Tx).deriveAll}

// trustOldRows gives tasks, and what lists show of jobs, leaves for what they are. A row that is not the one that was
// written gets none, so that it is found.
func (t *Tx) trustOldRows() error {
	var tasks []taskRow
	err := t.Query("select "+taskColumns+", salt, sum from tasks order by id", nil, func(scan func(...any) error) error {
		r, err := scanTask(scan)
		if diag.KindOf(err) == diag.Integrity {
			return nil
		}
		tasks = append(tasks, r)
		return err
	})
	for _, r := range tasks {
		if err == nil {
			err = t.put(r)
		}
	}
	if err != nil {
		return err
	}
	return t.Query("select id, title, plate, waits, whom, shown, salt, sum from jobs where shown > 0 order by id", nil, func(scan func(...any) error) error {
		var r jobRow
		err := scan(&r.ID, &r.Title, &r.Plate, &r.Waits, &r.On, &r.shown, &r.salt, &r.sum)
		if r.sum == sumOfShown(r.ID, r.shown, r.Shown, r.salt) {
			t.leaf(leaf{kind: ofLine, name: r.ID, hash: r.sum})
		}
		return err
	})
}

// own makes the table of versions in an empty database; one with other tables and without this one is of
// something else.
func (t *Tx) own() error {
	var there []string
	err := t.Query(t.db.kind.tables(), nil, func(scan func(...any) error) error {
		var name string
		err := scan(&name)
		there = append(there, name)
		return err
	})
	if err == nil && len(there) > 0 && !slices.Contains(there, "versions") {
		err = &diag.Error{Kind: diag.Denied, Op: "store", Subject: t.db.kind.name(), Msg: "it is a database of something else, with the table " + there[0], Hint: "give another place"}
	}
	if err != nil {
		return err
	}
	return t.run(versions)
}

func (t *Tx) versions() ([]version, error) {
	var have []version
	err := t.Query("select version, name, sum, program, backup from versions order by version", nil, func(scan func(...any) error) error {
		var v version
		err := scan(&v.version, &v.name, &v.of, &v.program, &v.backup)
		have = append(have, v)
		return err
	})
	return have, err
}

// sameVersion refuses to write into tables that another program has brought to another version meanwhile.
func (t *Tx) sameVersion() error {
	var n int
	err := t.Query("select count(*) from versions", nil, func(scan func(...any) error) error { return scan(&n) })
	if err == nil && n != len(migrations) {
		err = &diag.Error{Kind: diag.Unsupported, Op: "store", Subject: t.db.kind.name(), Msg: fmt.Sprintf("another program has brought its tables to version %d meanwhile; this program, %s, knows version %d", n, t.db.set.Program, len(migrations)), Hint: "start that program in its place"}
	}
	return err
}

// knows refuses tables of a newer version than the program's, and others than its own.
func (d *Database) knows(have []version, to []migration) error {
	for i, v := range have {
		if i >= len(to) {
			last := have[len(have)-1]
			hint := "use that program, or a newer one"
			if v.backup != "" {
				hint += "; what was there before is in " + v.backup
			}
			return &diag.Error{Kind: diag.Unsupported, Op: "store", Subject: d.kind.name(),
				Msg:  fmt.Sprintf("its tables are of version %d, made by program %s; this program, %s, knows them up to version %d", last.version, last.program, d.set.Program, len(to)),
				Hint: hint}
		}
		if v.version != to[i].version || v.of != to[i].sum() {
			return damaged(d.kind.name(), fmt.Sprintf("version %d of its tables was made by another text than this program has", to[i].version))
		}
	}
	return nil
}
