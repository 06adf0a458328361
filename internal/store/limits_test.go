package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
)

// What a stored job may be called is a name of a file on every computer, and none of the store's
// own folders.
func TestNamesOfJobs(t *testing.T) {
	for id, want := range map[string]bool{"J1": true, "a": true, "9.x_y-z": true, strings.Repeat("a", 100): true, strings.Repeat("a", 101): false, "": false, ".a": false, "-a": false, "_a": false,
		"a/b": false, "a b": false, "ä": false, "a\n": false, blobsDir: false, libraryDir: false, "blobs2": true} {
		err := CheckID(id)
		if (err == nil) != want || err != nil && diag.KindOf(err) != diag.Invalid {
			t.Errorf("%q: %v", id, err)
		}
		for name, s := range map[string]app.Store{"folder": OpenFolder(t.TempDir(), eight), "memory": NewMemory(eight)} {
			if _, err := s.Append(t.Context(), id, review("k", "x"), nil); diag.KindOf(err) != map[bool]diag.Kind{true: diag.NotFound, false: diag.Invalid}[want] {
				t.Errorf("%s, %q: %v", name, id, err)
			}
		}
	}
}

// The files of a body stay in their folder, and are from one to ten thousand.
func TestFilesOfABody(t *testing.T) {
	for name, want := range map[string]bool{"a": true, "x/y.csv": true, "..a": true, "": false, ".": false, "/a": false, "../a": false, "a/../b": false, "a//b": false, "a/": false, `a\b`: false, "c:a": false, `x/..\y`: false} {
		if err := CheckFiles(map[string][]byte{"ok": nil, name: nil}, 9); (err == nil) != want || err != nil && diag.KindOf(err) != diag.Invalid {
			t.Errorf("%q: %v", name, err)
		}
	}
	files := map[string][]byte{}
	for n := range 10001 {
		if n == 0 || n == 1 || n == 10000 {
			if err := CheckFiles(files, 9); (err == nil) != (n > 0) {
				t.Errorf("%d files: %v", n, err)
			}
		}
		files[fmt.Sprint(n)] = nil
	}
	if err := CheckFiles(files, 9); err == nil {
		t.Error("10001 files are taken")
	}
}

// The events after a number are those behind it, up to none; before the first and behind the last
// there is no number.
func TestEventsAfterANumber(t *testing.T) {
	lines := []job.Line{{Entry: ledger.Entry{Seq: 1}}, {Entry: ledger.Entry{Seq: 2}}, {Entry: ledger.Entry{Seq: 3, Hash: "h"}}}
	for n := int64(-2); n < 6; n++ {
		got, err := after("J1", lines, n)
		if want := n >= 0 && n <= 3; (err == nil) != want || want && (len(got) != int(3-n) || n < 3 && got[0].Seq != n+1) || !want && diag.KindOf(err) != diag.NotFound {
			t.Errorf("after %d: %v %v", n, got, err)
		}
	}
	if head := headOf(lines); head.Seq != 3 || head.Hash != "h" {
		t.Errorf("%+v", head)
	}
}

// As many bytes as may be put are put, and one more is not, whatever they are; what was refused
// leaves nothing. A hash is sixty-four small digits of sixteen.
func TestBytesThatArePut(t *testing.T) {
	dir := t.TempDir()
	for name, s := range map[string]app.Store{"folder": OpenFolder(dir, eight), "memory": NewMemory(eight)} {
		for n := range 4 {
			text := strings.Repeat("x", n)
			hash, size, err := s.Put(t.Context(), strings.NewReader(text), 2)
			if n > 2 {
				if diag.KindOf(err) != diag.Denied || hash != "" || size != 0 {
					t.Errorf("%s, %d bytes: %q %d %v", name, n, hash, size, err)
				}
				continue
			}
			if err != nil || size != int64(n) {
				t.Fatalf("%s, %d bytes: %d %v", name, n, size, err)
			}
			r, size, err := s.Get(t.Context(), hash)
			if err != nil || size != int64(n) {
				t.Fatalf("%s, %d bytes: %d %v", name, n, size, err)
			}
			if data, err := io.ReadAll(r); err != nil || string(data) != text || r.Close() != nil {
				t.Errorf("%s: %q %v", name, data, err)
			}
			for _, no := range []string{strings.ToUpper(hash), hash[1:], hash + "0", "", "../" + hash[3:]} {
				if _, _, err := s.Get(t.Context(), no); diag.KindOf(err) != diag.NotFound && no != hash {
					t.Errorf("%s: under %q: %v", name, no, err)
				}
			}
		}
		stopped, stop := context.WithCancel(t.Context())
		stop()
		if _, _, err := s.Put(stopped, strings.NewReader("x"), 2); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: put though it was stopped: %v", name, err)
		}
		if _, _, err := s.Put(t.Context(), io.MultiReader(strings.NewReader("x"), broken{}), 9); !errors.Is(err, errBroken) {
			t.Errorf("%s: put though it could not be read: %v", name, err)
		}
	}
	entries, err := os.ReadDir(filepath.Join(dir, blobsDir))
	if err != nil || len(entries) != 3 {
		t.Errorf("%d blobs and left files: %v", len(entries), err)
	}
}

var errBroken = errors.New("broken off")

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errBroken }

// Jobs are listed by name, behind the one that is given and no more than are asked for; other
// folders, files and folders without events are none, and the store's own are not.
func TestListOfJobs(t *testing.T) {
	dir, f, file := jobAt(t)
	events, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	err = errors.Join(os.WriteFile(filepath.Join(dir, "J3"), []byte("x"), 0o600), os.Mkdir(filepath.Join(dir, "J4"), 0o755), os.Mkdir(filepath.Join(dir, libraryDir), 0o755), os.Mkdir(filepath.Join(dir, ".hidden"), 0o755))
	for _, id := range []string{"J2", "J5", libraryDir, ".hidden"} {
		err = errors.Join(err, os.MkdirAll(filepath.Join(dir, id), 0o755), os.WriteFile(filepath.Join(dir, id, job.EventsFile), events, 0o600))
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []struct {
		from string
		most int
		want string
	}{{"", 9, "J1 J2 J5"}, {"", 3, "J1 J2 J5"}, {"", 2, "J1 J2"}, {"", 0, ""}, {"J1", 9, "J2 J5"}, {"J1a", 1, "J2"}, {"J4", 9, "J5"}, {"J5", 9, ""}, {"z", 9, ""}} {
		list, err := f.List(t.Context(), k.from, k.most)
		var got []string
		for _, l := range list {
			got = append(got, l.ID)
		}
		if err != nil || strings.Join(got, " ") != k.want {
			t.Errorf("behind %q, %d: %v %v, want %s", k.from, k.most, got, err, k.want)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "J2", job.EventsFile), []byte("no events\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := f.List(t.Context(), "", 9); err == nil || !strings.Contains(err.Error(), "J2") {
		t.Errorf("a job that cannot be read is passed over: %v", err)
	}
}

// A file is opened only where it is one, and of no more bytes than it may have; what is there and
// is none is not taken for nothing.
func TestFilesAreOpenedWithinLimits(t *testing.T) {
	dir := t.TempDir()
	if err := errors.Join(os.WriteFile(filepath.Join(dir, "a"), []byte("12345"), 0o600), os.Mkdir(filepath.Join(dir, "d"), 0o755)); err != nil {
		t.Fatal(err)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer root.Close()
	for _, k := range []struct {
		name string
		most int64
		ok   bool
		kind diag.Kind
	}{{"a", 5, true, 0}, {"a", 6, true, 0}, {"a", 4, false, diag.Denied}, {"d", 5, false, diag.Denied}} {
		data, err := readAll(root, k.name, k.most)
		if (err == nil) != k.ok || k.ok && string(data) != "12345" || !k.ok && diag.KindOf(err) != k.kind {
			t.Errorf("%s of at most %d bytes: %q %v", k.name, k.most, data, err)
		}
	}
	if _, err := readAll(root, "none", 5); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%v", err)
	}
}

// A clock that says an earlier moment than the last event writes nothing; the same moment is none.
// A change without a key, or of nobody, is none.
func TestClockThatWentBack(t *testing.T) {
	_, f, _ := jobAt(t)
	f.now = func() time.Time { return eight().Add(-time.Second) }
	if _, err := f.Append(t.Context(), "J1", review("b", "x"), nil); diag.KindOf(err) != diag.Unavailable || reviews(t, f) != 2 {
		t.Errorf("written before the last event: %v", err)
	}
	f.now = eight
	if _, err := f.Append(t.Context(), "J1", review("b", "x"), nil); err != nil || reviews(t, f) != 4 {
		t.Error(err)
	}
	for _, c := range []app.Change{{By: "p-1"}, {Key: "k"}} {
		if _, err := f.Append(t.Context(), "J1", c, nil); diag.KindOf(err) != diag.Invalid {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// TestEventsUpToTheLimit: a change is added as long as the file of events stays within its limit with it,
// counted by the size that the file has, and not beyond. The file is one of holes.
func TestEventsUpToTheLimit(t *testing.T) {
	dir, f, file := jobAt(t)
	chain, err := f.Load(t.Context(), "J1", 0)
	if err != nil {
		t.Fatal(err)
	}
	lines := job.Lines("k", chain)
	data, err := job.EncodeLines(lines)
	if err != nil {
		t.Fatal(err)
	}
	root, err := os.OpenRoot(filepath.Join(dir, "J1"))
	if err != nil {
		t.Fatal(err)
	}
	defer root.Close()
	for _, over := range []int64{-1, 0, 1} {
		if err := os.Truncate(file, maxEvents-int64(len(data))+over); err != nil {
			t.Fatal(err)
		}
		err := addEvents(root, 7, lines)
		if (err == nil) != (over <= 0) || err != nil && diag.KindOf(err) != diag.Denied {
			t.Errorf("%d bytes over the limit: %v", over, err)
		}
		fi, err := os.Stat(file)
		if err != nil || over <= 0 && fi.Size() != int64(7+len(data)) || over > 0 && fi.Size() != maxEvents-int64(len(data))+over {
			t.Errorf("%d bytes over the limit: %v %v", over, fi.Size(), err)
		}
	}
	if err := os.Truncate(file, maxEvents+1); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Load(t.Context(), "J1", 0); diag.KindOf(err) != diag.Denied {
		t.Errorf("more events than there may be were read: %v", err)
	}
}

// TestBytesOfABody: the files of a body may have so many bytes together, whatever each of them has; one
// byte more is refused where it is kept and where it is read.
func TestBytesOfABody(t *testing.T) {
	for _, sizes := range [][]int{{5}, {2, 3}, {3, 2}, {0, 5}, {5, 0}, {1, 1, 1, 1, 1}} {
		files := map[string][]byte{}
		for i, n := range sizes {
			files[string(rune('a'+i))] = slices.Repeat([]byte("x"), n)
		}
		f, other := OpenFolder(t.TempDir(), eight), OpenFolder(t.TempDir(), eight)
		hash, err := f.Keep(t.Context(), files)
		if err != nil {
			t.Fatal(err)
		}
		for most := int64(3); most < 8; most++ {
			f.most, other.most = most, most
			if _, err := other.Keep(t.Context(), files); (err == nil) != (most >= 5) || err != nil && diag.KindOf(err) != diag.Denied {
				t.Errorf("%v bytes, at most %d: %v", sizes, most, err)
			}
			if got, err := f.Files(t.Context(), hash); (err == nil) != (most >= 5) || err == nil && len(got) != len(sizes) || err != nil && diag.KindOf(err) != diag.Denied {
				t.Errorf("%v bytes, at most %d: %v %v", sizes, most, got, err)
			}
		}
	}
}
