package demo

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fettle/internal/format"
)

// TestCastingFileIsRead reads the casting that is kept. That it is what the
// generator makes is held in package casting, which makes it once.
func TestCastingFileIsRead(t *testing.T) {
	kept := Files()["body/front-casting.ply"]
	m, _, err := format.ReadMesh("front-casting.ply", kept, "mm")
	if err != nil {
		t.Fatal(err)
	}
	if n := len(m.Faces); n < 80_000 || n > 200_000 {
		t.Errorf("%d triangles, want 80,000 to 200,000", n)
	}
}

// TestFilesAreThoseOfTheFolder: every file beneath files is given under its path there, packed ones
// unpacked and without their ending, and the job after looking beside them; nothing else.
func TestFilesAreThoseOfTheFolder(t *testing.T) {
	got := Files()
	want := map[string]bool{}
	err := filepath.WalkDir("files", func(p string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		name := strings.TrimPrefix(filepath.ToSlash(p), "files/")
		if strings.HasSuffix(name, ".gz") {
			z, err := gzip.NewReader(bytes.NewReader(data))
			if err != nil {
				return err
			}
			if data, err = io.ReadAll(z); err != nil {
				return err
			}
			name = strings.TrimSuffix(name, ".gz")
		}
		if want[name] = true; !bytes.Equal(got[name], data) {
			t.Errorf("%s has %d bytes, the file %d", name, len(got[name]), len(data))
		}
		if rest, ok := strings.CutPrefix(name, "job/"); ok {
			looked := "looked-job/" + rest
			if want[looked] = true; rest != "job.yaml" && !bytes.Equal(got[looked], data) {
				t.Errorf("%s is not %s", looked, name)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(want) < 10 || len(got) != len(want) {
		t.Errorf("%d files are given, %d are there", len(got), len(want))
	}
	for name := range got {
		if !want[name] {
			t.Errorf("%s is not there", name)
		}
	}
}

// TestLookedJobIsTheJobAfterLooking: line by line the job after looking is the job, but for the lines
// that looking changes, the risks that it settles, which are gone whole, and what was ordered, which
// stands at the end.
func TestLookedJobIsTheJobAfterLooking(t *testing.T) {
	files := Files()
	before, after := string(files[Job+"/job.yaml"]), string(files[LookedJob+"/job.yaml"])
	for _, c := range looking {
		if strings.Count(before, c.before) != 1 || strings.Count(after, c.after) != 1 {
			t.Errorf("%q became %q: %d and %d times", c.before, c.after, strings.Count(before, c.before), strings.Count(after, c.after))
		}
		before = strings.Replace(before, c.before, c.after, 1)
	}
	var kept []string
	inside := false
	for _, line := range strings.Split(before, "\n") {
		if id, ok := strings.CutPrefix(line, "  - id: "); ok {
			inside = slices.Contains(settled, id)
		} else if !strings.HasPrefix(line, "    ") {
			inside = false
		}
		if !inside {
			kept = append(kept, line)
		}
	}
	for len(kept) > 0 && kept[len(kept)-1] == "" {
		kept = kept[:len(kept)-1]
	}
	is, want := strings.Split(after, "\n"), strings.Split(strings.Join(kept, "\n")+"\n"+ordered, "\n")
	for i := range max(len(is), len(want)) {
		if i >= len(is) || i >= len(want) || is[i] != want[i] {
			t.Fatalf("line %d: %q, want %q", i+1, is[min(i, len(is)-1)], want[min(i, len(want)-1)])
		}
	}
	if !strings.Contains(after, "    "+Longer+"\n") || strings.Count(before, "  - id: RK-") < len(settled)+1 {
		t.Error("the longer trace is not offered, or no risk is left")
	}
}

// An entry of a list is left out with all its lines and no other.
func TestWithoutLeavesOutOneEntry(t *testing.T) {
	const text = "a:\n  - id: X\n    b: 1\n    c:\n      - d\n  - id: Y\n    b: 2\ne: 3\n"
	for id, want := range map[string]string{"X": "a:\n  - id: Y\n    b: 2\ne: 3\n", "Y": "a:\n  - id: X\n    b: 1\n    c:\n      - d\ne: 3\n"} {
		if got := without(text, "  - id: "+id+"\n"); got != want {
			t.Errorf("without %s: %q", id, got)
		}
	}
	if got := without("a:\n  - id: X\n    b: 1\n", "  - id: X\n"); got != "a:\n" {
		t.Errorf("the last entry: %q", got)
	}
	if got := without("a:\n  - id: X\n    b: 1", "  - id: X\n"); got != "a:\n" {
		t.Errorf("the last entry, without a line end: %q", got)
	}
	panics := func(f func()) (why string) {
		defer func() { why = fmt.Sprint(recover()) }()
		f()
		return ""
	}
	if why := panics(func() { without(text, "  - id: Z\n") }); !strings.Contains(why, "does not have") {
		t.Errorf("an entry that is not there: %s", why)
	}
	if why := panics(func() { looked(map[string][]byte{Job + "/job.yaml": []byte(text)}) }); !strings.Contains(why, "does not have once") {
		t.Errorf("another job: %s", why)
	}
	for _, data := range [][]byte{[]byte("no gzip"), {0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 0, 1}} {
		if plain, err := unpack(data); err == nil {
			t.Errorf("%q is unpacked as %q", data, plain)
		}
	}
}
