package account

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"slices"
	"time"

	"fettle/internal/account/openid"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// People of a group may sign in at a provider of theirs (package openid). Who somebody is to the provider is tied to a person by
// an invitation, or by that person once they are signed in; nobody is taken for somebody by a name or an e-mail address. What a browser
// keeps on its way there and back is sealed and says what it was sent for, so that any server of the store takes it back, and strangers
// write nothing by setting out.

// ErrProviderAway is in every error that says that the provider cannot be asked, and none of this server.
var ErrProviderAway = openid.ErrAway

// ByProvider is how somebody has signed in there.
const ByProvider How = "provider"

// WayFor is how long somebody may be on their way to the provider and back.
const WayFor = 15 * time.Minute

// Purpose is what somebody is sent to the provider for.
type Purpose string

// Purposes.
const (
	ToSignIn Purpose = "sign in" // with an invitation, to tie it to the person who was invited too
	ToTie    Purpose = "tie"     // to the account of who is signed in
	ToProve  Purpose = "prove"   // anew that they are who is signed in
)

// Errand is what for, and what with.
type Errand struct {
	For        Purpose
	Session    Session // who is signed in; nobody to sign in
	Invitation string  // the secret of one
	Shop       string  // the one to work in; empty: the first of theirs
	Then       string  // what the browser shows after, for whoever asks
}

// Sent is where somebody is sent to, and what their browser keeps until they are back.
type Sent struct {
	Address string
	Browser string // a secret: only the browser that was sent is let in
	Ends    time.Time
}

// errand is an Errand as a browser keeps it, sealed.
type errand struct {
	For    Purpose `json:"for"`
	Of     string  `json:"of,omitempty"`     // the session
	Ticket string  `json:"ticket,omitempty"` // SHA-256 of the invitation
	Shop   string  `json:"shop,omitempty"`
	Then   string  `json:"then,omitempty"`
	Issuer string  `json:"issuer"`
}

const errandUse = "way to the provider"

// mostThen is how many bytes of an Errand are kept: it fits into a cookie.
const mostThen = 500

func errWay(err error) error {
	return &diag.Error{Kind: diag.Denied, Op: "sign in", Msg: "this browser was not sent to the provider for this, or too long ago", Hint: "begin again", Err: err}
}

func errStranger(err error) error {
	return &diag.Error{Kind: diag.Denied, Op: "sign in", Msg: "nobody here is who the provider says", Hint: "sign in with a password or a passkey, or ask an administrator for an invitation", Err: err}
}

func (a *Accounts) hasProvider() error {
	if a.Provider == nil {
		return &diag.Error{Kind: diag.Unsupported, Op: "sign in", Msg: "this server is set up for no provider", Hint: "sign in with a password or a passkey"}
	}
	return nil
}

// state names whose browser goes a way.
func stateOf(browser string) string { return "provider " + keyOf(browser) }

// fromState is a secret that goes with a state and stands in none.
func (a *Accounts) fromState(purpose, state string) string {
	mac := hmac.New(sha256.New, a.derived("provider "+purpose))
	mac.Write([]byte(state))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

func (a *Accounts) question(p Purpose, state string) openid.Question {
	q := openid.Question{State: state, Nonce: a.fromState("nonce", state), Verifier: a.fromState("verifier", state), Oldest: SessionFor}
	if p == ToProve {
		q.Oldest = 0
	}
	return q
}

// BeginProvider sends somebody to the provider.
func (a *Accounts) BeginProvider(ctx context.Context, e Errand) (Sent, error) {
	if err := errors.Join(a.hasProvider(), e.check()); err != nil {
		return Sent{}, err
	}
	kept := errand{For: e.For, Shop: e.Shop, Then: e.Then, Issuer: a.Provider.Issuer()}
	if e.For != ToSignIn {
		kept.Of = e.Session.ID
	}
	if e.Invitation != "" {
		if _, _, err := a.ticketOf(ctx, a.Store, keyOf(e.Invitation)); err != nil {
			return Sent{}, err
		}
		kept.Ticket = keyOf(e.Invitation)
	}
	text, err := json.Marshal(kept)
	if err != nil {
		return Sent{}, err
	}
	browser, err := a.sealed(text, errandUse) // with bits drawn by chance: no two are the same
	if err != nil {
		return Sent{}, err
	}
	c, err := a.challenge(stateOf(browser))
	if err != nil {
		return Sent{}, err
	}
	address, err := a.Provider.Address(ctx, a.question(e.For, base64.RawURLEncoding.EncodeToString(c)))
	return Sent{address, browser, a.now().Add(WayFor)}, err
}

// check refuses an errand that nobody may go.
func (e Errand) check() error {
	if len(e.Then)+len(e.Shop) > mostThen {
		return &diag.Error{Kind: diag.Invalid, Op: "sign in", Msg: "what comes after is too long"}
	}
	person := e.Session.Who.Person
	switch {
	case e.For == ToSignIn:
		return nil
	case person == "" || e.Session.Who.Token != "" || e.Invitation != "":
		return ErrNobody
	case e.For == ToProve:
		return nil
	case e.For == ToTie:
		return ask(e.Session.Who, right.ChangeSignIn, right.On{Person: person})
	}
	return &diag.Error{Kind: diag.Usage, Op: "sign in", Subject: string(e.For), Msg: "nobody is sent to the provider for that"}
}

// Returned is what somebody brings back from the provider.
type Returned struct {
	State, Code string
	Issuer      string // RFC 9207; empty: the provider does not say
	Browser     string
	Session     Session // who is signed in now; nobody
}

// Back is what came of it.
type Back struct {
	SignedIn // nobody, where somebody was signed in before
	For      Purpose
	Then     string
}

// FinishProvider does what somebody was sent to the provider for, once they are back. A state counts once.
func (a *Accounts) FinishProvider(ctx context.Context, r Returned, t Try, from From) (Back, error) {
	e, spent, err := a.cameBack(ctx, r)
	if err != nil {
		return Back{}, err
	}
	count := []counter{{a.blind("provider", network(from.Address)), byAddress}}
	if err := a.count(ctx, count); err != nil {
		return Back{}, err
	}
	v, err := a.Provider.Redeem(ctx, r.Code, r.Issuer, a.question(e.For, r.State))
	if err == nil || diag.KindOf(err) == diag.Unavailable { // nobody has guessed
		err = errors.Join(err, a.Store.Change(ctx, func(tx Tx) error { return a.takeBack(ctx, tx, count[0]) }))
	}
	if err != nil {
		return Back{}, err
	}
	who := identity{a.blind("identity", e.Issuer+"\x00"+v.Subject), v, spent}
	back := Back{For: e.For, Then: e.Then}
	switch e.For {
	case ToSignIn:
		t.Shop = e.Shop
		back.SignedIn, err = a.signInThere(ctx, who, e, t, from)
	case ToTie:
		err = a.tie(ctx, r.Session, who)
	case ToProve:
		err = a.provedThere(ctx, r.Session, who, from)
	}
	return back, err
}

// cameBack is what somebody was sent for, if it was this browser, in time, and not before.
func (a *Accounts) cameBack(ctx context.Context, r Returned) (e errand, spent Record, err error) {
	if err := a.hasProvider(); err != nil {
		return e, spent, err
	}
	text, err := a.unsealed(r.Browser, errandUse)
	if err == nil {
		err = json.Unmarshal(text, &e)
	}
	if err != nil {
		return e, spent, errWay(err)
	}
	if _, spent, err = a.ours(r.State, stateOf(r.Browser), WayFor); err != nil {
		return e, spent, errWay(err)
	}
	if e.Issuer != a.Provider.Issuer() || e.Of != r.Session.ID && e.For != ToSignIn || r.Code == "" {
		return e, spent, errWay(nil)
	}
	_, there, err := a.Store.Get(ctx, OfChallenge, spent.ID)
	if err == nil && there {
		err = errWay(nil)
	}
	return e, spent, err
}

// identity is who somebody is to the provider.
type identity struct {
	key   string // of the record
	says  openid.Vouched
	spent Record
}

type identityData struct {
	Issuer string    `json:"issuer"`
	Made   time.Time `json:"made"`
}

// Identity is who somebody is to the provider, as they see it.
type Identity struct {
	ID, Issuer string
	Made       time.Time
}

// signInThere lets somebody in. What the provider says of their roles holds whether they are let in or not.
func (a *Accounts) signInThere(ctx context.Context, who identity, e errand, t Try, from From) (SignedIn, error) {
	tied, err := a.known(ctx, who, e.Ticket, from)
	if errors.Is(err, errCode) {
		return SignedIn{}, a.stranger(ctx, "", from)
	}
	if err != nil {
		return SignedIn{}, err
	}
	who.spent = Record{} // it is
	device, err := a.device(ctx, t.Device, tied.Person)
	if err != nil {
		return SignedIn{}, err
	}
	in, err := a.letIn(ctx, entering{person: tied.Person, try: t, device: device, from: from, identity: &identityUsed{tied, who}})
	if errors.Is(err, errCode) {
		return SignedIn{}, a.stranger(ctx, tied.Person, from)
	}
	return in, err
}

// stranger notes that somebody was not let in whom the provider knows.
func (a *Accounts) stranger(ctx context.Context, person string, from From) error {
	if err := a.failed(ctx, person, from, ByProvider); diag.KindOf(err) != diag.Denied {
		return err
	}
	return errStranger(nil)
}

// known is whose identity it is; with an invitation it is tied first. The state is used up whatever comes of it.
func (a *Accounts) known(ctx context.Context, who identity, ticket string, from From) (tied Record, err error) {
	mark, err := a.id()
	if err != nil {
		return tied, err
	}
	lines := map[Happened]Record{}
	for _, h := range []Happened{ProviderTied, RolesGiven} {
		if lines[h], err = a.entry(Entry{What: h, Address: from.Address, More: "by the provider"}); err != nil {
			return tied, err
		}
	}
	id, err := a.id()
	if err != nil {
		return tied, err
	}
	fresh := Record{Kind: OfIdentity, ID: id, Key: who.key}.with(identityData{a.Provider.Issuer(), a.now()})
	var outcome error
	err = a.Store.Change(ctx, func(tx Tx) error {
		outcome = nil
		again, err := spendBy(ctx, tx, who.spent, mark)
		if err != nil {
			return err
		}
		var there bool
		if tied, there, err = tx.Find(ctx, OfIdentity, who.key); err != nil {
			return err
		}
		if ticket != "" && !again {
			if outcome = a.accept(ctx, tx, ticket, tied, fresh, lines[ProviderTied]); outcome != nil {
				return onlyRefused(outcome)
			}
			tied, there, err = tx.Find(ctx, OfIdentity, who.key)
		}
		if err != nil || !there {
			outcome = errCode
			return err
		}
		return a.rolesOfGroups(ctx, tx, tied.Person, who.says.Groups, lines[RolesGiven])
	})
	return tied, errors.Join(err, outcome)
}

// onlyRefused lets a change be written that ends in a refusal, and none that ends in a fault.
func onlyRefused(err error) error {
	switch diag.KindOf(err) {
	case diag.Denied, diag.Conflict:
		return nil
	}
	return err
}

type spentData struct {
	By string `json:"by"` // one that may come again after it was written
}

// spendBy is spend, and says whether it was written before by the same.
func spendBy(ctx context.Context, tx Tx, spent Record, by string) (again bool, err error) {
	was, there, err := tx.Get(ctx, OfChallenge, spent.ID)
	if err != nil {
		return false, err
	}
	if !there {
		return false, tx.Put(spent.with(spentData{by}))
	}
	d, err := data[spentData](was)
	if err == nil && d.By != by {
		err = errWay(nil)
	}
	return true, err
}

// accept ties an identity to the person who was invited.
func (a *Accounts) accept(ctx context.Context, tx Tx, key string, tied, fresh, line Record) error {
	ticket, _, err := a.ticketOf(ctx, tx, key)
	if err != nil {
		return err
	}
	if tied.ID != "" && tied.Person != ticket.Person {
		return KeyTaken(OfIdentity)
	}
	fresh.Person, line.Person = ticket.Person, ticket.Person
	ms, err := tx.List(ctx, OfMember, Which{Person: ticket.Person, Most: 1})
	if err != nil {
		return err
	}
	if len(ms) > 0 {
		line.Shop = ms[0].Shop
	}
	if tied.ID == "" {
		if err := a.putIdentity(ctx, tx, fresh); err != nil {
			return err
		}
	}
	return errors.Join(tx.Drop(OfTicket, ticket.ID), tx.Put(line))
}

// putIdentity ties who somebody is to the provider to them: the only one they have.
func (a *Accounts) putIdentity(ctx context.Context, tx Tx, fresh Record) error {
	rs, err := all(ctx, tx, OfIdentity, Which{Person: fresh.Person})
	if err == nil && len(rs) > 0 && rs[0].ID != fresh.ID {
		err = &diag.Error{Kind: diag.Conflict, Op: "tie the provider", Msg: "the person is tied to somebody else at the provider", Hint: "untie that first"}
	}
	if err != nil {
		return err
	}
	return tx.Put(fresh)
}

// ByGroup says that who is of a group of the provider has a role in a shop.
type ByGroup struct {
	Group, Shop string
	Role        right.Role
}

// checkGroups refuses a table that could take a shop away from its administrators.
func checkGroups(gs []ByGroup) error {
	for _, g := range gs {
		err := checkRoles([]right.Role{g.Role})
		if g.Role == right.Administrator {
			err = &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: "provider.roles", Msg: "administrators are made here, and not by a provider", Hint: "take the line out: an administrator can always get in"}
		}
		if err == nil && (g.Group == "" || g.Shop == "") {
			err = &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: "provider.roles", Msg: "a line has no group or no shop"}
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// rolesOfGroups gives somebody the roles that the groups of the provider bring in this table, and takes those of the table away that none
// brings. Others stay: without a table nothing is changed. As with any change of roles they are signed out.
func (a *Accounts) rolesOfGroups(ctx context.Context, tx Tx, id string, groups []string, line Record) error {
	table := map[string]map[right.Role]bool{} // of each shop, the roles of the table, and whether they have it
	for _, g := range a.Groups {
		if table[g.Shop] == nil {
			table[g.Shop] = map[right.Role]bool{}
		}
		table[g.Shop][g.Role] = table[g.Shop][g.Role] || slices.Contains(groups, g.Group)
	}
	for in, has := range table {
		if _, there, err := tx.Get(ctx, OfShop, in); err != nil || !there {
			if err != nil {
				return err
			}
			continue // a shop that is not there gives nobody anything
		}
		was, err := roles(ctx, tx, id, in)
		if err != nil {
			return err
		}
		var now []right.Role
		for _, r := range right.Roles() {
			if of, is := has[r]; is && of || !is && slices.Contains(was, r) {
				now = append(now, r)
			}
		}
		if len(was) == len(now) && !slices.ContainsFunc(was, func(r right.Role) bool { return !slices.Contains(now, r) }) {
			continue
		}
		if err := giveByProvider(ctx, tx, id, in, now, line); err != nil {
			return err
		}
	}
	return nil
}

func giveByProvider(ctx context.Context, tx Tx, id, in string, now []right.Role, line Record) error {
	d, err := data[entryData](line)
	if err != nil {
		return err
	}
	d.About, d.More = id, told(now)+" (by the provider)"
	line.ID, line.Shop = line.ID+"-"+in, in
	member := Record{Kind: OfMember, ID: memberID(id, in), Person: id, Shop: in}.with(memberData{now})
	if len(now) == 0 {
		err = tx.Drop(OfMember, member.ID)
	} else {
		err = tx.Put(member)
	}
	return errors.Join(err, dropAll(ctx, tx, id, OfSession), tx.Put(line.with(d)))
}

// identityUsed is who somebody is to the provider, with the record that ties it to them.
type identityUsed struct {
	tied Record
	who  identity
}

// tie ties who somebody is to the provider to their account; it asks for a fresh proof here too.
func (a *Accounts) tie(ctx context.Context, s Session, who identity) error {
	id, err := a.id()
	if err != nil {
		return err
	}
	fresh := Record{Kind: OfIdentity, ID: id, Person: s.Who.Person, Key: who.key}.with(identityData{a.Provider.Issuer(), a.now()})
	return a.ownProof(ctx, s.Who, Entry{What: ProviderTied, More: a.Provider.Issuer()}, func(tx Tx, _ *personData) error {
		if err := spend(ctx, tx, who.spent); err != nil {
			return err
		}
		return a.putIdentity(ctx, tx, fresh)
	})
}

// provedThere notes that somebody has proved anew who they are, at the moment that the provider says.
func (a *Accounts) provedThere(ctx context.Context, s Session, who identity, from From) error {
	tied, there, err := a.Store.Find(ctx, OfIdentity, who.key)
	if err != nil {
		return err
	}
	if !there || tied.Person != s.Who.Person || s.Who.Token != "" {
		return a.stranger(ctx, s.Who.Person, from)
	}
	age := a.now().Sub(who.says.Proven)
	if who.says.Proven.IsZero() || age < 0 || age >= FreshFor {
		return &diag.Error{Kind: diag.Denied, Op: "prove who you are", Msg: "the provider does not say that you have proved it just now", Hint: "prove it with your password or passkey here"}
	}
	return a.provenAt(ctx, s, who.says.Proven.Truncate(time.Millisecond), func(tx Tx) error {
		return a.enter(ctx, tx, entering{person: tied.Person, identity: &identityUsed{tied, who}})
	})
}

// Identities are who one is to the provider.
func (a *Accounts) Identities(ctx context.Context, w right.Who) (out []Identity, err error) {
	if err := ask(w, right.SeeAccount, right.On{Person: w.Person}); err != nil {
		return nil, err
	}
	rs, err := all(ctx, a.Store, OfIdentity, Which{Person: w.Person})
	for _, r := range rs {
		d, bad := data[identityData](r)
		err = errors.Join(err, bad)
		out = append(out, Identity{r.ID, d.Issuer, d.Made})
	}
	return out, err
}

// UntieProvider takes what ties somebody to the provider away.
func (a *Accounts) UntieProvider(ctx context.Context, w right.Who) error {
	return a.ownProof(ctx, w, Entry{What: ProviderUntied}, func(tx Tx, _ *personData) error { return dropAll(ctx, tx, w.Person, OfIdentity) })
}

// SignOutThere is where somebody signs out of the provider too; empty for who has not signed in there, and where it has no such page.
func (a *Accounts) SignOutThere(ctx context.Context, s Session) (string, error) {
	if a.Provider == nil || s.How != ByProvider {
		return "", nil
	}
	return a.Provider.Out(ctx)
}
