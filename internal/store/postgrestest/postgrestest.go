//go:build linux

// Package postgrestest starts a private PostgreSQL server for tests, out of Debian's package
// postgresql: in a folder of its own, reached through a socket in it by nobody else. Its default order
// of texts is a language's and not that of bytes, so that a query that needs the latter has to say so.
package postgrestest

import (
	"bytes"
	"database/sql"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver
)

// Server is a running server, or one that was stopped.
type Server struct {
	bin, dir string
	options  []string
	as       *syscall.Credential // nil: as whoever runs the tests
	log      bytes.Buffer
	process  *exec.Cmd
	ended    chan struct{}
}

// patience is how long a server may take to start or end.
const patience = 60 * time.Second

var made atomic.Int64

// Start starts a server that ends with the test. Options are settings, as "fsync=off". Where PostgreSQL
// is not installed the test is left out; with FETTLE_ALL it fails.
func Start(t testing.TB, options ...string) *Server {
	t.Helper()
	s, err := start(options)
	if s == nil && err == nil {
		missing(t)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.end(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func missing(t testing.TB) {
	if os.Getenv("FETTLE_ALL") != "" {
		t.Fatal("PostgreSQL is not installed: run scripts/setup.sh")
	}
	t.Skip("PostgreSQL is not installed (scripts/setup.sh does it)")
}

var shared = sync.OnceValues(func() (*Server, error) { return start(nil) })

// Run runs the tests of a package that uses Shared, from its TestMain: the server ends with them.
func Run(m *testing.M) int {
	code := m.Run()
	if used.Load() {
		if s, err := shared(); err == nil && s != nil {
			if err := s.end(); err != nil {
				fmt.Fprintln(os.Stderr, err)
				return max(code, 1)
			}
		}
	}
	return code
}

var used atomic.Bool

// Shared is the one server of this test process; its package calls Run from TestMain.
func Shared(t testing.TB) *Server {
	t.Helper()
	used.Store(true)
	s, err := shared()
	if s == nil && err == nil {
		missing(t)
	}
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Database is the address of a new empty database, which is thrown away with the test.
func (s *Server) Database(t testing.TB) string {
	t.Helper()
	name := fmt.Sprintf("t%d", made.Add(1))
	s.tell(t, "create database "+name)
	t.Cleanup(func() { s.tell(t, "drop database if exists "+name+" with (force)") })
	return s.address(name)
}

// Schema is the address of a new empty schema of one database, which is made faster than a database.
func (s *Server) Schema(t testing.TB) string {
	t.Helper()
	name := fmt.Sprintf("t%d", made.Add(1))
	s.tell(t, "create schema "+name)
	t.Cleanup(func() { s.tell(t, "drop schema "+name+" cascade") })
	return s.address("postgres") + "&search_path=" + name
}

func (s *Server) address(db string) string {
	q := url.Values{"host": {s.dir}, "user": {superuser}, "sslmode": {"disable"}}
	return "postgres:///" + db + "?" + q.Encode()
}

const superuser = "fettle"

// tell runs a statement as the administrator of the server.
func (s *Server) tell(t testing.TB, words string) {
	t.Helper()
	if err := s.run(words); err != nil {
		t.Error(err)
	}
}

func (s *Server) run(words string) error {
	db, err := sql.Open("pgx", s.address("postgres"))
	if err != nil {
		return err
	}
	defer db.Close() // it did its one statement
	_, err = db.Exec(words)
	return err
}

func start(options []string) (*Server, error) {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil || len(found) == 0 {
		return nil, err
	}
	slices.Sort(found)
	dir, err := os.MkdirTemp("", "fettle-pg-")
	if err != nil {
		return nil, err
	}
	s := &Server{bin: filepath.Dir(found[len(found)-1]), dir: dir, options: options}
	if err := s.own(); err != nil {
		return nil, err
	}
	init := s.command("initdb", "-D", s.data(), "-U", superuser, "-A", "trust", "-E", "UTF8", "--no-sync", "--locale", "C.UTF-8", "--locale-provider", "icu", "--icu-locale", "en-US", "--data-checksums")
	if out, err := init.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("initdb: %w: %s", err, out)
	}
	return s, s.begin()
}

func (s *Server) data() string { return filepath.Join(s.dir, "data") }

// own gives the folder to somebody else where root runs the tests: PostgreSQL refuses root.
func (s *Server) own() error {
	if os.Getuid() != 0 {
		return nil
	}
	who, err := user.Lookup("postgres")
	if err != nil {
		who, err = user.Lookup("nobody")
	}
	if err != nil {
		return err
	}
	uid, err := strconv.Atoi(who.Uid)
	if err != nil {
		return err
	}
	gid, err := strconv.Atoi(who.Gid)
	if err != nil {
		return err
	}
	s.as = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	return os.Chown(s.dir, uid, gid)
}

func (s *Server) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(filepath.Join(s.bin, name), args...)
	c.Dir = s.dir
	c.Env = []string{"LC_ALL=C.UTF-8", "PATH=" + os.Getenv("PATH"), "TZ=UTC"}
	c.SysProcAttr = &syscall.SysProcAttr{Credential: s.as, Setpgid: true}
	return c
}

// begin starts the server and waits until it answers.
func (s *Server) begin() error {
	until := time.Now().Add(patience)
	if err := s.launch(); err != nil {
		return err
	}
	for ; ; time.Sleep(5 * time.Millisecond) {
		err := s.run("select 1")
		if err == nil {
			return nil
		}
		if time.Now().After(until) {
			return fmt.Errorf("PostgreSQL does not answer: %w", err)
		}
		select {
		case <-s.ended:
		default:
			continue
		}
		said := s.log.String()
		if !strings.Contains(said, "still in use") { // by processes of the last one, which are ending
			return fmt.Errorf("PostgreSQL ended: %s", said)
		}
		if err := s.launch(); err != nil {
			return err
		}
	}
}

// launch starts the server.
func (s *Server) launch() error {
	args := []string{"-D", s.data(), "-k", s.dir}
	for _, o := range slices.Concat([]string{"listen_addresses=", "shared_buffers=32MB", "max_connections=100", "max_wal_size=256MB"}, s.options) {
		args = append(args, "-c", o)
	}
	c := s.command("postgres", args...)
	s.log.Reset()
	c.Stdout, c.Stderr = &s.log, &s.log
	ended := make(chan struct{})
	began := make(chan error)
	go withParent(c, began, ended)
	err := <-began
	s.process, s.ended = c, ended
	return err
}

// Kill ends the server as a power cut of the program would: nothing is written any more.
func (s *Server) Kill(t testing.TB) {
	t.Helper()
	// The whole group: its processes share memory, and the next server waits for them to be gone.
	s.signal(t, -s.process.Process.Pid, syscall.SIGKILL)
	<-s.ended
}

// KillFirst ends the first process of the server; the others notice that and end.
func (s *Server) KillFirst(t testing.TB) {
	t.Helper()
	s.signal(t, s.process.Process.Pid, syscall.SIGKILL)
	<-s.ended
}

// StopAtOnce has the server end without bringing anything in order, as 'pg_ctl stop --mode immediate' does.
func (s *Server) StopAtOnce(t testing.TB) {
	t.Helper()
	s.signal(t, s.process.Process.Pid, syscall.SIGQUIT)
	<-s.ended
}

// KillOne ends one process that serves somebody. The first process ends all others then, and brings the server up
// again by itself: it has ended them when this returns.
func (s *Server) KillOne(t testing.TB) {
	t.Helper()
	db, err := sql.Open("pgx", s.address("postgres"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close() // it is cut off
	conn, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close() // it is cut off
	var pid int
	if err := conn.QueryRowContext(t.Context(), "select pid from pg_stat_activity where backend_type = 'client backend' and pid <> pg_backend_pid() order by random() limit 1").Scan(&pid); err != nil {
		t.Fatal(err)
	}
	s.signal(t, pid, syscall.SIGKILL)
	for until := time.Now().Add(patience); time.Now().Before(until); time.Sleep(time.Millisecond) {
		if _, err := conn.ExecContext(t.Context(), "select 1"); err != nil {
			return
		}
	}
	t.Error("PostgreSQL does not notice that a process of it was killed")
}

func (s *Server) signal(t testing.TB, pid int, with syscall.Signal) {
	t.Helper()
	if err := syscall.Kill(pid, with); err != nil {
		t.Error(err)
	}
}

// Launch starts a server that was killed or stopped, and does not wait until it answers.
func (s *Server) Launch(t testing.TB) {
	t.Helper()
	if err := s.launch(); err != nil {
		t.Fatal(err)
	}
}

// Answers waits until a server that brings itself up answers.
func (s *Server) Answers(t testing.TB) {
	t.Helper()
	for until := time.Now().Add(patience); s.run("select 1") != nil; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(until) {
			t.Fatal("PostgreSQL does not answer")
		}
	}
}

// Again starts a server that was killed or stopped.
func (s *Server) Again(t testing.TB) {
	t.Helper()
	if err := s.begin(); err != nil {
		t.Fatal(err)
	}
}

// Stop ends the server, and with it all connections.
func (s *Server) Stop(t testing.TB) {
	t.Helper()
	if err := s.stop(); err != nil {
		t.Error(err)
	}
}

func (s *Server) stop() error {
	select {
	case <-s.ended:
		return nil
	default:
	}
	err := s.process.Process.Signal(syscall.SIGINT) // at once, and in order
	select {
	case <-s.ended:
	case <-time.After(patience):
		err = fmt.Errorf("PostgreSQL does not end")
	}
	return err
}

func (s *Server) end() error {
	err := s.stop()
	if err == nil {
		err = os.RemoveAll(s.dir)
	}
	return err
}
