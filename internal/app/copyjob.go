package app

import (
	"context"
	"errors"
	"fmt"

	"fettle/internal/diag"
	"fettle/internal/explain"
	"fettle/internal/job"
)

// CopyJob copies a stored job with all that its events have ever named from one store into another, under a name
// of its own there. It begins there only once all of it is safe. Copied twice it is there once.
func (a *App) CopyJob(ctx context.Context, from Store, id string, to Store, as string) (Head, error) {
	lines, err := from.Lines(ctx, id)
	if err != nil {
		return Head{}, err
	}
	library, evidence, paths, err := job.Contents(job.ChainOf(lines))
	if err != nil {
		return Head{}, err
	}
	if len(paths) > 0 {
		return Head{}, &diag.Error{Kind: diag.Unsupported, Op: "copy", Subject: id, Msg: "it was begun with body or shop named by a path (" + explain.Joined(paths) + "), and nobody can say what was there then", Hint: "keep it where it is"}
	}
	for _, hash := range library {
		files, err := from.Files(ctx, hash)
		if err == nil {
			var got string
			got, err = to.Keep(ctx, files)
			err = errors.Join(err, sameContent(job.HashName(hash), got, hash))
		}
		if err != nil {
			return Head{}, notCopied(id, "a body or shop it names", err)
		}
	}
	for _, hash := range evidence {
		if err := copyBlob(ctx, from, to, hash); err != nil {
			return Head{}, notCopied(id, "a piece of its evidence", err)
		}
	}
	aside, err := from.Aside(ctx, id)
	if err == nil && len(aside) > 0 {
		err = to.SetAside(ctx, as, aside)
	}
	if err != nil {
		return Head{}, err
	}
	head, err := to.Bring(ctx, as, lines)
	if tasks, is := to.(Tasks); is && err == nil {
		for _, w := range a.wantsNext(to, as, lines[len(lines)-1].By) {
			if _, err = tasks.Want(ctx, w); err != nil {
				return Head{}, err
			}
		}
	}
	return head, err
}

// notCopied says what of a job could not be copied.
func notCopied(id, what string, err error) error {
	if diag.KindOf(err) != diag.NotFound {
		return err
	}
	return &diag.Error{Kind: diag.Integrity, Op: "copy", Subject: id, Msg: fmt.Sprintf("%s is not in the store it is in; nothing was copied", what), Hint: "bring it back from a backup", Err: err}
}

func copyBlob(ctx context.Context, from, to Store, hash string) (err error) {
	r, size, err := from.Get(ctx, hash)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	got, _, err := to.Put(ctx, r, size)
	return errors.Join(err, sameContent(hash, got, hash))
}
