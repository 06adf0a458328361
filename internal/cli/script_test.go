package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// swept runs the tests and removes what they share.
type swept struct{ m *testing.M }

func (s swept) Run() int {
	code := s.m.Run()
	if err := os.RemoveAll(madeIn); err != nil && code == 0 {
		fmt.Fprintln(os.Stderr, err)
		code = 1
	}
	return code
}

// TestMain lets the scripts run the real command line.
func TestMain(m *testing.M) {
	testscript.Main(swept{m}, map[string]func(){
		"fettle": func() {
			os.Exit(Run(os.Args[1:], Env{Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr, Now: time.Now, Version: "test", Person: os.Getenv("FETTLE_PERSON")}))
		},
	})
}

// TestScripts runs the sessions in testdata/script: one for each task a person
// does.
func TestScripts(t *testing.T) {
	dir, err := filepath.Abs("testdata/script") // the scripts change the working folder
	if err != nil {
		t.Fatal(err)
	}
	fewer, err := filepath.Abs("../app/testdata/release")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		RequireExplicitExec: true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"edit": edit, "exits": exits, "append": appendFile, "demo": demoCommand, "fewer": fewerTasks(fewer), "runs": runs},
	})
}

// fewerTasks gives the demonstration's van the tasks, parts and shop of the job that the release is tried on: a
// session that puts work on record then has fewer steps.
func fewerTasks(from string) func(*testscript.TestScript, bool, []string) {
	return func(ts *testscript.TestScript, neg bool, args []string) {
		if neg || len(args) > 0 {
			ts.Fatalf("usage: fewer")
		}
		for name, to := range map[string]string{"body.yaml": "body/body.yaml", "parts.csv": "body/parts.csv", "shop.yaml": "shop.yaml"} {
			data, err := os.ReadFile(filepath.Join(from, name))
			ts.Check(err)
			ts.Check(os.WriteFile(filepath.Join(ts.MkAbs("fettle-demo"), filepath.FromSlash(to)), data, 0o600))
		}
	}
}
