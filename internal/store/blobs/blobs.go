// Package blobs keeps bytes by their SHA-256: in a folder, in an S3-compatible store, or in memory. Bytes are
// written to a temporary file while they are hashed, and have their hash as a name only once all of them are safe.
// Whoever notes a hash somewhere does so after Put, Seal or Claim returned, and within a day of it: bytes that nothing
// refers to are marked, and removed only when their mark is a day old.
package blobs

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"regexp"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// Limits. None of them says how many bytes something may have: whoever puts it does.
const (
	// Grace is how old the mark of bytes that nothing refers to has to be before they are removed, and how
	// old a file that was left behind.
	Grace = 24 * time.Hour
	// UploadLife is how long an upload may take.
	UploadLife = 7 * 24 * time.Hour
	// MaxUploads is how many uploads may be under way.
	MaxUploads = 1000
	// MaxPiece is how many bytes a piece of an upload may have.
	MaxPiece = 64 << 20
	// MaxPieces is how many pieces of an upload are kept.
	MaxPieces = 10_000

	copyBuffer = 128 << 10
	// removalTime is how long after it was begun a removal may still remove; staleRemoval when it is taken
	// for broken off. What lies between is for clocks that differ.
	removalTime  = time.Minute
	staleRemoval = 10 * time.Minute
	removalWait  = 5 * time.Second // how long Put waits for a removal
	removalPause = 20 * time.Millisecond
)

// Store keeps bytes by their SHA-256. It may be used by many goroutines, and by several programs at once.
type Store struct {
	spool  opener // where bytes are gathered
	kept   keeper // where they lie
	now    func() time.Time
	synced bool          // what is gathered has to be safe, because it only gets another name
	wait   time.Duration // for a removal by somebody else
	pause  time.Duration // between looks for it
}

// opener opens a folder; its error is fs.ErrNotExist where the folder is not there and is not to be made.
type opener func(make bool) (safefile.Dir, error)

// kind is what a thing is that is kept under the name of a hash.
type kind string

const (
	content kind = "blobs"    // the bytes
	mark    kind = "marks"    // nothing referred to them when it was made
	removal kind = "removals" // they are being removed
)

// keeper keeps things by the names of hashes. What is asked of it is safe when it returns.
type keeper interface {
	// put keeps the bytes that were gathered. Where their name is given already it is not an error; it need not
	// send them then, unless it is to replace what is there.
	put(ctx context.Context, st *staged, replace bool) error
	// open reads bytes from an offset: so many, or all for -1. Size is that of all bytes.
	open(ctx context.Context, hash string, offset, length int64) (r io.ReadCloser, size int64, err error)
	// look looks for bytes; an error of kind diag.NotFound where there are none.
	look(ctx context.Context, hash string) (thing, error)
	// settle makes safe what look has seen.
	settle(ctx context.Context) error
	// make makes a mark or removal, with the time, unless there is one.
	make(ctx context.Context, k kind, hash string, at time.Time) (made bool, err error)
	// since is the time with which a mark or removal was made; an error of kind diag.NotFound where there is none.
	since(ctx context.Context, k kind, hash string) (time.Time, error)
	// remove takes a thing away; there may be none.
	remove(ctx context.Context, k kind, hash string) error
	// each does something with all things of a kind.
	each(ctx context.Context, k kind, f func(thing) error) error
	// tidy takes away what was begun before a moment and never came to its end.
	tidy(ctx context.Context, before time.Time) (int, error)
}

// thing is what is kept under a hash.
type thing struct {
	hash string
	size int64
}

// maxNote is how many bytes the note of a time has at most.
const maxNote = 64

// note is a time as it is noted in a mark or removal.
func note(at time.Time) []byte { return []byte(at.UTC().Format(time.RFC3339)) }

// noted is the time of a note; of one that was not written whole, the time when it was tried.
func noted(note []byte, written time.Time) time.Time {
	if at, err := time.Parse(time.RFC3339, string(note)); err == nil {
		return at
	}
	return written
}

var hashForm = regexp.MustCompile(`^[0-9a-f]{64}$`)

// IsHash says that a text is a SHA-256 as it is written here: sixty-four small hexadecimal digits.
func IsHash(s string) bool { return hashForm.MatchString(s) }

// NothingKept is the error for a hash that nothing is kept under.
func NothingKept(hash string) error {
	return &diag.Error{Kind: diag.NotFound, Op: "store", Subject: hash, Msg: "nothing is kept under this hash"}
}

// NotThose is the error for a hash under which other bytes are kept.
func NotThose(hash string) error {
	return &diag.Error{Kind: diag.Integrity, Op: "store", Subject: hash, Msg: "what is kept under this hash is not what was put there", Hint: "bring it back from a backup"}
}

// TooLarge is the error for more bytes than may be put.
func TooLarge(most int64) error {
	return &diag.Error{Kind: diag.Denied, Op: "store", Subject: "put", Msg: fmt.Sprintf("there are more than %d bytes", most), Hint: "save it smaller"}
}

// staged is a temporary file of bytes whose hash is known.
type staged struct {
	dir   safefile.Dir
	name  string
	hash  string
	size  int64
	moved bool // it has another name now
}

// stage gathers bytes in a temporary file in a folder, and makes them safe there if it is to.
func stage(ctx context.Context, d safefile.Dir, dir string, safe bool, r io.Reader, most int64) (*staged, error) {
	name, out, err := safefile.Temporary(d, dir)
	if err != nil {
		return nil, safefile.Unusable("a temporary file", err)
	}
	sum, size, err := copyHashed(ctx, out, r, most)
	if err == nil && safe {
		err = unusable(out.Sync())
	}
	if err = errors.Join(err, unusable(out.Close())); err != nil {
		return nil, errors.Join(err, unusable(d.Remove(name)))
	}
	return &staged{dir: d, name: name, hash: sum, size: size}, nil
}

// drop takes the temporary file away, unless it has become something else.
func (st *staged) drop() error {
	if st.moved {
		return nil
	}
	return unusable(st.dir.Remove(st.name))
}

func unusable(err error) error {
	if err == nil {
		return nil
	}
	return safefile.Unusable("the folder of files", err)
}

// copyHashed copies at most so many bytes and hashes them, in a buffer whose size does not depend on theirs. An
// error of the reader is returned as it is.
func copyHashed(ctx context.Context, to io.Writer, from io.Reader, most int64) (sum string, size int64, err error) {
	h := sha256.New()
	buffer := make([]byte, copyBuffer)
	for {
		if err := ctx.Err(); err != nil {
			return "", 0, err
		}
		n, end := from.Read(buffer)
		if size += int64(n); size > most {
			return "", 0, TooLarge(most)
		}
		h.Write(buffer[:n]) // a hash takes all
		if written, err := to.Write(buffer[:n]); err != nil {
			return "", 0, unusable(err)
		} else if written != n {
			return "", 0, unusable(io.ErrShortWrite)
		}
		if end == io.EOF {
			return hex.EncodeToString(h.Sum(nil)), size, nil
		}
		if end != nil {
			return "", 0, end
		}
	}
}

// Put keeps what is read, of at most so many bytes; it returns once they are safe.
func (s *Store) Put(ctx context.Context, r io.Reader, most int64) (hash string, size int64, err error) {
	err = s.gathered(ctx, r, most, func(st *staged) error {
		hash, size = st.hash, st.size
		return s.keep(ctx, st, false)
	})
	if err != nil {
		return "", 0, err
	}
	return hash, size, nil
}

// Mend keeps what is read in the place of what is kept under a hash, whatever that is: after a scrub has named it, from a
// backup. Bytes that are not those of the hash are refused.
func (s *Store) Mend(ctx context.Context, hash string, r io.Reader, most int64) error {
	return s.gathered(ctx, r, most, func(st *staged) error {
		if st.hash != hash {
			return errors.Join(&diag.Error{Kind: diag.Integrity, Op: "store", Subject: hash, Msg: "the bytes that were to mend it have the hash " + st.hash, Hint: "take another backup"}, st.drop())
		}
		return s.keep(ctx, st, true)
	})
}

// gathered does something with bytes in a temporary file.
func (s *Store) gathered(ctx context.Context, r io.Reader, most int64, do func(*staged) error) (err error) {
	d, err := s.spool(true)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unusable(d.Close())) }()
	st, err := stage(ctx, d, ".", s.synced, r, most)
	if err != nil {
		return err
	}
	return do(st)
}

// keep keeps what was gathered. A removal of the same bytes that is under way is waited for before they are put,
// and no other one can begin before they have been there for a day: the mark that it needs is gone.
func (s *Store) keep(ctx context.Context, st *staged, replace bool) (err error) {
	defer func() { err = errors.Join(err, st.drop()) }()
	if err := s.release(ctx, st.hash); err != nil {
		return err
	}
	if err := s.kept.put(ctx, st, replace); err != nil {
		return err
	}
	return s.kept.remove(ctx, mark, st.hash) // the day begins now
}

// release takes the mark off bytes and waits until nobody removes them.
func (s *Store) release(ctx context.Context, hash string) error {
	for began := time.Now(); ; {
		if err := s.kept.remove(ctx, mark, hash); err != nil {
			return err
		}
		at, err := s.kept.since(ctx, removal, hash)
		switch {
		case diag.KindOf(err) == diag.NotFound:
			return nil
		case err != nil:
			return err
		case s.now().Sub(at) >= staleRemoval:
			if err := s.kept.remove(ctx, removal, hash); err != nil {
				return err
			}
			continue
		case time.Since(began) > s.wait:
			return &diag.Error{Kind: diag.Unavailable, Op: "store", Subject: hash, Msg: "bytes that were kept under this hash are being removed at this moment", Hint: "try again in some minutes"}
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(s.pause):
		}
	}
}

// Claim says that bytes are kept, how many, and that they stay for a day even if nothing refers to them. Whoever
// notes a hash that was not put just now claims it before.
func (s *Store) Claim(ctx context.Context, hash string) (size int64, err error) {
	if !IsHash(hash) {
		return 0, NothingKept(hash)
	}
	if err := errors.Join(ctx.Err(), s.release(ctx, hash)); err != nil {
		return 0, err
	}
	if size, err = s.Size(ctx, hash); err == nil {
		err = s.kept.settle(ctx)
	}
	return size, err
}

// Retain is Claim, by the name that all makers of stores have it under.
func (s *Store) Retain(ctx context.Context, hash string) (size int64, err error) {
	return s.Claim(ctx, hash)
}

// Size is how many bytes are kept under a hash; it does not read them.
func (s *Store) Size(ctx context.Context, hash string) (int64, error) {
	if !IsHash(hash) {
		return 0, NothingKept(hash)
	}
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	of, err := s.kept.look(ctx, hash)
	return of.size, err
}

// Get is the bytes of a hash and how many they are. Reading them to the end fails when they are not
// those any more.
func (s *Store) Get(ctx context.Context, hash string) (io.ReadCloser, int64, error) {
	if !IsHash(hash) {
		return nil, 0, NothingKept(hash)
	}
	if err := ctx.Err(); err != nil {
		return nil, 0, err
	}
	r, size, err := s.kept.open(ctx, hash, 0, -1)
	if err != nil {
		return nil, 0, err
	}
	return &checked{ReadCloser: r, sum: sha256.New(), want: hash}, size, nil
}

// Range is a part of the bytes of a hash: so many from an offset, or those there are, and how many that is. A part
// cannot be held against the hash.
func (s *Store) Range(ctx context.Context, hash string, offset, length int64) (io.ReadCloser, int64, error) {
	if offset < 0 || length < 0 {
		return nil, 0, &diag.Error{Kind: diag.Invalid, Op: "store", Subject: hash, Msg: fmt.Sprintf("%d bytes from offset %d are no part", length, offset)}
	}
	size, err := s.Size(ctx, hash)
	if err != nil {
		return nil, 0, err
	}
	if offset > size {
		return nil, 0, &diag.Error{Kind: diag.Invalid, Op: "store", Subject: hash, Msg: fmt.Sprintf("offset %d lies beyond its %d bytes", offset, size)}
	}
	if length = min(length, size-offset); length == 0 {
		return io.NopCloser(nothing{}), 0, nil
	}
	r, _, err := s.kept.open(ctx, hash, offset, length)
	if err != nil {
		return nil, 0, err
	}
	return &whole{ReadCloser: r, hash: hash, left: length}, length, nil
}

// Each does something with the hash and the size of all bytes that are kept, in no order.
func (s *Store) Each(ctx context.Context, f func(hash string, size int64) error) error {
	return s.kept.each(ctx, content, func(t thing) error { return f(t.hash, t.size) })
}

// nothing is no bytes.
type nothing struct{}

func (nothing) Read([]byte) (int, error) { return 0, io.EOF }

// checked reads to the end and says then whether the bytes are those of the hash.
type checked struct {
	io.ReadCloser
	sum  hash.Hash
	want string
}

func (c *checked) Read(p []byte) (int, error) {
	n, err := c.ReadCloser.Read(p)
	c.sum.Write(p[:n]) // a hash takes all
	if err == io.EOF && hex.EncodeToString(c.sum.Sum(nil)) != c.want {
		return n, NotThose(c.want)
	}
	return n, err
}

// whole reads as many bytes as there have to be.
type whole struct {
	io.ReadCloser
	hash string
	left int64
}

func (w *whole) Read(p []byte) (int, error) {
	n, err := w.ReadCloser.Read(p)
	if w.left -= int64(n); err == io.EOF && w.left != 0 {
		return n, NotThose(w.hash)
	}
	return n, err
}
