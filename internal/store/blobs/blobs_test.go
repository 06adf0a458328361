package blobs

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/minio/minio-go/v7"

	"fettle/internal/diag"
	"fettle/internal/store/s3test"
	"fettle/internal/store/safefile"
	"fettle/internal/store/safefile/simdisk"
)

func TestFolder(t *testing.T) {
	suite(t, func(t *testing.T, c *clock) (func() *Store, func(string, []byte) error) {
		dir := t.TempDir()
		return func() *Store { return NewFolder(dir, "blobs", c.now) }, func(hash string, other []byte) error {
			return os.WriteFile(filepath.Join(dir, "blobs", hash), other, 0o600)
		}
	})
}

func TestMemory(t *testing.T) {
	suite(t, func(t *testing.T, c *clock) (func() *Store, func(string, []byte) error) {
		disk := simdisk.New(c.now)
		open := func(bool) (safefile.Dir, error) { return disk, nil }
		return func() *Store { return inDir(open, c.now) }, func(hash string, other []byte) error { return overwrite(disk, hash, other) }
	})
}

// overwrite gives a file other bytes.
func overwrite(d safefile.Dir, name string, other []byte) error {
	if err := d.Remove(name); err != nil {
		return err
	}
	file, err := d.Create(name)
	if err != nil {
		return err
	}
	if _, err := file.Write(other); err != nil {
		return err
	}
	return file.Close()
}

// settingsAt is the settings for a server.
func settingsAt(s s3test.Server) S3Settings {
	return S3Settings{Endpoint: s.Endpoint, Bucket: s.Bucket, Region: s3test.Region, KeyID: s.KeyID, Secret: Secret(s.Secret)}
}

// doubleS3 is an S3 store in memory, which does not look at who asks.
func doubleS3(t *testing.T) S3Settings {
	t.Helper()
	return settingsAt(s3test.Double(t))
}

// s3Suite is the suite on an S3 store; each test has a prefix of its own.
func s3Suite(t *testing.T, set S3Settings) {
	suite(t, func(t *testing.T, c *clock) (func() *Store, func(string, []byte) error) {
		set, dir := set, t.TempDir()
		set.Prefix = safefile.Drawn(4) + "/"
		open := func() *Store {
			s, err := NewS3(set, dir, "spool", c.now)
			if err != nil {
				t.Fatal(err)
			}
			return s
		}
		return open, func(hash string, other []byte) error {
			b := open().kept.(*bucket)
			_, err := b.client.PutObject(context.Background(), b.name, b.key(content, hash), bytes.NewReader(other), int64(len(other)), "", hashOf(other), minio.PutObjectOptions{DisableContentSha256: true})
			return err
		}
	})
}

func TestS3Double(t *testing.T) { s3Suite(t, doubleS3(t)) }

// partsLeft: parts that were sent of something that never came to its end are taken away after a day, and not earlier.
func partsLeft(t *testing.T, set S3Settings) {
	var c clock
	s, err := NewS3(set, t.TempDir(), "spool", c.now)
	if err != nil {
		t.Fatal(err)
	}
	b := s.kept.(*bucket)
	data := text(1, 100)
	id, err := b.client.NewMultipartUpload(t.Context(), b.name, b.key(content, hashOf(data)), minio.PutObjectOptions{})
	if err == nil {
		_, err = b.client.PutObjectPart(t.Context(), b.name, b.key(content, hashOf(data)), id, 1, bytes.NewReader(data), 100, minio.PutObjectPartOptions{Sha256Hex: hashOf(data), DisableContentSha256: true})
	}
	if err != nil {
		t.Fatal(err)
	}
	u := &under{Store: s, ctx: t.Context()}
	for _, want := range []int{0, 1, 0} {
		if left, err := u.tidied(); err != nil || left != want {
			t.Errorf("%d were left behind, want %d: %v", left, want, err)
		}
		c.add(Grace)
	}
}

func TestS3DoublePartsLeft(t *testing.T) { partsLeft(t, doubleS3(t)) }

// TestS3DoubleUnreached: a store that cannot be reached, or has no such bucket, is not taken for an empty one.
func TestS3DoubleUnreached(t *testing.T) {
	set := doubleS3(t)
	set.Bucket = "missing"
	gone := set
	gone.Endpoint = "http://127.0.0.1:1"
	for of, set := range map[string]S3Settings{"no bucket": set, "nobody there": gone} {
		s, err := NewS3(set, t.TempDir(), "spool", (&clock{}).now)
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithTimeout(t.Context(), time.Minute)
		defer stop()
		if err := s.Reach(ctx); diag.KindOf(err) != diag.Unavailable {
			t.Errorf("%s: %v", of, err)
		}
		if _, err := s.Size(ctx, hashOf(nil)); diag.KindOf(err) != diag.Unavailable {
			t.Errorf("%s: %v", of, err)
		}
	}
}
