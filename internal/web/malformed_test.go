package web

import (
	"crypto/tls"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// malformed are requests that are none, or that two programs could read differently (RFC 9112, 3 to 7 and 11; RFC 9110, 5.5): what is
// sent, and how many requests a handler may see of it.
var malformed = []struct {
	name, sends string
	handled     int64
}{
	{"no request line", "\r\n\r\n\r\n", 0},
	{"a line without end", "GET / HTTP/1.1", 0},
	{"two words", "GET /\r\n\r\n", 0},
	{"four words", "GET / x HTTP/1.1\r\nHost: localhost\r\n\r\n", 0},
	{"no version", "GET / HTTP/x\r\nHost: localhost\r\n\r\n", 0},
	{"a version to come", "GET / HTTP/3.0\r\nHost: localhost\r\n\r\n", 0},
	{"no method", "G@T / HTTP/1.1\r\nHost: localhost\r\n\r\n", 0},
	{"no host", "GET / HTTP/1.1\r\n\r\n", 0},
	{"two hosts", "GET / HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n", 0},
	{"a host that is none", "GET / HTTP/1.1\r\nHost: local host\r\n\r\n", 0},
	{"another's host", "GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n", 0},
	{"another's address in the line", "GET http://evil.example/ HTTP/1.1\r\nHost: localhost\r\n\r\n", 0},
	{"a way through", "CONNECT evil.example:443 HTTP/1.1\r\nHost: evil.example\r\n\r\n", 0},
	{"a name with a space", "GET / HTTP/1.1\r\nHost : localhost\r\n\r\n", 0},
	{"a folded line", "GET / HTTP/1.1\r\nHost: localhost\r\nX: a\r\n b\r\n\r\n", 1}, // is read as one
	{"a zero in a value", "GET / HTTP/1.1\r\nHost: localhost\r\nX: a\x00b\r\n\r\n", 0},
	{"a line end alone in a value", "GET / HTTP/1.1\r\nHost: localhost\r\nX: a\rb\r\n\r\n", 0},
	{"two lengths", "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1\r\nContent-Length: 30\r\n\r\nxGET / HTTP/1.1\r\nHost: localhost\r\n\r\n", 0},
	{"a length below zero", "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: -1\r\n\r\nx", 0},
	{"a length with a sign", "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: +1\r\n\r\nx", 0},
	{"a length beyond all", "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99999999999999999999\r\n\r\nx", 0},
	{"a length and parts", "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /smuggled HTTP/1.1\r\nHost: localhost\r\n\r\n", 1},
	{"parts of another kind", "POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: xchunked\r\n\r\n0\r\n\r\n", 0},
	{"parts twice", "POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked, chunked\r\n\r\n0\r\n\r\n", 0},
	{"a part of no length", "POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\nx\r\n0\r\n\r\n", 1},
	{"a part longer than all", "POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\nfffffffffffffffff\r\nx", 1},
	{"a part shorter than it says", "POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n5\r\nx\r\n0\r\n\r\n", 1},
	{"parts with much beside them", "POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n1;" + strings.Repeat("a=b;", 9000) + "\r\nx\r\n0\r\n\r\n", 1},
	{"very many fields", "GET / HTTP/1.1\r\nHost: localhost\r\n" + strings.Repeat("X: y\r\n", 20000) + "\r\n", 0},
	{"a very long address", "GET /" + strings.Repeat("a", 64<<10) + " HTTP/1.1\r\nHost: localhost\r\n\r\n", 0},
	{"an address that is coded wrong", "GET /%zz HTTP/1.1\r\nHost: localhost\r\n\r\n", 0},
	{"words of HTTP/2", "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\x00\x00\x00\x04\x00\x00\x00\x00\x00", 0},
	{"words of TLS", "\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", 0},
	{"an expectation that nobody knows", "POST / HTTP/1.1\r\nHost: localhost\r\nExpect: miracles\r\nContent-Length: 1\r\n\r\nx", 0},
}

// None of them reaches a handler that is not a request, nor as two; none makes the program fail, and it serves as before. FETTLE_MALFORMED of
// each class are sent, all but the first with a byte that was changed by chance, which may make one request of them, or two.
func TestMalformedRequests(t *testing.T) {
	each := many(t, "FETTLE_MALFORMED", 8)
	var handled atomic.Int64
	pages := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		handled.Add(1)
		_, _ = io.Copy(io.Discard, r.Body)
	})
	address, s, _ := running(t, Config{Pages: pages, Hosts: Loopback(), Limits: Limits{Slack: 200 * time.Millisecond, HeaderTime: 200 * time.Millisecond, Idle: 200 * time.Millisecond, Drain: time.Millisecond}})
	heap := inUse()
	draw := rand.New(rand.NewPCG(20, 24))
	for _, c := range malformed {
		before := handled.Load()
		answer := sent(t, address, c.sends)
		if got := handled.Load() - before; got != c.handled {
			t.Errorf("%s: a handler saw %d requests, want %d: %.60q", c.name, got, c.handled, answer)
		}
		if c.handled == 0 && strings.HasPrefix(answer, "HTTP/1.1 2") {
			t.Errorf("%s: %.60q", c.name, answer)
		}
		done := make(chan struct{}, 16)
		for range each {
			text := []byte(c.sends)
			text[draw.IntN(min(len(text), 200))] = byte(draw.IntN(256))
			done <- struct{}{}
			go func() {
				defer func() { <-done }()
				_ = sent(t, address, string(text))
			}()
		}
		for range cap(done) {
			done <- struct{}{}
		}
	}
	if n := s.figures.panics.Load(); n != 0 {
		t.Errorf("%d faults", n)
	}
	if a, err := http.Get("http://" + address + "/"); err != nil || a.StatusCode != 200 {
		t.Errorf("it does not serve any more: %v", err)
	}
	if grown := inUse() - heap; grown > 32<<20 {
		t.Errorf("%d bytes are held", grown)
	}
	t.Logf("%d classes, %d of each, 0 faults", len(malformed), each+1)
}

// sent is what is answered to bytes, until the server has no more to say.
func sent(t *testing.T, address, text string) string {
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Error(err)
		return ""
	}
	defer c.Close()
	_ = c.SetDeadline(time.Now().Add(20 * time.Second))
	go func() { _, _ = io.WriteString(c, text) }() // it may end before it has all
	answer, _ := io.ReadAll(c)                     // likewise
	return string(answer)
}

// Over HTTP/2 the same holds: headers, limits, faults and streams.
func TestHTTP2(t *testing.T) {
	m := &movesIn{woken: make(chan struct{}, 1)}
	h := NewHub(HubSettings{From: m, Woken: m.woken, Gather: time.Millisecond})
	go h.Run(t.Context())
	all := http.NewServeMux()
	all.Handle("/api/", api())
	all.HandleFunc("/api/stream", func(w http.ResponseWriter, r *http.Request) {
		h.Serve(w, r, Stream{Only: func(Move) bool { return true }, Still: may})
	})
	s := made(t, Config{API: all, Limits: Limits{Body: 100 << 10}})
	l, err := Listen(t.Context(), "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	own := httptest.NewUnstartedServer(nil)
	own.StartTLS() // for its certificate
	defer own.Close()
	srv := s.httpServer()
	go func() { _ = srv.Serve(Listener{On: l, TLS: own.TLS}.over(l)) }()
	defer srv.Close()
	client := &http.Client{Transport: &http.Transport{ForceAttemptHTTP2: true, TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	get := func(method, path string, body io.Reader) *http.Response {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), method, "https://"+l.Addr().String()+path, body)
		if err != nil {
			t.Fatal(err)
		}
		a, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = a.Body.Close() })
		return a
	}
	for _, c := range []struct {
		method, path, body string
		want               int
	}{{"GET", "/api/ok", "", 200}, {"GET", "/api/panic", "", 500}, {"GET", "/api/none", "", 204}, {"POST", "/api/take", strings.Repeat("x", 90<<10), 200}, {"POST", "/api/take", strings.Repeat("x", 101<<10), 413}} {
		a := get(c.method, c.path, strings.NewReader(c.body))
		if a.ProtoMajor != 2 || a.StatusCode != c.want || a.Header.Get(overTLS.name) == "" || a.Header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: HTTP/%d %d %v", c.path, a.ProtoMajor, a.StatusCode, a.Header)
		}
	}
	stream := get("GET", "/api/stream", nil)
	m.add(Move{Job: "A-1", Seq: 1})
	seen := ""
	b := make([]byte, 1000)
	for !strings.Contains(seen, `data: {"job":"A-1","seq":1}`) {
		n, err := stream.Body.Read(b)
		if err != nil {
			t.Fatal(err, seen)
		}
		seen += string(b[:n])
	}
	if late := get("GET", "/api/late", nil); late.StatusCode == 200 {
		if text, err := io.ReadAll(late.Body); err == nil {
			t.Errorf("half an answer was taken for whole: %q", text)
		}
	}
}
