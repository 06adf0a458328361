package account

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
	"slices"
	"strings"
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

// How often a link is opened at most: where nothing is said, and whatever is.
const (
	OpenFor  = 100
	OpenMost = 200
)

// Link is one, without its secret.
type Link struct {
	ID, Shop, Job string
	To            int64 // number of the newest event that is shown
	Files         bool  // all may be taken along
	By            string
	Made, Ends    time.Time
	Revoked       bool
	Day, Seal     string // the day it is judged on, and the hash of what is shown
	Most          int    // times it may be opened
	Coded         bool   // a code is asked for besides, which is told by another way
	Code          string // that code; told once
	Openings      []Opening
}

// Opening is one of a link.
type Opening struct {
	At   time.Time `json:"at"`
	From string    `json:"from"` // from what kind of address
}

type linkData struct {
	Job     string    `json:"job"`
	To      int64     `json:"to"`
	Files   bool      `json:"files"`
	Made    time.Time `json:"made"`
	Revoked bool      `json:"revoked,omitempty"`
	Day     string    `json:"day,omitempty"`
	Seal    string    `json:"seal,omitempty"`
	Most    int       `json:"most,omitempty"`
	Coded   bool      `json:"coded,omitempty"`
	Opened  []Opening `json:"opened,omitempty"`
}

func linkOf(r Record) (Link, error) {
	d, err := data[linkData](r)
	if d.Most < 1 {
		d.Most = OpenFor
	}
	return Link{ID: r.ID, Shop: r.Shop, Job: d.Job, To: d.To, Files: d.Files, By: r.Person, Made: d.Made, Ends: r.Ends, Revoked: d.Revoked, Day: d.Day, Seal: d.Seal, Most: d.Most, Coded: d.Coded, Openings: d.Opened}, err
}

// NewLink is one that is to be made.
type NewLink struct {
	To    int64
	Files bool
	For   time.Duration // none: LinkFor
	Day   string        // on which it is judged
	Seal  string        // hash of what is shown
	Most  int           // times it may be opened; none: OpenFor
	Coded bool          // with a code that is told by another way
}

// MakeLink makes a link for a job, of which is known what the service for jobs knows of it.
func (a *Accounts) MakeLink(ctx context.Context, w right.Who, on right.On, n NewLink) (Link, Secret, error) {
	if n.For == 0 {
		n.For = LinkFor
	}
	if n.For < 0 || n.For > LinkMost || n.To < 1 {
		return Link{}, Secret{}, &diag.Error{Kind: diag.Invalid, Op: "make a link", Subject: on.Job, Msg: fmt.Sprintf("it is good for at most %d days, and shows a job up to one of its events", int(LinkMost.Hours()/24))}
	}
	if n.Most == 0 {
		n.Most = OpenFor
	}
	if n.Most < 0 || n.Most > OpenMost {
		return Link{}, Secret{}, &diag.Error{Kind: diag.Invalid, Op: "make a link", Subject: on.Job, Msg: fmt.Sprintf("it is opened at most %d times", OpenMost)}
	}
	text, key, err := a.secret()
	if err != nil {
		return Link{}, Secret{}, err
	}
	code := ""
	if n.Coded {
		if code, err = a.linkCode(); err != nil {
			return Link{}, Secret{}, err
		}
		key = keyWith(text, code)
	}
	id, err := a.id()
	if err != nil {
		return Link{}, Secret{}, err
	}
	e, err := a.entry(Entry{What: LinkMade, Person: w.Person, Shop: w.Shop, About: id})
	if err != nil {
		return Link{}, Secret{}, err
	}
	r := Record{Kind: OfLink, ID: id, Person: w.Person, Shop: on.Shop, Key: key, Ends: a.now().Add(n.For).Truncate(time.Millisecond)}.with(linkData{Job: on.Job, To: n.To, Files: n.Files, Made: a.now(), Day: n.Day, Seal: n.Seal, Most: n.Most, Coded: n.Coded})
	l, err := linkOf(r)
	l.Code = code
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
	if err := ask(w, right.ReadHistory, on); err != nil {
		return nil, err
	}
	if w.Link.ID != "" {
		return nil, absent("link")
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

// link is one that is good now: not over, not revoked, and made by somebody who still might make it.
func (a *Accounts) link(ctx context.Context, in Reader, r Record, there bool) (Link, error) {
	if !there {
		return Link{}, errTicket()
	}
	l, err := linkOf(r)
	if err == nil && (l.Revoked || !a.good(r) || a.now().Before(l.Made.Add(-apart))) {
		err = errTicket()
	}
	if err == nil {
		err = a.stillMakes(ctx, in, r)
	}
	return l, err
}

// stillMakes refuses a link whose maker has left, was disabled or makes no links any more.
func (a *Accounts) stillMakes(ctx context.Context, in Reader, r Record) error {
	_, p, _, err := person(ctx, in, r.Person)
	if diag.KindOf(err) == diag.NotFound && err != nil || err == nil && p.State != Active {
		return errTicket()
	}
	if err != nil {
		return err
	}
	rs, err := roles(ctx, in, r.Person, r.Shop)
	if err == nil && !slices.ContainsFunc(rs, func(x right.Role) bool { return x == right.Reviewer || x == right.Planner }) {
		err = errTicket()
	}
	return err
}

// codeLetters is what codes are made of: none is taken for another.
const codeLetters = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"

// linkCode is a code of 50 bits that is told by another way.
func (a *Accounts) linkCode() (string, error) {
	b, err := a.drawn(10)
	for i := range b {
		b[i] = codeLetters[b[i]%32]
	}
	return string(b), err
}

// keyWith is what is kept of a secret and its code: whoever has one of the two has nothing.
func keyWith(secret, code string) string {
	code = strings.ToUpper(strings.Join(strings.FieldsFunc(code, func(r rune) bool { return r == ' ' || r == '-' }), ""))
	if code == "" {
		return keyOf(secret)
	}
	return keyOf(secret + "#" + code)
}

// kindOf is from what kind of address somebody comes, which says nothing of who it is.
func kindOf(address string) string {
	a, err := netip.ParseAddr(address)
	switch {
	case err != nil:
		return "unknown"
	case a.IsLoopback():
		return "this machine"
	case a.IsPrivate(), a.IsLinkLocalUnicast():
		return "a private network"
	}
	return "outside"
}

// OpenLink lets a reader in by the secret of a link, and its code where it has one. A wrong one, one that is over, one that was opened too often
// and one that was revoked have the same answer.
func (a *Accounts) OpenLink(ctx context.Context, secret, code string, from From) (SignedIn, Link, error) {
	r, there, err := a.Store.Find(ctx, OfLink, keyWith(secret, code))
	if err != nil {
		return SignedIn{}, Link{}, err
	}
	l, err := a.link(ctx, a.Store, r, there)
	if err != nil {
		return SignedIn{}, Link{}, err
	}
	out, session, err := a.newSession("", l.Shop, ByLink, l.ID)
	if err != nil {
		return SignedIn{}, Link{}, err
	}
	e, err := a.entry(Entry{What: LinkOpened, Shop: l.Shop, About: l.ID, Address: from.Address})
	if err != nil {
		return SignedIn{}, Link{}, err
	}
	err = a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, e); err != nil || done {
			return err
		}
		r, there, err := tx.Get(ctx, OfLink, l.ID)
		if err == nil {
			l, err = a.link(ctx, tx, r, there)
		}
		if err == nil && len(l.Openings) >= l.Most {
			err = errTicket()
		}
		if err != nil {
			return err
		}
		d, err := data[linkData](r)
		if err != nil {
			return err
		}
		d.Opened = append(d.Opened, Opening{a.now(), kindOf(from.Address)})
		return puts(tx, r.with(d), session, e)
	})
	if err != nil {
		return SignedIn{}, Link{}, err
	}
	return out, l, nil
}

// reads fills in who a reader from outside is now.
func (a *Accounts) reads(ctx context.Context, s *Session, id string) error {
	r, there, err := a.Store.Get(ctx, OfLink, id)
	if err != nil {
		return err
	}
	l, err := a.link(ctx, a.Store, r, there)
	if diag.KindOf(err) == diag.Denied && err != nil {
		return ErrNobody
	}
	if err != nil {
		return err
	}
	if s.Shop, err = shop(ctx, a.Store, l.Shop); err != nil {
		return err
	}
	s.Who = right.Who{Shop: l.Shop, Roles: []right.Role{right.Reader}, Link: right.Link{ID: l.ID, Job: l.Job, To: l.To, Files: l.Files, Day: l.Day, Seal: l.Seal}}
	return nil
}
