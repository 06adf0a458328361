package simdisk

import (
	"errors"
	"io"
	"io/fs"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/diag"
	"fettle/internal/store/safefile"
)

func write(t *testing.T, d safefile.Dir, name, text string, sync bool) {
	t.Helper()
	file, err := d.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	_, err = io.WriteString(file, text)
	if sync {
		err = errors.Join(err, file.Sync())
	}
	if err = errors.Join(err, file.Close()); err != nil {
		t.Fatal(err)
	}
}

// read is what a file has; "-" where there is none.
func read(t *testing.T, d safefile.Dir, name string) string {
	t.Helper()
	file, err := d.Open(name, 1<<20)
	if errors.Is(err, fs.ErrNotExist) {
		return "-"
	}
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(file)
	if err = errors.Join(err, file.Close()); err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// TestWhatACutLeaves: what was made safe is there after every cut; of what was not, each outcome that may be is seen in 400 of
// them, and no other.
func TestWhatACutLeaves(t *testing.T) {
	seen := map[string]map[string]bool{}
	for seed := range uint64(400) {
		d := New(time.Now)
		write(t, d, "safe", "whole", true)
		write(t, d, "replaced", "before", true)
		if err := errors.Join(d.Mkdir("dir"), d.SyncDir("."), d.Mkdir("dir/lost")); err != nil {
			t.Fatal(err)
		}
		write(t, d, "name not synced", "text", true)
		write(t, d, "data not synced", "text", false)
		write(t, d, "after", "after", true)
		if err := d.Rename("after", "replaced"); err != nil {
			t.Fatal(err)
		}
		write(t, d, "dir/deep", "text", true)
		after := d.Cut(rand.New(rand.NewPCG(seed, 0)))
		for _, name := range []string{"safe", "replaced", "name not synced", "data not synced", "dir/deep"} {
			if seen[name] == nil {
				seen[name] = map[string]bool{}
			}
			seen[name][read(t, after, name)] = true
		}
		if again := after.Cut(rand.New(rand.NewPCG(seed, 1))); read(t, again, "replaced") != read(t, after, "replaced") {
			t.Error("what was found after a cut is lost in another one")
		}
	}
	for name, want := range map[string][]string{"safe": {"whole"}, "replaced": {"after", "before"}, "name not synced": {"-", "text"}, "dir/deep": {"-", "text"}} {
		if len(seen[name]) != len(want) || !seen[name][want[0]] || !seen[name][want[len(want)-1]] {
			t.Errorf("%s: %v, want %v", name, seen[name], want)
		}
	}
	for _, text := range []string{"-", "", "text", "te", "\x00\x00\x00\x00"} {
		if !seen["data not synced"][text] {
			t.Errorf("data that was not synced is never %q", text)
		}
	}
}

// TestAsTheSystemDoesIt: a folder in memory and one of the system give the same answers to the same calls.
func TestAsTheSystemDoesIt(t *testing.T) {
	system, err := safefile.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer system.Close()
	memory := New(time.Now)
	ask := func(of string, do func(d safefile.Dir) error) {
		t.Helper()
		a, b := answer(do(memory)), answer(do(system))
		if a != b {
			t.Errorf("%s: in memory %s, by the system %s", of, a, b)
		}
	}
	create := func(name string) func(safefile.Dir) error {
		return func(d safefile.Dir) error {
			file, err := d.Create(name)
			if err != nil {
				return err
			}
			_, err = io.WriteString(file, "0123456789")
			return errors.Join(err, file.Sync(), file.Close())
		}
	}
	for _, name := range []string{"a", "a", "b", "none/a", "dir/x"} {
		ask("create "+name, create(name))
	}
	for _, name := range []string{"dir", "dir", "a", "none/dir", "dir/sub"} {
		ask("mkdir "+name, func(d safefile.Dir) error { return d.Mkdir(name) })
	}
	ask("create in it", create("dir/x"))
	for _, pair := range [][2]string{{"none", "c"}, {"a", "b"}, {"b", "dir"}, {"b", "none/b"}, {"b", "dir/y"}} {
		ask("rename "+pair[0]+" "+pair[1], func(d safefile.Dir) error { return d.Rename(pair[0], pair[1]) })
	}
	for _, name := range []string{"dir/y", "dir", "none", "a"} {
		for _, most := range []int64{9, 10} {
			ask("open "+name, func(d safefile.Dir) error { return parts(d, name, most) })
		}
		ask("lstat "+name, func(d safefile.Dir) error {
			fi, err := d.Lstat(name)
			if err == nil && !fi.IsDir() {
				err = errors.New(fi.Name() + fi.Mode().Type().String() + string(rune('a'+fi.Size())))
			}
			return err
		})
	}
	for _, name := range []string{".", "dir", "dir/sub", "none", "dir/y"} {
		ask("each "+name, func(d safefile.Dir) error {
			var names []string
			err := d.Each(name, func(fi fs.FileInfo) error { names = append(names, fi.Name()); return nil })
			slices.Sort(names)
			if err == nil {
				err = errors.New(strings.Join(names, " "))
			}
			return err
		})
		if name != "dir/y" {
			ask("sync "+name, func(d safefile.Dir) error { return d.SyncDir(name) })
		}
	}
	for _, name := range []string{"none", "dir", "dir/y", "dir/x", "dir/sub", "dir"} {
		ask("remove "+name, func(d safefile.Dir) error { return d.Remove(name) })
	}
}

// parts reads a file in parts, and says what they are.
func parts(d safefile.Dir, name string, most int64) error {
	file, err := d.Open(name, most)
	if err != nil {
		return err
	}
	at := make([]byte, 4)
	n, atEnd := file.ReadAt(at, 8)
	to, err := file.Seek(-3, io.SeekEnd)
	rest, read := io.ReadAll(file)
	_, before := file.Seek(-1, io.SeekStart)
	if err = errors.Join(err, read, file.Close()); err != nil {
		return err
	}
	return errors.New(string(at[:n]) + string(rest) + string(rune('a'+to)) + map[bool]string{true: "end"}[errors.Is(atEnd, io.EOF)] + map[bool]string{true: "before"}[before != nil])
}

// answer is an error as those who ask tell it apart.
func answer(err error) string {
	var known *diag.Error
	switch {
	case err == nil:
		return "done"
	case errors.Is(err, fs.ErrNotExist):
		return "is not there"
	case errors.Is(err, fs.ErrExist):
		return "is there"
	case errors.As(err, &known):
		return known.Error()
	case strings.Contains(err.Error(), "dir") || strings.Contains(err.Error(), "none"):
		return "refused"
	}
	return err.Error()
}
