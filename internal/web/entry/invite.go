package entry

import (
	"net/http"
	"time"

	"fettle/internal/right"
	"fettle/internal/web"
)

// Invitations into a shop, for people of another one.

type invitationAsked struct {
	Roles []right.Role `json:"roles" enum:"technician,planner,reviewer,administrator"`
}

// invitationShown is an invitation without its secret.
type invitationShown struct {
	Invitation string       `json:"invitation"`
	By         string       `json:"by" doc:"Who has made it; it is good while they are an administrator."`
	Roles      []right.Role `json:"roles"`
	Made       time.Time    `json:"made"`
	Ends       time.Time    `json:"ends"`
}

type invitationsShown struct {
	Invitations []invitationShown `json:"invitations"`
}

func (e ways) invitationWays() []way {
	ok, created, none := http.StatusOK, http.StatusCreated, http.StatusNoContent
	return []way{
		{web.Way{Group: "people", Method: "GET", Path: "/invitations", ID: "invitations", Says: "Invitations into the shop that nobody has taken up yet.", Gives: invitationsShown{}, Status: ok, Refuses: []int{forbidden}}, e.invitations},
		{web.Way{Group: "people", Method: "POST", Path: "/invitations", ID: "invite", Says: "Invites somebody of another shop into this one; whoever is told the secret joins by it once, within a week.", Takes: invitationAsked{}, Gives: secretShown{}, Status: created, Refuses: []int{forbidden, notSound}}, e.invite},
		{web.Way{Group: "people", Method: "DELETE", Path: "/invitations/{invitation}", ID: "take-invitation-back", Says: "Takes an invitation back.", Status: none, Refuses: []int{forbidden, notThere}}, e.takeBack},
	}
}

func (e ways) invitations(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	all, err := e.in.Invitations(r.Context(), s.Who)
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := []invitationShown{}
	for _, x := range all {
		out = append(out, invitationShown{x.ID, x.By, x.Roles, x.Made, x.Ends})
	}
	tell(w, invitationsShown{out})
}

func (e ways) invite(w http.ResponseWriter, r *http.Request) {
	var ask invitationAsked
	if s, ok := e.asked(w, r, &ask); ok {
		x, secret, err := e.in.Invite(r.Context(), s.Who, ask.Roles)
		made(w, r, secretShown{x.ID, secret.Text, secret.Ends}, err)
	}
}

func (e ways) takeBack(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		done(w, r, e.in.TakeBack(r.Context(), s.Who, r.PathValue("invitation")))
	}
}
