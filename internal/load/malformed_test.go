//go:build linux

package load

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/web/api"
)

// described is a route as the description has it.
type described struct {
	method, path string
	schema       map[string]any // of its body; nil: it has none, or one that is no JSON
	query        []string
}

// malformer makes requests that are malformed, of the routes of the description.
type malformer struct {
	*rand.Rand
	routes []described
	all    map[string]any // schemas
	jobs   []string
	secret string
}

// sent is a request as it goes over the wire.
type sent struct {
	method, target string
	headers        []string
	body           []byte
	raw            []byte // instead of all
}

func newMalformer(t *testing.T, text []byte, seed uint64) *malformer {
	t.Helper()
	var d struct {
		Paths map[string]map[string]struct {
			Parameters  []struct{ Name, In string }
			RequestBody struct {
				Content map[string]struct{ Schema map[string]any }
			}
		}
		Components struct{ Schemas map[string]any }
	}
	if err := json.Unmarshal(text, &d); err != nil {
		t.Fatal(err)
	}
	m := &malformer{Rand: rand.New(rand.NewPCG(seed, 24)), all: d.Components.Schemas}
	for path, methods := range d.Paths {
		for method, op := range methods {
			r := described{method: strings.ToUpper(method), path: path, schema: op.RequestBody.Content["application/json"].Schema}
			for _, p := range op.Parameters {
				if p.In == "query" {
					r.query = append(r.query, p.Name)
				}
			}
			m.routes = append(m.routes, r)
		}
	}
	slices.SortFunc(m.routes, func(a, b described) int { return strings.Compare(a.method+a.path, b.method+b.path) })
	return m
}

// value is a value of a schema.
func (m *malformer) value(s map[string]any, depth int) any {
	if ref, is := s["$ref"].(string); is {
		of, _ := m.all[strings.TrimPrefix(ref, "#/components/schemas/")].(map[string]any)
		if of == nil || depth > 6 {
			return map[string]any{}
		}
		return m.value(of, depth+1)
	}
	if words, is := s["enum"].([]any); is && len(words) > 0 {
		return words[m.IntN(len(words))]
	}
	kind, _ := s["type"].(string)
	if several, is := s["type"].([]any); is && len(several) > 0 {
		kind, _ = several[0].(string)
	}
	switch kind {
	case "object":
		out := map[string]any{}
		own, _ := s["properties"].(map[string]any)
		for name, p := range own {
			if p, is := p.(map[string]any); is && depth < 6 {
				out[name] = m.value(p, depth+1)
			}
		}
		return out
	case "array":
		items, _ := s["items"].(map[string]any)
		if items == nil || depth > 5 {
			return []any{}
		}
		return []any{m.value(items, depth+1)}
	case "integer", "number":
		return m.IntN(5)
	case "boolean":
		return m.IntN(2) == 0
	}
	if s["format"] == "date" {
		return "2026-11-26"
	}
	return []string{"x", "D1", "finding/D1", "2026-11-26", "YQ=="}[m.IntN(5)]
}

// whole is a request as it ought to be, as far as its shape goes.
func (m *malformer) whole(body bool) (described, sent) {
	r := m.routes[m.IntN(len(m.routes))]
	for body && r.schema == nil {
		r = m.routes[m.IntN(len(m.routes))]
	}
	target := r.path
	for strings.Contains(target, "{") {
		i, j := strings.Index(target, "{"), strings.Index(target, "}")
		with := strings.Repeat("a", 64)
		if target[i:j+1] == "{job}" {
			with = m.jobs[m.IntN(len(m.jobs))]
		}
		target = target[:i] + with + target[j+1:]
	}
	s := sent{method: r.method, target: target, headers: []string{"Idempotency-Key", "malformed" + unique()}}
	if m.IntN(10) > 0 {
		s.headers = append(s.headers, "Authorization", "Bearer "+m.secret)
	}
	if r.schema != nil {
		s.headers = append(s.headers, "Content-Type", "application/json")
		s.body, _ = json.Marshal(m.value(r.schema, 0)) // of plain values
	}
	return r, s
}

// altered is a JSON value in which something was altered.
func (m *malformer) altered(v any, how func(any) any) any {
	switch x := v.(type) {
	case map[string]any:
		names := make([]string, 0, len(x))
		for name := range x {
			names = append(names, name)
		}
		slices.Sort(names)
		if len(names) > 0 && m.IntN(4) > 0 {
			name := names[m.IntN(len(names))]
			x[name] = m.altered(x[name], how)
			return x
		}
	case []any:
		if len(x) > 0 && m.IntN(4) > 0 {
			i := m.IntN(len(x))
			x[i] = m.altered(x[i], how)
			return x
		}
	}
	return how(v)
}

func (m *malformer) bytes(n int) []byte {
	out := make([]byte, n)
	for i := range out {
		out[i] = byte(m.IntN(256))
	}
	return out
}

// class is a way in which requests are malformed.
type class struct {
	name string
	make func(m *malformer) sent
}

// ofBody is a class whose body is made of the one that it ought to be.
func ofBody(name string, alter func(m *malformer, body []byte) []byte) class {
	return class{name, func(m *malformer) sent {
		_, s := m.whole(true)
		s.body = alter(m, s.body)
		return s
	}}
}

// ofValue is a class in whose body a value is another.
func ofValue(name string, other func(m *malformer, was any) any) class {
	return ofBody(name, func(m *malformer, body []byte) []byte {
		var v any
		if json.Unmarshal(body, &v) != nil {
			return body
		}
		out, _ := json.Marshal(m.altered(v, func(was any) any { return other(m, was) })) // of plain values
		return out
	})
}

// ofHead is a class in which something before the body is another.
func ofHead(name string, alter func(m *malformer, s *sent)) class {
	return class{name, func(m *malformer) sent {
		_, s := m.whole(false)
		alter(m, &s)
		return s
	}}
}

var badNames = []string{"..%2f..%2fetc%2fpasswd", "%2e%2e", "a%00b", "%ff%fe", "a%20b", "CON", "-rf", strings.Repeat("n", 5000), "%0d%0aX-Y:%20z", "~root", "a;b", "..\\..\\x", "%u0041", "%", "%zz", "\u202ex"}

// Classes of which no answer may come before the client has left.
const (
	notSo  = "a length that is not so"
	noHTTP = "no HTTP"
)

var classes = []class{
	ofBody("cut off", func(m *malformer, b []byte) []byte { return b[:m.IntN(len(b)+1)] }),
	ofBody("bytes by chance", func(m *malformer, _ []byte) []byte { return m.bytes(m.IntN(3000)) }),
	ofBody("a byte altered", func(m *malformer, b []byte) []byte {
		if len(b) > 0 {
			b[m.IntN(len(b))] = byte(m.IntN(256))
		}
		return b
	}),
	ofBody("nested deep", func(m *malformer, _ []byte) []byte {
		n := 60 + m.IntN(20000)
		return []byte(strings.Repeat([]string{"[", `{"a":`}[m.IntN(2)], n))
	}),
	ofBody("a member twice", func(_ *malformer, b []byte) []byte {
		if i := bytes.IndexByte(b, ':'); len(b) > 2 && i > 0 {
			return append(append([]byte("{"), b[1:i]...), append([]byte(":1,"), b[1:]...)...)
		}
		return b
	}),
	ofBody("more behind the end", func(m *malformer, b []byte) []byte {
		return append(b, [][]byte{b, []byte("]"), []byte("\x00")}[m.IntN(3)]...)
	}),
	ofBody("nothing", func(*malformer, []byte) []byte { return nil }),
	ofValue("another type", func(m *malformer, _ any) any { return []any{1, "x", true, []any{}, map[string]any{}, 1.5}[m.IntN(6)] }),
	ofValue("null", func(*malformer, any) any { return nil }),
	ofValue("an unknown member", func(*malformer, any) any { return map[string]any{"nobody": map[string]any{"knows": "it"}} }),
	ofValue("a number beyond", func(m *malformer, _ any) any {
		return json.Number([]string{"1e400", "-1", "9223372036854775808", "1e-999", "0.1", "-0"}[m.IntN(6)])
	}),
	ofValue("a long text", func(m *malformer, _ any) any { return strings.Repeat("long ", 1+m.IntN(60000)) }),
	ofValue("signs that are none", func(m *malformer, _ any) any {
		return []string{"\x00", "a\u202eb", "\ufeff", "\x1b[2J", "\r\nX: y", "\ud7ff\ue000", "../../x", "/etc/passwd", "'; drop table jobs; --", "=cmd()", "<script>"}[m.IntN(11)]
	}),
	ofValue("YAML and texts of documents", func(m *malformer, _ any) any {
		return []string{"&a [*a,*a]", "a: &x {b: *x}", "!!binary x", strings.Repeat("- ", 3000), "id: D1\nid: D2", "{", "\t:", "trace_mm: [[.nan, .inf, 1e999]]"}[m.IntN(8)]
	}),
	ofBody("not UTF-8", func(m *malformer, b []byte) []byte {
		return bytes.ReplaceAll(b, []byte(`"x"`), []byte("\"\xff\xc0\xaf\""))
	}),
	ofHead("another media type", func(m *malformer, s *sent) {
		s.headers = append(slices.DeleteFunc(s.headers, func(h string) bool { return h == "Content-Type" || h == "application/json" }), "Content-Type",
			[]string{"text/plain", "multipart/form-data; boundary=x", "application/json; charset=utf-16", "", "application/xml", "application/octet-stream"}[m.IntN(6)])
	}),
	ofHead("a name that is none", func(m *malformer, s *sent) {
		for _, id := range append(m.jobs, strings.Repeat("a", 64)) {
			s.target = strings.ReplaceAll(s.target, id, badNames[m.IntN(len(badNames))])
		}
	}),
	ofHead("a query that is none", func(m *malformer, s *sent) {
		s.target += []string{"?nobody=knows", "?%zz", "?a;b", "?most=-1", "?most=999999999999999999999", "?after=%00", "?on=2026-13-45", "?text=" + strings.Repeat("%25", 900), "?name=finding%2F..%2F..", "?&&&=="}[m.IntN(10)]
	}),
	class{"parameters by chance", func(m *malformer) sent {
		r, s := m.whole(false)
		for i, name := range r.query {
			s.target += []string{"?", "&"}[min(i, 1)] + name + "=" + url.QueryEscape(string(m.bytes(1+m.IntN(40))))
		}
		return s
	}},
	ofHead("headers that are none", func(m *malformer, s *sent) {
		s.headers = append(s.headers, [][]string{{"If-None-Match", strings.Repeat(`"a",`, 2000)}, {"Range", "bytes=0-,5-,,9-1"}, {"Range", "bytes=" + strings.Repeat("0-0,", 2000)}, {"Idempotency-Key", strings.Repeat("k", 9000)},
			{"Cookie", "fettle=a; fettle=b"}, {"Authorization", "Bearer \xff"}, {"Authorization", "Basic eA=="}, {"Last-Event-ID", "-9999999999999999999"}, {"Accept-Encoding", "br;q=9"}, {"X-Forwarded-For", "::::"}, {"Expect", "100-continue"}}[m.IntN(11)]...)
	}),
	ofHead("a header that is too long", func(m *malformer, s *sent) {
		s.headers = append(s.headers, "X-Long", strings.Repeat("x", 17000+m.IntN(60000)))
	}),
	ofHead("another method", func(m *malformer, s *sent) {
		s.method = []string{"PATCH", "TRACE", "CONNECT", "get", "BREW", "OPTIONS", "DELETE"}[m.IntN(7)]
	}),
	ofBody(notSo, func(m *malformer, b []byte) []byte { return b }),
	class{noHTTP, func(m *malformer) sent {
		lines := []string{"GET / HTTP/9.9\r\n\r\n", "\r\n\r\n\r\n", "GET  /api/v1/jobs HTTP/1.1\r\n\r\n", "POST /api/v1/jobs HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n", "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\x00\x00\xff",
			"POST /api/v1/bytes HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\nZZ\r\n", "POST /api/v1/bytes HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\nContent-Length: 4\r\n\r\n0\r\n\r\n", "\x16\x03\x01\x02\x00\x01"}
		if m.IntN(3) == 0 {
			return sent{raw: m.bytes(1 + m.IntN(500))}
		}
		return sent{raw: []byte(lines[m.IntN(len(lines))])}
	}},
}

// wire is the bytes of a request.
func (s sent) wire(c class, m *malformer) []byte {
	if s.raw != nil {
		return s.raw
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, "%s %s HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n", s.method, s.target)
	for i := 0; i+1 < len(s.headers); i += 2 {
		fmt.Fprintf(&out, "%s: %s\r\n", s.headers[i], s.headers[i+1])
	}
	length := len(s.body)
	if c.name == notSo {
		length = max(0, length+m.IntN(80)-40)
	}
	fmt.Fprintf(&out, "Content-Length: %d\r\n\r\n", length)
	out.Write(s.body)
	return out.Bytes()
}

// over sends bytes, and nothing more, and reads the status of what comes back; 0: the connection ended.
func over(address string, wire []byte, ends bool) (status int, body []byte, err error) {
	conn, err := net.Dial("tcp", address)
	if err != nil {
		return 0, nil, err
	}
	defer conn.Close() // nothing is expected of it any more
	if err := conn.SetDeadline(time.Now().Add(30 * time.Second)); err != nil {
		return 0, nil, err
	}
	_, _ = conn.Write(wire) // the server may have answered and left before it was whole
	if ends {               // else the server would take us for gone, and stop
		_ = conn.(*net.TCPConn).CloseWrite()
	}
	in := bufio.NewReader(conn)
	got, err := http.ReadResponse(in, nil)
	for err == nil && got.StatusCode == http.StatusContinue {
		got, err = http.ReadResponse(in, nil)
	}
	if err != nil {
		if e := net.Error(nil); errors.As(err, &e) && e.Timeout() {
			return 0, nil, err
		}
		return 0, nil, nil
	}
	if !strings.HasPrefix(got.Header.Get("Content-Type"), "text/event-stream") { // which has no end
		body, _ = io.ReadAll(got.Body)
	}
	return got.StatusCode, body, nil
}

// TestMalformedFaults sends requests of 24 classes, made of the routes of the description: 20 of each, or as FETTLE_FAULTS says up to 1,000. Nothing of the program
// fails, each is answered soon, memory is bounded, and afterwards nothing is left: no goroutine, no open file, no file but in the store.
func TestMalformedFaults(t *testing.T) {
	each := 20
	if n, err := strconv.Atoi(os.Getenv("FETTLE_FAULTS")); err == nil {
		each = min(n, 1000)
	}
	g := newGroup(t, size{shops: 2, jobs: 12, worked: 2, servers: 1, thinks: time.Second})
	if err := g.startAll(); err != nil {
		t.Fatal(err)
	}
	s := g.servers[0]
	status, text, err := over(s.address, []byte("GET "+api.Prefix+"/openapi.json HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"), false)
	if err != nil || status != http.StatusOK {
		t.Fatal(status, err)
	}
	before := left(t, s)
	var longest time.Duration
	tally := map[string]map[int]int{}
	var mu sync.Mutex
	var all sync.WaitGroup
	queue := make(chan class)
	for n := range 2 * runtime.GOMAXPROCS(0) {
		m := newMalformer(t, text, uint64(n))
		m.jobs, m.secret = append(g.shops[0].jobs, g.shops[0].handed...), g.all[2].secret // of the planner, whose it is a token
		all.Go(func() {
			for c := range queue {
				wire := c.make(m).wire(c, m)
				began := time.Now()
				status, body, err := over(s.address, wire, c.name == notSo || c.name == noHTTP)
				mu.Lock()
				longest = max(longest, time.Since(began))
				if tally[c.name] == nil {
					tally[c.name] = map[int]int{}
				}
				tally[c.name][status]++
				mu.Unlock()
				if err != nil || status >= 500 && status != http.StatusServiceUnavailable && status != http.StatusHTTPVersionNotSupported && status != http.StatusNotImplemented {
					t.Errorf("%s: %d %v %.300s\n%.600q", c.name, status, err, body, wire)
				}
			}
		})
	}
	for range each {
		for _, c := range classes {
			queue <- c
		}
	}
	close(queue)
	all.Wait()
	for _, c := range classes {
		t.Logf("%-30s %v", c.name, tally[c.name])
	}
	u, err := s.used()
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d requests; the longest took %v; %d MB at most", each*len(classes), longest, u.peak>>20)
	if len(classes) < 24 || u.peak > 400<<20 {
		t.Errorf("%d classes, %d MB", len(classes), u.peak>>20)
	}
	if text, err := os.ReadFile(s.log.Name()); err != nil || bytes.Contains(text, []byte("fault of the program")) || bytes.Contains(text, []byte("panic")) {
		t.Errorf("the program failed: %v %.2000s", err, s.said())
	}
	var after leftover
	for began := time.Now(); ; time.Sleep(100 * time.Millisecond) {
		if after = left(t, s); after.goroutines <= before.goroutines+12 && after.files <= before.files+20 || time.Since(began) > 10*time.Second {
			break
		}
	}
	if after.goroutines > before.goroutines+12 || after.files > before.files+20 || after.outside != before.outside { // pools of connections, which stay; a class that leaves something each time leaves 20
		t.Errorf("left are %+v, and before there were %+v", after, before)
	}
}

// leftover is what a server has of what should not become more.
type leftover struct {
	goroutines, files int
	outside           string // files in the folders of the machine that it could write into
}

func left(t *testing.T, s *server) leftover {
	t.Helper()
	u, err := s.used()
	n, bad := s.figure(t.Context(), "go_goroutines")
	out := leftover{goroutines: int(n), files: u.files}
	for _, dir := range []string{"tmp", "home", "data/spool"} {
		walked := filepath.WalkDir(filepath.Join(s.dir, dir), func(p string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() && !strings.HasPrefix(p, filepath.Join(s.dir, "home", ".cache", "fettle")) { // where answers are kept, within bounds
				out.outside += p + "\n"
			}
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			return err
		})
		err = errors.Join(err, walked)
	}
	if err := errors.Join(err, bad); err != nil {
		t.Fatal(err)
	}
	return out
}
