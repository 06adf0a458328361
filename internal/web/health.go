package web

import (
	"context"
	"errors"
	"net/http"
	"sync/atomic"
	"time"
)

// healthPath is where a server says how it is.
type healthPath string

const (
	livePath  healthPath = "/livez"
	readyPath healthPath = "/readyz"
)

func (p healthPath) is() bool { return p == livePath || p == readyPath }

// readyTime is how long what a server stands on may take to answer.
const readyTime = 2 * time.Second

// state is how far a server is.
type state struct{ stage atomic.Int64 }

func (s *state) is() Stage      { return Stage(s.stage.Load()) }
func (s *state) stopping() bool { return s.is() >= Stopping }

func (s *Server) become(to Stage) {
	s.state.stage.Store(int64(to))
	if s.set.Stages != nil {
		s.set.Stages(to)
	}
}

// health says that the program lives, or whether it serves: not before it began, not while it stops, and not while
// what it stands on cannot be used.
func (s *Server) health(w http.ResponseWriter, r *http.Request) {
	Noted(r.Context(), r.URL.Path, "")
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		Tell(w, r, Problem{Status: http.StatusMethodNotAllowed, Code: "web.method", Detail: "this can only be read"})
		return
	}
	if healthPath(r.URL.Path) == readyPath {
		if err := s.ready(r.Context()); err != nil {
			s.set.Log.Warn("not ready", "id", RequestID(r.Context()), "why", err.Error())
			Tell(w, r, Problem{Status: http.StatusServiceUnavailable, Code: "web.not-ready", Detail: "the server is not ready", After: time.Second})
			return
		}
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("ok\n")) // whoever asked has left
}

// Alive asks the server, in this program, whether it lives.
func (s *Server) Alive(ctx context.Context) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, string(livePath), nil)
	if err != nil {
		return err
	}
	w, done := &probe{h: http.Header{}}, make(chan struct{})
	go func() {
		defer close(done)
		s.ServeHTTP(w, r)
	}()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-done:
	}
	if w.status != http.StatusOK {
		return errors.New(http.StatusText(w.status))
	}
	return nil
}

// probe takes an answer of which only the status is wanted.
type probe struct {
	h      http.Header
	status int
}

func (p *probe) Header() http.Header         { return p.h }
func (p *probe) WriteHeader(status int)      { p.status = status }
func (p *probe) Write(b []byte) (int, error) { return len(b), nil }

type notServing Stage

func (n notServing) Error() string {
	if Stage(n) == Starting {
		return "it has not begun yet"
	}
	return "it is stopping"
}

func (s *Server) ready(ctx context.Context) error {
	if is := s.state.is(); is != Serving {
		return notServing(is)
	}
	if s.set.Ready == nil {
		return nil
	}
	ctx, end := context.WithTimeout(ctx, readyTime)
	defer end()
	return s.set.Ready(ctx)
}
