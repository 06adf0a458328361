package app

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"fettle/internal/diag"
	"fettle/internal/halt"
)

// Doing does a piece of work. What it made, kept under a hash, is its answer; it is stopped by its context, and is
// done again when it was broken off, so that done twice it does no more than once.
type Doing func(ctx context.Context, t Task) (result string, err error)

// Worker does work in the background, one piece at a time. Several may share the same work, in one program
// or in many.
type Worker struct {
	Name  string // of this worker alone
	Tasks Tasks
	Do    map[TaskKind]Doing
	Now   func() time.Time

	// Behind are kinds that nobody waits for: they are done when nothing else is due, and after one of them there is none for as long as it
	// took, so that they take half of one processor at most.
	Behind []TaskKind

	Lease time.Duration               // after so long without a sign it is another's; a sign is given three times as often
	Look  time.Duration               // how often it looks for work that nobody tells it of
	Tries int                         // begun so often, a piece of work has failed
	Idle  func()                      // is told when there is nothing to do now; nil: nobody is
	Woken <-chan struct{}             // tells that there may be work; nil: nobody does
	Told  func(Task, error)           // is told of each try that ended; nil: nobody is
	Wait  func(try int) time.Duration // before the next try; nil: twice as long each time, to an hour
}

// Run works until its context is done; what is begun then is given back.
func (w *Worker) Run(ctx context.Context) error {
	var calm time.Time // before it nothing of Behind is begun
	for ctx.Err() == nil {
		t, err := w.claim(ctx, calm)
		if err != nil && ctx.Err() == nil {
			w.told(Task{}, err)
		}
		if t == nil {
			left := time.Until(calm)
			if w.Idle != nil && err == nil && left <= 0 {
				w.Idle()
			}
			w.rest(ctx, left)
			continue
		}
		behind, began := slices.Contains(w.Behind, t.Kind), time.Now()
		own := ctx
		if behind {
			own = halt.Behind(ctx)
		}
		w.told(*t, w.one(own, t))
		if behind {
			calm = time.Now().Add(time.Since(began))
		}
	}
	return ctx.Err()
}

// claim is what is to be done next; nil where there is nothing.
func (w *Worker) claim(ctx context.Context, calm time.Time) (*Task, error) {
	var first, behind []TaskKind
	for _, k := range slices.Sorted(maps.Keys(w.Do)) {
		if slices.Contains(w.Behind, k) {
			behind = append(behind, k)
		} else {
			first = append(first, k)
		}
	}
	for _, kinds := range [][]TaskKind{first, behind} {
		if len(kinds) == 0 || time.Now().Before(calm) && slices.Equal(kinds, behind) {
			continue
		}
		if t, err := w.Tasks.Claim(ctx, kinds, w.Name, w.Lease, w.Tries); t != nil || err != nil {
			return t, err
		}
	}
	return nil, nil
}

func (w *Worker) told(t Task, err error) {
	if w.Told != nil {
		w.Told(t, err)
	}
}

// rest waits for work, or until it may begin what it left for a while.
func (w *Worker) rest(ctx context.Context, left time.Duration) {
	look := w.Look
	if left > 0 {
		look = min(look, left)
	}
	timer := time.NewTimer(look)
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-w.Woken:
	case <-timer.C:
	}
}

var (
	errStopped = errors.New("it was stopped by a person")
	errTaken   = errors.New("another worker has it")
)

// one does a piece of work, and says how it ended.
func (w *Worker) one(ctx context.Context, t *Task) error {
	own, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	result, err := w.held(own, stop, t)
	why := context.Cause(own)
	if errors.Is(why, errTaken) {
		return why
	}
	last, end := context.WithTimeout(context.WithoutCancel(ctx), w.Lease)
	defer end()
	return errors.Join(err, w.Tasks.End(last, t, w.ended(ctx, t, result, err, why)))
}

// held does a piece of work while it says three times in each lease that it is still at it.
func (w *Worker) held(ctx context.Context, stop context.CancelCauseFunc, t *Task) (string, error) {
	var mu sync.Mutex
	var now halt.Progress
	told := halt.Telling(ctx, func(p halt.Progress) {
		mu.Lock()
		defer mu.Unlock()
		now = p
	})
	over, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(w.Lease / 3)
		defer tick.Stop()
		for {
			select {
			case <-over:
				return
			case <-tick.C:
			}
			mu.Lock()
			p := now
			mu.Unlock()
			stopping, err := w.Tasks.Hold(ctx, t, p, w.Lease)
			switch {
			case diag.KindOf(err) == diag.Conflict:
				stop(errTaken)
			case stopping:
				stop(errStopped)
			}
		}
	}()
	result, err := done(told, w.Do[t.Kind], *t)
	close(over)
	<-ended
	return result, err
}

// done is what a piece of work made, or how it ended.
func done(ctx context.Context, do Doing, t Task) (result string, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = &diag.Error{Kind: diag.Internal, Op: "task", Subject: string(t.Kind), Msg: fmt.Sprintf("the program has a fault: %v", p)}
		}
	}()
	return do(ctx, t)
}

// ended is how a try ended: what nobody else's next try would change has failed at once.
func (w *Worker) ended(ctx context.Context, t *Task, result string, err, why error) TaskEnd {
	now := w.Now()
	switch {
	case err == nil:
		return TaskEnd{State: TaskDone, Due: now, Result: result}
	case errors.Is(why, errStopped):
		return TaskEnd{State: TaskStopped, Due: now, Fault: why.Error()}
	case ctx.Err() != nil:
		return TaskEnd{State: TaskWaiting, Due: now, Fault: "the program that did it ended", Spared: true}
	case t.Tries >= w.Tries || lasting(err):
		return TaskEnd{State: TaskFailed, Due: now, Fault: err.Error()}
	}
	return TaskEnd{State: TaskWaiting, Due: now.Add(w.pause(t.Tries)), Fault: err.Error()}
}

// lasting says that an error would come again.
func lasting(err error) bool {
	switch diag.KindOf(err) {
	case diag.Invalid, diag.NotFound, diag.Denied, diag.Unsupported, diag.Usage, diag.Integrity:
		return true
	}
	return false
}

// pause is how long the next try waits.
func (w *Worker) pause(try int) time.Duration {
	if w.Wait != nil {
		return w.Wait(try)
	}
	const most = time.Hour
	if try > 12 { // 2^12 seconds are more than an hour
		return most
	}
	return min(most, time.Second<<max(try, 0))
}
