package database

import (
	"bytes"
	"fmt"
	"net"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store/postgrestest"
	"fettle/internal/store/storetest"
)

// cutter stands between a program and PostgreSQL, and cuts the line at some commits: before the server hears of it, or
// after it was done and before the program hears of that.
type cutter struct {
	server  string
	commits atomic.Int64
	cut     func(n int64) (before, after bool)
}

func (c *cutter) listen(t *testing.T, dir string) {
	l, err := net.Listen("unix", filepath.Join(dir, ".s.PGSQL.5432"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			go c.between(conn)
		}
	}()
}

func (c *cutter) between(program net.Conn) {
	defer program.Close()
	server, err := net.Dial("unix", c.server)
	if err != nil {
		return
	}
	defer server.Close()
	var deaf atomic.Bool // what the server says does not arrive
	go func() {
		buf := make([]byte, 1<<16)
		for {
			n, err := server.Read(buf)
			if deaf.Load() {
				program.Close() // it has answered: the commit is done
				return
			}
			if err == nil {
				_, err = program.Write(buf[:n])
			}
			if err != nil {
				program.Close()
				return
			}
		}
	}()
	buf := make([]byte, 1<<16)
	for {
		n, err := program.Read(buf)
		if err != nil {
			return
		}
		if bytes.Contains(buf[:n], []byte("commit\x00")) {
			before, after := c.cut(c.commits.Add(1))
			if before {
				return
			}
			deaf.Store(after)
		}
		if _, err := server.Write(buf[:n]); err != nil {
			return
		}
	}
}

// A commit whose answer was lost is not made twice, and one that the server never heard of is made: the author
// gets the answer that the first would have been, and hears nothing of it.
func TestPostgreSQLAnswerLost(t *testing.T) {
	address := postgrestest.Shared(t).Schema(t)
	dir, _, _ := strings.Cut(address[strings.Index(address, "host=")+5:], "&")
	dir = strings.ReplaceAll(dir, "%2F", "/")
	through := t.TempDir()
	c := &cutter{server: filepath.Join(dir, ".s.PGSQL.5432"), cut: func(n int64) (bool, bool) { return n%5 == 3, n%5 == 4 }}
	c.listen(t, through)
	d := opened(t, at(t, strings.Replace(address, strings.ReplaceAll(dir, "/", "%2F"), strings.ReplaceAll(through, "/", "%2F"), 1), monday))
	if _, err := d.Create(t.Context(), "J1", app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State("J1"))}); err != nil {
		t.Fatal(err)
	}
	const times = 30
	for n := range times {
		review := job.Event{Kind: job.DecisionsReviewed, Data: job.Review{By: fmt.Sprint("W", n+1), On: storetest.State("").Opened}}
		h, err := d.Append(t.Context(), "J1", app.Change{Key: fmt.Sprint(n), By: "p-1", Events: []job.Event{review}}, nil)
		if want := int64(len(job.FromState(storetest.State("J1"))) + n + 1); err != nil || h.Seq != want {
			t.Fatalf("change %d: event %d, want %d: %v", n, h.Seq, want, err)
		}
	}
	if lost := c.commits.Load() - times; lost < 10 {
		t.Errorf("only %d commits were cut", lost)
	}
	chain, err := d.Load(t.Context(), "J1", 0)
	if err != nil || chain.Verify() != nil {
		t.Fatal(err, chain.Verify())
	}
	if leaves := must(d.logSize(t.Context())); int(leaves) != len(chain) {
		t.Errorf("%d leaves for %d events", leaves, len(chain))
	}
}

// While there is no server an author is told so, in time, and nothing else breaks.
func TestPostgreSQLIsAway(t *testing.T) {
	if _, err := Open(t.Context(), at(t, "postgres:///x?host="+t.TempDir()+"&password=hidden", monday)); diag.KindOf(err) != diag.Unavailable || strings.Contains(err.Error(), "hidden") {
		t.Errorf("%v (kind %v)", err, diag.KindOf(err))
	}
}
