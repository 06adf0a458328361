package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// keptDemo is a working folder with a data folder "d" that has the demonstration's rear job, taken in.
func keptDemo(t *testing.T, now time.Time) (dir string) {
	t.Helper()
	files, dir := filepath.Join(demoFolder(t), "fettle-demo"), t.TempDir()
	does(t, dir, now, "keep", filepath.Join(files, "rear-job"), "--data", "d")
	return dir
}

// A checkpoint that was kept outside is verified later; one that was altered, or of another store, is refused; a file
// that is damaged is named.
func TestStoreIsVerified(t *testing.T) {
	now := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	dir := keptDemo(t, now)
	point := does(t, dir, now, "checkpoint", "--data", "d")
	file := filepath.Join(dir, "point.txt")
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(point)
	does(t, dir, now, "erase", "rear-job", "evidence/E1", "--reason", "Asked", "--data", "d")
	if out := does(t, dir, now, "verify-store", "--checkpoint", "point.txt", "--data", "d"); !strings.Contains(out, "only grown") {
		t.Error(out)
	}
	size := strings.Fields(point[strings.Index(point, "Leaves:"):])[1]
	if again := does(t, dir, now, "checkpoint", "--size", size, "--data", "d"); again != point {
		t.Errorf("as it was with %s leaves:\n%s\nwant\n%s", size, again, point)
	}
	if code, out, errs := at(t, dir, now, "checkpoint", "--size", "100000000", "--data", "d"); code != Refused {
		t.Errorf("more leaves than there are: %d %s%s", code, out, errs)
	}
	note, _, _ := strings.Cut(point, "\n\nLeaves")
	write(note + "\n")
	does(t, dir, now, "verify-store", "--checkpoint", "point.txt", "--data", "d")
	for i := range point { // any character of it altered
		if point[i] == '\n' {
			continue
		}
		if i%3 != 0 {
			continue
		}
		write(point[:i] + string(rune(point[i]^1)) + point[i+1:])
		if code, out, _ := at(t, dir, now, "verify-store", "--checkpoint", "point.txt", "--data", "d"); code == Done {
			t.Errorf("%q at %d was altered: %s", point[i], i, out)
		}
	}
	write(point)
	other := keptDemo(t, now)
	if code, _, errs := at(t, other, now, "verify-store", "--checkpoint", file, "--data", "d"); code != Refused || !strings.Contains(errs, "no key yet") {
		t.Errorf("of another store: %d %s", code, errs)
	}
	does(t, other, now, "checkpoint", "--data", "d")
	if code, _, errs := at(t, other, now, "verify-store", "--checkpoint", file, "--data", "d"); code != Refused || !strings.Contains(errs, "this key has not signed it") {
		t.Errorf("of another store with a key: %d %s", code, errs)
	}
	key := strings.TrimSpace(point[strings.Index(point, "Key:")+4:])
	if code, out, errs := at(t, other, now, "verify-store", "--checkpoint", file, "--key", key, "--data", "d"); code != Blocked || !strings.Contains(out, "checkpoint that was kept outside") {
		t.Errorf("a log that was made anew: %d %s%s", code, out, errs)
	}
	blobs, err := filepath.Glob(filepath.Join(dir, "d", "blobs", "*"))
	if err != nil || len(blobs) == 0 {
		t.Fatal(blobs, err)
	}
	if err := os.Truncate(blobs[0], 1); err != nil {
		t.Fatal(err)
	}
	if code, out, _ := at(t, dir, now, "verify-store", "--data", "d"); code != Blocked || !strings.Contains(out, "file "+filepath.Base(blobs[0])) {
		t.Errorf("a file that was cut: %d %s", code, out)
	}
}

// A job on hold loses nothing; when the hold has ended, erasing a person also drops the files written by hand, and the store verifies.
func TestHoldKeepsFromErasing(t *testing.T) {
	now := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	dir := keptDemo(t, now)
	does(t, dir, now, "keep", filepath.Join(demoFolder(t), "fettle-demo", "job"), "--data", "d")
	held := does(t, dir, now, "hold", "job", "--reason", "Claim", "--data", "d")
	id := held[strings.Index(held, "(")+1 : strings.Index(held, ")")]
	for _, args := range [][]string{{"erase", "job", "finding/D1"}, {"erase", "job", "--person", "T2"}} {
		if code, out, errs := at(t, dir, now, append(args, "--reason", "Asked", "--data", "d")...); code != Refused || !strings.Contains(errs, "on hold") {
			t.Errorf("%v of a job on hold: %d %s%s", args, code, out, errs)
		}
	}
	does(t, dir, now, "hold", "--end", id, "--data", "d")
	if out := does(t, dir, now, "hold", "--data", "d"); !strings.Contains(out, "ended 2026-11-30T09:00:00Z") {
		t.Error(out)
	}
	if out := does(t, dir, now, "erase", "job", "--person", "T2", "--reason", "Asked", "--data", "d"); !strings.Contains(out, "written by hand") {
		t.Error(out)
	}
	does(t, dir, now, "give", "job", "given", "--data", "d")
	if found, err := filepath.Glob(filepath.Join(dir, "given", "job", "as-written*")); err != nil || len(found) > 0 {
		t.Errorf("still there: %v %v", found, err)
	}
	does(t, dir, now, "verify-store", "--data", "d")
}
