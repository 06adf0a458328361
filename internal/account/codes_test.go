package account_test

import (
	"crypto/sha1"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/base32"
	"errors"
	"fmt"
	"hash"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
)

// TestTOTP holds the codes against RFC 6238, appendix B (eight digits, steps of 30 s), and RFC 4226, appendix D (six digits).
func TestTOTP(t *testing.T) {
	const digits = "1234567890"
	seed := func(n int) []byte { return []byte(strings.Repeat(digits, 7)[:n]) }
	for _, c := range []struct {
		seconds              uint64
		sha1, sha256, sha512 string
	}{
		{59, "94287082", "46119246", "90693936"},
		{1111111109, "07081804", "68084774", "25091201"},
		{1111111111, "14050471", "67062674", "99943326"},
		{1234567890, "89005924", "91819424", "93441116"},
		{2000000000, "69279037", "90698825", "38618901"},
		{20000000000, "65353130", "77737706", "47863826"},
	} {
		for _, h := range []struct {
			of   func() hash.Hash
			key  int
			want string
		}{{sha1.New, 20, c.sha1}, {sha256.New, 32, c.sha256}, {sha512.New, 64, c.sha512}} {
			if got := account.CodeAt(h.of, seed(h.key), c.seconds/30, 8); got != h.want {
				t.Errorf("%d s with %d bytes: %s, want %s", c.seconds, h.key, got, h.want)
			}
		}
	}
	for step, want := range strings.Fields("755224 287082 359152 969429 338314 254676 287922 162583 399871 520489") {
		if got := account.CodeAt(sha1.New, seed(20), uint64(step), 6); got != want {
			t.Errorf("count %d: %s, want %s", step, got, want)
		}
	}
}

// telephone shows the codes of a secret.
type telephone struct {
	w      *world
	secret []byte
}

func (p telephone) at(later time.Duration) string {
	return account.CodeAt(sha1.New, p.secret, uint64(p.w.clock.now().Add(later).Unix()/30), 6)
}

// withCodes has somebody take one-time codes.
func (w *world) withCodes(s account.Session) telephone {
	w.t.Helper()
	codes := got(w.BeginCodes(w.t.Context(), s.Who))(w.t)
	secret := got(base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(codes.Secret))(w.t)
	p := telephone{w, secret}
	u := got(url.Parse(codes.Address))(w.t)
	if u.Scheme != "otpauth" || u.Host != "totp" || u.Query().Get("secret") != codes.Secret || len(secret) != 20 {
		w.t.Errorf("%s", codes.Address)
	}
	must(w.t, w.FinishCodes(w.t.Context(), s.Who, p.at(0)))
	w.clock.pass(time.Minute)
	return p
}

func (w *world) byCode(code string) (account.SignedIn, error) {
	return w.SignIn(w.t.Context(), account.Try{Name: "anna", Password: annaWord, Code: code}, home)
}

// TestCodes: with one-time codes the password alone lets nobody in; a code is good for one step before and after its own, and once.
func TestCodes(t *testing.T) {
	w := newWorld(t)
	s := w.annaIn()
	p := w.withCodes(s)
	if !w.session(w.signedInWith(p.at(0))).Person.Codes {
		t.Error("the person has no codes")
	}
	w.clock.pass(time.Minute)
	in := got(w.byCode(""))(t)
	if !in.NeedCode || in.Session != "" || in.Device != "" {
		t.Errorf("by the password alone: %+v", in)
	}
	for _, c := range []struct {
		later time.Duration
		good  bool
	}{{-90 * time.Second, false}, {-60 * time.Second, false}, {60 * time.Second, false}, {90 * time.Second, false}, {-30 * time.Second, true}, {0, true}, {30 * time.Second, true}} {
		w.clock.pass(time24)
		in, err := w.byCode(p.at(c.later))
		if (err == nil && in.Session != "") != c.good {
			t.Errorf("the code of %v: %v", c.later, err)
		}
		if !c.good {
			continue
		}
		if _, err := w.byCode(p.at(c.later)); diag.KindOf(err) != diag.Denied {
			t.Errorf("the code of %v once more: %v", c.later, err)
		}
		if _, err := w.byCode(p.at(c.later - 30*time.Second)); diag.KindOf(err) != diag.Denied {
			t.Errorf("an earlier code than the last: %v", err)
		}
		if s := w.session(in); s.How != account.ByCode {
			t.Errorf("by %s", s.How)
		}
	}
	w.clock.pass(time24)
	code := p.at(0)
	if _, err := w.SignIn(t.Context(), account.Try{Name: "anna", Password: "wrong", Code: code}, home); err == nil {
		t.Error("let in by the code alone")
	}
	for _, c := range []string{"000000", " " + code, code + "0", code[:5], "", "１２３４５６"} {
		if in, err := w.byCode(c); err == nil && in.Session != "" {
			t.Errorf("let in by %q", c)
		}
	}
	w.clock.pass(time24)
	in = w.signedInWith(p.at(0))
	w.clock.pass(6 * time.Minute)
	late := w.session(in)
	if err := w.Prove(t.Context(), late, annaWord, "", home); diag.KindOf(err) != diag.Denied {
		t.Errorf("proved without a code: %v", err)
	}
	must(t, w.Prove(t.Context(), late, annaWord, p.at(0), home))
	must(t, w.RemoveCodes(t.Context(), w.session(in).Who))
	w.signedIn("anna", annaWord)
}

func (w *world) signedInWith(code string) account.SignedIn {
	w.t.Helper()
	return got(w.byCode(code))(w.t)
}

// TestGuessingCodes: with the password known, so few codes can be tried that one in a thousand attackers is let in within a day (a million
// codes, of which three are good at a time).
func TestGuessingCodes(t *testing.T) {
	w := newWorld(t)
	w.withCodes(w.annaIn())
	tried := 0
	for i := range 24 * 60 {
		_, err := w.byCode(fmt.Sprintf("%06d", 7*i))
		var wait *account.Wait
		if !errors.As(err, &wait) {
			tried++
		}
		if i%3 == 0 {
			w.byCode("") // by which nothing is forgotten
		}
		w.clock.pass(time.Minute)
	}
	if tried > 300 {
		t.Errorf("%d codes were tried within a day", tried)
	}
	t.Logf("%d codes within a day", tried)
}

// TestOneCodeAtOnce: of many sign-ins with one code at once one is let in.
func TestOneCodeAtOnce(t *testing.T) {
	w := newWorld(t)
	p := w.withCodes(w.annaIn())
	var wg sync.WaitGroup
	code, ins := p.at(0), make([]account.SignedIn, 4)
	for i := range ins {
		wg.Add(1)
		go func() {
			defer wg.Done()
			ins[i], _ = w.byCode(code)
		}()
	}
	wg.Wait()
	n := 0
	for _, in := range ins {
		if in.Session != "" {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d were let in", n)
	}
}

// TestLostCodes: a link says whether one-time codes and passkeys go with the password.
func TestLostCodes(t *testing.T) {
	w := newWorld(t)
	p := w.withCodes(w.annaIn())
	link := got(w.ResetLink(t.Context(), w.bossIn().Who, w.anna.ID, false))(t)
	must(t, w.SetPassword(t.Context(), link.Text, annaWord, home))
	if in := got(w.byCode(""))(t); !in.NeedCode {
		t.Error("a link for the password took the codes away")
	}
	w.signedInWith(p.at(0))
	link = got(w.ResetLink(t.Context(), w.bossIn().Who, w.anna.ID, true))(t)
	must(t, w.SetPassword(t.Context(), link.Text, annaWord, home))
	w.signedIn("anna", annaWord)
	s := w.annaIn()
	if err := w.FinishCodes(t.Context(), s.Who, "123456"); diag.KindOf(err) != diag.NotFound {
		t.Errorf("codes that were not begun: %v", err)
	}
	got(w.BeginCodes(t.Context(), s.Who))(t)
	if err := w.FinishCodes(t.Context(), s.Who, "12345"); diag.KindOf(err) != diag.Invalid {
		t.Errorf("a wrong first code: %v", err)
	}
	w.signedIn("anna", annaWord) // they do not count before
}
