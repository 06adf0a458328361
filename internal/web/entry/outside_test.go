//go:build outside

package entry

import (
	"bytes"
	"crypto/rand"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/account/openid"
	"fettle/internal/right"
	"fettle/internal/web"
)

// TestOutsideProvider signs people in over HTTP at a provider of others, a program of its own, by its own page: nobody who was not invited, by an invitation, by
// an account that was tied, to prove themselves anew, out again; and what is brought back twice, or by another browser, lets nobody in.
func TestOutsideProvider(t *testing.T) {
	server := httptest.NewUnstartedServer(nil)
	base := "http://" + server.Listener.Addr().String()
	issuer, stop := startProvider(t, base+ProviderBack)
	in := providerWorld(t, account.NewMemory(), issuer, base)
	m := http.NewServeMux()
	Mount(m, "/api/v1", in)
	pages := http.NewServeMux()
	MountProvider(pages, in)
	pages.HandleFunc("GET /{$}", func(http.ResponseWriter, *http.Request) {})
	pages.HandleFunc("GET /week", func(http.ResponseWriter, *http.Request) {})
	var err error
	if server.Config.Handler, err = web.New(web.Config{API: m, Pages: pages}); err != nil {
		t.Fatal(err)
	}
	server.Start()
	defer server.Close()

	first, err := in.FirstUse(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	ada := newVisitor(t, base, issuer, "test-user2")
	ada.api("POST", "/first", map[string]any{"secret": first.Text, "shop": "north", "shop_name": "North", "name": "Ada", "sign_in": "ada", "password": bossWord, "roles": []right.Role{right.Planner}}, 200)
	bert := newVisitor(t, base, issuer, "test-user@localhost")
	if got := bert.comesBack(bert.signsIn(base + ProviderPath)); got.StatusCode != http.StatusForbidden || bert.session() != "" {
		t.Errorf("somebody who was not invited: %s, %q", got.Status, bert.session())
	}
	link, err := invited(t, in, ada)
	if err != nil {
		t.Fatal(err)
	}
	address := bert.api("POST", "/session/provider", map[string]any{"for": account.ToSignIn, "invitation": link, "then": "/week"}, 200)["address"].(string)
	back := bert.signsIn(address)
	eve := newVisitor(t, base, issuer, "test-user2")
	if got := eve.comesBack(back); got.StatusCode != http.StatusForbidden || eve.session() != "" {
		t.Errorf("in another browser: %s", got.Status)
	}
	if got := bert.comesBack(back); got.StatusCode != http.StatusSeeOther || got.Header.Get("Location") != "/week" || bert.session() == "" {
		t.Fatalf("by an invitation: %s to %q", got.Status, got.Header.Get("Location"))
	}
	if who := bert.api("GET", "/session", nil, 200); who["name"] != "Bert" || who["how"] != string(account.ByProvider) || who["fresh"] != true {
		t.Errorf("let in as %v", who)
	}
	if got := bert.comesBack(back); got.StatusCode != http.StatusForbidden {
		t.Errorf("the same again: %s", got.Status)
	}
	was := bert.session()
	if got := bert.comesBack(bert.signsIn(base + ProviderPath)); got.StatusCode != http.StatusSeeOther || bert.session() == was {
		t.Errorf("without an invitation from now on: %s", got.Status)
	}
	for _, purpose := range []account.Purpose{account.ToTie, account.ToProve} {
		address = ada.api("POST", "/session/provider", map[string]any{"for": purpose}, 200)["address"].(string)
		if got := ada.comesBack(ada.signsIn(address)); got.StatusCode != http.StatusSeeOther {
			t.Errorf("ada, to %s: %s", purpose, got.Status)
		}
	}
	if got := ada.comesBack(ada.signsIn(base + ProviderPath)); got.StatusCode != http.StatusSeeOther {
		t.Errorf("ada signs in there: %s", got.Status)
	}
	out, _ := ada.api("GET", "/session/provider", nil, 200)["sign_out"].(string)
	ada.api("DELETE", "/session", nil, 204)
	if got := ada.get(out); !strings.HasPrefix(out, issuer) || got.StatusCode != http.StatusOK && got.StatusCode != http.StatusFound {
		t.Errorf("signing out there by %q: %s", out, got.Status)
	}
	stop()
	bert.browser.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	if got := bert.get(base + ProviderPath); got.StatusCode != http.StatusSeeOther { // it is known for a while
		t.Errorf("just after the provider went: %s", got.Status)
	}
	ada.api("POST", "/session", map[string]any{"name": "ada", "password": bossWord}, 200)
	again := providerWorld(t, in.Store, issuer, base) // a server that begins now
	pages = http.NewServeMux()
	MountProvider(pages, again)
	w := httptest.NewRecorder()
	pages.ServeHTTP(w, httptest.NewRequest("GET", ProviderPath, nil))
	if w.Code != http.StatusServiceUnavailable || !strings.Contains(w.Body.String(), "sign in with a password") {
		t.Errorf("without the provider: %d %s", w.Code, w.Body)
	}
}

func providerWorld(t *testing.T, store account.Store, issuer, base string) *account.Accounts {
	t.Helper()
	provider, err := openid.New(openid.Settings{Issuer: issuer, Client: "web", Secret: "secret", Back: base + ProviderBack, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	in, err := account.New(account.Settings{Store: store, Now: time.Now, Random: rand.Reader, Key: make([]byte, 32), Cost: account.Cost{KiB: 64, Passes: 1, Lanes: 1}, Weak: true, Provider: provider})
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// startProvider starts the program, on this machine alone, that sends people back to one address.
func startProvider(t *testing.T, back string) (issuer string, stop func()) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	_, port, _ := net.SplitHostPort(l.Addr().String())
	program, err := filepath.Abs("../../../build/oidcserver")
	if err == nil {
		err = l.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	run := exec.Command(program)
	run.Env = append(os.Environ(), "PORT="+port, "REDIRECT_URI="+back)
	if err := run.Start(); err != nil {
		t.Fatalf("%v: run scripts/setup.sh", err)
	}
	stopped := false
	stop = func() {
		if !stopped {
			stopped = true
			_ = run.Process.Kill() // it may have ended by itself
			_ = run.Wait()         // the error says that it was killed
		}
	}
	t.Cleanup(stop)
	for began := time.Now(); ; time.Sleep(20 * time.Millisecond) {
		conn, err := net.Dial("tcp", l.Addr().String())
		if err == nil {
			_ = conn.Close()
			return "http://localhost:" + port + "/", stop
		}
		if time.Since(began) > time.Minute {
			t.Fatal(err)
		}
	}
}

// visitor is somebody with a browser, who has a name at the provider.
type visitor struct {
	*testing.T
	base, issuer, name string
	browser            *http.Client
}

func newVisitor(t *testing.T, base, issuer, name string) *visitor {
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	follow := func(r *http.Request, _ []*http.Request) error { // stays where the provider sends it back, and where that leads
		if strings.HasPrefix(r.URL.String(), base) {
			return http.ErrUseLastResponse
		}
		return nil
	}
	return &visitor{t, base, issuer, name, &http.Client{Jar: jar, CheckRedirect: follow}}
}

func (v *visitor) do(r *http.Request, err error) *http.Response {
	v.Helper()
	if err != nil {
		v.Fatal(err)
	}
	answer, err := v.browser.Do(r)
	if err != nil {
		v.Fatal(err)
	}
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		v.Fatal(err)
	}
	answer.Body = io.NopCloser(bytes.NewReader(text))
	return answer
}

func (v *visitor) get(address string) *http.Response {
	v.Helper()
	return v.do(http.NewRequestWithContext(v.Context(), http.MethodGet, address, nil))
}

// signsIn goes where it is sent, signs in on the page of the provider, and is the address to which that sends back.
func (v *visitor) signsIn(address string) string {
	v.Helper()
	page := v.get(address)
	id := page.Request.URL.Query().Get("authRequestID")
	if id == "" {
		v.Fatalf("no page to sign in, but %s %s", page.Status, page.Request.URL)
	}
	for _, password := range []string{"wrong", "verysecure"} { // of its example
		form := strings.NewReader(url.Values{"id": {id}, "username": {v.name}, "password": {password}}.Encode())
		r, err := http.NewRequestWithContext(v.Context(), http.MethodPost, v.issuer+"login/username", form)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		answer := v.do(r, err)
		to := answer.Header.Get("Location")
		if came := strings.HasPrefix(to, v.base+ProviderBack); came != (password != "wrong") {
			v.Fatalf("with %q it sends to %q: %s", password, to, answer.Status)
		}
		if password != "wrong" {
			return to
		}
	}
	return ""
}

func (v *visitor) comesBack(address string) *http.Response {
	v.Helper()
	return v.get(address)
}

func (v *visitor) session() string {
	u, _ := url.Parse(v.base)
	for _, c := range v.browser.Jar.Cookies(u) {
		if c.Name == string(localSession) {
			return c.Value
		}
	}
	return ""
}

func (v *visitor) api(method, path string, body map[string]any, want int) (out map[string]any) {
	v.Helper()
	text, _ := json.Marshal(body)
	r, err := http.NewRequestWithContext(v.Context(), method, v.base+"/api/v1"+path, bytes.NewReader(text))
	r.Header.Set("Content-Type", "application/json")
	answer := v.do(r, err)
	if answer.StatusCode != want {
		all, _ := io.ReadAll(answer.Body)
		v.Fatalf("%s %s: %s %s", method, path, answer.Status, all)
	}
	if want == http.StatusOK {
		if err := json.NewDecoder(answer.Body).Decode(&out); err != nil {
			v.Fatal(err)
		}
	}
	return out
}

// invited is the secret of an invitation for Bert.
func invited(t *testing.T, in *account.Accounts, by *visitor) (string, error) {
	s, err := in.Session(t.Context(), by.session())
	if err != nil {
		return "", err
	}
	_, link, err := in.AddPerson(t.Context(), s.Who, account.NewPerson{Name: "Bert", SignIn: "bert", Roles: []right.Role{right.Technician}})
	return link.Text, err
}
