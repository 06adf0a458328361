package cli

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestStoppedCommandWritesNothing: a command that is stopped says so, has its own exit code, and
// leaves the folder as it was.
func TestStoppedCommandWritesNothing(t *testing.T) {
	dir := demoFolder(t)
	t.Chdir(dir)
	before := filesBelow(t, dir)
	ctx, stop := context.WithCancel(context.Background())
	stop()
	for _, line := range []string{
		"assess fettle-demo/job --on 2026-11-26", "assess fettle-demo/sound-job --out there", "week fettle-demo/job fettle-demo/sound-job --sheets week --on 2026-11-26",
		"plan fettle-demo/job --sheets sheets.html --on 2026-11-26", "check fettle-demo", "keep fettle-demo/job --by p-1", "history fettle-demo/job",
		"recompute fettle-demo/job/result/assessment.json", "ask fettle-demo/job D8 --out question --on 2026-11-26",
		"procedure replay --procedure fettle-demo/body/procedures/br-fc-d.yaml fettle-demo --on 2026-09-01",
	} {
		var out, errs bytes.Buffer
		code := Run(strings.Fields(line), Env{Stdout: &out, Stderr: &errs, Version: "test", Stop: ctx, Now: func() time.Time { return time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC) }})
		if code != Stopped || errs.String() != "fettle: stopped; nothing was written\n" || out.Len() > 0 {
			t.Errorf("%s: exit code %d, %q, %q", line, code, out.String(), errs.String())
		}
	}
	for file, is := range filesBelow(t, dir) {
		if before[file] != is {
			t.Errorf("%s was written", file)
		}
		delete(before, file)
	}
	if len(before) > 0 {
		t.Errorf("gone: %v", before)
	}
}

// filesBelow is every file below a folder with what is in it.
func filesBelow(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(p)
		out[p] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
