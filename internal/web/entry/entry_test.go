package entry

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
	"fettle/internal/web"
)

// world is a server of accounts in memory, with a clock that can be moved.
type world struct {
	*testing.T
	in  *account.Accounts
	web *web.Server
	mu  sync.Mutex
	now time.Time
}

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{T: t, now: time.Date(2026, 11, 30, 8, 0, 0, 0, time.UTC)}
	clock := func() time.Time {
		w.mu.Lock()
		defer w.mu.Unlock()
		return w.now
	}
	var err error
	w.in, err = account.New(account.Settings{Store: account.NewMemory(), Now: clock, Random: rand.Reader, Key: make([]byte, 32), Cost: account.Cost{KiB: 64, Passes: 1, Lanes: 1}, Weak: true,
		Site: account.Site{Name: "shop.lan", Title: "fettle", Origins: []string{"https://shop.lan"}}})
	if err != nil {
		t.Fatal(err)
	}
	w.serves()
	return w
}

// serves has the accounts served.
func (w *world) serves() {
	w.Helper()
	m := http.NewServeMux()
	Mount(m, "/api/v1", w.in)
	var err error
	if w.web, err = web.New(web.Config{API: m}); err != nil {
		w.Fatal(err)
	}
}

// browser is one that shows the cookies it was given.
type browser struct {
	*world
	base, from string
	shows      map[string]string
	token      string // of a program
	match      string // the tag of what was seen
	last       *http.Response
}

func (w *world) browser(base, from string) *browser {
	return &browser{world: w, base: base, from: from, shows: map[string]string{}}
}

// ask sends something, and is the answer; what is given as a body is JSON unless it is a text.
func (b *browser) ask(method, path string, body any, into any) int {
	b.Helper()
	text, raw := body.(string)
	if !raw && body != nil {
		j, err := json.Marshal(body)
		if err != nil {
			b.Fatal(err)
		}
		text = string(j)
	}
	if rest, page := strings.CutPrefix(path, ".."); page { // no route
		path = rest
	} else {
		path = "/api/v1" + path
	}
	r := httptest.NewRequest(method, b.base+path, strings.NewReader(text))
	r.RemoteAddr = b.from
	r.Header.Set("Content-Type", "application/json")
	if b.token != "" {
		r.Header.Set("Authorization", "Bearer "+b.token)
	}
	if b.match != "" {
		r.Header.Set("If-Match", b.match)
	}
	for name, value := range b.shows {
		r.AddCookie(&http.Cookie{Name: name, Value: value})
	}
	out := httptest.NewRecorder()
	b.web.ServeHTTP(out, r)
	if !strings.HasSuffix(path, "/report") && path != LinkPage && !strings.HasPrefix(path, LinkPage+".") { // of others, and pages
		held(b.T, method, path, out)
	}
	b.last = out.Result()
	for _, c := range b.last.Cookies() {
		if c.MaxAge < 0 {
			delete(b.shows, c.Name)
			continue
		}
		b.shows[c.Name] = c.Value
	}
	if into != nil {
		if err := json.Unmarshal(out.Body.Bytes(), into); err != nil {
			b.Fatalf("%s: %v: %s", path, err, out.Body)
		}
	}
	return out.Code
}

const (
	bossWord = "seven quiet lathes turn"
	otherOne = "eleven green vices hold"
)

func (w *world) claim(b *browser) int {
	w.Helper()
	link, err := w.in.FirstUse(w.Context())
	if err != nil {
		w.Fatal(err)
	}
	return b.ask("POST", "/first", map[string]any{"secret": link.Text, "shop": "north", "shop_name": "North", "name": "Ada", "sign_in": "ada", "password": bossWord, "roles": []right.Role{right.Planner}}, nil)
}

// begun is a world with Ada in it, who is signed in.
func begun(t *testing.T) (*world, *browser) {
	w := newWorld(t)
	b := w.browser("https://shop.lan", "198.51.100.7:1")
	if got := w.claim(b); got != 200 {
		t.Fatalf("first use: %d", got)
	}
	return w, b
}

// The first administrator is made on this machine or over TLS, once. What a browser is given then it shows over TLS to this host alone, and no script
// reads it (OWASP ASVS 5.0, 3.3.1 to 3.3.4).
func TestFirstUse(t *testing.T) {
	w := newWorld(t)
	if got := w.claim(w.browser("http://shop.lan", "198.51.100.7:1")); got != http.StatusForbidden {
		t.Errorf("in the open: %d", got)
	}
	if used, err := w.in.Used(t.Context()); used || err != nil {
		t.Fatalf("somebody has become the first: %v", err)
	}
	b := w.browser("https://shop.lan", "198.51.100.7:1")
	if got := w.claim(b); got != http.StatusOK {
		t.Fatalf("over TLS: %d", got)
	}
	names := []string{}
	for _, c := range b.last.Cookies() {
		names = append(names, c.Name)
		if !c.Secure || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" {
			t.Errorf("%+v", c)
		}
	}
	if slices.Sort(names); !slices.Contains(names, string(secureSession)) || slices.Contains(names, string(localSession)) {
		t.Errorf("cookies %v", names)
	}
	var who known
	if got := b.ask("GET", "/session", nil, &who); got != 200 || who.Shop != "north" || who.Name != "Ada" || !who.Fresh || !slices.Contains(who.Roles, right.Administrator) || who.How != account.ByPassword {
		t.Errorf("%d %+v", got, who)
	}
	again := w.browser("https://shop.lan", "198.51.100.8:1")
	if got := again.ask("POST", "/first", map[string]any{"secret": "x", "shop": "south", "shop_name": "South", "name": "Eve", "sign_in": "eve", "password": otherOne}, nil); got != http.StatusForbidden || len(again.shows) > 0 {
		t.Errorf("a second first: %d %v", got, again.shows)
	}
	local := newWorld(t)
	c := local.browser("http://localhost:8420", "127.0.0.1:1")
	if got := local.claim(c); got != 200 || c.shows[string(localSession)] == "" || c.shows[string(secureSession)] != "" || c.last.Cookies()[0].Secure {
		t.Errorf("on this machine: %d %v", got, c.shows)
	}
}

// A session that was planted is not taken up, each sign-in has a new one, the one before it ends, and one that was signed out is over on every browser
// that has a copy of it.
func TestSessionsAreNotFixed(t *testing.T) {
	w, ada := begun(t)
	first := ada.shows[string(secureSession)]
	sign := map[string]any{"name": "ada", "password": bossWord}
	planted := w.browser("https://shop.lan", "198.51.100.9:1")
	planted.shows[string(secureSession)] = "planted"
	if got := planted.ask("POST", "/session", sign, nil); got != 200 || planted.shows[string(secureSession)] == "planted" {
		t.Errorf("%d %v", got, planted.shows)
	}
	if got := ada.ask("POST", "/session", sign, nil); got != 200 || ada.shows[string(secureSession)] == first {
		t.Errorf("signing in anew goes on with the old secret: %d", got)
	}
	old := w.browser("https://shop.lan", "198.51.100.7:1")
	old.shows[string(secureSession)] = first
	if got := old.ask("GET", "/session", nil, nil); got != http.StatusUnauthorized {
		t.Errorf("the session before it goes on: %d", got)
	}
	if got := planted.ask("GET", "/session", nil, nil); got != 200 {
		t.Errorf("another browser was signed out: %d", got)
	}
	copied := w.browser("https://shop.lan", "198.51.100.7:1")
	copied.shows[string(secureSession)] = ada.shows[string(secureSession)]
	if got := ada.ask("DELETE", "/session", nil, nil); got != http.StatusNoContent || ada.shows[string(secureSession)] != "" {
		t.Errorf("signing out: %d %v", got, ada.shows)
	}
	if got := copied.ask("GET", "/session", nil, nil); got != http.StatusUnauthorized {
		t.Errorf("a copy goes on: %d", got)
	}
	if got := ada.ask("DELETE", "/session", nil, nil); got != http.StatusNoContent {
		t.Errorf("signing out twice: %d", got)
	}
}

// A wrong password and a name that nobody has have one answer, and guessing has to wait.
func TestGuessesAreAnsweredAlike(t *testing.T) {
	w, _ := begun(t)
	answer := func(b *browser, name string) (int, web.Problem) {
		var p web.Problem
		code := b.ask("POST", "/session", map[string]any{"name": name, "password": "wrong horse wrong staple"}, &p)
		p.ID = ""
		return code, p
	}
	b := w.browser("https://shop.lan", "198.51.100.20:1")
	codeA, known := answer(b, "ada")
	codeB, unknown := answer(b, "nobody")
	if codeA != codeB || known != unknown || codeA != http.StatusForbidden {
		t.Errorf("%d %+v and %d %+v", codeA, known, codeB, unknown)
	}
	code := 0
	for range 20 {
		if code, _ = answer(b, "ada"); code == http.StatusTooManyRequests {
			break
		}
	}
	if code != http.StatusTooManyRequests || b.last.Header.Get("Retry-After") == "" {
		t.Errorf("guessing goes on: %d", code)
	}
	if len(b.shows) > 0 {
		t.Errorf("who guesses is given %v", b.shows)
	}
}

// A proof is good for a few minutes; a new password by a link signs everybody out who had the old one.
func TestProofsAndLinks(t *testing.T) {
	w, ada := begun(t)
	w.mu.Lock()
	w.now = w.now.Add(account.FreshFor + time.Minute)
	w.mu.Unlock()
	var who known
	if ada.ask("GET", "/session", nil, &who); who.Fresh {
		t.Error("a proof lasts too long")
	}
	if got := ada.ask("POST", "/session/proof", map[string]any{"password": otherOne}, nil); got != http.StatusForbidden {
		t.Errorf("a wrong proof: %d", got)
	}
	if got := ada.ask("POST", "/session/proof", map[string]any{"password": bossWord}, nil); got != http.StatusNoContent {
		t.Errorf("a proof: %d", got)
	}
	if ada.ask("GET", "/session", nil, &who); !who.Fresh {
		t.Error("a proof is not noted")
	}
	if got := ada.ask("POST", "/session/shop", map[string]any{"shop": "south"}, nil); got != http.StatusNotFound {
		t.Errorf("another's shop: %d", got)
	}
	link, err := w.in.AtConsole().ResetLink(t.Context(), "ada", false)
	if err != nil {
		t.Fatal(err)
	}
	b := w.browser("https://shop.lan", "198.51.100.30:1")
	for _, c := range []struct {
		secret, password string
		want             int
	}{{"x", otherOne, 403}, {link.Text, "short", 422}, {link.Text, otherOne, 204}, {link.Text, "nine blue drills wait", 403}} {
		if got := b.ask("POST", "/password", map[string]any{"secret": c.secret, "password": c.password}, nil); got != c.want {
			t.Errorf("%s: %d, want %d", c.password, got, c.want)
		}
	}
	if len(b.shows) > 0 {
		t.Errorf("whoever sets a password is signed in: %v", b.shows)
	}
	if got := ada.ask("GET", "/session", nil, nil); got != http.StatusUnauthorized {
		t.Errorf("who had the old password is signed in still: %d", got)
	}
}

// What is no body of these routes is refused before anything is looked at, each in its way, and nothing of it is repeated.
func TestBodiesAreReadStrictly(t *testing.T) {
	w, _ := begun(t)
	for text, want := range map[string]int{
		``: 400, `{`: 400, `null`: 400, `[]`: 400, `"x"`: 400, `{} {}`: 400, `{"name":1}`: 400, `{"name":"ada","password":"x","admin":true}`: 400,
		`{"name":"ada","name":"eve"}`: 400, `{"name":"ada","Name":"eve"}`: 400, `{"NAME":"ada"}`: 400, `{"name":["ada"]}`: 400, `{"name":{"$gt":""}}`: 400,
		`{"name":"planted` + strings.Repeat("x", mostBody) + `"}`: 413, strings.Repeat(`{"name":`, 2000): 400, "\xff\xfe{}": 400, `{"name":"ada","password":"x"}x`: 400,
		`name=ada&password=x`: 400, `<name>ada</name>`: 400, `{"roles":["planner"],"name":"ada"}`: 400,
	} {
		for _, path := range []string{"/session", "/first", "/password", "/session/proof", "/session/shop"} {
			b := w.browser("https://shop.lan", "198.51.100.40:1")
			var p web.Problem
			got := b.ask("POST", path, text, &p)
			if path == "/first" && strings.Contains(text, "roles") {
				continue // it has those
			}
			if got != want || p.Status != want || strings.Contains(p.Detail+p.Hint, "planted") {
				t.Errorf("%s %.40q: %d %+v, want %d", path, text, got, p, want)
			}
		}
	}
	for _, kind := range []string{"", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "application/jsonx", "application/json; charset"} {
		r := httptest.NewRequest("POST", "https://shop.lan/api/v1/session", strings.NewReader(`{"name":"ada","password":"`+bossWord+`"}`))
		r.Header.Set("Content-Type", kind)
		out := httptest.NewRecorder()
		w.web.ServeHTTP(out, r)
		if out.Code != http.StatusUnsupportedMediaType {
			t.Errorf("%q: %d", kind, out.Code)
		}
	}
}

// A stream that goes on by itself keeps nobody signed in; a request of a person does.
func TestWhatGoesOnByItselfIsNoUse(t *testing.T) {
	w, ada := begun(t)
	at := func(look func(*account.Accounts, *http.Request) (account.Session, error)) (err error) {
		m := http.NewServeMux()
		m.HandleFunc("GET /api/look", func(_ http.ResponseWriter, r *http.Request) { _, err = look(w.in, r) })
		s, bad := web.New(web.Config{API: m})
		if bad != nil {
			t.Fatal(bad)
		}
		r := httptest.NewRequest("GET", "https://shop.lan/api/look", nil)
		r.AddCookie(&http.Cookie{Name: string(secureSession), Value: ada.shows[string(secureSession)]})
		s.ServeHTTP(httptest.NewRecorder(), r)
		return err
	}
	later := func(d time.Duration) {
		w.mu.Lock()
		defer w.mu.Unlock()
		w.now = w.now.Add(d)
	}
	for range 5 {
		later(account.IdleFor - 2*time.Minute)
		if err := at(Session); err != nil {
			t.Fatalf("who works is signed out: %v", err)
		}
	}
	var err error
	for range 40 {
		later(time.Minute)
		if err = at(Look); err != nil {
			break
		}
	}
	if !errors.Is(err, account.ErrNobody) {
		t.Errorf("a stream keeps somebody signed in: %v", err)
	}
}
