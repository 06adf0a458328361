package cli

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"runtime"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// without writes something again and again until nobody reads any more, at most so many bytes.
func without(end int64, block func(n int) string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		for n, sent := 0, int64(0); sent < end && r.Context().Err() == nil; n++ {
			text := block(n)
			sent += int64(len(text))
			if _, err := io.WriteString(w, text); err != nil {
				return
			}
		}
	}
}

// after is a block before all others.
func after(first string, block func(n int) string) func(int) string {
	return func(n int) string {
		if n == 0 {
			return first
		}
		return block(n - 1)
	}
}

func repeated(text string, many int) func(int) string {
	all := strings.Repeat(text, many)
	return func(int) string { return all }
}

// mostHeap is how much memory a client may have that is answered by an enemy: what it may read at once, twice over while it grows, and what it was before.
const mostHeap = 900 << 20

// No answer of a server, however long, deep, slow, wrong or elsewhere, makes a command print a result, keep it for ever, take memory without a bound,
// or send the token to anybody else. Each is tried with commands that read lists and jobs; with FETTLE_HOSTILE with more, and with answers of 1 GB.
func TestHostileServers(t *testing.T) {
	var stolen atomic.Int32
	thief := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { stolen.Add(1) }))
	defer thief.Close()
	end, lines := int64(6<<20), []string{"jobs", "events J1"}
	if os.Getenv("FETTLE_HOSTILE") != "" {
		end, lines = 1<<30, append(lines, "assess J1", "give J1 out", "tasks", "hold")
	}
	hash := strings.Repeat("a", 64)
	entry := func(n int) string {
		var b bytes.Buffer
		for i := range 1000 {
			fmt.Fprintf(&b, `{"seq":%d,"at":"2026-11-30T09:00:00Z","by":"p-1","what":"review","payload":"{}","prev":"%s","hash":"%s"},`, n*1000+i+1, hash, hash)
		}
		return b.String()
	}
	says := func(text string) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", "application/json")
			_, _ = io.WriteString(w, text)
		}
	}
	elsewhere := func(status int, to string) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Location", to)
			w.WriteHeader(status)
		}
	}
	drip := func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		for r.Context().Err() == nil {
			if _, err := io.WriteString(w, " "); err != nil {
				return
			}
			_ = http.NewResponseController(w).Flush()
			select {
			case <-time.After(20 * time.Millisecond):
			case <-r.Context().Done():
			}
		}
	}
	bad := map[string]http.HandlerFunc{
		"spaces without an end":     without(end, repeated(" ", 1<<16)),
		"a string without an end":   without(end, after(`{"jobs":"`, repeated("x", 1<<16))),
		"brackets without an end":   without(end, repeated("[", 1<<16)),
		"jobs without an end":       without(end, after(`{"jobs":[`, repeated("{},", 1<<12))),
		"nothings without an end":   without(end, after(`{"entries":[`, repeated("{},", 1<<12))),
		"events without an end":     without(end, after(`{"head":{"seq":9,"hash":"x"},"entries":[`, entry)),
		"one event without an end":  without(end, after(`{"entries":[{"seq":1,"payload":"`, repeated("x", 1<<16))),
		"others without an end":     without(end, after(`{"other":"`, repeated("x", 1<<16))),
		"drops":                     drip,
		"no JSON":                   says("<html>"),
		"a list":                    says(`[1,2]`),
		"a number":                  says(`7`),
		"nothing":                   says(``),
		"null":                      says(`{"jobs":[null],"entries":[null],"lines":[null],"files":[null],"head":null,"seq":null,"hash":7}`),
		"wrong types":               says(`{"jobs":7,"entries":"x","lines":true,"files":{"a":1},"head":[],"seq":"x","hash":[1],"tasks":[[]]}`),
		"numbers of other events":   says(`{"seq":2,"hash":"` + hash + `","head":{"seq":2,"hash":"` + hash + `"},"entries":[{"seq":7,"hash":"` + hash + `"}],"lines":[{"seq":-1}],"jobs":7,"tasks":7}`),
		"hashes that are none":      says(`{"seq":1,"hash":"` + hash + `","head":{"seq":1,"hash":"` + hash + `"},"entries":[{"seq":1,"at":"2026-11-30T09:00:00Z","by":"p","what":"review","payload":"{}","prev":"","hash":"` + hash + `"}],"lines":[{"seq":1,"hash":"` + hash + `","change":"k","part":1,"of":1}],"jobs":7,"tasks":7}`),
		"more jobs than were asked": says(`{"more":true,"jobs":[` + strings.TrimSuffix(strings.Repeat(`{"id":"J1"},`, 300), ",") + `],"tasks":7,"seq":1,"entries":[],"lines":[]}`),
		"elsewhere":                 elsewhere(302, thief.URL+"/api/v1/jobs"),
		"elsewhere, for good":       elsewhere(308, thief.URL+"/api/v1/jobs"),
		"elsewhere here":            elsewhere(307, "/other"),
		"a problem without an end": func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", "application/problem+json")
			w.WriteHeader(http.StatusConflict)
			without(end, after(`{"code":"conflict","detail":"`, repeated("y", 1<<16)))(w, r)
		},
		"a length that is not so": func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", "application/json")
			w.Header().Set("Content-Length", strconv.Itoa(1<<40))
			_, _ = io.WriteString(w, "{")
		},
	}
	most := uint64(0)
	stop := make(chan struct{})
	watched := make(chan struct{})
	go func() {
		defer close(watched)
		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most = max(most, m.HeapAlloc)
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
			}
		}
	}()
	slowest := time.Duration(0)
	for name, h := range bad {
		for _, who := range []struct {
			what string
			h    http.Handler
		}{{"knows the token", answersAs(h)}, {"is an enemy from the start", h}} {
			server := httptest.NewServer(who.h)
			for _, line := range lines {
				if who.what != "knows the token" && line != "jobs" {
					continue // it never comes to that
				}
				dir, begun := t.TempDir(), time.Now()
				code, out, errs := asking(t, dir, map[string]string{serverVar: server.URL, tokenVar: secretToken}, strings.Fields(line)...)
				slowest = max(slowest, time.Since(begun))
				if code != Refused || out != "" || errs == "" || len(errs) > 8<<10 {
					t.Errorf("%s, which %s: fettle %s: %d %.500s %.500s", name, who.what, line, code, out, errs)
				}
				if left := filesIn(t, dir); len(left) > 0 {
					t.Errorf("%s: fettle %s: it wrote %d files", name, line, len(left))
				}
			}
			server.CloseClientConnections()
			server.Close()
		}
	}
	close(stop)
	<-watched
	t.Logf("%d answers; at most %d MiB in use (of both sides), the slowest command %v", len(bad), most>>20, slowest.Round(time.Millisecond))
	if stolen.Load() > 0 || most > mostHeap || slowest > time.Minute {
		t.Errorf("%d requests reached another server, or memory or time has no bound", stolen.Load())
	}
}
