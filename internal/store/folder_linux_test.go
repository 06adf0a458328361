package store

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

// openFiles is how many files this program has open.
func openFiles(t *testing.T) int {
	t.Helper()
	entries, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Skip(err)
	}
	return len(entries)
}

// TestNothingStaysOpen: whatever is asked of a store, done or refused, every file and folder it opened
// is closed when it returns; a blob when its reader is closed.
func TestNothingStaysOpen(t *testing.T) {
	dir, f, file := jobAt(t)
	f.wait = time.Millisecond
	files := map[string][]byte{"body.yaml": []byte("a"), "x/y.csv": []byte("b")}
	events, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	get := func(hash string, end bool) error {
		r, _, err := f.Get(t.Context(), hash)
		if err == nil && end {
			_, err = io.Copy(io.Discard, r)
		}
		if r != nil {
			err = errors.Join(err, r.Close())
		}
		return err
	}
	stopped, stop := context.WithCancel(t.Context())
	stop()
	for _, k := range []struct {
		name string
		do   func() error
		ok   bool
	}{
		{"append", func() error { _, err := f.Append(t.Context(), "J1", review("b", "x"), nil); return err }, true},
		{"append again", func() error { _, err := f.Append(t.Context(), "J1", review("b", "x"), nil); return err }, true},
		{"append to none", func() error { _, err := f.Append(t.Context(), "J9", review("b", "x"), nil); return err }, false},
		{"append stopped", func() error { _, err := f.Append(stopped, "J1", review("c", "x"), nil); return err }, false},
		{"create again", func() error { _, err := f.Create(t.Context(), "J1", review("c", "x")); return err }, false},
		{"load", func() error { _, err := f.Load(t.Context(), "J1", 0); return err }, true},
		{"load none", func() error { _, err := f.Load(t.Context(), "J9", 0); return err }, false},
		{"list", func() error { _, err := f.List(t.Context(), "", 9); return err }, true},
		{"put", func() error { _, _, err := f.Put(t.Context(), strings.NewReader("x"), 9); return err }, true},
		{"put too much", func() error { _, _, err := f.Put(t.Context(), strings.NewReader("xx"), 1); return err }, false},
		{"get", func() error { return get("2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881", true) }, true}, // SHA-256 of "x": sha256sum
		{"get a part", func() error { return get("2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881", false) }, true},
		{"get none", func() error { return get(strings.Repeat("0", 64), true) }, false},
		{"keep", func() error { _, err := f.Keep(t.Context(), files); return err }, true},
		{"keep again", func() error { _, err := f.Keep(t.Context(), files); return err }, true},
		{"keep stopped", func() error { _, err := f.Keep(stopped, map[string][]byte{"c": nil}); return err }, false},
		{"keep a file that is a folder", func() error { _, err := f.Keep(t.Context(), map[string][]byte{"a": nil, "a/b": nil}); return err }, false},
		{"files of none", func() error { _, err := f.Files(t.Context(), strings.Repeat("0", 64)); return err }, false},
		{"a line that is broken", func() error {
			return errors.Join(os.WriteFile(file, []byte("no events\n"), 0o600), loads(t, f), os.WriteFile(file, events, 0o600))
		}, false},
		{"locked", func() error {
			root, err := os.OpenRoot(filepath.Join(dir, "J1"))
			if err != nil {
				return err
			}
			unlock, err := safefile.Lock(root, time.Second)
			if err != nil {
				return err
			}
			_, err = f.Append(t.Context(), "J1", review("d", "x"), nil)
			return errors.Join(err, unlock(), root.Close())
		}, false},
	} {
		before := openFiles(t)
		if err := k.do(); (err == nil) != k.ok {
			t.Errorf("%s: %v", k.name, err)
		}
		if after := openFiles(t); after != before {
			t.Errorf("%s: %d files open before, %d after", k.name, before, after)
		}
	}
	left, err := filepath.Glob(filepath.Join(dir, "*", ".fettle-*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

func loads(t *testing.T, f *Folder) error {
	_, err := f.Load(t.Context(), "J1", 0)
	return err
}

// TestFilesThatAreMoreThanTheySay: a file that has more bytes when it is read than when it was looked
// at is refused where it goes beyond the limit, and read where it does not. Those of the system itself
// say that they have none.
func TestFilesThatAreMoreThanTheySay(t *testing.T) {
	root, err := os.OpenRoot("/proc/self")
	if err != nil {
		t.Skip(err)
	}
	defer root.Close()
	before := openFiles(t)
	data, err := readAll(root, "cmdline", 1<<20)
	if err != nil || !strings.Contains(string(data), "store.test") {
		t.Fatalf("%q %v", data, err)
	}
	n := int64(len(data))
	for most, ok := range map[int64]bool{0: false, 1: false, n - 1: false, n: true, n + 1: true} {
		if data, err := readAll(root, "cmdline", most); (err == nil) != ok || !ok && (!strings.Contains(err.Error(), "grew beyond") || diag.KindOf(err) == diag.NotFound) || ok && int64(len(data)) != n {
			t.Errorf("at most %d of %d bytes: %d, %v", most, n, len(data), err)
		}
	}
	if after := openFiles(t); after != before {
		t.Errorf("%d files open before, %d after", before, after)
	}
}
