package datafolder

import (
	"context"

	"fettle/internal/app"
	"fettle/internal/store/database"
)

// Keeper looks after a data folder for those who may.
type Keeper struct{ *Store }

func holdOf(h database.Hold) app.Hold {
	return app.Hold{ID: h.ID, Job: h.Job, By: h.By, Reason: h.Reason, Begun: h.Begun, Ended: h.Ended}
}

// HoldsOf is the holds of a job, or of all with no name.
func (k Keeper) HoldsOf(ctx context.Context, job string) ([]app.Hold, error) {
	all, err := k.Holds(ctx, job)
	out := make([]app.Hold, len(all))
	for i, h := range all {
		out[i] = holdOf(h)
	}
	return out, err
}

// PutOnHold puts a job on hold.
func (k Keeper) PutOnHold(ctx context.Context, job, by, reason string) (app.Hold, error) {
	h, err := k.BeginHold(ctx, job, by, reason)
	return holdOf(h), err
}

// LetGo ends a hold.
func (k Keeper) LetGo(ctx context.Context, hold string) (app.Hold, error) {
	h, err := k.EndHold(ctx, hold)
	return holdOf(h), err
}

// Signed is what the log was when it had so many leaves; less than none is now.
func (k Keeper) Signed(ctx context.Context, leaves int64) (note, key string, err error) {
	p, err := k.Checkpoint(ctx, leaves)
	return p.Note, p.Key, err
}

// SweepNow removes files that nothing has referred to for a day.
func (k Keeper) SweepNow(ctx context.Context) (app.Swept, error) {
	s, err := k.Sweep(ctx)
	return app.Swept{Files: s.Blobs, Marked: s.Marked, Removed: s.Removed, Bytes: s.Bytes, Left: s.Left, Held: s.Held}, err
}

// VerifyAll is the faults of all that is kept.
func (k Keeper) VerifyAll(ctx context.Context) ([][2]string, error) {
	v, err := k.Verify(ctx)
	var out [][2]string
	for _, f := range v.Faults {
		out = append(out, [2]string{f.Where, f.Msg})
	}
	return out, err
}
