package cli

import (
	"os"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// TestMain lets the scripts run the real command line.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"fettle": func() {
			os.Exit(Run(os.Args[1:], Env{Stdout: os.Stdout, Stderr: os.Stderr, Now: time.Now, Version: "test"}))
		},
	})
}

// TestScripts runs the sessions in testdata/script: one for each task a person
// does.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"edit": edit, "exits": exits, "append": appendFile},
	})
}
