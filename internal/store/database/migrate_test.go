package database

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store/postgrestest"
	"fettle/internal/store/storetest"
)

// both runs a test on a new SQLite file and on a new place in PostgreSQL.
func both(t *testing.T, test func(t *testing.T, address string)) {
	t.Run("SQLite", func(t *testing.T) { test(t, filepath.Join(t.TempDir(), "store.db")) })
	t.Run("PostgreSQL", func(t *testing.T) { test(t, postgrestest.Shared(t).Schema(t)) })
}

// monday is a clock that stands still.
func monday() time.Time { return time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC) }

// filled is a store with two jobs and a body; it is closed.
func filled(t *testing.T, s Settings) {
	t.Helper()
	d := opened(t, s)
	for _, id := range []string{"J1", "J2"} {
		if _, err := d.Create(t.Context(), id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := d.Keep(t.Context(), map[string][]byte{"body.yaml": []byte("x")}); err != nil {
		t.Fatal(err)
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
}

// following is the migration behind those that there are.
func following(name, text string) migration {
	return migration{version: int64(len(migrations) + 1), name: name, text: text}
}

// next is the migrations of a program to come.
var next = append(slices.Clone(migrations), following("next", "create table more (id text not null primary key);\ninsert into more (id) select id from jobs;\nalter table jobs add column more text not null default 'x';"))

// TestMigrations: what is there is kept before its tables are changed, and the place is told; what was
// kept is the store as it was; an older program refuses what a newer one has made, and says where it is.
func TestMigrationsPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := at(t, address, monday)
		var places []string
		s.Told = func(p string) { places = append(places, p) }
		filled(t, s)
		running := opened(t, s)
		d, err := begun(s)
		if err != nil {
			t.Fatal(err)
		}
		if err := d.migrate(t.Context(), next); err != nil {
			t.Fatal(err)
		}
		d.lose()
		if err := d.writes.Close(); err != nil {
			t.Fatal(err)
		}
		if len(places) != 1 || filepath.Dir(places[0]) != s.Backups {
			t.Fatalf("told of %v, want one place in %s", places, s.Backups)
		}
		for id, c := range map[string]app.Change{"J1": {Key: "k", By: "p-1", Events: job.FromState(storetest.State("J1"))}, "J9": {Key: "k", By: "p-1", Events: job.FromState(storetest.State("J9"))}} {
			if _, err := running.Create(t.Context(), id, c); diag.KindOf(err) != diag.Unsupported {
				t.Errorf("an older program that was running before writes on: %v", err)
			}
		}
		_, err = Open(t.Context(), s)
		if diag.KindOf(err) != diag.Unsupported || !strings.Contains(err.Error(), fmt.Sprint("version ", len(next))) || !strings.Contains(err.Error(), fmt.Sprint("up to version ", len(migrations))) || !strings.Contains(err.Error(), places[0]) {
			t.Errorf("an older program says %v", err)
		}
		old := restored(t, s, places[0])
		if page, err := old.List(t.Context(), "", 10); err != nil || len(page) != 2 {
			t.Errorf("kept were %v %v, want both jobs", page, err)
		}
		if left, err := filepath.Glob(s.Backups + "/*.part"); err != nil || len(left) > 0 {
			t.Errorf("left over: %v %v", left, err)
		}
	})
}

// restored is a store made of a backup, beside the one it is of.
func restored(t *testing.T, s Settings, place string) *Database {
	t.Helper()
	s.Address = filepath.Join(t.TempDir(), "restored.db")
	data, err := os.ReadFile(place)
	if err != nil {
		t.Fatal(err)
	}
	if filepath.Ext(place) == ".db" {
		if err := os.WriteFile(s.Address, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return opened(t, s)
	}
	d, err := Fill(t.Context(), s, bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	return d
}

// Where nothing can be kept nothing is changed, nor by a migration that fails in its middle.
func TestMigrationsChangeNothingPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := at(t, address, monday)
		filled(t, s)
		bad := append(slices.Clone(migrations), following("bad", "create table more (id text); insert into more (nothing) values (1)"))
		for name, c := range map[string]struct {
			to   []migration
			keep string
			kind diag.Kind
		}{"no folder": {next, "", diag.Unavailable}, "a file for a folder": {next, os.Args[0], diag.Unavailable}, "a bad migration": {bad, s.Backups, diag.Internal},
			"another text": {[]migration{{version: 1, name: "first", text: "create table x (y text)"}}, s.Backups, diag.Integrity}} {
			own := s
			own.Backups = c.keep
			d, err := begun(own)
			if err != nil {
				t.Fatal(err)
			}
			if err := d.migrate(t.Context(), c.to); diag.KindOf(err) != c.kind {
				t.Errorf("%s: %v, want kind %v", name, err, c.kind)
			}
			d.lose()
			if err := d.writes.Close(); err != nil {
				t.Error(err)
			}
		}
		if page, err := opened(t, s).List(t.Context(), "", 10); err != nil || len(page) != 2 {
			t.Errorf("as it was: %v %v", page, err)
		}
	})
}

// A database of something else is left alone.
func TestForeignDatabasePostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		k := kindOf(address)
		db, err := k.open(k.writeAddress())
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec("create table customers (id text)"); err != nil {
			t.Fatal(err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(t.Context(), at(t, address, monday)); diag.KindOf(err) != diag.Denied || !strings.Contains(err.Error(), "customers") {
			t.Errorf("it was opened: %v", err)
		}
	})
}

const killedEnv = "FETTLE_TEST_MIGRATES"

// TestMigrationKilled: a program that is killed while it changes the tables leaves them as they were or as they
// will be. Its migration takes a while in the middle; the kills are spread over that.
func TestMigrationKilledPostgreSQLAndSQLite(t *testing.T) {
	slow := append(slices.Clone(migrations), following("slow", "create table more (id text not null primary key);\ninsert into more (id) select 'first';\n"+
		"create table slow as with recursive n(i) as (select 1 union all select i + 1 from n where i < 20000) select i from n;\ninsert into more (id) select id from jobs;"))
	if address := os.Getenv(killedEnv); address != "" {
		s := Settings{Address: address, Backups: os.Getenv(killedEnv + "_TO"), Now: monday, Program: "killed"}
		d, err := begun(s)
		if err == nil {
			fmt.Println("begins")
			err = d.migrate(t.Context(), slow)
		}
		if err != nil {
			t.Fatal(err)
		}
		return
	}
	both(t, func(t *testing.T, address string) {
		s := at(t, address, monday)
		filled(t, s)
		was, done := 0, 0
		for n := range 5 {
			killedAfter(t, s, time.Duration(n*n*15)*time.Millisecond, n == 4)
			switch rows := moreRows(t, address); rows {
			case -1:
				was++
			case 3:
				done++
			default:
				t.Fatalf("killed in the middle: the new table has %d rows", rows)
			}
		}
		if t.Logf("killed: %d as they were, %d as they will be", was, done); done == 0 {
			t.Error("the last was not killed, and has changed nothing")
		}
	})
}

// killedAfter runs the migration in another program and kills it, unless that is spared.
func killedAfter(t *testing.T, s Settings, after time.Duration, spared bool) {
	t.Helper()
	c := exec.Command(os.Args[0], "-test.run", "^TestMigrationKilledPostgreSQLAndSQLite$")
	c.Env = append(os.Environ(), killedEnv+"="+s.Address, killedEnv+"_TO="+s.Backups)
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	if _, err := out.Read(make([]byte, 100)); err != nil {
		t.Fatal(err)
	}
	if !spared {
		time.Sleep(after)
		if err := c.Process.Kill(); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := io.Copy(io.Discard, out); err != nil {
		t.Fatal(err)
	}
	if err := c.Wait(); spared && err != nil {
		t.Fatal(err)
	}
}

// moreRows is how many rows the table of the migration has; -1 where it is not there. The version says the same.
func moreRows(t *testing.T, address string) int {
	t.Helper()
	k := kindOf(address)
	db, err := k.open(k.writeAddress())
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	ctx := context.Background()
	var version, rows int
	for try := 0; ; try++ { // PostgreSQL ends a transaction whose program died a moment later
		err = db.QueryRowContext(ctx, "select max(version) from versions").Scan(&version)
		if err == nil || try > 50 {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	if err != nil {
		t.Fatal(err)
	}
	err = db.QueryRowContext(ctx, "select count(*) from more").Scan(&rows)
	if (err == nil) != (version == len(next)) {
		t.Fatalf("version %d, and the new table: %v", version, err)
	}
	if err != nil {
		return -1
	}
	return rows
}

// The files of migrations are numbered without gaps.
func TestMigrationsAreNumbered(t *testing.T) {
	if len(migrations) == 0 || migrations[0].name != "first" {
		t.Errorf("%v", migrations)
	}
	for _, name := range []string{"0002_x.sql", "x.sql", "000x_x.sql", "0001.sql"} {
		if m, err := readMigrations(fstest.MapFS{"migrations/" + name: {}}); err == nil {
			t.Errorf("%s was taken: %v", name, m)
		}
	}
}

// A connection whose settings could lose what was acknowledged is not used.
func TestUnsafeSettings(t *testing.T) {
	k := kindOf(filepath.Join(t.TempDir(), "x.db"))
	db, err := k.open(k.writeAddress())
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	conn, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if err := k.check(t.Context(), conn); err != nil {
		t.Fatal(err)
	}
	for _, words := range []string{"pragma synchronous = normal", "pragma foreign_keys = off", "pragma secure_delete = off", "pragma journal_mode = delete"} {
		if _, err := conn.ExecContext(t.Context(), words); err != nil {
			t.Fatal(err)
		}
		if err := k.check(t.Context(), conn); diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", words, err)
		}
	}
}

// Nothing is written to a server that may lose what it acknowledged.
func TestUnsafeSettingsPostgreSQL(t *testing.T) {
	address := postgrestest.Shared(t).Schema(t)
	db, err := sql.Open("pgx", address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, name := range []string{"fsync", "full_page_writes", "synchronous_commit"} {
		for _, is := range []string{"off", "on"} {
			for _, words := range []string{"alter system set " + name + " = " + is, "select pg_reload_conf()"} {
				if _, err := db.Exec(words); err != nil {
					t.Fatal(err)
				}
			}
			for try, now := 0, ""; now != is; try++ {
				if err := db.QueryRow("show " + name).Scan(&now); err != nil || try > 200 {
					t.Fatal(now, err)
				}
				time.Sleep(10 * time.Millisecond)
			}
			d, err := Open(t.Context(), at(t, address, monday))
			if err == nil {
				err = d.Close()
			}
			if (diag.KindOf(err) == diag.Denied) != (is == "off") || err != nil && !strings.Contains(err.Error(), name) {
				t.Errorf("%s %s: %v", name, is, err)
			}
		}
	}
}

// A connection that reads cannot write.
func TestReadersOnlyReadPostgreSQLAndSQLite(t *testing.T) {
	both(t, func(t *testing.T, address string) {
		s := at(t, address, monday)
		filled(t, s)
		d := opened(t, s)
		for _, words := range []string{"delete from requests", "create table x (y text)", "update jobs set title = 'x'"} {
			if _, err := d.reads.ExecContext(t.Context(), words); err == nil {
				t.Errorf("%s was done by a reader", words)
			}
		}
	})
}
