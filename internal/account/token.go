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

// A token is what a program shows that acts for a person in one shop. It may never do more than the person may at that moment, and
// nothing that asks for a fresh proof.

// tokenPrefix tells a token from other secrets, for whoever searches files for what should not be in them.
const tokenPrefix = "fettle_"

// TokenMost is how long a token is good for at most.
const TokenMost = 365 * 24 * time.Hour

// Token is one, without its secret.
type Token struct {
	ID, Person, Shop string
	Name             string // what it is for
	Roles            []right.Role
	Reads            bool // it changes nothing
	Made, Ends       time.Time
}

type tokenData struct {
	Name  string       `json:"name"`
	Roles []right.Role `json:"roles"`
	Reads bool         `json:"reads"`
	Made  time.Time    `json:"made"`
}

// NewToken is one that is to be made.
type NewToken struct {
	Name  string
	Roles []right.Role // of one's own; none: all that one has at the moment
	Reads bool
	For   time.Duration
}

// MakeToken makes a token of one's own for a program; it asks for a fresh proof.
func (a *Accounts) MakeToken(ctx context.Context, w right.Who, n NewToken) (Token, Secret, error) {
	if err := errors.Join(checkName("name of the token", n.Name), checkRoles(n.Roles)); err != nil {
		return Token{}, Secret{}, err
	}
	if n.For <= 0 || n.For > TokenMost {
		return Token{}, Secret{}, &diag.Error{Kind: diag.Invalid, Op: "make a token", Subject: n.Name, Msg: "it is good for a time, of at most 365 days"}
	}
	if len(n.Roles) == 0 {
		n.Roles = w.Roles
	}
	text, _, err := a.secret()
	if err != nil {
		return Token{}, Secret{}, err
	}
	text = tokenPrefix + text
	id, err := a.id()
	if err != nil {
		return Token{}, Secret{}, err
	}
	e, err := a.entry(Entry{What: TokenMade, Person: w.Person, Shop: w.Shop, About: id, More: told(n.Roles)})
	if err != nil {
		return Token{}, Secret{}, err
	}
	t := Token{id, w.Person, w.Shop, n.Name, n.Roles, n.Reads, a.now(), a.now().Add(n.For).Truncate(time.Millisecond)}
	r := Record{Kind: OfToken, ID: id, Person: w.Person, Shop: w.Shop, Key: keyOf(text), Ends: t.Ends}.with(tokenData{n.Name, n.Roles, n.Reads, t.Made})
	return t, Secret{text, t.Ends}, a.Store.Change(ctx, func(tx Tx) error {
		if err := a.askNow(ctx, tx, w, right.MakeToken, right.On{Person: w.Person}); err != nil {
			return err
		}
		own, err := roles(ctx, tx, w.Person, w.Shop)
		if err != nil {
			return err
		}
		for _, role := range n.Roles {
			if !slices.Contains(own, role) {
				return &diag.Error{Kind: diag.Denied, Op: "make a token", Subject: string(role), Msg: "one does not have this role, and so a token of one's own cannot", Hint: "leave it out"}
			}
		}
		return puts(tx, r, e)
	})
}

// Token is who acts by a token, and for whom, as they are now.
func (a *Accounts) Token(ctx context.Context, secret string) (Session, error) {
	if !strings.HasPrefix(secret, tokenPrefix) {
		return Session{}, ErrNobody
	}
	r, there, err := a.Store.Find(ctx, OfToken, keyOf(secret))
	if err == nil && (!there || !a.good(r)) {
		err = ErrNobody
	}
	if err != nil {
		return Session{}, err
	}
	d, err := data[tokenData](r)
	if err != nil {
		return Session{}, err
	}
	if a.now().Before(d.Made.Add(-apart)) { // the clock was put back: nobody knows whether it is over
		return Session{}, ErrNobody
	}
	s := Session{ID: r.ID, How: ByToken, Begun: d.Made, Ends: r.Ends}
	if err := a.works(ctx, &s, r.Person, r.Shop); err != nil {
		return Session{}, err
	}
	s.Who.Roles = slices.DeleteFunc(slices.Clone(s.Who.Roles), func(role right.Role) bool { return !slices.Contains(d.Roles, role) })
	if len(s.Who.Roles) == 0 {
		return Session{}, ErrNobody
	}
	s.Who.Token, s.Who.Reads, s.Who.Fresh = r.ID, d.Reads, false
	return s, nil
}

// Tokens are one's own; those of all of one's shop with everybody.
func (a *Accounts) Tokens(ctx context.Context, w right.Who, everybody bool) (out []Token, err error) {
	act, on, which := right.SeeAccount, right.On{Person: w.Person}, Which{Person: w.Person}
	if everybody {
		act, on, which = right.ManageTokens, right.On{Shop: w.Shop}, Which{Shop: w.Shop}
	}
	if err := ask(w, act, on); err != nil {
		return nil, err
	}
	rs, err := all(ctx, a.Store, OfToken, which)
	for _, r := range rs {
		d, bad := data[tokenData](r)
		err = errors.Join(err, bad)
		out = append(out, Token{r.ID, r.Person, r.Shop, d.Name, d.Roles, d.Reads, d.Made, r.Ends})
	}
	return out, err
}

// RevokeToken ends a token of one's own at once, or, by who may, of somebody else in the shop.
func (a *Accounts) RevokeToken(ctx context.Context, w right.Who, id string) error {
	e, err := a.entry(Entry{What: TokenRevoked, Person: w.Person, Shop: w.Shop, About: id})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, e); err != nil || done {
			return err
		}
		r, there, err := tx.Get(ctx, OfToken, id)
		if err != nil {
			return err
		}
		if there && r.Person == w.Person {
			err = a.askNow(ctx, tx, w, right.RevokeToken, right.On{Person: w.Person})
		} else if err = a.askNow(ctx, tx, w, right.ManageTokens, right.On{Shop: w.Shop}); err == nil && (!there || r.Shop != w.Shop) { // in this order: who may not is not told what there is
			err = absent("token")
		}
		if err != nil {
			return err
		}
		return errors.Join(tx.Drop(OfToken, id), tx.Put(e))
	})
}
