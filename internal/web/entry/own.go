package entry

import (
	"encoding/json"
	"net/http"
	"time"

	"fettle/internal/account"
	"fettle/internal/web"
)

// What one does about one's own sign-in: passkeys, one-time codes, the password.

type passkeyAsked struct {
	Name   string          `json:"name" doc:"What one calls it."`
	Answer json.RawMessage `json:"answer" doc:"What navigator.credentials.create has given, as toJSON writes it."`
}

type answerAsked struct {
	Answer json.RawMessage `json:"answer" doc:"What navigator.credentials.get has given, as toJSON writes it."`
}

type passkeySignInAsked struct {
	Answer json.RawMessage `json:"answer" doc:"What navigator.credentials.get has given, as toJSON writes it."`
	Shop   string          `json:"shop,omitempty" doc:"Which of one's shops; any unless given."`
}

type codeAsked struct {
	Code string `json:"code" doc:"The one that is shown now."`
}

type newPasswordAsked struct {
	Password string `json:"password" doc:"At least 12 characters, any ones."`
}

// challengeShown is what a browser is asked by: Web Authentication, level 3, as JSON.
type challengeShown struct {
	Options json.RawMessage `json:"options" doc:"An object with publicKey, for navigator.credentials; good for five minutes, and once."`
}

// passkeyShown is a passkey of one's own.
type passkeyShown struct {
	Passkey string    `json:"passkey"`
	Name    string    `json:"name"`
	Made    time.Time `json:"made"`
	Copied  bool      `json:"copied" doc:"It looks copied, and is good no longer."`
}

type passkeysShown struct {
	Passkeys []passkeyShown `json:"passkeys"`
}

// codesShown is whether somebody has one-time codes.
type codesShown struct {
	On bool `json:"on" doc:"One is asked for besides the password."`
}

// codesBegun is what a program for one-time codes is told, once.
type codesBegun struct {
	Secret  string `json:"secret" doc:"In base32, to be typed in."`
	Address string `json:"address" doc:"The same as otpauth://, which a QR code is made of."`
}

func (e ways) ownWays() []way {
	ok, created, none := http.StatusOK, http.StatusCreated, http.StatusNoContent
	return []way{
		{web.Way{Group: "own account", Method: "POST", Path: "/session/passkey/begin", ID: "begin-passkey-sign-in", Says: "Asks whoever comes for a passkey; it says nothing of anybody, and nothing is kept of it.", Anybody: true, Gives: challengeShown{}, Status: ok, Refuses: []int{notThere}}, e.beginPasskeySignIn},
		{web.Way{Group: "own account", Method: "POST", Path: "/session/passkey", ID: "sign-in-by-passkey", Says: "Signs in by what a passkey has answered; the session is in a cookie.", Anybody: true, Takes: passkeySignInAsked{}, Gives: entered{}, Status: ok, Refuses: []int{forbidden, notThere}}, e.passkeySignIn},
		{web.Way{Group: "own account", Method: "POST", Path: "/session/proof/passkey/begin", ID: "begin-passkey-proof", Says: "Asks who is signed in for their passkey once more.", Gives: challengeShown{}, Status: ok, Refuses: []int{forbidden, notThere}}, e.beginPasskeyProof},
		{web.Way{Group: "own account", Method: "POST", Path: "/session/proof/passkey", ID: "prove-by-passkey", Says: "Proves anew who one is, by a passkey.", Takes: answerAsked{}, Status: none, Refuses: []int{forbidden, notThere}}, e.passkeyProof},
		{web.Way{Group: "own account", Method: "GET", Path: "/session/passkeys", ID: "passkeys", Says: "One's passkeys.", Gives: passkeysShown{}, Status: ok, Refuses: []int{forbidden}}, e.passkeys},
		{web.Way{Group: "own account", Method: "POST", Path: "/session/passkeys/begin", ID: "begin-passkey", Says: "Begins a new passkey of one's own.", Gives: challengeShown{}, Status: ok, Refuses: []int{forbidden, notThere}}, e.beginPasskey},
		{web.Way{Group: "own account", Method: "POST", Path: "/session/passkeys", ID: "add-passkey", Says: "Adds the passkey that was begun.", Takes: passkeyAsked{}, Gives: passkeyShown{}, Status: created, Refuses: []int{forbidden, notThere, taken, notSound}}, e.addPasskey},
		{web.Way{Group: "own account", Method: "DELETE", Path: "/session/passkeys/{passkey}", ID: "remove-passkey", Says: "Removes a passkey of one's own.", Status: none, Refuses: []int{forbidden, notThere}}, e.removePasskey},
		{web.Way{Group: "own account", Method: "GET", Path: "/session/codes", ID: "codes", Says: "Whether one has one-time codes.", Gives: codesShown{}, Status: ok, Refuses: []int{forbidden}}, e.codes},
		{web.Way{Group: "own account", Method: "POST", Path: "/session/codes", ID: "begin-codes", Says: "Draws a secret for one-time codes, which is told now alone; it counts once a code of it was shown.", Gives: codesBegun{}, Status: created, Refuses: []int{forbidden}}, e.beginCodes},
		{web.Way{Group: "own account", Method: "PUT", Path: "/session/codes", ID: "confirm-codes", Says: "Takes the first code: from now on one is asked for besides the password.", Takes: codeAsked{}, Status: none, Refuses: []int{forbidden, notThere, notSound}}, e.confirmCodes},
		{web.Way{Group: "own account", Method: "DELETE", Path: "/session/codes", ID: "remove-codes", Says: "Does without one-time codes from now on.", Status: none, Refuses: []int{forbidden}}, e.removeCodes},
		{web.Way{Group: "own account", Method: "PUT", Path: "/session/password", ID: "change-password", Says: "Sets a new password of one's own. All who were signed in as oneself are signed out, and this browser is signed in anew.", Takes: newPasswordAsked{}, Gives: entered{}, Status: ok, Refuses: []int{forbidden, notSound}}, e.changePassword},
	}
}

// challenge answers with what a browser is asked by.
func challenge(w http.ResponseWriter, r *http.Request, options any, err error) {
	if err != nil {
		refuse(w, r, err)
		return
	}
	text, err := json.Marshal(options)
	if err != nil {
		refuse(w, r, err)
		return
	}
	tell(w, challengeShown{text})
}

func (e ways) beginPasskeySignIn(w http.ResponseWriter, r *http.Request) {
	options, err := e.in.BeginSignIn()
	challenge(w, r, options, err)
}

func (e ways) passkeySignIn(w http.ResponseWriter, r *http.Request) {
	var ask passkeySignInAsked
	if !take(w, r, &ask) {
		return
	}
	in, err := e.in.FinishSignIn(r.Context(), ask.Answer, account.Try{Shop: ask.Shop, Device: shown(r, deviceCookie(r.Context())), Old: shown(r, sessionCookie(r.Context()))}, from(r))
	if err != nil {
		refuse(w, r, err)
		return
	}
	letIn(w, r, in)
}

func (e ways) beginPasskeyProof(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		options, err := e.in.BeginProof(s)
		challenge(w, r, options, err)
	}
}

func (e ways) passkeyProof(w http.ResponseWriter, r *http.Request) {
	var ask answerAsked
	if s, ok := e.asked(w, r, &ask); ok {
		done(w, r, e.in.FinishProof(r.Context(), s, ask.Answer, from(r)))
	}
}

func (e ways) passkeys(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	all, err := e.in.Passkeys(r.Context(), s.Who)
	if err != nil {
		refuse(w, r, err)
		return
	}
	out := []passkeyShown{}
	for _, p := range all {
		out = append(out, passkeyShown{p.ID, p.Name, p.Made, p.Copied})
	}
	tell(w, passkeysShown{out})
}

func (e ways) beginPasskey(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		options, err := e.in.BeginPasskey(r.Context(), s)
		challenge(w, r, options, err)
	}
}

func (e ways) addPasskey(w http.ResponseWriter, r *http.Request) {
	var ask passkeyAsked
	if s, ok := e.asked(w, r, &ask); ok {
		p, err := e.in.FinishPasskey(r.Context(), s, ask.Name, ask.Answer)
		made(w, r, passkeyShown{p.ID, p.Name, p.Made, p.Copied}, err)
	}
}

func (e ways) removePasskey(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		done(w, r, e.in.RemovePasskey(r.Context(), s.Who, r.PathValue("passkey")))
	}
}

func (e ways) codes(w http.ResponseWriter, r *http.Request) {
	s, ok := e.session(w, r)
	if !ok {
		return
	}
	on, err := e.in.HasCodes(r.Context(), s.Who)
	if err != nil {
		refuse(w, r, err)
		return
	}
	tell(w, codesShown{on})
}

func (e ways) beginCodes(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		c, err := e.in.BeginCodes(r.Context(), s.Who)
		made(w, r, codesBegun{c.Secret, c.Address}, err)
	}
}

func (e ways) confirmCodes(w http.ResponseWriter, r *http.Request) {
	var ask codeAsked
	if s, ok := e.asked(w, r, &ask); ok {
		done(w, r, e.in.FinishCodes(r.Context(), s.Who, ask.Code))
	}
}

func (e ways) removeCodes(w http.ResponseWriter, r *http.Request) {
	if s, ok := e.session(w, r); ok {
		done(w, r, e.in.RemoveCodes(r.Context(), s.Who))
	}
}

func (e ways) changePassword(w http.ResponseWriter, r *http.Request) {
	var ask newPasswordAsked
	s, ok := e.asked(w, r, &ask)
	if !ok {
		return
	}
	in, err := e.in.ChangePassword(r.Context(), s, ask.Password, from(r))
	if err != nil {
		refuse(w, r, err)
		return
	}
	letIn(w, r, in)
}
