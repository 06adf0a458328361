package web

import (
	"context"
	"io"
	"net/http"
	"time"
)

// answer is what is written to a client: it has the headers, counts what is sent, and does not wait for a client
// that takes less than the slowest.
type answer struct {
	http.ResponseWriter
	a       *about
	limits  *Limits
	closing func() bool
	given   context.Context // of the connection

	status int
	sent   int64
	first  time.Time
	stream bool
}

// Unwrap is for http.ResponseController.
func (w *answer) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// WriteHeader writes the header; one before the last (1xx) is not counted.
func (w *answer) WriteHeader(status int) {
	if w.status != 0 {
		return
	}
	if status >= 200 {
		w.status = status
		fill(w.Header(), w.a.id, w.a.secure)
		if w.closing() || w.given.Err() != nil { // of a connection that was given up all that comes over it would be stopped at once
			w.Header().Set("Connection", "close")
		}
	}
	w.ResponseWriter.WriteHeader(status)
}

// Write writes a part of the body, within the time it may take.
func (w *answer) Write(p []byte) (int, error) {
	if w.status == 0 {
		w.WriteHeader(http.StatusOK)
	}
	w.mayTake(int64(len(p)))
	n, err := w.ResponseWriter.Write(p)
	w.sent += int64(n)
	return n, err
}

// Flush sends what was written.
func (w *answer) Flush() { _ = w.FlushError() } // whoever wants to know asks the other

// FlushError is for http.ResponseController.
func (w *answer) FlushError() error {
	if w.status == 0 {
		w.WriteHeader(http.StatusOK)
	}
	w.mayTake(0)
	return http.NewResponseController(w.ResponseWriter).Flush()
}

// mayTake says until when what is written next has to be taken. A stream may last; each part of it may not.
func (w *answer) mayTake(more int64) {
	now := time.Now()
	if w.first.IsZero() || w.stream {
		w.first = now
	}
	until := w.first.Add(w.limits.Slack)
	if !w.stream {
		until = until.Add(time.Duration((w.sent + more) / w.limits.Slowest * int64(time.Second)))
	}
	_ = http.NewResponseController(w.ResponseWriter).SetWriteDeadline(until) // a recorder of tests has none
}

// body is what a client sends: no more than may be, and not slower than the slowest.
type body struct {
	io.ReadCloser
	to     *http.ResponseController
	limits *Limits
	first  time.Time
	read   int64
}

func (b *body) Read(p []byte) (int, error) {
	now := time.Now()
	if b.first.IsZero() {
		b.first = now
	}
	until := b.first.Add(b.limits.Slack + time.Duration(b.read/b.limits.Slowest*int64(time.Second)))
	_ = b.to.SetReadDeadline(until)
	n, err := b.ReadCloser.Read(p)
	b.read += int64(n)
	if err == io.EOF {
		_ = b.to.SetReadDeadline(time.Time{}) // what is waited for now is that the client leaves
	}
	return n, err
}
