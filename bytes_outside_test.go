//go:build outside

package fettle_test

import (
	"bytes"
	"encoding/json"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
)

// asked are the commands whose answers and files are compared, in a folder of their own:
// the whole assessment of the demonstration with its report, sheets and order list, and
// the numbers of the adjustment.
var asked = [][]string{
	{"demo"},
	{"measure", "--points", "fettle-demo/body/points.csv", "--readings", "fettle-demo/job/readings.csv", "--std", "0.5", "--impact", "front-left"},
}

// ownName is where an assessment names the program that made it.
var ownName = regexp.MustCompile(`"arch": "[^"]*",\s*"sha256": "[^"]*"`)

// TestOutsideSameBytes runs the program for this processor and for arm64 under QEMU, and
// compares every byte of what they say and write: nothing that is printed may depend on
// the machine. Where FETTLE_CAMPAIGN is set, also for amd64 v3, if the processor can.
//
// The library that writes workbooks brings 115 of the 294 packages that would have to be
// compiled for the other machine, among them a web client and tables of alphabets. Both
// are built with another writer of the same cells in its place, testdata/plainsheet.go;
// what is built for this processor then comes out of the cache of the ordinary tests.
func TestOutsideSameBytes(t *testing.T) {
	want := bytesOf(t, buildFor(t, "GOARCH="+runtime.GOARCH))
	if len(want) < 20 {
		t.Fatalf("%d files only", len(want))
	}
	machines := map[string][]string{"arm64": {"qemu-aarch64-static", buildFor(t, "GOARCH=arm64")}}
	if flags, err := os.ReadFile("/proc/cpuinfo"); os.Getenv("FETTLE_CAMPAIGN") != "" && err == nil && runtime.GOARCH == "amd64" && canV3(string(flags)) {
		machines["amd64 v3"] = []string{buildFor(t, "GOAMD64=v3")}
	}
	for name, run := range machines {
		got := bytesOf(t, run...)
		for file, b := range want {
			if !bytes.Equal(got[file], b) {
				t.Errorf("%s: %s has other bytes", name, file)
			}
		}
		for file := range got {
			if _, ok := want[file]; !ok {
				t.Errorf("%s: %s is one more", name, file)
			}
		}
	}
}

// canV3 says that the processor has what a program for amd64 v3 uses.
func canV3(cpuinfo string) bool {
	_, flags, _ := strings.Cut(cpuinfo, "\nflags")
	flags, _, _ = strings.Cut(flags, "\n")
	has := strings.Fields(flags)
	for _, f := range strings.Fields("avx avx2 bmi1 bmi2 f16c fma movbe") {
		if !slices.Contains(has, f) {
			return false
		}
	}
	return true
}

func buildFor(t *testing.T, env ...string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "fettle")
	build := exec.Command("go", "build", "-overlay", overlay(t), "-ldflags=-s -w", "-o", out, "./cmd/fettle")
	build.Env = append(append(os.Environ(), "CGO_ENABLED=0"), env...)
	if text, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	return out
}

// overlay says that the workbook is written by testdata/plainsheet.go.
func overlay(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(map[string]map[string]string{"Replace": {
		filepath.Join(dir, "internal/format/workbook.go"): filepath.Join(dir, "testdata/plainsheet.go")}})
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "overlay.json")
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// bytesOf runs what is asked in a new folder; the answers and the files by their names.
func bytesOf(t *testing.T, run ...string) map[string][]byte {
	t.Helper()
	dir := t.TempDir()
	out := map[string][]byte{}
	for _, args := range asked {
		c := exec.Command(run[0], append(slices.Clone(run[1:]), args...)...)
		c.Dir = dir
		var said, wrong bytes.Buffer
		c.Stdout, c.Stderr = &said, &wrong
		if err := c.Run(); err != nil && c.ProcessState.ExitCode() != 3 {
			t.Fatalf("%v: %v: %s%s", args, err, said.String(), wrong.String())
		}
		out["answer to "+strings.Join(args, " ")] = said.Bytes()
	}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		b, err := os.ReadFile(path)
		out[name] = ownName.ReplaceAll(b, nil)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
