// Package openid talks to the provider at which people of a group sign in (OpenID Connect Core 1.0): it says where
// to send them, and who they are when they come back. It asks nobody but the provider that its settings name, and
// what that sends back is bounded in size and time. It knows nothing of people here.
package openid

import (
	"crypto/x509"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	"fettle/internal/diag"
)

// Settings say which provider it is, and how it knows this program.
type Settings struct {
	Issuer  string // https address, written as the provider writes it; http on this machine alone
	Client  string // the name it knows this program by
	Secret  string // and what it knows it by; empty: nothing, PKCE alone
	Back    string // address of this program to which it sends people back
	Subject string // claim that says who somebody is; empty: sub
	Groups  string // claim that says of which groups somebody is; empty: nobody asks
	Scopes  []string

	DomainClaim, Domain string // claim, and what it has to be; empty: nothing is asked

	Private   bool           // it may be in a network of one's own
	Authority *x509.CertPool // whom its certificate is from; nil: whom this machine trusts
	SignedOut string         // to which address it sends people who have signed out; empty: nowhere
	Now       func() time.Time
}

// Client asks a provider.
type Client struct {
	set   Settings
	http  *http.Client
	turns chan struct{} // so many may be asking at once

	mu    sync.Mutex
	found *found
}

// ErrAway is in every error that says that the provider cannot be asked, and none of this server.
var ErrAway = errors.New("the provider cannot be asked")

// Bounds of what is taken from a provider. They are our choice.
const (
	mostAnswer  = 1 << 20          // bytes
	mostTime    = 10 * time.Second // for one answer
	mostAtOnce  = 8
	knownFor    = time.Hour        // what it says of itself, and its keys
	retriedFrom = 10 * time.Second // after it could not be reached
)

// addressed are claims by which somebody can become somebody else: they are given anew, or changed by whom they name.
var addressed = []string{"email", "preferred_username", "nickname", "name", "upn", "unique_name", "phone_number", "given_name", "family_name", "website"}

// New is a client of a provider, which is not asked yet.
func New(s Settings) (*Client, error) {
	if s.Subject == "" {
		s.Subject = "sub"
	}
	u, err := url.Parse(s.Issuer)
	switch {
	case err != nil || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" || strings.ContainsAny(s.Issuer, "?#"):
		return nil, badSetting("issuer", "is no address of a provider", "write it as the provider does, for example https://id.example.org")
	case u.Scheme != "https" && (u.Scheme != "http" || !thisMachine(u.Hostname())):
		return nil, badSetting("issuer", "is not reached over TLS", "write an https address")
	case s.Client == "":
		return nil, badSetting("client", "is missing", "write the client id that the provider gave")
	case slices.Contains(addressed, s.Subject):
		return nil, badSetting("subject", "is a claim that can be given to somebody else", "leave it out for sub, or name one that the provider never gives twice")
	case (s.Domain == "") != (s.DomainClaim == ""):
		return nil, badSetting("domain", "has a claim without what it has to be, or the other way round", "write domain and domain_claim, or neither")
	}
	if _, err := ours(s.Back); err != nil {
		return nil, badSetting("back", "is no https address of this program", "serve it over TLS, or write the address that people have, as https://fettle.example/sign-in/oidc/back")
	}
	if s.SignedOut != "" {
		if _, err := ours(s.SignedOut); err != nil {
			return nil, badSetting("signed_out", "is no address of this program", "write for example https://fettle.example/, and tell the provider of it")
		}
	}
	return &Client{set: s, http: newHTTP(s, u), turns: make(chan struct{}, mostAtOnce)}, nil
}

// Issuer is the provider.
func (c *Client) Issuer() string { return c.set.Issuer }

func badSetting(subject, msg, hint string) error {
	return &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: "provider." + subject, Msg: msg, Hint: hint}
}

// ours is an address that browsers are sent to over TLS, or on their own machine.
func ours(address string) (*url.URL, error) {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.User != nil || u.Fragment != "" || u.Scheme != "https" && (u.Scheme != "http" || !thisMachine(u.Hostname())) {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "settings", Subject: address, Msg: "is no https address", Err: err}
	}
	return u, nil
}
