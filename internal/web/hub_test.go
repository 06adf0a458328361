package web

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// movesIn is what was written, in memory.
type movesIn struct {
	mu    sync.Mutex
	all   []Move
	fault error
	woken chan struct{}
}

func (m *movesIn) Newest(context.Context) (int64, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return int64(len(m.all)) - 1, m.fault
}

func (m *movesIn) After(_ context.Context, n int64, most int) ([]Move, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.fault != nil {
		return nil, m.fault
	}
	rest := m.all[min(n+1, int64(len(m.all))):]
	return slices.Clone(rest[:min(most, len(rest))]), nil
}

func (m *movesIn) add(moves ...Move) {
	m.mu.Lock()
	for _, x := range moves {
		x.N = int64(len(m.all))
		m.all = append(m.all, x)
	}
	m.mu.Unlock()
	select {
	case m.woken <- struct{}{}:
	default:
	}
}

func (m *movesIn) fail(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.fault = err
}

// hubbed serves streams of one shop; still says whether they may go on.
func hubbed(t *testing.T, s HubSettings, still func(context.Context) error) (address string, m *movesIn, h *Hub) {
	t.Helper()
	m = &movesIn{woken: make(chan struct{}, 1)}
	s.From, s.Woken, s.Gather = m, m.woken, or(s.Gather, time.Millisecond)
	h = NewHub(s)
	ctx, end := context.WithCancel(t.Context())
	var run sync.WaitGroup
	run.Go(func() { h.Run(ctx) })
	pages := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		shop := r.URL.Query().Get("shop")
		h.Serve(w, r, Stream{Only: func(m Move) bool { return m.Shop == shop }, Still: still})
	})
	address, _, _ = running(t, Config{Pages: pages, Limits: Limits{Running: 4, Drain: time.Millisecond, Slack: 2 * time.Second}})
	t.Cleanup(func() {
		end()
		run.Wait()
	})
	return address, m, h
}

func may(context.Context) error { return nil }

// listener is a client of a stream.
type hearing struct {
	a    *http.Response
	from *bufio.Reader
}

func hear(t *testing.T, address, query, last string) *hearing {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+address+"/?"+query, nil)
	if err != nil {
		t.Fatal(err)
	}
	if last != "" {
		r.Header.Set("Last-Event-ID", last)
	}
	a, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = a.Body.Close() })
	if a.StatusCode != 200 || !strings.HasPrefix(a.Header.Get("Content-Type"), "text/event-stream") || a.Header.Get("Cache-Control") != "no-store" {
		t.Fatalf("%d %v", a.StatusCode, a.Header)
	}
	return &hearing{a, bufio.NewReader(a.Body)}
}

// next is the next event that has data, and the identity that a browser notes.
func (h *hearing) next(t *testing.T) (id, what, data string) {
	t.Helper()
	for {
		line, err := h.from.ReadString('\n')
		if err != nil {
			return id, "", err.Error()
		}
		name, value, _ := strings.Cut(strings.TrimSuffix(line, "\n"), ": ")
		switch name {
		case "id":
			id = value
		case "event":
			what = value
		case "data":
			data = value
		case "":
			if what != "" {
				return id, what, data
			}
		}
	}
}

// A stream tells of the jobs of one shop, each once where it moved several times meanwhile; whoever comes back hears what it missed, also on
// another server and after a restart, and where that is too much or cannot be, that it has to begin anew.
func TestStreamsTellWhatMoved(t *testing.T) {
	address, m, h := hubbed(t, HubSettings{Keep: 8, Replay: 3000}, may)
	a := hear(t, address, "shop=a", "")
	if id, what, _ := a.next(t); what != "begin" || id != "-1" {
		t.Fatalf("%s %s", id, what)
	}
	m.add(Move{Job: "A-1", Seq: 1, Shop: "a"})
	if id, what, data := a.next(t); id != "0" || what != "job" || data != `{"job":"A-1","seq":1}` {
		t.Fatalf("%s %s %s", id, what, data)
	}
	m.add(Move{Job: "B-1", Seq: 1, Shop: "b"}, Move{Shop: "a"}, Move{Job: "A-2", Seq: 5, Shop: "a"}, Move{Job: "A-1", Seq: 2, Shop: "a"}, Move{Job: "A-1", Seq: 3, Shop: "a"})
	if id, _, data := a.next(t); id != "3" || data != `{"job":"A-2","seq":5}` {
		t.Errorf("%s %s", id, data)
	}
	if id, _, data := a.next(t); id != "5" || data != `{"job":"A-1","seq":3}` {
		t.Errorf("%s %s", id, data)
	}
	back := hear(t, address, "shop=a", "0")
	if id, _, data := back.next(t); id != "3" || data != `{"job":"A-2","seq":5}` {
		t.Errorf("who comes back hears %s %s", id, data)
	}
	for range 2500 { // more than is kept, and more than is read at once
		m.add(Move{Job: "B-1", Shop: "b"})
	}
	m.add(Move{Job: "A-9", Seq: 9, Shop: "a"})
	for until := time.Now().Add(5 * time.Second); h.atNow() < 2506 && time.Now().Before(until); {
		time.Sleep(time.Millisecond)
	}
	late := hear(t, address, "shop=a", "4")
	if id, _, data := late.next(t); id != "5" || data != `{"job":"A-1","seq":3}` {
		t.Errorf("who comes back late hears %s %s", id, data)
	}
	if id, _, data := late.next(t); id != "2506" || data != `{"job":"A-9","seq":9}` {
		t.Errorf("and then %s %s", id, data)
	}
	for range 600 {
		m.add(Move{Job: "B-1", Shop: "b"})
	}
	for until := time.Now().Add(5 * time.Second); h.atNow() < 3106 && time.Now().Before(until); {
		time.Sleep(time.Millisecond)
	}
	for _, last := range []string{"4", "99999", "nonsense", "-2"} { // too long ago; from before the store was brought back from a backup; forged
		if id, what, _ := hear(t, address, "shop=a", last).next(t); id != "3106" || what != "again" {
			t.Errorf("%s: %s %s", last, id, what)
		}
	}
	other := NewHub(HubSettings{From: m, Keep: 8})
	if !other.begin(t.Context()) || other.atNow() != 3106 || len(other.kept) != 8 {
		t.Errorf("another server begins at %d with %d", other.atNow(), len(other.kept))
	}
}

// Nothing is told to whoever may not hear it any more: the right is asked for before each thing that is told.
func TestStreamsEndWithTheRight(t *testing.T) {
	var mayNot atomic.Bool
	address, m, h := hubbed(t, HubSettings{}, func(context.Context) error {
		if mayNot.Load() {
			return errors.New("signed out")
		}
		return nil
	})
	a := hear(t, address, "shop=a", "")
	a.next(t)
	mayNot.Store(true)
	m.add(Move{Job: "A-1", Seq: 1, Shop: "a"})
	if _, what, data := a.next(t); what != "" {
		t.Errorf("it was told of %s", data)
	}
	for until := time.Now().Add(5 * time.Second); h.Open() > 0; time.Sleep(time.Millisecond) {
		if time.Now().After(until) {
			t.Fatal("the stream goes on")
		}
	}
	nobody := NewHub(HubSettings{From: m})
	quiet := &told{hub: nobody}
	if quiet.still(t.Context()) == nil {
		t.Error("a stream without a right goes on")
	}
}

// A stream holds no turn, so that more of them than turns leave room for requests; signs of life have the client note where it is; and where moves
// cannot be read it goes on once they can.
func TestStreamsHoldNoTurn(t *testing.T) {
	var failed atomic.Int64
	address, m, h := hubbed(t, HubSettings{Beat: 20 * time.Millisecond, Look: 5 * time.Millisecond, Streams: 40, Failed: func(error) { failed.Add(1) }}, may)
	var all []*hearing
	for range 30 { // 4 turns; three quarters of 40 streams from one address
		x := hear(t, address, "shop=a", "")
		x.next(t)
		all = append(all, x)
	}
	a, err := http.Get("http://" + address + "/?shop=a")
	if err != nil {
		t.Fatal(err)
	}
	if _ = a.Body.Close(); a.StatusCode != 503 || a.Header.Get("Retry-After") == "" {
		t.Errorf("one too many: %d", a.StatusCode)
	}
	m.fail(errors.New("the database is gone"))
	time.Sleep(30 * time.Millisecond)
	m.fail(nil)
	m.add(Move{Job: "B-1", Shop: "b"}, Move{Job: "B-2", Shop: "b"})
	for until := time.Now().Add(5 * time.Second); ; {
		line, err := all[7].from.ReadString('\n')
		if err != nil || time.Now().After(until) {
			t.Fatalf("no sign of life tells where it is: %v", err)
		}
		if line == "id: 1\n" {
			break
		}
	}
	m.add(Move{Job: "A-1", Seq: 3, Shop: "a"})
	for _, x := range all {
		if _, _, data := x.next(t); data != `{"job":"A-1","seq":3}` {
			t.Fatal(data)
		}
	}
	if failed.Load() == 0 {
		t.Error("nobody was told that moves could not be read")
	}
	for _, x := range all {
		_ = x.a.Body.Close()
	}
	for until := time.Now().Add(5 * time.Second); h.Open() > 0; time.Sleep(time.Millisecond) {
		if time.Now().After(until) {
			t.Fatalf("%d streams of clients that have left", h.Open())
		}
	}
}

// TestStreamServer is the other program of the test below.
func TestStreamServer(t *testing.T) {
	if os.Getenv("FETTLE_STREAM_SERVER") == "" {
		t.Skip("another test runs it as a program of its own")
	}
	m := &movesIn{woken: make(chan struct{}, 1)}
	h := NewHub(HubSettings{From: m, Woken: m.woken, Streams: 20000, Beat: 5 * time.Second})
	go h.Run(t.Context())
	pages := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h.Serve(w, r, Stream{Only: func(Move) bool { return true }, Still: may})
	})
	address, _, _ := running(t, Config{Pages: pages, Limits: Limits{Conns: 20000, Drain: time.Millisecond}})
	fmt.Println("AT", address)
	for in := bufio.NewScanner(os.Stdin); in.Scan(); {
		var n int
		if _, err := fmt.Sscanf(in.Text(), "publish %d", &n); err == nil {
			for i := range n {
				m.add(Move{Job: fmt.Sprintf("J-%d", i%50), Seq: int64(i), Shop: "a"})
			}
		}
		runtime.GC()
		var s runtime.MemStats
		runtime.ReadMemStats(&s)
		fmt.Println("IS", h.Open(), s.HeapInuse+s.StackInuse, s.Sys-s.HeapReleased)
	}
}

// So many clients listen at once, a tenth of which take nothing of what they are sent: each costs little, all others hear of what moved, and
// what they held is given back.
func TestManyStreamsCostLittle(t *testing.T) {
	clients := many(t, "FETTLE_STREAMS", 300)
	server := exec.Command(os.Args[0], "-test.run=^TestStreamServer$", "-test.timeout=10m")
	server.Env = append(os.Environ(), "FETTLE_STREAM_SERVER=1", "GOCOVERDIR="+t.TempDir())
	in, err := server.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := server.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := server.Start(); err != nil {
		t.Fatal(err)
	}
	said := bufio.NewScanner(out)
	defer func() {
		_ = in.Close()
		for said.Scan() { // it may end only once it is heard
		}
		if err := server.Wait(); err != nil {
			t.Error(err)
		}
	}()
	line := func(format string, to ...any) {
		t.Helper()
		for said.Scan() {
			if _, err := fmt.Sscanf(said.Text(), format, to...); err == nil {
				return
			}
		}
		t.Fatal("the server has ended")
	}
	var address string
	line("AT %s", &address)
	type is struct {
		open           int
		inUse, fromSys int64
	}
	ask := func(words string) (s is) {
		t.Helper()
		if _, err := io.WriteString(in, words+"\n"); err != nil {
			t.Fatal(err)
		}
		line("IS %d %d %d", &s.open, &s.inUse, &s.fromSys)
		return s
	}
	before := ask("how")
	conns := make([]net.Conn, clients)
	for i := range conns {
		if conns[i], err = net.Dial("tcp", address); err != nil {
			t.Fatal(err)
		}
		defer conns[i].Close()
		if _, err := io.WriteString(conns[i], "GET / HTTP/1.1\r\nHost: localhost\r\n\r\n"); err != nil {
			t.Fatal(err)
		}
		until(t, conns[i], "event: begin")
	}
	takes := conns[clients/10:]
	listening := ask("how")
	began := time.Now()
	ask("publish 100")
	for _, c := range takes {
		until(t, c, "id: 99\n")
	}
	took := time.Since(began)
	after := ask("publish 20000") // nobody takes these
	each := (max(listening.inUse, after.inUse) - before.inUse) / int64(clients)
	t.Logf("%d streams: %d open, %d KiB each, %d MiB from the system; the last of them heard of 100 moves after %v", clients, listening.open, each>>10, after.fromSys>>20, took.Round(time.Millisecond))
	if listening.open != clients {
		t.Errorf("%d streams are open, want %d", listening.open, clients)
	}
	if used, most := max(listening.inUse, after.inUse)-before.inUse, int64(clients)*64<<10+16<<20; used > most { // 16 MiB: what was written, in this server's memory
		t.Errorf("they take %d bytes, more than %d", used, most)
	}
	for _, c := range conns {
		_ = c.Close()
	}
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		if s := ask("how"); s.open == 0 {
			break
		} else if time.Now().After(end) {
			t.Fatalf("%d streams are open of clients that have left", s.open)
		}
	}
}

// until reads from a connection until something has come.
func until(t *testing.T, c net.Conn, want string) {
	t.Helper()
	_ = c.SetReadDeadline(time.Now().Add(60 * time.Second))
	var got []byte
	b := make([]byte, 4096)
	for !strings.Contains(string(got), want) {
		n, err := c.Read(b)
		if err != nil {
			t.Fatalf("%v, after %q", err, got)
		}
		if got = append(got, b[:n]...); len(got) > 1<<20 {
			got = got[1<<19:]
		}
	}
}
