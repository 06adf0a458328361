package cli

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"fettle/internal/app"
)

// bodies are shared by all commands that the tests run in this process.
var bodies app.Bodies

// one makes the commands of scripts come one after another: they share the
// process's working folder.
var one sync.Mutex

// inFolder runs a command line with a working folder of its own.
func inFolder(dir, person string, args []string, stdout, stderr io.Writer) (code int, err error) {
	one.Lock()
	defer one.Unlock()
	was, err := os.Getwd()
	if err != nil {
		return 0, err
	}
	if err := os.Chdir(dir); err != nil {
		return 0, err
	}
	code = Run(args, Env{Stdout: stdout, Stderr: stderr, Now: time.Now, Version: "test", Person: person, Bodies: &bodies})
	return code, os.Chdir(was)
}

// scripted runs a command line of a script in this process. What a person types
// first, exit code and all, is run as a process of its own: see made.
func scripted(ts *testscript.TestScript, args []string) int {
	code, err := inFolder(ts.MkAbs("."), ts.Getenv("FETTLE_PERSON"), args, ts.Stdout(), ts.Stderr())
	ts.Check(err)
	return code
}

// runs runs a command that has to succeed, or with ! to fail: runs ARG...
func runs(ts *testscript.TestScript, neg bool, args []string) {
	if code := scripted(ts, args); (code == Done) == neg {
		ts.Fatalf("exit code %d", code)
	}
}

// madeDemo is the demonstration, made, assessed and drawn once for all tests of
// this process, with what the command printed. It is made as a stranger makes it,
// by a process of its own.
type madeDemo struct {
	dir            string
	stdout, stderr []byte
}

// madeBy is the command line that makes it.
var madeBy = []string{"demo"}

var made = sync.OnceValues(func() (madeDemo, error) {
	dir, err := os.MkdirTemp("", "fettle-demo-*")
	if err != nil {
		return madeDemo{}, err
	}
	madeIn = dir
	var out, errs bytes.Buffer
	c := exec.Command("fettle", madeBy...) // put in the path by TestMain
	c.Dir, c.Stdout, c.Stderr = dir, &out, &errs
	if err = c.Run(); err != nil {
		err = fmt.Errorf("demo: %w: %s", err, errs.String())
	}
	return madeDemo{filepath.Join(dir, "fettle-demo"), out.Bytes(), errs.Bytes()}, err
})

// madeIn is the folder that made wrote to, to be removed at the end of the
// process.
var madeIn string

// demoCommand gives a script its own copy of the demonstration, as the command
// would have written it, and prints what it prints: demo [DIR].
func demoCommand(ts *testscript.TestScript, neg bool, args []string) {
	dir := "fettle-demo"
	if len(args) == 1 {
		dir = args[0]
	}
	if neg || len(args) > 1 {
		ts.Fatalf("usage: demo [DIR]")
	}
	m, err := made()
	ts.Check(err)
	ts.Check(os.CopyFS(ts.MkAbs(dir), os.DirFS(m.dir)))
	_, err = ts.Stdout().Write(m.stdout)
	ts.Check(err)
	_, err = ts.Stderr().Write(m.stderr)
	ts.Check(err)
}

// demoInto copies the demonstration into the folder, as the command writes it.
func demoInto(t *testing.T, dir string) {
	t.Helper()
	m, err := made()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(filepath.Join(dir, "fettle-demo"), os.DirFS(m.dir)); err != nil {
		t.Fatal(err)
	}
}

// demoFolder is a new folder with the demonstration in it.
func demoFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	demoInto(t, dir)
	return dir
}
