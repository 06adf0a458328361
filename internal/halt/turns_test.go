package halt_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/halt"
)

// waits is until something holds; the machine may be busy.
func waits(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for until := time.Now().Add(30 * time.Second); !holds(); time.Sleep(time.Millisecond) {
		if time.Now().After(until) {
			t.Fatalf("not within half a minute: %s", what)
		}
	}
}

// line has work of some people ask for the only turn in this order while somebody has it, and tells in which order they are served.
func line(t *testing.T, who ...string) []string {
	t.Helper()
	turns := halt.NewTurns(1)
	first := turns.Take(nil)
	var mu sync.Mutex
	var served []string
	var all sync.WaitGroup
	for i, w := range who {
		ctx := halt.By(t.Context(), w)
		if w == "behind" {
			ctx = halt.Behind(ctx)
		}
		all.Go(func() {
			err := halt.Do(ctx, func(work *halt.Work) {
				defer turns.Take(work)()
				mu.Lock()
				defer mu.Unlock()
				served = append(served, w)
			})
			if err != nil {
				t.Error(err)
			}
		})
		waits(t, "the next is in the line", func() bool { return turns.Waiting() == i+1 })
	}
	first()
	all.Wait()
	return served
}

// By hand, from the words of Turns: who was served longest ago comes first, what is behind last, and every eighth turn is of whoever came first.
func TestTurnsAreFair(t *testing.T) {
	for _, x := range []struct{ asked, served []string }{
		{[]string{"a", "b", "c"}, []string{"a", "b", "c"}},
		{[]string{"a", "a", "a", "b", "c"}, []string{"a", "b", "c", "a", "a"}},
		{[]string{"behind", "a", "b"}, []string{"a", "b", "behind"}},
		{[]string{"behind", "a", "a", "a", "a", "a", "a", "a", "a", "b"}, []string{"a", "b", "a", "a", "a", "a", "a", "behind", "a", "a"}},
	} {
		if got := line(t, x.asked...); !slices.Equal(got, x.served) {
			t.Errorf("asked %v: served %v, want %v", x.asked, got, x.served)
		}
	}
}

// TestTurnsAreBounded: many ask at once, and a third of them go away while they wait or compute; never more compute than may, and all turns are there at
// the end. Whoever has a turn is not kept waiting for another.
func TestTurnsAreBounded(t *testing.T) {
	const most = 3
	turns := halt.NewTurns(most)
	var now, worst, stopped atomic.Int64
	var all sync.WaitGroup
	for i := range 300 {
		r := rand.New(rand.NewPCG(20, uint64(i)))
		ctx, stop := context.WithCancel(halt.By(t.Context(), fmt.Sprint(i%7)))
		if i%5 == 0 {
			ctx = halt.Behind(ctx)
		}
		if i%3 == 0 {
			after := time.Duration(r.IntN(3000)) * time.Microsecond
			time.AfterFunc(after, stop)
		}
		all.Go(func() {
			defer stop()
			err := halt.Do(ctx, func(w *halt.Work) {
				defer turns.Take(w)()
				defer turns.Take(w)()
				defer now.Add(-1)
				for n := now.Add(1); ; {
					if was := worst.Load(); n <= was || worst.CompareAndSwap(was, n) {
						break
					}
				}
				for range r.IntN(50) {
					w.Step()
					time.Sleep(10 * time.Microsecond)
				}
			})
			if errors.Is(err, context.Canceled) {
				stopped.Add(1)
			} else if err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if worst.Load() > most || turns.Waiting() != 0 {
		t.Errorf("%d computed at once, and may %d; %d wait", worst.Load(), most, turns.Waiting())
	}
	for range most {
		turns.Take(nil)
	}
	ctx, stop := context.WithCancel(t.Context())
	go func() {
		for turns.Waiting() == 0 {
			time.Sleep(time.Millisecond)
		}
		stop()
	}()
	if err := halt.Do(ctx, func(w *halt.Work) { turns.Take(w) }); !errors.Is(err, context.Canceled) {
		t.Errorf("a turn too many: %v", err)
	}
	t.Logf("%d went away", stopped.Load())
}

func TestNoTurns(t *testing.T) {
	var none *halt.Turns
	none.Take(nil)()
	none.Take(nil)()
}
