package remote_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/store/remote"
	"fettle/internal/store/storetest"
	"fettle/internal/unit"
)

// line is what stands between a client and a server, and cuts one connection where it is told to.
type line struct {
	listener net.Listener
	to       string

	mu       sync.Mutex
	armed    bool
	up, down int64 // bytes that pass before it is cut; less than none: all
	sent     int64 // bytes of the last connection to the server
	came     int64 // and back
	cuts     int
}

func newLine(t *testing.T, to string) *line {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	out := &line{listener: l, to: strings.TrimPrefix(to, "http://")}
	var all sync.WaitGroup
	all.Go(func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			all.Go(func() { out.pass(c) })
		}
	})
	t.Cleanup(func() { _ = l.Close() })
	return out
}

func (l *line) url() string { return "http://" + l.listener.Addr().String() }

// cut has the next connection cut once so many bytes have gone up, or so many have come down.
func (l *line) cut(up, down int64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.armed, l.up, l.down = true, up, down
}

func (l *line) next() (up, down int64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.sent, l.came = 0, 0
	if !l.armed {
		return -1, -1
	}
	l.armed = false
	return l.up, l.down
}

func (l *line) pass(client net.Conn) {
	defer client.Close() // it may be cut already
	server, err := net.Dial("tcp", l.to)
	if err != nil {
		return
	}
	defer server.Close() // likewise
	up, down := l.next()
	ends := make(chan bool, 2)
	carry := func(to, from net.Conn, most int64, count *int64) {
		buf := make([]byte, 4096)
		for most != 0 {
			n, err := from.Read(buf)
			if most > 0 {
				n = int(min(int64(n), most))
				most -= int64(n)
			}
			if n > 0 {
				if _, bad := to.Write(buf[:n]); bad != nil {
					break
				}
				l.mu.Lock()
				*count += int64(n)
				l.mu.Unlock()
			}
			if err != nil {
				ends <- false
				return
			}
		}
		ends <- true
	}
	go carry(server, client, up, &l.sent)
	go carry(client, server, down, &l.came)
	if <-ends && (up >= 0 || down >= 0) {
		l.mu.Lock()
		l.cuts++
		l.mu.Unlock()
	}
}

// places are byte positions at which a line of so many bytes is cut: the first and last ones, and some between; five hundred where asked for.
func places(n int64) (out []int64) {
	step := max(1, n/4)
	if os.Getenv("FETTLE_CUTS") != "" {
		step = max(1, n/500)
	}
	for i := int64(0); i < n; i += step {
		out = append(out, i)
	}
	return append(out, n-1, n)
}

// deed is something that a client has done, and whether it is done once.
type deed struct {
	name string
	do   func(n int) error
	once func(n int) error
}

// TestCutsAnywhere: whatever a client asks for, the line is cut at each class of bytes, of the request or of the answer: before the first, in the
// headers, in the body, before the last, after all. The client asks again, and what was to be done is done, once. With FETTLE_CUTS it is cut at 500 places of each.
func TestCutsAnywhere(t *testing.T) {
	clock := &storetest.Clock{}
	clock.Add(time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC).Sub(time.Time{}))
	g := newGroup(t, clock.Now, 1, nil)
	l := newLine(t, g.servers[0].URL)
	s := g.at(l.url()).of["p-1"]
	s.Hurry(time.Millisecond)
	ctx := t.Context()
	if _, err := s.Me(ctx); err != nil {
		t.Fatal(err)
	}
	cuts := 0
	for _, d := range deeds(ctx, s, g.stores[0]) {
		fresh(s)
		if err := errors.Join(d.do(0), d.once(0)); err != nil {
			t.Fatalf("%s over a whole line: %v", d.name, err)
		}
		l.mu.Lock()
		sent, came := l.sent, l.came
		l.mu.Unlock()
		n := 0
		try := func(up, down int64) {
			n++
			fresh(s)
			l.cut(up, down)
			if err := errors.Join(d.do(n), d.once(n)); err != nil {
				t.Errorf("%s, cut after %d bytes up and %d down of %d and %d: %v", d.name, up, down, sent, came, err)
			}
		}
		for _, at := range places(sent) {
			try(at, -1)
		}
		for _, at := range places(came) {
			try(-1, at)
		}
		cuts += n
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.cuts < cuts*3/4 {
		t.Errorf("of %d lines %d were cut: the test tries too little", cuts, l.cuts)
	}
	t.Logf("%d lines cut", l.cuts)
}

// fresh has the client begin a new connection.
func fresh(s *remote.Store) { _ = s.Close() }

// deeds are all that a client may do that changes something, and what it reads.
func deeds(ctx context.Context, s *remote.Store, beside app.Store) []deed {
	name := func(what string, n int) string { return fmt.Sprintf("%s-%04d", what, n) }
	opening := func(what string, n int) app.Change {
		return app.Change{Key: name(what, n), By: "p-1", Events: job.FromState(storetest.State(name(what, n)))}
	}
	written := func(id, key string, events int) error {
		lines, err := beside.Lines(ctx, id)
		times := 0
		for _, l := range lines {
			if l.Change == key {
				times++
			}
		}
		if err == nil && times != events {
			err = fmt.Errorf("%s has %d events of change %s, want %d", id, times, key, events)
		}
		return err
	}
	finding := func(n int) app.Change {
		f := job.Finding{ID: job.FindingID(name("D", n)), Kind: "dent", Part: "P-SKIN", Through: "unknown", Seen: "visual", By: "W2", On: unit.Date{Year: 2026, Month: 3, Day: 2}, Text: "Seen"}
		return app.Change{Key: name("find", n), By: "p-1", Events: []job.Event{{Kind: job.FindingRecorded, Data: f}}}
	}
	bytesOf := func(n int) []byte { return storetest.Text(n, 100_000) }
	files := func(n int) map[string][]byte {
		return map[string][]byte{"body.yaml": storetest.Text(n, 300), "empty.csv": {}}
	}
	aside := func(n int) map[string][]byte { return map[string][]byte{"as-written.yaml": storetest.Text(n, 300)} }
	got := func(r io.ReadCloser, _ int64, err error) ([]byte, error) {
		if err != nil {
			return nil, err
		}
		data, err := io.ReadAll(r)
		return data, errors.Join(err, r.Close())
	}
	same := func(a, b any, err error) error {
		if err == nil && !reflect.DeepEqual(a, b) {
			err = errors.New("it is another")
		}
		return err
	}
	events := len(opening("new", 0).Events)
	nothing := func(int) error { return nil }
	return []deed{
		{"create", func(n int) error { _, err := s.Create(ctx, name("new", n), opening("new", n)); return err },
			func(n int) error { return written(name("new", n), name("new", n), events) }},
		{"append", func(n int) error { _, err := s.Append(ctx, "new-0000", finding(n), nil); return err },
			func(n int) error { return written("new-0000", name("find", n), 1) }},
		{"bring", func(n int) error {
			lines, err := beside.Lines(ctx, "new-0001")
			if err == nil {
				_, err = s.Bring(ctx, name("brought", n), lines)
			}
			return err
		}, func(n int) error { return written(name("brought", n), "new-0001", events) }},
		{"set aside", func(n int) error { return s.SetAside(ctx, name("aside", n), aside(n)) },
			func(n int) error { is, err := beside.Aside(ctx, name("aside", n)); return same(is, aside(n), err) }},
		{"put", func(n int) error { _, _, err := s.Put(ctx, bytes.NewReader(bytesOf(n)), 1<<20); return err },
			func(n int) error {
				is, err := got(beside.Get(ctx, storetest.HashOf(bytesOf(n))))
				return same(is, bytesOf(n), err)
			}},
		{"keep", func(n int) error { _, err := s.Keep(ctx, files(n)); return err },
			func(n int) error {
				hash, err := beside.Keep(ctx, files(n))
				if err != nil {
					return err
				}
				is, err := s.Files(ctx, hash)
				return same(is, files(n), err)
			}},
		{"get", func(int) error {
			is, err := got(s.Get(ctx, storetest.HashOf(bytesOf(0))))
			return same(is, bytesOf(0), err)
		}, nothing},
		{"lines", func(int) error {
			is, err := s.Lines(ctx, "new-0001")
			want, bad := beside.Lines(ctx, "new-0001")
			return same(is, want, errors.Join(err, bad))
		}, nothing},
		{"list", func(int) error { _, err := s.List(ctx, "", 20); return err }, nothing},
	}
}
