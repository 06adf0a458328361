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

// SecurityLog is so many entries of a shop, or those of no shop, from the one after that name. The failures of all shops are among the latter.
func (a *Accounts) SecurityLog(ctx context.Context, w right.Who, failures bool, after string, most int) ([]Entry, error) {
	if err := ask(w, right.ReadSecurityLog, right.On{Shop: w.Shop}); err != nil {
		return nil, err
	}
	k, which := OfEntry, Which{Shop: w.Shop, After: after, Most: min(max(most, 1), mostList)}
	if failures {
		k, which.Shop = OfFailure, ""
	}
	rs, err := a.Store.List(ctx, k, which)
	var out []Entry
	for _, r := range rs {
		d, bad := data[entryData](r)
		if bad != nil {
			return nil, bad
		}
		out = append(out, Entry{r.ID, d.At, d.What, r.Person, r.Shop, d.About, d.Address, d.More})
	}
	return out, err
}
