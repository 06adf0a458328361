//go:build unix

package store

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestNoLinkIsFollowed: a file of events, a job, the library or a blob that is a link is neither
// read nor written through.
func TestNoLinkIsFollowed(t *testing.T) {
	dir, f, file := jobAt(t)
	outside := filepath.Join(t.TempDir(), "outside")
	if err := os.Rename(file, outside); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(outside, file); err != nil {
		t.Fatal(err)
	}
	was, err := os.ReadFile(outside)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Load(t.Context(), "J1", 0); err == nil {
		t.Error("read through a link")
	}
	if _, err := f.Append(t.Context(), "J1", review("b", "x"), nil); err == nil {
		t.Error("written through a link")
	}
	if _, err := f.Create(t.Context(), "J1", review("b", "x")); err == nil {
		t.Error("begun through a link")
	}
	if err := os.Symlink(filepath.Dir(outside), filepath.Join(dir, "J2")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Dir(outside), filepath.Join(dir, blobsDir)); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Load(t.Context(), "J2", 0); err == nil {
		t.Error("a job was read through a link")
	}
	if _, _, err := f.Put(t.Context(), strings.NewReader("x"), 10); err == nil {
		t.Error("a blob was written through a link")
	}
	if now, err := os.ReadFile(outside); err != nil || !bytes.Equal(was, now) {
		t.Errorf("what lies outside has changed: %v", err)
	}
}
