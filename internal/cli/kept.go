package cli

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// kept is the cache of package app on disk: a file for each folder of a job, in
// a folder of the user's own. Everything in it may be deleted at any time.
type kept struct {
	root    string // empty: nothing is kept
	version string
	program string
	asked   bool
	err     error // the first trouble
}

// CacheOff is the word that keeps nothing.
const CacheOff = "off"

// DefaultCache is the folder for what is kept: the one given, or one of the
// user's cache folder; empty when nothing is to be kept or there is no such
// folder.
func DefaultCache(given string) string {
	switch given {
	case CacheOff:
		return ""
	case "":
		dir, err := os.UserCacheDir()
		if err != nil {
			return "" // a user without a home keeps nothing
		}
		return filepath.Join(dir, "fettle")
	}
	return given
}

// Program is the version and the hash of the program's own file.
func (k *kept) Program() string {
	if k.asked || k.root == "" {
		return k.program
	}
	k.asked = true
	hash, err := ownHash()
	if err != nil {
		k.Failed(err)
		return ""
	}
	k.program = k.version + " " + hash
	return k.program
}

func hashOfFile(name string) (string, error) {
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	_, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), errors.Join(err, f.Close())
}

// file is where the entry of a folder lies.
func (k *kept) file(dir string) (string, error) {
	full, err := filepath.Abs(filepath.FromSlash(dir))
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256([]byte(full))
	name := hex.EncodeToString(sum[:])
	return filepath.Join(k.root, "jobs", name[:2], name), nil
}

// maxKept is the most that is read of an entry: one has some kB.
const maxKept = 64 << 20

// Get is the entry of a folder; nil when there is none.
func (k *kept) Get(dir string) []byte {
	name, err := k.file(dir)
	if err == nil {
		var data bytes.Buffer
		if _, err = (disk{}).Copy("", name, maxKept, &data); err == nil {
			return data.Bytes()
		}
	}
	if !errors.Is(err, fs.ErrNotExist) {
		k.Failed(err)
	}
	return nil
}

// Put writes the entry of a folder whole or not at all. Only the user may read
// or write it.
func (k *kept) Put(dir string, data []byte) {
	name, err := k.file(dir)
	if err == nil {
		err = os.MkdirAll(filepath.Dir(name), 0o700)
	}
	if err == nil {
		err = putFile(name, data)
	}
	if err != nil {
		k.Failed(err)
	}
}

// putFile writes beside the file and renames. It does not wait for the disk: a
// file that is cut off is found out by its checksum.
func putFile(name string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(name), ".new-*")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}

// Failed remembers the first trouble.
func (k *kept) Failed(err error) {
	if k.err == nil {
		k.err = err
	}
}

// tell says that something could not be kept: a note, no failure.
func (k *kept) tell(w io.Writer) {
	if k.err != nil {
		fmt.Fprintf(w, "note: what was found out could not be kept for a later replay: %v\n", k.err)
	}
}
