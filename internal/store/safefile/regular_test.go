package safefile

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"

	"fettle/internal/diag"
)

// TestOpenedWhileReplaced: a file that is replaced whole again and again can be opened at any moment, and has then what one of
// the writers put there; a link in its place cannot.
func TestOpenedWhileReplaced(t *testing.T) {
	dir := t.TempDir()
	d, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	write := func() error {
		return WriteWhole(d, ".", func(w io.Writer) (string, error) {
			_, err := io.WriteString(w, "whole")
			return "a", err
		})
	}
	if err := write(); err != nil {
		t.Fatal(err)
	}
	var over atomic.Bool
	var group sync.WaitGroup
	group.Go(func() {
		for !over.Load() {
			if err := write(); err != nil {
				t.Error(err)
				return
			}
		}
	})
	for range 2000 {
		file, err := d.Open("a", 5)
		if err != nil {
			t.Error(err)
			break
		}
		data, err := io.ReadAll(file)
		if err = errors.Join(err, file.Close()); err != nil || string(data) != "whole" {
			t.Errorf("%q %v", data, err)
			break
		}
	}
	over.Store(true)
	group.Wait()
	if err := errors.Join(os.Rename(filepath.Join(dir, "a"), filepath.Join(dir, "b"))); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("b", filepath.Join(dir, "a")); err != nil {
		t.Skip(err) // a system that lets no links be made
	}
	if _, err := d.Open("a", 5); diag.KindOf(err) != diag.Denied {
		t.Errorf("a link was opened: %v", err)
	}
}
