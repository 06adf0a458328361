package tlsfile

import (
	"bytes"
	"crypto/x509"
	"net"
	"net/netip"
	"strings"

	"golang.org/x/net/publicsuffix"

	"fettle/internal/diag"
)

// Names are what a server is reached by.
type Names struct {
	DNS []string
	IP  []netip.Addr
}

// Every server is reached by these from its own machine.
var own = Names{DNS: []string{"localhost"}, IP: []netip.Addr{netip.MustParseAddr("127.0.0.1"), netip.IPv6Loopback()}}

// ParseNames reads names and addresses. An authority can vouch for all that lies below a name, so a name has to be one that has an owner:
// two labels at least, and more than what a registry sells names below.
func ParseNames(texts []string) (Names, error) {
	n := Names{DNS: append([]string(nil), own.DNS...), IP: append([]netip.Addr(nil), own.IP...)}
	for _, text := range texts {
		if a, err := netip.ParseAddr(text); err == nil {
			if a.IsUnspecified() || a.Zone() != "" || a.IsMulticast() {
				return n, badName(text, "is no address that a server is reached by")
			}
			n.IP = append(n.IP, a.Unmap())
			continue
		}
		name := strings.TrimSuffix(strings.ToLower(text), ".")
		if name == own.DNS[0] {
			continue
		}
		if why := badDNS(name); why != "" {
			return n, badName(text, why)
		}
		n.DNS = append(n.DNS, name)
	}
	return n, nil
}

func badName(text, why string) error {
	return &diag.Error{Kind: diag.Invalid, Op: "names", Subject: text, Msg: why, Hint: "give a name such as workshop.local, or the address of this machine"}
}

func badDNS(name string) string {
	labels := strings.Split(name, ".")
	if len(name) > 253 || len(labels) < 2 {
		return "is no name of two labels or more"
	}
	for _, l := range labels {
		if l == "" || len(l) > 63 || strings.Trim(l, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" || l[0] == '-' || l[len(l)-1] == '-' {
			return "is no name of a machine"
		}
	}
	if suffix, icann := publicsuffix.PublicSuffix(name); icann && suffix == name || name == "home.arpa" {
		return "is what names of others end with"
	}
	if labels[len(labels)-1][0] >= '0' && labels[len(labels)-1][0] <= '9' {
		return "is no name of a machine"
	}
	return ""
}

func (n Names) all() []string {
	out := append([]string(nil), n.DNS...)
	for _, a := range n.IP {
		out = append(out, a.String())
	}
	return out
}

func (n Names) ips() (out []net.IP) {
	for _, a := range n.IP {
		out = append(out, a.AsSlice())
	}
	return out
}

// permitted are the ranges of addresses: each by itself.
func (n Names) permitted() (out []*net.IPNet) {
	for _, a := range n.IP {
		out = append(out, &net.IPNet{IP: a.AsSlice(), Mask: net.CIDRMask(a.BitLen(), a.BitLen())})
	}
	return out
}

// permits says whether an authority may vouch for a name.
func permits(c *x509.Certificate, name string) bool {
	if a, err := netip.ParseAddr(name); err == nil {
		for _, r := range c.PermittedIPRanges {
			if bytes.Equal(r.IP, a.AsSlice()) || r.Contains(a.AsSlice()) {
				return true
			}
		}
		return false
	}
	for _, d := range c.PermittedDNSDomains {
		if name == d || strings.HasSuffix(name, "."+d) {
			return true
		}
	}
	return false
}
