package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"
	"time"
)

// asked is what a server answers to one request.
func asked(t *testing.T, s http.Handler, r *http.Request) *http.Response {
	t.Helper()
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w.Result()
}

func made(t *testing.T, c Config) *Server {
	t.Helper()
	s, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	s.become(Serving)
	return s
}

// running serves on a port of this machine until the test ends; the answer stops it.
func running(t *testing.T, c Config) (address string, s *Server, stop func() error) {
	t.Helper()
	s, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	ctx, end := context.WithCancel(t.Context())
	l, err := Listen(ctx, "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, Listener{On: l}) }()
	ended := false
	stop = func() error {
		end()
		if ended {
			return nil
		}
		ended = true
		select {
		case err := <-done:
			return err
		case <-time.After(20 * time.Second):
			return errors.New("it does not stop")
		}
	}
	t.Cleanup(func() {
		if err := stop(); err != nil {
			t.Error(err)
		}
	})
	for until := time.Now().Add(5 * time.Second); s.state.is() != Serving && time.Now().Before(until); {
		time.Sleep(time.Millisecond)
	}
	return l.Addr().String(), s, stop
}

// api answers in the ways that handlers do, with faults among them.
func api() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET /api/ok", func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, "fine") })
	m.HandleFunc("POST /api/take", func(w http.ResponseWriter, r *http.Request) {
		n, err := io.Copy(io.Discard, r.Body)
		if e := (*http.MaxBytesError)(nil); errors.As(err, &e) {
			http.Error(w, "too large", http.StatusRequestEntityTooLarge)
			return
		}
		fmt.Fprint(w, n)
	})
	m.HandleFunc("GET /api/panic", func(http.ResponseWriter, *http.Request) { panic("secret of the inside") })
	m.HandleFunc("GET /api/late", func(w http.ResponseWriter, r *http.Request) {
		fmt.Fprint(w, "half")
		_ = http.NewResponseController(w).Flush()
		panic("secret of the inside")
	})
	m.HandleFunc("GET /api/error", func(w http.ResponseWriter, r *http.Request) { http.Error(w, "no", http.StatusTeapot) })
	m.HandleFunc("GET /api/none", func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(http.StatusNoContent) })
	m.HandleFunc("GET /api/moved", func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/api/ok", http.StatusSeeOther) })
	m.HandleFunc("GET /api/range", func(w http.ResponseWriter, r *http.Request) {
		http.ServeContent(w, r, "", time.Time{}, strings.NewReader("0123456789"))
	})
	return m
}

// Every answer has every header of OWASP ASVS 5.0, 3.4.1 to 3.4.8 that is for a server of data, whoever wrote it: a handler, the library, the
// shell, a fault. Where it came over TLS it says so, and nowhere else (RFC 6797, 7.2).
func TestEveryAnswerHasTheHeaders(t *testing.T) {
	s := made(t, Config{API: api()})
	busy := made(t, Config{API: api(), Limits: Limits{Running: 1, Waiting: 1, Wait: time.Nanosecond}})
	leave, err := busy.gate.enter(t.Context(), netip.MustParseAddr("192.0.2.1"))
	if err != nil {
		t.Fatal(err)
	}
	defer leave()
	for _, c := range []struct {
		name, method, path string
		of                 *Server
		header             http.Header
		host               string
		want               int
	}{
		{"answer", "GET", "/api/ok", s, nil, "", 200},
		{"nothing", "GET", "/api/none", s, nil, "", 204},
		{"redirect", "GET", "/api/moved", s, nil, "", 303},
		{"part", "GET", "/api/range", s, http.Header{"Range": {"bytes=2-3"}}, "", 206},
		{"no such part", "GET", "/api/range", s, http.Header{"Range": {"bytes=20-30"}}, "", 416},
		{"error of a handler", "GET", "/api/error", s, nil, "", 418},
		{"fault", "GET", "/api/panic", s, nil, "", 500},
		{"no such route", "GET", "/api/x", s, nil, "", 404},
		{"no such method", "DELETE", "/api/ok", s, nil, "", 405},
		{"no page", "GET", "/x", s, nil, "", 404},
		{"alive", "GET", "/livez", s, nil, "", 200},
		{"ready", "HEAD", "/readyz", s, nil, "", 200},
		{"health written", "POST", "/readyz", s, nil, "", 405},
		{"another site", "POST", "/api/take", s, http.Header{"Sec-Fetch-Site": {"cross-site"}}, "", 403},
		{"another name", "GET", "/api/ok", made(t, Config{API: api(), Hosts: Loopback()}), nil, "evil.example", 421},
		{"busy", "GET", "/api/ok", busy, nil, "", 429},
		{"not ready", "GET", "/readyz", made(t, Config{Ready: func(context.Context) error { return errors.New("x") }}), nil, "", 503},
	} {
		for _, scheme := range []string{"http", "https"} {
			t.Run(c.name+" "+scheme, func(t *testing.T) {
				r := httptest.NewRequest(c.method, scheme+"://localhost"+c.path, nil)
				for k, v := range c.header {
					r.Header[k] = v
				}
				if c.host != "" {
					r.Host = c.host
				}
				a := asked(t, c.of, r)
				if a.StatusCode != c.want {
					t.Errorf("status %d, want %d", a.StatusCode, c.want)
				}
				for _, h := range append(headers, header{"X-Request-Id", ""}) {
					if got := a.Header.Values(h.name); len(got) != 1 || h.value != "" && got[0] != h.value || got[0] == "" {
						t.Errorf("%s is %q", h.name, got)
					}
				}
				if got := a.Header.Get(overTLS.name); (got != "") != (scheme == "https") {
					t.Errorf("%s: %s is %q", scheme, overTLS.name, got)
				}
				if a.StatusCode >= 500 && a.Header.Get("Content-Type") != problemType {
					t.Errorf("an error of the shell is %q", a.Header.Get("Content-Type"))
				}
			})
		}
	}
}

// A page keeps what it says itself about what it may load.
func TestPagesSayTheirOwn(t *testing.T) {
	s := made(t, Config{Pages: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'self'")
		w.Header().Set("Cache-Control", "max-age=60")
		w.Header().Set("X-Powered-By", "something 1.2")
	})})
	h := asked(t, s, httptest.NewRequest("GET", "/", nil)).Header
	if h.Get("Content-Security-Policy") != "default-src 'self'" || h.Get("Cache-Control") != "max-age=60" || h.Get("X-Powered-By") != "" {
		t.Errorf("%v", h)
	}
}

// A fault of the program is answered by its identity alone; the log has the identity and where it was; the server lives.
func TestAFaultIsToldByItsIdentity(t *testing.T) {
	var log bytes.Buffer
	address, s, stop := running(t, Config{API: api(), Log: slog.New(slog.NewJSONHandler(&log, nil)), Limits: Limits{Drain: time.Millisecond}})
	a, err := http.Get("http://" + address + "/api/panic")
	if err != nil {
		t.Fatal(err)
	}
	var p Problem
	text, err := io.ReadAll(a.Body)
	if err := errors.Join(err, a.Body.Close(), json.Unmarshal(text, &p)); err != nil || p.Status != 500 || p.ID == "" || p.ID != a.Header.Get("X-Request-Id") || p.Code != "web.fault" {
		t.Fatalf("%v: %s", err, text)
	}
	if bytes.Contains(text, []byte("secret")) || bytes.Contains(text, []byte(".go")) {
		t.Errorf("it says what is inside: %s", text)
	}
	if late, err := http.Get("http://" + address + "/api/late"); err == nil {
		if text, err := io.ReadAll(late.Body); err == nil {
			t.Errorf("half an answer was taken for whole: %q", text)
		}
		_ = late.Body.Close()
	}
	if a, err := http.Get("http://" + address + "/api/ok"); err != nil || a.StatusCode != 200 {
		t.Errorf("it does not live: %v", err)
	}
	if got := s.figures.panics.Load(); got != 2 {
		t.Errorf("%d faults were counted, want 2", got)
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{p.ID, "secret of the inside", "web_test.go"} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("the log has no %q", want)
		}
	}
}

// Nobody is believed about where a request comes from, unless his address is one of the proxies. The forgeries are those headers of
// proxies and frameworks that are in use (OWASP ASVS 5.0, 4.1.3 and 15.3.4).
func TestForgedProxyHeadersAreNotBelieved(t *testing.T) {
	forgeries := []http.Header{
		{"X-Forwarded-For": {"10.9.8.7"}}, {"X-Forwarded-For": {"127.0.0.1, 10.9.8.7"}}, {"X-Forwarded-For": {"10.9.8.7", "127.0.0.1"}}, {"X-Forwarded-For": {"::ffff:10.9.8.7"}},
		{"X-Forwarded-Proto": {"https"}}, {"X-Forwarded-Proto": {"https", "https"}}, {"X-Forwarded-Ssl": {"on"}}, {"Front-End-Https": {"on"}}, {"X-Url-Scheme": {"https"}}, {"X-Forwarded-Scheme": {"https"}},
		{"Forwarded": {"for=10.9.8.7;proto=https"}}, {"Forwarded": {`for="[2001:db8::1]"`}}, {"X-Real-Ip": {"10.9.8.7"}}, {"X-Client-Ip": {"10.9.8.7"}}, {"X-Cluster-Client-Ip": {"10.9.8.7"}}, {"True-Client-Ip": {"10.9.8.7"}},
		{"Cf-Connecting-Ip": {"10.9.8.7"}}, {"Fastly-Client-Ip": {"10.9.8.7"}}, {"X-Forwarded-Host": {"evil.example"}}, {"X-Original-Url": {"/api/other"}}, {"X-Rewrite-Url": {"/api/other"}}, {"X-Http-Method-Override": {"DELETE"}}, {"X-Remote-User": {"admin"}},
	}
	type seen struct {
		client       netip.Addr
		secure       bool
		path, method string
		left         string
	}
	got := func(s *Server, of http.Header) seen {
		r := httptest.NewRequest("GET", "http://localhost/x", nil)
		r.RemoteAddr = "198.51.100.4:4711"
		for k, v := range of {
			r.Header[k] = v
		}
		var is seen
		s.set.Pages = http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
			is = seen{Client(r.Context()), Secure(r.Context()), r.URL.Path, r.Method, ""}
			for k := range of {
				is.left += r.Header.Get(k)
			}
		})
		asked(t, s, r)
		return is
	}
	if len(forgeries) < 20 {
		t.Fatal("too few")
	}
	plain := seen{netip.MustParseAddr("198.51.100.4"), false, "/x", "GET", ""}
	near := []netip.Prefix{netip.MustParsePrefix("198.51.100.5/32")} // another machine
	for _, f := range forgeries {
		for _, s := range []*Server{made(t, Config{}), made(t, Config{Proxies: near})} {
			if is := got(s, f); is != plain {
				t.Errorf("%v is believed: %+v", f, is)
			}
		}
	}
	proxies := []netip.Prefix{netip.MustParsePrefix("198.51.100.0/24"), netip.MustParsePrefix("203.0.113.7/32")}
	for _, c := range []struct {
		told   string
		client string
	}{
		{"10.9.8.7", "10.9.8.7"}, {"1.1.1.1, 10.9.8.7", "10.9.8.7"}, {"10.9.8.7, 203.0.113.7", "10.9.8.7"}, {"1.1.1.1, nonsense", "198.51.100.4"},
		{"nonsense, 10.9.8.7, 203.0.113.7", "10.9.8.7"}, {"", "198.51.100.4"},
	} {
		is := got(made(t, Config{Proxies: proxies}), http.Header{"X-Forwarded-For": {c.told}, "X-Forwarded-Proto": {"https"}})
		if is.client.String() != c.client || !is.secure {
			t.Errorf("%q from a proxy that is believed: %+v, want %s over TLS", c.told, is, c.client)
		}
	}
}

// A form of another site changes nothing: twelve ways in which a browser sends one (Fetch, "Sec-Fetch-Site"; RFC 6454, 7). What
// programs send, and pages of this server, goes through.
func TestOtherSitesCannotAct(t *testing.T) {
	took := 0
	s := made(t, Config{Hosts: []string{"shop.lan"}, API: http.HandlerFunc(func(http.ResponseWriter, *http.Request) { took++ })})
	send := func(method string, h http.Header) int {
		r := httptest.NewRequest(method, "https://shop.lan/api/take", strings.NewReader("a=1"))
		for k, v := range h {
			r.Header[k] = v
		}
		return asked(t, s, r).StatusCode
	}
	forms := []http.Header{
		{"Sec-Fetch-Site": {"cross-site"}}, {"Sec-Fetch-Site": {"same-site"}}, {"Origin": {"https://evil.example"}}, {"Origin": {"null"}},
		{"Origin": {"http://shop.lan.evil.example"}}, {"Origin": {"https://shop.lan:444"}}, {"Origin": {"https://a.shop.lan"}}, {"Origin": {"https://shop.lan@evil.example"}},
		{"Sec-Fetch-Site": {"cross-site"}, "Origin": {"https://shop.lan"}}, {"Sec-Fetch-Site": {"unknown"}}, {"Sec-Fetch-Site": {"cross-site"}, "Authorization": {"Bearer x"}}, {"Sec-Fetch-Site": {"cross-site"}, "Content-Type": {"text/plain"}},
	}
	for _, method := range []string{"POST", "PUT", "PATCH", "DELETE"} {
		for _, h := range forms {
			if got := send(method, h); got != http.StatusForbidden {
				t.Errorf("%s %v: %d", method, h, got)
			}
		}
	}
	if took != 0 {
		t.Fatalf("%d were taken", took)
	}
	for _, h := range []http.Header{{}, {"Sec-Fetch-Site": {"same-origin"}}, {"Sec-Fetch-Site": {"none"}}, {"Origin": {"https://shop.lan"}}} {
		if got := send("POST", h); got != http.StatusOK {
			t.Errorf("%v: %d", h, got)
		}
	}
}

// A site whose name leads to this machine is another site all the same.
func TestOtherNamesAreRefused(t *testing.T) {
	s := made(t, Config{API: api(), Hosts: append(Loopback(), "shop.lan")})
	for host, want := range map[string]int{
		"localhost": 200, "LOCALHOST:8420": 200, "localhost.": 200, "127.0.0.1:1": 200, "[::1]:8420": 200, "[0:0:0:0:0:0:0:1]": 200, "shop.lan:443": 200,
		"evil.example": 421, "localhost.evil.example": 421, "127.0.0.2": 421, "": 421, "shop.lan.evil.example:443": 421, "evil.example:shop.lan": 421,
	} {
		r := httptest.NewRequest("GET", "/api/ok", nil)
		r.Host = host
		if got := asked(t, s, r).StatusCode; got != want {
			t.Errorf("%q: %d, want %d", host, got, want)
		}
	}
}

// The log has no address, no name and nothing of what was asked for: neither path nor query nor header.
func TestTheLogNamesNobody(t *testing.T) {
	var log bytes.Buffer
	m := http.NewServeMux()
	m.HandleFunc("GET /api/jobs/{id}", func(w http.ResponseWriter, r *http.Request) { Noted(r.Context(), "", "p-31") })
	s := made(t, Config{API: m, Log: slog.New(slog.NewJSONHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))})
	r := httptest.NewRequest("GET", "/api/jobs/J-PLANTED?find=plantedname", nil)
	r.RemoteAddr = "198.51.100.4:4711"
	r.Header = http.Header{"Authorization": {"Bearer plantedtoken"}, "Cookie": {"__Host-fettle=plantedcookie"}, "User-Agent": {"plantedagent\r\n{\"level\":\"x\"}"}, "Referer": {"plantedreferer"}}
	asked(t, s, r)
	bad := httptest.NewRequest("GET", "/", nil)
	bad.Method = "PLANTED"
	asked(t, s, bad)
	_, _ = s.httpServer().ErrorLog.Writer().Write([]byte("http: TLS handshake error from 198.51.100.4:4711 and [2001:db8::9%eth0]:44: EOF"))
	text := log.String()
	for _, planted := range []string{"lanted", "PLANTED", "198.51", "2001:db8"} {
		if strings.Contains(text, planted) {
			t.Errorf("the log has %q:\n%s", planted, text)
		}
	}
	for _, want := range []string{`"route":"GET /api/jobs/{id}"`, `"person":"p-31"`, `"status":200`, `"method":"other"`, "handshake error"} {
		if !strings.Contains(text, want) {
			t.Errorf("the log has no %s:\n%s", want, text)
		}
	}
	if got := strings.Count(text, "\n"); got != 3 {
		t.Errorf("%d lines, want 3", got)
	}
}
