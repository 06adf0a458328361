package api

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/right"
	"fettle/internal/unit"
)

// everything is somebody of the north with every role, who has just proved who they are.
func (h *house) everything() *actor {
	h.t.Helper()
	h.now.Store(noon.UnixMilli())
	id := h.person("north", "everything", right.Roles()[:4]...)
	return &actor{asker: asker{person: id, shop: "north", roles: strings.Split("technician planner reviewer administrator", " "), fresh: true}, name: "everything", signIn: fmt.Sprint("everything-", h.names), as: "person"}
}

// normal is a request of a route as who has everything would send it.
func (h *house) normal(c *contract, r Route, a *actor, things map[string]string) call {
	path := strings.TrimPrefix(r.Path, Prefix)
	for name, value := range things {
		path = strings.ReplaceAll(path, name, value)
	}
	path = strings.NewReplacer("{job}", "north-1", "{hash}", h.photo["north"]).Replace(path)
	one := call{method: r.Method, headers: key(fmt.Sprint("n", h.n))}
	one.path, one.body, one.kind = minimal(c, r.ID, path)
	if one.body == nil {
		one.body = h.minimalWay(r.ID, a)
	}
	return one
}

// forms are what a page of another site can have a browser send, with what browsers send of where it is from.
var forms = []struct {
	kind    string
	headers []string
}{
	{"application/x-www-form-urlencoded", []string{"Origin", "https://evil.example", "Sec-Fetch-Site", "cross-site"}},
	{"application/x-www-form-urlencoded", []string{"Origin", "null"}},
	{"multipart/form-data; boundary=x", []string{"Origin", "https://evil.example"}},
	{"text/plain", []string{"Origin", "https://evil.example", "Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "navigate"}},
	{"text/plain", []string{"Sec-Fetch-Site", "cross-site"}},
	{"application/json", []string{"Origin", "https://evil.example", "Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "cors"}},
	{"application/json", []string{"Origin", "https://shop.lan.evil.example"}},
	{"application/json", []string{"Origin", "http://shop.lan"}},
	{"application/json", []string{"Origin", "https://other.shop.lan", "Sec-Fetch-Site", "same-site"}},
	{"application/json", []string{"Origin", "https://shop.lan:8443", "Sec-Fetch-Site", "same-site"}},
	{"application/json", []string{"Sec-Fetch-Site", "same-site", "Sec-Fetch-Mode", "no-cors"}},
	{"application/json", []string{"Origin", "null", "Sec-Fetch-Site", "cross-site", "X-Http-Method-Override", "GET", "X-Forwarded-Host", "evil.example"}},
}

// TestForgedForms: twelve forms of pages of other sites, in the browser of somebody who may do everything, at every route that changes something: none is taken (OWASP
// ASVS 5.0, 3.5.1 to 3.5.3).
func TestForgedForms(t *testing.T) {
	h := newHouse(t)
	c, a := newContract(t, h.world), h.everything()
	task, err := h.to.Want(t.Context(), must(app.AboutJob(app.TaskAssess, "north-1", "p-9", unit.DateOf(noon))))
	h.must(err)
	things := h.objects(task)
	h.enter(a)
	routes, tries, taken := 0, 0, 0
	for _, r := range h.operations() {
		if r.Method == http.MethodGet {
			continue
		}
		routes++
		for i, f := range forms {
			one := h.normal(c, r, a, things)
			one.kind, one.headers = f.kind, append(one.headers, f.headers...)
			before := h.written()
			got := h.asks(a, one)
			tries++
			if got.Code < 400 || h.written() != before || len(got.Result().Cookies()) > 0 {
				taken++
				t.Errorf("form %d at %s: %d %s", i+1, r.ID, got.Code, short(got))
			}
		}
	}
	t.Logf("%d forms at %d routes: %d tries, %d taken", len(forms), routes, tries, taken)
}

// TestSafeRequestsChangeNothing: GET, HEAD and OPTIONS at every route and page, by somebody who may do everything and by nobody, write nothing (RFC 9110, 9.2.1).
func TestSafeRequestsChangeNothing(t *testing.T) {
	h := newHouse(t)
	c, a := newContract(t, h.world), h.everything()
	task, err := h.to.Want(t.Context(), must(app.AboutJob(app.TaskAssess, "north-1", "p-9", unit.DateOf(noon))))
	h.must(err)
	things := h.objects(task)
	h.enter(a)
	tries, changed := 0, 0
	try := func(who *actor, one call) {
		before := h.written()
		got := h.asks(who, one)
		if tries++; h.written() != before {
			changed++
			t.Errorf("%s %s writes something (%d)", one.method, one.path, got.Code)
		}
	}
	for _, r := range h.operations() {
		for _, method := range []string{http.MethodGet, http.MethodHead, http.MethodOptions} {
			for _, who := range []*actor{a, nil} {
				one := h.normal(c, r, a, things)
				if !whole() {
					lighter(&one, r)
				}
				one.method = method
				if r.Method == http.MethodGet && method != http.MethodGet && who == nil {
					one.path = strings.Replace(one.path, "north-1", "north-3", 1)
				}
				try(who, one)
			}
		}
	}
	for _, page := range []string{"/", "/first", "/password", "/entry.js", "/entry.css", "/sign-in/oidc", "/sign-in/oidc/back?state=x&code=y", "/livez", "/readyz", "/nothing", Prefix + "/", Prefix + "/openapi.json"} {
		for _, method := range []string{http.MethodGet, http.MethodHead, http.MethodOptions} {
			try(a, call{method: method, path: ".." + page})
		}
	}
	for what := range h.lacks {
		if !strings.HasPrefix(what, "GET "+Prefix+"/openapi.json") { // it is the same for everybody
			t.Errorf("without a header: %s", what)
		}
	}
	t.Logf("%d requests, %d wrote something", tries, changed)
}

// TestEveryAnswerHasItsHeaders: every route, with the stream, and every page for what went wrong have all headers (OWASP ASVS 5.0, 3.4.1 to 3.4.8).
func TestEveryAnswerHasItsHeaders(t *testing.T) {
	h := newHouse(t)
	c, a := newContract(t, h.world), h.everything()
	things := h.objects("x")
	statuses := map[int]int{}
	for _, r := range h.operations() {
		h.enter(a)
		for _, who := range []*actor{a, nil} {
			one := h.normal(c, r, a, things)
			lighter(&one, r)
			got := h.asks(who, one)
			statuses[got.Code]++
		}
		h.enter(a)
		one := h.normal(c, r, a, things)
		one.kind = "text/nonsense"
		statuses[h.asks(a, one).Code]++
		one.method = "PATCH"
		statuses[h.asks(a, one).Code]++
		one.method, one.path = r.Method, one.path+"?nonsense=1&nonsense=2"
		statuses[h.asks(a, one).Code]++
	}
	for _, x := range []struct {
		method, path, host string
		body               string
		want               int
	}{
		{"GET", "/", "", "", 404}, {"GET", "/nothing", "", "", 404}, {"POST", "/first", "", "", 405}, {"GET", "/first", "", "", 200}, {"GET", "/password", "", "", 200}, {"GET", "/entry.js", "", "", 200}, {"GET", "/entry.css", "", "", 200},
		{"GET", "/sign-in/oidc", "", "", 404}, {"GET", "/sign-in/oidc/back", "", "", 404}, {"GET", "/livez", "", "", 200}, {"GET", "/readyz", "", "", 503}, {"POST", "/livez", "", "", 405}, {"GET", "/api", "", "", 404}, {"GET", "/api/v2/jobs", "", "", 404},
		{"GET", Prefix + "/", "", "", 200}, {"GET", Prefix + "/openapi.json", "", "", 200}, {"GET", "/api/fault", "", "", 500}, {"GET", "/first", "evil.example", "", 421}, {"GET", Prefix + "/jobs/%00", "", "", 401}, {"GET", "//evil.example/", "", "", 404},
		{"POST", Prefix + "/session", "", strings.Repeat("x", 20<<10), 413}, {"BREW", Prefix + "/jobs", "", "", 405},
	} {
		r := httptest.NewRequest(x.method, "https://shop.lan"+x.path, strings.NewReader(x.body))
		r.Header.Set("Content-Type", "application/json")
		if x.host != "" {
			r.Host = x.host
		}
		got := h.sends(r)
		if statuses[got.Code]++; got.Code != x.want && got.Code/100 != 3 {
			t.Errorf("%s %s at %q: %d, want %d", x.method, x.path, x.host, got.Code, x.want)
		}
	}
	for what := range h.lacks {
		if !strings.HasPrefix(what, "GET "+Prefix+"/openapi.json") {
			t.Errorf("without a header: %s", what)
		}
	}
	t.Logf("%d answers: %v", h.n, statuses)
}

// fields are the names of all members of all objects that the description has, and of the object that a route takes.
func fields(t *testing.T, c *contract, r Route) (all, own []string) {
	t.Helper()
	var d struct {
		Paths map[string]map[string]struct {
			RequestBody struct {
				Content map[string]struct{ Schema json.RawMessage }
			}
		}
		Components struct{ Schemas map[string]json.RawMessage }
	}
	if err := json.Unmarshal(c.w.api.Description(), &d); err != nil {
		t.Fatal(err)
	}
	names := map[string]bool{}
	for _, s := range d.Components.Schemas {
		for name := range members(s) {
			names[name] = true
		}
	}
	schema := d.Paths[r.Path][strings.ToLower(r.Method)].RequestBody.Content["application/json"].Schema
	var ref struct {
		Ref string `json:"$ref"`
	}
	if json.Unmarshal(schema, &ref) == nil && ref.Ref != "" {
		schema = d.Components.Schemas[strings.TrimPrefix(ref.Ref, "#/components/schemas/")]
	}
	return slices.Sorted(maps.Keys(names)), slices.Collect(maps.Keys(members(schema)))
}

func members(schema json.RawMessage) map[string]json.RawMessage {
	var s struct{ Properties map[string]json.RawMessage }
	_ = json.Unmarshal(schema, &s) // one that is no object has none
	return s.Properties
}

// TestNoFieldSlipsIn: every name of a member of any object there is, sent to every route that takes an object, with what its members are elsewhere: one that the route does not have
// is refused as unknown, and nothing is written (OWASP ASVS 5.0, 15.3.3). FETTLE_PERMISSIONS=all tries all names.
func TestNoFieldSlipsIn(t *testing.T) {
	h := newHouse(t)
	c, a := newContract(t, h.world), h.everything()
	things := h.objects("x")
	values := []any{true, "x", 1, nil, []string{"administrator"}, map[string]any{}}
	routes, tries, taken, step := 0, 0, 0, 67
	if whole() {
		step = 1
	}
	try := func(r Route, name string, one call) {
		before := h.written()
		got := h.asks(a, one)
		if tries++; got.Code != http.StatusBadRequest || h.written() != before {
			if taken++; taken < 20 {
				t.Errorf("%s takes %q: %d %s", r.ID, name, got.Code, short(got))
			}
		}
	}
	for k, r := range h.operations() {
		h.enter(a)
		body, is := h.normal(c, r, a, things).body.(map[string]any)
		if !is {
			continue
		}
		routes++
		all, own := fields(t, c, r)
		all = append(all, "nonsense", "__proto__", "constructor", "isAdmin", "Roles", "ROLES", "role", "admin")
		for i, name := range all {
			if slices.Contains(own, name) || (i+k)%step != 0 && name != "nonsense" {
				continue
			}
			one := h.normal(c, r, a, things)
			fresh := maps.Clone(body)
			fresh[name] = values[(i+k)%len(values)]
			one.body = fresh
			try(r, name, one)
		}
		for member, value := range body { // and inside what it takes
			list, is := value.([]any)
			if !is || len(list) == 0 {
				continue
			}
			object, is := list[0].(map[string]any)
			if !is {
				continue
			}
			one := h.normal(c, r, a, things)
			fresh, inner := maps.Clone(body), maps.Clone(object)
			inner["nonsense"] = 1
			fresh[member] = []any{inner}
			one.body = fresh
			try(r, member+".nonsense", one)
		}
	}
	t.Logf("%d names at %d routes that take an object: %d taken", tries, routes, taken)
}

// TestWhatIsTakenIsGoneAtOnce: after somebody's roles were taken or they were disabled, by a route, the next request by session and by token is refused, a stream that runs ends
// untold, and none begins: 100 of 100.
func TestWhatIsTakenIsGoneAtOnce(t *testing.T) {
	h := newHouse(t)
	h.now.Store(noon.UnixMilli())
	boss := h.everything()
	tries, wrong := 10, map[string]int{}
	if whole() {
		tries = 100
	}
	for i := range tries {
		id := h.person("north", "taken", right.Technician, right.Planner)
		session := &actor{asker: asker{person: id, shop: "north", fresh: true}, signIn: fmt.Sprint("taken-", h.names), as: "person"}
		h.enter(session)
		s, err := h.in.Session(t.Context(), session.secret)
		h.must(err)
		_, secret, err := h.in.MakeToken(t.Context(), s.Who, account.NewToken{Name: "t", For: time24})
		h.must(err)
		token := &actor{as: "token", secret: secret.Text}
		streams := []*running{h.listens(session), h.listens(token)}
		for _, one := range streams {
			one.until(t, "event: begin")
		}
		h.enter(boss)
		path, body := "/people/"+id+"/roles", any(map[string]any{"roles": []string{}})
		if i%2 == 1 {
			path, body = "/people/"+id+"/state", map[string]any{"active": false}
		}
		if got := h.asks(boss, call{method: "PUT", path: path, body: body}); got.Code != http.StatusNoContent {
			t.Fatalf("%s: %d %s", path, got.Code, short(got))
		}
		for name, who := range map[string]*actor{"session": session, "token": token} {
			for _, ask := range []string{"/jobs", "/session", "/stream"} {
				if got := h.asks(who, call{method: "GET", path: ask}); got.Code != http.StatusUnauthorized {
					wrong[name+" at "+ask]++
				}
			}
		}
		h.newJob("north", fmt.Sprint("north-t", i), "draft")
		for _, one := range streams {
			if text := one.ended(t); strings.Contains(text, fmt.Sprint("north-t", i)) {
				wrong["stream"]++
			}
		}
	}
	if len(wrong) > 0 {
		t.Errorf("of %d: %v went on", tries, wrong)
	}
	t.Logf("%d of %d: session, token and stream refused at once", tries, tries)
}

// running is a stream that somebody hears.
type running struct {
	lines chan string
	all   strings.Builder
	done  chan struct{}
	h     http.Header
}

func (r *running) Header() http.Header { return r.h }
func (r *running) WriteHeader(int)     {}
func (r *running) Flush()              {}
func (r *running) Write(b []byte) (int, error) {
	r.lines <- string(b)
	return len(b), nil
}

func (h *house) listens(a *actor) *running {
	r := &running{lines: make(chan string, 1000), done: make(chan struct{}), h: http.Header{}}
	q := h.request(a, call{method: "GET", path: "/stream"})
	go func() {
		defer close(r.done)
		h.server.ServeHTTP(r, q)
	}()
	return r
}

// until waits for a text.
func (r *running) until(t *testing.T, text string) {
	t.Helper()
	for late := time.After(time.Minute); !strings.Contains(r.all.String(), text); {
		select {
		case s := <-r.lines:
			r.all.WriteString(s)
		case <-late:
			t.Fatalf("no %q in %q", text, r.all.String())
		}
	}
}

// ended is all that was told until the stream ended by itself.
func (r *running) ended(t *testing.T) string {
	t.Helper()
	select {
	case <-r.done:
	case <-time.After(time.Minute):
		t.Fatal("the stream goes on")
	}
	for len(r.lines) > 0 {
		r.all.WriteString(<-r.lines)
	}
	return r.all.String()
}
