package account

import (
	"context"
	"errors"
	"fmt"
	"time"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// A link lets a reader from outside see one job up to one event, until a day. Whoever opens it gets a session of half an hour that is
// good for nothing else; each opening is noted, and the shop sees it.

// How long a link is good for where nothing is said, and at most.
const (
	LinkFor  = 30 * 24 * time.Hour
	LinkMost = 180 * 24 * time.Hour
)

// Link is one, without its secret.
type Link struct {
	ID, Shop, Job string
	To            int64 // number of the newest event that is shown
	Files         bool  // all may be taken along
	By            string
	Made, Ends    time.Time
	Revoked       bool
}

type linkData struct {
	Job     string    `json:"job"`
	To      int64     `json:"to"`
	Files   bool      `json:"files"`
	Made    time.Time `json:"made"`
	Revoked bool      `json:"revoked,omitempty"`
}

func linkOf(r Record) (Link, error) {
	d, err := data[linkData](r)
	return Link{r.ID, r.Shop, d.Job, d.To, d.Files, r.Person, d.Made, r.Ends, d.Revoked}, err
}

// NewLink is one that is to be made.
type NewLink struct {
	To    int64
	Files bool
	For   time.Duration // none: LinkFor
}

// MakeLink makes a link for a job, of which is known what the service for jobs knows of it.
func (a *Accounts) MakeLink(ctx context.Context, w right.Who, on right.On, n NewLink) (Link, Secret, error) {
	if n.For == 0 {
		n.For = LinkFor
	}
	if n.For < 0 || n.For > LinkMost || n.To < 1 {
		return Link{}, Secret{}, &diag.Error{Kind: diag.Invalid, Op: "make a link", Subject: on.Job, Msg: fmt.Sprintf("it is good for at most %d days, and shows a job up to one of its events", int(LinkMost.Hours()/24))}
	}
	text, key, err := a.secret()
	if err != nil {
		return Link{}, Secret{}, err
	}
	id, err := a.id()
	if err != nil {
		return Link{}, Secret{}, err
	}
	e, err := a.entry(Entry{What: LinkMade, Person: w.Person, Shop: w.Shop, About: id})
	if err != nil {
		return Link{}, Secret{}, err
	}
	r := Record{Kind: OfLink, ID: id, Person: w.Person, Shop: on.Shop, Key: key, Ends: a.now().Add(n.For).Truncate(time.Millisecond)}.with(linkData{Job: on.Job, To: n.To, Files: n.Files, Made: a.now()})
	l, err := linkOf(r)
	if err != nil {
		return l, Secret{}, err
	}
	return l, Secret{text, r.Ends}, a.Store.Change(ctx, func(tx Tx) error {
		if err := a.askNow(ctx, tx, w, right.MakeLink, on); err != nil {
			return err
		}
		return puts(tx, r, e)
	})
}

// Links are those of a job; whoever may read its history may see them.
func (a *Accounts) Links(ctx context.Context, w right.Who, on right.On) (out []Link, err error) {
	if err := ask(w, right.ReadHistory, on); err != nil || w.Link.ID != "" {
		return nil, errors.Join(err)
	}
	rs, err := all(ctx, a.Store, OfLink, Which{Shop: on.Shop})
	for _, r := range rs {
		l, bad := linkOf(r)
		if err = errors.Join(err, bad); l.Job == on.Job {
			out = append(out, l)
		}
	}
	return out, err
}

// RevokeLink ends a link at once, and with it the sessions of those who have opened it.
func (a *Accounts) RevokeLink(ctx context.Context, w right.Who, on right.On, id string) error {
	e, err := a.entry(Entry{What: LinkRevoked, Person: w.Person, Shop: w.Shop, About: id})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		r, there, err := tx.Get(ctx, OfLink, id)
		if err != nil {
			return err
		}
		var d linkData
		if there {
			if d, err = data[linkData](r); err != nil {
				return err
			}
		}
		if !there || r.Shop != on.Shop || d.Job != on.Job {
			return absent("link")
		}
		on.Author = r.Person
		if err := a.askNow(ctx, tx, w, right.RevokeLink, on); err != nil {
			return err
		}
		d.Revoked = true
		return puts(tx, r.with(d), e)
	})
}

// link is one that is good now.
func (a *Accounts) link(r Record, there bool) (Link, error) {
	if !there {
		return Link{}, errTicket()
	}
	l, err := linkOf(r)
	if err == nil && (l.Revoked || !a.good(r) || a.now().Before(l.Made.Add(-apart))) {
		err = errTicket()
	}
	return l, err
}

// OpenLink lets a reader in by the secret of a link. A wrong one, one that is over and one that was revoked have the same answer.
func (a *Accounts) OpenLink(ctx context.Context, secret string, from From) (SignedIn, error) {
	r, there, err := a.Store.Find(ctx, OfLink, keyOf(secret))
	if err != nil {
		return SignedIn{}, err
	}
	l, err := a.link(r, there)
	if err != nil {
		return SignedIn{}, err
	}
	out, session, err := a.newSession("", l.Shop, ByLink, l.ID)
	if err != nil {
		return SignedIn{}, err
	}
	e, err := a.entry(Entry{What: LinkOpened, Shop: l.Shop, About: l.ID, Address: from.Address})
	if err != nil {
		return SignedIn{}, err
	}
	err = a.Store.Change(ctx, func(tx Tx) error {
		r, there, err := tx.Get(ctx, OfLink, l.ID)
		if err == nil {
			_, err = a.link(r, there)
		}
		if err != nil {
			return err
		}
		return puts(tx, session, e)
	})
	if err != nil {
		return SignedIn{}, err
	}
	return out, nil
}

// reads fills in who a reader from outside is now.
func (a *Accounts) reads(ctx context.Context, s *Session, id string) error {
	r, there, err := a.Store.Get(ctx, OfLink, id)
	if err != nil {
		return err
	}
	l, err := a.link(r, there)
	if err != nil {
		return ErrNobody
	}
	if s.Shop, err = shop(ctx, a.Store, l.Shop); err != nil {
		return err
	}
	s.Who = right.Who{Shop: l.Shop, Roles: []right.Role{right.Reader}, Link: right.Link{ID: l.ID, Job: l.Job, To: l.To, Files: l.Files}}
	return nil
}
