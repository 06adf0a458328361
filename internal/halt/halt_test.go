package halt_test

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"

	"fettle/internal/halt"
)

func TestWorkThatIsNotStoppedIsDone(t *testing.T) {
	sum := 0
	err := halt.Do(context.Background(), func(w *halt.Work) {
		for i := range 10 {
			w.Step()
			sum += i
		}
	})
	if err != nil || sum != 45 {
		t.Errorf("%d, %v", sum, err)
	}
	var none *halt.Work
	none.Step()
	none.Part(1, 2)
	ready := make(chan struct{})
	close(ready)
	none.Wait(ready)
}

// A stop leaves the work at its next step, through whatever lies between, and runs what was deferred.
func TestWorkIsStoppedAtItsNextStep(t *testing.T) {
	why := errors.New("the next change has come")
	ctx, stop := context.WithCancelCause(context.Background())
	steps, undone := 0, false
	deep := func(w *halt.Work) {
		defer func() { undone = true }()
		for {
			steps++
			if steps == 1000 {
				stop(why)
			}
			w.Step()
		}
	}
	err := halt.Do(ctx, func(w *halt.Work) { func() { deep(w) }() })
	if !errors.Is(err, why) || !errors.Is(err, context.Canceled) || steps != 1000 || !undone {
		t.Errorf("%v after %d steps, deferred %v", err, steps, undone)
	}
	begun := false
	if err := halt.Do(ctx, func(*halt.Work) { begun = true }); !errors.Is(err, why) || begun {
		t.Errorf("work is begun that was stopped before: %v", err)
	}
}

// What waits outside of the work, a store, is stopped with it.
func TestWorkHasItsContext(t *testing.T) {
	type key struct{}
	err := halt.Do(context.WithValue(context.Background(), key{}, "mine"), func(w *halt.Work) {
		if w.Context().Value(key{}) != "mine" {
			t.Error("the work has another context than it was begun with")
		}
	})
	var none *halt.Work
	if err != nil || none.Context() == nil || none.Context().Err() != nil {
		t.Errorf("no work has %v, %v", none.Context(), err)
	}
}

func TestWaitingIsStopped(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	err := halt.Do(ctx, func(w *halt.Work) {
		stop()
		w.Wait(make(chan struct{}))
	})
	if err != context.Canceled { // as it is: nothing more is known of why
		t.Error(err)
	}
	ready := make(chan struct{})
	close(ready)
	after := false
	if err := halt.Do(context.Background(), func(w *halt.Work) { w.Wait(ready); after = true }); err != nil || !after {
		t.Errorf("what is ready is not gone on with: %v", err)
	}
}

// A part that is told is a step: work is stopped there.
func TestPartsAreSteps(t *testing.T) {
	for name, step := range map[string]func(w *halt.Work){"a part": func(w *halt.Work) { w.Part(1, 2) }, "a beginning": func(w *halt.Work) { w.Begin("more") }} {
		ctx, stop := context.WithCancel(context.Background())
		after := false
		err := halt.Do(ctx, func(w *halt.Work) {
			stop()
			step(w)
			after = true
		})
		if !errors.Is(err, context.Canceled) || after {
			t.Errorf("%s is no step: %v, gone on %v", name, err, after)
		}
	}
}

// Who is part of no work waits until it is ready.
func TestWaitingWithoutWork(t *testing.T) {
	var none *halt.Work
	for range 100 {
		var closed atomic.Bool
		ready := make(chan struct{})
		go func() {
			closed.Store(true)
			close(ready)
		}()
		if none.Wait(ready); !closed.Load() {
			t.Fatal("it did not wait")
		}
	}
}

// What is no stop goes on as it was.
func TestOtherPanicsGoOn(t *testing.T) {
	defer func() {
		if got := recover(); got != "a fault" {
			t.Errorf("recovered %v", got)
		}
	}()
	_ = halt.Do(context.Background(), func(*halt.Work) { panic("a fault") })
}

func TestPartsAreTold(t *testing.T) {
	var told []halt.Progress
	ctx := halt.Telling(context.Background(), func(p halt.Progress) { told = append(told, p) })
	err := halt.Do(ctx, func(w *halt.Work) {
		w.Begin("count")
		for i := range 3 {
			w.Part(i+1, 3)
		}
	})
	if err != nil || len(told) != 4 || told[0] != (halt.Progress{What: "count"}) || told[3] != (halt.Progress{What: "count", Done: 3, Of: 3}) {
		t.Errorf("%v, %v", told, err)
	}
	var none *halt.Work
	none.Begin("nothing")
}

// Who keeps work beyond its Do is not stopped by it any more.
func TestWorkThatIsOverStopsNothing(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	var kept *halt.Work
	told := 0
	if err := halt.Do(halt.Telling(ctx, func(halt.Progress) { told++ }), func(w *halt.Work) { kept = w }); err != nil {
		t.Fatal(err)
	}
	stop()
	kept.Step()
	kept.Part(1, 1)
	kept.Begin("more")
	ready := make(chan struct{})
	close(ready)
	kept.Wait(ready)
	if told != 0 {
		t.Error("told of work that is over")
	}
}

// Work within work: the stop of the outer one is not taken for the inner one's.
func TestWorkWithinWork(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	after := false
	err := halt.Do(ctx, func(outer *halt.Work) {
		inner := halt.Do(context.Background(), func(*halt.Work) {
			stop()
			outer.Step()
		})
		after = inner == nil
	})
	if !errors.Is(err, context.Canceled) || after {
		t.Errorf("%v, gone on %v", err, after)
	}
}
