package entry

import (
	"crypto/rand"
	"crypto/rsa"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/go-jose/go-jose/v4"

	"fettle/internal/account"
	"fettle/internal/account/openid"
	"fettle/internal/web"
)

// lenient is a provider that lets everybody in as the same person, and takes any code, as often as it comes.
func lenient(t *testing.T, now func() time.Time) *openid.Client {
	t.Helper()
	key, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	var base string
	asked := map[string]string{} // nonce of each code
	m := http.NewServeMux()
	m.HandleFunc("GET /.well-known/openid-configuration", func(w http.ResponseWriter, _ *http.Request) {
		json.NewEncoder(w).Encode(map[string]any{"issuer": base, "authorization_endpoint": base + "/in", "token_endpoint": base + "/token", "jwks_uri": base + "/keys"})
	})
	m.HandleFunc("GET /keys", func(w http.ResponseWriter, _ *http.Request) {
		json.NewEncoder(w).Encode(jose.JSONWebKeySet{Keys: []jose.JSONWebKey{{Key: key.Public(), KeyID: "k", Algorithm: "RS256", Use: "sig"}}})
	})
	m.HandleFunc("GET /in", func(w http.ResponseWriter, r *http.Request) { asked[r.FormValue("state")] = r.FormValue("nonce") })
	m.HandleFunc("POST /token", func(w http.ResponseWriter, r *http.Request) { // the code is the state
		s, err := jose.NewSigner(jose.SigningKey{Algorithm: jose.RS256, Key: key}, (&jose.SignerOptions{}).WithHeader("kid", "k"))
		if err != nil {
			t.Error(err)
		}
		claims, _ := json.Marshal(map[string]any{"iss": base, "sub": "ada", "aud": "fettle", "exp": now().Unix() + 60, "iat": now().Unix(), "auth_time": now().Unix(), "nonce": asked[r.FormValue("code")]})
		signed, err := s.Sign(claims)
		if err != nil {
			t.Error(err)
		}
		text, _ := signed.CompactSerialize()
		w.Header().Set("Content-Type", "application/json")
		json.NewEncoder(w).Encode(map[string]any{"access_token": "x", "token_type": "Bearer", "id_token": text})
	})
	server := httptest.NewServer(m)
	t.Cleanup(server.Close)
	base = server.URL
	c, err := openid.New(openid.Settings{Issuer: base, Client: "fettle", Secret: "word", Back: "https://shop.lan" + ProviderBack, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// goes sends a browser to a page of the server, not below its prefix.
func (b *browser) goes(method, path string) *http.Response {
	b.Helper()
	b.ask(method, ".."+path, nil, nil)
	return b.last
}

// way is where a browser comes back to, that the provider has let in where it was sent.
func (b *browser) way(address string) url.Values {
	b.Helper()
	answer, err := http.Get(address)
	if err != nil {
		b.Fatal(err)
	}
	answer.Body.Close()
	u, _ := url.Parse(address)
	return url.Values{"state": {u.Query().Get("state")}, "code": {u.Query().Get("state")}}
}

// TestWayToTheProvider: where a browser is sent, and what it shows on its way and after; what comes back otherwise lets nobody in.
func TestWayToTheProvider(t *testing.T) {
	w, ada := begun(t)
	if got := ada.goes("GET", ProviderPath); got.StatusCode != http.StatusNotFound {
		t.Errorf("without a provider: %s", got.Status)
	}
	set := w.in.Settings
	set.Provider = lenient(t, set.Now)
	var err error
	if w.in, err = account.New(set); err != nil {
		t.Fatal(err)
	}
	m := http.NewServeMux()
	Mount(m, "/api/v1", w.in)
	pages := http.NewServeMux()
	MountProvider(pages, w.in)
	if w.web, err = web.New(web.Config{API: m, Pages: pages}); err != nil {
		t.Fatal(err)
	}
	var to struct{ Address string }
	if got := ada.ask("POST", "/session/provider", map[string]any{"for": account.ToTie, "then": "/week?x=1"}, &to); got != http.StatusOK {
		t.Fatalf("to tie: %d", got)
	}
	was := ada.shows[string(secureSession)]
	if got := ada.goes("GET", ProviderBack+"?"+ada.way(to.Address).Encode()); got.StatusCode != http.StatusSeeOther || got.Header.Get("Location") != "/week?x=1" || ada.shows[string(secureSession)] != was || ada.shows[string(secureWay)] != "" {
		t.Errorf("tied: %s to %q, shows %v", got.Status, got.Header.Get("Location"), ada.shows)
	}
	out := func() (*browser, url.Values) {
		b := w.browser("https://shop.lan", "198.51.100.50:1")
		got := b.goes("GET", ProviderPath)
		if got.StatusCode != http.StatusSeeOther || len(got.Cookies()) != 1 {
			t.Fatalf("sent by %s with %v", got.Status, got.Cookies())
		}
		if c := got.Cookies()[0]; c.Name != string(secureWay) || !c.Secure || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" || c.MaxAge != 900 {
			t.Errorf("cookie %+v", c)
		}
		return b, b.way(got.Header.Get("Location"))
	}
	b, q := out()
	if got := b.goes("GET", ProviderBack+"?"+q.Encode()); got.StatusCode != http.StatusSeeOther || got.Header.Get("Location") != "/" || b.shows[string(secureSession)] == "" || b.shows[string(secureWay)] != "" {
		t.Errorf("let in: %s, shows %v", got.Status, b.shows)
	}
	for name, change := range map[string]func(*browser, url.Values){
		"an error": func(_ *browser, q url.Values) { q.Set("error", "access_denied") }, "an error and no code": func(_ *browser, q url.Values) { q.Set("error", "x<script>"); q.Del("code") },
		"two states": func(_ *browser, q url.Values) { q.Add("state", "x") }, "two codes": func(_ *browser, q url.Values) { q.Add("code", "x") }, "two issuers": func(_ *browser, q url.Values) { q["iss"] = []string{"x", "y"} },
		"another issuer": func(_ *browser, q url.Values) { q.Set("iss", "https://evil.example") }, "no state": func(_ *browser, q url.Values) { q.Del("state") }, "no code": func(_ *browser, q url.Values) { q.Del("code") },
		"no cookie": func(b *browser, _ url.Values) { delete(b.shows, string(secureWay)) }, "the cookie of this machine": func(b *browser, _ url.Values) {
			b.shows[string(localWay)] = b.shows[string(secureWay)]
			delete(b.shows, string(secureWay))
		},
		"an altered cookie": func(b *browser, _ url.Values) {
			b.shows[string(secureWay)] = "A" + b.shows[string(secureWay)][1:] + "A"
		},
		"the way of another": func(b *browser, _ url.Values) {
			other, _ := out()
			b.shows[string(secureWay)] = other.shows[string(secureWay)]
		},
	} {
		b, q := out()
		change(b, q)
		got := b.goes("GET", ProviderBack+"?"+q.Encode())
		if got.StatusCode != http.StatusForbidden || b.shows[string(secureSession)] != "" || got.Header.Get("Content-Type") != "application/problem+json" {
			t.Errorf("%s: %s, shows %v", name, got.Status, b.shows)
		}
	}
	b, q = out()
	if got := b.goes("HEAD", ProviderBack+"?"+q.Encode()); got.StatusCode != http.StatusMethodNotAllowed || b.shows[string(secureSession)] != "" {
		t.Errorf("asked for its headers alone: %s", got.Status)
	}
	for _, then := range []string{"https://evil.example", "//evil.example", "/\\evil.example", "\\\\evil.example", "javascript:alert(1)", "week", "/a\nb", "/a b", "%2f/evil.example", "/\tx", "http:/x", strings.Repeat("/x", 300)} {
		if got := b.goes("GET", ProviderPath+"?then="+url.QueryEscape(then)); got.StatusCode != http.StatusBadRequest && got.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("then %q: %s", then, got.Status)
		}
	}
	for _, c := range []struct {
		b    *browser
		body map[string]any
		want int
	}{{w.browser("https://shop.lan", "198.51.100.51:1"), map[string]any{"for": account.ToTie}, 401}, {w.browser("https://shop.lan", "198.51.100.51:1"), map[string]any{"for": account.ToSignIn, "invitation": "x"}, 403}, {ada, map[string]any{"for": "reign"}, 400}, {ada, map[string]any{}, 400}} {
		if got := c.b.ask("POST", "/session/provider", c.body, nil); got != c.want {
			t.Errorf("%v: %d, want %d", c.body, got, c.want)
		}
	}
	var at there
	if got := ada.ask("GET", "/session/provider", nil, &at); got != http.StatusOK || len(at.Tied) != 1 || at.SignOut != "" {
		t.Errorf("ada sees %d %+v", got, at)
	}
	if got := ada.ask("DELETE", "/session/provider", nil, nil); got != http.StatusNoContent {
		t.Errorf("untied: %d", got)
	}
	b, q = out()
	if got := b.goes("GET", ProviderBack+"?"+q.Encode()); got.StatusCode != http.StatusForbidden || b.shows[string(secureSession)] != "" {
		t.Errorf("after it was untied: %s", got.Status)
	}
}
