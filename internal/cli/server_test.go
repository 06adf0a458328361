package cli

import (
	"bytes"
	"encoding/pem"
	"errors"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
	"fettle/internal/store/datafolder"
)

// served serves a data folder by a clock that stands, as 'fettle serve' does, and is the environment of a person of all roles with a token in a
// file, and that person.
func served(t *testing.T, dir string, now time.Time) (vars map[string]string, person string) {
	t.Helper()
	clock := func() time.Time { return now }
	said, _, stop := servedWhen(t, clock, nil, "serve", "--data", dir, "--listen", "127.0.0.1:0", "--workers", "0")
	t.Cleanup(func() { stop() })
	token, person := tokenFor(t, dir, clock, right.Technician, right.Planner, right.Reviewer)
	file := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(file, []byte(token+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return map[string]string{serverVar: address(t, said, "Serving .* at "), tokenFileVar: file}, person
}

// tokenFor makes the first person of a data folder, an administrator who is more than that, and a token of theirs.
func tokenFor(t *testing.T, dir string, now func() time.Time, roles ...right.Role) (token, person string) {
	t.Helper()
	none := func(string) (string, bool) { return "", false }
	s, err := datafolder.Open(t.Context(), dir, false, datafolder.World{Lookup: none, Now: now, Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	people, err := s.Accounts(none, now, account.Site{})
	if err != nil {
		t.Fatal(err)
	}
	link, err := people.FirstUse(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	in, err := people.ClaimFirst(t.Context(), link.Text, account.First{Shop: "north", ShopName: "North", Password: "seven quiet lathes turn",
		NewPerson: account.NewPerson{Name: "Ada", SignIn: "ada", Roles: roles}}, account.From{Address: "127.0.0.1"})
	if err != nil {
		t.Fatal(err)
	}
	who, err := people.Session(t.Context(), in.Session)
	if err != nil {
		t.Fatal(err)
	}
	_, made, err := people.MakeToken(t.Context(), who.Who, account.NewToken{Name: "bench", For: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	return made.Text, who.Who.Person
}

// asking runs a command line of whoever has a token, who waits no longer than a moment; the token is never told.
func asking(t *testing.T, dir string, vars map[string]string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	one.Lock()
	defer one.Unlock()
	was, err := os.Getwd()
	if err == nil {
		err = os.Chdir(dir)
	}
	if err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	code = Run(args, Env{Stdout: &out, Stderr: &errs, Now: time.Now, Version: "test", Bodies: &bodies, patience: 250 * time.Millisecond, quiet: 1500 * time.Millisecond,
		Lookup: func(name string) (string, bool) { v, is := vars[name]; return v, is }})
	if err := os.Chdir(was); err != nil {
		t.Fatal(err)
	}
	if token := vars[tokenVar]; token != "" && strings.Contains(out.String()+errs.String(), token) {
		t.Errorf("fettle %s: the token is told: %s%s", strings.Join(args, " "), out.String(), errs.String())
	}
	return code, out.String(), errs.String()
}

const secretToken = "fettle_secret4711"

// answersAs is a server that knows the token, and otherwise answers as it is told.
func answersAs(h http.HandlerFunc) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/api/v1/session" && r.Header.Get("Authorization") == "Bearer "+secretToken {
			w.Header().Set("Content-Type", "application/json")
			_, _ = io.WriteString(w, `{"person":"p-31","shop":"north"}`)
			return
		}
		h(w, r)
	})
}

// What is wrong with a server, a token or what vouches for it is told as what it is, with what to do, and with the exit code that a
// store has that is away.
func TestServersThatCannotBeAsked(t *testing.T) {
	gone := httptest.NewServer(http.NotFoundHandler())
	gone.Close()
	stranger := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/problem+json")
		w.WriteHeader(http.StatusUnauthorized)
		_, _ = io.WriteString(w, `{"status":401,"code":"signed-out","detail":"nobody is signed in"}`)
	}))
	defer stranger.Close()
	silent := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() }))
	defer silent.Close()
	empty := answersAs(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		_, _ = io.WriteString(w, `{"jobs":[],"more":false}`)
	})
	secure := httptest.NewUnstartedServer(empty)
	secure.Config.ErrorLog = log.New(io.Discard, "", 0)
	secure.StartTLS()
	defer secure.Close()
	authority := filepath.Join(t.TempDir(), "authority.pem")
	if err := os.WriteFile(authority, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: secure.Certificate().Raw}), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, server string
		args         []string
		code         int
		says         string
	}{
		{"gone", gone.URL, nil, Refused, "the server cannot be reached"},
		{"silent", silent.URL, nil, Refused, "the server cannot be reached"},
		{"no such name", "https://no.such.name.invalid", nil, Refused, "the server cannot be reached"},
		{"a token that it does not know", stranger.URL, nil, Refused, "the token is none that the server knows"},
		{"nobody vouches for it", secure.URL, nil, Refused, "/authority"},
		{"its authority is named", secure.URL, []string{"--ca", authority}, Done, ""},
		{"no address", "bay.shop.lan", nil, Usage, "is no address of a server"},
		{"a password in the address", "https://a:b@bay.shop.lan", nil, Usage, "more than the address"},
		{"plain HTTP to another machine", "http://192.0.2.7:80", nil, Usage, "without TLS"},
	} {
		code, out, errs := asking(t, t.TempDir(), map[string]string{serverVar: c.server, tokenVar: secretToken}, append([]string{"jobs"}, c.args...)...)
		if code != c.code || !strings.Contains(errs, c.says) || c.code == Done && (errs != "" || !strings.HasPrefix(out, "No jobs yet.")) {
			t.Errorf("%s: %d %s%s", c.name, code, out, errs)
		}
	}
	if _, _, errs := asking(t, t.TempDir(), map[string]string{serverVar: "http://plain.invalid", tokenVar: secretToken}, "jobs", "--plain-http"); !strings.Contains(errs, "cannot be reached") {
		t.Errorf("told to, it does not go without TLS: %s", errs)
	}
}

// What a server of another release says is taken as far as it is understood; where that goes wrong both releases are named, and where it goes well
// neither is.
func TestAnotherRelease(t *testing.T) {
	line := `{"id":"J1","head":{"seq":3,"hash":"h","colour":"red"},"changed":"2026-11-30T09:00:00Z","vehicle":"0881","waits":"parts","whom":"supplier","judged":"2026-11-30","at":3,"mood":["new"]}`
	for _, c := range []struct {
		name, jobs, version string
		code                int
		note                bool
	}{
		{"members that are not known", `{"jobs":[` + line + `],"more":false,"next":{"a":[1]}}`, "9.0.0", Done, false},
		{"another type", `{"jobs":{"J1":` + line + `},"more":false}`, "9.0.0", Refused, true},
		{"another type, of the same release", `{"jobs":{"J1":` + line + `},"more":false}`, "test", Refused, false},
		{"a long name", `[]`, strings.Repeat("9", 10_000), Refused, true},
		{"no name", `[]`, "", Refused, false},
	} {
		server := httptest.NewServer(answersAs(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", "application/json")
			text := c.jobs
			if r.URL.Path == "/api/v1/version" {
				text = `{"version":"` + c.version + `"}`
			}
			_, _ = io.WriteString(w, text)
		}))
		code, out, errs := asking(t, t.TempDir(), map[string]string{serverVar: server.URL, tokenVar: secretToken}, "jobs")
		server.Close()
		noted := strings.Contains(errs, "note: the server is fettle "+c.version[:min(len(c.version), mostVersion)]+", and this program is test")
		if code != c.code || noted != c.note || len(errs) > 1000 || c.code == Done && !strings.Contains(out, "waits for: parts") {
			t.Errorf("%s: %d %s%s", c.name, code, out, errs)
		}
	}
}

// What a server does otherwise than a data folder is told with the reason, and nothing is written.
func TestServerDiffers(t *testing.T) {
	now := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	files, away := filepath.Join(demoFolder(t), "fettle-demo"), t.TempDir()
	does(t, away, now, "keep", filepath.Join(files, "rear-job"), "--data", "d")
	vars, person := served(t, filepath.Join(away, "d"), now)
	before := does(t, away, now, "events", "rear-job", "--data", "d")
	for line, says := range map[string]string{
		"erase rear-job finding/D1 --reason Asked":            "never by a program with a token",
		"release rear-job --hand-back --to owner --by T3 DAY": "a proof of who one is",
		"handed-back": "on the machine of the server: fettle handed-back --data DIR",
		"work":        "the server does the work",
		"put rear-job finding/D1 " + os.DevNull + " --by p-9":        "",
		"hold rear-job --reason Claim --by p-9":                      "the token is of " + person,
		"withdraw rear-job finding/D1 --reason A --signed T1 --by X": "",
	} {
		args := strings.Fields(strings.ReplaceAll(line, "DAY", "--on 2026-11-30"))
		code, out, errs := atAs(t, away, now, person, vars, args...)
		if code != Refused && code != Usage || out != "" || !strings.Contains(errs, says) {
			t.Errorf("fettle %s: %d %s%s", line, code, out, errs)
		}
	}
	if after := does(t, away, now, "events", "rear-job", "--data", "d"); after != before {
		t.Errorf("something was written:\n%s", after)
	}
}
