// Package remote keeps stored jobs on a server: it is the client of the routes of /api/v1 that package web/api serves,
// as a maker of app.Store. What it is told over the wire it holds against its hash, and reads no more of it
// than there may be.
//
// It refuses to talk to a server whose certificate nobody vouches for, and to follow an answer that points elsewhere.
package remote

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"time"

	"fettle/internal/diag"
)

// Options is which server, and who asks.
type Options struct {
	URL       string        // where it is reached: https, or http on this machine
	Token     string        // of a program, as the server gave it out
	Authority []byte        // certificates in PEM, of which one has to vouch for the server; nil: those the system trusts
	Program   string        // which program asks, for the log of the server
	PlainHTTP bool          // the token may go without TLS to another machine: whoever is between reads it
	Patience  time.Duration // how long a request is sent again for, while the server cannot be reached; zero: 20 s
	Quiet     time.Duration // how long nothing may come; zero: a minute
}

// Store is the jobs of a shop on a server, as the owner of a token may have them.
type Store struct {
	at      *url.URL
	o       Options
	client  *http.Client
	pause   time.Duration // before a request is sent again for the first time
	meOnce  sync.Mutex
	meKnown Me
}

// Limits of talking.
const (
	usualPatience = 20 * time.Second
	usualQuiet    = time.Minute
	reaching      = 10 * time.Second // to connect, and to agree on keys
	headerMost    = 64 << 10
)

// Open is a server; nothing is asked of it yet.
func Open(o Options) (*Store, error) {
	at, err := address(o.URL, o.PlainHTTP)
	if err != nil {
		return nil, err
	}
	if strings.TrimSpace(o.Token) != o.Token || o.Token == "" || strings.ContainsFunc(o.Token, func(r rune) bool { return r <= ' ' || r > '~' }) {
		return nil, &diag.Error{Kind: diag.Usage, Op: "connect", Subject: o.URL, Msg: "the token is none: it is one line of letters and digits"}
	}
	secure := &tls.Config{MinVersion: tls.VersionTLS12}
	if o.Authority != nil {
		secure.RootCAs = x509.NewCertPool()
		if !secure.RootCAs.AppendCertsFromPEM(o.Authority) {
			return nil, &diag.Error{Kind: diag.Usage, Op: "connect", Subject: o.URL, Msg: "the file of the authority has no certificate in PEM", Hint: "the page /authority of the server gives it"}
		}
	}
	if o.Patience == 0 {
		o.Patience = usualPatience
	}
	if o.Quiet == 0 {
		o.Quiet = usualQuiet
	}
	dial := &net.Dialer{Timeout: reaching}
	return &Store{at: at, o: o, pause: firstPause, client: &http.Client{
		// Whoever answers with another address is not followed: the token is for this one.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{DialContext: dial.DialContext, TLSClientConfig: secure, TLSHandshakeTimeout: reaching, ExpectContinueTimeout: reaching,
			MaxResponseHeaderBytes: headerMost, IdleConnTimeout: 30 * time.Second, ForceAttemptHTTP2: true, DisableCompression: true},
	}}, nil
}

// Close ends its connections.
func (s *Store) Close() error {
	s.client.CloseIdleConnections()
	return nil
}

// URL is where the server is reached.
func (s *Store) URL() string { return s.at.String() }

// address is where a server is reached, which has to be a place that a token may be sent to; plain says that it may go without TLS.
func address(text string, plain bool) (*url.URL, error) {
	no := func(msg, hint string) error {
		return &diag.Error{Kind: diag.Usage, Op: "connect", Subject: text, Msg: msg, Hint: hint}
	}
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Opaque != "" {
		return nil, no("is no address of a server", "write it as https://workshop.local:8443")
	}
	if u.User != nil || u.RawQuery != "" || u.Fragment != "" || strings.Trim(u.Path, "/") != "" {
		return nil, no("has more than the address of a server", "write it as https://workshop.local:8443; the token goes with it by itself")
	}
	switch u.Scheme {
	case "https":
	case "http":
		if !plain && !onThisMachine(u.Hostname()) {
			return nil, no("without TLS whoever is between could read the token", "write https://; plain HTTP is for this machine alone")
		}
	default:
		return nil, no(fmt.Sprintf("%q is no way to reach a server", u.Scheme), "write https://")
	}
	return &url.URL{Scheme: u.Scheme, Host: u.Host}, nil
}

func onThisMachine(host string) bool {
	if host == "localhost" {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.IsLoopback()
}

// Me is whom the token is of, and the shop they work in.
type Me struct {
	Person string `json:"person"`
	Shop   string `json:"shop"`
}

// Version is which program the server is, as it says itself.
func (s *Store) Version(ctx context.Context) (string, error) {
	var got struct {
		Version string `json:"version"`
	}
	err := s.get(ctx, "connect", "/version", nil, &got)
	return got.Version, err
}

// Me asks whom the token is of, once.
func (s *Store) Me(ctx context.Context) (Me, error) {
	s.meOnce.Lock()
	defer s.meOnce.Unlock()
	if s.meKnown.Person != "" {
		return s.meKnown, nil
	}
	var me Me
	if err := s.get(ctx, "connect", "/session", nil, &me); err != nil {
		return me, err
	}
	if me.Person == "" {
		return me, s.strange("it does not say whom the token is of")
	}
	s.meKnown = me
	return me, nil
}

// writes says that somebody is whom the token is of: nobody writes in another's name.
func (s *Store) writes(ctx context.Context, by string) error {
	me, err := s.Me(ctx)
	if err == nil && by != me.Person {
		err = &diag.Error{Kind: diag.Denied, Op: "write", Subject: by, Msg: fmt.Sprintf("the token is of %s, and nobody else is written for with it", me.Person), Hint: "write as that person, or take a token of theirs"}
	}
	return err
}

// strange is the error for an answer that a server of ours does not give.
func (s *Store) strange(msg string) error {
	return &diag.Error{Kind: diag.Unsupported, Op: "ask", Subject: s.URL(), Msg: "the answer is none that this program knows of a server: " + msg, Hint: "look at the address; use the same release on both sides"}
}
