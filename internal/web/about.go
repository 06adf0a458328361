package web

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"net/netip"
	"sync"
	"time"
)

// about is what is known of a request while it is answered.
type about struct {
	id     string
	began  time.Time
	client netip.Addr
	secure bool // it came over TLS

	mu     sync.Mutex
	route  string
	person string
	leave  func() // gives its turn back; nil: it has none
}

type aboutKey struct{}

func aboutOf(ctx context.Context) *about {
	a, ok := ctx.Value(aboutKey{}).(*about)
	if !ok {
		return &about{} // outside of a server: nothing is known, and nothing is believed
	}
	return a
}

// RequestID is the identity of a request, which its answer and the log have.
func RequestID(ctx context.Context) string { return aboutOf(ctx).id }

// Client is the address that a request came from; behind proxies that are believed, the one they tell.
func Client(ctx context.Context) netip.Addr { return aboutOf(ctx).client }

// Secure says that a request came over TLS, to this server or to a proxy that is believed.
func Secure(ctx context.Context) bool { return aboutOf(ctx).secure }

// Noted has the log and the figures name the route of a request, as it is declared and not as it was asked for, and the opaque
// identity of who sent it; an empty text changes nothing.
func Noted(ctx context.Context, route, person string) {
	a := aboutOf(ctx)
	a.mu.Lock()
	defer a.mu.Unlock()
	if route != "" {
		a.route = route
	}
	if person != "" {
		a.person = person
	}
}

func (a *about) noted() (route, person string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.route, a.person
}

// left gives the turn of a request back, once.
func (a *about) left() {
	a.mu.Lock()
	leave := a.leave
	a.leave = nil
	a.mu.Unlock()
	if leave != nil {
		leave()
	}
}

func drawnID() string {
	var b [10]byte
	_, _ = rand.Read(b[:]) // it never fails
	return hex.EncodeToString(b[:])
}
