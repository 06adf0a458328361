package account_test

import (
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// TestWhatWasTakenMeanwhile: whoever was looked at before something was taken from them, and acts after, does not have it. Each act is tried after
// each of the ways, with a fresh proof.
func TestWhatWasTakenMeanwhile(t *testing.T) {
	for way, take := range map[string]func(w *world, carl account.Person){
		"roles": func(w *world, carl account.Person) {
			must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, carl.ID, []right.Role{}))
		},
		"disabled": func(w *world, carl account.Person) {
			must(w.t, w.SetState(w.t.Context(), w.bossIn().Who, carl.ID, false))
		},
		"erased": func(w *world, carl account.Person) { must(w.t, w.ErasePerson(w.t.Context(), w.bossIn().Who, carl.ID)) },
	} {
		w := newWorld(t)
		carl := w.added(w.bossIn(), "carl", otherWord, right.Administrator, right.Reviewer)
		in := w.signedIn("carl", otherWord)
		s := w.session(in)
		tok, _ := w.token(s, account.NewToken{Name: "t", For: time.Hour})
		l, _, err := w.MakeLink(t.Context(), s.Who, onJob, account.NewLink{To: 1})
		must(t, err)
		options := got(w.BeginPasskey(t.Context(), s))(t)
		codes := got(w.BeginCodes(t.Context(), s.Who))(t)
		take(w, carl)
		_, _, added := w.AddPerson(t.Context(), s.Who, account.NewPerson{Name: "N", SignIn: "n", Roles: []right.Role{right.Administrator}})
		_, _, made := w.MakeToken(t.Context(), s.Who, account.NewToken{Name: "t", For: time.Hour})
		_, _, linked := w.MakeLink(t.Context(), s.Who, onJob, account.NewLink{To: 1})
		for act, err := range map[string]error{
			"add": added, "token": made, "link": linked,
			"roles":    w.GiveRoles(t.Context(), s.Who, w.anna.ID, nil),
			"own":      w.GiveRoles(t.Context(), s.Who, carl.ID, right.Roles()[:4]),
			"state":    w.SetState(t.Context(), s.Who, w.anna.ID, false),
			"reset":    second(w.ResetLink(t.Context(), s.Who, w.boss.ID, false)),
			"erase":    w.ErasePerson(t.Context(), s.Who, w.anna.ID),
			"shop":     second(w.AddShop(t.Context(), s.Who, "c", "C")),
			"settings": w.SetShop(t.Context(), s.Who, account.Shop{ID: "a", Name: "A", Alone: true}),
			"revoke":   w.RevokeToken(t.Context(), s.Who, tok.ID),
			"unlink":   w.RevokeLink(t.Context(), s.Who, onJob, l.ID),
			"password": second(w.ChangePassword(t.Context(), s, annaWord, home)),
			"passkey":  second(w.FinishPasskey(t.Context(), s, "k", newAuthenticator(t).Creates(options))),
			"codes":    w.FinishCodes(t.Context(), s.Who, codes.Secret),
			"prove":    w.Prove(t.Context(), s, otherWord, "", home),
			"shop to":  second(w.ChooseShop(t.Context(), s, in.Session, "a")),
		} {
			if k := diag.KindOf(err); err == nil || k != diag.Denied && k != diag.NotFound {
				t.Errorf("%s, after %s: %v", act, way, err)
			}
		}
		if n := len(got(w.People(t.Context(), w.bossIn().Who))(t)); n > 3 {
			t.Errorf("after %s there are %d people", way, n)
		}
	}
}

// TestRecordsWithoutAnEnd: a session, token, link or ticket that has none counts for nothing.
func TestRecordsWithoutAnEnd(t *testing.T) {
	w := newWorld(t)
	in := w.signedIn("anna", annaWord)
	_, token := w.token(w.annaIn(), account.NewToken{Name: "t", For: time.Hour})
	_, link := w.linked(account.NewLink{To: 1})
	reset := got(w.ResetLink(t.Context(), w.bossIn().Who, w.anna.ID, false))(t)
	must(t, w.store.Change(t.Context(), func(tx account.Tx) error {
		for _, k := range []account.Kind{account.OfSession, account.OfToken, account.OfLink, account.OfTicket, account.OfDevice} {
			rs, err := tx.List(t.Context(), k, account.Which{Most: 500})
			for _, r := range rs {
				r.Ends = time.Time{}
				if err := tx.Put(r); err != nil {
					return err
				}
			}
			if err != nil {
				return err
			}
		}
		return nil
	}))
	w.ended("without an end", in.Session)
	if _, err := w.Token(t.Context(), token); err == nil {
		t.Error("a token without an end")
	}
	if _, _, err := w.OpenLink(t.Context(), link, "", home); err == nil {
		t.Error("a link without an end")
	}
	if err := w.SetPassword(t.Context(), reset.Text, otherWord, home); err == nil {
		t.Error("a ticket without an end")
	}
}
