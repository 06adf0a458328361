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
	testscript.Run(t, testscript.Params{
		Dir:                 dir,
		RequireExplicitExec: true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"edit": edit, "exits": exits, "append": appendFile, "demo": demoCommand, "runs": runs},
	})
}
