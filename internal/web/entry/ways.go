package entry

import (
	"net/http"

	"fettle/internal/account"
	"fettle/internal/web"
)

// letIn has the browser show what it was given.
func letIn(w http.ResponseWriter, r *http.Request, in account.SignedIn) {
	if in.NeedCode {
		tell(w, entered{NeedCode: true})
		return
	}
	show(w, r, in)
	tell(w, entered{Ends: &in.Ends})
}

// show gives the browser what it shows from now on.
func show(w http.ResponseWriter, r *http.Request, in account.SignedIn) {
	give(w, r, sessionCookie(r.Context()), in.Session, 0)
	if in.Device != "" {
		give(w, r, deviceCookie(r.Context()), in.Device, deviceFor)
	}
}

// first makes the first administrator, and signs them in. Nobody does so where others could listen.
func (e ways) first(w http.ResponseWriter, r *http.Request) {
	var ask firstAsked
	if !take(w, r, &ask) {
		return
	}
	if !web.Secure(r.Context()) && !web.Client(r.Context()).IsLoopback() {
		web.Tell(w, r, web.Problem{Status: http.StatusForbidden, Code: "entry.first-in-the-open", Detail: "nobody is made the first administrator where others could listen", Hint: "use TLS, or this machine"})
		return
	}
	in, err := e.in.ClaimFirst(r.Context(), ask.Secret, account.First{Shop: ask.Shop, ShopName: ask.ShopName, Password: ask.Password,
		NewPerson: account.NewPerson{Name: ask.Name, SignIn: ask.SignIn, Roles: ask.Roles}}, from(r))
	if err != nil {
		refuse(w, r, err)
		return
	}
	letIn(w, r, in)
}

func (e ways) signIn(w http.ResponseWriter, r *http.Request) {
	var ask signInAsked
	if !take(w, r, &ask) {
		return
	}
	in, err := e.in.SignIn(r.Context(), account.Try{Name: ask.Name, Password: ask.Password, Code: ask.Code, Shop: ask.Shop,
		Device: shown(r, deviceCookie(r.Context())), Old: shown(r, sessionCookie(r.Context()))}, from(r))
	if err != nil {
		refuse(w, r, err)
		return
	}
	letIn(w, r, in)
}

func (e ways) who(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		tell(w, known{s.Who.Person, s.Person.Name, s.Shop.ID, s.Who.Roles, s.How, s.Who.Fresh, s.Who.Reads, s.Ends})
	}
}

// session is who asks; where it is nobody, that is answered.
func (e ways) session(w http.ResponseWriter, r *http.Request) (account.Session, bool) {
	s, err := Session(e.in, r)
	if err != nil {
		refuse(w, r, err)
		return s, false
	}
	web.Noted(r.Context(), "", s.Who.Person)
	return s, true
}

// signOut ends the session that is shown, if one is: whoever signs out twice is signed out.
func (e ways) signOut(w http.ResponseWriter, r *http.Request) {
	name := sessionCookie(r.Context())
	if secret := shown(r, name); secret != "" {
		if err := e.in.SignOut(r.Context(), secret, from(r)); err != nil {
			refuse(w, r, err)
			return
		}
	}
	give(w, r, name, "", 0)
	w.WriteHeader(http.StatusNoContent)
}

func (e ways) prove(w http.ResponseWriter, r *http.Request) {
	var ask proofAsked
	if !take(w, r, &ask) {
		return
	}
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	if err := e.in.Prove(r.Context(), s, ask.Password, ask.Code, from(r)); err != nil {
		refuse(w, r, err)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// chooseShop goes on in another shop of one's own.
func (e ways) chooseShop(w http.ResponseWriter, r *http.Request) {
	var ask shopAsked
	if !take(w, r, &ask) {
		return
	}
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	in, err := e.in.ChooseShop(r.Context(), s, shown(r, sessionCookie(r.Context())), ask.Shop)
	if err != nil {
		refuse(w, r, err)
		return
	}
	letIn(w, r, in)
}

// setPassword sets a password by the secret of a link; nobody is signed in by that.
func (e ways) setPassword(w http.ResponseWriter, r *http.Request) {
	var ask passwordAsked
	if !take(w, r, &ask) {
		return
	}
	if err := e.in.SetPassword(r.Context(), ask.Secret, ask.Password, from(r)); err != nil {
		refuse(w, r, err)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}
