package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"reflect"
	"slices"
	"strings"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store/safefile"
)

// Brought is what lines of another store make of a job here, where some are there already.
type Brought struct {
	Head  app.Head
	There bool        // the same lines are there: there is nothing to write
	After *job.Stored // the job as they leave it
}

// CheckBrought verifies lines of another store. It writes nothing.
func CheckBrought(id string, there, lines []job.Line) (Brought, error) {
	if err := wholeLines(id, lines); err != nil {
		return Brought{}, err
	}
	after, err := job.Read(job.ChainOf(lines))
	if err != nil {
		return Brought{}, err
	}
	seq, hash := after.Head()
	out := Brought{app.Head{Seq: seq, Hash: hash}, len(there) > 0, after}
	if out.There && !reflect.DeepEqual(there, lines) {
		return Brought{}, &diag.Error{Kind: diag.Conflict, Op: "store", Subject: id, Msg: "there is a stored job of that name already, and it is not the same", Hint: "give another name"}
	}
	return out, nil
}

// wholeLines refuses lines that no store would have written, and a key of two changes.
func wholeLines(id string, lines []job.Line) error {
	data, err := job.EncodeLines(lines)
	if err != nil {
		return err
	}
	read, whole, err := job.DecodeLines(data)
	if err != nil {
		return err
	}
	fault := func(msg string) error {
		return &diag.Error{Kind: diag.Invalid, Op: "store", Subject: id, Msg: msg, Hint: "take the lines from the other store again"}
	}
	if whole != len(data) || !reflect.DeepEqual(read, lines) {
		return fault("its last change is not whole")
	}
	keys := map[string]bool{}
	for _, l := range lines {
		if l.Part > 1 {
			continue
		}
		if err := CheckChange(id, app.Change{Key: l.Change, By: l.By}); err != nil {
			return err
		}
		if keys[l.Change] {
			return fault(fmt.Sprintf("the key %q stands for two changes", l.Change))
		}
		keys[l.Change] = true
	}
	return nil
}

// LinesOf puts the keys of changes to entries: keys has the key, first event and number of events of each.
func LinesOf(c ledger.Chain, keys []KeyOf) ([]job.Line, error) {
	var out []job.Line
	for _, k := range keys {
		if k.First != int64(len(out)+1) || k.First+k.Events-1 > int64(len(c)) || k.Events < 1 {
			break
		}
		out = append(out, job.Lines(k.Key, c[k.First-1:k.First+k.Events-1])...)
	}
	if len(out) != len(c) {
		return nil, &diag.Error{Kind: diag.Integrity, Op: "store", Subject: "requests", Msg: "the keys of changes and the events contradict one another", Hint: "bring the store back from a backup"}
	}
	return out, nil
}

// KeyOf is the key of a change, its first event, and how many it has.
type KeyOf struct {
	Key           string
	First, Events int64
}

// CheckAside refuses what cannot be set aside: names are those of files beside a job, and what is there is the same.
func CheckAside(id string, there, files map[string][]byte) error {
	if err := errors.Join(CheckID(id), CheckFiles(files, maxEvents)); err != nil {
		return err
	}
	for name := range files {
		if strings.ContainsAny(name, `/\\`) || name == job.EventsFile || name == job.MainFile || name == job.ReadingsFile || safefile.IsTemporary(name) {
			return &diag.Error{Kind: diag.Invalid, Op: "store", Subject: id, Msg: fmt.Sprintf("%q is no name of a file that is set aside", name)}
		}
	}
	if len(there) > 0 && !maps.EqualFunc(there, files, bytes.Equal) {
		return &diag.Error{Kind: diag.Conflict, Op: "store", Subject: id, Msg: "other files are set aside for it already; nothing was written", Hint: "give the job another name"}
	}
	return nil
}

// Head is the newest event of a job.
func (f *Folder) Head(ctx context.Context, id string) (app.Head, error) {
	lines, err := f.Lines(ctx, id)
	if err != nil {
		return app.Head{}, err
	}
	return headOf(lines), nil
}

// Lines is the events of a job with their keys.
func (f *Folder) Lines(ctx context.Context, id string) ([]job.Line, error) {
	if err := errors.Join(CheckID(id), ctx.Err()); err != nil {
		return nil, err
	}
	lines, err := f.lines(id)
	if err == nil && len(lines) == 0 {
		err = NoJob(id)
	}
	return lines, err
}

// Bring begins a job with lines of another store.
func (f *Folder) Bring(ctx context.Context, id string, lines []job.Line) (app.Head, error) {
	if err := errors.Join(CheckID(id), ctx.Err(), wholeLines(id, lines)); err != nil {
		return app.Head{}, err
	}
	var made Brought
	err := f.within(id, true, func(dir *os.Root) error {
		there, _, err := readEvents(dir)
		if err != nil {
			return err
		}
		if made, err = CheckBrought(id, there, lines); err != nil || made.There {
			return err
		}
		return replaceEvents(dir, lines)
	})
	return made.Head, err
}

// asideNames are the names under which a folder has what is set aside.
var asideNames = []string{"as-written.yaml", "as-written.csv"}

// SetAside keeps files beside a job.
func (f *Folder) SetAside(ctx context.Context, id string, files map[string][]byte) error {
	for name := range files {
		if !slices.Contains(asideNames, name) {
			return &diag.Error{Kind: diag.Unsupported, Op: "store", Subject: id, Msg: fmt.Sprintf("a folder sets aside %s alone, not %q", strings.Join(asideNames, " and "), name)}
		}
	}
	if err := errors.Join(ctx.Err(), CheckAside(id, nil, files)); err != nil {
		return err
	}
	return f.within(id, true, func(dir *os.Root) error {
		there, err := readAside(dir)
		if err == nil {
			err = CheckAside(id, there, files)
		}
		if err != nil || len(there) > 0 {
			return err
		}
		for _, name := range slices.Sorted(maps.Keys(files)) {
			err := safefile.WriteWhole(safefile.Of(dir), ".", func(w io.Writer) (string, error) {
				_, err := w.Write(files[name])
				return name, err
			})
			if err != nil {
				return safefile.Unusable(name, err)
			}
		}
		return nil
	})
}

func readAside(dir *os.Root) (map[string][]byte, error) {
	out := map[string][]byte{}
	for _, name := range asideNames {
		data, err := readAll(dir, name, maxEvents)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		out[name] = data
	}
	return out, nil
}

// Aside is what was set aside for a job.
func (f *Folder) Aside(ctx context.Context, id string) (out map[string][]byte, err error) {
	if err := errors.Join(CheckID(id), ctx.Err()); err != nil {
		return nil, err
	}
	err = f.within(id, false, func(dir *os.Root) error {
		out, err = readAside(dir)
		return err
	})
	if diag.KindOf(err) == diag.NotFound {
		return map[string][]byte{}, nil
	}
	return out, err
}
