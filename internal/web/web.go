// Package web is the shell of the server: listeners, limits, headers, faults, health, figures and its end. It knows
// nothing of jobs or people: what is asked under /api/ goes to one handler, everything else to another.
package web

import (
	"context"
	"log/slog"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"time"
)

// Config is what a server is made of. The zero value serves nothing but its health.
type Config struct {
	API   http.Handler // everything under /api/; nil: there is none
	Pages http.Handler // everything else; nil: there is nothing
	// Lane is which turns a request has; nil: they are all in the wide one. Whoever floods one lane keeps nobody waiting in another.
	Lane  func(*http.Request) Lane
	Ready func(context.Context) error // whether what it stands on can be used; nil: it can

	Log    *slog.Logger     // nil: nothing is logged
	Now    func() time.Time // nil: the clock
	Stages func(Stage)      // is told how far it is; nil: nobody is

	Proxies []netip.Prefix // whose word about clients is believed; none: nobody's
	Hosts   []string       // names it answers to, without ports; none: any
	Origins []string       // whose pages may send too, as https://host; none: only its own
	Limits  Limits         // those of Default where they are zero
}

// Stage is how far a server is.
type Stage int

// Stages of a server.
const (
	Starting Stage = iota
	Serving
	Stopping
	Stopped
)

// Lane is turns that some requests have in common.
type Lane int

// Lanes. What waits for hashes or computes long has turns of its own.
const (
	Wide Lane = iota
	Hashing
	Computing
)

// Limits say how much is taken on. They are our choice, but for those of header and bodies, which are common practice.
type Limits struct {
	Running int           // requests that are worked on at once
	Waiting int           // requests that wait for their turn
	Wait    time.Duration // for so long
	Uploads int           // requests with large bodies at once
	Hash    int           // requests at once of the lane that hashes
	Compute int           // likewise that computes; of each eight times as many wait
	Queue   time.Duration // for so long
	Streams int           // streams of events at once
	Conns   int           // connections at once

	Header     int           // bytes of a header
	Body       int64         // bytes of a body; routes ask for less
	HeaderTime time.Duration // for a header to come
	Idle       time.Duration // for the next request of a connection
	Slack      time.Duration // for a body or an answer that does not move on
	Slowest    int64         // bytes in a second, beyond Slack
	Drain      time.Duration // it is not ready any more, and still takes requests
	Stop       time.Duration // for all of the end
}

// Server is a server.
type Server struct {
	set     Config
	handler http.Handler
	gate    *gate
	uploads *gate
	lanes   map[Lane]*gate
	figures *Figures
	state   state
}

// New is a server that does not listen yet.
func New(c Config) (*Server, error) {
	c.Limits = c.Limits.orDefault()
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	s := &Server{set: c, figures: newFigures()}
	s.gate = newGate(c.Limits.Running, c.Limits.Waiting, c.Limits.Wait)
	s.uploads = newGate(c.Limits.Uploads, c.Limits.Uploads, c.Limits.Wait)
	s.lanes = map[Lane]*gate{Hashing: newGate(c.Limits.Hash, 8*c.Limits.Hash, c.Limits.Queue), Computing: newGate(c.Limits.Compute, 8*c.Limits.Compute, c.Limits.Queue)}
	same := http.NewCrossOriginProtection()
	for _, o := range c.Origins {
		if err := same.AddTrustedOrigin(o); err != nil {
			return nil, badSetting("origins", o, "write it as https://host, with its port where it has one", err)
		}
	}
	same.SetDenyHandler(http.HandlerFunc(crossSite))
	s.handler = s.framed(s.named(s.overTLS(same.Handler(s.limited(http.HandlerFunc(s.route))))))
	return s, nil
}

// overTLS refuses what a page sends that came without TLS to a server that is asked over it: anybody between could have written that page, and
// the library compares the host alone.
func (s *Server) overTLS(inner http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		origin := r.Header.Get("Origin")
		switch r.Method {
		case http.MethodGet, http.MethodHead, http.MethodOptions:
			origin = ""
		}
		if Secure(r.Context()) && strings.HasPrefix(strings.ToLower(origin), "http://") && !slices.Contains(s.set.Origins, origin) {
			crossSite(w, r)
			return
		}
		inner.ServeHTTP(w, r)
	})
}

// ServeHTTP answers a request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// route gives a request to whoever answers it.
func (s *Server) route(w http.ResponseWriter, r *http.Request) {
	to := s.set.Pages
	if r.URL.Path == "/api" || strings.HasPrefix(r.URL.Path, "/api/") {
		to = s.set.API
	}
	if to == nil {
		Tell(w, r, Problem{Status: http.StatusNotFound, Code: "web.nothing-here", Detail: "nothing is served at this address"})
		return
	}
	to.ServeHTTP(w, r)
}
