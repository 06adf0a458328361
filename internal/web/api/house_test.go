package api

import (
	"bytes"
	"context"
	"crypto/rand"
	"database/sql"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/right"
	"fettle/internal/store/database"
	"fettle/internal/unit"
	"fettle/internal/web"
	"fettle/internal/web/entry"
)

// house is a whole server with real people, sessions, tokens and links, before one database: that of a world.
type house struct {
	maker string // of links
	*world
	in     *account.Accounts
	server *web.Server
	now    atomic.Int64
	events []job.Event // of the job that all others are made like
	boss   map[string]*actor
	victim map[string]string // somebody of each shop whom nobody acts as
	at     *sql.Conn         // looks whether anything was written
	names  int
	lacks  map[string]bool // headers that were missing, and where
	n      int             // answers
}

// actor is somebody who asks.
type actor struct {
	asker
	name, signIn string
	as           string // "person", "token", "link", or what became of them
	secret       string // what they show: of a session, or a token
	gone         bool   // nobody any more: all that is not for anybody is 401
	opens        string // the secret of the link that they came by
}

const (
	houseWord = "nine slow looms rattle"
	southMark = "only-the-south-knows"
)

func (h *house) must(err error) {
	h.t.Helper()
	if err != nil {
		h.t.Fatal(err)
	}
}

func newHouse(t *testing.T) *house {
	t.Helper()
	h := &house{world: newWorld(t), boss: map[string]*actor{}, victim: map[string]string{}, lacks: map[string]bool{}}
	h.now.Store(noon.Add(-time.Hour).UnixMilli())
	clock := func() time.Time { return time.UnixMilli(h.now.Load()).UTC() }
	var err error
	h.in, err = account.New(account.Settings{Store: h.to.Accounts(), Now: clock, Random: rand.Reader, Key: make([]byte, 32), Cost: account.Cost{KiB: 64, Passes: 1, Lanes: 1}, Weak: true,
		Site: account.Site{Name: "shop.lan", Title: "fettle", Origins: []string{"https://shop.lan"}}})
	h.must(err)
	hub := web.NewHub(web.HubSettings{From: moves{h.to.Moved, h.to.Newest}, Look: 5 * time.Millisecond, Gather: time.Millisecond, Beat: 5 * time.Millisecond})
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { hub.Run(ctx); close(ended) }()
	t.Cleanup(func() { stop(); <-ended })
	who := func(r *http.Request) (right.Who, app.Shop, error) { return of(entry.Session(h.in, r)) }
	h.api, err = New(Config{Version: "v0-test", Now: clock, Service: h.use, Who: who, Ways: entry.Ways(), Noted: web.Noted, Stream: h.streams(hub)})
	h.must(err)
	m, pages := http.NewServeMux(), http.NewServeMux()
	entry.Mount(m, Prefix, h.in)
	entry.MountLinks(m, Prefix, h.in, linkedJobs{h})
	m.Handle("/", h.api)
	m.HandleFunc("/api/fault", func(http.ResponseWriter, *http.Request) { panic("a fault of a test") })
	entry.MountPages(pages, Prefix)
	entry.MountLinkPage(pages, Prefix)
	entry.MountProvider(pages, h.in)
	h.server, err = web.New(web.Config{API: m, Pages: pages, Hosts: []string{"shop.lan"}})
	h.must(err)
	db, err := sql.Open("sqlite", "file:"+filepath.Join(h.dir, "fettle.db")+"?mode=ro")
	h.must(err)
	h.at, err = db.Conn(ctx)
	h.must(err)
	t.Cleanup(func() { _ = h.at.Close(); _ = db.Close() })
	h.settle()
	return h
}

type moves struct {
	after  func(context.Context, int64, int) ([]database.Move, error)
	newest func(context.Context) (int64, error)
}

func (m moves) Newest(ctx context.Context) (int64, error) { return m.newest(ctx) }
func (m moves) After(ctx context.Context, n int64, most int) (out []web.Move, err error) {
	all, err := m.after(ctx, n, most)
	for _, x := range all {
		out = append(out, web.Move(x))
	}
	return out, err
}

func of(s account.Session, err error) (right.Who, app.Shop, error) {
	return s.Who, app.Shop{ID: s.Shop.ID, First: s.Shop.First, Several: s.Shop.Several, Everybody: s.Shop.Everybody, Alone: s.Shop.Alone}, err
}

// streams tells of jobs, and asks anew each time who hears it.
func (h *house) streams(hub *web.Hub) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var now atomic.Pointer[app.As]
		still := func(context.Context) error {
			who, shop, err := of(entry.Look(h.in, r))
			if err == nil {
				now.Store(h.use.As(who, shop))
			}
			return err
		}
		if still(r.Context()) != nil {
			signedOut.write(w)
			return
		}
		hub.Serve(w, r, web.Stream{Only: func(m web.Move) bool { return now.Load().Hears(m.Shop) }, Still: still})
	})
}

// settle makes the shops, an administrator and somebody else in each, and three jobs: a draft, one approved, one released.
func (h *house) settle() {
	h.t.Helper()
	ctx := h.t.Context()
	link, err := h.in.FirstUse(ctx)
	h.must(err)
	boss := &actor{signIn: "boss", as: "person"}
	in, err := h.in.ClaimFirst(ctx, link.Text, account.First{Shop: "north", ShopName: "North", NewPerson: account.NewPerson{Name: "Boss", SignIn: "boss"}, Password: houseWord}, account.From{})
	h.must(err)
	s, err := h.in.Session(ctx, in.Session)
	h.must(err)
	_, err = h.in.AddShop(ctx, s.Who, "south", "South")
	h.must(err)
	for _, shop := range []string{"north", "south"} {
		b := *boss
		b.shop = shop
		h.boss[shop] = &b
		h.victim[shop] = h.person(shop, "victim", right.Technician)
	}
	chain, err := h.to.Load(ctx, "north-1", 0)
	h.must(err)
	h.events, err = job.Events(chain[:len(chain)-2]) // without what only this one has
	h.must(err)
	for _, shop := range []string{"north", "south"} {
		_, err := h.to.Append(ctx, jobAt(shop, stages[0]), app.Change{Key: "proposed", By: "p-kept", Events: []job.Event{proposedD77()}}, nil)
		h.must(err)
		for _, stage := range stages[1:] {
			h.newJob(shop, jobAt(shop, stage), stage)
		}
	}
}

// proposedD77 is a proposal that every job has, so that who may settle it is asked.
func proposedD77() job.Event {
	return job.Event{Kind: job.RecordProposed, Data: job.Proposal{ID: "PP-9", Of: "finding/D77", Record: dentD77, By: "P1", On: unit.DateOf(noon)}}
}

// stages of jobs, as the jobs of a shop are numbered.
var stages = []string{"draft", "approved", "released"}

func jobAt(shop, stage string) string {
	return fmt.Sprint(shop, "-", 1+slices.Index(stages, stage))
}

// newJob keeps a job of a shop that is so far. Nobody who asks has written anything of it.
func (h *house) newJob(shop, id, stage string) {
	h.t.Helper()
	ctx, day := h.t.Context(), unit.DateOf(noon)
	var events []job.Event
	for _, e := range h.events {
		if o, is := e.Data.(job.Opening); is {
			o.ID = id
			o.Shop = "sha256:" + h.shop[shop]
			e.Data = o
		}
		events = append(events, e)
	}
	by := "T1"
	events = append(events, job.Event{Kind: job.JobHandedOver, Data: job.HandedOver{To: shop, By: by, On: day, Reason: "begun here"}})
	if stage != "draft" {
		s, err := job.Fold(events)
		h.must(err)
		sent := job.Sending{Part: job.Whole, By: "P1", On: day}
		sent.Under, err = s.ToReview(job.Whole)
		h.must(err)
		s.Sendings = append(s.Sendings, sent)
		under, err := s.ToApprove()
		h.must(err)
		events = append(events, job.Event{Kind: job.SentToReview, Data: sent}, job.Event{Kind: job.DecisionsReviewed, Data: job.Review{By: "T3", On: day, Text: "all right", Under: under}})
	}
	events = append(events, proposedD77())
	if stage == "released" {
		events = append(events, job.Event{Kind: job.VehicleHandedBack, Data: job.HandBack{To: "owner", Under: hashOf([]byte("x")), By: "T3", On: day}})
	}
	_, err := h.to.Create(ctx, id, app.Change{Key: "made " + id, By: "p-kept", Events: events})
	h.must(err)
}

// boss' session, anew where it is over.
func (h *house) bossIn(shop string) account.Session {
	h.t.Helper()
	in, err := h.in.SignIn(h.t.Context(), account.Try{Name: "boss", Password: houseWord, Shop: shop}, account.From{})
	h.must(err)
	s, err := h.in.Session(h.t.Context(), in.Session)
	h.must(err)
	return s
}

// person adds somebody to a shop who can sign in.
func (h *house) person(shop, name string, roles ...right.Role) string {
	h.t.Helper()
	h.names++
	p, link, err := h.in.AddPerson(h.t.Context(), h.bossIn(shop).Who, account.NewPerson{Name: "Person " + marked(shop), SignIn: fmt.Sprint(name, "-", h.names), Roles: roles})
	h.must(err)
	h.must(h.in.SetPassword(h.t.Context(), link.Text, houseWord, account.From{}))
	return p.ID
}

// marked is a text that only people of a shop may read.
func marked(shop string) string {
	if shop == "south" {
		return southMark
	}
	return "of the north"
}

// enter signs an actor in, where they are not.
func (h *house) enter(a *actor) {
	h.t.Helper()
	if a.gone {
		return
	}
	if a.opens != "" {
		if _, err := h.in.Look(h.t.Context(), a.secret); err != nil { // they have signed out
			in, err := h.opened(a.opens)
			h.must(err)
			a.secret = in.Session
		}
	}
	if a.as != "person" {
		return
	}
	if s, err := h.in.Look(h.t.Context(), a.secret); err == nil && s.Who.Fresh == a.fresh {
		return
	}
	in, err := h.in.SignIn(h.t.Context(), account.Try{Name: a.signIn, Password: houseWord, Shop: a.shop}, account.From{})
	h.must(err)
	a.secret = in.Session
	if !a.fresh { // a proof of a while ago is one of another clock: what this one has is that of who came by a long way
		h.stale(a)
	}
}

// stale has somebody's session be one whose proof is too old.
func (h *house) stale(a *actor) {
	h.t.Helper()
	at := h.now.Load()
	h.now.Store(at - (account.FreshFor + time.Minute).Milliseconds())
	in, err := h.in.SignIn(h.t.Context(), account.Try{Name: a.signIn, Password: houseWord, Shop: a.shop}, account.From{})
	h.now.Store(at)
	h.must(err)
	a.secret = in.Session
	_, err = h.in.Session(h.t.Context(), a.secret) // its use is noted now, and not with what is asked
	h.must(err)
}

// actors are all who try every route.
func (h *house) actors() []*actor {
	h.t.Helper()
	var out []*actor
	for _, shop := range []string{"north", "south"} {
		for _, roles := range []string{"technician", "planner", "reviewer", "administrator", "technician+planner", "planner+reviewer", "technician+planner+reviewer+administrator"} {
			out = append(out, h.actorsOf(shop, roles)...)
		}
		out = append(out, h.readers(shop)...)
	}
	h.now.Store(noon.UnixMilli())
	for _, a := range out { // what is over goes, and uses are noted, before anything is held against that nothing is written
		h.enter(a)
		h.asks(a, call{method: "GET", path: "/session"})
		if a.as == "link" { // which no other route looks at
			h.asks(a, call{method: "GET", path: "/jobs/nothing/revisions/1/history"})
		}
	}
	out = append(out, &actor{name: "nobody", gone: true}, &actor{name: "a forged session", gone: true, as: "person", secret: "forged"}, &actor{name: "a forged token", gone: true, as: "token", secret: "fettle_forged"})
	return out
}

func (h *house) actorsOf(shop, roles string) (out []*actor) {
	ctx := h.t.Context()
	var rs []right.Role
	for r := range strings.SplitSeq(roles, "+") {
		rs = append(rs, right.Role(r))
	}
	made := func(how string) *actor {
		id := h.person(shop, strings.ReplaceAll(roles, "+", "-")+"-"+how, rs...)
		return &actor{asker: asker{person: id, shop: shop, roles: strings.Split(roles, "+"), fresh: true}, name: roles + "@" + shop + ", " + how, signIn: fmt.Sprint(strings.ReplaceAll(roles, "+", "-"), "-", how, "-", h.names), as: "person"}
	}
	shows := func(a *actor, reads bool) {
		h.enter(a)
		s, err := h.in.Session(ctx, a.secret)
		h.must(err)
		_, token, err := h.in.MakeToken(ctx, s.Who, account.NewToken{Name: marked(shop), Reads: reads, For: 90 * time24})
		h.must(err)
		a.as, a.secret, a.program, a.reads, a.fresh = "token", token.Text, true, reads, false
	}
	person, stale, program, reads := made("person"), made("stale"), made("token"), made("reads")
	stale.fresh = false
	shows(program, false)
	shows(reads, true)
	out = append(out, person, stale, program, reads)
	if strings.Count(roles, "+") != 3 {
		return out
	}
	for _, how := range []string{"disabled", "taken"} {
		for _, by := range []string{"session", "token"} {
			a := made(how + "-" + by)
			if h.enter(a); by == "token" {
				shows(a, false)
			}
			if how == "disabled" {
				h.must(h.in.SetState(ctx, h.bossIn(shop).Who, a.person, false))
			} else {
				h.must(h.in.GiveRoles(ctx, h.bossIn(shop).Who, a.person, nil))
			}
			a.gone = true
			out = append(out, a)
		}
	}
	return out
}

const time24 = 24 * time.Hour

// readers are those from outside: by a link that is good, one that is over, and one that was revoked.
func (h *house) readers(shop string) (out []*actor) {
	ctx, id := h.t.Context(), jobAt(shop, "approved")
	head, err := h.to.Head(ctx, id)
	h.must(err)
	on := right.On{Shop: shop, Job: id, Everybody: true, Stage: right.Approved}
	maker := h.person(shop, "maker", right.Reviewer)
	sealed, err := h.use.As(right.Who{Person: maker, Shop: shop, Roles: []right.Role{right.Reviewer}, Fresh: true}, app.Shop{ID: shop, Several: true, First: shop == "north", Everybody: true}).Seal(ctx, id)
	h.must(err)
	for _, how := range []string{"link", "link over", "link revoked"} {
		w := right.Who{Person: maker, Shop: shop, Roles: []right.Role{right.Reviewer}, Fresh: true}
		n := account.NewLink{To: head.Seq, Files: true, For: time24, Day: sealed.Day, Seal: sealed.Seal, Most: account.OpenMost}
		at := h.now.Load()
		if how == "link over" {
			n.For = 30 * time.Minute
		}
		if how == "link" { // a session by one lasts half an hour
			h.now.Store(noon.Add(-time.Minute).UnixMilli())
		}
		l, secret, err := h.in.MakeLink(ctx, w, on, n)
		h.must(err)
		in, err := h.opened(secret.Text)
		h.must(err)
		h.now.Store(at)
		if how == "link revoked" {
			h.must(h.in.RevokeLink(ctx, w, on, l.ID))
		}
		out = append(out, &actor{asker: asker{shop: shop, roles: []string{"reader"}, link: id, files: true}, name: "reader@" + shop + ", " + how, as: "link", secret: in.Session, opens: secret.Text, gone: how != "link"})
	}
	return out
}

// opened is what somebody is given by the secret of a link.
func (h *house) opened(secret string) (account.SignedIn, error) {
	in, _, err := h.in.OpenLink(h.t.Context(), secret, "", account.From{})
	return in, err
}

// linkOf is a link of a job of the north, which somebody else has made.
func (h *house) linkOf(id string) string {
	h.t.Helper()
	if h.maker == "" {
		h.maker = h.person("north", "makes", right.Reviewer)
	}
	l, _, err := h.in.MakeLink(h.t.Context(), right.Who{Person: h.maker, Shop: "north", Roles: []right.Role{right.Reviewer}, Fresh: true}, right.On{Shop: "north", Job: id, Everybody: true, Stage: right.Approved}, account.NewLink{To: 1})
	h.must(err)
	return l.ID
}

// linkedJobs is what links are made of.
type linkedJobs struct{ *house }

func (l linkedJobs) as(s account.Session) *app.As {
	who, shop, _ := of(s, nil)
	return l.use.As(who, shop)
}

func (l linkedJobs) Seal(ctx context.Context, s account.Session, job string) (entry.Sealed, error) {
	x, err := l.as(s).Seal(ctx, job)
	return entry.Sealed{On: x.On, To: x.To, Day: x.Day, Seal: x.Seal}, err
}

func (l linkedJobs) On(ctx context.Context, s account.Session, job string) (right.On, error) {
	return l.as(s).OnJob(ctx, job)
}

// request is one of a browser over TLS, or of a program.
func (h *house) request(a *actor, c call) *http.Request {
	h.t.Helper()
	var body []byte
	switch b := c.body.(type) {
	case nil:
	case []byte:
		body = b
	default:
		body = []byte(jsonOf(b))
	}
	path := Prefix + c.path
	if rest, page := strings.CutPrefix(c.path, ".."); page {
		path = rest
	}
	r := httptest.NewRequest(c.method, "https://shop.lan"+path, bytes.NewReader(body))
	kind := c.kind
	if kind == "" && c.body != nil {
		kind = "application/json"
	}
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	if a != nil && a.as == "token" {
		r.Header.Set("Authorization", "Bearer "+a.secret)
	} else if a != nil && a.secret != "" {
		name := "__Host-fettle"
		if a.as == "link" {
			name = "__Host-fettle-link"
		}
		r.AddCookie(&http.Cookie{Name: name, Value: a.secret})
	}
	for i := 0; i+1 < len(c.headers); i += 2 {
		r.Header.Set(c.headers[i], c.headers[i+1])
	}
	return r
}

// heard is an answer that is heard up to the first that is sent at once, which is how a stream begins.
type heard struct {
	*httptest.ResponseRecorder
	leave func()
}

func (w heard) Flush() {
	w.ResponseRecorder.Flush()
	w.leave()
}

// asks has an actor ask. Every answer has all headers.
func (h *house) asks(a *actor, c call) *httptest.ResponseRecorder {
	h.t.Helper()
	return h.sends(h.request(a, c))
}

func (h *house) sends(r *http.Request) *httptest.ResponseRecorder {
	ctx, leave := context.WithCancel(r.Context())
	defer leave()
	out := httptest.NewRecorder()
	h.server.ServeHTTP(heard{out, leave}, r.WithContext(ctx))
	h.n++
	for _, name := range []string{"Strict-Transport-Security", "X-Content-Type-Options", "Referrer-Policy", "Content-Security-Policy", "Cross-Origin-Opener-Policy", "Cross-Origin-Resource-Policy", "Permissions-Policy", "Cache-Control", "X-Request-Id"} {
		if out.Header().Get(name) == "" {
			h.lacks[fmt.Sprint(r.Method, " ", r.URL.Path, " ", out.Code, ": ", name)] = true
		}
	}
	if strings.HasPrefix(r.URL.Path, Prefix+"/") && out.Header().Get("Cache-Control") != "no-store" {
		h.lacks[fmt.Sprint(r.Method, " ", r.URL.Path, " ", out.Code, ": Cache-Control is ", out.Header().Get("Cache-Control"))] = true
	}
	return out
}

// written counts what any program has written into the database up to now.
func (h *house) written() (n int64) {
	h.t.Helper()
	h.must(h.at.QueryRowContext(context.Background(), "pragma data_version").Scan(&n))
	return n
}

// operations are those of the generated description.
func (h *house) operations() []Route {
	h.t.Helper()
	var out []Route
	for path, methods := range newContract(h.t, h.world).paths {
		for method, op := range methods {
			out = append(out, Route{strings.ToUpper(method), path, op.OperationID, 0})
		}
	}
	slices.SortFunc(out, func(a, b Route) int { return strings.Compare(a.ID, b.ID) })
	return out
}

// detail is the sentence of a problem document.
func detail(r *httptest.ResponseRecorder) string {
	var p struct{ Detail string }
	_ = readJSON(r.Body.Bytes(), &p) // what is none has none
	return p.Detail
}
