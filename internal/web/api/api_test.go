package api

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"flag"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/web"
	"fettle/internal/web/entry"
)

var update = flag.Bool("update", false, "write docs/api/openapi.json anew")

const descriptionFile = "../../../docs/api/openapi.json"

func made(t *testing.T, ways ...web.Way) *API {
	t.Helper()
	a, err := New(Config{Ways: ways, Version: "v0-test", Now: func() time.Time { return time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC) }})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// asked is the answer to a request.
func asked(t *testing.T, h http.Handler, method, target, body string, headers ...string) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest(method, target, strings.NewReader(body))
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// problem is the problem document of an answer, which has to be one of that status and code.
func problem(t *testing.T, w *httptest.ResponseRecorder, status int, code string) Problem {
	t.Helper()
	var p Problem
	if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil {
		t.Fatalf("no problem document: %v: %s", err, w.Body)
	}
	if kind := w.Header().Get("Content-Type"); w.Code != status || p.Status != status || p.Code != code || kind != "application/problem+json" {
		t.Errorf("%d %s %+v, want %d %s", w.Code, kind, p, status, code)
	}
	if p.Title == "" || p.Detail == "" || p.Type == "" {
		t.Errorf("the problem says too little: %+v", p)
	}
	return p
}

// TestDescriptionIsFresh: docs/api/openapi.json is what is served.
func TestDescriptionIsFresh(t *testing.T) {
	a := made(t, entry.Ways()...)
	if *update {
		if err := os.WriteFile(descriptionFile, a.Description(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(descriptionFile)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != string(a.Description()) {
		t.Error("docs/api/openapi.json is not what the routes say: go test ./internal/web/api -run Fresh -update")
	}
	w := asked(t, a, "GET", Prefix+"/openapi.json", "")
	if w.Body.String() != string(want) || w.Code != 200 {
		t.Errorf("served is another description, status %d", w.Code)
	}
	if again := asked(t, a, "GET", Prefix+"/openapi.json", "", "If-None-Match", w.Header().Get("ETag")); again.Code != 304 || again.Body.Len() > 0 {
		t.Errorf("with its tag: %d with %d bytes, want 304 without", again.Code, again.Body.Len())
	}
	var d struct{ OpenAPI string }
	if err := json.Unmarshal(want, &d); err != nil || d.OpenAPI != "3.1.0" {
		t.Errorf("OpenAPI %q, %v", d.OpenAPI, err)
	}
}

// TestPageStandsAlone: the page has no script, and loads nothing.
func TestPageStandsAlone(t *testing.T) {
	a := made(t)
	page := asked(t, a, "GET", Prefix+"/", "").Body.String()
	if found := regexp.MustCompile(`(?i)<script|<link|<img|<iframe|javascript:|\son[a-z]+=|https?://|src=`).FindString(page); found != "" {
		t.Errorf("the page has %q", found)
	}
	for _, r := range a.Routes() {
		if !strings.Contains(page, "<code>"+r.Method+" "+r.Path+"</code>") {
			t.Errorf("the page does not show %s %s", r.Method, r.Path)
		}
	}
}

// TestWhereNoRouteIs: what is not there is a problem document too.
func TestWhereNoRouteIs(t *testing.T) {
	a := made(t)
	problem(t, asked(t, a, "GET", Prefix+"/nonsense", ""), 404, "not-found")
	w := asked(t, a, "DELETE", Prefix+"/version", "")
	problem(t, w, 405, "request.method")
	if got := w.Header().Get("Allow"); got != "GET" {
		t.Errorf("Allow: %q, want GET", got)
	}
	if p := problem(t, asked(t, a, "GET", Prefix+"/version?nonsense=1", ""), 400, "request.unknown-field"); p.Field != "query.nonsense" {
		t.Errorf("field %q, want query.nonsense", p.Field)
	}
	problem(t, asked(t, a, "GET", Prefix+"/schemas/nonsense", ""), 400, "request.malformed")
}

// TestStrictJSON: what is read twice the same by nobody is refused. The depth is what this page promises; that names
// are there once is RFC 8259 section 4 ("should be unique"), here demanded.
func TestStrictJSON(t *testing.T) {
	deep := func(n int) string { return strings.Repeat(`[`, n) + strings.Repeat(`]`, n) }
	deepObjects := strings.Repeat(`{"a":`, 65) + "1" + strings.Repeat(`}`, 65)
	for text, want := range map[string]string{
		`{"a":1,"b":{"a":2},"c":[{"a":1},{"a":2}]}`: "",
		`"a"`:                     "",
		`[{"a":"a"},"a","a"]`:     "",
		deep(64):                  "",
		deep(65):                  "deeper than 64",
		deepObjects:               "deeper than 64",
		`{"a":1,"a":2}`:           "there twice",
		`{"b":{"x":[],"x":1}}`:    "there twice",
		`{"x":{"y":1},"x":1}`:     "there twice",
		`[{"a":1},{"b":1,"b":1}]`: "there twice",
		`{"a":1`:                  "",
		`{a:1}`:                   "invalid character",
	} {
		got := ""
		if err := strict([]byte(text)); err != nil {
			got = err.Error()
		}
		if want == "" && got != "" || !strings.Contains(got, want) {
			t.Errorf("%.40s: %q, want %q", text, got, want)
		}
	}
	var v any
	for _, text := range []string{`{"a":1`, `{"a":1} {}`, ``, `1 2`} {
		if readJSON([]byte(text), &v) == nil {
			t.Errorf("%q was read", text)
		}
	}
}

// TestEveryKindIsAProblem: each kind of error has a status and a code of its own, and what only the log may know is not told: of a fault of the program nothing.
func TestEveryKindIsAProblem(t *testing.T) {
	want := map[diag.Kind]int{diag.Invalid: 422, diag.NotFound: 404, diag.Conflict: 409, diag.Denied: 403, diag.Unsupported: 422,
		diag.Integrity: 500, diag.Unavailable: 503, diag.Usage: 400, diag.Internal: 500}
	codes := map[string]bool{}
	for kind, status := range want {
		p := problemOf(&diag.Error{Kind: kind, Op: "open", Subject: "select * from /var/lib", Msg: "secret", Hint: "do it right"})
		if p.Status != status || codes[p.Code] {
			t.Errorf("kind %d is %d %s, want %d and a code of its own", kind, p.Status, p.Code, status)
		}
		codes[p.Code] = true
		if text, err := json.Marshal(p); err != nil || strings.Contains(string(text), "/var") || kind == diag.Internal && strings.Contains(string(text), "secret") {
			t.Errorf("kind %d tells too much: %s %v", kind, text, err)
		}
	}
	if len(kinds) != len(want) {
		t.Errorf("%d kinds, want %d", len(kinds), len(want))
	}
	if p := problemOf(&app.Refusal{Is: &diag.Error{Kind: diag.Denied, Msg: "x"}, Code: "right.fresh"}); p.Status != 403 || p.Code != "right.fresh" || p.Detail != "x" {
		t.Errorf("a refusal is %+v", p)
	}
	p := problemOf(diag.Problems{{File: "job.yaml", Line: 3, Col: 5, Field: "findings[0].id", Msg: "is there twice", Hint: "give another"}, {File: "job.yaml", Msg: "x"}})
	if p.Status != 422 || p.Line != 3 || p.Column != 5 || p.Field != "findings[0].id" || p.Hint == "" || len(p.Faults) != 2 {
		t.Errorf("faults of a document: %+v", p)
	}
}

// TestDescriptionNames: names of schemas are those that OpenAPI 3.1 allows, each route has its own identity and a sentence.
func TestDescriptionNames(t *testing.T) {
	var d struct {
		Paths map[string]map[string]struct {
			OperationID, Summary string
			Parameters           []struct{ Name, In string }
		}
		Components struct{ Schemas map[string]any }
	}
	if err := json.Unmarshal(made(t).Description(), &d); err != nil {
		t.Fatal(err)
	}
	form := regexp.MustCompile(`^[A-Za-z0-9._-]+$`)
	for name := range d.Components.Schemas {
		if !form.MatchString(name) {
			t.Errorf("schema %q", name)
		}
	}
	seen := map[string]bool{}
	for path, methods := range d.Paths {
		for method, op := range methods {
			if seen[op.OperationID] || op.OperationID == "" || !strings.HasSuffix(op.Summary, ".") {
				t.Errorf("%s %s: %q, %q", method, path, op.OperationID, op.Summary)
			}
			seen[op.OperationID] = true
			for _, in := range regexp.MustCompile(`\{([a-z]+)\}`).FindAllStringSubmatch(path, -1) {
				if !slices.ContainsFunc(op.Parameters, func(p struct{ Name, In string }) bool { return p.Name == in[1] && p.In == "path" }) {
					t.Errorf("%s %s: the description does not say that it takes %s", method, path, in[1])
				}
			}
		}
	}
}

// TestPageLoadsOnlyItsStyle: the page says by hash which style is its own, and the hash is that of the style in it.
func TestPageLoadsOnlyItsStyle(t *testing.T) {
	w := asked(t, made(t), "GET", Prefix+"/", "")
	_, style, _ := strings.Cut(w.Body.String(), "<style>")
	style, _, ended := strings.Cut(style, "</style>")
	sum := sha256.Sum256([]byte(style))
	if want := "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !ended || style == "" || !strings.Contains(w.Header().Get("Content-Security-Policy"), want) {
		t.Errorf("the policy %q does not name the style, %s", w.Header().Get("Content-Security-Policy"), want)
	}
	if strings.Contains(w.Body.String(), "<script") || strings.Contains(w.Body.String(), "//") {
		t.Error("a script, or something of another host")
	}
}
