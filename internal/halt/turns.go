package halt

import (
	"context"
	"slices"
	"sync"
)

// Turns let so much work compute at once, and have the rest wait: of each one who asks in the order they came, among those who ask the one first
// who was served longest ago, and what is done behind others when none of them waits. Behind them nothing waits for ever: every eighth turn goes
// to what came first of all. A nil Turns lets everything compute.
type Turns struct {
	most int

	mu      sync.Mutex
	taken   int
	given   int            // turns that somebody had to wait for
	served  map[string]int // by who has work waiting: the last turn that was theirs
	waiting []*turn
}

// everyTurn is how often a turn goes to whoever came first.
const everyTurn = 8

type turn struct {
	by     string
	behind bool
	ready  chan struct{}
}

// NewTurns are turns for so much work at once.
func NewTurns(most int) *Turns { return &Turns{most: max(1, most), served: map[string]int{}} }

type (
	askedBy struct{}
	behind  struct{}
)

// By is a context whose work is somebody's, for turns.
func By(ctx context.Context, who string) context.Context {
	return context.WithValue(ctx, askedBy{}, who)
}

// Behind is a context whose work is done when nobody waits for a turn.
func Behind(ctx context.Context) context.Context { return context.WithValue(ctx, behind{}, true) }

// Take waits for a turn, and is stopped while it waits as in any step; done gives it back. Whoever has a turn takes none inside.
func (t *Turns) Take(w *Work) (done func()) {
	if t == nil || w != nil && w.turn {
		return func() {}
	}
	mine := t.ask(w.Context())
	if mine != nil {
		left := true
		defer func() {
			if left {
				t.leave(mine)
			}
		}()
		w.Wait(mine.ready)
		left = false
	}
	if w != nil {
		w.turn = true
	}
	return sync.OnceFunc(func() {
		if w != nil {
			w.turn = false
		}
		t.give()
	})
}

// Waiting is how much work waits for a turn.
func (t *Turns) Waiting() int {
	t.mu.Lock()
	defer t.mu.Unlock()
	return len(t.waiting)
}

// ask takes a turn, or is the place in the line.
func (t *Turns) ask(ctx context.Context) *turn {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.taken < t.most {
		t.taken++
		return nil
	}
	by, _ := ctx.Value(askedBy{}).(string)
	_, late := ctx.Value(behind{}).(bool)
	mine := &turn{by, late, make(chan struct{})}
	t.waiting = append(t.waiting, mine)
	return mine
}

// leave takes a place out of the line; a turn that came meanwhile is given on.
func (t *Turns) leave(mine *turn) {
	t.mu.Lock()
	i := slices.Index(t.waiting, mine)
	if i >= 0 {
		t.waiting = slices.Delete(t.waiting, i, i+1)
		t.forget(mine.by)
	}
	t.mu.Unlock()
	if i < 0 {
		t.give()
	}
}

// give gives a turn to the next.
func (t *Turns) give() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.waiting) == 0 {
		t.taken--
		return
	}
	i := t.next()
	next := t.waiting[i]
	t.given++
	t.served[next.by] = t.given
	t.waiting = slices.Delete(t.waiting, i, i+1)
	t.forget(next.by)
	close(next.ready)
}

// next is whose turn it is.
func (t *Turns) next() int {
	best := 0
	if (t.given+1)%everyTurn == 0 {
		return best
	}
	for i, w := range t.waiting {
		b := t.waiting[best]
		if w.behind != b.behind {
			if b.behind {
				best = i
			}
		} else if t.served[w.by] < t.served[b.by] {
			best = i
		}
	}
	return best
}

// forget lets go of who has nothing waiting any more.
func (t *Turns) forget(by string) {
	if !slices.ContainsFunc(t.waiting, func(w *turn) bool { return w.by == by }) {
		delete(t.served, by)
	}
}
