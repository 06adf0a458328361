package account

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// A ticket is good for one thing once: to be the first administrator, or to set a new password.

// How long tickets are good for.
const (
	firstFor   = 30 * time.Minute
	resetFor   = time.Hour
	invitedFor = 7 * 24 * time.Hour
)

// Secret is what is told once; in an address it stands behind the #.
type Secret struct {
	Text string
	Ends time.Time
}

// errTicket is the answer to a ticket that was never there, used, or is over: one cannot be told from the other.
func errTicket() error {
	return &diag.Error{Kind: diag.Denied, Op: "use a link", Msg: "this link is not good any more", Hint: "ask for a new one"}
}

// firstID is the name of the ticket of first use; it stays there when that is over.
const firstID = "first"

type firstData struct {
	By string `json:"by,omitempty"` // who has used it
}

// used says whether somebody has been the first.
func used(ctx context.Context, in Reader) (by string, err error) {
	r, there, err := in.Get(ctx, OfTicket, firstID)
	if err != nil || !there {
		return "", err
	}
	d, err := data[firstData](r)
	return d.By, err
}

// Used says whether there is an administrator: first use is over then.
func (a *Accounts) Used(ctx context.Context) (bool, error) {
	by, err := used(ctx, a.Store)
	return by != "", err
}

// FirstUse is the secret by which somebody at the console makes themselves the first administrator. An earlier one is good no
// longer. Once there is an administrator there is none.
func (a *Accounts) FirstUse(ctx context.Context) (Secret, error) {
	text, key, err := a.secret()
	if err != nil {
		return Secret{}, err
	}
	s := Secret{text, a.now().Add(firstFor)}
	return s, a.Store.Change(ctx, func(tx Tx) error {
		if by, err := used(ctx, tx); err != nil || by != "" {
			if err == nil {
				err = &diag.Error{Kind: diag.Denied, Op: "begin", Msg: "there is an administrator already", Hint: "who has forgotten the password asks for a link to set a new one"}
			}
			return err
		}
		return tx.Put(Record{Kind: OfTicket, ID: firstID, Key: key, Ends: s.Ends}.with(firstData{}))
	})
}

// First is what the first administrator says. Shop is its short name.
type First struct {
	Shop, ShopName string
	NewPerson      // administrator is among the roles whether it says so or not
	Password       string
}

func (f First) check() error {
	return errors.Join(f.NewPerson.check(), checkShopID(f.Shop), checkName("name of the shop", f.ShopName), CheckPassword(f.Password, f.Name, f.SignIn, f.ShopName))
}

// ClaimFirst makes the first administrator and the first shop. Of any number of claims one wins.
func (a *Accounts) ClaimFirst(ctx context.Context, secret string, f First, from From) (SignedIn, error) {
	if !slices.Contains(f.Roles, right.Administrator) {
		f.Roles = append(slices.Clone(f.Roles), right.Administrator)
	}
	err := f.check()
	if err == nil {
		err = a.mayClaim(ctx, a.Store, secret) // before anything is hashed
	}
	if err != nil {
		return SignedIn{}, err
	}
	id, out, records, err := a.firstRecords(ctx, f, from)
	if err != nil {
		return SignedIn{}, err
	}
	err = a.Store.Change(ctx, func(tx Tx) error {
		if by, err := used(ctx, tx); err != nil || by == id { // it was written, and the answer lost
			return err
		}
		if err := a.mayClaim(ctx, tx, secret); err != nil {
			return err
		}
		return puts(tx, records...)
	})
	if err != nil {
		return SignedIn{}, err
	}
	return out, nil
}

// mayClaim refuses a secret that is not the one of first use.
func (a *Accounts) mayClaim(ctx context.Context, in Reader, secret string) error {
	r, there, err := in.Find(ctx, OfTicket, keyOf(secret))
	if err == nil && (!there || r.ID != firstID || !a.good(r)) {
		err = errTicket()
	}
	return err
}

// firstRecords are all that there is once the first administrator is: who that is, their shop, and that they are signed in.
func (a *Accounts) firstRecords(ctx context.Context, f First, from From) (id string, out SignedIn, records []Record, err error) {
	if id, err = a.id(); err != nil {
		return id, out, nil, err
	}
	hash, err := a.made(ctx, f.Password)
	if err != nil {
		return id, out, nil, err
	}
	e, err := a.entry(Entry{What: FirstUsed, Person: id, Shop: f.Shop, Address: from.Address})
	if err != nil {
		return id, out, nil, err
	}
	out, session, err := a.newSession(id, f.Shop, ByPassword, "")
	return id, out, []Record{
		Record{Kind: OfTicket, ID: firstID}.with(firstData{id}), f.record(id, hash, a.now()), e, session,
		Record{Kind: OfShop, ID: f.Shop, Shop: f.Shop}.with(shopData{Name: f.ShopName, First: true, Everybody: true}),
		Record{Kind: OfMember, ID: memberID(id, f.Shop), Person: id, Shop: f.Shop}.with(memberData{f.Roles}),
	}, err
}

// good says whether a record counts now: it has an end that lies before us, and no further than it ever did.
func (a *Accounts) good(r Record) bool { return !r.Ends.IsZero() && a.now().Before(r.Ends) }

// passwordPrefix begins the names of tickets for a new password.
const passwordPrefix = "password-"

type passwordTicketData struct {
	Made  time.Time `json:"made"`
	Codes bool      `json:"codes,omitempty"` // one-time codes and passkeys go too
}

// passwordTicket is a ticket for a new password of a person, the only one they have.
func (a *Accounts) passwordTicket(id string, good time.Duration) (Record, Secret, error) {
	text, key, err := a.secret()
	s := Secret{text, a.now().Add(good)}
	return Record{Kind: OfTicket, ID: passwordPrefix + id, Person: id, Key: key, Ends: s.Ends}.with(passwordTicketData{Made: a.now()}), s, err
}

// ResetLink is the secret of a link by which somebody sets a new password; with lost, one-time codes and passkeys go too when it is used. Until then nothing
// changes. Nobody sets a password for another.
func (a *Accounts) ResetLink(ctx context.Context, w right.Who, id string, lost bool) (Secret, error) {
	return a.resetLink(ctx, id, lost, Entry{What: TicketMade, Person: w.Person, Shop: w.Shop, About: id}, func(in Reader) error { return a.controls(ctx, in, w, id, true) })
}

func (a *Accounts) resetLink(ctx context.Context, id string, lost bool, e Entry, may func(Reader) error) (Secret, error) {
	ticket, secret, err := a.passwordTicket(id, resetFor)
	if err != nil {
		return Secret{}, err
	}
	ticket = ticket.with(passwordTicketData{a.now(), lost})
	line, err := a.entry(e)
	if err != nil {
		return Secret{}, err
	}
	return secret, a.Store.Change(ctx, func(tx Tx) error {
		if err := may(tx); err != nil {
			return err
		}
		if _, p, _, err := person(ctx, tx, id); err != nil || p.State != Active {
			if err == nil {
				err = &diag.Error{Kind: diag.Denied, Op: "reset a password", Subject: id, Msg: "the person is disabled", Hint: "let them in again first"}
			}
			return err
		}
		return puts(tx, ticket, line)
	})
}

// SetPassword sets a new password by the secret of a link. All sessions, and devices on which the person has signed in, are forgotten.
func (a *Accounts) SetPassword(ctx context.Context, secret, password string, from From) error {
	ticket, d, err := a.ticketOf(ctx, a.Store, keyOf(secret))
	if err != nil {
		return err
	}
	if err := a.checkNew(ctx, d.SignIn, d.Name, ticket.Person, password); err != nil {
		return err
	}
	hash, err := a.made(ctx, password)
	if err != nil {
		return err
	}
	in, err := a.firstShop(ctx, ticket.Person)
	if err != nil {
		return err
	}
	e, err := a.entry(Entry{What: PasswordSet, Person: ticket.Person, Shop: in, About: ticket.Person, Address: from.Address, More: "by a link"})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if _, _, d, err := person(ctx, tx, ticket.Person); err == nil && d.Password == hash { // it was written, and the answer lost
			return nil
		}
		if _, _, err := a.ticketOf(ctx, tx, keyOf(secret)); err != nil {
			return err
		}
		t, err := data[passwordTicketData](ticket)
		if err != nil {
			return err
		}
		return a.setPassword(ctx, tx, ticket.Person, hash, t.Codes, e)
	})
}

// setPassword writes the hash of a new password; with lost the other proofs go.
func (a *Accounts) setPassword(ctx context.Context, tx Tx, id, hash string, lost bool, e Record) error {
	r, _, d, err := person(ctx, tx, id)
	if err != nil {
		return err
	}
	d.Password, d.Pending = hash, ""
	drop := []Kind{OfSession, OfDevice, OfTicket}
	if lost {
		d.Codes, d.LastStep = "", 0
		drop = append(drop, OfPasskey, OfIdentity)
	}
	if err := dropAll(ctx, tx, id, drop...); err != nil {
		return err
	}
	if err := tx.Drop(OfGuess, a.blind("account", signInKey(d.SignIn))); err != nil {
		return err
	}
	return puts(tx, r.with(d), e)
}

// ticketOf is the ticket for a new password by what is kept of its secret, with whose it is.
func (a *Accounts) ticketOf(ctx context.Context, in Reader, key string) (Record, personData, error) {
	r, there, err := in.Find(ctx, OfTicket, key)
	if err == nil && (!there || !strings.HasPrefix(r.ID, passwordPrefix) || !a.good(r)) {
		err = errTicket()
	}
	if err != nil {
		return r, personData{}, err
	}
	_, p, d, err := person(ctx, in, r.Person)
	if err == nil && p.State != Active {
		err = errTicket()
	}
	return r, d, err
}

// checkNew refuses a password that goes with the person or their shops.
func (a *Accounts) checkNew(ctx context.Context, signIn, name, id, password string) error {
	words := []string{signIn, name}
	ms, err := all(ctx, a.Store, OfMember, Which{Person: id})
	for _, m := range ms {
		s, bad := shop(ctx, a.Store, m.Shop)
		err = errors.Join(err, bad)
		words = append(words, s.Name, s.ID)
	}
	return errors.Join(err, CheckPassword(password, words...))
}
