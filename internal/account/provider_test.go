package account_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/go-jose/go-jose/v4"

	"fettle/internal/account"
	"fettle/internal/account/openid"
	"fettle/internal/diag"
)

// issuer is a provider as OpenID Connect Core 1.0, section 3.1, has one, and each kind of hostile or broken one.
type issuer struct {
	t      *testing.T
	server *httptest.Server
	key    *ecdsa.PrivateKey
	now    func() time.Time
	sub    string               // who signs in there
	change func(map[string]any) // of the claims; nil: none
	sign   func(claims []byte) string
	answer http.HandlerFunc // in the place of the token; nil: the token

	mu    sync.Mutex
	codes map[string]url.Values // what was asked for under a code, once
}

const clientSecret = "the secret of the client"

func newIssuer(t *testing.T) *issuer {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	p := &issuer{t: t, key: key, sub: "subject-1", codes: map[string]url.Values{}}
	p.sign = func(claims []byte) string { return p.signed(p.key, "ES256", claims) }
	mux := http.NewServeMux()
	p.server = httptest.NewTLSServer(mux)
	t.Cleanup(p.server.Close)
	mux.HandleFunc("GET /.well-known/openid-configuration", func(w http.ResponseWriter, _ *http.Request) {
		json.NewEncoder(w).Encode(map[string]any{"issuer": p.server.URL, "authorization_endpoint": p.server.URL + "/authorize", "token_endpoint": p.server.URL + "/token", "jwks_uri": p.server.URL + "/keys", "end_session_endpoint": p.server.URL + "/out",
			"id_token_signing_alg_values_supported": []string{"ES256"}})
	})
	mux.HandleFunc("GET /keys", func(w http.ResponseWriter, _ *http.Request) {
		json.NewEncoder(w).Encode(jose.JSONWebKeySet{Keys: []jose.JSONWebKey{{Key: p.key.Public(), KeyID: "k", Algorithm: "ES256", Use: "sig"}}})
	})
	mux.HandleFunc("POST /token", p.token)
	return p
}

func (p *issuer) signed(key any, alg jose.SignatureAlgorithm, claims []byte) string {
	s, err := jose.NewSigner(jose.SigningKey{Algorithm: alg, Key: key}, (&jose.SignerOptions{}).WithHeader("kid", "k"))
	if err != nil {
		p.t.Fatal(err)
	}
	signed, err := s.Sign(claims)
	if err != nil {
		p.t.Fatal(err)
	}
	text, err := signed.CompactSerialize()
	if err != nil {
		p.t.Fatal(err)
	}
	return text
}

// authorizes is what somebody brings back who was sent there and has signed in.
func (p *issuer) authorizes(sent account.Sent) account.Returned {
	p.t.Helper()
	u, err := url.Parse(sent.Address)
	if err != nil || !strings.HasPrefix(sent.Address, p.server.URL+"/authorize?") {
		p.t.Fatalf("sent to %s: %v", sent.Address, err)
	}
	q := u.Query()
	if q.Get("response_type") != "code" || q.Get("code_challenge_method") != "S256" || q.Get("redirect_uri") != "https://fettle.example:8443/back" || q.Get("max_age") == "" || strings.Contains(sent.Address, sent.Browser) {
		p.t.Errorf("asked for %v", q)
	}
	code := b64(make32(p.t))
	p.mu.Lock()
	p.codes[code] = q
	p.mu.Unlock()
	return account.Returned{State: q.Get("state"), Code: code, Issuer: p.server.URL, Browser: sent.Browser}
}

func (p *issuer) token(w http.ResponseWriter, r *http.Request) {
	if p.answer != nil {
		p.answer(w, r)
		return
	}
	id, secret, _ := r.BasicAuth()
	p.mu.Lock()
	asked, there := p.codes[r.FormValue("code")]
	delete(p.codes, r.FormValue("code"))
	p.mu.Unlock()
	sum := sha256.Sum256([]byte(r.FormValue("code_verifier")))
	if secret, _ = url.QueryUnescape(secret); !there || id != "fettle" || secret != clientSecret || base64.RawURLEncoding.EncodeToString(sum[:]) != asked.Get("code_challenge") || r.FormValue("redirect_uri") != asked.Get("redirect_uri") {
		w.WriteHeader(http.StatusBadRequest)
		json.NewEncoder(w).Encode(map[string]string{"error": "invalid_grant"})
		return
	}
	claims := map[string]any{"iss": p.server.URL, "sub": p.sub, "aud": "fettle", "exp": p.now().Add(time.Minute).Unix(), "iat": p.now().Unix(), "nonce": asked.Get("nonce"), "auth_time": p.now().Unix()}
	if p.change != nil {
		p.change(claims)
	}
	b, err := json.Marshal(claims)
	if err != nil {
		p.t.Error(err)
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(map[string]any{"access_token": "x", "token_type": "Bearer", "id_token": p.sign(b)})
}

// tied is a world whose anna has tied the provider to her account.
func tied(t *testing.T, change ...func(*account.Settings)) (*world, *issuer) {
	t.Helper()
	p := newIssuer(t)
	w := newWorld(t, func(s *account.Settings) {
		p.now = s.Now
		s.Provider = clientOf(t, p.server, s.Now)
		for _, c := range change {
			c(s)
		}
	})
	must(t, w.tie(w.annaIn(), p))
	return w, p
}

// elsewhere is another address each time: what is tried is not held up by what was.
func elsewhere() account.From {
	return account.From{Address: fmt.Sprintf("2001:db8:%x::1", addressesUsed.Add(1))}
}

var addressesUsed atomic.Int32

func (w *world) byProvider(p *issuer) (account.SignedIn, error) {
	back, err := w.FinishProvider(w.t.Context(), w.sent(p, account.Errand{For: account.ToSignIn}), account.Try{}, elsewhere())
	return back.SignedIn, err
}

// sent is what somebody brings back whom the provider lets in.
func (w *world) sent(p *issuer, e account.Errand) account.Returned {
	w.t.Helper()
	r := p.authorizes(got(w.BeginProvider(w.t.Context(), e))(w.t))
	r.Session = e.Session
	return r
}

func (w *world) tie(s account.Session, p *issuer) error {
	w.t.Helper()
	_, err := w.FinishProvider(w.t.Context(), w.sent(p, account.Errand{For: account.ToTie, Session: s}), account.Try{}, elsewhere())
	return err
}

// clientOf is a client of a provider of tests.
func clientOf(t *testing.T, server *httptest.Server, now func() time.Time) *openid.Client {
	t.Helper()
	roots := x509.NewCertPool()
	roots.AddCert(server.Certificate())
	return got(openid.New(openid.Settings{Issuer: server.URL, Client: "fettle", Secret: clientSecret, Back: "https://fettle.example:8443/back", Groups: "groups", Authority: roots, Now: now}))(t)
}

// TestProvider: who has tied the provider to their account signs in there; when they proved themselves the provider says.
func TestProvider(t *testing.T) {
	w, p := tied(t)
	s := w.session(got(w.byProvider(p))(t))
	if s.Person.ID != w.anna.ID || s.How != account.ByProvider || !s.Who.Fresh {
		t.Errorf("%+v", s)
	}
	p.change = func(c map[string]any) { c["auth_time"] = p.now().Add(-time.Hour).Unix() }
	if s := w.session(got(w.byProvider(p))(t)); s.Who.Fresh {
		t.Error("fresh by a proof of an hour ago")
	}
	p.change = nil
	p.sub = "subject-2"
	if _, err := w.byProvider(p); diag.KindOf(err) != diag.Denied {
		t.Errorf("somebody whom nobody knows: %v", err)
	}
	boss := w.bossIn()
	p.sub = "subject-1"
	if err := w.tie(boss, p); diag.KindOf(err) != diag.Conflict {
		t.Errorf("tied to a second person: %v", err)
	}
	stale := boss
	stale.Who.Fresh = false
	if _, err := w.BeginProvider(t.Context(), account.Errand{For: account.ToTie, Session: stale}); diag.KindOf(err) != diag.Denied {
		t.Errorf("tied without a fresh proof: %v", err)
	}
	must(t, w.UntieProvider(t.Context(), w.annaIn().Who))
	if _, err := w.byProvider(p); diag.KindOf(err) != diag.Denied {
		t.Errorf("after it was untied: %v", err)
	}
	none := newWorld(t)
	if _, err := none.BeginProvider(t.Context(), account.Errand{For: account.ToSignIn}); diag.KindOf(err) != diag.Unsupported {
		t.Errorf("without a provider: %v", err)
	}
}

// TestProviderKnowsNoState: what became of the person here holds, whatever the provider says.
func TestProviderKnowsNoState(t *testing.T) {
	for name, end := range map[string]func(w *world){
		"disabled":   func(w *world) { must(w.t, w.SetState(w.t.Context(), w.bossIn().Who, w.anna.ID, false)) },
		"erased":     func(w *world) { must(w.t, w.ErasePerson(w.t.Context(), w.bossIn().Who, w.anna.ID)) },
		"of no shop": func(w *world) { must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, w.anna.ID, nil)) },
		"all proofs lost": func(w *world) {
			link := got(w.ResetLink(w.t.Context(), w.bossIn().Who, w.anna.ID, true))(w.t)
			must(w.t, w.SetPassword(w.t.Context(), link.Text, otherWord, home))
		},
	} {
		w, p := tied(t)
		got(w.byProvider(p))(t)
		end(w)
		if _, err := w.byProvider(p); diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestHostileProviderAnswers: each is refused, and the next that is as it should be is not.
func TestHostileProviderAnswers(t *testing.T) {
	w, p := tied(t)
	other, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	must(t, err)
	claim := func(name string, v any) func() {
		return func() { p.change = func(c map[string]any) { c[name] = v } }
	}
	without := func(name string) func() {
		return func() { p.change = func(c map[string]any) { delete(c, name) } }
	}
	send := func(code int, body string) func() {
		return func() {
			p.answer = func(w http.ResponseWriter, _ *http.Request) {
				w.Header().Set("Content-Type", "application/json")
				w.WriteHeader(code)
				w.Write([]byte(body))
			}
		}
	}
	at := func(d time.Duration) int64 { return p.now().Add(d).Unix() }
	for name, hostile := range map[string]func(){
		"another nonce": claim("nonce", "x"), "no nonce": without("nonce"), "another program": claim("aud", "other"), "two programs": claim("aud", []string{"fettle", "other"}),
		"asked for by another": claim("azp", "other"), "another provider": claim("iss", "https://evil.example"), "no provider": without("iss"), "over": claim("exp", at(-time.Second)), "no end": without("exp"),
		"of the future": claim("iat", at(time.Hour)), "not yet": claim("nbf", at(time.Hour)), "no subject": claim("sub", ""), "no subject at all": without("sub"), "proved yesterday": claim("auth_time", at(-24*time.Hour)),
		"proved tomorrow": claim("auth_time", at(24*time.Hour)), "a moment in words": claim("auth_time", "now"), "another subject": claim("sub", "subject-9"),
		"another key":  func() { p.sign = func(c []byte) string { return p.signed(other, "ES256", c) } },
		"no signature": func() { p.sign = func(c []byte) string { return b64([]byte(`{"alg":"none"}`)) + "." + b64(c) + "." } },
		"client secret": func() {
			p.sign = func(c []byte) string { return p.signed([]byte(strings.Repeat(clientSecret, 2)), "HS256", c) }
		},
		"cut":      func() { p.sign = func(c []byte) string { return p.signed(p.key, "ES256", c)[:100] } },
		"no token": send(200, `{"access_token":"x","token_type":"Bearer"}`), "no JSON": send(200, "<html>"), "a number": send(200, `{"access_token":"x","token_type":"Bearer","id_token":7}`),
		"a long answer": send(200, `{"access_token":"`+strings.Repeat("x", 4<<20)+`","token_type":"Bearer"}`),
	} {
		p.change, p.answer = nil, nil
		p.sign = func(c []byte) string { return p.signed(p.key, "ES256", c) }
		hostile()
		if in, err := w.byProvider(p); diag.KindOf(err) != diag.Denied || in.Session != "" {
			t.Errorf("%s: %v", name, err)
		}
		boss := w.bossIn()
		if err := w.tie(boss, p); err == nil && name != "another subject" {
			t.Errorf("%s: tied", name)
		}
	}
	p.change, p.answer = nil, nil
	p.sign = func(c []byte) string { return p.signed(p.key, "ES256", c) }
	got(w.byProvider(p))(t)
}

// TestReturnedOnce: what is brought back counts once, in the browser that was sent, in time, for what it was sent for, with its own code.
func TestReturnedOnce(t *testing.T) {
	w, p := tied(t)
	finish := func(what string, r account.Returned) {
		t.Helper()
		if in, err := w.FinishProvider(t.Context(), r, account.Try{}, home); diag.KindOf(err) != diag.Denied || in.Session != "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	begin := func() account.Returned { return w.sent(p, account.Errand{For: account.ToSignIn}) }
	used := begin()
	asked := map[string]url.Values{}
	p.mu.Lock()
	maps.Copy(asked, p.codes)
	p.mu.Unlock()
	got(w.FinishProvider(t.Context(), used, account.Try{}, home))(t)
	p.mu.Lock()
	maps.Copy(p.codes, asked) // a provider that takes codes twice
	p.mu.Unlock()
	finish("the same again", used)
	r := begin()
	r.Browser = got(w.BeginProvider(t.Context(), account.Errand{For: account.ToSignIn}))(t).Browser
	finish("in another browser", r)
	r = begin()
	r.Browser = ""
	finish("in no browser", r)
	r = begin()
	w.clock.pass(15 * time.Minute)
	finish("too late", r)
	mine, theirs := begin(), begin()
	mine.Code = theirs.Code
	finish("with the code of another", mine)
	r = begin()
	r.Issuer = "https://evil.example"
	finish("from another provider", r)
	r = begin()
	r.Code = ""
	finish("without a code", r)
	for _, state := range []string{"", "x", b64(make32(t)), b64(make([]byte, 56))} {
		r = begin()
		r.State = state
		finish("with a forged state", r)
	}
	boss := w.bossIn()
	r = w.sent(p, account.Errand{For: account.ToTie, Session: boss})
	r.Session = account.Session{}
	finish("sent to tie, and signed out", r)
	p.sub = "subject-3"
	r = w.sent(p, account.Errand{For: account.ToTie, Session: boss})
	r.Session = w.annaIn()
	finish("sent by one, brought back by another", r)
	r = w.sent(p, account.Errand{For: account.ToTie, Session: boss})
	r.Session = w.bossIn()
	finish("sent by one session, brought back by another", r)
	// at once
	p.sub = "subject-1"
	r = begin()
	code := p.codes[r.Code]
	won := make(chan bool, 10)
	for range 10 {
		go func() {
			p.mu.Lock()
			p.codes[r.Code] = code
			p.mu.Unlock()
			_, err := w.FinishProvider(t.Context(), r, account.Try{}, home)
			won <- err == nil
		}()
	}
	n := 0
	for range 10 {
		if <-won {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d were let in by one way", n)
	}
}

// TestProviderThatIsNotThere is told as that, and found once it is.
func TestProviderThatIsNotThere(t *testing.T) {
	up := false
	gate := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !up {
			w.WriteHeader(http.StatusBadGateway)
			return
		}
		json.NewEncoder(w).Encode(map[string]any{"issuer": "https://" + r.Host, "authorization_endpoint": "https://" + r.Host + "/a", "token_endpoint": "https://" + r.Host + "/t", "jwks_uri": "https://" + r.Host + "/k"})
	}))
	defer gate.Close()
	w := newWorld(t, func(s *account.Settings) {
		s.Provider = clientOf(t, gate, s.Now)
	})
	if _, err := w.BeginProvider(t.Context(), account.Errand{For: account.ToSignIn}); diag.KindOf(err) != diag.Unavailable {
		t.Errorf("not there: %v", err)
	}
	w.annaIn() // by her password
	up = true
	w.clock.pass(10 * time.Second)
	sent := got(w.BeginProvider(t.Context(), account.Errand{For: account.ToProve, Session: w.annaIn()}))(t)
	if u := got(url.Parse(sent.Address))(t); u.Query().Get("max_age") != "0" {
		t.Errorf("a fresh proof is asked for by %s", sent.Address)
	}
}
