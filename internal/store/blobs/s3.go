package blobs

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

const (
	// partSize is how many bytes are sent to an S3 store at once; more than that are sent in parts of it.
	// 16 MiB times 10,000 parts (the limit of S3) are 160 GB.
	partSize = 16 << 20
	s3Tries  = 4
)

// NewS3 keeps bytes in a bucket of an S3-compatible store. They are gathered in a folder of that name inside one that
// is there, and so are the pieces of uploads: those have to come to the program where they were begun. It
// asks nothing of the store yet; Reach does.
func NewS3(set S3Settings, inside, name string, now func() time.Time) (*Store, error) {
	if err := set.Check(); err != nil {
		return nil, err
	}
	host, plain := set.host()
	client, err := minio.NewCore(host, &minio.Options{
		Creds:      credentials.NewStaticV4(set.KeyID, string(set.Secret), ""),
		Secure:     !plain,
		Region:     set.Region,
		MaxRetries: s3Tries,
	})
	if err != nil {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "S3", Subject: set.Endpoint, Msg: "is no address of an S3 store", Hint: "give it as https://host or https://host:port", Err: err}
	}
	open := beneath(inside, name)
	return &Store{spool: open, kept: &bucket{client, set.Bucket, set.Prefix, set.Endpoint}, now: now, wait: removalWait, pause: removalPause}, nil
}

// Reach says whether the store can be reached and lets us in. One in a folder or in memory always does.
func (s *Store) Reach(ctx context.Context) error {
	b, ok := s.kept.(*bucket)
	if !ok {
		return nil
	}
	listing, stop := context.WithCancel(ctx)
	defer stop()
	for of := range b.client.Client.ListObjectsIter(listing, b.name, minio.ListObjectsOptions{Prefix: b.key(content, ""), MaxKeys: 1}) {
		return b.told(ctx, b.name, of.Err)
	}
	return ctx.Err()
}

// bucket keeps things in a bucket.
type bucket struct {
	client   *minio.Core
	name     string
	prefix   string
	endpoint string
}

func (b *bucket) key(k kind, hash string) string { return b.prefix + string(k) + "/" + hash }

func (b *bucket) noBucket() error {
	return &diag.Error{Kind: diag.Unavailable, Op: "S3", Subject: b.name, Msg: "the S3 store at " + b.endpoint + " has no such bucket", Hint: "make it there, or correct the name of the bucket"}
}

// denied are codes of answers that say who we are is not believed, or may not do it.
var denied = []string{"AccessDenied", "SignatureDoesNotMatch", "InvalidAccessKeyId", "InvalidToken", "ExpiredToken", "AuthorizationHeaderMalformed", "AccountProblem", "AllAccessDisabled", "XAdminUserNotFound"}

// told makes an error about a hash out of an answer of the store, or of there being none. The cause has
// neither key nor secret in it: they are not part of an address.
func (b *bucket) told(ctx context.Context, hash string, err error) error {
	if err == nil {
		return nil
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	var known *diag.Error
	if errors.As(err, &known) {
		return err
	}
	var said minio.ErrorResponse
	errors.As(err, &said)
	switch {
	case said.Code == "NoSuchBucket":
		return b.noBucket()
	case said.Code == "NoSuchKey" || said.Code == "NoSuchUpload":
		return NothingKept(hash)
	case said.Code == "RequestTimeTooSkewed":
		return &diag.Error{Kind: diag.Unavailable, Op: "S3", Subject: b.endpoint, Msg: "the clocks of this computer and of the S3 store differ", Hint: "set the clock", Err: err}
	case said.StatusCode == http.StatusForbidden || said.StatusCode == http.StatusUnauthorized || slices.Contains(denied, said.Code):
		return &diag.Error{Kind: diag.Denied, Op: "S3", Subject: b.endpoint, Msg: "the S3 store does not let us in", Hint: "check key id, secret and rights on the bucket " + b.name, Err: err}
	}
	return &diag.Error{Kind: diag.Unavailable, Op: "S3", Subject: b.endpoint, Msg: "the S3 store cannot be reached, or cannot do it", Hint: "check the network and the store, and try again", Err: err}
}

// taken says that a name was given already, or is being given by somebody else at this moment.
func taken(err error) (is, now bool) {
	var said minio.ErrorResponse
	if !errors.As(err, &said) {
		return false, false
	}
	now = said.StatusCode == http.StatusConflict || said.Code == "ConditionalRequestConflict"
	return said.StatusCode == http.StatusPreconditionFailed || said.Code == "PreconditionFailed" || now, now
}

// absent asks that a name is given only where it was not given. The hash of what is sent is given with it, so that its
// parts need none.
func absent() minio.PutObjectOptions {
	o := minio.PutObjectOptions{DisableContentSha256: true}
	o.SetMatchETagExcept("*")
	return o
}

// put sends the bytes, unless as many are there under their hash; if those are others, Mend replaces them.
func (b *bucket) put(ctx context.Context, st *staged, replace bool) error {
	of, err := b.look(ctx, st.hash)
	switch {
	case diag.KindOf(err) == diag.NotFound:
		return b.send(ctx, st, absent())
	case err != nil:
		return err
	case replace || of.size != st.size:
		return b.send(ctx, st, minio.PutObjectOptions{DisableContentSha256: true})
	}
	return nil
}

func (b *bucket) send(ctx context.Context, st *staged, o minio.PutObjectOptions) error {
	file, err := st.dir.Open(st.name, st.size)
	if err != nil {
		return unusable(err)
	}
	for try := 0; ; try++ {
		if st.size <= partSize {
			_, err = b.client.PutObject(ctx, b.name, b.key(content, st.hash), io.NewSectionReader(file, 0, st.size), st.size, "", st.hash, o)
		} else {
			err = b.sendParts(ctx, st, file, o)
		}
		is, now := taken(err)
		if is && !now {
			err = nil // somebody else has put the same bytes
		}
		if !now || try == s3Tries {
			break
		}
	}
	return errors.Join(b.told(ctx, st.hash, err), unusable(file.Close()))
}

// sendParts sends bytes in parts, each with its own hash, which the store checks.
func (b *bucket) sendParts(ctx context.Context, st *staged, file safefile.File, o minio.PutObjectOptions) (err error) {
	key := b.key(content, st.hash)
	id, err := b.client.NewMultipartUpload(ctx, b.name, key, minio.PutObjectOptions{})
	if err != nil {
		return err
	}
	defer func() {
		if err != nil { // what is left of it costs room until it is swept
			ctx, stop := context.WithTimeout(context.WithoutCancel(ctx), time.Minute)
			defer stop()
			if is, _ := taken(err); is { // the error has to stay what it is
				_ = b.client.AbortMultipartUpload(ctx, b.name, key, id)
				return
			}
			err = errors.Join(err, b.client.AbortMultipartUpload(ctx, b.name, key, id))
		}
	}()
	var parts []minio.CompletePart
	for at := int64(0); at < st.size; at += partSize {
		size := min(partSize, st.size-at)
		sum, err := sumOf(ctx, io.NewSectionReader(file, at, size))
		if err != nil {
			return err
		}
		part, err := b.client.PutObjectPart(ctx, b.name, key, id, len(parts)+1, io.NewSectionReader(file, at, size), size, minio.PutObjectPartOptions{Sha256Hex: sum, DisableContentSha256: true})
		if err != nil {
			return err
		}
		parts = append(parts, minio.CompletePart{PartNumber: part.PartNumber, ETag: part.ETag})
	}
	_, err = b.client.CompleteMultipartUpload(ctx, b.name, key, id, parts, o)
	return err
}

// sumOf is the hash of what is read.
func sumOf(ctx context.Context, r io.Reader) (string, error) {
	sum, _, err := copyHashed(ctx, io.Discard, r, partSize)
	return sum, err
}

func (b *bucket) open(ctx context.Context, hash string, offset, length int64) (io.ReadCloser, int64, error) {
	var o minio.GetObjectOptions
	if length >= 0 {
		if err := o.SetRange(offset, offset+length-1); err != nil {
			return nil, 0, b.told(ctx, hash, err)
		}
	}
	r, of, _, err := b.client.GetObject(ctx, b.name, b.key(content, hash), o)
	if err != nil {
		return nil, 0, b.told(ctx, hash, err)
	}
	return &answer{r, ctx, b, hash}, of.Size, nil
}

// answer reads what the store answers; that the line broke off is not what it was put as.
type answer struct {
	io.ReadCloser
	ctx  context.Context
	b    *bucket
	hash string
}

func (a *answer) Read(p []byte) (int, error) {
	n, err := a.ReadCloser.Read(p)
	if err == io.EOF {
		return n, err
	}
	return n, a.b.told(a.ctx, a.hash, err)
}

// look asks twice where there seems to be nothing: an answer without a text says the same of a bucket that is not there
// and, from some stores, to somebody whom they do not know.
func (b *bucket) look(ctx context.Context, hash string) (thing, error) {
	of, err := b.client.StatObject(ctx, b.name, b.key(content, hash), minio.StatObjectOptions{})
	if err == nil {
		return thing{hash, of.Size}, nil
	}
	if err = b.told(ctx, hash, err); diag.KindOf(err) != diag.NotFound {
		return thing{}, err
	}
	r, size, err := b.open(ctx, hash, 0, -1)
	if err != nil {
		return thing{}, err
	}
	return thing{hash, size}, r.Close()
}

func (b *bucket) since(ctx context.Context, k kind, hash string) (time.Time, error) {
	r, of, _, err := b.client.GetObject(ctx, b.name, b.key(k, hash), minio.GetObjectOptions{})
	if err != nil {
		return time.Time{}, b.told(ctx, hash, err)
	}
	note, err := io.ReadAll(io.LimitReader(r, maxNote))
	if err = errors.Join(err, r.Close()); err != nil {
		return time.Time{}, b.told(ctx, hash, err)
	}
	return noted(note, of.LastModified), nil
}

// settle has nothing to do: what a store answers stays.
func (b *bucket) settle(context.Context) error { return nil }

func (b *bucket) make(ctx context.Context, k kind, hash string, at time.Time) (bool, error) {
	note := note(at)
	sum := sha256.Sum256(note)
	for try := 0; ; try++ {
		_, err := b.client.PutObject(ctx, b.name, b.key(k, hash), bytes.NewReader(note), int64(len(note)), "", hex.EncodeToString(sum[:]), absent())
		if is, now := taken(err); is && (!now || try == s3Tries) {
			return false, nil
		} else if !now {
			return err == nil, b.told(ctx, hash, err)
		}
	}
}

func (b *bucket) remove(ctx context.Context, k kind, hash string) error {
	err := b.told(ctx, hash, b.client.RemoveObject(ctx, b.name, b.key(k, hash), minio.RemoveObjectOptions{}))
	if diag.KindOf(err) == diag.NotFound {
		return nil
	}
	return err
}

func (b *bucket) each(ctx context.Context, k kind, f func(thing) error) error {
	listing, stop := context.WithCancel(ctx)
	defer stop()
	prefix := b.key(k, "")
	for of := range b.client.Client.ListObjectsIter(listing, b.name, minio.ListObjectsOptions{Prefix: prefix, Recursive: true}) {
		if of.Err != nil {
			return b.told(ctx, fmt.Sprintf("the list of %s", k), of.Err)
		}
		hash := strings.TrimPrefix(of.Key, prefix)
		if !IsHash(hash) {
			continue
		}
		if err := f(thing{hash, of.Size}); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// tidy takes away parts of what was never sent to its end.
func (b *bucket) tidy(ctx context.Context, before time.Time) (n int, err error) {
	listing, stop := context.WithCancel(ctx)
	defer stop()
	for of := range b.client.ListIncompleteUploads(listing, b.name, b.key(content, ""), true) {
		if of.Err != nil { // some stores say so of a bucket that has had none
			return n, absentOr(b.told(ctx, "the list of parts", of.Err))
		}
		if of.Initiated.After(before) {
			continue
		}
		if err := b.client.AbortMultipartUpload(ctx, b.name, of.Key, of.UploadID); err != nil {
			if err = absentOr(b.told(ctx, of.Key, err)); err != nil {
				return n, err
			}
		}
		n++
	}
	return n, ctx.Err()
}
