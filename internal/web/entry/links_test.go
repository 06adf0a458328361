package entry

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
	"fettle/internal/web"
)

// oneJob is a shop with one approved job.
type oneJob struct{}

func (oneJob) On(_ context.Context, s account.Session, job string) (right.On, error) {
	if job != "north-1" {
		return right.On{}, &diag.Error{Kind: diag.NotFound, Op: "open", Msg: "there is no such thing, or it is not for you"}
	}
	return right.On{Shop: s.Shop.ID, Job: job, Everybody: true, Stage: right.Approved}, nil
}

func (j oneJob) Seal(ctx context.Context, s account.Session, job string) (Sealed, error) {
	on, err := j.On(ctx, s, job)
	return Sealed{On: on, To: 7, Day: "2026-11-30", Seal: "5ea1"}, err
}

// linking has links served too, and a route of a revision that says who asks.
func (w *world) linking() {
	w.Helper()
	m := http.NewServeMux()
	Mount(m, "/api/v1", w.in)
	MountLinks(m, "/api/v1", w.in, oneJob{})
	who := func(rw http.ResponseWriter, r *http.Request) {
		s, err := Session(w.in, r)
		if err != nil {
			refuse(rw, r, err)
			return
		}
		_, _ = fmt.Fprintf(rw, `{"person":%q,"link":%q}`, s.Who.Person, s.Who.Link.ID)
	}
	m.HandleFunc("GET /api/v1/jobs/{job}/revisions/{event}/report", who)
	m.HandleFunc("GET /api/v1/jobs/{job}/report", who)
	var err error
	if w.web, err = web.New(web.Config{API: m}); err != nil {
		w.Fatal(err)
	}
}

// TestLinksByTheRoutes: made, opened, told to the shop with each opening, and revoked: the next request is refused. What a link gives is good
// for the routes of its revision alone, and a person's session is never taken for it.
func TestLinksByTheRoutes(t *testing.T) {
	w, ada := begun(t)
	w.linking()
	_, rita := ada.added("rita", right.Reviewer)
	_, tim := ada.added("tim", right.Technician)
	_, adam := ada.added("adam", right.Administrator)
	const links, revision = "/jobs/north-1/links", "../api/v1/jobs/north-1/revisions/7/report"
	var made madeLinkShown
	if got := rita.ask("POST", links, map[string]any{"days": 9, "files": true, "most": 3}, &made); got != 201 || made.Event != 7 || made.Code != "" {
		t.Fatalf("no link: %d %+v", got, made)
	}
	at, err := url.Parse(made.Address)
	if err != nil || at.Path != LinkPage || len(at.Fragment) != 43 || at.RawQuery != "" {
		t.Fatalf("address %q", made.Address)
	}
	for what, c := range map[string]struct {
		by   *browser
		body any
		path string
		want int
	}{"by a technician": {tim, map[string]any{}, links, 403}, "by an administrator alone": {adam, map[string]any{}, links, 403}, "by nobody": {w.browser(ada.base, ada.from), map[string]any{}, links, 401},
		"of no job": {rita, map[string]any{}, "/jobs/other/links", 404}, "for too long": {rita, map[string]any{"days": 181}, links, 422}, "before now": {rita, map[string]any{"days": -1}, links, 422}, "too often": {rita, map[string]any{"most": 201}, links, 422}} {
		if got := c.by.ask("POST", c.path, c.body, nil); got != c.want {
			t.Errorf("a link %s: %d, want %d", what, got, c.want)
		}
	}
	reader := w.browser(ada.base, "203.0.113.9:4000")
	var in openedShown
	if got := reader.ask("POST", "/link", map[string]any{"secret": at.Fragment}, &in); got != 200 || in.Job != "north-1" || in.Event != 7 || !in.Files {
		t.Fatalf("it does not open: %d %+v", got, in)
	}
	var who struct{ Person, Link string }
	if got := reader.ask("GET", revision, nil, &who); got != 200 || who.Link != made.Link || who.Person != "" {
		t.Fatalf("the reader is %+v: %d", who, got)
	}
	w.readsNothingElse(reader)
	for name, secret := range reader.shows { // the same secret in the cookie of people
		moved := w.browser(ada.base, ada.from)
		moved.shows[strings.Replace(name, "-link", "", 1)] = secret
		for _, path := range []string{"/session", links, revision} {
			if got := moved.ask("GET", path, nil, nil); got != 401 {
				t.Errorf("the session of a link in another cookie, %s: %d", path, got)
			}
		}
	}
	for name, secret := range rita.shows {
		moved := w.browser(ada.base, ada.from)
		moved.shows[name+"-link"] = secret
		if got := moved.ask("GET", revision, nil, nil); got != 401 {
			t.Errorf("the session of a person in the cookie of links: %d", got)
		}
	}
	var all linksShown
	if got := rita.ask("GET", links, nil, &all); got != 200 || len(all.Links) != 1 || len(all.Links[0].Openings) != 1 || all.Links[0].Openings[0].From != "outside" {
		t.Errorf("links: %d %+v", got, all)
	}
	if got := rita.ask("DELETE", "/jobs/north-1/links/"+made.Link, nil, nil); got != 204 {
		t.Errorf("not revoked: %d", got)
	}
	if got := reader.ask("GET", revision, nil, nil); got != 401 {
		t.Errorf("after it was revoked: %d", got)
	}
	w.refusesAlike(ada, at.Fragment)
}

// readsNothingElse asks for every route that is described with the session of a link.
func (w *world) readsNothingElse(reader *browser) {
	w.Helper()
	tried := 0
	for _, x := range Ways() {
		if x.Anybody {
			continue
		}
		path := strings.NewReplacer("{job}", "north-1", "{link}", "x", "{person}", "x", "{token}", "x", "{shop}", "north", "{session}", "x", "{passkey}", "x", "{invitation}", "x").Replace(x.Path)
		var body any
		if x.Takes != nil {
			body = map[string]any{}
		}
		tried++
		if got := reader.ask(x.Method, path, body, nil); got != 401 {
			w.Errorf("%s %s with the session of a link: %d", x.Method, x.Path, got)
		}
	}
	if got := reader.ask("GET", "../api/v1/jobs/north-1/report", nil, nil); got != 401 || tried < 25 {
		w.Errorf("a job as it stands: %d; %d routes tried", got, tried)
	}
}

// refusesAlike tries 1,000 secrets that are none, and one that was revoked: one answer.
func (w *world) refusesAlike(ada *browser, revoked string) {
	w.Helper()
	b := w.browser(ada.base, ada.from)
	answers := map[string]int{}
	for i := range 1000 {
		drawn := make([]byte, 32)
		if _, err := rand.Read(drawn); err != nil {
			w.Fatal(err)
		}
		secret := base64.RawURLEncoding.EncodeToString(drawn)
		switch changed := []byte(revoked); {
		case i == 0:
			secret = revoked
		case i < 200:
			changed[i%len(changed)] ^= byte(1 + i/len(changed))
			secret = strings.ToValidUTF8(string(changed), "?")
		case i < 220:
			secret = revoked[:i%43]
		}
		var p struct{ Code, Detail, Hint string }
		answers[fmt.Sprint(b.ask("POST", "/link", map[string]any{"secret": secret}, &p), p)]++
	}
	if len(answers) != 1 || len(b.shows) != 0 {
		w.Errorf("answers %v, cookies %v", answers, b.shows)
	}
}

// TestLinkPage: it loads its own script and style, and says that it is not to be found.
func TestLinkPage(t *testing.T) {
	m := http.NewServeMux()
	MountLinkPage(m, "/api/v1")
	s, err := web.New(web.Config{Pages: m})
	if err != nil {
		t.Fatal(err)
	}
	w := &world{T: t, web: s}
	b := w.browser("http://127.0.0.1", "127.0.0.1:4000")
	for _, path := range []string{LinkPage, "/link.js", "/link.css"} {
		if got := b.ask("GET", ".."+path, nil, nil); got != 200 {
			t.Errorf("%s: %d", path, got)
		}
		h := b.last.Header
		if h.Get("Cache-Control") != "no-store" || h.Get("Referrer-Policy") != "no-referrer" {
			t.Errorf("%s: %v", path, h)
		}
		if path == LinkPage && (h.Get("X-Robots-Tag") != "noindex, nofollow" || h.Get("Content-Security-Policy") != linkPolicy) {
			t.Errorf("%v", h)
		}
	}
	if strings.Contains(linkText, "://") || strings.Contains(string(linkScript), "innerHTML") {
		t.Error("the page loads something from elsewhere, or takes text for markup")
	}
}
