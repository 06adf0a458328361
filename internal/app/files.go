package app

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/photo"
	"fettle/internal/unit"
)

// Files is how the service reads what people wrote. Paths use slashes.
//
// A job or a body may come from anybody. So a file of it is named by its folder
// and a name inside, and is reached beneath that folder only, whatever the name
// says and whatever links lie there.
type Files interface {
	// Copy hands the content of a file to a writer and says how many bytes it
	// has. The file has to be a regular one of at most so many bytes; the error
	// is *TooLarge or *NotAFile when it is not. With a folder given the file lies
	// beneath it, or the error is *NotAFile; without one it is a file that the
	// person who runs the program named, and may lie anywhere.
	Copy(dir, name string, most int64, to io.Writer) (int64, error)
	// List is everything below a folder that is not a folder, as slash paths
	// relative to it, links and devices among them: Copy says what they are.
	List(dir string) ([]string, error)
	// IsDir says that the path is a folder.
	IsDir(path string) bool
	// Exists says that there is something at the path.
	Exists(path string) bool
	// Real is where a path lies when all links in it are followed.
	Real(path string) (string, error)
}

// TooLarge says that a file has more bytes than are read of its kind.
type TooLarge struct {
	Bytes int64 // at least so many
	Most  int64
}

func (e *TooLarge) Error() string {
	return fmt.Sprintf("has %s; at most %s are read", byteCount(e.Bytes), byteCount(e.Most))
}

// NotAFile says what lies where a regular file of a folder is expected.
type NotAFile struct {
	What string // for example "is a link out of the folder"
}

func (e *NotAFile) Error() string { return e.What }

// TooMany says that a folder holds more files than are listed.
type TooMany struct{ Most int }

func (e *TooMany) Error() string {
	return fmt.Sprintf("holds more than %d files", e.Most)
}

// fileKind is a kind of file with the most bytes that are read of one. The
// limits protect the machine, not the trade: each is far above what such a file
// has (docs/formats).
type fileKind struct {
	what string
	most int64
}

var (
	aDocument = fileKind{"a document or table", doc.MaxBytes}
	aMesh     = fileKind{"a mesh", 256 << 20}
	evidence  = fileKind{"a piece of evidence", MostBytes}
	aReply    = fileKind{"the document of an answer", 64 << 20}
	anyOther  = fileKind{"another file of a body", 64 << 20}
	aPicture  = fileKind{"a picture", int64(photo.Usual.Bytes)}
)

// MaxDocument is how many bytes a document or table has at most.
const MaxDocument = int64(doc.MaxBytes)

// Limits on the files of a folder together.
const (
	maxBodyFiles     = 10_000
	maxBodyBytes     = 1 << 30
	maxEvidenceBytes = 8 << 30
)

// read is the content of a file beneath a folder; with no folder, of one that
// the person who runs the program named.
func (a *App) read(dir, name string, k fileKind, hint string) ([]byte, error) {
	var b bytes.Buffer
	if _, err := a.files.Copy(dir, name, k.most, &b); err != nil {
		return nil, notRead(path.Join(dir, name), k, err, hint)
	}
	return b.Bytes(), nil
}

// sum is the SHA-256 of a file beneath a folder and its size; the file is
// streamed, so that a large one takes no memory.
func (a *App) sum(dir, name string, k fileKind) (string, int64, error) {
	h := sha256.New()
	n, err := a.files.Copy(dir, name, k.most, h)
	return hex.EncodeToString(h.Sum(nil)), n, err
}

// notRead is the error for a file that could not be, or may not be, read.
func notRead(p string, k fileKind, err error, hint string) error {
	if msg, better := refusedFile(k, err); msg != "" {
		return &diag.Error{Kind: diag.Denied, Op: "read", Subject: p, Msg: msg, Hint: better}
	}
	return &diag.Error{Kind: diag.NotFound, Op: "read", Subject: p, Msg: "cannot be read", Hint: hint, Err: err}
}

// refusedFile is why a file is not read though it is there, and what would be
// right; empty for any other error.
func refusedFile(k fileKind, err error) (msg, hint string) {
	var large *TooLarge
	var odd *NotAFile
	var many *TooMany
	switch {
	case errors.As(err, &many):
		return many.Error(), "give the folder of one job, body or shop"
	case errors.As(err, &large):
		return fmt.Sprintf("has %s; %s has %s at most", byteCount(large.Bytes), k.what, byteCount(k.most)), "save it smaller"
	case errors.As(err, &odd):
		return odd.What, "put the file itself into the folder"
	}
	return "", ""
}

func missing(err error) bool { return errors.Is(err, fs.ErrNotExist) }

// byteCount is a number of bytes as people say it.
func byteCount(n int64) string {
	for _, u := range []struct {
		size int64
		name string
	}{{1 << 30, "GB"}, {1 << 20, "MB"}, {1 << 10, "kB"}} {
		switch {
		case n >= u.size && n%u.size == 0:
			return fmt.Sprintf("%d %s", n/u.size, u.name)
		case n >= u.size:
			return fmt.Sprintf("%.1f %s", float64(n)/float64(u.size), u.name)
		}
	}
	return unit.Count(int(n), "byte")
}

// readFolder reads the files of a body folder. Of all of them, because the hash
// of a body is of all of them.
func (a *App) readFolder(dir string) (map[string][]byte, error) {
	names, err := a.files.List(dir)
	if err != nil {
		return nil, notRead(dir, anyOther, err, "check the path")
	}
	if len(names) > maxBodyFiles {
		return nil, &diag.Error{Kind: diag.Denied, Op: "read", Subject: dir, Msg: fmt.Sprintf("holds %d files; a body has %d at most", len(names), maxBodyFiles), Hint: "keep nothing but the body in its folder"}
	}
	files := map[string][]byte{}
	var problems diag.Problems
	folded := map[string]string{}
	sum := int64(0)
	for _, n := range names {
		if twin, ok := folded[strings.ToLower(n)]; ok {
			problems = append(problems, diag.Problem{File: path.Join(dir, n), Msg: "differs from " + twin + " only in small and capital letters", Hint: "many computers take the two for one file: rename one"})
			continue
		}
		folded[strings.ToLower(n)] = n
		data, err := a.read(dir, n, kindOf(n), "check that the file may be read")
		if problems, err = gather(problems, err); err != nil {
			return nil, err
		}
		if sum += int64(len(data)); sum > maxBodyBytes {
			return nil, &diag.Error{Kind: diag.Denied, Op: "read", Subject: dir, Msg: fmt.Sprintf("its files have more than %s together", byteCount(maxBodyBytes)), Hint: "keep nothing but the body in its folder"}
		}
		files[n] = data
	}
	problems.Sort()
	return files, problems.OrNil()
}

// kindOf is the kind of a file of a body by the ending of its name.
func kindOf(name string) fileKind {
	switch strings.ToLower(path.Ext(name)) {
	case ".yaml", ".csv", ".json":
		return aDocument
	case ".stl", ".ply", ".obj", ".glb":
		return aMesh
	}
	return anyOther
}
