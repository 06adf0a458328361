package account

import (
	"context"
	"fmt"
	"time"

	"fettle/internal/right"
)

// Happened is what the security log says.
type Happened string

// What may happen.
const (
	SignedInBy     Happened = "signed in"
	SignInFailed   Happened = "sign-in failed"
	SignedOut      Happened = "signed out"
	FirstUsed      Happened = "first use"
	ShopMade       Happened = "shop made"
	PersonAdded    Happened = "person added"
	RolesGiven     Happened = "roles given"
	Disabled       Happened = "disabled"
	Enabled        Happened = "enabled"
	PersonErased   Happened = "person erased"
	TicketMade     Happened = "link for a new password made"
	PasswordSet    Happened = "password set"
	CodesAdded     Happened = "one-time codes added"
	CodesRemoved   Happened = "one-time codes removed"
	PasskeyAdded   Happened = "passkey added"
	PasskeyRemoved Happened = "passkey removed"
	PasskeyCopied  Happened = "passkey looks copied"
	ProviderTied   Happened = "provider tied"
	ProviderUntied Happened = "provider untied"
	TokenMade      Happened = "token made"
	TokenRevoked   Happened = "token revoked"
	LinkMade       Happened = "link made"
	LinkOpened     Happened = "link opened"
	LinkRevoked    Happened = "link revoked"
	KeyRenewed     Happened = "key renewed"
	SettingsMade   Happened = "settings of the shop changed"
	SessionsEnded  Happened = "sessions ended"
	ShopJoined     Happened = "shop joined"
	ShopLeft       Happened = "shop left"
	InvitationMade Happened = "invitation made"
	InvitationGone Happened = "invitation taken back"
)

// Entry is a line of the security log.
type Entry struct {
	ID      string
	At      time.Time
	What    Happened
	Person  string // who did it; empty: nobody knows, or somebody at the console
	Shop    string
	About   string // whom or what, by its opaque name
	Address string // from where
	More    string // in words: roles, a method
}

type entryData struct {
	At      time.Time `json:"at"`
	What    Happened  `json:"what"`
	About   string    `json:"about,omitempty"`
	Address string    `json:"address,omitempty"`
	More    string    `json:"more,omitempty"`
}

// keptFor is how long the log has what strangers brought about, and what others did.
const (
	failuresFor = 90 * 24 * time.Hour
	entriesFor  = 3 * 365 * 24 * time.Hour
)

// entry is a line to be written; its name tells the order.
func (a *Accounts) entry(e Entry) (Record, error) {
	id, err := a.id()
	r := Record{Kind: OfEntry, ID: fmt.Sprintf("%013x-%s", a.now().UnixMilli(), id), Person: e.Person, Shop: e.Shop, Ends: a.now().Add(entriesFor)}
	if e.What == SignInFailed {
		r.Kind, r.Ends = OfFailure, a.now().Add(failuresFor)
	}
	return r.with(entryData{a.now(), e.What, e.About, e.Address, e.More}), err
}

// LogQuery is which lines of the security log are wanted.
type LogQuery struct {
	Failures bool      // those of tries that failed, instead of what happened
	After    string    // only those behind the one of that name
	Since    time.Time // or from then on
	Most     int
}

// LogPage is lines of the security log, the oldest first.
type LogPage struct {
	Entries []Entry
	After   string // where the next page begins; empty: there is none
}

// mostLooked is how many lines are looked at for a page, of which not all are of the shop.
const mostLooked = 4 * mostList

// SecurityLog is a page of what happened in one's own shop. What belongs to no shop the first one is told. Of the tries that failed a shop
// is told those at the accounts of its people.
func (a *Accounts) SecurityLog(ctx context.Context, w right.Who, q LogQuery) (LogPage, error) {
	if err := ask(w, right.ReadSecurityLog, right.On{Shop: w.Shop}); err != nil {
		return LogPage{}, err
	}
	own, err := shop(ctx, a.Store, w.Shop)
	if err != nil {
		return LogPage{}, err
	}
	look := logLook{in: a.Store, kind: OfEntry, shop: own, of: map[string]bool{}}
	if q.Failures {
		look.kind = OfFailure
	}
	at := q.After
	if from := fmt.Sprintf("%013x", max(q.Since.UnixMilli(), 0)); !q.Since.IsZero() && from > at {
		at = from
	}
	return look.page(ctx, at, min(max(q.Most, 1), mostList))
}

// logLook looks for the lines of a shop.
type logLook struct {
	in   Reader
	kind Kind
	shop Shop
	of   map[string]bool // whether a person is of the shop
}

func (l logLook) page(ctx context.Context, at string, most int) (out LogPage, err error) {
	which := Which{After: at, Most: mostList}
	if l.kind == OfEntry && !l.shop.First {
		which.Shop = l.shop.ID
	}
	for looked := 0; looked < mostLooked; {
		rs, err := l.in.List(ctx, l.kind, which)
		if err != nil {
			return LogPage{}, err
		}
		for _, r := range rs {
			if len(out.Entries) == most { // there is another one at least
				out.After = which.After
				return out, nil
			}
			own, err := l.own(ctx, r)
			if err != nil {
				return LogPage{}, err
			}
			if which.After = r.ID; !own {
				continue
			}
			d, err := data[entryData](r)
			if err != nil {
				return LogPage{}, err
			}
			out.Entries = append(out.Entries, Entry{r.ID, d.At, d.What, r.Person, r.Shop, d.About, d.Address, d.More})
		}
		if len(rs) < which.Most {
			return out, nil
		}
		looked += len(rs)
	}
	out.After = which.After
	return out, nil
}

// own says whether a shop is told of a line.
func (l logLook) own(ctx context.Context, r Record) (bool, error) {
	if l.kind == OfEntry {
		return r.Shop == l.shop.ID || r.Shop == "" && l.shop.First, nil
	}
	if r.Person == "" { // the account that was tried is nobody's
		return l.shop.First, nil
	}
	is, known := l.of[r.Person]
	if !known {
		rs, err := roles(ctx, l.in, r.Person, l.shop.ID)
		if err != nil {
			return false, err
		}
		is = len(rs) > 0
		l.of[r.Person] = is
	}
	return is, nil
}
