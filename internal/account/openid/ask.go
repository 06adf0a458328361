package openid

import (
	"context"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"

	"fettle/internal/diag"
)

// Question is what a browser is sent with, and what the answer has to go with. State, Nonce and Verifier are drawn by chance.
type Question struct {
	State, Nonce, Verifier string
	Oldest                 time.Duration // how long ago they may have proved there who they are; zero: they have to now
}

// Vouched is who somebody is, as the provider says.
type Vouched struct {
	Subject string
	Proven  time.Time // when they proved it there; zero: it does not say
	Groups  []string
}

// found is what a provider says of itself, or why it says nothing.
type found struct {
	at   time.Time
	err  error
	conf *oauth2.Config
	keys *oidc.RemoteKeySet
	out  string // where people sign out; empty: nowhere
	says bool   // it says with each answer whose it is (RFC 9207)
}

// discovered is what the provider says of itself: not older than an hour, and not asked for at every try while it cannot be reached.
func (c *Client) discovered(ctx context.Context) (*found, error) {
	c.mu.Lock()
	f := c.found
	c.mu.Unlock()
	if f == nil || f.err != nil && c.since(f.at) >= retriedFrom || c.since(f.at) >= knownFor {
		leave, err := c.turn(ctx)
		if err != nil {
			return nil, err
		}
		defer leave()
		f, err = c.discover(ctx)
		if ctx.Err() != nil { // whoever asked has left: that says nothing of the provider
			return nil, unavailable(ctx.Err())
		}
		f.err = err
		c.mu.Lock()
		c.found = f
		c.mu.Unlock()
	}
	return f, f.err
}

// since is how long ago something was; for ever, where the clock was put back.
func (c *Client) since(at time.Time) time.Duration {
	if d := c.set.Now().Sub(at); d >= 0 {
		return d
	}
	return knownFor
}

// turn waits until so many others have asked that it may.
func (c *Client) turn(ctx context.Context) (leave func(), err error) {
	timer := time.NewTimer(mostTime)
	defer timer.Stop()
	select {
	case c.turns <- struct{}{}:
		return func() { <-c.turns }, nil
	case <-ctx.Done():
		return nil, unavailable(ctx.Err())
	case <-timer.C:
		return nil, unavailable(errors.New("too many ask it at once"))
	}
}

func (c *Client) discover(ctx context.Context) (*found, error) {
	f := &found{at: c.set.Now()}
	provider, err := oidc.NewProvider(oidc.ClientContext(ctx, c.http), c.set.Issuer)
	if err != nil {
		return f, unavailable(err)
	}
	var more struct {
		Keys    string   `json:"jwks_uri"`
		Out     string   `json:"end_session_endpoint"`
		Methods []string `json:"token_endpoint_auth_methods_supported"`
		Says    bool     `json:"authorization_response_iss_parameter_supported"`
	}
	if err := provider.Claims(&more); err != nil {
		return f, unavailable(err)
	}
	at := provider.Endpoint()
	addresses := []string{at.AuthURL, at.TokenURL, more.Keys}
	if more.Out != "" {
		addresses = append(addresses, more.Out)
	}
	for _, address := range addresses {
		u, err := ours(address)
		if err == nil && u.Scheme == "http" && !strings.HasPrefix(c.set.Issuer, "http:") {
			err = errScheme
		}
		if err != nil {
			return f, unavailable(err)
		}
	}
	at.AuthStyle = oauth2.AuthStyleInHeader // of two ways that are tried the first would use up the code
	if c.set.Secret == "" || len(more.Methods) > 0 && !slices.Contains(more.Methods, "client_secret_basic") {
		at.AuthStyle = oauth2.AuthStyleInParams
	}
	scopes := append([]string{oidc.ScopeOpenID}, c.set.Scopes...)
	f.conf = &oauth2.Config{ClientID: c.set.Client, ClientSecret: c.set.Secret, Endpoint: at, RedirectURL: c.set.Back, Scopes: scopes}
	f.keys = oidc.NewRemoteKeySet(oidc.ClientContext(context.WithoutCancel(ctx), c.http), more.Keys)
	f.out, f.says = more.Out, more.Says
	return f, nil
}

// Address is where a browser is sent.
func (c *Client) Address(ctx context.Context, q Question) (string, error) {
	f, err := c.discovered(ctx)
	if err != nil {
		return "", err
	}
	more := []oauth2.AuthCodeOption{oidc.Nonce(q.Nonce), oauth2.S256ChallengeOption(q.Verifier), oauth2.SetAuthURLParam("max_age", strconv.Itoa(int(q.Oldest.Seconds())))}
	if q.Oldest == 0 {
		more = append(more, oauth2.SetAuthURLParam("prompt", "login")) // for those that know no age
	}
	return f.conf.AuthCodeURL(q.State, more...), nil
}

// Out is where somebody signs out of the provider too; empty where it has no such page.
func (c *Client) Out(ctx context.Context) (string, error) {
	f, err := c.discovered(ctx)
	if err != nil || f.out == "" {
		return "", err
	}
	u, err := url.Parse(f.out)
	if err != nil {
		return "", unavailable(err)
	}
	q := u.Query()
	q.Set("client_id", c.set.Client)
	if c.set.SignedOut != "" {
		q.Set("post_logout_redirect_uri", c.set.SignedOut)
	}
	u.RawQuery = q.Encode()
	return u.String(), nil
}

// Redeem is who somebody is who came back with a code, from whom the browser says.
func (c *Client) Redeem(ctx context.Context, code, issuer string, q Question) (Vouched, error) {
	f, err := c.discovered(ctx)
	if err != nil {
		return Vouched{}, err
	}
	if issuer != "" && issuer != c.set.Issuer || issuer == "" && f.says {
		return Vouched{}, refused(errors.New("another provider answers"))
	}
	leave, err := c.turn(ctx)
	if err != nil {
		return Vouched{}, err
	}
	defer leave()
	ctx, cancel := context.WithTimeout(oidc.ClientContext(ctx, c.http), mostTime)
	defer cancel()
	token, err := f.conf.Exchange(ctx, code, oauth2.VerifierOption(q.Verifier))
	if err != nil {
		return Vouched{}, notRedeemed(err)
	}
	raw, is := token.Extra("id_token").(string)
	if !is {
		return Vouched{}, refused(errors.New("it does not say who it is"))
	}
	keys := &noting{KeySet: f.keys}
	id, err := oidc.NewVerifier(c.set.Issuer, keys, &oidc.Config{ClientID: c.set.Client, SupportedSigningAlgs: algorithms, Now: c.set.Now}).Verify(ctx, raw)
	if err != nil {
		if unreached(keys.failed) {
			return Vouched{}, unavailable(keys.failed)
		}
		return Vouched{}, refused(err)
	}
	return c.read(id, q)
}

// algorithms are those of signatures whose keys the provider alone has: none with a secret in common.
var algorithms = []string{oidc.RS256, oidc.RS384, oidc.RS512, oidc.ES256, oidc.ES384, oidc.ES512, oidc.PS256, oidc.PS384, oidc.PS512, oidc.EdDSA}

// noting remembers why no key was found.
type noting struct {
	oidc.KeySet
	failed error
}

func (n *noting) VerifySignature(ctx context.Context, jwt string) ([]byte, error) {
	b, err := n.KeySet.VerifySignature(ctx, jwt)
	n.failed = err
	return b, err
}

// Bounds of what a provider says.
const (
	apart       = 2 * time.Minute // how far its clock may be from ours
	mostSubject = 255             // OpenID Connect Core 1.0, section 2
	oldest      = 10 * time.Minute
)

// read looks at what the provider has signed.
func (c *Client) read(id *oidc.IDToken, q Question) (v Vouched, err error) {
	var all map[string]any
	if err := id.Claims(&all); err != nil {
		return v, refused(err)
	}
	party, named := all["azp"]
	now := c.set.Now()
	v.Subject, _ = all[c.set.Subject].(string)
	switch {
	case q.Nonce == "" || subtle.ConstantTimeCompare([]byte(id.Nonce), []byte(q.Nonce)) != 1:
		err = errors.New("it answers another question")
	case id.Issuer != c.set.Issuer: // the library takes one that leaves out its scheme
		err = errors.New("another provider answers")
	case named && party != c.set.Client || !named && len(id.Audience) > 1:
		err = errors.New("it is for another program")
	case now.Before(id.IssuedAt.Add(-apart)) || now.Sub(id.IssuedAt) > oldest:
		err = errors.New("it was signed in the future, or long ago")
	case !subject(id.Subject) || !subject(v.Subject):
		err = errors.New("it does not say who it is")
	case c.set.Domain != "" && all[c.set.DomainClaim] != c.set.Domain:
		err = errors.New("it is somebody of another domain")
	}
	if err == nil {
		v.Proven, err = proven(all["auth_time"], now, q.Oldest)
	}
	if err == nil && c.set.Groups != "" {
		v.Groups, err = texts(all[c.set.Groups])
	}
	if err != nil {
		return Vouched{}, refused(err)
	}
	return v, nil
}

func subject(s string) bool {
	return s != "" && len(s) <= mostSubject && utf8.ValidString(s) && strings.TrimSpace(s) == s
}

// proven is when somebody proved who they are: not longer ago than was asked for.
func proven(claim any, now time.Time, oldest time.Duration) (time.Time, error) {
	if claim == nil {
		return time.Time{}, nil
	}
	seconds, is := claim.(float64)
	if !is || seconds < 0 || seconds > 1<<40 {
		return time.Time{}, errors.New("the moment of the proof is no number")
	}
	at := time.Unix(int64(seconds), 0).UTC()
	if age := now.Sub(at); age < -apart || age > oldest+apart {
		return time.Time{}, errors.New("they proved who they are in the future, or too long ago")
	}
	if at.After(now) {
		at = now.UTC()
	}
	return at, nil
}

// texts are those of a claim that is one, a list of them, or not there.
func texts(claim any) (out []string, err error) {
	switch c := claim.(type) {
	case nil:
		return nil, nil
	case string:
		return []string{c}, nil
	case []any:
		for _, x := range c {
			s, is := x.(string)
			if !is {
				return nil, errors.New("a group is no text")
			}
			out = append(out, s)
		}
		return out, nil
	}
	return nil, errors.New("the groups are no list")
}

// notRedeemed says why there is no token: the provider refuses, or cannot.
func notRedeemed(err error) error {
	var said *oauth2.RetrieveError
	switch {
	case errors.As(err, &said) && (said.Response.StatusCode >= http.StatusInternalServerError || said.Response.StatusCode == http.StatusTooManyRequests), unreached(err):
		return unavailable(err)
	}
	return refused(err)
}

// unreached says whether an error is one of the network, and none of what was answered.
func unreached(err error) bool {
	var of *url.Error
	var net net.Error
	return errors.As(err, &of) || errors.As(err, &net) || errors.Is(err, errTooLong) || errors.Is(err, context.DeadlineExceeded) || errors.Is(err, context.Canceled)
}

func unavailable(err error) error {
	e := &diag.Error{Kind: diag.Unavailable, Op: "sign in", Msg: "the provider cannot be asked now", Hint: "sign in with a password or a passkey, or try again in a moment", Err: errors.Join(ErrAway, err)}
	var syntax *json.SyntaxError
	var other *oidc.IssuerMismatchError
	switch {
	case errors.Is(err, errRedirect), errors.Is(err, errTooLong), errors.Is(err, errScheme), errors.Is(err, errAddress), errors.As(err, &syntax), errors.As(err, &other):
		e.Msg, e.Hint = "the provider does not answer as it should", "sign in with a password or a passkey, and tell whoever looks after this server"
	}
	return e
}

func refused(err error) error {
	return &diag.Error{Kind: diag.Denied, Op: "sign in", Msg: "the provider has not said who this is", Hint: "begin again, or sign in with a password or a passkey", Err: err}
}
