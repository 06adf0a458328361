package database

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	_ "github.com/jackc/pgx/v5/stdlib" // the driver
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// kind is what SQLite and PostgreSQL do not have in common.
type kind struct {
	postgres bool
	address  string
	vfs      string
}

func kindOf(address string) kind {
	return kind{postgres: strings.HasPrefix(address, "postgres://") || strings.HasPrefix(address, "postgresql://"), address: address}
}

// prepare makes an empty file that nobody else reads, where SQLite has none yet.
func (k kind) prepare() error {
	if k.postgres || k.vfs != "" {
		return nil
	}
	f, err := os.OpenFile(k.address, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil // and is not opened: another connection of this program may have it
	}
	if err == nil {
		err = f.Close()
	}
	return unavailable(k.name(), err)
}

// turns is where programs that write into a file of SQLite wait for their turn; nil where there is none: on a system without such
// locks, or where its file cannot be made. PostgreSQL has turns of its own.
func (k kind) turns() *safefile.Queue {
	if k.postgres || k.vfs != "" {
		return nil
	}
	q, err := safefile.OpenQueue(k.address+"-turn", k.address)
	if err != nil {
		return nil // where a file cannot be made SQLite will tell of it, and it keeps writers apart by itself
	}
	return q
}

// name is what the database is called in messages: never with its password.
func (k kind) name() string {
	if !k.postgres {
		return k.address
	}
	u, err := url.Parse(k.address)
	if err != nil {
		return "the database"
	}
	return (&url.URL{Scheme: u.Scheme, Host: u.Host, Path: u.Path}).String()
}

func (k kind) open(address string) (*sql.DB, error) {
	driver := "sqlite"
	if k.postgres {
		driver = "pgx"
	}
	db, err := sql.Open(driver, address)
	return db, unavailable(k.name(), err)
}

// pragma is a setting of SQLite, and how it reads when it is in force.
type pragma struct{ name, set, is string }

// settings of SQLite: a commit is on the disk when it returns, what is wrong in a file is found early, a
// file that somebody else made runs nothing, and what is deleted is overwritten.
var settings = []pragma{
	{"busy_timeout", "5000", "5000"},
	{"journal_mode", "WAL", "wal"},
	{"synchronous", "FULL", "2"},
	{"foreign_keys", "ON", "1"},
	{"trusted_schema", "OFF", "0"},
	{"cell_size_check", "ON", "1"},
	{"mmap_size", "0", "0"},
	{"journal_size_limit", "67108864", "67108864"},
	{"secure_delete", "ON", "1"},
}

// sqliteAddress is the file with the settings; q has more.
func (k kind) sqliteAddress(q url.Values) string {
	more := q["_pragma"]
	q.Del("_pragma")
	for _, p := range settings {
		q.Add("_pragma", p.name+"("+p.set+")")
	}
	q["_pragma"] = append(q["_pragma"], more...)
	if k.vfs != "" {
		q.Set("vfs", k.vfs)
	}
	return fileAddress(k.address, q)
}

// fileAddress is how SQLite is told of a file.
func fileAddress(name string, q url.Values) string {
	return (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(name)}).EscapedPath(), RawQuery: q.Encode()}).String()
}

func (k kind) writeAddress() string {
	if k.postgres {
		return k.address
	}
	return k.sqliteAddress(url.Values{"_txlock": {"immediate"}})
}

func (k kind) readAddress() (string, error) {
	if !k.postgres {
		return k.sqliteAddress(url.Values{"_pragma": {"query_only(ON)"}}), nil
	}
	u, err := url.Parse(k.address)
	if err != nil {
		return "", &diag.Error{Kind: diag.Invalid, Op: "store", Subject: k.name(), Msg: "it is no address of a database", Hint: "write it as postgres://user@host/name"}
	}
	q := u.Query()
	q.Set("default_transaction_read_only", "on")
	q.Set("plan_cache_mode", "force_custom_plan") // what is asked for by a beginning hangs on how many there are
	q.Set("jit", "off")                           // and is answered in less time than compiling it takes,
	q.Set("max_parallel_workers_per_gather", "0") // or starting others for it
	u.RawQuery = q.Encode()
	return u.String(), nil
}

// readers is how many ask at once; others wait. SQLite works in this program: with more of them than
// processors who writes would wait for a processor.
func (k kind) readers() int {
	if k.postgres {
		return 16
	}
	return max(4, runtime.GOMAXPROCS(0))
}

// snapshot is what a transaction that reads asks for to see one moment. SQLite shows nothing else.
func (k kind) snapshot() sql.IsolationLevel {
	if k.postgres {
		return sql.LevelRepeatableRead
	}
	return sql.LevelDefault
}

// tables asks which tables there are.
func (k kind) tables() string {
	if k.postgres {
		return "select table_name from information_schema.tables where table_schema = current_schema() order by 1"
	}
	return "select name from sqlite_schema where type = 'table' order by 1"
}

// begin are the words that begin a transaction that writes. On PostgreSQL the writers of all
// programs take turns: the log has one order.
func (k kind) begin() []string {
	if k.postgres {
		return []string{"begin", "select pg_advisory_xact_lock(7362850198)"}
	}
	return []string{"begin immediate"}
}

// text is a text of SQL as the database takes it.
func (k kind) text(s string) string {
	if k.postgres {
		return s
	}
	return strings.ReplaceAll(s, ` collate "C"`, "")
}

// safeSettings of PostgreSQL make a commit safe when it returns; they are on, or more than that.
var safeSettings = []string{"fsync", "full_page_writes", "synchronous_commit"}

// check reads the settings of a connection that writes back: with others a change that was
// acknowledged could be lost.
func (k kind) check(ctx context.Context, c *sql.Conn) error {
	if k.postgres {
		for _, name := range safeSettings {
			var is string
			if err := c.QueryRowContext(ctx, "show "+name).Scan(&is); err != nil {
				return ofDriver(err)
			}
			if is == "off" {
				return unsafe(k.name(), name, is, "on")
			}
		}
		return nil
	}
	for _, p := range settings {
		var is string
		if err := c.QueryRowContext(ctx, "pragma "+p.name).Scan(&is); err != nil {
			return ofDriver(err)
		}
		if is != p.is {
			return unsafe(k.name(), p.name, is, p.is)
		}
	}
	return nil
}

func unsafe(db, setting, is, want string) error {
	return &diag.Error{Kind: diag.Denied, Op: "store", Subject: db, Msg: fmt.Sprintf("the setting %s is %q, with which what was acknowledged could be lost; nothing is written", setting, is), Hint: fmt.Sprintf("set it to %q", want)}
}

// checkReads looks whether the connections that only read do so.
func (k kind) checkReads(ctx context.Context, db *sql.DB) error {
	ask, want := "pragma query_only", "1"
	if k.postgres {
		ask, want = "show default_transaction_read_only", "on"
	}
	var is string
	err := db.QueryRowContext(ctx, ask).Scan(&is)
	if err == nil && is != want {
		err = unsafe(k.name(), ask, is, want)
	}
	return unavailable(k.name(), err)
}

// driverError is an error of the database or of the way to it, and not one of what was asked.
type driverError struct{ error }

func (e driverError) Unwrap() error { return e.error }

func ofDriver(err error) error {
	if err == nil {
		return nil
	}
	return driverError{err}
}

// again says that a transaction failed through no fault of its own, and may be tried again: the database
// was busy with another, or the connection was lost, before or after the commit.
func (k kind) again(err error) bool {
	if e := (driverError{}); !errors.As(err, &e) {
		return false
	}
	if e := (*pgconn.PgError)(nil); errors.As(err, &e) {
		// Classes of SQLSTATE: connection, rolled back, resources, stopped by an administrator.
		return slices.Contains([]string{"08", "40", "53", "57"}, e.Code[:min(2, len(e.Code))])
	}
	if e := (*sqlite.Error)(nil); errors.As(err, &e) {
		return e.Code()&0xff == sqlite3.SQLITE_BUSY
	}
	return k.postgres // the connection itself
}
