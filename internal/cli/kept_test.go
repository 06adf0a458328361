package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What is kept is found again by the folder it is about, however that is
// written, is nobody else's to read, and may be deleted. Constructed.
func TestKept(t *testing.T) {
	root := filepath.Join(t.TempDir(), "cache")
	k := &kept{root: root, version: "v"}
	if p := k.Program(); !strings.HasPrefix(p, "v ") || len(p) < 60 {
		t.Errorf("the program is %q", p)
	}
	if k.Get("job") != nil || k.err != nil {
		t.Errorf("nothing was put: %v", k.err)
	}
	k.Put("some/job", []byte("one"))
	k.Put("some/job", []byte("two"))
	here, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{"some/job", "./some/job", "some/other/../job", filepath.Join(here, "some/job")} {
		if got := string((&kept{root: root, version: "v"}).Get(dir)); got != "two" {
			t.Errorf("%s: %q", dir, got)
		}
	}
	if got := k.Get("some/other"); got != nil {
		t.Errorf("another folder has %q", got)
	}
	name, err := k.file("some/job")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{name, filepath.Dir(name)} {
		if fi, err := os.Stat(p); err != nil || fi.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: %v, %v", p, fi.Mode(), err)
		}
	}
	if all, err := os.ReadDir(filepath.Dir(name)); err != nil || len(all) != 1 {
		t.Errorf("%d files, %v", len(all), err)
	}
	if err := os.RemoveAll(root); err != nil {
		t.Fatal(err)
	}
	if k.Get("some/job") != nil || k.err != nil {
		t.Errorf("after deleting: %v", k.err)
	}
}

// A folder that cannot be written is a note, no failure, and a user who wants
// nothing kept keeps nothing.
func TestKeptNowhere(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	k := &kept{root: file, version: "v"}
	k.Put("job", []byte("x"))
	var said bytes.Buffer
	k.tell(&said)
	if !strings.HasPrefix(said.String(), "note: what was found out could not be kept") {
		t.Errorf("it says %q", said.String())
	}
	if off := (&kept{root: DefaultCache(CacheOff), version: "v"}); off.Program() != "" || off.err != nil {
		t.Errorf("off: %q, %v", off.Program(), off.err)
	}
	if got := DefaultCache("somewhere"); got != "somewhere" {
		t.Errorf("%q", got)
	}
}
