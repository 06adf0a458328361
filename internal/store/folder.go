package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/store/blobs"
	"fettle/internal/store/safefile"
)

// Folders of the store itself, beside those of its jobs.
const (
	blobsDir   = "blobs"
	libraryDir = "library"
)

// Limits that protect the machine.
const (
	maxEvents  = 64 << 20 // bytes of the events of a job
	maxLibrary = 1 << 30  // bytes of a body
	maxFiles   = 10_000   // of a body
	lockWait   = 60 * time.Second
)

// Folder is a store in a folder: one folder for each job with its file of events, one with
// blobs, one with the library. Several programs may use it at once; it is as safe as the locks of
// its file system. Nothing is read or written through a link.
type Folder struct {
	name string
	now  func() time.Time
	wait time.Duration
	most int64 // bytes of a body

	folds job.Folds
	blobs *blobs.Store
}

// OpenFolder is a store in a folder, with a clock.
func OpenFolder(name string, now func() time.Time) *Folder {
	return &Folder{name: name, now: now, wait: lockWait, most: maxLibrary, blobs: blobs.NewFolder(name, blobsDir, now)}
}

// Create begins a job.
func (f *Folder) Create(ctx context.Context, id string, c app.Change) (app.Head, error) {
	return f.change(ctx, id, true, c, nil)
}

// Append adds a change to a job.
func (f *Folder) Append(ctx context.Context, id string, c app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	return f.change(ctx, id, false, c, may)
}

func (f *Folder) change(ctx context.Context, id string, opens bool, c app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	if err := errors.Join(CheckID(id), noWork(id, c)); err != nil {
		return app.Head{}, err
	}
	var head app.Head
	err := f.within(id, opens, func(dir *os.Root) error {
		lines, whole, err := readEvents(dir)
		if err != nil {
			return err
		}
		made, err := MakeChange(ctx, id, opens, c, may, f.now(), pastOf(lines, &f.folds))
		if head = made.Head; err != nil || len(made.Fresh) == 0 {
			return err
		}
		fresh := job.Lines(c.Key, made.Fresh)
		if opens || len(made.Erased) > 0 {
			return replaceEvents(dir, slices.Concat(withoutTexts(lines, made.Erased), fresh))
		}
		return addEvents(dir, whole, fresh)
	})
	if err != nil {
		return app.Head{}, err
	}
	return head, nil
}

// within does something in the folder of a job, which is made where it opens the job, and in which nobody
// else writes meanwhile.
func (f *Folder) within(id string, opens bool, do func(dir *os.Root) error) (err error) {
	root, err := os.OpenRoot(f.name)
	if err != nil {
		return safefile.Unusable(f.name, err)
	}
	defer func() { err = errors.Join(err, root.Close()) }()
	if opens {
		if err := safefile.MakeDir(safefile.Of(root), id); err != nil {
			return safefile.Unusable(id, err)
		}
	}
	dir, err := root.OpenRoot(id)
	if errors.Is(err, fs.ErrNotExist) {
		return NoJob(id)
	}
	if err != nil {
		return safefile.Unusable(id, err)
	}
	defer func() { err = errors.Join(err, dir.Close()) }()
	unlock, err := safefile.Lock(dir, f.wait)
	if errors.Is(err, safefile.ErrLocked) {
		return &diag.Error{Kind: diag.Conflict, Op: "store", Subject: id, Msg: fmt.Sprintf("another program has been writing it for %.0f seconds; nothing was written", f.wait.Seconds()), Hint: "try again when it is done"}
	}
	if err != nil {
		return safefile.Unusable(id, err)
	}
	defer func() { err = errors.Join(err, unlock()) }()
	return do(dir)
}

func readAll(root *os.Root, name string, most int64) ([]byte, error) {
	file, err := safefile.Regular(root, name, os.O_RDONLY, most)
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(io.LimitReader(file, most+1))
	if err = errors.Join(err, file.Close()); err == nil && int64(len(data)) > most {
		err = fmt.Errorf("%s grew beyond %d bytes while it was read", name, most)
	}
	return data, err
}

// readEvents is the events of a job, none where there is no file, and the bytes of whole changes.
func readEvents(dir *os.Root) ([]job.Line, int, error) {
	data, err := readAll(dir, job.EventsFile, maxEvents)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, nil
	}
	if err != nil {
		return nil, 0, err
	}
	return job.DecodeLines(data)
}

// addEvents writes lines behind whole changes. What a change that was broken off has left is
// cut away; a line that could not be written whole is taken back, or else passed over when it is read.
func addEvents(dir *os.Root, whole int, lines []job.Line) error {
	data, err := job.EncodeLines(lines)
	if err != nil {
		return err
	}
	file, err := safefile.Regular(dir, job.EventsFile, os.O_RDWR, maxEvents-int64(len(data)))
	if err != nil {
		return err
	}
	if err = file.Truncate(int64(whole)); err == nil {
		if _, err = file.WriteAt(data, int64(whole)); err == nil {
			err = file.Sync()
		}
		if err != nil {
			err = errors.Join(err, file.Truncate(int64(whole)))
		}
	}
	if err = errors.Join(err, file.Close()); err != nil {
		return safefile.Unusable(job.EventsFile, err)
	}
	return nil
}

// replaceEvents writes the whole file anew.
func replaceEvents(dir *os.Root, lines []job.Line) error {
	data, err := job.EncodeLines(lines)
	if err != nil {
		return err
	}
	if int64(len(data)) > maxEvents {
		return blobs.TooLarge(maxEvents)
	}
	err = safefile.WriteWhole(safefile.Of(dir), ".", func(w io.Writer) (string, error) {
		_, err := io.Copy(w, bytes.NewReader(data))
		return job.EventsFile, err
	})
	if err != nil {
		return safefile.Unusable(job.EventsFile, err)
	}
	return nil
}

// Load is the events of a job after one of them. It waits for no lock: what is being written is
// not there yet.
func (f *Folder) Load(ctx context.Context, id string, n int64) (_ ledger.Chain, err error) {
	if err := errors.Join(CheckID(id), ctx.Err()); err != nil {
		return nil, err
	}
	lines, err := f.lines(id)
	if err != nil {
		return nil, err
	}
	return after(id, lines, n)
}

func (f *Folder) lines(id string) ([]job.Line, error) {
	root, err := os.OpenRoot(f.name)
	if err != nil {
		return nil, safefile.Unusable(f.name, err)
	}
	defer root.Close() // it was only read from: nothing is lost
	dir, err := root.OpenRoot(id)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, NoJob(id)
	}
	if err != nil {
		return nil, safefile.Unusable(id, err)
	}
	defer dir.Close() // likewise
	lines, _, err := readEvents(dir)
	if err == nil && len(lines) == 0 {
		err = NoJob(id)
	}
	return lines, err
}

// List is jobs in the order of their names.
func (f *Folder) List(ctx context.Context, from string, most int) ([]app.JobLine, error) {
	entries, err := os.ReadDir(f.name)
	if err != nil {
		return nil, safefile.Unusable(f.name, err)
	}
	var out []app.JobLine
	for _, e := range entries {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if len(out) >= most || e.Name() <= from || !e.IsDir() || CheckID(e.Name()) != nil {
			continue
		}
		lines, err := f.lines(e.Name())
		if diag.KindOf(err) == diag.NotFound {
			continue // another folder
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", e.Name(), err)
		}
		out = append(out, app.JobLine{ID: e.Name(), Head: headOf(lines)})
	}
	return out, nil
}

// inside does something in a folder of the store. One that is not there is made for what
// writes; for what looks for a hash there is nothing under it.
func (f *Folder) inside(dir, sought string, do func(root *os.Root) error) (err error) {
	root, err := os.OpenRoot(f.name)
	if err != nil {
		return safefile.Unusable(f.name, err)
	}
	defer func() { err = errors.Join(err, root.Close()) }()
	if sought == "" {
		if err := safefile.MakeDir(safefile.Of(root), dir); err != nil {
			return safefile.Unusable(dir, err)
		}
	}
	sub, err := root.OpenRoot(dir)
	if sought != "" && errors.Is(err, fs.ErrNotExist) {
		return blobs.NothingKept(sought)
	}
	if err != nil {
		return safefile.Unusable(dir, err)
	}
	defer func() { err = errors.Join(err, sub.Close()) }()
	return do(sub)
}

// Put keeps bytes.
func (f *Folder) Put(ctx context.Context, r io.Reader, most int64) (hash string, size int64, err error) {
	return f.blobs.Put(ctx, r, most)
}

// Get is the bytes of a hash.
func (f *Folder) Get(ctx context.Context, hash string) (r io.ReadCloser, size int64, err error) {
	return f.blobs.Get(ctx, hash)
}

// Retain says that bytes are kept and stay for a day.
func (f *Folder) Retain(ctx context.Context, hash string) (size int64, err error) {
	return f.blobs.Retain(ctx, hash)
}

// CheckFiles refuses names that do not stay in the folder of a body, and more than so many bytes.
func CheckFiles(files map[string][]byte, most int64) error {
	if len(files) == 0 || len(files) > maxFiles {
		return &diag.Error{Kind: diag.Invalid, Op: "store", Subject: "keep", Msg: fmt.Sprintf("a body or shop has from 1 to %d files, not %d", maxFiles, len(files))}
	}
	for name, data := range files {
		if most -= int64(len(data)); most < 0 {
			return &diag.Error{Kind: diag.Denied, Op: "store", Subject: "keep", Msg: "a body or shop of so many bytes is not kept", Hint: "make its files smaller"}
		}
		if !fs.ValidPath(name) || name == "." || strings.ContainsAny(name, `\:`) {
			return &diag.Error{Kind: diag.Invalid, Op: "store", Subject: name, Msg: "is no name of a file in a folder"}
		}
	}
	return nil
}

// Keep puts files into the library: into a folder that gets its name once all are there.
func (f *Folder) Keep(ctx context.Context, files map[string][]byte) (string, error) {
	if err := CheckFiles(files, f.most); err != nil {
		return "", err
	}
	hash := body.Hash(files)
	return hash, f.inside(libraryDir, "", func(root *os.Root) error {
		if _, err := f.Files(ctx, hash); err == nil {
			return nil // it is there already
		} else if diag.KindOf(err) != diag.NotFound {
			return err
		}
		temp := ".fettle-" + safefile.Drawn(8)
		err := root.Mkdir(temp, 0o755)
		for name, data := range files {
			if err = errors.Join(err, ctx.Err()); err != nil {
				break
			}
			name = temp + "/" + name
			if err = root.MkdirAll(path.Dir(name), 0o755); err == nil {
				err = writeSynced(root, name, data)
			}
		}
		if err == nil {
			err = syncFolders(root, temp)
		}
		if err == nil {
			err = root.Rename(temp, hash)
		}
		if err != nil {
			gone := root.RemoveAll(temp)
			if _, there := f.Files(ctx, hash); there == nil { // another program has put it there meanwhile
				return gone
			}
			return errors.Join(safefile.Unusable(hash, err), gone)
		}
		return safefile.Of(root).SyncDir(".")
	})
}

// syncFolders makes safe which names a folder and those in it have.
func syncFolders(root *os.Root, dir string) error {
	return fs.WalkDir(root.FS(), dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil || !d.IsDir() {
			return err
		}
		return safefile.Of(root).SyncDir(name)
	})
}

func writeSynced(root *os.Root, name string, data []byte) error {
	out, err := root.OpenFile(filepath.FromSlash(name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, bytes.NewReader(data))
	return errors.Join(err, out.Sync(), out.Close())
}

// Files is what the library has under a hash.
func (f *Folder) Files(ctx context.Context, hash string) (map[string][]byte, error) {
	if !blobs.IsHash(hash) {
		return nil, blobs.NothingKept(hash)
	}
	files := map[string][]byte{}
	err := f.inside(libraryDir, hash, func(root *os.Root) error {
		in, err := root.OpenRoot(hash)
		if errors.Is(err, fs.ErrNotExist) {
			return blobs.NothingKept(hash)
		}
		if err != nil {
			return safefile.Unusable(hash, err)
		}
		defer in.Close() // it was only read from: nothing is lost
		left := f.most
		return fs.WalkDir(in.FS(), ".", func(name string, d fs.DirEntry, err error) error {
			if err = errors.Join(err, ctx.Err()); err != nil || d.IsDir() {
				return err
			}
			data, err := readAll(in, filepath.FromSlash(name), left)
			if left -= int64(len(data)); err == nil && len(files) == maxFiles {
				err = blobs.NotThose(hash)
			}
			files[name] = data
			return err
		})
	})
	if err != nil {
		return nil, err
	}
	if body.Hash(files) != hash {
		return nil, blobs.NotThose(hash)
	}
	return files, nil
}
