package remote_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/golden/folders"
	"fettle/internal/job"
	"fettle/internal/right"
	"fettle/internal/store/blobs"
	"fettle/internal/store/database"
	"fettle/internal/store/remote"
	"fettle/internal/store/storetest"
	"fettle/internal/web/api"
)

// allMayAll is a matrix in which everybody of a shop may everything: what the suite asks is not who may.
func allMayAll() right.Matrix {
	text := strings.Builder{}
	text.WriteString("act,about,changes,technician,planner,reviewer,administrator,reader\n")
	for _, a := range right.Acts() {
		changes := "no"
		if right.Shipped().Changes(a) {
			changes = "yes"
		}
		fmt.Fprintf(&text, "%s,shop,%s,yes,yes,yes,yes,no\n", a, changes)
	}
	m, err := right.Read(text.String())
	if err != nil {
		panic(err)
	}
	return m
}

// group is servers of one store, and the tokens of its people, who have the names of the suite.
type group struct {
	t       testing.TB
	now     func() time.Time
	dir     string
	front   func(http.Handler) http.Handler // stands before each server; nil: nothing does
	mu      sync.Mutex
	servers []*httptest.Server
	stores  []*database.Database
	token   map[string]string // by the name that the suite has for somebody
	name    map[string]string // by the person
	chief   right.Who
	people  *account.Accounts
	opened  int
}

var bodies app.Bodies // made ready once for all tests

// newGroup is a group with so many servers on one SQLite file.
func newGroup(t testing.TB, now func() time.Time, servers int, front func(http.Handler) http.Handler) *group {
	t.Helper()
	g := &group{t: t, now: now, dir: t.TempDir(), front: front, token: map[string]string{}, name: map[string]string{}}
	for range servers {
		g.serve()
	}
	g.settle()
	return g
}

// serve begins a server, as a process of its own would be.
func (g *group) serve() {
	g.t.Helper()
	in := blobs.NewFolder(g.dir, "blobs", g.now)
	to, err := database.Open(g.t.Context(), database.Settings{Address: filepath.Join(g.dir, "fettle.db"), Backups: filepath.Join(g.dir, "backups"), Blobs: in, Now: g.now, Program: "test"})
	if err != nil {
		g.t.Fatal(err)
	}
	people := g.accounts(to)
	who := func(r *http.Request) (right.Who, app.Shop, error) {
		secret, _ := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
		s, err := people.Token(r.Context(), secret)
		if err != nil {
			return right.Who{}, app.Shop{}, err
		}
		g.mu.Lock()
		defer g.mu.Unlock()
		s.Who.Person = g.name[s.Who.Person]
		return s.Who, app.Shop{ID: s.Shop.ID, First: true, Everybody: true}, nil
	}
	a := app.New(folders.Files{}, "test").WithBodies(&bodies)
	routes, err := api.New(api.Config{Version: "test", Now: g.now, Who: who, Service: app.Service{App: a, In: to, Rights: allMayAll(), Now: g.now}})
	if err != nil {
		g.t.Fatal(err)
	}
	m := http.NewServeMux()
	m.Handle("/", routes)
	m.HandleFunc("GET "+api.Prefix+"/session", func(w http.ResponseWriter, r *http.Request) {
		s, _, err := who(r)
		if err != nil {
			http.Error(w, "nobody", http.StatusUnauthorized)
			return
		}
		w.Header().Set("Content-Type", "application/json")
		fmt.Fprintf(w, `{"person":%q,"shop":%q}`, s.Person, s.Shop)
	})
	var h http.Handler = m
	if g.front != nil {
		h = g.front(m)
	}
	server := httptest.NewServer(h)
	g.servers, g.stores = append(g.servers, server), append(g.stores, to)
	g.t.Cleanup(func() {
		server.Close()
		if err := to.Close(); err != nil {
			g.t.Error(err)
		}
	})
}

func (g *group) accounts(to *database.Database) *account.Accounts {
	g.t.Helper()
	// Hashes are made at no cost: what is tried is not that.
	people, err := account.New(account.Settings{Store: to.Accounts(), Now: g.now, Random: rand.Reader, Key: make([]byte, 32), Weak: true, Cost: account.Cost{KiB: 8, Passes: 1, Lanes: 1}})
	if err == nil {
		err = people.Check(g.t.Context())
	}
	if err != nil {
		g.t.Fatal(err)
	}
	return people
}

const password = "quite a long sentence nobody else has said"

// settle makes the people, and keeps the body and the shop that the jobs of the suite name.
func (g *group) settle() {
	g.t.Helper()
	ctx := g.t.Context()
	g.people = g.accounts(g.stores[0])
	first, err := g.people.FirstUse(ctx)
	if err != nil {
		g.t.Fatal(err)
	}
	in, err := g.people.ClaimFirst(ctx, first.Text, account.First{Shop: "north", ShopName: "North", NewPerson: account.NewPerson{Name: "P 0", SignIn: "p0@example.invalid", Roles: everyRole}, Password: password}, account.From{})
	if err != nil {
		g.t.Fatal(err)
	}
	who, err := g.people.Session(ctx, in.Session)
	if err != nil {
		g.t.Fatal(err)
	}
	g.chief = who.Who
	g.chief.Fresh = true
	g.named("p-0", g.chief)
	for n := 1; n <= 5; n++ {
		p, ticket, err := g.people.AddPerson(ctx, g.chief, account.NewPerson{Name: fmt.Sprint("P ", n), SignIn: fmt.Sprintf("p%d@example.invalid", n), Roles: everyRole})
		if err == nil {
			err = g.people.SetPassword(ctx, ticket.Text, password, account.From{})
		}
		if err != nil {
			g.t.Fatal(err)
		}
		g.named(fmt.Sprint("p-", n), right.Who{Person: p.ID, Shop: "north", Roles: everyRole, Fresh: true})
	}
	for _, files := range []map[string][]byte{storetest.SmallBody(), storetest.SmallShop()} {
		hash, err := g.stores[0].Keep(ctx, files)
		if err == nil {
			err = g.stores[0].NoteBrought(ctx, "north", hash)
		}
		if err != nil {
			g.t.Fatal(err)
		}
	}
}

var everyRole = []right.Role{right.Technician, right.Planner, right.Reviewer, right.Administrator}

// named gives somebody a token, and the name that the suite has for them.
func (g *group) named(name string, who right.Who) {
	g.t.Helper()
	_, secret, err := g.people.MakeToken(g.t.Context(), who, account.NewToken{Name: "suite", For: 24 * time.Hour})
	if err != nil {
		g.t.Fatal(err)
	}
	g.token[name], g.name[who.Person] = secret.Text, name
}

// open is all people of the suite with a client each, of one server after the other.
func (g *group) open() *clients {
	g.t.Helper()
	g.opened++
	return g.at(g.servers[g.opened%len(g.servers)].URL)
}

// at is all people with a client each of one server.
func (g *group) at(url string) *clients {
	g.t.Helper()
	out := &clients{of: map[string]*remote.Store{}}
	for name, token := range g.token {
		s, err := remote.Open(remote.Options{URL: url, Token: token, Program: "test", Patience: 500 * time.Millisecond})
		if err != nil {
			g.t.Fatal(err)
		}
		g.t.Cleanup(func() { _ = s.Close() })
		out.of[name] = s
	}
	out.Store = out.of["p-1"]
	return out
}

// clients is one store for all people: each writes with their own token, and p-1 does all else.
type clients struct {
	*remote.Store
	of map[string]*remote.Store
}

func (c *clients) by(person string) *remote.Store {
	if s := c.of[person]; s != nil {
		return s
	}
	return c.Store
}

func (c *clients) Create(ctx context.Context, id string, x app.Change) (app.Head, error) {
	return c.by(x.By).Create(ctx, id, x)
}

func (c *clients) Append(ctx context.Context, id string, x app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	return c.by(x.By).Append(ctx, id, x, may)
}

// TestSuite is the suite that every store passes, over HTTP: a server of a SQLite file, real people with tokens, and a client for
// each of them.
func TestSuite(t *testing.T) {
	storetest.TestStore(t, func(t *testing.T, now func() time.Time) func() app.Store {
		g := newGroup(t, now, 1, nil)
		return func() app.Store { return g.open() }
	})
}

// TestEditorsOverHTTP is five people who change six records of one job at two servers, and send all twice.
func TestEditorsOverHTTP(t *testing.T) {
	storetest.TestEditors(t, func(t *testing.T, now func() time.Time) func() app.Store {
		g := newGroup(t, now, 2, nil)
		return func() app.Store { return g.open() }
	}, 5, 8)
}

// notOverHTTP is the suites of package storetest that no client can pass, and why.
var notOverHTTP = map[string]string{
	"TestTasks":   "work is claimed, held and ended by the workers of a server alone; a client asks for it, looks at it and stops it, and of the kinds that there are",
	"TestLists":   "what a job waits for is worked out by the server, and nobody says it over HTTP; it finds as the database behind it does",
	"TestShops":   "a token is of one shop: nobody is told by another what that has",
	"TestUploads": "pieces are kept by the store of a server; over HTTP it is the routes of uploads that take them, which put them on record in one",
}

// TestEverySuiteIsPassedOrNamed: each suite of package storetest is run over HTTP by a test of this file, or it is listed why it cannot be.
func TestEverySuiteIsPassedOrNamed(t *testing.T) {
	own, err := os.ReadFile("suite_test.go")
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	files, err := filepath.Glob("../storetest/*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`(?m)^func (Test\w+)\(`).FindAllSubmatch(text, -1) {
			found++
			suite := string(m[1])
			run := bytes.Contains(own, []byte("storetest."+suite+"("))
			if why := notOverHTTP[suite]; run == (why != "") {
				t.Errorf("%s: run %v, and listed with the reason %q", suite, run, why)
			}
		}
	}
	if len(notOverHTTP) > 4 || found != len(notOverHTTP)+2 {
		t.Errorf("%d suites, of which %d are not run; want 4 at most, and all that are listed to be there", found, len(notOverHTTP))
	}
}
