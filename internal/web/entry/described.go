package entry

import (
	"net/http"
	"slices"
	"time"

	"fettle/internal/account"
	"fettle/internal/right"
	"fettle/internal/web"
)

type way struct {
	web.Way
	do http.HandlerFunc
}

// Ways is what Mount and MountLinks have answered.
func Ways() []web.Way {
	var out []web.Way
	for _, x := range slices.Concat((ways{}).all(), (links{}).all()) {
		out = append(out, x.Way)
	}
	return out
}

const (
	forbidden = http.StatusForbidden
	notThere  = http.StatusNotFound
	taken     = http.StatusConflict
	notSound  = http.StatusUnprocessableEntity
	waits     = http.StatusTooManyRequests
)

func (e ways) all() []way {
	return slices.Concat(e.wayIn(), e.ownWays(), e.sessionWays(), e.providerWays(), e.peopleWays(), e.invitationWays(), e.logWays())
}

// wayIn is first use, signing in and out, and by what one shows who one is.
func (e ways) wayIn() []way {
	ok, none := http.StatusOK, http.StatusNoContent
	return []way{
		{web.Way{Group: "people", Method: "POST", Path: "/first", ID: "first", Says: "Makes the first administrator and the first shop, by the link of first use, and signs them in.", Anybody: true, Takes: firstAsked{}, Gives: entered{}, Status: ok, Refuses: []int{forbidden, notThere, taken, notSound}}, e.first},
		{web.Way{Group: "people", Method: "POST", Path: "/session", ID: "sign-in", Says: "Signs in; the session is in a cookie.", Anybody: true, Takes: signInAsked{}, Gives: entered{}, Status: ok, Refuses: []int{forbidden, waits}}, e.signIn},
		{web.Way{Group: "people", Method: "GET", Path: "/session", ID: "session", Says: "Who one is.", Gives: known{}, Status: ok}, e.who},
		{web.Way{Group: "people", Method: "DELETE", Path: "/session", ID: "sign-out", Says: "Signs out; also who is not signed in.", Anybody: true, Status: none}, e.signOut},
		{web.Way{Group: "people", Method: "POST", Path: "/session/proof", ID: "prove", Says: "Proves anew who one is, which what cannot be taken back asks for.", Takes: proofAsked{}, Status: none, Refuses: []int{forbidden, waits}}, e.prove},
		{web.Way{Group: "people", Method: "POST", Path: "/session/shop", ID: "choose-shop", Says: "Goes on in another shop of one's own.", Takes: shopAsked{}, Gives: entered{}, Status: ok, Refuses: []int{forbidden, notThere}}, e.chooseShop},
		{web.Way{Group: "people", Method: "POST", Path: "/password", ID: "set-password", Says: "Sets a password by the secret of a link; nobody is signed in by that.", Anybody: true, Takes: passwordAsked{}, Status: none, Refuses: []int{forbidden, notThere, notSound}}, e.setPassword},
	}
}

// peopleWays is the people of a shop, their programs, and the shops.
func (e ways) peopleWays() []way {
	ok, created, none := http.StatusOK, http.StatusCreated, http.StatusNoContent
	return []way{
		{web.Way{Group: "people", Method: "GET", Path: "/people", ID: "people", Says: "The people of the shop.", Gives: peopleShown{}, Status: ok, Refuses: []int{forbidden}}, e.people},
		{web.Way{Group: "people", Method: "POST", Path: "/people", ID: "add-person", Says: "Adds somebody to the shop, who sets a password by the secret that is told now.", Takes: personAsked{}, Gives: secretShown{}, Status: created, Refuses: []int{forbidden, taken, notSound}}, e.addPerson},
		{web.Way{Group: "people", Method: "GET", Path: "/people/{person}", ID: "person", Says: "Somebody of the shop.", Gives: personShown{}, Status: ok, Tagged: true, Refuses: []int{forbidden, notThere}}, e.person},
		{web.Way{Group: "people", Method: "DELETE", Path: "/people/{person}", ID: "erase-person", Says: "Erases who somebody is: name, what they sign in with and all proofs. What the log says of them stays, by their opaque name.", Status: none, Match: true, Refuses: []int{forbidden, notThere}}, e.erasePerson},
		{web.Way{Group: "people", Method: "PUT", Path: "/people/{person}/roles", ID: "give-roles", Says: "Says what somebody is in the shop from now on.", Takes: rolesAsked{}, Status: none, Match: true, Refuses: []int{forbidden, notThere, notSound}}, e.giveRoles},
		{web.Way{Group: "people", Method: "PUT", Path: "/people/{person}/state", ID: "set-state", Says: "Disables somebody, or lets them in again.", Takes: stateAsked{}, Status: none, Match: true, Refuses: []int{forbidden, notThere, notSound}}, e.setState},
		{web.Way{Group: "people", Method: "POST", Path: "/people/{person}/link", ID: "reset-link", Says: "Gives a secret by which somebody sets a new password.", Takes: linkAsked{}, Gives: secretShown{}, Status: created, Refuses: []int{forbidden, notThere}}, e.newLink},
		{web.Way{Group: "people", Method: "GET", Path: "/tokens", ID: "tokens", Says: "One's tokens, without their secrets.", Gives: tokensShown{}, Status: ok, Refuses: []int{forbidden, notSound}, Query: map[string]string{"of": "everybody: those of the shop"}}, e.tokens},
		{web.Way{Group: "people", Method: "POST", Path: "/tokens", ID: "make-token", Says: "Makes a token for a program; its secret is told once.", Takes: tokenAsked{}, Gives: secretShown{}, Status: created, Refuses: []int{forbidden, notSound}}, e.makeToken},
		{web.Way{Group: "people", Method: "DELETE", Path: "/tokens/{token}", ID: "revoke-token", Says: "Revokes a token.", Status: none, Refuses: []int{forbidden, notThere}}, e.revokeToken},
		{web.Way{Group: "people", Method: "GET", Path: "/shops", ID: "shops", Says: "The shops of the group.", Gives: shopsShown{}, Status: ok, Refuses: []int{forbidden}}, e.shops},
		{web.Way{Group: "people", Method: "GET", Path: "/shops/{shop}", ID: "shop", Says: "A shop of the group.", Gives: shopShown{}, Status: ok, Tagged: true, Refuses: []int{forbidden, notThere}}, e.shop},
		{web.Way{Group: "people", Method: "POST", Path: "/shops", ID: "add-shop", Says: "Adds a shop, of which one is the administrator.", Takes: newShopAsked{}, Gives: shopShown{}, Status: created, Refuses: []int{forbidden, taken, notSound}}, e.addShop},
		{web.Way{Group: "people", Method: "PUT", Path: "/shops/{shop}", ID: "set-shop", Says: "Changes what a shop has set.", Takes: setShopAsked{}, Status: none, Match: true, Refuses: []int{forbidden, notThere, notSound}}, e.setShop},
	}
}

type firstAsked struct {
	Secret   string       `json:"secret" doc:"What stands behind the # of the link."`
	Shop     string       `json:"shop" doc:"A short name: of several shops, the names of their jobs begin with it." example:"north"`
	ShopName string       `json:"shop_name"`
	Name     string       `json:"name"`
	SignIn   string       `json:"sign_in" doc:"What one signs in with: an e-mail address, or any name."`
	Password string       `json:"password" doc:"At least 12 characters, any ones."`
	Roles    []right.Role `json:"roles,omitempty" enum:"technician,planner,reviewer,administrator" doc:"Beside administrator."`
}

type signInAsked struct {
	Name     string `json:"name"`
	Password string `json:"password"`
	Code     string `json:"code,omitempty" doc:"One-time code, where one is asked for."`
	Shop     string `json:"shop,omitempty" doc:"Which of one's shops; any unless given."`
}

type proofAsked struct {
	Password string `json:"password"`
	Code     string `json:"code,omitempty" doc:"One-time code, for who has them."`
}

type shopAsked struct {
	Shop string `json:"shop"`
}

type passwordAsked struct {
	Secret   string `json:"secret"`
	Password string `json:"password"`
}

type personAsked struct {
	Name   string       `json:"name"`
	SignIn string       `json:"sign_in" doc:"What they sign in with."`
	Roles  []right.Role `json:"roles" enum:"technician,planner,reviewer,administrator"`
}

type rolesAsked struct {
	Roles []right.Role `json:"roles" enum:"technician,planner,reviewer,administrator" doc:"None: they are no longer of the shop."`
}

type stateAsked struct {
	Active *bool `json:"active" nullable:"false"`
}

type linkAsked struct {
	Lost bool `json:"lost,omitempty" doc:"One-time codes and passkeys go too, once it is used."`
}

type tokenAsked struct {
	Name  string       `json:"name" doc:"What it is for."`
	Roles []right.Role `json:"roles,omitempty" enum:"technician,planner,reviewer,administrator" doc:"Of one's own; all of them unless given."`
	Reads bool         `json:"reads,omitempty" doc:"It may change nothing."`
	Days  int          `json:"days" minimum:"1" maximum:"365" doc:"How long it is good for."`
}

type newShopAsked struct {
	Shop string `json:"shop" doc:"A short name."`
	Name string `json:"name"`
}

type setShopAsked struct {
	Name      string `json:"name"`
	Everybody *bool  `json:"everybody" nullable:"false" doc:"Everybody sees all its jobs, not only those assigned to them."`
	Alone     *bool  `json:"alone" nullable:"false" doc:"One person may review what they have entered themselves; reports say so."`
}

// entered is what somebody who is let in is told; what they show from now on is in the cookies.
type entered struct {
	Ends     *time.Time `json:"ends,omitempty" doc:"When the session ends at the latest."`
	NeedCode bool       `json:"need_code" doc:"Nobody is signed in: a one-time code is asked for besides."`
}

// known is who somebody is.
type known struct {
	Person string       `json:"person"`
	Name   string       `json:"name"`
	Shop   string       `json:"shop"`
	Roles  []right.Role `json:"roles"`
	How    account.How  `json:"how" doc:"How they have signed in."`
	Fresh  bool         `json:"fresh" doc:"Has proved who they are within the last few minutes."`
	Reads  bool         `json:"reads" doc:"May change nothing."`
	Ends   time.Time    `json:"ends"`
}

// personShown is somebody of the shop.
type personShown struct {
	Person string        `json:"person"`
	Name   string        `json:"name"`
	SignIn string        `json:"sign_in,omitempty" doc:"What they sign in with; told to administrators alone."`
	State  account.State `json:"state" enum:"active,disabled,erased"`
	Codes  bool          `json:"codes" doc:"Signs in with one-time codes besides."`
	Roles  []right.Role  `json:"roles"`
}

type peopleShown struct {
	People []personShown `json:"people"`
}

// secretShown is a secret that is told once: it is not kept.
type secretShown struct {
	ID     string    `json:"id" doc:"The person or token that it is of."`
	Secret string    `json:"secret" doc:"Told now and not kept."`
	Ends   time.Time `json:"ends"`
}

// tokenShown is a token without its secret.
type tokenShown struct {
	Token  string       `json:"token"`
	Person string       `json:"person"`
	Name   string       `json:"name"`
	Roles  []right.Role `json:"roles"`
	Reads  bool         `json:"reads"`
	Made   time.Time    `json:"made"`
	Ends   time.Time    `json:"ends"`
}

type tokensShown struct {
	Tokens []tokenShown `json:"tokens"`
}

// shopShown is a shop of the group.
type shopShown struct {
	Shop      string `json:"shop"`
	Name      string `json:"name"`
	Everybody bool   `json:"everybody" doc:"Everybody sees all its jobs, not only those assigned to them."`
	Alone     bool   `json:"alone" doc:"One person may review what they have entered themselves."`
	First     bool   `json:"first" doc:"What belongs to no shop is its."`
}

type shopsShown struct {
	Shops []shopShown `json:"shops"`
}
