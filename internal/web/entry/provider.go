package entry

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/web"
)

// Where browsers are sent to the provider of a group, and come back from it.
const (
	ProviderPath = "/sign-in/oidc"
	ProviderBack = ProviderPath + "/back"
)

const (
	secureWay cookie = "__Host-fettle-way"
	localWay  cookie = "fettle-way"
)

func wayCookie(r *http.Request) cookie {
	if web.Secure(r.Context()) {
		return secureWay
	}
	return localWay
}

// MountProvider has the way to the provider and back answered.
func MountProvider(m *http.ServeMux, in *account.Accounts) {
	e := ways{in}
	m.HandleFunc("GET "+ProviderPath, e.toProvider)
	m.HandleFunc("GET "+ProviderBack, e.fromProvider)
}

// providerWays is what pages ask about the provider.
func (e ways) providerWays() []way {
	ok, none := http.StatusOK, http.StatusNoContent
	return []way{
		{web.Way{Group: "own account", Method: "GET", Path: "/session/provider", ID: "provider", Says: "Who one is to the provider of the group, and where one signs out of it.", Gives: there{}, Status: ok, Refuses: []int{forbidden}}, e.atProvider},
		{web.Way{Group: "own account", Method: "POST", Path: "/session/provider", ID: "go-to-provider", Says: "Sends a browser to the provider: to sign in, also by an invitation, to tie it to one's account, or to prove oneself anew. For the latter two one has to be signed in.", Anybody: true, Takes: providerAsked{}, Gives: sentShown{}, Status: ok, Refuses: []int{http.StatusUnauthorized, forbidden, notThere, notSound}}, e.sendToProvider},
		{web.Way{Group: "own account", Method: "DELETE", Path: "/session/provider", ID: "untie-provider", Says: "Unties one's account from the provider.", Status: none, Refuses: []int{forbidden}}, e.untie},
	}
}

type providerAsked struct {
	For        account.Purpose `json:"for" enum:"sign in,tie,prove"`
	Invitation string          `json:"invitation,omitempty" doc:"With sign in: the secret of a link for a new password, to tie the provider to the person that it is of."`
	Shop       string          `json:"shop,omitempty" doc:"With sign in: which of one's shops."`
	Then       string          `json:"then,omitempty" doc:"The page of this server that comes after; / unless given."`
}

type sentShown struct {
	Address string `json:"address" doc:"Where the browser is to go; a cookie lets it in when it comes back."`
}

// toProvider sends a browser to sign in there. Nothing is written by that.
func (e ways) toProvider(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	if address, ok := e.begin(w, r, account.Errand{For: account.ToSignIn, Shop: q.Get("shop"), Then: q.Get("then")}); ok {
		http.Redirect(w, r, address, http.StatusSeeOther)
	}
}

// begin has the browser keep what it has to bring back, and is where it is sent.
func (e ways) begin(w http.ResponseWriter, r *http.Request, errand account.Errand) (string, bool) {
	if errand.Then == "" {
		errand.Then = "/"
	}
	if !within(errand.Then) {
		web.Tell(w, r, web.Problem{Status: http.StatusBadRequest, Code: "entry.elsewhere", Detail: "what comes after is no page of this server", Hint: "give a path, such as /"})
		return "", false
	}
	sent, err := e.in.BeginProvider(r.Context(), errand)
	if err != nil {
		refuseProvider(w, r, err)
		return "", false
	}
	give(w, r, wayCookie(r), sent.Browser, account.WayFor)
	return sent.Address, true
}

// within says whether an address is a path of this server, as browsers read it.
func within(then string) bool {
	u, err := url.Parse(then)
	return err == nil && u.Scheme == "" && u.Host == "" && u.User == nil && strings.HasPrefix(then, "/") && !strings.HasPrefix(then, "//") &&
		!strings.ContainsFunc(then, func(c rune) bool { return c <= ' ' || c == '\\' || c == 0x7f })
}

// sendToProvider is where a page sends its browser: with an invitation, to tie the provider to an account, or to prove oneself anew.
func (e ways) sendToProvider(w http.ResponseWriter, r *http.Request) {
	var ask providerAsked
	if !take(w, r, &ask) {
		return
	}
	errand := account.Errand{For: ask.For, Invitation: ask.Invitation, Shop: ask.Shop, Then: ask.Then}
	if ask.For != account.ToSignIn {
		var ok bool
		if errand.Session, ok = e.session(w, r); !ok {
			return
		}
	}
	if address, ok := e.begin(w, r, errand); ok {
		tell(w, sentShown{address})
	}
}

// fromProvider takes a browser back. It is the one page that changes something when it is asked for (OpenID Connect sends people back so): what keeps
// others from having it asked for is the state, which is good once, in one browser.
func (e ways) fromProvider(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet {
		w.Header().Set("Allow", http.MethodGet)
		web.Tell(w, r, web.Problem{Status: http.StatusMethodNotAllowed, Code: "entry.method", Detail: "a browser comes back by GET"})
		return
	}
	q := r.URL.Query()
	browser := shown(r, wayCookie(r))
	give(w, r, wayCookie(r), "", 0)
	repeated := slices.ContainsFunc([]string{"state", "code", "iss", "error"}, func(name string) bool { return len(q[name]) > 1 }) // RFC 6749, 3.1
	if q.Has("error") || repeated {
		web.Tell(w, r, web.Problem{Status: http.StatusForbidden, Code: "entry.refused", Detail: "the provider has let nobody in", Hint: "begin again, or sign in with a password or a passkey"})
		return
	}
	session, err := Session(e.in, r)
	if err != nil && !errors.Is(err, account.ErrNobody) {
		refuse(w, r, err)
		return
	}
	back, err := e.in.FinishProvider(r.Context(), account.Returned{State: q.Get("state"), Code: q.Get("code"), Issuer: q.Get("iss"), Browser: browser, Session: session},
		account.Try{Device: shown(r, deviceCookie(r.Context())), Old: shown(r, sessionCookie(r.Context()))}, from(r))
	if err != nil {
		refuseProvider(w, r, err)
		return
	}
	if back.For == account.ToSignIn {
		show(w, r, back.SignedIn)
	}
	http.Redirect(w, r, back.Then, http.StatusSeeOther)
}

// there is what the provider and somebody have to do with one another.
type there struct {
	Tied    []tiedTo `json:"tied"`
	SignOut string   `json:"sign_out,omitempty" doc:"Where one signs out of it too, once one has here."`
}

type tiedTo struct {
	Issuer string    `json:"issuer"`
	Made   time.Time `json:"made"`
}

func (e ways) atProvider(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	ids, err := e.in.Identities(r.Context(), s.Who)
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := there{Tied: []tiedTo{}}
	for _, id := range ids {
		out.Tied = append(out.Tied, tiedTo{id.Issuer, id.Made})
	}
	if out.SignOut, err = e.in.SignOutThere(r.Context(), s); err != nil && diag.KindOf(err) != diag.Unavailable { // they sign out here alone
		refuse(w, r, err)
		return
	}
	tell(w, out)
}

func (e ways) untie(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	if err := e.in.UntieProvider(r.Context(), s.Who); err != nil {
		refuse(w, r, err)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// refuseProvider is refuse, and says what to do while the provider cannot be asked.
func refuseProvider(w http.ResponseWriter, r *http.Request, err error) {
	var e *diag.Error
	switch {
	case !errors.As(err, &e):
	case e.Kind == diag.Unsupported:
		web.Tell(w, r, web.Problem{Status: http.StatusNotFound, Code: "entry.no-provider", Detail: e.Msg, Hint: e.Hint})
		return
	case errors.Is(err, account.ErrProviderAway):
		web.Tell(w, r, web.Problem{Status: http.StatusServiceUnavailable, Code: "entry.provider", Detail: e.Msg, Hint: e.Hint, After: 10 * time.Second})
		return
	case e.Kind == diag.Usage:
		web.Tell(w, r, web.Problem{Status: http.StatusBadRequest, Code: "entry.unreadable", Detail: e.Msg, Hint: e.Hint})
		return
	}
	refuse(w, r, err)
}
