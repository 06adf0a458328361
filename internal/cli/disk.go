package cli

import (
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"fettle/internal/diag"
)

// disk is the file system as package app sees it.
type disk struct{}

func (disk) Read(p string) ([]byte, error) { return os.ReadFile(filepath.FromSlash(p)) }

func (disk) IsDir(p string) bool {
	fi, err := os.Stat(filepath.FromSlash(p))
	return err == nil && fi.IsDir()
}

func (disk) Exists(p string) bool {
	_, err := os.Stat(filepath.FromSlash(p))
	return err == nil
}

// List is every regular file below dir. Hidden files and folders, and the
// folder "result" that assess writes, are not part of a document.
func (disk) List(dir string) ([]string, error) {
	var out []string
	root := filepath.FromSlash(dir)
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
		if d.Type().IsRegular() {
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

// writeFile writes a file whole or not at all: a temporary file beside it is
// synced and renamed.
func writeFile(p string, data []byte) error {
	if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
		return notWritten(p, err)
	}
	f, err := os.CreateTemp(filepath.Dir(p), ".fettle-*")
	if err != nil {
		return notWritten(p, err)
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Chmod(0o644)
	}
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.Name(), p)
	}
	if err != nil {
		os.Remove(f.Name()) // best effort: the error that matters is already known
		return notWritten(p, err)
	}
	return nil
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
