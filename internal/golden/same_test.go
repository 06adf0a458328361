package golden

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// heard is a test that keeps what it is told.
type heard struct {
	testing.TB
	errors, fatals []string
	atCaller       bool
}

func (h *heard) Helper() { h.atCaller = true }

func (h *heard) Errorf(format string, args ...any) {
	h.errors = append(h.errors, fmt.Sprintf(format, args...))
}

func (h *heard) Fatal(args ...any) {
	h.fatals = append(h.fatals, fmt.Sprint(args...))
	runtime.Goexit() // as that of a test does
}

// same is what Same tells.
func same(file, text string) *heard {
	h := &heard{}
	done := make(chan bool)
	go func() {
		defer close(done)
		Same(h, file, text)
	}()
	<-done
	return h
}

// updating runs a test as -update does.
func updating(t *testing.T, f func()) {
	t.Helper()
	was := *update
	defer func() { *update = was }()
	*update = true
	f()
}

// An answer is held against its file: nothing is told where it is the same, the file, the
// line and the way out where it is not, at the line of the test that asked. A file that is
// not there ends the test. Nothing is written.
func TestSameTellsTheFileAndTheLine(t *testing.T) {
	file := filepath.Join(t.TempDir(), "deep", "a.golden")
	if h := same(file, "x"); len(h.fatals) != 1 || !strings.Contains(h.fatals[0], "a.golden") || len(h.errors) > 0 {
		t.Errorf("without its file: %q, %q", h.fatals, h.errors)
	}
	if err := os.Mkdir(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte("one\ntwo\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if h := same(file, "one\ntwo\n"); len(h.fatals)+len(h.errors) > 0 || !h.atCaller {
		t.Errorf("the same text: %q, %q, told at its caller: %v", h.fatals, h.errors, h.atCaller)
	}
	h := same(file, "one\n2\n")
	if want := file + `:2: "2", was "two"; when it is meant, run the test with -update`; len(h.fatals) > 0 || len(h.errors) != 1 || h.errors[0] != want {
		t.Errorf("another text: %q, %q, want %q", h.fatals, h.errors, want)
	}
	if kept, err := os.ReadFile(file); err != nil || string(kept) != "one\ntwo\n" {
		t.Errorf("the file became %q, %v", kept, err)
	}
}

// With -update the file becomes the answer, and its folder is made; what cannot be written is
// told: a file stands where the folder should be, or a folder where the file should be.
func TestUpdateWritesTheFile(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "new", "a.golden")
	updating(t, func() {
		if h := same(file, "one\n"); len(h.fatals)+len(h.errors) > 0 {
			t.Errorf("%q, %q", h.fatals, h.errors)
		}
		if kept, err := os.ReadFile(file); err != nil || string(kept) != "one\n" {
			t.Errorf("the file became %q, %v", kept, err)
		}
		if h := same(filepath.Join(file, "b.golden"), "x"); len(h.fatals) != 1 || !strings.HasPrefix(h.fatals[0], "mkdir ") {
			t.Errorf("a folder below a file: %q", h.fatals)
		}
		if h := same(filepath.Dir(file), "x"); len(h.fatals) != 1 || !strings.HasPrefix(h.fatals[0], "open ") {
			t.Errorf("a file in the place of a folder: %q", h.fatals)
		}
	})
}
