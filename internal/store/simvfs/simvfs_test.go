package simvfs

import (
	"database/sql"
	"fmt"
	"math/rand/v2"
	"syscall"
	"testing"

	_ "modernc.org/sqlite" // the driver
)

func open(t *testing.T, d *Disk, synchronous string) *sql.DB {
	t.Helper()
	if err := Register(); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", "file:"+d.File("a.db")+"?vfs="+VFS+"&_pragma=journal_mode(WAL)&_pragma=synchronous("+synchronous+")")
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { db.Close() }) // there may be nothing behind it any more
	return db
}

func do(t *testing.T, db *sql.DB, words string, args ...any) {
	t.Helper()
	if _, err := db.Exec(words, args...); err != nil {
		t.Fatal(err)
	}
}

// count is how many rows there are; -1 where the file cannot be read.
func count(db *sql.DB) (n int) {
	if db.QueryRow("select count(*) from t").Scan(&n) != nil {
		return -1
	}
	return n
}

// TestWhatACutLeaves: with synchronous FULL a cut leaves the row that was written, always; with OFF each outcome that may be is seen.
func TestWhatACutLeaves(t *testing.T) {
	for mode, want := range map[string][]int{"FULL": {1}, "OFF": {-1, 0, 1}} {
		seen := map[int]int{}
		for seed := range uint64(60) {
			d := New(nil)
			db := open(t, d, mode)
			do(t, db, "create table t (a text)")
			do(t, db, "insert into t values ('x')")
			after := d.Cut(rand.New(rand.NewPCG(seed, 1)), nil)
			seen[count(open(t, after, mode))]++
			d.Drop()
			after.Drop()
		}
		if len(seen) != len(want) && mode == "FULL" || len(seen) < 2 && mode == "OFF" {
			t.Errorf("%s: rows seen: %v, want %v", mode, seen, want)
		}
		for n := range seen {
			if n > 1 || mode == "FULL" && n != 1 {
				t.Errorf("%s: %d rows", mode, n)
			}
		}
	}
}

// TestLocks: a connection that writes and one that reads see what SQLite promises on a disk of the system: the one that reads goes on, a second
// one that writes is refused.
func TestLocks(t *testing.T) {
	d := New(nil)
	defer d.Drop()
	a, b, c := open(t, d, "FULL"), open(t, d, "FULL"), open(t, d, "FULL")
	do(t, a, "create table t (a text)")
	do(t, a, "begin immediate")
	do(t, a, "insert into t values ('x')")
	if n := count(b); n != 0 {
		t.Errorf("%d rows are read before they were committed", n)
	}
	if _, err := c.Exec("begin immediate"); err == nil {
		t.Error("two write at once")
	}
	do(t, a, "commit")
	if n := count(b); n != 1 {
		t.Errorf("%d rows after the commit", n)
	}
	do(t, c, "begin immediate")
	do(t, c, "rollback")
}

// TestCallsFail: a call that a test lets fail is an error of SQLite, and what was there is there.
func TestCallsFail(t *testing.T) {
	for _, fault := range []error{syscall.EIO, syscall.ENOSPC, ErrShort} {
		var now error
		d := New(func(c Call) error {
			if c == CallWrite {
				return now
			}
			return nil
		})
		db := open(t, d, "FULL")
		do(t, db, "create table t (a text)")
		now = fault
		if _, err := db.Exec("insert into t values ('x')"); err == nil {
			t.Errorf("%v: it was written all the same", fault)
		}
		now = nil
		do(t, db, "insert into t values ('y')")
		if n := count(db); n != 1 {
			t.Errorf("%v: %d rows", fault, n)
		}
		d.Drop()
	}
}

// TestSyncThatFailed: what a sync that failed was to make safe is not made so by the next one.
func TestSyncThatFailed(t *testing.T) {
	n := &node{}
	n.change(change{at: 0, data: []byte("ab")})
	n.fails()
	n.change(change{at: 2, data: []byte("cd")})
	n.sync()
	if got := fmt.Sprintf("%q", n.cut(rand.New(rand.NewPCG(1, 1)))); got != `"\x00\x00cd"` || string(n.data) != "abcd" {
		t.Errorf("safe is %s, read is %q", got, n.data)
	}
}
