package web

import (
	"context"
	"crypto/tls"
	"errors"
	"log"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"regexp"
	"strings"
	"sync"
	"time"

	"fettle/internal/diag"
)

// Listener is where a server listens, and how.
type Listener struct {
	On  net.Listener
	TLS *tls.Config // nil: none
}

func (l Listener) over(on net.Listener) net.Listener {
	if l.TLS == nil {
		return on
	}
	c := l.TLS.Clone()
	c.NextProtos = []string{"h2", "http/1.1"}
	return tls.NewListener(on, c)
}

// Listen listens at an address. A client that has gone without a word is noticed after a minute.
func Listen(ctx context.Context, address string) (net.Listener, error) {
	c := net.ListenConfig{KeepAliveConfig: net.KeepAliveConfig{Enable: true, Idle: 20 * time.Second, Interval: 10 * time.Second, Count: 4}}
	l, err := c.Listen(ctx, "tcp", address)
	if err != nil {
		return nil, &diag.Error{Kind: diag.Unavailable, Op: "serve", Subject: address, Msg: "nothing can listen there", Hint: "give another address, or end the program that listens there", Err: err}
	}
	return l, nil
}

// Serve answers on the listeners until its context is done, and then stops: it is not ready any more, takes requests for
// a moment more, and ends those that run, within the time that it has.
func (s *Server) Serve(ctx context.Context, on ...Listener) error {
	srv := s.httpServer()
	failed := make(chan error, len(on))
	all := &conns{in: sharing(s.set.Limits.Conns)}
	for _, l := range on {
		go func() {
			failed <- srv.Serve(l.over(&counted{Listener: l.On, all: all, figures: s.figures}))
		}()
	}
	s.become(Serving)
	var err error
	select {
	case <-ctx.Done():
	case err = <-failed:
	}
	return errors.Join(listening(err), s.stop(ctx, srv))
}

// stop ends what runs.
func (s *Server) stop(ctx context.Context, srv *http.Server) error {
	until, end := context.WithTimeout(context.WithoutCancel(ctx), s.set.Limits.Stop)
	defer end()
	s.become(Stopping)
	defer s.become(Stopped)
	timer := time.NewTimer(s.set.Limits.Drain)
	defer timer.Stop()
	select {
	case <-timer.C:
	case <-until.Done():
	}
	if err := srv.Shutdown(until); err != nil {
		s.set.Log.Warn("requests were cut off at the end", "running", s.figures.running.Load())
		return srv.Close()
	}
	return nil
}

func listening(err error) error {
	if err == nil || errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return &diag.Error{Kind: diag.Unavailable, Op: "serve", Subject: "the listener", Msg: "cannot be served any more", Hint: "check the network of this machine, and begin again", Err: err}
}

func (s *Server) httpServer() *http.Server {
	l := s.set.Limits
	p := new(http.Protocols)
	p.SetHTTP1(true)
	p.SetHTTP2(true)
	return &http.Server{
		Handler: s, Protocols: p,
		ReadHeaderTimeout: l.HeaderTime, IdleTimeout: l.Idle, WriteTimeout: l.Slack, MaxHeaderBytes: l.Header,
		HTTP2:    &http.HTTP2Config{MaxConcurrentStreams: 100, MaxReadFrameSize: 1 << 16, SendPingTimeout: 15 * time.Second, PingTimeout: 15 * time.Second},
		ErrorLog: log.New(quiet{s.set.Log}, "", 0),
	}
}

// Figures are what the server counts.
func (s *Server) Figures() *Figures { return s.figures }

// ServeFigures answers on a listener of its own with the figures, until its context is done.
func (s *Server) ServeFigures(ctx context.Context, on net.Listener) error {
	m := http.NewServeMux()
	m.Handle("GET /metrics", s.figures)
	l := s.set.Limits
	srv := &http.Server{Handler: m, ReadHeaderTimeout: l.HeaderTime, ReadTimeout: l.HeaderTime, WriteTimeout: l.Slack, IdleTimeout: l.Idle, MaxHeaderBytes: l.Header, ErrorLog: log.New(quiet{s.set.Log}, "", 0)}
	end := context.AfterFunc(ctx, func() { _ = srv.Close() })
	defer end()
	return listening(srv.Serve(on))
}

// quiet is what the library tells of connections, without the addresses of people.
type quiet struct{ to *slog.Logger }

var addresses = regexp.MustCompile(`(?:\d{1,3}(?:\.\d{1,3}){3}|\[[0-9A-Fa-f:.]+(?:%[^\]]*)?\])(?::\d+)?`)

func (q quiet) Write(p []byte) (int, error) {
	q.to.Debug("connection", "said", addresses.ReplaceAllString(strings.TrimSpace(string(p)), "an address"))
	return len(p), nil
}

// counted is a listener that has so many connections at most, its share of them from one address; one more ends at once.
type counted struct {
	net.Listener
	all     *conns
	figures *Figures
}

// conns are the connections of all listeners of a server.
type conns struct {
	mu sync.Mutex
	in shares
}

func (c *conns) enter(from netip.Addr) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.in.free(from) {
		return false
	}
	c.in.take(from)
	return true
}

func (c *conns) left(from netip.Addr) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.in.left(from)
}

func (c *counted) Accept() (net.Conn, error) {
	for {
		conn, err := c.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := clientKey(remote(conn.RemoteAddr().String()))
		if c.all.enter(from) {
			c.figures.conns.Add(1)
			return &heldConn{Conn: conn, gone: sync.OnceFunc(func() {
				c.all.left(from)
				c.figures.conns.Add(-1)
			})}, nil
		}
		c.figures.refused("web.connections")
		_ = conn.Close() // there is nothing to be done about it
	}
}

type heldConn struct {
	net.Conn
	gone func()
}

func (h *heldConn) Close() error {
	defer h.gone()
	return h.Conn.Close()
}
