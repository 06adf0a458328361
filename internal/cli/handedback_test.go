package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A shop keeps jobs for a year: the job is named when its time is over, and removed when a person says so and not before; what is left
// verifies against a checkpoint from before, and says who removed it.
func TestHandedBack(t *testing.T) {
	now := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	dir := keptDemo(t, now)
	does(t, dir, now, "work", "--idle", "--data", "d") // what the jobs wait for was asked for when they were kept
	if err := os.WriteFile(filepath.Join(dir, "d", "settings.yaml"), []byte("format: fettle-settings 1\njobs: 365\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "point.txt"), []byte(does(t, dir, now, "checkpoint", "--data", "d")), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, wrong := range [][]string{{"--on", "2026-11-30"}, {"--remove"}, {"rear-job", "--on", "2026-11-30", "--remove"}} {
		if code, _, errs := at(t, dir, now, append([]string{"handed-back", "--data", "d"}, wrong...)...); code != Usage {
			t.Errorf("%v: %d %s", wrong, code, errs)
		}
	}
	if code, _, errs := at(t, dir, now, "handed-back", "rear-job", "--remove", "--by", "p-9", "--data", "d"); code != Refused || !strings.Contains(errs, "nobody has noted") {
		t.Errorf("not handed back: %d %s", code, errs)
	}
	does(t, dir, now, "handed-back", "rear-job", "--on", "2026-11-30", "--by", "p-9", "--data", "d")
	if out := does(t, dir, now, "handed-back", "--data", "d"); !strings.Contains(out, "stays: it is kept until 2027-11-30") {
		t.Error(out)
	}
	if out := does(t, dir, now, "sweep", "--data", "d"); strings.Contains(out, "rear-job") {
		t.Errorf("named too early: %s", out)
	}
	later := now.Add(366 * 24 * time.Hour)
	if out := does(t, dir, later, "sweep", "--data", "d"); !strings.Contains(out, "--remove': rear-job") {
		t.Error(out)
	}
	does(t, dir, later, "events", "rear-job", "--data", "d") // naming removes nothing
	does(t, dir, later, "handed-back", "rear-job", "--remove", "--by", "p-9", "--data", "d")
	if code, _, errs := at(t, dir, later, "events", "rear-job", "--data", "d"); code == Done {
		t.Errorf("it is there: %s", errs)
	}
	if out := does(t, dir, later, "handed-back", "--data", "d"); !strings.Contains(out, "removed at 2027-12-01T09:00:00Z by p-9 after 365 days") {
		t.Error(out)
	}
	if out := does(t, dir, later, "verify-store", "--checkpoint", "point.txt", "--data", "d"); !strings.Contains(out, "only grown") {
		t.Error(out)
	}
	if err := os.WriteFile(filepath.Join(dir, "d", "settings.yaml"), []byte("format: fettle-settings 1\njobs: 10\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, _, errs := at(t, dir, later, "sweep", "--data", "d"); code != Refused || !strings.Contains(errs, "365") {
		t.Errorf("ten days: %d %s", code, errs)
	}
}
