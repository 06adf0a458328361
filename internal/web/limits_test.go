package web

import (
	"bufio"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

func newGet(path string) *http.Request {
	return httptest.NewRequest(http.MethodGet, "http://localhost"+path, nil)
}

// clientFrom is a client whose requests come from another address of this machine.
func clientFrom(address string) *http.Client {
	d := &net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(address)}}
	return &http.Client{Timeout: 30 * time.Second, Transport: &http.Transport{DialContext: d.DialContext, MaxIdleConnsPerHost: 100}}
}

// Whoever floods the server is refused, with the moment to come back; others are served, and soon.
func TestAFloodIsRefusedAndOthersServed(t *testing.T) {
	var at, most atomic.Int64
	pages := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		now := at.Add(1)
		defer at.Add(-1)
		for is := most.Load(); now > is && !most.CompareAndSwap(is, now); is = most.Load() {
		}
		time.Sleep(20 * time.Millisecond)
	})
	address, s, _ := running(t, Config{Pages: pages, Limits: Limits{Running: 8, Waiting: 16, Wait: 100 * time.Millisecond, Drain: time.Millisecond}})
	ctx, end := context.WithCancel(t.Context())
	var flood sync.WaitGroup
	var refused, taken, silent atomic.Int64
	for range 40 {
		flood.Go(func() {
			own := clientFrom("127.0.0.2")
			defer own.CloseIdleConnections()
			for ctx.Err() == nil {
				a, err := own.Get("http://" + address)
				if err != nil {
					silent.Add(1)
					continue
				}
				_ = a.Body.Close()
				switch {
				case a.StatusCode == 200:
					taken.Add(1)
				case a.StatusCode == 429 && a.Header.Get("Retry-After") == "1":
					refused.Add(1)
				default:
					t.Errorf("%d, Retry-After %q", a.StatusCode, a.Header.Get("Retry-After"))
				}
			}
		})
	}
	own := clientFrom("127.0.0.3")
	defer own.CloseIdleConnections()
	var took []time.Duration
	for range 50 {
		for _, path := range []string{"/", "/livez"} {
			began := time.Now()
			a, err := own.Get("http://" + address + path)
			if err != nil {
				t.Fatal(err)
			}
			_ = a.Body.Close()
			if a.StatusCode != 200 {
				t.Errorf("another client: %s %d", path, a.StatusCode)
			}
			took = append(took, time.Since(began))
		}
	}
	end()
	flood.Wait()
	slices.Sort(took)
	if p99 := took[len(took)*99/100]; p99 > time.Second {
		t.Errorf("others waited %v", p99)
	}
	if refused.Load() == 0 || taken.Load() == 0 || silent.Load() > 0 {
		t.Errorf("%d refused, %d taken, %d without an answer", refused.Load(), taken.Load(), silent.Load())
	}
	if most.Load() > 8 {
		t.Errorf("%d ran at once", most.Load())
	}
	if s.gate.in.n != 0 || len(s.gate.in.by) != 0 || len(s.gate.waiting) != 0 {
		t.Errorf("turns were not given back: %d, %v", s.gate.in.n, s.gate.in.by)
	}
	t.Logf("%d taken, %d refused of the flood; others: median %v, p99 %v", taken.Load(), refused.Load(), took[len(took)/2], took[len(took)*99/100])
}

// Nobody waits longer than is said, whoever left is not waited for, and turns are neither lost nor made.
func TestTurns(t *testing.T) {
	g := newGate(4, 8, 20*time.Millisecond)
	a, b := netip.MustParseAddr("192.0.2.1"), netip.MustParseAddr("192.0.2.2")
	var leaves []func()
	for range 3 {
		leave, err := g.enter(t.Context(), a)
		if err != nil {
			t.Fatal(err)
		}
		leaves = append(leaves, leave)
	}
	if _, err := g.enter(t.Context(), a); !errors.Is(err, errMuch) {
		t.Errorf("one client has all turns: %v", err)
	}
	leave, err := g.enter(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := g.enter(t.Context(), b); !errors.Is(err, errFull) {
		t.Errorf("there were more turns than there are: %v", err)
	}
	gone, end := context.WithCancel(t.Context())
	end()
	if _, err := g.enter(gone, b); !errors.Is(err, context.Canceled) {
		t.Errorf("who left is let in: %v", err)
	}
	got := make(chan error, 1)
	g.wait = time.Minute
	go func() {
		last, err := g.enter(t.Context(), a)
		if err == nil {
			last()
		}
		got <- err
	}()
	for len(waiting(g)) == 0 {
		time.Sleep(time.Millisecond)
	}
	leave() // of b: a has its share already
	select {
	case err := <-got:
		t.Errorf("a client got more than its share: %v", err)
	case <-time.After(20 * time.Millisecond):
	}
	leaves[0]()
	if err := <-got; err != nil {
		t.Error(err)
	}
	leaves[1]()
	leaves[2]()
	if g.in.n != 0 || len(g.in.by) != 0 {
		t.Errorf("%d in, %v", g.in.n, g.in.by)
	}
	if clientKey(netip.MustParseAddr("2001:db8::1")) != clientKey(netip.MustParseAddr("2001:db8::ffff:1")) || clientKey(a) == clientKey(b) {
		t.Error("one network of IPv6 is one client, and two addresses of IPv4 are two")
	}
}

func waiting(g *gate) []*waiter {
	g.mu.Lock()
	defer g.mu.Unlock()
	return slices.Clone(g.waiting)
}

// Whoever floods a lane, as that of signing in, keeps nobody waiting who asks for something else, though they have a hundred addresses.
func TestLanesHoldNobodyUp(t *testing.T) {
	end := make(chan struct{})
	lane := func(r *http.Request) Lane {
		if r.URL.Path == "/hash" {
			return Hashing
		}
		return Wide
	}
	s := made(t, Config{Lane: lane, Limits: Limits{Running: 2, Waiting: 2, Wait: time.Millisecond, Hash: 2, Queue: time.Minute},
		Pages: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/hash" {
				<-end
			}
		})})
	var all sync.WaitGroup
	var busy, ran atomic.Int32
	for i := range 100 {
		all.Go(func() {
			r := newGet("/hash")
			r.RemoteAddr = fmt.Sprintf("198.51.100.%d:1", i)
			w := httptest.NewRecorder()
			s.ServeHTTP(w, r)
			if w.Code == http.StatusOK {
				ran.Add(1)
			} else if w.Code == http.StatusServiceUnavailable {
				busy.Add(1)
			}
		})
	}
	for until := time.Now().Add(20 * time.Second); busy.Load() < 82 && time.Now().Before(until); { // two run, sixteen wait
		time.Sleep(time.Millisecond)
	}
	for range 20 {
		w := httptest.NewRecorder()
		if s.ServeHTTP(w, newGet("/other")); w.Code != http.StatusOK {
			t.Fatalf("somebody else: %d", w.Code)
		}
	}
	close(end)
	all.Wait()
	if busy.Load() != 82 || ran.Load() != 18 {
		t.Errorf("%d were told to come again, %d had their turn", busy.Load(), ran.Load())
	}
}

// Clients that hardly move hold nothing but their own connection, and that not for long: headers that do not end, bodies and uploads that trickle,
// answers that nobody takes, connections without a word. Others are served meanwhile.
func TestSlowClientsKeepNobodyWaiting(t *testing.T) {
	each := many(t, "FETTLE_SLOW", 300) / 5
	pages := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			_, _ = io.Copy(io.Discard, r.Body)
			return
		}
		if r.URL.Path == "/large" {
			_, _ = io.CopyN(w, zeros{}, 64<<20)
		}
	})
	limits := Limits{Running: 16, Uploads: each, Waiting: 200, Wait: 5 * time.Second, HeaderTime: 700 * time.Millisecond, Idle: 700 * time.Millisecond, Slack: 700 * time.Millisecond, Slowest: 64 << 20, Drain: time.Millisecond}
	address, s, _ := running(t, Config{Pages: pages, Limits: limits})
	heap := inUse()
	attacks := map[string]string{
		"header that does not end":    "GET / HTTP/1.1\r\nHost: localhost\r\nX: ",
		"body that trickles":          "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 60000\r\n\r\n",
		"upload that trickles":        "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 6000000\r\n\r\n",
		"body in parts that trickles": "POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n1\r\n",
		"answer that nobody takes":    "GET /large HTTP/1.1\r\nHost: localhost\r\n\r\n",
		"not a word":                  "",
	}
	var slow sync.WaitGroup
	var lasted sync.Map
	for name, begin := range attacks {
		if name == "answer that nobody takes" { // of these each has a turn while it lasts: as many as leave one for others
			slow.Go(func() { lasted.Store(name, crawl(address, begin, 8, false)) })
			continue
		}
		slow.Go(func() { lasted.Store(name, crawl(address, begin, each, begin != "")) })
	}
	time.Sleep(100 * time.Millisecond)
	own := clientFrom("127.0.0.3")
	defer own.CloseIdleConnections()
	var took []time.Duration
	for range 30 {
		began := time.Now()
		a, err := own.Get("http://" + address + "/")
		if err != nil {
			t.Fatal(err)
		}
		_ = a.Body.Close()
		if a.StatusCode != 200 {
			t.Errorf("another client: %d", a.StatusCode)
		}
		took = append(took, time.Since(began))
	}
	grown := inUse() - heap
	slow.Wait()
	slices.Sort(took)
	if worst := took[len(took)-1]; worst > time.Second {
		t.Errorf("others waited %v", worst)
	}
	lasted.Range(func(name, d any) bool {
		if d.(time.Duration) > 6*time.Second {
			t.Errorf("%s: it lasted %v", name, d)
		}
		return true
	})
	for until := time.Now().Add(5 * time.Second); s.figures.running.Load() > 0 && time.Now().Before(until); {
		time.Sleep(time.Millisecond)
	}
	if s.figures.running.Load() != 0 || s.gate.in.n != 0 || s.uploads.in.n != 0 {
		t.Errorf("%d run still, %d and %d turns are held", s.figures.running.Load(), s.gate.in.n, s.uploads.in.n)
	}
	if most := int64(each)*6*100<<10 + 32<<20; grown > most {
		t.Errorf("they took %d bytes, more than %d", grown, most)
	}
	t.Logf("%d slow clients took %d KiB; others: median %v, worst %v", each*5+8, grown>>10, took[len(took)/2], took[len(took)-1])
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { return len(p), nil }

func inUse() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapInuse + m.StackInuse)
}

// crawl begins so many requests, goes on with a byte now and then, and is how long the server put up with it.
func crawl(address, begin string, n int, trickles bool) time.Duration {
	began := time.Now()
	var all sync.WaitGroup
	for range n {
		all.Go(func() {
			c, err := net.Dial("tcp", address)
			if err != nil {
				return
			}
			defer c.Close()
			if _, err := io.WriteString(c, begin); err != nil {
				return
			}
			until := began.Add(10 * time.Second)
			if !trickles {
				time.Sleep(1500 * time.Millisecond) // and reads nothing
				_ = c.SetReadDeadline(until)
				_, _ = io.Copy(io.Discard, c)
				return
			}
			ended := make(chan struct{})
			go func() {
				defer close(ended)
				_ = c.SetReadDeadline(until)
				_, _ = io.Copy(io.Discard, c)
			}()
			for {
				select {
				case <-ended:
					return
				case <-time.After(100 * time.Millisecond):
					_, _ = io.WriteString(c, "a")
				}
			}
		})
	}
	all.Wait()
	return time.Since(began)
}

// What is too long is refused: headers (RFC 6585, 431), bodies (RFC 9110, 413), and connections beyond the last.
func TestTooMuchIsRefused(t *testing.T) {
	address, s, _ := running(t, Config{API: api(), Limits: Limits{Body: 100 << 10, Conns: 20, Drain: time.Millisecond}})
	r := newGet("/")
	r.RequestURI, r.URL.Host = "", address
	r.Header.Set("X", strings.Repeat("x", 40<<10))
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	_ = a.Body.Close()
	if a.StatusCode != http.StatusRequestHeaderFieldsTooLarge {
		t.Errorf("a header of 40 KiB: %d", a.StatusCode)
	}
	for size, want := range map[int]int{10: 200, smallBody: 200, smallBody + 1: 200, 100 << 10: 200, 100<<10 + 1: 413} {
		for _, chunked := range []bool{false, true} {
			var from io.Reader = strings.NewReader(strings.Repeat("x", size))
			if chunked {
				from = bufio.NewReader(from)
			}
			a, err := http.Post("http://"+address+"/api/take", "text/plain", from)
			if err != nil {
				t.Fatal(err)
			}
			text, _ := io.ReadAll(a.Body)
			_ = a.Body.Close()
			if a.StatusCode != want || want == 200 && string(text) != fmt.Sprint(size) {
				t.Errorf("%d bytes, chunked %v: %d %s, want %d", size, chunked, a.StatusCode, text, want)
			}
		}
	}
	http.DefaultClient.CloseIdleConnections()
	for s.figures.conns.Load() > 0 {
		time.Sleep(time.Millisecond)
	}
	var held []net.Conn
	for _, from := range []string{"127.0.0.1", "127.0.0.2"} { // 20 in all, 15 from one address
		d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}}
		for range 30 {
			c, err := d.Dial("tcp", address)
			if err != nil {
				t.Fatal(err)
			}
			held = append(held, c)
		}
	}
	open := map[string]int{}
	for _, c := range held {
		_ = c.SetReadDeadline(time.Now().Add(100 * time.Millisecond))
		if _, err := c.Read(make([]byte, 1)); errors.Is(err, os.ErrDeadlineExceeded) {
			open[c.LocalAddr().(*net.TCPAddr).IP.String()]++
		}
	}
	for _, c := range held {
		_ = c.Close()
	}
	if open["127.0.0.1"] != 15 || open["127.0.0.2"] != 5 {
		t.Errorf("connections that stay open: %v", open)
	}
	for until := time.Now().Add(5 * time.Second); s.figures.conns.Load() > 0; time.Sleep(time.Millisecond) {
		if time.Now().After(until) {
			t.Fatalf("%d connections are counted that are closed", s.figures.conns.Load())
		}
	}
}

// Whoever computes long may answer: the time for an answer runs from its first byte.
func TestALongAnswerIsNotCutOff(t *testing.T) {
	own := httptest.NewUnstartedServer(nil)
	own.StartTLS() // for its certificate
	defer own.Close()
	s := made(t, Config{Pages: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		time.Sleep(300 * time.Millisecond)
		fmt.Fprint(w, "late")
	}), Limits: Limits{Slack: 100 * time.Millisecond}})
	for _, conf := range []*tls.Config{nil, own.TLS} {
		l, err := Listen(t.Context(), "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		srv := s.httpServer()
		go func() { _ = srv.Serve(Listener{On: l, TLS: conf}.over(l)) }()
		defer srv.Close()
		client := &http.Client{Transport: &http.Transport{ForceAttemptHTTP2: true, TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
		scheme := "http"
		if conf != nil {
			scheme = "https"
		}
		a, err := client.Get(scheme + "://" + l.Addr().String() + "/")
		if err != nil {
			t.Fatal(scheme, err)
		}
		text, err := io.ReadAll(a.Body)
		if err != nil || string(text) != "late" {
			t.Errorf("HTTP/%d: %q %v", a.ProtoMajor, text, err)
		}
		_ = a.Body.Close()
	}
}

// The figures are text as Prometheus reads it ("Exposition formats", text format 0.0.4), with routes as they are declared.
func TestFigures(t *testing.T) {
	s := made(t, Config{API: api()})
	s.figures.Add(func(w io.Writer) { Gauge(w, "fettle_more", "More.", 1.5) })
	for _, path := range []string{"/api/ok", "/api/ok", "/api/panic", "/api/whatever-was-asked"} {
		asked(t, s, newGet(path))
	}
	w := httptest.NewRecorder()
	s.figures.ServeHTTP(w, newGet("/metrics"))
	text := w.Body.String()
	for _, want := range []string{
		`fettle_request_seconds_count{method="GET",route="GET /api/ok",status="2xx"} 2`, `le="+Inf"} 2`, `status="5xx"} 1`,
		"fettle_requests_running 0\n", "fettle_faults_total 1\n", "fettle_more 1.5\n", "# TYPE fettle_request_seconds histogram\n",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("there is no %q in\n%s", want, text)
		}
	}
	if strings.Contains(text, "whatever") {
		t.Error("what was asked for stands in the figures")
	}
	for line := range strings.Lines(text) {
		if !strings.HasPrefix(line, "# ") && len(strings.Fields(line[max(0, strings.LastIndex(line, "}")):])) != 2 {
			t.Errorf("no line of figures: %q", line)
		}
	}
}

// TestAConnectionThatIsGivenUpEnds: a connection on which the library notices that time has run out for its client is given up: all requests of it are
// stopped at once. So it ends with the answer, and the next request comes over another.
func TestAConnectionThatIsGivenUpEnds(t *testing.T) {
	m := http.NewServeMux()
	m.HandleFunc("POST /api/late", func(w http.ResponseWriter, r *http.Request) {
		_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(10 * time.Millisecond))
		select {
		case <-r.Context().Done():
			fmt.Fprint(w, "stopped")
		case <-time.After(5 * time.Second):
			fmt.Fprint(w, "goes on")
		}
	})
	m.HandleFunc("GET /api/next", func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, r.Context().Err()) })
	at, _, _ := running(t, Config{API: m})
	get := func(method, path, body string) (string, bool) {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), method, "http://"+at+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		got, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(got.Body)
		if err := errors.Join(err, got.Body.Close()); err != nil {
			t.Error(err)
		}
		return string(text), got.Close
	}
	if said, ends := get("POST", "/api/late", "x"); said != "stopped" || !ends {
		t.Errorf("%s, and the connection ends: %v", said, ends)
	}
	if said, _ := get("GET", "/api/next", ""); said != "<nil>" {
		t.Errorf("the next request is %s", said)
	}
}
