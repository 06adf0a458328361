package account_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/go-webauthn/webauthn/protocol"

	"fettle/internal/account"
	"fettle/internal/account/accounttest"
	"fettle/internal/diag"
)

// newAuthenticator is one before the page of this test's site.
func newAuthenticator(t *testing.T) *accounttest.Authenticator {
	return accounttest.NewAuthenticator(t, "https://fettle.example:8443")
}

func b64(b []byte) string { return base64.RawURLEncoding.EncodeToString(b) }

// withKey is a passkey of somebody who is signed in.
func (w *world) withKey(s account.Session) *accounttest.Authenticator {
	w.t.Helper()
	a := newAuthenticator(w.t)
	options := got(w.BeginPasskey(w.t.Context(), s))(w.t)
	got(w.FinishPasskey(w.t.Context(), s, "the tablet in the bay", a.Creates(options)))(w.t)
	return a
}

func (w *world) byKey(a *accounttest.Authenticator) (account.SignedIn, error) {
	options := got(w.BeginSignIn())(w.t)
	return w.FinishSignIn(w.t.Context(), a.Signs(options), account.Try{}, home)
}

// TestPasskeys performs both ceremonies: a person adds a passkey, signs in and proves themselves with it.
func TestPasskeys(t *testing.T) {
	w := newWorld(t)
	s := w.annaIn()
	a := w.withKey(s)
	o := a.Asked(got(w.BeginSignIn())(t)).PublicKey
	if o.UserVerification != "required" || len(o.AllowCredentials) != 0 || o.RPID != "fettle.example" {
		t.Errorf("asked for %+v", o)
	}
	if o := a.Asked(got(w.BeginPasskey(t.Context(), w.annaIn()))(t)).PublicKey; o.AuthenticatorSelection.UserVerification != "required" || o.AuthenticatorSelection.ResidentKey != "required" {
		t.Errorf("asked for %+v", o)
	}
	for range 3 {
		in := got(w.byKey(a))(t)
		s := w.session(in)
		if s.Person.ID != w.anna.ID || s.How != account.ByPasskey || !s.Who.Fresh || in.Device == "" {
			t.Errorf("%+v", s)
		}
		w.clock.pass(6 * time.Minute)
		if s = w.session(in); s.Who.Fresh {
			t.Error("fresh after six minutes")
		}
		options := got(w.BeginProof(s))(t)
		must(t, w.FinishProof(t.Context(), s, a.Signs(options), home))
		if !w.session(in).Who.Fresh {
			t.Error("not fresh after a proof")
		}
	}
	for range 20 { // guessing at the password keeps nobody out who has a passkey
		w.SignIn(t.Context(), account.Try{Name: "anna", Password: "wrong"}, home)
	}
	got(w.byKey(a))(t)
	keys := got(w.Passkeys(t.Context(), s.Who))(t)
	if len(keys) != 1 || keys[0].Name != "the tablet in the bay" || keys[0].Copied {
		t.Errorf("%+v", keys)
	}
	if err := w.RemovePasskey(t.Context(), w.bossIn().Who, keys[0].ID); diag.KindOf(err) != diag.NotFound {
		t.Errorf("removed by another: %v", err)
	}
	must(t, w.RemovePasskey(t.Context(), w.session(got(w.byKey(a))(t)).Who, keys[0].ID))
	if _, err := w.byKey(a); diag.KindOf(err) != diag.Denied {
		t.Errorf("signed in with one that was removed: %v", err)
	}
}

// TestPasskeysOfOthers: what a passkey proves is of its owner, as they are now.
func TestPasskeysOfOthers(t *testing.T) {
	for name, end := range map[string]func(w *world){
		"disabled":   func(w *world) { must(w.t, w.SetState(w.t.Context(), w.bossIn().Who, w.anna.ID, false)) },
		"erased":     func(w *world) { must(w.t, w.ErasePerson(w.t.Context(), w.bossIn().Who, w.anna.ID)) },
		"of no shop": func(w *world) { must(w.t, w.GiveRoles(w.t.Context(), w.bossIn().Who, w.anna.ID, nil)) },
		"all proofs lost": func(w *world) {
			link := got(w.ResetLink(w.t.Context(), w.bossIn().Who, w.anna.ID, true))(w.t)
			must(w.t, w.SetPassword(w.t.Context(), link.Text, otherWord, home))
		},
	} {
		w := newWorld(t)
		a := w.withKey(w.annaIn())
		got(w.byKey(a))(t)
		end(w)
		if _, err := w.byKey(a); diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", name, err)
		}
	}
	w := newWorld(t)
	anna, boss := w.withKey(w.annaIn()), w.bossIn()
	options := got(w.BeginProof(boss))(t)
	if err := w.FinishProof(t.Context(), boss, anna.Signs(options), home); diag.KindOf(err) != diag.Denied {
		t.Errorf("somebody else proved who is signed in: %v", err)
	}
	// the passkey of one with the handle of another
	anna.Handle = []byte(w.boss.ID)
	if _, err := w.byKey(anna); diag.KindOf(err) != diag.Denied {
		t.Errorf("signed in as somebody else: %v", err)
	}
}

// TestHostilePasskeys: each ceremony is refused when anything of it is not as it should be.
func TestHostilePasskeys(t *testing.T) {
	hostile := map[string]func(a *accounttest.Authenticator){
		"another origin":         func(a *accounttest.Authenticator) { a.Origin = "https://fettle.example.evil.example" },
		"another port":           func(a *accounttest.Authenticator) { a.Origin = "https://fettle.example" },
		"not encrypted":          func(a *accounttest.Authenticator) { a.Origin = "http://fettle.example:8443" },
		"no origin":              func(a *accounttest.Authenticator) { a.Origin = "" },
		"in a frame of another":  func(a *accounttest.Authenticator) { a.Cross = true },
		"another site":           func(a *accounttest.Authenticator) { a.Site = "evil.example" },
		"the site above":         func(a *accounttest.Authenticator) { a.Site = "example" },
		"user not verified":      func(a *accounttest.Authenticator) { a.Flags = accounttest.UserPresent },
		"user not present":       func(a *accounttest.Authenticator) { a.Flags = accounttest.UserVerified },
		"neither":                func(a *accounttest.Authenticator) { a.Flags = 0 },
		"backup without backup":  func(a *accounttest.Authenticator) { a.Flags |= 0x10 },
		"type of another answer": func(a *accounttest.Authenticator) { a.Type = "payment.get" },
	}
	for name, change := range hostile {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			s := w.annaIn()
			bad := newAuthenticator(t)
			change(bad)
			options := got(w.BeginPasskey(t.Context(), s))(t)
			if _, err := w.FinishPasskey(t.Context(), s, "k", bad.Creates(options)); diag.KindOf(err) != diag.Denied {
				t.Errorf("added: %v", err)
			}
			a := w.withKey(s)
			got(w.byKey(a))(t)
			was := *a
			change(a)
			if _, err := w.byKey(a); diag.KindOf(err) != diag.Denied {
				t.Errorf("signed in: %v", err)
			}
			count := a.Counter
			*a = was
			a.Counter = count
			got(w.byKey(a))(t) // it was that alone
		})
	}
}

// TestChallengesAreAnsweredOnce, in time, by the session that they are of, and only such as we have made.
func TestChallengesAreAnsweredOnce(t *testing.T) {
	w := newWorld(t)
	s := w.annaIn()
	a := w.withKey(s)
	refused := func(what string, err error) {
		t.Helper()
		if diag.KindOf(err) != diag.Denied {
			t.Errorf("%s: %v", what, err)
		}
	}
	answer := a.Signs(got(w.BeginSignIn())(t))
	got(w.FinishSignIn(t.Context(), answer, account.Try{}, home))(t)
	refused("the same answer again", second(w.FinishSignIn(t.Context(), answer, account.Try{}, home)))
	options := got(w.BeginSignIn())(t)
	got(w.FinishSignIn(t.Context(), a.Signs(options), account.Try{}, home))(t)
	refused("another answer to the same challenge", second(w.FinishSignIn(t.Context(), a.Signs(options), account.Try{}, home)))
	late := a.Signs(got(w.BeginSignIn())(t))
	w.clock.pass(5 * time.Minute)
	refused("after five minutes", second(w.FinishSignIn(t.Context(), late, account.Try{}, home)))
	refused("of a proof, for a sign-in", second(w.FinishSignIn(t.Context(), a.Signs(got(w.BeginProof(s))(t)), account.Try{}, home)))
	refused("of a sign-in, for a proof", w.FinishProof(t.Context(), s, a.Signs(got(w.BeginSignIn())(t)), home))
	other := w.annaIn()
	refused("of a proof in another session", w.FinishProof(t.Context(), other, a.Signs(got(w.BeginProof(s))(t)), home))
	refused("of a proof, for a new one", second(w.FinishPasskey(t.Context(), other, "k", newAuthenticator(t).Creates(got(w.BeginPasskey(t.Context(), w.annaIn()))(t)))))
	b := newAuthenticator(t)
	create := b.Creates(got(w.BeginPasskey(t.Context(), other))(t))
	got(w.FinishPasskey(t.Context(), other, "second", create))(t)
	if _, err := w.FinishPasskey(t.Context(), other, "third", create); err == nil {
		t.Error("the answer for a new passkey was taken twice")
	}
	for what, challenge := range map[string][]byte{"drawn by another": make32(t), "none": nil, "zeros": make([]byte, 56)} {
		forged := &protocol.CredentialAssertion{Response: protocol.PublicKeyCredentialRequestOptions{Challenge: challenge, RelyingPartyID: "fettle.example"}}
		refused(what, second(w.FinishSignIn(t.Context(), a.Signs(forged), account.Try{}, home)))
	}
	options = got(w.BeginSignIn())(t)
	for i := range options.Response.Challenge {
		changed := *options
		changed.Response.Challenge = bytes.Clone(options.Response.Challenge)
		changed.Response.Challenge[i] ^= 1
		refused("changed", second(w.FinishSignIn(t.Context(), a.Signs(&changed), account.Try{}, home)))
	}
	w.clock.pass(15 * time.Minute)
	if _, err := w.Sweep(t.Context()); err != nil {
		t.Fatal(err)
	}
	refused("the same answer after a sweep", second(w.FinishSignIn(t.Context(), answer, account.Try{}, home)))
	if n := len(got(w.store.List(t.Context(), account.OfChallenge, account.Which{Most: 9}))(t)); n != 0 {
		t.Errorf("%d challenges are kept after a sweep", n)
	}
}

// TestStrangersFillNothing: asking for challenges, and answering them wrong, writes nothing.
func TestStrangersFillNothing(t *testing.T) {
	w := newWorld(t)
	count := func() (n int) {
		for _, k := range account.Kinds() {
			n += len(got(w.store.List(t.Context(), k, account.Which{Most: 500}))(t))
		}
		return n
	}
	before := count()
	for range 100 {
		if _, err := w.byKey(newAuthenticator(t)); diag.KindOf(err) != diag.Denied {
			t.Fatalf("a stranger: %v", err)
		}
		w.OpenLink(t.Context(), "x", "", home)
		w.Session(t.Context(), "x")
		w.Token(t.Context(), "fettle_x")
		if err := w.SetPassword(t.Context(), "x", otherWord, home); err == nil {
			t.Error("a password was set")
		}
	}
	if n := count(); n != before {
		t.Errorf("%d records were written", n-before)
	}
}

// TestCopiedPasskeys: one whose counter does not go on looks copied; neither the copy nor the first is good any more, and the log says so.
func TestCopiedPasskeys(t *testing.T) {
	w := newWorld(t)
	a := w.withKey(w.annaIn())
	got(w.byKey(a))(t)
	copied := *a
	got(w.byKey(a))(t)
	if _, err := w.byKey(&copied); diag.KindOf(err) != diag.Denied {
		t.Errorf("the copy: %v", err)
	}
	if _, err := w.byKey(a); diag.KindOf(err) != diag.Denied {
		t.Errorf("the first, after a copy was seen: %v", err)
	}
	if keys := got(w.Passkeys(t.Context(), w.annaIn().Who))(t); len(keys) != 1 || !keys[0].Copied {
		t.Errorf("%+v", keys)
	}
	noted := false
	for _, e := range got(w.SecurityLog(t.Context(), w.bossIn().Who, account.LogQuery{Most: 500}))(t).Entries {
		noted = noted || e.What == account.PasskeyCopied
	}
	if !noted {
		t.Error("nobody is told")
	}
	// one that does not count at all is no copy
	b := newAuthenticator(t)
	b.Step = 0
	s := w.annaIn()
	got(w.FinishPasskey(t.Context(), s, "without a counter", b.Creates(got(w.BeginPasskey(t.Context(), s))(t))))(t)
	for range 3 {
		got(w.byKey(b))(t)
	}
}

// TestCopiesAtOnce: of many answers with one counter one is let in.
func TestCopiesAtOnce(t *testing.T) {
	w := newWorld(t)
	a := w.withKey(w.annaIn())
	answers := make([][]byte, 20)
	for i := range answers {
		one := *a
		answers[i] = one.Signs(got(w.BeginSignIn())(t))
	}
	var wg sync.WaitGroup
	errs := make([]error, len(answers))
	for i, answer := range answers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			_, errs[i] = w.FinishSignIn(t.Context(), answer, account.Try{}, home)
		}()
	}
	wg.Wait()
	in := 0
	for _, err := range errs {
		if err == nil {
			in++
		}
	}
	if in != 1 {
		t.Errorf("%d were let in", in)
	}
}

// TestPasskeyAnswersAreStrangers': whatever is sent is refused, and nothing falls over.
func TestPasskeyAnswersOfStrangers(t *testing.T) {
	w := newWorld(t)
	s := w.annaIn()
	a := w.withKey(s)
	sign, create := a.Signs(got(w.BeginSignIn())(t)), newAuthenticator(t).Creates(got(w.BeginPasskey(t.Context(), s))(t))
	tries := [][]byte{nil, []byte("{}"), []byte("null"), []byte("[]"), bytes.Repeat([]byte("["), 100000), sign[:len(sign)/2], []byte(strings.Repeat(`{"id":`, 5000))}
	for _, whole := range [][]byte{sign, create} {
		var fields map[string]json.RawMessage
		must(t, json.Unmarshal(whole, &fields))
		for name := range fields {
			if name == "clientExtensionResults" {
				continue
			}
			less := map[string]json.RawMessage{}
			for other, v := range fields {
				if other != name {
					less[other] = v
				}
			}
			tries = append(tries, got(json.Marshal(less))(t))
			less[name] = json.RawMessage(`"AAAA"`)
			tries = append(tries, got(json.Marshal(less))(t))
		}
	}
	for _, try := range tries {
		if in, err := w.FinishSignIn(t.Context(), try, account.Try{}, home); err == nil || in.Session != "" {
			t.Errorf("let in by %.80s", try)
		}
		if _, err := w.FinishPasskey(t.Context(), s, "k", try); err == nil {
			t.Errorf("added by %.80s", try)
		}
	}
	none := emptyWorld(t, func(s *account.Settings) { s.Site = account.Site{} })
	if _, err := none.BeginSignIn(); diag.KindOf(err) != diag.Unsupported {
		t.Errorf("without a site: %v", err)
	}
}
