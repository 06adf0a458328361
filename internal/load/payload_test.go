//go:build linux

package load

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"encoding/json"

	"fettle/internal/web/api"
)

const marked = "zqplant"

// payloads are 500 texts by which somebody has got into a database, a path, a log, a template, a table or a header elsewhere: each beginning with each end.
func payloads() (out []string) {
	begins := []string{"", "'", "\"", "`", "\\", "%", "%25", "..", "../../../../", "..\\..\\", "/etc/", "file:///", "\x00", "\r\n", "\n", "\u2028", "\u202e", "${", "{{", "<%=", "#{", "=", "+", "-", "@", ";", "|", "&&", "$(", "<", "<!--", "')", "1)", "\ufeff", "\U0001f600", "%c0%af", "\xff", "\xc0\xae", "[", "{", "*", "?", "~", "-- ", "/*", "0x", "\t", "\x1b[2J", "\x7f", "CON"}
	ends := []string{marked, "or 1=1--" + marked, "; drop table jobs;--" + marked, "union select name from people " + marked, "passwd%00" + marked, "{\"level\":\"ERROR\",\"msg\":\"" + marked + "\"}\n", "script>alert(1)</script>" + marked, "cmd|' /C calc'!A0" + marked, "7*7}}" + marked, strings.Repeat(marked, 40)}
	for _, b := range begins {
		for _, e := range ends {
			out = append(out, b+e)
		}
	}
	return out
}

// parameter is a place of a request into which somebody can write.
type parameter struct {
	method, path, name, in string
}

func parameters(t *testing.T, text []byte) (out []parameter) {
	t.Helper()
	var d struct {
		Paths map[string]map[string]struct {
			Parameters []struct{ Name, In string }
		}
	}
	if err := json.Unmarshal(text, &d); err != nil {
		t.Fatal(err)
	}
	for path, methods := range d.Paths {
		for method, op := range methods {
			of := parameter{method: strings.ToUpper(method), path: path}
			for _, p := range op.Parameters {
				if p.Name != "Last-Event-ID" { // a stream has no end
					of.name, of.in = p.Name, p.In
					out = append(out, of)
				}
			}
			for _, m := range regexp.MustCompile(`\{(\w+)\}`).FindAllStringSubmatch(path, -1) {
				out = append(out, parameter{of.method, path, m[1], "path"})
			}
		}
	}
	slices.SortFunc(out, func(a, b parameter) int { return strings.Compare(fmt.Sprint(a), fmt.Sprint(b)) })
	out = slices.Compact(out)
	for _, name := range []string{"Cookie", "Authorization", "User-Agent", "Referer", "X-Forwarded-For", "Accept-Language", "X-Request-Id", "Origin"} {
		out = append(out, parameter{http.MethodGet, api.Prefix + "/jobs", name, "header"})
	}
	return out
}

// wire is a request with a payload in a parameter.
func (p parameter) wire(job, secret, payload string) []byte {
	path := p.path
	for _, m := range regexp.MustCompile(`\{(\w+)\}`).FindAllStringSubmatch(path, -1) {
		with := strings.Repeat("a", 64)
		if m[1] == "job" {
			with = job
		}
		if p.in == "path" && m[1] == p.name {
			with = url.PathEscape(payload)
		}
		path = strings.ReplaceAll(path, m[0], with)
	}
	if p.in == "query" {
		path += "?" + p.name + "=" + url.QueryEscape(payload)
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, "%s %s HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Length: 0\r\n", p.method, path)
	if p.name != "Authorization" {
		fmt.Fprintf(&out, "Authorization: Bearer %s\r\n", secret)
	}
	if p.in == "header" {
		fmt.Fprintf(&out, "%s: %s\r\n", p.name, payload) // with its line ends, as somebody at a socket would
	}
	out.WriteString("\r\n")
	return out.Bytes()
}

// inside is what no answer may say: SQL, places in the program or on the machine, versions of what it is made of.
var inside = regexp.MustCompile(`(?i)sqlstate|sql logic|syntax error at|pgx|sqlite|no such table|\.go:\d|goroutine \d|runtime error|/tmp/|/home/|/usr/|go1\.\d|postgres`)

// TestPayloads writes 500 payloads into every parameter of every route (or a few of them, unless FETTLE_FAULTS is set). None makes the program fail, none is in the log or has split a line of it, none has
// changed anything, and no error that is answered says anything of the inside.
func TestPayloads(t *testing.T) {
	all, each := payloads(), 3
	if len(all) != 500 {
		t.Fatalf("%d payloads", len(all))
	}
	if n, err := strconv.Atoi(os.Getenv("FETTLE_FAULTS")); err == nil {
		each = min(n, len(all))
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
	places := parameters(t, text)
	if len(places) < 100 {
		t.Fatalf("%d parameters", len(places))
	}
	counted := func() (out string) {
		for _, what := range []string{"jobs", "events", "library", "asides", "holds", "accounts where kind <> 'use'"} {
			n, err := g.count(what)
			if err != nil {
				t.Fatal(err)
			}
			out += fmt.Sprint(what, " ", n, ", ")
		}
		return out
	}
	before := counted()
	type one struct {
		of      parameter
		payload string
	}
	queue, statuses := make(chan one), map[int]int{}
	var mu sync.Mutex
	var workers sync.WaitGroup
	for range 2 * runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for x := range queue {
				wire := x.of.wire(g.shops[0].jobs[0], g.all[0].secret, x.payload)
				status, body, err := over(s.address, wire, false)
				mu.Lock()
				statuses[status]++
				mu.Unlock()
				if err != nil || status >= 500 && status != http.StatusServiceUnavailable || status >= 400 && inside.Match(bytes.ReplaceAll(body, []byte(x.payload), nil)) {
					t.Errorf("%v: %d %v %.400s\n%.300q", x.of, status, err, body, wire)
				}
			}
		})
	}
	r := rand.New(rand.NewPCG(10, 500))
	for _, of := range places {
		for _, i := range r.Perm(len(all))[:each] {
			queue <- one{of, all[i]}
		}
	}
	close(queue)
	workers.Wait()
	if after := counted(); after != before {
		t.Errorf("there were %s and are %s", before, after)
	}
	log, err := os.ReadFile(s.log.Name())
	if err != nil || bytes.Contains(log, []byte(marked)) || bytes.Contains(log, []byte("fault of the program")) {
		t.Errorf("%v: the log has what was sent, or a fault", err)
	}
	_, lines, begun := bytes.Cut(log, []byte("{\"time\""))
	n := 0
	for line := range bytes.Lines(append([]byte("{\"time\""), lines...)) {
		var o struct{ Msg, ID string }
		if n++; json.Unmarshal(line, &o) != nil || o.Msg == "" {
			t.Errorf("a line of the log was split: %q", line)
		}
	}
	if !begun || n < each*len(places)/2 {
		t.Errorf("%d lines were looked at", n)
	}
	t.Logf("%d parameters, %d requests, answers %v, %d lines of the log", len(places), each*len(places), statuses, n)
}
