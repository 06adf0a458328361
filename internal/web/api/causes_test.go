package api

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"reflect"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/store/remote"
)

// node is an error of ours as the test expects it on the other side: written by whoever made the error, not read from it.
type node struct {
	kind                   diag.Kind
	op, subject, msg, hint string
	remedy                 *diag.Remedy
	faults                 diag.Problems
	below                  []node
}

// nodesOf is what an error is made of that came over the wire, where nothing else may be among it.
func nodesOf(t *testing.T, err error) (out []node) {
	t.Helper()
	switch e := err.(type) {
	case nil:
	case *diag.Error:
		out = append(out, node{kind: e.Kind, op: e.Op, subject: e.Subject, msg: e.Msg, hint: e.Hint, remedy: e.Remedy, below: nodesOf(t, e.Err)})
	case diag.Problems:
		out = append(out, node{faults: e})
	case *app.Refusal:
		return nodesOf(t, e.Is)
	case interface{ Unwrap() []error }:
		for _, x := range e.Unwrap() {
			out = append(out, nodesOf(t, x)...)
		}
	default:
		t.Fatalf("an error of %T came over the wire", err)
	}
	return out
}

// secrets are what errors of machines are made of; fragments are what of them nobody may be told.
var (
	secrets = []string{"/var/lib/fettle/data/fettle.db", `C:\ProgramData\fettle\keys`, `\\files\shop\fettle`, "SELECT id FROM jobs WHERE name = $1", `ERROR: relation "jobs" does not exist (SQLSTATE 42P01)`,
		"SQL logic error: no such table: jobs (1)", "UNIQUE constraint failed: jobs.id", "http://files:9000/bucket", "postgres://fettle@db/fettle", "/build/internal/app/as.go:31 +0x1f", "goroutine 17 [running]:",
		"runtime error: index out of range [3] with length 2", "open /etc/fettle/settings.yaml: permission denied", "could not read '/srv/blobs/ab/cd', nor (/srv/backups)", "insert into events values (?)", "update jobs set head = 3"}
	fragments = []string{"/var", "ProgramData", `\\files`, "SELECT", "SQLSTATE", "SQL logic", "UNIQUE", "files:9000", "postgres:", ".go:", "goroutine", "runtime error", "/etc", "/srv", "insert into", "update jobs", "secret"}
	words     = []string{"", "J-1", "finding/D1", "body/procedures/br.yaml", "it is not there", "and/or 2.4 mm/s", "Träger 45° ≥ 3", "line\nend", "a\tb", "bell\a", "bad \xff byte", "<b>&amp;", `"quoted"`, "\u202eturned", "🔧",
		"write NAME=VALUE, for example zones=RAIL-L", "select one of them", "update it", strings.Repeat("long ", 300), "16:30:00Z", "50 %", "1/2", "a: b; c", "the key \"k\" was used", "pages/3 / 4"}
)

// drawn makes errors, with what they have to be on the other side.
type drawn struct {
	*rand.Rand
	inside bool // texts may be secrets: then nobody says what comes
}

func (d drawn) word() string {
	if d.inside && d.IntN(3) == 0 {
		return "about " + secrets[d.IntN(len(secrets))]
	}
	return words[d.IntN(len(words))]
}

func (d drawn) remedy() *diag.Remedy {
	if d.IntN(3) > 0 {
		return nil
	}
	return diag.Do(diag.Deed("see"), "job", "J-1", "file", "a.yaml")
}

// foreign is an error of a machine.
func (d drawn) foreign() error {
	s := secrets[d.IntN(len(secrets))]
	return []error{&fs.PathError{Op: "open secret", Path: s, Err: fs.ErrPermission}, errors.New("secret " + s), &net.OpError{Op: "dial secret", Net: "tcp", Err: errors.New(s)}, fmt.Errorf("secret %s: %w", s, fs.ErrNotExist)}[d.IntN(4)]
}

func (d drawn) problems() (diag.Problems, node) {
	var given, want diag.Problems
	for range 1 + d.IntN(3) {
		p := diag.Problem{File: d.word(), Line: d.IntN(4), Col: d.IntN(90), Field: d.word(), Msg: d.word(), Hint: d.word(), Remedy: d.remedy()}
		given = append(given, p)
		p.File, p.Field, p.Msg, p.Hint = diag.Plain(p.File), diag.Plain(p.Field), diag.Plain(p.Msg), diag.Plain(p.Hint)
		want = append(want, p)
	}
	return given, node{faults: want}
}

// err is any error down to a depth; at its root is one of ours.
func (d drawn) err(depth int, root bool) ([]node, error) {
	n := d.IntN(10)
	if root && n >= 8 {
		n = 0
	}
	switch {
	case depth == 0 || n < 5:
		e := &diag.Error{Kind: diag.Kind(d.IntN(int(diag.Usage) + 1)), Op: "open", Subject: d.word(), Msg: "no " + d.word(), Hint: d.word(), Remedy: d.remedy()}
		w := node{kind: e.Kind, op: e.Op, subject: diag.Plain(e.Subject), msg: diag.Plain(e.Msg), hint: diag.Plain(e.Hint), remedy: e.Remedy}
		if e.Kind == diag.Internal {
			w = node{kind: e.Kind, op: e.Op, msg: told["internal"]}
		}
		if depth > 0 {
			w.below, e.Err = d.err(depth-1, false)
		}
		return []node{w}, e
	case n < 6:
		p, w := d.problems()
		return []node{w}, p
	case n < 8:
		wa, a := d.err(depth-1, root)
		wb, b := d.err(depth-1, false)
		return append(wa, wb...), errors.Join(a, b)
	case n < 9:
		return nil, d.foreign()
	}
	w, a := d.err(depth-1, false)
	return w, fmt.Errorf("secret: %w", a)
}

// overTheWire is the client of a server that answers with the problem of an error, and what it answered.
func overTheWire(t *testing.T, err *error) (*remote.Store, *[]byte) {
	t.Helper()
	var said []byte
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		rec := httptest.NewRecorder()
		problemOf(*err).write(rec)
		said = rec.Body.Bytes()
		w.Header().Set("Content-Type", rec.Header().Get("Content-Type"))
		w.WriteHeader(rec.Code)
		_, _ = w.Write(said)
	}))
	t.Cleanup(server.Close)
	s, bad := remote.Open(remote.Options{URL: server.URL, Token: "fettle_x", Patience: time.Nanosecond})
	if bad != nil {
		t.Fatal(bad)
	}
	return s, &said
}

// TestErrorsAreTheSameOverTheWire: an error that a server answers with is the same to whoever is told of it over HTTP: kind, what was done, what it
// is about, texts, remedy, places of faults, and all that it comes of; but for a fault of the program, of which the log alone says more.
// Errors that are none of ours are not told at all.
func TestErrorsAreTheSameOverTheWire(t *testing.T) {
	var err error
	s, said := overTheWire(t, &err)
	d := drawn{Rand: rand.New(rand.NewPCG(20, 8))}
	kinds := map[diag.Kind]int{}
	for i := range 3000 {
		var want []node
		want, err = d.err(3, true)
		kinds[diag.KindOf(err)]++
		_, _, got := s.Checkpoint(t.Context(), -1)
		for k := range want {
			if k == 0 && want[k].kind == diag.Internal && want[k].faults == nil {
				want[k].subject = s.URL() // whose log it is
			}
		}
		if nodes := nodesOf(t, got); !reflect.DeepEqual(nodes, want) {
			t.Fatalf("%d: of\n%#v\ncame\n%+v\nwant\n%+v\nsaid %s", i, err, nodes, want, *said)
		}
		if diag.KindOf(got) != diag.KindOf(err) {
			t.Errorf("%d: kind %d, want %d: %v", i, diag.KindOf(got), diag.KindOf(err), err)
		}
		for _, f := range fragments {
			if strings.Contains(string(*said), f) {
				t.Fatalf("%d: %q is told: %s", i, f, *said)
			}
		}
	}
	if len(kinds) != int(diag.Usage)+1 {
		t.Errorf("tried %v, not all kinds", kinds)
	}
}

// TestNothingOfTheInsideIsTold: whatever an error says anywhere, no path of the machine, address of another one, or SQL comes over the wire.
func TestNothingOfTheInsideIsTold(t *testing.T) {
	var err error
	s, said := overTheWire(t, &err)
	d := drawn{Rand: rand.New(rand.NewPCG(20, 9)), inside: true}
	for i := range 3000 {
		for _, err = d.err(3, true); errors.As(err, new(diag.Problems)); _, err = d.err(3, true) { // faults quote what somebody has sent
			continue
		}
		if _, _, got := s.Checkpoint(t.Context(), -1); got == nil || diag.KindOf(got) != diag.KindOf(err) {
			t.Errorf("%d: %v, want kind %d", i, got, diag.KindOf(err))
		}
		for _, f := range fragments {
			if strings.Contains(string(*said), f) {
				t.Fatalf("%d: %q is told: %s", i, f, *said)
			}
		}
	}
	if got := outside(`cannot read "/var/lib/x.db" of C:\a\b.txt, see https://a.example/x; body/a.yaml is and/or 1/2`); got != `cannot read "x.db" of b.txt, see …; body/a.yaml is and/or 1/2` {
		t.Errorf("without paths it says %s", got)
	}
}

// TestRefusalsComeAsRefusals: the code of what would have to hold comes with the error.
func TestRefusalsComeAsRefusals(t *testing.T) {
	var err error = &app.Refusal{Is: &diag.Error{Kind: diag.Denied, Op: "plan", Msg: "one has to be a planner", Hint: "ask one"}, Code: "right.role"}
	s, _ := overTheWire(t, &err)
	_, _, got := s.Checkpoint(t.Context(), -1)
	var r *app.Refusal
	if !errors.As(got, &r) || r.Code != "right.role" || got.Error() != err.Error() || diag.KindOf(got) != diag.Denied {
		t.Errorf("%#v, want %v", got, err)
	}
}
