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
	if out := does(t, dir, now, "erase", "job", "--person", "T2", "--reason", "Asked", "--data", "d"); !strings.Contains(out, "Dropped: the files it was written in by hand") {
		t.Error(out)
	}
	does(t, dir, now, "give", "job", "given", "--data", "d")
	if found, err := filepath.Glob(filepath.Join(dir, "given", "job", "as-written*")); err != nil || len(found) > 0 {
		t.Errorf("still there: %v %v", found, err)
	}
	does(t, dir, now, "verify-store", "--data", "d")
}

// A backup is made, restored and found sound from the command line; the doctor names what is not fine before and after.
func TestBackedUpAndRestored(t *testing.T) {
	now := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	dir := keptDemo(t, now)
	if code, out, _ := at(t, dir, now, "doctor", "--data", "d"); code != Blocked || !strings.Contains(out, "there is none yet") {
		t.Errorf("without a backup: %d %s", code, out)
	}
	said := does(t, dir, now, "backup", "b", "--data", "d")
	place := strings.TrimPrefix(strings.Split(said, "\n")[0], "Backed up: ")
	if code, out, _ := at(t, dir, now, "doctor", "--data", "d"); strings.Contains(out, "NOT FINE  backup") {
		t.Errorf("with a backup: %d %s", code, out)
	}
	for why, c := range map[string]struct {
		at    time.Time
		spoil func() error
		want  string
	}{
		"three days later":       {now.Add(72 * time.Hour), func() error { return nil }, "72 hours ago"},
		"a clock that went back": {now.Add(-time.Hour), func() error { return nil }, "NOT FINE  clock"},
		"a file others may read": {now, func() error { return os.Chmod(filepath.Join(dir, "d", "keys", "log.key"), 0o644) }, "chmod 0600"},
	} {
		if err := c.spoil(); err != nil {
			t.Fatal(err)
		}
		if code, out, _ := at(t, dir, c.at, "doctor", "--data", "d"); code != Blocked || !strings.Contains(out, c.want) {
			t.Errorf("%s: %d %s", why, code, out)
		}
	}
	if out := does(t, dir, now, "restore", place, "--data", "new"); !strings.Contains(out, "All of it is as it was written") {
		t.Error(out)
	}
	if was, is := does(t, dir, now, "events", "rear-job", "--data", "d"), does(t, dir, now, "events", "rear-job", "--data", "new"); was != is {
		t.Errorf("restored it says\n%s\nwant\n%s", is, was)
	}
	if code, _, errs := at(t, dir, now, "restore", place, "--data", "d"); code != Refused || !strings.Contains(errs, "not empty") {
		t.Errorf("over another: %d %s", code, errs)
	}
	does(t, dir, now, "sweep", "--data", "new")
	for _, name := range []string{"backup", "restore", "verify-store", "checkpoint", "doctor", "hold", "sweep", "handed-back"} {
		args := []string{name}
		if name == "backup" || name == "restore" {
			args = append(args, "x")
		}
		if code, _, errs := at(t, dir, now, args...); code != Usage || !strings.Contains(errs, "--data") {
			t.Errorf("%s without a data folder: %d %s", name, code, errs)
		}
	}
}
