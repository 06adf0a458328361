// Package account knows the people of a group of shops: who they are, in which shops and as what, how they prove
// it, and who is signed in. It rests on a Store; clock and randomness are given. Nothing that is a secret is kept in a form in which it
// could be used: of what is shown only the SHA-256, of passwords an Argon2id hash, and what has to be read again is sealed with
// a key that is kept elsewhere. Who may do something to whom is asked of package right, in the transaction that does it.
package account

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/go-webauthn/webauthn/webauthn"

	"fettle/internal/account/openid"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// Settings say where accounts are and what they rest on.
type Settings struct {
	Store  Store
	Now    func() time.Time
	Random io.Reader
	Key    []byte // 32 bytes, the same for all programs of a store, and kept outside it
	Cost   Cost   // of a hash of a password; none: DefaultCost
	Weak   bool   // the cost may be lower than is safe: tests alone
	Site   Site   // none: no passkeys

	Provider *openid.Client // nil: people sign in here alone
	Groups   []ByGroup      // none: it gives nobody a role
}

// Site is the one that passkeys are made for, and that people come back to.
type Site struct {
	Name    string   // host without port: part of each passkey for good
	Title   string   // as people are shown it
	Origins []string // such as https://fettle.example:8443
	Back    string   // address to which a provider sends people back; empty: no provider is asked
}

// Accounts are the people of a group. Several programs may have those of one store.
type Accounts struct {
	Settings
	hashes hasher
	seal   cipher.AEAD
	keys   *webauthn.WebAuthn // nil: no passkeys
}

// New makes Accounts.
func New(s Settings) (*Accounts, error) {
	if s.Cost == (Cost{}) {
		s.Cost = DefaultCost
	}
	if !s.Weak && !s.Cost.safe() {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "open accounts", Subject: "the cost of a hash", Msg: "it is lower than is safe", Hint: "give at least 19 MiB and two passes"}
	}
	if len(s.Key) != 32 {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "open accounts", Subject: "the key of accounts", Msg: fmt.Sprintf("it has %d bytes, and has to have 32", len(s.Key))}
	}
	if err := checkGroups(s.Groups); err != nil {
		return nil, err
	}
	a := &Accounts{Settings: s}
	block, err := aes.NewCipher(a.derived("seal"))
	if err == nil {
		a.seal, err = cipher.NewGCM(block)
	}
	if err == nil {
		a.hashes, err = newHasher(s.Cost, s.Random)
	}
	if err == nil && s.Site.Name != "" {
		a.keys, err = passkeysOf(s.Site)
	}
	return a, err
}

// derived is a key for one purpose.
func (a *Accounts) derived(purpose string) []byte {
	mac := hmac.New(sha256.New, a.Key)
	mac.Write([]byte("fettle-accounts 1 " + purpose))
	return mac.Sum(nil)
}

// blind is a name under which something is noted that nobody without the key can find out by trying.
func (a *Accounts) blind(what, name string) string {
	mac := hmac.New(sha256.New, a.derived("blind"))
	mac.Write([]byte(what + "\x00" + name))
	return hex.EncodeToString(mac.Sum(nil))
}

// sealed is a secret that has to be read again, for one use of it.
func (a *Accounts) sealed(secret []byte, use string) (string, error) {
	nonce, err := a.drawn(a.seal.NonceSize())
	return base64.RawURLEncoding.EncodeToString(a.seal.Seal(nonce, nonce, secret, []byte(use))), err
}

func (a *Accounts) unsealed(text, use string) ([]byte, error) {
	b, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(b) < a.seal.NonceSize() {
		return nil, damaged(use)
	}
	out, err := a.seal.Open(nil, b[:a.seal.NonceSize()], b[a.seal.NonceSize():], []byte(use))
	if err != nil {
		return nil, &diag.Error{Kind: diag.Integrity, Op: "open a secret", Subject: use, Msg: "it was sealed with another key, or altered", Hint: "give the key that belongs to this store"}
	}
	return out, nil
}

func (a *Accounts) drawn(n int) ([]byte, error) {
	b := make([]byte, n)
	if _, err := io.ReadFull(a.Random, b); err != nil {
		return nil, &diag.Error{Kind: diag.Unavailable, Op: "draw a secret", Msg: "the machine gives no random bytes", Err: err}
	}
	return b, nil
}

// secret is 256 bits that are told once, with the hash that is kept.
func (a *Accounts) secret() (secret, key string, err error) {
	b, err := a.drawn(32)
	secret = base64.RawURLEncoding.EncodeToString(b)
	return secret, keyOf(secret), err
}

// keyOf is what is kept of a secret.
func keyOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// id is a new opaque name.
func (a *Accounts) id() (string, error) {
	b, err := a.drawn(8)
	return hex.EncodeToString(b), err
}

// now is the moment, to the millisecond.
func (a *Accounts) now() time.Time { return a.Now().UTC().Truncate(time.Millisecond) }

// mostList is how many records are read at once.
const mostList = 500

// all is every record that is wanted.
func all(ctx context.Context, in Reader, k Kind, w Which) (out []Record, err error) {
	for w.Most = mostList; ; {
		page, err := in.List(ctx, k, w)
		if err != nil {
			return nil, err
		}
		if out = append(out, page...); len(page) < w.Most {
			return out, nil
		}
		w.After = page[len(page)-1].ID
	}
}

// dropAll takes records of a person away.
func dropAll(ctx context.Context, tx Tx, person string, kinds ...Kind) error {
	for _, k := range kinds {
		rs, err := all(ctx, tx, k, Which{Person: person})
		for _, r := range rs {
			err = errors.Join(err, tx.Drop(k, r.ID))
			if k == OfSession {
				err = errors.Join(err, tx.Drop(OfUse, r.ID))
			}
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// data reads what a record holds.
func data[T any](r Record) (v T, err error) {
	dec := json.NewDecoder(strings.NewReader(r.Data))
	dec.DisallowUnknownFields()
	if dec.Decode(&v) != nil {
		err = damaged(string(r.Kind) + " " + r.ID)
	}
	return v, err
}

// with is a record that holds something.
func (r Record) with(v any) Record {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // of types of this package, which have no such value
	}
	r.Data = string(b)
	return r
}

func damaged(what string) error {
	return &diag.Error{Kind: diag.Integrity, Op: "read accounts", Subject: what, Msg: "it cannot be read", Hint: "verify the store"}
}

// absent is the error for what is not there, or not for whoever asks.
func absent(what string) error {
	return &diag.Error{Kind: diag.NotFound, Op: "find " + what, Subject: what, Msg: "there is none of that name"}
}

// ask asks the matrix.
func ask(w right.Who, a right.Act, on right.On) error {
	return right.Shipped().May(w, a, on).Err(a, "accounts", absent("person"))
}

// askNow asks the matrix for somebody as they are in a change: what was taken from them since they were looked at they do not have.
func (a *Accounts) askNow(ctx context.Context, in Reader, w right.Who, act right.Act, on right.On) error {
	if w.Person != "" {
		_, p, _, err := person(ctx, in, w.Person)
		if diag.KindOf(err) == diag.NotFound && err != nil || err == nil && p.State != Active {
			return ErrNobody
		}
		if err != nil {
			return err
		}
		now, err := roles(ctx, in, w.Person, w.Shop)
		if err != nil {
			return err
		}
		w.Roles = slices.DeleteFunc(slices.Clone(w.Roles), func(r right.Role) bool { return !slices.Contains(now, r) })
	}
	if w.Token != "" {
		if r, there, err := in.Get(ctx, OfToken, w.Token); err != nil || !there || !a.good(r) || r.Person != w.Person {
			return errors.Join(err, ErrNobody)
		}
	}
	return ask(w, act, on)
}

// written says whether a change whose line in the security log it is was written, and the answer lost.
func written(ctx context.Context, in Reader, e Record) (bool, error) {
	_, there, err := in.Get(ctx, e.Kind, e.ID)
	return there, err
}
