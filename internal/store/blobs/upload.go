package blobs

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// Upload is bytes that come in pieces. Pieces may come in any order, twice, and overlap; each is kept whole or
// not at all, so that what the sender is told is there stays there.
type Upload struct {
	ID     string    `json:"-"`
	SHA256 string    `json:"sha256"` // of all bytes, as the sender announced it
	Size   int64     `json:"size"`   // likewise
	Sealed bool      `json:"sealed"` // all bytes are kept by their hash
	Ends   time.Time `json:"ends"`   // when it is given up
	Note   string    `json:"note"`   // of whoever began it, to whom alone it says something
	Have   int64     `json:"-"`      // so many are there from the first on: go on from here

	pieces []piece // in the order of their offsets
	over   bool    // it was given up
}

// piece is a part of an upload that is there.
type piece struct{ offset, length int64 }

const (
	uploadFile  = "upload.json"
	piecePrefix = "piece-"
	mostNote    = 8 << 10            // bytes of a note
	mostUpload  = 6*mostNote + 1<<10 // bytes of the file that has it; JSON writes a byte in six at most
)

func (p piece) name() string  { return fmt.Sprintf("%s%d-%d", piecePrefix, p.offset, p.length) }
func (u *Upload) dir() string { return path.Join(uploadsDir, u.ID) }

var uploadForm = regexp.MustCompile(`^[0-9a-f]{32}$`)

func noUpload(id string) error {
	return &diag.Error{Kind: diag.NotFound, Op: "upload", Subject: id, Msg: "there is no such upload, or it took too long and was given up", Hint: "begin it anew"}
}

// Begin begins an upload of so many bytes of a hash, at most most.
func (s *Store) Begin(ctx context.Context, hash string, size, most int64) (Upload, error) {
	return s.BeginAs(ctx, safefile.Drawn(16), "", hash, size, most)
}

// BeginAs is Begin under an id of one's choice, thirty-two hexadecimal digits, and with a note. Begun twice with the same
// it is the same upload; with other bytes or another note it is a diag.Conflict.
func (s *Store) BeginAs(ctx context.Context, id, note, hash string, size, most int64) (_ Upload, err error) {
	switch {
	case !uploadForm.MatchString(id) || len(note) > mostNote:
		return Upload{}, &diag.Error{Kind: diag.Invalid, Op: "upload", Subject: id, Msg: fmt.Sprintf("an upload has an id of thirty-two hexadecimal digits, and a note of at most %d bytes", mostNote)}
	case !IsHash(hash) || size < 0:
		return Upload{}, &diag.Error{Kind: diag.Invalid, Op: "upload", Subject: hash, Msg: "an upload announces the SHA-256 and the number of its bytes", Hint: "give sixty-four hexadecimal digits and the size"}
	case size > most:
		return Upload{}, TooLarge(most)
	case ctx.Err() != nil:
		return Upload{}, ctx.Err()
	}
	d, err := s.spool(true)
	if err != nil {
		return Upload{}, err
	}
	defer func() { err = errors.Join(err, unusable(d.Close())) }()
	want := Upload{ID: id, SHA256: hash, Size: size, Ends: s.now().Add(UploadLife).UTC(), Note: note}
	is, err := s.readUpload(d, id)
	if diag.KindOf(err) == diag.NotFound {
		if is.over {
			err = removeFolder(d, want.dir())
		} else {
			err = nil
		}
		if err == nil {
			err = s.beginIn(d, &want)
		}
		if err != nil {
			return Upload{}, told(id, err)
		}
		is, err = s.readUpload(d, id)
	}
	if err == nil && (is.SHA256 != hash || is.Size != size || is.Note != note) {
		err = &diag.Error{Kind: diag.Conflict, Op: "upload", Subject: id, Msg: "an upload of something else was begun under this id", Hint: "begin it under another one"}
	}
	if err != nil {
		return Upload{}, err
	}
	return is, nil
}

func (s *Store) beginIn(d safefile.Dir, u *Upload) error {
	if err := safefile.MakeDir(d, uploadsDir); err != nil {
		return err
	}
	n := 0
	if err := d.Each(uploadsDir, func(fs.FileInfo) error { n++; return nil }); err != nil {
		return err
	}
	if n >= MaxUploads {
		return &diag.Error{Kind: diag.Unavailable, Op: "upload", Subject: u.ID, Msg: fmt.Sprintf("%d uploads are under way, and more are not taken", n), Hint: "finish some; those that are left are given up after a week"}
	}
	if err := d.Mkdir(u.dir()); err != nil && !errors.Is(err, fs.ErrExist) { // begun, and broken off before it was noted; or at this moment
		return err
	}
	if err := writeUpload(d, u); err != nil {
		return err
	}
	return d.SyncDir(uploadsDir)
}

func writeUpload(d safefile.Dir, u *Upload) error {
	data, err := json.Marshal(u)
	if err != nil {
		return err
	}
	return safefile.WriteWhole(d, u.dir(), func(w io.Writer) (string, error) {
		_, err := w.Write(data)
		return uploadFile, err
	})
}

// readUpload is an upload and what is there of it.
func (s *Store) readUpload(d safefile.Dir, id string) (u Upload, err error) {
	if !uploadForm.MatchString(id) {
		return u, noUpload(id)
	}
	u.ID = id
	file, err := d.Open(path.Join(u.dir(), uploadFile), mostUpload)
	if errors.Is(err, fs.ErrNotExist) {
		return Upload{}, noUpload(id)
	}
	if err != nil {
		return Upload{}, told(id, err)
	}
	data, err := io.ReadAll(io.LimitReader(file, mostUpload))
	if err = errors.Join(err, file.Close()); err == nil {
		if json.Unmarshal(data, &u) != nil || !IsHash(u.SHA256) || u.Size < 0 {
			return Upload{ID: id, over: true}, noUpload(id) // damaged: it is begun anew
		}
	}
	if err != nil {
		return Upload{}, safefile.Unusable(id, err)
	}
	if !s.now().Before(u.Ends) {
		return Upload{ID: id, over: true}, noUpload(id)
	}
	if u.Sealed {
		u.Have = u.Size
		return u, nil
	}
	return u, u.gather(d)
}

// gather looks which pieces are there.
func (u *Upload) gather(d safefile.Dir) error {
	err := d.Each(u.dir(), func(fi fs.FileInfo) error {
		var p piece
		if n, err := fmt.Sscanf(fi.Name(), piecePrefix+"%d-%d", &p.offset, &p.length); err == nil && n == 2 && p.name() == fi.Name() && p.length == fi.Size() {
			u.pieces = append(u.pieces, p)
		}
		return nil
	})
	slices.SortFunc(u.pieces, func(a, b piece) int {
		return cmp.Or(cmp.Compare(a.offset, b.offset), cmp.Compare(a.length, b.length))
	})
	for _, p := range u.pieces {
		if p.offset <= u.Have {
			u.Have = max(u.Have, p.offset+p.length)
		}
	}
	return told(u.ID, err)
}

// UploadOf is how far an upload is.
func (s *Store) UploadOf(ctx context.Context, id string) (u Upload, err error) {
	err = s.inUpload(ctx, id, func(_ safefile.Dir, is Upload) error { u = is; return nil })
	return u, err
}

// inUpload does something with an upload.
func (s *Store) inUpload(ctx context.Context, id string, do func(safefile.Dir, Upload) error) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	d, err := s.spool(false)
	if errors.Is(err, fs.ErrNotExist) {
		return noUpload(id)
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unusable(d.Close())) }()
	u, err := s.readUpload(d, id)
	if err != nil {
		return err
	}
	return do(d, u)
}

// Send adds a piece to an upload, from an offset to where the reader ends. It says how far the upload is. One
// whose reader breaks off is not there.
func (s *Store) Send(ctx context.Context, id string, offset int64, r io.Reader) (after Upload, err error) {
	err = s.inUpload(ctx, id, func(d safefile.Dir, u Upload) error {
		if after = u; u.Sealed {
			return nil // the sender has not heard of it
		}
		if offset < 0 || offset > u.Size {
			return &diag.Error{Kind: diag.Invalid, Op: "upload", Subject: id, Msg: fmt.Sprintf("a piece at %d does not lie in %d bytes", offset, u.Size), Hint: fmt.Sprintf("go on at %d", u.Have)}
		}
		if err := u.add(ctx, d, offset, r); err != nil {
			return err
		}
		after, err = s.readUpload(d, id)
		return err
	})
	return after, err
}

// add keeps of a piece what is not there yet.
func (u *Upload) add(ctx context.Context, d safefile.Dir, offset int64, r io.Reader) (err error) {
	var ahead int64 // bytes behind a gap
	for _, other := range u.pieces {
		if other.offset > u.Have {
			ahead += other.length
		}
	}
	most := min(MaxPiece, u.Size-offset)
	there := max(0, min(u.Have-offset, most))
	if _, n, err := copyHashed(ctx, io.Discard, io.LimitReader(r, there), there); err != nil || n < there {
		return err
	}
	p := piece{offset: offset + there}
	st, err := stage(ctx, d, u.dir(), true, r, most-there)
	if diag.KindOf(err) == diag.Denied {
		return &diag.Error{Kind: diag.Denied, Op: "upload", Subject: u.ID, Msg: fmt.Sprintf("a piece at %d has at most %d bytes", offset, most), Hint: "send smaller ones"}
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.drop()) }()
	switch p.length = st.size; {
	case p.length == 0 || slices.Contains(u.pieces, p):
		return nil
	case len(u.pieces) >= MaxPieces || p.offset > u.Have && ahead+p.length > u.Size:
		return &diag.Error{Kind: diag.Denied, Op: "upload", Subject: u.ID, Msg: "its pieces are too many, or overlap too much", Hint: fmt.Sprintf("send larger ones, on from %d", u.Have)}
	}
	if err := d.Rename(st.name, path.Join(u.dir(), p.name())); err != nil {
		return safefile.Unusable(u.ID, err)
	}
	st.moved = true
	return unusable(d.SyncDir(u.dir()))
}

// Seal keeps the bytes of an upload by their hash, if all are there and are those that were announced. Sealed
// twice it is the same answer. If they are others the upload is over: which piece is wrong cannot be known.
func (s *Store) Seal(ctx context.Context, id string) (hash string, size int64, err error) {
	err = s.inUpload(ctx, id, func(d safefile.Dir, u Upload) error {
		hash, size = u.SHA256, u.Size
		if !u.Sealed {
			if err := s.seal(ctx, d, u); err != nil {
				again, other := s.readUpload(d, id) // somebody else may have sealed it meanwhile
				if other != nil || !again.Sealed {
					return err
				}
			}
		}
		_, err := s.Claim(ctx, u.SHA256)
		return err
	})
	if err != nil {
		return "", 0, err
	}
	return hash, size, nil
}

func (s *Store) seal(ctx context.Context, d safefile.Dir, u Upload) error {
	if u.Have != u.Size {
		return &diag.Error{Kind: diag.Conflict, Op: "upload", Subject: u.ID, Msg: fmt.Sprintf("only %d of its %d bytes are there", u.Have, u.Size), Hint: fmt.Sprintf("go on at %d", u.Have)}
	}
	r := &joined{d: d, u: u}
	st, err := stage(ctx, d, ".", s.synced, r, u.Size)
	if err = errors.Join(err, r.Close()); err != nil {
		return told(u.ID, err)
	}
	if st.hash != u.SHA256 {
		err := &diag.Error{Kind: diag.Integrity, Op: "upload", Subject: u.ID, Msg: fmt.Sprintf("its bytes have the hash %s, and %s was announced; nothing was kept", st.hash, u.SHA256), Hint: "begin it anew"}
		return errors.Join(err, st.drop(), unusable(removeFolder(d, u.dir())))
	}
	if err := s.keep(ctx, st, false); err != nil {
		return err
	}
	u.Sealed = true
	if err := writeUpload(d, &u); err != nil {
		return told(u.ID, err)
	}
	for _, p := range u.pieces {
		if err := gone(d.Remove(path.Join(u.dir(), p.name()))); err != nil {
			return told(u.ID, err)
		}
	}
	return nil
}

// EachUpload does something with every upload that is not over, in no order.
func (s *Store) EachUpload(ctx context.Context, do func(Upload) error) (err error) {
	d, err := s.spool(false)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unusable(d.Close())) }()
	var own error // of do, to be told as it is
	err = d.Each(uploadsDir, func(fi fs.FileInfo) error {
		if own = ctx.Err(); own != nil {
			return own
		}
		u, err := s.readUpload(d, fi.Name())
		if diag.KindOf(err) == diag.NotFound {
			return nil
		}
		if own = err; err == nil {
			own = do(u)
		}
		return own
	})
	if own != nil || errors.Is(err, fs.ErrNotExist) {
		return own
	}
	return told("uploads", err)
}

// UploadHead is the first bytes of an upload, as many of them as are there, so many at most.
func (s *Store) UploadHead(ctx context.Context, id string, most int64) (head []byte, err error) {
	err = s.inUpload(ctx, id, func(d safefile.Dir, u Upload) error {
		var r io.ReadCloser = &joined{d: d, u: u}
		if u.Sealed {
			if r, _, err = s.kept.open(ctx, u.SHA256, 0, -1); err != nil {
				return err
			}
		}
		head, err = io.ReadAll(io.LimitReader(r, most))
		return told(id, errors.Join(err, r.Close()))
	})
	return head, err
}

// GiveUp ends an upload before its time: what is there of it is removed. Bytes that it has sealed stay as any others
// do. Given up twice, or when there is none, it is no error.
func (s *Store) GiveUp(ctx context.Context, id string) error {
	err := s.inUpload(ctx, id, func(d safefile.Dir, u Upload) error {
		return told(id, removeFolder(d, u.dir()))
	})
	if diag.KindOf(err) == diag.NotFound {
		return nil
	}
	return err
}

// joined reads the pieces of an upload one after the other.
type joined struct {
	d    safefile.Dir
	u    Upload
	at   int64 // so many bytes were read
	next int   // piece
	file safefile.File
}

func (j *joined) Read(p []byte) (int, error) {
	for {
		if j.file == nil {
			if err := j.open(); err != nil {
				return 0, err
			}
		}
		n, err := j.file.Read(p)
		if j.at += int64(n); err != io.EOF {
			return n, err
		}
		err, j.file = j.file.Close(), nil
		if n > 0 || err != nil {
			return n, err
		}
	}
}

// open opens the next piece at the place that was read to.
func (j *joined) open() error {
	for ; j.next < len(j.u.pieces); j.next++ {
		p := j.u.pieces[j.next]
		if p.offset > j.at {
			break
		}
		if p.offset+p.length <= j.at {
			continue
		}
		file, err := j.d.Open(path.Join(j.u.dir(), p.name()), MaxPiece)
		if err != nil {
			return err
		}
		if _, err := file.Seek(j.at-p.offset, io.SeekStart); err != nil {
			return errors.Join(err, file.Close())
		}
		j.file = file
		j.next++
		return nil
	}
	return io.EOF
}

// Close closes the piece that is being read.
func (j *joined) Close() error {
	if j.file == nil {
		return nil
	}
	return unusable(j.file.Close())
}
