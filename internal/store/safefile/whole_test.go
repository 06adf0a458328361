package safefile

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestWrittenWholeOrNotAtAll: a file that could not be written to its end, or not be given its name, leaves
// what was there and nothing beside it; one that could takes its place.
func TestWrittenWholeOrNotAtAll(t *testing.T) {
	dir := t.TempDir()
	if err := errors.Join(os.Mkdir(filepath.Join(dir, "sub"), 0o755), os.WriteFile(filepath.Join(dir, "sub", "a"), []byte("before"), 0o600), os.MkdirAll(filepath.Join(dir, "sub", "full", "x"), 0o755)); err != nil {
		t.Fatal(err)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer root.Close()
	broken := errors.New("broken off")
	write := func(name string, fails error) error {
		return WriteWhole(Of(root), "sub", func(w io.Writer) (string, error) {
			_, err := io.WriteString(w, "after")
			return name, errors.Join(err, fails)
		})
	}
	has := func(want string) {
		t.Helper()
		data, err := os.ReadFile(filepath.Join(dir, "sub", "a"))
		entries, err2 := os.ReadDir(filepath.Join(dir, "sub"))
		if err != nil || err2 != nil || string(data) != want || len(entries) != 2 {
			t.Errorf("%q and %d entries, want %q and 2: %v %v", data, len(entries), want, err, err2)
		}
	}
	if err := write("a", broken); !errors.Is(err, broken) {
		t.Error(err)
	}
	has("before")
	if err := write("full", nil); err == nil {
		t.Error("a folder was replaced by a file")
	}
	has("before")
	if err := write("a", nil); err != nil {
		t.Error(err)
	}
	has("after")
	if err := WriteWhole(Of(root), "nowhere", func(io.Writer) (string, error) { return "a", nil }); err == nil {
		t.Error("written into a folder that is not there")
	}
}

// TestDrawn: what is drawn has the form and the length that the seal of a text asks for, and is new each time.
func TestDrawn(t *testing.T) {
	seen := map[string]bool{}
	for range 1000 {
		d := Drawn(32)
		if len(d) != 64 || strings.Trim(d, "0123456789abcdef") != "" || seen[d] {
			t.Fatalf("drawn %q", d)
		}
		seen[d] = true
	}
}
