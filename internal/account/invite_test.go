package account_test

import (
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// TestInvitationsThatAreNotGood: an invitation is good once, for a week, while who has made it is an administrator there; one that is not has the answer of
// one that never was.
func TestInvitationsThatAreNotGood(t *testing.T) {
	never := func(w *world) string {
		_, err := w.Join(t.Context(), w.annaIn().Who, "never")
		return err.Error()
	}
	for name, spoil := range map[string]func(w *world, i account.Invitation, by account.Session){
		"used": func(w *world, _ account.Invitation, _ account.Session) {
			b := w.added(w.bossIn(), "berta", otherWord, right.Planner)
			_, err := w.Join(t.Context(), w.session(w.signedIn("berta", otherWord)).Who, w.secret)
			must(t, err)
			if b.ID == "" {
				t.Fatal("nobody")
			}
		},
		"over": func(w *world, _ account.Invitation, _ account.Session) { w.clock.pass(7 * time24) },
		"taken back": func(w *world, i account.Invitation, by account.Session) {
			must(t, w.TakeBack(t.Context(), by.Who, i.ID))
		},
		"made by somebody disabled": func(w *world, _ account.Invitation, by account.Session) {
			must(t, w.GiveRoles(t.Context(), w.chief(by).Who, by.Who.Person, []right.Role{right.Planner}))
		},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			by := w.inSouth()
			i, secret, err := w.Invite(t.Context(), by.Who, []right.Role{right.Reviewer})
			must(t, err)
			w.secret = secret.Text
			spoil(w, i, by)
			if _, err := w.Join(t.Context(), w.annaIn().Who, secret.Text); err == nil || err.Error() != never(w) {
				t.Errorf("answer %v, want that to one that never was: %s", err, never(w))
			}
		})
	}
}

// inSouth is the administrator in a second shop.
func (w *world) inSouth() account.Session {
	w.t.Helper()
	if is, err := w.IsShop(w.t.Context(), "south"); err != nil || !is {
		got(w.AddShop(w.t.Context(), w.bossIn().Who, "south", "South"))(w.t)
	}
	return w.session(got(w.SignIn(w.t.Context(), account.Try{Name: "boss", Password: bossWord, Shop: "south"}, home))(w.t))
}

// chief is another administrator of the same shop.
func (w *world) chief(by account.Session) account.Session {
	w.t.Helper()
	w.added(by, "chief", otherWord, right.Administrator)
	return w.session(w.signedIn("chief", otherWord))
}

// TestInvitationsAtOnce: of twenty who show one secret at once one joins, and it is no link for a password.
func TestInvitationsAtOnce(t *testing.T) {
	w := newWorld(t)
	by := w.inSouth()
	_, secret, err := w.Invite(t.Context(), by.Who, []right.Role{right.Reviewer})
	must(t, err)
	if err := w.SetPassword(t.Context(), secret.Text, otherWord, home); diag.KindOf(err) != diag.Denied {
		t.Errorf("a password by an invitation: %v", err)
	}
	var who []right.Who
	for i := range 20 {
		name := string(rune('c'+i)) + "-person"
		w.added(w.bossIn(), name, otherWord, right.Planner)
		who = append(who, w.session(w.signedIn(name, otherWord)).Who)
		w.clock.pass(time.Second)
	}
	errs := make([]error, len(who))
	var wg sync.WaitGroup
	for i := range who {
		wg.Go(func() { _, errs[i] = w.Join(t.Context(), who[i], secret.Text) })
	}
	wg.Wait()
	joined := 0
	for _, err := range errs {
		if err == nil {
			joined++
		} else if diag.KindOf(err) != diag.Denied {
			t.Error(err)
		}
	}
	if joined != 1 {
		t.Errorf("%d of %d joined by one invitation", joined, len(who))
	}
}
