package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"slices"
	"strconv"
	"time"
)

// Stream is what one client is to hear of.
type Stream struct {
	Only  func(Move) bool             // what it may hear of; nil: nothing
	Still func(context.Context) error // whether it may still; asked before anything is told, and at each sign of life; nil: it may not
}

// streamed is what stands in an event.
type streamed struct {
	Job string `json:"job"`
	Seq int64  `json:"seq"`
}

// event is what an event of a stream is called.
type event string

// Events of a stream. After begin and again a client reads anew what it shows: what it missed is not told one by one.
const (
	eventBegin event = "begin"
	eventAgain event = "again"
	eventJob   event = "job"
)

// Serve answers with events (HTML Living Standard, "Server-sent events") until the client leaves, may not hear more, or the server stops. A client
// that comes back with the identity of the last one it has heard of hears what it missed.
func (h *Hub) Serve(w http.ResponseWriter, r *http.Request, s Stream) {
	a := aboutOf(r.Context())
	if !h.enter(a.client) {
		Tell(w, r, Problem{Status: http.StatusServiceUnavailable, Code: "web.streams", Detail: "there are too many streams", Hint: "ask again later", After: 30 * time.Second})
		return
	}
	defer h.left(a.client)
	a.left() // a stream is no request that others wait for
	if out, is := w.(*answer); is {
		out.stream = true
	}
	select {
	case <-h.begun:
	case <-h.ended:
		return
	case <-r.Context().Done():
		return
	}
	t := &told{hub: h, of: s, w: w, out: http.NewResponseController(w)}
	w.Header().Set("Content-Type", "text/event-stream; charset=utf-8")
	if err := t.begin(r); err != nil {
		return // the client is gone, or slower than it may be
	}
	_ = t.run(r.Context()) // likewise
}

// told is a stream that runs.
type told struct {
	hub *Hub
	of  Stream
	w   http.ResponseWriter
	out *http.ResponseController
	at  int64
	b   bytes.Buffer
}

func (t *told) begin(r *http.Request) error {
	now := t.hub.atNow()
	seen, err := strconv.ParseInt(r.Header.Get("Last-Event-ID"), 10, 64)
	if err == nil && seen <= now && now-seen <= t.hub.set.Replay && seen >= -1 {
		t.at = seen
		fmt.Fprintf(&t.b, "retry: %d\n", retry())
		return t.send("", nil)
	}
	t.at = now
	fmt.Fprintf(&t.b, "retry: %d\n", retry())
	what := eventBegin
	if r.Header.Get("Last-Event-ID") != "" {
		what = eventAgain
	}
	return t.send(what, struct{}{})
}

// retry is after how many milliseconds a client comes back: not all at once, where a server ends.
func retry() int { return 1000 + rand.IntN(4000) }

// run tells what is new, and gives signs of life.
func (t *told) run(ctx context.Context) error {
	beat := time.NewTicker(t.hub.set.Beat)
	defer beat.Stop()
	for {
		moves, at, more, ok := t.hub.after(t.at)
		own := t.own(moves)
		if !ok {
			var err error
			if own, at, err = t.missed(ctx); err != nil {
				return err
			}
		}
		if err := t.tell(ctx, own, at); err != nil {
			return err
		}
		if !ok {
			continue // there is more that is kept
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-t.hub.ended:
			return nil
		case <-more:
		case <-beat.C:
			if err := t.still(ctx); err != nil {
				return err
			}
			if err := t.send("", nil); err != nil {
				return err
			}
		}
	}
}

// missed reads what is not kept any more; few streams do so at once.
func (t *told) missed(ctx context.Context) ([]Move, int64, error) {
	select {
	case t.hub.replays <- struct{}{}:
	case <-ctx.Done():
		return nil, t.at, ctx.Err()
	}
	defer func() { <-t.hub.replays }()
	moves, err := t.hub.set.From.After(ctx, t.at, readAtOnce)
	if err != nil || len(moves) == 0 {
		return nil, t.hub.atNow(), err
	}
	return t.own(moves), moves[len(moves)-1].N, nil
}

// own is the jobs among what was written that may be told of, of each the last. It is a copy: who waits for a slow client holds
// nothing else.
func (t *told) own(moves []Move) []Move {
	if t.of.Only == nil {
		return nil
	}
	last := map[string]int{}
	for i, m := range moves {
		if m.Job != "" && t.of.Only(m) {
			last[m.Job] = i
		}
	}
	out := make([]Move, 0, len(last))
	for _, i := range slices.Sorted(maps.Values(last)) {
		out = append(out, moves[i])
	}
	return out
}

func (t *told) still(ctx context.Context) error {
	if t.of.Still == nil {
		return http.ErrNotSupported
	}
	return t.of.Still(ctx)
}

// tell tells of jobs that moved. Where none did, a client is told where it is with the next sign of life.
func (t *told) tell(ctx context.Context, own []Move, at int64) error {
	defer func() { t.at = at }()
	if len(own) == 0 {
		return nil
	}
	if err := t.still(ctx); err != nil {
		return err
	}
	for _, m := range t.own(own) { // what they may hear of may have changed
		t.at = m.N
		if err := t.put(eventJob, streamed{m.Job, m.Seq}); err != nil {
			return err
		}
	}
	return t.flush()
}

func (t *told) send(what event, data any) error {
	if err := t.put(what, data); err != nil {
		return err
	}
	return t.flush()
}

// put writes an event with where the stream is; one without data is none, and the client notes where it is all the same.
func (t *told) put(what event, data any) error {
	fmt.Fprintf(&t.b, "id: %d\n", t.at)
	if what != "" {
		text, err := json.Marshal(data)
		if err != nil {
			return err
		}
		fmt.Fprintf(&t.b, "event: %s\ndata: %s\n", what, text)
	}
	t.b.WriteByte('\n')
	return nil
}

func (t *told) flush() error {
	_, err := t.w.Write(t.b.Bytes())
	t.b = bytes.Buffer{} // a stream mostly waits: it holds no room for what it has told
	if err != nil {
		return err
	}
	return t.out.Flush()
}
