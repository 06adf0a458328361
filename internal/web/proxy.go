package web

import (
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// Headers by which proxies tell of clients. Those of a proxy that is not believed, and those that no proxy is asked for, are taken off:
// nobody behind can believe them by mistake.
const (
	forwardedFor   = "X-Forwarded-For"
	forwardedProto = "X-Forwarded-Proto"
)

var forwarding = []string{
	forwardedFor, forwardedProto, "X-Forwarded-Host", "X-Forwarded-Port", "X-Forwarded-Server", "X-Forwarded-Prefix", "X-Forwarded-Scheme", "X-Forwarded-Ssl", "Forwarded",
	"X-Real-Ip", "X-Client-Ip", "X-Cluster-Client-Ip", "True-Client-Ip", "Cf-Connecting-Ip", "Fastly-Client-Ip", "X-Original-Url", "X-Rewrite-Url",
	"X-Original-Host", "X-Original-Forwarded-For", "X-Http-Method-Override", "X-Http-Method", "X-Method-Override", "X-Remote-User", "Remote-User", "X-Scheme", "X-Url-Scheme", "Front-End-Https", "Via",
}

// from is which address a request came from, and whether over TLS. Of proxies that are believed the last address counts that
// is none of theirs: what stands before it anybody could have written.
func (s *Server) from(r *http.Request) (netip.Addr, bool) {
	client, secure := remote(r.RemoteAddr), r.TLS != nil
	told, proto := r.Header.Values(forwardedFor), r.Header.Values(forwardedProto)
	for _, name := range forwarding {
		r.Header.Del(name)
	}
	if !s.believed(client) {
		return client, secure
	}
	if len(proto) == 1 {
		secure = proto[0] == "https"
	}
	addresses := strings.Split(strings.Join(told, ","), ",")
	for _, text := range slices.Backward(addresses) {
		addr, err := netip.ParseAddr(strings.TrimSpace(text))
		if err != nil {
			return client, secure
		}
		client = addr.Unmap().WithZone("")
		if !s.believed(client) {
			break
		}
	}
	return client, secure
}

func (s *Server) believed(a netip.Addr) bool {
	return slices.ContainsFunc(s.set.Proxies, func(p netip.Prefix) bool { return p.Contains(a) })
}

// remote is the address of the other end of a connection; the zero one where it has none.
func remote(text string) netip.Addr {
	at, err := netip.ParseAddrPort(text)
	if err != nil {
		return netip.Addr{}
	}
	return at.Addr().Unmap().WithZone("")
}
