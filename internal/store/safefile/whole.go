package safefile

import (
	"errors"
	"io"
	"io/fs"
	"path"
	"strings"
)

// temporaryPrefix begins the names of files that are being written.
const temporaryPrefix = ".fettle-"

// IsTemporary says of the name of a file, without its folder, that it was given by Temporary.
func IsTemporary(name string) bool { return strings.HasPrefix(name, temporaryPrefix) }

// WriteWhole puts a file into a folder beneath a root whole or not at all: what is written goes into
// a temporary file beside it, which is safe before it gets the name that write gives it, in the place of
// what had that name. A name that was given is safe too when it returns.
func WriteWhole(d Dir, dir string, write func(io.Writer) (name string, err error)) error {
	temp, out, err := Temporary(d, dir)
	if err != nil {
		return err
	}
	name, err := write(out)
	if err == nil {
		err = out.Sync()
	}
	if err = errors.Join(err, out.Close()); err == nil {
		err = d.Rename(temp, path.Join(dir, name))
	}
	if err != nil {
		return errors.Join(err, d.Remove(temp))
	}
	return d.SyncDir(dir)
}

// Temporary makes a file of a new name in a folder.
func Temporary(d Dir, dir string) (string, File, error) {
	for n := 0; ; n++ {
		name := path.Join(dir, temporaryPrefix+Drawn(8))
		out, err := d.Create(name)
		if !errors.Is(err, fs.ErrExist) || n > 100 {
			return name, out, err
		}
	}
}
