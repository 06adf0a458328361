package openid

import (
	"context"
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"syscall"
	"time"
)

// What is asked for goes to the provider and nowhere else: over TLS, or to this machine where the provider is on it; to no
// address of a network of one's own unless the settings say so; not where an answer would lead it.

var (
	errRedirect = errors.New("the provider answers with the address of another page")
	errTooLong  = errors.New("the provider answers with more than is taken")
	errScheme   = errors.New("the provider names an address without TLS")
	errAddress  = errors.New("the provider has an address inside of a network")
)

// newHTTP is the only way out. It asks no proxy: that would look up the address itself.
func newHTTP(s Settings, issuer *url.URL) *http.Client {
	g := &guard{private: s.Private, local: thisMachine(issuer.Hostname())}
	dialer := &net.Dialer{Timeout: mostTime / 2, ControlContext: g.control}
	g.to = &http.Transport{
		DialContext: dialer.DialContext, TLSClientConfig: &tls.Config{RootCAs: s.Authority, MinVersion: tls.VersionTLS12},
		TLSHandshakeTimeout: mostTime / 2, ResponseHeaderTimeout: mostTime, MaxResponseHeaderBytes: 64 << 10, ForceAttemptHTTP2: true,
		MaxConnsPerHost: mostAtOnce, MaxIdleConnsPerHost: 2, IdleConnTimeout: time.Minute, DisableCompression: true,
	}
	return &http.Client{Transport: g, Timeout: mostTime, CheckRedirect: func(*http.Request, []*http.Request) error { return errRedirect }}
}

// guard lets through what may be asked, and as much of the answer as is taken.
type guard struct {
	to             http.RoundTripper
	private, local bool
}

func (g *guard) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.URL.Scheme != "https" && (r.URL.Scheme != "http" || !g.local || !thisMachine(r.URL.Hostname())) {
		return nil, errScheme
	}
	answer, err := g.to.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	answer.Body = &bounded{answer.Body, mostAnswer}
	return answer, nil
}

// control looks at the address that a connection goes to, after names were looked up.
func (g *guard) control(_ context.Context, _, address string, _ syscall.RawConn) error {
	ap, err := netip.ParseAddrPort(address)
	if err != nil || !g.may(ap.Addr()) {
		return errAddress
	}
	return nil
}

// may says whether an address is one that is asked: of those of the Internet (RFC 6890) any.
func (g *guard) may(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	switch {
	case a.IsLoopback():
		return g.local
	case within(ownNetworks, a):
		return g.private
	case a.Is4():
		return !within(special, a)
	}
	return publicIPv6.Contains(a) && !within(special, a)
}

func within(nets []netip.Prefix, a netip.Addr) bool {
	for _, n := range nets {
		if n.Contains(a) {
			return true
		}
	}
	return false
}

func prefixes(texts string) (out []netip.Prefix) {
	for t := range strings.FieldsSeq(texts) {
		out = append(out, netip.MustParsePrefix(t))
	}
	return out
}

var (
	ownNetworks = prefixes("10.0.0.0/8 172.16.0.0/12 192.168.0.0/16 100.64.0.0/10 fc00::/7")
	publicIPv6  = netip.MustParsePrefix("2000::/3")
	// RFC 6890 and the registries of IANA; of IPv6 also what leads to addresses of IPv4.
	special = prefixes("0.0.0.0/8 127.0.0.0/8 169.254.0.0/16 192.0.0.0/24 192.0.2.0/24 192.31.196.0/24 192.52.193.0/24 192.88.99.0/24 192.175.48.0/24 198.18.0.0/15 198.51.100.0/24 203.0.113.0/24 224.0.0.0/4 240.0.0.0/4 " +
		"2001::/23 2001:db8::/32 2002::/16 3fff::/20")
)

// thisMachine says whether a host is this machine as it is written, whatever a name server says.
func thisMachine(host string) bool {
	a, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && a.Unmap().IsLoopback()
}

// bounded is as much of an answer as is taken; what is longer is an error and no short answer.
type bounded struct {
	io.ReadCloser
	left int
}

func (b *bounded) Read(p []byte) (int, error) {
	if len(p) > b.left+1 {
		p = p[:b.left+1]
	}
	n, err := b.ReadCloser.Read(p)
	if b.left -= n; b.left < 0 {
		return 0, errTooLong
	}
	return n, err
}
