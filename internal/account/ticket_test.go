package account_test

import (
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/account/accounttest"
	"fettle/internal/diag"
	"fettle/internal/right"
)

var first = account.First{Shop: "a", ShopName: "Shop A", NewPerson: account.NewPerson{Name: "Boss", SignIn: "boss", Roles: []right.Role{right.Reviewer}}, Password: bossWord}

// TestFirstUse: the link of first use is good for half an hour and once, and there is none once there is an administrator.
func TestFirstUse(t *testing.T) {
	w := emptyWorld(t)
	claim := func(secret string) (account.SignedIn, error) { return w.ClaimFirst(t.Context(), secret, first, home) }
	if used, err := w.Used(t.Context()); used || err != nil {
		t.Errorf("used: %v %v", used, err)
	}
	if _, err := w.SignIn(t.Context(), account.Try{Name: "boss", Password: bossWord}, home); err == nil {
		t.Error("somebody is let in before there is anybody")
	}
	old := got(w.FirstUse(t.Context()))(t)
	link := got(w.FirstUse(t.Context()))(t)
	if link.Ends.Sub(w.clock.now()) != 30*time.Minute {
		t.Errorf("it is good until %v", link.Ends)
	}
	for what, secret := range map[string]string{"none": "", "an earlier one": old.Text, "another": strings.Repeat("A", 43), "cut": link.Text[:42], "the name of it": "first"} {
		if _, err := claim(secret); diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", what, err)
		}
	}
	for what, f := range map[string]account.First{
		"a weak password": {Shop: "a", ShopName: "A", NewPerson: first.NewPerson, Password: "password1234"}, "no name of the shop": {Shop: "a", NewPerson: first.NewPerson, Password: bossWord},
		"another name of the shop": {Shop: "A-1", ShopName: "A", NewPerson: first.NewPerson, Password: bossWord}, "a reader": {Shop: "a", ShopName: "A", NewPerson: account.NewPerson{Name: "B", SignIn: "b", Roles: []right.Role{right.Reader}}, Password: bossWord},
	} {
		if _, err := w.ClaimFirst(t.Context(), link.Text, f, home); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	w.clock.pass(30 * time.Minute)
	if _, err := claim(link.Text); diag.KindOf(err) != diag.Denied {
		t.Errorf("after half an hour: %v", err)
	}
	link = got(w.FirstUse(t.Context()))(t)
	s := w.session(got(claim(link.Text))(t))
	if !slices.Equal(s.Who.Roles, []right.Role{right.Reviewer, right.Administrator}) || s.Who.Shop != "a" {
		t.Errorf("%+v", s.Who)
	}
	for what, err := range map[string]error{"the same once more": second(claim(link.Text)), "another link": second(w.FirstUse(t.Context()))} {
		if diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", what, err)
		}
	}
	if used, err := w.Used(t.Context()); !used || err != nil {
		t.Errorf("used: %v %v", used, err)
	}
	if n, err := w.Sweep(t.Context()); err != nil {
		t.Error(n, err)
	}
	if _, err := w.FirstUse(t.Context()); diag.KindOf(err) != diag.Denied {
		t.Errorf("after a sweep it begins anew: %v", err)
	}
}

// TestManyClaims: of 1,000 at once one wins.
func TestManyClaims(t *testing.T) {
	w := emptyWorld(t)
	accounttest.TestClaims(t, w.Accounts, w.Accounts)
}

// TestResetLinks: a link for a new password is good once, for an hour, the newest alone, and changes nothing until it is used.
func TestResetLinks(t *testing.T) {
	w := newWorld(t)
	make := func() account.Secret { return got(w.ResetLink(t.Context(), w.bossIn().Who, w.anna.ID, false))(t) }
	old, link := make(), make()
	in := w.signedIn("anna", annaWord)
	refused := func(what, secret string) {
		t.Helper()
		if err := w.SetPassword(t.Context(), secret, otherWord, home); diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", what, err)
		}
	}
	refused("an earlier one", old.Text)
	refused("none", "")
	for range 1000 {
		b := make32(t)
		refused("a forged one", base64.RawURLEncoding.EncodeToString(b))
	}
	if err := w.SetPassword(t.Context(), link.Text, "anna person anna", home); diag.KindOf(err) != diag.Invalid {
		t.Errorf("a weak password: %v", err)
	}
	w.session(in)
	w.clock.pass(time.Hour)
	refused("after an hour", link.Text)
	w.signedIn("anna", annaWord)
	link = make()
	must(t, w.SetPassword(t.Context(), link.Text, otherWord, home))
	refused("used", link.Text)
	w.signedIn("anna", otherWord)
	link = make()
	must(t, w.SetState(t.Context(), w.bossIn().Who, w.anna.ID, false))
	refused("of somebody who is disabled", link.Text)
	if _, err := w.ResetLink(t.Context(), w.bossIn().Who, w.anna.ID, false); diag.KindOf(err) != diag.Denied {
		t.Errorf("made for somebody who is disabled: %v", err)
	}
	must(t, w.SetState(t.Context(), w.bossIn().Who, w.anna.ID, true))
	refused("made before somebody was disabled", link.Text)
	link = got(w.AtConsole().ResetLink(t.Context(), "Anna", false))(t)
	must(t, w.SetPassword(t.Context(), link.Text, annaWord, home))
	if _, err := w.AtConsole().ResetLink(t.Context(), "nobody", false); diag.KindOf(err) != diag.NotFound || !contains(err.Error(), "there is nobody of that name") {
		t.Errorf("for nobody: %v", err)
	}
}

// TestOneUseOfALink: of many who use one link at once one sets the password.
func TestOneUseOfALink(t *testing.T) {
	w := newWorld(t)
	link := got(w.ResetLink(t.Context(), w.bossIn().Who, w.anna.ID, false))(t)
	var wg sync.WaitGroup
	errs := make([]error, 50)
	for i := range errs {
		wg.Add(1)
		go func() {
			defer wg.Done()
			errs[i] = w.SetPassword(t.Context(), link.Text, fmt.Sprintf("%s number %d", otherWord, i), home)
		}()
	}
	wg.Wait()
	won := 0
	for i, err := range errs {
		if err == nil {
			won++
			w.signedIn("anna", fmt.Sprintf("%s number %d", otherWord, i))
		}
	}
	if won != 1 {
		t.Errorf("%d set the password", won)
	}
}

func make32(t *testing.T) []byte {
	b := make([]byte, 32)
	if _, err := rand.Read(b); err != nil {
		t.Fatal(err)
	}
	return b
}

// TestPeopleAreOfOneName: names to sign in with are of one person, however they are written, and are free again after one was erased.
func TestPeopleAreOfOneName(t *testing.T) {
	w := newWorld(t)
	boss := w.bossIn().Who
	add := func(name string) error {
		_, _, err := w.AddPerson(t.Context(), boss, account.NewPerson{Name: "N", SignIn: name, Roles: []right.Role{right.Planner}})
		return err
	}
	for _, name := range []string{"anna", "ANNA", " anna", "ａｎｎａ"} {
		if err := add(name); diag.KindOf(err) != diag.Conflict {
			t.Errorf("%q: %v", name, err)
		}
	}
	for _, name := range []string{"", "  ", "a\nb", "a\u202eb", strings.Repeat("a", 300), "\xff"} {
		if err := add(name); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%q: %v", name, err)
		}
	}
	must(t, w.ErasePerson(t.Context(), boss, w.anna.ID))
	for _, k := range account.Kinds() {
		for _, r := range got(w.store.List(t.Context(), k, account.Which{Most: 500}))(t) {
			if text := fmt.Sprintf("%+v", r); contains(text, "anna") || r.Person == w.anna.ID && contains(text, home.Address) {
				t.Errorf("after anna was erased: %s", text)
			}
		}
	}
	must(t, add("anna"))
	ms := got(w.People(t.Context(), boss))(t)
	if len(ms) != 2 || ms[0].Person.SignIn == "" {
		t.Errorf("%+v", ms)
	}
	w.added(w.bossIn(), "tina", otherWord, right.Technician)
	for _, m := range got(w.People(t.Context(), w.session(w.signedIn("tina", otherWord)).Who))(t) {
		if m.Person.Name == "" || m.Person.SignIn != "" {
			t.Errorf("a technician is told %+v", m.Person)
		}
	}
}
