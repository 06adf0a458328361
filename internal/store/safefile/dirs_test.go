package safefile_test

import (
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fettle/internal/store/safefile"
	"fettle/internal/store/safefile/simdisk"
)

// TestFoldersStay cuts the power at every call of making folders, and after it: once it has returned, all of them are there. Without
// the syncs the same cuts find losses.
func TestFoldersStay(t *testing.T) {
	off := errors.New("the power is gone")
	lost := 0
	for at := range 12 {
		for seed := range uint64(20) {
			calls := 0
			disk := simdisk.New(time.Now)
			d := simdisk.Asked(disk, func(simdisk.Call) (bool, error) {
				if calls++; calls > at {
					return false, off
				}
				return false, nil
			})
			made := safefile.MakeDirsIn(d, "shop/data/backups")
			after := disk.Cut(rand.New(rand.NewPCG(seed, 1)))
			_, there := after.Lstat("shop/data/backups")
			if made == nil && there != nil {
				t.Fatalf("cut at %d: it was made, and is lost", at)
			}
			// What a cut has left is gone on with.
			if err := safefile.MakeDirsIn(after, "shop/data/backups"); err != nil {
				t.Fatalf("cut at %d: %v", at, err)
			}
			if _, err := after.Cut(rand.New(rand.NewPCG(seed, 2))).Lstat("shop/data/backups"); err != nil {
				t.Fatalf("cut at %d, and again: %v", at, err)
			}
			bare := simdisk.New(time.Now)
			if err := errors.Join(bare.Mkdir("shop"), bare.Mkdir("shop/data")); err != nil {
				t.Fatal(err)
			}
			if _, err := bare.Cut(rand.New(rand.NewPCG(seed, 3))).Lstat("shop/data"); err != nil {
				lost++
			}
		}
	}
	if lost < 100 {
		t.Errorf("folders that were not synced were lost in only %d of 240 cuts", lost)
	}
}

// TestMakeDirs makes folders of the system, with the rights that are asked for; what is there stays as it is.
func TestMakeDirs(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a", "b", "c")
	for range 2 {
		if err := safefile.MakeDirs(name+"/", 0o700); err != nil {
			t.Fatal(err)
		}
	}
	for _, of := range []string{name, filepath.Dir(name)} {
		if fi, err := os.Stat(of); err != nil || fi.Mode().Perm() != 0o700 {
			t.Errorf("%s: %v %v", of, fi, err)
		}
	}
	if err := errors.Join(os.Symlink("a", filepath.Join(dir, "link")), os.WriteFile(filepath.Join(dir, "file"), nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	if err := safefile.MakeDirs(filepath.Join(dir, "link", "d"), 0o700); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "a", "d")); err != nil {
		t.Error(err)
	}
	for _, bad := range []string{"file", "file/e"} {
		if err := safefile.MakeDirs(filepath.Join(dir, bad), 0o700); err == nil {
			t.Errorf("%s: a folder was made where a file is", bad)
		}
	}
	t.Chdir(dir)
	if err := errors.Join(safefile.MakeDirs("here", 0o755), safefile.MakeDirs(".", 0o755), safefile.MakeDirs("/", 0o755), safefile.MakeDirs("../"+filepath.Base(dir)+"/there", 0o755)); err != nil {
		t.Error(err)
	}
	if os.Geteuid() != 0 {
		if err := os.Chmod(filepath.Join(dir, "a"), 0o300); err != nil {
			t.Fatal(err)
		}
		if err := safefile.MakeDirs(filepath.Join(dir, "a", "b"), 0o700); err != nil {
			t.Errorf("a folder that is there, in one that cannot be read: %v", err)
		}
	}
}

// TestNoFolderIsMadeAnotherWay: folders of the program are made by this package, or for a reason stand here.
func TestNoFolderIsMadeAnotherWay(t *testing.T) {
	may := map[string]string{
		"internal/golden/golden.go":           "files of tests",
		"internal/store/s3test/s3test.go":     "of a server for tests",
		"internal/cli/kept.go":                "can be reckoned again",
		"internal/cli/folder.go":              "synced where it is made",
		"internal/store/datafolder/backup.go": "gets its name when all is safe",
		"internal/store/folder.go":            "gets its name when all is safe",
		"internal/store/blobs/folder.go":      "synced where it is made",
		"internal/store/blobs/upload.go":      "synced where it is made",
	}
	top := filepath.Join("..", "..", "..")
	for _, dir := range []string{"internal", "cmd"} {
		err := filepath.WalkDir(filepath.Join(top, dir), func(name string, d fs.DirEntry, err error) error {
			rel, err2 := filepath.Rel(top, name)
			if err = errors.Join(err, err2); err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
				return err
			}
			rel = filepath.ToSlash(rel)
			text, err := os.ReadFile(name)
			if err == nil && may[rel] == "" && !strings.HasPrefix(rel, "internal/store/safefile/") && (strings.Contains(string(text), ".MkdirAll(") || strings.Contains(string(text), ".Mkdir(")) {
				t.Errorf("%s makes a folder that may be lost when the power is cut; use safefile.MakeDirs", rel)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}
