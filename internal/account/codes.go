package account

import (
	"context"
	"crypto/hmac"
	"crypto/sha1"
	"crypto/subtle"
	"encoding/base32"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"net/url"
	"time"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// One-time codes are those of RFC 6238: HMAC-SHA-1, steps of 30 seconds, six digits, which is what every program for them
// knows. One step before and after is taken, and each step once.
const (
	stepOf     = 30 * time.Second
	codeDigits = 6
	codeSecret = 20 // bytes; RFC 4226, section 4, R6: recommended
	stepsApart = 1
)

// codeAt is the code of a step (RFC 4226, section 5.3).
func codeAt(h func() hash.Hash, secret []byte, step uint64, digits int) string {
	mac := hmac.New(h, secret)
	mac.Write(binary.BigEndian.AppendUint64(nil, step))
	sum := mac.Sum(nil)
	at := sum[len(sum)-1] & 0xf
	n, mod := binary.BigEndian.Uint32(sum[at:at+4])&0x7fffffff, uint32(1)
	for range digits {
		mod *= 10
	}
	return fmt.Sprintf("%0*d", digits, n%mod)
}

// codeFits is the step whose code it is, none of which was used before; errCode where there is none.
func (a *Accounts) codeFits(person string, d personData, code string) (int64, error) {
	secret, err := a.unsealed(d.Codes, "codes "+person)
	if err != nil {
		return 0, err
	}
	now, found := a.now().Unix()/int64(stepOf/time.Second), int64(0)
	for step := now - stepsApart; step <= now+stepsApart; step++ {
		same := subtle.ConstantTimeCompare([]byte(codeAt(sha1.New, secret, uint64(step), codeDigits)), []byte(code)) == 1
		if same && step > d.LastStep && found == 0 {
			found = step
		}
	}
	if found == 0 {
		return 0, errCode
	}
	return found, nil
}

// Codes is what a program for one-time codes is told, once.
type Codes struct {
	Secret  string // base32
	Address string // otpauth://..., as a QR code is made of
}

// BeginCodes draws a secret for one-time codes of one's own. They count once one of them was shown (FinishCodes).
func (a *Accounts) BeginCodes(ctx context.Context, w right.Who) (Codes, error) {
	secret, err := a.drawn(codeSecret)
	if err != nil {
		return Codes{}, err
	}
	sealed, err := a.sealed(secret, "codes "+w.Person)
	if err != nil {
		return Codes{}, err
	}
	var signIn string
	err = a.ownProof(ctx, w, Entry{}, func(_ Tx, d *personData) error {
		d.Pending, signIn = sealed, d.SignIn
		return nil
	})
	text := base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(secret)
	q := url.Values{"secret": {text}, "issuer": {"fettle"}}
	return Codes{text, (&url.URL{Scheme: "otpauth", Host: "totp", Path: "/fettle:" + signIn, RawQuery: q.Encode()}).String()}, err
}

// FinishCodes takes the first code; from now on one is asked for besides the password.
func (a *Accounts) FinishCodes(ctx context.Context, w right.Who, code string) error {
	err := a.ownProof(ctx, w, Entry{What: CodesAdded}, func(_ Tx, d *personData) error {
		if d.Pending == "" {
			return absent("secret for one-time codes")
		}
		fresh := *d
		fresh.Codes, fresh.LastStep = d.Pending, 0
		step, err := a.codeFits(w.Person, fresh, code)
		if err != nil {
			return err
		}
		d.Codes, d.Pending, d.LastStep = d.Pending, "", step
		return nil
	})
	if errors.Is(err, errCode) {
		return &diag.Error{Kind: diag.Invalid, Op: "add one-time codes", Subject: "code", Msg: "it is not the code of this moment", Hint: "look whether the clock of the telephone is right"}
	}
	return err
}

// RemoveCodes does without one-time codes from now on.
func (a *Accounts) RemoveCodes(ctx context.Context, w right.Who) error {
	return a.ownProof(ctx, w, Entry{What: CodesRemoved}, func(_ Tx, d *personData) error {
		d.Codes, d.Pending, d.LastStep = "", "", 0
		return nil
	})
}

// HasCodes says whether one has one-time codes.
func (a *Accounts) HasCodes(ctx context.Context, w right.Who) (bool, error) {
	if err := ask(w, right.SeeAccount, right.On{Person: w.Person}); err != nil {
		return false, err
	}
	_, p, _, err := person(ctx, a.Store, w.Person)
	return p.Codes, err
}

// ownProof changes something of one's own sign-in.
func (a *Accounts) ownProof(ctx context.Context, w right.Who, e Entry, change func(Tx, *personData) error) error {
	e.Person, e.Shop, e.About = w.Person, w.Shop, w.Person
	line, err := a.entry(e)
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, line); err != nil || done {
			return err
		}
		if err := a.askNow(ctx, tx, w, right.ChangeSignIn, right.On{Person: w.Person}); err != nil {
			return err
		}
		r, _, d, err := person(ctx, tx, w.Person)
		if err != nil {
			return err
		}
		if e.What != "" {
			if err := tx.Put(line); err != nil {
				return err
			}
		}
		if err := change(tx, &d); err != nil {
			return err
		}
		return tx.Put(r.with(d))
	})
}
