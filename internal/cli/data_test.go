package cli

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// at runs a command line in a folder, at a moment.
func at(t *testing.T, dir string, now time.Time, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	return atAs(t, dir, now, "p-31", nil, args...)
}

// atAs is at of somebody, with variables of the environment.
func atAs(t *testing.T, dir string, now time.Time, person string, vars map[string]string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	one.Lock()
	defer one.Unlock()
	was, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chdir(dir); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	code = Run(args, Env{Stdout: &out, Stderr: &errs, Now: func() time.Time { return now }, Version: "test", Person: person, Bodies: &bodies,
		Lookup: func(name string) (string, bool) { v, is := vars[name]; return v, is }, patience: 5 * time.Second, quiet: 30 * time.Second})
	if err := os.Chdir(was); err != nil {
		t.Fatal(err)
	}
	return code, out.String(), errs.String()
}

// does is at of a command that has to end with exit code 0.
func does(t *testing.T, dir string, now time.Time, args ...string) string {
	t.Helper()
	code, out, errs := at(t, dir, now, args...)
	if code != Done {
		t.Fatalf("fettle %s: %d\n%s%s", strings.Join(args, " "), code, out, errs)
	}
	return out
}

// filesIn is every file below a folder, by its name in it.
func filesIn(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for name, data := range filesBelow(t, dir) {
		rel, err := filepath.Rel(dir, name)
		if err != nil {
			t.Fatal(err)
		}
		out[rel] = data
	}
	return out
}

// form is one of the places that a job may be in, seen from a folder.
type form struct {
	name, dir string
	vars      map[string]string // that name the place; nil: it is a folder
}

// sayTheSame runs command lines, each with the exit code it has to end with, in all forms, and holds what they print against one another, to the byte.
func sayTheSame(t *testing.T, forms []form, now time.Time, person string, lines []lineOf) {
	t.Helper()
	for _, c := range lines {
		args := strings.Fields(strings.ReplaceAll(c.line, "DAY", "--on 2026-11-30"))
		for i, a := range args {
			args[i] = strings.ReplaceAll(a, "_", " ")
		}
		out, errs := "", ""
		for i, f := range forms {
			code, gotOut, gotErrs := atAs(t, f.dir, now, person, f.vars, args...)
			if code != c.code {
				t.Errorf("%s: fettle %s: %d, want %d\n%s%s", f.name, c.line, code, c.code, gotOut, gotErrs)
			}
			gotErrs = strings.Replace(gotErrs, "those of the server", "those of the data folder", 1) // how jobs are found there
			switch {
			case i == 0:
				out, errs = gotOut, gotErrs
			case c.elsewhere != "" && i == 1: // a folder is looked for otherwise
				if errs = c.elsewhere; gotErrs != errs {
					t.Errorf("%s: fettle %s: %s", f.name, c.line, gotErrs)
				}
			case gotOut != out || gotErrs != errs:
				t.Errorf("%s: fettle %s:\n%s%s\n%s:\n%s%s", f.name, c.line, gotOut, gotErrs, forms[0].name, out, errs)
			}
		}
	}
}

// lineOf is a command line.
type lineOf struct {
	code      int
	line      string // DAY stands for the day, and _ within an argument for a space
	elsewhere string // what a data folder and a server say on standard error where a folder says something else
}

// A stored job in a folder, the same one in a data folder and the same one on a server say the same to the byte: whatever is asked of them,
// whatever is recorded, and in what is written beside. What a server does otherwise, and why, stands in TestServerDiffers.
func TestDataFolderSaysTheSame(t *testing.T) {
	now := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	files, data, away := filepath.Join(demoFolder(t), "fettle-demo"), t.TempDir(), t.TempDir()
	does(t, files, now, "keep", "rear-job")
	does(t, data, now, "keep", filepath.Join(files, "rear-job"), "--data", "d")
	does(t, away, now, "keep", filepath.Join(files, "rear-job"), "--data", "d")
	vars, person := served(t, filepath.Join(away, "d"), now)
	forms := []form{{"folder", files, nil}, {"data folder", data, map[string]string{dataVar: "d"}}, {"server", away, vars}}
	finding := []byte(does(t, files, now, "show", "rear-job", "finding/D1"))
	photo := []byte("the photograph of a crack (invented)")
	sum := sha256.Sum256(photo)
	text := "{id: E-NEW, file: photo.jpg, sha256: " + hex.EncodeToString(sum[:]) + ", text: A crack, by: T1, on: 2026-11-30}\n"
	for _, f := range forms {
		photoIn := f.dir // beside the job, and in the working folder
		if f.vars == nil {
			photoIn = filepath.Join(f.dir, "rear-job")
		}
		for name, data := range map[string][]byte{filepath.Join(photoIn, "photo.jpg"): photo, filepath.Join(f.dir, "photo.yaml"): []byte(text), filepath.Join(f.dir, "d1.yaml"): finding} {
			if err := os.WriteFile(name, data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	_, seen, _ := strings.Cut(string(finding), "--seen ")
	seen, _, _ = strings.Cut(seen, "\n")
	sayTheSame(t, forms, now, person, []lineOf{
		{Done, "check rear-job DAY", ""},
		{Done, "assess rear-job DAY", ""},
		{Done, "assess rear-job DAY --json", ""},
		{Done, "assess rear-job DAY --full --out full", ""},
		{Done, "recompute rear-job/result/assessment.json rear-job", ""},
		{Done, "routes rear-job DAY", ""},
		{Done, "plan rear-job DAY", ""},
		{Done, "plan rear-job DAY --sheets sheets.html", ""},
		{Done, "expose rear-job DAY", ""},
		{Done, "lengths rear-job DAY", ""},
		{Done, "release rear-job DAY", ""},
		{Done, "explain rear-job D1 DAY", ""},
		{Done, "record rear-job DAY", ""},
		{Done, "record rear-job --blank open.csv DAY", ""},
		{Done, "week rear-job DAY", ""},
		{Done, "history rear-job DAY", ""},
		{Done, "ask rear-job D1 --out question DAY", ""},
		{Done, "events rear-job", ""},
		{Done, "events rear-job --codes", ""},
		{Done, "events rear-job --json", ""},
		{Done, "show rear-job vehicle", ""},
		{Refused, "show rear-job nothing/X", ""},
		{Done, "put rear-job finding/D1 d1.yaml --seen " + seen, ""},
		{Refused, "put rear-job finding/D1 d1.yaml --seen " + seen, ""}, // it has changed since
		{Refused, "put rear-job finding/D1 photo.yaml --seen 0", ""},
		{Refused, "put rear-job finding/D1 nowhere.yaml", ""},
		{Done, "put rear-job evidence/E-NEW photo.yaml", ""},
		{Done, "show rear-job evidence/E-NEW", ""},
		{Done, "withdraw rear-job evidence/E-NEW --reason Unsharp --signed T1 DAY", ""},
		{Refused, "withdraw rear-job evidence/E-NEW --reason Unsharp --signed T1 DAY", ""},
		{Refused, "withdraw rear-job finding/D1 --reason Another --signed T1 DAY", ""},
		{Done, "release rear-job DAY --json", ""},
		{Refused, "explain rear-job NOTHING DAY", ""},
		{Refused, "assess no-job", "fettle: no-job: there is no such job; 'fettle jobs' lists those of the data folder\n"},
	})
	sayTheSame(t, forms[:2], now, person, []lineOf{{Done, "erase rear-job evidence/E1 --reason Asked DAY", ""}, {Done, "release rear-job DAY --json", ""}})
	for _, made := range []string{filepath.Join("rear-job", "result"), "full", "question"} {
		want := filesIn(t, filepath.Join(files, made))
		for _, f := range forms[1:] {
			if got := filesIn(t, filepath.Join(f.dir, made)); len(want) == 0 || !maps.Equal(got, want) {
				t.Errorf("%s: %s: written: %v, from a folder: %v", f.name, made, slices.Sorted(maps.Keys(got)), slices.Sorted(maps.Keys(want)))
			}
		}
	}
	for _, f := range forms[1:] {
		for _, name := range []string{"sheets.html", "open.csv"} {
			want, err := os.ReadFile(filepath.Join(files, name))
			got, err2 := os.ReadFile(filepath.Join(f.dir, name))
			if err != nil || err2 != nil || !bytes.Equal(got, want) {
				t.Errorf("%s: %s differs: %v %v", f.name, name, err, err2)
			}
		}
	}
}

// A folder is taken in and given out without loss: events, bodies and shops, photos and papers to the byte, and the files
// it was written in by hand. Done again nothing changes.
func TestJobsAreTakenInAndGivenOut(t *testing.T) {
	now := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	dir := filepath.Join(demoFolder(t), "fettle-demo")
	written := filesIn(t, filepath.Join(dir, "rear-job"))
	does(t, dir, now, "keep", "rear-job", "--data", "d", "--as", "by-hand")
	if again := filesIn(t, filepath.Join(dir, "rear-job")); !maps.Equal(again, written) {
		t.Error("a folder that was taken in has changed")
	}
	if code, _, errs := at(t, dir, now, "keep", "rear-job", "--data", "d", "--as", "by-hand"); code == Done || !strings.Contains(errs, "another name") {
		t.Errorf("taken in again as if it were new: %d %s", code, errs)
	}
	does(t, dir, now, "give", "by-hand", "out", "--data", "d")
	given := filesIn(t, filepath.Join(dir, "out", "by-hand"))
	if given["as-written.yaml"] != written["job.yaml"] || given["as-written.csv"] != written["readings.csv"] {
		t.Error("the files it was written in are others")
	}
	does(t, dir, now, "keep", filepath.Join("out", "by-hand"), "--data", "other")
	does(t, dir, now, "give", "by-hand", "again", "--data", "other")
	if one, two := filesIn(t, filepath.Join(dir, "out")), filesIn(t, filepath.Join(dir, "again")); len(one) < 5 || !maps.Equal(one, two) {
		t.Errorf("through two data folders: %v, %v", slices.Sorted(maps.Keys(one)), slices.Sorted(maps.Keys(two)))
	}
	if code, _, errs := at(t, dir, now, "jobs", "--data", "nowhere"); code == Done || !strings.Contains(errs, "no data folder") {
		t.Errorf("an empty folder passed for a data folder: %d %s", code, errs)
	}
	if code, _, errs := at(t, dir, now, "jobs"); code != Usage || !strings.Contains(errs, "--data") {
		t.Errorf("%d %s", code, errs)
	}
}

// What a task makes is to the byte what the command writes, and the same when it is made again.
func TestTasksMakeTheFilesOfTheCommand(t *testing.T) {
	now := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	dir := filepath.Join(demoFolder(t), "fettle-demo")
	does(t, dir, now, "keep", "rear-job", "--data", "d")
	does(t, dir, now, "assess", "rear-job", "--on", "2026-11-26", "--full", "--data", "d")
	want := filesIn(t, filepath.Join(dir, "rear-job", "result"))
	for _, name := range []string{"one.zip", "two.zip"} {
		id := strings.TrimSpace(strings.TrimPrefix(does(t, dir, now, "tasks", "ask", "files", "rear-job", "--on", "2026-11-26", "--data", "d"), "Asked for: "))
		does(t, dir, now, "work", "--idle", "--data", "d")
		does(t, dir, now, "tasks", "fetch", id, name, "--data", "d")
	}
	got := unzipped(t, filepath.Join(dir, "one.zip"))
	if len(want) < 5 || !maps.Equal(got, want) {
		t.Errorf("%v, by the command %v", slices.Sorted(maps.Keys(got)), slices.Sorted(maps.Keys(want)))
	}
	if all := filesIn(t, dir); all["one.zip"] != all["two.zip"] {
		t.Error("made twice it is not the same")
	}
}

// Zones made as a task are those of the command, to the byte.
func TestZonesMadeAsATaskAreThoseOfTheCommand(t *testing.T) {
	now, dir := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC), t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "plate.ply"), []byte(plate), 0o600); err != nil {
		t.Fatal(err)
	}
	does(t, dir, now, "zones", "find", "plate.ply", "--unit", "mm", "--recipe", "draft.yaml")
	does(t, dir, now, "zones", "make", "draft.yaml", "--out", "a")
	if code, _, errs := at(t, dir, now, "jobs", "--data", "d"); code == Done {
		t.Fatal(errs)
	}
	does(t, dir, now, "demo", "--no-report", "--data", "d")
	id := strings.TrimSpace(strings.TrimPrefix(does(t, dir, now, "tasks", "ask", "zones", "draft.yaml", "--data", "d"), "Asked for: "))
	does(t, dir, now, "work", "--idle", "--data", "d")
	does(t, dir, now, "tasks", "fetch", id, "zones.zip", "--data", "d")
	want := filesIn(t, filepath.Join(dir, "a"))
	if got := unzipped(t, filepath.Join(dir, "zones.zip")); len(want) != 2 || !maps.Equal(got, want) {
		t.Errorf("%v, by the command %v", slices.Sorted(maps.Keys(got)), slices.Sorted(maps.Keys(want)))
	}
}

// unzipped is the files of a zip.
func unzipped(t *testing.T, name string) map[string]string {
	t.Helper()
	z, err := zip.OpenReader(name)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	out := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out[f.Name] = string(data)
	}
	return out
}
