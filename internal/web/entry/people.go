package entry

import (
	"net/http"
	"strings"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
)

// asked reads who asks, and what they sent where that is wanted; what is wrong is answered.
func (e ways) asked(w http.ResponseWriter, r *http.Request, into any) (account.Session, bool) {
	if into != nil && !take(w, r, into) {
		return account.Session{}, false
	}
	return e.session(w, r)
}

// done answers a change that has nothing to tell.
func done(w http.ResponseWriter, r *http.Request, err error) {
	if err != nil {
		refuse(w, r, err)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// errUnsaid is of a member that has to be there, because nothing is meant by its absence.
func errUnsaid(what string) error {
	return &diag.Error{Kind: diag.Invalid, Op: "read", Subject: what, Msg: "it is not said whether", Hint: "send " + what + ", true or false"}
}

// made answers with what there is now.
func made(w http.ResponseWriter, r *http.Request, v any, err error) {
	if err != nil {
		refuse(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/json") // before the status, behind which no header is told
	w.WriteHeader(http.StatusCreated)
	tell(w, v)
}

func (e ways) people(w http.ResponseWriter, r *http.Request) {
	s, ok := e.asked(w, r, nil)
	if !ok {
		return
	}
	all, err := e.in.People(r.Context(), s.Who)
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := []personShown{}
	for _, m := range all {
		out = append(out, personShown{m.Person.ID, m.Person.Name, m.Person.SignIn, m.Person.State, m.Person.Codes, m.Roles})
	}
	tell(w, peopleShown{out})
}

// tagged tells what there is, with the tag of it.
func tagged(w http.ResponseWriter, v any, of account.Version) {
	w.Header().Set("ETag", `"`+string(of)+`"`)
	tell(w, v)
}

// seen is what somebody has seen of what they change (RFC 9110, 13.1.1); anything where they do not say. More than one, or one
// that is not ours, is nothing that anything is.
func seen(r *http.Request) []account.Version {
	tags := r.Header.Values("If-Match")
	if len(tags) == 0 || len(tags) == 1 && tags[0] == "*" {
		return nil
	}
	tag := strings.Join(tags, ",")
	if in, is := strings.CutPrefix(tag, `"`); is && len(in) > 1 && strings.HasSuffix(in, `"`) {
		return []account.Version{account.Version(in[:len(in)-1])}
	}
	return []account.Version{account.Version("none: " + tag)}
}

func (e ways) person(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	m, v, err := e.in.PersonOf(r.Context(), s.Who, r.PathValue("person"))
	if err != nil {
		refuse(w, r, err)
		return
	}
	tagged(w, personShown{m.Person.ID, m.Person.Name, m.Person.SignIn, m.Person.State, m.Person.Codes, m.Roles}, v)
}

func (e ways) erasePerson(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		done(w, r, e.in.ErasePerson(r.Context(), s.Who, r.PathValue("person"), seen(r)...))
	}
}

func (e ways) shop(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	x, v, err := e.in.ShopOf(r.Context(), s.Who, r.PathValue("shop"))
	if err != nil {
		refuse(w, r, err)
		return
	}
	tagged(w, shopShown{x.ID, x.Name, x.Everybody, x.Alone, x.First}, v)
}

// addPerson adds somebody to the shop; they set a password by the secret that is told now.
func (e ways) addPerson(w http.ResponseWriter, r *http.Request) {
	var ask personAsked
	if s, ok := e.asked(w, r, &ask); ok {
		p, link, err := e.in.AddPerson(r.Context(), s.Who, account.NewPerson{Name: ask.Name, SignIn: ask.SignIn, Roles: ask.Roles})
		made(w, r, secretShown{p.ID, link.Text, link.Ends}, err)
	}
}

func (e ways) giveRoles(w http.ResponseWriter, r *http.Request) {
	var ask rolesAsked
	if s, ok := e.asked(w, r, &ask); ok {
		done(w, r, e.in.GiveRoles(r.Context(), s.Who, r.PathValue("person"), ask.Roles, seen(r)...))
	}
}

func (e ways) setState(w http.ResponseWriter, r *http.Request) {
	var ask stateAsked
	s, ok := e.asked(w, r, &ask)
	if !ok {
		return
	}
	if ask.Active == nil { // nobody is disabled by what was not said
		refuse(w, r, errUnsaid("active"))
		return
	}
	done(w, r, e.in.SetState(r.Context(), s.Who, r.PathValue("person"), *ask.Active, seen(r)...))
}

// newLink gives the secret by which somebody sets a new password; with lost, one-time codes and passkeys go when it is used.
func (e ways) newLink(w http.ResponseWriter, r *http.Request) {
	var ask linkAsked
	if s, ok := e.asked(w, r, &ask); ok {
		id := r.PathValue("person")
		link, err := e.in.ResetLink(r.Context(), s.Who, id, ask.Lost)
		made(w, r, secretShown{id, link.Text, link.Ends}, err)
	}
}

// tokens lists one's own, or everybody's of the shop.
func (e ways) tokens(w http.ResponseWriter, r *http.Request) {
	s, ok := e.asked(w, r, nil)
	if !ok {
		return
	}
	of := r.URL.Query()
	all, err := e.in.Tokens(r.Context(), s.Who, of.Get("of") == "everybody")
	if len(of) > 0 && of.Encode() != "of=everybody" {
		err = &diag.Error{Kind: diag.Invalid, Op: "list tokens", Msg: "there is no such list", Hint: "ask with of=everybody, or without"}
	}
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := []tokenShown{}
	for _, t := range all {
		out = append(out, tokenShown{t.ID, t.Person, t.Name, t.Roles, t.Reads, t.Made, t.Ends})
	}
	tell(w, tokensShown{out})
}

func (e ways) makeToken(w http.ResponseWriter, r *http.Request) {
	var ask tokenAsked
	s, ok := e.asked(w, r, &ask)
	if !ok {
		return
	}
	const day = 24 * time.Hour
	days := min(max(ask.Days, 0), int(account.TokenMost/day)+1) // more is refused, and no number of days goes round
	t, secret, err := e.in.MakeToken(r.Context(), s.Who, account.NewToken{Name: ask.Name, Roles: ask.Roles, Reads: ask.Reads, For: time.Duration(days) * day})
	made(w, r, secretShown{t.ID, secret.Text, secret.Ends}, err)
}

func (e ways) revokeToken(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.asked(w, r, nil); ok {
		done(w, r, e.in.RevokeToken(r.Context(), s.Who, r.PathValue("token")))
	}
}

func (e ways) shops(w http.ResponseWriter, r *http.Request) {
	s, ok := e.asked(w, r, nil)
	if !ok {
		return
	}
	all, err := e.in.Shops(r.Context(), s.Who)
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := []shopShown{}
	for _, x := range all {
		out = append(out, shopShown{x.ID, x.Name, x.Everybody, x.Alone, x.First})
	}
	tell(w, shopsShown{out})
}

func (e ways) addShop(w http.ResponseWriter, r *http.Request) {
	var ask newShopAsked
	if s, ok := e.asked(w, r, &ask); ok {
		x, err := e.in.AddShop(r.Context(), s.Who, ask.Shop, ask.Name)
		made(w, r, shopShown{x.ID, x.Name, x.Everybody, x.Alone, x.First}, err)
	}
}

func (e ways) setShop(w http.ResponseWriter, r *http.Request) {
	var ask setShopAsked
	s, ok := e.asked(w, r, &ask)
	if !ok {
		return
	}
	if ask.Everybody == nil || ask.Alone == nil {
		refuse(w, r, errUnsaid("everybody and alone"))
		return
	}
	done(w, r, e.in.SetShop(r.Context(), s.Who, account.Shop{ID: r.PathValue("shop"), Name: ask.Name, Everybody: *ask.Everybody, Alone: *ask.Alone}, seen(r)...))
}
