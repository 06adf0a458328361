package app

import (
	"context"
	"time"

	"fettle/internal/halt"
)

// TaskKind is a kind of work that goes on in the background.
type TaskKind string

// Wanted is work that is asked for. Of one kind about one thing at most one piece waits or is done:
// asked for again while it waits, it is done with the newer input, when it was due; while it is done, once more after.
type Wanted struct {
	Kind  TaskKind
	About string // what it is about: a job, a hash
	Input string // what else it needs to know; for its kind
	By    string // who asks, by an opaque name
	Pace
}

// Pace is how soon and how often work that follows every change is done: what is found of one state is worth little when the next change
// comes a moment later. The zero pace is at once.
type Pace struct {
	After time.Duration // it is not begun sooner than so long after it was first asked for
	Rest  time.Duration // nor sooner than so long after it ended, or was asked for while it was done; only of what is standing
	// Standing work has one row for each kind and thing, which is asked for again and again and keeps what was made last. Other work has
	// a new one each time.
	Standing bool
}

// Due is when work may be begun that is asked for now, and that ended last at a time; the zero time: never.
func (p Pace) Due(now, ended time.Time) time.Time {
	due := now.Add(p.After)
	if next := ended.Add(p.Rest); p.Standing && !ended.IsZero() && next.After(due) {
		return next
	}
	return due
}

// TaskState is where a piece of work stands.
type TaskState string

// States of work.
const (
	TaskWaiting TaskState = "waiting"
	TaskRunning TaskState = "running"
	TaskDone    TaskState = "done"
	TaskFailed  TaskState = "failed"  // given up; a person can have it done again
	TaskStopped TaskState = "stopped" // by a person
)

// Task is a piece of work that was asked for.
type Task struct {
	ID string
	Wanted
	State    TaskState
	Tries    int           // begun so many times
	Made     time.Time     // asked for
	Due      time.Time     // not begun before; of one that is over, when it ended
	Worker   string        // who does it, or did last
	Lease    time.Time     // until when it is that worker's
	Stopping bool          // a person has asked it to stop
	Progress halt.Progress // of the last worker that told
	Fault    string        // why the last try failed, in plain English
	Result   string        // hash of what was made last; empty: nothing
}

// TaskEnd is how a try of a piece of work ended.
type TaskEnd struct {
	State  TaskState // TaskWaiting: to be tried again at Due
	Due    time.Time
	Fault  string
	Result string
	Spared bool // the try does not count: it was broken off through no fault of its own
}

// TaskQuery is which pieces of work are listed: newest first, below one, so many.
type TaskQuery struct {
	State TaskState // empty: of any
	About string    // empty: about anything
	Below string    // identity of the last of the page before; empty: the first page
	Most  int
}

// Tasks keeps work that goes on in the background. A piece of it is asked for with a change (Change.Wants, in one
// with it) or alone; whoever claims it has it until its lease ends, and then another may.
type Tasks interface {
	// Want asks for work, and is its identity.
	Want(ctx context.Context, w Wanted) (id string, err error)
	// Claim is a piece of work of those kinds that is due, and from now on this worker's; nil where there is none.
	// One whose worker was lost is another try; after so many it has failed.
	Claim(ctx context.Context, kinds []TaskKind, worker string, lease time.Duration, mostTries int) (*Task, error)
	// Hold tells how far it is and prolongs the lease; whether it is to stop is the answer. It is a diag.Conflict where
	// the work is not this try's any more.
	Hold(ctx context.Context, t *Task, p halt.Progress, lease time.Duration) (stop bool, err error)
	// End ends a try. It is a diag.Conflict where the work is not this try's any more.
	End(ctx context.Context, t *Task, e TaskEnd) error
	// StopTask has a piece of work stopped, and Again has one done again that has failed or was stopped.
	StopTask(ctx context.Context, id string) error
	Again(ctx context.Context, id string) error
	// TaskOf is one piece of work; diag.NotFound where there is none.
	TaskOf(ctx context.Context, id string) (Task, error)
	// ListTasks is pieces of work, newest first.
	ListTasks(ctx context.Context, q TaskQuery) ([]Task, error)
}
