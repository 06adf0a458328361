package account

import (
	"context"
	"errors"
	"time"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// How long a session lasts: without use, at most, and how long after a proof the person may do what asks for one.
const (
	IdleFor    = 30 * time.Minute
	SessionFor = 10 * time.Hour // a shift
	FreshFor   = 5 * time.Minute
	readerFor  = 30 * time.Minute
)

// notedEvery is how often the use of a session is noted: it may end so much earlier than IdleFor says, and never later.
const notedEvery = time.Minute

// apart is how far the clocks of several servers may be from one another. Where one was put back by more, a session is over: nobody
// knows how long it was not used.
const apart = 2 * time.Minute

// ErrNobody is the answer to a session or token that was never there, is over, or was ended: one cannot be told from the other.
var ErrNobody = &diag.Error{Kind: diag.Denied, Op: "look who it is", Msg: "nobody is signed in with this", Hint: "sign in"}

// Session is somebody who is signed in, as they are now.
type Session struct {
	ID     string
	Who    right.Who
	Person Person // nobody for a reader from outside
	Shop   Shop
	How    How
	Begun  time.Time
	Proven time.Time // when they last proved who they are
	Ends   time.Time
}

type sessionData struct {
	Begun  time.Time `json:"begun"`
	Proven time.Time `json:"proven"`
	How    How       `json:"how"`
	Link   string    `json:"link,omitempty"`
}

type useData struct {
	At time.Time `json:"at"`
}

// newSession is one that begins now.
func (a *Accounts) newSession(person, shop string, how How, link string) (SignedIn, Record, error) {
	secret, key, err := a.secret()
	if err != nil {
		return SignedIn{}, Record{}, err
	}
	id, err := a.id()
	ends := a.now().Add(SessionFor)
	if link != "" {
		ends = a.now().Add(readerFor)
	}
	r := Record{Kind: OfSession, ID: id, Person: person, Shop: shop, Key: key, Ends: ends}.with(sessionData{a.now(), a.now(), how, link})
	return SignedIn{Session: secret, Ends: ends}, r, err
}

// Session says who shows a secret, read anew each time: one that was ended, by whichever server, is ended at once.
func (a *Accounts) Session(ctx context.Context, secret string) (Session, error) {
	return a.session(ctx, secret, true)
}

// Look is Session, and is no use of it: what goes on by itself keeps nobody signed in who has left.
func (a *Accounts) Look(ctx context.Context, secret string) (Session, error) {
	return a.session(ctx, secret, false)
}

func (a *Accounts) session(ctx context.Context, secret string, used bool) (Session, error) {
	r, there, err := a.Store.Find(ctx, OfSession, keyOf(secret))
	if err == nil && !there {
		err = ErrNobody
	}
	if err != nil {
		return Session{}, err
	}
	d, err := data[sessionData](r)
	if err != nil {
		return Session{}, err
	}
	lasts, note, err := a.lasts(ctx, r, d)
	if err != nil {
		return Session{}, err
	}
	if !lasts { // it goes for good: a clock that is put back does not bring it back
		return Session{}, errors.Join(a.Store.Change(ctx, func(tx Tx) error { return endSession(tx, r.ID) }), ErrNobody)
	}
	s := Session{ID: r.ID, How: d.How, Begun: d.Begun, Proven: d.Proven, Ends: r.Ends}
	if d.Link != "" {
		err = a.reads(ctx, &s, d.Link)
	} else {
		err = a.works(ctx, &s, r.Person, r.Shop)
	}
	if err == nil && note && used {
		err = a.noteUse(ctx, r)
	}
	if err != nil {
		return Session{}, err
	}
	return s, nil
}

// lasts says whether a session goes on, and whether its use has to be noted.
func (a *Accounts) lasts(ctx context.Context, r Record, d sessionData) (lasts, note bool, err error) {
	last := d.Begun
	u, there, err := a.Store.Get(ctx, OfUse, r.ID)
	if err != nil {
		return false, false, err
	}
	if there {
		use, err := data[useData](u)
		if err != nil {
			return false, false, err
		}
		if use.At.After(last) {
			last = use.At
		}
	}
	idle := a.now().Sub(last)
	return a.good(r) && idle > -apart && idle < IdleFor, idle >= notedEvery, nil
}

// noteUse notes that a session is used, if it is still there.
func (a *Accounts) noteUse(ctx context.Context, r Record) error {
	return a.Store.Change(ctx, func(tx Tx) error {
		if _, there, err := tx.Get(ctx, OfSession, r.ID); err != nil || !there {
			return errors.Join(err, ErrNobody)
		}
		return tx.Put(Record{Kind: OfUse, ID: r.ID, Person: r.Person, Ends: r.Ends}.with(useData{a.now()}))
	})
}

// works fills in who a person of a shop is now.
func (a *Accounts) works(ctx context.Context, s *Session, id, in string) (err error) {
	if _, s.Person, _, err = person(ctx, a.Store, id); err != nil {
		return err
	}
	rs, err := roles(ctx, a.Store, id, in)
	if err != nil {
		return err
	}
	if s.Person.State != Active || len(rs) == 0 {
		return ErrNobody
	}
	if s.Shop, err = shop(ctx, a.Store, in); err != nil {
		return err
	}
	since := a.now().Sub(s.Proven)
	s.Who = right.Who{Person: id, Shop: in, Roles: rs, Fresh: since >= 0 && since < FreshFor}
	return nil
}

func endSession(tx Tx, id string) error {
	return errors.Join(tx.Drop(OfSession, id), tx.Drop(OfUse, id))
}

// endOld ends the session that another takes the place of.
func (a *Accounts) endOld(ctx context.Context, tx Tx, secret string) error {
	if secret == "" {
		return nil
	}
	r, there, err := tx.Find(ctx, OfSession, keyOf(secret))
	if err != nil || !there {
		return err
	}
	return endSession(tx, r.ID)
}

// SignOut ends a session; it may have ended.
func (a *Accounts) SignOut(ctx context.Context, secret string, from From) error {
	r, there, err := a.Store.Find(ctx, OfSession, keyOf(secret))
	if err != nil || !there {
		return err
	}
	e, err := a.entry(Entry{What: SignedOut, Person: r.Person, Shop: r.Shop, About: r.ID, Address: from.Address})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error { return errors.Join(endSession(tx, r.ID), tx.Put(e)) })
}

// Sessions are one's own.
func (a *Accounts) Sessions(ctx context.Context, w right.Who) (out []Session, err error) {
	if err := ask(w, right.SeeAccount, right.On{Person: w.Person}); err != nil {
		return nil, err
	}
	rs, err := all(ctx, a.Store, OfSession, Which{Person: w.Person})
	for _, r := range rs {
		d, bad := data[sessionData](r)
		if err = errors.Join(err, bad); err == nil && a.good(r) {
			out = append(out, Session{ID: r.ID, How: d.How, Begun: d.Begun, Proven: d.Proven, Ends: r.Ends, Shop: Shop{ID: r.Shop}})
		}
	}
	return out, err
}

// EndSessions ends one's own session of a name; all of them, and forgets all devices, without one.
func (a *Accounts) EndSessions(ctx context.Context, w right.Who, id string) error {
	return a.endOwn(ctx, w, func(tx Tx) error {
		if id == "" {
			return dropAll(ctx, tx, w.Person, OfSession, OfDevice)
		}
		r, there, err := tx.Get(ctx, OfSession, id)
		if err == nil && (!there || r.Person != w.Person) {
			err = absent("session")
		}
		if err != nil {
			return err
		}
		return endSession(tx, id)
	})
}

// EndOthers ends all of one's own sessions but the one that asks, and forgets all devices.
func (a *Accounts) EndOthers(ctx context.Context, s Session) error {
	return a.endOwn(ctx, s.Who, func(tx Tx) error {
		rs, err := all(ctx, tx, OfSession, Which{Person: s.Who.Person})
		for _, r := range rs {
			if r.ID != s.ID {
				err = errors.Join(err, endSession(tx, r.ID))
			}
		}
		return errors.Join(err, dropAll(ctx, tx, s.Who.Person, OfDevice))
	})
}

// endOwn ends sessions of one's own, which is noted.
func (a *Accounts) endOwn(ctx context.Context, w right.Who, end func(Tx) error) error {
	e, err := a.entry(Entry{What: SessionsEnded, Person: w.Person, Shop: w.Shop, About: w.Person})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, e); err != nil || done {
			return err
		}
		if err := a.askNow(ctx, tx, w, right.EndSessions, right.On{Person: w.Person}); err != nil {
			return err
		}
		if err := end(tx); err != nil {
			return err
		}
		return tx.Put(e)
	})
}

// Prove notes that somebody who is signed in has proved anew who they are, by password, and one-time code where they have such.
func (a *Accounts) Prove(ctx context.Context, s Session, password, code string, from From) error {
	if err := ask(s.Who, right.ProveOneself, right.On{Person: s.Who.Person}); err != nil {
		return err
	}
	r, there, err := a.Store.Get(ctx, OfPerson, s.Who.Person)
	if err != nil || !there || s.Who.Token != "" {
		return errors.Join(err, errWrong())
	}
	d, err := data[personData](r)
	if err != nil {
		return err
	}
	cs := a.counters("", s.ID, "") // of this session alone: nobody else is kept out by it
	if err := a.count(ctx, cs); err != nil {
		return err
	}
	fits, _, err := a.hashes.fits(ctx, password, d.Password)
	if err != nil {
		return err
	}
	if !fits {
		return a.failed(ctx, r.ID, from, ByPassword)
	}
	err = a.proven(ctx, s, func(tx Tx) error {
		return a.enter(ctx, tx, entering{person: r.ID, was: d.Password, try: Try{Code: code}, counters: cs})
	})
	if errors.Is(err, errCode) {
		return a.failed(ctx, r.ID, from, ByCode)
	}
	return err
}

// proven notes a proof of now, once a change has looked at it.
func (a *Accounts) proven(ctx context.Context, s Session, enter func(Tx) error) error {
	return a.provenAt(ctx, s, a.now(), enter)
}

// provenAt notes a proof of a moment; a later one stays.
func (a *Accounts) provenAt(ctx context.Context, s Session, at time.Time, enter func(Tx) error) error {
	return a.Store.Change(ctx, func(tx Tx) error {
		r, there, err := tx.Get(ctx, OfSession, s.ID)
		if err == nil && (!there || r.Person != s.Who.Person) {
			err = ErrNobody
		}
		if err != nil {
			return err
		}
		d, err := data[sessionData](r)
		if err != nil || d.Proven.Equal(at) { // it was written, and the answer lost
			return err
		}
		if err := enter(tx); err != nil {
			return err
		}
		if at.After(d.Proven) {
			d.Proven = at
		}
		return tx.Put(r.with(d))
	})
}

// ChooseShop goes on in another shop of one's own, with another secret.
func (a *Accounts) ChooseShop(ctx context.Context, s Session, secret, to string) (SignedIn, error) {
	if err := ask(s.Who, right.ChooseShop, right.On{Person: s.Who.Person}); err != nil {
		return SignedIn{}, err
	}
	out, fresh, err := a.newSession(s.Who.Person, to, s.How, "")
	if err != nil {
		return SignedIn{}, err
	}
	fresh = fresh.with(sessionData{a.now(), s.Proven, s.How, ""})
	fresh.Ends, out.Ends = s.Ends, s.Ends
	err = a.Store.Change(ctx, func(tx Tx) error {
		if _, there, err := tx.Get(ctx, OfSession, fresh.ID); err != nil || there {
			return err
		}
		if r, there, err := tx.Find(ctx, OfSession, keyOf(secret)); err != nil || !there || r.ID != s.ID || r.Person != s.Who.Person {
			return errors.Join(err, ErrNobody)
		}
		if rs, err := roles(ctx, tx, s.Who.Person, to); err != nil || len(rs) == 0 {
			return errors.Join(err, absent("shop"))
		}
		return errors.Join(endSession(tx, s.ID), tx.Put(fresh))
	})
	if err != nil {
		return SignedIn{}, err
	}
	return out, nil
}
