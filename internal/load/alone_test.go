//go:build linux

package load

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// alone is a server of a data folder of its own, with a file for a database, that is asked as a browser on this machine asks.
type alone struct {
	t testing.TB
	*server
}

// exchange is a request and what was answered.
type exchange struct {
	method, path string
	status       int
	header       http.Header
	body         []byte
}

func newAlone(t testing.TB, env ...string) *alone {
	t.Helper()
	a := &alone{t: t, server: newServer(t, 0, env)}
	if err := a.start(); err != nil {
		t.Fatal(err)
	}
	return a
}

// runs runs another command on its folder, and is all that it says.
func (a *alone) runs(args ...string) (string, error) {
	binary, err := program()
	if err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(a.t.Context(), time.Minute)
	defer cancel()
	c := exec.CommandContext(ctx, binary, append(args, "--data", filepath.Join(a.dir, "data"))...)
	c.Env, c.Dir = a.env, filepath.Join(a.dir, "home")
	said, err := c.CombinedOutput()
	return string(said), err
}

// guest asks the server; what it is given it shows from then on.
type guest struct {
	*alone
	client *http.Client
	shows  map[string]string
	token  string
	header http.Header
}

// guest comes from an address of this machine.
func (a *alone) guest(from string) *guest {
	d := &net.Dialer{Timeout: 10 * time.Second, LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}}
	return &guest{alone: a, shows: map[string]string{}, client: &http.Client{Timeout: time.Minute, Transport: &http.Transport{DialContext: d.DialContext, MaxIdleConnsPerHost: 8},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// ask sends JSON, or a text as it is.
func (g *guest) ask(method, path string, body any) (exchange, error) {
	text, raw := body.(string)
	if !raw && body != nil {
		j, err := json.Marshal(body)
		if err != nil {
			return exchange{}, err
		}
		text = string(j)
	}
	r, err := http.NewRequestWithContext(g.t.Context(), method, "http://"+g.address+path, strings.NewReader(text))
	if err != nil {
		return exchange{}, err
	}
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	if g.token != "" {
		r.Header.Set("Authorization", "Bearer "+g.token)
	}
	for name, value := range g.shows {
		r.AddCookie(&http.Cookie{Name: name, Value: value})
	}
	for name, values := range g.header {
		r.Header[name] = values
	}
	got, err := g.client.Do(r)
	if err != nil {
		return exchange{}, err
	}
	defer got.Body.Close() // it is read whole
	data, err := io.ReadAll(got.Body)
	for _, c := range got.Cookies() {
		g.shows[c.Name] = c.Value
	}
	x := exchange{method, path, got.StatusCode, got.Header, data}
	return x, err
}

// must is an answer that the test needs; its body is read into something.
func (g *guest) must(want int, method, path string, body, into any) {
	g.t.Helper()
	got, err := g.ask(method, path, body)
	if err == nil && got.status != want {
		err = fmt.Errorf("%d, want %d: %.300s", got.status, want, got.body)
	}
	if err == nil && into != nil {
		err = json.Unmarshal(got.body, into)
	}
	if err != nil {
		g.t.Fatalf("%s %s: %v", method, path, err)
	}
}

var aLink = regexp.MustCompile(`#(\S+)`)

// first has somebody become the first administrator, and is what the link had behind its sign.
func (g *guest) first(word string) (link string) {
	g.t.Helper()
	said, err := g.runs("people", "first")
	m := aLink.FindStringSubmatch(said)
	if err != nil || m == nil {
		g.t.Fatalf("%v: %s", err, said)
	}
	g.must(200, "POST", "/api/v1/first", map[string]any{"secret": m[1], "shop": "north", "shop_name": "North", "name": "Ada", "sign_in": "ada", "password": word, "roles": []string{"planner", "technician"}}, nil)
	return m[1]
}

// written is every file that it has written, and its log.
func (a *alone) written() (map[string][]byte, error) {
	out := map[string][]byte{}
	err := filepath.WalkDir(a.dir, func(p string, d os.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		text, err := os.ReadFile(p)
		out[strings.TrimPrefix(p, a.dir+"/")] = text
		return err
	})
	return out, err
}
