package store

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// WriteWhole puts a file into a folder beneath a root whole or not at all: what is written goes into
// a temporary file beside it, which is safe before it gets the name that write gives it, in the place of
// what had that name. A name that was given is safe too when it returns.
func WriteWhole(root *os.Root, dir string, write func(io.Writer) (name string, err error)) error {
	temp, out, err := temporary(root, dir)
	if err != nil {
		return err
	}
	name, err := write(out)
	if err == nil {
		err = out.Sync()
	}
	if err = errors.Join(err, out.Close()); err == nil {
		err = root.Rename(temp, filepath.Join(dir, name))
	}
	if err != nil {
		return errors.Join(err, root.Remove(temp))
	}
	return syncFolder(root, dir)
}

// temporary makes a file of a new name.
func temporary(root *os.Root, dir string) (string, *os.File, error) {
	for n := 0; ; n++ {
		name := filepath.Join(dir, ".fettle-"+Drawn(8))
		out, err := root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if !errors.Is(err, fs.ErrExist) || n > 100 {
			return name, out, err
		}
	}
}

// syncFolder makes a name that was given safe. Systems that cannot do it do it by themselves.
func syncFolder(root *os.Root, dir string) error {
	d, err := root.Open(dir)
	if err != nil {
		return err
	}
	if err := d.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, fs.ErrInvalid) && !errors.Is(err, fs.ErrPermission) {
		return errors.Join(err, d.Close())
	}
	return d.Close()
}

// Drawn is so many bytes drawn at random, in hexadecimal.
func Drawn(bytes int) string {
	b := make([]byte, bytes)
	rand.Read(b) // never fails: crypto/rand ends the program where it cannot draw
	return hex.EncodeToString(b)
}
