package web

import (
	"context"
	"net/netip"
	"sync"
	"time"
)

// Move is something that was written. N is one order for all servers of a store, and after a restart too.
type Move struct {
	N    int64
	Job  string // that moved; empty: something else was written
	Seq  int64  // of its event
	Shop string // whose the job is now
}

// Moves is where a hub hears of what was written, by whichever program.
type Moves interface {
	// Newest is the newest; less than zero where there is none.
	Newest(ctx context.Context) (int64, error)
	// After is what was written after one, oldest first, so many at most.
	After(ctx context.Context, n int64, most int) ([]Move, error)
}

// HubSettings say how a hub works.
type HubSettings struct {
	From   Moves
	Woken  <-chan struct{} // tells that there may be something new; nil: nobody does
	Failed func(error)     // is told when they cannot be read; nil: nobody is

	Look    time.Duration // how often it looks where nobody tells it; 1 s unless given
	Gather  time.Duration // what is written within is told at once; 50 ms unless given
	Keep    int           // so many are kept for those who come back; 4096 unless given
	Replay  int64         // whoever has missed more begins anew; 10,000 unless given
	Beat    time.Duration // between two signs of life of a stream; 15 s unless given
	Streams int           // at once; 10,000 unless given
}

// Hub tells streams of what was written. It keeps nothing for a stream but where it is: whoever takes nothing costs
// nothing but his connection.
type Hub struct {
	set HubSettings

	mu    sync.Mutex
	begun chan struct{} // closed once newest is known
	more  chan struct{} // closed when there is more
	kept  []Move        // the last ones, oldest first
	from  int64         // everything after is in kept
	at    int64         // the newest that was read
	open  map[netip.Addr]int
	n     int
	ended chan struct{}

	replays chan struct{} // a place for each that reads what is not kept
}

// NewHub is a hub that has not begun to read.
func NewHub(s HubSettings) *Hub {
	s.Look, s.Gather, s.Beat = or(s.Look, time.Second), or(s.Gather, 50*time.Millisecond), or(s.Beat, 15*time.Second)
	s.Keep, s.Replay, s.Streams = or(s.Keep, 4096), or(s.Replay, 10000), or(s.Streams, Default().Streams)
	return &Hub{set: s, begun: make(chan struct{}), more: make(chan struct{}), ended: make(chan struct{}), open: map[netip.Addr]int{}, replays: make(chan struct{}, replaysAtOnce)}
}

// Run reads what is written until its context is done; then all streams end.
func (h *Hub) Run(ctx context.Context) {
	defer close(h.ended)
	for !h.begin(ctx) {
		if !h.rest(ctx) {
			return
		}
	}
	for h.rest(ctx) {
		h.read(ctx)
	}
}

// rest waits until there may be more, and a moment for what comes with it.
func (h *Hub) rest(ctx context.Context) bool {
	timer := time.NewTimer(h.set.Look)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return true
	case <-h.set.Woken:
	}
	gather := time.NewTimer(h.set.Gather)
	defer gather.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-gather.C:
		return true
	}
}

func (h *Hub) failed(ctx context.Context, err error) bool {
	if err != nil && ctx.Err() == nil && h.set.Failed != nil {
		h.set.Failed(err)
	}
	return err != nil
}

// begin finds out what is the newest, and has the last ones at hand for those who come back from another server.
func (h *Hub) begin(ctx context.Context) bool {
	at, err := h.set.From.Newest(ctx)
	if h.failed(ctx, err) {
		return false
	}
	from := max(-1, at-int64(h.set.Keep))
	h.mu.Lock()
	h.from, h.at = from, from
	h.mu.Unlock()
	for h.atNow() < at {
		was := h.atNow()
		if h.read(ctx); h.atNow() == was {
			return false
		}
	}
	close(h.begun)
	return true
}

func (h *Hub) atNow() int64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.at
}

// How much is read at once, and by how many streams that missed it.
const (
	readAtOnce    = 1000
	replaysAtOnce = 4
)

// read reads what is new.
func (h *Hub) read(ctx context.Context) {
	for {
		fresh, err := h.set.From.After(ctx, h.atNow(), readAtOnce)
		if h.failed(ctx, err) || len(fresh) == 0 {
			return
		}
		h.add(fresh)
		if len(fresh) < readAtOnce {
			return
		}
	}
}

func (h *Hub) add(fresh []Move) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.kept = append(h.kept, fresh...)
	h.at = fresh[len(fresh)-1].N
	if over := len(h.kept) - h.set.Keep; over > 0 {
		h.from = h.kept[over-1].N
		h.kept = append([]Move(nil), h.kept[over:]...)
	}
	close(h.more)
	h.more = make(chan struct{})
}

// after is what is kept after one, up to which it is all, and what is closed when there is more. It is not ok where something
// between is not kept any more.
func (h *Hub) after(n int64) (moves []Move, at int64, more <-chan struct{}, ok bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if n < h.from {
		return nil, h.at, h.more, false
	}
	i := len(h.kept)
	for i > 0 && h.kept[i-1].N > n {
		i--
	}
	return h.kept[i:], h.at, h.more, true
}

// enter counts a stream; of one client there are three quarters of all at most.
func (h *Hub) enter(client netip.Addr) bool {
	client = clientKey(client)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.n >= h.set.Streams || h.open[client] >= share(h.set.Streams) {
		return false
	}
	h.n++
	h.open[client]++
	return true
}

func (h *Hub) left(client netip.Addr) {
	client = clientKey(client)
	h.mu.Lock()
	defer h.mu.Unlock()
	h.n--
	if h.open[client]--; h.open[client] == 0 {
		delete(h.open, client)
	}
}

// Open is how many streams there are.
func (h *Hub) Open() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.n
}
