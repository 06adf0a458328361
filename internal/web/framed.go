package web

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"time"
)

// framed gives each request an identity, and answers for what goes wrong inside.
func (s *Server) framed(inner http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a := &about{id: drawnID(), began: time.Now()}
		a.client, a.secure = s.from(r)
		out := &answer{ResponseWriter: w, a: a, limits: &s.set.Limits, closing: s.state.stopping, given: r.Context()}
		if r.ProtoMajor == 1 && len(r.TransferEncoding) > 0 {
			out.closing = always // it may have had a length besides, which the library drops: then this has to be the last (RFC 9112, 6.1)
		}
		_ = http.NewResponseController(w).SetWriteDeadline(time.Time{}) // the time runs from the first that is written
		r = r.WithContext(context.WithValue(r.Context(), aboutKey{}, a))
		if r.Body != nil && r.Body != http.NoBody {
			r.Body = http.MaxBytesReader(w, &body{ReadCloser: r.Body, to: http.NewResponseController(w), limits: &s.set.Limits}, s.set.Limits.Body)
		}
		s.figures.began()
		defer func() { s.ended(out, r, a, recover()) }()
		inner.ServeHTTP(out, r)
	})
}

func always() bool { return true }

// ended says how a request ended. A fault of the program is told by its identity alone; the log has where it was.
func (s *Server) ended(out *answer, r *http.Request, a *about, fault any) {
	a.left()
	if fault != nil && fault != http.ErrAbortHandler {
		s.figures.panics.Add(1)
		s.set.Log.Error("a request met a fault of the program", "id", a.id, "fault", fmt.Sprint(fault), "stack", string(debug.Stack()))
		if out.status == 0 {
			Tell(out, r, Problem{Status: http.StatusInternalServerError, Code: "web.fault", Detail: "the program has a fault", Hint: "tell who looks after this server the id"})
			fault = nil
		}
	}
	if out.status == 0 && fault == nil {
		out.WriteHeader(http.StatusOK)
	}
	if !out.stream {
		out.mayTake(0) // what is left is sent by the server
	}
	route, person := a.noted()
	if route == "" {
		route = r.Pattern
	}
	took := time.Since(a.began)
	s.figures.ended(r.Method, route, out.status, took)
	level := slog.LevelInfo
	switch {
	case out.status >= 500:
		level = slog.LevelWarn
	case healthPath(r.URL.Path).is():
		level = slog.LevelDebug // it is asked again and again
	}
	s.set.Log.Log(context.WithoutCancel(r.Context()), level, "request", "id", a.id, "method", methodOf(r.Method), "route", route, "status", out.status,
		"bytes", out.sent, "ms", took.Milliseconds(), "person", person)
	if fault != nil {
		panic(http.ErrAbortHandler) // what was sent is not whole: the connection ends
	}
}

// methodOf is the method of a request; of one that is none of HTTP, nothing is repeated.
func methodOf(m string) string {
	switch m {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return m
	}
	return "other"
}
