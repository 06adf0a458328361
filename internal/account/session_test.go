package account_test

import (
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

func contains(s, part string) bool { return strings.Contains(s, part) }

// TestSession is what a session says of who is signed in.
func TestSession(t *testing.T) {
	w := newWorld(t)
	s := w.annaIn()
	if s.Person.Name != "anna Person" || s.Shop.Name != "Shop A" || !slices.Equal(s.Who.Roles, []right.Role{right.Technician, right.Planner}) || !s.Who.Fresh || s.Who.Shop != "a" || s.Who.Person != w.anna.ID {
		t.Errorf("%+v", s)
	}
	if contains(s.Who.Person, "anna") {
		t.Error("the name of a person says who it is")
	}
	w.clock.pass(account.FreshFor)
	in := w.signedIn("anna", annaWord)
	w.clock.pass(account.FreshFor)
	if s := w.session(in); s.Who.Fresh {
		t.Error("a proof is fresh after five minutes")
	}
}

// TestSessionsCannotBePlanted: what somebody had before they signed in is good for nothing after, whoever gave it to them.
func TestSessionsCannotBePlanted(t *testing.T) {
	w := newWorld(t)
	planted := base64.RawURLEncoding.EncodeToString(make([]byte, 32))
	attackers := w.signedIn("boss", bossWord)
	for _, old := range []string{planted, attackers.Session, "", strings.Repeat("x", 5000)} {
		in := got(w.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord, Old: old}, home))(t)
		if in.Session == old || len(in.Session) != 43 {
			t.Errorf("the session is %q", in.Session)
		}
		if old != "" {
			w.ended("planted", old)
		}
	}
	first, second := w.signedIn("anna", annaWord), w.signedIn("anna", annaWord)
	if first.Session == second.Session {
		t.Error("two sign-ins have one session")
	}
}

// TestSessionsCannotBeGuessed tries changed, shortened, lengthened and drawn secrets, and what is kept of one.
func TestSessionsCannotBeGuessed(t *testing.T) {
	w := newWorld(t)
	in := w.signedIn("anna", annaWord)
	w.session(in)
	var tries []string
	for i := range in.Session {
		b := []byte(in.Session)
		b[i] ^= 1
		tries = append(tries, string(b), in.Session[:i])
	}
	tries = append(tries, in.Session+"A", " "+in.Session, strings.ToLower(in.Session), in.Session+"\x00")
	for range 1000 {
		b := make([]byte, 32)
		if _, err := rand.Read(b); err != nil {
			t.Fatal(err)
		}
		tries = append(tries, base64.RawURLEncoding.EncodeToString(b))
	}
	for _, r := range got(w.store.List(t.Context(), account.OfSession, account.Which{Most: 500}))(t) {
		tries = append(tries, r.ID, r.Key, r.Data)
	}
	for _, s := range tries {
		w.ended("guessed", s)
		if _, err := w.Token(t.Context(), s); !errors.Is(err, account.ErrNobody) {
			t.Errorf("a token was guessed: %v", err)
		}
	}
}

// TestSessionsEnd is each way in which one ends, at once, in every tab and on every server; the first way a tab is told is its next request.
func TestSessionsEnd(t *testing.T) {
	for name, end := range map[string]func(w *world, in account.SignedIn){
		"signed out": func(w *world, in account.SignedIn) { must(w.t, w.SignOut(w.t.Context(), in.Session, home)) },
		"signed out twice": func(w *world, in account.SignedIn) {
			must(w.t, w.SignOut(w.t.Context(), in.Session, home))
			must(w.t, w.SignOut(w.t.Context(), in.Session, home))
		},
		"ended in the list": func(w *world, in account.SignedIn) {
			s := w.session(in)
			must(w.t, w.EndSessions(w.t.Context(), s.Who, s.ID))
		},
		"all ended": func(w *world, in account.SignedIn) { must(w.t, w.EndSessions(w.t.Context(), w.annaIn().Who, "")) },
		"other roles": func(w *world, in account.SignedIn) {
			must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, w.anna.ID, []right.Role{right.Technician}))
		},
		"more roles": func(w *world, in account.SignedIn) {
			must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, w.anna.ID, right.Roles()[:4]))
		},
		"no roles": func(w *world, in account.SignedIn) {
			must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, w.anna.ID, nil))
		},
		"disabled": func(w *world, in account.SignedIn) {
			must(w.t, w.SetState(w.t.Context(), w.bossIn().Who, w.anna.ID, false))
		},
		"disabled and enabled": func(w *world, in account.SignedIn) {
			must(w.t, w.SetState(w.t.Context(), w.bossIn().Who, w.anna.ID, false))
			must(w.t, w.SetState(w.t.Context(), w.bossIn().Who, w.anna.ID, true))
		},
		"disabled at the console": func(w *world, in account.SignedIn) { must(w.t, w.AtConsole().SetState(w.t.Context(), "ANNA ", false)) },
		"erased": func(w *world, in account.SignedIn) {
			must(w.t, w.ErasePerson(w.t.Context(), w.bossIn().Who, w.anna.ID))
		},
		"password changed": func(w *world, in account.SignedIn) {
			got(w.ChangePassword(w.t.Context(), w.annaIn(), otherWord, home))(w.t)
		},
		"password by a link": func(w *world, in account.SignedIn) {
			link := got(w.ResetLink(w.t.Context(), w.bossIn().Who, w.anna.ID, false))(w.t)
			w.session(in) // the link alone changes nothing
			must(w.t, w.SetPassword(w.t.Context(), link.Text, otherWord, home))
		},
		"another sign-in in its place": func(w *world, in account.SignedIn) {
			got(w.SignIn(w.t.Context(), account.Try{Name: "anna", Password: annaWord, Old: in.Session}, home))(w.t)
		},
		"not used for 30 minutes": func(w *world, in account.SignedIn) { w.clock.pass(30 * time.Minute) },
		"ten hours over, always used": func(w *world, in account.SignedIn) {
			for range 10*60/20 - 1 {
				w.clock.pass(20 * time.Minute)
				w.session(in)
			}
			w.clock.pass(20 * time.Minute)
		},
		"clock put back a day": func(w *world, in account.SignedIn) { w.clock.pass(-24 * time.Hour) },
		"clock put back after use": func(w *world, in account.SignedIn) {
			w.clock.pass(25 * time.Minute)
			w.session(in)
			w.clock.pass(-20 * time.Minute) // after which it would have been idle for less than it was
		},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			in := w.signedIn("anna", annaWord)
			w.session(in)
			end(w, in)
			w.ended("first tab", in.Session)
			w.ended("second tab", in.Session)
			w.clock.pass(-5 * time.Minute)
			w.ended("clock put back", in.Session)
			if n := len(got(w.store.List(t.Context(), account.OfUse, account.Which{Person: w.anna.ID, Most: 9}))(t)); name == "signed out" && n > 0 {
				t.Error("its use is still noted")
			}
		})
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// TestExpiredSessionsStayExpired: one that was seen to be over does not come back when the clock does.
func TestExpiredSessionsStayExpired(t *testing.T) {
	w := newWorld(t)
	in := w.signedIn("anna", annaWord)
	w.clock.pass(29 * time.Minute)
	w.session(in)
	w.clock.pass(31 * time.Minute)
	w.ended("idle", in.Session)
	w.clock.pass(-30 * time.Minute)
	w.ended("idle, and the clock put back", in.Session)
}

// TestRolesAreThoseOfNow: 100 of 100 requests after a role was taken away do not have it.
func TestRolesAreThoseOfNow(t *testing.T) {
	w := newWorld(t)
	for i := range 100 {
		in := w.signedIn("anna", annaWord)
		must(t, w.GiveRoles(t.Context(), w.bossIn().Who, w.anna.ID, []right.Role{right.Roles()[i%4]}))
		w.ended("role changed", in.Session)
		if rs := w.annaIn().Who.Roles; !slices.Equal(rs, []right.Role{right.Roles()[i%4]}) {
			t.Fatalf("roles %v", rs)
		}
		w.clock.pass(time.Minute)
	}
}

// TestWhoMayNotSignIn: all of them have the same answer.
func TestWhoMayNotSignIn(t *testing.T) {
	w := newWorld(t)
	gone := w.added(w.bossIn(), "gone", otherWord, right.Technician)
	must(t, w.SetState(t.Context(), w.bossIn().Who, gone.ID, false))
	loose := w.added(w.bossIn(), "loose", otherWord, right.Technician)
	must(t, w.GiveRoles(t.Context(), w.bossIn().Who, loose.ID, nil))
	if _, _, err := w.AddPerson(t.Context(), w.bossIn().Who, account.NewPerson{Name: "New", SignIn: "new"}); err != nil {
		t.Fatal(err)
	}
	answers := map[string]int{}
	for _, c := range []account.Try{{Name: "anna", Password: "wrong"}, {Name: "nobody", Password: annaWord}, {Name: "gone", Password: otherWord}, {Name: "loose", Password: otherWord},
		{Name: "new", Password: ""}, {Name: "new", Password: otherWord}, {Name: "", Password: ""}, {Name: "anna", Password: strings.Repeat("a", 1<<20)}, {Name: strings.Repeat("é", 1<<16), Password: annaWord},
		{Name: "anna", Password: annaWord, Shop: "b"}, {Name: "anna\x00", Password: annaWord}, {Name: "anna", Password: annaWord + "\x00"}, {Name: "anna", Password: strings.ToUpper(annaWord)}} {
		in, err := w.SignIn(t.Context(), c, account.From{Address: fmt.Sprint("192.0.2.", len(answers)+len(c.Name)%200)})
		if in != (account.SignedIn{}) || diag.KindOf(err) != diag.Denied {
			t.Errorf("%.20q: %+v %v", c.Name, in, err)
		}
		answers[fmt.Sprint(err)]++
	}
	if len(answers) != 1 {
		t.Errorf("different answers: %v", answers)
	}
	w.clock.pass(time.Hour)
	for _, name := range []string{"ANNA", " anna ", "Anna"} { // what is meant is found
		w.signedIn(name, annaWord)
	}
}

// TestShopsAreApart: a session is of one shop; another is chosen with another secret.
func TestShopsAreApart(t *testing.T) {
	w := newWorld(t)
	got(w.AddShop(t.Context(), w.bossIn().Who, "b", "Shop B"))(t)
	in := w.signedIn("boss", bossWord)
	s := w.session(in)
	if s.Who.Shop != "a" {
		t.Fatalf("signed in in %q", s.Who.Shop)
	}
	other := got(w.ChooseShop(t.Context(), s, in.Session, "b"))(t)
	if other.Session == in.Session || w.session(other).Who.Shop != "b" {
		t.Error("the other shop was not chosen")
	}
	w.ended("another shop was chosen", in.Session)
	if _, err := w.ChooseShop(t.Context(), s, in.Session, "b"); !errors.Is(err, account.ErrNobody) {
		t.Errorf("chosen with a session that was ended: %v", err)
	}
	anna := w.signedIn("anna", annaWord)
	if _, err := w.ChooseShop(t.Context(), w.session(anna), anna.Session, "b"); diag.KindOf(err) != diag.NotFound {
		t.Errorf("a shop of others was chosen: %v", err)
	}
	w.session(anna)
	b := got(w.SignIn(t.Context(), account.Try{Name: "boss", Password: bossWord, Shop: "b"}, home))(t)
	who := w.session(b).Who
	for what, err := range map[string]error{
		"roles":    w.GiveRoles(t.Context(), who, w.anna.ID, nil),
		"state":    w.SetState(t.Context(), who, w.anna.ID, false),
		"erase":    w.ErasePerson(t.Context(), who, w.anna.ID),
		"password": second(w.ResetLink(t.Context(), who, w.anna.ID, false)),
	} {
		if diag.KindOf(err) != diag.NotFound {
			t.Errorf("%s of somebody of another shop: %v", what, err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

// TestShopsOfTheGroup: the first shop is known, a shop is made once, and nobody becomes its administrator by making it again.
func TestShopsOfTheGroup(t *testing.T) {
	w := newWorld(t)
	if s := w.annaIn().Shop; !s.First || s.Several {
		t.Errorf("the only shop: %+v", s)
	}
	carl := w.added(w.bossIn(), "carl", otherWord, right.Administrator)
	got(w.AddShop(t.Context(), w.session(w.signedIn("carl", otherWord)).Who, "b", "Shop B"))(t)
	for _, id := range []string{"a", "b"} {
		for _, name := range []string{"Shop B", "Shop A", "another"} {
			if _, err := w.AddShop(t.Context(), w.bossIn().Who, id, name); diag.KindOf(err) != diag.Conflict {
				t.Errorf("%s once more, as %q: %v", id, name, err)
			}
		}
	}
	if _, err := w.SignIn(t.Context(), account.Try{Name: "boss", Password: bossWord, Shop: "b"}, home); err == nil {
		t.Error("let in to a shop of others")
	}
	boss := w.bossIn()
	boss.Shop.Everybody, boss.Shop.First, boss.Shop.Several = false, false, false
	must(t, w.SetShop(t.Context(), boss.Who, boss.Shop))
	if s := w.annaIn().Shop; !s.First || !s.Several || s.Everybody {
		t.Errorf("%+v", s)
	}
	in := got(w.SignIn(t.Context(), account.Try{Name: "carl", Password: otherWord, Shop: "b"}, home))(t)
	if s := w.session(in); s.Shop.First || !s.Shop.Everybody || s.Person.ID != carl.ID {
		t.Errorf("%+v", s.Shop)
	}
	if err := w.SetShop(t.Context(), w.session(in).Who, account.Shop{ID: "a", Name: "mine"}); diag.KindOf(err) != diag.NotFound {
		t.Errorf("settings of another shop: %v", err)
	}
	if all := got(w.Shops(t.Context(), w.annaIn().Who))(t); len(all) != 2 {
		t.Errorf("%+v", all)
	}
	if _, err := w.Shops(t.Context(), right.Who{}); diag.KindOf(err) != diag.Denied && diag.KindOf(err) != diag.NotFound {
		t.Errorf("told to nobody: %v", err)
	}
	for id, want := range map[string]bool{"a": true, "b": true, "c": false, "": false} {
		if is, err := w.IsShop(t.Context(), id); is != want || err != nil {
			t.Errorf("%q is a shop: %v %v", id, is, err)
		}
	}
}

// TestAnAdministratorIsLeft, and nobody of one shop takes over somebody of two.
func TestAnAdministratorIsLeft(t *testing.T) {
	w := newWorld(t)
	boss := w.bossIn()
	for what, err := range map[string]error{
		"roles":                w.GiveRoles(t.Context(), boss.Who, w.boss.ID, []right.Role{right.Planner}),
		"none":                 w.GiveRoles(t.Context(), boss.Who, w.boss.ID, nil),
		"state":                w.SetState(t.Context(), boss.Who, w.boss.ID, false),
		"erase":                w.ErasePerson(t.Context(), boss.Who, w.boss.ID),
		"console":              w.AtConsole().SetState(t.Context(), "boss", false),
		"roles at the console": w.AtConsole().GiveRoles(t.Context(), "boss", "a", nil),
	} {
		if diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: the last administrator is gone: %v", what, err)
		}
	}
	must(t, w.GiveRoles(t.Context(), boss.Who, w.boss.ID, []right.Role{right.Administrator, right.Reviewer})) // nobody else could
	carl := w.added(w.bossIn(), "carl", otherWord, right.Administrator)
	if err := w.GiveRoles(t.Context(), w.bossIn().Who, w.boss.ID, right.Roles()[:4]); diag.KindOf(err) != diag.Denied {
		t.Errorf("somebody gave roles to themselves though there is another administrator: %v", err)
	}
	got(w.AddShop(t.Context(), w.bossIn().Who, "b", "Shop B"))(t)
	carls := w.session(w.signedIn("carl", otherWord)).Who
	for what, err := range map[string]error{
		"password": second(w.ResetLink(t.Context(), carls, w.boss.ID, true)),
		"state":    w.SetState(t.Context(), carls, w.boss.ID, false),
		"erase":    w.ErasePerson(t.Context(), carls, w.boss.ID),
	} {
		if diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: taken over by an administrator of one of their shops: %v", what, err)
		}
	}
	must(t, w.GiveRoles(t.Context(), carls, w.boss.ID, []right.Role{right.Planner})) // in the own shop they may
	if carl.ID == "" {
		t.Error("nobody was added")
	}
}

// TestStaleProofsDoNothing: what asks for a fresh proof does not go with an older one; one of each act.
func TestStaleProofsDoNothing(t *testing.T) {
	w := newWorld(t)
	boss, anna := w.bossIn(), w.annaIn()
	stale := func(s account.Session) account.Session { s.Who.Fresh = false; return s }
	b, a := stale(boss), stale(anna)
	for what, err := range map[string]error{
		"add": func() error {
			_, _, err := w.AddPerson(t.Context(), b.Who, account.NewPerson{Name: "N", SignIn: "n"})
			return err
		}(),
		"roles":    w.GiveRoles(t.Context(), b.Who, w.anna.ID, nil),
		"state":    w.SetState(t.Context(), b.Who, w.anna.ID, false),
		"reset":    second(w.ResetLink(t.Context(), b.Who, w.anna.ID, false)),
		"erase":    w.ErasePerson(t.Context(), b.Who, w.anna.ID),
		"shop":     second(w.AddShop(t.Context(), b.Who, "x", "X")),
		"settings": w.SetShop(t.Context(), b.Who, account.Shop{ID: "a", Name: "A", Alone: true}),
		"token": func() error {
			_, _, err := w.MakeToken(t.Context(), a.Who, account.NewToken{Name: "t", For: time.Hour})
			return err
		}(),
		"password":  second(w.ChangePassword(t.Context(), a, otherWord, home)),
		"codes":     second(w.BeginCodes(t.Context(), a.Who)),
		"no codes":  w.RemoveCodes(t.Context(), a.Who),
		"passkey":   second(w.BeginPasskey(t.Context(), a)),
		"no role":   w.GiveRoles(t.Context(), anna.Who, w.boss.ID, nil),
		"not admin": second(w.ResetLink(t.Context(), anna.Who, w.boss.ID, false)),
	} {
		if diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", what, err)
		}
	}
	w.clock.pass(6 * time.Minute)
	in := w.signedIn("anna", annaWord)
	w.clock.pass(6 * time.Minute)
	s := w.session(in)
	if err := w.Prove(t.Context(), s, "wrong", "", home); diag.KindOf(err) != diag.Denied {
		t.Errorf("a wrong proof: %v", err)
	}
	if w.session(in).Who.Fresh {
		t.Error("fresh after a wrong proof")
	}
	must(t, w.Prove(t.Context(), s, annaWord, "", home))
	if !w.session(in).Who.Fresh {
		t.Error("not fresh after a proof")
	}
	must(t, w.SignOut(t.Context(), in.Session, home))
	if err := w.Prove(t.Context(), s, annaWord, "", home); !errors.Is(err, account.ErrNobody) {
		t.Errorf("proved in a session that was ended: %v", err)
	}
	w.ended("proved after sign-out", in.Session)
}

// TestChangePasswordMeetsSignOut: whoever is signed out meanwhile changes nothing.
func TestChangePasswordMeetsSignOut(t *testing.T) {
	w := newWorld(t)
	in := w.signedIn("anna", annaWord)
	s := w.session(in)
	must(t, w.SignOut(t.Context(), in.Session, home))
	if _, err := w.ChangePassword(t.Context(), s, otherWord, home); !errors.Is(err, account.ErrNobody) {
		t.Errorf("changed: %v", err)
	}
	fresh := got(w.ChangePassword(t.Context(), w.annaIn(), otherWord, home))(t)
	w.session(fresh)
	if _, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord}, home); err == nil {
		t.Error("the old password still fits")
	}
	w.signedIn("anna", otherWord)
}

// TestSessionsAtOnce: sign-ins, requests and sign-outs of many at once; a session that was ended stays so.
func TestSessionsAtOnce(t *testing.T) {
	w := newWorld(t)
	var wg sync.WaitGroup
	for range 8 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for range 20 {
				in, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: annaWord, Device: w.annaDevice}, home)
				var wait *account.Wait
				if errors.As(err, &wait) {
					continue // eight at once on one device
				}
				if err != nil {
					t.Error(err)
					return
				}
				done := make(chan struct{})
				go func() {
					defer close(done)
					for range 5 {
						w.clock.pass(time.Second)
						w.Session(t.Context(), in.Session)
					}
				}()
				if err := w.SignOut(t.Context(), in.Session, home); err != nil {
					t.Error(err)
				}
				<-done
				if _, err := w.Session(t.Context(), in.Session); !errors.Is(err, account.ErrNobody) {
					t.Errorf("signed out and still there: %v", err)
				}
			}
		}()
	}
	wg.Wait()
}
