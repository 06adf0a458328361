// Package store keeps stored jobs, evidence, bodies and shops: in folders (Folder), and in memory for
// tests (Memory). It owns the moment and the order of events, what a change that is sent twice
// is, and that all of it is written or nothing. What an event may say is for package job.
package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"regexp"
	"slices"
	"time"

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

func checkID(id string) error {
	if !idForm.MatchString(id) || slices.Contains(reserved, id) {
		return &diag.Error{Kind: diag.Invalid, Op: "store", Subject: id, Msg: "is no name of a stored job", Hint: "use up to 100 letters, digits, '-', '_' and '.', beginning with a letter or digit"}
	}
	return nil
}

// noJob is the error for a job that is not there.
func noJob(id string) error {
	return &diag.Error{Kind: diag.NotFound, Op: "store", Subject: id, Msg: "there is no such stored job"}
}

// appended is what a change makes of the lines of a job.
type appended struct {
	head   app.Head
	fresh  []job.Line // to be written behind the others; none where the change was made before
	erased []job.Line // all lines before them, where texts were erased in them
}

// change makes a change of a job; lines are those there are. It writes nothing.
func change(ctx context.Context, id string, lines []job.Line, opens bool, c app.Change, may func(before, after *job.Stored) error, now time.Time, folds *job.Folds) (appended, error) {
	if err := ctx.Err(); err != nil {
		return appended{}, err
	}
	if c.Key == "" || c.By == "" {
		return appended{}, &diag.Error{Kind: diag.Invalid, Op: "store", Subject: id, Msg: "a change needs a key of its own, and the person who makes it"}
	}
	if head, ok, err := madeBefore(id, lines, c); ok || err != nil {
		return appended{head: head}, err
	}
	switch {
	case opens && len(lines) > 0:
		return appended{}, &diag.Error{Kind: diag.Conflict, Op: "store", Subject: id, Msg: "there is a stored job of that name already", Hint: "give another name"}
	case !opens && len(lines) == 0:
		return appended{}, noJob(id)
	}
	before := &job.Stored{}
	if !opens {
		var err error
		if before, err = folds.Read(job.ChainOf(lines)); err != nil {
			return appended{}, err
		}
		if last := lines[len(lines)-1].At; now.UTC().Format(ledger.TimeForm) < last {
			return appended{}, &diag.Error{Kind: diag.Unavailable, Op: "store", Subject: id, Msg: fmt.Sprintf("the clock of this computer says %s, before the last event at %s", now.UTC().Format(ledger.TimeForm), last), Hint: "set the clock; nothing was written"}
		}
	}
	chain, after, err := before.Write(c.Events, job.Stamp{At: now.UTC().Format(ledger.TimeForm), By: c.By, Salt: salt})
	if err == nil && may != nil {
		err = may(before, after)
	}
	if err != nil {
		return appended{}, err
	}
	if err := ctx.Err(); err != nil {
		return appended{}, err
	}
	seq, hash := after.Head()
	return appended{app.Head{Seq: seq, Hash: hash}, job.Lines(c.Key, chain), withoutTexts(lines, chain)}, nil
}

// madeBefore is the head after a change that was made already; a key that was used for
// another change is an error.
func madeBefore(id string, lines []job.Line, c app.Change) (app.Head, bool, error) {
	var mine ledger.Chain
	for _, l := range lines {
		if l.Change == c.Key {
			mine = append(mine, l.Entry)
		}
	}
	if len(mine) == 0 {
		return app.Head{}, false, nil
	}
	same, err := job.Repeats(mine, c.By, c.Events)
	if err == nil && !same {
		err = &diag.Error{Kind: diag.Conflict, Op: "store", Subject: id, Msg: fmt.Sprintf("the key %q was used for another change", c.Key), Hint: "make a new key for each change"}
	}
	last := mine[len(mine)-1]
	return app.Head{Seq: last.Seq, Hash: last.Hash}, true, err
}

// withoutTexts is lines without the texts beside the records that a chain erases them of;
// nil where it erases none.
func withoutTexts(lines []job.Line, chain ledger.Chain) []job.Line {
	var of []string
	for _, e := range chain {
		if e.What == string(job.TextsErased) {
			of = append(of, e.About)
		}
	}
	if len(of) == 0 {
		return nil
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
		return nil, &diag.Error{Kind: diag.NotFound, Op: "store", Subject: id, Msg: fmt.Sprintf("the job has no event %d", n)}
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

// checked reads to the end and says then whether the bytes are those of the hash.
type checked struct {
	io.ReadCloser
	sum  interface{ Sum([]byte) []byte }
	to   io.Writer
	want string
}

func checkedReader(r io.ReadCloser, want string) io.ReadCloser {
	h := sha256.New()
	return &checked{r, h, h, want}
}

func (c *checked) Read(p []byte) (int, error) {
	n, err := c.ReadCloser.Read(p)
	c.to.Write(p[:n]) // a hash takes all
	if err == io.EOF && hex.EncodeToString(c.sum.Sum(nil)) != c.want {
		return n, notThose(c.want)
	}
	return n, err
}

func notThose(hash string) error {
	return &diag.Error{Kind: diag.Integrity, Op: "store", Subject: hash, Msg: "what is kept under this hash is not what was put there", Hint: "bring it back from a backup"}
}

func nothingKept(hash string) error {
	return &diag.Error{Kind: diag.NotFound, Op: "store", Subject: hash, Msg: "nothing is kept under this hash"}
}

var sumForm = regexp.MustCompile(`^[0-9a-f]{64}$`)
