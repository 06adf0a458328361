package entry

import (
	"net/http"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
	"fettle/internal/web"
)

// One's own sessions, and the shops that one is of.

// sessionShown is a session of one's own.
type sessionShown struct {
	Session string      `json:"session"`
	Shop    string      `json:"shop"`
	How     account.How `json:"how" doc:"How one has signed in."`
	Begun   time.Time   `json:"begun"`
	Proven  time.Time   `json:"proven" doc:"When one has proved last who one is."`
	Ends    time.Time   `json:"ends"`
	This    bool        `json:"this" doc:"The one that asks."`
}

type sessionsShown struct {
	Sessions []sessionShown `json:"sessions"`
}

type invitedAsked struct {
	Secret string `json:"secret" doc:"Of the invitation."`
}

// membershipShown is what one is in a shop.
type membershipShown struct {
	Shop  string       `json:"shop"`
	Name  string       `json:"name"`
	Roles []right.Role `json:"roles"`
}

type membershipsShown struct {
	Shops []membershipShown `json:"shops"`
}

func (e ways) sessionWays() []way {
	ok, none := http.StatusOK, http.StatusNoContent
	return []way{
		{web.Way{Group: "own account", Method: "GET", Path: "/sessions", ID: "sessions", Says: "One's sessions, in all shops.", Gives: sessionsShown{}, Status: ok, Refuses: []int{forbidden}}, e.sessions},
		{web.Way{Group: "own account", Method: "DELETE", Path: "/sessions/{session}", ID: "end-session", Says: "Ends one of one's sessions.", Status: none, Refuses: []int{forbidden, notThere}}, e.endSession},
		{web.Way{Group: "own account", Method: "DELETE", Path: "/sessions", ID: "end-other-sessions", Says: "Ends all of one's sessions but the one that asks, and forgets on which devices one has signed in.", Status: none, Refuses: []int{forbidden}}, e.endOthers},
		{web.Way{Group: "own account", Method: "GET", Path: "/session/shops", ID: "own-shops", Says: "The shops that one is of, and as what.", Gives: membershipsShown{}, Status: ok, Refuses: []int{forbidden}}, e.ownShops},
		{web.Way{Group: "own account", Method: "POST", Path: "/session/shops", ID: "join-shop", Says: "Joins the shop that one was invited into, by the secret of the invitation.", Takes: invitedAsked{}, Gives: shopShown{}, Status: ok, Refuses: []int{forbidden, taken}}, e.join},
		{web.Way{Group: "own account", Method: "DELETE", Path: "/session/shops/{shop}", ID: "leave-shop", Says: "Leaves a shop of one's own: sessions and tokens in it end.", Status: none, Refuses: []int{forbidden, notThere}}, e.leave},
	}
}

func (e ways) sessions(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	all, err := e.in.Sessions(r.Context(), s.Who)
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := []sessionShown{}
	for _, x := range all {
		out = append(out, sessionShown{x.ID, x.Shop.ID, x.How, x.Begun, x.Proven, x.Ends, x.ID == s.ID})
	}
	tell(w, sessionsShown{out})
}

func (e ways) endSession(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		done(w, r, e.in.EndSessions(r.Context(), s.Who, r.PathValue("session")))
	}
}

func (e ways) endOthers(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		done(w, r, e.in.EndOthers(r.Context(), s))
	}
}

func (e ways) ownShops(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	all, err := e.in.OwnShops(r.Context(), s.Who)
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := []membershipShown{}
	for _, m := range all {
		out = append(out, membershipShown{m.Shop.ID, m.Shop.Name, m.Roles})
	}
	tell(w, membershipsShown{out})
}

func (e ways) join(w http.ResponseWriter, r *http.Request) {
	var ask invitedAsked
	s, ok := e.asked(w, r, &ask)
	if !ok {
		return
	}
	x, err := e.in.Join(r.Context(), s.Who, ask.Secret)
	if err != nil {
		refuse(w, r, err)
		return
	}
	tell(w, shopShown{x.ID, x.Name, x.Everybody, x.Alone, x.First})
}

func (e ways) leave(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		done(w, r, e.in.Leave(r.Context(), s.Who, r.PathValue("shop")))
	}
}
