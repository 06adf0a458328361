package halt_test

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/halt"
)

// Many goroutines that ask at once get the same value, found once.
func TestOnceIsFoundOnce(t *testing.T) {
	var once halt.Once[*int]
	var found atomic.Int32
	var all sync.WaitGroup
	got := make([]*int, 16)
	for i := range got {
		all.Go(func() {
			got[i] = once.Get(nil, func() *int { found.Add(1); return new(int) })
		})
	}
	all.Wait()
	for _, p := range got {
		if p != got[0] || p == nil {
			t.Fatal("others")
		}
	}
	if found.Load() != 1 {
		t.Errorf("found %d times", found.Load())
	}
	if of, ok := once.Found(); !ok || of != got[0] {
		t.Error("not said to be found")
	}
}

// Who is stopped while finding leaves nothing, and those who wait find it; who waits is stopped
// though the other goes on.
func TestOnceIsLeftByWhoIsStopped(t *testing.T) {
	var once halt.Once[int]
	ctx, stop := context.WithCancel(context.Background())
	begun, waits := make(chan struct{}), make(chan struct{})
	var all sync.WaitGroup
	all.Go(func() {
		err := halt.Do(ctx, func(w *halt.Work) {
			once.Get(w, func() int {
				close(begun)
				<-waits
				stop()
				w.Step()
				return 1
			})
		})
		if !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	})
	<-begun
	if _, ok := once.Found(); ok {
		t.Error("found while it is not")
	}
	hasty, away := context.WithCancel(context.Background())
	away()
	if err := halt.Do(hasty, func(w *halt.Work) { once.Get(w, func() int { return 2 }) }); !errors.Is(err, context.Canceled) {
		t.Errorf("who does not want it any more waits: %v", err)
	}
	all.Go(func() {
		close(waits)
		if got := once.Get(nil, func() int { return 3 }); got != 3 {
			t.Errorf("%d, and should be found anew", got)
		}
	})
	all.Wait()
}

func TestOnceAfterAPanic(t *testing.T) {
	var once halt.Once[int]
	func() {
		defer func() { _ = recover() }()
		once.Get(nil, func() int { panic("a fault") })
	}()
	if got := once.Get(nil, func() int { return 4 }); got != 4 {
		t.Errorf("%d", got)
	}
}

// Who waits for what another is finding is stopped at once, not when it is found.
func TestWaitingForOnceIsStopped(t *testing.T) {
	var once halt.Once[int]
	begun, go_ := make(chan struct{}), make(chan struct{})
	var all sync.WaitGroup
	all.Go(func() {
		if got := once.Get(nil, func() int { close(begun); <-go_; return 1 }); got != 1 {
			t.Errorf("found %d", got)
		}
	})
	<-begun
	ctx, stop := context.WithCancel(context.Background())
	stopped, inside := make(chan error), make(chan struct{})
	go func() {
		stopped <- halt.Do(ctx, func(w *halt.Work) {
			close(inside)
			once.Get(w, func() int { return 2 })
		})
	}()
	<-inside // beyond the first step of its Do
	stop()
	select {
	case err := <-stopped:
		if !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	case <-time.After(10 * time.Second): // long, so that load alone does not fail it
		t.Error("who waits is not stopped")
	}
	close(go_)
	all.Wait()
}
