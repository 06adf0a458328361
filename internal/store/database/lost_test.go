package database

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

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

// The server is killed under writers, and comes back: they wait, or are told to send the same again, and
// what was acknowledged is there, once.
func TestPostgreSQLKilledUnderWriters(t *testing.T) {
	server := postgrestest.Shared(t)
	s := at(t, server.Database(t), time.Now)
	d := opened(t, s)
	ctx, stop := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	made := make([][]app.Head, 4)
	for i := range made {
		id := fmt.Sprint("J", i)
		if _, err := d.Create(ctx, id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
			t.Fatal(err)
		}
		wg.Go(func() {
			for n := 0; ctx.Err() == nil; n++ {
				review := job.Event{Kind: job.DecisionsReviewed, Data: job.Review{By: fmt.Sprint("W", n+1), On: storetest.State("").Opened}}
				h, err := d.Append(context.WithoutCancel(ctx), id, app.Change{Key: fmt.Sprint(n), By: "p-1", Events: []job.Event{review}}, nil)
				for tries := 0; diag.KindOf(err) == diag.Unavailable && tries < 20; tries++ { // a slow machine: sent again with the same key
					h, err = d.Append(context.WithoutCancel(ctx), id, app.Change{Key: fmt.Sprint(n), By: "p-1", Events: []job.Event{review}}, nil)
				}
				if err != nil {
					t.Errorf("%s: %v (kind %v)", id, err, diag.KindOf(err))
					return
				}
				made[i] = append(made[i], h)
			}
		})
	}
	for range 2 {
		time.Sleep(200 * time.Millisecond)
		server.Kill(t)
		server.Again(t)
	}
	time.Sleep(300 * time.Millisecond)
	stop()
	wg.Wait()
	sum := 0
	for i, heads := range made {
		chain, err := opened(t, s).Load(t.Context(), fmt.Sprint("J", i), 0)
		if err != nil || chain.Verify() != nil {
			t.Fatal(err, chain.Verify())
		}
		for n, h := range heads {
			if e := chain[h.Seq-1]; e.Hash != h.Hash || n > 0 && h.Seq != heads[n-1].Seq+1 {
				t.Errorf("J%d: event %d was acknowledged with hash %s, and has %s", i, h.Seq, h.Hash, e.Hash)
			}
		}
		if last := heads[len(heads)-1].Seq; last != int64(len(chain)) {
			t.Errorf("J%d: %d events, the last acknowledged is %d", i, len(chain), last)
		}
		sum += len(heads)
	}
	t.Logf("%d changes, the server killed twice among them", sum)
}

// While there is no server an author is told so, in time, and nothing else breaks.
func TestPostgreSQLIsAway(t *testing.T) {
	if _, err := Open(t.Context(), at(t, "postgres:///x?host="+t.TempDir()+"&password=hidden", monday)); diag.KindOf(err) != diag.Unavailable || strings.Contains(err.Error(), "hidden") {
		t.Errorf("%v (kind %v)", err, diag.KindOf(err))
	}
}
