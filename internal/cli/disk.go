package cli

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"fettle/internal/app"
)

// disk is the file system as package app sees it.
type disk struct{}

// place is where files are looked up: beneath a folder, or anywhere.
type place interface {
	Stat(name string) (fs.FileInfo, error)
	OpenFile(name string, flag int, perm fs.FileMode) (*os.File, error)
}

// anywhere is where the person who runs the program names files.
type anywhere struct{}

func (anywhere) Stat(name string) (fs.FileInfo, error) { return os.Stat(name) }
func (anywhere) OpenFile(name string, flag int, perm fs.FileMode) (*os.File, error) {
	return os.OpenFile(name, flag, perm)
}

// Copy hands on the content of a regular file.
func (disk) Copy(dir, name string, most int64, to io.Writer) (n int64, err error) {
	f, err := openRegular(dir, filepath.FromSlash(name), most)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if room, ok := to.(*bytes.Buffer); ok {
		fi, err := f.Stat()
		if err != nil {
			return 0, err
		}
		room.Grow(int(min(fi.Size(), most)) + bytes.MinRead)
	}
	n, err = io.Copy(to, io.LimitReader(f, most+1))
	if err == nil && n > most { // it grew while it was read
		err = &app.TooLarge{Bytes: n, Most: most}
	}
	return n, err
}

// openRegular opens a regular file of at most so many bytes; with a folder
// given, one that lies beneath it. What it is, is asked of the open file: it may
// have been exchanged since it was looked at. Opening a pipe does not wait for
// its other end.
func openRegular(dir, name string, most int64) (f *os.File, err error) {
	var in place = anywhere{}
	if dir != "" {
		root, oerr := os.OpenRoot(filepath.FromSlash(dir))
		if oerr != nil {
			return nil, oerr
		}
		defer func() { err = errors.Join(err, root.Close()) }()
		if why := outOf(root, name); why != "" {
			return nil, &app.NotAFile{What: why}
		}
		in = root
	}
	before, err := in.Stat(name)
	if err != nil {
		return nil, err
	}
	if err := regular(before, most); err != nil {
		return nil, err
	}
	f, err = in.OpenFile(name, os.O_RDONLY|dontWait, 0)
	if err != nil {
		return nil, err
	}
	after, err := f.Stat()
	if err == nil {
		err = regular(after, most)
	}
	if err == nil && !os.SameFile(before, after) {
		err = &app.NotAFile{What: "was exchanged for another file while it was opened"}
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// regular says what is wrong with a file that is none, or too large.
func regular(fi fs.FileInfo, most int64) error {
	if what := oddity(fi.Mode()); what != "" {
		return &app.NotAFile{What: "is " + what + ", not a file"}
	}
	if fi.Size() > most {
		return &app.TooLarge{Bytes: fi.Size(), Most: most}
	}
	return nil
}

// oddity is what lies there instead of a regular file; empty for one.
func oddity(m fs.FileMode) string {
	switch {
	case m.IsRegular():
		return ""
	case m.IsDir():
		return "a folder"
	case m&fs.ModeSymlink != 0:
		return "a link"
	case m&fs.ModeNamedPipe != 0:
		return "a pipe"
	case m&fs.ModeSocket != 0:
		return "a socket"
	}
	return "a device"
}

// outOf is why a name leads out of a folder; empty when it does not. The folder
// itself keeps everything beneath it: this only finds the words.
func outOf(root *os.Root, name string) string {
	if !filepath.IsLocal(name) {
		return "lies outside the folder"
	}
	if _, err := root.Stat(name); err == nil || errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) {
		return ""
	}
	parts := strings.Split(filepath.Clean(name), string(filepath.Separator))
	for i := range parts {
		part := filepath.Join(parts[:i+1]...)
		fi, err := root.Lstat(part)
		if err != nil {
			return ""
		}
		if fi.Mode()&fs.ModeSymlink == 0 {
			continue
		}
		if _, err := root.Stat(part); err != nil {
			if part != filepath.Clean(name) {
				return "lies behind " + filepath.ToSlash(part) + ", a link out of the folder"
			}
			return "is a link out of the folder"
		}
	}
	return ""
}

func (disk) IsDir(p string) bool {
	fi, err := os.Stat(filepath.FromSlash(p))
	return err == nil && fi.IsDir()
}

// Exists says that there is something: a link that leads nowhere too, so that
// it is read and refused and not passed over.
func (disk) Exists(p string) bool {
	_, err := os.Lstat(filepath.FromSlash(p))
	return err == nil
}

// Real is where a path lies when all links are followed.
func (disk) Real(p string) (string, error) {
	full, err := filepath.EvalSymlinks(filepath.FromSlash(p))
	if err == nil {
		full, err = filepath.Abs(full)
	}
	return filepath.ToSlash(full), err
}

// maxListed is the most files of a folder that are listed.
const maxListed = 100_000

// List is everything below dir that is not a folder. Hidden files and folders,
// and the folder "result" that assess writes, are not part of a document.
func (disk) List(dir string) ([]string, error) {
	var out []string
	root := filepath.FromSlash(dir)
	if fi, err := os.Stat(root); err == nil && fi.IsDir() {
		root += string(filepath.Separator) // a folder that is named by a link is that folder
	}
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if p != root && (strings.HasPrefix(name, ".") || d.IsDir() && name == "result") {
			if d.IsDir() {
				return filepath.SkipDir
			}
			return nil
		}
		if !d.IsDir() {
			if len(out) == maxListed {
				return &app.TooMany{Most: maxListed}
			}
			rel, err := filepath.Rel(root, p)
			if err != nil {
				return err
			}
			out = append(out, filepath.ToSlash(rel))
		}
		return nil
	})
	sort.Strings(out)
	return out, err
}
