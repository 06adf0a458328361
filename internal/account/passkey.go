package account

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"time"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// A passkey signs a challenge of the server for one site (Web Authentication, level 3). The person has to be verified by it: with a
// finger, a face, a number. Each challenge is answered once, within five minutes. Passkeys that are found without a name are asked for, so that nobody
// can ask who has some.

const challengeFor = 5 * time.Minute

func passkeysOf(s Site) (*webauthn.WebAuthn, error) {
	resident := true
	w, err := webauthn.New(&webauthn.Config{
		RPID: s.Name, RPDisplayName: s.Title, RPOrigins: s.Origins,
		AttestationPreference: protocol.PreferNoAttestation,
		AuthenticatorSelection: protocol.AuthenticatorSelection{
			ResidentKey: protocol.ResidentKeyRequirementRequired, RequireResidentKey: &resident, UserVerification: protocol.VerificationRequired},
	})
	if err != nil {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "open accounts", Subject: "the site of passkeys", Msg: "it is none: " + err.Error(), Hint: "give the name of the host, and its whole addresses as browsers know them"}
	}
	return w, nil
}

func (a *Accounts) passkeys() error {
	if a.keys == nil {
		return &diag.Error{Kind: diag.Unsupported, Op: "use a passkey", Msg: "this server is set up for no site", Hint: "passkeys need a name of the host and TLS"}
	}
	return nil
}

// holder is a person as the ceremonies want one. The handle is the opaque name.
type holder struct {
	id, name, signIn string
	keys             []webauthn.Credential
}

func (h holder) WebAuthnID() []byte                         { return []byte(h.id) }
func (h holder) WebAuthnName() string                       { return h.signIn }
func (h holder) WebAuthnDisplayName() string                { return h.name }
func (h holder) WebAuthnCredentials() []webauthn.Credential { return h.keys }

type passkeyData struct {
	Name  string              `json:"name"`
	Made  time.Time           `json:"made"`
	Key   webauthn.Credential `json:"key"`
	Wrong bool                `json:"wrong,omitempty"` // it looks copied, and is good no longer
}

// Passkey is one, as its owner sees it.
type Passkey struct {
	ID, Name string
	Made     time.Time
	Copied   bool // it looks copied, and is good no longer
}

func passkeyKey(id []byte) string {
	sum := sha256.Sum256(id)
	return hex.EncodeToString(sum[:])
}

// holderOf is a person with their passkeys that are good.
func holderOf(ctx context.Context, in Reader, id string) (holder, error) {
	_, p, _, err := person(ctx, in, id)
	if err == nil && p.State != Active {
		err = ErrNobody
	}
	if err != nil {
		return holder{}, err
	}
	h := holder{id: id, name: p.Name, signIn: p.SignIn}
	rs, err := all(ctx, in, OfPasskey, Which{Person: id})
	for _, r := range rs {
		d, bad := data[passkeyData](r)
		if err = errors.Join(err, bad); !d.Wrong {
			h.keys = append(h.keys, d.Key)
		}
	}
	return h, err
}

// A challenge needs no record until it was answered well: it says itself, under a seal, when it was made and for which session, so that nobody
// can fill the store by asking for some.
const challengeRandom = 16

func (a *Accounts) challenge(of string) (protocol.URLEncodedBase64, error) {
	b, err := a.drawn(challengeRandom)
	b = binary.BigEndian.AppendUint64(b, uint64(a.now().UnixMilli()))
	return append(b, a.challengeSeal(b, of)...), err
}

func (a *Accounts) challengeSeal(b []byte, of string) []byte {
	mac := hmac.New(sha256.New, a.derived("challenge"))
	mac.Write(b)
	mac.Write([]byte(of))
	return mac.Sum(nil)
}

// ours is the challenge that was answered, if it was one of ours for that session and is not over, with the record that it is answered.
func (a *Accounts) ours(text, of string, within time.Duration) (protocol.URLEncodedBase64, Record, error) {
	b, err := base64.RawURLEncoding.DecodeString(text)
	const head = challengeRandom + 8
	if err != nil || len(b) != head+sha256.Size || !hmac.Equal(b[head:], a.challengeSeal(b[:head], of)) {
		return nil, Record{}, errPasskey(nil)
	}
	made := time.UnixMilli(int64(binary.BigEndian.Uint64(b[challengeRandom:]))).UTC()
	if old := a.now().Sub(made); old < -apart || old >= within {
		return nil, Record{}, errPasskey(nil)
	}
	return b, Record{Kind: OfChallenge, ID: keyOf(text), Ends: made.Add(2 * within)}.with(struct{}{}), nil
}

// spend notes that a challenge was answered; one that was before is refused.
func spend(ctx context.Context, tx Tx, r Record) error {
	if _, there, err := tx.Get(ctx, OfChallenge, r.ID); err != nil || there {
		return errors.Join(err, errPasskey(nil))
	}
	return tx.Put(r)
}

func errPasskey(err error) error {
	if errors.Is(err, ErrNobody) { // whose it is, or that it is nobody's, is not told
		err = nil
	}
	return &diag.Error{Kind: diag.Denied, Op: "use a passkey", Msg: "the passkey does not fit", Hint: "try again, or sign in with a password", Err: err}
}

// BeginPasskey asks for a new passkey of one's own: what a browser is given. It asks for a fresh proof.
func (a *Accounts) BeginPasskey(ctx context.Context, s Session) (*protocol.CredentialCreation, error) {
	if err := ask(s.Who, right.ChangeSignIn, right.On{Person: s.Who.Person}); err != nil {
		return nil, err
	}
	if err := a.passkeys(); err != nil {
		return nil, err
	}
	h, err := holderOf(ctx, a.Store, s.Who.Person)
	if err != nil {
		return nil, err
	}
	c, err := a.challenge(s.ID)
	if err != nil {
		return nil, err
	}
	out, _, err := a.registration(h, c)
	return out, err
}

// registration is a ceremony for a new passkey with a challenge.
func (a *Accounts) registration(h holder, c protocol.URLEncodedBase64) (*protocol.CredentialCreation, *webauthn.SessionData, error) {
	out, session, err := a.keys.BeginRegistration(h, webauthn.WithExclusions(webauthn.Credentials(h.keys).CredentialDescriptors()), func(o *protocol.PublicKeyCredentialCreationOptions) error {
		o.Challenge = c
		return nil
	})
	if err != nil {
		return nil, nil, errPasskey(err)
	}
	return out, session, nil
}

// FinishPasskey takes what the browser has answered.
func (a *Accounts) FinishPasskey(ctx context.Context, s Session, name string, answer []byte) (Passkey, error) {
	if err := ask(s.Who, right.ChangeSignIn, right.On{Person: s.Who.Person}); err != nil {
		return Passkey{}, err
	}
	if err := errors.Join(a.passkeys(), checkName("name of the passkey", name)); err != nil {
		return Passkey{}, err
	}
	parsed, err := protocol.ParseCredentialCreationResponseBytes(answer)
	if err != nil {
		return Passkey{}, errPasskey(err)
	}
	c, spent, err := a.ours(parsed.Response.CollectedClientData.Challenge, s.ID, challengeFor)
	if err != nil {
		return Passkey{}, err
	}
	h, err := holderOf(ctx, a.Store, s.Who.Person)
	if err != nil {
		return Passkey{}, err
	}
	_, session, err := a.registration(h, c)
	if err != nil {
		return Passkey{}, err
	}
	key, err := a.keys.CreateCredential(h, *session, parsed)
	if err != nil {
		return Passkey{}, errPasskey(err)
	}
	key.Attestation = webauthn.CredentialAttestation{} // says who made the device, which nobody asks
	id, err := a.id()
	if err != nil {
		return Passkey{}, err
	}
	p := Passkey{ID: id, Name: name, Made: a.now()}
	r := Record{Kind: OfPasskey, ID: id, Person: s.Who.Person, Key: passkeyKey(key.ID)}.with(passkeyData{Name: name, Made: p.Made, Key: *key})
	return p, a.ownProof(ctx, s.Who, Entry{What: PasskeyAdded, More: id}, func(tx Tx, _ *personData) error {
		return errors.Join(spend(ctx, tx, spent), tx.Put(r))
	})
}

// Passkeys are one's own.
func (a *Accounts) Passkeys(ctx context.Context, w right.Who) (out []Passkey, err error) {
	if err := ask(w, right.SeeAccount, right.On{Person: w.Person}); err != nil {
		return nil, err
	}
	rs, err := all(ctx, a.Store, OfPasskey, Which{Person: w.Person})
	for _, r := range rs {
		d, bad := data[passkeyData](r)
		err = errors.Join(err, bad)
		out = append(out, Passkey{r.ID, d.Name, d.Made, d.Wrong})
	}
	return out, err
}

// RemovePasskey takes one of one's own away.
func (a *Accounts) RemovePasskey(ctx context.Context, w right.Who, id string) error {
	return a.ownProof(ctx, w, Entry{What: PasskeyRemoved, More: id}, func(tx Tx, _ *personData) error {
		r, there, err := tx.Get(ctx, OfPasskey, id)
		if err == nil && (!there || r.Person != w.Person) {
			err = absent("passkey")
		}
		if err != nil {
			return err
		}
		return tx.Drop(OfPasskey, id)
	})
}

// BeginSignIn asks whoever comes for a passkey: what a browser is given. It says nothing of anybody.
func (a *Accounts) BeginSignIn() (*protocol.CredentialAssertion, error) {
	return a.beginAssertion("")
}

// BeginProof asks somebody who is signed in for their passkey once more.
func (a *Accounts) BeginProof(s Session) (*protocol.CredentialAssertion, error) {
	if err := ask(s.Who, right.ProveOneself, right.On{Person: s.Who.Person}); err != nil {
		return nil, err
	}
	return a.beginAssertion(s.ID)
}

func (a *Accounts) beginAssertion(of string) (*protocol.CredentialAssertion, error) {
	if err := a.passkeys(); err != nil {
		return nil, err
	}
	c, err := a.challenge(of)
	if err != nil {
		return nil, err
	}
	out, _, err := a.assertion(c)
	return out, err
}

// assertion is a ceremony for a passkey that there is, with a challenge.
func (a *Accounts) assertion(c protocol.URLEncodedBase64) (*protocol.CredentialAssertion, *webauthn.SessionData, error) {
	out, session, err := a.keys.BeginDiscoverableLogin(webauthn.WithUserVerification(protocol.VerificationRequired), func(o *protocol.PublicKeyCredentialRequestOptions) error {
		o.Challenge = c
		return nil
	})
	if err != nil {
		return nil, nil, errPasskey(err)
	}
	return out, session, nil
}

// keyUsed is a passkey that has signed.
type keyUsed struct {
	person   string
	was, now Record
	spent    Record // the challenge
}

// FinishSignIn lets somebody in by what their passkey has answered.
func (a *Accounts) FinishSignIn(ctx context.Context, answer []byte, t Try, from From) (SignedIn, error) {
	used, err := a.asserted(ctx, answer, "", from)
	if err != nil {
		return SignedIn{}, err
	}
	device, err := a.device(ctx, t.Device, used.person)
	if err != nil {
		return SignedIn{}, err
	}
	return a.letIn(ctx, entering{person: used.person, try: t, device: device, from: from, passkey: &used})
}

// FinishProof notes that somebody who is signed in has proved anew who they are, by their passkey.
func (a *Accounts) FinishProof(ctx context.Context, s Session, answer []byte, from From) error {
	if err := ask(s.Who, right.ProveOneself, right.On{Person: s.Who.Person}); err != nil {
		return err
	}
	used, err := a.asserted(ctx, answer, s.ID, from)
	if err == nil && used.person != s.Who.Person {
		err = errPasskey(nil)
	}
	if err != nil {
		return err
	}
	return a.proven(ctx, s, func(tx Tx) error { return a.enter(ctx, tx, entering{person: used.person, passkey: &used}) })
}

// asserted is the passkey that has answered a challenge.
func (a *Accounts) asserted(ctx context.Context, answer []byte, of string, from From) (used keyUsed, err error) {
	if err := a.passkeys(); err != nil {
		return used, err
	}
	parsed, err := protocol.ParseCredentialRequestResponseBytes(answer)
	if err != nil {
		return used, errPasskey(err)
	}
	c, spent, err := a.ours(parsed.Response.CollectedClientData.Challenge, of, challengeFor)
	if err != nil {
		return used, err
	}
	if _, there, err := a.Store.Get(ctx, OfChallenge, spent.ID); err != nil || there { // an answer that comes twice is no copy of a passkey
		return used, errors.Join(err, errPasskey(nil))
	}
	_, session, err := a.assertion(c)
	if err != nil {
		return used, err
	}
	used.spent = spent
	_, key, err := a.keys.ValidatePasskeyLogin(func(rawID, handle []byte) (webauthn.User, error) {
		var there bool
		used.was, there, err = a.Store.Find(ctx, OfPasskey, passkeyKey(rawID))
		if err != nil || !there || used.was.Person != string(handle) {
			return nil, errors.Join(err, ErrNobody)
		}
		used.person = used.was.Person
		return holderOf(ctx, a.Store, used.person)
	}, *session, parsed)
	if err != nil {
		return used, errors.Join(a.failedPasskey(ctx, used.person, from), errPasskey(err))
	}
	return used, a.signed(ctx, &used, key, from)
}

func (a *Accounts) failedPasskey(ctx context.Context, id string, from From) error {
	if id == "" {
		return nil // nobody's: strangers bring that about as often as they like
	}
	e, err := a.entry(Entry{What: SignInFailed, Person: id, Address: from.Address, More: string(ByPasskey)})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error { return tx.Put(e) })
}

// signed is the record of a passkey after it has signed. One whose counter does not go on looks copied (Web Authentication, section
// 6.1.1): it is good no longer.
func (a *Accounts) signed(ctx context.Context, used *keyUsed, key *webauthn.Credential, from From) error {
	d, err := data[passkeyData](used.was)
	if err != nil {
		return err
	}
	d.Key = *key
	if used.now = used.was.with(d); !key.Authenticator.CloneWarning {
		return nil
	}
	d.Wrong = true
	shop, err := a.firstShop(ctx, used.person)
	if err != nil {
		return err
	}
	e, err := a.entry(Entry{What: PasskeyCopied, Person: used.person, Shop: shop, About: used.was.ID, Address: from.Address})
	if err == nil {
		err = a.Store.Change(ctx, func(tx Tx) error { return puts(tx, used.was.with(d), e) })
	}
	return errors.Join(err, errPasskey(nil))
}
