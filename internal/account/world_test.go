package account_test

import (
	"crypto/rand"
	"errors"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
)

// clock is one that tests set.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

// cheap is a hash that costs nothing much.
var cheap = account.Cost{KiB: 64, Passes: 1, Lanes: 1}

const (
	bossWord  = "violet anchors hum below"
	annaWord  = "seven dull kettles argue"
	otherWord = "moss under a tin ladder"
)

// world is a group with a shop, an administrator "boss" and a technician and planner "anna".
type world struct {
	*account.Accounts
	t          *testing.T
	clock      *clock
	store      account.Store
	boss, anna account.Person
	bossDevice string
	annaDevice string
	secret     string // of an invitation
}

var home = account.From{Address: "192.0.2.7"}

func emptyWorld(t *testing.T, change ...func(*account.Settings)) *world {
	t.Helper()
	w := &world{t: t, clock: &clock{at: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}, store: account.NewMemory()}
	s := account.Settings{Store: w.store, Now: w.clock.now, Random: rand.Reader, Key: make([]byte, 32), Cost: cheap, Weak: true,
		Site: account.Site{Name: "fettle.example", Title: "fettle", Origins: []string{"https://fettle.example:8443"}}}
	for _, c := range change {
		c(&s)
	}
	w.store = s.Store
	var err error
	if w.Accounts, err = account.New(s); err != nil {
		t.Fatal(err)
	}
	return w
}

func newWorld(t *testing.T, change ...func(*account.Settings)) *world {
	t.Helper()
	w := emptyWorld(t, change...)
	link := got(w.FirstUse(t.Context()))(t)
	boss := got(w.ClaimFirst(t.Context(), link.Text, account.First{Shop: "a", ShopName: "Shop A", NewPerson: account.NewPerson{Name: "Boss", SignIn: "boss"}, Password: bossWord}, home))(t)
	s := w.session(boss)
	w.boss = s.Person
	w.anna = w.added(s, "anna", annaWord, right.Technician, right.Planner)
	w.bossDevice, w.annaDevice = w.signedIn("boss", bossWord).Device, w.signedIn("anna", annaWord).Device
	w.clock.pass(time.Hour)
	return w
}

// got is a value, where there is no error.
func got[T any](v T, err error) func(t *testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// added adds somebody who sets a password by the link.
func (w *world) added(by account.Session, name, word string, roles ...right.Role) account.Person {
	w.t.Helper()
	p, link, err := w.AddPerson(w.t.Context(), by.Who, account.NewPerson{Name: name + " Person", SignIn: name, Roles: roles})
	if err == nil {
		err = w.SetPassword(w.t.Context(), link.Text, word, home)
	}
	if err != nil {
		w.t.Fatal(err)
	}
	return p
}

func (w *world) signedIn(name, word string) account.SignedIn {
	w.t.Helper()
	return got(w.SignIn(w.t.Context(), account.Try{Name: name, Password: word}, home))(w.t)
}

// session is who shows what they were given.
func (w *world) session(in account.SignedIn) account.Session {
	w.t.Helper()
	return got(w.Session(w.t.Context(), in.Session))(w.t)
}

func (w *world) bossIn() account.Session { return w.session(w.signedIn("boss", bossWord)) }
func (w *world) annaIn() account.Session { return w.session(w.signedIn("anna", annaWord)) }

// ended fails where a secret still opens a session.
func (w *world) ended(why, secret string) {
	w.t.Helper()
	if s, err := w.Session(w.t.Context(), secret); !errors.Is(err, account.ErrNobody) {
		w.t.Errorf("%s: it is still %q: %v", why, s.Person.Name, err)
	}
}

const time24 = 24 * time.Hour
