//go:build !linux

package safefile

import (
	"errors"
	"time"
)

// Queue is where programs wait for their turn; this system has none.
type Queue struct{}

// OpenQueue says that there is none.
func OpenQueue(string, string) (*Queue, error) { return nil, errors.ErrUnsupported }

// Turn is never called.
func (q *Queue) Turn(time.Duration) error { return errors.ErrUnsupported }

// Pass is never called.
func (q *Queue) Pass() {}

// Close has nothing to close.
func (q *Queue) Close() error { return nil }
