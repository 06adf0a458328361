package account_test

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/right"
)

var onJob = right.On{Shop: "a", Job: "J1", Everybody: true, Stage: right.Approved}

// linked is a link that was made by a reviewer.
func (w *world) linked(n account.NewLink) (account.Link, string) {
	w.t.Helper()
	if _, err := w.SignIn(w.t.Context(), account.Try{Name: "rita", Password: otherWord}, home); err != nil {
		w.added(w.bossIn(), "rita", otherWord, right.Reviewer)
	}
	l, secret, err := w.MakeLink(w.t.Context(), w.session(w.signedIn("rita", otherWord)).Who, onJob, n)
	if err != nil {
		w.t.Fatal(err)
	}
	return l, secret.Text
}

// TestLinks: a link opens one job up to one event; each opening is noted.
func TestLinks(t *testing.T) {
	w := newWorld(t)
	l, secret := w.linked(account.NewLink{To: 17})
	if l.Ends.Sub(w.clock.now()) != account.LinkFor {
		t.Errorf("it is good until %v", l.Ends)
	}
	for range 3 {
		s := w.session(w.openedLink(secret, account.From{Address: "203.0.113.5"}))
		if s.Who.Link != (right.Link{ID: l.ID, Job: "J1", To: 17}) || s.Who.Person != "" || s.Who.Shop != "a" || s.Who.Fresh {
			t.Errorf("%+v", s.Who)
		}
		for _, a := range right.Acts() {
			on := onJob
			on.To, on.Person, on.Stays = 17, w.anna.ID, true
			if v := right.Shipped().May(s.Who, a, on); v.Answer == right.Allowed && right.Shipped().Changes(a) {
				t.Errorf("a reader may %s", a)
			}
			on.Job = "J2"
			if v := right.Shipped().May(s.Who, a, on); v.Answer == right.Allowed && a != right.VerifyLog {
				t.Errorf("a reader may %s of another job", a)
			}
		}
	}
	log := got(w.SecurityLog(t.Context(), w.bossIn().Who, account.LogQuery{Most: 500}))(t).Entries
	opened := 0
	for _, e := range log {
		if e.What == account.LinkOpened && e.About == l.ID && e.Address == "203.0.113.5" {
			opened++
		}
	}
	if opened != 3 {
		t.Errorf("%d openings are noted: %+v", opened, log)
	}
	w.ended("the secret of a link shown as a session", secret)
	for what, n := range map[string]account.NewLink{"too long": {To: 1, For: account.LinkMost + time.Hour}, "before now": {To: 1, For: -time.Hour}, "up to nothing": {}} {
		if _, _, err := w.MakeLink(t.Context(), w.session(w.signedIn("rita", otherWord)).Who, onJob, n); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	stranger := onJob
	stranger.Shop = "b"
	draft := onJob
	draft.Stage = right.Draft
	for what, err := range map[string]error{
		"of another shop":           link(w.MakeLink(t.Context(), w.session(w.signedIn("rita", otherWord)).Who, stranger, account.NewLink{To: 1})),
		"by a planner, of a draft":  link(w.MakeLink(t.Context(), w.annaIn().Who, draft, account.NewLink{To: 1})),
		"by an administrator alone": link(w.MakeLink(t.Context(), w.bossIn().Who, onJob, account.NewLink{To: 1})),
	} {
		if k := diag.KindOf(err); k != diag.Denied && k != diag.NotFound {
			t.Errorf("%s: %v", what, err)
		}
	}
}

func link(_ account.Link, _ account.Secret, err error) error { return err }

// TestLinksThatAreNotGood: 1,000 forged ones, changed ones, those that are over and those that were revoked have one answer, and their
// sessions are over at once.
func TestLinksThatAreNotGood(t *testing.T) {
	w := newWorld(t)
	_, over := w.linked(account.NewLink{To: 1, For: time.Hour})
	w.clock.pass(time.Hour)
	revoked, secret := w.linked(account.NewLink{To: 1})
	in := w.openedLink(secret, home)
	w.session(in)
	if err := w.RevokeLink(t.Context(), w.annaIn().Who, onJob, revoked.ID); diag.KindOf(err) != diag.Denied {
		t.Errorf("revoked by who has not made it: %v", err)
	}
	if err := w.RevokeLink(t.Context(), w.bossIn().Who, right.On{Shop: "a", Job: "J2", Everybody: true}, revoked.ID); diag.KindOf(err) != diag.NotFound {
		t.Errorf("revoked as one of another job: %v", err)
	}
	must(t, w.RevokeLink(t.Context(), w.bossIn().Who, onJob, revoked.ID))
	w.ended("of a link that was revoked", in.Session)
	good, secret2 := w.linked(account.NewLink{To: 1, For: 40 * time.Minute})
	in2 := w.openedLink(secret2, home)
	tries := []string{"", over, secret, good.ID}
	for i := range secret2 {
		b := []byte(secret2)
		b[i] ^= 1
		tries = append(tries, string(b), secret2[:i])
	}
	for range 1000 {
		tries = append(tries, base64.RawURLEncoding.EncodeToString(make32(t)))
	}
	answers := map[string]bool{}
	for _, s := range tries {
		_, _, err := w.OpenLink(t.Context(), s, "", home)
		if diag.KindOf(err) != diag.Denied {
			t.Errorf("%q opens something: %v", s, err)
		}
		answers[fmt.Sprint(err)] = true
	}
	if len(answers) != 1 {
		t.Errorf("answers differ: %v", answers)
	}
	w.session(in2)
	w.clock.pass(29 * time.Minute)
	w.session(in2)
	w.clock.pass(time.Minute) // half an hour, however much it is used
	w.ended("a reader's session", in2.Session)
	in3 := w.openedLink(secret2, home)
	w.clock.pass(10 * time.Minute) // the link is over before the session
	w.ended("of a link that is over", in3.Session)
	w.clock.pass(-24 * time.Hour)
	if _, _, err := w.OpenLink(t.Context(), secret2, "", home); err == nil {
		t.Error("opened with the clock put back")
	}
	if _, err := w.Token(t.Context(), secret2); !errors.Is(err, account.ErrNobody) {
		t.Errorf("a link shown as a token: %v", err)
	}
}

// TestLinkTimes: a good-looking, a revoked and a forged link are refused in the same time: the medians within 5 ms (requirement).
func TestLinkTimes(t *testing.T) {
	w := newWorld(t)
	revoked, secret := w.linked(account.NewLink{To: 1})
	must(t, w.RevokeLink(t.Context(), w.bossIn().Who, onJob, revoked.ID))
	forged := base64.RawURLEncoding.EncodeToString(make32(t))
	medians := accountTimes(t, 500, func(i int) { w.OpenLink(t.Context(), []string{secret, forged}[i], "", home) })
	if d := (medians[0] - medians[1]).Abs(); d > 5*time.Millisecond {
		t.Errorf("revoked %v, forged %v", medians[0], medians[1])
	}
}

// openedLink is what whoever shows the secret of a link is given.
func (w *world) openedLink(secret string, from account.From) account.SignedIn {
	w.t.Helper()
	in, _, err := w.OpenLink(w.t.Context(), secret, "", from)
	if err != nil {
		w.t.Fatal(err)
	}
	return in
}

// TestLinksOfAKind: one with a code is nothing without it, one is opened so often and no more, each opening is told to the shop, and one whose
// maker left or makes no links any more is over with all its sessions.
func TestLinksOfAKind(t *testing.T) {
	w := newWorld(t)
	l, secret := w.linked(account.NewLink{To: 3, Most: 2, Coded: true})
	if len(l.Code) != 10 || !l.Coded {
		t.Fatalf("%+v", l)
	}
	refused := ""
	for _, code := range []string{"", "x", l.Code[:9], l.Code + "A", "#" + l.Code} {
		_, _, err := w.OpenLink(t.Context(), secret, code, home)
		if diag.KindOf(err) != diag.Denied || refused != "" && fmt.Sprint(err) != refused {
			t.Errorf("code %q: %v", code, err)
		}
		refused = fmt.Sprint(err)
	}
	var in account.SignedIn
	for i, code := range []string{l.Code, strings.ToLower(l.Code[:5] + "-" + l.Code[5:])} {
		out, _, err := w.OpenLink(t.Context(), secret, code, account.From{Address: []string{"203.0.113.5", "192.168.1.4"}[i]})
		if err != nil {
			t.Fatal(err)
		}
		in = out
	}
	if _, _, err := w.OpenLink(t.Context(), secret, l.Code, home); fmt.Sprint(err) != refused {
		t.Errorf("opened a third time: %v", err)
	}
	all, err := w.Links(t.Context(), w.session(w.signedIn("rita", otherWord)).Who, onJob)
	if err != nil || len(all) != 1 || len(all[0].Openings) != 2 || all[0].Openings[0].From != "outside" || all[0].Openings[1].From != "a private network" || all[0].Code != "" {
		t.Errorf("%+v %v", all, err)
	}
	reader := w.session(in)
	if _, err := w.Links(t.Context(), reader.Who, right.On{Shop: "a", Job: "J1", To: 3}); err == nil {
		t.Error("a reader is told of links")
	}
	if err := w.GiveRoles(t.Context(), w.bossIn().Who, all[0].By, []right.Role{right.Technician}); err != nil {
		t.Fatal(err)
	}
	w.ended("of a link whose maker makes none any more", in.Session)
	if _, _, err := w.OpenLink(t.Context(), secret, l.Code, home); fmt.Sprint(err) != refused {
		t.Errorf("opened: %v", err)
	}
}
