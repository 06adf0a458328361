package account_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

func (w *world) token(s account.Session, n account.NewToken) (account.Token, string) {
	w.t.Helper()
	t, secret, err := w.MakeToken(w.t.Context(), s.Who, n)
	if err != nil {
		w.t.Fatal(err)
	}
	return t, secret.Text
}

// TestTokens: a program may do what its owner may at that moment, in one shop, and nothing that asks for a proof.
func TestTokens(t *testing.T) {
	w := newWorld(t)
	_, secret := w.token(w.annaIn(), account.NewToken{Name: "stock list", Roles: []right.Role{right.Planner}, Reads: true, For: 24 * time.Hour})
	s := got(w.Token(t.Context(), secret))(t)
	if !slices.Equal(s.Who.Roles, []right.Role{right.Planner}) || s.Who.Shop != "a" || !s.Who.Reads || s.Who.Fresh || s.Who.Token == "" || s.Who.Person != w.anna.ID {
		t.Errorf("%+v", s.Who)
	}
	if !strings.HasPrefix(secret, "fettle_") {
		t.Errorf("nobody would find %q where it should not be", secret)
	}
	w.ended("a token shown as a session", secret)
	for what, n := range map[string]account.NewToken{
		"a role that one has not": {Name: "t", Roles: []right.Role{right.Reviewer}, For: time.Hour}, "administrator": {Name: "t", Roles: []right.Role{right.Planner, right.Administrator}, For: time.Hour},
	} {
		if _, _, err := w.MakeToken(t.Context(), w.annaIn().Who, n); diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", what, err)
		}
	}
	for what, n := range map[string]account.NewToken{
		"no end": {Name: "t"}, "more than a year": {Name: "t", For: 366 * 24 * time.Hour}, "an end before now": {Name: "t", For: -time.Hour}, "no name": {For: time.Hour}, "a reader": {Name: "t", Roles: []right.Role{right.Reader}, For: time.Hour},
	} {
		if _, _, err := w.MakeToken(t.Context(), w.annaIn().Who, n); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	// nothing that asks for a person goes with it
	for what, err := range map[string]error{
		"another token": func() error {
			_, _, err := w.MakeToken(t.Context(), s.Who, account.NewToken{Name: "t", For: time.Hour})
			return err
		}(),
		"password":      second(w.ChangePassword(t.Context(), s, otherWord, home)),
		"proof":         w.Prove(t.Context(), s, annaWord, "", home),
		"sign out":      w.EndSessions(t.Context(), s.Who, ""),
		"revoke":        w.RevokeToken(t.Context(), s.Who, s.Who.Token),
		"codes":         second(w.BeginCodes(t.Context(), s.Who)),
		"passkey":       second(w.BeginPasskey(t.Context(), s)),
		"passkey proof": second(w.BeginProof(s)),
	} {
		if diag.KindOf(err) != diag.Denied {
			t.Errorf("%s by a program: %v", what, err)
		}
	}
}

// TestTokensHaveNoMoreThanTheirOwner: whatever becomes of the owner, at the next request.
func TestTokensHaveNoMoreThanTheirOwner(t *testing.T) {
	for name, c := range map[string]struct {
		do   func(w *world, id string)
		want []right.Role // none: nobody
	}{
		"nothing": {func(*world, string) {}, []right.Role{right.Technician, right.Planner}},
		"less": {func(w *world, _ string) {
			must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, w.anna.ID, []right.Role{right.Planner}))
		}, []right.Role{right.Planner}},
		"more": {func(w *world, _ string) {
			must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, w.anna.ID, right.Roles()[:4]))
		}, []right.Role{right.Technician, right.Planner}},
		"others": {func(w *world, _ string) {
			must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, w.anna.ID, []right.Role{right.Reviewer}))
		}, nil},
		"no longer of it":    {func(w *world, _ string) { must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, w.anna.ID, nil)) }, nil},
		"disabled":           {func(w *world, _ string) { must(w.t, w.SetState(w.t.Context(), w.bossIn().Who, w.anna.ID, false)) }, nil},
		"erased":             {func(w *world, _ string) { must(w.t, w.ErasePerson(w.t.Context(), w.bossIn().Who, w.anna.ID)) }, nil},
		"revoked":            {func(w *world, id string) { must(w.t, w.RevokeToken(w.t.Context(), w.annaIn().Who, id)) }, nil},
		"revoked by another": {func(w *world, id string) { must(w.t, w.RevokeToken(w.t.Context(), w.bossIn().Who, id)) }, nil},
		"over":               {func(w *world, _ string) { w.clock.pass(24 * time.Hour) }, nil},
		"clock put back":     {func(w *world, _ string) { w.clock.pass(-24 * time.Hour) }, nil},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			tok, secret := w.token(w.annaIn(), account.NewToken{Name: "t", For: 24 * time.Hour})
			got(w.Token(t.Context(), secret))(t)
			c.do(w, tok.ID)
			s, err := w.Token(t.Context(), secret)
			if c.want == nil && !errors.Is(err, account.ErrNobody) || c.want != nil && (err != nil || !slices.Equal(s.Who.Roles, c.want)) {
				t.Errorf("%v %v, want %v", s.Who.Roles, err, c.want)
			}
		})
	}
}

// TestTokensOfOtherShops: nobody of another shop sees or revokes one, and it opens no other shop.
func TestTokensOfOtherShops(t *testing.T) {
	w := newWorld(t)
	got(w.AddShop(t.Context(), w.bossIn().Who, "b", "Shop B"))(t)
	inB := w.session(got(w.SignIn(t.Context(), account.Try{Name: "boss", Password: bossWord, Shop: "b"}, home))(t))
	tok, secret := w.token(w.annaIn(), account.NewToken{Name: "of a", For: time.Hour})
	if s := got(w.Token(t.Context(), secret))(t); s.Who.Shop != "a" {
		t.Errorf("in shop %q", s.Who.Shop)
	}
	if err := w.RevokeToken(t.Context(), inB.Who, tok.ID); diag.KindOf(err) != diag.NotFound {
		t.Errorf("revoked from another shop: %v", err)
	}
	if all := got(w.Tokens(t.Context(), inB.Who, true))(t); len(all) != 0 {
		t.Errorf("seen from another shop: %+v", all)
	}
	if _, err := w.Tokens(t.Context(), w.annaIn().Who, true); diag.KindOf(err) != diag.Denied {
		t.Errorf("the tokens of all: %v", err)
	}
	bossTok, _ := w.token(w.bossIn(), account.NewToken{Name: "of the boss", For: time.Hour})
	if err := w.RevokeToken(t.Context(), w.annaIn().Who, bossTok.ID); diag.KindOf(err) != diag.Denied {
		t.Errorf("revoked by a colleague: %v", err)
	}
	if all := got(w.Tokens(t.Context(), w.bossIn().Who, true))(t); len(all) != 2 {
		t.Errorf("the tokens of the shop: %+v", all)
	}
	if own := got(w.Tokens(t.Context(), w.annaIn().Who, false))(t); len(own) != 1 || own[0].ID != tok.ID {
		t.Errorf("the own tokens: %+v", own)
	}
}
