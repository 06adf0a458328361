package account

import (
	"context"
	"errors"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// Console is what somebody may do who sits at the machine and can read the data folder: they are asked for no proof, because
// they could write the database itself. What they do is noted, by nobody's name.
type Console struct{ a *Accounts }

// AtConsole is for the command line on a data folder alone.
func (a *Accounts) AtConsole() Console { return Console{a} }

// FirstUse is Accounts.FirstUse.
func (c Console) FirstUse(ctx context.Context) (Secret, error) { return c.a.FirstUse(ctx) }

// Check is Accounts.Check.
func (c Console) Check(ctx context.Context) error { return c.a.Check(ctx) }

// People is everybody in every shop.
func (c Console) People(ctx context.Context) ([]Member, error) {
	return membersOf(ctx, c.a.Store, "")
}

// find is the person of an opaque name, or one to sign in with.
func (c Console) find(ctx context.Context, who string) (string, error) {
	if _, there, err := c.a.Store.Get(ctx, OfPerson, who); err != nil || there {
		return who, err
	}
	r, there, err := c.a.Store.Find(ctx, OfPerson, signInKey(who))
	if err == nil && !there {
		err = &diag.Error{Kind: diag.NotFound, Op: "find a person", Subject: who, Msg: "there is nobody of that name", Hint: "give the name they sign in with, or the one of the list"}
	}
	return r.ID, err
}

// ResetLink is the secret of a link for a new password of somebody.
func (c Console) ResetLink(ctx context.Context, who string, lost bool) (Secret, error) {
	id, err := c.find(ctx, who)
	if err != nil {
		return Secret{}, err
	}
	in, err := c.a.firstShop(ctx, id)
	if err != nil {
		return Secret{}, err
	}
	return c.a.resetLink(ctx, id, lost, Entry{What: TicketMade, Shop: in, About: id, More: "at the console"}, func(Reader) error { return nil })
}

// SetState disables somebody, or lets them in again. An administrator is left in every shop.
func (c Console) SetState(ctx context.Context, who string, active bool) error {
	id, err := c.find(ctx, who)
	if err != nil {
		return err
	}
	what := Disabled
	if active {
		what = Enabled
	}
	in, err := c.a.firstShop(ctx, id)
	if err != nil {
		return err
	}
	e, err := c.a.entry(Entry{What: what, Shop: in, About: id, More: "at the console"})
	if err != nil {
		return err
	}
	return c.a.Store.Change(ctx, func(tx Tx) error {
		if !active {
			if err := stays(ctx, tx, id); err != nil {
				return err
			}
		}
		return c.a.setState(ctx, tx, id, active, e)
	})
}

// stays refuses to take the last administrator from a shop.
func stays(ctx context.Context, tx Tx, id string) error {
	ms, err := all(ctx, tx, OfMember, Which{Person: id})
	for _, m := range ms {
		admins, bad := administrators(ctx, tx, m.Shop)
		if err = errors.Join(err, bad); err == nil && slices.Contains(admins, id) && len(admins) == 1 {
			err = &diag.Error{Kind: diag.Denied, Op: "disable somebody", Subject: id, Msg: "they are the only administrator of the shop " + m.Shop, Hint: "make somebody else one first"}
		}
	}
	return err
}

// GiveRoles says what somebody is in a shop.
func (c Console) GiveRoles(ctx context.Context, who, in string, rs []right.Role) error {
	id, err := c.find(ctx, who)
	if err = errors.Join(err, checkRoles(rs)); err != nil {
		return err
	}
	e, err := c.a.entry(Entry{What: RolesGiven, Shop: in, About: id, More: told(rs) + " (at the console)"})
	if err != nil {
		return err
	}
	return c.a.Store.Change(ctx, func(tx Tx) error {
		if _, err := shop(ctx, tx, in); err != nil {
			return err
		}
		admins, err := administrators(ctx, tx, in)
		if err == nil && len(admins) == 1 && admins[0] == id && !slices.Contains(rs, right.Administrator) {
			err = &diag.Error{Kind: diag.Denied, Op: "give roles", Subject: id, Msg: "an administrator has to be left", Hint: "make somebody else one first"}
		}
		if err == nil {
			err = dropAll(ctx, tx, id, OfSession)
		}
		if err != nil {
			return err
		}
		if len(rs) == 0 {
			return errors.Join(tx.Drop(OfMember, memberID(id, in)), tx.Put(e))
		}
		return puts(tx, Record{Kind: OfMember, ID: memberID(id, in), Person: id, Shop: in}.with(memberData{rs}), e)
	})
}
