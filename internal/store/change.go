// Package store keeps stored jobs, evidence, bodies and shops: in folders (Folder), and in memory for
// tests (Memory). It owns the moment and the order of events, what a change that is sent twice
// is, and that all of it is written or nothing. What an event may say is for package job.
package store

import (
	"cmp"
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store/safefile"
)

// idForm is what a job may be called here: a name that is one of a file on every computer.
var idForm = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,99}$`)

// reserved are folders of the store itself.
var reserved = []string{blobsDir, libraryDir}

// CheckID refuses what is no name of a stored job.
func CheckID(id string) error {
	if !idForm.MatchString(id) || slices.Contains(reserved, id) {
		return &diag.Error{Kind: diag.Invalid, Op: "store", Subject: id, Msg: "is no name of a stored job", Hint: "use up to 100 letters, digits, '-', '_' and '.', beginning with a letter or digit"}
	}
	return nil
}

// CheckIndexed refuses a note about an event that a job has not.
func CheckIndexed(id string, at, last int64) error {
	if at < 1 || at > last {
		return &diag.Error{Kind: diag.Invalid, Op: "store", Subject: id, Msg: fmt.Sprintf("the job has no event %d that a list could show it at", at)}
	}
	return nil
}

// NoJob is the error for a job that is not there.
func NoJob(id string) error {
	return &diag.Error{Kind: diag.NotFound, Op: "store", Subject: id, Msg: "there is no such stored job"}
}

// NoTask is the error for work in the background that is not there.
func NoTask(id string) error {
	return &diag.Error{Kind: diag.NotFound, Op: "task", Subject: id, Msg: "there is no such task"}
}

// NoHold is the error for a hold that is not there.
func NoHold(id string) error {
	return &diag.Error{Kind: diag.NotFound, Op: "hold", Subject: id, Msg: "there is no such hold", Hint: "the list of holds has its identity"}
}

// NoEvent is the error for an event that a job has not.
func NoEvent(id string, n int64) error {
	return &diag.Error{Kind: diag.NotFound, Op: "store", Subject: id, Msg: fmt.Sprintf("the job has no event %d", n)}
}

// Past is what a store knows of a job before a change.
type Past struct {
	Made func(key string) (ledger.Chain, error) // its events that were written with that key; none where there are none
	Read func() (*job.Stored, error)            // the job as it stands; nil where there is none
}

// Changed is what a change makes of a job.
type Changed struct {
	Head   app.Head
	Fresh  ledger.Chain // to be written behind its events; none where the change was made before
	Erased []string     // records whose texts go from all events before those
	After  *job.Stored  // the job with them; nil where the change was made before
}

// noWork refuses a change that asks for work in the background, where nobody does any.
func noWork(id string, c app.Change) error {
	if len(c.Wants) == 0 {
		return nil
	}
	return &diag.Error{Kind: diag.Unsupported, Op: "store", Subject: id, Msg: "this store has no work in the background; nothing was written", Hint: "keep the job in a database"}
}

// mostKey is how many bytes a key may have.
const mostKey = 200

// MakeChange makes a change of a job, which it opens or not. It writes nothing.
func MakeChange(ctx context.Context, id string, opens bool, c app.Change, may func(before, after *job.Stored) error, now time.Time, past Past) (Changed, error) {
	if err := ctx.Err(); err != nil {
		return Changed{}, err
	}
	if err := CheckChange(id, c); err != nil {
		return Changed{}, err
	}
	if head, ok, err := madeBefore(id, c, past); ok || err != nil {
		return Changed{Head: head}, err
	}
	before, err := past.Read()
	switch {
	case err != nil:
		return Changed{}, err
	case opens && before != nil:
		return Changed{}, &diag.Error{Kind: diag.Conflict, Op: "store", Subject: id, Msg: "there is a stored job of that name already", Hint: "give another name"}
	case !opens && before == nil:
		return Changed{}, NoJob(id)
	case opens:
		before = &job.Stored{}
	}
	at := now.UTC().Format(ledger.TimeForm)
	if last := before.At(); at < last {
		return Changed{}, &diag.Error{Kind: diag.Unavailable, Op: "store", Subject: id, Msg: fmt.Sprintf("the clock of this computer says %s, before the last event at %s", at, last), Hint: "set the clock; nothing was written"}
	}
	chain, after, err := before.Write(c.Events, job.Stamp{At: at, By: c.By, Salt: salt})
	if err == nil && may != nil {
		err = may(before, after)
	}
	if err = cmp.Or(err, ctx.Err()); err != nil {
		return Changed{}, err
	}
	seq, hash := after.Head()
	return Changed{app.Head{Seq: seq, Hash: hash}, chain, erasedBy(chain), after}, nil
}

// CheckChange refuses a change whose author or key no store could keep.
func CheckChange(id string, c app.Change) error {
	if c.Key == "" || c.By == "" {
		return &diag.Error{Kind: diag.Invalid, Op: "store", Subject: id, Msg: "a change needs a key of its own, and the person who makes it"}
	}
	if len(c.Key) > mostKey || !utf8.ValidString(c.Key) || strings.ContainsFunc(c.Key, unicode.IsControl) {
		return &diag.Error{Kind: diag.Invalid, Op: "store", Subject: id, Msg: fmt.Sprintf("the key of a change is a text of at most %d bytes without control characters", mostKey)}
	}
	return nil
}

// madeBefore is the head after a change that was made already; a key that was used for
// another change is an error.
func madeBefore(id string, c app.Change, past Past) (app.Head, bool, error) {
	mine, err := past.Made(c.Key)
	if len(mine) == 0 || err != nil {
		return app.Head{}, false, err
	}
	same, err := job.Repeats(mine, c.By, c.Events)
	if err == nil && !same {
		err = &diag.Error{Kind: diag.Conflict, Op: "store", Subject: id, Msg: fmt.Sprintf("the key %q was used for another change", c.Key), Hint: "make a new key for each change"}
	}
	last := mine[len(mine)-1]
	return app.Head{Seq: last.Seq, Hash: last.Hash}, true, err
}

// erasedBy is the records that a chain erases the texts of.
func erasedBy(chain ledger.Chain) []string {
	var of []string
	for _, e := range chain {
		if e.What == string(job.TextsErased) {
			of = append(of, e.About)
		}
	}
	return of
}

// pastOf is what lines say of a job.
func pastOf(lines []job.Line, folds *job.Folds) Past {
	return Past{
		Made: func(key string) (ledger.Chain, error) {
			var mine ledger.Chain
			for _, l := range lines {
				if l.Change == key {
					mine = append(mine, l.Entry)
				}
			}
			return mine, nil
		},
		Read: func() (*job.Stored, error) {
			if len(lines) == 0 {
				return nil, nil
			}
			return folds.Read(job.ChainOf(lines))
		},
	}
}

// withoutTexts is lines without the texts beside the records of those names.
func withoutTexts(lines []job.Line, of []string) []job.Line {
	if len(of) == 0 {
		return lines
	}
	out := slices.Clone(lines)
	for i := range out {
		if slices.Contains(of, out[i].About) {
			out[i].Beside = nil
		}
	}
	return out
}

// after is the entries of lines from the one after a number.
func after(id string, lines []job.Line, n int64) (ledger.Chain, error) {
	if n < 0 || n > int64(len(lines)) {
		return nil, NoEvent(id, n)
	}
	return job.ChainOf(lines[n:]), nil
}

// headOf is the newest event of lines.
func headOf(lines []job.Line) app.Head {
	last := lines[len(lines)-1]
	return app.Head{Seq: last.Seq, Hash: last.Hash}
}

// salt is what is drawn for one text beside an event.
func salt() string { return safefile.Drawn(32) }
