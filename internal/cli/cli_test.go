package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// edit replaces one text in a file, exactly once: edit FILE OLD NEW. In NEW, \n
// is a new line.
func edit(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: edit FILE OLD NEW")
	}
	file := ts.MkAbs(args[0])
	data, err := os.ReadFile(file)
	ts.Check(err)
	if n := bytes.Count(data, []byte(args[1])); n != 1 {
		ts.Fatalf("%q occurs %d times in %s", args[1], n, args[0])
	}
	ts.Check(os.WriteFile(file, bytes.Replace(data, []byte(args[1]), []byte(strings.ReplaceAll(args[2], `\n`, "\n")), 1), 0o644))
}

// appendFile adds one file to another: append FILE MORE.
func appendFile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: append FILE MORE")
	}
	file := ts.MkAbs(args[0])
	data, err := os.ReadFile(file)
	ts.Check(err)
	ts.Check(os.WriteFile(file, append(data, ts.ReadFile(args[1])...), 0o644))
}

// exits runs fettle and wants an exit code: exits CODE ARG...
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: exits CODE ARG...")
	}
	if code := strconv.Itoa(scripted(ts, args[1:])); code != args[0] {
		ts.Fatalf("exit code %s, want %s", code, args[0])
	}
}

// run runs one command line in a folder.
func run(t *testing.T, dir string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	t.Chdir(dir)
	var out, errs bytes.Buffer
	code = Run(args, Env{Stdout: &out, Stderr: &errs, Now: func() time.Time { return time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC) }, Version: "test", Bodies: &bodies})
	return code, out.String(), errs.String()
}

// plate is a flat plate of 200 x 100 x 5 mm.
const plate = `ply
format ascii 1.0
element vertex 8
property double x
property double y
property double z
element face 12
property list uchar int vertex_indices
end_header
0 0 0
200 0 0
0 100 0
200 100 0
0 0 5
200 0 5
0 100 5
200 100 5
3 0 2 3
3 0 3 1
3 4 5 7
3 4 7 6
3 0 1 5
3 0 5 4
3 2 6 7
3 2 7 3
3 0 4 6
3 0 6 2
3 1 3 7
3 1 7 5
`

// TestHelpExamples executes the example in the help of every command. That of
// demo is what made the folder the others run in.
func TestHelpExamples(t *testing.T) {
	dir := demoFolder(t)
	for _, name := range []string{"demo", "check", "assess", "routes", "plan", "week", "history", "explain", "measure", "lengths", "mesh", "trace", "cut", "ask", "procedure diff", "procedure replay", "release", "schema", "version", "zones find", "zones make"} {
		t.Run(name, func(t *testing.T) {
			if name == "zones find" { // what is looked for is the same on a plate, and found at once
				if err := os.WriteFile(filepath.Join(dir, "fettle-demo", "body", "front-casting.ply"), []byte(plate), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			code, help, _ := run(t, dir, append(strings.Fields(name), "--help")...)
			if code != Done {
				t.Fatalf("--help: exit code %d", code)
			}
			_, example, ok := strings.Cut(help, "\nExample") // or Examples
			if !ok {
				t.Fatalf("the help has no example:\n%s", help)
			}
			var line string
			for _, l := range strings.Split(example, "\n") {
				if rest, ok := strings.CutPrefix(strings.TrimSpace(l), "fettle "); ok {
					line = rest
					break
				}
			}
			if line == "" {
				t.Fatalf("no example line in:\n%s", help)
			}
			if name == "demo" {
				if line != strings.Join(madeBy, " ") {
					t.Errorf("the example is %q; the demonstration was made by %q", line, madeBy)
				}
				return
			}
			if code, _, stderr := run(t, dir, strings.Fields(line)...); code != Done && code != Blocked {
				t.Errorf("%q: exit code %d: %s", line, code, stderr)
			}
		})
	}
}

// TestProgressOnlyOnATerminal: long work shows progress on a terminal and none
// in a pipe.
func TestProgressOnlyOnATerminal(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	for _, terminal := range []bool{false, true} {
		var out, errs bytes.Buffer
		env := Env{Stdout: &out, Stderr: &errs, Terminal: terminal, Version: "test", Bodies: &bodies,
			Now: func() time.Time { return time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC) }}
		args := []string{"demo", "--no-report"}
		if terminal {
			args = []string{"assess", "fettle-demo/sound-job", "--on", "2026-11-26"}
		}
		if code := Run(args, env); code != Done && code != Blocked {
			t.Fatalf("exit code %d: %s", code, errs.String())
		}
		if terminal && !strings.Contains(errs.String(), "drawing") {
			t.Errorf("nobody is told of the drawing: %q", errs.String())
		}
		if got := errs.Len() > 0; got != terminal {
			t.Errorf("terminal %v: wrote %q to stderr", terminal, errs.String())
		}
	}
}

// TestDemoKeepsWork: a changed file is not written over unless asked.
func TestDemoKeepsWork(t *testing.T) {
	dir := t.TempDir()
	if code, _, stderr := run(t, dir, "demo", "here", "--no-report"); code != Done {
		t.Fatal(stderr)
	}
	file := filepath.Join(dir, "here", "shop.yaml")
	if err := os.WriteFile(file, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	code, _, stderr := run(t, dir, "demo", "here", "--no-report")
	if code != Refused || !strings.Contains(stderr, "shop.yaml") {
		t.Errorf("exit code %d, %q; want it refused and the file named", code, stderr)
	}
	if have, _ := os.ReadFile(file); string(have) != "mine" {
		t.Error("the changed file was written over")
	}
	if code, _, _ := run(t, dir, "demo", "here", "--overwrite", "--no-report"); code != Done {
		t.Errorf("--overwrite: exit code %d", code)
	}
}
