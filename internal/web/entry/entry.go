// Package entry is the ways into a server: first use, signing in and out, proving oneself anew, a new password by a link; and who a request is
// from. It decides nothing: package account does.
package entry

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"time"

	"fettle/internal/account"
	"fettle/internal/web"
)

// cookie is the name of a cookie.
type cookie string

// Cookies that a browser shows: those that are sent over TLS and to this host alone (RFC 6265bis, 4.1.3.2), and those for a machine
// by itself, where there is no TLS. None is taken in the place of another.
const (
	secureSession cookie = "__Host-fettle"
	localSession  cookie = "fettle"
	secureDevice  cookie = "__Host-fettle-device"
	localDevice   cookie = "fettle-device"
)

// deviceFor is for how long a browser shows that somebody has signed in on it before.
const deviceFor = 90 * 24 * time.Hour

func sessionCookie(ctx context.Context) cookie {
	if web.Secure(ctx) {
		return secureSession
	}
	return localSession
}

func deviceCookie(ctx context.Context) cookie {
	if web.Secure(ctx) {
		return secureDevice
	}
	return localDevice
}

// shown is the secret of a cookie; empty where there is none, or two, of which one was planted.
func shown(r *http.Request, name cookie) string {
	all := r.CookiesNamed(string(name))
	if len(all) != 1 {
		return ""
	}
	return all[0].Value
}

// give has a browser show a secret from now on; an empty one, that it shows none.
func give(w http.ResponseWriter, r *http.Request, name cookie, secret string, lasts time.Duration) {
	c := &http.Cookie{Name: string(name), Value: secret, Path: "/", HttpOnly: true, Secure: web.Secure(r.Context()), SameSite: http.SameSiteLaxMode, MaxAge: int(lasts / time.Second)}
	if secret == "" {
		c.MaxAge = -1
	}
	http.SetCookie(w, c)
}

// Session is who a request is from: by a token where one is shown, else by the session; read anew each time.
func Session(in *account.Accounts, r *http.Request) (account.Session, error) {
	return find(r, in.Token, in.Session)
}

// Look is Session of a request that goes on by itself, as a stream: it keeps nobody signed in.
func Look(in *account.Accounts, r *http.Request) (account.Session, error) {
	return find(r, in.Token, in.Look)
}

func find(r *http.Request, byToken, bySession func(context.Context, string) (account.Session, error)) (account.Session, error) {
	if tokens := r.Header.Values("Authorization"); len(tokens) > 0 {
		kind, token, _ := strings.Cut(tokens[0], " ")
		if len(tokens) > 1 || !strings.EqualFold(kind, "Bearer") { // RFC 9110, 11.1: the name of a scheme has no case
			return account.Session{}, account.ErrNobody
		}
		return byToken(r.Context(), token)
	}
	secret, outside := shown(r, sessionCookie(r.Context())), false
	if ofRevision(r.URL.Path) {
		if link := shown(r, readerCookie(r.Context())); link != "" {
			secret, outside = link, true
		}
	}
	if secret == "" {
		return account.Session{}, account.ErrNobody
	}
	s, err := bySession(r.Context(), secret)
	if err == nil && (s.Who.Link.ID != "") != outside { // the one is never taken for the other
		return account.Session{}, account.ErrNobody
	}
	return s, err
}

// Mount has the ways in answered below a prefix.
func Mount(m *http.ServeMux, prefix string, in *account.Accounts) {
	e := ways{in}
	for _, x := range e.all() {
		m.HandleFunc(x.Method+" "+prefix+x.Path, x.serve)
	}
}

// serve answers a request that has no parameter which the route does not have.
func (x way) serve(w http.ResponseWriter, r *http.Request) {
	q, err := url.ParseQuery(r.URL.RawQuery)
	for name, values := range q {
		if _, is := x.Query[name]; !is || len(values) > 1 {
			err = errors.New("unknown")
		}
	}
	if err != nil {
		web.Tell(w, r, web.Problem{Status: http.StatusBadRequest, Code: "entry.unreadable", Detail: "the address has parameters that this does not take, or one twice", Hint: "leave them out"})
		return
	}
	x.do(w, r)
}

type ways struct{ in *account.Accounts }

func from(r *http.Request) account.From {
	if a := web.Client(r.Context()); a.IsValid() {
		return account.From{Address: a.String()}
	}
	return account.From{}
}
