package blobs

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// Swept is what a sweep has found and done.
type Swept struct {
	Blobs   int   // hashes under which something is kept
	Marked  int   // of them marked now, because nothing refers to them
	Removed int   // of them removed, because nothing did for a day
	Bytes   int64 // of those that were removed
	Left    int   // files and uploads that were left behind, and are removed
}

// Sweep marks what nothing refers to, takes the mark off what something refers to again, and removes what was
// marked a day ago and is still not referred to. Referred has to answer with everything that is noted by now; an
// error of it ends the sweep. Several sweeps may run at once, and with everything else.
func (s *Store) Sweep(ctx context.Context, referred Asked) (Swept, error) {
	return s.SweepLetting(ctx, referred, referred)
}

// Asked says whether bytes have to stay.
type Asked func(ctx context.Context, hash string) (stay bool, err error)

// SweepLetting is Sweep for whoever has promised bytes: last is asked at the very last, once nobody can put or claim them any more, and
// takes back what was promised unless they have to stay.
func (s *Store) SweepLetting(ctx context.Context, referred, last Asked) (Swept, error) {
	var out Swept
	if err := s.excludes(ctx); err != nil {
		return out, err
	}
	err := s.kept.each(ctx, content, func(t thing) error {
		out.Blobs++
		is, err := referred(ctx, t.hash)
		if err != nil || is {
			return err
		}
		made, err := s.kept.make(ctx, mark, t.hash, s.now())
		if made {
			out.Marked++
		}
		return err
	})
	if err == nil {
		err = s.kept.each(ctx, mark, func(t thing) error { return s.marked(ctx, t, referred, last, &out) })
	}
	if err == nil {
		err = s.kept.each(ctx, removal, func(t thing) error { // broken off
			at, err := s.kept.since(ctx, removal, t.hash)
			if err != nil || s.now().Sub(at) < staleRemoval {
				return absentOr(err)
			}
			return s.kept.remove(ctx, removal, t.hash)
		})
	}
	if err == nil {
		out.Left, err = s.tidy(ctx)
	}
	return out, err
}

// excludes says whether a thing can be made only once: on this rests that nothing is removed that is
// put at the same moment. Not every store that calls itself compatible keeps it.
func (s *Store) excludes(ctx context.Context) (err error) {
	probe := safefile.Drawn(32)
	if _, err := s.kept.make(ctx, removal, probe, s.now()); err != nil {
		return err
	}
	twice, err := s.kept.make(ctx, removal, probe, s.now())
	if err == nil && twice {
		err = &diag.Error{Kind: diag.Unsupported, Op: "store", Subject: "sweep", Msg: "this store lets a thing be made that is there already; nothing was removed", Hint: "use a store that keeps If-None-Match"}
	}
	return errors.Join(err, s.kept.remove(ctx, removal, probe))
}

// marked deals with one mark.
func (s *Store) marked(ctx context.Context, m thing, referred, last Asked, out *Swept) error {
	is, err := referred(ctx, m.hash)
	if err != nil {
		return err
	}
	if is {
		return s.kept.remove(ctx, mark, m.hash)
	}
	at, err := s.kept.since(ctx, mark, m.hash)
	if err != nil || s.now().Sub(at) < Grace {
		return absentOr(err)
	}
	size, removed, err := s.expunge(ctx, m.hash, last)
	if removed {
		out.Removed++
		out.Bytes += size
	}
	return err
}

// expunge removes bytes. It says first that it is going to, and looks at their mark then: Put and Claim take the mark off
// first, and look then whether somebody removes. So one of the two sees the other, whatever they do at
// once. If the bytes may be gone and that is not certain, what it said stands until it is stale.
func (s *Store) expunge(ctx context.Context, hash string, last Asked) (size int64, removed bool, err error) {
	began := s.now().Round(0) // by the clock on the wall, which goes on while a computer sleeps
	ctx, stop := context.WithTimeout(ctx, removalTime)
	defer stop()
	if made, err := s.kept.make(ctx, removal, hash, began); err != nil || !made {
		return 0, false, err
	}
	size, old, err := s.oldEnough(ctx, hash)
	if err == nil && old {
		if is, asked := last(ctx, hash); asked != nil || is {
			old, err = false, asked
		}
	}
	if err != nil || !old || s.now().Round(0).Sub(began) > removalTime {
		return 0, false, errors.Join(err, s.kept.remove(context.WithoutCancel(ctx), removal, hash))
	}
	if err := s.kept.remove(ctx, content, hash); err != nil {
		return 0, false, err
	}
	return size, true, errors.Join(s.kept.remove(ctx, mark, hash), s.kept.remove(ctx, removal, hash))
}

// oldEnough says whether the mark of bytes is a day old, and how many they are. A mark without bytes is taken away.
func (s *Store) oldEnough(ctx context.Context, hash string) (size int64, old bool, err error) {
	of, err := s.kept.look(ctx, hash)
	if diag.KindOf(err) == diag.NotFound {
		return 0, false, s.kept.remove(ctx, mark, hash)
	}
	if err != nil {
		return 0, false, err
	}
	at, err := s.kept.since(ctx, mark, hash)
	if err != nil {
		return 0, false, absentOr(err) // it was taken off meanwhile
	}
	return of.size, s.now().Sub(at) >= Grace, nil
}

// absentOr is an error, unless it says that something is not there.
func absentOr(err error) error {
	if diag.KindOf(err) == diag.NotFound {
		return nil
	}
	return err
}

// tidy takes away temporary files that were left behind, and uploads that are over.
func (s *Store) tidy(ctx context.Context) (left int, err error) {
	if left, err = s.kept.tidy(ctx, s.now().Add(-Grace)); err != nil {
		return left, err
	}
	d, err := s.spool(false)
	if errors.Is(err, fs.ErrNotExist) {
		return left, nil
	}
	if err != nil {
		return left, err
	}
	defer func() { err = errors.Join(err, unusable(d.Close())) }()
	day, err := dayAgo(d)
	if err != nil {
		return left, unusable(err)
	}
	n, err := temporaries(d, ".", day)
	left += n
	if err != nil {
		return left, unusable(err)
	}
	err = d.Each(uploadsDir, func(fi fs.FileInfo) error {
		if err := ctx.Err(); err != nil || !fi.IsDir() || !uploadForm.MatchString(fi.Name()) {
			return err
		}
		u, err := s.readUpload(d, fi.Name())
		if diag.KindOf(err) != diag.NotFound {
			if err == nil {
				n, err = temporaries(d, u.dir(), day)
				left += n
			}
			return err
		}
		if !u.over && fi.ModTime().After(day) {
			return nil // it is being begun
		}
		left++
		return removeFolder(d, uploadsDir+"/"+fi.Name())
	})
	if errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	return left, told("uploads", err)
}

// dayAgo is a day ago by the clock that gives files their times.
func dayAgo(d safefile.Dir) (time.Time, error) {
	name, file, err := safefile.Temporary(d, ".")
	if err != nil {
		return time.Time{}, err
	}
	fi, err := file.Stat()
	if err = errors.Join(err, file.Close(), d.Remove(name)); err != nil {
		return time.Time{}, err
	}
	return fi.ModTime().Add(-Grace), nil
}

// temporaries takes away the temporary files of a folder that were last written before a moment.
func temporaries(d safefile.Dir, dir string, before time.Time) (n int, err error) {
	err = d.Each(dir, func(fi fs.FileInfo) error {
		if !safefile.IsTemporary(fi.Name()) || fi.IsDir() || fi.ModTime().After(before) {
			return nil
		}
		n++
		return gone(d.Remove(dir + "/" + fi.Name()))
	})
	return n, err
}

// gone is an error of removing, unless somebody else has removed it.
func gone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// removeFolder takes a folder away with the files in it.
func removeFolder(d safefile.Dir, dir string) error {
	err := d.Each(dir, func(fi fs.FileInfo) error { return gone(d.Remove(dir + "/" + fi.Name())) })
	if err == nil {
		err = d.Remove(dir)
	}
	return gone(err)
}

// Scrubbed is what a scrub has read.
type Scrubbed struct {
	Blobs   int
	Bytes   int64
	Damaged int
}

// Scrub reads all bytes and names every hash under which others are kept by now, or none that can be
// read. An error of damaged ends it.
func (s *Store) Scrub(ctx context.Context, damaged func(hash string, why error) error) (Scrubbed, error) {
	var out Scrubbed
	buffer := make([]byte, copyBuffer)
	err := s.Each(ctx, func(hash string, _ int64) error {
		n, err := s.readToEnd(ctx, hash, buffer)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if diag.KindOf(err) == diag.NotFound {
			return nil // it was removed meanwhile
		}
		out.Blobs++
		out.Bytes += n
		if err == nil {
			return nil
		}
		out.Damaged++
		return damaged(hash, err)
	})
	return out, err
}

func (s *Store) readToEnd(ctx context.Context, hash string, buffer []byte) (n int64, err error) {
	r, _, err := s.Get(ctx, hash)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	for {
		if err := ctx.Err(); err != nil {
			return n, err
		}
		read, err := r.Read(buffer)
		n += int64(read)
		if err == io.EOF {
			return n, nil
		}
		if err != nil {
			return n, err
		}
	}
}
