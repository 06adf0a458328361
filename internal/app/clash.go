package app

import (
	"context"
	"errors"

	"fettle/internal/diag"
	"fettle/internal/job"
)

// Clashing is the error for a change of records that somebody else has written since: with all versions of each, so
// that a person can choose. It is of kind diag.Conflict.
type Clashing struct {
	Is      *diag.Error
	Clashes []job.Clash
}

func (e *Clashing) Error() string { return e.Is.Error() }
func (e *Clashing) Unwrap() error { return e.Is }

// clashing adds the versions of the records to a conflict about them.
func clashing(ctx context.Context, in Jobs, id string, events []job.Event, err error) error {
	var own *diag.Error
	if diag.KindOf(err) != diag.Conflict || !errors.As(err, &own) {
		return err
	}
	chain, loadErr := in.Load(ctx, id, 0)
	if loadErr != nil {
		return errors.Join(err, loadErr)
	}
	found, readErr := job.Clashes(chain, events)
	if readErr != nil {
		return errors.Join(err, readErr)
	}
	if len(found) == 0 {
		return err // about something else: a key, a name
	}
	return &Clashing{own, found}
}
