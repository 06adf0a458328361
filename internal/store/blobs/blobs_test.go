package blobs

import (
	"bytes"
	"context"
	"log"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"github.com/minio/minio-go/v7"

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

// doubleS3 is an S3 store in memory, which does not look at who asks.
func doubleS3(t *testing.T) S3Settings {
	t.Helper()
	server := httptest.NewUnstartedServer(gofakes3.New(s3mem.New(), gofakes3.WithAutoBucket(true)).Server())
	server.Config.ErrorLog = log.New(nothingWritten{}, "", 0)
	server.Start()
	t.Cleanup(func() { server.CloseClientConnections(); server.Close() })
	return S3Settings{Endpoint: server.URL, Bucket: "shop", Region: defaultRegion, KeyID: "id", Secret: "a-secret"}
}

type nothingWritten struct{}

func (nothingWritten) Write(p []byte) (int, error) { return len(p), nil }

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
