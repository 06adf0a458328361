//go:build linux

package load

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// forms are the ways in which a secret may be written somewhere.
func forms(secret string) [][]byte {
	b := []byte(secret)
	return [][]byte{b, []byte(hex.EncodeToString(b)), []byte(base64.StdEncoding.EncodeToString(b)), []byte(base64.RawURLEncoding.EncodeToString(b)), []byte(url.QueryEscape(secret))}
}

func found(text []byte, secret string) bool {
	return slices.ContainsFunc(forms(secret), func(f []byte) bool { return bytes.Contains(text, f) })
}

// planted is secrets by what they are.
type planted map[string]string

// word is a password that nobody has said.
func (p planted) word(what string) string {
	p[what] = "quietly " + unique() + " turns"
	return p[what]
}

// TestNoSecretLeaks plants more than 50 secrets: keys and passwords of the machine by its environment, passwords right and wrong, sessions, devices, tokens, links, and what somebody sends where it
// does not belong. Then it looks for each of them in the database, its journal, backups, logs, figures, whatever was answered to another request, what commands say, the memory of the processes' arguments, and
// what the program says when it is aborted. A secret that is put into each place is found there.
func TestNoSecretLeaks(t *testing.T) {
	p, env := planted{}, []string{}
	for name, value := range map[string]string{"FETTLE_ACCOUNTS_KEY": strings.Repeat("c0ffee5eed", 6) + "abcd", "FETTLE_PROVIDER_SECRET": unique() + "provider"} {
		env, p[name] = append(env, name+"="+value), value
	}
	a := newAlone(t, env...)
	settings := "format: fettle-settings 1\nprovider: {issuer: \"https://127.0.0.1:9\", client: fettle, private: true}\n"
	a.kill()
	if err := os.WriteFile(filepath.Join(a.dir, "data", "settings.yaml"), []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := a.start(); err != nil {
		t.Fatal(err)
	}
	ada := a.guest("127.0.0.1")
	var answers []exchange // what must have no secret in it
	keep := func(g *guest, method, path string, body any) exchange {
		t.Helper()
		got, err := g.ask(method, path, body)
		if err != nil {
			t.Fatal(err)
		}
		answers = append(answers, got)
		return got
	}
	p["link of first use"] = ada.first(p.word("password of the first"))
	noteCookies := func(who string, g *guest) {
		for name, value := range g.shows {
			p["cookie "+name+" of "+who] = value
		}
	}
	noteCookies("ada", ada)
	for i := range 4 {
		who := fmt.Sprint("person", i)
		var link, token struct{ ID, Secret string }
		ada.must(201, "POST", "/api/v1/people", map[string]any{"name": "Somebody", "sign_in": who, "roles": []string{"technician"}}, &link)
		p["invitation of "+who] = link.Secret
		g := a.guest("127.0.0.1")
		g.must(204, "POST", "/api/v1/password", map[string]any{"secret": link.Secret, "password": p.word("password of " + who)}, nil)
		keep(g, "POST", "/api/v1/session", map[string]any{"name": who, "password": p.word("wrong password of " + who)})
		g.must(200, "POST", "/api/v1/session", map[string]any{"name": who, "password": p["password of "+who]}, nil)
		noteCookies(who, g)
		g.must(201, "POST", "/api/v1/tokens", map[string]any{"name": "arm", "days": 7}, &token)
		p["token of "+who] = token.Secret
		keep(g, "POST", "/api/v1/session/proof", map[string]any{"password": p.word("wrong proof of " + who)})
		keep(g, "GET", "/api/v1/tokens", nil)
		if i == 0 {
			ada.must(201, "POST", "/api/v1/people/"+link.ID+"/link", map[string]any{"lost": true}, &link)
			p["link of a new password"] = link.Secret
		}
	}
	strange := a.guest("127.0.0.2")
	put := func(what string) string { p[what] = unique() + "misplaced"; return p[what] }
	for path, body := range map[string]any{
		"/api/v1/jobs?token=" + put("query"):       nil,
		"/api/v1/" + put("path"):                   nil,
		"/api/v1/jobs/" + put("job"):               nil,
		"/" + put("page"):                          nil,
		"/api/v1/password":                         map[string]any{"secret": put("a link that is none"), "password": p.word("password by no link")},
		"/api/v1/first":                            map[string]any{"secret": put("a first link that is none"), "shop": "x", "shop_name": "X", "name": "X", "sign_in": "x", "password": p.word("password of a second first")},
		"/api/v1/session":                          map[string]any{"name": "x", "password": 5, put("member"): p.word("password in no JSON")},
		"/api/v1/session/proof":                    `{"password":"` + put("cut off"),
		"/api/v1/session/provider":                 map[string]any{"for": "sign in", "invitation": put("invitation at the provider"), "then": "/" + put("then")},
		"/sign-in/oidc/back?state=" + put("state"): nil,
		"/sign-in/oidc?then=/" + put("then there"): nil,
	} {
		method := http.MethodPost
		if body == nil {
			method = http.MethodGet
		}
		keep(strange, method, path, body)
	}
	for name, value := range map[string]string{"Authorization": "Bearer fettle_" + put("token that is none"), "Cookie": "fettle=" + put("session that is none"), "Idempotency-Key": put("key"), "User-Agent": put("agent"), "Referer": "http://localhost/#" + put("referer"), "X-Api-Key": put("another header")} {
		strange.header = http.Header{name: {value}}
		keep(strange, http.MethodGet, "/api/v1/jobs", nil)
	}
	if len(p) < 50 {
		t.Fatalf("%d secrets", len(p))
	}
	keep(ada, http.MethodGet, "/api/v1/people", nil)
	places := a.placesOfSecrets(t)
	for i, x := range answers {
		var text bytes.Buffer
		_ = x.header.Write(&text) // into memory
		text.Write(x.body)
		places[fmt.Sprint("answer ", i, " to ", x.method, " ", x.status)] = text.Bytes()
	}
	for _, place := range slices.Sorted(maps.Keys(places)) {
		for what, secret := range p {
			if found(places[place], secret) && place != "data/keys/accounts.key" {
				t.Errorf("%s: the %s is there", place, what)
			}
			if !found(slices.Concat(places[place], []byte(secret)), secret) {
				t.Fatal("what is there is not found")
			}
		}
	}
	if !bytes.Contains(slices.Concat(places["data/fettle.db"], places["data/fettle.db-wal"]), []byte("person3")) || !bytes.Contains(places["log"], []byte("SIGQUIT")) || !bytes.Contains(places["figures"], []byte("go_goroutines")) {
		t.Error("the places are not what they are taken for")
	}
	t.Logf("%d secrets in %d places", len(p), len(places))
}

// placesOfSecrets is everything that the server has written or says, and what it says when it is aborted.
func (a *alone) placesOfSecrets(t *testing.T) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	got, err := plain.Get("http://" + a.figures + "/metrics")
	if err == nil {
		out["figures"], err = io.ReadAll(got.Body)
		_ = got.Body.Close() // it was read
	}
	if err != nil {
		t.Fatal(err)
	}
	for name, args := range map[string][]string{"backup": {"backup", filepath.Join(a.dir, "kept")}, "doctor": {"doctor"}, "people": {"people"}, "verify": {"verify-store"}} {
		said, err := a.runs(args...)
		if err != nil && name != "doctor" { // which names what is not fine with it
			t.Fatalf("%s: %v: %s", name, err, said)
		}
		out["command "+name] = []byte(said)
	}
	if out["arguments"], err = os.ReadFile(fmt.Sprintf("/proc/%d/cmdline", a.process.Process.Pid)); err != nil {
		t.Fatal(err)
	}
	before, err := a.written() // with its journal, which goes when it is closed
	if err != nil {
		t.Fatal(err)
	}
	if err := a.process.Process.Signal(syscall.SIGQUIT); err != nil {
		t.Fatal(err)
	}
	select {
	case <-a.ended:
	case <-time.After(time.Minute):
		t.Fatal("it does not abort")
	}
	after, err := a.written()
	if err != nil {
		t.Fatal(err)
	}
	maps.Copy(out, before)
	for name, text := range after {
		if name == "log" {
			out[name] = text
		} else if !bytes.Equal(text, before[name]) {
			out[name+" after"] = text
		}
	}
	for _, dead := range []string{"FETTLE_DATABASE=postgres://fettle:password-" + unique() + "@127.0.0.1:1/fettle", "FETTLE_S3_SECRET=s3-" + unique()} {
		env := a.env
		a.env = append(slices.Clone(a.env), dead, "FETTLE_S3_ENDPOINT=http://127.0.0.1:1", "FETTLE_S3_BUCKET=fettle", "FETTLE_S3_REGION=x", "FETTLE_S3_KEY_ID=fettle")
		secret := dead[strings.LastIndexAny(dead, "-")+1:]
		secret, _, _ = strings.Cut(secret, "@")
		for _, args := range [][]string{{"people"}} {
			said, err := a.runs(args...)
			if err == nil && strings.HasPrefix(dead, "FETTLE_DATABASE") {
				t.Errorf("%v does without its database: %s", args, said)
			}
			if found([]byte(said), secret) {
				t.Errorf("%v says a password of a database or bucket: %s", args, said)
			}
		}
		a.env = env
	}
	return out
}
