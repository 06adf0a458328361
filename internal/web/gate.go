package web

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// smallBody is what is read of a body before a request gets its turn: a slow client keeps nobody waiting but itself.
const smallBody = 64 << 10

// gate lets so many in at once, in the order they came; others wait a while. One client has its share at most, of both.
type gate struct {
	line int
	wait time.Duration

	mu      sync.Mutex
	in      shares
	waiting []*waiter
}

type waiter struct {
	client netip.Addr
	turn   chan struct{}
}

func newGate(most, line int, wait time.Duration) *gate {
	return &gate{line: line, wait: wait, in: sharing(most)}
}

var (
	errFull = errors.New("the server is busy")
	errMuch = errors.New("this client has too much at once")
)

// enter waits for a turn; leave gives it back.
func (g *gate) enter(ctx context.Context, client netip.Addr) (leave func(), err error) {
	client = clientKey(client)
	g.mu.Lock()
	if g.in.free(client) {
		g.in.take(client)
		g.mu.Unlock()
		return func() { g.left(client) }, nil
	}
	if len(g.waiting) >= g.line || g.waits(client) >= share(g.line) {
		defer g.mu.Unlock()
		return nil, g.why(client)
	}
	w := &waiter{client, make(chan struct{})}
	g.waiting = append(g.waiting, w)
	g.mu.Unlock()
	timer := time.NewTimer(g.wait)
	defer timer.Stop()
	select {
	case <-w.turn:
		return func() { g.left(client) }, nil
	case <-timer.C:
	case <-ctx.Done():
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if i := slices.Index(g.waiting, w); i >= 0 {
		g.waiting = slices.Delete(g.waiting, i, i+1)
		return nil, errors.Join(ctx.Err(), g.why(client))
	}
	return func() { g.left(client) }, nil // its turn came just now
}

func (g *gate) waits(client netip.Addr) (n int) {
	for _, w := range g.waiting {
		if w.client == client {
			n++
		}
	}
	return n
}

func (g *gate) why(client netip.Addr) error {
	if g.in.much(client) || g.waits(client) >= share(g.line) {
		return errMuch
	}
	return errFull
}

// left gives a turn to the first that may have it.
func (g *gate) left(client netip.Addr) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.in.left(client)
	i := slices.IndexFunc(g.waiting, func(w *waiter) bool { return g.in.free(w.client) })
	if i < 0 {
		return
	}
	w := g.waiting[i]
	g.waiting = slices.Delete(g.waiting, i, i+1)
	g.in.take(w.client)
	close(w.turn)
}

// limited has requests wait for their turn.
func (s *Server) limited(inner http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a, g := aboutOf(r.Context()), s.gate
		if r.ContentLength > smallBody || r.ContentLength < 0 {
			g = s.uploads
		} else if r.ContentLength > 0 {
			all, err := io.ReadAll(r.Body)
			if err != nil {
				w.Header().Set("Connection", "close")
				Tell(w, r, Problem{Status: http.StatusRequestTimeout, Code: "web.body-broke-off", Detail: "the body did not come whole in time", Hint: "send it again"})
				return
			}
			r.Body = io.NopCloser(bytes.NewReader(all))
		}
		if s.set.Lane != nil {
			if own := s.lanes[s.set.Lane(r)]; own != nil {
				g = own
			}
		}
		leave, err := g.enter(r.Context(), a.client)
		if err != nil {
			s.busy(w, r, err)
			return
		}
		a.mu.Lock()
		a.leave = leave
		a.mu.Unlock()
		inner.ServeHTTP(w, r)
	})
}

// busy refuses what is too much.
func (s *Server) busy(w http.ResponseWriter, r *http.Request, why error) {
	p := Problem{Status: http.StatusServiceUnavailable, Code: "web.busy", Detail: errFull.Error(), Hint: "ask again in a moment", After: time.Second}
	if errors.Is(why, errMuch) {
		p.Status, p.Code, p.Detail = http.StatusTooManyRequests, "web.too-much-at-once", errMuch.Error()
	}
	s.figures.refused(p.Code)
	Tell(w, r, p)
}
