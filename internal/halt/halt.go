// Package halt lets long work be stopped from outside, and say how far it is.
//
// Work that computes is pure: what it makes is nothing until it is whole. So a stop need not be
// passed up through every function as an error: a loop that can run long calls Step, and
// once its context is done Step leaves the work, through every caller, back to Do, which began it.
// Do is the only place that catches it. Nothing that is kept between questions may be
// written before it is whole, and no lock may be held over a Step without a deferred
// unlock (docs/decisions/stopping.md).
package halt

import (
	"context"
	"fmt"
	"sync/atomic"
)

// Work is work that may be stopped. A nil Work is never stopped. It belongs to the goroutine
// of its Do: a Step in another one would not come back there. When that has ended, its steps do nothing.
type Work struct {
	ctx  context.Context
	tell func(Progress)
	now  string
	turn bool        // it has one of Turns
	over atomic.Bool // its Do has ended: nothing is there to come back to
}

// Progress is how far work is: what is being done, by its name for programs, and so many parts of
// so many; of none where that is not known.
type Progress struct {
	What     string
	Done, Of int
}

// stopped is what Step leaves the work with.
type stopped struct {
	work *Work
	why  error
}

// Do does work. Where ctx is done before the work is, its error is the answer, and all that the work
// made so far is to be thrown away.
func Do(ctx context.Context, work func(*Work)) (err error) {
	w := &Work{ctx: ctx}
	w.tell, _ = ctx.Value(toldBy{}).(func(Progress))
	defer func() {
		w.over.Store(true)
		why := recover()
		if s, ok := why.(stopped); ok && s.work == w {
			err = s.why
		} else if why != nil {
			panic(why)
		}
	}()
	w.Step()
	work(w)
	return nil
}

// toldBy is where a context has who is told.
type toldBy struct{}

// Telling is a context whose work is told of.
func Telling(ctx context.Context, tell func(Progress)) context.Context {
	return context.WithValue(ctx, toldBy{}, tell)
}

// Step is called in every loop that can run long: often enough that no hundredth of a second
// goes by, and not for each addition. It costs a few nanoseconds.
func (w *Work) Step() {
	if w == nil || w.over.Load() {
		return
	}
	select {
	case <-w.ctx.Done():
		panic(stopped{w, whyDone(w.ctx)})
	default:
	}
}

// whyDone is the error of a context that is done, and what made it so where that is told.
func whyDone(ctx context.Context) error {
	err, cause := ctx.Err(), context.Cause(ctx)
	if cause == err {
		return err
	}
	return fmt.Errorf("%w: %w", err, cause)
}

// Context is that of the work, for what waits outside of it: a store, a file. Once it is done the
// error of the wait is no answer; a Step behind it leaves the work.
func (w *Work) Context() context.Context {
	if w == nil {
		return context.Background()
	}
	return w.ctx
}

// Wait is until ready is closed.
func (w *Work) Wait(ready <-chan struct{}) {
	if w == nil || w.over.Load() {
		<-ready
		return
	}
	select {
	case <-ready:
	case <-w.ctx.Done():
		panic(stopped{w, whyDone(w.ctx)})
	}
}

// Begin says what is being done from now on, and is a Step.
func (w *Work) Begin(what string) {
	if w != nil && !w.over.Load() {
		w.now = what
	}
	w.Part(0, 0)
}

// Part says that so many parts of so many are done, and is a Step.
func (w *Work) Part(done, of int) {
	w.Step()
	if w != nil && w.tell != nil && !w.over.Load() {
		w.tell(Progress{w.now, done, of})
	}
}
