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

// Somebody who is of one shop joins another by an invitation: an administrator there makes it for whoever shows its secret, and
// the person takes it up themselves, once. Nobody learns by that who is in other shops, and nobody is made a member who does not want it.

// Invitation is one, without its secret.
type Invitation struct {
	ID, Shop string
	By       string
	Roles    []right.Role
	Made     time.Time
	Ends     time.Time
}

type invitationData struct {
	By    string       `json:"by"`
	Roles []right.Role `json:"roles"`
	Made  time.Time    `json:"made"`
}

// invitationPrefix begins the names of tickets that are invitations.
const invitationPrefix = "invitation-"

func invitationOf(r Record) (Invitation, error) {
	d, err := data[invitationData](r)
	return Invitation{r.ID, r.Shop, d.By, d.Roles, d.Made, r.Ends}, err
}

// Invite makes an invitation into one's own shop, for somebody who is in another one of the group.
func (a *Accounts) Invite(ctx context.Context, w right.Who, rs []right.Role) (Invitation, Secret, error) {
	err := checkRoles(rs)
	if err == nil && len(rs) == 0 {
		err = &diag.Error{Kind: diag.Invalid, Op: "invite", Subject: "roles", Msg: "nobody is invited to be nothing", Hint: "give technician, planner, reviewer or administrator"}
	}
	if err != nil {
		return Invitation{}, Secret{}, err
	}
	text, key, err := a.secret()
	if err != nil {
		return Invitation{}, Secret{}, err
	}
	id, err := a.id()
	if err != nil {
		return Invitation{}, Secret{}, err
	}
	id = invitationPrefix + id
	e, err := a.entry(Entry{What: InvitationMade, Person: w.Person, Shop: w.Shop, About: id, More: told(rs)})
	if err != nil {
		return Invitation{}, Secret{}, err
	}
	r := Record{Kind: OfTicket, ID: id, Shop: w.Shop, Key: key, Ends: a.now().Add(invitedFor)}.with(invitationData{w.Person, rs, a.now()})
	out, err := invitationOf(r)
	if err != nil {
		return out, Secret{}, err
	}
	return out, Secret{text, r.Ends}, a.Store.Change(ctx, func(tx Tx) error {
		if err := a.askNow(ctx, tx, w, right.ManagePeople, right.On{Shop: w.Shop}); err != nil {
			return err
		}
		return puts(tx, r, e)
	})
}

// Invitations are those into one's own shop that nobody has taken up yet.
func (a *Accounts) Invitations(ctx context.Context, w right.Who) (out []Invitation, err error) {
	if err := ask(w, right.ManagePeople, right.On{Shop: w.Shop}); err != nil {
		return nil, err
	}
	rs, err := all(ctx, a.Store, OfTicket, Which{Shop: w.Shop})
	for _, r := range rs {
		if !strings.HasPrefix(r.ID, invitationPrefix) || !a.good(r) {
			continue
		}
		i, bad := invitationOf(r)
		err = errors.Join(err, bad)
		out = append(out, i)
	}
	return out, err
}

// TakeBack takes an invitation into one's own shop back.
func (a *Accounts) TakeBack(ctx context.Context, w right.Who, id string) error {
	e, err := a.entry(Entry{What: InvitationGone, Person: w.Person, Shop: w.Shop, About: id})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, e); err != nil || done {
			return err
		}
		if err := a.askNow(ctx, tx, w, right.ManagePeople, right.On{Shop: w.Shop}); err != nil {
			return err
		}
		r, there, err := tx.Get(ctx, OfTicket, id)
		if err == nil && (!there || !strings.HasPrefix(id, invitationPrefix) || r.Shop != w.Shop) {
			err = absent("invitation")
		}
		if err != nil {
			return err
		}
		return errors.Join(tx.Drop(OfTicket, id), tx.Put(e))
	})
}

// invitation is one that is good now. One that was never there, is over, or was made by somebody who may not any more, cannot be told from another.
func (a *Accounts) invitation(ctx context.Context, in Reader, secret string) (Invitation, error) {
	r, there, err := in.Find(ctx, OfTicket, keyOf(secret))
	if err == nil && (!there || !strings.HasPrefix(r.ID, invitationPrefix) || !a.good(r)) {
		err = errTicket()
	}
	if err != nil {
		return Invitation{}, err
	}
	i, err := invitationOf(r)
	if err != nil {
		return i, err
	}
	admins, err := administrators(ctx, in, i.Shop)
	if err == nil && !slices.Contains(admins, i.By) {
		err = errTicket()
	}
	return i, err
}

// Join makes oneself a member of the shop that one was invited into. Who is of it already is not: nobody changes their own roles.
func (a *Accounts) Join(ctx context.Context, w right.Who, secret string) (Shop, error) {
	e, err := a.entry(Entry{What: ShopJoined, Person: w.Person, About: w.Person})
	if err != nil {
		return Shop{}, err
	}
	var out Shop
	err = a.Store.Change(ctx, func(tx Tx) error {
		if err := a.askNow(ctx, tx, w, right.JoinOrLeave, right.On{Person: w.Person}); err != nil {
			return err
		}
		if was, done, err := tx.Get(ctx, OfEntry, e.ID); err != nil || done {
			if err == nil {
				out, err = shop(ctx, tx, was.Shop)
			}
			return err
		}
		i, err := a.invitation(ctx, tx, secret)
		if err != nil {
			return err
		}
		if out, err = shop(ctx, tx, i.Shop); err != nil {
			return err
		}
		own, err := roles(ctx, tx, w.Person, i.Shop)
		if err == nil && len(own) > 0 {
			err = &diag.Error{Kind: diag.Conflict, Op: "join a shop", Subject: i.Shop, Msg: "one is of this shop already", Hint: "an administrator there gives other roles"}
		}
		if err != nil {
			return err
		}
		line, err := withMore(e, i.Shop, told(i.Roles))
		if err != nil {
			return err
		}
		member := Record{Kind: OfMember, ID: memberID(w.Person, i.Shop), Person: w.Person, Shop: i.Shop}.with(memberData{i.Roles})
		return errors.Join(puts(tx, member, line), tx.Drop(OfTicket, i.ID))
	})
	if err != nil {
		return Shop{}, err
	}
	return out, nil
}

// withMore is a line of the log of a shop that is known only now.
func withMore(e Record, shop, more string) (Record, error) {
	d, err := data[entryData](e)
	d.More, e.Shop = more, shop
	return e.with(d), err
}

// OwnShops are the shops that one is of, and as what.
func (a *Accounts) OwnShops(ctx context.Context, w right.Who) (out []Membership, err error) {
	if err := ask(w, right.SeeAccount, right.On{Person: w.Person}); err != nil {
		return nil, err
	}
	rs, err := all(ctx, a.Store, OfMember, Which{Person: w.Person})
	for _, r := range rs {
		d, bad := data[memberData](r)
		s, bad2 := shop(ctx, a.Store, r.Shop)
		err = errors.Join(err, bad, bad2)
		out = append(out, Membership{s, d.Roles})
	}
	return out, err
}

// Membership is what somebody is in a shop.
type Membership struct {
	Shop  Shop
	Roles []right.Role
}

// Leave ends one's own membership of a shop, with the sessions and tokens in it. An administrator is left there, and nobody leaves their only shop: they would be
// nowhere, where nobody could look after them.
func (a *Accounts) Leave(ctx context.Context, w right.Who, id string) error {
	e, err := a.entry(Entry{What: ShopLeft, Person: w.Person, Shop: id, About: w.Person})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, e); err != nil || done {
			return err
		}
		if err := a.askNow(ctx, tx, w, right.JoinOrLeave, right.On{Person: w.Person}); err != nil {
			return err
		}
		own, err := all(ctx, tx, OfMember, Which{Person: w.Person})
		if err == nil && !slices.ContainsFunc(own, func(r Record) bool { return r.Shop == id }) {
			err = absent("shop")
		}
		if err == nil && len(own) == 1 {
			err = &diag.Error{Kind: diag.Denied, Op: "leave a shop", Subject: id, Msg: "it is the only shop one is of", Hint: "an administrator disables or erases who leaves the group"}
		}
		if err != nil {
			return err
		}
		admins, err := administrators(ctx, tx, id)
		if err == nil && len(admins) == 1 && admins[0] == w.Person {
			err = &diag.Error{Kind: diag.Denied, Op: "leave a shop", Subject: id, Msg: "an administrator has to be left", Hint: "make somebody else one first"}
		}
		if err != nil {
			return err
		}
		return errors.Join(tx.Drop(OfMember, memberID(w.Person, id)), dropIn(ctx, tx, w.Person, id), tx.Put(e))
	})
}

// dropIn ends what somebody has in a shop: sessions and tokens.
func dropIn(ctx context.Context, tx Tx, person, shop string) error {
	for _, k := range []Kind{OfSession, OfToken} {
		rs, err := all(ctx, tx, k, Which{Person: person})
		for _, r := range rs {
			if r.Shop == shop {
				err = errors.Join(err, tx.Drop(k, r.ID), tx.Drop(OfUse, r.ID))
			}
		}
		if err != nil {
			return err
		}
	}
	return nil
}
