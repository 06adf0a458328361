package entry

import (
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base32"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/account/accounttest"
	"fettle/internal/right"
)

func (w *world) later(d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.now = w.now.Add(d)
}

// wants asks, and fails where the status is another.
func (b *browser) wants(status int, method, path string, body, into any) {
	b.Helper()
	if got := b.ask(method, path, body, into); got != status {
		text := make([]byte, 300)
		n, _ := b.last.Body.Read(text)
		b.Errorf("%s %s: %d, want %d: %s", method, path, got, status, text[:n])
	}
}

type options struct{ Options json.RawMessage }

// TestPasskeysByTheRoutes: one adds a passkey, signs in and proves oneself by it, and takes it away.
func TestPasskeysByTheRoutes(t *testing.T) {
	w, ada := begun(t)
	key := accounttest.NewAuthenticator(t, "https://shop.lan")
	var o options
	ada.wants(200, "POST", "/session/passkeys/begin", nil, &o)
	answer := json.RawMessage(key.Creates(o.Options))
	ada.wants(422, "POST", "/session/passkeys", map[string]any{"name": " ", "answer": answer}, nil)
	ada.wants(403, "POST", "/session/passkeys", map[string]any{"name": "bay", "answer": map[string]any{"id": "x"}}, nil)
	var p passkeyShown
	ada.wants(201, "POST", "/session/passkeys", map[string]any{"name": "bay", "answer": answer}, &p)
	ada.wants(403, "POST", "/session/passkeys", map[string]any{"name": "again", "answer": answer}, nil)
	var all passkeysShown
	if ada.wants(200, "GET", "/session/passkeys", nil, &all); len(all.Passkeys) != 1 || all.Passkeys[0] != p || p.Name != "bay" || p.Copied {
		t.Errorf("passkeys %+v, made %+v", all, p)
	}
	b := w.browser("https://shop.lan", "198.51.100.9:1")
	b.wants(200, "POST", "/session/passkey/begin", nil, &o)
	signed := map[string]any{"answer": json.RawMessage(key.Signs(o.Options))}
	b.wants(200, "POST", "/session/passkey", signed, nil)
	b.wants(403, "POST", "/session/passkey", signed, nil)
	var who known
	if b.wants(200, "GET", "/session", nil, &who); who.How != account.ByPasskey || who.Name != "Ada" {
		t.Errorf("signed in as %+v", who)
	}
	w.later(6 * time.Minute)
	b.wants(403, "DELETE", "/session/passkeys/"+p.Passkey, nil, nil)
	b.wants(200, "POST", "/session/proof/passkey/begin", nil, &o)
	signed = map[string]any{"answer": json.RawMessage(key.Signs(o.Options))}
	b.wants(204, "POST", "/session/proof/passkey", signed, nil)
	b.wants(403, "POST", "/session/proof/passkey", signed, nil)
	_, tim := b.added("tim", right.Technician)
	tim.wants(404, "DELETE", "/session/passkeys/"+p.Passkey, nil, nil)
	b.wants(204, "DELETE", "/session/passkeys/"+p.Passkey, nil, nil)
	b.wants(404, "DELETE", "/session/passkeys/"+p.Passkey, nil, nil)
	b.wants(200, "POST", "/session/passkey/begin", nil, &o)
	b.wants(403, "POST", "/session/passkey", map[string]any{"answer": json.RawMessage(key.Signs(o.Options))}, nil)
	none := newWorld(t)
	set := none.in.Settings
	set.Site = account.Site{}
	var err error
	if none.in, err = account.New(set); err != nil {
		t.Fatal(err)
	}
	none.serves()
	none.browser("https://shop.lan", "198.51.100.9:1").wants(404, "POST", "/session/passkey/begin", nil, nil)
}

// codeOf is a one-time code (RFC 6238: HMAC-SHA-1, 30 seconds, six digits), as a program of others makes it.
func codeOf(t *testing.T, address string, at time.Time) string {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "otpauth" || u.Host != "totp" {
		t.Fatalf("address %q: %v", address, err)
	}
	secret, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(u.Query().Get("secret"))
	if err != nil {
		t.Fatal(err)
	}
	mac := hmac.New(sha1.New, secret)
	mac.Write(binary.BigEndian.AppendUint64(nil, uint64(at.Unix()/30)))
	sum := mac.Sum(nil)
	from := sum[len(sum)-1] & 15
	return fmt.Sprintf("%06d", (binary.BigEndian.Uint32(sum[from:])&0x7fffffff)%1000000)
}

// TestCodesByTheRoutes: a secret counts once a code of it was shown; then a password alone lets nobody in, and guessing codes has to wait.
func TestCodesByTheRoutes(t *testing.T) {
	w, ada := begun(t)
	on := func(want bool) {
		t.Helper()
		var c codesShown
		if ada.wants(200, "GET", "/session/codes", nil, &c); c.On != want {
			t.Errorf("codes are on: %v, want %v", c.On, want)
		}
	}
	ada.wants(404, "PUT", "/session/codes", map[string]any{"code": "000000"}, nil)
	var begun codesBegun
	ada.wants(201, "POST", "/session/codes", nil, &begun)
	if !strings.Contains(begun.Address, begun.Secret) {
		t.Errorf("the address %q has not the secret %q", begun.Address, begun.Secret)
	}
	on(false)
	ada.wants(422, "PUT", "/session/codes", map[string]any{"code": "abcdef"}, nil)
	ada.wants(204, "PUT", "/session/codes", map[string]any{"code": codeOf(t, begun.Address, w.now)}, nil)
	on(true)
	b := w.browser("https://shop.lan", "198.51.100.9:1")
	var in entered
	if b.wants(200, "POST", "/session", map[string]any{"name": "ada", "password": bossWord}, &in); !in.NeedCode || len(b.shows) > 0 {
		t.Errorf("a password alone: %+v, shows %v", in, b.shows)
	}
	b.wants(403, "POST", "/session", map[string]any{"name": "ada", "password": bossWord, "code": codeOf(t, begun.Address, w.now)}, nil) // it was used
	w.later(time.Minute)
	b.wants(200, "POST", "/session", map[string]any{"name": "ada", "password": bossWord, "code": codeOf(t, begun.Address, w.now)}, nil)
	guess, got := w.browser("https://shop.lan", "198.51.100.10:1"), 0
	for range 20 {
		if got = guess.ask("POST", "/session", map[string]any{"name": "ada", "password": bossWord, "code": "000000"}, nil); got == 429 {
			break
		}
	}
	if got != 429 {
		t.Errorf("guessing codes goes on: %d", got)
	}
	w.later(6 * time.Minute)
	ada.wants(403, "DELETE", "/session/codes", nil, nil)
	ada.wants(403, "POST", "/session/codes", nil, nil)
	ada.wants(204, "POST", "/session/proof", map[string]any{"password": bossWord, "code": codeOf(t, begun.Address, w.now)}, nil)
	ada.wants(204, "DELETE", "/session/codes", nil, nil)
	on(false)
}

// TestOwnSessionsByTheRoutes: one sees where one is signed in, ends one or all others, and sets a new password.
func TestOwnSessionsByTheRoutes(t *testing.T) {
	w, ada := begun(t)
	_, tim := ada.added("tim", right.Technician)
	second := w.browser("https://shop.lan", "198.51.100.9:1")
	third := w.browser("https://shop.lan", "198.51.100.9:1")
	for _, b := range []*browser{second, third} {
		b.wants(200, "POST", "/session", map[string]any{"name": "ada", "password": bossWord}, nil)
	}
	var all sessionsShown
	if ada.wants(200, "GET", "/sessions", nil, &all); len(all.Sessions) != 3 {
		t.Fatalf("%d sessions, want 3", len(all.Sessions))
	}
	own := 0
	for _, s := range all.Sessions {
		if s.This {
			own++
			tim.wants(404, "DELETE", "/sessions/"+s.Session, nil, nil)
		}
	}
	var of sessionsShown
	second.wants(200, "GET", "/sessions", nil, &of)
	for _, s := range of.Sessions {
		if s.This {
			ada.wants(204, "DELETE", "/sessions/"+s.Session, nil, nil)
		}
	}
	second.wants(401, "GET", "/session", nil, nil)
	ada.wants(204, "DELETE", "/sessions", nil, nil)
	third.wants(401, "GET", "/session", nil, nil)
	if ada.wants(200, "GET", "/sessions", nil, &of); len(of.Sessions) != 1 || own != 1 {
		t.Errorf("after all others were ended: %+v", of)
	}
	second.wants(200, "POST", "/session", map[string]any{"name": "ada", "password": bossWord}, nil)
	ada.wants(422, "PUT", "/session/password", map[string]any{"password": "short"}, nil)
	ada.wants(200, "PUT", "/session/password", map[string]any{"password": otherOne}, nil)
	ada.wants(200, "GET", "/session", nil, nil)
	second.wants(401, "GET", "/session", nil, nil)
	w.later(6 * time.Minute)
	ada.wants(403, "PUT", "/session/password", map[string]any{"password": bossWord}, nil)
	ada.wants(400, "GET", "/sessions?of=everybody", nil, nil)
}

// TestJoiningByTheRoutes: who is in one shop joins another by an invitation, once, and leaves it; nobody becomes more in their own, nor leaves a shop without an administrator.
func TestJoiningByTheRoutes(t *testing.T) {
	w, ada := begun(t)
	_, tim := ada.added("tim", right.Technician)
	ada.wants(201, "POST", "/shops", map[string]any{"shop": "south", "name": "South"}, nil)
	ada.wants(200, "POST", "/session/shop", map[string]any{"shop": "south"}, nil)
	var in, other secretShown
	ada.wants(422, "POST", "/invitations", map[string]any{"roles": []string{}}, nil)
	ada.wants(201, "POST", "/invitations", map[string]any{"roles": []string{"reviewer"}}, &in)
	ada.wants(201, "POST", "/invitations", map[string]any{"roles": []string{"administrator"}}, &other)
	var all invitationsShown
	if ada.wants(200, "GET", "/invitations", nil, &all); len(all.Invitations) != 2 {
		t.Errorf("invitations %+v", all)
	}
	ada.wants(409, "POST", "/session/shops", map[string]any{"secret": in.Secret}, nil)
	tim.wants(403, "POST", "/session/shops", map[string]any{"secret": "x"}, nil)
	tim.wants(403, "POST", "/password", map[string]any{"secret": in.Secret, "password": otherOne}, nil) // it is no link for that
	tim.wants(200, "POST", "/session/shops", map[string]any{"secret": in.Secret}, nil)
	tim.wants(403, "POST", "/session/shops", map[string]any{"secret": in.Secret}, nil)
	var own membershipsShown
	if tim.wants(200, "GET", "/session/shops", nil, &own); len(own.Shops) != 2 {
		t.Errorf("shops %+v", own)
	}
	tim.wants(200, "POST", "/session/shop", map[string]any{"shop": "south"}, nil)
	var who known
	if tim.wants(200, "GET", "/session", nil, &who); who.Shop != "south" || len(who.Roles) != 1 || who.Roles[0] != right.Reviewer {
		t.Errorf("in the other shop: %+v", who)
	}
	tim.wants(403, "GET", "/invitations", nil, nil)
	tim.wants(403, "DELETE", "/invitations/"+other.ID, nil, nil)
	ada.wants(204, "DELETE", "/invitations/"+other.ID, nil, nil)
	ada.wants(404, "DELETE", "/invitations/"+other.ID, nil, nil)
	tim.wants(403, "POST", "/session/shops", map[string]any{"secret": other.Secret}, nil)
	ada.wants(403, "DELETE", "/session/shops/south", nil, nil) // its only administrator
	tim.wants(404, "DELETE", "/session/shops/east", nil, nil)
	w.later(6 * time.Minute)
	tim.wants(403, "DELETE", "/session/shops/south", nil, nil)
	tim.wants(204, "POST", "/session/proof", map[string]any{"password": otherOne}, nil)
	tim.wants(204, "DELETE", "/session/shops/south", nil, nil)
	tim.wants(401, "GET", "/session", nil, nil)
	tim.wants(200, "POST", "/session", map[string]any{"name": "tim", "password": otherOne}, nil)
	tim.wants(403, "DELETE", "/session/shops/north", nil, nil) // the only one
	if tim.wants(200, "GET", "/session/shops", nil, &own); len(own.Shops) != 1 {
		t.Errorf("shops after leaving %+v", own)
	}
}

// TestChangedSince: what was changed since it was read is not changed by who has seen it before.
func TestChangedSince(t *testing.T) {
	_, ada := begun(t)
	id, _ := ada.added("tim", right.Technician)
	tag := func(path string) string {
		ada.match = ""
		ada.wants(200, "GET", path, nil, nil)
		return ada.last.Header.Get("ETag")
	}
	person := "/people/" + id
	for _, c := range []struct {
		read, method, path string
		body               any
	}{
		{person, "PUT", person + "/roles", map[string]any{"roles": []string{"planner"}}},
		{person, "PUT", person + "/state", map[string]any{"active": false}},
		{"/shops/north", "PUT", "/shops/north", map[string]any{"name": "North, renamed", "everybody": true, "alone": false}},
		{person, "DELETE", person, nil},
	} {
		was := tag(c.read)
		if was == "" {
			t.Fatalf("%s has no tag", c.read)
		}
		for _, wrong := range []string{`"x"`, "x", was + `, "y"`, `W/` + was, `""`} {
			ada.match = wrong
			ada.wants(412, c.method, c.path, c.body, nil)
		}
		ada.match = was
		ada.wants(204, c.method, c.path, c.body, nil)
		if c.method == "PUT" {
			ada.match = was
			ada.wants(412, c.method, c.path, c.body, nil)
			ada.match = "*"
			ada.wants(204, c.method, c.path, c.body, nil)
		}
	}
	ada.match = ""
	ada.wants(404, "GET", person, nil, nil)
	ada.wants(404, "GET", "/shops/east", nil, nil)
}

// TestSecurityLogByTheRoutes: an administrator reads what happened in their own shop, in pages, and of another one nothing.
func TestSecurityLogByTheRoutes(t *testing.T) {
	w, ada := begun(t)
	_, tim := ada.added("tim", right.Technician)
	for range 7 {
		ada.wants(200, "POST", "/session", map[string]any{"name": "ada", "password": bossWord}, nil)
	}
	ada.wants(201, "POST", "/shops", map[string]any{"shop": "south", "name": "South"}, nil)
	ada.wants(200, "POST", "/session/shop", map[string]any{"shop": "south"}, nil)
	_, sue := ada.added("sue", right.Administrator)
	tim.wants(403, "GET", "/security-log", nil, nil)
	tim.wants(403, "GET", "/security-log?most=0", nil, nil)
	for _, q := range []string{"most=0", "most=501", "most=x", "since=today", "failures=1"} {
		sue.wants(422, "GET", "/security-log?"+q, nil, nil)
	}
	sue.wants(400, "GET", "/security-log?shop=north", nil, nil)
	b := w.browser("https://shop.lan", "198.51.100.77:1")
	for _, name := range []string{"tim", "sue", "nobody"} {
		b.wants(403, "POST", "/session", map[string]any{"name": name, "password": "wrong horse wrong staple"}, nil)
	}
	read := func(b *browser, query string) (out []entryShown) {
		t.Helper()
		for after := ""; ; {
			var page logShown
			b.wants(200, "GET", "/security-log?most=3"+query+"&after="+after, nil, &page)
			if len(page.Entries) > 3 {
				t.Errorf("%d lines of three", len(page.Entries))
			}
			out = append(out, page.Entries...)
			if after = page.After; after == "" {
				return out
			}
		}
	}
	if all := read(sue, ""); len(all) < 3 || len(all) > 9 || !saysOnly(all, "signed in", "person added", "password set", "shop made") {
		t.Errorf("the south is told %+v", all)
	}
	if f := read(sue, "&failures=true"); len(f) != 1 || f[0].What != account.SignInFailed || f[0].Address == "" {
		t.Errorf("failures at the south: %+v", f)
	}
	ada.wants(200, "POST", "/session", map[string]any{"name": "ada", "password": bossWord, "shop": "north"}, nil)
	if f := read(ada, "&failures=true"); len(f) != 2 { // tim, and the account that is nobody's
		t.Errorf("failures at the north: %+v", f)
	}
	all := read(ada, "")
	seen := map[string]bool{}
	for i, x := range all {
		if seen[x.Entry] || i > 0 && x.Entry <= all[i-1].Entry {
			t.Errorf("line %s twice, or before %s", x.Entry, all[max(0, i-1)].Entry)
		}
		seen[x.Entry] = true
	}
	if len(all) < 10 {
		t.Errorf("%d lines of the north", len(all))
	}
	if rest := read(ada, "&since="+w.now.Add(time.Hour).Format(time.RFC3339)); len(rest) != 0 {
		t.Errorf("of the future: %+v", rest)
	}
}

func saysOnly(all []entryShown, what ...string) bool {
	for _, x := range all {
		if !strings.Contains(strings.Join(what, "|"), string(x.What)) {
			return false
		}
	}
	return true
}
