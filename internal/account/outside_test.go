//go:build outside

package account_test

import (
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
)

// TestOutsideProvider signs people in at a provider of others, a program of its own, by its own page.
func TestOutsideProvider(t *testing.T) {
	l := got(net.Listen("tcp", "localhost:0"))(t)
	_, port, err := net.SplitHostPort(l.Addr().String())
	must(t, err)
	must(t, l.Close())
	const back = "http://localhost:9/back"
	issuer := "http://localhost:" + port + "/"
	run := exec.CommandContext(t.Context(), got(filepath.Abs("../../build/oidcserver"))(t))
	run.Env = append(os.Environ(), "PORT="+port, "REDIRECT_URI="+back)
	must(t, run.Start())
	defer func() {
		run.Process.Kill()
		run.Wait()
	}()
	w := newWorld(t, func(s *account.Settings) {
		s.Provider = account.Provider{Issuer: issuer, Client: "web", ClientSecret: "secret", Redirect: back, HTTP: http.DefaultClient}
	})
	w.clock.pass(time.Since(w.clock.now())) // its clock is the real one
	for began := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		if _, err := w.BeginProvider(t.Context(), nil, false); err == nil {
			break
		} else if time.Since(began) > time.Minute {
			t.Fatal(err)
		}
	}
	visits := func(sent account.Sent, password string) (account.Returned, bool) {
		jar := got(cookiejar.New(nil))(t)
		page := &http.Client{Jar: jar, CheckRedirect: func(r *http.Request, _ []*http.Request) error {
			if strings.HasPrefix(r.URL.String(), back) {
				return http.ErrUseLastResponse
			}
			return nil
		}}
		resp := got(page.Get(sent.Address))(t)
		resp.Body.Close()
		id := resp.Request.URL.Query().Get("authRequestID")
		resp = got(page.PostForm(issuer+"login/username", url.Values{"id": {id}, "username": {"test-user@localhost"}, "password": {password}}))(t)
		resp.Body.Close()
		to, err := resp.Location()
		if err != nil {
			return account.Returned{}, false
		}
		q := to.Query()
		return account.Returned{State: q.Get("state"), Code: q.Get("code"), Issuer: q.Get("iss"), Browser: sent.Browser}, q.Get("code") != ""
	}
	const right = "verysecure" // of its example
	begin := func() account.Sent { return got(w.BeginProvider(t.Context(), nil, false))(t) }
	if _, is := visits(begin(), "wrong"); is {
		t.Error("the provider lets anybody in")
	}
	r, is := visits(begin(), right)
	if !is {
		t.Fatal("nobody came back")
	}
	if _, err := w.FinishProvider(t.Context(), r, account.Try{}, home); diag.KindOf(err) != diag.Denied {
		t.Errorf("somebody whom nobody knows: %v", err)
	}
	s := w.annaIn()
	r, _ = visits(got(w.BeginProvider(t.Context(), &s, true))(t), right)
	must(t, w.TieProvider(t.Context(), s, r))
	r, _ = visits(begin(), right)
	in := got(w.FinishProvider(t.Context(), r, account.Try{}, home))(t)
	if s := w.session(in); s.Person.ID != w.anna.ID || s.How != account.ByProvider || !s.Who.Fresh {
		t.Errorf("%+v", s)
	}
	if _, err := w.FinishProvider(t.Context(), r, account.Try{}, home); diag.KindOf(err) != diag.Denied {
		t.Errorf("the same again: %v", err)
	}
}
