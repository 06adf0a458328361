package web

import (
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// named refuses a request for a name that is not one of this server: a page of another site can have its own name lead
// here, and would then be of the same origin.
func (s *Server) named(inner http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if healthPath(r.URL.Path).is() {
			s.health(w, r)
			return
		}
		if len(s.set.Hosts) > 0 && !slices.Contains(s.set.Hosts, HostOf(r.Host)) {
			Tell(w, r, Problem{Status: http.StatusMisdirectedRequest, Code: "web.other-host", Detail: "this server does not answer to that name", Hint: "use an address that it printed when it began, or have the name added to its settings"})
			return
		}
		inner.ServeHTTP(w, r)
	})
}

// HostOf is the name in a Host header: small, without port, dot at the end and brackets.
func HostOf(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
	if a, err := netip.ParseAddr(host); err == nil {
		return a.String()
	}
	return strings.TrimSuffix(strings.ToLower(host), ".")
}

// Loopback are the names of a server that only its own machine reaches.
func Loopback() []string { return []string{"localhost", "127.0.0.1", "::1"} }
