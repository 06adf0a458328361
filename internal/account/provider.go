package account

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// Provider is where people of a group sign in for all of its programs (OpenID Connect Core 1.0): the code flow with PKCE
// (RFC 7636). Who somebody is to the provider is tied to a person by that person, once they are signed in; nobody is
// taken for somebody by a name or an e-mail address.
type Provider struct {
	Issuer       string // https address; none: there is no provider
	Client       string // how the provider knows this program
	ClientSecret string
	Redirect     string // address of this program to which the provider sends people back
	HTTP         *http.Client
}

// ByProvider is how somebody has signed in there.
const ByProvider How = "provider"

// wayFor is how long somebody may be on their way to the provider and back.
const wayFor = 15 * time.Minute

// mostProviderAnswer is how long the provider may take.
const mostProviderAnswer = 10 * time.Second

// provider is what is known of it, asked for once it is needed.
type provider struct {
	Provider
	mu    sync.Mutex
	found *oidc.Provider
}

func errProvider(err error) error {
	return &diag.Error{Kind: diag.Denied, Op: "sign in", Msg: "the provider has not said who this is, or it is nobody here", Hint: "begin again; or sign in with a password, and tie the provider to the account", Err: err}
}

// context is the one in which the provider is asked.
func (p *provider) context(ctx context.Context) (context.Context, context.CancelFunc) {
	ctx, cancel := context.WithTimeout(ctx, mostProviderAnswer)
	if p.HTTP != nil {
		ctx = oidc.ClientContext(ctx, p.HTTP)
	}
	return ctx, cancel
}

// discovered is the provider; its keys are asked for anew when it has others.
func (p *provider) discovered(ctx context.Context) (*oidc.Provider, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.found != nil {
		return p.found, nil
	}
	if p.Issuer == "" {
		return nil, &diag.Error{Kind: diag.Unsupported, Op: "sign in", Msg: "this server is set up for no provider"}
	}
	ctx, cancel := p.context(ctx)
	defer cancel()
	found, err := oidc.NewProvider(ctx, p.Issuer)
	if err != nil {
		return nil, &diag.Error{Kind: diag.Unavailable, Op: "sign in", Subject: p.Issuer, Msg: "the provider cannot be reached, or says something else than its address", Hint: "try again; or sign in with a password", Err: err}
	}
	p.found = found
	return found, nil
}

func (p *provider) config(found *oidc.Provider) *oauth2.Config {
	return &oauth2.Config{ClientID: p.Client, ClientSecret: p.ClientSecret, Endpoint: found.Endpoint(), RedirectURL: p.Redirect, Scopes: []string{oidc.ScopeOpenID}}
}

// Sent is where somebody is sent to, and what their browser keeps until they are back.
type Sent struct {
	Address string
	Browser string // a secret: only the browser that was sent is let in
}

// state names what a way to the provider and back is for, and whose browser goes it.
func stateOf(of, browser string) string { return "provider " + of + " " + keyOf(browser) }

// fromState is a secret that goes with a state and stands in none.
func (a *Accounts) fromState(purpose, state string) string {
	mac := hmac.New(sha256.New, a.derived("provider "+purpose))
	mac.Write([]byte(state))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// BeginProvider sends somebody to the provider, to sign in; with a session, to tie who they are there to their account. With fresh they
// are to prove there anew who they are.
func (a *Accounts) BeginProvider(ctx context.Context, s *Session, fresh bool) (Sent, error) {
	of, age := "", SessionFor
	if s != nil {
		if err := ask(s.Who, right.ChangeSignIn, right.On{Person: s.Who.Person}); err != nil {
			return Sent{}, err
		}
		of = s.ID
	}
	if fresh {
		age = 0
	}
	found, err := a.provider.discovered(ctx)
	if err != nil {
		return Sent{}, err
	}
	browser, _, err := a.secret()
	if err != nil {
		return Sent{}, err
	}
	c, err := a.challenge(stateOf(of, browser))
	if err != nil {
		return Sent{}, err
	}
	state := base64.RawURLEncoding.EncodeToString(c)
	address := a.provider.config(found).AuthCodeURL(state, oidc.Nonce(a.fromState("nonce", state)), oauth2.S256ChallengeOption(a.fromState("verifier", state)),
		oauth2.SetAuthURLParam("max_age", strconv.Itoa(int(age.Seconds())))) // so that the token says when they proved it
	return Sent{address, browser}, nil
}

// Returned is what somebody brings back from the provider.
type Returned struct {
	State, Code string
	Issuer      string // RFC 9207; empty: the provider does not say
	Browser     string
}

// identity is who somebody is to the provider.
type identity struct {
	key    string // of the record
	proven time.Time
	spent  Record
}

// returned is who somebody is that came back.
func (a *Accounts) returned(ctx context.Context, of string, r Returned) (who identity, err error) {
	found, err := a.provider.discovered(ctx)
	if err != nil {
		return who, err
	}
	if _, who.spent, err = a.ours(r.State, stateOf(of, r.Browser), wayFor); err != nil {
		return who, errProvider(err)
	}
	if r.Issuer != "" && r.Issuer != a.provider.Issuer {
		return who, errProvider(errors.New("it was another provider"))
	}
	if _, there, err := a.Store.Get(ctx, OfChallenge, who.spent.ID); err != nil || there {
		return who, errors.Join(err, errProvider(nil))
	}
	ctx, cancel := a.provider.context(ctx)
	defer cancel()
	token, err := a.provider.config(found).Exchange(ctx, r.Code, oauth2.VerifierOption(a.fromState("verifier", r.State)))
	if err != nil {
		return who, errProvider(err)
	}
	raw, is := token.Extra("id_token").(string)
	if !is {
		return who, errProvider(errors.New("it has sent no identity"))
	}
	id, err := found.VerifierContext(ctx, &oidc.Config{ClientID: a.provider.Client, Now: a.Now}).Verify(ctx, raw)
	if err != nil {
		return who, errProvider(err)
	}
	return who, a.accepted(&who, id, a.fromState("nonce", r.State))
}

// accepted looks at what the provider has signed.
func (a *Accounts) accepted(who *identity, id *oidc.IDToken, nonce string) error {
	var claims struct {
		AuthTime int64  `json:"auth_time"`
		Party    string `json:"azp"`
	}
	if err := id.Claims(&claims); err != nil {
		return errProvider(err)
	}
	who.proven = time.Unix(claims.AuthTime, 0).UTC()
	age := a.now().Sub(who.proven)
	switch {
	case subtle.ConstantTimeCompare([]byte(id.Nonce), []byte(nonce)) != 1:
		return errProvider(errors.New("it answers another question"))
	case id.Subject == "" || claims.Party != "" && claims.Party != a.provider.Client || len(id.Audience) > 1 && claims.Party == "":
		return errProvider(errors.New("it is of nobody, or for another program"))
	case a.now().Before(id.IssuedAt.Add(-apart)) || age < -apart || age > SessionFor+apart:
		return errProvider(errors.New("it does not say when the person proved who they are, or too long ago"))
	}
	if age < 0 {
		who.proven = a.now()
	}
	who.key = a.blind("identity", id.Issuer+"\x00"+id.Subject)
	return nil
}

// FinishProvider lets somebody in who came back from the provider, if they have tied it to their account.
func (a *Accounts) FinishProvider(ctx context.Context, r Returned, t Try, from From) (SignedIn, error) {
	who, err := a.returned(ctx, "", r)
	if err != nil {
		return SignedIn{}, err
	}
	tied, there, err := a.Store.Find(ctx, OfIdentity, who.key)
	if err == nil && !there {
		err = errProvider(nil)
	}
	if err != nil {
		return SignedIn{}, err
	}
	device, err := a.device(ctx, t.Device, tied.Person)
	if err != nil {
		return SignedIn{}, err
	}
	return a.letIn(ctx, entering{person: tied.Person, try: t, device: device, from: from, identity: &identityUsed{tied, who}})
}

// identityUsed is who somebody is to the provider, with the record that ties it to them.
type identityUsed struct {
	tied Record
	who  identity
}

// TieProvider ties who somebody is to the provider to their account, after they came back; it asks for a fresh proof here too.
func (a *Accounts) TieProvider(ctx context.Context, s Session, r Returned) error {
	who, err := a.returned(ctx, s.ID, r)
	if err != nil {
		return err
	}
	id, err := a.id()
	if err != nil {
		return err
	}
	tied := Record{Kind: OfIdentity, ID: id, Person: s.Who.Person, Key: who.key}.with(identityData{a.provider.Issuer, a.now()})
	return a.ownProof(ctx, s.Who, Entry{What: ProviderTied, More: a.provider.Issuer}, func(tx Tx, _ *personData) error {
		if err := spend(ctx, tx, who.spent); err != nil {
			return err
		}
		return tx.Put(tied)
	})
}

type identityData struct {
	Issuer string    `json:"issuer"`
	Made   time.Time `json:"made"`
}

// UntieProvider takes what ties somebody to the provider away.
func (a *Accounts) UntieProvider(ctx context.Context, w right.Who) error {
	return a.ownProof(ctx, w, Entry{What: ProviderUntied}, func(tx Tx, _ *personData) error { return dropAll(ctx, tx, w.Person, OfIdentity) })
}
