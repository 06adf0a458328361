package account

import (
	"context"
	"errors"
	"time"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// From is where somebody comes from.
type From struct{ Address string }

// Try is what somebody shows to be let in.
type Try struct {
	Name, Password string
	Code           string // a one-time code, where the person has such
	Device         string // the secret of a device on which somebody has signed in before
	Shop           string // the one to work in; empty: the first of theirs
	Old            string // the secret of a session that this one takes the place of
}

// How is by what somebody has signed in.
type How string

// Ways.
const (
	ByPassword How = "password"
	ByCode     How = "password and one-time code"
	ByPasskey  How = "passkey"
	ByLink     How = "link"
	ByToken    How = "token" // a program
)

// SignedIn is what somebody who was let in shows from now on. Each is told once.
type SignedIn struct {
	Session  string
	Ends     time.Time
	Device   string // to be shown with the next sign-in; empty: the one that was shown
	NeedCode bool   // nobody is signed in: a one-time code is asked for besides
}

// errWrong is the answer to everything that does not fit: a name that nobody has, a wrong password or code, somebody who is
// disabled, or of no shop.
func errWrong() error {
	return &diag.Error{Kind: diag.Denied, Op: "sign in", Msg: "name, password or code do not fit", Hint: "try again, use a passkey, or ask an administrator for a link to set a new password"}
}

// How long a device is known.
const deviceFor = 90 * 24 * time.Hour

// SignIn lets somebody in by name and password. It does the same work for a name that nobody has. An error of type *Wait says that
// too much was guessed.
func (a *Accounts) SignIn(ctx context.Context, t Try, from From) (SignedIn, error) {
	key := signInKey(cut(t.Name, mostName))
	r, _, err := a.Store.Find(ctx, OfPerson, key)
	if err != nil {
		return SignedIn{}, err
	}
	device, err := a.device(ctx, t.Device, r.ID)
	if err != nil {
		return SignedIn{}, err
	}
	cs := a.counters(key, device, from.Address)
	if err := a.count(ctx, cs); err != nil {
		return SignedIn{}, err
	}
	var d personData
	if r.ID != "" {
		if d, err = data[personData](r); err != nil {
			return SignedIn{}, err
		}
	}
	fits, old, err := a.hashes.fits(ctx, t.Password, d.Password)
	if err != nil {
		return SignedIn{}, err
	}
	if !fits || d.State != Active {
		return SignedIn{}, a.failed(ctx, r.ID, from, ByPassword)
	}
	if d.Codes != "" && t.Code == "" {
		return SignedIn{NeedCode: true}, a.Store.Change(ctx, func(tx Tx) error {
			for _, c := range cs {
				if err := a.takeBack(ctx, tx, c); err != nil {
					return err
				}
			}
			return nil
		})
	}
	fresh := ""
	if old {
		if fresh, err = a.made(ctx, t.Password); err != nil {
			return SignedIn{}, err
		}
	}
	return a.letIn(ctx, entering{person: r.ID, was: d.Password, rehashed: fresh, try: t, device: device, from: from, counters: cs})
}

// failed notes that somebody was not let in.
func (a *Accounts) failed(ctx context.Context, person string, from From, how How) error {
	e, err := a.entry(Entry{What: SignInFailed, Person: person, Address: from.Address, More: string(how)})
	if err == nil {
		err = a.Store.Change(ctx, func(tx Tx) error { return tx.Put(e) })
	}
	return errors.Join(err, errWrong())
}

// entering is somebody whose proof fits.
type entering struct {
	person        string
	was, rehashed string // hash that the password fits, and the one that takes its place
	try           Try
	device        string
	from          From
	counters      []counter
	passkey       *keyUsed
	identity      *identityUsed
}

// how is by what they come in.
func (in entering) how() How {
	switch {
	case in.identity != nil:
		return ByProvider
	case in.passkey != nil:
		return ByPasskey
	case in.try.Code != "":
		return ByCode
	}
	return ByPassword
}

// errCode says that a code does not fit.
var errCode = errors.New("the code does not fit")

// letIn makes a session for somebody whose proof fits, if nothing has changed meanwhile.
func (a *Accounts) letIn(ctx context.Context, in entering) (SignedIn, error) {
	how := in.how()
	out, session, err := a.newSession(in.person, "", how, "")
	if err != nil {
		return SignedIn{}, err
	}
	if in.identity != nil { // they have proved it when the provider says they did
		session = session.with(sessionData{Begun: a.now(), Proven: in.identity.who.says.Proven, How: how})
	}
	var device Record
	if in.device == "" {
		if device, out.Device, err = a.newDevice(in.person); err != nil {
			return SignedIn{}, err
		}
	}
	e, err := a.entry(Entry{What: SignedInBy, Person: in.person, About: session.ID, Address: in.from.Address, More: string(how)})
	if err != nil {
		return SignedIn{}, err
	}
	err = a.Store.Change(ctx, func(tx Tx) error {
		if _, there, err := tx.Get(ctx, OfSession, session.ID); err != nil || there { // it was written, and the answer lost
			return err
		}
		if err := a.enter(ctx, tx, in); err != nil {
			return err
		}
		shop, err := a.shopFor(ctx, tx, in.person, in.try.Shop)
		if err != nil {
			return err
		}
		session.Shop, e.Shop = shop, shop
		if in.device == "" {
			if err := tx.Put(device); err != nil {
				return err
			}
		}
		return errors.Join(puts(tx, session, e), a.endOld(ctx, tx, in.try.Old))
	})
	if errors.Is(err, errCode) {
		return SignedIn{}, a.failed(ctx, in.person, in.from, how)
	}
	if err != nil {
		return SignedIn{}, err
	}
	return out, nil
}

// enter looks once more at what the proof rested on, and notes that it was used.
func (a *Accounts) enter(ctx context.Context, tx Tx, in entering) error {
	r, _, d, err := person(ctx, tx, in.person)
	if err != nil {
		return err
	}
	if d.State != Active || in.passkey == nil && in.identity == nil && d.Password != in.was {
		return errCode
	}
	if in.identity != nil {
		now, there, err := tx.Get(ctx, OfIdentity, in.identity.tied.ID)
		if err != nil || !there || now.Person != in.person {
			return errors.Join(err, errCode)
		}
		if in.identity.who.spent.ID == "" { // it was before
			return nil
		}
		return spend(ctx, tx, in.identity.who.spent)
	}
	if in.passkey != nil {
		now, there, err := tx.Get(ctx, OfPasskey, in.passkey.was.ID)
		if err != nil || !there || now.Person != in.person || now.Data != in.passkey.was.Data { // it was used meanwhile: by whom?
			return errors.Join(err, errCode)
		}
		return errors.Join(spend(ctx, tx, in.passkey.spent), tx.Put(in.passkey.now))
	}
	if d.Codes != "" {
		step, err := a.codeFits(in.person, d, in.try.Code)
		if err != nil {
			return err
		}
		d.LastStep = step
	}
	if in.rehashed != "" {
		d.Password = in.rehashed
	}
	return errors.Join(tx.Put(r.with(d)), a.guessedRight(ctx, tx, in.counters))
}

// shopFor is the shop that somebody works in: the wanted one if they are of it, else the first of theirs.
func (a *Accounts) shopFor(ctx context.Context, in Reader, person, wanted string) (string, error) {
	ms, err := all(ctx, in, OfMember, Which{Person: person})
	if err != nil {
		return "", err
	}
	for _, m := range ms {
		if wanted == "" || m.Shop == wanted {
			return m.Shop, nil
		}
	}
	return "", errCode // of no shop, or not of this one
}

// device is the name of a known device of a person; empty for any other.
func (a *Accounts) device(ctx context.Context, secret, person string) (string, error) {
	if secret == "" {
		return "", nil
	}
	r, there, err := a.Store.Find(ctx, OfDevice, keyOf(secret))
	if err != nil || !there || person == "" || r.Person != person || !a.good(r) {
		return "", err
	}
	return r.ID, nil
}

func (a *Accounts) newDevice(person string) (Record, string, error) {
	secret, key, err := a.secret()
	if err != nil {
		return Record{}, "", err
	}
	id, err := a.id()
	return Record{Kind: OfDevice, ID: id, Person: person, Key: key, Ends: a.now().Add(deviceFor)}.with(struct{}{}), secret, err
}

// ChangePassword sets a new password of one's own; it asks for a fresh proof. Everybody who was signed in as this person is signed out, and they are
// signed in anew.
func (a *Accounts) ChangePassword(ctx context.Context, s Session, password string, from From) (SignedIn, error) {
	if err := ask(s.Who, right.ChangeSignIn, right.On{Person: s.Who.Person}); err != nil {
		return SignedIn{}, err
	}
	_, _, was, err := person(ctx, a.Store, s.Who.Person)
	if err == nil {
		err = a.checkNew(ctx, was.SignIn, was.Name, s.Who.Person, password)
	}
	if err != nil {
		return SignedIn{}, err
	}
	hash, err := a.made(ctx, password)
	if err != nil {
		return SignedIn{}, err
	}
	return a.anew(ctx, s, from, func(tx Tx, e Record) error { return a.setPassword(ctx, tx, s.Who.Person, hash, false, e) })
}

// anew signs somebody in anew, on a new device, with a change of their own sign-in by which all others are signed out.
func (a *Accounts) anew(ctx context.Context, s Session, from From, change func(tx Tx, e Record) error) (SignedIn, error) {
	out, session, err := a.newSession(s.Who.Person, s.Who.Shop, s.How, "")
	if err != nil {
		return SignedIn{}, err
	}
	device, secret, err := a.newDevice(s.Who.Person)
	if err != nil {
		return SignedIn{}, err
	}
	out.Device = secret
	e, err := a.entry(Entry{What: PasswordSet, Person: s.Who.Person, Shop: s.Who.Shop, About: s.Who.Person, Address: from.Address})
	if err != nil {
		return SignedIn{}, err
	}
	err = a.Store.Change(ctx, func(tx Tx) error {
		if _, there, err := tx.Get(ctx, OfSession, session.ID); err != nil || there {
			return err
		}
		if _, there, err := tx.Get(ctx, OfSession, s.ID); err != nil || !there { // was ended meanwhile
			return errors.Join(err, ErrNobody)
		}
		if err := a.askNow(ctx, tx, s.Who, right.ChangeSignIn, right.On{Person: s.Who.Person}); err != nil {
			return err
		}
		if err := change(tx, e); err != nil {
			return err
		}
		return puts(tx, session, device)
	})
	if err != nil {
		return SignedIn{}, err
	}
	return out, nil
}
