package app

import (
	"context"
	"encoding/json"

	"fettle/internal/diag"
	"fettle/internal/right"
)

// Hold keeps anything of a job from being erased.
type Hold struct {
	ID, Job, By, Reason string
	Begun, Ended        string // Ended is empty while it stands
}

// Swept is what a sweep has found and done.
type Swept struct {
	Files   int   `json:"files"`   // that are kept
	Marked  int   `json:"marked"`  // of them marked now, because nothing refers to them
	Removed int   `json:"removed"` // of them removed, because nothing did for a day
	Bytes   int64 `json:"bytes"`   // of those that were removed
	Left    int   `json:"left"`    // left behind of what was broken off, and removed
	Held    int   `json:"held"`    // that stay only because a backup is being made
}

// Keeping looks after what is kept.
type Keeping interface {
	HoldsOf(ctx context.Context, job string) ([]Hold, error) // of all jobs with no name
	PutOnHold(ctx context.Context, job, by, reason string) (Hold, error)
	LetGo(ctx context.Context, hold string) (Hold, error)
	// Signed is what the log was when it had so many leaves, less than none is now; signed, and the key to hold it against.
	Signed(ctx context.Context, leaves int64) (note, key string, err error)
	SweepNow(ctx context.Context) (Swept, error)
	// DropAside drops the files that a job was written in by hand.
	DropAside(ctx context.Context, job string) (bool, error)
	// VerifyAll is the faults of everything that is kept, as what they are about and what is wrong.
	VerifyAll(ctx context.Context) ([][2]string, error)
}

// Holds is the holds of a job.
func (s *As) Holds(ctx context.Context, id string) ([]Hold, error) {
	if s.Keeping == nil {
		return nil, notServed("hold")
	}
	if _, err := s.job(ctx, id, right.ReadHistory, right.OnlyNoContents); err != nil {
		return nil, err
	}
	return s.Keeping.HoldsOf(ctx, id)
}

// AllHolds is the holds of all jobs of the shop whose history they may read.
func (s *As) AllHolds(ctx context.Context) (out []Hold, err error) {
	if s.Keeping == nil {
		return nil, notServed("hold")
	}
	if _, err := s.may(right.SeeJobs, s.inShop(), right.OnlyListed); err != nil {
		return nil, err
	}
	all, err := s.Keeping.HoldsOf(ctx, "")
	if err != nil {
		return nil, err
	}
	for _, h := range all {
		_, err := s.job(ctx, h.Job, right.ReadHistory, right.OnlyNoContents)
		switch kind := diag.KindOf(err); {
		case err == nil:
			out = append(out, h)
		case kind != diag.NotFound && kind != diag.Denied:
			return nil, err
		}
	}
	return out, nil
}

// BeginHold puts a job on hold.
func (s *As) BeginHold(ctx context.Context, id, reason string) (Hold, error) {
	if s.Keeping == nil {
		return Hold{}, notServed("hold")
	}
	if _, err := s.job(ctx, id, right.HoldJob); err != nil {
		return Hold{}, err
	}
	return s.Keeping.PutOnHold(ctx, id, s.who.Person, reason)
}

// EndHold ends a hold of a job.
func (s *As) EndHold(ctx context.Context, id, hold string) (Hold, error) {
	if s.Keeping == nil {
		return Hold{}, notServed("hold")
	}
	if _, err := s.job(ctx, id, right.EndHold); err != nil {
		return Hold{}, err
	}
	all, err := s.Keeping.HoldsOf(ctx, id)
	if err != nil {
		return Hold{}, err
	}
	for _, h := range all {
		if h.ID == hold {
			return s.Keeping.LetGo(ctx, hold)
		}
	}
	return Hold{}, nothing()
}

// Checkpoint is what the log is, signed, to be kept elsewhere.
func (s *As) Checkpoint(ctx context.Context, leaves int64) (note, key string, err error) {
	if s.Keeping == nil {
		return "", "", notServed("checkpoint")
	}
	if _, err := s.may(right.VerifyLog, s.inShop()); err != nil {
		return "", "", err
	}
	return s.Keeping.Signed(ctx, leaves)
}

// Sweep removes what nothing has referred to for a day.
func (s *As) Sweep(ctx context.Context) (Swept, error) {
	if s.Keeping == nil {
		return Swept{}, notServed("sweep")
	}
	if _, err := s.may(right.LookAfterStore, s.inShop()); err != nil {
		return Swept{}, err
	}
	return s.Keeping.SweepNow(ctx)
}

// Verifying is how everything that is kept is verified in the background: the faults are what it makes.
func Verifying(k Keeping, in Blobs) Doing {
	return func(ctx context.Context, _ Task) (string, error) {
		faults, err := k.VerifyAll(ctx)
		if err != nil {
			return "", err
		}
		data, err := json.Marshal(append([][2]string{}, faults...))
		if err != nil {
			return "", err
		}
		hash, err := keptAs(ctx, in, data)
		if err == nil && len(faults) > 0 {
			err = &diag.Error{Kind: diag.Integrity, Op: "verify", Subject: faults[0][0], Msg: faults[0][1], Hint: "see docs/store.md"}
		}
		return hash, err
	}
}
