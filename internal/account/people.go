package account

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// State says whether a person may sign in.
type State string

// States.
const (
	Active   State = "active"
	Inactive State = "disabled"
	Erased   State = "erased" // nobody knows who it was
)

// Shop is one of a group.
type Shop struct {
	ID        string
	Name      string
	Everybody bool // everybody sees all jobs, not only those assigned to them
	Alone     bool // one person may review what they have entered themselves; reports say so
	First     bool // the first of the group: what belongs to no shop is its
	Several   bool // the group has others
}

type shopData struct {
	Name      string `json:"name"`
	First     bool   `json:"first"`
	Everybody bool   `json:"everybody"`
	Alone     bool   `json:"alone"`
}

// Person is somebody who works in shops of the group. ID says nothing of who that is.
type Person struct {
	ID     string
	Name   string
	SignIn string // what they sign in with: an e-mail address, or any name
	State  State
	Codes  bool // signs in with one-time codes besides the password
}

type personData struct {
	Name     string    `json:"name"`
	SignIn   string    `json:"sign_in"`
	State    State     `json:"state"`
	Password string    `json:"password,omitempty"` // its hash; empty: none was set yet
	Codes    string    `json:"codes,omitempty"`    // the sealed secret of one-time codes
	Pending  string    `json:"pending,omitempty"`  // one that was not proved yet
	LastStep int64     `json:"last_step,omitempty"`
	Made     time.Time `json:"made"`
}

func personOf(r Record) (Person, personData, error) {
	d, err := data[personData](r)
	return Person{r.ID, d.Name, d.SignIn, d.State, d.Codes != ""}, d, err
}

// Member is what a person is in a shop.
type Member struct {
	Person Person
	Shop   string
	Roles  []right.Role
}

type memberData struct {
	Roles []right.Role `json:"roles"`
}

func memberID(person, shop string) string { return person + "." + shop }

// signInKey is how a name to sign in with is looked up.
func signInKey(name string) string {
	return cases.Fold().String(norm.NFKC.String(strings.TrimSpace(name)))
}

// mostName is how many bytes a name has.
const mostName = 200

func checkName(what, name string) error {
	if strings.TrimSpace(name) == "" || len(name) > mostName || !utf8.ValidString(name) || diag.Plain(name) != name {
		return &diag.Error{Kind: diag.Invalid, Op: "keep a person", Subject: what, Msg: "a name has letters that are seen, and at most 200 bytes"}
	}
	return nil
}

func checkRoles(roles []right.Role) error {
	for i, r := range roles {
		if r == right.Reader || !slices.Contains(right.Roles(), r) || slices.Contains(roles[:i], r) {
			return &diag.Error{Kind: diag.Invalid, Op: "give roles", Subject: string(r), Msg: "it is no role, or there twice", Hint: "give technician, planner, reviewer or administrator"}
		}
	}
	return nil
}

// person is somebody by their opaque name.
func person(ctx context.Context, in Reader, id string) (Record, Person, personData, error) {
	r, there, err := in.Get(ctx, OfPerson, id)
	if err == nil && !there {
		err = absent("person")
	}
	if err != nil {
		return r, Person{}, personData{}, err
	}
	p, d, err := personOf(r)
	return r, p, d, err
}

// shop is one by its name.
func shop(ctx context.Context, in Reader, id string) (Shop, error) {
	r, there, err := in.Get(ctx, OfShop, id)
	if err == nil && !there {
		err = absent("shop")
	}
	if err != nil {
		return Shop{}, err
	}
	d, err := data[shopData](r)
	if err != nil {
		return Shop{}, err
	}
	two, err := in.List(ctx, OfShop, Which{Most: 2})
	return Shop{id, d.Name, d.Everybody, d.Alone, d.First, len(two) > 1}, err
}

// roles is what a person is in a shop; nothing where they are nobody there.
func roles(ctx context.Context, in Reader, person, shop string) ([]right.Role, error) {
	r, there, err := in.Get(ctx, OfMember, memberID(person, shop))
	if err != nil || !there {
		return nil, err
	}
	d, err := data[memberData](r)
	return d.Roles, err
}

// membersOf is everybody in a shop; of all shops with no name.
func membersOf(ctx context.Context, in Reader, shop string) (out []Member, err error) {
	rs, err := all(ctx, in, OfMember, Which{Shop: shop})
	for _, r := range rs {
		if err != nil {
			return nil, err
		}
		m := Member{Shop: r.Shop}
		var d memberData
		if d, err = data[memberData](r); err == nil {
			_, m.Person, _, err = person(ctx, in, r.Person)
		}
		m.Roles = d.Roles
		out = append(out, m)
	}
	return out, err
}

// firstShop is one that a person is of, whose log has what happens to them in none; empty for somebody who is of none.
func (a *Accounts) firstShop(ctx context.Context, person string) (string, error) {
	rs, err := a.Store.List(ctx, OfMember, Which{Person: person, Most: 1})
	if err != nil || len(rs) == 0 {
		return "", err
	}
	return rs[0].Shop, nil
}

// administrators are the active ones of a shop.
func administrators(ctx context.Context, in Reader, shop string) (out []string, err error) {
	ms, err := membersOf(ctx, in, shop)
	for _, m := range ms {
		if m.Person.State == Active && slices.Contains(m.Roles, right.Administrator) {
			out = append(out, m.Person.ID)
		}
	}
	return out, err
}

// People are those of one's own shop. What they sign in with only an administrator is told.
func (a *Accounts) People(ctx context.Context, w right.Who) ([]Member, error) {
	if err := ask(w, right.SeePeople, right.On{Shop: w.Shop}); err != nil {
		return nil, err
	}
	ms, err := membersOf(ctx, a.Store, w.Shop)
	for i := range ms {
		if !slices.Contains(w.Roles, right.Administrator) {
			ms[i].Person.SignIn = ""
		}
	}
	return ms, err
}

// Version is what somebody has seen of a person or shop; none: whatever it is now.
type Version string

// ErrChanged is of a change to what is not any more what somebody has seen of it.
var ErrChanged = &diag.Error{Kind: diag.Conflict, Op: "change", Msg: "somebody else has changed it since it was read", Hint: "read it again, and decide anew"}

func (a *Accounts) version(of any) Version {
	text, err := json.Marshal(of)
	if err != nil {
		panic(err) // of types of this package, which have no such value
	}
	return Version(a.blind("version", string(text))[:32]) // it says nothing of what the reader may not see
}

// unchanged refuses where somebody has seen another version.
func (a *Accounts) unchanged(seen []Version, now any) error {
	for _, v := range seen {
		if v != "" && v != a.version(now) {
			return ErrChanged
		}
	}
	return nil
}

// member is what a person is in a shop; of who is nothing there, nobody is told.
func (a *Accounts) member(ctx context.Context, in Reader, id, shop string) (Member, error) {
	r, there, err := in.Get(ctx, OfMember, memberID(id, shop))
	if err == nil && !there {
		err = absent("person")
	}
	if err != nil {
		return Member{}, err
	}
	d, err := data[memberData](r)
	if err != nil {
		return Member{}, err
	}
	_, p, _, err := person(ctx, in, id)
	return Member{p, shop, d.Roles}, err
}

// unchangedPerson refuses where somebody has seen another version of a person of their shop.
func (a *Accounts) unchangedPerson(ctx context.Context, in Reader, w right.Who, id string, seen []Version) error {
	if len(seen) == 0 {
		return nil
	}
	m, err := a.member(ctx, in, id, w.Shop)
	if err != nil {
		return err
	}
	return a.unchanged(seen, m)
}

// PersonOf is one person of one's own shop, with the version.
func (a *Accounts) PersonOf(ctx context.Context, w right.Who, id string) (Member, Version, error) {
	if err := ask(w, right.SeePeople, right.On{Shop: w.Shop}); err != nil {
		return Member{}, "", err
	}
	m, err := a.member(ctx, a.Store, id, w.Shop)
	if err != nil {
		return Member{}, "", err
	}
	v := a.version(m)
	if !slices.Contains(w.Roles, right.Administrator) {
		m.Person.SignIn = ""
	}
	return m, v, nil
}

// ShopOf is one shop of the group, with the version.
func (a *Accounts) ShopOf(ctx context.Context, w right.Who, id string) (Shop, Version, error) {
	if err := ask(w, right.SeePeople, right.On{Shop: w.Shop}); err != nil {
		return Shop{}, "", err
	}
	s, err := shop(ctx, a.Store, id)
	if err != nil {
		return Shop{}, "", err
	}
	return s, a.version(s.data()), nil
}

func (s Shop) data() shopData { return shopData{s.Name, s.First, s.Everybody, s.Alone} }

// Shops are those of the group, for who works in one of them.
func (a *Accounts) Shops(ctx context.Context, w right.Who) (out []Shop, err error) {
	if err := ask(w, right.SeePeople, right.On{Shop: w.Shop}); err != nil {
		return nil, err
	}
	rs, err := all(ctx, a.Store, OfShop, Which{})
	for _, r := range rs {
		d, bad := data[shopData](r)
		err = errors.Join(err, bad)
		out = append(out, Shop{r.ID, d.Name, d.Everybody, d.Alone, d.First, len(rs) > 1})
	}
	return out, err
}

// IsShop says whether the group has a shop of that short name.
func (a *Accounts) IsShop(ctx context.Context, id string) (bool, error) {
	_, there, err := a.Store.Get(ctx, OfShop, id)
	return there, err
}

// NewPerson is somebody who is to be added.
type NewPerson struct {
	Name, SignIn string
	Roles        []right.Role
}

func (n NewPerson) check() error {
	return errors.Join(checkName("name", n.Name), checkName("name to sign in with", n.SignIn), checkRoles(n.Roles))
}

// record is the person, with the hash of a password or none.
func (n NewPerson) record(id, hash string, now time.Time) Record {
	return Record{Kind: OfPerson, ID: id, Key: signInKey(n.SignIn)}.with(personData{Name: n.Name, SignIn: strings.TrimSpace(n.SignIn), State: Active, Password: hash, Made: now})
}

// AddPerson adds somebody to one's own shop, and gives the secret of a link by which they set a password.
func (a *Accounts) AddPerson(ctx context.Context, w right.Who, n NewPerson) (Person, Secret, error) {
	if err := n.check(); err != nil {
		return Person{}, Secret{}, err
	}
	id, err := a.id()
	if err != nil {
		return Person{}, Secret{}, err
	}
	ticket, secret, err := a.passwordTicket(id, invitedFor)
	if err != nil {
		return Person{}, Secret{}, err
	}
	e, err := a.entry(Entry{What: PersonAdded, Person: w.Person, Shop: w.Shop, About: id, More: told(n.Roles)})
	if err != nil {
		return Person{}, Secret{}, err
	}
	r := n.record(id, "", a.now())
	p, _, err := personOf(r)
	if err != nil {
		return p, secret, err
	}
	return p, secret, a.Store.Change(ctx, func(tx Tx) error {
		if err := a.askNow(ctx, tx, w, right.ManagePeople, right.On{Shop: w.Shop}); err != nil {
			return err
		}
		member := Record{Kind: OfMember, ID: memberID(id, w.Shop), Person: id, Shop: w.Shop}.with(memberData{n.Roles})
		return puts(tx, r, member, ticket, e)
	})
}

func puts(tx Tx, rs ...Record) error {
	for _, r := range rs {
		if err := tx.Put(r); err != nil {
			return err
		}
	}
	return nil
}

// told is roles in words.
func told(rs []right.Role) string {
	var out []string
	for _, r := range rs {
		out = append(out, string(r))
	}
	return strings.Join(out, ", ")
}

// GiveRoles says what somebody is in one's own shop from now on; without any they are no longer of it. They have to sign in anew.
func (a *Accounts) GiveRoles(ctx context.Context, w right.Who, id string, rs []right.Role, seen ...Version) error {
	if err := checkRoles(rs); err != nil {
		return err
	}
	e, err := a.entry(Entry{What: RolesGiven, Person: w.Person, Shop: w.Shop, About: id, More: told(rs)})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, e); err != nil || done {
			return err
		}
		on, err := a.onPerson(ctx, tx, w, id, slices.Contains(rs, right.Administrator))
		if err == nil {
			err = a.askNow(ctx, tx, w, right.GiveRoles, on)
		}
		if err == nil {
			err = a.unchangedPerson(ctx, tx, w, id, seen)
		}
		if err != nil {
			return err
		}
		member := Record{Kind: OfMember, ID: memberID(id, w.Shop), Person: id, Shop: w.Shop}.with(memberData{rs})
		if err := dropAll(ctx, tx, id, OfSession); err != nil {
			return err
		}
		if len(rs) == 0 {
			return errors.Join(tx.Drop(OfMember, member.ID), tx.Put(e))
		}
		return puts(tx, member, e)
	})
}

// onPerson is what is known of a person of one's shop, of whom it is said whether they are an administrator there after.
func (a *Accounts) onPerson(ctx context.Context, in Reader, w right.Who, id string, after bool) (right.On, error) {
	on := right.On{Shop: w.Shop, Person: id}
	_, there, err := in.Get(ctx, OfMember, memberID(id, w.Shop))
	if err == nil && !there {
		err = absent("person")
	}
	if err != nil {
		return on, err
	}
	admins, err := administrators(ctx, in, w.Shop)
	others := slices.DeleteFunc(slices.Clone(admins), func(a string) bool { return a == id })
	on.Only = len(others) == 0
	on.Stays = after || len(others) > 0
	return on, err
}

// SetState disables a person, or lets them in again. One who is disabled is signed out everywhere, and so are programs that act for them.
// Who belongs to another shop too can be disabled only by who is an administrator in all of theirs.
func (a *Accounts) SetState(ctx context.Context, w right.Who, id string, active bool, seen ...Version) error {
	e, err := a.entry(Entry{What: Disabled, Person: w.Person, Shop: w.Shop, About: id})
	if active && err == nil {
		e, err = a.entry(Entry{What: Enabled, Person: w.Person, Shop: w.Shop, About: id})
	}
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, e); err != nil || done {
			return err
		}
		if err := a.controls(ctx, tx, w, id, active); err != nil {
			return err
		}
		if err := a.unchangedPerson(ctx, tx, w, id, seen); err != nil {
			return err
		}
		return a.setState(ctx, tx, id, active, e)
	})
}

func (a *Accounts) setState(ctx context.Context, tx Tx, id string, active bool, e Record) error {
	r, _, d, err := person(ctx, tx, id)
	if err == nil && d.State == Erased {
		err = absent("person")
	}
	if err != nil {
		return err
	}
	if d.State = Inactive; active {
		d.State = Active
	}
	if err := dropAll(ctx, tx, id, OfSession, OfDevice, OfTicket); err != nil {
		return err
	}
	return puts(tx, r.with(d), e)
}

// controls refuses whoever may not do to a person what reaches into every shop they belong to.
func (a *Accounts) controls(ctx context.Context, in Reader, w right.Who, id string, after bool) error {
	on, err := a.onPerson(ctx, in, w, id, after)
	if err == nil {
		err = a.askNow(ctx, in, w, right.ManagePeople, on)
	}
	if err == nil && !on.Stays {
		err = &diag.Error{Kind: diag.Denied, Op: "manage people", Subject: id, Msg: "an administrator has to be left", Hint: "make somebody else one first"}
	}
	if err != nil {
		return err
	}
	ms, err := all(ctx, in, OfMember, Which{Person: id})
	for _, m := range ms {
		own, bad := roles(ctx, in, w.Person, m.Shop)
		if err = errors.Join(err, bad); err == nil && !slices.Contains(own, right.Administrator) {
			return &diag.Error{Kind: diag.Denied, Op: "manage people", Subject: id, Msg: "they belong to another shop too", Hint: "take their roles in this shop away, or ask somebody who is an administrator in all of theirs"}
		}
	}
	return err
}

// ErasePerson takes name, what they sign in with and all proofs of somebody away; what the log says of them stays, by their opaque name.
func (a *Accounts) ErasePerson(ctx context.Context, w right.Who, id string, seen ...Version) error {
	e, err := a.entry(Entry{What: PersonErased, Person: w.Person, Shop: w.Shop, About: id})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, e); err != nil || done {
			return err
		}
		if err := a.controls(ctx, tx, w, id, false); err != nil {
			return err
		}
		if err := a.unchangedPerson(ctx, tx, w, id, seen); err != nil {
			return err
		}
		r, _, d, err := person(ctx, tx, id)
		if err != nil {
			return err
		}
		r.Key = ""
		if err := dropAll(ctx, tx, id, OfSession, OfDevice, OfTicket, OfToken, OfPasskey, OfIdentity, OfMember, OfFailure); err != nil {
			return err
		}
		if err := a.withoutAddresses(ctx, tx, id); err != nil {
			return err
		}
		return puts(tx, r.with(personData{State: Erased, Made: d.Made}), e)
	})
}

// withoutAddresses takes out of the security log from where somebody came.
func (a *Accounts) withoutAddresses(ctx context.Context, tx Tx, id string) error {
	rs, err := all(ctx, tx, OfEntry, Which{Person: id})
	for _, r := range rs {
		d, bad := data[entryData](r)
		if err = errors.Join(err, bad); err != nil {
			return err
		}
		if d.Address != "" {
			d.Address = ""
			err = tx.Put(r.with(d))
		}
	}
	return err
}

// AddShop adds one to the group; who adds it is its administrator. Like the first one it begins with everybody seeing all its jobs: nothing assigns
// a job to somebody yet, and a job that nobody could be assigned to nobody could work on.
func (a *Accounts) AddShop(ctx context.Context, w right.Who, id, name string) (Shop, error) {
	s := Shop{ID: id, Name: name, Everybody: true, Several: true}
	if err := errors.Join(checkShopID(id), checkName("name of the shop", name)); err != nil {
		return s, err
	}
	e, err := a.entry(Entry{What: ShopMade, Person: w.Person, Shop: id})
	if err != nil {
		return s, err
	}
	return s, a.Store.Change(ctx, func(tx Tx) error {
		if done, err := written(ctx, tx, e); err != nil || done {
			return err
		}
		if err := a.askNow(ctx, tx, w, right.ChangeGroup, right.On{}); err != nil {
			return err
		}
		if _, there, err := tx.Get(ctx, OfShop, id); err != nil || there { // whatever it is called: nobody makes themselves its administrator
			if err == nil {
				err = KeyTaken(OfShop)
			}
			return err
		}
		return puts(tx, Record{Kind: OfShop, ID: id, Shop: id}.with(shopData{Name: name, Everybody: true}),
			Record{Kind: OfMember, ID: memberID(w.Person, id), Person: w.Person, Shop: id}.with(memberData{[]right.Role{right.Administrator}}), e)
	})
}

// SetShop changes what a shop has set; not which one is the first.
func (a *Accounts) SetShop(ctx context.Context, w right.Who, s Shop, seen ...Version) error {
	if err := checkName("name of the shop", s.Name); err != nil {
		return err
	}
	e, err := a.entry(Entry{What: SettingsMade, Person: w.Person, Shop: s.ID})
	if err != nil {
		return err
	}
	return a.Store.Change(ctx, func(tx Tx) error {
		if err := a.askNow(ctx, tx, w, right.ChangeSettings, right.On{Shop: s.ID}); err != nil {
			return err
		}
		was, err := shop(ctx, tx, s.ID)
		if err == nil {
			err = a.unchanged(seen, was.data())
		}
		if err != nil {
			return err
		}
		return puts(tx, Record{Kind: OfShop, ID: s.ID, Shop: s.ID}.with(shopData{s.Name, was.First, s.Everybody, s.Alone}), e)
	})
}

// checkShopID refuses what is no name of a shop: names of its jobs begin with it.
func checkShopID(id string) error {
	for _, r := range id {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') {
			id = ""
		}
	}
	if id == "" || len(id) > 12 {
		return &diag.Error{Kind: diag.Invalid, Op: "add a shop", Subject: id, Msg: "the short name of a shop has one to twelve small letters and digits"}
	}
	return nil
}
