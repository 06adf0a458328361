// Package safefile is what keeping files safe needs of a file system: files that are there whole or not at
// all, names that stay given, locks between programs, and nothing read or written through a link. What it
// asks of the system is one small interface, so that tests can let every call of it fail, and cut the power.
package safefile

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"fettle/internal/diag"
)

// Dir is a folder and what lies beneath it. Names use slashes, "." is the folder itself; none leads out of it.
type Dir interface {
	// Create makes a file to be written; it is an error where the name is given already.
	Create(name string) (File, error)
	// Open opens a regular file of at most so many bytes to be read. Its error is fs.ErrNotExist where
	// there is nothing.
	Open(name string, most int64) (File, error)
	// Lstat is what has a name; of a link, the link.
	Lstat(name string) (fs.FileInfo, error)
	// Rename gives a file another name, in the place of the file that had it.
	Rename(from, to string) error
	// Remove takes a file, a link or an empty folder away.
	Remove(name string) error
	// Mkdir makes a folder; its error is fs.ErrExist where the name is given already.
	Mkdir(name string) error
	// Each does something with everything that lies in a folder, in no order. What it removes
	// meanwhile may be removed.
	Each(name string, f func(fs.FileInfo) error) error
	// SyncDir makes safe which names a folder has.
	SyncDir(name string) error
	Close() error
}

// File is a file that is read, or one that is written from its beginning to its end.
type File interface {
	io.ReadSeeker
	io.ReaderAt
	io.WriteCloser
	Stat() (fs.FileInfo, error)
	// Sync makes safe what was written.
	Sync() error
}

// Open opens a folder of the system.
func Open(name string) (Dir, error) {
	root, err := os.OpenRoot(name)
	if err != nil {
		return nil, err
	}
	return Of(root), nil
}

// Of is a folder of the system that is open.
func Of(root *os.Root) Dir { return folder{root, 0o755} }

type folder struct {
	root *os.Root
	mode fs.FileMode // of folders that are made
}

func (d folder) Create(name string) (File, error) {
	file, err := d.root.OpenFile(filepath.FromSlash(name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, err // and no File that is a nil pointer
	}
	return file, nil
}

func (d folder) Open(name string, most int64) (File, error) {
	file, err := Regular(d.root, filepath.FromSlash(name), os.O_RDONLY, most)
	if err != nil {
		return nil, err // likewise
	}
	return file, nil
}

func (d folder) Lstat(name string) (fs.FileInfo, error) {
	return d.root.Lstat(filepath.FromSlash(name))
}
func (d folder) Rename(from, to string) error {
	return d.root.Rename(filepath.FromSlash(from), filepath.FromSlash(to))
}
func (d folder) Remove(name string) error { return d.root.Remove(filepath.FromSlash(name)) }
func (d folder) Mkdir(name string) error  { return d.root.Mkdir(filepath.FromSlash(name), d.mode) }
func (d folder) Close() error             { return d.root.Close() }

// Each reads a folder in pieces: it may have millions of files.
func (d folder) Each(name string, f func(fs.FileInfo) error) (err error) {
	dir, err := d.root.Open(filepath.FromSlash(name))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, dir.Close()) }()
	for {
		entries, err := dir.ReadDir(256)
		for _, e := range entries {
			fi, err := d.root.Lstat(filepath.Join(filepath.FromSlash(name), e.Name()))
			if errors.Is(err, fs.ErrNotExist) {
				continue // gone meanwhile
			}
			if err == nil {
				err = f(fi)
			}
			if err != nil {
				return err
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// SyncDir makes names safe. Systems that cannot do it do it by themselves.
func (d folder) SyncDir(name string) error {
	dir, err := d.root.Open(filepath.FromSlash(name))
	if err != nil {
		return err
	}
	if err := dir.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, fs.ErrInvalid) && !errors.Is(err, fs.ErrPermission) {
		return errors.Join(err, dir.Close())
	}
	return dir.Close()
}

// Regular opens a file beneath a root that is one, of at most so many bytes, and no link. Its error is
// fs.ErrNotExist when there is none. A file that takes the place of another one meanwhile is opened.
func Regular(root *os.Root, name string, flag int, most int64) (*os.File, error) {
	for n := 0; ; n++ {
		fi, err := root.Lstat(name)
		if err != nil {
			return nil, err
		}
		if !fi.Mode().IsRegular() || fi.Size() > most {
			return nil, &diag.Error{Kind: diag.Denied, Op: "store", Subject: name, Msg: fmt.Sprintf("is no file of at most %d bytes", most), Hint: "take it away"}
		}
		file, err := root.OpenFile(name, flag, 0)
		if err != nil {
			return nil, err
		}
		now, err := file.Stat()
		if err == nil && os.SameFile(fi, now) {
			return file, nil
		}
		if err = errors.Join(err, file.Close()); err != nil || n == 100 {
			return nil, errors.Join(fmt.Errorf("%s was exchanged while it was opened", name), err)
		}
	}
}

// Unusable is the error for a folder or file that the system does not let be used.
func Unusable(name string, err error) error {
	return &diag.Error{Kind: diag.Unavailable, Op: "store", Subject: name, Msg: "cannot be used", Hint: "check the folder and the free space", Err: err}
}

// MakeDir makes a folder that stays, where it is not there yet.
func MakeDir(d Dir, name string) error {
	if err := d.Mkdir(name); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return d.SyncDir(filepath.ToSlash(filepath.Dir(filepath.FromSlash(name)))) // another program may have made it just now
}

// MakeDirs makes a folder of the system, and those above it that are not there yet. They stay when it returns.
func MakeDirs(name string, mode fs.FileMode) (err error) {
	name = filepath.Clean(name)
	above := filepath.Dir(name)
	for !isDir(above) && above != filepath.Dir(above) {
		above = filepath.Dir(above)
	}
	root, err := os.OpenRoot(above)
	if errors.Is(err, fs.ErrPermission) && isDir(name) {
		return nil // in a folder of somebody else, who has made it
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, root.Close()) }()
	below, err := filepath.Rel(above, name)
	if err == nil {
		err = makeDirs(folder{root, mode}, filepath.ToSlash(below))
	}
	if err == nil && !isDir(name) {
		err = &fs.PathError{Op: "mkdir", Path: name, Err: errors.New("there is a file of that name")}
	}
	return err
}

// makeDirs makes a folder and those on the way to it, one after the other, each of which stays before the next is made.
func makeDirs(d Dir, name string) error {
	for i, c := range name + "/" {
		if c == '/' {
			if err := MakeDir(d, name[:i]); err != nil {
				return err
			}
		}
	}
	return nil
}

func isDir(name string) bool {
	fi, err := os.Stat(name)
	return err == nil && fi.IsDir()
}

// Drawn is so many bytes drawn at random, in hexadecimal.
func Drawn(bytes int) string {
	b := make([]byte, bytes)
	rand.Read(b) // never fails: crypto/rand ends the program where it cannot draw
	return hex.EncodeToString(b)
}
