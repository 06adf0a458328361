package account_test

import (
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// TestSweep: what is over goes and what is not stays; a use that was prolonged meanwhile too.
func TestSweep(t *testing.T) {
	w := newWorld(t)
	count := func(k account.Kind) int { return len(got(w.store.List(t.Context(), k, account.Which{Most: 500}))(t)) }
	_, secret := w.token(w.annaIn(), account.NewToken{Name: "t", For: 24 * time.Hour})
	l, _ := w.linked(account.NewLink{To: 1, For: time.Hour})
	w.SignIn(t.Context(), account.Try{Name: "anna", Password: "wrong"}, home)
	people, shops := count(account.OfPerson), count(account.OfShop)
	live := w.signedIn("boss", bossWord)
	for _, k := range []account.Kind{account.OfSession, account.OfDevice, account.OfGuess, account.OfEntry, account.OfFailure} {
		if count(k) == 0 {
			t.Fatalf("there is no %s", k)
		}
	}
	got(w.Sweep(t.Context()))(t)
	w.session(live)
	w.clock.pass(25 * time.Hour)
	if n := got(w.Sweep(t.Context()))(t); n == 0 || count(account.OfSession) != 0 || count(account.OfGuess) != 0 {
		t.Errorf("%d went; %d sessions and %d guesses are left", n, count(account.OfSession), count(account.OfGuess))
	}
	if count(account.OfDevice) == 0 || count(account.OfLink) != 1 || count(account.OfToken) != 1 || count(account.OfFailure) == 0 {
		t.Error("something went too early")
	}
	w.clock.pass(91 * 24 * time.Hour)
	got(w.Sweep(t.Context()))(t)
	if count(account.OfDevice)+count(account.OfLink)+count(account.OfToken)+count(account.OfFailure) != 0 {
		t.Errorf("after 91 days: %d devices, %d links, %d tokens, %d failures", count(account.OfDevice), count(account.OfLink), count(account.OfToken), count(account.OfFailure))
	}
	if count(account.OfEntry) == 0 || count(account.OfPerson) != people || count(account.OfShop) != shops || count(account.OfMember) == 0 {
		t.Error("people, shops or the log went")
	}
	if _, err := w.Token(t.Context(), secret); err == nil || l.ID == "" {
		t.Error("a token that is over")
	}
	w.signedIn("anna", annaWord)
	if n := got(w.Sweep(t.Context()))(t); n != 0 {
		t.Errorf("%d went a second time", n)
	}
	for _, bad := range [][]right.Role{{right.Reader}, {"king"}, {right.Planner, right.Planner}} {
		if err := w.AtConsole().GiveRoles(t.Context(), "anna", "a", bad); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%v given at the console: %v", bad, err)
		}
	}
}
