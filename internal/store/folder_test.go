package store

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/store/safefile"
	"fettle/internal/unit"
)

func eight() time.Time { return time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC) }

var opened = unit.Date{Year: 2026, Month: 3, Day: 2}

// jobAt is a stored job with one change after its opening (invented).
func jobAt(t *testing.T) (dir string, f *Folder, file string) {
	t.Helper()
	dir = t.TempDir()
	f = OpenFolder(dir, eight)
	s := job.State{Format: job.Format, ID: "J1", Body: job.HashName(strings.Repeat("b", 64)), Shop: job.HashName(strings.Repeat("5", 64)), Opened: opened, Start: opened, Author: "W2",
		Vehicle: job.Vehicle{VIN: "TEST1111111111111", Value: unit.Money{Minor: 100, Currency: "EUR"}, Salvage: unit.Money{Minor: 1, Currency: "EUR"}, LoadState: "unloaded"}, Impact: job.Impact{From: "front"}}
	if _, err := f.Create(t.Context(), "J1", app.Change{Key: "open", By: "p-1", Events: job.FromState(s)}); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Append(t.Context(), "J1", review("a", "Mr Invented looked"), nil); err != nil {
		t.Fatal(err)
	}
	return dir, f, filepath.Join(dir, "J1", job.EventsFile)
}

func review(key, text string) app.Change {
	return app.Change{Key: key, By: "p-1", Events: []job.Event{{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: opened, Text: text}},
		{Kind: job.DecisionsReviewed, Data: job.Review{By: "W1", On: opened, Text: text + " twice"}}}}
}

func reviews(t *testing.T, f *Folder) int {
	t.Helper()
	c, err := f.Load(t.Context(), "J1", 0)
	if err != nil {
		t.Fatal(err)
	}
	s, err := job.Read(c)
	if err != nil {
		t.Fatal(err)
	}
	return len(s.State().Reviews)
}

// TestBrokenOffWhileWriting cuts the file at every so many bytes of its last change, as a
// computer that dies does: the change was never made, is sent again, and is there once.
func TestBrokenOffWhileWriting(t *testing.T) {
	_, f, file := jobAt(t)
	whole, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	lines, _, err := job.DecodeLines(whole)
	if err != nil {
		t.Fatal(err)
	}
	before, err := job.EncodeLines(lines[:len(lines)-2])
	if err != nil {
		t.Fatal(err)
	}
	for cut := len(before); cut < len(whole); cut += 41 {
		if err := os.WriteFile(file, append(append([]byte{}, whole[:cut]...), "\x00\x00"...), 0o600); err != nil {
			t.Fatal(err)
		}
		if n := reviews(t, f); n != 0 {
			t.Fatalf("cut at %d: %d reviews of a change that was broken off", cut, n)
		}
		if _, err := f.Append(t.Context(), "J1", review("a", "Mr Invented looked"), nil); err != nil || reviews(t, f) != 2 {
			t.Fatalf("cut at %d: %v, %d reviews", cut, err, reviews(t, f))
		}
	}
}

// TestErasedFromTheDisk: after an erasure no file of the store has the text.
func TestErasedFromTheDisk(t *testing.T) {
	dir, f, _ := jobAt(t)
	e := job.Event{Kind: job.TextsErased, Of: "review/#1", Data: job.Erasure{On: opened, Reason: "Asked for"}}
	c, err := f.Load(t.Context(), "J1", 0)
	if err != nil {
		t.Fatal(err)
	}
	s, err := job.Read(c)
	if err != nil {
		t.Fatal(err)
	}
	e.Seen = s.Newest(e.Of)
	if _, err := f.Append(t.Context(), "J1", app.Change{Key: "e", By: "p-1", Events: []job.Event{e}}, nil); err != nil {
		t.Fatal(err)
	}
	err = filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(p)
		if strings.Contains(string(data), `Mr Invented looked"`) || filepath.Base(p) != job.EventsFile {
			t.Errorf("%s: what was erased is still there, or a file was left", p)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	if reviews(t, f) != 2 {
		t.Error("the records themselves are gone")
	}
}

// TestLockedByAnother: while another program writes a job nothing is written to it, and others are.
func TestLockedByAnother(t *testing.T) {
	dir, f, _ := jobAt(t)
	f.wait = 30 * time.Millisecond
	root, err := os.OpenRoot(filepath.Join(dir, "J1"))
	if err != nil {
		t.Fatal(err)
	}
	unlock, err := safefile.Lock(root, time.Second)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Append(t.Context(), "J1", review("b", "x"), nil); diag.KindOf(err) != diag.Conflict {
		t.Errorf("written while it was locked: %v", err)
	}
	if n := reviews(t, f); n != 2 {
		t.Errorf("%d reviews", n)
	}
	if err := errors.Join(unlock(), root.Close()); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Append(t.Context(), "J1", review("b", "x"), nil); err != nil {
		t.Error(err)
	}
}

// TestWhatIsKeptIsChecked: bytes that were changed on the disk are an error, not an answer.
func TestWhatIsKeptIsChecked(t *testing.T) {
	dir, f, file := jobAt(t)
	files := map[string][]byte{"body.yaml": []byte("a"), "x/y.csv": []byte("b")}
	hash, err := f.Keep(t.Context(), files)
	if err != nil || hash != body.Hash(files) {
		t.Fatal(err)
	}
	sum, _, err := f.Put(t.Context(), strings.NewReader("a photo"), 100)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{filepath.Join(dir, libraryDir, hash, "x", "y.csv"), filepath.Join(dir, blobsDir, sum)} {
		if err := os.WriteFile(p, []byte("c"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := f.Files(t.Context(), hash); diag.KindOf(err) != diag.Integrity {
		t.Errorf("library: %v", err)
	}
	r, _, err := f.Get(t.Context(), sum)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadAll(r); diag.KindOf(err) != diag.Integrity {
		t.Errorf("blob: %v", err)
	}
	if err := r.Close(); err != nil {
		t.Error(err)
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, bytes.Replace(text, []byte("p-1"), []byte("p-2"), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Append(t.Context(), "J1", review("z", "x"), nil); diag.KindOf(err) != diag.Integrity {
		t.Errorf("a chain that was edited was added to: %v", err)
	}
}
