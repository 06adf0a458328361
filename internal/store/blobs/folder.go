package blobs

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path"
	"sync/atomic"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
	"fettle/internal/store/safefile/simdisk"
)

// In a folder a file has the hash of its bytes as a name. What else there is lies in folders of its own.
const (
	marksDir    = ".marks"
	removalsDir = ".removals"
	uploadsDir  = ".uploads"
)

// NewFolder keeps bytes in a folder of that name inside one that is there, with a clock. It is made when
// something is written. Nothing is read or written through a link.
func NewFolder(inside, name string, now func() time.Time) *Store {
	return inDir(beneath(inside, name), now)
}

// NewMemory keeps bytes until the program ends.
func NewMemory(now func() time.Time) *Store {
	return NewIn(simdisk.New(now), now)
}

// NewIn keeps bytes in a folder that is open.
func NewIn(d safefile.Dir, now func() time.Time) *Store {
	return inDir(func(bool) (safefile.Dir, error) { return d, nil }, now)
}

func inDir(open opener, now func() time.Time) *Store {
	return &Store{spool: open, kept: &folder{open}, now: now, synced: true, wait: removalWait, pause: removalPause}
}

// beneath opens a folder inside another one.
func beneath(inside, name string) opener {
	var safe atomic.Bool // its name is
	return func(make bool) (_ safefile.Dir, err error) {
		root, err := os.OpenRoot(inside)
		if err != nil {
			return nil, safefile.Unusable(inside, err)
		}
		defer func() { err = errors.Join(err, root.Close()) }()
		if make {
			err := root.Mkdir(name, 0o755)
			if err != nil && !errors.Is(err, fs.ErrExist) {
				return nil, safefile.Unusable(name, err)
			}
			if err == nil || !safe.Load() {
				if err := safefile.Of(root).SyncDir("."); err != nil {
					return nil, safefile.Unusable(inside, err)
				}
				safe.Store(true)
			}
		}
		fi, err := root.Lstat(name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fs.ErrNotExist
		}
		if err == nil && !fi.IsDir() {
			return nil, &diag.Error{Kind: diag.Denied, Op: "store", Subject: name, Msg: "is no folder, or it is a link to one", Hint: "take it away"}
		}
		sub, err := root.OpenRoot(name)
		if err != nil {
			return nil, safefile.Unusable(name, err)
		}
		return safefile.Of(sub), nil
	}
}

// folder keeps things in a folder.
type folder struct{ opens opener }

// place is the folder in which things of a kind lie.
func place(k kind) string {
	switch k {
	case mark:
		return marksDir
	case removal:
		return removalsDir
	}
	return "."
}

// inside does something in the folder. Where it is not there the error is fs.ErrNotExist.
func (f *folder) inside(ctx context.Context, make bool, do func(d safefile.Dir) error) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	d, err := f.opens(make)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unusable(d.Close())) }()
	return do(d)
}

// told makes an error about a thing that is looked for out of one of the system.
func told(hash string, err error) error {
	var known *diag.Error
	switch {
	case err == nil || errors.As(err, &known) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.Is(err, fs.ErrNotExist):
		return NothingKept(hash)
	}
	return safefile.Unusable(hash, err)
}

// put gives the temporary file its name, always in the place of what is there: a program may have died before
// that name was safe.
func (f *folder) put(ctx context.Context, st *staged, _ bool) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := st.dir.Rename(st.name, st.hash); err != nil {
		return safefile.Unusable(st.hash, err)
	}
	st.moved = true
	return unusable(st.dir.SyncDir("."))
}

func (f *folder) open(ctx context.Context, hash string, offset, length int64) (r io.ReadCloser, size int64, err error) {
	err = f.inside(ctx, false, func(d safefile.Dir) error {
		file, err := d.Open(hash, math.MaxInt64)
		if err == nil {
			r, size, err = part(file, offset, length)
		}
		return err
	})
	return r, size, told(hash, err)
}

// part is so many bytes of a file from an offset, or all for -1.
func part(file safefile.File, offset, length int64) (io.ReadCloser, int64, error) {
	fi, err := file.Stat()
	if err == nil && offset > 0 {
		_, err = file.Seek(offset, io.SeekStart)
	}
	if err != nil {
		return nil, 0, errors.Join(err, file.Close())
	}
	if length < 0 {
		return file, fi.Size(), nil
	}
	return struct {
		io.Reader
		io.Closer
	}{io.LimitReader(file, length), file}, fi.Size(), nil
}

func (f *folder) look(ctx context.Context, hash string) (of thing, err error) {
	err = f.inside(ctx, false, func(d safefile.Dir) error {
		fi, err := d.Lstat(hash)
		if err == nil && !fi.Mode().IsRegular() {
			err = &diag.Error{Kind: diag.Denied, Op: "store", Subject: hash, Msg: "is no file", Hint: "take it away"}
		}
		if err == nil {
			of = thing{hash, fi.Size()}
		}
		return err
	})
	return of, told(hash, err)
}

// settle makes names safe that another program may have given just now.
func (f *folder) settle(ctx context.Context) error {
	return told("the folder of files", f.inside(ctx, false, func(d safefile.Dir) error { return d.SyncDir(".") }))
}

func (f *folder) since(ctx context.Context, k kind, hash string) (at time.Time, err error) {
	for try := 0; ; try++ {
		var text []byte
		err = f.inside(ctx, false, func(d safefile.Dir) error {
			text, at, err = readNote(d, path.Join(place(k), hash))
			return err
		})
		if err != nil || len(text) > 0 || try == 4 {
			return noted(text, at), told(hash, err)
		}
		time.Sleep(time.Millisecond) // it is being written, unless a program died over it
	}
}

// readNote is what a file has, and when it was written.
func readNote(d safefile.Dir, name string) (text []byte, written time.Time, err error) {
	file, err := d.Open(name, maxNote)
	if err != nil {
		return nil, written, err
	}
	fi, err := file.Stat()
	if err == nil {
		written = fi.ModTime()
		text, err = io.ReadAll(io.LimitReader(file, maxNote))
	}
	return text, written, errors.Join(err, file.Close())
}

func (f *folder) make(ctx context.Context, k kind, hash string, at time.Time) (made bool, err error) {
	err = f.inside(ctx, true, func(d safefile.Dir) error {
		if err := safefile.MakeDir(d, place(k)); err != nil {
			return err
		}
		file, err := d.Create(path.Join(place(k), hash))
		if errors.Is(err, fs.ErrExist) {
			return nil
		}
		if err != nil {
			return err
		}
		made = true
		_, err = file.Write(note(at)) // nothing rests on its being safe: without it, the time of the file counts
		return errors.Join(err, file.Close())
	})
	return made, told(hash, err)
}

// remove makes it safe that there is nothing, also where it was another program that removed it just now.
func (f *folder) remove(ctx context.Context, k kind, hash string) error {
	err := f.inside(ctx, false, func(d safefile.Dir) error {
		return errors.Join(gone(d.Remove(path.Join(place(k), hash))), d.SyncDir(place(k)))
	})
	return told(hash, gone(err))
}

func (f *folder) each(ctx context.Context, k kind, do func(thing) error) error {
	var own error // of do, to be told as it is
	err := f.inside(ctx, false, func(d safefile.Dir) error {
		return d.Each(place(k), func(fi fs.FileInfo) error {
			if own = ctx.Err(); own == nil && IsHash(fi.Name()) {
				own = do(thing{fi.Name(), fi.Size()})
			}
			return own
		})
	})
	if own != nil {
		return own
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return told(fmt.Sprintf("the folder of %s", k), err)
}

// tidy has nothing to do: what is gathered lies in the same folder, and is tidied there.
func (f *folder) tidy(context.Context, time.Time) (int, error) { return 0, nil }
