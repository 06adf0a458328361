package cli

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// lockWait is how long a command waits for another one that writes the same
// folder. Its work takes seconds.
const lockWait = 60 * time.Second

// folder is a folder that is written to, and nobody else of this program writes
// to meanwhile. Everything is written beneath it: no link in it is followed.
type folder struct {
	name   string
	root   *os.Root
	unlock func() error

	borrowed bool // another one closes it
}

// openFolder makes the folder if it is not there, and locks it. One that is a
// link is refused: a stranger's files may lie beside it.
func openFolder(name string) (*folder, error) {
	name = filepath.Clean(name)
	if fi, err := os.Lstat(name); err == nil && fi.Mode()&fs.ModeSymlink != 0 && name != "." {
		return nil, &diag.Error{Kind: diag.Denied, Op: "write", Subject: name, Msg: "is a link; what is written does not go through links", Hint: "give the folder itself, or take the link away"}
	}
	if err := safefile.MakeDirs(name, 0o755); err != nil {
		return nil, notWritten(name, err)
	}
	return lockedFolder(name)
}

// lockedFolder locks a folder that is there; the folder itself may be named by a
// link.
func lockedFolder(name string) (*folder, error) {
	root, err := os.OpenRoot(name)
	if err != nil {
		return nil, notWritten(name, err)
	}
	unlock, err := safefile.Lock(root, lockWait)
	if err != nil {
		if errors.Is(err, safefile.ErrLocked) {
			err = &diag.Error{Kind: diag.Conflict, Op: "write", Subject: name, Msg: fmt.Sprintf("another fettle has been writing there for %.0f seconds; nothing was written", lockWait.Seconds()), Hint: "try again when it is done"}
		} else {
			err = notWritten(name, err)
		}
		return nil, errors.Join(err, root.Close())
	}
	return &folder{name: name, root: root, unlock: unlock}, nil
}

// unlockedFolder is a folder that is there, in which others may write meanwhile.
func unlockedFolder(name string) (*folder, error) {
	root, err := os.OpenRoot(name)
	if err != nil {
		return nil, notWritten(name, err)
	}
	return &folder{name: name, root: root, unlock: func() error { return nil }}, nil
}

// openInside is a folder inside a folder, which is made if it is not there. It
// must be no link, and nothing on the way to it either.
func openInside(outer, inner string) (*folder, error) {
	root, err := os.OpenRoot(outer)
	if err != nil {
		return nil, notWritten(outer, err)
	}
	defer root.Close() // it was only read from: nothing is lost
	full := filepath.Join(outer, inner)
	if err := makeDirs(root, inner); err != nil {
		return nil, nameWritten(full, err)
	}
	sub, err := root.OpenRoot(inner)
	if err != nil {
		return nil, notWritten(full, err)
	}
	unlock, err := safefile.Lock(sub, lockWait)
	if err != nil {
		return nil, errors.Join(notWritten(full, err), sub.Close())
	}
	return &folder{name: full, root: sub, unlock: unlock}, nil
}

// makeDirs makes the folders of a path beneath a root and refuses whatever lies
// on the way and is no folder.
func makeDirs(root *os.Root, name string) error {
	if name = filepath.Clean(name); name == "." {
		return nil
	}
	parts := strings.Split(name, string(filepath.Separator))
	for i := range parts {
		part := filepath.Join(parts[:i+1]...)
		err := root.Mkdir(part, 0o755)
		if err == nil {
			err = safefile.Of(root).SyncDir(filepath.ToSlash(filepath.Dir(part)))
		}
		if err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
		fi, err := root.Lstat(part)
		if err != nil {
			return err
		}
		if what := oddity(fi.Mode()); !fi.IsDir() {
			if what == "" {
				what = "a file"
			}
			return &diag.Error{Kind: diag.Denied, Op: "write", Subject: part, Msg: "is " + what + ", not a folder; what is written does not go through it", Hint: "take it away, or give another folder with --out"}
		}
	}
	return nil
}

// nameWritten keeps an error of ours under the whole name.
func nameWritten(p string, err error) error {
	var e *diag.Error
	if errors.As(err, &e) {
		c := *e
		c.Subject = p
		return &c
	}
	return notWritten(p, err)
}

// close unlocks the folder.
func (f *folder) close() error {
	if f.borrowed {
		return nil
	}
	return errors.Join(f.unlock(), f.root.Close())
}

// within does something in a folder and unlocks it.
func (f *folder) within(do func() error) (err error) {
	defer func() { err = errors.Join(err, f.close()) }()
	return do()
}

func (f *folder) path(name string) string { return filepath.Join(f.name, name) }

// state is the content of a file of the folder of at most so many bytes; nil
// when there is none. Anything but a regular file is an error.
func (f *folder) state(name string, most int64) ([]byte, error) {
	name = filepath.FromSlash(name)
	fi, err := f.root.Lstat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err == nil {
		err = f.mayReplace(name, fi)
	}
	if err != nil {
		return nil, nameWritten(f.path(name), err)
	}
	in, err := f.root.Open(name)
	if err != nil {
		return nil, notWritten(f.path(name), err)
	}
	data, err := io.ReadAll(io.LimitReader(in, most+1))
	if err = errors.Join(err, in.Close()); err != nil {
		return nil, notWritten(f.path(name), err)
	}
	if data == nil {
		data = []byte{}
	}
	return data, nil
}

// sum is the SHA-256 of a file of the folder.
func (f *folder) sum(name string) (string, error) {
	h := sha256.New()
	if _, err := (disk{}).Copy(f.name, name, math.MaxInt64-1, h); err != nil {
		return "", notWritten(f.path(name), err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// has says that there is something of that name.
func (f *folder) has(name string) bool {
	_, err := f.root.Lstat(filepath.FromSlash(name))
	return err == nil
}

// mayReplace refuses to put a file where something else lies.
func (f *folder) mayReplace(name string, fi fs.FileInfo) error {
	if what := oddity(fi.Mode()); what != "" {
		return &diag.Error{Kind: diag.Denied, Op: "write", Subject: f.path(name), Msg: "is " + what + ", not a file that could be replaced", Hint: "take it away"}
	}
	return nil
}

// write puts a file into the folder whole or not at all.
func (f *folder) write(name string, data []byte) error {
	return f.writeFrom(name, func(w io.Writer) error {
		_, err := io.Copy(w, bytes.NewReader(data))
		return err
	})
}

// writeFrom puts what is made into the folder whole or not at all.
func (f *folder) writeFrom(name string, make func(io.Writer) error) error {
	name = filepath.FromSlash(name)
	full := f.path(name)
	if err := makeDirs(f.root, filepath.Dir(name)); err != nil {
		return nameWritten(filepath.Dir(full), err)
	}
	if fi, err := f.root.Lstat(name); err == nil {
		if err := f.mayReplace(name, fi); err != nil {
			return err
		}
	}
	err := safefile.WriteWhole(safefile.Of(f.root), filepath.Dir(name), func(w io.Writer) (string, error) { return filepath.Base(name), make(w) })
	var told *diag.Error
	if err == nil || errors.As(err, &told) {
		return err
	}
	return notWritten(full, err)
}

// remove takes a file away if it is there.
func (f *folder) remove(name string) error {
	err := f.root.Remove(filepath.FromSlash(name))
	if err == nil || errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return notWritten(f.path(name), err)
}

// writeFile writes one file that a person named.
func writeFile(p string, data []byte) error {
	f, err := parentOf(p)
	if err != nil {
		return err
	}
	return f.within(func() error { return f.write(filepath.Base(p), data) })
}

// parentOf is the folder that a file a person named goes into, locked.
func parentOf(p string) (*folder, error) {
	dir := filepath.Dir(p)
	if err := safefile.MakeDirs(dir, 0o755); err != nil {
		return nil, notWritten(p, err)
	}
	return lockedFolder(dir)
}

// notOver refuses to write over a file that is read.
func notOver(out, in string) error {
	a, err := os.Stat(out)
	if err != nil {
		return nil // it is not there yet; writing says what else is wrong
	}
	if b, err := os.Stat(in); err == nil && os.SameFile(a, b) {
		return &diag.Error{Kind: diag.Usage, Op: "write", Subject: out, Msg: "is the file that is read", Hint: "give another name for what is written"}
	}
	return nil
}

func notWritten(p string, err error) error {
	return &diag.Error{Kind: diag.Unavailable, Op: "write", Subject: p, Msg: "cannot be written", Hint: "check the folder and the free space", Err: err}
}
