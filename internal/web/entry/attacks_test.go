package entry

import (
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
	"fettle/internal/web"
)

// showing is a browser that shows a cookie and nothing else.
func (b *browser) showing(name, value string) *browser {
	out := b.browser(b.base, b.from)
	out.shows[name] = value
	return out
}

func (w *world) pass(d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.now = w.now.Add(d)
}

// must is an answer that a step of an attack needs.
func (b *browser) must(want int, method, path string, body any) {
	b.Helper()
	if got := b.ask(method, path, body, nil); got != want {
		b.Fatalf("%s %s: %d, want %d", method, path, got, want)
	}
}

// codeOf is the one-time code of a moment (RFC 6238, 4.2).
func (w *world) codeOf(secret string) string {
	w.Helper()
	key, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(secret)
	if err != nil {
		w.Fatal(err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	mac := hmac.New(sha1.New, key)
	mac.Write(binary.BigEndian.AppendUint64(nil, uint64(w.now.Unix()/30)))
	sum := mac.Sum(nil)
	at := sum[19] & 15
	return fmt.Sprintf("%06d", binary.BigEndian.Uint32(sum[at:at+4])&0x7fffffff%1_000_000)
}

// raw asks who one is with headers of one's own.
func (b *browser) raw(path string, h http.Header) int {
	r := httptest.NewRequest(http.MethodGet, b.base+"/api/v1/session"+path, nil)
	r.RemoteAddr, r.Header = b.from, h
	out := httptest.NewRecorder()
	b.web.ServeHTTP(out, r)
	return out.Code
}

// attack is a way to be somebody else, or to stay somebody longer than one may. It ends with somebody who must be nobody. Tim is a technician whose
// session is open in two tabs.
type attack struct {
	name string
	do   func(ada, tim *browser, id string) *browser
}

const name = string(secureSession)

// withHeader must be nobody with headers of their own: what they show is tried here, since a browser would not send it.
func withHeader(path string, h func(secret string) http.Header) func(_, tim *browser, _ string) *browser {
	return func(_, tim *browser, _ string) *browser {
		if got := tim.raw(path, h(tim.shows[name])); got != http.StatusUnauthorized && got != http.StatusBadRequest {
			tim.Errorf("taken for somebody: %d", got)
		}
		return tim.showing(name, "")
	}
}

func ended(end func(ada, tim *browser, id string)) func(_, _ *browser, _ string) *browser {
	return func(ada, tim *browser, id string) *browser {
		second := tim.showing(name, tim.shows[name])
		end(ada, tim, id)
		return second
	}
}

func altered(how func(string) string) func(_, _ *browser, _ string) *browser {
	return func(_, tim *browser, _ string) *browser { return tim.showing(name, how(tim.shows[name])) }
}

var signTim = map[string]any{"name": "tim", "password": otherOne}

// The first are those of OWASP ASVS 5.0, 7.2 to 7.5, and of its Session Management Cheat Sheet; the others are what the code could get wrong.
var attacks = []attack{
	{"a cookie that was planted before there was a session", altered(func(string) string { return strings.Repeat("A", 43) })},
	{"the cookie that the victim had when they signed in", func(_, tim *browser, _ string) *browser {
		planted := tim.showing(name, "planted-by-somebody")
		planted.must(200, "POST", "/session", signTim)
		return tim.showing(name, "planted-by-somebody")
	}},
	{"the attacker's own session, in which the victim signed in", func(ada, tim *browser, _ string) *browser {
		victim := tim.showing(name, ada.shows[name])
		victim.must(200, "POST", "/session", signTim)
		return tim.showing(name, ada.shows[name])
	}},
	{"a session of TLS in the cookie for this machine", func(_, tim *browser, _ string) *browser { return tim.showing(string(localSession), tim.shows[name]) }},
	{"a session in a cookie that another host could set", func(_, tim *browser, _ string) *browser { return tim.showing("__Secure-fettle", tim.shows[name]) }},
	{"a name in other letters", func(_, tim *browser, _ string) *browser { return tim.showing(strings.ToLower(name), tim.shows[name]) }},
	{"two cookies, the planted first", withHeader("", func(s string) http.Header { return http.Header{"Cookie": {name + "=planted; " + name + "=" + s}} })},
	{"two cookies, the planted last", withHeader("", func(s string) http.Header { return http.Header{"Cookie": {name + "=" + s + "; " + name + "=planted"}} })},
	{"two lines of cookies", withHeader("", func(s string) http.Header { return http.Header{"Cookie": {name + "=" + s, name + "=planted"}} })},
	{"a session in the query", withHeader("?session=x", func(s string) http.Header { return http.Header{"X-Session": {s}} })},
	{"a session as a token", withHeader("", func(s string) http.Header { return http.Header{"Authorization": {"Bearer " + s}} })},
	{"a session beside a token that is none", withHeader("", func(s string) http.Header {
		return http.Header{"Authorization": {"Bearer fettle_x"}, "Cookie": {name + "=" + s}}
	})},
	{"a session beside another way of proof", withHeader("", func(s string) http.Header {
		return http.Header{"Authorization": {"Basic dGltOng="}, "Cookie": {name + "=" + s}}
	})},
	{"a session beside two tokens", withHeader("", func(s string) http.Header {
		return http.Header{"Authorization": {"Bearer a", "Bearer b"}, "Cookie": {name + "=" + s}}
	})},
	{"a token as a session", func(_, tim *browser, _ string) *browser {
		var made secretShown
		if got := tim.ask("POST", "/tokens", map[string]any{"name": "arm", "days": 7}, &made); got != 201 {
			tim.Fatal(got)
		}
		return tim.showing(name, made.Secret)
	}},
	{"the device's cookie as a session", func(_, tim *browser, _ string) *browser { return tim.showing(name, tim.shows[string(secureDevice)]) }},
	{"the link of a new password as a session", func(ada, tim *browser, id string) *browser {
		var link secretShown
		if got := ada.ask("POST", "/people/"+id+"/link", map[string]any{}, &link); got != 201 {
			tim.Fatal(got)
		}
		return tim.showing(name, link.Secret)
	}},
	{"a session with another sign in it", altered(func(s string) string { return "_" + s[1:42] + "_" })},
	{"a session that is cut", altered(func(s string) string { return s[:42] })},
	{"a session with more behind it", altered(func(s string) string { return s + "A" })},
	{"a session in small letters", altered(strings.ToLower)},
	{"a session of another server", func(_, tim *browser, _ string) *browser {
		_, other := begun(tim.T)
		return tim.showing(name, other.shows[name])
	}},
	{"a replay after signing out", ended(func(_, tim *browser, _ string) { tim.must(204, "DELETE", "/session", nil) })},
	{"a replay after signing out twice", ended(func(_, tim *browser, _ string) {
		tim.must(204, "DELETE", "/session", nil)
		tim.must(204, "DELETE", "/session", nil)
	})},
	{"the session before, after signing in anew", ended(func(_, tim *browser, _ string) { tim.must(200, "POST", "/session", signTim) })},
	{"after another role", ended(func(ada, _ *browser, id string) {
		ada.must(204, "PUT", "/people/"+id+"/roles", map[string]any{"roles": []right.Role{right.Planner}})
	})},
	{"after the role was taken", ended(func(ada, _ *browser, id string) {
		ada.must(204, "PUT", "/people/"+id+"/roles", map[string]any{"roles": []right.Role{}})
	})},
	{"after more roles", ended(func(ada, _ *browser, id string) {
		ada.must(204, "PUT", "/people/"+id+"/roles", map[string]any{"roles": []right.Role{right.Technician, right.Planner}})
	})},
	{"after being disabled", ended(func(ada, _ *browser, id string) {
		ada.must(204, "PUT", "/people/"+id+"/state", map[string]any{"active": false})
	})},
	{"after being disabled and enabled", ended(func(ada, _ *browser, id string) {
		ada.must(204, "PUT", "/people/"+id+"/state", map[string]any{"active": false})
		ada.must(204, "PUT", "/people/"+id+"/state", map[string]any{"active": true})
	})},
	{"after a new password by a link", ended(func(ada, tim *browser, id string) {
		var link secretShown
		if got := ada.ask("POST", "/people/"+id+"/link", map[string]any{}, &link); got != 201 {
			tim.Fatal(got)
		}
		tim.browser(tim.base, tim.from).must(204, "POST", "/password", map[string]any{"secret": link.Secret, "password": "nine patient saws wait"})
	})},
	{"after half an hour without use", ended(func(_, tim *browser, _ string) { tim.pass(account.IdleFor) })},
	{"after ten hours of use without a break", ended(func(_, tim *browser, _ string) {
		for left := account.SessionFor; left > 0; left -= 20 * time.Minute {
			tim.must(200, "GET", "/session", nil)
			tim.pass(20 * time.Minute)
		}
	})},
	{"after ten hours, with a proof anew just before", ended(func(_, tim *browser, _ string) {
		for left := account.SessionFor; left > 0; left -= 20 * time.Minute {
			tim.must(204, "POST", "/session/proof", map[string]any{"password": otherOne})
			tim.pass(20 * time.Minute)
		}
	})},
	{"while a clock is a day behind", ended(func(_, tim *browser, _ string) { tim.pass(-24 * time.Hour) })},
	{"over, and the clock put back", func(_, tim *browser, _ string) *browser {
		tim.pass(account.IdleFor)
		tim.must(401, "GET", "/session", nil)
		tim.pass(-account.IdleFor)
		return tim
	}},
	{"the half of a sign-in that waits for a code", func(_, tim *browser, _ string) *browser {
		s, err := tim.in.Session(tim.Context(), tim.shows[name])
		if err != nil {
			tim.Fatal(err)
		}
		codes, err := tim.in.BeginCodes(tim.Context(), s.Who)
		if err == nil {
			err = tim.in.FinishCodes(tim.Context(), s.Who, tim.codeOf(codes.Secret))
		}
		if err != nil {
			tim.Fatal(err)
		}
		half := tim.browser(tim.base, tim.from)
		var told entered
		if got := half.ask("POST", "/session", signTim, &told); got != 200 || !told.NeedCode || len(half.shows) > 0 {
			tim.Errorf("%d %+v %v", got, told, half.shows)
		}
		return half
	}},
	{"a sign-out while twenty tabs ask", func(_, tim *browser, _ string) *browser {
		secret := tim.shows[name]
		var all sync.WaitGroup
		for range 20 {
			all.Go(func() {
				for range 20 {
					_ = tim.raw("", http.Header{"Cookie": {name + "=" + secret}}) // either is right meanwhile
				}
			})
		}
		tim.must(204, "DELETE", "/session", nil)
		late := tim.raw("", http.Header{"Cookie": {name + "=" + secret}})
		all.Wait()
		if late != http.StatusUnauthorized {
			tim.Errorf("while others ask: %d", late)
		}
		return tim.showing(name, secret)
	}},
}

// TestSessionAttacks tries them over HTTP: each ends with nobody, who is told what nobody is told, and before it there was a session, so that each could have had one.
func TestSessionAttacks(t *testing.T) {
	if len(attacks) < 30 {
		t.Fatalf("%d attacks", len(attacks))
	}
	var told web.Problem
	for _, a := range attacks {
		t.Run(a.name, func(t *testing.T) {
			_, ada := begun(t)
			id, tim := ada.added("tim", right.Technician)
			tim.must(200, "GET", "/session", nil)
			end := a.do(ada, tim, id)
			var p web.Problem
			if got := end.ask("GET", "/session", nil, &p); got != http.StatusUnauthorized {
				t.Errorf("taken for somebody: %d", got)
			}
			p.ID = ""
			if told == (web.Problem{}) {
				told = p
			}
			if p != told {
				t.Errorf("told %+v, and another %+v", p, told)
			}
			for _, c := range end.last.Cookies() {
				if c.Value != "" && c.MaxAge >= 0 {
					t.Errorf("given %s", c.Name)
				}
			}
			if got := end.ask("POST", "/tokens", map[string]any{"name": "arm", "days": 7}, nil); got != http.StatusUnauthorized {
				t.Errorf("makes a token: %d", got)
			}
		})
	}
}
