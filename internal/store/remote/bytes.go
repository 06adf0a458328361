package remote

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"net/http"
	"net/url"
	"os"
	"strings"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/store"
	"fettle/internal/store/blobs"
)

const (
	mostLibrary = 1 << 30 // bytes of a body
	mostBytes   = 1 << 30 // bytes of a file, four times what evidence may have
	mostNames   = 10_000  // files of a body
	resumes     = 5       // how often bytes that broke off are asked for from where they are
)

type kept struct {
	Hash string `json:"hash"`
	Size int64  `json:"size"`
}

// Put keeps bytes. They are read to their end before any of them is sent, so that they can be sent again.
func (s *Store) Put(ctx context.Context, r io.Reader, most int64) (_ string, _ int64, err error) {
	if err := ctx.Err(); err != nil {
		return "", 0, err
	}
	f, err := os.CreateTemp("", "fettle-*")
	if err != nil {
		return "", 0, &diag.Error{Kind: diag.Unavailable, Op: "put", Subject: s.URL(), Msg: "there is no room for what is to be sent", Err: err}
	}
	defer func() { err = errors.Join(err, f.Close(), os.Remove(f.Name())) }()
	sum := sha256.New()
	size, err := io.Copy(io.MultiWriter(f, sum), io.LimitReader(r, most+1))
	switch {
	case err != nil:
		return "", 0, err
	case size > most:
		return "", 0, blobs.TooLarge(most)
	}
	want := hex.EncodeToString(sum.Sum(nil))
	var got kept
	err = s.answered(ctx, call{op: "put", method: http.MethodPost, path: "/bytes", kind: "application/octet-stream", size: size, repeats: true,
		body: func() (io.ReadCloser, error) { return io.NopCloser(io.NewSectionReader(f, 0, size)), nil }}, &got)
	if err == nil && (got.Hash != want || got.Size != size) {
		err = &diag.Error{Kind: diag.Integrity, Op: "put", Subject: want, Msg: "the server has kept other bytes than those that were sent"}
	}
	return want, size, err
}

// nothingKept is the error of every store for a hash under which nothing is kept.
func nothingKept(hash string, err error) error {
	if diag.KindOf(err) == diag.NotFound {
		return blobs.NothingKept(hash)
	}
	return err
}

// Get is the bytes of a hash.
func (s *Store) Get(ctx context.Context, hash string) (io.ReadCloser, int64, error) {
	if !blobs.IsHash(hash) {
		return nil, 0, blobs.NothingKept(hash)
	}
	r, size, err := s.bytes(ctx, call{op: "get", method: http.MethodGet, path: "/bytes/" + hash, repeats: true}, hash)
	return r, size, nothingKept(hash, err)
}

// bytes is the bytes that a route answers with. They are held against their hash where it is known.
func (s *Store) bytes(ctx context.Context, c call, want string) (io.ReadCloser, int64, error) {
	a, err := s.ask(ctx, c, nil)
	if err != nil {
		return nil, 0, err
	}
	if a.length < 0 {
		return nil, 0, errors.Join(s.strange("it does not say how many bytes come"), a.Close())
	}
	if a.length > mostBytes {
		return nil, 0, errors.Join(s.strange("it has more bytes than there may be"), a.Close())
	}
	return &coming{s: s, ctx: ctx, c: c, from: a, left: a.length, tag: a.header.Get("ETag"), want: want, sum: sha256.New()}, a.length, nil
}

// coming is bytes as they come; where they break off they are asked for from there on.
type coming struct {
	s     *Store
	ctx   context.Context // of whoever reads
	c     call
	from  *answer
	left  int64
	tag   string // of what began to come
	tries int
	want  string // hash; empty: not known
	sum   hash.Hash
}

func (r *coming) Read(p []byte) (int, error) {
	for {
		if r.left == 0 {
			return 0, r.end()
		}
		n, err := r.from.Read(p[:min(int64(len(p)), r.left)])
		r.sum.Write(p[:n])
		r.left -= int64(n)
		r.c.from += int64(n)
		if n > 0 || len(p) == 0 || err == nil {
			return n, nil
		}
		if err := r.goOn(err); err != nil {
			return 0, err
		}
	}
}

// goOn asks for the rest after it broke off.
func (r *coming) goOn(why error) error {
	if r.tries++; r.tries > resumes || r.ctx.Err() != nil {
		return r.s.lost(r.ctx, r.c, why)
	}
	if err := r.from.Close(); err != nil && !errors.Is(err, context.Canceled) {
		return r.s.lost(r.ctx, r.c, err)
	}
	a, err := r.s.ask(r.ctx, r.c, nil)
	if err != nil {
		return err
	}
	whole := r.c.from == 0
	ranged := strings.HasPrefix(a.header.Get("Content-Range"), fmt.Sprintf("bytes %d-", r.c.from))
	if a.length != r.left || whole == ranged && !whole || a.header.Get("ETag") != r.tag {
		return errors.Join(r.s.strange("what came then goes on otherwise"), a.Close())
	}
	r.from = a
	return nil
}

func (r *coming) end() error {
	if r.want != "" && hex.EncodeToString(r.sum.Sum(nil)) != r.want {
		return blobs.NotThose(r.want)
	}
	return io.EOF
}

func (r *coming) Close() error { return r.from.Close() }

// Retain says that bytes are kept and stay for a day.
func (s *Store) Retain(ctx context.Context, hash string) (int64, error) {
	if !blobs.IsHash(hash) {
		return 0, blobs.NothingKept(hash)
	}
	var got kept
	err := s.send(ctx, call{op: "retain", method: http.MethodPost, path: "/bytes/" + hash + "/retain", repeats: true}, nil, &got)
	return got.Size, nothingKept(hash, err)
}

type contentFile struct {
	Name string `json:"name"`
	Size int64  `json:"size"`
}

type content struct {
	Files []contentFile `json:"files"`
}

// Keep puts files into the library, unless they are there.
func (s *Store) Keep(ctx context.Context, files map[string][]byte) (string, error) {
	if err := store.CheckFiles(files, mostLibrary); err != nil {
		return "", err
	}
	want := body.Hash(files)
	var there content
	err := s.get(ctx, "keep", "/library/"+want, nil, &there)
	if err == nil || diag.KindOf(err) != diag.NotFound && diag.KindOf(err) != diag.Internal && diag.KindOf(err) != diag.Integrity {
		return want, err
	}
	var got kept
	err = s.send(ctx, call{op: "keep", method: http.MethodPost, path: "/library", repeats: true}, listed(files), &got)
	if err == nil && got.Hash != want {
		err = &diag.Error{Kind: diag.Integrity, Op: "keep", Subject: want, Msg: "the server has kept other files than those that were sent"}
	}
	return want, err
}

// Files is what the library has under a hash.
func (s *Store) Files(ctx context.Context, hash string) (map[string][]byte, error) {
	if !blobs.IsHash(hash) {
		return nil, blobs.NothingKept(hash)
	}
	var all content
	if err := s.get(ctx, "get", "/library/"+hash, nil, &all); err != nil {
		return nil, nothingKept(hash, err)
	}
	if len(all.Files) > mostNames {
		return nil, s.strange("a body has more files than there may be")
	}
	out, left := map[string][]byte{}, int64(mostLibrary)
	for _, f := range all.Files {
		if left -= f.Size; f.Size < 0 || left < 0 {
			return nil, s.strange("a body has more bytes than there may be")
		}
		data, err := s.file(ctx, hash, f)
		if err != nil {
			return nil, nothingKept(hash, err)
		}
		out[f.Name] = data
	}
	if body.Hash(out) != hash {
		return nil, blobs.NotThose(hash)
	}
	return out, nil
}

// file is one file of a content.
func (s *Store) file(ctx context.Context, hash string, f contentFile) (_ []byte, err error) {
	r, size, err := s.bytes(ctx, call{op: "get", method: http.MethodGet, path: "/library/" + hash + "/file", query: url.Values{"name": {f.Name}}, repeats: true}, "")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	if size != f.Size {
		return nil, s.strange("a file has another size than it was said to have")
	}
	return io.ReadAll(r)
}

var _ app.Store = (*Store)(nil)
