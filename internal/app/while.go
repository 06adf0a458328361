package app

import (
	"context"

	"fettle/internal/assess"
	"fettle/internal/halt"
)

// What work is being done, as progress names it.
const (
	ReadingJob  = "read-job"
	ReadingBody = "read-body"
	Measuring   = assess.Measuring
	Inspecting  = assess.Inspecting
	Deciding    = assess.Deciding
	Comparing   = assess.Comparing
	Drawing     = "draw"
	Scheduling  = "schedule"
	Replays     = "replay"
)

// WithTurns bounds how much computes at once; nil: nothing does.
func (a *App) WithTurns(t *halt.Turns) *App {
	a.turns = t
	return a
}

// AskedBy is a context whose work is somebody's: who asks much keeps the others waiting no longer.
func AskedBy(ctx context.Context, who string) context.Context { return halt.By(ctx, who) }

// computing is while of what keeps a processor busy, once it has its turn.
func computing[T any](ctx context.Context, a *App, do func(w *halt.Work) (T, error)) (T, error) {
	return while(ctx, func(w *halt.Work) (T, error) {
		defer a.turns.Take(w)()
		return do(w)
	})
}

// while does a use case as work of a context: stopped, it answers with nothing but the context's
// error. Who wants to be told how far it is makes the context with halt.Telling.
func while[T any](ctx context.Context, do func(w *halt.Work) (T, error)) (T, error) {
	var out T
	var err error
	if stopped := halt.Do(ctx, func(w *halt.Work) { out, err = do(w) }); stopped != nil {
		var nothing T
		return nothing, stopped
	}
	return out, err
}
